//! Any text as `room.toml`: refused with places and hints, or a room that runs for a day.
#![no_main]

use std::sync::Arc;

use libfuzzer_sys::fuzz_target;
use sim::{Instant, Simulation};

fuzz_target!(|text: &str| {
    if let (_, Some(room)) = fuzz::room(text, None) {
        let mut simulation = Simulation::silent(Arc::new(room.plan));
        simulation.run_until(Instant::from_ms(86_400_000));
    }
});
