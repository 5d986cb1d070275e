//! The end of an instant: the monitors judge, and time passes.

use std::rc::Rc;

use device::Level;
use room::Origin;

use super::Model;
use super::event::can_be_due;
use super::instant::{Instant, Next};
use super::levels::Case;
use super::state::State;
use crate::path::PathStep;
use crate::zone::Zone;

impl Model {
    /// The instant is over: the monitors judge, and time goes on.
    pub(super) fn close(&self, mut moment: Instant, visit: &mut impl FnMut(Next)) {
        // Whatever is due at the instant has happened in it, unless the rest of it is an instant
        // of its own.
        if !self.is_over() || moment.loud || moment.events == 0 {
            let timers = moment.zone.timers().to_vec();
            if !timers
                .into_iter()
                .all(|timer| moment.zone.at_least(timer, 1))
            {
                return;
            }
        }
        for moment in self.judged(moment) {
            self.leave(moment, visit);
        }
    }

    /// What the monitors make of the instant: in each case of the levels that are on their way, or
    /// once for all cases in which they see the same.
    fn judged(&self, mut moment: Instant) -> Vec<Instant> {
        if !self.is_over() || self.question.follows_levels {
            return self.in_cases(moment, |moment| self.settle(moment));
        }
        let (room, clock) = self.parts(&mut moment, Origin::Start);
        room.stretches(&clock).for_each(drop);
        if !clock.asked.get() {
            return self.settle(moment).0;
        }
        let cases = self.every_case(&moment);
        let mut judged = moment.clone();
        let (room, mut clock) = self.parts(&mut judged, Origin::Start);
        let mut apart: Vec<(Vec<usize>, &Case)> = Vec::new();
        for case in &*cases {
            clock.case = Some(case);
            if !(apart.iter()).any(|(it, _)| room.stretches(&clock).eq(it.iter().copied())) {
                apart.push((room.stretches(&clock).collect(), case));
            }
        }
        let each = apart.into_iter().flat_map(|(_, case)| {
            let mut moment = moment.clone();
            moment.cases = Some(Rc::new([case.clone()]));
            self.settle(moment).0
        });
        each.collect()
    }

    fn settle(&self, mut moment: Instant) -> (Vec<Instant>, bool) {
        let (room, mut clock) = self.parts(&mut moment, Origin::Start);
        room.settle(&mut clock);
        let asked = clock.asked.get();
        (vec![moment], asked)
    }

    fn leave(&self, mut moment: Instant, visit: &mut impl FnMut(Next)) {
        if self.is_excluded(&moment.state.room) {
            return;
        }
        let found = self.is_found(&moment.state.room);
        moment.state.late = false;
        // Frames on different ways do not know of each other: only the order on one counts.
        let flights = &mut moment.state.flights;
        flights.sort_by_key(|flight| (flight.source, flight.listener));
        let room = &mut moment.state.room;
        if self.question.goal == super::Goal::Broken {
            room.forget_exercise();
        }
        if self.is_over() {
            self.forget_sights(room);
            if !self.question.watches_levels {
                room.forget_levels(SOMEWHERE);
            }
            room.round_levels(|level| self.stands_for(level));
        } else {
            room.forget_sights(self.question.watches_levels);
        }
        self.foresee(&mut moment);
        let mut visit = |state: State, zone: Zone| {
            let (state, zone) = self.in_order(state, zone);
            visit(Next {
                state,
                zone,
                found,
                cost: moment.cost,
                step: PathStep {
                    happens: moment.story.clone().unwrap_or_default(),
                    ..moment.step.clone().unwrap_or_default()
                },
            });
        };
        let unseen = self.is_over() && !moment.loud && moment.events > 0;
        let mut zone = moment.zone;
        if found {
            return visit(moment.state, zone);
        }
        // Time passes, to the next instant at which anything happens.
        if unseen && moment.order.is_of_timers() {
            let timers = zone.timers();
            if timers.iter().any(|timer| can_be_due(&zone, *timer)) {
                let mut state = moment.state.clone();
                state.late = true;
                visit(state, zone.clone());
            }
            if zone.pass(1) {
                visit(moment.state, zone);
            }
        } else if zone.pass(if unseen { 0 } else { 1 }) {
            visit(moment.state, zone);
        }
    }
}

/// A level that is neither trim.
const SOMEWHERE: Level = Level::from_percent(60);
