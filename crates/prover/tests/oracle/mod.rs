//! Small rooms, and a search of them that counts milliseconds.

use std::collections::{BTreeMap, VecDeque};
use std::hash::{Hash, Hasher};
use std::sync::Arc;

use clause::{Formula, Names, SourceKind, SourceName, Turn, Verdict};
use device::controller::{self, Button, Drive, Heard, HeardKind, Link, Lost, Output, Role};
use device::{Level, Note, Payload, Span, occupancy, switch};
use proptest::prelude::*;
use prover::Sight;
use prover::model::{Between, Faults, Goal, Levels, Question, Rigor};
use room::{
    Clock, ControllerId, Input, LightModel, Origin, OutputId, Plan, PlanClause, PlanController,
    PlanOutput, PlanSource, Room, Slot, SourceId, SourceSettings, Stimulus, Who,
};

/// A small room and a clause.
#[derive(Clone, Debug)]
pub(crate) struct Case {
    pub(crate) plan: Arc<Plan>,
    pub(crate) stimuli: Vec<(SourceId, Stimulus)>,
    pub(crate) delay: u64,
    /// The clause as it is written, for the report of a failure.
    #[expect(dead_code, reason = "printed with the case")]
    pub(crate) text: String,
}

impl Case {
    pub(crate) fn question(
        &self,
        rigor: Rigor,
        goal: Goal,
        free_reports: Vec<SourceId>,
    ) -> Question {
        let sight = Sight::of(self.plan.clauses.iter().map(|it| &it.formula));
        let delay = Between {
            least: ms(self.delay),
            most: ms(self.delay),
        };
        let over = rigor == Rigor::Over;
        let delays = (0..).map(SourceId).zip(&self.plan.sources);
        let delays = delays.map(|(id, _)| (id, ControllerId(0), delay)).collect();
        Question {
            plan: Arc::clone(&self.plan),
            stimuli: self.stimuli.clone(),
            ghosts: Vec::new(),
            calendars: Vec::new(),
            loose_calendars: false,
            entries_cost: false,
            lead: None,
            delays,
            faults: Faults::default(),
            tolerance: 0,
            one_hand: true,
            apart: true,
            rigor,
            goal,
            levels: Levels::new(vec![Level::OFF, Level::FULL], Vec::new()),
            watches_levels: sight.levels,
            follows_levels: sight.moves,
            doers: sight.doers.clone(),
            remembered: match over {
                true => sight.seen_last.clone(),
                false => Vec::new(),
            },
            free_reports,
            makes_up: Vec::new(),
            prompt: match over {
                true => sight.prompt(&self.plan, |_, _| delay),
                false => Vec::new(),
            },
            light_units: match over {
                true => sight.light_units(&self.plan, |_, _| delay),
                false => Vec::new(),
            },
            seen_presses: sight.presses,
        }
    }
}

fn ms(ms: u64) -> Span {
    Span::from_ms(ms)
}

fn small() -> impl Strategy<Value = u64> {
    1..7_u64
}

/// The spans of a small room.
#[derive(Clone, Debug)]
struct Spans {
    delay: u64,
    window: u64,
    dead: u64,
    grace: u64,
    link: u64,
    threshold: u64,
    gap: u64,
    press_hold: u64,
    re_entry: u64,
    run_on: u64,
}

prop_compose! {
    fn spans()(
        delay in 2..6_u64, window in 0..9_u64, dead in 0..3_u64, grace in 0..3_u64,
        link in 0..3_u64, threshold in 2..4_u64, gap in 0..3_u64, press_hold in 0..5_u64,
        re_entry in 0..4_u64, run_on in 0..4_u64,
    ) -> Spans {
        Spans { delay, window, dead, grace, link, threshold, gap, press_hold, re_entry, run_on }
    }
}

/// Small rooms of a sensor and a wall unit, with a clause each.
pub(crate) fn cases() -> impl Strategy<Value = Case> {
    (spans(), 0..3_usize, any::<bool>(), clauses(), 0..4_u64).prop_map(
        |(spans, role, sound, fields, reaction)| {
            let mut case = case(&["sensor"], (&spans, role, sound), &fields, reaction);
            for button in 0..2 {
                case.stimuli.push((BUTTONS, Stimulus::Press(button)));
                case.stimuli.push((BUTTONS, Stimulus::Release(button)));
            }
            case
        },
    )
}

/// Small rooms of two sensors that can be exchanged, each with a clause that does not tell them
/// apart.
pub(crate) fn pairs() -> impl Strategy<Value = Case> {
    let room = (spans(), 0..2_usize, any::<bool>());
    (room, clauses_of_pairs(), 0..3_u64).prop_map(|((spans, role, sound), fields, reaction)| {
        case(&["east", "west"], (&spans, role, sound), &fields, reaction)
    })
}

fn case(
    sensors: &[&str],
    (spans, role, sound): (&Spans, usize, bool),
    fields: &[(&'static str, String)],
    reaction: u64,
) -> Case {
    let mut plan = room(sensors, spans, role, sound);
    let fields: Vec<(&str, &str)> = fields
        .iter()
        .map(|(key, text)| (*key, text.as_str()))
        .collect();
    let formula = Formula::parse(&fields, &names(sensors), ms(reaction));
    plan.clauses.push(PlanClause {
        id: "X".into(),
        formula: formula.expect("the clause reads"),
    });
    let mut stimuli = Vec::new();
    for id in (1..).map(SourceId).take(sensors.len()) {
        stimuli.push((id, Stimulus::Motion));
        if sound {
            stimuli.push((id, Stimulus::Sound));
        }
    }
    Case {
        plan: Arc::new(plan),
        stimuli,
        delay: spans.link,
        text: format!("{fields:?} reaction {reaction} ms"),
    }
}

const BUTTONS: SourceId = SourceId(0);

fn clauses() -> impl Strategy<Value = Vec<(&'static str, String)>> {
    let span = || small().prop_map(|ms| format!("{ms} ms"));
    let one = |key: &'static str, text: &str| Just(vec![(key, text.to_owned())]);
    prop_oneof![
        one("never", "sensor turns on lamp"),
        one("never", "buttons turns off lamp"),
        one("never", "sensor sound turns on lamp"),
        one("never", "lamp is on and lamp is latched"),
        span().prop_map(|d| vec![(
            "never",
            format!("sensor turns off lamp within {d} of motion at sensor")
        )]),
        span().prop_map(|d| vec![("always", format!("lamp does not change for {d}"))]),
        span().prop_map(|d| vec![(
            "always",
            format!("lamp turns off only after lamp is occupied for {d}")
        )]),
        span().prop_map(|d| vec![("never", format!("more than 2 lamp turns on within {d}"))]),
        span().prop_map(|d| vec![
            ("when", "sensor becomes occupied".into()),
            ("then", "lamp is on".into()),
            ("within", d)
        ]),
        span().prop_map(|d| vec![
            ("when", "buttons/up tap".into()),
            ("then", "lamp is on".into()),
            ("within", d)
        ]),
        span().prop_map(|d| vec![
            ("when", "buttons/down press".into()),
            ("then", "lamp is off".into()),
            ("within", d)
        ]),
        (small(), small()).prop_map(|(a, b)| vec![
            (
                "when",
                format!(
                    "no motion at sensor for {} ms and no buttons press for {} ms",
                    a + 4,
                    b + 4
                )
            ),
            ("then", "lamp is off".into())
        ]),
        (small(), small()).prop_map(|(a, b)| vec![
            ("when", "lamp turns off".into()),
            ("then", "lamp is off".into()),
            ("for", format!("{} ms", a + 4)),
            ("until", format!("no motion at sensor for {b} ms"))
        ]),
        span().prop_map(|d| vec![
            ("when", "buttons turns off lamp".into()),
            ("then", "lamp is off".into()),
            (
                "until",
                format!("(lamp is vacant) for {d} or buttons turns on lamp")
            )
        ]),
        span().prop_map(|d| vec![
            ("when", "lamp becomes vacant".into()),
            ("then", "lamp is off".into()),
            ("within", d),
            ("unless", "lamp is occupied".into())
        ]),
    ]
}

fn clauses_of_pairs() -> impl Strategy<Value = Vec<(&'static str, String)>> {
    let span = || small().prop_map(|ms| format!("{ms} ms"));
    let long = || small().prop_map(|ms| format!("{} ms", ms + 3));
    prop_oneof![
        long().prop_map(|d| vec![(
            "never",
            format!("lamp is on and no motion at any of east, west for {d}")
        )]),
        span().prop_map(|d| vec![(
            "never",
            format!("(east turns off lamp or west turns off lamp) within {d} of motion at any of east, west")
        )]),
        span().prop_map(|d| vec![
            ("when", "motion at any of east, west".into()),
            ("then", "lamp is on".into()),
            ("within", d)
        ]),
        (long(), span()).prop_map(|(d, within)| vec![
            ("when", format!("no motion at any of east, west for {d}")),
            ("then", "lamp is off".into()),
            ("within", within)
        ]),
        span().prop_map(|d| vec![("always", format!("lamp does not change for {d}"))]),
        span().prop_map(|d| vec![(
            "always",
            format!("lamp turns off only after lamp is occupied for {d}")
        )]),
        long().prop_map(|d| vec![("never", format!("more than 2 lamp turns on within {d}"))]),
        span().prop_map(|d| vec![
            ("when", "lamp becomes occupied".into()),
            ("then", "lamp is on".into()),
            ("within", d)
        ]),
        span().prop_map(|d| vec![(
            "never",
            format!("east is vacant and west is vacant and lamp is on for {d}")
        )]),
        long().prop_map(|d| vec![
            ("when", "lamp turns off".into()),
            ("then", "lamp is off".into()),
            ("for", d),
            ("until", "motion at any of east, west".into())
        ]),
        span().prop_map(|d| vec![(
            "never",
            format!("(east is occupied or west is occupied) and lamp is off for {d}")
        )]),
    ]
}

fn names(sensors: &[&str]) -> Names {
    let source = |name: &str, kind, buttons: &[&str]| SourceName {
        name: name.into(),
        kind,
        buttons: buttons.iter().map(|it| (*it).into()).collect(),
    };
    Names {
        sources: [source("buttons", SourceKind::Switch, &["up", "down"])]
            .into_iter()
            .chain(
                sensors
                    .iter()
                    .map(|it| source(it, SourceKind::Occupancy { sound: true }, &[])),
            )
            .collect(),
        outputs: vec!["lamp".into()],
        groups: Vec::new(),
    }
}

fn room(sensors: &[&str], spans: &Spans, role: usize, sound: bool) -> Plan {
    let source = |name: &str, heard, settings, buttons: &[&str]| PlanSource {
        name: name.into(),
        settings,
        light: LightModel::default(),
        buttons: buttons.iter().map(|it| (*it).into()).collect(),
        mains: true,
        listeners: vec![(ControllerId(0), heard)],
    };
    let unit = SourceSettings::Switch(switch::Settings {
        buttons: vec![switch::Button::Up, switch::Button::Down],
        edge_gap: ms(spans.gap),
    });
    let sensor = SourceSettings::Occupancy(occupancy::Settings {
        sound,
        time_delay: ms(spans.delay),
        window: ms(match spans.window < spans.delay {
            true => 0,
            false => spans.window,
        }),
        grace: ms(spans.grace),
        report: None,
        repeat: None,
        dead_time: ms(spans.dead),
        ..occupancy::Settings::default()
    });
    let sensors = (1..)
        .zip(sensors)
        .map(|(heard, name)| source(name, heard, sensor.clone(), &[]));
    let sources: Vec<PlanSource> = [source("buttons", 0, unit, &["up", "down"])]
        .into_iter()
        .chain(sensors)
        .collect();
    Plan {
        name: "small".into(),
        controllers: vec![PlanController {
            name: "controller".into(),
            settings: controller(sources.len() as u8 - 1, spans, role),
            heard: (0..).map(SourceId).take(sources.len()).collect(),
            outputs: vec![OutputId(0)],
        }],
        sources,
        outputs: vec![PlanOutput {
            name: "lamp".into(),
            controller: ControllerId(0),
            local: 0,
        }],
        ..Plan::default()
    }
}

fn controller(sensors: u8, spans: &Spans, role: usize) -> controller::Settings {
    let role = match role {
        0 => Role::AutoOn(Level::FULL),
        1 => Role::PartialOn(Level::FULL),
        _ => Role::ManualOn,
    };
    let link = |heard, role: &Role, run_on| Link {
        heard,
        output: 0,
        role: role.clone(),
        run_on,
        setback: None,
        lost: Lost::Vacant,
        stored: true,
    };
    let mut lamp = Output::new(Drive::Relay);
    lamp.press_hold = ms(spans.press_hold);
    lamp.grace = ms(spans.re_entry);
    controller::Settings {
        heard: (0..=sensors)
            .map(|heard| Heard {
                kind: match heard {
                    0 => HeardKind::Switch,
                    _ => HeardKind::Occupancy,
                },
                silence: None,
            })
            .collect(),
        buttons: vec![
            Button {
                heard: 0,
                number: 0,
                kind: switch::Button::Up,
            },
            Button {
                heard: 0,
                number: 1,
                kind: switch::Button::Down,
            },
        ],
        links: [0, 1]
            .map(|button| link(0, &Role::Button(button), Span::ZERO))
            .into_iter()
            .chain((1..=sensors).map(|heard| link(heard, &role, ms(spans.run_on))))
            .collect(),
        outputs: vec![lamp],
        hold_threshold: ms(spans.threshold),
        ..controller::Settings::default()
    }
}

/// What the search by ticks found.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) enum Plain {
    Holds,
    Broken,
    TooLarge,
}

/// A room at a tick.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
struct Tick {
    room: Room,
    timers: BTreeMap<u16, (u64, Origin)>,
    flights: Vec<(u64, SourceId, Payload, Origin)>,
}

/// The ticks that were seen, found by their hash and then compared.
#[derive(Default)]
struct Seen {
    by_hash: BTreeMap<u64, Vec<Tick>>,
    count: usize,
}

impl Seen {
    /// Whether the tick is new.
    fn insert(&mut self, tick: Tick) -> bool {
        let mut hasher = rustc_hash::FxHasher::default();
        tick.hash(&mut hasher);
        let alike = self.by_hash.entry(hasher.finish()).or_default();
        let new = !alike.contains(&tick);
        if new {
            alike.push(tick);
            self.count += 1;
        }
        new
    }
}

/// Explores every stimulus at every tick.
pub(crate) fn plain(case: &Case, most: usize) -> Plain {
    let mut first = Tick {
        room: Room::new(Arc::clone(&case.plan)),
        timers: BTreeMap::new(),
        flights: Vec::new(),
    };
    let mut room = first.room.clone();
    let mut clock = Ticking::new(&mut first, case.delay, Origin::Start);
    room.start(&mut clock);
    first.room = room;
    let mut seen = Seen::default();
    let mut waiting = VecDeque::new();
    let mut all = vec![];
    happen(case, first, true, &mut all);
    loop {
        for (tick, broken) in all.drain(..) {
            if broken {
                return Plain::Broken;
            }
            if seen.insert(tick.clone()) {
                waiting.push_back(tick);
            }
        }
        if seen.count > most {
            return Plain::TooLarge;
        }
        let Some(mut tick) = waiting.pop_front() else {
            return Plain::Holds;
        };
        for (left, _) in tick.timers.values_mut() {
            *left -= 1;
        }
        for (left, ..) in &mut tick.flights {
            *left -= 1;
        }
        happen(case, tick, false, &mut all);
    }
}

/// Everything that may happen at this tick.
fn happen(case: &Case, tick: Tick, first: bool, all: &mut Vec<(Tick, bool)>) {
    all.push(instant(case, tick.clone(), first, None));
    // Frames of the instant arrive before its stimuli.
    let mut heard = tick.clone();
    arrive(case, &mut heard);
    for &(source, stimulus) in &case.stimuli {
        if may(&heard, source, stimulus) {
            all.push(instant(case, tick.clone(), first, Some((source, stimulus))));
        }
    }
}

/// The assumptions of the proof: one button at a time, and a finger is where it was.
fn may(tick: &Tick, source: SourceId, stimulus: Stimulus) -> bool {
    let room::Machine::Switch(unit) = tick.room.source(source).machine() else {
        return true;
    };
    let on_its_way = tick.flights.iter().any(|(_, from, ..)| *from == source);
    match stimulus {
        Stimulus::Press(_) => tick.room.is_untouched() && !on_its_way,
        Stimulus::Release(button) => unit.is_down(button),
        _ => true,
    }
}

/// One instant, as the numeric clock runs it.
fn instant(
    case: &Case,
    mut tick: Tick,
    first: bool,
    stimulus: Option<(SourceId, Stimulus)>,
) -> (Tick, bool) {
    let mut happened = first || stimulus.is_some();
    happened |= arrive(case, &mut tick);
    if let Some((source, stimulus)) = stimulus {
        let input = Input::Stimulus(source, stimulus);
        let origin = Origin::of(&input);
        handle(case, &mut tick, origin, input);
        arrive(case, &mut tick);
    }
    // Device timers have the lower slots, deadlines of clauses the higher.
    while let Some(slot) = tick
        .timers
        .iter()
        .find(|(_, (left, _))| *left == 0)
        .map(|it| *it.0)
    {
        happened = true;
        let (_, origin) = tick.timers.remove(&slot).expect("it was found");
        handle(case, &mut tick, origin, Input::Elapsed(Slot(slot)));
        arrive(case, &mut tick);
    }
    if happened {
        let mut room = tick.room.clone();
        let mut clock = Ticking::new(&mut tick, case.delay, Origin::Start);
        room.settle(&mut clock);
        tick.room = room;
    }
    let broken = tick.room.verdicts().any(|it| it == Verdict::Broken);
    tick.room.forget_exercise();
    let sight = Sight::of(case.plan.clauses.iter().map(|it| &it.formula));
    tick.room.forget_sights(sight.levels);
    if sight.doers.is_empty() {
        for (_, origin) in tick.timers.values_mut() {
            *origin = Origin::Start;
        }
        for (_, _, _, origin) in &mut tick.flights {
            *origin = Origin::Start;
        }
    }
    (tick, broken)
}

/// Takes the frames that arrive, the weakest cause first.
fn arrive(case: &Case, tick: &mut Tick) -> bool {
    let mut due: Vec<_> = tick
        .flights
        .iter()
        .filter(|it| it.0 == 0)
        .copied()
        .collect();
    tick.flights.retain(|it| it.0 > 0);
    due.sort_by_key(|(_, source, ..)| (case.plan.sources[usize::from(source.0)].rank(), source.0));
    let any = !due.is_empty();
    for (_, source, payload, origin) in due {
        let input = Input::Frame {
            listener: ControllerId(0),
            source,
            payload,
        };
        handle(case, tick, origin, input);
    }
    any
}

fn handle(case: &Case, tick: &mut Tick, origin: Origin, input: Input) {
    let mut room = tick.room.clone();
    let mut clock = Ticking::new(tick, case.delay, origin);
    room.handle(input, &mut clock);
    tick.room = room;
}

/// A clock that counts.
struct Ticking<'a> {
    tick: &'a mut Tick,
    delay: u64,
    origin: Origin,
}

impl<'a> Ticking<'a> {
    fn new(tick: &'a mut Tick, delay: u64, origin: Origin) -> Self {
        Self {
            tick,
            delay,
            origin,
        }
    }
}

impl Clock for Ticking<'_> {
    fn start(&mut self, slot: Slot, span: Span) {
        self.tick.timers.insert(slot.0, (span.as_ms(), self.origin));
    }

    fn stop(&mut self, slot: Slot) {
        self.tick.timers.remove(&slot.0);
    }

    fn remaining(&self, slot: Slot) -> Option<Span> {
        self.tick.timers.get(&slot.0).map(|(left, _)| ms(*left))
    }

    fn send(&mut self, source: SourceId, payload: Payload) {
        self.tick
            .flights
            .push((self.delay, source, payload, self.origin));
    }

    fn note(&mut self, _: Who, _: Note) {}

    fn turn(&mut self, _: u16, _: Turn) {}

    fn origin(&self) -> Origin {
        self.origin
    }
}
