//! The names that a clause may use, and what they stand for.
//!
//! Invariant: an index is a place in the caller's sorted list and is never reordered here.

use alloc::format;
use alloc::string::String;
use alloc::vec::Vec;

use crate::words::DOERS;
use crate::{Doer, Point};

/// The names of one room, each list in the caller's own order.
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub struct Names {
    /// The sources; their place is the `u16` of [`Point::Source`].
    pub sources: Vec<SourceName>,
    /// The outputs; their place is the `u16` of [`Point::Output`].
    pub outputs: Vec<String>,
    /// Groups that clauses may speak of with `any of`, `all of` and `none of`.
    pub groups: Vec<Group>,
}

/// The name of a source and what clauses may say of it.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct SourceName {
    /// As written in the room's file.
    pub name: String,
    /// What kind of source it is.
    pub kind: SourceKind,
    /// Wall units: the names of the buttons by number (`up`, `zone-a up`, `film`).
    pub buttons: Vec<String>,
}

/// The kinds of source, as the language tells them apart.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum SourceKind {
    /// An occupancy sensor; `sound`: it has a microphone.
    Occupancy {
        /// Whether it senses sound.
        sound: bool,
    },
    /// A wall unit.
    Switch,
    /// A key-card reader.
    Card,
    /// A daylight sensor.
    Daylight,
    /// A time clock.
    Clock,
    /// Normal power of the lighting circuit.
    NormalPower,
    /// The fire alarm.
    FireAlarm,
    /// Demand response.
    DemandResponse,
}

/// A named group of outputs or of sources.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Group {
    /// Its name.
    pub name: String,
    /// Its members.
    pub members: Vec<Point>,
}

/// What a name in the text of a clause stands for.
#[derive(Clone, Debug, Eq, PartialEq)]
pub(crate) enum Named {
    /// A source.
    Source(u16),
    /// Some buttons of a wall unit, in the order of their numbers.
    Buttons(u16, Vec<u8>),
    /// An output.
    Output(u16),
    /// A group, by its place in [`Names::groups`].
    Group(usize),
    /// A root of cause chains that is no source.
    Doer(Doer),
}

/// Why a word for a kind of source stands for none in particular.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) enum NotOne {
    /// The room has no such source.
    None,
    /// The room has several.
    Several,
}

impl Names {
    /// Whether clauses could not speak of something with this name, because the word has a
    /// meaning of its own in the language.
    #[must_use]
    pub fn is_reserved(name: &str) -> bool {
        RESERVED.contains(&name)
    }

    /// What `text` stands for: a name as written in the room's files, a button of a unit, the
    /// word for a kind of which the room has one, or a root of cause chains.
    pub(crate) fn resolve(&self, text: &str) -> Option<Named> {
        let place = |found: usize| u16::try_from(found).ok();
        if let Some(found) = self.sources.iter().position(|source| source.name == text) {
            return place(found).map(Named::Source);
        }
        if let Some(found) = self.outputs.iter().position(|output| output == text) {
            return place(found).map(Named::Output);
        }
        if let Some(found) = self.groups.iter().position(|group| group.name == text) {
            return Some(Named::Group(found));
        }
        for (found, source) in self.sources.iter().enumerate() {
            let buttons = source.selected(text);
            if !buttons.is_empty() {
                return place(found).map(|unit| Named::Buttons(unit, buttons));
            }
        }
        if let Some(Ok(only)) = self.of_kind(text) {
            return Some(Named::Source(only));
        }
        let known = DOERS.iter().find(|(word, _)| *word == text);
        known.map(|(_, doer)| Named::Doer(*doer))
    }

    /// The one source of the kind that `text` is the word for; `None` when it is no such word.
    pub(crate) fn of_kind(&self, text: &str) -> Option<Result<u16, NotOne>> {
        let (_, kind) = KINDS.iter().find(|(word, _)| *word == text)?;
        let mut found = self
            .sources
            .iter()
            .enumerate()
            .filter(|(_, source)| source.kind == *kind)
            .filter_map(|(place, _)| u16::try_from(place).ok());
        Some(match (found.next(), found.next()) {
            (Some(only), None) => Ok(only),
            (None, _) => Err(NotOne::None),
            (Some(_), Some(_)) => Err(NotOne::Several),
        })
    }

    /// The name of a source.
    pub(crate) fn source(&self, source: u16) -> &str {
        match self.sources.get(usize::from(source)) {
            Some(found) => &found.name,
            None => "?",
        }
    }

    /// The kind of a source.
    pub(crate) fn kind(&self, source: u16) -> Option<SourceKind> {
        self.sources
            .get(usize::from(source))
            .map(|found| found.kind)
    }

    /// The name of a button, with its unit.
    pub(crate) fn button(&self, source: u16, button: u8) -> String {
        let unit = self.sources.get(usize::from(source));
        let name = unit.and_then(|unit| unit.buttons.get(usize::from(button)));
        format!(
            "{}/{}",
            self.source(source),
            name.map_or("?", String::as_str)
        )
    }

    /// The name of an output.
    pub(crate) fn output(&self, output: u16) -> &str {
        match self.outputs.get(usize::from(output)) {
            Some(found) => found,
            None => "?",
        }
    }

    /// The button that is meant, or what buttons there are, for a `text` such as
    /// `wall-unit/left` that names one of a known unit that has no such button.
    pub(crate) fn buttons_of(&self, text: &str) -> Option<String> {
        let (unit, wanted) = text.split_once('/')?;
        let source = self.sources.iter().find(|source| source.name == unit)?;
        if let Some(near) = nearest(wanted, source.buttons.iter().cloned()) {
            return Some(format!("did you mean `{unit}/{near}`?"));
        }
        let named = |button: &String| format!("`{unit}/{button}`");
        let all: Vec<String> = source.buttons.iter().map(named).collect();
        Some(match all.as_slice() {
            [] => format!("`{unit}` has no buttons: write its name without a slash"),
            all => format!("its buttons are {}", all.join(", ")),
        })
    }

    /// The name nearest to `text`, when one is near.
    pub(crate) fn nearest(&self, text: &str) -> Option<String> {
        let sources = self.sources.iter().map(|source| source.name.clone());
        let outputs = self.outputs.iter().cloned();
        let groups = self.groups.iter().map(|group| group.name.clone());
        let buttons = self.sources.iter().flat_map(|source| {
            let name = &source.name;
            source
                .buttons
                .iter()
                .map(move |button| format!("{name}/{button}"))
        });
        nearest(text, sources.chain(outputs).chain(groups).chain(buttons))
    }
}

impl SourceName {
    /// The numbers of the buttons that `text` selects: one by its name, or all whose names go
    /// on after it (`unit/zone-a` for `zone-a up` and `zone-a down`).
    fn selected(&self, text: &str) -> Vec<u8> {
        let rest = text.strip_prefix(self.name.as_str());
        let Some(wanted) = rest.and_then(|rest| rest.strip_prefix(['/', ' '])) else {
            return Vec::new();
        };
        let numbered = |matches: &dyn Fn(&str) -> bool| -> Vec<u8> {
            (0..=u8::MAX)
                .zip(&self.buttons)
                .filter(|(_, name)| matches(name))
                .map(|(number, _)| number)
                .collect()
        };
        let exact = numbered(&|name| name == wanted);
        if !exact.is_empty() {
            return exact;
        }
        numbered(&|name| {
            let rest = name.strip_prefix(wanted);
            rest.is_some_and(|rest| rest.starts_with(' '))
        })
    }
}

/// The candidate with the fewest edits to `text`, when they are few for its length; the first
/// of several equally near.
pub(crate) fn nearest(text: &str, candidates: impl Iterator<Item = String>) -> Option<String> {
    candidates
        .filter_map(|candidate| Some((nearness(text, &candidate)?, candidate)))
        .min_by_key(|(edits, _)| *edits)
        .map(|(_, candidate)| candidate)
}

/// How many edits lie between two texts, when they are few for the length of `text`.
pub(crate) fn nearness(text: &str, candidate: &str) -> Option<usize> {
    let edits = edits(text, candidate);
    (edits <= text.chars().count().div_ceil(3)).then_some(edits)
}

/// How many characters must be put in, taken out or replaced to make `to` of `from`
/// (Levenshtein 1966).
fn edits(from: &str, to: &str) -> usize {
    let to: Vec<char> = to.chars().collect();
    let mut row: Vec<usize> = (0..=to.len()).collect();
    for (line, letter) in from.chars().enumerate() {
        let mut diagonal = line;
        row[0] = line + 1;
        for (column, other) in to.iter().enumerate() {
            let replaced = diagonal + usize::from(letter != *other);
            diagonal = row[column + 1];
            row[column + 1] = replaced.min(diagonal + 1).min(row[column] + 1);
        }
    }
    row[to.len()]
}

/// The words for kinds of which a room often has one.
const KINDS: [(&str, SourceKind); 5] = [
    ("card", SourceKind::Card),
    ("clock", SourceKind::Clock),
    ("demand response", SourceKind::DemandResponse),
    ("fire alarm", SourceKind::FireAlarm),
    ("normal power", SourceKind::NormalPower),
];

/// Words that begin something else than a name.
const RESERVED: [&str; 12] = [
    "after", "all", "any", "in", "more", "motion", "no", "none", "not", "sound", "sweep", "the",
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn edits_are_counted_as_levenshtein_does() {
        for (from, to, expected) in [
            ("kitten", "sitting", 3),
            ("", "abc", 3),
            ("abc", "", 3),
            ("xxab", "ab", 2),
            ("ab", "xxab", 2),
            ("xxxx", "x", 3),
            ("ab", "ba", 2),
        ] {
            assert_eq!(edits(from, to), expected, "{from} {to}");
        }
    }

    #[test]
    fn a_third_of_the_letters_may_be_wrong() {
        assert_eq!(nearness("abcdef", "abcxxf"), Some(2));
        assert_eq!(nearness("abcdef", "abxxxf"), None);
        assert_eq!(nearness("ab", "xb"), Some(1));
    }
}
