//! From any step back to the stimulus that began it, and onwards to what it brought about.

use device::{Level, Note, Payload, controller};
use room::{Device, OutputId, Slot, SlotOwner, SourceId, Stimulus, Who};
use sim::{Instant, Step, StepId, What};

use crate::run::{Place, Run};
use crate::words;

/// The way from an effect back to its first cause.
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub struct Chain {
    /// The effect first, the stimulus last.
    pub links: Vec<Link>,
}

/// One step of a [`Chain`].
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Link {
    /// When.
    pub at: Instant,
    /// The step of the trace.
    pub step: StepId,
    /// Steps that happened beside it, told in the same words.
    pub beside: Vec<StepId>,
    /// What happened, with its subject.
    pub words: String,
    /// The row that put it into the run, where it came from outside.
    pub place: Option<Place>,
    /// Settings and events that mattered on the way.
    pub remarks: Vec<String>,
    /// Whether it begins a chain of its own below another, instead of causing the link above.
    pub begins: bool,
}

impl Chain {
    /// The way back from `step`.
    #[must_use]
    pub fn back_from(run: &Run<'_>, step: StepId) -> Self {
        let mut links: Vec<Link> = Vec::new();
        let mut next = Some(step);
        let mut timed = false;
        let mut again = Again::default();
        while let Some((id, step)) = next.and_then(|id| Some((id, run.step(id)?))) {
            let cause = step.cause.filter(|cause| *cause < id);
            match step.what {
                What::Output(output, _)
                    if links.is_empty() && moved_by_limit(run, id).is_some() =>
                {
                    let limit = moved_by_limit(run, id).unwrap_or(id);
                    links.push(limit_link(run, output, id, limit));
                    next = run.step(limit).and_then(|step| step.cause);
                    continue;
                }
                // What a daylight sensor saw is from outside; when it looks is housekeeping.
                What::Arrived(_, source, Payload::Illuminance(_)) => {
                    again.end(run, &mut links);
                    links.push(plain_link(run, id, step));
                    links.extend(outside(run, source, step));
                    return Self { links };
                }
                What::Sent(..) if heard_before(&links, run) => {}
                What::Started(..) => timed = true,
                What::Elapsed(slot) if again.is_same(slot) => again.count(step.at),
                // Where an output stands follows from what it did: from its notes.
                What::Output(..) if links.is_empty() => {
                    let cause = input_told(run, id, step);
                    links.push(output_link(run, id, step, cause));
                    next = cause;
                    continue;
                }
                What::Output(..) => {}
                What::Clause(..) => {
                    links.push(plain_link(run, id, step));
                    let (told, of) = told_beside(run, id, cause);
                    links.extend(told);
                    next = of;
                    continue;
                }
                _ => {
                    again.end(run, &mut links);
                    let mut link = plain_link(run, id, step);
                    let sensed = matches!(
                        step.what,
                        What::Stimulus(_, Stimulus::Motion | Stimulus::Sound)
                    );
                    if timed && sensed {
                        link.words = format!("the last {}", link.words);
                    }
                    links.push(link);
                    if let What::Elapsed(slot) = step.what {
                        again.begin(slot);
                    }
                }
            }
            next = cause;
        }
        again.end(run, &mut links);
        Self { links }
    }

    /// The chain in one line: effect ← cause ← cause.
    #[must_use]
    pub fn line(&self, run: &Run<'_>) -> String {
        let mut line = String::new();
        let mut shown = None;
        for link in &self.links {
            if !line.is_empty() {
                line.push_str(" \u{2190} ");
            }
            if shown != Some(link.at) {
                line.push_str(&run.clock.label(link.at));
                line.push(' ');
                shown = Some(link.at);
            }
            line.push_str(&link.words);
            if let Some(place) = &link.place {
                line.push_str(&format!(" ({place})"));
            }
        }
        line
    }

    /// The instant of the first cause.
    #[must_use]
    pub fn root(&self) -> Option<&Link> {
        self.links.last()
    }
}

/// Whether the frame of this step was already named where it was heard.
fn heard_before(links: &[Link], run: &Run<'_>) -> bool {
    let last = links.last().and_then(|link| run.step(link.step));
    matches!(
        last.map(|step| &step.what),
        Some(What::Arrived(..) | What::Dropped(..))
    )
}

/// The input that made an output stand as a step says, past the note in between.
fn input_of(run: &Run<'_>, step: &Step) -> Option<StepId> {
    let cause = step.cause?;
    match run.step(cause)? {
        Step {
            what: What::Note(..),
            cause,
            ..
        } => *cause,
        _ => Some(cause),
    }
}

/// The input behind a record of an output. Where that input says nothing of the output and
/// another of the same instant does, it is the other one: a measurement that comes last in its
/// instant has not switched anything.
fn input_told(run: &Run<'_>, id: StepId, step: &Step) -> Option<StepId> {
    let input = input_of(run, step)?;
    let What::Output(output, _) = step.what else {
        return Some(input);
    };
    let told = |step: &Step| match step.what {
        What::Note(Who::Output(who), note) => who == output && tells(note),
        _ => false,
    };
    let here: Vec<&Step> = earlier_here(run, id)
        .map(|(_, step)| step)
        .filter(|step| told(step))
        .collect();
    if here.iter().any(|step| step.cause == Some(input)) {
        return Some(input);
    }
    let power = earlier_here(run, id).filter(|(_, step)| is_power_of(run, step, output));
    let power = power.map(|(power, _)| power).last();
    here.last()
        .and_then(|step| step.cause)
        .or(power)
        .or(Some(input))
}

/// Whether a step takes power from the controller of an output, or gives it back: that is told by
/// no note of the output, and changes how it stands.
fn is_power_of(run: &Run<'_>, step: &Step, output: OutputId) -> bool {
    let planned = run.names.plan.outputs.get(usize::from(output.0));
    match step.what {
        What::Power(Device::Controller(id), _) => planned.is_some_and(|it| it.controller == id),
        _ => false,
    }
}

/// The note of the daylight limit that moves an output at this record, if that is all that does:
/// its state is as before, and nothing else was told of it in this instant.
fn moved_by_limit(run: &Run<'_>, id: StepId) -> Option<StepId> {
    let step = run.step(id)?;
    let What::Output(output, ref view) = step.what else {
        return None;
    };
    let input = run.step(input_of(run, step)?)?;
    let by_limit = match input.what {
        What::Arrived(_, _, Payload::Illuminance(_)) => true,
        What::Elapsed(slot) => matches!(
            run.names.owner(slot),
            Some(SlotOwner::Controller(
                _,
                controller::Timer::Output(_, controller::OutputTimer::Limit)
            ))
        ),
        _ => false,
    };
    let told = earlier_here(run, id).any(|(_, step)| match step.what {
        What::Note(Who::Output(who), note) => who == output && tells(note),
        _ => false,
    });
    let earlier = run.trace.steps[..id.index()].iter().rev();
    let before = earlier.clone().find_map(|step| match step.what {
        What::Output(who, ref before) if who == output => Some(before.state),
        _ => None,
    });
    if !by_limit || told || before.is_some_and(|before| before != view.state) {
        return None;
    }
    limits(run, output, id).next()
}

/// The notes of an output's daylight limit before a step, the last first.
fn limits<'a>(
    run: &Run<'a>,
    output: OutputId,
    before: StepId,
) -> impl Iterator<Item = StepId> + use<'a> {
    let earlier = run.trace.steps[..before.index()].iter().enumerate().rev();
    earlier.filter_map(move |(index, step)| match step.what {
        What::Note(Who::Output(who), Note::Limit(_)) if who == output => Some(StepId::at(index)),
        _ => None,
    })
}

/// `the daylight limit of primary-lights moved from 60 % to 10 %`.
fn limit_link(run: &Run<'_>, output: OutputId, record: StepId, limit: StepId) -> Link {
    let level = |id: StepId| match run.step(id).map(|step| &step.what) {
        Some(What::Note(_, Note::Limit(level))) => *level,
        _ => Level::FULL,
    };
    let before = limits(run, output, limit).next().map_or(Level::FULL, level);
    let name = run.names.output(output);
    Link {
        at: run.step(limit).map_or(Instant::START, |step| step.at),
        step: limit,
        beside: vec![record],
        words: format!(
            "the daylight limit of {name} moved from {before} to {}",
            level(limit)
        ),
        place: None,
        remarks: Vec::new(),
        begins: false,
    }
}

/// The daylight outside when a sensor measured what this frame says, with the row that set it.
fn outside(run: &Run<'_>, source: SourceId, arrived: &Step) -> Option<Link> {
    let sent = arrived.cause?;
    let seen = run.step(sent)?.at;
    let light = &run.names.plan.sources.get(usize::from(source.0))?.light;
    if light.daylight == 0 {
        return None;
    }
    let earlier = run.trace.steps[..sent.index()].iter().enumerate().rev();
    let mut earlier = earlier.filter(|(_, step)| matches!(step.what, What::Daylight(_)));
    let (index, step) = earlier.find(|(_, step)| step.at <= seen)?;
    Some(plain_link(run, StepId::at(index), step))
}

/// What an output did at the step that records where it stands now.
fn output_link(run: &Run<'_>, id: StepId, step: &Step, cause: Option<StepId>) -> Link {
    let notes = cause.map_or_else(Vec::new, |cause| siblings(run, id, cause));
    let What::Output(output, ref view) = step.what else {
        return plain_link(run, id, step);
    };
    let telling = notes.iter().rev().find_map(|(_, note)| match note.what {
        What::Note(Who::Output(who), said) if who == output && tells(said) => Some(said),
        _ => None,
    });
    let name = run.names.output(output);
    let words = match telling {
        Some(said) => {
            let set = set_by(run, cause, output, said, step.at);
            format!("{name} {}{set}", run.names.note(Who::Output(output), said))
        }
        None => format!("{name} {}", run.names.kind(output).stands(view, true)),
    };
    Link {
        at: step.at,
        step: id,
        beside: Vec::new(),
        words,
        place: None,
        remarks: Vec::new(),
        begins: false,
    }
}

/// Where the level stands that an output takes because of the frame of a link's source.
fn set_by(
    run: &Run<'_>,
    cause: Option<StepId>,
    output: OutputId,
    note: Note,
    at: Instant,
) -> String {
    let heard = cause.and_then(|cause| run.step(cause));
    match heard.map(|heard| &heard.what) {
        Some(What::Arrived(_, source, _)) => run.level_setting(*source, output, note, at),
        _ => String::new(),
    }
}

/// A timer that starts itself again and again, such as a report interval: one link stands for
/// all its turns.
#[derive(Default)]
struct Again {
    slot: Option<Slot>,
    times: usize,
    first: Instant,
}

impl Again {
    fn begin(&mut self, slot: Slot) {
        self.slot = Some(slot);
        self.times = 0;
    }

    fn is_same(&self, slot: Slot) -> bool {
        self.slot == Some(slot)
    }

    fn count(&mut self, at: Instant) {
        self.times += 1;
        self.first = at;
    }

    /// Something else comes: says how often the timer had ended before.
    fn end(&mut self, run: &Run<'_>, links: &mut [Link]) {
        if let (Some(_), 1.., Some(last)) = (self.slot, self.times, links.last_mut()) {
            let (times, first) = (words::times(self.times), run.clock.label(self.first));
            last.words
                .push_str(&format!(", as {times} before since {first}"));
        }
        self.slot = None;
        self.times = 0;
    }
}

/// What outputs did at the instant of a clause's turn, and the cause to go on with.
///
/// A clause is judged once at the end of an instant. Where the last input of the instant changed
/// no output, the last one that did tells more.
fn told_beside(run: &Run<'_>, id: StepId, cause: Option<StepId>) -> (Option<Link>, Option<StepId>) {
    let tell = |step: &Step| match step.what {
        What::Note(Who::Output(_), note) => tells(note),
        _ => false,
    };
    // Outputs that changed by one cause did not cause each other: they are one link.
    let link = |told: &[(StepId, &Step)]| {
        let mut links = told.iter().map(|(id, step)| plain_link(run, *id, step));
        let mut first = links.next()?;
        for other in links {
            first.words.push_str("; ");
            first.words.push_str(&other.words);
            first.beside.push(other.step);
        }
        Some(first)
    };
    let here: Vec<_> = earlier_here(run, id)
        .filter(|(_, step)| tell(step))
        .collect();
    let told = |by: Option<StepId>| {
        let same = here.iter().filter(|(_, step)| step.cause == by);
        same.copied().collect::<Vec<_>>()
    };
    let same = told(cause);
    match here.last() {
        Some((_, last)) if same.is_empty() => (link(&told(last.cause)), last.cause),
        _ => (link(&same), cause),
    }
}

/// The steps before `id` at its instant that have the same cause.
fn siblings<'a>(run: &Run<'a>, id: StepId, cause: StepId) -> Vec<(StepId, &'a Step)> {
    let same = earlier_here(run, id).filter(|(_, step)| step.cause == Some(cause));
    same.collect()
}

/// The steps before `id` at its instant.
fn earlier_here<'a>(
    run: &Run<'a>,
    id: StepId,
) -> impl Iterator<Item = (StepId, &'a Step)> + use<'a> {
    let all = &run.trace.steps;
    let at = all[id.index()].at;
    let first = all[..id.index()].partition_point(|step| step.at < at);
    run.steps_from(StepId::at(first))
        .take_while(move |(other, _)| *other < id)
}

/// Whether a note of an output says what became of its light.
#[must_use]
pub const fn tells(note: Note) -> bool {
    matches!(
        note,
        Note::TurnedOn(_)
            | Note::TurnedOff
            | Note::SetBack(_)
            | Note::Warning(_)
            | Note::Restored(_)
            | Note::Asked(_)
            | Note::RampStarted(_)
            | Note::RampEnded(_)
            | Note::DarkByDaylight
            | Note::BackFromDaylight
            | Note::Emergency(_)
            | Note::Shed(_)
    )
}

fn plain_link(run: &Run<'_>, id: StepId, step: &Step) -> Link {
    let names = &run.names;
    let mut remarks = Vec::new();
    let words = match step.what {
        What::Stimulus(source, what) => {
            let person = run.people.get(&id);
            let person = person.map_or_else(String::new, |does| format!(": {does}"));
            let happened = words::stimulus(names, source, what);
            format!("{happened} at {}{person}", names.source(source))
        }
        What::Arrived(_, source, Payload::Illuminance(seen)) => {
            format!("{} saw {seen}", names.source(source))
        }
        What::Arrived(_, source, payload) => words::frame_from(names, source, payload),
        What::Elapsed(slot) => {
            let timer = names.timer(slot);
            remarks = circumstances(run, id, step);
            let from = step
                .cause
                .and_then(|cause| run.step(cause))
                .map(|started| started.at);
            let (span, set) = from.map_or_else(Default::default, |from| {
                let span = step.at.since(from);
                let said = format!("{} ", words::short_span(span));
                (said, run.setting(slot, from, span))
            });
            format!("{span}{} of {} ended{set}", timer.name, timer.owner)
        }
        What::Note(Who::Output(output), note) => {
            let set = set_by(run, step.cause, output, note, step.at);
            let (subject, predicate) = (names.subject(&step.what), names.predicate(&step.what));
            format!("{subject} {predicate}{set}")
        }
        _ => format!(
            "{} {}",
            names.subject(&step.what),
            names.predicate(&step.what)
        ),
    };
    Link {
        at: step.at,
        step: id,
        beside: Vec::new(),
        words,
        place: run.places.get(&id).cloned(),
        remarks,
        begins: false,
    }
}

/// What happened at a source while its timer ran and did not prolong it.
fn circumstances(run: &Run<'_>, id: StepId, ended: &Step) -> Vec<String> {
    let What::Elapsed(slot) = ended.what else {
        return Vec::new();
    };
    let words::TimerLane::Source(source) = run.names.timer(slot).lane else {
        return Vec::new();
    };
    let from = ended.cause.map_or(0, |cause| cause.index());
    let between = &run.trace.steps[from.min(id.index())..id.index()];
    let mut remarks = Vec::new();
    let mut ignored: Vec<(device::Ignored, usize)> = Vec::new();
    for step in between {
        match step.what {
            What::Note(Who::Source(who), Note::Ignored(why)) if who == source => {
                match ignored.iter_mut().find(|(known, _)| *known == why) {
                    Some((_, times)) => *times += 1,
                    None => ignored.push((why, 1)),
                }
            }
            What::Note(Who::Source(who), Note::WindowClosed) if who == source => {
                let at = run.clock.label(step.at);
                remarks.push(format!("its sound window closed at {at}"));
            }
            _ => {}
        }
    }
    for (why, times) in ignored {
        let times = words::count(times, "event", "events");
        remarks.push(format!(
            "{times} in between did nothing: {}",
            words::ignored(why)
        ));
    }
    remarks
}

/// What every step has brought about: the tree of causes, read downwards.
#[derive(Clone, Debug, Default)]
pub struct Effects {
    /// Where the children of each step begin in `children`, and one past the end.
    starts: Vec<u32>,
    children: Vec<StepId>,
}

impl Effects {
    /// Turns the causes of a run around.
    #[must_use]
    pub fn of(run: &Run<'_>) -> Self {
        let count = run.trace.steps.len();
        let mut starts = vec![0_u32; count + 1];
        let caused = |id: StepId, step: &Step| step.cause.filter(|cause| *cause < id);
        for (id, step) in run.steps() {
            if let Some(cause) = caused(id, step) {
                starts[cause.index() + 1] += 1;
            }
        }
        for index in 0..count {
            starts[index + 1] += starts[index];
        }
        let mut next = starts.clone();
        let mut children = vec![StepId::FIRST; *starts.last().expect("never empty") as usize];
        for (id, step) in run.steps() {
            if let Some(cause) = caused(id, step) {
                let place = &mut next[cause.index()];
                children[*place as usize] = id;
                *place += 1;
            }
        }
        Self { starts, children }
    }

    /// The steps that `id` caused directly.
    #[must_use]
    pub fn children(&self, id: StepId) -> &[StepId] {
        let from = self.starts[id.index()] as usize;
        let to = self.starts[id.index() + 1] as usize;
        &self.children[from..to]
    }

    /// What a stimulus brought about at once, in order: not what its timers did later, but what
    /// the hold of a button did.
    #[must_use]
    pub fn at_once<'a>(&self, run: &Run<'a>, id: StepId) -> Vec<(StepId, &'a Step)> {
        let mut found = Vec::new();
        let mut ahead = vec![id];
        while let Some(next) = ahead.pop() {
            for child in self.children(next).iter().rev() {
                let Some(step) = run.step(*child) else {
                    continue;
                };
                let later = match step.what {
                    What::Elapsed(slot) => !is_threshold(run, slot),
                    _ => false,
                };
                if !later {
                    found.push((*child, step));
                    ahead.push(*child);
                }
            }
        }
        found.sort_by_key(|(id, _)| *id);
        found
    }
}

/// Whether a timer tells a tap from a hold.
fn is_threshold(run: &Run<'_>, slot: Slot) -> bool {
    matches!(
        run.names.owner(slot),
        Some(SlotOwner::Controller(_, controller::Timer::Threshold(_)))
    )
}

#[cfg(test)]
mod tests {
    use device::Span;

    use super::*;
    use crate::sketch::{LIGHTS, OUTLET, SENSOR, Sketch, Timer};

    #[test]
    fn a_timer_that_starts_itself_again_is_one_link() {
        let mut sketch = Sketch::new("Reports", "2026-03-02T08:00:00[UTC]");
        let begun = sketch.stimulus(0, SENSOR, Stimulus::Motion);
        sketch.start(0, begun, Timer::T, Span::from_minutes(4));
        let mut last = begun;
        for turn in 1..=9 {
            last = sketch.elapse(turn * 240_000, Timer::T);
            sketch.start(turn * 240_000, last, Timer::T, Span::from_minutes(4));
        }
        let run = sketch.run(3_600_000);
        let line = Chain::back_from(&run, last).line(&run);
        assert_eq!(
            line,
            "08:36:00 4 min time delay of wall-sensor ended, as 8 times before since 08:04:00 \
             \u{2190} 08:00:00 the last motion at wall-sensor (quiet-reading.toml:11:3)"
        );
    }

    #[test]
    fn a_controller_that_has_power_again_and_not_a_report_of_that_instant_is_the_cause() {
        let mut sketch = Sketch::new("Cut", "2026-03-02T08:00:00[UTC]");
        let motion = sketch.stimulus(0, SENSOR, Stimulus::Motion);
        sketch.turn_on(10, motion, LIGHTS, 50);
        let controller = Device::Controller(room::ControllerId(0));
        sketch.step(1_000, None, What::Power(controller, true));
        let report = sketch.stimulus(1_000, SENSOR, Stimulus::Sound);
        sketch.show(1_000, report, LIGHTS, |view| view.light.now = Level::FULL);
        let run = sketch.run(2_000);
        let last = run.steps().last().unwrap().0;
        let line = Chain::back_from(&run, last).line(&run);
        assert!(
            line.ends_with("\u{2190} office-112 power returns"),
            "{line}"
        );
    }

    #[test]
    fn a_clause_is_told_by_the_output_that_changed_in_its_instant() {
        let mut sketch = Sketch::new("Judged", "2026-03-02T08:00:00[UTC]");
        let clause = sketch.clause("A1", "Somebody comes.", crate::verdict::Verdict::Held);
        let motion = sketch.stimulus(0, SENSOR, Stimulus::Motion);
        let heard = sketch.frame(0, motion, SENSOR, Payload::Occupied { bright: false });
        sketch.turn_on(10, heard, LIGHTS, 50);
        let sound = sketch.stimulus(10, SENSOR, Stimulus::Sound);
        sketch.turn(10, sound, clause, clause::Turn::Held);
        sketch.turn_on(20, sound, OUTLET, 100);
        let run = sketch.run(1_000);
        let turned = run
            .steps()
            .find(|(_, step)| matches!(step.what, What::Clause(..)));
        let chain = Chain::back_from(&run, turned.unwrap().0);
        let words: Vec<&str> = chain.links.iter().map(|link| link.words.as_str()).collect();
        assert_eq!(
            words,
            [
                "clause A1 is met",
                "desk-lights turned on at 50 %",
                "occupied frame from wall-sensor",
                "motion at wall-sensor"
            ]
        );
    }
}
