//! Instants of a run as the clock on the wall shows them.
//!
//! Invariant: an instant is elapsed time; only its label is civil, so a change to or from
//! daylight saving shifts labels and nothing else.

use device::Span;
use jiff::{SignedDuration, Timestamp, ZonedDateTime};
use sim::Instant;

/// The civil clock of a run: what the clock on the wall showed when it began.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Clock {
    start: ZonedDateTime,
}

impl Clock {
    /// A clock that showed `start` when the run began.
    #[must_use]
    pub const fn new(start: ZonedDateTime) -> Self {
        Self { start }
    }

    /// What the clock shows at `at`; it stands still at the last moment that it can show.
    #[must_use]
    pub fn zoned(&self, at: Instant) -> ZonedDateTime {
        let elapsed = i64::try_from(at.as_ms()).unwrap_or(i64::MAX);
        let shown = self
            .start
            .timestamp()
            .checked_add(SignedDuration::from_millis(elapsed));
        shown
            .unwrap_or(Timestamp::MAX)
            .to_zoned_datetime(self.start.time_zone().clone())
    }

    /// The day of the run, counted from 1 at the date on which it began.
    #[must_use]
    pub fn day(&self, at: Instant) -> i32 {
        let date = self.zoned(at).date();
        let days = date
            .since(self.start.date())
            .map_or(0, |span| span.get_days());
        days + 1
    }

    /// `09:15:00`, with milliseconds where there are any, and the day from the second one on.
    #[must_use]
    pub fn label(&self, at: Instant) -> String {
        let zoned = self.zoned(at);
        let time = match zoned.millisecond() {
            0 => zoned.strftime("%H:%M:%S"),
            _ => zoned.strftime("%H:%M:%S%.3f"),
        };
        match self.day(at) {
            1 => time.to_string(),
            day => format!("day {day} {time}"),
        }
    }

    /// The label in the same form for every instant, for columns: `1 09:15:00.010`.
    #[must_use]
    pub fn column(&self, at: Instant) -> String {
        format!(
            "{} {}",
            self.day(at),
            self.zoned(at).strftime("%H:%M:%S%.3f")
        )
    }

    /// The date: `Mon 2 Mar 2026`.
    #[must_use]
    pub fn date(&self, at: Instant) -> String {
        self.zoned(at).strftime("%a %-d %b %Y").to_string()
    }

    /// Date and time as ISO 8601 writes them, without the zone: `2026-03-02T09:15:00.010`.
    #[must_use]
    pub fn iso(&self, at: Instant) -> String {
        self.zoned(at).strftime("%Y-%m-%dT%H:%M:%S%.3f").to_string()
    }

    /// A tick of an axis whose ticks are `step` apart: `09:15`, or with seconds.
    #[must_use]
    pub fn tick(&self, at: Instant, step: Span) -> String {
        let zoned = self.zoned(at);
        let format = match step.as_ms() {
            ms if ms % 60_000 == 0 => "%H:%M",
            ms if ms % 1_000 == 0 => "%H:%M:%S",
            _ => "%H:%M:%S%.3f",
        };
        let text = zoned.strftime(format).to_string();
        if format.ends_with("%.3f") {
            text.trim_end_matches('0').trim_end_matches('.').to_owned()
        } else {
            text
        }
    }

    /// Milliseconds from the last midnight on the wall to `at`, for ticks on round times.
    #[must_use]
    pub fn since_midnight_ms(&self, at: Instant) -> u64 {
        let time = self.zoned(at).time();
        let seconds = i64::from(time.hour()) * 3_600
            + i64::from(time.minute()) * 60
            + i64::from(time.second());
        let ms = seconds * 1_000 + i64::from(time.millisecond());
        ms.unsigned_abs()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn clock(start: &str) -> Clock {
        Clock::new(start.parse().unwrap())
    }

    #[test]
    fn labels_say_the_day_from_the_second_day_on() {
        let clock = clock("2026-03-02T08:00:00[UTC]");
        assert_eq!(clock.label(Instant::from_ms(4_500_010)), "09:15:00.010");
        let next = Instant::from_ms(22 * 3_600_000);
        assert_eq!(clock.label(next), "day 2 06:00:00");
        assert_eq!(clock.column(next), "2 06:00:00.000");
        assert_eq!(clock.date(next), "Tue 3 Mar 2026");
    }

    #[test]
    fn labels_follow_daylight_saving_and_instants_do_not() {
        let clock = clock("2026-03-29T01:30:00[Europe/Lisbon]");
        assert_eq!(clock.label(Instant::from_ms(0)), "02:30:00");
        let clock = self::clock("2026-03-29T00:30:00[Europe/Lisbon]");
        assert_eq!(clock.label(Instant::from_ms(3_600_000)), "02:30:00");
    }

    #[test]
    fn a_tick_shows_no_more_than_its_step_needs() {
        let clock = clock("2026-03-02T08:00:00[UTC]");
        let at = Instant::from_ms(4_500_500);
        assert_eq!(clock.tick(at, Span::from_minutes(5)), "09:15");
        assert_eq!(clock.tick(at, Span::from_seconds(5)), "09:15:00");
        assert_eq!(clock.tick(at, Span::from_ms(100)), "09:15:00.5");
    }
}
