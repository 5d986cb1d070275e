//! Cuts of power: whose they may be, how many, and how long.

mod asked;
mod texts;

use proof::{Budget, Terms, Verdict};

/// A sensor with a battery of its own, and three lamps that listen to it, each on a controller; a
/// fourth lamp has a button, a fifth a sensor on the mains.
const OTHERS: &str = r#"
name = "Five lamps"
[controllers.north]
[controllers.south]
[controllers.west]
[outputs.lamp-d]
drive = "relay"
controller = "west"
[outputs.lamp-e]
drive = "relay"
controller = "west"
[sources.wall]
kind = "switch"
[sources.fixed]
kind = "occupancy"
senses = "motion"
[sources.eye]
kind = "occupancy"
senses = "motion"
battery = true
[[links]]
from = "wall"
to = "lamp-d"
[[links]]
from = "fixed"
to = "lamp-e"
role = "auto-on"
"#;

/// A lamp of the first three.
fn lamp(name: &str, controller: &str) -> String {
    format!(
        "[outputs.{name}]\ndrive = \"relay\"\npower-up = \"off\"\ncontroller = \"{controller}\"\n\
         [[links]]\nfrom = \"eye\"\nto = \"{name}\"\nrole = \"auto-on\"\n"
    )
}

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
    let lamps = [("lamp-a", "north"), ("lamp-b", "south"), ("lamp-c", "west")];
    let lamps = lamps.map(|(name, controller)| lamp(name, controller));
    let room = texts::room(&format!("{OTHERS}{}", lamps.concat()), &clause);
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

/// OUT-12: without power a lamp is dark and its state is kept. One controller may lose power while
/// the other has it.
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
    assert_eq!(needed, 3, "{text}");
    // Rounder instants of a path must not make the cut shorter than it may be.
    for row in [
        "\"08:03:59\",     \"north\", \"power cut\"]",
        "\"08:04:00.010\", \"north\", \"power back\"]",
    ] {
        assert!(text.contains(row), "{text}");
    }
}

/// A source that died does not come back with the power of the room: the one cut darkens the lamp,
/// and none is left for the source.
#[test]
fn a_source_that_died_stays_dead_after_a_cut_of_the_room() {
    let dark = "(lamp-a is on and lamp-a shows below 50 % and fixed is lost) becomes true";
    let clause = format!("never = \"fixed becomes occupied within 1 h of ({dark})\"");
    let found = on_terms(&clause, &mortal(1));
    assert!(matches!(found, Verdict::Proved(_)), "{found:?}");
}

/// It may also be cut like any other, and then it comes back.
#[test]
fn a_source_that_may_die_may_be_cut_as_well() {
    let clause = "never = \"fixed becomes occupied within 1 h of (fixed is lost becomes true)\"";
    let found = on_terms(clause, &mortal(0));
    assert!(matches!(found, Verdict::Proved(_)), "{found:?}");
    let Verdict::Broken(found) = on_terms(clause, &mortal(1)) else {
        panic!("a cut is allowed");
    };
    for row in ["\"fixed\", \"power cut\"]", "\"fixed\", \"power back\"]"] {
        assert!(found.text.contains(row), "{row}: {}", found.text);
    }
}

/// The sensor on the mains may die, and so many cuts may come.
fn mortal(cuts: u8) -> Terms {
    Terms {
        cuts,
        dead: vec!["fixed".to_owned()],
        ..Terms::default()
    }
}
