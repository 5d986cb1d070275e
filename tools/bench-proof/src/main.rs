//! The benchmark of `prove`: one question about one room, put to the product in dense time and to
//! checkers that step through it minute by minute, all in one run on one machine.
//!
//! Invariant: no time is printed for a checker whose verdict or number of states is not the one
//! that was published; what ran out of time or memory is said to have.

mod actor;
mod child;
mod product;
mod promela;
mod search;
mod steps;
mod table;

use std::process::ExitCode;

use child::{Checker, Found};
use steps::{Asked, MOST_SENSORS, PUBLISHED, Room};
use table::Table;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let outcome = match words[..] {
        ["one", name, sensors, minutes, asked] => child::one(name, sensors, minutes, asked),
        ["--quick"] => quick(),
        [] => full(),
        _ => Err("usage: tools/bench-proof/run.sh [--quick]".to_owned()),
    };
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("bench-proof: {error}");
            ExitCode::FAILURE
        }
    }
}

/// Small rooms and every question: do all of them count and answer alike? Nothing is timed.
fn quick() -> Result<(), String> {
    let mut checked = 0;
    for (sensors, minutes, _) in PUBLISHED.into_iter().filter(|it| it.2 < QUICK) {
        for asked in [Asked::Clause, Asked::Short, Asked::Literal] {
            let room = Room {
                sensors,
                minutes,
                asked,
            };
            for checker in Checker::ALL {
                let found = checker.check(room)?;
                if found.holds.is_none() {
                    return Err(format!("{} has no verdict on {room:?}", checker.name()));
                }
                agrees(checker, room, &found)?;
                checked += 1;
            }
        }
    }
    println!("{checked} runs counted and answered alike");
    Ok(())
}

/// The whole table: more sensors as long as anybody has a verdict.
fn full() -> Result<(), String> {
    let mut table = Table::default();
    let mut beyond: Vec<(Checker, usize, u32)> = Vec::new();
    for sensors in 1..=MOST_SENSORS {
        let mut verdicts = 0;
        let product = best(Checker::Product, sensors, MINUTES[0])?;
        verdicts += usize::from(product.holds.is_some());
        table.product(sensors, product);
        for minutes in MINUTES {
            for checker in Checker::ALL.into_iter().skip(1) {
                // What had no verdict on a smaller room has none on a larger one.
                let larger = |it: &(Checker, usize, u32)| {
                    it.0 == checker && it.1 <= sensors && it.2 >= minutes
                };
                let found = match beyond.iter().any(larger) {
                    true => Found::none(),
                    false => best(checker, sensors, minutes)?,
                };
                if found.holds.is_none() {
                    beyond.push((checker, sensors, minutes));
                }
                verdicts += usize::from(found.holds.is_some());
                table.add(checker, sensors, minutes, found);
            }
        }
        if verdicts == 0 {
            break;
        }
    }
    print!("{}", table.said());
    Ok(())
}

/// The quickest of a few runs; of a long one there is one run only.
fn best(checker: Checker, sensors: usize, minutes: u32) -> Result<Found, String> {
    let asked = Asked::Clause;
    let room = Room {
        sensors,
        minutes,
        asked,
    };
    let mut best = Found::none();
    let mut spent = 0;
    for run in 1..=RUNS {
        eprintln!(
            "{sensors} sensors, {minutes} min, run {run}: {}",
            checker.name()
        );
        let found = checker.check(room)?;
        agrees(checker, room, &found)?;
        spent += found.nanoseconds;
        if best.holds.is_none() || found.nanoseconds < best.nanoseconds {
            best = found;
        }
        if best.holds.is_none() || spent > LONG {
            break;
        }
    }
    Ok(best)
}

/// The verdict is right, and as many states were found as were published.
fn agrees(checker: Checker, room: Room, found: &Found) -> Result<(), String> {
    let Some(holds) = found.holds else {
        return Ok(());
    };
    let name = checker.name();
    if holds != (room.asked == Asked::Clause) {
        return Err(format!("{name} says of {room:?} that it holds: {holds}"));
    }
    let mut published = PUBLISHED.iter();
    let published = published.find(|it| (it.0, it.1) == (room.sensors, room.minutes));
    let counts = checker != Checker::Product && holds;
    match published {
        Some((.., states)) if counts && *states != found.states => Err(format!(
            "{name} finds {} states in {room:?}; published: {states}",
            found.states
        )),
        _ => Ok(()),
    }
}

/// Steps that the discrete checkers take, in minutes.
const MINUTES: [u32; 3] = [5, 3, 1];

/// Rooms with fewer states are looked at in a quick check: two sensors at most.
const QUICK: u64 = 20_000;

/// Runs of which the quickest counts.
const RUNS: usize = 3;

/// No further run after so many nanoseconds.
const LONG: u128 = 2_000_000_000;
