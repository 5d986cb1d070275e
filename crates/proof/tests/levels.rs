//! Levels on their way: a clause that compares one is judged where the level passes its border,
//! though nothing else happens there, and whatever hangs on that moment is found.

mod asked;
mod texts;

use proof::{Answer, Budget, Terms, Verdict};

/// The grid takes half off a lamp within a minute.
const SHED: &str = r#"
name = "Room"

[outputs.lamp]
drive = "0-10 V"
fade-on = "0 s"
shed = "50 points"
shed-fade = "60 s"

[sources.grid]
kind = "demand response"

[sources.pad]
kind = "switch"
buttons = "bright scene"

[scenes.bright]
lamp = "100 %"

[[links]]
from = "grid"
to = "lamp"
"#;

/// A lamp that is lit for a minute after a motion, on a bus that takes 10 ms, 11 at the most.
const FADE: &str = r#"
name = "Room"

[bus]
jitter = "1 ms"

[outputs.lamp]
drive = "0-10 V"
fade-off = "2 s"

[sources.eye]
kind = "occupancy"
senses = "motion"
time-delay = "1 min"

[[links]]
from = "eye"
to = "lamp"
role = "auto-on"
"#;

/// A corner lamp comes on by motion unless the wall lamp, which dims, is bright enough already.
const HOLD_OFF: &str = r#"
name = "Room"
[outputs.corner]
drive = "relay"

[outputs.wall]
drive = "0-10 V"

[sources.eye]
kind = "occupancy"
senses = "motion"
hold-off = "45 lx"
electric = { wall = "100 lx" }

[sources.unit]
kind = "switch"
buttons = "up/down"

[[links]]
from = "eye"
to = "corner"
role = "auto-on"

[[links]]
from = "unit"
to = "wall"
"#;

fn answer(room: &str, clause: &str) -> Answer {
    let clause = format!("[[clauses]]\nid = \"A1\"\nsays = \"-\"\n{clause}\n");
    let room = texts::room(room, &clause);
    asked::answer(&room, "A1", &Terms::default(), Budget::default())
}

#[track_caller]
fn is_broken(room: &str, clause: &str) {
    let answer = answer(room, clause);
    assert!(matches!(answer.verdict, Verdict::Broken(_)), "{answer:?}");
}

/// From 100 to 50 % in 60 s: the level passes 80 % after 24 s, and has been below it for 30 s
/// after 54 s, at a level that no setting and no clause names. Nobody ends the shed, so there is
/// no way back on which it would be seen otherwise.
#[test]
fn a_deadline_that_starts_at_a_border_is_due_wherever_the_level_is_then() {
    is_broken(
        SHED,
        "never = \"(lamp is on and lamp is below 80 %) for 30 s\"\n\
         unless = \"(grid is active) for 55 s\"\n\
         [[clauses]]\nid = \"A2\"\nsays = \"-\"\nassume = true\nwhen = \"grid sheds\"\nthen = \"grid is active\"\nfor = \"1 h\"",
    );
}

/// A frame may take 10 or 11 ms: one that has not arrived yet when the clause breaks is late.
#[test]
fn a_frame_that_has_not_arrived_at_the_end_is_told_to_be_late() {
    let clause = "never = \"motion at eye\"\nwhile = \"(lamp is above 20 %) for 120 s\"";
    is_broken(FADE, clause);
}

/// A lamp that only a clock turns on and off, with slow fades.
const CLOCK: &str = r#"
name = "Room"
time-zone = "Europe/London"
reaction = "0 s"

[outputs.lamp]
drive = "0-10 V"
fade-on = "10 s"
fade-off = "10 s"

[sources.clock]
kind = "clock"
hours = { weekdays = "08:00 to 18:00" }
sweeps = ["20:00"]

[[links]]
from = "clock"
to = "lamp"
role = "opening"

[[links]]
from = "clock"
to = "lamp"
role = "sweep"
"#;

/// Nothing happens between the start of a fade and its end, and no deadline of the clause either:
/// the level between them is looked at all the same.
#[test]
fn a_level_is_looked_at_though_nothing_can_happen_while_it_is_on_its_way() {
    is_broken(
        CLOCK,
        "never = \"lamp shows at least 40 % and lamp shows at most 60 %\"",
    );
}

/// OCC-9: on a stretch of levels on which no clause changes its answer a sensor may change its
/// mind. So what holds whatever light it sees is proved, and what hangs on it breaks either way.
#[test]
fn a_sensor_that_sees_lamps_on_their_way_may_see_any_light() {
    let verdict = |clause: &str| answer(HOLD_OFF, clause).verdict;
    let sure = "when = \"corner turns on\"\nthen = \"corner is 100 %\"";
    assert!(matches!(verdict(sure), Verdict::Proved(_)));
    let dark = "when = \"corner turns on\"\nthen = \"wall shows above 40 %\"";
    assert!(matches!(verdict(dark), Verdict::Broken(_)));
    let bright = "when = \"motion at eye\"\nthen = \"corner is on\"";
    assert!(matches!(verdict(bright), Verdict::Broken(_)));
}
