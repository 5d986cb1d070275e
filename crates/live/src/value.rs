//! MessagePack, as much of it as nodes speak: arrays of flat values, three deep at most.
//!
//! Invariant: no bytes make the reader panic, and what it keeps is no larger than a small
//! multiple of what it read.

use std::fmt;

use rmp_serde::Deserializer;
use serde::de::{self, Deserialize, SeqAccess, Visitor};
use serde::ser::{Serialize, SerializeSeq, Serializer};

/// One value of a message.
#[derive(Clone, Debug, Eq, PartialEq)]
pub(crate) enum Value {
    Nil,
    Flag(bool),
    Number(u64),
    Text(String),
    List(Vec<Value>),
}

impl Value {
    pub(crate) fn text_of(text: &str) -> Self {
        Self::Text(text.to_owned())
    }

    /// The bytes of the value.
    pub(crate) fn encode(&self) -> Vec<u8> {
        rmp_serde::to_vec(self).expect("these values always have a form")
    }

    /// The one value in these bytes; `None`: they are something else.
    pub(crate) fn decode(bytes: &[u8]) -> Option<Self> {
        let mut rest = bytes;
        let mut reader = Deserializer::new(&mut rest);
        reader.set_max_depth(DEEPEST);
        let value = Self::deserialize(&mut reader).ok()?;
        rest.is_empty().then_some(value)
    }

    pub(crate) fn flag(&self) -> Option<bool> {
        match self {
            Self::Flag(value) => Some(*value),
            _ => None,
        }
    }

    pub(crate) fn number(&self) -> Option<u64> {
        match self {
            Self::Number(value) => Some(*value),
            _ => None,
        }
    }

    pub(crate) fn text(&self) -> Option<&str> {
        match self {
            Self::Text(value) => Some(value),
            _ => None,
        }
    }

    pub(crate) fn list(&self) -> Option<&[Self]> {
        match self {
            Self::List(values) => Some(values),
            _ => None,
        }
    }
}

impl Serialize for Value {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self {
            Self::Nil => serializer.serialize_unit(),
            Self::Flag(value) => serializer.serialize_bool(*value),
            Self::Number(value) => serializer.serialize_u64(*value),
            Self::Text(value) => serializer.serialize_str(value),
            Self::List(values) => {
                let mut sequence = serializer.serialize_seq(Some(values.len()))?;
                for value in values {
                    sequence.serialize_element(value)?;
                }
                sequence.end()
            }
        }
    }
}

impl<'de> Deserialize<'de> for Value {
    fn deserialize<D: de::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(ValueVisitor)
    }
}

struct ValueVisitor;

impl<'de> Visitor<'de> for ValueVisitor {
    type Value = Value;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("nil, a boolean, an unsigned integer, a string or an array of those")
    }

    fn visit_unit<E: de::Error>(self) -> Result<Value, E> {
        Ok(Value::Nil)
    }

    fn visit_bool<E: de::Error>(self, value: bool) -> Result<Value, E> {
        Ok(Value::Flag(value))
    }

    fn visit_u64<E: de::Error>(self, value: u64) -> Result<Value, E> {
        Ok(Value::Number(value))
    }

    /// Some writers use the signed forms for small numbers.
    fn visit_i64<E: de::Error>(self, value: i64) -> Result<Value, E> {
        u64::try_from(value)
            .map(Value::Number)
            .map_err(|_| E::invalid_value(de::Unexpected::Signed(value), &self))
    }

    fn visit_str<E: de::Error>(self, value: &str) -> Result<Value, E> {
        Ok(Value::Text(value.to_owned()))
    }

    /// The length that an array claims is not believed: room is made for what comes.
    fn visit_seq<A: SeqAccess<'de>>(self, mut values: A) -> Result<Value, A::Error> {
        let mut list = Vec::new();
        while let Some(value) = values.next_element()? {
            list.push(value);
        }
        Ok(Value::List(list))
    }
}

/// An answer is an array of effects, which are arrays and may hold a frame, which is an array.
const DEEPEST: usize = 6;
