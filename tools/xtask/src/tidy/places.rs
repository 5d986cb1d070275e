//! Places: what may stand at the top, and which files come in pairs.

use std::collections::BTreeSet;

use super::Problem;
use crate::tree::Tree;

/// Checks the top level and the pairs of scenario and golden trace.
pub(super) fn check(tree: &Tree, found: &mut Vec<Problem>) {
    let files: Vec<&str> = tree.files().collect();
    top_level(&files, found);
    goldens(&files, found);
}

/// The visible top level is closed.
fn top_level(files: &[&str], found: &mut Vec<Problem>) {
    let places: BTreeSet<&str> = files
        .iter()
        .map(|file| file.split('/').next().unwrap_or(file))
        .collect();
    for place in places {
        let known = TOP.contains(&place) || place.starts_with('.') || place.starts_with("LICENSE-");
        if !known {
            let text = format!(
                "does not belong at the top; there are only {}",
                TOP.join(", ")
            );
            found.push(Problem::of(place, text));
        }
    }
}

/// Each shipped scenario has a golden trace, and each golden trace its scenario.
fn goldens(files: &[&str], found: &mut Vec<Problem>) {
    let scenarios: BTreeSet<&str> = files
        .iter()
        .filter_map(|file| file.strip_prefix(SCENARIOS)?.strip_suffix(".toml"))
        .filter(|name| {
            let last = name.rsplit('/').next().unwrap_or(name);
            !SETTINGS.contains(&last)
        })
        .collect();
    let goldens: BTreeSet<&str> = files
        .iter()
        .filter_map(|file| file.strip_prefix(GOLDENS)?.strip_suffix(GOLDEN_ENDING))
        .collect();
    for name in scenarios.symmetric_difference(&goldens) {
        found.push(if scenarios.contains(name) {
            Problem::of(
                format!("{SCENARIOS}{name}.toml"),
                "has no golden trace: run cargo xtask golden and read it",
            )
        } else {
            Problem::of(
                format!("{GOLDENS}{name}{GOLDEN_ENDING}"),
                "has no scenario any more",
            )
        });
    }
}

/// What stands at the top, beside licences and files with a dot.
const TOP: [&str; 8] = [
    "Cargo.lock",
    "Cargo.toml",
    "DEVELOPERS.md",
    "README.md",
    "crates",
    "scenarios",
    "tests",
    "tools",
];

/// Where scenarios stand, and their goldens.
const SCENARIOS: &str = "scenarios/";
const GOLDENS: &str = "tests/golden/";
const GOLDEN_ENDING: &str = ".snap";

/// Files of a room or site that are no scenario.
const SETTINGS: [&str; 3] = ["room", "sequence", "site"];

#[cfg(test)]
mod tests {
    use super::{goldens, top_level};

    fn texts(check: fn(&[&str], &mut Vec<super::Problem>), files: &[&str]) -> Vec<String> {
        let mut found = Vec::new();
        check(files, &mut found);
        found.iter().map(|problem| problem.file.clone()).collect()
    }

    #[test]
    fn nothing_else_stands_at_the_top() {
        let files = [
            ".ci/run",
            "LICENSE-MIT",
            "Cargo.toml",
            "crates/device/Cargo.toml",
        ];
        assert!(texts(top_level, &files).is_empty());
        assert_eq!(
            texts(top_level, &["docs/plan.md", "notes.txt"]),
            ["docs", "notes.txt"]
        );
    }

    #[test]
    fn scenario_and_golden_come_in_pairs() {
        let files = [
            "scenarios/annex/office/room.toml",
            "scenarios/annex/office/radio.toml",
            "scenarios/annex/office/quiet.toml",
            "tests/golden/annex/office/quiet.snap",
            "tests/golden/annex/office/gone.snap",
        ];
        assert_eq!(
            texts(goldens, &files),
            [
                "tests/golden/annex/office/gone.snap",
                "scenarios/annex/office/radio.toml"
            ]
        );
    }
}
