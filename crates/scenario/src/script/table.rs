//! The keys of a scenario file.
//!
//! Invariant: rows, parameters and notices hold what a key table cannot say, so
//! [`super::file`] reads them; everything else is read by these tables.

use crate::keys::{Key, Need, Table, Value};

/// A scenario file, or a script that scenarios include.
pub static SCENARIO: Table = Table {
    what: "a scenario",
    header: "",
    says: "A story with checks: rows of time, point and what happens or must be so.",
    by: "",
    keys: &[
        key(
            "title",
            Value::Text,
            "must be given",
            "One line, printed in every table.",
        ),
        key(
            "start",
            Value::Text,
            "must be given",
            "Date and time of the wall clock at which the run starts.",
        ),
        key(
            "end",
            Value::Text,
            "the last moment that a row names",
            "When the run ends, as in a time column.",
        ),
        key(
            "about",
            Value::Text,
            "nothing",
            "A paragraph for readers: the complaint it shows, where it is from.",
        ),
        key(
            "expect",
            Value::OneOrMany(&Value::Text),
            "everything holds",
            "What the scenario is there to show: `\"broken A4\"`, `\"held A4\"`, `\"never exercised A4\"`.",
        ),
        key(
            "parameters",
            Value::List(&Value::Name),
            "none",
            "Only in files that others include: the names of what the including row must give.",
        ),
        key("rows", Value::Rows, "must be given", "The rows."),
        key(
            "lesson",
            Value::Table(&LESSON),
            "no lesson",
            "Makes the scenario a lesson: its place in the order, and what it is for.",
        ),
        key(
            "steps",
            Value::Many(&STEP),
            "none",
            "What a lesson tells and asks, in order of time.",
        ),
        key(
            "with",
            Value::Map(&Value::OneOrMany(&Value::Text)),
            "one run",
            "Parameters with their values: one run for each combination.",
        ),
        key("people", Value::Named(&PERSON), "nobody", "People."),
        key(
            "notices",
            Value::Maps("[notices.PLACE]", &Value::OneOrMany(&Value::Text)),
            "as in room.toml",
            "What sensors notice at a place in this run: `wall-sensor = [\"major motion\", \"20 % of minor motion\"]`.",
        ),
        key(
            "curves",
            Value::Named(&CURVE),
            "none",
            "Courses of daylight.",
        ),
        key(
            "scripts",
            Value::Named(&SCRIPT),
            "none",
            "Rows that are used several times, by `include`.",
        ),
    ],
};

/// A person.
pub(super) static PERSON: Table = Table {
    what: "a person",
    header: "[people.NAME]",
    says: "Somebody that only this scenario speaks of, or who sits elsewhere in it than room.toml says.",
    by: "",
    keys: &[key(
        "place",
        Value::Name,
        "a place where every sensor notices all",
        "Where the person goes on entering.",
    )],
};

/// A course of daylight.
pub(super) static CURVE: Table = Table {
    what: "a curve",
    header: "[curves.NAME]",
    says: "A course of daylight: pairs of time and illuminance, with straight lines between them.",
    by: "",
    keys: &[
        Key {
            name: "every",
            value: Value::Span(device::Span::from_seconds(1), device::Span::from_hours(1)),
            need: Need::Default("10 s"),
            only: &[],
            says: "How often the light is set on the way.",
        },
        key(
            "rows",
            Value::Rows,
            "must be given",
            "Pairs of time and illuminance.",
        ),
    ],
};

/// What makes a scenario a lesson.
pub(super) static LESSON: Table = Table {
    what: "a lesson",
    header: "[lesson]",
    says: "A scenario that is told to somebody who learns.",
    by: "",
    keys: &[
        Key {
            need: Need::Required,
            ..key(
                "order",
                Value::Count(1, 999),
                "",
                "Its place among the lessons of the site: the first is 1, and no two are equal.",
            )
        },
        Key {
            need: Need::Required,
            ..key(
                "goal",
                Value::Text,
                "",
                "What somebody knows after it, in a sentence.",
            )
        },
    ],
};

/// A step of a lesson.
pub(super) static STEP: Table = Table {
    what: "a step of a lesson",
    header: "[[steps]]",
    says: "Something that is told or asked at one moment, when everything of this moment has happened.",
    by: "",
    keys: &[
        Key {
            need: Need::Required,
            ..key(
                "at",
                Value::Text,
                "",
                "The moment, as in a time column; `+` counts from the step above.",
            )
        },
        key("says", Value::Text, "nothing", "What is told."),
        key(
            "asks",
            Value::Text,
            "nothing is asked",
            "A question. The clock stands until it is answered.",
        ),
        key(
            "choices",
            Value::List(&Value::Text),
            "needed with `asks`",
            "Two or more answers to choose from.",
        ),
        key(
            "right",
            Value::Text,
            "needed with `asks`",
            "The right one, in the same words.",
        ),
        key(
            "because",
            Value::Text,
            "needed with `asks`",
            "Why it is right; told when the room has answered.",
        ),
    ],
};

/// Rows that are used several times.
pub(super) static SCRIPT: Table = Table {
    what: "a script",
    header: "[scripts.NAME]",
    says: "Rows that are used several times, by `include`.",
    by: "",
    keys: &[
        key(
            "parameters",
            Value::List(&Value::Name),
            "none",
            "The names of what the including row must give.",
        ),
        key("rows", Value::Rows, "must be given", "The rows."),
    ],
};

const fn key(name: &'static str, value: Value, without: &'static str, says: &'static str) -> Key {
    Key {
        name,
        value,
        need: Need::Otherwise(without),
        only: &[],
        says,
    }
}
