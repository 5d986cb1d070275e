//! One implementation in a process of its own.

use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::Path;
use std::process::Command;
use std::sync::Arc;
use std::time::Instant;

use crate::contestants::{CONTESTANTS, Contestant, Run, Size};
use crate::rig::{self, Feed};
use crate::workload::{PUBLISHED, Stimuli};

/// What one run of one implementation took.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Measured {
    /// Nanoseconds on the clock for building the model and running it.
    pub(crate) wall: f64,
    /// Nanoseconds of those that the first thread was on a processor.
    pub(crate) processor: f64,
    /// Events of the workload.
    pub(crate) events: f64,
    /// Peak memory of the process.
    pub(crate) peak_kib: f64,
}

/// Runs one implementation here and prints what it did and took.
pub(crate) fn one(name: &str, rooms: &str, days: &str) -> Result<(), String> {
    let contestant = CONTESTANTS
        .iter()
        .find(|contestant| contestant.name == name)
        .ok_or_else(|| format!("no such implementation: {name}"))?;
    let stimuli = Arc::new(Stimuli::draw(number(rooms)?, number(days)?));
    let (stopped, peak, mut work);
    let watch;
    match contestant.run {
        Run::Here(run) => {
            watch = Watch::start()?;
            work = run(&stimuli);
            stopped = watch.stop()?;
            peak = peak_kib()?;
        }
        Run::Product(setup) => {
            let feed = Feed::new(stimuli);
            watch = Watch::start()?;
            let done = rig::run(&feed, setup);
            stopped = watch.stop()?;
            peak = peak_kib()?;
            work = done.into_work();
        }
        Run::Python(_) => return Err(format!("{name} does not run in this process")),
    }
    let (wall, processor) = stopped;
    let checksum = work.checksum();
    println!(
        "{wall} {processor} {} {} {checksum:016x} {peak}",
        work.events,
        work.changes.len()
    );
    Ok(())
}

/// Writes the stimuli for an implementation in another language.
pub(crate) fn stimuli(rooms: &str, days: &str, file: &str) -> Result<(), String> {
    let stimuli = Stimuli::draw(number(rooms)?, number(days)?);
    let write = || -> std::io::Result<()> {
        let mut file = BufWriter::new(File::create(file)?);
        file.write_all(&u64::from(stimuli.rooms()).to_le_bytes())?;
        let mut end = 0;
        for room in 0..stimuli.rooms() {
            end += stimuli.of(room).len() as u64;
            file.write_all(&end.to_le_bytes())?;
        }
        for room in 0..stimuli.rooms() {
            for timed in stimuli.of(room) {
                file.write_all(&timed.bytes())?;
            }
        }
        file.flush()
    };
    write().map_err(|error| format!("{file}: {error}"))
}

/// The command that runs one implementation of this program.
pub(crate) fn command_one(name: &str, size: Size) -> Result<Command, String> {
    let mut command = this_program()?;
    command
        .args(["one", name])
        .arg(size.rooms.to_string())
        .arg(size.days.to_string());
    Ok(command)
}

/// Writes the stimuli of a size in a process of its own, so that this one stays small.
pub(crate) fn write_stimuli(size: Size, file: &Path) -> Result<(), String> {
    let status = this_program()?
        .arg("stimuli")
        .arg(size.rooms.to_string())
        .arg(size.days.to_string())
        .arg(file)
        .status()
        .map_err(|error| error.to_string())?;
    if status.success() {
        Ok(())
    } else {
        Err(format!("could not write {}", file.display()))
    }
}

/// Runs a command, reads what it printed and checks that it did the published work.
pub(crate) fn measure(
    mut command: Command,
    contestant: &Contestant,
    size: Size,
) -> Result<Measured, String> {
    let title = contestant.title;
    let output = command
        .output()
        .map_err(|error| format!("{title}: {error}"))?;
    let text = String::from_utf8_lossy(&output.stdout);
    let words: Vec<&str> = text.split_whitespace().collect();
    let [wall, processor, events, changes, checksum, peak] = words[..] else {
        let talk = String::from_utf8_lossy(&output.stderr);
        return Err(format!("{title}, {size}: no result\n{talk}"));
    };
    let float = |word: &str| {
        word.parse::<f64>()
            .map_err(|_| format!("{title}: not a number: {word}"))
    };
    if let Some((_, _, expected, many, sum)) = PUBLISHED
        .iter()
        .find(|row| (row.0, row.1) == (size.rooms, size.days))
        && contestant.same_work
    {
        let did = format!("{events} events, {changes} changes, checksum {checksum}");
        let should = format!("{expected} events, {many} changes, checksum {sum:016x}");
        if did != should {
            return Err(format!("{title}, {size}: {did}; published: {should}"));
        }
    }
    Ok(Measured {
        wall: float(wall)?,
        processor: float(processor)?,
        events: float(events)?,
        peak_kib: float(peak)?,
    })
}

fn this_program() -> Result<Command, String> {
    let program = std::env::current_exe().map_err(|error| error.to_string())?;
    Ok(Command::new(program))
}

fn number(word: &str) -> Result<u32, String> {
    word.parse().map_err(|_| format!("not a number: {word}"))
}

/// Time on the clock and time on a processor.
struct Watch {
    start: Instant,
    before: u64,
}

impl Watch {
    fn start() -> Result<Self, String> {
        Ok(Self {
            before: on_processor()?,
            start: Instant::now(),
        })
    }

    fn stop(&self) -> Result<(u128, u64), String> {
        let wall = self.start.elapsed().as_nanos();
        Ok((wall, on_processor()? - self.before))
    }
}

/// Nanoseconds that this thread has been on a processor, from the kernel (Linux).
fn on_processor() -> Result<u64, String> {
    // The kernel brings its count up to date when a thread gives way.
    std::thread::yield_now();
    std::fs::read_to_string("/proc/thread-self/schedstat")
        .ok()
        .and_then(|text| text.split_whitespace().next()?.parse().ok())
        .ok_or_else(|| "the kernel does not say how long a thread ran".to_owned())
}

/// The most memory this process ever held, from the kernel (Linux).
fn peak_kib() -> Result<u64, String> {
    std::fs::read_to_string("/proc/self/status")
        .ok()
        .and_then(|status| {
            let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
            line.split_whitespace().nth(1)?.parse().ok()
        })
        .ok_or_else(|| "the kernel does not say how much memory was used".to_owned())
}
