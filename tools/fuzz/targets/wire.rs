//! Any bytes as a frame from another process: a frame, or refused; never a panic or much memory.
#![no_main]

use libfuzzer_sys::fuzz_target;
use sim::wire::Message;

fuzz_target!(|bytes: &[u8]| {
    if let Ok(message) = Message::decode(bytes) {
        let written = message.encode().expect("what was read has a name");
        assert!(
            written.len() <= bytes.len(),
            "a writer uses the shortest form"
        );
        assert_eq!(
            Message::decode(&written),
            Ok(message),
            "there and back is the same"
        );
    }
});
