//! JSON Schemas (draft 2020-12) of the files, for editors.
//!
//! They are made from the key tables that read the files, so they cannot disagree about keys.
//! A schema knows less than the reader: names are not looked up, and spans are only seen to have
//! units. Invariant: a file that reads without an error is valid under its schema.

use std::collections::BTreeMap;

use serde_json::{Map, Value as Json, json};

use crate::keys::{Key, Need, Table, Value};
use crate::room_file::{ROOM, SITE};
use crate::script::SCENARIO;
use crate::sequence_file::SEQUENCE;

/// The kinds of file that have a schema.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum FileKind {
    /// `room.toml`.
    Room,
    /// `sequence.toml`.
    Sequence,
    /// Any other file beside them.
    Scenario,
    /// `site.toml`.
    Site,
}

impl FileKind {
    /// All kinds, by name.
    pub const ALL: [(&'static str, Self); 4] = [
        ("room", Self::Room),
        ("scenario", Self::Scenario),
        ("sequence", Self::Sequence),
        ("site", Self::Site),
    ];

    const fn table(self) -> &'static Table {
        match self {
            Self::Room => &ROOM,
            Self::Sequence => &SEQUENCE,
            Self::Scenario => &SCENARIO,
            Self::Site => &SITE,
        }
    }
}

/// The schema of a kind of file.
#[must_use]
pub fn schema(kind: FileKind) -> Json {
    let mut definitions = BTreeMap::new();
    let root = kind.table();
    let mut schema = table(root, &mut definitions);
    schema.insert(
        "$schema".to_owned(),
        json!("https://json-schema.org/draft/2020-12/schema"),
    );
    schema.insert("title".to_owned(), json!(root.what));
    schema.insert("$defs".to_owned(), json!(definitions));
    Json::Object(schema)
}

type Definitions = BTreeMap<String, Json>;

fn table(table: &'static Table, definitions: &mut Definitions) -> Map<String, Json> {
    let mut properties = Map::new();
    let mut required = Vec::new();
    for key in table.keys {
        properties.insert(key.name.to_owned(), property(key, definitions));
        if matches!(key.need, Need::Required) && key.only.is_empty() {
            required.push(key.name);
        }
    }
    let mut schema = Map::new();
    schema.insert("type".to_owned(), json!("object"));
    schema.insert("description".to_owned(), json!(table.says));
    schema.insert("properties".to_owned(), Json::Object(properties));
    schema.insert("additionalProperties".to_owned(), json!(false));
    if !required.is_empty() {
        schema.insert("required".to_owned(), json!(required));
    }
    let conditions = conditions(table);
    if !conditions.is_empty() {
        schema.insert("allOf".to_owned(), json!(conditions));
    }
    schema
}

/// For each word of the deciding key: the keys that mean nothing with it.
fn conditions(table: &Table) -> Vec<Json> {
    let Some(Value::Word(words)) = table.key(table.by).map(|key| &key.value) else {
        return Vec::new();
    };
    let condition = |word: &&str| {
        let unfit = |key: &&Key| !key.only.is_empty() && !key.only.contains(word);
        let forbidden: Map<String, Json> = (table.keys.iter())
            .filter(unfit)
            .map(|key| (key.name.to_owned(), json!(false)))
            .collect();
        let by = table.by;
        (!forbidden.is_empty()).then(|| {
            json!({
                "if": { "properties": { by: { "const": word } }, "required": [by] },
                "then": { "properties": forbidden },
            })
        })
    };
    words.iter().filter_map(condition).collect()
}

fn property(key: &'static Key, definitions: &mut Definitions) -> Json {
    let mut schema = value(&key.value, definitions);
    let without = match key.need {
        Need::Required => String::new(),
        Need::Default(text) | Need::Otherwise(text) => format!(" Without it: {text}."),
    };
    if let Json::Object(schema) = &mut schema {
        schema.insert(
            "description".to_owned(),
            json!(format!("{}{without}", key.says)),
        );
        if let Need::Default(text) = key.need {
            let default = match key.value {
                Value::YesNo => json!(text == "true"),
                Value::Count(..) => json!(text.parse::<u64>().unwrap_or(0)),
                _ => json!(text),
            };
            schema.insert("default".to_owned(), default);
        }
    }
    schema
}

fn value(value: &'static Value, definitions: &mut Definitions) -> Json {
    match value {
        Value::YesNo => json!({ "type": "boolean" }),
        Value::Count(least, most) => {
            json!({ "type": "integer", "minimum": least, "maximum": most })
        }
        Value::Table(inner) => reference(inner, definitions),
        Value::Named(inner) => {
            let members = reference(inner, definitions);
            json!({
                "type": "object",
                "propertyNames": { "pattern": NAME },
                "additionalProperties": members,
            })
        }
        Value::Many(inner) => {
            let members = reference(inner, definitions);
            json!({ "type": "array", "items": members })
        }
        Value::Map(inner) => {
            let members = self::value(inner, definitions);
            json!({ "type": "object", "additionalProperties": members })
        }
        Value::Maps(_, inner) => {
            let members = self::value(inner, definitions);
            json!({
                "type": "object",
                "propertyNames": { "pattern": NAME },
                "additionalProperties": { "type": "object", "additionalProperties": members },
            })
        }
        Value::List(inner) => {
            let members = self::value(inner, definitions);
            json!({ "type": "array", "items": members })
        }
        // A pattern binds texts only and items bind lists only, so one schema serves for both
        // and editors can say what is wrong with a member.
        Value::OneOrMany(inner) => {
            let members = self::value(inner, definitions);
            // An enum would bind the list as well.
            let mut schema = match pattern(inner) {
                Some(pattern) => json!({ "pattern": pattern }),
                None => json!({}),
            };
            if let Json::Object(schema) = &mut schema {
                schema.insert("type".to_owned(), json!(["string", "array"]));
                schema.insert("items".to_owned(), members);
            }
            schema
        }
        Value::Rows => json!({
            "type": "array",
            // Several points, or several things that must be so, are a list within the row.
            "items": {
                "type": "array",
                "items": { "type": ["string", "array"], "items": { "type": "string" } },
            },
        }),
        Value::Word(words) => json!({ "type": "string", "enum": words }),
        text => match pattern(text) {
            Some(pattern) => json!({ "type": "string", "pattern": pattern }),
            None => json!({ "type": "string" }),
        },
    }
}

const NAME: &str = "^[a-z][a-z0-9-]*$";

/// What a text looks like; `None`: anything.
fn pattern(value: &Value) -> Option<String> {
    const NUMBER: &str = r"[0-9][0-9 ]*(\.[0-9]+)?";
    let quantity = |units: &str| format!(r"{NUMBER} *({units})");
    let spans = format!(
        r"({}[ ]*)+",
        quantity("ms|milliseconds?|s|sec|seconds?|min|minutes?|h|hours?|days?")
    );
    let level = quantity("%|percent|per cent");
    let level = format!("off|full|{level}");
    let body = match value {
        Value::Name => return Some(NAME.to_owned()),
        Value::Span(..) => spans,
        Value::SpanOr(_, _, word) => format!("{word}|{spans}"),
        Value::Level(..) => level,
        Value::LevelOr(_, _, word) => format!("{word}|{level}"),
        Value::Share(..) => quantity("%|percent|per cent"),
        Value::PointsOr(word) => format!("{word}|{}", quantity("points?|%")),
        Value::Light(..) => quantity("lx|lux|fc|foot-candles?"),
        Value::Power(_) => quantity("W|kW|watts?"),
        Value::Voltage(..) => quantity("V|volts?"),
        Value::Rating => quantity("A|mA|amps?|W|kW|watts?"),
        Value::Length(_) => format!(
            r"({}[ ]*)+",
            quantity("mm|cm|m|metres?|meters?|in|inch|inches|ft|foot|feet")
        ),
        Value::Word(words) => words.join("|").replace('.', r"\."),
        Value::Hours => format!("closed|{TIME} to {TIME}"),
        Value::Dates => format!("{DATE}( to {DATE})?"),
        Value::DayTime => format!("(({}) )?{TIME}", crate::keys::DAYS.join("|")),
        _ => return None,
    };
    Some(format!(r"^\s*({body})\s*$"))
}

const TIME: &str = r"[0-9]{1,2}:[0-9]{2}(:[0-9]{2}(\.[0-9]{1,3})?)?";
const DATE: &str = "[0-9]{4}-[0-9]{2}-[0-9]{2}";

/// A reference to the schema of a table, which is made once.
fn reference(inner: &'static Table, definitions: &mut Definitions) -> Json {
    let name = inner
        .what
        .trim_start_matches("a ")
        .trim_start_matches("an ")
        .replace(' ', "-");
    if !definitions.contains_key(&name) {
        definitions.insert(name.clone(), Json::Null);
        let schema = table(inner, definitions);
        definitions.insert(name.clone(), Json::Object(schema));
    }
    json!({ "$ref": format!("#/$defs/{name}") })
}

#[cfg(test)]
mod tests;
