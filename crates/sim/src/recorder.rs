//! Who keeps the trace: nobody, or all of it.
//!
//! Invariant: a recorder only listens. What happens is the same under every recorder, and under
//! [`Silent`] causes take neither time nor room.

use core::fmt::Debug;

use crate::{Instant, Step, StepId, Trace, What};

/// Takes the steps of a run as they happen.
pub trait Recorder: Clone + Debug + Default {
    /// How a step is named as the cause of others.
    type Cause: Clone + Copy + Debug + Default + Eq;

    /// Whether steps are kept at all; `false` spares working them out.
    const KEEPS: bool;

    /// Takes a step and names it.
    fn record(
        &mut self,
        at: Instant,
        cause: Self::Cause,
        what: impl FnOnce() -> What,
    ) -> Self::Cause;

    /// How many steps are kept.
    fn steps(&self) -> usize;

    /// Forgets every step after the first `length`.
    fn truncate(&mut self, length: usize);
}

/// Keeps nothing.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, PartialEq)]
pub struct Silent;

impl Recorder for Silent {
    type Cause = ();

    const KEEPS: bool = false;

    #[inline]
    fn record(&mut self, _: Instant, (): (), _: impl FnOnce() -> What) {}

    fn steps(&self) -> usize {
        0
    }

    fn truncate(&mut self, _: usize) {}
}

/// Keeps every step with its cause.
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub struct Full {
    /// What was kept so far.
    pub trace: Trace,
}

impl Recorder for Full {
    type Cause = Option<StepId>;

    const KEEPS: bool = true;

    #[inline]
    fn record(
        &mut self,
        at: Instant,
        cause: Option<StepId>,
        what: impl FnOnce() -> What,
    ) -> Option<StepId> {
        let steps = &mut self.trace.steps;
        let id = StepId::at(steps.len());
        steps.push(Step {
            at,
            cause,
            what: what(),
        });
        Some(id)
    }

    fn steps(&self) -> usize {
        self.trace.steps.len()
    }

    fn truncate(&mut self, length: usize) {
        self.trace.steps.truncate(length);
    }
}
