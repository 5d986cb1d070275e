//! A time clock. The calendar (days, holidays, daylight saving) is evaluated outside, in
//! civil time; the clock hears each entry when it falls due and keeps time through power cuts.

use crate::Span;

/// What is set on a time clock.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Settings {
    /// How long the clock keeps time without power (CLK-4).
    pub reserve: Span,
    /// Report interval of its state; `None`: reports on change only.
    pub report: Option<Span>,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            reserve: Span::from_hours(10),
            report: Some(Span::from_minutes(4)),
        }
    }
}

/// A calendar entry that falls due.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Entry {
    /// Opening hours begin.
    Opening,
    /// Opening hours end.
    Closing,
    /// An off sweep.
    Sweep,
}
