//! What broke in a run, or held against what the scenario wants: the row or clause, the chain of causes, what changes it next, and the
//! part of the timeline around the moment.

use clause::Turn;
use device::Span;
use room::{OutputId, Who};
use sim::{Instant, StepId, What};

use crate::causes::Chain;
use crate::excerpt::excerpt;
use crate::run::{Check, Clause, Run};
use crate::timeline::Timeline;
use crate::verdict::Verdict;
use crate::why::{Why, chain_lines, labelled};

/// Something that broke.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Failure {
    /// What broke: `desk-lights is on at 09:15:01: was off`.
    pub says: String,
    /// The row or clause, as file, line and column.
    pub place: String,
    /// When.
    pub at: Instant,
    /// Whether that is what the scenario wants.
    pub as_expected: bool,
    /// The chain of causes with its remarks, one line for each, the effect first.
    pub chain: Vec<String>,
    /// What could have changed it and did not.
    pub refused: Vec<String>,
    /// What will change it next.
    pub next: Vec<String>,
    /// The part of the timeline around it.
    pub close_up: Timeline,
}

impl Failure {
    /// Everything that broke in a run, in order of time.
    #[must_use]
    pub fn all(run: &Run<'_>, timeline: &Timeline) -> Vec<Self> {
        let told = |verdict, as_expected: bool| verdict == Verdict::Broken || !as_expected;
        let checks = run
            .checks
            .iter()
            .filter(|check| told(check.verdict, check.as_expected));
        let clauses = run
            .clauses
            .iter()
            .filter(|clause| told(clause.verdict, clause.as_expected));
        let mut all: Vec<Self> = checks.map(|check| of_check(run, timeline, check)).collect();
        all.extend(clauses.map(|clause| of_clause(run, timeline, clause)));
        all.sort_by_key(|failure| failure.at);
        all
    }

    /// Everything that broke in a run; its timeline is laid out only if anything did.
    #[must_use]
    pub fn find(run: &Run<'_>) -> Vec<Self> {
        let told = |verdict, as_expected: bool| verdict == Verdict::Broken || !as_expected;
        let checks = run
            .checks
            .iter()
            .any(|one| told(one.verdict, one.as_expected));
        let clauses = run
            .clauses
            .iter()
            .any(|one| told(one.verdict, one.as_expected));
        if checks || clauses {
            Self::all(run, &Timeline::of(run))
        } else {
            Vec::new()
        }
    }

    /// The failure as text, in lines of about `columns` characters.
    #[must_use]
    pub fn text(&self, columns: usize) -> String {
        let expected = if self.as_expected {
            " (as expected)"
        } else {
            ""
        };
        let mut text = format!("{} {}{expected}\n", Verdict::Broken.sign(), self.says);
        text.push_str(&labelled("at", std::slice::from_ref(&self.place)));
        text.push_str(&labelled("why", &self.chain));
        text.push_str(&labelled("but", &self.refused));
        text.push_str(&labelled("next", &self.next));
        text.push('\n');
        text.push_str(&excerpt(&self.close_up, columns));
        text
    }
}

fn of_check(run: &Run<'_>, timeline: &Timeline, check: &Check) -> Failure {
    let found = match (check.verdict, check.found.as_str()) {
        (Verdict::Held, _) => " held, and was to break".to_owned(),
        (_, "") => String::new(),
        (_, found) => format!(", but {found}"),
    };
    let says = format!(
        "{} {} at {}{found}",
        check.point,
        check.says,
        run.clock.label(check.at)
    );
    let place = check.place.to_string();
    if let Some(output) = run.output(&check.point) {
        let why = Why::of(run, output, check.at);
        let close_up = close_up(run, timeline, &why.chain, check.at, &[&check.point]);
        return Failure {
            says,
            place,
            at: check.at,
            as_expected: check.as_expected,
            chain: chain_lines(run, &why.chain),
            refused: why.refused_lines(run),
            next: why.next_lines(run),
            close_up,
        };
    }
    let chain = last_word_of(run, &check.point, check.at);
    let chain = chain.map_or_else(Chain::default, |step| Chain::back_from(run, step));
    let close_up = close_up(run, timeline, &chain, check.at, &[&check.point]);
    Failure {
        says,
        place,
        at: check.at,
        as_expected: check.as_expected,
        chain: chain_lines(run, &chain),
        refused: Vec::new(),
        next: Vec::new(),
        close_up,
    }
}

/// The last thing that a source said of itself.
fn last_word_of(run: &Run<'_>, point: &str, at: Instant) -> Option<StepId> {
    let source = run.source(point)?;
    let said = run
        .steps()
        .take_while(|(_, step)| step.at <= at)
        .filter(|(_, step)| matches!(step.what, What::Note(Who::Source(who), _) if who == source));
    said.map(|(id, _)| id).last()
}

fn of_clause(run: &Run<'_>, timeline: &Timeline, clause: &Clause) -> Failure {
    let plan = run.names.plan;
    let number = plan
        .clauses
        .iter()
        .position(|planned| planned.id == clause.id);
    let broke = run.steps().find(|(_, step)| match step.what {
        What::Clause(of, Turn::Broken) => Some(usize::from(of)) == number,
        _ => false,
    });
    let at = broke.map_or(run.end, |(_, step)| step.at);
    let chain = broke.map_or_else(Chain::default, |(id, _)| Chain::back_from(run, id));
    let outputs = outputs_of(run, &chain, clause);
    let whys: Vec<Why> = outputs
        .iter()
        .map(|output| Why::of(run, *output, at))
        .collect();
    let mut lanes: Vec<&str> = outputs
        .iter()
        .map(|output| run.names.output(*output))
        .collect();
    lanes.push("sequence");
    let mut close_up = close_up(run, timeline, &chain, at, &lanes);
    for lane in close_up
        .lanes
        .iter_mut()
        .filter(|lane| lane.name == "sequence")
    {
        lane.tracks.retain(|track| track.name == clause.id);
    }
    let wanted = match clause.verdict {
        Verdict::Broken => String::new(),
        verdict => format!(" {verdict}, and was to be otherwise"),
    };
    let says = format!(
        "clause {}{wanted} at {}: {}",
        clause.id,
        run.clock.label(at),
        clause.says
    );
    let mut lines = chain_lines(run, &chain);
    // How the outputs came to stand so tells more than the deadline that has passed.
    if !chain.links.iter().any(|link| {
        matches!(
            run.step(link.step).map(|step| &step.what),
            Some(What::Stimulus(..))
        )
    }) {
        for why in &whys {
            lines.extend(chain_lines(run, &why.chain));
        }
    }
    Failure {
        says,
        place: clause.place.to_string(),
        at,
        as_expected: clause.as_expected,
        chain: lines,
        refused: once(whys.iter().flat_map(|why| why.refused_lines(run))),
        next: once(whys.iter().flat_map(|why| why.next_lines(run))),
        close_up,
    }
}

/// Lines without those that were there already.
fn once(lines: impl Iterator<Item = String>) -> Vec<String> {
    let mut kept: Vec<String> = Vec::new();
    for line in lines {
        if !kept.contains(&line) {
            kept.push(line);
        }
    }
    kept
}

/// The outputs that a clause is about: those of its chain, else those that its sentence names,
/// else all.
fn outputs_of(run: &Run<'_>, chain: &Chain, clause: &Clause) -> Vec<OutputId> {
    let all = (0..).map(OutputId).take(run.names.plan.outputs.len());
    let steps = || {
        chain
            .links
            .iter()
            .flat_map(|link| link.beside.iter().chain([&link.step]))
    };
    let in_chain = |id: &OutputId| {
        steps().any(|step| match run.step(*step).map(|step| &step.what) {
            Some(What::Output(who, _) | What::Note(Who::Output(who), _)) => who == id,
            _ => false,
        })
    };
    let found: Vec<OutputId> = all.clone().filter(in_chain).collect();
    if !found.is_empty() {
        return found;
    }
    let named = |id: &OutputId| clause.says.contains(run.names.output(*id));
    let found: Vec<OutputId> = all.clone().filter(named).collect();
    if found.is_empty() {
        all.collect()
    } else {
        found
    }
}

/// The timeline from a little before the first cause until a little after the failure.
fn close_up(
    run: &Run<'_>,
    timeline: &Timeline,
    chain: &Chain,
    at: Instant,
    also: &[&str],
) -> Timeline {
    let mut lanes: Vec<&str> = also.to_vec();
    for link in &chain.links {
        match run.step(link.step).map(|step| &step.what) {
            Some(What::Stimulus(id, _) | What::Arrived(_, id, _)) => {
                lanes.push(run.names.source(*id));
            }
            Some(What::Elapsed(slot)) => {
                if let crate::words::TimerLane::Source(id) = run.names.timer(*slot).lane {
                    lanes.push(run.names.source(id));
                }
            }
            Some(What::Note(Who::Output(id), _) | What::Output(id, _)) => {
                lanes.push(run.names.output(*id));
            }
            Some(What::Daylight(_)) => lanes.push("daylight"),
            _ => {}
        }
    }
    let first = chain.root().map_or(at, |root| root.at).min(at);
    let pad = Span::from_ms((at.since(first).as_ms() / 50).clamp(1_000, 120_000));
    let from = Instant::from_ms(first.as_ms().saturating_sub(pad.as_ms()));
    timeline.window(from, at.after(pad), &lanes)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sketch::quiet_reading;

    #[test]
    fn a_broken_check_prints_its_row_its_chain_and_an_excerpt() {
        let sketch = quiet_reading();
        let run = sketch.run(4_800_000);
        let timeline = Timeline::of(&run);
        let failures = Failure::all(&run, &timeline);
        let texts: Vec<String> = failures.iter().map(|failure| failure.text(100)).collect();
        insta::assert_snapshot!(texts.join("\n"));
    }
}
