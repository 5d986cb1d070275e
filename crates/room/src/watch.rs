//! What the monitors of a room see of an instant.
//!
//! Invariant: nothing is kept when there is no clause, and of the events of an instant nothing
//! is left when it has been judged.

use alloc::vec::Vec;

use clause::{Atom, Event, Gesture, OutputState, Quantity, SourceEvent, SourceState, View};
use device::controller::{self, Said, State};
use device::{Level, clock};

use crate::source::Machine;
use crate::{ControllerId, Origin, OutputId, Plan, Room, SourceId, Stimulus};

/// What happened since the last judgement, and how the outputs stood at it.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub(crate) struct Watch {
    /// Whether there is any clause.
    on: bool,
    happened: Vec<Happened>,
    stands: Vec<Stand>,
    /// One bit for each timer of each clause that elapsed in this instant.
    elapsed: Vec<u32>,
}

/// Something that happened in an instant.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
enum Happened {
    Acted(Origin),
    Stimulus(SourceId, Stimulus),
    Gesture(SourceId, u8, Gesture),
    Output(OutputId, clause::Change, Origin),
}

/// How an output stood when it was last looked at.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
struct Stand {
    view: controller::View,
    /// Whether anything of it moves by itself.
    moving: bool,
    /// The stimulus that set the target moving.
    mover: Origin,
    /// Whether it was set moving since it was last looked at.
    started: bool,
}

impl Watch {
    pub(crate) fn new(clauses: usize) -> Self {
        Self {
            on: clauses > 0,
            happened: Vec::new(),
            stands: Vec::new(),
            elapsed: alloc::vec![0; clauses],
        }
    }

    #[inline]
    pub(crate) fn is_on(&self) -> bool {
        self.on
    }

    /// How the outputs stand as the run begins.
    pub(crate) fn begin(&mut self, views: Vec<controller::View>) {
        let stand = |view| Stand {
            view,
            moving: true,
            mover: Origin::Start,
            started: false,
        };
        self.stands = views.into_iter().map(stand).collect();
    }

    /// Something outside acted, whatever came of it.
    #[inline]
    pub(crate) fn acted(&mut self, origin: Origin) {
        if self.on {
            self.happened.push(Happened::Acted(origin));
        }
    }

    #[inline]
    pub(crate) fn stimulus(&mut self, source: SourceId, stimulus: Stimulus, origin: Origin) {
        if self.on {
            self.happened.push(Happened::Acted(origin));
            self.happened.push(Happened::Stimulus(source, stimulus));
        }
    }

    /// A controller took the edges of a button for this gesture.
    #[inline]
    pub(crate) fn gesture(&mut self, source: SourceId, button: u8, gesture: Gesture) {
        if self.on {
            self.happened
                .push(Happened::Gesture(source, button, gesture));
        }
    }

    /// Something sets the target of an output moving.
    #[inline]
    pub(crate) fn moves(&mut self, output: OutputId, origin: Origin) {
        if let Some(stand) = self.stands.get_mut(usize::from(output.0)) {
            stand.mover = origin;
            stand.started = true;
        }
    }

    pub(crate) fn clause_elapsed(&mut self, clause: u16, timer: u8) {
        self.elapsed[usize::from(clause)] |= 1 << timer;
    }

    /// The timers of a clause that elapsed in this instant.
    pub(crate) fn elapsed(&self, clause: u16) -> u32 {
        self.elapsed[usize::from(clause)]
    }

    /// Whether anything of an output moved by itself when it was last looked at.
    pub(crate) fn moving(&self, output: OutputId) -> bool {
        self.stands[usize::from(output.0)].moving
    }

    /// How an output stood when it was last looked at.
    pub(crate) fn stood(&self, output: OutputId) -> &controller::View {
        &self.stands[usize::from(output.0)].view
    }

    /// An output has moved by itself since it was last looked at.
    pub(crate) fn drifted(&mut self, output: OutputId, view: controller::View, moving: bool) {
        let stand = &mut self.stands[usize::from(output.0)];
        let (before, mover) = (stand.view, stand.mover);
        stand.view = view;
        stand.moving = moving;
        if lit(&before) && lit(&view) {
            self.compare_targets(output, before.target, view.target, mover);
        }
    }

    /// An input may have changed an output; `arrived` is where its target goes, if it moves.
    pub(crate) fn noticed(
        &mut self,
        output: OutputId,
        view: controller::View,
        arrived: Option<Level>,
        origin: Origin,
    ) {
        let stand = &mut self.stands[usize::from(output.0)];
        let before = stand.view;
        let started = core::mem::take(&mut stand.started);
        stand.view = view;
        stand.moving = arrived.is_some();
        let mut push = |change| self.happened.push(Happened::Output(output, change, origin));
        match (lit(&before), lit(&view)) {
            (false, true) => push(clause::Change::TurnsOn),
            (true, false) => push(clause::Change::TurnsOff),
            _ => {}
        }
        match (before.occupied, view.occupied) {
            (false, true) => push(clause::Change::BecomesOccupied),
            (true, false) => push(clause::Change::BecomesVacant),
            _ => {}
        }
        if before.state != State::Warning && view.state == State::Warning {
            push(clause::Change::Warns);
        }
        if lit(&before) && lit(&view) {
            self.compare_targets(output, before.target, view.target, origin);
        }
        // What turns on and goes on rising does both at once.
        if let Some(arrived) = arrived
            && started
            && lit(&view)
        {
            self.compare_targets(output, view.target, arrived, origin);
        }
    }

    /// Forgets who set an output moving that has arrived, and the levels unless they matter.
    pub(crate) fn forget(&mut self, levels: bool) {
        for stand in &mut self.stands {
            if !stand.moving {
                stand.mover = Origin::Start;
            }
            if !levels {
                stand.view = controller::View {
                    asked: Level::OFF,
                    target: Level::OFF,
                    light: Level::OFF,
                    light_to: Level::OFF,
                    within: device::Span::ZERO,
                    ..stand.view
                };
            }
        }
    }

    /// Replaces the levels that were last seen by those that stand for them: the border of the
    /// stretch between watched levels, and where clauses follow the moves of targets, what stands
    /// for the target; where they do not, no move is kept. Where the light is going is seen by no
    /// clause.
    pub(crate) fn round_levels(
        &mut self,
        watched: &[Watched],
        follows: bool,
        stands_for: &impl Fn(Level) -> Level,
    ) {
        if !follows {
            (self.happened).retain(|it| {
                let Happened::Output(_, change, _) = it else {
                    return true;
                };
                !matches!(change, clause::Change::Raises | clause::Change::Lowers)
            });
        }
        for (id, stand) in (0..).map(OutputId).zip(&mut self.stands) {
            let of_it = watched.iter().filter(|it| it.output == id);
            let border = |quantity: Quantity| {
                let watched = of_it.clone().find(|it| it.quantity == quantity);
                watched.map_or(Level::OFF, |it| it.border(&stand.view))
            };
            let asked = border(Quantity::Asked);
            let target = match follows {
                true => stands_for(stand.view.target),
                false => border(Quantity::Target),
            };
            let light = border(Quantity::Light);
            stand.view = controller::View {
                asked,
                target,
                light,
                light_to: Level::OFF,
                within: device::Span::ZERO,
                ..stand.view
            };
        }
    }

    /// An output that stands for others was made to stand like this; nothing happened.
    pub(crate) fn pretended(&mut self, output: OutputId, view: controller::View) {
        (self.happened).retain(|it| !matches!(*it, Happened::Output(at, ..) if at == output));
        if let Some(stand) = self.stands.get_mut(usize::from(output.0)) {
            *stand = Stand {
                view,
                moving: false,
                mover: Origin::Start,
                started: false,
            };
        }
    }

    /// What set the outputs moving, told anew.
    pub(crate) fn rename_movers(&mut self, to: impl Fn(Origin) -> Origin) {
        for stand in &mut self.stands {
            stand.mover = to(stand.mover);
        }
    }

    /// What set the outputs moving.
    pub(crate) fn movers(&self) -> impl Iterator<Item = Origin> + '_ {
        self.stands.iter().map(|stand| stand.mover)
    }

    /// Whether nothing waits to be judged.
    pub(crate) fn is_settled(&self) -> bool {
        self.happened.is_empty()
    }

    /// The instant has been judged.
    pub(crate) fn settled(&mut self) {
        self.happened.clear();
        self.elapsed.fill(0);
    }

    fn compare_targets(&mut self, output: OutputId, before: Level, after: Level, by: Origin) {
        let change = match after.cmp(&before) {
            core::cmp::Ordering::Less => clause::Change::Lowers,
            core::cmp::Ordering::Equal => return,
            core::cmp::Ordering::Greater => clause::Change::Raises,
        };
        self.happened.push(Happened::Output(output, change, by));
    }
}

/// A level of an output that clauses compare, and the levels they compare it with.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Watched {
    /// The output.
    pub output: OutputId,
    /// Which of its levels.
    pub quantity: Quantity,
    /// Where an answer changes, sorted.
    levels: Vec<Level>,
}

impl Watched {
    /// What the clauses of a plan watch.
    pub(crate) fn of(plan: &Plan) -> Vec<Self> {
        let mut all = Vec::new();
        for output in (0..).zip(&plan.outputs).map(|(id, _)| OutputId(id)) {
            let formulas = plan.clauses.iter().map(|clause| &clause.formula);
            let mut levels: Vec<_> = formulas
                .flat_map(|formula| formula.watched_levels(output.0))
                .collect();
            levels.sort_unstable();
            levels.dedup();
            for quantity in [Quantity::Asked, Quantity::Target, Quantity::Light] {
                let of_this = levels.iter().filter(|&&(of, _)| of == quantity);
                let levels: Vec<_> = of_this.map(|&(_, level)| level).collect();
                if !levels.is_empty() {
                    all.push(Self {
                        output,
                        quantity,
                        levels,
                    });
                }
            }
        }
        all
    }

    /// Which of the stretches between the watched levels the output is in; a watched level
    /// belongs to the stretch above it.
    #[must_use]
    pub fn zone(&self, view: &controller::View) -> usize {
        let level = level(view, self.quantity);
        self.levels.partition_point(|&watched| watched <= level)
    }

    /// The lower border of that stretch.
    fn border(&self, view: &controller::View) -> Level {
        let place = self.zone(view).checked_sub(1);
        place.map_or(Level::OFF, |place| self.levels[place])
    }
}

/// A room at the end of an instant, as its monitors see it.
pub(crate) struct Judged<'a> {
    room: &'a Room,
}

impl<'a> Judged<'a> {
    pub(crate) fn new(room: &'a Room) -> Self {
        Self { room }
    }

    /// What the first controller that may hear a source believes of it: what it said last, and
    /// whether it is lost.
    fn belief(&self, source: u16) -> Option<(Said, bool)> {
        let listeners = &self.room.plan().sources[usize::from(source)].listeners;
        let &(ControllerId(id), heard) = listeners.iter().min()?;
        let controller = self.room.controller(ControllerId(id));
        Some((controller.said(heard), controller.is_lost(heard)))
    }

    fn stand(&self, output: u16) -> &controller::View {
        &self.room.watch().stands[usize::from(output)].view
    }
}

impl View for Judged<'_> {
    fn holds(&self, atom: &Atom) -> bool {
        match *atom {
            Atom::Output(output, state) => stands(self.stand(output), state),
            Atom::Level(output, quantity, compare) => {
                compare.admits(level(self.stand(output), quantity))
            }
            Atom::Source(source, state) => self
                .belief(source)
                .is_some_and(|(said, lost)| believes(said, lost, state)),
            Atom::Illuminance(source, brightness) => match self.room.machine(source) {
                Machine::Daylight(sensor) => sensor
                    .reported()
                    .is_some_and(|seen| brightness.admits(seen)),
                _ => false,
            },
            Atom::ButtonDown(source, button) => match self.room.machine(source) {
                Machine::Switch(unit) => unit.is_down(button),
                _ => false,
            },
        }
    }

    fn happened(&self, event: &Event) -> bool {
        let any = |test: &dyn Fn(&Happened) -> bool| self.room.watch().happened.iter().any(test);
        match event {
            Event::Source(source, wanted) => any(&|it| match *it {
                Happened::Stimulus(at, stimulus) => at.0 == *source && is(stimulus, *wanted),
                _ => false,
            }),
            Event::Button(source, button, wanted) => any(&|it| match *it {
                Happened::Stimulus(at, Stimulus::Press(number)) => {
                    (at.0, *wanted) == (*source, Gesture::Press)
                        && button.is_none_or(|only| only == number)
                }
                Happened::Stimulus(at, Stimulus::Release(number)) => {
                    (at.0, *wanted) == (*source, Gesture::Release)
                        && button.is_none_or(|only| only == number)
                }
                Happened::Gesture(at, number, gesture) => {
                    (at.0, *wanted) == (*source, gesture)
                        && button.is_none_or(|only| only == number)
                }
                _ => false,
            }),
            Event::Output(output, wanted, by) => any(&|it| match *it {
                Happened::Output(at, change, origin) => {
                    at.0 == *output && covers(*wanted, change) && by.admits(origin.into())
                }
                _ => false,
            }),
            Event::Acted(doer) => any(&|it| match *it {
                Happened::Acted(origin) => doer.covers(origin.into()),
                _ => false,
            }),
        }
    }
}

impl From<Origin> for clause::Origin {
    fn from(origin: Origin) -> Self {
        match origin {
            Origin::Start => Self::Start,
            Origin::Motion(source) => Self::Motion(source.0),
            Origin::Sound(source) => Self::Sound(source.0),
            Origin::Button(source, button) => Self::Button(source.0, button),
            Origin::Source(source) => Self::Source(source.0),
            Origin::Power => Self::Power,
            Origin::Daylight => Self::Daylight,
            Origin::Site => Self::Site,
        }
    }
}

/// Whether the state of an output is not off.
fn lit(view: &controller::View) -> bool {
    view.state != State::Off
}

fn level(view: &controller::View, quantity: Quantity) -> Level {
    match quantity {
        Quantity::Asked => view.asked,
        Quantity::Target => view.target,
        Quantity::Light => view.light,
    }
}

fn stands(view: &controller::View, state: OutputState) -> bool {
    match state {
        OutputState::On => lit(view),
        OutputState::Off => !lit(view),
        OutputState::Occupied => view.occupied,
        OutputState::Vacant => !view.occupied,
        OutputState::Warning => view.state == State::Warning,
        OutputState::Setback => view.state == State::Setback,
        OutputState::Latched => view.latch,
        OutputState::ByHand => view.by_hand,
        OutputState::Emergency => view.emergency,
        OutputState::Closed => view.closed,
        OutputState::Open => !view.closed,
    }
}

fn believes(said: Said, lost: bool, state: SourceState) -> bool {
    match state {
        SourceState::Occupied => matches!(said, Said::Occupied { .. }),
        SourceState::Vacant => said == Said::Vacant,
        SourceState::Unknown => said == Said::Unknown,
        SourceState::Lost => lost,
        SourceState::CardIn => said == Said::CardIn,
        SourceState::CardOut => said == Said::CardOut,
        SourceState::InHours => said == Said::InHours,
        SourceState::AfterHours => said == Said::AfterHours,
        SourceState::PowerPresent | SourceState::Quiet | SourceState::NotShedding => {
            said == Said::Rest
        }
        SourceState::PowerLost | SourceState::Alarm | SourceState::Shedding => said == Said::Calls,
    }
}

fn is(stimulus: Stimulus, event: SourceEvent) -> bool {
    match event {
        SourceEvent::Motion => stimulus == Stimulus::Motion,
        SourceEvent::Sound => stimulus == Stimulus::Sound,
        SourceEvent::CardIn => matches!(stimulus, Stimulus::CardIn { .. }),
        SourceEvent::CardOut => stimulus == Stimulus::CardOut,
        SourceEvent::Sweep => stimulus == Stimulus::Due(clock::Entry::Sweep),
    }
}

fn covers(wanted: clause::Change, change: clause::Change) -> bool {
    use clause::Change::{Changes, Lowers, Raises, TurnsOff, TurnsOn};
    change == wanted
        || (wanted == Changes && matches!(change, TurnsOn | TurnsOff | Raises | Lowers))
}
