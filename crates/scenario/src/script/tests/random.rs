//! Random scenario files: nothing that a file can hold makes reading or running panic, and rows
//! of different instants in any order give the same run.

use std::sync::Arc;

use proptest::prelude::*;

use super::{found, room};
use crate::Sources;
use crate::run::{run, trace_text};
use crate::script::load;

const POINTS: &[&str] = &[
    "wall-sensor",
    "wall-button",
    "wall-unit",
    "wall-unit/zone-a",
    "door-card",
    "house-clock",
    "mains",
    "alarm",
    "grid",
    "desk-lights",
    "wall-lights",
    "desk-outlet",
    "desk-1",
    "ana",
    "room",
    "room-controller",
    "all outputs",
    "wall-sensor to desk-lights",
    "include",
    "nobody",
    "",
];

const SAYINGS: &[&str] = &[
    "motion",
    "sound",
    "tap up",
    "tap film",
    "tap zone-a down",
    "hold up for 2 s",
    "hold down for 1 min",
    "press up",
    "release up",
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
    "set to 21:00",
    "set right",
    "lost",
    "back",
    "sounds",
    "stops",
    "sheds",
    "sheds 20 points",
    "ends",
    "power cut",
    "power back",
    "daylight 300 lx",
    "daylight 0 lx to 500 lx",
    "daylight arc up to 20000 lx",
    "daylight follows morning",
    "relay sticks closed",
    "relay sticks open",
    "relay freed",
    "frames lost",
    "20 % of frames lost",
    "20 % of frames twice",
    "next 3 frames lost",
    "next frame twice",
    "next frame late by 2 s",
    "clock 3 % slow",
    "clock right",
    "frames out of order",
    "frames on time",
    "frames pass",
    "time-delay = 5 min",
    "level = 70 %",
    "low-trim = 20 %",
    "enters",
    "sits still",
    "types",
    "talks",
    "walks to desk-2",
    "leaves",
    "visit",
    "is on",
    "is not on",
    "is 50 %",
    "asks at most 50 %",
    "shows between 20 % and 60 %",
    "is occupied",
    "is vacant",
    "is unknown",
    "is closed",
    "is latched",
    "is by hand",
    "is in warning",
    "is in emergency",
    "is at least 500 lx",
    "is in the light",
    "is in the dark",
    "reports lost",
    "reports no fault",
    "stays on for 20 min",
    "stays off until 10:00",
    "turns on within 5 s",
    "turns off at most 3 times within 1 h",
    "changes",
    "never turns on for 10 min",
    "never shows 30 % for 10 min",
    "does not change",
    "sends occupied",
    "sends 3 frames within 10 min",
    "sends nothing for 1 min",
    "hears vacant from wall-sensor",
    "used at most 120 Wh",
    "was on at most 20 % of the time",
    "turned on twice",
    "averaged at most 60 %",
    "averaged at least 450 lx",
    "{delay}",
    "",
];

const TIMES: &[&str] = &[
    "08:00",
    "08:00:30.250",
    "08:15:00 after",
    "+1 s",
    "+{delay}",
    "+100 ms after",
    "08:01 to 08:30",
    "08:01 to 10:30 every 30 s",
    "09:00 every 5 min 4 times",
    "21:59 to day 2 02:00 every hour",
    "day 2 06:00",
    "day 3 02:30 again",
    "start",
    "end",
    "start to end",
    "08:20 to +10 min",
    "",
    "soon",
];

/// One of the texts, now and then with a letter too many.
fn one_of(texts: &'static [&'static str]) -> impl Strategy<Value = String> {
    let text = prop::sample::select(texts).prop_map(str::to_owned);
    let garbled = (
        prop::sample::select(texts),
        any::<prop::sample::Index>(),
        any::<char>(),
    )
        .prop_map(|(text, at, letter)| {
            let mut letters: Vec<char> = text.chars().collect();
            letters.insert(at.index(letters.len() + 1), letter);
            letters.into_iter().collect()
        });
    prop_oneof![60 => text, 1 => garbled]
}

/// A point and what is said of it: most of the time what suits it.
fn saying() -> impl Strategy<Value = (String, String)> {
    let owned = |(point, says): (&str, &str)| (point.to_owned(), says.to_owned());
    prop_oneof![
        30 => prop::sample::select(DEEDS).prop_map(owned),
        20 => prop::sample::select(CHECKS).prop_map(owned),
        1 => (one_of(POINTS), one_of(SAYINGS)),
    ]
}

fn quoted(text: &str) -> String {
    let mut quoted = String::from("\"");
    for letter in text.chars() {
        match letter {
            '"' | '\\' => quoted.extend(['\\', letter]),
            letter if letter.is_control() => {
                quoted.push_str(&format!("\\u{:04x}", u32::from(letter)));
            }
            letter => quoted.push(letter),
        }
    }
    quoted + "\""
}

fn scenario(rows: &[String]) -> String {
    format!(
        r#"title = "x"
start = "2026-03-02 08:00"
rows = [
{}
]
[with]
delay = ["5 min", "motion"]
[curves.morning]
rows = [["08:00", "0 lx"], ["09:00", "800 lx"]]
[scripts.visit]
rows = [["+0 s", "ana", "enters"], ["+1 min", "ana", "leaves"]]
"#,
        rows.join(",\n")
    )
}

proptest! {
    #[test]
    fn no_row_makes_reading_or_running_panic(
        rows in prop::collection::vec((one_of(TIMES), saying()), 1..6),
        seed in any::<u64>(),
    ) {
        let rows: Vec<String> = rows
            .iter()
            .map(|(time, (point, says))| {
                format!("[{}, {}, {}]", quoted(time), quoted(point), quoted(says))
            })
            .collect();
        let mut sources = Sources::new();
        let room = room(&mut sources);
        let file = sources.add("scenario.toml", scenario(&rows));
        let loaded = load(&mut sources, file, &room);
        for one in &loaded.diagnostics {
            prop_assert!(!one.render(&sources, false).is_empty());
        }
        for script in loaded.scripts {
            let outcome = run(&Arc::new(script), seed);
            for (check, judged) in outcome.script.checks.iter().zip(&outcome.checks) {
                let failed = judged.failure.is_some();
                prop_assert_eq!(judged.as_expected, failed == check.fails);
            }
        }
    }

    #[test]
    fn any_text_is_read_without_a_panic(text in "\\PC{0,200}") {
        found(&text);
        found(&format!("title = \"x\"\nstart = {}\nrows = []", quoted(&text)));
        found(&format!("title = \"x\"\nstart = \"2026-03-02 08:00\"\nrows = [{text}]"));
    }

    /// Deeds at instants of their own, in two orders.
    #[test]
    fn rows_of_different_instants_in_any_order_give_the_same_run(
        deeds in prop::collection::btree_map(0_u32..7_200_000, 0..DEEDS.len(), 1..30),
        swaps in prop::collection::vec(any::<(prop::sample::Index, prop::sample::Index)>(), 0..30),
    ) {
        let row = |(ms, deed): (&u32, &usize)| {
            let (point, says) = DEEDS[*deed];
            let (hours, minutes) = (8 + ms / 3_600_000, ms / 60_000 % 60);
            let (seconds, ms) = (ms / 1_000 % 60, ms % 1_000);
            format!("[\"{hours:02}:{minutes:02}:{seconds:02}.{ms:03}\", \"{point}\", \"{says}\"]")
        };
        let rows: Vec<String> = deeds.iter().map(row).collect();
        let mut shuffled = rows.clone();
        for (one, two) in swaps {
            let (one, two) = (one.index(rows.len()), two.index(rows.len()));
            shuffled.swap(one, two);
        }
        let texts: Vec<String> = [rows, shuffled]
            .iter()
            .map(|rows| {
                let mut sources = Sources::new();
                let room = room(&mut sources);
                let file = sources.add("scenario.toml", scenario(rows));
                let loaded = load(&mut sources, file, &room);
                let mut scripts = loaded.scripts.into_iter();
                scripts.next().map_or_else(String::new, |script| {
                    trace_text(&run(&Arc::new(script), 0))
                })
            })
            .collect();
        prop_assert!(!texts[0].is_empty());
        prop_assert_eq!(&texts[0], &texts[1]);
    }
}

/// What can happen at any moment and in any order.
const DEEDS: &[(&str, &str)] = &[
    ("wall-sensor", "motion"),
    ("wall-sensor", "sound"),
    ("wall-button", "press up"),
    ("wall-button", "release up"),
    ("wall-unit/zone-a", "press down"),
    ("wall-unit/zone-a", "release down"),
    ("wall-unit", "press film"),
    ("door-card", "card in"),
    ("door-card", "card out"),
    ("room", "power cut"),
    ("room", "power back"),
    ("room", "daylight 500 lx"),
    ("wall-sensor", "next frame lost"),
    ("wall-sensor", "time-delay = 5 min"),
    ("wall-sensor", "time-delay = 10 min"),
    ("desk-lights", "relay sticks open"),
    ("desk-lights", "relay freed"),
    ("grid", "sheds"),
    ("grid", "ends"),
    ("house-clock", "sweep"),
];

/// What can be checked.
const CHECKS: &[(&str, &str)] = &[
    ("desk-lights", "is on"),
    ("desk-lights", "is 50 %"),
    ("desk-lights", "asks at most 50 %"),
    ("desk-lights", "shows between 20 % and 60 %"),
    ("wall-lights", "is not in warning"),
    ("wall-lights", "reports no fault"),
    ("desk-outlet", "relay is closed"),
    ("desk-lights", "stays on for 20 min"),
    ("desk-lights", "stays off until 11:00"),
    ("desk-lights", "turns off at most 3 times within 1 h"),
    ("desk-lights", "never shows 30 % for 10 min"),
    ("desk-lights", "does not change"),
    ("desk-lights", "changes"),
    ("wall-sensor", "is occupied"),
    ("wall-sensor", "sends 3 frames within 10 min"),
    ("desk-lights", "hears vacant from wall-sensor"),
    ("desk-lights", "used at most 120 Wh"),
    ("desk-lights", "was on at most 20 % of the time"),
    ("desk-lights", "averaged at most 60 %"),
    ("desk-1", "is at least 10 lx"),
    ("desk-1", "averaged at least 10 lx"),
    ("ana", "is in the light"),
    ("ana", "enters"),
    ("ana", "types"),
    ("ana", "leaves"),
    ("room", "daylight 0 lx to 500 lx"),
    ("wall-button", "hold down for 1 min"),
    ("all outputs", "is off"),
    ("include", "visit"),
];
