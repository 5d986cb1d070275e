//! Sources that can be exchanged: rooms that differ only in which of them did what are one.
//!
//! Two sources with equal settings and equal links, that no clause tells apart, are siblings. A
//! state in which they have changed places does what the state does, with their names exchanged,
//! and a clause breaks in the one when it breaks in the other. So one of the two is enough to
//! explore (Clarke, Enders, Filkorn and Jha 1996, "Exploiting symmetry in temporal logic model
//! checking"; Ip and Dill 1996, "Better verification through symmetry"). Here it is the one whose
//! siblings stand in an order of how they stand, what remains on their timers left out: any order
//! does. For `n` siblings that leaves up to `n!` times fewer classes.
//!
//! One thing does tell siblings apart: at one instant the one with the lower number goes first
//! (ORD-1). So their turns in an instant are those of any [`Exchange`] of them: what may follow is
//! what may follow in one of those that have kept the order so far.
//!
//! Invariant: only an over-approximation has siblings; it looks for no path, in which names would
//! matter.

use std::hash::{Hash, Hasher};
use std::ops::Range;

use room::{Plan, Room, Slot, SlotOwner, SourceId, SourceSettings, Stimulus};
use rustc_hash::FxHasher;

use super::bus::DEPTH;
use super::event::{Event, Order, Turn};
use super::instant::Instant;
use super::question::{Goal, Question, Rigor};
use super::state::Flight;
use super::{Model, State, count};
use crate::slice::symmetric;
use crate::zone::{Timer, Zone};

/// One of several sources that can be exchanged.
#[derive(Clone, Debug, Eq, PartialEq)]
pub(super) struct Sibling {
    source: SourceId,
    /// The timers about it, of its own and of those that hear it: in the same order for each.
    slots: Range<Timer>,
    /// The timers of its frames on their way.
    flights: Range<Timer>,
}

impl Sibling {
    fn new(id: SourceId, plan: &Plan, room: &Room, first_flight: Timer) -> Self {
        let is_about = |owner: &SlotOwner| source_of(*owner, plan) == Some(id);
        let owners = room.slots().owners();
        let first = owners.iter().position(is_about).unwrap_or(0);
        let slots = owners[first..].iter().take_while(|it| is_about(it)).count();
        let ways = |sources: &[room::PlanSource]| -> usize {
            sources.iter().map(|it| it.listeners.len() * DEPTH).sum()
        };
        let at = usize::from(id.0);
        let flights = first_flight + count(ways(&plan.sources[..at]));
        Self {
            source: id,
            slots: count(first)..count(first + slots),
            flights: flights..flights + count(ways(&plan.sources[at..=at])),
        }
    }

    /// Which of the timers about it, or of its frames, a timer is.
    fn place(&self, timer: Timer) -> Option<Timer> {
        let own = self.slots.end - self.slots.start;
        if self.slots.contains(&timer) {
            Some(timer - self.slots.start)
        } else if self.flights.contains(&timer) {
            Some(timer - self.flights.start + own)
        } else {
            None
        }
    }

    /// The timer that is this one of those about it.
    fn timer(&self, place: Timer) -> Timer {
        let own = self.slots.end - self.slots.start;
        match place.checked_sub(own) {
            Some(place) => self.flights.start + place,
            None => self.slots.start + place,
        }
    }
}

/// The source that a timer is about.
fn source_of(owner: SlotOwner, plan: &Plan) -> Option<SourceId> {
    use device::controller::Timer as Of;
    let (id, heard) = match owner {
        SlotOwner::Source(id, _) => return Some(id),
        SlotOwner::Controller(id, Of::Silence(heard)) => (id, heard),
        SlotOwner::Controller(id, Of::RunOn(link)) => {
            let settings = &plan.controllers[usize::from(id.0)].settings;
            (id, settings.links[usize::from(link)].heard)
        }
        _ => return None,
    };
    Some(plan.controllers[usize::from(id.0)].heard[usize::from(heard)])
}

/// The sources of a question that can be exchanged, in groups.
pub(super) fn siblings(question: &Question, room: &Room, first_flight: Timer) -> Vec<Vec<Sibling>> {
    let plan = &question.plan;
    let is_flawed = plan.controllers.iter().any(|it| it.settings.flaw.is_some());
    let faults = &question.faults;
    // What has been put to the test is remembered part by part.
    if question.rigor == Rigor::Exact
        || question.goal == Goal::Exercised
        || !question.apart
        || is_flawed
        || faults.cuts > 0
        || !faults.dead.is_empty()
    {
        return Vec::new();
    }
    let is_sensor = |id: &SourceId| {
        let settings = &plan.sources[usize::from(id.0)].settings;
        matches!(settings, SourceSettings::Occupancy(_))
    };
    let groups = symmetric(plan).into_iter();
    let alike = groups.filter(|group| {
        group.iter().all(is_sensor)
            && group
                .iter()
                .all(|it| asked(question, *it) == asked(question, group[0]))
    });
    // More than four in a group, or in several groups, have too many ways to change places.
    let mut ways = 1;
    let siblings = alike.filter_map(|group| {
        let few = group.len().min(MOST);
        ways *= (1..=few).product::<usize>();
        (ways <= MOST_WAYS).then(|| group.into_iter().take(few))
    });
    let siblings = siblings.map(|each| {
        each.map(|id| Sibling::new(id, plan, room, first_flight))
            .collect()
    });
    siblings.collect()
}

/// The most siblings of a group.
const MOST: usize = 4;

/// The most ways in which siblings may change places.
const MOST_WAYS: usize = 24;

/// What a question says of a source by its name.
fn asked(question: &Question, id: SourceId) -> impl Eq + use<> {
    let of_it = question.stimuli.iter().filter(|(source, _)| *source == id);
    let stimuli: Vec<Stimulus> = of_it.map(|(_, stimulus)| *stimulus).collect();
    let delays = question.delays.iter().filter(|(source, ..)| *source == id);
    let mut delays: Vec<_> = delays
        .map(|(_, to, between)| (*to, between.least, between.most))
        .collect();
    delays.sort_unstable();
    let named = [
        &question.remembered,
        &question.free_reports,
        &question.prompt,
        &question.light_units,
        &question.seen_presses,
    ];
    (stimuli, delays, named.map(|it| it.contains(&id)))
}

/// The ways in which siblings may have changed places; in the first, none has.
pub(super) fn exchanges(siblings: &[Vec<Sibling>]) -> Vec<Exchange> {
    let mut all = vec![Exchange::default()];
    for group in siblings {
        let orders = orders((0..group.len()).collect());
        let with = |so_far: &Exchange, order: &[usize]| {
            let turns = order.iter().map(|turn| group[*turn].clone());
            let pairs = group.iter().cloned().zip(turns);
            Exchange(so_far.0.iter().cloned().chain(pairs).collect())
        };
        let each = all
            .iter()
            .flat_map(|so_far| orders.iter().map(move |order| with(so_far, order)));
        all = each.collect();
    }
    all
}

/// Of some sources, each with the one whose turn it takes.
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub(super) struct Exchange(Vec<(Sibling, Sibling)>);

impl Exchange {
    /// The source itself and the one whose turn it takes.
    fn of(&self, source: SourceId) -> Option<&(Sibling, Sibling)> {
        self.0.iter().find(|(of, _)| of.source == source)
    }
}

impl Model {
    /// Whether no two sources can be exchanged.
    pub(super) fn is_alone(&self) -> bool {
        self.exchanges.len() < 2
    }

    /// Every exchange, before anything has happened; none where there is only one.
    pub(super) fn first_turns(&self) -> Vec<Turn> {
        if self.is_alone() {
            return Vec::new();
        }
        let numbers = 0..=u8::MAX;
        let turns = numbers.zip(&self.exchanges).map(|(exchange, _)| Turn {
            exchange,
            ..Turn::FIRST
        });
        turns.collect()
    }

    /// Siblings keep their places and their turns from now on, as where a path is to tell what
    /// happens at which of them.
    pub fn keep_places(&mut self) {
        self.siblings.clear();
        self.exchanges.truncate(1);
    }

    /// The source whose turn a source takes in an exchange.
    pub(super) fn source_in(&self, exchange: u8, source: SourceId) -> SourceId {
        let of_it = self.exchanges[usize::from(exchange)].of(source);
        of_it.map_or(source, |(_, turn)| turn.source)
    }

    /// The order of an event where siblings take the turns of an exchange; `order` is its own.
    pub(super) fn order_in(
        &self,
        exchange: u8,
        moment: &Instant,
        (order, event): (Order, &Event),
    ) -> Order {
        let source = match *event {
            Event::Arrive(place) => Some(moment.state.flights[place].source),
            Event::Stimulus(source, _) | Event::Report(source, _) => Some(source),
            Event::Elapse(slot) => source_of(self.owner(slot), &self.question.plan),
            _ => None,
        };
        let exchange = &self.exchanges[usize::from(exchange)];
        let Some((own, turn)) = source.and_then(|it| exchange.of(it)) else {
            return order;
        };
        match *event {
            Event::Elapse(slot) | Event::Report(_, slot) => {
                let place = own.place(slot.0).expect("a timer about the source");
                self.order_of_slot(Slot(turn.timer(place)))
            }
            Event::Stimulus(_, stimulus) => self.order_of_stimulus(turn.source, stimulus),
            _ => order.of_frame_from(turn.source),
        }
    }

    /// The sources of which only one order is looked at, in groups.
    #[must_use]
    pub fn exchangeable(&self) -> Vec<Vec<SourceId>> {
        let of_group = |group: &Vec<Sibling>| group.iter().map(|it| it.source).collect();
        self.siblings.iter().map(of_group).collect()
    }

    /// The model in which siblings keep their places; they still take each other's turns.
    #[must_use]
    pub fn told_apart(mut self) -> Self {
        self.siblings.clear();
        self
    }

    /// The states that one stands for, with what remains in each: its siblings in every order.
    #[must_use]
    pub fn stood_for(&self, state: &State, zone: &Zone) -> Vec<(State, Zone)> {
        let mut all = vec![(state.clone(), zone.clone())];
        for group in &self.siblings {
            let orders = orders((0..group.len()).collect());
            let each = all.iter().flat_map(|(state, zone)| {
                orders
                    .iter()
                    .map(|from| self.rearranged(state.clone(), zone, group, from))
            });
            all = each.collect();
        }
        all
    }

    /// The state with its siblings in order, and what remains in it.
    pub(super) fn in_order(&self, state: State, zone: Zone) -> (State, Zone) {
        self.siblings
            .iter()
            .fold((state, zone), |(state, zone), group| {
                let mut from: Vec<usize> = (0..group.len()).collect();
                from.sort_by_cached_key(|it| stands(&state, &zone, &group[*it]));
                match from.is_sorted() {
                    true => (state, zone),
                    false => self.rearranged(state, &zone, group, &from),
                }
            })
    }
}

/// Every order of some places.
fn orders(places: Vec<usize>) -> Vec<Vec<usize>> {
    if places.is_empty() {
        return vec![Vec::new()];
    }
    let first = places.iter().flat_map(|first| {
        let others = places.iter().copied().filter(|it| it != first).collect();
        let rest = orders(others).into_iter();
        rest.map(|rest| [vec![*first], rest].concat())
    });
    first.collect()
}

/// How a sibling stands, whichever it is: a number that equals for two that stand alike.
fn stands(state: &State, zone: &Zone, sibling: &Sibling) -> u64 {
    let mut hasher = FxHasher::default();
    state.room.hash_source(sibling.source, &mut hasher);
    (state.last == Some(sibling.source)).hash(&mut hasher);
    let of_it = |flight: &&Flight| flight.source == sibling.source;
    for flight in state.flights.iter().filter(of_it) {
        (flight.listener, flight.payload).hash(&mut hasher);
    }
    let roots = state.origins.iter().map(|(_, origin)| *origin);
    for root in roots.chain(state.flights.iter().map(|it| it.origin)) {
        root.is_of(sibling.source).hash(&mut hasher);
    }
    let places = zone.timers().iter().filter_map(|it| sibling.place(*it));
    places.for_each(|place| place.hash(&mut hasher));
    hasher.finish()
}

impl Model {
    /// The state in which the sibling at each place stands as that at the place that `from` says.
    fn rearranged(
        &self,
        mut state: State,
        zone: &Zone,
        group: &[Sibling],
        from: &[usize],
    ) -> (State, Zone) {
        let mut to = vec![0; from.len()];
        for (place, &was) in from.iter().enumerate() {
            to[was] = place;
        }
        let source = |id: SourceId| {
            let was = group.iter().position(|it| it.source == id);
            was.map_or(id, |was| group[to[was]].source)
        };
        let timer = |timer: Timer| {
            let was = group
                .iter()
                .enumerate()
                .find_map(|(was, it)| Some((was, it.place(timer)?)));
            was.map_or(timer, |(was, place)| group[to[was]].timer(place))
        };
        // The sources themselves change places two by two.
        let mut stand: Vec<usize> = (0..from.len()).collect();
        for (place, was) in from.iter().enumerate() {
            let at = stand.iter().position(|it| it == was);
            let at = at.expect("each stands somewhere");
            if at != place {
                let root = |origin| self.root(origin);
                let (one, other) = (group[place].source, group[at].source);
                state.room.exchange(one, other, root);
                for (_, origin) in &mut state.origins {
                    *origin = self.root(origin.exchanged(one, other));
                }
                for flight in &mut state.flights {
                    flight.origin = self.root(flight.origin.exchanged(one, other));
                }
                stand.swap(place, at);
            }
        }
        for (of, _) in &mut state.origins {
            *of = timer(*of);
        }
        state.origins.sort_unstable_by_key(|(timer, _)| *timer);
        for flight in &mut state.flights {
            flight.timer = timer(flight.timer);
            flight.source = source(flight.source);
        }
        state
            .flights
            .sort_by_key(|flight| (flight.source, flight.listener));
        state.last = state.last.map(source);
        (state, zone.renamed(timer))
    }
}
