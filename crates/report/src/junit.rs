//! Verdicts as JUnit XML: a suite for each room, a case for each scenario, and one for each
//! clause, skipped where nothing has exercised it.

use quick_junit::{NonSuccessKind, Report, TestCase, TestCaseStatus, TestSuite};

use crate::record::{FailureRecord, Scenario, Suite};
use crate::verdict::Verdict;
use crate::why::labelled;

/// The suite as JUnit XML. Equal suites give equal bytes: it holds no clock and no duration.
///
/// # Panics
///
/// Never: a report in memory can always be written.
#[must_use]
pub fn junit(suite: &Suite) -> String {
    let mut report = Report::new("roomrig");
    let never = suite.never_exercised();
    for (room, scenarios) in suite.rooms() {
        let mut cases = TestSuite::new(room);
        cases.add_test_cases(scenarios.iter().map(|scenario| case(scenario)));
        report.add_test_suite(cases);
        let Some(first) = scenarios.first() else {
            continue;
        };
        if first.clauses.is_empty() {
            continue;
        }
        let mut clauses = TestSuite::new(format!("{room}: clauses"));
        for clause in &first.clauses {
            let idle = never
                .iter()
                .any(|(of, one)| *of == room && one.id == clause.id);
            let mut status = if idle {
                TestCaseStatus::skipped()
            } else {
                TestCaseStatus::success()
            };
            if idle {
                status.set_message("never exercised");
            }
            let mut case = TestCase::new(format!("{}: {}", clause.id, clause.says), status);
            case.set_classname(room);
            clauses.add_test_case(case);
        }
        report.add_test_suite(clauses);
    }
    report
        .to_string()
        .expect("a report in memory can be written")
}

fn case(scenario: &Scenario) -> TestCase {
    let unexpected: Vec<&FailureRecord> = scenario
        .failures
        .iter()
        .filter(|failure| !failure.as_expected)
        .collect();
    let mut status = match scenario.verdict {
        Verdict::Held => TestCaseStatus::success(),
        Verdict::Broken => TestCaseStatus::non_success(NonSuccessKind::Failure),
        Verdict::NeverExercised | Verdict::Open | Verdict::Undecided => {
            TestCaseStatus::non_success(NonSuccessKind::Error)
        }
    };
    if scenario.verdict != Verdict::Held {
        let first = unexpected
            .first()
            .map_or(scenario.verdict.words(), |failure| &failure.says);
        status.set_message(first);
        status.set_type(scenario.verdict.words());
        let texts: Vec<String> = unexpected.iter().map(|failure| text(failure)).collect();
        status.set_description(texts.join("\n"));
    }
    let mut case = TestCase::new(format!("{}: {}", scenario.label(), scenario.title), status);
    case.set_classname(scenario.room.clone());
    case
}

fn text(failure: &FailureRecord) -> String {
    let mut text = format!("{}\n", failure.says);
    text.push_str(&labelled("at", std::slice::from_ref(&failure.place)));
    text.push_str(&labelled("why", &failure.why));
    text.push_str(&labelled("but", &failure.refused));
    text.push_str(&labelled("next", &failure.next));
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::tests::suite;

    #[test]
    fn junit_has_a_case_for_each_scenario_and_clause() {
        insta::assert_snapshot!(junit(&suite()));
    }

    #[test]
    fn names_from_files_are_escaped() {
        let mut suite = suite();
        suite.scenarios[0].title = "<b> & \"radio\" \u{1b}[31m".to_owned();
        let xml = junit(&suite);
        assert!(xml.contains("&lt;b&gt; &amp; "));
        assert!(!xml.contains("<b>") && !xml.contains('\u{1b}'));
    }
}
