//! The discrete half of a state class.

use device::Payload;
use room::{ControllerId, Device, Origin, Room, SourceId};

use crate::zone::Timer;

/// Everything about a room under the symbolic clock but the remaining times.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct State {
    /// The room.
    pub(super) room: Room,
    /// The root of the cause chain of each running timer, where a clause may ask for it.
    pub(super) origins: Vec<(Timer, Origin)>,
    /// The frames on their way, each way's in the order of sending.
    pub(super) flights: Vec<Flight>,
    /// Whether a device timer has elapsed at this very instant, unseen by the clauses, and no
    /// time has passed since: then only other timers may elapse before it does.
    pub(super) late: bool,
    /// The button of an unseen wall unit that is down, as the controllers heard.
    pub(super) finger: Option<(SourceId, u8)>,
    /// How much of the lead has happened at each source, if one is followed.
    pub(super) followed: Vec<u8>,
    /// The source that the clauses saw last, if that is remembered.
    pub(super) last: Option<SourceId>,
    /// Where each calendar is.
    pub(super) calendars: Vec<u16>,
    /// What may still go wrong.
    pub(super) lose: u8,
    pub(super) cuts: u8,
    /// Who is without power, and whether it may come back already.
    pub(super) dark: Vec<(Victim, bool)>,
}

impl State {
    /// Whether a device is a source that died.
    pub(super) fn is_dead(&self, device: Device) -> bool {
        let mut dark = self.dark.iter();
        dark.any(|(it, _)| matches!(it, Victim::Dead(id) if Device::Source(*id) == device))
    }

    /// The room.
    #[must_use]
    pub fn room(&self) -> &Room {
        &self.room
    }
}

/// A frame on its way to one listener.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub(super) struct Flight {
    pub(super) timer: Timer,
    pub(super) source: SourceId,
    pub(super) listener: ControllerId,
    pub(super) payload: Payload,
    pub(super) origin: Origin,
}

/// Whose power is gone.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub(super) enum Victim {
    /// One device.
    Device(Device),
    /// The room: every device without a battery.
    Room,
    /// A source that died, and never gets it back.
    Dead(SourceId),
}
