//! The file reference of the README says only what is so.

use super::found;
use crate::script::phrase::Phrase;
use crate::script::time;

const README: &str = include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/../../README.md"));

/// The text from one heading to the next of its rank or above.
fn section(heading: &str) -> &'static str {
    let rank = heading.split(' ').next().unwrap_or("#");
    let from = README
        .find(&format!("\n{heading}\n"))
        .expect("the heading stands in the README");
    let text = &README[from + heading.len() + 2..];
    let mut end = text.len();
    for rank in (1..=rank.len()).map(|rank| "#".repeat(rank)) {
        end = end.min(text.find(&format!("\n{rank} ")).unwrap_or(end));
    }
    &text[..end]
}

/// The texts in backticks of one column of the tables of a section.
fn examples(heading: &str, column: usize) -> Vec<String> {
    let mut examples = Vec::new();
    for line in section(heading)
        .lines()
        .filter(|line| line.starts_with("| "))
    {
        let cell = line.split('|').nth(column).unwrap_or("");
        let ticked = cell.split('`').skip(1).step_by(2);
        examples.extend(ticked.map(str::to_owned));
    }
    examples
}

#[test]
fn every_time_of_the_reference_is_read() {
    let examples = examples("#### The time of a row", 1);
    assert!(examples.len() > 12, "{examples:?}");
    for example in examples {
        assert!(time::read(&example).is_ok(), "{example}");
    }
}

#[test]
fn every_example_of_what_happens_and_must_be_so_is_read() {
    let mut all = examples("#### What happens", 2);
    all.extend(examples("#### What must be so", 2));
    all.extend(examples("#### What must be so", 1));
    let mut read = 0;
    for example in &all {
        // Points and parts of phrases stand in backticks too.
        if Phrase::read(example).is_ok() {
            read += 1;
        }
    }
    let parts: Vec<&String> = all.iter().filter(|it| Phrase::read(it).is_err()).collect();
    assert!(read > 100, "{read}");
    let known = [
        "calendar",
        "include",
        "visit",
        "visit.toml",
        "[scripts.visit]",
        "at most",
        "at least",
        "below",
        "above",
        "between 40 % and 60 %",
        "once",
        "twice",
        "at most 3 times",
        "at least 3 times",
        "load",
        "stored = false",
        "occupied",
        "vacant",
        "unknown",
        "down of up",
        "up of up",
        "illuminance",
        "in hours",
        "after hours",
        "time lost",
        "shed",
        "shed end",
        "teach-in",
        "every",
        "room",
        "start",
        "is not …",
    ];
    let strange: Vec<&String> = parts
        .into_iter()
        .filter(|part| !part.starts_with('"') && !known.contains(&part.as_str()))
        .collect();
    assert!(strange.is_empty(), "{strange:?} are not understood");
}

#[test]
fn every_block_of_the_reference_is_a_scenario_that_can_be_read() {
    let mut blocks = 0;
    for block in section("### Scenario files").split("```toml\n").skip(1) {
        let block = block.split("```").next().unwrap_or("");
        let mut text = String::new();
        let top = block.split("\n[").next().unwrap_or(block);
        for (key, line) in [
            ("title", "title = \"x\"\n"),
            ("start", "start = \"2026-03-02 08:00\"\n"),
            ("rows", "rows = []\n"),
        ] {
            if block.starts_with('[') || !top.contains(&format!("{key} ")) {
                text.push_str(line);
            }
        }
        text.push_str(block);
        let (sources, diagnostics, scripts) = found(&text);
        let said: Vec<String> = diagnostics
            .iter()
            .map(|it| it.render(&sources, false))
            .collect();
        assert!(scripts > 0, "{text}\n{}", said.join("\n"));
        blocks += 1;
    }
    assert!(blocks >= 5, "{blocks}");
}
