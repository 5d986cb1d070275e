//! The rooms that `roomrig new` writes keep their sequences on every day, not only on that of their
//! scenario.

mod asked;
mod texts;

use proof::{Budget, Terms, Verdict};
use scenario::starter::STARTERS;

#[test]
fn every_clause_of_a_starter_room_is_proved() {
    let mut proved = 0;
    for (name, files) in STARTERS {
        let text = |wanted: &str| {
            let mut files = files.iter();
            let found = files.find(|file| file.name == wanted);
            found.expect("a starter has the file").text
        };
        let room = texts::room(text("room.toml"), text("sequence.toml"));
        for clause in &room.plan.clauses {
            let id = &clause.id;
            let found = asked::answer(&room, id, &Terms::default(), Budget::default()).verdict;
            assert!(
                matches!(found, Verdict::Proved(Some(_))),
                "{name}, {id}: {found:?}"
            );
            proved += 1;
        }
    }
    assert_eq!(proved, 7);
}
