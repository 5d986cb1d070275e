//! `roomrig trace`: every step of a scenario, as text, JSON lines or MessagePack.

use crate::args::{self, TraceForm};
use crate::{Ended, Outcome, output, rooms};

/// Runs `roomrig trace`.
pub(crate) fn run(args: &args::Trace) -> Outcome {
    let single = rooms::run_one(&args.scenario, args.seed)?;
    let run = single.run();
    let bytes = match args.format {
        TraceForm::Text => report::trace::text(&run).into_bytes(),
        TraceForm::Jsonl => report::trace::json_lines(&run).into_bytes(),
        TraceForm::Msgpack => report::trace::messagepack(&run),
    };
    match &args.output {
        Some(path) => output::file(path, &bytes)?,
        None => output::data(&bytes)?,
    }
    Ok(Ended::Held)
}
