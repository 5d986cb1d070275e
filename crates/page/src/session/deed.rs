//! How what is done becomes a row of the session.
//!
//! Invariant: what was done later than the present moment is dropped when something else is
//! done; so is the end of a noise that ended later.

use std::sync::Arc;

use device::Span;
use sim::Instant;

use super::{AHEAD, MOST_ROWS, Session};
use crate::Refusal;
use crate::score::{Again, Row, Score};

impl Session {
    /// Lets there be noise at a sensor from now on, a sound `every` so often; with `None` it
    /// ends.
    ///
    /// # Errors
    ///
    /// When there is nothing at that point that hears, when a noise is asked for more often than
    /// every second, or when there is none that could end; then nothing is changed.
    pub fn noise(&mut self, point: &str, every: Option<Span>) -> Result<(), Refusal> {
        self.refuse_in_lesson()?;
        if every.is_some_and(|every| every < Span::from_seconds(1)) {
            return Err(Refusal::new(
                "a noise is a sound every second at most",
                "say every how many seconds a sound comes",
            ));
        }
        let point = point.trim().to_owned();
        if every.is_none() && self.noise_at(&point).is_none() {
            return Err(Refusal::new(
                format!("there is no noise at `{point}`"),
                "let there be one first",
            ));
        }
        let here = self.now.max(self.acted);
        let mut before = Vec::new();
        for (place, row) in self.rows.iter_mut().enumerate() {
            if let Some(again) = &mut row.again
                && *row.point == *point
                && row.at <= here
                && again.until > here
            {
                before.push((place, *again));
                again.until = here;
            }
        }
        let done = self.put(|at| {
            every.map(|every| Row {
                at,
                after: false,
                point: point.as_str().into(),
                says: "sound".into(),
                again: Some(Again {
                    every,
                    until: Instant::NEVER,
                }),
            })
        });
        if done.is_err() {
            for (place, again) in before {
                self.rows[place].again = Some(again);
            }
        }
        done
    }

    /// Every how often a sound comes at a sensor at the present moment, where there is noise.
    pub(crate) fn noise_at(&self, point: &str) -> Option<Span> {
        let here = self.now.max(self.acted);
        let rows = self.rows.iter().rev().filter(|row| row.at <= here);
        let mut noises = rows
            .filter(|row| *row.point == *point)
            .filter_map(|row| row.again);
        noises.find(|it| it.until > here).map(|it| it.every)
    }

    /// Puts a row behind what was done so far, at a moment of its own, or says no more than that
    /// a noise has ended; what was done later is dropped.
    pub(super) fn put(&mut self, row: impl Fn(Instant) -> Option<Row>) -> Result<(), Refusal> {
        // What was done and has not run yet is not later than now: it is not dropped; nor is it
        // done in the middle of an instant, whose answers belong to what was given so far.
        let here = self.now.max(self.acted).max(self.asked);
        let so_far = self.rows.partition_point(|row| row.at <= here);
        if so_far >= MOST_ROWS {
            return Err(Refusal::new(
                format!("the session has {MOST_ROWS} rows already"),
                "save it, and begin anew",
            ));
        }
        let mut drops = so_far < self.rows.len();
        // What is over need not be read again.
        let mut rows = self.unfinished(so_far);
        for again in rows.iter_mut().filter_map(|(_, row)| row.again.as_mut()) {
            if again.until > here && again.until < Instant::NEVER {
                again.until = Instant::NEVER;
                drops = true;
            }
        }
        let (at, rows, score) = self.read_behind(here, &rows, |at| Some((so_far, row(at)?)))?;
        self.branch += u32::from(drops);
        self.rows.truncate(so_far);
        for (place, row) in rows {
            match self.rows.get_mut(place) {
                Some(known) => *known = row,
                None => self.add(row),
            }
        }
        self.go_by(score);
        self.end = at;
        self.owed = at;
        self.acted = at;
        self.seeking = false;
        self.forget_after(self.now);
        Ok(())
    }

    /// Adds a row. Words that were said before are shared, so that doing the same again and again
    /// takes no more memory.
    fn add(&mut self, mut row: Row) {
        let before = || self.rows.iter().rev();
        if let Some(same) = before().find(|it| it.point == row.point) {
            row.point = Arc::clone(&same.point);
        }
        if let Some(same) = before().find(|it| it.says == row.says) {
            row.says = Arc::clone(&same.says);
        }
        self.rows.push(row);
    }

    /// Reads what goes on and one row more at the next moment at which it may happen: a
    /// millisecond later, or as many as it takes until nothing else happens at its point, such as
    /// the release of a tap before it.
    fn read_behind(
        &self,
        here: Instant,
        before: &[Placed],
        row: impl Fn(Instant) -> Option<Placed>,
    ) -> Result<(Instant, Vec<Placed>, Score), Refusal> {
        let (stage, head) = (&self.stage, &self.head);
        let mut later = 1;
        loop {
            let at = here.after(Span::from_ms(later));
            if at >= self.hold() {
                return Err(Refusal::new(
                    "the session has come to its end: it is as long as any may become",
                    "save it, and go back or begin anew",
                ));
            }
            let rows: Vec<_> = before.iter().cloned().chain(row(at)).collect();
            let read = rows.iter().cloned();
            match Score::going_on(stage, head, read, self.now, at.after(AHEAD), self.seed) {
                Ok(score) => {
                    self.refuse_to_turn_outside(&score, at)?;
                    return Ok((at, rows, score));
                }
                Err(refusal) if refusal.is_two_at_once() && later < LATEST => later += 1,
                Err(refusal) => return Err(refusal),
            }
        }
    }

    /// Those of the first rows that have to be read by whoever goes on from here, each with its
    /// place.
    pub(super) fn unfinished(&self, first: usize) -> Vec<Placed> {
        let places = self.score.unfinished(self.now).into_iter();
        let rows = places.take_while(|place| *place < first);
        rows.map(|place| (place, self.rows[place].clone()))
            .collect()
    }

    /// Goes by other rows from now on.
    pub(super) fn go_by(&mut self, score: Score) {
        if self.begun {
            // Those of an instant that waits for an answer are given already.
            let waiting = self.given.saturating_sub(self.score.acts_through(self.now));
            self.given = score.acts_through(self.now) + waiting;
        }
        self.score = score;
    }
}

/// A row with its place among all that were given.
type Placed = (usize, Row);

/// How many milliseconds a deed waits at most for what happens at its point by itself.
const LATEST: u64 = 8;
