//! What stands still around a session: the files of one room and its scenarios.
//!
//! Invariant: a stage is only made of a room in whose files nothing is wrong.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use scenario::diagnostic::any_error;
use scenario::room_file::RoomFile;
use scenario::script::Script;
use scenario::script::civil::Civil;
use scenario::suite::Suite;
use scenario::{FileId, Sources};
use sim::Instant;

use crate::Refusal;

/// The files of a room.
#[derive(Debug)]
pub struct Stage {
    /// The files that were read.
    pub(crate) sources: Arc<Sources>,
    /// The room.
    pub(crate) room: RoomFile,
    /// Its `room.toml` or `site.toml`.
    pub(crate) file: FileId,
    /// Whether it is a site.
    pub(crate) is_site: bool,
    /// The `site.toml` above it.
    pub(crate) site: Option<FileId>,
    /// Its folder.
    pub(crate) folder: PathBuf,
    /// Its scenarios, each with the first values of its parameters.
    pub(crate) scenarios: Vec<Scene>,
}

/// A scenario of a room.
#[derive(Clone, Debug)]
pub(crate) struct Scene {
    /// The name of its file.
    pub(crate) name: String,
    /// What it says.
    pub(crate) script: Arc<Script>,
    /// The text of its file.
    pub(crate) text: Arc<str>,
}

impl Stage {
    /// The rooms of a suite, in the order of their folders.
    ///
    /// # Errors
    ///
    /// When there is none, or something is wrong with a file.
    pub fn all(suite: Suite) -> Result<Vec<Arc<Self>>, Refusal> {
        let is_error = |it: &&scenario::Diagnostic| any_error(std::slice::from_ref(it));
        if let Some(wrong) = suite.diagnostics.iter().find(is_error) {
            return Err(Refusal::from(wrong));
        }
        let sources = Arc::new(suite.sources);
        let mut stages = Vec::new();
        for (room, scripts) in suite.rooms.into_iter().zip(suite.scripts) {
            let Some(read) = room.room else {
                return Err(Refusal::new("a room cannot be read", "check the room"));
            };
            let mut scenarios: Vec<Scene> = Vec::new();
            for file in room.scenarios {
                let path = sources.file(file).name();
                let name = Path::new(path).file_name().unwrap_or_default();
                let script = scripts.iter().find(|script| script.file == path);
                scenarios.extend(script.map(|script| Scene {
                    name: name.to_string_lossy().into_owned(),
                    script: Arc::clone(script),
                    text: sources.file(file).text().into(),
                }));
            }
            stages.push(Arc::new(Self {
                sources: Arc::clone(&sources),
                room: read,
                file: room.file,
                is_site: room.is_site,
                site: room.site,
                folder: room.folder,
                scenarios,
            }));
        }
        match stages.is_empty() {
            true => Err(Refusal::new(
                "there is no room",
                "name the folder of a room",
            )),
            false => Ok(stages),
        }
    }

    /// Opens the rooms of a folder.
    ///
    /// # Errors
    ///
    /// When the folder holds no room, or something is wrong with its files.
    pub fn open(folder: &Path) -> Result<Vec<Arc<Self>>, Refusal> {
        let suite = Suite::open(&[folder.to_path_buf()])
            .map_err(|error| Refusal::new(error.to_string(), error.hint()))?;
        Self::all(suite)
    }

    /// The name of the room.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.room.plan.name
    }

    /// The name of the folder of the room.
    #[must_use]
    pub fn folder(&self) -> String {
        let name = self.folder.file_name().unwrap_or_default();
        name.to_string_lossy().into_owned()
    }

    /// The plan of the room as its files say.
    #[must_use]
    pub fn plan(&self) -> &room::Plan {
        &self.room.plan
    }

    /// The names of the files of its scenarios.
    pub fn scenarios(&self) -> impl Iterator<Item = &str> {
        self.scenarios.iter().map(|scene| scene.name.as_str())
    }

    /// A scenario by the name of its file.
    pub(crate) fn scene(&self, name: &str) -> Result<&Scene, Refusal> {
        let named = self.scenarios.iter().find(|scene| scene.name == name);
        named.ok_or_else(|| {
            let near = scenario::diagnostic::nearest(name, self.scenarios());
            let hint = near.map_or_else(
                || "name a scenario of the folder".to_owned(),
                |near| format!("did you mean `{near}`?"),
            );
            let message = format!("{} has no scenario `{name}`", self.name());
            Refusal::new(message, hint)
        })
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
