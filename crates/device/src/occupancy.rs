//! An occupancy sensor: passive infrared motion and, on dual-technology units, sound.
//!
//! Motion starts occupancy and sound may only prolong it, within the sound window.

use crate::{Illuminance, Span};

/// What is set on an occupancy sensor.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Settings {
    /// Dual technology: the unit has a microphone.
    pub sound: bool,
    /// Time delay T: vacant this long after the last event that counts; 30 s – 30 min.
    pub time_delay: Span,
    /// Sound window W: sound counts this long after the last motion; zero, or T – 120 min.
    pub window: Span,
    /// Sound grace G: sound may bring occupancy back this long after T; 0 – 60 s.
    pub grace: Span,
    /// Report interval H; `None`: reports on change only.
    pub report: Option<Span>,
    /// Repeat R: motion while occupied repeats *occupied* when the last report is older.
    pub repeat: Option<Span>,
    /// Warm-up after power comes: nothing is sensed and nothing reported.
    pub warm_up: Span,
    /// Dead time: the sensor is blind this long after each event; zero: never.
    pub dead_time: Span,
    /// Ambient hold-off: motion above this illuminance is reported with the mark *bright*.
    pub hold_off: Option<Illuminance>,
}

impl Default for Settings {
    /// The defaults of the trade (common practice; the dead time is IEC 62386-303's 100 ms).
    fn default() -> Self {
        Self {
            sound: false,
            time_delay: Span::from_minutes(15),
            window: Span::from_minutes(60),
            grace: Span::ZERO,
            report: Some(Span::from_minutes(4)),
            repeat: None,
            warm_up: Span::from_seconds(45),
            dead_time: Span::from_ms(100),
            hold_off: None,
        }
    }
}
