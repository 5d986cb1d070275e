//! The key tables of places, people and the room's geometry.

use super::{AT, COPIES, LENGTH, LIGHT, SAYS, key};
use crate::keys::Need::{Default, Otherwise, Required};
use crate::keys::{Table, Value};

pub(super) static PLACE: Table = Table {
    what: "a place",
    header: "[places.NAME]",
    says: "A desk, a bed, an aisle: somewhere a person may be. With `daylight` or `electric` it is also a task whose light scenarios can check.",
    by: "",
    keys: &[
        SAYS,
        key(
            "daylight",
            Value::Share(0, 10_000),
            Default("0 %"),
            "The share of the light outside that falls here.",
        ),
        key(
            "electric",
            Value::Map(&LIGHT),
            Otherwise("none"),
            "What each output adds here at full: `{ desk-lights = \"450 lx\" }`.",
        ),
        key(
            "notices",
            Value::Map(&NOTICES),
            Otherwise("every occupancy sensor notices a person here"),
            "Which sensors notice a person here, and what of it: `{ wall-sensor = [\"major motion\", \"20 % of minor motion\", \"sound\"] }`. Sensors that are not named notice nothing here.",
        ),
        COPIES,
        AT,
    ],
};

pub(super) static PERSON: Table = Table {
    what: "a person",
    header: "[people.NAME]",
    says: "Somebody that scenarios speak of: rows name the person, then what he or she does.",
    by: "",
    keys: &[
        key(
            "place",
            Value::Name,
            Otherwise("a place where every sensor notices all"),
            "The place where the person sits or works.",
        ),
        SAYS,
    ],
};

pub(super) static SIZE: Table = Table {
    what: "a size",
    header: "[size]",
    says: "How large the room is.",
    by: "",
    keys: &[
        key("width", LENGTH, Required, "From left to right."),
        key("depth", LENGTH, Required, "From front to back."),
        key(
            "height",
            LENGTH,
            Otherwise("not known"),
            "From floor to ceiling.",
        ),
    ],
};

pub(super) static DIFFUSER: Table = Table {
    what: "a diffuser",
    header: "[diffusers.NAME]",
    says: "An air outlet.",
    by: "",
    keys: &[key(
        "at",
        Value::List(&LENGTH),
        Required,
        "Where it is, from the front left corner: right, then back.",
    )],
};

const NOTICES: Value = Value::OneOrMany(&Value::Text);
