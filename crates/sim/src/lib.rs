//! The numeric clock: queue, bus impairments from a seed, faults, trace with causes, snapshots.
//!
//! Invariant: same room, same inputs, same seed: same bytes, in any order of declaration.

mod bus;
mod crossing;
pub mod export;
mod instant;
mod random;
mod recorder;
mod simulation;
mod table;
mod trace;
mod views;
pub mod wire;
mod world;

pub use bus::{Impairment, LinkFault, Quality, Share};
pub use instant::Instant;
pub use random::Stream;
pub use recorder::{Full, Recorder, Silent};
pub use simulation::{Coming, Simulation, Snapshot};
pub use trace::{Drop, Light, OutputState, OutputView, Step, StepId, Trace, What};
pub use world::StandingFault;
