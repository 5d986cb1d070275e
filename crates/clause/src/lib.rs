//! The language of clauses: text to monitor. (Being written.)
#![no_std]

/// A clause ready to be monitored.
#[derive(Clone, Debug, Default, Eq, Hash, PartialEq)]
pub struct Formula {}

/// What a monitor says at an instant.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Turn {
    /// The clause was triggered.
    Triggered,
    /// An obligation was met.
    Held,
    /// The clause is broken.
    Broken,
}
