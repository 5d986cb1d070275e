//! Lessons: what a scenario tells somebody who learns, and what it asks.
//!
//! A lesson changes nothing in the run. Invariant: steps stand in the order of their instants,
//! inside the run; a question has at least two different choices, its right one is among them,
//! and the room has time left to answer it.

use sim::Instant;

use super::civil::Civil;
use super::file::ScenarioFile;
use super::lower::Scenario;
use super::reader::Reader;
use super::time::{self, Day, Moment};
use crate::diagnostic::{any_error, nearest, one_of};
use crate::keys::{Located, Section};
use crate::words::WordError;
use crate::{Diagnostic, Place};

/// What makes a scenario a lesson.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Lesson {
    /// Its place among the lessons of the site, from 1.
    pub order: u16,
    /// What somebody can do after it.
    pub goal: String,
    /// What is told and asked, in order of time.
    pub steps: Vec<Step>,
    /// Where `order` stands, for messages.
    pub place: Place,
}

impl Lesson {
    /// How many questions it asks.
    #[must_use]
    pub fn questions(&self) -> usize {
        let asking = self.steps.iter().filter(|step| step.question.is_some());
        asking.count()
    }
}

/// Something that is told or asked at one moment, when everything of this instant has happened.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Step {
    /// When.
    pub at: Instant,
    /// What is told; empty when the step only asks.
    pub says: String,
    /// What is asked, after what is told.
    pub question: Option<Question>,
    /// Where it stands.
    pub place: Place,
}

/// A question with choices.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Question {
    /// What is asked.
    pub asks: String,
    /// The choices, in the order in which they are shown.
    pub choices: Vec<String>,
    /// The right one, by its place among the choices.
    pub right: usize,
    /// Why it is right, for when the room has answered.
    pub because: String,
}

/// The lesson of a scenario; `None` when it is no lesson, or when something is wrong with it.
pub(super) fn lesson(
    scenario: &Scenario<'_>,
    civil: &Civil,
    end: Instant,
    diagnostics: &mut Vec<Diagnostic>,
) -> Option<Lesson> {
    let section = &scenario.read.section;
    let Some(lesson) = section.table("lesson") else {
        without_lesson(section, diagnostics);
        return None;
    };
    let mut found = Vec::new();
    if let [(name, _), ..] = section.map("with") {
        found.push(Diagnostic::error(
            "lesson",
            name.place,
            "a lesson is one run, and `with` makes several",
            "take [with] out, or make a lesson of its own for each value",
        ));
    }
    if section.many("steps").is_empty() && !section.refused.contains(&"steps") {
        found.push(Diagnostic::error(
            "lesson",
            lesson.place,
            "the lesson has no steps",
            "add [[steps]] with `at` and `says`, or with `asks`, `choices`, `right` and `because`",
        ));
    }
    let mut telling = Telling {
        scenario,
        civil,
        end,
        above: Instant::START,
        diagnostics: &mut found,
    };
    let steps: Vec<Option<Step>> = section
        .many("steps")
        .iter()
        .map(|step| telling.step(step))
        .collect();
    let usable = !any_error(&found);
    diagnostics.append(&mut found);
    let order = u16::try_from(lesson.count("order")?).ok()?;
    let goal = lesson.text("goal")?.value;
    usable.then_some(Lesson {
        order,
        goal,
        steps: steps.into_iter().collect::<Option<_>>()?,
        place: lesson.place_of("order"),
    })
}

/// Steps without a lesson would never be shown.
fn without_lesson(section: &Section, diagnostics: &mut Vec<Diagnostic>) {
    let steps = section.many("steps");
    if let Some(first) = steps.first()
        && !section.refused.contains(&"lesson")
    {
        diagnostics.push(Diagnostic::error(
            "lesson",
            first.place,
            "steps belong to a lesson, and this file has none",
            "add [lesson] with `order = 1` and `goal = \"…\"` above the steps",
        ));
    }
}

/// A file that is only included is never shown by itself, so it can be no lesson.
pub(super) fn included(file: &ScenarioFile) -> Option<Diagnostic> {
    let lesson = file.section.given("lesson")?;
    let never_run = file.section.has("parameters") && !file.section.has("start");
    never_run.then(|| {
        Diagnostic::error(
            "lesson",
            lesson.key,
            "a script that is only included cannot be a lesson",
            "move [lesson] and [[steps]] to the scenario that includes it",
        )
    })
}

/// Two lessons of one place in the order, as in a room that was copied: nobody could say which
/// comes first. Their scenarios run all the same.
pub(crate) fn same_place(first: (&Lesson, &str), second: (&Lesson, &str)) -> Diagnostic {
    let ((first, title), (second, _)) = (first, second);
    Diagnostic::warning(
        "lesson",
        second.place,
        format!("two lessons have order {}", second.order),
        "give one of them another number: lessons are shown in this order",
    )
    .related(first.place, format!("\u{201c}{title}\u{201d} has it too"))
}

/// Reads steps one after the other.
struct Telling<'a> {
    scenario: &'a Scenario<'a>,
    civil: &'a Civil,
    end: Instant,
    /// When the step above is.
    above: Instant,
    diagnostics: &'a mut Vec<Diagnostic>,
}

impl Telling<'_> {
    fn step(&mut self, step: &Section) -> Option<Step> {
        let at = self.at(step);
        let says = step.text("says");
        let asks = step.text("asks");
        for text in says.iter().chain(&asks) {
            self.not_blank(text, "this is empty");
        }
        if says.is_none() && asks.is_none() && step.refused.is_empty() {
            let hint = "write says = \"…\", or asks = \"…\" with choices";
            self.push(step.place, "the step says and asks nothing", hint);
        }
        let question = match &asks {
            Some(asks) => Some(self.question(step, asks, at)?),
            None => {
                self.without_question(step);
                None
            }
        };
        Some(Step {
            at: at?,
            says: says.map(|says| says.value).unwrap_or_default(),
            question,
            place: step.place,
        })
    }

    /// When a step is: inside the run, and not before the step above.
    fn at(&mut self, step: &Section) -> Option<Instant> {
        let text = step.text("at")?;
        let at = match self.instant(&text.value) {
            Ok(at) => at,
            Err(error) => {
                let diagnostic = self.scenario.word("time", &text, error);
                self.diagnostics.push(diagnostic);
                return None;
            }
        };
        if at > self.end {
            let end = self.civil.say(self.end);
            self.push(
                text.place,
                format!("this moment is after the run, which ends at {end}"),
                "tell it earlier, or give the scenario a later `end`",
            );
            return None;
        }
        if at < self.above {
            let above = self.civil.say(self.above);
            self.push(
                text.place,
                format!("this moment is before that of the step above, {above}"),
                "steps stand in the order in which they are told",
            );
            return None;
        }
        self.above = at;
        Some(at)
    }

    fn instant(&self, text: &str) -> Result<Instant, WordError> {
        let mut reader = Reader::new(text);
        let moment = time::moment(&mut reader, Day::Same)?;
        let whole = 0..text.len();
        if !reader.is_done() {
            let left = reader.rest_range();
            let message = format!("`{}` does not belong into one moment", &text[left.clone()]);
            return Err(WordError::new(left, message, MOMENT));
        }
        match moment {
            Moment::Start => Ok(Instant::START),
            Moment::End => Ok(self.end),
            Moment::Later(span) => Ok(self.above.after(span)),
            Moment::Clock { day, time, which } => self
                .civil
                .clock(day, time, which)
                .map_err(|error| WordError::new(whole, error.to_string(), MOMENT)),
        }
    }

    fn question(
        &mut self,
        step: &Section,
        asks: &Located<String>,
        at: Option<Instant>,
    ) -> Option<Question> {
        if at.is_some_and(|at| at >= self.end) {
            self.push(
                step.place_of("at"),
                "the run ends at this moment, so the room cannot answer",
                "ask earlier, or give the scenario a later `end`",
            );
        }
        let choices = step.texts("choices");
        for choice in &choices {
            self.not_blank(choice, "this choice is empty");
        }
        self.differ(&choices);
        let right = step.text("right");
        let because = step.text("because");
        if let Some(because) = &because {
            self.not_blank(because, "this is empty");
        }
        for key in ["choices", "right", "because"] {
            if !step.has(key) && !step.refused.contains(&key) {
                self.push(
                    asks.place,
                    format!("a question needs `{key}`"),
                    match key {
                        "choices" => "add choices = [\"They go on\", \"They stay off\"]",
                        "right" => "add right = \"…\", with the words of the right choice",
                        _ => "add because = \"…\": why it is so, told when the room has answered",
                    },
                );
            }
        }
        if choices.len() == 1 {
            let hint = "add at least one more";
            self.push(step.place_of("choices"), "there is only one choice", hint);
        }
        let right = self.right(&choices, &right?)?;
        Some(Question {
            asks: asks.value.clone(),
            choices: choices.into_iter().map(|choice| choice.value).collect(),
            right,
            because: because?.value,
        })
    }

    /// Where the right choice stands among them.
    fn right(&mut self, choices: &[Located<String>], right: &Located<String>) -> Option<usize> {
        let wanted = right.value.trim();
        let at = choices
            .iter()
            .position(|choice| choice.value.trim() == wanted);
        if at.is_none() && !choices.is_empty() {
            let texts = || choices.iter().map(|choice| choice.value.as_str());
            let quoted: Vec<String> = texts().map(|text| format!("\"{text}\"")).collect();
            let hint = match nearest(wanted, texts()) {
                Some(near) => format!("did you mean \"{near}\"?"),
                None => format!(
                    "write one of the choices: {}",
                    one_of(quoted.iter().map(String::as_str))
                ),
            };
            let message = format!("\"{wanted}\" is none of the choices");
            self.push(right.place, message, hint);
        }
        at
    }

    fn differ(&mut self, choices: &[Located<String>]) {
        for (at, choice) in choices.iter().enumerate() {
            let same = |other: &Located<String>| other.value.trim() == choice.value.trim();
            if choices[..at].iter().any(same) {
                let hint = "say something else, or take it out";
                self.push(choice.place, "this choice stands there twice", hint);
            }
        }
    }

    fn without_question(&mut self, step: &Section) {
        if step.refused.contains(&"asks") {
            return;
        }
        let keys = ["choices", "right", "because"];
        if let Some(key) = keys.into_iter().find(|key| step.has(key)) {
            self.push(
                step.given(key).map_or(step.place, |entry| entry.key),
                format!("`{key}` belongs to a question, and this step asks none"),
                "add asks = \"What will the lights do now?\"",
            );
        }
    }

    fn not_blank(&mut self, text: &Located<String>, message: &str) {
        if text.value.trim().is_empty() {
            self.push(text.place, message, "write a sentence, or take the key out");
        }
    }

    fn push(&mut self, place: Place, message: impl Into<String>, hint: impl Into<String>) {
        self.diagnostics
            .push(Diagnostic::error("lesson", place, message, hint));
    }
}

const MOMENT: &str = "write one moment, such as at = \"08:15\", \"+5 s\", \"day 2 06:00\", \"start\"; \
                      `+` counts from the step above";

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Sources;
    use crate::script::load;
    use crate::script::tests::room;

    const TOLD: &str = r#"
title = "Half a light"
start = "2026-03-02 08:00"
rows = [
  ["08:01", "wall-sensor", "motion"],
  ["+1 s",  "desk-lights", "is 50 %"],
  ["08:16", "desk-lights", "is off"],
]

[lesson]
order = 4
goal  = "Know what comes on by itself."

[[steps]]
at   = "start"
says = "The room is empty."

[[steps]]
at      = "08:01"
says    = "Somebody comes in."
asks    = "What will the lights do?"
choices = ["Stay off", "Go on to half"]
right   = "Go on to half"
because = "The link is partial-on."

[[steps]]
at   = "+1 s"
says = "Half it is."
"#;

    fn told() -> Lesson {
        let mut sources = Sources::new();
        let room = room(&mut sources);
        let file = sources.add("scenario.toml", TOLD);
        let mut loaded = load(&mut sources, file, &room);
        let script = loaded.scripts.pop().expect("the lesson is read");
        script.lesson.expect("it is a lesson")
    }

    #[test]
    fn a_lesson_is_read_with_its_moments_and_the_place_of_the_right_choice() {
        let lesson = told();
        assert_eq!((lesson.order, lesson.questions()), (4, 1));
        let moments: Vec<u64> = lesson.steps.iter().map(|step| step.at.as_ms()).collect();
        assert_eq!(moments, [0, 60_000, 61_000]);
        let asked = lesson.steps[1].question.as_ref().expect("the second asks");
        assert_eq!(asked.right, 1);
        assert_eq!(asked.choices[asked.right], "Go on to half");
        assert_eq!(lesson.steps[2].says, "Half it is.");
    }

    #[test]
    fn a_script_that_is_only_included_cannot_be_a_lesson() {
        let text = "parameters = []\nrows = []\n[lesson]\norder = 1\ngoal = \"g\"\n";
        let mut sources = Sources::new();
        let file = sources.add("visit.toml", text);
        let read = super::super::file::read(&sources, file, &mut Vec::new()).expect("it reads");
        let found = included(&read).expect("it is refused");
        assert_eq!(sources.position(found.place), "visit.toml:3:2");
    }
}
