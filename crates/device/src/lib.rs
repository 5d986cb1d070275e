//! The firmware: every device of a room as one pure state machine.
//!
//! A device takes one input at a time and answers through [`Effects`]: it starts and stops
//! its own named timers, sends frames and notes what it did and why. It never holds an
//! instant, draws no random number and knows no file, socket or clock, so the same value
//! runs under the numeric, the symbolic and the paced clock.
//!
//! Invariant: `Clone`, `Eq` and `Hash` on every state, no floating point, `no_std`.
//!
//! The behaviour rows named in comments (`OCC-4`, `OUT-9`) are those of the device reference
//! in DEVELOPERS.md.
#![no_std]

extern crate alloc;

mod effects;
mod flaw;
mod frame;
mod note;
mod slots;
#[cfg(test)]
mod testing;
mod units;

pub mod card;
pub mod clock;
pub mod controller;
pub mod daylight;
pub mod occupancy;
pub mod signal;
pub mod switch;

pub use effects::Effects;
pub use flaw::Flaw;
pub use frame::{Frame, Payload, Receiver, Signal};
pub use note::{Fault, Ignored, Note};
pub use units::{Illuminance, Level, Points, Span};
