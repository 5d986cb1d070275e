//! The shipped scenarios: each comes out as expected, twice the same, and as it did before.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use scenario::Severity;
use scenario::run::{Outcome, Verdict, golden_text, run, trace_text};
use scenario::suite::Suite;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn suite() -> Suite {
    let suite = Suite::open(&[root().join("scenarios")]).expect("the scenarios are there");
    let errors = suite
        .diagnostics
        .iter()
        .filter(|it| it.severity == Severity::Error);
    let errors: Vec<String> = errors.map(|it| it.render(&suite.sources, false)).collect();
    assert!(errors.is_empty(), "{}", errors.join("\n"));
    suite
}

fn outcomes(suite: &Suite) -> Vec<(usize, Outcome)> {
    let runs = suite.runs();
    runs.map(|(room, script)| (room, run(script, 0))).collect()
}

#[test]
fn every_shipped_scenario_comes_out_as_expected() {
    let wrong: Vec<String> = outcomes(&suite())
        .iter()
        .filter(|(_, outcome)| outcome.verdict != Verdict::Held)
        .map(|(_, outcome)| format!("{}: {:?}", outcome.script.file, outcome.verdict))
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_clause_of_the_annex_is_put_to_the_test() {
    let suite = suite();
    let outcomes = outcomes(&suite);
    for (room, named) in suite.rooms.iter().enumerate() {
        let plan = &named.room.as_ref().expect("the room was read").plan;
        for (clause, named_clause) in plan.clauses.iter().enumerate() {
            let mut runs = outcomes.iter().filter(|(at, _)| *at == room);
            let tested = runs.any(|(_, outcome)| {
                let verdict = outcome.clauses[clause].verdict;
                matches!(verdict, clause::Verdict::Held | clause::Verdict::Broken)
            });
            assert!(tested, "{}: {}", named.folder.display(), named_clause.id);
        }
    }
}

#[test]
fn every_shipped_scenario_runs_twice_the_same_on_any_thread() {
    let suite = suite();
    for (_, script) in suite.runs() {
        let here = trace_text(&run(script, 3));
        let script = Arc::clone(script);
        let there = std::thread::spawn(move || trace_text(&run(&script, 3)));
        assert_eq!(there.join().expect("the run ends"), here);
    }
}

#[test]
fn the_golden_traces_are_as_they_were() {
    let mut files: BTreeMap<String, Vec<Outcome>> = BTreeMap::new();
    for (_, outcome) in outcomes(&suite()) {
        let file = outcome.script.file.clone();
        files.entry(file).or_default().push(outcome);
    }
    let scenarios = root().join("scenarios");
    for (file, outcomes) in files {
        let within = Path::new(&file).strip_prefix(&scenarios);
        let within = within.expect("a scenario stands below the folder that was opened");
        let folder = within
            .parent()
            .expect("a scenario stands in a room's folder");
        let name = within.file_stem().expect("a scenario has a name");
        let mut settings = insta::Settings::clone_current();
        settings.set_snapshot_path(root().join("tests/golden").join(folder));
        settings.set_prepend_module_to_snapshot(false);
        settings.set_omit_expression(true);
        settings.bind(|| {
            insta::assert_snapshot!(name.to_string_lossy().into_owned(), golden_text(&outcomes));
        });
    }
}
