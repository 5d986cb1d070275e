//! Key tables: which keys a table of a file may have, what each takes, and what it is for.
//!
//! One table serves four readers: the reading of files, the hints of messages, the JSON Schemas
//! and the file reference of the README. Invariant: nothing is read that no key table names.

mod meant;
mod read;
mod reference;
mod section;
mod syntax;
mod value;

use std::fmt;

use device::{Illuminance, Level, Span};

pub(crate) use meant::key as meant_key;
pub use read::{Reader, inside, misplaced};
pub use reference::{reference, reference_of_top};
pub use section::{Entry, Item, Located, NamedMap, NamedSection, Section};
pub(crate) use syntax::kind;
pub use syntax::parse;
pub(crate) use value::DAYS;
pub use value::parse_text;

use crate::words::{Length, Potential, Power};

/// The keys of one kind of table.
pub struct Table {
    /// What messages call it: `an output`.
    pub what: &'static str,
    /// How its header is written: `[outputs.NAME]`; empty for a whole file.
    pub header: &'static str,
    /// What it is for, in a sentence or two.
    pub says: &'static str,
    /// The key whose word decides which other keys make sense; empty: none.
    pub by: &'static str,
    /// Its keys, in the order of the reference.
    pub keys: &'static [Key],
}

impl fmt::Debug for Table {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Table")
            .field("what", &self.what)
            .finish_non_exhaustive()
    }
}

impl Table {
    /// The key of this name.
    #[must_use]
    pub fn key(&self, name: &str) -> Option<&'static Key> {
        self.keys.iter().find(|key| key.name == name)
    }
}

/// One key of a table.
#[derive(Debug)]
pub struct Key {
    /// Its name in the file.
    pub name: &'static str,
    /// What it takes.
    pub value: Value,
    /// What holds without it.
    pub need: Need,
    /// With which words of [`Table::by`] it makes sense; empty: with all.
    pub only: &'static [&'static str],
    /// What it does, in one sentence.
    pub says: &'static str,
}

/// What holds when a key is not given.
#[derive(Clone, Copy, Debug)]
pub enum Need {
    /// It must be given.
    Required,
    /// This text, as if it stood in the file.
    Default(&'static str),
    /// What the words say; for defaults that depend on other keys.
    Otherwise(&'static str),
}

/// What a key takes.
#[derive(Debug)]
pub enum Value {
    /// Any text.
    Text,
    /// A name of something, new or known.
    Name,
    /// A name with or without a part after a slash: `wall-unit/zone-a`.
    Reference,
    /// `true` or `false`.
    YesNo,
    /// A whole number without quotes.
    Count(u64, u64),
    /// A span of time within these bounds.
    Span(Span, Span),
    /// A span of time within these bounds, or a word.
    SpanOr(Span, Span, &'static str),
    /// A level within these bounds.
    Level(Level, Level),
    /// A level within these bounds, or a word.
    LevelOr(Level, Level, &'static str),
    /// A share within these bounds, in parts of 10 000.
    Share(u32, u32),
    /// A number of points, or a word.
    PointsOr(&'static str),
    /// An illuminance within these bounds.
    Light(Illuminance, Illuminance),
    /// A power up to this one.
    Power(Power),
    /// A voltage within these bounds.
    Voltage(Potential, Potential),
    /// A current or a power.
    Rating,
    /// A length up to this one.
    Length(Length),
    /// One of these words.
    Word(&'static [&'static str]),
    /// Opening hours of a day: `08:00 to 18:00` or `closed`.
    Hours,
    /// A day or a range of days.
    Dates,
    /// A time of day, on every day or on one: `22:00`, `saturday 14:00`.
    DayTime,
    /// A time zone by its name in the IANA database.
    Zone,
    /// A list.
    List(&'static Self),
    /// One value or a list of them.
    OneOrMany(&'static Self),
    /// One table.
    Table(&'static Table),
    /// Tables by name: `[outputs.NAME]`.
    Named(&'static Table),
    /// A table that may be repeated: `[[links]]`.
    Many(&'static Table),
    /// Named tables of values by name, and how their header is written: `[scenes.NAME]`.
    Maps(&'static str, &'static Self),
    /// The rows of a scenario, which are lists of lists and are read by the scenario itself.
    Rows,
    /// Values by name: `{ desk-lights = "120 lx" }`.
    Map(&'static Self),
}

#[cfg(test)]
mod tests;
