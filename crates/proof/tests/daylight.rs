//! Daylight stands still in a proof, at as much as is said.

mod asked;
mod texts;

use std::sync::atomic::AtomicBool;

use device::Illuminance;
use proof::{Answer, Budget, Terms, Verdict, Why};

/// A lamp at a window; at 10 000 lx outside its sensor reads 1000 lx, and the desk needs no lamp.
const WINDOW: &str = r#"
name = "Window desk"

[outputs.lamp]
drive = "0-10 V"

[sources.eye]
kind = "occupancy"
senses = "motion"

[sources.cell]
kind = "daylight"
daylight = "10 %"

[[links]]
from = "eye"
to = "lamp"
role = "auto-on"

[[links]]
from = "cell"
to = "lamp"
loop = "open"
set-point = "500 lx"
night = { sensor = "0 lx", task = "500 lx" }
day = { sensor = "1000 lx", task = "500 lx" }
"#;

fn answer(clause: &str, lux: u32) -> Answer {
    answer_at(clause, Some(lux))
}

/// The answer at so much daylight; if none is said, at that of the clause.
fn answer_at(clause: &str, lux: Option<u32>) -> Answer {
    let clause = format!("[[clauses]]\nid = \"A1\"\nsays = \"-\"\n{clause}\n");
    let terms = Terms {
        daylight: lux.map(Illuminance::from_lux),
        ..Terms::default()
    };
    let room = texts::room(WINDOW, &clause);
    asked::answer(&room, "A1", &terms, Budget::default())
}

/// DAY-4, DAY-6: in the dark the lamp burns on; as bright as that it has gone down after 30 s.
#[test]
fn what_holds_at_full_daylight_need_not_hold_in_the_dark() {
    let savings = "never = \"lamp shows above 35 % for 2 min\"";
    assert!(matches!(answer(savings, 0).verdict, Verdict::Broken(_)));
    let bright = answer(savings, 10_000);
    assert!(
        matches!(&bright.verdict, Verdict::Proved(Some(shown)) if shown.text.contains("daylight 10000 lx")),
        "{bright:?}"
    );
    let said = bright.assumptions.join("\n");
    assert!(
        said.contains("10000 lx outside from the start on"),
        "{said}"
    );
    let said = answer(savings, 0).assumptions.join("\n");
    assert!(said.contains("it is dark outside"), "{said}");
}

/// DAY-1: a cell is heard for the first time when the run has begun, not as it begins; nobody has
/// lit the lamp by then.
#[test]
fn what_a_cell_sees_becomes_known_after_the_start() {
    let known = "when = \"(not (cell is unknown)) becomes true\"\nthen = \"lamp is on\"";
    let found = answer(known, 0).verdict;
    assert!(
        matches!(&found, Verdict::Broken(found) if found.happenings == 0),
        "{found:?}"
    );
}

/// The counterexample says how bright it is, and breaks in a run because of it.
#[test]
fn what_breaks_by_daylight_is_told_with_it() {
    let always_full = "when = \"lamp turns on\"\nthen = \"lamp is above 90 %\"\nfor = \"1 min\"";
    assert!(matches!(answer(always_full, 0).verdict, Verdict::Proved(_)));
    let found = answer(always_full, 10_000);
    let Verdict::Broken(shown) = &found.verdict else {
        panic!("{found:?}");
    };
    assert!(
        shown.text.contains("\"room\", \"daylight 10000 lx\""),
        "{}",
        shown.text
    );
    assert_eq!(shown.happenings, 1, "the motion; daylight is no happening");
}

/// What a reading has to do with is not called beyond test because it is dark in the proof.
#[test]
fn a_clause_about_a_reading_is_open_where_no_daylight_gives_it() {
    let reading = "never = \"(cell is at least 1000 lx and lamp shows above 35 %) for 2 min\"";
    let open = Verdict::Undecided(Why::StandingDaylight(Illuminance::from_lux(0)));
    assert_eq!(answer(reading, 0).verdict, open);
    assert!(matches!(
        answer(reading, 10_000).verdict,
        Verdict::Proved(Some(_))
    ));
    // Where no reading is spoken of, nothing puts it to the test and that is said.
    let never = "when = \"lamp warns\"\nthen = \"lamp is on\"";
    assert_eq!(answer(never, 0).verdict, Verdict::NeverExercised);
}

/// Its own daylight is what a clause is asked at, unless whoever asks says another.
#[test]
fn a_clause_may_say_at_which_daylight_it_is_to_be_proved() {
    let savings = "never = \"lamp shows above 35 % for 2 min\"\ndaylight = \"10000 lx\"";
    let own = answer_at(savings, None);
    assert!(
        matches!(&own.verdict, Verdict::Proved(Some(shown)) if shown.text.contains("daylight 10000 lx")),
        "{own:?}"
    );
    assert_eq!(own, answer(savings, 10_000));
    let dark = answer(savings, 0);
    assert!(matches!(dark.verdict, Verdict::Broken(_)), "{dark:?}");
    // Two that differ in their daylight only are two questions.
    let clauses = [("A1", "10000 lx"), ("A2", "0 lx")].map(|(id, light)| {
        format!(
            "[[clauses]]\nid = \"{id}\"\nsays = \"-\"\ndaylight = \"{light}\"\n\
             never = \"lamp shows above 35 % for 2 min\"\n"
        )
    });
    let room = texts::room(WINDOW, &clauses.concat());
    let (terms, stop) = (Terms::default(), AtomicBool::new(false));
    let both = proof::prove(
        &room,
        &[0, 1],
        &terms,
        Budget::default(),
        &asked::Deaf,
        &stop,
    );
    assert!(matches!(both[0].verdict, Verdict::Proved(_)));
    assert!(matches!(both[1].verdict, Verdict::Broken(_)));
}
