//! One checker in a process of its own, so that its peak memory is its own and that it can be
//! stopped after a minute. All work on one thread, and time is time on a processor, so that what
//! else a machine does counts little.

use std::path::Path;
use std::process::Command;

use rustix::time::{ClockId, clock_gettime};

use crate::steps::{Asked, Room};
use crate::{actor, product, promela, search};

/// Who checks.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) enum Checker {
    /// `prove`, in dense time.
    Product,
    /// The plain search by hand.
    Hand,
    /// stateright.
    Stateright,
    /// SPIN.
    Spin,
}

/// What a checker found, and what it took.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Found {
    /// Whether the clause holds; nothing when time or memory ran out.
    pub(crate) holds: Option<bool>,
    /// States, or state classes.
    pub(crate) states: u64,
    /// Time on a processor to the verdict.
    pub(crate) nanoseconds: u128,
    /// Peak memory.
    pub(crate) kib: u64,
    /// How the product found its answer.
    pub(crate) by: String,
    /// Successors that the product computed.
    pub(crate) steps: u64,
    /// The most bytes that the classes of the product took.
    pub(crate) bytes: u64,
}

impl Checker {
    /// All of them, the product first.
    pub(crate) const ALL: [Self; 4] = [Self::Product, Self::Hand, Self::Stateright, Self::Spin];

    /// Its name on the command line and in the table.
    pub(crate) fn name(self) -> &'static str {
        match self {
            Self::Product => "roomrig",
            Self::Hand => "search by hand",
            Self::Stateright => "stateright",
            Self::Spin => "spin",
        }
    }

    /// Lets it check a room, in a process of its own.
    pub(crate) fn check(self, room: Room) -> Result<Found, String> {
        if self == Self::Spin {
            let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("target/promela");
            let name = format!("{}-{}-{:?}", room.sensors, room.minutes, room.asked);
            return promela::check(room, &folder.join(name));
        }
        let program = std::env::current_exe().map_err(|error| error.to_string())?;
        let words = [
            "one".to_owned(),
            self.name().to_owned(),
            room.sensors.to_string(),
            room.minutes.to_string(),
            format!("{:?}", room.asked),
        ];
        let words: Vec<&str> = words.iter().map(String::as_str).collect();
        let output = limited(&program.to_string_lossy(), &words).output();
        let output = output.map_err(|error| error.to_string())?;
        let talk = String::from_utf8_lossy(&output.stderr);
        match output.status.code() {
            Some(0) => Found::read(&String::from_utf8_lossy(&output.stdout)),
            // It was stopped, or died of the bound on memory.
            Some(134 | 137 | 152) | None => Ok(Found::none()),
            _ => Err(format!("{}: {talk}", self.name())),
        }
    }
}

impl Found {
    /// So many states, and the verdict.
    pub(crate) fn states(holds: bool, states: u64) -> Self {
        Self {
            holds: Some(holds),
            states,
            ..Self::default()
        }
    }

    /// No verdict in the time and memory there is.
    pub(crate) fn none() -> Self {
        Self::default()
    }

    fn read(text: &str) -> Result<Self, String> {
        let words: Vec<&str> = text.split_whitespace().collect();
        let wrong = || format!("no result: {text}");
        let [holds, states, nanoseconds, kib, steps, bytes, ..] = words[..] else {
            return Err(wrong());
        };
        let number = |word: &str| word.parse().map_err(|_| wrong());
        Ok(Self {
            holds: Some(holds == "true"),
            states: number(states)?,
            nanoseconds: u128::from(number(nanoseconds)?),
            kib: number(kib)?,
            by: words.get(6).map_or(String::new(), |by| (*by).to_owned()),
            steps: number(steps)?,
            bytes: number(bytes)?,
        })
    }
}

/// Checks here, and prints what was found.
pub(crate) fn one(name: &str, sensors: &str, minutes: &str, asked: &str) -> Result<(), String> {
    let known = Checker::ALL.into_iter().find(|it| it.name() == name);
    let checker = known.ok_or_else(|| format!("no such checker: {name}"))?;
    let number = |word: &str| word.parse::<u32>().map_err(|error| error.to_string());
    let room = Room {
        sensors: number(sensors)? as usize,
        minutes: number(minutes)?,
        asked: match asked {
            "Clause" => Asked::Clause,
            "Short" => Asked::Short,
            _ => Asked::Literal,
        },
    };
    let begun = on_processor();
    let found = match checker {
        Checker::Product => product::prove(room)?,
        Checker::Hand => search::search(room),
        Checker::Stateright => actor::check(room),
        Checker::Spin => return Err("spin does not run in this process".to_owned()),
    };
    println!(
        "{} {} {} {} {} {} {}",
        found.holds == Some(true),
        found.states,
        on_processor() - begun,
        peak_kib()?,
        found.steps,
        found.bytes,
        found.by
    );
    Ok(())
}

/// A command that has a minute on a processor and 6 GiB.
pub(crate) fn limited(program: &str, arguments: &[&str]) -> Command {
    let mut command = Command::new("sh");
    command.args([
        "-c",
        "ulimit -v 6291456; ulimit -t 60; exec \"$0\" \"$@\"",
        program,
    ]);
    command.args(arguments);
    command
}

/// The most memory this process ever held, from the kernel (Linux).
fn peak_kib() -> Result<u64, String> {
    let status = std::fs::read_to_string("/proc/self/status").ok();
    status
        .and_then(|status| {
            let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
            line.split_whitespace().nth(1)?.parse().ok()
        })
        .ok_or_else(|| "the kernel does not say how much memory was used".to_owned())
}

/// Nanoseconds that this process has been on a processor.
fn on_processor() -> u128 {
    let time = clock_gettime(ClockId::ProcessCPUTime);
    let part = |part: i64| u128::try_from(part).unwrap_or(0);
    part(time.tv_sec) * 1_000_000_000 + part(time.tv_nsec)
}
