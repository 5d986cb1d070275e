//! Scenario files: rows of time, point and what happens or must be so.

pub mod calendar;
pub mod civil;
mod expand;
mod file;
pub mod people;
pub mod phrase;
pub(crate) mod reader;
mod table;
pub mod time;

pub use table::SCENARIO;
