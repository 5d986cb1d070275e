//! `roomrig why`: the chain of causes of an output at a moment, and what will change it next.

use report::why::Why;
use scenario::diagnostic::{all_of, nearest};

use crate::args;
use crate::failure::Failure;
use crate::{Ended, Outcome, output, rooms};

/// Runs `roomrig why`.
pub(crate) fn run(args: &args::Why) -> Outcome {
    let single = rooms::run_one(&args.scenario, args.seed)?;
    let run = single.run();
    let Some(id) = run.output(&args.output) else {
        let names: Vec<&str> = run
            .names
            .plan
            .outputs
            .iter()
            .map(|output| output.name.as_str())
            .collect();
        let hint = match nearest(&args.output, names.iter().copied()) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("the outputs are {}", all_of(names.iter().copied())),
        };
        let message = format!("the room has no output `{}`", args.output);
        return Err(Failure::new(message, &hint));
    };
    let at = match &args.at {
        None => run.end,
        Some(text) => single.outcome.script.moment(text).map_err(|error| {
            Failure::new(format!("--at {text}: {}", error.message), &error.hint)
        })?,
    };
    let why = Why::of(&run, id, at);
    output::data(why.text(&run).as_bytes())?;
    Ok(Ended::Held)
}
