//! What moves in a controller.

use alloc::vec::Vec;

use super::{HeardKind, Output, Settings};
use crate::Level;

/// A controller: what it believes of its sources, and how its outputs stand.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Controller {
    pub(super) powered: bool,
    pub(super) heard: Vec<Belief>,
    pub(super) buttons: Vec<Gesture>,
    pub(super) links: Vec<LinkState>,
    pub(super) outputs: Vec<OutputState>,
}

/// The states of an output.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum State {
    /// Off.
    #[default]
    Off,
    /// On.
    On,
    /// At its setback (OUT-7).
    Setback,
    /// Warning before an automatic off (OUT-10).
    Warning,
}

/// What a controller believes of a source.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub(super) struct Belief {
    pub(super) said: Said,
    /// Not heard for too long (OUT-11).
    pub(super) lost: bool,
}

/// What a source last said.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Said {
    /// Nothing since power came, or that it does not know.
    Unknown,
    /// Nobody is there.
    Vacant,
    /// Somebody is there.
    Occupied {
        /// Ambient light was above the hold-off of the sensor (OCC-9).
        bright: bool,
    },
    /// A card is in.
    CardIn,
    /// No card is in, the linger over.
    CardOut,
    /// Opening hours.
    InHours,
    /// No opening hours.
    AfterHours,
    /// The clock has lost the time and counts as in hours (CLK-4).
    TimeLost,
    /// The signal is at rest: normal power present, no alarm, no shed.
    Rest,
    /// The signal calls: normal power lost, alarm, shed.
    Calls,
}

/// What a controller makes of the edges of a button.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, PartialEq)]
pub(super) struct Gesture {
    pub(super) stage: Stage,
    /// Which way the last hold of a single button went (SW-2).
    pub(super) last_up: bool,
}

/// How far a press has come.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, PartialEq)]
pub(super) enum Stage {
    /// Not pressed.
    #[default]
    Idle,
    /// Down for less than the threshold.
    Pending,
    /// Down for the threshold or longer.
    Holding,
}

/// How a link stands.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, PartialEq)]
pub(super) struct LinkState {
    /// Whether it is in the table (LINK-1, LINK-2).
    pub(super) stored: bool,
    /// From *occupied* until the run-on after *vacant* has ended.
    pub(super) occupied: bool,
    /// The run-on timer runs.
    pub(super) run_on: bool,
}

/// How an output stands.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub(super) struct OutputState {
    pub(super) state: State,
    /// What the last cause wants; the start of the way while a ramp runs. Kept through an off.
    pub(super) asked: Level,
    /// The level last set by hand (SW-3); `None`: none, so full.
    pub(super) hand: Option<Level>,
    /// Switched off by hand in an occupied room (OUT-18).
    pub(super) latch: bool,
    /// The level was set by hand (OUT-6).
    pub(super) by_hand: bool,
    /// Occupied and not yet become vacant; as one with its relay (OUT-3).
    pub(super) occupied: bool,
    /// Press hold L runs (OUT-21).
    pub(super) press_hold: bool,
    /// The button whose press or hold is pending on this output (SW-11, SW-12).
    pub(super) owner: Option<u8>,
    /// Where a ramp is going; `None`: none runs.
    pub(super) ramp: Option<Level>,
    /// The level of the setback, in [`State::Setback`].
    pub(super) setback: Level,
    /// What the warning shows, in [`State::Warning`].
    pub(super) warning: Level,
    /// The warning belongs to a sweep: no grace after it.
    pub(super) warning_of_sweep: bool,
    /// The dark half second of a blink.
    pub(super) blink: bool,
    /// The way of the daylight limit; both equal when it stands.
    pub(super) limit: Way,
    /// The way of the high trim less shed; `None`: the high trim.
    pub(super) cap: Option<Way>,
    /// The shed in force; `None`: none.
    pub(super) shed: Option<Shed>,
    /// Dim-to-dark (DAY-7).
    pub(super) dark: Dark,
    /// The way of the light to the target; `None`: the light is at the target.
    pub(super) fade: Option<Fade>,
    /// What the grace timer runs for.
    pub(super) grace: Grace,
    /// The minimum on- or off-time runs.
    pub(super) minimum: bool,
    /// A change that waits for it (OUT-16).
    pub(super) wish: Option<Wish>,
    /// A sweep is in force since the last closing (CLK-2).
    pub(super) swept: bool,
    /// Passed over by the sweep: goes off when it becomes vacant.
    pub(super) sweep_due: bool,
    /// Emergency light (OUT-13).
    pub(super) emergency: bool,
    /// Normal light is being proven on.
    pub(super) proving: bool,
    /// The command to the relay or contact.
    pub(super) closed: bool,
    /// A relay that sticks, and how (OUT-23).
    pub(super) stuck: Option<bool>,
    /// The stuck relay is reported.
    pub(super) reported: bool,
    /// A learning window is open; `true`: pairs are removed.
    pub(super) learning: Option<bool>,
}

/// A straight way between two levels.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub(super) struct Way {
    pub(super) from: Level,
    pub(super) to: Level,
}

impl Way {
    pub(super) const fn at(level: Level) -> Self {
        Self {
            from: level,
            to: level,
        }
    }
}

/// The light on its way to the target.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub(super) struct Fade {
    pub(super) from: Level,
    /// Takes the fade-on time (`true`) or the fade-off time.
    pub(super) up: bool,
}

/// Dim-to-dark (DAY-7).
#[derive(Clone, Copy, Debug, Default, Eq, Hash, PartialEq)]
pub(super) enum Dark {
    /// The limit asks for the low trim or more.
    #[default]
    No,
    /// The limit asks for less; the delay runs.
    Counting,
    /// The delay is over; waits at its low trim for the others on the relay.
    Ready,
    /// Dark by daylight.
    Yes,
}

/// Who turns an output off.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub(super) enum Off {
    /// A hand (OUT-18).
    Hand,
    /// Vacancy: a re-entry grace follows (OUT-19).
    Vacancy,
    /// The card: latch and hand level are forgotten (CARD-4).
    Card,
    /// The schedule: no grace (OUT-19).
    Sweep,
}

/// A change that waits for a minimum time (OUT-16).
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub(super) enum Wish {
    On,
    Off(Off),
}

/// A shed in force (OUT-14).
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub(super) enum Shed {
    /// The high trim is lowered, but never under half of the level before: this one.
    Lowered(Level),
    /// The load is dropped (`shed = "off"`).
    Dropped,
}

/// What the grace timer runs for.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, PartialEq)]
pub(super) enum Grace {
    /// It does not run.
    #[default]
    None,
    /// An automatic off was a moment ago: arriving brings the light back (OUT-19).
    ReEntry,
    /// Only the marks wait to be forgotten (OUT-20).
    Clearing,
}

impl Controller {
    /// A controller in a settled room: nobody there, no card, everything off.
    #[must_use]
    pub fn new(settings: &Settings) -> Self {
        let said = |kind: &HeardKind| match kind {
            HeardKind::Occupancy => Said::Vacant,
            HeardKind::Card { .. } => Said::CardOut,
            HeardKind::NormalPower | HeardKind::FireAlarm | HeardKind::DemandResponse => Said::Rest,
            // A clock speaks up at the start unless it is in hours.
            HeardKind::Clock => Said::InHours,
            HeardKind::Switch | HeardKind::Daylight => Said::Unknown,
        };
        Self {
            powered: true,
            heard: (settings.heard.iter())
                .map(|heard| Belief {
                    said: said(&heard.kind),
                    lost: false,
                })
                .collect(),
            buttons: settings
                .buttons
                .iter()
                .map(|_| Gesture::default())
                .collect(),
            links: (settings.links.iter())
                .map(|link| LinkState {
                    stored: link.stored,
                    ..LinkState::default()
                })
                .collect(),
            outputs: (settings.outputs.iter())
                .map(|output| {
                    let shares = |other: &&Output| {
                        core::ptr::eq(*other, output)
                            || (output.relay.is_some() && other.relay == output.relay)
                    };
                    let mut relay = settings.outputs.iter().filter(shares);
                    OutputState::settled(relay.any(|other| other.floor.is_some()))
                })
                .collect(),
        }
    }
}

impl OutputState {
    /// Off in a settled room; the relay of an egress output is closed for its floor.
    pub(super) fn settled(closed: bool) -> Self {
        Self {
            state: State::Off,
            asked: Level::FULL,
            hand: None,
            latch: false,
            by_hand: false,
            occupied: false,
            press_hold: false,
            owner: None,
            ramp: None,
            setback: Level::OFF,
            warning: Level::OFF,
            warning_of_sweep: false,
            blink: false,
            limit: Way::at(Level::FULL),
            cap: None,
            shed: None,
            dark: Dark::No,
            fade: None,
            grace: Grace::None,
            minimum: false,
            wish: None,
            swept: false,
            sweep_due: false,
            emergency: false,
            proving: false,
            closed,
            stuck: None,
            reported: false,
            learning: None,
        }
    }
}
