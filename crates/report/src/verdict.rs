//! How something that was asked of a run fared.

use serde::{Deserialize, Serialize};

/// How a check, a clause or a scenario fared.
#[derive(Clone, Copy, Debug, Deserialize, Eq, Ord, PartialEq, PartialOrd, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// It was as asked.
    Held,
    /// It was not.
    Broken,
    /// A clause that nothing in the run has put to the test.
    NeverExercised,
    /// A clause whose deadline lay beyond the end of the run.
    Open,
    /// It could not be told.
    Undecided,
}

impl Verdict {
    /// Every verdict, in the order of the reports.
    pub const ALL: [Self; 5] = [
        Self::Held,
        Self::Broken,
        Self::NeverExercised,
        Self::Open,
        Self::Undecided,
    ];

    /// The verdict in words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Held => "held",
            Self::Broken => "broken",
            Self::NeverExercised => "never exercised",
            Self::Open => "open",
            Self::Undecided => "undecided",
        }
    }

    /// A sign that can be told from the others without colour.
    #[must_use]
    pub const fn sign(self) -> &'static str {
        match self {
            Self::Held => "\u{2713}",
            Self::Broken => "\u{2717}",
            Self::NeverExercised => "\u{00b7}",
            Self::Open => "\u{2026}",
            Self::Undecided => "?",
        }
    }
}

impl std::fmt::Display for Verdict {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(self.words())
    }
}
