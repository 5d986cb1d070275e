//! SET-1: settings changed on site.

use super::rig::{Plan, Press, Rig, h, min, percent, s};
use crate::controller::{
    Calibration, Drive, HeardKind, Link, Loop, LoopKind, Output, OutputTimer, Role, State, Timer,
    Warning,
};
use crate::{Illuminance, Level, Note, Payload, Signal, Span, switch};

/// A lamp with a sensor and a pair.
fn room(set: impl FnOnce(&mut Output)) -> (Rig, u8, u8, (Press, Press)) {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    set(plan.spec(lamp));
    let sensor = plan.sensor();
    plan.link(sensor, lamp, Role::AutoOn(Level::FULL));
    let pair = plan.pair(&[lamp]);
    (plan.rig(), lamp, sensor, pair)
}

fn set(rig: &mut Rig, at: u64, change: impl FnOnce(&mut Output)) {
    rig.change(at, |settings| change(&mut settings.outputs[0]));
}

fn relink(rig: &mut Rig, at: u64, change: impl FnOnce(&mut Link)) {
    rig.change(at, |settings| change(&mut settings.links[0]));
}

#[test]
fn set_1_a_changed_span_restarts_a_running_timer_and_an_equal_one_leaves_it() {
    let (mut rig, lamp, _, (up, _)) = room(|_| {});
    rig.tap(min(1), up);
    set(&mut rig, min(10), |spec| spec.grace = Span::from_seconds(9));
    assert_eq!(rig.notes().last(), Some(&Note::SettingChanged));
    rig.is(min(16) - 1, lamp, State::On, 100);
    rig.is(min(16), lamp, State::Off, 0);

    let (mut rig, lamp, _, (up, _)) = room(|_| {});
    rig.tap(min(1), up);
    set(&mut rig, min(10), |spec| {
        spec.press_hold = Span::from_minutes(20)
    });
    rig.is(min(30) - 1, lamp, State::On, 100);
    rig.is(min(30), lamp, State::Off, 0);
}

#[test]
fn set_1_a_timer_that_does_not_run_is_not_started() {
    let (mut rig, _, sensor, _) = room(|_| {});
    rig.occupied(0, sensor);
    rig.change(s(1), |settings| {
        let spec = &mut settings.outputs[0];
        spec.press_hold = Span::from_minutes(20);
        spec.grace = Span::from_seconds(20);
        spec.proven = Span::from_seconds(20);
        spec.off_after = Some(Span::from_seconds(20));
        spec.feedback = Some(Span::from_seconds(20));
        spec.minimum_on = Span::from_seconds(20);
        spec.fade_on = Span::from_seconds(20);
        spec.shed_fade = Span::from_seconds(20);
        settings.hold_threshold = Span::from_ms(700);
        settings.learning = Span::from_seconds(20);
        settings.ramp = Span::from_seconds(20);
        settings.links[0].run_on = Span::from_seconds(20);
        settings.heard[0].silence = Some(Span::from_seconds(20));
    });
    assert_eq!(rig.bench.running(), []);
}

#[test]
fn set_1_the_run_on_and_the_silence_of_a_source_restart() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let sensor = plan.reporting(HeardKind::Occupancy, h(1));
    plan.link(sensor, lamp, Role::AutoOn(Level::FULL)).run_on = Span::from_minutes(10);
    let mut rig = plan.rig();
    rig.occupied(0, sensor);
    rig.vacant(min(1), sensor);
    rig.change(min(5), |settings| {
        settings.links[0].run_on = Span::from_minutes(2);
        settings.heard[0].silence = Some(Span::from_minutes(30));
    });
    rig.is(min(7) - 1, lamp, State::On, 100);
    rig.is(min(7), lamp, State::Off, 0);
    assert_eq!(rig.bench.due(Timer::Silence(sensor)), Some(min(35)));
    rig.change(min(8), |settings| settings.heard[0].silence = None);
    assert_eq!(rig.bench.running(), []);
}

#[test]
fn set_1_the_threshold_restarts_for_every_button_that_is_down() {
    let (mut rig, lamp, _, (_, down)) = room(|_| {});
    rig.down(0, down);
    rig.change(200, |settings| {
        settings.hold_threshold = Span::from_seconds(1)
    });
    rig.end(1_199);
    assert_eq!(rig.notes().len(), 1);
    rig.end(1_200);
    assert_eq!(rig.notes(), [Note::Held(down.index)]);
    rig.is(1_200, lamp, State::Off, 0);
}

#[test]
fn set_1_warning_grace_and_off_after_restart() {
    let dim = |seconds| Warning::Dim {
        span: Span::from_seconds(seconds),
        level: percent(50),
    };
    let (mut rig, lamp, sensor, _) = room(|spec| {
        spec.warning = Some(dim(60));
        spec.grace = Span::from_seconds(20);
    });
    rig.occupied(0, sensor);
    rig.vacant(s(1), sensor);
    set(&mut rig, s(30), |spec| spec.warning = Some(dim(90)));
    rig.is(s(120) - 1, lamp, State::Warning, 50);
    rig.is(s(120), lamp, State::Off, 0);
    let grace = Timer::Output(lamp, OutputTimer::Grace);
    set(&mut rig, s(130), |spec| spec.grace = Span::from_seconds(30));
    assert_eq!(rig.bench.due(grace), Some(s(160)));

    let (mut rig, lamp, sensor, _) = room(|spec| {
        spec.off_after = Some(Span::from_minutes(30));
    });
    relink(&mut rig, 0, |link| link.setback = Some(percent(20)));
    rig.occupied(0, sensor);
    rig.vacant(s(1), sensor);
    set(&mut rig, min(10), |spec| {
        spec.off_after = Some(Span::from_minutes(5))
    });
    rig.is(min(15) - 1, lamp, State::Setback, 20);
    rig.is(min(15), lamp, State::Off, 0);
    // Never again: the count stops.
    rig.occupied(h(1), sensor);
    rig.vacant(h(2), sensor);
    set(&mut rig, h(2) + s(1), |spec| spec.off_after = None);
    rig.is(h(9), lamp, State::Setback, 20);
}

#[test]
fn set_1_a_warning_that_is_taken_away_ends_now() {
    let (mut rig, lamp, sensor, _) = room(|spec| {
        spec.warning = Some(Warning::Blink {
            span: Span::from_seconds(60),
        });
    });
    rig.occupied(0, sensor);
    rig.vacant(s(1), sensor);
    set(&mut rig, s(30), |spec| spec.warning = None);
    rig.is(s(30), lamp, State::Off, 0);
}

#[test]
fn set_1_a_sweeps_warning_and_override_are_the_sweeps() {
    let sweep = |warning, longest| Role::Sweep {
        warning: Span::from_minutes(warning),
        longest_override: Span::from_minutes(longest),
    };
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    plan.spec(lamp).press_hold = Span::ZERO;
    let clock = plan.source(HeardKind::Clock);
    plan.link(clock, lamp, sweep(5, 120));
    let (up, _) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.tap(s(1), up);
    rig.frame(h(1), clock, Payload::Sweep);
    // The output's own warning is another matter.
    set(&mut rig, h(1) + min(1), |spec| {
        spec.warning = Some(Warning::Blink {
            span: Span::from_seconds(10),
        });
    });
    relink(&mut rig, h(1) + min(2), |link| link.role = sweep(6, 120));
    let warning = Timer::Output(lamp, OutputTimer::Warning);
    assert_eq!(rig.bench.due(warning), Some(h(1) + min(8)));
    rig.tap(h(1) + min(8), up);
    relink(&mut rig, h(2), |link| link.role = sweep(6, 30));
    rig.is(h(2) + min(30) - 1, lamp, State::On, 100);
    assert_eq!(rig.view(h(2) + min(31), lamp).state, State::Warning);
}

#[test]
fn set_1_learning_proving_minimum_and_poll_restart() {
    let mut plan = Plan::default();
    let fan = plan.output(Drive::Contact);
    plan.spec(fan).feedback = Some(Span::from_seconds(60));
    plan.spec(fan).minimum_off = Span::from_minutes(2);
    let alarm = plan.source(HeardKind::FireAlarm);
    plan.link(alarm, fan, Role::Emergency);
    let (up, down) = plan.pair(&[fan]);
    let mut rig = plan.rig();
    let timer = |timer| Timer::Output(fan, timer);
    rig.tap(s(1), up);
    rig.learn(s(1), fan, false);
    rig.stick(s(1), fan, Some(false));
    rig.frame(s(1), alarm, Payload::Signal(Signal::FireAlarm, true));
    rig.frame(s(2), alarm, Payload::Signal(Signal::FireAlarm, false));
    rig.change(s(3), |settings| {
        settings.learning = Span::from_seconds(40);
        let spec = &mut settings.outputs[0];
        spec.proven = Span::from_seconds(41);
        spec.feedback = Some(Span::from_seconds(42));
        spec.minimum_on = Span::from_seconds(43);
    });
    assert_eq!(rig.bench.due(timer(OutputTimer::Learning)), Some(s(43)));
    assert_eq!(rig.bench.due(timer(OutputTimer::Proven)), Some(s(44)));
    assert_eq!(rig.bench.due(timer(OutputTimer::Poll)), Some(s(45)));
    assert_eq!(rig.bench.due(timer(OutputTimer::Minimum)), Some(s(46)));
    rig.tap(s(60), down);
    set(&mut rig, s(70), |spec| {
        spec.minimum_off = Span::from_seconds(30)
    });
    assert_eq!(rig.bench.due(timer(OutputTimer::Minimum)), Some(s(100)));
    // A poll is no longer asked for.
    rig.stick(s(71), fan, Some(true));
    set(&mut rig, s(72), |spec| spec.feedback = None);
    assert!(!rig.bench.runs(timer(OutputTimer::Poll)));
}

#[test]
fn set_1_feedback_that_is_given_finds_what_sticks_already() {
    let (mut rig, lamp, _, (up, _)) = room(|_| {});
    rig.stick(0, lamp, Some(false));
    rig.tap(s(1), up);
    set(&mut rig, s(2), |spec| {
        spec.feedback = Some(Span::from_seconds(60))
    });
    rig.end(s(62));
    assert!(rig.has_said(lamp, Note::Fault(crate::Fault::StuckRelay)));
}

#[test]
fn set_1_a_changed_role_or_level_acts_at_the_next_event() {
    let (mut rig, lamp, sensor, _) = room(|_| {});
    rig.occupied(0, sensor);
    relink(&mut rig, s(1), |link| {
        link.role = Role::PartialOn(percent(40))
    });
    rig.is(s(1), lamp, State::On, 100);
    rig.vacant(s(2), sensor);
    rig.occupied(s(3), sensor);
    rig.is(s(3), lamp, State::On, 40);
    relink(&mut rig, s(4), |link| link.setback = Some(percent(20)));
    rig.is(s(4), lamp, State::On, 40);
    rig.vacant(s(5), sensor);
    rig.is(s(5), lamp, State::Setback, 20);
    relink(&mut rig, s(6), |link| link.setback = Some(percent(30)));
    rig.is(s(6), lamp, State::Setback, 20);
}

#[test]
fn set_1_trims_and_the_floor_act_at_once_by_the_fade() {
    let mut plan = Plan::default();
    let lamp = plan.output(Drive::ZeroToTen);
    let (up, _) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.tap(s(1), up);
    set(&mut rig, s(10), |spec| spec.high_trim = percent(60));
    rig.is(s(10), lamp, State::On, 60);
    assert_eq!(rig.light(s(11), lamp), 8_000);
    assert_eq!(rig.light(s(12), lamp), 6_000);
    rig.is(h(1), lamp, State::Off, 0);
    set(&mut rig, h(2), |spec| spec.floor = Some(percent(30)));
    rig.is(h(2), lamp, State::Off, 30);
    assert!(rig.view(h(2), lamp).closed);
    // From the low trim of 10 % up in 1 s.
    assert_eq!(rig.light(h(2) + 500, lamp), 2_000);
    set(&mut rig, h(3), |spec| spec.floor = None);
    assert!(!rig.view(h(3) + s(2), lamp).closed);
}

#[test]
fn set_1_what_changes_in_a_cut_moves_nothing_until_power_returns() {
    let mut plan = Plan::default();
    let lamp = plan.output(Drive::ZeroToTen);
    let mut rig = plan.rig();
    rig.power(s(1), false);
    set(&mut rig, s(2), |spec| spec.floor = Some(percent(30)));
    assert_eq!(rig.bench.running(), []);
    assert_eq!(rig.said(lamp), []);
    rig.power(s(3), true);
    rig.is(s(3), lamp, State::Off, 30);
    assert!(rig.view(s(3), lamp).closed);
}

#[test]
fn set_1_a_ramp_goes_on_from_where_it_is_at_the_new_pace() {
    let (mut rig, lamp, _, (up, _)) = room(|_| {});
    rig.down(0, up);
    rig.change(1_500, |settings| settings.ramp = Span::from_seconds(8));
    rig.is(1_500, lamp, State::On, 35);
    // 12.5 points a second from here.
    rig.is(3_500, lamp, State::On, 60);
    rig.is(6_700, lamp, State::On, 100);
    assert_eq!(rig.it.ramp_owner(lamp), None);
}

#[test]
fn set_1_a_ramp_keeps_its_pace_through_another_change() {
    let (mut rig, lamp, _, (up, _)) = room(|_| {});
    rig.down(0, up);
    set(&mut rig, 1_500, |spec| spec.grace = Span::from_seconds(5));
    rig.is(2_500, lamp, State::On, 60);
    rig.is(4_100, lamp, State::On, 100);
}

#[test]
fn set_1_a_fade_starts_anew_only_when_its_own_span_changed() {
    let fading = || {
        let mut plan = Plan::default();
        let lamp = plan.output(Drive::ZeroToTen);
        let (up, _) = plan.pair(&[lamp]);
        let mut rig = plan.rig();
        rig.tap(s(1), up);
        (rig, lamp)
    };
    let (mut rig, lamp) = fading();
    set(&mut rig, s(1) + 500, |spec| {
        spec.fade_off = Span::from_seconds(9)
    });
    assert_eq!(rig.light(s(1) + 750, lamp), 7_750);
    assert_eq!(rig.light(s(2), lamp), 10_000);
    assert_eq!(rig.view(s(2), lamp).within, Span::ZERO);

    let (mut rig, lamp) = fading();
    set(&mut rig, s(1) + 500, |spec| {
        spec.fade_on = Span::from_seconds(2)
    });
    assert_eq!(rig.light(s(1) + 500, lamp), 5_500);
    assert_eq!(rig.light(s(2) + 500, lamp), 7_750);
    assert_eq!(rig.light(s(3) + 500, lamp), 10_000);
}

#[test]
fn set_1_a_shed_on_its_way_starts_anew_only_when_its_own_span_changed() {
    let shedding = || {
        let mut plan = Plan::default();
        let lamp = plan.lamp();
        plan.spec(lamp).press_hold = Span::ZERO;
        let response = plan.source(HeardKind::DemandResponse);
        plan.link(response, lamp, Role::Shed);
        let (up, _) = plan.pair(&[lamp]);
        let mut rig = plan.rig();
        rig.tap(s(1), up);
        rig.frame(s(10), response, Payload::Shed(None));
        (rig, lamp)
    };
    let (mut rig, lamp) = shedding();
    set(&mut rig, s(40), |spec| spec.grace = Span::from_seconds(5));
    assert_eq!(rig.view(s(60), lamp).target, Level::from_hundredths(8_750));
    rig.is(s(70), lamp, State::On, 85);

    let (mut rig, lamp) = shedding();
    set(&mut rig, s(40), |spec| {
        spec.shed_fade = Span::from_seconds(30)
    });
    assert_eq!(rig.view(s(40), lamp).target, Level::from_hundredths(9_250));
    assert_eq!(rig.view(s(60), lamp).target, Level::from_hundredths(8_750));
    rig.is(s(70), lamp, State::On, 85);
    let (mut rig, lamp) = shedding();
    set(&mut rig, s(40), |spec| {
        spec.shed_fade = Span::from_seconds(15)
    });
    rig.is(s(55), lamp, State::On, 85);
}

/// A lamp that its limit brings from 100 % at 10 s to this share of 120 lx.
fn limited(lux: u32) -> (Rig, u8, u8, Loop) {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    plan.spec(lamp).press_hold = Span::ZERO;
    let photo = plan.source(HeardKind::Daylight);
    let constants = Loop {
        kind: LoopKind::Open,
        calibration: Some(Calibration {
            night_sensor: Illuminance::from_lux(50),
            night_task: Illuminance::from_lux(500),
            day_sensor: Illuminance::from_lux(60),
            day_task: Illuminance::from_lux(250),
        }),
        dark_after: Some(Span::from_minutes(15)),
        ..Loop::default()
    };
    plan.link(photo, lamp, Role::Limit(constants.clone()));
    let unit = plan.source(HeardKind::Switch);
    let up = plan.button(unit, switch::Button::Up, &[lamp]);
    let mut rig = plan.rig();
    rig.tap(s(1), up);
    rig.frame(
        s(10),
        photo,
        Payload::Illuminance(Illuminance::from_lux(lux)),
    );
    (rig, lamp, photo, constants)
}

#[test]
fn set_1_a_limit_on_its_way_goes_on_at_the_new_pace() {
    let (mut rig, lamp, _, constants) = limited(60);
    relink(&mut rig, s(19), |link| {
        link.role = Role::Limit(Loop {
            fade_down: Span::from_seconds(10),
            ..constants
        });
    });
    rig.is(s(19), lamp, State::On, 70);
    rig.is(s(20), lamp, State::On, 60);
    rig.is(s(21), lamp, State::On, 50);
    assert_eq!(rig.bench.running(), []);
}

#[test]
fn set_1_the_dim_to_dark_delay_restarts_and_can_be_taken_away() {
    let (mut rig, lamp, _, constants) = limited(120);
    relink(&mut rig, min(10), |link| {
        link.role = Role::Limit(Loop {
            dark_after: Some(Span::from_minutes(10)),
            ..constants.clone()
        });
    });
    rig.is(min(20) - 1, lamp, State::On, 10);
    rig.is(min(20), lamp, State::On, 0);

    let (mut rig, lamp, photo, constants) = limited(120);
    relink(&mut rig, min(10), |link| {
        link.role = Role::Limit(Loop {
            dark_after: None,
            ..constants.clone()
        });
    });
    rig.is(h(2), lamp, State::On, 10);
    // Given back, the next word of the sensor starts it.
    relink(&mut rig, h(2), |link| {
        link.role = Role::Limit(constants.clone())
    });
    rig.frame(h(2), photo, Payload::Illuminance(Illuminance::from_lux(0)));
    rig.frame(
        h(3),
        photo,
        Payload::Illuminance(Illuminance::from_lux(120)),
    );
    rig.is(h(3) + min(15), lamp, State::On, 0);
}
