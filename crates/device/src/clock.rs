//! A time clock. The calendar (days, holidays, daylight saving) is evaluated outside, in
//! civil time; the clock hears each entry when it falls due and keeps time through power cuts.
//!
//! Invariants: the reserve runs while the clock keeps time without power; a clock that has
//! lost the time counts as in hours and runs nothing until it is set (CLK-4).

use core::mem;

use crate::effects::start_if_set;
use crate::{Effects, Fault, Ignored, Note, Payload, Span};

/// Says when opening hours begin and end and when a sweep is due.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Clock {
    in_hours: bool,
    /// Whether the time is lost.
    lost: bool,
    /// Whether a sweep fell due while the power was cut.
    missed_sweep: bool,
    /// Whether the power is cut.
    cut: bool,
}

impl Clock {
    /// A clock that shows the right time.
    #[must_use]
    pub const fn new(settings: &Settings) -> Self {
        Self {
            in_hours: settings.starts_in_hours,
            lost: false,
            missed_sweep: false,
            cut: false,
        }
    }

    /// The run begins: listeners take hours as open, so the clock speaks up when they are not.
    pub fn handle_start(&mut self, settings: &Settings, effects: &mut impl Effects<Timer = Timer>) {
        if self.in_hours {
            start_if_set(effects, Timer::Report, settings.report);
        } else {
            self.report(settings, effects);
        }
    }

    /// A calendar entry falls due.
    pub fn handle_due(
        &mut self,
        settings: &Settings,
        entry: Entry,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        if self.lost {
            return effects.note(Note::Ignored(Ignored::TimeLost));
        }
        let changed = match entry {
            Entry::Opening => !mem::replace(&mut self.in_hours, true),
            Entry::Closing => mem::replace(&mut self.in_hours, false),
            Entry::Sweep => {
                if self.cut {
                    self.missed_sweep = true;
                    effects.note(Note::Ignored(Ignored::NoPower));
                } else {
                    effects.send(Payload::Sweep);
                }
                return;
            }
        };
        if self.cut {
            effects.note(Note::Ignored(Ignored::NoPower));
        } else if changed {
            self.report(settings, effects);
        } else {
            effects.note(Note::Ignored(Ignored::NoChange));
        }
    }

    /// The clock is set right by hand; `in_hours`: the moment lies in opening hours.
    pub fn handle_clock_set(
        &mut self,
        settings: &Settings,
        in_hours: bool,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        if self.cut {
            return effects.note(Note::Ignored(Ignored::NoPower));
        }
        if self.lost {
            self.lost = false;
            effects.note(Note::FaultEnded(Fault::TimeLost));
        } else if self.in_hours == in_hours {
            return effects.note(Note::Ignored(Ignored::NoChange));
        }
        self.in_hours = in_hours;
        self.report(settings, effects);
    }

    /// Power goes (`false`), and the reserve keeps the time; or power comes back, and the
    /// clock says where it stands and runs the sweep that it missed (CLK-4).
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
        if !on {
            effects.stop(Timer::Report);
            if !self.lost && !start_if_set(effects, Timer::Reserve, Some(settings.reserve)) {
                self.lose_time();
            }
            return;
        }
        effects.stop(Timer::Reserve);
        if self.lost {
            effects.note(Note::Fault(Fault::TimeLost));
        }
        self.report(settings, effects);
        if mem::take(&mut self.missed_sweep) {
            effects.send(Payload::Sweep);
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
            if !self.lost && old.reserve != new.reserve {
                effects.start(Timer::Reserve, new.reserve);
            }
        } else if old.report != new.report {
            effects.stop(Timer::Report);
            start_if_set(effects, Timer::Report, new.report);
        }
    }

    /// Somebody presses the teach-in button of the clock (LINK-1).
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
        match timer {
            Timer::Report => self.report(settings, effects),
            Timer::Reserve => self.lose_time(),
        }
    }

    /// Whether the clock counts as in opening hours.
    #[must_use]
    pub const fn is_in_hours(&self) -> bool {
        self.in_hours
    }

    /// Whether the clock has lost the time.
    #[must_use]
    pub const fn is_time_lost(&self) -> bool {
        self.lost
    }

    /// The reserve is spent. Nothing can be said without power; it is said on return.
    const fn lose_time(&mut self) {
        self.lost = true;
        self.in_hours = true;
        self.missed_sweep = false;
    }

    /// Says the present state, and counts the report interval from here.
    fn report(&mut self, settings: &Settings, effects: &mut impl Effects<Timer = Timer>) {
        effects.send(if self.lost {
            Payload::TimeLost
        } else if self.in_hours {
            Payload::InHours
        } else {
            Payload::AfterHours
        });
        start_if_set(effects, Timer::Report, settings.report);
    }
}

/// The timers of a time clock, in the order of their names.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Timer {
    /// When the state is reported again.
    Report,
    /// When a clock without power loses the time (CLK-4).
    Reserve,
}

impl Timer {
    /// How many timers the device has.
    pub const COUNT: u8 = 2;

    /// Every timer, in order.
    pub const ALL: [Self; Self::COUNT as usize] = [Self::Report, Self::Reserve];

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
            Self::Reserve => "reserve",
        }
    }
}

/// What is set on a time clock.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Settings {
    /// How long the clock keeps time without power (CLK-4).
    pub reserve: Span,
    /// Report interval of its state; `None`: reports on change only.
    pub report: Option<Span>,
    /// Whether the run starts in opening hours.
    pub starts_in_hours: bool,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            reserve: Span::from_hours(10),
            report: Some(Span::from_minutes(4)),
            starts_in_hours: true,
        }
    }
}

/// A calendar entry that falls due.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Entry {
    /// Opening hours begin.
    Opening,
    /// Opening hours end.
    Closing,
    /// An off sweep.
    Sweep,
}
