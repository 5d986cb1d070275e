//! The first column of a row: when it happens, or over which stretch of time it holds.
//!
//! Invariant: reading needs no calendar; [`super::civil::Civil`] turns a moment into an instant.

use device::Span;
use jiff::civil::Date;

use super::civil::Occurrence;
use super::reader::{Reader, shifted};
use crate::words::{self, WordError};

/// When a row happens.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct RowTime {
    /// The moment, or where the stretch begins.
    pub from: Moment,
    /// Once, over a stretch, or again and again.
    pub shape: Shape,
    /// Marked `after`: runs after the timers of its instant (ORD-3).
    pub after: bool,
}

/// A moment as a row names it.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Moment {
    /// `08:00:00.010`: what the clock on the wall shows.
    Clock {
        /// On which day.
        day: Day,
        /// How long after midnight.
        time: Span,
        /// `again`: the second time in the night in which the clocks go back.
        which: Occurrence,
    },
    /// `+1 s`: later than the row above.
    Later(Span),
    /// `start`: the start of the scenario.
    Start,
    /// `end`: the end of the scenario.
    End,
}

/// The day of a moment.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Day {
    /// Not written: the first day, or for the end of a stretch the day on which it begins.
    Same,
    /// `day 2`: counted from the day of the start, which is day 1.
    Number(u32),
    /// `2026-03-03`.
    Date(Date),
}

/// Once, over a stretch, or again and again.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Shape {
    /// At the moment itself.
    Once,
    /// `A to B`: the whole stretch, both ends included.
    Stretch(Moment),
    /// `A to B every 30 s`: at A, and every step later up to and including B.
    Every(Moment, Step),
    /// `A every 5 min 10 times`: ten times, first at A.
    Times(Step, u32),
}

/// How far apart repetitions are.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Step {
    /// This much later, by a stopwatch.
    Span(Span),
    /// This many days later, at the same time on the wall.
    Days(u32),
    /// The next Monday to Friday, at the same time on the wall.
    Weekdays,
}

/// Reads the time column of a row.
pub(crate) fn read(text: &str) -> Result<RowTime, WordError> {
    let mut reader = Reader::new(text);
    if reader.is_done() {
        return Err(WordError::new(0..text.len(), "the time is missing", FORMS));
    }
    let from = moment(&mut reader, Day::Same)?;
    let shape = shape(&mut reader)?;
    let after = reader.take("after");
    if !reader.is_done() {
        let left = reader.rest_range();
        if let Some(error) = not_to(text, &mut reader, &left) {
            return Err(error);
        }
        return Err(WordError::new(
            left.clone(),
            format!("`{}` does not belong into a time", &text[left]),
            FORMS,
        ));
    }
    Ok(RowTime { from, shape, after })
}

/// The error for a stretch of time that is written with another word, or sign, than `to`.
fn not_to(text: &str, reader: &mut Reader<'_>, left: &std::ops::Range<usize>) -> Option<WordError> {
    let word = reader.peek();
    let dash = word.starts_with(['-', '\u{2013}']);
    if !dash && !["until", "till", "til", "through", "thru"].contains(&word) {
        return None;
    }
    let what = match dash {
        true => "a dash".to_owned(),
        false => format!("`{word}`"),
    };
    let end = text[left.start + word.len()..].trim();
    let hint = match end.is_empty() {
        true => "write `08:00 to 09:00`".to_owned(),
        false => format!("write `{} to {end}`", text[..left.start].trim()),
    };
    let message = format!("a stretch of time is not written with {what}");
    Some(WordError::new(left.clone(), message, hint))
}

/// Reads the moment at which something inside an event ends: `until 10:00`.
pub(crate) fn moment(reader: &mut Reader<'_>, day: Day) -> Result<Moment, WordError> {
    if reader.take("start") {
        return Ok(Moment::Start);
    }
    if reader.take("end") {
        return Ok(Moment::End);
    }
    if reader.peek().starts_with('+') {
        return later(reader);
    }
    let day = read_day(reader)?.unwrap_or(day);
    let word_range = reader.here();
    let Some(word) = reader.word() else {
        return Err(WordError::new(
            word_range,
            "the time of day is missing",
            FORMS,
        ));
    };
    if word.ends_with("am") || word.ends_with("pm") || reader.take("am") || reader.take("pm") {
        return Err(WordError::new(
            word_range,
            "times are written on the 24-hour clock",
            "write `08:00` for 8 in the morning and `20:00` for 8 in the evening",
        ));
    }
    if ["at", "from"].contains(&word) {
        let hint = format!("leave `{word}` out: `08:00`, `08:00 to 09:00`");
        let message = format!("a time does not begin with `{word}`");
        return Err(WordError::new(word_range, message, hint));
    }
    if let Some((from, to)) = word.split_once(['-', '\u{2013}'])
        && let (Ok(_), Ok(_)) = (time_of_day(from), time_of_day(to))
    {
        let message = "a stretch of time is not written with a dash";
        let hint = format!("write `{from} to {to}`");
        return Err(WordError::new(word_range, message, hint));
    }
    let time = match time_of_day(word) {
        Ok(time) => time,
        Err(error) => return Err(no_time_of_day(word, word_range, error, reader)),
    };
    let which = if reader.take("again") {
        Occurrence::Second
    } else {
        Occurrence::First
    };
    Ok(Moment::Clock { day, time, which })
}

const FORMS: &str = "write a time such as `08:00`, `08:00:00.010`, `+1 s`, `day 2 06:00`, \
                     `08:01 to 10:30 every 30 s`, `start` or `end`; `after` may follow";

/// What is wrong with the word in the place of a time of day; what follows may make it a span.
fn no_time_of_day(
    word: &str,
    place: std::ops::Range<usize>,
    error: WordError,
    reader: &mut Reader<'_>,
) -> WordError {
    let span = format!("{word} {}", words_of_span(reader));
    let span = span.trim();
    if words::span(span).is_err() {
        return shifted(error, place.start);
    }
    let message = format!("`{span}` is a span and not a time of day");
    let hint = format!("write `+{span}`: so long after the row before");
    WordError::new(place, message, hint)
}

/// All words up to where a span ends: `1 h 15 min` of `1 h 15 min to 2 h`.
fn words_of_span(reader: &mut Reader<'_>) -> String {
    let mut words = Vec::new();
    while !reader.is_done() && !["to", "every", "after"].contains(&reader.peek()) {
        words.extend(reader.word());
    }
    words.join(" ")
}

fn later(reader: &mut Reader<'_>) -> Result<Moment, WordError> {
    let start = reader.position();
    let whole = reader.rest_range();
    // Number and unit stand apart or together: `+1 s`, `+90s`, `+1 h 15 min`.
    let text = words_of_span(reader);
    let text = text.trim_start_matches('+').trim();
    if text.is_empty() {
        return Err(WordError::new(
            whole,
            "how much later is missing",
            "write `+1 s`",
        ));
    }
    let end = whole.end.min(start + text.len() + 1);
    let span =
        words::span(text).map_err(|error| WordError::new(start..end, error.message, error.hint))?;
    Ok(Moment::Later(span))
}

fn read_day(reader: &mut Reader<'_>) -> Result<Option<Day>, WordError> {
    if reader.take("day") {
        let here = reader.here();
        return match reader.number() {
            Some(number @ 1..=3660) => Ok(Some(Day::Number(number))),
            Some(_) => Err(WordError::new(
                here,
                "days are counted from 1 to 3660",
                "the day of the start is `day 1`",
            )),
            None => Err(WordError::new(
                here,
                "the number of the day is missing",
                "write `day 2 06:00`; the day of the start is `day 1`",
            )),
        };
    }
    let word = reader.peek();
    if word.len() == 10 && word.matches('-').count() == 2 {
        let here = reader.here();
        let date = words::date(word).map_err(|error| shifted(error, here.start))?;
        reader.word();
        return Ok(Some(Day::Date(date)));
    }
    Ok(None)
}

fn shape(reader: &mut Reader<'_>) -> Result<Shape, WordError> {
    if reader.take("to") {
        let end = moment(reader, Day::Same)?;
        if reader.take("every") {
            return Ok(Shape::Every(end, step(reader)?));
        }
        return Ok(Shape::Stretch(end));
    }
    if !reader.take("every") {
        return Ok(Shape::Once);
    }
    let step = step(reader)?;
    let here = reader.here();
    let number = reader.number();
    match number {
        Some(count @ 1..=100_000) if reader.take("times") || reader.take("time") => {
            Ok(Shape::Times(step, count))
        }
        Some(_) => Err(WordError::new(
            here,
            "up to 100000 repetitions can be written",
            "write `08:00 every 5 min 10 times`",
        )),
        None => Err(WordError::new(
            here,
            "how often, or until when, is missing",
            "write `08:00 every 5 min 10 times` or `08:00 to 09:00 every 5 min`",
        )),
    }
}

fn step(reader: &mut Reader<'_>) -> Result<Step, WordError> {
    let here = reader.here();
    if reader.take("day") {
        return Ok(Step::Days(1));
    }
    if reader.take("weekday") {
        return Ok(Step::Weekdays);
    }
    let mut ahead = reader.clone();
    if let Some(days @ 1..=366) = ahead.number()
        && (ahead.take("days") || ahead.take("day"))
    {
        *reader = ahead;
        return Ok(Step::Days(days));
    }
    let span = match reader.peek() {
        // `every hour`, `every minute`.
        "hour" | "minute" | "second" => {
            let unit = reader.word().unwrap_or_default();
            Span::from_ms(match unit {
                "hour" => 3_600_000,
                "minute" => 60_000,
                _ => 1_000,
            })
        }
        _ => reader.span()?,
    };
    if span.is_zero() {
        return Err(WordError::new(
            here,
            "a repetition needs a step longer than nothing",
            "write `every 30 s`",
        ));
    }
    Ok(Step::Span(span))
}

/// `8:00`, `08:00:00`, `08:00:00.010`, `24:00`, as a span after midnight.
pub(crate) fn time_of_day(word: &str) -> Result<Span, WordError> {
    words::time_of_day(word).map(|time| Span::from_ms(u64::from(time.0)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn clock(day: Day, time: &str) -> Moment {
        Moment::Clock {
            day,
            time: time_of_day(time).unwrap(),
            which: Occurrence::First,
        }
    }

    #[test]
    fn every_form_of_a_moment_is_read() {
        let eight = clock(Day::Same, "08:00");
        let half_past_ten = clock(Day::Same, "10:30");
        let seconds = |n| Span::from_seconds(n);
        let cases = [
            ("08:00", eight, Shape::Once, false),
            ("8:00", eight, Shape::Once, false),
            (
                "08:00:00.010",
                clock(Day::Same, "08:00:00.010"),
                Shape::Once,
                false,
            ),
            ("+1 s", Moment::Later(seconds(1)), Shape::Once, false),
            ("+ 90s", Moment::Later(seconds(90)), Shape::Once, false),
            (
                "+1 h 15 min after",
                Moment::Later(Span::from_minutes(75)),
                Shape::Once,
                true,
            ),
            (
                "day 2 06:00",
                clock(Day::Number(2), "06:00"),
                Shape::Once,
                false,
            ),
            ("08:00 after", eight, Shape::Once, true),
            (
                "08:00 to 10:30",
                eight,
                Shape::Stretch(half_past_ten),
                false,
            ),
        ];
        for (text, from, shape, after) in cases {
            assert_eq!(read(text), Ok(RowTime { from, shape, after }), "{text}");
        }
    }

    #[test]
    fn every_form_of_a_repetition_is_read() {
        let eight = clock(Day::Same, "08:00");
        let half_past_ten = clock(Day::Same, "10:30");
        let seconds = |n| Span::from_seconds(n);
        let cases = [
            (
                "08:00 to 10:30 every 30 s",
                eight,
                Shape::Every(half_past_ten, Step::Span(seconds(30))),
                false,
            ),
            (
                "08:00 to +2 h every 5 min",
                eight,
                Shape::Every(
                    Moment::Later(Span::from_hours(2)),
                    Step::Span(Span::from_minutes(5)),
                ),
                false,
            ),
            (
                "08:00 every 5 min 10 times",
                eight,
                Shape::Times(Step::Span(Span::from_minutes(5)), 10),
                false,
            ),
            (
                "08:00 every weekday 10 times",
                eight,
                Shape::Times(Step::Weekdays, 10),
                false,
            ),
            (
                "08:00 every 2 days 3 times",
                eight,
                Shape::Times(Step::Days(2), 3),
                false,
            ),
            (
                "08:00 every hour 3 times",
                eight,
                Shape::Times(Step::Span(Span::from_hours(1)), 3),
                false,
            ),
            ("start", Moment::Start, Shape::Once, false),
            (
                "start to end",
                Moment::Start,
                Shape::Stretch(Moment::End),
                false,
            ),
        ];
        for (text, from, shape, after) in cases {
            assert_eq!(read(text), Ok(RowTime { from, shape, after }), "{text}");
        }
    }

    #[test]
    fn a_date_and_the_second_of_two_equal_times_are_read() {
        let read = read("2026-10-25 02:30 again").unwrap();
        let date = jiff::civil::date(2026, 10, 25);
        let expected = Moment::Clock {
            day: Day::Date(date),
            time: time_of_day("02:30").unwrap(),
            which: Occurrence::Second,
        };
        assert_eq!(read.from, expected);
    }

    #[test]
    fn what_is_not_a_time_is_refused_where_it_stands() {
        let cases = [
            ("", "missing"),
            ("25:00", "no time"),
            ("08:60", "no time"),
            ("08", "not a time"),
            ("08:00.5", "not a time"),
            ("8 pm", "24-hour"),
            ("8pm", "24-hour"),
            ("+", "how much later"),
            ("+soon", "span"),
            ("08:00 to", "time of day is missing"),
            ("08:00 every 5 min", "how often"),
            ("08:00 every", "missing"),
            ("08:00 every 0 s 3 times", "longer than nothing"),
            ("08:00 every 5 min 0 times", "100000"),
            ("day 06:00", "number of the day"),
            ("day 0 06:00", "from 1"),
            ("2026-02-30 06:00", "no day"),
            ("08:00 afterwards", "does not belong"),
            ("24:00:01", "no time"),
        ];
        for (text, part) in cases {
            let trouble = read(text).unwrap_err();
            assert!(
                trouble.message.contains(part),
                "{text}: {}",
                trouble.message
            );
            assert!(
                trouble.range.end <= text.len(),
                "{text}: {:?}",
                trouble.range
            );
        }
    }
}
