//! Broken scenario files: each is refused where it is broken, with a hint, and nothing panics.

mod random;
mod readme;

use super::*;
use crate::room_file::{RoomFile, read_room};
use crate::{Diagnostic, Severity, Sources};

const ROOM: &str = include_str!("tests/room.toml");
const SEQUENCE: &str = include_str!("tests/sequence.toml");
const BROKEN: &str = include_str!("tests/broken.txt");

pub(super) fn room(sources: &mut Sources) -> RoomFile {
    let room = sources.add("room.toml", ROOM);
    let sequence = sources.add("sequence.toml", SEQUENCE);
    let (room, found) = read_room(sources, room, Some(sequence), None);
    let said = found.iter().map(|one| one.render(sources, false));
    let said: Vec<String> = said.collect();
    room.unwrap_or_else(|| panic!("{}", said.join("\n")))
}

/// What is found in a scenario file.
fn found(text: &str) -> (Sources, Vec<Diagnostic>, usize) {
    let mut sources = Sources::new();
    let room = room(&mut sources);
    let file = sources.add("scenario.toml", text);
    let loaded = load(&mut sources, file, &room);
    (sources, loaded.diagnostics, loaded.scripts.len())
}

/// A whole scenario around one row, or around rows and keys of its own.
fn whole(case: &str) -> String {
    if case.contains("rows = ") || case.contains("rows=") || case.contains("#whole") {
        return case.to_owned();
    }
    format!("title = \"x\"\nstart = \"2026-03-02 08:00\"\nrows = [\n{case}\n]\n")
}

/// One broken file: its text with `«…»` around what must be pointed at, and parts of what must
/// be said.
struct Case {
    text: String,
    pointed: Option<String>,
    message: String,
    hint: String,
}

/// The cases stand in one file: a text, a line `! message`, a line `? hint`, an empty line.
fn cases() -> Vec<Case> {
    let mut cases = Vec::new();
    for block in BROKEN
        .split("\n\n")
        .map(str::trim)
        .filter(|it| !it.is_empty())
    {
        let (mut text, mut message, mut hint) = (Vec::new(), "", "");
        for line in block.lines().filter(|line| !line.starts_with("##")) {
            if let Some(said) = line.strip_prefix('!') {
                message = said.trim();
            } else if let Some(said) = line.strip_prefix("? ") {
                hint = said;
            } else {
                text.push(line);
            }
        }
        if text.is_empty() {
            continue;
        }
        let text = text.join("\n");
        let pointed = text.find('«').map(|at| {
            let rest = &text[at + '«'.len_utf8()..];
            rest[..rest.find('»').unwrap()].to_owned()
        });
        cases.push(Case {
            text: whole(&text.replace(['«', '»'], "")),
            pointed,
            message: message.to_owned(),
            hint: hint.to_owned(),
        });
    }
    cases
}

#[test]
fn there_are_many_broken_files() {
    let count = cases().len();
    assert!(count >= 150, "{count}");
}

#[test]
fn every_broken_file_is_refused_where_it_is_broken_with_a_hint() {
    let mut wrong = Vec::new();
    for case in cases() {
        let (sources, diagnostics, scripts) = found(&case.text);
        let errors = diagnostics
            .iter()
            .filter(|one| one.severity == Severity::Error);
        let errors: Vec<&Diagnostic> = errors.collect();
        let fits = |one: &&&Diagnostic| {
            one.message.contains(&case.message)
                && one.hint.contains(&case.hint)
                && case.pointed.as_deref().is_none_or(|it| {
                    sources.text(one.place).trim_matches('"') == it.trim_matches('"')
                })
        };
        if scripts > 0 || !errors.iter().any(|one| fits(&one)) {
            let said: Vec<String> = diagnostics
                .iter()
                .map(|it| it.render(&sources, false))
                .collect();
            wrong.push(format!("{}\n{}", case.text, said.join("\n")));
        }
    }
    assert!(
        wrong.is_empty(),
        "{} wrong:\n{}",
        wrong.len(),
        wrong.join("\n\n")
    );
}

#[test]
fn every_message_about_a_broken_file_is_written_down() {
    let mut all = String::new();
    for case in cases() {
        let (sources, diagnostics, _) = found(&case.text);
        for one in &diagnostics {
            all.push_str(&one.render(&sources, false));
            all.push_str("\n\n");
        }
    }
    insta::assert_snapshot!(all);
}
