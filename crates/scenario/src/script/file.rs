//! Reads a scenario file into rows that have not met a room yet.
//!
//! Invariant: every text keeps its place in the file, so that whatever is found wrong later can
//! be shown where it stands.

use std::collections::BTreeMap;

use toml::de::{DeTable, DeValue};

use super::table::SCENARIO;
use crate::diagnostic::nearest;
use crate::keys::{self, Located, Section};
use crate::{Diagnostic, FileId, Place, Sources};

/// A scenario file as it stands.
#[derive(Clone, Debug)]
pub(crate) struct ScenarioFile {
    /// Its keys.
    pub(crate) section: Section,
    /// Its own rows.
    pub(crate) rows: Vec<Row>,
    /// The rows of its scripts, by name.
    pub(crate) scripts: BTreeMap<String, Vec<Row>>,
    /// The rows of its curves, by name.
    pub(crate) curves: BTreeMap<String, Vec<Vec<Located<String>>>>,
}

/// One row.
#[derive(Clone, Debug)]
pub(crate) struct Row {
    /// The whole row.
    pub(crate) place: Place,
    /// The first column.
    pub(crate) time: Located<String>,
    /// The second: one point or several.
    pub(crate) points: Vec<Located<String>>,
    /// The third: what happens or must be so, one thing or several.
    pub(crate) phrases: Vec<Located<String>>,
    /// A fourth column that says `fails`.
    pub(crate) fails: bool,
    /// A fourth column that gives parameters to an included script.
    pub(crate) gives: BTreeMap<String, Located<String>>,
}

/// Whether the text of a file is a scenario that is run by itself: it has a start or rows, and is
/// not a script that only others include.
pub(crate) fn is_scenario(text: &str) -> bool {
    let (table, _) = DeTable::parse_recoverable(text);
    let table = table.get_ref();
    table.contains_key("start") || (table.contains_key("rows") && !table.contains_key("parameters"))
}

/// Whether the text of a file is a script that scenarios include.
pub(crate) fn is_script(text: &str) -> bool {
    let (table, _) = DeTable::parse_recoverable(text);
    let table = table.get_ref();
    table.contains_key("rows") && table.contains_key("parameters")
}

/// Reads a file; what is wrong with its form is added to `diagnostics`.
pub(crate) fn read(
    sources: &Sources,
    file: FileId,
    diagnostics: &mut Vec<Diagnostic>,
) -> Option<ScenarioFile> {
    let table = match keys::parse(sources, file) {
        Ok(table) => table,
        Err(diagnostic) => {
            diagnostics.push(*diagnostic);
            return None;
        }
    };
    let mut reader = keys::Reader::new(sources, file, &SCENARIO);
    let section = reader.section(&SCENARIO, table.get_ref(), Place::new(file, 0..0));
    diagnostics.append(&mut reader.diagnostics);
    let mut rows = RowReader { file, diagnostics };
    let table = table.get_ref();
    Some(ScenarioFile {
        section,
        rows: rows.rows(table, Place::new(file, 0..0)),
        scripts: rows.each(table, "scripts", RowReader::rows),
        curves: rows.each(table, "curves", RowReader::curve),
    })
}

/// Reads rows and collects what is wrong with them.
struct RowReader<'a> {
    file: FileId,
    diagnostics: &'a mut Vec<Diagnostic>,
}

impl RowReader<'_> {
    /// What `read` gives for each named table under `key`.
    fn each<T>(
        &mut self,
        table: &DeTable<'_>,
        key: &str,
        read: fn(&mut Self, &DeTable<'_>, Place) -> T,
    ) -> BTreeMap<String, T> {
        let mut all = BTreeMap::new();
        let Some(DeValue::Table(named)) = table.get(key).map(|value| value.get_ref()) else {
            return all;
        };
        for (name, value) in named.iter() {
            if let DeValue::Table(inner) = value.get_ref() {
                let place = Place::new(self.file, name.span());
                all.insert(name.get_ref().to_string(), read(self, inner, place));
            }
        }
        all
    }

    fn array<'t, 'v>(
        &mut self,
        table: &'t DeTable<'v>,
        place: Place,
    ) -> Option<&'t toml::de::DeArray<'v>> {
        match table
            .get("rows")
            .map(|value| (value.get_ref(), value.span()))
        {
            Some((DeValue::Array(rows), _)) => Some(rows),
            Some((other, span)) => {
                self.push(
                    "wrong type",
                    Place::new(self.file, span),
                    format!("rows is {} here", keys::kind(other)),
                    ROW_FORM,
                );
                None
            }
            None => {
                self.push("missing key", place, "`rows` is missing", ROW_FORM);
                None
            }
        }
    }

    fn rows(&mut self, table: &DeTable<'_>, place: Place) -> Vec<Row> {
        let Some(array) = self.array(table, place) else {
            return Vec::new();
        };
        let mut rows = Vec::new();
        for value in array.iter() {
            let place = Place::new(self.file, value.span());
            match value.get_ref() {
                DeValue::Array(columns) => rows.extend(self.row(columns, place)),
                other => self.push(
                    "row",
                    place,
                    format!("a row is a list of three texts, not {}", keys::kind(other)),
                    ROW_FORM,
                ),
            }
        }
        rows
    }

    fn row(&mut self, columns: &toml::de::DeArray<'_>, place: Place) -> Option<Row> {
        let count = columns.len();
        if !(3..=4).contains(&count) {
            let hint = if count > 4 {
                "close each row with a bracket and a comma: [\"08:00\", \"wall-sensor\", \"motion\"],"
            } else {
                ROW_FORM
            };
            let columns = if count == 1 { "column" } else { "columns" };
            self.push(
                "row",
                place,
                format!(
                    "a row has three columns: time, point and what; this one has {count} {columns}"
                ),
                hint,
            );
            return None;
        }
        let mut iter = columns.iter();
        let time = self.one(iter.next()?, "the time")?;
        let points = self.many(iter.next()?, "the point");
        let phrases = self.many(iter.next()?, "what happens or must be so");
        let mut row = Row {
            place,
            time,
            points: points?,
            phrases: phrases?,
            fails: false,
            gives: BTreeMap::new(),
        };
        if let Some(fourth) = iter.next() {
            self.fourth(&mut row, fourth)?;
        }
        Some(row)
    }

    fn fourth(&mut self, row: &mut Row, value: &toml::Spanned<DeValue<'_>>) -> Option<()> {
        let place = Place::new(self.file, value.span());
        match value.get_ref() {
            DeValue::String(text) if text.trim() == "fails" => row.fails = true,
            DeValue::Table(table) => {
                for (name, value) in table.iter() {
                    let text = self.one(value, name.get_ref())?;
                    row.gives.insert(name.get_ref().to_string(), text);
                }
            }
            DeValue::String(text) => {
                let hint = match nearest(text, ["fails"]) {
                    Some(_) => "did you mean `\"fails\"`?".to_owned(),
                    None => FOURTH.to_owned(),
                };
                self.push(
                    "row",
                    place,
                    format!("`{text}` cannot be a fourth column"),
                    hint,
                );
                return None;
            }
            other => {
                let message = format!("the fourth column is {}", keys::kind(other));
                self.push("row", place, message, FOURTH);
                return None;
            }
        }
        Some(())
    }

    fn curve(&mut self, table: &DeTable<'_>, place: Place) -> Vec<Vec<Located<String>>> {
        let Some(array) = self.array(table, place) else {
            return Vec::new();
        };
        let mut rows = Vec::new();
        for value in array.iter() {
            let place = Place::new(self.file, value.span());
            let row = self.many(value, "a row of a curve").unwrap_or_default();
            if row.len() == 2 {
                rows.push(row);
            } else {
                self.push(
                    "row",
                    place,
                    "a row of a curve has two columns: time and illuminance",
                    "write [\"06:00\", \"0 lx\"]",
                );
            }
        }
        rows
    }

    fn one(&mut self, value: &toml::Spanned<DeValue<'_>>, what: &str) -> Option<Located<String>> {
        let place = Place::new(self.file, value.span());
        match value.get_ref() {
            DeValue::String(text) => Some(Located {
                value: text.to_string(),
                place,
            }),
            other => {
                let message = format!("{what} is {} here", keys::kind(other));
                self.push("row", place, message, "write a text in quotes: \"08:00\"");
                None
            }
        }
    }

    /// One text or a list of texts.
    fn many(
        &mut self,
        value: &toml::Spanned<DeValue<'_>>,
        what: &str,
    ) -> Option<Vec<Located<String>>> {
        let DeValue::Array(values) = value.get_ref() else {
            return self.one(value, what).map(|one| vec![one]);
        };
        if values.is_empty() {
            let place = Place::new(self.file, value.span());
            self.push("row", place, format!("{what} is an empty list"), ROW_FORM);
            return None;
        }
        values.iter().map(|value| self.one(value, what)).collect()
    }

    fn push(
        &mut self,
        rule: &'static str,
        place: Place,
        message: impl Into<String>,
        hint: impl Into<String>,
    ) {
        self.diagnostics
            .push(Diagnostic::error(rule, place, message, hint));
    }
}

const ROW_FORM: &str = "write rows = [[\"08:00\", \"wall-sensor\", \"motion\"], …]";

const FOURTH: &str =
    "a fourth column is `\"fails\"`, or `{ delay = \"5 min\" }` for an included script";
