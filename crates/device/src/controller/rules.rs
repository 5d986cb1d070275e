//! On, off, and the marks that an off leaves: OUT-2, -4, -5, -6, -18, -19, -20.

use super::chain::Move;
use super::settings::Role;
use super::state::{Dark, Grace, Off, Wish};
use super::work::Work;
use super::{OutputTimer, Outside, State};
use crate::{Flaw, Ignored, Level, Note, Span};

impl<F: Outside> Work<'_, F> {
    /// Turns an output on at `asked`, and with it the others of its relay at their own.
    pub(super) fn turn_on(&mut self, output: u8, asked: Level, how: Move) {
        self.turn_one_on(output, Some(asked), how);
        self.for_others_of_relay(output, |work, other| {
            if work.state(other) == State::Off {
                work.companions.push((other, State::Off));
            }
            work.turn_one_on(other, None, how);
        });
    }

    fn turn_one_on(&mut self, output: u8, asked: Option<Level>, how: Move) {
        let lit = self.state(output) != State::Off;
        if lit || self.waits(output, Wish::On) {
            if lit {
                self.out(output).wish = None;
            }
            if let Some(asked) = asked {
                self.change(output, how, |out| out.asked = asked);
            }
            return;
        }
        self.stop_grace(output);
        self.change(output, how, |out| {
            out.state = State::On;
            out.asked = asked.unwrap_or(out.asked);
            out.by_hand = false;
            out.latch = false;
        });
        let asked = self.out(output).asked;
        self.say(output, Note::TurnedOn(asked));
        self.hold_still(output, self.spec(output).minimum_on);
        self.count_dark(output);
    }

    /// Turns an output off, and with it all of its relay (OUT-2).
    pub(super) fn turn_off(&mut self, output: u8, why: Off) {
        self.for_relay(output, |work, other| work.turn_one_off(other, why));
    }

    fn turn_one_off(&mut self, output: u8, why: Off) {
        if why == Off::Card {
            self.forget_for_card(output);
        }
        if self.state(output) == State::Off {
            self.out(output).wish = None;
            return;
        }
        if self.waits(output, Wish::Off(why)) {
            return;
        }
        let was_warning = self.state(output) == State::Warning;
        let latch = why == Off::Hand && (was_warning || self.counts_as_occupied(output));
        let latch =
            latch && !self.flawed(Flaw::HandOffForgotten) && !self.flawed(Flaw::GraceAfterHandOff);
        self.end_ramp(output);
        self.stop_press_hold(output);
        for timer in LIT_ONLY {
            self.stop(output, timer);
        }
        self.change(output, Move::Fade, |out| {
            out.state = State::Off;
            out.by_hand = false;
            out.latch = latch;
            out.sweep_due = false;
            out.warning_of_sweep = false;
            out.blink = false;
            out.dark = Dark::No;
        });
        self.say(output, Note::TurnedOff);
        if latch {
            self.say(output, Note::Latched);
        }
        self.hold_still(output, self.spec(output).minimum_off);
        self.start_grace(output, why);
        self.weigh_occupancy(output);
    }

    /// CARD-4: latches and hand levels are forgotten, so the next card is a welcome; an off by
    /// card gives no grace, nor leaves one (OUT-19).
    fn forget_for_card(&mut self, output: u8) {
        self.stop_grace(output);
        let out = self.out(output);
        out.hand = None;
        out.latch = false;
        out.by_hand = false;
    }

    /// OUT-19 after an automatic off; after an off by hand in a warning, the latch stays for L.
    ///
    /// In the warning nobody is seen, so the output is as vacant as before; were the latch
    /// forgotten with the grace, the person who switched off would be lit on getting up.
    fn start_grace(&mut self, output: u8, why: Off) {
        let grace = self.grace_of(output);
        let graceful = why == Off::Vacancy || self.flawed(Flaw::GraceAfterHandOff);
        let unseen = self.out(output).latch && !self.counts_as_occupied(output);
        let (kind, span) = if graceful {
            (Grace::ReEntry, grace)
        } else if unseen {
            let hold = self.spec(output).press_hold;
            (Grace::Clearing, hold.max(grace))
        } else {
            return;
        };
        if !span.is_zero() {
            self.out(output).grace = kind;
            self.start(output, OutputTimer::Grace, span);
        }
    }

    /// OUT-20: off and vacant, the marks are forgotten after the length of the grace.
    pub(super) fn forget_marks_in_time(&mut self, output: u8) {
        let grace = self.grace_of(output);
        let out = self.out(output);
        if !out.latch || out.grace != Grace::None {
            return;
        }
        if grace.is_zero() {
            self.forget_marks(output);
        } else {
            out.grace = Grace::Clearing;
            self.start(output, OutputTimer::Grace, grace);
        }
    }

    /// The grace timer has elapsed.
    pub(super) fn grace_ended(&mut self, output: u8) {
        let out = self.out(output);
        if core::mem::take(&mut out.grace) == Grace::Clearing {
            self.forget_marks(output);
        }
    }

    fn forget_marks(&mut self, output: u8) {
        if self.flawed(Flaw::LatchNeverCleared) {
            return;
        }
        self.out(output).latch = false;
        self.say(output, Note::Unlatched);
    }

    pub(super) fn stop_grace(&mut self, output: u8) {
        self.out(output).grace = Grace::None;
        self.stop(output, OutputTimer::Grace);
    }

    /// The re-entry grace; receptacles and contacts have none (RCP-4).
    fn grace_of(&self, output: u8) -> Span {
        let spec = self.spec(output);
        if spec.drive.lights() {
            spec.grace
        } else {
            Span::ZERO
        }
    }

    /// OUT-4, -5, -6, -9, -19: a link of this output has become occupied.
    pub(super) fn arrive(&mut self, output: u8, role: &Role, bright: bool) {
        if self.is_captive(output) {
            return self.say(output, Note::Ignored(Ignored::Captive));
        }
        if matches!(self.out(output).wish, Some(Wish::Off(why)) if why != Off::Hand) {
            self.out(output).wish = None;
        }
        let bright = bright && self.spec(output).drive.lights();
        let preset = match role {
            Role::AutoOn(level) | Role::PartialOn(level) => Some(*level),
            _ => None,
        };
        match self.stood(output) {
            State::Setback => {
                self.restore(output);
                // Where it was vacant, whoever comes now may never have asked for less light.
                let asked = self.out(output).asked;
                if let Some(level) = preset.filter(|level| *level > asked) {
                    self.raise(output, level, bright);
                }
            }
            State::Warning => self.restore(output),
            State::On => {
                if let Some(level) = preset {
                    self.raise(output, level, bright);
                }
            }
            State::Off => self.arrive_in_the_dark(output, preset, bright),
        }
        self.restore_relay(output);
    }

    /// OUT-5, -6: to the preset if it is higher, unless a level set by hand stands.
    fn raise(&mut self, output: u8, preset: Level, bright: bool) {
        if self.flawed(Flaw::PresetBeatsHand) {
            return self.change(output, Move::Fade, |out| out.asked = preset);
        }
        let refusal = if self.out(output).by_hand {
            Ignored::ByHand
        } else if bright {
            Ignored::Bright
        } else if preset <= self.out(output).asked {
            Ignored::NotHigher
        } else {
            self.change(output, Move::Fade, |out| out.asked = preset);
            return self.say(output, Note::Asked(preset));
        };
        self.say(output, Note::Ignored(refusal));
    }

    fn arrive_in_the_dark(&mut self, output: u8, preset: Option<Level>, bright: bool) {
        let refusal = if self.out(output).latch {
            Ignored::Latch
        } else if bright {
            Ignored::Bright
        } else if self.out(output).grace == Grace::ReEntry {
            let asked = self.out(output).asked;
            return self.turn_on(output, asked, Move::Fade);
        } else {
            match preset {
                None => Ignored::ManualOn,
                Some(_) if self.is_after_hours(output) => Ignored::AfterHours,
                Some(level) => return self.turn_on(output, level, Move::Fade),
            }
        };
        self.say(output, Note::Ignored(refusal));
    }

    pub(super) fn stop_press_hold(&mut self, output: u8) {
        if core::mem::take(&mut self.out(output).press_hold) {
            self.stop(output, OutputTimer::PressHold);
        }
    }
}

/// The timers that an off stops, beside those that have a mark of their own.
const LIT_ONLY: [OutputTimer; 5] = [
    OutputTimer::Blink,
    OutputTimer::Dark,
    OutputTimer::OffAfter,
    OutputTimer::Override,
    OutputTimer::Warning,
];
