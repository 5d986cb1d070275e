//! The file reference: key tables as Markdown for the README, and the words for values.

use std::fmt::Write as _;

use super::{Key, Need, Table, Value};

/// The reference of one file kind: its own keys, then each table within it.
#[must_use]
pub fn reference(root: &'static Table) -> String {
    let mut text = String::new();
    let mut done = Vec::new();
    section(root, &mut text, &mut done);
    text
}

/// The reference of the top of a file, for a kind whose inner tables are those of another.
#[must_use]
pub fn reference_of_top(root: &'static Table) -> String {
    let mut text = String::new();
    keys_of(root, &mut text);
    text
}

/// An example of what a key takes, as it is written in TOML.
pub(crate) fn example(value: &Value) -> String {
    match value {
        Value::Text => "\"a sentence\"".to_owned(),
        Value::Name | Value::Reference => "\"wall-sensor\"".to_owned(),
        Value::YesNo => "true".to_owned(),
        Value::Count(least, _) => least.to_string(),
        Value::Span(least, most) | Value::SpanOr(least, most, _) => {
            let common = device::Span::from_minutes(15);
            let fits = (*least..=*most).contains(&common);
            format!("\"{}\"", if fits { common } else { *most })
        }
        Value::Level(..) | Value::LevelOr(..) => "\"50 %\"".to_owned(),
        Value::Share(..) => "\"2 %\"".to_owned(),
        Value::PointsOr(_) => "\"15 points\"".to_owned(),
        Value::Light(..) => "\"500 lx\"".to_owned(),
        Value::Power(_) => "\"96 W\"".to_owned(),
        Value::Voltage(..) => "\"120 V\"".to_owned(),
        Value::Rating => "\"11.5 A\"".to_owned(),
        Value::Length(_) => "\"2.4 m\"".to_owned(),
        Value::Word(words) => format!("\"{}\"", words.first().unwrap_or(&"")),
        Value::Hours => "\"08:00 to 18:00\"".to_owned(),
        Value::Dates => "\"2026-12-25\"".to_owned(),
        Value::DayTime => "\"22:00\"".to_owned(),
        Value::Zone => "\"America/New_York\"".to_owned(),
        Value::List(value) => format!("[{}]", example(value)),
        Value::OneOrMany(value) => example(value),
        Value::Table(table) => match table.keys.first() {
            Some(key) => format!("{{ {} = {} }}", key.name, example(&key.value)),
            None => "{}".to_owned(),
        },
        Value::Named(_) | Value::Many(_) | Value::Maps(..) => "…".to_owned(),
        Value::Rows => "[[\"08:00\", \"wall-sensor\", \"motion\"]]".to_owned(),
        Value::Map(value) => format!("{{ desk-lights = {} }}", example(value)),
    }
}

/// Words as a file writes them: `"relay", "receptacle" or "dry contact"`.
pub(crate) fn quoted(words: &[&str]) -> String {
    let quoted: Vec<String> = words.iter().map(|word| format!("\"{word}\"")).collect();
    crate::diagnostic::one_of(quoted.iter().map(String::as_str))
}

/// What a key takes, in words.
pub(crate) fn takes(value: &Value) -> String {
    let bounds = |what: &str, least: &str, most: &str| format!("{what}, {least} to {most}");
    match value {
        Value::Text => "a text".to_owned(),
        Value::Name => "a name".to_owned(),
        Value::Reference => "a name, or `name/part`".to_owned(),
        Value::YesNo => "true or false".to_owned(),
        Value::Count(least, most) => {
            bounds("a whole number", &least.to_string(), &most.to_string())
        }
        Value::Span(least, most) => bounds("a span", &least.to_string(), &most.to_string()),
        Value::SpanOr(least, most, word) => {
            let span = bounds("a span", &least.to_string(), &most.to_string());
            format!("{span}, or \"{word}\"")
        }
        Value::Level(least, most) => bounds("a level", &least.to_string(), &most.to_string()),
        Value::LevelOr(least, most, word) => {
            let level = bounds("a level", &least.to_string(), &most.to_string());
            format!("{level}, or \"{word}\"")
        }
        Value::Share(least, most) => {
            let shown =
                |share: u32| device::Level::from_hundredths(u16::try_from(share).unwrap_or(10_000));
            bounds(
                "a share",
                &shown(*least).to_string(),
                &shown(*most).to_string(),
            )
        }
        Value::PointsOr(word) => format!("points, 0 to 100, or \"{word}\""),
        Value::Light(least, most) => {
            bounds("an illuminance", &least.to_string(), &most.to_string())
        }
        Value::Power(most) => bounds("a power", "0 W", &format!("{} kW", most.0 / 1_000_000)),
        Value::Voltage(least, most) => bounds(
            "a voltage",
            &format!("{} V", least.0 / 1_000),
            &format!("{} V", most.0 / 1_000),
        ),
        Value::Rating => "a current or a power".to_owned(),
        Value::Length(most) => bounds("a length", "0 m", &format!("{} m", most.0 / 1_000)),
        Value::Word(words) => quoted(words),
        Value::Hours => "\"08:00 to 18:00\" or \"closed\"".to_owned(),
        Value::Dates => "a date, or \"first to last\"".to_owned(),
        Value::DayTime => "a time of day, or a day and a time".to_owned(),
        Value::Zone => "an IANA time zone".to_owned(),
        Value::List(value) => format!("a list: {}", takes(value)),
        Value::OneOrMany(value) => format!("{}; or a list", takes(value)),
        Value::Table(table) | Value::Named(table) | Value::Many(table) => match table.header {
            "" => "a table".to_owned(),
            header => format!("tables `{header}`"),
        },
        Value::Maps(header, _) => format!("tables `{header}`"),
        Value::Rows => "rows, each a list of three texts".to_owned(),
        Value::Map(value) => format!("for each name {}", takes(value)),
    }
}

fn section(table: &'static Table, text: &mut String, done: &mut Vec<*const Table>) {
    if done.contains(&std::ptr::from_ref(table)) {
        return;
    }
    done.push(std::ptr::from_ref(table));
    if !table.header.is_empty() {
        let _ = writeln!(text, "\n#### `{}`\n", table.header);
    }
    keys_of(table, text);
    for key in table.keys {
        inner(&key.value, text, done);
    }
}

fn keys_of(table: &'static Table, text: &mut String) {
    let _ = writeln!(text, "{}\n", table.says);
    let _ = writeln!(text, "| key | takes | without it | what it does |");
    let _ = writeln!(text, "|---|---|---|---|");
    for key in table.keys {
        let _ = writeln!(text, "{}", row(table, key));
    }
}

fn inner(value: &'static Value, text: &mut String, done: &mut Vec<*const Table>) {
    match value {
        Value::Table(table) | Value::Named(table) | Value::Many(table) => {
            section(table, text, done);
        }
        Value::List(value)
        | Value::OneOrMany(value)
        | Value::Map(value)
        | Value::Maps(_, value) => {
            inner(value, text, done);
        }
        _ => {}
    }
}

fn row(table: &Table, key: &Key) -> String {
    let without = match key.need {
        Need::Required => "must be given".to_owned(),
        Need::Default(text) => text.to_owned(),
        Need::Otherwise(words) => words.to_owned(),
    };
    let only = if key.only.is_empty() {
        String::new()
    } else {
        format!(" *Only with {} {}.*", table.by, quoted(key.only))
    };
    format!(
        "| `{}` | {} | {without} | {}{only} |",
        key.name,
        takes(&key.value),
        key.says
    )
}
