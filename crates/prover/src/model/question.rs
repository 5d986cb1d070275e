//! What is put to the symbolic clock: a sliced room, what may happen to it, and how closely the
//! clock looks.

use std::sync::Arc;

use super::lead::Lead;
use super::levels::Levels;
use clause::Doer;
use device::Span;
use device::clock::Entry;
use room::{ControllerId, OutputId, Plan, SourceId, Stimulus};

/// A question about a room.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Question {
    /// The room, sliced. Clause 0 is the one that is asked; the others are taken for granted.
    pub plan: Arc<Plan>,
    /// What may happen at its sources, at any moment.
    pub stimuli: Vec<(SourceId, Stimulus)>,
    /// Outputs that are there only because a button asks how they stand.
    pub ghosts: Vec<OutputId>,
    /// The calendars of its clocks.
    pub calendars: Vec<Calendar>,
    /// Whether the entries of calendars may fall due at any moment, as long as they keep their
    /// order: more than any calendar does.
    pub loose_calendars: bool,
    /// Whether entries of calendars cost as much as a stimulus: then a search for the cheapest path
    /// does not go through a year in which nobody comes first.
    pub entries_cost: bool,
    /// All that may happen, if an exact search goes after something.
    pub lead: Option<Lead>,
    /// How long frames take from a source to a listener; 10 ms where nothing is said.
    pub delays: Vec<(SourceId, ControllerId, Between)>,
    /// What may go wrong.
    pub faults: Faults,
    /// How far the clock of a device may be off, in parts of 10 000.
    pub tolerance: u16,
    /// Whether a button is pressed only when no other is down or on its way.
    pub one_hand: bool,
    /// Whether two stimuli are a millisecond apart at least.
    pub apart: bool,
    /// How closely the clock looks.
    pub rigor: Rigor,
    /// What is looked for.
    pub goal: Goal,
    /// The levels that are told apart.
    pub levels: Levels,
    /// Whether a clause compares or follows levels of outputs.
    pub watches_levels: bool,
    /// Whether a clause follows the moves of targets.
    pub follows_levels: bool,
    /// Whom the clauses name as roots of cause chains: roots that none of them tells apart are
    /// one.
    pub doers: Vec<Doer>,
    /// The sources of which to keep in mind which the clauses saw last. A clause that times how long ago
    /// the last of several things was needs it: a hull of rooms in which one was last and of rooms
    /// in which another was holds rooms in which none was. It is history only, so it never adds a
    /// run.
    pub remembered: Vec<SourceId>,
    /// Sources that report at any moment. The others never repeat themselves: their reports and
    /// the silence after them are left out, which is watched over.
    pub free_reports: Vec<SourceId>,
    /// Sources whose reports are left out but for those that make up for a lost frame: after one
    /// they say how they stand within this span, at any moment of it.
    pub makes_up: Vec<(SourceId, Span)>,
    /// Sources of which no clause sees a stimulus, and whose frames take one and the same time to
    /// every listener. Whatever happens at them may as well happen that much later, so their
    /// frames arrive at once, but for those with which the run begins: those arrive as late as they
    /// do, and until then nothing happens there.
    pub prompt: Vec<SourceId>,
    /// Wall units of which only the frames are kept: *down* comes whenever it likes, or a delay
    /// after a press that a clause sees, and *up* whenever it likes after it.
    pub light_units: Vec<SourceId>,
    /// The light units whose presses a clause sees.
    pub seen_presses: Vec<SourceId>,
}

impl Question {
    /// The same without names: equal for questions that have one answer.
    #[must_use]
    pub fn nameless(mut self) -> Self {
        let plan = Arc::make_mut(&mut self.plan);
        plan.name.clear();
        for source in &mut plan.sources {
            source.name.clear();
            source.buttons.iter_mut().for_each(String::clear);
        }
        plan.controllers.iter_mut().for_each(|it| it.name.clear());
        plan.outputs.iter_mut().for_each(|it| it.name.clear());
        plan.tasks.iter_mut().for_each(|it| it.name.clear());
        plan.clauses.iter_mut().for_each(|it| it.id.clear());
        self
    }
}

/// A span of which only the bounds are known.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Between {
    /// At least.
    pub least: Span,
    /// At most.
    pub most: Span,
}

impl Default for Between {
    /// The delay of a link of which nothing is said: 10 ms.
    fn default() -> Self {
        Self {
            least: Span::from_ms(10),
            most: Span::from_ms(10),
        }
    }
}

/// What may go wrong, and how often. A frame that arrives twice is not among it: the sequence
/// rule drops the copy whatever the room is at (LINK-3), so any number of copies changes nothing.
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub struct Faults {
    /// Frames that may be lost at a listener.
    pub lose: u8,
    /// Cuts of the power of any one device or of the room, each for a second or more.
    pub cuts: u8,
    /// Sources that may die at any moment and stay dead.
    pub dead: Vec<SourceId>,
}

impl Faults {
    /// Whether nothing may go wrong.
    #[must_use]
    pub fn is_none(&self) -> bool {
        *self == Self::default()
    }
}

/// How closely the clock looks.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Rigor {
    /// Every run of the room is a run of the model, and more: what holds here, holds. Levels on
    /// their way may stand anywhere, dead times count as tolerance, orders at one instant are
    /// free.
    Over,
    /// Every run of the model is a run of the room: what breaks here, breaks.
    Exact,
}

/// What is looked for.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Goal {
    /// Clause 0 breaks.
    Broken,
    /// Clause 0 has been put to the test and holds.
    Exercised,
}

/// The calendar of a clock: entries with the spans between them, on paths that a calendar of
/// whole days can take.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Calendar {
    /// The clock.
    pub clock: SourceId,
    /// The moments of its year, those that look alike as one.
    pub moments: Vec<Moment>,
}

/// A moment at which entries of a calendar fall due.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Moment {
    /// Whether the clock counts as in hours until then.
    pub in_hours: bool,
    /// The entries, in the order of ORD-1.
    pub entries: Vec<Entry>,
    /// The moments that may follow, and after how long.
    pub next: Vec<(u16, Span)>,
}
