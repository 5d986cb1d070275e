//! A controller: hears sources, follows its links and drives its outputs.
//!
//! The rows of OUT, SW (the half that is measured at the controller), CARD, CLK, VENT, RCP,
//! LINK and the daylight limit of DAY. Reading order: `settings` (what stands still),
//! `state` (what moves), `chain` (OUT-1: from asked to light), `rules` (on and off),
//! `vacancy`, then one file per kind of source.
//!
//! Invariants: a ramp has an owner; a warning is on an output that is lit; a span that runs is
//! a timer of this controller and nothing else remembers when it began.

mod card;
mod chain;
mod contact;
mod exchange;
mod gesture;
mod inputs;
mod limit;
mod links;
mod onsite;
mod power;
mod pretence;
mod rules;
mod safety;
mod schedule;
mod settings;
mod state;
mod teach;
mod timers;
mod vacancy;
mod view;
mod work;

pub use pretence::Pretence;
pub use settings::{
    Button, Calibration, Drive, Heard, HeardKind, Link, Loop, LoopKind, Lost, Output, PowerUp,
    Role, Settings, Warning,
};
pub use state::{Controller, Said, State};
pub use timers::{OutputTimer, Timer};
pub use view::View;
pub use work::Outside;

#[cfg(test)]
mod tests;
