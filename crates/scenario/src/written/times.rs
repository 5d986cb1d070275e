//! Moments and spans as files write them.

use device::Span;
use jiff::civil::{DateTime, Time};
use sim::Instant;

use crate::script::civil::{Civil, CivilError, Occurrence, say_time};

/// `2026-03-02 08:00`.
#[must_use]
pub fn date_and_time(at: DateTime) -> String {
    format!("{} {}", at.date(), time(at.time()))
}

/// `08:00`, `08:00:10`, `day 2 06:00`; the second time in the night in which the clocks go back
/// `02:30 again`.
///
/// # Errors
/// When the calendar does not reach that far.
pub fn moment(civil: &Civil, at: Instant) -> Result<String, CivilError> {
    let shown = civil.at(at);
    let mut said = time(shown.time());
    if civil.instant(shown, Occurrence::First)? != at {
        said.push_str(" again");
    }
    let day = civil.day_number(shown.date());
    Ok(match day {
        1 => said,
        day => format!("day {day} {said}"),
    })
}

/// Minutes where there is nothing less.
fn time(time: Time) -> String {
    match (time.second(), time.millisecond()) {
        (0, 0) => format!("{:02}:{:02}", time.hour(), time.minute()),
        _ => say_time(time),
    }
}

/// `1 h 15 min`, `2.5 s`, `100 ms`.
pub(super) fn span(span: Span) -> String {
    let ms = span.as_ms();
    if ms < 1_000 {
        return format!("{ms} ms");
    }
    let mut parts = Vec::new();
    let (hours, minutes) = (ms / 3_600_000, ms / 60_000 % 60);
    if hours > 0 {
        parts.push(format!("{hours} h"));
    }
    if minutes > 0 {
        parts.push(format!("{minutes} min"));
    }
    let (seconds, rest) = (ms / 1_000 % 60, ms % 1_000);
    match rest {
        0 if seconds == 0 => {}
        0 => parts.push(format!("{seconds} s")),
        _ => {
            let rest = format!("{rest:03}");
            parts.push(format!("{seconds}.{} s", rest.trim_end_matches('0')));
        }
    }
    parts.join(" ")
}

/// A number with two digits behind the point, as short as it can be said: `12.5`.
pub(super) fn hundredths(number: u32) -> String {
    shortest(number / 100, &format!("{:02}", number % 100))
}

/// The same with six.
pub(super) fn millionths(number: u32) -> String {
    shortest(number / 1_000_000, &format!("{:06}", number % 1_000_000))
}

fn shortest(whole: u32, rest: &str) -> String {
    match rest.trim_end_matches('0') {
        "" => whole.to_string(),
        rest => format!("{whole}.{rest}"),
    }
}
