//! Frames that arrive, buttons of which only the frames are kept, and entries of calendars.

use device::Payload;
use device::clock::Entry;
use room::{ControllerId, Device, Input, Origin, SourceId, Stimulus};

use super::Model;
use super::instant::Instant;
use crate::path::Happening;

impl Model {
    pub(super) fn arrive(&self, mut moment: Instant, place: usize) -> Vec<Instant> {
        let flight = moment.state.flights.remove(place);
        moment.fired(flight.timer);
        moment.close_ranks(&flight);
        if !moment
            .state
            .room
            .is_powered(Device::Controller(flight.listener))
        {
            return vec![moment];
        }
        self.hear(
            moment,
            flight.listener,
            flight.source,
            flight.payload,
            flight.origin,
        )
    }

    pub(super) fn hear(
        &self,
        moment: Instant,
        listener: ControllerId,
        source: SourceId,
        payload: Payload,
        origin: Origin,
    ) -> Vec<Instant> {
        let input = Input::Frame {
            listener,
            source,
            payload,
        };
        self.handle(moment, origin, input)
    }

    /// A button of a light unit: its frame comes whenever it likes, or a delay after a press.
    pub(super) fn finger(
        &self,
        mut moment: Instant,
        source: SourceId,
        button: u8,
        down: bool,
    ) -> Vec<Instant> {
        moment.cost += 1;
        let stimulus = match down {
            true => Stimulus::Press(button),
            false => Stimulus::Release(button),
        };
        moment.happens(Happening::Input(Input::Stimulus(source, stimulus)));
        let origin = self.root(Origin::Button(source, button));
        moment.state.finger = down.then_some((source, button));
        if down && self.question.seen_presses.contains(&source) {
            let (room, clock) = self.parts(&mut moment, origin);
            room.see(source, stimulus, &clock);
            return self.carry(moment, &[(source, Payload::Down(button))], origin);
        }
        let payload = if down {
            Payload::Down(button)
        } else {
            Payload::Up(button)
        };
        let listeners = &self.question.plan.sources[usize::from(source.0)].listeners;
        let listeners: Vec<_> = listeners.iter().map(|(id, _)| *id).collect();
        self.deliver(vec![moment], source, payload, origin, &listeners)
    }

    pub(super) fn calendar(&self, mut moment: Instant, place: usize) -> Vec<Instant> {
        let calendar = &self.question.calendars[place];
        let at = &calendar.moments[usize::from(moment.state.calendars[place])];
        if !self.question.loose_calendars {
            moment.fired(self.calendar_timer(place));
        }
        moment.cost += u32::from(self.question.entries_cost);
        let mut moments = Vec::new();
        for (number, span) in &at.next {
            let mut moment = moment.clone();
            moment.state.calendars[place] = *number;
            if !self.question.loose_calendars {
                moment.start_timer(self, self.calendar_timer(place), *span);
            }
            let due = |entry: &Entry| Input::Stimulus(calendar.clock, Stimulus::Due(*entry));
            let mut all = vec![moment];
            for input in at.entries.iter().map(due) {
                all = all
                    .into_iter()
                    .flat_map(|mut moment| {
                        moment.happens(Happening::Input(input.clone()));
                        self.handle(moment, self.root(Origin::of(&input)), input.clone())
                    })
                    .collect();
            }
            moments.extend(all);
        }
        moments
    }
}
