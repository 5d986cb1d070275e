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

/// However many run-ons end together, and no clause sees it, there are as many classes as with two.
#[test]
fn timers_that_end_together_are_no_classes_of_their_own() {
    let classes = |count: usize| {
        let bright: Vec<String> = (1..=count)
            .map(|it| format!("lamp-{it} is above 60 %"))
            .collect();
        let clause = format!("never = \"{}\"", bright.join(" or "));
        proved(&lamps(count), &clause).classes
    };
    assert_eq!([3, 4, 5].map(classes), [classes(2); 3]);
}
