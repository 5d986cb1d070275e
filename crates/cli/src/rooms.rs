//! Rooms and scenarios as commands need them: opened, or refused with everything that is wrong.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use report::failure::Failure as Break;
use report::run::Run;
use report::timeline::Timeline;
use scenario::diagnostic::any_error;
use scenario::room_file::RoomFile;
use scenario::run::Outcome;
use scenario::script::Script;
use scenario::site::Room;
use scenario::suite::Suite;
use scenario::{Diagnostic, Severity};

use crate::failure::Failure;
use crate::output;

/// One run that can be asked about.
pub(crate) struct Single {
    suite: Suite,
    /// What came of it.
    pub(crate) outcome: Outcome,
}

/// Reads the rooms at `paths`; what is wrong with a file is in the diagnostics.
pub(crate) fn find(paths: &[PathBuf]) -> Result<Suite, Failure> {
    Suite::open(paths).map_err(|error| Failure::caused(&error, error.hint()))
}

/// Opens the rooms at `paths`; refuses when anything is wrong with a file, and tells warnings.
pub(crate) fn open_all(paths: &[PathBuf]) -> Result<Suite, Failure> {
    let suite = find(paths)?;
    let text = complaints(&suite);
    if any_error(&suite.diagnostics) {
        return Err(Failure::rendered(text));
    }
    if !text.is_empty() {
        output::talk(&text);
    }
    Ok(suite)
}

/// Opens and runs one scenario file. One that has parameters runs with their first values.
pub(crate) fn run_one(path: &Path, seed: u64) -> Result<Single, Failure> {
    let (suite, script) = open_one(path)?;
    let outcome = scenario::run::run(&script, seed);
    Ok(Single { suite, outcome })
}

/// Opens one scenario file, with the first values of its parameters.
pub(crate) fn open_one(path: &Path) -> Result<(Suite, Arc<Script>), Failure> {
    if path.is_dir() {
        let message = format!("{}: is a folder; one scenario is wanted", path.display());
        return Err(Failure::new(message, "name a scenario file of the room"));
    }
    let name = path.file_name().and_then(|name| name.to_str());
    if name.is_some_and(|name| ["room.toml", "sequence.toml", "site.toml"].contains(&name)) {
        let message = format!("{}: is no scenario", path.display());
        return Err(Failure::new(message, "name a scenario file of the room"));
    }
    let suite = open_all(&[path.to_path_buf()])?;
    let script = suite.runs().next().map(|(_, script)| script.clone());
    let Some(script) = script else {
        let message = format!("{}: is no scenario", path.display());
        return Err(Failure::new(message, "name a scenario file of the room"));
    };
    let runs = suite.runs().count();
    if runs > 1 {
        let first = script.name();
        output::talk(&format!(
            "this is the first of {runs} runs of the file: {first}"
        ));
    }
    Ok((suite, script))
}

impl Single {
    /// A scenario that was run in some other way.
    pub(crate) fn new(suite: Suite, outcome: Outcome) -> Self {
        Self { suite, outcome }
    }

    /// The run as reports read it.
    pub(crate) fn run(&self) -> Run<'_> {
        let room = &self.suite.rooms[0];
        Run::of(&self.outcome, &self.suite.sources, read(room))
    }
}

/// The timeline of a run and what broke in it.
pub(crate) fn breaks(run: &Run<'_>) -> (Timeline, Vec<Break>) {
    let timeline = Timeline::of(run);
    let breaks = Break::all(run, &timeline);
    (timeline, breaks)
}

/// What the files of a room say, when nothing is wrong with them.
pub(crate) fn read(room: &Room) -> &RoomFile {
    room.room
        .as_ref()
        .expect("rooms with errors in them are refused when they are opened")
}

/// What is wrong with files, and what may be, rendered.
fn complaints(suite: &Suite) -> String {
    let told = suite
        .diagnostics
        .iter()
        .filter(|diagnostic| is_told(diagnostic));
    let rendered = told.map(|diagnostic| diagnostic.render(&suite.sources, output::colours()));
    rendered.collect::<Vec<_>>().join("\n")
}

/// Cautions belong to `check`, not to every run.
fn is_told(diagnostic: &Diagnostic) -> bool {
    diagnostic.severity != Severity::Caution
}
