//! A wall unit with one to eight buttons: sends every edge once, unacknowledged.
//!
//! Taps, holds and ramps are told apart by the controller that listens (SW-0).

use alloc::vec::Vec;

use crate::Span;

/// What is set on a wall unit.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Settings {
    /// The unit's buttons, in the order of their numbers.
    pub buttons: Vec<Button>,
    /// The least time between two edges of one button (contact bounce); zero: none.
    pub edge_gap: Span,
}

/// What a button of a wall unit is made for.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Button {
    /// A single button: toggles, and ramps opposite to the last time.
    Single,
    /// The upper half of a pair.
    Up,
    /// The lower half of a pair.
    Down,
    /// Recalls a scene.
    Scene,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            buttons: alloc::vec![Button::Up, Button::Down],
            edge_gap: Span::from_ms(50),
        }
    }
}
