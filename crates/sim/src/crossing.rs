//! When a level on its way crosses one that a clause compares it with.
//!
//! Monitors judge at instants at which something happens. While a level moves, its crossing of
//! a watched level is such an instant, found here to the millisecond.
//!
//! Invariant: nothing happens before the moment that is found.

use room::{Room, Watched, first_crossing};

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
        let left = |ms| zone_at(room, world, watched, Instant::from_ms(ms)) != here;
        let found = first_crossing(ways, span, left);
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
