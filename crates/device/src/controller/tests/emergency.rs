//! OUT-1, OUT-13, OUT-14: the chain, emergency light and demand response.

use super::rig::{Plan, Press, Rig, h, min, percent, s};
use crate::controller::{Drive, HeardKind, Output, Role, State};
use crate::{Fault, Ignored, Level, Note, Payload, Points, Signal, Span};

const POWER_LOST: Payload = Payload::Signal(Signal::NormalPower, false);
const POWER_BACK: Payload = Payload::Signal(Signal::NormalPower, true);
const ALARM: Payload = Payload::Signal(Signal::FireAlarm, true);
const ALARM_OVER: Payload = Payload::Signal(Signal::FireAlarm, false);

/// An egress lamp with a floor of 10 %, normal power, a fire alarm and a pair.
fn egress(set: impl FnOnce(&mut Output)) -> (Rig, u8, [u8; 2], (Press, Press)) {
    let mut plan = Plan::default();
    let lamp = plan.output(Drive::ZeroToTen);
    plan.spec(lamp).floor = Some(percent(10));
    set(plan.spec(lamp));
    let power = plan.source(HeardKind::NormalPower);
    let alarm = plan.source(HeardKind::FireAlarm);
    for source in [power, alarm] {
        plan.link(source, lamp, Role::Emergency);
    }
    let pair = plan.pair(&[lamp]);
    (plan.rig(), lamp, [power, alarm], pair)
}

#[test]
fn out_1_asked_is_kept_through_an_off() {
    let (mut rig, lamp, _, (up, down)) = egress(|_| {});
    rig.down(s(1), up);
    rig.up(s(1) + 2_500, up);
    rig.tap(s(10), down);
    let view = rig.view(s(20), lamp);
    assert_eq!((view.state, view.asked), (State::Off, percent(60)));
    assert_eq!((view.target, view.closed), (percent(10), true));
}

#[test]
fn out_1_the_low_trim_beats_asked_and_the_high_trim_caps_it() {
    let (mut rig, lamp, _, (up, _)) = egress(|spec| {
        spec.low_trim = percent(20);
        spec.high_trim = percent(85);
    });
    rig.down(s(1), up);
    rig.is(s(1) + 500, lamp, State::On, 20);
    rig.is(s(10), lamp, State::On, 85);
}

#[test]
fn out_13_the_floor_is_under_everything_even_an_off() {
    let (mut rig, lamp, _, (up, down)) = egress(|spec| spec.floor = Some(percent(40)));
    rig.is(0, lamp, State::Off, 40);
    assert!(rig.view(0, lamp).closed);
    rig.tap(s(1), up);
    rig.tap(s(10), down);
    rig.is(s(20), lamp, State::Off, 40);
    // A floor over the high trim is the higher.
    rig.change(s(30), |settings| {
        settings.outputs[0].floor = Some(percent(95))
    });
    rig.change(s(31), |settings| {
        settings.outputs[0].high_trim = percent(80)
    });
    rig.tap(s(32), up);
    rig.is(s(40), lamp, State::On, 95);
}

#[test]
fn out_13_an_egress_lamp_keeps_the_relay_of_its_neighbour_closed_from_the_start() {
    let mut plan = Plan::default();
    let lamps = [plan.lamp(), plan.lamp(), plan.lamp()];
    plan.spec(lamps[0]).floor = Some(percent(10));
    plan.spec(lamps[0]).relay = Some(3);
    plan.spec(lamps[1]).relay = Some(3);
    let mut rig = plan.rig();
    let closed = lamps.map(|lamp| rig.view(0, lamp).closed);
    assert_eq!(closed, [true, true, false]);
}

#[test]
fn out_13_loss_of_normal_power_is_full_at_once_until_normal_light_is_proven() {
    let (mut rig, lamp, [power, _], (_, down)) = egress(|spec| spec.high_trim = percent(60));
    rig.frame(s(1), power, POWER_LOST);
    assert!(rig.has_said(lamp, Note::Emergency(true)));
    rig.is(s(1), lamp, State::Off, 100);
    assert_eq!(rig.light(s(1), lamp), 10_000);
    rig.tap(s(2), down);
    rig.is(s(2), lamp, State::Off, 100);
    rig.frame(s(60), power, POWER_BACK);
    // The source repeats its state: the proof is not restarted.
    rig.frame(s(65), power, POWER_BACK);
    rig.is(s(70) - 1, lamp, State::Off, 100);
    rig.is(s(70), lamp, State::Off, 10);
    assert!(rig.has_said(lamp, Note::Emergency(false)));
    // The way back is a fade: 2 s from 100 % to 10 %.
    assert_eq!(rig.light(s(71), lamp), 5_500);
}

#[test]
fn out_13_either_source_calls_and_both_must_rest() {
    let (mut rig, lamp, [power, alarm], _) = egress(|_| {});
    rig.frame(s(1), power, POWER_LOST);
    rig.frame(s(2), alarm, ALARM);
    rig.frame(s(3), power, POWER_BACK);
    rig.is(s(60), lamp, State::Off, 100);
    rig.frame(s(60), alarm, ALARM_OVER);
    rig.is(s(70) - 1, lamp, State::Off, 100);
    rig.is(s(70), lamp, State::Off, 10);
}

#[test]
fn out_13_a_new_call_while_light_is_being_proven_starts_over() {
    let (mut rig, lamp, [power, _], _) = egress(|_| {});
    rig.frame(s(1), power, POWER_LOST);
    rig.frame(s(10), power, POWER_BACK);
    rig.frame(s(15), power, POWER_LOST);
    rig.is(s(60), lamp, State::Off, 100);
    rig.frame(s(60), power, POWER_BACK);
    rig.is(s(70) - 1, lamp, State::Off, 100);
    rig.is(s(70), lamp, State::Off, 10);
}

#[test]
fn out_13_without_a_proving_time_emergency_light_ends_at_once() {
    let (mut rig, lamp, [power, _], _) = egress(|spec| spec.proven = Span::ZERO);
    rig.frame(s(1), power, POWER_LOST);
    rig.frame(s(10), power, POWER_BACK);
    rig.is(s(10), lamp, State::Off, 10);
}

#[test]
fn out_13_a_source_that_is_lost_counts_as_calling() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    plan.spec(lamp).floor = Some(percent(10));
    let power = plan.reporting(HeardKind::NormalPower, min(13));
    plan.link(power, lamp, Role::Emergency);
    let mut rig = plan.rig();
    rig.is(min(13) - 1, lamp, State::Off, 10);
    rig.is(min(13), lamp, State::Off, 100);
    assert_eq!(rig.notes(), [Note::Fault(Fault::Lost)]);
    rig.frame(min(14), power, POWER_BACK);
    rig.is(min(14) + s(10), lamp, State::Off, 10);
}

#[test]
fn out_13_emergency_beats_shed_and_blink_and_what_happened_meanwhile_stands() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    plan.spec(lamp).shed = None;
    let response = plan.source(HeardKind::DemandResponse);
    plan.link(response, lamp, Role::Shed);
    let power = plan.source(HeardKind::NormalPower);
    plan.link(power, lamp, Role::Emergency);
    let (up, _) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.frame(s(1), response, Payload::Shed(None));
    rig.frame(s(2), power, POWER_LOST);
    rig.tap(s(3), up);
    rig.is(s(3), lamp, State::On, 100);
    rig.frame(s(4), power, POWER_BACK);
    rig.is(s(14), lamp, State::On, 0);
}

/// A lamp with demand response and a pair.
fn sheddable(set: impl FnOnce(&mut Output)) -> (Rig, u8, u8, (Press, Press)) {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    plan.spec(lamp).press_hold = Span::ZERO;
    set(plan.spec(lamp));
    let response = plan.source(HeardKind::DemandResponse);
    plan.link(response, lamp, Role::Shed);
    let pair = plan.pair(&[lamp]);
    (plan.rig(), lamp, response, pair)
}

const fn points(value: u16) -> Payload {
    Payload::Shed(Some(Points::from_hundredths(value * 100)))
}

#[test]
fn out_14_the_high_trim_is_lowered_by_15_points_over_60_s_and_release_restores() {
    let (mut rig, lamp, response, (up, _)) = sheddable(|_| {});
    rig.tap(s(1), up);
    rig.frame(s(10), response, Payload::Shed(None));
    assert!(rig.has_said(lamp, Note::Shed(true)));
    rig.is(s(10), lamp, State::On, 100);
    assert_eq!(rig.view(s(40), lamp).target, Level::from_hundredths(9_250));
    rig.is(s(70), lamp, State::On, 85);
    let view = rig.view(h(1), lamp);
    assert_eq!(
        (view.target, view.asked, view.shed),
        (percent(85), Level::FULL, true)
    );
    rig.frame(h(2), response, Payload::ShedEnd);
    assert!(rig.has_said(lamp, Note::Shed(false)));
    assert_eq!(
        rig.view(h(2) + s(30), lamp).target,
        Level::from_hundredths(9_250)
    );
    let view = rig.view(h(2) + s(60), lamp);
    assert_eq!((view.target, view.shed), (Level::FULL, false));
    assert_eq!(rig.bench.running(), []);
}

#[test]
fn out_14_a_released_shed_leaves_the_high_trim_to_the_settings() {
    let (mut rig, lamp, response, (up, _)) = sheddable(|_| {});
    rig.tap(s(1), up);
    rig.frame(s(10), response, Payload::Shed(None));
    rig.frame(s(100), response, Payload::ShedEnd);
    rig.end(s(200));
    rig.change(s(201), |settings| {
        settings.outputs[0].high_trim = percent(70)
    });
    rig.is(s(201), lamp, State::On, 70);
}

#[test]
fn out_14_never_under_half_of_the_level_before_the_low_trim_or_the_floor() {
    let (mut rig, lamp, response, (up, _)) = sheddable(|_| {});
    rig.tap(s(1), up);
    rig.frame(s(10), response, points(60));
    rig.is(s(70), lamp, State::On, 50);

    let (mut rig, lamp, response, (up, _)) = sheddable(|spec| spec.low_trim = percent(45));
    rig.frame(s(10), response, points(60));
    rig.tap(s(80), up);
    rig.is(s(80), lamp, State::On, 45);

    let (mut rig, lamp, response, (up, _)) = sheddable(|spec| spec.floor = Some(percent(48)));
    rig.change(0, |settings| settings.outputs[0].floor = Some(percent(42)));
    rig.frame(s(10), response, points(60));
    rig.tap(s(80), up);
    rig.is(s(80), lamp, State::On, 42);

    // Off before the shed there is no level to halve.
    let (mut rig, lamp, response, (up, _)) = sheddable(|_| {});
    rig.frame(s(10), response, points(60));
    rig.tap(s(80), up);
    rig.is(s(80), lamp, State::On, 40);
}

#[test]
fn out_14_where_a_shed_of_its_own_points_leads_is_never_under_the_low_trim_or_the_floor() {
    let spec = |low, floor: Option<u16>, shed| Output {
        low_trim: percent(low),
        floor: floor.map(percent),
        shed,
        ..Output::new(Drive::ZeroToTen)
    };
    let by = |number: u16| Some(Points::from_hundredths(number * 100));
    assert_eq!(spec(10, None, by(15)).shed_to(), Some(percent(85)));
    assert_eq!(spec(45, None, by(60)).shed_to(), Some(percent(45)));
    assert_eq!(spec(10, Some(42), by(60)).shed_to(), Some(percent(42)));
    assert_eq!(spec(10, None, None).shed_to(), None, "the load is dropped");
}

#[test]
fn out_14_a_repeated_call_does_nothing_and_another_number_acts_from_the_same_half() {
    let (mut rig, lamp, response, (up, _)) = sheddable(|_| {});
    rig.tap(s(1), up);
    rig.frame(s(10), response, points(15));
    rig.is(s(70), lamp, State::On, 85);
    rig.said(lamp);
    rig.frame(s(80), response, points(15));
    assert_eq!(rig.said(lamp), []);
    rig.frame(s(100), response, points(60));
    rig.is(s(160), lamp, State::On, 50);
    rig.frame(s(200), response, points(30));
    rig.is(s(260), lamp, State::On, 70);
}

#[test]
fn out_14_without_a_fade_a_shed_and_its_release_are_at_once() {
    let (mut rig, lamp, response, (up, _)) = sheddable(|spec| {
        spec.shed_fade = Span::ZERO;
        spec.fade_off = Span::from_seconds(2);
    });
    rig.tap(s(1), up);
    rig.frame(s(10), response, Payload::Shed(None));
    rig.is(s(10), lamp, State::On, 85);
    // The light follows by the fade of the output.
    assert_eq!(rig.light(s(11), lamp), 9_250);
    rig.frame(s(20), response, Payload::ShedEnd);
    rig.is(s(20), lamp, State::On, 100);
    assert_eq!(rig.bench.running(), []);
}

#[test]
fn out_14_a_shed_never_turns_off_latches_or_warns() {
    let (mut rig, lamp, response, (up, _)) = sheddable(|_| {});
    rig.tap(s(1), up);
    rig.frame(s(10), response, points(90));
    let view = rig.view(h(1), lamp);
    assert_eq!(
        (view.state, view.latch, view.target),
        (State::On, false, percent(50))
    );
}

#[test]
fn out_14_relays_do_nothing_unless_the_load_is_dropped() {
    let mut plan = Plan::default();
    let (relay, dropped) = (plan.output(Drive::Relay), plan.output(Drive::Relay));
    plan.spec(dropped).shed = None;
    let response = plan.source(HeardKind::DemandResponse);
    for output in [relay, dropped] {
        plan.link(response, output, Role::Shed);
    }
    let (up, _) = plan.pair(&[relay, dropped]);
    let mut rig = plan.rig();
    rig.tap(s(1), up);
    rig.frame(s(10), response, Payload::Shed(None));
    rig.are(s(10), &[relay, dropped], &[100, 0]);
    let view = rig.view(s(10), dropped);
    assert_eq!((view.state, view.closed), (State::On, false));
    assert!(rig.has_said(relay, Note::Ignored(Ignored::ShedNotForRelays)));
    rig.frame(s(11), response, Payload::Shed(None));
    assert!(!rig.has_said(dropped, Note::Shed(true)));
    rig.frame(s(20), response, Payload::ShedEnd);
    rig.are(s(20), &[relay, dropped], &[100, 100]);
    assert!(rig.view(s(20), dropped).closed);
}

#[test]
fn out_2_a_load_that_is_dropped_leaves_its_relay_to_what_is_lit() {
    let mut plan = Plan::default();
    let (dropped, lit) = (plan.lamp(), plan.lamp());
    for lamp in [dropped, lit] {
        plan.spec(lamp).relay = Some(0);
    }
    plan.spec(dropped).shed = None;
    let response = plan.source(HeardKind::DemandResponse);
    plan.link(response, dropped, Role::Shed);
    let (up, _) = plan.pair(&[dropped, lit]);
    let mut rig = plan.rig();
    rig.tap(s(1), up);
    rig.frame(s(10), response, Payload::Shed(None));
    rig.are(s(10), &[dropped, lit], &[0, 100]);
    assert!(rig.view(s(10), lit).closed && rig.view(s(10), dropped).closed);
}

#[test]
fn out_14_a_release_without_a_shed_does_nothing() {
    let (mut rig, lamp, response, _) = sheddable(|_| {});
    rig.frame(s(1), response, Payload::ShedEnd);
    assert_eq!(rig.said(lamp), []);
}

#[test]
fn out_14_a_source_that_is_lost_asks_for_no_shed_any_more() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    plan.spec(lamp).press_hold = Span::ZERO;
    let response = plan.reporting(HeardKind::DemandResponse, min(13));
    plan.link(response, lamp, Role::Shed);
    let (up, _) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.tap(s(1), up);
    rig.frame(s(10), response, Payload::Shed(None));
    rig.is(s(10) + min(13), lamp, State::On, 85);
    rig.is(s(70) + min(13), lamp, State::On, 100);
}
