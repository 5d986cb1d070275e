//! What is set on a controller: what it listens to, its links and its outputs.
//!
//! Indices are local to the controller, in the sorted order of the names (ORD-1).

use alloc::vec::Vec;

use crate::{Flaw, Illuminance, Level, Points, Span, switch};

/// What is set on a controller.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Settings {
    /// The sources it may hear, sorted by name.
    pub heard: Vec<Heard>,
    /// The buttons it may hear, sorted by (source, number).
    pub buttons: Vec<Button>,
    /// Every link there is or may be taught, sorted by (source, button, output, role).
    pub links: Vec<Link>,
    /// Its outputs, sorted by name.
    pub outputs: Vec<Output>,
    /// How long a button is down before a tap becomes a hold (SW-0).
    pub hold_threshold: Span,
    /// Ramp time over the full range (SW-5).
    pub ramp: Span,
    /// How long a learning window stays open (LINK-1).
    pub learning: Span,
    /// A seeded flaw; `None` in every room that is meant.
    pub flaw: Option<Flaw>,
}

/// A source that the controller may hear.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Heard {
    /// What kind of source it is.
    pub kind: HeardKind,
    /// Lost when not heard for this long (3.2 × its report interval); `None`: never lost.
    pub silence: Option<Span>,
}

/// The kinds of source, as a controller tells them apart.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum HeardKind {
    /// An occupancy sensor.
    Occupancy,
    /// A wall unit.
    Switch,
    /// A key-card reader; `captive`: without a card nothing it is linked to turns on (CARD-5).
    Card {
        /// Whether a missing card holds its outputs off.
        captive: bool,
    },
    /// A daylight sensor.
    Daylight,
    /// A time clock.
    Clock,
    /// Normal power of the lighting circuit.
    NormalPower,
    /// The fire alarm.
    FireAlarm,
    /// Demand response.
    DemandResponse,
}

/// One button of a wall unit that the controller may hear.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Button {
    /// The wall unit, as an index into [`Settings::heard`].
    pub heard: u8,
    /// Its number on the unit, as its frames carry it.
    pub number: u8,
    /// What it is made for.
    pub kind: switch::Button,
}

/// A tie between a source (or one of its buttons) and an output.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Link {
    /// The source, as an index into [`Settings::heard`].
    pub heard: u8,
    /// The output, as an index into [`Settings::outputs`].
    pub output: u8,
    /// What the source may do to the output.
    pub role: Role,
    /// Occupancy: the link stays occupied this long after *vacant*.
    pub run_on: Span,
    /// Partial-off: the level the output falls to when the last such link becomes vacant.
    pub setback: Option<Level>,
    /// What a lost source counts as (OUT-11).
    pub lost: Lost,
    /// Whether the link is stored from the start; `false`: it may be taught (LINK-1).
    pub stored: bool,
}

/// What a source may do to an output.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub enum Role {
    /// Occupancy turns it on at this level.
    AutoOn(Level),
    /// Occupancy turns it on in part, at this level.
    PartialOn(Level),
    /// Occupancy never turns it on, vacancy turns it off.
    ManualOn,
    /// The button of this index in [`Settings::buttons`] works it by its kind.
    Button(u8),
    /// The scene button of this index brings it to this level; dark: an off by hand.
    Scene(u8, Level),
    /// The key card: this welcome level.
    Card(Level),
    /// The daylight sensor moves its limit.
    Limit(Loop),
    /// Normal power or fire alarm: emergency light (OUT-13).
    Emergency,
    /// Demand response sheds it (OUT-14).
    Shed,
    /// The clock sweeps it off, with an override of at most this span (CLK-2).
    Sweep {
        /// Warning before the sweep turns off; zero: none.
        warning: Span,
        /// The longest override after a press.
        longest_override: Span,
    },
    /// The clock turns it on at opening, at this level (CLK-3).
    Opening(Level),
    /// The clock forbids auto-on after hours (CLK-3).
    NoAutoOn,
    /// After hours, vacancy turns it off this long after setback (CLK-3).
    OffAfterHours(Span),
}

/// What a lost source counts as.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, PartialEq)]
pub enum Lost {
    /// As vacant, with run-on, warning and all.
    #[default]
    Vacant,
    /// As occupied.
    Occupied,
}

/// The constants of a daylight loop (DAY-3 to DAY-6).
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Loop {
    /// What the photosensor looks at.
    pub kind: LoopKind,
    /// The illuminance to keep at the task.
    pub set_point: Illuminance,
    /// The calibration readings; `None`: never calibrated, does not limit (DAY-5).
    pub calibration: Option<Calibration>,
    /// A target that moves by less than this share of the set-point is left alone.
    pub dead_band_percent: u8,
    /// How long the limit takes down over the full range (DAY-6).
    pub fade_down: Span,
    /// How long the limit takes up over the full range.
    pub fade_up: Span,
    /// Dim-to-dark delay (DAY-7); `None`: never dark by daylight.
    pub dark_after: Option<Span>,
}

/// What a photosensor sees.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum LoopKind {
    /// Electric light and daylight (DAY-3).
    Closed,
    /// Daylight only (DAY-4).
    Open,
}

/// The two readings that tie what a photosensor sees to the task (DAY-5).
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Calibration {
    /// Sensor, electric light full and no daylight.
    pub night_sensor: Illuminance,
    /// Task, electric light full and no daylight.
    pub night_task: Illuminance,
    /// Sensor, daylight only.
    pub day_sensor: Illuminance,
    /// Task, daylight only.
    pub day_task: Illuminance,
}

/// How an output drives its load.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Drive {
    /// A relay: on or off.
    Relay,
    /// 0–10 V with a relay.
    ZeroToTen,
    /// Forward-phase dimming.
    ForwardPhase,
    /// Reverse-phase dimming.
    ReversePhase,
    /// The switched half of a receptacle.
    Receptacle,
    /// A dry contact.
    Contact,
}

impl Drive {
    /// Whether the drive can show a level between off and full.
    #[must_use]
    pub const fn dims(self) -> bool {
        matches!(
            self,
            Self::ZeroToTen | Self::ForwardPhase | Self::ReversePhase
        )
    }

    /// Whether the drive serves lighting (warnings, fades and grace apply).
    #[must_use]
    pub const fn lights(self) -> bool {
        !matches!(self, Self::Receptacle | Self::Contact)
    }
}

/// What is set on an output.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Output {
    /// How it drives its load.
    pub drive: Drive,
    /// Outputs with the same number share a relay (OUT-2).
    pub relay: Option<u8>,
    /// Outputs with the same number share one asked level and move together (DAY-8).
    pub group: Option<u8>,
    /// Least level while on; drives that do not dim have 100 %.
    pub low_trim: Level,
    /// Highest level.
    pub high_trim: Level,
    /// Fade time on and up.
    pub fade_on: Span,
    /// Fade time off and down.
    pub fade_off: Span,
    /// Warning before an automatic off (OUT-10).
    pub warning: Option<Warning>,
    /// Re-entry grace (OUT-19).
    pub grace: Span,
    /// Press hold L (OUT-21); zero: none.
    pub press_hold: Span,
    /// From setback to off once vacant (OUT-8); `None`: never.
    pub off_after: Option<Span>,
    /// Egress floor (OUT-13); `None`: not an egress output.
    pub floor: Option<Level>,
    /// How long normal light must be proven before emergency light ends.
    pub proven: Span,
    /// How many points demand response takes; `None`: the load is dropped (`shed = "off"`).
    pub shed: Option<Points>,
    /// How long a shed takes.
    pub shed_fade: Span,
    /// Least time on (OUT-16).
    pub minimum_on: Span,
    /// Least time off (OUT-16).
    pub minimum_off: Span,
    /// What happens when power returns (OUT-12).
    pub power_up: PowerUp,
    /// Reports a relay that does not follow, within one poll of this span (OUT-23).
    pub feedback: Option<Span>,
    /// Links the output can be taught (LINK-1).
    pub table: u8,
    /// Whether a contact is closed without power (VENT-4).
    pub rest_closed: bool,
}

impl Output {
    /// Where a shed of the output's own points brings its high trim, were no light there before:
    /// never under the low trim nor the floor (OUT-14). `None`: the load is dropped.
    #[must_use]
    pub fn shed_to(&self) -> Option<Level> {
        let lowered = self.high_trim.less(self.shed?).max(self.low_trim);
        Some(lowered.max(self.floor.unwrap_or(Level::OFF)))
    }
}

impl Loop {
    /// Whether the loop leaves full light as it is where no light is (DAY-4): open, and without
    /// daylight the set-point takes all that the lamps bring to the task.
    #[must_use]
    pub fn is_idle_in_the_dark(&self) -> bool {
        let enough = |night: &Calibration| self.set_point >= night.night_task;
        self.kind == LoopKind::Open && self.calibration.as_ref().is_none_or(enough)
    }

    /// The limit that an open loop comes to while its sensor sees this, dead band apart (DAY-4);
    /// `None`: closed, or never calibrated.
    #[must_use]
    pub fn standing_limit(&self, seen: Illuminance) -> Option<Level> {
        let calibration = self.calibration.as_ref()?;
        (self.kind == LoopKind::Open)
            .then(|| super::limit::limit_for(self, calibration, seen.hundredths()))
    }

    /// The same loop, whatever its day readings are.
    #[must_use]
    pub fn without_day(&self) -> Self {
        let calibration = self.calibration.as_ref().map(|night| Calibration {
            day_sensor: Illuminance::default(),
            day_task: Illuminance::default(),
            ..night.clone()
        });
        Self {
            calibration,
            ..self.clone()
        }
    }
}

/// How an output warns before an automatic off.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Warning {
    /// Falls to `level` (if higher) for `span`, 10 – 300 s.
    Dim {
        /// How long.
        span: Span,
        /// The warning level.
        level: Level,
    },
    /// Goes dark for 0.5 s, then stays for the rest of `span`.
    Blink {
        /// How long.
        span: Span,
    },
}

/// What an output does when power returns.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, PartialEq)]
pub enum PowerUp {
    /// As it was.
    #[default]
    Last,
    /// On.
    On,
    /// Off.
    Off,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            heard: Vec::new(),
            buttons: Vec::new(),
            links: Vec::new(),
            outputs: Vec::new(),
            hold_threshold: Span::from_ms(500),
            ramp: Span::from_seconds(4),
            learning: Span::from_seconds(30),
            flaw: None,
        }
    }
}

impl Output {
    /// An output with the defaults of its drive.
    #[must_use]
    pub fn new(drive: Drive) -> Self {
        let dims = drive.dims();
        Self {
            drive,
            relay: None,
            group: None,
            low_trim: if dims {
                Level::from_percent(10)
            } else {
                Level::FULL
            },
            high_trim: Level::FULL,
            fade_on: if dims {
                Span::from_seconds(1)
            } else {
                Span::ZERO
            },
            fade_off: if dims {
                Span::from_seconds(2)
            } else {
                Span::ZERO
            },
            warning: None,
            grace: Span::ZERO,
            press_hold: if drive.lights() {
                Span::from_minutes(15)
            } else {
                Span::ZERO
            },
            off_after: None,
            floor: None,
            proven: Span::from_seconds(10),
            shed: Some(Points::from_hundredths(1_500)),
            shed_fade: Span::from_seconds(60),
            minimum_on: if matches!(drive, Drive::Contact) {
                Span::from_minutes(5)
            } else {
                Span::ZERO
            },
            minimum_off: Span::ZERO,
            power_up: PowerUp::Last,
            feedback: None,
            table: 32,
            rest_closed: false,
        }
    }
}

impl Default for Loop {
    fn default() -> Self {
        Self {
            kind: LoopKind::Closed,
            set_point: Illuminance::from_lux(500),
            calibration: None,
            dead_band_percent: 10,
            fade_down: Span::from_seconds(30),
            fade_up: Span::from_seconds(10),
            dark_after: None,
        }
    }
}
