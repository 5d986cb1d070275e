//! What a device says about itself: the words of the trace.

use crate::{Illuminance, Level, Span};

/// One thing that a device did, noticed, or decided not to do.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Note {
    /// A sensor now believes that somebody is there.
    Occupied,
    /// A sensor now believes that nobody is there; or an output has become vacant.
    Vacant,
    /// A sensor is powered and warming up for this span (OCC-10).
    WarmingUp(Span),
    /// A sensor has warmed up and does not know yet; or a controller has no word of a source.
    Unknown,
    /// The sound window opened (OCC-1, OCC-3).
    WindowOpened,
    /// The sound window closed (OCC-6, OCC-12).
    WindowClosed,
    /// A sensor entered or left its walk test (SET-2).
    WalkTest(bool),
    /// A button was recognised as tapped.
    Tapped(u8),
    /// A button was recognised as held.
    Held(u8),
    /// A held button was released or its ramp reached the end.
    RampEnded(Level),
    /// An output turned on at this asked level.
    TurnedOn(Level),
    /// An output turned off.
    TurnedOff,
    /// An output went to its setback (OUT-7).
    SetBack(Level),
    /// An output warns that it is about to go off (OUT-10).
    Warning(Span),
    /// An output came back from setback or warning to the level it had (OUT-9).
    Restored(Level),
    /// The asked level of an output that is on changed.
    Asked(Level),
    /// The asked level of an output moves towards this level.
    RampStarted(Level),
    /// An output starts a fade of its light towards this level.
    Fade(Level),
    /// The target of an output changed by its chain (limit, trim, shed, floor, emergency).
    Target(Level),
    /// An output became occupied.
    OutputOccupied,
    /// An output became vacant (OUT-3).
    OutputVacant,
    /// The latch of an output was set (OUT-18).
    Latched,
    /// Latch and by-hand marks of an output were cleared (OUT-20, OUT-21, CARD-4).
    Unlatched,
    /// The daylight limit of an output moves to this level.
    Limit(Level),
    /// What a daylight sensor measured, as reported.
    Measured(Illuminance),
    /// A zone went dark by daylight, its state still on (DAY-7).
    DarkByDaylight,
    /// A zone dark by daylight came back (DAY-7).
    BackFromDaylight,
    /// The relay of an output closed (`true`) or opened.
    Relay(bool),
    /// Emergency light began (`true`) or normal light is proven on (OUT-13).
    Emergency(bool),
    /// A shed began (`true`) or ended (OUT-14).
    Shed(bool),
    /// A change waits for the minimum on- or off-time (OUT-16); the wish is on (`true`) or off.
    Waits(bool),
    /// The output was passed over by a sweep because it is occupied (CLK-2).
    PassedOver,
    /// An override of a sweep runs for this span (CLK-2).
    Override(Span),
    /// A learning window opened (`true`) or closed (LINK-1).
    Learning(bool),
    /// A taught link was stored (`true`) or removed (LINK-1).
    Taught(bool),
    /// An event had no effect, and why.
    Ignored(Ignored),
    /// Something is wrong; reported to whoever reads faults.
    Fault(Fault),
    /// A fault ended.
    FaultEnded(Fault),
    /// The device lost (`false`) or got power.
    Power(bool),
    /// A setting was changed on site.
    SettingChanged,
}

/// Why an event had no effect.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Ignored {
    /// The device has no power.
    NoPower,
    /// The sensor is warming up (OCC-10).
    WarmingUp,
    /// The sensor is blind for its dead time after an event, or the button's edge comes within
    /// the gap after its last one (ORD-4).
    DeadTime,
    /// Sound alone never turns anything on (OCC-2).
    SoundWhileVacant,
    /// The sound window has closed (OCC-5).
    WindowClosed,
    /// The sensor does not sense sound.
    NoMicrophone,
    /// Nobody taught the controller this source (LINK-2).
    NotTaught,
    /// The link is manual-on: occupancy does not turn it on (OUT-4).
    ManualOn,
    /// The output was switched off by hand and latched (OUT-4, OUT-18).
    Latch,
    /// A level set by hand stands (OUT-6).
    ByHand,
    /// The preset is not higher than the level (OUT-5).
    NotHigher,
    /// Ambient light was above the sensor's hold-off (OCC-9).
    Bright,
    /// No card in a captive reader (CARD-5).
    Captive,
    /// After hours there is no auto-on (CLK-3).
    AfterHours,
    /// The output was swept off and waits for a new arrival (CLK-3).
    SweptOff,
    /// An *up* without its *down* (SW-7, SW-13).
    LoneUp,
    /// Another button owns the output (SW-11).
    OwnedByOther,
    /// The press only restored the level (OUT-9).
    OnlyRestored,
    /// The output is off and *down* has nothing to lower (SW-5).
    AlreadyOff,
    /// The level is at its end already.
    AtLimit,
    /// The output is held by another source.
    StillOccupied,
    /// A linked source is unknown (OUT-3).
    StillUnknown,
    /// A card that does not belong here (CARD-7).
    WrongCard,
    /// Relays do nothing on a shed (OUT-14).
    ShedNotForRelays,
    /// The clock lost its time and runs nothing (CLK-4).
    TimeLost,
    /// The learning table is full (LINK-1).
    TableFull,
    /// Nobody opened a learning window (LINK-1).
    NotLearning,
    /// The pair was already handled in this window (LINK-1).
    SameWindow,
    /// The state did not change.
    NoChange,
    /// The daylight loop was never calibrated and does not limit (DAY-5).
    NotCalibrated,
    /// Inside the dead band (DAY-6).
    DeadBand,
}

/// What a device reports as wrong.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Fault {
    /// A linked source has not been heard for too long (OUT-11, DAY-9, CARD-6).
    Lost,
    /// The relay does not follow (OUT-23).
    StuckRelay,
    /// A card that does not belong here was inserted (CARD-7).
    WrongCard,
    /// The time clock ran out of reserve and lost the time (CLK-4).
    TimeLost,
    /// The learning table is full (LINK-1).
    TableFull,
    /// The daylight loop was never calibrated (DAY-5).
    NotCalibrated,
    /// A pair was taught twice in one window, or to remove what is not there.
    TeachInRefused,
    /// The device runs outside the room, and the connection to it has ended.
    NodeGone,
    /// The device runs outside the room and did not answer in time.
    NodeSilent,
    /// The device runs outside the room and says more than it was asked.
    NodeFloods,
    /// The device runs outside the room and says what is no answer.
    NodeRubbish,
    /// The device runs outside the room and speaks another version.
    NodeVersion,
    /// The device runs outside the room and does otherwise than such a device does here.
    NodeDiffers,
}

impl Fault {
    /// Whether this is said by the room of a device that runs outside it, and never by a device.
    #[must_use]
    pub const fn is_of_node(self) -> bool {
        matches!(
            self,
            Self::NodeGone
                | Self::NodeSilent
                | Self::NodeFloods
                | Self::NodeRubbish
                | Self::NodeVersion
                | Self::NodeDiffers
        )
    }
}

#[cfg(test)]
mod tests {
    use super::Fault;

    #[test]
    fn only_the_room_says_what_is_wrong_with_a_device_that_runs_outside_it() {
        for of_node in [
            Fault::NodeGone,
            Fault::NodeSilent,
            Fault::NodeFloods,
            Fault::NodeRubbish,
            Fault::NodeVersion,
            Fault::NodeDiffers,
        ] {
            assert!(of_node.is_of_node(), "{of_node:?}");
        }
        for of_device in [
            Fault::Lost,
            Fault::StuckRelay,
            Fault::WrongCard,
            Fault::TimeLost,
            Fault::TableFull,
            Fault::NotCalibrated,
            Fault::TeachInRefused,
        ] {
            assert!(!of_device.is_of_node(), "{of_device:?}");
        }
    }
}
