//! A lead: what happens on a path of an over-approximation, for an exact search to go after.
//!
//! The over-approximation has far fewer classes, so it finds a way to break a clause long before
//! an exact search does. The way may be no run; but an exact search that takes no stimulus beside
//! those on it, source by source in their order, soon knows. What it finds has as few
//! stimuli as there can be when the lead was the cheapest.

use room::{ControllerId, Device, Input, Plan, SourceId, Stimulus};

use super::Model;
use super::state::{State, Victim};
use crate::path::{Happening, Path};

/// All that may happen in an exact search.
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub struct Lead {
    /// What happens at each source, in order.
    stimuli: Vec<Vec<Stimulus>>,
    /// Where a frame is lost.
    lost: Vec<(SourceId, ControllerId)>,
    /// Whose power goes.
    powered: Vec<Device>,
    /// Whether entries of a calendar fall due.
    has_entries: bool,
}

impl Lead {
    /// What happens on a path.
    pub(super) fn of(path: &Path, plan: &Plan) -> Self {
        let mut lead = Self {
            stimuli: vec![Vec::new(); plan.sources.len()],
            ..Self::default()
        };
        for happening in path.steps.iter().flat_map(|step| &step.happens) {
            match *happening {
                Happening::Input(Input::Stimulus(_, Stimulus::Due(_))) => lead.has_entries = true,
                Happening::Input(Input::Stimulus(source, stimulus)) => {
                    lead.stimuli[usize::from(source.0)].push(stimulus);
                }
                Happening::Input(Input::Power(device, false)) => lead.powered.push(device),
                Happening::RoomPower(false) => lead.powered.extend(plan.on_mains()),
                Happening::Lost(source, listener) => lead.lost.push((source, listener)),
                _ => {}
            }
        }
        lead
    }

    /// Whether entries of a calendar fall due on it.
    #[must_use]
    pub fn has_entries(&self) -> bool {
        self.has_entries
    }

    /// What happens at a source, in order.
    #[must_use]
    pub fn stimuli(&self, source: SourceId) -> &[Stimulus] {
        &self.stimuli[usize::from(source.0)]
    }
}

impl Model {
    /// How much of the lead has happened before anything has: nothing at each source.
    pub(super) fn nothing_followed(&self) -> Vec<u8> {
        let lead = self.question.lead.as_ref();
        lead.map_or_else(Vec::new, |lead| vec![0; lead.stimuli.len()])
    }

    /// Whether a stimulus is the next of the lead, where one is followed.
    pub(super) fn leads_to(&self, state: &State, source: SourceId, stimulus: Stimulus) -> bool {
        self.question.lead.as_ref().is_none_or(|lead| {
            let so_far = state.followed[usize::from(source.0)];
            lead.stimuli(source).get(usize::from(so_far)) == Some(&stimulus)
        })
    }

    /// Whether a frame is lost there on the lead, where one is followed.
    pub(super) fn leads_to_loss(&self, source: SourceId, listener: ControllerId) -> bool {
        let lead = self.question.lead.as_ref();
        lead.is_none_or(|lead| lead.lost.contains(&(source, listener)))
    }

    /// Whether the power of a victim goes on the lead, where one is followed.
    pub(super) fn leads_to_cut(&self, victim: Victim) -> bool {
        let members = || self.members(victim);
        let lead = self.question.lead.as_ref();
        lead.is_none_or(|lead| members().iter().all(|it| lead.powered.contains(it)))
    }
}

impl State {
    /// A stimulus of the lead has happened.
    pub(super) fn follow(&mut self, source: SourceId) {
        if let Some(so_far) = self.followed.get_mut(usize::from(source.0)) {
            *so_far = so_far.saturating_add(1);
        }
    }
}
