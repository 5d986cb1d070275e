//! Devices outside the room: the same run to the byte, and rubbish that hurts nobody.

use std::collections::BTreeMap;
use std::sync::Arc;

use device::{Fault, Note, Payload, Span};
use proptest::prelude::*;
use room::{ControllerId, Device, Input, Plan, Slot, SourceId, Stimulus, Who};
use sim::{
    Answer, Effect, Full, Instant, Lone, Quality, Question, Simulation, Stream, Trace, What,
};

use crate::properties::config;
use crate::random::{Act, WHOLE, case, cases, give};

fn devices(plan: &Plan) -> Vec<Device> {
    let sources = (0..).zip(&plan.sources);
    let controllers = (0..).zip(&plan.controllers);
    (sources.map(|(id, _)| Device::Source(SourceId(id))))
        .chain(controllers.map(|(id, _)| Device::Controller(ControllerId(id))))
        .collect()
}

/// Runs everything through `at`, with the answers of `answer`.
fn run_through(
    simulation: &mut Simulation<Full>,
    at: Instant,
    answer: &mut impl FnMut(&Question) -> Answer,
) {
    loop {
        match simulation.try_step(at) {
            Ok(true) => {}
            Ok(false) => return,
            Err(question) => {
                let answer = answer(&question);
                simulation.answer(answer);
            }
        }
    }
}

/// The trace of a run with these devices outside.
fn run_outside(
    plan: &Arc<Plan>,
    acts: &[(Instant, Act)],
    outside: &[Device],
    mut answer: impl FnMut(&Question) -> Answer,
) -> Trace {
    let quality = |_, _| Quality::default();
    let outside = outside.iter().copied();
    let mut simulation = Simulation::with_outside(Arc::clone(plan), 7, quality, outside);
    let mut last = Instant::START;
    for (at, act) in acts {
        if *at > simulation.now() {
            let before = Instant::from_ms(at.as_ms() - 1);
            run_through(&mut simulation, before, &mut answer);
        }
        give(&mut simulation, *at, act);
        last = *at;
    }
    let end = last.after(Span::from_minutes(40));
    run_through(&mut simulation, end, &mut answer);
    simulation.into_trace()
}

fn run_inside(plan: &Arc<Plan>, acts: &[(Instant, Act)]) -> Trace {
    let mut simulation: Simulation =
        Simulation::new(Arc::clone(plan), 7, |_, _| Quality::default());
    let mut last = Instant::START;
    for (at, act) in acts {
        give(&mut simulation, *at, act);
        last = *at;
    }
    simulation.run_until(last.after(Span::from_minutes(40)));
    simulation.into_trace()
}

/// What the first step is in which two traces differ, for a failure that can be read.
fn first_difference(one: &Trace, other: &Trace) -> Option<String> {
    let steps = one.steps.iter().zip(&other.steps).enumerate();
    let mut different = steps.filter(|(_, (one, other))| one != other);
    match different.next() {
        Some((at, (one, other))) => Some(format!("{at}: {one:?} against {other:?}")),
        None if one.steps.len() == other.steps.len() => None,
        None => Some(format!("{} against {}", one.steps.len(), other.steps.len())),
    }
}

/// Effects of every kind at random, most of them somebody else's.
fn rubbish(luck: &mut Stream, question: &Question, slots: u64) -> Answer {
    if luck.below(40) == 0 {
        return Err(Fault::NodeGone);
    }
    let own = match question.device {
        Device::Source(id) => Who::Source(id),
        Device::Controller(id) => Who::Controller(id),
    };
    let mut effects = Vec::new();
    for _ in 0..luck.below(4) {
        let slot = Slot(u16::try_from(luck.below(slots)).unwrap());
        effects.push(match luck.below(5) {
            0 | 1 => Effect::Start(slot, Span::from_ms(luck.below(3) * 700)),
            2 => Effect::Stop(slot),
            3 => match question.device {
                Device::Source(id) => Effect::Send(id, Payload::Occupied { bright: false }),
                Device::Controller(_) => Effect::Send(SourceId(0), Payload::Down(9)),
            },
            _ => Effect::Note(own, Note::Occupied),
        });
    }
    Ok(effects)
}

/// The same, but only what the device may do, so that it is never cut off for it.
fn wild(luck: &mut Stream, question: &Question, plan: &Plan, slots: &room::Slots) -> Answer {
    let count = u64::try_from(slots.len()).unwrap();
    let effects = rubbish(luck, question, count).unwrap_or_default();
    let own = |effect: &Effect| effect.is_of(question.device, plan, slots);
    Ok(effects.into_iter().filter(own).collect())
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn devices_outside_make_the_same_run_as_devices_inside(
        (tape, rows) in cases(),
        some in any::<u64>(),
    ) {
        let (plan, acts) = case(&tape, &rows, WHOLE);
        let all = devices(&plan);
        let chosen: Vec<Device> = (all.iter().enumerate())
            .filter(|(place, _)| some >> place & 1 == 1)
            .map(|(_, &device)| device)
            .collect();
        let inside = run_inside(&plan, &acts);
        for outside in [all, chosen] {
            let mut lone: BTreeMap<Device, Lone> = (outside.iter())
                .map(|&device| (device, Lone::new(&plan, device)))
                .collect();
            let answer = |question: &Question| {
                Ok(lone.get_mut(&question.device).unwrap().answer(question))
            };
            let trace = run_outside(&plan, &acts, &outside, answer);
            prop_assert_eq!(first_difference(&trace, &inside), None);
        }
    }

    #[test]
    fn whatever_devices_outside_answer_the_room_goes_on(
        (tape, rows) in cases(),
        seed in any::<u64>(),
        own_only in any::<bool>(),
    ) {
        let (plan, acts) = case(&tape, &rows, WHOLE);
        let slots = room::Slots::new(&plan);
        let all = devices(&plan);
        let mut luck = Stream::from_seed(seed);
        let answer = |question: &Question| match own_only {
            true => wild(&mut luck, question, &plan, &slots),
            false => rubbish(&mut luck, question, slots.len() as u64),
        };
        let trace = run_outside(&plan, &acts, &all, answer);
        for (step, at) in trace.steps.iter().zip(0..) {
            prop_assert!(step.cause.is_none_or(|cause| cause.number() < at));
        }
        prop_assert!(trace.steps.is_sorted_by_key(|step| step.at));
    }
}

/// A room, when somebody moves in it, and its sensor as it answers by itself.
fn moved() -> (Arc<Plan>, Vec<(Instant, Act)>, Lone) {
    let (plan, _) = case(&[], &[], WHOLE);
    let motion = |seconds| {
        let input = Input::Stimulus(SourceId(0), Stimulus::Motion);
        (
            Instant::START.after(Span::from_seconds(seconds)),
            Act::Input(input),
        )
    };
    let lone = Lone::new(&plan, SENSOR);
    (plan, vec![motion(10), motion(20), motion(30)], lone)
}

fn faults(trace: &Trace) -> Vec<(u64, Fault)> {
    let fault = |step: &sim::Step| match step.what {
        What::Note(_, Note::Fault(fault)) => Some((step.at.as_ms(), fault)),
        _ => None,
    };
    trace.steps.iter().filter_map(fault).collect()
}

const SENSOR: Device = Device::Source(SourceId(0));

#[test]
fn a_device_that_is_cut_off_is_named_and_silent_from_then_on() {
    let (plan, acts, mut lone) = moved();
    let mut last = 0;
    let trace = run_outside(&plan, &acts, &[SENSOR], |question| {
        last = question.at.as_ms();
        match question.at.as_ms() {
            20_000 => Err(Fault::NodeSilent),
            _ => Ok(lone.answer(question)),
        }
    });
    assert_eq!(faults(&trace)[0], (20_000, Fault::NodeSilent));
    let after = trace.steps.iter().filter(|step| step.at.as_ms() > 20_000);
    let sent = after.filter(|step| matches!(step.what, What::Sent(..)));
    assert_eq!(sent.count(), 0);
    assert_eq!(last, 20_000, "nobody asks the dead");
}

#[test]
fn a_device_that_does_otherwise_is_told_once_and_goes_on() {
    let (plan, acts, mut lone) = moved();
    let trace = run_outside(&plan, &acts, &[SENSOR], |question| {
        let mut effects = lone.answer(question);
        for effect in &mut effects {
            if let Effect::Start(_, span) = effect {
                *span = span.plus(Span::from_ms(1));
            }
        }
        Ok(effects)
    });
    let told: Vec<_> = faults(&trace).into_iter().map(|(_, fault)| fault).collect();
    assert_eq!(told, [Fault::NodeDiffers]);
}

#[test]
fn a_timer_that_never_ends_its_instant_is_a_flood() {
    let (plan, acts, _) = moved();
    let slot = room::Slots::new(&plan).source(SourceId(0), 0);
    let trace = run_outside(&plan, &acts, &[SENSOR], |_| {
        Ok(vec![Effect::Start(slot, Span::ZERO)])
    });
    let told: Vec<_> = faults(&trace).into_iter().map(|(_, fault)| fault).collect();
    assert!(told.contains(&Fault::NodeFloods), "{told:?}");
}
