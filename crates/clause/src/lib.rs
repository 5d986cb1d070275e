//! The language of clauses: text to monitor. (Being written.)
#![no_std]

/// A clause ready to be monitored.
#[derive(Clone, Debug, Default, Eq, Hash, PartialEq)]
pub struct Formula {}
