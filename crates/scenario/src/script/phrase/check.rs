//! Reads what must be so at a point.

use std::fmt::Debug;

use device::{Fault, Level};

use super::stimulus::lux;
use super::{Check, Compare, Event, Extent, FrameWord, Scale, State, Total, What};
use crate::diagnostic::nearest;
use crate::script::reader::{Reader, shifted};
use crate::script::time::{Day, moment};
use crate::words::{self, WordError};

/// Reads a check; `None` when the words do not begin one.
pub(super) fn read(reader: &mut Reader<'_>) -> Result<Option<Check>, WordError> {
    if let Some(total) = total(reader)? {
        return Ok(Some(Check::Total(total)));
    }
    if reader.take("stays") {
        let not = reader.take("not");
        let state = state_after_is(reader, not)?;
        return Ok(Some(Check::Stays(state, extent(reader)?)));
    }
    if reader.take("never") {
        return never(reader).map(Some);
    }
    if let Some(state) = state(reader)? {
        return match extent(reader)? {
            Extent::Row => Ok(Some(Check::Is(state))),
            Extent::Within(span) => {
                let event = Event::Is(state);
                Ok(Some(Check::Happens(event, None, Extent::Within(span))))
            }
            extent => Ok(Some(Check::Stays(state, extent))),
        };
    }
    if reader.take("does not change") || reader.take("does not move") {
        return Ok(Some(Check::Never(Event::Changes, extent(reader)?)));
    }
    match happening(reader)? {
        Some((event, count)) => {
            let count = match count {
                Some(count) => Some(count),
                None => times(reader)?,
            };
            Ok(Some(match (event, extent(reader)?) {
                (Happening::Yes(event), extent) => Check::Happens(event, count, extent),
                (Happening::No(event), extent) => Check::Never(event, extent),
            }))
        }
        None => Ok(None),
    }
}

/// `is …`, `asks …`, `shows …`, `relay is …`, `reports …`.
fn state(reader: &mut Reader<'_>) -> Result<Option<State>, WordError> {
    if reader.take("is not") {
        return state_after_is(reader, true).map(Some);
    }
    if reader.take("is") {
        return state_after_is(reader, false).map(Some);
    }
    for (word, scale) in [("asks", Scale::Asked), ("shows", Scale::Light)] {
        if reader.take(word) {
            let not = reader.take("not");
            let what = What::Level(scale, compare(reader, level)?);
            return Ok(Some(State { not, what }));
        }
    }
    let fixed = [
        ("relay is closed", What::Relay(true)),
        ("relay is open", What::Relay(false)),
        ("reports no fault", What::NoFault),
        ("warns", What::Warning),
    ];
    if let Some(what) = reader.one_of(&fixed) {
        return Ok(Some(State { not: false, what }));
    }
    if reader.take("reports") {
        return fault(reader).map(|fault| {
            let what = What::Reports(fault);
            Some(State { not: false, what })
        });
    }
    Ok(None)
}

fn state_after_is(reader: &mut Reader<'_>, not: bool) -> Result<State, WordError> {
    let fixed = [
        ("on", What::On),
        ("off", What::Off),
        ("in warning", What::Warning),
        ("warning", What::Warning),
        ("in setback", What::Setback),
        ("at setback", What::Setback),
        ("occupied", What::Occupied),
        ("vacant", What::Vacant),
        ("unknown", What::Unknown),
        ("closed", What::Closed),
        ("open", What::Open),
        ("latched", What::Latched),
        ("by hand", What::ByHand),
        ("in emergency", What::Emergency),
        ("in the light", What::InTheLight),
        ("in the dark", What::InTheDark),
    ];
    if let Some(what) = reader.one_of(&fixed) {
        return Ok(State { not, what });
    }
    let here = reader.here();
    let mut ahead = reader.clone();
    if let Ok(lux) = compare(&mut ahead, lux) {
        *reader = ahead;
        let what = What::Lux(lux);
        return Ok(State { not, what });
    }
    let comparison = compare(reader, level).map_err(|error| match reader.peek() {
        word if word.is_empty() || word.starts_with(|c: char| c.is_ascii_digit()) => error,
        word => {
            let hint = match nearest(word, fixed.iter().map(|(known, _)| *known)) {
                Some(near) => format!("did you mean `is {near}`?"),
                None => STATES.to_owned(),
            };
            WordError::new(here, format!("`{word}` is not a state"), hint)
        }
    })?;
    let what = What::Level(Scale::Target, comparison);
    Ok(State { not, what })
}

fn never(reader: &mut Reader<'_>) -> Result<Check, WordError> {
    let here = reader.rest_range();
    if let Some(state) = state(reader)? {
        return Ok(Check::Never(Event::Is(state), extent(reader)?));
    }
    match happening(reader)? {
        Some((Happening::Yes(event), None)) => Ok(Check::Never(event, extent(reader)?)),
        _ => Err(WordError::new(
            here,
            "what must never happen is not understood",
            "write `never turns on`, `never is on`, `never changes` or `never sends occupied`",
        )),
    }
}

/// An event that must happen, or must not.
enum Happening {
    Yes(Event),
    No(Event),
}

type Counted = (Happening, Option<Compare<u32>>);

fn happening(reader: &mut Reader<'_>) -> Result<Option<Counted>, WordError> {
    let becomes = |what| Event::Becomes(State { not: false, what });
    let fixed = [
        ("turns on", becomes(What::On)),
        ("turns off", becomes(What::Off)),
        ("changes", Event::Changes),
        ("closes", becomes(What::Closed)),
        ("opens", becomes(What::Open)),
    ];
    if let Some(event) = reader.one_of(&fixed) {
        return Ok(Some((Happening::Yes(event), None)));
    }
    if reader.take("becomes") {
        let not = reader.take("not");
        let state = state_after_is(reader, not)?;
        return Ok(Some((Happening::Yes(Event::Becomes(state)), None)));
    }
    if reader.take("sends") {
        return sends(reader).map(Some);
    }
    if reader.take("hears") {
        return hears(reader).map(|event| Some((Happening::Yes(event), None)));
    }
    Ok(None)
}

fn sends(reader: &mut Reader<'_>) -> Result<Counted, WordError> {
    if reader.take("nothing") || reader.take("no frame") || reader.take("no frames") {
        return Ok((Happening::No(Event::Sends(None)), None));
    }
    let mut ahead = reader.clone();
    if let Some(count) = count(&mut ahead)?
        && (ahead.take("frames") || ahead.take("frame"))
    {
        *reader = ahead;
        return Ok((Happening::Yes(Event::Sends(None)), Some(count)));
    }
    if reader.take("a frame") || reader.take("anything") {
        return Ok((Happening::Yes(Event::Sends(None)), None));
    }
    let word = frame_word(reader)?;
    Ok((Happening::Yes(Event::Sends(Some(word))), None))
}

fn hears(reader: &mut Reader<'_>) -> Result<Event, WordError> {
    let word = if reader.take("a frame") || reader.take("anything") {
        None
    } else {
        Some(frame_word(reader)?)
    };
    let here = reader.here();
    let source = if reader.take("from") {
        reader.word()
    } else {
        None
    };
    match source {
        Some(source) => Ok(Event::Hears(source.to_owned(), word)),
        None => Err(WordError::new(
            here,
            "from which source is missing",
            "write `hears occupied from wall-sensor`",
        )),
    }
}

fn frame_word(reader: &mut Reader<'_>) -> Result<FrameWord, WordError> {
    let fixed = [
        ("occupied", FrameWord::Occupied),
        ("vacant", FrameWord::Vacant),
        ("unknown", FrameWord::Unknown),
        ("card in", FrameWord::CardIn),
        ("card out", FrameWord::CardOut),
        ("wrong card", FrameWord::WrongCard),
        ("illuminance", FrameWord::Illuminance),
        ("in hours", FrameWord::InHours),
        ("after hours", FrameWord::AfterHours),
        ("sweep", FrameWord::Sweep),
        ("time lost", FrameWord::TimeLost),
        ("shed end", FrameWord::ShedEnd),
        ("shed", FrameWord::Shed),
        ("teach-in", FrameWord::TeachIn),
    ];
    if let Some(word) = reader.one_of(&fixed) {
        return Ok(word);
    }
    const STOPS: &[&str] = &["within", "until", "for", "from", "at"];
    if reader.take("down of") {
        return Ok(FrameWord::Down(reader.words_before(STOPS).to_owned()));
    }
    if reader.take("up of") {
        return Ok(FrameWord::Up(reader.words_before(STOPS).to_owned()));
    }
    Err(WordError::new(
        reader.here(),
        format!("`{}` is not a kind of frame", reader.peek()),
        "write `occupied`, `vacant`, `unknown`, `down of BUTTON`, `up of BUTTON`, `card in`, \
         `card out`, `wrong card`, `illuminance`, `in hours`, `after hours`, `sweep`, `shed`, \
         `shed end`, `teach-in`, or a number of frames: `sends 3 frames within 10 min`",
    ))
}

fn fault(reader: &mut Reader<'_>) -> Result<Fault, WordError> {
    let fixed = [
        ("lost", Fault::Lost),
        ("stuck relay", Fault::StuckRelay),
        ("wrong card", Fault::WrongCard),
        ("time lost", Fault::TimeLost),
        ("table full", Fault::TableFull),
        ("not calibrated", Fault::NotCalibrated),
        ("teach-in refused", Fault::TeachInRefused),
    ];
    reader.one_of(&fixed).ok_or_else(|| {
        WordError::new(
            reader.here(),
            format!("`{}` is not a fault that is reported", reader.peek()),
            "write `reports lost`, `reports stuck relay`, `reports wrong card`, \
             `reports time lost`, `reports table full`, `reports not calibrated`, \
             `reports teach-in refused` or `reports no fault`",
        )
    })
}

fn extent(reader: &mut Reader<'_>) -> Result<Extent, WordError> {
    if reader.take("until") {
        return moment(reader, Day::Same).map(Extent::Until);
    }
    if reader.take("for") {
        return reader.span().map(Extent::For);
    }
    if reader.take("within") {
        return reader.span().map(Extent::Within);
    }
    let here = reader.rest_range();
    if reader.take("from") {
        return Err(WordError::new(
            here,
            "a stretch of time stands in the first column",
            "write `[\"08:00 to 09:00\", POINT, \"is on\"]`",
        ));
    }
    Ok(Extent::Row)
}

fn total(reader: &mut Reader<'_>) -> Result<Option<Total>, WordError> {
    if reader.take("used") {
        return compare(reader, energy).map(|value| Some(Total::Energy(value)));
    }
    if reader.take("was on") {
        let mut ahead = reader.clone();
        if let Ok(share) = compare(&mut ahead, level) {
            *reader = ahead;
            reader.take("of the time");
            return Ok(Some(Total::ShareOn(share)));
        }
        return compare(reader, Reader::span).map(|value| Some(Total::TimeOn(value)));
    }
    for (word, on) in [("turned on", true), ("turned off", false)] {
        if reader.take(word) {
            let here = reader.rest_range();
            return match times(reader)? {
                Some(count) => Ok(Some(Total::Turned(on, count))),
                None => Err(WordError::new(
                    here,
                    "how many times is missing",
                    format!("write `{word} 2 times` or `{word} at most 2 times`"),
                )),
            };
        }
    }
    if reader.take("averaged") {
        let mut ahead = reader.clone();
        if let Ok(mean) = compare(&mut ahead, lux) {
            *reader = ahead;
            return Ok(Some(Total::MeanLux(mean)));
        }
        return compare(reader, level).map(|value| Some(Total::MeanLight(value)));
    }
    Ok(None)
}

/// `at most X`, `at least X`, `below X`, `above X`, `between X and Y`, or X.
fn compare<'t, T: Copy + Debug + Ord>(
    reader: &mut Reader<'t>,
    value: fn(&mut Reader<'t>) -> Result<T, WordError>,
) -> Result<Compare<T>, WordError> {
    if reader.take("at most") {
        return value(reader).map(Compare::AtMost);
    }
    if reader.take("at least") {
        return value(reader).map(Compare::AtLeast);
    }
    if reader.take("below") || reader.take("less than") {
        return value(reader).map(Compare::Below);
    }
    if reader.take("above") || reader.take("more than") {
        return value(reader).map(Compare::Above);
    }
    let here = reader.rest_range();
    if reader.take("between") {
        let low = value(reader)?;
        if !reader.take("and") {
            return Err(WordError::new(
                reader.here(),
                "the second of the two values is missing",
                "write `between 40 % and 60 %`",
            ));
        }
        let high = value(reader)?;
        if high < low {
            return Err(WordError::new(
                here,
                "nothing lies between these two values",
                "write the smaller value first",
            ));
        }
        return Ok(Compare::Between(low, high));
    }
    reader.take("at");
    reader.take("exactly");
    value(reader).map(Compare::Exactly)
}

fn level(reader: &mut Reader<'_>) -> Result<Level, WordError> {
    let here = reader.here();
    let fixed = [("full", Level::FULL), ("dark", Level::OFF)];
    if let Some(level) = reader.one_of(&fixed) {
        return Ok(level);
    }
    let text = reader.quantity();
    if text.is_empty() {
        return Err(WordError::new(
            here,
            "a level is missing here",
            "write `50 %`",
        ));
    }
    words::level(text).map_err(|error| shifted(error, here.start))
}

/// Milliwatt-hours.
fn energy(reader: &mut Reader<'_>) -> Result<u64, WordError> {
    let here = reader.here();
    let text = reader.quantity();
    let bad = |start: usize| {
        WordError::new(
            start..(start + text.len()).max(here.end),
            "an amount of energy is missing here",
            "write `120 Wh` or `1.2 kWh`",
        )
    };
    let trimmed = text.trim_end();
    let watts = trimmed.strip_suffix('h').ok_or_else(|| bad(here.start))?;
    let power = words::power(watts).map_err(|_| bad(here.start))?;
    Ok(power.0)
}

/// `3`, `at most 3`, `at least 3`, `exactly 3`.
fn count(reader: &mut Reader<'_>) -> Result<Option<Compare<u32>>, WordError> {
    let mut ahead = reader.clone();
    let counted = compare(&mut ahead, |reader: &mut Reader<'_>| {
        reader.number().ok_or_else(|| {
            WordError::new(reader.here(), "a number is missing here", "write `3 times`")
        })
    });
    match counted {
        Ok(counted) => {
            *reader = ahead;
            Ok(Some(counted))
        }
        Err(_) => Ok(None),
    }
}

/// `once`, `twice`, `3 times`, `at most 3 times`.
fn times(reader: &mut Reader<'_>) -> Result<Option<Compare<u32>>, WordError> {
    let fixed = [
        ("once", Compare::Exactly(1)),
        ("twice", Compare::Exactly(2)),
        ("at most once", Compare::AtMost(1)),
        ("at most twice", Compare::AtMost(2)),
        ("at least once", Compare::AtLeast(1)),
        ("at least twice", Compare::AtLeast(2)),
    ];
    if let Some(count) = reader.one_of(&fixed) {
        return Ok(Some(count));
    }
    let Some(counted) = count(reader)? else {
        return Ok(None);
    };
    if reader.take("times") || reader.take("time") {
        return Ok(Some(counted));
    }
    Err(WordError::new(
        reader.here(),
        "`times` is missing after the number",
        "write `3 times`",
    ))
}

const STATES: &str = "write `is on`, `is off`, `is 50 %`, `is at most 50 %`, `is between 40 % and \
                      60 %`, `is occupied`, `is vacant`, `is in warning`, `is in setback`, `is \
                      closed`, `is open` or `is at least 500 lx`";
