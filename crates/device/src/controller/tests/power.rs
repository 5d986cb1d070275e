//! OUT-12: power goes and returns.

use super::rig::{Plan, Press, Rig, h, min, percent, s};
use crate::controller::{Drive, HeardKind, Output, PowerUp, Role, State, Timer, Warning};
use crate::{Ignored, Level, Note, Payload, Signal, Span};

/// A lamp with a sensor and a pair.
fn room(set: impl FnOnce(&mut Output)) -> (Rig, u8, u8, (Press, Press)) {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    set(plan.spec(lamp));
    let sensor = plan.reporting(HeardKind::Occupancy, min(13));
    plan.link(sensor, lamp, Role::PartialOn(percent(50))).run_on = Span::from_minutes(1);
    let pair = plan.pair(&[lamp]);
    (plan.rig(), lamp, sensor, pair)
}

fn cut(rig: &mut Rig, at: u64) {
    rig.power(at, false);
    assert_eq!(rig.bench.running(), [], "no timer runs without power");
    rig.power(at + s(1), true);
}

#[test]
fn out_12_without_power_there_is_no_light_and_no_frame_is_heard() {
    let (mut rig, lamp, sensor, (up, _)) = room(|_| {});
    rig.tap(s(1), up);
    rig.power(s(2), false);
    assert!(!rig.it.is_powered());
    let view = rig.view(s(2), lamp);
    assert_eq!((view.light, view.closed), (Level::OFF, false));
    rig.notes();
    rig.occupied(s(3), sensor);
    assert_eq!(rig.notes(), [Note::Ignored(Ignored::NoPower)]);
    rig.power(s(4), false);
    assert_eq!(rig.notes(), []);
    rig.power(s(5), true);
    assert_eq!(rig.notes(), [Note::Power(true)]);
    rig.power(s(6), true);
    assert_eq!(rig.notes(), []);
    assert!(rig.it.is_powered());
}

#[test]
fn out_12_on_off_asked_hand_level_and_latch_are_kept() {
    let (mut rig, lamp, sensor, (up, down)) = room(|_| {});
    rig.occupied(0, sensor);
    rig.down(s(1), up);
    rig.up(s(1) + 1_500, up);
    rig.is(s(3), lamp, State::On, 75);
    cut(&mut rig, s(10));
    let view = rig.view(s(11), lamp);
    assert_eq!(
        (view.state, view.asked, view.by_hand),
        (State::On, percent(75), true)
    );
    rig.occupied(s(12), sensor);
    rig.tap(s(13), down);
    cut(&mut rig, s(20));
    let view = rig.view(s(21), lamp);
    assert_eq!((view.state, view.latch), (State::Off, true));
    rig.occupied(s(22), sensor);
    rig.is(s(22), lamp, State::Off, 0);
    rig.tap(s(23), up);
    rig.is(s(23), lamp, State::On, 75);
}

#[test]
fn out_12_on_or_off_by_setting() {
    for (power_up, lit, state, target) in [
        (PowerUp::On, false, State::On, 100),
        (PowerUp::On, true, State::On, 100),
        (PowerUp::Off, true, State::Off, 0),
        (PowerUp::Off, false, State::Off, 0),
        (PowerUp::Last, false, State::Off, 0),
        (PowerUp::Last, true, State::On, 100),
    ] {
        let (mut rig, lamp, _, (up, _)) = room(|spec| spec.power_up = power_up);
        if lit {
            rig.tap(s(1), up);
        }
        rig.end(s(2));
        rig.said(lamp);
        cut(&mut rig, s(10));
        let said = rig.said(lamp);
        let turned_on = said.contains(&Note::TurnedOn(Level::FULL));
        let turned_off = said.contains(&Note::TurnedOff);
        assert_eq!(turned_on, power_up == PowerUp::On && !lit);
        assert_eq!(turned_off, power_up == PowerUp::Off && lit);
        rig.is(s(11), lamp, state, target);
        assert_eq!(rig.view(s(11), lamp).closed, state == State::On);
    }
}

#[test]
fn out_12_one_of_a_relay_that_is_on_brings_all_of_it() {
    let mut plan = Plan::default();
    let lamps = [plan.lamp(), plan.lamp()];
    for lamp in lamps {
        plan.spec(lamp).relay = Some(0);
    }
    plan.spec(lamps[0]).power_up = PowerUp::Off;
    plan.spec(lamps[1]).power_up = PowerUp::On;
    let mut rig = plan.rig();
    cut(&mut rig, s(1));
    rig.are(s(2), &lamps, &[100, 100]);
}

#[test]
fn out_12_a_ramp_stops_where_it_was_and_counts_as_set_by_hand() {
    let (mut rig, lamp, sensor, (up, down)) = room(|_| {});
    rig.occupied(0, sensor);
    rig.down(s(1), up);
    cut(&mut rig, s(1) + 1_500);
    rig.is(s(60), lamp, State::On, 75);
    rig.tap(s(61), down);
    rig.tap(s(62), up);
    rig.is(s(62), lamp, State::On, 75);
}

#[test]
fn out_12_a_fade_is_over() {
    let mut plan = Plan::default();
    let lamp = plan.output(Drive::ZeroToTen);
    let (up, _) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.tap(s(1), up);
    cut(&mut rig, s(1) + 500);
    assert_eq!(rig.light(s(2) + 500, lamp), 10_000);
}

#[test]
fn out_12_sources_are_unknown_until_heard_and_the_output_is_occupied_for_all_that_is_known() {
    let (mut rig, lamp, sensor, _) = room(|spec| spec.press_hold = Span::ZERO);
    rig.occupied(0, sensor);
    cut(&mut rig, s(10));
    assert!(rig.it.is_unknown(sensor));
    assert!(rig.view(min(1), lamp).occupied);
    // Vacant, without the run-on: that timer was not kept.
    rig.vacant(min(2), sensor);
    rig.is(min(2), lamp, State::Off, 0);

    let (mut rig, lamp, sensor, _) = room(|_| {});
    rig.occupied(0, sensor);
    cut(&mut rig, s(10));
    rig.occupied(s(12), sensor);
    rig.is(h(5), lamp, State::Off, 0);
    assert!(rig.it.is_lost(sensor));
}

#[test]
fn out_12_a_run_on_is_not_kept() {
    let (mut rig, lamp, sensor, _) = room(|spec| spec.press_hold = Span::ZERO);
    rig.occupied(0, sensor);
    rig.vacant(s(5), sensor);
    cut(&mut rig, s(10));
    rig.is(min(10), lamp, State::On, 50);
    rig.vacant(min(10), sensor);
    rig.is(min(10), lamp, State::Off, 0);
}

#[test]
fn out_12_a_lamp_that_a_press_had_lit_has_its_press_hold_anew() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let (up, _) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.tap(s(1), up);
    cut(&mut rig, min(10));
    let back = min(10) + s(1);
    rig.is(back + min(15) - 1, lamp, State::On, 100);
    rig.is(back + min(15), lamp, State::Off, 0);
}

#[test]
fn out_12_no_press_hold_runs_on_what_has_no_button_or_is_off() {
    let mut plan = Plan::default();
    let lamps = [plan.lamp(), plan.lamp()];
    plan.spec(lamps[0]).power_up = PowerUp::On;
    let clock = plan.source(HeardKind::Clock);
    plan.link(clock, lamps[0], Role::Opening(Level::FULL));
    plan.pair(&lamps[1..]);
    let mut rig = plan.rig();
    cut(&mut rig, s(1));
    assert_eq!(rig.bench.running(), []);
    rig.are(h(1), &lamps, &[100, 0]);
}

#[test]
fn out_12_a_warning_is_over_and_the_light_back_until_the_room_is_known_to_be_empty() {
    let (mut rig, lamp, sensor, _) = room(|spec| {
        spec.warning = Some(Warning::Blink {
            span: Span::from_seconds(60),
        });
        spec.press_hold = Span::ZERO;
    });
    rig.occupied(0, sensor);
    rig.vacant(s(1), sensor);
    rig.is(s(61), lamp, State::Warning, 0);
    cut(&mut rig, s(61));
    rig.is(s(62), lamp, State::On, 50);
    rig.vacant(s(70), sensor);
    rig.is(s(71), lamp, State::Warning, 50);
    rig.is(s(130), lamp, State::Off, 0);
}

#[test]
fn out_12_a_setback_is_kept() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    plan.spec(lamp).off_after = Some(Span::from_minutes(1));
    let sensor = plan.sensor();
    plan.link(sensor, lamp, Role::AutoOn(Level::FULL)).setback = Some(percent(20));
    let mut rig = plan.rig();
    rig.occupied(0, sensor);
    rig.vacant(s(1), sensor);
    cut(&mut rig, s(10));
    rig.is(min(60), lamp, State::Setback, 20);
    rig.vacant(min(60), sensor);
    rig.is(min(61) - 1, lamp, State::Setback, 20);
    rig.is(min(61), lamp, State::Off, 0);
}

#[test]
fn out_12_the_grace_is_not_kept_and_a_latch_without_a_sensor_is_forgotten() {
    let (mut rig, lamp, sensor, _) = room(|spec| {
        spec.grace = Span::from_seconds(30);
        spec.press_hold = Span::ZERO;
    });
    rig.change(0, |settings| settings.links[0].role = Role::ManualOn);
    rig.occupied(s(1), sensor);
    rig.change(s(2), |settings| settings.links[0].run_on = Span::ZERO);
    rig.vacant(s(3), sensor);
    cut(&mut rig, s(4));
    rig.occupied(s(6), sensor);
    rig.is(s(6), lamp, State::Off, 0);

    let mut plan = Plan::default();
    let lamp = plan.lamp();
    plan.spec(lamp).warning = Some(Warning::Dim {
        span: Span::from_seconds(60),
        level: percent(50),
    });
    let (up, down) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.tap(s(1), up);
    rig.tap(s(31) + min(15), down);
    assert!(rig.view(s(31) + min(15), lamp).latch);
    cut(&mut rig, s(40) + min(15));
    assert!(!rig.view(s(41) + min(15), lamp).latch);
}

#[test]
fn out_12_a_sweep_comes_again_with_its_warning() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    plan.spec(lamp).press_hold = Span::ZERO;
    let clock = plan.source(HeardKind::Clock);
    plan.link(
        clock,
        lamp,
        Role::Sweep {
            warning: Span::from_minutes(5),
            longest_override: Span::from_hours(2),
        },
    );
    let (up, _) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.tap(s(1), up);
    cut(&mut rig, s(10));
    rig.is(h(1), lamp, State::On, 100);
    rig.frame(h(1), clock, Payload::Sweep);
    rig.tap(h(1) + s(10), up);
    cut(&mut rig, h(2));
    rig.is(h(2) + s(1), lamp, State::Warning, 50);
    rig.is(h(2) + s(1) + min(5), lamp, State::Off, 0);
    cut(&mut rig, h(3));
    rig.is(h(4), lamp, State::Off, 0);
}

#[test]
fn out_12_emergency_light_is_kept_and_proven_anew() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    plan.spec(lamp).floor = Some(percent(10));
    let power = plan.source(HeardKind::NormalPower);
    plan.link(power, lamp, Role::Emergency);
    let mut rig = plan.rig();
    rig.frame(s(1), power, Payload::Signal(Signal::NormalPower, false));
    cut(&mut rig, s(2));
    rig.is(s(30), lamp, State::Off, 100);
    rig.frame(s(31), power, Payload::Signal(Signal::NormalPower, true));
    cut(&mut rig, s(35));
    rig.is(s(46) - 1, lamp, State::Off, 100);
    rig.is(s(46), lamp, State::Off, 10);
}

#[test]
fn out_12_a_shed_keeps_its_end_and_a_release_is_over() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    plan.spec(lamp).press_hold = Span::ZERO;
    let response = plan.source(HeardKind::DemandResponse);
    plan.link(response, lamp, Role::Shed);
    let (up, _) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.tap(s(1), up);
    rig.frame(s(10), response, Payload::Shed(None));
    cut(&mut rig, s(40));
    rig.is(s(41), lamp, State::On, 85);
    rig.frame(s(50), response, Payload::ShedEnd);
    cut(&mut rig, s(60));
    rig.is(s(61), lamp, State::On, 100);
}

#[test]
fn out_12_a_minimum_time_and_its_wish_are_not_kept() {
    let mut plan = Plan::default();
    let air = plan.output(Drive::Contact);
    let sensor = plan.sensor();
    plan.link(sensor, air, Role::AutoOn(Level::FULL));
    let mut rig = plan.rig();
    rig.occupied(0, sensor);
    rig.vacant(s(1), sensor);
    cut(&mut rig, s(2));
    rig.is(min(10), air, State::On, 100);
    rig.vacant(min(10), sensor);
    rig.is(min(10), air, State::Off, 0);
}

#[test]
fn out_12_a_lost_source_is_no_longer_lost_and_counted_anew() {
    let (mut rig, _, sensor, _) = room(|_| {});
    rig.end(min(13));
    assert!(rig.it.is_lost(sensor));
    cut(&mut rig, min(14));
    assert!(!rig.it.is_lost(sensor));
    assert_eq!(rig.bench.due(Timer::Silence(sensor)), Some(min(27) + s(1)));
}
