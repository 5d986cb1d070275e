//! Rooms read into plans, and what is said of rooms that are wrong.

use std::fmt::Write as _;

use device::controller::{Button, Role};
use device::{Level, Span, switch};
use room::SourceSettings;

use super::*;
use crate::{Diagnostic, Sources};

pub(crate) const OFFICE: &str = include_str!("tests/office.toml");

/// Reads a room alone and expects it to be without fault.
fn good(text: &str) -> RoomFile {
    let mut sources = Sources::new();
    let file = sources.add("room.toml", text);
    let (room, diagnostics) = read_room(&sources, file, None, None);
    let all: Vec<String> = diagnostics
        .iter()
        .map(|d| d.render(&sources, false))
        .collect();
    assert!(diagnostics.is_empty(), "{}", all.join("\n"));
    room.expect("a room without a fault is given out")
}

fn bad(text: &str) -> Vec<String> {
    let mut sources = Sources::new();
    let file = sources.add("room.toml", text);
    let (room, diagnostics) = read_room(&sources, file, None, None);
    assert!(
        room.is_none()
            || diagnostics
                .iter()
                .all(|d| d.severity != crate::Severity::Error)
    );
    let line = |d: &Diagnostic| {
        let (line, column) = sources.file(file).line_column(d.place.start);
        format!("{line}:{column} {}: {}; {}", d.rule, d.message, d.hint)
    };
    diagnostics.iter().map(line).collect()
}

fn room_with(rest: &str) -> String {
    format!("name = \"Test\"\n[outputs.desk]\ndrive = \"0-10 V\"\n{rest}")
}

#[test]
fn the_office_becomes_a_plan() {
    let room = good(OFFICE);
    let names: Vec<&str> = room.plan.sources.iter().map(|s| s.name.as_str()).collect();
    assert_eq!(names, ["wall-button", "wall-sensor"]);
    let [controller] = room.plan.controllers.as_slice() else {
        panic!("one controller");
    };
    assert_eq!(controller.name, "room-controller");
    assert_eq!(
        controller.settings.outputs[0].low_trim,
        Level::from_percent(10)
    );
    let buttons = [(0, switch::Button::Up), (1, switch::Button::Down)];
    let buttons = buttons.map(|(number, kind)| Button {
        heard: 0,
        number,
        kind,
    });
    assert_eq!(controller.settings.buttons, buttons);
    let roles: Vec<(u8, u8, &Role)> = controller
        .settings
        .links
        .iter()
        .map(|link| (link.heard, link.output, &link.role))
        .collect();
    assert_eq!(
        roles,
        [
            (0, 0, &Role::Button(0)),
            (0, 0, &Role::Button(1)),
            (1, 0, &Role::PartialOn(Level::from_percent(50))),
            (1, 1, &Role::AutoOn(Level::FULL)),
        ]
    );
    // 3.2 times the report interval of four minutes.
    let silence = controller.settings.heard[1].silence;
    assert_eq!(silence, Some(Span::from_seconds(768)));
    assert_eq!(room.plan.sources[1].listeners, [(ControllerId(0), 1)]);
    assert!(room.plan.sources[1].mains && !room.plan.sources[0].mains);
}

#[test]
fn what_is_not_written_is_as_the_devices_have_it() {
    let room = good(
        &room_with(
            "[outputs.sockets]\ndrive = \"receptacle\"\n[outputs.vent]\ndrive = \"dry contact\"\n\
         [outputs.plain]\ndrive = \"relay\"\n[outputs.phase]\ndrive = \"reverse phase\"\n\
         [sources.a]\nkind = \"occupancy\"\n[sources.b]\nkind = \"switch\"\n\
         [sources.c]\nkind = \"card\"\n[sources.d]\nkind = \"daylight\"\n\
         [sources.e]\nkind = \"clock\"\n[sources.f]\nkind = \"normal power\"\n",
        )
        .replace("[sources.a]", "[sources.a-sensor]"),
    );
    let settings: Vec<&SourceSettings> = room.plan.sources.iter().map(|s| &s.settings).collect();
    let standard = [
        &SourceSettings::Occupancy(device::occupancy::Settings::default()),
        &SourceSettings::Switch(switch::Settings::default()),
        &SourceSettings::Card(device::card::Settings::default()),
        &SourceSettings::Daylight(device::daylight::Settings::default()),
        &SourceSettings::Clock(device::clock::Settings::default()),
        &SourceSettings::Signal(device::signal::Settings::default()),
    ];
    assert_eq!(settings, standard);
    let controller = &room.plan.controllers[0].settings;
    use device::controller::{Drive, Output};
    let drives = [
        Drive::ZeroToTen,
        Drive::ReversePhase,
        Drive::Relay,
        Drive::Receptacle,
        Drive::Contact,
    ];
    assert_eq!(controller.outputs, drives.map(Output::new));
    let standard = device::controller::Settings::default();
    assert_eq!(controller.hold_threshold, standard.hold_threshold);
    assert_eq!(controller.ramp, standard.ramp);
}

#[test]
fn a_listed_controller_and_a_loop_have_the_same_defaults() {
    let room = good(&room_with(
        "controller = \"north\"\n[controllers.north]\n[sources.photo]\nkind = \"daylight\"\n\
         [[links]]\nfrom = \"photo\"\nto = \"desk\"\n",
    ));
    let controller = &room.plan.controllers[0];
    assert_eq!(controller.name, "north");
    let standard = device::controller::Settings::default();
    assert_eq!(controller.settings.learning, standard.learning);
    assert_eq!(controller.settings.hold_threshold, standard.hold_threshold);
    assert_eq!(controller.settings.ramp, standard.ramp);
    let Role::Limit(limit) = &controller.settings.links[0].role else {
        panic!("a daylight sensor limits");
    };
    assert_eq!(*limit, device::controller::Loop::default());
}

#[test]
fn copies_pair_and_a_single_switch_works_all() {
    let room = good(
        "name = \"Warehouse\"\n[outputs.aisle]\ndrive = \"0-10 V\"\ncopies = 12\n\
         [sources.aisle-sensor]\nkind = \"occupancy\"\ncopies = 12\n\
         [sources.door-switch]\nkind = \"switch\"\nbuttons = \"single\"\n\
         [[links]]\nfrom = \"aisle-sensor\"\nto = \"aisle\"\nrole = \"auto-on\"\nsetback = \"30 %\"\n\
         [[links]]\nfrom = \"door-switch\"\nto = \"aisle\"\n\
         [places.bay]\ncopies = 12\nnotices = { aisle-sensor = \"everything\" }\n",
    );
    let pairs: Vec<(&str, &str)> = room
        .ties
        .iter()
        .filter(|tie| tie.role_word == "auto-on")
        .map(|tie| {
            let source = &room.plan.sources[tie.source].name;
            (source.as_str(), room.plan.outputs[tie.output].name.as_str())
        })
        .collect();
    assert_eq!(pairs.len(), 12);
    for (source, output) in pairs {
        assert_eq!(
            source.strip_prefix("aisle-sensor-"),
            output.strip_prefix("aisle-")
        );
    }
    assert_eq!(
        room.ties
            .iter()
            .filter(|tie| tie.role_word == "button")
            .count(),
        12
    );
    assert_eq!(room.groups["aisle"].len(), 12);
    let here = &room.notices["bay-7"];
    assert_eq!(here["aisle-sensor-7"], crate::script::people::Notices::ALL);
    assert_eq!(
        here["aisle-sensor-1"],
        crate::script::people::Notices::NOTHING
    );
}

#[test]
fn named_buttons_and_scenes_are_linked_by_their_numbers() {
    let room = good(
        "name = \"Conference\"\n[outputs.zone-a]\ndrive = \"0-10 V\"\ngroup = \"both\"\n\
         [outputs.zone-b]\ndrive = \"0-10 V\"\ngroup = \"both\"\n\
         [sources.unit]\nkind = \"switch\"\nbuttons = [\"zone-a up/down\", \"film scene\", \"all single\"]\n\
         [[links]]\nfrom = \"unit/zone-a\"\nto = \"zone-a\"\n\
         [[links]]\nfrom = \"unit/all\"\nto = \"both\"\n\
         [scenes.film]\nzone-a = \"off\"\nzone-b = \"20 %\"\n"
            .replace("\"all single\"", "\"master single\"")
            .replace("unit/all", "unit/master")
            .as_str(),
    );
    assert_eq!(
        room.plan.sources[0].buttons,
        ["zone-a up", "zone-a down", "film", "master"]
    );
    let links = &room.plan.controllers[0].settings.links;
    let roles: Vec<(u8, Role)> = links.iter().map(|l| (l.output, l.role.clone())).collect();
    assert_eq!(
        roles,
        [
            (0, Role::Button(0)),
            (0, Role::Button(1)),
            (0, Role::Scene(2, Level::OFF)),
            (1, Role::Scene(2, Level::from_percent(20))),
            (0, Role::Button(3)),
            (1, Role::Button(3)),
        ]
    );
    let outputs = &room.plan.controllers[0].settings.outputs;
    assert_eq!((outputs[0].group, outputs[1].group), (Some(0), Some(0)));
}

#[test]
fn the_order_of_declaration_changes_nothing() {
    let parts = [
        "[outputs.b]\ndrive = \"relay\"\nrelay = \"feed-7\"\n",
        "[outputs.a1]\ndrive = \"relay\"\nrelay = \"feed-7\"\n",
        "[sources.z]\nkind = \"switch\"\n",
        "[sources.y]\nkind = \"occupancy\"\n",
        "[[links]]\nfrom = \"z\"\nto = [\"b\", \"a1\"]\n",
        "[[links]]\nfrom = \"y\"\nto = \"feed-7\"\nrole = \"auto-on\"\n",
        "[relays.feed-7]\nrating = \"10 A\"\n",
    ];
    let forward = format!("name = \"Test\"\n{}", parts.concat());
    let backward: String = parts.iter().rev().copied().collect();
    let backward = format!("name = \"Test\"\n{backward}");
    assert_eq!(good(&forward).plan, good(&backward).plan);
}

#[test]
fn a_setting_is_changed_as_if_the_file_said_so() {
    let room = good(OFFICE);
    let changed = room.changed("wall-sensor", "time-delay", "20 min").unwrap();
    let expected = good(&OFFICE.replace("\"15 min\"", "\"20 min\""));
    assert_eq!(changed.plan, expected.plan);
    let changed = room
        .changed("wall-sensor to desk-lights", "level", "40 %")
        .unwrap();
    let expected = good(&OFFICE.replace("\"50 %\"", "\"40 %\""));
    assert_eq!(changed.plan, expected.plan);
    let changed = room.changed("room-controller", "ramp", "6 s").unwrap();
    assert_eq!(
        changed.plan.controllers[0].settings.ramp,
        Span::from_seconds(6)
    );
    let changed = room.changed("wall-sensor to desk-lights", "role", "manual-on");
    // The level stays in the file and means nothing.
    let links = &changed.unwrap().plan.controllers[0].settings.links;
    assert_eq!(links[2].role, Role::ManualOn);
    let changed = room
        .changed("wall-sensor to desk-outlet", "role", "manual-on")
        .unwrap();
    assert_eq!(
        changed.plan.controllers[0].settings.links[3].role,
        Role::ManualOn
    );
}

#[test]
fn of_the_links_of_one_table_only_the_named_one_is_changed() {
    let room = good(
        "name = \"Test\"\n[outputs.a1]\ndrive = \"relay\"\n[outputs.b]\ndrive = \"relay\"\n\
         [sources.y]\nkind = \"occupancy\"\n\
         [[links]]\nfrom = \"y\"\nto = [\"a1\", \"b\"]\nrole = \"manual-on\"\nrun-on = \"1 min\"\n",
    );
    let once = room.changed("y to b", "role", "auto-on").unwrap();
    let twice = once.changed("y to b", "run-on", "2 min").unwrap();
    let links = &twice.plan.controllers[0].settings.links;
    let told: Vec<(bool, Span)> = (links.iter())
        .map(|link| (link.role == Role::ManualOn, link.run_on))
        .collect();
    assert_eq!(
        told,
        [
            (true, Span::from_minutes(1)),
            (false, Span::from_minutes(2))
        ]
    );
    let error = room.changed("y to b", "role", "sweep").unwrap_err();
    assert!(error.error.message.contains("no role"), "{error:?}");
}

#[test]
fn a_setting_that_cannot_be_changed_says_why() {
    let room = good(OFFICE);
    let error = |point, key, value| {
        let error = room.changed(point, key, value).unwrap_err();
        (error.key, error.error.hint)
    };
    let (key, hint) = error("wall-sensor", "time-dealy", "20 min");
    assert_eq!((key, hint.as_str()), (true, "did you mean `time-delay`?"));
    let (key, hint) = error("wall-sensor", "time-delay", "20");
    assert!(!key && hint.contains("unit"), "{hint}");
    let (key, _) = error("wall-sensor", "kind", "switch");
    assert!(key);
    let (key, _) = error("nowhere", "time-delay", "20 min");
    assert!(key);
    let (key, hint) = error("wall-sensor", "time-delay", "40 min");
    assert!(!key && hint.contains("30 s to 30 min"), "{hint}");
}

#[test]
fn a_site_is_one_plan_of_full_names() {
    let mut sources = Sources::new();
    let office = sources.add("office-112/room.toml", OFFICE);
    let other = sources.add("office-113/room.toml", OFFICE);
    let site = sources.add(
        "site.toml",
        "name = \"Annex\"\ntime-zone = \"America/New_York\"\nvoltage = \"230 V\"\n\
         [outputs.air]\ndrive = \"dry contact\"\n[[links]]\n\
         from = [\"office-112/wall-sensor\", \"office-113/wall-sensor\"]\nto = \"air\"\nrole = \"auto-on\"\n",
    );
    let parts = [("office-112", office), ("office-113", other)].map(|(folder, room)| Part {
        folder: folder.to_owned(),
        room,
    });
    let (room, diagnostics) = read_site(&sources, site, &parts, None);
    assert_eq!(diagnostics, []);
    let room = room.unwrap();
    let names: Vec<&str> = room.plan.outputs.iter().map(|o| o.name.as_str()).collect();
    assert_eq!(
        names,
        [
            "air",
            "office-112/desk-lights",
            "office-112/desk-outlet",
            "office-113/desk-lights",
            "office-113/desk-outlet"
        ]
    );
    let controllers: Vec<&str> = room
        .plan
        .controllers
        .iter()
        .map(|c| c.name.as_str())
        .collect();
    let expected = [
        "office-112/room-controller",
        "office-113/room-controller",
        "room-controller",
    ];
    assert_eq!(controllers, expected);
    // Each sensor is heard by its own room and by the site's controller.
    let sensor = room
        .plan
        .sources
        .iter()
        .find(|s| s.name == "office-112/wall-sensor")
        .unwrap();
    assert_eq!(
        sensor.listeners,
        [(ControllerId(0), 1), (ControllerId(2), 0)]
    );
    let (alone, _) = read_room(&sources, office, None, Some(site));
    let alone = alone.unwrap();
    assert_eq!(alone.zone, "America/New_York");
    assert_eq!(alone.plan.outputs.len(), 2);
}

#[test]
fn every_fault_of_a_file_is_shown_in_order() {
    let faults = bad(
        "name = \"Test\"\ncolour = \"red\"\n[outputs.desk]\ndrive = \"0-10 V\"\nsetback = \"20 %\"\n\
         [outputs.Desk2]\ndrive = \"relais\"\n[sources.s]\nkind = \"switch\"\ntime-delay = \"15 min\"\n\
         [[links]]\nfrom = \"swich\"\nto = \"desks\"\n",
    );
    let starts: Vec<String> = faults
        .iter()
        .map(|fault| fault.split(':').take(2).collect::<Vec<_>>().join(":"))
        .collect();
    assert_eq!(
        starts,
        [
            "2:1 unknown key",
            "5:1 unknown key",
            "6:10 name",
            "7:10 value",
            "10:1 wrong place",
            "12:8 unknown name",
            "13:6 unknown name",
        ],
        "{faults:#?}"
    );
    assert!(
        faults[1].ends_with("`setback` belongs to [[links]]"),
        "{}",
        faults[1]
    );
}

/// What is linked to a thing whose name is refused is not blamed as well.
#[test]
fn a_refused_name_is_told_once() {
    for (name, to) in [
        ("all", "all"),
        ("\"Desk Lights\"", "desk-lights"),
        ("sweep", "sweep"),
        ("Desk2", "desk2"),
    ] {
        let faults = bad(&room_with(&format!(
            "[outputs.{name}]\ndrive = \"0-10 V\"\n[sources.s]\nkind = \"occupancy\"\n\
             [[links]]\nfrom = \"s\"\nto = [\"desk\", \"{to}\"]\nrole = \"auto-on\"\n"
        )));
        assert_eq!(faults.len(), 1, "{faults:#?}");
        let column = if name.starts_with('"') { 11 } else { 10 };
        let start = format!("4:{column} name: ");
        assert!(faults[0].starts_with(&start), "{faults:#?}");
    }
}

/// RCP-1: of a split receptacle the file has the switched half alone. It is one output, switched by
/// what is linked to it, and has the switched half's contact, load and rating to itself.
#[test]
fn rcp_1_the_half_that_is_always_hot_is_no_output() {
    let text = OFFICE.replace("\"receptacle\"", "\"receptacle\"\nload = \"200 W\"");
    let room = good(&text);
    let names: Vec<_> = room
        .plan
        .outputs
        .iter()
        .map(|it| it.name.as_str())
        .collect();
    assert_eq!(names, ["desk-lights", "desk-outlet"]);
    let settings = &room.plan.controllers[0].settings;
    let links = settings.links.iter().filter(|link| link.output == 1);
    let heard: Vec<_> = links.map(|link| link.heard).collect();
    assert_eq!(heard, [1], "the sensor alone, and no button");
    let faults = bad(&text.replace("\"receptacle\"", "\"always hot\""));
    assert!(faults[0].contains("leave it out"), "{faults:#?}");
}

#[test]
fn a_link_that_does_not_fit_says_what_does() {
    let sensor = "[sources.s]\nkind = \"occupancy\"\n[sources.w]\nkind = \"switch\"\n";
    let with = |link: &str| bad(&room_with(&format!("{sensor}[[links]]\n{link}")));
    let first = |link: &str| with(link).first().cloned().unwrap_or_default();
    assert!(
        first("from = \"s\"\nto = \"desk\"\n").contains("role = \"auto-on\", \"partial-on\" or")
    );
    assert!(
        first("from = \"w\"\nto = \"desk\"\nrole = \"auto-on\"\n").contains("role of another kind")
    );
    assert!(first("from = \"w\"\nto = \"desk\"\nlevel = \"50 %\"\n").contains("wrong place"));
    assert!(first("from = \"desk\"\nto = \"desk\"\n").contains("is an output, and a source"));
    assert!(
        first("from = \"s\"\nto = \"w\"\nrole = \"auto-on\"\n")
            .contains("is a source, and an output")
    );
    assert!(
        first("from = [\"s\", \"w\"]\nto = \"desk\"\nrole = \"auto-on\"\n").contains("two kinds")
    );
    assert!(first("from = \"w/zone\"\nto = \"desk\"\n").contains("slash: up or down"));
    let twice = "from = \"w\"\nto = \"desk\"\n[[links]]\nfrom = \"w\"\nto = \"desk\"\n";
    assert!(first(twice).contains("linked twice"));
}

#[test]
fn a_short_file_cannot_make_a_huge_room() {
    let mut text = "name = \"Test\"\n".to_owned();
    for number in 0..70 {
        let table = format!("[outputs.a{number}]\ndrive = \"relay\"\ncopies = 64\n");
        text.push_str(&table);
    }
    let faults = bad(&text);
    assert!(
        faults
            .iter()
            .any(|fault| fault.contains("there are 4480 outputs")),
        "{faults:#?}"
    );
    let many = "[outputs.o1]\ndrive = \"relay\"\ncopies = 64\n[sources.s1]\nkind = \"occupancy\"\ncopies = 64\n";
    let names = |name: &str| vec![format!("\"{name}\""); 2].join(", ");
    let link = format!(
        "[[links]]\nfrom = [{}]\nto = [{}]\nrole = \"auto-on\"\n",
        names("s1"),
        names("o1")
    );
    let faults = bad(&format!("name = \"Test\"\n{many}{link}"));
    assert!(
        faults
            .iter()
            .any(|fault| fault.contains("a link of 128 sources to 128 outputs")),
        "{faults:#?}"
    );
}

#[test]
fn the_plan_of_a_room_with_everything_is_written_down() {
    let room = good(include_str!("tests/everything.toml"));
    let mut text = String::new();
    let mut line = |what: &dyn fmt::Debug| {
        let _ = writeln!(text, "{what:?}");
    };
    room.plan.sources.iter().for_each(|source| line(source));
    for controller in &room.plan.controllers {
        let settings = &controller.settings;
        line(&(&controller.name, &controller.heard, &controller.outputs));
        line(&(settings.hold_threshold, settings.ramp, settings.learning));
        settings.heard.iter().for_each(|heard| line(heard));
        settings.buttons.iter().for_each(|button| line(button));
        settings.outputs.iter().for_each(|output| line(output));
        settings.links.iter().for_each(|link| line(link));
    }
    room.plan.outputs.iter().for_each(|output| line(output));
    room.plan.tasks.iter().for_each(|task| line(task));
    room.calendars.iter().for_each(|calendar| line(&calendar));
    line(&room.groups);
    line(&room.notices);
    line(&room.people);
    room.quality.iter().for_each(|quality| line(&quality));
    insta::assert_snapshot!(text);
}
