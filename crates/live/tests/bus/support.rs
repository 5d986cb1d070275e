//! Rooms, hosts and nodes for tests.

use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use live::{Door, Feed, Hall, Host, Limits, NodeError, Part, Setting, serve};
use room::{ControllerId, Device, Plan, SourceId};
use scenario::run::{Outcome, Play};
use scenario::script::Script;
use scenario::suite::Suite;
use tokio::task::JoinHandle;

pub(crate) const TOKEN: &str = "a-token";

/// Every run of every shipped scenario.
pub(crate) fn shipped() -> Vec<Arc<Script>> {
    let folder = PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/../../scenarios"));
    let suite = Suite::open(&[folder]).unwrap();
    suite.runs().map(|(_, script)| Arc::clone(script)).collect()
}

/// One shipped run, by the end of its file's name.
pub(crate) fn one(name: &str) -> Arc<Script> {
    let path = format!("{}/../../scenarios/{name}.toml", env!("CARGO_MANIFEST_DIR"));
    let suite = Suite::open(&[PathBuf::from(path)]).unwrap();
    Arc::clone(&suite.scripts[0][0])
}

/// Every device of a plan.
pub(crate) fn devices(plan: &Plan) -> Vec<Device> {
    let sources = (0..).zip(&plan.sources);
    let controllers = (0..).zip(&plan.controllers);
    (sources.map(|(id, _)| Device::Source(SourceId(id))))
        .chain(controllers.map(|(id, _)| Device::Controller(ControllerId(id))))
        .collect()
}

pub(crate) fn device(plan: &Plan, name: &str) -> Device {
    let all = devices(plan);
    let is_it = |device: &Device| match *device {
        Device::Source(id) => plan.sources[usize::from(id.0)].name == name,
        Device::Controller(id) => plan.controllers[usize::from(id.0)].name == name,
    };
    all.into_iter().find(is_it).unwrap()
}

pub(crate) const LIMITS: Limits = Limits {
    answer: Duration::from_secs(2),
    join: Duration::from_secs(5),
};

pub(crate) fn setting(plan: &Arc<Plan>, outside: &[Device]) -> Setting {
    Setting {
        plan: Arc::clone(plan),
        outside: outside.to_vec(),
        seed: 0,
        limits: LIMITS,
    }
}

/// A scenario with these devices outside, and the hall that its nodes come in by.
pub(crate) struct Stage {
    pub(crate) script: Arc<Script>,
    pub(crate) outside: Vec<Device>,
    pub(crate) hall: Hall,
    door: Door,
    pub(crate) feed: Feed,
}

impl Stage {
    pub(crate) fn new(script: &Arc<Script>, outside: &[Device]) -> Self {
        let (hall, door) = Hall::new(&script.plan, TOKEN, Duration::from_secs(2));
        Self {
            script: Arc::clone(script),
            outside: outside.to_vec(),
            hall,
            door,
            feed: Feed::new(1_024),
        }
    }

    /// A task that plays a device as it should.
    pub(crate) fn node(&self, device: Device) -> JoinHandle<Result<(), NodeError>> {
        let (near, far) = tokio::io::duplex(1 << 16);
        self.hall.receive(near);
        let part = Part::of_script(&self.script, device);
        tokio::spawn(async move { serve(part, TOKEN, far).await })
    }

    /// Tasks that play all devices outside as they should.
    pub(crate) fn nodes(&self) -> Vec<JoinHandle<Result<(), NodeError>>> {
        let outside = self.outside.iter();
        outside.map(|device| self.node(*device)).collect()
    }

    /// A connection on which a test says what it likes.
    pub(crate) fn connect(&self) -> tokio::io::DuplexStream {
        let (near, far) = tokio::io::duplex(1 << 16);
        self.hall.receive(near);
        far
    }

    /// Plays the scenario to its end: the trace is that of a run with every device inside.
    pub(crate) async fn plays_as_inside(self) {
        let inside = scenario::run::run(&self.script, 0);
        let outcome = self.play().await;
        assert_eq!(first_difference(&outcome, &inside), None);
    }

    /// Plays the scenario to its end.
    pub(crate) async fn play(self) -> Outcome {
        let play = Play::new(&self.script, 0);
        let setting = setting(&self.script.plan, &self.outside);
        let host = Host::new(setting, play.quality(), self.door, self.feed);
        host.play(play).await
    }
}

/// The trace of an outcome, to compare.
pub(crate) fn bytes(outcome: &Outcome) -> Vec<u8> {
    sim::export::to_messagepack(&outcome.trace, &outcome.script.plan, &outcome.slots)
}

/// Where two runs part, in words short enough to read.
pub(crate) fn first_difference(one: &Outcome, other: &Outcome) -> Option<String> {
    if bytes(one) == bytes(other) {
        return None;
    }
    let steps = one.trace.steps.iter().zip(&other.trace.steps).enumerate();
    let mut different = steps.filter(|(_, (one, other))| one != other);
    let found = different
        .next()
        .map(|(at, steps)| format!("{at}: {steps:?}"));
    Some(found.unwrap_or_else(|| "one run goes on".into()))
}
