//! Reads what happens at a point.

use device::{Illuminance, Level, Points, Span, clock};

use super::{Activity, Daylight, Deed, FrameFault, SignalWord};
use crate::script::reader::{Reader, shifted};
use crate::script::time::time_of_day;
use crate::words::{self, WordError};

/// How long a tapped button is down when the row does not say.
pub(super) const TAP: Span = Span::from_ms(100);

/// Reads a deed; `None` when the words do not begin one.
pub(super) fn read(reader: &mut Reader<'_>) -> Result<Option<Deed>, WordError> {
    if let Some(deed) = setting(reader)? {
        return Ok(Some(deed));
    }
    if let Some(deed) = reader.one_of(&fixed()) {
        return Ok(Some(deed));
    }
    if reader.take("clock") {
        return pace(reader).map(|pace| Some(Deed::Clock(pace)));
    }
    if reader.take("tap") {
        return button_with_span(reader, Deed::Tap, Some(TAP)).map(Some);
    }
    if reader.take("hold") {
        return button_with_span(reader, Deed::Hold, None).map(Some);
    }
    if reader.take("press") {
        let here = reader.here();
        if reader.take("and release") {
            let button = reader.rest();
            let whole = format!("tap {button}");
            return Err(WordError::new(
                here,
                "a press and its release are two things that happen",
                format!("write `{}`: up again after 100 ms", whole.trim()),
            ));
        }
        let button = reader.rest();
        if let Some((button, span)) = button.split_once("for ") {
            return Err(WordError::new(
                here,
                "a press has no end of its own",
                format!("write `hold {button}for {span}`, or a row with `release`"),
            ));
        }
        return Ok(Some(Deed::Press(button.to_owned())));
    }
    if reader.take("release") {
        return Ok(Some(Deed::Release(reader.rest().to_owned())));
    }
    if reader.take("set to") {
        return clock_set(reader).map(Some);
    }
    if reader.take("sheds") {
        return shed(reader).map(Some);
    }
    if reader.take("daylight") {
        return daylight(reader).map(|daylight| Some(Deed::Daylight(daylight)));
    }
    if reader.take("walks to") {
        let here = reader.here();
        return match reader.rest() {
            "" => Err(WordError::new(
                here,
                "where to is missing",
                "write `walks to desk-2`",
            )),
            place => Ok(Some(Deed::Person(Activity::WalksTo(place.to_owned())))),
        };
    }
    frames(reader).map(|fault| fault.map(Deed::Frames))
}

fn fixed() -> [(&'static str, Deed); 36] {
    use clock::Entry;
    [
        ("motion", Deed::Motion),
        ("sound", Deed::Sound),
        ("card in", Deed::CardIn),
        ("card out", Deed::CardOut),
        ("wrong card", Deed::WrongCard),
        ("walk test on", Deed::WalkTest(true)),
        ("walk test off", Deed::WalkTest(false)),
        ("teach in", Deed::TeachIn),
        ("learning opens", Deed::Learn { remove: false }),
        ("removing opens", Deed::Learn { remove: true }),
        ("opening", Deed::Due(Entry::Opening)),
        ("closing", Deed::Due(Entry::Closing)),
        ("sweep", Deed::Due(Entry::Sweep)),
        ("set right", Deed::ClockSet(None)),
        ("lost", Deed::Signal(SignalWord::Lost)),
        ("back", Deed::Signal(SignalWord::Back)),
        ("sounds", Deed::Signal(SignalWord::Sounds)),
        ("stops", Deed::Signal(SignalWord::Stops)),
        ("ends", Deed::ShedEnd),
        ("power cut", Deed::Power(false)),
        ("power back", Deed::Power(true)),
        ("battery dead", Deed::Power(false)),
        ("new battery", Deed::Power(true)),
        ("relay sticks closed", Deed::Stuck(Some(true))),
        ("relay sticks open", Deed::Stuck(Some(false))),
        ("relay freed", Deed::Stuck(None)),
        ("clock right", Deed::Clock(sim::Pace::RIGHT)),
        ("frames out of order", Deed::Frames(FrameFault::OutOfOrder)),
        ("frames on time", Deed::Frames(FrameFault::OnTime)),
        ("frames pass", Deed::Frames(FrameFault::Pass)),
        (
            "frames lost",
            Deed::Frames(FrameFault::ShareLost(Level::FULL)),
        ),
        ("enters", Deed::Person(Activity::Enters)),
        ("sits still", Deed::Person(Activity::SitsStill)),
        ("types", Deed::Person(Activity::Types)),
        ("talks", Deed::Person(Activity::Talks)),
        ("leaves", Deed::Person(Activity::Leaves)),
    ]
}

/// `time-delay = 20 min`.
fn setting(reader: &mut Reader<'_>) -> Result<Option<Deed>, WordError> {
    let mut ahead = reader.clone();
    let Some(key) = ahead.word() else {
        return Ok(None);
    };
    if !ahead.take("=") {
        return Ok(None);
    }
    let here = ahead.here();
    let value = ahead.rest();
    if value.is_empty() {
        return Err(WordError::new(
            here,
            format!("the new value of `{key}` is missing"),
            format!("write `{key} = ` and the value as in room.toml"),
        ));
    }
    let value = value.trim_matches('"').to_owned();
    *reader = ahead;
    Ok(Some(Deed::Setting {
        key: key.to_owned(),
        value,
    }))
}

fn button_with_span(
    reader: &mut Reader<'_>,
    deed: fn(String, Span) -> Deed,
    default: Option<Span>,
) -> Result<Deed, WordError> {
    let button = reader.words_before(&["for"]).to_owned();
    let here = reader.rest_range();
    if reader.take("for") {
        let span = reader.span()?;
        if span.is_zero() {
            return Err(WordError::new(
                here,
                "a finger cannot press for no time at all",
                "write how long, such as `hold up for 2 s`",
            ));
        }
        return Ok(deed(button, span));
    }
    match default {
        Some(span) => Ok(deed(button, span)),
        None => Err(WordError::new(
            here,
            "how long the button is held is missing",
            "write `hold up for 2 s`, or `press up` and later `release up`",
        )),
    }
}

fn clock_set(reader: &mut Reader<'_>) -> Result<Deed, WordError> {
    let here = reader.here();
    let time = reader.word().map(time_of_day);
    match time {
        Some(Ok(time)) if time < Span::from_hours(24) => Ok(Deed::ClockSet(Some(time))),
        _ => Err(WordError::new(
            here,
            "the time that the clock is set to is missing",
            "write `set to 09:00`, or `set right`",
        )),
    }
}

fn shed(reader: &mut Reader<'_>) -> Result<Deed, WordError> {
    if reader.is_done() {
        return Ok(Deed::Shed(None));
    }
    let here = reader.here();
    match reader.number() {
        Some(points @ 1..=100) if reader.take("points") || reader.take("%") => {
            let points = u16::try_from(points).expect("it is at most 100");
            Ok(Deed::Shed(Some(Points::from_hundredths(points * 100))))
        }
        _ => Err(WordError::new(
            here,
            "how many points are shed is not understood",
            "write `sheds 20 points` (1 to 100), or `sheds` for the output's own",
        )),
    }
}

/// `3 % fast`, `3 % slow`: how the clock of a device runs.
fn pace(reader: &mut Reader<'_>) -> Result<sim::Pace, WordError> {
    let here = reader.rest_range();
    let at = reader.position();
    let share = reader.quantity();
    let parts = match share {
        "" => None,
        share => Some(words::fine_share(share).map_err(|error| shifted(error, at))?),
    };
    let off = parts.filter(|parts| (1..=FARTHEST).contains(parts));
    let paces = [("fast", true), ("slow", false)];
    match (off, reader.one_of(&paces)) {
        (Some(off), Some(true)) => Ok(sim::Pace::from_parts(sim::Pace::WHOLE - off)),
        (Some(off), Some(false)) => Ok(sim::Pace::from_parts(sim::Pace::WHOLE + off)),
        _ => Err(WordError::new(
            here,
            "how far the clock is off is not understood",
            "write `clock 3 % fast` or `clock 3 % slow` (up to 50 %), or `clock right`",
        )),
    }
}

/// No clock is farther off than by half.
const FARTHEST: u32 = sim::Pace::WHOLE / 2;

fn daylight(reader: &mut Reader<'_>) -> Result<Daylight, WordError> {
    if reader.take("follows") {
        let here = reader.here();
        return match reader.rest() {
            "" => Err(WordError::new(
                here,
                "the name of the curve is missing",
                "write `daylight follows grey-morning` and a table `[curves.grey-morning]`",
            )),
            name => Ok(Daylight::Follows(name.to_owned())),
        };
    }
    if reader.take("arc up to") {
        return lux(reader).map(Daylight::Arc);
    }
    let from = lux(reader)?;
    if reader.take("to") {
        return Ok(Daylight::Line(from, lux(reader)?));
    }
    Ok(Daylight::Is(from))
}

/// Takes an illuminance.
pub(super) fn lux(reader: &mut Reader<'_>) -> Result<Illuminance, WordError> {
    let here = reader.here();
    let text = reader.quantity();
    if text.is_empty() {
        return Err(WordError::new(
            here,
            "an illuminance is missing here",
            "write `300 lx`",
        ));
    }
    words::illuminance(text).map_err(|error| shifted(error, here.start))
}

fn frames(reader: &mut Reader<'_>) -> Result<Option<FrameFault>, WordError> {
    let mut ahead = reader.clone();
    let share = ahead.quantity();
    let ends = [
        (
            "of frames lost",
            FrameFault::ShareLost as fn(Level) -> FrameFault,
        ),
        ("of frames twice", FrameFault::ShareTwice),
    ];
    if !share.is_empty()
        && let Some(fault) = ahead.one_of(&ends)
    {
        let start = reader.position();
        let share = words::level(share).map_err(|error| shifted(error, start))?;
        *reader = ahead;
        return Ok(Some(fault(share)));
    }
    if !reader.take("next") {
        return Ok(None);
    }
    let here = reader.rest_range();
    let count = match reader.number() {
        Some(count @ 1..=10_000) => count,
        Some(_) => return Err(frame_trouble(here)),
        None => 1,
    };
    if !reader.take("frame") && !reader.take("frames") {
        return Err(frame_trouble(here));
    }
    if reader.take("late by") {
        return Ok(Some(FrameFault::Late(count, reader.span()?)));
    }
    let ends = [
        ("lost", FrameFault::Lost(count)),
        ("twice", FrameFault::Twice(count)),
    ];
    reader
        .one_of(&ends)
        .map(Some)
        .ok_or_else(|| frame_trouble(here))
}

fn frame_trouble(range: std::ops::Range<usize>) -> WordError {
    WordError::new(
        range,
        "what happens to the next frames is not understood",
        "write `next frame lost`, `next 3 frames lost`, `next frame twice` \
         or `next frame late by 2 s`",
    )
}
