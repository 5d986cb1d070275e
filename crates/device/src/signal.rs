//! Two-state signal sources and demand response: normal power, fire alarm, shed.

use crate::Span;

/// What is set on a signal source.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Settings {
    /// What the source watches.
    pub kind: Kind,
    /// Report interval of its state; `None`: reports on change only.
    pub report: Option<Span>,
}

/// What a signal source watches.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Kind {
    /// Normal power of the lighting circuit; at rest: present.
    NormalPower,
    /// The fire alarm; at rest: silent.
    FireAlarm,
    /// Demand response; at rest: no shed.
    DemandResponse,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            kind: Kind::NormalPower,
            report: Some(Span::from_minutes(4)),
        }
    }
}
