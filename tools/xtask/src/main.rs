//! Chores of the repository, each one command: `cargo xtask ci` is what CI runs.
//!
//! Invariant: a chore that finds something wrong says what, where and what to do, and ends
//! with code 1; a chore that cannot run at all ends with code 2.
#![expect(
    clippy::print_stdout,
    clippy::print_stderr,
    reason = "a chore talks to the person at the terminal"
)]

mod chores;
mod tally;
mod tidy;
mod tree;

use std::process::ExitCode;

fn main() -> ExitCode {
    let mut arguments = std::env::args().skip(1);
    let chore = arguments.next().unwrap_or_default();
    let rest: Vec<String> = arguments.collect();
    let outcome = match chore.as_str() {
        "ci" => chores::ci(),
        "lint" => chores::lint(),
        "test" => chores::test(),
        "tidy" => chores::tidy(),
        "golden" => chores::golden(),
        "soak" => chores::soak(&rest),
        _ => {
            eprint!("{USAGE}");
            return ExitCode::from(2);
        }
    };
    match outcome {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::from(1),
        Err(error) => {
            eprintln!("xtask: {error}");
            ExitCode::from(2)
        }
    }
}

const USAGE: &str = "\
cargo xtask CHORE

  ci      lint, then test: what CI runs
  lint    formatting, clippy without warnings, tidy, documentation
  test    every test of the workspace; closes with the number passed and failed
  tidy    the rules of the tree that no compiler checks
  golden  writes the golden traces anew; look at the diff before you commit it
  soak    random rooms and stimuli, seeds by the thousand: soak [CASES]
";
