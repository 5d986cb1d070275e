//! What the clauses of a question look at: what they do not see need not be told apart.

use clause::{Atom, By, Change, Event, Formula, Gesture};
use room::{ControllerId, Plan, SourceId, SourceSettings};

use crate::model::Between;

/// What some clauses look at.
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub struct Sight {
    /// Levels of outputs, or how they move.
    pub levels: bool,
    /// The light that shows, or a contact: what a fade changes.
    pub fades: bool,
    /// The root of a cause chain.
    pub causes: bool,
    /// Sources of which a stimulus is seen, wall units apart.
    pub stimuli: Vec<SourceId>,
    /// Wall units whose presses are seen.
    pub presses: Vec<SourceId>,
    /// Wall units of which more is seen than presses: releases, or whether a button is down.
    pub edges: Vec<SourceId>,
}

impl Sight {
    /// Wall units of which only the frames need be kept: of their edges the clauses see the
    /// presses at most, and there is one listener. Only where no frame is lost, no power is cut
    /// and one button is pressed at a time.
    #[must_use]
    pub fn light_units(&self, plan: &Plan) -> Vec<SourceId> {
        let sources = (0..).map(SourceId).zip(&plan.sources);
        sources
            .filter(|(_, source)| matches!(source.settings, SourceSettings::Switch(_)))
            .filter(|(id, source)| !self.edges.contains(id) && source.listeners.len() <= 1)
            .map(|(id, _)| id)
            .collect()
    }

    /// Sources whose frames may as well take no time: the clauses see no stimulus of them, and
    /// the frames take the same time to every listener. Only where no frame is lost.
    #[must_use]
    pub fn prompt(
        &self,
        plan: &Plan,
        delay: impl Fn(SourceId, ControllerId) -> Between,
    ) -> Vec<SourceId> {
        let alike = |id: SourceId, listeners: &[(ControllerId, u8)]| {
            let mut delays = listeners.iter().map(|(listener, _)| delay(id, *listener));
            let first = delays.next();
            first
                .is_none_or(|first| first.least == first.most && delays.all(|other| other == first))
        };
        let sources = (0..).map(SourceId).zip(&plan.sources);
        sources
            .filter(|(_, source)| !matches!(source.settings, SourceSettings::Switch(_)))
            .filter(|(id, _)| !self.stimuli.contains(id))
            .filter(|(id, source)| alike(*id, &source.listeners))
            .map(|(id, _)| id)
            .collect()
    }

    /// What these clauses look at.
    pub fn of<'a>(formulas: impl Iterator<Item = &'a Formula>) -> Self {
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
