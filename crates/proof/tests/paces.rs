//! Clocks that are off: the timers that start in a device at one instant go by one clock.

mod asked;
mod texts;

use proof::{Budget, Terms, Verdict};

/// A sensor that leaves one lamp on for a minute and another for two.
const LAMPS: &str = r#"
name = "Room"

[outputs.near]
drive = "relay"

[outputs.far]
drive = "relay"

[sources.eye]
kind = "occupancy"
senses = "motion"
time-delay = "15 min"

[[links]]
from = "eye"
to = "near"
role = "auto-on"
run-on = "1 min"

[[links]]
from = "eye"
to = "far"
role = "auto-on"
run-on = "2 min"
"#;

/// With a tenth either way the two minutes end 54 to 66 s after the one, rounded up to
/// milliseconds, and not 42 to 78 s after it. A clause is not broken before its reaction time of a
/// second is over.
#[test]
fn two_spans_of_one_device_are_off_by_one_share() {
    let terms = Terms {
        tolerance: 1_000,
        ..Terms::default()
    };
    let verdict = |clause: &str| {
        let clause = format!("[[clauses]]\nid = \"C1\"\nsays = \"-\"\n{clause}\n");
        let room = texts::room(LAMPS, &clause);
        asked::answer(&room, "C1", &terms, Budget::default()).verdict
    };
    let is_proved = |clause: &str| matches!(verdict(clause), Verdict::Proved(_));
    let is_broken = |clause: &str| matches!(verdict(clause), Verdict::Broken(_));
    let apart = |ms: u32| format!("never = \"(near is off and far is on) for {ms} ms\"");
    assert!(is_proved(&apart(65_002)));
    assert!(is_broken(&apart(64_998)));
    let close = |ms: u32| format!("never = \"far turns off within {ms} ms of near turns off\"");
    assert!(is_proved(&close(53_999)));
    assert!(is_broken(&close(54_000)));
}

/// Spans are rounded up to whole milliseconds, so of two that differ by one the shorter may end with
/// the other: by a clock that is fast by a twentieth 20 ms take 19 and 19 ms take 18.05, so 19.
#[test]
fn two_spans_that_hardly_differ_may_end_together() {
    let clause = "[[clauses]]\nid = \"C1\"\nsays = \"-\"\n\
                  never = \"near turns off and far turns off\"\n";
    let lamps = LAMPS.replace("1 min", "19 ms").replace("2 min", "20 ms");
    let room = texts::room(&lamps, clause);
    let answer = |tolerance: u16| {
        let terms = Terms {
            tolerance,
            ..Terms::default()
        };
        asked::answer(&room, "C1", &terms, Budget::default()).verdict
    };
    assert!(matches!(answer(0), Verdict::Proved(_)));
    assert!(matches!(answer(500), Verdict::Broken(_)));
}
