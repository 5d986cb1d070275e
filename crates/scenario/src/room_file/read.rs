//! Reads the files of a room, or of a site with its rooms.

use super::model::{self, Model};
use super::tables::{ROOM, SITE};
use super::{RoomFile, plan};
use crate::diagnostic::{any_error, sort};
use crate::keys::{Reader, Section, Table};
use crate::{Diagnostic, FileId, Sources};

/// The files of one room on a site.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Part {
    /// The name of the room's folder.
    pub folder: String,
    /// Its `room.toml`.
    pub room: FileId,
}

/// Reads a room: `room.toml`, its `sequence.toml` if there is one, and the `site.toml` above it
/// for what holds unless the room says otherwise.
///
/// The diagnostics are sorted by place; the room is `None` when one of them is an error.
#[must_use]
pub fn read_room(
    sources: &Sources,
    room: FileId,
    sequence: Option<FileId>,
    site: Option<FileId>,
) -> (Option<RoomFile>, Vec<Diagnostic>) {
    let mut diagnostics = Vec::new();
    let root = section(sources, room, &ROOM, &mut diagnostics);
    // What is wrong with the site is reported where the site is read.
    let site = site.and_then(|file| section(sources, file, &SITE, &mut Vec::new()));
    let parts = root.map(|root| {
        vec![model::Part {
            prefix: String::new(),
            root,
            site,
        }]
    });
    finish(sources, parts, &ROOM, sequence, diagnostics)
}

/// Reads a site and its rooms as one plan, in which the names of a room begin with its folder.
///
/// The diagnostics are sorted by place; the site is `None` when one of them is an error. What is
/// wrong with a room is reported here too.
#[must_use]
pub fn read_site(
    sources: &Sources,
    site: FileId,
    rooms: &[Part],
    sequence: Option<FileId>,
) -> (Option<RoomFile>, Vec<Diagnostic>) {
    let mut diagnostics = Vec::new();
    let Some(root) = section(sources, site, &SITE, &mut diagnostics) else {
        return finish(sources, None, &SITE, sequence, diagnostics);
    };
    let mut parts = vec![model::Part {
        prefix: String::new(),
        root: root.clone(),
        site: None,
    }];
    for room in rooms {
        if let Some(section) = section(sources, room.room, &ROOM, &mut diagnostics) {
            parts.push(model::Part {
                prefix: format!("{}/", room.folder),
                root: section,
                site: Some(root.clone()),
            });
        }
    }
    finish(sources, Some(parts), &SITE, sequence, diagnostics)
}

fn section(
    sources: &Sources,
    file: FileId,
    table: &'static Table,
    diagnostics: &mut Vec<Diagnostic>,
) -> Option<Section> {
    let mut reader = Reader::new(sources, file, table);
    let section = reader.read();
    diagnostics.append(&mut reader.diagnostics);
    section
}

fn finish(
    sources: &Sources,
    parts: Option<Vec<model::Part>>,
    root: &'static Table,
    sequence: Option<FileId>,
    mut diagnostics: Vec<Diagnostic>,
) -> (Option<RoomFile>, Vec<Diagnostic>) {
    let room = parts.map(|parts| {
        let model = Model::new(parts, &mut diagnostics);
        plan::lower(model, root, &mut diagnostics)
    });
    // Names that are wrong in the room would be wrong again in every clause.
    let names_known = room.is_some() && !any_error(&diagnostics);
    let room = match (room, sequence) {
        (Some(mut room), Some(sequence)) => {
            let context = names_known.then(|| (room.names(), room.reaction));
            let read = crate::sequence_file::read(sources, sequence, context, &mut diagnostics);
            room.plan.clauses = read.clauses;
            room.assumptions = read.assumptions;
            room.sentences = read.sentences;
            room.halves = read.halves;
            room.daylight = read.daylight;
            Some(room)
        }
        (room, _) => room,
    };
    sort(&mut diagnostics);
    let usable = !any_error(&diagnostics);
    (room.filter(|_| usable), diagnostics)
}
