//! A lesson as it is given: which step is told, what was answered, and where the clock waits.
//!
//! Invariant: while somebody reads or thinks the clock stands, and what is right is not told
//! before the room has shown it.

use scenario::script::{Lesson, Script, Step};
use serde::Serialize;
use sim::Instant;

use crate::Refusal;

/// A lesson that is being given.
#[derive(Clone, Debug)]
pub(crate) struct Course {
    lesson: Lesson,
    title: String,
    /// The file of its scenario.
    file: String,
    /// The step that is told, or comes next.
    at: usize,
    phase: Phase,
    /// When the scenario ends.
    end: Instant,
}

/// Where a lesson is in its step.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
enum Phase {
    /// The room runs up to the moment of the step.
    Coming,
    /// It is told, and waits to be read.
    Told,
    /// It asks, and waits for an answer.
    Asked,
    /// The room answers.
    Answering(usize),
    /// The room has answered.
    Answered(usize),
}

/// A lesson as the page shows it.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct Shown {
    file: String,
    title: String,
    goal: String,
    /// The number of the step, from 1.
    step: usize,
    of: usize,
    phase: &'static str,
    says: Option<String>,
    asks: Option<String>,
    choices: Option<Vec<String>>,
    chosen: Option<usize>,
    /// Whether that was right; not told before the room has answered.
    right: Option<bool>,
    /// The right choice, then.
    answer: Option<usize>,
    because: Option<String>,
}

impl Course {
    /// The lesson of a scenario, from its beginning.
    pub(crate) fn new(script: &Script, file: &str) -> Result<Self, Refusal> {
        let lesson = script.lesson.clone().ok_or_else(|| {
            let hint = "choose one of the lessons of the room";
            Refusal::new(format!("`{file}` is no lesson"), hint)
        })?;
        Ok(Self {
            lesson,
            title: script.title.clone(),
            file: file.to_owned(),
            at: 0,
            phase: Phase::Coming,
            end: script.end,
        })
    }

    /// The moment at which the clock has to wait; `None`: it waits already.
    pub(crate) fn hold(&self) -> Option<Instant> {
        match self.phase {
            Phase::Coming => Some(self.step().at),
            Phase::Answering(_) => Some(self.next().map_or(self.end, |next| next.at)),
            Phase::Told | Phase::Asked | Phase::Answered(_) => None,
        }
    }

    /// The room has come to `now`: whether the lesson has something to say there.
    pub(crate) fn arrive(&mut self, now: Instant) -> bool {
        if self.hold().is_none_or(|hold| now < hold) {
            return false;
        }
        self.phase = match self.phase {
            Phase::Coming if self.step().question.is_some() => Phase::Asked,
            Phase::Coming => Phase::Told,
            Phase::Answering(chosen) => Phase::Answered(chosen),
            phase => phase,
        };
        true
    }

    /// Somebody answers the question.
    pub(crate) fn choose(&mut self, choice: usize) -> Result<(), Refusal> {
        let question = self.step().question.as_ref();
        match (self.phase, question) {
            (Phase::Asked, Some(question)) if choice < question.choices.len() => {
                self.phase = Phase::Answering(choice);
                Ok(())
            }
            (Phase::Asked, Some(question)) => {
                let last = question.choices.len() - 1;
                Err(Refusal::new(
                    "there is no such choice",
                    format!("choose 0 to {last}"),
                ))
            }
            _ => Err(Refusal::new("nothing is asked at the moment", "read on")),
        }
    }

    /// Somebody has read on; `false`: the lesson is over.
    pub(crate) fn read_on(&mut self) -> Result<bool, Refusal> {
        match self.phase {
            Phase::Asked => Err(Refusal::new(
                "a question is open",
                "choose what you think; nothing is lost by a wrong answer",
            )),
            Phase::Coming | Phase::Answering(_) => Err(Refusal::new(
                "the room has not come that far",
                "wait a moment",
            )),
            Phase::Told | Phase::Answered(_) => {
                self.at += 1;
                self.phase = Phase::Coming;
                Ok(self.at < self.lesson.steps.len())
            }
        }
    }

    /// The lesson as the page shows it.
    pub(crate) fn shown(&self) -> Shown {
        let step = self.step();
        let open = self.phase != Phase::Coming;
        let question = step.question.as_ref().filter(|_| open);
        let (chosen, answered) = match self.phase {
            Phase::Answering(chosen) => (Some(chosen), false),
            Phase::Answered(chosen) => (Some(chosen), true),
            _ => (None, false),
        };
        let known = question.filter(|_| answered);
        Shown {
            file: self.file.clone(),
            title: self.title.clone(),
            goal: self.lesson.goal.clone(),
            step: self.at + 1,
            of: self.lesson.steps.len(),
            phase: match self.phase {
                Phase::Coming => "coming",
                Phase::Told => "told",
                Phase::Asked => "asked",
                Phase::Answering(_) => "answering",
                Phase::Answered(_) => "answered",
            },
            says: open.then(|| step.says.clone()),
            asks: question.map(|it| it.asks.clone()),
            choices: question.map(|it| it.choices.clone()),
            chosen,
            right: known.map(|it| chosen == Some(it.right)),
            answer: known.map(|it| it.right),
            because: known.map(|it| it.because.clone()),
        }
    }

    fn step(&self) -> &Step {
        let last = self.lesson.steps.len() - 1;
        &self.lesson.steps[self.at.min(last)]
    }

    fn next(&self) -> Option<&Step> {
        self.lesson.steps.get(self.at + 1)
    }
}
