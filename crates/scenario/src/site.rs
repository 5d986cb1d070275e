//! Finds rooms, sites and scenarios on the disk, and reads the rooms.
//!
//! A room is a folder with `room.toml`; a site is a folder with `site.toml`, and its rooms are
//! the folders in it. Invariant: folders and files are taken in the order of their names, so the
//! disk's own order changes nothing.

use std::ffi::OsStr;
use std::path::{Path, PathBuf};

use thiserror::Error;

use crate::diagnostic::sort;
use crate::room_file::{Part, RoomFile, read_room, read_site};
use crate::script::{is_scenario, is_script};
use crate::source::ReadError;
use crate::{Diagnostic, FileId, Place, Sources};

/// What was found and read.
#[derive(Debug, Default)]
pub struct Library {
    /// Rooms and sites, in the order of their folders.
    pub rooms: Vec<Room>,
    /// What is wrong with their files, and what may be.
    pub diagnostics: Vec<Diagnostic>,
}

/// A room, or a site that is run as one.
#[derive(Debug)]
pub struct Room {
    /// Its folder.
    pub folder: PathBuf,
    /// Whether it is a site.
    pub is_site: bool,
    /// Its `room.toml` or `site.toml`.
    pub file: FileId,
    /// The `site.toml` that stands above its folder, if there is one.
    pub site: Option<FileId>,
    /// What it says; `None` when something is wrong with it.
    pub room: Option<RoomFile>,
    /// Its scenarios, by file name.
    pub scenarios: Vec<FileId>,
}

/// Why rooms could not be found.
#[derive(Debug, Error)]
pub enum FindError {
    /// Nothing has this name.
    #[error("there is no file or folder {}", .0.display())]
    Missing(PathBuf),
    /// A scenario file stands where no room is.
    #[error("{} does not stand beside a room.toml or site.toml", .0.display())]
    NoRoom(PathBuf),
    /// A scenario whose name does not say that it is one.
    #[error("{} is no .toml file", .0.display())]
    NotToml(PathBuf),
    /// A folder without any room.
    #[error("there is no room.toml in {} or in a folder within", .0.display())]
    Empty(PathBuf),
    /// A file cannot be read.
    #[error(transparent)]
    Read(#[from] ReadError),
    /// A folder cannot be listed.
    #[error("{} cannot be listed", path.display())]
    Unlisted {
        /// The folder.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
}

impl FindError {
    /// What to do about it.
    #[must_use]
    pub const fn hint(&self) -> &'static str {
        match self {
            Self::Missing(_) => "check the spelling, and the folder you are in",
            Self::NoRoom(_) => "give a scenario in the folder of its room, or the folder",
            Self::Empty(_) => "make a room: roomrig new my-room",
            Self::NotToml(_) => "give a scenario, a file that ends in .toml",
            Self::Read(ReadError::NotText { .. }) => "save it as UTF-8 in your editor",
            Self::Read(ReadError::Unreadable { .. }) | Self::Unlisted { .. } => {
                "check who may read it"
            }
        }
    }
}

/// Finds and reads the rooms of files and folders. A scenario file stands for its room with
/// only this scenario; a folder stands for every room in it, however deep.
///
/// # Errors
/// When something cannot be found or read; what is wrong *in* files is a diagnostic.
pub fn find(sources: &mut Sources, paths: &[PathBuf]) -> Result<Library, FindError> {
    let mut wanted: Vec<Wanted> = Vec::new();
    for path in paths {
        if !path.exists() {
            return Err(FindError::Missing(path.clone()));
        }
        if path.is_dir() {
            let before = wanted.len();
            search(path, 0, &mut wanted)?;
            if wanted.len() == before {
                return Err(FindError::Empty(path.clone()));
            }
        } else {
            wanted.push(of_file(path)?);
        }
    }
    let mut library = Library::default();
    for wanted in merged(wanted) {
        let room = read(sources, &wanted, &mut library.diagnostics)?;
        library.rooms.push(room);
    }
    sort(&mut library.diagnostics);
    Ok(library)
}

/// A folder to read, and which of its scenarios.
#[derive(Debug)]
struct Wanted {
    folder: PathBuf,
    is_site: bool,
    /// Only these scenarios; `None`: all.
    only: Option<Vec<PathBuf>>,
}

/// How deep folders are searched: enough for any site, and an end for any loop.
const DEEPEST: usize = 12;

const OWN: [&str; 3] = ["room.toml", "sequence.toml", "site.toml"];

fn search(folder: &Path, depth: usize, wanted: &mut Vec<Wanted>) -> Result<(), FindError> {
    for (file, is_site) in [("site.toml", true), ("room.toml", false)] {
        if folder.join(file).is_file() {
            wanted.push(Wanted {
                folder: folder.to_path_buf(),
                is_site,
                only: None,
            });
        }
    }
    if depth < DEEPEST {
        for inner in list(folder)?.into_iter().filter(|path| path.is_dir()) {
            search(&inner, depth + 1, wanted)?;
        }
    }
    Ok(())
}

/// A file stands for its room: a scenario for this one, any other for all.
fn of_file(path: &Path) -> Result<Wanted, FindError> {
    let folder = match path.parent() {
        Some(parent) if parent != Path::new("") => parent.to_path_buf(),
        _ => PathBuf::from("."),
    };
    let name = path.file_name().and_then(OsStr::to_str).unwrap_or("");
    let is_room = folder.join("room.toml").is_file();
    let is_site = folder.join("site.toml").is_file() && (name == "site.toml" || !is_room);
    if !is_room && !is_site {
        return Err(FindError::NoRoom(path.to_path_buf()));
    }
    if path.extension() != Some(OsStr::new("toml")) {
        return Err(FindError::NotToml(path.to_path_buf()));
    }
    Ok(Wanted {
        folder,
        is_site,
        only: (!OWN.contains(&name)).then(|| vec![path.to_path_buf()]),
    })
}

/// Each folder once, whatever was asked for several times.
fn merged(wanted: Vec<Wanted>) -> Vec<Wanted> {
    let mut merged: Vec<Wanted> = Vec::new();
    for next in wanted {
        let same =
            |known: &&mut Wanted| known.folder == next.folder && known.is_site == next.is_site;
        match merged.iter_mut().find(same) {
            Some(known) => match (&mut known.only, next.only) {
                (Some(known), Some(more)) => known.extend(more),
                (all, None) => *all = None,
                (None, Some(_)) => {}
            },
            None => merged.push(next),
        }
    }
    merged
}

fn read(
    sources: &mut Sources,
    wanted: &Wanted,
    diagnostics: &mut Vec<Diagnostic>,
) -> Result<Room, FindError> {
    let folder = &wanted.folder;
    let optional = |sources: &mut Sources, path: PathBuf| match path.is_file() {
        true => sources.read(&path).map(Some),
        false => Ok(None),
    };
    let (file, site, room) = if wanted.is_site {
        let file = sources.read(&shown(folder, "site.toml"))?;
        let sequence = optional(sources, shown(folder, "sequence.toml"))?;
        let mut parts = Vec::new();
        for inner in list(folder)?.into_iter().filter(|path| path.is_dir()) {
            if let Some(room) = optional(sources, inner.join("room.toml"))? {
                let name = inner.file_name().and_then(OsStr::to_str).unwrap_or("room");
                parts.push(Part {
                    folder: name.to_owned(),
                    room,
                });
            }
        }
        let (room, found) = read_site(sources, file, &parts, sequence);
        // A room says what is wrong with it by itself.
        let theirs = |d: &Diagnostic| parts.iter().any(|part| part.room == d.place.file);
        diagnostics.extend(found.into_iter().filter(|d| !theirs(d)));
        (file, None, room)
    } else {
        let file = sources.read(&shown(folder, "room.toml"))?;
        let sequence = optional(sources, shown(folder, "sequence.toml"))?;
        let site = match above(folder) {
            Some(path) => Some(sources.read(&path)?),
            None => None,
        };
        let (room, found) = read_room(sources, file, sequence, site);
        diagnostics.extend(found);
        (file, site, room)
    };
    Ok(Room {
        folder: folder.clone(),
        is_site: wanted.is_site,
        file,
        site,
        room,
        scenarios: scenarios(sources, wanted, diagnostics)?,
    })
}

/// The scenarios of a folder. A file that is not TOML is taken for one, so that what is wrong
/// with it is said.
fn scenarios(
    sources: &mut Sources,
    wanted: &Wanted,
    diagnostics: &mut Vec<Diagnostic>,
) -> Result<Vec<FileId>, FindError> {
    let mut files = Vec::new();
    let paths = match &wanted.only {
        Some(only) => only.clone(),
        None => list(&wanted.folder)?,
    };
    for path in paths {
        let name = path.file_name().and_then(OsStr::to_str).unwrap_or("");
        let is_toml = path.extension() == Some(OsStr::new("toml"));
        if !is_toml || !path.is_file() || OWN.contains(&name) {
            continue;
        }
        let file = sources.read(&path)?;
        let broken = crate::keys::parse(sources, file).is_err();
        if broken || wanted.only.is_some() || is_scenario(sources.file(file).text()) {
            files.push(file);
        } else if !is_script(sources.file(file).text()) {
            diagnostics.push(no_scenario(sources, file));
        }
    }
    Ok(files)
}

/// The warning for a file beside a room that nothing would run.
fn no_scenario(sources: &Sources, file: FileId) -> Diagnostic {
    let message = match sources.file(file).text().trim() {
        "" => "this file is empty, so it is no scenario",
        _ => "this file has neither `start` nor `rows`, so it is no scenario and nothing runs it",
    };
    Diagnostic::warning(
        "no scenario",
        Place::new(file, 0..0),
        message,
        "write title = \"\u{2026}\", start = \"2026-03-02 08:00\" and rows = [\u{2026}], or take the file away",
    )
}

/// The `site.toml` of the folder above a room.
fn above(folder: &Path) -> Option<PathBuf> {
    let parent = match folder.parent() {
        Some(parent) if parent != Path::new("") => parent.to_path_buf(),
        Some(_) => PathBuf::from("."),
        None => return None,
    };
    // `.` has no parent by its letters.
    let parent = if folder == Path::new(".") {
        PathBuf::from("..")
    } else {
        parent
    };
    let site = shown(&parent, "site.toml");
    site.is_file().then_some(site)
}

/// A path as people write it: without a leading `./`.
fn shown(folder: &Path, file: &str) -> PathBuf {
    if folder == Path::new(".") {
        PathBuf::from(file)
    } else {
        folder.join(file)
    }
}

/// What stands in a folder, by name; what begins with a dot is nobody's room.
fn list(folder: &Path) -> Result<Vec<PathBuf>, FindError> {
    let unlisted = |source| FindError::Unlisted {
        path: folder.to_path_buf(),
        source,
    };
    let mut paths = Vec::new();
    for entry in std::fs::read_dir(folder).map_err(unlisted)? {
        let name = entry.map_err(unlisted)?.file_name();
        if name.to_str().is_some_and(|name| !name.starts_with('.')) {
            paths.push(shown(folder, name.to_str().unwrap_or("")));
        }
    }
    paths.sort();
    Ok(paths)
}

#[cfg(test)]
mod tests {
    use super::*;

    const ROOM: &str = include_str!("room_file/tests/office.toml");

    /// A folder that is removed in the end.
    struct Folder(PathBuf);

    impl Folder {
        fn with(name: &str, files: &[(&str, &str)]) -> Self {
            let root = std::env::temp_dir().join(format!("roomrig-{name}-{}", std::process::id()));
            for (path, text) in files {
                let path = root.join(path);
                std::fs::create_dir_all(path.parent().unwrap()).unwrap();
                std::fs::write(path, text).unwrap();
            }
            Self(root)
        }
    }

    impl Drop for Folder {
        fn drop(&mut self) {
            let _ = std::fs::remove_dir_all(&self.0);
        }
    }

    const ROWS: &str = "title = \"T\"\nstart = \"2026-03-02 08:00\"\n\
                        rows = [[\"08:00\", \"wall-sensor\", \"motion\"]]\n";
    const SITE: &str = "name = \"Annex\"\n[outputs.air]\ndrive = \"dry contact\"\n\
                        closed-means = \"air\"\n[[links]]\nfrom = \"office/wall-sensor\"\n\
                        to = \"air\"\nrole = \"auto-on\"\n";

    #[test]
    fn a_folder_gives_its_site_rooms_and_scenarios_by_name() {
        let files = [
            ("site.toml", SITE),
            ("night.toml", ROWS),
            ("office/room.toml", ROOM),
            ("office/b.toml", ROWS),
            ("office/a.toml", ROWS),
            ("office/visit.toml", "parameters = [\"who\"]\nrows = []\n"),
            ("office/broken.toml", "rows = ["),
            (".hidden/room.toml", "x"),
        ];
        let folder = Folder::with("folder", &files);
        let mut sources = Sources::new();
        let library = find(&mut sources, std::slice::from_ref(&folder.0)).unwrap();
        let rooms: Vec<(bool, usize, bool)> = library
            .rooms
            .iter()
            .map(|room| (room.is_site, room.scenarios.len(), room.room.is_some()))
            .collect();
        assert_eq!(
            rooms,
            [(true, 1, true), (false, 3, true)],
            "{:?}",
            library.diagnostics
        );
        let name = |file: &FileId| {
            let name = sources.file(*file).name();
            name.rsplit('/').next().unwrap_or(name).to_owned()
        };
        let names: Vec<String> = library.rooms[1].scenarios.iter().map(name).collect();
        assert_eq!(names, ["a.toml", "b.toml", "broken.toml"]);
    }

    #[test]
    fn a_file_that_nothing_runs_is_told() {
        let files = [
            ("room.toml", ROOM),
            ("a.toml", ROWS),
            ("empty.toml", "\n"),
            ("notes.toml", "title = \"T\"\n"),
            (
                "begun.toml",
                "title = \"T\"\nstart = \"2026-03-02 08:00\"\n",
            ),
            ("visit.toml", "parameters = [\"who\"]\nrows = []\n"),
        ];
        let folder = Folder::with("nothing-runs", &files);
        let mut sources = Sources::new();
        let library = find(&mut sources, std::slice::from_ref(&folder.0)).unwrap();
        let told: Vec<String> = (library.diagnostics.iter())
            .map(|one| {
                let place = sources.position(one.place);
                let file = place.rsplit('/').next().unwrap_or_default();
                format!("{file} {}", one.message)
            })
            .collect();
        assert_eq!(
            told,
            [
                "empty.toml:1:1 this file is empty, so it is no scenario",
                "notes.toml:1:1 this file has neither `start` nor `rows`, so it is no scenario \
                 and nothing runs it",
            ]
        );
        // One that was begun is a scenario, and says itself what it lacks.
        assert_eq!(library.rooms[0].scenarios.len(), 2);
    }

    #[test]
    fn a_scenario_stands_for_its_room_with_only_itself() {
        let files = [("room.toml", ROOM), ("a.toml", ROWS), ("b.toml", ROWS)];
        let folder = Folder::with("file", &files);
        let mut sources = Sources::new();
        let both = [folder.0.join("b.toml"), folder.0.join("b.toml")];
        let library = find(&mut sources, &both[..1]).unwrap();
        assert_eq!(library.rooms.len(), 1);
        assert_eq!(library.rooms[0].scenarios.len(), 1);
        let all = [folder.0.join("b.toml"), folder.0.clone()];
        let library = find(&mut sources, &all).unwrap();
        assert_eq!(library.rooms[0].scenarios.len(), 2);
    }

    #[test]
    fn what_cannot_be_found_is_said_with_a_hint() {
        let folder = Folder::with("empty", &[("lonely/a.toml", ROWS)]);
        let mut sources = Sources::new();
        let mut error = |path: &str| {
            let error = find(&mut sources, &[folder.0.join(path)]).unwrap_err();
            (error.to_string(), error.hint())
        };
        assert!(error("nowhere").0.contains("no file or folder"));
        assert!(error("lonely").0.contains("no room.toml"));
        assert!(error("lonely/a.toml").0.contains("does not stand beside"));
    }
}
