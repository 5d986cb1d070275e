//! How outputs stand, in the words of their kind: a light has levels, a receptacle is on or off,
//! a contact closed or open.

use device::Level;
use device::controller::Drive;
use sim::{OutputState, OutputView};

use super::light;

/// What an output is to the people of the room.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Kind {
    /// Lamps: on at a level, or off.
    Light,
    /// A controlled receptacle: on (energised) or off.
    Receptacle,
    /// A contact towards other trades, ventilation for instance: closed or open.
    Contact,
}

impl Kind {
    /// The kind of what a drive feeds.
    #[must_use]
    pub const fn of(drive: Drive) -> Self {
        match drive {
            Drive::Receptacle => Self::Receptacle,
            Drive::Contact => Self::Contact,
            Drive::Relay | Drive::ZeroToTen | Drive::ForwardPhase | Drive::ReversePhase => {
                Self::Light
            }
        }
    }

    /// Its name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Light => "light",
            Self::Receptacle => "receptacle",
            Self::Contact => "contact",
        }
    }

    /// How it stands in one word, as a lane or a card says it. A contact is what it truly is,
    /// whatever it is asked for: so checks and clauses speak of it.
    #[must_use]
    pub const fn state(self, view: &OutputView) -> &'static str {
        match (self, view.state) {
            (Self::Contact, _) => self.switched(view.closed),
            (_, OutputState::Off) => "off",
            (_, OutputState::On) => "on",
            (_, OutputState::Setback) => "setback",
            (_, OutputState::Warning) => "warning",
        }
    }

    /// Whether it counts as on: a contact while it is closed.
    #[must_use]
    pub fn is_on(self, view: &OutputView) -> bool {
        match self {
            Self::Light | Self::Receptacle => view.state != OutputState::Off,
            Self::Contact => view.closed,
        }
    }

    /// The word of either position.
    #[must_use]
    pub const fn switched(self, on: bool) -> &'static str {
        match (self, on) {
            (Self::Contact, true) => "closed",
            (Self::Contact, false) => "open",
            (_, true) => "on",
            (_, false) => "off",
        }
    }

    /// Whether its relay or contact stands otherwise than its state asks: without power, while it
    /// sticks.
    #[must_use]
    pub fn differs(self, view: &OutputView) -> bool {
        self != Self::Light && view.closed != (view.state != OutputState::Off)
    }

    /// How it stands: `is off, asked 50 %, target 0 %, light 0 %`; `is closed, occupied`. What is
    /// asked of a light is said only if anything ever was.
    #[must_use]
    pub fn stands(self, view: &OutputView, asked: bool) -> String {
        let mut words = match (self, view.state) {
            (Self::Light, OutputState::Setback) => "is at its setback".to_owned(),
            _ => format!("is {}", self.state(view)),
        };
        let differs = self.differs(view);
        match self {
            Self::Light => {
                if asked {
                    words.push_str(&format!(", asked {}", view.asked));
                }
                words.push_str(&format!(", target {}", view.target));
                words.push_str(&format!(", light {}", light(&view.light)));
            }
            Self::Receptacle if differs && view.closed => words.push_str(", relay closed"),
            Self::Receptacle if differs => words.push_str(", relay open"),
            Self::Contact if differs => {
                words.push_str(", asked ");
                words.push_str(self.switched(!view.closed));
            }
            Self::Receptacle | Self::Contact => {}
        }
        let marks = [
            (view.occupied, "occupied"),
            (view.latch, "latch"),
            (view.by_hand, "by hand"),
            (view.emergency, "emergency"),
        ];
        for (_, mark) in marks.iter().filter(|(set, _)| *set) {
            words.push_str(", ");
            words.push_str(mark);
        }
        words
    }

    /// A level that it is asked for, or on its way to.
    #[must_use]
    pub fn level(self, level: Level) -> String {
        match self {
            Self::Light => level.to_string(),
            Self::Receptacle | Self::Contact => self.switched(!level.is_off()).to_owned(),
        }
    }
}
