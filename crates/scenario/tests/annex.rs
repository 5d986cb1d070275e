//! What the annex is to have: its rooms, their clauses and scenarios, and complaints with cures.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;

use clause::Verdict as ClauseVerdict;
use device::Span;
use device::controller::{HeardKind, Link, Output, Role};
use room::{Plan, SourceSettings};
use scenario::run::{Outcome, Verdict, run};
use scenario::script::Script;
use scenario::suite::Suite;

fn suite() -> Suite {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../scenarios");
    Suite::open(&[folder]).expect("the scenarios are there")
}

/// The rooms of the annex by the names of their folders.
fn plans(suite: &Suite) -> BTreeMap<String, &Plan> {
    let rooms = suite.rooms.iter().map(|room| {
        let name = room.folder.file_name().expect("a room has a folder");
        let file = room.room.as_ref().expect("the room was read");
        (name.to_string_lossy().into_owned(), &file.plan)
    });
    rooms.collect()
}

/// The scenarios of the annex by their files, without the ending.
fn scripts(suite: &Suite) -> BTreeMap<&str, Vec<&Arc<Script>>> {
    let mut files: BTreeMap<&str, Vec<&Arc<Script>>> = BTreeMap::new();
    for (_, script) in suite.runs() {
        let name = script.file.trim_end_matches(".toml");
        files.entry(name).or_default().push(script);
    }
    files
}

#[test]
fn eight_rooms_have_six_clauses_each_and_forty_scenarios_together() {
    let suite = suite();
    let plans = plans(&suite);
    assert!(plans.len() >= 8, "{} rooms", plans.len());
    for (name, plan) in &plans {
        let count = plan.clauses.len();
        assert!(count >= 6, "{name}: {count} clauses");
    }
    let count = scripts(&suite).len();
    assert!(count >= 40, "{count} scenarios");
}

/// What buildings are complained of in the field: handbooks of commissioning, surveys of
/// controls that were installed, and common practice.
const COMPLAINTS: [&str; 12] = [
    "auto-on-to-full-in-an-office",
    "dark-path-to-the-door",
    "lights-on-all-night",
    "lights-out-on-a-still-person",
    "manual-habit-lost",
    "no-savings",
    "one-timer-for-everything",
    "shed-takes-the-corridor-too-low",
    "sweep-leaves-a-person-in-the-dark",
    "switched-on-by-walking-past",
    "timeout-too-short",
    "wrong-grouping",
];

/// What is shown as a fault breaks a clause, and what is shown as its cure breaks none.
#[test]
fn a_dozen_complaints_stand_beside_their_cures() {
    let suite = suite();
    let scripts = scripts(&suite);
    let outcomes = |name: &str| -> Vec<Outcome> {
        let found = scripts.get(name).into_iter().flatten();
        found.map(|script| run(script, 0)).collect()
    };
    let mut pairs = Vec::new();
    for cured in scripts.keys() {
        let Some(name) = cured.strip_suffix("-cured") else {
            continue;
        };
        let (faults, cures) = (outcomes(name), outcomes(cured));
        assert!(!faults.is_empty(), "{cured} stands beside no fault");
        let expects = faults.iter().flat_map(|fault| &fault.script.expects);
        let breaks = expects
            .filter(|expect| expect.verdict == ClauseVerdict::Broken)
            .count();
        for outcome in faults.iter().chain(&cures) {
            assert_eq!(outcome.verdict, Verdict::Held, "{}", outcome.script.file);
        }
        for cure in &cures {
            // A clause that forbids something may rest in the cure; the rows then say what is so.
            assert!(cure.script.expects.is_empty(), "{cured} expects a fault");
            let checked = !cure.script.checks.is_empty();
            assert!(checked, "{cured} says nothing of what is better");
        }
        if breaks > 0 {
            pairs.extend(name.rsplit('/').next());
        }
    }
    for complaint in COMPLAINTS {
        assert!(pairs.contains(&complaint), "{complaint}: {pairs:?}");
    }
}

/// The links that are stored from a source to an output.
fn links<'a>(plan: &'a Plan, source: &str, output: &str) -> Vec<&'a Link> {
    let controllers = plan.controllers.iter();
    let found = controllers.flat_map(|at| {
        at.settings.links.iter().filter(move |link| {
            let from = at.heard[usize::from(link.heard)];
            let to = at.outputs[usize::from(link.output)];
            let (from, to) = (usize::from(from.0), usize::from(to.0));
            link.stored && plan.sources[from].name == source && plan.outputs[to].name == output
        })
    });
    found.collect()
}

fn output<'a>(plan: &'a Plan, name: &str) -> &'a Output {
    let mut outputs = plan.outputs.iter();
    let found = outputs.find(|it| it.name == name).expect("it stands there");
    let at = &plan.controllers[usize::from(found.controller.0)];
    &at.settings.outputs[usize::from(found.local)]
}

fn settings<'a>(plan: &'a Plan, name: &str) -> &'a SourceSettings {
    let mut sources = plan.sources.iter();
    let found = sources.find(|it| it.name == name).expect("it stands there");
    &found.settings
}

/// The only link there is.
fn role<'a>(plan: &'a Plan, source: &str, output: &str) -> &'a Role {
    match links(plan, source, output)[..] {
        [only] => &only.role,
        ref other => panic!("{source} to {output}: {} links", other.len()),
    }
}

fn buttons(plan: &Plan, unit: &str) -> usize {
    assert!(matches!(settings(plan, unit), SourceSettings::Switch(_)));
    let mut sources = plan.sources.iter();
    sources
        .find(|it| it.name == unit)
        .map_or(0, |it| it.buttons.len())
}

fn delay(plan: &Plan, sensor: &str) -> Span {
    match settings(plan, sensor) {
        SourceSettings::Occupancy(sensor) => sensor.time_delay,
        _ => panic!("{sensor} is no occupancy sensor"),
    }
}

fn senses_sound(plan: &Plan, sensor: &str) -> bool {
    matches!(settings(plan, sensor), SourceSettings::Occupancy(it) if it.sound)
}

#[test]
fn a_combined_wall_unit_serves_lights_and_receptacle_by_its_sensor_and_lights_by_its_button() {
    let suite = suite();
    let office = plans(&suite)["private-office"];
    assert!(matches!(
        role(office, "wall-sensor", "desk-lights"),
        Role::PartialOn(_)
    ));
    assert!(matches!(
        role(office, "wall-sensor", "desk-outlet"),
        Role::AutoOn(_)
    ));
    let pressed = links(office, "wall-button", "desk-lights");
    assert!(pressed.iter().all(|it| matches!(it.role, Role::Button(_))) && !pressed.is_empty());
    assert!(links(office, "wall-button", "desk-outlet").is_empty());
}

#[test]
fn three_daylit_zones_have_one_relay_and_one_switch() {
    let suite = suite();
    let office = plans(&suite)["open-office"];
    let zones = ["primary-lights", "secondary-lights", "inner-lights"];
    let relays = zones.map(|zone| {
        assert!(matches!(role(office, "window-cell", zone), Role::Limit(_)));
        assert!(!links(office, "door-switch", zone).is_empty());
        output(office, zone).relay
    });
    assert!(relays[0].is_some() && relays[1] == relays[0] && relays[2] == relays[0]);
    let units = office.sources.iter();
    let units = units.filter(|it| matches!(it.settings, SourceSettings::Switch(_)));
    assert_eq!(units.count(), 1);
}

#[test]
fn a_radio_plays_over_the_holidays_to_dual_technology() {
    let suite = suite();
    assert!(senses_sound(plans(&suite)["classroom"], "ceiling-sensor"));
    let scripts = scripts(&suite);
    let mut radio = scripts
        .iter()
        .filter(|(name, _)| name.ends_with("classroom/radio-left-on-over-the-holidays"));
    let radio = radio.next().expect("the radio is left on").1[0];
    assert!(radio.end.as_ms() >= Span::from_hours(48).as_ms());
}

#[test]
fn cards_air_scenes_floors_sweeps_and_aisles_stand_in_their_rooms() {
    let suite = suite();
    let plans = plans(&suite);
    let guest = plans["guest-room"];
    assert!(matches!(
        settings(guest, "card-reader"),
        SourceSettings::Card(_)
    ));
    let mut heard = guest.controllers.iter().flat_map(|at| &at.settings.heard);
    assert!(heard.any(|heard| matches!(heard.kind, HeardKind::Card { captive: true })));
    let offices = plans["three-offices"];
    for sensor in ["sensor-201", "sensor-202", "sensor-203"] {
        assert!(matches!(
            role(offices, sensor, "air-terminal"),
            Role::AutoOn(_)
        ));
    }
    let conference = plans["conference-room"];
    assert_eq!(buttons(conference, "door-unit"), 4);
    assert_eq!(buttons(conference, "lectern-unit"), 8);
    let scenes = links(conference, "lectern-unit", "table-lights");
    let scenes = scenes
        .iter()
        .filter(|it| matches!(it.role, Role::Scene(..)));
    assert!(scenes.count() >= 2);
    let corridor = plans["corridor"];
    assert!(output(corridor, "corridor-lights").floor.is_some());
    for sensor in ["north-sensor", "south-sensor"] {
        let link = links(corridor, sensor, "corridor-lights")[0];
        assert!(link.setback.is_some(), "partial-off");
        let holds = delay(corridor, sensor).as_ms() + link.run_on.as_ms();
        assert!(holds >= Span::from_minutes(15).as_ms());
    }
    let swept = links(plans["hall"], "hall-clock", "hall-lights");
    assert!(swept.iter().any(|link| match link.role {
        Role::Sweep {
            warning,
            longest_override,
        } => !warning.is_zero() && !longest_override.is_zero(),
        _ => false,
    }));
    let aisles = plans["warehouse"].outputs.iter();
    assert!(aisles.filter(|it| it.name.starts_with("aisle-")).count() >= 3);
}
