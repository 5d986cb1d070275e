//! `roomrig challenge`: faults are seeded one by one, and the matrix says who notices them.

use rayon::prelude::*;
use scenario::challenge::{Baseline, Matrix};
use serde_json::json;

use crate::args;
use crate::failure::Failure;
use crate::{Ended, Outcome, output, rooms};

/// Runs `roomrig challenge`.
pub(crate) fn run(args: &args::Challenge) -> Outcome {
    let suite = rooms::open_all(&args.paths)?;
    let mut matrices = Vec::new();
    for (room, scripts) in suite.rooms.iter().zip(&suite.scripts) {
        let baseline = Baseline::of(scripts, args.seed);
        if let Some(script) = baseline.failing() {
            let message = format!("{} does not hold as it is", script.file);
            return Err(Failure::new(
                message,
                "a challenge needs rooms that hold: `roomrig run` says why",
            ));
        }
        let faults = baseline.faults();
        let challenges = faults.par_iter().map(|fault| baseline.challenge(fault));
        let matrix = baseline.matrix(challenges.collect());
        let name = room
            .room
            .as_ref()
            .map_or("", |room| room.plan.name.as_str());
        matrices.push((name.to_owned(), matrix));
    }
    let text = if args.json {
        json(&matrices)
    } else {
        matrices
            .iter()
            .map(|(name, matrix)| words(name, matrix))
            .collect()
    };
    output::data(text.as_bytes())?;
    let idle = |matrix: &Matrix| {
        matrix.idle_clauses().next().is_some()
            || matrix.idle_scenarios().next().is_some()
            || !matrix.twins().is_empty()
    };
    Ok(if matrices.iter().any(|(_, matrix)| idle(matrix)) {
        Ended::Broken
    } else {
        Ended::Held
    })
}

/// The matrix of a room: a row for each fault, a column for each clause, and the scenarios.
fn words(name: &str, matrix: &Matrix) -> String {
    let mut text = format!("{name}\n");
    for (number, scenario) in (1..).zip(&matrix.scenarios) {
        text.push_str(&format!("  {number:>3}  {scenario}\n"));
    }
    let widest = matrix
        .challenges
        .iter()
        .map(|it| it.fault.chars().count())
        .max();
    let wide = widest.unwrap_or(0);
    text.push_str(&format!(
        "  {:<wide$}  {}  scenarios\n",
        "",
        matrix.clauses.join(" ")
    ));
    for challenge in &matrix.challenges {
        if challenge.clauses.is_empty() && challenge.scenarios.is_empty() {
            continue;
        }
        let cells = matrix.clauses.iter().enumerate().map(|(index, id)| {
            let sign = if challenge.clauses.contains(&index) {
                "✗"
            } else {
                "·"
            };
            format!("{sign:<width$}", width = id.chars().count())
        });
        let cells: Vec<String> = cells.collect();
        let scenarios = challenge
            .scenarios
            .iter()
            .map(|index| (index + 1).to_string());
        let scenarios: Vec<String> = scenarios.collect();
        text.push_str(&format!(
            "  {:<wide$}  {}  {}\n",
            challenge.fault,
            cells.join(" "),
            scenarios.join(" ")
        ));
    }
    let unnoticed = matrix.unnoticed().count();
    let total = matrix.challenges.len();
    text.push_str(&format!(
        "  {} of {total} faults noticed\n",
        total - unnoticed
    ));
    for clause in matrix.idle_clauses() {
        text.push_str(&format!("  NOTHING BREAKS clause {clause}\n"));
    }
    for scenario in matrix.idle_scenarios() {
        text.push_str(&format!("  NOTHING BREAKS scenario {scenario}\n"));
    }
    for (one, other) in matrix.twins() {
        text.push_str(&format!(
            "  THE SAME FAULTS BREAK clauses {one} and {other}\n"
        ));
    }
    for fault in matrix.unnoticed() {
        text.push_str(&format!("  nobody notices {fault}\n"));
    }
    text.push('\n');
    text
}

fn json(matrices: &[(String, Matrix)]) -> String {
    let room = |(name, matrix): &(String, Matrix)| {
        let challenges = matrix.challenges.iter().map(|it| {
            let clauses = it.clauses.iter().map(|index| &matrix.clauses[*index]);
            let scenarios = it.scenarios.iter().map(|index| &matrix.scenarios[*index]);
            json!({
                "fault": it.fault,
                "clauses": clauses.collect::<Vec<_>>(),
                "scenarios": scenarios.collect::<Vec<_>>(),
            })
        });
        json!({
            "room": name,
            "clauses": matrix.clauses,
            "scenarios": matrix.scenarios,
            "challenges": challenges.collect::<Vec<_>>(),
        })
    };
    format!(
        "{:#}\n",
        serde_json::Value::from(matrices.iter().map(room).collect::<Vec<_>>())
    )
}
