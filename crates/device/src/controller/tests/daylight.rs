//! DAY-2 to DAY-9: the daylight limit and dim-to-dark.

use alloc::vec::Vec;

use super::rig::{Plan, Press, Rig, h, min, percent, s};
use crate::controller::{Calibration, Drive, HeardKind, Loop, LoopKind, Role, State};
use crate::{Fault, Ignored, Illuminance, Level, Note, Payload, Span};

/// The worked example of proportional control: full light is 500 lx at the task and 50 lx at the
/// sensor; by day 60 lx at the sensor are 250 lx at the task. So the limit is 1 − S/120.
const fn calibration(day_task: u32) -> Calibration {
    Calibration {
        night_sensor: Illuminance::from_lux(50),
        night_task: Illuminance::from_lux(500),
        day_sensor: Illuminance::from_lux(60),
        day_task: Illuminance::from_lux(day_task),
    }
}

fn open() -> Loop {
    Loop {
        kind: LoopKind::Open,
        calibration: Some(calibration(250)),
        ..Loop::default()
    }
}

fn closed() -> Loop {
    Loop {
        kind: LoopKind::Closed,
        ..open()
    }
}

const fn sees(lux: u32) -> Payload {
    Payload::Illuminance(Illuminance::from_lux(lux))
}

/// A lamp without press hold, a pair and a photosensor.
fn zone(constants: Loop) -> (Rig, u8, u8, (Press, Press)) {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    plan.spec(lamp).press_hold = Span::ZERO;
    let photo = plan.source(HeardKind::Daylight);
    plan.link(photo, lamp, Role::Limit(constants));
    let pair = plan.pair(&[lamp]);
    (plan.rig(), lamp, photo, pair)
}

#[test]
fn day_2_the_sensor_sets_a_limit_and_never_a_level() {
    let (mut rig, lamp, photo, (up, down)) = zone(open());
    rig.frame(0, photo, sees(60));
    rig.is(s(60), lamp, State::Off, 0);
    rig.tap(s(61), up);
    let view = rig.view(s(61), lamp);
    assert_eq!((view.target, view.asked), (percent(50), Level::FULL));
    rig.down(s(70), down);
    rig.up(s(71) + 300, down);
    rig.is(s(80), lamp, State::On, 30);
    rig.frame(s(81), photo, sees(0));
    rig.is(h(1), lamp, State::On, 30);
}

#[test]
fn day_3_the_closed_loop_takes_its_own_light_off_what_it_sees() {
    // Full on: 60 lx of daylight and 50 lx of its own.
    let (mut rig, lamp, photo, (up, _)) = zone(closed());
    rig.tap(s(1), up);
    rig.frame(s(2), photo, sees(110));
    assert!(rig.has_said(lamp, Note::Limit(percent(50))));
    rig.is(s(2) + s(15), lamp, State::On, 50);
    // Half on it sees 85 lx: nothing moves.
    rig.frame(s(20), photo, sees(85));
    assert_eq!(rig.said(lamp), []);
}

#[test]
fn day_3_the_limit_is_right_with_the_lamps_off_and_a_zone_turns_on_at_it() {
    let (mut rig, lamp, photo, (up, _)) = zone(closed());
    rig.frame(0, photo, sees(60));
    rig.end(s(30));
    rig.tap(s(31), up);
    rig.is(s(31), lamp, State::On, 50);
}

#[test]
fn day_3_daylight_is_never_less_than_none() {
    let (mut rig, lamp, photo, (up, _)) = zone(closed());
    rig.tap(s(1), up);
    rig.frame(s(2), photo, sees(20));
    rig.is(s(60), lamp, State::On, 100);
}

#[test]
fn day_3_a_sensor_takes_off_the_light_of_every_zone_it_limits() {
    let mut plan = Plan::default();
    let lamps = [plan.lamp(), plan.lamp()];
    let photo = plan.source(HeardKind::Daylight);
    for lamp in lamps {
        plan.link(photo, lamp, Role::Limit(closed()));
    }
    let (up, _) = plan.pair(&lamps);
    let mut rig = plan.rig();
    rig.tap(s(1), up);
    rig.frame(s(2), photo, sees(160));
    rig.are(s(60), &lamps, &[50, 50]);
}

#[test]
fn day_4_the_open_loop_follows_the_outside_alone() {
    let (mut rig, lamp, photo, (up, _)) = zone(open());
    rig.tap(s(1), up);
    // The table of proportional control: 30 → 75 %, 60 → 50 %, 90 → 25 %, 150 → none.
    for (at, lux, target) in [(10, 0, 100), (60, 30, 75), (120, 60, 50), (180, 90, 25)] {
        rig.frame(s(at), photo, sees(lux));
        rig.is(s(at + 40), lamp, State::On, target);
    }
    rig.frame(s(240), photo, sees(150));
    // Nothing is needed; what is on stays at its low trim.
    rig.is(s(300), lamp, State::On, 10);
    assert!(rig.has_said(lamp, Note::Limit(Level::OFF)));
}

#[test]
fn day_4_a_dim_lamp_that_cannot_reach_the_set_point_is_full() {
    let (mut rig, lamp, photo, (up, _)) = zone(Loop {
        set_point: Illuminance::from_lux(800),
        ..open()
    });
    rig.tap(s(1), up);
    rig.frame(s(2), photo, sees(60));
    rig.is(s(60), lamp, State::On, 100);
}

#[test]
fn day_5_never_calibrated_says_so_once_and_does_not_limit() {
    let (mut rig, lamp, photo, (up, _)) = zone(Loop {
        calibration: None,
        ..open()
    });
    rig.tap(s(1), up);
    rig.said(lamp);
    rig.frame(s(2), photo, sees(500));
    rig.frame(s(3), photo, sees(600));
    let ignored = Note::Ignored(Ignored::NotCalibrated);
    assert_eq!(
        rig.said(lamp),
        [Note::Fault(Fault::NotCalibrated), ignored, ignored]
    );
    rig.is(s(60), lamp, State::On, 100);
}

#[test]
fn day_5_a_calibrated_loop_reports_no_fault() {
    let (mut rig, lamp, photo, _) = zone(open());
    rig.frame(s(1), photo, sees(60));
    assert_eq!(rig.said(lamp), [Note::Limit(percent(50))]);
}

#[test]
fn day_6_a_limit_goes_down_in_30_s_and_up_in_10_s_over_the_full_range() {
    let (mut rig, lamp, photo, (up, _)) = zone(open());
    rig.tap(s(1), up);
    rig.frame(s(10), photo, sees(60));
    rig.is(s(10), lamp, State::On, 100);
    assert_eq!(rig.view(s(19), lamp).target, percent(70));
    rig.is(s(25), lamp, State::On, 50);
    assert!(rig.bench.running().is_empty());
    rig.frame(s(40), photo, sees(0));
    rig.is(s(42), lamp, State::On, 70);
    rig.is(s(45), lamp, State::On, 100);
}

#[test]
fn day_6_a_new_limit_goes_on_from_where_the_old_one_was() {
    let (mut rig, lamp, photo, (up, _)) = zone(open());
    rig.tap(s(1), up);
    rig.frame(s(10), photo, sees(60));
    rig.frame(s(16), photo, sees(0));
    rig.is(s(16), lamp, State::On, 80);
    rig.is(s(17), lamp, State::On, 90);
    rig.is(s(18), lamp, State::On, 100);
}

#[test]
fn day_6_inside_the_dead_band_nothing_moves() {
    let (mut rig, lamp, photo, (up, _)) = zone(open());
    rig.tap(s(1), up);
    // 10 % of 500 lx at the task are 12 lx at the sensor.
    rig.frame(
        s(10),
        photo,
        Payload::Illuminance(Illuminance::from_hundredths(1_199)),
    );
    assert!(rig.has_said(lamp, Note::Ignored(Ignored::DeadBand)));
    rig.is(s(60), lamp, State::On, 100);
    rig.frame(s(60), photo, sees(12));
    rig.is(s(90), lamp, State::On, 90);
    rig.frame(s(100), photo, sees(20));
    rig.is(s(140), lamp, State::On, 90);
    rig.frame(s(140), photo, sees(24));
    rig.is(s(180), lamp, State::On, 80);
}

#[test]
fn day_6_the_ends_are_taken_inside_the_dead_band_too() {
    let (mut rig, lamp, photo, (up, _)) = zone(open());
    rig.tap(s(1), up);
    rig.frame(s(10), photo, sees(18));
    rig.is(s(60), lamp, State::On, 85);
    rig.frame(s(60), photo, sees(0));
    assert!(rig.has_said(lamp, Note::Limit(Level::FULL)));
    rig.frame(s(100), photo, sees(114));
    assert!(rig.has_said(lamp, Note::Limit(percent(5))));
    rig.frame(s(200), photo, sees(120));
    assert!(rig.has_said(lamp, Note::Limit(Level::OFF)));
    rig.frame(s(300), photo, sees(130));
    assert_eq!(rig.said(lamp), []);
}

/// A zone that goes dark 15 min after its limit has asked for less than the low trim of 10 %.
fn dark_zone() -> (Rig, u8, u8, (Press, Press)) {
    zone(Loop {
        dark_after: Some(Span::from_minutes(15)),
        ..open()
    })
}

#[test]
fn day_7_dark_after_15_min_under_the_low_trim_and_back_above_1_2_times_it() {
    let (mut rig, lamp, photo, (up, _)) = dark_zone();
    rig.tap(s(1), up);
    rig.frame(s(10), photo, sees(120));
    rig.is(s(10) + min(15) - 1, lamp, State::On, 10);
    rig.is(s(10) + min(15), lamp, State::On, 0);
    assert!(rig.has_said(lamp, Note::DarkByDaylight));
    assert!(!rig.view(s(10) + min(15), lamp).closed);
    // 12 % is not more than 1.2 × 10 %.
    rig.frame(
        h(1),
        photo,
        Payload::Illuminance(Illuminance::from_hundredths(10_560)),
    );
    rig.is(h(1), lamp, State::On, 0);
    rig.frame(h(1) + min(1), photo, sees(120));
    rig.frame(
        h(2),
        photo,
        Payload::Illuminance(Illuminance::from_hundredths(10_548)),
    );
    assert!(rig.has_said(lamp, Note::BackFromDaylight));
    rig.is(h(2), lamp, State::On, 10);
    // It follows its limit from there.
    assert_eq!(rig.view(h(3), lamp).target, Level::from_hundredths(1_210));
}

#[test]
fn day_7_light_that_returns_to_the_low_trim_in_time_starts_the_count_again() {
    let (mut rig, lamp, photo, (up, _)) = dark_zone();
    rig.tap(s(1), up);
    rig.frame(s(10), photo, sees(120));
    rig.frame(min(10), photo, sees(108));
    rig.is(h(1), lamp, State::On, 10);
    rig.frame(h(1), photo, sees(120));
    rig.is(h(1) + min(15) - 1, lamp, State::On, 10);
    rig.is(h(1) + min(15), lamp, State::On, 0);
}

#[test]
fn day_7_off_by_default() {
    let (mut rig, lamp, photo, (up, _)) = zone(open());
    rig.tap(s(1), up);
    rig.frame(s(10), photo, sees(120));
    rig.is(h(5), lamp, State::On, 10);
}

#[test]
fn day_7_a_zone_that_turns_on_in_bright_light_counts_from_then() {
    let (mut rig, lamp, photo, (up, _)) = dark_zone();
    rig.frame(0, photo, sees(120));
    rig.end(h(1));
    rig.tap(h(1) + s(1), up);
    rig.is(h(1) + s(1) + min(15) - 1, lamp, State::On, 10);
    rig.is(h(1) + s(1) + min(15), lamp, State::On, 0);
}

/// A zone that went dark at 15 min 10 s.
fn dark() -> (Rig, u8, u8, (Press, Press)) {
    let (mut rig, lamp, photo, (up, down)) = dark_zone();
    rig.tap(s(1), up);
    rig.frame(s(10), photo, sees(120));
    rig.is(h(1), lamp, State::On, 0);
    (rig, lamp, photo, (up, down))
}

#[test]
fn day_7_a_tap_up_while_dark_brings_the_low_trim_and_starts_the_15_min_again() {
    let (mut rig, lamp, _, (up, _)) = dark();
    rig.tap(h(1) + s(1), up);
    rig.is(h(1) + s(1), lamp, State::On, 10);
    rig.is(h(1) + s(1) + min(15) - 1, lamp, State::On, 10);
    rig.is(h(1) + s(1) + min(15), lamp, State::On, 0);
}

#[test]
fn day_7_a_hold_up_while_dark_brings_the_low_trim_and_a_hold_down_nothing() {
    let (mut rig, lamp, _, (up, down)) = dark();
    rig.down(h(1) + s(1), down);
    rig.up(h(1) + s(3), down);
    rig.is(h(1) + s(3), lamp, State::On, 0);
    assert_eq!(rig.view(h(1) + s(3), lamp).asked, Level::FULL);
    assert!(rig.has_said(lamp, Note::Ignored(Ignored::AlreadyOff)));
    rig.down(h(1) + s(4), up);
    rig.up(h(1) + s(6), up);
    rig.is(h(1) + s(6), lamp, State::On, 10);
}

#[test]
fn day_7_a_single_button_takes_a_dark_zone_for_off() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    plan.spec(lamp).press_hold = Span::ZERO;
    let photo = plan.source(HeardKind::Daylight);
    plan.link(
        photo,
        lamp,
        Role::Limit(Loop {
            dark_after: Some(Span::from_minutes(15)),
            ..open()
        }),
    );
    let single = plan.single(&[lamp]);
    let mut rig = plan.rig();
    rig.tap(s(1), single);
    rig.frame(s(10), photo, sees(120));
    rig.is(h(1), lamp, State::On, 0);
    rig.tap(h(1) + s(1), single);
    rig.is(h(1) + s(1), lamp, State::On, 10);
    rig.is(h(2), lamp, State::On, 0);
    rig.down(h(2) + s(1), single);
    rig.up(h(2) + s(3), single);
    rig.is(h(2) + s(3), lamp, State::On, 10);
    rig.tap(h(2) + s(5), single);
    rig.is(h(2) + s(5), lamp, State::Off, 0);
}

#[test]
fn day_7_off_while_dark_is_an_off_without_a_flash() {
    let (mut rig, lamp, _, (up, down)) = dark();
    rig.said(lamp);
    rig.tap(h(1) + s(1), down);
    rig.is(h(1) + s(1), lamp, State::Off, 0);
    assert!(!rig.has_said(lamp, Note::Relay(true)));
    // The next on is an on.
    rig.tap(h(1) + s(2), up);
    rig.is(h(1) + s(2), lamp, State::On, 10);
}

#[test]
fn day_7_no_latch_and_no_grace_for_nobody_switched_it_off() {
    let (mut rig, lamp, ..) = dark();
    let view = rig.view(h(1), lamp);
    assert_eq!((view.state, view.latch), (State::On, false));
    assert_eq!(rig.bench.running(), []);
}

#[test]
fn day_7_dark_survives_a_cut_and_off_does_not_carry_it() {
    let (mut rig, lamp, photo, _) = dark();
    rig.power(h(1) + s(1), false);
    rig.power(h(1) + s(2), true);
    rig.is(h(1) + s(2), lamp, State::On, 0);
    rig.frame(h(1) + s(3), photo, sees(0));
    rig.is(h(1) + s(20), lamp, State::On, 100);

    let (mut rig, lamp, _, (up, _)) = dark();
    rig.change(h(1), |settings| {
        settings.outputs[0].power_up = crate::controller::PowerUp::Off;
    });
    rig.power(h(1) + s(1), false);
    rig.power(h(1) + s(2), true);
    rig.tap(h(1) + s(3), up);
    rig.is(h(1) + s(3), lamp, State::On, 10);
}

#[test]
fn day_7_a_count_that_a_cut_stopped_starts_anew() {
    let (mut rig, lamp, photo, (up, _)) = dark_zone();
    rig.tap(s(1), up);
    rig.frame(s(10), photo, sees(120));
    rig.end(min(5));
    rig.power(min(5), false);
    rig.power(min(6), true);
    rig.is(min(21) - 1, lamp, State::On, 10);
    rig.is(min(21), lamp, State::On, 0);
}

#[test]
fn day_7_a_dark_egress_zone_shows_its_floor() {
    let (mut rig, lamp, ..) = {
        let (mut rig, lamp, photo, pair) = dark_zone();
        rig.change(0, |settings| settings.outputs[0].floor = Some(percent(5)));
        rig.tap(s(1), pair.0);
        rig.frame(s(10), photo, sees(120));
        (rig, lamp, photo, pair)
    };
    rig.is(h(1), lamp, State::On, 5);
    assert!(rig.view(h(1), lamp).closed);
}

/// Three zones behind one switch and one sensor, at this share of the day reading each.
fn zones(day_tasks: [u32; 3], relay: Option<u8>) -> (Rig, Vec<u8>, u8, (Press, Press)) {
    let mut plan = Plan::default();
    let photo = plan.source(HeardKind::Daylight);
    let lamps: Vec<u8> = (day_tasks.into_iter())
        .map(|day_task| {
            let lamp = plan.lamp();
            let spec = plan.spec(lamp);
            spec.press_hold = Span::ZERO;
            spec.group = Some(0);
            spec.relay = relay;
            let constants = Loop {
                calibration: Some(calibration(day_task)),
                dark_after: Some(Span::from_minutes(15)),
                ..open()
            };
            plan.link(photo, lamp, Role::Limit(constants));
            lamp
        })
        .collect();
    let pair = plan.pair(&lamps);
    (plan.rig(), lamps, photo, pair)
}

#[test]
fn day_7_on_a_shared_relay_all_wait_at_their_low_trim_until_each_is_ready() {
    let (mut rig, lamps, photo, (up, _)) = zones([500, 250, 250], Some(0));
    rig.tap(s(1), up);
    rig.frame(s(10), photo, sees(60));
    rig.are(min(30), &lamps, &[10, 50, 50]);
    assert!(rig.view(min(30), lamps[0]).closed);
    rig.frame(min(30), photo, sees(120));
    rig.are(min(45) - 1, &lamps, &[10, 10, 10]);
    rig.are(min(45), &lamps, &[0, 0, 0]);
    assert!(!rig.view(min(45), lamps[0]).closed);
    // One comes back, and the relay brings the others to their low trim.
    rig.frame(h(1), photo, sees(60));
    rig.are(h(1) + s(30), &lamps, &[10, 50, 50]);
    rig.frame(h(2), photo, sees(120));
    rig.are(h(2) + min(15), &lamps, &[0, 0, 0]);
}

/// OUT-2: a press that lights zones which are dark together asks the same of each, whichever comes
/// first: what they were asked stays, and every one of them is dark again a delay later.
#[test]
fn day_7_a_press_on_dark_zones_of_a_relay_asks_the_same_of_all() {
    for held in [false, true] {
        let (mut rig, lamps, photo, (up, down)) = zones([500, 250, 250], Some(0));
        rig.tap(s(1), up);
        // Asked 70 %: 30 points of 100 in 4 s are 1.2 s after the threshold.
        rig.down(s(2), down);
        rig.up(s(3) + 700, down);
        rig.frame(s(10), photo, sees(120));
        rig.are(h(1), &lamps, &[0, 0, 0]);
        if held {
            // From asked 70 % to the high trim.
            rig.down(h(1) + s(1), up);
            rig.up(h(1) + s(6), up);
        } else {
            rig.tap(h(1) + s(1), up);
        }
        rig.are(h(1) + s(9), &lamps, &[10, 10, 10]);
        rig.are(h(1) + min(16), &lamps, &[0, 0, 0]);
        rig.frame(h(2), photo, sees(0));
        let asked = if held { 100 } else { 70 };
        rig.are(h(2) + min(1), &lamps, &[asked; 3]);
    }
}

#[test]
fn day_8_limits_60_80_100_and_asked_100_70_50() {
    let (mut rig, lamps, photo, (up, down)) = zones([200, 100, 0], None);
    rig.frame(0, photo, sees(60));
    rig.end(s(60));
    rig.tap(s(61), up);
    rig.are(s(61), &lamps, &[60, 80, 100]);
    // Asked 70 %: 30 points of 100 in 4 s are 1.2 s after the threshold.
    rig.down(s(70), down);
    rig.up(s(71) + 700, down);
    rig.are(s(72), &lamps, &[60, 70, 70]);
    rig.down(s(80), down);
    rig.up(s(81) + 300, down);
    rig.are(s(82), &lamps, &[50, 50, 50]);
}

#[test]
fn day_8_raising_moves_all_until_each_meets_its_own_limit() {
    let (mut rig, lamps, photo, (up, down)) = zones([200, 100, 0], None);
    rig.frame(0, photo, sees(60));
    rig.end(s(60));
    rig.tap(s(61), up);
    rig.down(s(70), down);
    rig.up(s(80), down);
    rig.are(s(80), &lamps, &[10, 10, 10]);
    rig.down(s(90), up);
    rig.are(s(90) + 2_500, &lamps, &[60, 60, 60]);
    rig.are(s(90) + 3_300, &lamps, &[60, 80, 80]);
    rig.up(s(100), up);
    rig.are(s(100), &lamps, &[60, 80, 100]);
}

#[test]
fn sw_10_lowering_starts_from_the_highest_target_without_dead_travel() {
    // All limited to 60 %: the first 40 points are not travelled.
    let (mut rig, lamps, photo, (up, down)) = zones([200, 200, 200], None);
    rig.frame(0, photo, sees(60));
    rig.end(s(60));
    rig.tap(s(61), up);
    rig.are(s(61), &lamps, &[60, 60, 60]);
    rig.down(s(70), down);
    rig.up(s(70) + 900, down);
    rig.are(s(72), &lamps, &[50, 50, 50]);
    assert_eq!(rig.view(s(72), lamps[0]).asked, percent(50));
    // Raising: asked goes on to the high trim though the light stops at its limit.
    rig.down(s(80), up);
    rig.up(s(90), up);
    rig.are(s(90), &lamps, &[60, 60, 60]);
    assert_eq!(rig.view(s(90), lamps[0]).asked, Level::FULL);
}

#[test]
fn day_8_a_dark_zone_moves_with_its_group_and_stays_dark() {
    let (mut rig, lamps, photo, (up, down)) = zones([500, 0, 0], None);
    rig.tap(s(1), up);
    rig.frame(s(10), photo, sees(60));
    rig.are(h(1), &lamps, &[0, 100, 100]);
    rig.down(h(1) + s(1), down);
    rig.up(h(1) + s(3) + 500, down);
    rig.are(h(1) + s(4), &lamps, &[0, 50, 50]);
    rig.frame(h(2), photo, sees(0));
    rig.are(h(2) + s(30), &lamps, &[50, 50, 50]);
}

#[test]
fn day_9_a_lost_photosensor_limits_no_more_by_the_up_fade() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    plan.spec(lamp).press_hold = Span::ZERO;
    // 3.2 × 30 s.
    let photo = plan.reporting(HeardKind::Daylight, s(96));
    plan.link(photo, lamp, Role::Limit(open()));
    let (up, _) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.tap(s(1), up);
    rig.frame(s(10), photo, sees(60));
    rig.is(s(106) - 1, lamp, State::On, 50);
    rig.notes();
    rig.is(s(108), lamp, State::On, 70);
    assert_eq!(rig.notes(), [Note::Fault(Fault::Lost)]);
    rig.is(s(111), lamp, State::On, 100);
    rig.said(lamp);
    // Lost again without a limit: nothing moves.
    rig.frame(s(120), photo, sees(0));
    rig.end(s(300));
    assert_eq!(rig.said(lamp), []);
}

#[test]
fn day_9_a_zone_dark_by_daylight_comes_back_when_its_sensor_is_lost() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    plan.spec(lamp).press_hold = Span::ZERO;
    let photo = plan.reporting(HeardKind::Daylight, min(20));
    plan.link(
        photo,
        lamp,
        Role::Limit(Loop {
            dark_after: Some(Span::from_minutes(15)),
            ..open()
        }),
    );
    let (up, _) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.tap(s(1), up);
    rig.frame(s(10), photo, sees(120));
    rig.is(min(16), lamp, State::On, 0);
    rig.is(min(21), lamp, State::On, 100);
}

#[test]
fn day_6_without_fades_a_limit_is_taken_at_once_and_the_light_fades() {
    let mut plan = Plan::default();
    let lamp = plan.output(Drive::ZeroToTen);
    plan.spec(lamp).press_hold = Span::ZERO;
    let photo = plan.source(HeardKind::Daylight);
    plan.link(
        photo,
        lamp,
        Role::Limit(Loop {
            fade_down: Span::ZERO,
            ..open()
        }),
    );
    let (up, _) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.tap(s(1), up);
    rig.frame(s(10), photo, sees(60));
    rig.is(s(10), lamp, State::On, 50);
    assert_eq!(rig.light(s(11), lamp), 7_500);
    assert_eq!(rig.light(s(12), lamp), 5_000);
}

#[test]
fn day_7_a_limit_of_exactly_the_low_trim_counts_towards_nothing() {
    let (mut rig, lamp, photo, (up, _)) = dark_zone();
    rig.frame(0, photo, sees(108));
    rig.end(h(1));
    rig.tap(h(1) + s(1), up);
    rig.is(h(3), lamp, State::On, 10);
}

#[test]
fn day_7_a_change_on_site_leaves_a_dark_zone_dark() {
    let (mut rig, lamp, ..) = dark();
    rig.change(h(2), |settings| {
        settings.outputs[0].grace = Span::from_seconds(9)
    });
    rig.is(h(2), lamp, State::On, 0);
    assert!(!rig.view(h(2), lamp).closed);
}

#[test]
fn day_7_a_press_on_a_dark_setback_brings_the_low_trim() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    plan.spec(lamp).press_hold = Span::ZERO;
    let photo = plan.source(HeardKind::Daylight);
    let constants = Loop {
        dark_after: Some(Span::from_minutes(15)),
        ..open()
    };
    plan.link(photo, lamp, Role::Limit(constants));
    let sensor = plan.sensor();
    plan.link(sensor, lamp, Role::AutoOn(Level::FULL)).setback = Some(percent(20));
    let (up, _) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.occupied(0, sensor);
    rig.frame(s(10), photo, sees(120));
    rig.vacant(s(20), sensor);
    rig.is(h(1), lamp, State::Setback, 0);
    rig.tap(h(2), up);
    rig.is(h(2), lamp, State::On, 10);
    rig.is(h(2) + min(15), lamp, State::On, 0);
    // Whoever comes back in the bright room finds it bright: nothing lights.
    rig.occupied(h(3), sensor);
    rig.vacant(h(4), sensor);
    rig.is(h(4), lamp, State::Setback, 0);
    rig.occupied(h(5), sensor);
    rig.is(h(5), lamp, State::On, 0);
}

/// DAY-8's worked example: day readings of 200, 100 and 0 lx at the task, and 60 lx at the sensor.
#[test]
fn day_4_an_open_loop_comes_to_the_limit_that_stands_for_what_its_sensor_sees() {
    let with = |day_task: u32| Loop {
        calibration: Some(calibration(day_task)),
        ..open()
    };
    let lux = Illuminance::from_lux;
    for (day_task, limit) in [(200, 60), (100, 80), (0, 100)] {
        let (mut rig, lamps, photo, (up, _)) = zones([day_task; 3], None);
        rig.frame(0, photo, sees(60));
        rig.tap(s(61), up);
        rig.are(s(62), &lamps, &[limit; 3]);
        assert_eq!(with(day_task).standing_limit(lux(60)), Some(percent(limit)));
    }
    let closed = Loop {
        kind: LoopKind::Closed,
        ..with(200)
    };
    assert_eq!(closed.standing_limit(lux(60)), None);
    let uncalibrated = Loop {
        calibration: None,
        ..open()
    };
    assert_eq!(uncalibrated.standing_limit(lux(60)), None);
    // Apart from their day readings they are one.
    assert_ne!(with(200), with(100));
    assert_eq!(with(200).without_day(), with(100).without_day());
    let elsewhere = Loop {
        calibration: Some(Calibration {
            day_sensor: lux(61),
            ..calibration(200)
        }),
        ..open()
    };
    assert_eq!(with(200).without_day(), elsewhere.without_day());
    let other = Loop {
        dead_band_percent: 11,
        ..with(100)
    };
    assert_ne!(with(200).without_day(), other.without_day());
}

/// What is idle in the dark need not be told from full light there.
#[test]
fn day_4_an_open_loop_whose_set_point_takes_all_the_lamps_bring_is_idle_in_the_dark() {
    let night = |lux: u32| Loop {
        calibration: Some(Calibration {
            night_task: Illuminance::from_lux(lux),
            ..calibration(250)
        }),
        set_point: Illuminance::from_lux(500),
        ..open()
    };
    assert!(night(500).is_idle_in_the_dark());
    assert!(night(499).is_idle_in_the_dark());
    assert!(
        !night(501).is_idle_in_the_dark(),
        "the limit is under 100 %"
    );
    let closed = Loop {
        kind: LoopKind::Closed,
        ..night(500)
    };
    assert!(!closed.is_idle_in_the_dark(), "it sees its own light");
}
