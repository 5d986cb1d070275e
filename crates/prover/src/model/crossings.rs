//! When a level on its way passes one that a clause compares it with.
//!
//! A run judges at that moment though nothing else happens, and so an exact search must not let
//! time pass it. As soon as it is known what remains on the ways of an output, so is the moment:
//! a timer of its own runs until then, a fixed span before the end of the way.
//!
//! Invariant: such a timer runs exactly while ways are under way that have been known since one
//! of them last started, stopped or came to its end.

use std::rc::Rc;

use device::{Span, controller};
use room::{Origin, Slot, SlotOwner, Watched};

use super::Model;
use super::instant::Instant;
use super::levels::Case;
use crate::zone::{Timer, Zone};

/// What the level of an output that clauses compare hangs on.
#[derive(Clone, Debug)]
pub(super) struct Crossing {
    /// The timer that runs until the level passes the next border.
    pub(super) timer: Timer,
    watched: Watched,
    /// The slots of the ways of the output.
    ways: Vec<Slot>,
}

/// The crossings of a room; `first`: the first timer that is free.
pub(super) fn crossings(room: &room::Room, owners: &[SlotOwner], first: Timer) -> Vec<Crossing> {
    let of = |watched: &Watched| {
        let at = &room.plan().outputs[usize::from(watched.output.0)];
        let is_way = move |owner: &SlotOwner| match *owner {
            SlotOwner::Controller(id, controller::Timer::Output(local, timer)) => {
                (id, local) == (at.controller, at.local)
                    && controller::OutputTimer::WAYS.contains(&timer)
            }
            _ => false,
        };
        let slots = (0..).map(Slot).zip(owners);
        slots
            .filter(|(_, it)| is_way(it))
            .map(|(it, _)| it)
            .collect()
    };
    let watched = room.watched().iter();
    (first..)
        .zip(watched)
        .map(|(timer, watched)| Crossing {
            timer,
            watched: watched.clone(),
            ways: of(watched),
        })
        .collect()
}

impl Crossing {
    /// The ways that are under way.
    fn running(&self, zone: &Zone) -> Vec<Slot> {
        let ways = self.ways.iter().copied();
        ways.filter(|slot| zone.is_running(slot.0)).collect()
    }
}

impl Model {
    /// The timers that no longer say when a level passes a border once a slot starts, stops or
    /// elapses.
    pub(super) fn crossings_of(&self, slot: Slot) -> impl Iterator<Item = Timer> {
        let of_it = self.crossings.iter();
        of_it
            .filter(move |it| it.ways.contains(&slot))
            .map(|it| it.timer)
    }

    /// Whether some level may pass a border at a moment that is not known.
    pub(super) fn may_cross_unseen(&self, zone: &Zone) -> bool {
        let unseen = |it: &Crossing| !zone.is_running(it.timer) && !it.running(zone).is_empty();
        self.crossings.iter().any(unseen)
    }

    /// Starts the timers of the levels that are found to be known at the end of an instant.
    pub(super) fn foresee(&self, moment: &mut Instant) {
        for crossing in &self.crossings {
            if moment.zone.is_running(crossing.timer) {
                continue;
            }
            let ways = crossing.running(&moment.zone);
            let known: Option<Case> = ways
                .iter()
                .map(|slot| Some((*slot, known(&moment.zone, *slot)?)))
                .collect();
            let Some(case) = known.filter(|case| !case.is_empty()) else {
                continue;
            };
            if let Some(span) = self.until(moment, crossing, &case) {
                moment.start_timer(self, crossing.timer, span);
            }
        }
    }

    /// How long until a level passes a border, or a way ends; `None` if it is not worth the
    /// search.
    fn until(&self, moment: &Instant, crossing: &Crossing, case: &Case) -> Option<Span> {
        let end = case.iter().map(|(_, left)| left.as_ms()).min()?;
        if case.len() > 1 && end > LONGEST_SEARCH {
            return None;
        }
        let mut scratch = moment.clone();
        scratch.fresh.clear();
        scratch.step = None;
        let mut zone_at = |ahead: u64| {
            let later = |(slot, left): &(Slot, Span)| (*slot, left.minus(Span::from_ms(ahead)));
            scratch.cases = Some(Rc::new([case.iter().map(later).collect()]));
            let (room, clock) = self.parts(&mut scratch, Origin::Start);
            let view = room.glimpse(crossing.watched.output, &clock);
            crossing.watched.zone(&view)
        };
        let here = zone_at(0);
        let crossed = room::first_crossing(case.len(), 1..end, |ahead| zone_at(ahead) != here);
        Some(Span::from_ms(crossed.unwrap_or(end)))
    }
}

/// What remains on a slot, if it is the same in every vector of a zone.
pub(super) fn known(zone: &Zone, slot: Slot) -> Option<Span> {
    let least = zone.least(slot.0);
    let ms = u64::try_from(least).ok()?;
    (least == zone.most(slot.0)).then(|| Span::from_ms(ms))
}

/// Two ways at once are looked through by the millisecond, in milliseconds at most this far.
const LONGEST_SEARCH: u64 = 60_000;
