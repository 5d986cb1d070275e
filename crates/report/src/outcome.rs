//! From what came of a scenario to the run that reports read.

use std::collections::BTreeMap;

use scenario::Sources;
use scenario::run::{Outcome, Root, Verdict as ScenarioVerdict};
use scenario::script::Target;
use sim::{Instant, StepId};

use crate::clock::Clock;
use crate::run::{Check, Clause, Place, Run};
use crate::verdict::Verdict;
use crate::words::Names;

/// The sentence of a clause, and where it stands: what a plan does not keep of it.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Sentence {
    /// The sentence, as the submittal prints it.
    pub says: String,
    /// Where the clause stands.
    pub place: scenario::Place,
}

impl<'a> Run<'a> {
    /// The run behind `outcome`; `sentences` are those of the plan's clauses, in their order.
    #[must_use]
    pub fn of(outcome: &'a Outcome, sources: &Sources, sentences: &[Sentence]) -> Self {
        let script = &outcome.script;
        Self {
            names: Names::new(&script.plan),
            trace: &outcome.trace,
            clock: Clock::new(script.civil.zoned(Instant::START)),
            title: script.title.clone(),
            file: script.file.clone(),
            end: outcome.end(),
            places: places(outcome, sources),
            people: people(outcome),
            checks: checks(outcome, sources),
            clauses: clauses(outcome, sources, sentences),
        }
    }
}

impl From<ScenarioVerdict> for Verdict {
    fn from(verdict: ScenarioVerdict) -> Self {
        match verdict {
            ScenarioVerdict::Held => Self::Held,
            ScenarioVerdict::Broken => Self::Broken,
            ScenarioVerdict::Undecided => Self::Undecided,
        }
    }
}

impl From<clause::Verdict> for Verdict {
    fn from(verdict: clause::Verdict) -> Self {
        match verdict {
            clause::Verdict::Held => Self::Held,
            clause::Verdict::Broken => Self::Broken,
            clause::Verdict::NeverExercised => Self::NeverExercised,
            clause::Verdict::Open => Self::Open,
        }
    }
}

/// A place as file, line and column.
fn place(sources: &Sources, place: scenario::Place) -> Place {
    let file = sources.file(place.file);
    let (line, column) = file.line_column(place.start);
    let number = |count: usize| u32::try_from(count).unwrap_or(u32::MAX);
    Place {
        file: file.name().to_owned(),
        line: number(line),
        column: number(column),
    }
}

fn places(outcome: &Outcome, sources: &Sources) -> BTreeMap<StepId, Place> {
    let roots = outcome.roots.iter();
    let rows = roots.filter_map(|(step, root)| Some((*step, outcome.row(*root)?)));
    rows.map(|(step, row)| (step, place(sources, row.place)))
        .collect()
}

fn people(outcome: &Outcome) -> BTreeMap<StepId, String> {
    let roots = outcome.roots.iter();
    let rows = roots.filter_map(|(step, root)| match root {
        Root::Person { .. } => Some((*step, outcome.row(*root)?)),
        Root::Row(_) | Root::Calendar(_) => None,
    });
    rows.map(|(step, row)| (step, format!("{} {}", row.point, row.says)))
        .collect()
}

fn checks(outcome: &Outcome, sources: &Sources) -> Vec<Check> {
    let plan = &outcome.script.plan;
    let checks = outcome.script.checks.iter().zip(&outcome.checks);
    let judged = checks.filter_map(|(asked, judged)| {
        let row = outcome.script.rows.get(asked.row)?;
        let from = asked.windows.first()?.from;
        let to = asked.windows.last()?.to;
        let failure = judged.failure.as_ref();
        let point = match asked.target {
            Target::Output(id) => plan.outputs.get(usize::from(id.0)).map(|at| &at.name),
            Target::Source(id) => plan.sources.get(usize::from(id.0)).map(|at| &at.name),
            Target::Controller(id) => plan.controllers.get(usize::from(id.0)).map(|at| &at.name),
            Target::Task(_) | Target::Person(_) => None,
        };
        Some(Check {
            place: place(sources, row.place),
            point: point.unwrap_or(&row.point).clone(),
            says: row.says.clone(),
            from,
            to,
            verdict: failure.map_or(Verdict::Held, |_| Verdict::Broken),
            at: failure.map_or(to, |failure| failure.at),
            found: failure.map_or_else(String::new, |failure| failure.found.clone()),
            as_expected: judged.as_expected,
        })
    });
    judged.collect()
}

fn clauses(outcome: &Outcome, sources: &Sources, sentences: &[Sentence]) -> Vec<Clause> {
    let planned = outcome.script.plan.clauses.iter().zip(&outcome.clauses);
    let clauses = planned
        .zip(sentences)
        .map(|((planned, judged), sentence)| Clause {
            id: planned.id.clone(),
            says: sentence.says.clone(),
            place: place(sources, sentence.place),
            verdict: judged.verdict.into(),
            as_expected: judged.as_expected(),
        });
    clauses.collect()
}
