//! Scenario files: rows of time, point and what happens or must be so.
pub mod civil;
pub mod phrase;
pub(crate) mod reader;
pub mod time;
