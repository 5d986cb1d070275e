//! `roomrig run`: every scenario, its verdict, what broke and why, and the coverage.

use std::sync::Arc;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use rayon::prelude::*;
use report::record::{self, IdleRoom, Scenario};
use report::run::Run;
use report::table;
use report::verdict::Verdict;
use scenario::script::Script;
use scenario::suite::Suite;

use crate::args;
use crate::failure::Failure;
use crate::output::{self, COLUMNS};
use crate::rooms;
use crate::{Ended, Outcome};

/// Runs `roomrig run`.
pub(crate) fn run(args: &args::Run) -> Outcome {
    let rooms = rooms::open_all(&args.paths)?;
    let told = run_all(&rooms, args)?;
    let suite = record::Suite {
        idle_rooms: idle_rooms(&rooms),
        ..record::Suite::new(told.iter().map(|told| told.record.clone()).collect())
    };
    if let Some(path) = &args.junit {
        output::file(path, report::junit::junit(&suite).as_bytes())?;
    }
    let text = if args.json {
        suite.to_json()
    } else {
        words(&suite, &told, args.quiet)
    };
    output::data(text.as_bytes())?;
    Ok(ended(&suite))
}

/// The rooms with clauses that no scenario was found for.
fn idle_rooms(suite: &Suite) -> Vec<IdleRoom> {
    let rooms = suite.rooms.iter().zip(&suite.scripts);
    let idle = rooms.filter(|(_, scripts)| scripts.is_empty());
    idle.filter_map(|(room, _)| {
        let plan = &room.room.as_ref()?.plan;
        let clauses: Vec<String> = plan.clauses.iter().map(|it| it.id.clone()).collect();
        (!clauses.is_empty()).then(|| IdleRoom {
            room: plan.name.clone(),
            file: suite.sources.file(room.file).name().to_owned(),
            clauses,
        })
    })
    .collect()
}

/// A scenario that has been run, and the words for what broke in it.
struct Told {
    record: Scenario,
    breaks: Vec<String>,
}

/// Runs every script, on as many threads as asked, and keeps the order of the files.
fn run_all(suite: &Suite, args: &args::Run) -> Result<Vec<Told>, Failure> {
    let jobs: Vec<(usize, &Arc<Script>)> = suite.runs().collect();
    let progress = progress(jobs.len() as u64);
    let mut pool = rayon::ThreadPoolBuilder::new();
    if let Some(threads) = args.jobs {
        // More threads than scenarios would only wait.
        pool = pool.num_threads(threads.get().min(jobs.len().max(1)));
    }
    let pool = pool.build().map_err(|error| {
        Failure::new(
            format!("threads cannot be started: {error}"),
            "try `--jobs 1`",
        )
    })?;
    let told = pool.install(|| {
        (jobs.par_iter())
            .map(|(room, script)| {
                let told = tell(suite, *room, script, args);
                progress.inc(1);
                told
            })
            .collect()
    });
    progress.finish_and_clear();
    Ok(told)
}

fn tell(suite: &Suite, room: usize, script: &Arc<Script>, args: &args::Run) -> Told {
    tracing::debug!(file = %script.file, "runs");
    let outcome = scenario::run::run(script, args.seed);
    let run = Run::of(&outcome, &suite.sources, rooms::read(&suite.rooms[room]));
    let breaks = report::failure::Failure::find(&run);
    let verdict = outcome.verdict.into();
    let record = Scenario::of(&run, args.seed, verdict, &breaks);
    let unexpected = breaks.iter().filter(|broken| !broken.as_expected);
    Told {
        record,
        breaks: unexpected.map(|broken| broken.text(COLUMNS)).collect(),
    }
}

/// The report for a terminal: what broke first, then the tables.
fn words(suite: &record::Suite, told: &[Told], quiet: bool) -> String {
    let paint: &table::Paint = if output::colours() {
        &output::paint
    } else {
        &table::plain
    };
    let mut text = String::new();
    for told in told.iter().filter(|told| !told.breaks.is_empty()) {
        text.push_str(&format!(
            "{}: {}\n\n",
            told.record.label(),
            told.record.title
        ));
        for broken in &told.breaks {
            text.push_str(broken);
            text.push('\n');
        }
    }
    if quiet {
        text.push_str(&table::summary(suite, paint));
    } else {
        text.push_str(&table::coverage(suite, paint));
        text.push('\n');
        text.push_str(&table::verdicts(suite, paint));
    }
    text
}

fn ended(suite: &record::Suite) -> Ended {
    if suite.count(Verdict::Broken) > 0 {
        Ended::Broken
    } else if suite.count(Verdict::Undecided) > 0 || suite.scenarios.is_empty() {
        Ended::Undecided
    } else {
        Ended::Held
    }
}

/// A bar on standard error, where that is a terminal and the work is long enough to see it.
fn progress(scenarios: u64) -> ProgressBar {
    let bar = ProgressBar::with_draw_target(Some(scenarios), ProgressDrawTarget::stderr());
    let style = ProgressStyle::with_template("{pos} of {len} scenarios  {wide_bar}  {elapsed}");
    bar.with_style(style.expect("the template is well formed"))
}
