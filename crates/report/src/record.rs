//! What came of runs, as records: the JSON that other programs read, and the one source of the
//! tables and of JUnit.
//!
//! Invariant: fields are only ever added; [`VERSION`] grows when one changes its meaning. Times
//! are whole milliseconds since the start of the run; civil times are ISO 8601 without a zone.

use std::path::Path;

use serde::{Deserialize, Serialize};

use crate::failure::Failure;
use crate::run::{Place, Run};
use crate::verdict::Verdict;

/// The version of the records.
pub const VERSION: u32 = 1;

/// Everything that was run.
#[derive(Clone, Debug, Default, Deserialize, Eq, PartialEq, Serialize)]
pub struct Suite {
    /// [`VERSION`].
    pub version: u32,
    /// The scenarios, in the order in which they were given.
    pub scenarios: Vec<Scenario>,
    /// Rooms of which no scenario was run.
    #[serde(default)]
    pub idle_rooms: Vec<IdleRoom>,
}

/// A room of which no scenario was run: nothing is known of its clauses.
#[derive(Clone, Debug, Deserialize, Eq, PartialEq, Serialize)]
pub struct IdleRoom {
    /// The room.
    pub room: String,
    /// Its file.
    pub file: String,
    /// The ids of its clauses.
    pub clauses: Vec<String>,
}

/// One run of one scenario.
#[derive(Clone, Debug, Deserialize, Eq, PartialEq, Serialize)]
pub struct Scenario {
    /// The room.
    pub room: String,
    /// The scenario's file.
    pub file: String,
    /// The values of its parameters in this run, if it has any.
    #[serde(default)]
    pub values: Vec<(String, String)>,
    /// Its title.
    pub title: String,
    /// The seed of all luck in the run.
    pub seed: u64,
    /// The verdict.
    pub verdict: Verdict,
    /// When it starts, in civil time.
    pub starts: String,
    /// How long it lasts.
    pub lasts_ms: u64,
    /// How many steps its trace has.
    pub steps: u64,
    /// What its rows check.
    pub checks: Vec<CheckRecord>,
    /// The clauses of its room.
    pub clauses: Vec<ClauseRecord>,
    /// What broke, and why.
    pub failures: Vec<FailureRecord>,
}

/// A check of a scenario.
#[derive(Clone, Debug, Deserialize, Eq, PartialEq, Serialize)]
pub struct CheckRecord {
    /// Where its row stands.
    #[serde(flatten)]
    pub place: PlaceRecord,
    /// The point that it is about.
    pub point: String,
    /// What must be so.
    pub says: String,
    /// The instant, or where its interval begins.
    pub from_ms: u64,
    /// Where its interval ends.
    pub to_ms: u64,
    /// How it fared.
    pub verdict: Verdict,
    /// Whether that is what the scenario wants.
    pub as_expected: bool,
    /// When it was found not to be so.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub at_ms: Option<u64>,
    /// What was found instead.
    #[serde(skip_serializing_if = "String::is_empty", default)]
    pub found: String,
}

/// A clause of a room in one run.
#[derive(Clone, Debug, Deserialize, Eq, PartialEq, Serialize)]
pub struct ClauseRecord {
    /// Its id.
    pub id: String,
    /// Its sentence.
    pub says: String,
    /// Where it stands.
    #[serde(flatten)]
    pub place: PlaceRecord,
    /// How it fared.
    pub verdict: Verdict,
    /// Whether that is what the scenario wants.
    pub as_expected: bool,
}

/// A place in a file; lines and columns count from 1.
#[derive(Clone, Debug, Deserialize, Eq, PartialEq, Serialize)]
pub struct PlaceRecord {
    /// The file.
    pub file: String,
    /// The line.
    pub line: u32,
    /// The column, in characters.
    pub column: u32,
}

/// Something that broke, and why.
#[derive(Clone, Debug, Deserialize, Eq, PartialEq, Serialize)]
pub struct FailureRecord {
    /// What broke.
    pub says: String,
    /// File, line and column.
    pub place: String,
    /// When.
    pub at_ms: u64,
    /// When, in civil time.
    pub at: String,
    /// Whether that is what the scenario wants.
    pub as_expected: bool,
    /// The chain of causes, the effect first.
    pub why: Vec<String>,
    /// What could have changed it and did not.
    pub refused: Vec<String>,
    /// What will change it next.
    pub next: Vec<String>,
}

impl Suite {
    /// A suite of these scenarios.
    #[must_use]
    pub const fn new(scenarios: Vec<Scenario>) -> Self {
        Self {
            version: VERSION,
            scenarios,
            idle_rooms: Vec::new(),
        }
    }

    /// The suite as JSON, indented, with a newline at its end.
    ///
    /// # Panics
    ///
    /// Never: records have nothing that JSON cannot say.
    #[must_use]
    pub fn to_json(&self) -> String {
        let mut text = serde_json::to_string_pretty(self).expect("records are plain data");
        text.push('\n');
        text
    }

    /// How many scenarios have this verdict.
    #[must_use]
    pub fn count(&self, verdict: Verdict) -> usize {
        let same = self
            .scenarios
            .iter()
            .filter(|scenario| scenario.verdict == verdict);
        same.count()
    }

    /// The rooms in the order in which they first appear, each with its scenarios. Two rooms of
    /// one name in two folders are two.
    #[must_use]
    pub fn rooms(&self) -> Vec<(&str, Vec<&Scenario>)> {
        let mut rooms: Vec<(&str, Vec<&Scenario>)> = Vec::new();
        for scenario in &self.scenarios {
            let place = scenario.place();
            match rooms
                .iter_mut()
                .find(|(_, known)| known[0].place() == place)
            {
                Some((_, known)) => known.push(scenario),
                None => rooms.push((&scenario.room, vec![scenario])),
            }
        }
        rooms
    }

    /// The clauses that no scenario has put to the test, with their rooms.
    #[must_use]
    pub fn never_exercised(&self) -> Vec<(&str, &ClauseRecord)> {
        let mut never = Vec::new();
        for (room, scenarios) in self.rooms() {
            let Some(first) = scenarios.first() else {
                continue;
            };
            for clause in &first.clauses {
                let idle = |scenario: &&&Scenario| {
                    let same = scenario.clauses.iter().find(|other| other.id == clause.id);
                    same.is_none_or(|other| other.verdict == Verdict::NeverExercised)
                };
                if scenarios.iter().filter(idle).count() == scenarios.len() {
                    never.push((room, clause));
                }
            }
        }
        never
    }
}

impl Scenario {
    /// What tells this run from the others: the file, and the values of parameters.
    #[must_use]
    pub fn label(&self) -> String {
        crate::run::label(&self.file, &self.values)
    }

    /// The room and its folder.
    fn place(&self) -> (&str, Option<&Path>) {
        (&self.room, Path::new(&self.file).parent())
    }

    /// The record of a run.
    #[must_use]
    pub fn of(run: &Run<'_>, seed: u64, verdict: Verdict, failures: &[Failure]) -> Self {
        Self {
            room: run.names.plan.name.clone(),
            file: run.file.clone(),
            values: run.values.clone(),
            title: run.title.clone(),
            seed,
            verdict,
            starts: run.clock.iso(sim::Instant::START),
            lasts_ms: run.end.as_ms(),
            steps: run.trace.steps.len() as u64,
            checks: run.checks.iter().map(check).collect(),
            clauses: run.clauses.iter().map(clause).collect(),
            failures: failures
                .iter()
                .map(|failure| broken(run, failure))
                .collect(),
        }
    }
}

fn check(check: &crate::run::Check) -> CheckRecord {
    let broken = check.verdict == Verdict::Broken;
    CheckRecord {
        place: (&check.place).into(),
        point: check.point.clone(),
        says: check.says.clone(),
        from_ms: check.from.as_ms(),
        to_ms: check.to.as_ms(),
        verdict: check.verdict,
        as_expected: check.as_expected,
        at_ms: broken.then(|| check.at.as_ms()),
        found: check.found.clone(),
    }
}

fn clause(clause: &crate::run::Clause) -> ClauseRecord {
    ClauseRecord {
        id: clause.id.clone(),
        says: clause.says.clone(),
        place: (&clause.place).into(),
        verdict: clause.verdict,
        as_expected: clause.as_expected,
    }
}

fn broken(run: &Run<'_>, failure: &Failure) -> FailureRecord {
    FailureRecord {
        says: failure.says.clone(),
        place: failure.place.clone(),
        at_ms: failure.at.as_ms(),
        at: run.clock.iso(failure.at),
        as_expected: failure.as_expected,
        why: failure.chain.clone(),
        refused: failure.refused.clone(),
        next: failure.next.clone(),
    }
}

impl From<&Place> for PlaceRecord {
    fn from(place: &Place) -> Self {
        Self {
            file: place.file.clone(),
            line: place.line,
            column: place.column,
        }
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::sketch::quiet_reading;
    use crate::timeline::Timeline;

    /// A suite of two scenarios of one room: one broken, one held.
    pub(crate) fn suite() -> Suite {
        let sketch = quiet_reading();
        let run = sketch.run(4_800_000);
        let failures = Failure::all(&run, &Timeline::of(&run));
        let broken = Scenario::of(&run, 0, Verdict::Broken, &failures);
        let mut held = broken.clone();
        held.file = "by-hand.toml".to_owned();
        held.verdict = Verdict::Held;
        held.failures.clear();
        held.checks.retain(|check| check.verdict == Verdict::Held);
        for clause in &mut held.clauses {
            if clause.verdict == Verdict::Broken {
                clause.as_expected = true;
            }
        }
        Suite::new(vec![broken, held])
    }

    #[test]
    fn records_read_as_documented_json() {
        insta::assert_snapshot!(suite().to_json());
    }

    #[test]
    fn json_comes_back_as_the_same_records() {
        let suite = suite();
        let back: Suite = serde_json::from_str(&suite.to_json()).unwrap();
        assert_eq!(back, suite);
    }

    #[test]
    fn a_clause_is_never_exercised_only_if_no_scenario_exercised_it() {
        let mut suite = suite();
        let ids = |suite: &Suite| -> Vec<String> {
            let never = suite.never_exercised();
            never
                .into_iter()
                .map(|(_, clause)| clause.id.clone())
                .collect()
        };
        assert_eq!(ids(&suite), ["A1"]);
        suite.scenarios[1].clauses[0].verdict = Verdict::Held;
        assert!(ids(&suite).is_empty());
    }
}
