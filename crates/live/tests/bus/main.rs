//! The bus as a whole: hosts, nodes and those who mean harm.
#![expect(
    clippy::unwrap_used,
    reason = "what a test puts together is known to be whole"
)]

mod faults;
mod free;
mod lockstep;
mod support;
