//! The named timer slots of a controller.

/// The timers of a controller.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Timer {
    /// A source was not heard for too long (OUT-11), by its index in `Settings::heard`.
    Silence(u8),
    /// A button is down and may become a hold (SW-0), by its index in `Settings::buttons`.
    Threshold(u8),
    /// The run-on of a link, by its index in `Settings::links`.
    RunOn(u8),
    /// A timer of the output with this index.
    Output(u8, OutputTimer),
}

/// The timers of an output, in the order of their names.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum OutputTimer {
    /// The dark half second of a blink warning.
    Blink,
    /// Dim-to-dark delay (DAY-7).
    Dark,
    /// The light is on its way to the target (OUT-22).
    Fade,
    /// Re-entry grace, and the time until a latch is forgotten (OUT-19, OUT-20).
    Grace,
    /// A learning window (LINK-1).
    Learning,
    /// The daylight limit is on its way (DAY-6).
    Limit,
    /// A minimum on- or off-time (OUT-16).
    Minimum,
    /// From setback to off (OUT-8).
    OffAfter,
    /// The override of a sweep (CLK-2).
    Override,
    /// Feedback poll (OUT-23).
    Poll,
    /// Press hold L (OUT-21).
    PressHold,
    /// Normal light is being proven (OUT-13).
    Proven,
    /// Asked moves while a button is held (SW-5).
    Ramp,
    /// A shed is on its way (OUT-14).
    Shed,
    /// A warning runs (OUT-10).
    Warning,
}

impl OutputTimer {
    /// The timers during which a level is on its way: of light, limit, asked and shed.
    pub const WAYS: [Self; 4] = [Self::Fade, Self::Limit, Self::Ramp, Self::Shed];

    /// Every timer of an output, in the order of their names.
    pub const ALL: [Self; 15] = [
        Self::Blink,
        Self::Dark,
        Self::Fade,
        Self::Grace,
        Self::Learning,
        Self::Limit,
        Self::Minimum,
        Self::OffAfter,
        Self::Override,
        Self::Poll,
        Self::PressHold,
        Self::Proven,
        Self::Ramp,
        Self::Shed,
        Self::Warning,
    ];
}
