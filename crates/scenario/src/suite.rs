//! Rooms with their scenarios, read and ready to run.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::script::lesson::same_place;
use crate::script::{Lesson, Script, load};
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
        diagnostics.extend(unordered(&library.rooms, &scripts));
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

    /// The lessons with the place of their room, in their order.
    #[must_use]
    pub fn lessons(&self) -> Vec<(usize, &Arc<Script>)> {
        let mut lessons: Vec<_> = self
            .runs()
            .filter(|(_, script)| script.lesson.is_some())
            .collect();
        lessons.sort_by_key(|(_, script)| script.lesson.as_ref().map(|lesson| lesson.order));
        lessons
    }
}

/// Lessons of one site that have the same place in the order. Rooms whose folders stand in one
/// folder are of one site.
fn unordered(rooms: &[Room], scripts: &[Vec<Arc<Script>>]) -> Vec<Diagnostic> {
    let mut seen: BTreeMap<(&Path, u16), (&Lesson, &str)> = BTreeMap::new();
    let mut found = Vec::new();
    for (room, scripts) in rooms.iter().zip(scripts) {
        let site = match room.is_site {
            true => &room.folder,
            false => room.folder.parent().unwrap_or(&room.folder),
        };
        for script in scripts {
            let Some(lesson) = &script.lesson else {
                continue;
            };
            let named = (lesson, script.title.as_str());
            match seen.entry((site, lesson.order)) {
                Entry::Occupied(first) => found.push(same_place(*first.get(), named)),
                Entry::Vacant(free) => {
                    free.insert(named);
                }
            }
        }
    }
    found
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

#[cfg(test)]
mod tests {
    use super::*;

    /// A site of two rooms with one lesson each, in a folder of its own.
    fn site(name: &str, orders: [u16; 2]) -> Suite {
        let folder = std::env::temp_dir().join(format!("roomrig-{name}-{}", std::process::id()));
        for (room, order) in ["north", "south"].into_iter().zip(orders) {
            let folder = folder.join(room);
            std::fs::create_dir_all(&folder).unwrap();
            let text = "name = \"Office\"\n[outputs.lights]\ndrive = \"relay\"\n";
            std::fs::write(folder.join("room.toml"), text).unwrap();
            let text = format!(
                "title = \"In the {room}\"\nstart = \"2026-03-02 08:00\"\n\
                 rows = [[\"08:00\", \"lights\", \"is off\"]]\n\
                 [lesson]\norder = {order}\ngoal = \"g\"\n[[steps]]\nat = \"start\"\nsays = \"s\"\n"
            );
            std::fs::write(folder.join("lesson.toml"), text).unwrap();
        }
        let suite = Suite::open(std::slice::from_ref(&folder)).unwrap();
        std::fs::remove_dir_all(&folder).unwrap();
        suite
    }

    #[test]
    fn lessons_come_in_their_order_whatever_room_they_are_in() {
        let suite = site("lessons-in-order", [7, 2]);
        assert_eq!(suite.diagnostics, []);
        let titles: Vec<&str> = (suite.lessons().iter())
            .map(|(_, script)| script.title.as_str())
            .collect();
        assert_eq!(titles, ["In the south", "In the north"]);
    }

    #[test]
    fn two_lessons_with_one_order_are_told_of() {
        let suite = site("lessons-of-one-order", [3, 3]);
        let [found] = suite.diagnostics.as_slice() else {
            panic!("{:?}", suite.diagnostics);
        };
        assert_eq!(found.message, "two lessons have order 3");
        let place = suite.sources.position(found.place);
        assert!(place.ends_with("south/lesson.toml:5:9"), "{place}");
        assert!(found.related[0].1.contains("In the north"));
    }
}
