//! The key tables of `sequence.toml`.

use crate::keys::Need::{self, Default, Otherwise, Required};
use crate::keys::{Key, Table, Value};
use crate::room_file::LIGHT;

/// A whole `sequence.toml`.
pub static SEQUENCE: Table = Table {
    what: "a sequence",
    header: "",
    says: "A sequence of operation is a list of clauses.",
    by: "",
    keys: &[
        key(
            "title",
            Value::Text,
            Otherwise("the name of the room"),
            "What the documents call the sequence.",
        ),
        key(
            "says",
            Value::Text,
            Otherwise("nothing"),
            "A paragraph for the documents.",
        ),
        key(
            "clauses",
            Value::Many(&CLAUSE),
            Otherwise("none"),
            "The clauses, in the order in which documents print them.",
        ),
    ],
};

/// One clause.
static CLAUSE: Table = Table {
    what: "a clause",
    header: "[[clauses]]",
    says: "One sentence and its formal half.",
    by: "",
    keys: &[
        key(
            "id",
            Value::Text,
            Required,
            "Its id, unique in the room: letters, digits, `-` and `.`.",
        ),
        key(
            "says",
            Value::Text,
            Required,
            "The sentence that documents print.",
        ),
        key(
            "assume",
            Value::YesNo,
            Default("false"),
            "true: not a duty of the room but something that is taken for granted about people and devices.",
        ),
        key(
            "copies",
            Value::Count(1, 64),
            Otherwise("one clause, as written"),
            "So many clauses: `#` in the texts becomes 1, 2, 3 and so on.",
        ),
        key(
            "reaction",
            Value::Text,
            Otherwise("the room's"),
            "How long this clause lets the room react.",
        ),
        key(
            "daylight",
            LIGHT,
            Otherwise("darkness"),
            "A proof of this clause takes it for granted that so much daylight stands outside; a run judges it in any light.",
        ),
        formal("always", "Holds at every instant."),
        formal(
            "never",
            "Never happens; or, for a condition, holds at no instant.",
        ),
        formal(
            "when",
            "The trigger: something that happens, or a condition that becomes true.",
        ),
        formal("then", "What must be so from then on, or within a span."),
        formal("within", "How long it may take until `then` is so."),
        formal("for", "How long `then` must stay so."),
        formal("until", "What ends the duty."),
        formal("unless", "What excuses."),
        formal("while", "The clause counts only while this is so."),
        formal("only", "The only ones that may do it."),
    ],
};

const fn key(name: &'static str, value: Value, need: Need, says: &'static str) -> Key {
    Key {
        name,
        value,
        need,
        only: &[],
        says,
    }
}

const fn formal(name: &'static str, says: &'static str) -> Key {
    key(name, Value::Text, Otherwise("not part of the clause"), says)
}
