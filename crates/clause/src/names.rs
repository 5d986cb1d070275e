//! The names that a clause may use, and what they stand for.
//!
//! Invariant: an index is a place in the caller's sorted list and is never reordered here.

use alloc::string::String;
use alloc::vec::Vec;

use crate::Point;

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
