//! A room as one value: its devices, its links and the monitors of its clauses.
//!
//! [`Room::handle`] is the only transition function of the project. The simulator picks one
//! step at a time, the prover takes every step, the live bench waits for the wall clock: all
//! three drive this one reaction through the [`Clock`] they implement.
//!
//! ```
//! extern crate alloc;
//! use alloc::sync::Arc;
//! use room::{Plan, Room};
//!
//! let room = Room::new(Arc::new(Plan::default()));
//! assert_eq!(room, room.clone());
//! assert!(room.slots().is_empty());
//! ```
//!
//! Invariant: the room never knows what time it is; equal rooms react equally.
#![no_std]

extern crate alloc;

mod clock;
mod crossing;
mod effects;
mod input;
mod plan;
mod room;
mod sight;
mod slots;
mod source;
mod watch;

pub use clock::{Clock, Origin, Who};
pub use crossing::first_crossing;
pub use input::{Change, Device, Input, Stimulus};
pub use plan::{
    ControllerId, LightModel, OutputId, Plan, PlanClause, PlanController, PlanOutput, PlanSource,
    PlanTask, Slot, SlotOwner, SourceId, SourceSettings,
};
pub use room::Room;
pub use sight::Signs;
pub use slots::{ControllerSlots, Slots};
pub use source::{Machine, Source};
pub use watch::Watched;
