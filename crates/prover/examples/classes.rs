//! Classes per second and bytes per class of the engine, on a room small enough to write down.
//!
//! `cargo run --release -p prover --example classes`

#[path = "../tests/models/scratch.rs"]
mod scratch;

use std::io::{self, Write};
use std::sync::atomic::AtomicBool;
use std::time::Duration;

use prover::classes::{Limits, Mode, Order, Outcome, Search, explore};
use scratch::{MINUTE, Scratch};

fn main() -> io::Result<()> {
    let mut out = io::stdout().lock();
    writeln!(
        out,
        "mode sensors classes keys visited transitions ms visited/s transitions/s bytes/class"
    )?;
    for sensors in 1..=4 {
        row(
            &mut out,
            "inclusion",
            Mode::Inclusion,
            Scratch::new(sensors, CLAUSE),
        )?;
    }
    for sensors in 1..=5 {
        let room = Scratch::new(sensors, CLAUSE).resting().sorting();
        row(&mut out, "folded", Mode::Inclusion, room)?;
    }
    for sensors in 1..=6 {
        let room = Scratch::new(sensors, CLAUSE).resting();
        row(&mut out, "hull", Mode::Hull { widens: false }, room)?;
    }
    Ok(())
}

/// Explores until enough time has gone by to tell the speed, and prints a row.
fn row(out: &mut impl Write, name: &str, mode: Mode, room: Scratch) -> io::Result<()> {
    let search = Search {
        mode,
        order: Order::LargestFirst,
        keeps_paths: false,
        goes_on: false,
    };
    #[expect(
        clippy::disallowed_methods,
        reason = "a benchmark measures; nothing explored knows of it"
    )]
    let begun = std::time::Instant::now();
    let mut rounds = 0;
    let exploration = loop {
        let Ok(exploration) = explore(
            &room,
            search,
            &Limits::NONE,
            &mut |_| {},
            &AtomicBool::new(false),
        );
        rounds += 1;
        if begun.elapsed() > Duration::from_millis(200) {
            break exploration;
        }
    };
    assert_eq!(exploration.outcome, Outcome::Complete, "the clause holds");
    let seconds = begun.elapsed().as_secs_f64() / f64::from(rounds);
    let reached = exploration.reached;
    writeln!(
        out,
        "{name} {} {} {} {} {} {:.3} {:.0} {:.0} {}",
        room.sensors,
        reached.classes,
        reached.keys,
        reached.visited,
        reached.transitions,
        seconds * 1_000.0,
        reached.visited as f64 / seconds,
        reached.transitions as f64 / seconds,
        exploration.peak_bytes / reached.classes,
    )
}

/// The span of the clause: a second more than the room needs.
const CLAUSE: i32 = 75 * MINUTE + 1_000;
