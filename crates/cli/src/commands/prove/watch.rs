//! How a proof goes: a line for each clause that is being looked at, and how long each took.

use std::collections::BTreeMap;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use indicatif::{MultiProgress, ProgressBar, ProgressDrawTarget, ProgressStyle};
use proof::{Answer, Observer, Progress};
use report::words::count;
use scenario::suite::Suite;

use super::asked::Asked;
use crate::rooms;

/// Watches a proof: shows it on standard error where that is a terminal, and takes the times.
#[derive(Debug)]
pub(super) struct Watch {
    screen: MultiProgress,
    /// How many clauses are answered.
    total: ProgressBar,
    /// The names of the clauses, by room.
    names: Vec<Vec<String>>,
    lines: Mutex<BTreeMap<(usize, u16), Line>>,
}

/// A clause that was begun.
#[derive(Debug)]
struct Line {
    bar: ProgressBar,
    /// How long it took, once it is answered.
    took: Option<Duration>,
}

impl Watch {
    /// Watches the proof of what is asked.
    pub(super) fn new(asked: &Asked, suite: &Suite) -> Self {
        let screen = MultiProgress::with_draw_target(ProgressDrawTarget::stderr());
        let clauses: usize = asked.rooms.iter().map(|it| it.clauses.len()).sum();
        let total = screen.add(ProgressBar::new(clauses as u64).with_style(style(TOTAL)));
        let names = asked.rooms.iter().map(|it| {
            let plan = &rooms::read(&suite.rooms[it.room]).plan;
            let clauses = plan.clauses.iter();
            let names = clauses.map(|clause| format!("{} {}", plan.name, clause.id));
            names.collect()
        });
        Self {
            total,
            names: names.collect(),
            lines: Mutex::new(BTreeMap::new()),
            screen,
        }
    }

    /// Takes everything off the screen again.
    pub(super) fn ends(&self) {
        self.total.finish_and_clear();
        for line in self.lines().values() {
            line.bar.finish_and_clear();
        }
    }

    /// How long a clause of a room took, in milliseconds.
    pub(super) fn took(&self, room: usize, clause: u16) -> u64 {
        let lines = self.lines();
        let took = lines.get(&(room, clause)).and_then(|line| line.took);
        took.map_or(0, |took| {
            u64::try_from(took.as_millis()).unwrap_or(u64::MAX)
        })
    }

    fn lines(&self) -> MutexGuard<'_, BTreeMap<(usize, u16), Line>> {
        // A thread that panicked here has left the lines as they were.
        self.lines.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Observer for Watch {
    fn begins(&self, room: usize, clause: u16) {
        let name = self.names[room][usize::from(clause)].clone();
        tracing::debug!(clause = name, "is put to the symbolic clock");
        let bar = ProgressBar::no_length()
            .with_style(style(LINE))
            .with_prefix(name)
            .with_message("begins");
        let bar = self.screen.insert_before(&self.total, bar);
        bar.tick();
        self.lines()
            .insert((room, clause), Line { bar, took: None });
    }

    fn reaches(&self, room: usize, clause: u16, progress: &Progress) {
        if let Some(line) = self.lines().get(&(room, clause)) {
            line.bar.set_message(format!(
                "{} seen, {} waiting, {} MiB",
                count(progress.classes, "class", "classes"),
                progress.waiting,
                progress.bytes >> 20
            ));
        }
    }

    fn answers(&self, room: usize, answer: &Answer) {
        if let Some(line) = self.lines().get_mut(&(room, answer.clause)) {
            line.took = Some(line.bar.elapsed());
            line.bar.finish_and_clear();
        }
        self.total.inc(1);
    }
}

fn style(template: &str) -> ProgressStyle {
    ProgressStyle::with_template(template).expect("the template is well formed")
}

const TOTAL: &str = "{pos} of {len} clauses  {wide_bar}  {elapsed}";
const LINE: &str = "  {prefix}  {wide_msg}  {elapsed}";
