//! A monitor with its timers, run by hand: a script with explicit times.

use clause::{Atom, Effects, Event, Formula, Monitor, Turn, Verdict, View};
use device::Span;

use crate::names::parse_with;

/// Reads a clause with a reaction of 1 s, or panics with the error.
pub(crate) fn parse(fields: &[(&str, &str)]) -> Formula {
    parse_with(fields, Span::from_seconds(1))
}

/// What a room shows at the end of an instant: what holds, and what happened.
#[derive(Clone, Debug, Default)]
pub(crate) struct Shown {
    pub(crate) holds: Vec<Atom>,
    pub(crate) happened: Vec<Event>,
}

impl View for Shown {
    fn holds(&self, atom: &Atom) -> bool {
        self.holds.contains(atom)
    }

    fn happened(&self, event: &Event) -> bool {
        self.happened.contains(event)
    }
}

/// A monitor with its timers, run by hand.
#[derive(Clone, Debug)]
pub(crate) struct Run {
    pub(crate) formula: Formula,
    pub(crate) monitor: Monitor,
    pub(crate) now: u64,
    /// The instants at which timers will elapse.
    pub(crate) deadlines: Vec<Option<u64>>,
    /// What the monitor said, with the instant.
    pub(crate) turns: Vec<(u64, Turn)>,
    /// What was shown last.
    last: Shown,
}

impl Run {
    pub(crate) fn new(formula: Formula) -> Self {
        let timers = usize::from(formula.timers());
        Self {
            formula,
            monitor: Monitor::new(),
            now: 0,
            deadlines: vec![None; timers],
            turns: Vec::new(),
            last: Shown::default(),
        }
    }

    /// Judges the instant `at`, and the instants before it at which only timers elapse.
    pub(crate) fn at(&mut self, at: u64, shown: &Shown) {
        let quiet = Shown {
            holds: self.last.holds.clone(),
            happened: Vec::new(),
        };
        while let Some(due) = self.due().filter(|due| *due < at) {
            self.judge(due, &quiet);
        }
        self.judge(at, shown);
        self.last = shown.clone();
    }

    /// Lets the time pass until `end`, that instant included.
    pub(crate) fn until(&mut self, end: u64) {
        let quiet = Shown {
            holds: self.last.holds.clone(),
            happened: Vec::new(),
        };
        while let Some(due) = self.due().filter(|due| *due <= end) {
            self.judge(due, &quiet);
        }
        self.now = end;
    }

    pub(crate) fn verdict(&self) -> Verdict {
        self.monitor.verdict(&self.formula)
    }

    fn due(&self) -> Option<u64> {
        self.deadlines.iter().flatten().min().copied()
    }

    fn judge(&mut self, at: u64, shown: &Shown) {
        self.now = at;
        let mut elapsed = 0;
        for (timer, deadline) in self.deadlines.iter_mut().enumerate() {
            if *deadline == Some(at) {
                *deadline = None;
                elapsed |= 1 << timer;
            }
        }
        let mut monitor = self.monitor.clone();
        monitor.judge(&self.formula.clone(), shown, elapsed, self);
        self.monitor = monitor;
    }
}

impl Effects for Run {
    fn start(&mut self, timer: u8, span: Span) {
        self.deadlines[usize::from(timer)] = Some(self.now + span.as_ms());
    }

    fn stop(&mut self, timer: u8) {
        self.deadlines[usize::from(timer)] = None;
    }

    fn turn(&mut self, turn: Turn) {
        self.turns.push((self.now, turn));
    }
}
