//! What a clause speaks of: everything that its monitor may ask the room for.
//!
//! Invariant: a room that answers these questions alike is judged alike. What only shows that
//! a run put the clause to the test (that a source acted at all) is asked for too.

use alloc::collections::BTreeSet;

use crate::expr::Form;
use crate::{
    Atom, Brightness, By, Change, Compare, Doer, Event, Formula, Gesture, OutputState, Quantity,
    SourceEvent, SourceState,
};

/// What one or several clauses speak of. Numbers are places among the caller's names.
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub struct Mentions {
    /// States of outputs.
    pub states: BTreeSet<(u16, OutputState)>,
    /// Levels of outputs, and what they are compared with.
    pub levels: BTreeSet<(u16, Quantity, Compare)>,
    /// Changes of outputs.
    pub changes: BTreeSet<(u16, Change)>,
    /// What the first controller that hears a source believes of it.
    pub beliefs: BTreeSet<(u16, SourceState)>,
    /// What daylight sensors reported last.
    pub illuminances: BTreeSet<(u16, Brightness)>,
    /// What happens at sources, heard or not.
    pub events: BTreeSet<(u16, SourceEvent)>,
    /// Gestures at wall units; `None`: at any button.
    pub gestures: BTreeSet<(u16, Option<u8>, Gesture)>,
    /// Buttons that are asked for while they are down.
    pub down: BTreeSet<(u16, u8)>,
    /// The doers by whom changes of outputs are told apart: the root of the cause chain matters.
    pub doers: BTreeSet<Doer>,
    /// The doers that have acted at all.
    pub acted: BTreeSet<Doer>,
    /// Outputs of a fact of the dependency graph, which no monitor judges.
    pub unaffected: BTreeSet<u16>,
}

impl Mentions {
    /// Every output that is spoken of.
    #[must_use]
    pub fn outputs(&self) -> BTreeSet<u16> {
        let states = self.states.iter().map(|&(output, _)| output);
        let levels = self.levels.iter().map(|&(output, ..)| output);
        let changes = self.changes.iter().map(|&(output, _)| output);
        let unaffected = self.unaffected.iter().copied();
        states
            .chain(levels)
            .chain(changes)
            .chain(unaffected)
            .collect()
    }

    /// Every source that is spoken of, as itself or as a doer.
    #[must_use]
    pub fn sources(&self) -> BTreeSet<u16> {
        let doers = self
            .doers
            .iter()
            .chain(&self.acted)
            .filter_map(|doer| source_of(*doer));
        let beliefs = self.beliefs.iter().map(|&(source, _)| source);
        let illuminances = self.illuminances.iter().map(|&(source, _)| source);
        let events = self.events.iter().map(|&(source, _)| source);
        let gestures = self.gestures.iter().map(|&(source, ..)| source);
        let down = self.down.iter().map(|&(source, _)| source);
        let senses = beliefs.chain(illuminances).chain(events);
        senses.chain(gestures).chain(down).chain(doers).collect()
    }

    /// Whether this level of an output is asked for.
    #[must_use]
    pub fn asks_for(&self, output: u16, quantity: Quantity) -> bool {
        (self.levels.iter()).any(|&(of, what, _)| of == output && what == quantity)
    }

    /// Takes in what another clause speaks of.
    pub fn merge(&mut self, other: Self) {
        self.states.extend(other.states);
        self.levels.extend(other.levels);
        self.changes.extend(other.changes);
        self.beliefs.extend(other.beliefs);
        self.illuminances.extend(other.illuminances);
        self.events.extend(other.events);
        self.gestures.extend(other.gestures);
        self.down.extend(other.down);
        self.doers.extend(other.doers);
        self.acted.extend(other.acted);
        self.unaffected.extend(other.unaffected);
    }

    fn atom(&mut self, atom: Atom) {
        match atom {
            Atom::Output(output, state) => drop(self.states.insert((output, state))),
            Atom::Level(output, quantity, compare) => {
                self.levels.insert((output, quantity, compare));
            }
            Atom::Source(source, state) => drop(self.beliefs.insert((source, state))),
            Atom::Illuminance(source, brightness) => {
                self.illuminances.insert((source, brightness));
            }
            Atom::ButtonDown(unit, button) => drop(self.down.insert((unit, button))),
        }
    }

    fn event(&mut self, event: &Event) {
        match event {
            Event::Source(source, event) => drop(self.events.insert((*source, *event))),
            Event::Button(unit, button, gesture) => {
                self.gestures.insert((*unit, *button, *gesture));
            }
            Event::Output(output, change, by) => {
                self.changes.insert((*output, *change));
                match by {
                    By::Anyone => {}
                    By::Only(doer) => drop(self.doers.insert(*doer)),
                    By::NoneOf(doers) => self.doers.extend(doers),
                }
            }
            Event::Acted(doer) => drop(self.acted.insert(*doer)),
        }
    }
}

impl Formula {
    /// Everything that the clause speaks of.
    #[must_use]
    pub fn mentions(&self) -> Mentions {
        let mut found = Mentions::default();
        self.atoms().for_each(|atom| found.atom(*atom));
        self.events().for_each(|event| found.event(event));
        if let Form::NeverAffects(doers, outputs) = &self.clause().form {
            found.doers.extend(doers);
            found.unaffected.extend(outputs);
        }
        found
    }
}

/// The source that a doer belongs to.
fn source_of(doer: Doer) -> Option<u16> {
    match doer {
        Doer::Source(source) | Doer::Channel(source, _) | Doer::Button(source, _) => Some(source),
        Doer::Power | Doer::Daylight | Doer::Site | Doer::Start => None,
    }
}
