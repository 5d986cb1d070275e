//! Words that no file of the repository may carry.

use super::Problem;
use crate::tree::Tree;

/// Checks the words of every text file.
pub(super) fn check(tree: &Tree, found: &mut Vec<Problem>) {
    for file in tree.files() {
        if LOCKS.iter().any(|lock| file.ends_with(lock)) {
            continue;
        }
        if let Some(text) = tree.text(file) {
            check_text(file, &text, found);
        }
    }
}

fn check_text(file: &str, text: &str, found: &mut Vec<Problem>) {
    for (number, line) in text.lines().enumerate() {
        for mark in MARKS {
            if undated(line, mark) {
                let text = format!("{mark} without a date: write {mark}(2026-12-31)");
                found.push(Problem::at(file, number + 1, text));
            }
        }
        let lower = line.to_lowercase();
        for word in WORDS {
            if lower.contains(word) {
                let text =
                    format!("the documentation stands on its own: {word:?} does not belong here");
                found.push(Problem::at(file, number + 1, text));
            }
        }
        if line.ends_with([' ', '\t']) && CODE.iter().any(|ending| file.ends_with(ending)) {
            found.push(Problem::at(
                file,
                number + 1,
                "space at the end of the line",
            ));
        }
    }
}

/// Whether the line has this mark as a word of its own and no date in brackets after it.
fn undated(line: &str, mark: &str) -> bool {
    line.match_indices(mark).any(|(at, _)| {
        let before = line[..at].chars().next_back();
        let after = &line[at + mark.len()..];
        let alone = |letter: Option<char>| {
            letter.is_none_or(|letter| !letter.is_alphanumeric() && letter != '_')
        };
        let dated = after
            .strip_prefix('(')
            .and_then(|rest| rest.split_once(')'))
            .is_some_and(|(date, _)| date.len() == 10 && date.split('-').count() == 3);
        alone(before) && alone(after.chars().next()) && !dated
    })
}

/// Files that tools write and nobody reads.
const LOCKS: [&str; 2] = ["Cargo.lock", "package-lock.json"];

/// Files in which a space at the end of a line is never meant.
const CODE: [&str; 4] = [".py", ".rs", ".sh", ".toml"];

/// Marks of unfinished work; in two halves, so that this file passes its own rule.
const MARKS: [&str; 3] = [
    concat!("TO", "DO"),
    concat!("FIX", "ME"),
    concat!("XX", "X"),
];

/// Working papers and hosts that mean nothing to a reader of the repository.
const WORDS: [&str; 11] = [
    concat!("seed ", "document"),
    concat!("behaviours", ".md"),
    concat!("house-", "style"),
    concat!("handbook", ".md"),
    concat!("peers", ".md"),
    concat!("prover", ".md"),
    concat!("dependencies", ".md"),
    concat!("/work", "/"),
    concat!("py", "pi.org"),
    concat!("npmjs", ".org"),
    concat!("index.", "crates.io"),
];

#[cfg(test)]
mod tests {
    use super::{MARKS, WORDS, check_text};

    fn lines(text: &str) -> Vec<Option<usize>> {
        let mut found = Vec::new();
        check_text("a.rs", text, &mut found);
        found.iter().map(|problem| problem.line).collect()
    }

    #[test]
    fn unfinished_work_has_a_date() {
        let mark = MARKS[0];
        assert_eq!(lines(&format!("fine\n// {mark}: later\n")), [Some(2)]);
        assert_eq!(lines(&format!("// {mark}(soon): later\n")), [Some(1)]);
        assert!(lines(&format!("// {mark}(2026-12-31): later\n")).is_empty());
        assert!(lines(&format!("let {mark}S = MAS{mark};\n")).is_empty());
    }

    #[test]
    fn working_papers_are_not_named() {
        for word in WORDS {
            assert_eq!(
                lines(&format!("see {}\n", word.to_uppercase())),
                [Some(1)],
                "{word}"
            );
        }
    }

    #[test]
    fn a_line_ends_with_a_letter() {
        assert_eq!(lines("let a = 1; \n"), [Some(1)]);
    }
}
