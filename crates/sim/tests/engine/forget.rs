//! Old steps that are forgotten: what stays says the same, and nothing happens in another way.

use std::sync::Arc;

use device::Span;
use proptest::prelude::*;
use room::Plan;
use sim::{Full, Instant, Quality, Simulation, Step, StepId, Trace, What};

use crate::properties::config;
use crate::random::{Act, WHOLE, case, cases, give};

fn begin(plan: &Arc<Plan>) -> Simulation<Full> {
    Simulation::new(Arc::clone(plan), 7, |_, _| Quality::default())
}

/// Gives a run these acts and runs it through `end`.
fn go_on(simulation: &mut Simulation<Full>, acts: &[(Instant, Act)], end: Instant) {
    for (at, act) in acts {
        give(simulation, *at, act);
    }
    simulation.run_until(end);
}

fn is_start_of(step: &Step, other: &Step) -> bool {
    matches!((&step.what, &other.what), (What::Started(one, _), What::Started(two, _)) if one == two)
}

/// What caused a step; of a timer that starts itself again and again, what started it at first.
fn first_cause(all: &[Step], step: &Step) -> Option<StepId> {
    let at = |id: StepId| &all[id.index()];
    let elapsed = step.cause.map(at);
    let before = elapsed.and_then(|it| it.cause).map(at);
    match (&step.what, elapsed.map(|it| &it.what), before) {
        (What::Started(slot, _), Some(What::Elapsed(it)), Some(before))
            if slot == it && is_start_of(step, before) =>
        {
            first_cause(all, before)
        }
        _ => step.cause,
    }
}

/// Compares a run that has forgotten all but these of its first `old` steps with the whole run.
fn compare(short: &Trace, whole: &Trace, stay: &[StepId], old: usize) -> Result<(), String> {
    let number = |index: usize| {
        let later = index.checked_sub(stay.len());
        later.map_or_else(|| stay[index].index(), |later| old + later)
    };
    if number(short.steps.len()) != whole.steps.len() {
        return Err(format!("{} steps are left", short.steps.len()));
    }
    for (index, step) in short.steps.iter().enumerate() {
        let same = &whole.steps[number(index)];
        let cause = match number(index) < old {
            true => first_cause(&whole.steps, same),
            false => same.cause,
        };
        let said = step.cause.map(|id| number(id.index()));
        let is_same = (step.at, &step.what) == (same.at, &same.what);
        if !is_same || said != cause.map(|id| id.index()) {
            return Err(format!("{index}: {step:?} for {same:?}"));
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn what_stays_has_its_causes_and_the_run_goes_on_as_it_would(
        (tape, rows) in cases(),
        middle in any::<prop::sample::Index>(),
        share in 0..=100_usize,
        wanted in prop::collection::vec(any::<prop::sample::Index>(), 0..6),
    ) {
        let (plan, acts) = case(&tape, &rows, WHOLE);
        let end = acts.last().map_or(Instant::START, |(at, _)| *at).after(Span::from_minutes(40));
        let mut whole = begin(&plan);
        go_on(&mut whole, &acts, end);
        let whole = whole.into_trace();

        let pause = acts.get(middle.index(acts.len().max(1)));
        let pause = pause.map_or(Instant::START, |(at, _)| *at);
        let (before, after) = acts.split_at(acts.partition_point(|(at, _)| *at <= pause));
        let mut simulation = begin(&plan);
        go_on(&mut simulation, before, pause);
        let old = simulation.trace().steps.len() * share / 100;
        let wanted: Vec<StepId> = (wanted.iter().filter(|_| old > 0))
            .map(|it| StepId::at(it.index(old)))
            .collect();
        let mut snapshot = simulation.snapshot();
        let stay = simulation.forget(old, wanted.iter().copied(), [&mut snapshot]);
        prop_assert!(stay.is_sorted() && stay.iter().all(|id| (id.index()) < old));
        prop_assert!(wanted.iter().all(|id| stay.contains(id)), "{wanted:?} of {stay:?}");
        prop_assert_eq!(snapshot.steps(), simulation.trace().steps.len());

        go_on(&mut simulation, after, end);
        prop_assert_eq!(compare(simulation.trace(), &whole, &stay, old), Ok(()));
        simulation.restore(&snapshot);
        go_on(&mut simulation, after, end);
        prop_assert_eq!(compare(simulation.trace(), &whole, &stay, old), Ok(()), "from the snapshot");
    }
}

#[test]
fn a_timer_that_starts_itself_keeps_what_started_it_and_not_every_round() {
    let plan = crate::rows::office_that_reports().plan();
    let mut simulation = begin(&plan);
    simulation.run_until(Instant::START.after(Span::from_hours(200)));
    let old = simulation.trace().steps.len() - 20;
    let stay = simulation.forget(old, [], []);
    assert!(
        old > 1_000 && stay.len() < 20,
        "{} of {old} stay",
        stay.len()
    );
    let steps = &simulation.trace().steps;
    assert!(
        steps
            .iter()
            .all(|step| step.cause.is_none_or(|id| (id.index()) < steps.len()))
    );
}

#[test]
#[should_panic(expected = "a snapshot needs what is forgotten")]
fn a_snapshot_of_what_is_forgotten_is_refused() {
    let plan = crate::rows::office_that_reports().plan();
    let mut simulation = begin(&plan);
    let mut early = simulation.snapshot();
    simulation.run_until(Instant::START.after(Span::from_minutes(10)));
    let steps = simulation.trace().steps.len();
    simulation.forget(steps, [], [&mut early]);
}
