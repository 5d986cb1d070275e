//! A clause ready to be judged.

use alloc::string::String;
use alloc::vec::Vec;

use device::{Level, Span};

use crate::{Atom, ClauseError, Doer, Event, Names, Quantity};

/// A clause ready to be judged; it stands still while monitors judge it.
#[derive(Clone, Debug, Default, Eq, Hash, PartialEq)]
pub struct Formula {
    atoms: Vec<Atom>,
    events: Vec<Event>,
}

impl Formula {
    /// Reads a clause: pairs of key and text, in any order. `reaction` is the room's own, for
    /// clauses without a `reaction` key.
    ///
    /// # Errors
    ///
    /// The first thing that is wrong, with its place and a hint.
    pub fn parse(
        _fields: &[(&str, &str)],
        _names: &Names,
        _reaction: Span,
    ) -> Result<Self, ClauseError> {
        Ok(Self::default())
    }

    /// How many timers a monitor of this clause uses; they are numbered from 0.
    #[must_use]
    pub fn timers(&self) -> u8 {
        0
    }

    /// The fact `S never affects X`, which the caller's dependency graph answers: who, and
    /// which outputs. `None` for every clause that a monitor judges.
    #[must_use]
    pub fn never_affects(&self) -> Option<(&[Doer], &[u16])> {
        None
    }

    /// The conditions that a monitor may ask for, each once.
    pub fn atoms(&self) -> impl Iterator<Item = &Atom> {
        self.atoms.iter()
    }

    /// The events that a monitor may ask for, each once.
    pub fn events(&self) -> impl Iterator<Item = &Event> {
        self.events.iter()
    }

    /// The levels of an output at which a comparison in this clause changes its answer. While a
    /// level moves, a monitor must be called at the instant at which it first is beyond one.
    #[must_use]
    pub fn watched_levels(&self, _output: u16) -> Vec<(Quantity, Level)> {
        Vec::new()
    }

    /// The clause in words.
    #[must_use]
    pub fn describe(&self, _names: &Names) -> String {
        String::new()
    }
}
