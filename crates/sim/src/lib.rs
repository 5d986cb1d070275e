//! The numeric clock: queue, bus impairments from a seed, faults, trace with causes, snapshots.
//!
//! ```
//! use std::sync::Arc;
//!
//! use device::{Span, occupancy};
//! use room::{Input, Plan, PlanSource, SourceId, SourceSettings, Stimulus};
//! use sim::{Instant, Simulation};
//!
//! let sensor = PlanSource {
//!     name: "wall-sensor".into(),
//!     settings: SourceSettings::Occupancy(occupancy::Settings::default()),
//!     light: Default::default(),
//!     buttons: Vec::new(),
//!     mains: true,
//!     listeners: Vec::new(),
//! };
//! let plan = Arc::new(Plan { sources: vec![sensor], ..Plan::default() });
//!
//! let mut run: Simulation = Simulation::new(plan, 0, |_, _| Default::default());
//! let nine = Instant::START.after(Span::from_hours(9));
//! run.apply(nine, Input::Stimulus(SourceId(0), Stimulus::Motion));
//! run.run_until(nine.after(Span::from_minutes(15)));
//!
//! let last = run.trace().steps.iter().rfind(|step| step.cause.is_some());
//! assert_eq!(last.map(|step| step.at), Some(run.now()));
//! ```
//!
//! Invariant: same room, same inputs, same seed: same bytes, in any order of declaration.

mod bus;
mod crossing;
mod drift;
pub mod export;
mod forget;
mod instant;
mod lone;
mod outside;
mod random;
mod recorder;
mod simulation;
mod table;
mod trace;
mod views;
pub mod wire;
mod world;

pub use bus::{Impairment, LinkFault, Quality, Share};
pub use drift::{Drift, Pace, counts};
pub use instant::Instant;
pub use lone::Lone;
pub use outside::{Answer, Asked, Effect, Question};
pub use random::Stream;
pub use recorder::{Full, Recorder, Silent};
pub use simulation::{Coming, Simulation, Snapshot};
pub use trace::{Drop, Light, OutputState, OutputView, Step, StepId, Trace, What};
pub use world::StandingFault;
