//! The closed daylight loop in a linear room: sensor and task = a × daylight + b × electric.
//!
//! The room is that of the worked example of proportional control: full electric light is 50 lx
//! at the sensor and 500 lx at the task; of the daylight outside a tenth reaches the task, and
//! 0.024 the sensor, so 60 lx at the sensor are 250 lx at the task. The laws compared with are
//! those of Rubinstein, Ward and Verderber (LBL-24872, 1989; known by its abstract).

use alloc::vec::Vec;

use super::rig::{Plan, Rig, h, min, percent, s};
use crate::controller::{Calibration, Drive, HeardKind, Loop, LoopKind, Output, Role};
use crate::{Illuminance, Payload, Span, daylight};

/// The set-point, in hundredths of a lux.
const SET_POINT: u32 = 50_000;

/// A zone under a daylight sensor that samples each second and reports by its own rules.
struct Room {
    rig: Rig,
    lamp: u8,
    photo: u8,
    settings: daylight::Settings,
    reported: Option<u32>,
    age: u64,
    /// How far the sensor's frames are behind, in ms.
    delay: u64,
}

/// A second in the room: the limit of the moment and the light at the task in hundredths.
#[derive(Clone, Copy)]
struct Second {
    at: u64,
    limit: u16,
    task: u32,
}

impl Room {
    fn new(set: impl FnOnce(&mut Output)) -> Self {
        let mut plan = Plan::default();
        let lamp = plan.output(Drive::ZeroToTen);
        plan.spec(lamp).press_hold = Span::ZERO;
        set(plan.spec(lamp));
        let photo = plan.source(HeardKind::Daylight);
        let constants = Loop {
            kind: LoopKind::Closed,
            calibration: Some(Calibration {
                night_sensor: Illuminance::from_lux(50),
                night_task: Illuminance::from_lux(500),
                day_sensor: Illuminance::from_lux(60),
                day_task: Illuminance::from_lux(250),
            }),
            ..Loop::default()
        };
        plan.link(photo, lamp, Role::Limit(constants));
        let (up, _) = plan.pair(&[lamp]);
        let mut rig = plan.rig();
        rig.tap(500, up);
        Self {
            rig,
            lamp,
            photo,
            settings: daylight::Settings::default(),
            reported: None,
            age: 0,
            delay: 10,
        }
    }

    /// Runs through `seconds` with this daylight outside, in hundredths of a lux.
    fn run(&mut self, from: u64, seconds: u64, outside: impl Fn(u64) -> u32) -> Vec<Second> {
        let mut seen = Vec::new();
        for second in 0..seconds {
            let at = from + s(second);
            let view = self.rig.view(at, self.lamp);
            let light = u32::from(view.light.hundredths());
            let daylight = outside(second);
            let sensor = daylight * 24 / 1_000 + light / 2;
            let task = daylight / 10 + light * 5;
            seen.push(Second {
                at,
                limit: view.target.hundredths(),
                task,
            });
            self.sample(at, sensor);
        }
        seen
    }

    /// Reports what has moved by more than 5 % and at least 5 lx, and each 30 s all the same.
    fn sample(&mut self, at: u64, sensor: u32) {
        self.age += 1;
        let moved = self.reported.is_none_or(|last| {
            let change = last.abs_diff(sensor);
            change >= self.settings.change_least.hundredths()
                && change * 100 > last * u32::from(self.settings.change_percent)
        });
        if moved || self.age >= 30 {
            self.reported = Some(sensor);
            self.age = 0;
            let seen = Payload::Illuminance(Illuminance::from_hundredths(sensor));
            self.rig.frame(at + self.delay, self.photo, seen);
        }
    }
}

/// How often the light turned round: from rising to falling or back.
fn turns(seconds: &[Second]) -> usize {
    let mut turns = 0;
    let mut rising = None;
    for pair in seconds.windows(2) {
        if pair[0].limit != pair[1].limit {
            let up = pair[1].limit > pair[0].limit;
            turns += usize::from(rising.is_some_and(|rising: bool| rising != up));
            rising = Some(up);
        }
    }
    turns
}

#[track_caller]
fn assert_near_set_point(seconds: &[Second], band: u32) {
    for second in seconds {
        assert!(
            second.task.abs_diff(SET_POINT) <= band,
            "{} lx at {} ms",
            second.task / 100,
            second.at
        );
    }
}

#[test]
fn day_3_the_task_settles_at_the_set_point_of_the_closed_law_for_every_daylight() {
    // E_D at the task → light; the table of the worked example: 0, 125, 250, 375, 625 lx.
    for (outside, light, task) in [
        (0, 100, 500),
        (125_000, 75, 500),
        (250_000, 50, 500),
        (375_000, 25, 500),
        (625_000, 10, 675),
    ] {
        let mut room = Room::new(|_| {});
        let seconds = room.run(s(1), 300, |_| outside);
        let last = seconds.last().unwrap();
        // A frame that is 10 ms behind a lamp that fades on may be off by 1 %, at 10 ms of 1 s.
        assert!(last.limit.abs_diff(percent(light).hundredths()) <= 100);
        assert!(last.task.abs_diff(task * 100) <= 500);
    }
}

#[test]
fn day_3_a_step_of_daylight_is_met_without_overshoot() {
    let mut room = Room::new(|_| {});
    room.run(s(1), 60, |_| 0);
    let seconds = room.run(s(61), 120, |_| 250_000);
    assert_eq!(turns(&seconds), 0);
    assert!(seconds.iter().all(|second| second.task >= SET_POINT));
    // 50 points at 30 s for the full range.
    assert!(seconds[18..].iter().all(|second| second.limit == 5_000));
}

#[test]
fn day_6_over_a_day_the_task_stays_within_the_dead_band_and_nothing_hunts() {
    // A ramp from night to 500 lx at the task in three hours, and back.
    let mut room = Room::new(|spec| spec.low_trim = percent(1));
    let day = |second: u64| {
        let risen = if second < 10_800 {
            second
        } else {
            21_600 - second
        };
        u32::try_from(500_000 * risen / 10_800).unwrap()
    };
    room.run(s(1), 60, |_| 0);
    let seconds = room.run(s(61), 21_600, day);
    // The dead band is 10 % of 500 lx; the sensor's own 5 % and 5 lx come on top: 21 lx at most
    // at the task for 5 lx at the sensor.
    assert_near_set_point(&seconds, 5_000 + 2_100);
    assert_eq!(turns(&seconds), 1, "up once, down once");
    let moves = seconds
        .windows(2)
        .filter(|pair| pair[0].limit == pair[1].limit)
        .count();
    assert!(moves > 20_000, "the limit stands nearly always");
}

#[test]
fn day_6_clouds_do_not_make_it_hunt() {
    // A square wave of 30 s between shade and 250 lx at the task, for an hour.
    let mut room = Room::new(|_| {});
    let clouds = |second: u64| {
        if (second / 15).is_multiple_of(2) {
            250_000
        } else {
            0
        }
    };
    room.run(s(1), 60, |_| 0);
    let seconds = room.run(s(61), 3_600, clouds);
    // One turn for each edge of a cloud, and none of its own.
    let edges = 3_600 / 15 - 1;
    assert!(turns(&seconds) <= edges, "{} turns", turns(&seconds));
    // It never goes lower than 15 s of the slow way down from full.
    let lowest = seconds.iter().map(|second| second.limit).min().unwrap();
    assert!(lowest >= 5_000);
    // The task is never far under the set-point: what the way down took at most.
    assert!(seconds.iter().all(|second| second.task >= 24_000));
}

#[test]
fn day_6_small_clouds_inside_the_dead_band_move_nothing() {
    let mut room = Room::new(|_| {});
    let clouds = |second: u64| {
        if (second / 15).is_multiple_of(2) {
            250_000
        } else {
            210_000
        }
    };
    room.run(s(1), 120, |_| 250_000);
    let seconds = room.run(s(121), 3_600, clouds);
    assert_eq!(turns(&seconds), 0);
    assert_near_set_point(&seconds, 5_000);
}

#[test]
fn day_6_a_frame_that_is_late_by_a_second_does_not_make_the_loop_hunt() {
    // Bounds of sampled integral control: with the loop's own light taken off what is seen there
    // is no integral gain at all, so a delay cannot make it swing.
    let mut room = Room::new(|_| {});
    room.delay = 900;
    room.run(s(1), 60, |_| 0);
    let seconds = room.run(s(61), 600, |_| 250_000);
    assert!(turns(&seconds) <= 1);
    assert_near_set_point(&seconds[60..], 5_000);
}

#[test]
fn day_3_turned_on_by_day_the_zone_starts_at_its_limit() {
    let mut room = Room::new(|_| {});
    let (up, down) = (0, 1);
    let unit = room.rig.settings.buttons[0].heard;
    room.rig.frame(s(1), unit, Payload::Down(down));
    room.rig.frame(s(1) + 100, unit, Payload::Up(down));
    room.run(s(2), 120, |_| 250_000);
    room.rig.frame(s(122), unit, Payload::Down(up));
    room.rig.frame(s(122) + 100, unit, Payload::Up(up));
    let view = room.rig.view(s(122) + 100, room.lamp);
    assert!(view.target.hundredths().abs_diff(5_000) <= 100);
    let seconds = room.run(s(125), 60, |_| 250_000);
    assert_near_set_point(&seconds, 5_000);
}

#[test]
fn day_7_at_noon_a_bright_zone_is_dark_and_comes_back_in_the_evening() {
    let mut room = Room::new(|_| {});
    room.rig.change(600, |settings| {
        let Role::Limit(constants) = &mut settings.links[0].role else {
            panic!("the first link is the limit");
        };
        constants.dark_after = Some(Span::from_minutes(15));
    });
    let noon = room.run(s(1), 3_600, |_| 700_000);
    assert_eq!(noon.last().unwrap().limit, 0);
    let evening = room.run(h(1) + min(1), 3_600, |second| {
        700_000 - u32::try_from(second * 700_000 / 3_600).unwrap()
    });
    let back = evening.iter().find(|second| second.limit > 0).unwrap();
    // It comes back when more than 12 % are needed: at 440 lx of daylight or a little less.
    let needed = 500 - 44 - 60;
    assert!(back.task >= needed * 100, "back at {} lx", back.task / 100);
    assert_eq!(turns(&evening), 0);
    assert!(evening.last().unwrap().limit >= 9_000);
}
