//! A year of a time clock as a small graph of moments.
//!
//! Invariant: every stretch of the year is a way through the graph, so what holds on all ways
//! holds on every day; a way that no stretch of the year takes is not replayed.

use std::collections::BTreeMap;

use device::Span;
use device::clock::Entry;
use room::SourceId;
use scenario::room_file::RoomFile;
use scenario::script::calendar::Calendar;
use scenario::script::civil::Civil;
use sim::Instant;

/// The moments of a year of one clock.
#[derive(Clone, Debug)]
pub(crate) struct Year {
    /// When, and what falls due.
    pub(crate) moments: Vec<(Instant, Vec<Entry>)>,
    /// The civil time of the year's first instant.
    pub(crate) civil: Civil,
}

impl Year {
    /// The year of a clock that is right.
    #[must_use]
    pub(crate) fn new(room: &RoomFile, calendar: &Calendar) -> Self {
        let civil = Civil::new(&room.zone, jiff::civil::date(2026, 1, 1).at(0, 0, 0, 0));
        let civil = civil.expect("the time zone was read with the room");
        let end = Instant::from_ms(DAYS * 86_400_000);
        let mut moments: Vec<(Instant, Vec<Entry>)> = Vec::new();
        for (at, entry) in calendar.entries(&civil, &[], end) {
            match moments.last_mut() {
                Some((last, entries)) if *last == at => entries.push(entry),
                _ => moments.push((at, vec![entry])),
            }
        }
        Self { moments, civil }
    }

    /// The graph of its moments: two that look alike, and after which as much time passes unless
    /// only their order counts (`loose`), are one.
    #[must_use]
    pub(crate) fn graph(
        &self,
        clock: SourceId,
        calendar: &Calendar,
        loose: bool,
    ) -> prover::model::Calendar {
        let mut numbers: BTreeMap<(Vec<Entry>, bool, Span), u16> = BTreeMap::new();
        let mut of = Vec::new();
        let in_hours = |at: Instant| {
            let just_before = Instant::from_ms(at.as_ms().saturating_sub(1));
            calendar.in_hours(self.civil.at(just_before))
        };
        for pair in self.moments.windows(2) {
            let [(at, entries), (after, _)] = pair else {
                continue;
            };
            let span = if loose { Span::ZERO } else { after.since(*at) };
            let key = (entries.clone(), in_hours(*at), span);
            let next = u16::try_from(numbers.len()).expect("a year has fewer moments than that");
            of.push(*numbers.entry(key).or_insert(next));
        }
        let mut moments: Vec<prover::model::Moment> = Vec::new();
        let mut keys: Vec<_> = numbers.iter().collect();
        keys.sort_by_key(|(_, number)| **number);
        for ((entries, in_hours, span), number) in keys {
            let follows = of
                .windows(2)
                .filter(|pair| pair[0] == *number)
                .map(|pair| pair[1]);
            let mut next: Vec<u16> = follows.collect();
            next.sort_unstable();
            next.dedup();
            if next.is_empty() {
                // The year is cut off here and time is not: anything may follow.
                next = (0..)
                    .zip(numbers.keys())
                    .map(|(number, _)| number)
                    .collect();
            }
            moments.push(prover::model::Moment {
                in_hours: *in_hours,
                entries: entries.clone(),
                next: next.into_iter().map(|to| (to, *span)).collect(),
            });
        }
        prover::model::Calendar { clock, moments }
    }
}

/// A year and the holidays after it.
const DAYS: u64 = 372;
