//! Rows: every row of the device reference is named by a test.
//!
//! A test names a row in its own name (`occ_4_a_sound_at_…`, `card_1_2_…` for two) or in a comment
//! (`OCC-4`).

use std::collections::BTreeSet;

use super::Problem;
use crate::tree::Tree;

/// Checks the reference against the tests.
pub(super) fn check(tree: &Tree, found: &mut Vec<Problem>) {
    let Some(reference) = tree.text(REFERENCE) else {
        return;
    };
    let mut named = BTreeSet::new();
    for file in tree.with_ending(&[".rs"]) {
        if let Some(text) = tree.text(file) {
            named_in(file, &text, &mut named);
        }
    }
    for (line, row) in rows(&reference) {
        if !named.contains(&row) {
            let text = format!("no test names {row}: write one, and see it fail");
            found.push(Problem::at(REFERENCE, line, text));
        }
    }
}

/// The rows of the reference, each with the line that has it first.
fn rows(reference: &str) -> Vec<(usize, String)> {
    let mut families: Vec<&str> = Vec::new();
    let mut seen = BTreeSet::new();
    let mut rows = Vec::new();
    let lines = reference.lines().zip(1..);
    for (text, line) in lines.skip_while(|(text, _)| *text != HEADING) {
        if let Some((names, _)) = text.strip_prefix("## ").and_then(|it| it.split_once(" · ")) {
            families.extend(names.split(", "));
        }
        for row in ids(text) {
            let family = row.split_once('-').map_or("", |(family, _)| family);
            if families.contains(&family) && seen.insert(row.clone()) {
                rows.push((line, row));
            }
        }
    }
    rows
}

/// The rows that the tests of a file name.
fn named_in(file: &str, text: &str, named: &mut BTreeSet<String>) {
    let whole = file.contains("/tests/") || file.ends_with("/tests.rs");
    let mut inside = whole;
    for line in text.lines() {
        inside |= line.trim() == "#[cfg(test)]";
        if !inside {
            continue;
        }
        let line = line.trim();
        if let Some((_, comment)) = line.split_once("//") {
            named.extend(ids(comment));
        }
        if let Some(name) = line.strip_prefix("fn ") {
            let mut words = name.split(['_', '(', '<']);
            let family = words.next().unwrap_or_default().to_uppercase();
            let numbers = words.take_while(|word| is_number(word));
            named.extend(numbers.map(|number| format!("{family}-{number}")));
        }
    }
}

/// Every `ABC-12` of a text.
fn ids(text: &str) -> Vec<String> {
    let words = text.split(|sign: char| !sign.is_ascii_alphanumeric() && sign != '-');
    let is_id = |word: &&str| {
        word.split_once('-').is_some_and(|(family, number)| {
            let large = family.chars().all(|sign| sign.is_ascii_uppercase());
            !family.is_empty() && large && is_number(number)
        })
    };
    words.filter(is_id).map(str::to_owned).collect()
}

fn is_number(word: &str) -> bool {
    !word.is_empty() && word.chars().all(|sign| sign.is_ascii_digit())
}

/// The file that holds the reference, and the line that it begins with.
const REFERENCE: &str = "DEVELOPERS.md";
const HEADING: &str = "# Device reference";

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::{named_in, rows};
    use crate::tree::Tree;

    #[test]
    fn rows_stand_below_the_heading_and_belong_to_a_family() {
        let text = "OCC-9\n# Device reference\n## OCC, SW · Sensors\nOCC-1 does; NFPA-101, OCC-1\n\
                    | SW-2 | x | see OCC-3 |\n";
        let rows = rows(text);
        let expected = [(4, "OCC-1"), (5, "SW-2"), (5, "OCC-3")];
        assert_eq!(rows, expected.map(|(line, row)| (line, row.to_owned())));
    }

    #[test]
    fn a_test_names_rows_in_its_name_and_in_comments_and_code_names_none() {
        let mut named = BTreeSet::new();
        let text = "// OCC-1\nfn occ_2() {}\n#[cfg(test)]\nmod tests {\n    // OCC-3: so\n    \
                    fn card_1_2_a_card_in() {}\n    let text = \"OCC-4\";\n}\n";
        named_in("crates/device/src/card.rs", text, &mut named);
        let expected = ["CARD-1", "CARD-2", "OCC-3"].map(str::to_owned);
        assert_eq!(named, BTreeSet::from(expected));
    }

    #[test]
    fn the_reference_of_this_tree_is_read() {
        let tree = Tree::open().unwrap();
        let reference = tree.text(super::REFERENCE).unwrap();
        let count = rows(&reference).len();
        assert!(count >= 80, "{count} rows");
    }
}
