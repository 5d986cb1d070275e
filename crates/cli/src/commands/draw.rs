//! `roomrig draw`: a scenario as a timing diagram.

use std::path::Path;

use report::draw::{Page, svg};

use crate::args::{self, Picture};
use crate::failure::Failure;
use crate::{Ended, Outcome, output, rooms};

/// Runs `roomrig draw`.
pub(crate) fn run(args: &args::Draw) -> Outcome {
    let form = form(args)?;
    let single = rooms::run_one(&args.scenario, args.seed)?;
    let run = single.run();
    let (timeline, failures) = rooms::breaks(&run);
    let picture = match form {
        Picture::Svg => svg(&timeline),
        Picture::Html => Page {
            timeline: &timeline,
            verdict: single.outcome.verdict.into(),
            failures: &failures,
        }
        .render(),
    };
    match &args.output {
        Some(path) => output::file(path, picture.as_bytes())?,
        None => output::data(picture.as_bytes())?,
    }
    Ok(Ended::Held)
}

/// What is asked for, or what the ending of the file says.
fn form(args: &args::Draw) -> Result<Picture, Failure> {
    if let Some(form) = args.format {
        return Ok(form);
    }
    let Some(path) = &args.output else {
        return Ok(Picture::Html);
    };
    let ending = Path::new(path)
        .extension()
        .and_then(|ending| ending.to_str());
    match ending {
        Some("svg") => Ok(Picture::Svg),
        Some("html" | "htm") => Ok(Picture::Html),
        _ => Err(Failure::new(
            format!("{}: the ending does not say what to draw", path.display()),
            "let it end in .svg or .html, or say `--format svg`",
        )),
    }
}
