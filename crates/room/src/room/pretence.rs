//! Outputs that stand for others in a part of a room that is looked at by itself.
//!
//! Invariant: nothing else in the room changes, and nothing is noticed of such an output.

use device::{Payload, controller};

use super::Room;
use crate::effects::ControllerEffects;
use crate::{Clock, ControllerId, Input, OutputId, SlotOwner};

impl Room {
    /// How an output that stands for others may stand as `input` arrives, as far as what the
    /// input decides depends on it (see [`controller::Pretence`]).
    #[must_use]
    pub fn pretences(&self, output: OutputId, input: &Input) -> &'static [controller::Pretence] {
        let at = &self.plan.outputs[usize::from(output.0)];
        let settings = &self.plan.controllers[usize::from(at.controller.0)].settings;
        match self.gesture_at(at.controller, input) {
            Some((button, held)) => self
                .controller(at.controller)
                .pretences(settings, at.local, button, held),
            None => &[controller::Pretence::Rest],
        }
    }

    /// Makes an output that stands for others stand like this as `input` arrives, and stops its
    /// timers. Nothing is noticed of it: after the input it is put back to rest, so that
    /// between inputs equal rooms stay equal.
    pub fn pretend(
        &mut self,
        output: OutputId,
        pretence: controller::Pretence,
        input: &Input,
        clock: &mut impl Clock,
    ) {
        let at = &self.plan.outputs[usize::from(output.0)];
        let (id, local) = (at.controller, at.local);
        let button = self.gesture_at(id, input).map(|(button, _)| button);
        let (controller, settings, mut effects) = parts!(self, id, None, clock);
        controller.pretend(settings, local, pretence, button, &mut effects);
        if self.watch.is_on() {
            let view = self.glimpse(output, clock);
            self.watch.pretended(output, view);
        }
    }

    /// The button of a controller whose tap or (`true`) hold an input may decide.
    fn gesture_at(&self, id: ControllerId, input: &Input) -> Option<(u8, bool)> {
        match *input {
            Input::Frame {
                listener,
                source,
                payload: Payload::Up(number),
            } if listener == id => {
                let plan = &self.plan.controllers[usize::from(id.0)];
                let mut buttons = (0..).zip(&plan.settings.buttons);
                let found = buttons.find(|(_, button)| {
                    plan.heard[usize::from(button.heard)] == source && button.number == number
                });
                found.map(|(button, _)| (button, false))
            }
            Input::Elapsed(slot) => match self.slots.owner(slot) {
                SlotOwner::Controller(of, controller::Timer::Threshold(button)) if of == id => {
                    Some((button, true))
                }
                _ => None,
            },
            _ => None,
        }
    }
}
