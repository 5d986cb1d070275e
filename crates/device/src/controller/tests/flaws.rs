//! Each seeded flaw of a controller is the wrong line that it says it is.
//!
//! The same script is played on a sound controller and on the flawed one: the sound one holds
//! the row, the flawed one breaks it.

use super::rig::{Plan, Press, Rig, h, min, percent, s};
use crate::controller::{Drive, HeardKind, Role, Warning};
use crate::{Flaw, Level, Payload, Signal, Span, switch};

/// A room with all that the scripts need.
struct Room {
    rig: Rig,
    lamp: u8,
    sensor: u8,
    other: u8,
    up: Press,
    down: Press,
}

fn room(flaw: Option<Flaw>) -> Room {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let (sensor, other) = (
        plan.reporting(HeardKind::Occupancy, h(1)),
        plan.reporting(HeardKind::Occupancy, h(1)),
    );
    for heard in [sensor, other] {
        plan.link(heard, lamp, Role::AutoOn(percent(80)));
    }
    let (up, down) = plan.pair(&[lamp]);
    plan.settings.flaw = flaw;
    Room {
        rig: plan.rig(),
        lamp,
        sensor,
        other,
        up,
        down,
    }
}

/// Plays a script on a sound and a flawed controller and compares what shows at its end.
#[track_caller]
fn check(flaw: Flaw, sound: u16, flawed: u16, script: impl Fn(Option<Flaw>) -> Level) {
    assert_eq!(script(None), percent(sound), "sound");
    assert_eq!(script(Some(flaw)), percent(flawed), "{}", flaw.words());
    // Any other flaw leaves this alone or breaks it in its own way; none may panic.
    for other in Flaw::ALL {
        script(Some(other));
    }
}

#[test]
fn vacant_on_first() {
    check(Flaw::VacantOnFirst, 80, 0, |flaw| {
        let mut it = room(flaw);
        it.rig.occupied(0, it.sensor);
        it.rig.occupied(s(1), it.other);
        it.rig.vacant(s(2), it.sensor);
        it.rig.view(s(2), it.lamp).target
    });
}

#[test]
fn shared_run_on() {
    check(Flaw::SharedRunOn, 100, 0, |flaw| {
        let mut plan = Plan::default();
        let (first, second) = (plan.lamp(), plan.lamp());
        let (photo, sensor) = (plan.sensor(), plan.sensor());
        plan.link(photo, first, Role::AutoOn(Level::FULL)).run_on = Span::from_minutes(40);
        plan.link(sensor, first, Role::AutoOn(Level::FULL)).run_on = Span::from_minutes(1);
        plan.link(sensor, second, Role::AutoOn(Level::FULL)).run_on = Span::from_minutes(30);
        plan.settings.flaw = flaw;
        let mut rig = plan.rig();
        rig.occupied(0, sensor);
        rig.vacant(s(1), sensor);
        rig.view(min(2), second).target
    });
}

#[test]
fn run_on_not_forgotten() {
    check(Flaw::RunOnNotForgotten, 100, 0, |flaw| {
        let mut plan = Plan::default();
        let lamp = plan.lamp();
        let sensor = plan.sensor();
        plan.link(sensor, lamp, Role::AutoOn(Level::FULL)).run_on = Span::from_minutes(1);
        plan.settings.flaw = flaw;
        let mut rig = plan.rig();
        rig.occupied(0, sensor);
        rig.vacant(s(1), sensor);
        rig.occupied(s(2), sensor);
        rig.view(min(2), lamp).target
    });
}

#[test]
fn hand_off_forgotten() {
    check(Flaw::HandOffForgotten, 0, 80, |flaw| {
        let mut it = room(flaw);
        it.rig.occupied(0, it.sensor);
        it.rig.tap(s(1), it.down);
        it.rig.occupied(s(2), it.other);
        it.rig.view(s(2), it.lamp).target
    });
}

#[test]
fn latch_never_cleared() {
    check(Flaw::LatchNeverCleared, 80, 0, |flaw| {
        let mut it = room(flaw);
        it.rig.occupied(0, it.sensor);
        it.rig.tap(s(1), it.down);
        it.rig.vacant(s(2), it.sensor);
        it.rig.occupied(s(3), it.sensor);
        it.rig.view(s(3), it.lamp).target
    });
}

#[test]
fn grace_after_hand_off() {
    check(Flaw::GraceAfterHandOff, 0, 80, |flaw| {
        let mut it = room(flaw);
        it.rig.change(0, |settings| {
            settings.outputs[0].grace = Span::from_seconds(30);
            settings.links[1].role = Role::ManualOn;
        });
        it.rig.occupied(0, it.sensor);
        it.rig.tap(s(1), it.down);
        it.rig.occupied(s(2), it.other);
        it.rig.view(s(2), it.lamp).target
    });
}

#[test]
fn off_eaten_by_warning() {
    check(Flaw::OffEatenByWarning, 0, 80, |flaw| {
        let mut it = room(flaw);
        it.rig.change(0, |settings| {
            settings.outputs[0].warning = Some(Warning::Dim {
                span: Span::from_seconds(60),
                level: percent(50),
            });
        });
        it.rig.occupied(0, it.sensor);
        it.rig.vacant(s(1), it.sensor);
        it.rig.tap(s(2), it.down);
        it.rig.view(s(2), it.lamp).target
    });
    // Without a warning an off is an off all the same.
    let mut it = room(Some(Flaw::OffEatenByWarning));
    it.rig.occupied(0, it.sensor);
    it.rig.tap(s(2), it.down);
    assert!(it.rig.view(s(2), it.lamp).target.is_off());
}

#[test]
fn press_hold_missing() {
    check(Flaw::PressHoldMissing, 100, 0, |flaw| {
        let mut it = room(flaw);
        it.rig.tap(s(1), it.up);
        it.rig.view(s(2), it.lamp).target
    });
}

#[test]
fn preset_beats_hand() {
    check(Flaw::PresetBeatsHand, 100, 80, |flaw| {
        let mut it = room(flaw);
        it.rig.occupied(0, it.sensor);
        it.rig.tap(s(1), it.up);
        it.rig.occupied(s(2), it.other);
        it.rig.view(s(2), it.lamp).target
    });
}

#[test]
fn setback_lights_dark() {
    let script = |flaw, off: bool| {
        let mut it = room(flaw);
        it.rig
            .change(0, |settings| settings.links[0].setback = Some(percent(30)));
        it.rig.occupied(0, it.sensor);
        it.rig.occupied(s(1), it.other);
        if off {
            it.rig.tap(s(2), it.down);
        }
        it.rig.vacant(s(3), it.sensor);
        it.rig.occupied(s(4), it.other);
        it.rig.view(s(4), it.lamp)
    };
    // The state leaves off; asked is kept.
    check(Flaw::SetbackLightsDark, 0, 30, |flaw| {
        script(flaw, true).target
    });
    check(Flaw::SetbackLightsDark, 30, 30, |flaw| match flaw {
        None | Some(Flaw::SetbackLightsDark) => script(flaw, false).target,
        Some(_) => Level::OFF,
    });
}

#[test]
fn scene_ignores_captive() {
    check(Flaw::SceneIgnoresCaptive, 0, 40, |flaw| {
        let mut plan = Plan::default();
        let lamp = plan.lamp();
        let card = plan.source(HeardKind::Card { captive: true });
        plan.link(card, lamp, Role::Card(Level::FULL));
        let unit = plan.source(HeardKind::Switch);
        let scene = plan.scene(unit, switch::Button::Scene);
        plan.link(unit, lamp, Role::Scene(scene.index, percent(40)));
        plan.settings.flaw = flaw;
        let mut rig = plan.rig();
        rig.tap(s(1), scene);
        rig.view(s(1), lamp).target
    });
}

fn swept(flaw: Option<Flaw>) -> (Rig, u8, u8, u8, Press) {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let sensor = plan.sensor();
    plan.link(sensor, lamp, Role::AutoOn(Level::FULL));
    let clock = plan.source(HeardKind::Clock);
    let role = Role::Sweep {
        warning: Span::from_minutes(5),
        longest_override: Span::from_hours(2),
    };
    plan.link(clock, lamp, role);
    let (up, _) = plan.pair(&[lamp]);
    plan.settings.flaw = flaw;
    (plan.rig(), lamp, sensor, clock, up)
}

#[test]
fn endless_override() {
    check(Flaw::EndlessOverride, 50, 100, |flaw| {
        let (mut rig, lamp, _, clock, up) = swept(flaw);
        rig.change(0, |settings| {
            settings.outputs[0].press_hold = Span::from_hours(4)
        });
        rig.frame(s(1), clock, Payload::Sweep);
        rig.tap(s(2), up);
        rig.view(h(2) + s(2), lamp).target
    });
}

#[test]
fn sweep_ignores_occupied() {
    check(Flaw::SweepIgnoresOccupied, 100, 50, |flaw| {
        let (mut rig, lamp, sensor, clock, _) = swept(flaw);
        rig.occupied(0, sensor);
        rig.frame(s(1), clock, Payload::Sweep);
        rig.view(s(1), lamp).target
    });
}

#[test]
fn lost_holds() {
    check(Flaw::LostHolds, 0, 80, |flaw| {
        let mut it = room(flaw);
        it.rig.occupied(0, it.sensor);
        it.rig.view(h(2), it.lamp).target
    });
}

#[test]
fn lone_up_acts() {
    check(Flaw::LoneUpActs, 0, 100, |flaw| {
        let mut it = room(flaw);
        it.rig.up(s(1), it.up);
        it.rig.view(s(2), it.lamp).target
    });
}

#[test]
fn endless_ramp() {
    let ramps = |flaw| {
        let mut it = room(flaw);
        it.rig.down(0, it.up);
        it.rig.end(min(1));
        it.rig.it.ramp_owner(it.lamp).is_some()
    };
    assert!(!ramps(None));
    assert!(ramps(Some(Flaw::EndlessRamp)));
}

#[test]
fn floor_yields() {
    check(Flaw::FloorYields, 30, 0, |flaw| {
        let mut it = room(flaw);
        it.rig
            .change(0, |settings| settings.outputs[0].floor = Some(percent(30)));
        it.rig.view(s(1), it.lamp).target
    });
}

#[test]
fn emergency_not_full() {
    check(Flaw::EmergencyNotFull, 100, 0, |flaw| {
        let mut plan = Plan::default();
        let lamp = plan.lamp();
        let alarm = plan.source(HeardKind::FireAlarm);
        plan.link(alarm, lamp, Role::Emergency);
        plan.settings.flaw = flaw;
        let mut rig = plan.rig();
        rig.frame(s(1), alarm, Payload::Signal(Signal::FireAlarm, true));
        rig.view(s(1), lamp).target
    });
}

#[test]
fn restore_forgets_level() {
    check(Flaw::RestoreForgetsLevel, 80, 100, |flaw| {
        let mut it = room(flaw);
        it.rig.change(0, |settings| {
            settings.links[0].setback = Some(percent(30));
            settings.links[1].setback = Some(percent(30));
        });
        it.rig.occupied(0, it.sensor);
        it.rig.vacant(s(1), it.sensor);
        it.rig.occupied(s(2), it.sensor);
        it.rig.view(s(2), it.lamp).target
    });
}

#[test]
fn no_minimum_times() {
    check(Flaw::NoMinimumTimes, 100, 0, |flaw| {
        let mut plan = Plan::default();
        let air = plan.output(Drive::Contact);
        let sensor = plan.sensor();
        plan.link(sensor, air, Role::AutoOn(Level::FULL));
        plan.settings.flaw = flaw;
        let mut rig = plan.rig();
        rig.occupied(0, sensor);
        rig.vacant(min(1), sensor);
        rig.view(min(1), air).target
    });
}
