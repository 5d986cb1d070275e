//! A node: one device of a room in its own process or task.
//!
//! Invariant: a node acts only when it is asked, and answers every question once.

use std::sync::Arc;

use room::{Change, Device, Input, Plan};
use scenario::script::{ActWhat, Script};
use sim::{Asked, Instant, Lone, Question};
use thiserror::Error;
use tokio::io::{AsyncRead, AsyncWrite};

use crate::speech::{Speech, Told};
use crate::value::Value;
use crate::wire;

/// What a node has to know of its device.
#[derive(Clone, Debug)]
pub struct Part {
    plan: Arc<Plan>,
    device: Device,
    /// When its settings change, in order.
    changes: Vec<(Instant, Change)>,
}

/// Why a node stopped.
#[derive(Clone, Debug, Eq, Error, PartialEq)]
pub enum NodeError {
    /// The host did not let it in.
    #[error("the host refused: {0}")]
    Refused(String),
    /// The host cut it off.
    #[error("the host cut it off: {0}")]
    CutOff(String),
    /// The host says what is no question for this device.
    #[error("the host speaks of something else than this device; do both have the same room?")]
    Rubbish,
    /// The connection ended before the host said welcome.
    #[error("the connection ended")]
    Ended,
}

impl Part {
    /// The device of a room that stays as it is.
    #[must_use]
    pub fn of_room(plan: Arc<Plan>, device: Device) -> Self {
        Self {
            plan,
            device,
            changes: Vec::new(),
        }
    }

    /// The device in a scenario, in which its settings may change.
    #[must_use]
    pub fn of_script(script: &Script, device: Device) -> Self {
        let changes = script.acts.iter().filter_map(|act| match &act.what {
            ActWhat::Input(Input::Change(change)) => {
                let of = match **change {
                    Change::Source(id, _) => Device::Source(id),
                    Change::Controller(id, _) => Device::Controller(id),
                };
                (of == device).then(|| (act.at, (**change).clone()))
            }
            _ => None,
        });
        Self {
            plan: Arc::clone(&script.plan),
            device,
            changes: changes.collect(),
        }
    }

    /// The name of the device.
    #[must_use]
    pub fn name(&self) -> &str {
        match self.device {
            Device::Source(id) => &self.plan.sources[usize::from(id.0)].name,
            Device::Controller(id) => &self.plan.controllers[usize::from(id.0)].name,
        }
    }
}

/// Joins a room over this connection and answers until the host ends it.
///
/// # Errors
///
/// When the host does not let the node in, or cuts it off.
pub async fn serve(
    part: Part,
    token: &str,
    stream: impl AsyncRead + AsyncWrite,
) -> Result<(), NodeError> {
    let (mut reader, mut writer) = tokio::io::split(stream);
    let hello = [
        Value::Number(wire::VERSION),
        Value::text_of(part.name()),
        Value::text_of(token),
    ];
    let sent = wire::write(&mut writer, &wire::of("hello", hello)).await;
    sent.map_err(|_| NodeError::Ended)?;
    let welcome = wire::read(&mut reader)
        .await
        .map_err(|_| NodeError::Ended)?;
    let mut sequence = welcomed(&welcome)?;
    let speech = Speech::new(Arc::clone(&part.plan), part.device);
    let mut device = Lone::new(&part.plan, part.device);
    let mut changes = part.changes.into_iter();
    loop {
        let Ok(message) = wire::read(&mut reader).await else {
            return Ok(());
        };
        if let Some(("cut", [why])) = wire::parts(&message) {
            let why = why.text().unwrap_or_default().to_owned();
            return Err(NodeError::CutOff(why));
        }
        let (number, at, effects) = match speech.told(&message).ok_or(NodeError::Rubbish)? {
            Told::Instant(number, at) => (number, at, Vec::new()),
            Told::Question(number, question) => (number, question.at, device.answer(&question)),
            Told::Settings(number, at, _) => {
                let change = changes.find(|&(when, _)| when == at);
                let (_, change) = change.ok_or(NodeError::Rubbish)?;
                let question = Question {
                    device: part.device,
                    at,
                    asked: Asked::Input(Input::Change(Box::new(change))),
                    seen: Default::default(),
                    sequence: 0,
                };
                (number, at, device.answer(&question))
            }
        };
        let done = speech.done(number, at, &effects, &mut sequence);
        if wire::write(&mut writer, &done).await.is_err() {
            return Ok(());
        }
    }
}

/// The sequence number that the host says to begin with.
fn welcomed(message: &Value) -> Result<u8, NodeError> {
    match wire::parts(message) {
        Some(("welcome", [version, _, _, sequence])) if version.number() == Some(wire::VERSION) => {
            let sequence = sequence.number().and_then(|it| u8::try_from(it).ok());
            sequence.ok_or(NodeError::Rubbish)
        }
        Some(("refused", [why])) => Err(NodeError::Refused(
            why.text().unwrap_or_default().to_owned(),
        )),
        _ => Err(NodeError::Rubbish),
    }
}
