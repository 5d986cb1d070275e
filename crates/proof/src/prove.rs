//! Every clause of a room, each a job of its own.
//!
//! Invariant: a job knows nothing of the others, so the answers are the same on any number of
//! threads, and they stand in the order of the plan.

use std::sync::atomic::AtomicBool;

use clause::Formula;
use prover::Path;
use prover::classes::{Limits, Progress};
use prover::model::{Goal, Question, Rigor};
use prover::slice::Slice;
use rayon::prelude::*;
use room::{Plan, PlanClause, SourceId};
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
/// Clauses that are one question but for the names in it share one search. Threads share the
/// memory. A question for which its share was too small is asked again when all others are
/// answered, with all there is: so neither the bound nor the answers depend on the number of
/// threads.
fn answers(
    asked: &[Asked<'_>],
    room_of: impl Fn(usize) -> usize + Sync,
    budget: Budget,
    observer: &impl Observer,
    stop: &AtomicBool,
) -> Vec<Answer> {
    let jobs: Vec<Job<'_>> = asked.iter().map(|asked| Job::new(*asked)).collect();
    let groups = groups(&jobs);
    let ask = |group: &[usize], bytes: usize| -> Vec<(usize, Answer)> {
        let reaches = |progress: &Progress| {
            observer.reaches(room_of(group[0]), jobs[group[0]].clause, progress);
        };
        group
            .iter()
            .for_each(|&place| observer.begins(room_of(place), jobs[place].clause));
        let spend = Spend {
            budget: Budget { bytes, ..budget },
            stop,
            progress: &reaches,
        };
        let findings = jobs[group[0]].search(&spend);
        let answer = |&place: &usize| (place, jobs[place].settled(&findings, &spend));
        group.iter().map(answer).collect()
    };
    let told = |answers: &[(usize, Answer)]| {
        for (place, answer) in answers {
            observer.answers(room_of(*place), answer);
        }
    };
    let share = budget.bytes / rayon::current_num_threads().clamp(1, groups.len().max(1));
    let first = groups.par_iter().map(|group| {
        let answers = ask(group, share);
        let is_final = !answers.iter().any(|(_, it)| it.effort.cramped) || share == budget.bytes;
        if is_final {
            told(&answers);
        }
        (answers, is_final)
    });
    let first: Vec<_> = first.collect();
    let mut all: Vec<(usize, Answer)> = Vec::new();
    for ((answers, is_final), group) in first.into_iter().zip(&groups) {
        if is_final {
            all.extend(answers);
        } else {
            let again = ask(group, budget.bytes);
            told(&again);
            all.extend(again);
        }
    }
    all.sort_by_key(|(place, _)| *place);
    all.into_iter().map(|(_, answer)| answer).collect()
}

/// The jobs by their questions: those in one group differ in names only.
fn groups(jobs: &[Job<'_>]) -> Vec<Vec<usize>> {
    let mut groups: Vec<(Option<&Question>, Vec<usize>)> = Vec::new();
    for (place, job) in jobs.iter().enumerate() {
        let known = groups
            .iter_mut()
            .find(|(question, _)| question.is_some() && *question == job.question.as_ref());
        match known {
            Some((_, group)) => group.push(place),
            None => groups.push((job.question.as_ref(), vec![place])),
        }
    }
    groups.into_iter().map(|(_, group)| group).collect()
}

/// One clause.
struct Job<'a> {
    room: &'a RoomFile,
    terms: &'a Terms,
    clause: u16,
    slice: Slice,
    /// What is asked, without names; nothing where the links answer.
    question: Option<Question>,
}

/// What a search may spend, and who hears of it.
struct Spend<'a> {
    budget: Budget,
    stop: &'a AtomicBool,
    progress: &'a dyn Fn(&Progress),
}

/// What the search for an answer found.
struct Findings {
    found: Found,
    /// A path that puts a clause that is proved to the test.
    example: Option<Exact>,
    effort: Effort,
    free_reports: Vec<SourceId>,
    loose_calendars: bool,
    tightest: bound::Found,
}

impl<'a> Job<'a> {
    fn new(asked: Asked<'a>) -> Self {
        Self::with_slice(asked, Slice::of)
    }

    fn with_slice(
        (room, terms, clause): Asked<'a>,
        slice: impl FnOnce(&Plan, &[u16]) -> Slice,
    ) -> Self {
        let formula = &room.plan.clauses[usize::from(clause)].formula;
        let (plan, clauses) = with_assumptions(room, terms, clause, formula);
        let slice = slice(&plan, &clauses);
        let question = formula.never_affects().is_none().then(|| {
            let asker = Asker::new(room, &slice, terms);
            asker.question(Rigor::Exact, Goal::Broken).nameless()
        });
        Self {
            room,
            terms,
            clause,
            slice,
            question,
        }
    }

    fn search(&self, spend: &Spend<'_>) -> Findings {
        let mut asker = Asker::new(self.room, &self.slice, self.terms);
        let limits = Limits {
            classes: spend.budget.classes,
            transitions: spend.budget.transitions,
            bytes: spend.budget.bytes,
        };
        let budget = ladder::Budget {
            limits,
            stop: spend.stop,
            progress: spend.progress,
        };
        let mut effort = Effort::default();
        if self.question.is_none() {
            return Findings {
                found: Found::Proved,
                example: None,
                effort,
                free_reports: Vec::new(),
                loose_calendars: false,
                tightest: bound::Found::NoSpan,
            };
        }
        let replays = |verdict| move |path: &Path| self.replayed(path, verdict).is_ok();
        let breaks = replays(clause::Verdict::Broken);
        let found = ladder::climb(&mut asker, &budget, &mut effort, &breaks);
        let (free_reports, loose_calendars) = (asker.free_reports.clone(), asker.loose_calendars);
        let first = effort.transitions;
        let holds = replays(clause::Verdict::Held);
        let example = matches!(found, Found::Proved)
            .then(|| ladder::example(&mut asker, &budget, &mut effort, &holds));
        let is_exercised = !matches!(example, Some(Exact::Nothing { whole: true }));
        let tightest = if spend.budget.tightest && matches!(found, Found::Proved) && is_exercised {
            let asked = (self.room, self.terms, self.clause);
            Prober::new(asked, budget, first).tightest(first)
        } else {
            bound::Found::NoSpan
        };
        Findings {
            found,
            example,
            effort,
            free_reports,
            loose_calendars,
            tightest,
        }
    }

    /// The answer. Where ghosts leave it open, the clause is asked again with the outputs that
    /// they stand for: what breaks it may be that these stand as no ghost does.
    fn settled(&self, findings: &Findings, spend: &Spend<'_>) -> Answer {
        let answer = self.answer(findings);
        let is_open = matches!(
            answer.verdict,
            Verdict::Undecided(Why::NotReplayed(_) | Why::OnlyAbstract(_))
        );
        if !is_open || self.slice.ghosts.is_empty() {
            return answer;
        }
        let asked = (self.room, self.terms, self.clause);
        let job = Self::with_slice(asked, Slice::without_ghosts);
        let mut whole = job.answer(&job.search(spend));
        whole.effort.transitions += answer.effort.transitions;
        whole.effort.bytes = whole.effort.bytes.max(answer.effort.bytes);
        whole.effort.cramped |= answer.effort.cramped;
        whole
    }

    /// The answer that the findings are for this clause.
    fn answer(&self, findings: &Findings) -> Answer {
        let mut answer = Answer {
            clause: self.clause,
            id: self.room.plan.clauses[usize::from(self.clause)].id.clone(),
            verdict: Verdict::NeverExercised,
            slice: None,
            effort: findings.effort,
            assumptions: Vec::new(),
            abstractions: Vec::new(),
            tightest: None,
            untold: None,
        };
        let formula = &self.room.plan.clauses[usize::from(self.clause)].formula;
        if self.question.is_none() {
            let way = scenario::run::broken_by_links(self.room, formula);
            answer.verdict = way.map_or(Verdict::Proved(None), Verdict::Linked);
            return answer;
        }
        let mut asker = Asker::new(self.room, &self.slice, self.terms);
        asker.free_reports.clone_from(&findings.free_reports);
        asker.loose_calendars = findings.loose_calendars;
        answer.slice = Some(self.slice.said());
        answer.assumptions = asker.assumptions();
        answer.abstractions = asker.abstractions(findings.effort.how);
        answer.verdict = match (&findings.found, &findings.example) {
            (Found::Path(path), _) => match self.replayed(path, clause::Verdict::Broken) {
                Ok(witness) => Verdict::Broken(witness),
                Err(why) => Verdict::Undecided(Why::NotReplayed(why)),
            },
            (Found::Undecided(why), _) => Verdict::Undecided(why.clone()),
            (Found::Proved, Some(Exact::Path(path))) => {
                Verdict::Proved(self.replayed(path, clause::Verdict::Held).ok())
            }
            (Found::Proved, Some(Exact::Nothing { whole: true })) => {
                match formula.mentions().illuminances.is_empty() {
                    true => Verdict::NeverExercised,
                    false => Verdict::Undecided(Why::StandingDaylight(self.slice.plan.daylight)),
                }
            }
            (Found::Proved, _) => Verdict::Proved(None),
        };
        match findings.tightest {
            bound::Found::Bound(tightest) => answer.tightest = Some(tightest),
            bound::Found::None(why) => answer.untold = Some(why),
            bound::Found::NoSpan => {}
        }
        answer
    }

    /// The scenario that a path becomes, if its run comes out as wanted.
    fn replayed(&self, path: &Path, wanted: clause::Verdict) -> Result<Witness, String> {
        replay::refine(
            self.room,
            &self.slice,
            self.terms,
            self.clause,
            path,
            wanted,
        )
    }
}

/// Whether a clause asks the same of a room however it is set: the parts that it needs are equal
/// in every way that a proof looks at.
#[must_use]
pub fn asks_the_same(one: &RoomFile, other: &RoomFile, terms: &Terms, clause: u16) -> bool {
    let formula = |room: &RoomFile| room.plan.clauses[usize::from(clause)].formula.clone();
    if formula(one).never_affects().is_some() {
        let broken = |room| scenario::run::broken_by_links(room, &formula(room)).is_some();
        return broken(one) == broken(other);
    }
    let slice = |room| {
        let (plan, clauses) = with_assumptions(room, terms, clause, &formula(room));
        Slice::of(&plan, &clauses)
    };
    slice(one) == slice(other)
        && one.calendars == other.calendars
        && one.quality == other.quality
        && one.zone == other.zone
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
    plan.daylight = terms.daylight_of(room, clause);
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
