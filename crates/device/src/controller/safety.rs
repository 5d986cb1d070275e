//! Emergency light and demand response (OUT-13, OUT-14).

use super::chain::Move;
use super::settings::Role;
use super::state::{Said, Shed, Way};
use super::work::Work;
use super::{OutputTimer, Outside};
use crate::{Ignored, Level, Note, Points};

impl<F: Outside> Work<'_, F> {
    /// Normal power or fire alarm has changed or repeated its state.
    pub(super) fn hear_signal(&mut self, heard: u8, calls: bool) {
        self.believe(heard, if calls { Said::Calls } else { Said::Rest });
        self.for_links_from(heard, |work, link| {
            if let (output, Role::Emergency) = work.end_of(link) {
                work.weigh_emergency(output);
            }
        });
    }

    pub(super) fn weigh_emergency(&mut self, output: u8) {
        let calls = (self.links_of(output))
            .any(|(link, _)| link.role == Role::Emergency && self.said(link.heard) == Said::Calls);
        let out = self.out(output);
        if calls {
            if core::mem::take(&mut out.proving) {
                self.stop(output, OutputTimer::Proven);
            }
            if !self.out(output).emergency {
                self.change(output, Move::Jump, |out| out.emergency = true);
                self.say(output, Note::Emergency(true));
            }
        } else if out.emergency && !out.proving {
            let proven = self.spec(output).proven;
            if proven.is_zero() {
                self.proven(output);
            } else {
                self.out(output).proving = true;
                self.start(output, OutputTimer::Proven, proven);
            }
        }
    }

    /// Normal light is proven on: emergency light may end.
    pub(super) fn proven(&mut self, output: u8) {
        self.out(output).proving = false;
        self.change(output, Move::Fade, |out| out.emergency = false);
        self.say(output, Note::Emergency(false));
    }

    /// OUT-14: a shed is called for, or repeated, or called for with another number of points.
    pub(super) fn hear_shed(&mut self, heard: u8, points: Option<Points>) {
        self.believe(heard, Said::Calls);
        self.for_links_from(heard, |work, link| {
            if let (output, Role::Shed) = work.end_of(link) {
                work.shed(output, points);
            }
        });
    }

    /// The high trim is lowered, never under the low trim, the floor or half of the level that
    /// was there before the shed.
    fn shed(&mut self, output: u8, points: Option<Points>) {
        let spec = self.spec(output);
        let (high, low, before) = (spec.high_trim, spec.low_trim, self.out(output).shed);
        let Some(own) = self.spec(output).shed else {
            if before.is_none() {
                self.change(output, Move::Fade, |out| out.shed = Some(Shed::Dropped));
                self.say(output, Note::Shed(true));
            }
            return;
        };
        if !self.spec(output).drive.dims() {
            return self.say(output, Note::Ignored(Ignored::ShedNotForRelays));
        }
        let half = match before {
            Some(Shed::Lowered(half)) => half,
            _ => {
                let before = (self.it).normal_target_now(self.settings, output, self.fx);
                Level::from_hundredths(before.hundredths() / 2)
            }
        };
        let floor = self.spec(output).floor.unwrap_or(Level::OFF);
        let to = high
            .less(points.unwrap_or(own))
            .max(low)
            .max(floor)
            .max(half);
        if before.is_some() && self.out(output).cap.is_some_and(|way| way.to == to) {
            return;
        }
        self.change(output, Move::Fade, |out| {
            out.shed = Some(Shed::Lowered(half));
        });
        self.move_cap(output, to);
        self.say(output, Note::Shed(true));
    }

    /// The shed has ended; a source that is lost asks for none any more.
    pub(super) fn hear_shed_end(&mut self, heard: u8) {
        self.believe(heard, Said::Rest);
        self.for_links_from(heard, |work, link| {
            if let (output, Role::Shed) = work.end_of(link) {
                work.end_shed(output);
            }
        });
    }

    /// Asked was not touched, so release restores.
    pub(super) fn end_shed(&mut self, output: u8) {
        match self.out(output).shed {
            None => return,
            Some(Shed::Dropped) => self.change(output, Move::Fade, |out| out.shed = None),
            Some(Shed::Lowered(_)) => {
                self.out(output).shed = None;
                self.move_cap(output, self.spec(output).high_trim);
            }
        }
        self.say(output, Note::Shed(false));
    }

    fn move_cap(&mut self, output: u8, to: Level) {
        let from = self.it.cap_now(self.settings, output, self.fx);
        let span = self.spec(output).shed_fade;
        if span.is_zero() {
            self.change(output, Move::Fade, |out| out.cap = Some(Way::at(to)));
            self.shed_arrived(output);
        } else {
            self.out(output).cap = Some(Way { from, to });
            self.start(output, OutputTimer::Shed, span);
        }
    }

    /// The shed, or its release, has arrived.
    pub(super) fn shed_arrived(&mut self, output: u8) {
        let out = self.out(output);
        out.cap = match out.cap {
            Some(way) if out.shed.is_some() => Some(Way::at(way.to)),
            _ => None,
        };
    }
}
