//! A path through state classes: what happens at each instant, with the instants left open.
//!
//! A path says which timer elapses at which step, and so how far apart the steps may be. That is
//! a system of differences over the instants ([`Timing`]): its least solution is the shortest
//! run that takes this path, and [`Path::rounded`] makes of it one that a person would write.

use device::Span;
use room::{ControllerId, Input, SourceId};

use crate::zone::{Ms, Timer};

mod rounding;
mod timing;

pub use rounding::{GRAINS, roundest};
pub use timing::Timing;

/// A run whose instants are still open: step 0 is the start of the run at 0 ms, each later step
/// is one instant, at least 1 ms after the step before.
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub struct Path {
    /// The instants, in order.
    pub steps: Vec<PathStep>,
}

/// One instant of a path.
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub struct PathStep {
    /// What comes from outside at this instant, in the order in which it was taken.
    pub happens: Vec<Happening>,
    /// The timers (of devices, frames on their way, clauses) that elapse at this instant.
    pub fired: Vec<Timer>,
    /// The timers that are stopped, or restarted, at this instant, as often as that happens. A
    /// timer that is restarted stands here and in `started`.
    pub stopped: Vec<Timer>,
    /// Of the timers that are stopped, those that ran before this instant and were not due at it:
    /// a clause judges when its deadlines have elapsed, and a device timer when those before it
    /// have.
    pub outlived: Vec<Timer>,
    /// The timers that are started at this instant, each with the least and the most that
    /// remains on it, as often as that happens. Whether a timer runs when the instant is over
    /// follows from how often it was started, stopped and fired.
    pub started: Vec<(Timer, Ms, Ms)>,
    /// What remains, exactly, on running timers at this instant (a level on its way was read).
    pub remains: Vec<(Timer, Ms)>,
}

/// Something from outside.
#[derive(Clone, Debug, Eq, PartialEq)]
pub enum Happening {
    /// An input of the room.
    Input(Input),
    /// The power of all that hangs on the mains goes or comes back.
    RoomPower(bool),
    /// The frame that the source sends at this instant does not reach this listener.
    Lost(SourceId, ControllerId),
    /// The frame that the source sends at this instant reaches this listener twice.
    Twice(SourceId, ControllerId),
    /// The frame that the source sends at this instant reaches this listener this much later
    /// than its link's own delay.
    Late(SourceId, ControllerId, Span),
}

#[cfg(test)]
mod tests;
