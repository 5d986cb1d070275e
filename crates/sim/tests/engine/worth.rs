//! Whether random rooms have what is asked of them: a property of what never happens says nothing.

use std::collections::{BTreeMap, BTreeSet};

use device::{Payload, Span, occupancy};
use proptest::strategy::{Strategy, ValueTree};
use proptest::test_runner::TestRunner;
use room::{Machine, OutputId, SourceId};
use sim::{OutputState, Silent, Simulation};

use crate::properties::{lossy, outputs, run_traced, watch};
use crate::random::{Scope, WHOLE, case, cases};

/// What is asked of random rooms is put to the test in them: of a hundred, so many have it.
#[test]
fn the_random_rooms_have_what_is_asked_of_them() {
    let mut counts = BTreeMap::<&str, u32>::new();
    let mut runner = TestRunner::deterministic();
    for _ in 0..100 {
        let (tape, rows) = cases().new_tree(&mut runner).unwrap().current();
        let mut seen = BTreeSet::new();
        let (plan, acts) = case(&tape, &rows, WHOLE);
        watch(&plan, &acts, Span::from_minutes(100), |simulation| {
            seen.extend(outputs(&plan).flat_map(|output| sights(simulation, output)));
            seen.extend(occupied(simulation));
        });
        let empty = Scope {
            holders: false,
            faults: false,
        };
        let (plan, acts) = case(&tape, &rows, empty);
        watch(&plan, &acts, Span::ZERO, |simulation| {
            let lit = |output| !simulation.view(output).light.now.is_off();
            let over = acts.last().is_some_and(|&(at, _)| at == simulation.now());
            if over && outputs(&plan).any(lit) {
                seen.insert("lit when the last has gone");
            }
        });
        let holders = Scope {
            holders: true,
            faults: false,
        };
        let (plan, acts) = lossy(&tape, &rows, holders);
        let up =
            |step: &sim::Step| matches!(step.what, sim::What::Dropped(_, _, Payload::Up(_), _));
        if run_traced(&plan, &acts, 7).trace().steps.iter().any(up) {
            seen.insert("an up lost");
        }
        for sight in seen {
            *counts.entry(sight).or_default() += 1;
        }
    }
    println!("{counts:?}");
    assert!(counts.len() >= 9, "{counts:?}");
    assert!(counts.values().all(|count| *count >= 5), "{counts:?}");
}

/// What can be seen of an output that the invariants speak of.
fn sights(simulation: &Simulation<Silent>, output: OutputId) -> Vec<&'static str> {
    let at = &simulation.plan().outputs[usize::from(output.0)];
    let controller = simulation.room().controller(at.controller);
    let settings = &simulation.plan().controllers[usize::from(at.controller.0)].settings;
    let view = simulation.view(output);
    let seen = simulation.room().view(output, simulation.clock());
    let all = [
        ("a ramp", controller.ramp_owner(at.local).is_some()),
        ("a warning", view.state == OutputState::Warning),
        ("a setback", view.state == OutputState::Setback),
        ("an emergency", view.emergency),
        ("a shed", seen.shed),
        (
            "a floor while off",
            settings.outputs[usize::from(at.local)].floor.is_some()
                && view.state == OutputState::Off,
        ),
    ];
    let all = all.into_iter().filter(|(_, is)| *is);
    all.map(|(name, _)| name).collect()
}

/// Whether a sensor is occupied.
fn occupied(simulation: &Simulation<Silent>) -> Option<&'static str> {
    let count = u16::try_from(simulation.plan().sources.len()).unwrap();
    let is = |id| match simulation.room().source(id).machine() {
        Machine::Occupancy(sensor) => sensor.state() == occupancy::State::Occupied,
        _ => false,
    };
    (0..count).map(SourceId).any(is).then_some("somebody there")
}
