//! Every clause of a room, each a job of its own.
//!
//! Invariant: a job knows nothing of the others, so the answers are the same on any number of
//! threads, and they stand in the order of the plan.

use std::sync::atomic::AtomicBool;

use crate::whole::Slice;
use prover::classes::{Limits, Progress};
use rayon::prelude::*;
use scenario::room_file::RoomFile;

use crate::answer::{Answer, Effort, Verdict, Why};
use crate::ask::{Asker, Terms};
use crate::ladder::{self, Exact, Found};
use crate::rerun as replay;

/// What may be spent on each clause.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Budget {
    /// State classes held at one time.
    pub classes: usize,
    /// Successors computed.
    pub transitions: u64,
    /// Bytes held.
    pub bytes: usize,
}

impl Default for Budget {
    fn default() -> Self {
        Self {
            classes: 2_000_000,
            transitions: 20_000_000,
            bytes: 400 << 20,
        }
    }
}

/// Who wants to hear how it goes. Called from several threads.
pub trait Observer: Sync {
    /// A clause is begun.
    fn begins(&self, _clause: u16) {}

    /// How far one of its searches is.
    fn reaches(&self, _clause: u16, _progress: &Progress) {}

    /// A clause is answered.
    fn answers(&self, _answer: &Answer) {}
}

/// Puts clauses of a room to the symbolic clock: all of them, or these.
pub fn prove(
    room: &RoomFile,
    clauses: &[u16],
    terms: &Terms,
    budget: Budget,
    observer: &impl Observer,
    stop: &AtomicBool,
) -> Vec<Answer> {
    clauses
        .par_iter()
        .map(|&clause| {
            observer.begins(clause);
            let job = Job {
                room,
                clause,
                terms,
                budget,
                stop,
            };
            let answer = job.answer(&|progress| observer.reaches(clause, progress));
            observer.answers(&answer);
            answer
        })
        .collect()
}

/// One clause.
struct Job<'a> {
    room: &'a RoomFile,
    clause: u16,
    terms: &'a Terms,
    budget: Budget,
    stop: &'a AtomicBool,
}

impl Job<'_> {
    fn answer(&self, progress: &dyn Fn(&Progress)) -> Answer {
        let clause = &self.room.plan.clauses[usize::from(self.clause)];
        let mut answer = Answer {
            clause: self.clause,
            id: clause.id.clone(),
            verdict: Verdict::NeverExercised,
            slice: None,
            effort: Effort::default(),
            assumptions: Vec::new(),
            abstractions: Vec::new(),
            tightest: None,
        };
        if let Some(verdict) = scenario::run::answered_by_links(&self.room.plan, &clause.formula) {
            answer.verdict = match verdict {
                true => Verdict::Proved(None),
                false => Verdict::Undecided(Why::Beyond("the links reach it")),
            };
            return answer;
        }
        let slice = Slice::of(&self.room.plan, &[self.clause]);
        answer.slice = Some(slice.said());
        let mut asker = Asker::new(self.room, &slice, self.terms);
        let budget = ladder::Budget {
            limits: Limits {
                classes: self.budget.classes,
                transitions: self.budget.transitions,
                bytes: self.budget.bytes,
            },
            stop: self.stop,
            progress,
        };
        let found = ladder::climb(&mut asker, &budget, &mut answer.effort);
        answer.verdict = match found {
            Found::Path(path) => match replay::broken(self.room, &slice, self.clause, &path) {
                Ok(witness) => Verdict::Broken(witness),
                Err(why) => Verdict::Undecided(Why::NotReplayed(why)),
            },
            Found::Undecided(why) => Verdict::Undecided(why),
            Found::Proved { .. } => match ladder::example(&asker, &budget, &mut answer.effort) {
                Exact::Path(path) => {
                    Verdict::Proved(replay::exercised(self.room, &slice, self.clause, &path).ok())
                }
                Exact::Nothing { whole: true } => Verdict::NeverExercised,
                Exact::Nothing { whole: false } | Exact::Spent(..) | Exact::Beyond(_) => {
                    Verdict::Proved(None)
                }
            },
        };
        answer
    }
}
