//! What holds in every room, whatever happens in it.

use std::sync::Arc;

use clause::{Formula, Names};
use device::controller::{OutputTimer, State, Timer};
use device::{Level, Span, occupancy};
use proptest::prelude::*;
use room::{Device, Input, Machine, OutputId, Plan, SlotOwner, SourceId, Stimulus};
use sim::{Full, Impairment, Instant, LinkFault, Quality, Recorder, Share, Silent, Simulation};

use crate::random::{Act, Row, Scope, WHOLE, acts, case, cases, give, site};

fn begin<R: Recorder>(plan: &Arc<Plan>, seed: u64) -> Simulation<R> {
    Simulation::new(Arc::clone(plan), seed, |_, _| Quality {
        jitter: Span::from_ms(20),
        ..Quality::default()
    })
}

/// Runs what happens, and every instant until `end`, looking at the room after each.
pub(crate) fn watch(
    plan: &Arc<Plan>,
    acts: &[(Instant, Act)],
    tail: Span,
    mut look: impl FnMut(&Simulation<Silent>),
) {
    let mut simulation = begin::<Silent>(plan, 7);
    let mut acts = acts.iter().peekable();
    let end = acts
        .clone()
        .last()
        .map_or(Instant::START, |&(at, _)| at)
        .after(tail);
    loop {
        let next = simulation.next_instant();
        let given = acts.peek().map_or(Instant::NEVER, |&&(at, _)| at);
        let at = next.min(given);
        if at > end {
            return;
        }
        while let Some((_, act)) = acts.next_if(|&&(of, _)| of == at) {
            give(&mut simulation, at, act);
        }
        simulation.run_until(at);
        look(&simulation);
    }
}

fn remaining(simulation: &Simulation<Silent>, output: OutputId, timer: OutputTimer) -> bool {
    let at = &simulation.plan().outputs[usize::from(output.0)];
    let owner = SlotOwner::Controller(at.controller, Timer::Output(at.local, timer));
    let slot = simulation.room().slots().slot(owner);
    simulation.remaining(slot).is_some()
}

pub(crate) fn outputs(plan: &Plan) -> impl Iterator<Item = OutputId> + use<> {
    (0..u16::try_from(plan.outputs.len()).unwrap()).map(OutputId)
}

/// T runs while a sensor is occupied or unknown, and only then.
fn check_time_delay(simulation: &Simulation<Silent>) {
    let count = u16::try_from(simulation.plan().sources.len()).unwrap();
    for id in (0..count).map(SourceId) {
        if let Machine::Occupancy(sensor) = simulation.room().source(id).machine() {
            let number = occupancy::Timer::Delay.number();
            let slot = simulation.room().slots().source(id, number);
            let runs = simulation.remaining(slot).is_some();
            let needed = matches!(
                sensor.state(),
                occupancy::State::Occupied | occupancy::State::Unknown
            );
            assert_eq!(runs, needed, "T of {id:?} in {:?}", sensor.state());
        }
    }
}

/// A ramp belongs to a press that is down; no warning while off; the chain of OUT-1.
fn check_output(simulation: &Simulation<Silent>, output: OutputId) {
    let at = &simulation.plan().outputs[usize::from(output.0)];
    let controller = simulation.room().controller(at.controller);
    let settings = &simulation.plan().controllers[usize::from(at.controller.0)].settings;
    let spec = &settings.outputs[usize::from(at.local)];
    let view = simulation.view(output);
    let seen = simulation.room().view(output, simulation.clock());
    let (state, shed) = (seen.state, seen.shed);

    assert_ne!(
        controller.ramp_owner(at.local),
        Some(None),
        "a ramp without a press"
    );
    let ramps = remaining(simulation, output, OutputTimer::Ramp);
    assert_eq!(ramps, controller.ramp_owner(at.local).is_some());
    let warns = remaining(simulation, output, OutputTimer::Warning);
    assert!(
        !warns || state == State::Warning,
        "a warning while {state:?}"
    );
    // A warning that ends under a finger waits for the gesture (OUT-9).
    let waits = view.occupied || !controller.is_powered();
    assert!(
        warns || waits || state != State::Warning,
        "an endless warning"
    );

    let floor = spec.floor.unwrap_or(Level::OFF);
    if view.emergency {
        assert_eq!(view.target, Level::FULL);
        return;
    }
    assert!(view.target >= floor, "the floor is under everything");
    if state == State::Off {
        assert_eq!(view.target, floor, "off is dark, but for the floor");
        return;
    }
    // SET-1: a high trim changed in a shed acts when the shed ends.
    let shed = shed || remaining(simulation, output, OutputTimer::Shed);
    let trim = if shed { Level::FULL } else { spec.high_trim };
    let highest = view.asked.min(trim).max(spec.low_trim).max(floor);
    assert!(view.target <= highest, "{view:?} over {highest}");
    let dark = view.target <= floor;
    assert!(
        view.target >= spec.low_trim || dark,
        "{view:?} under the low trim"
    );
}

/// The light of an egress output is never under its floor while its controller has power and
/// its relay works.
fn check_floor(simulation: &Simulation<Silent>, stuck: bool) {
    for output in outputs(simulation.plan()) {
        let at = &simulation.plan().outputs[usize::from(output.0)];
        let settings = &simulation.plan().controllers[usize::from(at.controller.0)].settings;
        let powered = simulation
            .room()
            .is_powered(Device::Controller(at.controller));
        if let Some(floor) = settings.outputs[usize::from(at.local)].floor
            && powered
            && !stuck
        {
            let view = simulation.view(output);
            assert!(view.light.now >= floor, "{view:?} under its floor {floor}");
        }
    }
}

pub(crate) fn run_traced(plan: &Arc<Plan>, acts: &[(Instant, Act)], seed: u64) -> Simulation<Full> {
    let mut simulation = begin::<Full>(plan, seed);
    for (at, act) in acts {
        give(&mut simulation, *at, act);
    }
    let end = acts.last().map_or(Instant::START, |&(at, _)| at);
    simulation.run_until(end.after(Span::from_hours(3)));
    simulation
}

fn bytes(simulation: &Simulation<Full>) -> Vec<u8> {
    let slots = simulation.room().slots();
    sim::export::to_messagepack(simulation.trace(), simulation.plan(), slots)
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn in_every_room_the_invariants_hold((tape, rows) in cases()) {
        let (plan, acts) = case(&tape, &rows, WHOLE);
        let stuck = acts.iter().any(|(_, act)| matches!(act, Act::Input(Input::Stuck(..))));
        watch(&plan, &acts, Span::from_minutes(100), |simulation| {
            check_time_delay(simulation);
            for output in outputs(simulation.plan()) {
                check_output(simulation, output);
            }
            check_floor(simulation, stuck);
        });
    }

    /// SW-6: two frames of five are lost, *up* among them; whatever is pressed, all stand still when
    /// the longest ramp could be over.
    #[test]
    fn a_lost_up_never_leaves_an_output_moving((tape, rows) in cases()) {
        let scope = Scope { holders: true, faults: false };
        let (plan, acts) = lossy(&tape, &rows, scope);
        let last = acts.last().unwrap().0;
        // Threshold, then the whole ramp; the longest is 4 s.
        let still = last.after(Span::from_ms(50 + 500 + 4_000));
        watch(&plan, &acts, Span::from_minutes(10), |simulation| {
            if simulation.now() > still {
                for output in outputs(simulation.plan()) {
                    let at = &simulation.plan().outputs[usize::from(output.0)];
                    let controller = simulation.room().controller(at.controller);
                    assert_eq!(controller.ramp_owner(at.local), None);
                    assert!(!remaining(simulation, output, OutputTimer::Ramp));
                }
            }
        });
    }

    #[test]
    fn the_same_run_has_the_same_bytes_however_its_rows_were_given(
        (tape, rows) in cases(),
        seed in any::<u64>(),
        order in any::<u64>(),
    ) {
        let (plan, acts) = case(&tape, &rows, WHOLE);
        // Two rows of one point at one instant are an error of the script, not an order.
        let acts = apart(&acts);
        let straight = run_traced(&plan, &acts, seed);
        prop_assert_eq!(bytes(&straight), bytes(&run_traced(&plan, &acts, seed)));
        let shuffled = shuffled_within_instants(&acts, order);
        prop_assert_eq!(bytes(&straight), bytes(&run_traced(&plan, &shuffled, seed)));
    }

    #[test]
    fn parts_declared_in_any_order_make_the_same_run(
        (tape, rows) in cases(),
        order in any::<u64>(),
    ) {
        let first = site(&tape, WHOLE);
        let mut second = first.clone();
        let mut luck = sim::Stream::from_seed(order);
        shuffle(&mut second.sources, &mut luck);
        shuffle(&mut second.outputs, &mut luck);
        shuffle(&mut second.ties, &mut luck);
        let (first, second) = (first.plan(), second.plan());
        let of = |plan| bytes(&run_traced(plan, &acts(&rows, plan, WHOLE), 3));
        prop_assert_eq!(of(&first), of(&second));
    }

    #[test]
    fn a_run_goes_on_from_a_snapshot_as_it_went_on_before(
        (tape, rows) in cases(),
        cut in any::<prop::sample::Index>(),
    ) {
        let (plan, acts) = case(&tape, &rows, WHOLE);
        let cut = cut.index(acts.len() + 1);
        let mut simulation = begin::<Full>(&plan, 11);
        for (at, act) in &acts[..cut] {
            give(&mut simulation, *at, act);
        }
        let snapshot = simulation.snapshot();
        let mut twin = simulation.clone();
        let finish = |simulation: &mut Simulation<Full>| {
            for (at, act) in &acts[cut..] {
                give(simulation, *at, act);
            }
            let end = acts.last().map_or(Instant::START, |&(at, _)| at);
            simulation.run_until(end.after(Span::from_hours(2)));
            bytes(simulation)
        };
        let first = finish(&mut simulation);
        simulation.restore(&snapshot);
        prop_assert_eq!(&first, &finish(&mut simulation));
        prop_assert_eq!(&first, &finish(&mut twin));
        simulation.reset();
        for (at, act) in &acts[..cut] {
            give(&mut simulation, *at, act);
        }
        prop_assert_eq!(&first, &finish(&mut simulation));
    }

    /// Clauses are judged at the same moments however far a run is driven at a time.
    #[test]
    fn a_run_in_small_steps_judges_its_clauses_like_a_run_in_one(
        (tape, rows) in cases(),
        steps in prop::collection::vec(1_u64..5_000, 1..20),
    ) {
        let plan = judged(&tape);
        let acts = acts(&rows, &plan, WHOLE);
        let end = acts.last().map_or(Instant::START, |&(at, _)| at).after(Span::from_minutes(30));
        let mut straight = begin::<Full>(&plan, 4);
        let mut stepped = begin::<Full>(&plan, 4);
        let mut lengths = steps.iter().cycle();
        for (at, act) in &acts {
            give(&mut straight, *at, act);
            loop {
                let length = Span::from_ms(*lengths.next().unwrap());
                let next = stepped.now().after(length);
                if next >= *at || stepped.now().after(Span::from_minutes(2)) < *at {
                    break;
                }
                stepped.run_until(next);
            }
            give(&mut stepped, *at, act);
        }
        straight.run_until(end);
        while stepped.next_instant() < end {
            let next = stepped.next_instant();
            stepped.run_until(next);
        }
        stepped.run_until(end);
        prop_assert_eq!(straight.trace(), stepped.trace());
        prop_assert!(straight.room().verdicts().eq(stepped.room().verdicts()));
    }

    /// Nobody listens to the recorder: with and without a trace the room goes the same way.
    #[test]
    fn a_recorder_changes_nothing((tape, rows) in cases()) {
        let (plan, acts) = case(&tape, &rows, WHOLE);
        let mut silent = begin::<Silent>(&plan, 5);
        let mut full = begin::<Full>(&plan, 5);
        for (at, act) in &acts {
            give(&mut silent, *at, act);
            give(&mut full, *at, act);
        }
        let end = acts.last().map_or(Instant::START, |&(at, _)| at).after(Span::from_hours(1));
        silent.run_until(end);
        full.run_until(end);
        prop_assert_eq!(silent.room(), full.room());
        prop_assert_eq!(silent.coming(), full.coming());
        prop_assert_eq!(silent.faults(), full.faults());
    }

    /// Every step is caused by an earlier one, or came from outside or from the start.
    #[test]
    fn causes_lead_back_to_what_came_from_outside((tape, rows) in cases()) {
        let (plan, acts) = case(&tape, &rows, WHOLE);
        let simulation = run_traced(&plan, &acts, 2);
        for (number, step) in (0..).zip(&simulation.trace().steps) {
            match step.cause {
                Some(cause) => prop_assert!(cause.number() < number),
                None => prop_assert!(is_root(step), "{step:?} has no cause"),
            }
        }
    }

    /// The empty-room question.
    #[test]
    fn an_empty_room_goes_dark((tape, rows) in cases()) {
        let scope = Scope { holders: false, faults: false };
        let (plan, acts) = case(&tape, &rows, scope);
        let mut simulation = begin::<Silent>(&plan, 1);
        for (at, act) in &acts {
            give(&mut simulation, *at, act);
        }
        let end = acts.last().map_or(Instant::START, |&(at, _)| at);
        let mut soonest: Vec<_> = outputs(&plan).map(|output| (longest(&plan, output), output)).collect();
        soonest.sort_by_key(|&(span, output)| (span, output.0));
        for (span, output) in soonest {
            simulation.run_until(end.after(span));
            let at = &plan.outputs[usize::from(output.0)];
            let settings = &plan.controllers[usize::from(at.controller.0)].settings;
            let lamp = settings.outputs[usize::from(at.local)].drive.lights();
            let view = simulation.view(output);
            prop_assert!(!lamp || view.light.now.is_off(), "{} {span:?}: {view:?}", at.name);
        }
    }
}

/// A room and what happens in it, with two frames of five lost.
pub(crate) fn lossy(tape: &[u8], rows: &[Row], scope: Scope) -> (Arc<Plan>, Vec<(Instant, Act)>) {
    let (plan, mut acts) = case(tape, rows, scope);
    for id in 0..u16::try_from(plan.sources.len()).unwrap() {
        let lossy = Impairment {
            source: SourceId(id),
            listener: None,
            fault: LinkFault::Lose(Share::from_parts(4_000)),
        };
        acts.insert(0, (Instant::START, Act::Impair(lossy)));
    }
    (plan, acts)
}

/// A random room with clauses about the levels of its outputs.
fn judged(tape: &[u8]) -> Arc<Plan> {
    let mut site = site(tape, WHOLE);
    let plan = site.plan();
    let names = Names {
        sources: Vec::new(),
        outputs: plan
            .outputs
            .iter()
            .map(|output| output.name.clone())
            .collect(),
        groups: Vec::new(),
    };
    for output in &names.outputs {
        let is = |text: &str| text.replace('X', output);
        let texts = [
            [("never", is("X is above 60 %"))].to_vec(),
            [("never", is("X shows 70 %"))].to_vec(),
            [("never", is("X asks at least 45 %"))].to_vec(),
            [
                ("when", is("X turns on")),
                ("then", is("X is at least 55 %")),
                ("within", "3 s".into()),
            ]
            .to_vec(),
        ];
        for (number, fields) in texts.iter().enumerate() {
            let fields: Vec<_> = fields
                .iter()
                .map(|(key, text)| (*key, text.as_str()))
                .collect();
            let formula = Formula::parse(&fields, &names, Span::from_seconds(1)).unwrap();
            site = site.clause(&format!("{output}-{number}"), formula);
        }
    }
    site.plan()
}

/// Enough cases for a test command; `PROPTEST_CASES` asks for more.
pub(crate) fn config() -> ProptestConfig {
    let default = ProptestConfig::default();
    let asked = std::env::var_os("PROPTEST_CASES").is_some();
    ProptestConfig {
        cases: if asked { default.cases } else { 64 },
        max_shrink_iters: 4_000,
        failure_persistence: None,
        ..default
    }
}

/// How long an output may be lit in an empty room: W + T + run-on or hold + ramp + L, then setback,
/// warning, fade and the two ways over the bus. What shares its relay may hold it too.
fn longest(plan: &Plan, output: OutputId) -> Span {
    let at = &plan.outputs[usize::from(output.0)];
    let settings = &plan.controllers[usize::from(at.controller.0)].settings;
    let relay = settings.outputs[usize::from(at.local)].relay;
    let shares = |other: u8| {
        let of = settings.outputs[usize::from(other)].relay;
        other == at.local || (relay.is_some() && of == relay)
    };
    let mut held = Span::ZERO;
    for link in settings.links.iter().filter(|link| shares(link.output)) {
        let here = (at.controller, link.heard);
        let mut sources = plan.sources.iter();
        let source = sources.find(|source| source.listeners.contains(&here));
        if let Some(room::SourceSettings::Occupancy(it)) = source.map(|it| &it.settings) {
            let sensed = it.window.plus(it.time_delay).plus(it.grace);
            held = held.max(sensed.plus(link.run_on));
        }
    }
    let gesture = settings.hold_threshold.plus(settings.ramp);
    let mut rest = Span::ZERO;
    for (_, spec) in (0..)
        .zip(&settings.outputs)
        .filter(|(other, _)| shares(*other))
    {
        held = held.max(gesture.plus(spec.press_hold));
        let off_after = spec.off_after.unwrap_or(Span::ZERO);
        let after = off_after.plus(warning(spec)).plus(spec.fade_off);
        rest = rest.max(after);
    }
    held.plus(rest).plus(Span::from_ms(100))
}

fn warning(spec: &device::controller::Output) -> Span {
    use device::controller::Warning;
    match spec.warning {
        Some(Warning::Dim { span, .. } | Warning::Blink { span }) => span,
        None => Span::ZERO,
    }
}

/// What has no cause: what came from outside, and how things stood when the run began.
fn is_root(step: &sim::Step) -> bool {
    use sim::What;
    match step.what {
        What::Stimulus(..)
        | What::Power(..)
        | What::Daylight(_)
        | What::Stuck(..)
        | What::Learn(_)
        | What::Change
        | What::Impaired(_)
        | What::Drifts(_) => true,
        What::Started(..) | What::Note(..) | What::Sent(..) | What::Output(..) => {
            step.at == Instant::START
        }
        _ => false,
    }
}

/// One row for each point at each instant.
fn apart(acts: &[(Instant, Act)]) -> Vec<(Instant, Act)> {
    let mut kept: Vec<(Instant, Act)> = Vec::new();
    for (at, act) in acts {
        let point = point(act);
        if !kept
            .iter()
            .any(|(of, other)| of == at && self::point(other) == point)
        {
            kept.push((*at, act.clone()));
        }
    }
    kept
}

/// What a row is about.
fn point(act: &Act) -> String {
    match act {
        Act::Input(Input::Stimulus(id, Stimulus::Press(button) | Stimulus::Release(button)))
        | Act::After(Input::Stimulus(id, Stimulus::Press(button) | Stimulus::Release(button))) => {
            format!("button {button} of {id:?}")
        }
        Act::Input(Input::Stimulus(id, _)) | Act::After(Input::Stimulus(id, _)) => {
            format!("{id:?}")
        }
        Act::Input(Input::Power(device, _)) => format!("{device:?}"),
        Act::Input(Input::Stuck(id, _) | Input::Learn { output: id, .. }) => format!("{id:?}"),
        Act::Input(Input::Daylight(_)) => "daylight".into(),
        Act::Input(Input::Change(_)) => "settings".into(),
        Act::Impair(it) => format!("frames of {:?}", it.source),
        _ => "other".into(),
    }
}

fn shuffled_within_instants(acts: &[(Instant, Act)], seed: u64) -> Vec<(Instant, Act)> {
    let mut luck = sim::Stream::from_seed(seed);
    let mut all = Vec::new();
    for instant in acts.chunk_by(|one, other| one.0 == other.0) {
        let mut instant = instant.to_vec();
        shuffle(&mut instant, &mut luck);
        all.extend(instant);
    }
    all
}

fn shuffle<T>(items: &mut [T], luck: &mut sim::Stream) {
    for last in (1..items.len()).rev() {
        let other = luck.below(last as u64 + 1);
        items.swap(last, usize::try_from(other).unwrap());
    }
}
