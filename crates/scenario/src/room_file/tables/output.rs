//! The key tables of outputs and relays.

use device::{Level, Span};

use super::{AT, COPIES, SAYS, key, only};
use crate::keys::Need::{Default, Otherwise, Required};
use crate::keys::{Table, Value};
use crate::words::Power;

/// One output.
pub(super) static OUTPUT: Table = Table {
    what: "an output",
    header: "[outputs.NAME]",
    says: "One point that a controller switches or dims. In scenarios and clauses it goes by its name.",
    by: "drive",
    keys: &[
        key(
            "drive",
            Value::Word(DRIVES),
            Required,
            "How the load is driven. Of a receptacle only the switched half is an output.",
        ),
        SAYS,
        key(
            "load",
            Value::Power(Power(1_000_000_000)),
            Otherwise("not checked"),
            "The power of the load at full.",
        ),
        key(
            "load-kind",
            Value::Word(LOAD_KINDS),
            Otherwise("not checked"),
            "What the load is; phase dimming fits some kinds only.",
        ),
        only(
            "downstream",
            RECEPTACLE,
            Value::Power(Power(1_000_000_000)),
            Default("0 W"),
            "Plain receptacles fed from the switched conductor: they follow it and count toward its rating.",
        ),
        key(
            "rating",
            Value::Rating,
            Otherwise(
                "relay, 0-10 V: 11.5 A; receptacle: 15 A; phase: 600 W; dry contact: not checked (common practice)",
            ),
            "What the contact or dimmer may carry. With `relay` the rating stands at the relay.",
        ),
        key(
            "relay",
            Value::Name,
            Otherwise("its own"),
            "Outputs with the same relay are on or off together, each with its own level.",
        ),
        key(
            "group",
            Value::Name,
            Otherwise("alone"),
            "Outputs with the same group share one asked level and move together.",
        ),
        key(
            "controller",
            Value::Name,
            Otherwise("`room-controller`"),
            "Which controller drives it.",
        ),
        only(
            "low-trim",
            DIMMING,
            Value::Level(Level::from_hundredths(1), Level::FULL),
            Default("10 %"),
            "The least level while on.",
        ),
        only(
            "high-trim",
            DIMMING,
            Value::Level(Level::from_hundredths(1), Level::FULL),
            Default("100 %"),
            "The highest level.",
        ),
        only(
            "fade-on",
            DIMMING,
            Value::Span(Span::ZERO, Span::from_seconds(90)),
            Default("1 s"),
            "How long the light takes on and up.",
        ),
        only(
            "fade-off",
            DIMMING,
            Value::Span(Span::ZERO, Span::from_seconds(90)),
            Default("2 s"),
            "How long the light takes off and down.",
        ),
        only(
            "warning",
            LIGHTING,
            Value::SpanOr(Span::from_seconds(10), Span::from_seconds(300), "none"),
            Default("none"),
            "How long the light warns before an automatic off. It adds to the time delay.",
        ),
        only(
            "warning-level",
            LIGHTING,
            Value::LevelOr(Level::from_percent(1), Level::FULL, "blink"),
            Otherwise("50 % where the drive dims, else \"blink\""),
            "What the warning looks like: down to this level, or dark for half a second.",
        ),
        only(
            "grace",
            LIGHTING,
            Value::Span(Span::ZERO, Span::from_seconds(30)),
            Default("0 s"),
            "Re-entry grace: this long after an automatic off, motion brings the light back, whatever the role.",
        ),
        key(
            "press-hold",
            Value::SpanOr(Span::ZERO, Span::from_hours(2), "none"),
            Otherwise("15 min for lighting, else none"),
            "A press in an empty room holds the output this long.",
        ),
        key(
            "off-after",
            Value::SpanOr(Span::ZERO, Span::from_hours(24), "never"),
            Default("never"),
            "From setback to off, once everybody has left.",
        ),
        only(
            "egress",
            LIGHTING,
            Value::Table(&EGRESS),
            Otherwise("not an egress output"),
            "Egress lighting: `egress = { floor = \"10 %\" }`.",
        ),
        key(
            "shed",
            Value::PointsOr("off"),
            Default("15 points"),
            "What demand response takes off the high trim; \"off\" drops the load. Relays do nothing unless \"off\".",
        ),
        key(
            "shed-fade",
            Value::Span(Span::ZERO, Span::from_minutes(10)),
            Default("60 s"),
            "How long a shed takes.",
        ),
        only(
            "minimum-on",
            SWITCHING,
            Value::Span(Span::ZERO, Span::from_minutes(60)),
            Otherwise("5 min for a dry contact, else 0 s"),
            "Least time on (a contact: closed).",
        ),
        only(
            "minimum-off",
            SWITCHING,
            Value::Span(Span::ZERO, Span::from_minutes(60)),
            Default("0 s"),
            "Least time off (a contact: open).",
        ),
        only(
            "rest",
            CONTACT,
            Value::Word(&["open", "closed"]),
            Default("open"),
            "The contact's position without power.",
        ),
        only(
            "closed-means",
            CONTACT,
            Value::Text,
            Otherwise("nothing"),
            "What *closed* means to the other side, in a few words.",
        ),
        key(
            "feedback",
            Value::SpanOr(Span::from_seconds(1), Span::from_minutes(60), "none"),
            Default("none"),
            "Reports a contact that does not follow, at each poll of this span (common: 60 s).",
        ),
        key(
            "power-up",
            Value::Word(&["last", "on", "off"]),
            Default("last"),
            "What happens when power returns.",
        ),
        key(
            "table",
            Value::Count(1, 64),
            Default("32"),
            "How many links it can be taught.",
        ),
        COPIES,
        AT,
    ],
};

/// The drives, as the files name them.
pub(crate) const DRIVES: &[&str] = &[
    "relay",
    "0-10 V",
    "forward phase",
    "reverse phase",
    "receptacle",
    "dry contact",
];

const DIMMING: &[&str] = &["0-10 V", "forward phase", "reverse phase"];

const LIGHTING: &[&str] = &["relay", "0-10 V", "forward phase", "reverse phase"];

const RECEPTACLE: &[&str] = &["receptacle"];

const CONTACT: &[&str] = &["dry contact"];

const SWITCHING: &[&str] = &["relay", "receptacle", "dry contact"];

/// The kinds of load, as the files name them.
pub(crate) const LOAD_KINDS: &[&str] = &[
    "led",
    "resistive",
    "electronic low-voltage",
    "magnetic low-voltage",
    "fluorescent",
    "motor",
    "plug loads",
];

static EGRESS: Table = Table {
    what: "egress",
    header: "egress = { … }",
    says: "An egress output never goes under its floor, and emergency light is beyond every other order.",
    by: "",
    keys: &[
        key(
            "floor",
            Value::Level(Level::from_hundredths(1), Level::FULL),
            Required,
            "The level it never goes under.",
        ),
        key(
            "proven",
            Value::Span(Span::ZERO, Span::from_minutes(5)),
            Default("10 s"),
            "How long normal light must be proven before emergency light ends (common practice).",
        ),
    ],
};

pub(super) static RELAY: Table = Table {
    what: "a relay",
    header: "[relays.NAME]",
    says: "A relay that several outputs share. A relay that needs no rating of its own need not be listed.",
    by: "",
    keys: &[
        key(
            "rating",
            Value::Rating,
            Default("11.5 A"),
            "What its contact may carry (common practice).",
        ),
        SAYS,
    ],
};
