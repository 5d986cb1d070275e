//! Any text as a clause: it is read or refused at a place inside the text, and never panics.
#![no_main]

use clause::{Formula, Names, SourceKind, SourceName};
use device::Span;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    // One line for each key, as `key = text`.
    let fields: Vec<(&str, &str)> = text
        .lines()
        .filter_map(|line| line.split_once(" = "))
        .collect();
    let names = names();
    match Formula::parse(&fields, &names, Span::from_seconds(1)) {
        Ok(formula) => {
            assert_eq!(
                Formula::parse(&fields, &names, Span::from_seconds(1)).as_ref(),
                Ok(&formula),
                "the same text is the same clause"
            );
            let _ = formula.describe(&names);
        }
        Err(error) => {
            assert!(!error.message.is_empty(), "an error says what is wrong");
            let inside = error.span == (0..0)
                || fields
                    .iter()
                    .any(|(key, text)| *key == error.key && text.get(error.span.clone()).is_some());
            assert!(inside, "an error points into the text: {error:?}");
        }
    }
});

fn names() -> Names {
    let source = |name: &str, kind, buttons: &[&str]| SourceName {
        name: name.to_owned(),
        kind,
        buttons: buttons.iter().map(|&button| button.to_owned()).collect(),
    };
    Names {
        sources: vec![
            source("card-reader", SourceKind::Card, &[]),
            source("photo-sensor", SourceKind::Daylight, &[]),
            source("time-clock", SourceKind::Clock, &[]),
            source(
                "wall-button",
                SourceKind::Switch,
                &["up", "down", "film scene"],
            ),
            source("wall-sensor", SourceKind::Occupancy { sound: true }, &[]),
        ],
        outputs: vec!["desk-lights".to_owned(), "desk-outlet".to_owned()],
        groups: Vec::new(),
    }
}
