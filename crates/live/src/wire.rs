//! What nodes and the host say to each other, version 1.
//!
//! A connection carries messages both ways. A message is four bytes of length, most significant
//! first, and then so many bytes, 65 536 at most: one MessagePack array, whose first value is a
//! word that says what the message is. Integers are unsigned, in any width that MessagePack has
//! for them. Moments are milliseconds since the run began.
//!
//! # Joining
//!
//! The node speaks first, within two seconds; the host answers `welcome` or `refused`.
//!
//! | message | from | its values after the word |
//! |---|---|---|
//! | `hello` | node | version, 1; name of the device; token |
//! | `welcome` | host | version, 1; name of the room; `lockstep` or `free`; sequence number of the next frame |
//! | `refused` | host | why, in words |
//! | `cut` | host | the fault for which the node is cut off; the connection ends |
//!
//! # Questions
//!
//! The host asks one thing at a time. Each question has a number, and the moment it is about; the
//! answer repeats both: `["done", number, moment, effects]`. A node has no clock of its own:
//! its timers are kept by the host, which says when they elapse.
//!
//! | question | its values after number and moment |
//! |---|---|
//! | `start` | none: the run begins |
//! | `stimulus` | light where the sensor is, in 0.01 lx; kind; value, if it carries one |
//! | `timer` | light where the sensor is, in 0.01 lx; name of the timer that elapsed |
//! | `frame` | the frame that arrives, as below |
//! | `power` | whether the device has power from now on |
//! | `stuck` | output; whether its relay sticks closed, or nil: it moves again |
//! | `learn` | output; whether pairs are removed |
//! | `settings` | the words of the row that changes settings of the device |
//! | `instant` | none: the instant is over, and is left when every node has said `done`, with no effects |
//!
//! Light is told to a sensor that minds it (a hold-off, a daylight sensor) and 0 to others.
//! Stimuli are `motion`, `sound`, `press` and `release` (number of the button), `card-in`
//! (whether it belongs here), `card-out`, `due` (`opening`, `closing` or `sweep`), `clock-set`
//! (whether in hours), `signal` (on or off), `shed` (0.01 points, or nil), `shed-end`,
//! `walk-test` (on or off), `teach-in`.
//!
//! # Effects
//!
//! | effect | meaning |
//! |---|---|
//! | `["start", timer, span]` | starts or restarts a timer of the device, in milliseconds |
//! | `["stop", timer]` | stops it |
//! | `["send", frame]` | sends a frame; only sources do |
//! | `["note", who, word, value]` | what the device did, or why it did nothing; who: nil for the device itself, or one of its outputs; the value only where the note carries one |
//!
//! A frame is the array of [`sim::wire`]: `[1, "wall-sensor", 17, "vacant"]`. Its sequence number
//! goes up by one with each frame of the source, and `welcome` says where it begins. Timers are
//! named as in the device reference; the notes have the words of an exported trace.
//!
//! In a free run a source may also send `["frame", frame]` of its own accord.
//!
//! # Being cut off
//!
//! A node that does not answer within two seconds (`node-silent`), speaks without being asked
//! (`node-floods`), says what is no answer (`node-rubbish`) or another version (`node-version`),
//! or whose connection ends (`node-gone`), is cut off: its device is then one without power,
//! until a node says `hello` for it again. A node that starts timers or sends frames otherwise
//! than such a device does inside the room goes on, and that is told (`node-differs`).
//!
//! Invariant: no length and no bytes make the reader take more than one message's memory.

use std::io;

use sim::Instant;
use tokio::io::{AsyncRead, AsyncReadExt, AsyncWrite, AsyncWriteExt};

use crate::speech::{Speech, Told};
use crate::value::Value;

/// The version that this module speaks.
pub const VERSION: u64 = 1;

/// The most bytes of one message.
pub const LONGEST: usize = 65_536;

/// Why there is no message.
#[derive(Debug)]
pub(crate) enum Unread {
    /// The connection has ended.
    Ended,
    /// What came is no message.
    Rubbish,
}

/// Reads bytes as a message, in every way in which anybody here reads one, and says whether they
/// are one. For whoever tries the reader with bytes of all kinds.
///
/// # Panics
///
/// Never, and that is what it is for: when what was read is not written as it was.
#[must_use]
pub fn check(bytes: &[u8]) -> bool {
    let Some(read) = message(bytes) else {
        return false;
    };
    assert_eq!(message(&read.encode()).as_ref(), Some(&read));
    let speech = Speech::example();
    for speech in &speech {
        let mut sequence = 0;
        if let Some(effects) = speech.effects(&read, 1, Instant::START, &mut sequence) {
            let written = speech.done(1, Instant::START, &effects, &mut 0);
            let again = speech.effects(&written, 1, Instant::START, &mut 0);
            assert_eq!(again, Some(effects));
        }
        if let Some(Told::Question(number, question)) = speech.told(&read) {
            let written = speech.question(number, &question, "");
            assert_eq!(
                speech.told(&written),
                Some(Told::Question(number, question))
            );
        }
    }
    true
}

/// The next message. To be run by a task of its own: it loses bytes when it is dropped.
pub(crate) async fn read(reader: &mut (impl AsyncRead + Unpin)) -> Result<Value, Unread> {
    let ended = |_: io::Error| Unread::Ended;
    let length = reader.read_u32().await.map_err(ended)?;
    let length = usize::try_from(length).map_err(|_| Unread::Rubbish)?;
    if length == 0 || length > LONGEST {
        return Err(Unread::Rubbish);
    }
    // A length is only a claim: room is made as the bytes come.
    let mut bytes = Vec::new();
    let limit = u64::try_from(length).map_err(|_| Unread::Rubbish)?;
    let count = reader.take(limit).read_to_end(&mut bytes).await;
    if count.map_err(ended)? < length {
        return Err(Unread::Ended);
    }
    message(&bytes).ok_or(Unread::Rubbish)
}

/// Writes a message.
pub(crate) async fn write(
    writer: &mut (impl AsyncWrite + Unpin),
    message: &Value,
) -> io::Result<()> {
    let bytes = message.encode();
    let length = u32::try_from(bytes.len()).map_err(io::Error::other)?;
    let mut whole = Vec::with_capacity(bytes.len() + 4);
    whole.extend(length.to_be_bytes());
    whole.extend(bytes);
    writer.write_all(&whole).await?;
    writer.flush().await
}

/// A message in parts: its word and the values after it.
pub(crate) fn parts(message: &Value) -> Option<(&str, &[Value])> {
    let (word, values) = message.list()?.split_first()?;
    Some((word.text()?, values))
}

/// A message of a word and values.
pub(crate) fn of(word: &str, values: impl IntoIterator<Item = Value>) -> Value {
    Value::List(
        std::iter::once(Value::text_of(word))
            .chain(values)
            .collect(),
    )
}

fn message(bytes: &[u8]) -> Option<Value> {
    let value = Value::decode(bytes)?;
    parts(&value).is_some().then_some(value)
}
