//! Paths written by hand, and their instants.

use super::*;

const MINUTE: Ms = 60_000;

fn step() -> PathStep {
    PathStep::default()
}

fn motion() -> PathStep {
    PathStep {
        happens: vec![Happening::Input(Input::Stimulus(
            SourceId(0),
            room::Stimulus::Motion,
        ))],
        ..step()
    }
}

/// Two sensors' worth of one sensor: a motion, then sounds that hold it until its window closes.
fn held(sounds: usize) -> Path {
    let (delay, window, clause) = (0, 1, 2);
    let mut first = motion();
    first.started = vec![
        (delay, 15 * MINUTE, 15 * MINUTE),
        (window, 60 * MINUTE, 60 * MINUTE),
        (clause, 74 * MINUTE, 74 * MINUTE),
    ];
    let mut steps = vec![first];
    for _ in 0..sounds {
        let mut sound = motion();
        sound.stopped = vec![delay];
        sound.started = vec![(delay, 15 * MINUTE, 15 * MINUTE)];
        steps.push(sound);
    }
    let mut closes = step();
    closes.fired = vec![window];
    let mut due = step();
    due.fired = vec![clause];
    steps.extend([closes, due]);
    Path { steps }
}

#[test]
fn four_sounds_hold_a_sensor_of_a_quarter_of_an_hour_past_its_window() {
    let path = held(4);
    let at = Timing::of(&path, 1).earliest().unwrap();
    assert_eq!(at.last(), Some(&(74 * i64::from(MINUTE))));
    // The last sound comes less than a quarter of an hour before the end, and before the window
    // closes.
    assert_eq!(at[4], 59 * 60_000 + 1);
    assert_eq!(Timing::of(&held(3), 1).earliest(), None);
}

#[test]
fn the_margin_is_the_largest_that_leaves_a_run() {
    let path = held(4);
    // 74 min in five stretches of less than 15 min: 14 min 48 s each, 12 s to spare.
    let at = path.schedule(&mut |_| true).unwrap();
    let gaps: Vec<i64> = (0..4).map(|place| at[place + 1] - at[place]).collect();
    assert!(
        gaps.iter().all(|gap| *gap <= 15 * 60_000 - 10_000),
        "{gaps:?}"
    );
}

#[test]
fn instants_are_rounded_in_order_as_far_as_the_path_allows() {
    let path = held(4);
    let at = path
        .rounded(&[1, 2, 3, 4], |_, _| Vec::new(), &mut |_| true)
        .unwrap();
    let timing = {
        let mut timing = Timing::of(&path, 1);
        for (step, at) in at.iter().enumerate() {
            timing.fix(step, *at);
        }
        timing
    };
    assert_eq!(timing.earliest(), Some(at.clone()));
    assert!(at[1..5].iter().all(|at| at % 5_000 == 0), "{at:?}");
}

#[test]
fn a_rounding_that_no_longer_fails_is_not_taken() {
    let path = held(4);
    let mut seen = Vec::new();
    let at = path
        .rounded(&[1], |_, _| Vec::new(), &mut |at| {
            seen.push(at[1]);
            at[1] % 5_000 != 0
        })
        .unwrap();
    assert_ne!(at[1] % 5_000, 0);
    assert_eq!(at[1] % 1_000, 0);
    assert!(seen.iter().any(|at| at % 5_000 == 0), "{seen:?}");
}

#[test]
fn a_liked_instant_goes_before_a_round_one() {
    let path = Path {
        steps: vec![step(), motion(), motion()],
    };
    let likes = |step: usize, before: &[i64]| match step {
        2 => vec![before[1] + 100],
        _ => Vec::new(),
    };
    let at = path.rounded(&[1, 2], likes, &mut |_| true).unwrap();
    assert_eq!(at, [0, 60_000, 60_100]);
}

#[test]
fn a_timer_that_is_started_and_stopped_at_one_instant_bounds_nothing() {
    let mut first = motion();
    first.started = vec![(0, 5, 5)];
    first.stopped = vec![0];
    let path = Path {
        steps: vec![first, motion()],
    };
    let mut timing = Timing::of(&path, 1);
    timing.fix(1, 1_000);
    assert_eq!(timing.earliest(), Some(vec![0, 1_000]));
}

#[test]
fn what_remains_on_a_way_puts_its_step() {
    let mut first = motion();
    first.started = vec![(0, 4_000, 4_000)];
    let mut looked = motion();
    looked.remains = vec![(0, 1_500)];
    let mut done = step();
    done.fired = vec![0];
    let path = Path {
        steps: vec![step(), first, looked, done],
    };
    assert_eq!(
        Timing::of(&path, 1).earliest(),
        Some(vec![0, 1, 2_501, 4_001])
    );
    assert_eq!(Timing::of(&path, 1).latest(1), None);
}

#[test]
fn a_path_that_asks_for_two_orders_at_once_has_no_instants() {
    let mut first = motion();
    first.started = vec![(0, 5, 5), (1, 3, 3)];
    let mut long = step();
    long.fired = vec![0];
    let mut short = step();
    short.fired = vec![1];
    let path = Path {
        steps: vec![first, long, short],
    };
    assert_eq!(Timing::of(&path, 0).earliest(), None);
    assert_eq!(path.schedule(&mut |_| true), None);
}
