//! The engine as a whole: rooms on the numeric clock.
#![expect(
    clippy::unwrap_used,
    reason = "what a test puts together is known to be whole"
)]

mod properties;
mod random;
mod support;
mod workload;
