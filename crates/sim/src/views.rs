//! Which outputs changed in an instant, for the trace.
//!
//! Invariant: an output is recorded when how it stands is not what its last record foretells; a
//! light on its straight way is foretold.

use device::Span;
use room::{ControllerId, Device, Input, OutputId, Room, SlotOwner};

use crate::world::World;
use crate::{Instant, OutputView, Recorder, What};

/// The last record of each output.
#[derive(Clone, Debug)]
pub(crate) struct Views {
    last: Vec<Option<Seen>>,
    /// The controllers that may have changed in this instant; all of them when told so.
    touched: Vec<ControllerId>,
    all: bool,
}

/// A record of an output.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
struct Seen {
    view: OutputView,
    /// When its light arrives where it is going.
    arrives: Instant,
}

impl Views {
    pub(crate) fn new(outputs: usize) -> Self {
        Self {
            last: vec![None; outputs],
            touched: Vec::new(),
            all: false,
        }
    }

    /// Forgets every record.
    pub(crate) fn reset(&mut self) {
        self.last.fill(None);
        self.touched.clear();
    }

    /// Every output may have changed.
    pub(crate) fn touch_all(&mut self) {
        self.all = true;
    }

    /// Whatever an input reaches may change by it. Always inlined: of a stimulus, which touches
    /// nothing, not even an address is taken.
    #[inline(always)]
    pub(crate) fn touch(&mut self, room: &Room, input: &Input) {
        match *input {
            Input::Frame { listener, .. } => self.touch_controller(listener),
            Input::Elapsed(slot) => {
                if let SlotOwner::Controller(id, _) = room.slots().owner(slot) {
                    self.touch_controller(id);
                }
            }
            Input::Stuck(output, _) | Input::Learn { output, .. } => {
                self.touch_controller(room.plan().outputs[usize::from(output.0)].controller);
            }
            Input::Power(Device::Controller(id), _) => self.touch_controller(id),
            Input::Change(_) => self.touch_all(),
            Input::Stimulus(..) | Input::Power(Device::Source(_), _) | Input::Daylight(_) => {}
        }
    }

    /// Records the outputs that changed in this instant.
    #[inline]
    pub(crate) fn record<R: Recorder>(&mut self, room: &Room, world: &mut World<R>) {
        if self.all {
            let outputs = (0..).zip(&room.plan().outputs).map(|(id, _)| OutputId(id));
            for output in outputs {
                self.look(output, room, world);
            }
        } else {
            for at in 0..self.touched.len() {
                let id = usize::from(self.touched[at].0);
                for &output in &room.plan().controllers[id].outputs {
                    self.look(output, room, world);
                }
            }
        }
        self.touched.clear();
        self.all = false;
    }

    fn touch_controller(&mut self, id: ControllerId) {
        if !self.touched.contains(&id) {
            self.touched.push(id);
        }
    }

    fn look<R: Recorder>(&mut self, output: OutputId, room: &Room, world: &mut World<R>) {
        let view = OutputView::from(room.view(output, world));
        let seen = Seen {
            view,
            arrives: world.now.after(view.light.within),
        };
        let last = &mut self.last[usize::from(output.0)];
        let said = world.said[usize::from(output.0)].take();
        if !last.is_some_and(|last| last.foretells(&seen, world.now)) {
            *last = Some(seen);
            let cause = said.unwrap_or(world.cause);
            let now = world.now;
            world
                .recorder
                .record(now, cause, || What::Output(output, Box::new(view)));
        }
    }
}

impl Seen {
    /// Whether the light of `later` is where this record said it would be, and nothing else of
    /// the output is different.
    fn foretells(&self, later: &Self, now: Instant) -> bool {
        let left = self.arrives.since(now);
        let whole = self.view.light.within;
        let foretold = self.view.light.now.towards(self.view.light.to, left, whole);
        let mut expected = self.view;
        expected.light = later.view.light;
        let same_way = self.view.light.to == later.view.light.to
            && (self.arrives == later.arrives || (left, later.view.light.within) == ENDED);
        // The true light is rounded down from where the fade began, this one from the last record.
        let near = foretold.distance(later.view.light.now).hundredths() <= 1;
        expected == later.view && same_way && near
    }
}

/// Nothing left of either way.
const ENDED: (Span, Span) = (Span::ZERO, Span::ZERO);
