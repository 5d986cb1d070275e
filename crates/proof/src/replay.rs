//! From a path through state classes to a scenario file that was run.
//!
//! The path leaves its instants open; its system of differences gives them. What happens is then
//! put to a plain simulation of the whole room, which has the last word on everything: on the
//! instants, on what can be left out, on every rounding. In the end the story is written as a
//! scenario file, read back and run like any other.
//!
//! Invariant: a witness that is handed out came out as it says in an ordinary run.

mod dates;
mod paces;
mod stage;
mod told;

use std::sync::Arc;

use clause::Verdict;
use device::Span;
use prover::Path;
use prover::path::roundest;
use prover::slice::Slice;
use scenario::Sources;
use scenario::room_file::RoomFile;
use scenario::run::Outcome;
use scenario::script::{ActWhat, load};
use scenario::written::Story;
use sim::Instant;

use crate::answer::Witness;
use crate::ask::Terms;
use stage::Stage;
use told::Told;

/// Runs a story in the ordinary runner.
///
/// # Errors
/// When the story cannot be written, or what was written is refused.
pub fn run(room: &RoomFile, story: &Story) -> Result<(String, Outcome), String> {
    let text = story.write(room).map_err(|error| error.to_string())?;
    let mut sources = Sources::new();
    let file = sources.add("proof.toml", text.clone());
    let mut loaded = load(&mut sources, file, room);
    let Some(script) = loaded.scripts.pop() else {
        let said = loaded.diagnostics.iter().map(|it| it.message.clone());
        return Err(said.collect::<Vec<_>>().join("; "));
    };
    Ok((text, scenario::run::run(&Arc::new(script), SEED)))
}

/// The scenario in which a path breaks a clause, or puts it to the test and it holds, with as
/// little happening as may be.
pub(crate) fn refine(
    room: &RoomFile,
    slice: &Slice,
    terms: &Terms,
    clause: u16,
    path: &Path,
    wanted: Verdict,
) -> Result<Witness, String> {
    let mut stage = Stage::new(room, slice, terms, clause, wanted);
    let (path, mut told, first) = first_run(&mut stage, room, slice, terms, path)?;
    told.leave_out(|fewer| stage.fits(&fewer.acts(&first), last(&first)));
    let likes = |step: usize, before: &[i64]| told.likes(step, before);
    let moves = told.steps();
    let rounded = path.rounded(&moves, likes, &mut |at| {
        stage.fits(&told.acts(at), last(at))
    });
    // What is left after leaving out may hang on the instants that it was tried with.
    let mut at = rounded.unwrap_or(first);
    told.polish(&mut at, |at| stage.fits(&told.acts(at), last(at)));
    let end = ending(last(&at), |end| stage.fits(&told.acts(&at), end));
    let acts = told.acts(&at);
    let start = stage.start(&acts, end).ok_or("the run has no date")?;
    let mut story = stage.story(start, &acts, end);
    story.settings.clone_from(&terms.set);
    finish(room, clause, wanted, &told, story)
}

/// What happens on a path, and instants at which it comes out as wanted: with the clocks as the
/// path has them, or almost, or else with each right, fast or slow throughout.
fn first_run(
    stage: &mut Stage<'_>,
    room: &RoomFile,
    slice: &Slice,
    terms: &Terms,
    path: &Path,
) -> Result<(Path, Told, Vec<i64>), String> {
    let mut why = "no pace of the clocks was found that takes the path";
    let untied = paces::untied(slice, path, terms.tolerance);
    let pinned = [Some(path), untied.as_ref()].into_iter().flatten();
    let pinned = pinned.filter_map(|path| paces::pinned(slice, path, terms.tolerance));
    for (path, paces) in pinned.chain(paces::steady(slice, path, terms.tolerance)) {
        let told = Told::of(room, slice, &path, &paces);
        if let Some(first) = path.schedule(&mut |at| stage.fits(&told.acts(at), last(at))) {
            return Ok((path, told, first));
        }
        why = match prover::path::Timing::of(&path, 0).earliest() {
            Some(_) => "the stimuli that were found do not do it in a plain run",
            None => "the path that was found has no instants in whole milliseconds",
        };
    }
    Err(why.to_owned())
}

/// The last instant of a run, a whole second if it may be.
fn ending(least: Instant, mut fits: impl FnMut(Instant) -> bool) -> Instant {
    let ms = i64::try_from(least.as_ms()).unwrap_or(i64::MAX);
    let rounder = roundest(ms, Some(ms.saturating_add(SECOND)));
    let mut rounder = rounder.filter_map(|ms| u64::try_from(ms).ok().map(Instant::from_ms));
    rounder.find(|end| fits(*end)).unwrap_or(least)
}

/// Writes the story, runs it, and looks whether it does what it is told to.
fn finish(
    room: &RoomFile,
    clause: u16,
    wanted: Verdict,
    told: &Told,
    mut story: Story,
) -> Result<Witness, String> {
    let named = &room.plan.clauses[usize::from(clause)].id;
    story.title = title(room, named, wanted);
    story.expect = vec![(wanted, named.clone())];
    let (mut text, outcome) = run(room, &story)?;
    let verdict = outcome.clauses[usize::from(clause)].verdict;
    if verdict != wanted {
        return Err(format!(
            "in the ordinary run the clause is {}",
            say(verdict)
        ));
    }
    let others = room.plan.clauses.iter().zip(&outcome.clauses);
    let others = others.filter(|(it, came)| it.id != *named && came.verdict == Verdict::Broken);
    let others: Vec<_> = others
        .map(|(it, _)| (Verdict::Broken, it.id.clone()))
        .collect();
    if !others.is_empty() {
        // The file is there to show one clause; what else breaks in it is no surprise either.
        story.expect.extend(others);
        (text, _) = run(room, &story)?;
    }
    Ok(Witness {
        text,
        happenings: told.len(),
        length: Span::from_ms(story.end.as_ms()),
    })
}

fn title(room: &RoomFile, id: &str, wanted: Verdict) -> String {
    let says = room.sentences.get(id).map(|(_, says)| says.as_str());
    let does = match wanted {
        Verdict::Broken => "is broken",
        _ => "is put to the test and holds",
    };
    match says {
        Some(says) => format!("{id} {does}: {says}"),
        None => format!("{id} {does}"),
    }
}

fn say(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Broken => "broken",
        Verdict::Held => "held",
        Verdict::NeverExercised => "never exercised",
        Verdict::Open => "still open",
    }
}

fn last(at: &[i64]) -> Instant {
    instant(at.last().copied().unwrap_or(0))
}

fn instant(ms: i64) -> Instant {
    Instant::from_ms(u64::try_from(ms).expect("no step of a run lies before its start"))
}

/// What happens at which instant.
type Acts = Vec<(Instant, ActWhat)>;

/// The seed that a run has when nobody names one.
const SEED: u64 = 0;

/// In milliseconds.
const SECOND: i64 = 1_000;

#[cfg(test)]
mod tests;
