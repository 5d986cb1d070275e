//! Random rooms, as the text of a file.
//!
//! Spans are few and alike, so that many fall due at one instant.

use std::fmt::Write as _;

use crate::dice::Dice;

/// A room, and what clauses may speak of.
#[derive(Clone, Debug, Default)]
pub(crate) struct Room {
    pub(crate) text: String,
    pub(crate) outputs: Vec<Output>,
    pub(crate) sources: Vec<Source>,
    /// The spans that stand in the room, in milliseconds.
    pub(crate) spans: Vec<u64>,
}

/// An output.
#[derive(Clone, Debug)]
pub(crate) struct Output {
    pub(crate) name: String,
    pub(crate) drive: &'static str,
}

/// A source.
#[derive(Clone, Debug)]
pub(crate) struct Source {
    pub(crate) name: String,
    pub(crate) kind: &'static str,
    pub(crate) sound: bool,
    /// The buttons, as clauses name them, and whether each is a scene.
    pub(crate) buttons: Vec<(String, bool)>,
    /// What `from` may say, and whether it is a scene.
    ties: Vec<(String, bool)>,
}

impl Output {
    pub(crate) fn dims(&self) -> bool {
        !matches!(self.drive, "relay" | "receptacle" | "dry contact")
    }

    fn is_lighting(&self) -> bool {
        !matches!(self.drive, "receptacle" | "dry contact")
    }
}

/// The room that a seed makes.
pub(crate) fn room(dice: &mut Dice) -> Room {
    let mut room = Room::default();
    room.text
        .push_str("name = \"Room\"\ntime-zone = \"Europe/London\"\n");
    let reaction = dice.one(&["1 s", "0 s", "20 ms", "1 s"]);
    let _ = writeln!(room.text, "reaction = \"{reaction}\"");
    bus(dice, &mut room);
    if dice.one_in(4) {
        let ramp = span(dice, &mut room, &[500, 1_000, 4_000]);
        let threshold = span(dice, &mut room, &[100, 500, 1_000]);
        let _ = writeln!(
            room.text,
            "\n[controllers.room-controller]\nramp = \"{ramp} ms\"\nhold-threshold = \"{threshold} ms\""
        );
    }
    let two = dice.one_in(6);
    let outputs = dice.one(&[1, 1, 2, 2, 3]);
    let relay = dice.one_in(4);
    let group = dice.one_in(5);
    for number in 0..outputs {
        let controller = two && number == 1;
        output(dice, &mut room, number, (relay, group, controller));
    }
    for number in 0..dice.one(&[1, 1, 2]) {
        sensor(dice, &mut room, number);
    }
    for number in 0..dice.one(&[0, 1, 1, 1, 2]) {
        unit(dice, &mut room, number);
    }
    for kind in [
        "card",
        "clock",
        "normal power",
        "fire alarm",
        "demand response",
        "daylight",
    ] {
        if dice.one_in(8) {
            other(dice, &mut room, kind);
        }
    }
    links(dice, &mut room);
    room
}

/// One of these spans, which the clauses of the room will know.
fn span(dice: &mut Dice, room: &mut Room, of: &[u64]) -> u64 {
    let ms = dice.one(of);
    room.spans.push(ms);
    ms
}

fn bus(dice: &mut Dice, room: &mut Room) {
    match dice.below(8) {
        0 => room.text.push_str("\n[bus]\ndelay = \"0 s\"\n"),
        1 => {
            let delay = span(dice, room, &[1, 50, 90]);
            let _ = writeln!(room.text, "\n[bus]\ndelay = \"{delay} ms\"");
        }
        2 => {
            let jitter = span(dice, room, &[1, 20, 39]);
            let _ = writeln!(room.text, "\n[bus]\njitter = \"{jitter} ms\"");
        }
        _ => {}
    }
}

/// Adds a key now and then.
fn perhaps(dice: &mut Dice, room: &mut Room, times: usize, key: &str, of: &[u64]) {
    if dice.one_in(times) {
        let ms = span(dice, room, of);
        let _ = writeln!(room.text, "{key} = \"{ms} ms\"");
    }
}

fn output(
    dice: &mut Dice,
    room: &mut Room,
    number: usize,
    (relay, group, controller): (bool, bool, bool),
) {
    let drives = [
        "relay",
        "relay",
        "0-10 V",
        "reverse phase",
        "receptacle",
        "dry contact",
    ];
    let made = Output {
        name: format!("lamp-{number}"),
        drive: dice.one(&drives),
    };
    let _ = writeln!(
        room.text,
        "\n[outputs.{}]\ndrive = \"{}\"",
        made.name, made.drive
    );
    if relay && made.is_lighting() {
        room.text.push_str("relay = \"feed\"\n");
    }
    if group && made.dims() {
        room.text.push_str("group = \"row\"\n");
    }
    if controller {
        room.text.push_str("controller = \"second\"\n");
    }
    perhaps(dice, room, 3, "press-hold", &[0, 30_000, 60_000, 900_000]);
    if dice.one_in(4) {
        perhaps(dice, room, 1, "off-after", &[0, 30_000, 60_000]);
    }
    if made.is_lighting() {
        perhaps(dice, room, 3, "warning", &[10_000, 30_000]);
        perhaps(dice, room, 3, "grace", &[1_000, 10_000, 30_000]);
        if dice.one_in(10) {
            room.text.push_str("egress = { floor = \"20 %\" }\n");
        }
    }
    if made.dims() {
        perhaps(dice, room, 3, "fade-on", &[0, 1_000, 10_000]);
        perhaps(dice, room, 3, "fade-off", &[0, 2_000, 10_000]);
        if dice.one_in(4) {
            room.text
                .push_str("low-trim = \"20 %\"\nhigh-trim = \"80 %\"\n");
        }
    } else {
        perhaps(dice, room, 4, "minimum-on", &[0, 30_000, 60_000]);
        perhaps(dice, room, 4, "minimum-off", &[0, 30_000, 60_000]);
    }
    if dice.one_in(6) {
        let up = dice.one(&["on", "off"]);
        let _ = writeln!(room.text, "power-up = \"{up}\"");
    }
    room.outputs.push(made);
}

fn sensor(dice: &mut Dice, room: &mut Room, number: usize) {
    let made = Source {
        name: format!("eye-{number}"),
        kind: "occupancy",
        sound: dice.one_in(2),
        buttons: Vec::new(),
        ties: vec![(format!("eye-{number}"), false)],
    };
    let senses = match made.sound {
        true => "[\"motion\", \"sound\"]",
        false => "\"motion\"",
    };
    let delay = span(dice, room, &[30_000, 30_000, 60_000, 300_000, 900_000]);
    let _ = writeln!(
        room.text,
        "\n[sources.{}]\nkind = \"occupancy\"\nsenses = {senses}\ntime-delay = \"{delay} ms\"",
        made.name
    );
    if made.sound {
        let window = dice
            .one(&[0, delay, 2 * delay, 2 * delay, 4 * delay])
            .min(7_200_000);
        room.spans.push(window);
        let _ = writeln!(room.text, "sound-window = \"{window} ms\"");
        perhaps(dice, room, 3, "sound-grace", &[10, 1_000, 30_000]);
    }
    perhaps(dice, room, 4, "dead-time", &[0, 100, 1_000, 10_000]);
    perhaps(dice, room, 6, "report-every", &[10_000, 60_000]);
    perhaps(dice, room, 6, "repeat", &[1_000, 30_000]);
    room.sources.push(made);
}

fn unit(dice: &mut Dice, room: &mut Room, number: usize) {
    let name = format!("unit-{number}");
    let (keys, named): (&str, &[(&str, bool)]) = match dice.below(6) {
        0 => ("\"single\"", &[("single", false)]),
        1 => (
            "[\"left up/down\", \"film scene\"]",
            &[("left up", false), ("left down", false), ("film", true)],
        ),
        2 => ("[\"film scene\"]", &[("film", true)]),
        3 => (
            "[\"left single\", \"right single\"]",
            &[("left", false), ("right", false)],
        ),
        _ => ("\"up/down\"", &[("up", false), ("down", false)]),
    };
    let ties = match dice.below(6) {
        _ if named.len() == 1 && !named[0].1 => vec![(name.clone(), false)],
        _ if named[0].0 == "up" => vec![(name.clone(), false)],
        _ => {
            let mut ties: Vec<(String, bool)> = Vec::new();
            for (button, scene) in named {
                let first = button.split(' ').next().unwrap_or(button);
                let tie = (format!("{name}/{first}"), *scene);
                if !ties.contains(&tie) {
                    ties.push(tie);
                }
            }
            ties
        }
    };
    let _ = writeln!(
        room.text,
        "\n[sources.{name}]\nkind = \"switch\"\nbuttons = {keys}"
    );
    perhaps(dice, room, 5, "edge-gap", &[0, 50, 200]);
    let buttons = named
        .iter()
        .map(|(button, scene)| (format!("{name}/{button}"), *scene))
        .collect();
    room.sources.push(Source {
        name,
        kind: "switch",
        sound: false,
        buttons,
        ties,
    });
}

fn other(dice: &mut Dice, room: &mut Room, kind: &'static str) {
    let name = kind.replace(' ', "-") + "-0";
    let _ = writeln!(room.text, "\n[sources.{name}]\nkind = \"{kind}\"");
    match kind {
        "card" => {
            perhaps(dice, room, 2, "linger", &[0, 10_000, 30_000]);
            if dice.one_in(2) {
                room.text.push_str("captive = true\n");
            }
            if dice.one_in(3) {
                room.text.push_str("verifies = true\n");
            }
        }
        "clock" => {
            let hours = dice.one(&[
                "{ every-day = \"08:00 to 18:00\" }",
                "{ weekdays = \"09:00 to 09:30\" }",
            ]);
            let sweeps = dice.one(&["\"22:00\"", "\"18:00\"", "[\"09:30\", \"22:00\"]"]);
            let _ = writeln!(room.text, "hours = {hours}\nsweeps = {sweeps}");
        }
        _ => {}
    }
    room.sources.push(Source {
        ties: vec![(name.clone(), false)],
        name,
        kind,
        sound: false,
        buttons: Vec::new(),
    });
}

fn links(dice: &mut Dice, room: &mut Room) {
    let outputs = room.outputs.clone();
    let mut scenes = String::new();
    for source in room.sources.clone() {
        for (from, scene) in &source.ties {
            if *scene {
                let name = from.rsplit('/').next().unwrap_or(from);
                if !scenes.contains(&format!("[scenes.{name}]")) {
                    let _ = writeln!(scenes, "\n[scenes.{name}]");
                    for output in &outputs {
                        if dice.one_in(2) || output.name == "lamp-0" {
                            let levels: &[&str] = match output.dims() {
                                true => &["off", "30 %", "100 %"],
                                false => &["off", "100 %"],
                            };
                            let level = dice.one(levels);
                            let _ = writeln!(scenes, "{} = \"{level}\"", output.name);
                        }
                    }
                }
                continue;
            }
            for output in &outputs {
                if output.name == "lamp-0" && !dice.one_in(6) || dice.one_in(2) {
                    link(dice, room, source.kind, from, output);
                }
            }
        }
    }
    room.text.push_str(&scenes);
}

fn link(dice: &mut Dice, room: &mut Room, kind: &str, from: &str, output: &Output) {
    if kind == "clock" {
        for role in ["sweep", "opening", "no-auto-on", "off-after-hours"] {
            if dice.one_in(2) {
                tie(room, from, output, Some(role));
                match role {
                    "sweep" => {
                        perhaps(dice, room, 2, "warning", &[10_000, 300_000]);
                        perhaps(dice, room, 2, "longest-override", &[60_000, 3_600_000]);
                    }
                    "off-after-hours" => {
                        perhaps(dice, room, 2, "after-hours-off", &[0, 30_000, 60_000]);
                    }
                    _ => {}
                }
            }
        }
        return;
    }
    if kind == "daylight" {
        if output.dims() {
            tie(room, from, output, Some("limit"));
        }
        return;
    }
    let role = (kind == "occupancy").then(|| match output.is_lighting() {
        true => dice.one(&["auto-on", "auto-on", "partial-on", "manual-on"]),
        false => "auto-on",
    });
    tie(room, from, output, role);
    if let Some(role) = role {
        perhaps(dice, room, 3, "run-on", &[10, 30_000, 60_000]);
        if output.dims() {
            if role != "manual-on" && dice.one_in(4) {
                let level = dice.one(&["40 %", "70 %"]);
                let _ = writeln!(room.text, "level = \"{level}\"");
            }
            if dice.one_in(4) {
                let level = dice.one(&["20 %", "40 %"]);
                let _ = writeln!(room.text, "setback = \"{level}\"");
            }
        }
        if dice.one_in(8) {
            room.text.push_str("lost = \"occupied\"\n");
        }
    }
}

fn tie(room: &mut Room, from: &str, output: &Output, role: Option<&str>) {
    let _ = writeln!(
        room.text,
        "\n[[links]]\nfrom = \"{from}\"\nto = \"{}\"",
        output.name
    );
    if let Some(role) = role {
        let _ = writeln!(room.text, "role = \"{role}\"");
    }
}
