//! Random runs of the shipped rooms: `walk STEPS [SEED [TRANSITIONS [STAGE]]]`.
//!
//! Takes so many steps in each room, near the timers that run and at ties, and looks whether a
//! run breaks what is proved of it: with nothing going wrong, with a frame lost and with a cut of
//! power. Then as many steps in which everything happens that no proof speaks of. TRANSITIONS are
//! what the proof of a clause may take where something goes wrong; what takes more is left out.
//! STAGE is where to begin: 0, 1 where a frame is lost, 2 where power is cut.
//! Prints which rows of the device reference were put to work, and ends with 1 if a claim broke or
//! fewer than 95 % of the rows were seen.

#[path = "../tests/walks/controllers.rs"]
mod controllers;
#[path = "../tests/random/dice.rs"]
mod dice;
#[path = "../tests/walks/rare.rs"]
mod rare;
#[path = "../tests/walks/rows.rs"]
mod rows;
#[path = "../tests/walks/run.rs"]
mod run;
#[path = "../tests/walks/sources.rs"]
mod sources;
#[path = "../tests/random/walk.rs"]
mod walk;

use std::process::ExitCode;

use dice::Dice;
use proof::{Budget, Terms};
use rows::Rows;

#[expect(clippy::print_stdout, reason = "an example that prints")]
fn main() -> ExitCode {
    let mut arguments = std::env::args().skip(1).map(|it| it.parse::<u64>());
    let mut number = |or| arguments.next().and_then(Result::ok).unwrap_or(or);
    let (steps, seed) = (number(1_000_000) as usize, number(0));
    let transitions = number(20_000);
    let stage = number(0) as usize;
    let mut dice = Dice::new(seed);
    let rooms = run::annex();
    let mut rows = Rows::default();
    let mut broken = 0;
    for (about, terms) in stages().into_iter().skip(stage) {
        let budget = match terms.is_plain() {
            true => Budget::default(),
            false => Budget {
                transitions,
                ..Budget::default()
            },
        };
        for claims in run::claims(&rooms, &terms, budget) {
            let (proved, never) = (claims.proved.len(), claims.never.len());
            match claims.survive(&mut dice, steps, &mut rows) {
                Ok(taken) => println!(
                    "{}, {about}: {proved} proved, {never} never exercised; {taken} steps",
                    claims.name()
                ),
                Err(how) => {
                    broken += 1;
                    println!("{how}");
                }
            }
        }
        let (seen, all) = rows.count();
        println!("{about}: {seen} of {all} rows seen");
    }
    for room in rooms.iter().chain(&rare::rooms()) {
        let taken = run::run_wild(room, &mut dice, steps, &mut rows);
        println!("{}, everything: {taken} steps", room.plan.name);
    }
    for row in rows.missing() {
        println!("not seen: {row}");
    }
    let (seen, all) = rows.count();
    println!("{seen} of {all} rows seen, {broken} claims broken");
    match broken == 0 && seen * 100 >= all * 95 {
        true => ExitCode::SUCCESS,
        false => ExitCode::FAILURE,
    }
}

/// What may go wrong.
fn stages() -> [(&'static str, Terms); 3] {
    let lose = Terms {
        lose: 1,
        ..Terms::default()
    };
    let cuts = Terms {
        cuts: 1,
        ..Terms::default()
    };
    [
        ("nothing goes wrong", Terms::default()),
        ("one frame lost", lose),
        ("one cut of power", cuts),
    ]
}
