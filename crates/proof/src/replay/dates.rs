//! When a run begins: on a day on which the clocks of the room do what the path says, and
//! nothing else.

use device::Span;
use device::clock::Entry;
use jiff::civil::DateTime;
use room::SourceId;
use scenario::room_file::RoomFile;
use scenario::script::civil::{Civil, Occurrence};
use sim::Instant;

use crate::calendar::Year;

/// The moments of a year at which something falls due at one of some clocks, in order.
#[derive(Clone, Debug)]
pub(super) struct Dates {
    civil: Option<Civil>,
    moments: Vec<Due>,
}

/// An entry that falls due.
pub(super) type Due = (Instant, SourceId, Entry);

impl Dates {
    /// The dates on which these clocks of a room do something.
    pub(super) fn new(room: &RoomFile, clocks: &[SourceId]) -> Self {
        let mut moments = Vec::new();
        let mut civil = None;
        for clock in clocks {
            let calendar = room.calendars.get(clock);
            let Some(year) = calendar.map(|it| Year::new(room, it)) else {
                continue;
            };
            moments.extend(
                year.moments
                    .iter()
                    .flat_map(|(at, entries)| entries.iter().map(|entry| (*at, *clock, *entry))),
            );
            civil = Some(year.civil);
        }
        moments.sort_unstable();
        Self { civil, moments }
    }

    /// Where a run may begin in which exactly `due` falls due up to `end`; last those during which
    /// the clocks of the country are set.
    pub(super) fn begins(&self, due: &[Due], end: Instant) -> impl Iterator<Item = DateTime> + '_ {
        let length = end.since(Instant::START);
        let due = due.to_vec();
        let free = self.civil.is_none() || self.moments.is_empty();
        let plain = (free && due.is_empty()).then_some(MONDAY);
        let places = if free { 0 } else { self.moments.len() };
        let dated = move |set: bool| {
            let due = due.clone();
            (0..places).filter_map(move |place| {
                let begin = match due.first() {
                    Some((first, ..)) => {
                        let (at, ..) = self.moments[place];
                        let begin = at.as_ms().checked_sub(first.as_ms())?;
                        self.is_just(place, &due, Instant::from_ms(begin), length)
                            .then_some(Instant::from_ms(begin))?
                    }
                    None => self.quiet(place, length)?,
                };
                self.shown(begin)
                    .filter(|_| self.is_set_within(begin, length) == set)
            })
        };
        plain.into_iter().chain(dated(false)).chain(dated(true))
    }

    /// Whether exactly `due` falls due from a moment on.
    fn is_just(&self, place: usize, due: &[Due], begin: Instant, length: Span) -> bool {
        let before = place.checked_sub(1).map(|place| self.moments[place].0);
        let after = self.moments.get(place + due.len()).map(|it| it.0);
        let later = |at: Instant| begin.after(at.since(Instant::START));
        before.is_none_or(|before| before <= begin)
            && after.is_some_and(|after| after > begin.after(length))
            && due.iter().enumerate().all(|(behind, (at, clock, entry))| {
                self.moments[place + behind] == (later(*at), *clock, *entry)
            })
    }

    /// A beginning after a moment with nothing due until the end, on a full hour.
    fn quiet(&self, place: usize, length: Span) -> Option<Instant> {
        let (before, after) = (self.moments[place].0, self.moments.get(place + 1)?.0);
        let hour = before.as_ms().div_ceil(HOUR) * HOUR;
        let begin = Instant::from_ms(hour);
        (begin.after(length) < after).then_some(begin)
    }

    /// What the clock on the wall shows; `None` where it shows it for the second time.
    fn shown(&self, begin: Instant) -> Option<DateTime> {
        let civil = self.civil.as_ref()?;
        let shown = civil.at(begin);
        let named = civil.instant(shown, Occurrence::First).ok()?;
        (named == begin).then_some(shown)
    }

    /// Whether the clock on the wall is put forward or back during a run.
    fn is_set_within(&self, begin: Instant, length: Span) -> bool {
        self.civil.as_ref().is_some_and(|civil| {
            let (from, to) = (civil.at(begin), civil.at(begin.after(length)));
            let passes = from.duration_until(to).as_millis();
            u128::try_from(passes).ok() != Some(u128::from(length.as_ms()))
        })
    }
}

/// A working day like any other.
const MONDAY: DateTime = jiff::civil::date(2026, 3, 2).at(8, 0, 0, 0);

/// In milliseconds.
const HOUR: u64 = 3_600_000;
