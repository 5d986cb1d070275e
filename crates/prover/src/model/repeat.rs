//! Reports that repeat what is believed, left out where they change nothing.
//!
//! A source says what it believes each few minutes. A room in which no frame is lost has
//! believed it since it became so, and most controllers make nothing of a repetition: then the
//! reports need no timers here. It is not taken for granted: at every state class the report
//! of each source is tried on a copy of the room. Where one changes anything at all, the
//! exploration says so, and is begun anew with reports that come whenever they like.

use device::{Note, Payload, Span, card, clock, daylight, occupancy, signal};
use room::{
    Clock, ControllerId, Device, Input, Machine, Origin, Room, Slot, SlotOwner, SourceId,
    SourceSettings, Who,
};

use super::Model;
use super::instant::Instant;
use super::state::State;
use crate::slice::repeats_itself;
use crate::zone::Zone;

impl Model {
    /// The slot of the report of a source that repeats its state; `None` for wall units, and for
    /// sensors that measure, unless they are known to measure the same again and again.
    pub(super) fn report_slot(&self, room: &Room, source: SourceId) -> Option<Slot> {
        let number = match &room.plan().sources[usize::from(source.0)].settings {
            SourceSettings::Occupancy(_) => occupancy::Timer::Report.number(),
            SourceSettings::Card(_) => card::Timer::Report.number(),
            SourceSettings::Clock(_) => clock::Timer::Report.number(),
            SourceSettings::Signal(_) => signal::Timer::Report.number(),
            SourceSettings::Daylight(_) => {
                self.makes_up(source)?;
                daylight::Timer::Report.number()
            }
            SourceSettings::Switch(_) => return None,
        };
        Some(room.slots().slot(SlotOwner::Source(source, number)))
    }

    /// The span within which a source says again how it stands when a frame of it was lost.
    fn makes_up(&self, source: SourceId) -> Option<Span> {
        let known = self.question.makes_up.iter().find(|(it, _)| *it == source);
        known.map(|(_, span)| *span)
    }

    /// After a frame that says how a source stands: where it was lost at a listener the source says again within a
    /// while how it stands, and where all have heard it nobody waits for that.
    pub(super) fn make_up(
        &self,
        moment: &mut Instant,
        source: SourceId,
        origin: Origin,
        is_lost: bool,
    ) {
        let Some(span) = self.makes_up(source) else {
            return;
        };
        let Some(slot) = self.report_slot(&moment.state.room, source) else {
            return;
        };
        let (_, mut clock) = self.parts(moment, origin);
        clock.stop(slot);
        if is_lost {
            clock.start_within(slot, span);
        }
    }

    /// What a report that makes up for a lost frame may go back to beside the lost frame: a motion
    /// after which a sensor says again that it is occupied (OCC-13).
    pub(super) fn root_of_repeat(&self, slot: Slot) -> Option<Origin> {
        let SlotOwner::Source(source, number) = self.owner(slot) else {
            return None;
        };
        self.makes_up(source)?;
        let settings = &self.question.plan.sources[usize::from(source.0)].settings;
        let repeats = matches!(settings, SourceSettings::Occupancy(_))
            && number == occupancy::Timer::Report.number();
        repeats.then(|| self.root(Origin::Motion(source)))
    }

    /// Whether a report of a source that repeats what is believed is left out in this state.
    fn is_silent(&self, state: &State, zone: &Zone, source: SourceId) -> bool {
        let waits = || {
            let slot = self.report_slot(&state.room, source);
            slot.is_some_and(|slot| zone.is_running(slot.0))
        };
        // A sensor that has never measured has nothing to repeat.
        let measures = match state.room.source(source).machine() {
            Machine::Daylight(sensor) => sensor.reported().is_some(),
            _ => true,
        };
        let settings = &self.question.plan.sources[usize::from(source.0)].settings;
        let faultless = self.question.faults.is_none() && !repeats_itself(settings);
        measures && (faultless || (self.makes_up(source).is_some() && !waits()))
    }

    /// The first source whose report would change something in this state.
    pub(super) fn heeded_report(&self, state: &State, zone: &Zone) -> Option<SourceId> {
        let sources = (0..).map(SourceId).zip(&self.question.plan.sources);
        let free = &self.question.free_reports;
        sources
            .filter(|(id, _)| !free.contains(id) && self.is_silent(state, zone, *id))
            .filter(|(id, _)| state.room.source(*id).is_powered())
            .find_map(|(id, source)| {
                let on_its_way = state.flights.iter().any(|flight| flight.source == id);
                let slot = self.report_slot(&state.room, id).filter(|_| !on_its_way)?;
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
