//! A bench for one machine under test: a clock of its own and a record of what was said.
//!
//! A test is a script with explicit times: sorted rows of (ms, input) go in, sorted rows of
//! (ms, payload or note) come out.
//!
//! Invariant: the order at one instant is that of ORD-1: every row of an instant comes before
//! the timers that are due at it, and timers due together elapse in the order of their names.

use alloc::collections::BTreeMap;
use alloc::vec::Vec;
use core::mem;

use crate::controller::{self, Outside};
use crate::{Effects, Note, Payload, Span};

/// The clock of one machine with slots `T`, and everything the machine has said.
#[derive(Clone, Debug, Eq, PartialEq)]
pub(crate) struct Bench<T> {
    now: u64,
    deadlines: BTreeMap<T, u64>,
    /// How many timers have elapsed at this instant.
    elapsed: u32,
    sent: Vec<(u64, Payload)>,
    notes: Vec<(u64, Note)>,
    output_notes: Vec<(u64, u8, Note)>,
}

/// What a machine hears while a script plays.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) enum Heard<'a, T, I> {
    /// A row of the script.
    Row(&'a I),
    /// A timer that has elapsed.
    Elapsed(T),
}

impl<T: Copy + Ord> Bench<T> {
    /// A bench at 0 ms on which no timer runs.
    pub(crate) fn new() -> Self {
        Self {
            now: 0,
            deadlines: BTreeMap::new(),
            elapsed: 0,
            sent: Vec::new(),
            notes: Vec::new(),
            output_notes: Vec::new(),
        }
    }

    /// Plays sorted rows, and every timer that falls due, up to and including `until` ms.
    pub(crate) fn play<I>(
        &mut self,
        rows: &[(u64, I)],
        until: u64,
        mut hear: impl FnMut(&mut Self, Heard<'_, T, I>),
    ) {
        for (at, input) in rows {
            assert!(*at >= self.now, "the rows of a script are sorted");
            assert!(*at <= until, "the script ends before its last row");
            while let Some(timer) = at.checked_sub(1).and_then(|before| self.next_due(before)) {
                hear(self, Heard::Elapsed(timer));
            }
            self.now = *at;
            hear(self, Heard::Row(input));
        }
        while let Some(timer) = self.next_due(until) {
            hear(self, Heard::Elapsed(timer));
        }
        self.now = until;
    }

    /// Moves to the next timer that is due by `until` ms and takes it off the clock.
    pub(crate) fn next_due(&mut self, until: u64) -> Option<T> {
        let (due, timer) = self
            .deadlines
            .iter()
            .map(|(timer, due)| (*due, *timer))
            .min()?;
        if due > until {
            return None;
        }
        self.deadlines.remove(&timer);
        self.elapsed = if self.now == due { self.elapsed + 1 } else { 0 };
        assert!(self.elapsed < 1_000, "this instant never ends");
        self.now = due;
        Some(timer)
    }

    /// Moves to `to` ms and gives the timers due by then, in order, without restarting any.
    pub(crate) fn advance(&mut self, to: u64) -> Vec<T> {
        let due = core::iter::from_fn(|| self.next_due(to)).collect();
        self.now = to;
        due
    }

    /// Takes what was sent since the last call, with its instants in ms.
    pub(crate) fn take_sent(&mut self) -> Vec<(u64, Payload)> {
        mem::take(&mut self.sent)
    }

    /// Takes what was noted since the last call, with its instants in ms.
    pub(crate) fn take_notes(&mut self) -> Vec<(u64, Note)> {
        mem::take(&mut self.notes)
    }

    /// Takes what was noted about outputs since the last call, with its instants in ms.
    pub(crate) fn take_output_notes(&mut self) -> Vec<(u64, u8, Note)> {
        mem::take(&mut self.output_notes)
    }

    /// Plays every timer due before `to` ms through `hear`, and stands at `to` ms, before the
    /// timers of that instant (ORD-1).
    pub(crate) fn reach(&mut self, to: u64, mut hear: impl FnMut(&mut Self, T)) {
        assert!(to >= self.now, "time does not run backwards");
        while let Some(timer) = to.checked_sub(1).and_then(|before| self.next_due(before)) {
            hear(self, timer);
        }
        self.now = to;
    }

    /// The instant in ms.
    pub(crate) fn now(&self) -> u64 {
        self.now
    }

    /// Whether `timer` runs.
    pub(crate) fn runs(&self, timer: T) -> bool {
        self.deadlines.contains_key(&timer)
    }

    /// The timers that run, in the order of their names.
    pub(crate) fn running(&self) -> Vec<T> {
        self.deadlines.keys().copied().collect()
    }

    /// The instant in ms at which `timer` is due.
    pub(crate) fn due(&self, timer: T) -> Option<u64> {
        self.deadlines.get(&timer).copied()
    }
}

impl<T: Copy + Ord> Effects for Bench<T> {
    type Timer = T;

    fn start(&mut self, timer: T, span: Span) {
        self.deadlines.insert(timer, self.now + span.as_ms());
    }

    fn stop(&mut self, timer: T) {
        self.deadlines.remove(&timer);
    }

    fn remaining(&self, timer: T) -> Option<Span> {
        self.due(timer).map(|due| Span::from_ms(due - self.now))
    }

    fn send(&mut self, payload: Payload) {
        self.sent.push((self.now, payload));
    }

    fn note(&mut self, note: Note) {
        self.notes.push((self.now, note));
    }
}

impl Outside for Bench<controller::Timer> {
    fn note_output(&mut self, output: u8, note: Note) {
        self.output_notes.push((self.now, output, note));
    }
}

/// Instants of a script in milliseconds, as `at(hours, minutes, ms)`.
pub(crate) const fn at(hours: u64, minutes: u64, ms: u64) -> u64 {
    hours * 3_600_000 + minutes * 60_000 + ms
}

mod tests {
    use super::*;

    #[test]
    fn rows_come_before_the_timers_of_their_instant_and_timers_in_the_order_of_names() {
        let mut bench = Bench::new();
        let mut heard = Vec::new();
        let rows = [(0, "start"), (10, "row"), (10, "row too")];
        bench.play(&rows, 15, |bench, what| {
            heard.push((bench.now(), alloc::format!("{what:?}")));
            match what {
                Heard::Row(&"start") => {
                    bench.start('b', Span::from_ms(10));
                    bench.start('a', Span::from_ms(10));
                    bench.start('c', Span::from_ms(9));
                }
                Heard::Elapsed('c') => bench.start('d', Span::ZERO),
                Heard::Elapsed('a') => bench.start('e', Span::from_ms(6)),
                _ => {}
            }
        });
        let heard: Vec<(u64, &str)> = heard.iter().map(|(at, what)| (*at, &**what)).collect();
        assert_eq!(
            heard,
            [
                (0, "Row(\"start\")"),
                (9, "Elapsed('c')"),
                (9, "Elapsed('d')"),
                (10, "Row(\"row\")"),
                (10, "Row(\"row too\")"),
                (10, "Elapsed('a')"),
                (10, "Elapsed('b')"),
            ]
        );
        assert_eq!((bench.now(), bench.running()), (15, alloc::vec!['e']));
        assert_eq!(bench.remaining('e'), Some(Span::from_ms(1)));
        assert_eq!(bench.advance(16), ['e']);
        assert!(!bench.runs('e'));
    }

    #[test]
    fn instants_of_a_script_read_as_hours_minutes_and_ms() {
        assert_eq!(at(1, 15, 10), 4_500_010);
    }
}
