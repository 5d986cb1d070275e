//! What surrounds the room on the numeric clock: timers, bus, and who keeps the trace.
//!
//! Invariant: whatever the room starts or sends remembers the step and the stimulus it came
//! from, so every step of a trace leads back to what happened outside.

use core::iter;

use clause::Turn;
use device::{Fault, Note, Payload, Span};
use room::{Clock, ControllerId, Origin, OutputId, Slot, SourceId, Who};

use crate::bus::{Bus, Flight, Outgoing};
use crate::drift::Drifts;
use crate::outside::{Effect, Outside};
use crate::table::{Entry, Table};
use crate::{Drop, Full, Instant, Recorder, StepId, What};

/// The clock and the bus of one room.
#[derive(Clone, Debug)]
pub(crate) struct World<R: Recorder> {
    pub(crate) now: Instant,
    pub(crate) table: Table<R::Cause>,
    pub(crate) bus: Bus<R::Cause>,
    pub(crate) recorder: R,
    /// The step that is being handled.
    pub(crate) cause: R::Cause,
    /// The stimulus at the root of that step.
    pub(crate) origin: Origin,
    /// The faults that stand, in the order they came.
    pub(crate) faults: Vec<StandingFault>,
    /// The last thing each output said in this instant, if steps are kept.
    pub(crate) said: Vec<Option<R::Cause>>,
    /// The clocks that are wrong, if any is.
    pub(crate) drifts: Option<Box<Drifts>>,
    /// The devices outside the room, if there are any.
    pub(crate) outside: Option<Box<Outside>>,
    /// Whether a copy of one of them is at work, whose effects are put aside.
    pub(crate) aside: bool,
}

/// A fault that was reported and has not ended.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct StandingFault {
    /// When it was reported.
    pub since: Instant,
    /// Who is at fault.
    pub who: Who,
    /// What is wrong.
    pub fault: Fault,
}

impl<R: Recorder> World<R> {
    pub(crate) fn new(timers: usize, bus: Bus<R::Cause>, outputs: usize, recorder: R) -> Self {
        let said = if R::KEEPS { outputs } else { 0 };
        Self {
            now: Instant::START,
            table: Table::new(timers),
            bus,
            recorder,
            cause: R::Cause::default(),
            origin: Origin::Start,
            faults: Vec::new(),
            said: vec![None; said],
            drifts: None,
            outside: None,
            aside: false,
        }
    }

    /// Brings the clock back to the beginning of the run and forgets the trace.
    pub(crate) fn reset(&mut self) {
        self.now = Instant::START;
        self.table.clear();
        self.bus.reset();
        self.recorder.truncate(0);
        self.cause = R::Cause::default();
        self.origin = Origin::Start;
        self.faults.clear();
        self.said.fill(None);
        self.drifts = None;
    }

    /// The same moment with an empty trace.
    pub(crate) fn without_trace(&self) -> Self {
        Self {
            now: self.now,
            table: self.table.clone(),
            bus: self.bus.clone(),
            recorder: R::default(),
            cause: self.cause,
            origin: self.origin,
            faults: self.faults.clone(),
            said: self.said.clone(),
            drifts: self.drifts.clone(),
            outside: self.outside.clone(),
            aside: self.aside,
        }
    }

    /// Sends what was sent as the run began.
    pub(crate) fn release_frames(&mut self) {
        let (now, recorder) = (self.now, &mut self.recorder);
        self.bus.release(|frame, listener| {
            let (source, payload) = (frame.source, frame.payload);
            recorder.record(now, frame.cause, || {
                What::Dropped(listener, source, payload, Drop::Lost)
            });
        });
    }

    /// A moment before which neither timer nor frame is due, found without looking far.
    #[inline]
    pub(crate) fn bound(&self) -> Instant {
        self.table.bound().min(self.bus.due())
    }

    /// The moment at which the next timer or frame is due.
    #[inline]
    pub(crate) fn next(&mut self) -> Instant {
        let frame = self.bus.due();
        if frame <= self.table.bound() {
            return frame;
        }
        let timer = self.table.soonest().map_or(Instant::NEVER, |(_, due)| due);
        timer.min(frame)
    }

    /// Records a step without a cause inside the room and makes it the one being handled.
    #[inline]
    pub(crate) fn begin(&mut self, origin: Origin, what: impl FnOnce() -> What) {
        self.origin = origin;
        self.cause = self.recorder.record(self.now, R::Cause::default(), what);
    }

    /// Records a step caused by the one being handled.
    #[inline]
    pub(crate) fn record(&mut self, what: impl FnOnce() -> What) -> R::Cause {
        self.recorder.record(self.now, self.cause, what)
    }

    /// A slot has elapsed: records it and makes it the step being handled.
    #[inline]
    pub(crate) fn elapse(&mut self, slot: Slot) {
        let entry = self.table.take(slot);
        self.origin = entry.origin;
        self.cause = (self.recorder).record(self.now, entry.cause, || What::Elapsed(slot));
    }

    /// A frame has arrived: whether it is taken. If so it is the step being handled.
    #[inline]
    pub(crate) fn arrive(&mut self, flight: &Flight<R::Cause>, powered: bool) -> bool {
        let (listener, source, payload) = (flight.listener, flight.source, flight.payload);
        let refused = if !powered {
            Some(Drop::NoPower)
        } else if self.bus.accept(self.now, flight) {
            None
        } else {
            Some(Drop::Old)
        };
        let step = self
            .recorder
            .record(self.now, flight.cause, || match refused {
                None => What::Arrived(listener, source, payload),
                Some(why) => What::Dropped(listener, source, payload, why),
            });
        if refused.is_none() {
            self.origin = flight.origin;
            self.cause = step;
        }
        refused.is_none()
    }

    /// Puts an effect aside, if a copy of a device outside is at work.
    #[inline]
    fn puts_aside(&mut self, effect: Effect) -> bool {
        if R::KEEPS
            && self.aside
            && let Some(outside) = &mut self.outside
        {
            outside.put(effect);
            return true;
        }
        false
    }

    fn keep_fault(&mut self, who: Who, note: Note) {
        match note {
            Note::Fault(fault) => {
                let known = |it: &StandingFault| it.who == who && it.fault == fault;
                if !self.faults.iter().any(known) {
                    self.faults.push(StandingFault {
                        since: self.now,
                        who,
                        fault,
                    });
                }
            }
            Note::FaultEnded(fault) => {
                self.faults.retain(|it| it.who != who || it.fault != fault);
            }
            _ => {}
        }
    }
}

impl World<Full> {
    /// Every step that is remembered as the cause of something to come.
    pub(crate) fn causes_mut(&mut self) -> impl Iterator<Item = &mut Option<StepId>> {
        let said = self.said.iter_mut().flatten();
        iter::once(&mut self.cause)
            .chain(said)
            .chain(self.table.causes_mut())
            .chain(self.bus.causes_mut())
    }
}

impl<R: Recorder> Clock for World<R> {
    #[inline]
    fn start(&mut self, slot: Slot, span: Span) {
        if self.puts_aside(Effect::Start(slot, span)) {
            return;
        }
        let span = match &self.drifts {
            None => span,
            Some(drifts) => drifts.of(slot, span),
        };
        let cause = self.record(|| What::Started(slot, span));
        let entry = Entry {
            due: self.now.after(span),
            origin: self.origin,
            cause,
        };
        self.table.start(slot, entry);
    }

    #[inline]
    fn stop(&mut self, slot: Slot) {
        if self.puts_aside(Effect::Stop(slot)) {
            return;
        }
        if self.table.stop(slot) {
            self.record(|| What::Stopped(slot));
        }
    }

    #[inline]
    fn remaining(&self, slot: Slot) -> Option<Span> {
        let left = self.table.due(slot).map(|due| due.since(self.now));
        match &self.outside {
            Some(outside) if R::KEEPS => outside.remaining(slot, left, self.aside),
            _ => left,
        }
    }

    #[inline]
    fn send(&mut self, source: SourceId, payload: Payload) {
        if self.puts_aside(Effect::Send(source, payload)) {
            return;
        }
        let sequence = self.bus.next_sequence(source);
        let cause = self.record(|| What::Sent(source, sequence, payload));
        let frame = Outgoing {
            now: self.now,
            source,
            payload,
            origin: self.origin,
            cause,
        };
        let (now, recorder) = (self.now, &mut self.recorder);
        self.bus.send(&frame, |listener: ControllerId| {
            recorder.record(now, cause, || {
                What::Dropped(listener, source, payload, Drop::Lost)
            });
        });
    }

    #[inline]
    fn note(&mut self, who: Who, note: Note) {
        if self.puts_aside(Effect::Note(who, note)) {
            return;
        }
        self.keep_fault(who, note);
        let step = self.record(|| What::Note(who, note));
        if R::KEEPS
            && let Who::Output(OutputId(output)) = who
        {
            self.said[usize::from(output)] = Some(step);
        }
    }

    #[inline]
    fn turn(&mut self, clause: u16, turn: Turn) {
        self.record(|| What::Clause(clause, turn));
    }

    #[inline]
    fn origin(&self) -> Origin {
        self.origin
    }
}
