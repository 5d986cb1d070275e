//! `roomrig prove` with what nobody expects: each has its message and its exit code, and nothing
//! is searched before it is known that the answers can be written.

use std::fs;

use crate::prove::{line, office, prove};
use crate::{Folder, roomrig};

#[test]
fn a_folder_without_a_room_is_refused() {
    let folder = Folder::new("inputs-empty");
    fs::create_dir(folder.0.join("empty")).unwrap();
    for (path, said) in [
        ("empty", "no room.toml in empty"),
        ("gone", "no file or folder gone"),
    ] {
        let told = folder.run(&["prove", path]).ends_with(2);
        assert!(told.err.contains(said), "{}", told.err);
        assert!(told.err.contains("hint: "), "{}", told.err);
    }
}

#[test]
fn a_room_without_clauses_is_undecided() {
    let folder = Folder::with_office("inputs-no-clauses");
    fs::remove_file(folder.0.join("office/sequence.toml")).unwrap();
    for path in fs::read_dir(folder.0.join("office")).unwrap() {
        let path = path.unwrap().path();
        if !path.ends_with("room.toml") {
            fs::remove_file(path).unwrap();
        }
    }
    let told = prove(&folder, &[]).ends_with(3);
    assert!(
        told.text()
            .contains("its sequence has no clause: nothing can be proved")
    );
    assert!(told.text().ends_with("there is no clause to prove\n"));
}

#[test]
fn a_broken_file_is_told_with_its_line() {
    let folder = office("inputs-broken");
    folder.write("office/sequence.toml", "[[clauses]\nid = ");
    let told = prove(&folder, &[]).ends_with(2);
    assert!(told.err.contains("office/sequence.toml:1:"), "{}", told.err);
    assert_eq!(told.text(), "");
}

#[test]
fn a_sentence_may_be_in_any_script_and_an_id_may_not() {
    let folder = office("inputs-script");
    let clause = |id: &str| {
        format!(
            "[[clauses]]\nid = \"{id}\"\nsays = \"Zoë ☕ findet 光\"\n\
             never = \"desk-outlet is on\"\n"
        )
    };
    folder.write("office/sequence.toml", clause("Z1"));
    let told = prove(&folder, &["--html", "page"]).ends_with(1);
    assert!(
        told.text().contains("Z1 is broken: Zoë ☕ findet 光\n"),
        "{}",
        told.text()
    );
    assert!(
        String::from_utf8(folder.read("page"))
            .unwrap()
            .contains("Zoë ☕ findet 光")
    );
    folder.write("office/sequence.toml", clause("ä1"));
    let told = prove(&folder, &[]).ends_with(2);
    assert!(
        told.err.contains("'ä' cannot stand in the id"),
        "{}",
        told.err
    );
}

#[test]
fn numbers_out_of_range_are_refused() {
    for (option, value, said) in [
        ("--memory", "1", "write a number and a unit"),
        ("--jobs", "0", "1 or more"),
        ("--jobs", "many", "invalid"),
        ("--lose", "256", "0..=255"),
        ("--power-cuts", "one", "invalid"),
        ("--clock-tolerance", "60 %", "50 % at most"),
        ("--clock-tolerance", "5", "%"),
    ] {
        let told = roomrig(&["prove", "scenarios/private-office", option, value]).ends_with(2);
        assert!(told.err.contains(said), "{option} {value}: {}", told.err);
    }
    let folder = office("inputs-jobs");
    let told = prove(&folder, &["-c", "holds", "--jobs", "99"]).ends_with(0);
    assert_eq!(
        told.text(),
        prove(&folder, &["-c", "holds"]).ends_with(0).text()
    );
}

#[test]
fn where_nothing_can_be_written_nothing_is_searched() {
    let folder = office("inputs-unwritable");
    folder.write("file", "");
    for (args, said) in [
        (["--html", "office"], "office: is a folder"),
        (["--html", "gone/page.html"], "there is no folder gone"),
        (["--out", "file"], "file: is no folder"),
        (["--out", "file/found"], "file/found: cannot be written"),
    ] {
        let told = prove(&folder, &args).ends_with(2);
        assert!(told.err.contains(said), "{args:?}: {}", told.err);
        assert_eq!(told.text(), "", "{args:?}");
    }
}

#[test]
fn an_assumption_that_says_nothing_is_refused() {
    let folder = office("inputs-assume");
    for (assume, said) in [
        ("", "the clause does not say what it asks for"),
        ("never = ", "this is not TOML"),
        ("never = \"the moon is full\"", "the moon"),
    ] {
        let told = prove(&folder, &["--assume", assume]).ends_with(2);
        assert!(told.err.contains(said), "{assume}: {}", told.err);
    }
}

/// A sweep at half past one: on the last Sunday of March there is no such time, on the last of
/// October there are two (CLK-1).
#[test]
fn the_nights_on_which_clocks_are_set_are_days_like_others() {
    let folder = Folder::new("inputs-clocks");
    folder.copy("scenarios/hall", "office");
    for path in fs::read_dir(folder.0.join("office")).unwrap() {
        let path = path.unwrap().path();
        if !path.ends_with("room.toml") {
            fs::remove_file(path).unwrap();
        }
    }
    let sweeps = "sweeps   = [\"22:00\", \"saturday 14:00\"]";
    folder.change("office/room.toml", sweeps, "sweeps   = [\"01:30\"]");
    let clause = "[[clauses]]\nid = \"night\"\nsays = \"The outlets go off with the sweep.\"\n\
                  when = \"hall-clock sweeps\"\nthen = \"kitchen-outlets is off\"\n\
                  within = \"1 s\"\n";
    folder.write("office/sequence.toml", clause);
    let told = prove(&folder, &[]).ends_with(0);
    assert!(line(&told, "night").starts_with(&["night", "✓", "proved"]));
}

#[test]
fn a_clause_may_name_a_group_of_egress_lights() {
    let folder = Folder::new("inputs-egress");
    fs::create_dir(folder.0.join("office")).unwrap();
    let room = r#"
name = "Stair"
time-zone = "Europe/London"
[outputs.head]
drive = "0-10 V"
group = "stair"
egress = { floor = "20 %" }
[outputs.foot]
drive = "0-10 V"
group = "stair"
egress = { floor = "30 %" }
[sources.eye]
kind = "occupancy"
[[links]]
from = "eye"
to   = "stair"
role = "auto-on"
"#;
    folder.write("office/room.toml", room);
    let clause = "[[clauses]]\nid = \"path\"\nsays = \"Never dark.\"\n\
                  never = \"any of stair is below 20 %\"\n";
    folder.write("office/sequence.toml", clause);
    let told = prove(&folder, &[]).ends_with(0);
    assert!(line(&told, "path").starts_with(&["path", "✓", "proved"]));
    assert!(told.text().contains("life safety"), "{}", told.text());
    // A floor that the clause does not get.
    folder.change("office/sequence.toml", "below 20 %", "below 25 %");
    prove(&folder, &[]).ends_with(1);
}
