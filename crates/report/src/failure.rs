//! What broke in a run, or held against what the scenario wants: the row or clause, the chain of causes, what changes it next, and the
//! part of the timeline around the moment.

use clause::Turn;
use device::{Illuminance, Span};
use room::{OutputId, SourceId, Who};
use sim::{Instant, StepId, What};

use crate::causes::{Chain, Link};
use crate::excerpt::excerpt;
use crate::run::{Check, Clause, Half, Lit, Run};
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
    /// The part of the timeline around it; without lanes where no moment shows it.
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
        if !self.close_up.lanes.is_empty() {
            text.push('\n');
            text.push_str(&excerpt(&self.close_up, columns));
        }
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
            chain: why.chain_lines(run),
            refused: why.refused_lines(run),
            next: why.next_lines(run),
            close_up,
        };
    }
    if let Some(lit) = &check.lit {
        return of_lit(run, timeline, check, lit, says);
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

/// A check on a place or a person: which outputs light it, and why each stands as it does.
fn of_lit(run: &Run<'_>, timeline: &Timeline, check: &Check, lit: &Lit, says: String) -> Failure {
    let mut lines = Vec::new();
    let (mut refused, mut next, mut lanes) = (Vec::new(), Vec::new(), Vec::new());
    let mut longest = Chain::default();
    for (output, full) in lit.outputs.iter().take(LAMPS_AT_MOST) {
        let why = Why::of(run, *output, check.at);
        let given = full.map_or_else(String::new, |full| {
            let light = run.light(*output, check.at);
            let part = u64::from(full.hundredths()) * u64::from(light.hundredths()) / 10_000;
            let part = u32::try_from(part).unwrap_or(u32::MAX);
            let part = Illuminance::from_hundredths(part);
            format!(" gives {part} here, at full {full}:")
        });
        lines.push(format!("{}{given} {}", why.output, why.stands));
        lines.extend(why.chain_lines(run));
        refused.extend(why.refused_lines(run));
        next.extend(why.next_lines(run));
        lanes.push(run.names.output(*output));
        let first = |chain: &Chain| chain.root().map(|root| root.at);
        if first(&longest).is_none_or(|old| first(&why.chain).is_some_and(|at| at < old)) {
            longest = why.chain;
        }
    }
    if let Some(more @ 1..) = lit.outputs.len().checked_sub(LAMPS_AT_MOST) {
        lines.push(format!("and {more} more outputs light it"));
    }
    if lit.outputs.is_empty() {
        lines.push("no output lights it".to_owned());
    }
    if lit.daylight > 0 {
        lines.push(daylight_line(run, lit.daylight, check.at));
        lanes.push("daylight");
    }
    let close_up = close_up(run, timeline, &longest, check.at, &lanes);
    Failure {
        says,
        place: check.place.to_string(),
        at: check.at,
        as_expected: check.as_expected,
        chain: lines,
        refused: once(refused.into_iter()),
        next: once(next.into_iter()),
        close_up,
    }
}

/// What the light outside gives at a place.
fn daylight_line(run: &Run<'_>, share: u32, at: Instant) -> String {
    let earlier = run.steps().take_while(|(_, step)| step.at <= at);
    let outside = earlier.filter_map(|(id, step)| match step.what {
        What::Daylight(lux) => Some((id, lux)),
        _ => None,
    });
    let Some((id, lux)) = outside.last() else {
        return "daylight gives nothing here: the scenario sets none".to_owned();
    };
    let part = u64::from(lux.hundredths()) * u64::from(share) / 10_000;
    let part = Illuminance::from_hundredths(u32::try_from(part).unwrap_or(u32::MAX));
    let place = run.places.get(&id);
    let place = place.map_or_else(String::new, |place| format!(" ({place})"));
    format!("daylight gives {part} here: it is {lux} outside{place}")
}

/// Outputs of a place that a failure explains one by one.
const LAMPS_AT_MOST: usize = 4;

/// The last thing that a source said of itself.
fn last_word_of(run: &Run<'_>, point: &str, at: Instant) -> Option<StepId> {
    let source = run.source(point)?;
    let said = run
        .steps()
        .take_while(|(_, step)| step.at <= at)
        .filter(|(_, step)| matches!(step.what, What::Note(Who::Source(who), _) if who == source));
    said.map(|(id, _)| id).last()
}

/// A clause that the links of the room break, whatever happens: it has no moment, and no part of
/// a timeline shows it.
fn of_links(timeline: &Timeline, clause: &Clause) -> Failure {
    let half = broken_half(clause);
    let mut chain: Vec<String> = half.map(|half| asked(clause, half)).into_iter().collect();
    chain.extend(clause.links.iter().cloned());
    let mut close_up = timeline.window(Instant::START, Instant::START, &[]);
    close_up.lanes.clear();
    Failure {
        says: format!("clause {} by the links: {}", clause.id, clause.says),
        place: half.map_or(&clause.place, |half| &half.place).to_string(),
        at: Instant::START,
        as_expected: clause.as_expected,
        chain,
        refused: Vec::new(),
        next: Vec::new(),
        close_up,
    }
}

fn of_clause(run: &Run<'_>, timeline: &Timeline, clause: &Clause) -> Failure {
    if !clause.links.is_empty() && clause.verdict == Verdict::Broken {
        return of_links(timeline, clause);
    }
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
    let outputs = outputs_of(run, &chain, clause, number);
    let whys: Vec<Why> = outputs
        .iter()
        .map(|output| Why::of(run, *output, at))
        .collect();
    let mut lanes: Vec<&str> = outputs
        .iter()
        .map(|output| run.names.output(*output))
        .collect();
    let named = sources_named(run, clause);
    lanes.extend(named.iter().map(|source| run.names.source(*source)));
    lanes.push("sequence");
    let mut close_up = close_up(run, timeline, &chain, at, &lanes);
    for lane in close_up
        .lanes
        .iter_mut()
        .filter(|lane| lane.name == "sequence")
    {
        lane.tracks.retain(|track| track.name == clause.id);
    }
    let half = broken_half(clause);
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
    let lines = clause_lines(run, clause, &chain, &whys);
    Failure {
        says,
        place: half.map_or(&clause.place, |half| &half.place).to_string(),
        at,
        as_expected: clause.as_expected,
        chain: lines,
        refused: once(whys.iter().flat_map(|why| why.refused_lines(run))),
        next: once(whys.iter().flat_map(|why| why.next_lines(run))),
        close_up,
    }
}

/// What a clause asked for, what was found, and the way there.
fn clause_lines(run: &Run<'_>, clause: &Clause, chain: &Chain, whys: &[Why]) -> Vec<String> {
    let mut lines = Vec::new();
    if let Some(half) = broken_half(clause) {
        lines.push(asked(clause, half));
        let stood = whys
            .iter()
            .map(|why| format!("{} {}", why.output, why.stands));
        let stood: Vec<String> = stood.collect();
        if !stood.is_empty() {
            lines.push(format!("found: {}", stood.join("; ")));
        }
    }
    lines.extend(chain_lines(run, chain));
    // How the outputs came to stand so tells more than the deadline that has passed.
    let of_output = |link: &Link| {
        matches!(
            run.step(link.step).map(|step| &step.what),
            Some(What::Output(..) | What::Note(Who::Output(_), _))
        )
    };
    if !chain.links.iter().any(of_output) {
        for why in whys {
            lines.extend(why.chain_lines(run));
        }
    }
    lines
}

/// The half of a clause that was not so: what had to be, or must never.
fn broken_half(clause: &Clause) -> Option<&Half> {
    let keys = ["then", "never", "always", "only"];
    let mut keys = keys.iter();
    keys.find_map(|key| clause.halves.iter().find(|half| half.key == *key))
}

/// What a clause asks for, by the half that broke and the spans that belong to it.
fn asked(clause: &Clause, half: &Half) -> String {
    let mut text = format!("asked: {} = \"{}\"", half.key, half.text);
    for key in ["within", "for", "until", "while", "unless"] {
        if let Some(half) = clause.halves.iter().find(|half| half.key == key) {
            text.push_str(&format!(", {key} = \"{}\"", half.text));
        }
    }
    text
}

/// The sources that the formal half of a clause names.
fn sources_named(run: &Run<'_>, clause: &Clause) -> Vec<SourceId> {
    let sources = (0..).map(SourceId).take(run.names.plan.sources.len());
    let named = |id: &SourceId| names(clause, run.names.source(*id));
    sources.filter(named).collect()
}

/// Whether the formal half of a clause, or else its sentence, names this.
fn names(clause: &Clause, name: &str) -> bool {
    let part = |c: char| c.is_ascii_alphanumeric() || c == '-';
    let says = |text: &str| text.split(|c| !part(c)).any(|word| word == name);
    let texts = clause.halves.iter().map(|half| half.text.as_str());
    if clause.halves.is_empty() {
        return clause.says.contains(name);
    }
    texts
        .into_iter()
        .any(|text| says(text) || text.contains(&format!("{name} ")) && name.contains('/'))
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

/// The outputs that a clause is about: those that it names and those of its chain of causes; all
/// only where it names none and nothing of its chain does.
fn outputs_of(
    run: &Run<'_>,
    chain: &Chain,
    clause: &Clause,
    number: Option<usize>,
) -> Vec<OutputId> {
    let all = (0..).map(OutputId).take(run.names.plan.outputs.len());
    let steps = || {
        let links = chain.links.iter();
        links.flat_map(|link| link.beside.iter().chain([&link.step]))
    };
    let in_chain = |id: &OutputId| {
        steps().any(|step| match run.step(*step).map(|step| &step.what) {
            Some(What::Output(who, _) | What::Note(Who::Output(who), _)) => who == id,
            _ => false,
        })
    };
    // A group or all copies by one name are told by the formula, which knows its outputs.
    let formula = number.map(|number| &run.names.plan.clauses[number].formula);
    let spoken: Vec<u16> = formula.map_or_else(Vec::new, |formula| {
        let atoms = formula.atoms().filter_map(|atom| match atom {
            clause::Atom::Output(id, _) | clause::Atom::Level(id, ..) => Some(*id),
            _ => None,
        });
        let events = formula.events().filter_map(|event| match event {
            clause::Event::Output(id, ..) => Some(*id),
            _ => None,
        });
        atoms.chain(events).collect()
    });
    let named = |id: &OutputId| spoken.is_empty() && names(clause, run.names.output(*id));
    let about = |id: &OutputId| in_chain(id) || spoken.contains(&id.0) || named(id);
    let found: Vec<OutputId> = all.clone().filter(about).collect();
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
