//! What can be seen of an output from outside: where the light is going, and when it is there.

use alloc::vec::Vec;

use super::rig::{Plan, Rig, h, min, percent, s};
use crate::controller::state::{Fade, Shed, Way};
use crate::controller::{
    Calibration, Controller, Drive, HeardKind, Loop, LoopKind, OutputTimer, Role, Said, State,
    Timer, View,
};
use crate::{Illuminance, Level, Payload, Span};

#[test]
fn a_light_that_stands_goes_nowhere() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let mut rig = plan.rig();
    let view = rig.view(s(1), lamp);
    assert_eq!((view.light, view.light_to), (Level::OFF, Level::OFF));
    assert_eq!((view.within, view.state), (Span::ZERO, State::Off));
    assert!(!view.emergency && !view.shed && !view.latch && !view.by_hand && !view.occupied);
}

#[test]
fn a_fade_goes_to_its_target_by_its_end() {
    let mut plan = Plan::default();
    let lamp = plan.output(Drive::ZeroToTen);
    let (up, _) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.tap(s(1), up);
    let view = rig.view(s(1) + 400, lamp);
    assert_eq!(
        (view.light_to, view.within),
        (Level::FULL, Span::from_ms(600))
    );
    assert_eq!(view.light, Level::from_hundredths(4_600));
}

#[test]
fn a_glimpse_of_a_light_on_its_way_shows_it_standing_where_it_is() {
    let mut plan = Plan::default();
    let lamp = plan.output(Drive::ZeroToTen);
    let (up, _) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.tap(s(1), up);
    let view = rig.view(s(1) + 400, lamp);
    let glimpse = rig.it.glimpse(&rig.settings, lamp, &rig.bench);
    let stands = View {
        light_to: view.light,
        within: Span::ZERO,
        ..view
    };
    assert_eq!(glimpse, stands);
    assert_ne!(glimpse, view);
}

#[test]
fn a_ramp_a_limit_and_a_shed_show_their_ends_through_the_chain() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    plan.spec(lamp).press_hold = Span::ZERO;
    plan.spec(lamp).high_trim = percent(90);
    let response = plan.source(HeardKind::DemandResponse);
    plan.link(response, lamp, Role::Shed);
    let (up, _) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.down(0, up);
    let view = rig.view(1_500, lamp);
    assert_eq!((view.light, view.light_to), (percent(35), percent(90)));
    assert_eq!(view.within, Span::from_ms(2_200));
    rig.end(s(10));
    rig.frame(s(10), response, Payload::Shed(None));
    let view = rig.view(s(30), lamp);
    assert_eq!((view.light, view.light_to), (percent(85), percent(75)));
    assert_eq!((view.within, view.shed), (Span::from_seconds(40), true));
}

#[test]
fn a_level_on_its_way_tells_both_ends_and_how_long_all_of_it_takes() {
    let mut plan = Plan::default();
    let lamp = plan.output(Drive::ZeroToTen);
    plan.spec(lamp).press_hold = Span::ZERO;
    let photo = plan.source(HeardKind::Daylight);
    let response = plan.source(HeardKind::DemandResponse);
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
    plan.link(response, lamp, Role::Shed);
    let (up, down) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    let way = |rig: &Rig, timer| rig.it.way(&rig.settings, lamp, timer, &rig.bench);
    assert_eq!(way(&rig, OutputTimer::Fade), None);
    assert_eq!(way(&rig, OutputTimer::Ramp), None);
    assert_eq!(way(&rig, OutputTimer::Shed), None);
    rig.tap(s(1), up);
    rig.go(s(1) + 400);
    let fade = (percent(10), Level::FULL, Span::from_seconds(1));
    assert_eq!(way(&rig, OutputTimer::Fade), Some(fade));
    assert_eq!(way(&rig, OutputTimer::Warning), None);
    // Half of the way of a limit takes half of the time that the whole takes.
    rig.frame(
        s(10),
        photo,
        Payload::Illuminance(Illuminance::from_lux(60)),
    );
    let limit = (Level::FULL, percent(50), Span::from_ms(15_000));
    assert_eq!(way(&rig, OutputTimer::Limit), Some(limit));
    rig.frame(s(60), response, Payload::Shed(None));
    let shed = (Level::FULL, percent(85), Span::from_minutes(1));
    assert_eq!(way(&rig, OutputTimer::Shed), Some(shed));
    rig.down(min(5), down);
    rig.go(min(5) + s(1));
    let ramp = (percent(50), percent(10), Span::from_ms(1_600));
    assert_eq!(way(&rig, OutputTimer::Ramp), Some(ramp));
}

#[test]
fn emergency_is_seen() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let alarm = plan.source(HeardKind::FireAlarm);
    plan.link(alarm, lamp, Role::Emergency);
    let mut rig = plan.rig();
    rig.frame(0, alarm, Payload::Signal(crate::Signal::FireAlarm, true));
    let view = rig.view(0, lamp);
    assert!(view.emergency && view.closed);
    assert_eq!(rig.it.said(alarm), Said::Calls);
}

#[test]
fn a_settled_controller_believes_in_an_empty_room_in_opening_hours() {
    let mut plan = Plan::default();
    for (kind, said) in [
        (HeardKind::Occupancy, Said::Vacant),
        (HeardKind::Card { captive: true }, Said::CardOut),
        (HeardKind::Clock, Said::InHours),
        (HeardKind::NormalPower, Said::Rest),
        (HeardKind::FireAlarm, Said::Rest),
        (HeardKind::DemandResponse, Said::Rest),
        (HeardKind::Daylight, Said::Unknown),
        (HeardKind::Switch, Said::Unknown),
    ] {
        let heard = plan.source(kind);
        assert_eq!(plan.clone().rig().it.said(heard), said);
    }
}

#[test]
fn the_press_behind_a_ramp_is_known() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let (_, down) = plan.pair(&[lamp]);
    let up = plan.pair(&[lamp]).0;
    let mut rig = plan.rig();
    rig.tap(min(1), up);
    assert_eq!(rig.it.ramp_owner(lamp), None);
    rig.down(min(2), down);
    rig.end(min(2) + 600);
    assert_eq!(rig.it.ramp_owner(lamp), Some(Some(down.index)));
}

#[test]
fn the_timers_of_an_output_are_in_the_order_of_their_names() {
    let names = OutputTimer::ALL.map(|timer| alloc::format!("{timer:?}"));
    assert!(names.is_sorted());
    assert!(OutputTimer::ALL.is_sorted());
    let sources = [Timer::Silence(9), Timer::Threshold(9), Timer::RunOn(9)];
    assert!(sources.is_sorted() && sources[2] < Timer::Output(0, OutputTimer::Blink));
}

#[test]
fn a_lamp_that_daylight_does_not_reach_burns_as_long_as_somebody_is_there() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let sensor = plan.sensor();
    plan.link(sensor, lamp, Role::AutoOn(Level::FULL));
    let mut rig = plan.rig();
    rig.occupied(0, sensor);
    let view = rig.view(h(48), lamp);
    assert!(view.occupied && view.closed);
    assert_eq!(view.light, Level::FULL);
}

#[test]
fn a_button_is_pressed_from_down_to_up() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let (up, _) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    assert!(!rig.it.is_pressed());
    rig.down(s(1), up);
    assert!(rig.it.is_pressed(), "for less than the threshold");
    rig.go(s(3));
    assert!(rig.it.is_pressed(), "and while it is held");
    rig.up(s(4), up);
    assert!(!rig.it.is_pressed());
}

#[test]
fn the_bytes_of_a_controller_grow_with_each_of_its_parts() {
    let mut plan = Plan::default();
    let bytes = |plan: &Plan| Controller::bytes(&plan.settings);
    assert_eq!(bytes(&plan), 0);
    // Each part twice: the second takes as much again as the first.
    let mut add = |last: usize| {
        let mut sizes = Vec::new();
        let mut total = last;
        let mut measure = |plan: &Plan| {
            sizes.push(bytes(plan) - total);
            total = bytes(plan);
        };
        let lamp = plan.lamp();
        measure(&plan);
        let sensor = plan.sensor();
        measure(&plan);
        plan.scene(sensor, crate::switch::Button::Single);
        measure(&plan);
        plan.link(sensor, lamp, Role::ManualOn);
        measure(&plan);
        (sizes, total)
    };
    let (first, total) = add(0);
    let (second, _) = add(total);
    assert!(first.iter().all(|size| *size > 0), "{first:?}");
    assert_eq!(first, second);
}

/// Lamps with something at every level that a clock without levels has to round.
fn at_all_levels() -> Controller {
    let mut plan = Plan::default();
    plan.lamp();
    plan.output(Drive::Relay);
    plan.lamp();
    let mut it = plan.rig().it;
    let way = |from, to| Way {
        from: percent(from),
        to: percent(to),
    };
    for out in &mut it.outputs {
        out.asked = percent(11);
        out.hand = Some(percent(12));
        out.warning = percent(13);
        out.limit = way(14, 15);
        out.cap = Some(way(16, 17));
        out.fade = Some(Fade {
            from: percent(18),
            up: true,
        });
        out.shed = Some(Shed::Lowered(percent(19)));
    }
    it
}

#[test]
fn every_level_that_may_stand_anywhere_is_rounded() {
    let mut it = at_all_levels();
    let lower = |level: Level| Level::from_hundredths(level.hundredths() - 1_000);
    let mut plan = Plan::default();
    let (lamp, low, even) = (plan.lamp(), plan.lamp(), plan.lamp());
    plan.spec(low).high_trim = percent(20);
    plan.spec(even).high_trim = percent(34);
    it.round_levels(&plan.settings, &lower);
    for out in &it.outputs {
        assert_eq!((out.asked, out.hand), (percent(1), Some(percent(2))));
        assert_eq!(out.warning, percent(3));
        assert_eq!((out.limit.from, out.limit.to), (percent(4), percent(5)));
        let cap = out.cap.unwrap();
        assert_eq!((cap.from, cap.to), (percent(6), percent(7)));
        assert_eq!(out.fade.unwrap().from, percent(8));
    }
    // Half of what was there counts only where the shed leaves less.
    let half = |output: u8| it.outputs[usize::from(output)].shed;
    assert_eq!(half(lamp), Some(Shed::Lowered(Level::OFF)));
    assert_eq!(half(low), Some(Shed::Lowered(percent(9))));
    let even_to = plan.settings.outputs[usize::from(even)].shed_to();
    assert_eq!(even_to, Some(percent(19)));
    assert_eq!(half(even), Some(Shed::Lowered(Level::OFF)));
}

/// A call that is repeated while the shed is in force changes nothing (OUT-14): it is known by
/// where the cap is going.
#[test]
fn what_a_shed_leaves_is_a_setting_and_not_rounded() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let settings = plan.settings.clone();
    let to = settings.outputs[usize::from(lamp)].shed_to();
    let mut it = plan.rig().it;
    let out = &mut it.outputs[usize::from(lamp)];
    out.cap = to.map(|to| Way {
        from: percent(100),
        to,
    });
    it.round_levels(&settings, &|_| percent(60));
    let cap = it.outputs[usize::from(lamp)].cap.unwrap();
    assert_eq!((cap.from, Some(cap.to)), (percent(60), to));
}

#[test]
fn levels_are_forgotten_where_a_drive_dims_and_hands_everywhere() {
    let mut it = at_all_levels();
    let mut plan = Plan::default();
    plan.lamp();
    plan.output(Drive::Relay);
    it.forget_levels(&plan.settings, percent(50));
    let levels = |at: usize| {
        (
            it.outputs[at].asked,
            it.outputs[at].warning,
            it.outputs[at].hand,
        )
    };
    assert_eq!(levels(0), (percent(50), percent(50), None));
    assert_eq!(levels(1), (percent(11), percent(13), None));
}
