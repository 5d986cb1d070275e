//! OUT-16, OUT-23, RCP, VENT: contacts, receptacles and relays.

use super::rig::{Plan, Rig, h, min, percent, s};
use crate::controller::{Drive, HeardKind, Role, State, Warning};
use crate::{Fault, Ignored, Level, Note, Span, switch};

/// An air terminal that serves three offices: closed for at least 5 min, open for 1 min.
fn terminal(minimum_off: u64) -> (Rig, u8, [u8; 3]) {
    let mut plan = Plan::default();
    let air = plan.output(Drive::Contact);
    plan.spec(air).minimum_off = Span::from_ms(minimum_off);
    let offices = [plan.sensor(), plan.sensor(), plan.sensor()];
    for office in offices {
        plan.link(office, air, Role::AutoOn(Level::FULL));
    }
    (plan.rig(), air, offices)
}

#[test]
fn vent_1_closed_while_any_of_three_offices_is_occupied() {
    let (mut rig, air, [one, two, three]) = terminal(0);
    assert!(!rig.view(0, air).closed);
    rig.occupied(min(1), one);
    rig.occupied(min(10), two);
    rig.vacant(min(20), one);
    rig.occupied(min(30), three);
    rig.vacant(min(40), two);
    assert!(rig.view(min(59), air).closed);
    rig.vacant(min(60), three);
    assert!(!rig.view(min(60), air).closed);
}

#[test]
fn vent_2_opens_after_the_run_on_of_the_last_link() {
    let mut plan = Plan::default();
    let air = plan.output(Drive::Contact);
    let sensor = plan.sensor();
    plan.link(sensor, air, Role::AutoOn(Level::FULL)).run_on = Span::from_minutes(5);
    let mut rig = plan.rig();
    rig.occupied(0, sensor);
    rig.vacant(min(20), sensor);
    assert!(rig.view(min(25) - 1, air).closed);
    assert!(!rig.view(min(25), air).closed);
}

#[test]
fn vent_3_closed_for_5_min_at_least_and_air_returns_at_once_on_entry() {
    let (mut rig, air, [one, ..]) = terminal(0);
    rig.occupied(0, one);
    rig.vacant(min(2), one);
    assert!(rig.has_said(air, Note::Waits(false)));
    rig.is(min(5) - 1, air, State::On, 100);
    rig.is(min(5), air, State::Off, 0);
    rig.occupied(min(5) + 1, one);
    rig.is(min(5) + 1, air, State::On, 100);
}

#[test]
fn vent_4_without_power_the_contact_rests_open_or_closed() {
    for rest_closed in [false, true] {
        let mut plan = Plan::default();
        let air = plan.output(Drive::Contact);
        plan.spec(air).rest_closed = rest_closed;
        let mut rig = plan.rig();
        rig.power(s(1), false);
        assert_eq!(rig.view(s(1), air).closed, rest_closed);
        rig.power(s(2), true);
        assert!(!rig.view(s(2), air).closed);
    }
}

#[test]
fn out_16_a_wish_back_cancels_and_the_last_wish_acts() {
    let (mut rig, air, [one, two, _]) = terminal(0);
    rig.occupied(0, one);
    rig.vacant(min(1), one);
    rig.occupied(min(2), two);
    rig.is(min(30), air, State::On, 100);
    rig.vacant(min(31), two);
    rig.is(min(31), air, State::Off, 0);

    let (mut rig, air, [one, ..]) = terminal(0);
    rig.occupied(0, one);
    rig.vacant(min(1), one);
    rig.occupied(min(2), one);
    rig.vacant(min(3), one);
    rig.is(min(5) - 1, air, State::On, 100);
    rig.is(min(5), air, State::Off, 0);
}

#[test]
fn out_16_a_minimum_off_time_delays_the_close_and_leaving_cancels_it() {
    let (mut rig, air, [one, ..]) = terminal(min(3));
    rig.occupied(0, one);
    rig.vacant(min(6), one);
    rig.is(min(6), air, State::Off, 0);
    rig.occupied(min(7), one);
    assert!(rig.has_said(air, Note::Waits(true)));
    rig.is(min(9) - 1, air, State::Off, 0);
    rig.is(min(9), air, State::On, 100);
    rig.vacant(min(20), one);
    rig.occupied(min(21), one);
    rig.vacant(min(22), one);
    rig.is(min(40), air, State::Off, 0);
}

#[test]
fn out_16_a_press_waits_and_stands_without_a_press_hold() {
    let mut plan = Plan::default();
    let fan = plan.output(Drive::Contact);
    plan.spec(fan).minimum_off = Span::from_minutes(3);
    let (up, down) = plan.pair(&[fan]);
    let mut rig = plan.rig();
    rig.tap(min(1), up);
    rig.tap(min(10), down);
    rig.is(min(10), fan, State::Off, 0);
    rig.tap(min(11), up);
    rig.is(min(13) - 1, fan, State::Off, 0);
    rig.is(min(13), fan, State::On, 100);
    // A hold waits as a tap does.
    rig.tap(min(30), down);
    rig.down(min(31), up);
    rig.up(min(32), up);
    rig.is(min(33) - 1, fan, State::Off, 0);
    rig.is(min(33), fan, State::On, 100);
    // And a tap down takes a waiting wish back.
    rig.tap(min(50), down);
    rig.tap(min(51), up);
    rig.tap(min(52), down);
    rig.is(min(60), fan, State::Off, 0);
}

#[test]
fn out_16_an_off_by_hand_that_waits_is_not_taken_back_by_an_arrival() {
    let mut plan = Plan::default();
    let fan = plan.output(Drive::Contact);
    let sensors = [plan.sensor(), plan.sensor()];
    for sensor in sensors {
        plan.link(sensor, fan, Role::AutoOn(Level::FULL));
    }
    let (up, down) = plan.pair(&[fan]);
    let mut rig = plan.rig();
    rig.occupied(0, sensors[0]);
    rig.tap(min(1), down);
    rig.occupied(min(2), sensors[1]);
    rig.is(min(5) - 1, fan, State::On, 100);
    rig.is(min(5), fan, State::Off, 0);
    assert!(rig.view(min(5), fan).latch);
    // A press up takes it back.
    rig.tap(min(10), up);
    rig.tap(min(11), down);
    rig.tap(min(12), up);
    rig.is(min(30), fan, State::On, 100);
}

#[test]
fn out_16_emergency_does_not_wait() {
    let mut plan = Plan::default();
    let fan = plan.output(Drive::Contact);
    plan.spec(fan).minimum_off = Span::from_minutes(3);
    let alarm = plan.source(HeardKind::FireAlarm);
    plan.link(alarm, fan, Role::Emergency);
    let (up, down) = plan.pair(&[fan]);
    let mut rig = plan.rig();
    rig.tap(min(1), up);
    rig.tap(min(10), down);
    let alarm_on = crate::Payload::Signal(crate::Signal::FireAlarm, true);
    rig.frame(min(11), alarm, alarm_on);
    let view = rig.view(min(11), fan);
    assert_eq!((view.target, view.closed), (Level::FULL, true));
}

/// A split receptacle and a lamp in one room with a combined wall unit.
fn receptacle() -> (Rig, u8, u8, u8, super::rig::Press) {
    let mut plan = Plan::default();
    let (outlet, lamp) = (plan.output(Drive::Receptacle), plan.lamp());
    let sensor = plan.sensor();
    let spec = plan.spec(outlet);
    spec.warning = Some(Warning::Dim {
        span: Span::from_seconds(60),
        level: percent(50),
    });
    spec.grace = Span::from_seconds(20);
    plan.link(sensor, outlet, Role::AutoOn(Level::FULL));
    plan.link(sensor, lamp, Role::PartialOn(percent(50)));
    let unit = plan.source(HeardKind::Switch);
    let button = plan.button(unit, switch::Button::Single, &[lamp]);
    (plan.rig(), outlet, lamp, sensor, button)
}

/// The always-hot half has no state here; what is switched follows its own links, not the room's.
#[test]
fn rcp_1_the_switched_half_follows_its_links_and_no_others() {
    let mut plan = Plan::default();
    let (outlet, lamp) = (plan.output(Drive::Receptacle), plan.lamp());
    let (near, far) = (plan.sensor(), plan.sensor());
    plan.link(near, outlet, Role::AutoOn(Level::FULL));
    plan.link(far, lamp, Role::AutoOn(Level::FULL));
    let mut rig = plan.rig();
    assert!(!rig.view(0, outlet).closed, "nothing closes it by itself");
    rig.occupied(1, far);
    rig.are(1, &[outlet, lamp], &[0, 100]);
    rig.occupied(2, near);
    rig.are(2, &[outlet, lamp], &[100, 100]);
    rig.vacant(min(20), far);
    rig.are(min(20), &[outlet, lamp], &[100, 0]);
    rig.vacant(min(21), near);
    rig.is(min(21), outlet, State::Off, 0);
    assert!(!rig.view(min(21), outlet).closed);
}

#[test]
fn rcp_2_on_with_the_first_person_and_off_with_the_last() {
    let (mut rig, outlet, _, sensor, _) = receptacle();
    rig.occupied(0, sensor);
    rig.is(0, outlet, State::On, 100);
    assert!(rig.view(0, outlet).closed);
    rig.vacant(min(20), sensor);
    rig.is(min(20), outlet, State::Off, 0);
}

#[test]
fn rcp_3_a_button_not_linked_to_it_neither_changes_nor_holds_it() {
    let (mut rig, outlet, lamp, sensor, button) = receptacle();
    rig.tap(s(1), button);
    rig.are(s(1), &[outlet, lamp], &[0, 100]);
    rig.occupied(s(2), sensor);
    rig.tap(s(3), button);
    rig.tap(s(4), button);
    rig.are(s(4), &[outlet, lamp], &[100, 100]);
    rig.vacant(min(10), sensor);
    rig.are(min(10), &[outlet, lamp], &[0, 100]);
}

#[test]
fn rcp_4_warnings_fades_and_grace_do_not_apply() {
    let (mut rig, outlet, _, sensor, _) = receptacle();
    rig.occupied(0, sensor);
    rig.vacant(min(20), sensor);
    let view = rig.view(min(20), outlet);
    assert_eq!((view.state, view.light), (State::Off, Level::OFF));
    assert_eq!(rig.bench.running(), []);
    // Without auto-on nothing brings it back.
    rig.change(min(21), |settings| settings.links[0].role = Role::ManualOn);
    rig.occupied(min(21), sensor);
    rig.is(min(21), outlet, State::Off, 0);
}

#[test]
fn rcp_4_a_sweep_does_not_warn_a_receptacle_either() {
    let mut plan = Plan::default();
    let outlet = plan.output(Drive::Receptacle);
    let clock = plan.source(HeardKind::Clock);
    plan.link(
        clock,
        outlet,
        Role::Sweep {
            warning: Span::from_minutes(5),
            longest_override: Span::from_hours(2),
        },
    );
    let (up, _) = plan.pair(&[outlet]);
    let mut rig = plan.rig();
    rig.tap(s(1), up);
    rig.frame(h(1), clock, crate::Payload::Sweep);
    rig.is(h(1), outlet, State::Off, 0);
}

/// A relay lamp with feedback, and its pair.
fn watched(feedback: bool) -> (Rig, u8, super::rig::Press, super::rig::Press) {
    let mut plan = Plan::default();
    let lamp = plan.output(Drive::ZeroToTen);
    plan.spec(lamp).feedback = feedback.then(|| Span::from_seconds(60));
    plan.spec(lamp).fade_off = Span::ZERO;
    let (up, down) = plan.pair(&[lamp]);
    (plan.rig(), lamp, up, down)
}

#[test]
fn out_23_a_welded_contact_is_reported_within_one_poll_and_shows_as_it_is() {
    let (mut rig, lamp, up, down) = watched(true);
    rig.tap(s(1), up);
    rig.stick(s(2), lamp, Some(true));
    rig.tap(s(10), down);
    let view = rig.view(s(10), lamp);
    assert_eq!((view.state, view.closed), (State::Off, true));
    assert_eq!((view.light, view.light_to), (percent(10), percent(10)));
    rig.end(s(70) - 1);
    assert!(!rig.has_said(lamp, Note::Fault(Fault::StuckRelay)));
    rig.end(s(70));
    assert!(rig.has_said(lamp, Note::Fault(Fault::StuckRelay)));
    // Reported once; the fault ends when the relay follows.
    rig.end(s(300));
    assert!(!rig.has_said(lamp, Note::Fault(Fault::StuckRelay)));
    rig.stick(s(301), lamp, None);
    assert!(rig.has_said(lamp, Note::FaultEnded(Fault::StuckRelay)));
    assert!(!rig.view(s(301), lamp).closed);
}

#[test]
fn out_23_a_contact_stuck_open_shows_no_light() {
    let (mut rig, lamp, up, _) = watched(true);
    rig.stick(0, lamp, Some(false));
    rig.tap(s(1), up);
    let view = rig.view(s(2), lamp);
    assert_eq!((view.state, view.target), (State::On, Level::FULL));
    assert_eq!((view.closed, view.light), (false, Level::OFF));
    rig.end(s(61));
    assert!(rig.has_said(lamp, Note::Fault(Fault::StuckRelay)));
}

#[test]
fn out_23_a_relay_that_follows_in_time_is_no_fault() {
    let (mut rig, lamp, up, down) = watched(true);
    rig.stick(0, lamp, Some(true));
    rig.stick(s(59), lamp, None);
    rig.end(s(100));
    assert!(!rig.has_said(lamp, Note::Fault(Fault::StuckRelay)));
    rig.stick(s(200), lamp, Some(true));
    rig.tap(s(210), up);
    rig.tap(s(230), down);
    rig.end(s(290) - 1);
    assert!(!rig.has_said(lamp, Note::Fault(Fault::StuckRelay)));
    rig.end(s(290));
    assert!(rig.has_said(lamp, Note::Fault(Fault::StuckRelay)));
}

#[test]
fn out_23_without_feedback_nothing_is_reported() {
    let (mut rig, lamp, up, down) = watched(false);
    rig.tap(s(1), up);
    rig.stick(s(2), lamp, Some(true));
    rig.tap(s(10), down);
    rig.end(h(1));
    assert!(!rig.has_said(lamp, Note::Fault(Fault::StuckRelay)));
    assert_eq!(rig.bench.running(), []);
}

#[test]
fn out_23_a_relay_that_sticks_in_a_cut_is_polled_when_power_returns() {
    let (mut rig, lamp, up, _) = watched(true);
    rig.tap(s(1), up);
    rig.power(s(2), false);
    rig.stick(s(3), lamp, Some(false));
    assert_eq!(rig.bench.running(), []);
    rig.power(s(4), true);
    rig.end(s(64));
    assert!(rig.has_said(lamp, Note::Fault(Fault::StuckRelay)));
}

#[test]
fn a_welded_contact_glows_only_while_there_is_power() {
    let (mut rig, lamp, up, down) = watched(false);
    rig.tap(s(1), up);
    rig.stick(s(2), lamp, Some(true));
    rig.tap(s(10), down);
    rig.power(s(11), false);
    let view = rig.view(s(11), lamp);
    assert_eq!((view.closed, view.light), (true, Level::OFF));
    rig.power(s(12), true);
    rig.tap(s(13), up);
    assert_eq!(rig.light(s(20), lamp), 10_000);
}

#[test]
fn a_captive_contact_ignores_the_wish_that_waited() {
    let mut plan = Plan::default();
    let air = plan.output(Drive::Contact);
    plan.spec(air).minimum_on = Span::ZERO;
    plan.spec(air).minimum_off = Span::from_minutes(3);
    let card = plan.source(HeardKind::Card { captive: true });
    plan.link(card, air, Role::Card(Level::FULL));
    let mut rig = plan.rig();
    rig.frame(0, card, crate::Payload::CardIn);
    rig.frame(min(1), card, crate::Payload::CardOut);
    rig.frame(min(2), card, crate::Payload::CardIn);
    assert!(rig.has_said(air, Note::Waits(true)));
    rig.frame(min(3), card, crate::Payload::CardOut);
    rig.is(min(10), air, State::Off, 0);
    assert!(!rig.has_said(air, Note::Ignored(Ignored::Captive)));
}
