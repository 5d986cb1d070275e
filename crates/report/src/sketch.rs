//! Runs sketched by hand for the tests: a small room whose trace is written step by step with
//! the causes that the simulator gives.

use device::{Level, Note, Payload, Span, controller, occupancy, switch};
use room::{
    ControllerId, OutputId, Plan, PlanClause, PlanController, PlanOutput, PlanSource, Slot, Slots,
    SourceId, SourceSettings, Stimulus, Who,
};
use sim::{Instant, Light, OutputState, OutputView, Step, StepId, Trace, What};

use crate::clock::Clock;
use crate::run::{Check, Clause, Place, Run};
use crate::verdict::Verdict;
use crate::words::Names;

/// `wall-sensor`, dual technology.
pub(crate) const SENSOR: SourceId = SourceId(1);
/// `wall-button`, one up/down pair.
pub(crate) const BUTTON: SourceId = SourceId(0);
/// `desk-lights`, 0–10 V.
pub(crate) const LIGHTS: OutputId = OutputId(0);
/// `desk-outlet`, a receptacle.
pub(crate) const OUTLET: OutputId = OutputId(1);
const CONTROLLER: ControllerId = ControllerId(0);
/// The timers that sketches use.
#[derive(Clone, Copy)]
pub(crate) enum Timer {
    /// Time delay T of the sensor.
    T,
    /// Sound window W of the sensor.
    W,
}

/// A run that is being sketched.
pub(crate) struct Sketch {
    pub(crate) plan: Plan,
    pub(crate) trace: Trace,
    pub(crate) checks: Vec<Check>,
    pub(crate) clauses: Vec<Clause>,
    pub(crate) places: std::collections::BTreeMap<StepId, Place>,
    views: [OutputView; 2],
    row: u32,
    now: u64,
    started: [StepId; 2],
    pub(crate) title: String,
    pub(crate) start: String,
}

impl Sketch {
    pub(crate) fn new(title: &str, start: &str) -> Self {
        let dark = Light {
            now: Level::OFF,
            to: Level::OFF,
            within: Span::ZERO,
        };
        let view = OutputView {
            state: OutputState::Off,
            asked: Level::OFF,
            target: Level::OFF,
            light: dark,
            closed: false,
            occupied: false,
            latch: false,
            by_hand: false,
            emergency: false,
        };
        let mut sketch = Self {
            plan: plan(),
            trace: Trace::default(),
            checks: Vec::new(),
            clauses: Vec::new(),
            places: std::collections::BTreeMap::new(),
            views: [view; 2],
            row: 10,
            now: 0,
            started: [StepId::FIRST; 2],
            title: title.to_owned(),
            start: start.to_owned(),
        };
        for output in [LIGHTS, OUTLET] {
            sketch.step(0, None, What::Output(output, Box::new(view)));
        }
        sketch
    }

    pub(crate) fn step(&mut self, at: u64, cause: Option<StepId>, what: What) -> StepId {
        assert!(at >= self.now, "sketched steps are in order of time");
        self.now = at;
        let at = Instant::from_ms(at);
        self.trace.steps.push(Step { at, cause, what });
        StepId::at(self.trace.steps.len() - 1)
    }

    /// Something that a row of the scenario puts there.
    pub(crate) fn stimulus(&mut self, at: u64, source: SourceId, what: Stimulus) -> StepId {
        let step = self.step(at, None, What::Stimulus(source, what));
        self.row += 1;
        let place = Place {
            file: "quiet-reading.toml".to_owned(),
            line: self.row,
            column: 3,
        };
        self.places.insert(step, place);
        step
    }

    pub(crate) fn note(&mut self, at: u64, cause: StepId, who: Who, note: Note) -> StepId {
        self.step(at, Some(cause), What::Note(who, note))
    }

    pub(crate) fn start(&mut self, at: u64, cause: StepId, timer: Timer, span: Span) {
        let slot = self.slot(timer);
        self.started[timer as usize] = self.step(at, Some(cause), What::Started(slot, span));
    }

    fn slot(&self, timer: Timer) -> Slot {
        let timer = match timer {
            Timer::T => occupancy::Timer::Delay,
            Timer::W => occupancy::Timer::Window,
        };
        Slots::new(&self.plan).source(SENSOR, timer.number())
    }

    pub(crate) fn elapse(&mut self, at: u64, timer: Timer) -> StepId {
        let slot = self.slot(timer);
        let cause = self.started[timer as usize];
        self.step(at, Some(cause), What::Elapsed(slot))
    }

    /// A frame on its way, 10 ms long.
    pub(crate) fn frame(
        &mut self,
        at: u64,
        cause: StepId,
        source: SourceId,
        says: Payload,
    ) -> StepId {
        let sent = self.step(at, Some(cause), What::Sent(source, 0, says));
        self.step(at + 10, Some(sent), What::Arrived(CONTROLLER, source, says))
    }

    /// An output shows something else from here on.
    pub(crate) fn show(
        &mut self,
        at: u64,
        cause: StepId,
        output: OutputId,
        change: impl FnOnce(&mut OutputView),
    ) {
        let view = &mut self.views[usize::from(output.0)];
        change(view);
        let view = *view;
        self.step(at, Some(cause), What::Output(output, Box::new(view)));
    }

    /// An output goes on at `percent` by a one-second fade.
    pub(crate) fn turn_on(&mut self, at: u64, cause: StepId, output: OutputId, percent: u16) {
        let level = Level::from_percent(percent);
        self.note(at, cause, Who::Output(output), Note::TurnedOn(level));
        let dims = output == LIGHTS;
        self.show(at, cause, output, |view| {
            view.state = OutputState::On;
            view.asked = level;
            view.target = level;
            view.occupied = true;
            view.closed = true;
            view.light = Light {
                now: if dims { Level::from_percent(10) } else { level },
                to: level,
                within: Span::from_seconds(u64::from(dims)),
            };
        });
    }

    /// An output goes off by a two-second fade.
    pub(crate) fn turn_off(&mut self, at: u64, cause: StepId, output: OutputId) {
        self.note(at, cause, Who::Output(output), Note::TurnedOff);
        let dims = output == LIGHTS;
        self.show(at, cause, output, |view| {
            view.light = Light {
                now: if dims { view.target } else { Level::OFF },
                to: Level::OFF,
                within: Span::from_seconds(u64::from(dims) * 2),
            };
            view.state = OutputState::Off;
            view.target = Level::OFF;
            view.occupied = false;
            view.closed = false;
        });
    }

    /// Motion at the sensor that is seen for the first time.
    pub(crate) fn arrive(&mut self, at: u64) {
        let motion = self.stimulus(at, SENSOR, Stimulus::Motion);
        self.note(at, motion, Who::Source(SENSOR), Note::Occupied);
        self.start(at, motion, Timer::T, Span::from_minutes(15));
        self.start(at, motion, Timer::W, Span::from_minutes(60));
        let heard = self.frame(at, motion, SENSOR, Payload::Occupied { bright: false });
        self.turn_on(at + 10, heard, LIGHTS, 50);
        self.turn_on(at + 10, heard, OUTLET, 100);
    }

    /// A sound while the sensor is occupied.
    pub(crate) fn sound(&mut self, at: u64, counts: bool) {
        let sound = self.stimulus(at, SENSOR, Stimulus::Sound);
        self.row -= 1;
        if counts {
            self.start(at, sound, Timer::T, Span::from_minutes(15));
        } else {
            let why = Note::Ignored(device::Ignored::WindowClosed);
            self.note(at, sound, Who::Source(SENSOR), why);
        }
    }

    /// The sensor's time delay ends and the room goes dark.
    pub(crate) fn leave(&mut self, at: u64) {
        let ended = self.elapse(at, Timer::T);
        self.note(at, ended, Who::Source(SENSOR), Note::Vacant);
        let heard = self.frame(at, ended, SENSOR, Payload::Vacant);
        self.turn_off(at + 10, heard, LIGHTS);
        self.turn_off(at + 10, heard, OUTLET);
    }

    pub(crate) fn close_window(&mut self, at: u64) {
        let ended = self.elapse(at, Timer::W);
        self.note(at, ended, Who::Source(SENSOR), Note::WindowClosed);
    }

    pub(crate) fn check(&mut self, at: u64, to: u64, point: &str, says: &str, found: &str) {
        self.row += 1;
        self.checks.push(Check {
            place: Place {
                file: "quiet-reading.toml".to_owned(),
                line: self.row,
                column: 4,
            },
            point: point.to_owned(),
            says: says.to_owned(),
            from: Instant::from_ms(at),
            to: Instant::from_ms(to),
            verdict: if found.is_empty() {
                Verdict::Held
            } else {
                Verdict::Broken
            },
            at: Instant::from_ms(to),
            found: found.to_owned(),
            as_expected: found.is_empty(),
            lit: None,
        });
    }

    pub(crate) fn clause(&mut self, id: &str, says: &str, verdict: Verdict) -> u16 {
        let line = 3 + 5 * u32::try_from(self.clauses.len()).unwrap();
        self.clauses.push(Clause {
            id: id.to_owned(),
            says: says.to_owned(),
            place: Place {
                file: "sequence.toml".to_owned(),
                line,
                column: 1,
            },
            halves: Vec::new(),
            verdict,
            as_expected: verdict != Verdict::Broken,
            links: Vec::new(),
        });
        self.plan.clauses.push(PlanClause {
            id: id.to_owned(),
            formula: some_formula(),
        });
        u16::try_from(self.clauses.len() - 1).unwrap()
    }

    pub(crate) fn turn(&mut self, at: u64, cause: StepId, clause: u16, turn: clause::Turn) {
        self.step(at, Some(cause), What::Clause(clause, turn));
    }

    /// The run, ended at `end`.
    pub(crate) fn run(&self, end: u64) -> Run<'_> {
        Run {
            names: Names::new(&self.plan),
            trace: &self.trace,
            clock: Clock::new(self.start.parse().unwrap()),
            title: self.title.clone(),
            file: "quiet-reading.toml".to_owned(),
            values: Vec::new(),
            end: Instant::from_ms(end),
            places: self.places.clone(),
            people: std::collections::BTreeMap::new(),
            checks: self.checks.clone(),
            clauses: self.clauses.clone(),
            settings: None,
        }
    }
}

/// A formula that nothing judges: sketches write the turns of their clauses themselves.
fn some_formula() -> clause::Formula {
    let names = clause::Names {
        outputs: vec!["desk-lights".to_owned()],
        ..clause::Names::default()
    };
    clause::Formula::parse(
        &[("always", "desk-lights is on")],
        &names,
        Span::from_seconds(1),
    )
    .unwrap()
}

fn plan() -> Plan {
    let sensor = occupancy::Settings {
        sound: true,
        ..occupancy::Settings::default()
    };
    let source = |name: &str, settings, buttons: &[&str]| PlanSource {
        name: name.to_owned(),
        settings,
        light: room::LightModel::default(),
        buttons: buttons.iter().map(|name| (*name).to_owned()).collect(),
        mains: true,
        listeners: vec![(CONTROLLER, 0)],
    };
    let output = |name: &str, local| PlanOutput {
        name: name.to_owned(),
        controller: CONTROLLER,
        local,
    };
    let link = |heard, output, role| controller::Link {
        heard,
        output,
        role,
        run_on: Span::ZERO,
        setback: None,
        lost: controller::Lost::Vacant,
        stored: true,
    };
    let half = Level::from_percent(50);
    Plan {
        name: "Office 112".to_owned(),
        sources: vec![
            source(
                "wall-button",
                SourceSettings::Switch(switch::Settings::default()),
                &["up", "down"],
            ),
            source("wall-sensor", SourceSettings::Occupancy(sensor), &[]),
        ],
        controllers: vec![PlanController {
            name: "office-112".to_owned(),
            settings: controller::Settings {
                links: vec![
                    link(0, 0, controller::Role::Button(0)),
                    link(1, 0, controller::Role::PartialOn(half)),
                    link(1, 1, controller::Role::AutoOn(Level::FULL)),
                ],
                outputs: vec![
                    controller::Output::new(controller::Drive::ZeroToTen),
                    controller::Output::new(controller::Drive::Receptacle),
                ],
                ..controller::Settings::default()
            },
            heard: vec![BUTTON, SENSOR],
            outputs: vec![LIGHTS, OUTLET],
        }],
        outputs: vec![output("desk-lights", 0), output("desk-outlet", 1)],
        ..Plan::default()
    }
}

/// Somebody reads quietly; a sound each 30 s holds the room for an hour and a quarter.
pub(crate) fn quiet_reading() -> Sketch {
    let mut sketch = Sketch::new(
        "Somebody reads quietly, then a radio is left on",
        "2026-03-02T08:00:00[UTC]",
    );
    let a1 = sketch.clause(
        "A1",
        "The wall button never changes the receptacle.",
        Verdict::NeverExercised,
    );
    let a2 = sketch.clause(
        "A2",
        "Once the room has been quiet for the time delay, the lights go off within the reaction.",
        Verdict::Held,
    );
    let a4 = sketch.clause(
        "A4",
        "A sound never holds the lights longer than an hour after the last motion.",
        Verdict::Broken,
    );
    assert_eq!((a1, a2, a4), (0, 1, 2));
    sketch.arrive(0);
    sketch.check(1_000, 1_000, "desk-lights", "is 50 %", "");
    sketch.check(1_000, 1_000, "desk-outlet", "is on", "");
    let mut at = 60_000;
    while at < 3_600_000 {
        sketch.sound(at, true);
        at += 30_000;
    }
    sketch.sound(3_600_000, true);
    sketch.close_window(3_600_000);
    let closed = StepId::at(sketch.trace.steps.len() - 1);
    sketch.turn(3_600_000, closed, a4, clause::Turn::Triggered);
    at = 3_630_000;
    while at < 4_500_000 {
        sketch.sound(at, false);
        at += 30_000;
    }
    sketch.check(4_499_000, 4_499_000, "desk-lights", "is on", "");
    sketch.turn(4_499_500, closed, a4, clause::Turn::Broken);
    sketch.leave(4_500_000);
    let off = StepId::at(sketch.trace.steps.len() - 1);
    sketch.turn(4_500_010, off, a2, clause::Turn::Held);
    sketch.check(4_501_000, 4_501_000, "desk-lights", "is on", "was off");
    sketch.check(
        4_501_000,
        4_800_000,
        "desk-outlet",
        "stays off for 5 min",
        "",
    );
    sketch
}
