//! The numbering of every timer slot of a room.
//!
//! Invariant: slots are numbered in the order of ORD-1, by source, then output, then slot name,
//! and the timers of the clauses come last; so of two timers that elapse at one instant the one
//! with the lower number goes first.

use alloc::vec::Vec;

use device::{card, clock, controller, daylight, occupancy, signal, switch};

use crate::{ControllerId, OutputId, Plan, Slot, SlotOwner, SourceId, SourceSettings};

/// Which timer has which slot, both ways, each by one look into a table.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Slots {
    owners: Vec<SlotOwner>,
    /// First slot of each source's own timers.
    sources: Vec<u16>,
    controllers: Vec<ControllerSlots>,
    /// First slot of each clause's timers.
    clauses: Vec<u16>,
}

impl Slots {
    /// Numbers the slots of `plan`.
    ///
    /// # Panics
    ///
    /// When the plan has more than 65 535 timers, or an index in it points nowhere.
    #[must_use]
    pub fn new(plan: &Plan) -> Self {
        let mut keyed: Vec<(Key, SlotOwner)> = Vec::new();
        for (index, source) in (0..).zip(&plan.sources) {
            let id = SourceId(index);
            keyed.extend((0..timers(&source.settings)).map(|number| {
                let owner = SlotOwner::Source(id, number);
                (Key::source(id, 0, Rank::Own, 0, number.into()), owner)
            }));
        }
        for (index, controller) in (0..).zip(&plan.controllers) {
            let id = ControllerId(index);
            let own = |timer| (key(id, timer, plan), SlotOwner::Controller(id, timer));
            keyed.extend(controller_timers(&controller.settings).map(own));
        }
        for (index, clause) in (0..).zip(&plan.clauses) {
            keyed.extend((0..clause.formula.timers()).map(|number| {
                let owner = SlotOwner::Clause(index, number);
                (Key::clause(index, number), owner)
            }));
        }
        keyed.sort_unstable_by_key(|&(key, _)| key);
        let mut slots = Self::unnumbered(plan);
        for (slot, &(_, owner)) in (0_u16..).zip(&keyed) {
            slots.enter(owner, slot);
        }
        slots.owners = keyed.into_iter().map(|(_, owner)| owner).collect();
        assert!(
            slots.owners.len() <= usize::from(u16::MAX),
            "too many timers for one room"
        );
        slots
    }

    /// How many slots there are.
    #[must_use]
    pub fn len(&self) -> usize {
        self.owners.len()
    }

    /// Whether the room has no timer at all.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.owners.is_empty()
    }

    /// The owner of each slot, by its number.
    #[must_use]
    pub fn owners(&self) -> &[SlotOwner] {
        &self.owners
    }

    /// Whose timer `slot` is.
    #[must_use]
    pub fn owner(&self, slot: Slot) -> SlotOwner {
        self.owners[usize::from(slot.0)]
    }

    /// The slot of a timer.
    #[must_use]
    pub fn slot(&self, owner: SlotOwner) -> Slot {
        match owner {
            SlotOwner::Source(source, number) => self.source(source, number),
            SlotOwner::Controller(id, timer) => self.controller(id).slot(timer),
            SlotOwner::Clause(clause, number) => self.clause(clause, number),
        }
    }

    /// The slot of a source's own timer, by its number.
    #[must_use]
    #[inline]
    pub fn source(&self, source: SourceId, number: u8) -> Slot {
        Slot(self.sources[usize::from(source.0)] + u16::from(number))
    }

    /// The slots of a controller.
    #[must_use]
    pub fn controller(&self, id: ControllerId) -> &ControllerSlots {
        &self.controllers[usize::from(id.0)]
    }

    /// The slot of a timer of a clause's monitor, by its number.
    #[must_use]
    pub fn clause(&self, clause: u16, number: u8) -> Slot {
        Slot(self.clauses[usize::from(clause)] + u16::from(number))
    }

    /// Whether a slot belongs to a clause's monitor: those elapse after every device's.
    #[must_use]
    pub fn is_clause(&self, slot: Slot) -> bool {
        slot.0 >= self.first_clause()
    }

    /// The first slot that belongs to a clause's monitor; their number when there is none.
    #[must_use]
    pub fn first_clause(&self) -> u16 {
        self.clauses.first().copied().unwrap_or(u16::MAX)
    }

    /// Tables of the right size that hold no number yet.
    fn unnumbered(plan: &Plan) -> Self {
        let tables = plan.controllers.iter().map(|controller| {
            let settings = &controller.settings;
            ControllerSlots {
                silence: alloc::vec![0; settings.heard.len()],
                threshold: alloc::vec![0; settings.buttons.len()],
                run_on: alloc::vec![0; settings.links.len()],
                outputs: alloc::vec![0; settings.outputs.len()],
            }
        });
        Self {
            owners: Vec::new(),
            sources: alloc::vec![0; plan.sources.len()],
            controllers: tables.collect(),
            clauses: alloc::vec![u16::MAX; plan.clauses.len()],
        }
    }

    /// Enters one number into the table of its owner.
    fn enter(&mut self, owner: SlotOwner, slot: u16) {
        let first = |number: u8| slot - u16::from(number);
        match owner {
            SlotOwner::Source(source, number) => {
                self.sources[usize::from(source.0)] = first(number);
            }
            SlotOwner::Clause(clause, number) => {
                self.clauses[usize::from(clause)] = first(number);
            }
            SlotOwner::Controller(id, timer) => {
                let tables = &mut self.controllers[usize::from(id.0)];
                match timer {
                    controller::Timer::Silence(heard) => {
                        tables.silence[usize::from(heard)] = slot;
                    }
                    controller::Timer::Threshold(button) => {
                        tables.threshold[usize::from(button)] = slot;
                    }
                    controller::Timer::RunOn(link) => tables.run_on[usize::from(link)] = slot,
                    controller::Timer::Output(output, timer) => {
                        tables.outputs[usize::from(output)] = first(timer as u8);
                    }
                }
            }
        }
    }
}

/// The slots of one controller.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct ControllerSlots {
    silence: Vec<u16>,
    threshold: Vec<u16>,
    run_on: Vec<u16>,
    /// First slot of each output's timers.
    outputs: Vec<u16>,
}

impl ControllerSlots {
    /// The slot of a controller's timer.
    #[must_use]
    #[inline]
    pub fn slot(&self, timer: controller::Timer) -> Slot {
        Slot(match timer {
            controller::Timer::Silence(heard) => self.silence[usize::from(heard)],
            controller::Timer::Threshold(button) => self.threshold[usize::from(button)],
            controller::Timer::RunOn(link) => self.run_on[usize::from(link)],
            controller::Timer::Output(output, timer) => {
                self.outputs[usize::from(output)] + u16::from(timer as u8)
            }
        })
    }
}

/// The place of a slot in the order of ORD-1.
#[derive(Clone, Copy, Eq, Ord, PartialEq, PartialOrd)]
struct Key {
    class: Class,
    source: u16,
    /// One more than the output, so that what concerns no output comes first.
    output: u16,
    rank: Rank,
    controller: u16,
    number: u16,
}

/// Timers about a source, timers about an output only, timers of clauses.
#[derive(Clone, Copy, Eq, Ord, PartialEq, PartialOrd)]
enum Class {
    Source,
    Output,
    Clause,
}

/// The names of the slots about a source: its own first, then the controllers' by name.
#[derive(Clone, Copy, Eq, Ord, PartialEq, PartialOrd)]
enum Rank {
    Own,
    RunOn,
    Silence,
    Threshold,
}

impl Key {
    fn source(source: SourceId, output: u16, rank: Rank, controller: u16, number: u16) -> Self {
        Self {
            class: Class::Source,
            source: source.0,
            output,
            rank,
            controller,
            number,
        }
    }

    fn output(output: OutputId, number: u16) -> Self {
        Self {
            class: Class::Output,
            source: 0,
            output: output.0 + 1,
            rank: Rank::Own,
            controller: 0,
            number,
        }
    }

    fn clause(clause: u16, number: u8) -> Self {
        Self {
            class: Class::Clause,
            source: clause,
            output: 0,
            rank: Rank::Own,
            controller: 0,
            number: number.into(),
        }
    }
}

/// The place of a controller's timer.
fn key(id: ControllerId, timer: controller::Timer, plan: &Plan) -> Key {
    let controller = &plan.controllers[usize::from(id.0)];
    let settings = &controller.settings;
    let source = |heard: u8| controller.heard[usize::from(heard)];
    match timer {
        controller::Timer::Silence(heard) => Key::source(source(heard), 0, Rank::Silence, id.0, 0),
        controller::Timer::Threshold(button) => {
            let heard = settings.buttons[usize::from(button)].heard;
            Key::source(source(heard), 0, Rank::Threshold, id.0, button.into())
        }
        controller::Timer::RunOn(link) => {
            let ends = &settings.links[usize::from(link)];
            let output = controller.outputs[usize::from(ends.output)].0 + 1;
            Key::source(source(ends.heard), output, Rank::RunOn, id.0, link.into())
        }
        controller::Timer::Output(output, timer) => {
            Key::output(controller.outputs[usize::from(output)], timer as u16)
        }
    }
}

/// Every timer of a controller.
fn controller_timers(
    settings: &controller::Settings,
) -> impl Iterator<Item = controller::Timer> + '_ {
    let count = |length: usize| 0..u8::try_from(length).expect("indices of a controller are u8");
    let outputs = count(settings.outputs.len());
    count(settings.heard.len())
        .map(controller::Timer::Silence)
        .chain(count(settings.buttons.len()).map(controller::Timer::Threshold))
        .chain(count(settings.links.len()).map(controller::Timer::RunOn))
        .chain(outputs.flat_map(|output| {
            controller::OutputTimer::ALL
                .into_iter()
                .map(move |timer| controller::Timer::Output(output, timer))
        }))
}

/// How many timers a source has of its own.
fn timers(settings: &SourceSettings) -> u8 {
    match settings {
        SourceSettings::Occupancy(_) => occupancy::Timer::COUNT,
        SourceSettings::Switch(_) => switch::Timer::COUNT,
        SourceSettings::Card(_) => card::Timer::COUNT,
        SourceSettings::Daylight(_) => daylight::Timer::COUNT,
        SourceSettings::Clock(_) => clock::Timer::COUNT,
        SourceSettings::Signal(_) => signal::Timer::COUNT,
    }
}

#[cfg(test)]
mod tests;
