//! The command line: what can be asked of `roomrig`.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};

/// Runs the control logic of a room's devices in virtual time and says whether the sequence of
/// operation holds.
///
/// Data goes to standard output, talk to standard error. Set ROOMRIG_LOG=debug to see more.
#[derive(Debug, Parser)]
#[command(name = "roomrig", version, max_term_width = 100, after_long_help = EXIT_CODES)]
pub(crate) struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub(crate) command: Command,
}

/// The exit codes, as the help and the manual print them.
pub(crate) const EXIT_CODES: &str = "\
Exit codes:
  0  everything held
  1  a check or a clause broke, or the static check found an error
  2  bad usage, or a file that cannot be read or understood
  3  undecided: nothing broke, and something was left open";

/// The commands.
#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Run scenarios and print the verdicts and the coverage of the clauses
    Run(Run),
    /// Say why an output is as it is, and what will change it next
    Why(Why),
    /// Draw a scenario as a timing diagram
    Draw(Draw),
    /// Check rooms without running them
    Check(Check),
    /// Write a commented starter room
    New(New),
    /// Print the JSON Schema of a file, for editors
    Schema(Schema),
    /// Print every step of a scenario
    Trace(Trace),
    /// Seed flaws one by one and print which clauses and scenarios notice them
    Challenge(Challenge),
    /// Print the completions for a shell
    Completions(Completions),
    /// Print the manual page
    Man,
}

/// Run scenarios.
#[derive(Args, Debug)]
pub(crate) struct Run {
    /// Scenario files, rooms or folders of rooms
    #[arg(required = true)]
    pub(crate) paths: Vec<PathBuf>,
    /// Seed of everything that is drawn: jitter, loss, missed motion
    #[arg(long, default_value_t = 0)]
    pub(crate) seed: u64,
    /// Also write a JUnit report to this file
    #[arg(long, value_name = "FILE")]
    pub(crate) junit: Option<PathBuf>,
    /// Print the report as JSON instead of tables
    #[arg(long)]
    pub(crate) json: bool,
    /// Print only what is not as expected, and the totals
    #[arg(long, short)]
    pub(crate) quiet: bool,
    /// Threads to run on; the result is the same for any number
    #[arg(long, short, value_name = "N")]
    pub(crate) jobs: Option<std::num::NonZeroUsize>,
}

/// Say why.
#[derive(Args, Debug)]
pub(crate) struct Why {
    /// The scenario file
    pub(crate) scenario: PathBuf,
    /// The output that is asked about
    pub(crate) output: String,
    /// When, as in a scenario: "10:20", "day 2 06:00" [default: the end of the run]
    #[arg(long, value_name = "TIME")]
    pub(crate) at: Option<String>,
    /// Seed of everything that is drawn
    #[arg(long, default_value_t = 0)]
    pub(crate) seed: u64,
}

/// Draw a timing diagram.
#[derive(Args, Debug)]
pub(crate) struct Draw {
    /// The scenario file
    pub(crate) scenario: PathBuf,
    /// Where to write; the ending says what: .svg or .html [default: HTML on standard output]
    #[arg(long, short, value_name = "FILE")]
    pub(crate) output: Option<PathBuf>,
    /// What to draw, whatever the ending of the file says
    #[arg(long)]
    pub(crate) format: Option<Picture>,
    /// Seed of everything that is drawn by lot
    #[arg(long, default_value_t = 0)]
    pub(crate) seed: u64,
}

/// The forms of a picture.
#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
pub(crate) enum Picture {
    /// A drawing.
    Svg,
    /// A page of its own with the drawing and a table of the same facts.
    Html,
}

/// Check rooms.
#[derive(Args, Debug)]
pub(crate) struct Check {
    /// Rooms or folders of rooms
    #[arg(required = true)]
    pub(crate) paths: Vec<PathBuf>,
    /// Print the findings as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

/// Write a starter room.
#[derive(Args, Debug)]
pub(crate) struct New {
    /// The folder to make; it must not exist yet
    pub(crate) folder: PathBuf,
    /// Which starter room: office or guest-room
    #[arg(long, value_name = "ROOM", default_value = "office")]
    pub(crate) like: String,
}

/// Print a schema.
#[derive(Args, Debug)]
pub(crate) struct Schema {
    /// Which file
    pub(crate) file: SchemaFile,
}

/// The files that have a schema.
#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
pub(crate) enum SchemaFile {
    /// room.toml
    Room,
    /// sequence.toml
    Sequence,
    /// A scenario file
    Scenario,
    /// site.toml
    Site,
}

/// Print the steps of a scenario.
#[derive(Args, Debug)]
pub(crate) struct Trace {
    /// The scenario file
    pub(crate) scenario: PathBuf,
    /// In which form
    #[arg(long, default_value = "text")]
    pub(crate) format: TraceForm,
    /// Write to this file instead of standard output
    #[arg(long, short, value_name = "FILE")]
    pub(crate) output: Option<PathBuf>,
    /// Seed of everything that is drawn
    #[arg(long, default_value_t = 0)]
    pub(crate) seed: u64,
}

/// The forms of a trace.
#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
pub(crate) enum TraceForm {
    /// A line of words for each step.
    Text,
    /// A JSON object on a line for each step.
    Jsonl,
    /// MessagePack records.
    Msgpack,
}

/// Seed flaws.
#[derive(Args, Debug)]
pub(crate) struct Challenge {
    /// Rooms or folders of rooms
    #[arg(required = true)]
    pub(crate) paths: Vec<PathBuf>,
    /// Print the matrix as JSON
    #[arg(long)]
    pub(crate) json: bool,
    /// Seed of everything that is drawn
    #[arg(long, default_value_t = 0)]
    pub(crate) seed: u64,
}

/// Print completions.
#[derive(Args, Debug)]
pub(crate) struct Completions {
    /// The shell
    pub(crate) shell: clap_complete::Shell,
}
