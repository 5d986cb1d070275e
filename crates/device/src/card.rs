//! A key-card reader at a guest-room door.

use crate::Span;

/// What is set on a key-card reader.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Settings {
    /// Linger: the room works on this long after the card is pulled; 0 – 20 min.
    pub linger: Span,
    /// Report interval H; `None`: reports on change only.
    pub report: Option<Span>,
    /// Whether a card that does not belong to the room is ignored and reported.
    pub verifies: bool,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            linger: Span::from_seconds(30),
            report: Some(Span::from_minutes(4)),
            verifies: false,
        }
    }
}
