//! What devices say on the bus, and the sequence rule by which a listener takes it.

use crate::{Illuminance, Points};

/// One frame as a listener receives it. The source stands in its envelope.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub struct Frame {
    /// 8-bit sequence number, one higher for each frame of a source (LINK-3).
    pub sequence: u8,
    /// What the frame says.
    pub payload: Payload,
}

/// What a frame says.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Payload {
    /// The occupancy sensor believes that somebody is there. `bright`: the ambient light is
    /// above the hold-off (OCC-9).
    Occupied {
        /// Ambient light was above the sensor's hold-off.
        bright: bool,
    },
    /// The occupancy sensor believes that nobody is there.
    Vacant,
    /// The occupancy sensor has just warmed up and does not know yet (OCC-10).
    Unknown,
    /// Button number `0` of the unit went down.
    Down(u8),
    /// Button number `0` of the unit came up.
    Up(u8),
    /// The key card is in (CARD-1).
    CardIn,
    /// The key card is out and its linger has ended (CARD-4).
    CardOut,
    /// The key-card reader saw a card that does not belong to this room (CARD-7).
    WrongCard,
    /// What the daylight sensor sees.
    Illuminance(Illuminance),
    /// The time clock: opening hours have begun, or its state report says in hours.
    InHours,
    /// The time clock: opening hours have ended.
    AfterHours,
    /// The time clock: an off sweep begins (CLK-2).
    Sweep,
    /// The time clock has lost the time and counts as in hours (CLK-4).
    TimeLost,
    /// A two-state signal source changed or repeated its state.
    Signal(Signal, bool),
    /// Demand response asks for a shed of this many points; `None` asks for the output's own.
    Shed(Option<Points>),
    /// Demand response has ended.
    ShedEnd,
    /// The teach-in frame of a source (LINK-1).
    TeachIn,
}

/// The kinds of two-state signal.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Signal {
    /// `true` while normal power is present.
    NormalPower,
    /// `true` while the fire alarm sounds.
    FireAlarm,
}

/// What a listener keeps of one source in order to drop copies and older frames (LINK-3).
#[derive(Clone, Copy, Debug, Default, Eq, Hash, PartialEq)]
pub struct Receiver {
    last: Option<u8>,
}

impl Receiver {
    /// Whether the frame numbered `sequence` is taken: it is when it is 1–127 ahead of the last
    /// one taken (modulo 256), or when the source was `silent` for more than 10 s.
    #[must_use]
    pub fn accept(&mut self, sequence: u8, silent: bool) -> bool {
        let fresh = match self.last {
            Some(last) if !silent => (1..=127).contains(&sequence.wrapping_sub(last)),
            _ => true,
        };
        if fresh {
            self.last = Some(sequence);
        }
        fresh
    }
}
