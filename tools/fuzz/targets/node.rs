//! Any bytes as what nodes and hosts say to each other: a message, or refused; never a panic or
//! much memory.
#![no_main]

use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    live::wire::check(bytes);
});
