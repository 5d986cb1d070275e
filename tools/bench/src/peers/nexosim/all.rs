//! One model holds every room; its scheduled events carry the number of the room.

use std::sync::Arc;
use std::time::Duration;

use nexosim::model::{Context, Model, schedulable};
use nexosim::simulation::{Mailbox, SimInit};
use serde::{Deserialize, Serialize};

use super::{Log, at, ms};
use crate::workload::{BUS_MS, Controller, DELAY_MS, Message, Stimuli, Stimulus, WINDOW_MS};

/// Adds the one model.
pub(super) fn add(start: SimInit, stimuli: &Arc<Stimuli>, log: &Log) -> SimInit {
    let building = Building {
        rooms: vec![Room::default(); stimuli.rooms() as usize],
        stimuli: Arc::clone(stimuli),
        log: log.clone(),
    };
    start.add_model(building, Mailbox::new(), "building")
}

#[derive(Clone, Default, Deserialize, Serialize)]
struct Room {
    taken: usize,
    occupied: bool,
    deadline: u64,
    window_end: u64,
    controller: Controller,
}

#[derive(Default, Deserialize, Serialize)]
struct Building {
    rooms: Vec<Room>,
    #[serde(skip)]
    stimuli: Arc<Stimuli>,
    #[serde(skip)]
    log: Log,
}

#[Model]
impl Building {
    #[nexosim(init)]
    async fn init(&mut self, cx: &Context<Self>) {
        for room in 0..self.stimuli.rooms() {
            if let Some(first) = self.stimuli.of(room).first() {
                cx.schedule_event(at(first.ms()), schedulable!(Self::stimulus), room)
                    .expect("the first stimulus comes later");
            }
        }
    }

    #[nexosim(schedulable)]
    fn stimulus(&mut self, number: u32, cx: &Context<Self>) {
        let room = &mut self.rooms[number as usize];
        let list = self.stimuli.of(number);
        let timed = list[room.taken];
        let now = timed.ms();
        room.taken += 1;
        if let Some(next) = list.get(room.taken) {
            let span = Duration::from_millis(next.ms() - now);
            cx.schedule_event(span, schedulable!(Self::stimulus), number)
                .expect("the next stimulus comes later");
        }
        let mut said = None;
        match timed.stimulus() {
            Stimulus::Motion => {
                room.deadline = now + DELAY_MS;
                room.window_end = now + WINDOW_MS;
                if !room.occupied {
                    room.occupied = true;
                    said = Some(Message::Occupied);
                    let span = Duration::from_millis(DELAY_MS);
                    cx.schedule_event(span, schedulable!(Self::deadline), number)
                        .expect("the delay is not zero");
                }
            }
            Stimulus::Sound => {
                if room.occupied && now <= room.window_end {
                    room.deadline = now + DELAY_MS;
                }
            }
            Stimulus::Press => said = Some(Message::Toggle),
        }
        if let Some(message) = said {
            send(cx, number, message);
        }
        self.log.with(|work| work.events += 1);
    }

    #[nexosim(schedulable)]
    fn deadline(&mut self, number: u32, cx: &Context<Self>) {
        let room = &mut self.rooms[number as usize];
        let now = ms(cx.time());
        if now < room.deadline {
            let span = Duration::from_millis(room.deadline - now);
            cx.schedule_event(span, schedulable!(Self::deadline), number)
                .expect("the deadline was put off");
            return;
        }
        room.occupied = false;
        send(cx, number, Message::Vacant);
        self.log.with(|work| work.events += 1);
    }

    #[nexosim(schedulable)]
    fn deliver(&mut self, (number, message): (u32, Message), cx: &Context<Self>) {
        let room = &mut self.rooms[number as usize];
        let now = ms(cx.time());
        self.log.with(|work| {
            work.events += 1;
            room.controller
                .take(now, number, message, &mut work.changes);
        });
    }
}

fn send(cx: &Context<Building>, number: u32, message: Message) {
    let span = Duration::from_millis(BUS_MS);
    cx.schedule_event(span, schedulable!(Building::deliver), (number, message))
        .expect("the bus is never instant");
}
