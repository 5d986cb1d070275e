//! The room and its one transition function.
//!
//! Invariant: whatever drives the room calls [`Room::handle`] once for each input and
//! [`Room::settle`] once at the end of each instant; nothing else changes a room.

use alloc::sync::Arc;
use alloc::vec::Vec;
use core::hash::{Hash, Hasher};
use core::mem;

use clause::{Monitor, Verdict};
use device::controller::{self, Controller};
use device::{Illuminance, Payload};

use crate::effects::{ClauseEffects, ControllerEffects, Glance};
use crate::slots::Slots;
use crate::source::{Door, Machine, Source};
use crate::watch::{Judged, Watch, Watched};
use crate::{
    Change, Clock, ControllerId, Device, Input, LightModel, OutputId, Plan, Slot, SlotOwner,
    SourceId, SourceSettings, Stimulus,
};

/// A controller, its settings and its door, borrowed from the room at once.
macro_rules! parts {
    ($room:ident, $id:expr, $subject:expr, $clock:expr) => {{
        let index = usize::from($id.0);
        let plan = &$room.plan.controllers[index];
        let effects = ControllerEffects {
            clock: $clock,
            slots: $room.slots.controller($id),
            id: $id,
            plan,
            subject: $subject,
            watch: &mut $room.watch,
        };
        (&mut $room.controllers[index], &plan.settings, effects)
    }};
}
/// A room: its devices and the monitors of its clauses.
#[derive(Debug, Eq, PartialEq)]
pub struct Room {
    plan: Arc<Plan>,
    slots: Arc<Slots>,
    watched: Arc<[Watched]>,
    sources: Vec<Source>,
    controllers: Vec<Controller>,
    daylight: Illuminance,
    monitors: Vec<Monitor>,
    watch: Watch,
}

impl Room {
    /// A settled room: nobody there, everything off and known.
    #[must_use]
    pub fn new(plan: Arc<Plan>) -> Self {
        let sources = plan.sources.iter().map(|it| Source::new(&it.settings));
        let controllers = plan
            .controllers
            .iter()
            .map(|it| Controller::new(&it.settings));
        let monitors = plan.clauses.iter().map(|_| Monitor::new());
        Self {
            slots: Arc::new(Slots::new(&plan)),
            watched: Watched::of(&plan).into(),
            sources: sources.collect(),
            controllers: controllers.collect(),
            daylight: plan.daylight,
            monitors: monitors.collect(),
            watch: Watch::new(plan.clauses.len()),
            plan,
        }
    }

    /// The run begins.
    pub fn start(&mut self, clock: &mut impl Clock) {
        for (index, source) in (0..).zip(&mut self.sources) {
            let id = SourceId(index);
            let settings = &self.plan.sources[usize::from(index)].settings;
            source.handle_start(settings, door(clock, &self.slots, id));
        }
        for id in (0..)
            .zip(&self.plan.controllers)
            .map(|(id, _)| ControllerId(id))
        {
            let (controller, settings, mut effects) = parts!(self, id, None, clock);
            controller.handle_start(settings, &mut effects);
        }
        if self.watch.is_on() {
            let outputs = (0..).zip(&self.plan.outputs);
            let views = outputs
                .map(|(id, _)| self.glimpse(OutputId(id), clock))
                .collect();
            self.watch.begin(views);
        }
    }

    /// Takes one input.
    #[inline(always)]
    pub fn handle(&mut self, input: Input, clock: &mut impl Clock) {
        match input {
            Input::Stimulus(source, stimulus) => self.handle_stimulus(source, stimulus, clock),
            Input::Frame {
                listener,
                source,
                payload,
            } => self.handle_frame(listener, source, payload, clock),
            Input::Elapsed(slot) => self.handle_elapsed(slot, clock),
            Input::Power(device, on) => self.handle_power(device, on, clock),
            Input::Daylight(illuminance) => {
                self.watch.acted(clock.origin());
                self.daylight = illuminance;
            }
            Input::Stuck(output, stuck) => {
                self.watch.acted(clock.origin());
                let at = &self.plan.outputs[usize::from(output.0)];
                let (id, local) = (at.controller, at.local);
                self.drive(id, None, clock, |controller, settings, effects| {
                    controller.handle_stuck(settings, local, stuck, effects);
                });
            }
            Input::Learn { output, remove } => {
                self.watch.acted(clock.origin());
                let at = &self.plan.outputs[usize::from(output.0)];
                let (id, local) = (at.controller, at.local);
                self.drive(id, None, clock, |controller, settings, effects| {
                    controller.handle_learn(settings, local, remove, effects);
                });
            }
            Input::Change(change) => {
                self.watch.acted(clock.origin());
                self.change(*change, clock);
            }
        }
    }

    /// Ends an instant: every monitor judges it once, by its last state.
    #[inline]
    pub fn settle(&mut self, clock: &mut impl Clock) {
        if self.watch.is_on() {
            self.judge(clock);
        }
    }

    #[inline(never)]
    fn judge(&mut self, clock: &mut impl Clock) {
        for id in (0..).zip(&self.plan.outputs).map(|(id, _)| OutputId(id)) {
            if self.watch.moving(id) {
                let view = self.glimpse(id, clock);
                let moving = self.is_moving(id, clock);
                self.watch.drifted(id, view, moving);
            }
        }
        let mut monitors = mem::take(&mut self.monitors);
        for (index, monitor) in monitors.iter_mut().enumerate() {
            let clause = u16::try_from(index).expect("slots number clauses in 16 bits");
            let formula = &self.plan.clauses[index].formula;
            let elapsed = self.watch.elapsed(clause);
            let mut effects = ClauseEffects {
                clock,
                slots: &self.slots,
                clause,
            };
            monitor.judge(formula, &Judged::new(self), elapsed, &mut effects);
        }
        self.monitors = monitors;
        self.watch.settled();
    }

    /// The plan, with every change made on site so far.
    #[must_use]
    pub fn plan(&self) -> &Plan {
        &self.plan
    }

    /// Which timer has which slot.
    #[must_use]
    pub fn slots(&self) -> &Slots {
        &self.slots
    }

    /// The levels that clauses compare moving levels with.
    #[must_use]
    pub fn watched(&self) -> &[Watched] {
        &self.watched
    }

    /// A source as it stands.
    #[must_use]
    pub fn source(&self, id: SourceId) -> &Source {
        &self.sources[usize::from(id.0)]
    }

    /// A controller as it stands.
    #[must_use]
    pub fn controller(&self, id: ControllerId) -> &Controller {
        &self.controllers[usize::from(id.0)]
    }

    /// Whether a device has power.
    #[must_use]
    pub fn is_powered(&self, device: Device) -> bool {
        match device {
            Device::Source(id) => self.source(id).is_powered(),
            Device::Controller(id) => self.controller(id).is_powered(),
        }
    }

    /// The daylight outside.
    #[must_use]
    pub fn daylight(&self) -> Illuminance {
        self.daylight
    }

    /// How each clause stands, in the order of the plan.
    pub fn verdicts(&self) -> impl Iterator<Item = Verdict> + '_ {
        let clauses = self.monitors.iter().zip(&self.plan.clauses);
        clauses.map(|(monitor, clause)| monitor.verdict(&clause.formula))
    }

    /// How an output stands at the clock's present moment.
    #[must_use]
    pub fn view(&self, output: OutputId, clock: &impl Clock) -> controller::View {
        self.lamps().view(output, clock)
    }

    /// How an output stands at the clock's present moment, for whoever does not ask where its
    /// light is going.
    #[must_use]
    pub fn glimpse(&self, output: OutputId, clock: &impl Clock) -> controller::View {
        self.lamps().glimpse(output, clock, false)
    }

    /// How an output will stand when every level has arrived where it is going now.
    #[must_use]
    pub fn view_arrived(&self, output: OutputId, clock: &impl Clock) -> controller::View {
        self.lamps().glimpse(output, clock, true)
    }

    /// How many of the four ways of an output (fade, limit, ramp, shed) are under way.
    #[must_use]
    pub fn ways(&self, output: OutputId, clock: &impl Clock) -> usize {
        let at = &self.plan.outputs[usize::from(output.0)];
        let slots = self.slots.controller(at.controller);
        let runs = |timer| {
            let slot = slots.slot(controller::Timer::Output(at.local, timer));
            clock.remaining(slot).is_some()
        };
        controller::OutputTimer::WAYS
            .into_iter()
            .filter(|&timer| runs(timer))
            .count()
    }

    /// The light at a point: its share of the daylight and what the outputs add to it.
    #[must_use]
    pub fn light(&self, model: &LightModel, clock: &impl Clock) -> Illuminance {
        self.lamps().light(model, clock)
    }

    #[inline(always)]
    fn handle_stimulus(&mut self, id: SourceId, stimulus: Stimulus, clock: &mut impl Clock) {
        self.watch.stimulus(id, stimulus, clock.origin());
        let index = usize::from(id.0);
        let plan = &self.plan.sources[index];
        // Put together only for the few sensors that mind the ambient light (OCC-9).
        let ambient = |clock: &_| {
            let lamps = Lamps {
                plan: &self.plan,
                slots: &self.slots,
                controllers: &self.controllers,
                daylight: self.daylight,
            };
            lamps.light(&plan.light, clock)
        };
        let door = door(clock, &self.slots, id);
        self.sources[index].handle_stimulus(&plan.settings, stimulus, ambient, door);
    }

    #[inline]
    fn handle_frame(
        &mut self,
        listener: ControllerId,
        source: SourceId,
        payload: Payload,
        clock: &mut impl Clock,
    ) {
        let listeners = &self.plan.sources[usize::from(source.0)].listeners;
        let Some(&(_, heard)) = listeners.iter().find(|&&(id, _)| id == listener) else {
            return;
        };
        self.drive(
            listener,
            Some(source),
            clock,
            |controller, settings, effects| {
                controller.handle_frame(settings, heard, payload, effects);
            },
        );
    }

    #[inline]
    fn handle_elapsed(&mut self, slot: Slot, clock: &mut impl Clock) {
        match self.slots.owner(slot) {
            SlotOwner::Source(id, number) => {
                let plan = &self.plan.sources[usize::from(id.0)];
                let seen = match plan.settings {
                    SourceSettings::Daylight(_) => self.light(&plan.light, clock),
                    _ => Illuminance::default(),
                };
                let door = door(clock, &self.slots, id);
                let source = &mut self.sources[usize::from(id.0)];
                source.handle_elapsed(&plan.settings, number, seen, door);
            }
            SlotOwner::Controller(id, timer) => {
                let subject = match timer {
                    controller::Timer::Silence(heard) => {
                        let heard = usize::from(heard);
                        Some(self.plan.controllers[usize::from(id.0)].heard[heard])
                    }
                    _ => None,
                };
                self.drive(id, subject, clock, |controller, settings, effects| {
                    controller.handle_elapsed(settings, timer, effects);
                });
            }
            SlotOwner::Clause(clause, number) => self.watch.clause_elapsed(clause, number),
        }
    }

    #[inline(never)]
    fn handle_power(&mut self, device: Device, on: bool, clock: &mut impl Clock) {
        self.watch.acted(clock.origin());
        match device {
            Device::Source(id) => {
                let index = usize::from(id.0);
                let settings = &self.plan.sources[index].settings;
                let door = door(clock, &self.slots, id);
                self.sources[index].handle_power(settings, on, door);
            }
            Device::Controller(id) => {
                self.drive(id, None, clock, |controller, settings, effects| {
                    controller.handle_power(settings, on, effects);
                });
            }
        }
    }

    /// Takes new settings, of the same shape as the old ones (SET-1).
    #[inline(never)]
    fn change(&mut self, change: Change, clock: &mut impl Clock) {
        let plan = Arc::clone(&self.plan);
        match change {
            Change::Source(id, new) => {
                let index = usize::from(id.0);
                let old = &plan.sources[index].settings;
                let door = door(clock, &self.slots, id);
                self.sources[index].handle_settings(old, &new, door);
                drop(plan);
                Arc::make_mut(&mut self.plan).sources[index].settings = new;
            }
            Change::Controller(id, new) => {
                let index = usize::from(id.0);
                let old = &plan.controllers[index].settings;
                self.drive(id, None, clock, |controller, _, effects| {
                    controller.handle_settings(old, &new, effects);
                });
                drop(plan);
                Arc::make_mut(&mut self.plan).controllers[index].settings = new;
                // What the new settings make of the levels shows from here on.
                self.notice(id, clock);
            }
        }
    }

    /// Gives a controller an input, and notices what became of its outputs.
    #[inline]
    fn drive<C: Clock>(
        &mut self,
        id: ControllerId,
        subject: Option<SourceId>,
        clock: &mut C,
        act: impl FnOnce(&mut Controller, &controller::Settings, &mut ControllerEffects<'_, C>),
    ) {
        if self.watch.is_on() {
            self.drift(id, clock);
        }
        let (controller, settings, mut effects) = parts!(self, id, subject, clock);
        act(controller, settings, &mut effects);
        self.notice(id, clock);
    }

    /// Brings what is known of a controller's moving outputs up to this moment.
    fn drift(&mut self, id: ControllerId, clock: &impl Clock) {
        for at in 0..self.plan.controllers[usize::from(id.0)].outputs.len() {
            let output = self.plan.controllers[usize::from(id.0)].outputs[at];
            if self.watch.moving(output) {
                let view = self.glimpse(output, clock);
                self.watch.drifted(output, view, true);
            }
        }
    }

    /// Notices what an input has changed at a controller's outputs.
    fn notice(&mut self, id: ControllerId, clock: &impl Clock) {
        if !self.watch.is_on() {
            return;
        }
        for at in 0..self.plan.controllers[usize::from(id.0)].outputs.len() {
            let output = self.plan.controllers[usize::from(id.0)].outputs[at];
            let view = self.glimpse(output, clock);
            let moving = self.is_moving(output, clock);
            let arrived = moving.then(|| self.view_arrived(output, clock).target);
            self.watch.noticed(output, view, arrived, clock.origin());
        }
    }

    fn is_moving(&self, output: OutputId, clock: &impl Clock) -> bool {
        self.ways(output, clock) > 0
    }

    fn lamps(&self) -> Lamps<'_> {
        Lamps {
            plan: &self.plan,
            slots: &self.slots,
            controllers: &self.controllers,
            daylight: self.daylight,
        }
    }

    pub(crate) fn watch(&self) -> &Watch {
        &self.watch
    }

    pub(crate) fn set_daylight(&mut self, light: Illuminance) {
        self.daylight = light;
    }

    pub(crate) fn shared_plan(&self) -> Arc<Plan> {
        Arc::clone(&self.plan)
    }

    pub(crate) fn shared_watched(&self) -> Arc<[Watched]> {
        Arc::clone(&self.watched)
    }

    pub(crate) fn watch_mut(&mut self) -> &mut Watch {
        &mut self.watch
    }

    pub(crate) fn monitors_mut(&mut self) -> &mut [Monitor] {
        &mut self.monitors
    }

    pub(crate) fn controllers_mut(&mut self) -> &mut [Controller] {
        &mut self.controllers
    }

    /// A look at the timers of a controller as they are.
    pub(crate) fn glance<'a, C>(&'a self, id: ControllerId, clock: &'a C) -> Glance<'a, C> {
        Glance {
            clock,
            slots: self.slots.controller(id),
            arrived: false,
        }
    }

    /// The machine of a source.
    pub(crate) fn machine(&self, source: u16) -> &Machine {
        self.sources[usize::from(source)].machine()
    }
}

/// What is needed to see the outputs of a room, while its sources are at work.
#[derive(Clone, Copy)]
struct Lamps<'a> {
    plan: &'a Plan,
    slots: &'a Slots,
    controllers: &'a [Controller],
    daylight: Illuminance,
}

impl<'a> Lamps<'a> {
    fn view(self, output: OutputId, clock: &impl Clock) -> controller::View {
        let at = &self.plan.outputs[usize::from(output.0)];
        let id = usize::from(at.controller.0);
        let settings = &self.plan.controllers[id].settings;
        self.controllers[id].view(
            settings,
            at.local,
            &self.glance(at.controller, clock, false),
        )
    }

    fn glimpse(self, output: OutputId, clock: &impl Clock, arrived: bool) -> controller::View {
        let at = &self.plan.outputs[usize::from(output.0)];
        let id = usize::from(at.controller.0);
        let settings = &self.plan.controllers[id].settings;
        let glance = self.glance(at.controller, clock, arrived);
        self.controllers[id].glimpse(settings, at.local, &glance)
    }

    fn glance<'c, C>(self, id: ControllerId, clock: &'c C, arrived: bool) -> Glance<'c, C>
    where
        'a: 'c,
    {
        Glance {
            clock,
            slots: self.slots.controller(id),
            arrived,
        }
    }

    #[inline(never)]
    fn light(self, model: &LightModel, clock: &impl Clock) -> Illuminance {
        let daylight = u64::from(model.of_daylight(self.daylight).hundredths());
        let electric = model.electric.iter().map(|&(output, full)| {
            let light = self.glimpse(output, clock, false).light;
            u64::from(full.hundredths()) * u64::from(light.hundredths()) / WHOLE
        });
        let sum = electric.fold(daylight, u64::saturating_add);
        Illuminance::from_hundredths(u32::try_from(sum).unwrap_or(u32::MAX))
    }
}

impl Clone for Room {
    fn clone(&self) -> Self {
        Self {
            plan: Arc::clone(&self.plan),
            slots: Arc::clone(&self.slots),
            watched: Arc::clone(&self.watched),
            sources: self.sources.clone(),
            controllers: self.controllers.clone(),
            daylight: self.daylight,
            monitors: self.monitors.clone(),
            watch: self.watch.clone(),
        }
    }

    /// Becomes equal to another room in the storage of this one.
    fn clone_from(&mut self, other: &Self) {
        if !Arc::ptr_eq(&self.plan, &other.plan) {
            self.plan.clone_from(&other.plan);
        }
        if !Arc::ptr_eq(&self.slots, &other.slots) {
            self.slots.clone_from(&other.slots);
            self.watched.clone_from(&other.watched);
        }
        self.sources.clone_from(&other.sources);
        self.controllers.clone_from(&other.controllers);
        self.daylight = other.daylight;
        self.monitors.clone_from(&other.monitors);
        self.watch.clone_from(&other.watch);
    }
}

impl Hash for Room {
    /// Hashes what moves; equal rooms have equal plans anyway.
    fn hash<H: Hasher>(&self, state: &mut H) {
        self.sources.hash(state);
        self.controllers.hash(state);
        self.daylight.hash(state);
        self.monitors.hash(state);
        self.watch.hash(state);
    }
}

fn door<'a, C: Clock>(clock: &'a mut C, slots: &Slots, source: SourceId) -> Door<'a, C> {
    Door {
        first: slots.source(source, 0),
        clock,
        source,
    }
}

/// Shares are in parts of 10 000.
const WHOLE: u64 = 10_000;

mod beside;
mod exchange;
mod pretence;

#[cfg(test)]
mod tests;
