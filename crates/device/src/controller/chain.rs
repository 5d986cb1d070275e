//! OUT-1, OUT-22: from asked to target to light, and the relay.

use super::state::{Dark, Fade, OutputState, Shed, Way};
use super::{Controller, Output, OutputTimer, Settings, State, Timer};
use crate::{Effects, Flaw, Level, Note, Span};

/// How the light gets to a new target.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum Move {
    /// By the fade of the output (OUT-22).
    Fade,
    /// At once: emergency, blinks and the first step of a ramp.
    Jump,
}

impl Controller {
    /// Where asked is at this moment.
    pub(super) fn asked_now(
        &self,
        settings: &Settings,
        output: u8,
        fx: &impl Effects<Timer = Timer>,
    ) -> Level {
        let out = &self.outputs[usize::from(output)];
        match out.ramp {
            None => out.asked,
            Some(to) => {
                let span = full_range(
                    settings.ramp,
                    Way {
                        from: out.asked,
                        to,
                    },
                );
                let left = left(fx, output, OutputTimer::Ramp);
                out.asked.towards(to, left, span)
            }
        }
    }

    /// Where the daylight limit is at this moment (DAY-6).
    pub(super) fn limit_now(
        &self,
        settings: &Settings,
        output: u8,
        fx: &impl Effects<Timer = Timer>,
    ) -> Level {
        let way = self.outputs[usize::from(output)].limit;
        if way.from == way.to {
            return way.to;
        }
        let span = limit_span(settings, output, way);
        way.from
            .towards(way.to, left(fx, output, OutputTimer::Limit), span)
    }

    /// Where the high trim less shed is at this moment (OUT-14).
    pub(super) fn cap_now(
        &self,
        settings: &Settings,
        output: u8,
        fx: &impl Effects<Timer = Timer>,
    ) -> Level {
        let spec = &settings.outputs[usize::from(output)];
        match self.outputs[usize::from(output)].cap {
            None => spec.high_trim,
            Some(way) => {
                let left = left(fx, output, OutputTimer::Shed);
                way.from.towards(way.to, left, spec.shed_fade)
            }
        }
    }

    /// The target of this moment: asked through the chain of OUT-1, later beats earlier.
    pub(super) fn target_now(
        &self,
        settings: &Settings,
        output: u8,
        fx: &impl Effects<Timer = Timer>,
    ) -> Level {
        let asked = self.asked_now(settings, output, fx);
        let limit = self.limit_now(settings, output, fx);
        let cap = self.cap_now(settings, output, fx);
        self.chain(settings, output, asked, limit, cap)
    }

    /// The target of this moment, were there no emergency.
    pub(super) fn normal_target_now(
        &self,
        settings: &Settings,
        output: u8,
        fx: &impl Effects<Timer = Timer>,
    ) -> Level {
        let asked = self.asked_now(settings, output, fx);
        let limit = self.limit_now(settings, output, fx);
        let cap = self.cap_now(settings, output, fx);
        self.normal_chain(settings, output, asked, limit, cap)
    }

    /// The target for these values of what moves.
    pub(super) fn chain(
        &self,
        settings: &Settings,
        output: u8,
        asked: Level,
        limit: Level,
        cap: Level,
    ) -> Level {
        let emergency = self.outputs[usize::from(output)].emergency;
        if emergency && settings.flaw != Some(Flaw::EmergencyNotFull) {
            return Level::FULL;
        }
        self.normal_chain(settings, output, asked, limit, cap)
    }

    /// The chain up to the egress floor.
    fn normal_chain(
        &self,
        settings: &Settings,
        output: u8,
        asked: Level,
        limit: Level,
        cap: Level,
    ) -> Level {
        let spec = &settings.outputs[usize::from(output)];
        let out = &self.outputs[usize::from(output)];
        let dropped = out.shed == Some(Shed::Dropped);
        let dark = out.state == State::Off || out.dark == Dark::Yes || dropped || out.blink;
        let level = if dark {
            Level::OFF
        } else {
            let wanted = match out.state {
                State::Off | State::On => asked,
                State::Setback => asked.min(out.setback),
                State::Warning => out.warning,
            };
            wanted.min(limit).min(cap).max(spec.low_trim)
        };
        if settings.flaw == Some(Flaw::FloorYields) {
            level
        } else {
            level.max(spec.floor.unwrap_or(Level::OFF))
        }
    }

    /// The light of this moment, on its way to the target.
    pub(super) fn light_now(
        &self,
        settings: &Settings,
        output: u8,
        fx: &impl Effects<Timer = Timer>,
    ) -> Level {
        let target = self.target_now(settings, output, fx);
        self.light_towards(settings, output, target, fx)
    }

    /// The light of this moment, on its way to this target.
    pub(super) fn light_towards(
        &self,
        settings: &Settings,
        output: u8,
        target: Level,
        fx: &impl Effects<Timer = Timer>,
    ) -> Level {
        match self.outputs[usize::from(output)].fade {
            None => target,
            Some(fade) => {
                let spec = &settings.outputs[usize::from(output)];
                let left = left(fx, output, OutputTimer::Fade);
                fade.from.towards(target, left, fade_span(spec, fade))
            }
        }
    }
}

/// The span of a fade.
pub(super) fn fade_span(spec: &Output, fade: Fade) -> Span {
    if fade.up { spec.fade_on } else { spec.fade_off }
}

/// The span of a way, when the full range takes `range`.
pub(super) fn full_range(range: Span, way: Way) -> Span {
    let points = way.from.distance(way.to).hundredths();
    range.scaled(u64::from(points), 10_000)
}

/// The span of the way of a limit: up and down take their own time (DAY-6).
pub(super) fn limit_span(settings: &Settings, output: u8, way: Way) -> Span {
    let range = super::limit::loop_of(settings, output).map_or(Span::ZERO, |constants| {
        if way.to > way.from {
            constants.fade_up
        } else {
            constants.fade_down
        }
    });
    full_range(range, way)
}

fn left(fx: &impl Effects<Timer = Timer>, output: u8, timer: OutputTimer) -> Span {
    fx.remaining(Timer::Output(output, timer))
        .unwrap_or(Span::ZERO)
}

impl<F: super::Outside> super::work::Work<'_, F> {
    pub(super) fn target(&self, output: u8) -> Level {
        self.it.target_now(self.settings, output, self.fx)
    }

    pub(super) fn light(&self, output: u8) -> Level {
        self.it.light_now(self.settings, output, self.fx)
    }

    /// Changes an output; where its target jumps, the light follows by `how`.
    ///
    /// Everything that moves a target other than a ramp, a limit or a shed on its way goes
    /// through here.
    pub(super) fn change(&mut self, output: u8, how: Move, change: impl FnOnce(&mut OutputState)) {
        let target = self.target(output);
        let light = self
            .it
            .light_towards(self.settings, output, target, self.fx);
        change(self.out(output));
        let goal = self.target(output);
        if goal != target {
            self.follow(output, how, light, goal);
        }
        self.drive_relay(output, goal);
    }

    /// Starts the fade from `light` to the new target `goal` (OUT-22).
    pub(super) fn follow(&mut self, output: u8, how: Move, light: Level, goal: Level) {
        let spec = self.spec(output);
        let up = goal > light;
        let from = if light.is_off() && up {
            spec.low_trim.min(goal)
        } else {
            light
        };
        let fade = Fade { from, up };
        let span = fade_span(spec, fade);
        if how == Move::Jump || span.is_zero() || from == goal {
            if self.out(output).fade.take().is_some() {
                self.stop(output, OutputTimer::Fade);
            }
            self.say(output, Note::Target(goal));
        } else {
            self.out(output).fade = Some(fade);
            self.start(output, OutputTimer::Fade, span);
            self.say(output, Note::Fade(goal));
        }
    }

    /// The fade has reached the target.
    pub(super) fn faded(&mut self, output: u8) {
        self.out(output).fade = None;
        let target = self.target(output);
        self.drive_relay(output, target);
    }
}
