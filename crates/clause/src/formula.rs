//! A clause ready to be judged.

use alloc::format;
use alloc::string::{String, ToString};
use alloc::vec::Vec;

use device::{Level, Span};

use crate::compile::{Compiled, compile};
use crate::expr::{Clause, Form};
use crate::node::Node;
use crate::{Atom, ClauseError, Compare, Doer, Event, Names, Quantity, parse, write};

/// A clause ready to be judged; it stands still while monitors judge it.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Formula {
    clause: Clause,
    /// The room's own reaction, for what the clause does not say itself.
    reaction: Span,
    compiled: Compiled,
}

impl Formula {
    /// Reads a clause: pairs of key and text, in any order. `reaction` is the room's own, for
    /// clauses without a `reaction` key.
    ///
    /// # Errors
    ///
    /// The first thing that is wrong, with its place and a hint.
    pub fn parse(
        fields: &[(&str, &str)],
        names: &Names,
        reaction: Span,
    ) -> Result<Self, ClauseError> {
        let clause = parse::clause(fields, names, reaction)?;
        match compile(&clause, reaction) {
            Some(compiled) => Ok(Self::from_parts(clause, reaction, compiled)),
            None => Err(too_long(fields)),
        }
    }

    /// How many timers a monitor of this clause uses; they are numbered from 0.
    #[must_use]
    pub fn timers(&self) -> u8 {
        self.compiled.timers
    }

    /// The fact `S never affects X`, which the caller's dependency graph answers: who, and
    /// which outputs. `None` for every clause that a monitor judges.
    #[must_use]
    pub fn never_affects(&self) -> Option<(&[Doer], &[u16])> {
        match &self.clause.form {
            Form::NeverAffects(doers, outputs) => Some((doers, outputs)),
            _ => None,
        }
    }

    /// The conditions that a monitor may ask for, each once.
    pub fn atoms(&self) -> impl Iterator<Item = &Atom> {
        self.compiled.nodes.iter().filter_map(|node| match node {
            Node::Atom(atom) => Some(atom),
            _ => None,
        })
    }

    /// The events that a monitor may ask for, each once.
    pub fn events(&self) -> impl Iterator<Item = &Event> {
        self.compiled.nodes.iter().filter_map(|node| match node {
            Node::Event(event) => Some(event),
            _ => None,
        })
    }

    /// The levels of an output at which a comparison in this clause changes its answer: the
    /// answer differs between just below the level and the level itself. While a level moves,
    /// a monitor must be called at the first instant on the other side of one.
    #[must_use]
    pub fn watched_levels(&self, output: u16) -> Vec<(Quantity, Level)> {
        let mut watched = Vec::new();
        for atom in self.atoms() {
            let Atom::Level(of, quantity, compare) = *atom else {
                continue;
            };
            if of == output {
                watched.extend(borders(compare).map(|level| (quantity, level)));
            }
        }
        watched.sort_unstable();
        watched.dedup();
        watched
    }

    /// Whether the clause asks for more than two of an event within a span.
    #[must_use]
    pub fn counts_beyond_two(&self) -> bool {
        let mut nodes = self.compiled.nodes.iter();
        nodes.any(|node| matches!(node, Node::Count(_, most, _) if *most >= 2))
    }

    /// The clause as it would be typed: its keys and their texts, which read back as this
    /// clause.
    #[must_use]
    pub fn fields(&self, names: &Names) -> Vec<(&'static str, String)> {
        write::fields(&self.clause, names)
    }

    /// The clause in one line: `when motion at wall-sensor, then desk-lights is on, within 1 s`.
    #[must_use]
    pub fn describe(&self, names: &Names) -> String {
        let parts: Vec<String> = self
            .fields(names)
            .iter()
            .map(|(key, text)| format!("{key} {text}"))
            .collect();
        parts.join(", ")
    }

    /// A formula from its tree and what the tree compiles to.
    pub(crate) fn from_parts(clause: Clause, reaction: Span, compiled: Compiled) -> Self {
        Self {
            clause,
            reaction,
            compiled,
        }
    }

    /// The tree.
    pub(crate) fn clause(&self) -> &Clause {
        &self.clause
    }

    /// The room's own reaction.
    pub(crate) fn reaction(&self) -> Span {
        self.reaction
    }

    /// What judges the clause.
    pub(crate) fn compiled(&self) -> &Compiled {
        &self.compiled
    }
}

/// The lowest level of each stretch on which a comparison gives one answer, but for the first.
fn borders(compare: Compare) -> impl Iterator<Item = Level> {
    let (from, beyond) = match compare {
        Compare::Is(level) => {
            let least = level.hundredths().saturating_sub(crate::point::EXACT);
            (least, level.hundredths() + crate::point::EXACT + 1)
        }
        Compare::AtMost(level) | Compare::Above(level) => (0, level.hundredths() + 1),
        Compare::AtLeast(level) | Compare::Below(level) => (0, level.hundredths()),
        Compare::Between(least, most) => (least.hundredths(), most.hundredths() + 1),
    };
    [from, beyond]
        .into_iter()
        .filter(|hundredths| (1..=Level::FULL.hundredths()).contains(hundredths))
        .map(Level::from_hundredths)
}

/// The error for a clause that needs more than a monitor has.
fn too_long(fields: &[(&str, &str)]) -> ClauseError {
    let longest = fields.iter().max_by_key(|(_, text)| text.len());
    let (key, text) = longest.copied().unwrap_or(("always", ""));
    ClauseError {
        key: key.to_string(),
        span: 0..text.len(),
        message: "the clause is too long for one monitor".to_string(),
        hint: "split it into several clauses, or speak of fewer members at a time".to_string(),
    }
}
