//! On, off, vacant, warning, setback: the rows of OUT that are about state.

use super::chain::Move;
use super::settings::{Role, Warning};
use super::state::{Dark, Grace};
use super::work::Work;
use super::{OutputTimer, Outside, State};
use crate::{Fault, Flaw, Ignored, Level, Note, Span};

/// Who turns an output off.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum Off {
    /// A hand (OUT-18).
    Hand,
    /// Vacancy: a re-entry grace follows (OUT-19).
    Vacancy,
    /// The card: latch and hand level are forgotten (CARD-4).
    Card,
    /// The schedule: no grace (OUT-19).
    Sweep,
}

impl<F: Outside> Work<'_, F> {
    /// Turns an output on at `asked`, and with it the others of its relay at their own.
    pub(super) fn turn_on(&mut self, output: u8, asked: Level, how: Move) {
        self.turn_one_on(output, Some(asked), how);
        for other in 0..self.output_count() {
            if other != output && self.share_relay(output, other) {
                self.turn_one_on(other, None, how);
            }
        }
    }

    fn turn_one_on(&mut self, output: u8, asked: Option<Level>, how: Move) {
        if self.state(output) != State::Off || self.waits(output, true) {
            if let Some(asked) = asked {
                self.change(output, how, |out| out.asked = asked);
            }
            return;
        }
        if self.out(output).grace != Grace::None {
            self.stop(output, OutputTimer::Grace);
            self.out(output).grace = Grace::None;
        }
        self.change(output, how, |out| {
            out.state = State::On;
            out.asked = asked.unwrap_or(out.asked);
        });
        let asked = self.out(output).asked;
        self.say(output, Note::TurnedOn(asked));
        self.hold_still(output, self.spec(output).minimum_on);
        self.count_dark(output);
    }

    /// Turns an output off, and with it all of its relay (OUT-2).
    pub(super) fn turn_off(&mut self, output: u8, why: Off) {
        for other in 0..self.output_count() {
            if self.share_relay(output, other) {
                self.turn_one_off(other, why);
            }
        }
        self.settle_dark(output);
    }

    fn turn_one_off(&mut self, output: u8, why: Off) {
        if self.state(output) == State::Off {
            self.forget_for_card(output, why);
            return;
        }
        if self.waits(output, false) {
            return;
        }
        let was_warning = self.state(output) == State::Warning;
        self.end_ramp(output);
        self.end_warning(output);
        self.stop_press_hold(output);
        self.stop(output, OutputTimer::OffAfter);
        self.stop_dark(output);
        let latch = why == Off::Hand
            && (was_warning || self.links_occupied(output))
            && !self.flawed(Flaw::HandOffForgotten)
            && !self.flawed(Flaw::GraceAfterHandOff);
        self.change(output, Move::Fade, |out| {
            out.state = State::Off;
            out.by_hand = false;
            out.latch = latch;
            out.sweep_due = false;
        });
        self.say(output, Note::TurnedOff);
        if latch {
            self.say(output, Note::Latched);
        }
        self.forget_for_card(output, why);
        self.hold_still(output, self.spec(output).minimum_off);
        let grace = self.spec(output).grace;
        let graceful = why == Off::Vacancy || self.flawed(Flaw::GraceAfterHandOff);
        if graceful && self.spec(output).drive.lights() && !grace.is_zero() {
            self.out(output).grace = Grace::ReEntry;
            self.start(output, OutputTimer::Grace, grace);
        } else if !self.out(output).occupied {
            self.forget_marks_in_time(output);
        }
        self.weigh_occupancy(output);
    }

    /// CARD-4: latches and hand levels are forgotten, so the next card is a welcome.
    fn forget_for_card(&mut self, output: u8, why: Off) {
        if why == Off::Card {
            let out = self.out(output);
            out.hand = None;
            out.latch = false;
            out.by_hand = false;
        }
    }

    /// OUT-20: off and vacant, the marks are forgotten after the length of the grace.
    fn forget_marks_in_time(&mut self, output: u8) {
        let grace = self.spec(output).grace;
        let out = self.out(output);
        if !(out.latch || out.by_hand) || out.grace != Grace::None {
            return;
        }
        if grace.is_zero() {
            self.forget_marks(output);
        } else {
            out.grace = Grace::Clearing;
            self.start(output, OutputTimer::Grace, grace);
        }
    }

    fn forget_marks(&mut self, output: u8) {
        if self.flawed(Flaw::LatchNeverCleared) {
            return;
        }
        let out = self.out(output);
        let marked = out.latch || out.by_hand;
        out.latch = false;
        out.by_hand = false;
        if marked {
            self.say(output, Note::Unlatched);
        }
    }

    /// The grace timer has elapsed.
    pub(super) fn grace_ended(&mut self, output: u8) {
        self.out(output).grace = Grace::None;
        let out = self.out(output);
        if out.state == State::Off && !out.occupied {
            self.forget_marks(output);
        }
    }

    /// OUT-3: weighs links, press hold and pending presses, and acts where the answer changed.
    pub(super) fn weigh_occupancy(&mut self, output: u8) {
        let out = self.out(output);
        let (was, held) = (out.occupied, out.press_hold || out.owner.is_some());
        if held || self.links_occupied(output) {
            if !was {
                self.become_occupied(output);
            }
        } else if was && !self.links_unknown(output) {
            self.become_vacant(output);
        } else if was {
            self.say(output, Note::Ignored(Ignored::StillUnknown));
        }
    }

    fn become_occupied(&mut self, output: u8) {
        self.out(output).occupied = true;
        self.say(output, Note::OutputOccupied);
        self.stop(output, OutputTimer::OffAfter);
        if self.out(output).grace == Grace::Clearing {
            self.out(output).grace = Grace::None;
            self.stop(output, OutputTimer::Grace);
        }
    }

    /// OUT-8: the output has become vacant.
    pub(super) fn become_vacant(&mut self, output: u8) {
        self.out(output).occupied = false;
        self.say(output, Note::OutputVacant);
        match self.state(output) {
            State::Off => {
                if self.out(output).wish == Some(true) {
                    self.out(output).wish = None;
                }
                self.forget_marks_in_time(output);
            }
            State::Warning => {}
            State::On | State::Setback => {
                self.out(output).by_hand = false;
                if self.out(output).sweep_due {
                    self.out(output).sweep_due = false;
                    self.sweep_now(output);
                } else if self.has_link_without_setback(output) {
                    self.off_by_itself(output);
                } else {
                    self.set_back(output);
                    self.start_off_after(output);
                }
            }
        }
    }

    /// OUT-8: from setback to off, where a span is given.
    pub(super) fn start_off_after(&mut self, output: u8) {
        let (lit, after) = (self.state(output) != State::Off, self.off_after(output));
        if let (true, Some(after)) = (lit, after) {
            self.start(output, OutputTimer::OffAfter, after);
        }
    }

    /// OUT-7: down to the setback, never up and never from off.
    pub(super) fn set_back(&mut self, output: u8) {
        let level = (self.links_of(output))
            .filter_map(|(link, _)| link.setback)
            .max();
        let lights_up = self.flawed(Flaw::SetbackLightsDark) && self.state(output) == State::Off;
        let (Some(level), true) = (level, lights_up || self.state(output) == State::On) else {
            return;
        };
        self.end_ramp(output);
        self.change(output, Move::Fade, |out| {
            out.state = State::Setback;
            out.setback = level;
        });
        self.say(output, Note::SetBack(level));
    }

    /// OUT-10: an automatic off is due; lighting warns first where it is set to.
    pub(super) fn off_by_itself(&mut self, output: u8) {
        match self.spec(output).warning {
            Some(warning) if self.spec(output).drive.lights() => self.warn(output, warning, false),
            _ => self.turn_off(output, Off::Vacancy),
        }
    }

    /// Warns; the end of the warning turns off.
    pub(super) fn warn(&mut self, output: u8, warning: Warning, of_sweep: bool) {
        if self.state(output) == State::Warning {
            return;
        }
        self.end_ramp(output);
        self.stop(output, OutputTimer::OffAfter);
        let present = self.target(output);
        let (span, level, blink) = match warning {
            Warning::Dim { span, level } => (span, present.min(level), false),
            Warning::Blink { span } => (span, present, !present.is_off()),
        };
        let how = if blink { Move::Jump } else { Move::Fade };
        self.change(output, how, |out| {
            out.state = State::Warning;
            out.warning = level;
            out.warning_of_sweep = of_sweep;
            out.blink = blink;
        });
        self.start(output, OutputTimer::Warning, span);
        if blink {
            self.start(output, OutputTimer::Blink, BLINK.min_of(span));
        }
        self.say(output, Note::Warning(span));
    }

    pub(super) fn blinked(&mut self, output: u8) {
        self.change(output, Move::Jump, |out| out.blink = false);
    }

    /// The warning has ended.
    ///
    /// A press that is pending at that moment decides instead (SW-12): within the threshold it
    /// restores the level or turns off by hand.
    pub(super) fn warned(&mut self, output: u8) {
        if self.out(output).owner.is_some() {
            return;
        }
        let why = if self.out(output).warning_of_sweep {
            Off::Sweep
        } else {
            Off::Vacancy
        };
        self.turn_off(output, why);
    }

    fn end_warning(&mut self, output: u8) {
        if self.state(output) == State::Warning {
            self.stop(output, OutputTimer::Warning);
            if self.out(output).blink {
                self.stop(output, OutputTimer::Blink);
            }
        }
        let out = self.out(output);
        out.blink = false;
        out.warning_of_sweep = false;
    }

    /// OUT-9: on again at the level it had.
    pub(super) fn restore(&mut self, output: u8) {
        let of_sweep = self.out(output).warning_of_sweep;
        self.stop(output, OutputTimer::OffAfter);
        if self.state(output) == State::Warning {
            self.stop(output, OutputTimer::Warning);
            self.stop(output, OutputTimer::Blink);
        }
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

    /// OUT-4, -5, -6, -9, -19: a link of this output has become occupied.
    pub(super) fn arrive(&mut self, output: u8, role: &Role, bright: bool) {
        if self.out(output).wish == Some(false) {
            self.out(output).wish = None;
        }
        if self.is_captive(output) {
            return self.say(output, Note::Ignored(Ignored::Captive));
        }
        let bright = bright && self.spec(output).drive.lights();
        let preset = match role {
            Role::AutoOn(level) | Role::PartialOn(level) => Some(*level),
            _ => None,
        };
        match self.state(output) {
            State::Setback | State::Warning => self.restore(output),
            State::On => match preset {
                Some(level) if self.flawed(Flaw::PresetBeatsHand) => {
                    self.change(output, Move::Fade, |out| out.asked = level);
                }
                Some(_) if self.out(output).by_hand => {
                    self.say(output, Note::Ignored(Ignored::ByHand));
                }
                Some(_) if bright => self.say(output, Note::Ignored(Ignored::Bright)),
                Some(level) if level > self.out(output).asked => {
                    self.change(output, Move::Fade, |out| out.asked = level);
                    self.say(output, Note::Asked(level));
                }
                Some(_) => self.say(output, Note::Ignored(Ignored::NotHigher)),
                None => {}
            },
            State::Off => self.arrive_in_the_dark(output, preset, bright),
        }
    }

    fn arrive_in_the_dark(&mut self, output: u8, preset: Option<Level>, bright: bool) {
        let refusal = if self.out(output).latch {
            Some(Ignored::Latch)
        } else if bright {
            Some(Ignored::Bright)
        } else if self.out(output).grace == Grace::ReEntry {
            let asked = self.out(output).asked;
            return self.turn_on(output, asked, Move::Fade);
        } else if preset.is_none() {
            Some(Ignored::ManualOn)
        } else if self.is_after_hours(output) {
            Some(Ignored::AfterHours)
        } else {
            None
        };
        match (refusal, preset) {
            (Some(why), _) => self.say(output, Note::Ignored(why)),
            (None, Some(level)) => self.turn_on(output, level, Move::Fade),
            (None, None) => unreachable!("without a preset the link is manual-on"),
        }
    }

    pub(super) fn stop_press_hold(&mut self, output: u8) {
        if self.out(output).press_hold {
            self.out(output).press_hold = false;
            self.stop(output, OutputTimer::PressHold);
        }
    }

    /// OUT-16: whether a change has to wait for the minimum on- or off-time.
    fn waits(&mut self, output: u8, on: bool) -> bool {
        if !self.out(output).minimum || self.flawed(Flaw::NoMinimumTimes) {
            return false;
        }
        let is_on = self.state(output) != State::Off;
        self.out(output).wish = (is_on != on).then_some(on);
        if is_on != on {
            self.say(output, Note::Waits(on));
        }
        true
    }

    fn hold_still(&mut self, output: u8, span: Span) {
        if !span.is_zero() {
            self.out(output).minimum = true;
            self.start(output, OutputTimer::Minimum, span);
        }
    }

    /// The minimum on- or off-time has ended: the last wish acts.
    pub(super) fn free_to_move(&mut self, output: u8) {
        self.out(output).minimum = false;
        match self.out(output).wish.take() {
            Some(true) => {
                let asked = self.out(output).asked;
                self.turn_on(output, asked, Move::Fade);
            }
            Some(false) => self.turn_off(output, Off::Vacancy),
            None => {}
        }
    }

    /// OUT-23: after a command, a relay that does not follow is found within one poll.
    pub(super) fn watch_relay(&mut self, output: u8) {
        let Some(poll) = self.spec(output).feedback else {
            return;
        };
        let out = self.out(output);
        let follows = out.stuck.is_none_or(|stuck| stuck == out.closed);
        if follows {
            if core::mem::take(&mut out.reported) {
                self.say(output, Note::FaultEnded(Fault::StuckRelay));
            }
            self.stop(output, OutputTimer::Poll);
        } else if !out.reported {
            self.start(output, OutputTimer::Poll, poll);
        }
    }

    /// The feedback poll has found a relay that does not follow.
    pub(super) fn polled(&mut self, output: u8) {
        self.out(output).reported = true;
        self.say(output, Note::Fault(Fault::StuckRelay));
    }

    /// Whether the output shows nothing because daylight suffices.
    pub(super) fn is_dark_by_daylight(&self, output: u8) -> bool {
        self.it.outputs[usize::from(output)].dark == Dark::Yes
    }
}

/// The dark part of a blink warning (common practice).
const BLINK: Span = Span::from_ms(500);

impl Span {
    const fn min_of(self, other: Self) -> Self {
        if self.as_ms() < other.as_ms() {
            self
        } else {
            other
        }
    }
}
