//! From what the files say to a plan: indices, sorted as ORD-1 asks, and what surrounds the plan.

use std::collections::BTreeMap;

use device::controller::{self, Button, Heard, HeardKind, Link, Role};
use device::{Illuminance, signal};
use room::{
    ControllerId, OutputId, Plan, PlanController, PlanOutput, PlanSource, SourceId, SourceSettings,
};
use sim::{Quality, Share};

use super::links::{self, Tie};
use super::model::{Model, Thing};
use super::places::{self, report_once};
use super::resolve::{self, Buttons};
use super::{RoomFile, outputs, sources};
use crate::Diagnostic;
use crate::keys::{Item, Section, Table};

/// Makes a plan of everything that the files say. What is wrong is added to `diagnostics`; with
/// an error among them the plan is not to be used.
pub(crate) fn lower(
    model: Model,
    root: &'static Table,
    diagnostics: &mut Vec<Diagnostic>,
) -> RoomFile {
    let mut buttons = Vec::new();
    for source in &model.sources {
        buttons.push(match source.section.word("kind") {
            Some("switch") => Buttons::read(source, diagnostics),
            _ => Buttons::default(),
        });
    }
    let ties = links::ties(&model, &buttons, root, diagnostics);
    let drivers = Drivers::new(&model, diagnostics);
    report_shared(&model, &drivers, "relay", diagnostics);
    report_shared(&model, &drivers, "group", diagnostics);
    let mut plan = Plan {
        name: text(&model.parts[0].root, "name"),
        sources: plan_sources(&model, &buttons, diagnostics),
        controllers: Vec::new(),
        outputs: Vec::new(),
        tasks: places::tasks(&model, diagnostics),
        clauses: Vec::new(),
        daylight: Illuminance::default(),
    };
    wire(&mut plan, &model, &buttons, &ties, &drivers, diagnostics);
    let calendars = calendars(&model, diagnostics);
    let quality = qualities(&model, &plan);
    let deciding = model.parts[0].deciding("time-zone");
    let zone = deciding
        .text("time-zone")
        .map_or_else(|| "UTC".to_owned(), |zone| zone.value);
    RoomFile {
        calendars,
        quality,
        zone,
        groups: groups(&model, diagnostics),
        places: model
            .places
            .iter()
            .map(|place| place.name.clone())
            .collect(),
        notices: places::notices(&model, diagnostics),
        people: places::people(&model, diagnostics),
        reaction: model.parts[0]
            .deciding("reaction")
            .span("reaction")
            .unwrap_or_default(),
        plan,
        ties,
        buttons,
        assumptions: Vec::new(),
        sentences: BTreeMap::new(),
        halves: BTreeMap::new(),
        daylight: BTreeMap::new(),
        model,
        root,
    }
}

/// Which controller drives which output.
struct Drivers {
    /// Names of the controllers, sorted, each with its keys if it is listed.
    controllers: Vec<(String, Option<Section>)>,
    /// The controller of each output.
    of: Vec<usize>,
}

impl Drivers {
    fn new(model: &Model, diagnostics: &mut Vec<Diagnostic>) -> Self {
        let mut names: BTreeMap<String, Option<Section>> = BTreeMap::new();
        for controller in &model.controllers {
            names.insert(controller.name.clone(), Some(controller.section.clone()));
        }
        let mut chosen = Vec::new();
        for output in &model.outputs {
            chosen.push(Self::choose(model, output, &mut names, diagnostics));
        }
        let controllers: Vec<(String, Option<Section>)> = names.into_iter().collect();
        let at = |name: &String| {
            let found = controllers.binary_search_by(|(known, _)| known.cmp(name));
            found.expect("every chosen controller was listed")
        };
        let of = chosen.iter().map(at).collect();
        Self { controllers, of }
    }

    /// The name of the controller of an output: as given; or the only one there is; or the
    /// room's own, which need not be listed.
    fn choose(
        model: &Model,
        output: &Thing,
        names: &mut BTreeMap<String, Option<Section>>,
        diagnostics: &mut Vec<Diagnostic>,
    ) -> String {
        let prefix = &model.parts[output.part].prefix;
        let standard = format!("{prefix}room-controller");
        let Some(given) = output.section.text("controller") else {
            names.entry(standard.clone()).or_insert(None);
            return standard;
        };
        let full = format!("{prefix}{}", given.value);
        if names.contains_key(&full) || given.value == "room-controller" {
            names.entry(full.clone()).or_insert(None);
            return full;
        }
        let known = &model.controllers;
        let unknown = resolve::unknown("controller", known, prefix, &given.value, given.place);
        report_once(diagnostics, unknown);
        names.entry(standard.clone()).or_insert(None);
        standard
    }
}

fn plan_sources(
    model: &Model,
    buttons: &[Buttons],
    diagnostics: &mut Vec<Diagnostic>,
) -> Vec<PlanSource> {
    let mut plan = Vec::new();
    for (source, buttons) in model.sources.iter().zip(buttons) {
        let mut found = Vec::new();
        let kind = source.section.word("kind");
        let sees = matches!(kind, Some("occupancy" | "daylight"));
        plan.push(PlanSource {
            name: source.name.clone(),
            settings: sources::settings(source, buttons, &mut found),
            light: if sees {
                places::light(model, source, &mut found)
            } else {
                room::LightModel::default()
            },
            buttons: buttons.names.clone(),
            mains: sources::mains(&source.section),
            listeners: Vec::new(),
        });
        for diagnostic in found {
            report_once(diagnostics, diagnostic);
        }
    }
    plan
}

/// Controllers, their outputs, what they hear and their links.
fn wire(
    plan: &mut Plan,
    model: &Model,
    buttons: &[Buttons],
    ties: &[Tie],
    drivers: &Drivers,
    diagnostics: &mut Vec<Diagnostic>,
) {
    let mut locals = vec![0_u8; model.outputs.len()];
    for (number, (name, keys)) in drivers.controllers.iter().enumerate() {
        let id = ControllerId(narrow(number));
        let mine: Vec<usize> = (0..model.outputs.len())
            .filter(|output| drivers.of[*output] == number)
            .collect();
        for (local, output) in mine.iter().enumerate() {
            locals[*output] = narrow_8(local);
        }
        let own = |tie: &&Tie| drivers.of[tie.output] == number;
        let mut heard: Vec<usize> = ties.iter().filter(own).map(|tie| tie.source).collect();
        heard.dedup();
        for (index, source) in heard.iter().enumerate() {
            plan.sources[*source].listeners.push((id, narrow_8(index)));
        }
        let settings = settings(
            model,
            buttons,
            ties,
            keys.as_ref(),
            &heard,
            &mine,
            &locals,
            diagnostics,
        );
        report_too_large(name, &settings, model, diagnostics);
        plan.controllers.push(PlanController {
            name: name.clone(),
            settings,
            heard: heard
                .iter()
                .map(|source| SourceId(narrow(*source)))
                .collect(),
            outputs: mine
                .iter()
                .map(|output| OutputId(narrow(*output)))
                .collect(),
        });
    }
    for (output, thing) in model.outputs.iter().enumerate() {
        plan.outputs.push(PlanOutput {
            name: thing.name.clone(),
            controller: ControllerId(narrow(drivers.of[output])),
            local: locals[output],
        });
    }
}

#[expect(
    clippy::too_many_arguments,
    reason = "one call, and each is a different index space"
)]
fn settings(
    model: &Model,
    buttons: &[Buttons],
    ties: &[Tie],
    keys: Option<&Section>,
    heard: &[usize],
    mine: &[usize],
    locals: &[u8],
    diagnostics: &mut Vec<Diagnostic>,
) -> controller::Settings {
    let mut settings = controller::Settings::default();
    if let Some(keys) = keys {
        let span = |key| keys.span(key).unwrap_or_default();
        settings.hold_threshold = span("hold-threshold");
        settings.ramp = span("ramp");
        settings.learning = span("learning");
    }
    for (index, source) in heard.iter().enumerate() {
        let keys = &model.sources[*source].section;
        settings.heard.push(heard_source(keys));
        for (number, kind) in (0..=u8::MAX).zip(&buttons[*source].kinds) {
            settings.buttons.push(Button {
                heard: narrow_8(index),
                number,
                kind: *kind,
            });
        }
    }
    let shared = [shares(model, mine, "relay"), shares(model, mine, "group")];
    for output in mine {
        let mut found = Vec::new();
        let mut out = outputs::output(&model.outputs[*output], &mut found);
        out.relay = shared[0].get(output).copied();
        out.group = shared[1].get(output).copied();
        settings.outputs.push(out);
        for diagnostic in found {
            report_once(diagnostics, diagnostic);
        }
    }
    for tie in ties.iter().filter(|tie| mine.contains(&tie.output)) {
        let Ok(at) = heard.binary_search(&tie.source) else {
            continue;
        };
        let button = settings.buttons.iter().position(|button| {
            usize::from(button.heard) == at && Some(button.number) == tie.button
        });
        let button = narrow_8(button.unwrap_or(0));
        settings.links.push(Link {
            heard: narrow_8(at),
            output: locals[tie.output],
            role: match &tie.role {
                Role::Button(_) => Role::Button(button),
                Role::Scene(_, level) => Role::Scene(button, *level),
                other => other.clone(),
            },
            run_on: tie.run_on,
            setback: tie.setback,
            lost: tie.lost,
            stored: tie.stored,
        });
    }
    settings
}

fn heard_source(keys: &Section) -> Heard {
    let kind = match keys.word("kind") {
        Some("switch") => HeardKind::Switch,
        Some("card") => HeardKind::Card {
            captive: keys.yes("captive"),
        },
        Some("daylight") => HeardKind::Daylight,
        Some("clock") => HeardKind::Clock,
        Some("normal power") => HeardKind::NormalPower,
        Some("fire alarm") => HeardKind::FireAlarm,
        Some("demand response") => HeardKind::DemandResponse,
        _ => HeardKind::Occupancy,
    };
    // Three reports and the clocks' tolerance (OUT-11).
    let silence = sources::report(keys).map(|report| report.scaled(32, 10));
    Heard { kind, silence }
}

/// The number of the relay or group of each output that has one, in the order of their names.
fn shares(model: &Model, mine: &[usize], key: &str) -> BTreeMap<usize, u8> {
    let name = |output: &usize| full(model, &model.outputs[*output], key);
    let mut names: Vec<String> = mine.iter().filter_map(name).collect();
    names.sort();
    names.dedup();
    let number = |output: &usize| {
        let at = names.binary_search(&name(output)?).ok()?;
        Some((*output, narrow_8(at)))
    };
    mine.iter().filter_map(number).collect()
}

/// The full name of the relay or group of an output.
pub(crate) fn full(model: &Model, output: &Thing, key: &str) -> Option<String> {
    let prefix = &model.parts[output.part].prefix;
    let value = output.section.text(key)?.value;
    Some(format!("{prefix}{value}"))
}

/// A relay or a group belongs to one controller.
fn report_shared(
    model: &Model,
    drivers: &Drivers,
    key: &'static str,
    diagnostics: &mut Vec<Diagnostic>,
) {
    let mut first: BTreeMap<String, usize> = BTreeMap::new();
    for (output, thing) in model.outputs.iter().enumerate() {
        let Some(name) = full(model, thing, key) else {
            continue;
        };
        let other = *first.entry(name).or_insert(output);
        if drivers.of[other] == drivers.of[output] {
            continue;
        }
        let place = thing.section.place_of(key);
        let diagnostic = Diagnostic::error(
            "shared by two controllers",
            place,
            format!("outputs of one {key} are driven by two controllers"),
            format!("give them the same controller, or another {key}"),
        )
        .related(
            model.outputs[other].section.place_of(key),
            "the other output",
        );
        report_once(diagnostics, diagnostic);
    }
}

/// Indices within a controller have eight bits.
fn report_too_large(
    name: &str,
    settings: &controller::Settings,
    model: &Model,
    diagnostics: &mut Vec<Diagnostic>,
) {
    for (what, count) in [
        ("outputs", settings.outputs.len()),
        ("sources", settings.heard.len()),
        ("buttons", settings.buttons.len()),
        ("links", settings.links.len()),
    ] {
        if count > usize::from(u8::MAX) {
            diagnostics.push(Diagnostic::error(
                "too large",
                model.parts[0].root.place,
                format!("the controller `{name}` has {count} {what}"),
                "a controller has at most 255: share the outputs among several controllers",
            ));
        }
    }
}

fn calendars(
    model: &Model,
    diagnostics: &mut Vec<Diagnostic>,
) -> BTreeMap<SourceId, crate::script::calendar::Calendar> {
    let mut calendars = BTreeMap::new();
    for (number, source) in model.sources.iter().enumerate() {
        if source.section.word("kind") == Some("clock") {
            let calendar = sources::calendar(&source.section, diagnostics);
            calendars.insert(SourceId(narrow(number)), calendar);
        }
    }
    calendars
}

/// How frames travel, where the file says so.
fn qualities(model: &Model, plan: &Plan) -> BTreeMap<(SourceId, ControllerId), Quality> {
    let mut qualities = BTreeMap::new();
    for (number, source) in model.sources.iter().enumerate() {
        let part = &model.parts[source.part];
        let tables = [
            source.section.table("bus"),
            part.deciding("bus").table("bus"),
        ];
        let tables: Vec<&Section> = tables.into_iter().flatten().collect();
        if tables.is_empty() {
            continue;
        }
        let given = |key: &str| tables.iter().copied().find(|table| table.has(key));
        let share = |key: &str| {
            let parts = given(key).and_then(|table| table.share(key)).unwrap_or(0);
            Share::from_parts(u16::try_from(parts).unwrap_or(10_000))
        };
        let standard = Quality::default();
        let span = |key: &str| given(key).and_then(|table| table.span(key));
        let quality = Quality {
            delay: span("delay").unwrap_or(standard.delay),
            jitter: span("jitter").unwrap_or(standard.jitter),
            loss: share("loss"),
            copies: share("copies"),
        };
        for (listener, _) in &plan.sources[number].listeners {
            qualities.insert((SourceId(narrow(number)), *listener), quality);
        }
    }
    qualities
}

/// Names that stand for several outputs: groups, relays, and all copies of one.
fn groups(model: &Model, diagnostics: &mut Vec<Diagnostic>) -> BTreeMap<String, Vec<OutputId>> {
    let mut groups: BTreeMap<String, Vec<OutputId>> = BTreeMap::new();
    for (number, output) in model.outputs.iter().enumerate() {
        let id = OutputId(narrow(number));
        let mut names = Vec::new();
        names.extend(output.copy.map(|_| (output.base.clone(), output.place)));
        for key in ["relay", "group"] {
            let place = output.section.place_of(key);
            names.extend(full(model, output, key).map(|name| (name, place)));
        }
        for (name, place) in names {
            let taken = model.outputs.iter().chain(&model.sources);
            if let Some(other) = taken.into_iter().find(|thing| thing.name == name) {
                let diagnostic = Diagnostic::error(
                    "name taken twice",
                    place,
                    format!("`{name}` is the name of one thing and of several outputs"),
                    "give the group or relay a name of its own",
                )
                .related(other.place, "the one thing");
                report_once(diagnostics, diagnostic);
                continue;
            }
            let members = groups.entry(name).or_default();
            if !members.contains(&id) {
                members.push(id);
            }
        }
    }
    groups
}

/// The names that clauses may use.
pub(crate) fn names(room: &RoomFile) -> clause::Names {
    let kind = |settings: &SourceSettings| match settings {
        SourceSettings::Occupancy(occupancy) => clause::SourceKind::Occupancy {
            sound: occupancy.sound,
        },
        SourceSettings::Switch(_) => clause::SourceKind::Switch,
        SourceSettings::Card(_) => clause::SourceKind::Card,
        SourceSettings::Daylight(_) => clause::SourceKind::Daylight,
        SourceSettings::Clock(_) => clause::SourceKind::Clock,
        SourceSettings::Signal(signal) => match signal.kind {
            signal::Kind::NormalPower => clause::SourceKind::NormalPower,
            signal::Kind::FireAlarm => clause::SourceKind::FireAlarm,
            signal::Kind::DemandResponse => clause::SourceKind::DemandResponse,
        },
    };
    let mut groups: Vec<clause::Group> = Vec::new();
    for (name, members) in &room.groups {
        groups.push(clause::Group {
            name: name.clone(),
            members: members
                .iter()
                .map(|output| clause::Point::Output(output.0))
                .collect(),
        });
    }
    let mut bases: BTreeMap<&str, Vec<clause::Point>> = BTreeMap::new();
    for (number, source) in room.model.sources.iter().enumerate() {
        if source.copy.is_some() {
            let members = bases.entry(&source.base).or_default();
            members.push(clause::Point::Source(narrow(number)));
        }
    }
    groups.extend(bases.into_iter().map(|(name, members)| clause::Group {
        name: name.to_owned(),
        members,
    }));
    clause::Names {
        sources: room
            .plan
            .sources
            .iter()
            .map(|source| clause::SourceName {
                name: source.name.clone(),
                kind: kind(&source.settings),
                buttons: source.buttons.clone(),
            })
            .collect(),
        outputs: room
            .plan
            .outputs
            .iter()
            .map(|output| output.name.clone())
            .collect(),
        groups,
    }
}

/// The levels that scenes and links ask of an output, for checks.
pub(crate) fn asked_level(role: &Role) -> Option<device::Level> {
    match role {
        Role::AutoOn(level)
        | Role::PartialOn(level)
        | Role::Card(level)
        | Role::Opening(level)
        | Role::Scene(_, level) => Some(*level),
        _ => None,
    }
}

fn text(section: &Section, key: &str) -> String {
    match section.item(key) {
        Some(Item::Text(text)) => text,
        _ => String::new(),
    }
}

pub(crate) fn narrow(index: usize) -> u16 {
    u16::try_from(index).unwrap_or(u16::MAX)
}

/// An index within a controller; a room that needs more is refused as too large.
fn narrow_8(index: usize) -> u8 {
    u8::try_from(index).unwrap_or(u8::MAX)
}
