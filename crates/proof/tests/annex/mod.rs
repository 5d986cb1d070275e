//! Rooms of the annex, as they stand in the repository.

use std::path::Path;

use scenario::room_file::RoomFile;
use scenario::suite::Suite;

/// The room in this folder.
pub(crate) fn room(folder: &str) -> RoomFile {
    let annex = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../scenarios");
    let suite = Suite::open(&[annex.join(folder)]);
    let mut suite = suite.expect("the room is there");
    let room = suite.rooms.remove(0).room;
    room.expect("there is nothing wrong with the room")
}
