//! The rows of a session, read as a scenario: what has happened and what is still to come of it.
//!
//! Invariant: the acts up to a moment depend on the rows up to that moment alone, so rows may be
//! added at the end and taken away from it while the room runs.

use std::fmt::Write;
use std::sync::Arc;

use device::Span;
use jiff::civil::DateTime;
use scenario::run::Play;
use scenario::script::civil::{Civil, CivilError};
use scenario::script::{Act, Script, load};
use scenario::written::{date_and_time, moment, quoted};
use scenario::{Severity, Sources};
use serde::Serialize;
use sim::Instant;

use crate::{Refusal, Stage};

/// Something that was done, at one moment.
#[derive(Clone, Debug, Eq, PartialEq, Serialize)]
pub struct Row {
    /// When.
    #[serde(serialize_with = "as_ms")]
    pub at: Instant,
    /// Whether it runs after the timers of its instant.
    pub after: bool,
    /// At which point.
    pub point: String,
    /// What, in the words of a scenario.
    pub says: String,
    /// How it goes on from there, if it does.
    #[serde(skip)]
    pub again: Option<Again>,
}

/// How something goes on that has begun: again and again, until it ends.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Again {
    /// How far apart.
    pub every: Span,
    /// Until when: it happens at that moment still. [`Instant::NEVER`]: its end is not known.
    pub until: Instant,
}

fn as_ms<S: serde::Serializer>(at: &Instant, to: S) -> Result<S::Ok, S::Error> {
    to.serialize_u64(at.as_ms())
}

/// What a session begins with.
#[derive(Clone, Debug)]
pub(crate) struct Head {
    /// The title of its scenario.
    pub(crate) title: String,
    /// What the clock on the wall shows at the start.
    pub(crate) start: DateTime,
    /// Tables that its scenario brings along: people, and what sensors notice of them.
    pub(crate) tables: String,
}

/// The rows, read.
#[derive(Clone, Debug)]
pub(crate) struct Score {
    /// The files, with that of the rows.
    pub(crate) sources: Sources,
    /// What happens, act by act.
    pub(crate) play: Play,
    /// Up to which moment that is known.
    pub(crate) horizon: Instant,
}

impl Score {
    /// Reads rows as a scenario of the room, up to a horizon.
    pub(crate) fn new(
        stage: &Stage,
        head: &Head,
        rows: &[Row],
        horizon: Instant,
        seed: u64,
    ) -> Result<Self, Refusal> {
        let civil = stage.civil(head.start)?;
        let text = text(head, rows, Some(horizon), &civil)?;
        let mut sources = Sources::clone(&stage.sources);
        let file = sources.add(stage.session_file(), text);
        let loaded = load(&mut sources, file, &stage.room);
        let errors = |it: &&scenario::Diagnostic| it.severity == Severity::Error;
        // What was added last is what is wrong; everything before it has been read before.
        if let Some(wrong) = loaded.diagnostics.iter().rfind(errors) {
            return Err(Refusal::from(wrong));
        }
        let script = loaded.scripts.into_iter().next();
        let script = script.ok_or_else(|| Refusal::new("the rows make no scenario", ""))?;
        Ok(Self {
            play: Play::new(&Arc::new(script), seed),
            sources,
            horizon,
        })
    }

    /// The rows as a scenario, with everything that follows from them.
    pub(crate) fn script(&self) -> &Arc<Script> {
        self.play.script()
    }

    /// What happens, in order of time.
    pub(crate) fn acts(&self) -> &[Act] {
        self.play.acts()
    }

    /// How many acts there are through the end of an instant.
    pub(crate) fn acts_through(&self, at: Instant) -> usize {
        self.acts().partition_point(|act| act.at <= at)
    }
}

impl Row {
    /// The first column of the row in a scenario file that ends at `end`.
    pub(crate) fn time(&self, end: Option<Instant>, civil: &Civil) -> Result<String, CivilError> {
        let mut time = match self.at {
            Instant::START if !self.after => "start".to_owned(),
            at => moment(civil, at)?,
        };
        if let Some(again) = self.again {
            let until = moment(civil, again.until.min(end.unwrap_or(self.at)))?;
            let every = again.every.as_ms() / 1_000;
            write!(time, " to {until} every {every} s").expect("a string takes everything");
        }
        if self.after {
            time.push_str(" after");
        }
        Ok(time)
    }
}

/// The text of a scenario file with these rows.
pub(crate) fn text(
    head: &Head,
    rows: &[Row],
    end: Option<Instant>,
    civil: &Civil,
) -> Result<String, Refusal> {
    let far = |error: CivilError| Refusal::new(error.to_string(), "go back to an earlier moment");
    let until = end;
    let mut text = format!("title = {}\n", quoted(&head.title));
    let start = quoted(&date_and_time(head.start));
    writeln!(text, "start = {start}").expect("a string takes everything");
    if let Some(end) = end {
        let end = quoted(&moment(civil, end).map_err(far)?);
        writeln!(text, "end = {end}").expect("a string takes everything");
    }
    text.push_str("rows = [\n");
    for row in rows {
        let time = quoted(&row.time(until, civil).map_err(far)?);
        let (point, says) = (quoted(&row.point), quoted(&row.says));
        writeln!(text, "  [{time}, {point}, {says}],").expect("a string takes everything");
    }
    text.push_str("]\n");
    text.push_str(&head.tables);
    Ok(text)
}
