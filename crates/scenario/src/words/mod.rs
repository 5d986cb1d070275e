//! Words of the files: quantities, names, times and dates, as people write them.
//!
//! Each parser takes the text of one value and gives the quantity, or says what is wrong, where
//! in the text, and what to write. Invariant: no floats, so `0.1 s` is exactly 100 ms.

mod moment;
mod name;
mod quantity;

use std::ops::Range;

use thiserror::Error;

pub(crate) use moment::says_half_of_day;
pub use moment::{TimeOfDay, date, date_range, time_of_day};
pub use name::{RESERVED, name, nearest_name};
pub use quantity::{
    Current, Length, Potential, Power, Rating, fine_share, illuminance, length, level, points,
    power, rating, share, span, voltage,
};

/// Why a text is not what was asked for.
#[derive(Clone, Debug, Eq, Error, PartialEq)]
#[error("{message}")]
pub struct WordError {
    /// What is wrong.
    pub message: String,
    /// What to write instead.
    pub hint: String,
    /// Which bytes of the text are meant.
    pub range: Range<usize>,
}

impl WordError {
    pub(crate) fn new(
        range: Range<usize>,
        message: impl Into<String>,
        hint: impl Into<String>,
    ) -> Self {
        Self {
            message: message.into(),
            hint: hint.into(),
            range,
        }
    }

    /// An error about the whole of a text.
    pub(crate) fn whole(text: &str, message: impl Into<String>, hint: impl Into<String>) -> Self {
        Self::new(0..text.len(), message, hint)
    }
}
