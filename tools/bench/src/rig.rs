//! The product on the workload: its own devices, links and bus, driven from outside.
//!
//! Each room is a [`Simulation`] of one plan. A tap is *down* 100 ms before and *up* at the
//! instant of the press; of the frames, those that the other implementations have too are
//! counted as events: *occupied*, *vacant* and *up*. Timer starts, *down* frames, thresholds
//! and everything else are work on top that no count shows.
//!
//! Invariant: nothing here knows what a device will do; changes and events are read from what
//! the simulation records.

use std::sync::Arc;
use std::thread;

use device::controller::{self, Button, Drive, Heard, HeardKind, Link, Lost, Output, Role};
use device::{Level, Note, Payload, Span, occupancy, switch};
use room::{
    ControllerId, Input, LightModel, OutputId, Plan, PlanController, PlanOutput, PlanSource,
    SourceId, SourceSettings, Stimulus as RoomStimulus, Who,
};
use sim::{Full, Instant, Quality, Recorder, Simulation, Trace, What};

use crate::workload::{Change, Stimuli, Stimulus, Work};

/// How the product is run.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) enum Setup {
    /// No trace, one thread.
    Silent,
    /// No trace, two threads.
    TwoThreads,
    /// The full trace with causes, all of it kept to the end.
    Trace,
    /// The full trace with causes, each room's kept to the end of the room.
    TraceByRoom,
    /// No trace, the devices as they come: reports, fades, dead times, press hold.
    Defaults,
}

/// The stimuli as the product takes them, made beforehand.
#[derive(Debug)]
pub(crate) struct Feed {
    stimuli: Arc<Stimuli>,
    /// When a finger goes down, for each room.
    downs: Vec<Vec<u64>>,
}

/// What a run leaves behind; turned into [`Work`] outside the time.
#[derive(Debug)]
pub(crate) enum Done {
    /// It was counted on the way.
    Work(Work),
    /// It stands in the traces.
    Traces(Vec<Trace>),
}

impl Feed {
    /// Adds the moments at which a finger goes down.
    pub(crate) fn new(stimuli: Arc<Stimuli>) -> Self {
        let downs = (0..stimuli.rooms())
            .map(|room| {
                let mut last_up = 0;
                let presses = stimuli
                    .of(room)
                    .iter()
                    .filter(|timed| timed.stimulus() == Stimulus::Press);
                presses
                    .map(|timed| {
                        // A finger that taps twice within a tap's time is up in between.
                        let earliest = last_up + (timed.ms() - last_up) / 2;
                        last_up = timed.ms();
                        (timed.ms() - TAP_MS).max(earliest)
                    })
                    .collect()
            })
            .collect();
        Self { stimuli, downs }
    }
}

impl Done {
    /// What was done, for the checksum.
    pub(crate) fn into_work(self) -> Work {
        let traces = match self {
            Self::Work(work) => return work,
            Self::Traces(traces) => traces,
        };
        let mut counting = Counting::default();
        for trace in traces {
            for step in &trace.steps {
                counting.count(step.at, &step.what);
            }
            counting.room += 1;
        }
        counting.work
    }
}

/// Builds the rooms and runs them.
pub(crate) fn run(feed: &Feed, setup: Setup) -> Done {
    let rooms = feed.stimuli.rooms();
    let plan = Arc::new(plan(setup));
    match setup {
        Setup::Silent | Setup::Defaults => Done::Work(counted(feed, &plan, 0, rooms)),
        Setup::TwoThreads => {
            let half = rooms / 2;
            let (mut work, mut rest) = thread::scope(|scope| {
                let other = scope.spawn(|| counted(feed, &plan, half, rooms));
                let work = counted(feed, &plan, 0, half);
                (work, other.join().expect("the simulation does not panic"))
            });
            work.events += rest.events;
            work.changes.append(&mut rest.changes);
            Done::Work(work)
        }
        Setup::Trace => {
            let mut traces = Vec::with_capacity(rooms as usize);
            // What is kept takes the memory that it needs and no more.
            traced(feed, &plan, |full| {
                let steps = full.trace.steps.drain(..).collect();
                traces.push(Trace { steps });
            });
            Done::Traces(traces)
        }
        Setup::TraceByRoom => {
            // The steps are counted and stay in the room's trace until the next room begins.
            let mut counting = Counting::default();
            traced(feed, &plan, |full| {
                for step in &full.trace.steps {
                    counting.count(step.at, &step.what);
                }
                counting.room += 1;
            });
            Done::Work(counting.work)
        }
    }
}

/// Runs some of the rooms one after another, without a trace.
fn counted(feed: &Feed, plan: &Arc<Plan>, from: u32, to: u32) -> Work {
    let mut simulation = Simulation::<Counting>::new(Arc::clone(plan), 0, quality);
    for room in from..to {
        simulation.recorder_mut().room = room;
        run_room(&mut simulation, feed, room);
        simulation.reset();
    }
    std::mem::take(&mut simulation.recorder_mut().work)
}

/// Runs every room one after another and hands over the trace of each.
fn traced(feed: &Feed, plan: &Arc<Plan>, mut take: impl FnMut(&mut Full)) {
    let mut simulation = Simulation::<Full>::new(Arc::clone(plan), 0, quality);
    for room in 0..feed.stimuli.rooms() {
        run_room(&mut simulation, feed, room);
        take(simulation.recorder_mut());
        simulation.reset();
    }
}

/// Plays a room's stimuli and lets everything run out.
fn run_room<R: Recorder>(simulation: &mut Simulation<R>, feed: &Feed, room: u32) {
    let mut downs = feed.downs[room as usize].iter();
    let mut down = downs.next().copied().unwrap_or(u64::MAX);
    let stimuli = feed.stimuli.of(room);
    for timed in stimuli {
        let ms = timed.ms();
        while down < ms {
            let press = Input::Stimulus(BUTTON, RoomStimulus::Press(0));
            simulation.apply(Instant::from_ms(down), press);
            down = downs.next().copied().unwrap_or(u64::MAX);
        }
        let input = match timed.stimulus() {
            Stimulus::Motion => Input::Stimulus(SENSOR, RoomStimulus::Motion),
            Stimulus::Sound => Input::Stimulus(SENSOR, RoomStimulus::Sound),
            Stimulus::Press => Input::Stimulus(BUTTON, RoomStimulus::Release(0)),
        };
        simulation.apply(Instant::from_ms(ms), input);
    }
    let last = stimuli.last().map_or(0, |timed| timed.ms());
    simulation.run_until(Instant::from_ms(last + SETTLED_MS));
}

/// Keeps no trace; counts the events that the other implementations have too.
#[derive(Clone, Debug, Default)]
struct Counting {
    room: u32,
    work: Work,
}

impl Counting {
    #[inline]
    fn count(&mut self, at: Instant, what: &What) {
        match what {
            What::Stimulus(_, RoomStimulus::Press(_)) => {}
            What::Stimulus(..)
            | What::Arrived(_, _, Payload::Occupied { .. } | Payload::Vacant | Payload::Up(_))
            | What::Note(Who::Source(_), Note::Vacant) => self.work.events += 1,
            What::Note(Who::Output(output), Note::Target(level) | Note::Fade(level)) => {
                let level = u8::try_from(level.hundredths() / 100);
                self.work.changes.push(Change {
                    ms: at.as_ms(),
                    room: self.room,
                    output: output.0 as u8,
                    level: level.expect("a level is at most 100 %"),
                });
            }
            _ => {}
        }
    }
}

impl Recorder for Counting {
    type Cause = ();

    const KEEPS: bool = false;

    #[inline]
    fn record(&mut self, at: Instant, (): (), what: impl FnOnce() -> What) {
        self.count(at, &what());
    }

    fn steps(&self) -> usize {
        0
    }

    fn truncate(&mut self, _: usize) {}
}

/// The room of the workload, in names that sort as the indices say.
fn plan(setup: Setup) -> Plan {
    let with_defaults = setup == Setup::Defaults;
    let source = |name: &str, settings, buttons: &[&str], heard| PlanSource {
        name: name.to_owned(),
        settings,
        light: LightModel::default(),
        buttons: buttons.iter().map(|&button| button.to_owned()).collect(),
        mains: true,
        listeners: vec![(ControllerId(0), heard)],
    };
    let output = |name: &str, local| PlanOutput {
        name: name.to_owned(),
        controller: ControllerId(0),
        local,
    };
    let mut unit = switch::Settings {
        buttons: vec![switch::Button::Single],
        ..switch::Settings::default()
    };
    let mut sensor = occupancy::Settings {
        sound: true,
        ..occupancy::Settings::default()
    };
    if !with_defaults {
        unit.edge_gap = Span::ZERO;
        sensor.report = None;
        sensor.repeat = None;
        sensor.dead_time = Span::ZERO;
    }
    Plan {
        name: "Office 112".to_owned(),
        controllers: vec![PlanController {
            name: "controller".to_owned(),
            settings: controller_settings(with_defaults, sensor.report),
            heard: vec![BUTTON, SENSOR],
            outputs: vec![LIGHTS, OUTLET],
        }],
        sources: vec![
            source("wall-button", SourceSettings::Switch(unit), &["button"], 0),
            source("wall-sensor", SourceSettings::Occupancy(sensor), &[], 1),
        ],
        outputs: vec![output("desk-lights", 0), output("desk-outlet", 1)],
        ..Plan::default()
    }
}

fn controller_settings(with_defaults: bool, report: Option<Span>) -> controller::Settings {
    let link = |heard, output, role| Link {
        heard,
        output,
        role,
        run_on: Span::ZERO,
        setback: None,
        lost: Lost::Vacant,
        stored: true,
    };
    let mut lights = Output::new(Drive::ZeroToTen);
    if !with_defaults {
        lights.fade_on = Span::ZERO;
        lights.fade_off = Span::ZERO;
        lights.press_hold = Span::ZERO;
    }
    controller::Settings {
        heard: vec![
            Heard {
                kind: HeardKind::Switch,
                silence: None,
            },
            Heard {
                kind: HeardKind::Occupancy,
                silence: report.map(|report| report.scaled(16, 5)),
            },
        ],
        buttons: vec![Button {
            heard: 0,
            number: 0,
            kind: switch::Button::Single,
        }],
        links: vec![
            link(0, 0, Role::Button(0)),
            link(1, 0, Role::PartialOn(Level::from_percent(50))),
            link(1, 1, Role::AutoOn(Level::FULL)),
        ],
        outputs: vec![lights, Output::new(Drive::Receptacle)],
        ..controller::Settings::default()
    }
}

fn quality(_: SourceId, _: ControllerId) -> Quality {
    Quality::default()
}

const BUTTON: SourceId = SourceId(0);
const SENSOR: SourceId = SourceId(1);
const LIGHTS: OutputId = OutputId(0);
const OUTLET: OutputId = OutputId(1);

/// A finger is down for this long.
const TAP_MS: u64 = 100;

/// This long after the last stimulus nothing is left to happen.
const SETTLED_MS: u64 = 16 * 60_000;
