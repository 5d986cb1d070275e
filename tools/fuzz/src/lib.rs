//! What the targets of files share: a room that reads well, and how faults are shown.

use scenario::room_file::{RoomFile, read_room};
use scenario::{Diagnostic, Sources};

/// A room with two outputs, a sensor and a wall unit.
pub const ROOM: &str = include_str!("../seeds/room_file/office");

/// A site for it.
pub const SITE: &str = include_str!("../seeds/site_file/annex");

/// Every fault can be shown, in words and to machines, and whatever was not read has one.
pub fn check(sources: &Sources, read: bool, diagnostics: &[Diagnostic]) {
    assert!(
        read || scenario::diagnostic::any_error(diagnostics),
        "what cannot be read says why"
    );
    for diagnostic in diagnostics {
        let shown = diagnostic.render(sources, false);
        assert!(shown.contains(".toml:"), "a fault has a place: {shown}");
        let _ = diagnostic.to_json(sources);
    }
}

/// Reads a room from the text of its file and of its sequence.
pub fn room(room: &str, sequence: Option<&str>) -> (Sources, Option<RoomFile>) {
    let mut sources = Sources::new();
    let file = sources.add("room.toml", room);
    let sequence = sequence.map(|text| sources.add("sequence.toml", text));
    let (room, diagnostics) = read_room(&sources, file, sequence, None);
    check(&sources, room.is_some(), &diagnostics);
    (sources, room)
}
