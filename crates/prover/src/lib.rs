//! The symbolic clock: every step of a room under every timing, in dense time.
//!
//! The room's one transition function is driven by a clock on which a running timer is a
//! variable: a state class is the value of the room and a difference-bound matrix over the
//! remaining times of its timers (Berthomieu and Menasche 1983; Berthomieu and Diaz 1991; Dill
//! 1989). A class that lies in one already seen is dropped.
//!
//! Invariant: pure; no file, no thread, no wall clock. Same question, same answer, same path.

pub mod classes;
pub mod model;
pub mod path;
pub mod sight;
pub mod slice;
pub mod zone;

pub use path::{Happening, Path, PathStep};
pub use sight::Sight;
pub use slice::Slice;
pub use zone::Zone;
