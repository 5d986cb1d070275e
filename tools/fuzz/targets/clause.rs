//! Any text as a clause: it is read or refused at a place inside the text, and what is read can
//! be judged in any run.
#![no_main]

use std::collections::hash_map::DefaultHasher;
use std::hash::{Hash, Hasher};

use clause::{Atom, Effects, Event, Formula, Monitor, Names, SourceKind, SourceName, Turn, View};
use device::Span;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    // One line for each key, as `key = text`.
    let fields: Vec<(&str, &str)> = text
        .lines()
        .filter_map(|line| line.split_once(" = "))
        .collect();
    let names = names();
    match Formula::parse(&fields, &names, Span::from_seconds(1)) {
        Ok(formula) => {
            assert_eq!(
                Formula::parse(&fields, &names, Span::from_seconds(1)).as_ref(),
                Ok(&formula),
                "the same text is the same clause"
            );
            let _ = formula.describe(&names);
            judge(&formula, text);
        }
        Err(error) => {
            assert!(!error.message.is_empty(), "an error says what is wrong");
            let inside = error.span == (0..0)
                || fields
                    .iter()
                    .any(|(key, text)| *key == error.key && text.get(error.span.clone()).is_some());
            assert!(inside, "an error points into the text: {error:?}");
        }
    }
});

/// Lets a monitor judge a run in which everything is true or false by luck.
fn judge(formula: &Formula, luck: &str) {
    let mut monitor = Monitor::new();
    let mut clock = Clock {
        timers: vec![None; usize::from(formula.timers())],
        ..Clock::default()
    };
    for instant in 0..40_u64 {
        let mut elapsed = 0;
        // Time goes on to the next timer, or stops short of it by luck.
        let next = clock.timers.iter().flatten().min().copied();
        let step = if chance(&(luck, instant, "step")) {
            1
        } else {
            61_000
        };
        clock.now = next.unwrap_or(u64::MAX).min(clock.now + step);
        for (number, due) in clock.timers.iter_mut().enumerate() {
            if *due == Some(clock.now) {
                *due = None;
                elapsed |= 1 << number;
            }
        }
        monitor.judge(formula, &Luck(luck, instant), elapsed, &mut clock);
        let _ = monitor.verdict(formula);
    }
    assert!(clock.broken <= 1, "a clause breaks once");
    if clock.broken == 1 {
        let running = clock.timers.iter().any(Option::is_some);
        assert!(!running, "a broken monitor runs no timer");
        assert_eq!(monitor.verdict(formula), clause::Verdict::Broken);
    }
}

/// The timers of one monitor.
#[derive(Default)]
struct Clock {
    now: u64,
    timers: Vec<Option<u64>>,
    broken: u32,
}

impl Effects for Clock {
    fn start(&mut self, timer: u8, span: Span) {
        self.timers[usize::from(timer)] = Some(self.now.saturating_add(span.as_ms().max(1)));
    }

    fn stop(&mut self, timer: u8) {
        self.timers[usize::from(timer)] = None;
    }

    fn turn(&mut self, turn: Turn) {
        self.broken += u32::from(turn == Turn::Broken);
    }
}

/// True or false by luck, but the same whenever it is asked in one instant.
struct Luck<'t>(&'t str, u64);

impl View for Luck<'_> {
    fn holds(&self, atom: &Atom) -> bool {
        chance(&(self.0, self.1, atom))
    }

    fn happened(&self, event: &Event) -> bool {
        chance(&(self.0, self.1, event))
    }
}

fn chance(of: &impl Hash) -> bool {
    let mut hasher = DefaultHasher::new();
    of.hash(&mut hasher);
    hasher.finish() & 1 == 1
}

fn names() -> Names {
    let source = |name: &str, kind, buttons: &[&str]| SourceName {
        name: name.to_owned(),
        kind,
        buttons: buttons.iter().map(|&button| button.to_owned()).collect(),
    };
    Names {
        sources: vec![
            source("card-reader", SourceKind::Card, &[]),
            source("photo-sensor", SourceKind::Daylight, &[]),
            source("time-clock", SourceKind::Clock, &[]),
            source(
                "wall-button",
                SourceKind::Switch,
                &["up", "down", "film scene"],
            ),
            source("wall-sensor", SourceKind::Occupancy { sound: true }, &[]),
        ],
        outputs: vec!["desk-lights".to_owned(), "desk-outlet".to_owned()],
        groups: Vec::new(),
    }
}
