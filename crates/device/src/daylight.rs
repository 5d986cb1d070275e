//! A daylight sensor: reports illuminance and never sets a level (DAY-1, DAY-2).
//!
//! Each timer of this sensor asks for a reading: whoever drives it passes what the sensor sees
//! at that moment. A sample that reports nothing says nothing.
//!
//! Invariant: two reports are at least the interval apart.

use crate::effects::start_if_set;
use crate::{Effects, Ignored, Illuminance, Note, Payload, Span};

/// Samples the light and reports it when it has moved or has been quiet for long.
#[derive(Clone, Debug, Default, Eq, Hash, PartialEq)]
pub struct Sensor {
    /// What was reported last; `None`: nothing since it got power.
    last: Option<Illuminance>,
    /// Whether the power is cut.
    cut: bool,
}

impl Sensor {
    /// A sensor of a settled room.
    #[must_use]
    pub const fn new(_settings: &Settings) -> Self {
        Self {
            last: None,
            cut: false,
        }
    }

    /// The run begins: the sensor takes its first sample at this instant.
    pub fn handle_start(
        &mut self,
        _settings: &Settings,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        effects.start(Timer::Interval, Span::ZERO);
    }

    /// Power goes (`false`) or comes back, with a sample at once.
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
        self.last = None;
        if on {
            self.handle_start(settings, effects);
        } else {
            effects.stop(Timer::Interval);
            effects.stop(Timer::Report);
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
        if self.cut {
            return;
        }
        if old.interval != new.interval {
            effects.stop(Timer::Interval);
            start_if_set(effects, Timer::Interval, Some(new.interval));
        }
        if old.report != new.report {
            effects.stop(Timer::Report);
            start_if_set(effects, Timer::Report, Some(new.report));
        }
    }

    /// Somebody presses the teach-in button of the sensor (LINK-1).
    pub fn handle_teach_in(&mut self, effects: &mut impl Effects<Timer = Timer>) {
        if self.cut {
            return effects.note(Note::Ignored(Ignored::NoPower));
        }
        effects.send(Payload::TeachIn);
    }

    /// A timer has elapsed, and the sensor sees this.
    pub fn handle_elapsed(
        &mut self,
        settings: &Settings,
        timer: Timer,
        seen: Illuminance,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        match timer {
            Timer::Interval => self.handle_sample(settings, seen, effects),
            Timer::Report => self.report(settings, seen, effects),
        }
    }

    /// What the sensor reported last; `None`: nothing since it got power.
    #[must_use]
    pub const fn reported(&self) -> Option<Illuminance> {
        self.last
    }

    fn handle_sample(
        &mut self,
        settings: &Settings,
        seen: Illuminance,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        if self.last.is_none_or(|last| settings.has_moved(last, seen)) {
            self.report(settings, seen, effects);
        } else {
            start_if_set(effects, Timer::Interval, Some(settings.interval));
        }
    }

    /// Says what is seen; the next sample and the next report count from here.
    fn report(
        &mut self,
        settings: &Settings,
        seen: Illuminance,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        self.last = Some(seen);
        effects.note(Note::Measured(seen));
        effects.send(Payload::Illuminance(seen));
        start_if_set(effects, Timer::Interval, Some(settings.interval));
        start_if_set(effects, Timer::Report, Some(settings.report));
    }
}

/// The timers of a daylight sensor, in the order of their names.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Timer {
    /// When the next sample is taken.
    Interval,
    /// When a report is due even without a change.
    Report,
}

impl Timer {
    /// How many timers the device has.
    pub const COUNT: u8 = 2;

    /// Every timer, in order.
    pub const ALL: [Self; Self::COUNT as usize] = [Self::Interval, Self::Report];

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
            Self::Interval => "interval",
            Self::Report => "report",
        }
    }
}

/// What is set on a daylight sensor.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Settings {
    /// A change of more than this many per cent of the last report is reported; 1 – 50.
    pub change_percent: u8,
    /// The least change that is reported.
    pub change_least: Illuminance,
    /// A report is due this long after the last one even without a change.
    pub report: Span,
    /// The sensor measures, and may report, this often.
    pub interval: Span,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            change_percent: 5,
            change_least: Illuminance::from_lux(5),
            report: Span::from_seconds(30),
            interval: Span::from_seconds(1),
        }
    }
}

impl Settings {
    /// Whether the light has moved by more than the share and at least the least change.
    fn has_moved(&self, last: Illuminance, seen: Illuminance) -> bool {
        let change = last.hundredths().abs_diff(seen.hundredths());
        change >= self.change_least.hundredths()
            && u64::from(change) * 100
                > u64::from(last.hundredths()) * u64::from(self.change_percent)
    }
}
