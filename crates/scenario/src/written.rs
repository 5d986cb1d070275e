//! Writes scenario files: a story in inputs of the room becomes rows of time, point and phrase.
//!
//! Invariant: read back, the rows give exactly the inputs that were put in, to the millisecond;
//! what no row can say is refused, never left out.

mod phrases;
mod times;

use std::fmt::Write;

use clause::Verdict;
use device::clock::Entry;
use jiff::civil::DateTime;
use room::{Input, SourceId, Stimulus};
use sim::Instant;
use thiserror::Error;

use crate::room_file::RoomFile;
use crate::script::ActWhat;
use crate::script::civil::{Civil, CivilError};

pub use times::{date_and_time, moment};

/// A story: what happens in a room, and what it is there to show.
#[derive(Clone, Debug, PartialEq)]
pub struct Story {
    /// One line.
    pub title: String,
    /// A paragraph for readers.
    pub about: Option<String>,
    /// What the clock on the wall shows at the start.
    pub start: DateTime,
    /// Settings at the start: point, key and value, as in `room.toml`.
    pub settings: Vec<(String, String, String)>,
    /// What happens, in order of time, every entry of a clock included.
    pub happenings: Vec<(Instant, ActWhat)>,
    /// The last instant.
    pub end: Instant,
    /// How clauses come out, by their ids.
    pub expect: Vec<(Verdict, String)>,
}

/// Why a story cannot be written.
#[derive(Clone, Debug, Eq, Error, PartialEq)]
pub enum Unwritten {
    /// The start, or a moment, is none of the calendar.
    #[error(transparent)]
    Time(#[from] CivilError),
    /// No row says this.
    #[error("no row can say {0}")]
    NoWords(String),
    /// The calendar of a clock does something in these hours that the story does not tell.
    #[error("the calendar of `{clock}` runs {entry:?} at {at}")]
    Calendar {
        /// The clock.
        clock: String,
        /// What falls due.
        entry: Entry,
        /// When, as the clock on the wall shows it.
        at: String,
    },
    /// Something happens before something earlier, or after the end.
    #[error("what happens is not in order of time")]
    OutOfOrder,
}

/// One row.
#[derive(Clone, Debug, Eq, PartialEq)]
struct Row {
    time: String,
    point: String,
    says: String,
}

impl Story {
    /// The text of the scenario file, for this room.
    ///
    /// # Errors
    /// When something of the story cannot be said in rows.
    pub fn write(&self, room: &RoomFile) -> Result<String, Unwritten> {
        let civil = Civil::new(&room.zone, self.start)?;
        let in_order = self
            .happenings
            .windows(2)
            .all(|pair| pair[0].0 <= pair[1].0);
        if !in_order || self.happenings.last().is_some_and(|last| last.0 > self.end) {
            return Err(Unwritten::OutOfOrder);
        }
        let told = self.beside_calendars(room, &civil)?;
        let settings = self.settings.iter().map(|(point, key, value)| Row {
            time: "start".to_owned(),
            point: point.clone(),
            says: format!("{key} = {value}"),
        });
        let mut rows: Vec<Row> = settings.collect();
        rows.extend(phrases::rows(room, &civil, &told)?);
        let mut text = format!("title = {}\n", quoted(&self.title));
        if let Some(about) = &self.about {
            line(&mut text, &format!("about = {}", quoted(about)));
        }
        let start = date_and_time(self.start);
        line(&mut text, &format!("start = {}", quoted(&start)));
        let end = moment(&civil, self.end)?;
        line(&mut text, &format!("end   = {}", quoted(&end)));
        if !self.expect.is_empty() {
            line(&mut text, &format!("expect = {}", self.expected()));
        }
        line(&mut text, "rows = [");
        for row in table(&rows) {
            line(&mut text, &row);
        }
        line(&mut text, "]");
        Ok(text)
    }

    /// What happens besides what the calendars of the room's clocks do by themselves.
    fn beside_calendars(
        &self,
        room: &RoomFile,
        civil: &Civil,
    ) -> Result<Vec<(Instant, ActWhat)>, Unwritten> {
        let mut told = self.happenings.clone();
        for (clock, calendar) in &room.calendars {
            for (at, entry) in calendar.entries(civil, &[], self.end) {
                let due = ActWhat::Input(Input::Stimulus(*clock, Stimulus::Due(entry)));
                let place = told.iter().position(|it| *it == (at, due.clone()));
                let Some(place) = place else {
                    return Err(Unwritten::Calendar {
                        clock: name(room, *clock),
                        entry,
                        at: civil.say(at),
                    });
                };
                told.remove(place);
            }
        }
        Ok(told)
    }

    fn expected(&self) -> String {
        let said = self.expect.iter().map(|(verdict, id)| {
            let verdict = match verdict {
                Verdict::Broken => "broken",
                Verdict::Held => "held",
                Verdict::NeverExercised => "never exercised",
                Verdict::Open => "open",
            };
            quoted(&format!("{verdict} {id}"))
        });
        match said.collect::<Vec<_>>().as_slice() {
            [one] => one.clone(),
            several => format!("[{}]", several.join(", ")),
        }
    }
}

/// The rows, their columns one under the other.
fn table(rows: &[Row]) -> Vec<String> {
    let cells = rows.iter().map(|row| {
        let cell = |text: &str| format!("{},", quoted(text));
        (cell(&row.time), cell(&row.point), quoted(&row.says))
    });
    let cells: Vec<_> = cells.collect();
    let widest = |of: fn(&(String, String, String)) -> &String| {
        let widths = cells.iter().map(|row| of(row).chars().count());
        widths.max().unwrap_or(0)
    };
    let (times, points) = (widest(|row| &row.0), widest(|row| &row.1));
    let rows = cells
        .iter()
        .map(|(time, point, says)| format!("  [{time:times$} {point:points$} {says}],"));
    rows.collect()
}

fn line(text: &mut String, line: &str) {
    writeln!(text, "{line}").expect("a string takes everything");
}

/// A TOML string.
#[must_use]
pub fn quoted(text: &str) -> String {
    let mut quoted = String::from('"');
    for c in text.chars() {
        match c {
            '"' | '\\' => quoted.extend(['\\', c]),
            c if c.is_control() => {
                write!(quoted, "\\u{:04X}", u32::from(c)).expect("a string takes everything");
            }
            c => quoted.push(c),
        }
    }
    quoted.push('"');
    quoted
}

fn name(room: &RoomFile, source: SourceId) -> String {
    room.plan.sources[usize::from(source.0)].name.clone()
}

#[cfg(test)]
mod tests;
