//! Broken rooms and sequences: each is refused where it is broken, with a hint, without a panic.

use std::fmt::Write as _;

use super::{Part, read_room, read_site};
use crate::keys::{Key, Need, Table, Value};
use crate::sequence_file::SEQUENCE;
use crate::{Diagnostic, Severity, Sources};

const ROOMS: &str = include_str!("tests/broken.txt");
const SEQUENCES: &str = include_str!("../sequence_file/broken.txt");

/// What stands before a case that is not a whole file. Its links are the cases' own.
const BASE: &str = "name = \"Test\"\n[outputs.desk]\ndrive = \"0-10 V\"\n[outputs.plain]\n\
drive = \"relay\"\n[sources.s1]\nkind = \"occupancy\"\n[sources.w1]\nkind = \"switch\"\n\
[sources.p1]\nkind = \"daylight\"\n[sources.c1]\nkind = \"clock\"\n[sources.k1]\nkind = \"card\"\n";

/// One broken file: its text with `«…»` around what must be pointed at, and parts of what must
/// be said.
struct Case {
    text: String,
    pointed: Option<String>,
    message: String,
    hint: String,
}

/// The cases of a corpus: a text, a line `! message`, perhaps a line `? hint`, an empty line.
fn cases(corpus: &str) -> Vec<Case> {
    let mut cases = Vec::new();
    for block in corpus.split("\n\n") {
        let mut case = Case {
            text: String::new(),
            pointed: None,
            message: String::new(),
            hint: String::new(),
        };
        for line in block.lines().filter(|line| !line.starts_with("##")) {
            if let Some(said) = line.strip_prefix('!') {
                said.trim().clone_into(&mut case.message);
            } else if let Some(said) = line.strip_prefix("? ") {
                said.trim().clone_into(&mut case.hint);
            } else {
                let _ = writeln!(case.text, "{line}");
            }
        }
        if case.text.trim().is_empty() {
            continue;
        }
        case.pointed = case.text.find('«').map(|at| {
            let rest = &case.text[at + '«'.len_utf8()..];
            rest[..rest.find('»').expect("a mark is closed")].to_owned()
        });
        case.text = case.text.replace(['«', '»'], "");
        cases.push(case);
    }
    cases
}

/// Reads a room, and a sequence for it if there is one.
fn read(room: &str, sequence: Option<&str>) -> (Sources, bool, Vec<Diagnostic>) {
    let mut sources = Sources::new();
    let file = sources.add("room.toml", room);
    let sequence = sequence.map(|text| sources.add("sequence.toml", text));
    let (room, diagnostics) = read_room(&sources, file, sequence, None);
    (sources, room.is_some(), diagnostics)
}

fn rendered(sources: &Sources, diagnostics: &[Diagnostic]) -> String {
    let mut text = String::new();
    for diagnostic in diagnostics {
        let _ = writeln!(text, "{}\n", diagnostic.render(sources, false));
    }
    text
}

/// What is wrong with the answer to a case; `None`: it is as it must be.
fn fault(case: &Case, sources: &Sources, usable: bool, found: &[Diagnostic]) -> Option<String> {
    let quoted = |text: &str| text.trim_matches('"').to_owned();
    let fits = |one: &Diagnostic| {
        one.severity == Severity::Error
            && one.message.contains(&case.message)
            && one.hint.contains(&case.hint)
            && case
                .pointed
                .as_ref()
                .is_none_or(|it| quoted(sources.text(one.place)) == quoted(it))
    };
    if !usable && found.iter().any(fits) {
        return None;
    }
    let said = rendered(sources, found);
    Some(format!(
        "{}! {}\n? {}\nbut: {said}",
        case.text, case.message, case.hint
    ))
}

fn whole_room(case: &Case) -> String {
    match case.text.strip_prefix("#whole\n") {
        Some(text) => text.to_owned(),
        None => format!("{BASE}{}", case.text),
    }
}

#[test]
fn every_broken_room_is_refused_where_it_is_broken_with_a_hint() {
    let cases = cases(ROOMS);
    assert!(cases.len() >= 200, "{}", cases.len());
    let mut faults = Vec::new();
    for case in &cases {
        let (sources, usable, found) = read(&whole_room(case), None);
        faults.extend(fault(case, &sources, usable, &found));
    }
    assert!(
        faults.is_empty(),
        "{} wrong:\n{}",
        faults.len(),
        faults.join("\n")
    );
}

#[test]
fn every_broken_sequence_is_refused_where_it_is_broken_with_a_hint() {
    let cases = cases(SEQUENCES);
    assert!(cases.len() >= 25, "{}", cases.len());
    let mut faults = Vec::new();
    for case in &cases {
        let (sources, usable, found) = read(BASE, Some(&case.text));
        faults.extend(fault(case, &sources, usable, &found));
    }
    assert!(
        faults.is_empty(),
        "{} wrong:\n{}",
        faults.len(),
        faults.join("\n")
    );
}

#[test]
fn every_message_about_a_broken_room_or_sequence_is_written_down() {
    let mut all = String::new();
    for case in cases(ROOMS) {
        let (sources, _, found) = read(&whole_room(&case), None);
        all.push_str(&rendered(&sources, &found));
    }
    for case in cases(SEQUENCES) {
        let (sources, _, found) = read(BASE, Some(&case.text));
        all.push_str(&rendered(&sources, &found));
    }
    insta::assert_snapshot!(all);
}

/// Values that are wrong for a key, whatever it takes of texts.
const WRONG: [&str; 7] = [
    "12345678901",
    "-1",
    "3.25",
    "2026-03-02",
    "\"\"",
    "\"no such thing, 7 parsecs\"",
    "[[\"a\"], [1]]",
];

/// The text around one key of a table, with `{}` where the key and its value go; `None` for
/// tables that hold only other tables.
fn around(table: &Table, word: &str) -> Option<String> {
    Some(match table.what {
        "a room" => format!("{{}}\n{}", BASE.replacen("name = \"Test\"\n", "", 1)),
        "an output" => format!("{BASE}[outputs.x1]\ndrive = \"{word}\"\n{{}}\n"),
        "egress" => format!("{BASE}[outputs.x1]\ndrive = \"0-10 V\"\negress = {{ {{}} }}\n"),
        "a source" => format!("{BASE}[sources.x1]\nkind = \"{word}\"\n{{}}\n"),
        "opening hours" => format!("{BASE}[sources.x1]\nkind = \"clock\"\nhours = {{ {{}} }}\n"),
        "a bus" => format!("{BASE}[bus]\n{{}}\n"),
        "a link" => {
            let from = match word {
                "auto-on" | "partial-on" | "manual-on" => "s1",
                "welcome" => "k1",
                "limit" => "p1",
                "button" => "w1",
                _ => "c1",
            };
            format!("{BASE}[[links]]\nfrom = \"{from}\"\nto = \"desk\"\nrole = \"{word}\"\n{{}}\n")
        }
        "a calibration reading" => {
            format!("{BASE}[[links]]\nfrom = \"p1\"\nto = \"desk\"\nnight = {{ {{}} }}\n")
        }
        "a relay" => format!("{BASE}[relays.x1]\n{{}}\n"),
        "a controller" => format!("{BASE}[controllers.x1]\n{{}}\n"),
        "a place" => format!("{BASE}[places.x1]\n{{}}\n"),
        "a person" => format!("{BASE}[people.x1]\n{{}}\n"),
        "a size" => format!("{BASE}[size]\n{{}}\n"),
        "a diffuser" => format!("{BASE}[diffusers.x1]\n{{}}\n"),
        _ => return None,
    })
}

fn every_key(table: &'static Table, found: &mut Vec<(&'static Table, &'static Key)>) {
    if found.iter().any(|(known, _)| std::ptr::eq(*known, table)) {
        return;
    }
    found.extend(table.keys.iter().map(|key| (table, key)));
    for key in table.keys {
        if let Value::Table(inner) | Value::Named(inner) | Value::Many(inner) = &key.value {
            every_key(inner, found);
        }
    }
}

/// A file for each key of each table and each kind of wrong value.
fn generated() -> Vec<(String, usize)> {
    let mut files = Vec::new();
    let mut keys = Vec::new();
    every_key(&super::ROOM, &mut keys);
    for (table, key) in keys {
        let words = match table.key(table.by).map(|key| &key.value) {
            Some(Value::Word(words)) => words,
            _ => &["" as &str; 1] as &[&str],
        };
        let word = key.only.first().or(words.first()).copied().unwrap_or("");
        let Some(around) = around(table, word) else {
            panic!("no file is made for {}", table.what);
        };
        for wrong in WRONG {
            let takes_any_text = matches!(
                key.value,
                Value::Text | Value::OneOrMany(Value::Text) | Value::Reference
            );
            // The deciding key stands in the file already, and so do outputs and sources.
            let stands = text_has_table(&around, key.name) || key.name == table.by;
            if (takes_any_text && wrong.starts_with('"')) || stands {
                continue;
            }
            let text = around.replace("{}", &format!("{} = {wrong}", key.name));
            let line = 1 + text[..text.find(&format!("{} = {wrong}", key.name)).unwrap_or(0)]
                .matches('\n')
                .count();
            files.push((text, line));
        }
    }
    files
}

fn text_has_table(text: &str, name: &str) -> bool {
    text.contains(&format!("[{name}.")) || text.contains(&format!("[[{name}]]"))
}

#[test]
fn every_key_refuses_what_it_does_not_take_on_its_own_line() {
    let files = generated();
    assert!(files.len() >= 300, "{}", files.len());
    for (text, line) in files {
        let (sources, usable, found) = read(&text, None);
        let here = found.iter().filter(|one| {
            let file = sources.file(one.place.file);
            one.severity == Severity::Error && file.line_column(one.place.start).0 == line
        });
        assert!(
            !usable && here.count() > 0,
            "{text}\n{}",
            rendered(&sources, &found)
        );
        for one in &found {
            assert!(!one.hint.is_empty() && !one.message.is_empty(), "{text}");
        }
    }
}

#[test]
fn every_key_that_is_misspelt_is_refused_with_the_right_one() {
    let mut keys = Vec::new();
    every_key(&super::ROOM, &mut keys);
    for (table, key) in keys {
        let Some(around) = around(table, key.only.first().copied().unwrap_or("relay")) else {
            continue;
        };
        let misspelt = format!("{}x", key.name);
        let (_, usable, found) = read(&around.replace("{}", &format!("{misspelt} = \"1\"")), None);
        assert!(!usable, "{misspelt}");
        let said = found
            .iter()
            .find(|one| one.message.ends_with(&format!("`{misspelt}`")));
        let said = said.unwrap_or_else(|| panic!("{misspelt}: {found:#?}"));
        // A very short name is too near to anything.
        if key.name.len() > 3 {
            assert_eq!(said.hint, format!("did you mean `{}`?", key.name));
        }
    }
}

#[test]
fn a_site_is_refused_where_it_is_broken() {
    let office = include_str!("tests/office.toml");
    let site = |text: &str| {
        let mut sources = Sources::new();
        let room = sources.add("office/room.toml", office);
        let file = sources.add("site.toml", text);
        let part = Part {
            folder: "office".to_owned(),
            room,
        };
        let (site, found) = read_site(&sources, file, &[part], None);
        assert!(site.is_none(), "{text}");
        let all: Vec<String> = found
            .iter()
            .map(|one| {
                format!(
                    "{} {}; {}",
                    sources.position(one.place),
                    one.message,
                    one.hint
                )
            })
            .collect();
        all.join("\n")
    };
    let air = "name = \"Annex\"\n[outputs.air]\ndrive = \"dry contact\"\n[[links]]\n";
    let said = site(&format!(
        "{air}from = \"office/wal-sensor\"\nto = \"air\"\nrole = \"auto-on\"\n"
    ));
    assert!(
        said.starts_with("site.toml:5:8 there is no source"),
        "{said}"
    );
    assert!(
        said.ends_with("did you mean `office/wall-sensor`?"),
        "{said}"
    );
    let said = site(&format!(
        "{air}from = \"wall-sensor\"\nto = \"air\"\nrole = \"auto-on\"\n"
    ));
    assert!(
        said.contains("there is no source called `wall-sensor`"),
        "{said}"
    );
    let said = site("[outputs.air]\ndrive = \"dry contact\"\n");
    assert!(said.contains("a site needs `name`"), "{said}");
    let said = site("name = \"Annex\"\n[places.desk]\n");
    assert!(said.contains("a site has no key `places`"), "{said}");
    let said = site("name = 1");
    assert!(said.contains("name is a number here"), "{said}");
    let said = site("name = ");
    assert!(said.contains("not TOML"), "{said}");
}

#[test]
fn the_required_keys_are_those_without_which_a_file_is_refused() {
    let mut keys = Vec::new();
    every_key(&super::ROOM, &mut keys);
    every_key(&SEQUENCE, &mut keys);
    let required = keys
        .iter()
        .filter(|(_, key)| matches!(key.need, Need::Required));
    let names: Vec<String> = required
        .map(|(table, key)| format!("{} {}", table.what, key.name))
        .collect();
    // A key that becomes required breaks the files of everybody: say so on purpose.
    assert_eq!(
        names,
        [
            "a room name",
            "a room outputs",
            "an output drive",
            "egress floor",
            "a source kind",
            "a link from",
            "a link to",
            "a calibration reading sensor",
            "a calibration reading task",
            "a size width",
            "a size depth",
            "a diffuser at",
            "a clause id",
            "a clause says",
        ]
    );
}
