//! Times of day and dates.

use jiff::civil::Date;

use super::WordError;

/// A time of day in milliseconds after midnight; at most 24:00.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct TimeOfDay(pub u32);

/// A time of day: `08:00`, `8:00`, `08:00:30`, `08:00:30.250`; `24:00` is the end of the day.
///
/// # Errors
/// When the text is not a time of day.
pub fn time_of_day(text: &str) -> Result<TimeOfDay, WordError> {
    let text_trimmed = text.trim();
    if says_half_of_day(text) {
        return Err(WordError::whole(
            text,
            format!("`{text_trimmed}` is not on the 24-hour clock"),
            "write 8 pm as \"20:00\", and 10 pm as \"22:00\"",
        ));
    }
    let (clock, fraction) = match text_trimmed.split_once('.') {
        Some((clock, fraction)) => (clock, Some(fraction)),
        None => (text_trimmed, None),
    };
    let parts: Vec<&str> = clock.split(':').collect();
    let number = |part: &str| match part.len() {
        1..=2 if part.bytes().all(|byte| byte.is_ascii_digit()) => part.parse::<u32>().ok(),
        _ => None,
    };
    let fraction_ms = match fraction {
        None => Some(0),
        Some(digits) if digits.len() <= 3 && parts.len() == 3 && !digits.is_empty() => digits
            .bytes()
            .all(|byte| byte.is_ascii_digit())
            .then(|| format!("{digits:0<3}").parse::<u32>().ok())
            .flatten(),
        Some(_) => None,
    };
    let (hour, minute, second) = match parts.as_slice() {
        [hour, minute] if minute.len() == 2 => (number(hour), number(minute), Some(0)),
        [hour, minute, second] if minute.len() == 2 && second.len() == 2 => {
            (number(hour), number(minute), number(second))
        }
        _ => (None, None, None),
    };
    let (Some(hour), Some(minute), Some(second), Some(ms)) = (hour, minute, second, fraction_ms)
    else {
        return Err(WordError::whole(
            text,
            format!("`{text_trimmed}` is not a time of day"),
            "write hours and minutes, and seconds if needed: \"08:00\", \"17:30:15\"",
        ));
    };
    let time = ((hour * 60 + minute) * 60 + second) * 1_000 + ms;
    if minute > 59 || second > 59 || time > 86_400_000 {
        return Err(WordError::whole(
            text,
            format!("there is no time `{text_trimmed}`"),
            "a day goes from \"00:00\" to \"24:00\"",
        ));
    }
    Ok(TimeOfDay(time))
}

/// Whether a text ends as times of the 12-hour clock do.
pub(crate) fn says_half_of_day(text: &str) -> bool {
    let lower = text.trim().to_ascii_lowercase();
    let before = lower.strip_suffix("am").or(lower.strip_suffix("pm"));
    before.is_some_and(|before| before.trim_end().ends_with(|c: char| c.is_ascii_digit()))
}

/// A date: `2026-03-02` (year, month, day).
///
/// # Errors
/// When the text is not a date of the calendar.
pub fn date(text: &str) -> Result<Date, WordError> {
    let trimmed = text.trim();
    let shape = trimmed.len() == 10
        && trimmed.bytes().enumerate().all(|(at, byte)| match at {
            4 | 7 => byte == b'-',
            _ => byte.is_ascii_digit(),
        });
    if !shape {
        return Err(WordError::whole(
            text,
            format!("`{trimmed}` is not a date"),
            "write year, month and day: \"2026-03-02\"",
        ));
    }
    let field = |from: usize, to: usize| trimmed[from..to].parse::<i16>().unwrap_or(0);
    let (month, day) = (field(5, 7), field(8, 10));
    let date = i8::try_from(month)
        .ok()
        .zip(i8::try_from(day).ok())
        .and_then(|(month, day)| Date::new(field(0, 4), month, day).ok());
    date.ok_or_else(|| {
        WordError::whole(
            text,
            format!("there is no day `{trimmed}`"),
            "write year, month and day of a day that exists: \"2026-03-02\"",
        )
    })
}

/// One or more days: `2026-12-25`, `2026-12-24 to 2027-01-01` (both ends included).
///
/// # Errors
/// When the text is not a date or two dates in order.
pub fn date_range(text: &str) -> Result<(Date, Date), WordError> {
    let Some(at) = text.find(" to ") else {
        return date(text).map(|day| (day, day));
    };
    let first = date(&text[..at])?;
    let shift = at + " to ".len();
    let last = date(&text[shift..]).map_err(|error| {
        WordError::new(
            error.range.start + shift..error.range.end + shift,
            error.message,
            error.hint,
        )
    })?;
    if last < first {
        return Err(WordError::whole(
            text,
            format!("`{}` ends before it begins", text.trim()),
            "write the earlier day first",
        ));
    }
    Ok((first, last))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_of_day_have_two_digits_of_minutes() {
        let ms = |text| time_of_day(text).map(|time| time.0);
        assert_eq!(ms("08:00"), Ok(28_800_000));
        assert_eq!(ms("8:00"), Ok(28_800_000));
        assert_eq!(ms("17:30:15.25"), Ok(63_015_250));
        assert_eq!(ms("24:00"), Ok(86_400_000));
        for bad in [
            "24:00:01",
            "8",
            "08:60",
            "08:0",
            "8:00 pm",
            "",
            "08:00.5",
            "08:00:00.",
            "a:b",
        ] {
            assert!(ms(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn dates_exist_in_the_calendar() {
        assert_eq!(date("2028-02-29"), Ok(jiff::civil::date(2028, 2, 29)));
        for bad in [
            "2026-02-29",
            "2026-2-9",
            "02/03/2026",
            "2026-13-01",
            "",
            "２026-01-0",
        ] {
            assert!(date(bad).is_err(), "{bad}");
        }
        let both = (
            jiff::civil::date(2026, 12, 24),
            jiff::civil::date(2027, 1, 1),
        );
        assert_eq!(date_range("2026-12-24 to 2027-01-01"), Ok(both));
        assert!(date_range("2027-01-01 to 2026-12-24").is_err());
        assert_eq!(date_range("2026-12-24 to x").unwrap_err().range, 14..15);
    }
}
