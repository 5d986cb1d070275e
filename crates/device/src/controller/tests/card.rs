//! CARD-1, -3 to -6: the key card at its outputs. The linger runs in the reader.

use super::rig::{Plan, Press, Rig, h, min, percent, s};
use crate::controller::{Drive, HeardKind, Output, PowerUp, Role, State};
use crate::{Fault, Ignored, Level, Note, Payload, Signal, Span};

/// A guest room: a lamp with a pair, an outlet, an air contact with a sensor, and a reader.
struct Guest {
    rig: Rig,
    lamp: u8,
    outlet: u8,
    air: u8,
    reader: u8,
    sensor: u8,
    up: Press,
    down: Press,
}

fn guest(captive: bool) -> Guest {
    guest_with(captive, |_| {})
}

fn guest_with(captive: bool, set: impl FnOnce(&mut Output)) -> Guest {
    let mut plan = Plan::default();
    let (lamp, outlet, air) = (
        plan.lamp(),
        plan.output(Drive::Receptacle),
        plan.output(Drive::Contact),
    );
    plan.spec(air).minimum_on = Span::ZERO;
    set(plan.spec(lamp));
    let reader = plan.reporting(HeardKind::Card { captive }, h(1));
    plan.link(reader, lamp, Role::Card(percent(70)));
    plan.link(reader, outlet, Role::Card(Level::FULL));
    plan.link(reader, air, Role::Card(Level::FULL));
    let sensor = plan.sensor();
    plan.link(sensor, air, Role::AutoOn(Level::FULL));
    let (up, down) = plan.pair(&[lamp]);
    Guest {
        rig: plan.rig(),
        lamp,
        outlet,
        air,
        reader,
        sensor,
        up,
        down,
    }
}

impl Guest {
    fn card(&mut self, at: u64, is_in: bool) {
        let payload = if is_in {
            Payload::CardIn
        } else {
            Payload::CardOut
        };
        self.rig.frame(at, self.reader, payload);
    }

    #[track_caller]
    fn are(&mut self, at: u64, targets: [u16; 3]) {
        let outputs = [self.lamp, self.outlet, self.air];
        self.rig.are(at, &outputs, &targets);
    }
}

#[test]
fn card_1_a_card_welcomes_and_holds_the_contact() {
    let mut room = guest(true);
    room.card(0, true);
    room.are(0, [70, 100, 100]);
    assert!(room.rig.view(0, room.air).occupied);
    room.are(h(24), [70, 100, 100]);
}

#[test]
fn card_1_a_welcome_brings_what_is_lit_to_its_level_too() {
    let mut room = guest(false);
    room.rig.tap(s(1), room.up);
    room.are(s(1), [100, 0, 0]);
    room.card(s(2), true);
    room.are(s(2), [70, 100, 100]);
    assert!(room.rig.has_said(room.lamp, Note::Asked(percent(70))));
}

#[test]
fn card_1_a_welcome_ends_a_warning_and_a_setback() {
    let mut room = guest_with(false, |spec| {
        spec.warning = Some(crate::controller::Warning::Dim {
            span: Span::from_seconds(60),
            level: percent(50),
        });
    });
    room.rig.tap(s(1), room.up);
    room.rig.is(s(1) + min(15), room.lamp, State::Warning, 50);
    room.card(s(11) + min(15), true);
    room.rig.is(s(11) + min(15), room.lamp, State::On, 70);
    room.rig.is(h(2), room.lamp, State::On, 70);
}

#[test]
fn card_1_while_the_card_is_in_no_press_hold_turns_a_lamp_without_sensor_off() {
    let mut room = guest(true);
    room.card(0, true);
    room.rig.tap(min(1), room.down);
    room.rig.tap(min(2), room.up);
    room.rig.is(h(10), room.lamp, State::On, 100);
}

#[test]
fn card_1_a_sensor_on_the_lamp_says_more_than_the_card() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let reader = plan.source(HeardKind::Card { captive: true });
    plan.link(reader, lamp, Role::Card(Level::FULL));
    let sensor = plan.sensor();
    plan.link(sensor, lamp, Role::AutoOn(Level::FULL));
    let mut rig = plan.rig();
    rig.frame(0, reader, Payload::CardIn);
    rig.occupied(s(1), sensor);
    rig.vacant(min(20), sensor);
    rig.is(min(20), lamp, State::Off, 0);
    rig.occupied(min(30), sensor);
    rig.is(min(30), lamp, State::On, 100);
}

#[test]
fn card_3_a_repeated_in_changes_neither_levels_nor_latches() {
    let mut room = guest(true);
    room.card(0, true);
    room.rig.tap(s(1), room.down);
    assert!(room.rig.view(s(1), room.lamp).latch);
    room.rig.said(room.lamp);
    room.card(s(2), true);
    assert_eq!(room.rig.said(room.lamp), []);
    assert!(room.rig.view(s(2), room.lamp).latch);
    room.are(s(2), [0, 100, 100]);
}

#[test]
fn card_4_every_linked_output_goes_off_and_latch_and_hand_level_are_forgotten() {
    let mut room = guest(true);
    room.card(0, true);
    room.rig.down(s(1), room.down);
    room.rig.up(s(1) + 2_100, room.down);
    room.rig.tap(s(5), room.down);
    room.card(s(10), false);
    room.are(s(10), [0, 0, 0]);
    let view = room.rig.view(s(10), room.lamp);
    assert_eq!((view.latch, view.by_hand), (false, false));
    room.card(s(20), true);
    room.are(s(20), [70, 100, 100]);
    room.rig.tap(s(21), room.down);
    room.rig.tap(s(22), room.up);
    room.are(s(22), [100, 100, 100]);
}

#[test]
fn card_4_a_repeated_out_does_nothing() {
    let mut room = guest(false);
    room.rig.tap(s(1), room.up);
    room.card(s(2), false);
    room.are(s(2), [100, 0, 0]);
}

#[test]
fn card_4_the_egress_floor_holds() {
    let mut room = guest_with(true, |spec| spec.floor = Some(percent(10)));
    room.card(0, true);
    room.card(s(10), false);
    room.rig.is(s(10), room.lamp, State::Off, 10);
}

#[test]
fn card_4_minimum_times_hold() {
    let mut room = guest(true);
    room.rig.change(0, |settings| {
        settings.outputs[2].minimum_on = Span::from_minutes(5);
    });
    room.card(0, true);
    room.card(min(1), false);
    // A sensor cannot take the wish back: the room is captive.
    room.rig.occupied(min(2), room.sensor);
    room.are(min(5) - 1, [0, 0, 100]);
    room.are(min(5), [0, 0, 0]);
}

#[test]
fn card_4_a_contact_of_a_reader_that_is_not_captive_follows_its_sensor() {
    let mut room = guest(false);
    room.card(0, true);
    room.rig.occupied(s(1), room.sensor);
    room.card(s(10), false);
    room.are(s(10), [0, 0, 100]);
    assert!(
        room.rig
            .has_said(room.air, Note::Ignored(Ignored::StillOccupied))
    );
    room.rig.vacant(min(10), room.sensor);
    room.are(min(10), [0, 0, 0]);
}

#[test]
fn card_4_an_off_by_card_gives_no_grace_and_ends_one() {
    for lit in [true, false] {
        let mut plan = Plan::default();
        let lamp = plan.lamp();
        plan.spec(lamp).grace = Span::from_seconds(30);
        let reader = plan.source(HeardKind::Card { captive: false });
        plan.link(reader, lamp, Role::Card(Level::FULL));
        let sensor = plan.sensor();
        plan.link(sensor, lamp, Role::ManualOn);
        let mut rig = plan.rig();
        rig.frame(0, reader, Payload::CardIn);
        rig.occupied(s(1), sensor);
        if !lit {
            rig.vacant(s(9), sensor);
        }
        rig.frame(s(10), reader, Payload::CardOut);
        if lit {
            rig.vacant(s(11), sensor);
        }
        rig.occupied(s(12), sensor);
        rig.is(s(12), lamp, State::Off, 0);
    }
}

#[test]
fn card_5_without_a_card_no_button_sensor_scene_or_clock_turns_anything_on() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let reader = plan.source(HeardKind::Card { captive: true });
    plan.link(reader, lamp, Role::Card(percent(70)));
    let sensor = plan.sensor();
    plan.link(sensor, lamp, Role::AutoOn(Level::FULL));
    let clock = plan.source(HeardKind::Clock);
    plan.link(clock, lamp, Role::Opening(Level::FULL));
    let unit = plan.source(HeardKind::Switch);
    let scene = plan.scene(unit, crate::switch::Button::Scene);
    plan.link(unit, lamp, Role::Scene(scene.index, percent(30)));
    let single = plan.single(&[lamp]);
    let (up, down) = plan.pair(&[lamp]);
    let mut rig = plan.rig();
    rig.tap(s(1), up);
    rig.tap(s(2), single);
    rig.tap(s(3), scene);
    rig.down(s(4), up);
    rig.up(s(8), up);
    rig.occupied(s(9), sensor);
    rig.frame(s(10), clock, Payload::AfterHours);
    rig.frame(s(11), clock, Payload::InHours);
    let captive = Note::Ignored(Ignored::Captive);
    let refusals = rig.said(lamp).into_iter().filter(|note| *note == captive);
    assert_eq!(refusals.count(), 6);
    rig.is(s(12), lamp, State::Off, 0);
    // No level was stored either: with the card a tap up is full.
    rig.frame(s(20), reader, Payload::CardIn);
    rig.tap(s(21), down);
    rig.tap(s(22), up);
    rig.is(s(22), lamp, State::On, 100);
}

#[test]
fn card_5_a_linked_contact_is_open_whatever_the_sensor_says() {
    let mut room = guest(true);
    room.rig.occupied(s(1), room.sensor);
    room.are(s(1), [0, 0, 0]);
    room.card(s(2), true);
    room.are(s(2), [70, 100, 100]);
    room.card(s(3), false);
    room.are(s(3), [0, 0, 0]);
}

#[test]
fn card_5_emergency_does_as_it_must() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let reader = plan.source(HeardKind::Card { captive: true });
    plan.link(reader, lamp, Role::Card(percent(70)));
    let alarm = plan.source(HeardKind::FireAlarm);
    plan.link(alarm, lamp, Role::Emergency);
    let mut rig = plan.rig();
    rig.frame(s(1), alarm, Payload::Signal(Signal::FireAlarm, true));
    rig.is(s(1), lamp, State::Off, 100);
}

#[test]
fn card_5_a_relay_with_a_captive_output_is_captive() {
    let mut plan = Plan::default();
    let lamps = [plan.lamp(), plan.lamp()];
    for lamp in lamps {
        plan.spec(lamp).relay = Some(0);
    }
    let reader = plan.source(HeardKind::Card { captive: true });
    plan.link(reader, lamps[0], Role::Card(percent(70)));
    let (up, _) = plan.pair(&lamps[1..]);
    let mut rig = plan.rig();
    rig.tap(s(1), up);
    rig.are(s(1), &lamps, &[0, 0]);
}

#[test]
fn card_5_power_that_returns_does_not_light_a_captive_room() {
    let mut room = guest_with(true, |spec| spec.power_up = PowerUp::On);
    room.rig.power(s(1), false);
    room.rig.power(s(2), true);
    room.are(s(2), [0, 0, 0]);
}

#[test]
fn card_6_a_lost_reader_keeps_its_state_and_lifts_the_captivity() {
    let mut room = guest(true);
    room.rig.occupied(s(1), room.sensor);
    room.are(h(1) - 1, [0, 0, 0]);
    room.are(h(1), [0, 0, 100]);
    assert_eq!(room.rig.notes(), [Note::Fault(Fault::Lost)]);
    room.rig.tap(h(1) + s(1), room.up);
    room.are(h(1) + s(1), [100, 0, 100]);

    let mut room = guest(true);
    room.card(0, true);
    room.are(h(3), [70, 100, 100]);
}

#[test]
fn card_6_a_lost_reader_closes_no_contact_for_a_link_that_turns_nothing_on() {
    let mut room = guest(true);
    room.rig
        .change(0, |settings| settings.links[3].role = Role::ManualOn);
    room.rig.occupied(s(1), room.sensor);
    room.are(h(1), [0, 0, 0]);
}

#[test]
fn card_6_a_reader_that_is_back_without_a_card_is_captive_again() {
    let mut room = guest(true);
    room.rig.end(h(1));
    room.rig.tap(h(1) + s(1), room.up);
    room.are(h(1) + s(1), [100, 0, 0]);
    room.card(h(1) + s(2), false);
    room.are(h(1) + s(2), [0, 0, 0]);
    room.rig.tap(h(1) + s(3), room.up);
    room.are(h(1) + s(3), [0, 0, 0]);

    // A reader that is not captive has lifted nothing.
    let mut room = guest(false);
    room.rig.tap(h(1) + s(1), room.up);
    room.card(h(1) + s(2), false);
    room.are(h(1) + s(2), [100, 0, 0]);
}

#[test]
fn card_6_the_card_is_known_after_a_cut() {
    let mut room = guest(true);
    room.card(0, true);
    room.rig.power(s(1), false);
    room.rig.power(s(2), true);
    room.are(s(2), [70, 100, 100]);
    room.card(s(3), true);
    room.are(s(3), [70, 100, 100]);
    room.card(s(4), false);
    room.are(s(4), [0, 0, 0]);
}

#[test]
fn card_7_a_wrong_card_is_a_fault_and_changes_nothing() {
    let mut room = guest(true);
    room.rig.frame(s(1), room.reader, Payload::WrongCard);
    assert_eq!(room.rig.notes(), [Note::Fault(Fault::WrongCard)]);
    room.are(s(1), [0, 0, 0]);
}

#[test]
fn out_9_what_is_lit_without_a_card_may_be_kept_but_not_turned_up() {
    // The reader was lost, somebody turned on, the reader is set captive on site.
    let mut room = guest_with(false, |spec| {
        spec.warning = Some(crate::controller::Warning::Dim {
            span: Span::from_seconds(60),
            level: percent(50),
        });
    });
    room.rig.tap(s(1), room.up);
    room.rig.change(s(2), |settings| {
        settings.heard[0].kind = HeardKind::Card { captive: true };
    });
    room.rig.down(s(3), room.down);
    room.rig.up(s(5), room.down);
    room.rig.is(s(5), room.lamp, State::On, 100);
    assert!(
        room.rig
            .has_said(room.lamp, Note::Ignored(Ignored::Captive))
    );
    room.rig.is(s(1) + min(15), room.lamp, State::Warning, 50);
    room.rig.down(s(60) + min(15), room.up);
    room.rig.up(s(61) + min(15) + 100, room.up);
    room.rig.is(s(62) + min(15), room.lamp, State::On, 100);
}

#[test]
fn card_5_a_reader_that_is_made_captive_stops_what_waits_to_turn_on() {
    let mut room = guest(false);
    room.rig.change(0, |settings| {
        settings.outputs[2].minimum_off = Span::from_minutes(3);
    });
    room.rig.occupied(s(1), room.sensor);
    room.rig.vacant(min(1), room.sensor);
    room.rig.occupied(min(2), room.sensor);
    assert!(room.rig.has_said(room.air, Note::Waits(true)));
    room.rig.change(min(3), |settings| {
        settings.heard[0].kind = HeardKind::Card { captive: true };
    });
    room.are(min(10), [0, 0, 0]);
    assert!(room.rig.has_said(room.air, Note::Ignored(Ignored::Captive)));
}

#[test]
fn card_6_one_lost_reader_does_not_lift_the_captivity_of_another() {
    let mut plan = Plan::default();
    let air = plan.output(Drive::Contact);
    for silence in [h(1), h(2)] {
        let reader = plan.reporting(HeardKind::Card { captive: true }, silence);
        plan.link(reader, air, Role::Card(Level::FULL));
    }
    let sensor = plan.sensor();
    plan.link(sensor, air, Role::AutoOn(Level::FULL));
    let mut rig = plan.rig();
    rig.occupied(s(1), sensor);
    rig.is(h(2) - 1, air, State::Off, 0);
    rig.is(h(2), air, State::On, 100);
}
