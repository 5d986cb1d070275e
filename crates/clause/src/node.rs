//! The flat form of a formula: nodes that are judged one after the other at each instant.
//!
//! Invariant: the operands of a node stand before it, so one pass judges them all; memory bits
//! and timers belong to one node each.

use alloc::vec::Vec;

use device::Span;

use crate::{Atom, Effects, Event, View};

/// The place of a node in its formula.
pub(crate) type Id = u8;

/// One step of judging. What each means at the end of an instant t is said with `U`, `S` and
/// their bounded forms in [`crate::semantics`].
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub(crate) enum Node {
    /// A condition of the room.
    Atom(Atom),
    /// An event of the room.
    Event(Event),
    /// The operand is false.
    Not(Id),
    /// All operands are true.
    And(Vec<Id>),
    /// An operand is true.
    Or(Vec<Id>),
    /// The operand has been true since t − span at the latest.
    Lasts(Id, Timed),
    /// The operand was true from t − span until just before t.
    Lasted(Id, Timed),
    /// The operand was not true after t − span.
    Quiet(Id, Timed),
    /// The operand was true after t − span and before t.
    Before(Id, Timed),
    /// The operand is true and was false before t.
    Becomes(Id, u8),
    /// Set by the first operand, cleared by the second; clearing wins. With a span it also
    /// ends that long after it was last set.
    Latch(Id, Option<Id>, Option<Span>, Memory),
    /// The operand is true for at least the n + 1st time in a span that includes both ends.
    Count(Id, u8, Timed),
}

/// The span, the timer and the memory bits of a node that waits.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub(crate) struct Timed {
    /// How long it waits.
    pub(crate) span: Span,
    /// Its first timer and memory bit.
    pub(crate) memory: Memory,
}

/// The first timer and the first memory bit of a node.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub(crate) struct Memory {
    /// The first timer.
    pub(crate) timer: u8,
    /// The first memory bit.
    pub(crate) bit: u8,
}

/// What judging one instant reads and writes.
#[derive(Debug)]
pub(crate) struct Pass<'a, V, E> {
    /// What the room shows.
    pub(crate) view: &'a V,
    /// What the monitor does.
    pub(crate) effects: &'a mut E,
    /// The timers that elapsed in this instant.
    pub(crate) elapsed: u32,
    /// Whether this is the first instant of the run.
    pub(crate) first: bool,
    /// The memory bits.
    pub(crate) memory: u64,
    /// The values of the nodes judged so far.
    pub(crate) values: u128,
}

impl<V: View, E: Effects> Pass<'_, V, E> {
    /// Judges all nodes.
    pub(crate) fn run(&mut self, nodes: &[Node]) {
        for (place, node) in nodes.iter().enumerate() {
            if self.judge(node) {
                self.values |= 1 << place;
            }
        }
    }

    /// The value of a node that has been judged.
    pub(crate) fn value(&self, id: Id) -> bool {
        self.values >> id & 1 == 1
    }

    fn judge(&mut self, node: &Node) -> bool {
        match node {
            Node::Atom(atom) => self.view.holds(atom),
            Node::Event(event) => self.view.happened(event),
            Node::Not(operand) => !self.value(*operand),
            Node::And(operands) => operands.iter().all(|operand| self.value(*operand)),
            Node::Or(operands) => operands.iter().any(|operand| self.value(*operand)),
            Node::Lasts(operand, timed) => {
                let now = self.value(*operand);
                let lasted = self.lasted(*timed);
                self.keep(now, lasted, *timed);
                now && lasted
            }
            Node::Lasted(operand, timed) => {
                let now = self.value(*operand);
                let lasted = self.lasted(*timed);
                self.keep(now, lasted, *timed);
                lasted
            }
            Node::Quiet(operand, timed) => {
                let now = self.value(*operand);
                let recent = self.recent(*timed);
                self.extend(now, recent, *timed);
                !now && !recent
            }
            Node::Before(operand, timed) => {
                let now = self.value(*operand);
                let recent = self.recent(*timed);
                self.extend(now, recent, *timed);
                recent
            }
            Node::Becomes(operand, bit) => {
                let (now, before) = (self.value(*operand), self.bit(*bit));
                self.set_bit(*bit, now);
                now && !before && !self.first
            }
            Node::Latch(set, clear, span, memory) => {
                let set = self.value(*set);
                let clear = clear.is_some_and(|clear| self.value(clear));
                self.latch(set, clear, *span, *memory)
            }
            Node::Count(operand, limit, timed) => {
                let now = self.value(*operand);
                self.count(now, *limit, *timed)
            }
        }
    }

    /// Whether the operand of a node that waits was true from t − span until just before t.
    fn lasted(&self, timed: Timed) -> bool {
        let memory = timed.memory;
        self.bit(memory.bit + 1) || (self.bit(memory.bit) && self.has_elapsed(memory.timer))
    }

    /// Keeps how long the operand has been true: first bit: the timer runs; second: it lasted.
    fn keep(&mut self, now: bool, lasted: bool, timed: Timed) {
        let Memory { timer, bit } = timed.memory;
        let waiting = self.bit(bit) && !self.has_elapsed(timer);
        if now && !lasted && !waiting {
            self.effects.start(timer, timed.span);
        }
        if !now && waiting {
            self.effects.stop(timer);
        }
        self.set_bit(bit, now && !lasted);
        self.set_bit(bit + 1, now && lasted);
    }

    /// Whether the timer of a node is still running.
    fn recent(&self, timed: Timed) -> bool {
        self.bit(timed.memory.bit) && !self.has_elapsed(timed.memory.timer)
    }

    /// Restarts the timer of a node when its operand is true; the bit: the timer runs.
    fn extend(&mut self, now: bool, recent: bool, timed: Timed) {
        if now {
            self.effects.start(timed.memory.timer, timed.span);
        }
        self.set_bit(timed.memory.bit, now || recent);
    }

    fn latch(&mut self, set: bool, clear: bool, span: Option<Span>, memory: Memory) -> bool {
        let ended = span.is_some() && self.has_elapsed(memory.timer);
        let before = self.bit(memory.bit) && !ended;
        let now = (set || before) && !clear;
        if let Some(span) = span {
            if now && set {
                self.effects.start(memory.timer, span);
            } else if before && !now {
                self.effects.stop(memory.timer);
            }
        }
        self.set_bit(memory.bit, now);
        now
    }

    /// Keeps one timer for each of the last `limit` times that the operand was true.
    fn count(&mut self, now: bool, limit: u8, timed: Timed) -> bool {
        let mut free = None;
        for place in 0..limit {
            let (timer, bit) = (timed.memory.timer + place, timed.memory.bit + place);
            if self.has_elapsed(timer) {
                self.set_bit(bit, false);
            }
            if !self.bit(bit) {
                free = free.or(Some((timer, bit)));
            }
        }
        match free {
            Some((timer, bit)) if now => {
                self.effects.start(timer, timed.span);
                self.set_bit(bit, true);
                false
            }
            Some(_) => false,
            None => now,
        }
    }

    /// Whether a timer elapsed in this instant.
    pub(crate) fn has_elapsed(&self, timer: u8) -> bool {
        self.elapsed >> timer & 1 == 1
    }

    /// A memory bit.
    pub(crate) fn bit(&self, bit: u8) -> bool {
        self.memory >> bit & 1 == 1
    }

    /// Sets a memory bit.
    pub(crate) fn set_bit(&mut self, bit: u8, value: bool) {
        self.memory &= !(1 << bit);
        self.memory |= u64::from(value) << bit;
    }
}
