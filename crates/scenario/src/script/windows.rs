//! The stretches of time that checks look at.

use device::Span;
use sim::Instant;

use super::civil::time_of_day;
use super::expand::{Expander, When};
use super::phrase::{Check, Deed, Extent};
use super::time::{Day, Moment};
use crate::keys::Located;

/// A stretch of time that a check looks at, both ends included; a moment when they are equal.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Window {
    /// Its first instant.
    pub from: Instant,
    /// Its last instant.
    pub to: Instant,
}

impl Expander<'_> {
    /// The release of a button belongs to the run too.
    pub(super) fn reach(&mut self, deed: &Deed, when: &When) {
        if let (Deed::Tap(_, span) | Deed::Hold(_, span), Some(at)) = (deed, when.at.last()) {
            self.last = self.last.max(at.after(*span));
        }
    }

    /// The stretches of time that a check looks at.
    pub(super) fn windows(
        &mut self,
        text: &Located<String>,
        check: &Check,
        when: &When,
        base: Instant,
    ) -> Vec<Window> {
        let extent = match check {
            Check::Stays(_, extent) | Check::Happens(_, _, extent) | Check::Never(_, extent) => {
                *extent
            }
            Check::Is(_) | Check::Total(_) => Extent::Row,
        };
        let lasting = matches!(check, Check::Stays(..) | Check::Never(..));
        if extent == Extent::Row && lasting && when.until.is_none() {
            self.push(
                "row",
                text.place,
                "how long this must be so is missing",
                "add `for 20 min` or `until 10:00`, or write a stretch of time in the first column",
            );
            return Vec::new();
        }
        if extent != Extent::Row && when.until.is_some() {
            self.push(
                "row",
                text.place,
                "how long this must be so is said twice",
                "write the stretch in the first column, or `for`, `until` or `within` here",
            );
            return Vec::new();
        }
        let mut windows = Vec::new();
        for &at in &when.at {
            let (from, to) = match (extent, check) {
                (Extent::Row, Check::Total(_)) if when.until.is_none() => (Instant::START, at),
                (Extent::Row, _) => (at, when.until.unwrap_or(at)),
                (Extent::Within(span), _) => (at, at.after(span)),
                (Extent::For(span), _) => (at, at.after(span.minus(MOMENT))),
                (Extent::Until(moment), _) => match self.until(moment, at, base) {
                    Some(end) if end > at => (at, Instant::from_ms(end.as_ms() - 1)),
                    None if moment == Moment::End && self.end.is_none() => continue,
                    _ => {
                        self.no_until(text);
                        return Vec::new();
                    }
                },
            };
            windows.push(Window { from, to });
        }
        windows
    }

    fn no_until(&mut self, text: &Located<String>) {
        self.push(
            "time",
            text.place,
            "the moment after `until` is not later than the row",
            "write a later moment, with its day if needed: `until day 2 06:00`",
        );
    }

    /// The instant of an `until`, counted from a row at `from`; nothing is reported here.
    fn until(&self, moment: Moment, from: Instant, base: Instant) -> Option<Instant> {
        match moment {
            Moment::Start => Some(base),
            Moment::End => self.end,
            Moment::Later(span) => Some(from.after(span)),
            Moment::Clock { day, time, which } => {
                let date = match day {
                    Day::Same => self.civil.at(from).date(),
                    Day::Number(number) => self.civil.day(number).ok()?,
                    Day::Date(date) => date,
                };
                self.instant_at(time_of_day(date, time)?, which).ok()
            }
        }
    }
}

/// Instants are whole milliseconds, so what ends before a moment ends this much earlier.
const MOMENT: Span = Span::from_ms(1);
