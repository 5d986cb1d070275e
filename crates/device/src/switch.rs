//! A wall unit with one to eight buttons: sends every edge once, unacknowledged.
//!
//! Taps, holds and ramps are told apart by the controller that listens (SW-0).
//!
//! Invariant: a button's gap timer runs from each edge that was sent until the button may send
//! again, and never without power.

use alloc::vec::Vec;

use crate::{Effects, Ignored, Note, Payload, Span};

/// Sends *down* and *up* of each button, at least an edge gap apart.
#[derive(Clone, Debug, Default, Eq, Hash, PartialEq)]
pub struct Unit {
    /// The contacts that are closed, one bit each.
    closed: u8,
    /// The buttons whose last edge was *down*, one bit each.
    reported: u8,
    /// The buttons that may not send yet, one bit each (ORD-4).
    waiting: u8,
    /// Whether the battery is dead.
    dead: bool,
}

impl Unit {
    /// A unit that nobody touches.
    #[must_use]
    pub const fn new(_settings: &Settings) -> Self {
        Self {
            closed: 0,
            reported: 0,
            waiting: 0,
            dead: false,
        }
    }

    /// The run begins: a wall unit has no report to time.
    pub fn handle_start(
        &mut self,
        _settings: &Settings,
        _effects: &mut impl Effects<Timer = Timer>,
    ) {
    }

    /// A finger presses this button.
    #[inline]
    pub fn handle_press(
        &mut self,
        settings: &Settings,
        button: u8,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        self.handle_edge(settings, button, true, effects);
    }

    /// A finger leaves this button.
    #[inline]
    pub fn handle_release(
        &mut self,
        settings: &Settings,
        button: u8,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        self.handle_edge(settings, button, false, effects);
    }

    /// The battery dies (`false`) or is replaced. What a finger did meanwhile is never sent.
    pub fn handle_power(
        &mut self,
        _settings: &Settings,
        on: bool,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        if on != self.dead {
            return effects.note(Note::Ignored(Ignored::NoChange));
        }
        self.dead = !on;
        effects.note(Note::Power(on));
        self.reported = self.closed;
        for button in 0..Timer::COUNT {
            if self.waiting & bit(button) != 0 {
                effects.stop(Timer::EdgeGap(button));
            }
        }
        self.waiting = 0;
    }

    /// Settings are changed on site: running gaps restart with the new span (SET-1).
    pub fn handle_settings(
        &mut self,
        old: &Settings,
        new: &Settings,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        effects.note(Note::SettingChanged);
        if old.edge_gap == new.edge_gap {
            return;
        }
        for button in 0..Timer::COUNT {
            if self.waiting & bit(button) != 0 {
                effects.start(Timer::EdgeGap(button), new.edge_gap);
            }
        }
    }

    /// Somebody presses the teach-in button of the unit (LINK-1).
    pub fn handle_teach_in(&mut self, effects: &mut impl Effects<Timer = Timer>) {
        if self.dead {
            return effects.note(Note::Ignored(Ignored::NoPower));
        }
        effects.send(Payload::TeachIn);
    }

    /// A gap has elapsed: an edge that was kept back is sent if the contact still differs.
    pub fn handle_elapsed(
        &mut self,
        settings: &Settings,
        timer: Timer,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        let Timer::EdgeGap(button) = timer;
        self.waiting &= !bit(button);
        if (self.closed ^ self.reported) & bit(button) != 0 {
            self.send(settings, button, effects);
        }
    }

    /// Whether a finger is on this button.
    #[must_use]
    pub const fn is_down(&self, button: u8) -> bool {
        self.closed & bit(button) != 0
    }

    #[inline]
    fn handle_edge(
        &mut self,
        settings: &Settings,
        button: u8,
        down: bool,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        let bit = bit(button);
        if (self.closed & bit != 0) == down {
            return effects.note(Note::Ignored(Ignored::NoChange));
        }
        self.closed ^= bit;
        if self.dead {
            effects.note(Note::Ignored(Ignored::NoPower));
        } else if self.waiting & bit != 0 {
            effects.note(Note::Ignored(Ignored::DeadTime));
        } else {
            self.send(settings, button, effects);
        }
    }

    #[inline]
    fn send(&mut self, settings: &Settings, button: u8, effects: &mut impl Effects<Timer = Timer>) {
        let bit = bit(button);
        self.reported = self.reported & !bit | self.closed & bit;
        effects.send(if self.closed & bit == 0 {
            Payload::Up(button)
        } else {
            Payload::Down(button)
        });
        if !settings.edge_gap.is_zero() {
            self.waiting |= bit;
            effects.start(Timer::EdgeGap(button), settings.edge_gap);
        }
    }
}

/// The timers of a wall unit, in the order of their names.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Timer {
    /// When this button may send its next edge (ORD-4).
    EdgeGap(u8),
}

impl Timer {
    /// How many timers a unit has: one for each of its buttons at most.
    pub const COUNT: u8 = 8;

    /// The place of the timer among those of its device.
    #[must_use]
    pub const fn number(self) -> u8 {
        let Self::EdgeGap(button) = self;
        button
    }

    /// The timer at this place.
    #[must_use]
    pub const fn from_number(number: u8) -> Option<Self> {
        if number < Self::COUNT {
            Some(Self::EdgeGap(number))
        } else {
            None
        }
    }

    /// The name of the slot; slots of one name follow the numbers of the buttons.
    #[must_use]
    pub const fn name(self) -> &'static str {
        "edge gap"
    }
}

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

/// The bit of a button. A unit has eight at most, so a higher number is none of its buttons.
#[inline]
const fn bit(button: u8) -> u8 {
    match 1_u8.checked_shl(button as u32) {
        Some(bit) => bit,
        None => 0,
    }
}
