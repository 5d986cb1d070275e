//! What is given for an instant, and its place in the order of the instant.
//!
//! Invariant: the order in which things are given for one instant never matters.

use device::{Fault, Payload};
use room::{Change, Device, Input, SourceId, Stimulus};

use crate::Drift;
use crate::bus::Impairment;

/// Something given for an instant.
#[derive(Clone, Debug)]
pub(super) struct Given {
    /// Whether it runs after the device timers of its instant.
    pub(super) after: bool,
    pub(super) what: Happening,
}

/// What is given for one instant and has not run.
///
/// Most instants are one stimulus and nothing else, so that has a place of its own, from which it
/// is taken without a look at what else there could be.
/// Invariant: a stimulus in that place was given before all the rest.
#[derive(Clone, Debug, Default)]
pub(super) struct Gathered {
    first: Option<(SourceId, Stimulus)>,
    rest: Vec<Given>,
}

impl Gathered {
    /// Adds a stimulus.
    #[inline]
    pub(super) fn push_stimulus(&mut self, source: SourceId, stimulus: Stimulus) {
        if self.first.is_none() && self.rest.is_empty() {
            self.first = Some((source, stimulus));
        } else {
            self.push(Given::stimulus(source, stimulus));
        }
    }

    /// Adds anything.
    pub(super) fn push(&mut self, given: Given) {
        self.rest.push(given);
    }

    /// Whether there is nothing.
    #[inline]
    pub(super) fn is_empty(&self) -> bool {
        self.first.is_none() && self.rest.is_empty()
    }

    /// Takes the one stimulus, if there is nothing else.
    #[inline]
    pub(super) fn take_only_stimulus(&mut self) -> Option<(SourceId, Stimulus)> {
        if self.rest.is_empty() {
            self.first.take()
        } else {
            None
        }
    }

    /// Takes all, in the order in which they were given.
    pub(super) fn take_all(&mut self) -> Vec<Given> {
        let mut all = core::mem::take(&mut self.rest);
        if let Some((source, stimulus)) = self.first.take() {
            all.insert(0, Given::stimulus(source, stimulus));
        }
        all
    }

    /// Takes what is given for the bus, in the order of ORD-1.
    pub(super) fn take_impairments(&mut self) -> Vec<Impairment> {
        let is_of_bus = |it: &mut Given| !it.after && matches!(it.what, Happening::Impair(_));
        let mut taken: Vec<Given> = self.rest.extract_if(.., is_of_bus).collect();
        taken.sort_by_key(Given::place);
        let impairment = |given: Given| match given.what {
            Happening::Impair(impairment) => Some(impairment),
            _ => None,
        };
        taken.into_iter().filter_map(impairment).collect()
    }

    /// Keeps the storage of what was taken, emptied.
    pub(super) fn keep(&mut self, storage: Vec<Given>) {
        debug_assert!(storage.is_empty(), "what was taken has run");
        self.rest = storage;
    }

    /// Forgets all.
    pub(super) fn clear(&mut self) {
        self.first = None;
        self.rest.clear();
    }
}

/// Something that happens at an instant.
#[derive(Clone, Debug)]
pub(super) enum Happening {
    Input(Input),
    Impair(Impairment),
    Drift(Drift),
    /// A device outside is cut off: this is wrong with it.
    CutOff(Device, Fault),
    /// A device that was cut off is there again.
    Return(Device),
    /// A source outside sends a frame of its own accord.
    Speak(SourceId, Payload),
}

impl Given {
    const fn stimulus(source: SourceId, stimulus: Stimulus) -> Self {
        Self {
            after: false,
            what: Happening::Input(Input::Stimulus(source, stimulus)),
        }
    }

    /// The place of what is given in the order of ORD-1.
    pub(super) fn place(&self) -> (bool, Kind, u16, u16) {
        let (kind, who, part) = match &self.what {
            Happening::Impair(it) => (Kind::Bus, it.source.0, it.listener.map_or(0, |id| id.0)),
            Happening::Drift(it) => match it.device {
                Device::Source(id) => (Kind::Clocks, 0, id.0),
                Device::Controller(id) => (Kind::Clocks, 1, id.0),
            },
            Happening::CutOff(device, _) | Happening::Return(device) => match device {
                Device::Source(id) => (Kind::SourcePower, id.0, 1),
                Device::Controller(id) => (Kind::ControllerPower, id.0, 1),
            },
            Happening::Speak(id, _) => (Kind::Stimulus, id.0, 0),
            Happening::Input(input) => match input {
                Input::Power(Device::Source(id), _) => (Kind::SourcePower, id.0, 0),
                Input::Power(Device::Controller(id), _) => (Kind::ControllerPower, id.0, 0),
                Input::Stuck(id, _) => (Kind::Stuck, id.0, 0),
                Input::Change(change) => match **change {
                    Change::Source(id, _) => (Kind::SourceChange, id.0, 0),
                    Change::Controller(id, _) => (Kind::ControllerChange, id.0, 0),
                },
                Input::Learn { output, .. } => (Kind::Learn, output.0, 0),
                Input::Daylight(_) => (Kind::Daylight, 0, 0),
                Input::Stimulus(id, stimulus) => (Kind::Stimulus, id.0, part(*stimulus)),
                Input::Frame {
                    source, listener, ..
                } => (Kind::Stimulus, source.0, u16::MAX - listener.0),
                Input::Elapsed(slot) => (Kind::Elapsed, slot.0, 0),
            },
        };
        (self.after, kind, who, part)
    }
}

/// The kinds of what can be given for an instant, in the order they happen.
#[derive(Clone, Copy, Debug, Eq, Ord, PartialEq, PartialOrd)]
pub(super) enum Kind {
    SourcePower,
    ControllerPower,
    Bus,
    Clocks,
    Stuck,
    SourceChange,
    ControllerChange,
    Learn,
    Daylight,
    Stimulus,
    Elapsed,
}

/// The order of several stimuli of one source at one instant: by button, then by what happens.
fn part(stimulus: Stimulus) -> u16 {
    let of_button = |button: u8, edge| 16 + 2 * u16::from(button) + edge;
    match stimulus {
        Stimulus::Motion => 0,
        Stimulus::Sound => 1,
        Stimulus::CardOut => 2,
        Stimulus::CardIn { .. } => 3,
        Stimulus::ClockSet { .. } => 4,
        Stimulus::Due(entry) => 5 + entry as u16,
        Stimulus::Signal(_) => 8,
        Stimulus::ShedEnd => 9,
        Stimulus::Shed(_) => 10,
        Stimulus::WalkTest(_) => 11,
        Stimulus::TeachIn => 12,
        Stimulus::Release(button) => of_button(button, 0),
        Stimulus::Press(button) => of_button(button, 1),
    }
}
