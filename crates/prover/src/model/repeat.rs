//! Reports that repeat what is believed, left out where they change nothing.
//!
//! A source says what it believes each few minutes. A room in which no frame is lost has
//! believed it since it became so, and most controllers make nothing of a repetition: then the
//! reports need no timers here. It is not taken for granted: at every state class the report
//! of each source is tried on a copy of the room. Where one changes anything at all, the
//! exploration says so, and is begun anew with reports that come whenever they like.

use device::{Note, Payload, Span, card, clock, occupancy, signal};
use room::{
    Clock, ControllerId, Device, Input, Origin, Room, Slot, SlotOwner, SourceId, SourceSettings,
    Who,
};

use super::Model;
use super::state::State;
use crate::zone::Zone;

/// The slot of the report of a source that repeats its state; `None` for wall units and for
/// sensors whose reports are measurements.
pub(super) fn report_slot(room: &Room, source: SourceId) -> Option<Slot> {
    let number = match &room.plan().sources[usize::from(source.0)].settings {
        SourceSettings::Occupancy(_) => occupancy::Timer::Report.number(),
        SourceSettings::Card(_) => card::Timer::Report.number(),
        SourceSettings::Clock(_) => clock::Timer::Report.number(),
        SourceSettings::Signal(_) => signal::Timer::Report.number(),
        SourceSettings::Switch(_) | SourceSettings::Daylight(_) => return None,
    };
    Some(room.slots().slot(SlotOwner::Source(source, number)))
}

impl Model {
    /// The first source whose report would change something in this state.
    pub(super) fn heeded_report(&self, state: &State, zone: &Zone) -> Option<SourceId> {
        let sources = (0..).map(SourceId).zip(&self.question.plan.sources);
        let free = &self.question.free_reports;
        sources
            .filter(|(id, _)| !free.contains(id))
            .filter(|(id, _)| state.room.source(*id).is_powered())
            .find_map(|(id, source)| {
                let on_its_way = state.flights.iter().any(|flight| flight.source == id);
                let slot = report_slot(&state.room, id).filter(|_| !on_its_way)?;
                let mut listeners = source.listeners.iter();
                listeners
                    .any(|(listener, _)| self.heeds((&state.room, zone), id, slot, *listener))
                    .then_some(id)
            })
    }

    fn heeds(
        &self,
        (room, zone): (&Room, &Zone),
        source: SourceId,
        slot: Slot,
        listener: ControllerId,
    ) -> bool {
        if !room.is_powered(Device::Controller(listener)) {
            return false;
        }
        let mut probe = Probe::new(zone);
        let mut sender = room.clone();
        sender.handle(Input::Elapsed(slot), &mut probe);
        let Some(payload) = probe.sent else {
            return false;
        };
        let mut after = room.clone();
        let mut probe = Probe::new(zone);
        let input = Input::Frame {
            listener,
            source,
            payload,
        };
        after.handle(input, &mut probe);
        probe.touched || !same(&after, room)
    }
}

/// Whether no device has moved. What was last seen of levels on their way may have.
fn same(after: &Room, before: &Room) -> bool {
    let plan = before.plan();
    let source = |(id, _)| after.source(SourceId(id)) == before.source(SourceId(id));
    let controller =
        |(id, _)| after.controller(ControllerId(id)) == before.controller(ControllerId(id));
    (0..).zip(&plan.sources).all(source) && (0..).zip(&plan.controllers).all(controller)
}

/// A clock that only sees whether it is asked to do anything.
#[derive(Debug)]
struct Probe<'a> {
    zone: &'a Zone,
    touched: bool,
    sent: Option<Payload>,
}

impl<'a> Probe<'a> {
    fn new(zone: &'a Zone) -> Self {
        Self {
            zone,
            touched: false,
            sent: None,
        }
    }
}

impl Clock for Probe<'_> {
    fn start(&mut self, _: Slot, _: Span) {
        self.touched = true;
    }

    fn stop(&mut self, _: Slot) {}

    fn remaining(&self, slot: Slot) -> Option<Span> {
        let is_running = self.zone.is_running(slot.0);
        is_running.then_some(Span::from_ms(1))
    }

    fn send(&mut self, _: SourceId, payload: Payload) {
        self.sent = Some(payload);
    }

    fn note(&mut self, _: Who, _: Note) {}

    fn turn(&mut self, _: u16, _: clause::Turn) {}

    fn origin(&self) -> Origin {
        Origin::Start
    }
}
