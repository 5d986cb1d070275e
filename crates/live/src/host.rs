//! The host: the one owner of a room, its clock and its nodes.
//!
//! Invariant: whatever waits for a node has a deadline, and a node that misses it is cut off; so
//! the room always goes on.

mod free;
mod seats;

use std::collections::{BTreeMap, VecDeque};
use std::sync::Arc;
use std::time::Duration;

use device::{Fault, Payload, Span};
use room::{ControllerId, Device, Input, Plan, SourceId};
use scenario::run::{Outcome, Play};
use scenario::script::{ActWhat, By};
use sim::{Answer, Asked, Full, Instant, Quality, Question, Simulation, StepId};
use tokio::sync::mpsc;

use crate::door::Door;
use crate::feed::{Feed, Moment};
use crate::link::{Incoming, Link};
use crate::speech::Speech;
use crate::value::Value;
use crate::wire;

pub use free::{Commands, Publisher, Stopped};

/// How long nodes may take.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Limits {
    /// For an answer.
    pub answer: Duration,
    /// For all of them to join before a scenario begins.
    pub join: Duration,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            answer: Duration::from_secs(2),
            join: Duration::from_secs(30),
        }
    }
}

/// A room and the devices that stand outside it.
#[derive(Clone, Debug)]
pub struct Setting {
    /// The room.
    pub plan: Arc<Plan>,
    /// The devices outside.
    pub outside: Vec<Device>,
    /// The seed of all luck on the bus.
    pub seed: u64,
    /// How long nodes may take.
    pub limits: Limits,
}

/// The owner of a room.
#[derive(Debug)]
pub struct Host {
    plan: Arc<Plan>,
    simulation: Simulation<Full>,
    door: Door,
    seats: BTreeMap<Device, Seat>,
    queue: (mpsc::Sender<Incoming>, mpsc::Receiver<Incoming>),
    feed: Feed,
    /// How many steps of the trace are published.
    published: usize,
    /// The number of the last question.
    asked: u64,
    /// The number of the last connection.
    links: u64,
    limits: Limits,
    /// Whether sources may speak without being asked.
    free: bool,
    /// Nodes that failed or came back and of whom the room does not know yet.
    news: VecDeque<News>,
}

/// A device outside and who plays it.
#[derive(Debug)]
struct Seat {
    speech: Speech,
    /// The number of its next frame.
    sequence: u8,
    /// The connection to its node, if one has joined.
    link: Option<Link>,
    /// Why there is none.
    missing: Fault,
    /// Whether the room was told so, or is about to be.
    told: bool,
}

/// What a node did that the room has to be told.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
enum News {
    Failed(Device, Fault),
    Returned(Device),
    Spoke(SourceId, Payload),
}

impl Host {
    /// The host of a room at the beginning of its run. `quality` says how well frames travel;
    /// nodes come in through `door`.
    #[must_use]
    pub fn new(
        setting: Setting,
        quality: impl Fn(SourceId, ControllerId) -> Quality,
        door: Door,
        feed: Feed,
    ) -> Self {
        let Setting { plan, outside, .. } = setting;
        let devices = outside.iter().copied();
        let simulation =
            Simulation::with_outside(Arc::clone(&plan), setting.seed, quality, devices);
        let seat = |device: &Device| {
            let seat = Seat {
                speech: Speech::new(Arc::clone(&plan), *device),
                sequence: 0,
                link: None,
                missing: Fault::NodeGone,
                told: false,
            };
            (*device, seat)
        };
        Self {
            seats: outside.iter().map(seat).collect(),
            simulation,
            door,
            queue: mpsc::channel(QUEUE),
            feed,
            published: 0,
            asked: 0,
            links: 0,
            limits: setting.limits,
            free: false,
            news: VecDeque::new(),
            plan,
        }
    }

    /// Plays a scenario in lockstep and judges it. Waits for the nodes first; one that does not
    /// come is cut off at the start.
    pub async fn play(mut self, mut play: Play) -> Outcome {
        self.gather_nodes().await;
        while let Some(sample) = play.next_sample() {
            while let Some(act) = play.next_act(sample).cloned() {
                if act.at > self.simulation.now() {
                    let before = Instant::from_ms(act.at.as_ms() - 1);
                    self.run_through(before, &play).await;
                }
                act.give(&mut self.simulation);
            }
            self.run_through(sample, &play).await;
            play.look(sample, &self.simulation);
        }
        play.judge(self.simulation)
    }

    /// Runs everything through `limit`.
    async fn run_through(&mut self, limit: Instant, words: &impl Words) {
        loop {
            match self.simulation.try_step(limit) {
                Ok(true) => {
                    self.publish();
                    self.end_instant().await;
                }
                Ok(false) => return,
                Err(question) => {
                    let answer = self.ask(&question, words).await;
                    self.simulation.answer(answer);
                }
            }
        }
    }

    /// Publishes what has happened since the last time.
    fn publish(&mut self) {
        let steps = &self.simulation.trace().steps;
        let first = std::mem::replace(&mut self.published, steps.len());
        if self.feed.is_heard()
            && let Some(new) = steps.get(first..).filter(|new| !new.is_empty())
        {
            self.feed.publish(Moment {
                at: self.simulation.now(),
                first: StepId(u32::try_from(first).expect("a trace has fewer than 2^32 steps")),
                steps: new.to_vec(),
            });
        }
    }

    /// Asks a device what it does.
    async fn ask(&mut self, question: &Question, words: &impl Words) -> Answer {
        self.asked += 1;
        let number = self.asked;
        let says = match &question.asked {
            Asked::Input(input @ Input::Change(_)) => words.of_change(question.at, input),
            _ => String::new(),
        };
        let device = question.device;
        let seat = self.seats.get(&device).ok_or(Fault::NodeGone)?;
        let message = seat.speech.question(number, question, &says);
        self.tell(device, &message).await?;
        let waiting = BTreeMap::from([(device, number)]);
        let mut answers = self.gather(waiting, question.at).await;
        answers.remove(&device).unwrap_or(Err(Fault::NodeGone))
    }

    /// Every node hears that the instant is over; the host moves on when each has answered.
    async fn end_instant(&mut self) {
        let at = self.simulation.now();
        let mut waiting = BTreeMap::new();
        let devices: Vec<Device> = self.seats.keys().copied().collect();
        for device in devices {
            if self.seats[&device].link.is_none() {
                continue;
            }
            self.asked += 1;
            let values = [Value::Number(self.asked), Value::Number(at.as_ms())];
            match self.tell(device, &wire::of("instant", values)).await {
                Ok(()) => {
                    waiting.insert(device, self.asked);
                }
                Err(fault) => self.news.push_back(News::Failed(device, fault)),
            }
        }
        for (device, answer) in self.gather(waiting, at).await {
            match answer {
                Ok(effects) if effects.is_empty() => {}
                Ok(_) => self.fail(device, Fault::NodeFloods),
                Err(fault) => self.news.push_back(News::Failed(device, fault)),
            }
        }
        while let Ok(arrival) = self.door.arrivals.try_recv() {
            self.seat(arrival).await;
        }
        self.take_news(at.after(Span::from_ms(1)));
    }

    /// Gives the room the news of its nodes for the instant `at`.
    fn take_news(&mut self, at: Instant) {
        for news in self.news.drain(..) {
            match news {
                News::Failed(device, fault) => self.simulation.cut_off(at, device, fault),
                News::Returned(device) => self.simulation.bring_back(at, device),
                News::Spoke(source, payload) => self.simulation.speak(at, source, payload),
            }
        }
    }
}

/// Who knows the words of a change of settings.
trait Words {
    fn of_change(&self, at: Instant, input: &Input) -> String;
}

impl Words for Play {
    fn of_change(&self, at: Instant, input: &Input) -> String {
        let is_it = |what: &ActWhat| matches!(what, ActWhat::Input(it) if it == input);
        let act = (self.acts().iter()).find(|act| act.at == at && is_it(&act.what));
        let row = act.and_then(|act| match act.by {
            By::Row(row) => self.script().rows.get(row),
            By::Calendar(_) => None,
        });
        row.map(|row| row.says.clone()).unwrap_or_default()
    }
}

/// How many messages of nodes may wait to be read.
const QUEUE: usize = 64;
