//! `room.toml`: what stands in a room, read into a plan.

mod tables;

pub use tables::{ROOM, SITE};
