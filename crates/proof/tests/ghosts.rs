//! Outputs that matter only because they share a button: what they do by themselves is not
//! forgotten when a clause is about another one.

mod asked;
mod texts;

use proof::{Answer, Budget, Terms, Verdict};

/// A single button for two lamps, one of which a sensor turns on as well: a tap turns both off
/// then, and the dark one stays dark.
const ROOM: &str = r#"
name = "Room"
reaction = "0 s"

[bus]
delay = "0 s"

[outputs.lamp]
drive = "relay"
press-hold = "none"

[outputs.other]
drive = "relay"

[sources.pad]
kind = "switch"
buttons = "single"

[sources.eye]
kind = "occupancy"

[[links]]
from = "pad"
to = ["lamp", "other"]

[[links]]
from = "eye"
to = "other"
role = "auto-on"
"#;

fn answer(clauses: &str) -> Answer {
    let room = texts::room(ROOM, clauses);
    asked::answer(&room, "A1", &Terms::default(), Budget::default())
}

#[track_caller]
fn is_broken_by_motion(clauses: &str) {
    let answer = answer(clauses);
    let Verdict::Broken(witness) = &answer.verdict else {
        panic!("{answer:?}");
    };
    assert!(witness.text.contains("motion"), "{}", witness.text);
}

const CLAUSE: &str = "[[clauses]]\nid = \"A1\"\nsays = \"A tap lights what was dark.\"\n\
                      never = \"pad tap and lamp is off for 1 s\"\n";

/// Without the sensor both lamps would always stand alike.
#[test]
fn a_lamp_that_only_shares_a_button_is_turned_on_by_its_own_sensor() {
    is_broken_by_motion(CLAUSE);
}

/// Nothing is on its way here, so an exact search ends: with a ghost that proves nothing.
#[test]
fn an_exact_search_with_a_ghost_proves_nothing() {
    let taps = "[[clauses]]\nid = \"A2\"\nsays = \"-\"\nassume = true\nnever = \"pad hold\"\n";
    is_broken_by_motion(&format!("{CLAUSE}{taps}"));
}

/// What a clause asks for only where the other lamp stands otherwise is not beyond test.
#[test]
fn what_only_another_lamp_brings_about_is_exercised() {
    let clauses = "[[clauses]]\nid = \"A1\"\nsays = \"-\"\n\
                   when = \"pad tap and lamp is off for 1 s\"\nthen = \"lamp is off\"\n\
                   [[clauses]]\nid = \"A2\"\nsays = \"-\"\nassume = true\nnever = \"pad hold\"\n";
    let answer = answer(clauses);
    assert!(matches!(answer.verdict, Verdict::Proved(_)), "{answer:?}");
}
