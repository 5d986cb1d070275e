//! Judges the checks of a script on what happened.
//!
//! A check is judged at the end of each instant it looks at. Nothing moves but light, which goes
//! in straight lines, so a stretch is judged exactly at its ends, wherever an entry of the
//! history begins, one millisecond before that, and where light passes a level that is compared.

use std::collections::BTreeSet;

use device::{Illuminance, Level, Payload, Span};
use room::{OutputId, Who};
use sim::{Instant, OutputState, OutputView, What as StepWhat};

use super::history::reaches;
use super::say::say_output;
use super::{CheckOutcome, History, Outcome, SourceBelief, drive, lights};
use crate::script::phrase::{Check, Compare, Event, Scale, State, What};
use crate::script::{FrameKind, Frames, RowCheck, Script, Target, Window};

/// When a check failed, and what was found instead.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Failure {
    /// The first moment at which it is not so.
    pub at: Instant,
    /// What was found, in words: `was off`.
    pub found: String,
}

/// Judges every check of a run.
pub(super) fn checks(outcome: &Outcome) -> Vec<CheckOutcome> {
    let checks = outcome.script.checks.iter();
    checks
        .map(|check| {
            let judge = Judge { outcome, check };
            let failure = check
                .windows
                .iter()
                .find_map(|window| judge.window(*window).err());
            CheckOutcome {
                as_expected: failure.is_some() == check.fails,
                failure,
            }
        })
        .collect()
}

/// One check of a run.
pub(super) struct Judge<'a> {
    outcome: &'a Outcome,
    pub(super) check: &'a RowCheck,
}

impl Judge<'_> {
    fn window(&self, window: Window) -> Result<(), Failure> {
        match &self.check.check {
            Check::Is(state) | Check::Stays(state, _) => {
                let failed = self
                    .moments(state, window)
                    .into_iter()
                    .find(|at| !self.holds(state, *at));
                match failed {
                    Some(at) => Err(self.failure(at)),
                    None => Ok(()),
                }
            }
            Check::Never(Event::Is(state), _) => {
                let found = self
                    .moments(state, window)
                    .into_iter()
                    .find(|at| self.holds(state, *at));
                found.map_or(Ok(()), |at| Err(self.failure(at)))
            }
            Check::Happens(Event::Is(state), ..) => {
                let moments = self.moments(state, window);
                if moments.iter().any(|at| self.holds(state, *at)) {
                    return Ok(());
                }
                Err(self.failure(window.to))
            }
            Check::Never(event, _) => match self.happens(event, window).first() {
                Some(&at) => Err(Failure {
                    at,
                    found: "happened".to_owned(),
                }),
                None => Ok(()),
            },
            Check::Happens(event, count, _) => self.counted(event, *count, window),
            Check::Total(total) => self.total(*total, window),
        }
    }

    fn counted(
        &self,
        event: &Event,
        count: Option<Compare<u32>>,
        window: Window,
    ) -> Result<(), Failure> {
        let happened = self.happens(event, window);
        let times = u32::try_from(happened.len()).unwrap_or(u32::MAX);
        let wanted = count.unwrap_or(Compare::AtLeast(1));
        if wanted.holds(times) {
            return Ok(());
        }
        let found = match (times, happened.last()) {
            (0, _) => match event {
                Event::Becomes(_) => format!("did not happen: {}", self.found(window.to)),
                _ => "did not happen".to_owned(),
            },
            (1, Some(last)) => format!("happened once, at {}", self.say(*last)),
            (_, Some(last)) => {
                format!("happened {times} times, last at {}", self.say(*last))
            }
            (_, None) => format!("happened {times} times"),
        };
        Err(Failure {
            at: window.to,
            found,
        })
    }

    /// The instants in the window at which the event happens.
    fn happens(&self, event: &Event, window: Window) -> Vec<Instant> {
        match event {
            Event::Becomes(state) => self.becomes(state, window),
            Event::Is(state) => {
                let moments = self.moments(state, window).into_iter();
                moments.filter(|at| self.holds(state, *at)).collect()
            }
            Event::Changes => self.changes(window),
            Event::Sends(_) | Event::Hears(..) => {
                let Some(frames) = self.check.frames else {
                    return Vec::new();
                };
                let steps = self.outcome.trace.steps.iter();
                steps
                    .filter(|step| step.at >= window.from && step.at <= window.to)
                    .filter(|step| frames.matches(&step.what))
                    .map(|step| step.at)
                    .collect()
            }
        }
    }

    pub(super) fn becomes(&self, state: &State, window: Window) -> Vec<Instant> {
        let mut so = match window.from.as_ms().checked_sub(1) {
            Some(before) => self.holds(state, Instant::from_ms(before)),
            // At the start a state that holds does not begin.
            None => true,
        };
        let mut rises = Vec::new();
        for at in self.moments(state, window) {
            let now = self.holds(state, at);
            if now && !so {
                rises.push(at);
            }
            so = now;
        }
        rises
    }

    /// The instants at which the state of an output, or where its light is going, changes.
    fn changes(&self, window: Window) -> Vec<Instant> {
        let Target::Output(id) = self.check.target else {
            return Vec::new();
        };
        let history = self.history();
        let before = window.from.as_ms().saturating_sub(1);
        let gist = |at| {
            let view = history.output(id, at);
            (view.state, view.light.to)
        };
        let mut last = gist(Instant::from_ms(before));
        let mut changes = Vec::new();
        for at in history.output_changes(id, Instant::from_ms(before), window.to) {
            let now = gist(at);
            if now != last && at > Instant::START {
                changes.push(at);
            }
            last = now;
        }
        changes
    }

    /// Every instant of the window at which the answer may be another than just before.
    pub(super) fn moments(&self, state: &State, window: Window) -> BTreeSet<Instant> {
        let mut moments = BTreeSet::from([window.from, window.to]);
        if window.from == window.to {
            return moments;
        }
        let history = self.history();
        let (from, to) = (window.from, window.to);
        let outputs: Vec<OutputId> = match self.check.target {
            Target::Output(id) => vec![id],
            Target::Task(task) => {
                moments.extend(history.daylight_changes(from, to));
                let model = &self.script().plan.tasks[task].light;
                model.electric.iter().map(|(id, _)| *id).collect()
            }
            Target::Person(person) => {
                for (enters, leaves) in self.script().people[person].stays(self.script().end) {
                    moments.extend([enters, leaves]);
                }
                let outputs = (0..).zip(&self.script().plan.outputs);
                outputs.map(|(id, _)| OutputId(id)).collect()
            }
            Target::Source(id) => {
                moments.extend(history.source_changes(id, from, to));
                Vec::new()
            }
            Target::Controller(_) => Vec::new(),
        };
        if matches!(state.what, What::Reports(_) | What::NoFault) {
            moments.extend(history.fault_changes(from, to));
        }
        for id in outputs {
            let mut since = from;
            for at in history.output_changes(id, from, to) {
                self.pass(state, id, since, at, &mut moments);
                moments.extend([Instant::from_ms(at.as_ms() - 1), at]);
                since = at;
            }
            self.pass(state, id, since, to, &mut moments);
        }
        moments.retain(|at| (from..=to).contains(at));
        moments
    }

    /// Adds the instants from `since` to `until` at which light passes a level that matters.
    fn pass(
        &self,
        state: &State,
        id: OutputId,
        since: Instant,
        until: Instant,
        moments: &mut BTreeSet<Instant>,
    ) {
        let view = self.history().output(id, since);
        if view.light.within.is_zero() {
            return;
        }
        moments.insert(since.after(view.light.within));
        let levels = match state.what {
            What::Level(_, compare) => edges(compare),
            What::InTheLight | What::InTheDark => vec![Level::from_hundredths(1), Level::OFF],
            _ => Vec::new(),
        };
        for level in levels {
            if let Some(at) = reaches(&view, since, level).filter(|at| *at <= until) {
                moments.extend([Instant::from_ms(at.as_ms() - 1), at, at.after(MOMENT)]);
            }
        }
    }

    /// Whether a state holds at the end of an instant.
    fn holds(&self, state: &State, at: Instant) -> bool {
        self.is(state.what, at) != state.not
    }

    fn is(&self, what: What, at: Instant) -> bool {
        let history = self.history();
        if let What::Reports(_) | What::NoFault = what {
            return self.reports(what, at);
        }
        match self.check.target {
            Target::Output(id) => output_is(what, &history.output(id, at)),
            Target::Source(id) => match what {
                What::Occupied => history.source(id, at) == SourceBelief::Occupied,
                What::Vacant => history.source(id, at) == SourceBelief::Vacant,
                What::Unknown => history.source(id, at) == SourceBelief::Unknown,
                _ => false,
            },
            Target::Task(task) => match what {
                What::Lux(compare) => compare.holds(self.lux(task, at)),
                _ => false,
            },
            Target::Person(person) => {
                let there = self.is_there(person, at);
                let lit = self.is_lit(at);
                match what {
                    What::InTheLight => !there || lit,
                    What::InTheDark => there && !lit,
                    _ => false,
                }
            }
            Target::Controller(_) => false,
        }
    }

    fn reports(&self, what: What, at: Instant) -> bool {
        let who = match self.check.target {
            Target::Output(id) => Who::Output(id),
            Target::Source(id) => Who::Source(id),
            Target::Controller(id) => Who::Controller(id),
            Target::Task(_) | Target::Person(_) => return false,
        };
        let standing = self.history().faults(at);
        let mut own = standing.iter().filter(|(by, _)| *by == who);
        match what {
            What::Reports(fault) => own.any(|(_, standing)| *standing == fault),
            _ => own.next().is_none(),
        }
    }

    fn is_there(&self, person: usize, at: Instant) -> bool {
        let stays = self.script().people[person].stays(self.script().end);
        let mut stays = stays.into_iter();
        stays.any(|(enters, leaves)| enters <= at && at < leaves)
    }

    /// Where somebody is who is not in the room.
    fn whereabouts(&self, person: usize, at: Instant) -> String {
        let name = &self.script().people[person].name;
        let stays = self.script().people[person].stays(self.script().end);
        let left = stays.iter().rev().find(|(_, leaves)| *leaves <= at);
        match (left, stays.first()) {
            (Some((_, leaves)), _) => format!("{name} had left at {}", self.say(*leaves)),
            (None, Some((enters, _))) => {
                format!(
                    "{name} had not entered yet (enters at {})",
                    self.say(*enters)
                )
            }
            (None, None) => format!("{name} never enters in this scenario"),
        }
    }

    fn is_lit(&self, at: Instant) -> bool {
        let outputs = (0..).zip(&self.script().plan.outputs);
        let mut lamps = outputs
            .map(|(id, _)| OutputId(id))
            .filter(|id| lights(&self.script().plan, *id));
        lamps.any(|id| !self.history().output(id, at).light.now.is_off())
    }

    pub(super) fn lux(&self, task: usize, at: Instant) -> Illuminance {
        self.history()
            .light(&self.script().plan.tasks[task].light, at)
    }

    fn failure(&self, at: Instant) -> Failure {
        Failure {
            at,
            found: self.found(at),
        }
    }

    /// How the point stands at the end of an instant, in the terms of the check.
    fn found(&self, at: Instant) -> String {
        let history = self.history();
        match self.check.target {
            Target::Output(id) => {
                let drive = drive(&self.script().plan, id);
                say_output(&self.check.check, &history.output(id, at), drive)
            }
            Target::Source(id) => match history.source(id, at) {
                SourceBelief::Occupied => "was occupied".to_owned(),
                SourceBelief::Vacant => "was vacant".to_owned(),
                SourceBelief::Unknown => "was unknown".to_owned(),
            },
            Target::Controller(_) => "was not".to_owned(),
            Target::Task(task) => format!("was {}", self.lux(task, at)),
            Target::Person(person) if !self.is_there(person, at) => self.whereabouts(person, at),
            Target::Person(_) if self.is_lit(at) => "some light was on".to_owned(),
            Target::Person(_) => "every light was dark".to_owned(),
        }
    }

    fn say(&self, at: Instant) -> String {
        self.script().civil.say(at)
    }

    pub(super) fn history(&self) -> &History {
        &self.outcome.history
    }

    pub(super) fn script(&self) -> &Script {
        &self.outcome.script
    }
}

impl Frames {
    /// Whether a step is one of these frames.
    #[must_use]
    pub fn matches(&self, step: &StepWhat) -> bool {
        let payload = match (self.listener, step) {
            (None, StepWhat::Sent(source, _, payload)) if *source == self.source => payload,
            (Some(listener), StepWhat::Arrived(by, source, payload))
                if (*by, *source) == (listener, self.source) =>
            {
                payload
            }
            _ => return false,
        };
        self.kind.is_none_or(|kind| kind.matches(*payload))
    }
}

impl FrameKind {
    /// Whether a frame is of this kind.
    #[must_use]
    pub fn matches(self, payload: Payload) -> bool {
        match (self, payload) {
            (Self::Down(wanted), Payload::Down(button))
            | (Self::Up(wanted), Payload::Up(button)) => wanted == button,
            (Self::Occupied, Payload::Occupied { .. })
            | (Self::Vacant, Payload::Vacant)
            | (Self::Unknown, Payload::Unknown)
            | (Self::CardIn, Payload::CardIn)
            | (Self::CardOut, Payload::CardOut)
            | (Self::WrongCard, Payload::WrongCard)
            | (Self::Illuminance, Payload::Illuminance(_))
            | (Self::InHours, Payload::InHours)
            | (Self::AfterHours, Payload::AfterHours)
            | (Self::Sweep, Payload::Sweep)
            | (Self::TimeLost, Payload::TimeLost)
            | (Self::Shed, Payload::Shed(_))
            | (Self::ShedEnd, Payload::ShedEnd)
            | (Self::TeachIn, Payload::TeachIn) => true,
            _ => false,
        }
    }
}

fn output_is(what: What, view: &OutputView) -> bool {
    match what {
        What::On => view.state != OutputState::Off,
        What::Off => view.state == OutputState::Off,
        What::Warning => view.state == OutputState::Warning,
        What::Setback => view.state == OutputState::Setback,
        What::Occupied => view.occupied,
        What::Vacant => !view.occupied,
        What::Closed => view.closed,
        What::Open => !view.closed,
        What::Relay(closed) => view.closed == closed,
        What::Latched => view.latch,
        What::ByHand => view.by_hand,
        What::Emergency => view.emergency,
        What::Level(scale, compare) => level_is(compare, level_of(scale, view)),
        _ => false,
    }
}

fn level_of(scale: Scale, view: &OutputView) -> Level {
    match scale {
        Scale::Target => view.target,
        Scale::Asked => view.asked,
        Scale::Light => view.light.now,
    }
}

/// Levels are exact to half a per cent, as clauses take them.
fn level_is(compare: Compare<Level>, level: Level) -> bool {
    match compare {
        Compare::Exactly(wanted) => level.distance(wanted).hundredths() <= EXACT,
        compare => compare.holds(level),
    }
}

/// The levels at which a comparison changes its answer.
fn edges(compare: Compare<Level>) -> Vec<Level> {
    match compare {
        Compare::Exactly(level) => {
            let middle = level.hundredths();
            vec![
                Level::from_hundredths(middle.saturating_sub(EXACT)),
                Level::from_hundredths(middle + EXACT),
            ]
        }
        Compare::Between(low, high) => vec![low, high],
        Compare::AtMost(level)
        | Compare::AtLeast(level)
        | Compare::Below(level)
        | Compare::Above(level) => vec![level],
    }
}

/// Half a per cent.
const EXACT: u16 = 50;

/// Instants are whole milliseconds.
const MOMENT: Span = Span::from_ms(1);
