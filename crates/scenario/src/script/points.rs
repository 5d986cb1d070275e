//! What the second column of a row names.

use std::collections::BTreeSet;

use device::signal;
use room::{ControllerId, OutputId, PlanSource, SourceId, SourceSettings};

use super::expand::INCLUDE;
use super::phrase::PointKind;
use crate::diagnostic::{nearest, one_of};
use crate::room_file::RoomFile;
use crate::words::WordError;

/// What a row names.
#[derive(Clone, Debug, Eq, Ord, PartialEq, PartialOrd)]
pub(crate) enum Point {
    /// A source; of a wall unit perhaps with the beginning of a button's name.
    Source(SourceId, String),
    /// An output.
    Output(OutputId),
    /// A controller.
    Controller(ControllerId),
    /// A task, by its place in the plan.
    Task(usize),
    /// A person, by its place among the people of the run.
    Person(usize),
    /// The room itself.
    Room,
    /// The way from a source to a listener, and the output that was named if one was.
    Link(SourceId, ControllerId, Option<OutputId>),
}

/// Everything that rows can name.
#[derive(Debug)]
pub(crate) struct Points<'a> {
    /// The room.
    pub(crate) room: &'a RoomFile,
    /// The people of the run.
    pub(crate) people: &'a [String],
    /// Whether rows may include scripts, too.
    pub(crate) includes: bool,
}

impl Points<'_> {
    /// What `text` names: one thing, or all of a group.
    pub(crate) fn find(&self, text: &str) -> Result<Vec<Point>, WordError> {
        let trimmed = text.trim();
        if trimmed == "room" {
            return Ok(vec![Point::Room]);
        }
        if trimmed == "all outputs" {
            let outputs = (0..).zip(&self.room.plan.outputs);
            return Ok(outputs.map(|(id, _)| Point::Output(OutputId(id))).collect());
        }
        if let Some((from, to)) = trimmed.split_once(" to ") {
            return self.link(text, from, to);
        }
        if let Some(point) = self.named(trimmed) {
            return Ok(vec![point]);
        }
        if let Some(outputs) = self.room.groups.get(trimmed) {
            return Ok(outputs.iter().copied().map(Point::Output).collect());
        }
        if let Some(person) = self.people.iter().position(|name| name == trimmed) {
            return Ok(vec![Point::Person(person)]);
        }
        if let Some((unit, button)) = trimmed.rsplit_once('/')
            && let Some(Point::Source(source, _)) = self.named(unit)
            && self.kind(&Point::Source(source, String::new())) == PointKind::Switch
        {
            return Ok(vec![Point::Source(source, button.to_owned())]);
        }
        Err(self.unknown(text, trimmed))
    }

    /// The kind of a point, which decides what can be said of it.
    pub(crate) fn kind(&self, point: &Point) -> PointKind {
        match point {
            Point::Source(id, _) => source_kind(&self.room.plan.sources[usize::from(id.0)]),
            Point::Output(_) => PointKind::Output,
            Point::Controller(_) => PointKind::Controller,
            Point::Task(_) => PointKind::Task,
            Point::Person(_) => PointKind::Person,
            Point::Room => PointKind::Room,
            Point::Link(..) => PointKind::Link,
        }
    }

    /// The source of this name.
    pub(crate) fn source(&self, text: &str) -> Result<SourceId, WordError> {
        match self.named(text) {
            Some(Point::Source(id, _)) => Ok(id),
            _ => {
                let sources = self.room.plan.sources.iter();
                let hint = match nearest(text, sources.map(|source| source.name.as_str())) {
                    Some(near) => format!("did you mean `{near}`?"),
                    None => "name a source of the room".to_owned(),
                };
                Err(WordError::whole(
                    text,
                    format!("there is no source `{text}`"),
                    hint,
                ))
            }
        }
    }

    fn link(&self, text: &str, from: &str, to: &str) -> Result<Vec<Point>, WordError> {
        let at = text.find(" to ").unwrap_or(0);
        let from_error = |error: WordError| {
            let start = text.len() - text.trim_start().len();
            WordError::new(start..at, error.message, error.hint)
        };
        let unit = from.split_once('/').map_or(from, |(unit, _)| unit);
        let source = self
            .source(from)
            .or_else(|error| self.source(unit).map_err(|_| error))
            .map_err(from_error)?;
        let (listener, output) = match self.named(to) {
            Some(Point::Output(output)) => {
                let plan = &self.room.plan.outputs[usize::from(output.0)];
                (plan.controller, Some(output))
            }
            Some(Point::Controller(id)) => (id, None),
            _ => {
                let range = at + " to ".len()..text.trim_end().len();
                return Err(WordError::new(
                    range,
                    format!("there is no output or controller `{to}`"),
                    "write `wall-sensor to desk-lights`",
                ));
            }
        };
        if !self.is_linked(source, listener, output) {
            return Err(WordError::whole(
                text,
                format!("`{to}` is not linked to `{from}`, so nothing travels this way"),
                "name a link of room.toml",
            ));
        }
        Ok(vec![Point::Link(source, listener, output)])
    }

    /// Whether a link ties a source to an output, or to any output of a controller.
    fn is_linked(
        &self,
        source: SourceId,
        listener: ControllerId,
        output: Option<OutputId>,
    ) -> bool {
        let plan = &self.room.plan;
        let controller = &plan.controllers[usize::from(listener.0)];
        let local = output.map(|output| plan.outputs[usize::from(output.0)].local);
        let mut links = controller.settings.links.iter();
        links.any(|link| {
            controller.heard[usize::from(link.heard)] == source
                && local.is_none_or(|local| local == link.output)
        })
    }

    fn named(&self, name: &str) -> Option<Point> {
        let plan = &self.room.plan;
        let id = |at: usize| u16::try_from(at).expect("a plan numbers its parts in 16 bits");
        if let Ok(at) = plan
            .sources
            .binary_search_by(|it| it.name.as_str().cmp(name))
        {
            return Some(Point::Source(SourceId(id(at)), String::new()));
        }
        if let Ok(at) = plan
            .outputs
            .binary_search_by(|it| it.name.as_str().cmp(name))
        {
            return Some(Point::Output(OutputId(id(at))));
        }
        if let Ok(at) = plan
            .controllers
            .binary_search_by(|it| it.name.as_str().cmp(name))
        {
            return Some(Point::Controller(ControllerId(id(at))));
        }
        let task = plan.tasks.binary_search_by(|it| it.name.as_str().cmp(name));
        task.ok().map(Point::Task)
    }

    fn unknown(&self, text: &str, said: &str) -> WordError {
        let plan = &self.room.plan;
        let names: BTreeSet<&str> = (plan.sources.iter().map(|it| it.name.as_str()))
            .chain(plan.outputs.iter().map(|it| it.name.as_str()))
            .chain(plan.controllers.iter().map(|it| it.name.as_str()))
            .chain(plan.tasks.iter().map(|it| it.name.as_str()))
            .chain(self.room.groups.keys().map(String::as_str))
            .chain(self.people.iter().map(String::as_str))
            .chain(["room", "all outputs"])
            .chain(self.includes.then_some(INCLUDE))
            .collect();
        let hint = match nearest(said, names.iter().copied()) {
            Some(near) => format!("did you mean `{near}`?"),
            None if names.len() > 16 => {
                "name a source, an output, a task or a person of the room, or `room`".to_owned()
            }
            None => format!("known are {}", one_of(names.iter().copied())),
        };
        let start = text.len() - text.trim_start().len();
        let range = start..start + said.len();
        WordError::new(range, format!("nothing here is called `{said}`"), hint)
    }
}

/// The kind of a source, as rows tell them apart.
pub(crate) fn source_kind(source: &PlanSource) -> PointKind {
    match &source.settings {
        SourceSettings::Occupancy(_) => PointKind::Occupancy,
        SourceSettings::Switch(_) => PointKind::Switch,
        SourceSettings::Card(_) => PointKind::Card,
        SourceSettings::Daylight(_) => PointKind::Daylight,
        SourceSettings::Clock(_) => PointKind::Clock,
        SourceSettings::Signal(settings) => match settings.kind {
            signal::Kind::NormalPower => PointKind::NormalPower,
            signal::Kind::FireAlarm => PointKind::FireAlarm,
            signal::Kind::DemandResponse => PointKind::DemandResponse,
        },
    }
}

/// The number of the button that a row names, joined from its point and what it says.
pub(crate) fn button(source: &PlanSource, part: &str, said: &str) -> Result<u8, WordError> {
    let wanted = [part, said]
        .into_iter()
        .filter(|words| !words.is_empty())
        .collect::<Vec<_>>()
        .join(" ");
    let names: Vec<&str> = source.buttons.iter().map(String::as_str).collect();
    let fits = |name: &&str| {
        *name == wanted
            || name
                .strip_suffix(" scene")
                .is_some_and(|bare| bare == wanted)
            || wanted
                .strip_suffix(" scene")
                .is_some_and(|bare| bare == *name)
    };
    let found = match names.as_slice() {
        [_] if wanted.is_empty() => Some(0),
        names => names.iter().position(fits),
    };
    if let Some(number) = found.and_then(|at| u8::try_from(at).ok()) {
        return Ok(number);
    }
    let unit = &source.name;
    let message = if wanted.is_empty() {
        format!("which button of `{unit}` is missing")
    } else {
        format!("`{unit}` has no button `{wanted}`")
    };
    let hint = match nearest(&wanted, names.iter().copied()) {
        Some(near) => format!("did you mean `{near}`?"),
        None => format!("its buttons are {}", crate::diagnostic::all_of(names)),
    };
    Err(WordError::whole(said, message, hint))
}
