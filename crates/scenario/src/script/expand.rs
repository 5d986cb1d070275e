//! From rows as they stand to rows at instants: parameters, included scripts, repetition, time.
//!
//! Invariant: the order of rows in the file matters only where a row says `+`.

use std::collections::BTreeMap;
use std::sync::Arc;

use device::Span;
use sim::Instant;

use super::civil::{Civil, CivilError, Occurrence, time_of_day};
use super::file::{Row, ScenarioFile};
use super::fill::fill;
use super::phrase::Phrase;
use super::time::{self, Day, Moment, RowTime, Shape, Step};
use super::windows::Window;
use crate::diagnostic::{all_of, nearest};
use crate::keys::{Located, inside};
use crate::words::WordError;
use crate::{Diagnostic, Place, Sources};

/// A row whose time is known.
#[derive(Clone, Debug)]
pub(crate) struct Placed {
    /// The whole row in its file.
    pub(crate) place: Place,
    /// Its first column, as written.
    pub(crate) time: Located<String>,
    /// When.
    pub(crate) when: When,
    /// Its points.
    pub(crate) points: Vec<Located<String>>,
    /// What it says.
    pub(crate) phrases: Vec<Said>,
    /// Whether its checks are expected to fail.
    pub(crate) fails: bool,
}

/// One thing that a row says.
#[derive(Clone, Debug)]
pub(crate) struct Said {
    /// As written.
    pub(crate) text: Located<String>,
    /// As understood.
    pub(crate) phrase: Phrase,
    /// Of a check: the stretches of time that it looks at.
    pub(crate) windows: Vec<Window>,
}

/// When a row happens, in instants.
#[derive(Clone, Debug, Eq, PartialEq)]
pub(crate) struct When {
    /// The moments, in order; of a stretch only its beginning.
    pub(crate) at: Vec<Instant>,
    /// The end of a stretch.
    pub(crate) until: Option<Instant>,
    /// How far apart repetitions are, if they are so by a stopwatch.
    pub(crate) every: Option<Span>,
    /// Runs after the timers of its instant.
    pub(crate) after: bool,
    /// Written as one moment, without repetition.
    pub(crate) once: bool,
}

/// A phrase with its text.
type Phrased = (Located<String>, Phrase);

/// What rows are expanded in.
pub(crate) struct Expander<'a> {
    /// The files that were read.
    pub(crate) sources: &'a Sources,
    /// The calendar of the run.
    pub(crate) civil: &'a Civil,
    /// The end of the run; not known in the first pass.
    pub(crate) end: Option<Instant>,
    /// Included files by the name under which rows include them.
    pub(crate) library: &'a BTreeMap<String, Arc<ScenarioFile>>,
    /// The last moment that any row names.
    pub(crate) last: Instant,
    /// The rows.
    pub(crate) placed: Vec<Placed>,
    /// What is wrong.
    pub(crate) diagnostics: Vec<Diagnostic>,
    /// How many moments the rows name in all.
    moments: usize,
}

/// Where a list of rows stands.
#[derive(Clone, Copy)]
pub(crate) struct Scope<'s> {
    /// The file whose scripts may be included.
    pub(crate) file: &'s ScenarioFile,
    /// The values of parameters.
    pub(crate) values: &'s BTreeMap<String, String>,
    /// `start`, and what the first `+` counts from.
    pub(crate) base: Instant,
    /// The scripts that led here, outermost first.
    pub(crate) trail: &'s [String],
}

impl<'a> Expander<'a> {
    /// An expander that has seen no rows.
    pub(crate) fn new(
        sources: &'a Sources,
        civil: &'a Civil,
        library: &'a BTreeMap<String, Arc<ScenarioFile>>,
        end: Option<Instant>,
    ) -> Self {
        Self {
            sources,
            civil,
            end,
            library,
            last: Instant::START,
            placed: Vec::new(),
            diagnostics: Vec::new(),
            moments: 0,
        }
    }

    /// Expands `rows`.
    pub(crate) fn rows(&mut self, rows: &[Row], scope: Scope<'_>) {
        let mut above = Some(scope.base);
        let mut later_day = false;
        for row in rows {
            let Some((row, phrases)) = self.read_row(row, scope) else {
                above = None;
                continue;
            };
            let Some(time) = self.word(&row.time, time::read(&row.time.value)) else {
                above = None;
                continue;
            };
            self.mind_the_day(&row, &time, &mut later_day);
            let Some(when) = self.when(&row, &time, above, scope.base) else {
                above = None;
                continue;
            };
            above = when.at.first().copied().or(above);
            self.moments += when.at.len() * row.points.len();
            if self.moments > MOST_MOMENTS {
                self.too_many(&row);
                return;
            }
            self.place(row, phrases, when, scope);
        }
    }

    fn place(&mut self, row: Row, phrases: Vec<Phrased>, when: When, scope: Scope<'_>) {
        for at in when.at.iter().chain(&when.until) {
            self.last = self.last.max(*at);
        }
        if row.points.iter().any(|point| point.value == INCLUDE) {
            for at in &when.at {
                if self.moments > MOST_MOMENTS {
                    return;
                }
                self.include(&row, *at, scope);
            }
            return;
        }
        let phrases: Vec<Said> = phrases
            .into_iter()
            .map(|(text, phrase)| {
                let windows = match &phrase {
                    Phrase::Check(check) => self.windows(&text, check, &when, scope.base),
                    Phrase::Deed(deed) => {
                        self.reach(deed, &when);
                        Vec::new()
                    }
                };
                Said {
                    text,
                    phrase,
                    windows,
                }
            })
            .collect();
        for window in phrases.iter().flat_map(|said| &said.windows) {
            self.last = self.last.max(window.to);
        }
        self.placed.push(Placed {
            place: row.place,
            time: row.time,
            when,
            points: row.points,
            phrases,
            fails: row.fails,
        });
    }

    /// The row with its parameters filled in, and its phrases; `None` when one is not understood.
    fn read_row(&mut self, row: &Row, scope: Scope<'_>) -> Option<(Row, Vec<Phrased>)> {
        let mut row = row.clone();
        row.time = self.fill(&row.time, scope)?;
        row.points = self.fill_all(&row.points, scope)?;
        row.phrases = self.fill_all(&row.phrases, scope)?;
        if row.points.iter().any(|point| point.value == INCLUDE) {
            return Some((row, Vec::new()));
        }
        if let Some((_, given)) = row.gives.first_key_value() {
            self.push(
                "row",
                given.place,
                "only a row that includes a script gives parameters",
                "write [\"09:00\", \"include\", \"visit\", { who = \"ana\" }]",
            );
        }
        let phrases: Option<Vec<_>> = row
            .phrases
            .clone()
            .into_iter()
            .map(|text| {
                let phrase = self.word(&text, Phrase::read(&text.value))?;
                Some((text, phrase))
            })
            .collect();
        Some((row, phrases?))
    }

    fn fill_all(
        &mut self,
        texts: &[Located<String>],
        scope: Scope<'_>,
    ) -> Option<Vec<Located<String>>> {
        texts.iter().map(|text| self.fill(text, scope)).collect()
    }

    /// Puts the values of parameters in the place of `{name}`.
    fn fill(&mut self, text: &Located<String>, scope: Scope<'_>) -> Option<Located<String>> {
        match fill(&text.value, scope.values) {
            Ok(value) => Some(Located {
                value,
                place: text.place,
            }),
            Err(error) => {
                self.word::<()>(text, Err(error));
                None
            }
        }
    }

    fn include(&mut self, row: &Row, at: Instant, scope: Scope<'_>) {
        for name in &row.phrases {
            let from_file = self.library.get(&name.value).cloned();
            let (file, rows) = match &from_file {
                Some(file) => (file.as_ref(), &file.rows),
                None => match scope.file.scripts.get(&name.value) {
                    Some(rows) => (scope.file, rows),
                    None => return self.no_script(name, scope),
                },
            };
            if scope.trail.contains(&name.value) {
                return self.push(
                    "include",
                    name.place,
                    format!("`{}` includes itself", name.value),
                    "a script cannot contain itself: repeat it with `every`",
                );
            }
            let section = if from_file.is_some() {
                Some(&file.section)
            } else {
                let scripts = file.section.named("scripts").iter();
                let mut found = scripts.filter(|script| script.name.value == name.value);
                found.next().map(|script| &script.section)
            };
            let wanted = section.map_or_else(Vec::new, |section| section.texts("parameters"));
            let Some(values) = self.parameters(row, name, &wanted, scope) else {
                return;
            };
            let mut trail = scope.trail.to_vec();
            trail.push(name.value.clone());
            let inner = Scope {
                file,
                values: &values,
                base: at,
                trail: &trail,
            };
            self.rows(rows, inner);
        }
    }

    fn parameters(
        &mut self,
        row: &Row,
        name: &Located<String>,
        wanted: &[Located<String>],
        scope: Scope<'_>,
    ) -> Option<BTreeMap<String, String>> {
        let mut values = BTreeMap::new();
        let known: Vec<&str> = wanted.iter().map(|name| name.value.as_str()).collect();
        for (key, text) in &row.gives {
            if !known.contains(&key.as_str()) {
                let hint = match (nearest(key, known.iter().copied()), known.as_slice()) {
                    (Some(near), _) => format!("did you mean `{near}`?"),
                    (None, []) => format!("`{}` takes no parameters", name.value),
                    (None, known) => format!("it takes {}", all_of(known.iter().copied())),
                };
                let message = format!("`{}` has no parameter `{key}`", name.value);
                self.push("include", text.place, message, hint);
                return None;
            }
            values.insert(key.clone(), self.fill(text, scope)?.value);
        }
        for missing in known.iter().filter(|key| !values.contains_key(**key)) {
            self.push(
                "include",
                row.place,
                format!("`{}` needs the parameter `{missing}`", name.value),
                format!("add a fourth column: {{ {missing} = \"…\" }}"),
            );
        }
        (values.len() == known.len()).then_some(values)
    }

    fn no_script(&mut self, name: &Located<String>, scope: Scope<'_>) {
        let near = nearest(&name.value, scope.file.scripts.keys().map(String::as_str));
        let hint = match near {
            Some(near) => format!("did you mean `{near}`?"),
            None if name.value.contains(['/', '\\']) => {
                "only files beside this one are included: copy it here, and name it alone"
                    .to_owned()
            }
            None => format!(
                "write a table [scripts.{}] in this file, or the name of a file beside it",
                name.value.trim_end_matches(".toml")
            ),
        };
        self.push(
            "include",
            name.place,
            format!("there is no script `{}`", name.value),
            hint,
        );
    }

    /// The instants of a row; `None` when they cannot be known, or not yet.
    fn when(
        &mut self,
        row: &Row,
        time: &RowTime,
        above: Option<Instant>,
        base: Instant,
    ) -> Option<When> {
        let from = self.instant(&row.time, time.from, above, base, None)?;
        let mut when = When {
            at: vec![from],
            until: None,
            every: None,
            after: time.after,
            once: time.shape == Shape::Once,
        };
        match time.shape {
            Shape::Once => {}
            Shape::Stretch(end) => {
                when.until = Some(self.stretch_end(row, from, end, base)?);
            }
            Shape::Every(end, step) => {
                let end = self.stretch_end(row, from, end, base)?;
                when.at = self.repeat(from, step, |_, at| at <= end);
                when.every = span_of(step);
            }
            Shape::Times(step, count) => {
                when.at = self.repeat(from, step, |index, _| index < count as usize);
                when.every = span_of(step);
            }
        }
        Some(when)
    }

    fn stretch_end(
        &mut self,
        row: &Row,
        from: Instant,
        end: Moment,
        base: Instant,
    ) -> Option<Instant> {
        let until = self.instant(&row.time, end, Some(from), base, Some(from))?;
        if until < from {
            let next_day = self.civil.day_number(self.civil.at(from).date()) + 1;
            self.push(
                "time",
                row.time.place,
                "this stretch of time ends before it begins",
                format!("if it ends on the next day, write `to day {next_day} …`"),
            );
            return None;
        }
        Some(until)
    }

    fn repeat(
        &self,
        from: Instant,
        step: Step,
        goes_on: impl Fn(usize, Instant) -> bool,
    ) -> Vec<Instant> {
        let mut all = Vec::new();
        let mut at = Some(from);
        while let Some(now) = at
            && goes_on(all.len(), now)
            && all.len() <= MOST_MOMENTS
        {
            all.push(now);
            at = match step {
                Step::Span(span) => Some(now.after(span)),
                Step::Days(days) => self.days_later(from, days as usize * all.len()),
                Step::Weekdays => self.next_weekday(now),
            };
        }
        all
    }

    fn days_later(&self, from: Instant, days: usize) -> Option<Instant> {
        let days = i64::try_from(days).ok()?;
        let shown = self.civil.at(from);
        let date = shown.date().checked_add(jiff::ToSpan::days(days)).ok()?;
        self.civil.due(date.to_datetime(shown.time()))
    }

    fn next_weekday(&self, from: Instant) -> Option<Instant> {
        let shown = self.civil.at(from);
        let mut date = shown.date().tomorrow().ok()?;
        while date.weekday().to_monday_zero_offset() > 4 {
            date = date.tomorrow().ok()?;
        }
        self.civil.due(date.to_datetime(shown.time()))
    }

    /// The instant of a moment. `day_of`: without a day of its own, it is on the day of this.
    fn instant(
        &mut self,
        text: &Located<String>,
        moment: Moment,
        above: Option<Instant>,
        base: Instant,
        day_of: Option<Instant>,
    ) -> Option<Instant> {
        match moment {
            Moment::Start => Some(base),
            Moment::End => self.end,
            Moment::Later(span) => Some(above?.after(span)),
            Moment::Clock { day, time, which } => {
                let date = match day {
                    Day::Same => self.civil.at(day_of.unwrap_or(base)).date(),
                    Day::Number(number) => {
                        let day = self.civil.day(number);
                        self.civil_error(text, day)?
                    }
                    Day::Date(date) => date,
                };
                let wanted = time_of_day(date, time).ok_or(CivilError::TooFar);
                let wanted = self.civil_error(text, wanted)?;
                let instant = self.instant_at(wanted, which);
                self.civil_error(text, instant)
            }
        }
    }

    pub(super) fn instant_at(
        &self,
        wanted: jiff::civil::DateTime,
        which: Occurrence,
    ) -> Result<Instant, CivilError> {
        self.civil.instant(wanted, which)
    }

    /// A bare time after a row of a later day is on the first day again, which is hardly meant.
    fn mind_the_day(&mut self, row: &Row, time: &RowTime, later_day: &mut bool) {
        let Moment::Clock { day, .. } = time.from else {
            return;
        };
        match day {
            Day::Same if *later_day => {
                self.diagnostics.push(Diagnostic::warning(
                    "time",
                    row.time.place,
                    "this time is on the first day, though the row above is on a later one",
                    "write the day: `day 2 06:00`, or `day 1 06:00` if the first is meant",
                ));
            }
            Day::Same => {}
            Day::Number(number) => *later_day = number > 1,
            Day::Date(date) => *later_day = date > self.civil.first_day(),
        }
    }

    fn civil_error<T>(
        &mut self,
        text: &Located<String>,
        result: Result<T, CivilError>,
    ) -> Option<T> {
        match result {
            Ok(value) => Some(value),
            Err(error) => {
                let hint = civil_hint(&error);
                self.push("time", text.place, error.to_string(), hint);
                None
            }
        }
    }

    fn word<T>(&mut self, text: &Located<String>, result: Result<T, WordError>) -> Option<T> {
        match result {
            Ok(value) => Some(value),
            Err(error) => {
                let place = inside(self.sources, text.place, &text.value, error.range);
                self.push("row", place, error.message, error.hint);
                None
            }
        }
    }

    fn too_many(&mut self, row: &Row) {
        self.push(
            "row",
            row.time.place,
            format!("the rows name more than {MOST_MOMENTS} moments in all"),
            "repeat less often, or over a shorter time",
        );
    }

    pub(super) fn push(
        &mut self,
        rule: &'static str,
        place: Place,
        message: impl Into<String>,
        hint: impl Into<String>,
    ) {
        self.diagnostics
            .push(Diagnostic::error(rule, place, message, hint));
    }
}

/// What to do about a civil time that is no instant of the run.
pub(crate) fn civil_hint(error: &CivilError) -> String {
    match error {
        CivilError::Skipped { resumes, .. } => format!(
            "write a time that the clock shows that night, such as `{}`",
            super::civil::say_time(resumes.time())
        ),
        CivilError::OnlyOnce(_) => "leave `again` out: the clocks do not go back here".to_owned(),
        CivilError::BeforeStart { .. } => {
            "write a later time, a later day (`day 2 06:00`), or an earlier `start`".to_owned()
        }
        CivilError::TooFar => "write a nearer day".to_owned(),
        CivilError::NoZone(_) => "write a name of the IANA time zone database: `UTC`".to_owned(),
    }
}

fn span_of(step: Step) -> Option<Span> {
    match step {
        Step::Span(span) => Some(span),
        Step::Days(_) | Step::Weekdays => None,
    }
}

/// The point of a row that includes a script.
pub(crate) const INCLUDE: &str = "include";

/// More moments than this are a mistake, and would eat the machine's memory.
const MOST_MOMENTS: usize = 1_000_000;
