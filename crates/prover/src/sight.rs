//! What the clauses of a question look at: what they do not see need not be told apart.

use std::collections::BTreeSet;

use clause::{Change, Doer, Formula, Gesture, Mentions};
use room::{ControllerId, Plan, SourceId, SourceSettings};

use crate::model::Between;

/// What some clauses look at.
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub struct Sight {
    /// Levels of outputs, or how they move.
    pub levels: bool,
    /// How levels move.
    pub moves: bool,
    /// More than two moves of a level within a span.
    pub counts_moves: bool,
    /// Whom the clauses name as roots of cause chains.
    pub doers: Vec<Doer>,
    /// The sources of which it may matter which a clause saw last.
    pub seen_last: Vec<SourceId>,
    /// Sources of which a stimulus is seen, wall units apart.
    pub stimuli: Vec<SourceId>,
    /// Wall units whose presses are seen.
    pub presses: Vec<SourceId>,
    /// Wall units of which more is seen than presses: releases, or whether a button is down.
    pub edges: Vec<SourceId>,
}

impl Sight {
    /// Wall units of which only the frames need be kept: of their edges the clauses see the
    /// presses at most, and there is one listener. Only where no power is cut and one button is
    /// pressed at a time. A frame that takes no time comes after the stimuli of its instant, and
    /// not where frames have their place: such a unit is followed as it is.
    #[must_use]
    pub fn light_units(
        &self,
        plan: &Plan,
        delay: impl Fn(SourceId, ControllerId) -> Between,
    ) -> Vec<SourceId> {
        let takes_time = |id: SourceId, listeners: &[(ControllerId, u8)]| {
            let mut delays = listeners.iter().map(|(listener, _)| delay(id, *listener));
            delays.all(|delay| !delay.least.is_zero())
        };
        let sources = (0..).map(SourceId).zip(&plan.sources);
        sources
            .filter(|(_, source)| matches!(source.settings, SourceSettings::Switch(_)))
            .filter(|(id, source)| !self.edges.contains(id) && source.listeners.len() <= 1)
            .filter(|(id, source)| takes_time(*id, &source.listeners))
            .map(|(id, _)| id)
            .collect()
    }

    /// Sources whose frames may as well take no time: the clauses see no stimulus of them, and
    /// the frames take the same time to every listener. Only where no power is cut. Frames that
    /// take no time anyway come after the stimuli and timers that send them, which this would not
    /// keep.
    #[must_use]
    pub fn prompt(
        &self,
        plan: &Plan,
        delay: impl Fn(SourceId, ControllerId) -> Between,
    ) -> Vec<SourceId> {
        let alike = |id: SourceId, listeners: &[(ControllerId, u8)]| {
            let mut delays = listeners.iter().map(|(listener, _)| delay(id, *listener));
            let first = delays.next();
            first.is_none_or(|first| {
                !first.least.is_zero()
                    && first.least == first.most
                    && delays.all(|other| other == first)
            })
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
        let mut mentions = Mentions::default();
        let mut sight = Self::default();
        for formula in formulas {
            let of_it = formula.mentions();
            let seen = seen(&of_it);
            if formula.timers() > 0 && seen.len() > 1 {
                sight.seen_last.extend(seen);
            }
            sight.counts_moves |= formula.counts_beyond_two() && of_it.changes.iter().any(moves);
            mentions.merge(of_it);
        }
        let unit = |wanted: Gesture| {
            let gestures = mentions.gestures.iter();
            gestures.filter_map(move |&(unit, _, it)| (it == wanted).then_some(SourceId(unit)))
        };
        let down = mentions.down.iter().map(|&(unit, _)| SourceId(unit));
        sight.moves = mentions.changes.iter().any(moves);
        sight.levels = !mentions.levels.is_empty() || sight.moves;
        // Who acted only decides whether a clause is exercised, but it is asked.
        sight.doers = mentions.doers.union(&mentions.acted).copied().collect();
        sight.stimuli = mentions
            .events
            .iter()
            .map(|&(id, _)| SourceId(id))
            .collect();
        sight.presses = unit(Gesture::Press).collect();
        sight.edges = unit(Gesture::Release).chain(down).collect();
        sight
    }
}

/// The sources of which stimuli are seen.
fn seen(mentions: &Mentions) -> BTreeSet<SourceId> {
    let gestures = mentions.gestures.iter().map(|&(unit, ..)| unit);
    let stimuli = mentions.events.iter().map(|&(source, _)| source);
    gestures.chain(stimuli).map(SourceId).collect()
}

/// Whether a change is one of a level that may be on its way.
fn moves((_, change): &(u16, Change)) -> bool {
    matches!(change, Change::Raises | Change::Lowers | Change::Changes)
}
