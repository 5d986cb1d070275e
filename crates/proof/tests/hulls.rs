//! What a hull alone has to prove, because nothing finer would end: each of these came out
//! undecided once.

mod annex;
mod asked;

use proof::{Budget, How, Terms, Verdict};

#[track_caller]
fn a_hull_proves(room: &str, clause: &str) {
    let budget = Budget {
        transitions: 400_000,
        ..Budget::default()
    };
    let answer = asked::answer(&annex::room(room), clause, &Terms::default(), budget);
    let is_proved = matches!(answer.verdict, Verdict::Proved(_));
    assert!(
        is_proved && answer.effort.how == How::Hull,
        "{clause}: {answer:?}"
    );
}

/// The lights go off a while after the last press at either of two wall units: a hull of rooms in
/// which the one was last and of rooms in which the other was holds rooms in which neither was.
#[test]
fn which_of_two_wall_units_was_last_is_kept_in_mind() {
    a_hull_proves("conference-room", "M6.table");
}

/// Only the order of the entries of a clock counts here, not the spans between them.
#[test]
fn moments_of_a_calendar_that_differ_in_spans_only_are_one() {
    a_hull_proves("corridor", "C7");
}
