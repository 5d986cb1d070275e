//! `roomrig prove`: exit codes, the files that it writes, and that what it says can be relied on.

use std::fs;

use crate::{Folder, Told, roomrig, root};

/// An office whose sequence has one clause of each kind.
const SEQUENCE: &str = r#"
[[clauses]]
id     = "holds"
says   = "The receptacle is on within a second of anybody's coming."
when   = "motion at wall-sensor"
then   = "desk-outlet is on"
within = "1 s"

[[clauses]]
id    = "breaks"
says  = "The receptacle is never on."
never = "desk-outlet is on"

[[clauses]]
id   = "idle"
says = "Nothing warns here, so this is never asked."
when = "desk-lights warns"
then = "desk-lights is on"

[[clauses]]
id     = "up"
says   = "Who presses finds the lights on, but for the down button."
when   = "wall-button press"
then   = "desk-lights is on"
within = "2 s"

[[clauses]]
id    = "apart"
says  = "The buttons never change the receptacle."
never = "wall-button changes desk-outlet"

[[clauses]]
id     = "linked"
says   = "No button reaches the receptacle."
always = "wall-button never affects desk-outlet"
"#;

/// A folder with that office in `office`, without scenarios.
pub(crate) fn office(name: &str) -> Folder {
    let folder = Folder::new(name);
    fs::create_dir(folder.0.join("office")).expect("the folder can be made");
    let room = fs::read(root().join("scenarios/private-office/room.toml"));
    let room = room.expect("the annex is there");
    folder.write("office/room.toml", room);
    folder.write("office/sequence.toml", SEQUENCE);
    folder
}

/// Proves the office of a folder.
pub(crate) fn prove(folder: &Folder, more: &[&str]) -> Told {
    folder.run(&[&["prove", "office", "--no-times"], more].concat())
}

/// The line of the table for a clause.
pub(crate) fn line<'a>(told: &'a Told, clause: &str) -> Vec<&'a str> {
    let mut lines = told.text().lines().map(|line| line.split_whitespace());
    let found = lines.find(|line| line.clone().next() == Some(clause));
    found
        .unwrap_or_else(|| panic!("no {clause} in\n{}", told.text()))
        .collect()
}

#[test]
fn each_answer_has_its_line_and_its_exit_code() {
    let folder = office("prove-answers");
    for (clause, code, begins) in [
        ("holds", 0, &["holds", "✓", "proved", "hull"][..]),
        ("apart", 0, &["apart", "✓", "proved", "hull"]),
        ("linked", 0, &["linked", "✓", "proved", "links", "–"]),
        ("breaks", 1, &["breaks", "✗", "broken", "exact"]),
        ("idle", 1, &["idle", "·", "never", "exercised"]),
    ] {
        let told = prove(&folder, &["--clause", clause]).ends_with(code);
        assert!(line(&told, clause).starts_with(begins), "{}", told.text());
        assert_eq!(told.err, "");
    }
    let told = prove(&folder, &[]).ends_with(1);
    let summary = "6 clauses (nothing goes wrong): 3 proved, 2 broken, 1 never exercised\n";
    assert!(told.text().contains(summary), "{}", told.text());
    let two = prove(&folder, &["-c", "linked", "-c", "holds"]).ends_with(0);
    assert!(
        two.text()
            .contains("2 clauses (nothing goes wrong): 2 proved\n")
    );
}

#[test]
fn links_that_contradict_a_clause_break_it_and_are_told() {
    let folder = office("prove-links");
    let scenario = fs::read(root().join("scenarios/private-office/quiet-reading.toml"));
    folder.write("office/quiet-reading.toml", scenario.unwrap());
    let clause = "[[clauses]]\nid = \"apart\"\nsays = \"Apart.\"\n\
                  always = \"wall-button never affects desk-lights\"\n";
    folder.write("office/sequence.toml", clause);
    let told = prove(&folder, &["--html", "page"]).ends_with(1);
    assert!(line(&told, "apart").starts_with(&["apart", "✗", "broken", "links", "–"]));
    let way = "  broken by the links:\n    \
               wall-button is linked to desk-lights (office/room.toml:46:1)\n";
    assert!(told.text().contains(way), "{}", told.text());
    let page = String::from_utf8(folder.read("page")).unwrap();
    assert!(page.contains("wall-button is linked to desk-lights (office/room.toml:46:1)"));
    let json = prove(&folder, &["--format", "json"]).ends_with(1).json();
    let link = &json["rooms"][0]["clauses"][0]["links"][0];
    assert_eq!(link["at"]["line"], 46);
    // A run says the same.
    folder.run(&["run", "office"]).ends_with(1);
}

#[test]
fn a_spent_bound_is_undecided_and_breaks_weigh_more() {
    let folder = office("prove-memory");
    let told = prove(&folder, &["-c", "holds", "--memory", "1 kB"]).ends_with(3);
    assert!(line(&told, "holds").starts_with(&["holds", "?", "undecided"]));
    assert!(
        told.text().contains("the bound on memory was hit"),
        "{}",
        told.text()
    );
    let told = prove(&folder, &["-c", "holds", "--steps", "1"]).ends_with(3);
    assert!(
        told.text().contains("the bound on steps was hit"),
        "{}",
        told.text()
    );
    // Enough for the clause that breaks, and not for the other.
    let json = prove(&folder, &["-c", "breaks", "--format", "json"]).ends_with(1);
    let bytes = json.json()["rooms"][0]["clauses"][0]["bytes"]
        .as_u64()
        .unwrap();
    let memory = format!("{} kB", bytes / 1_000 + 1);
    let told = prove(
        &folder,
        &[
            "-c", "breaks", "-c", "holds", "-j", "1", "--memory", &memory,
        ],
    );
    assert!(line(&told, "breaks").starts_with(&["breaks", "✗", "broken"]));
    told.ends_with(1);
}

#[test]
fn the_answers_do_not_depend_on_the_number_of_threads() {
    let folder = office("prove-threads");
    let ask = |jobs: &str, memory: &str| {
        let more = [
            "--format", "json", "--jobs", jobs, "--memory", memory, "--html", "page",
        ];
        let told = prove(&folder, &more);
        (told.code, told.out, folder.read("page"))
    };
    assert_eq!(ask("1", "64 MiB").0, 1);
    assert!(ask("1", "64 MiB") == ask("2", "64 MiB"));
    assert!(ask("1", "64 MiB") == ask("4", "1 GiB"));
    // A bound that is too small for two at a time is large enough for one after the other.
    let bytes = |out: &[u8]| -> u64 {
        let json: serde_json::Value = serde_json::from_slice(out).unwrap();
        let clauses = json["rooms"][0]["clauses"].as_array().unwrap().clone();
        clauses
            .iter()
            .map(|it| it["bytes"].as_u64().unwrap())
            .max()
            .unwrap()
    };
    let tight = format!("{} kB", bytes(&ask("1", "1 GiB").1) / 1_000 + 1);
    let (one, two) = (ask("1", &tight), ask("2", &tight));
    assert!(one == two && one == ask("1", "1 GiB"));
}

#[test]
fn times_are_there_unless_they_are_left_out() {
    let folder = office("prove-times");
    let with = folder.run(&["prove", "office", "-c", "holds"]).ends_with(0);
    let without = prove(&folder, &["-c", "holds"]).ends_with(0);
    assert!(with.text().contains("  time\n") && line(&with, "holds").last() == Some(&"s"));
    assert!(!without.text().contains("  time\n"));
    let json = folder.run(&["prove", "office", "-c", "holds", "--format", "json"]);
    assert!(json.json()["rooms"][0]["clauses"][0]["time_ms"].is_u64());
}

#[test]
fn names_that_mean_nothing_are_refused_with_the_nearest() {
    let folder = office("prove-names");
    for (args, says, hint) in [
        (
            ["-c", "hold"],
            "the room has no clause `hold`",
            "did you mean `holds`?",
        ),
        (
            ["-c", "Q7"],
            "the room has no clause `Q7`",
            "the clauses are apart, breaks",
        ),
        (
            ["--dead", "wall-senso"],
            "no source `wall-senso`",
            "did you mean `wall-sensor`?",
        ),
        (
            ["--assume", "never = \"motion at wall-senso\""],
            "the room has no `wall-senso`",
            "did you mean `wall-sensor`?",
        ),
        (
            ["--assume", "never = \"motion"],
            "this is not TOML",
            "close the text with a second",
        ),
        (["--assume", "nevr = \"x is on\""], "nevr", "never"),
        (["--memory", "1 gib"], "1 gib", "512 MiB"),
        (["--clock-tolerance", "60 %"], "60 %", "50 % at most"),
        (
            ["--out", "office/room.toml"],
            "is no folder",
            "name a folder",
        ),
    ] {
        let told = prove(&folder, &args).ends_with(2);
        assert!(
            told.err.contains(says) && told.err.contains(hint),
            "{}",
            told.err
        );
        assert_eq!(told.out, b"", "{args:?}");
    }
    folder.copy("scenarios/private-office", "other");
    let both = folder
        .run(&["prove", "office", "other", "-c", "hold"])
        .ends_with(2);
    assert!(
        both.err.contains("no room has a clause `hold`"),
        "{}",
        both.err
    );
    // A clause of one of the rooms is asked of that room only.
    let one = folder
        .run(&["prove", "office", "other", "-c", "linked"])
        .ends_with(0);
    assert!(
        one.text()
            .contains("1 clause (nothing goes wrong): 1 proved"),
        "{}",
        one.text()
    );
}

#[test]
fn a_room_without_clauses_is_undecided() {
    let folder = office("prove-nothing");
    folder.write("office/sequence.toml", "");
    let told = prove(&folder, &[]).ends_with(3);
    assert!(
        told.text().contains("there is no clause to prove"),
        "{}",
        told.text()
    );
    assert!(
        told.text().contains("its sequence has no clause"),
        "{}",
        told.text()
    );
}

#[test]
fn what_may_go_wrong_changes_answers_and_is_told() {
    let folder = office("prove-faults");
    let lost = prove(&folder, &["-c", "holds", "--lose", "1"]).ends_with(1);
    let told = lost.text();
    assert!(
        told.contains("(allowed: any one frame lost at a listener): 1 broken"),
        "{told}"
    );
    assert!(
        told.contains("Allowed: any one frame lost at a listener; otherwise none"),
        "{told}"
    );
    let dead = prove(&folder, &["-c", "holds", "--dead", "wall-button"]).ends_with(0);
    assert!(
        dead.text().contains("the death of wall-button"),
        "{}",
        dead.text()
    );
    let late = prove(&folder, &["-c", "holds", "--clock-tolerance", "5 %"]).ends_with(0);
    assert!(
        late.text().contains("up to 5 % too short or too long"),
        "{}",
        late.text()
    );
    let hands = prove(&folder, &["-c", "holds"]).ends_with(0);
    let many = prove(&folder, &["-c", "holds", "--many-hands"]).ends_with(0);
    assert!(!many.text().contains("One button is down at a time"));
    assert!(hands.text().contains("The devices count time exactly."));
}

#[test]
fn an_assumption_excludes_runs_and_is_listed() {
    let folder = office("prove-assume");
    prove(&folder, &["-c", "up"]).ends_with(1);
    let up = "never = \"wall-button/down press\"";
    let told = prove(&folder, &["-c", "up", "--assume", up]).ends_with(0);
    assert!(line(&told, "up").starts_with(&["up", "✓", "proved"]));
    assert!(
        told.text().contains(&format!("assumed-1: {up}\n")),
        "{}",
        told.text()
    );
    // The same in the sequence.
    let assumed = "[[clauses]]\nid = \"Q\"\nassume = true\nsays = \"Nobody presses down.\"\n";
    folder.write(
        "office/sequence.toml",
        format!("{SEQUENCE}\n{assumed}{up}\n"),
    );
    let told = prove(&folder, &["-c", "up"]).ends_with(0);
    assert!(
        told.text().contains("  Q: Nobody presses down.\n"),
        "{}",
        told.text()
    );
}

#[test]
fn scenarios_go_beside_copies_of_the_room_and_replace_their_own_only() {
    let folder = office("prove-out");
    let args = ["-c", "breaks", "--out", "found"];
    let told = prove(&folder, &args).ends_with(1);
    assert!(
        told.text()
            .contains("written to found/office/breaks-broken.toml"),
        "{}",
        told.text()
    );
    let names = || {
        let mut names: Vec<_> = fs::read_dir(folder.0.join("found/office"))
            .unwrap()
            .map(|it| it.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    };
    assert_eq!(
        names(),
        ["breaks-broken.toml", "room.toml", "sequence.toml"]
    );
    // Once more over its own files; what does not break any more leaves no file behind.
    prove(&folder, &args).ends_with(1);
    let quiet = "never = \"motion at wall-sensor\"";
    prove(&folder, &[&args[..], &["--assume", quiet]].concat()).ends_with(1);
    assert!(
        !names().contains(&"breaks-broken.toml".to_owned()),
        "{:?}",
        names()
    );
    // What somebody else wrote stays, and is told before anything is searched.
    folder.write("found/office/breaks-broken.toml", "mine");
    let told = prove(&folder, &args).ends_with(2);
    assert!(
        told.err.contains("is there already, and no proof wrote it"),
        "{}",
        told.err
    );
    assert_eq!(
        (
            &told.out[..],
            folder.read("found/office/breaks-broken.toml")
        ),
        (&b""[..], b"mine".to_vec())
    );
    // A folder that is another room is nobody's to write to.
    folder.copy("scenarios/private-office", "other");
    let told = prove(&folder, &["-c", "breaks", "--out", "other"]).ends_with(2);
    assert!(
        told.err.contains("is the folder of another room"),
        "{}",
        told.err
    );
    // Beside its own room.toml nothing is copied.
    prove(&folder, &["-c", "breaks", "--out", "office"]).ends_with(1);
    assert!(folder.read("office/sequence.toml") == SEQUENCE.as_bytes());
    assert!(folder.0.join("office/breaks-broken.toml").exists());
}

#[test]
fn what_breaks_a_clause_is_a_scenario_that_run_reports_as_expected() {
    let folder = office("prove-replay");
    let told = prove(&folder, &["--out", "found", "--lose", "1"]).ends_with(1);
    for clause in ["breaks", "up", "holds"] {
        let file = format!("found/office/{clause}-broken.toml");
        let text = String::from_utf8(folder.read(&file)).unwrap();
        assert!(
            text.contains(&format!("expect = \"broken {clause}\"")),
            "{text}"
        );
        let run = folder.run(&["run", &file]).ends_with(0);
        let expected = format!("broken as expected {clause}");
        assert!(run.text().contains(&expected), "{}", run.text());
        // The terminal shows the rows and the chain of causes of just that run.
        for row in text.lines().filter(|line| line.starts_with("  [")) {
            assert!(told.text().contains(row.trim()), "{row}\n{}", told.text());
        }
        let broken = format!("✗ clause {clause} at ");
        assert!(told.text().contains(&broken), "{}", told.text());
    }
    // A frame that must be lost stands in its scenario.
    let lost = String::from_utf8(folder.read("found/office/holds-broken.toml")).unwrap();
    assert!(lost.contains("lost"), "{lost}");
    // The whole folder runs, the examples of proved clauses with it.
    folder.run(&["run", "found"]).ends_with(0);
    assert!(folder.0.join("found/office/apart-example.toml").exists());
}

#[test]
fn a_page_is_written_beside_the_answers() {
    let folder = office("prove-page");
    let told = prove(&folder, &["--html", "page.html"]).ends_with(1);
    let page = String::from_utf8(folder.read("page.html")).unwrap();
    assert!(page.starts_with("<!DOCTYPE html>") && page.contains(">breaks<"));
    assert_eq!(told.text(), prove(&folder, &[]).ends_with(1).text());
    let refused = prove(&folder, &["-c", "linked", "--html", "missing/page.html"]).ends_with(2);
    assert!(refused.err.contains("cannot be written"), "{}", refused.err);
}

#[test]
fn the_help_tells_the_exit_codes_of_a_proof() {
    let help = roomrig(&["prove", "--help"]).ends_with(0);
    for said in [
        "1  a clause is broken",
        "3  undecided",
        "ends at once with 130",
    ] {
        assert!(help.text().contains(said), "{}", help.text());
    }
}

/// Where programs are sent signals.
#[cfg(unix)]
mod signals {
    use std::io::{BufRead, BufReader, Read};
    use std::process::{Command, Stdio};

    use crate::{command, root};

    #[test]
    fn after_ctrl_c_what_is_known_is_printed() {
        // So much may go wrong that no bound is near.
        let args = "prove scenarios/three-offices --lose 9 --power-cuts 9 --many-hands";
        let args: Vec<&str> = args.split(' ').collect();
        let mut program = command(&root(), &args);
        program.env("ROOMRIG_LOG", "debug");
        let mut running = program
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut talk = BufReader::new(running.stderr.take().unwrap()).lines();
        let begun = talk.find(|line| line.as_ref().unwrap().contains("symbolic clock"));
        assert!(begun.is_some());
        let id = running.id().to_string();
        let sent = Command::new("kill").args(["-INT", &id]).status().unwrap();
        assert!(sent.success());
        let rest: Vec<String> = talk.map(Result::unwrap).collect();
        let mut text = String::new();
        let mut out = running.stdout.take().unwrap();
        out.read_to_string(&mut text).unwrap();
        assert_eq!(running.wait().unwrap().code(), Some(3), "{text}\n{rest:?}");
        assert!(text.contains("somebody asked for the end"), "{text}");
        assert!(text.contains("undecided\n"), "{text}");
        assert!(
            rest.iter().any(|line| line.contains("Ctrl-C again")),
            "{rest:?}"
        );
    }
}

#[test]
fn the_tightest_bound_is_told_when_it_is_asked_for() {
    let folder = office("prove-tightest");
    let plain = prove(&folder, &["--clause", "holds"]).ends_with(0);
    assert!(!plain.text().contains("tightest"), "{}", plain.text());
    let told = prove(&folder, &["--clause", "holds", "--tightest"]).ends_with(0);
    // The receptacle needs the frame of the sensor, and that takes 10 ms.
    let bound = "holds holds from 10 ms; it asks for 1 s\n";
    assert!(told.text().contains(bound), "{}", told.text());
}

#[test]
fn questions_take_the_place_of_the_clauses() {
    let folder = Folder::new("prove-questions");
    fs::create_dir(folder.0.join("store")).unwrap();
    let room = r#"
name = "Store 3"
says = "A store on the quay."
time-zone = "Europe/London"
[outputs.outlet]
drive = "receptacle"
[sources.eye]
kind = "occupancy"
senses = ["motion"]
time-delay = "15 min"
[sources.unit]
kind = "switch"
buttons = "up/down"
[[links]]
from = "eye"
to = "outlet"
role = "auto-on"
"#;
    folder.write("store/room.toml", room);
    let told = folder
        .run(&["prove", "store", "--no-times", "--questions"])
        .ends_with(0);
    assert_eq!(line(&told, "apart-1")[1..4], ["✓", "proved", "links"]);
    let text = told.text();
    for least in [
        "quiet-1 holds from 15 min 0.010 s; it asks for 24 h",
        "still-1 holds from 15 min 0.011 s; it asks for 24 h",
    ] {
        assert!(text.contains(least), "{text}");
    }
    assert_eq!(line(&told, "acts-1")[1..3], ["✓", "proved"]);
    assert!(
        text.contains("  2 settings: 1 may change what the room does, 1 not asked\n"),
        "{text}"
    );
    // Nothing turns the lamp on: that its sensor may turn it off is a dead link.
    let lamp = "[outputs.lamp]\ndrive = \"relay\"\n\
                [[links]]\nfrom = \"eye\"\nto = \"lamp\"\nrole = \"manual-on\"\n";
    folder.write("store/room.toml", format!("{room}{lamp}"));
    let told = folder.run(&["prove", "store", "--no-times", "--questions"]);
    let told = told.ends_with(1);
    let dead = "The link from eye to lamp is not dead: it does something.\n";
    let said = format!("can never be put to the test: {dead}");
    assert!(told.text().contains(&said), "{}", told.text());
    let refused = folder.run(&["prove", "store", "--questions", "--clause", "A1"]);
    refused.ends_with(2);
}

#[test]
fn a_setting_without_effect_is_told_and_is_a_fault() {
    let folder = Folder::new("prove-settings");
    fs::create_dir(folder.0.join("store")).unwrap();
    let room = "name = \"Store 3\"\n\
                [outputs.lamp]\ndrive = \"relay\"\noff-after = \"1 h\"\n\
                [sources.eye]\nkind = \"occupancy\"\nsenses = [\"motion\"]\n\
                time-delay = \"5 min\"\nwarm-up = \"10 s\"\n\
                [[links]]\nfrom = \"eye\"\nto = \"lamp\"\nrole = \"auto-on\"\n";
    folder.write("store/room.toml", room);
    let ask = ["prove", "store", "--no-times", "--questions"];
    let ask = |more: &[&str]| folder.run(&[&ask[..], more].concat());
    let told = ask(&["--html", "page"]).ends_with(1);
    let text = told.text();
    for line in [
        "  4 settings: 1 may change what the room does, 1 without effect, 2 not asked\n",
        "  `off-after` of lamp (store/room.toml:4:13) has no effect on any output: with 24 h, 0 s and never ",
        "  not asked, it is there for when something goes wrong: `warm-up` of eye\n",
    ] {
        assert!(text.contains(line), "{text}");
    }
    let page = String::from_utf8(folder.read("page")).unwrap();
    assert!(page.contains("1 without effect"), "{page}");
    let json = ask(&["--format", "json"]).ends_with(1).json();
    let settings = &json["rooms"][0]["settings"];
    assert_eq!(settings[0]["does"], "nothing");
    assert_eq!(settings[1]["does"], "something");
    // With a setback it counts.
    folder.write("store/room.toml", format!("{room}setback = \"50 %\"\n"));
    let told = ask(&[]);
    assert!(!told.text().contains("without effect"), "{}", told.text());
}
