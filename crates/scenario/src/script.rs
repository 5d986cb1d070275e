//! Scenario files: rows of time, point and what happens or must be so.
//!
//! A file is read ([`file`](self)), its rows are placed in time, and then they meet the room:
//! [`Script`] is what can be run. Invariant: a script that was made can be run; whatever could
//! be wrong with its file has been said before.

pub mod calendar;
pub mod civil;
mod company;
mod conflict;
mod curves;
mod deeds;
mod expand;
mod file;
mod fill;
pub(crate) mod lesson;
mod lower;
mod meet;
pub mod people;
pub mod phrase;
mod points;
pub(crate) mod reader;
mod settings;
mod table;
pub mod time;
mod windows;

use std::collections::BTreeMap;
use std::sync::Arc;

use room::{ControllerId, Input, OutputId, Plan, SourceId};
use sim::{Drift, Impairment, Instant, Quality};

use crate::Place;
use crate::words::WordError;
pub use civil::Civil;
pub use lesson::{Lesson, Question, Step};
pub(crate) use lower::is_script;
pub use lower::{Loaded, is_scenario, load, load_rows};
use people::{NoticeTable, Person};
use phrase::Check;
pub use table::SCENARIO;
pub use windows::Window;

/// One run of a scenario: what happens and what must be so, at instants.
#[derive(Clone, Debug)]
pub struct Script {
    /// The file it is from, as messages show it.
    pub file: String,
    /// Its title, with the values of parameters filled in.
    pub title: String,
    /// A paragraph for readers.
    pub about: Option<String>,
    /// The values of the parameters of this run, in the order of their names.
    pub values: Vec<(String, String)>,
    /// The calendar of the run.
    pub civil: Civil,
    /// The last instant of the run.
    pub end: Instant,
    /// The room as it is at the start.
    pub plan: Arc<Plan>,
    /// The rows, in the order in which they were expanded.
    pub rows: Vec<RowRef>,
    /// What happens, in order of time.
    pub acts: Vec<Act>,
    /// What must be so, in the order of the rows.
    pub checks: Vec<RowCheck>,
    /// What the scenario is there to show.
    pub expects: Vec<Expect>,
    /// The people and what they do.
    pub people: Vec<Person>,
    /// What sensors notice of people.
    pub notices: NoticeTable,
    /// How well frames travel, where that is not the default.
    pub quality: BTreeMap<(SourceId, ControllerId), Quality>,
    /// The load of each output at full, in milliwatts.
    pub loads: Vec<Option<u64>>,
    /// What it tells and asks, if it is a lesson; the run itself takes no notice of it.
    pub lesson: Option<Lesson>,
}

impl Script {
    /// The instant that `text` names, written as in the time column: `10:20`, `day 2 06:00`,
    /// `start`, `end`; `+1 h` counts from the start.
    ///
    /// # Errors
    /// When the text is no moment, or no such moment is in the run.
    pub fn moment(&self, text: &str) -> Result<Instant, WordError> {
        let mut reader = reader::Reader::new(text);
        let moment = time::moment(&mut reader, time::Day::Same)?;
        let whole = 0..text.len();
        let refuse =
            |message: String, hint: &str| Err(WordError::new(whole.clone(), message, hint));
        if !reader.is_done() {
            return refuse("more than one moment is named".to_owned(), MOMENT);
        }
        let instant = match moment {
            time::Moment::Start => Ok(Instant::START),
            time::Moment::End => Ok(self.end),
            time::Moment::Later(span) => Ok(Instant::START.after(span)),
            time::Moment::Clock { day, time, which } => self.civil.clock(day, time, which),
        };
        match instant {
            Ok(instant) if instant <= self.end => Ok(instant),
            Ok(_) => refuse(
                format!("the run ends at {}", self.civil.say(self.end)),
                &self.within(),
            ),
            Err(error @ civil::CivilError::BeforeStart { .. }) => {
                refuse(error.to_string(), &self.within())
            }
            Err(error) => refuse(error.to_string(), MOMENT),
        }
    }
}

impl Script {
    /// Which moments the run has.
    fn within(&self) -> String {
        let (start, end) = (self.civil.say(Instant::START), self.civil.say(self.end));
        format!("name a moment from {start} to {end}, or give the scenario a later `end`")
    }
}

/// A row of a scenario file, for messages.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct RowRef {
    /// Where it stands.
    pub place: Place,
    /// Its first column.
    pub time: String,
    /// Its second column.
    pub point: String,
    /// Its third column.
    pub says: String,
    /// When, and whether anything happens by it.
    pub when: RowWhen,
}

/// When a row happens.
#[derive(Clone, Debug, Default, Eq, PartialEq)]
pub struct RowWhen {
    /// The moments, in order; of a stretch only its beginning.
    pub moments: Vec<Instant>,
    /// Whether it runs after the timers of its instant.
    pub after: bool,
    /// What kind of row it is.
    pub kind: RowKind,
}

/// The kinds of row.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum RowKind {
    /// Something must be so.
    #[default]
    Check,
    /// Something happens at each of the moments.
    Deed,
    /// Something happens over a stretch of time, or takes a course: its acts say when.
    Course,
}

/// Something that happens in a run.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Act {
    /// When.
    pub at: Instant,
    /// Whether it runs after the timers of its instant.
    pub after: bool,
    /// What.
    pub what: ActWhat,
    /// Where it comes from.
    pub by: By,
}

/// What happens.
#[derive(Clone, Debug, Eq, PartialEq)]
pub enum ActWhat {
    /// An input of the room.
    Input(Input),
    /// A fault of the bus.
    Impair(Impairment),
    /// A clock of a device runs at another pace.
    Drift(Drift),
}

/// Where something that happens comes from.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum By {
    /// A row of the script.
    Row(usize),
    /// The calendar of this clock.
    Calendar(SourceId),
}

/// Something that must be so, at one point.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct RowCheck {
    /// The row that says so.
    pub row: usize,
    /// At which point.
    pub target: Target,
    /// What.
    pub check: Check,
    /// Of checks on frames: which.
    pub frames: Option<Frames>,
    /// When; each stretch is judged by itself, and all must hold.
    pub windows: Vec<Window>,
    /// Whether it is expected to fail.
    pub fails: bool,
}

/// The point of a check.
#[derive(Clone, Copy, Debug, Eq, Ord, PartialEq, PartialOrd)]
pub enum Target {
    /// An output.
    Output(OutputId),
    /// A source.
    Source(SourceId),
    /// A controller.
    Controller(ControllerId),
    /// A task, by its place in the plan.
    Task(usize),
    /// A person, by its place in the script.
    Person(usize),
}

/// Which frames a check is about.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Frames {
    /// Who sends them.
    pub source: SourceId,
    /// Who hears them; `None`: they are looked at where they are sent.
    pub listener: Option<ControllerId>,
    /// Of which kind; `None`: any.
    pub kind: Option<FrameKind>,
}

/// A kind of frame.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum FrameKind {
    /// Occupied, with or without the mark *bright*.
    Occupied,
    /// Vacant.
    Vacant,
    /// Unknown.
    Unknown,
    /// This button went down.
    Down(u8),
    /// This button came up.
    Up(u8),
    /// The card is in.
    CardIn,
    /// The card is out.
    CardOut,
    /// A card that does not belong here.
    WrongCard,
    /// An illuminance.
    Illuminance,
    /// In hours.
    InHours,
    /// After hours.
    AfterHours,
    /// A sweep.
    Sweep,
    /// The time is lost.
    TimeLost,
    /// A shed.
    Shed,
    /// The end of a shed.
    ShedEnd,
    /// A teach-in frame.
    TeachIn,
}

/// What a scenario is there to show about a clause.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Expect {
    /// The clause, by its place in the plan.
    pub clause: u16,
    /// How it must stand at the end.
    pub verdict: clause::Verdict,
    /// Where that is written.
    pub place: Place,
}

const MOMENT: &str = "write it like `10:20`, `day 2 06:00`, `+1 h`, `start` or `end`";

#[cfg(test)]
mod tests;
