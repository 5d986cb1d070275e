//! Everything that stands still, as the page is told it: what there is and what can be done.
//!
//! Invariant: it changes only with the revision of the session.

use std::sync::Arc;

use report::words;
use room::{OutputId, SourceId, SourceSettings};
use scenario::keys::Item;
use scenario::room_file::RoomFile;
use serde::Serialize;
use sim::Instant;

use crate::Stage;
use crate::session::Session;
use crate::settings::Knob;

/// Everything that stands still.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct Still {
    revision: u32,
    name: String,
    says: Option<String>,
    start: String,
    zone: String,
    size: Option<Size>,
    outputs: Vec<Output>,
    sources: Vec<Source>,
    links: Vec<Link>,
    places: Vec<Place>,
    people: Vec<Person>,
    clauses: Vec<Clause>,
    settings: Vec<Knob>,
    words: Words,
    /// The folder of the room, and those of all rooms that can be opened here.
    room: String,
    rooms: Vec<Other>,
    scenarios: Vec<Scenario>,
    lessons: Vec<Lesson>,
}

/// A room that can be opened.
#[derive(Clone, Debug, Serialize)]
struct Other {
    folder: String,
    name: String,
}

/// A scenario that can be opened.
#[derive(Clone, Debug, Serialize)]
struct Scenario {
    file: String,
    title: String,
}

/// A lesson that can be given.
#[derive(Clone, Debug, Serialize)]
struct Lesson {
    room: String,
    file: String,
    title: String,
    goal: String,
    order: u16,
    questions: usize,
}

#[derive(Clone, Debug, Serialize)]
struct Size {
    w: u64,
    d: u64,
    h: Option<u64>,
}

#[derive(Clone, Debug, Serialize)]
struct Output {
    name: String,
    says: Option<String>,
    kind: &'static str,
    drive: &'static str,
    dims: bool,
    load_w: Option<f64>,
    at: Option<(u64, u64)>,
    egress: bool,
    group: Option<String>,
}

#[derive(Clone, Debug, Serialize)]
struct Source {
    name: String,
    says: Option<String>,
    kind: &'static str,
    what: &'static str,
    senses: Vec<String>,
    buttons: Vec<Button>,
    at: Option<(u64, u64)>,
}

#[derive(Clone, Debug, Serialize)]
struct Button {
    name: String,
    does: String,
}

#[derive(Clone, Debug, Serialize)]
struct Link {
    from: String,
    button: Option<String>,
    to: String,
    role: &'static str,
    says: String,
}

#[derive(Clone, Debug, Serialize)]
struct Place {
    name: String,
    at: Option<(u64, u64)>,
}

#[derive(Clone, Debug, Serialize)]
struct Person {
    name: String,
    place: Option<String>,
}

#[derive(Clone, Debug, Serialize)]
struct Clause {
    id: String,
    says: String,
    text: String,
}

/// What can be said of each kind of point.
#[derive(Clone, Debug, Serialize)]
struct Words {
    person: Vec<String>,
    occupancy: Vec<&'static str>,
    switch: Vec<&'static str>,
    card: Vec<&'static str>,
    daylight: Vec<&'static str>,
    clock: Vec<&'static str>,
    #[serde(rename = "normal-power")]
    normal_power: Vec<&'static str>,
    #[serde(rename = "fire-alarm")]
    fire_alarm: Vec<&'static str>,
    #[serde(rename = "demand-response")]
    demand_response: Vec<&'static str>,
    output: Vec<&'static str>,
    controller: Vec<&'static str>,
    room: Vec<&'static str>,
    link: Vec<&'static str>,
}

impl Session {
    /// Everything that stands still, in a site of these rooms.
    pub(crate) fn still(&self, site: &[Arc<Stage>]) -> Still {
        let stage = &self.stage;
        let room = &stage.room;
        let plan = &room.plan;
        let script = self.score.script();
        let start = script.civil.zoned(Instant::START);
        let outputs = (0..).map(OutputId).take(plan.outputs.len());
        let sources = (0..).map(SourceId).take(plan.sources.len());
        let place = |name: &String| Place {
            name: name.clone(),
            at: room.position(name),
        };
        let person = |person: &scenario::script::people::Person| Person {
            name: person.name.clone(),
            place: person.seat.clone(),
        };
        Still {
            revision: self.revision(),
            name: plan.name.clone(),
            says: room.says(),
            start: start.strftime("%Y-%m-%dT%H:%M:%S%:z").to_string(),
            zone: room.zone.clone(),
            size: room.size().map(|(w, d, h)| Size { w, d, h }),
            outputs: outputs.map(|id| output(room, id)).collect(),
            sources: sources.map(|id| source(room, id)).collect(),
            links: links(room),
            places: room.places.iter().map(place).collect(),
            people: script.people.iter().map(person).collect(),
            clauses: clauses(room),
            settings: self.knobs(),
            words: said(room),
            scenarios: (stage.scenarios.iter())
                .map(|scene| Scenario {
                    file: scene.name.clone(),
                    title: scene.script.title.clone(),
                })
                .collect(),
            lessons: lessons(site),
            room: stage.folder(),
            rooms: (site.iter())
                .map(|stage| Other {
                    folder: stage.folder(),
                    name: stage.name().to_owned(),
                })
                .collect(),
        }
    }
}

/// The lessons of all rooms, in their order.
fn lessons(site: &[Arc<Stage>]) -> Vec<Lesson> {
    let mut lessons: Vec<Lesson> = Vec::new();
    for stage in site {
        lessons.extend(stage.scenarios.iter().filter_map(|scene| {
            let lesson = scene.script.lesson.as_ref()?;
            Some(Lesson {
                room: stage.folder(),
                file: scene.name.clone(),
                title: scene.script.title.clone(),
                goal: lesson.goal.clone(),
                order: lesson.order,
                questions: lesson.questions(),
            })
        }));
    }
    lessons.sort_by_key(|lesson| lesson.order);
    lessons
}

fn output(room: &RoomFile, id: OutputId) -> Output {
    let planned = &room.plan.outputs[usize::from(id.0)];
    let controller = &room.plan.controllers[usize::from(planned.controller.0)];
    let settings = &controller.settings.outputs[usize::from(planned.local)];
    let (keys, _) = room.output_keys(id);
    let load = room.loads().get(usize::from(id.0)).copied().flatten();
    Output {
        name: planned.name.clone(),
        says: keys.text("says").map(|text| text.value),
        kind: words::Kind::of(settings.drive).name(),
        drive: words::drive(settings.drive),
        dims: settings.drive.dims(),
        load_w: load
            .and_then(|mw| u32::try_from(mw).ok())
            .map(|mw| f64::from(mw) / 1_000.0),
        at: room.position(&planned.name),
        egress: settings.floor.is_some(),
        group: keys.text("group").map(|text| text.value),
    }
}

fn source(room: &RoomFile, id: SourceId) -> Source {
    let planned = &room.plan.sources[usize::from(id.0)];
    let (keys, _) = room.source_keys(id);
    let senses = match &planned.settings {
        SourceSettings::Occupancy(settings) if settings.sound => vec!["motion", "sound"],
        SourceSettings::Occupancy(_) => vec!["motion"],
        _ => Vec::new(),
    };
    let mut senses: Vec<String> = senses.into_iter().map(str::to_owned).collect();
    if let Some(Item::Word(word)) = keys.table.key("signal").and_then(|_| keys.item("signal")) {
        senses.push(word.to_owned());
    }
    Source {
        name: planned.name.clone(),
        says: keys.text("says").map(|text| text.value),
        kind: kind(&planned.settings),
        what: words::source_kind(&planned.settings),
        senses,
        buttons: (0..)
            .zip(&planned.buttons)
            .map(|(number, name)| Button {
                name: name.clone(),
                does: does(room, id, number),
            })
            .collect(),
        at: room.position(&planned.name),
    }
}

/// The kind of a source in a word.
pub(crate) fn kind(settings: &SourceSettings) -> &'static str {
    use device::signal::Kind;
    match settings {
        SourceSettings::Occupancy(_) => "occupancy",
        SourceSettings::Switch(_) => "switch",
        SourceSettings::Card(_) => "card",
        SourceSettings::Daylight(_) => "daylight",
        SourceSettings::Clock(_) => "clock",
        SourceSettings::Signal(settings) => match settings.kind {
            Kind::NormalPower => "normal-power",
            Kind::FireAlarm => "fire-alarm",
            Kind::DemandResponse => "demand-response",
        },
    }
}

/// What a button does, by the outputs that it is linked to.
fn does(room: &RoomFile, id: SourceId, number: u8) -> String {
    let own = room
        .ties
        .iter()
        .filter(|tie| tie.source == usize::from(id.0) && tie.button.is_none_or(|it| it == number));
    let mut outputs: Vec<String> = own
        .map(|tie| room.plan.outputs[tie.output].name.clone())
        .collect();
    outputs.sort();
    outputs.dedup();
    match outputs.as_slice() {
        [] => "is linked to nothing".to_owned(),
        outputs => words::list(outputs),
    }
}

fn links(room: &RoomFile) -> Vec<Link> {
    let link = |tie: &scenario::room_file::Tie| {
        let source = &room.plan.sources[tie.source];
        let button = tie
            .button
            .and_then(|at| source.buttons.get(usize::from(at)));
        let to = &room.plan.outputs[tie.output].name;
        let from = match button {
            Some(button) => format!("{}/{button}", source.name),
            None => source.name.clone(),
        };
        Link {
            says: format!("{from} to {to}: {}", tie.role_word),
            from: source.name.clone(),
            button: button.cloned(),
            to: to.clone(),
            role: tie.role_word,
        }
    };
    room.ties.iter().map(link).collect()
}

fn clauses(room: &RoomFile) -> Vec<Clause> {
    let clause = |planned: &room::PlanClause| {
        let halves = room.halves.get(&planned.id).into_iter().flatten();
        let text: Vec<String> = halves
            .map(|(key, text, _)| format!("{key} {text}"))
            .collect();
        Clause {
            id: planned.id.clone(),
            says: room
                .sentences
                .get(&planned.id)
                .map(|(_, says)| says.clone())
                .unwrap_or_default(),
            text: text.join(", "),
        }
    };
    room.plan.clauses.iter().map(clause).collect()
}

/// What a row can say happens at each kind of point.
fn said(room: &RoomFile) -> Words {
    let mut person: Vec<String> = ["enters", "sits still", "types", "talks", "leaves"]
        .map(str::to_owned)
        .to_vec();
    person.extend(room.places.iter().map(|place| format!("walks to {place}")));
    let device = ["power cut", "power back", "clock 3 % fast", "clock right"];
    let frames = [
        "next frame lost",
        "next frame twice",
        "next frame late by 2 s",
        "20 % of frames lost",
        "frames pass",
    ];
    let of = |own: &[&'static str]| -> Vec<&'static str> {
        own.iter().chain(&device).chain(&frames).copied().collect()
    };
    Words {
        person,
        occupancy: of(&[
            "motion",
            "sound",
            "walk test on",
            "walk test off",
            "teach in",
        ]),
        switch: of(&["tap", "hold for 2 s", "press", "release", "teach in"]),
        card: of(&["card in", "card out", "wrong card", "teach in"]),
        daylight: of(&["teach in"]),
        clock: of(&["opening", "closing", "sweep", "set to 09:00", "set right"]),
        normal_power: of(&["lost", "back"]),
        fire_alarm: of(&["sounds", "stops"]),
        demand_response: of(&["sheds", "sheds 20 points", "ends"]),
        output: vec![
            "relay sticks closed",
            "relay sticks open",
            "relay freed",
            "learning opens",
            "removing opens",
        ],
        controller: device.to_vec(),
        room: vec!["daylight 300 lx", "power cut", "power back"],
        link: frames.to_vec(),
    }
}
