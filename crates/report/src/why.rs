//! Why an output stands as it does at an instant, and what will change it next.

use std::collections::BTreeMap;

use device::{Ignored, Note, Payload, Span, controller};
use room::{OutputId, Slot, SlotOwner, SourceId, Who};
use sim::{Instant, OutputState, Step, StepId, What};

use crate::causes::{Chain, tells};
use crate::run::{Run, light_after};
use crate::words::{self, Kind};

/// Why an output stands as it does at an instant.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Why {
    /// The instant that was asked for.
    pub at: Instant,
    /// The output.
    pub output: String,
    /// How it stands: `is off, asked 50 %, target 0 %, light 0 %`; of a contact `is closed`.
    pub stands: String,
    /// How it came to stand so.
    pub chain: Chain,
    /// What has happened since, or before the instant if nothing ever turned it on, that could
    /// have changed it and did not.
    pub refused: Vec<Refused>,
    /// Whether it is off and latched, so that no sensor turns it on.
    pub latched: bool,
    /// The timers that run, soonest first.
    pub next: Vec<Next>,
    /// The sources that can change it.
    pub sources: Vec<String>,
    /// What changed it next in this run.
    pub then: Option<Next>,
}

/// Events that had no effect on an output.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Refused {
    /// The last of them.
    pub at: Instant,
    /// How many there were.
    pub times: usize,
    /// What happened, last.
    pub event: String,
    /// Why it did nothing.
    pub reason: &'static str,
}

/// Something that is to come.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Next {
    /// When.
    pub at: Instant,
    /// What.
    pub words: String,
}

impl Why {
    /// Asks why `output` stands as it does at the end of the instant `at`.
    #[must_use]
    pub fn of(run: &Run<'_>, output: OutputId, at: Instant) -> Self {
        let found = run.view(output, at);
        let (stands, chain, since) = match found {
            Some((step, view)) => {
                let seen = run.step(step).map_or(at, |step| step.at);
                let mut now = view;
                now.light.now = light_after(&view, at.since(seen));
                now.light.within = view.light.within.minus(at.since(seen));
                let change = last_change(run, output, at);
                let chain = change.map(|change| chain_of(run, output, change));
                // A level that nobody has asked for yet is only what it would come on at.
                let asked = was_told(run, output, at);
                let stands = run.names.kind(output).stands(&now, asked);
                (stands, chain.unwrap_or_default(), change.unwrap_or(step))
            }
            None => (
                "has not been heard of yet".to_owned(),
                Chain::default(),
                StepId::FIRST,
            ),
        };
        let sources = run.linked(output);
        Self {
            at,
            output: run.names.output(output).to_owned(),
            stands,
            chain,
            refused: refused(run, output, since, at),
            latched: found.is_some_and(|(_, view)| view.latch && view.state == OutputState::Off),
            next: next(run, output, &sources, at),
            sources: sources
                .iter()
                .map(|id| run.names.source(*id).to_owned())
                .collect(),
            then: then(run, output, at),
        }
    }

    /// What will change it next, one line for each.
    #[must_use]
    pub fn next_lines(&self, run: &Run<'_>) -> Vec<String> {
        let mut lines: Vec<String> = self
            .next
            .iter()
            .map(|next| format!("{} {}", run.clock.label(next.at), next.words))
            .collect();
        if lines.is_empty() {
            let sources = match self.sources.as_slice() {
                [] => "nothing is linked to it".to_owned(),
                sources => format!(
                    "something happens at, or is reported by, {}",
                    either(sources)
                ),
            };
            lines.push(format!(
                "no timer runs for {}: it stays so until {sources}",
                self.output
            ));
        }
        if let Some(then) = &self.then {
            let at = run.clock.label(then.at);
            lines.push(format!(
                "in this run it changed next at {at}: {}",
                then.words
            ));
        }
        lines
    }

    /// How it came to stand so, one line for each cause.
    #[must_use]
    pub fn chain_lines(&self, run: &Run<'_>) -> Vec<String> {
        let mut chain = chain_lines(run, &self.chain);
        if chain.is_empty() {
            chain.push("  nothing has changed it since the start".to_owned());
        }
        chain
    }

    /// What did nothing, one line for each.
    #[must_use]
    pub fn refused_lines(&self, run: &Run<'_>) -> Vec<String> {
        let lines = self.refused.iter().map(|refused| {
            let at = run.clock.label(refused.at);
            let times = match refused.times {
                1 => String::new(),
                times => format!(" (and {} before)", words::times(times - 1)),
            };
            format!(
                "{at} {}{times} did nothing: {}",
                refused.event, refused.reason
            )
        });
        let mut lines: Vec<String> = lines.collect();
        let named = run.output(&self.output).map(Who::Output);
        let reason = run
            .names
            .ignored(named.unwrap_or(Who::Room), Ignored::Latch);
        if self.latched && self.refused.iter().all(|refused| refused.reason != reason) {
            lines.push(format!("{} is latched: {reason}", self.output));
        }
        lines
    }

    /// The whole answer as text.
    #[must_use]
    pub fn text(&self, run: &Run<'_>) -> String {
        let at = run.clock.label(self.at);
        let mut text = format!("{} {} at {at}\n", self.output, self.stands);
        text.push_str(&labelled("why", &self.chain_lines(run)));
        text.push_str(&labelled("but", &self.refused_lines(run)));
        text.push_str(&labelled("next", &self.next_lines(run)));
        text
    }
}

/// Lines after a label in the margin; nothing when there are none.
#[must_use]
pub fn labelled(label: &str, lines: &[String]) -> String {
    let mut text = String::new();
    for (index, line) in lines.iter().enumerate() {
        let margin = if index == 0 { label } else { "" };
        text.push_str(&format!("{margin:>7}  {line}\n"));
    }
    text
}

/// A chain with one line for each cause, and the remarks below theirs.
#[must_use]
pub fn chain_lines(run: &Run<'_>, chain: &Chain) -> Vec<String> {
    let label = |at| run.clock.label(at);
    let width = chain
        .links
        .iter()
        .map(|link| label(link.at).chars().count())
        .max();
    let width = width.unwrap_or(0);
    let mut lines = Vec::new();
    for (index, link) in chain.links.iter().enumerate() {
        let arrow = if index == 0 || link.begins {
            " "
        } else {
            "\u{2190}"
        };
        let place = link
            .place
            .as_ref()
            .map_or_else(String::new, |place| format!(" ({place})"));
        lines.push(format!(
            "{arrow} {:<width$}  {}{place}",
            label(link.at),
            link.words
        ));
        for remark in &link.remarks {
            lines.push(format!("  {:<width$}  \u{00b7} {remark}", ""));
        }
    }
    lines
}

/// The last record at which the output came to stand otherwise; the end of a fade is none.
fn last_change(run: &Run<'_>, output: OutputId, at: Instant) -> Option<StepId> {
    let mut last = None;
    let mut before = None;
    let kind = run.names.kind(output);
    for (id, step) in run.steps().take_while(|(_, step)| step.at <= at) {
        if let What::Output(who, ref view) = step.what
            && who == output
        {
            let switched = kind != Kind::Light && view.closed;
            let shown = (
                (view.state, view.target, view.light.to),
                view.emergency,
                switched,
            );
            // The first look at an output says how it was at the start; nothing changed it.
            if before.is_some_and(|before| before != shown) {
                last = Some(id);
            }
            before = Some(shown);
        }
    }
    last
}

/// Whether anything has been told of an output's light by `at`.
fn was_told(run: &Run<'_>, output: OutputId, at: Instant) -> bool {
    let mut earlier = run.steps().take_while(|(_, step)| step.at <= at);
    earlier.any(|(_, step)| is_told(step, output))
}

fn is_told(step: &Step, output: OutputId) -> bool {
    match step.what {
        What::Note(Who::Output(who), note) => who == output && tells(note),
        _ => false,
    }
}

/// The way back from a change. Where only the daylight limit moved, what turned the output on
/// or asked for its level stands below: the limit never does either.
fn chain_of(run: &Run<'_>, output: OutputId, change: StepId) -> Chain {
    let mut chain = Chain::back_from(run, change);
    let first = chain.links.first().and_then(|link| run.step(link.step));
    if !matches!(
        first.map(|step| &step.what),
        Some(What::Note(_, Note::Limit(_)))
    ) {
        return chain;
    }
    let earlier = run.trace.steps[..change.index()].iter().enumerate().rev();
    let mut told = earlier.filter(|(_, step)| is_told(step, output));
    if let Some((told, _)) = told.next() {
        let mut below = Chain::back_from(run, StepId::at(told)).links;
        if let Some(first) = below.first_mut() {
            first.begins = true;
        }
        chain.links.extend(below);
    }
    chain
}

/// Events since `since` that an output, or a source linked to it, let pass, and frames of those
/// sources that its controller did not take.
fn refused(run: &Run<'_>, output: OutputId, since: StepId, at: Instant) -> Vec<Refused> {
    let mut refused: Vec<Refused> = Vec::new();
    let sources = run.linked(output);
    let later = run.steps_from(since).take_while(|(_, step)| step.at <= at);
    for (id, step) in later {
        let Some((event, reason)) = refusal(run, output, &sources, id) else {
            continue;
        };
        let known = refused.iter().position(|known| known.reason == reason);
        let times = known.map_or(1, |index| refused.remove(index).times + 1);
        refused.push(Refused {
            at: step.at,
            times,
            event,
            reason,
        });
    }
    let old = refused.len().saturating_sub(REFUSED_AT_MOST);
    refused.drain(..old);
    refused
}

/// What did nothing to the output at this step, and why.
fn refusal(
    run: &Run<'_>,
    output: OutputId,
    sources: &[SourceId],
    id: StepId,
) -> Option<(String, &'static str)> {
    match run.step(id)?.what {
        What::Note(who, Note::Ignored(why)) => {
            let concerns = match who {
                Who::Output(id) => id == output,
                Who::Source(id) => sources.contains(&id),
                Who::Controller(_) | Who::Clause(_) | Who::Room => false,
            };
            let idle = matches!(
                why,
                Ignored::NoChange | Ignored::DeadBand | Ignored::DeadTime
            );
            let root = || {
                Chain::back_from(run, id)
                    .root()
                    .map(|root| root.words.clone())
            };
            (concerns && !idle).then(|| (root().unwrap_or_default(), run.names.ignored(who, why)))
        }
        What::Dropped(listener, source, said, why) => {
            let drives = run.names.plan.outputs[usize::from(output.0)].controller == listener;
            let event = || words::frame_from(&run.names, source, said);
            (drives && sources.contains(&source)).then(|| (event(), words::dropped(why)))
        }
        _ => None,
    }
}

/// The timers that run at the end of `at` and bear on an output.
fn next(run: &Run<'_>, output: OutputId, sources: &[SourceId], at: Instant) -> Vec<Next> {
    let mut running: BTreeMap<Slot, (StepId, Instant, Span)> = BTreeMap::new();
    for (id, step) in run.steps().take_while(|(_, step)| step.at <= at) {
        match step.what {
            What::Started(slot, span) => {
                running.insert(slot, (id, step.at, span));
            }
            What::Stopped(slot) | What::Elapsed(slot) => {
                running.remove(&slot);
            }
            _ => {}
        }
    }
    let mut next: Vec<Next> = running
        .into_iter()
        .filter(|(slot, _)| bears_on(run, *slot, output, sources))
        .map(|(slot, (started, from, span))| {
            let timer = run.names.timer(slot);
            let words = format!(
                "the {} of {}{} ends ({span} from {}{}): {}",
                timer.name,
                timer.owner,
                run.setting(slot, from, span),
                run.clock.label(from),
                after(run, started),
                timer.end
            );
            Next {
                at: from.after(span),
                words,
            }
        })
        .collect();
    next.extend(on_the_way(run, output, sources, at));
    next.sort_by_key(|next| next.at);
    next
}

/// Frames that were sent by `at` and come to the controller of the output later.
fn on_the_way<'a>(
    run: &'a Run<'_>,
    output: OutputId,
    sources: &'a [SourceId],
    at: Instant,
) -> impl Iterator<Item = Next> + 'a {
    let controller = run.names.plan.outputs[usize::from(output.0)].controller;
    let later = run.steps().skip_while(move |(_, step)| step.at <= at);
    later.filter_map(move |(id, step)| {
        let What::Arrived(listener, source, said) = step.what else {
            return None;
        };
        let sent = step.cause.and_then(|cause| run.step(cause))?;
        let concerns = sent.at <= at && listener == controller && sources.contains(&source);
        // A report that says nothing new changes nothing when it arrives.
        let reports = !matches!(said, Payload::Down(_) | Payload::Up(_));
        if reports && !acts_on(run, output, id) {
            return None;
        }
        concerns.then(|| Next {
            at: step.at,
            words: format!(
                "the {} arrives",
                words::frame_from(&run.names, source, said)
            ),
        })
    })
}

/// Whether a frame had an effect on an output when it arrived.
fn acts_on(run: &Run<'_>, output: OutputId, arrived: StepId) -> bool {
    let Some(at) = run.step(arrived).map(|step| step.at) else {
        return false;
    };
    let mut here = run
        .steps_from(arrived)
        .take_while(|(_, step)| step.at == at);
    here.any(|(_, step)| match step.what {
        What::Note(_, Note::Ignored(_)) => false,
        What::Note(Who::Output(who), _) => who == output && step.cause == Some(arrived),
        _ => false,
    })
}

/// The stimulus that started a timer: `, after motion at wall-sensor`.
fn after(run: &Run<'_>, started: StepId) -> String {
    let chain = Chain::back_from(run, started);
    let root = chain.root().filter(|root| {
        let step = run.step(root.step).map(|step| &step.what);
        matches!(step, Some(What::Stimulus(..)))
    });
    root.map_or_else(String::new, |root| {
        // What a timer brought about earlier on the way is no news here.
        let words = root.words.trim_start_matches("the last ");
        format!(", after {words}")
    })
}

fn bears_on(run: &Run<'_>, slot: Slot, output: OutputId, sources: &[SourceId]) -> bool {
    let timer = run.names.timer(slot);
    let moves = matches!(
        run.names.owner(slot),
        Some(SlotOwner::Controller(
            _,
            controller::Timer::Output(
                _,
                controller::OutputTimer::Fade
                    | controller::OutputTimer::Ramp
                    | controller::OutputTimer::Limit
            )
        ))
    );
    match timer.lane {
        words::TimerLane::Source(id) => !timer.quiet && sources.contains(&id),
        words::TimerLane::Output(id) => (!timer.quiet || moves) && id == output,
        words::TimerLane::None => false,
    }
}

/// What changed an output next after `at`.
fn then(run: &Run<'_>, output: OutputId, at: Instant) -> Option<Next> {
    let (_, before) = run.view(output, at)?;
    let kind = run.names.kind(output);
    let later = run.steps().skip_while(|(_, step)| step.at <= at);
    let changed = later.into_iter().find(|(_, step)| match step.what {
        What::Output(who, ref view) => {
            let switched = kind != Kind::Light && view.closed != before.closed;
            let moved = (view.state, view.target) != (before.state, before.target);
            who == output && (moved || switched)
        }
        _ => false,
    });
    let (id, step) = changed?;
    let chain = Chain::back_from(run, id);
    let words: Vec<String> = chain.links.iter().map(|link| link.words.clone()).collect();
    Some(Next {
        at: step.at,
        words: words.join(" \u{2190} "),
    })
}

fn either(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} or {last}", most.join(", ")),
    }
}

/// Kinds of events without effect that an answer lists.
const REFUSED_AT_MOST: usize = 4;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::samples::morning;
    use crate::sketch::{LIGHTS, OUTLET, quiet_reading};

    #[test]
    fn a_dark_room_is_explained_back_to_the_last_sound_that_counted() {
        let sketch = quiet_reading();
        let run = sketch.run(4_800_000);
        let why = Why::of(&run, LIGHTS, Instant::from_ms(4_501_000));
        insta::assert_snapshot!(why.text(&run));
    }

    #[test]
    fn what_will_change_a_lit_room_next_is_its_running_timers() {
        let sketch = quiet_reading();
        let run = sketch.run(4_800_000);
        let why = Why::of(&run, LIGHTS, Instant::from_ms(3_000_000));
        insta::assert_snapshot!(why.text(&run));
    }

    /// Somebody who was there all the time moves again: no event of the output tells of it, but
    /// whoever waits for light must read why none comes.
    #[test]
    fn a_latched_output_says_so_though_nobody_has_come_anew() {
        let sample = morning();
        let run = sample.run();
        let mut why = Why::of(&run, OutputId(0), Instant::from_ms(17 * 60_000 + 30_000));
        assert!(why.latched);
        let tell = |why: &Why| {
            why.refused_lines(&run)
                .join("\n")
                .matches("by hand")
                .count()
        };
        assert_eq!(tell(&why), 1, "it is told once");
        why.refused.clear();
        assert_eq!(
            why.refused_lines(&run),
            [format!(
                "{} is latched: it was switched off by hand and stays off until the room has \
                 been empty",
                why.output
            )]
        );
        why.latched = false;
        assert_eq!(tell(&why), 0);
    }

    #[test]
    fn what_nothing_has_changed_says_so() {
        let sketch = quiet_reading();
        let run = sketch.run(4_800_000);
        let why = Why::of(&run, LIGHTS, Instant::START);
        let text = why.text(&run);
        assert!(
            text.contains("nothing has changed it since the start"),
            "{text}"
        );
    }

    #[test]
    fn a_lamp_that_nobody_has_asked_for_anything_is_said_to_be_asked_nothing() {
        let sketch = quiet_reading();
        let run = sketch.run(4_800_000);
        let stands = |at| Why::of(&run, LIGHTS, Instant::from_ms(at)).stands;
        assert_eq!(stands(0), "is off, target 0 %, light 0 %");
        assert!(stands(2_000).starts_with("is on, asked 50 %"));
        assert!(stands(4_600_000).starts_with("is off, asked 50 %"));
    }

    #[test]
    fn a_contact_that_moves_though_nothing_is_asked_of_it_has_changed() {
        let mut sketch = quiet_reading();
        sketch.plan.controllers[0].settings.outputs[1].drive = controller::Drive::Contact;
        let sticks = sketch.step(4_600_000, None, What::Stuck(OUTLET, Some(true)));
        sketch.show(4_600_000, sticks, OUTLET, |view| view.closed = true);
        let run = sketch.run(4_800_000);
        let why = |at| Why::of(&run, OUTLET, Instant::from_ms(at));
        assert_eq!(why(4_599_000).stands, "is open");
        let next = why(4_599_000).then.unwrap();
        assert_eq!(next.at, Instant::from_ms(4_600_000));
        let now = why(4_600_000);
        assert_eq!(now.stands, "is closed, asked open");
        let chain = now.chain_lines(&run).join("\n");
        assert!(chain.contains("desk-outlet relay sticks closed"), "{chain}");
    }

    #[test]
    fn a_room_switched_off_by_hand_says_what_it_refused() {
        let sample = morning();
        let run = sample.run();
        let why = Why::of(&run, OutputId(0), Instant::from_ms(17 * 60_000 + 30_000));
        insta::assert_snapshot!(why.text(&run));
    }
}
