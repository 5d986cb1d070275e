//! The text of one value, read as what its key takes.

use jiff::tz::TimeZoneDatabase;

use super::{Item, Value};
use crate::diagnostic::{nearest, one_of};
use crate::words::{self, WordError};

/// The days of the week, Monday first.
pub(crate) const DAYS: [&str; 7] = [
    "monday",
    "tuesday",
    "wednesday",
    "thursday",
    "friday",
    "saturday",
    "sunday",
];

/// Reads a text as what a key takes.
///
/// Lists read as a list of one; yes and no are accepted as words, because a setting that is
/// changed on site is written in a row and not in TOML.
///
/// # Errors
/// When the text is something else, or outside the bounds.
pub fn parse_text(value: &Value, text: &str) -> Result<Item, WordError> {
    match value {
        Value::Text | Value::Reference => Ok(Item::Text(text.to_owned())),
        Value::Name => words::name(text).map(|name| Item::Text(name.to_owned())),
        Value::YesNo => yes_no(text),
        Value::Count(least, most) => count(text, *least, *most),
        Value::Span(least, most) => {
            bounded(text, words::span(text)?, *least, *most).map(Item::Span)
        }
        Value::SpanOr(_, _, word) | Value::LevelOr(_, _, word) | Value::PointsOr(word)
            if text.trim() == *word =>
        {
            Ok(Item::Word(word))
        }
        Value::SpanOr(least, most, word) => {
            let span = words::span(text).map_err(|error| or_word(error, word))?;
            bounded(text, span, *least, *most).map(Item::Span)
        }
        Value::Level(least, most) => {
            bounded(text, words::level(text)?, *least, *most).map(Item::Level)
        }
        Value::LevelOr(least, most, word) => {
            let level = words::level(text).map_err(|error| or_word(error, word))?;
            bounded(text, level, *least, *most).map(Item::Level)
        }
        Value::Share(least, most) => share(text, *least, *most),
        Value::PointsOr(word) => words::points(text)
            .map(Item::Points)
            .map_err(|error| or_word(error, word)),
        Value::Light(least, most) => {
            bounded(text, words::illuminance(text)?, *least, *most).map(Item::Light)
        }
        Value::Power(most) => power(text, most.0),
        Value::Voltage(least, most) => voltage(text, least.0, most.0),
        Value::Rating => words::rating(text).map(Item::Rating),
        Value::Length(most) => length(text, most.0),
        Value::Word(known) => word(text, known),
        Value::Hours => hours(text),
        Value::Dates => words::date_range(text).map(|(first, last)| Item::Dates(first, last)),
        Value::DayTime => day_time(text),
        Value::Zone => zone(text),
        Value::List(value) | Value::OneOrMany(value) => parse_text(value, text),
        Value::Table(_)
        | Value::Named(_)
        | Value::Many(_)
        | Value::Map(_)
        | Value::Maps(..)
        | Value::Rows => Err(WordError::whole(
            text,
            "a table is asked for here, not a text",
            "write its keys one by one",
        )),
    }
}

fn bounded<T>(text: &str, value: T, least: T, most: T) -> Result<T, WordError>
where
    T: Copy + Ord + std::fmt::Display,
{
    if (least..=most).contains(&value) {
        return Ok(value);
    }
    Err(out_of_range(text, &least.to_string(), &most.to_string()))
}

/// A value outside its bounds; the message is the mark by which its rule is told apart.
fn out_of_range(text: &str, least: &str, most: &str) -> WordError {
    WordError::whole(
        text,
        format!("{} is out of range", text.trim()),
        format!("write a value from {least} to {most}"),
    )
}

fn or_word(mut error: WordError, word: &str) -> WordError {
    error.hint = format!("{}, or \"{word}\"", error.hint);
    error
}

fn yes_no(text: &str) -> Result<Item, WordError> {
    match text.trim() {
        "true" | "yes" => Ok(Item::YesNo(true)),
        "false" | "no" => Ok(Item::YesNo(false)),
        other => Err(WordError::whole(
            text,
            format!("`{other}` is neither true nor false"),
            "write true or false, without quotes",
        )),
    }
}

fn count(text: &str, least: u64, most: u64) -> Result<Item, WordError> {
    let Ok(count) = text.trim().parse::<u64>() else {
        return Err(WordError::whole(
            text,
            format!("`{}` is not a whole number", text.trim()),
            format!("write a number from {least} to {most}, without quotes"),
        ));
    };
    if (least..=most).contains(&count) {
        return Ok(Item::Count(count));
    }
    Err(out_of_range(text, &least.to_string(), &most.to_string()))
}

fn share(text: &str, least: u32, most: u32) -> Result<Item, WordError> {
    let share = words::share(text)?;
    if (least..=most).contains(&share) {
        return Ok(Item::Share(share));
    }
    let shown = |share| device::Level::from_hundredths(u16::try_from(share).unwrap_or(u16::MAX));
    let (least, most) = (shown(least).to_string(), shown(most).to_string());
    Err(out_of_range(text, &least, &most))
}

fn power(text: &str, most: u64) -> Result<Item, WordError> {
    let power = words::power(text)?;
    if power.0 <= most {
        return Ok(Item::Power(power));
    }
    Err(out_of_range(
        text,
        "0 W",
        &format!("{} kW", most / 1_000_000),
    ))
}

fn voltage(text: &str, least: u64, most: u64) -> Result<Item, WordError> {
    let voltage = words::voltage(text)?;
    if (least..=most).contains(&voltage.0) {
        return Ok(Item::Voltage(voltage));
    }
    let (least, most) = (least / 1_000, most / 1_000);
    Err(out_of_range(
        text,
        &format!("{least} V"),
        &format!("{most} V"),
    ))
}

fn length(text: &str, most: u64) -> Result<Item, WordError> {
    let length = words::length(text)?;
    if length.0 <= most {
        return Ok(Item::Length(length));
    }
    Err(out_of_range(text, "0 m", &format!("{} m", most / 1_000)))
}

fn word(text: &str, known: &[&'static str]) -> Result<Item, WordError> {
    let trimmed = text.trim();
    if let Some(word) = known.iter().find(|word| **word == text) {
        return Ok(Item::Word(word));
    }
    let quoted: Vec<String> = known.iter().map(|word| format!("\"{word}\"")).collect();
    let all = one_of(quoted.iter().map(String::as_str));
    let near = nearest(trimmed, known.iter().copied());
    let hint = match (super::meant::word(trimmed, known), near) {
        (Some(meant), _) => meant.to_owned(),
        (None, Some(near)) => format!("did you mean \"{near}\"? Known are {all}"),
        (None, None) => format!("write {all}"),
    };
    let message = format!("`{trimmed}` is not known here");
    Err(WordError::whole(text, message, hint))
}

fn hours(text: &str) -> Result<Item, WordError> {
    if text.trim() == "closed" {
        return Ok(Item::Hours(None));
    }
    let Some(at) = text.find(" to ") else {
        return Err(WordError::whole(
            text,
            format!("`{}` is not a stretch of a day", text.trim()),
            "write two times of day: \"08:00 to 18:00\", or \"closed\"",
        ));
    };
    let shift = at + " to ".len();
    let from = words::time_of_day(&text[..at])?;
    let to = words::time_of_day(&text[shift..]).map_err(|error| shifted(error, shift))?;
    if to <= from {
        return Err(WordError::whole(
            text,
            format!("`{}` ends before it begins", text.trim()),
            "opening hours end on the day they begin: write \"18:00 to 24:00\" and, for the next \
             day, \"00:00 to 02:00\"",
        ));
    }
    Ok(Item::Hours(Some((from, to))))
}

fn day_time(text: &str) -> Result<Item, WordError> {
    let start = text.len() - text.trim_start().len();
    if words::says_half_of_day(text) {
        // `10 pm` would be taken for a day called 10.
        return words::time_of_day(text).map(|time| Item::DayTime(None, time));
    }
    let Some((word, _)) = text.trim().split_once(' ') else {
        return words::time_of_day(text).map(|time| Item::DayTime(None, time));
    };
    let Some(day) = DAYS.iter().position(|day| *day == word) else {
        let hint = match nearest(word, DAYS) {
            Some(near) => format!("did you mean \"{near}\"?"),
            None => "write a time, or a day of the week and a time: \"22:00\", \"saturday 14:00\""
                .to_owned(),
        };
        let message = format!("`{word}` is not a day of the week");
        return Err(WordError::new(start..start + word.len(), message, hint));
    };
    let shift = start + word.len();
    let time = words::time_of_day(&text[shift..]).map_err(|error| shifted(error, shift))?;
    Ok(Item::DayTime(u8::try_from(day).ok(), time))
}

fn zone(text: &str) -> Result<Item, WordError> {
    // The bundled database only, so that a run does not depend on the machine it runs on.
    match TimeZoneDatabase::bundled().get(text.trim()) {
        Ok(_) => Ok(Item::Text(text.trim().to_owned())),
        Err(_) => Err(WordError::whole(
            text,
            format!("there is no time zone `{}`", text.trim()),
            "write a name of the IANA time zone database: \"UTC\", \"America/New_York\"",
        )),
    }
}

fn shifted(error: WordError, by: usize) -> WordError {
    let range = error.range.start + by..error.range.end + by;
    WordError::new(range, error.message, error.hint)
}

#[cfg(test)]
mod tests {
    use super::*;
    use device::Span;

    #[test]
    fn a_value_out_of_bounds_names_the_bounds() {
        let value = Value::Span(Span::from_seconds(30), Span::from_minutes(30));
        assert!(parse_text(&value, "30 s").is_ok());
        assert!(parse_text(&value, "30 min").is_ok());
        let error = parse_text(&value, "29.999 s").unwrap_err();
        assert_eq!(error.message, "29.999 s is out of range");
        assert_eq!(error.hint, "write a value from 30 s to 30 min");
        assert!(parse_text(&value, "30 min 0.001 s").is_err());
    }

    #[test]
    fn a_word_may_stand_for_a_span() {
        let value = Value::SpanOr(Span::ZERO, Span::from_minutes(1), "never");
        assert_eq!(parse_text(&value, "never"), Ok(Item::Word("never")));
        assert!(
            parse_text(&value, "nevr")
                .unwrap_err()
                .hint
                .ends_with("or \"never\"")
        );
    }

    #[test]
    fn days_hours_and_zones_are_checked() {
        assert!(matches!(
            parse_text(&Value::DayTime, "saturday 14:00"),
            Ok(Item::DayTime(Some(5), _))
        ));
        assert_eq!(
            parse_text(&Value::DayTime, "saturdy 14:00")
                .unwrap_err()
                .hint,
            "did you mean \"saturday\"?"
        );
        assert_eq!(
            parse_text(&Value::DayTime, "sunday 25:00")
                .unwrap_err()
                .range,
            6..12
        );
        assert_eq!(parse_text(&Value::Hours, "closed"), Ok(Item::Hours(None)));
        assert!(parse_text(&Value::Hours, "18:00 to 02:00").is_err());
        assert!(parse_text(&Value::Zone, "Europe/Dublin").is_ok());
        assert!(parse_text(&Value::Zone, "Europe/Nowhere").is_err());
    }

    #[test]
    fn a_word_is_corrected_when_it_is_near() {
        let value = Value::Word(&["relay", "0-10 V"]);
        let error = parse_text(&value, "relais").unwrap_err();
        assert_eq!(
            error.hint,
            "did you mean \"relay\"? Known are \"relay\" or \"0-10 V\""
        );
    }
}
