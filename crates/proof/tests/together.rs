//! Timers of a controller that end together elapse one right after the other, in their order: what
//! holds between the two is no moment at which anything else may happen.

mod asked;
mod texts;

use proof::{Budget, Terms, Verdict};

/// So many lamps that a sensor and a wall unit work alike. They differ in what power that returns
/// makes of them, so that none stands for another.
fn lamps(count: usize) -> String {
    let mut room = String::from(
        "name = \"Room\"\n[sources.eye]\nkind = \"occupancy\"\nsenses = \"motion\"\n\
         [sources.unit]\nkind = \"switch\"\nbuttons = \"up/down\"\n",
    );
    for (lamp, power_up) in ["on", "off", "last"].into_iter().enumerate().take(count) {
        room += &format!(
            "[outputs.lamp-{lamp}]\ndrive = \"relay\"\npower-up = \"{power_up}\"\n\
             [[links]]\nfrom = \"eye\"\nto = \"lamp-{lamp}\"\nrole = \"manual-on\"\nrun-on = \"1 min\"\n\
             [[links]]\nfrom = \"unit\"\nto = \"lamp-{lamp}\"\n"
        );
    }
    room
}

/// The classes in which lamps are that no clause sees move.
fn classes(count: usize) -> usize {
    let all: Vec<String> = (0..count)
        .map(|lamp| format!("lamp-{lamp} is in emergency"))
        .collect();
    let clause = format!(
        "[[clauses]]\nid = \"A1\"\nsays = \"-\"\nnever = \"{}\"\n",
        all.join(" and ")
    );
    let room = texts::room(&lamps(count), &clause);
    let answer = asked::answer(&room, "A1", &Terms::default(), Budget::default());
    let is_sure = matches!(answer.verdict, Verdict::NeverExercised);
    assert!(is_sure, "{answer:?}");
    answer.effort.classes
}

/// However many run-ons and press holds end together, there are no more classes.
#[test]
fn timers_that_end_together_are_no_classes_of_their_own() {
    assert_eq!(classes(2), classes(3));
}
