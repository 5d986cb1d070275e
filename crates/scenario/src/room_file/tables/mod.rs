//! The key tables of `room.toml` and `site.toml`: every key, its unit, range and default.
//!
//! Values marked "common practice" have no published source; the others name theirs.

mod link;
mod output;
mod place;
mod source;

use device::{Illuminance, Level, Span};

use crate::keys::Need::{Default, Otherwise, Required};
use crate::keys::{Key, Table, Value};
use crate::words::{Length, Potential};
use link::{CONTROLLER, LINK};
use output::{OUTPUT, RELAY};
use place::{DIFFUSER, PERSON, PLACE, SIZE};
use source::{BUS, SOURCE};

/// A whole `room.toml`.
pub static ROOM: Table = Table {
    what: "a room",
    header: "",
    says: "The top of the file says what the room is. Keys stand before the first `[header]`.",
    by: "",
    keys: &[
        NAME,
        SAYS,
        SPACE,
        CODE,
        VOLTAGE,
        ZONE,
        REACTION,
        key(
            "outputs",
            Value::Named(&OUTPUT),
            Required,
            "What is switched or dimmed, each under its own name.",
        ),
        SOURCES,
        LINKS,
        SCENES,
        RELAYS,
        CONTROLLERS,
        BUS_KEY,
        key(
            "places",
            Value::Named(&PLACE),
            Otherwise("none"),
            "Desks and other places: what light falls there and what sensors notice there.",
        ),
        key(
            "people",
            Value::Named(&PERSON),
            Otherwise("none"),
            "People that scenarios speak of.",
        ),
        key(
            "size",
            Value::Table(&SIZE),
            Otherwise("not known"),
            "How large the room is; positions are checked against it.",
        ),
        key(
            "diffusers",
            Value::Named(&DIFFUSER),
            Otherwise("none"),
            "Air outlets, for the check that no motion sensor sits within 4 ft of one.",
        ),
    ],
};

/// A whole `site.toml`.
pub static SITE: Table = Table {
    what: "a site",
    header: "",
    says: "`site.toml` stands beside the folders of the rooms. Its `energy-code`, `voltage`, `time-zone` and `reaction` hold for every room that does not say otherwise. Its outputs are shared by rooms: links name a room's source as `office-112/wall-sensor`. Its inner tables are those of `room.toml`.",
    by: "",
    keys: &[
        NAME,
        SAYS,
        CODE,
        VOLTAGE,
        ZONE,
        REACTION,
        key(
            "outputs",
            Value::Named(&OUTPUT),
            Otherwise("none"),
            "Outputs that several rooms share.",
        ),
        SOURCES,
        LINKS,
        SCENES,
        RELAYS,
        CONTROLLERS,
        BUS_KEY,
    ],
};

const NAME: Key = key("name", Value::Text, Required, "What people call it.");

const SAYS: Key = key(
    "says",
    Value::Text,
    Otherwise("nothing"),
    "A sentence for the documents.",
);

const SPACE: Key = key(
    "space",
    Value::Word(&[
        "private office",
        "open office",
        "classroom",
        "conference room",
        "guest room",
        "corridor",
        "stair",
        "restroom",
        "lobby",
        "storage",
        "warehouse",
        "hall",
        "parking",
        "other",
    ]),
    Otherwise("not known"),
    "What kind of space it is; some limits of energy codes depend on it.",
);

const CODE: Key = key(
    "energy-code",
    Value::Word(&[
        "IECC 2015",
        "IECC 2018",
        "IECC 2021",
        "ASHRAE 90.1-2013",
        "ASHRAE 90.1-2016",
        "ASHRAE 90.1-2019",
        "California 2013",
        "California 2016",
    ]),
    Otherwise("no code is looked at"),
    "The energy code, with its edition, whose limits `check` reminds of. The local code decides.",
);

const VOLTAGE: Key = key(
    "voltage",
    Value::Voltage(Potential(90_000), Potential(480_000)),
    Default("120 V"),
    "The voltage of the loads, for amperes from watts.",
);

const ZONE: Key = key(
    "time-zone",
    Value::Zone,
    Default("UTC"),
    "The civil time of the site, for clocks and dates.",
);

const REACTION: Key = key(
    "reaction",
    Value::Span(Span::ZERO, Span::from_minutes(1)),
    Default("1 s"),
    "How long a clause about an output lets the room react.",
);

const SOURCES: Key = key(
    "sources",
    Value::Named(&SOURCE),
    Otherwise("none"),
    "What reports: sensors, switches, clocks, signals, each under its own name.",
);

const LINKS: Key = key(
    "links",
    Value::Many(&LINK),
    Otherwise("none"),
    "Which source may do what to which output.",
);

const SCENES: Key = key(
    "scenes",
    Value::Maps("[scenes.NAME]", &LEVEL),
    Otherwise("none"),
    "Levels that one button recalls: `[scenes.film]`, then one line for each output: `desk-lights = \"20 %\"`. Outputs that are not named stay as they are.",
);

const RELAYS: Key = key(
    "relays",
    Value::Named(&RELAY),
    Otherwise("none"),
    "Relays that several outputs share.",
);

const CONTROLLERS: Key = key(
    "controllers",
    Value::Named(&CONTROLLER),
    Otherwise("one, called `room-controller`"),
    "The devices that drive the outputs; each hears frames by itself.",
);

const BUS_KEY: Key = key(
    "bus",
    Value::Table(&BUS),
    Otherwise("10 ms, nothing lost"),
    "How frames travel from sources to controllers.",
);

const LENGTH: Value = Value::Length(Length(1_000_000));

pub(crate) const LIGHT: Value = Value::Light(
    Illuminance::from_hundredths(0),
    Illuminance::from_lux(200_000),
);

const LEVEL: Value = Value::Level(Level::OFF, Level::FULL);

const COPIES: Key = key(
    "copies",
    Value::Count(1, 64),
    Otherwise("one, without a number"),
    "So many equal ones: `aisle` becomes `aisle-1`, `aisle-2` and so on. Links between equal numbers of copies go one to one.",
);

const AT: Key = key(
    "at",
    Value::List(&LENGTH),
    Otherwise("not known"),
    "Where it is, from the front left corner: right, then back: `[\"1.2 m\", \"0.7 m\"]`.",
);

const fn key(name: &'static str, value: Value, need: crate::keys::Need, says: &'static str) -> Key {
    Key {
        name,
        value,
        need,
        only: &[],
        says,
    }
}

const fn only(
    name: &'static str,
    only: &'static [&'static str],
    value: Value,
    need: crate::keys::Need,
    says: &'static str,
) -> Key {
    Key {
        name,
        value,
        need,
        only,
        says,
    }
}
