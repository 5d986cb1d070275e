//! What can be seen of an output from outside.

use super::chain::{fade_span, full_range, limit_span};
use super::state::{Belief, Gesture, LinkState, OutputState, Shed, Stage, Way};
use super::{Controller, OutputTimer, Said, Settings, State, Timer};
use core::mem::size_of;

use crate::{Effects, Level, Span};

/// How an output stands at a moment.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub struct View {
    /// Its state: what `is on` and `is off` speak of.
    pub state: State,
    /// The asked level.
    pub asked: Level,
    /// The target: what `is 50 %` speaks of.
    pub target: Level,
    /// The light that truly shows.
    pub light: Level,
    /// Where the light is going; the same when it stands.
    pub light_to: Level,
    /// How long it takes to get there, in a straight line.
    pub within: Span,
    /// Whether the relay or contact is truly closed.
    pub closed: bool,
    /// Whether the output is occupied (OUT-3).
    pub occupied: bool,
    /// The latch mark (OUT-18).
    pub latch: bool,
    /// The by-hand mark (OUT-6).
    pub by_hand: bool,
    /// Emergency light (OUT-13).
    pub emergency: bool,
    /// A shed is in force (OUT-14).
    pub shed: bool,
}

impl Controller {
    /// Whether the controller has power.
    #[must_use]
    pub fn is_powered(&self) -> bool {
        self.powered
    }

    /// Whether the source is believed lost (OUT-11), by its index in `Settings::heard`.
    #[must_use]
    pub fn is_lost(&self, heard: u8) -> bool {
        self.heard[usize::from(heard)].lost
    }

    /// What the source is believed to have said last, by its index in `Settings::heard`.
    #[must_use]
    pub fn said(&self, heard: u8) -> Said {
        self.heard[usize::from(heard)].said
    }

    /// Whether nothing is known of the source, by its index in `Settings::heard`.
    #[must_use]
    pub fn is_unknown(&self, heard: u8) -> bool {
        self.said(heard) == Said::Unknown
    }

    /// Whether a ramp of the output runs, and the press it belongs to.
    #[must_use]
    pub fn ramp_owner(&self, output: u8) -> Option<Option<u8>> {
        let out = &self.outputs[usize::from(output)];
        out.ramp.map(|_| out.owner)
    }

    /// How an output stands, by its index in `Settings::outputs`.
    #[must_use]
    pub fn view(&self, settings: &Settings, output: u8, fx: &impl Effects<Timer = Timer>) -> View {
        let way = self.way_of_light(settings, output, fx);
        self.look(settings, output, fx, Some(way))
    }

    /// How an output stands, by its index in `Settings::outputs`, for whoever does not ask where
    /// its light is going: the light stands where it is.
    #[must_use]
    pub fn glimpse(
        &self,
        settings: &Settings,
        output: u8,
        fx: &impl Effects<Timer = Timer>,
    ) -> View {
        self.look(settings, output, fx, None)
    }

    fn look(
        &self,
        settings: &Settings,
        output: u8,
        fx: &impl Effects<Timer = Timer>,
        way: Option<(Level, Span)>,
    ) -> View {
        let out = &self.outputs[usize::from(output)];
        let spec = &settings.outputs[usize::from(output)];
        let asked = self.asked_now(settings, output, fx);
        let limit = self.limit_now(settings, output, fx);
        let cap = self.cap_now(settings, output, fx);
        let target = self.chain(settings, output, asked, limit, cap);
        let light = self.light_towards(settings, output, target, fx);
        let (light_to, within) = way.unwrap_or((light, Span::ZERO));
        let mut view = View {
            state: out.state,
            asked,
            target,
            light,
            light_to,
            within,
            closed: out.closed,
            occupied: out.occupied,
            latch: out.latch,
            by_hand: out.by_hand,
            emergency: out.emergency,
            shed: out.shed.is_some(),
        };
        if !self.powered {
            view.show(Level::OFF);
            view.closed = spec.rest_closed;
        }
        match out.stuck {
            Some(false) => {
                view.closed = false;
                view.show(Level::OFF);
            }
            Some(true) => {
                view.closed = true;
                if self.powered && light.is_off() {
                    view.show(spec.low_trim);
                }
            }
            None => {}
        }
        view
    }

    /// Whether the controller has heard a button go down that has not come up again.
    #[must_use]
    pub fn is_pressed(&self) -> bool {
        self.buttons.iter().any(|it| it.stage != Stage::Idle)
    }

    /// A level of an output that is on its way while `timer` runs: from where to where, and how
    /// long the whole way takes; `None` for any other timer, or when there is no way.
    #[must_use]
    pub fn way(
        &self,
        settings: &Settings,
        output: u8,
        timer: OutputTimer,
        fx: &impl Effects<Timer = Timer>,
    ) -> Option<(Level, Level, Span)> {
        let out = &self.outputs[usize::from(output)];
        let spec = &settings.outputs[usize::from(output)];
        match timer {
            OutputTimer::Ramp => {
                let (from, to) = (out.asked, out.ramp?);
                Some((from, to, full_range(settings.ramp, Way { from, to })))
            }
            OutputTimer::Limit => {
                let way = out.limit;
                Some((way.from, way.to, limit_span(settings, output, way)))
            }
            OutputTimer::Shed => out.cap.map(|way| (way.from, way.to, spec.shed_fade)),
            OutputTimer::Fade => {
                let fade = out.fade?;
                let target = self.target_now(settings, output, fx);
                Some((fade.from, target, fade_span(spec, fade)))
            }
            _ => None,
        }
    }

    /// The memory in bytes that a controller with these settings takes beside its own size.
    #[must_use]
    pub fn bytes(settings: &Settings) -> usize {
        settings.heard.len() * size_of::<Belief>()
            + settings.buttons.len() * size_of::<Gesture>()
            + settings.links.len() * size_of::<LinkState>()
            + settings.outputs.len() * size_of::<OutputState>()
    }

    /// Forgets at which levels the outputs stand that can dim: each is at `somewhere`, and no
    /// hand has set a level. For a clock whose clauses ask for no level: a ramp that may take
    /// any time up to the whole range is then any ramp, from anywhere and to anywhere.
    pub fn forget_levels(&mut self, settings: &Settings, somewhere: Level) {
        for (out, spec) in self.outputs.iter_mut().zip(&settings.outputs) {
            if spec.drive.dims() {
                out.asked = somewhere;
                out.warning = somewhere;
            }
            out.hand = None;
        }
    }

    /// Replaces every level that a hand, a ramp, a limit or a shed can have left anywhere by the
    /// level that stands for it. For a clock that carries levels as a few cases, and calls for no
    /// other points than those of the outputs; never called by a clock that knows the time.
    pub fn round_levels(&mut self, settings: &Settings, stands_for: &impl Fn(Level) -> Level) {
        let way = |way: &mut Way| {
            way.from = stands_for(way.from);
            way.to = stands_for(way.to);
        };
        for (out, spec) in self.outputs.iter_mut().zip(&settings.outputs) {
            out.asked = stands_for(out.asked);
            out.hand = out.hand.map(stands_for);
            out.warning = stands_for(out.warning);
            way(&mut out.limit);
            if let Some(cap) = &mut out.cap {
                // What the shed leaves is a setting: a call that is repeated is known by it.
                let to = cap.to;
                way(cap);
                cap.to = spec.shed_to().filter(|it| *it == to).unwrap_or(cap.to);
            }
            if let Some(fade) = &mut out.fade {
                fade.from = stands_for(fade.from);
            }
            if let Some(Shed::Lowered(level)) = &mut out.shed {
                // Half of what was there counts only where it is more than the shed leaves.
                *level = match spec.shed_to().is_some_and(|to| *level <= to) {
                    true => Level::OFF,
                    false => stands_for(*level),
                };
            }
        }
    }

    /// Where the light is going in a straight line, and how long that takes.
    fn way_of_light(
        &self,
        settings: &Settings,
        output: u8,
        fx: &impl Effects<Timer = Timer>,
    ) -> (Level, Span) {
        let out = &self.outputs[usize::from(output)];
        let spec = &settings.outputs[usize::from(output)];
        let left = |timer| fx.remaining(Timer::Output(output, timer));
        let target = self.target_now(settings, output, fx);
        if let (Some(fade), Some(left)) = (out.fade, left(OutputTimer::Fade)) {
            debug_assert!(
                left <= fade_span(spec, fade),
                "a fade never outlasts its span"
            );
            return (target, left);
        }
        let asked = self.asked_now(settings, output, fx);
        let limit = self.limit_now(settings, output, fx);
        let cap = self.cap_now(settings, output, fx);
        if let (Some(to), Some(left)) = (out.ramp, left(OutputTimer::Ramp)) {
            return (self.chain(settings, output, to, limit, cap), left);
        }
        if let Some(left) = left(OutputTimer::Limit) {
            debug_assert!(left <= limit_span(settings, output, out.limit));
            return (self.chain(settings, output, asked, out.limit.to, cap), left);
        }
        if let (Some(way), Some(left)) = (out.cap, left(OutputTimer::Shed)) {
            return (self.chain(settings, output, asked, limit, way.to), left);
        }
        (target, Span::ZERO)
    }
}

impl View {
    fn show(&mut self, light: Level) {
        self.light = light;
        self.light_to = light;
        self.within = Span::ZERO;
    }
}
