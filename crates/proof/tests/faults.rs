//! What may go wrong, on rooms of the annex: what breaks then is a run that says what went wrong,
//! and what still holds is proved.

mod annex;
mod asked;

use annex::room;
use proof::{Budget, Terms, Verdict};
use scenario::room_file::RoomFile;

fn verdict(room: &RoomFile, clause: &str, terms: &Terms) -> Verdict {
    let budget = Budget {
        transitions: 2_000_000,
        ..Budget::default()
    };
    asked::answer(room, clause, terms, budget).verdict
}

/// The rows of the scenario that breaks a clause; it was run, and broke it.
#[track_caller]
fn rows(room: &RoomFile, clause: &str, terms: &Terms) -> Vec<String> {
    let found = verdict(room, clause, terms);
    let Verdict::Broken(witness) = found else {
        panic!("{clause}: {found:?}");
    };
    assert!(witness.happenings <= 6, "{}", witness.text);
    let lines = witness.text.lines().map(str::trim);
    let rows = lines.filter(|line| line.starts_with("[\""));
    rows.map(|row| row.split_whitespace().collect::<Vec<_>>().join(" "))
        .collect()
}

/// A row ends so in one of the rows.
#[track_caller]
fn says(rows: &[String], end: &str) {
    assert!(
        rows.iter().any(|row| row.ends_with(end)),
        "{end}: {rows:#?}"
    );
}

#[track_caller]
fn is_proved(room: &RoomFile, clause: &str, terms: &Terms) {
    let found = verdict(room, clause, terms);
    assert!(matches!(found, Verdict::Proved(_)), "{clause}: {found:?}");
}

/// The frame of the person who comes back in the warning is lost: dark, with somebody there.
#[test]
fn the_frame_that_must_be_lost_is_named() {
    let room = room("three-offices");
    let terms = Terms {
        lose: 1,
        ..Terms::default()
    };
    let rows = rows(&room, "T4.201", &terms);
    says(
        &rows,
        "\"sensor-201 to room-controller\", \"next frame lost\"],",
    );
    is_proved(&room, "T4.201", &Terms::default());
    // What the repeats of a sensor make good holds with a frame less.
    is_proved(&room, "T6.201", &terms);
}

#[test]
fn a_power_cut_that_breaks_a_clause_is_a_row() {
    let room = room("private-office");
    let terms = Terms {
        cuts: 1,
        ..Terms::default()
    };
    let rows = rows(&room, "A10", &terms);
    assert!(
        rows.iter().any(|row| row.contains("power cut")),
        "{rows:#?}"
    );
    is_proved(&room, "A6", &terms);
}

#[test]
fn a_clock_that_runs_fast_is_a_row() {
    let room = room("private-office");
    let terms = Terms {
        tolerance: 500,
        ..Terms::default()
    };
    says(
        &rows(&room, "A9", &terms),
        "\"wall-sensor\", \"clock 5 % fast\"],",
    );
    is_proved(&room, "A6", &terms);
}

#[test]
fn a_source_that_dies_is_a_row() {
    let room = room("three-offices");
    let terms = Terms {
        dead: vec!["sensor-201".to_owned()],
        ..Terms::default()
    };
    says(
        &rows(&room, "T4.201", &terms),
        "\"sensor-201\", \"power cut\"],",
    );
    is_proved(&room, "T2", &terms);
}
