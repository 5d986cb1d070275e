//! Every clause of a room, each a job of its own.
//!
//! Invariant: a job knows nothing of the others, so the answers are the same on any number of
//! threads, and they stand in the order of the plan.

use std::sync::atomic::AtomicBool;

use clause::Formula;
use prover::Path;
use prover::classes::{Limits, Progress};
use prover::slice::Slice;
use rayon::prelude::*;
use room::{Plan, PlanClause};
use scenario::room_file::RoomFile;

use crate::answer::{Answer, Effort, Verdict, Why, Witness};
use crate::ask::{Asker, Terms};
use crate::bound::{self, Prober};
use crate::ladder::{self, Exact, Found};
use crate::replay;

/// What may be spent.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Budget {
    /// State classes held at one time for one clause.
    pub classes: usize,
    /// Successors computed by one search.
    pub transitions: u64,
    /// Bytes held for all clauses that are being looked at.
    pub bytes: usize,
    /// Whether the tightest bound of a proved clause is looked for: some two dozen proofs more.
    pub tightest: bool,
}

impl Default for Budget {
    fn default() -> Self {
        Self {
            classes: 2_000_000,
            transitions: 20_000_000,
            bytes: 1 << 30,
            tightest: false,
        }
    }
}

/// Who wants to hear how it goes. Called from several threads, with the place of the room among
/// those that are asked about.
pub trait Observer: Sync {
    /// A clause is begun.
    fn begins(&self, _room: usize, _clause: u16) {}

    /// How far one of its searches is.
    fn reaches(&self, _room: usize, _clause: u16, _progress: &Progress) {}

    /// A clause is answered.
    fn answers(&self, _room: usize, _answer: &Answer) {}
}

/// Puts clauses of one room to the symbolic clock.
pub fn prove(
    room: &RoomFile,
    clauses: &[u16],
    terms: &Terms,
    budget: Budget,
    observer: &impl Observer,
    stop: &AtomicBool,
) -> Vec<Answer> {
    let asked: Vec<_> = clauses
        .iter()
        .map(|&clause| (room, terms, clause))
        .collect();
    let place = |_| 0;
    answers(&asked, place, budget, observer, stop)
}

/// Puts clauses of several rooms to the symbolic clock, each room on its own terms.
pub fn prove_all(
    rooms: &[(&RoomFile, Vec<u16>, Terms)],
    budget: Budget,
    observer: &impl Observer,
    stop: &AtomicBool,
) -> Vec<Vec<Answer>> {
    let mut asked = Vec::new();
    let mut places = Vec::new();
    for (place, (room, clauses, terms)) in rooms.iter().enumerate() {
        asked.extend(clauses.iter().map(|&clause| (*room, terms, clause)));
        places.extend(clauses.iter().map(|_| place));
    }
    let mut all: Vec<Vec<Answer>> = rooms.iter().map(|_| Vec::new()).collect();
    let found = answers(&asked, |job| places[job], budget, observer, stop);
    for (answer, place) in found.into_iter().zip(places) {
        all[place].push(answer);
    }
    all
}

/// A room, the terms, and the clause that is asked.
type Asked<'a> = (&'a RoomFile, &'a Terms, u16);

/// The answers, in the order of what is asked.
///
/// Threads share the memory. A clause for which its share was too small is asked again when all
/// others are answered, with all there is: so neither the bound nor the answers depend on the
/// number of threads.
fn answers(
    asked: &[Asked<'_>],
    room_of: impl Fn(usize) -> usize + Sync,
    budget: Budget,
    observer: &impl Observer,
    stop: &AtomicBool,
) -> Vec<Answer> {
    let ask = |place: usize, bytes: usize| {
        let (room, terms, clause) = asked[place];
        let number = room_of(place);
        observer.begins(number, clause);
        let job = Job {
            room,
            clause,
            terms,
            budget: Budget { bytes, ..budget },
            stop,
        };
        job.answer(&|progress| observer.reaches(number, clause, progress))
    };
    let share = budget.bytes / rayon::current_num_threads().clamp(1, asked.len().max(1));
    let first = asked.par_iter().enumerate().map(|(place, _)| {
        let answer = ask(place, share);
        if !answer.effort.cramped || share == budget.bytes {
            observer.answers(room_of(place), &answer);
        }
        answer
    });
    let mut answers: Vec<Answer> = first.collect();
    for (place, answer) in answers.iter_mut().enumerate() {
        if answer.effort.cramped && share < budget.bytes {
            *answer = ask(place, budget.bytes);
            observer.answers(room_of(place), answer);
        }
    }
    answers
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
            untold: None,
        };
        if clause.formula.never_affects().is_some() {
            let way = scenario::run::broken_by_links(self.room, &clause.formula);
            answer.verdict = way.map_or(Verdict::Proved(None), Verdict::Linked);
            return answer;
        }
        let (plan, clauses) = with_assumptions(self.room, self.terms, self.clause, &clause.formula);
        let slice = Slice::of(&plan, &clauses);
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
        let first = answer.effort.transitions;
        answer.assumptions = asker.assumptions();
        answer.abstractions = asker.abstractions(answer.effort.how);
        answer.verdict = match found {
            Found::Path(path) => match self.replayed(&slice, &path, clause::Verdict::Broken) {
                Ok(witness) => Verdict::Broken(witness),
                Err(why) => Verdict::Undecided(Why::NotReplayed(why)),
            },
            Found::Undecided(why) => Verdict::Undecided(why),
            Found::Proved => match ladder::example(&mut asker, &budget, &mut answer.effort) {
                Exact::Path(path) => {
                    Verdict::Proved(self.replayed(&slice, &path, clause::Verdict::Held).ok())
                }
                Exact::Nothing { whole: true } => Verdict::NeverExercised,
                Exact::Nothing { whole: false } | Exact::Spent(..) | Exact::Beyond(_) => {
                    Verdict::Proved(None)
                }
            },
        };
        if self.budget.tightest && matches!(answer.verdict, Verdict::Proved(_)) {
            let asked = (self.room, self.terms, self.clause);
            match Prober::new(asked, budget, first).tightest(first) {
                bound::Found::Bound(tightest) => answer.tightest = Some(tightest),
                bound::Found::None(why) => answer.untold = Some(why),
                bound::Found::NoSpan => {}
            }
        }
        answer
    }
}

impl Job<'_> {
    /// The scenario that a path becomes, if its run comes out as wanted.
    fn replayed(
        &self,
        slice: &Slice,
        path: &Path,
        wanted: clause::Verdict,
    ) -> Result<Witness, String> {
        replay::refine(self.room, slice, self.terms, self.clause, path, wanted)
    }
}

/// The plan with the clauses that are taken for granted behind its own, and the places of
/// those and of the one that is asked, which is first and is judged as the formula says.
pub(crate) fn with_assumptions(
    room: &RoomFile,
    terms: &Terms,
    clause: u16,
    formula: &Formula,
) -> (Plan, Vec<u16>) {
    let mut plan = room.plan.clone();
    plan.clauses[usize::from(clause)].formula = formula.clone();
    let mut clauses = vec![clause];
    for taken in room.assumptions.iter().chain(&terms.assume) {
        clauses.extend(u16::try_from(plan.clauses.len()));
        plan.clauses.push(PlanClause {
            id: taken.id.clone(),
            formula: taken.formula.clone(),
        });
    }
    (plan, clauses)
}
