//! What a proof covers beyond what the devices do by themselves: losses are counted, a late frame
//! and a slow clock are thought of, what is taken for granted is, and no link answers for another.

mod asked;
mod texts;

use std::sync::atomic::AtomicBool;

use proof::{Budget, Terms, Verdict};
use scenario::room_file::RoomFile;

/// A lamp that is lit from a motion to five minutes after the last.
const ROOM: &str = r#"
name = "Room"
reaction = "0 s"

[outputs.lamp]
drive = "relay"

[sources.eye]
kind = "occupancy"
senses = "motion"
time-delay = "5 min"
dead-time = "0 s"

[[links]]
from = "eye"
to = "lamp"
role = "auto-on"
"#;

fn clause(id: &str, rest: &str) -> String {
    format!("[[clauses]]\nid = \"{id}\"\nsays = \"-\"\n{rest}\n")
}

fn verdict(room: &RoomFile, terms: &Terms) -> Verdict {
    asked::answer(room, "A1", terms, Budget::default()).verdict
}

#[track_caller]
fn is_proved(room: &RoomFile, terms: &Terms) {
    let found = verdict(room, terms);
    assert!(matches!(found, Verdict::Proved(_)), "{found:?}");
}

#[track_caller]
fn is_broken(room: &RoomFile, terms: &Terms) {
    let found = verdict(room, terms);
    assert!(matches!(found, Verdict::Broken(_)), "{found:?}");
}

/// The sensor says again after four minutes that it is vacant, and after eight.
#[test]
fn a_report_makes_good_one_loss_and_not_two() {
    let dark = clause(
        "A1",
        "when = \"no motion at eye for 11 min\"\nthen = \"lamp is off\"",
    );
    let room = texts::room(ROOM, &dark);
    let losing = |lose| Terms {
        lose,
        ..Terms::default()
    };
    is_proved(&room, &losing(1));
    is_broken(&room, &losing(2));
}

#[test]
fn a_frame_may_take_its_whole_jitter() {
    let jitter = format!("{ROOM}\n[bus]\njitter = \"30 ms\"\n");
    let lit = |within: &str| {
        let then = "when = \"motion at eye\"\nthen = \"lamp is on\"";
        let lit = clause("A1", &format!("{then}\nwithin = \"{within}\""));
        texts::room(&jitter, &lit)
    };
    is_broken(&lit("39 ms"), &Terms::default());
    is_proved(&lit("40 ms"), &Terms::default());
}

#[test]
fn a_slow_clock_keeps_the_lamp_longer() {
    let dark = |time: &str| {
        let when = format!("when = \"no motion at eye for {time}\"\nthen = \"lamp is off\"");
        texts::room(ROOM, &clause("A1", &when))
    };
    let slow = Terms {
        tolerance: 100,
        ..Terms::default()
    };
    is_broken(&dark("302 s"), &slow);
    is_proved(&dark("302 s"), &Terms::default());
    is_proved(&dark("303100 ms"), &slow);
}

#[test]
fn what_the_sequence_takes_for_granted_counts() {
    // A second sensor, that nobody is to pass.
    let other = ROOM.split_once("[sources.eye]").expect("it is there").1;
    let other = other.replace("from = \"eye\"", "from = \"cellar\"");
    let text = format!("{ROOM}\n[sources.cellar]{other}");
    let never = clause(
        "A1",
        "never = \"lamp is on and no motion at eye for 6 min\"",
    );
    is_broken(&texts::room(&text, &never), &Terms::default());
    let empty = clause("A2", "assume = true\nnever = \"motion at cellar\"");
    is_proved(
        &texts::room(&text, &format!("{never}{empty}")),
        &Terms::default(),
    );
    let lit = "when = \"motion at cellar\"\nthen = \"lamp is on\"\nwithin = \"1 s\"";
    let room = texts::room(&text, &format!("{}{empty}", clause("A1", lit)));
    let found = verdict(&room, &Terms::default());
    assert_eq!(found, Verdict::NeverExercised, "nobody can come");
}

/// Two lamps of one kind, one of them on a slow link.
#[test]
fn a_slow_link_does_not_answer_for_a_quick_one() {
    let mut text = "name = \"Room\"\nreaction = \"0 s\"\n".to_owned();
    let mut sequence = String::new();
    for (place, delay) in [("a", "10 ms"), ("b", "40 ms")] {
        let of_it = [
            format!("[outputs.lamp-{place}]\ndrive = \"relay\"\n"),
            format!("[sources.eye-{place}]\nkind = \"occupancy\"\nsenses = \"motion\"\n"),
            format!("bus = {{ delay = \"{delay}\" }}\n"),
            format!("[[links]]\nfrom = \"eye-{place}\"\nto = \"lamp-{place}\"\n"),
            "role = \"auto-on\"\n".to_owned(),
        ];
        text.extend(of_it);
        let then = format!("when = \"motion at eye-{place}\"\nthen = \"lamp-{place} is on\"");
        sequence += &clause(place, &format!("{then}\nwithin = \"20 ms\""));
    }
    let room = texts::room(&text, &sequence);
    let stop = AtomicBool::new(false);
    let (terms, budget) = (Terms::default(), Budget::default());
    let answers = proof::prove(&room, &[0, 1], &terms, budget, &asked::Deaf, &stop);
    let found: Vec<&Verdict> = answers.iter().map(|it| &it.verdict).collect();
    assert!(
        matches!(found[..], [Verdict::Proved(_), Verdict::Broken(_)]),
        "{found:?}"
    );
}

/// A sweep asks once where two rooms ask the same: not where frames take unlike times.
#[test]
fn links_of_another_quality_are_another_question() {
    let lit = "when = \"motion at eye\"\nthen = \"lamp is on\"\nwithin = \"1 s\"";
    let room = |bus: &str| texts::room(&format!("{ROOM}{bus}"), &clause("A1", lit));
    let asks_the_same = |bus: &str| {
        let (plain, other) = (room(""), room(bus));
        proof::asks_the_same(&plain, &other, &Terms::default(), 0)
    };
    assert!(asks_the_same(""));
    assert!(!asks_the_same("[bus]\ndelay = \"20 ms\"\n"));
}
