//! An occupancy sensor: passive infrared motion and, on dual-technology units, sound.
//!
//! Motion starts occupancy; sound may only prolong it, within the sound window, and bring it
//! back, within the sound grace.
//!
//! Invariants: the time delay runs while occupied or unknown and never while vacant; the sound
//! window runs while it is open; the grace runs while vacant with the window open; a sensor
//! without power runs nothing.

use crate::effects::start_if_set;
use crate::slots::slots;
use crate::{Effects, Flaw, Ignored, Illuminance, Note, Payload, Span};

/// Reports presence at once and absence a time delay after the last event that counts.
#[derive(Clone, Debug, Default, Eq, Hash, PartialEq)]
pub struct Sensor {
    state: State,
    /// What the dead time of the last event hides.
    blind: Blind,
    /// Whether occupancy carries the mark *bright* (OCC-9); kept through the grace.
    bright: bool,
    /// Whether *occupied* was reported less than R ago (OCC-13).
    fresh: bool,
    /// Whether the walk test shortens the time delay (SET-2).
    walk_test: bool,
    /// Whether sound counts.
    window_open: bool,
}

/// What a sensor believes.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum State {
    /// Somebody is there.
    Occupied,
    /// It has no power.
    Off,
    /// It has warmed up and sensed nothing yet.
    Unknown,
    /// Nobody is there.
    #[default]
    Vacant,
    /// It has power and does not sense yet.
    WarmingUp,
}

impl Sensor {
    /// A sensor of a settled room: warmed up and vacant.
    #[must_use]
    pub const fn new(_settings: &Settings) -> Self {
        Self {
            state: State::Vacant,
            blind: Blind::Nothing,
            bright: false,
            fresh: false,
            walk_test: false,
            window_open: false,
        }
    }

    /// The run begins: the report interval starts in the settled room.
    pub fn handle_start(&mut self, settings: &Settings, effects: &mut impl Effects<Timer = Timer>) {
        start_if_set(effects, Timer::Report, settings.report);
    }

    /// Somebody moves while the sensor sees this ambient light.
    #[inline]
    pub fn handle_motion(
        &mut self,
        settings: &Settings,
        ambient: Illuminance,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        match self.state {
            State::Off => return effects.note(Note::Ignored(Ignored::NoPower)),
            State::WarmingUp => return effects.note(Note::Ignored(Ignored::WarmingUp)),
            _ if self.blind == Blind::MotionAndSound => {
                return effects.note(Note::Ignored(Ignored::DeadTime));
            }
            State::Occupied => self.handle_motion_again(settings, ambient, effects),
            State::Vacant => {
                if self.window_open {
                    effects.stop(Timer::Grace);
                }
                self.become_occupied(settings, above_hold_off(settings, ambient), effects);
            }
            State::Unknown => {
                self.become_occupied(settings, above_hold_off(settings, ambient), effects);
            }
        }
        effects.start(Timer::Delay, self.delay(settings));
        if settings.sound && !settings.window.is_zero() {
            if !self.window_open {
                self.window_open = true;
                effects.note(Note::WindowOpened);
            }
            effects.start(Timer::Window, settings.window);
        }
        self.go_blind(settings, Blind::MotionAndSound, effects);
    }

    /// There is a sound.
    #[inline]
    pub fn handle_sound(&mut self, settings: &Settings, effects: &mut impl Effects<Timer = Timer>) {
        if settings.flaw == Some(Flaw::SoundTurnsOn) && settings.sound {
            return self.handle_motion(settings, Illuminance::default(), effects);
        }
        let ignored = match self.state {
            State::Off => Ignored::NoPower,
            State::WarmingUp => Ignored::WarmingUp,
            _ if !settings.sound => Ignored::NoMicrophone,
            _ if self.blind != Blind::Nothing => Ignored::DeadTime,
            State::Vacant if !self.window_open => Ignored::SoundWhileVacant,
            _ if !self.window_open => Ignored::WindowClosed,
            State::Vacant => {
                effects.stop(Timer::Grace);
                self.become_occupied(settings, self.bright, effects);
                return self.prolong(settings, effects);
            }
            State::Occupied | State::Unknown => return self.prolong(settings, effects),
        };
        effects.note(Note::Ignored(ignored));
    }

    /// The walk test is switched on or off (SET-2).
    pub fn handle_walk_test(
        &mut self,
        settings: &Settings,
        on: bool,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        if self.state == State::Off {
            return effects.note(Note::Ignored(Ignored::NoPower));
        }
        if on {
            effects.start(Timer::WalkTest, WALK_TEST);
        } else {
            effects.stop(Timer::WalkTest);
        }
        self.walk(settings, on, effects);
    }

    /// Power or the battery goes (`false`) or comes back (OCC-10).
    pub fn handle_power(
        &mut self,
        settings: &Settings,
        on: bool,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        if on != (self.state == State::Off) {
            return effects.note(Note::Ignored(Ignored::NoChange));
        }
        effects.note(Note::Power(on));
        *self = Self {
            state: if on { State::WarmingUp } else { State::Off },
            ..Self::new(settings)
        };
        if !on {
            for timer in Timer::ALL {
                effects.stop(timer);
            }
        } else if settings.warm_up.is_zero() {
            self.handle_elapsed(settings, Timer::WarmUp, effects);
        } else {
            effects.note(Note::WarmingUp(settings.warm_up));
            effects.start(Timer::WarmUp, settings.warm_up);
        }
    }

    /// Settings are changed on site: running timers restart with their new spans (SET-1).
    pub fn handle_settings(
        &mut self,
        old: &Settings,
        new: &Settings,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        effects.note(Note::SettingChanged);
        if self.state == State::Off {
            return;
        }
        if self.state == State::WarmingUp {
            if old.warm_up != new.warm_up {
                effects.start(Timer::WarmUp, new.warm_up);
            }
            return;
        }
        if old.report != new.report {
            effects.stop(Timer::Report);
            start_if_set(effects, Timer::Report, new.report);
        }
        if self.state != State::Vacant && !self.walk_test && old.time_delay != new.time_delay {
            effects.start(Timer::Delay, new.time_delay);
        }
        if self.fresh && old.repeat != new.repeat {
            effects.stop(Timer::Repeat);
            self.fresh = start_if_set(effects, Timer::Repeat, new.repeat);
        }
        if self.blind != Blind::Nothing && old.dead_time != new.dead_time {
            effects.start(Timer::DeadTime, new.dead_time);
        }
        self.change_window(old, new, effects);
    }

    /// Somebody presses the teach-in button of the unit (LINK-1).
    pub fn handle_teach_in(&mut self, effects: &mut impl Effects<Timer = Timer>) {
        if self.state == State::Off {
            return effects.note(Note::Ignored(Ignored::NoPower));
        }
        effects.send(Payload::TeachIn);
    }

    /// A timer has elapsed.
    pub fn handle_elapsed(
        &mut self,
        settings: &Settings,
        timer: Timer,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        match timer {
            Timer::DeadTime => self.blind = Blind::Nothing,
            Timer::Delay => self.become_vacant(settings, effects),
            Timer::Grace => {
                effects.stop(Timer::Window);
                self.close_window(effects);
            }
            Timer::Repeat => self.fresh = false,
            Timer::Report => self.report(settings, effects),
            Timer::WalkTest => self.walk(settings, false, effects),
            Timer::WarmUp => {
                self.state = State::Unknown;
                effects.note(Note::Unknown);
                effects.start(Timer::Delay, self.delay(settings));
                self.report(settings, effects);
            }
            Timer::Window if settings.flaw == Some(Flaw::WindowNeverCloses) => {}
            Timer::Window => {
                if self.state == State::Vacant {
                    effects.stop(Timer::Grace);
                }
                self.close_window(effects);
            }
        }
    }

    /// What the sensor believes.
    #[must_use]
    pub const fn state(&self) -> State {
        self.state
    }

    /// Whether occupancy carries the mark *bright* (OCC-9).
    #[must_use]
    pub const fn is_bright(&self) -> bool {
        self.bright
    }

    /// Whether the sound window is open.
    #[must_use]
    pub const fn is_window_open(&self) -> bool {
        self.window_open
    }

    /// Whether the walk test is on.
    #[must_use]
    pub const fn is_walk_test(&self) -> bool {
        self.walk_test
    }

    fn become_occupied(
        &mut self,
        settings: &Settings,
        bright: bool,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        self.state = State::Occupied;
        self.bright = bright;
        effects.note(Note::Occupied);
        self.report(settings, effects);
    }

    /// Motion while occupied: reports when the mark falls (OCC-14) or the last report is old
    /// (OCC-13).
    fn handle_motion_again(
        &mut self,
        settings: &Settings,
        ambient: Illuminance,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        if self.bright && well_below_hold_off(settings, ambient) {
            self.bright = false;
            self.report(settings, effects);
        } else if !self.fresh && settings.repeat.is_some_and(|repeat| !repeat.is_zero()) {
            self.report(settings, effects);
        }
    }

    /// A sound that counts restarts the time delay and never the window.
    fn prolong(&mut self, settings: &Settings, effects: &mut impl Effects<Timer = Timer>) {
        effects.start(Timer::Delay, self.delay(settings));
        if settings.flaw == Some(Flaw::SoundRearmsWindow) {
            effects.start(Timer::Window, settings.window);
        }
        self.go_blind(settings, Blind::Sound, effects);
    }

    fn become_vacant(&mut self, settings: &Settings, effects: &mut impl Effects<Timer = Timer>) {
        self.state = State::Vacant;
        effects.note(Note::Vacant);
        if self.fresh {
            self.fresh = false;
            effects.stop(Timer::Repeat);
        }
        self.report(settings, effects);
        if !self.window_open {
            self.bright = false;
        } else if settings.grace.is_zero() {
            effects.stop(Timer::Window);
            self.close_window(effects);
        } else {
            effects.start(Timer::Grace, settings.grace);
        }
    }

    fn close_window(&mut self, effects: &mut impl Effects<Timer = Timer>) {
        self.window_open = false;
        effects.note(Note::WindowClosed);
        if self.state == State::Vacant {
            self.bright = false;
        }
    }

    /// Window and grace follow their settings while the window is open; a new span of zero
    /// ends at this instant.
    fn change_window(
        &mut self,
        old: &Settings,
        new: &Settings,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        if !self.window_open {
            return;
        }
        let vacant = self.state == State::Vacant;
        if !new.sound {
            effects.stop(Timer::Grace);
            effects.stop(Timer::Window);
            return self.close_window(effects);
        }
        if old.window != new.window {
            effects.start(Timer::Window, new.window);
        }
        if vacant && old.grace != new.grace {
            effects.start(Timer::Grace, new.grace);
        }
    }

    /// The walk test begins or ends, and a running time delay takes its new span (SET-1).
    fn walk(&mut self, settings: &Settings, on: bool, effects: &mut impl Effects<Timer = Timer>) {
        if self.walk_test == on {
            return effects.note(Note::Ignored(Ignored::NoChange));
        }
        self.walk_test = on;
        effects.note(Note::WalkTest(on));
        if matches!(self.state, State::Occupied | State::Unknown) {
            effects.start(Timer::Delay, self.delay(settings));
        }
    }

    /// Says the present state, and counts the report interval and R from here.
    fn report(&mut self, settings: &Settings, effects: &mut impl Effects<Timer = Timer>) {
        effects.send(match self.state {
            State::Occupied => Payload::Occupied {
                bright: self.bright,
            },
            State::Vacant => Payload::Vacant,
            State::Off | State::Unknown | State::WarmingUp => Payload::Unknown,
        });
        start_if_set(effects, Timer::Report, settings.report);
        if self.state == State::Occupied {
            self.fresh = start_if_set(effects, Timer::Repeat, settings.repeat);
        }
    }

    #[inline]
    fn go_blind(
        &mut self,
        settings: &Settings,
        to: Blind,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        if !settings.dead_time.is_zero() {
            self.blind = to;
            effects.start(Timer::DeadTime, settings.dead_time);
        }
    }

    #[inline]
    const fn delay(&self, settings: &Settings) -> Span {
        if self.walk_test {
            WALK_TEST_DELAY
        } else {
            settings.time_delay
        }
    }
}

/// What a sensor does not sense during its dead time (ORD-4).
///
/// Sound is the weaker channel: it hides sound only, so that a motion in the midst of noise
/// is never lost.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, PartialEq)]
enum Blind {
    /// After motion.
    MotionAndSound,
    /// No dead time runs.
    #[default]
    Nothing,
    /// After a sound.
    Sound,
}

slots! {
    /// The timers of a sensor, in the order of their names.
    pub enum Timer {
        /// When the sensor senses again after an event (ORD-4).
        DeadTime = "dead time",
        /// When the sensor becomes vacant: the time delay T.
        Delay = "delay",
        /// When sound can no longer bring occupancy back: the grace G.
        Grace = "grace",
        /// When motion is worth another report: R.
        Repeat = "repeat",
        /// When the state is reported again: H.
        Report = "report",
        /// When the walk test ends by itself (SET-2).
        WalkTest = "walk test",
        /// When the sensor has warmed up (OCC-10).
        WarmUp = "warm-up",
        /// When sound no longer counts: the window W.
        Window = "window",
    }
}

/// What is set on an occupancy sensor.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Settings {
    /// Dual technology: the unit has a microphone.
    pub sound: bool,
    /// Time delay T: vacant this long after the last event that counts; 30 s – 30 min.
    pub time_delay: Span,
    /// Sound window W: sound counts this long after the last motion; zero, or T – 120 min.
    pub window: Span,
    /// Sound grace G: sound may bring occupancy back this long after T; 0 – 60 s.
    pub grace: Span,
    /// Report interval H; `None`: reports on change only.
    pub report: Option<Span>,
    /// Repeat R: motion while occupied repeats *occupied* when the last report is older;
    /// `None`: never.
    pub repeat: Option<Span>,
    /// Warm-up after power comes: nothing is sensed and nothing reported.
    pub warm_up: Span,
    /// Dead time: the sensor is blind this long after each event; zero: never.
    pub dead_time: Span,
    /// Ambient hold-off: motion above this illuminance is reported with the mark *bright*.
    pub hold_off: Option<Illuminance>,
    /// A seeded flaw; `None` in every room that is meant.
    pub flaw: Option<Flaw>,
}

impl Default for Settings {
    /// The defaults of the trade (common practice; the dead time is IEC 62386-303's 100 ms).
    fn default() -> Self {
        Self {
            sound: false,
            time_delay: Span::from_minutes(15),
            window: Span::from_minutes(60),
            grace: Span::ZERO,
            report: Some(Span::from_minutes(4)),
            repeat: Some(Span::from_seconds(60)),
            warm_up: Span::from_seconds(45),
            dead_time: Span::from_ms(100),
            hold_off: None,
            flaw: None,
        }
    }
}

/// Whether motion in this light is reported with the mark *bright* (OCC-9).
#[inline]
fn above_hold_off(settings: &Settings, ambient: Illuminance) -> bool {
    settings.hold_off.is_some_and(|limit| ambient > limit)
}

/// Whether this light is below 0.9 × hold-off (OCC-14), or no hold-off is set any more.
fn well_below_hold_off(settings: &Settings, ambient: Illuminance) -> bool {
    settings.hold_off.is_none_or(|limit| {
        u64::from(ambient.hundredths()) * 10 < u64::from(limit.hundredths()) * 9
    })
}

/// The time delay during the walk test (SET-2).
const WALK_TEST_DELAY: Span = Span::from_seconds(5);
/// The walk test ends by itself after this long (SET-2).
const WALK_TEST: Span = Span::from_minutes(60);

#[cfg(test)]
mod tests;
