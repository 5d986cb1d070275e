//! `roomrig prove --sweep`: which clauses hold for which values of a setting.

use crate::Folder;
use crate::prove::prove;

/// A store whose lamp is dark a quarter of an hour after the last motion.
const STORE: &str = r#"
name = "Store 3"
time-zone = "Europe/London"
[outputs.lamp]
drive = "relay"
grace = "0 s"
[outputs.fan]
drive = "dry contact"
[sources.eye]
kind = "occupancy"
time-delay = "15 min"
[sources.fan-eye]
kind = "occupancy"
[[links]]
from = "eye"
to   = "lamp"
role = "auto-on"
[[links]]
from = "fan-eye"
to   = "fan"
role = "auto-on"
"#;

const SEQUENCE: &str = r#"
[[clauses]]
id   = "dark"
says = "The lamp is dark sixteen minutes after the last motion."
when = "(no motion at eye for 16 min) becomes true"
then = "lamp is off"

[[clauses]]
id     = "lit"
says   = "The lamp is lit while somebody was seen within ten minutes."
never  = "eye turns off lamp within 9 min of motion at eye"
unless = "lamp is off and not (no motion at eye for 1 s)"

[[clauses]]
id    = "apart"
says  = "The store's own sensor leaves the fan alone."
only  = "fan-eye change fan"
"#;

fn store(name: &str) -> Folder {
    let folder = Folder::new(name);
    std::fs::create_dir(folder.0.join("office")).expect("the folder can be made");
    folder.write("office/room.toml", STORE);
    folder.write("office/sequence.toml", SEQUENCE);
    folder
}

#[test]
fn a_sweep_says_for_which_values_each_clause_holds() {
    let folder = store("sweep-values");
    let sweep = ["--sweep", "eye time-delay = 5 min to 25 min every 5 min"];
    let told = prove(&folder, &sweep).ends_with(1);
    let table = "\
Store 3  (office/room.toml)
  eye time-delay  dark  lit  apart
  5 min           ✓     ✗    ✓
  10 min          ✓     ✓    ✓
  15 min          ✓     ✓    ✓
  20 min          ✗     ✓    ✓
  25 min          ✗     ✓    ✓

  dark is proved for 5 min to 15 min, broken for 20 min and 25 min
  lit is broken for 5 min, proved for 10 min to 25 min
  apart: the setting does not reach what is asked, so it was asked once
  each value was asked by itself; nothing is said of values between
";
    assert!(told.text().starts_with(table), "{}", told.text());
    // What breaks is shown once, with the setting as its first row.
    assert!(told.text().contains("Store 3, eye time-delay = 20 min:\n"));
    assert!(!told.text().contains("eye time-delay = 25 min:"));
    let row = "[\"start\", \"eye\", \"time-delay = 20 min\"]";
    assert!(told.text().contains(row), "{}", told.text());
    assert!(
        told.text()
            .contains("11 clauses (nothing goes wrong): 8 proved, 3 broken")
    );
}

#[test]
fn the_short_form_means_the_same_and_so_does_any_number_of_threads() {
    let folder = store("sweep-short");
    let long = prove(
        &folder,
        &["--sweep", "eye time-delay = 5 min to 15 min every 5 min"],
    );
    let args = ["--sweep", "eye.time-delay=5min..15min step 5min", "-j", "1"];
    let short = prove(&folder, &args);
    assert_eq!(long.ends_with(1).text(), short.ends_with(1).text());
}

#[test]
fn a_scenario_of_a_sweep_breaks_the_room_as_it_stands() {
    let folder = store("sweep-replay");
    let args = [
        "-c",
        "dark",
        "--sweep",
        "eye time-delay = 20 min",
        "--format",
        "json",
    ];
    let json = prove(&folder, &args).ends_with(1).json();
    let clause = &json["rooms"][0]["clauses"][0];
    assert_eq!(json["rooms"][0]["setting"], "eye time-delay = 20 min");
    assert_eq!(json["sweeps"][0]["clauses"][0]["verdicts"][0], "broken");
    // The room still says 15 min: the row of the scenario sets it.
    let text = clause["scenario"]["text"].as_str().unwrap();
    folder.write("office/found.toml", text);
    let run = folder.run(&["run", "office/found.toml"]).ends_with(0);
    assert!(
        run.text().contains("broken as expected dark"),
        "{}",
        run.text()
    );
}

#[test]
fn a_page_of_a_sweep_has_the_table() {
    let folder = store("sweep-page");
    let args = [
        "--sweep",
        "eye time-delay = 5 min, 20 min",
        "--html",
        "page",
    ];
    prove(&folder, &args).ends_with(1);
    let page = String::from_utf8(folder.read("page")).unwrap();
    for said in [
        "Store 3: eye time-delay",
        "dark is proved for 5 min, broken for 20 min",
        "Store 3, eye time-delay = 20 min",
    ] {
        assert!(page.contains(said), "{said}");
    }
}

#[test]
fn what_cannot_be_swept_is_refused_before_anything_is_searched() {
    let folder = store("sweep-refused");
    for (sweep, said, hint) in [
        (
            "eye time-dely = 5 min",
            "`time-dely` cannot be set here",
            "did you mean `time-delay`?",
        ),
        (
            "ear time-delay = 5 min",
            "nothing is set at `ear`",
            "name a source",
        ),
        (
            "time-delay = 5 min",
            "several have the setting `time-delay`",
            "eye and fan-eye",
        ),
        (
            "colour = red",
            "nothing has the setting `colour`",
            "room.toml",
        ),
        (
            "eye time-delay = 5 min to 45 min every 20 min",
            "eye time-delay = 45 min",
            "30 min",
        ),
        (
            "eye time-delay = 5 bananas",
            "eye time-delay = 5 bananas",
            "",
        ),
        ("eye kind = switch", "`kind` cannot be set here", ""),
        ("eye time-delay = 30 min to 5 min", "the range is empty", ""),
        (
            "eye time-delay = 30 s to 30 min every 1 s",
            "1771 values",
            "100 at most",
        ),
        ("eye time-delay", "write what is set and its values", ""),
        ("", "write what is set and its values", ""),
    ] {
        let told = prove(&folder, &["--sweep", sweep]).ends_with(2);
        assert_eq!(told.text(), "", "{sweep}");
        assert!(
            told.err.contains(said) && told.err.contains(hint),
            "{sweep}: {}",
            told.err
        );
    }
    for other in [&["--questions"][..], &["--tightest"], &["--out", "found"]] {
        let args = [&["--sweep", "eye time-delay = 5 min"], other].concat();
        prove(&folder, &args).ends_with(2);
    }
}
