//! A setting that is changed on site: one key is read anew and the plan is made again.
//!
//! Invariant: a change never changes what there is: the same names, links and indices remain.

use room::{Plan, PlanController};

use super::model::OneLink;
use super::{Model, RoomFile, plan};
use crate::diagnostic::{any_error, nearest, one_of};
use crate::keys::{Entry, Key, Located, Section, Table, Value, parse_text};
use crate::words::WordError;
use crate::{Diagnostic, Place};

/// Why a setting cannot be changed.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct ChangeError {
    /// Whether the key is wrong, and not the value.
    pub key: bool,
    /// What is wrong, within the text of the key or of the value.
    pub error: WordError,
}

/// Something that can be set on site.
#[derive(Clone, Debug)]
pub struct Knob {
    /// A source, an output, a controller, or a link: `wall-sensor to desk-lights`.
    pub point: String,
    /// The key, with what it takes and what it does.
    pub key: &'static Key,
    /// Where its value stands; `None`: the file does not give it.
    pub given: Option<Place>,
}

impl RoomFile {
    /// Everything that can be set on site while the room runs, in the order of the files.
    #[must_use]
    pub fn knobs(&self) -> Vec<Knob> {
        let model = &self.model;
        let mut knobs = Vec::new();
        let mut of = |point: &str, section: &Section, word: Option<&str>| {
            let keys = section.table.keys.iter();
            for key in keys.filter(|key| settable(key, word) && !is_wiring(key)) {
                let known = |knob: &Knob| knob.point == point && knob.key.name == key.name;
                if !knobs.iter().any(known) {
                    knobs.push(Knob {
                        point: point.to_owned(),
                        key,
                        given: section.given(key.name).map(|entry| entry.value.place),
                    });
                }
            }
        };
        let things = [&model.sources, &model.outputs, &model.controllers];
        for thing in things.into_iter().flatten() {
            of(&thing.name, &thing.section, thing.section.deciding_word());
        }
        for tie in &self.ties {
            let section = tie.link.and_then(|(part, index)| {
                let links = model.parts.get(part)?.root.many("links");
                links.get(index)
            });
            if let Some(section) = section {
                let source = &model.sources[tie.source].name;
                let point = format!("{source} to {}", model.outputs[tie.output].name);
                of(&point, section, Some(tie.role_word));
            }
        }
        knobs
    }

    /// The room after `key` of `point` was set to `value` on site, as if the file said so. A
    /// point is a source, an output, a controller, or a link: `wall-sensor to desk-lights`.
    ///
    /// # Errors
    /// When there is no such key, or the value does not do.
    pub fn changed(&self, point: &str, key: &str, value: &str) -> Result<Self, ChangeError> {
        let (key, value) = (key.trim(), value.trim());
        let model = self.with_key(point, key, value)?;
        let mut diagnostics: Vec<Diagnostic> = Vec::new();
        let mut room = plan::lower(model, self.root, &mut diagnostics);
        if any_error(&diagnostics) {
            let first = diagnostics.swap_remove(0);
            return Err(ChangeError {
                key: false,
                error: WordError::whole(value, first.message, first.hint),
            });
        }
        room.plan.clauses.clone_from(&self.plan.clauses);
        room.assumptions.clone_from(&self.assumptions);
        room.sentences.clone_from(&self.sentences);
        room.halves.clone_from(&self.halves);
        room.daylight.clone_from(&self.daylight);
        if same_shape(&self.plan, &room.plan) {
            return Ok(room);
        }
        Err(wrong_key(
            key,
            format!("{key} changes what there is, and cannot be changed on site"),
            "change it in room.toml, or teach a link".to_owned(),
        ))
    }

    /// What the files say, with one key changed.
    fn with_key(&self, point: &str, key: &str, value: &str) -> Result<Model, ChangeError> {
        let mut model = self.model.clone();
        if let Some((from, to)) = point.split_once(" to ") {
            // Of several links between two points the key belongs to those whose role has it.
            let (mut taken, mut refused) = (false, None);
            for (one, role) in self.links_between(from.trim(), to.trim()) {
                let Some(mut section) = model.link(&one).cloned() else {
                    continue;
                };
                match set(&mut section, Some(role), key, value) {
                    Ok(()) => {
                        taken = true;
                        model.changed_links.insert(one, section);
                    }
                    Err(error) if error.key => refused = Some(error),
                    Err(error) => return Err(error),
                }
            }
            if let (Some(error), false) = (refused, taken) {
                return Err(error);
            }
        } else {
            self.list_controller(&mut model, point);
            let mut found = false;
            for thing in model.things_mut(point) {
                found = true;
                let word = thing.section.deciding_word();
                set(&mut thing.section, word, key, value)?;
            }
            if !found {
                return Err(wrong_key(
                    key,
                    format!("nothing is set at `{point}`"),
                    "name a source, an output, a controller or a link".to_owned(),
                ));
            }
        }
        Ok(model)
    }

    /// A listed controller has keys; the room's own, that is not listed, has none yet.
    fn list_controller(&self, model: &mut Model, point: &str) {
        let known = |controller: &PlanController| controller.name == point;
        if model.things_mut(point).next().is_some() || !self.plan.controllers.iter().any(known) {
            return;
        }
        let section = Section::empty(controller_table(), model.parts[0].root.place);
        model.controllers.push(super::Thing {
            name: point.to_owned(),
            base: point.to_owned(),
            copy: None,
            part: 0,
            place: section.place,
            section,
        });
        model.controllers.sort_by(|a, b| a.name.cmp(&b.name));
    }

    /// The links of the room that tie a source to an output, each with its role.
    fn links_between(&self, from: &str, to: &str) -> Vec<(OneLink, &'static str)> {
        let (unit, _) = from.split_once('/').unwrap_or((from, ""));
        let mut found = Vec::new();
        for tie in &self.ties {
            let source = &self.model.sources[tie.source];
            let output = &self.model.outputs[tie.output];
            let named = [from, unit].contains(&source.name.as_str()) || source.base == from;
            if named && (output.name == to || output.base == to) {
                found.extend(tie.one_link().map(|one| (one, tie.role_word)));
            }
        }
        found.sort_unstable();
        found.dedup();
        found
    }
}

fn set(
    section: &mut Section,
    word: Option<&'static str>,
    key: &str,
    value: &str,
) -> Result<(), ChangeError> {
    let table = section.table;
    let Some(known) = table.key(key).filter(|known| settable(known, word)) else {
        let keys: Vec<&str> = (table.keys.iter())
            .filter(|known| settable(known, word))
            .map(|known| known.name)
            .collect();
        let near = crate::keys::meant_key(table, key).filter(|near| keys.contains(near));
        let hint = match near.or_else(|| nearest(key, keys.iter().copied())) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("what can be set here: {}", one_of(keys)),
        };
        return Err(wrong_key(key, format!("`{key}` cannot be set here"), hint));
    };
    let text = value.trim_matches('"');
    let item = parse_text(&known.value, text).map_err(|error| ChangeError { key: false, error })?;
    let item = match known.value {
        Value::OneOrMany(_) | Value::List(_) => crate::keys::Item::List(vec![Located {
            value: item,
            place: section.place,
        }]),
        _ => item,
    };
    let place = section.place;
    let value = Located { value: item, place };
    section
        .entries
        .insert(known.name, Entry { key: place, value });
    Ok(())
}

/// Whether a key is a setting: something with a plain value that this kind of thing has, and
/// not what decides about the others.
fn settable(key: &Key, word: Option<&str>) -> bool {
    let fits = key.only.is_empty() || word.is_some_and(|word| key.only.contains(&word));
    let what_it_is = [
        "kind", "drive", "from", "to", "copies", "says", "at", "stored", "buttons",
    ];
    let plain = !matches!(
        key.value,
        Value::Table(_) | Value::Named(_) | Value::Many(_) | Value::Map(_) | Value::Maps(..)
    );
    fits && plain && !what_it_is.contains(&key.name)
}

/// Whether a key says how the room is built, or when its calendar opens: nobody turns that while
/// the room runs.
fn is_wiring(key: &Key) -> bool {
    const BUILT: [&str; 14] = [
        "battery",
        "bus",
        "closed-means",
        "controller",
        "daylight",
        "downstream",
        "group",
        "load",
        "load-kind",
        "rating",
        "relay",
        "rest",
        "senses",
        "table",
    ];
    let calendar = match key.value {
        Value::List(inner) | Value::OneOrMany(inner) => {
            matches!(inner, Value::Dates | Value::DayTime)
        }
        Value::Hours | Value::Dates | Value::DayTime => true,
        _ => false,
    };
    calendar || BUILT.contains(&key.name)
}

fn wrong_key(key: &str, message: String, hint: String) -> ChangeError {
    ChangeError {
        key: true,
        error: WordError::whole(key, message, hint),
    }
}

fn controller_table() -> &'static Table {
    match super::ROOM.key("controllers").map(|key| &key.value) {
        Some(Value::Named(table)) => table,
        _ => unreachable!("the key table of rooms lists controllers"),
    }
}

/// Whether two plans have the same things in the same places.
fn same_shape(old: &Plan, new: &Plan) -> bool {
    let links = |plan: &Plan| -> Vec<(u8, u8)> {
        let all = plan
            .controllers
            .iter()
            .flat_map(|controller| &controller.settings.links);
        all.map(|link| (link.heard, link.output)).collect()
    };
    let names = |plan: &Plan| -> Vec<String> {
        let sources = plan.sources.iter().map(|source| source.name.clone());
        let outputs = plan.outputs.iter().map(|output| output.name.clone());
        let controllers = plan
            .controllers
            .iter()
            .map(|controller| controller.name.clone());
        sources.chain(outputs).chain(controllers).collect()
    };
    links(old) == links(new) && names(old) == names(new)
}
