//! `roomrig`: arguments, files, printing, exit codes.
//!
//! Exit codes: 0 everything held, 1 something broke, 2 bad usage or file, 3 undecided. Anything
//! else is a defect of the program.

mod args;
mod commands;
mod failure;
mod output;
mod rooms;

use std::process::ExitCode;

use clap::Parser;

use crate::args::{Cli, Command};
use crate::failure::Failure;

/// A proof copies small rooms by the million: that is mostly the work of the allocator.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

/// How a command ended.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
enum Ended {
    /// Everything held.
    Held,
    /// Something broke.
    Broken,
    /// Nothing broke, and something was left open.
    Undecided,
}

fn main() -> ExitCode {
    let cli = Cli::parse();
    tell_more();
    let ended = match cli.command {
        Command::Run(args) => commands::run::run(&args),
        Command::Why(args) => commands::why::run(&args),
        Command::Draw(args) => commands::draw::run(&args),
        Command::Prove(args) => commands::prove::run(&args),
        Command::Check(args) => commands::check::run(&args),
        Command::New(args) => commands::new::run(&args),
        Command::Schema(args) => commands::schema::run(&args),
        Command::Challenge(args) => commands::challenge::run(&args),
        Command::Live(args) => commands::live::run(&args),
        Command::Node(args) => commands::node::run(&args),
        Command::Trace(args) => commands::trace::run(&args),
        Command::Completions(args) => commands::shell::completions(&args),
        Command::Man => commands::shell::manual(),
    };
    match ended {
        Ok(Ended::Held) => ExitCode::SUCCESS,
        Ok(Ended::Broken) => ExitCode::from(1),
        Err(failure) => {
            output::talk(&failure.to_string());
            ExitCode::from(2)
        }
        Ok(Ended::Undecided) => ExitCode::from(3),
    }
}

/// Turns on what `ROOMRIG_LOG` asks for, on standard error.
fn tell_more() {
    let filter = tracing_subscriber::EnvFilter::try_from_env("ROOMRIG_LOG")
        .unwrap_or_else(|_| tracing_subscriber::EnvFilter::new("warn"));
    tracing_subscriber::fmt()
        .with_env_filter(filter)
        .with_writer(std::io::stderr)
        .without_time()
        .init();
}

/// A command of the program.
type Outcome = Result<Ended, Failure>;
