//! What a clause can ask of a room: conditions, events, and who was the cause.
//!
//! A room implements [`View`] at the end of an instant. Conditions are judged by the last
//! state of the instant; events by everything that happened in it.

use alloc::vec::Vec;

use device::{Illuminance, Level};

/// What a monitor can see of a room at the end of an instant.
pub trait View {
    /// Whether the condition holds in the last state of the instant.
    fn holds(&self, atom: &Atom) -> bool;

    /// Whether the event happened in the instant.
    fn happened(&self, event: &Event) -> bool;
}

/// A source or an output, by its place among the caller's names.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Point {
    /// A source.
    Source(u16),
    /// An output.
    Output(u16),
}

/// A condition that holds or does not hold at the end of an instant.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Atom {
    /// An output is in this state.
    Output(u16, OutputState),
    /// A level of an output compares like this.
    Level(u16, Quantity, Compare),
    /// A source is in this state, as the controllers that hear it believe.
    Source(u16, SourceState),
    /// The last illuminance that a daylight sensor reported compares like this.
    Illuminance(u16, Brightness),
    /// This button of a wall unit is down: a finger is on it.
    ButtonDown(u16, u8),
}

/// The states of an output that have a name.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum OutputState {
    /// The state is not off (on, setback or warning).
    On,
    /// The state is off.
    Off,
    /// A link or a press holds it occupied.
    Occupied,
    /// Nothing holds it occupied.
    Vacant,
    /// It warns before an automatic off.
    Warning,
    /// It is at its setback.
    Setback,
    /// It carries the latch mark.
    Latched,
    /// It carries the by-hand mark.
    ByHand,
    /// Emergency light is on.
    Emergency,
    /// Its relay or contact is closed.
    Closed,
    /// Its relay or contact is open.
    Open,
}

/// The levels of an output.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Quantity {
    /// What the last cause wants (`asks 50 %`).
    Asked,
    /// What the chain of limits makes of it (`is 50 %`).
    Target,
    /// What shows now, on its way to the target (`shows 50 %`).
    Light,
}

/// A comparison of a level.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Compare {
    /// Within 0.5 % of this level, ends included.
    Is(Level),
    /// This level or less.
    AtMost(Level),
    /// This level or more.
    AtLeast(Level),
    /// Less than this level.
    Below(Level),
    /// More than this level.
    Above(Level),
    /// From the first level to the second, ends included.
    Between(Level, Level),
}

impl Compare {
    /// Whether `level` compares like this.
    #[must_use]
    pub fn admits(self, level: Level) -> bool {
        match self {
            Self::Is(wanted) => level.distance(wanted).hundredths() <= EXACT,
            Self::AtMost(most) => level <= most,
            Self::AtLeast(least) => level >= least,
            Self::Below(limit) => level < limit,
            Self::Above(limit) => level > limit,
            Self::Between(least, most) => least <= level && level <= most,
        }
    }
}

/// A comparison of an illuminance.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Brightness {
    /// This illuminance or less.
    AtMost(Illuminance),
    /// This illuminance or more.
    AtLeast(Illuminance),
    /// Less than this illuminance.
    Below(Illuminance),
    /// More than this illuminance.
    Above(Illuminance),
}

impl Brightness {
    /// Whether `illuminance` compares like this.
    #[must_use]
    pub fn admits(self, illuminance: Illuminance) -> bool {
        match self {
            Self::AtMost(most) => illuminance <= most,
            Self::AtLeast(least) => illuminance >= least,
            Self::Below(limit) => illuminance < limit,
            Self::Above(limit) => illuminance > limit,
        }
    }
}

/// The states of a source that have a name.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum SourceState {
    /// Occupancy: somebody is there.
    Occupied,
    /// Occupancy: nobody is there.
    Vacant,
    /// Any: not heard since power came back, or it says that it does not know.
    Unknown,
    /// Any but normal power: not heard for too long.
    Lost,
    /// Card: in, the linger included.
    CardIn,
    /// Card: out, the linger over.
    CardOut,
    /// Clock: in hours.
    InHours,
    /// Clock: after hours.
    AfterHours,
    /// Normal power is present.
    PowerPresent,
    /// Normal power is lost.
    PowerLost,
    /// The fire alarm sounds.
    Alarm,
    /// The fire alarm is quiet.
    Quiet,
    /// Demand response calls for a shed.
    Shedding,
    /// Demand response calls for nothing.
    NotShedding,
}

/// Something that happens in an instant.
#[derive(Clone, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Event {
    /// Something happened at a source.
    Source(u16, SourceEvent),
    /// A gesture at a wall unit; `None`: at any of its buttons.
    Button(u16, Option<u8>, Gesture),
    /// An output did this, with a cause chain whose root `By` admits.
    Output(u16, Change, By),
    /// Any stimulus whose origin this doer covers (for coverage: the doer acted at all).
    Acted(Doer),
}

/// What can happen at a source.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum SourceEvent {
    /// Somebody moved where the sensor looks.
    Motion,
    /// A sound where the sensor listens.
    Sound,
    /// A card was put in.
    CardIn,
    /// The card was pulled.
    CardOut,
    /// The time clock began an off sweep.
    Sweep,
}

/// What can happen at a button.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Gesture {
    /// A finger pressed it.
    Press,
    /// The finger left it.
    Release,
    /// A controller took it for a tap.
    Tap,
    /// A controller took it for a hold.
    Hold,
}

/// What can happen to an output.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Change {
    /// Off became on.
    TurnsOn,
    /// Anything else became off.
    TurnsOff,
    /// The target rose while the output stayed on.
    Raises,
    /// The target fell while the output stayed on.
    Lowers,
    /// Any of the four above.
    Changes,
    /// It became occupied.
    BecomesOccupied,
    /// It became vacant.
    BecomesVacant,
    /// It began to warn before an automatic off.
    Warns,
}

/// Whose changes an event counts, judged on the root of the cause chain.
#[derive(Clone, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum By {
    /// Anybody's.
    Anyone,
    /// Those of this doer.
    Only(Doer),
    /// Those of anybody but these.
    NoneOf(Vec<Doer>),
}

impl By {
    /// Whether a change with this root counts.
    #[must_use]
    pub fn admits(&self, origin: Origin) -> bool {
        match self {
            Self::Anyone => true,
            Self::Only(doer) => doer.covers(origin),
            Self::NoneOf(doers) => !doers.iter().any(|doer| doer.covers(origin)),
        }
    }
}

/// Somebody or something that can be the root of a cause chain, as a clause names it.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Doer {
    /// A source with all its channels and buttons.
    Source(u16),
    /// One channel of an occupancy sensor.
    Channel(u16, Channel),
    /// One button of a wall unit.
    Button(u16, u8),
    /// Power that went or came back.
    Power,
    /// Daylight.
    Daylight,
    /// Somebody who changes settings, teaches links or jams a relay.
    Site,
    /// The start of the run.
    Start,
}

/// The channels of an occupancy sensor.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Channel {
    /// Passive infrared.
    Motion,
    /// The microphone.
    Sound,
}

impl Doer {
    /// Whether this doer covers `origin`.
    #[must_use]
    pub fn covers(self, origin: Origin) -> bool {
        match self {
            Self::Source(wanted) => match origin {
                Origin::Motion(source)
                | Origin::Sound(source)
                | Origin::Button(source, _)
                | Origin::Source(source) => source == wanted,
                Origin::Start | Origin::Power | Origin::Daylight | Origin::Site => false,
            },
            Self::Channel(source, Channel::Motion) => origin == Origin::Motion(source),
            Self::Channel(source, Channel::Sound) => origin == Origin::Sound(source),
            Self::Button(source, button) => origin == Origin::Button(source, button),
            Self::Power => origin == Origin::Power,
            Self::Daylight => origin == Origin::Daylight,
            Self::Site => origin == Origin::Site,
            Self::Start => origin == Origin::Start,
        }
    }
}

/// The stimulus at the root of a cause chain.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Origin {
    /// Nothing outside: the start of the run.
    Start,
    /// Motion at a sensor.
    Motion(u16),
    /// Sound at a sensor.
    Sound(u16),
    /// A button of a wall unit.
    Button(u16, u8),
    /// Any other stimulus of a source.
    Source(u16),
    /// Power of a device or the room.
    Power,
    /// Daylight.
    Daylight,
    /// Somebody changed a setting, taught a link or jammed a relay.
    Site,
}

/// How far a level may be from the one that a clause names with `is` (0.5 %).
pub(crate) const EXACT: u16 = 50;
