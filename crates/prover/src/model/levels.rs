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

use std::collections::BTreeSet;

use device::controller::OutputTimer;
use device::{Level, Span};
use room::{Clock, Slot};

use super::crossings::known;
use super::instant::Instant;
use super::{Kind, Model};
use crate::zone::Zone;

/// The levels that are told apart.
///
/// A *named* one is a setting: a level may stand there and nowhere else. A *border* is where a
/// clause changes its answer: it belongs to the stretch above it. Between two neighbours among
/// all of them all levels do the same.
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub struct Levels {
    named: Vec<Level>,
    borders: Vec<Level>,
    /// Both, sorted.
    all: Vec<Level>,
    /// The named levels and one for each stretch, sorted.
    standing: Vec<Level>,
    /// Those, and both sides of each border, sorted.
    tried: Vec<Level>,
}

impl Levels {
    /// Levels that are told apart: settings, and borders of clauses.
    #[must_use]
    pub fn new(named: Vec<Level>, borders: Vec<Level>) -> Self {
        let sorted = |levels: Vec<Level>| -> Vec<Level> {
            levels
                .into_iter()
                .collect::<BTreeSet<_>>()
                .into_iter()
                .collect()
        };
        let mut it = Self {
            all: sorted([named.clone(), borders.clone()].concat()),
            named: sorted(named),
            borders: sorted(borders),
            standing: Vec::new(),
            tried: Vec::new(),
        };
        let stretches = it
            .all
            .windows(2)
            .filter_map(|pair| it.of_stretch(pair[0], pair[1]));
        let sides = it.borders.iter().flat_map(|border| {
            let below = border.hundredths().saturating_sub(1);
            [*border, Level::from_hundredths(below)]
        });
        let sides: Vec<Level> = sides.collect();
        it.standing = sorted(it.named.iter().copied().chain(stretches).collect());
        it.tried = sorted([it.standing.clone(), sides].concat());
        it
    }

    /// The levels that stand for all, sorted.
    #[must_use]
    pub fn standing(&self) -> &[Level] {
        &self.standing
    }

    /// The levels at which an exact search looks at one that is on its way: a run judges by itself
    /// as soon as a level is over a border.
    #[must_use]
    pub fn tried(&self) -> &[Level] {
        &self.tried
    }

    /// The level that stands for this one. A way passes a level in steps of a millisecond, so
    /// what is near a named level and on the same side of every border is that level.
    #[must_use]
    pub fn stands_for(&self, level: Level) -> Level {
        let place = self.named.partition_point(|it| *it <= level);
        let below = place.checked_sub(1).map(|place| self.named[place]);
        let near =
            |it: &Level| it.distance(level).hundredths() <= NEAR && self.are_one_side(*it, level);
        let neighbours = [below, self.named.get(place).copied()];
        if let Some(named) = neighbours.into_iter().flatten().find(near) {
            return named;
        }
        let place = self.all.partition_point(|it| *it <= level);
        match (place.checked_sub(1), self.all.get(place)) {
            (Some(below), Some(above)) => self.of_stretch(self.all[below], *above).unwrap_or(level),
            _ => level,
        }
    }

    /// The level that stands for the stretch between two neighbours, if it needs one.
    fn of_stretch(&self, below: Level, above: Level) -> Option<Level> {
        let (from, to) = (below.hundredths(), above.hundredths());
        let is_named = |level: &Level| self.named.binary_search(level).is_ok();
        if to - from > 2 * NEAR {
            Some(Level::from_hundredths(u16::midpoint(from, to)))
        } else if !is_named(&below) {
            Some(below)
        } else if !is_named(&above) && to - from > 1 {
            Some(Level::from_hundredths(to - 1))
        } else {
            None
        }
    }

    /// Whether no border lies between two levels.
    fn are_one_side(&self, one: Level, other: Level) -> bool {
        let side = |level: Level| self.borders.partition_point(|border| *border <= level);
        side(one) == side(other)
    }
}

/// Whether two timers end together in every vector of a zone.
fn end_together(zone: &Zone, one: Slot, other: Slot) -> bool {
    zone.gap(one.0, other.0) == 0 && zone.gap(other.0, one.0) == 0
}

/// What is taken to remain on each level that is on its way.
pub(super) type Case = Vec<(Slot, Span)>;

impl Model {
    /// Whether a level on its way may be looked at though nothing happens.
    pub(super) fn may_look(&self, zone: &Zone) -> bool {
        match self.is_over() {
            true => self.question.watches_levels && self.ways(zone).next().is_some(),
            false => self.may_cross_unseen(zone),
        }
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
    pub(super) fn cases(&self, moment: &Instant, ways: &[Slot], clock: &impl Clock) -> Vec<Case> {
        let mut all: Vec<Case> = vec![Vec::new()];
        let mut done = Vec::new();
        for &slot in ways {
            let Some((from, to, span)) = moment.state.room.way(slot, clock) else {
                continue;
            };
            // Two ways that begin and end together are at one level all the time.
            let way = (from, to, span);
            let same = |it: &(Slot, _)| it.1 == way && end_together(&moment.zone, it.0, slot);
            let place = done.iter().position(same);
            done.push((slot, way));
            if let Some(place) = place {
                for case in &mut all {
                    case.push((slot, case[place].1));
                }
                continue;
            }
            let lefts = match known(&moment.zone, slot).filter(|_| !self.is_over()) {
                Some(left) => vec![left],
                None => {
                    self.looked.set(true);
                    self.lefts(from, to, span)
                }
            };
            if all.len() * lefts.len() > MOST_CASES {
                self.trouble("more levels on their way at once than are tried");
                break;
            }
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
        let levels = &self.question.levels;
        let inside = match self.is_over() {
            true => levels.standing(),
            false => levels.tried(),
        };
        let inside = inside.iter().copied();
        let mut inside: Vec<Level> = inside.filter(|it| (low..=high).contains(it)).collect();
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

    /// The level that stands for this one.
    pub(super) fn stands_for(&self, level: Level) -> Level {
        self.question.levels.stands_for(level)
    }
}

/// So many cases are tried at one instant at most.
const MOST_CASES: usize = 1 << 16;

/// A way that passes a level in steps of a millisecond comes at least this near to it, in
/// 0.01 %.
const NEAR: u16 = 3;

#[cfg(test)]
mod tests {
    use super::*;

    fn levels(named: &[u16], borders: &[u16]) -> Levels {
        let all = |levels: &[u16]| {
            levels
                .iter()
                .map(|it| Level::from_hundredths(*it))
                .collect()
        };
        Levels::new(all(named), all(borders))
    }

    /// What stands for a level does not move when it is looked at again, is on the same side of
    /// every border, and of every named level unless it is near to it.
    #[test]
    fn what_stands_for_a_level_is_told_from_nothing_that_it_is_not() {
        let kinds: [(&[u16], &[u16]); 6] = [
            (&[0, 10_000], &[]),
            (&[0, 1_000, 5_000, 8_500, 10_000], &[8_400, 9_995]),
            (&[0, 5_000, 10_000], &[5_000, 5_001]),
            (&[0, 5_000, 10_000], &[4_995, 5_006]),
            (&[0, 10_000], &[4_195, 4_206, 4_207]),
            (&[0, 5_000, 5_004, 10_000], &[5_002, 9_999, 10_000]),
        ];
        for (named, borders) in kinds {
            let levels = levels(named, borders);
            for level in (0..=10_000).map(Level::from_hundredths) {
                let standing = levels.stands_for(level);
                assert!(levels.standing().contains(&standing), "{level} {levels:?}");
                assert_eq!(levels.stands_for(standing), standing, "{level} {levels:?}");
                assert!(levels.are_one_side(level, standing), "{level} {levels:?}");
                for named in &levels.named {
                    let alike = named.cmp(&level) == named.cmp(&standing);
                    let near = named.distance(level).hundredths() <= NEAR;
                    assert!(alike || near, "{level} stands as {standing} by {named}");
                }
            }
        }
    }

    /// A border costs one level more, not three.
    #[test]
    fn each_stretch_has_one_level() {
        let plain = levels(&[0, 5_000, 10_000], &[]);
        assert_eq!(plain.standing().len(), 5);
        assert_eq!(levels(&[0, 5_000, 10_000], &[8_400]).standing().len(), 6);
    }
}
