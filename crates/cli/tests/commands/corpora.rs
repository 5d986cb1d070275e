//! The broken files that the readers of `scenario` are tested with, as files of a room.

use crate::Folder;

const ROOMS: &str = include_str!("../../../scenario/src/room_file/tests/broken.txt");
const SEQUENCES: &str = include_str!("../../../scenario/src/sequence_file/broken.txt");
const SCENARIOS: &str = include_str!("../../../scenario/src/script/tests/broken.txt");
const ROOM: &str = include_str!("../../../scenario/src/script/tests/room.toml");
const SEQUENCE: &str = include_str!("../../../scenario/src/script/tests/sequence.toml");

/// What stands in front of a broken part of a room, and beside a broken sequence.
const BASE: &str = "name = \"Test\"\n[outputs.desk]\ndrive = \"0-10 V\"\n[outputs.plain]\n\
drive = \"relay\"\n[sources.s1]\nkind = \"occupancy\"\n[sources.w1]\nkind = \"switch\"\n\
[sources.p1]\nkind = \"daylight\"\n[sources.c1]\nkind = \"clock\"\n[sources.k1]\nkind = \"card\"\n";

/// A room with one broken file.
#[derive(Clone)]
pub(crate) struct Case {
    /// The broken one.
    pub(crate) file: &'static str,
    /// What stands in it.
    pub(crate) text: String,
    beside: &'static [(&'static str, &'static str)],
}

impl Case {
    /// Puts it into a folder of the test, in the place of the one before.
    pub(crate) fn put(&self, folder: &Folder, name: &str) {
        for file in ["room.toml", "sequence.toml", "broken.toml"] {
            let _none = std::fs::remove_file(folder.0.join(name).join(file));
        }
        for (file, text) in self.beside {
            folder.write(&format!("{name}/{file}"), text);
        }
        folder.write(&format!("{name}/{}", self.file), &self.text);
    }
}

/// Broken rooms.
pub(crate) fn rooms() -> Vec<Case> {
    let whole = |text: String| match text.strip_prefix("#whole\n") {
        Some(text) => text.to_owned(),
        None => format!("{BASE}{text}"),
    };
    let texts = texts(ROOMS).into_iter().map(whole);
    cases("room.toml", &[], texts)
}

/// Broken sequences.
pub(crate) fn sequences() -> Vec<Case> {
    let texts = texts(SEQUENCES).into_iter();
    cases("sequence.toml", &[("room.toml", BASE)], texts)
}

/// Broken scenarios.
pub(crate) fn scenarios() -> Vec<Case> {
    let whole = |text: String| {
        if ["rows = ", "rows=", "#whole"]
            .iter()
            .any(|it| text.contains(it))
        {
            return text;
        }
        format!("title = \"x\"\nstart = \"2026-03-02 08:00\"\nrows = [\n{text}]\n")
    };
    let beside = &[("room.toml", ROOM), ("sequence.toml", SEQUENCE)];
    // A file without rows is a table of something else to the program, and no scenario.
    let texts = texts(SCENARIOS).into_iter().map(whole);
    cases(
        "broken.toml",
        beside,
        texts.filter(|text| text.contains("rows")),
    )
}

fn cases(
    file: &'static str,
    beside: &'static [(&'static str, &'static str)],
    texts: impl Iterator<Item = String>,
) -> Vec<Case> {
    texts.map(|text| Case { file, text, beside }).collect()
}

/// The texts of a corpus, without what must be said of them and without the marks.
fn texts(corpus: &str) -> Vec<String> {
    let blocks = corpus.split("\n\n").map(|block| {
        let said = |line: &&str| !["##", "!", "? "].iter().any(|it| line.starts_with(it));
        let lines = block.lines().filter(said);
        lines.fold(String::new(), |text, line| text + line + "\n")
    });
    let texts = blocks.filter(|text| !text.trim().is_empty());
    texts.map(|text| text.replace(['«', '»'], "")).collect()
}
