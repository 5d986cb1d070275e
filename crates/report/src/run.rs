//! One run of a scenario as the reports read it.

use std::collections::BTreeMap;

use device::{Illuminance, Level, Note, Span};
use room::{OutputId, Slot, SourceId};
use sim::{Instant, OutputView, Step, StepId, Trace, What};

use crate::clock::Clock;
use crate::verdict::Verdict;
use crate::words::{self, Kind, Names};

/// One run of a scenario: its trace, and what was judged of it.
#[derive(Clone, Debug)]
pub struct Run<'a> {
    /// The names of the room.
    pub names: Names<'a>,
    /// What happened.
    pub trace: &'a Trace,
    /// The clock on the wall.
    pub clock: Clock,
    /// The title of the scenario.
    pub title: String,
    /// The file of the scenario, as the user named it.
    pub file: String,
    /// The values of its parameters in this run, if it has any.
    pub values: Vec<(String, String)>,
    /// When the run ended.
    pub end: Instant,
    /// The rows that put the steps at the roots of all causes into the run.
    pub places: BTreeMap<StepId, Place>,
    /// What people did that sensors noticed: `ana types`.
    pub people: BTreeMap<StepId, String>,
    /// What the rows of the scenario check.
    pub checks: Vec<Check>,
    /// What the sequence of operation says.
    pub clauses: Vec<Clause>,
    /// Where settings stand, by the name of what is set (`desk-lights`, `wall-sensor to air`) and
    /// their key; those that are not here have their defaults. `None`: nobody knows.
    pub settings: Option<Written>,
}

/// A place in a file; lines and columns count from 1.
#[derive(Clone, Debug, Eq, Ord, PartialEq, PartialOrd)]
pub struct Place {
    /// The file, as the user named it.
    pub file: String,
    /// The line.
    pub line: u32,
    /// The column, in characters.
    pub column: u32,
}

impl std::fmt::Display for Place {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}:{}:{}", self.file, self.line, self.column)
    }
}

/// A file, and the values of the parameters of one run of it.
pub(crate) fn label(file: &str, values: &[(String, String)]) -> String {
    let values: Vec<String> = (values.iter())
        .map(|(name, value)| format!("{name} = {value}"))
        .collect();
    if values.is_empty() {
        file.to_owned()
    } else {
        format!("{file} ({})", values.join(", "))
    }
}

/// What one row of a scenario checks.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Check {
    /// Where the row stands.
    pub place: Place,
    /// The point that it is about.
    pub point: String,
    /// What must be so: `is 50 %`.
    pub says: String,
    /// The instant, or where the interval begins.
    pub from: Instant,
    /// Where the interval ends; equal to `from` for an instant.
    pub to: Instant,
    /// Whether it was so.
    pub verdict: Verdict,
    /// When it was found not to be so; for an interval the first such instant.
    pub at: Instant,
    /// What was found instead: `was off`; empty where it held.
    pub found: String,
    /// Whether that is what the scenario wants.
    pub as_expected: bool,
    /// Of a check on a place or a person: the light that it is about.
    pub lit: Option<Lit>,
}

/// The light that a place or a person has.
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub struct Lit {
    /// The outputs that light it, and what each gives there at full, where that is known.
    pub outputs: Vec<(OutputId, Option<Illuminance>)>,
    /// The share of the light outside that falls there, in parts of 10 000.
    pub daylight: u32,
}

/// A clause of the sequence of operation, and how it fared.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Clause {
    /// Its id.
    pub id: String,
    /// Its sentence, as the submittal prints it.
    pub says: String,
    /// Where it stands.
    pub place: Place,
    /// Its formal half: each key with its text and where that stands.
    pub halves: Vec<Half>,
    /// How it fared.
    pub verdict: Verdict,
    /// Whether that is what the scenario wants.
    pub as_expected: bool,
    /// Where the links of the room alone break it: the way on which they do, a line for each
    /// step with its place. Empty where a run judges it, or the links keep it.
    pub links: Vec<String>,
}

/// One key of the formal half of a clause.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Half {
    /// The key: `then`.
    pub key: String,
    /// Its text: `desk-lights is off`.
    pub text: String,
    /// Where its text stands.
    pub place: Place,
}

/// Where settings stand, and from when on each place counts: a room's file from the start, a row
/// from its moment.
pub type Written = BTreeMap<(String, String), Vec<(Instant, Place)>>;

impl<'a> Run<'a> {
    /// What tells this run from the others of its file: the file, and the values of parameters.
    #[must_use]
    pub fn label(&self) -> String {
        label(&self.file, &self.values)
    }

    /// Where the setting stands by which a timer runs for `span` from `from` on, in brackets after
    /// a space: ` (room.toml:26)`, or that it is the default; empty where a timer has no setting,
    /// or nobody knows.
    #[must_use]
    pub fn setting(&self, slot: Slot, from: Instant, span: Span) -> String {
        let found = words::setting::of_timer(&self.names, slot, span);
        found.map_or_else(String::new, |setting| self.written(&setting, from))
    }

    /// Where the level of a link stands that an output takes at `at` on hearing this source.
    #[must_use]
    pub fn level_setting(
        &self,
        source: SourceId,
        output: OutputId,
        note: Note,
        at: Instant,
    ) -> String {
        if self.names.kind(output) != Kind::Light {
            return String::new();
        }
        let found = words::setting::of_level(&self.names, source, output, note);
        found.map_or_else(String::new, |setting| self.written(&setting, at))
    }

    /// Where a setting stands that holds at `at`.
    fn written(&self, (name, key): &words::setting::Setting, at: Instant) -> String {
        let Some(known) = &self.settings else {
            return String::new();
        };
        let places = known.get(&(name.clone(), (*key).to_owned()));
        let place = places.and_then(|all| all.iter().rev().find(|(since, _)| *since <= at));
        match place {
            Some((_, place)) => {
                let file = place.file.rsplit(['/', '\\']).next().unwrap_or("");
                format!(" ({file}:{})", place.line)
            }
            None => " (default)".to_owned(),
        }
    }

    /// The step of this number; `None` past the end.
    #[must_use]
    pub fn step(&self, id: StepId) -> Option<&'a Step> {
        self.trace.steps.get(id.index())
    }

    /// Every step with its number.
    pub fn steps(&self) -> impl Iterator<Item = (StepId, &'a Step)> + use<'a> {
        self.steps_from(StepId::FIRST)
    }

    /// The steps from this one on, with their numbers.
    pub fn steps_from(&self, first: StepId) -> impl Iterator<Item = (StepId, &'a Step)> + use<'a> {
        let later = self.trace.steps.get(first.index()..).unwrap_or_default();
        (first.index()..).map(StepId::at).zip(later)
    }

    /// How an output stood at the end of the instant `at`, and the step that says so.
    #[must_use]
    pub fn view(&self, output: OutputId, at: Instant) -> Option<(StepId, OutputView)> {
        let earlier = self.trace.steps.partition_point(|step| step.at <= at);
        let steps = self.trace.steps[..earlier].iter().enumerate().rev();
        steps.into_iter().find_map(|(index, step)| match step.what {
            What::Output(id, ref view) if id == output => Some((StepId::at(index), **view)),
            _ => None,
        })
    }

    /// The light of an output at the end of the instant `at`.
    #[must_use]
    pub fn light(&self, output: OutputId, at: Instant) -> Level {
        let found = self.view(output, at);
        found.map_or(Level::OFF, |(step, view)| {
            let seen = self.step(step).map_or(at, |step| step.at);
            light_after(&view, at.since(seen))
        })
    }

    /// The output of this name.
    #[must_use]
    pub fn output(&self, name: &str) -> Option<OutputId> {
        let found = self
            .names
            .plan
            .outputs
            .iter()
            .position(|output| output.name == name);
        found
            .and_then(|index| u16::try_from(index).ok())
            .map(OutputId)
    }

    /// The source of this name.
    #[must_use]
    pub fn source(&self, name: &str) -> Option<SourceId> {
        let found = self
            .names
            .plan
            .sources
            .iter()
            .position(|source| source.name == name);
        found
            .and_then(|index| u16::try_from(index).ok())
            .map(SourceId)
    }

    /// The sources that are linked to an output.
    #[must_use]
    pub fn linked(&self, output: OutputId) -> Vec<SourceId> {
        let plan = self.names.plan;
        let Some(named) = plan.outputs.get(usize::from(output.0)) else {
            return Vec::new();
        };
        let Some(controller) = plan.controllers.get(usize::from(named.controller.0)) else {
            return Vec::new();
        };
        let links = controller.settings.links.iter();
        let mut sources: Vec<SourceId> = links
            .filter(|link| link.output == named.local)
            .filter_map(|link| controller.heard.get(usize::from(link.heard)).copied())
            .collect();
        sources.sort_unstable();
        sources.dedup();
        sources
    }
}

/// The light of an output `span` after a view was recorded.
#[must_use]
pub fn light_after(view: &OutputView, span: Span) -> Level {
    let left = view.light.within.minus(span);
    view.light
        .now
        .towards(view.light.to, left, view.light.within)
}
