//! The language of clauses: one sentence in, one monitor out.
//!
//! [`Formula::parse`] reads the keyed text of a clause (`when`, `then`, `within`, …) and gives
//! a [`Formula`], which stands still, and which any number of [`Monitor`]s judge. A monitor
//! never knows what time it is: it starts and stops a few numbered timers and is called once
//! at the end of each instant at which anything happened. What can be
//! written is listed in [`language`], what it means in [`semantics`].
//!
//! Invariant: a monitor is finite; its state is a few bits whatever the run.
//!
//! ```
//! use clause::{Formula, Names};
//! use device::Span;
//!
//! let names = Names {
//!     outputs: vec!["desk-lights".into()],
//!     ..Names::default()
//! };
//! let fields = [("always", "desk-lights turns off only after desk-lights is in warning for 30 s")];
//! let formula = Formula::parse(&fields, &names, Span::from_seconds(1))?;
//! assert_eq!(formula.timers(), 1);
//!
//! let wrong = [("never", "desk-light is on")];
//! let error = Formula::parse(&wrong, &names, Span::from_seconds(1)).unwrap_err();
//! assert_eq!(error.hint, "did you mean `desk-lights`?");
//! assert_eq!(&wrong[0].1[error.span], "desk-light");
//! # Ok::<(), clause::ClauseError>(())
//! ```
#![no_std]

extern crate alloc;

mod formula;
mod mentions;
mod monitor;
mod point;
mod renumber;
mod spans;

mod names;
mod parse;

mod expr;
mod words;
mod write;

mod compile;
mod node;

mod error;

pub mod language;
pub mod semantics;

pub use error::ClauseError;
pub use formula::Formula;
pub use mentions::Mentions;
pub use monitor::{Effects, Monitor, Turn, Verdict};
pub use names::{Group, Names, SourceKind, SourceName};
pub use point::{
    Atom, Brightness, By, Change, Channel, Compare, Doer, Event, Gesture, Origin, OutputState,
    Point, Quantity, SourceEvent, SourceState, View,
};
pub use spans::{Bound, BoundKind, BoundPlace, Sense};
