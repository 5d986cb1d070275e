//! Taps, holds and ramps, told apart at the controller (SW-0 to SW-13).

use super::chain::Move;
use super::settings::Role;
use super::state::{Dark, Stage, Way};
use super::work::Work;
use super::{OutputTimer, Outside, State, Timer, chain};
use crate::{Flaw, Ignored, Level, Note, switch};

use super::rules::Off;

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
            switch::Button::Single if self.toggles_off(button) => {
                self.for_owned(button, |work, output, _| work.tap_down(output));
            }
            switch::Button::Single => {
                self.for_owned(button, |work, output, _| work.tap_up(output));
            }
        }
    }

    /// SW-1: any output on → all off, decided once. One that warns or is set back asks to be
    /// kept (OUT-9), and one that is dark by daylight looks off (DAY-7).
    fn toggles_off(&mut self, button: u8) -> bool {
        let (mut on, mut kept) = (false, false);
        self.for_owned(button, |work, output, _| {
            on |= work.state(output) == State::On && !work.is_dark_by_daylight(output);
            kept |= matches!(work.state(output), State::Setback | State::Warning);
        });
        on && !kept
    }

    /// SW-3: on at the level last set by hand; full when on.
    fn tap_up(&mut self, output: u8) {
        match self.state(output) {
            _ if self.is_captive(output) => {
                self.say(output, Note::Ignored(Ignored::Captive));
                return self.forget_press(output);
            }
            State::Off => {
                let level = self.out(output).hand.unwrap_or(Level::FULL);
                self.turn_on(output, level, Move::Fade);
                self.out(output).by_hand = true;
            }
            State::On if self.is_dark_by_daylight(output) => self.light_the_dark(output),
            State::On => self.set_by_hand(output, Level::FULL),
            State::Setback | State::Warning => self.restore_by_press(output),
        }
        self.end_press(output);
    }

    /// SW-4: off by hand.
    fn tap_down(&mut self, output: u8) {
        if self.state(output) == State::Off {
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

    /// SW-8: each output that the scene names goes to its level.
    fn recall(&mut self, button: u8) {
        self.for_owned(button, |work, output, level| {
            if level.is_off() {
                return work.tap_down(output);
            }
            match work.state(output) {
                _ if work.is_captive(output) && !work.flawed(Flaw::SceneIgnoresCaptive) => {
                    work.say(output, Note::Ignored(Ignored::Captive));
                    return work.forget_press(output);
                }
                State::Off => {
                    work.turn_on(output, level, Move::Fade);
                    work.set_by_hand(output, level);
                }
                State::On => work.set_by_hand(output, level),
                State::Setback | State::Warning => work.restore_by_press(output),
            }
            work.end_press(output);
        });
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

    /// OUT-9: the press restores the level and does nothing else.
    fn restore_by_press(&mut self, output: u8) {
        self.restore(output);
        self.say(output, Note::Ignored(Ignored::OnlyRestored));
    }

    /// The threshold has passed with the button still down.
    pub(super) fn hold(&mut self, button: u8) {
        self.it.buttons[usize::from(button)].stage = Stage::Holding;
        self.fx.note(Note::Held(button));
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

    /// SW-2: opposite to the last hold; from the trims and from off there is only one way.
    fn single_goes_up(&mut self, button: u8) -> bool {
        let last_up = self.it.buttons[usize::from(button)].last_up;
        let (mut on, mut all_high, mut all_low) = (false, true, true);
        self.for_owned(button, |work, output, _| {
            if work.state(output) != State::Off {
                on = true;
                let (asked, target) = (work.out(output).asked, work.target(output));
                let spec = work.spec(output);
                all_high &= asked >= spec.high_trim;
                all_low &= target <= spec.low_trim;
            }
        });
        !on || (!all_high && (all_low || !last_up))
    }

    /// SW-5, SW-9: those that are on move; if none is on, all come up.
    fn move_outputs(&mut self, button: u8, up: bool) {
        let mut any_on = false;
        self.for_owned(button, |work, output, _| {
            any_on |= work.state(output) != State::Off;
        });
        let starts = self.ramp_starts(button, up);
        self.for_owned(button, |work, output, _| {
            if work.is_captive(output) {
                work.say(output, Note::Ignored(Ignored::Captive));
                return work.forget_press(output);
            }
            match work.state(output) {
                State::Off if up && !any_on => work.ramp_from_off(output),
                State::Off => {
                    work.say(output, Note::Ignored(Ignored::AlreadyOff));
                    work.forget_press(output);
                }
                State::Setback | State::Warning => {
                    work.restore_by_press(output);
                    work.end_press(output);
                }
                State::On => {
                    let start = starts
                        .filter(|_| work.spec(output).group.is_some())
                        .unwrap_or_else(|| work.ramp_start(output, up));
                    work.ramp(output, start, up);
                }
            }
        });
    }

    /// DAY-8: outputs with one asked level go down from the highest target among them.
    fn ramp_starts(&mut self, button: u8, up: bool) -> Option<Level> {
        let mut highest = None;
        self.for_owned(button, |work, output, _| {
            if work.state(output) == State::On && work.spec(output).group.is_some() {
                highest = highest.max(Some(work.ramp_start(output, up)));
            }
        });
        highest
    }

    /// SW-10: up goes on from asked, down starts from what shows: no dead travel.
    fn ramp_start(&mut self, output: u8, up: bool) -> Level {
        let (asked, target) = (self.out(output).asked, self.target(output));
        let spec = self.spec(output);
        if up {
            asked.clamp(spec.low_trim, spec.high_trim)
        } else {
            asked.min(target).max(spec.low_trim)
        }
    }

    fn ramp_from_off(&mut self, output: u8) {
        let low = self.spec(output).low_trim;
        self.turn_on(output, low, Move::Jump);
        self.ramp(output, low, true);
    }

    fn ramp(&mut self, output: u8, start: Level, up: bool) {
        let spec = self.spec(output);
        let to = if up { spec.high_trim } else { spec.low_trim };
        let out = self.out(output);
        out.by_hand = true;
        if out.dark == Dark::Yes {
            self.light_the_dark(output);
        }
        let span = chain::full_range(self.settings.ramp, Way { from: start, to });
        let start = if span.is_zero() { to } else { start };
        self.change(output, Move::Jump, |out| out.asked = start);
        if span.is_zero() {
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
        if self.state(output) != State::Off {
            self.keep_after_press(output);
        }
        self.forget_press(output);
    }

    fn keep_after_press(&mut self, output: u8) {
        self.out(output).latch = false;
        let hold = self.spec(output).press_hold;
        if !hold.is_zero() && !self.flawed(Flaw::PressHoldMissing) {
            self.out(output).press_hold = true;
            self.start(output, OutputTimer::PressHold, hold);
        }
        self.start_override(output);
    }

    fn forget_press(&mut self, output: u8) {
        self.out(output).owner = None;
        // OUT-21: without a press hold the end of a press is no reason to go dark.
        let lit = self.state(output) != State::Off;
        let nothing_follows = self.spec(output).press_hold.is_zero();
        if lit && nothing_follows && !self.links_occupied(output) {
            if core::mem::take(&mut self.out(output).occupied) {
                self.say(output, Note::OutputVacant);
            }
        } else {
            self.weigh_occupancy(output);
        }
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
