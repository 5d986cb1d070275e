//! The nodes of a host: who has joined, who answers, who is cut off.
//!
//! Invariant: a node that is cut off is not read from again.

use std::collections::{BTreeMap, VecDeque};
use std::sync::Arc;

use device::{Fault, Payload};
use room::{Device, Plan, SourceId};
use sim::{Answer, Full, Instant, Question, Simulation};
use tokio::sync::mpsc;
use tokio::time::Instant as Wall;

use super::{Limits, Setting};
use crate::door::{Arrival, Door};
use crate::link::{Ends, Incoming, Link};
use crate::speech::Speech;
use crate::value::Value;
use crate::wire;
use crate::words;

/// The devices outside a room, and the nodes that play them.
#[derive(Debug)]
pub struct Nodes {
    plan: Arc<Plan>,
    door: Door,
    seats: BTreeMap<Device, Seat>,
    queue: (mpsc::Sender<Incoming>, mpsc::Receiver<Incoming>),
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

/// Something that a node did without being asked: it came, or it spoke.
#[derive(Debug)]
pub struct Stir(Stirred);

#[derive(Debug)]
enum Stirred {
    Came(Arrival),
    Spoke(Incoming),
}

impl Nodes {
    /// The devices outside of a setting, of which none has a node yet; nodes come in through
    /// `door`.
    #[must_use]
    pub fn new(setting: &Setting, door: Door) -> Self {
        let seat = |device: &Device| {
            let seat = Seat {
                speech: Speech::new(Arc::clone(&setting.plan), *device),
                sequence: 0,
                link: None,
                missing: Fault::NodeGone,
                told: false,
            };
            (*device, seat)
        };
        Self {
            seats: setting.outside.iter().map(seat).collect(),
            door,
            queue: mpsc::channel(QUEUE),
            asked: 0,
            links: 0,
            limits: setting.limits,
            free: false,
            news: VecDeque::new(),
            plan: Arc::clone(&setting.plan),
        }
    }

    /// Lets sources speak without being asked, as they may in a room that runs freely.
    pub fn run_freely(&mut self) {
        self.free = true;
    }

    /// Whether every device is inside the room.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.seats.is_empty()
    }

    /// Whether some device outside has no node.
    #[must_use]
    pub fn are_missing(&self) -> bool {
        self.seats.values().any(|seat| seat.link.is_none())
    }

    /// Whether there is something that the room has to be told.
    #[must_use]
    pub fn has_news(&self) -> bool {
        !self.news.is_empty()
    }

    /// Waits until a node comes or speaks: for ever when none does. Nothing is lost when the
    /// future is dropped.
    pub async fn stirred(&mut self) -> Stir {
        tokio::select! {
            Some(arrival) = self.door.arrivals.recv() => Stir(Stirred::Came(arrival)),
            Some(incoming) = self.queue.1.recv() => Stir(Stirred::Spoke(incoming)),
            else => std::future::pending().await,
        }
    }

    /// Takes what a node did.
    pub async fn take(&mut self, stir: Stir) {
        match stir.0 {
            Stirred::Came(arrival) => self.seat(arrival).await,
            Stirred::Spoke(incoming) => self.hear(incoming),
        }
    }

    /// Asks a device what it does; `says` are the words of a change of settings.
    ///
    /// # Errors
    ///
    /// With what is wrong with a node that does not answer as it should.
    pub async fn ask(&mut self, question: &Question, says: &str) -> Answer {
        self.asked += 1;
        let number = self.asked;
        let device = question.device;
        let seat = self.seats.get(&device).ok_or(Fault::NodeGone)?;
        let message = seat.speech.question(number, question, says);
        self.tell(device, &message).await?;
        let waiting = BTreeMap::from([(device, number)]);
        let mut answers = self.gather(waiting, question.at).await;
        answers.remove(&device).unwrap_or(Err(Fault::NodeGone))
    }

    /// Every node hears that the instant `at` is over; the room moves on when each has answered.
    pub async fn end_instant(&mut self, at: Instant) {
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
    }

    /// Gives the room the news of its nodes for the instant `at`.
    pub fn tell_news(&mut self, at: Instant, simulation: &mut Simulation<Full>) {
        for news in self.news.drain(..) {
            match news {
                News::Failed(device, fault) => simulation.cut_off(at, device, fault),
                News::Returned(device) => simulation.bring_back(at, device),
                News::Spoke(source, payload) => simulation.speak(at, source, payload),
            }
        }
    }

    /// Waits until every device outside has a node, or for as long as nodes may take to join.
    pub(super) async fn gather_nodes(&mut self) {
        let deadline = Wall::now() + self.limits.join;
        while self.are_missing() {
            let arrival = tokio::time::timeout_at(deadline, self.door.arrivals.recv()).await;
            let Ok(Some(arrival)) = arrival else {
                return;
            };
            let refused = arrival.ends.is_err();
            self.seat(arrival).await;
            // Who speaks another version will not learn this one by being waited for.
            if refused
                && self
                    .seats
                    .values()
                    .all(|it| it.link.is_some() || it.missing == Fault::NodeVersion)
            {
                return;
            }
        }
    }

    /// Somebody has said hello.
    async fn seat(&mut self, arrival: Arrival) {
        let device = arrival.device;
        let taken = match self.seats.get(&device) {
            None => Some("this device is inside the room"),
            Some(seat) if seat.link.is_some() => Some("this device has joined already"),
            Some(_) => None,
        };
        match (arrival.ends, taken) {
            (Ok(ends), None) => self.join(device, ends).await,
            (Ok(mut ends), Some(why)) => {
                let refused = wire::of("refused", [Value::text_of(why)]);
                let within = self.limits.answer;
                tokio::spawn(async move {
                    let sent = wire::write(&mut ends.writer, &refused);
                    let _gone = tokio::time::timeout(within, sent).await;
                });
            }
            (Err(fault), None) => {
                if let Some(seat) = self.seats.get_mut(&device) {
                    seat.missing = fault;
                    seat.told = true;
                }
                self.news.push_back(News::Failed(device, fault));
            }
            (Err(_), Some(_)) => {}
        }
    }

    async fn join(&mut self, device: Device, ends: Ends) {
        let Some(seat) = self.seats.get_mut(&device) else {
            return;
        };
        self.links += 1;
        let mut link = Link::new(ends, self.links, device, self.queue.0.clone());
        let welcome = [
            Value::Number(wire::VERSION),
            Value::text_of(&self.plan.name),
            Value::text_of(if self.free { "free" } else { "lockstep" }),
            Value::Number(seat.sequence.into()),
        ];
        let welcome = wire::of("welcome", welcome);
        if link.send(&welcome, self.limits.answer).await.is_ok() {
            tracing::info!(?device, "a node has joined");
            seat.link = Some(link);
            if std::mem::take(&mut seat.told) {
                self.news.push_back(News::Returned(device));
            }
        }
    }

    /// Sends a message to the node of a device; one that does not take it is cut off.
    async fn tell(&mut self, device: Device, message: &Value) -> Result<(), Fault> {
        let within = self.limits.answer;
        let seat = self.seats.get_mut(&device).ok_or(Fault::NodeGone)?;
        let Some(link) = &mut seat.link else {
            seat.told = true;
            return Err(seat.missing);
        };
        let sent = link.send(message, within).await;
        if let Err(fault) = sent {
            self.part(device, fault);
        }
        sent
    }

    /// Waits for the answers of these devices to the questions of these numbers.
    async fn gather(
        &mut self,
        mut waiting: BTreeMap<Device, u64>,
        at: Instant,
    ) -> BTreeMap<Device, Answer> {
        let deadline = Wall::now() + self.limits.answer;
        let mut answers = BTreeMap::new();
        while !waiting.is_empty() {
            let next = tokio::time::timeout_at(deadline, self.queue.1.recv()).await;
            let Ok(Some(incoming)) = next else {
                for device in std::mem::take(&mut waiting).into_keys() {
                    self.part(device, Fault::NodeSilent);
                    answers.insert(device, Err(Fault::NodeSilent));
                }
                break;
            };
            let Some((device, number)) = self.awaited(&incoming, &waiting) else {
                self.hear(incoming);
                continue;
            };
            waiting.remove(&device);
            let answer = self.answer(incoming, number, at);
            if let Err(fault) = answer {
                self.part(device, fault);
            }
            answers.insert(device, answer);
        }
        answers
    }

    /// The device and the question that something may be the answer to.
    fn awaited(
        &self,
        incoming: &Incoming,
        waiting: &BTreeMap<Device, u64>,
    ) -> Option<(Device, u64)> {
        let of_own_accord = match &incoming.what {
            Ok(message) => self.free && matches!(wire::parts(message), Some(("frame", _))),
            Err(_) => false,
        };
        let number = waiting.get(&incoming.device).copied()?;
        (self.is_present(incoming) && !of_own_accord).then_some((incoming.device, number))
    }

    fn answer(&mut self, incoming: Incoming, number: u64, at: Instant) -> Answer {
        let message = incoming.what?;
        let seat = self
            .seats
            .get_mut(&incoming.device)
            .ok_or(Fault::NodeGone)?;
        let mut sequence = seat.sequence;
        let effects = seat.speech.effects(&message, number, at, &mut sequence);
        let effects = effects.ok_or(match wire::parts(&message) {
            // What was asked before has its answer.
            Some(("done", [of, ..])) if of.number().is_some_and(|of| of < number) => {
                Fault::NodeFloods
            }
            _ => Fault::NodeRubbish,
        })?;
        seat.sequence = sequence;
        Ok(effects)
    }

    /// Something comes from a node that was not asked.
    fn hear(&mut self, incoming: Incoming) {
        if !self.is_present(&incoming) {
            return;
        }
        let device = incoming.device;
        let message = match incoming.what {
            Ok(message) => message,
            Err(fault) => return self.fail(device, fault),
        };
        let frame = match wire::parts(&message) {
            Some(("frame", [frame])) if self.free => frame,
            _ => return self.fail(device, Fault::NodeFloods),
        };
        if self.news.len() >= NEWS {
            return self.fail(device, Fault::NodeFloods);
        }
        let Some(seat) = self.seats.get_mut(&device) else {
            return;
        };
        let mut sequence = seat.sequence;
        match seat.speech.payload(frame, &mut sequence) {
            Some((source, payload)) => {
                seat.sequence = sequence;
                self.news.push_back(News::Spoke(source, payload));
            }
            None => self.fail(device, Fault::NodeRubbish),
        }
    }

    /// Cuts a node off, and the room is told.
    fn fail(&mut self, device: Device, fault: Fault) {
        self.part(device, fault);
        self.news.push_back(News::Failed(device, fault));
    }

    /// Ends the connection to a node and says why, for whoever still listens.
    fn part(&mut self, device: Device, fault: Fault) {
        let Some(seat) = self.seats.get_mut(&device) else {
            return;
        };
        let Some(mut link) = seat.link.take() else {
            return;
        };
        seat.missing = fault;
        seat.told = true;
        tracing::warn!(
            ?device,
            fault = words::fault_word(fault),
            "a node is cut off"
        );
        let within = self.limits.answer;
        tokio::spawn(async move {
            let cut = wire::of("cut", [Value::text_of(words::fault_word(fault))]);
            let _gone = link.send(&cut, within).await;
        });
    }

    /// Whether something comes over the connection that the device has now.
    fn is_present(&self, incoming: &Incoming) -> bool {
        let link = self
            .seats
            .get(&incoming.device)
            .and_then(|it| it.link.as_ref());
        link.is_some_and(|link| link.number == incoming.link)
    }
}

/// How many messages of nodes may wait to be read.
const QUEUE: usize = 64;

/// How many words of nodes may wait until the room takes them.
const NEWS: usize = 256;
