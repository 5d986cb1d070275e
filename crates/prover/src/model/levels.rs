//! Levels that are on their way, carried as a few cases.
//!
//! A fade, a ramp or a limit half-way has as many levels as milliseconds. Between two levels
//! that a clause or a setting names all levels do the same: they compare alike with each of
//! those, and the chain of OUT-1 only compares. So one level stands for each stretch between two
//! named ones, and what remains on the way is tried at each of them, at any moment.
//!
//! Of the moves that a clause may see on one way (it rises, it falls) two are told: the one at
//! its start, and one at any moment after it, when the level goes on to the end of the way. All
//! of them have one cause and one direction. So a clause that needs two such moves to break finds
//! them, and one that counts more of them is not proved here ([`crate::Sight::counts_moves`]).

use device::controller::OutputTimer;
use device::{Level, Span};
use room::{Clock, Slot};

use super::state::State;
use super::{Kind, Model};
use crate::zone::Zone;

/// What is taken to remain on each level that is on its way.
pub(super) type Case = Vec<(Slot, Span)>;

impl Model {
    /// Whether any level is on its way.
    pub(super) fn any_way(&self, zone: &Zone) -> bool {
        self.ways(zone).next().is_some()
    }

    /// The running slots during which a level is on its way.
    pub(super) fn ways<'a>(&'a self, zone: &'a Zone) -> impl Iterator<Item = Slot> + 'a {
        let running = zone
            .timers()
            .iter()
            .filter(|timer| **timer < self.first_flight);
        running
            .map(|timer| Slot(*timer))
            .filter(|slot| matches!(self.slots[usize::from(slot.0)], Kind::Way(_)))
    }

    /// The longest that a way may take from any level of the stretch that its level stands for.
    pub(super) fn longest_way(&self, slot: Slot, span: Span) -> Span {
        let Kind::Way(timer) = self.slots[usize::from(slot.0)] else {
            return span;
        };
        let room::SlotOwner::Controller(id, _) = self.owner(slot) else {
            return span;
        };
        let settings = &self.question.plan.controllers[usize::from(id.0)].settings;
        match timer {
            OutputTimer::Ramp => span.max(settings.ramp),
            OutputTimer::Limit => {
                let loops = settings.links.iter().filter_map(|link| match &link.role {
                    device::controller::Role::Limit(constants) => {
                        Some(constants.fade_up.max(constants.fade_down))
                    }
                    _ => None,
                });
                loops.max().map_or(span, |longest| span.max(longest))
            }
            _ => span,
        }
    }

    /// The cases for every level that is on its way: all of them together, each at each level
    /// that may stand there.
    pub(super) fn cases(&self, state: &State, ways: &[Slot], clock: &impl Clock) -> Vec<Case> {
        let mut all: Vec<Case> = vec![Vec::new()];
        for &slot in ways {
            let Some((from, to, span)) = state.room.way(slot, clock) else {
                continue;
            };
            let lefts = self.lefts(from, to, span);
            all = all
                .into_iter()
                .flat_map(|case| {
                    lefts.iter().map(move |left| {
                        let mut longer = case.clone();
                        longer.push((slot, *left));
                        longer
                    })
                })
                .collect();
        }
        all
    }

    /// What remains where the way passes each level that stands for a stretch, both ends
    /// included.
    fn lefts(&self, from: Level, to: Level, span: Span) -> Vec<Span> {
        let (low, high) = (from.min(to), from.max(to));
        let whole = u64::from(from.distance(to).hundredths());
        let mut lefts = vec![span];
        let inside = self.standing_levels();
        let mut inside: Vec<Level> = inside
            .into_iter()
            .filter(|it| (low..=high).contains(it))
            .collect();
        if to < from {
            inside.reverse();
        }
        for level in inside {
            let ahead = u64::from(level.distance(to).hundredths());
            if whole > 0 {
                lefts.push(span.scaled(ahead, whole).min(span));
            }
        }
        lefts.push(Span::ZERO);
        lefts.dedup();
        // With nothing left the timer would have ended.
        lefts.retain(|left| !left.is_zero() || span.is_zero());
        if span > Span::from_ms(1) {
            lefts.push(Span::from_ms(1));
        }
        lefts.dedup();
        lefts
    }

    /// The named levels, and one between each two of them.
    fn standing_levels(&self) -> Vec<Level> {
        let named = &self.question.levels;
        let mut all = Vec::with_capacity(named.len() * 2);
        for (place, level) in named.iter().enumerate() {
            all.push(*level);
            if let Some(next) = named.get(place + 1)
                && next.hundredths() - level.hundredths() > 2 * NEAR
            {
                all.push(between(*level, *next));
            }
        }
        all
    }

    /// The level that stands for this one.
    pub(super) fn stands_for(&self, level: Level) -> Level {
        let named = &self.question.levels;
        let place = named.partition_point(|it| *it <= level);
        let below = place.checked_sub(1).map(|place| named[place]);
        let above = named.get(place).copied();
        let near =
            |other: Option<Level>| other.filter(|it| it.distance(level).hundredths() <= NEAR);
        match (near(below), near(above), below, above) {
            (Some(level), ..) | (None, Some(level), ..) => level,
            (None, None, Some(below), Some(above)) => between(below, above),
            _ => level,
        }
    }
}

/// The level that stands for all between two.
fn between(below: Level, above: Level) -> Level {
    Level::from_hundredths(u16::midpoint(below.hundredths(), above.hundredths()))
}

/// A way that passes a level in steps of a millisecond comes at least this near to it, in
/// 0.01 %.
const NEAR: u16 = 3;
