//! OUT-9, -10, -15, -18 to -22: warnings, marks, grace, press hold and fades.

use super::rig::{Plan, Press, Rig, min, percent, s};
use crate::controller::{Drive, Output, OutputTimer, Role, State, Timer, Warning};
use crate::{Ignored, Level, Note, Payload, Span, switch};

const DIM: Warning = Warning::Dim {
    span: Span::from_seconds(60),
    level: Level::from_percent(50),
};

/// A lamp with a sensor, a pair and these settings.
fn room(role: Role, set: impl FnOnce(&mut Output)) -> (Rig, u8, u8, (Press, Press)) {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    set(plan.spec(lamp));
    let sensor = plan.sensor();
    plan.link(sensor, lamp, role);
    let pair = plan.pair(&[lamp]);
    (plan.rig(), lamp, sensor, pair)
}

/// A room whose sensor has just gone vacant at 10 s, so that the lamp of 80 % warns.
fn warned() -> (Rig, u8, u8, (Press, Press)) {
    let (mut rig, lamp, sensor, pair) = room(Role::AutoOn(percent(80)), |spec| {
        spec.warning = Some(DIM);
    });
    rig.occupied(0, sensor);
    rig.vacant(s(10), sensor);
    rig.is(s(10), lamp, State::Warning, 50);
    (rig, lamp, sensor, pair)
}

#[test]
fn out_10_a_warning_dims_to_its_level_and_its_end_turns_off() {
    let (mut rig, lamp, ..) = warned();
    assert!(rig.has_said(lamp, Note::Warning(Span::from_seconds(60))));
    rig.is(s(70) - 1, lamp, State::Warning, 50);
    rig.is(s(70), lamp, State::Off, 0);
}

#[test]
fn out_10_a_warning_never_brightens() {
    let (mut rig, lamp, sensor, _) = room(Role::AutoOn(percent(30)), |spec| {
        spec.warning = Some(DIM);
    });
    rig.occupied(0, sensor);
    rig.vacant(s(10), sensor);
    rig.is(s(10), lamp, State::Warning, 30);
}

#[test]
fn out_10_one_blink_of_half_a_second_then_the_level_it_had() {
    let (mut rig, lamp, sensor, _) = room(Role::AutoOn(percent(80)), |spec| {
        spec.warning = Some(Warning::Blink {
            span: Span::from_seconds(30),
        });
    });
    rig.occupied(0, sensor);
    rig.vacant(s(10), sensor);
    rig.is(s(10) + 499, lamp, State::Warning, 0);
    rig.is(s(10) + 500, lamp, State::Warning, 80);
    rig.is(s(40) - 1, lamp, State::Warning, 80);
    rig.is(s(40), lamp, State::Off, 0);
}

#[test]
fn out_10_a_blink_is_no_longer_than_its_warning() {
    let (mut rig, lamp, sensor, _) = room(Role::AutoOn(percent(80)), |spec| {
        spec.warning = Some(Warning::Blink {
            span: Span::from_ms(200),
        });
    });
    rig.occupied(0, sensor);
    rig.vacant(s(10), sensor);
    rig.is(s(10) + 199, lamp, State::Warning, 0);
    rig.is(s(10) + 200, lamp, State::Off, 0);
    assert_eq!(rig.bench.running(), []);
}

#[test]
fn out_10_a_drive_that_cannot_dim_blinks() {
    let mut plan = Plan::default();
    let lamp = plan.output(Drive::Relay);
    plan.spec(lamp).warning = Some(DIM);
    let sensor = plan.sensor();
    plan.link(sensor, lamp, Role::AutoOn(Level::FULL));
    let mut rig = plan.rig();
    rig.occupied(0, sensor);
    rig.vacant(s(10), sensor);
    rig.is(s(10) + 499, lamp, State::Warning, 0);
    rig.is(s(10) + 500, lamp, State::Warning, 100);
    rig.is(s(70), lamp, State::Off, 0);
}

#[test]
fn out_10_a_setback_warns_from_where_it_is() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    plan.spec(lamp).warning = Some(DIM);
    plan.spec(lamp).off_after = Some(Span::from_minutes(1));
    let sensor = plan.sensor();
    plan.link(sensor, lamp, Role::AutoOn(Level::FULL)).setback = Some(percent(20));
    let mut rig = plan.rig();
    rig.occupied(0, sensor);
    rig.vacant(s(10), sensor);
    rig.is(s(70) - 1, lamp, State::Setback, 20);
    rig.is(s(70), lamp, State::Warning, 20);
    rig.is(s(130), lamp, State::Off, 0);
}

#[test]
fn out_9_an_arrival_restores_the_level_it_had_whatever_the_role() {
    for role in [Role::AutoOn(percent(80)), Role::ManualOn] {
        let (mut rig, lamp, sensor, (up, down)) = room(role, |spec| {
            spec.warning = Some(DIM);
            spec.press_hold = Span::ZERO;
        });
        rig.occupied(0, sensor);
        rig.tap(s(1), up);
        rig.down(s(2), down);
        rig.up(s(2) + 1_700, down);
        rig.is(s(4), lamp, State::On, 70);
        rig.vacant(s(10), sensor);
        rig.is(s(10), lamp, State::Warning, 50);
        rig.occupied(s(70), sensor);
        rig.is(s(70), lamp, State::On, 70);
        rig.is(min(60), lamp, State::On, 70);
    }
}

#[test]
fn out_9_an_arrival_in_bright_daylight_restores_too() {
    let (mut rig, lamp, sensor, _) = warned();
    rig.frame(s(20), sensor, Payload::Occupied { bright: true });
    rig.is(s(20), lamp, State::On, 80);
}

#[test]
fn out_9_a_press_in_the_warning_only_restores() {
    let (mut rig, lamp, _, (up, _)) = warned();
    rig.tap(s(20), up);
    rig.is(s(20), lamp, State::On, 80);
    let said = rig.said(lamp);
    assert!(said.contains(&Note::Restored(percent(80))));
    assert!(said.contains(&Note::Ignored(Ignored::OnlyRestored)));
    // L runs from the press; then the room is vacant as before.
    rig.is(s(20) + min(15) - 1, lamp, State::On, 80);
    rig.is(s(20) + min(15), lamp, State::Warning, 50);
}

#[test]
fn out_9_a_hold_in_the_warning_only_restores() {
    for up in [true, false] {
        let (mut rig, lamp, _, pair) = warned();
        let button = if up { pair.0 } else { pair.1 };
        rig.down(s(20), button);
        rig.is(s(20) + 499, lamp, State::Warning, 50);
        rig.is(s(20) + 500, lamp, State::On, 80);
        rig.up(s(25), button);
        rig.is(s(25), lamp, State::On, 80);
    }
}

/// A lamp that is set back when empty, dimmed by hand to 70 % and then left.
fn dimmed_and_left(role: Role) -> (Rig, u8, u8, Press) {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    plan.spec(lamp).press_hold = Span::ZERO;
    let sensor = plan.sensor();
    plan.link(sensor, lamp, role).setback = Some(percent(20));
    let (up, down) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.occupied(0, sensor);
    rig.tap(s(1), up);
    rig.down(s(2), down);
    rig.up(s(2) + 1_700, down);
    rig.is(s(4), lamp, State::On, 70);
    rig.vacant(s(10), sensor);
    rig.is(s(10), lamp, State::Setback, 20);
    (rig, lamp, sensor, up)
}

#[test]
fn out_9_out_of_a_setback_the_preset_counts_where_a_hand_had_dimmed() {
    // Nobody was there any more: the level by hand was a wish for that stay.
    let (mut rig, lamp, sensor, _) = dimmed_and_left(Role::AutoOn(percent(90)));
    rig.occupied(s(20), sensor);
    rig.is(s(20), lamp, State::On, 90);
    // Never lower: what was above the preset comes back as it was.
    let (mut rig, lamp, sensor, _) = dimmed_and_left(Role::PartialOn(percent(50)));
    rig.occupied(s(20), sensor);
    rig.is(s(20), lamp, State::On, 70);
    let (mut rig, lamp, sensor, _) = dimmed_and_left(Role::AutoOn(percent(90)));
    rig.frame(s(20), sensor, Payload::Occupied { bright: true });
    rig.is(s(20), lamp, State::On, 70);
    // A press in the setback is a hand again, and brings what the hand had set.
    let (mut rig, lamp, _, up) = dimmed_and_left(Role::AutoOn(percent(90)));
    rig.tap(s(20), up);
    rig.is(s(20), lamp, State::On, 70);
}

#[test]
fn out_9_a_press_on_a_setback_restores() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let sensor = plan.sensor();
    plan.link(sensor, lamp, Role::AutoOn(percent(80))).setback = Some(percent(20));
    let (up, _) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.occupied(0, sensor);
    rig.vacant(s(10), sensor);
    rig.tap(s(20), up);
    rig.is(s(20), lamp, State::On, 80);
}

#[test]
fn out_9_a_single_tap_keeps_what_warns_and_changes_nothing_else() {
    let mut plan = Plan::default();
    let lamps = [plan.lamp(), plan.lamp(), plan.lamp()];
    plan.spec(lamps[0]).warning = Some(DIM);
    let sensor = plan.sensor();
    plan.link(sensor, lamps[0], Role::AutoOn(percent(80)));
    let single = plan.single(&lamps);
    let (up, down) = plan.pair(&[lamps[1]]);
    let mut rig = plan.rig();
    rig.tap(s(1), up);
    rig.down(s(2), down);
    rig.up(s(2) + 2_500, down);
    rig.occupied(s(6), sensor);
    rig.vacant(s(10), sensor);
    rig.are(s(10), &lamps, &[50, 50, 0]);
    rig.tap(s(20), single);
    rig.are(s(20), &lamps, &[80, 50, 0]);
    // The kept one has its press hold anew.
    rig.is(s(20) + min(15) - 1, lamps[1], State::On, 50);
    rig.is(s(20) + min(15), lamps[1], State::Off, 0);
    assert!(!rig.view(s(20) + min(15), lamps[2]).occupied);
}

#[test]
fn out_9_a_scene_in_the_warning_restores_and_its_off_turns_off() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    plan.spec(lamp).warning = Some(DIM);
    let sensor = plan.sensor();
    plan.link(sensor, lamp, Role::AutoOn(percent(80)));
    let unit = plan.source(crate::controller::HeardKind::Switch);
    let [film, dark] = [40, 0].map(|level| {
        let scene = plan.scene(unit, switch::Button::Scene);
        plan.link(unit, lamp, Role::Scene(scene.index, percent(level)));
        scene
    });
    let mut rig = plan.rig();
    rig.occupied(0, sensor);
    rig.vacant(s(10), sensor);
    rig.tap(s(20), film);
    rig.is(s(20), lamp, State::On, 80);
    rig.occupied(s(30), sensor);
    rig.vacant(s(40), sensor);
    rig.is(s(20) + min(15), lamp, State::Warning, 50);
    rig.tap(s(30) + min(15), dark);
    rig.is(s(30) + min(15), lamp, State::Off, 0);
    assert!(rig.view(s(30) + min(15), lamp).latch);
}

#[test]
fn sw_12_a_press_pending_at_the_end_of_the_warning_decides() {
    let (mut rig, lamp, _, (up, _)) = warned();
    rig.down(s(70) - 100, up);
    rig.is(s(70), lamp, State::Warning, 50);
    rig.up(s(70) + 100, up);
    rig.is(s(70) + 100, lamp, State::On, 80);

    let (mut rig, lamp, _, (_, down)) = warned();
    rig.down(s(70) - 100, down);
    rig.is(s(70), lamp, State::Warning, 50);
    rig.up(s(70) + 100, down);
    rig.is(s(70) + 100, lamp, State::Off, 0);
}

#[test]
fn out_18_off_by_hand_is_at_once_and_latches_while_occupied() {
    let (mut rig, lamp, sensor, (up, down)) = room(Role::AutoOn(Level::FULL), |_| {});
    rig.occupied(0, sensor);
    rig.tap(s(1), up);
    rig.tap(s(2), down);
    let view = rig.view(s(2), lamp);
    assert_eq!((view.state, view.latch), (State::Off, true));
    assert!(rig.has_said(lamp, Note::Latched));
    // L is stopped: only the sensor holds the output occupied.
    rig.vacant(s(3), sensor);
    assert!(!rig.view(s(3), lamp).occupied);
    assert_eq!(rig.bench.running(), []);
}

#[test]
fn out_18_off_by_hand_in_a_vacant_room_does_not_latch() {
    let (mut rig, lamp, sensor, (up, down)) = room(Role::AutoOn(Level::FULL), |_| {});
    rig.tap(s(1), up);
    rig.tap(s(2), down);
    assert!(!rig.view(s(2), lamp).latch);
    rig.occupied(s(3), sensor);
    rig.is(s(3), lamp, State::On, 100);
}

#[test]
fn out_18_off_by_hand_while_the_sensor_is_unknown_latches() {
    let (mut rig, lamp, sensor, (up, down)) = room(Role::AutoOn(Level::FULL), |_| {});
    rig.frame(0, sensor, Payload::Unknown);
    rig.tap(s(1), up);
    rig.tap(s(2), down);
    rig.occupied(s(3), sensor);
    rig.is(s(3), lamp, State::Off, 0);
}

#[test]
fn out_18_off_in_the_warning_latches_against_whoever_gets_up() {
    let (mut rig, lamp, sensor, (_, down)) = warned();
    rig.tap(s(20), down);
    assert!(rig.view(s(20), lamp).latch);
    rig.occupied(s(40), sensor);
    rig.is(s(40), lamp, State::Off, 0);
    // The room empties: the next to come is lit.
    rig.vacant(min(20), sensor);
    assert!(!rig.view(min(20), lamp).latch);
    rig.occupied(min(30), sensor);
    rig.is(min(30), lamp, State::On, 80);
}

#[test]
fn out_20_a_latch_set_in_the_warning_is_forgotten_after_the_press_hold() {
    let (mut rig, lamp, sensor, (_, down)) = warned();
    rig.tap(s(20), down);
    assert!(rig.view(s(20) + min(15) - 1, lamp).latch);
    assert!(!rig.view(s(20) + min(15), lamp).latch);
    assert!(rig.has_said(lamp, Note::Unlatched));
    rig.occupied(min(20), sensor);
    rig.is(min(20), lamp, State::On, 80);
}

#[test]
fn out_20_or_after_the_grace_if_that_is_longer() {
    let (mut rig, lamp, sensor, (_, down)) = room(Role::AutoOn(Level::FULL), |spec| {
        spec.warning = Some(DIM);
        spec.grace = Span::from_seconds(30);
        spec.press_hold = Span::from_seconds(20);
    });
    rig.occupied(0, sensor);
    rig.vacant(s(10), sensor);
    rig.tap(s(20), down);
    assert!(rig.view(s(50) - 1, lamp).latch);
    assert!(!rig.view(s(50), lamp).latch);
}

#[test]
fn out_20_the_latch_is_cleared_after_the_grace_of_an_empty_room() {
    let (mut rig, lamp, sensor, (_, down)) = room(Role::AutoOn(Level::FULL), |spec| {
        spec.grace = Span::from_seconds(20);
    });
    rig.occupied(0, sensor);
    rig.tap(s(1), down);
    rig.vacant(s(10), sensor);
    assert!(rig.view(s(30) - 1, lamp).latch);
    assert!(!rig.view(s(30), lamp).latch);
    rig.occupied(s(31), sensor);
    rig.is(s(31), lamp, State::On, 100);
}

#[test]
fn out_20_coming_back_within_the_grace_keeps_the_latch() {
    let (mut rig, lamp, sensor, (_, down)) = room(Role::AutoOn(Level::FULL), |spec| {
        spec.grace = Span::from_seconds(20);
    });
    rig.occupied(0, sensor);
    rig.tap(s(1), down);
    rig.vacant(s(10), sensor);
    rig.occupied(s(30), sensor);
    rig.is(min(5), lamp, State::Off, 0);
    assert!(rig.view(min(5), lamp).latch);
}

#[test]
fn out_20_without_a_grace_the_latch_goes_with_the_last_person() {
    let (mut rig, lamp, sensor, (_, down)) = room(Role::AutoOn(Level::FULL), |_| {});
    rig.occupied(0, sensor);
    rig.tap(s(1), down);
    rig.vacant(s(10), sensor);
    assert!(!rig.view(s(10), lamp).latch);
}

fn graceful(role: Role) -> (Rig, u8, u8, (Press, Press)) {
    let (mut rig, lamp, sensor, pair) = room(role, |spec| {
        spec.grace = Span::from_seconds(20);
    });
    rig.occupied(0, sensor);
    rig.tap(s(1), pair.0);
    rig.down(s(2), pair.1);
    rig.up(s(2) + 2_000, pair.1);
    rig.vacant(min(20), sensor);
    rig.is(min(20), lamp, State::Off, 0);
    (rig, lamp, sensor, pair)
}

#[test]
fn out_19_an_arrival_within_the_grace_lights_at_the_level_it_had_whatever_the_role() {
    for role in [Role::ManualOn, Role::AutoOn(Level::FULL)] {
        let (mut rig, lamp, sensor, _) = graceful(role);
        rig.occupied(min(20) + s(20), sensor);
        // Held for 1.5 s at 25 points a second.
        assert_eq!(
            rig.view(min(20) + s(20), lamp).target,
            Level::from_hundredths(6_250)
        );
        assert_eq!(rig.bench.running(), []);
    }
}

#[test]
fn out_19_after_the_grace_only_the_role_counts() {
    let (mut rig, lamp, sensor, _) = graceful(Role::ManualOn);
    rig.occupied(min(20) + s(20) + 1, sensor);
    rig.is(min(20) + s(20) + 1, lamp, State::Off, 0);
}

#[test]
fn out_19_the_grace_gives_way_to_bright_daylight() {
    let (mut rig, lamp, sensor, _) = graceful(Role::ManualOn);
    rig.frame(min(20) + s(1), sensor, Payload::Occupied { bright: true });
    rig.is(min(20) + s(1), lamp, State::Off, 0);
}

#[test]
fn out_19_an_off_by_hand_gives_no_grace() {
    let (mut rig, lamp, sensor, (up, down)) = room(Role::ManualOn, |spec| {
        spec.grace = Span::from_seconds(20);
    });
    rig.tap(s(1), up);
    rig.tap(s(2), down);
    rig.occupied(s(3), sensor);
    rig.is(s(3), lamp, State::Off, 0);
}

#[test]
fn out_19_a_tap_down_on_what_is_off_is_no_off_by_hand_and_leaves_the_grace() {
    let (mut rig, lamp, sensor, (_, down)) = graceful(Role::ManualOn);
    rig.tap(min(20) + s(5), down);
    rig.occupied(min(20) + s(10), sensor);
    assert_eq!(rig.view(min(20) + s(10), lamp).state, State::On);
}

#[test]
fn out_21_a_press_that_leaves_the_output_on_starts_the_hold_and_each_restarts_it() {
    let (mut rig, lamp, _, (up, down)) = room(Role::AutoOn(Level::FULL), |_| {});
    rig.tap(min(1), up);
    rig.down(min(10), down);
    rig.up(min(10) + 900, down);
    let end = min(25) + 900;
    rig.is(end - 1, lamp, State::On, 90);
    rig.is(end, lamp, State::Off, 0);
}

#[test]
fn out_21_a_press_that_leaves_the_output_on_clears_the_latch() {
    let (mut rig, lamp, sensor, (up, down)) = room(Role::AutoOn(Level::FULL), |_| {});
    rig.occupied(0, sensor);
    rig.tap(s(1), down);
    rig.tap(s(2), up);
    let view = rig.view(s(2), lamp);
    assert_eq!(
        (view.state, view.latch, view.by_hand),
        (State::On, false, true)
    );
}

#[test]
fn out_21_without_a_press_hold_the_press_stands_until_the_room_has_been_occupied() {
    let (mut rig, lamp, sensor, (up, _)) = room(Role::AutoOn(percent(50)), |spec| {
        spec.press_hold = Span::ZERO;
    });
    rig.tap(s(1), up);
    let view = rig.view(min(600), lamp);
    assert_eq!((view.state, view.occupied), (State::On, false));
    assert!(rig.has_said(lamp, Note::OutputVacant));
    rig.occupied(min(601), sensor);
    rig.vacant(min(602), sensor);
    rig.is(min(602), lamp, State::Off, 0);
}

#[test]
fn out_21_the_longest_stay_of_a_press_is_hold_and_warning() {
    let (mut rig, lamp, _, (up, _)) = room(Role::AutoOn(Level::FULL), |spec| {
        spec.warning = Some(DIM);
    });
    rig.tap(s(1), up);
    rig.is(s(61) + min(15) - 1, lamp, State::Warning, 50);
    rig.is(s(61) + min(15), lamp, State::Off, 0);
}

/// A lamp with the default fades: on 1 s, off 2 s.
fn fading() -> (Rig, u8, u8) {
    let mut plan = Plan::default();
    let lamp = plan.output(Drive::ZeroToTen);
    let sensor = plan.sensor();
    plan.link(sensor, lamp, Role::AutoOn(Level::FULL));
    (plan.rig(), lamp, sensor)
}

#[test]
fn out_22_a_fade_takes_its_time_whatever_the_distance_from_the_low_trim_when_off() {
    let (mut rig, lamp, sensor) = fading();
    rig.occupied(0, sensor);
    assert_eq!(rig.light(0, lamp), 1_000);
    assert_eq!(rig.light(500, lamp), 5_500);
    assert_eq!(rig.light(1_000, lamp), 10_000);
    rig.vacant(s(10), sensor);
    rig.is(s(10), lamp, State::Off, 0);
    assert_eq!(rig.light(s(11), lamp), 5_000);
    assert_eq!(rig.light(s(12), lamp), 0);
}

#[test]
fn out_22_a_new_target_starts_a_new_fade_from_the_light_of_the_moment() {
    let (mut rig, lamp, sensor) = fading();
    rig.occupied(0, sensor);
    rig.vacant(500, sensor);
    assert_eq!(rig.light(500, lamp), 5_500);
    assert_eq!(rig.light(1_500, lamp), 2_750);
    rig.occupied(1_500, sensor);
    assert_eq!(rig.light(1_500, lamp), 2_750);
    assert_eq!(rig.light(2_000, lamp), 6_375);
    assert_eq!(rig.light(2_500, lamp), 10_000);
}

#[test]
fn out_22_a_lamp_that_comes_on_at_its_low_trim_has_no_way_to_fade() {
    let mut plan = Plan::default();
    let lamp = plan.output(Drive::ZeroToTen);
    let low = plan.spec(lamp).low_trim;
    let sensor = plan.sensor();
    plan.link(sensor, lamp, Role::AutoOn(low));
    let mut rig = plan.rig();
    rig.occupied(0, sensor);
    assert_eq!(rig.view(0, lamp).light, low);
    assert!(rig.has_said(lamp, Note::Target(low)));
    assert!(!rig.bench.runs(Timer::Output(lamp, OutputTimer::Fade)));
}

#[test]
fn out_2_the_relay_closes_before_the_fade_up_and_opens_after_the_fade_down() {
    let (mut rig, lamp, sensor) = fading();
    rig.occupied(0, sensor);
    assert!(rig.view(0, lamp).closed);
    rig.vacant(s(10), sensor);
    assert!(rig.view(s(12) - 1, lamp).closed);
    assert!(!rig.view(s(12), lamp).closed);
    assert!(rig.has_said(lamp, Note::Relay(false)));
}

#[test]
fn out_15_the_strongest_cause_of_an_instant_has_the_last_word_when_it_comes_last() {
    // The bus sorts the frames of an instant: schedule, occupancy, hand, card, emergency.
    let (mut rig, lamp, sensor, (_, down)) = room(Role::AutoOn(Level::FULL), |_| {});
    rig.down(s(1), down);
    rig.occupied(s(1) + 100, sensor);
    rig.up(s(1) + 100, down);
    rig.is(s(1) + 100, lamp, State::Off, 0);
    assert!(rig.view(s(1) + 100, lamp).latch);
}

#[test]
fn out_20_without_hold_or_grace_a_latch_set_in_the_warning_is_forgotten_at_once() {
    let (mut rig, lamp, sensor, (_, down)) = room(Role::AutoOn(Level::FULL), |spec| {
        spec.warning = Some(DIM);
        spec.press_hold = Span::ZERO;
    });
    rig.occupied(0, sensor);
    rig.vacant(s(10), sensor);
    rig.tap(s(20), down);
    assert!(!rig.view(s(20), lamp).latch);
    assert!(rig.has_said(lamp, Note::Unlatched));
}
