//! Files that cannot be read or understood: exit code 2, where it is, and a hint.

use crate::{Folder, Told, corpora};

const OTHER: &str = "office/other.toml";

/// Nothing on standard output, and a hint.
#[track_caller]
fn refused(told: Told) -> String {
    let told = told.ends_with(2);
    assert_eq!(told.out, b"");
    // A warning may stand before it.
    let tells = told.err.starts_with("error") || told.err.contains("\nerror");
    assert!(tells, "{}", told.err);
    assert!(told.err.contains("hint: "), "{}", told.err);
    told.err
}

/// Every command that reads a scenario, with this one.
fn commands(scenario: &str) -> [Vec<&str>; 6] {
    [
        vec!["run", scenario],
        vec!["check", scenario],
        vec!["challenge", scenario],
        vec!["why", scenario, "desk-lights"],
        vec!["draw", scenario],
        vec!["trace", scenario],
    ]
}

/// Files that nobody can run, and where the fault is.
fn corpus() -> Vec<(&'static str, Vec<u8>, &'static str)> {
    let scenario = |rows: &str| {
        let head = "title = \"x\"\nstart = \"2026-03-02 08:00\"\n";
        format!("{head}rows = [\n{rows}\n]\n").into_bytes()
    };
    // Any bytes at all: a generator of whole numbers stands for a program or a picture.
    let noise = (0_u32..5000).map(|n| (n.wrapping_mul(2_654_435_761) >> 13) as u8 | 0x80);
    let huge = |line: &str| [line.as_bytes(), &vec![b'x'; 2_000_000], b"\n"].concat();
    vec![
        ("empty", vec![], "1:1"),
        ("only a line break", b"\n".to_vec(), "1:1"),
        ("binary", noise.collect(), "1:1"),
        ("a NUL", b"title = \"a\0b\"\n".to_vec(), "1:11"),
        ("only NULs", vec![0; 100], "1:1"),
        (
            "Latin-1",
            b"title = \"x\"\n# caf\xc3\xa9, caf\xe9\n".to_vec(),
            "2:12",
        ),
        ("UTF-16", b"\xff\xfet\0i\0t\0l\0e\0".to_vec(), "1:1"),
        ("a huge text without end", huge("title = \""), "1:2000010"),
        ("a huge key", huge(""), "1:2000001"),
        ("no value", b"title = \"x\"\nstart = \n".to_vec(), "2:9"),
        (
            "a key twice",
            b"title = \"x\"\ntitle = \"y\"\n".to_vec(),
            "2:1",
        ),
        ("nothing but brackets", vec![b'['; 100_000], "1:3"),
        (
            "brackets without end",
            [&b"rows = "[..], &[b'['; 100_000]].concat(),
            "1:88",
        ),
        ("a table without end", b"[people\n".to_vec(), "1:8"),
        ("a key that is none", b"titel = \"x\"\n".to_vec(), "1:1"),
        ("rows that are none", b"rows = 3\n".to_vec(), "1:8"),
        (
            "no such point",
            scenario("[\"08:00\", \"wall-sensr\", \"motion\"],"),
            "4:12",
        ),
        (
            "no such time",
            scenario("[\"8 o'clock\", \"wall-sensor\", \"motion\"],"),
            "4:3",
        ),
        (
            "no such thing",
            scenario("[\"08:00\", \"wall-sensor\", \"a móçãõ\"],"),
            "4:27",
        ),
        ("an empty row", scenario("[],"), "4:1"),
        (
            "itself",
            scenario("[\"08:00\", \"include\", \"other.toml\"],"),
            "4:22",
        ),
    ]
}

#[test]
fn a_scenario_that_cannot_be_understood_says_where() {
    let folder = Folder::with_office("bad-scenario");
    for (name, bytes, place) in corpus() {
        folder.write(OTHER, &bytes);
        let said = refused(folder.run(&["run", OTHER]));
        assert!(
            said.contains(&format!("{OTHER}:{place}")),
            "{name}: {place}\n{said}"
        );
        // However long the line is, what is said of it can be read.
        assert!(said.len() < 20_000, "{name}: {} bytes", said.len());
    }
}

#[test]
fn every_command_refuses_a_scenario_that_cannot_be_understood() {
    let folder = Folder::with_office("bad-for-all");
    for bytes in [&b""[..], b"\xff", b"title = \n"] {
        folder.write(OTHER, bytes);
        for args in commands(OTHER) {
            let said = refused(folder.run(&args));
            assert!(said.contains(&format!("{OTHER}:1:")), "{args:?}\n{said}");
        }
    }
}

#[test]
fn rooms_and_sequences_that_cannot_be_understood_say_where() {
    let folder = Folder::with_office("bad-room");
    for file in ["office/room.toml", "office/sequence.toml"] {
        let good = folder.read(file);
        for (name, bytes, _) in corpus() {
            // A sequence may be empty.
            if file == "office/sequence.toml" && bytes.trim_ascii().is_empty() {
                continue;
            }
            folder.write(file, &bytes);
            let said = refused(folder.run(&["check", "office"]));
            assert!(said.contains(&format!("{file}:")), "{name}\n{said}");
            assert!(said.len() < 30_000, "{name}: {} bytes", said.len());
        }
        folder.write(file, good);
    }
    folder.run(&["check", "office"]).ends_with(0);
}

#[test]
fn a_clause_without_end_is_refused() {
    let folder = Folder::with_office("deep-clause");
    let deep = format!(
        "{}desk-lights is on{}",
        "(".repeat(50_000),
        ")".repeat(50_000)
    );
    let long = format!("{}desk-lights is on", "not ".repeat(50_000));
    for formula in [deep, long] {
        let clause = "[[clauses]]\nid = \"Z\"\nsays = \"x\"\nalways = ";
        folder.write("office/sequence.toml", format!("{clause}\"{formula}\"\n"));
        let said = refused(folder.run(&["run", "office"]));
        assert!(said.contains("office/sequence.toml:4:"), "{said}");
    }
}

#[test]
fn what_is_not_there_is_named() {
    let folder = Folder::with_office("missing");
    std::fs::create_dir(folder.0.join("empty")).unwrap();
    std::fs::create_dir(folder.0.join("office/folder.toml")).unwrap();
    folder.write("office/notes.txt", "notes");
    folder.write("alone.toml", "title = \"x\"\n");
    for path in [
        "nowhere",
        "nowhere/quiet-reading.toml",
        "office/nowhere.toml",
        "office/quiet-reading.toml/within",
        "empty",
        "office/folder.toml",
        "office/notes.txt",
        "alone.toml",
    ] {
        for args in commands(path) {
            let said = refused(folder.run(&args));
            assert!(said.contains(path), "{args:?}\n{said}");
        }
    }
}

#[test]
fn names_in_any_script_are_shown_as_they_are() {
    let folder = Folder::new("names");
    let office = "Büro über dem Kai — 埠頭";
    folder.copy("scenarios/private-office", office);
    let good = format!("{office}/quiet-reading.toml");
    let told = folder.run(&["run", &good]).ends_with(0);
    assert!(told.text().contains(&good), "{}", told.text());

    let bad = format!("{office}/ünder.toml");
    folder.write(&bad, "title = \"é\" 埠\n");
    let said = refused(folder.run(&["run", office]));
    assert!(said.contains(&format!("--> {bad}:1:13")), "{said}");
}

/// A file that is there and that the system does not give.
#[cfg(target_os = "linux")]
#[test]
fn a_file_that_cannot_be_read_says_why() {
    let folder = Folder::with_office("unreadable");
    // The memory of a process begins with a page that nobody may read, not even root.
    std::os::unix::fs::symlink("/proc/self/mem", folder.0.join(OTHER)).unwrap();
    for args in commands(OTHER) {
        let said = refused(folder.run(&args));
        assert!(
            said.contains("office/other.toml cannot be read: "),
            "{said}"
        );
        assert!(said.contains("hint: check who may read it"), "{said}");
    }
}

/// Numbers that are none say what is wanted, and a minus is not taken for another option.
#[test]
fn numbers_of_options_that_are_none_say_what_is_wanted() {
    let folder = Folder::with_office("no-number");
    for (args, wanted) in [
        (
            ["run", "office", "--seed", "banana"],
            "a whole number, 0 to",
        ),
        (["run", "office", "--seed", "-1"], "a whole number, 0 to"),
        (
            ["run", "office", "--jobs", "0"],
            "how many threads, 1 or more",
        ),
        (
            ["run", "office", "--jobs", "-2"],
            "how many threads, 1 or more",
        ),
        (["prove", "office", "--lose", "-3"], "-3 is not in 0..=255"),
        (
            ["prove", "office", "--lose", "300"],
            "300 is not in 0..=255",
        ),
        (["prove", "office", "--steps", "-1"], "a whole number, 0 to"),
        (["live", "office", "--speed", "0"], "0 is not in 1..=3600"),
        (["live", "office", "--for", "-1"], "a whole number, 0 to"),
    ] {
        let told = folder.run(&args).ends_with(2);
        assert_eq!(told.out, b"", "{args:?}");
        assert!(told.err.contains(wanted), "{args:?}\n{}", told.err);
    }
}

/// The broken files that the readers are tested with, each given to the program.
#[test]
fn every_broken_file_ends_the_program_with_its_place_and_a_hint() {
    let folder = Folder::new("corpus");
    let rooms = corpora::rooms();
    let all = [rooms, corpora::sequences(), corpora::scenarios()].concat();
    assert!(all.len() >= 300, "{}", all.len());
    let next = std::sync::atomic::AtomicUsize::new(0);
    std::thread::scope(|scope| {
        for worker in 0..4 {
            let (folder, all, next) = (&folder, &all, &next);
            scope.spawn(move || {
                let name = format!("room-{worker}");
                std::fs::create_dir(folder.0.join(&name)).unwrap();
                let order = std::sync::atomic::Ordering::Relaxed;
                while let Some(case) = all.get(next.fetch_add(1, order)) {
                    case.put(folder, &name);
                    let said = refused(folder.run(&["check", &name]));
                    let place = format!("--> {name}/{}:", case.file);
                    assert!(said.contains(&place), "{}\n{said}", case.text);
                }
            });
        }
    });
}

#[cfg(unix)]
#[test]
fn arguments_that_are_no_text_are_refused() {
    use std::ffi::OsStr;
    use std::os::unix::ffi::OsStrExt;

    let folder = Folder::with_office("no-text");
    let odd = OsStr::from_bytes(b"n\xffn.toml");
    for (args, last) in [
        (&["run"][..], odd),
        (&["check"], odd),
        (&["why", "office/quiet-reading.toml"], odd),
        (&["new", "room", "--like"], odd),
    ] {
        let output = crate::command(&folder.0, args).arg(last).output().unwrap();
        assert_eq!(crate::told(&output).ends_with(2).out, b"", "{args:?}");
    }
    assert_eq!(folder.names(), ["office"]);
}
