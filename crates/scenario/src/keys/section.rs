//! A table that was read: its values by key, with their places.

use std::collections::BTreeMap;

use device::{Illuminance, Level, Points, Span};
use jiff::civil::Date;

use super::{Need, Table, parse_text};
use crate::Place;
use crate::words::{Length, Potential, Power, Rating, TimeOfDay};

/// A value and where it stands.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Located<T> {
    /// The value.
    pub value: T,
    /// Where it stands.
    pub place: Place,
}

/// A value of a file, of the kind that its key takes.
#[derive(Clone, Debug, PartialEq)]
pub enum Item {
    /// A text, name or reference.
    Text(String),
    /// Yes or no.
    YesNo(bool),
    /// A whole number.
    Count(u64),
    /// A span of time.
    Span(Span),
    /// A level.
    Level(Level),
    /// A share in parts of 10 000.
    Share(u32),
    /// A difference of levels.
    Points(Points),
    /// An illuminance.
    Light(Illuminance),
    /// A power.
    Power(Power),
    /// A voltage.
    Voltage(Potential),
    /// A rating.
    Rating(Rating),
    /// A length.
    Length(Length),
    /// One of the words of the key.
    Word(&'static str),
    /// Opening hours; `None`: closed.
    Hours(Option<(TimeOfDay, TimeOfDay)>),
    /// A range of days, both ends included.
    Dates(Date, Date),
    /// A time on one day of the week (Monday is 0), or on every day.
    DayTime(Option<u8>, TimeOfDay),
    /// A list.
    List(Vec<Located<Item>>),
    /// A table.
    Table(Section),
    /// Tables by name.
    Named(Vec<NamedSection>),
    /// Repeated tables.
    Many(Vec<Section>),
    /// Values by name.
    Map(Vec<(Located<String>, Located<Item>)>),
    /// Named tables of values by name.
    Maps(Vec<NamedMap>),
    /// Rows; what they say is not kept here.
    Rows,
}

/// A table with a name.
#[derive(Clone, Debug, PartialEq)]
pub struct NamedSection {
    /// Its name.
    pub name: Located<String>,
    /// Its keys.
    pub section: Section,
}

/// A named table of values by name.
#[derive(Clone, Debug, PartialEq)]
pub struct NamedMap {
    /// Its name.
    pub name: Located<String>,
    /// Its values, in the order of the file.
    pub values: Vec<(Located<String>, Located<Item>)>,
}

/// A value and the key it was given for.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// Where the key stands.
    pub key: Place,
    /// The value.
    pub value: Located<Item>,
}

/// A table that was read.
#[derive(Clone, Debug)]
pub struct Section {
    /// Its key table.
    pub table: &'static Table,
    /// Where it is named: its header, or its key.
    pub place: Place,
    /// Its values.
    pub entries: BTreeMap<&'static str, Entry>,
    /// Keys that were given and could not be read; their faults are reported already.
    pub refused: Vec<&'static str>,
}

impl PartialEq for Section {
    fn eq(&self, other: &Self) -> bool {
        std::ptr::eq(self.table, other.table)
            && self.place == other.place
            && self.entries == other.entries
    }
}

impl Section {
    /// A section without a single key.
    #[must_use]
    pub fn empty(table: &'static Table, place: Place) -> Self {
        Self {
            table,
            place,
            entries: BTreeMap::new(),
            refused: Vec::new(),
        }
    }

    /// The word of the key that decides which other keys make sense, when it was given.
    #[must_use]
    pub fn deciding_word(&self) -> Option<&'static str> {
        match self.table.by {
            "" => None,
            by => self.word(by),
        }
    }

    /// The value given for a key.
    ///
    /// # Panics
    /// When the key table has no such key: the reader and the table disagree.
    #[must_use]
    pub fn given(&self, key: &str) -> Option<&Entry> {
        assert!(
            self.table.key(key).is_some(),
            "{} has no key {key}",
            self.table.what
        );
        self.entries.get(key)
    }

    /// Whether a key was given.
    #[must_use]
    pub fn has(&self, key: &str) -> bool {
        self.given(key).is_some()
    }

    /// Where the value of a key stands, or else the table.
    #[must_use]
    pub fn place_of(&self, key: &str) -> Place {
        self.given(key)
            .map_or(self.place, |entry| entry.value.place)
    }

    /// The value of a key: as given, or else its default.
    #[must_use]
    pub fn item(&self, key: &str) -> Option<Item> {
        if let Some(entry) = self.given(key) {
            return Some(entry.value.value.clone());
        }
        let key = self.table.key(key)?;
        match key.need {
            Need::Default(text) => {
                Some(parse_text(&key.value, text).expect("a test parses every default"))
            }
            Need::Required | Need::Otherwise(_) => None,
        }
    }

    /// A text, name or reference.
    #[must_use]
    pub fn text(&self, key: &str) -> Option<Located<String>> {
        match self.item(key)? {
            Item::Text(value) => Some(Located {
                value,
                place: self.place_of(key),
            }),
            _ => None,
        }
    }

    /// Yes or no; no when neither given nor defaulted.
    #[must_use]
    pub fn yes(&self, key: &str) -> bool {
        matches!(self.item(key), Some(Item::YesNo(true)))
    }

    /// A whole number.
    #[must_use]
    pub fn count(&self, key: &str) -> Option<u64> {
        match self.item(key)? {
            Item::Count(count) => Some(count),
            _ => None,
        }
    }

    /// A span; `None` when absent or given as a word such as `never`.
    #[must_use]
    pub fn span(&self, key: &str) -> Option<Span> {
        match self.item(key)? {
            Item::Span(span) => Some(span),
            _ => None,
        }
    }

    /// A level.
    #[must_use]
    pub fn level(&self, key: &str) -> Option<Level> {
        match self.item(key)? {
            Item::Level(level) => Some(level),
            _ => None,
        }
    }

    /// A share in parts of 10 000.
    #[must_use]
    pub fn share(&self, key: &str) -> Option<u32> {
        match self.item(key)? {
            Item::Share(share) => Some(share),
            _ => None,
        }
    }

    /// A difference of levels.
    #[must_use]
    pub fn points(&self, key: &str) -> Option<Points> {
        match self.item(key)? {
            Item::Points(points) => Some(points),
            _ => None,
        }
    }

    /// An illuminance.
    #[must_use]
    pub fn light(&self, key: &str) -> Option<Illuminance> {
        match self.item(key)? {
            Item::Light(light) => Some(light),
            _ => None,
        }
    }

    /// A power.
    #[must_use]
    pub fn power(&self, key: &str) -> Option<Power> {
        match self.item(key)? {
            Item::Power(power) => Some(power),
            _ => None,
        }
    }

    /// A voltage.
    #[must_use]
    pub fn voltage(&self, key: &str) -> Option<Potential> {
        match self.item(key)? {
            Item::Voltage(voltage) => Some(voltage),
            _ => None,
        }
    }

    /// A rating.
    #[must_use]
    pub fn rating(&self, key: &str) -> Option<Rating> {
        match self.item(key)? {
            Item::Rating(rating) => Some(rating),
            _ => None,
        }
    }

    /// A length.
    #[must_use]
    pub fn length(&self, key: &str) -> Option<Length> {
        match self.item(key)? {
            Item::Length(length) => Some(length),
            _ => None,
        }
    }

    /// A word of the key.
    #[must_use]
    pub fn word(&self, key: &str) -> Option<&'static str> {
        match self.item(key)? {
            Item::Word(word) => Some(word),
            _ => None,
        }
    }

    /// The members of a list, or the one value that stands for a list of one.
    #[must_use]
    pub fn list(&self, key: &str) -> &[Located<Item>] {
        match self.given(key).map(|entry| &entry.value.value) {
            Some(Item::List(list)) => list,
            _ => &[],
        }
    }

    /// The members of a list of texts.
    #[must_use]
    pub fn texts(&self, key: &str) -> Vec<Located<String>> {
        let text = |item: &Located<Item>| match &item.value {
            Item::Text(text) => Some(Located {
                value: text.clone(),
                place: item.place,
            }),
            _ => None,
        };
        self.list(key).iter().filter_map(text).collect()
    }

    /// A table within this one.
    #[must_use]
    pub fn table(&self, key: &str) -> Option<&Section> {
        match self.given(key).map(|entry| &entry.value.value) {
            Some(Item::Table(section)) => Some(section),
            _ => None,
        }
    }

    /// Tables by name within this one, in the order of the file.
    #[must_use]
    pub fn named(&self, key: &str) -> &[NamedSection] {
        match self.given(key).map(|entry| &entry.value.value) {
            Some(Item::Named(sections)) => sections,
            _ => &[],
        }
    }

    /// Repeated tables within this one, in the order of the file.
    #[must_use]
    pub fn many(&self, key: &str) -> &[Section] {
        match self.given(key).map(|entry| &entry.value.value) {
            Some(Item::Many(sections)) => sections,
            _ => &[],
        }
    }

    /// Values by name within this one, in the order of the file.
    #[must_use]
    pub fn map(&self, key: &str) -> &[(Located<String>, Located<Item>)] {
        match self.given(key).map(|entry| &entry.value.value) {
            Some(Item::Map(values)) => values,
            _ => &[],
        }
    }

    /// Named tables of values by name, in the order of the file.
    #[must_use]
    pub fn maps(&self, key: &str) -> &[NamedMap] {
        match self.given(key).map(|entry| &entry.value.value) {
            Some(Item::Maps(maps)) => maps,
            _ => &[],
        }
    }
}
