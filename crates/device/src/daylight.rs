//! A daylight sensor: reports illuminance and never sets a level (DAY-1, DAY-2).

use crate::{Illuminance, Span};

/// What is set on a daylight sensor.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Settings {
    /// A change of more than this many per cent of the last report is reported; 1 – 50.
    pub change_percent: u8,
    /// The least change that is reported.
    pub change_least: Illuminance,
    /// A report is due this long after the last one even without a change.
    pub report: Span,
    /// The sensor measures, and may report, this often.
    pub interval: Span,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            change_percent: 5,
            change_least: Illuminance::from_lux(5),
            report: Span::from_seconds(30),
            interval: Span::from_seconds(1),
        }
    }
}
