//! Random runs of the shipped rooms: no run breaks what is proved of them, and the runs put
//! nearly every row of the device reference to work.
//!
//! `cargo run --release -p proof --example walk -- STEPS [SEED]` takes as many steps as one likes.

mod controllers;
#[path = "../random/dice.rs"]
mod dice;
mod rare;
mod rows;
mod run;
mod sources;
#[path = "../random/walk.rs"]
mod walk;

use dice::Dice;
use proof::{Budget, Terms};
use rows::Rows;

/// Of what little effort proves.
#[test]
fn proved_clauses_survive_random_runs_near_every_timer() {
    let rooms = run::annex();
    let budget = Budget {
        transitions: 5_000,
        ..Budget::default()
    };
    let mut dice = Dice::new(SEED);
    let mut rows = Rows::default();
    let mut proved = 0;
    for claims in run::claims(&rooms, &Terms::default(), budget) {
        proved += claims.proved.len();
        let survived = claims.survive(&mut dice, STEPS, &mut rows);
        assert_eq!(survived, Ok(STEPS), "{}", claims.name());
    }
    assert!(proved > 20, "only {proved} clauses were proved");
}

/// With everything that a proof takes for granted not to happen.
#[test]
fn random_runs_put_nearly_every_row_to_work() {
    let mut dice = Dice::new(SEED);
    let mut rows = Rows::default();
    for room in run::annex().iter().chain(&rare::rooms()) {
        run::run_wild(room, &mut dice, WILD, &mut rows);
    }
    let (seen, all) = rows.count();
    let missing = rows.missing().join("\n");
    assert!(
        seen * 100 >= all * LEAST,
        "{seen} of {all} rows seen, not:\n{missing}"
    );
}

const SEED: u64 = 7;

/// Steps in each room.
const STEPS: usize = 4_000;
const WILD: usize = 10_000;

/// Per cent of the rows.
const LEAST: usize = 90;
