//! One random room with its clauses: proved, and then looked at by random runs.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::AtomicBool;

use clause::Formula;
use proof::{Answer, Budget, Observer, Terms, Verdict, Why, prove};
use scenario::Sources;
use scenario::room_file::{RoomFile, read_room};
use sim::Silent;

use crate::clauses::{Fields, clause};
use crate::dice::Dice;
use crate::rooms::{Room, room};
use crate::walk::walk;

/// What came of some rooms.
#[derive(Clone, Debug, Default)]
pub(crate) struct Tally {
    pub(crate) rooms: usize,
    pub(crate) refused: usize,
    pub(crate) clauses: usize,
    pub(crate) proved: usize,
    pub(crate) broken: usize,
    pub(crate) never: usize,
    pub(crate) spent: usize,
    pub(crate) beyond: usize,
    pub(crate) abstracted: usize,
    /// Paths whose run does not break, each with its seed, clause and reason.
    pub(crate) not_replayed: Vec<String>,
    /// What a random run breaks, or puts to the test, though the answer says that none does.
    pub(crate) wrong: Vec<String>,
    pub(crate) steps: usize,
}

impl Tally {
    pub(crate) fn add(&mut self, other: Self) {
        self.rooms += other.rooms;
        self.refused += other.refused;
        self.clauses += other.clauses;
        self.proved += other.proved;
        self.broken += other.broken;
        self.never += other.never;
        self.spent += other.spent;
        self.beyond += other.beyond;
        self.abstracted += other.abstracted;
        self.not_replayed.extend(other.not_replayed);
        self.wrong.extend(other.wrong);
        self.steps += other.steps;
    }
}

/// How much is done with one room.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Measure {
    pub(crate) clauses: usize,
    pub(crate) transitions: u64,
    pub(crate) runs: usize,
    pub(crate) steps: usize,
    /// Whether things may go wrong in one room of four.
    pub(crate) faults: bool,
}

pub(crate) struct Deaf;

impl Observer for Deaf {}

/// A room that was read, with clauses that were.
#[derive(Debug)]
pub(crate) struct Case {
    pub(crate) room: RoomFile,
    pub(crate) made: Room,
    pub(crate) clauses: Vec<Fields>,
}

/// The room of a seed; `None` where it cannot be read.
pub(crate) fn case(dice: &mut Dice, clauses: usize) -> Option<Case> {
    let made = room(dice);
    let bare = read(&made.text, &[]).ok()?;
    let names = bare.names();
    let mut kept: Vec<Fields> = Vec::new();
    for _ in 0..clauses * 8 {
        let fields = clause(dice, &made);
        let texts: Vec<(&str, &str)> = fields.iter().map(|(k, t)| (*k, t.as_str())).collect();
        if Formula::parse(&texts, &names, bare.reaction).is_ok() {
            kept.push(fields);
        }
        if kept.len() == clauses {
            break;
        }
    }
    let room = read(&made.text, &kept).ok()?;
    Some(Case {
        room,
        made,
        clauses: kept,
    })
}

/// Reads a room with these clauses.
pub(crate) fn read(text: &str, clauses: &[Fields]) -> Result<RoomFile, String> {
    let mut sources = Sources::new();
    let file = sources.add("room.toml", text.to_owned());
    let sequence = sources.add("sequence.toml", sequence(clauses));
    let (room, found) = read_room(&sources, file, Some(sequence), None);
    let found = || found.iter().map(|it| it.render(&sources, false));
    room.ok_or_else(|| found().collect::<Vec<_>>().join("\n"))
}

/// The clauses as a file.
pub(crate) fn sequence(clauses: &[Fields]) -> String {
    let mut text = String::new();
    for (number, fields) in clauses.iter().enumerate() {
        text.push_str(&format!("[[clauses]]\nid = \"X{number}\"\nsays = \"-\"\n"));
        for (key, half) in fields {
            text.push_str(&format!("{key} = \"{half}\"\n"));
        }
    }
    text
}

/// Proves the clauses of the room of a seed and lets random runs look at the answers.
pub(crate) fn trial(seed: u64, measure: Measure) -> Tally {
    let tried = catch_unwind(AssertUnwindSafe(|| unguarded(seed, measure)));
    tried.unwrap_or_else(|panic| {
        let said = panic.downcast_ref::<String>().cloned();
        let said = said.or_else(|| panic.downcast_ref::<&str>().map(|it| (*it).to_owned()));
        Tally {
            wrong: vec![format!("seed {seed}: it panics: {said:?}")],
            ..Tally::default()
        }
    })
}

fn unguarded(seed: u64, measure: Measure) -> Tally {
    let mut dice = Dice::new(seed);
    let mut tally = Tally::default();
    let Some(case) = case(&mut dice, measure.clauses) else {
        tally.refused += 1;
        return tally;
    };
    let terms = terms(&mut dice, &case, measure.faults);
    tally.rooms += 1;
    tally.clauses += case.clauses.len();
    let numbers: Vec<u16> = (0..case.clauses.len() as u16).collect();
    let budget = Budget {
        classes: 20_000,
        transitions: measure.transitions,
        bytes: 1 << 28,
        tightest: false,
    };
    let stop = AtomicBool::new(false);
    let answers = prove(&case.room, &numbers, &terms, budget, &Deaf, &stop);
    for answer in &answers {
        count(&mut tally, seed, &case, &terms, answer);
    }
    let is_claim = |it: &Answer| matches!(it.verdict, Verdict::Proved(_) | Verdict::NeverExercised);
    if answers.iter().any(is_claim) {
        for _ in 0..measure.runs {
            let (seen, Silent) = walk(&case.room, &terms, &mut dice, (measure.steps, &[]));
            tally.steps += seen.steps;
            for (answer, verdict) in answers.iter().zip(&seen.verdicts) {
                let tested = *verdict == clause::Verdict::Held;
                let wrong = match answer.verdict {
                    Verdict::Proved(_) => *verdict == clause::Verdict::Broken,
                    Verdict::NeverExercised => tested || *verdict == clause::Verdict::Broken,
                    _ => false,
                };
                if wrong {
                    let story = seen.story.join("\n  ");
                    let said = say(seed, &case, &terms, answer);
                    tally
                        .wrong
                        .push(format!("{said}: a run says {verdict:?}\n  {story}"));
                }
            }
            if !tally.wrong.is_empty() {
                break;
            }
        }
    }
    tally
}

fn count(tally: &mut Tally, seed: u64, case: &Case, terms: &Terms, answer: &Answer) {
    match &answer.verdict {
        Verdict::Proved(_) => tally.proved += 1,
        Verdict::Broken(_) => tally.broken += 1,
        Verdict::NeverExercised => tally.never += 1,
        Verdict::Undecided(Why::Spent(..)) => tally.spent += 1,
        // A link that leads there is no counterexample, and needs none.
        Verdict::Linked(_) | Verdict::Undecided(Why::Beyond(_)) => tally.beyond += 1,
        Verdict::Undecided(Why::OnlyAbstract(_) | Why::StandingDaylight(_)) => {
            tally.abstracted += 1;
        }
        Verdict::Undecided(Why::NotReplayed(why)) => {
            let said = say(seed, case, terms, answer);
            tally.not_replayed.push(format!("{said}: {why}"));
        }
    }
}

fn say(seed: u64, case: &Case, terms: &Terms, answer: &Answer) -> String {
    format!(
        "seed {seed}, {}: {:?} ({:?}, terms {terms:?})",
        answer.id,
        case.clauses[usize::from(answer.clause)],
        answer.effort.how,
    )
}

/// What may go wrong.
fn terms(dice: &mut Dice, case: &Case, faults: bool) -> Terms {
    let mut terms = Terms::default();
    if dice.one_in(8) {
        terms.at_once = true;
    }
    if dice.one_in(12) {
        terms.many_hands = true;
    }
    if !faults || !dice.one_in(4) {
        return terms;
    }
    match dice.below(4) {
        0 => terms.lose = 1,
        1 => terms.cuts = 1,
        2 => {
            terms.dead = vec![dice.one(&case.made.sources).name];
            // Now and then both.
            terms.cuts = u8::from(terms.at_once || terms.many_hands);
        }
        _ => terms.tolerance = dice.one(&[100, 500]),
    }
    terms
}
