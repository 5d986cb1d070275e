//! Seeded flaws: one wrong line of firmware each, to show that a sequence notices it.

/// A seeded flaw of a device. No room that is meant has one; `roomrig challenge` sets them one by
/// one to find clauses and scenarios that would not notice.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Flaw {
    /// Sound turns a vacant sensor occupied (against OCC-2).
    SoundTurnsOn,
    /// Sound restarts the sound window (against OCC-4).
    SoundRearmsWindow,
    /// The sound window never closes (against OCC-6).
    WindowNeverCloses,
    /// The output is vacant when the first of two links is (against OUT-3).
    VacantOnFirst,
    /// The links of a source share the run-on of the first (against OUT-3).
    SharedRunOn,
    /// A run-on goes on when the source is occupied again (against OUT-3).
    RunOnNotForgotten,
    /// Off by hand does not latch (against OUT-18).
    HandOffForgotten,
    /// The latch is never cleared (against OUT-20).
    LatchNeverCleared,
    /// Off by hand gives a re-entry grace and no latch (against OUT-19).
    GraceAfterHandOff,
    /// Off in a warning only restores (against OUT-9).
    OffEatenByWarning,
    /// No press hold (against OUT-21).
    PressHoldMissing,
    /// Arrival lowers or raises a level set by hand (against OUT-6).
    PresetBeatsHand,
    /// A setback lights a dark lamp (against OUT-7).
    SetbackLightsDark,
    /// The linger goes on when the card comes back (against CARD-3).
    LingerNotCancelled,
    /// A scene works without a card (against CARD-5).
    SceneIgnoresCaptive,
    /// The override of a sweep never ends (against CLK-2).
    EndlessOverride,
    /// A lost sensor holds its outputs for ever (against OUT-11).
    LostHolds,
    /// A lone *up* acts (against SW-7).
    LoneUpActs,
    /// A ramp that meets its trim does not end (against SW-6).
    EndlessRamp,
    /// The egress floor yields to the daylight limit and to off (against OUT-13).
    FloorYields,
    /// A sweep does not pass over an occupied output (against CLK-2).
    SweepIgnoresOccupied,
    /// Emergency light comes at the asked level (against OUT-13).
    EmergencyNotFull,
    /// A restored level is full instead of the level it had (against OUT-9).
    RestoreForgetsLevel,
    /// A contact ignores its minimum times (against OUT-16).
    NoMinimumTimes,
}

impl Flaw {
    /// Every flaw there is.
    pub const ALL: [Self; 24] = [
        Self::SoundTurnsOn,
        Self::SoundRearmsWindow,
        Self::WindowNeverCloses,
        Self::VacantOnFirst,
        Self::SharedRunOn,
        Self::RunOnNotForgotten,
        Self::HandOffForgotten,
        Self::LatchNeverCleared,
        Self::GraceAfterHandOff,
        Self::OffEatenByWarning,
        Self::PressHoldMissing,
        Self::PresetBeatsHand,
        Self::SetbackLightsDark,
        Self::LingerNotCancelled,
        Self::SceneIgnoresCaptive,
        Self::EndlessOverride,
        Self::LostHolds,
        Self::LoneUpActs,
        Self::EndlessRamp,
        Self::FloorYields,
        Self::SweepIgnoresOccupied,
        Self::EmergencyNotFull,
        Self::RestoreForgetsLevel,
        Self::NoMinimumTimes,
    ];

    /// The flaw in a few words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::SoundTurnsOn => "sound turns on",
            Self::SoundRearmsWindow => "sound re-arms the sound window",
            Self::WindowNeverCloses => "the sound window never closes",
            Self::VacantOnFirst => "vacant on the first of two sensors",
            Self::SharedRunOn => "run-on shared by the links of a source",
            Self::RunOnNotForgotten => "run-on not forgotten on return",
            Self::HandOffForgotten => "off by hand forgotten",
            Self::LatchNeverCleared => "latch never cleared",
            Self::GraceAfterHandOff => "grace relights after off by hand",
            Self::OffEatenByWarning => "off press eaten by the warning",
            Self::PressHoldMissing => "press hold missing",
            Self::PresetBeatsHand => "preset overrides a level set by hand",
            Self::SetbackLightsDark => "setback lights a dark lamp",
            Self::LingerNotCancelled => "linger not cancelled",
            Self::SceneIgnoresCaptive => "scene works without a card",
            Self::EndlessOverride => "override without end",
            Self::LostHolds => "lost sensor holds for ever",
            Self::LoneUpActs => "lone up acts",
            Self::EndlessRamp => "ramp without end",
            Self::FloorYields => "egress floor yields",
            Self::SweepIgnoresOccupied => "sweep ignores people",
            Self::EmergencyNotFull => "emergency light not full",
            Self::RestoreForgetsLevel => "restored at full instead of the level it had",
            Self::NoMinimumTimes => "minimum on-time ignored",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Flaw;
    use alloc::collections::BTreeSet;

    #[test]
    fn each_flaw_is_said_in_words_of_its_own() {
        let words: BTreeSet<&str> = Flaw::ALL.iter().map(|flaw| flaw.words()).collect();
        assert_eq!(words.len(), Flaw::ALL.len());
        assert_eq!(Flaw::LoneUpActs.words(), "lone up acts");
    }
}
