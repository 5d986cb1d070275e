//! SW: taps, holds and ramps, as the controller tells them apart.

use alloc::vec;

use super::rig::{Plan, Press, Rig, min, percent, s};
use crate::controller::{Drive, HeardKind, Role, State};
use crate::{Ignored, Level, Note, Payload, Span, switch};

/// A lamp with an up/down pair.
fn pair() -> (Rig, u8, Press, Press) {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let (up, down) = plan.pair(&[lamp]);
    (plan.rig(), lamp, up, down)
}

/// Some lamps with one single button.
fn single(lamps: usize) -> (Rig, vec::Vec<u8>, Press) {
    let mut plan = Plan::default();
    let lamps: vec::Vec<u8> = (0..lamps).map(|_| plan.lamp()).collect();
    let button = plan.single(&lamps);
    (plan.rig(), lamps, button)
}

#[test]
fn sw_0_nothing_happens_before_the_up_or_the_threshold() {
    let (mut rig, lamp, up, _) = pair();
    rig.down(1_000, up);
    rig.is(1_499, lamp, State::Off, 0);
    assert_eq!(rig.said(lamp), [Note::OutputOccupied]);
}

#[test]
fn sw_0_an_up_at_exactly_the_threshold_is_a_tap_and_one_ms_later_a_hold() {
    let (mut rig, lamp, up, _) = pair();
    rig.down(1_000, up);
    rig.up(1_500, up);
    assert_eq!(rig.notes(), [Note::Tapped(up.index)]);
    rig.is(1_500, lamp, State::On, 100);

    let (mut rig, lamp, up, _) = pair();
    rig.down(1_000, up);
    rig.up(1_501, up);
    assert_eq!(rig.notes(), [Note::Held(up.index)]);
    // The ramp has run for that one ms: 100 points in 4 s.
    assert_eq!(rig.view(1_501, lamp).target, Level::from_hundredths(1_002));
}

#[test]
fn sw_1_a_single_tap_toggles_all_outputs_by_any_that_is_on() {
    let (mut rig, lamps, button) = single(2);
    rig.tap(1_000, button);
    rig.are(1_000, &lamps, &[100, 100]);
    rig.tap(2_000, button);
    rig.are(2_000, &lamps, &[0, 0]);
}

#[test]
fn sw_1_the_toggle_is_decided_once_so_outputs_never_fall_out_of_step() {
    let mut plan = Plan::default();
    let (one, other) = (plan.lamp(), plan.lamp());
    let both = plan.single(&[one, other]);
    let (up, _) = plan.pair(&[other]);
    let mut rig = plan.rig();
    rig.tap(1_000, up);
    rig.are(1_000, &[one, other], &[0, 100]);
    rig.tap(2_000, both);
    rig.are(2_000, &[one, other], &[0, 0]);
}

#[test]
fn sw_1_an_output_that_another_button_holds_still_counts_as_on() {
    let mut plan = Plan::default();
    let (one, other) = (plan.lamp(), plan.lamp());
    let both = plan.single(&[one, other]);
    let (up, _) = plan.pair(&[other]);
    let mut rig = plan.rig();
    rig.tap(1_000, up);
    rig.down(2_000, both);
    rig.down(2_100, up);
    rig.up(2_200, both);
    rig.are(2_200, &[one, other], &[0, 100]);
}

#[test]
fn sw_2_each_hold_of_a_single_goes_opposite_to_the_last() {
    let (mut rig, lamps, button) = single(1);
    let hold = |rig: &mut Rig, at: u64| {
        rig.down(at, button);
        rig.up(at + 1_500, button);
    };
    hold(&mut rig, 0);
    // From off up from the low trim: 1 s of 4 s is 25 points.
    rig.are(1_500, &lamps, &[35]);
    hold(&mut rig, 10_000);
    rig.are(11_500, &lamps, &[10]);
    hold(&mut rig, 20_000);
    rig.are(21_500, &lamps, &[35]);
}

#[test]
fn sw_2_at_the_high_trim_a_single_goes_down_and_at_the_low_trim_up() {
    let (mut rig, lamps, button) = single(1);
    rig.tap(1_000, button);
    rig.down(2_000, button);
    rig.up(3_500, button);
    rig.are(3_500, &lamps, &[75]);
    rig.down(4_000, button);
    rig.up(5_500, button);
    rig.are(5_500, &lamps, &[100]);
    // At the high trim again: down, though the last hold went up.
    rig.down(6_000, button);
    rig.up(14_000, button);
    rig.are(14_000, &lamps, &[10]);
    rig.down(15_000, button);
    rig.up(16_500, button);
    rig.are(16_500, &lamps, &[35]);
}

#[test]
fn sw_2_after_an_off_the_first_hold_goes_up_from_the_low_trim() {
    let (mut rig, lamps, button) = single(1);
    rig.down(0, button);
    rig.up(2_500, button);
    rig.are(2_500, &lamps, &[60]);
    rig.tap(4_000, button);
    rig.down(5_000, button);
    rig.is(5_500, lamps[0], State::On, 10);
    rig.up(6_500, button);
    rig.are(6_500, &lamps, &[35]);
}

#[test]
fn sw_2_one_of_two_lamps_at_its_high_trim_does_not_turn_the_hold_round() {
    let mut plan = Plan::default();
    let (one, other) = (plan.lamp(), plan.lamp());
    let both = plan.single(&[one, other]);
    let (up, down) = plan.pair(&[one]);
    let mut rig = plan.rig();
    rig.tap(1_000, up);
    rig.down(2_000, both);
    rig.up(3_500, both);
    // Only what is on moves, and it is at its high trim.
    rig.are(3_500, &[one, other], &[75, 0]);
    rig.tap(4_000, down);
    rig.down(5_000, both);
    rig.up(6_500, both);
    rig.are(6_500, &[one, other], &[35, 35]);
    rig.tap(7_000, up);
    // One at 100 %, the other at 35 %: opposite to the last hold, which went up.
    rig.down(8_000, both);
    rig.up(9_500, both);
    rig.are(9_500, &[one, other], &[75, 10]);
}

#[test]
fn sw_3_a_tap_up_brings_the_level_last_set_by_hand_and_full_if_none() {
    let (mut rig, lamp, up, down) = pair();
    rig.tap(1_000, up);
    rig.is(1_000, lamp, State::On, 100);
    rig.down(2_000, down);
    rig.up(4_100, down);
    rig.is(4_100, lamp, State::On, 60);
    rig.tap(5_000, down);
    rig.is(5_000, lamp, State::Off, 0);
    rig.tap(6_000, up);
    rig.is(6_000, lamp, State::On, 60);
    rig.tap(7_000, up);
    rig.is(7_000, lamp, State::On, 100);
    rig.tap(8_000, down);
    rig.tap(9_000, up);
    rig.is(9_000, lamp, State::On, 100);
}

#[test]
fn sw_3_full_is_the_high_trim() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    plan.spec(lamp).high_trim = percent(85);
    let (up, _) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.tap(1_000, up);
    rig.is(1_000, lamp, State::On, 85);
}

#[test]
fn sw_3_presets_do_not_count_as_set_by_hand() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let sensor = plan.sensor();
    plan.link(sensor, lamp, Role::PartialOn(percent(50)));
    let (up, down) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.occupied(0, sensor);
    rig.is(0, lamp, State::On, 50);
    rig.tap(1_000, down);
    rig.tap(2_000, up);
    rig.is(2_000, lamp, State::On, 100);
}

#[test]
fn sw_4_a_tap_down_is_an_off_by_hand() {
    let (mut rig, lamp, up, down) = pair();
    rig.tap(1_000, up);
    rig.tap(2_000, down);
    rig.is(2_000, lamp, State::Off, 0);
    assert!(rig.has_said(lamp, Note::TurnedOff));
    rig.tap(3_000, down);
    assert!(rig.has_said(lamp, Note::Ignored(Ignored::AlreadyOff)));
}

#[test]
fn sw_5_a_hold_moves_100_percent_per_ramp_time_until_release() {
    let (mut rig, lamp, up, down) = pair();
    rig.tap(1_000, up);
    rig.down(2_000, down);
    rig.is(2_500, lamp, State::On, 100);
    rig.is(3_500, lamp, State::On, 75);
    rig.up(4_500, down);
    rig.is(4_500, lamp, State::On, 50);
    rig.is(60_000, lamp, State::On, 50);
}

#[test]
fn sw_5_from_off_up_starts_at_the_low_trim_and_ends_at_the_high_trim() {
    let (mut rig, lamp, up, _) = pair();
    rig.down(0, up);
    rig.is(499, lamp, State::Off, 0);
    rig.is(500, lamp, State::On, 10);
    rig.is(1_500, lamp, State::On, 35);
    // 90 points at 100 points in 4 s are 3.6 s.
    rig.end(4_099);
    assert_eq!(rig.view(4_099, lamp).target, Level::from_hundredths(9_997));
    rig.is(4_100, lamp, State::On, 100);
    assert_eq!(rig.it.ramp_owner(lamp), None);
}

#[test]
fn sw_5_from_off_down_does_nothing_and_ramping_down_never_switches_off() {
    let (mut rig, lamp, up, down) = pair();
    rig.down(0, down);
    rig.up(3_000, down);
    rig.is(3_000, lamp, State::Off, 0);
    rig.tap(4_000, up);
    rig.down(5_000, down);
    rig.up(30_000, down);
    rig.is(30_000, lamp, State::On, 10);
}

#[test]
fn sw_5_no_fade_is_on_top_of_a_ramp() {
    let mut plan = Plan::default();
    let lamp = plan.output(Drive::ZeroToTen);
    let (up, _) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.down(0, up);
    assert_eq!(rig.light(500, lamp), 1_000);
    assert_eq!(rig.light(1_500, lamp), 3_500);
    assert_eq!(rig.view(1_500, lamp).target, percent(35));
    let view = rig.view(2_500, lamp);
    assert_eq!(
        (view.light_to, view.within),
        (Level::FULL, Span::from_ms(1_600))
    );
}

#[test]
fn sw_6_a_tap_whose_up_is_lost_ramps_to_its_limit_and_the_next_press_works() {
    let (mut rig, lamp, up, down) = pair();
    rig.down(0, up);
    rig.is(4_100, lamp, State::On, 100);
    assert_eq!(rig.it.ramp_owner(lamp), None);
    rig.tap(9_000, down);
    rig.is(9_000, lamp, State::Off, 0);
    // The press hold ran from the end of the ramp.
    rig.down(10_000, up);
    rig.is(14_100 + min(15) - 1, lamp, State::On, 100);
    rig.is(14_100 + min(15), lamp, State::Off, 0);
}

#[test]
fn sw_6_the_next_press_of_the_same_button_starts_anew() {
    let (mut rig, lamp, up, _) = pair();
    rig.down(0, up);
    rig.is(1_500, lamp, State::On, 35);
    rig.down(2_500, up);
    rig.is(2_900, lamp, State::On, 60);
    rig.up(2_900, up);
    rig.is(2_900, lamp, State::On, 100);
}

#[test]
fn sw_7_a_lone_up_does_nothing() {
    let (mut rig, lamp, up, _) = pair();
    rig.up(1_000, up);
    rig.is(1_000, lamp, State::Off, 0);
    assert_eq!(rig.notes(), [Note::Ignored(Ignored::LoneUp)]);
    assert_eq!(rig.bench.running(), []);
}

/// Two lamps and a scene that brings them to 30 % and off, and leaves a third alone.
fn scene() -> (Rig, [u8; 3], Press) {
    let mut plan = Plan::default();
    let lamps = [plan.lamp(), plan.lamp(), plan.lamp()];
    let unit = plan.source(HeardKind::Switch);
    let film = plan.scene(unit, switch::Button::Scene);
    plan.link(unit, lamps[0], Role::Scene(film.index, percent(30)));
    plan.link(unit, lamps[1], Role::Scene(film.index, Level::OFF));
    let up = plan.button(unit, switch::Button::Up, &lamps);
    let mut rig = plan.rig();
    rig.tap(1_000, up);
    (rig, lamps, film)
}

#[test]
fn sw_8_a_scene_brings_what_it_names_to_its_level_and_leaves_the_rest() {
    let (mut rig, lamps, film) = scene();
    rig.tap(2_000, film);
    rig.are(2_000, &lamps, &[30, 0, 100]);
    let view = rig.view(2_000, lamps[0]);
    assert!(view.by_hand);
    assert_eq!(view.asked, percent(30));
}

#[test]
fn sw_8_a_held_scene_acts_at_the_threshold_and_once() {
    let (mut rig, lamps, film) = scene();
    rig.down(2_000, film);
    rig.are(2_499, &lamps, &[100, 100, 100]);
    rig.are(2_500, &lamps, &[30, 0, 100]);
    rig.up(9_000, film);
    rig.are(9_000, &lamps, &[30, 0, 100]);
}

#[test]
fn sw_8_off_in_a_scene_is_an_off_by_hand_and_its_levels_are_hand_levels() {
    let mut plan = Plan::default();
    let (lit, dark) = (plan.lamp(), plan.lamp());
    let sensor = plan.sensor();
    plan.link(sensor, lit, Role::AutoOn(Level::FULL));
    plan.link(sensor, dark, Role::AutoOn(Level::FULL));
    let unit = plan.source(HeardKind::Switch);
    let film = plan.scene(unit, switch::Button::Scene);
    plan.link(unit, lit, Role::Scene(film.index, percent(40)));
    plan.link(unit, dark, Role::Scene(film.index, Level::OFF));
    let (up, down) = plan.pair(&[lit]);
    let mut rig = plan.rig();
    rig.occupied(0, sensor);
    rig.tap(1_000, film);
    assert!(rig.view(1_000, dark).latch);
    rig.tap(2_000, down);
    rig.tap(3_000, up);
    rig.is(3_000, lit, State::On, 40);
}

#[test]
fn sw_8_limit_and_trims_apply_to_a_scene() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    plan.spec(lamp).low_trim = percent(20);
    plan.spec(lamp).high_trim = percent(80);
    let unit = plan.source(HeardKind::Switch);
    let [faint, bright] = [1, 95].map(|level| {
        let scene = plan.scene(unit, switch::Button::Scene);
        plan.link(unit, lamp, Role::Scene(scene.index, percent(level)));
        scene
    });
    let mut rig = plan.rig();
    rig.tap(1_000, faint);
    rig.is(1_000, lamp, State::On, 20);
    rig.tap(2_000, bright);
    rig.is(2_000, lamp, State::On, 80);
    assert_eq!(rig.view(2_000, lamp).asked, percent(95));
}

#[test]
fn sw_8_on_a_shared_relay_what_a_scene_lights_has_the_last_word() {
    for (first, second) in [(0, 60), (60, 0)] {
        let mut plan = Plan::default();
        let lamps = [plan.lamp(), plan.lamp()];
        let unit = plan.source(HeardKind::Switch);
        let scene = plan.scene(unit, switch::Button::Scene);
        for (lamp, level) in lamps.into_iter().zip([first, second]) {
            plan.spec(lamp).relay = Some(0);
            plan.link(unit, lamp, Role::Scene(scene.index, percent(level)));
        }
        let mut rig = plan.rig();
        rig.tap(1_000, scene);
        for lamp in lamps {
            assert_eq!(rig.view(1_000, lamp).state, State::On);
        }
    }
}

/// Two zones with a pair each, and a master pair for both.
fn zones() -> (Rig, [u8; 2], [(Press, Press); 3]) {
    let mut plan = Plan::default();
    let lamps = [plan.lamp(), plan.lamp()];
    let pairs = [
        plan.pair(&[lamps[0]]),
        plan.pair(&[lamps[1]]),
        plan.pair(&lamps),
    ];
    (plan.rig(), lamps, pairs)
}

#[test]
fn sw_9_a_zone_pair_moves_its_zone_alone() {
    let (mut rig, lamps, [one, ..]) = zones();
    rig.tap(1_000, one.0);
    rig.are(1_000, &lamps, &[100, 0]);
    rig.tap(2_000, one.1);
    rig.are(2_000, &lamps, &[0, 0]);
}

#[test]
fn sw_9_a_master_tap_turns_each_on_as_by_its_own_and_all_off() {
    let (mut rig, lamps, [one, other, master]) = zones();
    rig.tap(1_000, one.0);
    rig.down(2_000, one.1);
    rig.up(4_500, one.1);
    rig.tap(5_000, one.1);
    rig.tap(6_000, other.0);
    rig.tap(7_000, master.0);
    rig.are(7_000, &lamps, &[50, 100]);
    rig.tap(8_000, master.1);
    rig.are(8_000, &lamps, &[0, 0]);
}

#[test]
fn sw_9_a_master_hold_moves_those_that_are_on_each_from_where_it_is() {
    let (mut rig, lamps, [one, other, master]) = zones();
    rig.tap(1_000, one.0);
    rig.down(2_000, master.1);
    rig.up(3_500, master.1);
    rig.are(3_500, &lamps, &[75, 0]);
    rig.tap(4_000, other.0);
    rig.down(5_000, master.1);
    rig.up(6_500, master.1);
    rig.are(6_500, &lamps, &[50, 75]);
}

#[test]
fn sw_9_a_master_hold_brings_all_up_when_none_is_on() {
    let (mut rig, lamps, [_, _, master]) = zones();
    rig.down(1_000, master.0);
    rig.up(2_500, master.0);
    rig.are(2_500, &lamps, &[35, 35]);
}

#[test]
fn sw_9_groups_behind_a_master_keep_their_own_levels() {
    let mut plan = Plan::default();
    let lamps = [plan.lamp(), plan.lamp(), plan.lamp()];
    for (lamp, group) in lamps.into_iter().zip([0, 0, 1]) {
        plan.spec(lamp).group = Some(group);
    }
    let (up, down) = plan.pair(&[lamps[2]]);
    let master = plan.pair(&lamps);
    let mut rig = plan.rig();
    rig.tap(1_000, master.0);
    rig.down(2_000, down);
    rig.up(4_500, down);
    rig.are(4_500, &lamps, &[100, 100, 50]);
    rig.down(5_000, master.1);
    rig.up(6_500, master.1);
    rig.are(6_500, &lamps, &[75, 75, 25]);
    rig.tap(7_000, up);
    rig.are(7_000, &lamps, &[75, 75, 100]);
}

#[test]
fn sw_10_without_a_limit_lowering_starts_from_asked_and_raising_goes_on() {
    let (mut rig, lamp, up, down) = pair();
    rig.tap(1_000, up);
    rig.down(2_000, down);
    rig.up(3_500, down);
    rig.down(4_000, up);
    rig.is(4_500, lamp, State::On, 75);
    rig.up(5_000, up);
    assert_eq!(rig.view(5_000, lamp).target, Level::from_hundredths(8_750));
}

#[test]
fn sw_11_the_last_down_owns_the_output_and_ends_an_older_ramp() {
    let (mut rig, lamp, up, down) = pair();
    rig.down(0, up);
    rig.is(1_500, lamp, State::On, 35);
    rig.down(1_500, down);
    assert_eq!(rig.it.ramp_owner(lamp), None);
    rig.up(1_700, up);
    rig.is(1_700, lamp, State::On, 35);
    rig.up(1_800, down);
    rig.is(1_800, lamp, State::Off, 0);
}

#[test]
fn sw_11_the_older_button_neither_taps_nor_holds_any_more() {
    let (mut rig, lamp, up, down) = pair();
    rig.tap(1_000, up);
    rig.down(2_000, down);
    rig.down(2_100, up);
    rig.up(2_200, down);
    rig.is(2_200, lamp, State::On, 100);
    rig.up(2_300, up);
    rig.is(2_300, lamp, State::On, 100);
    rig.down(3_000, down);
    rig.down(3_100, up);
    rig.go(3_500);
    rig.notes();
    rig.end(3_500);
    let held = [Note::Held(down.index), Note::Ignored(Ignored::OwnedByOther)];
    assert_eq!(rig.notes(), held);
    rig.is(3_500, lamp, State::On, 100);
}

#[test]
fn sw_11_a_hold_that_owns_nothing_does_not_turn_the_next_hold_round() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let single = plan.single(&[lamp]);
    let (up, down) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.tap(1_000, up);
    rig.down(2_000, down);
    rig.up(4_500, down);
    rig.is(4_500, lamp, State::On, 50);
    rig.down(5_000, single);
    rig.down(5_100, up);
    rig.up(5_550, up);
    rig.up(5_600, single);
    rig.is(5_600, lamp, State::On, 100);
    rig.down(6_000, down);
    rig.up(8_500, down);
    rig.is(8_500, lamp, State::On, 50);
    // The first hold of the single that moves anything: up, as its last went nowhere.
    rig.down(9_000, single);
    rig.up(10_500, single);
    rig.is(10_500, lamp, State::On, 75);
}

#[test]
fn sw_12_while_a_press_is_pending_the_output_is_occupied() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let sensor = plan.sensor();
    plan.link(sensor, lamp, Role::ManualOn);
    let (up, down) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.occupied(0, sensor);
    rig.tap(1_000, up);
    let end = 1_000 + min(15);
    rig.down(end - 200, down);
    rig.vacant(end - 100, sensor);
    // The press hold ends while the hold is pending; then it ramps down.
    rig.is(end + 2_300, lamp, State::On, 50);
    assert!(rig.view(end + 2_300, lamp).occupied);
    rig.up(end + 2_300, down);
    rig.is(end + 2_300 + min(15) - 1, lamp, State::On, 50);
    rig.is(end + 2_300 + min(15), lamp, State::Off, 0);
}

#[test]
fn sw_12_a_press_that_does_nothing_leaves_the_output_vacant() {
    let (mut rig, lamp, _, down) = pair();
    rig.down(1_000, down);
    assert!(rig.view(1_000, lamp).occupied);
    rig.up(1_100, down);
    assert!(!rig.view(1_100, lamp).occupied);
}

#[test]
fn sw_13_a_power_cut_forgets_the_hold_and_its_up_is_a_lone_up() {
    let (mut rig, lamp, up, _) = pair();
    rig.down(0, up);
    rig.power(1_500, false);
    rig.power(2_000, true);
    rig.is(2_000, lamp, State::On, 35);
    rig.notes();
    rig.up(2_500, up);
    assert_eq!(rig.notes(), [Note::Ignored(Ignored::LoneUp)]);
    rig.is(10_000, lamp, State::On, 35);
}

#[test]
fn sw_13_a_pending_press_is_forgotten_in_a_cut() {
    let (mut rig, lamp, up, _) = pair();
    rig.down(0, up);
    rig.power(300, false);
    rig.power(400, true);
    rig.up(450, up);
    rig.is(10_000, lamp, State::Off, 0);
    assert!(!rig.view(10_000, lamp).occupied);
}

#[test]
fn a_relay_goes_on_by_a_hold_and_has_nowhere_to_ramp() {
    let mut plan = Plan::default();
    let lamp = plan.output(Drive::Relay);
    plan.spec(lamp).high_trim = percent(80);
    let (up, down) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.down(0, up);
    rig.is(500, lamp, State::On, 100);
    assert_eq!(rig.it.ramp_owner(lamp), None);
    rig.down(2_000, down);
    rig.is(9_000, lamp, State::On, 100);
    assert!(rig.has_said(lamp, Note::Ignored(Ignored::AtLimit)));
}

#[test]
fn an_unknown_button_number_is_ignored() {
    let (mut rig, _, up, _) = pair();
    rig.frame(0, up.heard, Payload::Down(7));
    rig.frame(s(1), up.heard, Payload::Up(7));
    let ignored = Note::Ignored(Ignored::NotTaught);
    assert_eq!(rig.notes(), [ignored, ignored]);
}

#[test]
fn sw_2_a_lamp_that_is_off_has_no_say_in_the_direction() {
    let mut plan = Plan::default();
    let (one, other) = (plan.lamp(), plan.lamp());
    let both = plan.single(&[one, other]);
    let (up, _) = plan.pair(&[one]);
    let (other_up, other_down) = plan.pair(&[other]);
    let mut rig = plan.rig();
    rig.down(s(1), other_up);
    rig.up(s(1) + 1_500, other_up);
    rig.tap(s(3), other_down);
    rig.tap(s(4), up);
    // The lit one is at its high trim: down, though the dark one was left at 35 %.
    rig.down(s(5), both);
    rig.up(s(5) + 1_500, both);
    rig.are(s(7), &[one, other], &[75, 0]);
}

#[test]
fn sw_2_at_the_low_trim_a_single_goes_up_even_after_a_hold_up() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let single = plan.single(&[lamp]);
    let (_, down) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.down(s(1), single);
    rig.up(s(1) + 1_500, single);
    rig.down(s(3), down);
    rig.up(s(9), down);
    rig.is(s(9), lamp, State::On, 10);
    rig.down(s(10), single);
    rig.up(s(10) + 1_500, single);
    rig.is(s(12), lamp, State::On, 35);
}

#[test]
fn sw_9_a_hold_up_leaves_off_what_is_off_while_another_is_on() {
    let (mut rig, lamps, [one, _, master]) = zones();
    rig.tap(s(1), one.0);
    rig.down(s(2), one.1);
    rig.up(s(2) + 2_500, one.1);
    rig.down(s(5), master.0);
    rig.up(s(5) + 1_500, master.0);
    rig.are(s(7), &lamps, &[75, 0]);
}

#[test]
fn sw_9_a_member_of_a_group_that_is_off_has_no_say_in_where_it_starts() {
    let mut plan = Plan::default();
    let lamps = [plan.lamp(), plan.lamp()];
    for lamp in lamps {
        plan.spec(lamp).group = Some(0);
    }
    let one = plan.pair(&lamps[..1]);
    let both = plan.pair(&lamps);
    let mut rig = plan.rig();
    rig.down(s(1), one.0);
    rig.up(s(1) + 1_500, one.0);
    rig.down(s(5), both.0);
    rig.is(s(6) + 500, lamps[0], State::On, 60);
    rig.up(s(6) + 500, both.0);
    rig.are(s(7), &lamps, &[60, 0]);
}

#[test]
fn sw_3_on_a_shared_relay_each_comes_on_at_its_own_level_set_by_hand() {
    let mut plan = Plan::default();
    let lamps = [plan.lamp(), plan.lamp(), plan.lamp()];
    for lamp in lamps {
        plan.spec(lamp).relay = Some(0);
    }
    let last = plan.pair(&lamps[2..]);
    let all = plan.pair(&lamps);
    let mut rig = plan.rig();
    rig.tap(s(1), all.0);
    rig.down(s(2), last.1);
    rig.up(s(2) + 2_500, last.1);
    rig.tap(s(6), all.1);
    rig.tap(s(7), all.0);
    rig.are(s(7), &lamps, &[100, 100, 50]);
}
