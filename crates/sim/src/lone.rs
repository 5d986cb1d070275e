//! One device by itself: what a process that holds it outside its room keeps of the room.
//!
//! It is the room's own code. A lone device lives in a copy of the room in which nothing else
//! happens, so what it answers is what it would have done inside.
//!
//! Invariant: a lone device acts only when it is asked.

use std::sync::Arc;

use clause::Turn;
use device::{Note, Payload, Span};
use room::{Clock, Device, Input, LightModel, Origin, Plan, Room, Slot, Slots, SourceId, Who};

use crate::outside::owner;
use crate::{Asked, Effect, Instant, Question};

/// One device of a room, outside it.
#[derive(Clone, Debug)]
pub struct Lone {
    room: Room,
    clock: LoneClock,
}

/// The clock of a lone device: its own timers, and a note of what it does.
#[derive(Clone, Debug)]
struct LoneClock {
    device: Device,
    slots: Slots,
    now: Instant,
    due: Vec<Option<Instant>>,
    done: Vec<Effect>,
}

impl Lone {
    /// The device as it is before the run begins.
    #[must_use]
    pub fn new(plan: &Plan, device: Device) -> Self {
        let mut plan = plan.clone();
        plan.clauses.clear();
        for source in &mut plan.sources {
            // What the device sees is told with each question, as daylight and nothing else.
            source.light = LightModel {
                daylight: 10_000,
                electric: Vec::new(),
            };
        }
        let room = Room::new(Arc::new(plan));
        let slots = room.slots().clone();
        let clock = LoneClock {
            device,
            due: vec![None; slots.len()],
            slots,
            now: Instant::START,
            done: Vec::new(),
        };
        Self { room, clock }
    }

    /// What the device does when it is asked this. A question for another device does nothing.
    pub fn answer(&mut self, question: &Question) -> Vec<Effect> {
        self.clock.now = question.at;
        match &question.asked {
            Asked::Start => {
                self.room.start(&mut self.clock);
                let (device, plan, slots) =
                    (self.clock.device, self.room.plan(), &self.clock.slots);
                (self.clock.done).retain(|effect| effect.begins(device, plan, slots));
            }
            Asked::Input(input) => {
                if let Input::Elapsed(slot) = input
                    && let Some(due) = self.clock.due.get_mut(usize::from(slot.0))
                {
                    *due = None;
                }
                let seen = Input::Daylight(question.seen);
                self.room.handle(seen, &mut self.clock);
                self.room.handle(input.clone(), &mut self.clock);
            }
        }
        std::mem::take(&mut self.clock.done)
    }

    /// The room that the device thinks it is in.
    #[must_use]
    pub fn room(&self) -> &Room {
        &self.room
    }
}

impl LoneClock {
    fn is_own(&self, slot: Slot) -> bool {
        owner(self.slots.owner(slot)) == Some(self.device)
    }
}

impl Clock for LoneClock {
    fn start(&mut self, slot: Slot, span: Span) {
        if self.is_own(slot) {
            self.due[usize::from(slot.0)] = Some(self.now.after(span));
            self.done.push(Effect::Start(slot, span));
        }
    }

    fn stop(&mut self, slot: Slot) {
        if self.is_own(slot) {
            self.due[usize::from(slot.0)] = None;
            self.done.push(Effect::Stop(slot));
        }
    }

    fn remaining(&self, slot: Slot) -> Option<Span> {
        self.due[usize::from(slot.0)].map(|due| due.since(self.now))
    }

    fn send(&mut self, source: SourceId, payload: Payload) {
        if self.device == Device::Source(source) {
            self.done.push(Effect::Send(source, payload));
        }
    }

    fn note(&mut self, who: Who, note: Note) {
        self.done.push(Effect::Note(who, note));
    }

    fn turn(&mut self, _: u16, _: Turn) {}

    fn origin(&self) -> Origin {
        Origin::Start
    }
}
