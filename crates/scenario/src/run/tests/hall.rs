//! Scenarios in a hall with a clock, a card, signals, clauses and a link that is to be taught.

use std::sync::Arc;

use device::Payload;

use super::super::*;
use super::{failures, last, root};
use crate::Sources;
use crate::room_file::read_room;
use crate::script::load;

const ROOM: &str = r#"
name      = "Hall"
time-zone = "Europe/Berlin"

[outputs.hall-lights]
drive  = "0-10 V"
egress = { floor = "10 %" }

[outputs.stage-lights]
drive = "relay"

[outputs.air]
drive        = "dry contact"
closed-means = "outside air"

[sources.ceiling-1]
kind = "occupancy"

[sources.new-sensor]
kind = "occupancy"

[sources.stage-button]
kind    = "switch"
buttons = "single"

[sources.door-card]
kind = "card"

[sources.house-clock]
kind     = "clock"
hours    = { weekdays = "08:00 to 18:00" }
holidays = "2026-12-25"
sweeps   = "22:00"

[sources.mains]
kind = "normal power"

[sources.alarm]
kind = "fire alarm"

[sources.grid]
kind = "demand response"

[[links]]
from = "ceiling-1"
to   = ["hall-lights", "air"]
role = "auto-on"
run-on = "1 min"

[[links]]
from   = "new-sensor"
to     = "stage-lights"
role   = "auto-on"
stored = false

[[links]]
from = "stage-button"
to   = "stage-lights"

[[links]]
from = "door-card"
to   = "air"

[[links]]
from = "house-clock"
to   = "stage-lights"
role = "sweep"

[[links]]
from = "mains"
to   = "hall-lights"

[[links]]
from = "alarm"
to   = "hall-lights"

[[links]]
from = "grid"
to   = "hall-lights"
"#;

const SEQUENCE: &str = r#"
[[clauses]]
id    = "H1"
says  = "The stage is dark without a hand on its button."
never = "ceiling-1 turns on stage-lights"

[[clauses]]
id    = "H2"
says  = "Air comes with people."
when  = "ceiling-1 becomes occupied"
then  = "air is closed"

[[clauses]]
id    = "H3"
says  = "The stage goes dark ten minutes after it was lit."
when  = "stage-lights turns on"
then  = "stage-lights is off"
within = "10 min"

[[clauses]]
id    = "H4"
says  = "Nobody shuts the air."
never = "air is open and hall-lights is on"
"#;

/// The outcome of a scenario in the hall.
fn outcome(scenario: &str) -> Outcome {
    let mut sources = Sources::new();
    let room = sources.add("room.toml", ROOM);
    let sequence = sources.add("sequence.toml", SEQUENCE);
    let (room, found) = read_room(&sources, room, Some(sequence), None);
    let file = sources.add("scenario.toml", scenario);
    let room = room.unwrap_or_else(|| panic!("{:?}", found));
    let loaded = load(&mut sources, file, &room);
    let said: Vec<String> = (loaded.diagnostics.iter())
        .map(|one| one.render(&sources, false))
        .collect();
    let script = loaded.scripts.into_iter().next();
    run(
        &Arc::new(script.unwrap_or_else(|| panic!("{}", said.join("\n")))),
        0,
    )
}

fn rows(start: &str, rows: &str) -> Outcome {
    outcome(&format!(
        "title = \"x\"\nstart = \"{start}\"\nrows = [\n{rows}\n]\n"
    ))
}

#[test]
fn the_calendar_of_a_clock_comes_by_itself() {
    let outcome = rows(
        "2026-03-02 20:00",
        r#"["20:01", "stage-button", "tap"], ["21:59", "stage-lights", "is on"],
           ["start", "stage-lights", "press-hold = 2 h"],
           ["22:00", "house-clock", "sends sweep"],
           ["22:07", "stage-lights", "is off"]"#,
    );
    assert_eq!(failures(&outcome), [""; 0]);
}

/// CLK-1: the night in which the clocks go forward has no 02:30, and the run is an hour shorter.
#[test]
fn the_night_of_a_change_to_daylight_saving_is_an_hour_shorter() {
    let outcome = rows(
        "2026-03-28 22:30",
        r#"["start", "house-clock", "sweeps = 02:30"],
           ["day 2 03:00", "house-clock", "sends sweep"],
           ["day 2 06:00", "stage-lights", "is off"]"#,
    );
    assert_eq!(failures(&outcome), [""; 0]);
    assert_eq!(outcome.end().as_ms(), 23_400_000);
}

/// CLK-1: a time that comes twice runs the first time only; `again` is the second.
#[test]
fn the_night_of_a_change_from_daylight_saving_runs_a_sweep_once() {
    let outcome = rows(
        "2026-10-24 22:30",
        r#"["start", "house-clock", "sweeps = 02:30"],
           ["day 2 02:30", "house-clock", "sends sweep"],
           ["day 2 02:31 to day 2 06:00", "house-clock", "never sends sweep"],
           ["day 2 02:30 again", "house-clock", "never sends sweep for 1 s"]"#,
    );
    assert_eq!(failures(&outcome), [""; 0]);
    assert_eq!(outcome.end().as_ms(), 30_600_000);
}

#[test]
fn a_clock_that_is_set_an_hour_ahead_closes_an_hour_early() {
    let outcome = rows(
        "2026-03-02 12:00",
        r#"["13:00", "house-clock", "set to 14:00"],
           ["17:00", "house-clock", "sends after hours"],
           ["17:30", "house-clock", "set right"],
           ["17:30", "house-clock", "sends in hours"],
           ["18:00", "house-clock", "sends after hours"]"#,
    );
    assert_eq!(failures(&outcome), [""; 0]);
}

#[test]
fn signals_and_cards_are_said_in_the_words_of_the_trade() {
    let outcome = rows(
        "2026-03-02 12:00",
        r#"["12:00", "mains", "lost"], ["12:00:01", "hall-lights", "is in emergency"],
           ["12:00:01", "hall-lights", "is 100 %"], ["12:01", "mains", "back"],
           ["12:02", "hall-lights", "is not in emergency"],
           ["12:03", "alarm", "sounds"], ["12:03:01", "hall-lights", "shows 100 %"],
           ["12:04", "alarm", "stops"],
           ["12:10", "ceiling-1", "motion"], ["12:11", "grid", "sheds 20 points"],
           ["12:13", "hall-lights", "is 80 %"], ["12:14", "grid", "ends"],
           ["12:16", "hall-lights", "is 100 %"],
           ["13:00", "door-card", "card in"], ["13:01", "air", "is closed"],
           ["13:02", "door-card", "card out"], ["13:20", "air", "is open"]"#,
    );
    assert_eq!(failures(&outcome), [""; 0]);
}

#[test]
fn a_contact_was_closed_or_open_and_asked_on_or_off() {
    let outcome = rows(
        "2026-03-02 12:00",
        r#"["12:00", "ceiling-1", "motion"], ["12:01", "air", "is open"],
           ["12:01", "air", "is off"], ["12:02", "air", "relay sticks open"],
           ["12:03", "air", "is closed"], ["12:03", "air", "warns"]"#,
    );
    assert_eq!(
        failures(&outcome),
        [
            "12:01:00: was closed",
            "12:01:00: was on",
            "12:03:00: was open",
            "12:03:00: was open"
        ]
    );
}

#[test]
fn a_link_is_taught_and_then_works() {
    let outcome = rows(
        "2026-03-02 12:00",
        r#"["12:00", "new-sensor", "motion"], ["12:01", "stage-lights", "is off"],
           ["12:30", "stage-lights", "learning opens"], ["12:30:05", "new-sensor", "teach in"],
           ["12:40", "new-sensor", "motion"], ["12:41", "stage-lights", "is on"]"#,
    );
    assert_eq!(failures(&outcome), [""; 0]);
}

#[test]
fn a_walk_test_is_short_and_ends_by_itself() {
    let outcome = rows(
        "2026-03-02 12:00",
        r#"["12:00", "ceiling-1", "walk test on"], ["12:01", "ceiling-1", "motion"],
           ["12:01:04.999", "ceiling-1", "is occupied"], ["12:01:05", "ceiling-1", "is vacant"],
           ["13:30", "ceiling-1", "motion"], ["13:31", "ceiling-1", "is occupied"]"#,
    );
    assert_eq!(failures(&outcome), [""; 0]);
}

/// The verdict of clauses and of the whole for one story under several expectations.
#[test]
fn a_scenario_is_held_when_just_what_is_expected_breaks() {
    let verdict = |expect: &str, rows: &str| {
        let outcome = outcome(&format!(
            "title = \"x\"\nstart = \"2026-03-02 12:00\"\n{expect}\nrows = [\n{rows}\n]\n"
        ));
        outcome.verdict
    };
    let lit = r#"["12:00", "stage-button", "tap"], ["12:12", "stage-lights", "is on"],"#;
    assert_eq!(verdict("", lit), Verdict::Broken);
    assert_eq!(verdict("expect = \"broken H3\"", lit), Verdict::Held);
    assert_eq!(verdict("expect = \"broken H2\"", lit), Verdict::Broken);
    assert_eq!(
        verdict("expect = [\"broken H3\", \"never exercised H2\"]", lit),
        Verdict::Held
    );
    assert_eq!(
        verdict("expect = [\"broken H3\", \"held H2\"]", lit),
        Verdict::Undecided
    );
    let pending = r#"["12:00", "stage-button", "tap"], ["12:05", "stage-lights", "is on"],"#;
    assert_eq!(
        verdict("", pending),
        Verdict::Held,
        "an open clause does not count"
    );
    assert_eq!(verdict("expect = \"held H3\"", pending), Verdict::Undecided);
    assert_eq!(verdict("expect = \"open H3\"", pending), Verdict::Held);
}

#[test]
fn a_broken_clause_leads_back_to_the_row() {
    let outcome = rows(
        "2026-03-02 12:00",
        r#"["12:00", "stage-button", "tap"], ["12:12", "stage-lights", "is on"],"#,
    );
    let broken = last(&outcome, |what| {
        matches!(what, What::Clause(2, clause::Turn::Broken))
    });
    // The tap is told when the button is up again; the deadline is missed 1 ms later (ORD-2).
    assert_eq!(
        outcome.trace.steps[broken.index()].at.as_ms(),
        110 + 600_000 + 1
    );
    let Root::Row(row) = root(&outcome, broken) else {
        panic!("only a row was there");
    };
    assert_eq!(outcome.script.rows[row].says, "tap");
}

/// CLK-1: what a calendar brings about has the calendar at its root.
#[test]
fn what_a_calendar_brings_about_has_the_clock_at_its_root() {
    let outcome = rows(
        "2026-03-02 17:00",
        r#"["18:00", "house-clock", "sends after hours"],"#,
    );
    let sent = last(&outcome, |what| {
        matches!(what, What::Sent(_, _, Payload::AfterHours))
    });
    assert!(matches!(root(&outcome, sent), Root::Calendar(_)));
}
