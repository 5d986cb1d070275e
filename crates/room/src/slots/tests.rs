//! Slots, both ways and in order.

use alloc::string::ToString;
use alloc::vec;

use device::controller::{Button, Drive, Heard, HeardKind, Link, Lost, Output, Role, Timer};
use device::{Level, Span};

use super::*;
use crate::{LightModel, PlanController, PlanOutput, PlanSource};

/// Sensor and wall unit, each heard by two controllers with one output each.
fn plan() -> Plan {
    let source = |name: &str, settings, heard| PlanSource {
        name: name.to_string(),
        settings,
        light: LightModel::default(),
        buttons: Vec::new(),
        mains: true,
        listeners: vec![(ControllerId(0), heard), (ControllerId(1), heard)],
    };
    let link = |heard, role| Link {
        heard,
        output: 0,
        role,
        run_on: Span::ZERO,
        setback: None,
        lost: Lost::Vacant,
        stored: true,
    };
    let heard = |kind| Heard {
        kind,
        silence: None,
    };
    let controller = |name: &str, output| PlanController {
        name: name.to_string(),
        settings: controller::Settings {
            heard: vec![heard(HeardKind::Occupancy), heard(HeardKind::Switch)],
            buttons: vec![Button {
                heard: 1,
                number: 0,
                kind: switch::Button::Single,
            }],
            links: vec![link(0, Role::AutoOn(Level::FULL)), link(1, Role::Button(0))],
            outputs: vec![Output::new(Drive::Relay)],
            ..controller::Settings::default()
        },
        heard: vec![SourceId(0), SourceId(1)],
        outputs: vec![output],
    };
    let output = |name: &str, controller| PlanOutput {
        name: name.to_string(),
        controller,
        local: 0,
    };
    Plan {
        sources: vec![
            source(
                "sensor",
                SourceSettings::Occupancy(occupancy::Settings::default()),
                0,
            ),
            source(
                "unit",
                SourceSettings::Switch(switch::Settings::default()),
                1,
            ),
        ],
        // The first controller drives the second output.
        controllers: vec![controller("a", OutputId(1)), controller("b", OutputId(0))],
        outputs: vec![
            output("desk", ControllerId(1)),
            output("wall", ControllerId(0)),
        ],
        ..Plan::default()
    }
}

#[test]
fn every_timer_has_a_slot_of_its_own_and_the_slot_leads_back() {
    let slots = Slots::new(&plan());
    let timers = usize::from(occupancy::Timer::COUNT + switch::Timer::COUNT);
    // Two controllers: two silences, a threshold, two run-ons and one output each.
    let of_controllers = 2 * (2 + 1 + 2 + controller::OutputTimer::ALL.len());
    assert_eq!(slots.len(), timers + of_controllers);
    for number in 0..u16::try_from(slots.len()).unwrap() {
        let owner = slots.owner(Slot(number));
        assert_eq!(slots.slot(owner), Slot(number), "{owner:?}");
    }
}

/// ORD-1.
#[test]
fn slots_follow_source_then_output_then_name() {
    let slots = Slots::new(&plan());
    let of = |controller, timer| slots.slot(SlotOwner::Controller(ControllerId(controller), timer));
    let last_own = slots.source(SourceId(0), occupancy::Timer::COUNT - 1);
    // What is about the first source comes before anything of the second.
    let mut order = vec![last_own];
    order.extend([of(0, Timer::Silence(0)), of(1, Timer::Silence(0))]);
    // By output: the second controller drives the first one.
    order.extend([of(1, Timer::RunOn(0)), of(0, Timer::RunOn(0))]);
    order.push(slots.source(SourceId(1), 0));
    order.extend([of(0, Timer::Silence(1)), of(1, Timer::Silence(1))]);
    order.extend([of(0, Timer::Threshold(0)), of(1, Timer::Threshold(0))]);
    order.extend([of(1, Timer::RunOn(1)), of(0, Timer::RunOn(1))]);
    let output = |timer| Timer::Output(0, timer);
    order.push(of(1, output(controller::OutputTimer::Blink)));
    order.push(of(1, output(controller::OutputTimer::Warning)));
    order.push(of(0, output(controller::OutputTimer::Blink)));
    assert!(order.is_sorted(), "{order:?}");
}

#[test]
fn without_clauses_no_slot_is_a_clause() {
    let slots = Slots::new(&plan());
    let last = u16::try_from(slots.len()).unwrap() - 1;
    assert!(!slots.is_clause(Slot(last)));
    assert!(Slots::new(&Plan::default()).is_empty());
}
