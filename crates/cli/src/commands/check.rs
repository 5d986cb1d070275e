//! `roomrig check`: what can be said of rooms without running them.

use scenario::check::{CAUTIONS, check_all};
use scenario::diagnostic::{any_error, sort};
use scenario::suite::Suite;
use scenario::{Diagnostic, Severity};

use crate::args;
use crate::failure::Failure;
use crate::{Ended, Outcome, output, rooms};

/// Runs `roomrig check`.
pub(crate) fn run(args: &args::Check) -> Outcome {
    let suite = rooms::find(&args.paths)?;
    let unreadable = any_error(&suite.diagnostics);
    let mut findings = suite.diagnostics.clone();
    findings.extend(check_all(&suite.rooms));
    sort(&mut findings);
    let words = words(&findings, &suite);
    if args.json {
        output::data(json(&findings, &suite).as_bytes())?;
    }
    if unreadable {
        // A file that cannot be understood is bad usage, and its words are talk.
        return Err(Failure::rendered(words.trim_end().to_owned()));
    }
    if !args.json {
        output::data(words.as_bytes())?;
    }
    Ok(if any_error(&findings) {
        Ended::Broken
    } else {
        Ended::Held
    })
}

fn words(findings: &[Diagnostic], suite: &Suite) -> String {
    let rendered = findings
        .iter()
        .map(|finding| finding.render(&suite.sources, output::colours()));
    let mut text: String = rendered.map(|finding| finding + "\n").collect();
    let count = |severity| {
        findings
            .iter()
            .filter(|finding| finding.severity == severity)
            .count()
    };
    let plural = report::words::count;
    text.push_str(&format!(
        "{} checked: {}, {}, {}\n",
        plural(suite.rooms.len(), "room", "rooms"),
        plural(count(Severity::Error), "error", "errors"),
        plural(count(Severity::Warning), "warning", "warnings"),
        plural(count(Severity::Caution), "caution", "cautions"),
    ));
    for caution in CAUTIONS {
        text.push_str(caution);
        text.push('\n');
    }
    text
}

fn json(findings: &[Diagnostic], suite: &Suite) -> String {
    let findings: Vec<_> = findings
        .iter()
        .map(|finding| finding.to_json(&suite.sources))
        .collect();
    serde_json::Value::from(findings).to_string() + "\n"
}
