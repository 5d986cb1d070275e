//! When a level on its way crosses one that a clause compares it with.
//!
//! Monitors judge at instants at which something happens. While a level moves, its crossing of
//! a watched level is such an instant, found here to the millisecond.
//!
//! Invariant: between two events every way is straight, so a level with one way under way moves
//! in one direction only and its crossing is found by halving; with more it is looked for
//! millisecond by millisecond.

use core::ops::Range;

use room::{Room, Watched};

use crate::world::World;
use crate::{Instant, Recorder};

/// The first moment after `judged`, the last one that was judged, and before `end` at which a
/// moving level enters another stretch between the watched ones.
pub(crate) fn first<R: Recorder>(
    room: &Room,
    world: &mut World<R>,
    judged: Instant,
    end: Instant,
) -> Option<Instant> {
    let now = world.now;
    let mut soonest = None;
    for watched in room.watched() {
        let ways = room.ways(watched.output, world);
        if ways == 0 {
            continue;
        }
        let span = judged.as_ms() + 1..soonest.unwrap_or(end).as_ms();
        let here = zone_at(room, world, watched, judged);
        let mut left = |ms| zone_at(room, world, watched, Instant::from_ms(ms)) != here;
        let found = if ways == 1 {
            halve(span, left)
        } else {
            span.into_iter().find(|&ms| left(ms))
        };
        soonest = found.map(Instant::from_ms).or(soonest);
    }
    world.now = now;
    soonest
}

/// Where the watched level is at a moment, if nothing happens before it.
fn zone_at<R: Recorder>(
    room: &Room,
    world: &mut World<R>,
    watched: &Watched,
    at: Instant,
) -> usize {
    world.now = at;
    watched.zone(&room.glimpse(watched.output, world))
}

/// The first moment of a span at which `left` is so, when it stays so until the end.
fn halve(span: Range<u64>, mut left: impl FnMut(u64) -> bool) -> Option<u64> {
    let (mut from, mut to) = (span.start, span.end.checked_sub(1)?);
    if from > to || !left(to) {
        return None;
    }
    while from < to {
        let middle = from + (to - from) / 2;
        if left(middle) {
            to = middle;
        } else {
            from = middle + 1;
        }
    }
    Some(to)
}

#[cfg(test)]
mod tests {
    use super::halve;

    #[test]
    fn halving_finds_the_first_moment_or_none() {
        for first in 3..20 {
            assert_eq!(halve(3..20, |ms| ms >= first), Some(first));
        }
        assert_eq!(halve(3..20, |_| false), None);
        assert_eq!(halve(3..3, |_| true), None);
        assert_eq!(halve(3..4, |_| true), Some(3));
        assert_eq!(halve(0..0, |_| true), None);
    }
}
