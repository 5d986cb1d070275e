//! Scripts for the occupancy sensor, one for each behaviour row, and its invariants under
//! random stimuli.

use alloc::vec;
use alloc::vec::Vec;

use proptest::prelude::*;

use super::*;
use crate::testing::{Bench, Heard, at};

/// A row of a script.
#[derive(Clone, Debug)]
enum Do {
    /// Motion in the dark.
    Motion,
    /// Motion in this ambient light, in lx.
    MotionIn(u32),
    Power(bool),
    Set(Settings),
    Sound,
    Start,
    TeachIn,
    WalkTest(bool),
}

/// A sensor on the bench with what is set on it.
struct Played {
    bench: Bench<Timer>,
    sensor: Sensor,
    settings: Settings,
    /// Whether the report interval was started with the run.
    started: bool,
}

impl Played {
    fn new(settings: Settings) -> Self {
        Self {
            bench: Bench::new(),
            sensor: Sensor::new(&settings),
            settings,
            started: false,
        }
    }

    fn play(&mut self, rows: &[(u64, Do)], until: u64) {
        let Self {
            bench,
            sensor,
            settings,
            started,
        } = self;
        bench.play(rows, until, |bench, heard| {
            match heard {
                Heard::Row(Do::Motion) => {
                    sensor.handle_motion(settings, Illuminance::default(), bench);
                }
                Heard::Row(Do::MotionIn(lux)) => {
                    sensor.handle_motion(settings, Illuminance::from_lux(*lux), bench);
                }
                Heard::Row(Do::Power(on)) => sensor.handle_power(settings, *on, bench),
                Heard::Row(Do::Set(new)) => {
                    sensor.handle_settings(settings, new, bench);
                    *settings = new.clone();
                }
                Heard::Row(Do::Sound) => sensor.handle_sound(settings, bench),
                Heard::Row(Do::Start) => {
                    sensor.handle_start(settings, bench);
                    *started = true;
                }
                Heard::Row(Do::TeachIn) => sensor.handle_teach_in(bench),
                Heard::Row(Do::WalkTest(on)) => sensor.handle_walk_test(settings, *on, bench),
                Heard::Elapsed(timer) => sensor.handle_elapsed(settings, timer, bench),
            }
            assert_each_timer_is_needed(sensor, bench);
            let reports = senses(sensor) && settings.report.is_some_and(|span| !span.is_zero());
            assert!(!bench.runs(Timer::Report) || reports);
            assert!(!*started || bench.runs(Timer::Report) == reports);
        });
    }
}

/// Plays a script with one sensor and compares every frame.
#[track_caller]
fn check(settings: Settings, rows: &[(u64, Do)], until: u64, sent: &[(u64, Payload)]) -> Played {
    let mut played = Played::new(settings);
    played.play(rows, until);
    assert_eq!(played.bench.take_sent(), sent);
    played
}

/// The invariants: what runs is what the state needs, neither more nor less.
fn assert_each_timer_is_needed(sensor: &Sensor, bench: &Bench<Timer>) {
    let state = sensor.state();
    let holds = matches!(state, State::Occupied | State::Unknown);
    let vacant = state == State::Vacant;
    assert_eq!(bench.runs(Timer::DeadTime), sensor.blind != Blind::Nothing);
    assert_eq!(bench.runs(Timer::Delay), holds);
    assert_eq!(bench.runs(Timer::Grace), vacant && sensor.window_open);
    assert_eq!(bench.runs(Timer::Repeat), sensor.fresh);
    assert_eq!(bench.runs(Timer::WalkTest), sensor.walk_test);
    assert_eq!(bench.runs(Timer::WarmUp), state == State::WarmingUp);
    assert_eq!(bench.runs(Timer::Window), sensor.window_open);
    assert!(!sensor.fresh || state == State::Occupied);
    assert!(!sensor.bright || state == State::Occupied || sensor.window_open);
    assert!(state != State::Off || bench.running().is_empty());
}

fn senses(sensor: &Sensor) -> bool {
    !matches!(sensor.state(), State::Off | State::WarmingUp)
}

const OCCUPIED: Payload = Payload::Occupied { bright: false };
const BRIGHT: Payload = Payload::Occupied { bright: true };
const VACANT: Payload = Payload::Vacant;
const UNKNOWN: Payload = Payload::Unknown;

/// Dual technology with the trade's spans and nothing that reports by itself.
fn bare() -> Settings {
    Settings {
        sound: true,
        report: None,
        repeat: None,
        dead_time: Span::ZERO,
        ..Settings::default()
    }
}

/// Rows of `what` each `step` ms, at both ends too when the step fits.
fn every(from: u64, to: u64, step: u64, what: Do) -> Vec<(u64, Do)> {
    (from..=to)
        .step_by(usize::try_from(step).unwrap())
        .map(|at| (at, what.clone()))
        .collect()
}

/// The rows of several scripts in the order of their instants.
fn merged(scripts: Vec<Vec<(u64, Do)>>) -> Vec<(u64, Do)> {
    let mut rows = scripts.concat();
    rows.sort_by_key(|(at, _)| *at);
    rows
}

fn ignored(played: &mut Played) -> Vec<(u64, Ignored)> {
    let notes = played.bench.take_notes();
    let ignored = notes.into_iter().filter_map(|(at, note)| match note {
        Note::Ignored(why) => Some((at, why)),
        _ => None,
    });
    ignored.collect()
}

/// The first check value of the two-stage hold (common practice: an hour and a quarter).
#[test]
fn occ_4_5_6_7_noise_without_end_holds_for_an_hour_and_a_quarter_to_the_millisecond() {
    let end = [(0, OCCUPIED), (at(1, 15, 0), VACANT)];
    let noise = merged(vec![
        vec![(0, Do::Motion)],
        every(1_000, at(2, 0, 0), 1_000, Do::Sound),
    ]);
    let mut played = check(bare(), &noise, at(2, 0, 0), &end);
    let notes = played.bench.take_notes();
    let closed = (at(1, 0, 0), Note::WindowClosed);
    assert!(notes.contains(&closed));
    assert!(notes.contains(&(at(1, 0, 1_000), Note::Ignored(Ignored::WindowClosed))));
    assert!(notes.contains(&(at(1, 15, 0), Note::Vacant)));
    assert!(notes.contains(&(at(1, 15, 1_000), Note::Ignored(Ignored::SoundWhileVacant))));
}

#[test]
fn occ_4_a_sound_at_exactly_the_end_of_the_window_counts() {
    let rows = merged(vec![
        vec![(0, Do::Motion)],
        every(at(0, 14, 0), at(1, 0, 0), 60_000, Do::Sound),
    ]);
    let end = [(0, OCCUPIED), (at(1, 15, 0), VACANT)];
    check(bare(), &rows, at(2, 0, 0), &end);
}

#[test]
fn occ_5_a_sound_a_millisecond_after_the_window_does_not_count() {
    let rows = merged(vec![
        vec![(0, Do::Motion)],
        every(at(0, 14, 0), at(0, 59, 0), 60_000, Do::Sound),
        vec![(at(1, 0, 1), Do::Sound)],
    ]);
    let end = [(0, OCCUPIED), (at(1, 14, 0), VACANT)];
    let mut played = check(bare(), &rows, at(2, 0, 0), &end);
    assert_eq!(ignored(&mut played), [(at(1, 0, 1), Ignored::WindowClosed)]);
}

#[test]
fn occ_1_motion_in_a_vacant_room_is_reported_at_once_and_opens_the_window() {
    let mut played = check(bare(), &[(7, Do::Motion)], 7, &[(7, OCCUPIED)]);
    assert_eq!(
        played.bench.take_notes(),
        [(7, Note::Occupied), (7, Note::WindowOpened)]
    );
    assert_eq!(played.bench.due(Timer::Delay), Some(at(0, 15, 7)));
    assert_eq!(played.bench.due(Timer::Window), Some(at(1, 0, 7)));
    assert_eq!(
        played.bench.running(),
        [Timer::Delay, Timer::Window],
        "nothing else runs when nothing else is set"
    );
    assert_eq!(played.sensor.state(), State::Occupied);
    assert!(played.sensor.is_window_open() && !played.sensor.is_bright());
}

#[test]
fn occ_1_a_unit_without_microphone_or_window_opens_no_window() {
    for (sound, window) in [(false, Span::from_minutes(60)), (true, Span::ZERO)] {
        let settings = Settings {
            sound,
            window,
            ..bare()
        };
        let rows = [(0, Do::Motion), (60_000, Do::Motion)];
        let sent = [(0, OCCUPIED), (at(0, 16, 0), VACANT)];
        let mut played = check(settings, &rows, at(0, 20, 0), &sent);
        assert_eq!(
            played.bench.take_notes(),
            [(0, Note::Occupied), (at(0, 16, 0), Note::Vacant)]
        );
    }
}

#[test]
fn occ_2_sound_alone_never_turns_anything_on() {
    let mut played = check(bare(), &[(0, Do::Sound)], at(2, 0, 0), &[]);
    assert_eq!(ignored(&mut played), [(0, Ignored::SoundWhileVacant)]);
    assert_eq!(played.sensor, Sensor::new(&bare()));
}

#[test]
fn occ_2_a_unit_without_microphone_hears_nothing_even_while_occupied() {
    let settings = Settings {
        sound: false,
        ..bare()
    };
    let rows = [(0, Do::Sound), (1, Do::Motion), (60_000, Do::Sound)];
    let sent = [(1, OCCUPIED), (at(0, 15, 1), VACANT)];
    let mut played = check(settings, &rows, at(0, 20, 0), &sent);
    let why = Ignored::NoMicrophone;
    assert_eq!(ignored(&mut played), [(0, why), (60_000, why)]);
}

#[test]
fn occ_3_motion_at_exactly_the_end_of_the_time_delay_still_counts() {
    let rows = [(0, Do::Motion), (at(0, 15, 0), Do::Motion)];
    let sent = [(0, OCCUPIED), (at(0, 30, 0), VACANT)];
    check(bare(), &rows, at(1, 0, 0), &sent);
}

#[test]
fn occ_3_motion_reopens_a_window_that_had_closed() {
    let mut rows = vec![(0, Do::Motion)];
    rows.extend(every(at(0, 10, 0), at(1, 0, 0), at(0, 10, 0), Do::Sound));
    rows.extend([
        (at(1, 10, 0), Do::Sound),
        (at(1, 14, 0), Do::Motion),
        (at(1, 20, 0), Do::Sound),
    ]);
    let sent = [(0, OCCUPIED), (at(1, 35, 0), VACANT)];
    let mut played = check(bare(), &rows, at(3, 0, 0), &sent);
    assert_eq!(
        played.bench.take_notes(),
        [
            (0, Note::Occupied),
            (0, Note::WindowOpened),
            (at(1, 0, 0), Note::WindowClosed),
            (at(1, 10, 0), Note::Ignored(Ignored::WindowClosed)),
            (at(1, 14, 0), Note::WindowOpened),
            (at(1, 35, 0), Note::Vacant),
            (at(1, 35, 0), Note::WindowClosed),
        ]
    );
}

#[test]
fn occ_3_each_motion_restarts_the_window() {
    let mut played = check(
        bare(),
        &[(0, Do::Motion), (at(0, 5, 0), Do::Motion)],
        at(0, 5, 0),
        &[(0, OCCUPIED)],
    );
    assert_eq!(played.bench.due(Timer::Window), Some(at(1, 5, 0)));
    assert_eq!(played.bench.due(Timer::Delay), Some(at(0, 20, 0)));
    assert_eq!(played.bench.take_notes().len(), 2, "a restart says nothing");
}

#[test]
fn occ_6_the_end_of_the_window_leaves_the_time_delay_running() {
    let settings = Settings {
        window: Span::from_minutes(15),
        ..bare()
    };
    let rows = [(0, Do::Motion), (at(0, 14, 0), Do::Sound)];
    let sent = [(0, OCCUPIED), (at(0, 29, 0), VACANT)];
    let mut played = check(settings, &rows, at(0, 28, 0), &sent[..1]);
    assert_eq!(played.bench.running(), [Timer::Delay]);
    played.play(&[], at(0, 30, 0));
    assert_eq!(played.bench.take_sent(), sent[1..]);
}

#[test]
fn occ_7_without_grace_a_vacant_sensor_runs_nothing() {
    let sent = [(0, OCCUPIED), (at(0, 15, 0), VACANT)];
    let rows = [(0, Do::Motion), (at(0, 15, 1), Do::Sound)];
    let mut played = check(bare(), &rows, at(0, 16, 0), &sent);
    assert_eq!(played.bench.running(), []);
    assert_eq!(played.sensor, Sensor::new(&bare()));
    assert_eq!(
        played.bench.take_notes()[2..],
        [
            (at(0, 15, 0), Note::Vacant),
            (at(0, 15, 0), Note::WindowClosed),
            (at(0, 15, 1), Note::Ignored(Ignored::SoundWhileVacant)),
        ]
    );
}

fn with_grace() -> Settings {
    Settings {
        grace: Span::from_seconds(30),
        ..bare()
    }
}

#[test]
fn occ_7_with_grace_the_window_runs_on_after_the_time_delay() {
    let sent = [(0, OCCUPIED), (at(0, 15, 0), VACANT)];
    let played = check(with_grace(), &[(0, Do::Motion)], at(0, 15, 0), &sent);
    assert_eq!(played.bench.due(Timer::Grace), Some(at(0, 15, 30_000)));
    assert_eq!(played.bench.due(Timer::Window), Some(at(1, 0, 0)));
    assert_eq!(played.bench.running(), [Timer::Grace, Timer::Window]);
}

#[test]
fn occ_7_a_closed_window_needs_no_grace() {
    let rows = merged(vec![
        vec![(0, Do::Motion)],
        every(at(0, 10, 0), at(1, 0, 0), at(0, 10, 0), Do::Sound),
    ]);
    let sent = [(0, OCCUPIED), (at(1, 15, 0), VACANT)];
    let mut played = check(with_grace(), &rows, at(1, 15, 0), &sent);
    assert_eq!(played.bench.running(), []);
    played.play(&[(at(1, 15, 10), Do::Sound)], at(2, 0, 0));
    assert_eq!(played.bench.take_sent(), []);
}

#[test]
fn occ_11_sound_in_the_grace_brings_occupancy_back_without_restarting_the_window() {
    // The sound comes at exactly the end of the grace: it still counts.
    let rows = [(0, Do::Motion), (at(0, 15, 30_000), Do::Sound)];
    let sent = [
        (0, OCCUPIED),
        (at(0, 15, 0), VACANT),
        (at(0, 15, 30_000), OCCUPIED),
    ];
    let mut played = check(with_grace(), &rows, at(0, 16, 0), &sent);
    assert_eq!(played.bench.running(), [Timer::Delay, Timer::Window]);
    assert_eq!(played.bench.due(Timer::Delay), Some(at(0, 30, 30_000)));
    assert_eq!(played.bench.due(Timer::Window), Some(at(1, 0, 0)));
    assert_eq!(
        played.bench.take_notes()[2..],
        [
            (at(0, 15, 0), Note::Vacant),
            (at(0, 15, 30_000), Note::Occupied)
        ]
    );
}

#[test]
fn occ_11_the_longest_hold_stays_window_plus_time_delay() {
    // Vacant and back by sound, over and over: the last restart is the end of the window.
    let mut rows = vec![(0, Do::Motion)];
    let returns = [
        (0, 15, 1_000),
        (0, 30, 2_000),
        (0, 45, 3_000),
        (1, 0, 4_000),
    ];
    rows.extend(returns.map(|(hours, minutes, ms)| (at(hours, minutes, ms), Do::Sound)));
    let sent = [
        (0, OCCUPIED),
        (at(0, 15, 0), VACANT),
        (at(0, 15, 1_000), OCCUPIED),
        (at(0, 30, 1_000), VACANT),
        (at(0, 30, 2_000), OCCUPIED),
        (at(0, 45, 2_000), VACANT),
        (at(0, 45, 3_000), OCCUPIED),
        (at(1, 0, 3_000), VACANT),
    ];
    check(with_grace(), &rows, at(3, 0, 0), &sent);
}

#[test]
fn occ_12_the_end_of_the_grace_closes_the_window() {
    let rows = [(0, Do::Motion), (at(0, 15, 30_001), Do::Sound)];
    let sent = [(0, OCCUPIED), (at(0, 15, 0), VACANT)];
    let mut played = check(with_grace(), &rows, at(0, 16, 0), &sent);
    assert_eq!(played.bench.running(), []);
    assert_eq!(
        played.bench.take_notes()[3..],
        [
            (at(0, 15, 30_000), Note::WindowClosed),
            (at(0, 15, 30_001), Note::Ignored(Ignored::SoundWhileVacant)),
        ]
    );
}

#[test]
fn occ_12_the_end_of_the_window_ends_the_grace() {
    let settings = Settings {
        window: Span::from_ms(at(0, 15, 10_000)),
        ..with_grace()
    };
    let rows = [(0, Do::Motion), (at(0, 15, 10_001), Do::Sound)];
    let sent = [(0, OCCUPIED), (at(0, 15, 0), VACANT)];
    let mut played = check(settings, &rows, at(0, 16, 0), &sent);
    assert_eq!(played.bench.running(), []);
    assert_eq!(
        played.bench.take_notes()[3..],
        [
            (at(0, 15, 10_000), Note::WindowClosed),
            (at(0, 15, 10_001), Note::Ignored(Ignored::SoundWhileVacant)),
        ]
    );
}

#[test]
fn occ_12_grace_and_window_that_end_with_the_time_delay_leave_nothing() {
    let settings = Settings {
        window: Span::from_minutes(15),
        ..with_grace()
    };
    let sent = [(0, OCCUPIED), (at(0, 15, 0), VACANT)];
    let played = check(settings, &[(0, Do::Motion)], at(0, 15, 0), &sent);
    assert_eq!(played.bench.running(), []);
}

#[test]
fn occ_1_motion_in_the_grace_ends_it() {
    let rows = [(0, Do::Motion), (at(0, 15, 10_000), Do::Motion)];
    let sent = [
        (0, OCCUPIED),
        (at(0, 15, 0), VACANT),
        (at(0, 15, 10_000), OCCUPIED),
    ];
    let mut played = check(with_grace(), &rows, at(0, 16, 0), &sent);
    assert_eq!(played.bench.running(), [Timer::Delay, Timer::Window]);
    assert_eq!(played.bench.due(Timer::Window), Some(at(1, 15, 10_000)));
    assert_eq!(
        played.bench.take_notes()[2..],
        [
            (at(0, 15, 0), Note::Vacant),
            (at(0, 15, 10_000), Note::Occupied)
        ],
        "the window stayed open"
    );
}

fn reporting() -> Settings {
    Settings {
        report: Some(Span::from_minutes(4)),
        ..bare()
    }
}

#[test]
fn occ_8_the_state_is_reported_again_h_after_the_last_report_of_any_kind() {
    let rows = [(0, Do::Start), (at(0, 5, 0), Do::Motion)];
    let sent = [
        (at(0, 4, 0), VACANT),
        (at(0, 5, 0), OCCUPIED),
        (at(0, 9, 0), OCCUPIED),
        (at(0, 13, 0), OCCUPIED),
        (at(0, 17, 0), OCCUPIED),
        (at(0, 20, 0), VACANT),
        (at(0, 24, 0), VACANT),
    ];
    check(reporting(), &rows, at(0, 24, 0), &sent);
}

#[test]
fn occ_8_motion_that_is_not_reported_does_not_put_the_report_off() {
    let rows = [(0, Do::Motion), (at(0, 3, 0), Do::Motion)];
    let sent = [(0, OCCUPIED), (at(0, 4, 0), OCCUPIED)];
    check(reporting(), &rows, at(0, 5, 0), &sent);
}

#[test]
fn occ_8_a_sensor_whose_interval_is_none_or_zero_starts_no_timer_for_it() {
    for report in [None, Some(Span::ZERO)] {
        let settings = Settings { report, ..bare() };
        let rows = [(0, Do::Start), (1, Do::Motion)];
        let played = check(settings, &rows, 1, &[(1, OCCUPIED)]);
        assert_eq!(played.bench.running(), [Timer::Delay, Timer::Window]);
    }
}

fn with_hold_off() -> Settings {
    Settings {
        hold_off: Some(Illuminance::from_lux(300)),
        ..bare()
    }
}

#[test]
fn occ_9_motion_above_the_hold_off_is_reported_bright() {
    check(
        with_hold_off(),
        &[(0, Do::MotionIn(300))],
        1,
        &[(0, OCCUPIED)],
    );
    let played = check(
        with_hold_off(),
        &[(0, Do::MotionIn(301))],
        1,
        &[(0, BRIGHT)],
    );
    assert!(played.sensor.is_bright());
}

#[test]
fn occ_9_without_hold_off_nothing_is_bright() {
    check(bare(), &[(0, Do::MotionIn(100_000))], 1, &[(0, OCCUPIED)]);
}

#[test]
fn occ_9_reports_of_a_bright_room_keep_the_mark() {
    let settings = Settings {
        report: Some(Span::from_minutes(4)),
        repeat: Some(Span::from_seconds(60)),
        ..with_hold_off()
    };
    let rows = [(0, Do::MotionIn(400)), (at(0, 2, 0), Do::MotionIn(400))];
    let sent = [(0, BRIGHT), (at(0, 2, 0), BRIGHT), (at(0, 6, 0), BRIGHT)];
    check(settings, &rows, at(0, 7, 0), &sent);
}

#[test]
fn occ_9_a_room_that_grows_bright_while_occupied_stays_unmarked() {
    let rows = [(0, Do::MotionIn(100)), (60_000, Do::MotionIn(900))];
    let played = check(with_hold_off(), &rows, 60_000, &[(0, OCCUPIED)]);
    assert!(!played.sensor.is_bright());
}

#[test]
fn occ_9_sound_in_the_grace_keeps_the_mark_and_the_end_of_the_grace_drops_it() {
    let settings = Settings {
        grace: Span::from_seconds(30),
        ..with_hold_off()
    };
    let rows = [(0, Do::MotionIn(400)), (at(0, 15, 10_000), Do::Sound)];
    let sent = [
        (0, BRIGHT),
        (at(0, 15, 0), VACANT),
        (at(0, 15, 10_000), BRIGHT),
        (at(0, 30, 10_000), VACANT),
    ];
    let mut played = check(settings, &rows, at(0, 30, 20_000), &sent);
    assert!(played.sensor.is_bright());
    played.play(&[], at(0, 31, 0));
    assert!(!played.sensor.is_bright());
}

#[test]
fn occ_9_a_vacant_sensor_without_grace_carries_no_mark() {
    let motion_only = Settings {
        sound: false,
        ..with_hold_off()
    };
    for settings in [with_hold_off(), motion_only] {
        let sent = [(0, BRIGHT), (at(0, 15, 0), VACANT)];
        let played = check(settings, &[(0, Do::MotionIn(400))], at(0, 16, 0), &sent);
        assert!(!played.sensor.is_bright());
    }
}

#[test]
fn occ_10_power_brings_warm_up_then_unknown_then_vacant() {
    let rows = [
        (0, Do::Motion),
        (1_000, Do::Power(false)),
        (2_000, Do::Motion),
        (3_000, Do::Sound),
        (10_000, Do::Power(true)),
        (20_000, Do::Motion),
        (30_000, Do::Sound),
        (55_000, Do::Motion),
    ];
    let sent = [
        (0, OCCUPIED),
        (55_000, UNKNOWN),
        (at(0, 4, 55_000), UNKNOWN),
        (at(0, 8, 55_000), UNKNOWN),
        (at(0, 12, 55_000), UNKNOWN),
        (at(0, 15, 55_000), VACANT),
    ];
    let mut played = check(reporting(), &rows, at(0, 19, 0), &sent);
    assert_eq!(
        played.bench.take_notes(),
        [
            (0, Note::Occupied),
            (0, Note::WindowOpened),
            (1_000, Note::Power(false)),
            (2_000, Note::Ignored(Ignored::NoPower)),
            (3_000, Note::Ignored(Ignored::NoPower)),
            (10_000, Note::Power(true)),
            (10_000, Note::WarmingUp(Span::from_seconds(45))),
            (20_000, Note::Ignored(Ignored::WarmingUp)),
            (30_000, Note::Ignored(Ignored::WarmingUp)),
            (55_000, Note::Ignored(Ignored::WarmingUp)),
            (55_000, Note::Unknown),
            (at(0, 15, 55_000), Note::Vacant),
        ]
    );
}

#[test]
fn occ_10_motion_while_unknown_is_occupancy_and_sound_is_nothing() {
    let rows = [
        (0, Do::Power(false)),
        (0, Do::Power(true)),
        (50_000, Do::Sound),
        (60_000, Do::MotionIn(400)),
    ];
    let sent = [(45_000, UNKNOWN), (60_000, BRIGHT), (at(0, 16, 0), VACANT)];
    let mut played = check(with_hold_off(), &rows, at(0, 20, 0), &sent);
    assert_eq!(ignored(&mut played), [(50_000, Ignored::WindowClosed)]);
}

#[test]
fn occ_10_sound_does_not_prolong_the_unknown() {
    let rows = merged(vec![
        vec![(0, Do::Power(false)), (0, Do::Power(true))],
        every(60_000, at(1, 0, 0), 60_000, Do::Sound),
    ]);
    let sent = [(45_000, UNKNOWN), (at(0, 15, 45_000), VACANT)];
    check(with_grace(), &rows, at(1, 0, 0), &sent);
}

#[test]
fn occ_10_without_warm_up_the_sensor_is_unknown_at_once() {
    let settings = Settings {
        warm_up: Span::ZERO,
        ..bare()
    };
    let rows = [(0, Do::Power(false)), (5, Do::Power(true))];
    let mut played = check(settings, &rows, 5, &[(5, UNKNOWN)]);
    assert_eq!(played.bench.running(), [Timer::Delay]);
    assert_eq!(
        played.bench.take_notes(),
        [
            (0, Note::Power(false)),
            (5, Note::Power(true)),
            (5, Note::Unknown)
        ]
    );
}

#[test]
fn occ_10_a_cut_during_warm_up_ends_it_and_power_that_stays_changes_nothing() {
    let rows = [
        (0, Do::Power(true)),
        (1, Do::Power(false)),
        (2, Do::Power(false)),
        (3, Do::Power(true)),
        (4, Do::Power(true)),
        (5, Do::Power(false)),
    ];
    let mut played = check(reporting(), &rows, at(1, 0, 0), &[]);
    let same = Ignored::NoChange;
    assert_eq!(ignored(&mut played), [(0, same), (2, same), (4, same)]);
    assert_eq!(played.sensor.state(), State::Off);
}

fn repeating() -> Settings {
    Settings {
        repeat: Some(Span::from_seconds(60)),
        ..bare()
    }
}

#[test]
fn occ_13_motion_repeats_occupied_when_the_last_report_is_older_than_r() {
    let rows = [
        (0, Do::Motion),
        (30_000, Do::Motion),
        (60_000, Do::Motion), // exactly R old is not older
        (60_001, Do::Motion),
        (120_001, Do::Motion),
        (120_002, Do::Motion),
    ];
    let sent = [(0, OCCUPIED), (60_001, OCCUPIED), (120_002, OCCUPIED)];
    check(repeating(), &rows, 200_000, &sent);
}

#[test]
fn occ_13_sound_repeats_nothing_and_a_periodic_report_counts_as_the_last() {
    let settings = Settings {
        report: Some(Span::from_minutes(4)),
        ..repeating()
    };
    let rows = [
        (0, Do::Motion),
        (at(0, 2, 0), Do::Sound),
        (at(0, 4, 30_000), Do::Motion),
        (at(0, 5, 1), Do::Motion),
    ];
    let sent = [
        (0, OCCUPIED),
        (at(0, 4, 0), OCCUPIED),
        (at(0, 5, 1), OCCUPIED),
    ];
    check(settings, &rows, at(0, 6, 0), &sent);
}

#[test]
fn occ_13_r_of_none_or_zero_repeats_nothing() {
    for repeat in [None, Some(Span::ZERO)] {
        let settings = Settings { repeat, ..bare() };
        let rows = every(0, 600_000, 100_000, Do::Motion);
        let played = check(settings, &rows, 600_000, &[(0, OCCUPIED)]);
        assert_eq!(played.bench.running(), [Timer::Delay, Timer::Window]);
    }
}

#[test]
fn occ_13_a_sensor_that_becomes_vacant_counts_no_r() {
    let settings = Settings {
        time_delay: Span::from_seconds(30),
        ..repeating()
    };
    let rows = [(0, Do::Motion)];
    let sent = [(0, OCCUPIED), (30_000, VACANT)];
    let played = check(settings, &rows, 30_000, &sent);
    assert_eq!(played.bench.running(), []);
}

#[test]
fn occ_14_a_bright_room_that_grows_dark_is_reported_without_the_mark() {
    let rows = [
        (0, Do::MotionIn(400)),
        (10_000, Do::MotionIn(270)), // 0.9 × hold-off is not below it
        (20_000, Do::MotionIn(269)),
        (30_000, Do::MotionIn(100)),
    ];
    let sent = [(0, BRIGHT), (20_000, OCCUPIED)];
    let played = check(with_hold_off(), &rows, 40_000, &sent);
    assert!(!played.sensor.is_bright());
}

#[test]
fn occ_14_the_comparison_is_exact_to_a_hundredth_of_a_lux() {
    let settings = Settings {
        hold_off: Some(Illuminance::from_hundredths(1_001)),
        ..bare()
    };
    let below =
        |hundredths| well_below_hold_off(&settings, Illuminance::from_hundredths(hundredths));
    assert!(below(900) && !below(901));
    let largest = Illuminance::from_hundredths(u32::MAX);
    let settings = Settings {
        hold_off: Some(largest),
        ..bare()
    };
    assert!(!well_below_hold_off(&settings, largest));
    assert!(!above_hold_off(&settings, largest));
}

#[test]
fn ord_4_the_sensor_is_blind_for_its_dead_time_after_an_event() {
    let settings = Settings {
        dead_time: Span::from_ms(100),
        time_delay: Span::from_seconds(30),
        window: Span::from_seconds(60),
        ..bare()
    };
    let rows = [
        (0, Do::Motion),
        (1, Do::Motion),
        (50, Do::Sound),
        (100, Do::Motion), // stimuli precede timers, so it is blind to the end
    ];
    let sent = [(0, OCCUPIED), (30_000, VACANT)];
    let mut played = check(settings.clone(), &rows, 40_000, &sent);
    let why = Ignored::DeadTime;
    assert_eq!(ignored(&mut played), [(1, why), (50, why), (100, why)]);

    let rows = [(0, Do::Motion), (101, Do::Motion), (202, Do::Sound)];
    let sent = [(0, OCCUPIED), (30_202, VACANT)];
    let mut played = check(settings, &rows, 40_000, &sent);
    assert_eq!(ignored(&mut played), []);
}

#[test]
fn ord_4_a_sound_hides_sounds_but_never_a_motion() {
    let settings = Settings {
        dead_time: Span::from_ms(100),
        ..bare()
    };
    let rows = [
        (0, Do::Sound), // counts for nothing, so it hides nothing
        (1, Do::Motion),
        (60_000, Do::Sound),
        (60_050, Do::Sound),
        (60_060, Do::Motion),
        (60_160, Do::Motion),
    ];
    let sent = [(1, OCCUPIED), (at(0, 16, 60), VACANT)];
    let mut played = check(settings, &rows, at(0, 20, 0), &sent);
    assert_eq!(
        ignored(&mut played),
        [
            (0, Ignored::SoundWhileVacant),
            (60_050, Ignored::DeadTime),
            (60_160, Ignored::DeadTime),
        ]
    );
}

#[test]
fn set_1_a_changed_span_restarts_a_running_timer() {
    let before = Settings {
        report: Some(Span::from_minutes(4)),
        repeat: Some(Span::from_seconds(60)),
        dead_time: Span::from_ms(100),
        ..bare()
    };
    let after = Settings {
        time_delay: Span::from_minutes(5),
        window: Span::from_minutes(30),
        grace: Span::from_seconds(10),
        report: Some(Span::from_minutes(2)),
        repeat: Some(Span::from_seconds(20)),
        dead_time: Span::from_ms(200),
        ..before.clone()
    };
    let rows = [(0, Do::Motion), (10, Do::Set(after.clone()))];
    let mut played = check(before.clone(), &rows, 10, &[(0, OCCUPIED)]);
    let due = |played: &Played| Timer::ALL.map(|timer| played.bench.due(timer));
    let expected = [
        Some(210),
        Some(at(0, 5, 10)),
        None,
        Some(20_010),
        Some(at(0, 2, 10)),
        None,
        None,
        Some(at(0, 30, 10)),
    ];
    assert_eq!(due(&played), expected);
    assert!(
        played
            .bench
            .take_notes()
            .contains(&(10, Note::SettingChanged))
    );

    // The same settings again restart nothing.
    played.play(&[(20, Do::Set(after))], 20);
    assert_eq!(due(&played), expected);
}

#[test]
fn set_1_a_sensor_at_rest_starts_only_the_report() {
    let after = Settings {
        time_delay: Span::from_minutes(5),
        window: Span::from_minutes(30),
        grace: Span::from_seconds(10),
        warm_up: Span::from_seconds(5),
        dead_time: Span::from_ms(200),
        repeat: Some(Span::from_seconds(20)),
        report: Some(Span::from_minutes(2)),
        ..bare()
    };
    let played = check(bare(), &[(10, Do::Set(after.clone()))], 10, &[]);
    assert_eq!(played.bench.running(), [Timer::Report]);
    assert_eq!(played.bench.due(Timer::Report), Some(at(0, 2, 10)));
    let played = check(after, &[(0, Do::Start), (10, Do::Set(bare()))], 10, &[]);
    assert_eq!(played.bench.running(), []);
}

#[test]
fn set_1_a_sensor_without_power_starts_nothing_and_one_in_warm_up_only_restarts_that() {
    let after = Settings {
        time_delay: Span::from_minutes(5),
        warm_up: Span::from_seconds(5),
        ..reporting()
    };
    let rows = [
        (0, Do::Power(false)),
        (10, Do::Set(after.clone())),
        (20, Do::Power(true)),
        (30, Do::Set(reporting())),
        (40, Do::Set(reporting())),
    ];
    let played = check(bare(), &rows, 40, &[]);
    assert_eq!(played.bench.running(), [Timer::WarmUp]);
    assert_eq!(played.bench.due(Timer::WarmUp), Some(45_030));
}

#[test]
fn set_1_the_unknown_takes_a_new_time_delay_too() {
    let after = Settings {
        time_delay: Span::from_minutes(5),
        ..bare()
    };
    let rows = [
        (0, Do::Power(false)),
        (0, Do::Power(true)),
        (at(0, 10, 0), Do::Set(after)),
    ];
    let sent = [(45_000, UNKNOWN), (at(0, 15, 0), VACANT)];
    check(bare(), &rows, at(0, 20, 0), &sent);
}

#[test]
fn set_1_grace_and_window_follow_their_settings_while_vacant() {
    let longer = Settings {
        grace: Span::from_seconds(60),
        window: Span::from_minutes(30),
        ..with_grace()
    };
    let rows = [
        (0, Do::Motion),
        (at(0, 15, 10_000), Do::Set(longer.clone())),
    ];
    let sent = [(0, OCCUPIED), (at(0, 15, 0), VACANT)];
    let mut played = check(with_grace(), &rows, at(0, 15, 10_000), &sent);
    let due = |played: &Played| {
        (
            played.bench.due(Timer::Grace),
            played.bench.due(Timer::Window),
        )
    };
    let expected = (Some(at(0, 16, 10_000)), Some(at(0, 45, 10_000)));
    assert_eq!(due(&played), expected);
    played.play(&[(at(0, 15, 20_000), Do::Set(longer))], at(0, 15, 20_000));
    assert_eq!(due(&played), expected);
}

#[test]
fn set_1_what_no_longer_needs_a_window_closes_it() {
    let deaf = Settings {
        sound: false,
        ..with_grace()
    };
    let no_window = Settings {
        window: Span::ZERO,
        ..with_grace()
    };
    let cases = [
        (0, deaf.clone(), true),
        (0, no_window.clone(), true),
        (0, bare(), false), // while occupied the grace does not matter yet
        (at(0, 15, 1), deaf, true),
        (at(0, 15, 1), no_window, true),
        (at(0, 15, 1), bare(), true),
    ];
    for (when, after, closes) in cases {
        let rows = [(0, Do::Motion), (when, Do::Set(after.clone()))];
        let mut played = Played::new(with_grace());
        played.play(&rows, when);
        assert_eq!(played.sensor.is_window_open(), !closes, "{after:?}");
        assert_eq!(played.bench.runs(Timer::Window), !closes, "{after:?}");
        assert!(!played.bench.runs(Timer::Grace), "{after:?}");
        let notes = played.bench.take_notes();
        assert_eq!(notes.contains(&(when, Note::WindowClosed)), closes);
    }
}

#[test]
fn set_1_a_repeat_or_dead_time_that_ends_is_felt_at_once() {
    let before = Settings {
        repeat: Some(Span::from_seconds(60)),
        dead_time: Span::from_ms(100),
        ..bare()
    };
    let rows = [
        (0, Do::Motion),
        (10, Do::Set(bare())),
        (11, Do::Motion),
        (70_000, Do::Motion),
    ];
    let mut played = check(before, &rows, 70_000, &[(0, OCCUPIED)]);
    assert_eq!(ignored(&mut played), []);
    assert_eq!(played.bench.running(), [Timer::Delay, Timer::Window]);
}

#[test]
fn set_1_a_hold_off_taken_away_lifts_the_mark_at_the_next_motion() {
    let rows = [
        (0, Do::MotionIn(400)),
        (10, Do::Set(bare())),
        (20, Do::MotionIn(400)),
    ];
    check(with_hold_off(), &rows, 20, &[(0, BRIGHT), (20, OCCUPIED)]);
}

#[test]
fn set_2_the_walk_test_shortens_the_time_delay_to_5_s() {
    let rows = [
        (0, Do::Motion),
        (10_000, Do::WalkTest(true)),
        (12_000, Do::Motion),
        (30_000, Do::Motion),
        (31_000, Do::WalkTest(false)),
    ];
    let sent = [
        (0, OCCUPIED),
        (17_000, VACANT),
        (30_000, OCCUPIED),
        (at(0, 15, 31_000), VACANT),
    ];
    let mut played = check(bare(), &rows, at(0, 20, 0), &sent);
    let notes = played.bench.take_notes();
    assert!(notes.contains(&(10_000, Note::WalkTest(true))));
    assert!(notes.contains(&(31_000, Note::WalkTest(false))));
    assert_eq!(played.bench.running(), []);
}

#[test]
fn set_2_the_walk_test_restarts_a_time_delay_that_runs_and_starts_none() {
    let rows = [(0, Do::Motion), (10_000, Do::WalkTest(true))];
    check(bare(), &rows, 20_000, &[(0, OCCUPIED), (15_000, VACANT)]);
    let played = check(bare(), &[(0, Do::WalkTest(true))], 1, &[]);
    assert_eq!(played.bench.running(), [Timer::WalkTest]);
    assert!(played.sensor.is_walk_test());
}

#[test]
fn set_2_the_walk_test_ends_by_itself_after_60_min() {
    let rows = [
        (0, Do::WalkTest(true)),
        (at(0, 10, 0), Do::WalkTest(true)),
        (at(1, 9, 57_000), Do::Motion),
    ];
    let sent = [(at(1, 9, 57_000), OCCUPIED), (at(1, 25, 0), VACANT)];
    let mut played = check(bare(), &rows, at(2, 0, 0), &sent);
    assert!(!played.sensor.is_walk_test());
    let notes = played.bench.take_notes();
    assert!(notes.contains(&(at(0, 10, 0), Note::Ignored(Ignored::NoChange))));
    assert!(notes.contains(&(at(1, 10, 0), Note::WalkTest(false))));
}

#[test]
fn set_2_a_changed_time_delay_waits_for_the_end_of_the_walk_test() {
    let after = Settings {
        time_delay: Span::from_minutes(5),
        ..bare()
    };
    let rows = [
        (0, Do::WalkTest(true)),
        (1_000, Do::Motion),
        (2_000, Do::Set(after)),
        (7_000, Do::Motion),
        (8_000, Do::WalkTest(false)),
    ];
    let sent = [
        (1_000, OCCUPIED),
        (6_000, VACANT),
        (7_000, OCCUPIED),
        (at(0, 5, 8_000), VACANT),
    ];
    check(bare(), &rows, at(1, 0, 0), &sent);
}

#[test]
fn set_2_power_ends_the_walk_test_and_a_dead_sensor_takes_none() {
    let rows = [
        (0, Do::WalkTest(true)),
        (10, Do::Power(false)),
        (20, Do::WalkTest(true)),
        (30, Do::Power(true)),
    ];
    let mut played = check(bare(), &rows, 40, &[]);
    assert!(!played.sensor.is_walk_test());
    assert_eq!(ignored(&mut played), [(20, Ignored::NoPower)]);
}

#[test]
fn set_2_the_walk_test_in_warm_up_waits_for_its_end() {
    let rows = [
        (0, Do::Power(false)),
        (0, Do::Power(true)),
        (10, Do::WalkTest(true)),
    ];
    let sent = [(45_000, UNKNOWN), (50_000, VACANT)];
    check(bare(), &rows, at(1, 0, 0), &sent);
}

#[test]
fn occ_2_the_flaw_of_sound_that_turns_on_is_felt() {
    let settings = Settings {
        flaw: Some(Flaw::SoundTurnsOn),
        ..bare()
    };
    check(settings.clone(), &[(5, Do::Sound)], 5, &[(5, OCCUPIED)]);
    let deaf = Settings {
        sound: false,
        ..settings
    };
    check(deaf, &[(5, Do::Sound)], 5, &[]);
}

#[test]
fn occ_4_the_flaw_of_sound_that_restarts_the_window_is_felt() {
    let settings = Settings {
        flaw: Some(Flaw::SoundRearmsWindow),
        ..bare()
    };
    let rows = [(0, Do::Motion), (at(0, 5, 0), Do::Sound)];
    let played = check(settings, &rows, at(0, 5, 0), &[(0, OCCUPIED)]);
    assert_eq!(played.bench.due(Timer::Window), Some(at(1, 5, 0)));
}

#[test]
fn occ_6_the_flaw_of_a_window_that_never_closes_is_felt() {
    let settings = Settings {
        flaw: Some(Flaw::WindowNeverCloses),
        window: Span::from_minutes(15),
        ..bare()
    };
    let mut sensor = Sensor::new(&settings);
    let mut bench = Bench::new();
    sensor.handle_motion(&settings, Illuminance::default(), &mut bench);
    assert_eq!(bench.advance(at(0, 15, 0)), [Timer::Delay, Timer::Window]);
    sensor.handle_elapsed(&settings, Timer::Window, &mut bench);
    assert!(sensor.is_window_open());
}

#[test]
fn link_1_the_sensor_sends_its_teach_in_frame_while_it_has_power() {
    let rows = [(0, Do::TeachIn), (1, Do::Power(false)), (2, Do::TeachIn)];
    let mut played = check(bare(), &rows, 3, &[(0, Payload::TeachIn)]);
    assert_eq!(ignored(&mut played), [(2, Ignored::NoPower)]);
}

#[test]
fn slots_are_numbered_in_the_order_of_their_names() {
    for (number, timer) in Timer::ALL.iter().enumerate() {
        assert_eq!(usize::from(timer.number()), number);
        assert_eq!(Timer::from_number(timer.number()), Some(*timer));
    }
    assert_eq!(Timer::from_number(Timer::COUNT), None);
    assert!(Timer::ALL.is_sorted());
    assert!(Timer::ALL.map(Timer::name).is_sorted());
    assert_eq!(Timer::Delay.name(), "delay");
}

#[test]
fn a_new_sensor_is_vacant_and_the_defaults_are_those_of_the_rows() {
    let settings = Settings::default();
    assert_eq!(Sensor::new(&settings), Sensor::default());
    assert_eq!(settings.time_delay, Span::from_minutes(15));
    assert_eq!(settings.window, Span::from_minutes(60));
    assert_eq!(settings.grace, Span::ZERO);
    assert_eq!(settings.report, Some(Span::from_minutes(4)));
    assert_eq!(settings.repeat, Some(Span::from_seconds(60)));
    assert_eq!(settings.warm_up, Span::from_seconds(45));
    assert_eq!(settings.dead_time, Span::from_ms(100));
    assert_eq!(settings.hold_off, None);
}

/// Spans near each other and near zero, so that timers often tie.
fn spans() -> impl Strategy<Value = Span> {
    prop_oneof![Just(0_u64), 1..4_u64, Just(10), Just(20), Just(40)].prop_map(Span::from_ms)
}

fn settings() -> impl Strategy<Value = Settings> {
    let numbers = (spans(), spans(), spans(), spans(), spans());
    let choices = (
        any::<bool>(),
        proptest::option::of(spans()),
        proptest::option::of(spans()),
        proptest::option::of(0..5_u32),
    );
    (numbers, choices).prop_map(|(numbers, choices)| Settings {
        sound: choices.0,
        time_delay: numbers.0,
        window: numbers.1,
        grace: numbers.2,
        warm_up: numbers.3,
        dead_time: numbers.4,
        report: choices.1,
        repeat: choices.2,
        flaw: None,
        hold_off: choices.3.map(Illuminance::from_lux),
    })
}

fn rows() -> impl Strategy<Value = Vec<(u64, Do)>> {
    let what = prop_oneof![
        4 => (0..6_u32).prop_map(Do::MotionIn),
        4 => Just(Do::Sound),
        1 => any::<bool>().prop_map(Do::Power),
        1 => any::<bool>().prop_map(Do::WalkTest),
        1 => settings().prop_map(Do::Set),
        1 => Just(Do::TeachIn),
    ];
    let gap = prop_oneof![0..5_u64, Just(10), Just(20), Just(40)];
    proptest::collection::vec((gap, what), 0..60).prop_map(|gaps| {
        let mut now = 0;
        let start = core::iter::once((0, Do::Start));
        let rows = gaps.into_iter().map(move |(gap, what)| {
            now += gap;
            (now, what)
        });
        start.chain(rows).collect()
    })
}

proptest! {
    /// The invariants are asserted after every single input and timer.
    #[test]
    fn no_timer_runs_that_the_state_does_not_need(settings in settings(), rows in rows()) {
        let until = rows.last().map_or(0, |(at, _)| *at) + 100;
        Played::new(settings).play(&rows, until);
    }

    /// With motion and sound alone, T and W are what three variables say: whether somebody is
    /// there, until when, and until when sound counts.
    #[test]
    fn occ_1_to_7_agree_with_a_reckoning_in_absolute_time(
        delay in 1..50_u64,
        longer in 0..50_u64,
        gaps in proptest::collection::vec((1..30_u64, any::<bool>()), 0..80),
    ) {
        let settings = Settings {
            time_delay: Span::from_ms(delay),
            window: Span::from_ms(delay + longer),
            ..bare()
        };
        let (mut now, mut occupied, mut until, mut window) = (0, false, 0, 0);
        let (mut rows, mut sent) = (Vec::new(), Vec::new());
        for (gap, motion) in gaps {
            now += gap;
            if occupied && until < now {
                occupied = false;
                sent.push((until, VACANT));
            }
            if motion {
                if !occupied {
                    sent.push((now, OCCUPIED));
                }
                (occupied, until, window) = (true, now + delay, now + delay + longer);
            } else if occupied && now <= window {
                until = now + delay;
            }
            rows.push((now, if motion { Do::Motion } else { Do::Sound }));
        }
        if occupied {
            sent.push((until, VACANT));
        }
        check(settings, &rows, now + 200, &sent);
    }

    /// The empty-room question at the sensor: whatever went before, W + T after the last
    /// motion an open ear holds nobody there, grace or no grace.
    #[test]
    fn occ_11_noise_never_holds_longer_than_window_plus_time_delay(
        settings in settings(),
        motions in proptest::collection::vec(1..100_u64, 1..5),
    ) {
        let settings = Settings { warm_up: Span::ZERO, ..settings };
        let longest = settings.window.plus(settings.time_delay).as_ms();
        let last: u64 = motions.iter().sum();
        let mut now = 0;
        let motions: Vec<(u64, Do)> = motions
            .iter()
            .map(|gap| { now += gap; (now, Do::Motion) })
            .collect();
        let noise = every(0, last + longest + 20, 1, Do::Sound);
        let mut played = Played::new(settings);
        played.play(&merged(vec![motions, noise]), last + longest + 20);
        prop_assert_eq!(played.sensor.state(), State::Vacant);
        prop_assert!(!played.bench.runs(Timer::Delay));
    }
}
