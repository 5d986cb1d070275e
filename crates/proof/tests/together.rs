//! Timers of a controller that end together elapse one right after the other, in their order: what
//! holds between the two is no moment at which anything else may happen.

mod asked;
mod texts;

use proof::{Budget, Effort, Terms, Verdict};

/// Lamps that stay lit for a minute after the sensor is vacant, each to a preset of its own.
fn lamps(count: usize) -> String {
    let mut room = String::from(
        "name = \"Room\"\n[sources.eye]\nkind = \"occupancy\"\nsenses = \"motion\"\ntime-delay = \"15 min\"\n",
    );
    for lamp in 1..=count {
        room += &format!(
            "[outputs.lamp-{lamp}]\ndrive = \"0-10 V\"\n[[links]]\nfrom = \"eye\"\nto = \"lamp-{lamp}\"\n\
             role = \"partial-on\"\nlevel = \"{lamp}0 %\"\nrun-on = \"1 min\"\n"
        );
    }
    room
}

fn proved(room: &str, clause: &str) -> Effort {
    let clause = format!("[[clauses]]\nid = \"A1\"\nsays = \"-\"\n{clause}\n");
    let room = texts::room(room, &clause);
    let answer = asked::answer(&room, "A1", &Terms::default(), Budget::default());
    assert!(matches!(answer.verdict, Verdict::Proved(_)), "{answer:?}");
    answer.effort
}

/// However many run-ons end together, there are as many classes as with one.
#[test]
fn timers_that_end_together_are_no_classes_of_their_own() {
    let classes = |count: usize| {
        let all: Vec<String> = (1..=count).map(|it| format!("lamp-{it}")).collect();
        let clause = format!(
            "when = \"no motion at eye for 17 min\"\nthen = \"none of {} is on\"",
            all.join(", ")
        );
        proved(&lamps(count), &clause).classes
    };
    assert_eq!([2, 3, 4].map(classes), [classes(2); 3]);
}
