//! What a session tells when it is asked: why an output is as it is, and pictures of the past.
//!
//! Invariant: the words are those of the command line; nothing is told here in another way.

use std::collections::BTreeMap;

use report::draw::svg;
use report::outcome::{Sentence, place};
use report::run::{Clause, Run, Written};
use report::timeline::Timeline;
use report::verdict::Verdict;
use report::why::Why;
use report::words::Names;
use scenario::diagnostic::{all_of, nearest};
use scenario::run::Root;
use serde::Serialize;
use sim::Instant;

use crate::{Refusal, Session};

/// Why an output is as it is.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct Told {
    title: String,
    text: String,
    chain: Vec<Cause>,
    refused: Vec<String>,
    next: Vec<String>,
}

impl Told {
    /// The chain of causes: when, what and by which step.
    #[cfg(test)]
    pub(crate) fn chain(&self) -> Vec<(u64, String, u32)> {
        let links = self.chain.iter();
        links.map(|it| (it.at, it.what.clone(), it.step)).collect()
    }

    /// The whole answer, as the command line prints it.
    #[cfg(test)]
    pub(crate) fn text(&self) -> &str {
        &self.text
    }
}

/// One cause of a chain.
#[derive(Clone, Debug, Serialize)]
struct Cause {
    at: u64,
    civil: String,
    what: String,
    step: u32,
    remarks: Vec<String>,
    /// Whether it begins a chain of its own below another.
    begins: bool,
}

impl Session {
    /// The session up to the present moment, as reports read a run.
    pub(crate) fn told(&self) -> Run<'_> {
        let script = self.score.script();
        let trace = self.simulation.trace();
        let roots = self.score.play.roots(trace);
        let row = |root: &Root| match root {
            Root::Row(row) | Root::Person { row, .. } => script.rows.get(*row),
            Root::Calendar(_) => None,
        };
        let people = roots.iter().filter_map(|(step, root)| match root {
            Root::Person { .. } => {
                let row = row(root)?;
                Some((*step, format!("{} {}", row.point, row.says)))
            }
            Root::Row(_) | Root::Calendar(_) => None,
        });
        Run {
            names: Names::new(self.simulation.plan()),
            trace,
            clock: self.clock(),
            title: script.title.clone(),
            file: SESSION.to_owned(),
            values: Vec::new(),
            end: self.now(),
            // Rows of a session stand in no file that anybody could open.
            places: BTreeMap::new(),
            people: people.collect(),
            checks: Vec::new(),
            clauses: self.told_clauses(),
            settings: Some(self.told_settings()),
        }
    }

    /// Why an output is as it is now, or was at a moment.
    pub(crate) fn why(&self, output: &str, at: Option<Instant>) -> Result<Told, Refusal> {
        let run = self.told();
        let Some(id) = run.output(output) else {
            let outputs = || run.names.plan.outputs.iter().map(|it| it.name.as_str());
            let hint = nearest(output, outputs()).map_or_else(
                || format!("the outputs are {}", all_of(outputs())),
                |near| format!("did you mean `{near}`?"),
            );
            let message = format!("the room has no output `{output}`");
            return Err(Refusal::new(message, hint));
        };
        let at = at.unwrap_or(self.now()).min(self.now());
        if at < self.since() {
            let since = run.clock.label(self.since());
            return Err(Refusal::new(
                format!("what was before {since} is kept no longer"),
                "go back to that moment: the room then runs through it again",
            ));
        }
        let why = Why::of(&run, id, at);
        let chain = why.chain.links.iter().map(|link| Cause {
            at: link.at.as_ms(),
            civil: run.clock.label(link.at),
            what: link.words.clone(),
            step: u32::try_from(self.number(link.step)).unwrap_or(u32::MAX),
            remarks: link.remarks.clone(),
            begins: link.begins,
        });
        let label = run.clock.label(at);
        Ok(Told {
            title: format!("{output} {} at {label}", why.stands),
            chain: chain.collect(),
            refused: why.refused_lines(&run),
            next: why.next_lines(&run),
            text: why.text(&run),
        })
    }

    /// The timing diagram of a stretch of the session.
    pub(crate) fn picture(&self, from: Instant, to: Instant) -> Result<String, Refusal> {
        let (from, to) = (from.max(self.since()), to.min(self.now()));
        if from >= to {
            return Err(Refusal::new(
                "there is nothing to draw in that stretch of time",
                "let the room run, or ask for an earlier stretch",
            ));
        }
        let whole = Timeline::of(&self.told());
        let names: Vec<&str> = whole.lanes.iter().map(|lane| lane.name.as_str()).collect();
        Ok(svg(&whole.window(from, to, &names)))
    }

    fn told_clauses(&self) -> Vec<Clause> {
        let sources = &self.score.sources;
        let sentences = Sentence::all(&self.stage.room);
        let plan = self.simulation.plan();
        let planned = plan.clauses.iter().zip(self.simulation.room().verdicts());
        let clause = |((clause, verdict), sentence): ((&room::PlanClause, _), Sentence)| {
            sentence.judged(&clause.id, sources, Verdict::from(verdict), true)
        };
        planned.zip(sentences).map(clause).collect()
    }

    fn told_settings(&self) -> Written {
        let (room, sources) = (&self.stage.room, &self.score.sources);
        let mut known = Written::new();
        for (name, key, at) in room.settings() {
            let places = known.entry((name, key.to_owned())).or_default();
            places.push((Instant::START, place(sources, at)));
        }
        for (place, row) in self.score.rows() {
            let here = report::run::Place {
                file: SESSION.to_owned(),
                line: u32::try_from(place + 1).unwrap_or(u32::MAX),
                column: 1,
            };
            let set = row
                .says
                .split_once('=')
                .map(|(key, _)| key.trim().to_owned());
            let moment = row.when.moments.first().copied();
            if let (Some(key), Some(at)) = (set, moment.filter(|at| *at <= self.now())) {
                for name in room.members(&row.point) {
                    let places = known.entry((name, key.clone())).or_default();
                    places.push((at, here.clone()));
                }
            }
        }
        for places in known.values_mut() {
            places.sort_by_key(|(since, _)| *since);
        }
        known
    }
}

/// What a session goes by, which is no file: settings that were turned in it stand at its rows.
const SESSION: &str = "this session";
