//! Any text as a scenario of a room that reads well: refused with places and hints, or it runs.
#![no_main]

use std::sync::Arc;

use libfuzzer_sys::fuzz_target;
use scenario::script::load;

fuzz_target!(|text: &str| {
    let (mut sources, room) = fuzz::room(fuzz::ROOM, None);
    let room = room.expect("the room of the seeds reads well");
    // No folder of this name exists, so nothing can be included from a disk.
    let file = sources.add("nowhere-at-all/scenario.toml", text);
    let loaded = load(&mut sources, file, &room);
    fuzz::check(&sources, !loaded.scripts.is_empty(), &loaded.diagnostics);
    for script in loaded.scripts.into_iter().take(4) {
        let script = Arc::new(script);
        // A year of sounds each second is a fair scenario but no use here.
        if script.rows.len() < 2_000 {
            let outcome = scenario::run::run(&script, 0);
            let _ = scenario::run::trace_text(&outcome);
        }
    }
});
