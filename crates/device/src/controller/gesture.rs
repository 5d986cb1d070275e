//! Taps, holds and ramps, told apart at the controller (SW-0 to SW-13).

use alloc::vec::Vec;

use super::chain::Move;
use super::settings::Role;
use super::state::{Off, Stage, Way, Wish};
use super::work::Work;
use super::{OutputTimer, Outside, State, Timer, chain};
use crate::{Flaw, Ignored, Level, Note, switch};

impl<F: Outside> Work<'_, F> {
    /// A button went down: its press is pending on each of its outputs, and the last press owns.
    pub(super) fn press(&mut self, heard: u8, number: u8) {
        let Some(button) = self.button(heard, number) else {
            return self.fx.note(Note::Ignored(Ignored::NotTaught));
        };
        self.for_outputs_of(button, |work, output, _| {
            work.end_ramp(output);
            work.out(output).owner = Some(button);
            work.weigh_occupancy(output);
        });
        self.it.buttons[usize::from(button)].stage = Stage::Pending;
        let threshold = self.settings.hold_threshold;
        self.fx.start(Timer::Threshold(button), threshold);
    }

    /// A button came up: a tap, the end of a hold, or a lone *up*.
    pub(super) fn release(&mut self, heard: u8, number: u8) {
        let Some(button) = self.button(heard, number) else {
            return self.fx.note(Note::Ignored(Ignored::NotTaught));
        };
        let gesture = &mut self.it.buttons[usize::from(button)];
        match core::mem::take(&mut gesture.stage) {
            Stage::Idle if self.settings.flaw == Some(Flaw::LoneUpActs) => {
                self.press(heard, number);
                self.fx.stop(Timer::Threshold(button));
                self.it.buttons[usize::from(button)].stage = Stage::Idle;
                self.tap(button);
            }
            Stage::Idle => self.fx.note(Note::Ignored(Ignored::LoneUp)),
            Stage::Pending => {
                self.fx.stop(Timer::Threshold(button));
                self.tap(button);
            }
            Stage::Holding => self.for_owned(button, |work, output, _| work.end_press(output)),
        }
    }

    fn tap(&mut self, button: u8) {
        self.fx.note(Note::Tapped(button));
        match self.settings.buttons[usize::from(button)].kind {
            switch::Button::Up => self.for_owned(button, |work, output, _| work.tap_up(output)),
            switch::Button::Down => self.for_owned(button, |work, output, _| work.tap_down(output)),
            switch::Button::Scene => self.recall(button),
            switch::Button::Single => self.toggle(button),
        }
    }

    /// SW-1: any output of the button on → all off, else all on, decided once. One that warns or
    /// is set back asks to be kept, and the press does nothing else (OUT-9); one that is dark by
    /// daylight looks off (DAY-7).
    fn toggle(&mut self, button: u8) {
        let (mut on, mut kept) = (false, false);
        self.for_outputs_of(button, |work, output, _| {
            on |= work.state(output) == State::On && !work.is_dark_by_daylight(output);
            kept |= matches!(work.state(output), State::Setback | State::Warning);
        });
        self.for_owned(button, |work, output, _| match work.state(output) {
            State::Off if kept => work.forget_press(output),
            State::On if kept => work.end_press(output),
            _ if on && !kept => work.tap_down(output),
            _ => work.tap_up(output),
        });
    }

    /// SW-3: on at the level last set by hand; full when on.
    fn tap_up(&mut self, output: u8) {
        match self.stood(output) {
            State::Setback | State::Warning => self.restore_by_press(output),
            _ if self.is_captive(output) => return self.refuse_captive(output),
            State::Off => {
                let level = self.out(output).hand.unwrap_or(Level::FULL);
                self.turn_on(output, level, Move::Fade);
                self.out(output).by_hand = true;
            }
            State::On if self.stood_dark_by_daylight(output) => self.light_the_dark(output),
            State::On => self.set_by_hand(output, Level::FULL),
        }
        self.end_press(output);
    }

    /// SW-4: off by hand.
    fn tap_down(&mut self, output: u8) {
        if self.state(output) == State::Off {
            self.out(output).wish = None;
            self.say(output, Note::Ignored(Ignored::AlreadyOff));
            return self.forget_press(output);
        }
        if self.state(output) == State::Warning && self.flawed(Flaw::OffEatenByWarning) {
            self.restore_by_press(output);
            return self.end_press(output);
        }
        self.turn_off(output, Off::Hand);
        self.forget_press(output);
    }

    /// SW-8: each output that the scene names goes to its level. What it turns off goes first,
    /// so that on a shared relay the lit outputs have the last word.
    fn recall(&mut self, button: u8) {
        self.for_owned(button, |work, output, level| {
            if level.is_off() {
                work.tap_down(output);
            }
        });
        self.for_owned(button, |work, output, level| {
            if !level.is_off() {
                work.recall_level(output, level);
            }
        });
    }

    fn recall_level(&mut self, output: u8, level: Level) {
        match self.stood(output) {
            State::Setback | State::Warning => self.restore_by_press(output),
            _ if self.is_captive(output) && !self.flawed(Flaw::SceneIgnoresCaptive) => {
                return self.refuse_captive(output);
            }
            State::Off => {
                self.turn_on(output, level, Move::Fade);
                self.set_by_hand(output, level);
            }
            State::On => self.set_by_hand(output, level),
        }
        self.end_press(output);
    }

    /// CARD-5: without a card nothing turns on or stores a level. What is lit all the same may
    /// still be kept from going dark (OUT-9).
    fn refuse_captive(&mut self, output: u8) {
        self.say(output, Note::Ignored(Ignored::Captive));
        self.forget_press(output);
    }

    fn set_by_hand(&mut self, output: u8, level: Level) {
        if self.out(output).asked != level {
            self.change(output, Move::Fade, |out| out.asked = level);
            self.say(output, Note::Asked(level));
        }
        let out = self.out(output);
        out.hand = Some(level);
        out.by_hand = true;
    }

    /// OUT-9: the press restores the level and does nothing else; where daylight had made that
    /// dark, it brings the low trim as any press on a dark zone (DAY-7).
    fn restore_by_press(&mut self, output: u8) {
        self.restore(output);
        self.say(output, Note::Ignored(Ignored::OnlyRestored));
        if self.stood_dark_by_daylight(output) {
            self.light_the_dark(output);
        }
    }

    /// The threshold has passed with the button still down.
    pub(super) fn hold(&mut self, button: u8) {
        self.it.buttons[usize::from(button)].stage = Stage::Holding;
        self.fx.note(Note::Held(button));
        let mut owns = false;
        self.for_owned(button, |_, _, _| owns = true);
        if !owns {
            return self.fx.note(Note::Ignored(Ignored::OwnedByOther));
        }
        match self.settings.buttons[usize::from(button)].kind {
            switch::Button::Up => self.move_outputs(button, true),
            switch::Button::Down => self.move_outputs(button, false),
            switch::Button::Scene => self.recall(button),
            switch::Button::Single => {
                let up = self.single_goes_up(button);
                self.it.buttons[usize::from(button)].last_up = up;
                self.move_outputs(button, up);
            }
        }
    }

    /// SW-2: opposite to the last hold; from the trims and from off there is only one way. What
    /// is dark counts as at its low trim.
    fn single_goes_up(&mut self, button: u8) -> bool {
        let last_up = self.it.buttons[usize::from(button)].last_up;
        let (mut all_high, mut all_low) = (true, true);
        self.for_owned(button, |work, output, _| {
            if work.state(output) != State::Off && !work.is_dark_by_daylight(output) {
                let (asked, target) = (work.out(output).asked, work.target(output));
                let spec = work.spec(output);
                all_high &= asked >= spec.high_trim;
                all_low &= target <= spec.low_trim;
            }
        });
        all_low || (!all_high && !last_up)
    }

    /// SW-5, SW-9: those that are on move; if none is on, all come up.
    fn move_outputs(&mut self, button: u8, up: bool) {
        let mut any_on = false;
        self.for_owned(button, |work, output, _| {
            any_on |= work.state(output) != State::Off;
        });
        let starts = self.ramp_starts(button, up);
        self.for_owned(button, |work, output, _| {
            let group = work.spec(output).group;
            match work.stood(output) {
                State::Setback | State::Warning => {
                    work.restore_by_press(output);
                    work.end_press(output);
                }
                _ if work.is_captive(output) => work.refuse_captive(output),
                State::Off if up && !any_on => work.ramp_from_off(output),
                State::Off => work.leave_off(output),
                State::On => {
                    let together = starts.iter().find(|(of, _)| Some(*of) == group);
                    if let Some((_, start)) = together {
                        work.ramp(output, *start, up);
                    } else if work.is_dark_by_daylight(output) && !up {
                        work.leave_off(output);
                    } else {
                        let start = work.ramp_start(output, up);
                        work.ramp(output, start, up);
                    }
                }
            }
        });
    }

    fn leave_off(&mut self, output: u8) {
        self.say(output, Note::Ignored(Ignored::AlreadyOff));
        self.forget_press(output);
    }

    /// DAY-8: where the lit outputs of each group start from, the highest of them: lowering
    /// brings the highest down until they are level.
    fn ramp_starts(&mut self, button: u8, up: bool) -> Vec<(u8, Level)> {
        let mut starts: Vec<(u8, Level)> = Vec::new();
        self.for_owned(button, |work, output, _| {
            let lit = work.state(output) == State::On && !work.is_dark_by_daylight(output);
            let Some(group) = work.spec(output).group.filter(|_| lit) else {
                return;
            };
            let start = work.ramp_start(output, up);
            match starts.iter_mut().find(|(of, _)| *of == group) {
                Some((_, highest)) => *highest = start.max(*highest),
                None => starts.push((group, start)),
            }
        });
        starts
    }

    /// SW-10: up goes on from asked, down starts from what shows: no dead travel.
    fn ramp_start(&mut self, output: u8, up: bool) -> Level {
        let (asked, target) = (self.out(output).asked, self.target(output));
        let spec = self.spec(output);
        let from = if up { asked } else { asked.min(target) };
        from.min(spec.high_trim).max(spec.low_trim)
    }

    fn ramp_from_off(&mut self, output: u8) {
        let low = self.spec(output).low_trim;
        self.turn_on(output, low, Move::Jump);
        if self.state(output) == State::Off {
            return self.end_press(output);
        }
        self.ramp(output, low, true);
    }

    /// Moves asked from `start` to the trim. A member of a group may start beyond its own trim:
    /// then it waits there, as asked does under a limit.
    fn ramp(&mut self, output: u8, start: Level, up: bool) {
        let spec = self.spec(output);
        let to = if up {
            spec.high_trim.max(spec.low_trim)
        } else {
            spec.low_trim
        };
        if self.stood_dark_by_daylight(output) && up {
            self.light_the_dark(output);
        }
        self.out(output).by_hand = true;
        let span = chain::full_range(self.settings.ramp, Way { from: start, to });
        let start = if span.is_zero() { to } else { start };
        self.change(output, Move::Jump, |out| out.asked = start);
        if span.is_zero() {
            self.out(output).hand = Some(to);
            self.say(output, Note::Ignored(Ignored::AtLimit));
            return self.end_press(output);
        }
        self.out(output).ramp = Some(to);
        self.start(output, OutputTimer::Ramp, span);
        self.say(output, Note::RampStarted(to));
    }

    /// The ramp has met its trim: it ends by itself, released or not (SW-6).
    pub(super) fn ramp_ended(&mut self, output: u8) {
        if self.flawed(Flaw::EndlessRamp) {
            return;
        }
        self.end_press(output);
    }

    /// Stops a ramp where it is; the level counts as set by hand.
    pub(super) fn end_ramp(&mut self, output: u8) {
        if self.out(output).ramp.is_none() {
            return;
        }
        let level = self.it.asked_now(self.settings, output, self.fx);
        self.stop(output, OutputTimer::Ramp);
        let out = self.out(output);
        out.ramp = None;
        out.asked = level;
        out.hand = Some(level);
        out.owner = None;
        self.say(output, Note::RampEnded(level));
    }

    /// A press that leaves the output on is over: press hold L begins (OUT-21).
    fn end_press(&mut self, output: u8) {
        self.end_ramp(output);
        self.keep_after_press(output);
        self.forget_press(output);
    }

    fn keep_after_press(&mut self, output: u8) {
        let out = self.out(output);
        out.latch = false;
        if out.state != State::Off {
            out.wish = None;
        }
        let hold = self.spec(output).press_hold;
        if !hold.is_zero() && !self.flawed(Flaw::PressHoldMissing) {
            self.out(output).press_hold = true;
            self.start(output, OutputTimer::PressHold, hold);
        }
        self.restore_relay(output);
        self.start_override(output);
    }

    /// Press hold L has ended (OUT-21): what it held back acts now.
    pub(super) fn press_hold_ended(&mut self, output: u8) {
        self.out(output).press_hold = false;
        self.weigh_setback(output);
        self.weigh_occupancy(output);
    }

    /// The press is over, whatever it did.
    pub(super) fn forget_press(&mut self, output: u8) {
        self.out(output).owner = None;
        // OUT-21: without a press hold the end of a press is no reason to go dark.
        let lit = self.is_lit_or_waits(output);
        let nothing_follows = self.spec(output).press_hold.is_zero();
        if lit && nothing_follows && !self.is_held(output) && !self.links_unknown(output) {
            if self.out(output).occupied {
                self.for_relay(output, Self::be_vacant);
            }
        } else {
            self.weigh_occupancy(output);
        }
        self.finish_warning(output);
    }

    /// Whether the output is lit, or will be after its minimum off-time.
    fn is_lit_or_waits(&self, output: u8) -> bool {
        let out = &self.it.outputs[usize::from(output)];
        out.state != State::Off || out.wish == Some(Wish::On)
    }

    fn button(&self, heard: u8, number: u8) -> Option<u8> {
        (self.settings.buttons.iter())
            .position(|button| button.heard == heard && button.number == number)
            .map(|index| index as u8)
    }

    /// Calls `act` for each output of a button, with the level that a scene names for it.
    fn for_outputs_of(&mut self, button: u8, mut act: impl FnMut(&mut Self, u8, Level)) {
        for link in 0..self.link_count() {
            let (spec, state) = self.link(link);
            let level = match spec.role {
                Role::Button(index) if index == button => Level::FULL,
                Role::Scene(index, level) if index == button => level,
                _ => continue,
            };
            let output = spec.output;
            if state.stored {
                act(self, output, level);
            }
        }
    }

    /// The same for the outputs whose last press this is (SW-11).
    fn for_owned(&mut self, button: u8, mut act: impl FnMut(&mut Self, u8, Level)) {
        self.for_outputs_of(button, |work, output, level| {
            if work.out(output).owner == Some(button) {
                act(work, output, level);
            }
        });
    }
}
