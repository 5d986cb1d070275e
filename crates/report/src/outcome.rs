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
            values: script.values.clone(),
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
#[must_use]
pub fn place(sources: &Sources, place: scenario::Place) -> Place {
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

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;
    use crate::failure::Failure;
    use crate::record::Scenario;
    use crate::timeline::Timeline;

    const ROOM: &str = r#"
name = "Office 112"
time-zone = "Europe/London"

[outputs.desk-lights]
drive    = "0-10 V"
load     = "96 W"
low-trim = "10 %"

[outputs.desk-outlet]
drive = "receptacle"
load  = "180 W"

[sources.wall-sensor]
kind         = "occupancy"
senses       = ["motion", "sound"]
time-delay   = "15 min"
sound-window = "60 min"

[sources.wall-button]
kind    = "switch"
buttons = "up/down"

[[links]]
from  = "wall-sensor"
to    = "desk-lights"
role  = "partial-on"
level = "50 %"

[[links]]
from = "wall-sensor"
to   = "desk-outlet"
role = "auto-on"

[[links]]
from = "wall-button"
to   = "desk-lights"

[people.ana]
"#;

    const SEQUENCE: &str = r#"
[[clauses]]
id    = "A1"
says  = "The wall button never changes the receptacle."
never = "wall-button changes desk-outlet"

[[clauses]]
id   = "A2"
says = "Nobody's light is ever above half."
always = "desk-lights is at most 50 %"
"#;

    const SCENARIO: &str = r#"
title = "Ana works, raises the light and leaves"
start = "2026-03-02 08:00"
rows = [
  ["08:00:00", "ana", "enters"],
  ["08:00:05", "desk-lights", "is 50 %"],
  ["08:10:00", "wall-button", "tap up"],
  ["08:10:01", "desk-lights", "is 50 %"],
  ["08:30:00", "ana", "leaves"],
  ["09:00:00", "desk-outlet", "is off"],
]
"#;

    /// The outcome of the scenario, with the files and the sentences of its room.
    fn outcome() -> (Outcome, Sources, Vec<Sentence>) {
        let mut sources = Sources::new();
        let room = sources.add("office/room.toml", ROOM);
        let sequence = sources.add("office/sequence.toml", SEQUENCE);
        let file = sources.add("office/ana.toml", SCENARIO);
        let (room, wrong) = scenario::room_file::read_room(&sources, room, Some(sequence), None);
        let errors: Vec<String> = wrong.iter().map(|it| it.render(&sources, false)).collect();
        let room = room.unwrap_or_else(|| panic!("{}", errors.join("\n")));
        let loaded = scenario::script::load(&mut sources, file, &room);
        let wrong = loaded.diagnostics.iter();
        let errors: Vec<String> = wrong.map(|it| it.render(&sources, false)).collect();
        let script = loaded.scripts.into_iter().next();
        let script = script.unwrap_or_else(|| panic!("{}", errors.join("\n")));
        let sentences = room.plan.clauses.iter().map(|clause| {
            let (place, says) = room.sentences[&clause.id].clone();
            Sentence { says, place }
        });
        let sentences = sentences.collect();
        (scenario::run::run(&Arc::new(script), 0), sources, sentences)
    }

    #[test]
    fn what_broke_in_a_scenario_is_told_with_rows_and_people() {
        let (outcome, sources, sentences) = outcome();
        let run = Run::of(&outcome, &sources, &sentences);
        let failures = Failure::find(&run);
        let texts: Vec<String> = failures.iter().map(|failure| failure.text(100)).collect();
        insta::assert_snapshot!(texts.join("\n"));
    }

    #[test]
    fn verdicts_places_and_marks_come_from_the_outcome() {
        let (outcome, sources, sentences) = outcome();
        let run = Run::of(&outcome, &sources, &sentences);
        let record = Scenario::of(&run, 0, outcome.verdict.into(), &Failure::find(&run));
        assert_eq!(record.verdict, Verdict::Broken);
        let fared: Vec<Verdict> = record.clauses.iter().map(|clause| clause.verdict).collect();
        assert_eq!(fared[1], Verdict::Broken);
        assert_eq!(record.clauses[1].place.file, "office/sequence.toml");
        let missed: Vec<u32> = record
            .checks
            .iter()
            .filter(|check| !check.as_expected)
            .map(|it| it.place.line)
            .collect();
        assert_eq!(missed, [8]);
        let timeline = Timeline::of(&run);
        let broken = timeline
            .items()
            .iter()
            .filter(|(_, _, item)| item.is_broken())
            .count();
        assert_eq!(broken, 2);
    }
}
