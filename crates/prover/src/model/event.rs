//! What may happen at an instant.

use device::Span;
use room::{Device, Machine, Slot, SlotOwner, SourceId, SourceSettings, Stimulus};

use super::instant::Instant;
use super::state::{Flight, State, Victim};
use super::{Kind, Model};
use crate::zone::{Timer, Zone};

/// Something that happens at an instant.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) enum Event {
    /// The power of a victim is cut.
    Cut(usize),
    /// A cut may end from now on.
    MayReturn(usize),
    /// The power of a victim comes back.
    Return(usize),
    /// A source dies.
    Die(SourceId),
    /// The first frame of a way arrives: its place among the flights.
    Arrive(usize),
    /// A frame of a wall unit that no clause sees arrives: button down or up.
    Finger(SourceId, u8, bool),
    /// A source repeats what it believes.
    Report(SourceId, Slot),
    /// A stimulus.
    Stimulus(SourceId, Stimulus),
    /// Entries of a calendar fall due.
    Calendar(usize),
    /// A timer elapses.
    Elapse(Slot),
    /// Nothing, but a level on its way is looked at.
    Look,
    /// A level on its way passes one that a clause compares it with: its place among the
    /// crossings.
    Cross(usize),
}

/// The place of an event in the order of ORD-1.
#[derive(Clone, Copy, Debug, Default, Eq, Ord, PartialEq, PartialOrd)]
pub(super) struct Order(u8, u16, u16, u16);

/// An exchange of siblings that an instant may be in, and how far the instant is in it.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(super) struct Turn {
    /// The place of the exchange among all of them.
    pub(super) exchange: u8,
    /// The last event of the instant.
    pub(super) order: Order,
}

impl Turn {
    /// Each sibling takes its own turn, and nothing has happened.
    pub(super) const FIRST: Self = Self {
        exchange: 0,
        order: Order::FIRST,
    };
}

impl Order {
    /// Before everything.
    pub(super) const FIRST: Self = Self(0, 0, 0, 0);

    /// Whether the event was a timer that elapsed, or came after those.
    pub(super) fn is_among_timers(self) -> bool {
        self.0 >= 3 || self.3 >= PROMPT_TIMERS
    }

    /// Whether the event was a device timer that elapsed.
    pub(super) fn is_of_timers(self) -> bool {
        self.0 == 3
    }

    /// The order of a frame, were it of this source.
    pub(super) fn of_frame_from(self, source: SourceId) -> Self {
        Self(self.0, self.1, source.0, self.3)
    }

    /// Whether the event was a stimulus of this source.
    fn is_at(self, source: SourceId) -> bool {
        let prompt = (PROMPT..PROMPT_TIMERS).contains(&self.3);
        (self.0 == 2 && self.1 == source.0) || (self.0 == 1 && self.2 == source.0 && prompt)
    }
}

impl Model {
    /// What may happen at this instant, in order, after what has happened in it.
    pub(super) fn events(&self, moment: &Instant) -> Vec<(Order, Event)> {
        let state = &moment.state;
        let mut events = Vec::new();
        self.cuts(state, &moment.zone, &mut events);
        self.arrivals(state, &moment.zone, &mut events);
        self.fingers(state, &mut events);
        for &(source, stimulus) in &self.question.stimuli {
            if self.leads_to(state, source, stimulus) && self.may_happen(state, source, stimulus) {
                let order = self.order_of_stimulus(source, stimulus);
                events.push((order, Event::Stimulus(source, stimulus)));
            }
        }
        for &source in &self.question.free_reports {
            let slot = self.report_slot(&state.room, source);
            // Every report counts its interval anew: none follows another within the delay.
            let silent = !state.flights.iter().any(|flight| flight.source == source);
            let powered = state.room.source(source).is_powered();
            if let Some(slot) = slot.filter(|_| silent && powered) {
                events.push((self.order_of_slot(slot), Event::Report(source, slot)));
            }
        }
        for place in 0..self.question.calendars.len() {
            let clock = self.question.calendars[place].clock;
            // Entries are further apart than a frame takes.
            let loose = self.question.loose_calendars && !is_on_its_way(state, clock);
            let on_time = !self.question.loose_calendars
                && can_be_due(&moment.zone, self.calendar_timer(place));
            if loose || on_time {
                events.push((self.order_at(clock, 0), Event::Calendar(place)));
            }
        }
        for &timer in moment.zone.timers() {
            if timer < self.first_flight && can_be_due(&moment.zone, timer) {
                let order = self.order_of_slot(Slot(timer));
                events.push((order, Event::Elapse(Slot(timer))));
            }
        }
        for (place, crossing) in self.crossings.iter().enumerate() {
            let runs = moment.zone.is_running(crossing.timer);
            if runs && can_be_due(&moment.zone, crossing.timer) {
                events.push((self.order_of(state, crossing.timer), Event::Cross(place)));
            }
        }
        if moment.is_fresh() && self.may_look(&moment.zone) {
            events.push((Order(5, 0, 0, 0), Event::Look));
        }
        events.retain(|(order, event)| self.turns(moment, *order, *event).next().is_some());
        events.sort_by_key(|(order, _)| *order);
        events
    }

    /// The exchanges of siblings in which an event may come at this instant after what has come in
    /// it, each with the order up to which the instant is then.
    pub(super) fn turns(
        &self,
        moment: &Instant,
        own: Order,
        event: Event,
    ) -> impl Iterator<Item = Turn> {
        let alone = Turn {
            order: moment.order,
            ..Turn::FIRST
        };
        let alone = std::iter::once(alone).filter(|_| moment.turns.is_empty());
        alone
            .chain(moment.turns.iter().copied())
            .filter_map(move |turn| {
                let order = self.order_in(turn.exchange, moment, (own, &event));
                let follows = self.may_follow(moment, &turn, order, &event);
                follows.then(|| Turn {
                    order: order.max(turn.order),
                    ..turn
                })
            })
    }

    /// Whether an event may come at this instant after what has come in it.
    fn may_follow(&self, moment: &Instant, last: &Turn, order: Order, event: &Event) -> bool {
        // A frame that takes no time arrives whatever has happened in the instant.
        if let Event::Arrive(place) = *event
            && self.takes_no_time(&moment.state.flights[place])
        {
            return true;
        }
        if moment.state.late && moment.is_fresh() && order.0 < 3 {
            return false;
        }
        if self.question.apart
            && let Some(shift) = self.shift(event)
            && moment.shifts.contains(&shift)
        {
            return false;
        }
        match event {
            // The next frame of the same way.
            Event::Arrive(_) => order >= last.order,
            // One stimulus of a point at one instant, motion and sound apart.
            Event::Stimulus(source, stimulus) => {
                let source = self.source_in(last.exchange, *source);
                order > last.order && (!last.order.is_at(source) || *stimulus == Stimulus::Sound)
            }
            _ => order > last.order || moment.is_fresh(),
        }
    }

    /// Whether a frame may arrive at the instant at which it was sent.
    fn takes_no_time(&self, flight: &Flight) -> bool {
        self.delay(flight.source, flight.listener).least.is_zero()
    }

    /// How much later than it truly is the model has a stimulus: two that are a millisecond apart
    /// meet at one instant of the model when their sources are shifted unlike. `None` for what
    /// is no stimulus, or is shifted by nobody knows how much.
    pub(super) fn shift(&self, event: &Event) -> Option<Span> {
        let (source, light) = match *event {
            Event::Stimulus(source, _) => (source, false),
            Event::Finger(source, _, true) => {
                (source, !self.question.seen_presses.contains(&source))
            }
            _ => return None,
        };
        if !light {
            return Some(self.lateness(source));
        }
        let listeners = &self.question.plan.sources[usize::from(source.0)].listeners;
        let (listener, _) = listeners.first()?;
        Some(self.delay(source, *listener).most)
    }

    /// How much later the model has whatever happens at a source than it happens there.
    pub(super) fn lateness(&self, source: SourceId) -> Span {
        let plan = &self.question.plan;
        let is_prompt = self.question.prompt.contains(&source);
        let mut listeners = plan.sources[usize::from(source.0)].listeners.iter();
        let listener = listeners.next().filter(|_| is_prompt);
        listener.map_or(Span::ZERO, |(listener, _)| {
            self.delay(source, *listener).most
        })
    }

    /// Device timers go before the deadlines of clauses.
    fn phase(&self, slot: Slot) -> u8 {
        if self.slots[usize::from(slot.0)] == Kind::Clause {
            4
        } else {
            3
        }
    }

    /// The order of a running timer, were it due now.
    pub(super) fn order_of(&self, state: &State, timer: Timer) -> Order {
        if timer < self.first_flight {
            return self.order_of_slot(Slot(timer));
        }
        if let Some(flight) = state.flights.iter().find(|it| it.timer == timer) {
            let rank = self.question.plan.sources[usize::from(flight.source.0)].rank();
            return Order(1, rank.into(), flight.source.0, flight.listener.0);
        }
        if let Some(place) = self.crossings.iter().position(|it| it.timer == timer) {
            return Order(5, 1 + super::count(place), 0, 0);
        }
        if timer >= self.first_cut {
            return Order(0, timer - self.first_cut, 1, 0);
        }
        let place = usize::from(timer - self.first_calendar);
        self.order_at(self.question.calendars[place].clock, 0)
    }

    /// The order of what happens at a source: for a prompt one that of its frames.
    fn order_at(&self, source: SourceId, part: u16) -> Order {
        if self.question.prompt.contains(&source) {
            let rank = self.question.plan.sources[usize::from(source.0)].rank();
            return Order(1, rank.into(), source.0, PROMPT + part);
        }
        Order(2, source.0, part, 0)
    }

    /// The order of a stimulus.
    pub(super) fn order_of_stimulus(&self, source: SourceId, stimulus: Stimulus) -> Order {
        self.order_at(source, part(stimulus))
    }

    /// The order of a slot that elapses.
    pub(super) fn order_of_slot(&self, slot: Slot) -> Order {
        match self.owner(slot) {
            SlotOwner::Source(source, number) if self.question.prompt.contains(&source) => {
                self.order_at(source, PROMPT_TIMERS - PROMPT + u16::from(number))
            }
            _ => Order(self.phase(slot), slot.0, 0, 0),
        }
    }

    pub(super) fn calendar_timer(&self, place: usize) -> Timer {
        self.first_calendar + super::count(place)
    }

    pub(super) fn cut_timer(&self, place: usize) -> Timer {
        self.first_cut + super::count(place)
    }

    fn cuts(&self, state: &State, zone: &Zone, events: &mut Vec<(Order, Event)>) {
        for (place, victim) in self.victims.iter().enumerate() {
            let number = super::count(place);
            match state.dark.iter().find(|(it, _)| it == victim) {
                Some((_, false)) if can_be_due(zone, self.cut_timer(place)) => {
                    events.push((Order(0, number, 1, 0), Event::MayReturn(place)));
                }
                Some((_, true)) => events.push((Order(0, number, 2, 0), Event::Return(place))),
                None if state.cuts > 0
                    && self.may_be_cut(state, *victim)
                    && self.leads_to_cut(*victim) =>
                {
                    events.push((Order(0, number, 0, 0), Event::Cut(place)));
                }
                _ => {}
            }
        }
        // Also without power: then it has none when the others have it again.
        for source in &self.question.faults.dead {
            let victim = Victim::Dead(*source);
            if !state.is_dead(Device::Source(*source)) && self.leads_to_cut(victim) {
                events.push((Order(0, u16::MAX, source.0, 0), Event::Die(*source)));
            }
        }
    }

    fn may_be_cut(&self, state: &State, victim: Victim) -> bool {
        let is_dark = |victim: &Victim| state.dark.iter().any(|(it, _)| it == victim);
        match victim {
            Victim::Room => !self.victims.iter().any(is_dark),
            Victim::Device(device) => state.room.is_powered(device) && !is_dark(&Victim::Room),
            Victim::Dead(_) => false,
        }
    }

    fn arrivals(&self, state: &State, zone: &Zone, events: &mut Vec<(Order, Event)>) {
        for (place, flight) in state.flights.iter().enumerate() {
            let first = state.flights[..place]
                .iter()
                .all(|it| (it.source, it.listener) != (flight.source, flight.listener));
            if first && can_be_due(zone, flight.timer) {
                events.push((self.order_of(state, flight.timer), Event::Arrive(place)));
            }
        }
    }

    fn fingers(&self, state: &State, events: &mut Vec<(Order, Event)>) {
        for &(source, stimulus) in &self.question.stimuli {
            if !self.question.light_units.contains(&source) {
                continue;
            }
            let seen = self.question.seen_presses.contains(&source);
            let rank = self.question.plan.sources[usize::from(source.0)].rank();
            let frame = Order(1, rank.into(), source.0, 0);
            match stimulus {
                Stimulus::Press(button) if self.hands_are_free(state) => {
                    let order = if seen {
                        Order(2, source.0, part(stimulus), 0)
                    } else {
                        frame
                    };
                    events.push((order, Event::Finger(source, button, true)));
                }
                Stimulus::Release(button)
                    if state.finger == Some((source, button)) && !is_on_its_way(state, source) =>
                {
                    events.push((frame, Event::Finger(source, button, false)));
                }
                _ => {}
            }
        }
    }

    /// Whether a stimulus may come in this state: a finger leaves only a button that it is on,
    /// a card is pulled only when one is in, and a card or a signal changes again only when the
    /// room has heard of the change before.
    fn may_happen(&self, state: &State, source: SourceId, stimulus: Stimulus) -> bool {
        if self.question.light_units.contains(&source) {
            return false;
        }
        // Nothing happens at a prompt source before what it said as the run began is heard.
        if self.question.prompt.contains(&source) && is_on_its_way(state, source) {
            return false;
        }
        match (state.room.source(source).machine(), stimulus) {
            (Machine::Switch(unit), Stimulus::Press(button)) => {
                !unit.is_down(button) && (!self.question.one_hand || self.hands_are_free(state))
            }
            (Machine::Switch(unit), Stimulus::Release(button)) => unit.is_down(button),
            (Machine::Card(reader), Stimulus::CardOut) => {
                reader.is_full() && !is_on_its_way(state, source)
            }
            (Machine::Card(reader), Stimulus::CardIn { .. }) => {
                !reader.is_full() && !is_on_its_way(state, source)
            }
            (Machine::Signal(signal), Stimulus::Signal(on)) => {
                signal.is_on() != on && !is_on_its_way(state, source)
            }
            (Machine::Signal(signal), Stimulus::ShedEnd) => {
                signal.is_on() && !is_on_its_way(state, source)
            }
            (Machine::Signal(signal), Stimulus::Shed(_)) => {
                !signal.is_on() && !is_on_its_way(state, source)
            }
            _ => true,
        }
    }

    /// Whether no button is down or on its way, at the units and at the controllers.
    fn hands_are_free(&self, state: &State) -> bool {
        let plan = &self.question.plan;
        let is_unit = |id: SourceId| {
            matches!(
                plan.sources[usize::from(id.0)].settings,
                SourceSettings::Switch(_)
            )
        };
        state.finger.is_none()
            && state.room.is_untouched()
            && !state.flights.iter().any(|flight| is_unit(flight.source))
    }
}

/// Where the parts of prompt sources begin in an order, after the listeners of frames.
const PROMPT: u16 = 1 << 12;

/// Where the timers of prompt sources begin.
const PROMPT_TIMERS: u16 = 1 << 13;

/// Whether a frame of a source is on its way.
fn is_on_its_way(state: &State, source: SourceId) -> bool {
    state.flights.iter().any(|flight| flight.source == source)
}

/// Whether a running timer may be due at this instant.
pub(super) fn can_be_due(zone: &Zone, timer: Timer) -> bool {
    zone.least(timer) <= 0
}

/// The order of several stimuli of one source at one instant, as the numeric clock has it.
fn part(stimulus: Stimulus) -> u16 {
    match stimulus {
        Stimulus::Motion => 0,
        Stimulus::Sound => 1,
        Stimulus::Release(button) => 16 + 2 * u16::from(button),
        Stimulus::Press(button) => 17 + 2 * u16::from(button),
        _ => 2,
    }
}
