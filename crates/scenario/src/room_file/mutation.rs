//! Good files with random edits: whatever comes out is read, shown and checked without a panic.

use std::sync::Arc;

use proptest::collection::vec;
use proptest::prelude::*;

use super::read_room;
use crate::{Severity, Sources};

/// Good rooms with their sequences.
const GOOD: [(&str, &str); 3] = [
    (
        include_str!("../starter/office/room.toml"),
        include_str!("../starter/office/sequence.toml"),
    ),
    (
        include_str!("../starter/guest-room/room.toml"),
        include_str!("../starter/guest-room/sequence.toml"),
    ),
    (include_str!("tests/everything.toml"), ""),
];

/// Pieces that make trouble where they do not belong.
const PIECES: [&str; 24] = [
    "\"",
    "'",
    "[",
    "]",
    "[[",
    "{",
    "}",
    "=",
    "#",
    "\n",
    ",",
    ".",
    "é",
    "\u{1F600}",
    "\\u0041",
    "\"\"\"",
    "-1",
    "1e9",
    "99999999999 h",
    "0 %",
    "to",
    "copies = 64\n",
    "role = \"sweep\"\n",
    "[links]\n",
];

/// One edit of a text.
#[derive(Clone, Debug)]
enum Edit {
    /// Puts a piece at a place.
    Insert(usize, usize),
    /// Takes so many bytes away.
    Delete(usize, usize),
    /// Says a line a second time.
    Repeat(usize),
    /// Lets two lines change places.
    Swap(usize, usize),
    /// Puts the value of one line into another.
    Mix(usize, usize),
}

fn edit() -> impl Strategy<Value = Edit> {
    let place = 0..4_000_usize;
    prop_oneof![
        (place.clone(), 0..PIECES.len()).prop_map(|(at, piece)| Edit::Insert(at, piece)),
        (place.clone(), 1..30_usize).prop_map(|(at, count)| Edit::Delete(at, count)),
        place.clone().prop_map(Edit::Repeat),
        (place.clone(), place.clone()).prop_map(|(a, b)| Edit::Swap(a, b)),
        (place.clone(), place).prop_map(|(a, b)| Edit::Mix(a, b)),
    ]
}

fn edited(text: &str, edits: &[Edit]) -> String {
    let mut text = text.to_owned();
    for edit in edits {
        let boundary = |at: usize, text: &str| {
            let mut at = at % (text.len() + 1);
            while !text.is_char_boundary(at) {
                at -= 1;
            }
            at
        };
        match *edit {
            Edit::Insert(at, piece) => text.insert_str(boundary(at, &text), PIECES[piece]),
            Edit::Delete(at, count) => {
                let from = boundary(at, &text);
                let to = boundary((from + count).min(text.len()), &text).max(from);
                text.replace_range(from..to, "");
            }
            Edit::Repeat(_) | Edit::Swap(..) | Edit::Mix(..) => text = with_lines(&text, edit),
        }
    }
    text
}

fn with_lines(text: &str, edit: &Edit) -> String {
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    let count = lines.len().max(1);
    if lines.is_empty() {
        return String::new();
    }
    match *edit {
        Edit::Repeat(at) => {
            let line = lines[at % count].clone();
            lines.insert(at % count, line);
        }
        Edit::Swap(a, b) => lines.swap(a % count, b % count),
        Edit::Mix(a, b) => {
            let value = lines[a % count]
                .split_once('=')
                .map(|(_, value)| value.to_owned());
            let key = lines[b % count]
                .split_once('=')
                .map(|(key, _)| key.to_owned());
            if let (Some(value), Some(key)) = (value, key) {
                lines[b % count] = format!("{key}={value}");
            }
        }
        _ => {}
    }
    lines.join("\n")
}

/// Reads, shows and checks; a room that is given out can be built and run.
fn try_room(room: &str, sequence: &str) {
    let mut sources = Sources::new();
    let file = sources.add("room.toml", room);
    let sequence = sources.add("sequence.toml", sequence);
    let (found, mut diagnostics) = read_room(&sources, file, Some(sequence), None);
    if let Some(room) = &found {
        diagnostics.extend(crate::check::check(room));
        let mut simulation = sim::Simulation::<sim::Full>::new(
            Arc::new(room.plan.clone()),
            0,
            |source, listener| {
                room.quality
                    .get(&(source, listener))
                    .copied()
                    .unwrap_or_default()
            },
        );
        simulation.run_until(sim::Instant::from_ms(60_000));
    } else {
        assert!(
            diagnostics
                .iter()
                .any(|one| one.severity == Severity::Error)
        );
    }
    for one in &diagnostics {
        assert!(!one.hint.is_empty() && !one.message.is_empty());
        let shown = one.render(&sources, false);
        assert!(shown.contains(".toml:"), "{shown}");
        assert!(one.to_json(&sources)["at"]["line"].as_u64() > Some(0));
    }
}

#[test]
fn the_good_rooms_are_good() {
    for (room, sequence) in GOOD {
        let mut sources = Sources::new();
        let file = sources.add("room.toml", room);
        let sequence = sources.add("sequence.toml", sequence);
        let (found, diagnostics) = read_room(&sources, file, Some(sequence), None);
        let shown: Vec<String> = diagnostics
            .iter()
            .map(|d| d.render(&sources, false))
            .collect();
        assert!(found.is_some() && shown.is_empty(), "{}", shown.join("\n"));
        try_room(room, "");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn an_edited_file_never_makes_the_reader_panic(
        which in 0..GOOD.len(),
        edits in vec(edit(), 1..6),
        in_room in any::<bool>(),
    ) {
        let (room, sequence) = GOOD[which];
        if in_room {
            try_room(&edited(room, &edits), sequence);
        } else {
            try_room(room, &edited(sequence, &edits));
        }
    }

    #[test]
    fn any_text_never_makes_the_reader_panic(room in "\\PC{0,200}", sequence in "\\PC{0,200}") {
        try_room(&room, &sequence);
    }
}
