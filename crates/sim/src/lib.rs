//! The numeric clock: queue, bus impairments from a seed, faults, trace with causes, snapshots.
//!
//! Invariant: same room, same inputs, same seed: same bytes, in any order of declaration.

mod instant;
mod trace;

pub use instant::Instant;
pub use trace::{Drop, Light, OutputState, OutputView, Step, StepId, Trace, What};
