//! Settings changed on site (SET-1).
//!
//! A level on its way is held where it is under the old settings, and goes on from there under
//! the new ones.

use alloc::vec::Vec;

use super::chain::{Move, fade_span, full_range, limit_span};
use super::limit::loop_of;
use super::settings::Warning;
use super::state::{Dark, Way};
use super::work::Work;
use super::{OutputTimer, Outside, Settings, State, Timer};
use crate::{Level, Note, Span};

/// How an output stood under the old settings.
pub(super) struct Before {
    target: Level,
    light: Level,
    spans: Spans,
}

/// The timers of an output that run for a span that is set, beside those of a level on its way.
/// `None`: no such timer may run.
type Spans = [(OutputTimer, Option<Span>); 10];

impl<F: Outside> Work<'_, F> {
    /// Holds asked and the daylight limit at where they are.
    pub(super) fn hold_asked_and_limit(&mut self, output: u8) {
        let asked = self.it.asked_now(self.settings, output, self.fx);
        let limit = self.it.limit_now(self.settings, output, self.fx);
        let out = self.out(output);
        out.asked = asked;
        out.limit.from = limit;
    }

    /// Holds what would jump under `new` settings, and remembers how each output stands.
    pub(super) fn hold_ways(&mut self, new: &Settings) -> Vec<Before> {
        (0..self.output_count())
            .map(|output| {
                let before = Before {
                    target: self.target(output),
                    light: self.light(output),
                    spans: self.spans(output),
                };
                let cap = self.it.cap_now(self.settings, output, self.fx);
                let old = self.spec(output).clone();
                let new = &new.outputs[usize::from(output)];
                self.hold_asked_and_limit(output);
                let out = self.out(output);
                match &mut out.cap {
                    Some(way) if new.shed_fade != old.shed_fade => way.from = cap,
                    _ => {}
                }
                match &mut out.fade {
                    Some(fade) if fade_span(new, *fade) != fade_span(&old, *fade) => {
                        fade.from = before.light;
                    }
                    _ => {}
                }
                before
            })
            .collect()
    }

    /// Takes over new settings: what runs with a changed span is restarted, what is on its way
    /// goes on from where it is.
    pub(super) fn adopt(&mut self, old: &Settings, before: &[Before]) {
        let settings = self.settings;
        self.fx.note(Note::SettingChanged);
        for (index, (old, new)) in (0..).zip(old.heard.iter().zip(&settings.heard)) {
            self.restart_if_changed(Timer::Silence(index), old.silence, new.silence);
        }
        for (index, (old, new)) in (0..).zip(old.links.iter().zip(&settings.links)) {
            let (was, is) = (Some(old.run_on), Some(new.run_on));
            self.restart_if_changed(Timer::RunOn(index), was, is);
        }
        let (was, is) = (Some(old.hold_threshold), Some(settings.hold_threshold));
        for button in 0..settings.buttons.len() as u8 {
            self.restart_if_changed(Timer::Threshold(button), was, is);
        }
        for (output, before) in (0..).zip(before) {
            self.adopt_output(output, old, before);
        }
    }

    fn adopt_output(&mut self, output: u8, old: &Settings, before: &Before) {
        for ((timer, was), (_, is)) in before.spans.into_iter().zip(self.spans(output)) {
            self.restart_if_changed(Timer::Output(output, timer), was, is);
        }
        if self
            .fx
            .remaining(Timer::Output(output, OutputTimer::Dark))
            .is_none()
            && self.out(output).dark == Dark::Counting
        {
            self.out(output).dark = Dark::No;
        }
        if !self.it.powered {
            return;
        }
        self.go_on(output, old);
        let goal = self.target(output);
        if goal != before.target {
            self.follow(output, Move::Fade, before.light, goal);
        }
        let target = self.target(output);
        self.drive_relay(output, target);
        self.watch_relay(output);
    }

    /// The spans that are set for the timers of an output.
    fn spans(&self, output: u8) -> Spans {
        let spec = self.spec(output);
        let out = &self.it.outputs[usize::from(output)];
        let (sweep, longest) = self.sweep_role(output).unzip();
        let own_warning = spec.warning.map(|warning| match warning {
            Warning::Dim { span, .. } | Warning::Blink { span } => span,
        });
        let warning = if out.warning_of_sweep {
            sweep
        } else {
            own_warning
        };
        let minimum = if out.state == State::Off {
            spec.minimum_off
        } else {
            spec.minimum_on
        };
        let dark = loop_of(self.settings, output).and_then(|constants| constants.dark_after);
        [
            (OutputTimer::Dark, dark),
            (OutputTimer::Grace, Some(spec.grace)),
            (OutputTimer::Learning, Some(self.settings.learning)),
            (OutputTimer::Minimum, Some(minimum)),
            (OutputTimer::OffAfter, self.off_after(output)),
            (OutputTimer::Override, longest),
            (OutputTimer::Poll, spec.feedback),
            (OutputTimer::PressHold, Some(spec.press_hold)),
            (OutputTimer::Proven, Some(spec.proven)),
            // Without a warning any more, the off that it announced comes now.
            (OutputTimer::Warning, Some(warning.unwrap_or_default())),
        ]
    }

    /// Restarts the ways of an output from where `hold_ways` left them.
    fn go_on(&mut self, output: u8, old: &Settings) {
        let out = *self.out(output);
        if let Some(to) = out.ramp {
            let way = Way {
                from: out.asked,
                to,
            };
            let span = full_range(self.settings.ramp, way);
            self.start(output, OutputTimer::Ramp, span);
        }
        if out.limit.from != out.limit.to {
            let span = limit_span(self.settings, output, out.limit);
            self.start(output, OutputTimer::Limit, span);
        } else {
            self.stop(output, OutputTimer::Limit);
        }
        let old = &old.outputs[usize::from(output)];
        if let Some(fade) = out.fade {
            let (was, is) = (fade_span(old, fade), fade_span(self.spec(output), fade));
            let timer = Timer::Output(output, OutputTimer::Fade);
            self.restart_if_changed(timer, Some(was), Some(is));
        }
        let (was, is) = (old.shed_fade, self.spec(output).shed_fade);
        let timer = Timer::Output(output, OutputTimer::Shed);
        self.restart_if_changed(timer, Some(was), Some(is));
    }

    fn restart_if_changed(&mut self, timer: Timer, was: Option<Span>, is: Option<Span>) {
        if was == is || self.fx.remaining(timer).is_none() {
            return;
        }
        match is {
            Some(span) => self.fx.start(timer, span),
            None => self.fx.stop(timer),
        }
    }
}
