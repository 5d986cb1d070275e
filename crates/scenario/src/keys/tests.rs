//! Files read by key tables, and what is said of files that are wrong.

use std::fmt::Write as _;

use super::*;
use crate::room_file::{ROOM, SITE};
use crate::sequence_file::SEQUENCE;

const ROOTS: [&Table; 3] = [&ROOM, &SITE, &SEQUENCE];

fn every_key(table: &'static Table, found: &mut Vec<(&'static Table, &'static Key)>) {
    if found.iter().any(|(known, _)| std::ptr::eq(*known, table)) {
        return;
    }
    for key in table.keys {
        found.push((table, key));
        inner(&key.value, found);
    }
}

fn inner(value: &'static Value, found: &mut Vec<(&'static Table, &'static Key)>) {
    match value {
        Value::Table(table) | Value::Named(table) | Value::Many(table) => every_key(table, found),
        Value::List(value)
        | Value::OneOrMany(value)
        | Value::Map(value)
        | Value::Maps(_, value) => {
            inner(value, found);
        }
        _ => {}
    }
}

#[test]
fn every_default_can_be_read() {
    for root in ROOTS {
        let mut found = Vec::new();
        every_key(root, &mut found);
        for (table, key) in found {
            if let Need::Default(text) = key.need {
                let item = parse_text(&key.value, text);
                assert!(item.is_ok(), "{} {}: {item:?}", table.what, key.name);
            }
        }
    }
}

#[test]
fn every_key_is_documented_and_every_example_can_be_read() {
    for root in ROOTS {
        let mut found = Vec::new();
        every_key(root, &mut found);
        assert!(found.len() > 10 || root.what == "a sequence");
        for (table, key) in found {
            assert!(key.says.ends_with('.'), "{} {}", table.what, key.name);
            let example = reference::example(&key.value);
            if let Some(text) = example
                .strip_prefix('"')
                .and_then(|text| text.strip_suffix('"'))
            {
                let item = parse_text(&key.value, text);
                assert!(item.is_ok(), "{} {}: {item:?}", table.what, key.name);
            }
        }
    }
}

#[test]
fn a_key_that_depends_on_a_word_names_words_that_exist() {
    for root in ROOTS {
        let mut found = Vec::new();
        every_key(root, &mut found);
        for (table, key) in found {
            if key.only.is_empty() {
                continue;
            }
            let Some(Value::Word(words)) = table.key(table.by).map(|key| &key.value) else {
                panic!("{}: nothing decides about {}", table.what, key.name);
            };
            for word in key.only {
                assert!(words.contains(word), "{} {}: {word}", table.what, key.name);
            }
        }
    }
}

/// The tables between the marks of README.md are generated; `UPDATE_README=1 cargo test -p
/// scenario` writes them.
#[test]
fn the_readme_says_what_the_key_tables_say() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../README.md");
    let old = std::fs::read_to_string(path).unwrap();
    let mut new = old.clone();
    let site = reference_of_top(&SITE);
    for (file, said) in [
        ("room.toml", reference(&ROOM)),
        // What stands within is the same as in a room, and is said there.
        ("site.toml", site),
        ("sequence.toml", reference(&SEQUENCE)),
        ("check", crate::check::rules_reference()),
    ] {
        let begin = format!("<!-- reference of {file} -->\n");
        let from = new.find(&begin).expect("the mark stands in README.md") + begin.len();
        let to = from
            + new[from..]
                .find("<!-- end of reference -->")
                .expect("its end too");
        let mut tables = String::new();
        let _ = write!(tables, "\n{said}\n");
        new.replace_range(from..to, &tables);
    }
    if std::env::var_os("UPDATE_README").is_some() {
        std::fs::write(path, &new).unwrap();
    } else {
        assert!(
            old == new,
            "README.md is out of date: UPDATE_README=1 cargo test -p scenario"
        );
    }
}
