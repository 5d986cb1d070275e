//! The engine as a whole: rooms on the numeric clock.
#![expect(
    clippy::unwrap_used,
    reason = "what a test puts together is known to be whole"
)]

mod clauses;
mod exported;
mod forget;
mod outside;
mod properties;
mod random;
mod rows;
mod support;
mod workload;
mod worth;
