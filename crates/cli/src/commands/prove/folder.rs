//! The folder into which a proof writes scenarios.
//!
//! Scenarios run beside their `room.toml`. So they go straight into the folder if it is that of
//! the room; any other folder gets one inside for each room, with copies of the room's files.
//! Invariants: a file is written as a whole or not at all; a file is only ever replaced or
//! removed when its first line says that a proof wrote it, and that is looked at before anything
//! is searched.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use proof::{Answer, Verdict, Witness};
use scenario::site::Room;
use scenario::suite::Suite;

use super::asked::{Asked, AskedRoom};
use crate::failure::Failure;
use crate::output;
use crate::rooms;

/// A folder that is ready to be written to.
#[derive(Debug)]
pub(super) struct Folder {
    /// Where the scenarios of each room go that is asked about.
    rooms: Vec<Place>,
}

/// Where the scenarios of a room go.
#[derive(Debug)]
struct Place {
    folder: PathBuf,
    /// Files to copy there, with their names in the folder.
    copies: Vec<(PathBuf, PathBuf)>,
}

impl Folder {
    /// Makes the folder, when everything can go there without touching what somebody else wrote.
    pub(super) fn ready(path: &Path, suite: &Suite, asked: &Asked) -> Result<Self, Failure> {
        if path.exists() && !path.is_dir() {
            let message = format!("{}: is no folder", path.display());
            return Err(Failure::new(
                message,
                "name a folder, or one that is to be made",
            ));
        }
        let mut places: Vec<Place> = Vec::new();
        for it in &asked.rooms {
            let place = Place::of(path, &suite.rooms[it.room], asked.rooms.len())?;
            if places.iter().any(|other| other.folder == place.folder) {
                let message = format!("two rooms would share {}", place.folder.display());
                return Err(Failure::new(message, "prove them one by one"));
            }
            place.check(suite, it)?;
            places.push(place);
        }
        std::fs::create_dir_all(path).map_err(|error| Failure::write(path, &error))?;
        Ok(Self { rooms: places })
    }

    /// Writes the scenarios of the answers, and says where. What an earlier proof wrote of the
    /// same clauses is replaced or removed.
    pub(super) fn write(
        &self,
        suite: &Suite,
        asked: &Asked,
        answers: &[Vec<Answer>],
    ) -> Result<BTreeMap<(usize, String), String>, Failure> {
        let mut written = BTreeMap::new();
        for (number, (place, answers)) in self.rooms.iter().zip(answers).enumerate() {
            let room = &suite.rooms[asked.rooms[number].room];
            if answers.iter().any(|answer| witness(answer).is_some()) {
                place.copy(room)?;
            }
            for answer in answers {
                if !matches!(answer.verdict, Verdict::Undecided(_)) {
                    for kind in KINDS {
                        let path = place.folder.join(file_name(&answer.id, kind));
                        remove(&path)?;
                    }
                }
                let Some(witness) = witness(answer) else {
                    continue;
                };
                let path = place.folder.join(name(answer));
                replace(&path, &text(witness))?;
                written.insert((number, answer.id.clone()), path.display().to_string());
            }
        }
        Ok(written)
    }
}

impl Place {
    fn of(path: &Path, room: &Room, rooms: usize) -> Result<Self, Failure> {
        let is_own = same(path, &room.folder);
        if is_own {
            return Ok(Self {
                folder: path.to_owned(),
                copies: Vec::new(),
            });
        }
        if path.join("room.toml").exists() || path.join("site.toml").exists() {
            let message = format!("{}: is the folder of another room", path.display());
            let hint = match rooms {
                1 => "name the room's own folder, or one without rooms",
                _ => "name a folder without rooms, or prove one room",
            };
            return Err(Failure::new(message, hint));
        }
        let real = room.folder.canonicalize();
        let real = real.map_err(|error| Failure::write(&room.folder, &error))?;
        if !room.is_site
            && real
                .parent()
                .is_some_and(|it| it.join("site.toml").exists())
        {
            let message = format!("{}: is a room of a site", room.folder.display());
            let hint = "its scenarios run beside it only: give `--out` its own folder";
            return Err(Failure::new(message, hint));
        }
        let name = real.file_name().unwrap_or_else(|| "room".as_ref());
        let folder = path.join(name);
        let copies = copies(room, &folder)?;
        Ok(Self { folder, copies })
    }

    /// Refuses to go on where a file that is to be written is not ours.
    fn check(&self, suite: &Suite, asked: &AskedRoom) -> Result<(), Failure> {
        let plan = &rooms::read(&suite.rooms[asked.room]).plan;
        let ids = asked
            .clauses
            .iter()
            .map(|it| &plan.clauses[usize::from(*it)].id);
        let scenarios = ids.flat_map(|id| KINDS.map(|kind| file_name(id, kind)));
        let scenarios = scenarios.map(|name| self.folder.join(name));
        let copies = self.copies.iter().map(|(_, to)| to.clone());
        for path in scenarios.chain(copies) {
            refuse_foreign(&path)?;
        }
        Ok(())
    }

    /// Makes the folder, with the files of the room.
    fn copy(&self, room: &Room) -> Result<(), Failure> {
        for (from, to) in &self.copies {
            let text = std::fs::read_to_string(from)
                .map_err(|error| Failure::new(format!("{}: {error}", from.display()), ""))?;
            let parent = to.parent().unwrap_or(&self.folder);
            std::fs::create_dir_all(parent).map_err(|error| Failure::write(parent, &error))?;
            let room = room.folder.display();
            replace(to, &format!("{MARK}, copied from {room}\n{text}"))?;
        }
        Ok(())
    }
}

/// The files that make a room what it is, and where their copies go.
fn copies(room: &Room, folder: &Path) -> Result<Vec<(PathBuf, PathBuf)>, Failure> {
    let mut inner = vec![PathBuf::new()];
    if room.is_site {
        let unlisted = |error| Failure::new(format!("{}: {error}", room.folder.display()), "");
        let entries = std::fs::read_dir(&room.folder).map_err(unlisted)?;
        let folders = entries.flatten().filter(|entry| entry.path().is_dir());
        inner.extend(folders.map(|entry| PathBuf::from(entry.file_name())));
        inner.sort();
    }
    let mut copies = Vec::new();
    for inner in inner {
        for name in ["site.toml", "room.toml", "sequence.toml"] {
            let from = room.folder.join(&inner).join(name);
            if from.is_file() {
                copies.push((from, folder.join(&inner).join(name)));
            }
        }
    }
    Ok(copies)
}

fn witness(answer: &Answer) -> Option<&Witness> {
    match &answer.verdict {
        Verdict::Proved(witness) => witness.as_ref(),
        Verdict::Broken(witness) => Some(witness),
        Verdict::Linked(_) | Verdict::NeverExercised | Verdict::Undecided(_) => None,
    }
}

/// The name of the file for the scenario of an answer.
pub(super) fn name(answer: &Answer) -> String {
    let kind = match answer.verdict {
        Verdict::Broken(_) => KINDS[0],
        _ => KINDS[1],
    };
    file_name(&answer.id, kind)
}

/// The file for a scenario that was found.
pub(super) fn text(witness: &Witness) -> String {
    format!("{MARK}\n{}", witness.text)
}

fn file_name(id: &str, kind: &str) -> String {
    format!("{id}-{kind}.toml")
}

fn same(one: &Path, other: &Path) -> bool {
    matches!((one.canonicalize(), other.canonicalize()), (Ok(one), Ok(other)) if one == other)
}

/// Refuses where a file stands that no proof wrote.
fn refuse_foreign(path: &Path) -> Result<(), Failure> {
    if !path.exists() {
        return Ok(());
    }
    let text = std::fs::read(path).unwrap_or_default();
    if text.starts_with(MARK.as_bytes()) {
        return Ok(());
    }
    let message = format!(
        "{}: is there already, and no proof wrote it",
        path.display()
    );
    Err(Failure::new(
        message,
        "name another folder, or move the file away",
    ))
}

fn replace(path: &Path, text: &str) -> Result<(), Failure> {
    refuse_foreign(path)?;
    output::file(path, text.as_bytes())
}

fn remove(path: &Path) -> Result<(), Failure> {
    if !path.exists() {
        return Ok(());
    }
    refuse_foreign(path)?;
    std::fs::remove_file(path).map_err(|error| Failure::write(path, &error))
}

/// How the first line of every file begins that a proof writes.
const MARK: &str = "# Written by roomrig prove";

/// What a scenario is for, as its file name says.
const KINDS: [&str; 2] = ["broken", "example"];
