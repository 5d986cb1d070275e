//! The rows of a session, read as a scenario: what has happened and what is still to come of it.
//!
//! Invariant: the acts up to a moment depend on the rows up to that moment alone, so rows may be
//! added at the end and taken away from it while the room runs; and a row all of whose acts have
//! happened says nothing of later ones, unless people, settings or clocks go by it. Such a row is
//! not read again, so what is read does not grow with all that was ever done.

use std::fmt::Write;
use std::sync::Arc;

use device::Span;
use jiff::civil::DateTime;
use room::{Input, Stimulus};
use scenario::run::Play;
use scenario::script::civil::{Civil, CivilError};
use scenario::script::{Act, ActWhat, By, Script, load_rows};
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
    #[serde(serialize_with = "as_text")]
    pub point: Arc<str>,
    /// What, in the words of a scenario.
    #[serde(serialize_with = "as_text")]
    pub says: Arc<str>,
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

fn as_text<S: serde::Serializer>(text: &Arc<str>, to: S) -> Result<S::Ok, S::Error> {
    to.serialize_str(text)
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
    /// Since which moment: rows that were over before it may be left out.
    pub(crate) since: Instant,
    /// Which rows of the session were read, by their places, in order.
    places: Vec<usize>,
}

impl Score {
    /// Reads all these rows as a scenario of the room, up to a horizon.
    pub(crate) fn new(
        stage: &Stage,
        head: &Head,
        rows: &[Row],
        horizon: Instant,
        seed: u64,
    ) -> Result<Self, Refusal> {
        let places = (0..rows.len()).collect();
        Self::read(stage, head, rows, places, horizon, seed)
    }

    /// Reads rows up to a horizon, of which those before `since` that are over may be left out;
    /// each comes with its place in the session.
    pub(crate) fn going_on(
        stage: &Stage,
        head: &Head,
        rows: impl IntoIterator<Item = (usize, Row)>,
        since: Instant,
        horizon: Instant,
        seed: u64,
    ) -> Result<Self, Refusal> {
        let (places, rows): (Vec<usize>, Vec<Row>) = rows.into_iter().unzip();
        let score = Self::read(stage, head, &rows, places, horizon, seed)?;
        Ok(Self { since, ..score })
    }

    fn read(
        stage: &Stage,
        head: &Head,
        rows: &[Row],
        places: Vec<usize>,
        horizon: Instant,
        seed: u64,
    ) -> Result<Self, Refusal> {
        let civil = stage.civil(head.start)?;
        let text = text(head, rows, Some(horizon), &civil)?;
        let mut sources = Sources::clone(&stage.sources);
        let file = sources.add(stage.session_file(), text);
        let loaded = load_rows(&mut sources, file, &stage.room);
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
            since: Instant::START,
            places,
        })
    }

    /// The places of the rows that have to be read again by whoever goes on at `now`, once
    /// everything before that has happened.
    pub(crate) fn unfinished(&self, now: Instant) -> Vec<usize> {
        let acts = &self.script().acts;
        let mut acted = vec![false; self.places.len()];
        let mut stays = vec![false; self.places.len()];
        for act in acts {
            if let By::Row(row) = act.by
                && row < self.places.len()
            {
                acted[row] = true;
                stays[row] |= act.at >= now || is_remembered(&act.what);
            }
        }
        let kept = self.places.iter().zip(acted.into_iter().zip(stays));
        // A row without acts of its own is about people, or stands beside one that says the same.
        let kept = kept.filter(|(_, (acted, stays))| !acted || *stays);
        kept.map(|(place, _)| *place).collect()
    }

    /// The rows that were read, each with its place in the session.
    pub(crate) fn rows(&self) -> impl Iterator<Item = (usize, &scenario::script::RowRef)> {
        let places = self.places.iter().copied();
        places.zip(&self.script().rows)
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

/// Whether later rows are read in the light of such an act.
fn is_remembered(what: &ActWhat) -> bool {
    match what {
        ActWhat::Input(Input::Change(_) | Input::Stimulus(_, Stimulus::ClockSet { .. })) => true,
        ActWhat::Input(_) | ActWhat::Impair(_) | ActWhat::Drift(_) => false,
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

#[cfg(test)]
mod tests {
    use device::Span;

    use super::*;
    use crate::Session;
    use crate::samples::session;

    /// Presses and moves so often, a minute apart.
    fn busy(session: &mut Session, times: usize) {
        for _ in 0..times {
            session.act("wall-sensor", "motion").unwrap();
            session.act("wall-button", "tap down").unwrap();
            session.run_to(session.now().after(Span::from_minutes(1)));
        }
    }

    #[test]
    fn what_is_over_is_not_read_again_however_much_was_done() {
        let mut session = session("private-office");
        session.act("room", "daylight 300 lx").unwrap();
        session.act("wall-sensor", "power cut").unwrap();
        session.act("wall-sensor", "power back").unwrap();
        busy(&mut session, 100);
        session
            .noise("wall-sensor", Some(Span::from_seconds(30)))
            .unwrap();
        busy(&mut session, 100);
        assert_eq!(session.rows().len(), 404);
        let read = session.score.rows().count();
        assert!(read <= 3, "{read} rows were read");
        session.noise("wall-sensor", None).unwrap();
        busy(&mut session, 2);
        let read = session.score.rows().count();
        assert!(read <= 2, "{read} rows were read");
        assert!(session.score.acts().len() < 8, "{:?}", session.score.acts());
    }

    #[test]
    fn what_later_rows_depend_on_is_read_again_and_is_said_to_stand_where_it_stood() {
        let mut session = session("private-office");
        busy(&mut session, 20);
        session.set("wall-sensor.time-delay", "5 min").unwrap();
        busy(&mut session, 20);
        session.act("ana", "enters").unwrap();
        busy(&mut session, 20);
        let read = session.score.rows().map(|(place, row)| (place, &*row.says));
        let read: Vec<_> = read.filter(|(place, _)| *place < 120).collect();
        assert_eq!(read, [(40, "time-delay = 5 min"), (81, "enters")]);
        let told = session.told().settings.unwrap();
        let delay = &told[&("wall-sensor".to_owned(), "time-delay".to_owned())];
        let lines = delay
            .iter()
            .map(|(_, place)| (place.file.as_str(), place.line));
        let here: Vec<_> = lines.filter(|(file, _)| *file == "this session").collect();
        assert_eq!(here, [("this session", 41)]);
    }

    #[test]
    fn whoever_goes_back_finds_everything_that_was_done() {
        let mut session = session("private-office");
        busy(&mut session, 30);
        let trace = session.simulation().trace().clone();
        let end = session.now();
        for minutes in [0, 12, 29, 3] {
            session
                .rewind(Instant::START.after(Span::from_minutes(minutes)))
                .unwrap();
            session.run_to(end);
            assert!(session.simulation().trace() == &trace, "{minutes}");
        }
        session
            .rewind(Instant::START.after(Span::from_minutes(10)))
            .unwrap();
        busy(&mut session, 1);
        assert_eq!(session.rows().len(), 22, "what came later is dropped");
        assert!(session.draft("Back").write().unwrap().passes);
    }
}
