//! Random runs of a room under the numeric clock, within what a proof takes for granted.
//!
//! What happens is drawn towards the timers that run and the frames on their way: to the very
//! instant at which one is due, and a millisecond beside it.

use std::sync::Arc;

use clause::Verdict;
use device::Span;
use proof::Terms;
use room::{
    ControllerId, Device, Input, Machine, Plan, PlanClause, SourceId, SourceSettings, Stimulus,
};
use scenario::room_file::RoomFile;
use scenario::script::civil::Civil;
use sim::{
    Coming, Drift, Impairment, Instant, LinkFault, Pace, Quality, Recorder, Share, Simulation,
};

use crate::dice::Dice;

/// What is seen of a run: the verdict on each clause, and how it came to that.
#[derive(Debug)]
pub(crate) struct Seen {
    pub(crate) verdicts: Vec<Verdict>,
    /// What happened, in words for the report of a disagreement.
    pub(crate) story: Vec<String>,
    pub(crate) steps: usize,
}

/// A run in which random things happen.
struct Walk<'a, R: Recorder> {
    room: &'a RoomFile,
    terms: &'a Terms,
    dice: &'a mut Dice,
    sim: Simulation<R>,
    /// What may happen besides, of which no proof speaks.
    more: &'a [Input],
    stimuli: Vec<(SourceId, Stimulus)>,
    /// Entries of calendars that are still to come, the first last.
    due: Vec<(Instant, SourceId, device::clock::Entry)>,
    lose: u8,
    cuts: u8,
    /// Devices without power, and from when they may have it again.
    dark: Vec<(Vec<Device>, Instant)>,
    dead: Vec<SourceId>,
    /// The instant of the last stimulus.
    last: Option<Instant>,
    /// The instant of the last one that what may come next depends on.
    moved: Option<Instant>,
    story: Vec<String>,
}

/// A run of so many steps; it ends early where something breaks or an assumption does. Whatever
/// is among `more` happens now and then as well.
pub(crate) fn walk<R: Recorder>(
    room: &RoomFile,
    terms: &Terms,
    dice: &mut Dice,
    (steps, more): (usize, &[Input]),
) -> (Seen, R) {
    let own = room.plan.clauses.len();
    let (sim, due) = simulation(room, terms, dice);
    let mut walk = Walk {
        room,
        terms,
        stimuli: stimuli(&room.plan),
        sim,
        more,
        due,
        lose: terms.lose,
        cuts: terms.cuts,
        dark: Vec::new(),
        dead: Vec::new(),
        last: None,
        moved: None,
        story: Vec::new(),
        dice,
    };
    walk.clocks_run_as_they_like();
    if let Some(light) = terms.daylight {
        walk.give(Instant::START, Input::Daylight(light));
    }
    let mut taken = 0;
    for _ in 0..steps {
        taken += 1;
        walk.step();
        let verdicts: Vec<Verdict> = walk.sim.room().verdicts().collect();
        if verdicts[own..].contains(&Verdict::Broken) {
            // What follows a broken assumption was never spoken of.
            return walk.seen(0, taken);
        }
        let is_over = |it: &Verdict| *it == Verdict::Broken;
        if own > 0 && verdicts[..own].iter().all(is_over) {
            break;
        }
    }
    walk.seen(own, taken)
}

type Entries = Vec<(Instant, SourceId, device::clock::Entry)>;

fn simulation<R: Recorder>(
    room: &RoomFile,
    terms: &Terms,
    dice: &mut Dice,
) -> (Simulation<R>, Entries) {
    let mut plan = Plan::clone(&room.plan);
    let taken = room.assumptions.iter().chain(&terms.assume);
    plan.clauses.extend(taken.map(|it| PlanClause {
        id: it.id.clone(),
        formula: it.formula.clone(),
    }));
    let day = jiff::civil::date(2026, 1 + dice.below(11) as i8, 1 + dice.below(28) as i8);
    let hour = dice.one(&[0, 7, 8, 9, 12, 17, 21, 22]);
    let minute = dice.one(&[0, 0, 29, 30, 59]);
    let begin = day.at(hour, minute, dice.one(&[0, 1, 30]), 0);
    let mut due = Entries::new();
    for (clock, calendar) in &room.calendars {
        let source = &mut plan.sources[usize::from(clock.0)];
        if let SourceSettings::Clock(settings) = &mut source.settings {
            settings.starts_in_hours = calendar.in_hours(begin);
        }
        let Ok(civil) = Civil::new(&room.zone, begin) else {
            continue;
        };
        let end = Instant::START.after(Span::from_hours(24 * 20));
        let entries = calendar.entries(&civil, &[], end);
        due.extend(entries.into_iter().map(|(at, entry)| (at, *clock, entry)));
    }
    due.sort_unstable_by(|one, other| other.cmp(one));
    let quality = |source, listener| {
        let known = room.quality.get(&(source, listener));
        known.copied().unwrap_or_else(Quality::default)
    };
    let seed = dice.below(1 << 30) as u64;
    (Simulation::new(Arc::new(plan), seed, quality), due)
}

/// What may happen at the sources of a room, but for entries of calendars.
fn stimuli(plan: &Plan) -> Vec<(SourceId, Stimulus)> {
    let mut all = Vec::new();
    for (id, source) in (0..).map(SourceId).zip(&plan.sources) {
        let of_it: Vec<Stimulus> = match &source.settings {
            SourceSettings::Occupancy(it) if it.sound => vec![
                Stimulus::Motion,
                Stimulus::Motion,
                Stimulus::Sound,
                Stimulus::Sound,
            ],
            SourceSettings::Occupancy(_) => vec![Stimulus::Motion; 2],
            SourceSettings::Switch(it) => (0..it.buttons.len() as u8)
                .flat_map(|button| [Stimulus::Press(button), Stimulus::Release(button)])
                .collect(),
            SourceSettings::Card(it) if it.verifies => vec![
                Stimulus::CardIn { valid: true },
                Stimulus::CardIn { valid: false },
                Stimulus::CardOut,
            ],
            SourceSettings::Card(_) => vec![Stimulus::CardIn { valid: true }, Stimulus::CardOut],
            SourceSettings::Signal(it) => match it.kind {
                device::signal::Kind::DemandResponse => {
                    vec![Stimulus::Shed(None), Stimulus::ShedEnd]
                }
                _ => vec![Stimulus::Signal(true), Stimulus::Signal(false)],
            },
            SourceSettings::Daylight(_) | SourceSettings::Clock(_) => Vec::new(),
        };
        all.extend(of_it.into_iter().map(|it| (id, it)));
    }
    all
}

impl<R: Recorder> Walk<'_, R> {
    /// What was seen of the run, with the verdicts on so many clauses.
    fn seen(mut self, clauses: usize, steps: usize) -> (Seen, R) {
        let seen = Seen {
            verdicts: self.sim.room().verdicts().take(clauses).collect(),
            story: self.story,
            steps,
        };
        (seen, std::mem::take(self.sim.recorder_mut()))
    }

    fn tell(&mut self, at: Instant, what: impl std::fmt::Debug) {
        self.story.push(format!("{} ms: {what:?}", at.as_ms()));
    }

    /// Sets the clock of each device to a pace of its own, within the tolerance.
    fn clocks_run_as_they_like(&mut self) {
        if self.terms.tolerance == 0 {
            return;
        }
        let sources = (0..self.room.plan.sources.len() as u16).map(SourceId);
        let controllers = (0..self.room.plan.controllers.len() as u16).map(ControllerId);
        let devices = sources.map(Device::Source);
        for device in devices.chain(controllers.map(Device::Controller)) {
            let tolerance = self.terms.tolerance;
            let share = self.dice.one(&[0, tolerance / 2, tolerance, tolerance]);
            let share = Share::from_parts(share);
            let pace = match self.dice.one_in(2) {
                true => Pace::fast(share),
                false => Pace::slow(share),
            };
            let drift = Drift { device, pace };
            self.tell(Instant::START, drift);
            self.sim.drift(Instant::START, drift);
        }
    }

    /// Goes on to some instant, at which something may happen.
    fn step(&mut self) {
        let now = self.sim.now();
        let mut at = self.some_instant(now).max(now.after(Span::from_ms(1)));
        if let Some((due, ..)) = self.due.last()
            && *due < at
        {
            at = (*due).max(now.after(Span::from_ms(1)));
        }
        self.sim.run_until(Instant::from_ms(at.as_ms() - 1));
        while let Some(&(due, clock, entry)) = self.due.last()
            && due <= at
        {
            self.due.pop();
            self.give(at, Input::Stimulus(clock, Stimulus::Due(entry)));
        }
        self.mishap(at);
        if !self.more.is_empty() && self.dice.one_in(5) {
            let input = self.dice.one(self.more);
            self.give(at, input);
        }
        if !self.dice.one_in(4) {
            self.something(at);
            if self.terms.at_once && self.dice.one_in(3) {
                self.something(at);
            }
        }
        self.sim.run_until(at);
    }

    fn some_instant(&mut self, now: Instant) -> Instant {
        let coming = self.sim.coming();
        let near = |dice: &mut Dice, at: Instant| {
            let beside = dice.one(&[-1, 0, 0, 1]);
            Instant::from_ms(at.as_ms().saturating_add_signed(beside))
        };
        match self.dice.below(8) {
            0..=3 if !coming.is_empty() => near(self.dice, coming[0].0),
            4 | 5 if !coming.is_empty() => {
                let (at, _) = self.dice.one(&coming);
                near(self.dice, at)
            }
            6 if !self.due.is_empty() && self.dice.one_in(8) => {
                let at = self.due.last().map_or(now, |it| it.0);
                near(self.dice, at)
            }
            _ => {
                let gaps = [
                    1, 1, 9, 10, 11, 60, 101, 499, 501, 2_000, 15_000, 30_000, 600_000,
                ];
                now.after(Span::from_ms(self.dice.one(&gaps)))
            }
        }
    }

    /// Something happens at a source, if it may.
    fn something(&mut self, at: Instant) {
        if self.stimuli.is_empty() || (!self.terms.at_once && self.last == Some(at)) {
            return;
        }
        let (source, stimulus) = self.dice.one(&self.stimuli);
        // The room has not yet taken what came at this instant, so it cannot be asked.
        let moves = !matches!(stimulus, Stimulus::Motion | Stimulus::Sound);
        if self.may(source, stimulus) && !(moves && self.moved == Some(at)) {
            self.last = Some(at);
            if moves {
                self.moved = Some(at);
            }
            self.give(at, Input::Stimulus(source, stimulus));
        }
    }

    fn give(&mut self, at: Instant, input: Input) {
        self.tell(at, &input);
        self.sim.apply(at, input);
    }

    /// What a proof takes for granted of people: one button at a time, and a card or a signal
    /// changes again only when the room has heard of the change before.
    fn may(&self, id: SourceId, stimulus: Stimulus) -> bool {
        let room = self.sim.room();
        let coming = self.sim.coming();
        let from = |wanted: &dyn Fn(SourceId) -> bool| {
            let mut coming = coming.iter();
            coming.any(|(_, it)| matches!(it, Coming::Frame(_, from, _) if wanted(*from)))
        };
        let own = |it: SourceId| it == id;
        let unit = |it: SourceId| {
            let settings = &room.plan().sources[usize::from(it.0)].settings;
            matches!(settings, SourceSettings::Switch(_))
        };
        match (room.source(id).machine(), stimulus) {
            (Machine::Switch(it), Stimulus::Press(button)) => {
                !it.is_down(button)
                    && (self.terms.many_hands || (room.is_untouched() && !from(&unit)))
            }
            (Machine::Switch(it), Stimulus::Release(button)) => it.is_down(button),
            (Machine::Card(it), Stimulus::CardOut) => it.is_full() && !from(&own),
            (Machine::Card(it), Stimulus::CardIn { .. }) => !it.is_full() && !from(&own),
            (Machine::Signal(it), Stimulus::Signal(on)) => it.is_on() != on && !from(&own),
            (Machine::Signal(it), Stimulus::ShedEnd) => it.is_on() && !from(&own),
            (Machine::Signal(it), Stimulus::Shed(_)) => !it.is_on() && !from(&own),
            _ => true,
        }
    }

    /// What may go wrong goes wrong now and then.
    fn mishap(&mut self, at: Instant) {
        let back = self.dark.iter().position(|(_, from)| *from <= at);
        if let Some(place) = back
            && self.dice.one_in(3)
        {
            let (devices, _) = self.dark.remove(place);
            for device in devices {
                self.give(at, Input::Power(device, true));
            }
        }
        if self.lose > 0 && self.dice.one_in(20) {
            self.lose -= 1;
            let source = SourceId(self.dice.below(self.room.plan.sources.len()) as u16);
            let listeners = &self.room.plan.sources[usize::from(source.0)].listeners;
            if !listeners.is_empty() {
                let (listener, _) = self.dice.one(listeners);
                let impairment = Impairment {
                    source,
                    listener: Some(listener),
                    fault: LinkFault::LoseNext(1),
                };
                self.tell(at, impairment);
                self.sim.impair(at, impairment);
            }
        }
        if self.cuts > 0 && self.dark.is_empty() && self.dice.one_in(30) {
            self.cuts -= 1;
            self.cut(at);
        }
        for name in &self.terms.dead {
            let place = self
                .room
                .plan
                .sources
                .iter()
                .position(|it| it.name == *name);
            let Some(place) = place else { continue };
            let source = SourceId(place as u16);
            let dark = self.dark.iter().flat_map(|it| &it.0);
            let is_dark = dark.into_iter().any(|it| *it == Device::Source(source));
            if !self.dead.contains(&source) && !is_dark && self.dice.one_in(60) {
                self.dead.push(source);
                let input = Input::Power(Device::Source(source), false);
                self.story.push(format!("{} ms: {input:?}", at.as_ms()));
                self.sim.apply(at, input);
            }
        }
    }

    /// Cuts the power of one device, or of all that have no battery.
    fn cut(&mut self, at: Instant) {
        let plan = &self.room.plan;
        let sources = (0..).map(SourceId).zip(&plan.sources);
        let alive = |id: &SourceId| !self.dead.contains(id);
        let sources: Vec<_> = sources.filter(|(id, _)| alive(id)).collect();
        let controllers = (0..plan.controllers.len() as u16).map(ControllerId);
        let whole = self.dice.one_in(3);
        let mut devices: Vec<Device> = sources
            .iter()
            .filter(|(_, source)| source.mains || !whole)
            .map(|(id, _)| Device::Source(*id))
            .collect();
        devices.extend(controllers.map(Device::Controller));
        if !whole {
            devices = vec![self.dice.one(&devices)];
        }
        for device in &devices {
            self.give(at, Input::Power(*device, false));
        }
        self.dark.push((devices, at.after(Span::from_seconds(1))));
    }
}
