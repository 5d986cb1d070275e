//! Rust sources: each file says what it is for, and fits into a reader's head.

use super::Problem;
use crate::tree::Tree;

/// Checks each Rust file.
pub(super) fn check(tree: &Tree, found: &mut Vec<Problem>) {
    for file in tree.with_ending(&[".rs"]) {
        if let Some(text) = tree.text(file) {
            check_file(file, &text, found);
        }
    }
}

fn check_file(file: &str, text: &str, found: &mut Vec<Problem>) {
    if !text.starts_with("//!") {
        found.push(Problem::at(file, 1, "must open with //! and its purpose"));
    }
    if file.ends_with("src/lib.rs") || file.ends_with("src/main.rs") {
        root_attributes(file, text, found);
    }
    let lines = product_lines(file, text);
    if lines.len() > FILE_LINES {
        let text = format!("{} lines without tests; at most {FILE_LINES}", lines.len());
        found.push(Problem::of(file, text));
    }
    functions(file, &lines, found);
}

/// In a crate root a lint level without `!` reaches one item only, which is never meant.
fn root_attributes(file: &str, text: &str, found: &mut Vec<Problem>) {
    for (number, line) in text.lines().enumerate() {
        if LEVELS.iter().any(|level| line.starts_with(level)) {
            let text =
                "this lint level reaches one item only: write #![…], or put it on the item inside";
            found.push(Problem::at(file, number + 1, text));
        }
    }
}

/// The lines that are not tests: up to the test module, which stands last.
fn product_lines<'a>(file: &str, text: &'a str) -> Vec<&'a str> {
    if file.starts_with("tests/") || file.contains("/tests/") || file.ends_with("/tests.rs") {
        return Vec::new();
    }
    let lines: Vec<&str> = text.lines().collect();
    let end = (0..lines.len())
        .find(|&at| {
            lines[at] == "#[cfg(test)]"
                && lines[at + 1..]
                    .iter()
                    .find(|line| !line.starts_with("#["))
                    .is_some_and(|line| line.contains("mod "))
        })
        .unwrap_or(lines.len());
    lines[..end].to_vec()
}

/// A function spans the lines from its `fn` to the brace at the same indent.
fn functions(file: &str, lines: &[&str], found: &mut Vec<Problem>) {
    for (start, line) in lines.iter().enumerate() {
        let Some(name) = function_name(line) else {
            continue;
        };
        let indent = &line[..line.len() - line.trim_start().len()];
        let end = lines[start..].iter().position(|candidate| {
            candidate
                .strip_prefix(indent)
                .is_some_and(|rest| rest.starts_with('}'))
        });
        // A function of a trait without a body ends with a semicolon and no brace.
        let stop = lines[start..]
            .iter()
            .position(|candidate| candidate.ends_with(';'));
        let body = lines[start..]
            .iter()
            .position(|candidate| candidate.ends_with('{'));
        if let (Some(end), Some(body)) = (end, body)
            && stop.is_none_or(|stop| body < stop)
            && end + 1 > FUNCTION_LINES
        {
            let text = format!("{name} has {} lines; at most {FUNCTION_LINES}", end + 1);
            found.push(Problem::at(file, start + 1, text));
        }
    }
}

/// The name of the function whose signature begins on this line.
fn function_name(line: &str) -> Option<&str> {
    let mut words = line.split_whitespace();
    loop {
        match words.next()? {
            "fn" => break,
            "const" | "async" | "unsafe" | "extern" | "\"C\"" | "pub" => {}
            word if word.starts_with("pub(") || word.ends_with(')') => {}
            _ => return None,
        }
    }
    words.next()?.split(['(', '<']).next()
}

/// At most so many lines in a file, tests not counted.
const FILE_LINES: usize = 600;

/// At most so many lines in a function.
const FUNCTION_LINES: usize = 70;

/// Lint levels as an outer attribute would write them.
const LEVELS: [&str; 5] = ["#[allow(", "#[deny(", "#[expect(", "#[forbid(", "#[warn("];

#[cfg(test)]
mod tests {
    use super::check_file;

    fn texts(file: &str, text: &str) -> Vec<String> {
        let mut found = Vec::new();
        check_file(file, text, &mut found);
        found.iter().map(ToString::to_string).collect()
    }

    fn function(lines: usize) -> String {
        let body = "    let _ = 1;\n".repeat(lines - 2);
        format!("//! Purpose.\npub(crate) const fn long(a: u8) {{\n{body}}}\n")
    }

    #[test]
    fn a_file_opens_with_its_purpose() {
        assert_eq!(
            texts("a.rs", "fn main() {}\n"),
            ["a.rs:1: must open with //! and its purpose"]
        );
        assert!(texts("a.rs", "//! Purpose.\nfn main() {}\n").is_empty());
    }

    #[test]
    fn seventy_lines_are_enough_for_a_function() {
        assert!(texts("a.rs", &function(70)).is_empty());
        assert_eq!(
            texts("a.rs", &function(71)),
            ["a.rs:2: long has 71 lines; at most 70"]
        );
    }

    #[test]
    fn six_hundred_lines_are_enough_for_a_file() {
        let full = format!("//! Purpose.\n{}", "const A: u8 = 1;\n".repeat(599));
        assert!(texts("a.rs", &full).is_empty());
        let over = format!("{full}const A: u8 = 1;\n");
        assert_eq!(
            texts("a.rs", &over),
            ["a.rs: 601 lines without tests; at most 600"]
        );
    }

    #[test]
    fn tests_do_not_count() {
        let tests = "    fn a() {}\n".repeat(700);
        let text = format!("//! Purpose.\n#[cfg(test)]\nmod tests {{\n{tests}}}\n");
        assert!(texts("a.rs", &text).is_empty());
        assert!(texts("a/tests.rs", &format!("//! Purpose.\n{tests}")).is_empty());
    }

    #[test]
    fn a_trait_may_declare_without_a_body() {
        let rows = "    /// Said.\n    fn said(&self);\n".repeat(40);
        assert!(texts("a.rs", &format!("//! Purpose.\ntrait A {{\n{rows}}}\n")).is_empty());
    }

    #[test]
    fn a_crate_root_sets_levels_for_the_whole_crate() {
        let text = "//! Purpose.\n#[warn(missing_docs)]\nmod a;\n";
        assert_eq!(texts("a/src/lib.rs", text).len(), 1);
        assert!(texts("a/src/b.rs", text).is_empty());
    }
}
