//! What happened in a run, step by step, each with the step that caused it.

use core::fmt;
use core::num::NonZeroU32;

use device::controller::{State, View};
use device::{Illuminance, Level, Note, Payload, Span};
use room::{ControllerId, Device, Input, OutputId, Slot, SourceId, Stimulus, Who};

use crate::{Drift, Impairment, Instant};

/// Everything that happened in a run, in order.
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub struct Trace {
    /// The steps; a [`StepId`] is the place of one among them.
    pub steps: Vec<Step>,
}

/// A step, by its place in its trace. An `Option` of it takes no more room than the number.
#[derive(Clone, Copy, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct StepId {
    /// One more than the number of the step: the first step has number 0.
    ordinal: NonZeroU32,
}

impl StepId {
    /// The first step of a trace.
    pub const FIRST: Self = Self {
        ordinal: NonZeroU32::MIN,
    };

    /// The step with `index` others before it.
    ///
    /// # Panics
    ///
    /// When `index` is 2^32 - 1 or more.
    #[must_use]
    #[inline]
    pub fn at(index: usize) -> Self {
        let number = u32::try_from(index).ok();
        let ordinal = number.and_then(|number| Self::FIRST.ordinal.checked_add(number));
        Self {
            ordinal: ordinal.expect("a trace has fewer than 2^32 steps"),
        }
    }

    /// Its number, as it is told to readers: how many steps come before it.
    #[must_use]
    #[inline]
    pub const fn number(self) -> u32 {
        self.ordinal.get() - 1
    }

    /// Its place among the steps of its trace.
    #[must_use]
    #[inline]
    pub const fn index(self) -> usize {
        self.number() as usize
    }
}

impl fmt::Debug for StepId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_tuple("StepId").field(&self.number()).finish()
    }
}

/// One step of a run.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Step {
    /// When.
    pub at: Instant,
    /// The step that caused it; `None` for what came from outside.
    pub cause: Option<StepId>,
    /// What.
    pub what: What,
}

// A day of a busy room has thousands of steps; keeping them costs what they weigh. The spans and
// illuminances in them are packed, and a cause has no word of its own for being absent.
const _: () = assert!(size_of::<Step>() <= 32, "a step is small");

/// What a step is. What is large and rare is boxed, so that a step takes 32 bytes.
#[derive(Clone, Debug, Eq, PartialEq)]
pub enum What {
    /// Something happened at a source.
    Stimulus(SourceId, Stimulus),
    /// A device lost (`false`) or got power.
    Power(Device, bool),
    /// The daylight outside changed.
    Daylight(Illuminance),
    /// A relay sticks (closed or open) or moves again.
    Stuck(OutputId, Option<bool>),
    /// A learning window was opened.
    Learn(OutputId),
    /// Settings were changed on site.
    Change,
    /// A fault was put on the ways of a source's frames.
    Impaired(Box<Impairment>),
    /// The clock of a device runs at another pace from now on.
    Drifts(Drift),
    /// A source sent a frame.
    Sent(SourceId, u8, Payload),
    /// A frame was taken by a listener.
    Arrived(ControllerId, SourceId, Payload),
    /// A frame did not reach a listener or was not taken.
    Dropped(ControllerId, SourceId, Payload, Drop),
    /// A timer was started or restarted with this span.
    Started(Slot, Span),
    /// A running timer was stopped.
    Stopped(Slot),
    /// A timer elapsed. Its cause is the step that started it.
    Elapsed(Slot),
    /// A device did something, or says why it did nothing.
    Note(Who, Note),
    /// How an output stands at the end of an instant, where that has changed.
    Output(OutputId, Box<OutputView>),
    /// A clause was triggered, held or broken: its number and the words of its monitor.
    Clause(u16, clause::Turn),
}

impl What {
    /// The step of an input.
    #[must_use]
    #[inline]
    pub fn given(input: &Input) -> Self {
        match *input {
            Input::Stimulus(source, stimulus) => Self::Stimulus(source, stimulus),
            Input::Frame {
                listener,
                source,
                payload,
            } => Self::Arrived(listener, source, payload),
            Input::Elapsed(slot) => Self::Elapsed(slot),
            Input::Power(device, on) => Self::Power(device, on),
            Input::Daylight(illuminance) => Self::Daylight(illuminance),
            Input::Stuck(output, stuck) => Self::Stuck(output, stuck),
            Input::Learn { output, .. } => Self::Learn(output),
            Input::Change(_) => Self::Change,
        }
    }
}

/// Why a frame had no effect.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Drop {
    /// Lost on the way.
    Lost,
    /// A copy, or older than one taken (LINK-3).
    Old,
    /// The listener had no power.
    NoPower,
}

/// How an output stands.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub struct OutputView {
    /// Its state.
    pub state: OutputState,
    /// The asked level.
    pub asked: Level,
    /// The target of this moment.
    pub target: Level,
    /// The light of this moment, and where it is going.
    pub light: Light,
    /// Whether the relay is closed.
    pub closed: bool,
    /// Whether the output is occupied.
    pub occupied: bool,
    /// The latch mark.
    pub latch: bool,
    /// The by-hand mark.
    pub by_hand: bool,
    /// Emergency light.
    pub emergency: bool,
}

/// The states of an output.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum OutputState {
    /// Off.
    Off,
    /// On.
    On,
    /// At its setback.
    Setback,
    /// Warning before an automatic off.
    Warning,
}

/// A light level and its straight way to the next one.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub struct Light {
    /// Now.
    pub now: Level,
    /// At the end of the way.
    pub to: Level,
    /// How long the way still takes; zero when it stands.
    pub within: Span,
}

impl From<View> for OutputView {
    fn from(view: View) -> Self {
        Self {
            state: view.state.into(),
            asked: view.asked,
            target: view.target,
            light: Light {
                now: view.light,
                to: view.light_to,
                within: view.within,
            },
            closed: view.closed,
            occupied: view.occupied,
            latch: view.latch,
            by_hand: view.by_hand,
            emergency: view.emergency,
        }
    }
}

impl From<State> for OutputState {
    fn from(state: State) -> Self {
        match state {
            State::Off => Self::Off,
            State::On => Self::On,
            State::Setback => Self::Setback,
            State::Warning => Self::Warning,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_number_of_a_step_says_how_many_come_before_it() {
        assert_eq!(StepId::at(0), StepId::FIRST);
        for index in [0, 1, 7, u32::MAX - 1] {
            let id = StepId::at(index as usize);
            assert_eq!((id.number(), id.index()), (index, index as usize));
            assert_eq!(format!("{id:?}"), format!("StepId({index})"));
        }
        assert!(StepId::at(7) < StepId::at(8));
    }

    #[test]
    #[should_panic(expected = "fewer than 2^32 steps")]
    fn a_trace_ends_where_its_steps_cannot_be_told_apart() {
        let _ = StepId::at(u32::MAX as usize);
    }
}
