//! Numbers with units: spans, levels, light, watts, amps, volts, lengths.

use device::{Illuminance, Level, Points, Span};

use super::WordError;

/// Power in whole milliwatts.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct Power(pub u64);

/// Current in whole milliamperes.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct Current(pub u64);

/// Voltage in whole millivolts.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct Potential(pub u64);

/// A length in whole millimetres.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct Length(pub u64);

/// What a contact or a dimmer may carry.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Rating {
    /// So much current, whatever the voltage.
    Current(Current),
    /// So much power.
    Power(Power),
}

/// A span: `15 min`, `1 h 30 min`, `0.5 s`, `250 ms`, `2 days`.
///
/// # Errors
/// When the text is not one or more numbers with units of time.
pub fn span(text: &str) -> Result<Span, WordError> {
    const UNITS: &[Unit] = &[
        Unit(&["ms", "millisecond", "milliseconds"], 1),
        Unit(&["s", "sec", "second", "seconds"], 1_000),
        Unit(&["min", "minute", "minutes"], 60_000),
        Unit(&["h", "hour", "hours"], 3_600_000),
        Unit(&["day", "days"], 86_400_000),
    ];
    sum(text, UNITS, "a span of time", "15 min").map(Span::from_ms)
}

/// A level: `50 %`, `12.5 %`; `off` is 0 % and `full` is 100 %.
///
/// # Errors
/// When the text is not a share from 0 to 100 %.
pub fn level(text: &str) -> Result<Level, WordError> {
    match text.trim() {
        "off" => return Ok(Level::OFF),
        "full" => return Ok(Level::FULL),
        _ => {}
    }
    per_cent(text, "a level", "50 %").map(Level::from_hundredths)
}

/// A share: `2 %`, `0.35 %`, in parts of 10 000.
///
/// # Errors
/// When the text is not a share from 0 to 100 %.
pub fn share(text: &str) -> Result<u32, WordError> {
    per_cent(text, "a share", "2 %").map(u32::from)
}

/// The same to the millionth of a per cent: how far a clock is off; in parts of 100 000 000.
///
/// # Errors
/// When the text is not a share from 0 to 100 %.
pub fn fine_share(text: &str) -> Result<u32, WordError> {
    const UNITS: &[Unit] = &[Unit(PER_CENT, 1_000_000)];
    let (what, example) = ("a share", "3 %");
    let value = one(text, UNITS, what, example)?;
    up_to_all(text, value, 100_000_000, example)
}

/// A difference of levels: `15 points`; `15 %` is understood as points too.
///
/// # Errors
/// When the text is not a number of points from 0 to 100.
pub fn points(text: &str) -> Result<Points, WordError> {
    const UNITS: &[Unit] = &[Unit(&["points", "point", "%"], 100)];
    let value = one(text, UNITS, "a number of points", "15 points")?;
    match u16::try_from(value) {
        Ok(hundredths @ 0..=10_000) => Ok(Points::from_hundredths(hundredths)),
        _ => Err(WordError::whole(
            text,
            format!("`{}` is more than 100 points", text.trim()),
            "write a number from 0 to 100: \"15 points\"",
        )),
    }
}

/// An illuminance: `500 lx`, `50 fc` (1 fc = 10.764 lx).
///
/// # Errors
/// When the text is not an illuminance below 40 million lx.
pub fn illuminance(text: &str) -> Result<Illuminance, WordError> {
    // In 0.001 lx, because a foot-candle is 10.764 lx.
    const UNITS: &[Unit] = &[
        Unit(&["lx", "lux"], 1_000),
        Unit(&["fc", "foot-candle", "foot-candles"], 10_764),
    ];
    let value = one(text, UNITS, "an illuminance", "500 lx")? / 10;
    let hundredths = u32::try_from(value).map_err(|_| too_large(text, "500 lx"))?;
    Ok(Illuminance::from_hundredths(hundredths))
}

/// Power: `96 W`, `1.5 kW`.
///
/// # Errors
/// When the text is not a number of watts.
pub fn power(text: &str) -> Result<Power, WordError> {
    one(text, WATTS, "a power", "96 W").map(Power)
}

/// A voltage: `120 V`.
///
/// # Errors
/// When the text is not a number of volts.
pub fn voltage(text: &str) -> Result<Potential, WordError> {
    const UNITS: &[Unit] = &[Unit(&["V", "volt", "volts"], 1_000)];
    one(text, UNITS, "a voltage", "120 V").map(Potential)
}

/// A rating: `11.5 A` or `600 W`.
///
/// # Errors
/// When the text is neither a current nor a power.
pub fn rating(text: &str) -> Result<Rating, WordError> {
    const AMPS: &[Unit] = &[Unit(&["A", "amp", "amps"], 1_000), Unit(&["mA"], 1)];
    if text.trim_end().ends_with(['W', 'w']) || text.trim_end().ends_with("watts") {
        return one(text, WATTS, "a rating", "11.5 A").map(|power| Rating::Power(Power(power)));
    }
    match one(text, AMPS, "a rating", "11.5 A") {
        Ok(current) => Ok(Rating::Current(Current(current))),
        Err(error) => Err(WordError {
            hint: "write a current or a power: \"11.5 A\", \"600 W\"".to_owned(),
            ..error
        }),
    }
}

/// A length: `0.7 m`, `70 cm`, `12 ft`, `6 ft 6 in`.
///
/// # Errors
/// When the text is not one or more numbers with units of length.
pub fn length(text: &str) -> Result<Length, WordError> {
    // In 0.1 mm, because an inch is 25.4 mm.
    const UNITS: &[Unit] = &[
        Unit(&["mm"], 10),
        Unit(&["cm"], 100),
        Unit(&["m", "metre", "metres", "meter", "meters"], 10_000),
        Unit(&["in", "inch", "inches"], 254),
        Unit(&["ft", "foot", "feet"], 3_048),
    ];
    sum(text, UNITS, "a length", "2.4 m").map(|tenths| Length((tenths + 5) / 10))
}

/// The spellings of a unit, and how many of the smallest unit it holds.
struct Unit(&'static [&'static str], u64);

const WATTS: &[Unit] = &[
    Unit(&["W", "watt", "watts"], 1_000),
    Unit(&["kW"], 1_000_000),
];

fn per_cent(text: &str, what: &str, example: &str) -> Result<u16, WordError> {
    const UNITS: &[Unit] = &[Unit(PER_CENT, 100)];
    let value = one(text, UNITS, what, example)?;
    up_to_all(text, value, 10_000, example)
}

/// The signs of a share.
const PER_CENT: &[&str] = &["%", "percent", "per cent"];

/// A share that is no more than this, which is 100 %.
fn up_to_all<T: TryFrom<u64>>(
    text: &str,
    value: u64,
    all: u64,
    example: &str,
) -> Result<T, WordError> {
    let share = (value <= all).then_some(value);
    share.and_then(|it| T::try_from(it).ok()).ok_or_else(|| {
        WordError::whole(
            text,
            format!("`{}` is more than 100 %", text.trim()),
            format!("write a number from 0 to 100 with its per cent sign: \"{example}\""),
        )
    })
}

/// One number with one unit.
fn one(text: &str, units: &[Unit], what: &str, example: &str) -> Result<u64, WordError> {
    let mut rest = Rest {
        text,
        at: 0,
        unit: 0,
    };
    let value = rest.quantity(units, what, example)?;
    rest.skip_space();
    if rest.at < text.len() {
        return Err(WordError::new(
            rest.at..text.len(),
            format!("`{}` is left over after {what}", &text[rest.at..]),
            format!("write one number and its unit: \"{example}\""),
        ));
    }
    Ok(value)
}

/// One or more numbers with units, each unit smaller than the one before.
fn sum(text: &str, units: &[Unit], what: &str, example: &str) -> Result<u64, WordError> {
    let mut rest = Rest {
        text,
        at: 0,
        unit: 0,
    };
    let mut total: u64 = 0;
    let mut last_unit = u64::MAX;
    loop {
        let start = rest.at;
        let value = rest.quantity(units, what, example)?;
        if rest.unit >= last_unit {
            return Err(WordError::new(
                start..rest.at,
                format!("the units of {what} get smaller from left to right"),
                format!("write the larger unit first, each once: \"{example}\""),
            ));
        }
        last_unit = rest.unit;
        total = total
            .checked_add(value)
            .ok_or_else(|| too_large(text, example))?;
        rest.skip_space();
        if rest.at >= text.len() {
            return Ok(total);
        }
    }
}

fn too_large(text: &str, example: &str) -> WordError {
    let message = format!("`{}` is too large", text.trim());
    WordError::whole(text, message, format!("write something like \"{example}\""))
}

struct Rest<'a> {
    text: &'a str,
    at: usize,
    /// The size of the unit read last.
    unit: u64,
}

impl Rest<'_> {
    fn skip_space(&mut self) {
        let rest = &self.text[self.at..];
        self.at += rest.len() - rest.trim_start().len();
    }

    fn quantity(&mut self, units: &[Unit], what: &str, example: &str) -> Result<u64, WordError> {
        self.skip_space();
        let start = self.at;
        let (whole, tenths, digits) = self.number(what, example)?;
        self.skip_space();
        let unit_start = self.at;
        let rest = &self.text[unit_start..];
        let length = rest
            .find(|c: char| c.is_ascii_digit() || c == '.' || c == ',')
            .unwrap_or(rest.len());
        let word = rest[..length].trim_end();
        self.at += word.len();
        let known = |unit: &&Unit| unit.0.contains(&word);
        let Some(unit) = units.iter().find(known) else {
            return Err(no_unit(self.text, start, unit_start, word, units, what));
        };
        self.unit = unit.1;
        let part = tenths.checked_mul(unit.1).filter(|part| part % digits == 0);
        let Some(part) = part else {
            return Err(WordError::new(
                start..self.at,
                format!(
                    "`{}` has too many digits after the point",
                    &self.text[start..self.at]
                ),
                format!("round it: \"{example}\""),
            ));
        };
        whole
            .checked_mul(unit.1)
            .and_then(|whole| whole.checked_add(part / digits))
            .ok_or_else(|| too_large(self.text, example))
    }

    /// The whole part, the part after the point, and how many of it make a whole.
    fn number(&mut self, what: &str, example: &str) -> Result<(u64, u64, u64), WordError> {
        let start = self.at;
        let rest = &self.text[start..];
        // A group of three digits may be set off by a space: `1 500 W`.
        let bytes = rest.as_bytes();
        let digit = |at: usize| bytes.get(at).is_some_and(u8::is_ascii_digit);
        let mut end = 0;
        while digit(end) {
            end += 1;
        }
        if (1..=3).contains(&end) {
            let group = |at: usize| bytes.get(at) == Some(&b' ') && (1..=3).all(|n| digit(at + n));
            while group(end) && !digit(end + 4) {
                end += 4;
            }
        }
        let whole_text: String = rest[..end].chars().filter(char::is_ascii_digit).collect();
        let mut part_text = "";
        if bytes.get(end) == Some(&b'.') && digit(end + 1) {
            let part = end + 1;
            end = part;
            while digit(end) {
                end += 1;
            }
            part_text = &rest[part..end];
        } else if bytes.get(end) == Some(&b',') {
            return Err(WordError::new(
                start..start + end + 1,
                format!("a comma in {what}"),
                "write a point before tenths and nothing between thousands: \"0.5\", \"1500\"",
            ));
        }
        if whole_text.is_empty() {
            let negative = rest.starts_with('-');
            return Err(WordError::new(
                start..self.text.len(),
                if negative {
                    format!("{what} cannot be negative")
                } else {
                    format!("`{}` is not {what}", self.text.trim())
                },
                format!("write a number and its unit: \"{example}\""),
            ));
        }
        self.at = start + end;
        let part_text = part_text.trim_end_matches('0');
        let digits = u32::try_from(part_text.len())
            .ok()
            .and_then(|count| 10_u64.checked_pow(count));
        let part = if part_text.is_empty() {
            Ok(0)
        } else {
            part_text.parse()
        };
        match (whole_text.parse(), part, digits) {
            (Ok(whole), Ok(part), Some(digits)) => Ok((whole, part, digits)),
            _ => Err(too_large(self.text, example)),
        }
    }
}

fn no_unit(
    text: &str,
    start: usize,
    unit_start: usize,
    word: &str,
    units: &[Unit],
    what: &str,
) -> WordError {
    let number = text[start..unit_start].trim_end();
    let spellings = crate::diagnostic::one_of(units.iter().map(|unit| unit.0[0]));
    if word.is_empty() {
        let message = format!("`{number}` has no unit");
        let hint = format!("add the unit of {what}: {spellings}");
        return WordError::new(start..unit_start, message, hint);
    }
    let range = unit_start..unit_start + word.len();
    let near = units
        .iter()
        .flat_map(|unit| unit.0)
        .find(|known| known.eq_ignore_ascii_case(word));
    let symbol = units
        .iter()
        .find(|unit| near.is_some_and(|near| unit.0.contains(near)));
    let hint = match symbol {
        Some(unit) => format!("write \"{number} {}\"", unit.0[0]),
        None => format!("units of {what} are {spellings}"),
    };
    WordError::new(range, format!("`{word}` is not a unit of {what}"), hint)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spans_are_read_as_people_write_them() {
        let ms = |text| span(text).map(Span::as_ms);
        assert_eq!(ms("15 min"), Ok(900_000));
        assert_eq!(ms("0.5 s"), Ok(500));
        assert_eq!(ms("0.010 s"), Ok(10));
        assert_eq!(ms("1 h 15 min"), Ok(4_500_000));
        assert_eq!(ms(" 15min "), Ok(900_000));
        assert_eq!(ms("1.5 hours"), Ok(5_400_000));
        assert_eq!(ms("0 s"), Ok(0));
        assert_eq!(ms("9 days"), Ok(777_600_000));
        assert_eq!(ms("1 h 0.010 s"), Ok(3_600_010));
    }

    #[test]
    fn a_span_prints_and_reads_back() {
        for ms in [0, 1, 999, 1_000, 61_000, 4_500_010, 86_400_000, 90_061_001] {
            let text = Span::from_ms(ms).to_string();
            assert_eq!(span(&text), Ok(Span::from_ms(ms)), "{text}");
        }
    }

    #[test]
    fn a_bad_span_says_what_and_where() {
        let bad = |text| span(text).map_err(|e| (e.message, e.range)).unwrap_err();
        assert_eq!(bad("15"), ("`15` has no unit".into(), 0..2));
        assert_eq!(bad("15 minuets").1, 3..10);
        assert_eq!(bad("-5 min").0, "a span of time cannot be negative");
        assert_eq!(bad("5 min 5 min").1, 6..11);
        assert_eq!(bad("").0, "`` is not a span of time");
        assert_eq!(bad("0.0001 s").1, 0..8);
        assert_eq!(bad("1,5 s").0, "a comma in a span of time");
        assert!(bad("99999999999999999999 s").0.contains("too large"));
        assert!(bad("999999999999999999 h").0.contains("too large"));
        assert_eq!(span("5 MIN").unwrap_err().hint, "write \"5 min\"");
    }

    #[test]
    fn levels_are_shares_of_full_light() {
        assert_eq!(level("50 %"), Ok(Level::from_percent(50)));
        assert_eq!(level("12.34%"), Ok(Level::from_hundredths(1_234)));
        assert_eq!(level("off"), Ok(Level::OFF));
        assert_eq!(level("full"), Ok(Level::FULL));
        assert_eq!(level("100 %"), Ok(Level::FULL));
        assert!(
            level("100.01 %")
                .unwrap_err()
                .message
                .contains("more than 100")
        );
        assert!(level("12.345 %").is_err());
        assert!(level("50").unwrap_err().hint.contains('%'));
        assert!(level("50 % %").is_err());
    }

    #[test]
    fn loads_and_ratings_are_exact() {
        assert_eq!(power("96 W"), Ok(Power(96_000)));
        assert_eq!(power("1 500 W"), Ok(Power(1_500_000)));
        assert_eq!(power("1.38 kW"), Ok(Power(1_380_000)));
        assert_eq!(power("12 345 678 W"), Ok(Power(12_345_678_000)));
        assert!(power("1 50 W").is_err());
        assert!(power("1 5000 W").is_err());
        assert_eq!(rating("11.5 A"), Ok(Rating::Current(Current(11_500))));
        assert_eq!(rating("600 W"), Ok(Rating::Power(Power(600_000))));
        assert!(rating("11.5").is_err());
        assert_eq!(voltage("277 V"), Ok(Potential(277_000)));
    }

    #[test]
    fn light_and_lengths_take_both_families_of_units() {
        assert_eq!(illuminance("500 lx"), Ok(Illuminance::from_lux(500)));
        assert_eq!(illuminance("1 fc"), Ok(Illuminance::from_hundredths(1_076)));
        assert_eq!(length("0.7 m"), Ok(Length(700)));
        assert_eq!(length("6 ft 6 in"), Ok(Length(1_981)));
        assert_eq!(length("12 ft"), Ok(Length(3_658)));
        assert_eq!(points("15 points"), Ok(Points::from_hundredths(1_500)));
        assert!(points("101 points").is_err());
        assert_eq!(share("0.35 %"), Ok(35));
    }
}
