//! The third column of a row: what happens at a point, or what must be so.
//!
//! Invariant: a phrase is read without knowing the room; whether it suits its point, and which
//! button or place it names, is decided when the row meets the room.

mod check;
mod kind;
mod stimulus;

use device::{Fault, Illuminance, Level, Points, Span, clock};

use super::reader::Reader;
use super::time::Moment;
use crate::words::WordError;

pub use kind::PointKind;

/// What a row says of its point.
#[derive(Clone, Debug, Eq, PartialEq)]
pub enum Phrase {
    /// Something happens.
    Deed(Deed),
    /// Something must be so.
    Check(Check),
}

/// Something that happens at a point.
#[derive(Clone, Debug, Eq, PartialEq)]
pub enum Deed {
    /// `motion`.
    Motion,
    /// `sound`.
    Sound,
    /// `tap up`: down now, up after the span [100 ms].
    Tap(String, Span),
    /// `hold up for 2 s`: down now, up after the span.
    Hold(String, Span),
    /// `press up`.
    Press(String),
    /// `release up`.
    Release(String),
    /// `card in`.
    CardIn,
    /// `card out`.
    CardOut,
    /// `wrong card`: a card that does not belong to the room is put in.
    WrongCard,
    /// `walk test on`, `walk test off`.
    WalkTest(bool),
    /// `teach in`: the source sends its teach-in frame.
    TeachIn,
    /// `learning opens`, `removing opens` (`true`): a learning window at an output.
    Learn {
        /// Whether pairs are removed in this window.
        remove: bool,
    },
    /// `opening`, `closing`, `sweep` at a time clock.
    Due(clock::Entry),
    /// `set to 09:00`: somebody sets the clock; `None`: `set right`.
    ClockSet(Option<Span>),
    /// A signal: normal power `lost` (`false`) or `back`, a fire alarm that `sounds` or `stops`.
    Signal(SignalWord),
    /// `sheds`, `sheds 20 points`.
    Shed(Option<Points>),
    /// `ends`: demand response ends.
    ShedEnd,
    /// `power cut` (`false`), `power back`; of a battery `battery dead`, `new battery`.
    Power(bool),
    /// `daylight …`, at the room.
    Daylight(Daylight),
    /// What happens to frames of a source on the bus.
    Frames(FrameFault),
    /// `clock 3 % fast`, `clock 3 % slow`, `clock right`: how a device counts its timers from
    /// now on.
    Clock(sim::Pace),
    /// `relay sticks closed`, `relay sticks open`, `relay freed` (`None`).
    Stuck(Option<bool>),
    /// `time-delay = 20 min`: a setting is changed on site.
    Setting {
        /// The key, as in room.toml.
        key: String,
        /// The value, as written.
        value: String,
    },
    /// What a person does.
    Person(Activity),
}

/// The words of the two-state signals.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum SignalWord {
    /// Normal power is lost.
    Lost,
    /// Normal power is back.
    Back,
    /// The fire alarm sounds.
    Sounds,
    /// The fire alarm stops.
    Stops,
}

/// How the daylight outside changes.
#[derive(Clone, Debug, Eq, PartialEq)]
pub enum Daylight {
    /// `daylight 300 lx`.
    Is(Illuminance),
    /// `daylight 0 lx to 500 lx` over a stretch, in a straight line.
    Line(Illuminance, Illuminance),
    /// `daylight arc up to 20000 lx` over a stretch: half a sine, dark at both ends.
    Arc(Illuminance),
    /// `daylight follows NAME`: a curve of the scenario, from this moment on.
    Follows(String),
}

/// What happens to frames on the bus.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum FrameFault {
    /// `next frame lost`, `next 3 frames lost`.
    Lost(u32),
    /// `20 % of frames lost`, until `frames pass`.
    ShareLost(Level),
    /// `next frame twice`.
    Twice(u32),
    /// `20 % of frames twice`, until `frames pass`.
    ShareTwice(Level),
    /// `next frame late by 2 s`.
    Late(u32, Span),
    /// `frames out of order`: jitter may let a frame overtake an older one, until `frames pass`.
    OutOfOrder,
    /// `frames on time`: without jitter, until `frames pass`.
    OnTime,
    /// `frames pass`: the bus is well again.
    Pass,
}

/// What a person does.
#[derive(Clone, Debug, Eq, PartialEq)]
pub enum Activity {
    /// Comes in, walks to the seat and sits down.
    Enters,
    /// Sits and reads.
    SitsStill,
    /// Works at a keyboard.
    Types,
    /// Speaks.
    Talks,
    /// Walks to a place and stays there.
    WalksTo(String),
    /// Walks out.
    Leaves,
}

/// Something that must be so.
#[derive(Clone, Debug, Eq, PartialEq)]
pub enum Check {
    /// `is on`: at the end of the instant, or throughout the stretch of the row.
    Is(State),
    /// `stays on until 10:00`, `stays on for 20 min`.
    Stays(State, Extent),
    /// `turns off within 5 s`, `turns on 2 times within 1 h`.
    Happens(Event, Option<Compare<u32>>, Extent),
    /// `never turns on for 10 min`, over a stretch `never is on`.
    Never(Event, Extent),
    /// `used at most 120 Wh`: a total from the start, or over the stretch of the row.
    Total(Total),
}

/// How long a check looks.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Extent {
    /// As the time column of the row says.
    Row,
    /// From the row up to this moment, which no longer counts.
    Until(Moment),
    /// From the row for this long; the last moment no longer counts.
    For(Span),
    /// From the row for this long; the last moment still counts.
    Within(Span),
}

/// A state of a point, or its contrary.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct State {
    /// `is not …`.
    pub not: bool,
    /// What is (or is not) so.
    pub what: What,
}

/// What may be so at a point.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum What {
    /// Output: its state is not off.
    On,
    /// Output: its state is off.
    Off,
    /// Output: it warns before going off.
    Warning,
    /// Output: it is at its setback.
    Setback,
    /// Output or occupancy sensor: occupied.
    Occupied,
    /// Output or occupancy sensor: vacant.
    Vacant,
    /// Occupancy sensor: it does not know.
    Unknown,
    /// Contact: closed.
    Closed,
    /// Contact: open.
    Open,
    /// Output: its relay is closed (`true`) or open, whatever was asked.
    Relay(bool),
    /// Output: the latch mark.
    Latched,
    /// Output: the by-hand mark.
    ByHand,
    /// Output: emergency light.
    Emergency,
    /// Output: a level of this scale.
    Level(Scale, Compare<Level>),
    /// Task: an illuminance.
    Lux(Compare<Illuminance>),
    /// Person: there, and some light of the room is on.
    InTheLight,
    /// Person: there, and no light of the room is on.
    InTheDark,
    /// Any: this fault is reported and has not ended.
    Reports(Fault),
    /// Any: no fault is reported.
    NoFault,
}

/// Which of the three levels of an output is meant.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Scale {
    /// `is 50 %`: the target, exact to half a per cent.
    Target,
    /// `asks 50 %`.
    Asked,
    /// `shows 50 %`: the light of the moment.
    Light,
}

/// A comparison with one or two values.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Compare<T> {
    /// This value.
    Exactly(T),
    /// At most this.
    AtMost(T),
    /// At least this.
    AtLeast(T),
    /// Less than this.
    Below(T),
    /// More than this.
    Above(T),
    /// Between these, both included.
    Between(T, T),
}

/// Something that may happen at a point.
#[derive(Clone, Debug, Eq, PartialEq)]
pub enum Event {
    /// A state begins: `turns on`, `becomes vacant`.
    Becomes(State),
    /// The state holds at some moment: after `never`, or with `within`.
    Is(State),
    /// Output: its state, or where its light is going, changes.
    Changes,
    /// Source: it sends a frame of this kind; `None`: any.
    Sends(Option<FrameWord>),
    /// Output or controller: a frame of this source arrives.
    Hears(String, Option<FrameWord>),
}

/// The kinds of frame, as checks name them.
#[derive(Clone, Debug, Eq, PartialEq)]
pub enum FrameWord {
    /// `occupied`, with or without the mark *bright*.
    Occupied,
    /// `vacant`.
    Vacant,
    /// `unknown`.
    Unknown,
    /// `down up`: the button with this name.
    Down(String),
    /// `up up`.
    Up(String),
    /// `card in`.
    CardIn,
    /// `card out`.
    CardOut,
    /// `wrong card`.
    WrongCard,
    /// `illuminance`.
    Illuminance,
    /// `in hours`.
    InHours,
    /// `after hours`.
    AfterHours,
    /// `sweep`.
    Sweep,
    /// `time lost`.
    TimeLost,
    /// `shed`.
    Shed,
    /// `shed end`.
    ShedEnd,
    /// `teach-in`.
    TeachIn,
}

/// A total over time.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Total {
    /// `used at most 120 Wh`, in milliwatt-hours.
    Energy(Compare<u64>),
    /// `was on at most 2 h`.
    TimeOn(Compare<Span>),
    /// `was on at most 20 % of the time`.
    ShareOn(Compare<Level>),
    /// `turned on at most 3 times` (`true`), `turned off …`.
    Turned(bool, Compare<u32>),
    /// `averaged at most 60 %`: the light.
    MeanLight(Compare<Level>),
    /// `averaged at least 450 lx`: the illuminance of a task.
    MeanLux(Compare<Illuminance>),
}

impl Phrase {
    /// Reads the third column of a row.
    pub fn read(text: &str) -> Result<Self, WordError> {
        let mut reader = Reader::new(text);
        if reader.is_done() {
            return Err(WordError::new(
                0..text.len(),
                "what happens, or what must be so, is missing",
                "write what happens, such as `motion`, or what must be so, such as `is on`",
            ));
        }
        if let Some(deed) = stimulus::read(&mut reader)? {
            left_over(&reader, text, false)?;
            return Ok(Self::Deed(deed));
        }
        if let Some(check) = check::read(&mut reader)? {
            left_over(&reader, text, true)?;
            return Ok(Self::Check(check));
        }
        Err(kind::unknown(text))
    }
}

impl Phrase {
    /// Reads a text that is a whole phrase, without looking for what else could be meant.
    fn read_whole(text: &str) -> Option<Self> {
        let mut reader = Reader::new(text);
        let phrase = match stimulus::read(&mut reader).ok()? {
            Some(deed) => Self::Deed(deed),
            None => Self::Check(check::read(&mut reader).ok()??),
        };
        reader.is_done().then_some(phrase)
    }
}

impl<T: Copy + Ord> Compare<T> {
    /// Whether `value` satisfies the comparison.
    #[must_use]
    pub fn holds(self, value: T) -> bool {
        match self {
            Self::Exactly(wanted) => value == wanted,
            Self::AtMost(limit) => value <= limit,
            Self::AtLeast(limit) => value >= limit,
            Self::Below(limit) => value < limit,
            Self::Above(limit) => value > limit,
            Self::Between(low, high) => (low..=high).contains(&value),
        }
    }
}

fn left_over(reader: &Reader<'_>, text: &str, is_check: bool) -> Result<(), WordError> {
    if reader.is_done() {
        return Ok(());
    }
    let range = reader.rest_range();
    let rest = &text[range.clone()];
    let known = &text[..range.start].trim_end();
    Err(WordError::new(
        range,
        format!("`{rest}` is not understood after `{known}`"),
        kind::tail_hint(rest, is_check),
    ))
}

#[cfg(test)]
mod tests;
