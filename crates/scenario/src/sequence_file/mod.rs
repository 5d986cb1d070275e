//! `sequence.toml`: the clauses that a room must keep.

mod tables;

pub use tables::SEQUENCE;
