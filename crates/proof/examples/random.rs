//! Random rooms by the thousand: `random ROOMS [FIRST-SEED [CLAUSES]]`. Prints each disagreement
//! with its seed, and a tally; `random show SEED [CLAUSES]` prints a room.

#[path = "../tests/random/clauses.rs"]
mod clauses;
#[path = "../tests/random/dice.rs"]
mod dice;
#[path = "../tests/random/rooms.rs"]
mod rooms;
#[path = "../tests/random/trial.rs"]
mod trial;
#[path = "../tests/random/walk.rs"]
mod walk;

use trial::{Measure, Tally, trial};

#[expect(clippy::print_stdout, reason = "an example that prints")]
fn main() {
    let mut arguments = std::env::args().skip(1);
    let first = arguments.next().unwrap_or_else(|| "1000".to_owned());
    let seed = arguments.next().and_then(|it| it.parse().ok()).unwrap_or(0);
    let clauses = arguments.next().and_then(|it| it.parse().ok()).unwrap_or(2);
    if first == "show" {
        return show(seed, clauses);
    }
    let measure = Measure { clauses, ..MEASURE };
    let rooms: u64 = first.parse().expect("a number of rooms");
    let mut tally = Tally::default();
    for seed in seed..seed + rooms {
        let of_it = trial(seed, measure);
        for line in of_it.wrong.iter().chain(&of_it.not_replayed) {
            println!("{line}");
        }
        tally.add(of_it);
        if (seed + 1).is_multiple_of(250) {
            println!("{seed}: {}", short(&tally));
        }
    }
    println!("{}", short(&tally));
}

fn short(tally: &Tally) -> String {
    let counts = Tally {
        wrong: Vec::new(),
        not_replayed: Vec::new(),
        ..tally.clone()
    };
    format!(
        "{counts:?}, {} not replayed, {} wrong",
        tally.not_replayed.len(),
        tally.wrong.len()
    )
}

#[expect(clippy::print_stdout, reason = "an example that prints")]
fn show(seed: u64, clauses: usize) {
    let made = rooms::room(&mut dice::Dice::new(seed));
    println!("{}", made.text);
    match trial::case(&mut dice::Dice::new(seed), clauses) {
        Some(case) => println!("{}", trial::sequence(&case.clauses)),
        None => println!("{:?}", trial::read(&made.text, &[]).err()),
    }
}

const MEASURE: Measure = Measure {
    clauses: 2,
    transitions: 5_000,
    runs: 2,
    steps: 600,
    faults: true,
};
