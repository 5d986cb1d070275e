//! Lost frames: what makes up for one is the next report, an interval after it at the latest.

mod annex;
mod asked;
mod texts;

use device::{Illuminance, Span};
use proof::{Answer, Budget, Terms, Verdict};
use prover::model::Faults;
use prover::slice::without_idle_reports;
use room::{SourceId, SourceSettings};

/// A lamp that goes by one sensor, which says every four minutes how it stands.
const LAMP: &str = r#"
name = "Room"

[outputs.lamp]
drive = "relay"

[sources.eye]
kind = "occupancy"
senses = "motion"
time-delay = "15 min"

[[links]]
from = "eye"
to = "lamp"
role = "auto-on"
"#;

/// A cell sees the sky, and leaves the lamp a fifth of its light.
const CELL: &str = r#"
name = "Room"

[outputs.lamp]
drive = "0-10 V"

[sources.cell]
kind = "daylight"
daylight = "10 %"

[sources.unit]
kind = "switch"
buttons = "up/down"

[[links]]
from = "unit"
to = "lamp"

[[links]]
from = "cell"
to = "lamp"
loop = "open"
set-point = "500 lx"
night = { sensor = "0 lx", task = "500 lx" }
day = { sensor = "1000 lx", task = "400 lx" }
"#;

fn answer(room: &str, clause: &str, terms: &Terms) -> Answer {
    let clause = format!("[[clauses]]\nid = \"L1\"\nsays = \"-\"\nreaction = \"0 s\"\n{clause}\n");
    let room = texts::room(room, &clause);
    let budget = Budget {
        transitions: 200_000,
        ..Budget::default()
    };
    asked::answer(&room, "L1", terms, budget)
}

fn lose(lose: u8) -> Terms {
    Terms {
        lose,
        ..Terms::default()
    }
}

#[track_caller]
fn is_proved(answer: &Answer) {
    assert!(matches!(answer.verdict, Verdict::Proved(_)), "{answer:?}");
}

#[track_caller]
fn loses(answer: &Answer, frames: usize) {
    let Verdict::Broken(witness) = &answer.verdict else {
        panic!("{answer:?}");
    };
    let rows = witness.text.matches("frame lost").count();
    assert_eq!(rows, frames, "{}", witness.text);
}

/// OCC-8: *vacant* is said again four minutes after it was lost, and ten milliseconds later it is
/// heard; with two frames lost after eight.
#[test]
fn a_lost_frame_is_made_up_for_after_a_report_interval_and_not_a_millisecond_sooner() {
    for (frames, heard) in [(1, 1_140_010), (2, 1_380_010)] {
        let dark_after = |ms: u32| {
            let clause = format!("when = \"no motion at eye for {ms} ms\"\nthen = \"lamp is off\"");
            answer(LAMP, &clause, &lose(frames))
        };
        is_proved(&dark_after(heard));
        loses(&dark_after(heard - 1), frames.into());
    }
}

/// The clock of the sensor may be slow by a tenth: so is its time delay, and so is its report.
#[test]
fn a_report_that_makes_up_for_a_loss_is_as_late_as_the_clock_of_its_sensor() {
    let terms = Terms {
        tolerance: 1_000,
        ..lose(1)
    };
    let clause =
        |span: &str| format!("when = \"no motion at eye for {span}\"\nthen = \"lamp is off\"");
    is_proved(&answer(LAMP, &clause("20 min 55 s"), &terms));
    loses(&answer(LAMP, &clause("20 min 50 s"), &terms), 1);
}

/// Motion and four sounds before the frame that is lost: an exact search alone would have to try
/// all that may happen up to there.
#[test]
fn what_takes_many_stimuli_to_break_is_found_among_those_of_an_over_approximation() {
    let clause = "when = \"no motion at eye for 4500010 ms\"\nthen = \"lamp is off\"";
    let listening = LAMP.replace(
        "senses = \"motion\"",
        "senses = [\"motion\", \"sound\"]\nsound-window = \"60 min\"",
    );
    let answer = answer(&listening, clause, &lose(1));
    loses(&answer, 1);
    let Verdict::Broken(witness) = &answer.verdict else {
        panic!("{answer:?}");
    };
    let rows = |what: &str| witness.text.matches(&format!("\"{what}\"]")).count();
    assert_eq!((rows("motion"), rows("sound")), (1, 4), "{}", witness.text);
}

/// A lost *after hours* is made up for by the next report, not by the sweep between the two; and the
/// report is heard before a motion of the same instant, as in a run.
#[test]
fn a_sweep_does_not_say_what_was_lost() {
    let hall = annex::room("hall");
    let budget = Budget {
        transitions: 500_000,
        ..Budget::default()
    };
    let answer = asked::answer(&hall, "H6", &lose(1), budget);
    is_proved(&answer);
    let said = answer.abstractions.join("\n");
    assert!(
        !said.contains("nothing, but for") && said.contains("hall-clock"),
        "{said}"
    );
    is_proved(&asked::answer(&hall, "H9", &lose(1), budget));
}

/// DAY-1: what a cell measures is said again after half a minute.
#[test]
fn a_reading_that_was_lost_is_made_up_for() {
    let terms = Terms {
        daylight: Some(Illuminance::from_hundredths(1_000_000)),
        ..lose(1)
    };
    let never = |span: &str| {
        let clause = format!("never = \"(lamp is above 25 %) for {span}\"");
        answer(CELL, &clause, &terms)
    };
    // Half a minute until it is said, and the fade of half a minute down.
    is_proved(&never("61 s"));
    assert!(!matches!(never("50 s").verdict, Verdict::Proved(_)));
}

/// Which sources no listener ever counts as lost, with so many frames lost: those whose silence is
/// longer than all the reports that may be missed (3.2 intervals, OUT-11).
#[test]
fn reports_are_left_out_only_where_no_source_can_be_silent_for_too_long() {
    let corridor = annex::room("corridor");
    let idle = |lose: u8, dead: &[SourceId], tolerance: u16| {
        let mut plan = corridor.plan.clone();
        let faults = Faults {
            lose,
            dead: dead.to_vec(),
            ..Faults::default()
        };
        let slowest = |_, _| Span::from_ms(10);
        let idle = without_idle_reports(&mut plan, &faults, tolerance, slowest);
        for (id, source) in (0..).map(SourceId).zip(&plan.sources) {
            let is_idle = idle.iter().any(|(it, _)| *it == id);
            if let SourceSettings::Occupancy(it) = &source.settings {
                assert_eq!(
                    (it.report.is_none(), it.repeat.is_none()),
                    (is_idle, is_idle)
                );
            }
            for &(listener, index) in &source.listeners {
                let heard = &plan.controllers[usize::from(listener.0)].settings.heard;
                let silence = heard[usize::from(index)].silence;
                assert_eq!(silence.is_none(), is_idle, "{}", source.name);
            }
        }
        idle.len()
    };
    let all = corridor.plan.sources.len();
    assert_eq!([1, 2, 3].map(|lose| idle(lose, &[], 0)), [all, all, 0]);
    assert_eq!(idle(1, &[SourceId(0)], 0), all - 1);
    assert_eq!([idle(2, &[], 300), idle(2, &[], 400)], [all, 0]);
}
