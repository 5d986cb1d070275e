//! Occupancy as a controller believes it: links, run-on, loss.

use super::settings::{Lost, Role};
use super::state::Said;
use super::work::Work;
use super::{HeardKind, Outside, Timer};
use crate::{Flaw, Span};

impl<F: Outside> Work<'_, F> {
    /// A sensor says that somebody is there.
    pub(super) fn hear_occupied(&mut self, heard: u8, bright: bool) {
        let was = self.said(heard);
        self.believe(heard, Said::Occupied { bright });
        let no_longer_bright = was == Said::Occupied { bright: true } && !bright;
        self.for_links_from(heard, |work, link| {
            if is_occupancy(&work.settings.links[usize::from(link)].role) {
                work.link_occupied(link, bright, no_longer_bright);
            }
        });
    }

    /// OCC-14: `again` when the sensor no longer sees bright daylight, so that links act anew.
    fn link_occupied(&mut self, link: u8, bright: bool, again: bool) {
        let (output, role) = self.end_of(link);
        let state = &mut self.it.links[usize::from(link)];
        let was = core::mem::replace(&mut state.occupied, true);
        if core::mem::take(&mut state.run_on) && !self.flawed(Flaw::RunOnNotForgotten) {
            self.fx.stop(Timer::RunOn(link));
        }
        self.weigh_occupancy(output);
        if !was || (again && self.spec(output).drive.lights()) {
            self.arrive(output, &role, bright);
        }
    }

    /// A sensor says that nobody is there.
    pub(super) fn hear_vacant(&mut self, heard: u8) {
        self.believe(heard, Said::Vacant);
        self.leave(heard);
    }

    /// The source counts as vacant from now: its links end with their run-on.
    fn leave(&mut self, heard: u8) {
        self.for_links_from(heard, |work, link| {
            let (output, role) = work.end_of(link);
            if !is_occupancy(&role) {
                return;
            }
            let run_on = work.run_on_of(link);
            let state = &mut work.it.links[usize::from(link)];
            if !state.occupied {
                work.weigh_occupancy(output);
            } else if run_on.is_zero() {
                work.link_vacant(link);
            } else if !state.run_on {
                state.run_on = true;
                work.fx.start(Timer::RunOn(link), run_on);
            }
        });
    }

    fn run_on_of(&self, link: u8) -> Span {
        let links = &self.settings.links;
        let own = &links[usize::from(link)];
        let shared =
            (links.iter()).find(|other| other.heard == own.heard && is_occupancy(&other.role));
        match shared {
            Some(first) if self.flawed(Flaw::SharedRunOn) => first.run_on,
            _ => own.run_on,
        }
    }

    pub(super) fn run_on_ended(&mut self, link: u8) {
        self.it.links[usize::from(link)].run_on = false;
        self.link_vacant(link);
    }

    fn link_vacant(&mut self, link: u8) {
        self.it.links[usize::from(link)].occupied = false;
        let (spec, _) = self.link(link);
        let (output, sets_back) = (spec.output, spec.setback.is_some());
        let last =
            (self.links_of(output)).all(|(link, state)| link.setback.is_none() || !state.occupied);
        if sets_back && last {
            self.set_back(output);
        }
        if self.flawed(Flaw::VacantOnFirst) && self.out(output).occupied {
            return self.become_vacant(output);
        }
        self.weigh_occupancy(output);
    }

    /// OUT-11: a lost sensor counts as vacant, or by setting as occupied.
    pub(super) fn lose_occupancy(&mut self, heard: u8) {
        if self.flawed(Flaw::LostHolds) {
            return;
        }
        let keeps = (self.settings.links.iter())
            .any(|link| link.heard == heard && link.lost == Lost::Occupied);
        if keeps {
            self.hear_occupied(heard, false);
        } else {
            self.hear_vacant(heard);
        }
    }

    /// Whether any link holds the output.
    pub(super) fn links_occupied(&self, output: u8) -> bool {
        self.links_of(output).any(|(_, state)| state.occupied)
    }

    /// Whether the output cannot be known to be vacant (OUT-3).
    pub(super) fn links_unknown(&self, output: u8) -> bool {
        self.links_of(output)
            .any(|(link, _)| is_occupancy(&link.role) && self.said(link.heard) == Said::Unknown)
    }

    pub(super) fn has_link_without_setback(&self, output: u8) -> bool {
        self.links_of(output)
            .any(|(link, _)| self.holds(link.heard, output, &link.role) && link.setback.is_none())
    }

    /// Whether a link of this role can hold the output occupied: a sensor any output, a card a
    /// contact (CARD-1).
    fn holds(&self, heard: u8, output: u8, role: &Role) -> bool {
        let card = matches!(
            self.settings.heard[usize::from(heard)].kind,
            HeardKind::Card { .. }
        );
        is_occupancy(role) || (card && self.spec(output).drive == super::Drive::Contact)
    }
}

/// Whether a link of this role follows occupancy.
pub(super) const fn is_occupancy(role: &Role) -> bool {
    matches!(role, Role::AutoOn(_) | Role::PartialOn(_) | Role::ManualOn)
}
