//! OUT-2 to OUT-8, OUT-11: links, presets, partial-off, vacancy and loss.

use super::rig::{Plan, Press, Rig, min, percent, s};
use crate::controller::{Drive, HeardKind, Lost, Role, State};
use crate::{Fault, Ignored, Level, Note, Payload, Span};

/// A lamp with a sensor in this role, and a pair.
fn room(role: Role) -> (Rig, u8, u8, (Press, Press)) {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let sensor = plan.sensor();
    plan.link(sensor, lamp, role);
    let pair = plan.pair(&[lamp]);
    (plan.rig(), lamp, sensor, pair)
}

const BRIGHT: Payload = Payload::Occupied { bright: true };

#[test]
fn out_3_one_sensor_of_5_min_serves_5_15_and_30_min_needs() {
    let mut plan = Plan::default();
    let (air, light, heat) = (
        plan.output(Drive::Contact),
        plan.lamp(),
        plan.output(Drive::Contact),
    );
    let sensor = plan.sensor();
    for (output, run_on) in [(air, 0), (light, 10), (heat, 25)] {
        plan.link(sensor, output, Role::AutoOn(Level::FULL)).run_on = Span::from_minutes(run_on);
    }
    let mut rig = plan.rig();
    rig.occupied(0, sensor);
    rig.are(0, &[air, light, heat], &[100, 100, 100]);
    // T = 5 min after the last motion at 0:00.
    rig.vacant(min(5), sensor);
    rig.are(min(5), &[air, light, heat], &[0, 100, 100]);
    // The sensor repeats its state: run-ons are not restarted.
    rig.vacant(min(9), sensor);
    rig.are(min(15) - 1, &[air, light, heat], &[0, 100, 100]);
    rig.are(min(15), &[air, light, heat], &[0, 0, 100]);
    rig.are(min(30) - 1, &[air, light, heat], &[0, 0, 100]);
    rig.are(min(30), &[air, light, heat], &[0, 0, 0]);
}

#[test]
fn out_3_a_run_on_is_forgotten_when_the_source_is_occupied_again() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let sensor = plan.sensor();
    plan.link(sensor, lamp, Role::AutoOn(Level::FULL)).run_on = Span::from_minutes(10);
    let mut rig = plan.rig();
    rig.occupied(0, sensor);
    rig.vacant(min(1), sensor);
    rig.occupied(min(11), sensor);
    rig.is(min(30), lamp, State::On, 100);
    rig.vacant(min(31), sensor);
    rig.is(min(41) - 1, lamp, State::On, 100);
    rig.is(min(41), lamp, State::Off, 0);
}

#[test]
fn out_3_the_output_is_vacant_when_the_last_link_is() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let sensors = [plan.sensor(), plan.sensor()];
    for sensor in sensors {
        plan.link(sensor, lamp, Role::AutoOn(Level::FULL));
    }
    let mut rig = plan.rig();
    rig.occupied(0, sensors[0]);
    rig.occupied(s(1), sensors[1]);
    rig.vacant(s(2), sensors[0]);
    rig.is(s(2), lamp, State::On, 100);
    rig.vacant(s(3), sensors[1]);
    rig.is(s(3), lamp, State::Off, 0);
    assert!(rig.has_said(lamp, Note::OutputVacant));
}

#[test]
fn out_3_never_vacant_while_a_link_is_unknown() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let sensors = [plan.sensor(), plan.sensor()];
    for sensor in sensors {
        plan.link(sensor, lamp, Role::AutoOn(Level::FULL));
    }
    let mut rig = plan.rig();
    rig.occupied(0, sensors[0]);
    rig.frame(s(1), sensors[1], Payload::Unknown);
    rig.vacant(s(2), sensors[0]);
    rig.is(s(2), lamp, State::On, 100);
    assert!(rig.has_said(lamp, Note::Ignored(Ignored::StillUnknown)));
    rig.vacant(s(3), sensors[1]);
    rig.is(s(3), lamp, State::Off, 0);
}

#[test]
fn out_3_unknown_turns_nothing_on_and_nothing_off() {
    let (mut rig, lamp, sensor, _) = room(Role::AutoOn(Level::FULL));
    rig.frame(0, sensor, Payload::Unknown);
    rig.is(0, lamp, State::Off, 0);
    assert!(rig.it.is_unknown(sensor));
    rig.occupied(s(1), sensor);
    rig.frame(s(2), sensor, Payload::Unknown);
    rig.is(min(60), lamp, State::On, 100);
    rig.vacant(min(61), sensor);
    rig.is(min(61), lamp, State::Off, 0);
}

#[test]
fn out_4_auto_on_and_partial_on_bring_their_presets() {
    for (role, level) in [
        (Role::AutoOn(Level::FULL), 100),
        (Role::AutoOn(percent(80)), 80),
        (Role::PartialOn(percent(50)), 50),
    ] {
        let (mut rig, lamp, sensor, _) = room(role);
        rig.occupied(0, sensor);
        rig.is(0, lamp, State::On, level);
        assert!(!rig.view(0, lamp).by_hand);
    }
}

#[test]
fn out_4_manual_on_turns_nothing_on_but_vacancy_turns_off() {
    let (mut rig, lamp, sensor, (up, _)) = room(Role::ManualOn);
    rig.occupied(0, sensor);
    rig.is(0, lamp, State::Off, 0);
    assert!(rig.has_said(lamp, Note::Ignored(Ignored::ManualOn)));
    rig.tap(1_000, up);
    rig.vacant(min(20), sensor);
    rig.is(min(20), lamp, State::Off, 0);
}

#[test]
fn out_4_only_becoming_occupied_acts_not_a_repeated_report() {
    let (mut rig, lamp, sensor, (up, down)) = room(Role::AutoOn(Level::FULL));
    rig.occupied(0, sensor);
    rig.tap(1_000, down);
    rig.tap(2_000, up);
    rig.tap(3_000, down);
    rig.occupied(min(1), sensor);
    rig.is(min(1), lamp, State::Off, 0);
    assert!(!rig.has_said(lamp, Note::Ignored(Ignored::Latch)));
}

#[test]
fn out_4_a_latched_output_stays_off_when_another_link_becomes_occupied() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let sensors = [plan.sensor(), plan.sensor()];
    for sensor in sensors {
        plan.link(sensor, lamp, Role::AutoOn(Level::FULL));
    }
    let (_, down) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.occupied(0, sensors[0]);
    rig.tap(1_000, down);
    rig.occupied(s(2), sensors[1]);
    rig.is(s(2), lamp, State::Off, 0);
    assert!(rig.has_said(lamp, Note::Ignored(Ignored::Latch)));
}

#[test]
fn out_4_bright_daylight_keeps_lighting_off_and_lets_receptacles_and_contacts_act() {
    let mut plan = Plan::default();
    let outputs = [
        plan.lamp(),
        plan.output(Drive::Receptacle),
        plan.output(Drive::Contact),
    ];
    let sensor = plan.sensor();
    for output in outputs {
        plan.link(sensor, output, Role::AutoOn(Level::FULL));
    }
    let mut rig = plan.rig();
    rig.frame(0, sensor, BRIGHT);
    rig.are(0, &outputs, &[0, 100, 100]);
    assert!(rig.has_said(outputs[0], Note::Ignored(Ignored::Bright)));
    // OCC-14: without the mark, as on becoming occupied; only once.
    rig.occupied(s(60), sensor);
    rig.are(s(60), &outputs, &[100, 100, 100]);
    rig.said(0);
    rig.occupied(s(120), sensor);
    assert_eq!(rig.said(0), []);
}

#[test]
fn out_4_bright_again_is_no_new_arrival() {
    let (mut rig, lamp, sensor, (_, down)) = room(Role::AutoOn(Level::FULL));
    rig.occupied(0, sensor);
    rig.tap(1_000, down);
    rig.frame(s(2), sensor, BRIGHT);
    rig.said(lamp);
    rig.frame(s(3), sensor, BRIGHT);
    assert_eq!(rig.said(lamp), []);
    rig.occupied(s(4), sensor);
    assert_eq!(rig.said(lamp), [Note::Ignored(Ignored::Latch)]);
}

#[test]
fn out_5_another_link_raises_to_its_preset_and_never_lowers() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let sensors = [plan.sensor(), plan.sensor(), plan.sensor()];
    for (sensor, level) in sensors.into_iter().zip([50, 70, 60]) {
        plan.link(sensor, lamp, Role::PartialOn(percent(level)));
    }
    let mut rig = plan.rig();
    rig.occupied(0, sensors[0]);
    rig.is(0, lamp, State::On, 50);
    rig.said(lamp);
    rig.occupied(s(1), sensors[1]);
    rig.is(s(1), lamp, State::On, 70);
    assert_eq!(rig.said(lamp).last(), Some(&Note::Asked(percent(70))));
    rig.occupied(s(2), sensors[2]);
    rig.is(s(2), lamp, State::On, 70);
    assert_eq!(rig.said(lamp), [Note::Ignored(Ignored::NotHigher)]);
}

#[test]
fn out_5_an_equal_preset_is_not_higher_and_bright_daylight_raises_nothing() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let sensors = [plan.sensor(), plan.sensor(), plan.sensor()];
    for (sensor, level) in sensors.into_iter().zip([50, 50, 90]) {
        plan.link(sensor, lamp, Role::PartialOn(percent(level)));
    }
    let mut rig = plan.rig();
    rig.occupied(0, sensors[0]);
    rig.occupied(s(1), sensors[1]);
    assert!(rig.has_said(lamp, Note::Ignored(Ignored::NotHigher)));
    rig.frame(s(2), sensors[2], BRIGHT);
    rig.is(s(2), lamp, State::On, 50);
    assert!(rig.has_said(lamp, Note::Ignored(Ignored::Bright)));
}

#[test]
fn out_6_a_level_set_by_hand_stands_until_the_output_has_been_vacant() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let sensors = [plan.sensor(), plan.sensor()];
    for sensor in sensors {
        plan.link(sensor, lamp, Role::AutoOn(Level::FULL));
    }
    plan.spec(lamp).press_hold = Span::ZERO;
    let (_, down) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.occupied(0, sensors[0]);
    rig.down(1_000, down);
    rig.up(3_500, down);
    rig.is(3_500, lamp, State::On, 50);
    rig.occupied(s(4), sensors[1]);
    rig.is(s(4), lamp, State::On, 50);
    assert!(rig.has_said(lamp, Note::Ignored(Ignored::ByHand)));
    rig.vacant(s(5), sensors[0]);
    rig.vacant(s(6), sensors[1]);
    rig.is(s(6), lamp, State::Off, 0);
    rig.occupied(s(7), sensors[0]);
    rig.is(s(7), lamp, State::On, 100);
    assert!(!rig.view(s(7), lamp).by_hand);
}

/// A corridor: a sensor with a setback of 30 %, and a pair.
fn corridor(off_after: Option<u64>) -> (Rig, u8, u8, (Press, Press)) {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    plan.spec(lamp).off_after = off_after.map(Span::from_minutes);
    let sensor = plan.sensor();
    plan.link(sensor, lamp, Role::AutoOn(percent(90))).setback = Some(percent(30));
    let pair = plan.pair(&[lamp]);
    (plan.rig(), lamp, sensor, pair)
}

#[test]
fn out_7_partial_off_when_the_last_link_with_a_setback_becomes_vacant() {
    let (mut rig, lamp, sensor, _) = corridor(None);
    rig.occupied(0, sensor);
    rig.vacant(min(15), sensor);
    rig.is(min(15), lamp, State::Setback, 30);
    assert!(rig.has_said(lamp, Note::SetBack(percent(30))));
    // Off-after is never: it stays.
    rig.is(min(600), lamp, State::Setback, 30);
}

#[test]
fn out_7_whoever_comes_back_to_a_setback_has_the_level_of_before_and_no_more_is_said() {
    let (mut rig, lamp, sensor, _) = corridor(None);
    rig.occupied(0, sensor);
    rig.vacant(min(15), sensor);
    rig.said(lamp);
    rig.occupied(min(20), sensor);
    rig.is(min(20), lamp, State::On, 90);
    let said = rig.said(lamp);
    assert!(
        !said.iter().any(|note| matches!(note, Note::Ignored(_))),
        "{said:?}"
    );
}

#[test]
fn out_7_down_to_the_setback_though_another_link_keeps_the_output_occupied() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let (zone, other_zone, floor) = (plan.sensor(), plan.sensor(), plan.sensor());
    for (sensor, level) in [(zone, 20), (other_zone, 40)] {
        plan.link(sensor, lamp, Role::AutoOn(Level::FULL)).setback = Some(percent(level));
    }
    plan.link(floor, lamp, Role::AutoOn(Level::FULL));
    let mut rig = plan.rig();
    rig.occupied(0, floor);
    rig.occupied(s(1), zone);
    rig.occupied(s(2), other_zone);
    rig.vacant(s(3), zone);
    rig.is(s(3), lamp, State::On, 100);
    rig.vacant(s(4), other_zone);
    // Of two setbacks the higher.
    rig.is(s(4), lamp, State::Setback, 40);
    assert!(rig.view(s(4), lamp).occupied);
    rig.vacant(s(5), floor);
    rig.is(s(5), lamp, State::Off, 0);
}

#[test]
fn out_6_a_level_set_by_hand_stands_after_a_setback_in_which_the_output_stayed_occupied() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    plan.spec(lamp).press_hold = Span::ZERO;
    let (zone, floor) = (plan.sensor(), plan.sensor());
    plan.link(zone, lamp, Role::AutoOn(Level::FULL)).setback = Some(percent(20));
    plan.link(floor, lamp, Role::AutoOn(Level::FULL));
    let (_, down) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.occupied(0, floor);
    rig.occupied(s(1), zone);
    rig.down(s(10), down);
    rig.up(s(12) + 500, down);
    rig.vacant(s(20), zone);
    rig.is(s(20), lamp, State::Setback, 20);
    rig.occupied(s(30), zone);
    rig.is(s(30), lamp, State::On, 50);
    assert!(rig.has_said(lamp, Note::Ignored(Ignored::ByHand)));
}

#[test]
fn out_7_the_setback_is_never_up_and_never_from_off() {
    let (mut rig, lamp, sensor, (_, down)) = corridor(None);
    rig.occupied(0, sensor);
    rig.down(1_000, down);
    rig.up(4_700, down);
    rig.is(4_700, lamp, State::On, 10);
    rig.vacant(min(20), sensor);
    rig.is(min(20), lamp, State::Setback, 10);

    let (mut rig, lamp, sensor, (_, down)) = corridor(None);
    rig.occupied(0, sensor);
    rig.tap(1_000, down);
    rig.vacant(min(15), sensor);
    rig.is(min(15), lamp, State::Off, 0);
}

#[test]
fn out_7_a_press_in_force_puts_the_setback_off_to_its_end() {
    let (mut rig, lamp, sensor, (up, _)) = corridor(None);
    rig.occupied(0, sensor);
    rig.tap(min(10), up);
    rig.vacant(min(15), sensor);
    rig.is(min(25) - 1, lamp, State::On, 100);
    rig.is(min(25), lamp, State::Setback, 30);
}

#[test]
fn out_7_the_end_of_a_press_sets_back_though_another_link_is_occupied() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let (zone, floor) = (plan.sensor(), plan.sensor());
    plan.link(zone, lamp, Role::AutoOn(Level::FULL)).setback = Some(percent(20));
    plan.link(floor, lamp, Role::AutoOn(Level::FULL));
    let (up, _) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.occupied(0, floor);
    rig.tap(min(1), up);
    rig.is(min(16) - 1, lamp, State::On, 100);
    rig.is(min(16), lamp, State::Setback, 20);
}

#[test]
fn out_7_a_setback_link_that_is_unknown_does_not_set_back() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let (one, other) = (plan.sensor(), plan.sensor());
    for sensor in [one, other] {
        plan.link(sensor, lamp, Role::AutoOn(Level::FULL)).setback = Some(percent(20));
    }
    let mut rig = plan.rig();
    rig.occupied(0, one);
    rig.frame(s(1), other, Payload::Unknown);
    rig.vacant(s(2), one);
    rig.is(s(2), lamp, State::On, 100);
    rig.vacant(s(3), other);
    rig.is(s(3), lamp, State::Setback, 20);
}

#[test]
fn out_7_a_repeated_vacant_does_not_set_back_again() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    plan.spec(lamp).press_hold = Span::ZERO;
    let sensor = plan.sensor();
    plan.link(sensor, lamp, Role::AutoOn(Level::FULL)).setback = Some(percent(20));
    let (up, _) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.occupied(0, sensor);
    rig.vacant(s(1), sensor);
    rig.tap(s(2), up);
    rig.vacant(s(3), sensor);
    rig.is(s(3), lamp, State::On, 100);
}

#[test]
fn out_8_off_at_once_by_a_link_without_setback() {
    let (mut rig, lamp, sensor, _) = room(Role::AutoOn(Level::FULL));
    rig.occupied(0, sensor);
    rig.vacant(min(15), sensor);
    rig.is(min(15), lamp, State::Off, 0);
}

#[test]
fn out_8_off_after_the_span_when_every_link_has_a_setback() {
    let (mut rig, lamp, sensor, _) = corridor(Some(30));
    rig.occupied(0, sensor);
    rig.vacant(min(15), sensor);
    rig.is(min(45) - 1, lamp, State::Setback, 30);
    rig.is(min(45), lamp, State::Off, 0);
}

#[test]
fn out_8_an_arrival_ends_the_count_towards_off() {
    let (mut rig, lamp, sensor, _) = corridor(Some(30));
    rig.occupied(0, sensor);
    rig.vacant(min(15), sensor);
    rig.occupied(min(45), sensor);
    rig.is(min(200), lamp, State::On, 90);
}

#[test]
fn out_8_a_lamp_that_only_buttons_work_goes_off_when_its_press_hold_ends() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let (up, _) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.tap(1_000, up);
    rig.is(1_000 + min(15) - 1, lamp, State::On, 100);
    rig.is(1_000 + min(15), lamp, State::Off, 0);
}

#[test]
fn out_8_what_a_clock_lights_or_sweeps_is_the_clocks_and_no_press_ends_it() {
    for role in [
        Role::Opening(Level::FULL),
        Role::Sweep {
            warning: Span::from_minutes(5),
            longest_override: Span::from_hours(2),
        },
    ] {
        let mut plan = Plan::default();
        let lamp = plan.lamp();
        let clock = plan.source(HeardKind::Clock);
        plan.link(clock, lamp, role);
        let (up, _) = plan.pair(&[lamp]);
        let mut rig = plan.rig();
        rig.tap(1_000, up);
        rig.is(min(600), lamp, State::On, 100);
    }
}

#[test]
fn out_2_outputs_of_a_relay_turn_on_together_each_at_its_own_asked_level() {
    let mut plan = Plan::default();
    let lamps = [plan.lamp(), plan.lamp()];
    for lamp in lamps {
        plan.spec(lamp).relay = Some(7);
    }
    let both = plan.pair(&lamps);
    let one = plan.pair(&lamps[1..]);
    let mut rig = plan.rig();
    rig.tap(1_000, both.0);
    rig.down(2_000, one.1);
    rig.up(4_500, one.1);
    rig.are(4_500, &lamps, &[100, 50]);
    rig.tap(5_000, one.1);
    rig.are(5_000, &lamps, &[0, 0]);
    let view = rig.view(5_000, lamps[0]);
    assert_eq!(
        (view.state, view.asked, view.closed),
        (State::Off, Level::FULL, false)
    );
    rig.tap(6_000, one.0);
    rig.are(6_000, &lamps, &[100, 50]);
}

#[test]
fn out_2_different_relays_have_nothing_to_do_with_each_other() {
    let mut plan = Plan::default();
    let lamps = [plan.lamp(), plan.lamp(), plan.lamp()];
    plan.spec(lamps[0]).relay = Some(1);
    plan.spec(lamps[1]).relay = Some(2);
    let (up, _) = plan.pair(&lamps[..1]);
    let mut rig = plan.rig();
    rig.tap(1_000, up);
    rig.are(1_000, &lamps, &[100, 0, 0]);
    assert!(!rig.view(1_000, lamps[1]).closed);
}

type Pair = (Press, Press);

/// Two lamps on one relay, each with a sensor and a pair of its own.
fn shared_relay(warning: Option<Span>) -> (Rig, [u8; 2], [u8; 2], [Pair; 2]) {
    let mut plan = Plan::default();
    let lamps = [plan.lamp(), plan.lamp()];
    let sensors = [plan.sensor(), plan.sensor()];
    for (lamp, sensor) in lamps.into_iter().zip(sensors) {
        plan.spec(lamp).relay = Some(0);
        plan.link(sensor, lamp, Role::AutoOn(Level::FULL));
    }
    plan.spec(lamps[1]).warning = warning.map(|span| crate::controller::Warning::Dim {
        span,
        level: percent(50),
    });
    let pairs = lamps.map(|lamp| plan.pair(&[lamp]));
    (plan.rig(), lamps, sensors, pairs)
}

#[test]
fn out_2_a_relay_stays_closed_until_the_last_of_its_outputs_is_vacant() {
    let (mut rig, lamps, sensors, _) = shared_relay(None);
    rig.occupied(0, sensors[0]);
    rig.occupied(s(1), sensors[1]);
    rig.vacant(s(2), sensors[0]);
    rig.are(s(2), &lamps, &[100, 100]);
    assert!(rig.view(s(2), lamps[0]).occupied);
    rig.vacant(s(3), sensors[1]);
    rig.are(s(3), &lamps, &[0, 0]);
    assert!(!rig.view(s(3), lamps[0]).occupied);
}

#[test]
fn out_2_a_relay_warns_before_it_goes_dark_if_any_of_its_outputs_does() {
    let (mut rig, lamps, sensors, pairs) = shared_relay(Some(Span::from_seconds(30)));
    rig.occupied(0, sensors[0]);
    rig.vacant(s(10), sensors[0]);
    rig.are(s(10), &lamps, &[100, 50]);
    rig.are(s(40) - 1, &lamps, &[100, 50]);
    rig.are(s(40), &lamps, &[0, 0]);
    // Whoever comes back to one of them keeps all.
    rig.occupied(s(50), sensors[0]);
    rig.vacant(s(60), sensors[0]);
    rig.occupied(s(70), sensors[0]);
    rig.are(s(100), &lamps, &[100, 100]);
    rig.vacant(s(110), sensors[0]);
    rig.tap(s(120), pairs[0].0);
    rig.are(s(300), &lamps, &[100, 100]);
}

#[test]
fn sw_12_a_press_pending_on_another_output_of_the_relay_decides_over_the_end_of_a_warning() {
    for other in [0, 1] {
        let (mut rig, lamps, sensors, pairs) = shared_relay(Some(Span::from_seconds(30)));
        rig.occupied(0, sensors[0]);
        rig.vacant(s(10), sensors[0]);
        rig.down(s(40) - 100, pairs[other].0);
        rig.are(s(40), &lamps, &[100, 50]);
        rig.up(s(40) + 100, pairs[other].0);
        rig.are(s(41), &lamps, &[100, 100]);
    }
}

#[test]
fn out_2_an_off_by_hand_latches_the_whole_relay() {
    let (mut rig, lamps, sensors, pairs) = shared_relay(None);
    rig.occupied(0, sensors[1]);
    rig.tap(s(1), pairs[0].1);
    rig.are(s(1), &lamps, &[0, 0]);
    rig.occupied(s(2), sensors[0]);
    rig.are(s(2), &lamps, &[0, 0]);
}

/// A lamp whose sensor reports each 4 min: lost after 3.2 × 4 min = 12 min 48 s.
fn reporting(lost: Lost) -> (Rig, u8, u8) {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let sensor = plan.reporting(HeardKind::Occupancy, LOST);
    let link = plan.link(sensor, lamp, Role::AutoOn(Level::FULL));
    link.lost = lost;
    link.run_on = Span::from_minutes(1);
    (plan.rig(), lamp, sensor)
}

const LOST: u64 = 768_000;

#[test]
fn out_11_a_sensor_not_heard_for_3_2_reports_is_lost_and_vacant_with_its_run_on() {
    let (mut rig, lamp, sensor) = reporting(Lost::Vacant);
    rig.occupied(0, sensor);
    rig.end(LOST - 1);
    assert!(!rig.it.is_lost(sensor));
    rig.end(LOST);
    assert!(rig.it.is_lost(sensor));
    assert_eq!(rig.notes(), [Note::Fault(Fault::Lost)]);
    rig.is(LOST + min(1) - 1, lamp, State::On, 100);
    rig.is(LOST + min(1), lamp, State::Off, 0);
}

#[test]
fn out_11_three_reports_are_not_lost() {
    let (mut rig, _, sensor) = reporting(Lost::Vacant);
    rig.occupied(0, sensor);
    rig.occupied(min(4), sensor);
    rig.end(min(4) + LOST - 1);
    assert!(!rig.it.is_lost(sensor));
}

#[test]
fn out_11_never_heard_counts_from_power_up() {
    let (mut rig, _, sensor) = reporting(Lost::Vacant);
    rig.end(LOST - 1);
    assert!(!rig.it.is_lost(sensor));
    rig.end(LOST);
    assert!(rig.it.is_lost(sensor));
}

#[test]
fn out_11_a_frame_ends_the_loss_and_the_difference_acts() {
    let (mut rig, lamp, sensor) = reporting(Lost::Vacant);
    rig.occupied(0, sensor);
    rig.end(min(30));
    rig.notes();
    rig.is(min(30), lamp, State::Off, 0);
    rig.occupied(min(31), sensor);
    assert_eq!(rig.notes(), [Note::FaultEnded(Fault::Lost)]);
    assert!(!rig.it.is_lost(sensor));
    rig.is(min(31), lamp, State::On, 100);
    // Believed vacant and heard vacant: nothing.
    let (mut rig, lamp, sensor) = reporting(Lost::Vacant);
    rig.end(min(30));
    rig.vacant(min(31), sensor);
    assert_eq!(rig.said(lamp), []);
}

#[test]
fn out_11_by_setting_a_lost_sensor_counts_as_occupied() {
    let (mut rig, lamp, sensor) = reporting(Lost::Occupied);
    rig.is(LOST - 1, lamp, State::Off, 0);
    rig.is(LOST, lamp, State::On, 100);
    rig.is(min(600), lamp, State::On, 100);
    rig.vacant(min(601), sensor);
    rig.is(min(602), lamp, State::Off, 0);
}

#[test]
fn out_11_each_link_by_itself() {
    let mut plan = Plan::default();
    let (lamp, fan) = (plan.lamp(), plan.lamp());
    let sensor = plan.reporting(HeardKind::Occupancy, LOST);
    plan.link(sensor, lamp, Role::AutoOn(Level::FULL)).lost = Lost::Occupied;
    plan.link(sensor, fan, Role::AutoOn(Level::FULL));
    let mut rig = plan.rig();
    rig.occupied(0, sensor);
    rig.are(LOST, &[lamp, fan], &[100, 0]);
}

#[test]
fn out_11_a_lost_sensor_that_was_unknown_lets_the_output_become_vacant() {
    let (mut rig, lamp, sensor) = reporting(Lost::Vacant);
    rig.occupied(0, sensor);
    rig.power(s(1), false);
    rig.power(s(2), true);
    rig.is(s(2) + LOST - 1, lamp, State::On, 100);
    rig.is(s(2) + LOST, lamp, State::Off, 0);
}

#[test]
fn out_3_a_press_hold_that_ends_while_a_sensor_is_unknown_waits_for_word() {
    let (mut rig, lamp, sensor, (up, _)) = room(Role::ManualOn);
    rig.frame(0, sensor, Payload::Unknown);
    rig.tap(1_000, up);
    rig.is(min(40), lamp, State::On, 100);
    rig.vacant(min(41), sensor);
    rig.is(min(41), lamp, State::Off, 0);
}

/// Two lamps on one relay with a sensor and a pair.
fn one_relay() -> (Rig, [u8; 2], u8, (Press, Press)) {
    let mut plan = Plan::default();
    let lamps = [plan.lamp(), plan.lamp()];
    for lamp in lamps {
        plan.spec(lamp).relay = Some(0);
    }
    let sensor = plan.sensor();
    for lamp in lamps {
        plan.link(sensor, lamp, Role::PartialOn(percent(50)));
    }
    let pair = plan.pair(&lamps);
    (plan.rig(), lamps, sensor, pair)
}

#[test]
fn out_2_a_sensor_of_a_whole_relay_brings_every_lamp_to_its_preset() {
    let (mut rig, lamps, sensor, _) = one_relay();
    rig.occupied(0, sensor);
    rig.are(s(2), &lamps, &[50, 50]);
}

#[test]
fn out_2_a_press_for_a_whole_relay_brings_every_lamp_to_its_hand_level() {
    let (mut rig, lamps, sensor, (up, down)) = one_relay();
    rig.occupied(0, sensor);
    // Down from 50 % for 1 s: 25 points lower.
    rig.down(s(10), down);
    rig.up(s(11) + 500, down);
    rig.are(s(12), &lamps, &[25, 25]);
    rig.tap(s(20), down);
    rig.tap(s(30), up);
    rig.are(s(32), &lamps, &[25, 25]);
    // Held up from off, both come up from the low trim.
    rig.tap(s(40), down);
    rig.down(s(50), up);
    rig.up(s(52) + 500, up);
    rig.are(s(53), &lamps, &[60, 60]);
}

#[test]
fn out_2_an_output_beside_the_relay_does_not_hold_it() {
    let mut plan = Plan::default();
    let lamps = [plan.lamp(), plan.lamp(), plan.lamp()];
    plan.spec(lamps[0]).relay = Some(0);
    plan.spec(lamps[1]).relay = Some(0);
    let sensors = [plan.sensor(), plan.sensor()];
    plan.link(sensors[0], lamps[0], Role::AutoOn(Level::FULL));
    plan.link(sensors[1], lamps[2], Role::AutoOn(Level::FULL));
    let mut rig = plan.rig();
    rig.occupied(0, sensors[0]);
    rig.occupied(s(1), sensors[1]);
    rig.vacant(s(2), sensors[0]);
    rig.are(s(2), &lamps, &[0, 0, 100]);
}
