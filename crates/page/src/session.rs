//! A session: one room, what has been done in it, and the present moment.
//!
//! Invariant: the room at the present moment is what a run of the rows so far gives, whatever
//! way was taken to get there: forwards, back, or back and another way.

mod deed;
mod kept;

use std::sync::Arc;

use kept::Kept;
use report::words::Names;
use room::{Change, Device, Input};
use scenario::script::phrase::Phrase;
use scenario::script::{ActWhat, By};
use sim::{Answer, Full, Instant, Question, Simulation, Snapshot, What};

use crate::ledger::Ledger;
use crate::lesson::Course;
use crate::opening::Opening;
use crate::score::{Head, Row, Score};
use crate::stage::LAST;
use crate::{Refusal, Stage};

/// One room, what has been done in it, and the present moment.
#[derive(Debug)]
pub struct Session {
    pub(crate) stage: Arc<Stage>,
    pub(crate) head: Head,
    pub(crate) rows: Vec<Row>,
    pub(crate) score: Score,
    pub(crate) simulation: Simulation<Full>,
    pub(crate) ledger: Ledger,
    /// The lesson that is being given.
    pub(crate) course: Option<Course>,
    seed: u64,
    outside: Vec<Device>,
    /// How many acts have been given to the room.
    given: usize,
    /// The moment of what was done last.
    acted: Instant,
    /// The instant of the last question to a device outside: until it is answered, that instant
    /// is run in part.
    asked: Instant,
    /// Whether the first instant has run.
    begun: bool,
    /// The present moment.
    now: Instant,
    /// The moment through which the room has to run at once.
    owed: Instant,
    /// Whether the room runs on only to the next thing that can be seen.
    seeking: bool,
    /// The moment up to which the room runs on to answer what was done.
    answering: Instant,
    /// The latest moment that was reached.
    end: Instant,
    /// How often another way was taken.
    branch: u32,
    /// Counts what changes of that which stands still.
    revision: u32,
    /// States to come back to, in order of time.
    snapshots: Vec<(Instant, Snapshot<Full>)>,
    /// Which steps are still there.
    kept: Kept,
}

impl Session {
    /// A session in a room whose devices are all inside.
    ///
    /// # Errors
    ///
    /// When the calendar of the room does not know the usual start.
    pub fn new(stage: Arc<Stage>, seed: u64) -> Result<Self, Refusal> {
        Self::with_outside(stage, seed, Vec::new())
    }

    /// A session in a room of which these devices are outside; see [`Self::step`].
    ///
    /// # Errors
    ///
    /// When the calendar of the room does not know the usual start.
    pub fn with_outside(
        stage: Arc<Stage>,
        seed: u64,
        outside: Vec<Device>,
    ) -> Result<Self, Refusal> {
        let opening = Opening::empty(&stage);
        Self::begin(stage, seed, outside, opening)
    }

    /// A session that begins with the rows of a scenario of the room.
    ///
    /// # Errors
    ///
    /// When the room has no such scenario.
    pub fn of_scenario(
        stage: Arc<Stage>,
        seed: u64,
        outside: Vec<Device>,
        name: &str,
    ) -> Result<Self, Refusal> {
        let opening = Opening::of(stage.scene(name)?)?;
        Self::begin(stage, seed, outside, opening)
    }

    fn begin(
        stage: Arc<Stage>,
        seed: u64,
        outside: Vec<Device>,
        opening: Opening,
    ) -> Result<Self, Refusal> {
        let Opening { head, mut rows } = opening;
        take_place(&mut rows);
        let last = rows.last().map_or(Instant::START, |row| row.at);
        let score = Score::new(&stage, &head, &rows, last.after(AHEAD), seed)?;
        let plan = Arc::clone(&score.script().plan);
        let quality = score.play.quality();
        let simulation = if outside.is_empty() {
            Simulation::new(plan, seed, quality)
        } else {
            Simulation::with_outside(plan, seed, quality, outside.iter().copied())
        };
        let ledger = Ledger::new(&score.script().plan, &score.script().loads);
        let kept = Kept::all(ledger.clone());
        let mut session = Self {
            stage,
            head,
            rows,
            score,
            simulation,
            ledger,
            course: None,
            seed,
            outside,
            given: 0,
            acted: Instant::START,
            asked: Instant::START,
            begun: false,
            now: Instant::START,
            owed: Instant::START,
            seeking: false,
            answering: Instant::START,
            end: Instant::START,
            branch: 0,
            revision: 0,
            snapshots: Vec::new(),
            kept,
        };
        session.keep_snapshot();
        Ok(session)
    }

    /// The present moment.
    #[must_use]
    pub fn now(&self) -> Instant {
        self.now
    }

    /// The moment through which the room has to run at once, whatever the clock says.
    #[must_use]
    pub fn owed(&self) -> Instant {
        self.owed
    }

    /// The latest moment that was reached: after a rewind it is later than the present one.
    #[must_use]
    pub fn end(&self) -> Instant {
        self.end
    }

    /// Begins with another revision than the session before it had.
    pub(crate) fn follow(&mut self, before: &Self) {
        self.revision = before.revision + 1;
    }

    /// How often another way was taken after a rewind.
    #[must_use]
    pub fn branch(&self) -> u32 {
        self.branch
    }

    /// Changes whenever something of that changes which otherwise stands still.
    #[must_use]
    pub fn revision(&self) -> u32 {
        self.revision
    }

    /// What was done, in order of time; after a rewind also what was done later than the present
    /// moment.
    #[must_use]
    pub fn rows(&self) -> &[Row] {
        &self.rows
    }

    /// The seed of everything that is drawn.
    #[must_use]
    pub fn seed(&self) -> u64 {
        self.seed
    }

    /// Whether the first instant has run.
    #[must_use]
    pub fn has_begun(&self) -> bool {
        self.begun
    }

    /// Whether devices run in other processes.
    #[must_use]
    pub fn has_nodes(&self) -> bool {
        !self.outside.is_empty()
    }

    /// The room as it runs.
    #[must_use]
    pub fn simulation(&self) -> &Simulation<Full> {
        &self.simulation
    }

    /// The room as it runs, for the news of nodes.
    pub fn simulation_mut(&mut self) -> &mut Simulation<Full> {
        &mut self.simulation
    }

    /// The next instant at which something happens by itself or by a row; never when nothing
    /// will.
    #[must_use]
    pub fn next_instant(&mut self) -> Instant {
        let act = self.score.acts().get(self.given).map(|act| act.at);
        let own = self.simulation.next_instant();
        act.map_or(own, |at| at.min(own)).max(self.now)
    }

    /// Does something at a point, in the words of a scenario, one millisecond from now; what was
    /// done later than that is dropped, which makes another branch.
    ///
    /// # Errors
    ///
    /// With what the reader of scenarios says; then nothing is changed.
    pub fn act(&mut self, point: &str, event: &str) -> Result<(), Refusal> {
        for text in [point, event] {
            if text.chars().count() > LONGEST_TEXT {
                return Err(Refusal::new(
                    "that is too long for a row",
                    format!("say it in {LONGEST_TEXT} letters"),
                ));
            }
        }
        if point.trim() == "include" {
            return Err(Refusal::new(
                "a script cannot be included here",
                "start from a scenario that includes it",
            ));
        }
        if let Phrase::Check(_) = Phrase::read(event)? {
            return Err(Refusal::new(
                format!("`{}` is a check: nothing happens by it", event.trim()),
                "say what happens; checks are filled in when the session is saved",
            ));
        }
        self.refuse_in_lesson()?;
        self.put(|at| {
            Some(Row {
                at,
                after: false,
                point: point.trim().into(),
                says: event.trim().into(),
                again: None,
            })
        })
    }

    /// What was done up to the present moment.
    #[must_use]
    pub fn rows_so_far(&self) -> &[Row] {
        let so_far = self.rows.partition_point(|row| row.at <= self.now);
        &self.rows[..so_far]
    }

    /// Runs the next instant at which something happens, if there is one through `to`; otherwise
    /// `to` becomes the present moment and the answer is `false`.
    ///
    /// # Errors
    ///
    /// With the question that a device outside has to answer first, by [`Self::answer`].
    pub fn step(&mut self, to: Instant) -> Result<bool, Box<Question>> {
        let stepped = self.step_on(to);
        if let Err(question) = &stepped {
            self.asked = question.at;
        }
        stepped
    }

    fn step_on(&mut self, to: Instant) -> Result<bool, Box<Question>> {
        let to = to.min(self.hold()).max(self.now);
        self.look_ahead(to);
        loop {
            let due = self.score.acts().get(self.given).filter(|act| act.at <= to);
            let Some(at) = due.map(|act| act.at) else {
                break;
            };
            if let Some(before) = at.as_ms().checked_sub(1)
                && self.simulation.try_step(Instant::from_ms(before))?
            {
                self.ran();
                return Ok(true);
            }
            let acts = self.score.acts();
            while let Some(act) = acts.get(self.given).filter(|act| act.at == at) {
                act.give(&mut self.simulation);
                self.given += 1;
            }
        }
        let more = self.simulation.try_step(to)?;
        self.ran();
        Ok(more)
    }

    /// The moment beyond which the room does not run: where a lesson waits, or the last one of
    /// any session.
    #[must_use]
    pub fn hold(&self) -> Instant {
        match &self.course {
            Some(course) => course.hold().unwrap_or(self.now).min(LAST),
            None => LAST,
        }
    }

    /// A device in another process has its settings from its own files.
    fn refuse_to_turn_outside(&self, score: &Score, at: Instant) -> Result<(), Refusal> {
        let turned = |act: &scenario::script::Act| match &act.what {
            ActWhat::Input(Input::Change(change)) => Some(match **change {
                Change::Source(id, _) => Device::Source(id),
                Change::Controller(id, _) => Device::Controller(id),
            }),
            _ => None,
        };
        let here = score.acts().iter().filter(|act| act.at == at);
        match here
            .filter_map(turned)
            .any(|device| self.outside.contains(&device))
        {
            false => Ok(()),
            true => Err(Refusal::new(
                "this device runs in another process, with settings of its own",
                "change room.toml, and start both again",
            )),
        }
    }

    /// Nothing else is done while a lesson is given: its rows would be lost.
    fn refuse_in_lesson(&self) -> Result<(), Refusal> {
        match &self.course {
            None => Ok(()),
            Some(_) => Err(Refusal::new(
                "a lesson is being given",
                "stop the lesson first; the room stays as it is",
            )),
        }
    }

    /// Answers the question that [`Self::step`] asked last.
    pub fn answer(&mut self, answer: Answer) {
        self.simulation.answer(answer);
    }

    /// Runs everything through `to`, in a room whose devices are all inside.
    ///
    /// # Panics
    ///
    /// When a device is outside.
    pub fn run_to(&mut self, to: Instant) {
        while self
            .step(to)
            .expect("devices that are inside ask nobody anything")
        {}
    }

    /// Runs through the moment that is owed, in a room whose devices are all inside.
    ///
    /// # Panics
    ///
    /// When a device is outside.
    pub fn settle(&mut self) {
        while self.now < self.owed {
            self.step(self.owed)
                .expect("devices that are inside ask nobody anything");
        }
    }

    /// Lets the room run on through `to` as fast as it can.
    pub fn owe(&mut self, to: Instant) {
        self.owed = self.owed.max(to.min(LAST));
    }

    /// Lets the room run on until it has answered what was done last, though its clock stands:
    /// for as long as a frame is on its way or the deed itself goes on, and for no longer than
    /// 0.2 s after it.
    pub fn answer_deed(&mut self) {
        if self.acted > Instant::START {
            self.answering = self.acted.after(LONGEST_ANSWER);
            self.answer_on();
        }
    }

    /// Owes the next instant that belongs to an answer.
    fn answer_on(&mut self) {
        if self.answering <= self.now || self.now < self.owed {
            return;
        }
        let coming = self.simulation.coming();
        let is_frame = |it: &&(Instant, sim::Coming)| matches!(it.1, sim::Coming::Frame(..));
        let frame = coming.iter().find(is_frame).map(|(due, _)| *due);
        let act = self.score.acts().get(self.given).map(|act| act.at);
        match frame.into_iter().chain(act).min() {
            Some(next) if next <= self.answering => self.owe(next),
            _ => self.answering = Instant::START,
        }
    }

    /// Lets the room run on through the next instant at which something happens; or, when it has
    /// to be `seen`, through the next one of which somebody can see something.
    ///
    /// # Errors
    ///
    /// When nothing will happen by itself.
    pub fn owe_next(&mut self, seen: bool) -> Result<(), Refusal> {
        self.refuse_in_lesson()?;
        let nothing = || {
            Refusal::new(
                "nothing will happen by itself",
                "do something, or let the clock run",
            )
        };
        if !seen {
            let next = self.next_instant();
            if next >= LAST {
                return Err(nothing());
            }
            self.owe(next);
            return Ok(());
        }
        let limit = self.now.after(AHEAD);
        if !self.is_expecting(limit) {
            return Err(nothing());
        }
        self.seeking = true;
        self.owe(limit);
        Ok(())
    }

    /// Whether something that can be seen is to come by itself up to `limit`.
    fn is_expecting(&self, limit: Instant) -> bool {
        let plan = self.simulation.plan();
        let names = Names {
            plan,
            slots: self.simulation.room().slots().clone(),
        };
        let is_loud = |slot: &room::Slot| !names.timer(*slot).quiet;
        let acts = self.score.acts().get(self.given);
        acts.is_some_and(|act| act.at <= limit)
            || self.ledger.is_fading(self.now)
            || self.ledger.timers.keys().any(is_loud)
            || (self.simulation.coming().iter())
                .any(|(_, coming)| matches!(coming, sim::Coming::Frame(..)))
    }

    /// Whether one of these steps is something that can be seen.
    fn is_sight(&self, from: usize) -> bool {
        let steps = &self.simulation.trace().steps;
        let slots = self.simulation.room().slots();
        let names = Names {
            plan: self.simulation.plan(),
            slots: slots.clone(),
        };
        let seen = |step: &sim::Step| match step.what {
            What::Output(..) | What::Clause(..) => true,
            What::Elapsed(slot) => !names.timer(slot).quiet,
            _ => step.cause.is_none(),
        };
        steps.get(from..).unwrap_or_default().iter().any(seen)
    }

    /// The words of a change of settings at an instant, for a node.
    #[must_use]
    pub fn words_of_change(&self, at: Instant, input: &Input) -> String {
        let is_it = |what: &ActWhat| matches!(what, ActWhat::Input(it) if it == input);
        let acts = self.score.acts();
        let from = acts.partition_point(|act| act.at < at);
        let mut here = acts[from..].iter().take_while(|act| act.at == at);
        let row = here
            .find(|act| is_it(&act.what))
            .and_then(|act| match act.by {
                By::Row(row) => self.score.script().rows.get(row),
                By::Calendar(_) => None,
            });
        row.map(|row| row.says.clone()).unwrap_or_default()
    }

    /// An instant has run, or time has passed.
    fn ran(&mut self) {
        self.begun = true;
        self.now = self.simulation.now();
        if let Some(course) = &mut self.course
            && course.arrive(self.now)
        {
            self.owed = self.now;
        }
        self.seeking &= self.now < self.owed;
        self.end = self.end.max(self.now);
        let new = self.simulation.trace().steps.get(self.ledger.read..);
        let is_change = |step: &sim::Step| step.what == What::Change;
        if new.unwrap_or_default().iter().any(is_change) {
            self.revision += 1;
        }
        if self.seeking && self.is_sight(self.ledger.read) {
            self.seeking = false;
            self.owed = self.now;
        }
        self.ledger.read(&self.simulation.trace().steps);
        self.answer_on();
        self.keep_state();
        self.forget_old();
    }

    /// Reads the rows on when the moment up to which they are known comes near.
    fn look_ahead(&mut self, to: Instant) {
        if to.after(NEAR) < self.score.horizon || self.score.horizon >= LAST {
            return;
        }
        let horizon = to.after(AHEAD).min(LAST);
        let (stage, head) = (&self.stage, &self.head);
        let rows = self.unfinished(self.rows.len());
        if let Ok(score) = Score::going_on(stage, head, rows, self.now, horizon, self.seed) {
            self.go_by(score);
        }
    }
}

/// Takes the memory of all rows that there may be at once, so that a session does not grow with
/// what is done in it.
fn take_place(rows: &mut Vec<Row>) {
    let blank = Row {
        at: Instant::START,
        after: false,
        point: "".into(),
        says: "".into(),
        again: None,
    };
    let there = rows.len();
    // Memory that was never written to is not really there.
    rows.resize(MOST_ROWS.max(there), blank);
    rows.truncate(there);
}

/// How far ahead rows are read: what follows from them, such as signs of people and calendars.
const AHEAD: device::Span = device::Span::from_hours(12);

/// How long after a deed the room runs on to answer it while its clock stands.
const LONGEST_ANSWER: device::Span = device::Span::from_ms(200);

/// How near the end of what was read may come.
const NEAR: device::Span = device::Span::from_hours(1);

/// How many rows a session may have.
const MOST_ROWS: usize = 5_000;

/// How long a point or an event may be, in letters.
const LONGEST_TEXT: usize = 200;

#[cfg(test)]
mod tests;

#[cfg(test)]
mod wild;
