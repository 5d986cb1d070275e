//! Civil time of the site: from what the clock on the wall shows to instants of a run.
//!
//! Invariant: the rules of every zone come from the bundled database, never from the machine.

use device::Span;
use jiff::civil::{Date, DateTime, Time};
use jiff::tz::{AmbiguousOffset, TimeZone, TimeZoneDatabase};
use jiff::{Timestamp, ToSpan};
use sim::Instant;
use thiserror::Error;

use super::time::Day;

/// The civil time of a run: its zone, its first day and the moment at which it starts.
#[derive(Clone, Debug, PartialEq)]
pub struct Civil {
    zone: TimeZone,
    first_day: Date,
    origin: Timestamp,
}

/// Why a civil time does not name an instant of the run.
#[derive(Clone, Debug, Eq, Error, PartialEq)]
pub enum CivilError {
    /// No such zone in the bundled database.
    #[error("`{0}` is not a time zone")]
    NoZone(String),
    /// The clocks jump over this time.
    #[error(
        "{} is skipped: the clocks go forward to {}",
        say(wanted),
        say(resumes)
    )]
    Skipped {
        /// The time that was asked for.
        wanted: DateTime,
        /// The first moment after the gap.
        resumes: DateTime,
    },
    /// The second occurrence of a time that comes once.
    #[error("{} comes only once", say(.0))]
    OnlyOnce(DateTime),
    /// Earlier than the start of the run.
    #[error("{} is before the start of the scenario, {}", say(wanted), say(start))]
    BeforeStart {
        /// The time that was asked for.
        wanted: DateTime,
        /// The start.
        start: DateTime,
    },
    /// Farther away than the calendar reaches.
    #[error("the calendar does not reach that far")]
    TooFar,
}

/// Which occurrence of a time that comes twice in one night is meant.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum Occurrence {
    /// The first, and the only one of a time that comes once.
    #[default]
    First,
    /// The second.
    Second,
}

impl Civil {
    /// Civil time in `zone` for a run that starts at `start`.
    pub fn new(zone: &str, start: DateTime) -> Result<Self, CivilError> {
        let zone = zone_of(zone)?;
        let origin = strict(&zone, start, Occurrence::First)?;
        Ok(Self {
            zone,
            first_day: start.date(),
            origin,
        })
    }

    /// Day `number` of the run; day 1 is the day of the start.
    pub fn day(&self, number: u32) -> Result<Date, CivilError> {
        let days = i64::from(number.saturating_sub(1));
        self.first_day
            .checked_add(days.days())
            .map_err(|_| CivilError::TooFar)
    }

    /// The instant at which the clock on the wall shows `wanted`.
    pub fn instant(&self, wanted: DateTime, which: Occurrence) -> Result<Instant, CivilError> {
        let timestamp = strict(&self.zone, wanted, which)?;
        self.since_start(timestamp).ok_or(CivilError::BeforeStart {
            wanted,
            start: self.start(),
        })
    }

    /// The instant at which the clock on the wall shows `time` on `day`; without a day, on the
    /// first.
    pub(super) fn clock(
        &self,
        day: Day,
        time: Span,
        which: Occurrence,
    ) -> Result<Instant, CivilError> {
        let date = match day {
            Day::Same => self.first_day,
            Day::Number(number) => self.day(number)?,
            Day::Date(date) => date,
        };
        let wanted = time_of_day(date, time).ok_or(CivilError::TooFar)?;
        self.instant(wanted, which)
    }

    /// The instant at which a calendar entry of `wanted` falls due (CLK-1): a time that is
    /// skipped at the first moment after the gap, one that comes twice the first time. `None`
    /// before the start of the run.
    #[must_use]
    pub fn due(&self, wanted: DateTime) -> Option<Instant> {
        self.since_start(lenient(&self.zone, wanted)?)
    }

    /// What the clock on the wall shows at `instant`.
    #[must_use]
    pub fn at(&self, instant: Instant) -> DateTime {
        self.zoned(instant).datetime()
    }

    /// Date, time and zone at `instant`.
    #[must_use]
    pub fn zoned(&self, instant: Instant) -> jiff::ZonedDateTime {
        let ms = i64::try_from(instant.as_ms()).unwrap_or(i64::MAX);
        self.origin
            .checked_add(jiff::SignedDuration::from_millis(ms))
            .unwrap_or(Timestamp::MAX)
            .to_zoned_datetime(self.zone.clone())
    }

    /// What the clock on the wall shows at the start.
    #[must_use]
    pub fn start(&self) -> DateTime {
        self.at(Instant::START)
    }

    /// The first day of the run.
    #[must_use]
    pub fn first_day(&self) -> Date {
        self.first_day
    }

    /// What the clock on the wall shows, as short as it can be said: `10:05:00`, from the
    /// second day on `day 2 10:05:00`, with milliseconds only where there are any.
    #[must_use]
    pub fn say(&self, instant: Instant) -> String {
        let shown = self.at(instant);
        let time = say_time(shown.time());
        match self.day_number(shown.date()) {
            1 => time,
            day => format!("day {day} {time}"),
        }
    }

    /// The number of a day of the run.
    #[must_use]
    pub fn day_number(&self, date: Date) -> i64 {
        self.first_day.duration_until(date).as_hours() / 24 + 1
    }

    fn since_start(&self, timestamp: Timestamp) -> Option<Instant> {
        let ms = timestamp.duration_since(self.origin).as_millis();
        u64::try_from(ms).ok().map(Instant::from_ms)
    }
}

/// Date and time as the files write them.
fn say(shown: &DateTime) -> String {
    format!("{} {}", shown.date(), say_time(shown.time()))
}

/// A time of day with seconds, and milliseconds only where there are any.
#[must_use]
pub fn say_time(time: Time) -> String {
    let (hour, minute, second) = (time.hour(), time.minute(), time.second());
    match time.millisecond() {
        0 => format!("{hour:02}:{minute:02}:{second:02}"),
        ms => format!("{hour:02}:{minute:02}:{second:02}.{ms:03}"),
    }
}

/// Midnight of `date`, `since` later as the clock on the wall counts.
pub(crate) fn time_of_day(date: Date, since: Span) -> Option<DateTime> {
    let ms = i64::try_from(since.as_ms()).ok()?;
    date.at(0, 0, 0, 0).checked_add(ms.milliseconds()).ok()
}

/// The zone of this name in the bundled database.
pub fn zone_of(name: &str) -> Result<TimeZone, CivilError> {
    TimeZoneDatabase::bundled()
        .get(name)
        .map_err(|_| CivilError::NoZone(name.to_owned()))
}

fn strict(zone: &TimeZone, wanted: DateTime, which: Occurrence) -> Result<Timestamp, CivilError> {
    let ambiguous = zone.to_ambiguous_timestamp(wanted);
    let timestamp = match (ambiguous.offset(), which) {
        (AmbiguousOffset::Gap { .. }, _) => {
            let resumes = lenient(zone, wanted).ok_or(CivilError::TooFar)?;
            return Err(CivilError::Skipped {
                wanted,
                resumes: zone.to_datetime(resumes),
            });
        }
        (AmbiguousOffset::Unambiguous { .. }, Occurrence::Second) => {
            return Err(CivilError::OnlyOnce(wanted));
        }
        (AmbiguousOffset::Fold { .. }, Occurrence::Second) => ambiguous.later(),
        (_, Occurrence::First) => ambiguous.earlier(),
    };
    timestamp.map_err(|_| CivilError::TooFar)
}

fn lenient(zone: &TimeZone, wanted: DateTime) -> Option<Timestamp> {
    let ambiguous = zone.to_ambiguous_timestamp(wanted);
    match ambiguous.offset() {
        // The first moment after a gap is the transition itself.
        AmbiguousOffset::Gap { .. } => {
            let before = ambiguous.earlier().ok()?;
            zone.following(before).next().map(|found| found.timestamp())
        }
        _ => ambiguous.earlier().ok(),
    }
}
