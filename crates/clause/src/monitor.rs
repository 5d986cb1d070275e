//! The state of a clause in a run.
//!
//! Invariant: a broken monitor runs no timer and stays broken.

use device::Span;

use crate::compile::Lapse;
use crate::node::Pass;
use crate::{Formula, View};

/// What a monitor does besides changing its own state.
pub trait Effects {
    /// Starts (or restarts) timer `timer` of this monitor: it is named in the `elapsed` mask of
    /// [`Monitor::judge`] at the end of the instant `span` later.
    fn start(&mut self, timer: u8, span: Span);

    /// Stops timer `timer` of this monitor.
    fn stop(&mut self, timer: u8);

    /// Says what happened to the clause at this instant.
    fn turn(&mut self, turn: Turn);
}

/// What a monitor says at an instant.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Turn {
    /// The clause was triggered.
    Triggered,
    /// An obligation was met.
    Held,
    /// The clause is broken.
    Broken,
}

/// How a clause stands.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub enum Verdict {
    /// Exercised, and everything asked for was so.
    Held,
    /// Something asked for was not so.
    Broken,
    /// Nothing in the run put the clause to the test.
    NeverExercised,
    /// Something asked for is still pending.
    Open,
}

/// The state of one clause in a run: a few bits.
#[derive(Clone, Debug, Default, Eq, Hash, PartialEq)]
pub struct Monitor {
    begun: bool,
    broken: bool,
    owed: bool,
    memory: u64,
    seen: u32,
}

impl Monitor {
    /// A monitor that has seen nothing yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Judges an instant by its end. Called once at the end of the first instant of the run
    /// (whatever happens in it) and of every later instant at which anything happened, also
    /// when that is only a timer of this monitor. Bit *n* of `elapsed` is set when timer *n* of
    /// this monitor elapsed in this instant.
    ///
    /// In the first call conditions that hold do not count as becoming true.
    pub fn judge(
        &mut self,
        formula: &Formula,
        view: &impl View,
        elapsed: u32,
        effects: &mut impl Effects,
    ) {
        if self.broken {
            return;
        }
        let compiled = formula.compiled();
        let mut pass = Pass {
            view,
            effects,
            elapsed,
            first: !self.begun,
            memory: self.memory,
            values: 0,
        };
        pass.run(&compiled.nodes);
        let mut broken = false;
        for lapse in &compiled.lapses {
            broken |= pass.lapse(lapse);
        }
        for (place, operand) in compiled.operands.iter().enumerate() {
            self.seen |= u32::from(pass.value(*operand)) << place;
        }
        let triggered = compiled.trigger.is_some_and(|trigger| pass.value(trigger));
        let owed = compiled.duty.is_some_and(|duty| pass.value(duty));
        let answered = triggered || self.owed;
        let memory = pass.memory;
        if triggered && compiled.duty.is_some() {
            effects.turn(Turn::Triggered);
        }
        if broken {
            effects.turn(Turn::Broken);
            self.break_off(formula, effects);
            return;
        }
        if answered && !owed {
            effects.turn(Turn::Held);
        }
        self.begun = true;
        self.owed = owed;
        self.memory = memory;
    }

    /// How the clause stands now. For a fact of the dependency graph
    /// ([`Formula::never_affects`]) there is nothing that a run could exercise.
    #[must_use]
    pub fn verdict(&self, formula: &Formula) -> Verdict {
        let compiled = formula.compiled();
        let lapsing =
            |lapse: &Lapse| !lapse.allowance.is_zero() && self.memory >> lapse.memory.bit & 1 == 1;
        let all = compiled.operands.len();
        if self.broken {
            Verdict::Broken
        } else if compiled.lapses.iter().any(lapsing) || (self.owed && compiled.open_while_owed) {
            Verdict::Open
        } else if all > 0 && self.seen.count_ones() as usize == all {
            Verdict::Held
        } else {
            Verdict::NeverExercised
        }
    }

    /// Forgets what has been exercised, so that states which differ only in that are equal.
    pub fn forget_exercise(&mut self) {
        self.seen = 0;
    }

    /// Stays broken: no timer of the monitor runs any more.
    fn break_off(&mut self, formula: &Formula, effects: &mut impl Effects) {
        for timer in 0..formula.timers() {
            effects.stop(timer);
        }
        *self = Self {
            begun: true,
            broken: true,
            owed: false,
            memory: 0,
            seen: self.seen,
        };
    }
}

impl<V: View, E: Effects> Pass<'_, V, E> {
    /// Whether what is wrong has lasted longer than its allowance.
    fn lapse(&mut self, lapse: &Lapse) -> bool {
        let bad = self.value(lapse.bad);
        if lapse.allowance.is_zero() {
            return bad;
        }
        let memory = lapse.memory;
        let before = self.bit(memory.bit);
        if before && self.has_elapsed(memory.timer) {
            return true;
        }
        if bad && !before {
            self.effects.start(memory.timer, lapse.allowance.plus(MS));
        }
        if before && !bad {
            self.effects.stop(memory.timer);
        }
        self.set_bit(memory.bit, bad);
        false
    }
}

/// One millisecond: the allowance is over when it has passed whole.
const MS: Span = Span::from_ms(1);
