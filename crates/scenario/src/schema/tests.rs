//! Schemas against the key tables, and every shipped file against its schema.

use std::path::{Path, PathBuf};

use toml::de::{DeTable, DeValue};

use super::*;

#[test]
fn every_schema_is_of_the_draft_and_knows_every_key() {
    for (name, kind) in FileKind::ALL {
        let schema = schema(kind);
        assert_eq!(
            schema["$schema"],
            "https://json-schema.org/draft/2020-12/schema"
        );
        for key in kind.table().keys {
            let property = &schema["properties"][key.name];
            assert!(property["description"].is_string(), "{name}: {}", key.name);
        }
        let text = schema.to_string();
        assert!(!text.contains("null"), "{name}: a table was left out");
    }
}

#[test]
fn two_tables_do_not_share_a_definition() {
    // Definitions go by what messages call a table, so those names must differ.
    for (_, kind) in FileKind::ALL {
        let mut tables: BTreeMap<&str, &'static Table> = BTreeMap::new();
        let mut open = vec![kind.table()];
        while let Some(table) = open.pop() {
            if let Some(known) = tables.insert(table.what, table) {
                assert!(std::ptr::eq(known, table), "{}", table.what);
                continue;
            }
            for key in table.keys {
                if let Value::Table(inner) | Value::Named(inner) | Value::Many(inner) = &key.value {
                    open.push(inner);
                }
            }
        }
    }
}

#[test]
fn a_key_that_means_nothing_with_a_word_is_forbidden_with_it() {
    let schema = schema(FileKind::Room);
    let conditions = schema["$defs"]["source"]["allOf"].as_array().unwrap();
    let for_switch = conditions
        .iter()
        .find(|condition| condition["if"]["properties"]["kind"]["const"] == "switch")
        .unwrap();
    assert_eq!(for_switch["then"]["properties"]["time-delay"], false);
    assert!(for_switch["then"]["properties"].get("buttons").is_none());
}

/// A TOML value as JSON, as far as files of the repository have it.
fn as_json(value: &DeValue<'_>) -> Json {
    match value {
        DeValue::String(text) => json!(text.as_ref()),
        DeValue::Integer(number) => json!(number.to_string().parse::<i64>().unwrap()),
        DeValue::Boolean(yes) => json!(yes),
        DeValue::Array(list) => list.iter().map(|one| as_json(one.get_ref())).collect(),
        DeValue::Table(table) => table_as_json(table),
        other => panic!("no file has {other:?}"),
    }
}

fn table_as_json(table: &DeTable<'_>) -> Json {
    let entries = table.iter();
    Json::Object(
        entries
            .map(|(key, value)| (key.get_ref().to_string(), as_json(value.get_ref())))
            .collect(),
    )
}

/// Whether a value is of one of the types of a schema.
fn has_type(value: &Json, types: &Json) -> bool {
    let is = |name: &str| match name {
        "object" => value.is_object(),
        "array" => value.is_array(),
        "string" => value.is_string(),
        "boolean" => value.is_boolean(),
        "integer" => value.is_i64() || value.is_u64(),
        _ => panic!("{name}"),
    };
    match types {
        Json::String(name) => is(name),
        Json::Array(names) => names.iter().filter_map(Json::as_str).any(is),
        _ => true,
    }
}

/// What is wrong with a value: the words of the draft that the schemas use, without patterns.
fn faults(schema: &Json, root: &Json, value: &Json, at: &str) -> Vec<String> {
    if schema == &json!(false) {
        return vec![format!("{at}: nothing may stand here")];
    }
    if let Some(reference) = schema["$ref"].as_str() {
        let name = reference.trim_start_matches("#/$defs/");
        return faults(&root["$defs"][name], root, value, at);
    }
    let mut found = Vec::new();
    if !has_type(value, &schema["type"]) {
        found.push(format!("{at}: {value} is no {}", schema["type"]));
    }
    if schema["enum"]
        .as_array()
        .is_some_and(|known| !known.contains(value))
    {
        found.push(format!("{at}: {value} is none of {}", schema["enum"]));
    }
    if let (Some(number), Some(least), Some(most)) = (
        value.as_i64(),
        schema["minimum"].as_i64(),
        schema["maximum"].as_i64(),
    ) && !(least..=most).contains(&number)
    {
        found.push(format!("{at}: {number} is out of range"));
    }
    for (number, member) in value.as_array().into_iter().flatten().enumerate() {
        found.extend(faults(
            &schema["items"],
            root,
            member,
            &format!("{at}/{number}"),
        ));
    }
    for (key, member) in value.as_object().into_iter().flatten() {
        let at = format!("{at}/{key}");
        let inner = schema["properties"]
            .get(key)
            .unwrap_or(&schema["additionalProperties"]);
        found.extend(faults(inner, root, member, &at));
    }
    for key in schema["required"].as_array().into_iter().flatten() {
        if value.get(key.as_str().unwrap()).is_none() {
            found.push(format!("{at}: {key} is missing"));
        }
    }
    for condition in schema["allOf"].as_array().into_iter().flatten() {
        let (key, wanted) = condition["if"]["properties"]
            .as_object()
            .unwrap()
            .iter()
            .next()
            .unwrap();
        if value.get(key) == Some(&wanted["const"]) {
            found.extend(faults(&condition["then"], root, value, at));
        }
    }
    found
}

fn faults_of(kind: FileKind, text: &str) -> Vec<String> {
    let table = DeTable::parse(text).unwrap();
    let schema = schema(kind);
    faults(&schema, &schema, &table_as_json(table.get_ref()), "")
}

fn toml_files(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            toml_files(&path, found);
        } else if path.extension().is_some_and(|ending| ending == "toml") {
            found.push(path);
        }
    }
}

#[test]
fn every_shipped_file_is_valid_under_its_schema() {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut files = Vec::new();
    toml_files(&here.join("../../scenarios"), &mut files);
    toml_files(&here.join("src/starter"), &mut files);
    let everything = include_str!("../room_file/tests/everything.toml");
    assert_eq!(faults_of(FileKind::Room, everything), Vec::<String>::new());
    assert!(files.len() > 20, "{}", files.len());
    for path in files {
        let kind = match path.file_stem().and_then(|stem| stem.to_str()) {
            Some("room") => FileKind::Room,
            Some("sequence") => FileKind::Sequence,
            Some("site") => FileKind::Site,
            _ => FileKind::Scenario,
        };
        let text = std::fs::read_to_string(&path).unwrap();
        let found = faults_of(kind, &text);
        assert_eq!(found, Vec::<String>::new(), "{}", path.display());
    }
}

#[test]
fn a_schema_sees_wrong_types_words_numbers_and_misplaced_keys() {
    let found = faults_of(
        FileKind::Room,
        "colour = 1\n[outputs.a1]\ndrive = \"relais\"\nlow-trim = 5\ncopies = 65\n\
         [sources.s1]\nkind = \"switch\"\ntime-delay = \"15 min\"\n[[links]]\nfrom = 1\n",
    );
    assert_eq!(found.len(), 8, "{found:#?}");
}
