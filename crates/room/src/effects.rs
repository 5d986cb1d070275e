//! The doors through which the devices of a room reach its clock.
//!
//! A device names its own timers and outputs by small numbers; here they become the slots and
//! ids of the room.

use core::marker::PhantomData;

use clause::Turn;
use device::controller::{self, OutputTimer, Outside};
use device::{
    Effects, Fault, Note, Payload, Span, card, clock, daylight, occupancy, signal, switch,
};

use crate::slots::{ControllerSlots, Slots};
use crate::watch::Watch;
use crate::{Clock, ControllerId, PlanController, Slot, SourceId, Who};

/// The door of a source whose timers are `T`.
pub(crate) struct SourceEffects<'a, C, T> {
    clock: &'a mut C,
    source: SourceId,
    /// The slot of its timer number 0.
    first: Slot,
    timers: PhantomData<T>,
}

impl<'a, C: Clock, T> SourceEffects<'a, C, T> {
    pub(crate) fn new(clock: &'a mut C, source: SourceId, first: Slot) -> Self {
        Self {
            clock,
            source,
            first,
            timers: PhantomData,
        }
    }
}

impl<C: Clock, T: Numbered> SourceEffects<'_, C, T> {
    fn slot(&self, timer: T) -> Slot {
        Slot(self.first.0 + u16::from(timer.place()))
    }
}

impl<C: Clock, T: Numbered> Effects for SourceEffects<'_, C, T> {
    type Timer = T;

    #[inline]
    fn start(&mut self, timer: T, span: Span) {
        self.clock.start(self.slot(timer), span);
    }

    #[inline]
    fn stop(&mut self, timer: T) {
        self.clock.stop(self.slot(timer));
    }

    #[inline]
    fn remaining(&self, timer: T) -> Option<Span> {
        self.clock.remaining(self.slot(timer))
    }

    #[inline]
    fn send(&mut self, payload: Payload) {
        self.clock.send(self.source, payload);
    }

    #[inline]
    fn note(&mut self, note: Note) {
        self.clock.note(Who::Source(self.source), note);
    }
}

/// The timers of a source, numbered in the order of their names.
pub(crate) trait Numbered: Copy {
    /// The place of the timer among those of its device.
    fn place(self) -> u8;
}

macro_rules! numbered {
    ($($timer:ty),*) => {
        $(impl Numbered for $timer {
            #[inline]
            fn place(self) -> u8 {
                self.number()
            }
        })*
    };
}

numbered!(
    card::Timer,
    clock::Timer,
    daylight::Timer,
    occupancy::Timer,
    signal::Timer,
    switch::Timer
);

/// The door of a controller.
pub(crate) struct ControllerEffects<'a, C> {
    pub(crate) clock: &'a mut C,
    pub(crate) slots: &'a ControllerSlots,
    pub(crate) id: ControllerId,
    pub(crate) plan: &'a PlanController,
    /// The source that the present input is about.
    pub(crate) subject: Option<SourceId>,
    pub(crate) watch: &'a mut Watch,
}

impl<C: Clock> Effects for ControllerEffects<'_, C> {
    type Timer = controller::Timer;

    #[inline]
    fn start(&mut self, timer: controller::Timer, span: Span) {
        if let controller::Timer::Output(
            output,
            OutputTimer::Ramp | OutputTimer::Limit | OutputTimer::Shed,
        ) = timer
        {
            let output = self.plan.outputs[usize::from(output)];
            self.watch.moves(output, self.clock.origin());
        }
        self.clock.start(self.slots.slot(timer), span);
    }

    #[inline]
    fn stop(&mut self, timer: controller::Timer) {
        self.clock.stop(self.slots.slot(timer));
    }

    #[inline]
    fn remaining(&self, timer: controller::Timer) -> Option<Span> {
        self.clock.remaining(self.slots.slot(timer))
    }

    /// Controllers only listen.
    fn send(&mut self, _: Payload) {}

    #[inline]
    fn note(&mut self, note: Note) {
        let gesture = match note {
            Note::Tapped(button) => Some((button, clause::Gesture::Tap)),
            Note::Held(button) => Some((button, clause::Gesture::Hold)),
            _ => None,
        };
        if let Some((button, gesture)) = gesture {
            let button = &self.plan.settings.buttons[usize::from(button)];
            let source = self.plan.heard[usize::from(button.heard)];
            self.watch.gesture(source, button.number, gesture);
        }
        self.clock.note(self.speaker(note), note);
    }
}

impl<C: Clock> ControllerEffects<'_, C> {
    /// Whom a note is about: a fault that a controller finds with a source is the source's.
    fn speaker(&self, note: Note) -> Who {
        let of_source = matches!(
            note,
            Note::Fault(Fault::Lost | Fault::TimeLost | Fault::WrongCard)
                | Note::FaultEnded(Fault::Lost | Fault::TimeLost | Fault::WrongCard)
        );
        match self.subject {
            Some(source) if of_source => Who::Source(source),
            _ => Who::Controller(self.id),
        }
    }
}

impl<C: Clock> Outside for ControllerEffects<'_, C> {
    #[inline]
    fn note_output(&mut self, output: u8, note: Note) {
        let output = self.plan.outputs[usize::from(output)];
        self.clock.note(Who::Output(output), note);
    }
}

/// A look at a controller's timers from outside: nothing can be started or said through it.
pub(crate) struct Glance<'a, C> {
    pub(crate) clock: &'a C,
    pub(crate) slots: &'a ControllerSlots,
    /// Whether to look at how things stand once every level has arrived where it is going.
    pub(crate) arrived: bool,
}

impl<C: Clock> Effects for Glance<'_, C> {
    type Timer = controller::Timer;

    fn start(&mut self, _: controller::Timer, _: Span) {}

    fn stop(&mut self, _: controller::Timer) {}

    #[inline]
    fn remaining(&self, timer: controller::Timer) -> Option<Span> {
        let left = self.clock.remaining(self.slots.slot(timer))?;
        Some(if self.arrived { Span::ZERO } else { left })
    }

    fn send(&mut self, _: Payload) {}

    fn note(&mut self, _: Note) {}
}

/// The door of a clause's monitor.
pub(crate) struct ClauseEffects<'a, C> {
    pub(crate) clock: &'a mut C,
    pub(crate) slots: &'a Slots,
    pub(crate) clause: u16,
}

impl<C: Clock> clause::Effects for ClauseEffects<'_, C> {
    fn start(&mut self, timer: u8, span: Span) {
        let slot = self.slots.clause(self.clause, timer);
        self.clock.start(slot, span);
    }

    fn stop(&mut self, timer: u8) {
        let slot = self.slots.clause(self.clause, timer);
        self.clock.stop(slot);
    }

    fn turn(&mut self, turn: Turn) {
        self.clock.turn(self.clause, turn);
    }
}
