//! LINK-1, LINK-2: links taught and removed on site.

use super::rig::{Plan, Rig, h, min, percent, s};
use crate::controller::{Calibration, Drive, HeardKind, Loop, LoopKind, Role, State, Timer};
use crate::{Fault, Ignored, Illuminance, Level, Note, Payload, Signal, Span, switch};

/// Two lamps; links from two sensors to the first are to be taught.
fn room() -> (Rig, u8, [u8; 2]) {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    plan.lamp();
    let sensors = [
        plan.reporting(HeardKind::Occupancy, min(13)),
        plan.reporting(HeardKind::Occupancy, min(13)),
    ];
    for sensor in sensors {
        plan.link(sensor, lamp, Role::AutoOn(percent(80))).stored = false;
    }
    (plan.rig(), lamp, sensors)
}

fn teach(rig: &mut Rig, at: u64, heard: u8) {
    rig.frame(at, heard, Payload::TeachIn);
}

#[test]
fn link_2_a_controller_ignores_sources_it_was_not_taught() {
    let (mut rig, lamp, [one, _]) = room();
    assert_eq!(rig.bench.running(), []);
    rig.occupied(0, one);
    rig.is(0, lamp, State::Off, 0);
    assert_eq!(rig.notes(), [Note::Ignored(Ignored::NotTaught)]);
    assert_eq!(rig.bench.running(), []);
}

#[test]
fn link_1_a_pair_is_stored_with_its_role_and_the_source_is_unknown_until_heard() {
    let (mut rig, lamp, [one, other]) = room();
    rig.learn(s(1), lamp, false);
    teach(&mut rig, s(2), one);
    assert_eq!(rig.said(lamp), [Note::Learning(true), Note::Taught(true)]);
    assert!(rig.it.is_unknown(one));
    assert!(!rig.it.is_unknown(other));
    assert_eq!(rig.bench.due(Timer::Silence(one)), Some(s(2) + min(13)));
    rig.occupied(s(3), one);
    rig.is(s(3), lamp, State::On, 80);
    rig.occupied(s(4), other);
    assert_eq!(rig.notes(), [Note::Ignored(Ignored::NotTaught)]);
}

#[test]
fn link_1_the_window_is_open_for_30_s_and_restarts_with_each_pair() {
    let (mut rig, lamp, [one, other]) = room();
    rig.learn(s(1), lamp, false);
    teach(&mut rig, s(31), one);
    assert!(rig.has_said(lamp, Note::Taught(true)));
    teach(&mut rig, s(61), other);
    assert!(rig.has_said(lamp, Note::Taught(true)));
    rig.end(s(91) - 1);
    assert!(!rig.has_said(lamp, Note::Learning(false)));
    rig.end(s(91));
    assert!(rig.has_said(lamp, Note::Learning(false)));

    let (mut rig, lamp, [one, _]) = room();
    rig.learn(s(1), lamp, false);
    teach(&mut rig, s(31) + 1, one);
    assert_eq!(rig.notes(), [Note::Ignored(Ignored::NotLearning)]);
    rig.occupied(s(40), one);
    rig.is(s(40), lamp, State::Off, 0);
}

#[test]
fn link_1_in_one_window_a_pair_is_only_added_and_removing_needs_a_new_one() {
    let (mut rig, lamp, [one, _]) = room();
    rig.learn(s(1), lamp, false);
    teach(&mut rig, s(2), one);
    rig.said(lamp);
    teach(&mut rig, s(20), one);
    let refused = [
        Note::Fault(Fault::TeachInRefused),
        Note::Ignored(Ignored::SameWindow),
    ];
    assert_eq!(rig.said(lamp), refused);
    // A refused pair does not restart the window.
    rig.end(s(32));
    assert_eq!(rig.said(lamp), [Note::Learning(false)]);
    rig.occupied(s(40), one);
    rig.learn(s(41), lamp, true);
    teach(&mut rig, s(42), one);
    assert!(rig.has_said(lamp, Note::Taught(false)));
    // What it held ends with it.
    rig.is(s(42), lamp, State::Off, 0);
    rig.notes();
    rig.occupied(s(43), one);
    assert_eq!(rig.notes(), [Note::Ignored(Ignored::NotTaught)]);
    rig.end(h(1));
    assert_eq!(rig.notes(), [], "a source nobody listens to is not lost");
}

#[test]
fn link_1_what_was_never_taught_cannot_be_removed() {
    let (mut rig, lamp, [one, _]) = room();
    rig.learn(s(1), lamp, true);
    teach(&mut rig, s(2), one);
    assert!(rig.has_said(lamp, Note::Fault(Fault::TeachInRefused)));
}

#[test]
fn link_1_a_full_table_refuses_and_says_so() {
    let (mut rig, lamp, [one, other]) = room();
    rig.change(0, |settings| settings.outputs[0].table = 1);
    rig.learn(s(1), lamp, false);
    teach(&mut rig, s(2), one);
    assert!(rig.has_said(lamp, Note::Taught(true)));
    teach(&mut rig, s(3), other);
    let refused = [
        Note::Fault(Fault::TableFull),
        Note::Ignored(Ignored::TableFull),
    ];
    assert_eq!(rig.said(lamp), refused);
    rig.learn(s(4), lamp, true);
    teach(&mut rig, s(5), one);
    rig.learn(s(6), lamp, false);
    teach(&mut rig, s(7), other);
    assert!(rig.has_said(lamp, Note::Taught(true)));
}

#[test]
fn link_1_power_loss_ends_learning_and_stored_pairs_stay() {
    let (mut rig, lamp, [one, other]) = room();
    rig.learn(s(1), lamp, false);
    teach(&mut rig, s(2), one);
    rig.power(s(3), false);
    rig.learn(s(4), lamp, false);
    assert!(rig.has_said(lamp, Note::Ignored(Ignored::NoPower)));
    rig.power(s(5), true);
    rig.notes();
    teach(&mut rig, s(6), other);
    assert_eq!(rig.notes(), [Note::Ignored(Ignored::NotLearning)]);
    rig.occupied(s(7), one);
    rig.is(s(7), lamp, State::On, 80);
}

#[test]
fn link_1_every_output_that_learns_takes_the_pair_and_no_other() {
    let mut plan = Plan::default();
    let lamps = [plan.lamp(), plan.lamp(), plan.lamp()];
    let sensor = plan.sensor();
    for lamp in lamps {
        plan.link(sensor, lamp, Role::AutoOn(Level::FULL)).stored = false;
    }
    let mut rig = plan.rig();
    rig.learn(s(1), lamps[0], false);
    rig.learn(s(1), lamps[2], false);
    teach(&mut rig, s(2), sensor);
    rig.occupied(s(3), sensor);
    rig.are(s(3), &lamps, &[100, 0, 100]);
}

#[test]
fn link_1_a_source_that_is_already_known_stays_known() {
    let mut plan = Plan::default();
    let lamps = [plan.lamp(), plan.lamp()];
    let sensor = plan.reporting(HeardKind::Occupancy, min(13));
    plan.link(sensor, lamps[0], Role::AutoOn(Level::FULL));
    plan.link(sensor, lamps[1], Role::AutoOn(Level::FULL))
        .stored = false;
    let mut rig = plan.rig();
    rig.occupied(0, sensor);
    rig.learn(s(1), lamps[1], false);
    teach(&mut rig, s(2), sensor);
    assert!(!rig.it.is_unknown(sensor));
    assert_eq!(rig.bench.due(Timer::Silence(sensor)), Some(min(13)));
    rig.learn(s(3), lamps[1], true);
    teach(&mut rig, s(4), sensor);
    assert_eq!(rig.bench.due(Timer::Silence(sensor)), Some(min(13)));
    rig.occupied(s(5), sensor);
    rig.are(s(5), &lamps, &[100, 0]);
}

#[test]
fn link_1_a_run_on_ends_with_its_pair() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let sensor = plan.sensor();
    plan.link(sensor, lamp, Role::AutoOn(Level::FULL)).run_on = Span::from_minutes(10);
    let mut rig = plan.rig();
    rig.occupied(0, sensor);
    rig.vacant(s(1), sensor);
    rig.learn(s(2), lamp, true);
    teach(&mut rig, s(3), sensor);
    rig.is(s(3), lamp, State::Off, 0);
    rig.end(s(60));
    assert_eq!(rig.bench.running(), []);
}

#[test]
fn link_1_a_button_that_is_removed_lets_go() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let (up, _) = plan.pair(&[lamp]);
    let other = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.down(s(1), up);
    rig.is(s(2) + 500, lamp, State::On, 35);
    rig.learn(s(2) + 500, lamp, true);
    teach(&mut rig, s(2) + 500, up.heard);
    assert_eq!(rig.it.ramp_owner(lamp), None);
    rig.is(h(1), lamp, State::Off, 0);
    // Another unit's press is none of it.
    rig.down(h(2), other.0);
    rig.end(h(2) + s(1));
    rig.learn(h(2) + s(1), lamp, false);
    teach(&mut rig, h(2) + s(1), up.heard);
    rig.learn(h(2) + s(1), lamp, true);
    teach(&mut rig, h(2) + s(1), up.heard);
    assert!(rig.it.ramp_owner(lamp).is_some());
}

#[test]
fn link_1_what_a_removed_source_limited_or_called_for_ends() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    plan.spec(lamp).press_hold = Span::ZERO;
    plan.spec(lamp).shed_fade = Span::ZERO;
    let photo = plan.source(HeardKind::Daylight);
    let constants = Loop {
        kind: LoopKind::Open,
        calibration: Some(Calibration {
            night_sensor: Illuminance::from_lux(50),
            night_task: Illuminance::from_lux(500),
            day_sensor: Illuminance::from_lux(60),
            day_task: Illuminance::from_lux(250),
        }),
        ..Loop::default()
    };
    plan.link(photo, lamp, Role::Limit(constants));
    let alarm = plan.source(HeardKind::FireAlarm);
    plan.link(alarm, lamp, Role::Emergency);
    let response = plan.source(HeardKind::DemandResponse);
    plan.link(response, lamp, Role::Shed);
    let unit = plan.source(HeardKind::Switch);
    let up = plan.button(unit, switch::Button::Up, &[lamp]);
    let mut rig = plan.rig();
    let remove = |rig: &mut Rig, at: u64, heard: u8| {
        rig.learn(at, lamp, true);
        rig.frame(at, heard, Payload::TeachIn);
    };
    rig.tap(s(1), up);
    rig.frame(s(2), photo, Payload::Illuminance(Illuminance::from_lux(60)));
    rig.is(s(30), lamp, State::On, 50);
    remove(&mut rig, s(30), photo);
    rig.is(s(40), lamp, State::On, 100);
    rig.frame(s(41), response, Payload::Shed(None));
    rig.is(s(41), lamp, State::On, 85);
    remove(&mut rig, s(42), response);
    rig.is(s(42), lamp, State::On, 100);
    rig.frame(s(43), response, Payload::ShedEnd);
    rig.change(s(44), |settings| {
        settings.outputs[0].high_trim = percent(60)
    });
    rig.frame(s(45), alarm, Payload::Signal(Signal::FireAlarm, true));
    rig.is(s(45), lamp, State::On, 100);
    remove(&mut rig, s(46), alarm);
    rig.is(s(56) - 1, lamp, State::On, 100);
    rig.is(s(56), lamp, State::On, 60);
}

#[test]
fn link_1_a_removed_clock_sweeps_no_more() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let clock = plan.source(HeardKind::Clock);
    plan.link(
        clock,
        lamp,
        Role::Sweep {
            warning: Span::from_minutes(5),
            longest_override: Span::from_minutes(10),
        },
    );
    let (up, _) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.frame(s(1), clock, Payload::Sweep);
    rig.tap(s(2), up);
    rig.learn(s(3), lamp, true);
    teach(&mut rig, s(4), clock);
    rig.is(s(2) + min(15) - 1, lamp, State::On, 100);
    rig.is(s(2) + min(15), lamp, State::Off, 0);
}

#[test]
fn link_1_a_removed_card_reader_holds_nothing_captive() {
    let mut plan = Plan::default();
    let lamp = plan.output(Drive::Relay);
    let card = plan.source(HeardKind::Card { captive: true });
    plan.link(card, lamp, Role::Card(Level::FULL));
    let (up, _) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.tap(s(1), up);
    rig.is(s(1), lamp, State::Off, 0);
    rig.learn(s(2), lamp, true);
    teach(&mut rig, s(3), card);
    rig.tap(s(4), up);
    rig.is(s(4), lamp, State::On, 100);
}

#[test]
fn link_1_a_warning_that_waited_for_a_removed_button_ends() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    plan.spec(lamp).warning = Some(crate::controller::Warning::Dim {
        span: Span::from_seconds(60),
        level: percent(50),
    });
    let sensor = plan.sensor();
    plan.link(sensor, lamp, Role::AutoOn(Level::FULL));
    let (up, _) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.change(0, |settings| {
        settings.hold_threshold = Span::from_seconds(5)
    });
    rig.occupied(0, sensor);
    rig.vacant(s(10), sensor);
    rig.down(s(69), up);
    rig.is(s(71), lamp, State::Warning, 50);
    rig.learn(s(71), lamp, true);
    teach(&mut rig, s(72), up.heard);
    rig.is(s(72), lamp, State::Off, 0);
}

#[test]
fn link_1_a_lost_source_that_is_removed_is_missed_no_more() {
    let (mut rig, lamp, [one, _]) = room();
    rig.learn(s(1), lamp, false);
    teach(&mut rig, s(2), one);
    rig.end(h(1));
    assert!(rig.it.is_lost(one));
    rig.notes();
    rig.learn(h(1), lamp, true);
    teach(&mut rig, h(1) + s(1), one);
    assert!(!rig.it.is_lost(one));
    assert_eq!(rig.notes(), [Note::FaultEnded(Fault::Lost)]);
    // A pair that was not lost ends no fault.
    rig.learn(h(1) + s(2), lamp, false);
    teach(&mut rig, h(1) + s(3), one);
    rig.learn(h(1) + s(4), lamp, true);
    teach(&mut rig, h(1) + s(5), one);
    assert_eq!(rig.notes(), []);
}

#[test]
fn link_1_a_reader_just_taught_is_unknown_and_holds_nothing_captive_before_its_word() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let card = plan.source(HeardKind::Card { captive: true });
    plan.link(card, lamp, Role::Card(percent(70))).stored = false;
    let (up, _) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.tap(s(1), up);
    rig.learn(s(2), lamp, false);
    teach(&mut rig, s(3), card);
    assert!(rig.it.is_unknown(card));
    rig.down(s(4), up);
    rig.up(s(5), up);
    rig.is(s(5), lamp, State::On, 100);
    assert!(!rig.has_said(lamp, Note::Ignored(Ignored::Captive)));
    rig.frame(s(6), card, Payload::CardOut);
    rig.is(s(6), lamp, State::Off, 0);
}
