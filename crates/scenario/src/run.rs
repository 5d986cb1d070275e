//! Runs a script and judges it.
//!
//! Invariant: same script and same seed give the same outcome, byte for byte.

mod history;
mod judge;
mod reach;
mod say;
mod text;
mod total;

use std::collections::BTreeMap;
use std::sync::Arc;

use clause::Verdict as ClauseVerdict;
use device::controller::Drive;
use room::{ControllerId, Input, Plan, Slots, SourceId, Stimulus};
use sim::{Full, Instant, OutputView, Quality, Simulation, StepId, Trace, What};

use crate::script::people::{Trace as SignTrace, is_noticed, notices};
use crate::script::{Act, ActWhat, By, RowRef, Script, Target};

use history::{History, SourceBelief};
pub use judge::Failure;
pub use reach::{LinkStep, broken_by_links};
pub use text::{golden_text, trace_text};

/// What came of one run.
#[derive(Clone, Debug)]
pub struct Outcome {
    /// The script that was run.
    pub script: Arc<Script>,
    /// The seed of all luck in it.
    pub seed: u64,
    /// Everything that happened, with causes.
    pub trace: Trace,
    /// Where each step without a cause comes from.
    pub roots: BTreeMap<StepId, Root>,
    /// Which timer has which slot.
    pub slots: Arc<Slots>,
    /// How points stood, over time.
    pub(crate) history: History,
    /// Each check of the script, in its order.
    pub checks: Vec<CheckOutcome>,
    /// Each clause of the plan, in its order.
    pub clauses: Vec<ClauseOutcome>,
    /// The verdict of the whole.
    pub verdict: Verdict,
}

/// How a scenario came out.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Verdict {
    /// Everything that was expected is so.
    Held,
    /// Something is not as expected.
    Broken,
    /// Nothing is wrong, and nothing was put to the test, or what was expected to hold is open.
    Undecided,
}

/// Where something that happened comes from.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Root {
    /// The row of the script that says so.
    Row(usize),
    /// A row says what a person does, and a sensor noticed it.
    Person {
        /// The row.
        row: usize,
        /// The person, by its place in the script.
        person: usize,
    },
    /// The calendar of this clock.
    Calendar(SourceId),
}

/// How a check came out.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct CheckOutcome {
    /// The first moment at which it failed, and what was found; `None`: it holds.
    pub failure: Option<Failure>,
    /// Whether that is what was expected.
    pub as_expected: bool,
}

/// How a clause came out.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct ClauseOutcome {
    /// How it stands at the end.
    pub verdict: ClauseVerdict,
    /// How it was expected to stand, if the scenario says so.
    pub expected: Option<ClauseVerdict>,
}

impl ClauseOutcome {
    /// Whether it came out as the scenario wants: as expected, or else not broken.
    #[must_use]
    pub fn as_expected(&self) -> bool {
        match self.expected {
            Some(expected) => expected == self.verdict,
            None => self.verdict != ClauseVerdict::Broken,
        }
    }
}

impl Outcome {
    /// The row of the script that a root comes from; `None` for a calendar.
    #[must_use]
    pub fn row(&self, root: Root) -> Option<&RowRef> {
        match root {
            Root::Row(row) | Root::Person { row, .. } => self.script.rows.get(row),
            Root::Calendar(_) => None,
        }
    }

    /// The last instant of the run.
    #[must_use]
    pub fn end(&self) -> Instant {
        self.script.end
    }
}

/// Runs a script with this seed.
#[must_use]
pub fn run(script: &Arc<Script>, seed: u64) -> Outcome {
    let mut play = Play::new(script, seed);
    let plan = Arc::clone(&script.plan);
    let mut simulation: Simulation<Full> = Simulation::new(plan, seed, play.quality());
    while let Some(sample) = play.next_sample() {
        while let Some(act) = play.next_act(sample) {
            act.give(&mut simulation);
        }
        simulation.run_until(sample);
        play.look(sample, &simulation);
    }
    play.judge(simulation)
}

/// A script that is being played, act by act, by whoever drives the room.
///
/// What happens through a sample is given first, then everything through the sample is run,
/// then the play looks at the room; when there is no further sample it judges.
#[derive(Clone, Debug)]
pub struct Play {
    script: Arc<Script>,
    seed: u64,
    acts: Vec<Act>,
    origins: Vec<Root>,
    samples: Vec<Instant>,
    next_act: usize,
    next_sample: usize,
    seen: Vec<(Instant, Vec<OutputView>)>,
}

impl Play {
    /// The beginning of a script under this seed.
    #[must_use]
    pub fn new(script: &Arc<Script>, seed: u64) -> Self {
        let (acts, origins) = acts(script, seed);
        Self {
            acts,
            origins,
            samples: samples(script),
            script: Arc::clone(script),
            seed,
            next_act: 0,
            next_sample: 0,
            seen: Vec::new(),
        }
    }

    /// How well frames travel in this script.
    pub fn quality(&self) -> impl Fn(SourceId, ControllerId) -> Quality + use<> {
        let known = self.script.quality.clone();
        move |source, listener| known.get(&(source, listener)).copied().unwrap_or_default()
    }

    /// The script.
    #[must_use]
    pub fn script(&self) -> &Arc<Script> {
        &self.script
    }

    /// Everything that happens, in order of time.
    #[must_use]
    pub fn acts(&self) -> &[Act] {
        &self.acts
    }

    /// Where each step without a cause comes from, in a trace to which this play has led.
    #[must_use]
    pub fn roots(&self, trace: &Trace) -> BTreeMap<StepId, Root> {
        roots(trace, &self.acts, &self.origins)
    }

    /// The next instant at which the play looks at the room.
    pub fn next_sample(&mut self) -> Option<Instant> {
        let sample = self.samples.get(self.next_sample).copied();
        self.next_sample += 1;
        sample
    }

    /// The next thing that happens no later than `sample`.
    pub fn next_act(&mut self, sample: Instant) -> Option<&Act> {
        let act = (self.acts.get(self.next_act)).filter(|act| act.at <= sample)?;
        self.next_act += 1;
        Some(act)
    }

    /// Looks at the room, which has run through `sample`.
    pub fn look(&mut self, sample: Instant, simulation: &Simulation<Full>) {
        let outputs = (0..).zip(&self.script.plan.outputs);
        let views = outputs.map(|(id, _)| simulation.view(room::OutputId(id)));
        self.seen.push((sample, views.collect()));
    }

    /// Judges the run when it is over.
    #[must_use]
    pub fn judge(self, simulation: Simulation<Full>) -> Outcome {
        let script = self.script;
        let clauses = clauses(&script, &simulation);
        let slots = Arc::new(simulation.room().slots().clone());
        let trace = simulation.into_trace();
        let history = History::new(&script, &trace, &self.seen);
        let mut outcome = Outcome {
            seed: self.seed,
            roots: roots(&trace, &self.acts, &self.origins),
            slots,
            history,
            checks: Vec::new(),
            clauses,
            verdict: Verdict::Held,
            trace,
            script,
        };
        outcome.checks = judge::checks(&outcome);
        outcome.verdict = verdict(&outcome);
        outcome
    }
}

impl Act {
    /// Gives a room what happens.
    pub fn give(&self, simulation: &mut Simulation<Full>) {
        match &self.what {
            ActWhat::Input(input) if self.after => simulation.apply_after(self.at, input.clone()),
            ActWhat::Input(input) => simulation.apply(self.at, input.clone()),
            ActWhat::Impair(impairment) => simulation.impair(self.at, *impairment),
            ActWhat::Drift(drift) => simulation.drift(self.at, *drift),
        }
    }
}

/// What happens, with what sensors notice of people under this seed, and where each comes from.
fn acts(script: &Script, seed: u64) -> (Vec<Act>, Vec<Root>) {
    let mut all: Vec<(Act, Root)> = Vec::with_capacity(script.acts.len());
    for act in &script.acts {
        let root = match act.by {
            By::Row(row) => Root::Row(row),
            By::Calendar(source) => Root::Calendar(source),
        };
        all.push((act.clone(), root));
    }
    for (person, who) in script.people.iter().enumerate() {
        let signs = who.signs(script.end);
        for (source, unit) in (0..).map(SourceId).zip(&script.plan.sources) {
            let room::SourceSettings::Occupancy(settings) = &unit.settings else {
                continue;
            };
            for sign in &signs {
                if sign.trace == SignTrace::Sound && !settings.sound {
                    continue;
                }
                let noticed = notices(&script.notices, sign.place.as_deref(), &unit.name);
                if !is_noticed(seed, &who.name, &unit.name, sign, noticed.share(sign.trace)) {
                    continue;
                }
                let stimulus = match sign.trace {
                    SignTrace::Sound => Stimulus::Sound,
                    SignTrace::MajorMotion | SignTrace::MinorMotion => Stimulus::Motion,
                };
                let act = Act {
                    at: sign.at,
                    after: false,
                    what: ActWhat::Input(Input::Stimulus(source, stimulus)),
                    by: By::Row(sign.row),
                };
                let row = sign.row;
                all.push((act, Root::Person { row, person }));
            }
        }
    }
    if !script.people.is_empty() {
        all.sort_by_key(|(act, _)| act.at);
        // Two people who move in one millisecond are one movement to a sensor.
        let mut seen = std::collections::BTreeSet::new();
        all.retain(|(act, _)| match &act.what {
            ActWhat::Input(Input::Stimulus(
                source,
                stimulus @ (Stimulus::Motion | Stimulus::Sound),
            )) => seen.insert((act.at, act.after, *source, *stimulus == Stimulus::Sound)),
            _ => true,
        });
    }
    all.into_iter().unzip()
}

/// The instants at which outputs are looked at besides those at which something happens.
fn samples(script: &Script) -> Vec<Instant> {
    let mut samples = vec![script.end];
    for check in &script.checks {
        if matches!(check.target, Target::Source(_) | Target::Controller(_)) {
            continue;
        }
        for window in &check.windows {
            samples.extend([window.from, window.to]);
        }
    }
    samples.retain(|at| *at <= script.end);
    samples.sort_unstable();
    samples.dedup();
    samples
}

/// Finds for each step without a cause what in the script it is.
fn roots(trace: &Trace, acts: &[Act], origins: &[Root]) -> BTreeMap<StepId, Root> {
    let mut roots = BTreeMap::new();
    let mut from = 0;
    for (step, id) in trace.steps.iter().zip((0..).map(StepId::at)) {
        if step.cause.is_some() {
            continue;
        }
        while from < acts.len() && acts[from].at < step.at {
            from += 1;
        }
        let here = acts[from..].iter().take_while(|act| act.at == step.at);
        let found = here.zip(&origins[from..]).find(|(act, _)| match &act.what {
            ActWhat::Input(input) => What::given(input) == step.what,
            ActWhat::Drift(drift) => step.what == What::Drifts(*drift),
            ActWhat::Impair(impairment) => {
                matches!(&step.what, What::Impaired(it) if **it == *impairment)
            }
        });
        if let Some((_, root)) = found {
            roots.insert(id, *root);
        }
    }
    roots
}

fn clauses(script: &Script, simulation: &Simulation<Full>) -> Vec<ClauseOutcome> {
    let verdicts = simulation.room().verdicts();
    (0..)
        .zip(verdicts)
        .map(|(clause, verdict)| ClauseOutcome {
            verdict: by_links(script, clause).unwrap_or(verdict),
            expected: (script.expects.iter())
                .find(|expect| expect.clause == clause)
                .map(|expect| expect.verdict),
        })
        .collect()
}

/// The verdict of a clause that no run can put to the test, because the links answer it.
fn by_links(script: &Script, clause: u16) -> Option<ClauseVerdict> {
    let formula = &script.plan.clauses[usize::from(clause)].formula;
    answered_by_links(&script.plan, formula).map(|holds| match holds {
        true => ClauseVerdict::Held,
        false => ClauseVerdict::Broken,
    })
}

/// Whether a clause of the form `S never affects X` holds by the links of the plan; `None` for
/// every other form.
#[must_use]
pub fn answered_by_links(plan: &Plan, formula: &clause::Formula) -> Option<bool> {
    let (doers, outputs) = formula.never_affects()?;
    let reaches = |doer: &clause::Doer| {
        let reaches = |output: &u16| reach::reaches(plan, *doer, *output);
        outputs.iter().any(reaches)
    };
    Some(!doers.iter().any(reaches))
}

fn verdict(outcome: &Outcome) -> Verdict {
    let failed = outcome.checks.iter().any(|check| !check.as_expected);
    let mut open = false;
    for clause in &outcome.clauses {
        match (clause.expected, clause.verdict) {
            (Some(ClauseVerdict::Held), ClauseVerdict::Open | ClauseVerdict::NeverExercised) => {
                open = true;
            }
            _ if clause.as_expected() => {}
            _ => return Verdict::Broken,
        }
    }
    if failed {
        return Verdict::Broken;
    }
    let tested = |clause: &ClauseOutcome| {
        clause.expected.is_some()
            || matches!(clause.verdict, ClauseVerdict::Held | ClauseVerdict::Broken)
    };
    let idle = outcome.checks.is_empty() && !outcome.clauses.iter().any(tested);
    if open || idle {
        return Verdict::Undecided;
    }
    Verdict::Held
}

/// Whether an output lights the room.
#[must_use]
pub fn lights(plan: &Plan, output: room::OutputId) -> bool {
    drive(plan, output).lights()
}

fn drive(plan: &Plan, output: room::OutputId) -> Drive {
    let at = &plan.outputs[usize::from(output.0)];
    let controller = &plan.controllers[usize::from(at.controller.0)];
    controller.settings.outputs[usize::from(at.local)].drive
}

#[cfg(test)]
mod tests;
