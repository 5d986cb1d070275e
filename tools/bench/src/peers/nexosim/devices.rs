//! Devices as models with ports: feed, sensor, switch, bus and controller for each room.

use std::sync::Arc;
use std::time::Duration;

use nexosim::model::{Context, Model, schedulable};
use nexosim::ports::Output;
use nexosim::simulation::{Mailbox, SimInit};
use serde::{Deserialize, Serialize};

use super::{Log, at, ms};
use crate::workload::{
    BUS_MS, Controller as Levels, DELAY_MS, Message, Stimuli, Stimulus, WINDOW_MS,
};

/// Adds five models for each room.
pub(super) fn add(mut start: SimInit, stimuli: &Arc<Stimuli>, log: &Log) -> SimInit {
    for number in 0..stimuli.rooms() {
        let (sensor_box, switch_box) = (Mailbox::with_capacity(1), Mailbox::with_capacity(1));
        let (bus_box, controller_box) = (Mailbox::with_capacity(2), Mailbox::with_capacity(1));
        let mut feed = Feed {
            number,
            stimuli: Arc::clone(stimuli),
            ..Feed::default()
        };
        feed.motion.connect(Sensor::motion, &sensor_box);
        feed.sound.connect(Sensor::sound, &sensor_box);
        feed.press.connect(Switch::press, &switch_box);
        let mut sensor = Sensor {
            log: log.clone(),
            ..Sensor::default()
        };
        sensor.frame.connect(Bus::carry, &bus_box);
        let mut switch = Switch {
            log: log.clone(),
            ..Switch::default()
        };
        switch.frame.connect(Bus::carry, &bus_box);
        let mut bus = Bus::default();
        bus.frame.connect(Controller::take, &controller_box);
        let controller = Controller {
            number,
            levels: Levels::default(),
            log: log.clone(),
        };
        start = start
            .add_model(feed, Mailbox::with_capacity(1), "feed")
            .add_model(sensor, sensor_box, "sensor")
            .add_model(switch, switch_box, "switch")
            .add_model(bus, bus_box, "bus")
            .add_model(controller, controller_box, "controller");
    }
    start
}

/// Plays the stimuli of its room.
#[derive(Default, Deserialize, Serialize)]
struct Feed {
    number: u32,
    taken: usize,
    motion: Output<()>,
    sound: Output<()>,
    press: Output<()>,
    #[serde(skip)]
    stimuli: Arc<Stimuli>,
}

#[Model]
impl Feed {
    #[nexosim(init)]
    async fn init(&mut self, cx: &Context<Self>) {
        if let Some(first) = self.stimuli.of(self.number).first() {
            cx.schedule_event(at(first.ms()), schedulable!(Self::stimulus), ())
                .expect("the first stimulus comes later");
        }
    }

    #[nexosim(schedulable)]
    async fn stimulus(&mut self, _: (), cx: &Context<Self>) {
        let list = self.stimuli.of(self.number);
        let timed = list[self.taken];
        self.taken += 1;
        if let Some(next) = list.get(self.taken) {
            let span = Duration::from_millis(next.ms() - timed.ms());
            cx.schedule_event(span, schedulable!(Self::stimulus), ())
                .expect("the next stimulus comes later");
        }
        match timed.stimulus() {
            Stimulus::Motion => self.motion.send(()).await,
            Stimulus::Sound => self.sound.send(()).await,
            Stimulus::Press => self.press.send(()).await,
        }
    }
}

/// The occupancy sensor.
#[derive(Default, Deserialize, Serialize)]
struct Sensor {
    occupied: bool,
    deadline: u64,
    window_end: u64,
    frame: Output<Message>,
    #[serde(skip)]
    log: Log,
}

#[Model]
impl Sensor {
    async fn motion(&mut self, _: (), cx: &Context<Self>) {
        let now = ms(cx.time());
        self.log.with(|work| work.events += 1);
        self.deadline = now + DELAY_MS;
        self.window_end = now + WINDOW_MS;
        if !self.occupied {
            self.occupied = true;
            let span = Duration::from_millis(DELAY_MS);
            cx.schedule_event(span, schedulable!(Self::elapsed), ())
                .expect("the delay is not zero");
            self.frame.send(Message::Occupied).await;
        }
    }

    fn sound(&mut self, _: (), cx: &Context<Self>) {
        let now = ms(cx.time());
        self.log.with(|work| work.events += 1);
        if self.occupied && now <= self.window_end {
            self.deadline = now + DELAY_MS;
        }
    }

    #[nexosim(schedulable)]
    async fn elapsed(&mut self, _: (), cx: &Context<Self>) {
        let now = ms(cx.time());
        if now < self.deadline {
            let span = Duration::from_millis(self.deadline - now);
            cx.schedule_event(span, schedulable!(Self::elapsed), ())
                .expect("the deadline was put off");
            return;
        }
        self.log.with(|work| work.events += 1);
        self.occupied = false;
        self.frame.send(Message::Vacant).await;
    }
}

/// The wall switch.
#[derive(Default, Deserialize, Serialize)]
struct Switch {
    frame: Output<Message>,
    #[serde(skip)]
    log: Log,
}

#[Model]
impl Switch {
    async fn press(&mut self) {
        self.log.with(|work| work.events += 1);
        self.frame.send(Message::Toggle).await;
    }
}

/// The bus: every message arrives a little later.
#[derive(Default, Deserialize, Serialize)]
struct Bus {
    frame: Output<Message>,
}

#[Model]
impl Bus {
    fn carry(&mut self, message: Message, cx: &Context<Self>) {
        let span = Duration::from_millis(BUS_MS);
        cx.schedule_event(span, schedulable!(Self::deliver), message)
            .expect("the bus is never instant");
    }

    #[nexosim(schedulable)]
    async fn deliver(&mut self, message: Message) {
        self.frame.send(message).await;
    }
}

/// The controller with its two outputs.
#[derive(Deserialize, Serialize)]
struct Controller {
    number: u32,
    levels: Levels,
    #[serde(skip)]
    log: Log,
}

#[Model]
impl Controller {
    fn take(&mut self, message: Message, cx: &Context<Self>) {
        let now = ms(cx.time());
        let Self {
            number,
            levels,
            log,
        } = self;
        log.with(|work| {
            work.events += 1;
            levels.take(now, *number, message, &mut work.changes);
        });
    }
}
