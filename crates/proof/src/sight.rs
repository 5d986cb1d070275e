//! What the clauses of a question look at: what they do not see need not be told apart.

use clause::{Atom, By, Change, Event, Formula, Gesture};
use room::SourceId;

/// What some clauses look at.
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub(crate) struct Sight {
    /// Levels of outputs, or how they move.
    pub(crate) levels: bool,
    /// The light that shows, or a contact: what a fade changes.
    pub(crate) fades: bool,
    /// The root of a cause chain.
    pub(crate) causes: bool,
    /// Sources of which a stimulus is seen, wall units apart.
    pub(crate) stimuli: Vec<SourceId>,
    /// Wall units whose presses are seen.
    pub(crate) presses: Vec<SourceId>,
    /// Wall units of which more is seen than presses: releases, or whether a button is down.
    pub(crate) edges: Vec<SourceId>,
}

impl Sight {
    pub(crate) fn of<'a>(formulas: impl Iterator<Item = &'a Formula>) -> Self {
        let mut sight = Self::default();
        for formula in formulas {
            formula.atoms().for_each(|atom| sight.see_atom(atom));
            formula.events().for_each(|event| sight.see_event(event));
        }
        sight
    }

    fn see_atom(&mut self, atom: &Atom) {
        match atom {
            Atom::Level(_, quantity, _) => {
                self.levels = true;
                self.fades |= *quantity == clause::Quantity::Light;
            }
            Atom::ButtonDown(unit, _) => self.edges.push(SourceId(*unit)),
            Atom::Output(_, clause::OutputState::Closed | clause::OutputState::Open) => {
                self.fades = true;
            }
            Atom::Output(..) | Atom::Source(..) | Atom::Illuminance(..) => {}
        }
    }

    fn see_event(&mut self, event: &Event) {
        match event {
            Event::Output(_, change, by) => {
                let moves = matches!(change, Change::Raises | Change::Lowers | Change::Changes);
                self.levels |= moves;
                self.causes |= *by != By::Anyone;
            }
            Event::Button(unit, _, Gesture::Press) => self.presses.push(SourceId(*unit)),
            Event::Button(unit, _, Gesture::Release) => self.edges.push(SourceId(*unit)),
            // Only whether the clause is exercised depends on who acted.
            Event::Acted(_) => self.causes = true,
            Event::Source(source, _) => self.stimuli.push(SourceId(*source)),
            Event::Button(..) => {}
        }
    }
}
