//! The key tables of sources, of their clocks and of the bus.

use device::{Illuminance, Span};

use super::{AT, COPIES, LIGHT, SAYS, key, only};
use crate::keys::Need::{Default, Otherwise, Required};
use crate::keys::{Key, Table, Value};

/// One source.
pub(super) static SOURCE: Table = Table {
    what: "a source",
    header: "[sources.NAME]",
    says: "Something that reports. A wall unit with a sensor and buttons is two sources, linked separately.",
    by: "kind",
    keys: &[
        key("kind", Value::Word(SOURCE_KINDS), Required, "What it is."),
        SAYS,
        only(
            "senses",
            OCCUPANCY,
            Value::OneOrMany(&Value::Word(&["motion", "sound"])),
            Otherwise("motion"),
            "What it senses. Motion starts occupancy; sound only prolongs it.",
        ),
        only(
            "time-delay",
            OCCUPANCY,
            Value::Span(Span::from_seconds(30), Span::from_minutes(30)),
            Default("15 min"),
            "Vacant this long after the last motion or sound that counts.",
        ),
        only(
            "sound-window",
            OCCUPANCY,
            Value::Span(Span::ZERO, Span::from_minutes(120)),
            Default("60 min"),
            "Sound counts this long after the last motion; from the time delay up, or 0 s for motion only.",
        ),
        only(
            "sound-grace",
            OCCUPANCY,
            Value::Span(Span::ZERO, Span::from_seconds(60)),
            Default("0 s"),
            "Sound may bring occupancy back this long after it ended.",
        ),
        only(
            "repeat",
            OCCUPANCY,
            Value::SpanOr(Span::from_seconds(1), Span::from_minutes(60), "never"),
            Default("60 s"),
            "Motion repeats the report when the last one is older than this.",
        ),
        only(
            "warm-up",
            OCCUPANCY,
            Value::Span(Span::ZERO, Span::from_minutes(5)),
            Default("45 s"),
            "After power comes: nothing is sensed this long.",
        ),
        only(
            "dead-time",
            OCCUPANCY,
            Value::Span(Span::ZERO, Span::from_ms(12_750)),
            Default("100 ms"),
            "Blind this long after each event (IEC 62386-303: 100 ms, at most 12.75 s).",
        ),
        only(
            "hold-off",
            OCCUPANCY,
            Value::Light(Illuminance::from_lux(1), Illuminance::from_lux(20_000)),
            Otherwise("none"),
            "Above this daylight on the sensor, motion does not turn lighting on.",
        ),
        only(
            "buttons",
            SWITCH,
            Value::OneOrMany(&Value::Text),
            Default("up/down"),
            "1 to 8 buttons: \"up/down\", \"single\", \"zone-a up/down\", \"zone-a single\", \"film scene\".",
        ),
        only(
            "edge-gap",
            SWITCH,
            Value::Span(Span::ZERO, Span::from_ms(1_000)),
            Default("50 ms"),
            "The least time between two edges of one button.",
        ),
        only(
            "linger",
            CARD,
            Value::Span(Span::ZERO, Span::from_minutes(20)),
            Default("30 s"),
            "The room works on this long after the card is pulled.",
        ),
        only(
            "captive",
            CARD,
            Value::YesNo,
            Default("false"),
            "Without a card nothing it is linked to turns on. Usual for a guest room: true.",
        ),
        only(
            "verifies",
            CARD,
            Value::YesNo,
            Default("false"),
            "Ignores and reports a card that does not belong to the room.",
        ),
        only(
            "change",
            DAYLIGHT,
            Value::Share(100, 5_000),
            Default("5 %"),
            "Reports when the light moves by more than this share of the last report (whole per cent).",
        ),
        only(
            "change-least",
            DAYLIGHT,
            Value::Light(
                Illuminance::from_hundredths(0),
                Illuminance::from_lux(1_000),
            ),
            Default("5 lx"),
            "The least change that is reported.",
        ),
        only(
            "interval",
            DAYLIGHT,
            Value::Span(Span::from_ms(100), Span::from_seconds(60)),
            Default("1 s"),
            "Measures this often and never reports more often.",
        ),
        only(
            "hours",
            CLOCK,
            Value::Table(&HOURS),
            Otherwise("closed all week"),
            "Opening hours: `hours = { weekdays = \"08:00 to 18:00\" }`.",
        ),
        only(
            "holidays",
            CLOCK,
            Value::OneOrMany(&Value::Dates),
            Otherwise("none"),
            "Days without opening hours: \"2026-12-25\", \"2026-12-24 to 2027-01-01\".",
        ),
        only(
            "sweeps",
            CLOCK,
            Value::OneOrMany(&Value::DayTime),
            Otherwise("none"),
            "When everything linked as a sweep goes off: \"22:00\", \"saturday 14:00\".",
        ),
        only(
            "reserve",
            CLOCK,
            Value::Span(Span::ZERO, Span::from_hours(720)),
            Default("10 h"),
            "Keeps time this long without power.",
        ),
        only(
            "report-every",
            REPORTING,
            Value::SpanOr(Span::from_seconds(10), Span::from_hours(24), "never"),
            Otherwise("30 s for a daylight sensor, else 4 min"),
            "Reports its state this often, so that a silent source can be told from a quiet room. Controllers count it lost after 3.2 times this.",
        ),
        key(
            "battery",
            Value::YesNo,
            Otherwise(
                "true for switches, normal power, fire alarm and demand response, else false",
            ),
            "Goes on working when the room's power is cut.",
        ),
        only(
            "daylight",
            SEEING,
            Value::Share(0, 10_000),
            Default("0 %"),
            "The share of the light outside that falls on the sensor.",
        ),
        only(
            "electric",
            SEEING,
            Value::Map(&LIGHT),
            Otherwise("none"),
            "What each output adds on the sensor at full: `{ desk-lights = \"120 lx\" }`.",
        ),
        key(
            "bus",
            Value::Table(&BUS),
            Otherwise("as the room's bus"),
            "How its own frames travel.",
        ),
        COPIES,
        AT,
    ],
};

/// The kinds of source, as the files name them.
pub(crate) const SOURCE_KINDS: &[&str] = &[
    "occupancy",
    "switch",
    "card",
    "daylight",
    "clock",
    "normal power",
    "fire alarm",
    "demand response",
];

const OCCUPANCY: &[&str] = &["occupancy"];

const SWITCH: &[&str] = &["switch"];

const CARD: &[&str] = &["card"];

const DAYLIGHT: &[&str] = &["daylight"];

const CLOCK: &[&str] = &["clock"];

const SEEING: &[&str] = &["occupancy", "daylight"];

const REPORTING: &[&str] = &[
    "occupancy",
    "card",
    "daylight",
    "clock",
    "normal power",
    "fire alarm",
    "demand response",
];

static HOURS: Table = Table {
    what: "opening hours",
    header: "hours = { … }",
    says: "Opening hours by day. A day that is not named is closed; a single day beats `weekdays` and `weekend`, and these beat `every-day`. Several stretches of one day are a list.",
    by: "",
    keys: &[
        hours("every-day"),
        hours("weekdays"),
        hours("weekend"),
        hours("monday"),
        hours("tuesday"),
        hours("wednesday"),
        hours("thursday"),
        hours("friday"),
        hours("saturday"),
        hours("sunday"),
    ],
};

pub(super) static BUS: Table = Table {
    what: "a bus",
    header: "[bus]",
    says: "How frames travel from a source to each controller. The same keys in a source, `bus = { loss = \"5 %\" }`, hold for its own frames.",
    by: "",
    keys: &[
        key(
            "delay",
            Value::Span(Span::ZERO, Span::from_seconds(10)),
            Otherwise("10 ms"),
            "From sending to arrival.",
        ),
        key(
            "jitter",
            Value::Span(Span::ZERO, Span::from_seconds(10)),
            Otherwise("0 s"),
            "At most this much is added to the delay, by luck.",
        ),
        key(
            "loss",
            Value::Share(0, 10_000),
            Otherwise("0 %"),
            "The share of frames that never arrive.",
        ),
        key(
            "copies",
            Value::Share(0, 10_000),
            Otherwise("0 %"),
            "The share of frames that arrive twice.",
        ),
    ],
};

const fn hours(name: &'static str) -> Key {
    key(
        name,
        Value::OneOrMany(&Value::Hours),
        Otherwise("as above, else closed"),
        "\"08:00 to 18:00\" or \"closed\".",
    )
}
