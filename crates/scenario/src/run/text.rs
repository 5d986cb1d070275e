//! A trace as compact text, one line for each step, for golden files and comparison.
//!
//! A line is: the instant in milliseconds, the number of the step, the step that caused it (`-`
//! for what came from outside), who, and what. Invariant: equal traces give equal text, and
//! different traces different text.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use device::controller::Timer;
use device::{Note, Payload};
use room::{Device, Plan, Slot, SlotOwner, Stimulus, Who};
use sim::{Instant, OutputView, What};

use super::Outcome;

/// The trace of a run as compact text.
#[must_use]
pub fn trace_text(outcome: &Outcome) -> String {
    let names = Names {
        plan: &outcome.script.plan,
        outcome,
    };
    let mut text = String::new();
    for (number, step) in outcome.trace.steps.iter().enumerate() {
        let cause = step
            .cause
            .map_or_else(|| "-".to_owned(), |cause| cause.number().to_string());
        let what = names.what(&step.what);
        writeln!(text, "{} {number} {cause} {what}", step.at.as_ms())
            .expect("a string takes whatever is written to it");
    }
    text
}

/// The golden text of the runs of one scenario file: for each run its title, verdict and digest,
/// and the steps in which something became different from before.
///
/// The digest (FNV-1a, 64 bits) is of the whole [`trace_text`], so nothing can change unseen;
/// the steps are there for people who read what did.
#[must_use]
pub fn golden_text(outcomes: &[Outcome]) -> String {
    let mut text = String::new();
    for outcome in outcomes {
        let whole = trace_text(outcome);
        let script = &outcome.script;
        let values = script.values.iter();
        let values: Vec<String> = values
            .map(|(name, value)| format!(" {name} = {value}"))
            .collect();
        let _ = writeln!(text, "# {}{}", script.title, values.join(","));
        let _ = writeln!(
            text,
            "# {:?}, seed {}, {} steps, digest {:016x}",
            outcome.verdict,
            outcome.seed,
            outcome.trace.steps.len(),
            digest(whole.as_bytes())
        );
        let mut last: BTreeMap<u16, Payload> = BTreeMap::new();
        for (step, line) in outcome.trace.steps.iter().zip(whole.lines()) {
            let tells = match step.what {
                What::Sent(source, _, payload) => last.insert(source.0, payload) != Some(payload),
                What::Note(_, note) => !matches!(note, Note::Ignored(_)),
                What::Stimulus(_, Stimulus::Motion | Stimulus::Sound)
                | What::Arrived(..)
                | What::Started(..)
                | What::Stopped(_)
                | What::Elapsed(_)
                | What::Daylight(_) => false,
                _ => true,
            };
            if tells {
                let (ms, rest) = line.split_once(' ').unwrap_or((line, ""));
                let at = Instant::from_ms(ms.parse().unwrap_or(0));
                let what = rest.splitn(3, ' ').nth(2).unwrap_or(rest);
                let _ = writeln!(text, "{} {what}", script.civil.say(at));
            }
        }
    }
    text
}

/// FNV-1a with 64 bits (Fowler, Noll, Vo).
fn digest(bytes: &[u8]) -> u64 {
    bytes.iter().fold(0xcbf2_9ce4_8422_2325, |digest, byte| {
        (digest ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01b3)
    })
}

struct Names<'a> {
    plan: &'a Plan,
    outcome: &'a Outcome,
}

impl Names<'_> {
    fn what(&self, what: &What) -> String {
        match what {
            What::Stimulus(id, stimulus) => format!("{} {stimulus:?}", self.source(id.0)),
            What::Power(device, on) => format!("{} power {on}", self.device(*device)),
            What::Daylight(lux) => format!("room daylight {lux}"),
            What::Stuck(id, how) => format!("{} stuck {how:?}", self.output(id.0)),
            What::Learn(id) => format!("{} learn", self.output(id.0)),
            What::Change => "room settings changed".to_owned(),
            What::Impaired(it) => {
                let listener = it.listener.map_or("all", |id| self.controller(id.0));
                format!("{} to {listener} {:?}", self.source(it.source.0), it.fault)
            }
            What::Drifts(it) => {
                format!("{} clock {}", self.device(it.device), it.pace.parts())
            }
            What::Sent(id, number, payload) => {
                format!("{} sent {number} {payload:?}", self.source(id.0))
            }
            What::Arrived(by, id, payload) => {
                let (by, source) = (self.controller(by.0), self.source(id.0));
                format!("{by} heard {source} {payload:?}")
            }
            What::Dropped(by, id, payload, why) => {
                let (by, source) = (self.controller(by.0), self.source(id.0));
                format!("{by} missed {source} {payload:?} {why:?}")
            }
            What::Started(slot, span) => format!("{} started {span}", self.timer(*slot)),
            What::Stopped(slot) => format!("{} stopped", self.timer(*slot)),
            What::Elapsed(slot) => format!("{} elapsed", self.timer(*slot)),
            What::Note(who, note) => format!("{} {note:?}", self.who(*who)),
            What::Output(id, view) => format!("{} {}", self.output(id.0), stands(view)),
            What::Clause(id, turn) => {
                format!("{} {turn:?}", self.plan.clauses[usize::from(*id)].id)
            }
        }
    }

    fn who(&self, who: Who) -> &str {
        match who {
            Who::Source(id) => self.source(id.0),
            Who::Controller(id) => self.controller(id.0),
            Who::Output(id) => self.output(id.0),
            Who::Clause(id) => &self.plan.clauses[usize::from(id)].id,
            Who::Room => "room",
        }
    }

    fn device(&self, device: Device) -> &str {
        match device {
            Device::Source(id) => self.source(id.0),
            Device::Controller(id) => self.controller(id.0),
        }
    }

    fn timer(&self, slot: Slot) -> String {
        match self.outcome.slots.owner(slot) {
            SlotOwner::Source(id, number) => format!("{} timer {number}", self.source(id.0)),
            SlotOwner::Controller(id, Timer::Output(local, timer)) => {
                let controller = &self.plan.controllers[usize::from(id.0)];
                let output = controller.outputs[usize::from(local)];
                format!("{} {timer:?}", self.output(output.0))
            }
            SlotOwner::Controller(id, timer) => format!("{} {timer:?}", self.controller(id.0)),
            SlotOwner::Clause(id, number) => {
                format!("{} timer {number}", self.plan.clauses[usize::from(id)].id)
            }
        }
    }

    fn source(&self, id: u16) -> &str {
        &self.plan.sources[usize::from(id)].name
    }

    fn output(&self, id: u16) -> &str {
        &self.plan.outputs[usize::from(id)].name
    }

    fn controller(&self, id: u16) -> &str {
        &self.plan.controllers[usize::from(id)].name
    }
}

/// How an output stands, with only the marks that are set.
fn stands(view: &OutputView) -> String {
    let mut text = format!(
        "= {:?} asked {} target {} light {}",
        view.state, view.asked, view.target, view.light.now
    );
    if !view.light.within.is_zero() {
        let _ = write!(text, " to {} in {}", view.light.to, view.light.within);
    }
    let marks = [
        (view.closed, "closed"),
        (view.occupied, "occupied"),
        (view.latch, "latch"),
        (view.by_hand, "by-hand"),
        (view.emergency, "emergency"),
    ];
    for (_, mark) in marks.iter().filter(|(set, _)| *set) {
        let _ = write!(text, " {mark}");
    }
    text
}
