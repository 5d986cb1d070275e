//! The calendar of a time clock, expanded in the civil time of the site (CLK-1).
//!
//! Invariant: an entry is found by what the clock shows; where it was set wrong, it shows
//! something else than the clock on the wall.

use device::{Span, clock::Entry};
use jiff::SignedDuration;
use jiff::civil::{Date, DateTime};
use sim::Instant;

use super::civil::{Civil, time_of_day};
use crate::words::TimeOfDay;

/// The days, times and holidays of a time clock.
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub struct Calendar {
    /// Opening hours of each day of the week, Monday first.
    pub hours: [Vec<(TimeOfDay, TimeOfDay)>; 7],
    /// Days without opening hours, both ends included.
    pub holidays: Vec<(Date, Date)>,
    /// Sweeps: on one day of the week (Monday is 0), or on every day.
    pub sweeps: Vec<(Option<u8>, TimeOfDay)>,
}

/// Somebody sets a clock: from `at` on it shows `shows`.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Setting {
    /// When.
    pub at: Instant,
    /// What it shows then.
    pub shows: DateTime,
}

impl Calendar {
    /// Whether the clock counts as in hours when it shows `shown`.
    #[must_use]
    pub fn in_hours(&self, shown: DateTime) -> bool {
        let since = shown
            .date()
            .at(0, 0, 0, 0)
            .duration_until(shown)
            .as_millis();
        self.stretches(shown.date())
            .any(|(from, to)| (i128::from(from.0)..i128::from(to.0)).contains(&since))
    }

    /// The entries that fall due up to `end`, in order, for a clock that is right at the start
    /// and is set as `settings` say.
    #[must_use]
    pub fn entries(
        &self,
        civil: &Civil,
        settings: &[Setting],
        end: Instant,
    ) -> Vec<(Instant, Entry)> {
        let mut entries = Vec::new();
        let mut from = Instant::START;
        let mut error = SignedDuration::ZERO;
        for index in 0..=settings.len() {
            let next = settings.get(index);
            let until = next.map_or(end, |setting| setting.at);
            // What falls due at the very moment of a setting has been overtaken by it, unless
            // the run ends there.
            let last = next.is_none();
            self.between(civil, error, from, until, last, &mut entries);
            if let Some(setting) = next {
                from = setting.at;
                error = civil.at(setting.at).duration_until(setting.shows);
            }
        }
        entries.sort_by_key(|&(at, entry)| (at, entry));
        entries
    }

    fn between(
        &self,
        civil: &Civil,
        error: SignedDuration,
        from: Instant,
        until: Instant,
        last: bool,
        entries: &mut Vec<(Instant, Entry)>,
    ) {
        let shows = |at| civil.at(at).saturating_add(error);
        let (first_day, last_day) = (shows(from).date(), shows(until).date());
        let mut day = first_day.yesterday().unwrap_or(first_day);
        loop {
            for (time, entry) in self.of_day(day) {
                let Some(shown) = time_of_day(day, Span::from_ms(u64::from(time.0))) else {
                    continue;
                };
                // The clock of a building steps with the wall clock; one that is wrong by some
                // hours does so with its error.
                let Some(at) = civil.due(shown.saturating_sub(error)) else {
                    continue;
                };
                let fits = at > from || (at == from && from > Instant::START);
                if fits && (at < until || (last && at == until)) {
                    entries.push((at, entry));
                }
            }
            match day.tomorrow() {
                Ok(next) if day < last_day => day = next,
                _ => return,
            }
        }
    }

    fn of_day(&self, day: Date) -> Vec<(TimeOfDay, Entry)> {
        let mut entries = Vec::new();
        for (from, to) in self.stretches(day) {
            if !(from == TimeOfDay(0) && self.ends_at_midnight(day.yesterday().ok())) {
                entries.push((from, Entry::Opening));
            }
            if !(to == MIDNIGHT && self.begins_at_midnight(day.tomorrow().ok())) {
                entries.push((to, Entry::Closing));
            }
        }
        let weekday = weekday(day);
        let sweeps = self.sweeps.iter();
        entries.extend(
            sweeps
                .filter(|(on, _)| on.is_none_or(|on| usize::from(on) == weekday))
                .map(|&(_, time)| (time, Entry::Sweep)),
        );
        entries
    }

    fn stretches(&self, day: Date) -> impl Iterator<Item = (TimeOfDay, TimeOfDay)> {
        let holiday = self
            .holidays
            .iter()
            .any(|&(first, last)| (first..=last).contains(&day));
        let hours = if holiday {
            &[][..]
        } else {
            &self.hours[weekday(day)]
        };
        hours.iter().copied()
    }

    fn ends_at_midnight(&self, day: Option<Date>) -> bool {
        day.is_some_and(|day| self.stretches(day).any(|(_, to)| to == MIDNIGHT))
    }

    fn begins_at_midnight(&self, day: Option<Date>) -> bool {
        day.is_some_and(|day| self.stretches(day).any(|(from, _)| from == TimeOfDay(0)))
    }
}

const MIDNIGHT: TimeOfDay = TimeOfDay(86_400_000);

fn weekday(day: Date) -> usize {
    usize::try_from(day.weekday().to_monday_zero_offset()).expect("a day of the week is 0 to 6")
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    fn time(hours: u32, minutes: u32) -> TimeOfDay {
        TimeOfDay((hours * 60 + minutes) * 60_000)
    }

    fn office() -> Calendar {
        let day = vec![(time(8, 0), time(18, 0))];
        let mut calendar = Calendar::default();
        for hours in &mut calendar.hours[..5] {
            hours.clone_from(&day);
        }
        calendar.sweeps = vec![(None, time(22, 0))];
        calendar
    }

    fn said(civil: &Civil, entries: &[(Instant, Entry)]) -> Vec<String> {
        let said = entries.iter();
        said.map(|(at, entry)| format!("{} {entry:?}", civil.at(*at)))
            .collect()
    }

    #[test]
    fn a_week_opens_closes_and_sweeps() {
        // 2026-03-06 is a Friday.
        let civil = Civil::new("UTC", date(2026, 3, 6).at(7, 0, 0, 0)).unwrap();
        let end = Instant::from_ms(3 * 86_400_000);
        assert_eq!(
            said(&civil, &office().entries(&civil, &[], end)),
            [
                "2026-03-06T08:00:00 Opening",
                "2026-03-06T18:00:00 Closing",
                "2026-03-06T22:00:00 Sweep",
                "2026-03-07T22:00:00 Sweep",
                "2026-03-08T22:00:00 Sweep",
            ]
        );
    }

    #[test]
    fn a_holiday_has_no_hours_but_its_sweep() {
        let civil = Civil::new("UTC", date(2026, 3, 6).at(0, 0, 0, 0)).unwrap();
        let mut calendar = office();
        calendar.holidays = vec![(date(2026, 3, 6), date(2026, 3, 6))];
        let entries = calendar.entries(&civil, &[], Instant::from_ms(86_399_999));
        assert_eq!(said(&civil, &entries), ["2026-03-06T22:00:00 Sweep"]);
        assert!(!calendar.in_hours(date(2026, 3, 6).at(9, 0, 0, 0)));
        assert!(calendar.in_hours(date(2026, 3, 9).at(8, 0, 0, 0)));
        assert!(!calendar.in_hours(date(2026, 3, 9).at(18, 0, 0, 0)));
    }

    /// CLK-1: in the night in which the clocks go forward, a time that is skipped runs at the
    /// first moment after the gap.
    #[test]
    fn a_skipped_sweep_runs_at_the_first_moment_after_the_gap() {
        let civil = Civil::new("Europe/Berlin", date(2026, 3, 28).at(23, 0, 0, 0)).unwrap();
        let calendar = Calendar {
            sweeps: vec![(None, time(2, 30))],
            ..Calendar::default()
        };
        let entries = calendar.entries(&civil, &[], Instant::from_ms(12 * 3_600_000));
        assert_eq!(entries, [(Instant::from_ms(3 * 3_600_000), Entry::Sweep)]);
        assert_eq!(said(&civil, &entries), ["2026-03-29T03:00:00 Sweep"]);
    }

    /// CLK-1: in the night in which the clocks go back, a time that comes twice runs the first
    /// time only.
    #[test]
    fn a_doubled_sweep_runs_once_the_first_time() {
        let civil = Civil::new("Europe/Berlin", date(2026, 10, 24).at(23, 0, 0, 0)).unwrap();
        let calendar = Calendar {
            sweeps: vec![(None, time(2, 30))],
            ..Calendar::default()
        };
        let entries = calendar.entries(&civil, &[], Instant::from_ms(12 * 3_600_000));
        assert_eq!(
            entries,
            [(Instant::from_ms(3 * 3_600_000 + 1_800_000), Entry::Sweep)]
        );
    }

    #[test]
    fn a_clock_that_is_set_an_hour_ahead_sweeps_an_hour_early() {
        let civil = Civil::new("UTC", date(2026, 3, 2).at(12, 0, 0, 0)).unwrap();
        let setting = Setting {
            at: Instant::from_ms(3_600_000),
            shows: date(2026, 3, 2).at(14, 0, 0, 0),
        };
        let entries = office().entries(&civil, &[setting], Instant::from_ms(43_200_000));
        assert_eq!(
            said(&civil, &entries),
            ["2026-03-02T17:00:00 Closing", "2026-03-02T21:00:00 Sweep",]
        );
    }

    #[test]
    fn hours_that_go_on_over_midnight_neither_close_nor_open_there() {
        let civil = Civil::new("UTC", date(2026, 3, 2).at(12, 0, 0, 0)).unwrap();
        let mut calendar = Calendar::default();
        calendar.hours[0] = vec![(time(18, 0), MIDNIGHT)];
        calendar.hours[1] = vec![(TimeOfDay(0), time(2, 0))];
        let entries = calendar.entries(&civil, &[], Instant::from_ms(86_400_000));
        assert_eq!(
            said(&civil, &entries),
            ["2026-03-02T18:00:00 Opening", "2026-03-03T02:00:00 Closing",]
        );
    }
}
