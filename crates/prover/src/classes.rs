//! The state class engine: explores what a system can do under every timing.
//!
//! A class is a discrete state with a [`Zone`], the set of remaining times that its timers may
//! have in it (Berthomieu and Menasche 1983, "An enumerative approach for analyzing time Petri
//! nets"; Berthomieu and Diaz 1991, "Modeling and verification of time dependent systems using
//! time Petri nets"; for clocks in place of remaining times Alur and Dill 1994, "A theory of timed
//! automata"). The engine knows neither rooms nor nets: a [`System`] says what follows a class.
//!
//! Invariants: single-threaded and deterministic, no answer depends on the order of a hash table;
//! states are compared in full, so that equal hashes hide nothing; an exploration is
//! [`Outcome::Complete`] only when nothing waits.

mod store;

use std::collections::BinaryHeap;
use std::hash::Hash;
use std::sync::atomic::{AtomicBool, Ordering};

use self::store::Store;
use crate::zone::Zone;

/// What can be explored.
pub trait System {
    /// The discrete half of a class.
    type State: Eq + Hash;

    /// What ends an exploration without an answer: a span too long, a counter that overflows.
    type Error;

    /// Visits the classes in which a run may start, in a fixed order.
    ///
    /// # Errors
    ///
    /// The system cannot be explored.
    fn start(&self, visit: &mut impl FnMut(Successor<Self::State>)) -> Result<(), Self::Error>;

    /// Visits the classes that follow this one, in a fixed order. The engine stores their zones
    /// as they come: whether time has passed in them is up to the system.
    ///
    /// # Errors
    ///
    /// The system cannot be explored.
    fn successors(
        &self,
        state: &Self::State,
        zone: &Zone,
        visit: &mut impl FnMut(Successor<Self::State>),
    ) -> Result<(), Self::Error>;

    /// The memory that a state takes in bytes, with what it owns elsewhere.
    fn size(&self, _state: &Self::State) -> usize {
        size_of::<Self::State>()
    }
}

/// A class that follows another.
#[derive(Clone, Debug)]
pub struct Successor<S> {
    /// The discrete half.
    pub state: S,
    /// The remaining times.
    pub zone: Zone,
    /// The inputs that the step costs; counts in [`Order::Cheapest`].
    pub cost: u32,
    /// Whether what must never happen has happened. Such a class is not explored further.
    pub is_bad: bool,
}

/// When a class adds nothing to those already stored.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Mode {
    /// When it equals one: the state class graphs of the literature.
    Equality,
    /// When it lies in one; a stored class that lies in a new one is dropped too. Keeps what can
    /// be reached, not how runs branch.
    Inclusion,
    /// When it lies in the one zone, a convex hull, that there is for its state and timers. Holds
    /// at least what can be reached: it proves, but never refutes.
    Hull {
        /// Whether a zone that has grown four times grows on a coarser grid, so that short spans
        /// beside long ones do not creep. Costs the independence of counts from the order.
        widens: bool,
    },
}

/// Which waiting class is next. Neither the verdict nor, without bad classes and in
/// [`Mode::Equality`] and [`Mode::Inclusion`], the classes that remain at the end depend on it.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Order {
    /// The one with the largest zone: far fewer classes are explored in vain.
    LargestFirst,
    /// The one that waits longest.
    BreadthFirst,
    /// The one with the fewest inputs from the start, then the one that waits longest. A class
    /// makes only those superfluous that cost as much or more, and a bad path has the fewest
    /// inputs there are.
    Cheapest,
}

/// How to explore.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Search {
    /// When a class adds nothing.
    pub mode: Mode,
    /// Which class is next.
    pub order: Order,
    /// Whether the path to a bad class is wanted, at eight bytes a class.
    pub keeps_paths: bool,
    /// Whether to explore everything else too when a bad class is found.
    pub goes_on: bool,
}

/// What an exploration may take.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Limits {
    /// Classes stored at one time.
    pub classes: usize,
    /// Successors computed; the last class may exceed it by its own.
    pub transitions: u64,
    /// Bytes held; the last class may exceed it by its own successors.
    pub bytes: usize,
}

/// How far an exploration is.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub struct Progress {
    /// Classes stored: in the end those that no other makes superfluous.
    pub classes: usize,
    /// Of these, the classes that wait for their successors.
    pub waiting: usize,
    /// Pairs of a discrete state and running timers.
    pub keys: usize,
    /// Classes whose successors were computed.
    pub visited: u64,
    /// Successors computed.
    pub transitions: u64,
    /// Bytes held, as allocated.
    pub bytes: usize,
}

/// What came of an exploration.
#[derive(Clone, Debug, Eq, PartialEq)]
pub enum Outcome {
    /// Everything was explored and nothing is bad.
    Complete,
    /// A bad class was reached. The path has the place of the first class among those that
    /// [`System::start`] visits, then the place of each successor among those that
    /// [`System::successors`] visits. There is none when none was asked for, and in
    /// [`Mode::Hull`], where nothing shows that the class can be reached at all.
    Bad(Option<Vec<u32>>),
    /// A bound was hit first. Says nothing about what was not explored.
    Spent(Bound),
}

/// A bound on an exploration.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Bound {
    /// [`Limits::classes`].
    Classes,
    /// [`Limits::bytes`].
    Memory,
    /// Somebody asked for the end.
    Stopped,
    /// [`Limits::transitions`].
    Transitions,
}

/// An exploration that has ended.
#[derive(Debug)]
pub struct Exploration<S> {
    /// What came of it.
    pub outcome: Outcome,
    /// How far it came.
    pub reached: Progress,
    /// The most bytes that were held at one time.
    pub peak_bytes: usize,
    store: Store<S>,
}

impl<S: Eq + Hash> Exploration<S> {
    /// The stored classes, in the order in which their states were met.
    pub fn classes(&self) -> impl Iterator<Item = (&S, Zone)> {
        self.store.classes()
    }
}

impl Limits {
    /// No limit but the machine's.
    pub const NONE: Self = Self {
        classes: usize::MAX,
        transitions: u64::MAX,
        bytes: usize::MAX,
    };
}

impl Default for Limits {
    fn default() -> Self {
        Self::NONE
    }
}

/// Explores a system. `progress` is called now and then; the exploration ends soon after `stop`
/// is set.
///
/// # Errors
///
/// Those of the system.
pub fn explore<Y: System>(
    system: &Y,
    search: Search,
    limits: &Limits,
    progress: &mut dyn FnMut(&Progress),
    stop: &AtomicBool,
) -> Result<Exploration<Y::State>, Y::Error> {
    let mut engine = Engine {
        system,
        search,
        store: Store::new(search.mode, search.keeps_paths),
        waiting: BinaryHeap::new(),
        sequence: 0,
        bad: None,
        visited: 0,
        transitions: 0,
        peak_bytes: 0,
    };
    let bound = engine.run(limits, progress, stop)?;
    let outcome = match (engine.bad.take(), bound) {
        (Some(bad), _) => Outcome::Bad(engine.store.path(bad.parent, bad.place)),
        (None, Some(bound)) => Outcome::Spent(bound),
        (None, None) => Outcome::Complete,
    };
    Ok(Exploration {
        outcome,
        reached: engine.reached(),
        peak_bytes: engine.peak_bytes,
        store: engine.store,
    })
}

/// An exploration under way.
struct Engine<'a, Y: System> {
    system: &'a Y,
    search: Search,
    store: Store<Y::State>,
    waiting: BinaryHeap<Waiting>,
    /// The number of the next class that comes to wait.
    sequence: u64,
    /// The cheapest bad class so far, of equal ones the first.
    bad: Option<Bad>,
    visited: u64,
    transitions: u64,
    peak_bytes: usize,
}

/// How a bad class was reached.
struct Bad {
    cost: u32,
    parent: Option<u32>,
    place: u32,
}

/// A class that waits. The greatest is next, so the fields stand in the order of their weight;
/// sequence numbers are negative for that.
#[derive(Eq, Ord, PartialEq, PartialOrd)]
struct Waiting {
    priority: i64,
    sequence: i64,
    class: u32,
}

impl<Y: System> Engine<'_, Y> {
    /// Explores until nothing waits or the search is over: which bound ended it, if one did.
    fn run(
        &mut self,
        limits: &Limits,
        progress: &mut dyn FnMut(&Progress),
        stop: &AtomicBool,
    ) -> Result<Option<Bound>, Y::Error> {
        let mut buffer = Vec::new();
        self.system.start(&mut |successor| buffer.push(successor))?;
        self.receive(None, 0, &mut buffer);
        let mut due = PROGRESS;
        loop {
            if self.is_over() {
                return Ok(None);
            }
            if let Some(bound) = self.exceeded(limits) {
                return Ok(Some(bound));
            }
            let Some(class) = self.next() else {
                return Ok(None);
            };
            if stop.load(Ordering::Relaxed) {
                return Ok(Some(Bound::Stopped));
            }
            if self.transitions >= limits.transitions {
                return Ok(Some(Bound::Transitions));
            }
            let cost = self.store.cost(class);
            if self.is_cheaper_known(cost) {
                return Ok(None);
            }
            self.store.leave(class);
            self.visited += 1;
            let (state, zone) = self.store.class(class);
            self.system
                .successors(state, &zone, &mut |successor| buffer.push(successor))?;
            self.transitions += buffer.len() as u64;
            self.receive(Some(class), cost, &mut buffer);
            if self.transitions >= due {
                due = self.transitions + PROGRESS;
                progress(&self.reached());
            }
        }
    }

    /// The next class that nothing has made superfluous meanwhile; it stays among the waiting.
    fn next(&mut self) -> Option<u32> {
        while let Some(next) = self.waiting.pop() {
            if self.store.is_waiting(next.class) {
                return Some(next.class);
            }
        }
        None
    }

    /// Stores what follows a class.
    fn receive(
        &mut self,
        parent: Option<u32>,
        cost: u32,
        successors: &mut Vec<Successor<Y::State>>,
    ) {
        for (place, successor) in (0u32..).zip(successors.drain(..)) {
            let cost = match self.search.order {
                Order::Cheapest => cost.saturating_add(successor.cost),
                Order::BreadthFirst | Order::LargestFirst => 0,
            };
            if successor.is_bad {
                if self.bad.as_ref().is_none_or(|bad| cost < bad.cost) {
                    self.bad = Some(Bad {
                        cost,
                        parent,
                        place,
                    });
                }
                continue;
            }
            let size = self.system.size(&successor.state);
            let sum = successor.zone.sum();
            let entered = self.store.enter(
                successor.state,
                &successor.zone,
                store::Entrance {
                    sum,
                    cost,
                    size,
                    parent,
                    place,
                },
            );
            if let Some(class) = entered {
                let priority = match self.search.order {
                    Order::LargestFirst => sum,
                    Order::BreadthFirst => 0,
                    Order::Cheapest => -i64::from(cost),
                };
                self.sequence += 1;
                self.waiting.push(Waiting {
                    priority,
                    sequence: -i64::try_from(self.sequence).unwrap_or(i64::MAX),
                    class,
                });
            }
        }
        self.peak_bytes = self.peak_bytes.max(self.bytes());
    }

    /// Whether a bad class ends the search at once.
    fn is_over(&self) -> bool {
        self.bad.is_some() && !self.search.goes_on && self.search.order != Order::Cheapest
    }

    /// Whether no class of this cost, nor any after it, leads to a cheaper bad one.
    fn is_cheaper_known(&self, cost: u32) -> bool {
        !self.search.goes_on && self.bad.as_ref().is_some_and(|bad| bad.cost <= cost)
    }

    /// The bound on stored things that is exceeded.
    fn exceeded(&self, limits: &Limits) -> Option<Bound> {
        if self.store.alive() > limits.classes || self.store.is_full() {
            Some(Bound::Classes)
        } else if self.bytes() > limits.bytes {
            Some(Bound::Memory)
        } else {
            None
        }
    }

    /// How far the exploration is.
    fn reached(&self) -> Progress {
        Progress {
            classes: self.store.alive(),
            waiting: self.store.waiting(),
            keys: self.store.keys(),
            visited: self.visited,
            transitions: self.transitions,
            bytes: self.bytes(),
        }
    }

    /// Bytes held.
    fn bytes(&self) -> usize {
        self.store.bytes() + self.waiting.capacity() * size_of::<Waiting>()
    }
}

/// Transitions from one call of `progress` to the next.
const PROGRESS: u64 = 4_096;
