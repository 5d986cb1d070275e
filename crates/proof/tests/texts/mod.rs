//! Rooms from the texts of their files.

use scenario::Sources;
use scenario::room_file::{RoomFile, read_room};

/// A room with its sequence.
#[track_caller]
pub(crate) fn room(room: &str, sequence: &str) -> RoomFile {
    let mut sources = Sources::new();
    let room = sources.add("room.toml", room);
    let sequence = sources.add("sequence.toml", sequence);
    let (room, wrong) = read_room(&sources, room, Some(sequence), None);
    let wrong: Vec<String> = wrong.iter().map(|it| it.render(&sources, false)).collect();
    room.unwrap_or_else(|| panic!("{}", wrong.join("\n")))
}
