//! Which phrases suit which kind of point, and what to say when one does not.

use std::ops::Range;

use super::{Check, Deed, Event, Phrase, Scale, SignalWord, State, Total, What};
use crate::diagnostic::nearest;
use crate::words::{self, WordError};

/// The kinds of point a row can name.
#[derive(Clone, Copy, Debug, Eq, Ord, PartialEq, PartialOrd)]
pub enum PointKind {
    /// An occupancy sensor.
    Occupancy,
    /// A wall unit, or one of its buttons.
    Switch,
    /// A key-card reader.
    Card,
    /// A daylight sensor.
    Daylight,
    /// A time clock.
    Clock,
    /// Normal power of the lighting circuit.
    NormalPower,
    /// The fire alarm.
    FireAlarm,
    /// Demand response.
    DemandResponse,
    /// An output.
    Output,
    /// A controller.
    Controller,
    /// A place where task illuminance is asked for.
    Task,
    /// A person.
    Person,
    /// The room itself.
    Room,
    /// A link, written `wall-sensor to desk-lights`.
    Link,
}

impl PointKind {
    /// The kind with its article, as messages say it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Occupancy => "an occupancy sensor",
            Self::Switch => "a wall unit",
            Self::Card => "a key-card reader",
            Self::Daylight => "a daylight sensor",
            Self::Clock => "a time clock",
            Self::NormalPower => "a normal power source",
            Self::FireAlarm => "a fire alarm",
            Self::DemandResponse => "a demand response source",
            Self::Output => "an output",
            Self::Controller => "a controller",
            Self::Task => "a task",
            Self::Person => "a person",
            Self::Room => "the room",
            Self::Link => "a link",
        }
    }

    /// Whether the point is a source.
    #[must_use]
    pub const fn is_source(self) -> bool {
        matches!(
            self,
            Self::Occupancy
                | Self::Switch
                | Self::Card
                | Self::Daylight
                | Self::Clock
                | Self::NormalPower
                | Self::FireAlarm
                | Self::DemandResponse
        )
    }

    /// Examples of what a row may say of such a point, what happens first.
    #[must_use]
    pub const fn examples(self) -> &'static [&'static str] {
        match self {
            Self::Occupancy => &[
                "motion",
                "sound",
                "power cut",
                "is occupied",
                "sends vacant",
            ],
            Self::Switch => &["tap up", "hold up for 2 s", "press up", "release up"],
            Self::Card => &["card in", "card out", "wrong card", "sends card out"],
            Self::Daylight => &["power cut", "next frame lost", "sends illuminance"],
            Self::Clock => &["opening", "closing", "sweep", "set to 09:00", "set right"],
            Self::NormalPower => &["lost", "back"],
            Self::FireAlarm => &["sounds", "stops"],
            Self::DemandResponse => &["sheds", "sheds 20 points", "ends"],
            Self::Output => &[
                "is on",
                "is off",
                "is 50 %",
                "turns off within 5 s",
                "stays on for 20 min",
            ],
            Self::Controller => &["power cut", "power back", "hears vacant from wall-sensor"],
            Self::Task => &["is at least 500 lx", "averaged at least 450 lx"],
            Self::Person => &[
                "enters",
                "sits still",
                "types",
                "talks",
                "leaves",
                "is in the light",
            ],
            Self::Room => &["daylight 300 lx", "power cut", "power back"],
            Self::Link => &["level = 70 %", "next frame lost"],
        }
    }
}

impl Phrase {
    /// Whether the phrase can be said of a point of this kind.
    #[must_use]
    pub fn suits(&self, kind: PointKind) -> bool {
        match self {
            Self::Deed(deed) => deed_suits(deed, kind),
            Self::Check(check) => check_suits(check, kind),
        }
    }
}

fn deed_suits(deed: &Deed, kind: PointKind) -> bool {
    match deed {
        Deed::Motion | Deed::Sound | Deed::WalkTest(_) => kind == PointKind::Occupancy,
        Deed::Tap(..) | Deed::Hold(..) | Deed::Press(_) | Deed::Release(_) => {
            kind == PointKind::Switch
        }
        Deed::CardIn | Deed::CardOut | Deed::WrongCard => kind == PointKind::Card,
        Deed::TeachIn => kind.is_source(),
        Deed::Learn { .. } | Deed::Stuck(_) => kind == PointKind::Output,
        Deed::Due(_) | Deed::ClockSet(_) => kind == PointKind::Clock,
        Deed::Signal(SignalWord::Lost | SignalWord::Back) => kind == PointKind::NormalPower,
        Deed::Signal(SignalWord::Sounds | SignalWord::Stops) => kind == PointKind::FireAlarm,
        Deed::Shed(_) | Deed::ShedEnd => kind == PointKind::DemandResponse,
        Deed::Clock(_) => kind.is_source() || kind == PointKind::Controller,
        Deed::Power(_) => {
            kind.is_source() || matches!(kind, PointKind::Controller | PointKind::Room)
        }
        Deed::Daylight(_) => kind == PointKind::Room,
        Deed::Frames(_) => kind.is_source() || kind == PointKind::Link,
        Deed::Setting { .. } => {
            kind.is_source()
                || matches!(
                    kind,
                    PointKind::Output | PointKind::Link | PointKind::Controller
                )
        }
        Deed::Person(_) => kind == PointKind::Person,
    }
}

fn check_suits(check: &Check, kind: PointKind) -> bool {
    match check {
        Check::Is(state) | Check::Stays(state, _) => state_suits(state, kind),
        Check::Happens(event, ..) | Check::Never(event, _) => match event {
            Event::Becomes(state) | Event::Is(state) => state_suits(state, kind),
            Event::Changes => kind == PointKind::Output,
            Event::Sends(_) => kind.is_source(),
            Event::Hears(..) => matches!(kind, PointKind::Output | PointKind::Controller),
        },
        Check::Total(total) => match total {
            Total::MeanLux(_) => kind == PointKind::Task,
            _ => kind == PointKind::Output,
        },
    }
}

fn state_suits(state: &State, kind: PointKind) -> bool {
    match state.what {
        What::Occupied | What::Vacant => {
            matches!(kind, PointKind::Output | PointKind::Occupancy)
        }
        What::Unknown => kind == PointKind::Occupancy,
        What::Lux(_) => kind == PointKind::Task,
        What::InTheLight | What::InTheDark => kind == PointKind::Person,
        What::Reports(_) | What::NoFault => {
            kind.is_source() || matches!(kind, PointKind::Output | PointKind::Controller)
        }
        What::Level(Scale::Target | Scale::Asked | Scale::Light, _)
        | What::On
        | What::Off
        | What::Warning
        | What::Setback
        | What::Closed
        | What::Open
        | What::Relay(_)
        | What::Latched
        | What::ByHand
        | What::Emergency => kind == PointKind::Output,
    }
}

/// The error for a text that begins no phrase.
pub(super) fn unknown(text: &str) -> WordError {
    let range = trimmed(text);
    let said = &text[range.clone()];
    let message = format!("`{said}` is neither something that happens nor a check");
    let hint = match meant(said) {
        Some(meant) => format!("did you mean `{meant}`?"),
        None => "write what happens, such as `motion`, `sound`, `tap up` or `card in`, or what \
                 must be so, such as `is on`, `is 50 %`, `stays on for 20 min` or `turns off \
                 within 5 s`"
            .to_owned(),
    };
    WordError::new(range, message, hint)
}

/// What most likely was meant: a check without its verb, a button without its verb, another
/// word for the same, a phrase that was only begun, or one that is misspelt.
fn meant(said: &str) -> Option<String> {
    if let Some(level) = said.strip_prefix(['=', ':']) {
        let whole = format!("is {}", level.trim());
        return Phrase::read_whole(&whole).map(|_| whole);
    }
    let short = !said.contains(' ') || said.ends_with('%');
    for verb in ["is", "tap", "turns"] {
        let whole = format!("{verb} {said}");
        // Any word may be a button; only these two are one for certain.
        let certain = verb != "tap" || ["up", "down"].contains(&said);
        if short && certain && Phrase::read_whole(&whole).is_some() {
            return Some(whole);
        }
    }
    for (other, ours) in OTHER_WORDS {
        if let Some(rest) = said.strip_prefix(other) {
            let whole = format!("{ours}{rest}");
            if Phrase::read_whole(&whole).is_some() {
                return Some(whole);
            }
        }
    }
    let mut begun = EVERYTHING.iter().filter(|known| known.starts_with(said));
    let near = begun.next().copied();
    near.or_else(|| nearest(said, EVERYTHING.iter().copied()))
        .map(str::to_owned)
}

/// What to say of words left over after a whole phrase.
pub(super) fn tail_hint(rest: &str, is_check: bool) -> String {
    if rest.starts_with("to ") || rest.starts_with("from ") || rest.starts_with("at ") {
        return "a time or a stretch of time stands in the first column: \
                `\"08:00 to 09:00\"`"
            .to_owned();
    }
    if rest.starts_with("and ") || rest.starts_with(", ") {
        return "write a row for each, or a list: `[\"is on\", \"shows 50 %\"]`".to_owned();
    }
    if let Some(later) = rest.strip_prefix("after ") {
        return format!("write how much later in the first column: `+{later}`");
    }
    if !is_check {
        return match rest.strip_prefix("for ") {
            Some(span) if words::span(span).is_ok() => {
                format!("write the stretch of time in the first column: `08:00 to +{span}`")
            }
            _ => "leave these words out".to_owned(),
        };
    }
    if words::span(rest).is_ok() {
        return format!("write `for {rest}`, or `within {rest}`");
    }
    "only `until 10:00`, `for 20 min`, `within 5 s` or `2 times` may follow a check".to_owned()
}

/// Words that people use for the same, and ours.
const OTHER_WORDS: &[(&str, &str)] = &[
    ("arrives", "enters"),
    ("comes in", "enters"),
    ("comes", "enters"),
    ("goes on", "turns on"),
    ("goes off", "turns off"),
    ("switches on", "turns on"),
    ("switches off", "turns off"),
    ("switched on", "turns on"),
    ("switched off", "turns off"),
    ("goes", "leaves"),
    ("goes home", "leaves"),
    ("walks out", "leaves"),
    ("works", "types"),
    ("speaks", "talks"),
    ("coughs", "talks"),
    ("sits", "sits still"),
    ("moves", "motion"),
    ("movement", "motion"),
    ("noise", "sound"),
    ("push", "press"),
    ("click", "tap"),
    ("must be", "is"),
    ("should be", "is"),
    ("equals", "is"),
    ("remains", "stays"),
    ("keeps", "stays"),
];

const EVERYTHING: &[&str] = &[
    "motion",
    "sound",
    "tap",
    "tap up",
    "tap down",
    "hold up for 2 s",
    "press",
    "release",
    "card in",
    "card out",
    "wrong card",
    "walk test on",
    "walk test off",
    "teach in",
    "learning opens",
    "removing opens",
    "opening",
    "closing",
    "sweep",
    "set right",
    "lost",
    "back",
    "sounds",
    "stops",
    "sheds",
    "ends",
    "power cut",
    "power back",
    "battery dead",
    "new battery",
    "daylight 300 lx",
    "relay sticks closed",
    "relay sticks open",
    "relay freed",
    "frames lost",
    "frames pass",
    "next frame lost",
    "next frame twice",
    "clock 3 % fast",
    "clock 3 % slow",
    "clock right",
    "frames out of order",
    "frames on time",
    "enters",
    "sits still",
    "types",
    "talks",
    "leaves",
    "is on",
    "is off",
    "is occupied",
    "is vacant",
    "turns on",
    "turns off",
    "stays on",
    "stays off",
    "never turns on",
    "never turns off",
    "does not change",
    "becomes vacant",
    "becomes occupied",
    "closes",
    "opens",
    "warns",
    "reports lost",
    "reports no fault",
];

fn trimmed(text: &str) -> Range<usize> {
    let start = text.len() - text.trim_start().len();
    start..start + text.trim().len()
}
