//! Random clauses, random runs and what the monitors say of them, one JSON object a line, for a
//! second implementation to check (`tools/check-monitors.sh`).
//!
//! `cargo run -p clause --example monitors -- [clauses of each form] [seed]`

#[path = "../../tests/clauses/model.rs"]
mod model;
#[path = "../../tests/clauses/names.rs"]
mod names;
mod stl;

use std::io::{BufWriter, Write, stdout};

use clause::Verdict;
use serde_json::{Value, json};

use crate::model::{Dice, FORMS, Judged, Model, Trace, judge};

fn main() -> std::io::Result<()> {
    let mut arguments = std::env::args().skip(1);
    let mut number = |otherwise: u64| match arguments.next().map(|text| text.parse()) {
        Some(Ok(number)) => number,
        _ => otherwise,
    };
    let (clauses, seed) = (number(CLAUSES), number(0));
    let mut out = BufWriter::new(stdout().lock());
    for (form, name) in FORMS.iter().enumerate() {
        let mut dice = Dice(seed.wrapping_mul(1_000_003).wrapping_add(form as u64));
        let mut done = 0;
        while done < clauses {
            let model = model::model(form, &mut dice);
            let runs = runs(&model, &mut dice);
            if runs.is_empty() {
                continue;
            }
            done += 1;
            serde_json::to_writer(&mut out, &line(name, &model, &runs))?;
            out.write_all(b"\n")?;
        }
    }
    out.flush()
}

/// A few runs of a clause, half of them broken; none when the clause is hardly ever broken, or
/// hardly ever not, so that it would show little.
fn runs(model: &Model, dice: &mut Dice) -> Vec<(Trace, Judged)> {
    let formula = model.formula();
    let (mut broken, mut kept) = (Vec::new(), Vec::new());
    for _ in 0..TRIES {
        let trace = Trace::random(dice);
        let judged = judge(&formula, &trace, dice);
        assert_eq!(
            judged.monitor.verdict(&formula) == Verdict::Broken,
            judged.broken_at.is_some(),
            "the verdict is what the monitor said"
        );
        match judged.broken_at {
            Some(_) => broken.push((trace, judged)),
            None => kept.push((trace, judged)),
        }
        if broken.len() >= RUNS / 2 && kept.len() >= RUNS / 2 {
            broken.truncate(RUNS / 2);
            kept.truncate(RUNS / 2);
            broken.extend(kept);
            return broken;
        }
    }
    Vec::new()
}

fn line(form: &str, model: &Model, runs: &[(Trace, Judged)]) -> Value {
    let checks: Vec<Value> = model
        .checks()
        .into_iter()
        .map(|check| json!({ "stl": check.stl, "lag": check.lag }))
        .collect();
    let runs: Vec<Value> = runs
        .iter()
        .map(|(trace, judged)| {
            json!({
                "p": trace.conditions.each_ref().map(|values| bits(values)),
                "e": trace.events.each_ref().map(|values| bits(values)),
                "broken_at": judged.broken_at,
            })
        })
        .collect();
    json!({
        "form": form,
        "nesting": model.nesting(),
        "clause": model.fields(),
        "checks": checks,
        "textbook": model.textbook(),
        "runs": runs,
    })
}

fn bits(values: &[bool]) -> String {
    values
        .iter()
        .map(|value| if *value { '1' } else { '0' })
        .collect()
}

/// How many clauses of each form are made.
const CLAUSES: u64 = 130;

/// How many runs each clause gets.
const RUNS: usize = 4;

/// How many runs are tried to find them.
const TRIES: usize = 24;
