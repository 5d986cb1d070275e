//! From a scenario file and a room to scripts that can be run.
//!
//! Invariant: a script comes out only when nothing was found wrong with its file.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::sync::Arc;

use jiff::civil::DateTime;
use sim::Instant;

use super::civil::{Civil, Occurrence, time_of_day};
use super::expand::{Expander, INCLUDE, Scope, civil_hint};
use super::file::{self, ScenarioFile};
use super::fill::fill;
use super::reader::Reader;
use super::time::{self, Day, Moment};
use super::{Script, lesson, meet};
use crate::diagnostic::any_error;
use crate::keys::{Item, Located, inside};
use crate::room_file::RoomFile;
use crate::words::WordError;
use crate::{Diagnostic, FileId, Place, Sources};

/// What a scenario file gave.
#[derive(Debug, Default)]
pub struct Loaded {
    /// Its runs, one for each combination of its parameters; none when something is wrong.
    pub scripts: Vec<Script>,
    /// What is wrong, and what may be.
    pub diagnostics: Vec<Diagnostic>,
}

/// Reads the scenario in `file`, which has been added to `sources`, for this room.
/// Files that it includes are read from the folder of the file.
#[must_use]
pub fn load(sources: &mut Sources, file: FileId, room: &RoomFile) -> Loaded {
    read(sources, file, room, true)
}

/// Reads a scenario of which nobody thinks that its rows could include anything, such as one
/// that a person makes row by row: what is said of a wrong name does not propose it.
#[must_use]
pub fn load_rows(sources: &mut Sources, file: FileId, room: &RoomFile) -> Loaded {
    read(sources, file, room, false)
}

fn read(sources: &mut Sources, file: FileId, room: &RoomFile, includes: bool) -> Loaded {
    let mut loaded = Loaded::default();
    let Some(read) = file::read(sources, file, &mut loaded.diagnostics) else {
        return loaded;
    };
    let folder = Path::new(sources.file(file).name())
        .parent()
        .map(Path::to_path_buf)
        .unwrap_or_default();
    let mut library = BTreeMap::new();
    let read = Arc::new(read);
    include(
        sources,
        &folder,
        &read,
        &mut library,
        &mut loaded.diagnostics,
    );
    if any_error(&loaded.diagnostics) {
        return loaded;
    }
    let scenario = Scenario {
        sources,
        file,
        read: &read,
        library: &library,
        room,
        includes,
    };
    for values in combinations(&read) {
        match scenario.run(&values, &mut loaded.diagnostics) {
            Some(script) => loaded.scripts.push(script),
            None => break,
        }
    }
    crate::diagnostic::sort(&mut loaded.diagnostics);
    if any_error(&loaded.diagnostics) {
        loaded.scripts.clear();
    }
    loaded
}

/// Whether a file is a scenario that is run by itself: it has rows, and it is not a script that
/// other scenarios include.
#[must_use]
pub fn is_scenario(text: &str) -> bool {
    file::is_scenario(text)
}

/// Whether a file is a script that scenarios include.
pub(crate) fn is_script(text: &str) -> bool {
    file::is_script(text)
}

/// A scenario file with what belongs to it.
pub(super) struct Scenario<'a> {
    pub(super) sources: &'a Sources,
    pub(super) file: FileId,
    pub(super) read: &'a ScenarioFile,
    pub(super) library: &'a BTreeMap<String, Arc<ScenarioFile>>,
    pub(super) room: &'a RoomFile,
    /// Whether rows may include scripts.
    pub(super) includes: bool,
}

impl Scenario<'_> {
    /// One run, with these values of the parameters.
    fn run(
        &self,
        values: &BTreeMap<String, String>,
        diagnostics: &mut Vec<Diagnostic>,
    ) -> Option<Script> {
        let title = self.title(values, diagnostics);
        let start = self.start(diagnostics);
        let (title, start) = (title?, start?);
        let civil = match Civil::new(&self.room.zone, start.value) {
            Ok(civil) => civil,
            Err(error) => {
                let hint = civil_hint(&error);
                let message = error.to_string();
                diagnostics.push(Diagnostic::error("time", start.place, message, hint));
                return None;
            }
        };
        let given = self.end(&civil, values, diagnostics).ok()?;
        // The first pass finds out when the run ends, the second knows it.
        let first = self.expand(&civil, values, given);
        let end = given.unwrap_or(first.last);
        let second = self.expand(&civil, values, Some(end));
        diagnostics.extend(second.diagnostics.iter().cloned());
        if any_error(&second.diagnostics) {
            return None;
        }
        if let Some(given) = given {
            self.beyond(&second, given, diagnostics);
        }
        meet::script(
            self,
            &second.placed,
            &civil,
            end,
            title,
            values,
            diagnostics,
        )
    }

    fn expand<'s>(
        &'s self,
        civil: &'s Civil,
        values: &BTreeMap<String, String>,
        end: Option<Instant>,
    ) -> Expander<'s> {
        let mut expander = Expander::new(self.sources, civil, self.library, end);
        let scope = Scope {
            file: self.read,
            values,
            base: Instant::START,
            trail: &[],
        };
        expander.rows(&self.read.rows, scope);
        expander
    }

    fn title(
        &self,
        values: &BTreeMap<String, String>,
        diagnostics: &mut Vec<Diagnostic>,
    ) -> Option<String> {
        let Some(title) = self.read.section.text("title") else {
            diagnostics.push(Diagnostic::error(
                "missing key",
                Place::new(self.file, 0..0),
                "the scenario has no `title`",
                "write what it shows: title = \"The lights go off when the room is empty\"",
            ));
            return None;
        };
        match fill(&title.value, values) {
            Ok(title) => Some(title),
            Err(error) => {
                diagnostics.push(self.word("value", &title, error));
                None
            }
        }
    }

    fn start(&self, diagnostics: &mut Vec<Diagnostic>) -> Option<Located<DateTime>> {
        const FORM: &str = "write date and time of the wall clock: start = \"2026-03-02 08:00\"";
        let Some(text) = self.read.section.text("start") else {
            let place = Place::new(self.file, 0..0);
            let message = "the scenario has no `start`";
            diagnostics.push(Diagnostic::error("missing key", place, message, FORM));
            return None;
        };
        let mut reader = Reader::new(&text.value);
        match time::moment(&mut reader, Day::Same) {
            Ok(Moment::Clock {
                day: Day::Date(date),
                time,
                which: Occurrence::First,
            }) if reader.is_done() => time_of_day(date, time).map(|value| Located {
                value,
                place: text.place,
            }),
            Ok(_) => {
                let message = format!("`{}` is not a date and a time", text.value);
                diagnostics.push(Diagnostic::error("value", text.place, message, FORM));
                None
            }
            Err(mut error) => {
                FORM.clone_into(&mut error.hint);
                if error.message.ends_with("is not a time of day") {
                    error.message = format!("`{}` is not a date and a time", text.value);
                }
                diagnostics.push(self.word("value", &text, error));
                None
            }
        }
    }

    /// The end that the file gives; `Err` when it gives one that is none.
    fn end(
        &self,
        civil: &Civil,
        values: &BTreeMap<String, String>,
        diagnostics: &mut Vec<Diagnostic>,
    ) -> Result<Option<Instant>, ()> {
        let Some(text) = self.read.section.text("end") else {
            return Ok(None);
        };
        let read = fill(&text.value, values).and_then(|filled| {
            let mut reader = Reader::new(&filled);
            let moment = time::moment(&mut reader, Day::Same)?;
            if reader.is_done() {
                return Ok(moment);
            }
            Err(WordError::new(
                reader.rest_range(),
                "this does not belong into a moment",
                "write one moment: end = \"day 2 06:00\"",
            ))
        });
        let moment = read.map_err(|error| diagnostics.push(self.word("value", &text, error)))?;
        let instant = match moment {
            Moment::Later(span) => Ok(Instant::START.after(span)),
            Moment::Clock { day, time, which } => civil.clock(day, time, which),
            Moment::Start | Moment::End => {
                let message = format!("`{}` does not say when the run ends", text.value);
                let hint = "write a time, such as end = \"18:00\" or end = \"day 2 06:00\"";
                diagnostics.push(Diagnostic::error("value", text.place, message, hint));
                return Err(());
            }
        };
        match instant {
            Ok(instant) if instant.as_ms() <= LONGEST_MS => Ok(Some(instant)),
            Ok(_) => {
                let message = "the run is longer than ten years";
                let hint = "write an earlier end";
                diagnostics.push(Diagnostic::error("value", text.place, message, hint));
                Err(())
            }
            Err(error) => {
                let hint = civil_hint(&error);
                let message = error.to_string();
                diagnostics.push(Diagnostic::error("time", text.place, message, hint));
                Err(())
            }
        }
    }

    /// Rows after the end that the file gives would never happen.
    fn beyond(&self, expander: &Expander<'_>, end: Instant, diagnostics: &mut Vec<Diagnostic>) {
        let late = expander.placed.iter().filter(|row| {
            let moments = row.when.at.iter().chain(&row.when.until).copied();
            let windows = row.phrases.iter().flat_map(|said| &said.windows);
            let last = moments.chain(windows.map(|window| window.to)).max();
            last.is_some_and(|last| last > end)
        });
        for row in late {
            let at = self.read.section.place_of("end");
            diagnostics.push(
                Diagnostic::error(
                    "time",
                    row.time.place,
                    "this row goes on after the end of the scenario",
                    "make the end later, or the row earlier",
                )
                .related(at, "the end"),
            );
        }
    }

    /// A diagnostic about a stretch of a text.
    pub(super) fn word(
        &self,
        rule: &'static str,
        text: &Located<String>,
        error: WordError,
    ) -> Diagnostic {
        let place = inside(self.sources, text.place, &text.value, error.range);
        Diagnostic::error(rule, place, error.message, error.hint)
    }
}

/// Reads the files that rows include, and those that these include.
fn include(
    sources: &mut Sources,
    folder: &Path,
    read: &ScenarioFile,
    library: &mut BTreeMap<String, Arc<ScenarioFile>>,
    diagnostics: &mut Vec<Diagnostic>,
) {
    let rows = read.rows.iter().chain(read.scripts.values().flatten());
    let names: BTreeSet<(String, Place)> = rows
        .filter(|row| row.points.iter().any(|point| point.value == INCLUDE))
        .flat_map(|row| &row.phrases)
        .filter(|name| name.value.ends_with(".toml"))
        .map(|name| (name.value.clone(), name.place))
        .collect();
    for (name, place) in names {
        if library.contains_key(&name) {
            continue;
        }
        let file = match sources.read(&folder.join(&name)) {
            Ok(file) => file,
            Err(error) => {
                diagnostics.push(Diagnostic::error(
                    "include",
                    place,
                    error.to_string(),
                    "only files beside this one are included: copy it here and name it alone, or write a table [scripts.NAME] in this file",
                ));
                continue;
            }
        };
        if let Some(included) = file::read(sources, file, diagnostics) {
            diagnostics.extend(lesson::included(&included));
            let included = Arc::new(included);
            library.insert(name, Arc::clone(&included));
            include(sources, folder, &included, library, diagnostics);
        }
    }
}

/// Each combination of the values of parameters, the last parameter changing fastest.
fn combinations(read: &ScenarioFile) -> Vec<BTreeMap<String, String>> {
    let mut all = vec![BTreeMap::new()];
    let mut with: Vec<_> = read.section.map("with").iter().collect();
    with.sort_by(|a, b| a.0.value.cmp(&b.0.value));
    for (name, item) in with {
        let Item::List(values) = &item.value else {
            continue;
        };
        let mut next = Vec::new();
        for before in &all {
            for value in values {
                if let Item::Text(text) = &value.value {
                    let mut one = before.clone();
                    one.insert(name.value.clone(), text.clone());
                    next.push(one);
                }
            }
        }
        if next.len() > MOST_COMBINATIONS {
            next.truncate(MOST_COMBINATIONS);
        }
        all = next;
    }
    all
}

/// More runs of one file than this are a mistake.
const MOST_COMBINATIONS: usize = 1_000;

/// Ten years.
const LONGEST_MS: u64 = 10 * 366 * 86_400_000;
