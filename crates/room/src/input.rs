//! The inputs of the one transition function.

use alloc::boxed::Box;

use device::{Illuminance, Payload, Points, clock, controller};

use crate::{ControllerId, OutputId, Slot, SourceId, SourceSettings};

/// One input of a room.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub enum Input {
    /// Something happens at a source.
    Stimulus(SourceId, Stimulus),
    /// A frame of `source` arrives at `listener`, taken by its sequence rule.
    Frame {
        /// Who hears it.
        listener: ControllerId,
        /// Who sent it.
        source: SourceId,
        /// What it says.
        payload: Payload,
    },
    /// A timer slot has elapsed.
    Elapsed(Slot),
    /// A device loses (`false`) or gets power.
    Power(Device, bool),
    /// The daylight outside changes to this illuminance.
    Daylight(Illuminance),
    /// The relay of an output sticks closed or open; `None`: it moves again.
    Stuck(OutputId, Option<bool>),
    /// Somebody opens a learning window at an output; `remove`: the pair taught is removed.
    Learn {
        /// The output.
        output: OutputId,
        /// Whether pairs are removed in this window.
        remove: bool,
    },
    /// A setting is changed on site (SET-1).
    Change(Box<Change>),
}

/// Something that happens at a source.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Stimulus {
    /// Somebody moves.
    Motion,
    /// A sound.
    Sound,
    /// A finger presses this button.
    Press(u8),
    /// A finger leaves this button.
    Release(u8),
    /// A card is put in; `valid`: it belongs to the room.
    CardIn {
        /// Whether the card belongs to the room.
        valid: bool,
    },
    /// The card is pulled.
    CardOut,
    /// A calendar entry of the time clock falls due.
    Due(clock::Entry),
    /// The time clock is set right by hand; the value says whether it is in hours now.
    ClockSet {
        /// Whether the moment lies in opening hours.
        in_hours: bool,
    },
    /// A two-state signal source changes: normal power present, fire alarm on.
    Signal(bool),
    /// Demand response calls for a shed of this many points (`None`: the output's own).
    Shed(Option<Points>),
    /// Demand response ends.
    ShedEnd,
    /// The walk test of a sensor is switched on or off (SET-2).
    WalkTest(bool),
    /// The source sends its teach-in frame (LINK-1).
    TeachIn,
}

/// A device that can lose power.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Device {
    /// A source.
    Source(SourceId),
    /// A controller and its outputs.
    Controller(ControllerId),
}

/// A change of settings: the whole new settings of one device.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub enum Change {
    /// Of a source.
    Source(SourceId, SourceSettings),
    /// Of a controller.
    Controller(ControllerId, controller::Settings),
}
