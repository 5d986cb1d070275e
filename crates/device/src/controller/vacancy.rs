//! Occupied, vacant, set back, warning: OUT-3, -7, -8, -9, -10.
//!
//! Invariant: the outputs of one relay are occupied and vacant as one. A relay cannot go dark
//! for one of its outputs alone (OUT-2), so nobody under it is left in the dark by a neighbour.

use super::chain::Move;
use super::links::is_occupancy;
use super::settings::{Role, Warning};
use super::state::{Grace, Off, Wish};
use super::work::Work;
use super::{OutputTimer, Outside, State, Timer};
use crate::{Flaw, Ignored, Level, Note, Span};

impl<F: Outside> Work<'_, F> {
    /// OUT-3: weighs links, press hold and pending presses, and acts where the answer changed.
    pub(super) fn weigh_occupancy(&mut self, output: u8) {
        let was = self.out(output).occupied;
        if self.is_held(output) {
            if !was {
                self.for_relay(output, Self::become_occupied);
            }
        } else if was && !self.links_unknown(output) {
            self.become_vacant(output);
        } else if was {
            self.say(output, Note::Ignored(Ignored::StillUnknown));
        }
    }

    /// Whether a link, a press hold or a pending press holds the output or one of its relay.
    pub(super) fn is_held(&self, output: u8) -> bool {
        let pressed = self.any_of_relay(output, |other| {
            let out = &self.it.outputs[usize::from(other)];
            out.press_hold || out.owner.is_some()
        });
        pressed || self.links_occupied(output)
    }

    /// Whether somebody is there for all that is known: a link is occupied or *unknown*.
    pub(super) fn counts_as_occupied(&self, output: u8) -> bool {
        self.links_occupied(output) || self.links_unknown(output)
    }

    fn become_occupied(&mut self, output: u8) {
        self.out(output).occupied = true;
        self.say(output, Note::OutputOccupied);
        self.stop(output, OutputTimer::OffAfter);
        // Somebody is there before the latch was forgotten: it stays.
        if self.out(output).grace == Grace::Clearing {
            self.stop_grace(output);
        }
    }

    /// The output, and with it its relay, has become vacant.
    pub(super) fn become_vacant(&mut self, output: u8) {
        self.for_relay(output, Self::be_vacant);
        self.for_relay(output, Self::act_on_vacancy);
    }

    /// Vacant from now, and nothing acts on it yet.
    pub(super) fn be_vacant(&mut self, output: u8) {
        self.out(output).occupied = false;
        self.say(output, Note::OutputVacant);
    }

    /// OUT-8: what vacancy does.
    fn act_on_vacancy(&mut self, output: u8) {
        match self.state(output) {
            State::Off => {
                if self.out(output).wish == Some(Wish::On) {
                    self.out(output).wish = None;
                }
                self.forget_marks_in_time(output);
            }
            State::Warning => {}
            State::On | State::Setback => {
                self.out(output).by_hand = false;
                if core::mem::take(&mut self.out(output).sweep_due) {
                    self.sweep_now(output);
                } else if self.goes_off_when_vacant(output) {
                    self.off_by_itself(output);
                } else {
                    self.set_back(output);
                    self.start_off_after(output);
                }
            }
        }
    }

    /// OUT-8: at once off by a link without setback, and where nothing but a press can ever
    /// hold the output. What a clock turns on or off waits for the clock.
    fn goes_off_when_vacant(&self, output: u8) -> bool {
        let (mut holder, mut clock) = (false, false);
        for other in self.relay_of(output) {
            for (link, _) in self.links_of(other) {
                if self.can_hold(link) {
                    holder = true;
                    if link.setback.is_none() {
                        return true;
                    }
                }
                clock |= matches!(link.role, Role::Sweep { .. } | Role::Opening(_));
            }
        }
        !holder && !clock
    }

    /// OUT-7: sets back when no link with a setback is occupied, unless a press is in force:
    /// then its end sets back, or a person who has just asked for light would lose it.
    pub(super) fn weigh_setback(&mut self, output: u8) {
        let out = self.out(output);
        if out.press_hold || out.owner.is_some() {
            return;
        }
        let vacant = (self.links_of(output))
            .filter(|(link, _)| link.setback.is_some())
            .all(|(link, state)| !state.occupied && !self.is_unknown(link));
        if vacant {
            self.set_back(output);
        }
    }

    /// Down to the setback; never up and never from off.
    fn set_back(&mut self, output: u8) {
        let level = (self.links_of(output))
            .filter_map(|(link, _)| link.setback)
            .max();
        let lights_up = self.flawed(Flaw::SetbackLightsDark) && self.state(output) == State::Off;
        let (Some(level), true) = (level, lights_up || self.state(output) == State::On) else {
            return;
        };
        self.change(output, Move::Fade, |out| {
            out.state = State::Setback;
            out.setback = level;
        });
        self.say(output, Note::SetBack(level));
    }

    /// OUT-8: from setback to off, where a span is given.
    pub(super) fn start_off_after(&mut self, output: u8) {
        if let Some(after) = self.off_after(output) {
            self.start(output, OutputTimer::OffAfter, after);
        }
    }

    /// OUT-10: an automatic off is due; the lighting of the relay warns first where it is set to.
    pub(super) fn off_by_itself(&mut self, output: u8) {
        let mut warns = false;
        self.for_relay(output, |work, other| {
            let spec = work.spec(other);
            let lit = spec.drive.lights() && work.state(other) != State::Off;
            if let (Some(warning), true) = (spec.warning, lit) {
                warns = true;
                work.warn(other, warning, false);
            }
        });
        if !warns {
            self.turn_off(output, Off::Vacancy);
        }
    }

    /// Warns; the end of the warning turns off. A drive that cannot dim blinks: a level between
    /// would not show on it.
    pub(super) fn warn(&mut self, output: u8, warning: Warning, of_sweep: bool) {
        if self.state(output) == State::Warning {
            return;
        }
        self.stop(output, OutputTimer::OffAfter);
        // Emergency light is no level to fall back to when it ends (OUT-13).
        let present = (self.it).normal_target_now(self.settings, output, self.fx);
        let (span, level, blinks) = match warning {
            Warning::Dim { span, level } if self.spec(output).drive.dims() => {
                (span, present.min(level), false)
            }
            Warning::Dim { span, .. } | Warning::Blink { span } => (span, present, true),
        };
        let blink = blinks && !present.is_off();
        let how = if blink { Move::Jump } else { Move::Fade };
        self.change(output, how, |out| {
            out.state = State::Warning;
            out.warning = level;
            out.warning_of_sweep = of_sweep;
            out.blink = blink;
        });
        self.start(output, OutputTimer::Warning, span);
        if blink {
            self.start(output, OutputTimer::Blink, span.min(BLINK));
        }
        self.say(output, Note::Warning(span));
    }

    /// The dark part of a blink is over.
    pub(super) fn blinked(&mut self, output: u8) {
        self.change(output, Move::Jump, |out| out.blink = false);
    }

    /// The warning has ended.
    ///
    /// A press that is pending at that moment decides instead (SW-12): within the threshold it
    /// restores the level or turns off by hand.
    pub(super) fn warned(&mut self, output: u8) {
        let pending = |other| self.it.outputs[usize::from(other)].owner.is_some();
        if self.any_of_relay(output, pending) {
            return;
        }
        let why = if self.out(output).warning_of_sweep {
            Off::Sweep
        } else {
            Off::Vacancy
        };
        self.turn_off(output, why);
    }

    /// A press that was to decide over the end of a warning has decided nothing: the end acts.
    pub(super) fn finish_warning(&mut self, output: u8) {
        let over = |other: &u8| {
            let warning = Timer::Output(*other, OutputTimer::Warning);
            self.state(*other) == State::Warning && self.fx.remaining(warning).is_none()
        };
        let over = self.relay_of(output).find(over);
        if let Some(over) = over {
            self.warned(over);
        }
    }

    /// OUT-9: on again at the level it had.
    pub(super) fn restore(&mut self, output: u8) {
        if self.state(output) == State::On {
            // It was restored with another one of its relay.
            return;
        }
        let of_sweep = self.out(output).warning_of_sweep;
        self.stop(output, OutputTimer::Warning);
        self.stop(output, OutputTimer::Blink);
        self.change(output, Move::Fade, |out| {
            out.state = State::On;
            out.blink = false;
            out.warning_of_sweep = false;
            out.sweep_due |= of_sweep;
        });
        if self.flawed(Flaw::RestoreForgetsLevel) {
            self.change(output, Move::Fade, |out| out.asked = Level::FULL);
        }
        let asked = self.out(output).asked;
        self.say(output, Note::Restored(asked));
    }

    /// Somebody wants the relay of this output lit: the others of it warn no longer.
    pub(super) fn restore_relay(&mut self, output: u8) {
        self.for_others_of_relay(output, |work, other| {
            if work.state(other) == State::Warning {
                work.companions.push((other, State::Warning));
                work.restore(other);
            }
        });
    }

    /// Whether any stored link of the output follows an occupancy sensor.
    pub(super) fn has_sensor(&self, output: u8) -> bool {
        self.links_of(output)
            .any(|(link, _)| is_occupancy(&link.role))
    }
}

/// The dark part of a blink warning (common practice).
const BLINK: Span = Span::from_ms(500);
