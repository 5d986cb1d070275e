//! What the program writes: whole files or none, and nothing that was not asked for.

use std::io;
use std::process::Stdio;

use quick_junit::Report;

use crate::{Folder, command, root, told};

#[test]
fn a_new_room_holds_as_it_is() {
    let folder = Folder::new("new");
    for like in ["office", "guest-room"] {
        let made = folder.run(&["new", like, "--like", like]).ends_with(0);
        assert_eq!(made.out, b"");
        assert!(
            made.err.contains(&format!("roomrig run {like}")),
            "{}",
            made.err
        );
        assert_eq!(folder.run(&["run", like]).ends_with(0).err, "");
        let checked = folder.run(&["check", like]).ends_with(0);
        assert!(
            checked
                .text()
                .contains("1 room checked: 0 errors, 0 warnings")
        );
    }
    assert_eq!(folder.names(), ["guest-room", "office"]);
}

#[test]
fn a_new_room_never_touches_what_is_there() {
    let folder = Folder::new("new-on-old");
    std::fs::create_dir(folder.0.join("old")).unwrap();
    folder.write("old/room.toml", "mine");
    folder.write("file", "mine too");
    for (name, hint) in [
        ("old", "hint: name a folder that is not there yet"),
        ("file", "hint: name a folder that is not there yet"),
        ("missing/room", "hint: the folder above must be there"),
    ] {
        let refused = folder.run(&["new", name]).ends_with(2);
        assert!(
            refused.err.contains(name) && refused.err.contains(hint),
            "{}",
            refused.err
        );
    }
    let refused = folder
        .run(&["new", "room", "--like", "castle"])
        .ends_with(2);
    assert!(
        refused
            .err
            .contains("hint: there are office and guest-room"),
        "{}",
        refused.err
    );
    assert_eq!(folder.names(), ["file", "old"]);
    assert_eq!(folder.read("old/room.toml"), b"mine");
    assert_eq!(folder.read("file"), b"mine too");
    assert_eq!(std::fs::read_dir(folder.0.join("old")).unwrap().count(), 1);
}

#[test]
fn a_junit_report_is_valid_and_counts_what_broke() {
    let folder = Folder::with_office("junit");
    folder.write("report.xml", "an older report");
    let args = ["run", "--junit", "report.xml", "office/quiet-reading.toml"];
    let shown = folder.run(&args).ends_with(0);
    let without = folder
        .run(&["run", "office/quiet-reading.toml"])
        .ends_with(0);
    assert_eq!(shown.text(), without.text());
    let report = |folder: &Folder| {
        let text = String::from_utf8(folder.read("report.xml")).unwrap();
        Report::deserialize_from_str(&text).unwrap()
    };
    let held = report(&folder);
    assert!(held.tests > 0);
    assert_eq!((held.failures, held.errors), (0, 0));

    // What XML must escape comes back as it was.
    folder.change(
        "office/quiet-reading.toml",
        "title = \"",
        "title = \"<a> & 'b' ]]> ",
    );
    folder.change("office/room.toml", "\"15 min\"", "\"10 min\"");
    folder.run(&args).ends_with(1);
    let broken = report(&folder);
    assert!(broken.failures > 0);
    assert_eq!(folder.names(), ["office", "report.xml"]);
}

#[test]
fn a_file_that_cannot_be_written_leaves_nothing_behind() {
    let folder = Folder::with_office("unwritable");
    std::fs::create_dir(folder.0.join("taken.svg")).unwrap();
    let scenario = "office/quiet-reading.toml";
    for target in ["taken.svg", "missing/picture.svg", "/"] {
        for args in [
            &["run", scenario, "--junit", target][..],
            &["draw", scenario, "--format", "svg", "-o", target],
            &["trace", scenario, "-o", target],
        ] {
            let refused = folder.run(args).ends_with(2);
            assert_eq!(refused.out, b"", "{args:?}");
            let (first, second) = refused.err.split_once('\n').unwrap();
            assert!(
                first.starts_with("error: ") && first.contains(target),
                "{first}"
            );
            assert!(second.starts_with("hint: "), "{second}");
        }
    }
    assert_eq!(folder.names(), ["office", "taken.svg"]);
}

#[test]
fn the_ending_says_what_is_drawn() {
    let folder = Folder::with_office("draw");
    let scenario = "office/quiet-reading.toml";
    for (name, begins) in [
        ("picture.svg", "<?xml "),
        ("picture.html", "<!DOCTYPE html>"),
        ("picture.htm", "<!DOCTYPE html>"),
    ] {
        let drawn = folder.run(&["draw", scenario, "-o", name]).ends_with(0);
        assert_eq!((drawn.text(), &drawn.err[..]), ("", ""));
        assert!(folder.read(name).starts_with(begins.as_bytes()), "{name}");
    }
    for name in ["picture.png", "picture", "svg"] {
        let refused = folder.run(&["draw", scenario, "-o", name]).ends_with(2);
        assert!(
            refused.err.contains("the ending does not say"),
            "{}",
            refused.err
        );
        assert!(
            refused.err.contains("hint: let it end in .svg or .html"),
            "{}",
            refused.err
        );
    }
    folder
        .run(&["draw", scenario, "-o", "picture", "--format", "svg"])
        .ends_with(0);
    assert_eq!(folder.read("picture"), folder.read("picture.svg"));
    let names = [
        "office",
        "picture",
        "picture.htm",
        "picture.html",
        "picture.svg",
    ];
    assert_eq!(folder.names(), names);
}

#[test]
fn a_trace_in_a_file_is_what_is_printed() {
    let folder = Folder::with_office("trace");
    for form in ["text", "jsonl", "msgpack"] {
        let args = ["trace", "office/quiet-reading.toml", "--format", form];
        let printed = folder.run(&args).ends_with(0).out;
        let written = folder
            .run(&[&args[..], &["-o", "trace"]].concat())
            .ends_with(0);
        assert_eq!(written.out, b"");
        assert!(folder.read("trace") == printed, "{form}");
    }
}

#[test]
fn a_reader_that_has_gone_away_is_no_error() {
    for args in [
        &["trace", "scenarios/private-office/quiet-reading.toml"][..],
        &["run", "scenarios/private-office/quiet-reading.toml"],
        &["check", "scenarios/private-office"],
        &["man"],
        &["--help"],
    ] {
        let (reader, writer) = io::pipe().unwrap();
        drop(reader);
        let output = command(&root(), args).stdout(writer).output().unwrap();
        assert_eq!(told(&output).ends_with(0).err, "", "{args:?}");
    }
}

/// Where devices are files.
#[cfg(target_os = "linux")]
mod devices {
    use super::*;

    #[test]
    fn standard_output_that_is_full_is_an_error() {
        let full = std::fs::File::options()
            .write(true)
            .open("/dev/full")
            .unwrap();
        let output = command(&root(), &["man"])
            .stdout(Stdio::from(full))
            .output()
            .unwrap();
        let refused = told(&output).ends_with(2);
        assert!(
            refused.err.contains("standard output cannot be written"),
            "{}",
            refused.err
        );
    }

    #[test]
    fn a_device_is_written_to_and_not_replaced() {
        let folder = Folder::with_office("device");
        let link = folder.0.join("nowhere.svg");
        std::os::unix::fs::symlink("/dev/null", &link).unwrap();
        let scenario = "office/quiet-reading.toml";
        folder
            .run(&["draw", scenario, "-o", "nowhere.svg"])
            .ends_with(0);
        assert!(link.is_symlink());
        assert_eq!(folder.names(), ["nowhere.svg", "office"]);
    }
}
