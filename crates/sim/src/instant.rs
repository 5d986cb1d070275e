//! A moment of a run.

use device::Span;

/// A moment in whole milliseconds since the run began. It has no `now`.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct Instant(u64);

impl Instant {
    /// The beginning of the run.
    pub const START: Self = Self(0);
    /// A moment that never comes.
    pub const NEVER: Self = Self(u64::MAX);

    /// The moment `ms` milliseconds after the beginning.
    #[must_use]
    pub const fn from_ms(ms: u64) -> Self {
        Self(ms)
    }

    /// Milliseconds since the beginning.
    #[must_use]
    pub const fn as_ms(self) -> u64 {
        self.0
    }

    /// The moment `span` later.
    #[must_use]
    pub const fn after(self, span: Span) -> Self {
        Self(self.0.saturating_add(span.as_ms()))
    }

    /// The span from `earlier` to this moment; zero when it is not earlier.
    #[must_use]
    pub const fn since(self, earlier: Self) -> Span {
        Span::from_ms(self.0.saturating_sub(earlier.0))
    }
}
