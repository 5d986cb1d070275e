//! The host: the one owner of a room, its clock and its nodes.
//!
//! Invariant: whatever waits for a node has a deadline, and a node that misses it is cut off; so
//! the room always goes on.

mod free;
mod nodes;

use std::sync::Arc;
use std::time::Duration;

use device::Span;
use room::{ControllerId, Device, Input, Plan, SourceId};
use scenario::run::{Outcome, Play};
use scenario::script::{ActWhat, By};
use sim::{Asked, Full, Instant, Quality, Simulation, StepId};

use crate::door::Door;
use crate::feed::{Feed, Moment};

pub use free::{Commands, Publisher, Stopped};
pub use nodes::{Nodes, Stir};

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
    simulation: Simulation<Full>,
    nodes: Nodes,
    feed: Feed,
    /// How many steps of the trace are published.
    published: usize,
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
        let devices = setting.outside.iter().copied();
        let plan = Arc::clone(&setting.plan);
        Self {
            simulation: Simulation::with_outside(plan, setting.seed, quality, devices),
            nodes: Nodes::new(&setting, door),
            feed,
            published: 0,
        }
    }

    /// Plays a scenario in lockstep and judges it. Waits for the nodes first; one that does not
    /// come is cut off at the start.
    pub async fn play(mut self, mut play: Play) -> Outcome {
        self.nodes.gather_nodes().await;
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
                    let at = self.simulation.now();
                    self.nodes.end_instant(at).await;
                    let next = at.after(Span::from_ms(1));
                    self.nodes.tell_news(next, &mut self.simulation);
                }
                Ok(false) => return,
                Err(question) => {
                    let says = match &question.asked {
                        Asked::Input(input @ Input::Change(_)) => {
                            words.of_change(question.at, input)
                        }
                        _ => String::new(),
                    };
                    let answer = self.nodes.ask(&question, &says).await;
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
                first: StepId::at(first),
                steps: new.to_vec(),
            });
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
