//! One instant: everything that happens in it, in every way that it may.

use std::cell::Cell;
use std::rc::Rc;

use device::Span;
use device::controller::Pretence;
use room::{Input, Origin, Room, Signs, Slot, SourceId, SourceSettings, Stimulus};

use super::Model;
use super::alike::Seen;
use super::clock::Symbolic;
use super::event::{Event, Order, Turn};
use super::levels::Case;
use super::question::{Between, Calendar};
use super::state::{Flight, State};
use crate::path::{Happening, PathStep};
use crate::zone::{Timer, Zone, span_ms};

/// A state class that may follow.
#[derive(Clone, Debug)]
pub struct Next {
    /// Its discrete half.
    pub state: State,
    /// What may remain, 1 ms or later from the instant on.
    pub zone: Zone,
    /// Whether this is what is looked for.
    pub found: bool,
    /// How much came from outside.
    pub cost: u32,
    /// What happened, if it is kept.
    pub step: PathStep,
}

/// What is kept of what happens.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Keep {
    /// Nothing, as in an exploration.
    Nothing,
    /// What comes from outside, step by step as an exploration goes.
    Story,
    /// That and what becomes of each timer. The timers of frames keep their names then, and nothing
    /// is one that has happened in two orders: an over-approximation may have more steps so.
    Path,
}

/// An instant that is not over.
#[derive(Clone, Debug)]
pub(super) struct Instant {
    pub(super) state: State,
    pub(super) zone: Zone,
    /// The last event of the instant.
    pub(super) order: Order,
    /// Whether the run begins in what is being handled.
    pub(super) begins: bool,
    /// The turns that siblings may have taken so far; none where there are no siblings.
    pub(super) turns: Vec<Turn>,
    /// How many events happened so far.
    pub(super) events: u32,
    /// Whether a clause saw one of them.
    pub(super) loud: bool,
    pub(super) signs: Vec<Signs>,
    /// How much each stimulus of the instant is later than it truly was.
    pub(super) shifts: Vec<Span>,
    pub(super) fresh: Vec<(Slot, Span)>,
    /// The timers started at it with what they were started with, where clocks may be off.
    pub(super) paced: Vec<(Slot, Span)>,
    /// What may remain on the levels on their way at this instant, once somebody has looked: the
    /// cases that led here. All of them have it alike.
    pub(super) cases: Option<Rc<[Case]>>,
    pub(super) cost: u32,
    pub(super) step: Option<PathStep>,
    /// What came from outside, if it is kept.
    pub(super) story: Option<Vec<Happening>>,
}

impl Instant {
    /// An instant in which nothing has happened.
    pub(super) fn new(state: State, zone: Zone, keep: Keep) -> Self {
        Self {
            state,
            zone,
            order: Order::FIRST,
            begins: false,
            turns: Vec::new(),
            events: 0,
            loud: false,
            signs: Vec::new(),
            shifts: Vec::new(),
            fresh: Vec::new(),
            paced: Vec::new(),
            cases: None,
            cost: 0,
            step: (keep == Keep::Path).then(PathStep::default),
            story: (keep != Keep::Nothing).then(Vec::new),
        }
    }

    /// Whether nothing has happened yet.
    pub(super) fn is_fresh(&self) -> bool {
        self.events == 0
    }

    pub(super) fn happens(&mut self, happening: Happening) {
        if let Some(story) = &mut self.story {
            story.push(happening);
        }
    }

    pub(super) fn fired(&mut self, timer: Timer) {
        self.zone.stop(timer);
        self.fresh.retain(|(slot, _)| slot.0 != timer);
        if let Some(step) = &mut self.step {
            // What starts and elapses within an instant holds up nothing.
            match step.started.iter().rposition(|(it, ..)| *it == timer) {
                Some(place) => drop(step.started.remove(place)),
                None => step.fired.push(timer),
            }
        }
    }

    /// The frames behind one that has arrived move up, so that equal rooms are equal states. A
    /// path that is kept needs none of it.
    pub(super) fn close_ranks(&mut self, gone: &Flight) {
        if self.step.is_some() {
            return;
        }
        let mut free = gone.timer;
        let way = |it: &&mut Flight| (it.source, it.listener) == (gone.source, gone.listener);
        for flight in self.state.flights.iter_mut().filter(way) {
            self.zone.rename(flight.timer, free);
            std::mem::swap(&mut flight.timer, &mut free);
        }
    }

    pub(super) fn start_timer(&mut self, model: &Model, timer: Timer, span: Span) {
        let between = Between {
            least: span,
            most: span,
        };
        self.start_flight(model, timer, between);
    }

    pub(super) fn start_flight(&mut self, model: &Model, timer: Timer, span: Between) {
        let (_, mut clock) = model.parts(self, Origin::Start);
        clock.begin(timer, span.least, span.most);
    }
}

impl Model {
    /// The classes that the run may begin in: before anything has happened, at 0 ms.
    pub fn begin(&self, keep: Keep, visit: &mut impl FnMut(Next)) {
        let mut moment = self.moment(self.first_state(), Zone::new(), keep);
        moment.begins = true;
        let (room, mut clock) = self.parts(&mut moment, Origin::Start);
        room.start(&mut clock);
        let (sent, due) = (clock.sent, clock.due);
        let mut moments = self.carry(moment, &sent, Origin::Start);
        for slot in due {
            let elapses = |moment| self.handle(moment, Origin::Start, Input::Elapsed(slot));
            moments = moments.into_iter().flat_map(elapses).collect();
        }
        for moment in moments {
            for mut moment in self.starts_of_calendars(moment) {
                moment.begins = false;
                moment.signs = self.signs(&moment.state.room);
                self.close(moment.clone(), visit);
                self.extend(&moment, &mut Seen::default(), visit);
            }
        }
    }

    /// The room before anything has happened.
    pub(super) fn first_state(&self) -> State {
        let question = &self.question;
        State {
            room: Room::new(question.plan.clone()),
            origins: Vec::new(),
            flights: Vec::new(),
            late: false,
            finger: None,
            followed: self.nothing_followed(),
            last: None,
            calendars: vec![0; question.calendars.len()],
            lose: question.faults.lose,
            cuts: question.faults.cuts,
            dark: Vec::new(),
        }
    }

    /// Any moment of the week may be the next to come, at any time before it.
    fn starts_of_calendars(&self, moment: Instant) -> Vec<Instant> {
        let mut moments = vec![moment];
        for (place, calendar) in self.question.calendars.iter().enumerate() {
            let mut all = Vec::new();
            for moment in moments {
                for (number, _) in (0..).zip(&calendar.moments) {
                    let longest = calendar.moments.iter().flat_map(|it| &it.next);
                    let longest = longest
                        .filter(|(to, _)| *to == number)
                        .map(|(_, span)| *span)
                        .max();
                    let mut moment = moment.clone();
                    moment.state.calendars[place] = number;
                    let late = self.lateness(calendar.clock);
                    let between = Between {
                        least: Span::from_ms(1).plus(late),
                        most: longest.unwrap_or(Span::from_hours(24)).plus(late),
                    };
                    if !self.question.loose_calendars {
                        moment.start_flight(self, self.calendar_timer(place), between);
                    }
                    all.extend(self.show(moment, calendar, usize::from(number)));
                }
            }
            moments = all;
        }
        moments
    }

    /// The clock shows hours or none from the start, as the calendar has it.
    fn show(&self, moment: Instant, calendar: &Calendar, number: usize) -> Vec<Instant> {
        let in_hours = calendar.moments[number].in_hours;
        let settings = &self.question.plan.sources[usize::from(calendar.clock.0)].settings;
        let starts_so = match settings {
            SourceSettings::Clock(settings) => settings.starts_in_hours == in_hours,
            _ => true,
        };
        if starts_so {
            return vec![moment];
        }
        let input = Input::Stimulus(calendar.clock, Stimulus::ClockSet { in_hours });
        self.handle(moment, Origin::Start, input)
    }

    /// The classes that may follow one, in a fixed order.
    pub fn next(&self, state: &State, zone: &Zone, keep: Keep, visit: &mut impl FnMut(Next)) {
        if self.heeded.get().is_none() {
            self.heeded.set(self.heeded_report(state, zone));
        }
        let mut moment = self.moment(state.clone(), zone.clone(), keep);
        moment.signs = self.signs(&state.room);
        self.extend(&moment, &mut Seen::default(), visit);
    }

    /// An instant in which nothing has happened, and siblings may take any turns.
    fn moment(&self, state: State, zone: Zone, keep: Keep) -> Instant {
        let mut moment = Instant::new(state, zone, keep);
        moment.turns = self.first_turns();
        moment
    }

    /// Lets one more thing happen in an instant.
    fn extend(&self, moment: &Instant, seen: &mut Seen, visit: &mut impl FnMut(Next)) {
        for (order, event) in self.events(moment) {
            let Some(mut ready) = self.ready(moment, order, event) else {
                continue;
            };
            if !ready.turns.is_empty() {
                ready.turns = self.turns(moment, order, event).collect();
            }
            if self.is_overtaken(&ready.zone, order) {
                continue;
            }
            for mut after in self.perform(ready, event) {
                if seen.is_too_much(&after) {
                    return self
                        .trouble("an instant in which too much may happen in too many orders");
                }
                // A frame that took no time came after what it was sent by.
                after.order = order.max(moment.order);
                after.events += 1;
                after.shifts.extend(self.shift(&event));
                let signs = self.signs(&after.state.room);
                let quiet = signs == moment.signs && !self.is_heard(event);
                after.loud |= !quiet;
                let events = signs.iter().map(|it| it.events);
                if !events.eq(moment.signs.iter().map(|it| it.events)) {
                    after.state.last = self.remembered(&event).or(after.state.last);
                }
                after.signs = signs;
                if self.is_owed(&after.zone, order) {
                    self.extend(&after, seen, visit);
                } else if self.is_over() && !after.loud {
                    // What no clause sees may as well happen at an instant of its own, before
                    // whatever else there is at that moment.
                    self.close(after, visit);
                } else if !self.is_over() {
                    self.close(after.clone(), visit);
                    self.extend(&after, seen, visit);
                } else if self.is_alone() || seen.is_new(&after) {
                    self.extend(&after, seen, visit);
                    self.close(after, visit);
                }
            }
        }
    }

    /// The source of an event, if it is one of those of which the last is kept in mind.
    fn remembered(&self, event: &Event) -> Option<SourceId> {
        let (Event::Stimulus(source, _) | Event::Finger(source, _, true)) = *event else {
            return None;
        };
        Some(source).filter(|source| self.question.remembered.contains(source))
    }

    /// Whether a clause hears of an event whatever comes of it.
    fn is_heard(&self, event: Event) -> bool {
        match event {
            Event::Elapse(slot) => self.slots[usize::from(slot.0)] == super::Kind::Clause,
            Event::Look | Event::Cross(_) => true,
            _ => false,
        }
    }

    /// The moment at which an event happens, if there is one.
    fn ready(&self, moment: &Instant, order: Order, event: Event) -> Option<Instant> {
        let mut ready = moment.clone();
        ready.order = order;
        let timer = match event {
            Event::Arrive(place) => Some(ready.state.flights[place].timer),
            Event::Calendar(place) => {
                Some(self.calendar_timer(place)).filter(|_| !self.question.loose_calendars)
            }
            Event::Elapse(slot) => Some(slot.0),
            Event::MayReturn(place) => Some(self.cut_timer(place)),
            Event::Cross(place) => Some(self.crossings[place].timer),
            _ => None,
        };
        if let Some(timer) = timer
            && !ready.zone.exactly(timer, 0)
        {
            return None;
        }
        if !self.is_over() {
            // What is due and goes before this has happened already.
            let others: Vec<Timer> = ready.zone.timers().to_vec();
            for other in others {
                if Some(other) != timer
                    && self.order_of(&ready.state, other) < order
                    && !ready.zone.at_least(other, 1)
                {
                    return None;
                }
            }
        }
        Some(ready)
    }

    /// Lets an event happen, in every way.
    fn perform(&self, mut moment: Instant, event: Event) -> Vec<Instant> {
        match event {
            Event::Cut(place) => self.cut(moment, place),
            Event::Return(place) => self.restore(moment, place),
            Event::MayReturn(place) => {
                moment.fired(self.cut_timer(place));
                let victim = self.victims[place];
                for (it, may_return) in &mut moment.state.dark {
                    *may_return |= *it == victim;
                }
                vec![moment]
            }
            Event::Die(source) => self.die(moment, source),
            Event::Arrive(place) => self.arrive(moment, place),
            Event::Finger(source, button, down) => self.finger(moment, source, button, down),
            Event::Stimulus(source, stimulus) => {
                moment.state.follow(source);
                self.take(moment, Input::Stimulus(source, stimulus))
            }
            Event::Report(_, slot) => self.handle(moment, Origin::Start, Input::Elapsed(slot)),
            Event::Calendar(place) => self.calendar(moment, place),
            Event::Elapse(slot) => {
                let known = moment
                    .state
                    .origins
                    .iter()
                    .find(|(timer, _)| *timer == slot.0);
                let origin = known.map_or(Origin::Start, |(_, origin)| *origin);
                moment.fired(slot.0);
                let (_, mut clock) = self.parts(&mut moment, origin);
                clock.lose_sight(slot);
                moment.state.origins.retain(|(timer, _)| *timer != slot.0);
                let repeated = self.root_of_repeat(slot).filter(|it| *it != origin);
                let repeated = repeated.map(|it| (moment.clone(), it));
                let each = std::iter::once((moment, origin)).chain(repeated);
                each.flat_map(|(moment, origin)| self.handle(moment, origin, Input::Elapsed(slot)))
                    .collect()
            }
            Event::Cross(place) => {
                moment.fired(self.crossings[place].timer);
                self.in_each_case(&moment)
            }
            // Wherever the levels on their way may stand. A run only looks by itself where one of
            // them passes a level that a clause compares it with; a clause that follows moves has
            // some told at any moment.
            Event::Look => {
                let mut cases = self.in_each_case(&moment);
                if !self.is_over() || !self.question.follows_levels {
                    cases.retain_mut(|moment| {
                        let (room, clock) = self.parts(moment, Origin::Start);
                        room.has_crossed(&clock)
                    });
                }
                cases
            }
        }
    }

    /// Lets the room take an input, in every case of the levels that are on their way.
    pub(super) fn handle(&self, moment: Instant, origin: Origin, input: Input) -> Vec<Instant> {
        let Some(lights) = self.lights(&input) else {
            return self.handle_known(moment, origin, input);
        };
        let each = lights.into_iter();
        each.flat_map(|light| self.handle_in(light, moment.clone(), origin, &input))
            .collect()
    }

    /// The same, with what light a sensor sees.
    pub(super) fn handle_known(
        &self,
        moment: Instant,
        origin: Origin,
        input: Input,
    ) -> Vec<Instant> {
        if !self.asks_ghosts(&input) {
            return self.in_cases(moment, |moment| self.react(moment, origin, &input));
        }
        let mut all = Vec::new();
        for moment in self.pretending(moment, &input) {
            for mut after in self.in_cases(moment, |moment| self.react(moment, origin, &input)) {
                for &ghost in &self.question.ghosts {
                    let (room, mut clock) = self.parts(&mut after, origin);
                    room.pretend(ghost, Pretence::Rest, &input, &mut clock);
                }
                all.push(after);
            }
        }
        all
    }

    /// Does something with the room, in every case of the levels that are on their way if it
    /// asks where they stand. All of one instant sees the same case.
    pub(super) fn in_cases(
        &self,
        moment: Instant,
        act: impl Fn(Instant) -> (Vec<Instant>, bool),
    ) -> Vec<Instant> {
        let is_open = match &moment.cases {
            Some(cases) => cases.len() > 1,
            None => self.old_ways(&moment).next().is_some(),
        };
        if !is_open {
            return act(moment).0;
        }
        let (unseen, asked) = act(moment.clone());
        if !asked {
            return unseen;
        }
        let cases = self.in_each_case(&moment);
        let after = cases.into_iter().flat_map(|moment| act(moment).0).collect();
        self.together(after)
    }

    /// The moment in each case of the levels that are on their way.
    fn in_each_case(&self, moment: &Instant) -> Vec<Instant> {
        // The zone is that of the case already, and some of its ways may be over by now.
        if moment.cases.is_some() && !self.is_over() {
            return vec![moment.clone()];
        }
        let cases = self.every_case(moment);
        let narrowed = cases.iter().filter_map(|case| {
            let mut moment = moment.clone();
            if !self.is_over() {
                for (slot, left) in case {
                    let ms = span_ms(*left).ok()?;
                    if !moment.zone.exactly(slot.0, ms) {
                        return None;
                    }
                    if let Some(step) = &mut moment.step {
                        step.remains.push((slot.0, ms));
                    }
                }
            }
            moment.cases = Some(Rc::new([case.clone()]));
            Some(moment)
        });
        narrowed.collect()
    }

    /// The cases of the levels that are on their way.
    pub(super) fn every_case(&self, moment: &Instant) -> Rc<[Case]> {
        if let Some(cases) = &moment.cases {
            return Rc::clone(cases);
        }
        let mut scratch = moment.clone();
        let slots: Vec<Slot> = self.old_ways(moment).collect();
        let (_, clock) = self.parts(&mut scratch, Origin::Start);
        self.cases(moment, &slots, &clock).into()
    }

    /// What was last seen of a room is kept no finer than its clauses tell apart.
    pub(super) fn forget_sights(&self, room: &mut Room) {
        room.forget_sights(self.question.watches_levels);
        room.round_sights(self.question.follows_levels, |level| self.stands_for(level));
    }

    /// The levels on their way since before this instant.
    fn old_ways<'a>(&'a self, moment: &'a Instant) -> impl Iterator<Item = Slot> + 'a {
        let is_fresh = |slot: &Slot| moment.fresh.iter().any(|(it, _)| it == slot);
        self.ways(&moment.zone).filter(move |slot| !is_fresh(slot))
    }

    fn react(&self, mut moment: Instant, origin: Origin, input: &Input) -> (Vec<Instant>, bool) {
        let (room, mut clock) = self.parts(&mut moment, origin);
        room.handle(input.clone(), &mut clock);
        let (sent, due, asked) = (clock.sent, clock.due, clock.asked.get());
        let mut moments = self.carry(moment, &sent, origin);
        for slot in due {
            moments = moments
                .into_iter()
                .flat_map(|moment| self.handle(moment, origin, Input::Elapsed(slot)))
                .collect();
        }
        (moments, asked)
    }

    fn signs(&self, room: &Room) -> Vec<Signs> {
        (0..)
            .zip(&self.question.plan.clauses)
            .map(|(id, _)| room.signs(id))
            .collect()
    }

    /// The room of a moment, and its clock.
    pub(super) fn parts<'a>(
        &'a self,
        moment: &'a mut Instant,
        origin: Origin,
    ) -> (&'a mut Room, Symbolic<'a>) {
        let clock = Symbolic {
            model: self,
            zone: &mut moment.zone,
            origins: &mut moment.state.origins,
            fresh: &mut moment.fresh,
            case: match moment.cases.as_deref() {
                Some([case]) => Some(case),
                _ => None,
            },
            origin,
            among_timers: moment.order.is_among_timers(),
            begins: moment.begins,
            paced: &mut moment.paced,
            sent: Vec::new(),
            due: Vec::new(),
            asked: Cell::new(false),
            step: moment.step.as_mut(),
        };
        (&mut moment.state.room, clock)
    }
}
