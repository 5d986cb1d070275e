//! Everything that moves, as the page is told it.
//!
//! Invariant: a view is read off the room and changes nothing in it.

use device::{card, occupancy, signal};
use report::clock::Clock;
use report::words::{self, Kind, Names, TimerLane};
use room::{Machine, OutputId, PlanSource, Slot, SourceId};
use scenario::script::phrase::Activity;
use serde::Serialize;
use sim::{Instant, Step, What};

use crate::lesson::{Course, Shown};
use crate::past::Told;
use crate::session::Session;

/// Everything that moves.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct View {
    pub(crate) now: u64,
    pub(crate) civil: String,
    pub(crate) running: bool,
    pub(crate) speed: u32,
    pub(crate) end: u64,
    /// The moment since which all is kept.
    pub(crate) since: u64,
    pub(crate) branch: u32,
    pub(crate) revision: u32,
    pub(crate) viewers: usize,
    outputs: Vec<Output>,
    sources: Vec<Source>,
    people: Vec<Person>,
    clauses: Vec<Clause>,
    energy: Energy,
    outside: Outside,
    lesson: Option<Shown>,
    faults: Vec<String>,
    rows: Rows,
}

/// How many rows there are, up to now and after.
#[derive(Clone, Debug, Serialize)]
struct Rows {
    done: usize,
    later: usize,
    /// When the last of them is.
    last: Option<u64>,
}

#[derive(Clone, Debug, Serialize)]
struct Output {
    name: String,
    on: bool,
    state: &'static str,
    light: f64,
    asked: String,
    target: String,
    occupied: bool,
    by_hand: bool,
    latched: bool,
    emergency: bool,
    says: String,
    timers: Vec<Timer>,
}

#[derive(Clone, Debug, Serialize)]
struct Source {
    name: String,
    state: &'static str,
    powered: bool,
    down: Vec<String>,
    says: String,
    timers: Vec<Timer>,
}

#[derive(Clone, Debug, Serialize)]
struct Timer {
    name: String,
    sign: &'static str,
    began: u64,
    ends: u64,
    span: u64,
    then: &'static str,
}

#[derive(Clone, Debug, Serialize)]
struct Person {
    name: String,
    place: Option<String>,
    doing: Option<String>,
    in_room: bool,
}

#[derive(Clone, Debug, Serialize)]
struct Clause {
    id: String,
    verdict: &'static str,
    since: Option<u64>,
}

#[derive(Clone, Debug, Serialize)]
struct Energy {
    wh: f64,
    by: Vec<EnergyOf>,
}

#[derive(Clone, Debug, Serialize)]
struct EnergyOf {
    output: String,
    wh: f64,
}

#[derive(Clone, Debug, Serialize)]
struct Outside {
    daylight_lx: Option<f64>,
    noise: Vec<Noise>,
}

/// A noise at a sensor.
#[derive(Clone, Debug, Serialize)]
struct Noise {
    point: String,
    /// How far apart its sounds are, in seconds.
    every: u64,
}

/// A step of the trace in words.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct LogRow {
    step: u32,
    at: u64,
    civil: String,
    who: String,
    what: String,
    cause: Option<u32>,
    /// Whether it is a frame on its way.
    frame: bool,
    /// Whether it is housekeeping: timers and the level of reports that people do not ask for.
    quiet: bool,
    point: String,
}

impl Session {
    /// The clock on the wall.
    pub(crate) fn clock(&self) -> Clock {
        Clock::new(self.score.script().civil.zoned(Instant::START))
    }

    /// Everything that moves, at the present moment.
    pub(crate) fn view(&self) -> View {
        let now = self.now();
        let plan = self.simulation.plan();
        let names = Names {
            plan,
            slots: self.simulation.room().slots().clone(),
        };
        let timers = self.timers(&names);
        let of = |lane: TimerLane| {
            let own = timers.iter().filter(|(it, _)| *it == lane);
            own.map(|(_, timer)| timer.clone()).collect()
        };
        let outputs = (0..).map(OutputId).zip(&plan.outputs);
        let sources = (0..).map(SourceId).zip(&plan.sources);
        let done = self.rows_so_far().len();
        View {
            now: now.as_ms(),
            civil: civil(&self.clock(), now),
            running: false,
            speed: 1,
            end: self.end().as_ms(),
            since: self.since().as_ms(),
            branch: self.branch(),
            revision: self.revision(),
            viewers: 0,
            outputs: outputs
                .map(|(id, output)| {
                    let timers = of(TimerLane::Output(id));
                    self.output(names.kind(id), id, &output.name, timers)
                })
                .collect(),
            sources: sources
                .map(|(id, source)| self.source(id, source, of(TimerLane::Source(id))))
                .collect(),
            people: self.people(),
            clauses: self.clauses(),
            energy: self.energy(),
            outside: Outside {
                daylight_lx: Some(hundredths(self.simulation.room().daylight().hundredths())),
                noise: self.noises(),
            },
            lesson: self.course.as_ref().map(Course::shown),
            faults: self.faults(&names),
            rows: Rows {
                done,
                later: self.rows().len() - done,
                last: self.rows().last().map(|row| row.at.as_ms()),
            },
        }
    }

    fn noises(&self) -> Vec<Noise> {
        let sources = self.simulation.plan().sources.iter();
        let noise = |source: &PlanSource| {
            let every = self.noise_at(&source.name)?;
            Some(Noise {
                point: source.name.clone(),
                every: every.as_ms() / 1_000,
            })
        };
        sources.filter_map(noise).collect()
    }

    /// What was from a moment on.
    pub(crate) fn past(&self, from: Instant) -> Told {
        let names = Names {
            plan: self.simulation.plan(),
            slots: self.simulation.room().slots().clone(),
        };
        self.ledger
            .past
            .told(&names, from.max(self.since()), self.now())
    }

    /// Whether the picture changes while time passes, without anything happening.
    pub(crate) fn is_moving(&self) -> bool {
        self.ledger.is_fading(self.now())
    }

    /// The steps from `first` on and before `end` in words.
    pub(crate) fn log(&self, first: usize, end: usize) -> Vec<LogRow> {
        let names = Names {
            plan: self.simulation.plan(),
            slots: self.simulation.room().slots().clone(),
        };
        let clock = self.clock();
        self.steps_between(first, end)
            .map(|(number, cause, step)| log_row(&names, &clock, number, cause, step))
            .collect()
    }

    fn output(&self, kind: Kind, id: OutputId, name: &str, timers: Vec<Timer>) -> Output {
        let view = self.simulation.view(id);
        Output {
            name: name.to_owned(),
            on: kind.is_on(&view),
            state: kind.state(&view),
            light: f64::from(view.light.now.hundredths()) / 10_000.0,
            asked: view.asked.to_string(),
            target: view.target.to_string(),
            occupied: view.occupied,
            by_hand: view.by_hand,
            latched: view.latch,
            emergency: view.emergency,
            says: kind.stands(&view, true),
            timers,
        }
    }

    fn source(&self, id: SourceId, planned: &PlanSource, timers: Vec<Timer>) -> Source {
        let source = self.simulation.room().source(id);
        let (state, mut says) = of_machine(source.machine());
        let down = match source.machine() {
            Machine::Switch(unit) => {
                let buttons = (0..).zip(&planned.buttons);
                let down = buttons.filter(|(number, _)| unit.is_down(*number));
                down.map(|(_, name)| name.clone()).collect()
            }
            _ => Vec::new(),
        };
        let state = if down.is_empty() { state } else { "pressed" };
        if !source.is_powered() {
            says = "has no power".to_owned();
        } else if !down.is_empty() {
            let are = if down.len() == 1 { "is" } else { "are" };
            says = format!("{} {are} held down", words::list(&down));
        }
        Source {
            name: planned.name.clone(),
            state: if source.is_powered() {
                state
            } else {
                "no power"
            },
            powered: source.is_powered(),
            down,
            says,
            timers,
        }
    }

    /// The timers that run and that somebody may want to see, each with its lane.
    fn timers(&self, names: &Names<'_>) -> Vec<(TimerLane, Timer)> {
        let now = self.now();
        let timer = |(slot, (began, span)): (&Slot, &(Instant, device::Span))| {
            let said = names.timer(*slot);
            let left = self.simulation.remaining(*slot)?;
            (!said.quiet && said.lane != TimerLane::None).then(|| {
                let timer = Timer {
                    name: said.name,
                    sign: said.sign,
                    began: began.as_ms(),
                    ends: now.after(left).as_ms(),
                    span: span.as_ms(),
                    then: said.end,
                };
                (said.lane, timer)
            })
        };
        self.ledger.timers.iter().filter_map(timer).collect()
    }

    fn people(&self) -> Vec<Person> {
        let now = self.now();
        let people = self.score.script().people.iter();
        let person = |person: &scenario::script::people::Person| {
            let mut place = None;
            let mut doing = None;
            for it in person.doings.iter().filter(|doing| doing.at <= now) {
                match &it.activity {
                    Activity::Enters => place.clone_from(&person.seat),
                    Activity::WalksTo(to) => place = Some(to.clone()),
                    Activity::Leaves => place = None,
                    _ if doing.is_none() => place.clone_from(&person.seat),
                    _ => {}
                }
                doing = match &it.activity {
                    Activity::Leaves => None,
                    activity => Some(activity_words(activity)),
                };
            }
            Person {
                name: person.name.clone(),
                in_room: doing.is_some(),
                place,
                doing,
            }
        };
        people.map(person).collect()
    }

    fn clauses(&self) -> Vec<Clause> {
        let plan = self.simulation.plan();
        let verdicts = self.simulation.room().verdicts();
        let clauses = plan.clauses.iter().zip(verdicts).zip(&self.ledger.clauses);
        let clause = |((clause, verdict), since): ((&room::PlanClause, _), &Option<Instant>)| {
            let by_links = scenario::run::answered_by_links(plan, &clause.formula);
            Clause {
                id: clause.id.clone(),
                verdict: match (by_links, verdict) {
                    (Some(true), _) | (None, clause::Verdict::Held) => "held",
                    (Some(false), _) | (None, clause::Verdict::Broken) => "broken",
                    (None, clause::Verdict::NeverExercised) => "untested",
                    (None, clause::Verdict::Open) => "pending",
                },
                since: since.map(Instant::as_ms),
            }
        };
        clauses.map(clause).collect()
    }

    fn energy(&self) -> Energy {
        let outputs = self.simulation.plan().outputs.iter();
        let by = outputs.zip(self.ledger.energy(self.now()));
        let by: Vec<EnergyOf> = by
            .filter_map(|(output, wh)| {
                Some(EnergyOf {
                    output: output.name.clone(),
                    wh: wh?,
                })
            })
            .collect();
        Energy {
            wh: by.iter().map(|it| it.wh).sum(),
            by,
        }
    }

    fn faults(&self, names: &Names<'_>) -> Vec<String> {
        let faults = self.simulation.faults().iter();
        let fault =
            |it: &sim::StandingFault| format!("{}: {}", names.who(it.who), words::fault(it.fault));
        faults.map(fault).collect()
    }
}

/// The state of a machine in a word, and in a few.
fn of_machine(machine: &Machine) -> (&'static str, String) {
    let (state, says) = match machine {
        Machine::Occupancy(sensor) => match sensor.state() {
            occupancy::State::Occupied if sensor.is_window_open() => {
                ("occupied", "somebody is there; sound keeps it so")
            }
            occupancy::State::Occupied => ("occupied", "somebody is there"),
            occupancy::State::Off => ("no power", "has no power"),
            occupancy::State::Unknown => ("unknown", "has sensed nothing yet"),
            occupancy::State::Vacant => ("vacant", "nobody is there"),
            occupancy::State::WarmingUp => ("unknown", "warms up"),
        },
        Machine::Switch(_) => ("at rest", "no button is down"),
        Machine::Card(reader) => match reader.state() {
            card::State::In => ("in", "a card of the room is in"),
            card::State::Lingering => ("lingering", "the card is out and still counts as in"),
            card::State::Out => ("out", "no card is in"),
        },
        Machine::Daylight(sensor) => {
            let seen = sensor.reported().map_or_else(
                || "has reported nothing yet".to_owned(),
                |lux| format!("reported {lux}"),
            );
            return ("measuring", seen);
        }
        Machine::Clock(clock) if clock.is_time_lost() => ("time lost", "does not know the time"),
        Machine::Clock(clock) if clock.is_in_hours() => ("in hours", "the room is open"),
        Machine::Clock(_) => ("after hours", "the room is closed"),
        Machine::Signal(source) => match source.state() {
            signal::State::Off => ("off", "the contact is open"),
            signal::State::On => ("on", "the contact is closed"),
            signal::State::Shed(_) => ("shedding", "demand response asks for less"),
        },
    };
    (state, says.to_owned())
}

/// What a person does, in the words of a row.
fn activity_words(activity: &Activity) -> String {
    match activity {
        Activity::Enters => "enters".to_owned(),
        Activity::SitsStill => "sits still".to_owned(),
        Activity::Types => "types".to_owned(),
        Activity::Talks => "talks".to_owned(),
        Activity::WalksTo(place) => format!("walks to {place}"),
        Activity::Leaves => "leaves".to_owned(),
    }
}

fn log_row(
    names: &Names<'_>,
    clock: &Clock,
    number: usize,
    cause: Option<usize>,
    step: &Step,
) -> LogRow {
    let numbered = |number| u32::try_from(number).unwrap_or(u32::MAX);
    let who = names.subject(&step.what);
    let quiet = match step.what {
        What::Started(slot, _) | What::Stopped(slot) | What::Elapsed(slot) => {
            names.timer(slot).quiet
        }
        _ => false,
    };
    LogRow {
        step: numbered(number),
        at: step.at.as_ms(),
        civil: clock.label(step.at),
        what: names.predicate(&step.what),
        cause: cause.map(numbered),
        frame: matches!(
            step.what,
            What::Sent(..) | What::Arrived(..) | What::Dropped(..)
        ),
        quiet,
        point: who.clone(),
        who,
    }
}

/// Day and time as the page shows them.
pub(crate) fn civil(clock: &Clock, at: Instant) -> String {
    clock.zoned(at).strftime("%a %-d %b %H:%M:%S").to_string()
}

fn hundredths(number: u32) -> f64 {
    f64::from(number) / 100.0
}
