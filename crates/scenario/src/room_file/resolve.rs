//! What the names in a file stand for.

use device::switch;

use super::model::{Model, Thing};
use crate::diagnostic::{nearest, one_of};
use crate::keys::Located;
use crate::{Diagnostic, Place};

/// Some things of one kind, by their places in the model.
#[derive(Clone, Debug, Eq, PartialEq)]
pub(crate) struct Found {
    /// Their places.
    pub(crate) members: Vec<usize>,
    /// Whether the text named all copies of one thing.
    pub(crate) copies: bool,
}

/// A source, or some of its buttons.
#[derive(Clone, Debug, Eq, PartialEq)]
pub(crate) struct From {
    /// The sources.
    pub(crate) sources: Found,
    /// What stood after the slash: a button or a pair of them; empty: no button in particular.
    pub(crate) button: String,
}

/// Looks for things by their full name, or by the name of all their copies.
pub(crate) fn things(things: &[Thing], prefix: &str, text: &str) -> Option<Found> {
    for full in [format!("{prefix}{text}"), text.to_owned()] {
        if let Some(at) = things.iter().position(|thing| thing.name == full) {
            return Some(Found {
                members: vec![at],
                copies: false,
            });
        }
        let members: Vec<usize> = places(things, |thing| thing.base == full);
        if !members.is_empty() {
            return Some(Found {
                members,
                copies: true,
            });
        }
    }
    None
}

/// Outputs by name, by group or by relay.
pub(crate) fn outputs(
    model: &Model,
    part: usize,
    name: &Located<String>,
) -> Result<Found, Box<Diagnostic>> {
    let prefix = &model.parts[part].prefix;
    let text = name.value.as_str();
    if let Some(found) = things(&model.outputs, prefix, text) {
        return Ok(found);
    }
    for key in ["group", "relay"] {
        let members = places(&model.outputs, |thing| {
            let value = thing.section.text(key);
            let thing_prefix = &model.parts[thing.part].prefix;
            value.is_some_and(|value| {
                let full = format!("{thing_prefix}{}", value.value);
                full == format!("{prefix}{text}") || full == text
            })
        });
        if !members.is_empty() {
            return Ok(Found {
                members,
                copies: false,
            });
        }
    }
    if things(&model.sources, prefix, text).is_some() {
        return Err(Box::new(Diagnostic::error(
            "unknown name",
            name.place,
            format!("`{text}` is a source, and an output is meant here"),
            "name an output, a group or a relay",
        )));
    }
    let known = &model.outputs;
    Err(Box::new(unknown("output", known, prefix, text, name.place)))
}

/// A source, with or without a button after a slash.
pub(crate) fn source(
    model: &Model,
    part: usize,
    name: &Located<String>,
) -> Result<From, Box<Diagnostic>> {
    let prefix = &model.parts[part].prefix;
    let text = name.value.as_str();
    if let Some(sources) = things(&model.sources, prefix, text) {
        return Ok(From {
            sources,
            button: String::new(),
        });
    }
    if let Some((unit, button)) = text.rsplit_once('/')
        && let Some(sources) = things(&model.sources, prefix, unit)
    {
        return Ok(From {
            sources,
            button: button.to_owned(),
        });
    }
    if things(&model.outputs, prefix, text).is_some() {
        return Err(Box::new(Diagnostic::error(
            "unknown name",
            name.place,
            format!("`{text}` is an output, and a source is meant here"),
            "name what reports: a sensor, a switch, a card reader, a clock or a signal",
        )));
    }
    let known = &model.sources;
    Err(Box::new(unknown("source", known, prefix, text, name.place)))
}

/// An error about a name that nothing has.
pub(crate) fn unknown(
    what: &str,
    known: &[Thing],
    prefix: &str,
    text: &str,
    place: Place,
) -> Diagnostic {
    let short = |thing: &Thing| {
        let name = thing.name.as_str();
        name.strip_prefix(prefix).unwrap_or(name).to_owned()
    };
    let names: Vec<String> = known.iter().map(short).collect();
    let hint = match nearest(text, names.iter().map(String::as_str)) {
        Some(near) => format!("did you mean `{near}`?"),
        None if names.is_empty() => format!("the file has no {what} yet: add [{what}s.{text}]"),
        None if names.len() > 12 => format!("add [{what}s.{text}], or name one of those there are"),
        None => format!("known are {}", one_of(names.iter().map(String::as_str))),
    };
    Diagnostic::error(
        "unknown name",
        place,
        format!("there is no {what} called `{text}`"),
        hint,
    )
}

/// The buttons of a unit: their names, what each is for, and the scene that it recalls.
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub(crate) struct Buttons {
    /// Their names, by number.
    pub(crate) names: Vec<String>,
    /// What each is for.
    pub(crate) kinds: Vec<switch::Button>,
    /// Scene buttons: which scene, and where that stands.
    pub(crate) scenes: Vec<(u8, Located<String>)>,
}

impl Buttons {
    /// Reads the `buttons` of a wall unit.
    pub(crate) fn read(thing: &Thing, diagnostics: &mut Vec<Diagnostic>) -> Self {
        let mut buttons = Self::default();
        let given = thing.section.texts("buttons");
        if given.is_empty() {
            if let Some(place) = thing
                .section
                .given("buttons")
                .map(|entry| entry.value.place)
            {
                diagnostics.push(Diagnostic::error(
                    "value",
                    place,
                    "a switch without a button",
                    "write buttons = \"up/down\" or buttons = \"single\"",
                ));
            } else {
                buttons.push("up", switch::Button::Up);
                buttons.push("down", switch::Button::Down);
            }
            return buttons;
        }
        for text in given {
            buttons.read_one(&text, diagnostics);
        }
        if buttons.names.len() > 8 {
            diagnostics.push(Diagnostic::error(
                "out of range",
                thing.section.place_of("buttons"),
                format!("a unit of {} buttons", buttons.names.len()),
                "a unit has 1 to 8 buttons, and an up/down pair is two: make it two units",
            ));
        }
        buttons
    }

    /// The numbers of the buttons that a text after a slash selects; empty text: all that
    /// recall no scene.
    pub(crate) fn select(&self, text: &str) -> Vec<u8> {
        let chosen = |(_, (name, kind)): &(u8, (&String, &switch::Button))| match text {
            "" => **kind != switch::Button::Scene,
            _ => {
                let pair = name.strip_prefix(text);
                name.as_str() == text || pair.is_some_and(|rest| matches!(rest, " up" | " down"))
            }
        };
        let numbered = (0..=u8::MAX).zip(self.names.iter().zip(&self.kinds));
        numbered.filter(chosen).map(|(number, _)| number).collect()
    }

    /// What may stand after the slash, for hints.
    pub(crate) fn choices(&self) -> Vec<String> {
        let mut choices: Vec<String> = Vec::new();
        for (name, kind) in self.names.iter().zip(&self.kinds) {
            let short = name
                .strip_suffix(" up")
                .or_else(|| name.strip_suffix(" down"))
                .unwrap_or(name);
            if *kind != switch::Button::Scene && !choices.iter().any(|choice| choice == short) {
                choices.push(short.to_owned());
            }
        }
        choices
    }

    fn push(&mut self, name: &str, kind: switch::Button) {
        self.names.push(name.to_owned());
        self.kinds.push(kind);
    }

    fn read_one(&mut self, text: &Located<String>, diagnostics: &mut Vec<Diagnostic>) {
        let words: Vec<&str> = text.value.split_whitespace().collect();
        let (name, what) = match words.as_slice() {
            [what] => ("", *what),
            [name, what] => (*name, *what),
            _ => ("", ""),
        };
        if !name.is_empty()
            && let Err(error) = crate::words::name(name)
        {
            diagnostics.push(Diagnostic::error(
                "value",
                text.place,
                error.message,
                error.hint,
            ));
            return;
        }
        let before = self.names.len();
        match (name, what) {
            ("", "up/down") => {
                self.push("up", switch::Button::Up);
                self.push("down", switch::Button::Down);
            }
            (name, "up/down") => {
                self.push(&format!("{name} up"), switch::Button::Up);
                self.push(&format!("{name} down"), switch::Button::Down);
            }
            ("", "single") => self.push("single", switch::Button::Single),
            (name, "single") => self.push(name, switch::Button::Single),
            (name, "scene") if !name.is_empty() => {
                let number = u8::try_from(self.names.len()).unwrap_or(u8::MAX);
                let scene = Located {
                    value: name.to_owned(),
                    place: text.place,
                };
                self.scenes.push((number, scene));
                self.push(name, switch::Button::Scene);
            }
            _ => diagnostics.push(Diagnostic::error(
                "value",
                text.place,
                format!("`{}` is not a button", text.value),
                match text
                    .value
                    .trim()
                    .replace([' ', '-', '+', '&'], "/")
                    .as_str()
                {
                    "up" | "down" | "up/down" | "up/and/down" | "down/up" => PAIR,
                    _ => BUTTONS,
                },
            )),
        }
        let twice = |name: &String| self.names[..before].contains(name);
        if let Some(name) = self.names[before..].iter().find(|name| twice(name)) {
            diagnostics.push(Diagnostic::error(
                "name taken twice",
                text.place,
                format!("two buttons of the unit are called `{name}`"),
                "give each button or pair its own name: \"zone-a up/down\", \"zone-b up/down\"",
            ));
        }
    }
}

fn places(things: &[Thing], mut wanted: impl FnMut(&Thing) -> bool) -> Vec<usize> {
    let numbered = things.iter().enumerate();
    numbered
        .filter(|(_, thing)| wanted(thing))
        .map(|(at, _)| at)
        .collect()
}

const PAIR: &str = "write \"up/down\": one word for the two halves of a button";

const BUTTONS: &str =
    "write \"up/down\", \"single\", \"zone-a up/down\", \"zone-a single\" or \"film scene\"";
