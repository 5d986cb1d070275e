//! Challenges: one thing is made wrong in a room, and its scenarios say who notices.
//!
//! A clause that no fault breaks says nothing; two clauses that the same faults break say the
//! same; a scenario that nothing breaks checks nothing. Invariant: the list of faults follows
//! from the plan alone, so it is the same on every machine.

mod fault;
mod names;

use std::sync::Arc;

use clause::Verdict as ClauseVerdict;
use room::Input;

pub use fault::Fault;

use crate::run::{Outcome, Verdict, run};
use crate::script::{ActWhat, Script};

/// What came of one fault.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Challenge {
    /// The fault, in words.
    pub fault: String,
    /// The clauses that it broke in some scenario, by their place in the plan.
    pub clauses: Vec<usize>,
    /// The scenarios that came out otherwise than they should, by their place.
    pub scenarios: Vec<usize>,
}

/// What came of all faults of a room.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Matrix {
    /// The clauses, by their ids.
    pub clauses: Vec<String>,
    /// The runs, by their names.
    pub scenarios: Vec<String>,
    /// Each fault and who noticed it.
    pub challenges: Vec<Challenge>,
}

/// How the runs of a room come out without a fault: what a fault is compared with.
#[derive(Clone, Debug)]
pub struct Baseline {
    scripts: Vec<Arc<Script>>,
    /// For each run, the clauses that are broken in it anyway.
    broken: Vec<Vec<bool>>,
    /// For each run, whether it holds.
    held: Vec<bool>,
    seed: u64,
}

impl Baseline {
    /// Runs the scripts of one room as they are.
    #[must_use]
    pub fn of(scripts: &[Arc<Script>], seed: u64) -> Self {
        let outcomes: Vec<Outcome> = scripts.iter().map(|script| run(script, seed)).collect();
        Self {
            scripts: scripts.to_vec(),
            broken: outcomes.iter().map(broken_clauses).collect(),
            held: outcomes
                .iter()
                .map(|it| it.verdict == Verdict::Held)
                .collect(),
            seed,
        }
    }

    /// The first run that does not hold even without a fault: a challenge of it would say
    /// nothing.
    #[must_use]
    pub fn failing(&self) -> Option<&Script> {
        let failing = self.held.iter().position(|held| !held)?;
        Some(&self.scripts[failing])
    }

    /// The faults that the room can be challenged with.
    #[must_use]
    pub fn faults(&self) -> Vec<Fault> {
        let plan = self.scripts.first().map(|script| &script.plan);
        plan.map_or_else(Vec::new, |plan| Fault::all(plan))
    }

    /// Seeds one fault and runs everything again.
    #[must_use]
    pub fn challenge(&self, fault: &Fault) -> Challenge {
        let mut challenge = Challenge {
            fault: self
                .scripts
                .first()
                .map_or_else(String::new, |script| fault.words(&script.plan)),
            clauses: Vec::new(),
            scenarios: Vec::new(),
        };
        for (index, (script, anyway)) in self.scripts.iter().zip(&self.broken).enumerate() {
            let outcome = run(&Arc::new(with_fault(script, fault)), self.seed);
            if outcome.verdict != Verdict::Held {
                challenge.scenarios.push(index);
            }
            for (clause, broken) in broken_clauses(&outcome).into_iter().enumerate() {
                if broken && !anyway[clause] && !challenge.clauses.contains(&clause) {
                    challenge.clauses.push(clause);
                }
            }
        }
        challenge.clauses.sort_unstable();
        challenge
    }

    /// The matrix of these challenges.
    #[must_use]
    pub fn matrix(&self, challenges: Vec<Challenge>) -> Matrix {
        let clauses = self
            .scripts
            .first()
            .map(|script| script.plan.clauses.iter());
        Matrix {
            clauses: clauses
                .into_iter()
                .flatten()
                .map(|clause| clause.id.clone())
                .collect(),
            scenarios: self.scripts.iter().map(|script| script.name()).collect(),
            challenges,
        }
    }
}

impl Matrix {
    /// Clauses that no fault breaks.
    pub fn idle_clauses(&self) -> impl Iterator<Item = &str> {
        let noticed = |index: &usize| self.challenges.iter().any(|it| it.clauses.contains(index));
        (0..self.clauses.len())
            .filter(move |index| !noticed(index))
            .map(|index| self.clauses[index].as_str())
    }

    /// Scenarios that no fault breaks.
    pub fn idle_scenarios(&self) -> impl Iterator<Item = &str> {
        let noticed = |index: &usize| {
            self.challenges
                .iter()
                .any(|it| it.scenarios.contains(index))
        };
        (0..self.scenarios.len())
            .filter(move |index| !noticed(index))
            .map(|index| self.scenarios[index].as_str())
    }

    /// Pairs of clauses that the very same faults break.
    #[must_use]
    pub fn twins(&self) -> Vec<(&str, &str)> {
        let column = |clause: usize| -> Vec<bool> {
            self.challenges
                .iter()
                .map(|it| it.clauses.contains(&clause))
                .collect()
        };
        let columns: Vec<Vec<bool>> = (0..self.clauses.len()).map(column).collect();
        let mut twins = Vec::new();
        for (one, left) in columns.iter().enumerate() {
            for (other, right) in columns.iter().enumerate().skip(one + 1) {
                if left == right && left.contains(&true) {
                    twins.push((self.clauses[one].as_str(), self.clauses[other].as_str()));
                }
            }
        }
        twins
    }

    /// Faults that nobody noticed.
    pub fn unnoticed(&self) -> impl Iterator<Item = &str> {
        let unnoticed = |it: &&Challenge| it.clauses.is_empty() && it.scenarios.is_empty();
        self.challenges
            .iter()
            .filter(unnoticed)
            .map(|it| it.fault.as_str())
    }
}

fn broken_clauses(outcome: &Outcome) -> Vec<bool> {
    let clauses = outcome.clauses.iter();
    clauses
        .map(|clause| clause.verdict == ClauseVerdict::Broken)
        .collect()
}

/// The script in a room with this fault, also after settings that it changes on site.
fn with_fault(script: &Script, fault: &Fault) -> Script {
    let mut script = script.clone();
    let before = Arc::clone(&script.plan);
    fault.seed(Arc::make_mut(&mut script.plan));
    fault.impair(&before, &mut script.quality);
    for act in &mut script.acts {
        if let ActWhat::Input(Input::Change(change)) = &mut act.what {
            fault.seed_change(change);
        }
    }
    script
}
