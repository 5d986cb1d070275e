//! Prints the slice of every clause of the rooms in a folder.

use std::path::Path;

use prover::slice::{Slice, levels, symmetric, without_fades, without_reports};
use scenario::suite::Suite;

#[expect(clippy::print_stdout, reason = "an example that prints")]
fn main() {
    let folder = std::env::args()
        .nth(1)
        .unwrap_or_else(|| "scenarios".to_string());
    let suite = Suite::open(&[Path::new(&folder).to_path_buf()]).expect("the rooms are there");
    for room in &suite.rooms {
        let Some(file) = &room.room else { continue };
        let plan = &file.plan;
        println!(
            "{} ({} sources, {} outputs)",
            plan.name,
            plan.sources.len(),
            plan.outputs.len()
        );
        for (at, clause) in (0..).zip(&plan.clauses) {
            let slice = Slice::of(plan, &[at]);
            let mut small = (*slice.plan).clone();
            without_fades(&mut small);
            without_reports(&mut small);
            let formula = &slice.plan.clauses[0].formula;
            println!(
                "  {}: {} [{} stimuli, {} levels, alike {:?}]",
                clause.id,
                slice.said(),
                slice.stimuli.len(),
                levels(&small, &[formula], false).standing().len(),
                symmetric(&small),
            );
        }
    }
}
