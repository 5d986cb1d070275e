//! Settings that can be turned while the room runs, and the room's file with what was turned.
//!
//! Invariant: the file that is written says the room as it is now, and says it in the file's own
//! words: comments, order and blank lines stay.

use scenario::Place;
use scenario::keys::{Key, Need, Value};
use scenario::room_file::{RoomFile, read_room};
use scenario::script::phrase::{Deed, Phrase};
use serde::Serialize;
use toml_edit::{ArrayOfTables, DocumentMut, Item, TableLike};

use crate::{Refusal, Session};

/// A setting as the page shows it.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct Knob {
    /// What names it: point and key.
    path: String,
    point: String,
    key: &'static str,
    /// Its value, as the file or the last change says it; `null` where neither does and the
    /// hint says what holds then.
    value: Option<String>,
    hint: String,
    choices: Option<Vec<&'static str>>,
    /// Whether it was changed in this session.
    changed: bool,
}

/// A setting that was changed on site.
#[derive(Clone, Debug)]
struct Turned {
    point: String,
    key: String,
    value: String,
}

#[cfg(test)]
impl Knob {
    /// What names it.
    pub(crate) fn path(&self) -> &str {
        &self.path
    }
}

impl Session {
    /// Everything that can be set while the room runs.
    pub(crate) fn knobs(&self) -> Vec<Knob> {
        let turned = self.turned();
        let knobs = self.stage.room.knobs().into_iter();
        knobs.map(|knob| self.knob(&knob, &turned)).collect()
    }

    /// Turns a setting, as a row of the session.
    pub(crate) fn set(&mut self, path: &str, value: &str) -> Result<(), Refusal> {
        let knobs = self.stage.room.knobs();
        let paths = || knobs.iter().map(|knob| path_of(&knob.point, knob.key));
        let Some(place) = paths().position(|known| known == path) else {
            let known: Vec<String> = paths().collect();
            let near = scenario::diagnostic::nearest(path, known.iter().map(String::as_str));
            let hint = near.map_or_else(
                || "write a point of the room and a key of it: `wall-sensor.time-delay`".to_owned(),
                |near| format!("did you mean `{near}`?"),
            );
            return Err(Refusal::new(format!("there is no setting `{path}`"), hint));
        };
        let knob = &knobs[place];
        self.act(&knob.point, &format!("{} = {value}", knob.key.name))
    }

    /// The file of the room with the settings of the present moment.
    pub(crate) fn export(&self) -> Result<String, Refusal> {
        if self.stage.is_site {
            return Err(Refusal::new(
                "a site has no file that says everything of its rooms",
                "open one room of it",
            ));
        }
        let text = self.stage.sources.file(self.stage.file).text();
        let read = text.parse::<DocumentMut>();
        let mut document =
            read.map_err(|error| Refusal::new(error.to_string(), "check the room"))?;
        for turned in self.turned() {
            write(&mut document, &self.stage.room, &turned)?;
        }
        let text = document.to_string();
        self.check_export(&text)?;
        Ok(text)
    }

    /// Whether a file says the room as it is now.
    fn check_export(&self, text: &str) -> Result<(), Refusal> {
        let mut sources = scenario::Sources::clone(&self.stage.sources);
        let file = sources.add("room.toml", text);
        let (room, _) = read_room(&sources, file, None, self.stage.site);
        let now = self.simulation.plan();
        let same = room.is_some_and(|room| {
            let mut sources = room.plan.sources.iter().zip(&now.sources);
            let mut controllers = room.plan.controllers.iter().zip(&now.controllers);
            sources.all(|(one, two)| {
                one.name == two.name && (one.settings == two.settings || is_clock(&one.settings))
            }) && controllers.all(|(one, two)| one == two)
        });
        match same {
            true => Ok(()),
            false => Err(Refusal::new(
                "room.toml cannot say these settings",
                "links that were taught, or a setting that a list of links shares, have to be \
                 written by hand",
            )),
        }
    }

    fn knob(&self, knob: &scenario::room_file::Knob, turned: &[Turned]) -> Knob {
        let mut changes = turned.iter().rev();
        let change = changes
            .find(|it| it.key == knob.key.name && self.stage.room.means(&it.point, &knob.point));
        let given = knob.given.map(|place| self.given(place));
        let (default, otherwise) = match knob.key.need {
            Need::Default(text) => (Some(text.to_owned()), None),
            Need::Otherwise(text) => (None, Some(text)),
            Need::Required => (None, None),
        };
        let mut hint = knob.key.says.to_owned();
        if let Some(otherwise) = otherwise {
            hint.push_str(&format!(" Without it: {otherwise}."));
        }
        Knob {
            path: path_of(&knob.point, knob.key),
            point: knob.point.clone(),
            key: knob.key.name,
            changed: change.is_some(),
            value: change.map(|it| it.value.clone()).or(given).or(default),
            hint,
            choices: choices(&knob.key.value),
        }
    }

    /// A value as the file writes it, without its quotes.
    fn given(&self, place: Place) -> String {
        self.stage.sources.text(place).trim_matches('"').to_owned()
    }

    /// What was changed up to the present moment, in order.
    fn turned(&self) -> Vec<Turned> {
        let rows = self.rows_so_far().iter();
        let turned = rows.filter_map(|row| match Phrase::read(&row.says) {
            Ok(Phrase::Deed(Deed::Setting { key, value })) => Some(Turned {
                point: row.point.to_string(),
                key,
                value,
            }),
            _ => None,
        });
        turned.collect()
    }
}

fn path_of(point: &str, key: &Key) -> String {
    format!("{point}.{}", key.name)
}

fn choices(value: &Value) -> Option<Vec<&'static str>> {
    match value {
        Value::Word(words) => Some(words.to_vec()),
        Value::YesNo => Some(vec!["true", "false"]),
        _ => None,
    }
}

fn is_clock(settings: &room::SourceSettings) -> bool {
    // Whether a clock starts in hours is a matter of the day, not of the file.
    matches!(settings, room::SourceSettings::Clock(_))
}

/// Writes one setting where the file says it, or would.
fn write(document: &mut DocumentMut, room: &RoomFile, turned: &Turned) -> Result<(), Refusal> {
    if turned.point.contains(" to ") {
        return write_link(document, room, turned);
    }
    for kind in ["outputs", "sources", "controllers", "relays"] {
        let things = document.get_mut(kind).and_then(Item::as_table_like_mut);
        let thing = things
            .and_then(|things| things.get_mut(&turned.point))
            .and_then(Item::as_table_like_mut);
        if let Some(thing) = thing {
            put(thing, &turned.key, &turned.value);
            return Ok(());
        }
    }
    if room
        .plan
        .controllers
        .iter()
        .any(|it| it.name == turned.point)
    {
        let controllers = document.entry("controllers").or_insert(toml_edit::table());
        if let Some(controllers) = controllers.as_table_mut() {
            controllers.set_implicit(true);
            let mut controller = toml_edit::Table::new();
            put(&mut controller, &turned.key, &turned.value);
            controllers.insert(&turned.point, Item::Table(controller));
            return Ok(());
        }
    }
    Err(Refusal::new(
        format!("room.toml does not name `{}` by itself", turned.point),
        "it is one of several copies, which the file sets all alike: write it by hand",
    ))
}

/// Writes a setting of a link. A link that is one of several in a list gets a table of its own.
fn write_link(document: &mut DocumentMut, room: &RoomFile, turned: &Turned) -> Result<(), Refusal> {
    let tied = |tie: &scenario::room_file::Tie| {
        let source = &room.plan.sources[tie.source].name;
        let output = &room.plan.outputs[tie.output].name;
        room.means(&turned.point, &format!("{source} to {output}"))
    };
    let mut numbers: Vec<usize> = (room.ties.iter().filter(|tie| tied(tie)))
        .filter_map(|tie| tie.link)
        .map(|(_, number)| number)
        .collect();
    numbers.sort_unstable();
    numbers.dedup();
    let links = document
        .get_mut("links")
        .and_then(Item::as_array_of_tables_mut);
    let Some(links) = links else {
        return Err(Refusal::new(
            "room.toml writes its links in another form",
            "write the setting by hand",
        ));
    };
    for number in numbers {
        let role = room
            .ties
            .iter()
            .find(|tie| tie.link.is_some_and(|it| it.1 == number));
        let takes = room.knobs().iter().any(|knob| {
            knob.key.name == turned.key
                && role.is_some_and(|tie| {
                    let source = &room.plan.sources[tie.source].name;
                    let output = &room.plan.outputs[tie.output].name;
                    knob.point == format!("{source} to {output}")
                })
        });
        if !takes {
            continue;
        }
        let of_link = || {
            room.ties
                .iter()
                .filter(|tie| tie.link.is_some_and(|it| it.1 == number))
        };
        if of_link().all(tied) {
            if let Some(link) = links.get_mut(number) {
                put(link, &turned.key, &turned.value);
            }
            continue;
        }
        split(links, number, turned)?;
    }
    Ok(())
}

/// Takes one output out of the list of a link, into a link of its own with the setting.
fn split(links: &mut ArrayOfTables, number: usize, turned: &Turned) -> Result<(), Refusal> {
    let by_hand = || {
        Refusal::new(
            format!(
                "`{}` is one of several links that room.toml writes as one",
                turned.point
            ),
            "write it by hand",
        )
    };
    let (from, to) = turned.point.split_once(" to ").ok_or_else(by_hand)?;
    let link = links.get_mut(number).ok_or_else(by_hand)?;
    let mut own = link.clone();
    let list = |key: &str, link: &toml_edit::Table| -> Vec<String> {
        match link.get(key).and_then(Item::as_value) {
            Some(toml_edit::Value::Array(list)) => list
                .iter()
                .filter_map(|it| it.as_str())
                .map(str::to_owned)
                .collect(),
            Some(toml_edit::Value::String(one)) => vec![one.value().clone()],
            _ => Vec::new(),
        }
    };
    let (froms, tos) = (list("from", link), list("to", link));
    let (key, name) = match (froms.as_slice(), tos.as_slice()) {
        ([_], [_, _, ..]) => ("to", to),
        ([_, _, ..], [_]) => ("from", from),
        _ => return Err(by_hand()),
    };
    let array = link
        .get_mut(key)
        .and_then(Item::as_array_mut)
        .ok_or_else(by_hand)?;
    let place = array
        .iter()
        .position(|it| it.as_str() == Some(name))
        .ok_or_else(by_hand)?;
    array.remove(place);
    own.insert(key, toml_edit::value(name));
    own.decor_mut().set_prefix("\n");
    put(&mut own, &turned.key, &turned.value);
    links.push(own);
    Ok(())
}

/// Puts a value under a key: where one stands already in its form, with what follows it.
fn put(table: &mut dyn TableLike, key: &str, value: &str) {
    let old = table.get(key).and_then(Item::as_value);
    let mut new = match (old, value) {
        (Some(toml_edit::Value::String(_)) | None, _) if !is_bare(value) => value.into(),
        (Some(toml_edit::Value::String(_)), _) => value.into(),
        (_, "true") => true.into(),
        (_, "false") => false.into(),
        _ => value
            .parse::<i64>()
            .map_or_else(|_| value.into(), toml_edit::Value::from),
    };
    if let Some(old) = old {
        *new.decor_mut() = old.decor().clone();
    }
    match table.get_mut(key) {
        Some(item) => *item = Item::Value(new),
        None => {
            table.insert(key, Item::Value(new));
        }
    }
}

/// Whether a value stands without quotes.
fn is_bare(value: &str) -> bool {
    matches!(value, "true" | "false") || value.parse::<i64>().is_ok()
}
