//! Two-state signal sources and demand response: normal power, fire alarm, shed.
//!
//! Invariant: the report interval runs while the source has power.

use crate::effects::start_if_set;
use crate::{Effects, Ignored, Note, Payload, Points, Signal, Span};

/// Reports what it watches on every change.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Source {
    state: State,
    /// Whether the power of the source itself is cut.
    cut: bool,
}

/// What a signal source sees.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum State {
    /// Nothing is asked for, or the contact is open.
    Off,
    /// The contact is closed: normal power is present, the fire alarm sounds.
    On,
    /// Demand response asks for this many points; `None`: the output's own.
    Shed(Option<Points>),
}

impl Source {
    /// A source at rest: normal power present, no alarm, no shed.
    #[must_use]
    pub const fn new(settings: &Settings) -> Self {
        Self {
            state: match settings.kind {
                Kind::NormalPower => State::On,
                Kind::FireAlarm | Kind::DemandResponse => State::Off,
            },
            cut: false,
        }
    }

    /// The run begins: the report interval starts in the settled room.
    pub fn handle_start(&mut self, settings: &Settings, effects: &mut impl Effects<Timer = Timer>) {
        start_if_set(effects, Timer::Report, settings.report);
    }

    /// The watched contact closes or opens. At demand response it calls for the outputs' own
    /// points, or ends the shed.
    pub fn handle_signal(
        &mut self,
        settings: &Settings,
        on: bool,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        let state = match settings.kind {
            _ if !on => State::Off,
            Kind::NormalPower | Kind::FireAlarm => State::On,
            Kind::DemandResponse => State::Shed(None),
        };
        self.change(settings, state, effects);
    }

    /// Demand response calls for this many points (`None`: the output's own) or ends. Other
    /// kinds of source do not know a shed.
    pub fn handle_shed(
        &mut self,
        settings: &Settings,
        points: Option<Points>,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        if settings.kind == Kind::DemandResponse {
            self.change(settings, State::Shed(points), effects);
        } else {
            effects.note(Note::Ignored(Ignored::NoChange));
        }
    }

    /// Demand response ends.
    pub fn handle_shed_end(
        &mut self,
        settings: &Settings,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        if settings.kind == Kind::DemandResponse {
            self.change(settings, State::Off, effects);
        } else {
            effects.note(Note::Ignored(Ignored::NoChange));
        }
    }

    /// Power of the source itself goes (`false`) or comes back, with a report of its state.
    pub fn handle_power(
        &mut self,
        settings: &Settings,
        on: bool,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        if on != self.cut {
            return effects.note(Note::Ignored(Ignored::NoChange));
        }
        self.cut = !on;
        effects.note(Note::Power(on));
        if on {
            self.report(settings, effects);
        } else {
            effects.stop(Timer::Report);
        }
    }

    /// Settings are changed on site: a running timer restarts with its new span (SET-1).
    pub fn handle_settings(
        &mut self,
        old: &Settings,
        new: &Settings,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        effects.note(Note::SettingChanged);
        if !self.cut && old.report != new.report {
            effects.stop(Timer::Report);
            start_if_set(effects, Timer::Report, new.report);
        }
    }

    /// Somebody presses the teach-in button of the source (LINK-1).
    pub fn handle_teach_in(&mut self, effects: &mut impl Effects<Timer = Timer>) {
        if self.cut {
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
        let Timer::Report = timer;
        self.report(settings, effects);
    }

    /// What the source sees.
    #[must_use]
    pub const fn state(&self) -> State {
        self.state
    }

    /// Whether its signal is on: power present, alarm sounding, shed called for.
    #[must_use]
    pub const fn is_on(&self) -> bool {
        !matches!(self.state, State::Off)
    }

    /// Without power the source keeps what it sees and says it on return.
    fn change(
        &mut self,
        settings: &Settings,
        state: State,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        let same = self.state == state;
        self.state = state;
        if same {
            effects.note(Note::Ignored(Ignored::NoChange));
        } else if self.cut {
            effects.note(Note::Ignored(Ignored::NoPower));
        } else {
            self.report(settings, effects);
        }
    }

    /// Says the present state, and counts the report interval from here.
    fn report(&mut self, settings: &Settings, effects: &mut impl Effects<Timer = Timer>) {
        effects.send(match (settings.kind, self.state) {
            (Kind::NormalPower, state) => Payload::Signal(Signal::NormalPower, state == State::On),
            (Kind::FireAlarm, state) => Payload::Signal(Signal::FireAlarm, state == State::On),
            (Kind::DemandResponse, State::Shed(points)) => Payload::Shed(points),
            (Kind::DemandResponse, State::Off | State::On) => Payload::ShedEnd,
        });
        start_if_set(effects, Timer::Report, settings.report);
    }
}

/// The timers of a signal source.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Timer {
    /// When the state is reported again.
    Report,
}

impl Timer {
    /// How many timers the device has.
    pub const COUNT: u8 = 1;

    /// Every timer, in order.
    pub const ALL: [Self; Self::COUNT as usize] = [Self::Report];

    /// The place of the timer among those of its device.
    #[must_use]
    pub const fn number(self) -> u8 {
        self as u8
    }

    /// The timer at this place.
    #[must_use]
    pub fn from_number(number: u8) -> Option<Self> {
        Self::ALL.get(usize::from(number)).copied()
    }

    /// The name of the slot, by which timers of one instant are ordered (ORD-1).
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Report => "report",
        }
    }
}

/// What is set on a signal source.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Settings {
    /// What the source watches.
    pub kind: Kind,
    /// Report interval of its state; `None`: reports on change only.
    pub report: Option<Span>,
}

/// What a signal source watches.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Kind {
    /// Normal power of the lighting circuit; at rest: present.
    NormalPower,
    /// The fire alarm; at rest: silent.
    FireAlarm,
    /// Demand response; at rest: no shed.
    DemandResponse,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            kind: Kind::NormalPower,
            report: Some(Span::from_minutes(4)),
        }
    }
}
