//! One model for each room, which schedules its own stimuli, deadline and messages.

use std::sync::Arc;
use std::time::Duration;

use nexosim::model::{Context, Model, schedulable};
use nexosim::simulation::{Mailbox, SimInit};
use serde::{Deserialize, Serialize};

use super::{Log, at, ms};
use crate::workload::{BUS_MS, Controller, DELAY_MS, Message, Stimuli, Stimulus, WINDOW_MS};

/// Adds a model for each room.
pub(super) fn add(mut start: SimInit, stimuli: &Arc<Stimuli>, log: &Log) -> SimInit {
    for number in 0..stimuli.rooms() {
        let room = Room {
            number,
            stimuli: Arc::clone(stimuli),
            log: log.clone(),
            ..Room::default()
        };
        // Names serve error messages only; one for all of them costs the peer least.
        start = start.add_model(room, Mailbox::with_capacity(1), "room");
    }
    start
}

#[derive(Default, Deserialize, Serialize)]
struct Room {
    number: u32,
    taken: usize,
    occupied: bool,
    deadline: u64,
    window_end: u64,
    controller: Controller,
    #[serde(skip)]
    stimuli: Arc<Stimuli>,
    #[serde(skip)]
    log: Log,
}

#[Model]
impl Room {
    #[nexosim(init)]
    async fn init(&mut self, cx: &Context<Self>) {
        if let Some(first) = self.stimuli.of(self.number).first() {
            cx.schedule_event(at(first.ms()), schedulable!(Self::stimulus), ())
                .expect("the first stimulus comes later");
        }
    }

    #[nexosim(schedulable)]
    fn stimulus(&mut self, _: (), cx: &Context<Self>) {
        let list = self.stimuli.of(self.number);
        let timed = list[self.taken];
        let now = timed.ms();
        self.taken += 1;
        if let Some(next) = list.get(self.taken) {
            let span = Duration::from_millis(next.ms() - now);
            cx.schedule_event(span, schedulable!(Self::stimulus), ())
                .expect("the next stimulus comes later");
        }
        match timed.stimulus() {
            Stimulus::Motion => {
                self.deadline = now + DELAY_MS;
                self.window_end = now + WINDOW_MS;
                if !self.occupied {
                    self.occupied = true;
                    send(cx, Message::Occupied);
                    let span = Duration::from_millis(DELAY_MS);
                    cx.schedule_event(span, schedulable!(Self::deadline), ())
                        .expect("the delay is not zero");
                }
            }
            Stimulus::Sound => {
                if self.occupied && now <= self.window_end {
                    self.deadline = now + DELAY_MS;
                }
            }
            Stimulus::Press => send(cx, Message::Toggle),
        }
        self.log.with(|work| work.events += 1);
    }

    #[nexosim(schedulable)]
    fn deadline(&mut self, _: (), cx: &Context<Self>) {
        let now = ms(cx.time());
        if now < self.deadline {
            let span = Duration::from_millis(self.deadline - now);
            cx.schedule_event(span, schedulable!(Self::deadline), ())
                .expect("the deadline was put off");
            return;
        }
        self.occupied = false;
        send(cx, Message::Vacant);
        self.log.with(|work| work.events += 1);
    }

    #[nexosim(schedulable)]
    fn deliver(&mut self, message: Message, cx: &Context<Self>) {
        let now = ms(cx.time());
        let Self {
            log,
            controller,
            number,
            ..
        } = self;
        log.with(|work| {
            work.events += 1;
            controller.take(now, *number, message, &mut work.changes);
        });
    }
}

fn send(cx: &Context<Room>, message: Message) {
    let span = Duration::from_millis(BUS_MS);
    cx.schedule_event(span, schedulable!(Room::deliver), message)
        .expect("the bus is never instant");
}
