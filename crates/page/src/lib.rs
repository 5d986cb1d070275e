//! The live page: a session with one room, whoever watches it, and the server between them.
//!
//! What is done on the page is rows of a scenario, in the very words of a scenario file. A
//! [`Session`] is a room, its start, the rows so far and a present moment; it can go back to any
//! moment, go another way from there, and be written as a scenario. It knows no clock of the
//! wall and no network. The [`server`] paces it, serves the page and lets viewers follow.
//!
//! Invariant: rows are read by the reader of scenario files and by nothing else, so whatever a
//! scenario can say can be done here, and everything done here can be written as a scenario.

mod ledger;
mod lesson;
mod opening;
mod past;
mod record;
mod refusal;
#[cfg(test)]
mod samples;
mod score;
pub mod server;
mod session;
mod settings;
mod stage;
mod still;
mod tell;
mod view;

pub use record::{Draft, Record};
pub use refusal::Refusal;
pub use score::Row;
pub use session::Session;
pub use stage::Stage;
