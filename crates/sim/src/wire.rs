//! Frames as other processes speak them: MessagePack, version 1.
//!
//! One frame is one MessagePack array of flat values, and nothing follows it:
//!
//! | place | value | type |
//! |---|---|---|
//! | 0 | version, 1 | unsigned integer |
//! | 1 | name of the source, 1 – 255 bytes of UTF-8 | string |
//! | 2 | sequence number, 0 – 255, one higher for each frame of the source, 0 after 255 | unsigned integer |
//! | 3 | kind | string |
//! | 4 | what the kind carries, where it carries something | as below |
//!
//! | kind | carries |
//! |---|---|
//! | `occupied` | whether the ambient light was above the hold-off: boolean |
//! | `vacant`, `unknown` | nothing |
//! | `down`, `up` | number of the button, 0 – 255: unsigned integer |
//! | `card-in`, `card-out`, `wrong-card` | nothing |
//! | `illuminance` | in 0.01 lx, 0 – 4 294 967 295: unsigned integer |
//! | `in-hours`, `after-hours`, `sweep`, `time-lost` | nothing |
//! | `normal-power` | whether it is present: boolean |
//! | `fire-alarm` | whether it sounds: boolean |
//! | `shed` | how much, in 0.01 points, 0 – 10 000: unsigned integer; nil: as each output is set |
//! | `shed-end`, `teach-in` | nothing |
//!
//! So *vacant*, frame 17 of `wall-sensor`, is `[1, "wall-sensor", 17, "vacant"]`. A reader takes
//! integers and strings in any width that MessagePack has for them; a writer uses the shortest.
//! A new kind, or another value of an old one, is a new version.
//!
//! Invariant: no bytes make the reader panic or take more memory than they have.

use std::fmt;

use device::{Frame, Illuminance, Payload, Points, Signal};
use rmp_serde::Deserializer;
use serde::de::{self, Deserialize, SeqAccess, Visitor};
use serde::ser::{Serialize, SerializeTuple, Serializer};
use thiserror::Error;

/// The version that this module writes and reads.
pub const VERSION: u8 = 1;

/// A frame and the source that sent it.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Message {
    /// Name of the source.
    pub source: String,
    /// What it sent.
    pub frame: Frame,
}

/// Why bytes are not a frame.
#[derive(Clone, Debug, Eq, Error, PartialEq)]
pub enum DecodeError {
    /// The bytes are not one MessagePack array of flat values.
    #[error("not a flat messagepack array: {0}")]
    Shape(String),
    /// The frame is of another version.
    #[error("version {0} is not known, only version {VERSION}")]
    Version(u64),
    /// The name of the source is empty, too long or not text.
    #[error("the source has no name of 1 to 255 bytes")]
    Source,
    /// The sequence number is missing or out of range.
    #[error("the sequence number is not 0 to 255")]
    Sequence,
    /// There is no such kind of frame.
    #[error("there is no kind of frame called {0:?}")]
    Kind(String),
    /// The kind carries something else than what was found.
    #[error("a frame of kind {0:?} does not carry this")]
    Carries(String),
    /// Bytes follow the frame.
    #[error("{0} bytes follow the frame")]
    Trailing(usize),
}

/// Why a message cannot be written.
#[derive(Clone, Copy, Debug, Eq, Error, PartialEq)]
pub enum EncodeError {
    /// The name of the source is empty or too long.
    #[error("the source has no name of 1 to 255 bytes")]
    Source,
}

impl Message {
    /// The bytes of the message.
    ///
    /// # Errors
    ///
    /// When the source has no name of 1 to 255 bytes.
    pub fn encode(&self) -> Result<Vec<u8>, EncodeError> {
        if !is_name(&self.source) {
            return Err(EncodeError::Source);
        }
        Ok(rmp_serde::to_vec(self).expect("flat values always have a form"))
    }

    /// The message in these bytes.
    ///
    /// # Errors
    ///
    /// When the bytes are anything but one frame of this version.
    pub fn decode(bytes: &[u8]) -> Result<Self, DecodeError> {
        let mut rest = bytes;
        let fields = Fields::deserialize(&mut Deserializer::new(&mut rest))
            .map_err(|error| DecodeError::Shape(error.to_string()))?;
        let message = fields.message()?;
        match rest.len() {
            0 => Ok(message),
            left => Err(DecodeError::Trailing(left)),
        }
    }
}

impl Serialize for Message {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let (kind, carried) = spoken(self.frame.payload);
        let length = 4 + usize::from(carried.is_some());
        let mut tuple = serializer.serialize_tuple(length)?;
        tuple.serialize_element(&VERSION)?;
        tuple.serialize_element(&self.source)?;
        tuple.serialize_element(&self.frame.sequence)?;
        tuple.serialize_element(kind)?;
        if let Some(carried) = carried {
            tuple.serialize_element(&carried)?;
        }
        tuple.end()
    }
}

/// The values of one frame, before they are understood.
struct Fields(Vec<Field>);

/// One flat value.
#[derive(Clone, Debug, Eq, PartialEq)]
enum Field {
    Nil,
    Boolean(bool),
    Number(u64),
    Text(String),
}

impl Fields {
    fn message(self) -> Result<Message, DecodeError> {
        let mut fields = self.0.into_iter();
        match fields.next() {
            Some(Field::Number(version)) if version == u64::from(VERSION) => {}
            Some(Field::Number(version)) => return Err(DecodeError::Version(version)),
            _ => return Err(DecodeError::Shape("no version".into())),
        }
        let source = match fields.next() {
            Some(Field::Text(name)) if is_name(&name) => name,
            _ => return Err(DecodeError::Source),
        };
        let sequence = match fields.next() {
            Some(Field::Number(number)) => {
                u8::try_from(number).map_err(|_| DecodeError::Sequence)?
            }
            _ => return Err(DecodeError::Sequence),
        };
        let Some(Field::Text(kind)) = fields.next() else {
            return Err(DecodeError::Kind(String::new()));
        };
        let payload = heard(&kind, fields.next())?;
        if fields.next().is_some() {
            return Err(DecodeError::Carries(kind));
        }
        let frame = Frame { sequence, payload };
        Ok(Message { source, frame })
    }
}

impl<'de> Deserialize<'de> for Fields {
    fn deserialize<D: de::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_seq(FieldsVisitor)
    }
}

struct FieldsVisitor;

impl<'de> Visitor<'de> for FieldsVisitor {
    type Value = Fields;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("an array of at most five values")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut values: A) -> Result<Fields, A::Error> {
        let mut fields = Vec::with_capacity(LONGEST);
        while let Some(field) = values.next_element()? {
            if fields.len() == LONGEST {
                return Err(de::Error::invalid_length(LONGEST + 1, &self));
            }
            fields.push(field);
        }
        Ok(Fields(fields))
    }
}

impl<'de> Deserialize<'de> for Field {
    fn deserialize<D: de::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(FieldVisitor)
    }
}

struct FieldVisitor;

impl Visitor<'_> for FieldVisitor {
    type Value = Field;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("nil, a boolean, an unsigned integer or a string")
    }

    fn visit_unit<E: de::Error>(self) -> Result<Field, E> {
        Ok(Field::Nil)
    }

    fn visit_bool<E: de::Error>(self, value: bool) -> Result<Field, E> {
        Ok(Field::Boolean(value))
    }

    fn visit_u64<E: de::Error>(self, value: u64) -> Result<Field, E> {
        Ok(Field::Number(value))
    }

    /// Some writers use the signed forms for small numbers.
    fn visit_i64<E: de::Error>(self, value: i64) -> Result<Field, E> {
        u64::try_from(value)
            .map(Field::Number)
            .map_err(|_| E::invalid_value(de::Unexpected::Signed(value), &self))
    }

    fn visit_str<E: de::Error>(self, value: &str) -> Result<Field, E> {
        Ok(Field::Text(value.to_owned()))
    }
}

impl Serialize for Field {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self {
            Self::Nil => serializer.serialize_unit(),
            Self::Boolean(value) => serializer.serialize_bool(*value),
            Self::Number(value) => serializer.serialize_u64(*value),
            Self::Text(value) => serializer.serialize_str(value),
        }
    }
}

/// The kind of a payload and what it carries.
fn spoken(payload: Payload) -> (&'static str, Option<Field>) {
    let number = |value: u64| Some(Field::Number(value));
    match payload {
        Payload::Occupied { bright } => ("occupied", Some(Field::Boolean(bright))),
        Payload::Vacant => ("vacant", None),
        Payload::Unknown => ("unknown", None),
        Payload::Down(button) => ("down", number(button.into())),
        Payload::Up(button) => ("up", number(button.into())),
        Payload::CardIn => ("card-in", None),
        Payload::CardOut => ("card-out", None),
        Payload::WrongCard => ("wrong-card", None),
        Payload::Illuminance(seen) => ("illuminance", number(seen.hundredths().into())),
        Payload::InHours => ("in-hours", None),
        Payload::AfterHours => ("after-hours", None),
        Payload::Sweep => ("sweep", None),
        Payload::TimeLost => ("time-lost", None),
        Payload::Signal(Signal::NormalPower, on) => ("normal-power", Some(Field::Boolean(on))),
        Payload::Signal(Signal::FireAlarm, on) => ("fire-alarm", Some(Field::Boolean(on))),
        Payload::Shed(None) => ("shed", Some(Field::Nil)),
        Payload::Shed(Some(points)) => ("shed", number(points.hundredths().into())),
        Payload::ShedEnd => ("shed-end", None),
        Payload::TeachIn => ("teach-in", None),
    }
}

/// The payload of a kind that carries this.
fn heard(kind: &str, carried: Option<Field>) -> Result<Payload, DecodeError> {
    let payload = match (kind, carried) {
        ("occupied", Some(Field::Boolean(bright))) => Some(Payload::Occupied { bright }),
        ("vacant", None) => Some(Payload::Vacant),
        ("unknown", None) => Some(Payload::Unknown),
        ("down", Some(Field::Number(button))) => button.try_into().ok().map(Payload::Down),
        ("up", Some(Field::Number(button))) => button.try_into().ok().map(Payload::Up),
        ("card-in", None) => Some(Payload::CardIn),
        ("card-out", None) => Some(Payload::CardOut),
        ("wrong-card", None) => Some(Payload::WrongCard),
        ("illuminance", Some(Field::Number(seen))) => (seen.try_into().ok())
            .map(|hundredths| Payload::Illuminance(Illuminance::from_hundredths(hundredths))),
        ("in-hours", None) => Some(Payload::InHours),
        ("after-hours", None) => Some(Payload::AfterHours),
        ("sweep", None) => Some(Payload::Sweep),
        ("time-lost", None) => Some(Payload::TimeLost),
        ("normal-power", Some(Field::Boolean(on))) => {
            Some(Payload::Signal(Signal::NormalPower, on))
        }
        ("fire-alarm", Some(Field::Boolean(on))) => Some(Payload::Signal(Signal::FireAlarm, on)),
        ("shed", Some(Field::Nil)) => Some(Payload::Shed(None)),
        ("shed", Some(Field::Number(points @ 0..=10_000))) => (points.try_into().ok())
            .map(|hundredths| Payload::Shed(Some(Points::from_hundredths(hundredths)))),
        ("shed-end", None) => Some(Payload::ShedEnd),
        ("teach-in", None) => Some(Payload::TeachIn),
        _ if KINDS.contains(&kind) => None,
        _ => return Err(DecodeError::Kind(kind.to_owned())),
    };
    payload.ok_or_else(|| DecodeError::Carries(kind.to_owned()))
}

fn is_name(name: &str) -> bool {
    (1..=255).contains(&name.len())
}

/// Every kind of frame.
const KINDS: [&str; 18] = [
    "occupied",
    "vacant",
    "unknown",
    "down",
    "up",
    "card-in",
    "card-out",
    "wrong-card",
    "illuminance",
    "in-hours",
    "after-hours",
    "sweep",
    "time-lost",
    "normal-power",
    "fire-alarm",
    "shed",
    "shed-end",
    "teach-in",
];

/// A frame has at most this many values.
const LONGEST: usize = 5;

#[cfg(test)]
mod tests;
