//! Rooms with their scenarios, read and ready to run.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::script::{Script, load};
use crate::site::{FindError, Room, find};
use crate::{Diagnostic, Sources};

/// Rooms with their scenarios, read and ready to run.
#[derive(Debug, Default)]
pub struct Suite {
    /// The files that were read.
    pub sources: Sources,
    /// The rooms, in the order of their folders.
    pub rooms: Vec<Room>,
    /// The runs of each room's scenarios, in the order of their files.
    pub scripts: Vec<Vec<Arc<Script>>>,
    /// What is wrong with the files, and what may be.
    pub diagnostics: Vec<Diagnostic>,
}

impl Suite {
    /// Opens what the paths name: a scenario file, the folder of a room, or a folder in which
    /// rooms are looked for.
    ///
    /// # Errors
    /// When something cannot be found or read; what is wrong *in* files is a diagnostic.
    pub fn open(paths: &[PathBuf]) -> Result<Self, FindError> {
        let mut sources = Sources::new();
        let library = find(&mut sources, paths)?;
        let mut diagnostics = library.diagnostics;
        let mut scripts = Vec::new();
        for room in &library.rooms {
            let mut of_room = Vec::new();
            for file in &room.scenarios {
                let Some(stage) = &room.room else {
                    continue;
                };
                let loaded = load(&mut sources, *file, stage);
                diagnostics.extend(loaded.diagnostics);
                of_room.extend(loaded.scripts.into_iter().map(Arc::new));
            }
            scripts.push(of_room);
        }
        crate::diagnostic::sort(&mut diagnostics);
        Ok(Self {
            sources,
            rooms: library.rooms,
            scripts,
            diagnostics,
        })
    }

    /// Every run of the suite with the place of its room, in order.
    pub fn runs(&self) -> impl Iterator<Item = (usize, &Arc<Script>)> {
        let rooms = self.scripts.iter().enumerate();
        rooms.flat_map(|(room, scripts)| scripts.iter().map(move |script| (room, script)))
    }
}

impl Script {
    /// The name of the run: the file without its folder and ending, and the values of parameters
    /// if there are any.
    #[must_use]
    pub fn name(&self) -> String {
        let file = Path::new(&self.file);
        let stem = file.file_stem().unwrap_or_default().to_string_lossy();
        if self.values.is_empty() {
            return stem.into_owned();
        }
        let values = self
            .values
            .iter()
            .map(|(name, value)| format!("{name} = {value}"));
        format!("{stem} ({})", values.collect::<Vec<_>>().join(", "))
    }
}
