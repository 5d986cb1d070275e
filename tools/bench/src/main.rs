//! The benchmark: one workload, the product and its peers, all in one run on one machine.
//!
//! Each implementation runs in a process of its own, taking turns with the others, so that peak
//! memory is its own and a noisy minute hits all of them.
//!
//! Invariant: no time is printed for an implementation whose events, changes and checksum are
//! not those of the published workload.

mod child;
mod contestants;
mod peers;
mod report;
mod rig;
mod workload;

use std::path::PathBuf;
use std::process::ExitCode;

use contestants::{CONTESTANTS, Contestant, Size};
use report::Results;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let outcome = match words[..] {
        ["one", name, rooms, days] => child::one(name, rooms, days),
        ["stimuli", rooms, days, file] => child::stimuli(rooms, days, file),
        ["--quick"] => quick(),
        [] => full(RUNS),
        ["--runs", runs] => match runs.parse() {
            Ok(runs) => full(runs),
            Err(_) => Err(format!("not a number of runs: {runs}")),
        },
        _ => Err(USAGE.to_owned()),
    };
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("bench: {error}");
            ExitCode::FAILURE
        }
    }
}

/// Every implementation once on the small sizes: is it the same work? Nothing is timed, because
/// a test must not depend on how busy the machine is.
fn quick() -> Result<(), String> {
    let peers = Peers::find()?;
    let mut checked = 0;
    for size in Size::PUBLISHED {
        for contestant in &CONTESTANTS {
            let quick = size.rooms <= 100 || contestant.fast();
            if quick && contestant.runs_at(size) {
                peers.run(contestant, size)?;
                checked += 1;
            }
        }
    }
    println!("{checked} runs did the same work");
    Ok(())
}

/// The whole table.
fn full(runs: usize) -> Result<(), String> {
    let peers = Peers::find()?;
    let mut results = Results::default();
    for size in Size::ALL {
        for run in 0..runs {
            for contestant in &CONTESTANTS {
                if contestant.runs_at(size) && run < contestant.runs(size, runs) {
                    eprintln!("{size}, run {} of {runs}: {}", run + 1, contestant.title);
                    results.add(contestant, size, peers.run(contestant, size)?);
                }
            }
        }
    }
    print!("{}", results.table());
    println!();
    print!("{}", results.asks());
    Ok(())
}

/// Where the other half of the peers is: a Python with SimPy and the stimuli it reads.
struct Peers {
    python: PathBuf,
    script: PathBuf,
    folder: PathBuf,
}

impl Peers {
    fn find() -> Result<Self, String> {
        let here = PathBuf::from(env!("CARGO_MANIFEST_DIR"));
        let python = std::env::var_os("BENCH_PYTHON")
            .map(PathBuf::from)
            .ok_or("BENCH_PYTHON names no Python: start the benchmark with tools/bench/run.sh")?;
        let folder = here.join("target/stimuli");
        // Old files may come from an older generator.
        let _ = std::fs::remove_dir_all(&folder);
        std::fs::create_dir_all(&folder).map_err(|error| error.to_string())?;
        Ok(Self {
            python,
            script: here.join("rooms_simpy.py"),
            folder,
        })
    }

    fn run(&self, contestant: &Contestant, size: Size) -> Result<child::Measured, String> {
        let command = match contestant.idiom() {
            None => child::command_one(contestant.name, size)?,
            Some(idiom) => {
                let file = self.folder.join(format!("{}-{}", size.rooms, size.days));
                if !file.exists() {
                    child::write_stimuli(size, &file)?;
                }
                let mut command = std::process::Command::new(&self.python);
                command.arg(&self.script).arg(idiom).arg(file);
                command
            }
        };
        child::measure(command, contestant, size)
    }
}

const RUNS: usize = 5;

const USAGE: &str = "usage: tools/bench/run.sh [--quick | --runs N]";
