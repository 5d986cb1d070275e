//! What can be forgotten of a room because nothing will ever ask for it again.
//!
//! The symbolic clock compares rooms by the million: two that differ only in what nobody will
//! look at are one. Invariant: a clock that knows the time never calls what forgets.

use core::mem::size_of;

use clause::View;
use device::{Illuminance, Level, Span, controller};

use crate::watch::Judged;
use crate::{Clock, Room, Slot, SlotOwner};

/// What a clause sees of a room before its monitor judges: one bit for each of its conditions
/// and one for each of its events, in the order of the formula.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, PartialEq)]
pub struct Signs {
    /// The conditions that hold.
    pub conditions: u128,
    /// The events that happened in this instant.
    pub events: u128,
}

impl Room {
    /// What a clause of the plan sees of the present instant so far. An instant in which no
    /// event of the clause happened and no condition of it changed leaves its monitor as it is.
    #[must_use]
    pub fn signs(&self, clause: u16) -> Signs {
        let formula = &self.plan().clauses[usize::from(clause)].formula;
        let view = Judged::new(self);
        let mut signs = Signs::default();
        for (place, atom) in formula.atoms().enumerate() {
            signs.conditions |= u128::from(view.holds(atom)) << place;
        }
        for (place, event) in formula.events().enumerate() {
            signs.events |= u128::from(view.happened(event)) << place;
        }
        signs
    }

    /// Whether no finger is on a button, nor for all that the controllers have heard.
    #[must_use]
    pub fn is_untouched(&self) -> bool {
        let plan = self.plan();
        let at_rest = |(id, _)| match self.source(crate::SourceId(id)).machine() {
            crate::Machine::Switch(unit) => unit.is_at_rest(),
            _ => true,
        };
        let heard = |(id, _)| self.controller(crate::ControllerId(id)).is_pressed();
        (0..).zip(&plan.sources).all(at_rest) && !(0..).zip(&plan.controllers).any(heard)
    }

    /// Whether a level on its way has come to another side of one that a clause compares it with
    /// since it was last judged: then a monitor judges though nothing else happens.
    #[must_use]
    pub fn has_crossed(&self, clock: &impl Clock) -> bool {
        let crossed = |it: &crate::Watched| {
            let view = self.glimpse(it.output, clock);
            it.zone(&view) != it.zone(self.watch().stood(it.output))
        };
        self.watched().iter().any(crossed)
    }

    /// In which stretch between levels that clauses compare it with each watched level will be
    /// found, in their order, when the monitors judge at the clock's present moment: all that
    /// clauses which follow no move see of where a level on its way stands.
    pub fn stretches<'a>(&'a self, clock: &'a impl Clock) -> impl Iterator<Item = usize> + 'a {
        let stretch = |it: &crate::Watched| match self.watch().moving(it.output) {
            true => it.zone(&self.glimpse(it.output, clock)),
            false => it.zone(self.watch().stood(it.output)),
        };
        self.watched().iter().map(stretch)
    }

    /// Forgets what the monitors have exercised.
    pub fn forget_exercise(&mut self) {
        for monitor in self.monitors_mut() {
            monitor.forget_exercise();
        }
    }

    /// Forgets who set an output moving that has arrived; and unless `levels`, at which levels
    /// the outputs were last seen: without clauses that compare or follow levels nothing asks.
    pub fn forget_sights(&mut self, levels: bool) {
        self.watch_mut().forget(levels);
    }

    /// Forgets at which levels the outputs stand.
    pub fn forget_levels(&mut self, somewhere: Level) {
        let plan = self.shared_plan();
        for (controller, plan) in self.controllers_mut().iter_mut().zip(&plan.controllers) {
            controller.forget_levels(&plan.settings, somewhere);
        }
    }

    /// Lets the monitors see a stimulus that no source notices here.
    pub fn see(&mut self, source: crate::SourceId, stimulus: crate::Stimulus, clock: &impl Clock) {
        self.watch_mut().stimulus(source, stimulus, clock.origin());
    }

    /// Makes it this light outside, which nothing notices.
    pub fn pretend_daylight(&mut self, light: Illuminance) {
        self.set_daylight(light);
    }

    /// Replaces every level that is not a setting by the level that stands for it.
    pub fn round_levels(&mut self, stands_for: impl Fn(Level) -> Level) {
        let plan = self.shared_plan();
        for (controller, plan) in self.controllers_mut().iter_mut().zip(&plan.controllers) {
            controller.round_levels(&plan.settings, &stands_for);
        }
    }

    /// Replaces every level that was last seen by one that the clauses do not tell from it;
    /// `follows`: they see that a level is raised or lowered.
    pub fn round_sights(&mut self, follows: bool, stands_for: impl Fn(Level) -> Level) {
        let watched = self.shared_watched();
        self.watch_mut()
            .round_levels(&watched, follows, &stands_for);
    }

    /// The memory that the room takes in bytes beside its own size, what rooms of one plan share
    /// apart.
    #[must_use]
    pub fn bytes(&self) -> usize {
        let plan = self.plan();
        let controllers = plan.controllers.iter().map(|it| {
            controller::Controller::bytes(&it.settings) + size_of::<controller::Controller>()
        });
        plan.sources.len() * size_of::<crate::Source>()
            + controllers.sum::<usize>()
            + plan.clauses.len() * (size_of::<clause::Monitor>() + size_of::<u32>())
            + plan.outputs.len() * size_of::<(controller::View, crate::Origin, bool)>()
    }

    /// The level that is on its way while this slot runs: from where to where, and the span of
    /// the whole way. `None` for slots during which no level moves.
    #[must_use]
    pub fn way(&self, slot: Slot, clock: &impl Clock) -> Option<(Level, Level, Span)> {
        let SlotOwner::Controller(id, controller::Timer::Output(output, timer)) =
            self.slots().owner(slot)
        else {
            return None;
        };
        let settings = &self.plan().controllers[usize::from(id.0)].settings;
        let glance = self.glance(id, clock);
        self.controller(id).way(settings, output, timer, &glance)
    }
}
