//! The state of a clause in a run.
//!
//! Invariant: a broken monitor runs no timer and stays broken.

use device::Span;

use crate::{Formula, View};

/// What a monitor does besides changing its own state.
pub trait Effects {
    /// Starts (or restarts) timer `timer` of this monitor: it is named in the `elapsed` mask of
    /// [`Monitor::judge`] at the end of the instant `span` later.
    fn start(&mut self, timer: u8, span: Span);

    /// Stops timer `timer` of this monitor.
    fn stop(&mut self, timer: u8);

    /// Says what happened to the clause at this instant.
    fn turn(&mut self, turn: Turn);
}

/// What a monitor says at an instant.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Turn {
    /// The clause was triggered.
    Triggered,
    /// An obligation was met.
    Held,
    /// The clause is broken.
    Broken,
}

/// How a clause stands.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Verdict {
    /// Exercised, and everything asked for was so.
    Held,
    /// Something asked for was not so.
    Broken,
    /// Nothing in the run put the clause to the test.
    NeverExercised,
    /// Something asked for is still pending.
    Open,
}

/// The state of one clause in a run: a few bits.
#[derive(Clone, Debug, Default, Eq, Hash, PartialEq)]
pub struct Monitor {
    begun: bool,
}

impl Monitor {
    /// A monitor that has seen nothing yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Judges an instant by its end. Called once at the end of the first instant of the run
    /// (whatever happens in it) and of every later instant at which anything happened. Bit *n*
    /// of `elapsed` is set when timer *n* of this monitor elapsed in this instant.
    ///
    /// In the first call conditions that hold do not count as becoming true.
    pub fn judge(
        &mut self,
        _formula: &Formula,
        _view: &impl View,
        _elapsed: u32,
        _effects: &mut impl Effects,
    ) {
        self.begun = true;
    }

    /// How the clause stands now.
    #[must_use]
    pub fn verdict(&self, _formula: &Formula) -> Verdict {
        Verdict::NeverExercised
    }

    /// Forgets what has been exercised, so that states which differ only in that are equal.
    pub fn forget_exercise(&mut self) {}
}
