//! Cuts of power: whose they may be, how many, and how long.

mod asked;
mod texts;

use proof::{Budget, Terms, Verdict};

/// A sensor with a battery of its own, and three lamps that listen to it, each on a controller; a
/// fourth lamp has a button, a fifth a sensor on the mains.
const ROOM: &str = r#"
name = "Five lamps"
[controllers.north]
[controllers.south]
[controllers.west]
[outputs.lamp-a]
drive = "relay"
power-up = "off"
controller = "north"
[outputs.lamp-b]
drive = "relay"
power-up = "off"
controller = "south"
[outputs.lamp-c]
drive = "relay"
power-up = "off"
controller = "west"
[outputs.lamp-d]
drive = "relay"
controller = "west"
[outputs.lamp-e]
drive = "relay"
controller = "west"
[sources.wall]
kind = "switch"
[[links]]
from = "wall"
to = "lamp-d"
[sources.fixed]
kind = "occupancy"
senses = "motion"
[[links]]
from = "fixed"
to = "lamp-e"
role = "auto-on"
[sources.eye]
kind = "occupancy"
senses = "motion"
battery = true
[[links]]
from = "eye"
to = "lamp-a"
role = "auto-on"
[[links]]
from = "eye"
to = "lamp-b"
role = "auto-on"
[[links]]
from = "eye"
to = "lamp-c"
role = "auto-on"
"#;

fn verdict(clause: &str, cuts: u8) -> Verdict {
    on_terms(
        clause,
        &Terms {
            cuts,
            ..Terms::default()
        },
    )
}

fn on_terms(clause: &str, terms: &Terms) -> Verdict {
    let clause = format!("[[clauses]]\nid = \"C\"\nsays = \"-\"\n{clause}\n");
    let room = texts::room(ROOM, &clause);
    asked::answer(&room, "C", terms, Budget::default()).verdict
}

/// The scenario that breaks a clause, and how many stimuli and cuts it takes.
#[track_caller]
fn broken(clause: &str, cuts: u8) -> (String, usize) {
    match verdict(clause, cuts) {
        Verdict::Broken(found) => (found.text, found.happenings),
        other => panic!("{other:?}"),
    }
}

#[track_caller]
fn is_proved(clause: &str, cuts: u8) {
    let found = verdict(clause, cuts);
    assert!(matches!(found, Verdict::Proved(_)), "{found:?}");
}

/// OUT-12: without power a lamp is dark and its state is kept. One controller may lose power while the other has it.
#[test]
fn a_controller_may_lose_power_by_itself() {
    let clause = "never = \"lamp-a is on and lamp-a shows below 50 % and lamp-b shows above 50 %\"";
    is_proved(clause, 0);
    let (text, needed) = broken(clause, 1);
    assert_eq!(needed, 2, "a motion and a cut: {text}");
}

/// Or all that hangs on the mains.
#[test]
fn the_room_may_lose_power_as_a_whole() {
    let clause = "never = \"lamp-a is on and lamp-b is on and lamp-a shows below 50 % \
                  and lamp-b shows below 50 %\"";
    is_proved(clause, 0);
    let (text, needed) = broken(clause, 1);
    assert_eq!(needed, 2, "a motion and a cut: {text}");
    // One cut is one row, though no clause speaks of the third lamp.
    assert!(text.contains("\"room\", \"power cut\"]"), "{text}");
}

/// To all devices of the room a cut happens once: a tap is a press and a release, and one more.
#[test]
fn a_cut_of_the_room_is_one_thing_that_happens() {
    let dark = "(lamp-a is on and lamp-b is on and lamp-a shows below 50 % \
                and lamp-b shows below 50 %)";
    let tap = "(lamp-a is on and lamp-d is on and not (wall is down))";
    let clause = format!("never = \"{dark} or {tap}\"");
    let (text, needed) = broken(&clause, 0);
    assert_eq!(needed, 3, "{text}");
    let (text, needed) = broken(&clause, 1);
    assert_eq!(needed, 2, "{text}");
}

/// OUT-12: a lamp goes off once by its sensor, and stays off once after each cut.
#[test]
fn no_more_cuts_come_than_are_allowed() {
    let clause = "never = \"more than 2 lamp-a turns off\"\nwithin = \"5 min\"";
    is_proved(clause, 1);
    broken(clause, 2);
}

/// What a report brings back comes soon after the cut: nobody needs to keep the sensor occupied.
#[test]
fn a_cut_may_be_over_after_a_second() {
    let clause = "never = \"lamp-a turns on\"\nwhile = \"eye is occupied for 30 s\"";
    assert_eq!(verdict(clause, 0), Verdict::NeverExercised);
    let (text, needed) = broken(clause, 1);
    assert!(needed <= 4, "{text}");
}

/// A source that died has nothing of it that the room has power again: the one cut is that which
/// darkens the lamp, and so none is left that would bring the source back.
#[test]
fn a_source_that_died_stays_dead_after_a_cut_of_the_room() {
    let dark = "(lamp-a is on and lamp-a shows below 50 % and fixed is lost) becomes true";
    let clause = format!("never = \"fixed becomes occupied within 1 h of ({dark})\"");
    let terms = Terms {
        cuts: 1,
        dead: vec!["fixed".to_owned()],
        ..Terms::default()
    };
    let found = on_terms(&clause, &terms);
    assert!(matches!(found, Verdict::Proved(_)), "{found:?}");
}
