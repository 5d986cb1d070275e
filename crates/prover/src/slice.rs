//! Cone of influence: the part of a room that can influence some clauses.
//!
//! # What comes in
//!
//! | what | because |
//! |---|---|
//! | every output and source that a clause speaks of | it is asked for |
//! | the outputs of one relay with an output | on, off, occupied and captive are the relay's (OUT-2) |
//! | the outputs of its group, where one button moves both | a ramp starts at the highest of the group (DAY-8) |
//! | every source with a stored link to it | nothing else sends it a frame that acts: a controller acts along stored links only (LINK-2) |
//! | the other outputs that a closed loop limits with it | what they bring is taken off what the sensor sees (DAY-3) |
//! | the outputs whose light falls on a sensor of light | it sees them (DAY-2, OCC-9) |
//! | of a source whose belief is asked for, the first listener and one output linked there | that controller is the one that is asked, and it hears only what it was taught |
//! | of a unit whose taps or holds are asked for, every controller that may tell them | the same |
//!
//! The cone is closed under these rules, so by induction over the inputs of a run an output of
//! the slice, a source of it and what a controller believes of that source stand in the slice
//! as they stand in the whole room: sources act on nothing but their stimuli (and light), and a
//! controller handles a frame link by link, a timer for its own output. What is left out reads
//! the slice and never writes it, but for the decisions of shared buttons. Links that are not
//! stored are dropped, because nobody teaches in a proof; only of daylight loops the constants
//! are kept, which a controller looks up among stored and unstored links alike. Buttons of a
//! unit do not touch each other, so those that lead nowhere are not pressed.
//!
//! # Twins
//!
//! Outputs of one controller with equal settings and equal links hear the same, and what one of
//! them is to do the other is to do at the same instant: they stand alike at the end of each, so
//! one of them is kept and clauses that speak of another are asked of it. A button, a group and a
//! relay ask their outputs for any, for all or for the highest, which is the same of two that
//! stand alike as of one (`slice/fold.rs`).
//!
//! # Ghosts
//!
//! An output that shares an *up* or a single button with an output of the slice, and is not
//! needed otherwise, becomes a ghost: the decisions of that button ask how it stands. Which
//! facts those are, and why one output can stand for all of a controller's others, is said at
//! [`device::controller::Pretence`]: the facts are questions for any and for all, each decision
//! is an input of its own, and before each the ghost may be made to stand anew. So the ghost
//! keeps links of the shared buttons only; whoever explores the slice makes it stand in every
//! way of [`room::Room::pretences`] before an input and puts it to rest after it. That is an
//! over-approximation: the others may not be able to stand so at that moment. *Down* and scene
//! buttons ask of each output by itself, so they need no ghost.
//!
//! Invariant: names keep their order, so the order of ORD-1 among what is left is the same.

use std::fmt::Write;
use std::sync::Arc;

use clause::{Compare, Mentions, Quantity};
use device::{Level, clock, signal};
use room::{ControllerId, OutputId, Plan, SourceId, SourceSettings, Stimulus};

mod alike;
mod build;
mod cone;
mod fold;
mod levels;
mod reduce;

pub use alike::symmetric;
pub(crate) use fold::are_asked_alike;
pub use levels::levels;
pub use reduce::{repeats_itself, without_fades, without_idle_reports, without_reports};

/// A part of a room, as a plan of its own. Its ids are places in the small plan.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Slice {
    /// The small plan.
    pub plan: Arc<Plan>,
    /// The source of the whole room that each source is.
    pub sources: Vec<SourceId>,
    /// The output of the whole room that each output is; for a ghost the first it stands for.
    pub outputs: Vec<OutputId>,
    /// The outputs of the whole room that are left out because they stand as one that is not,
    /// each with that one.
    pub folded: Vec<(OutputId, OutputId)>,
    /// The outputs of the whole room that are left out because no clause speaks of them and one
    /// that stands as they do, but under a higher daylight limit, is there, each with that one.
    pub outshone: Vec<(OutputId, OutputId)>,
    /// Whether sheds were left out because they only lower light, at which no clause looks. A ramp
    /// down starts from what shows, so its way may then be another one than in a run.
    pub ignores_sheds: bool,
    /// The controller of the whole room that each controller is.
    pub controllers: Vec<ControllerId>,
    /// The clause of the whole room that each clause is.
    pub clauses: Vec<u16>,
    /// The outputs that stand for others, one for a controller at most.
    pub ghosts: Vec<OutputId>,
    /// What may happen at its sources, but for entries of clocks ([`Self::entries`]) and light.
    /// No card is wrong where the reader does not verify; a shed is for the outputs' own points.
    pub stimuli: Vec<(SourceId, Stimulus)>,
}

impl Slice {
    /// What can influence these clauses of a room, by their numbers.
    #[must_use]
    pub fn of(plan: &Plan, clauses: &[u16]) -> Self {
        Self::with(plan, clauses, &[], &[])
    }

    /// The same, with outputs and sources that are wanted too.
    #[must_use]
    pub fn with(plan: &Plan, clauses: &[u16], outputs: &[OutputId], sources: &[SourceId]) -> Self {
        let mut clauses = clauses.to_vec();
        clauses.sort_unstable();
        clauses.dedup();
        let mut mentions = Mentions::default();
        for clause in &clauses {
            mentions.merge(plan.clauses[usize::from(*clause)].formula.mentions());
        }
        let cone = cone::Cone::of(plan, &mentions, outputs, sources);
        build::build(plan, &cone, &mentions, clauses)
    }

    /// What can influence the light of these outputs: nothing is asked of them, but at which level
    /// they stand and what they show counts.
    #[must_use]
    pub fn of_light(plan: &Plan, outputs: &[OutputId]) -> Self {
        let mut mentions = Mentions::default();
        let dark = Compare::Is(Level::OFF);
        let seen = outputs.iter().map(|it| (it.0, Quantity::Light, dark));
        mentions.levels.extend(seen);
        let cone = cone::Cone::of(plan, &mentions, &[], &[]);
        build::build(plan, &cone, &mentions, Vec::new())
    }

    /// The same with the outputs themselves where [`Self::of`] has ghosts, and all that they need.
    #[must_use]
    pub fn without_ghosts(plan: &Plan, clauses: &[u16]) -> Self {
        let mut wanted = Vec::new();
        loop {
            let slice = Self::with(plan, clauses, &wanted, &[]);
            if slice.ghosts.is_empty() {
                return slice;
            }
            let stands_for = |ghost: &OutputId| slice.outputs[usize::from(ghost.0)];
            wanted.extend(slice.ghosts.iter().map(stands_for));
        }
    }

    /// The entries that may fall due at the clocks of the slice.
    #[must_use]
    pub fn entries(&self) -> Vec<(SourceId, Stimulus)> {
        let clocks = (0..).map(SourceId).zip(&self.plan.sources);
        clocks
            .filter(|(_, source)| matches!(source.settings, SourceSettings::Clock(_)))
            .flat_map(|(id, _)| {
                [
                    clock::Entry::Opening,
                    clock::Entry::Closing,
                    clock::Entry::Sweep,
                ]
                .map(|entry| (id, Stimulus::Due(entry)))
            })
            .collect()
    }

    /// The slice in one line: outputs, then sources with what may happen at them.
    #[must_use]
    pub fn said(&self) -> String {
        let outputs: Vec<String> = (0..)
            .map(OutputId)
            .zip(&self.plan.outputs)
            .map(|(id, output)| {
                let others = if self.ghosts.contains(&id) {
                    " (for others of a button)"
                } else {
                    ""
                };
                let twins = match self.twins(id) {
                    0 => String::new(),
                    1 => " (and one that stands as it does)".to_string(),
                    twins => format!(" (and {twins} that stand as it does)"),
                };
                let outshone = match self.outshone_by(id) {
                    0 => String::new(),
                    1 => " (and one that it outshines)".to_string(),
                    many => format!(" (and {many} that it outshines)"),
                };
                format!("{}{others}{twins}{outshone}", output.name)
            })
            .collect();
        let mut said = outputs.join(", ");
        for (id, source) in (0..).map(SourceId).zip(&self.plan.sources) {
            if !said.is_empty() {
                said.push_str("; ");
            }
            said.push_str(&source.name);
            let happens = self.happens_at(id);
            if !happens.is_empty() {
                write!(said, " {happens}").expect("a string takes everything");
            }
        }
        said
    }

    /// How many outputs of the whole room stand as this one does and are left out.
    fn twins(&self, id: OutputId) -> usize {
        let old = self.outputs[usize::from(id.0)];
        self.folded
            .iter()
            .filter(|(_, as_it)| *as_it == old)
            .count()
    }

    /// How many outputs of the whole room are left out because this one outshines them.
    fn outshone_by(&self, id: OutputId) -> usize {
        let old = self.outputs[usize::from(id.0)];
        self.outshone.iter().filter(|(_, by)| *by == old).count()
    }

    /// What may happen at a source, in words.
    fn happens_at(&self, id: SourceId) -> String {
        let source = &self.plan.sources[usize::from(id.0)];
        let mut of_it = self.stimuli.iter().filter(|(at, _)| *at == id);
        match &source.settings {
            SourceSettings::Occupancy(_) if of_it.any(|(_, it)| *it == Stimulus::Sound) => {
                "motion and sound".to_string()
            }
            SourceSettings::Occupancy(_) => "motion".to_string(),
            SourceSettings::Switch(_) => {
                let pressed = of_it.filter_map(|(_, it)| match it {
                    Stimulus::Press(button) => source.buttons.get(usize::from(*button)),
                    _ => None,
                });
                pressed.map(String::as_str).collect::<Vec<_>>().join(", ")
            }
            SourceSettings::Card(_) => "in and out".to_string(),
            SourceSettings::Daylight(_) => "light".to_string(),
            SourceSettings::Clock(_) => "entries".to_string(),
            SourceSettings::Signal(it) => match it.kind {
                signal::Kind::NormalPower => "lost and back".to_string(),
                signal::Kind::FireAlarm => "sounding and quiet".to_string(),
                signal::Kind::DemandResponse => "shed and end".to_string(),
            },
        }
    }
}
