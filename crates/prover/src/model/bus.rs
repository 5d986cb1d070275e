//! Frames on their way under the symbolic clock.
//!
//! Every frame has a timer of its own. Frames of one way arrive in the order of sending, as on
//! the bus of the numeric clock; a copy is dropped by the sequence rule (LINK-3) and so changes
//! nothing but how long the listener has been in silence, which it does not know.

use device::Payload;
use room::{ControllerId, Device, Plan, Slots, SourceId};

use super::instant::Instant;
use super::question::Between;
use super::state::Flight;
use super::{Model, count};
use crate::path::Happening;
use crate::zone::Timer;

/// The most frames on one way at once.
pub(super) const DEPTH: usize = 4;

/// The way of the frame that a timer of a path belongs to, in the plan of the question; `None`
/// for a timer of something else.
#[must_use]
pub fn way_of(plan: &Plan, timer: Timer) -> Option<(SourceId, ControllerId)> {
    let first = Slots::new(plan).len();
    let place = usize::from(timer).checked_sub(first)? / DEPTH;
    let ways = (0..).map(SourceId).zip(&plan.sources);
    let mut ways = ways.flat_map(|(id, source)| source.listeners.iter().map(move |it| (id, it.0)));
    ways.nth(place)
}

impl Model {
    /// What becomes of what was sent: each listener gets it or, while losses are left, not.
    pub(super) fn carry(
        &self,
        moment: Instant,
        sent: &[(SourceId, Payload)],
        origin: room::Origin,
    ) -> Vec<Instant> {
        let mut moments = vec![moment];
        for &(source, payload) in sent {
            let sending = |moment| self.send(moment, source, payload, origin);
            moments = moments.into_iter().flat_map(sending).collect();
        }
        moments
    }

    /// What becomes of one frame at all of its listeners.
    fn send(
        &self,
        moment: Instant,
        source: SourceId,
        payload: Payload,
        origin: room::Origin,
    ) -> Vec<Instant> {
        let left = moment.state.lose;
        let mut moments = vec![moment];
        let listeners = &self.question.plan.sources[usize::from(source.0)].listeners;
        let mut listeners: Vec<_> = listeners.iter().map(|(id, _)| *id).collect();
        listeners.sort_unstable();
        // What is said as the run begins is not heard at once: clauses see that nothing is known.
        if self.question.prompt.contains(&source) && !moments[0].begins {
            moments = self.deliver(moments, source, payload, origin, &listeners);
        } else {
            for listener in listeners {
                let mut next = Vec::with_capacity(moments.len());
                for moment in moments {
                    next.extend(self.lost(&moment, source, listener));
                    let flight = Flight {
                        timer: 0,
                        source,
                        listener,
                        payload,
                        origin,
                    };
                    next.extend(self.fly(moment, flight));
                }
                moments = next;
            }
        }
        if payload.is_state() {
            for moment in &mut moments {
                let is_lost = moment.state.lose < left;
                self.make_up(moment, source, origin, is_lost);
            }
        }
        moments
    }

    /// A frame that takes no time.
    pub(super) fn deliver(
        &self,
        mut moments: Vec<Instant>,
        source: SourceId,
        payload: Payload,
        origin: room::Origin,
        listeners: &[ControllerId],
    ) -> Vec<Instant> {
        for &listener in listeners {
            let mut next = Vec::with_capacity(moments.len());
            for moment in moments {
                next.extend(self.lost(&moment, source, listener));
                if moment.state.room.is_powered(Device::Controller(listener)) {
                    next.extend(self.hear(moment, listener, source, payload, origin));
                } else {
                    next.push(moment);
                }
            }
            moments = next;
        }
        moments
    }

    fn fly(&self, mut moment: Instant, mut flight: Flight) -> Option<Instant> {
        let way = |it: &Flight| (it.source, it.listener) == (flight.source, flight.listener);
        let before = moment
            .state
            .flights
            .iter()
            .rev()
            .find(|it| way(it))
            .copied();
        let first = self.first_flight + count(self.way_of(flight.source, flight.listener) * DEPTH);
        let taken = |timer: Timer| moment.state.flights.iter().any(|it| it.timer == timer);
        let Some(timer) = (first..first + count(DEPTH)).find(|timer| !taken(*timer)) else {
            self.trouble("more than four frames on one way at once");
            return None;
        };
        flight.timer = timer;
        let delay = self.delay(flight.source, flight.listener);
        moment.start_flight(self, timer, delay);
        if let Some(before) = before
            && !moment.zone.before(before.timer, timer, 0)
        {
            return None;
        }
        moment.state.flights.push(flight);
        Some(moment)
    }

    /// The moment in which a frame is lost at a listener, if one may still be.
    fn lost(&self, moment: &Instant, source: SourceId, listener: ControllerId) -> Option<Instant> {
        let left = moment.state.lose.checked_sub(1)?;
        if !self.leads_to_loss(source, listener) {
            return None;
        }
        let mut lost = moment.clone();
        lost.state.lose = left;
        lost.happens(Happening::Lost(source, listener));
        Some(lost)
    }

    /// The place of a way among all of them.
    fn way_of(&self, source: SourceId, listener: ControllerId) -> usize {
        let sources = &self.question.plan.sources;
        let before: usize = sources[..usize::from(source.0)]
            .iter()
            .map(|it| it.listeners.len())
            .sum();
        let own = &sources[usize::from(source.0)].listeners;
        before + own.iter().position(|(id, _)| *id == listener).unwrap_or(0)
    }

    /// How long frames take on a way.
    pub(super) fn delay(&self, source: SourceId, listener: ControllerId) -> Between {
        let mut known = self.question.delays.iter();
        known
            .find(|(from, to, _)| (*from, *to) == (source, listener))
            .map_or_else(Between::default, |(_, _, between)| *between)
    }
}
