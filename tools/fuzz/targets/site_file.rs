//! Any text as `site.toml` above a room that reads well.
#![no_main]

use libfuzzer_sys::fuzz_target;
use scenario::Sources;
use scenario::room_file::{Part, read_room, read_site};

fuzz_target!(|text: &str| {
    let mut sources = Sources::new();
    let site = sources.add("site.toml", text);
    let room = sources.add("office-112/room.toml", fuzz::ROOM);
    let (below, diagnostics) = read_room(&sources, room, None, Some(site));
    // What is wrong with the site is said where the site is read.
    fuzz::check(&sources, true, &diagnostics);
    let part = Part {
        folder: "office-112".to_owned(),
        room,
    };
    let (whole, diagnostics) = read_site(&sources, site, &[part], None);
    fuzz::check(&sources, whole.is_some(), &diagnostics);
    assert!(
        below.is_some() || whole.is_none(),
        "a site is no better than its rooms"
    );
});
