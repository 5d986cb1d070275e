//! Power cuts and settings changed on site (OUT-12, SW-13, SET-1).

use super::chain::{Move, fade_span, full_range, limit_span};
use super::links::is_occupancy;
use super::settings::{PowerUp, Warning};
use super::state::{Dark, Fade, Gesture, Grace, Said, Way};
use super::work::Work;
use super::{HeardKind, OutputTimer, Outside, Settings, State, Timer};
use crate::{Note, Span};

impl<F: Outside> Work<'_, F> {
    /// Power goes: on/off, asked, hand level, latch and card are kept, timers are not.
    pub(super) fn power_goes(&mut self) {
        if !self.it.powered {
            return;
        }
        self.hold_ways();
        for output in 0..self.output_count() {
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

    fn drop_timers(&mut self, output: u8) {
        for timer in OutputTimer::ALL {
            self.stop(output, timer);
        }
        let limit = self.out(output).limit.from;
        let out = self.out(output);
        if out.ramp.take().is_some() {
            out.hand = Some(out.asked);
        }
        out.owner = None;
        out.fade = None;
        out.limit = Way::at(limit);
        out.cap = out.cap.filter(|_| out.shed).map(|way| Way::at(way.from));
        out.press_hold = false;
        out.grace = Grace::None;
        out.minimum = false;
        out.wish = None;
        out.blink = false;
        out.warning_of_sweep = false;
        out.learning = None;
        if matches!(out.state, State::Warning | State::Setback) {
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
        self.listen_for_all();
    }

    fn power_up(&mut self, output: u8) {
        let state = match self.spec(output).power_up {
            PowerUp::Last => self.state(output),
            PowerUp::On => State::On,
            PowerUp::Off => State::Off,
        };
        if self.out(output).proving {
            self.out(output).proving = false;
            self.out(output).emergency = false;
        }
        self.change(output, Move::Jump, |out| out.state = state);
        let unknown = self.links_unknown(output);
        self.out(output).occupied = unknown || self.links_occupied(output);
        if self.out(output).swept && state != State::Off {
            self.start_override(output);
        }
        self.count_dark(output);
        self.watch_relay(output);
    }

    /// Freezes what moves at where it is, so that new settings cannot make it jump.
    pub(super) fn hold_ways(&mut self) {
        for output in 0..self.output_count() {
            let asked = self.it.asked_now(self.settings, output, self.fx);
            let limit = self.it.limit_now(self.settings, output, self.fx);
            let cap = self.it.cap_now(self.settings, output, self.fx);
            let light = self.light(output);
            let out = self.out(output);
            out.asked = asked;
            out.limit.from = limit;
            if let Some(way) = &mut out.cap {
                way.from = cap;
            }
            if let Some(fade) = &mut out.fade {
                *fade = Fade {
                    from: light,
                    ..*fade
                };
            }
        }
    }

    /// Takes over new settings: what runs with a changed span is restarted, what is on its way
    /// goes on from where it is.
    pub(super) fn adopt(&mut self, old: &Settings) {
        let settings = self.settings;
        for (index, (old, new)) in old.heard.iter().zip(&settings.heard).enumerate() {
            if let (Some(span), true) = (new.silence, old.silence != new.silence) {
                self.restart(Timer::Silence(index as u8), span);
            }
        }
        for (index, (old, new)) in old.links.iter().zip(&settings.links).enumerate() {
            if old.run_on != new.run_on {
                self.restart(Timer::RunOn(index as u8), new.run_on);
            }
        }
        if old.hold_threshold != settings.hold_threshold {
            for button in 0..settings.buttons.len() as u8 {
                self.restart(Timer::Threshold(button), settings.hold_threshold);
            }
        }
        for output in 0..self.output_count() {
            self.adopt_output(output, old);
            self.go_on(output);
        }
    }

    fn adopt_output(&mut self, output: u8, old: &Settings) {
        let old_spec = &old.outputs[usize::from(output)];
        let new = self.spec(output);
        let spans = [
            (OutputTimer::PressHold, old_spec.press_hold, new.press_hold),
            (OutputTimer::Grace, old_spec.grace, new.grace),
            (OutputTimer::Proven, old_spec.proven, new.proven),
            (OutputTimer::Learning, old.learning, self.settings.learning),
            (
                OutputTimer::OffAfter,
                old_spec.off_after.unwrap_or_default(),
                new.off_after.unwrap_or_default(),
            ),
            (
                OutputTimer::Poll,
                old_spec.feedback.unwrap_or_default(),
                new.feedback.unwrap_or_default(),
            ),
            (
                OutputTimer::Warning,
                warning_span(old_spec.warning),
                warning_span(new.warning),
            ),
        ];
        for (timer, old, new) in spans {
            if old != new {
                self.restart(Timer::Output(output, timer), new);
            }
        }
        let is_on = self.state(output) != State::Off;
        let minimum = |spec: &super::Output| {
            if is_on {
                spec.minimum_on
            } else {
                spec.minimum_off
            }
        };
        let (was, is) = (minimum(old_spec), minimum(self.spec(output)));
        if was != is {
            self.restart(Timer::Output(output, OutputTimer::Minimum), is);
        }
    }

    /// Restarts the ways of an output from where `hold_ways` left them.
    fn go_on(&mut self, output: u8) {
        let out = *self.out(output);
        if let Some(to) = out.ramp {
            let way = Way {
                from: out.asked,
                to,
            };
            let span = full_range(self.settings.ramp, way);
            self.restart(Timer::Output(output, OutputTimer::Ramp), span);
        }
        if out.limit.from != out.limit.to {
            let span = limit_span(self.settings, output, out.limit);
            self.restart(Timer::Output(output, OutputTimer::Limit), span);
        }
        if let Some(fade) = out.fade {
            let span = fade_span(self.spec(output), fade);
            self.restart(Timer::Output(output, OutputTimer::Fade), span);
        }
        if out.cap.is_some_and(|way| way.from != way.to) {
            let span = self.spec(output).shed_fade;
            self.restart(Timer::Output(output, OutputTimer::Shed), span);
        }
    }

    fn restart(&mut self, timer: Timer, span: Span) {
        if self.fx.remaining(timer).is_some() {
            self.fx.start(timer, span);
        }
    }
}

fn warning_span(warning: Option<Warning>) -> Span {
    match warning {
        Some(Warning::Dim { span, .. } | Warning::Blink { span }) => span,
        None => Span::ZERO,
    }
}
