//! Why an event had no effect, and what is reported as wrong.

use device::{Fault, Ignored};

use super::Kind;

/// Why an event had no effect: reads after "nothing happens: ".
#[must_use]
pub const fn ignored(why: Ignored) -> &'static str {
    match why {
        Ignored::NoPower => "it has no power",
        Ignored::WarmingUp => "the sensor is still warming up",
        Ignored::DeadTime => "the sensor is blind for its dead time after an event",
        Ignored::SoundWhileVacant => "sound alone never turns anything on",
        Ignored::WindowClosed => "the sound window has closed; only motion counts now",
        Ignored::NoMicrophone => "the sensor does not sense sound",
        Ignored::NotTaught => "the controller was not taught this source",
        Ignored::ManualOn => "the link is manual-on, so occupancy does not turn it on",
        Ignored::Latch => "it was switched off by hand and stays off until the room has been empty",
        Ignored::ByHand => "a level set by hand stands until the room has been empty",
        Ignored::NotHigher => "the preset is not higher than the level it has",
        Ignored::Bright => "it was bright enough when the motion was seen",
        Ignored::Captive => "there is no card in the reader",
        Ignored::AfterHours => "after hours occupancy does not turn it on",
        Ignored::SweptOff => "it was swept off and waits for somebody to arrive anew",
        Ignored::LoneUp => "the button came up without having gone down",
        Ignored::OwnedByOther => "another button has taken over",
        Ignored::OnlyRestored => "the press only brought the level back",
        Ignored::AlreadyOff => "it is off, so there is nothing to lower",
        Ignored::AtLimit => "the level is at its end already",
        Ignored::StillOccupied => "another source still holds it occupied",
        Ignored::StillUnknown => "another source is still unknown, and unknown turns nothing off",
        Ignored::WrongCard => "the card does not belong to this room",
        Ignored::ShedNotForRelays => "a shed does nothing to a relay",
        Ignored::TimeLost => "the clock has lost the time and runs nothing",
        Ignored::TableFull => "its learning table is full",
        Ignored::NotLearning => "no learning window is open",
        Ignored::SameWindow => "this pair was already handled in this learning window",
        Ignored::NoChange => "it is so already",
        Ignored::NotCalibrated => "the daylight loop was never calibrated and does not limit",
        Ignored::DeadBand => "the change is inside the dead band",
    }
}

/// The same of an output of this kind: what has no level is not said to have one.
#[must_use]
pub(super) const fn ignored_by(kind: Kind, why: Ignored) -> &'static str {
    match (kind, why) {
        (Kind::Light, _) => ignored(why),
        (_, Ignored::ByHand) => "what a hand has set stands until the room has been empty",
        (_, Ignored::OnlyRestored) => "the press only brought it back",
        (_, Ignored::AtLimit) => "a hold moves levels, and it has none",
        (Kind::Receptacle, Ignored::NotHigher) => "it is on already",
        (Kind::Receptacle, Ignored::AlreadyOff) => "it is off already",
        (Kind::Contact, Ignored::NotHigher) => "it is closed already",
        (Kind::Contact, Ignored::AlreadyOff) => "it is open already",
        (Kind::Contact, Ignored::Latch) => {
            "it was opened by hand and stays open until the room has been empty"
        }
        (Kind::Contact, Ignored::ManualOn) => {
            "the link is manual-on, so occupancy does not close it"
        }
        (Kind::Contact, Ignored::AfterHours) => "after hours occupancy does not close it",
        (Kind::Contact, Ignored::SweptOff) => {
            "the sweep opened it, and it waits for somebody to arrive anew"
        }
        (Kind::Receptacle | Kind::Contact, _) => ignored(why),
    }
}

/// A fault as the thing that is wrong: reads after "fault: ".
#[must_use]
pub const fn fault(fault: Fault) -> &'static str {
    match fault {
        Fault::Lost => "a linked source has not been heard for too long",
        Fault::StuckRelay => "the relay does not follow",
        Fault::WrongCard => "a card that does not belong here was put in",
        Fault::TimeLost => "the clock ran out of reserve and lost the time",
        Fault::TableFull => "the learning table is full",
        Fault::NotCalibrated => "the daylight loop was never calibrated",
        Fault::TeachInRefused => "teach-in was refused",
        Fault::NodeGone => "its node is gone and is cut off",
        Fault::NodeSilent => "its node did not answer in time and is cut off",
        Fault::NodeFloods => "its node says more than it was asked and is cut off",
        Fault::NodeRubbish => "its node says what is no answer and is cut off",
        Fault::NodeVersion => "its node speaks another version and is cut off",
        Fault::NodeDiffers => "its node does otherwise than this device does in the room",
    }
}
