//! What the room asks of the clock that drives it.

use clause::Turn;
use device::{Note, Payload, Span};

use crate::{ControllerId, Input, OutputId, Slot, SourceId, Stimulus};

/// The clock and the bus as the room sees them: numeric, symbolic or paced.
pub trait Clock {
    /// Starts (or restarts) a timer slot; [`crate::Input::Elapsed`] follows after `span`.
    fn start(&mut self, slot: Slot, span: Span);

    /// Stops a timer slot.
    fn stop(&mut self, slot: Slot);

    /// The span that remains on a slot; `None` when it does not run.
    fn remaining(&self, slot: Slot) -> Option<Span>;

    /// Sends a frame of `source` to every controller that may hear it.
    fn send(&mut self, source: SourceId, payload: Payload);

    /// Records what `who` did or why it did nothing. Explains; never acts.
    fn note(&mut self, who: Who, note: Note);

    /// Records what a monitor says of its clause, by its number in the plan.
    fn turn(&mut self, clause: u16, turn: Turn);

    /// The root of the cause chain of the input that is being handled.
    fn origin(&self) -> Origin;
}

/// Who did something.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Who {
    /// A source.
    Source(SourceId),
    /// A controller as such.
    Controller(ControllerId),
    /// An output of a controller.
    Output(OutputId),
    /// A clause, by its number in the plan.
    Clause(u16),
    /// The room around the devices: power, daylight, the person on the ladder.
    Room,
}

/// The stimulus at the root of a cause chain.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Origin {
    /// Nothing outside: the start of the run.
    Start,
    /// Motion at a sensor.
    Motion(SourceId),
    /// Sound at a sensor.
    Sound(SourceId),
    /// A button of a wall unit.
    Button(SourceId, u8),
    /// Any other stimulus of a source: card, clock entry, signal, report after warm-up.
    Source(SourceId),
    /// Power of a device or the room.
    Power,
    /// Daylight.
    Daylight,
    /// Somebody changed a setting, taught a link or jammed a relay.
    Site,
}

impl Origin {
    /// Whether it is a stimulus of this source.
    #[must_use]
    pub fn is_of(self, source: SourceId) -> bool {
        match self {
            Self::Motion(id) | Self::Sound(id) | Self::Button(id, _) | Self::Source(id) => {
                id == source
            }
            Self::Start | Self::Power | Self::Daylight | Self::Site => false,
        }
    }

    /// The same of the other of two sources, if it is of one of them.
    #[must_use]
    pub fn exchanged(self, one: SourceId, other: SourceId) -> Self {
        let of = |id: SourceId| match id {
            id if id == one => other,
            id if id == other => one,
            id => id,
        };
        match self {
            Self::Motion(id) => Self::Motion(of(id)),
            Self::Sound(id) => Self::Sound(of(id)),
            Self::Button(id, button) => Self::Button(of(id), button),
            Self::Source(id) => Self::Source(of(id)),
            Self::Start | Self::Power | Self::Daylight | Self::Site => self,
        }
    }

    /// The root of the chain that begins with this input. Frames and timers begin none: they
    /// carry the root of what sent or started them.
    #[must_use]
    #[inline]
    pub fn of(input: &Input) -> Self {
        match *input {
            Input::Stimulus(source, stimulus) => match stimulus {
                Stimulus::Motion => Self::Motion(source),
                Stimulus::Sound => Self::Sound(source),
                Stimulus::Press(button) | Stimulus::Release(button) => Self::Button(source, button),
                _ => Self::Source(source),
            },
            Input::Frame { .. } | Input::Elapsed(_) => Self::Start,
            Input::Power(..) => Self::Power,
            Input::Daylight(_) => Self::Daylight,
            Input::Stuck(..) | Input::Learn { .. } | Input::Change(_) => Self::Site,
        }
    }
}
