//! The nodes of a host: who has joined, who answers, who is cut off.
//!
//! Invariant: a node that is cut off is not read from again.

use std::collections::BTreeMap;

use device::Fault;
use room::Device;
use sim::{Answer, Instant};
use tokio::time::Instant as Wall;

use super::{Host, News};
use crate::door::Arrival;
use crate::link::{Ends, Incoming, Link};
use crate::value::Value;
use crate::wire;
use crate::words;

impl Host {
    /// Waits until every device outside has a node, or for as long as nodes may take to join.
    pub(super) async fn gather_nodes(&mut self) {
        let deadline = Wall::now() + self.limits.join;
        while self.seats.values().any(|seat| seat.link.is_none()) {
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
    pub(super) async fn seat(&mut self, arrival: Arrival) {
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
    pub(super) async fn tell(&mut self, device: Device, message: &Value) -> Result<(), Fault> {
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
    pub(super) async fn gather(
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
    pub(super) fn hear(&mut self, incoming: Incoming) {
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
    pub(super) fn fail(&mut self, device: Device, fault: Fault) {
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

/// How many words of nodes may wait until the room takes them.
const NEWS: usize = 256;
