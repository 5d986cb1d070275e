//! What stands still around a session: the files of one room and its scenarios.
//!
//! Invariant: a stage is only made of a room in whose files nothing is wrong.

use std::path::{Path, PathBuf};

use scenario::diagnostic::any_error;
use scenario::room_file::RoomFile;
use scenario::script::civil::Civil;
use scenario::suite::Suite;
use scenario::{FileId, Sources};
use sim::Instant;

use crate::Refusal;

/// The files of a room.
#[derive(Debug)]
pub struct Stage {
    /// The files that were read.
    pub(crate) sources: Sources,
    /// The room.
    pub(crate) room: RoomFile,
    /// Its `room.toml` or `site.toml`.
    pub(crate) file: FileId,
    /// Its folder.
    pub(crate) folder: PathBuf,
    /// Its scenarios by the names of their files.
    pub(crate) scenarios: Vec<(String, FileId)>,
}

impl Stage {
    /// The one room of a suite.
    ///
    /// # Errors
    ///
    /// When there is more than one, or something is wrong with its files.
    pub fn new(suite: Suite) -> Result<Self, Refusal> {
        if let Some(wrong) = suite
            .diagnostics
            .iter()
            .find(|it| any_error(&[(*it).clone()]))
        {
            return Err(Refusal::from(wrong));
        }
        let Ok([room]) = <[_; 1]>::try_from(suite.rooms) else {
            return Err(Refusal::new(
                "a page shows one room",
                "name the folder of one room",
            ));
        };
        let Some(read) = room.room else {
            return Err(Refusal::new("the room cannot be read", "check the room"));
        };
        let name = |file: &FileId| {
            let path = Path::new(suite.sources.file(*file).name());
            let name = path.file_name().unwrap_or_default().to_string_lossy();
            (name.into_owned(), *file)
        };
        Ok(Self {
            scenarios: room.scenarios.iter().map(name).collect(),
            room: read,
            file: room.file,
            folder: room.folder,
            sources: suite.sources,
        })
    }

    /// Opens the room of a folder.
    ///
    /// # Errors
    ///
    /// When the folder holds no room, or something is wrong with its files.
    pub fn open(folder: &Path) -> Result<Self, Refusal> {
        let suite = Suite::open(&[folder.to_path_buf()])
            .map_err(|error| Refusal::new(error.to_string(), error.hint()))?;
        Self::new(suite)
    }

    /// The name of the room.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.room.plan.name
    }

    /// The plan of the room as its files say.
    #[must_use]
    pub fn plan(&self) -> &room::Plan {
        &self.room.plan
    }

    /// The name under which the rows of a session go in messages.
    pub(crate) fn session_file(&self) -> String {
        self.folder.join(SESSION).display().to_string()
    }

    /// The calendar of a session that starts at this civil time.
    pub(crate) fn civil(&self, start: jiff::civil::DateTime) -> Result<Civil, Refusal> {
        Civil::new(&self.room.zone, start)
            .map_err(|error| Refusal::new(error.to_string(), "start at another time"))
    }
}

/// The moment on the wall at which a session starts when nobody says another: a Monday morning.
pub(crate) fn usual_start() -> jiff::civil::DateTime {
    jiff::civil::date(2026, 3, 2).at(8, 0, 0, 0)
}

/// A session that has no file goes by this name.
const SESSION: &str = "live-session.toml";

/// The last moment of any session: 366 days are more than anybody sits at a page.
pub(crate) const LAST: Instant = Instant::from_ms(366 * 86_400_000);
