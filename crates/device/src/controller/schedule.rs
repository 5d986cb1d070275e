//! The time clock at its outputs (CLK-2, CLK-3).

use super::chain::Move;
use super::rules::Off;
use super::settings::{Role, Warning};
use super::state::Said;
use super::work::Work;
use super::{OutputTimer, Outside, State};
use crate::{Flaw, Ignored, Level, Note, Span};

impl<F: Outside> Work<'_, F> {
    /// Opening hours: sweeps are over, and what opens turns on.
    pub(super) fn hear_in_hours(&mut self, heard: u8) {
        let opens = self.said(heard) == Said::AfterHours;
        self.believe(heard, Said::InHours);
        self.for_links_from(heard, |work, link| match work.end_of(link) {
            (output, Role::Sweep { .. }) => work.end_sweep(output),
            (output, Role::Opening(level)) if opens => work.open(output, level),
            (output, Role::OffAfterHours(_)) if work.spec(output).off_after.is_none() => {
                work.stop(output, OutputTimer::OffAfter);
            }
            _ => {}
        });
    }

    fn open(&mut self, output: u8, level: Level) {
        let refusal = if self.out(output).latch {
            Some(Ignored::Latch)
        } else if self.state(output) != State::Off {
            Some(Ignored::NoChange)
        } else if self.is_captive(output) {
            Some(Ignored::Captive)
        } else {
            None
        };
        match refusal {
            Some(why) => self.say(output, Note::Ignored(why)),
            None => self.turn_on(output, level, Move::Fade),
        }
    }

    /// After hours: what is set back and vacant now counts towards off.
    pub(super) fn hear_after_hours(&mut self, heard: u8) {
        let closes = self.said(heard) != Said::AfterHours;
        self.believe(heard, Said::AfterHours);
        self.for_links_from(heard, |work, link| {
            if let (output, Role::OffAfterHours(_)) = work.end_of(link)
                && closes
                && work.state(output) == State::Setback
                && !work.out(output).occupied
            {
                work.start_off_after(output);
            }
        });
    }

    /// CLK-2: the sweep begins.
    pub(super) fn hear_sweep(&mut self, heard: u8) {
        self.for_links_from(heard, |work, link| {
            if let (output, Role::Sweep { .. }) = work.end_of(link) {
                work.out(output).swept = true;
                work.sweep(output);
            }
        });
    }

    fn sweep(&mut self, output: u8) {
        match self.state(output) {
            State::Off | State::Warning => {}
            State::On | State::Setback
                if self.out(output).occupied && !self.flawed(Flaw::SweepIgnoresOccupied) =>
            {
                self.out(output).sweep_due = true;
                self.say(output, Note::PassedOver);
            }
            State::On | State::Setback => self.sweep_now(output),
        }
    }

    /// The sweep turns a vacant output off, after its warning.
    pub(super) fn sweep_now(&mut self, output: u8) {
        let warning = self
            .sweep_role(output)
            .map_or(Span::ZERO, |(warning, _)| warning);
        if warning.is_zero() || !self.spec(output).drive.lights() {
            return self.turn_off(output, Off::Sweep);
        }
        let warning = match self.spec(output).warning {
            Some(Warning::Blink { .. }) => Warning::Blink { span: warning },
            Some(Warning::Dim { level, .. }) => Warning::Dim {
                span: warning,
                level,
            },
            None => Warning::Dim {
                span: warning,
                level: Level::from_percent(50),
            },
        };
        self.warn(output, warning, true);
    }

    /// CLK-2: a press from the warning on gives an override, counted from the last press.
    pub(super) fn start_override(&mut self, output: u8) {
        if !self.out(output).swept {
            return;
        }
        self.out(output).sweep_due = false;
        if let Some((_, longest)) = self.sweep_role(output)
            && !longest.is_zero()
            && !self.flawed(Flaw::EndlessOverride)
        {
            self.start(output, OutputTimer::Override, longest);
            self.say(output, Note::Override(longest));
        }
    }

    /// The override has ended: the sweep comes again, with its warning.
    pub(super) fn override_ended(&mut self, output: u8) {
        self.stop_press_hold(output);
        self.weigh_occupancy(output);
        self.sweep(output);
    }

    fn end_sweep(&mut self, output: u8) {
        let out = self.out(output);
        out.swept = false;
        out.sweep_due = false;
        self.stop(output, OutputTimer::Override);
    }

    fn sweep_role(&self, output: u8) -> Option<(Span, Span)> {
        self.links_of(output).find_map(|(link, _)| match link.role {
            Role::Sweep {
                warning,
                longest_override,
            } => Some((warning, longest_override)),
            _ => None,
        })
    }

    /// CLK-3: whether a clock forbids auto-on now.
    pub(super) fn is_after_hours(&self, output: u8) -> bool {
        self.links_of(output).any(|(link, _)| {
            link.role == Role::NoAutoOn && self.said(link.heard) == Said::AfterHours
        })
    }

    /// OUT-8, CLK-3: how long from setback to off; after hours the clock's own span.
    pub(super) fn off_after(&self, output: u8) -> Option<Span> {
        let after_hours = self.links_of(output).find_map(|(link, _)| match link.role {
            Role::OffAfterHours(span) if self.said(link.heard) == Said::AfterHours => Some(span),
            _ => None,
        });
        after_hours.or(self.spec(output).off_after)
    }
}
