//! What a session keeps of what was, and how it goes back.
//!
//! A session may go on for days. Of its steps the latest are kept, and of older ones the last of
//! each kind and whatever led to something that is kept; the rest is forgotten. Rows are all
//! kept, so nothing is lost: who goes back to before what is kept has the room run again from
//! its beginning, which tells those steps anew.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Debug;

use device::Level;
use room::{OutputId, Who};
use sim::{Instant, OutputState, OutputView, Simulation, Step, StepId, What};

use super::Session;
use crate::Refusal;
use crate::ledger::Ledger;
use crate::score::Score;

/// Which steps of a run are still there.
#[derive(Clone, Debug)]
pub(super) struct Kept {
    /// How many steps there may be before old ones are forgotten; of these half are kept.
    pub(super) most: usize,
    /// The numbers of old steps that were not forgotten; the trace begins with them.
    old: Vec<usize>,
    /// The number of the step that comes next in the trace.
    pub(super) next: usize,
    /// The instant of that step.
    since: Instant,
    /// What the steps before that one say of it.
    ledger: Ledger,
}

impl Kept {
    /// Nothing is forgotten yet. The ledger is that of the beginning.
    pub(super) fn all(ledger: Ledger) -> Self {
        Self {
            most: MOST_STEPS,
            old: Vec::new(),
            next: 0,
            since: Instant::START,
            ledger,
        }
    }

    /// The number in the run of a step of the trace.
    pub(super) fn number(&self, index: usize) -> usize {
        let later = index.checked_sub(self.old.len());
        later.map_or_else(|| self.old[index], |later| self.next + later)
    }

    /// Where in the trace a step of the run stands; of a step that is forgotten, the first that
    /// was not.
    fn index(&self, number: usize) -> usize {
        self.old.len() + number.saturating_sub(self.next)
    }
}

impl Session {
    /// The moment since which every step is kept; what was earlier can be seen by going there.
    #[must_use]
    pub fn since(&self) -> Instant {
        self.kept.since
    }

    /// How many steps the run has, those that are forgotten included.
    #[must_use]
    pub fn steps(&self) -> usize {
        self.kept.number(self.simulation.trace().steps.len())
    }

    /// The steps with these numbers that are kept, each with its number and that of its cause.
    pub(crate) fn steps_between(
        &self,
        first: usize,
        end: usize,
    ) -> impl Iterator<Item = (usize, Option<usize>, &Step)> {
        let steps = &self.simulation.trace().steps;
        let (first, end) = (self.kept.index(first), self.kept.index(end));
        let shown = steps.get(first..end.min(steps.len())).unwrap_or_default();
        (first..).zip(shown).map(|(index, step)| {
            let cause = step.cause.map(|cause| self.number(cause));
            (self.kept.number(index), cause, step)
        })
    }

    /// The number in the run of a step of the trace.
    pub(crate) fn number(&self, step: StepId) -> usize {
        self.kept.number(step.index())
    }

    /// Goes back to an earlier moment. What was done later is kept until something else is done.
    ///
    /// # Errors
    ///
    /// When a device is outside: it cannot be taken back.
    pub fn rewind(&mut self, to: Instant) -> Result<(), Refusal> {
        self.refuse_in_lesson()?;
        if !self.outside.is_empty() {
            return Err(Refusal::new(
                "devices that run in other processes cannot be taken back in time",
                "begin anew, or run the room without nodes",
            ));
        }
        let after = self.snapshots.partition_point(|(at, _)| *at <= to);
        let from = self.snapshots[..after].last();
        if from.map_or(Instant::START, |(at, _)| *at) < self.score.since {
            // What happens from there on has been left out since.
            let (stage, head, horizon) = (&self.stage, &self.head, self.score.horizon);
            self.score = Score::new(stage, head, &self.rows, horizon, self.seed)?;
        }
        match from {
            Some((at, snapshot)) => {
                self.now = *at;
                self.simulation.restore(snapshot);
            }
            None => {
                // Nothing of that moment is kept: the room runs again from its beginning.
                let quality = self.score.play.quality();
                let plan = std::sync::Arc::clone(&self.score.script().plan);
                self.simulation = Simulation::new(plan, self.seed, quality);
                self.now = Instant::START;
                self.snapshots.clear();
                self.keep_snapshot();
                let script = self.score.script();
                let most = self.kept.most;
                self.kept = Kept::all(Ledger::new(&script.plan, &script.loads));
                self.kept.most = most;
            }
        }
        self.revision += 1;
        self.owed = to;
        self.acted = Instant::START;
        self.seeking = false;
        self.answering = Instant::START;
        // The state of the beginning is that before the first instant.
        self.begun = self.now > Instant::START;
        self.given = match self.begun {
            true => self.score.acts_through(self.now),
            false => 0,
        };
        self.forget_after(to);
        self.ledger = self.kept.ledger.clone();
        self.ledger.read(&self.simulation.trace().steps);
        self.run_to(to);
        Ok(())
    }

    /// Keeps the present state to come back to, if the last one is long ago.
    pub(super) fn keep_state(&mut self) {
        let last = self.snapshots.last().map(|(at, _)| *at);
        let is_due = last.is_none_or(|last| self.now.since(last) >= APART);
        if self.outside.is_empty() && is_due {
            self.keep_snapshot();
        }
    }

    pub(super) fn keep_snapshot(&mut self) {
        self.snapshots.push((self.now, self.simulation.snapshot()));
        if self.snapshots.len() > MOST_SNAPSHOTS {
            // Every other one, but never the first: going back takes longer, not more memory.
            let mut number = 0;
            self.snapshots.retain(|_| {
                number += 1;
                number % 2 == 1
            });
        }
    }

    pub(super) fn forget_after(&mut self, at: Instant) {
        let kept = self.snapshots.partition_point(|(it, _)| *it <= at);
        self.snapshots.truncate(kept);
    }

    /// Forgets old steps when there are too many.
    pub(super) fn forget_old(&mut self) {
        let steps = &self.simulation.trace().steps;
        if steps.len() < self.kept.most {
            return;
        }
        // An instant is kept as a whole or not at all.
        let since = steps[steps.len() - self.kept.most / 2].at;
        let old = steps.partition_point(|step| step.at < since);
        if old <= self.kept.old.len() {
            return;
        }
        self.kept.ledger.read(&steps[..old]);
        self.snapshots.retain(|(_, it)| it.steps() >= old);
        let wanted = wanted(&steps[..old]);
        let snapshots = self.snapshots.iter_mut().map(|(_, it)| it);
        let stay = self.simulation.forget(old, wanted, snapshots);
        let numbers: Vec<usize> = stay.iter().map(|id| self.number(*id)).collect();
        self.kept.next = self.kept.number(old);
        self.kept.since = since;
        self.ledger.forget(old - numbers.len(), since);
        self.kept.ledger.forget(old - numbers.len(), since);
        self.kept.old = numbers;
        self.keep_state();
    }
}

/// The old steps that are still needed to say how things stand and why: the last about each
/// subject, and for each output its last change with what was noted of it before that.
fn wanted(steps: &[Step]) -> BTreeSet<StepId> {
    let mut last: BTreeMap<String, StepId> = BTreeMap::new();
    let mut notes: BTreeMap<Who, BTreeMap<String, [StepId; 2]>> = BTreeMap::new();
    let mut views: BTreeMap<OutputId, (StepId, &OutputView)> = BTreeMap::new();
    let mut turns: BTreeMap<OutputId, Vec<StepId>> = BTreeMap::new();
    for (id, step) in (0..).map(StepId::at).zip(steps) {
        match &step.what {
            What::Note(who, note) => {
                // A note may be told beside the one before it.
                let two = notes.entry(*who).or_default().entry(name(note));
                two.and_modify(|two| *two = [two[1], id])
                    .or_insert([id, id]);
            }
            What::Output(output, view) => {
                if let Some((before, was)) = views.insert(*output, (id, view))
                    && shown(was) != shown(view)
                {
                    // A change is one only beside what was before it.
                    let own = notes.get(&Who::Output(*output)).into_iter();
                    let noted = own.flat_map(BTreeMap::values).flatten().copied();
                    turns.insert(*output, noted.chain([before, id]).collect());
                }
            }
            _ => {}
        }
        last.insert(subject(&step.what), id);
    }
    let notes = notes
        .into_values()
        .flat_map(BTreeMap::into_values)
        .flatten();
    let turns = turns.into_values().flatten();
    last.into_values().chain(turns).chain(notes).collect()
}

/// What somebody sees of an output: it has changed when this is another.
fn shown(view: &OutputView) -> (OutputState, Level, Level, bool) {
    (view.state, view.target, view.light.to, view.emergency)
}

/// What a step is about: of older steps the last about each subject is kept.
fn subject(what: &What) -> String {
    match what {
        What::Sent(source, _, payload) => format!("sent {source:?} {}", name(payload)),
        What::Arrived(listener, source, payload) => {
            format!("arrived {listener:?} {source:?} {}", name(payload))
        }
        What::Dropped(listener, source, payload, why) => {
            let payload = name(payload);
            format!("dropped {listener:?} {source:?} {payload} {why:?}")
        }
        What::Started(slot, _) => format!("started {slot:?}"),
        What::Note(who, note) => format!("note {who:?} {}", name(note)),
        What::Output(output, _) => format!("output {output:?}"),
        What::Daylight(_) => "daylight".to_owned(),
        other => format!("{other:?}"),
    }
}

/// The word for a value, without what it carries; of a button its number too.
fn name(value: &impl Debug) -> String {
    let text = format!("{value:?}");
    let is_button = text.starts_with("Down(") || text.starts_with("Up(");
    let end = text.find(['(', ' ', '{']).filter(|_| !is_button);
    text[..end.unwrap_or(text.len())].to_owned()
}

/// How far apart states to come back to are at least.
const APART: device::Span = device::Span::from_minutes(5);

/// How many of them are kept.
const MOST_SNAPSHOTS: usize = 256;

/// How many steps there may be before old ones are forgotten: some 0.4 MB, and days of an
/// office or an hour of fifty sensors at work.
const MOST_STEPS: usize = 6_000;
