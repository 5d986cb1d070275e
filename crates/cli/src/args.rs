//! The command line: what can be asked of `roomrig`.

use std::path::PathBuf;

use device::Illuminance;

use crate::commands::prove::{Sweep, read_sweep as sweep};
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
    /// Prove clauses for every input at every moment, or find the scenario that breaks them
    Prove(Prove),
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
    /// Open a room as a page on which people can press its buttons, alone or with others
    Live(Live),
    /// Play one device of a room that `live` runs
    Node(Node),
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
    #[arg(long, default_value_t = 0, value_parser = whole, allow_negative_numbers = true)]
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
    #[arg(long, short, value_name = "N", value_parser = threads, allow_negative_numbers = true)]
    pub(crate) jobs: Option<std::num::NonZeroUsize>,
}

/// Prove clauses.
///
/// Everything may happen at any moment: motion, sounds, presses, cards, signals, the days of a
/// calendar. What may go wrong is told by options; what is taken for granted, and what was looked
/// at less closely than a run does, is printed below the answers.
#[derive(Args, Debug)]
#[command(after_long_help = PROVE_CODES)]
pub(crate) struct Prove {
    /// Rooms or folders of rooms
    #[arg(required = true)]
    pub(crate) paths: Vec<PathBuf>,
    /// Only this clause; may be given several times [default: all of them]
    #[arg(long = "clause", short, value_name = "ID")]
    pub(crate) clauses: Vec<String>,
    /// Any N frames may be lost, each at one listener
    #[arg(long, value_name = "N", default_value_t = 0, help_heading = FAULTS, allow_negative_numbers = true)]
    pub(crate) lose: u8,
    /// Any N frames may arrive twice
    #[arg(long, value_name = "N", default_value_t = 0, help_heading = FAULTS, allow_negative_numbers = true)]
    pub(crate) duplicate: u8,
    /// The power of any device, or of the room, may be cut N times, for a second or longer
    #[arg(long, value_name = "N", default_value_t = 0, help_heading = FAULTS, allow_negative_numbers = true)]
    pub(crate) power_cuts: u8,
    /// This source may die at any moment, for good; may be given several times
    #[arg(long, value_name = "SOURCE", help_heading = FAULTS)]
    pub(crate) dead: Vec<String>,
    /// How far the clocks of devices may be off: "5 %"
    #[arg(long, value_name = "SHARE", default_value = "0 %", value_parser = share, help_heading = FAULTS)]
    pub(crate) clock_tolerance: u16,
    /// This much daylight stands outside: "10000 lx"; otherwise what the clause says, or darkness
    #[arg(long, value_name = "LIGHT", value_parser = daylight, help_heading = TAKEN, allow_hyphen_values = true, conflicts_with = "questions")]
    pub(crate) daylight: Option<Illuminance>,
    /// Buttons may go down while others are down
    #[arg(long, help_heading = TAKEN)]
    pub(crate) many_hands: bool,
    /// Two stimuli may come in one and the same millisecond
    #[arg(long, help_heading = TAKEN)]
    pub(crate) at_once: bool,
    /// Take this for granted; keys as in a clause: 'when = "…", then = "…"'. Several times: all
    #[arg(long, value_name = "CLAUSE", help_heading = TAKEN)]
    pub(crate) assume: Vec<String>,
    /// Also look for the tightest bound with which each proved clause holds
    #[arg(long)]
    pub(crate) tightest: bool,
    /// Ask for each value of a setting: 'wall-sensor time-delay = 5 min to 30 min every 5 min'
    #[arg(long, value_name = "SETTING", value_parser = sweep, conflicts_with_all = ["out", "questions", "tightest"])]
    pub(crate) sweep: Option<Sweep>,
    /// Ask what can be asked of any room, instead of its clauses
    #[arg(long, conflicts_with_all = ["out", "clauses"])]
    pub(crate) questions: bool,
    /// Memory for all searches together: "512 MiB"
    #[arg(long, value_name = "SIZE", default_value = "1 GiB", value_parser = bytes)]
    pub(crate) memory: usize,
    /// The most steps that one search may take; a clause that needs more is undecided
    #[arg(long, value_name = "N", default_value_t = proof::Budget::default().transitions, value_parser = whole, allow_negative_numbers = true)]
    pub(crate) steps: u64,
    /// Threads to run on; the answers are the same for any number
    #[arg(long, short, value_name = "N", value_parser = threads, allow_negative_numbers = true)]
    pub(crate) jobs: Option<std::num::NonZeroUsize>,
    /// Write what breaks a clause, or puts a proved one to the test, as scenarios into this folder
    #[arg(long, short, value_name = "FOLDER")]
    pub(crate) out: Option<PathBuf>,
    /// Also write a page with the answers and the timing diagrams of what breaks
    #[arg(long, value_name = "FILE")]
    pub(crate) html: Option<PathBuf>,
    /// In which form
    #[arg(long, default_value = "text")]
    pub(crate) format: ReportForm,
    /// Leave out how long it took, so that equal rooms give equal bytes
    #[arg(long)]
    pub(crate) no_times: bool,
}

const FAULTS: &str = "What may go wrong";
const TAKEN: &str = "What is taken for granted";

/// The exit codes of a proof.
const PROVE_CODES: &str = "\
Exit codes:
  0  every clause is proved
  1  a clause is broken, or nothing can put it to the test; with --questions also: a setting is
     without effect
  2  bad usage, or a file that cannot be read, written or understood
  3  undecided: nothing is broken, and a bound was hit, or Ctrl-C came first

After Ctrl-C what is known is printed; a second one ends at once with 130.";

/// The forms of a report.
#[derive(Clone, Copy, Debug, Eq, PartialEq, ValueEnum)]
pub(crate) enum ReportForm {
    /// Tables and words.
    Text,
    /// Records for other programs: fields are only ever added.
    Json,
}

/// A share in parts of 10 000.
fn share(text: &str) -> Result<u16, String> {
    match scenario::words::share(text) {
        Ok(share) => u16::try_from(share)
            .ok()
            .filter(|share| *share <= 5_000)
            .ok_or_else(|| "clocks are off by 50 % at most".to_owned()),
        Err(error) => Err(format!("{}: {}", error.message, error.hint)),
    }
}

/// An illuminance outside.
fn daylight(text: &str) -> Result<Illuminance, String> {
    let wrong = |error: scenario::words::WordError| format!("{}: {}", error.message, error.hint);
    scenario::words::illuminance(text).map_err(wrong)
}

/// A whole number that is not negative.
fn whole(text: &str) -> Result<u64, String> {
    let wrong = |_| format!("write a whole number, 0 to {}", u64::MAX);
    text.parse().map_err(wrong)
}

/// How many threads.
fn threads(text: &str) -> Result<std::num::NonZeroUsize, String> {
    let wrong = |_| "write how many threads, 1 or more".to_owned();
    text.parse().map_err(wrong)
}

/// A number of bytes: `512 MiB`, `1.5 GiB`, `800 MB`.
fn bytes(text: &str) -> Result<usize, String> {
    const UNITS: [(&str, u64); 6] = [
        ("GiB", 1 << 30),
        ("MiB", 1 << 20),
        ("KiB", 1 << 10),
        ("GB", 1_000_000_000),
        ("MB", 1_000_000),
        ("kB", 1_000),
    ];
    let wrong = || "write a number and a unit: \"512 MiB\", \"1.5 GiB\", \"800 MB\"".to_owned();
    let text = text.trim();
    let unit = UNITS
        .iter()
        .find_map(|(unit, bytes)| Some((text.strip_suffix(unit)?, *bytes)));
    let (number, unit) = unit.ok_or_else(wrong)?;
    let (whole, part) = number
        .trim()
        .split_once('.')
        .unwrap_or((number.trim(), "0"));
    let is_number = |text: &str| !text.is_empty() && text.bytes().all(|it| it.is_ascii_digit());
    if !is_number(whole) || !is_number(part) || part.len() > 3 {
        return Err(wrong());
    }
    let whole: u64 = whole.parse().map_err(|_| wrong())?;
    let thousandths: u64 = format!("{part:0<3}").parse().map_err(|_| wrong())?;
    let bytes = whole
        .checked_mul(unit)
        .and_then(|bytes| bytes.checked_add(thousandths.saturating_mul(unit) / 1_000))
        .and_then(|bytes| usize::try_from(bytes).ok());
    bytes.ok_or_else(|| "that is more than any machine has".to_owned())
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
    #[arg(long, default_value_t = 0, value_parser = whole, allow_negative_numbers = true)]
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
    #[arg(long, default_value_t = 0, value_parser = whole, allow_negative_numbers = true)]
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
    #[arg(long, default_value_t = 0, value_parser = whole, allow_negative_numbers = true)]
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
    #[arg(long, default_value_t = 0, value_parser = whole, allow_negative_numbers = true)]
    pub(crate) seed: u64,
}

/// Print completions.
#[derive(Args, Debug)]
pub(crate) struct Completions {
    /// The shell
    pub(crate) shell: clap_complete::Shell,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn memory_is_a_number_with_a_unit() {
        assert_eq!(bytes("1 GiB"), Ok(1 << 30));
        assert_eq!(bytes("1.5GiB"), Ok(3 << 29));
        assert_eq!(bytes(" 64 MB "), Ok(64_000_000));
        assert_eq!(bytes("0.25 kB"), Ok(250));
        for wrong in [
            "",
            "5",
            "GiB",
            "-1 GiB",
            "1,5 GiB",
            "1. GiB",
            ".5 GiB",
            "1 gib",
            "1.2345 kB",
        ] {
            assert!(bytes(wrong).unwrap_err().contains("512 MiB"), "{wrong}");
        }
        assert!(bytes("99999999999999999 GiB").is_err());
    }

    #[test]
    fn daylight_is_an_illuminance() {
        assert_eq!(daylight("10000 lx"), Ok(Illuminance::from_lux(10_000)));
        assert_eq!(daylight("0 lx"), Ok(Illuminance::default()));
        for wrong in ["", "10000", "-1 lx", "noon", "10 000 000 000 lx"] {
            assert!(daylight(wrong).unwrap_err().contains("lx"), "{wrong}");
        }
    }

    #[test]
    fn a_tolerance_is_a_share_of_half_at_most() {
        assert_eq!(share("5 %"), Ok(500));
        assert_eq!(share("0.35 %"), Ok(35));
        assert!(share("51 %").unwrap_err().contains("50 %"));
        assert!(share("5").is_err() && share("-1 %").is_err());
    }
}

/// Open a room as a page on which people can press its buttons.
///
/// The address of the page is printed; open it in a browser. The room stands still until somebody
/// lets it run. A scenario is opened with its rows.
///
/// Devices can run in other processes: --nodes names them, and the command for each is printed.
/// With a scenario, nodes make it a run in lockstep, whose steps are printed as JSON lines.
#[derive(Args, Debug)]
pub(crate) struct Live {
    /// The folder of a room, or a scenario of it
    pub(crate) path: PathBuf,
    /// Where the page is served; addresses other than loopback let others in, with a code
    /// [default: 127.0.0.1:8147, or another port if that is taken]
    #[arg(long, value_name = "ADDRESS")]
    pub(crate) listen: Option<std::net::SocketAddr>,
    /// How fast the room runs
    #[arg(long, value_name = "TIMES", default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..=3_600), allow_negative_numbers = true)]
    pub(crate) speed: u32,
    /// Stop after so many seconds [default: when interrupted]
    #[arg(long = "for", value_name = "SECONDS", value_parser = whole, allow_negative_numbers = true)]
    pub(crate) duration: Option<u64>,
    /// Seed of everything that is drawn
    #[arg(long, default_value_t = 0, value_parser = whole, allow_negative_numbers = true)]
    pub(crate) seed: u64,
    /// No page: the room runs at once, and every step is printed as a JSON line
    #[arg(long)]
    pub(crate) lines: bool,
    /// The devices that other processes play, with commas between them
    #[arg(long, value_name = "DEVICES", value_delimiter = ',', help_heading = NODES)]
    pub(crate) nodes: Vec<String>,
    /// Where nodes join; port 0: any that is free. Addresses other than loopback let others in
    #[arg(long, value_name = "ADDRESS", default_value = "127.0.0.1:0", help_heading = NODES)]
    pub(crate) join: std::net::SocketAddr,
    /// What nodes have to show [default: a new one, which is printed]
    #[arg(long, env = "ROOMRIG_TOKEN", hide_env_values = true, help_heading = NODES)]
    pub(crate) token: Option<String>,
    /// How long a node may take for an answer, in milliseconds [default: 1000 where somebody waits at
    /// a page, else 2000]
    #[arg(long, value_name = "MS", help_heading = NODES, value_parser = whole, allow_negative_numbers = true)]
    pub(crate) patience: Option<u64>,
}

const NODES: &str = "Devices in other processes";

/// Play one device.
#[derive(Args, Debug)]
pub(crate) struct Node {
    /// The same scenario or room that `live` was given
    pub(crate) path: PathBuf,
    /// The device
    pub(crate) device: String,
    /// Where `live` listens
    #[arg(long, value_name = "ADDRESS")]
    pub(crate) host: std::net::SocketAddr,
    /// The token that `live` printed or was given
    #[arg(long, env = "ROOMRIG_TOKEN", hide_env_values = true)]
    pub(crate) token: String,
}
