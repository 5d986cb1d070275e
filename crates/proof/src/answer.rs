//! What came of putting clauses to the symbolic clock.

use device::{Illuminance, Span};
use prover::classes::{Bound, Progress};
use scenario::run::LinkStep;

/// What came of one clause.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Answer {
    /// The place of the clause in the plan of the room.
    pub clause: u16,
    /// Its id.
    pub id: String,
    /// The verdict.
    pub verdict: Verdict,
    /// The part of the room that was looked at, in one line; nothing when the links answered.
    pub slice: Option<String>,
    /// What it took.
    pub effort: Effort,
    /// What was taken for granted.
    pub assumptions: Vec<String>,
    /// What was told apart less closely than a run tells it apart.
    pub abstractions: Vec<String>,
    /// The bound that the clause asks for, and the tightest one that holds.
    pub tightest: Option<Tightest>,
    /// Why there is no tightest bound where one was asked for.
    pub untold: Option<&'static str>,
}

/// The verdict on a clause.
#[derive(Clone, Debug, Eq, PartialEq)]
pub enum Verdict {
    /// It holds for every input at every moment. The scenario puts it to the test; `None` when
    /// none was found in the time there was.
    Proved(Option<Witness>),
    /// This scenario breaks it.
    Broken(Witness),
    /// The links of the room break it, on this way.
    Linked(Vec<LinkStep>),
    /// Nothing that may happen puts it to the test.
    NeverExercised,
    /// Nobody can say.
    Undecided(Why),
}

/// A scenario that was run and came out as it says.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Witness {
    /// The scenario file.
    pub text: String,
    /// How many things happen in it.
    pub happenings: usize,
    /// How long it lasts.
    pub length: Span,
}

/// Why a clause is undecided.
#[derive(Clone, Debug, Eq, PartialEq)]
pub enum Why {
    /// A bound was hit first.
    Spent(Bound, Progress),
    /// Something was met that the symbolic clock cannot carry.
    Beyond(&'static str),
    /// A path to a break was found, and its run does not break.
    NotReplayed(String),
    /// Only what was told apart less closely breaks it, and an exact search found nothing.
    OnlyAbstract(String),
    /// It speaks of what a sensor of daylight reads, and nothing puts it to the test as long as this
    /// much daylight stands still outside.
    StandingDaylight(Illuminance),
}

/// What an answer took.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub struct Effort {
    /// How the answer was found.
    pub how: How,
    /// State classes in the end, of the search that gave the answer.
    pub classes: usize,
    /// Successors computed by all searches.
    pub transitions: u64,
    /// The most bytes that any of them held.
    pub bytes: usize,
    /// Whether one of them hit the bound on memory.
    pub cramped: bool,
}

/// How an answer was found.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum How {
    /// From the links alone.
    #[default]
    Links,
    /// One convex hull for each state: everything that can happen, and some more.
    Hull,
    /// Class by class, levels and dead times told apart less closely.
    Inclusion,
    /// Class by class, as exactly as a run.
    Exact,
}

/// A bound and the tightest one that holds.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Tightest {
    /// What the clause asks for.
    pub asked: Span,
    /// The tightest bound that was proved.
    pub holds: Span,
    /// Whether longer spans hold too; otherwise shorter ones do.
    pub longer: bool,
    /// Whether a run breaks the clause with a span that is one millisecond tighter; otherwise it
    /// is only not proved so.
    pub sharp: bool,
    /// Whether what lies between follows from the form of the clause alone. A span in a trigger
    /// moves the trigger: there both ends are proved, and nothing is said of the rest.
    pub follows: bool,
}
