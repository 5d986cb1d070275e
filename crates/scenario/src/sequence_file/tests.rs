//! Every example of the README's chapter on clauses is read.

use clause::Formula;

use super::SEQUENCE;
use crate::room_file::{RoomFile, read_room};
use crate::{Severity, Sources};

const README: &str = include_str!("../../../../README.md");

/// A room with everything that the chapter speaks of.
const ROOM: &str = "name = \"Test\"\n\
[outputs.desk-lights]\ndrive = \"0-10 V\"\nwarning = \"30 s\"\ngroup = \"both\"\n\
[outputs.wall-lights]\ndrive = \"0-10 V\"\ngroup = \"both\"\n\
[outputs.desk-outlet]\ndrive = \"receptacle\"\n[outputs.air]\ndrive = \"dry contact\"\n\
[sources.wall-sensor]\nkind = \"occupancy\"\nsenses = [\"motion\", \"sound\"]\n\
[sources.wall-button]\nkind = \"switch\"\n\
[sources.wall-unit]\nkind = \"switch\"\nbuttons = [\"zone-a up/down\"]\n\
[sources.door-card]\nkind = \"card\"\n[sources.hall-clock]\nkind = \"clock\"\n\
[sources.photo]\nkind = \"daylight\"\n[sources.mains]\nkind = \"normal power\"\n\
[sources.alarm]\nkind = \"fire alarm\"\n[sources.grid]\nkind = \"demand response\"\n";

fn room(sequence: Option<&str>) -> (Option<RoomFile>, String) {
    let mut sources = Sources::new();
    let file = sources.add("room.toml", ROOM);
    let sequence = sequence.map(|text| sources.add("sequence.toml", text));
    let (room, found) = read_room(&sources, file, sequence, None);
    let shown: Vec<String> = found
        .iter()
        .filter(|one| one.severity == Severity::Error)
        .map(|one| one.render(&sources, false))
        .collect();
    (room, shown.join("\n"))
}

fn chapter() -> &'static str {
    let from = README
        .find("### sequence.toml")
        .expect("the chapter stands in README.md");
    let to = README[from..].find("### Scenario files").expect("and ends");
    &README[from..from + to]
}

#[test]
fn every_clause_of_the_readme_is_read() {
    let blocks: Vec<&str> = chapter().split("```toml\n").skip(1).collect();
    assert!(blocks.len() >= 2);
    let mut count = 0;
    for block in blocks {
        let text = block.split("```").next().unwrap();
        let (room, shown) = room(Some(text));
        let room = room.unwrap_or_else(|| panic!("{text}\n{shown}"));
        count += room.plan.clauses.len();
    }
    assert!(count >= 9, "{count}");
}

#[test]
fn everything_that_the_readme_says_can_be_said_can_be_said() {
    let (room, shown) = room(None);
    let room = room.unwrap_or_else(|| panic!("{shown}"));
    let names = room.names();
    let from = chapter().find("**Conditions**").unwrap();
    let to = chapter().find("<!-- reference").unwrap();
    let mut count = 0;
    for row in chapter()[from..to]
        .lines()
        .filter(|line| line.starts_with("| "))
    {
        let said = row.splitn(3, '|').nth(2).unwrap_or("");
        for text in said.split('`').skip(1).step_by(2) {
            let fields = [("when", text), ("then", "desk-lights is on")];
            let formula = Formula::parse(&fields, &names, room.reaction);
            assert!(formula.is_ok(), "{text}: {formula:?}");
            count += 1;
        }
    }
    assert!(count >= 60, "{count}");
}

#[test]
fn every_key_of_a_clause_is_known_to_both() {
    let Some(crate::keys::Value::Many(clause)) = SEQUENCE.key("clauses").map(|key| &key.value)
    else {
        panic!("a sequence has clauses");
    };
    let (room, _) = room(None);
    let names = room.unwrap().names();
    for key in clause.keys {
        let ours = ["id", "says", "assume", "copies", "daylight"].contains(&key.name);
        let fields = [(key.name, "desk-lights is on")];
        let error = Formula::parse(&fields, &names, device::Span::ZERO).err();
        let unknown = error.is_some_and(|error| error.message.contains("has no key"));
        assert_eq!(unknown, ours, "{}", key.name);
    }
}

#[test]
fn a_clause_has_a_daylight_of_its_own_and_an_assumption_has_none() {
    let clause = "[[clauses]]\nid = \"A\"\nsays = \"-\"\ncopies = 2\ndaylight = \"10000 lx\"\n\
                  never = \"desk-lights is at least #0 %\"\n\
                  [[clauses]]\nid = \"B\"\nsays = \"-\"\nnever = \"desk-lights turns on\"\n";
    let (room, shown) = room(Some(clause));
    let daylight = room.unwrap_or_else(|| panic!("{shown}")).daylight;
    let full = device::Illuminance::from_lux(10_000);
    let own = ["A-1", "A-2"].map(|id| (id.to_owned(), full));
    assert_eq!(daylight, own.into());
    for (wrong, said) in [
        (
            "daylight = \"10000 lx\"\nassume = true",
            "has no `daylight` of its own",
        ),
        ("daylight = \"much\"", "lx"),
        ("daylight = 5", "lx"),
    ] {
        let text = format!("[[clauses]]\nid = \"A\"\nsays = \"-\"\n{wrong}\nnever = \"motion\"\n");
        let (room, shown) = self::room(Some(&text));
        assert!(room.is_none() && shown.contains(said), "{wrong}: {shown}");
        assert!(shown.contains("sequence.toml:4:"), "{wrong}: {shown}");
    }
}
