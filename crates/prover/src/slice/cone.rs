//! What is in the cone: the closure under the rules of [`super`].
//!
//! Invariant: whatever is taken in, all that can influence it is taken in with it.

use std::collections::BTreeSet;

use clause::{Change, Gesture, Mentions, SourceState};
use device::controller::{Link, LoopKind, Role, Settings};
use device::{signal, switch};
use room::{ControllerId, OutputId, Plan, PlanController, SourceId, SourceSettings};

/// What can influence some outputs and sources.
#[derive(Clone, Debug)]
pub(super) struct Cone<'a> {
    plan: &'a Plan,
    pub(super) outputs: BTreeSet<OutputId>,
    pub(super) sources: BTreeSet<SourceId>,
    /// What controllers hear because a clause asks what they make of it.
    pub(super) heard: BTreeSet<(ControllerId, u8)>,
    /// Buttons of controllers whose taps and holds a clause asks for.
    pub(super) buttons: BTreeSet<(ControllerId, u8)>,
    /// Whether it matters that a shed lowers light.
    sheds: bool,
}

impl<'a> Cone<'a> {
    pub(super) fn of(
        plan: &'a Plan,
        mentions: &Mentions,
        outputs: &[OutputId],
        sources: &[SourceId],
    ) -> Self {
        let mut cone = Self {
            plan,
            outputs: BTreeSet::new(),
            sources: BTreeSet::new(),
            heard: BTreeSet::new(),
            buttons: BTreeSet::new(),
            sheds: looks_at_sheds(plan, mentions),
        };
        let spoken = mentions.outputs().into_iter().map(OutputId);
        spoken
            .chain(outputs.iter().copied())
            .for_each(|it| cone.take_output(it));
        let spoken = mentions.sources().into_iter().map(SourceId);
        spoken
            .chain(sources.iter().copied())
            .for_each(|it| cone.take_source(it));
        for &(source, _) in &mentions.beliefs {
            let listeners = &plan.sources[usize::from(source)].listeners;
            if let Some(&(controller, heard)) = listeners.iter().min() {
                cone.listen(controller, heard);
            }
        }
        for &(unit, number, gesture) in &mentions.gestures {
            if matches!(gesture, Gesture::Tap | Gesture::Hold) {
                cone.tell_gestures(SourceId(unit), number);
            }
        }
        cone
    }

    /// The controller hears the source as in the whole room: taught, if it is taught there.
    fn listen(&mut self, controller: ControllerId, heard: u8) {
        self.heard.insert((controller, heard));
        let plan = self.plan;
        let at = &plan.controllers[usize::from(controller.0)];
        let linked = || {
            let links = at.settings.links.iter().filter(|link| link.heard == heard);
            let stored = links.filter(|link| link.stored);
            stored.map(|link| at.outputs[usize::from(link.output)])
        };
        if !linked().any(|output| self.outputs.contains(&output))
            && let Some(first) = linked().min()
        {
            self.take_output(first);
        }
    }

    /// Every controller that may take the edges of a button (`None`: of any) for a gesture.
    fn tell_gestures(&mut self, unit: SourceId, number: Option<u8>) {
        let plan = self.plan;
        for &(controller, heard) in &plan.sources[usize::from(unit.0)].listeners {
            let at = &plan.controllers[usize::from(controller.0)];
            let of_unit = (0..).zip(&at.settings.buttons).filter(|(_, button)| {
                button.heard == heard && number.is_none_or(|number| number == button.number)
            });
            let buttons: Vec<u8> = of_unit.map(|(button, _)| button).collect();
            if !buttons.is_empty() {
                self.buttons
                    .extend(buttons.into_iter().map(|button| (controller, button)));
                self.listen(controller, heard);
            }
        }
    }

    fn take_source(&mut self, id: SourceId) {
        if !self.sources.insert(id) {
            return;
        }
        let source = &self.plan.sources[usize::from(id.0)];
        if sees_light(&source.settings) {
            for &(output, _) in &source.light.electric {
                self.take_output(output);
            }
        }
    }

    fn take_output(&mut self, id: OutputId) {
        if !self.outputs.insert(id) {
            return;
        }
        let plan = self.plan;
        let at = &plan.outputs[usize::from(id.0)];
        let controller = &plan.controllers[usize::from(at.controller.0)];
        for local in companions(&controller.settings, at.local) {
            self.take_output(controller.outputs[usize::from(local)]);
        }
        for link in self.kept_links(&controller.settings, at.local) {
            self.take_source(controller.heard[usize::from(link.heard)]);
            if let Role::Limit(constants) = &link.role
                && constants.kind == LoopKind::Closed
            {
                self.take_limited(controller, link.heard);
            }
        }
    }

    /// Whether a shed of an output in the cone is left out.
    pub(super) fn ignores_sheds(&self) -> bool {
        let controllers = self.plan.controllers.iter();
        let mut outputs = controllers.flat_map(|it| (0..).zip(&it.outputs).map(move |at| (it, at)));
        outputs.any(|(controller, (local, id))| {
            let settings = &controller.settings;
            let mut links = settings.links.iter();
            self.outputs.contains(id)
                && !self.sheds
                && settings.outputs[usize::from(local)].shed_to().is_some()
                && links.any(|link| link.stored && link.output == local && link.role == Role::Shed)
        })
    }

    /// The links of an output that may act: those that are stored, and of the daylight loops all
    /// when one is stored, because the constants are those of the first. A shed that only lowers
    /// the light acts on nothing that is looked at where no level is.
    pub(super) fn kept_links<'b>(
        &self,
        settings: &'b Settings,
        output: u8,
    ) -> impl Iterator<Item = &'b Link> + use<'b> {
        let limit = |link: &Link| matches!(link.role, Role::Limit(_));
        let of_it = move |link: &&Link| link.output == output;
        let limited = (settings.links.iter())
            .filter(of_it)
            .any(|link| link.stored && limit(link));
        let lowers = settings.outputs[usize::from(output)].shed_to().is_some();
        let sheds = self.sheds || !lowers;
        (settings.links.iter())
            .filter(of_it)
            .filter(move |link| sheds || link.role != Role::Shed)
            .filter(move |link| link.stored || (limited && limit(link)))
    }

    /// The outputs whose light a closed loop takes off what its sensor sees.
    fn take_limited(&mut self, controller: &PlanController, heard: u8) {
        for link in &controller.settings.links {
            if link.heard == heard && link.stored && matches!(link.role, Role::Limit(_)) {
                self.take_output(controller.outputs[usize::from(link.output)]);
            }
        }
    }
}

/// Whether a clause, a sensor of light or a closed loop looks at a level of any output, or a clause
/// at what is believed of a call for a shed: a controller hears only what it was taught.
fn looks_at_sheds(plan: &Plan, mentions: &Mentions) -> bool {
    let calls = |&(source, _): &(u16, SourceState)| {
        let settings = &plan.sources[usize::from(source)].settings;
        matches!(settings, SourceSettings::Signal(it) if it.kind == signal::Kind::DemandResponse)
    };
    let moves = |&(_, change): &(u16, Change)| {
        matches!(change, Change::Raises | Change::Lowers | Change::Changes)
    };
    let closed = |link: &Link| matches!(&link.role, Role::Limit(it) if it.kind == LoopKind::Closed);
    let mut sources = plan.sources.iter();
    let mut controllers = plan.controllers.iter();
    !mentions.levels.is_empty()
        || mentions.changes.iter().any(moves)
        || sources.any(|it| sees_light(&it.settings) && !it.light.electric.is_empty())
        || controllers.any(|it| it.settings.links.iter().any(closed))
        || mentions.beliefs.iter().any(calls)
}

/// Whether a source acts on the light that it sees.
pub(super) fn sees_light(settings: &SourceSettings) -> bool {
    match settings {
        SourceSettings::Daylight(_) => true,
        SourceSettings::Occupancy(it) => it.hold_off.is_some(),
        _ => false,
    }
}

/// The outputs of a controller without which this one is not understood: those of its relay,
/// and those of its group that a button moves with it.
fn companions(settings: &Settings, output: u8) -> Vec<u8> {
    let own = &settings.outputs[usize::from(output)];
    let moves = |button: u8, output: u8| {
        let linked =
            |link: &Link| link.stored && link.output == output && link.role == Role::Button(button);
        settings.links.iter().any(linked)
    };
    let count = settings.buttons.len() as u8;
    let together = |other: u8| {
        (0..count).any(|button| {
            settings.buttons[usize::from(button)].kind != switch::Button::Scene
                && moves(button, output)
                && moves(button, other)
        })
    };
    (0..)
        .zip(&settings.outputs)
        .filter(|&(other, spec)| {
            let relay = own.relay.is_some() && spec.relay == own.relay;
            let group = own.group.is_some() && spec.group == own.group;
            relay || (group && together(other))
        })
        .map(|(other, _)| other)
        .collect()
}
