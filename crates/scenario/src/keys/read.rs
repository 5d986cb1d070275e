//! A parsed TOML table, read by a key table: every value typed, every fault found.

use std::collections::BTreeMap;
use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::section::{Entry, Item, Located, NamedMap, NamedSection, Section};
use super::syntax::kind;
use super::{Key, Need, Table, Value, parse_text};
use crate::diagnostic::nearest;
use crate::words::{self, WordError};
use crate::{Diagnostic, FileId, Place, Sources};

/// Reads the tables of one file and collects what is wrong with them.
#[derive(Debug)]
pub struct Reader<'a> {
    sources: &'a Sources,
    file: FileId,
    /// The table of the whole file, to find where a misplaced key belongs.
    root: &'static Table,
    /// What was found wrong so far.
    pub diagnostics: Vec<Diagnostic>,
}

impl<'a> Reader<'a> {
    /// A reader for a file of this kind.
    #[must_use]
    pub fn new(sources: &'a Sources, file: FileId, root: &'static Table) -> Self {
        Self {
            sources,
            file,
            root,
            diagnostics: Vec::new(),
        }
    }

    /// Parses and reads the whole file; `None` when it is not TOML.
    pub fn read(&mut self) -> Option<Section> {
        match super::parse(self.sources, self.file) {
            Ok(table) => {
                let place = Place::new(self.file, 0..0);
                Some(self.section(self.root, table.get_ref(), place))
            }
            Err(diagnostic) => {
                self.diagnostics.push(*diagnostic);
                None
            }
        }
    }

    /// Reads one table that is named at `place`.
    pub fn section(
        &mut self,
        table: &'static Table,
        values: &DeTable<'_>,
        place: Place,
    ) -> Section {
        let mut section = Section::empty(table, place);
        for (name, value) in values.iter() {
            let key_place = self.place(name.span());
            let Some(key) = table.key(name.get_ref()) else {
                self.unknown_key(table, name.get_ref(), key_place);
                continue;
            };
            if let Some(value) = self.value(key, value, key_place) {
                section.entries.insert(
                    key.name,
                    Entry {
                        key: key_place,
                        value,
                    },
                );
            } else {
                section.refused.push(key.name);
            }
        }
        self.missing_keys(table, values, &section);
        if let Some(word) = section.deciding_word() {
            let misplaced = misplaced(self.root, &mut section, word);
            self.diagnostics.extend(misplaced);
        }
        section
    }

    fn value(
        &mut self,
        key: &Key,
        value: &Spanned<DeValue<'_>>,
        key_place: Place,
    ) -> Option<Located<Item>> {
        let place = self.place(value.span());
        let item = self.item(key.name, &key.value, value.get_ref(), place, key_place)?;
        Some(Located { value: item, place })
    }

    fn item(
        &mut self,
        name: &str,
        value: &Value,
        given: &DeValue<'_>,
        place: Place,
        key_place: Place,
    ) -> Option<Item> {
        match (value, given) {
            (Value::Table(table), DeValue::Table(values)) => {
                Some(Item::Table(self.section(table, values, key_place)))
            }
            (Value::Named(table), DeValue::Table(values)) => Some(self.named(table, values)),
            (Value::Map(value), DeValue::Table(values)) => {
                Some(Item::Map(self.map(name, value, values)))
            }
            (Value::Maps(header, value), DeValue::Table(values)) => {
                Some(self.maps(name, header, value, values))
            }
            (Value::Many(table), DeValue::Array(values)) => Some(self.many(table, values)),
            (Value::OneOrMany(value) | Value::List(value), DeValue::Array(values)) => {
                let mut list = Vec::new();
                for member in values.iter() {
                    let place = self.place(member.span());
                    if let Some(value) = self.item(name, value, member.get_ref(), place, place) {
                        list.push(Located { value, place });
                    }
                }
                Some(Item::List(list))
            }
            (Value::OneOrMany(one), _) => {
                let value = self.item(name, one, given, place, key_place)?;
                Some(Item::List(vec![Located { value, place }]))
            }
            (Value::Rows, _) => Some(Item::Rows),
            (Value::YesNo, DeValue::Boolean(yes)) => Some(Item::YesNo(*yes)),
            (Value::Count(..), DeValue::Integer(number)) => {
                self.parsed(name, value, &number.to_string(), place)
            }
            (Value::YesNo | Value::Count(..), DeValue::String(_)) => {
                self.wrong_type(name, value, given, place);
                None
            }
            (
                Value::Table(_)
                | Value::Named(_)
                | Value::Many(_)
                | Value::Map(_)
                | Value::Maps(..),
                _,
            ) => {
                self.wrong_type(name, value, given, place);
                None
            }
            (Value::List(_), _) => {
                self.wrong_type(name, value, given, place);
                None
            }
            (_, DeValue::String(text)) => self.parsed(name, value, text, place),
            _ => {
                self.wrong_type(name, value, given, place);
                None
            }
        }
    }

    fn named(&mut self, table: &'static Table, values: &DeTable<'_>) -> Item {
        let mut sections = Vec::new();
        for (name, value) in values.iter() {
            let place = self.place(name.span());
            let Some(name) = self.name(name) else {
                continue;
            };
            let DeValue::Table(values) = value.get_ref() else {
                self.not_a_table(&name, value.get_ref(), table.header);
                continue;
            };
            let section = self.section(table, values, place);
            sections.push(NamedSection { name, section });
        }
        sections.sort_by_key(|section| section.name.place);
        Item::Named(sections)
    }

    fn maps(&mut self, key: &str, header: &str, value: &Value, values: &DeTable<'_>) -> Item {
        let mut maps = Vec::new();
        for (name, given) in values.iter() {
            let Some(name) = self.name(name) else {
                continue;
            };
            let DeValue::Table(values) = given.get_ref() else {
                self.not_a_table(&name, given.get_ref(), header);
                continue;
            };
            let values = self.map(key, value, values);
            maps.push(NamedMap { name, values });
        }
        maps.sort_by_key(|map| map.name.place);
        Item::Maps(maps)
    }

    fn map(
        &mut self,
        key: &str,
        value: &Value,
        values: &DeTable<'_>,
    ) -> Vec<(Located<String>, Located<Item>)> {
        let mut map = Vec::new();
        for (name, given) in values.iter() {
            let place = self.place(given.span());
            let key_place = self.place(name.span());
            let item = self.item(key, value, given.get_ref(), place, key_place);
            // A name may be qualified here, so it is looked up rather than checked by its letters.
            let name = Located {
                value: name.get_ref().to_string(),
                place: key_place,
            };
            if let Some(item) = item {
                map.push((name, Located { value: item, place }));
            }
        }
        map.sort_by_key(|(name, _)| name.place);
        map
    }

    fn not_a_table(&mut self, name: &Located<String>, given: &DeValue<'_>, header: &str) {
        self.diagnostics.push(Diagnostic::error(
            "wrong type",
            name.place,
            format!("`{}` is {} here", name.value, kind(given)),
            format!("write its header: {}", header.replace("NAME", &name.value)),
        ));
    }

    fn many(&mut self, table: &'static Table, values: &toml::de::DeArray<'_>) -> Item {
        let mut sections = Vec::new();
        for value in values.iter() {
            let place = self.place(value.span());
            match value.get_ref() {
                DeValue::Table(values) => sections.push(self.section(table, values, place)),
                other => self.diagnostics.push(Diagnostic::error(
                    "wrong type",
                    place,
                    format!("{} is a table, not {}", table.what, kind(other)),
                    format!("write {} and its keys below", table.header),
                )),
            }
        }
        Item::Many(sections)
    }

    /// The name of a thing. One that is refused still stands for it, as it most likely will be
    /// called, so that nothing that names it is called unknown.
    fn name(&mut self, name: &Spanned<std::borrow::Cow<'_, str>>) -> Option<Located<String>> {
        let place = self.place(name.span());
        let value = match words::name(name.get_ref()) {
            Ok(value) => value.to_owned(),
            Err(error) => {
                self.word_error("name", name.get_ref(), place, error);
                words::nearest_name(name.get_ref())?
            }
        };
        Some(Located { value, place })
    }

    fn parsed(&mut self, name: &str, value: &Value, text: &str, place: Place) -> Option<Item> {
        match parse_text(value, text) {
            Ok(item) => Some(item),
            Err(error) => {
                let rule = if error.message.ends_with("is out of range") {
                    "out of range"
                } else {
                    "value"
                };
                let error = WordError {
                    message: format!("{name}: {}", error.message),
                    ..error
                };
                self.word_error(rule, text, place, error);
                None
            }
        }
    }

    fn word_error(&mut self, rule: &'static str, text: &str, place: Place, error: WordError) {
        let place = inside(self.sources, place, text, error.range);
        self.diagnostics
            .push(Diagnostic::error(rule, place, error.message, error.hint));
    }

    fn wrong_type(&mut self, name: &str, value: &Value, given: &DeValue<'_>, place: Place) {
        let mut example = super::reference::example(value);
        // A number without a unit is most likely meant in the usual one.
        if let (DeValue::Integer(_) | DeValue::Float(_), Some((_, unit))) =
            (given, example.split_once(' '))
        {
            let number = match given {
                // A share of one is meant in per cent.
                DeValue::Float(number) if unit.starts_with('%') => per_cent(&number.to_string()),
                DeValue::Float(number) => number.to_string(),
                DeValue::Integer(number) => number.to_string(),
                _ => String::new(),
            };
            let quantity =
                example.starts_with('"') && example[1..].starts_with(|c: char| c.is_ascii_digit());
            if quantity && !number.starts_with('-') {
                example = format!("\"{number} {unit}");
            }
        }
        let hint = match value {
            Value::Named(table) | Value::Many(table) => {
                format!(
                    "write {} on a line of its own, and its keys below",
                    table.header
                )
            }
            Value::Maps(header, _) => {
                format!("write {header} on a line of its own, and its values below")
            }
            Value::Table(_) | Value::Map(_) => format!("write {name} = {example}"),
            Value::YesNo => format!(
                "write true or false, without quotes: {name} = {}",
                yes(given)
            ),
            Value::Text if name == "buttons" => {
                "write what the buttons are for: buttons = \"up/down\"".to_owned()
            }
            Value::Text if matches!(given, DeValue::Datetime(_)) => {
                "put it in quotes: start = \"2026-03-02 08:00\"".replace("start", name)
            }
            _ => {
                let takes = super::reference::takes(value);
                format!("write {takes}: {name} = {example}")
            }
        };
        self.diagnostics.push(Diagnostic::error(
            "wrong type",
            place,
            format!("{name} is {} here", kind(given)),
            hint,
        ));
    }

    fn unknown_key(&mut self, table: &'static Table, name: &str, place: Place) {
        let what = table.what;
        let elsewhere = owners(self.root, name);
        let near = nearest(name, table.keys.iter().map(|key| key.name));
        let hint = match (super::meant::key(table, name), elsewhere.as_slice(), near) {
            (Some(near), ..) | (None, [], Some(near)) => format!("did you mean `{near}`?"),
            (None, [], None) if table.keys.is_empty() => "remove it".to_owned(),
            (None, [], None) => {
                let known = crate::diagnostic::all_of(table.keys.iter().map(|key| key.name));
                format!("the keys of {what} are {known}")
            }
            (None, owners, _) => {
                let headers =
                    crate::diagnostic::one_of(owners.iter().map(|owner| match owner.header {
                        "" => "the top of the file",
                        header => header,
                    }));
                format!("`{name}` belongs to {headers}")
            }
        };
        self.diagnostics.push(Diagnostic::error(
            "unknown key",
            place,
            format!("{what} has no key `{name}`"),
            hint,
        ));
    }

    /// A key that was given but could not be read is not missing: it has its own message.
    fn missing_keys(&mut self, table: &'static Table, values: &DeTable<'_>, section: &Section) {
        for key in table.keys {
            let given = values.iter().any(|(name, _)| name.get_ref() == key.name);
            if matches!(key.need, Need::Required) && !given && allowed(key, section) {
                let example = super::reference::example(&key.value);
                let hint = match &key.value {
                    Value::Named(table) | Value::Many(table) => {
                        format!("add {} and its keys", table.header)
                    }
                    _ => format!("add a line: {} = {example}", key.name),
                };
                self.diagnostics.push(Diagnostic::error(
                    "missing key",
                    section.place,
                    format!("{} needs `{}`: {}", table.what, key.name, lower(key.says)),
                    hint,
                ));
            }
        }
    }

    fn place(&self, range: Range<usize>) -> Place {
        Place::new(self.file, range)
    }
}

/// What somebody means who does not write true or false.
fn yes(given: &DeValue<'_>) -> bool {
    match given {
        DeValue::String(text) => !["false", "no", "off"].contains(&text.to_lowercase().as_str()),
        DeValue::Integer(number) => number.to_string() != "0",
        _ => true,
    }
}

/// Takes out the keys that make no sense with this word of the deciding key, and reports them.
pub fn misplaced(root: &'static Table, section: &mut Section, word: &str) -> Vec<Diagnostic> {
    let table = section.table;
    let mut diagnostics = Vec::new();
    for key in table.keys {
        if key.only.is_empty() || key.only.contains(&word) {
            continue;
        }
        let Some(entry) = section.entries.remove(key.name) else {
            continue;
        };
        let fitting = super::reference::quoted(key.only);
        let others: Vec<&str> = owners(root, key.name)
            .iter()
            .filter(|owner| !std::ptr::eq(**owner, table))
            .map(|owner| owner.header)
            .collect();
        let hint = if others.is_empty() {
            format!("remove it; it goes with {} = {fitting}", table.by)
        } else {
            let others = crate::diagnostic::one_of(others);
            format!(
                "remove it; it goes with {} = {fitting}, or into {others}",
                table.by
            )
        };
        let message = format!(
            "`{}` means nothing with {} = \"{word}\"",
            key.name, table.by
        );
        let mut diagnostic = Diagnostic::error("wrong place", entry.key, message, hint);
        if let Some(deciding) = section.entries.get(table.by) {
            diagnostic = diagnostic.related(deciding.value.place, "because of this");
        }
        diagnostics.push(diagnostic);
    }
    diagnostics
}

/// The place of a stretch of a text whose whole value stands at `place`.
///
/// A text with escapes cannot be mapped by counting, so it is pointed at as a whole.
#[must_use]
pub fn inside(sources: &Sources, place: Place, text: &str, range: Range<usize>) -> Place {
    let raw = sources.text(place);
    match raw.find(text) {
        Some(shift) if !text.is_empty() => {
            let start = place.start + shift;
            let end = start + range.end.min(text.len());
            Place::new(place.file, start + range.start.min(text.len())..end)
        }
        _ => place,
    }
}

fn allowed(key: &Key, section: &Section) -> bool {
    if key.only.is_empty() {
        return true;
    }
    // Without the deciding word nothing is out of place; its absence has its own message.
    match section.deciding_word() {
        Some(word) => key.only.contains(&word),
        None => !matches!(key.need, Need::Required),
    }
}

/// The tables of a file kind that have a key of this name.
fn owners(root: &'static Table, name: &str) -> Vec<&'static Table> {
    let mut tables = BTreeMap::new();
    collect(root, &mut tables);
    let mut owners: Vec<&'static Table> = tables
        .into_values()
        .filter(|table| table.key(name).is_some())
        .collect();
    owners.dedup_by_key(|table| table.header);
    owners
}

fn collect(table: &'static Table, tables: &mut BTreeMap<&'static str, &'static Table>) {
    if tables.insert(table.header, table).is_some() {
        return;
    }
    for key in table.keys {
        collect_value(&key.value, tables);
    }
}

fn collect_value(value: &'static Value, tables: &mut BTreeMap<&'static str, &'static Table>) {
    match value {
        Value::Table(table) | Value::Named(table) | Value::Many(table) => collect(table, tables),
        Value::List(value)
        | Value::OneOrMany(value)
        | Value::Map(value)
        | Value::Maps(_, value) => {
            collect_value(value, tables);
        }
        _ => {}
    }
}

fn lower(sentence: &str) -> String {
    let mut letters = sentence.trim_end_matches('.').chars();
    match letters.next() {
        Some(first) => first.to_lowercase().chain(letters).collect(),
        None => String::new(),
    }
}

/// A share of one as a number of per cent: `0.5` as `50`. What is more than one stays.
fn per_cent(number: &str) -> String {
    match number.parse::<f64>() {
        Ok(share) if share > 0.0 && share <= 1.0 => {
            format!("{}", (share * 10_000.0).round() / 100.0)
        }
        _ => number.to_owned(),
    }
}
