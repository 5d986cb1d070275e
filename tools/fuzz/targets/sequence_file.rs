//! Any text as `sequence.toml` of a room that reads well.
#![no_main]

use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    let _ = fuzz::room(fuzz::ROOM, Some(text));
});
