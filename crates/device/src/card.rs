//! A key-card reader at a guest-room door.
//!
//! The linger runs in the reader: the room hears *out* only when it has ended, so a card that
//! comes back in time changes nothing at all (CARD-2, CARD-3).
//!
//! Invariants: the linger runs while lingering; a reader without power runs nothing.

use crate::effects::start_if_set;
use crate::{Effects, Fault, Flaw, Ignored, Note, Payload, Span};

/// Reports a card as *in* at once and as *out* when its linger has ended.
#[derive(Clone, Debug, Default, Eq, Hash, PartialEq)]
pub struct Reader {
    state: State,
    /// Whether a card that does not belong to the room sits in the slot (CARD-7).
    wrong: bool,
    /// Whether the power is cut.
    cut: bool,
}

/// What a reader believes.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum State {
    /// A card of the room is in.
    In,
    /// The card has been pulled and the linger runs: counts as in.
    Lingering,
    /// No card.
    #[default]
    Out,
}

impl Reader {
    /// The reader of a settled room without a card.
    #[must_use]
    pub const fn new(_settings: &Settings) -> Self {
        Self {
            state: State::Out,
            wrong: false,
            cut: false,
        }
    }

    /// The run begins: the report interval starts in the settled room.
    pub fn handle_start(&mut self, settings: &Settings, effects: &mut impl Effects<Timer = Timer>) {
        start_if_set(effects, Timer::Report, settings.report);
    }

    /// A card is put in; `valid`: it belongs to the room.
    pub fn handle_card_in(
        &mut self,
        settings: &Settings,
        valid: bool,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        if settings.verifies && !valid {
            return self.handle_wrong_card(effects);
        }
        self.end_wrong_card(effects);
        let before = self.state;
        self.state = State::In;
        match before {
            _ if self.cut => effects.note(Note::Ignored(Ignored::NoPower)),
            State::In => effects.note(Note::Ignored(Ignored::NoChange)),
            State::Lingering if settings.flaw == Some(Flaw::LingerNotCancelled) => {}
            State::Lingering => effects.stop(Timer::Linger),
            State::Out => self.report(settings, effects),
        }
    }

    /// The card is pulled.
    pub fn handle_card_out(
        &mut self,
        settings: &Settings,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        let wrong = self.wrong;
        self.end_wrong_card(effects);
        if self.cut {
            self.state = State::Out;
            effects.note(Note::Ignored(Ignored::NoPower));
        } else if self.state != State::In {
            if !wrong {
                effects.note(Note::Ignored(Ignored::NoChange));
            }
        } else if start_if_set(effects, Timer::Linger, Some(settings.linger)) {
            self.state = State::Lingering;
        } else {
            self.leave(settings, effects);
        }
    }

    /// Power goes (`false`) or comes back. Without power no linger runs: a card that is out
    /// when power returns is out at once (CARD-6).
    pub fn handle_power(
        &mut self,
        settings: &Settings,
        on: bool,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        if on != self.cut {
            return effects.note(Note::Ignored(Ignored::NoChange));
        }
        self.cut = !on;
        effects.note(Note::Power(on));
        if !on {
            effects.stop(Timer::Linger);
            effects.stop(Timer::Report);
            if self.state == State::Lingering {
                self.state = State::Out;
            }
            return;
        }
        self.report(settings, effects);
        if self.wrong {
            self.handle_wrong_card(effects);
        }
    }

    /// Settings are changed on site: running timers restart with their new spans (SET-1).
    pub fn handle_settings(
        &mut self,
        old: &Settings,
        new: &Settings,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        effects.note(Note::SettingChanged);
        if self.state == State::Lingering && old.linger != new.linger {
            effects.start(Timer::Linger, new.linger);
        }
        if !self.cut && old.report != new.report {
            effects.stop(Timer::Report);
            start_if_set(effects, Timer::Report, new.report);
        }
    }

    /// Somebody presses the teach-in button of the reader (LINK-1).
    pub fn handle_teach_in(&mut self, effects: &mut impl Effects<Timer = Timer>) {
        if self.cut {
            return effects.note(Note::Ignored(Ignored::NoPower));
        }
        effects.send(Payload::TeachIn);
    }

    /// A timer has elapsed.
    pub fn handle_elapsed(
        &mut self,
        settings: &Settings,
        timer: Timer,
        effects: &mut impl Effects<Timer = Timer>,
    ) {
        match timer {
            Timer::Linger => self.leave(settings, effects),
            Timer::Report => self.report(settings, effects),
        }
    }

    /// What the reader believes.
    #[must_use]
    pub const fn state(&self) -> State {
        self.state
    }

    /// Whether the room works as with a card in: it is in, or its linger runs.
    #[must_use]
    pub const fn is_in(&self) -> bool {
        !matches!(self.state, State::Out)
    }

    /// Ignored and reported: the belief about the card of the room stands (CARD-7).
    fn handle_wrong_card(&mut self, effects: &mut impl Effects<Timer = Timer>) {
        self.wrong = true;
        if self.cut {
            return effects.note(Note::Ignored(Ignored::NoPower));
        }
        effects.note(Note::Ignored(Ignored::WrongCard));
        effects.note(Note::Fault(Fault::WrongCard));
        effects.send(Payload::WrongCard);
    }

    fn end_wrong_card(&mut self, effects: &mut impl Effects<Timer = Timer>) {
        if self.wrong {
            self.wrong = false;
            effects.note(Note::FaultEnded(Fault::WrongCard));
        }
    }

    fn leave(&mut self, settings: &Settings, effects: &mut impl Effects<Timer = Timer>) {
        self.state = State::Out;
        self.report(settings, effects);
    }

    /// Says the present state, and counts the report interval from here.
    fn report(&mut self, settings: &Settings, effects: &mut impl Effects<Timer = Timer>) {
        effects.send(if self.is_in() {
            Payload::CardIn
        } else {
            Payload::CardOut
        });
        start_if_set(effects, Timer::Report, settings.report);
    }
}

/// The timers of a reader, in the order of their names.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Timer {
    /// When the room hears that the card is out (CARD-2).
    Linger,
    /// When the state is reported again (CARD-6).
    Report,
}

impl Timer {
    /// How many timers the device has.
    pub const COUNT: u8 = 2;

    /// Every timer, in order.
    pub const ALL: [Self; Self::COUNT as usize] = [Self::Linger, Self::Report];

    /// The place of the timer among those of its device.
    #[must_use]
    pub const fn number(self) -> u8 {
        self as u8
    }

    /// The timer at this place.
    #[must_use]
    pub fn from_number(number: u8) -> Option<Self> {
        Self::ALL.get(usize::from(number)).copied()
    }

    /// The name of the slot, by which timers of one instant are ordered (ORD-1).
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Linger => "linger",
            Self::Report => "report",
        }
    }
}

/// What is set on a key-card reader.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Settings {
    /// Linger: the room works on this long after the card is pulled; 0 – 20 min.
    pub linger: Span,
    /// Report interval H; `None`: reports on change only.
    pub report: Option<Span>,
    /// Whether a card that does not belong to the room is ignored and reported.
    pub verifies: bool,
    /// A seeded flaw; `None` in every room that is meant.
    pub flaw: Option<Flaw>,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            linger: Span::from_seconds(30),
            report: Some(Span::from_minutes(4)),
            verifies: false,
            flaw: None,
        }
    }
}
