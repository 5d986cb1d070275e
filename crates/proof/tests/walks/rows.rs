//! Which rows of the device reference a run has put to work, read from its trace.
//!
//! A row is seen by what only its reaction leaves in a trace: a note, a frame or a timer, and
//! what it was caused by. Where one row says several things each has a line here. Rows that are
//! no reaction of a device have none: RCP-1 and RCP-4 (how a receptacle is wired), LINK-4 and
//! LINK-5 (the bus), ORD (what an instant is).

use std::collections::{BTreeMap, BTreeSet};

use device::controller::{self, Drive, Heard, LoopKind, Role};
use device::switch::Button;
use device::{Note, Payload};
use room::{ControllerId, Device, OutputId, Plan, SlotOwner, Slots, SourceId, SourceSettings, Who};
use sim::{Instant, OutputView, Step, Trace, What};

use crate::{controllers, sources};

/// A line of the table: the row, what of it, and how it is seen.
pub(crate) type Line = (&'static str, &'static str, fn(&Look<'_>) -> bool);

/// Every line.
pub(crate) fn lines() -> impl Iterator<Item = &'static Line> {
    let tables = [
        &sources::LINES[..],
        &controllers::LINES[..],
        &controllers::MORE[..],
    ];
    tables.into_iter().flatten()
}

/// The lines that were seen so far, by their places.
#[derive(Clone, Debug, Default)]
pub(crate) struct Rows {
    seen: BTreeSet<usize>,
}

impl Rows {
    /// Looks through the trace of a run.
    pub(crate) fn look(&mut self, plan: &Plan, trace: &Trace) {
        let slots = Slots::new(plan);
        let mut known = Known::default();
        for (at, step) in trace.steps.iter().enumerate() {
            let look = Look {
                plan,
                slots: &slots,
                known: &known,
                steps: &trace.steps,
                at,
            };
            for (place, (.., sees)) in lines().enumerate() {
                if !self.seen.contains(&place) && sees(&look) {
                    self.seen.insert(place);
                }
            }
            known.take(step);
        }
    }

    /// How many lines were seen, of how many.
    pub(crate) fn count(&self) -> (usize, usize) {
        (self.seen.len(), lines().count())
    }

    /// The lines that were not seen.
    pub(crate) fn missing(&self) -> Vec<String> {
        let places = lines().enumerate();
        let missing = places.filter(|(place, _)| !self.seen.contains(place));
        missing
            .map(|(_, (row, what, _))| format!("{row}: {what}"))
            .collect()
    }
}

/// What is kept in mind of a run.
#[derive(Debug, Default)]
pub(crate) struct Known {
    /// When each timer is due that was started.
    pub(crate) due: BTreeMap<u16, Instant>,
    /// The last frame of each source.
    pub(crate) said: BTreeMap<SourceId, Payload>,
    /// How each output stood at the end of the last instant in which it changed.
    pub(crate) views: BTreeMap<OutputId, OutputView>,
    /// Frames of buttons that were lost.
    pub(crate) lost_up: BTreeSet<SourceId>,
}

impl Known {
    fn take(&mut self, step: &Step) {
        match &step.what {
            What::Started(slot, span) => drop(self.due.insert(slot.0, step.at.after(*span))),
            What::Stopped(slot) | What::Elapsed(slot) => drop(self.due.remove(&slot.0)),
            What::Sent(source, _, payload) => drop(self.said.insert(*source, *payload)),
            What::Output(output, view) => drop(self.views.insert(*output, **view)),
            What::Dropped(_, source, Payload::Up(_), _) => drop(self.lost_up.insert(*source)),
            What::Arrived(_, source, Payload::Down(_)) => drop(self.lost_up.remove(source)),
            _ => {}
        }
    }
}

/// One step of a run, and what is around it.
pub(crate) struct Look<'a> {
    pub(crate) plan: &'a Plan,
    slots: &'a Slots,
    pub(crate) known: &'a Known,
    steps: &'a [Step],
    at: usize,
}

impl<'a> Look<'a> {
    pub(crate) fn what(&self) -> &'a What {
        &self.steps[self.at].what
    }

    pub(crate) fn now(&self) -> Instant {
        self.steps[self.at].at
    }

    /// What caused it.
    pub(crate) fn cause(&self) -> Option<&'a What> {
        let cause = self.steps[self.at].cause?;
        self.steps.get(cause.index()).map(|step| &step.what)
    }

    /// What else came of the same cause at the same instant, this step included.
    pub(crate) fn siblings(&self) -> impl Iterator<Item = &'a What> {
        let (own, steps) = (&self.steps[self.at], self.steps);
        let before = steps[..self.at].iter().rev();
        let before = before.take_while(|step| step.at == own.at);
        let after = steps[self.at..].iter();
        let after = after.take_while(|step| step.at == own.at);
        let all = before.chain(after);
        all.filter(|step| step.cause == own.cause)
            .map(|step| &step.what)
    }

    /// The note of this step, and who made it.
    pub(crate) fn note(&self) -> Option<(Who, Note)> {
        match self.what() {
            What::Note(who, note) => Some((*who, *note)),
            _ => None,
        }
    }

    /// Whether the step is a note that fits.
    pub(crate) fn notes(&self, fits: impl Fn(Note) -> bool) -> bool {
        self.note().is_some_and(|(_, note)| fits(note))
    }

    /// The output that made the note of this step.
    pub(crate) fn output(&self) -> Option<OutputId> {
        match self.note()?.0 {
            Who::Output(output) => Some(output),
            _ => None,
        }
    }

    /// The settings of the output that made the note.
    pub(crate) fn settings(&self) -> Option<&'a controller::Output> {
        let output = &self.plan.outputs[usize::from(self.output()?.0)];
        let controller = &self.plan.controllers[usize::from(output.controller.0)];
        controller.settings.outputs.get(usize::from(output.local))
    }

    pub(crate) fn drives(&self, drive: Drive) -> bool {
        self.settings().is_some_and(|it| it.drive == drive)
    }

    /// The frame that caused this step.
    pub(crate) fn frame(&self) -> Option<(ControllerId, SourceId, Payload)> {
        match *self.cause()? {
            What::Arrived(listener, source, payload) => Some((listener, source, payload)),
            _ => None,
        }
    }

    pub(crate) fn hears(&self, fits: impl Fn(Payload) -> bool) -> bool {
        self.frame().is_some_and(|(.., payload)| fits(payload))
    }

    /// Whose timer a slot is.
    pub(crate) fn owner(&self, slot: room::Slot) -> SlotOwner {
        self.slots.owners()[usize::from(slot.0)]
    }

    /// Whose timer elapsed and so caused this step.
    pub(crate) fn elapsed(&self) -> Option<SlotOwner> {
        match self.cause()? {
            What::Elapsed(slot) => Some(self.owner(*slot)),
            _ => None,
        }
    }

    /// Whether a timer of an output elapsed and so caused this step.
    pub(crate) fn after(&self, wanted: controller::OutputTimer) -> bool {
        self.elapsed()
            .is_some_and(|owner| is_of_output(owner, wanted))
    }

    /// Whether this step starts a timer of an output.
    pub(crate) fn starts(&self, wanted: controller::OutputTimer) -> bool {
        match self.what() {
            What::Started(slot, _) => is_of_output(self.owner(*slot), wanted),
            _ => false,
        }
    }

    /// Whether what came of the same cause stopped a timer of an output.
    pub(crate) fn stops(&self, wanted: controller::OutputTimer) -> bool {
        self.siblings().any(|what| match what {
            What::Stopped(slot) => is_of_output(self.owner(*slot), wanted),
            _ => false,
        })
    }

    /// The kind of the button whose tap or hold caused this step.
    pub(crate) fn button(&self) -> Option<(ControllerId, u8, Button)> {
        let (controller, number) = match (self.frame(), self.elapsed()) {
            (Some((listener, source, Payload::Down(number) | Payload::Up(number))), _) => {
                let at = &self.plan.controllers[usize::from(listener.0)];
                let heard = at.heard.iter().position(|it| *it == source)?;
                let mut buttons = at.settings.buttons.iter();
                let place =
                    buttons.position(|it| usize::from(it.heard) == heard && it.number == number)?;
                (listener, place as u8)
            }
            (_, Some(SlotOwner::Controller(id, controller::Timer::Threshold(place)))) => {
                (id, place)
            }
            _ => return None,
        };
        let at = &self.plan.controllers[usize::from(controller.0)].settings;
        let kind = at.buttons.get(usize::from(number))?.kind;
        Some((controller, number, kind))
    }

    pub(crate) fn is_button(&self, fits: impl Fn(Button) -> bool) -> bool {
        self.button().is_some_and(|(.., kind)| fits(kind))
    }

    /// How many outputs say something that fits, of the same cause.
    pub(crate) fn outputs_that(&self, fits: impl Fn(Note) -> bool) -> usize {
        let mut all = BTreeSet::new();
        for what in self.siblings() {
            if let What::Note(Who::Output(output), note) = what
                && fits(*note)
            {
                all.insert(*output);
            }
        }
        all.len()
    }

    /// Whether an output has a stored link with a role that fits.
    pub(crate) fn has_link(&self, output: OutputId, fits: impl Fn(&Role) -> bool) -> bool {
        let at = &self.plan.outputs[usize::from(output.0)];
        let links = &self.plan.controllers[usize::from(at.controller.0)]
            .settings
            .links;
        let mut links = links.iter();
        links.any(|link| link.stored && link.output == at.local && fits(&link.role))
    }

    pub(crate) fn has_loop(&self, kind: LoopKind) -> bool {
        let of_kind = |role: &Role| matches!(role, Role::Limit(it) if it.kind == kind);
        self.output()
            .is_some_and(|output| self.has_link(output, of_kind))
    }

    /// What the controller hears whose silence caused this step.
    pub(crate) fn silent(&self) -> Option<&'a Heard> {
        match self.elapsed()? {
            SlotOwner::Controller(id, controller::Timer::Silence(heard)) => {
                let at = &self.plan.controllers[usize::from(id.0)];
                at.settings.heard.get(usize::from(heard))
            }
            _ => None,
        }
    }

    /// The settings of a source.
    pub(crate) fn source(&self, id: SourceId) -> &'a SourceSettings {
        &self.plan.sources[usize::from(id.0)].settings
    }

    /// Whether a device has just got (`true`) or lost power.
    pub(crate) fn power(&self, wanted: bool) -> Option<Device> {
        match self.what() {
            What::Power(device, on) if *on == wanted => Some(*device),
            _ => None,
        }
    }
}

fn is_of_output(owner: SlotOwner, wanted: controller::OutputTimer) -> bool {
    match owner {
        SlotOwner::Controller(_, controller::Timer::Output(_, timer)) => timer == wanted,
        _ => false,
    }
}
