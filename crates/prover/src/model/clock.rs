//! The clock of the symbolic run: a started timer is a variable of a zone.

use std::cell::Cell;

use clause::Turn;
use device::{Note, Payload, Span};
use room::{Clock, Origin, Slot, SlotOwner, SourceId, Who};

use super::{Kind, Model};
use crate::path::PathStep;
use crate::zone::{Timer, Zone, span_ms};

/// The clock and the bus as the room sees them during one event.
pub(super) struct Symbolic<'a> {
    pub(super) model: &'a Model,
    pub(super) zone: &'a mut Zone,
    /// The root of the cause chain of each running timer whose root is not the start.
    pub(super) origins: &'a mut Vec<(Timer, Origin)>,
    /// The timers started at this instant, with the whole spans that remain on them.
    pub(super) fresh: &'a mut Vec<(Slot, Span)>,
    /// What remains on the levels that are on their way, in the case that is tried.
    pub(super) case: Option<&'a [(Slot, Span)]>,
    /// The root of what is being handled.
    pub(super) origin: Origin,
    /// The timers that were started at this instant, where clocks may be off.
    pub(super) paced: &'a mut Vec<(Slot, Span)>,
    /// What was sent.
    pub(super) sent: Vec<(SourceId, Payload)>,
    /// Whether what is being handled is a timer that elapsed, or comes after the timers.
    pub(super) among_timers: bool,
    /// Whether the run begins in what is being handled.
    pub(super) begins: bool,
    /// Timers that are due at once.
    pub(super) due: Vec<Slot>,
    /// Whether the room asked for what remains on a level on its way.
    pub(super) asked: Cell<bool>,
    pub(super) step: Option<&'a mut PathStep>,
}

impl Clock for Symbolic<'_> {
    fn start(&mut self, slot: Slot, span: Span) {
        self.stop(slot);
        if self.model.slots[usize::from(slot.0)] == Kind::Sample && !span.is_zero() {
            return;
        }
        self.remember_origin(slot);
        // Between other timers it elapses as soon as it is started; but frames and stimuli of the
        // same instant go before any timer, and may stop it.
        let is_device = self.model.slots[usize::from(slot.0)] != Kind::Clause;
        if span.is_zero() && (self.among_timers || !is_device) {
            return self.due.push(slot);
        }
        let (least, most) = self.bounds(slot, span);
        let mut fresh = self.fresh.iter();
        let as_one = fresh.find(|(it, of)| *of == span && self.model.are_one(*it, slot));
        let as_one = as_one.map(|(it, _)| *it);
        self.fresh.push((slot, span));
        self.begin(slot.0, least, most);
        if let Some(other) = as_one.filter(|it| self.zone.is_running(it.0)) {
            self.zone.equal(slot.0, other.0);
        }
        self.keep_pace(slot, span);
    }

    fn stop(&mut self, slot: Slot) {
        self.due.retain(|it| *it != slot);
        self.lose_sight(slot);
        self.fresh.retain(|(it, _)| *it != slot);
        self.origins.retain(|(timer, _)| *timer != slot.0);
        self.halt(slot.0);
    }

    fn remaining(&self, slot: Slot) -> Option<Span> {
        if let Some((_, span)) = self.fresh.iter().find(|(it, _)| *it == slot) {
            return Some(*span);
        }
        if !self.zone.is_running(slot.0) {
            return self.due.contains(&slot).then_some(Span::ZERO);
        }
        if !matches!(self.model.slots[usize::from(slot.0)], Kind::Way(_)) {
            return Some(Span::from_ms(1));
        }
        self.asked.set(true);
        let case = self
            .case
            .unwrap_or_default()
            .iter()
            .find(|(it, _)| *it == slot);
        Some(case.map_or(Span::from_ms(1), |(_, left)| *left))
    }

    fn send(&mut self, source: SourceId, payload: Payload) {
        self.sent.push((source, payload));
    }

    fn note(&mut self, _: Who, _: Note) {}

    fn turn(&mut self, _: u16, _: Turn) {}

    fn origin(&self) -> Origin {
        self.origin
    }
}

impl Symbolic<'_> {
    /// What may remain on a timer that is started with a span. What a prompt source does as the run
    /// begins it does as much later as everything else at it.
    fn bounds(&self, slot: Slot, span: Span) -> (Span, Span) {
        let (least, most) = self.model.bounds(slot, span);
        match self.model.owner(slot) {
            SlotOwner::Source(source, _) if self.begins => {
                let late = self.model.lateness(source);
                (least.plus(late), most.plus(late))
            }
            _ => (least, most),
        }
    }

    /// Stops a variable, if it runs.
    fn halt(&mut self, timer: Timer) {
        if !self.zone.is_running(timer) {
            return;
        }
        let is_ahead = self.zone.least(timer) > 0;
        self.zone.stop(timer);
        if let Some(step) = &mut self.step {
            let touched =
                step.stopped.contains(&timer) || step.started.iter().any(|(it, ..)| *it == timer);
            if is_ahead && !touched {
                step.outlived.push(timer);
            }
            step.stopped.push(timer);
        }
    }

    /// With a way, the moment is gone at which its level was to pass a border.
    pub(super) fn lose_sight(&mut self, slot: Slot) {
        let model = self.model;
        for timer in model.crossings_of(slot) {
            self.halt(timer);
        }
    }

    /// Timers of one device that start at one instant go by one clock: they end as far apart as
    /// their spans are, at its pace.
    fn keep_pace(&mut self, slot: Slot, span: Span) {
        if self.model.question.tolerance == 0 {
            return;
        }
        self.paced.retain(|(it, _)| *it != slot);
        for &(other, of) in self.paced.iter() {
            if !self.zone.is_running(other.0) || !self.model.share_a_clock(slot, other) {
                continue;
            }
            let (first, last) = if of <= span {
                (other, slot)
            } else {
                (slot, other)
            };
            let (least, most) = self.model.paced(span.max(of).minus(span.min(of)));
            if let (Ok(least), Ok(most)) = (span_ms(least), span_ms(most)) {
                let is_left = self.zone.before(first.0, last.0, least)
                    && self.zone.before(last.0, first.0, -most);
                debug_assert!(
                    is_left,
                    "two spans at one pace end as far apart as they are"
                );
            }
        }
        self.paced.push((slot, span));
    }

    fn remember_origin(&mut self, slot: Slot) {
        if self.origin != Origin::Start {
            let place = self.origins.partition_point(|(timer, _)| *timer < slot.0);
            self.origins.insert(place, (slot.0, self.origin));
        }
    }

    /// Starts a timer of a device that may elapse at any moment of a span; in an exact search at
    /// its end.
    pub(super) fn start_within(&mut self, slot: Slot, span: Span) {
        self.remember_origin(slot);
        let (least, most) = self.bounds(slot, span);
        let least = match self.model.is_over() {
            true => Span::ZERO,
            false => least,
        };
        self.begin(slot.0, least, most);
    }

    /// Starts a variable.
    pub(super) fn begin(&mut self, timer: Timer, least: Span, most: Span) {
        let (Ok(least), Ok(most)) = (span_ms(least), span_ms(most)) else {
            return self.model.trouble("a span of more than six days");
        };
        self.zone.start(timer, least, most);
        if let Some(step) = &mut self.step {
            step.started.push((timer, least, most));
        }
    }
}
