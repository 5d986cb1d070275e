//! What is wrong with the text of a clause, where, and what to write instead.

use alloc::string::String;
use core::ops::Range;

/// An error in the text of a clause. It always points at something.
#[derive(Clone, Debug, Eq, PartialEq, thiserror::Error)]
#[error("{message}")]
pub struct ClauseError {
    /// The key whose text (or whose presence or absence) is wrong.
    pub key: String,
    /// The bytes of that key's text that are wrong; empty at the end of a text that stops too
    /// early. `0..0` when the key itself is wrong or missing.
    pub span: Range<usize>,
    /// What is wrong: lowercase, no period.
    pub message: String,
    /// What to write instead.
    pub hint: String,
}
