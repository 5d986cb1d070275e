//! Why something that was asked for is not done, as the page says it.

use scenario::Diagnostic;
use scenario::words::WordError;
use serde::Serialize;

/// Why something is not done, and what to do instead.
#[derive(Clone, Debug, Eq, PartialEq, Serialize, thiserror::Error)]
#[error("{message}")]
pub struct Refusal {
    /// What is wrong: one sentence, lowercase, without a period.
    pub message: String,
    /// What to do about it; may be empty.
    pub hint: String,
    /// The rule of files that was hurt, if it was one.
    #[serde(skip)]
    rule: Option<&'static str>,
}

impl Refusal {
    /// A refusal with its hint.
    pub fn new(message: impl Into<String>, hint: impl Into<String>) -> Self {
        Self {
            message: message.into(),
            hint: hint.into(),
            rule: None,
        }
    }

    /// Whether something happens already at that point and at that very moment.
    pub(crate) fn is_two_at_once(&self) -> bool {
        self.rule == Some("two at once")
    }
}

impl From<&Diagnostic> for Refusal {
    fn from(found: &Diagnostic) -> Self {
        Self {
            rule: Some(found.rule),
            ..Self::new(found.message.clone(), found.hint.clone())
        }
    }
}

impl From<WordError> for Refusal {
    fn from(error: WordError) -> Self {
        Self::new(error.message, error.hint)
    }
}
