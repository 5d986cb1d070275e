//! The case for a room: its clauses put to the symbolic clock, and what came of it.
//!
//! Invariant: nothing is called proved that a bound cut short, and nothing broken that did not
//! break in a plain run of the same room.

pub mod answer;
mod ask;
mod bound;
mod calendar;
mod ladder;
mod prove;
pub mod questions;
pub mod replay;
mod said;
pub mod settings;

pub use answer::{Answer, Effort, How, Tightest, Verdict, Why, Witness};
pub use ask::Terms;
pub use prove::{Budget, Observer, asks_the_same, prove, prove_all};
pub use prover::classes::{Bound, Progress};
