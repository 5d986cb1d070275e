//! CLK-2, CLK-3, CLK-4: sweeps, overrides and the roles of the hour.

use super::rig::{Plan, Press, Rig, h, min, percent, s};
use crate::controller::{HeardKind, Output, Role, State, Warning};
use crate::{Fault, Ignored, Level, Note, Payload, Span};

const SWEEP: Role = Role::Sweep {
    warning: Span::from_minutes(5),
    longest_override: Span::from_hours(2),
};

/// A hall with a sensor, a pair and a clock that sweeps it.
struct Hall {
    rig: Rig,
    lamp: u8,
    sensor: u8,
    clock: u8,
    up: Press,
    down: Press,
}

fn hall() -> Hall {
    hall_with(SWEEP, |_| {})
}

fn hall_with(role: Role, set: impl FnOnce(&mut Output)) -> Hall {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    set(plan.spec(lamp));
    let sensor = plan.sensor();
    plan.link(sensor, lamp, Role::AutoOn(Level::FULL));
    let clock = plan.source(HeardKind::Clock);
    plan.link(clock, lamp, role);
    let (up, down) = plan.pair(&[lamp]);
    Hall {
        rig: plan.rig(),
        lamp,
        sensor,
        clock,
        up,
        down,
    }
}

/// A hall without a sensor.
fn bare_hall(set: impl FnOnce(&mut Output)) -> Hall {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    set(plan.spec(lamp));
    let clock = plan.source(HeardKind::Clock);
    plan.link(clock, lamp, SWEEP);
    let (up, down) = plan.pair(&[lamp]);
    Hall {
        rig: plan.rig(),
        lamp,
        sensor: u8::MAX,
        clock,
        up,
        down,
    }
}

impl Hall {
    fn clock(&mut self, at: u64, payload: Payload) {
        self.rig.frame(at, self.clock, payload);
    }

    #[track_caller]
    fn is(&mut self, at: u64, state: State, target: u16) {
        self.rig.is(at, self.lamp, state, target);
    }
}

#[test]
fn clk_2_a_sweep_warns_for_5_min_and_turns_off() {
    let mut hall = bare_hall(|_| {});
    hall.rig.tap(s(1), hall.up);
    hall.clock(h(1), Payload::Sweep);
    hall.is(h(1), State::Warning, 50);
    hall.is(h(1) + min(5) - 1, State::Warning, 50);
    hall.is(h(1) + min(5), State::Off, 0);
}

#[test]
fn clk_2_a_sweep_warns_by_the_means_of_the_output() {
    for (warning, first) in [
        (
            Warning::Dim {
                span: Span::from_seconds(10),
                level: percent(30),
            },
            30,
        ),
        (
            Warning::Blink {
                span: Span::from_seconds(10),
            },
            0,
        ),
    ] {
        let mut hall = bare_hall(|spec| spec.warning = Some(warning));
        hall.rig.tap(s(1), hall.up);
        hall.clock(h(1), Payload::Sweep);
        hall.is(h(1), State::Warning, first);
        hall.is(
            h(1) + min(5) - 1,
            State::Warning,
            first.max(if first == 0 { 100 } else { 30 }),
        );
        hall.is(h(1) + min(5), State::Off, 0);
    }
}

#[test]
fn clk_2_without_a_warning_the_sweep_is_at_once() {
    let role = Role::Sweep {
        warning: Span::ZERO,
        longest_override: Span::from_hours(2),
    };
    let mut hall = hall_with(role, |spec| spec.press_hold = Span::ZERO);
    hall.rig.tap(s(1), hall.up);
    hall.clock(h(1), Payload::Sweep);
    hall.is(h(1), State::Off, 0);
}

#[test]
fn clk_2_an_occupied_output_is_passed_over_and_goes_off_when_it_becomes_vacant() {
    let mut hall = hall();
    hall.rig.occupied(0, hall.sensor);
    hall.clock(h(1), Payload::Sweep);
    hall.is(h(1), State::On, 100);
    assert!(hall.rig.has_said(hall.lamp, Note::PassedOver));
    hall.rig.vacant(h(2), hall.sensor);
    hall.is(h(2), State::Warning, 50);
    hall.is(h(2) + min(5), State::Off, 0);
}

#[test]
fn clk_2_a_press_from_the_warning_on_gives_an_override_from_the_last_press() {
    let mut hall = bare_hall(|_| {});
    hall.rig.tap(s(1), hall.up);
    hall.clock(h(1), Payload::Sweep);
    hall.rig.tap(h(1) + min(1), hall.up);
    hall.is(h(1) + min(1), State::On, 100);
    assert!(
        hall.rig
            .has_said(hall.lamp, Note::Override(Span::from_hours(2)))
    );
    hall.rig.tap(h(2), hall.up);
    hall.is(h(4) - 1, State::On, 100);
    // Its end warns again.
    hall.is(h(4), State::Warning, 50);
    hall.is(h(4) + min(5), State::Off, 0);
}

#[test]
fn clk_2_a_press_hold_as_long_as_the_override_ends_with_it_and_still_warns() {
    let mut hall = bare_hall(|spec| spec.press_hold = Span::from_hours(2));
    hall.clock(h(1), Payload::Sweep);
    hall.rig.tap(h(2), hall.up);
    hall.is(h(4), State::Warning, 50);
    hall.is(h(4) + min(5), State::Off, 0);
}

#[test]
fn clk_2_a_press_after_the_sweep_gives_an_override_too() {
    let mut hall = bare_hall(|_| {});
    hall.clock(h(1), Payload::Sweep);
    hall.rig.tap(h(3), hall.up);
    hall.is(h(5) - 1, State::On, 100);
    hall.is(h(5), State::Warning, 50);
    hall.is(h(5) + min(5), State::Off, 0);
}

#[test]
fn clk_2_before_the_sweep_a_press_gives_no_override() {
    let mut hall = bare_hall(|_| {});
    hall.rig.tap(s(1), hall.up);
    assert!(
        !hall
            .rig
            .has_said(hall.lamp, Note::Override(Span::from_hours(2)))
    );
    hall.is(h(20), State::On, 100);
}

#[test]
fn clk_2_vacancy_turns_off_earlier_than_the_override() {
    let mut hall = hall();
    hall.rig.occupied(0, hall.sensor);
    hall.clock(h(1), Payload::Sweep);
    hall.rig.tap(h(1) + min(1), hall.up);
    hall.rig.vacant(h(1) + min(30), hall.sensor);
    hall.is(h(1) + min(30), State::Off, 0);
    assert_eq!(hall.rig.bench.running(), []);
}

#[test]
fn clk_2_an_override_that_ends_over_people_waits_for_them() {
    let mut hall = hall();
    hall.rig.occupied(0, hall.sensor);
    hall.clock(h(1), Payload::Sweep);
    hall.rig.tap(h(1) + min(1), hall.up);
    hall.rig.said(hall.lamp);
    hall.is(h(3) + min(1), State::On, 100);
    assert!(hall.rig.has_said(hall.lamp, Note::PassedOver));
    hall.rig.vacant(h(4), hall.sensor);
    hall.is(h(4), State::Warning, 50);
}

#[test]
fn clk_2_an_off_by_hand_in_the_warning_is_an_off_and_no_override() {
    let mut hall = bare_hall(|_| {});
    hall.rig.tap(s(1), hall.up);
    hall.clock(h(1), Payload::Sweep);
    hall.rig.tap(h(1) + s(1), hall.down);
    hall.is(h(1) + s(1), State::Off, 0);
    assert!(
        !hall
            .rig
            .has_said(hall.lamp, Note::Override(Span::from_hours(2)))
    );
}

#[test]
fn clk_2_somebody_who_comes_in_during_the_warning_keeps_the_light_until_gone() {
    let mut hall = hall_with(SWEEP, |spec| spec.press_hold = Span::ZERO);
    hall.rig.tap(s(1), hall.up);
    hall.clock(h(1), Payload::Sweep);
    hall.rig.occupied(h(1) + min(1), hall.sensor);
    hall.is(h(1) + min(10), State::On, 100);
    hall.rig.vacant(h(2), hall.sensor);
    // The sweep is still due: it warns by its own span.
    hall.is(h(2) + min(5) - 1, State::Warning, 50);
    hall.is(h(2) + min(5), State::Off, 0);
}

#[test]
fn clk_2_without_an_override_a_press_leaves_the_sweep_due() {
    let role = Role::Sweep {
        warning: Span::from_minutes(5),
        longest_override: Span::ZERO,
    };
    let mut hall = hall_with(role, |_| {});
    hall.rig.tap(s(1), hall.up);
    hall.clock(h(1), Payload::Sweep);
    hall.is(h(1), State::Off, 0);
    hall.rig.tap(h(2), hall.up);
    hall.clock(h(2) + s(1), Payload::Sweep);
    hall.rig.tap(h(2) + s(2), hall.up);
    hall.is(h(2) + s(2) + min(15), State::Warning, 50);
    hall.is(h(2) + s(2) + min(20), State::Off, 0);
}

#[test]
fn clk_2_a_sweep_in_the_warning_of_vacancy_adds_nothing() {
    let mut hall = hall_with(SWEEP, |spec| {
        spec.warning = Some(Warning::Dim {
            span: Span::from_seconds(60),
            level: percent(50),
        });
    });
    hall.rig.occupied(0, hall.sensor);
    hall.rig.vacant(h(1), hall.sensor);
    hall.clock(h(1) + s(30), Payload::Sweep);
    hall.is(h(1) + s(60), State::Off, 0);
}

#[test]
fn clk_2_the_sweep_warns_the_whole_relay() {
    let mut plan = Plan::default();
    let lamps = [plan.lamp(), plan.lamp()];
    for lamp in lamps {
        plan.spec(lamp).relay = Some(0);
    }
    let clock = plan.source(HeardKind::Clock);
    plan.link(clock, lamps[0], SWEEP);
    let (up, _) = plan.pair(&lamps);
    let mut rig = plan.rig();
    rig.tap(s(1), up);
    rig.frame(h(1), clock, Payload::Sweep);
    rig.are(h(1), &lamps, &[50, 50]);
    rig.are(h(1) + min(5), &lamps, &[0, 0]);
}

#[test]
fn out_9_a_hold_in_the_warning_of_a_relay_restores_all_of_it_and_moves_none() {
    let mut plan = Plan::default();
    let lamps = [plan.lamp(), plan.lamp()];
    for lamp in lamps {
        plan.spec(lamp).relay = Some(0);
    }
    let clock = plan.source(HeardKind::Clock);
    plan.link(clock, lamps[0], SWEEP);
    let (up, down) = plan.pair(&lamps);
    let mut rig = plan.rig();
    rig.tap(s(1), up);
    rig.frame(h(1), clock, Payload::Sweep);
    rig.are(h(1), &lamps, &[50, 50]);
    rig.down(h(1) + s(10), down);
    rig.are(h(1) + s(12), &lamps, &[100, 100]);
    // The one that came back with its neighbour says so once.
    let mut said = rig.said(lamps[1]);
    said.retain(|note| matches!(note, Note::Restored(_)));
    assert_eq!(said, [Note::Restored(Level::FULL)]);
    rig.up(h(1) + s(14), down);
    rig.are(h(1) + s(14), &lamps, &[100, 100]);
}

#[test]
fn clk_2_opening_ends_the_sweep_and_its_override() {
    let mut hall = bare_hall(|_| {});
    hall.clock(h(1), Payload::AfterHours);
    hall.clock(h(2), Payload::Sweep);
    hall.rig.tap(h(9), hall.up);
    hall.clock(h(10), Payload::InHours);
    hall.is(h(20), State::On, 100);
    hall.rig.tap(h(20) + s(1), hall.up);
    hall.is(h(30), State::On, 100);
}

#[test]
fn clk_2_a_clock_that_repeats_in_hours_does_not_end_a_sweep() {
    let mut hall = hall();
    hall.rig.occupied(0, hall.sensor);
    hall.clock(h(1), Payload::Sweep);
    hall.clock(h(1) + min(4), Payload::InHours);
    hall.rig.vacant(h(2), hall.sensor);
    hall.is(h(2), State::Warning, 50);
}

#[test]
fn clk_2_a_passed_over_sweep_ends_with_the_night() {
    let mut hall = hall();
    hall.rig.occupied(0, hall.sensor);
    hall.clock(min(1), Payload::AfterHours);
    hall.clock(h(1), Payload::Sweep);
    hall.clock(h(10), Payload::InHours);
    hall.rig.vacant(h(11), hall.sensor);
    hall.is(h(11), State::Off, 0);
}

#[test]
fn clk_3_on_at_opening_once_and_not_from_repeated_reports() {
    let mut hall = hall_with(Role::Opening(percent(60)), |_| {});
    hall.clock(min(1), Payload::InHours);
    hall.is(min(1), State::Off, 0);
    hall.clock(h(1), Payload::AfterHours);
    hall.clock(h(2), Payload::InHours);
    hall.is(h(2), State::On, 60);
    hall.rig.tap(h(2) + s(1), hall.down);
    hall.clock(h(2) + min(4), Payload::InHours);
    hall.is(h(2) + min(4), State::Off, 0);
}

#[test]
fn clk_3_opening_in_the_warning_keeps_the_light_and_no_sweep_is_due() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    plan.spec(lamp).press_hold = Span::ZERO;
    let sensor = plan.sensor();
    plan.link(sensor, lamp, Role::AutoOn(Level::FULL));
    let clock = plan.source(HeardKind::Clock);
    plan.link(clock, lamp, SWEEP);
    plan.link(clock, lamp, Role::Opening(percent(60)));
    let (up, down) = plan.pair(&[lamp]);
    let mut hall = Hall {
        rig: plan.rig(),
        lamp,
        sensor,
        clock,
        up,
        down,
    };
    hall.clock(min(1), Payload::AfterHours);
    hall.rig.tap(min(2), hall.up);
    hall.clock(h(1), Payload::Sweep);
    hall.is(h(1), State::Warning, 50);
    hall.clock(h(1) + min(3), Payload::InHours);
    hall.is(h(1) + min(3), State::On, 100);
    hall.is(h(1) + min(6), State::On, 100);
    hall.rig.occupied(h(2), hall.sensor);
    hall.rig.vacant(h(3), hall.sensor);
    hall.is(h(3), State::Off, 0);
}

#[test]
fn clk_3_opening_leaves_what_is_lit_or_latched() {
    let mut hall = hall_with(Role::Opening(percent(60)), |_| {});
    hall.clock(h(1), Payload::AfterHours);
    hall.rig.occupied(h(2), hall.sensor);
    hall.clock(h(3), Payload::InHours);
    hall.is(h(3), State::On, 100);
    assert!(
        hall.rig
            .has_said(hall.lamp, Note::Ignored(Ignored::NoChange))
    );
    hall.clock(h(4), Payload::AfterHours);
    hall.rig.tap(h(5), hall.down);
    hall.clock(h(6), Payload::InHours);
    hall.is(h(6), State::Off, 0);
    assert!(hall.rig.has_said(hall.lamp, Note::Ignored(Ignored::Latch)));
}

#[test]
fn clk_3_no_auto_on_after_hours_but_grace_and_press_work() {
    let mut hall = hall_with(Role::NoAutoOn, |spec| spec.grace = Span::from_seconds(20));
    hall.clock(h(1), Payload::AfterHours);
    hall.rig.occupied(h(2), hall.sensor);
    hall.is(h(2), State::Off, 0);
    assert!(
        hall.rig
            .has_said(hall.lamp, Note::Ignored(Ignored::AfterHours))
    );
    hall.rig.tap(h(2) + s(1), hall.up);
    hall.is(h(2) + s(1), State::On, 100);
    hall.rig.vacant(h(3), hall.sensor);
    hall.is(h(3), State::Off, 0);
    hall.rig.occupied(h(3) + s(20), hall.sensor);
    hall.is(h(3) + s(20), State::On, 100);
    hall.rig.vacant(h(4), hall.sensor);
    hall.clock(h(5), Payload::InHours);
    hall.rig.occupied(h(6), hall.sensor);
    hall.is(h(6), State::On, 100);
}

/// A corridor with a setback that goes off 10 min after it, after hours only.
fn corridor(own: Option<u64>) -> Hall {
    let mut hall = hall_with(Role::OffAfterHours(Span::from_minutes(10)), |spec| {
        spec.off_after = own.map(Span::from_minutes);
    });
    hall.rig
        .change(0, |settings| settings.links[0].setback = Some(percent(20)));
    hall
}

#[test]
fn clk_3_off_after_counts_after_hours_only() {
    let mut hall = corridor(None);
    hall.rig.occupied(0, hall.sensor);
    hall.rig.vacant(min(10), hall.sensor);
    hall.is(h(1), State::Setback, 20);
    hall.clock(h(1), Payload::AfterHours);
    // A repeated report does not start the count again.
    hall.clock(h(1) + min(4), Payload::AfterHours);
    hall.is(h(1) + min(10) - 1, State::Setback, 20);
    hall.is(h(1) + min(10), State::Off, 0);
    hall.rig.occupied(h(2), hall.sensor);
    hall.rig.vacant(h(3), hall.sensor);
    hall.is(h(3) + min(10), State::Off, 0);
}

#[test]
fn clk_3_off_after_ends_at_opening_or_goes_on_with_the_span_of_the_output() {
    let mut hall = corridor(None);
    hall.clock(min(1), Payload::AfterHours);
    hall.rig.occupied(min(2), hall.sensor);
    hall.rig.vacant(h(1), hall.sensor);
    hall.clock(h(1) + min(5), Payload::InHours);
    hall.is(h(9), State::Setback, 20);

    let mut hall = corridor(Some(30));
    hall.clock(min(1), Payload::AfterHours);
    hall.rig.occupied(min(2), hall.sensor);
    hall.rig.vacant(h(1), hall.sensor);
    hall.clock(h(1) + min(5), Payload::InHours);
    hall.is(h(1) + min(35) - 1, State::Setback, 20);
    hall.is(h(1) + min(35), State::Off, 0);
}

#[test]
fn clk_3_an_occupied_corridor_at_closing_counts_from_its_vacancy() {
    let mut hall = corridor(None);
    let floor = hall.sensor;
    hall.rig.occupied(0, floor);
    hall.rig.vacant(min(1), floor);
    hall.rig.down(min(2), hall.up);
    hall.clock(min(2) + 100, Payload::AfterHours);
    hall.rig.up(min(2) + 200, hall.up);
    hall.is(min(17), State::On, 100);
    hall.is(min(17) + 200, State::Setback, 20);
    hall.is(min(27) + 199, State::Setback, 20);
    hall.is(min(27) + 200, State::Off, 0);
}

#[test]
fn clk_3_what_was_swept_off_relights_on_a_new_becoming_occupied_only() {
    let mut hall = hall_with(SWEEP, |spec| {
        spec.press_hold = Span::ZERO;
        spec.grace = Span::from_seconds(30);
    });
    hall.rig.tap(s(1), hall.up);
    hall.clock(h(1), Payload::Sweep);
    hall.is(h(1) + min(5), State::Off, 0);
    hall.rig.vacant(h(1) + min(5) + s(1), hall.sensor);
    hall.is(h(1) + min(5) + s(1), State::Off, 0);
    hall.rig.occupied(h(2), hall.sensor);
    hall.is(h(2), State::On, 100);
}

#[test]
fn out_19_a_sweep_gives_no_grace() {
    let mut hall = hall_with(SWEEP, |spec| {
        spec.press_hold = Span::ZERO;
        spec.grace = Span::from_seconds(30);
    });
    hall.rig
        .change(0, |settings| settings.links[0].role = Role::ManualOn);
    hall.rig.tap(s(1), hall.up);
    hall.clock(h(1), Payload::Sweep);
    hall.rig.occupied(h(1) + min(5) + s(1), hall.sensor);
    hall.is(h(1) + min(5) + s(1), State::Off, 0);
}

#[test]
fn clk_4_a_clock_that_lost_the_time_counts_as_in_hours_and_opens_nothing() {
    let mut hall = hall_with(Role::NoAutoOn, |_| {});
    hall.clock(h(1), Payload::AfterHours);
    hall.clock(h(2), Payload::TimeLost);
    hall.clock(h(2) + min(4), Payload::TimeLost);
    assert_eq!(hall.rig.notes(), [Note::Fault(Fault::TimeLost)]);
    hall.rig.occupied(h(3), hall.sensor);
    hall.is(h(3), State::On, 100);
    hall.clock(h(4), Payload::AfterHours);
    assert_eq!(hall.rig.notes(), [Note::FaultEnded(Fault::TimeLost)]);

    let mut hall = hall_with(Role::Opening(Level::FULL), |_| {});
    hall.clock(h(1), Payload::AfterHours);
    hall.clock(h(2), Payload::TimeLost);
    hall.clock(h(3), Payload::InHours);
    hall.is(h(3), State::Off, 0);
    let ended = [
        Note::Fault(Fault::TimeLost),
        Note::FaultEnded(Fault::TimeLost),
    ];
    assert_eq!(hall.rig.notes(), ended);
}

#[test]
fn clk_4_a_clock_that_lost_the_time_or_is_lost_ends_the_sweep_it_cannot_time() {
    let mut hall = hall();
    hall.clock(min(1), Payload::AfterHours);
    hall.rig.occupied(min(2), hall.sensor);
    hall.clock(h(1), Payload::Sweep);
    hall.clock(h(2), Payload::TimeLost);
    hall.rig.vacant(h(3), hall.sensor);
    hall.is(h(3), State::Off, 0);
}

#[test]
fn clk_4_a_clock_not_heard_for_too_long_counts_as_in_hours() {
    let mut plan = Plan::default();
    let lamp = plan.lamp();
    let sensor = plan.sensor();
    plan.link(sensor, lamp, Role::AutoOn(Level::FULL));
    let clock = plan.reporting(HeardKind::Clock, min(13));
    plan.link(clock, lamp, Role::NoAutoOn);
    let mut rig = plan.rig();
    rig.frame(0, clock, Payload::AfterHours);
    rig.occupied(min(13) - 1, sensor);
    rig.is(min(13) - 1, lamp, State::Off, 0);
    rig.vacant(min(14), sensor);
    rig.occupied(min(15), sensor);
    rig.is(min(15), lamp, State::On, 100);
}
