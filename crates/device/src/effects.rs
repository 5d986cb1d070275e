//! The one door through which a device acts on what is outside it.

use crate::{Note, Payload, Span};

/// What a device may do while it handles an input.
///
/// The clock that drives the device implements it: numeric in the simulator, symbolic in the
/// prover. Starting a running timer restarts it; stopping one that does not run does nothing.
pub trait Effects {
    /// The named timer slots of the device.
    type Timer: Copy;

    /// Starts (or restarts) `timer`: the device hears when `span` has elapsed.
    fn start(&mut self, timer: Self::Timer, span: Span);

    /// Stops `timer`.
    fn stop(&mut self, timer: Self::Timer);

    /// The span that remains on a timer of the device's own; `None` when it does not run.
    fn remaining(&self, timer: Self::Timer) -> Option<Span>;

    /// Sends a frame to every listener of this device.
    fn send(&mut self, payload: Payload);

    /// Says what the device did, or why it did nothing. Notes explain; they never act.
    fn note(&mut self, note: Note);
}

/// Starts a timer whose span may be none at all; says whether it runs.
pub(crate) fn start_if_set<E: Effects>(
    effects: &mut E,
    timer: E::Timer,
    span: Option<Span>,
) -> bool {
    match span {
        Some(span) if !span.is_zero() => {
            effects.start(timer, span);
            true
        }
        _ => false,
    }
}
