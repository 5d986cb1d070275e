//! A room under the symbolic clock: from a state class to those that may follow it.
//!
//! A step is one instant: time passes, and at its end timers elapse, frames arrive and stimuli
//! come, in the order of ORD-1; then the monitors judge once, as in a plain run. An instant in
//! which two things happen is only told apart from two instants where a clause sees both:
//! everything else the monitors pass over (they do not change at an instant in which nothing
//! that they look at changed).
//!
//! Invariant: [`Rigor::Over`] never leaves out a run of the room, [`Rigor::Exact`] never adds
//! one.

mod alike;
mod ambient;
mod arrive;
mod beside;
mod bus;
mod clock;
mod close;
mod crossings;
mod event;
mod ghosts;
mod instant;
mod lead;
mod levels;
mod owed;
mod power;
mod question;
mod repeat;
mod siblings;
mod state;
mod system;

use std::cell::Cell;

use clause::Verdict;
use device::controller::OutputTimer;
use device::{Level, Span, controller, daylight};
use room::{Origin, Room, Slot, SlotOwner, SourceId, SourceSettings};

pub use beside::Beside;
pub use bus::way_of;
pub use instant::{Keep, Next};
pub use lead::Lead;
pub use levels::Levels;
pub use question::{Between, Calendar, Faults, Goal, Moment, Question, Rigor};
pub use state::State;
pub use system::Halt;

use crate::zone::Timer;

/// A room under the symbolic clock.
#[derive(Debug)]
pub struct Model {
    question: Question,
    /// What is done with the span of each slot.
    slots: Vec<Kind>,
    owners: Vec<SlotOwner>,
    /// The first timer of the frames on their way.
    first_flight: Timer,
    /// The first timer of the calendars.
    first_calendar: Timer,
    /// The first timer of the cuts of power.
    first_cut: Timer,
    /// The devices whose power may be cut.
    victims: Vec<state::Victim>,
    /// The sources that can be exchanged, for an over-approximation.
    siblings: Vec<Vec<siblings::Sibling>>,
    /// The ways in which they may change places; one, where there are none.
    exchanges: Vec<siblings::Exchange>,
    /// Each two ways that are one, for an over-approximation.
    as_one: Vec<(Slot, Slot)>,
    /// The levels that clauses compare, for an exact search.
    crossings: Vec<crossings::Crossing>,
    /// The sensors of which nobody knows what light they see, for an over-approximation.
    ambient: Vec<ambient::Unsure>,
    /// For each root of a cause chain, sorted, the one that stands for it.
    roots: Vec<(Origin, Origin)>,
    /// Why nothing can be said, if something went wrong.
    trouble: Cell<Option<&'static str>>,
    /// Whether a level on its way was looked at of which nobody knew where it stood: only the
    /// named ones are tried then.
    looked: Cell<bool>,
    /// A source whose report was found to change something.
    heeded: Cell<Option<SourceId>>,
}

/// What the clock does with the span of a slot.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
enum Kind {
    /// A clause measures it: exact.
    Clause,
    /// A device measures it, by its own clock.
    Device,
    /// A device measures it from an event that it may not have noticed, at most this long ago.
    Since(Span),
    /// A level is on its way.
    Way(OutputTimer),
    /// When a sensor of daylight looks again: never, for daylight stands still. It looks once
    /// when it gets power.
    Sample,
}

impl Model {
    /// A room under the symbolic clock.
    #[must_use]
    pub fn new(mut question: Question) -> Self {
        let since = dead_times(&mut question);
        let ambient = ambient::unsure(&mut question);
        let room = Room::new(question.plan.clone());
        let kind = |owner: &SlotOwner| match *owner {
            SlotOwner::Clause(..) => Kind::Clause,
            SlotOwner::Controller(_, controller::Timer::Output(_, timer))
                if OutputTimer::WAYS.contains(&timer) =>
            {
                Kind::Way(timer)
            }
            SlotOwner::Controller(..) => Kind::Device,
            // Where frames may be lost, what was said at the start does not stand for ever.
            SlotOwner::Source(id, timer) if is_of_daylight(&question, id) => {
                let reports = timer == daylight::Timer::Report.number();
                let makes_up = question.makes_up.iter().any(|(it, _)| *it == id);
                match reports && !question.faults.is_none() && !makes_up {
                    true => Kind::Device,
                    false => Kind::Sample,
                }
            }
            SlotOwner::Source(id, timer) => since.get(usize::from(id.0), timer),
        };
        let slots: Vec<Kind> = room.slots().owners().iter().map(kind).collect();
        let first_flight = count(slots.len());
        let ways: usize = question
            .plan
            .sources
            .iter()
            .map(|it| it.listeners.len())
            .sum();
        let first_calendar = first_flight + count(ways * bus::DEPTH);
        let first_cut = first_calendar + count(question.calendars.len());
        let victims = power::victims(&question);
        let siblings = siblings::siblings(&question, &room, first_flight);
        let first_crossing = first_cut + count(victims.len());
        let crossings = match question.rigor {
            Rigor::Over => Vec::new(),
            Rigor::Exact => crossings::crossings(&room, room.slots().owners(), first_crossing),
        };
        Self {
            victims,
            exchanges: siblings::exchanges(&siblings),
            siblings,
            crossings,
            roots: roots(&question),
            ambient,
            as_one: ways_as_one(&question, room.slots().owners()),
            owners: room.slots().owners().to_vec(),
            slots,
            first_flight,
            first_calendar,
            first_cut,
            trouble: Cell::new(None),
            looked: Cell::new(false),
            heeded: Cell::new(None),
            question,
        }
    }

    /// The question.
    #[must_use]
    pub fn question(&self) -> &Question {
        &self.question
    }

    /// Whether it mattered where a level on its way stood that might stand here or there: an
    /// exact search has then only tried the named ones, and has not seen everything.
    #[must_use]
    pub fn has_looked_at_levels(&self) -> bool {
        self.looked.get()
    }

    /// The root that stands for all that the clauses do not tell from this one.
    fn root(&self, origin: Origin) -> Origin {
        let place = self.roots.binary_search_by_key(&origin, |(it, _)| *it);
        place.map_or(origin, |place| self.roots[place].1)
    }

    /// Whether two ways are one in every run if they start at one instant.
    fn are_one(&self, one: Slot, other: Slot) -> bool {
        self.as_one.contains(&(one, other)) || self.as_one.contains(&(other, one))
    }

    /// Whose timer a slot is.
    fn owner(&self, slot: Slot) -> SlotOwner {
        self.owners[usize::from(slot.0)]
    }

    fn is_over(&self) -> bool {
        self.question.rigor == Rigor::Over
    }

    fn trouble(&self, why: &'static str) {
        self.trouble.set(self.trouble.get().or(Some(why)));
    }

    /// What may remain on a timer that is started with a span.
    fn bounds(&self, slot: Slot, span: Span) -> (Span, Span) {
        let (least, most) = match self.slots[usize::from(slot.0)] {
            Kind::Clause => return (span, span),
            Kind::Device | Kind::Sample => (span, span),
            Kind::Since(slack) => (span.minus(slack), span),
            // A hold at a trim has no way to go and ends at once (SW-6), so nothing is the least.
            Kind::Way(_) if self.is_over() => (Span::ZERO, self.longest_way(slot, span)),
            // The driver of a lamp moves its level, not the clock of a device.
            Kind::Way(_) => return (span, span),
        };
        let off = u64::from(self.question.tolerance);
        if off == 0 || span.is_zero() {
            return (least, most);
        }
        let (fast, slow) = (10_000 - off.min(9_999), 10_000 + off);
        (least.scaled(fast, 10_000), most.scaled(slow, 10_000))
    }

    /// Whether two timers are counted by the clock of one device.
    fn share_a_clock(&self, one: Slot, other: Slot) -> bool {
        let counted = |slot: Slot| self.slots[usize::from(slot.0)] == Kind::Device;
        counted(one)
            && counted(other)
            && match (self.owner(one), self.owner(other)) {
                (SlotOwner::Source(one, _), SlotOwner::Source(other, _)) => one == other,
                (SlotOwner::Controller(one, _), SlotOwner::Controller(other, _)) => one == other,
                _ => false,
            }
    }

    /// How far apart two timers of one device end whose spans differ by this much: what each of them
    /// takes is rounded up to whole milliseconds, so the difference may be rounded down or up.
    fn paced(&self, gap: Span) -> (Span, Span) {
        if gap.is_zero() {
            return (gap, gap);
        }
        let off = u64::from(self.question.tolerance);
        let least = gap.as_ms() * (10_000 - off.min(9_999)) / 10_000;
        (Span::from_ms(least), gap.scaled(10_000 + off, 10_000))
    }

    /// Whether a stimulus or a state of the room is what is looked for.
    fn is_found(&self, room: &Room) -> bool {
        let verdict = room.verdicts().next();
        match self.question.goal {
            Goal::Broken => verdict == Some(Verdict::Broken),
            Goal::Exercised => verdict == Some(Verdict::Held),
        }
    }

    /// Whether something that is taken for granted is not so.
    fn is_excluded(&self, room: &Room) -> bool {
        room.verdicts().skip(1).any(|it| it == Verdict::Broken)
    }
}

/// What an over-approximation makes of the dead times: a dead time hides events from a sensor,
/// so seen from the last event, hidden or not, its timers end a dead time early at most.
struct DeadTimes(Vec<Option<Span>>);

impl DeadTimes {
    fn get(&self, source: usize, timer: u8) -> Kind {
        use device::occupancy::Timer::{Delay, Window};
        match self.0[source] {
            Some(dead) if [Delay.number(), Window.number()].contains(&timer) => Kind::Since(dead),
            _ => Kind::Device,
        }
    }
}

/// Each two ways that are one in every run: ramps, and caps on their way where no shed leaves half of
/// what was there, which is not the same under another limit (OUT-14).
fn ways_as_one(question: &Question, owners: &[SlotOwner]) -> Vec<(Slot, Slot)> {
    let way = |(slot, owner): (Slot, &SlotOwner)| match *owner {
        SlotOwner::Controller(id, controller::Timer::Output(output, timer)) => {
            Some((slot, id, output, timer))
        }
        _ => None,
    };
    if question.rigor == Rigor::Exact {
        return Vec::new();
    }
    let all: Vec<_> = (0..).map(Slot).zip(owners).filter_map(way).collect();
    let pairs = all.iter().enumerate().flat_map(|(at, one)| {
        let others = all[at + 1..].iter();
        let others = others.filter(move |other| (one.1, one.3) == (other.1, other.3));
        others.map(move |other| (one, other))
    });
    let as_one = pairs.filter(|&(&(_, id, one, timer), &(_, _, other, _))| {
        let settings = &question.plan.controllers[usize::from(id.0)].settings;
        let output = &settings.outputs[usize::from(one)];
        let half = Level::from_hundredths(output.high_trim.hundredths() / 2);
        let moves_alike = match timer {
            OutputTimer::Ramp => true,
            OutputTimer::Shed => output.shed_to().is_some_and(|to| to >= half),
            _ => false,
        };
        moves_alike && crate::slice::are_asked_alike(settings, one, other)
    });
    as_one.map(|(one, other)| (one.0, other.0)).collect()
}

/// Takes the dead times out of the sensors of an over-approximation.
fn dead_times(question: &mut Question) -> DeadTimes {
    if question.rigor == Rigor::Exact {
        return DeadTimes(vec![None; question.plan.sources.len()]);
    }
    let plan = std::sync::Arc::make_mut(&mut question.plan);
    let taken = plan
        .sources
        .iter_mut()
        .map(|source| match &mut source.settings {
            SourceSettings::Occupancy(settings) => {
                Some(std::mem::replace(&mut settings.dead_time, Span::ZERO))
            }
            _ => None,
        });
    DeadTimes(taken.collect())
}

/// The roots of cause chains, and for each the first that the doers of the clauses cover alike.
fn roots(question: &Question) -> Vec<(Origin, Origin)> {
    let sources = (0..).map(SourceId).zip(&question.plan.sources);
    let of_source = sources.flat_map(|(id, source)| {
        let buttons = (0..).zip(&source.buttons);
        let buttons = buttons.map(move |(number, _)| Origin::Button(id, number));
        [Origin::Motion(id), Origin::Sound(id), Origin::Source(id)]
            .into_iter()
            .chain(buttons)
    });
    let apart = [Origin::Start, Origin::Power, Origin::Daylight, Origin::Site];
    let mut all: Vec<Origin> = apart.into_iter().chain(of_source).collect();
    all.sort_unstable();
    let covered = |origin: Origin| {
        let doers = question.doers.iter();
        doers.map(move |doer| doer.covers(origin.into()))
    };
    let standing = |origin: &Origin| {
        let first = all.iter().find(|it| covered(**it).eq(covered(*origin)));
        (*origin, *first.unwrap_or(origin))
    };
    all.iter().map(standing).collect()
}

fn is_of_daylight(question: &Question, id: SourceId) -> bool {
    let settings = &question.plan.sources[usize::from(id.0)].settings;
    matches!(settings, SourceSettings::Daylight(_))
}

fn count(number: usize) -> Timer {
    Timer::try_from(number).expect("slots, frames and calendars are numbered in 16 bits")
}
