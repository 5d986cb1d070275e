//! Occupancy as a controller believes it: links, run-on, loss.

use super::settings::{Link, Lost, Role};
use super::state::Said;
use super::work::Work;
use super::{Drive, HeardKind, Outside, Timer};
use crate::{Flaw, Span};

impl<F: Outside> Work<'_, F> {
    /// A sensor says that somebody is there.
    pub(super) fn hear_occupied(&mut self, heard: u8, bright: bool) {
        let was = self.said(heard);
        self.believe(heard, Said::Occupied { bright });
        let no_longer_bright = was == Said::Occupied { bright: true } && !bright;
        self.for_occupancy_links(heard, |work, link| {
            work.link_occupied(link, bright, no_longer_bright);
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
        let was_unknown = self.said(heard) == Said::Unknown;
        self.believe(heard, Said::Vacant);
        self.for_occupancy_links(heard, |work, link| work.leave(link, was_unknown));
    }

    /// The source of the link counts as vacant from now: the link ends with its run-on.
    fn leave(&mut self, link: u8, was_unknown: bool) {
        let run_on = self.run_on_of(link);
        let state = &mut self.it.links[usize::from(link)];
        if !state.occupied {
            if was_unknown {
                self.link_vacant(link);
            }
        } else if run_on.is_zero() {
            self.link_vacant(link);
        } else if !state.run_on {
            state.run_on = true;
            self.fx.start(Timer::RunOn(link), run_on);
        }
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
        if sets_back {
            self.weigh_setback(output);
        }
        if self.flawed(Flaw::VacantOnFirst) && self.out(output).occupied {
            return self.become_vacant(output);
        }
        self.weigh_occupancy(output);
    }

    /// OUT-11: a lost sensor counts as vacant, or by the setting of a link as occupied.
    pub(super) fn lose_occupancy(&mut self, heard: u8) {
        if self.flawed(Flaw::LostHolds) {
            return;
        }
        let was_unknown = self.said(heard) == Said::Unknown;
        self.believe(heard, Said::Vacant);
        self.for_occupancy_links(heard, |work, link| match work.link(link).0.lost {
            Lost::Vacant => work.leave(link, was_unknown),
            Lost::Occupied => work.link_occupied(link, false, false),
        });
    }

    /// Calls `act` for each stored link by which the source tells of occupancy.
    fn for_occupancy_links(&mut self, heard: u8, mut act: impl FnMut(&mut Self, u8)) {
        self.for_links_from(heard, |work, link| {
            if is_occupancy(&work.link(link).0.role) {
                act(work, link);
            }
        });
    }

    /// Whether any link holds the output, or another output of its relay.
    pub(super) fn links_occupied(&self, output: u8) -> bool {
        self.any_of_relay(output, |other| {
            self.links_of(other).any(|(_, state)| state.occupied)
        })
    }

    /// Whether the output cannot be known to be vacant (OUT-3).
    pub(super) fn links_unknown(&self, output: u8) -> bool {
        self.any_of_relay(output, |other| {
            self.links_of(other).any(|(link, _)| self.is_unknown(link))
        })
    }

    /// Whether the link is of an occupancy sensor that is *unknown*.
    pub(super) fn is_unknown(&self, link: &Link) -> bool {
        is_occupancy(&link.role) && self.said(link.heard) == Said::Unknown
    }

    /// Whether the link can hold its output occupied: a sensor any output, a card a contact
    /// (CARD-1), and what has no sensor. A card in its reader says more than the end of a press
    /// hold, and less than a sensor.
    pub(super) fn can_hold(&self, link: &Link) -> bool {
        match self.settings.heard[usize::from(link.heard)].kind {
            HeardKind::Card { .. } => {
                self.spec(link.output).drive == Drive::Contact || !self.has_sensor(link.output)
            }
            _ => is_occupancy(&link.role),
        }
    }
}

/// Whether a link of this role follows occupancy.
pub(super) const fn is_occupancy(role: &Role) -> bool {
    matches!(role, Role::AutoOn(_) | Role::PartialOn(_) | Role::ManualOn)
}
