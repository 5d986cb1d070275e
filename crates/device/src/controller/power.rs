//! Power cuts (OUT-12, SW-13).

use super::chain::Move;
use super::links::is_occupancy;
use super::settings::{PowerUp, Role};
use super::state::{Dark, Gesture, Grace, Said, Way};
use super::work::Work;
use super::{HeardKind, OutputTimer, Outside, State, Timer};
use crate::Note;

impl<F: Outside> Work<'_, F> {
    /// Power goes: on/off, asked, hand level, latch and card are kept, timers are not.
    pub(super) fn power_goes(&mut self) {
        if !self.it.powered {
            return;
        }
        for output in 0..self.output_count() {
            self.hold_asked_and_limit(output);
            self.drop_timers(output);
        }
        for heard in 0..self.settings.heard.len() as u8 {
            self.fx.stop(Timer::Silence(heard));
        }
        for button in 0..self.settings.buttons.len() as u8 {
            self.fx.stop(Timer::Threshold(button));
            self.it.buttons[usize::from(button)] = Gesture::default();
        }
        for link in 0..self.link_count() {
            self.fx.stop(Timer::RunOn(link));
            self.it.links[usize::from(link)].run_on = false;
        }
        self.it.powered = false;
        self.fx.note(Note::Power(false));
    }

    /// A ramp stops where it was, a fade is over: there is no light that could be on its way. A
    /// shed keeps its end, and what warned is on again until it is known to be vacant.
    fn drop_timers(&mut self, output: u8) {
        for timer in OutputTimer::ALL {
            self.stop(output, timer);
        }
        let out = self.out(output);
        if out.ramp.take().is_some() {
            out.hand = Some(out.asked);
        }
        out.owner = None;
        out.fade = None;
        out.limit = Way::at(out.limit.from);
        out.cap = out
            .cap
            .filter(|_| out.shed.is_some())
            .map(|way| Way::at(way.to));
        out.press_hold = false;
        out.grace = Grace::None;
        out.minimum = false;
        out.wish = None;
        out.blink = false;
        out.warning_of_sweep = false;
        out.learning = None;
        if out.state == State::Warning {
            out.state = State::On;
        }
        if out.dark != Dark::Yes {
            out.dark = Dark::No;
        }
    }

    /// Power returns: sources are unknown until heard.
    pub(super) fn power_returns(&mut self) {
        if self.it.powered {
            return;
        }
        self.it.powered = true;
        self.fx.note(Note::Power(true));
        for heard in 0..self.settings.heard.len() as u8 {
            let occupancy = self.settings.heard[usize::from(heard)].kind == HeardKind::Occupancy;
            self.it.heard[usize::from(heard)].lost = false;
            if occupancy {
                self.believe(heard, Said::Unknown);
            }
        }
        for link in 0..self.link_count() {
            if is_occupancy(&self.settings.links[usize::from(link)].role) {
                self.it.links[usize::from(link)].occupied = false;
            }
        }
        for output in 0..self.output_count() {
            self.power_up(output);
        }
        for output in 0..self.output_count() {
            self.occupy_on_return(output);
        }
        self.listen_for_all();
    }

    fn power_up(&mut self, output: u8) {
        let lit = !self.is_captive(output)
            && (self.relay_of(output)).any(|other| match self.spec(other).power_up {
                PowerUp::Last => self.state(other) != State::Off,
                PowerUp::On => true,
                PowerUp::Off => false,
            });
        let was_lit = self.state(output) != State::Off;
        if lit && !was_lit {
            self.change(output, Move::Jump, |out| {
                out.state = State::On;
                out.latch = false;
            });
            let asked = self.out(output).asked;
            self.say(output, Note::TurnedOn(asked));
        } else if was_lit && !lit {
            self.change(output, Move::Jump, |out| {
                out.state = State::Off;
                out.by_hand = false;
                out.sweep_due = false;
                out.dark = Dark::No;
            });
            self.say(output, Note::TurnedOff);
        }
        let target = self.target(output);
        self.drive_relay(output, target);
        self.count_dark(output);
        self.watch_relay(output);
        if self.out(output).proving {
            self.out(output).proving = false;
            self.weigh_emergency(output);
        }
    }

    /// Occupied for all that is known. What is lit and can be pressed has a press hold anew, or
    /// a light that only a press held would burn for ever; a sweep comes again with its warning.
    fn occupy_on_return(&mut self, output: u8) {
        let lit = self.state(output) != State::Off;
        let pressed = (self.links_of(output))
            .any(|(link, _)| matches!(link.role, Role::Button(_) | Role::Scene(..)));
        let hold = self.spec(output).press_hold;
        if lit && pressed && !hold.is_zero() {
            self.out(output).press_hold = true;
            self.start(output, OutputTimer::PressHold, hold);
        }
        let occupied = self.is_held(output) || self.links_unknown(output);
        self.for_relay(output, |work, other| work.out(other).occupied = occupied);
        if !lit && !occupied {
            self.forget_marks_in_time(output);
        }
        if lit && self.out(output).swept {
            self.sweep(output);
        }
    }
}
