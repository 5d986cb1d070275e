//! What holds for any settings, any frames and any times.

use alloc::vec;
use alloc::vec::Vec;

use proptest::prelude::*;

use super::rig::{Plan, Rig, percent};
use crate::controller::state::{Dark, Grace, Stage};
use crate::controller::{
    Calibration, Controller, Drive, HeardKind, Link, Loop, LoopKind, Lost, Output, OutputTimer,
    PowerUp, Role, Settings, State, Timer, Warning,
};
use crate::{Illuminance, Level, Payload, Points, Signal, Span, switch};

const KINDS: [HeardKind; 10] = [
    HeardKind::Occupancy,
    HeardKind::Occupancy,
    HeardKind::Switch,
    HeardKind::Card { captive: true },
    HeardKind::Card { captive: false },
    HeardKind::Daylight,
    HeardKind::Clock,
    HeardKind::NormalPower,
    HeardKind::FireAlarm,
    HeardKind::DemandResponse,
];
const BUTTONS: [switch::Button; 4] = [
    switch::Button::Single,
    switch::Button::Up,
    switch::Button::Down,
    switch::Button::Scene,
];
const SWITCH: u8 = 2;

/// Something that happens to a controller.
#[derive(Clone, Debug)]
enum Step {
    Frame(u8, Payload),
    Power(bool),
    Stuck(u8, Option<bool>),
    Learn(u8, bool),
    Change(Output),
}

fn spans() -> impl Strategy<Value = Span> {
    prop_oneof![
        Just(Span::ZERO),
        Just(Span::from_seconds(2)),
        Just(Span::from_seconds(10)),
        Just(Span::from_seconds(60)),
    ]
}

fn levels() -> impl Strategy<Value = Level> {
    (1_u16..=100).prop_map(percent)
}

fn warnings() -> impl Strategy<Value = Option<Warning>> {
    prop_oneof![
        Just(None),
        levels().prop_map(|level| Some(Warning::Dim {
            span: Span::from_seconds(10),
            level
        })),
        Just(Some(Warning::Blink {
            span: Span::from_seconds(10)
        })),
    ]
}

fn outputs() -> impl Strategy<Value = Output> {
    let drive = prop_oneof![
        4 => Just(Drive::ZeroToTen),
        1 => Just(Drive::ForwardPhase),
        1 => Just(Drive::Relay),
        1 => Just(Drive::Receptacle),
        1 => Just(Drive::Contact),
    ];
    let ways = (spans(), spans(), spans(), spans());
    let levels = (1_u16..50, 50_u16..=100, proptest::option::of(levels()));
    let marks = (spans(), spans(), proptest::option::of(spans()), warnings());
    let rest = (
        proptest::option::of(0_u8..2),
        proptest::option::of(0_u8..2),
        prop_oneof![Just(PowerUp::Last), Just(PowerUp::On), Just(PowerUp::Off)],
        proptest::option::of(0_u16..10_000),
    );
    (drive, ways, levels, marks, rest).prop_map(|(drive, ways, levels, marks, rest)| {
        let mut output = Output::new(drive);
        if drive.dims() {
            (output.fade_on, output.fade_off) = (ways.0, ways.1);
            output.low_trim = percent(levels.0);
        }
        output.high_trim = percent(levels.1);
        output.floor = levels.2;
        (output.shed_fade, output.proven) = (ways.2, ways.3);
        (output.press_hold, output.grace) = (marks.0, marks.1);
        output.off_after = marks.2;
        output.warning = marks.3;
        if drive.lights() {
            output.relay = rest.0;
        } else {
            (output.minimum_on, output.minimum_off) = (ways.2, ways.3);
        }
        output.group = rest.1;
        output.power_up = rest.2;
        output.shed = rest.3.map(Points::from_hundredths);
        output.feedback = marks.2.filter(|span| !span.is_zero());
        output
    })
}

fn roles(kind: HeardKind) -> BoxedStrategy<Role> {
    let full = Illuminance::from_lux(500);
    match kind {
        HeardKind::Occupancy => prop_oneof![
            levels().prop_map(Role::AutoOn),
            levels().prop_map(Role::PartialOn),
            Just(Role::ManualOn),
        ]
        .boxed(),
        HeardKind::Switch => prop_oneof![
            3 => (0_u8..3).prop_map(Role::Button),
            1 => (0_u16..=100).prop_map(|level| Role::Scene(3, percent(level))),
        ]
        .boxed(),
        HeardKind::Card { .. } => levels().prop_map(Role::Card).boxed(),
        HeardKind::Daylight => (any::<bool>(), proptest::option::of(spans()))
            .prop_map(move |(closed, dark_after)| {
                Role::Limit(Loop {
                    kind: if closed {
                        LoopKind::Closed
                    } else {
                        LoopKind::Open
                    },
                    calibration: Some(Calibration {
                        night_sensor: Illuminance::from_lux(50),
                        night_task: full,
                        day_sensor: Illuminance::from_lux(60),
                        day_task: Illuminance::from_lux(250),
                    }),
                    dark_after: dark_after.filter(|span| !span.is_zero()),
                    ..Loop::default()
                })
            })
            .boxed(),
        HeardKind::Clock => prop_oneof![
            (spans(), spans()).prop_map(|(warning, longest_override)| Role::Sweep {
                warning,
                longest_override
            }),
            levels().prop_map(Role::Opening),
            Just(Role::NoAutoOn),
            spans().prop_map(Role::OffAfterHours),
        ]
        .boxed(),
        HeardKind::NormalPower | HeardKind::FireAlarm => Just(Role::Emergency).boxed(),
        HeardKind::DemandResponse => Just(Role::Shed).boxed(),
    }
}

fn links() -> impl Strategy<Value = Link> {
    let kind = prop_oneof![3 => 0_u8..2, 4 => Just(SWITCH), 3 => 3_u8..10];
    kind.prop_flat_map(|heard| {
        let role = roles(KINDS[usize::from(heard)]);
        let rest = (spans(), proptest::option::of(levels()), any::<bool>());
        (role, 0_u8..4, rest, prop::bool::weighted(0.9)).prop_map(
            move |(role, output, rest, stored)| {
                let occupancy = heard < 2;
                Link {
                    heard,
                    output,
                    role,
                    run_on: rest.0,
                    setback: rest.1.filter(|_| occupancy),
                    lost: if rest.2 { Lost::Vacant } else { Lost::Occupied },
                    stored,
                }
            },
        )
    })
}

fn settings() -> impl Strategy<Value = Settings> {
    let outputs = prop::collection::vec(outputs(), 1..=4);
    let links = prop::collection::vec(links(), 1..=14);
    let silence = prop::collection::vec(proptest::option::of(Just(Span::from_minutes(1))), 10);
    (outputs, links, silence).prop_map(|(outputs, links, silence)| {
        let mut plan = Plan::default();
        for (kind, silence) in KINDS.into_iter().zip(silence) {
            let heard = plan.source(kind);
            plan.settings.heard[usize::from(heard)].silence = silence;
        }
        for kind in BUTTONS {
            plan.scene(SWITCH, kind);
        }
        plan.settings.outputs = outputs;
        let count = plan.settings.outputs.len() as u8;
        for mut link in links {
            link.output %= count;
            let known = plan.settings.links.iter().any(|other| {
                (other.heard, other.output) == (link.heard, link.output)
                    && core::mem::discriminant(&other.role) == core::mem::discriminant(&link.role)
                    && !matches!(link.role, Role::Button(_))
            });
            if !known && !plan.settings.links.contains(&link) {
                plan.settings.links.push(link);
            }
        }
        plan.settings
    })
}

fn steps() -> impl Strategy<Value = Step> {
    let frame = |heard: u8, payload: Payload| Just(Step::Frame(heard, payload));
    prop_oneof![
        6 => (0_u8..2, any::<bool>())
            .prop_map(|(heard, bright)| Step::Frame(heard, Payload::Occupied { bright })),
        6 => (0_u8..2).prop_map(|heard| Step::Frame(heard, Payload::Vacant)),
        1 => (0_u8..2).prop_map(|heard| Step::Frame(heard, Payload::Unknown)),
        8 => (0_u8..4).prop_map(|number| Step::Frame(SWITCH, Payload::Down(number))),
        6 => (0_u8..4).prop_map(|number| Step::Frame(SWITCH, Payload::Up(number))),
        2 => (3_u8..5).prop_map(|heard| Step::Frame(heard, Payload::CardIn)),
        2 => (3_u8..5).prop_map(|heard| Step::Frame(heard, Payload::CardOut)),
        4 => (0_u32..300).prop_map(|lux| {
            Step::Frame(5, Payload::Illuminance(Illuminance::from_lux(lux)))
        }),
        1 => frame(6, Payload::InHours),
        1 => frame(6, Payload::AfterHours),
        2 => frame(6, Payload::Sweep),
        1 => frame(6, Payload::TimeLost),
        2 => any::<bool>().prop_map(|on| {
            Step::Frame(7, Payload::Signal(Signal::NormalPower, on))
        }),
        1 => any::<bool>().prop_map(|on| {
            Step::Frame(8, Payload::Signal(Signal::FireAlarm, on))
        }),
        1 => proptest::option::of((0_u16..9_000).prop_map(Points::from_hundredths))
            .prop_map(|points| Step::Frame(9, Payload::Shed(points))),
        1 => frame(9, Payload::ShedEnd),
        1 => (0_u8..10).prop_map(|heard| Step::Frame(heard, Payload::TeachIn)),
        2 => any::<bool>().prop_map(Step::Power),
        1 => (0_u8..4, proptest::option::of(any::<bool>()))
            .prop_map(|(output, stuck)| Step::Stuck(output, stuck)),
        1 => (0_u8..4, any::<bool>())
            .prop_map(|(output, remove)| Step::Learn(output, remove)),
        1 => outputs().prop_map(Step::Change),
    ]
}

fn gaps() -> impl Strategy<Value = u64> {
    prop_oneof![
        Just(0),
        Just(100),
        Just(500),
        Just(501),
        Just(2_000),
        Just(10_000),
        Just(60_000),
        0_u64..5_000,
        0_u64..200_000,
    ]
}

fn scripts() -> impl Strategy<Value = Vec<(u64, Step)>> {
    prop::collection::vec((gaps(), steps()), 1..60)
}

/// Plays a script; `look` sees the rig after every input and every timer.
fn play(rig: &mut Rig, script: &[(u64, Step)], mut look: impl FnMut(&Rig)) {
    let count = rig.settings.outputs.len() as u8;
    let mut now = 0;
    look(rig);
    for (gap, step) in script {
        now += gap;
        step_timers(rig, now.saturating_sub(1), &mut look);
        match step.clone() {
            Step::Frame(heard, payload) => rig.frame(now, heard, payload),
            Step::Power(on) => rig.power(now, on),
            Step::Stuck(output, stuck) => rig.stick(now, output % count, stuck),
            Step::Learn(output, remove) => rig.learn(now, output % count, remove),
            Step::Change(output) => rig.change(now, |settings| {
                let first = &mut settings.outputs[0];
                let (drive, relay, group) = (first.drive, first.relay, first.group);
                if drive.dims() == output.drive.dims() && drive.lights() == output.drive.lights() {
                    *first = Output {
                        drive,
                        relay,
                        group,
                        ..output
                    };
                }
            }),
        }
        look(rig);
    }
}

/// Lets every timer up to `until` elapse, looking after each.
fn step_timers(rig: &mut Rig, until: u64, look: &mut impl FnMut(&Rig)) {
    while let Some(timer) = rig.bench.next_due(until) {
        rig.it.handle_elapsed(&rig.settings, timer, &mut rig.bench);
        look(rig);
    }
}

fn rig_of(settings: Settings) -> Rig {
    Plan { settings }.rig()
}

fn assert_only_needed_timers_run(rig: &Rig) {
    let it = &rig.it;
    for timer in rig.bench.running() {
        assert!(it.powered, "{timer:?} runs without power");
    }
    for (index, gesture) in (0..).zip(&it.buttons) {
        let pending = gesture.stage == Stage::Pending;
        assert_eq!(rig.bench.runs(Timer::Threshold(index)), pending);
    }
    for (index, link) in (0..).zip(&it.links) {
        assert_eq!(rig.bench.runs(Timer::RunOn(index)), link.run_on);
        assert!(!link.run_on || (link.occupied && link.stored));
    }
    for (index, heard) in (0..).zip(&it.heard) {
        if rig.bench.runs(Timer::Silence(index)) {
            assert!(!heard.lost, "a lost source is lost once");
        }
    }
    for (output, out) in (0..).zip(&it.outputs) {
        let runs = |timer| rig.bench.runs(Timer::Output(output, timer));
        let lit = out.state != State::Off;
        let warns = out.state == State::Warning;
        let pending = it.outputs.iter().any(|out| out.owner.is_some());
        assert!(!runs(OutputTimer::Blink) || (warns && out.blink));
        assert_eq!(out.blink, runs(OutputTimer::Blink));
        assert_eq!(runs(OutputTimer::Dark), out.dark == Dark::Counting);
        assert_eq!(runs(OutputTimer::Fade), out.fade.is_some());
        assert_eq!(runs(OutputTimer::Grace), out.grace != Grace::None);
        assert!(out.grace == Grace::None || !lit, "a grace is after an off");
        assert_eq!(runs(OutputTimer::Learning), out.learning.is_some());
        assert!(runs(OutputTimer::Limit) || out.limit.from == out.limit.to);
        assert_eq!(runs(OutputTimer::Minimum), out.minimum);
        assert!(out.wish.is_none() || out.minimum);
        assert!(!runs(OutputTimer::OffAfter) || (lit && !warns && !out.occupied));
        assert!(!runs(OutputTimer::Override) || (lit && out.swept));
        assert_eq!(runs(OutputTimer::PressHold), out.press_hold);
        assert_eq!(runs(OutputTimer::Proven), out.proving && it.powered);
        assert!(!out.proving || out.emergency);
        assert_eq!(runs(OutputTimer::Ramp), out.ramp.is_some());
        assert!(!runs(OutputTimer::Shed) || out.cap.is_some());
        if runs(OutputTimer::Warning) {
            assert!(warns, "a warning runs on an output that does not warn");
        } else if warns {
            assert!(pending, "a warning without an end waits for a press");
        }
        if runs(OutputTimer::Poll) {
            assert!(out.stuck.is_some_and(|stuck| stuck != out.closed));
        }
    }
}

fn assert_ramps_are_held(it: &Controller) {
    for out in &it.outputs {
        if out.ramp.is_some() {
            let owner = out.owner.expect("a ramp has an owner");
            assert_eq!(it.buttons[usize::from(owner)].stage, Stage::Holding);
            assert_eq!(out.state, State::On, "a ramp moves what is on");
        }
        if let Some(owner) = out.owner {
            assert_ne!(it.buttons[usize::from(owner)].stage, Stage::Idle);
        }
    }
}

fn assert_targets_are_in_the_chain(rig: &Rig) {
    for (output, spec) in (0..).zip(&rig.settings.outputs) {
        let out = &rig.it.outputs[usize::from(output)];
        let view = rig.it.view(&rig.settings, output, &rig.bench);
        let floor = spec.floor.unwrap_or(Level::OFF);
        if out.emergency {
            assert_eq!(view.target, Level::FULL);
            continue;
        }
        assert!(view.target >= floor, "an egress output is under its floor");
        let highest = spec.high_trim.max(spec.low_trim).max(floor);
        // A shed in force keeps the level it was given through a change of the high trim.
        assert!(view.target <= highest || out.cap.is_some());
        let shows_none = out.state == State::Off
            || out.dark == Dark::Yes
            || out.blink
            || out.shed == Some(crate::controller::state::Shed::Dropped);
        if shows_none {
            assert_eq!(view.target, floor);
        } else {
            assert!(view.target >= spec.low_trim, "lit under the low trim");
        }
        let light = rig.it.light_now(&rig.settings, output, &rig.bench);
        if out.fade.is_none() {
            assert_eq!(light, view.target);
        }
        assert!(
            view.within.is_zero()
                || out.ramp.is_some()
                || light != view.target
                || rig.bench.runs(Timer::Output(output, OutputTimer::Fade))
                || rig.bench.runs(Timer::Output(output, OutputTimer::Limit))
                || rig.bench.runs(Timer::Output(output, OutputTimer::Shed))
        );
    }
}

fn assert_relays_are_as_one(rig: &Rig) {
    if !rig.it.powered {
        return;
    }
    let outputs = &rig.settings.outputs;
    for (one, spec) in outputs.iter().enumerate() {
        let of_relay = |other: &usize| {
            *other == one || (spec.relay.is_some() && spec.relay == outputs[*other].relay)
        };
        let lit = |other: usize| {
            let target = rig.it.target_now(&rig.settings, other as u8, &rig.bench);
            !target.is_off() || rig.it.outputs[other].fade.is_some()
        };
        let closed = (0..outputs.len()).filter(of_relay).any(lit);
        let out = &rig.it.outputs[one];
        assert_eq!(out.closed, closed, "relay of output {one}");
        for other in (0..outputs.len()).filter(of_relay) {
            let other = &rig.it.outputs[other];
            assert_eq!(out.state == State::Off, other.state == State::Off);
            assert_eq!(out.occupied, other.occupied);
        }
    }
}

fn assert_invariants(rig: &Rig) {
    assert_only_needed_timers_run(rig);
    assert_ramps_are_held(&rig.it);
    assert_targets_are_in_the_chain(rig);
    assert_relays_are_as_one(rig);
}

fn config(cases: u32) -> ProptestConfig {
    ProptestConfig {
        cases,
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

proptest! {
    #![proptest_config(config(256))]

    #[test]
    fn whatever_happens_the_invariants_hold(settings in settings(), script in scripts()) {
        play(&mut rig_of(settings), &script, assert_invariants);
    }

    #[test]
    fn the_same_inputs_give_equal_states(settings in settings(), script in scripts()) {
        let (mut one, mut other) = (rig_of(settings.clone()), rig_of(settings));
        play(&mut one, &script, |_| {});
        play(&mut other, &script, |_| {});
        prop_assert_eq!(one, other);
    }

    #[test]
    fn power_off_stops_every_timer(settings in settings(), script in scripts()) {
        let mut rig = rig_of(settings);
        play(&mut rig, &script, |_| {});
        let now = rig.bench.now();
        rig.power(now, false);
        prop_assert_eq!(rig.bench.running(), []);
    }

    #[test]
    fn sw_6_a_lost_up_moves_nothing_for_longer_than_the_ramp_time(
        settings in settings(),
        script in scripts(),
        number in 0_u8..4,
    ) {
        let mut rig = rig_of(settings);
        play(&mut rig, &script, |_| {});
        let now = rig.bench.now();
        rig.frame(now, SWITCH, Payload::Down(number));
        let longest = rig.settings.hold_threshold.plus(rig.settings.ramp).as_ms();
        rig.end(now + longest);
        for output in &rig.it.outputs {
            prop_assert_eq!(output.ramp, None);
            prop_assert_ne!(output.owner, Some(number));
        }
    }

    #[test]
    fn card_5_without_a_card_nothing_is_on(settings in settings(), script in scripts()) {
        let mut script = script;
        script.retain(|(_, step)| !matches!(step, Step::Learn(..)));
        play(&mut rig_of(settings), &script, |rig| {
            for (output, out) in (0..).zip(&rig.it.outputs) {
                let waits = rig.it.outputs.iter().any(|out| out.minimum);
                let on = rig.it.powered && out.state != State::Off && !waits;
                assert!(!on || !is_captive(rig, output), "output {output} is on");
            }
        });
    }

    #[test]
    fn an_empty_room_goes_dark_by_itself(settings in settings(), script in scripts()) {
        let mut settings = settings;
        for heard in &mut settings.heard {
            heard.silence = Some(Span::from_minutes(1));
        }
        for link in &mut settings.links {
            link.lost = Lost::Vacant;
        }
        for output in &mut settings.outputs {
            // Without a press hold, or with a setback for ever, light that stays is what was set.
            output.press_hold = output.press_hold.plus(Span::from_seconds(1));
            output.off_after = Some(Span::from_seconds(30));
            output.power_up = PowerUp::Last;
        }
        let mut rig = rig_of(settings);
        let mut script = script;
        script.retain(|(_, step)| !matches!(step, Step::Change(_)));
        play(&mut rig, &script, |_| {});
        let now = rig.bench.now();
        rig.power(now, true);
        rig.end(now + 3_600_000);
        for (output, out) in (0..).zip(&rig.it.outputs) {
            let held = rig.it.links.iter().zip(&rig.settings.links).any(|(state, link)| {
                let clock = matches!(link.role, Role::Sweep { .. } | Role::Opening(_));
                let card = matches!(link.role, Role::Card(_));
                state.stored && (clock || card) && shares(&rig.settings, link.output, output)
            });
            prop_assert!(held || out.state == State::Off, "output {} burns: {:?}", output, out);
        }
    }
}

fn shares(settings: &Settings, one: u8, other: u8) -> bool {
    let relay = |output: u8| settings.outputs[usize::from(output)].relay;
    one == other || (relay(one).is_some() && relay(one) == relay(other))
}

fn is_captive(rig: &Rig, output: u8) -> bool {
    let links = rig.settings.links.iter().zip(&rig.it.links);
    let mut cards = links.filter(|(link, state)| {
        state.stored
            && matches!(link.role, Role::Card(_))
            && shares(&rig.settings, link.output, output)
    });
    cards.any(|(link, _)| {
        let kind = rig.settings.heard[usize::from(link.heard)].kind;
        let belief = rig.it.heard[usize::from(link.heard)];
        kind == (HeardKind::Card { captive: true })
            && belief.said == crate::controller::Said::CardOut
            && !belief.lost
    })
}
