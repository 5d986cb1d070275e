//! Reads the number of tests from what a test runner prints.
//!
//! Invariant: both runners are understood, `cargo test` and `cargo nextest run`.

/// How many tests passed and failed.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub(crate) struct Tally {
    /// Tests that passed.
    pub(crate) passed: u64,
    /// Tests that failed, timed out or could not run.
    pub(crate) failed: u64,
}

impl Tally {
    /// Adds what one line of a runner says; most lines say nothing.
    pub(crate) fn read(&mut self, line: &str) {
        let line = plain(line);
        let line = line.trim_start();
        let summary = if let Some(rest) = line.strip_prefix("test result: ") {
            rest.split_once(". ").map(|(_, counts)| counts)
        } else if line.starts_with("Summary [") {
            line.split_once("tests run: ")
                .or_else(|| line.split_once("test run: "))
                .map(|(_, counts)| counts)
        } else {
            None
        };
        for part in summary.into_iter().flat_map(|text| text.split([',', ';'])) {
            let mut words = part.split_whitespace();
            let (Some(Ok(count)), Some(word)) = (words.next().map(str::parse::<u64>), words.next())
            else {
                continue;
            };
            match word {
                "passed" => self.passed += count,
                "failed" | "timed" | "exec" => self.failed += count,
                _ => {}
            }
        }
    }
}

/// A line without the colours that a runner paints it with.
fn plain(line: &str) -> String {
    let mut text = String::with_capacity(line.len());
    let mut characters = line.chars();
    while let Some(character) = characters.next() {
        if character == '\u{1b}' {
            // A colour ends with the letter m.
            characters.by_ref().find(|&letter| letter == 'm');
        } else {
            text.push(character);
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::Tally;

    fn check(text: &str, passed: u64, failed: u64) {
        let mut tally = Tally::default();
        text.lines().for_each(|line| tally.read(line));
        assert_eq!(tally, Tally { passed, failed }, "{text}");
    }

    #[test]
    fn results_of_every_test_binary_add_up() {
        check(
            "running 2 tests\n\
             test a ... ok\n\
             test result: ok. 2 passed; 0 failed; 1 ignored; 0 measured; 0 filtered out\n\
             test result: FAILED. 5 passed; 3 failed; 0 ignored; 0 measured; 0 filtered out\n",
            7,
            3,
        );
    }

    #[test]
    fn the_other_runner_has_one_summary() {
        check(
            "     Summary [   0.014s] 45 tests run: 45 passed (2 slow), 3 skipped\n",
            45,
            0,
        );
        check(
            "\u{1b}[31;1m     Summary\u{1b}[0m [   0.014s] \u{1b}[1m1\u{1b}[0m test run: 0 passed, 1 failed, 0 skipped\n",
            0,
            1,
        );
        check(
            "  Summary [ 9s] 4/9 tests run: 2 passed, 1 failed, 1 timed out, 0 skipped",
            2,
            2,
        );
    }

    #[test]
    fn a_test_that_prints_such_words_is_not_counted() {
        check("we saw 3 passed, 4 failed\nsummary: 3 passed\n", 0, 0);
    }
}
