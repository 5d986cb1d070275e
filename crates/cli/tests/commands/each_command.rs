//! Every command: its exit code, its data on standard output, its talk on standard error.

use crate::{Folder, Told, roomrig};

const QUIET: &str = "scenarios/private-office/quiet-reading.toml";

/// The words of the line that begins with this; how wide its columns are depends on other lines.
fn words_of<'a>(told: &'a Told, begins: &str) -> Vec<&'a str> {
    let mut lines = told.text().lines();
    let line = lines.find(|line| line.trim_start().starts_with(begins));
    line.expect("there is such a line")
        .split_whitespace()
        .collect()
}

/// A command that has nothing to complain about says nothing on standard error.
#[track_caller]
fn held(args: &[&str]) -> Told {
    let told = roomrig(args).ends_with(0);
    assert_eq!(told.err, "");
    assert!(!told.out.is_empty());
    told
}

#[test]
fn run_holds_and_prints_verdicts_and_coverage() {
    let told = held(&["run", "scenarios/private-office"]);
    let row = words_of(&told, "✓  scenarios/private-office/quiet-reading.toml ");
    assert_eq!(row[2], "held");
    assert!(told.text().contains("\n  A1   "));
}

#[test]
fn a_failed_check_ends_with_1_and_says_where_and_why() {
    let folder = Folder::with_office("failed-check");
    folder.change("office/room.toml", "\"15 min\"", "\"10 min\"");
    let told = folder
        .run(&["run", "office/quiet-reading.toml"])
        .ends_with(1);
    assert_eq!(told.err, "");
    for part in [
        "✗ desk-lights is on at 09:14:59, but was off",
        "     at  office/quiet-reading.toml:9:3\n",
        "    why    09:10:00.010  desk-lights turned off\n",
        "10 min time delay of wall-sensor ended",
        "  ✗  office/quiet-reading.toml  broken",
    ] {
        assert!(
            told.text().contains(part),
            "{part} is not in\n{}",
            told.text()
        );
    }
    // What it shows is told by the other commands too, and is no failure of theirs.
    folder
        .run(&["why", "office/quiet-reading.toml", "desk-lights"])
        .ends_with(0);
    folder
        .run(&["draw", "office/quiet-reading.toml"])
        .ends_with(0);
    folder
        .run(&["trace", "office/quiet-reading.toml"])
        .ends_with(0);
}

#[test]
fn quiet_says_what_is_not_as_expected_and_the_totals() {
    let all = held(&["run", "scenarios/private-office"]);
    let quiet = held(&["run", "--quiet", "scenarios/private-office"]);
    assert!(!quiet.text().contains("quiet-reading.toml"));
    assert!(all.text().ends_with(quiet.text()));
}

#[test]
fn a_scenario_that_asks_nothing_is_undecided() {
    let folder = Folder::with_office("undecided");
    let rows = "rows = [[\"08:00\", \"room\", \"daylight 5 lx\"]]\n";
    let head = "title = \"Nothing is asked\"\nstart = \"2026-03-02 08:00\"\n";
    folder.write("office/nothing.toml", format!("{head}{rows}"));
    let told = folder.run(&["run", "office/nothing.toml"]).ends_with(3);
    assert!(told.text().contains("1 scenario: 1 undecided"));
    let told = folder.run(&["run", "office"]).ends_with(3);
    let row = words_of(&told, "?  office/nothing.toml");
    assert_eq!(row[2], "undecided");
}

#[test]
fn a_room_without_scenarios_is_undecided() {
    let folder = Folder::with_office("no-scenarios");
    folder.copy("scenarios/private-office", "bare");
    for name in std::fs::read_dir(folder.0.join("bare")).unwrap() {
        let path = name.unwrap().path();
        if !path.ends_with("room.toml") && !path.ends_with("sequence.toml") {
            std::fs::remove_file(path).unwrap();
        }
    }
    let told = folder.run(&["run", "bare"]).ends_with(3);
    assert!(told.text().contains("no scenarios were found"));
}

#[test]
fn a_report_as_json_has_every_scenario_with_its_verdict() {
    let json = held(&["run", "--json", "--seed", "7", "scenarios/private-office"]).json();
    let scenarios = json["scenarios"].as_array().unwrap();
    let files = std::fs::read_dir(crate::root().join("scenarios/private-office")).unwrap();
    assert_eq!(
        scenarios.len(),
        files.count() - 2,
        "all but room and sequence"
    );
    for scenario in scenarios {
        assert_eq!(scenario["verdict"], "held");
        assert_eq!(scenario["seed"], 7);
    }
}

#[test]
fn any_number_of_threads_gives_the_same_bytes() {
    let folder = Folder::new("threads");
    let of = |jobs: &str, report: &str, form: &[&str]| {
        let report = folder.0.join(report);
        let report = report.to_str().unwrap();
        let mut args = vec!["run", "scenarios/private-office", "scenarios/three-offices"];
        args.extend(["--jobs", jobs, "--junit", report]);
        args.extend(form);
        held(&args).out
    };
    for form in [&[][..], &["--json"][..]] {
        let one = of("1", "one.xml", form);
        // More threads than any machine has are no reason to fail.
        for many in ["4", "1000000"] {
            assert!(one == of(many, "many.xml", form), "--jobs {many} {form:?}");
            assert!(
                folder.read("one.xml") == folder.read("many.xml"),
                "--jobs {many}"
            );
        }
    }
}

#[test]
fn why_answers_at_a_moment_or_at_the_end() {
    let told = held(&["why", QUIET, "desk-outlet", "--at", "08:30"]);
    assert!(
        told.text().starts_with("desk-outlet is on"),
        "{}",
        told.text()
    );
    let told = held(&["why", QUIET, "desk-lights"]);
    assert!(
        told.text().starts_with("desk-lights is off"),
        "{}",
        told.text()
    );
    assert!(told.text().lines().next().unwrap().ends_with("at 10:30:00"));
}

#[test]
fn why_knows_the_nearest_output_and_the_moments_of_the_run() {
    for (args, message, hint) in [
        (
            &["desk-light"][..],
            "no output `desk-light`",
            "did you mean `desk-lights`?",
        ),
        (
            &["zzzzzzzz"],
            "no output `zzzzzzzz`",
            "the outputs are desk-lights and desk-outlet",
        ),
        (
            &["desk-lights", "--at", "9x"],
            "`9x` is not a time",
            "08:00",
        ),
        (
            &["desk-lights", "--at", "day 3 09:00"],
            "the run ends at 10:30:00",
            "a moment from 08:00:00 to 10:30:00",
        ),
    ] {
        let told = roomrig(&[&["why", QUIET][..], args].concat()).ends_with(2);
        assert_eq!(told.out, b"");
        let (first, second) = told.err.split_once('\n').unwrap();
        assert!(
            first.starts_with("error: ") && first.contains(message),
            "{}",
            told.err
        );
        assert!(
            second.starts_with("hint: ") && second.contains(hint),
            "{}",
            told.err
        );
    }
}

#[test]
fn commands_for_one_scenario_take_no_room() {
    for path in [
        "scenarios/private-office",
        "scenarios/private-office/room.toml",
        "scenarios/private-office/sequence.toml",
    ] {
        for args in [
            &["why", path, "desk-lights"][..],
            &["draw", path],
            &["trace", path],
        ] {
            let told = roomrig(args).ends_with(2);
            assert_eq!(told.out, b"");
            assert!(
                told.err.contains("hint: name a scenario file of the room"),
                "{}",
                told.err
            );
        }
    }
}

#[test]
fn check_finds_nothing_wrong_with_the_annex() {
    let told = held(&["check", "scenarios"]);
    assert!(
        told.text().contains("9 rooms checked: 0 errors"),
        "{}",
        told.text()
    );
    assert!(
        held(&["check", "--json", "scenarios/private-office"])
            .json()
            .is_array()
    );
}

#[test]
fn check_ends_with_1_for_an_error_and_says_where() {
    let folder = Folder::with_office("check-error");
    folder.change("office/room.toml", "\"96 W\"", "\"9600 W\"");
    let told = folder.run(&["check", "office"]).ends_with(1);
    assert_eq!(told.err, "");
    assert!(
        told.text().contains("--> office/room.toml:9:12"),
        "{}",
        told.text()
    );
    assert!(told.text().contains("= hint: "), "{}", told.text());
    assert!(
        told.text().contains("1 room checked: 1 error, "),
        "{}",
        told.text()
    );

    let told = folder.run(&["check", "--json", "office"]).ends_with(1);
    assert_eq!(told.err, "");
    let json = told.json();
    assert_eq!(json[0]["at"]["line"], 9);
    assert_eq!(json[0]["severity"], "error");
}

#[test]
fn check_as_json_is_data_also_for_a_file_that_cannot_be_understood() {
    let folder = Folder::with_office("check-json");
    folder.write("office/room.toml", "name = \"x\"\n[outputs\n");
    let told = folder.run(&["check", "--json", "office"]).ends_with(2);
    assert_eq!(told.json()[0]["at"]["line"], 2);
    assert!(told.err.contains("--> office/room.toml:2:"), "{}", told.err);

    let told = folder.run(&["check", "office"]).ends_with(2);
    assert_eq!(told.out, b"");
    assert!(told.err.contains("--> office/room.toml:2:"), "{}", told.err);
}

#[test]
fn trace_has_three_forms_of_the_same_steps() {
    let text = held(&["trace", QUIET]);
    let lines = held(&["trace", QUIET, "--format", "jsonl"]);
    let packed = held(&["trace", QUIET, "--format", "msgpack"]);
    let lines = lines.text().lines();
    let json: Vec<serde_json::Value> = lines.map(|it| serde_json::from_str(it).unwrap()).collect();
    assert_eq!(json[0]["format"], "roomrig-trace");
    let mut rest = &packed.out[..];
    for record in &json {
        let unpacked: serde_json::Value = rmp_serde::from_read(&mut rest).unwrap();
        assert_eq!(&unpacked, record);
    }
    assert_eq!(rest, b"", "as many records as lines");
    // Two lines of headings stand for the one record that says what follows.
    assert_eq!(text.text().lines().count(), json.len() + 1);
    assert!(json.len() > 100);
}

#[test]
fn draw_prints_a_page_or_a_drawing() {
    let page = held(&["draw", QUIET]);
    assert!(page.text().starts_with("<!DOCTYPE html>"));
    assert!(page.text().contains("<svg ") && page.text().contains("<table"));
    let drawing = held(&["draw", QUIET, "--format", "svg"]);
    assert!(drawing.text().starts_with("<?xml "));
    assert!(drawing.text().trim_end().ends_with("</svg>"));
}

#[test]
fn challenge_holds_for_a_shipped_room_and_breaks_for_an_idle_clause() {
    let folder = Folder::with_office("challenge");
    let told = folder.run(&["challenge", "office"]).ends_with(0);
    assert_eq!(told.err, "");
    assert!(told.text().contains(" faults noticed\n"), "{}", told.text());
    let json = folder
        .run(&["challenge", "--json", "office"])
        .ends_with(0)
        .json();
    assert_eq!(json[0]["room"], "Office 112");

    let idle = "\n[[clauses]]\nid = \"T1\"\nsays = \"A truism.\"\nnever = \"desk-lights is on and desk-lights is off\"\n";
    let sequence = folder.read("office/sequence.toml");
    folder.write(
        "office/sequence.toml",
        [&sequence, idle.as_bytes()].concat(),
    );
    let told = folder.run(&["challenge", "office"]).ends_with(1);
    assert!(
        told.text().contains("NOTHING BREAKS clause T1"),
        "{}",
        told.text()
    );
}

#[test]
fn each_schema_is_json() {
    for file in ["room", "sequence", "scenario", "site"] {
        let schema = held(&["schema", file]).json();
        assert!(
            schema["$schema"].is_string() && schema["type"] == "object",
            "{file}"
        );
    }
    roomrig(&["schema", "rooms"]).ends_with(2);
}

#[test]
fn completions_and_the_manual_know_every_command() {
    for args in [
        &["completions", "bash"][..],
        &["completions", "zsh"],
        &["completions", "fish"],
        &["man"],
    ] {
        let told = held(args);
        for command in [
            "run",
            "why",
            "draw",
            "check",
            "new",
            "schema",
            "trace",
            "challenge",
        ] {
            assert!(told.text().contains(command), "{args:?} {command}");
        }
    }
    assert!(held(&["man"]).text().contains(".TH roomrig 1"));
    roomrig(&["completions", "abacus"]).ends_with(2);
}

#[test]
fn help_and_version_are_data_and_bad_usage_is_talk() {
    assert!(held(&["--help"]).text().contains("3  undecided"));
    assert!(held(&["--version"]).text().starts_with("roomrig "));
    for args in [
        &[][..],
        &["run"],
        &["ruin"],
        &["run", "--seed", "many", "scenarios"],
        &["run", "--jobs", "0", "scenarios"],
        &["why", QUIET],
        &["trace", QUIET, "--format", "abacus"],
        &["new", ""],
    ] {
        let told = roomrig(args).ends_with(2);
        assert_eq!(told.out, b"", "{args:?}");
        assert!(
            told.err.contains("sage: ") || told.err.contains("--help"),
            "{}",
            told.err
        );
    }
}

#[test]
fn the_log_is_talk() {
    let mut command = crate::command(&crate::root(), &["run", QUIET]);
    let output = command.env("ROOMRIG_LOG", "debug").output().unwrap();
    let told = crate::told(&output).ends_with(0);
    assert!(told.err.contains("DEBUG"), "{}", told.err);
    assert!(told.out == held(&["run", QUIET]).out);
}

#[test]
fn two_rooms_of_one_name_are_two_and_a_room_that_is_not_run_is_loud() {
    let folder = Folder::with_office("two-offices");
    folder.copy("scenarios/private-office", "other");
    let told = folder.run(&["run", "."]).ends_with(0);
    let tables = told.text().matches("\n  A1 ").count();
    assert_eq!(tables, 2, "{}", told.text());
    let idle = Folder::new("an-office-at-rest");
    for file in ["room.toml", "sequence.toml"] {
        idle.write(file, folder.read(&format!("other/{file}")));
    }
    let told = idle.run(&["run", "."]).ends_with(3);
    assert!(
        told.text()
            .contains("NEVER EXERCISED  Office 112: no scenario of it was run"),
        "{}",
        told.text()
    );
}

#[test]
fn each_run_of_a_file_with_parameters_is_named_by_its_values() {
    let folder = Folder::with_office("parameters");
    folder.write(
        "office/quiet-reading.toml",
        "title = \"x\"\nstart = \"2026-03-02 08:00\"\nrows = [\n\
         [\"start\", \"wall-sensor\", \"time-delay = {delay}\"],\n\
         [\"08:01\", \"wall-sensor\", \"motion\"],\n\
         [\"+{delay}\", \"wall-sensor\", \"is vacant\"],\n]\n\
         [with]\ndelay = [\"5 min\", \"15 min\"]\n",
    );
    let told = folder.run(&["run", "office"]).ends_with(0);
    for value in ["(delay = 5 min)", "(delay = 15 min)"] {
        assert!(told.text().contains(value), "{}", told.text());
    }
    let why = ["why", "office/quiet-reading.toml", "desk-lights"];
    let told = folder.run(&why).ends_with(0);
    assert!(told.err.contains("first of 2 runs"), "{}", told.err);
}

#[test]
fn why_tells_of_frames_that_were_lost_and_of_frames_on_their_way() {
    let lost = "scenarios/private-office/a-lost-vacant-frame.toml";
    let told = held(&["why", lost, "desk-lights", "--at", "12:15:30"]);
    let line = "12:15:00 vacant frame from wall-sensor did nothing: lost on the way";
    assert!(told.text().contains(line), "{}", told.text());
    let told = held(&["why", QUIET, "desk-lights", "--at", "08:00:00"]);
    for line in [
        "why    nothing has changed it since the start",
        "08:00:00.010 the occupied frame from wall-sensor arrives",
    ] {
        assert!(told.text().contains(line), "{}", told.text());
    }
}
