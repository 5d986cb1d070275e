//! Difference-bound matrices over the remaining times of running timers.

/// A number of milliseconds, held in 32 bits: ± 6 days are enough for every timer.
pub type Ms = i32;

/// A timer: a slot of the room, or above those a frame on its way.
pub type Timer = u16;

/// The set of remaining times that the timers may have together.
#[derive(Clone, Debug, Default, Eq, Hash, PartialEq)]
pub struct Zone {
    timers: Vec<Timer>,
}

impl Zone {
    /// No timer runs.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// The running timers, sorted.
    #[must_use]
    pub fn timers(&self) -> &[Timer] {
        &self.timers
    }
}
