//! The key tables of links and controllers.

use device::{Illuminance, Level, Span};

use super::{LIGHT, SAYS, key, only};
use crate::keys::Need::{Default, Otherwise, Required};
use crate::keys::{Table, Value};

/// One link.
pub(super) static LINK: Table = Table {
    what: "a link",
    header: "[[links]]",
    says: "A link says which source may do what to which output. Scene buttons need none: their scene names the outputs.",
    by: "role",
    keys: &[
        key(
            "from",
            Value::OneOrMany(&Value::Reference),
            Required,
            "The source, or one button of it: \"wall-unit/zone-a\". A list is several links.",
        ),
        key(
            "to",
            Value::OneOrMany(&Value::Reference),
            Required,
            "The output, a group or a relay (all its outputs). A list is several links.",
        ),
        key(
            "role",
            Value::Word(ROLES),
            Otherwise("occupancy and clock: must be given; the other kinds have one each"),
            "What the source may do.",
        ),
        only(
            "level",
            &["auto-on", "partial-on", "welcome", "opening"],
            Value::Level(Level::from_hundredths(1), Level::FULL),
            Otherwise("50 % for partial-on, else 100 %"),
            "The level it turns on at.",
        ),
        only(
            "setback",
            OCCUPANCY_ROLES,
            Value::Level(Level::from_hundredths(1), Level::FULL),
            Otherwise("none: off when vacant"),
            "Partial-off: the level when the last such link becomes vacant.",
        ),
        only(
            "run-on",
            OCCUPANCY_ROLES,
            Value::Span(Span::ZERO, Span::from_hours(4)),
            Default("0 s"),
            "The link stays occupied this much longer than its sensor.",
        ),
        only(
            "lost",
            OCCUPANCY_ROLES,
            Value::Word(&["vacant", "occupied"]),
            Default("vacant"),
            "What a sensor counts as that is not heard any more.",
        ),
        only(
            "loop",
            LIMIT,
            Value::Word(&["closed", "open"]),
            Default("closed"),
            "What the daylight sensor sees: closed = electric light and daylight, open = daylight only.",
        ),
        only(
            "set-point",
            LIMIT,
            Value::Light(Illuminance::from_lux(1), Illuminance::from_lux(20_000)),
            Default("500 lx"),
            "The light to keep at the task.",
        ),
        only(
            "night",
            LIMIT,
            Value::Table(&READING),
            Otherwise("not calibrated: does not limit"),
            "Calibration: electric light full, no daylight.",
        ),
        only(
            "day",
            LIMIT,
            Value::Table(&READING),
            Otherwise("not calibrated: does not limit"),
            "Calibration: daylight only.",
        ),
        only(
            "dead-band",
            LIMIT,
            Value::Share(0, 10_000),
            Default("10 %"),
            "A target that moves by less than this share of the set-point is left alone (whole per cent; common practice).",
        ),
        only(
            "fade-down",
            LIMIT,
            Value::Span(Span::ZERO, Span::from_minutes(10)),
            Default("30 s"),
            "How long the limit takes down over the full range.",
        ),
        only(
            "fade-up",
            LIMIT,
            Value::Span(Span::ZERO, Span::from_minutes(10)),
            Default("10 s"),
            "How long the limit takes up over the full range.",
        ),
        only(
            "dark-after",
            LIMIT,
            Value::SpanOr(Span::ZERO, Span::from_hours(4), "never"),
            Default("never"),
            "Goes dark when daylight has been enough this long (common: 15 min).",
        ),
        only(
            "warning",
            SWEEP,
            Value::SpanOr(Span::from_seconds(10), Span::from_minutes(30), "none"),
            Default("5 min"),
            "Warning before the sweep turns off.",
        ),
        only(
            "longest-override",
            SWEEP,
            Value::Span(Span::ZERO, Span::from_hours(24)),
            Default("2 h"),
            "A press after the sweep holds the output at most this long.",
        ),
        only(
            "after-hours-off",
            &["off-after-hours"],
            Value::Span(Span::ZERO, Span::from_hours(24)),
            Default("0 s"),
            "After hours: from setback to off.",
        ),
        key(
            "stored",
            Value::YesNo,
            Default("true"),
            "false: the link is not there until somebody teaches it.",
        ),
    ],
};

/// The roles of links, as the files name them.
pub(crate) const ROLES: &[&str] = &[
    "auto-on",
    "partial-on",
    "manual-on",
    "button",
    "welcome",
    "limit",
    "sweep",
    "opening",
    "no-auto-on",
    "off-after-hours",
    "emergency",
    "shed",
];

const OCCUPANCY_ROLES: &[&str] = &["auto-on", "partial-on", "manual-on"];

const LIMIT: &[&str] = &["limit"];

const SWEEP: &[&str] = &["sweep"];

static READING: Table = Table {
    what: "a calibration reading",
    header: "night = { … }, day = { … }",
    says: "Two readings taken at the same moment.",
    by: "",
    keys: &[
        key("sensor", LIGHT, Required, "What the daylight sensor reads."),
        key("task", LIGHT, Required, "What a meter at the task reads."),
    ],
};

pub(super) static CONTROLLER: Table = Table {
    what: "a controller",
    header: "[controllers.NAME]",
    says: "A device that hears sources and drives outputs.",
    by: "",
    keys: &[
        key(
            "hold-threshold",
            Value::Span(Span::from_ms(100), Span::from_seconds(5)),
            Default("0.5 s"),
            "A button that is down longer than this is held, not tapped.",
        ),
        key(
            "ramp",
            Value::Span(Span::from_ms(500), Span::from_seconds(60)),
            Default("4 s"),
            "How long a held button takes over the full range.",
        ),
        key(
            "learning",
            Value::Span(Span::from_seconds(5), Span::from_minutes(10)),
            Default("30 s"),
            "How long a learning window stays open.",
        ),
        SAYS,
    ],
};
