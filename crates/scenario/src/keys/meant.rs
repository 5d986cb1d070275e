//! What people call things, by the trade or by habit, and what the files call them.
//!
//! Only for hints: nothing here is accepted. Invariant: every word that is proposed is one of the
//! key table's own.

use super::Table;

/// The key of this table that somebody most likely means by `name`.
pub(crate) fn key(table: &Table, name: &str) -> Option<&'static str> {
    let name = plain(name);
    let alias = KEYS
        .iter()
        .filter(|(names, _)| names.contains(&name.as_str()));
    let mut alias = alias.filter_map(|(_, key)| table.key(key));
    let plural = || {
        let mut keys = table.keys.iter();
        keys.find(|key| key.name.strip_suffix('s') == Some(name.as_str()))
    };
    alias.next().or_else(plural).map(|key| key.name)
}

/// What to write instead of `text` where only the words `known` can stand.
pub(super) fn word(text: &str, known: &[&'static str]) -> Option<&'static str> {
    let text = plain(text);
    let mut found = WORDS
        .iter()
        .filter(|(names, word, _)| names.contains(&text.as_str()) && known.contains(word));
    found.next().map(|(_, _, hint)| *hint)
}

/// Small letters, with hyphens for whatever holds words together.
fn plain(text: &str) -> String {
    let text = text.trim().to_lowercase();
    text.replace([' ', '_'], "-")
}

/// What people write for a key, and the key. The first that the table has counts.
const KEYS: &[(&[&str], &str)] = &[
    (
        &[
            "delay",
            "hold-time",
            "off-delay",
            "time-out",
            "timeout",
            "timer",
            "vacancy-delay",
        ],
        "time-delay",
    ),
    (&["device", "sort", "type"], "kind"),
    (&["calendar", "opening-hours", "open", "schedule"], "hours"),
    (&["sensor", "sensors", "channels", "technology"], "senses"),
    (&["input", "sensor", "source"], "from"),
    (&["devices", "inputs", "sensors", "switches"], "sources"),
    (&["lamps", "lights", "luminaires", "zones"], "outputs"),
    (&["connections", "pairings", "wiring"], "links"),
    (&["occupants", "person", "persons"], "people"),
    (&["load", "output", "outputs", "target"], "to"),
    (&["action", "mode"], "role"),
    (&["power", "wattage", "watts"], "load"),
    (
        &["kind-of-load", "lamp-kind", "lamp-type", "load-type"],
        "load-kind",
    ),
    (&["low-end", "min", "min-level", "minimum"], "low-trim"),
    (&["high-end", "max", "max-level", "maximum"], "high-trim"),
    (&["trigger", "if", "whenever"], "when"),
    (&["must", "so"], "then"),
    (&["description", "sentence", "text"], "says"),
    (&["name"], "title"),
    (&["time"], "at"),
    (&["question"], "asks"),
    (&["answers", "options"], "choices"),
    (&["answer", "correct"], "right"),
    (&["why"], "because"),
    (&["checks", "events", "steps"], "rows"),
];

/// What people write for a word, the word, and what to say.
const WORDS: &[(&[&str], &str, &str)] = &[
    (
        &["auto-off", "manual", "off", "vacancy", "vacancy-sensor"],
        "manual-on",
        "write \"manual-on\": a hand turns on, the sensor turns off",
    ),
    (
        &[
            "auto",
            "automatic",
            "automatic-on",
            "occupancy",
            "on",
            "on-off",
        ],
        "auto-on",
        "write \"auto-on\": the sensor turns on and off",
    ),
    (
        &["half", "partial", "partial-auto-on"],
        "partial-on",
        "write \"partial-on\": the sensor turns on at `level`, and off",
    ),
    (
        &["partial-off"],
        "auto-on",
        "write role = \"auto-on\" and setback = \"30 %\": down to that level instead of off",
    ),
    (
        &[
            "infrared",
            "microwave",
            "movement",
            "passive-infrared",
            "pir",
            "presence",
            "radar",
            "ultrasonic",
        ],
        "motion",
        "write \"motion\"",
    ),
    (
        &["acoustic", "audio", "microphone", "noise"],
        "sound",
        "write \"sound\"; it only prolongs what \"motion\" has begun",
    ),
    (
        &["both", "dual", "dual-tech", "dual-technology"],
        "sound",
        "write senses = [\"motion\", \"sound\"]",
    ),
    (
        &[
            "motion",
            "motion-sensor",
            "occupancy-sensor",
            "pir",
            "presence",
            "sensor",
            "vacancy",
            "vacancy-sensor",
        ],
        "occupancy",
        "write \"occupancy\": what its sensing turns on or off is the `role` of a link",
    ),
    (
        &["button", "buttons", "keypad", "wall-switch", "wall-unit"],
        "switch",
        "write \"switch\"",
    ),
    (
        &[
            "daylight-sensor",
            "light-sensor",
            "lux",
            "photo",
            "photo-sensor",
            "photocell",
            "photosensor",
        ],
        "daylight",
        "write \"daylight\"",
    ),
    (
        &["schedule", "time-clock", "time-switch", "timer"],
        "clock",
        "write \"clock\"",
    ),
    (
        &["card-reader", "key-card", "keycard"],
        "card",
        "write \"card\"",
    ),
    (
        &["dim", "dimmed", "dimmer", "dimming"],
        "0-10 V",
        "write \"0-10 V\" for gear with a dimming pair, or \"forward phase\" or \"reverse phase\"",
    ),
    (
        &["dali", "digital"],
        "0-10 V",
        "digital control gear is not modelled: \"0-10 V\" is the nearest",
    ),
    (
        &["outlet", "plug", "socket", "split-receptacle"],
        "receptacle",
        "write \"receptacle\"",
    ),
    (
        &["always-hot", "always-on", "hot", "unswitched"],
        "receptacle",
        "what is always hot is no output: leave it out; the half that is switched is a \"receptacle\"",
    ),
    (
        &["contactor", "on-off", "on/off", "switch", "switched"],
        "relay",
        "write \"relay\"",
    ),
    (
        &["leading-edge", "triac"],
        "forward phase",
        "write \"forward phase\"",
    ),
    (
        &["trailing-edge"],
        "reverse phase",
        "write \"reverse phase\"",
    ),
    (&["contact"], "dry contact", "write \"dry contact\""),
];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::keys::Value;
    use crate::room_file::ROOM;

    /// The table of the things below one key of a room.
    fn inner(key: &str) -> &'static Table {
        match &ROOM.key(key).expect("rooms have it").value {
            Value::Named(table) | Value::Many(table) => table,
            other => panic!("{key} is {other:?}"),
        }
    }

    #[test]
    fn a_key_is_guessed_from_the_table_it_stands_in() {
        let (sources, links) = (inner("sources"), inner("links"));
        assert_eq!(key(sources, "time_out"), Some("time-delay"));
        assert_eq!(key(links, "Source"), Some("from"));
        assert_eq!(key(&ROOM, "place"), Some("places"));
        assert_eq!(key(links, "delay"), None);
    }

    #[test]
    fn every_proposed_word_can_be_written_where_it_is_proposed() {
        let known = |word: &str| {
            ["outputs", "sources", "links"].into_iter().any(|part| {
                let values = inner(part).keys.iter().map(|key| &key.value);
                values.into_iter().any(|value| match value {
                    Value::Word(words) | Value::OneOrMany(Value::Word(words)) => {
                        words.contains(&word)
                    }
                    _ => false,
                })
            })
        };
        for (_, word, hint) in WORDS {
            assert!(known(word), "{word}");
            assert!(hint.contains(&format!("\"{word}\"")), "{hint}");
        }
    }
}
