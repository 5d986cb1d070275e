//! Tables for a terminal: verdicts of scenarios, and coverage of clauses.
//!
//! Invariant: signs and words carry the meaning; a painter may add colour to the words of a
//! verdict and nothing is lost without it.

use crate::record::{ClauseRecord, Scenario, Suite};
use crate::verdict::Verdict;
use crate::words;
use device::Span;

/// Adds colour to the words of a verdict; the plain one adds nothing.
pub type Paint = dyn Fn(Verdict, &str) -> String;

/// Adds no colour.
#[must_use]
pub fn plain(_: Verdict, text: &str) -> String {
    text.to_owned()
}

/// A cell: its text, and the verdict that it speaks of.
type Cell = (String, Option<Verdict>);

/// The verdicts of a suite, a line for each scenario, with a summary at the end.
#[must_use]
pub fn verdicts(suite: &Suite, paint: &Paint) -> String {
    let mut rows: Vec<Vec<Cell>> = Vec::new();
    let mut breaks = Vec::new();
    for (room, scenarios) in suite.rooms() {
        breaks.push((rows.len(), room.to_owned()));
        rows.extend(scenarios.into_iter().map(row));
    }
    let widths = widths(&rows);
    let mut text = String::new();
    let mut rooms = breaks.into_iter().peekable();
    for (index, row) in rows.iter().enumerate() {
        while let Some((_, room)) = rooms.next_if(|(at, _)| *at == index) {
            text.push_str(&room);
            text.push('\n');
        }
        text.push_str(&line(row, &widths, paint));
    }
    if !text.is_empty() {
        text.push('\n');
    }
    text.push_str(&summary(suite, paint));
    text
}

/// The last lines of a run: how many scenarios fared how, and which clauses nobody exercised.
#[must_use]
pub fn summary(suite: &Suite, paint: &Paint) -> String {
    let total = suite.scenarios.len();
    let counted = Verdict::ALL.iter().filter_map(|verdict| {
        let number = suite.count(*verdict);
        (number > 0).then(|| paint(*verdict, &format!("{number} {verdict}")))
    });
    let counted: Vec<String> = counted.collect();
    let mut text = format!(
        "{}: {}\n",
        words::count(total, "scenario", "scenarios"),
        counted.join(", ")
    );
    if total == 0 {
        text = "no scenarios were found\n".to_owned();
    }
    let clauses: usize = suite
        .rooms()
        .iter()
        .map(|(_, all)| all[0].clauses.len())
        .sum();
    let never = suite.never_exercised();
    if clauses > 0 {
        let exercised = clauses - never.len();
        text.push_str(&format!(
            "{}: {exercised} exercised",
            words::count(clauses, "clause", "clauses")
        ));
        if !never.is_empty() {
            let loud = format!("{} NEVER EXERCISED", never.len());
            text.push_str(&format!(", {}", paint(Verdict::NeverExercised, &loud)));
        }
        text.push('\n');
    }
    for (room, clause) in never {
        let sign = paint(Verdict::NeverExercised, "NEVER EXERCISED");
        text.push_str(&format!(
            "  {sign}  {room} {}: {}\n",
            clause.id, clause.says
        ));
    }
    for idle in &suite.idle_rooms {
        let sign = paint(Verdict::NeverExercised, "NEVER EXERCISED");
        let clauses = words::count(idle.clauses.len(), "clause", "clauses");
        text.push_str(&format!(
            "  {sign}  {}: no scenario of it was run, nothing is known of its {clauses} ({})\n",
            idle.room, idle.file
        ));
    }
    text
}

/// Which scenario put which clause to the test: a matrix for each room.
#[must_use]
pub fn coverage(suite: &Suite, paint: &Paint) -> String {
    let mut text = String::new();
    for (room, scenarios) in suite.rooms() {
        text.push_str(&matrix(room, &scenarios, paint));
        text.push('\n');
    }
    text.push_str(LEGEND);
    text
}

fn matrix(room: &str, scenarios: &[&Scenario], paint: &Paint) -> String {
    let mut text = format!("{room}\n");
    let Some(first) = scenarios.first() else {
        return text;
    };
    for (number, scenario) in (1..).zip(scenarios) {
        text.push_str(&format!("  {number:>3}  {}\n", scenario.label()));
    }
    let wide = first
        .clauses
        .iter()
        .map(|clause| clause.id.chars().count())
        .max()
        .unwrap_or(0);
    let heads: Vec<String> = (1..=scenarios.len())
        .map(|number| format!("{number:>3}"))
        .collect();
    text.push_str(&format!("  {:wide$} {}\n", "", heads.concat()));
    for clause in &first.clauses {
        let mut cells = String::new();
        let mut exercised = false;
        for scenario in scenarios {
            let same = scenario.clauses.iter().find(|other| other.id == clause.id);
            let (sign, verdict) = same.map_or((" ", Verdict::NeverExercised), sign);
            exercised |= verdict != Verdict::NeverExercised;
            cells.push_str("  ");
            cells.push_str(&paint(verdict, sign));
        }
        let loud = if exercised {
            String::new()
        } else {
            format!("  {}", paint(Verdict::NeverExercised, "NEVER EXERCISED"))
        };
        text.push_str(&format!("  {:<wide$} {cells}{loud}\n", clause.id));
    }
    text
}

/// The sign of a clause in one scenario; what must break has one of its own.
fn sign(clause: &ClauseRecord) -> (&'static str, Verdict) {
    let sign = match (clause.verdict, clause.as_expected) {
        (Verdict::Broken, true) => "x",
        (verdict, _) => verdict.sign(),
    };
    (sign, clause.verdict)
}

fn row(scenario: &Scenario) -> Vec<Cell> {
    let verdict = scenario.verdict;
    let checks = scenario.checks.len();
    let missed = scenario.checks.iter().filter(|check| !check.as_expected);
    let missed = missed.count();
    let checked = match missed {
        0 => words::count(checks, "check", "checks"),
        _ => format!(
            "{missed} of {} missed",
            words::count(checks, "check", "checks")
        ),
    };
    vec![
        (format!("  {}", verdict.sign()), Some(verdict)),
        (scenario.label(), None),
        (verdict.to_string(), Some(verdict)),
        (checked, None),
        (clauses(scenario), None),
        (words::short_span(Span::from_ms(scenario.lasts_ms)), None),
    ]
}

fn clauses(scenario: &Scenario) -> String {
    let with = |verdict, expected| {
        let same = scenario.clauses.iter();
        let same = same.filter(move |one| one.verdict == verdict && one.as_expected == expected);
        same.map(|clause| clause.id.clone())
            .collect::<Vec<String>>()
    };
    let exercised = scenario
        .clauses
        .iter()
        .filter(|one| one.verdict != Verdict::NeverExercised);
    let mut text = format!(
        "{} of {}",
        exercised.count(),
        words::count(scenario.clauses.len(), "clause", "clauses")
    );
    let broken = with(Verdict::Broken, false);
    let wanted = with(Verdict::Broken, true);
    if !broken.is_empty() {
        text.push_str(&format!(", broken {}", words::list(&broken)));
    }
    let others = scenario.clauses.iter().filter(|one| !one.as_expected);
    for clause in others.filter(|one| one.verdict != Verdict::Broken) {
        text.push_str(&format!(
            ", {} {} but was to be otherwise",
            clause.id, clause.verdict
        ));
    }
    if !wanted.is_empty() {
        text.push_str(&format!(", broken as expected {}", words::list(&wanted)));
    }
    text
}

fn widths(rows: &[Vec<Cell>]) -> Vec<usize> {
    let columns = rows.iter().map(Vec::len).max().unwrap_or(0);
    let width = |column: usize| {
        let cells = rows.iter().filter_map(|row| row.get(column));
        cells
            .map(|(text, _)| text.chars().count())
            .max()
            .unwrap_or(0)
    };
    (0..columns).map(width).collect()
}

fn line(row: &[Cell], widths: &[usize], paint: &Paint) -> String {
    let mut line = String::new();
    let last = row.len().saturating_sub(1);
    for (index, ((text, verdict), width)) in row.iter().zip(widths).enumerate() {
        let painted = verdict.map_or_else(|| text.clone(), |verdict| paint(verdict, text));
        line.push_str(&painted);
        if index < last {
            let gap = width + 2 - text.chars().count();
            line.push_str(&" ".repeat(gap));
        }
    }
    line.push('\n');
    line
}

const LEGEND: &str = "\u{2713} held   \u{2717} broken   x broken as expected   \u{2026} open   \u{00b7} never exercised\n";

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::tests::suite;

    #[test]
    fn verdicts_are_aligned_and_end_in_a_summary() {
        insta::assert_snapshot!(verdicts(&suite(), &plain));
    }

    #[test]
    fn coverage_shows_loudly_what_nobody_exercised() {
        insta::assert_snapshot!(coverage(&suite(), &plain));
    }

    #[test]
    fn colour_changes_no_alignment_and_no_word() {
        let paint = |_: Verdict, text: &str| format!("<{text}>");
        let painted = verdicts(&suite(), &paint).replace(['<', '>'], "");
        assert_eq!(painted, verdicts(&suite(), &plain));
    }

    #[test]
    fn an_empty_suite_says_that_nothing_was_found() {
        assert_eq!(
            verdicts(&Suite::new(Vec::new()), &plain),
            "no scenarios were found\n"
        );
    }
}
