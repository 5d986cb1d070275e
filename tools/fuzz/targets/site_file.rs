//! Any text as `site.toml`: it is read, or refused with a place and a hint, and never panics.
#![no_main]

mod reading;

use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| reading::read("site.toml", &scenario::room_file::SITE, text));
