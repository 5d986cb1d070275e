//! One room under the numeric clock.
//!
//! Inputs are given with the instant they happen at. The simulation gathers what is given for
//! one instant and runs it when a later instant is asked for, so the order in which rows are
//! given never matters; only instants do.
//!
//! Invariant: one instant runs in the order of ORD-1 (power and faults; stimuli and arriving
//! frames; device timers; rows marked *after*; clause deadlines; the monitors judge once), and
//! within a kind by source, then output, then slot name.

mod given;
mod outside;

use std::borrow::Cow;
use std::mem;
use std::sync::Arc;

use device::Span;
use given::{Gathered, Given, Happening};
use room::{
    Clock, ControllerId, Device, Input, Origin, OutputId, Plan, Room, Slot, SourceId, Stimulus,
};

use crate::bus::{Bus, Impairment, Quality};
use crate::drift::{Drift, Drifts};
use crate::views::Views;
use crate::world::{StandingFault, World};
use crate::{Full, Instant, OutputView, Recorder, Silent, Trace, What};

/// One room under the numeric clock. A clone is a snapshot: it goes on on its own.
#[derive(Clone, Debug)]
pub struct Simulation<R: Recorder = Full> {
    room: Room,
    /// The room as it is before the run begins.
    fresh: Room,
    pub(crate) world: World<R>,
    /// What is given for the present instant and has not run.
    given: Gathered,
    /// Whether the present instant has still to run.
    open: bool,
    /// The last instant that was judged.
    judged: Instant,
    views: Views,
}

/// A state to come back to, without the trace that led there.
#[derive(Clone, Debug)]
pub struct Snapshot<R: Recorder> {
    pub(crate) simulation: Box<Simulation<R>>,
    pub(crate) steps: usize,
}

/// Something that will happen by itself.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Coming {
    /// A timer elapses.
    Timer(Slot),
    /// A frame arrives.
    Frame(ControllerId, SourceId, device::Payload),
}

impl Simulation<Full> {
    /// Everything that happened so far.
    #[must_use]
    pub fn trace(&self) -> &Trace {
        &self.world.recorder.trace
    }

    /// Ends the run and hands over its trace.
    #[must_use]
    pub fn into_trace(self) -> Trace {
        self.world.recorder.trace
    }
}

impl Simulation<Silent> {
    /// A run that keeps no trace, on a bus without jitter, loss or copies.
    #[must_use]
    pub fn silent(plan: Arc<Plan>) -> Self {
        Self::new(plan, 0, |_, _| Quality::default())
    }
}

impl<R: Recorder> Simulation<R> {
    /// A room at the beginning of its run. `quality` says how well frames travel from a source
    /// to a listener; all luck comes from `seed`.
    #[must_use]
    pub fn new(
        plan: Arc<Plan>,
        seed: u64,
        quality: impl Fn(SourceId, ControllerId) -> Quality,
    ) -> Self {
        let mut simulation = Self::unstarted(plan, seed, quality);
        simulation.room.start(&mut simulation.world);
        simulation
    }

    /// A room whose devices have not begun.
    fn unstarted(
        plan: Arc<Plan>,
        seed: u64,
        quality: impl Fn(SourceId, ControllerId) -> Quality,
    ) -> Self {
        let bus = Bus::new(&plan, seed, quality);
        let room = Room::new(Arc::clone(&plan));
        let timers = room.slots().len();
        let outputs = plan.outputs.len();
        let mut simulation = Self {
            fresh: room.clone(),
            room,
            world: World::new(timers, bus, outputs, R::default()),
            given: Gathered::default(),
            open: true,
            judged: Instant::START,
            views: Views::new(if R::KEEPS { outputs } else { 0 }),
        };
        simulation.views.touch_all();
        simulation
    }

    /// Brings the run back to its beginning: same room, same seed, no trace.
    pub fn reset(&mut self) {
        self.room.clone_from(&self.fresh);
        self.world.reset();
        self.given.clear();
        self.open = true;
        self.judged = Instant::START;
        self.views.reset();
        self.room.start(&mut self.world);
        self.views.touch_all();
    }

    /// Gives an input for the instant `at`, at which it happens; whatever is due before `at` has
    /// then run. The instant itself runs when a later one is asked for.
    ///
    /// # Panics
    ///
    /// When `at` lies before [`Self::now`].
    #[inline]
    pub fn apply(&mut self, at: Instant, input: Input) {
        match input {
            Input::Stimulus(source, stimulus) => {
                self.reach(at);
                self.open = true;
                self.given.push_stimulus(source, stimulus);
            }
            input => self.give(at, false, Happening::Input(input)),
        }
    }

    /// Gives an input that happens at `at`, after the device timers of that instant (ORD-3).
    ///
    /// # Panics
    ///
    /// When `at` lies before [`Self::now`].
    pub fn apply_after(&mut self, at: Instant, input: Input) {
        self.give(at, true, Happening::Input(input));
    }

    /// Gives a fault of the bus for the instant `at`.
    ///
    /// # Panics
    ///
    /// When `at` lies before [`Self::now`].
    pub fn impair(&mut self, at: Instant, impairment: Impairment) {
        self.give(at, false, Happening::Impair(impairment));
    }

    /// The clock of a device runs at another pace from the instant `at` on.
    ///
    /// # Panics
    ///
    /// When `at` lies before [`Self::now`].
    pub fn drift(&mut self, at: Instant, drift: Drift) {
        self.give(at, false, Happening::Drift(drift));
    }

    /// Runs everything through the end of the instant `at`.
    ///
    /// # Panics
    ///
    /// When `at` lies before [`Self::now`].
    pub fn run_until(&mut self, at: Instant) {
        self.reach(at);
        self.close();
        self.run_before(at.after(Span::from_ms(1)));
        self.world.now = at;
    }

    /// The present instant.
    #[must_use]
    pub fn now(&self) -> Instant {
        self.world.now
    }

    /// The next instant at which something happens by itself; never when nothing runs.
    #[must_use]
    pub fn next_instant(&mut self) -> Instant {
        if self.open {
            return self.world.now;
        }
        let next = self.world.next();
        self.crossing(next).unwrap_or(next)
    }

    /// How an output stands at the present instant.
    #[must_use]
    pub fn view(&self, output: OutputId) -> OutputView {
        self.room.view(output, &self.world).into()
    }

    /// The room as it stands.
    #[must_use]
    pub fn room(&self) -> &Room {
        &self.room
    }

    /// The plan with every change made on site so far.
    #[must_use]
    pub fn plan(&self) -> &Plan {
        self.room.plan()
    }

    /// The clock as the room sees it, for a look at the room by its own means.
    #[must_use]
    pub fn clock(&self) -> &impl Clock {
        &self.world
    }

    /// The span that remains on a timer; `None` when it does not run.
    #[must_use]
    pub fn remaining(&self, slot: Slot) -> Option<Span> {
        self.world
            .table
            .due(slot)
            .map(|due| due.since(self.world.now))
    }

    /// What will happen by itself and when, the first first.
    #[must_use]
    pub fn coming(&self) -> Vec<(Instant, Coming)> {
        let table = &self.world.table;
        let timers = table.running().filter_map(|slot| {
            let due = table.due(slot)?;
            Some((due, Coming::Timer(slot)))
        });
        // What is sent as the run begins has left once the first instant has run.
        let mut bus = Cow::Borrowed(&self.world.bus);
        if bus.holds() {
            bus.to_mut().release(|_, _| {});
        }
        let frames = bus.flying().map(|flight| {
            let frame = Coming::Frame(flight.listener, flight.source, flight.payload);
            (flight.due, frame)
        });
        // Frames go before timers at one instant; the sort is stable.
        let mut coming: Vec<_> = frames.chain(timers).collect();
        coming.sort_by_key(|&(due, _)| due);
        coming
    }

    /// The faults that stand, in the order they came.
    #[must_use]
    pub fn faults(&self) -> &[StandingFault] {
        &self.world.faults
    }

    /// Whoever keeps the trace.
    #[must_use]
    pub fn recorder(&self) -> &R {
        &self.world.recorder
    }

    /// Whoever keeps the trace, to take from it what it kept.
    pub fn recorder_mut(&mut self) -> &mut R {
        &mut self.world.recorder
    }

    /// A state to come back to. The trace is not copied: it only grows.
    #[must_use]
    pub fn snapshot(&self) -> Snapshot<R> {
        Snapshot {
            steps: self.world.recorder.steps(),
            simulation: Box::new(Self {
                room: self.room.clone(),
                fresh: self.fresh.clone(),
                world: self.world.without_trace(),
                given: self.given.clone(),
                open: self.open,
                judged: self.judged,
                views: self.views.clone(),
            }),
        }
    }

    /// Comes back to a snapshot of this same run; the steps since then are forgotten.
    pub fn restore(&mut self, snapshot: &Snapshot<R>) {
        let mut recorder = mem::take(&mut self.world.recorder);
        recorder.truncate(snapshot.steps);
        self.clone_from(&snapshot.simulation);
        self.world.recorder = recorder;
    }

    /// Gives what is no stimulus; that is rare, and kept out of the way.
    #[inline(never)]
    fn give(&mut self, at: Instant, after: bool, what: Happening) {
        self.reach(at);
        self.open = true;
        self.given.push(Given { after, what });
    }

    /// Makes `at` the present instant; everything before it has then run.
    #[inline]
    fn reach(&mut self, at: Instant) {
        assert!(at >= self.world.now, "time never runs back");
        if at > self.world.now {
            self.close();
            self.run_before(at);
            self.world.now = at;
        }
    }

    /// Runs what is due before `end`, instant by instant.
    #[inline]
    fn run_before(&mut self, end: Instant) {
        if self.world.bound() < end || !self.room.watched().is_empty() {
            self.run_due_before(end);
        }
    }

    #[inline(never)]
    fn run_due_before(&mut self, end: Instant) {
        loop {
            let mut next = self.world.next();
            if let Some(crossing) = self.crossing(next.min(end)) {
                next = crossing;
            }
            if next >= end {
                return;
            }
            self.world.now = next;
            self.run_instant();
        }
    }

    /// Runs the present instant if it has not run.
    #[inline]
    fn close(&mut self) {
        if !self.open {
            return;
        }
        self.open = false;
        if R::KEEPS && self.world.outside.is_some() {
            self.begin_outside();
        }
        if self.world.bus.holds() {
            self.begin_bus();
        }
        // Most instants are one stimulus and nothing else: no order has to be found for those.
        if self.world.bound() > self.world.now
            && let Some((source, stimulus)) = self.given.take_only_stimulus()
        {
            self.sense(source, stimulus);
            if self.world.bound() > self.world.now {
                self.settle();
                return;
            }
        }
        self.run_instant();
    }

    /// The first instant: the frames that are sent as the run begins go their ways, which are as
    /// they were given from the start.
    #[cold]
    fn begin_bus(&mut self) {
        for impairment in self.given.take_impairments() {
            self.take(Happening::Impair(impairment));
        }
        self.world.release_frames();
    }

    /// Runs the present instant in the order of ORD-1.
    fn run_instant(&mut self) {
        if !self.given.is_empty() {
            self.run_given();
        }
        self.arrivals();
        self.timers();
        self.deadlines();
        self.settle();
    }

    /// Runs what is given for the present instant, with the frames that come in between.
    fn run_given(&mut self) {
        let mut given = self.given.take_all();
        given.sort_by_key(Given::place);
        let mut timers_ran = false;
        for Given { after, what } in given.drain(..) {
            if after && !timers_ran {
                self.arrivals();
                self.timers();
                timers_ran = true;
            }
            if let Happening::Input(Input::Stimulus(..)) = what {
                self.arrivals();
            }
            self.take(what);
        }
        self.given.keep(given);
    }

    /// The instant is over: the monitors judge it, and what changed is recorded.
    #[inline]
    fn settle(&mut self) {
        self.judged = self.world.now;
        self.room.settle(&mut self.world);
        if R::KEEPS {
            self.views.record(&self.room, &mut self.world);
        }
    }

    /// Takes a stimulus.
    fn sense(&mut self, source: SourceId, stimulus: Stimulus) {
        match stimulus {
            // What sensors sense comes by the thousand: its way is worth a copy of its own, in
            // which nothing is left to find out.
            Stimulus::Motion => self.take_input(Input::Stimulus(source, Stimulus::Motion)),
            Stimulus::Sound => self.take_input(Input::Stimulus(source, Stimulus::Sound)),
            other => self.take_other(Input::Stimulus(source, other)),
        }
    }

    /// Takes an input from outside.
    fn take(&mut self, what: Happening) {
        match what {
            Happening::Input(Input::Stimulus(source, stimulus)) => self.sense(source, stimulus),
            Happening::Input(input) => self.take_other(input),
            Happening::Impair(impairment) => {
                self.world
                    .begin(Origin::Site, || What::Impaired(Box::new(impairment)));
                self.world.bus.impair(&impairment);
            }
            Happening::Drift(drift) => self.take_drift(drift),
            Happening::CutOff(device, fault) => self.take_cut(device, fault),
            Happening::Return(device) => self.take_return(device),
            Happening::Speak(source, payload) => self.take_words(source, payload),
        }
    }

    /// Gives the room an input; a device outside is asked what it does.
    #[inline(always)]
    fn handle(&mut self, input: Input) {
        if R::KEEPS && self.world.outside.is_some() {
            self.handle_outside(input);
        } else {
            self.room.handle(input, &mut self.world);
        }
    }

    #[cold]
    fn take_drift(&mut self, drift: Drift) {
        self.world.begin(Origin::Site, || What::Drifts(drift));
        let slots = self.room.slots();
        let drifts = self
            .world
            .drifts
            .get_or_insert_with(|| Box::new(Drifts::new(slots)));
        drifts.set(slots, drift);
    }

    /// Takes an input that is no stimulus; those are rare, and kept out of the way.
    #[inline(never)]
    fn take_other(&mut self, input: Input) {
        self.take_input(input);
    }

    #[inline(always)]
    fn take_input(&mut self, input: Input) {
        let origin = Origin::of(&input);
        self.world.begin(origin, || What::given(&input));
        if R::KEEPS {
            self.views.touch(&self.room, &input);
        }
        if let Input::Power(Device::Controller(id), false) = input {
            self.world.bus.forget(id);
        }
        self.handle(input);
    }

    /// Takes the frames that arrive at this instant.
    fn arrivals(&mut self) {
        while let Some(flight) = self.world.bus.next()
            && flight.due <= self.world.now
        {
            let flight = self.world.bus.take().expect("the bus has a next frame");
            let powered = self.room.is_powered(Device::Controller(flight.listener));
            if self.world.arrive(&flight, powered) {
                if let Some(outside) = &mut self.world.outside {
                    outside.sequence = flight.sequence;
                }
                let input = Input::Frame {
                    listener: flight.listener,
                    source: flight.source,
                    payload: flight.payload,
                };
                if R::KEEPS {
                    self.views.touch(&self.room, &input);
                }
                self.handle(input);
            }
        }
    }

    /// Lets the device timers of this instant elapse, and takes what they send at once.
    fn timers(&mut self) {
        let mut left = ENDLESS;
        while let Some(slot) = self.due()
            && !self.room.slots().is_clause(slot)
        {
            left -= 1;
            assert!(
                left > 0,
                "an instant never ends: a timer restarts with no span"
            );
            self.elapse(slot);
            self.arrivals();
        }
    }

    /// Lets the deadlines of clauses elapse, when every device has had its turn.
    #[inline]
    fn deadlines(&mut self) {
        while let Some(slot) = self.due() {
            self.elapse(slot);
        }
    }

    /// The lowest slot that is due at this instant.
    #[inline]
    fn due(&mut self) -> Option<Slot> {
        if self.world.table.bound() > self.world.now {
            return None;
        }
        let (slot, due) = self.world.table.soonest()?;
        (due <= self.world.now).then_some(slot)
    }

    #[inline]
    fn elapse(&mut self, slot: Slot) {
        self.world.elapse(slot);
        let input = Input::Elapsed(slot);
        if R::KEEPS {
            self.views.touch(&self.room, &input);
        }
        self.handle(input);
    }

    /// The first moment before `end` at which a moving level crosses one that a clause watches.
    fn crossing(&mut self, end: Instant) -> Option<Instant> {
        if self.room.watched().is_empty() {
            return None;
        }
        crate::crossing::first(&self.room, &mut self.world, self.judged, end)
    }
}

/// More timers than any instant of a room has: settings that make a device restart a timer of
/// no span for ever are refused before they get here.
const ENDLESS: u32 = 1_000_000;
