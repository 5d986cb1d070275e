//! The time clock at its outputs (CLK-2, CLK-3).

use super::chain::Move;
use super::settings::{Role, Warning};
use super::state::{Off, Said};
use super::work::Work;
use super::{OutputTimer, Outside, State};
use crate::{Fault, Flaw, Ignored, Level, Note, Span};

impl<F: Outside> Work<'_, F> {
    /// Opening hours: sweeps are over, and what opens turns on. The clock repeats its state, so
    /// only the first report after hours does it.
    pub(super) fn hear_in_hours(&mut self, heard: u8) {
        let was = self.said(heard);
        self.believe(heard, Said::InHours);
        self.end_time_lost(was);
        if was != Said::AfterHours {
            return;
        }
        self.end_after_hours(heard);
        self.for_links_from(heard, |work, link| {
            if let (output, Role::Opening(level)) = work.end_of(link) {
                work.open(output, level);
            }
        });
    }

    /// CLK-4: the clock has lost the time, or is lost itself: it counts as in hours and runs
    /// nothing.
    pub(super) fn hear_time_lost(&mut self, heard: u8) {
        let was = self.said(heard);
        if was != Said::TimeLost {
            self.fx.note(Note::Fault(Fault::TimeLost));
        }
        self.lose_time(heard, Said::TimeLost);
    }

    pub(super) fn lose_time(&mut self, heard: u8, said: Said) {
        let was = self.said(heard);
        self.believe(heard, said);
        if was == Said::AfterHours {
            self.end_after_hours(heard);
        }
    }

    fn end_time_lost(&mut self, was: Said) {
        if was == Said::TimeLost {
            self.fx.note(Note::FaultEnded(Fault::TimeLost));
        }
    }

    /// The roles of after hours end: no sweep is in force, `off-after` is the output's own.
    fn end_after_hours(&mut self, heard: u8) {
        self.for_links_from(heard, |work, link| match work.end_of(link) {
            (output, Role::Sweep { .. }) => work.end_sweep(output),
            (output, Role::OffAfterHours(_)) => work.count_off_after(output),
            _ => {}
        });
    }

    /// CLK-3: what is set back and vacant counts towards off by the span of the hour.
    fn count_off_after(&mut self, output: u8) {
        if self.state(output) == State::Setback && !self.out(output).occupied {
            self.stop(output, OutputTimer::OffAfter);
            self.start_off_after(output);
        }
    }

    /// CLK-3: on at opening; a warning that runs is called off.
    fn open(&mut self, output: u8, level: Level) {
        let stood = self.stood(output);
        let refusal = if self.out(output).latch {
            Some(Ignored::Latch)
        } else if matches!(stood, State::On | State::Setback) {
            Some(Ignored::NoChange)
        } else if self.is_captive(output) {
            Some(Ignored::Captive)
        } else {
            None
        };
        match refusal {
            Some(why) => self.say(output, Note::Ignored(why)),
            None if stood == State::Warning => self.restore_by_opening(output),
            None => self.turn_on(output, level, Move::Fade),
        }
    }

    /// CLK-3: whoever opens a room that warns of its off wants it lit. The sweep is over, so
    /// none is due for what its warning would have darkened.
    fn restore_by_opening(&mut self, output: u8) {
        self.restore(output);
        self.out(output).sweep_due = false;
        self.restore_relay(output);
    }

    /// After hours: what is set back and vacant now counts towards off.
    pub(super) fn hear_after_hours(&mut self, heard: u8) {
        let was = self.said(heard);
        self.believe(heard, Said::AfterHours);
        self.end_time_lost(was);
        if was == Said::AfterHours {
            return;
        }
        self.for_links_from(heard, |work, link| {
            if let (output, Role::OffAfterHours(_)) = work.end_of(link) {
                work.count_off_after(output);
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

    pub(super) fn sweep(&mut self, output: u8) {
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

    /// The sweep turns a vacant output off, after its warning on the lighting of the relay.
    pub(super) fn sweep_now(&mut self, output: u8) {
        let warning = self.sweep_role(output).map_or(Span::ZERO, |(span, _)| span);
        if warning.is_zero() || !self.spec(output).drive.lights() {
            return self.turn_off(output, Off::Sweep);
        }
        self.for_relay(output, |work, other| {
            if work.state(other) != State::Off {
                let warning = work.sweep_warning(other, warning);
                work.warn(other, warning, true);
            }
        });
    }

    /// A sweep warns as the output warns by itself, for a span of its own.
    fn sweep_warning(&self, output: u8, span: Span) -> Warning {
        match self.spec(output).warning {
            Some(Warning::Blink { .. }) => Warning::Blink { span },
            Some(Warning::Dim { level, .. }) => Warning::Dim { span, level },
            None => Warning::Dim {
                span,
                level: Level::from_percent(50),
            },
        }
    }

    /// CLK-2: a press from the warning on gives an override, counted from the last press.
    pub(super) fn start_override(&mut self, output: u8) {
        let longest = self.sweep_role(output).map_or(Span::ZERO, |(_, span)| span);
        let lit = self.state(output) != State::Off;
        if !self.out(output).swept || !lit || longest.is_zero() {
            return;
        }
        self.out(output).sweep_due = false;
        if !self.flawed(Flaw::EndlessOverride) {
            self.start(output, OutputTimer::Override, longest);
            self.say(output, Note::Override(longest));
        }
    }

    /// The override has ended: the sweep comes again, with its warning. A press hold as long as
    /// the override ends with it.
    pub(super) fn override_ended(&mut self, output: u8) {
        self.out(output).sweep_due = true;
        self.stop_press_hold(output);
        self.weigh_occupancy(output);
        if core::mem::take(&mut self.out(output).sweep_due) {
            self.sweep(output);
        }
    }

    pub(super) fn end_sweep(&mut self, output: u8) {
        let out = self.out(output);
        out.swept = false;
        out.sweep_due = false;
        self.stop(output, OutputTimer::Override);
    }

    pub(super) fn sweep_role(&self, output: u8) -> Option<(Span, Span)> {
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
