//! What was: the levels, states and timers of every point so far, for screens that draw them.
//!
//! Invariants: it is read off the trace, step by step, so whoever comes late is told what the
//! others saw; entries of a point are in order of time.

use std::collections::BTreeMap;

use device::{Payload, Span};
use report::words::{self, Kind, Names, TimerLane};
use room::{Device, OutputId, Plan, Slot, SourceId, Stimulus};
use serde::Serialize;
use sim::{Instant, Step, What};

/// What was so far.
#[derive(Clone, Debug, Default)]
pub(crate) struct Past {
    kinds: Vec<Kind>,
    lights: Vec<Vec<(Instant, u16)>>,
    outputs: Vec<Vec<(Instant, &'static str)>>,
    sources: Vec<Vec<(Instant, &'static str)>>,
    stimuli: Vec<Vec<(Instant, Stimulus)>>,
    clauses: Vec<Vec<(Instant, &'static str)>>,
    running: BTreeMap<Slot, Bar>,
    /// Timers that have ended, in the order of their ends.
    ended: Vec<(Slot, Bar)>,
}

/// A timer from its start to its end.
#[derive(Clone, Debug)]
struct Bar {
    began: Instant,
    /// When it was started again while it ran.
    again: Vec<Instant>,
    /// When it ends if nothing comes between.
    ends: Instant,
    /// When it did, and whether by itself.
    ended: Option<(Instant, bool)>,
}

/// What was since some moment, as a screen is told it.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct Told {
    from: u64,
    to: u64,
    points: Vec<Point>,
    clauses: Vec<ClauseTold>,
}

#[derive(Clone, Debug, Serialize)]
struct Point {
    name: String,
    light: Option<Vec<(u64, f64)>>,
    states: Vec<(u64, &'static str)>,
    timers: Vec<TimerTold>,
    /// What happened there, in words.
    marks: Vec<(u64, String)>,
}

#[derive(Clone, Debug, Serialize)]
struct TimerTold {
    name: String,
    began: u64,
    again: Vec<u64>,
    ends: u64,
    ended: Option<u64>,
    how: &'static str,
}

#[derive(Clone, Debug, Serialize)]
struct ClauseTold {
    id: String,
    verdicts: Vec<(u64, &'static str)>,
}

impl Past {
    /// A past in which nothing has happened.
    pub(crate) fn new(plan: &Plan) -> Self {
        let names = Names::new(plan);
        let outputs = (0..).map(OutputId).take(plan.outputs.len());
        Self {
            kinds: outputs.map(|id| names.kind(id)).collect(),
            lights: vec![Vec::new(); plan.outputs.len()],
            outputs: vec![Vec::new(); plan.outputs.len()],
            sources: vec![Vec::new(); plan.sources.len()],
            stimuli: vec![Vec::new(); plan.sources.len()],
            clauses: vec![Vec::new(); plan.clauses.len()],
            running: BTreeMap::new(),
            ended: Vec::new(),
        }
    }

    /// Reads a step that is new.
    pub(crate) fn read(&mut self, step: &Step) {
        let at = step.at;
        match step.what {
            What::Output(id, ref view) => {
                let number = usize::from(id.0);
                if let Some(light) = self.lights.get_mut(number) {
                    // What was on its way and did not get there is not drawn.
                    let kept = light.partition_point(|(it, _)| *it < at);
                    let was_on_its_way = kept < light.len();
                    light.truncate(kept);
                    // What stood still stood until now.
                    if let Some((_, last)) = light.last().copied()
                        && !was_on_its_way
                    {
                        light.push((at, last));
                    }
                    light.push((at, view.light.now.hundredths()));
                    if view.light.to != view.light.now {
                        let there = at.after(view.light.within);
                        light.push((there, view.light.to.hundredths()));
                    }
                }
                if let Some(kind) = self.kinds.get(number) {
                    turn(self.outputs.get_mut(number), at, kind.state(view));
                }
            }
            What::Stimulus(id, stimulus) => {
                if let Some(list) = self.stimuli.get_mut(usize::from(id.0)) {
                    list.push((at, stimulus));
                }
            }
            What::Sent(id, _, payload) => {
                if let Some(word) = believed(payload) {
                    turn(self.sources.get_mut(usize::from(id.0)), at, word);
                }
            }
            What::Power(Device::Source(id), false) => {
                turn(self.sources.get_mut(usize::from(id.0)), at, "no power");
            }
            What::Clause(number, turned) => {
                let word = match turned {
                    clause::Turn::Triggered => "pending",
                    clause::Turn::Held => "held",
                    clause::Turn::Broken => "broken",
                };
                if let Some(list) = self.clauses.get_mut(usize::from(number)) {
                    list.push((at, word));
                }
            }
            What::Started(slot, span) => self.start(slot, at, span),
            What::Stopped(slot) => self.end(slot, at, false),
            What::Elapsed(slot) => self.end(slot, at, true),
            _ => {}
        }
    }

    /// Forgets what was over at an instant.
    pub(crate) fn forget(&mut self, since: Instant) {
        self.lights.iter_mut().for_each(|it| forget(it, since));
        self.outputs.iter_mut().for_each(|it| forget(it, since));
        self.sources.iter_mut().for_each(|it| forget(it, since));
        for stimuli in &mut self.stimuli {
            stimuli.retain(|(at, _)| *at >= since);
        }
        self.clauses.iter_mut().for_each(|it| forget(it, since));
        let is_over = |(_, bar): &(Slot, Bar)| bar.ended.is_some_and(|(at, _)| at < since);
        self.ended.retain(|it| !is_over(it));
        let running = self.running.values_mut();
        let bars = running.chain(self.ended.iter_mut().map(|(_, bar)| bar));
        for bar in bars {
            bar.again.retain(|at| *at >= since);
        }
    }

    fn start(&mut self, slot: Slot, at: Instant, span: Span) {
        let bar = self.running.entry(slot).or_insert_with(|| Bar {
            began: at,
            again: Vec::new(),
            ends: at,
            ended: None,
        });
        if bar.began != at {
            bar.again.push(at);
        }
        bar.ends = at.after(span);
    }

    fn end(&mut self, slot: Slot, at: Instant, by_itself: bool) {
        if let Some(mut bar) = self.running.remove(&slot) {
            bar.ended = Some((at, by_itself));
            self.ended.push((slot, bar));
        }
    }

    /// What was from a moment on, up to now.
    pub(crate) fn told(&self, names: &Names<'_>, from: Instant, now: Instant) -> Told {
        let outputs = (0..).map(OutputId).zip(&names.plan.outputs);
        let sources = (0..).map(SourceId).zip(&names.plan.sources);
        let mut points: Vec<Point> = outputs
            .zip(self.lights.iter().zip(&self.outputs))
            .map(|((id, output), (light, states))| Point {
                name: output.name.clone(),
                light: Some(corners(since(light, from))),
                states: dated(since(states, from)),
                timers: self.timers(names, TimerLane::Output(id), from),
                marks: Vec::new(),
            })
            .collect();
        points.extend(
            sources
                .zip(&self.sources)
                .map(|((id, source), states)| Point {
                    name: source.name.clone(),
                    light: None,
                    states: dated(since(states, from)),
                    timers: self.timers(names, TimerLane::Source(id), from),
                    marks: self.marks(names, id, from),
                }),
        );
        let clauses = names.plan.clauses.iter().zip(&self.clauses);
        Told {
            from: from.as_ms(),
            to: now.as_ms(),
            points,
            clauses: clauses
                .map(|(clause, turns)| ClauseTold {
                    id: clause.id.clone(),
                    verdicts: dated(since(turns, from)),
                })
                .collect(),
        }
    }

    /// What happened at a source after `from`.
    fn marks(&self, names: &Names<'_>, id: SourceId, from: Instant) -> Vec<(u64, String)> {
        let own = self.stimuli.get(usize::from(id.0));
        let all = own.map_or(&[][..], |list| {
            &list[list.partition_point(|(at, _)| *at < from)..]
        });
        all.iter()
            .map(|(at, stimulus)| (at.as_ms(), words::stimulus(names, id, *stimulus)))
            .collect()
    }

    /// The timers of a lane that ran after `from`.
    fn timers(&self, names: &Names<'_>, lane: TimerLane, from: Instant) -> Vec<TimerTold> {
        let first = self
            .ended
            .partition_point(|(_, bar)| bar.ended.is_some_and(|(at, _)| at < from));
        let ended = self.ended[first..].iter().map(|(slot, bar)| (slot, bar));
        let told = |(slot, bar): (&Slot, &Bar)| {
            let said = names.timer(*slot);
            (said.lane == lane && !said.quiet).then(|| TimerTold {
                name: said.name,
                began: bar.began.as_ms(),
                again: bar.again.iter().map(|at| at.as_ms()).collect(),
                ends: bar.ends.as_ms(),
                ended: bar.ended.map(|(at, _)| at.as_ms()),
                how: match bar.ended {
                    None => "running",
                    Some((_, true)) => "elapsed",
                    Some((_, false)) => "stopped",
                },
            })
        };
        ended.chain(&self.running).filter_map(told).collect()
    }
}

/// What a source believes when it says this.
const fn believed(payload: Payload) -> Option<&'static str> {
    match payload {
        Payload::Occupied { .. } => Some("occupied"),
        Payload::Vacant => Some("vacant"),
        Payload::Unknown => Some("unknown"),
        Payload::CardIn => Some("in"),
        Payload::CardOut => Some("out"),
        Payload::InHours => Some("in hours"),
        Payload::AfterHours => Some("after hours"),
        Payload::TimeLost => Some("time lost"),
        Payload::Signal(_, true) => Some("on"),
        Payload::Signal(_, false) | Payload::ShedEnd => Some("off"),
        Payload::Shed(_) => Some("shedding"),
        Payload::Down(_)
        | Payload::Up(_)
        | Payload::WrongCard
        | Payload::Illuminance(_)
        | Payload::Sweep
        | Payload::TeachIn => None,
    }
}

/// Writes a word down where it is another than before.
fn turn(list: Option<&mut Vec<(Instant, &'static str)>>, at: Instant, word: &'static str) {
    if let Some(list) = list
        && list.last().is_none_or(|(_, last)| *last != word)
    {
        list.push((at, word));
    }
}

/// Forgets what no longer stood at a moment.
fn forget<T>(list: &mut Vec<(Instant, T)>, since: Instant) {
    let first = list.partition_point(|(at, _)| *at <= since);
    list.drain(..first.saturating_sub(1));
}

/// What stands at a moment and comes after it.
fn since<T>(list: &[(Instant, T)], from: Instant) -> &[(Instant, T)] {
    let first = list.partition_point(|(at, _)| *at <= from);
    &list[first.saturating_sub(1)..]
}

fn dated(list: &[(Instant, &'static str)]) -> Vec<(u64, &'static str)> {
    list.iter().map(|(at, word)| (at.as_ms(), *word)).collect()
}

fn corners(list: &[(Instant, u16)]) -> Vec<(u64, f64)> {
    list.iter()
        .map(|(at, level)| (at.as_ms(), f64::from(*level) / 10_000.0))
        .collect()
}

#[cfg(test)]
mod tests {
    use std::path::Path;
    use std::sync::Arc;

    use super::*;
    use crate::{Session, Stage};

    fn office() -> Session {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../scenarios/private-office");
        let stage = Stage::open(&folder).unwrap();
        Session::new(Arc::clone(&stage[0]), 0).unwrap()
    }

    fn told(session: &Session, from: u64) -> serde_json::Value {
        serde_json::to_value(session.past(Instant::from_ms(from))).unwrap()
    }

    fn point<'a>(told: &'a serde_json::Value, name: &str) -> &'a serde_json::Value {
        let mut points = told["points"].as_array().unwrap().iter();
        points.find(|point| point["name"] == name).unwrap()
    }

    #[test]
    fn a_visit_leaves_its_light_its_belief_and_its_timers() {
        let mut session = office();
        session.act("wall-sensor", "motion").unwrap();
        session.run_to(Instant::from_ms(20 * 60_000));
        let told = told(&session, 0);
        let light = point(&told, "desk-lights")["light"].as_array().unwrap();
        assert_eq!(light.first().unwrap()[1], 0.0);
        assert!(light.iter().any(|corner| corner[1] == 0.5));
        // It stood at half until the delay was over, and did not sink there slowly.
        let half: Vec<u64> = light
            .iter()
            .filter(|corner| corner[1] == 0.5)
            .map(|corner| corner[0].as_u64().unwrap())
            .collect();
        assert!(*half.last().unwrap() >= 15 * 60_000);
        assert_eq!(light.last().unwrap()[1], 0.0);
        let sensor = point(&told, "wall-sensor");
        let words: Vec<&str> = sensor["states"]
            .as_array()
            .unwrap()
            .iter()
            .map(|state| state[1].as_str().unwrap())
            .collect();
        assert_eq!(words, ["occupied", "vacant"]);
        assert_eq!(sensor["marks"], serde_json::json!([[1, "motion"]]));
        let delay = sensor["timers"].as_array().unwrap().iter();
        let mut delay = delay.filter(|timer| timer["name"] == "time delay");
        assert_eq!(delay.next().unwrap()["how"], "elapsed");
    }

    #[test]
    fn what_is_asked_later_begins_with_what_stood_then() {
        let mut session = office();
        session.act("wall-sensor", "motion").unwrap();
        session.run_to(Instant::from_ms(20 * 60_000));
        let told = told(&session, 10 * 60_000);
        let states = point(&told, "desk-lights")["states"].as_array().unwrap();
        let words: Vec<_> = states.iter().map(|state| state[1].clone()).collect();
        assert_eq!(words, ["on", "off"]);
    }

    #[test]
    fn a_contact_was_closed_and_open_as_it_truly_stood() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../scenarios/three-offices");
        let stage = Stage::open(&folder).unwrap();
        let mut session = Session::new(Arc::clone(&stage[0]), 0).unwrap();
        let told_of = |session: &Session| {
            let told = told(session, 0);
            let states = point(&told, "air-terminal")["states"].as_array().unwrap();
            let words: Vec<_> = states.iter().map(|state| state[1].clone()).collect();
            let view = serde_json::to_value(session.view()).unwrap();
            let mut outputs = view["outputs"].as_array().unwrap().iter();
            let now = outputs.find(|it| it["name"] == "air-terminal").unwrap();
            (
                words,
                now["state"].clone(),
                now["on"].clone(),
                now["says"].clone(),
            )
        };
        session.act("air-terminal", "relay sticks open").unwrap();
        session.act("sensor-201", "motion").unwrap();
        session.run_to(Instant::from_ms(60_000));
        let (words, state, on, says) = told_of(&session);
        assert_eq!(words, ["open"]);
        assert_eq!((state, on), ("open".into(), false.into()));
        assert_eq!(says, "is open, asked closed, occupied");
        session.act("air-terminal", "relay freed").unwrap();
        session.run_to(Instant::from_ms(120_000));
        let (words, state, on, says) = told_of(&session);
        assert_eq!(words, ["open", "closed"]);
        assert_eq!((state, on), ("closed".into(), true.into()));
        assert_eq!(says, "is closed, occupied");
    }

    #[test]
    fn going_back_forgets_what_came_later() {
        let mut session = office();
        session.act("wall-sensor", "motion").unwrap();
        session.run_to(Instant::from_ms(20 * 60_000));
        session.rewind(Instant::from_ms(60_000)).unwrap();
        let told = told(&session, 0);
        assert_eq!(told["to"], 60_000);
        let states = point(&told, "wall-sensor")["states"].as_array().unwrap();
        assert_eq!(states.len(), 1);
        let timers = point(&told, "wall-sensor")["timers"].as_array().unwrap();
        assert!(timers.iter().all(|timer| timer["how"] != "elapsed"));
    }
}
