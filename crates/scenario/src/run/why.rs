//! Reasons: why an output stands as it does, what had no effect since, and what comes next.
//!
//! Invariant: every reason is a step of the trace; its words are those of the reports.

use std::collections::BTreeMap;

use device::controller::Timer;
use device::{Ignored, Note, Span};
use room::{ControllerId, OutputId, Slot, SlotOwner, SourceId, Who};
use sim::{Instant, OutputView, StepId, What};

use super::{Outcome, Root};
use crate::script::{RowRef, Target};

/// Why an output stands as it does.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Why {
    /// The steps from the effect back to what happened outside, the effect first.
    pub chain: Vec<StepId>,
    /// Where the last of them comes from.
    pub root: Option<Root>,
    /// What happened since at the output and its sources and had no effect on it.
    pub idle: Vec<Idle>,
}

/// Events without effect, of one kind.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Idle {
    /// Who took no notice.
    pub who: Who,
    /// Why.
    pub why: Ignored,
    /// The first of them.
    pub first: StepId,
    /// The last of them.
    pub last: StepId,
    /// How many.
    pub times: usize,
}

/// A timer that runs, and will change an output or one of its sources when it ends.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Next {
    /// When it ends, if nothing restarts or stops it.
    pub due: Instant,
    /// Which.
    pub slot: Slot,
    /// Whose.
    pub owner: SlotOwner,
    /// How long it runs in all.
    pub span: Span,
    /// The step that started it.
    pub started: StepId,
}

impl Outcome {
    /// Why `output` stands as it does at the end of `at`.
    #[must_use]
    pub fn why(&self, output: OutputId, at: Instant) -> Why {
        let Some(effect) = self.last_change(output, at) else {
            return Why {
                chain: Vec::new(),
                root: None,
                idle: self.idle(output, None, at),
            };
        };
        let mut why = self.why_step(effect);
        why.idle = self.idle(output, Some(effect), at);
        why
    }

    /// The steps that led to `step`.
    #[must_use]
    pub fn why_step(&self, step: StepId) -> Why {
        let mut chain = vec![step];
        let mut last = step;
        while let Some(cause) = self.trace.steps[last.0 as usize].cause {
            chain.push(cause);
            last = cause;
        }
        Why {
            chain,
            root: self.roots.get(&last).copied(),
            idle: Vec::new(),
        }
    }

    /// The step that explains the failure of a check: how its output came to stand as it did, or
    /// the last thing that its source did. `None` for checks that hold.
    #[must_use]
    pub fn why_check(&self, check: usize) -> Option<Why> {
        let failure = self.checks[check].failure.as_ref()?;
        match self.script.checks[check].target {
            Target::Output(output) => Some(self.why(output, failure.at)),
            Target::Source(source) => {
                let step = self.last_of(failure.at, |who| who == Who::Source(source));
                step.map(|step| self.why_step(step))
            }
            Target::Controller(controller) => {
                let step = self.last_of(failure.at, |who| who == Who::Controller(controller));
                step.map(|step| self.why_step(step))
            }
            Target::Task(_) | Target::Person(_) => {
                let outputs = (0..).zip(&self.script.plan.outputs);
                let last = outputs
                    .filter_map(|(id, _)| self.last_change(OutputId(id), failure.at))
                    .max();
                last.map(|step| self.why_step(step))
            }
        }
    }

    /// The steps that led to the break of a clause; `None` when it is not broken.
    #[must_use]
    pub fn why_clause(&self, clause: usize) -> Option<Why> {
        self.clauses[clause]
            .broken_at
            .map(|step| self.why_step(step))
    }

    /// The timers that run at the end of `at` and matter to an output: its own, those of its
    /// links and of the sources it is linked to, the first to end first.
    #[must_use]
    pub fn next(&self, output: OutputId, at: Instant) -> Vec<Next> {
        let mut running: BTreeMap<Slot, Next> = BTreeMap::new();
        for (step, id) in self.trace.steps.iter().zip(0..) {
            if step.at > at {
                break;
            }
            match step.what {
                What::Started(slot, span) => {
                    let next = Next {
                        due: step.at.after(span),
                        slot,
                        owner: self.slots.owner(slot),
                        span,
                        started: StepId(id),
                    };
                    running.insert(slot, next);
                }
                What::Stopped(slot) | What::Elapsed(slot) => {
                    running.remove(&slot);
                }
                _ => {}
            }
        }
        let mut next: Vec<Next> = running
            .into_values()
            .filter(|next| self.matters(next.owner, output))
            .collect();
        next.sort_by_key(|next| (next.due, next.slot));
        next
    }

    /// The row of the script that a root comes from; `None` for a calendar.
    #[must_use]
    pub fn row(&self, root: Root) -> Option<&RowRef> {
        match root {
            Root::Row(row) | Root::Person { row, .. } => self.script.rows.get(row),
            Root::Calendar(_) => None,
        }
    }

    /// The last step up to `at` at which the output came to stand otherwise than before.
    fn last_change(&self, output: OutputId, at: Instant) -> Option<StepId> {
        let gist = |view: &OutputView| (view.state, view.light.to, view.emergency);
        let mut before: Option<OutputView> = None;
        let mut last = None;
        for (step, id) in self.trace.steps.iter().zip(0..) {
            if step.at > at {
                break;
            }
            let What::Output(by, view) = step.what else {
                continue;
            };
            if by != output {
                continue;
            }
            if before.is_some_and(|before| gist(&before) != gist(&view)) {
                last = Some(StepId(id));
            }
            before = Some(view);
        }
        last
    }

    fn last_of(&self, at: Instant, by: impl Fn(Who) -> bool) -> Option<StepId> {
        let said = |note| !matches!(note, Note::Ignored(_));
        let steps = self.trace.steps.iter().enumerate().rev();
        let mut found = steps.filter(|(_, step)| {
            step.at <= at && matches!(step.what, What::Note(who, note) if by(who) && said(note))
        });
        let number = u32::try_from(found.next()?.0).ok()?;
        Some(StepId(number))
    }

    /// What had no effect after `since` and up to `at`, at the output and at its sources.
    fn idle(&self, output: OutputId, since: Option<StepId>, at: Instant) -> Vec<Idle> {
        let sources = self.linked(output);
        let mut idle: Vec<Idle> = Vec::new();
        let first = since.map_or(0, |step| step.0 + 1);
        for (step, id) in (self.trace.steps[first as usize..].iter()).zip(first..) {
            if step.at > at {
                break;
            }
            let What::Note(who, Note::Ignored(why)) = step.what else {
                continue;
            };
            let near = match who {
                Who::Output(by) => by == output,
                Who::Source(source) => sources.contains(&source),
                _ => false,
            };
            if !near {
                continue;
            }
            match idle
                .iter_mut()
                .find(|idle| (idle.who, idle.why) == (who, why))
            {
                Some(known) => {
                    known.last = StepId(id);
                    known.times += 1;
                }
                None => idle.push(Idle {
                    who,
                    why,
                    first: StepId(id),
                    last: StepId(id),
                    times: 1,
                }),
            }
        }
        idle
    }

    fn linked(&self, output: OutputId) -> Vec<SourceId> {
        let plan = &self.last_plan;
        let at = &plan.outputs[usize::from(output.0)];
        let controller = &plan.controllers[usize::from(at.controller.0)];
        let links = controller.settings.links.iter();
        let mut sources: Vec<SourceId> = links
            .filter(|link| link.output == at.local)
            .map(|link| controller.heard[usize::from(link.heard)])
            .collect();
        sources.sort_unstable();
        sources.dedup();
        sources
    }

    fn matters(&self, owner: SlotOwner, output: OutputId) -> bool {
        let plan = &self.last_plan;
        let at = &plan.outputs[usize::from(output.0)];
        let of_controller = |id: ControllerId, timer: Timer| {
            if id != at.controller {
                return false;
            }
            let settings = &plan.controllers[usize::from(id.0)].settings;
            let heard_by = |heard: u8| {
                let mut links = settings.links.iter();
                links.any(|link| link.heard == heard && link.output == at.local)
            };
            match timer {
                Timer::Output(local, _) => local == at.local,
                Timer::RunOn(link) => settings.links[usize::from(link)].output == at.local,
                Timer::Silence(heard) => heard_by(heard),
                Timer::Threshold(button) => heard_by(settings.buttons[usize::from(button)].heard),
            }
        };
        match owner {
            SlotOwner::Source(source, _) => self.linked(output).contains(&source),
            SlotOwner::Controller(id, timer) => of_controller(id, timer),
            SlotOwner::Clause(..) => false,
        }
    }
}
