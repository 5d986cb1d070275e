//! What is found in a room without running it, rule by rule.

use super::*;
use crate::room_file::read_room;
use crate::{Severity, Sources};

/// The findings of a room, as `line severity: rule`.
fn findings(text: &str) -> Vec<String> {
    let (sources, findings) = all(text);
    let line = |finding: &Diagnostic| {
        let (line, _) = sources
            .file(finding.place.file)
            .line_column(finding.place.start);
        format!("{line} {}: {}", finding.severity.word(), finding.rule)
    };
    findings.iter().map(line).collect()
}

fn all(text: &str) -> (Sources, Vec<Diagnostic>) {
    let mut sources = Sources::new();
    let file = sources.add("room.toml", text);
    let (room, diagnostics) = read_room(&sources, file, None, None);
    let errors: Vec<String> = diagnostics
        .iter()
        .filter(|d| d.severity == Severity::Error)
        .map(|d| d.render(&sources, false))
        .collect();
    let room = room.unwrap_or_else(|| panic!("{}", errors.join("\n")));
    let findings = check(&room);
    for finding in &findings {
        let known = RULES.iter().find(|rule| rule.name == finding.rule);
        let known = known.unwrap_or_else(|| panic!("{} is no rule", finding.rule));
        let dims_floor = finding.rule == "level on a drive that cannot dim";
        assert!(
            dims_floor || known.severity == finding.severity.word(),
            "{}",
            finding.rule
        );
    }
    (sources, findings)
}

/// Whether a rule is found.
fn finds(text: &str, rule: &str) -> bool {
    let found = findings(text);
    found
        .iter()
        .any(|finding| finding.ends_with(&format!(": {rule}")))
}

const LIGHTS: &str = "[outputs.desk]\ndrive = \"0-10 V\"\n";
const SENSOR: &str = "[sources.s1]\nkind = \"occupancy\"\n";
const SWITCH: &str = "[sources.w1]\nkind = \"switch\"\n";
const PRESSES: &str = "[[links]]\nfrom = \"w1\"\nto = \"desk\"\n";

fn room(parts: &[&str]) -> String {
    format!("name = \"Test\"\n{}", parts.concat())
}

fn linked(output: &str, link: &str) -> String {
    let link = format!("[[links]]\nfrom = \"s1\"\nto = \"desk\"\n{link}");
    room(&["[outputs.desk]\n", output, SENSOR, &link, SWITCH, PRESSES])
}

fn loaded(output: &str) -> String {
    linked(output, "role = \"auto-on\"\n")
}

#[test]
fn a_good_room_has_no_finding() {
    let office = include_str!("../room_file/tests/office.toml");
    assert_eq!(findings(office), Vec::<String>::new());
}

#[test]
fn sources_and_buttons_that_nothing_hears_are_found() {
    let text = room(&[LIGHTS, SENSOR, SWITCH, PRESSES]);
    assert_eq!(findings(&text), ["4 warning: unlinked source"]);
    let unit =
        "[sources.w1]\nkind = \"switch\"\nbuttons = [\"zone-a up/down\", \"zone-b single\"]\n";
    let half = "[[links]]\nfrom = \"w1/zone-a\"\nto = \"desk\"\n";
    assert_eq!(
        findings(&room(&[LIGHTS, unit, half])),
        ["6 warning: unlinked button"]
    );
}

#[test]
fn outputs_that_nothing_turns_on_or_off_are_found() {
    let link = "[[links]]\nfrom = \"s1\"\nto = \"desk\"\nrole = \"manual-on\"\n";
    assert_eq!(
        findings(&room(&[LIGHTS, SENSOR, link])),
        ["2 warning: nothing turns it on"]
    );
    assert_eq!(
        findings(&room(&[LIGHTS])),
        ["2 warning: nothing turns it on"]
    );
    let link = "[[links]]\nfrom = \"s1\"\nto = \"desk\"\nrole = \"auto-on\"\n";
    assert_eq!(
        findings(&room(&[LIGHTS, SENSOR, link])),
        Vec::<String>::new()
    );
    let setback = "setback = \"20 %\"\n";
    let never = room(&[LIGHTS, SENSOR, link, setback]);
    assert_eq!(findings(&never), ["2 warning: nothing turns it off"]);
    let after = room(&[LIGHTS, "off-after = \"30 min\"\n", SENSOR, link, setback]);
    assert_eq!(findings(&after), Vec::<String>::new());
}

#[test]
fn a_press_that_nothing_ends_is_found() {
    let scene = "[sources.w1]\nkind = \"switch\"\nbuttons = \"bright scene\"\n[scenes.bright]\ndesk = \"80 %\"\n";
    assert_eq!(findings(&room(&[LIGHTS, scene])), Vec::<String>::new());
    let none = "press-hold = \"none\"\n";
    assert!(finds(&room(&[LIGHTS, none, scene]), "nothing turns it off"));
    assert_eq!(
        findings(&room(&[LIGHTS, SWITCH, PRESSES])),
        Vec::<String>::new()
    );
    let text = room(&[LIGHTS, none, SWITCH, PRESSES]);
    assert_eq!(findings(&text), ["2 caution: stays on for ever"]);
}

#[test]
fn a_level_needs_a_drive_that_dims() {
    let rule = "level on a drive that cannot dim";
    for link in [
        "role = \"partial-on\"\n",
        "role = \"auto-on\"\nlevel = \"99 %\"\n",
        "role = \"auto-on\"\nsetback = \"20 %\"\n",
    ] {
        assert!(finds(&linked("drive = \"relay\"\n", link), rule), "{link}");
        assert!(
            !finds(&linked("drive = \"0-10 V\"\n", link), rule),
            "{link}"
        );
    }
    assert!(!finds(
        &linked("drive = \"relay\"\n", "role = \"auto-on\"\n"),
        rule
    ));
    let scene = "[sources.u]\nkind = \"switch\"\nbuttons = \"film scene\"\n[scenes.film]\n";
    let relay = "[outputs.desk]\ndrive = \"relay\"\n";
    let with = |level: &str| room(&[relay, scene, &format!("desk = \"{level}\"\n")]);
    assert!(finds(&with("20 %"), rule));
    assert!(!finds(&with("off"), rule));
    assert!(!finds(&with("100 %"), rule));
    let photo = "[sources.p]\nkind = \"daylight\"\ndaylight = \"2 %\"\n[[links]]\nfrom = \"p\"\nto = \"desk\"\n";
    assert!(finds(&room(&[relay, photo]), rule));
    assert!(!finds(&room(&[LIGHTS, photo]), rule));
}

#[test]
fn a_gang_linked_in_part_is_found() {
    let gang = "[outputs.desk]\ndrive = \"relay\"\nrelay = \"feed-7\"\n\
                [outputs.wall]\ndrive = \"relay\"\nrelay = \"feed-7\"\n";
    let part = room(&[gang, SWITCH, PRESSES]);
    let found = findings(&part);
    assert!(
        found.contains(&"10 warning: gang linked in part".to_owned()),
        "{found:?}"
    );
    let whole = room(&[gang, SWITCH, "[[links]]\nfrom = \"w1\"\nto = \"feed-7\"\n"]);
    assert_eq!(findings(&whole), Vec::<String>::new());
    let group = gang.replace("relay = \"feed-7\"", "group = \"feed-7\"");
    assert!(finds(
        &room(&[&group, SWITCH, PRESSES]),
        "gang linked in part"
    ));
    let alone = room(&[
        "[outputs.desk]\ndrive = \"relay\"\nrelay = \"feed-7\"\n",
        SWITCH,
        PRESSES,
    ]);
    assert_eq!(findings(&alone), ["4 warning: alone in its gang"]);
    let unused = room(&[
        LIGHTS,
        SWITCH,
        PRESSES,
        "[relays.feed-7]\nrating = \"10 A\"\n",
    ]);
    assert_eq!(findings(&unused), ["9 warning: unused relay"]);
}

#[test]
fn fifteen_hundred_watts_are_too_much_and_1380_are_exactly_enough() {
    let rule = "load above the rating";
    let relay = |load: &str| loaded(&format!("drive = \"relay\"\nload = \"{load}\"\n"));
    assert!(finds(&relay("1500 W"), rule));
    assert!(!finds(&relay("1380 W"), rule));
    assert!(finds(&relay("1380.001 W"), rule));
    let receptacle = |load: &str| loaded(&format!("drive = \"receptacle\"\nload = \"{load}\"\n"));
    assert!(!finds(&receptacle("1800 W"), rule));
    assert!(finds(&receptacle("1801 W"), rule));
    let phase = |load: &str| loaded(&format!("drive = \"forward phase\"\nload = \"{load}\"\n"));
    assert!(!finds(&phase("600 W"), rule));
    assert!(finds(&phase("600.1 W"), rule));
    let own = loaded("drive = \"relay\"\nload = \"1500 W\"\nrating = \"15 A\"\n");
    assert!(!finds(&own, rule));
    let higher = relay("1500 W").replace(
        "name = \"Test\"\n",
        "name = \"Test\"\nvoltage = \"277 V\"\n",
    );
    assert!(!finds(&higher, rule));
    let (_, findings) = all(&relay("1500 W"));
    let finding = findings
        .iter()
        .find(|finding| finding.rule == rule)
        .unwrap();
    assert_eq!(
        finding.message,
        "1500 W at 120 V are 12.5 A, more than the rating of 11.5 A, that is 1380 W"
    );
}

#[test]
fn loads_of_one_relay_and_downstream_receptacles_add_up() {
    let rule = "load above the rating";
    let gang = |a: &str, b: &str, rating: &str| {
        let link = "[[links]]\nfrom = \"w1\"\nto = \"feed-7\"\n";
        room(&[
            "[outputs.desk]\ndrive = \"relay\"\nrelay = \"feed-7\"\n",
            a,
            "[outputs.wall]\ndrive = \"0-10 V\"\nrelay = \"feed-7\"\n",
            b,
            rating,
            SWITCH,
            link,
        ])
    };
    let (half, more) = ("load = \"690 W\"\n", "load = \"691 W\"\n");
    assert!(!finds(&gang(half, half, ""), rule));
    assert!(finds(&gang(half, more, ""), rule));
    assert!(!finds(
        &gang(half, more, "[relays.feed-7]\nrating = \"15 A\"\n"),
        rule
    ));
    assert!(finds(
        &gang(half, half, "[relays.feed-7]\nrating = \"10 A\"\n"),
        rule
    ));
    assert!(finds(&gang(half, "", ""), "load not known"));
    assert!(!finds(&gang("", "", ""), "load not known"));
    assert!(finds(
        &gang("rating = \"15 A\"\n", "", ""),
        "rating in the wrong place"
    ));
    let fed = |watts: &str| {
        loaded(&format!(
            "drive = \"receptacle\"\nload = \"1000 W\"\ndownstream = \"{watts}\"\n"
        ))
    };
    assert!(!finds(&fed("800 W"), rule));
    assert!(finds(&fed("801 W"), rule));
    assert!(finds(
        &loaded("drive = \"dry contact\"\nload = \"10 W\"\n"),
        "load on a dry contact"
    ));
}

#[test]
fn inrush_is_a_caution_and_not_a_sum() {
    let led = |load: &str| {
        loaded(&format!(
            "drive = \"relay\"\nload = \"{load}\"\nload-kind = \"led\"\n"
        ))
    };
    let found = findings(&led("1380 W"));
    assert_eq!(found, ["5 caution: inrush"]);
    assert_eq!(findings(&led("690 W")), Vec::<String>::new());
    let resistive = led("1380 W").replace("\"led\"", "\"resistive\"");
    assert_eq!(findings(&resistive), Vec::<String>::new());
}

#[test]
fn dimming_suits_the_kind_of_load() {
    let rule = "dimming does not suit the load";
    let pair =
        |drive: &str, kind: &str| loaded(&format!("drive = \"{drive}\"\nload-kind = \"{kind}\"\n"));
    for (drive, kind, suits) in [
        ("forward phase", "magnetic low-voltage", true),
        ("forward phase", "electronic low-voltage", false),
        ("reverse phase", "electronic low-voltage", true),
        ("reverse phase", "magnetic low-voltage", false),
        ("forward phase", "resistive", true),
        ("reverse phase", "motor", false),
        ("0-10 V", "led", true),
        ("0-10 V", "resistive", false),
        ("relay", "motor", true),
    ] {
        assert_eq!(!finds(&pair(drive, kind), rule), suits, "{drive} {kind}");
    }
    assert!(finds(
        &pair("forward phase", "led"),
        "dimming depends on the lamp"
    ));
    assert!(finds(
        &pair("reverse phase", "led"),
        "dimming depends on the lamp"
    ));
}

/// A corridor that has everything an egress output needs.
const CORRIDOR: &str = "name = \"Corridor\"\n[outputs.desk]\ndrive = \"0-10 V\"\n\
egress = { floor = \"10 %\" }\n[sources.s1]\nkind = \"occupancy\"\ntime-delay = \"15 min\"\n\
[sources.mains]\nkind = \"normal power\"\n[sources.alarm]\nkind = \"fire alarm\"\n\
[[links]]\nfrom = \"s1\"\nto = \"desk\"\nrole = \"auto-on\"\nsetback = \"20 %\"\n\
[[links]]\nfrom = [\"mains\"]\nto = \"desk\"\n[[links]]\nfrom = \"alarm\"\nto = \"desk\"\n";

#[test]
fn egress_light_keeps_its_floor_and_its_time() {
    assert_eq!(findings(CORRIDOR), Vec::<String>::new());
    let without = CORRIDOR.replace("egress = { floor = \"10 %\" }\n", "");
    assert!(finds(&without, "egress output without a floor"));
    let early = CORRIDOR.replace("15 min", "14 min");
    assert!(finds(&early, "egress light goes too early"));
    let run_on = early.replace("setback", "run-on = \"1 min\"\nsetback");
    assert!(!finds(&run_on, "egress light goes too early"));
    let unpowered = CORRIDOR.replace("[[links]]\nfrom = [\"mains\"]\nto = \"desk\"\n", "");
    assert!(finds(&unpowered, "egress output without an emergency link"));
    let quiet = CORRIDOR.replace("[[links]]\nfrom = \"alarm\"\nto = \"desk\"\n", "");
    assert!(!finds(&quiet, "egress output without an emergency link"));
    assert!(finds(&quiet, "egress light without the fire alarm"));
    assert!(!finds(CORRIDOR, "egress light without the fire alarm"));
    let trimmed = CORRIDOR.replace("egress", "high-trim = \"9 %\"\nlow-trim = \"5 %\"\negress");
    assert!(finds(&trimmed, "egress floor above the high trim"));
    let relay = CORRIDOR
        .replace("0-10 V", "relay")
        .replace("setback = \"20 %\"\n", "");
    assert!(finds(&relay, "level on a drive that cannot dim"));
    assert!(!finds(
        &relay.replace("\"10 %\"", "\"100 %\""),
        "level on a drive that cannot dim"
    ));
}

#[test]
fn ord_4_frames_are_faster_than_their_source() {
    let rule = "frames slower than the source";
    let bus = |bus: &str| format!("{}[bus]\n{bus}", loaded("drive = \"relay\"\n"));
    assert!(!finds(
        &bus("delay = \"10 ms\"\njitter = \"39 ms\"\n"),
        rule
    ));
    // The switch's edges are 50 ms apart, the sensor is blind for 100 ms.
    let found = findings(&bus("delay = \"10 ms\"\njitter = \"40 ms\"\n"));
    assert_eq!(found, ["10 warning: frames slower than the source"]);
    let found = findings(&bus("delay = \"100 ms\"\n"));
    assert_eq!(found.len(), 2, "{found:?}");
}

#[test]
fn a_source_that_never_reports_may_die_unnoticed() {
    let rule = "source without reports";
    let silent = |bus: &str| {
        let sensor = format!("{SENSOR}report-every = \"never\"\n");
        let link = "[[links]]\nfrom = \"s1\"\nto = \"desk\"\nrole = \"auto-on\"\n";
        room(&[LIGHTS, &sensor, SWITCH, PRESSES, link, bus])
    };
    assert!(!finds(&loaded("drive = \"relay\"\n"), rule));
    assert_eq!(findings(&silent("")), [format!("6 warning: {rule}")]);
    let message = |bus: &str| all(&silent(bus)).1[0].message.clone();
    assert!(!message("").contains("lost frame"));
    assert!(message("[bus]\nloss = \"1 %\"\n").contains("one lost frame"));
    // What nobody listens to is unlinked, and that is what is said of it.
    let deaf = format!("{SENSOR}report-every = \"never\"\n");
    assert!(!finds(&room(&[LIGHTS, &deaf, SWITCH, PRESSES]), rule));
}

#[test]
fn sw_1_a_single_button_of_several_controllers_is_decided_by_each_alone() {
    let rule = "button of several controllers";
    let split = |buttons: &str, controller: &str| {
        let other = format!("[outputs.wall]\ndrive = \"relay\"\n{controller}");
        let unit = format!("[sources.w1]\nkind = \"switch\"\nbuttons = \"{buttons}\"\n");
        let link = "[[links]]\nfrom = \"w1\"\nto = [\"desk\", \"wall\"]\n";
        room(&[LIGHTS, &other, &unit, link])
    };
    let second = "controller = \"second\"\n[controllers.second]\n";
    let found = all(&split("single", second)).1;
    let found: Vec<&Diagnostic> = found.iter().filter(|one| one.rule == rule).collect();
    assert_eq!(found.len(), 1);
    assert!(
        found[0]
            .message
            .contains("`room-controller` and `second`: pressed"),
        "{}",
        found[0].message
    );
    assert!(!finds(&split("single", ""), rule));
    assert!(!finds(&split("up/down", second), rule));
}

#[test]
fn daylight_loops_are_looked_at() {
    let photo = |keys: &str, link: &str| {
        let source = format!("[sources.p]\nkind = \"daylight\"\n{keys}");
        let link = format!("[[links]]\nfrom = \"p\"\nto = \"desk\"\n{link}");
        room(&[LIGHTS, SWITCH, PRESSES, &source, &link])
    };
    let sees = "daylight = \"2 %\"\nelectric = { desk = \"100 lx\" }\n";
    let readings = "night = { sensor = \"100 lx\", task = \"400 lx\" }\n\
                    day = { sensor = \"200 lx\", task = \"300 lx\" }\n";
    assert_eq!(findings(&photo(sees, readings)), Vec::<String>::new());
    assert!(finds(&photo(sees, ""), "loop never calibrated"));
    assert!(finds(
        &photo("", readings),
        "daylight sensor that sees nothing"
    ));
    let open = format!("{readings}loop = \"open\"\n");
    assert!(finds(
        &photo(sees, &open),
        "open loop that sees its own lamps"
    ));
    assert!(!finds(
        &photo("daylight = \"2 %\"\n", &open),
        "open loop that sees its own lamps"
    ));
}

#[test]
fn a_contact_says_what_closed_means() {
    let contact = |more: &str| loaded(&format!("drive = \"dry contact\"\n{more}"));
    assert!(finds(&contact(""), "contact without a meaning"));
    assert!(!finds(
        &contact("closed-means = \"ventilated\"\n"),
        "contact without a meaning"
    ));
}

#[test]
fn positions_are_inside_the_room_and_away_from_outlets() {
    let at = |sensor: &str| {
        loaded("drive = \"relay\"\n").replace(SENSOR, &format!("{SENSOR}at = {sensor}\n"))
            + "[size]\nwidth = \"4 m\"\ndepth = \"3 m\"\n[diffusers.d1]\nat = [\"0 m\", \"0 m\"]\n"
    };
    assert_eq!(findings(&at("[\"4 m\", \"3 m\"]")), Vec::<String>::new());
    assert!(finds(&at("[\"4.001 m\", \"3 m\"]"), "outside the room"));
    assert!(finds(
        &at("[\"1.2 m\", \"0 m\"]"),
        "sensor close to an air outlet"
    ));
    assert!(!finds(
        &at("[\"4 ft\", \"0 m\"]"),
        "sensor close to an air outlet"
    ));
}

#[test]
fn codes_are_cautions_with_their_edition() {
    let under = |code: &str, space: &str, text: &str| {
        let top = format!("name = \"Test\"\nenergy-code = \"{code}\"\nspace = \"{space}\"\n");
        text.replace("name = \"Test\"\n", &top)
    };
    let delayed = |span: &str| {
        loaded("drive = \"0-10 V\"\n")
            .replace(SENSOR, &format!("{SENSOR}time-delay = \"{span}\"\n"))
    };
    let rule = "time delay above the code's";
    assert!(!finds(
        &under("IECC 2021", "restroom", &delayed("20 min")),
        rule
    ));
    assert!(finds(
        &under("IECC 2021", "restroom", &delayed("20 min 1 s")),
        rule
    ));
    assert!(!finds(
        &under("IECC 2018", "restroom", &delayed("30 min")),
        rule
    ));
    assert!(finds(
        &under("IECC 2018", "open office", &delayed("30 min")),
        rule
    ));
    assert!(finds(
        &under("California 2016", "hall", &delayed("21 min")),
        rule
    ));
    let rule = "turns on above the code's level";
    assert!(finds(
        &under("IECC 2021", "private office", &delayed("15 min")),
        rule
    ));
    assert!(!finds(
        &under("IECC 2021", "corridor", &delayed("15 min")),
        rule
    ));
    assert!(!finds(
        &under("California 2016", "private office", &delayed("15 min")),
        rule
    ));
    let warehouse = under("IECC 2021", "warehouse", &delayed("15 min"));
    assert!(!finds(&warehouse, rule));
    let rule = "no manual off";
    let by_hand = under("IECC 2021", "classroom", &delayed("15 min"));
    assert!(!finds(&by_hand, rule));
    assert!(finds(&by_hand.replace(PRESSES, ""), rule));
    let (_, findings) = all(&under("IECC 2021", "restroom", &delayed("30 min")));
    let finding = findings
        .iter()
        .find(|f| f.rule.starts_with("time delay"))
        .unwrap();
    assert!(
        finding.message.contains("IECC 2021 C405.2.1.1"),
        "{}",
        finding.message
    );
    assert_eq!(finding.severity, Severity::Caution);
}

#[test]
fn setbacks_and_overrides_are_compared_with_codes() {
    let setback = |level: &str, code: &str, space: &str| {
        linked(
            "drive = \"0-10 V\"\n",
            &format!("role = \"auto-on\"\nsetback = \"{level}\"\n"),
        )
        .replace(
            "name = \"Test\"\n",
            &format!("name = \"Test\"\nenergy-code = \"{code}\"\nspace = \"{space}\"\n"),
        )
    };
    let rule = "setback above the code's";
    assert!(finds(&setback("51 %", "IECC 2021", "corridor"), rule));
    assert!(!finds(&setback("50 %", "IECC 2021", "corridor"), rule));
    assert!(finds(&setback("21 %", "IECC 2018", "open office"), rule));
    let sweep = |keys: &str, clock: &str| {
        room(&[
            "energy-code = \"IECC 2021\"\n",
            LIGHTS,
            SWITCH,
            PRESSES,
            "[sources.c]\nkind = \"clock\"\nsweeps = \"22:00\"\n",
            clock,
            "[[links]]\nfrom = \"c\"\nto = \"desk\"\nrole = \"sweep\"\n",
            keys,
        ])
    };
    assert_eq!(findings(&sweep("", "")), Vec::<String>::new());
    assert!(finds(
        &sweep("longest-override = \"3 h\"\n", ""),
        "override above the code's"
    ));
    assert!(finds(
        &sweep("", "reserve = \"9 h\"\n"),
        "clock reserve below the code's"
    ));
}

#[test]
fn an_unusual_partial_on_is_common_practice_only() {
    let with = |level: &str| {
        linked(
            "drive = \"0-10 V\"\n",
            &format!("role = \"partial-on\"\nlevel = \"{level}\"\n"),
        )
    };
    assert_eq!(findings(&with("30 %")), Vec::<String>::new());
    assert_eq!(findings(&with("29 %")), ["6 caution: unusual partial-on"]);
    assert_eq!(findings(&with("71 %")), ["6 caution: unusual partial-on"]);
}

#[test]
fn copies_say_it_once() {
    let text = room(&[
        "[outputs.aisle]\ndrive = \"relay\"\nload = \"2 kW\"\ncopies = 12\n",
        SENSOR,
        "[[links]]\nfrom = \"s1\"\nto = \"aisle\"\nrole = \"auto-on\"\n",
    ]);
    assert_eq!(findings(&text), ["4 error: load above the rating"]);
}

#[test]
fn every_rule_that_is_listed_is_looked_for() {
    // The sources of the checks name each rule once or more; a rule nobody names is a promise.
    let sources = [
        include_str!("code.rs"),
        include_str!("effect.rs"),
        include_str!("links.rs"),
        include_str!("load.rs"),
        include_str!("place.rs"),
        include_str!("safety.rs"),
        include_str!("timing.rs"),
    ];
    for rule in RULES {
        let named = format!("\"{}\"", rule.name);
        assert!(
            sources.iter().any(|text| text.contains(&named)),
            "{}",
            rule.name
        );
    }
}

#[test]
fn what_can_never_do_anything_is_found() {
    let rule = "without effect";
    let lights = |key: &str, link: &str| {
        linked(
            &format!("drive = \"0-10 V\"\n{key}"),
            &format!("role = \"auto-on\"\n{link}"),
        )
    };
    assert!(finds(&lights("off-after = \"30 min\"\n", ""), rule));
    assert!(!finds(
        &lights("off-after = \"30 min\"\n", "setback = \"20 %\"\n"),
        rule
    ));
    let heard = |senses: &str| {
        let sensor = format!("{SENSOR}sound-window = \"30 min\"\n{senses}");
        loaded("drive = \"relay\"\n").replace(SENSOR, &sensor)
    };
    assert!(finds(&heard(""), rule));
    assert!(!finds(&heard("senses = [\"motion\", \"sound\"]\n"), rule));
    let clock = |keys: &str, role: &str| {
        let clock = format!("[sources.c]\nkind = \"clock\"\n{keys}");
        let link = format!("[[links]]\nfrom = \"c\"\nto = \"desk\"\nrole = \"{role}\"\n");
        room(&[LIGHTS, SWITCH, PRESSES, &clock, &link])
    };
    let hours = "hours = { weekdays = \"08:00 to 18:00\" }\n";
    assert!(finds(&clock(hours, "sweep"), rule));
    assert!(!finds(&clock("sweeps = \"22:00\"\n", "sweep"), rule));
    assert!(finds(&clock("sweeps = \"22:00\"\n", "opening"), rule));
    assert!(!finds(&clock(hours, "opening"), rule));
    // After hours there must be a setback to go off from.
    assert!(finds(&clock(hours, "off-after-hours"), rule));
    let shed = |drive: &str| {
        let grid =
            "[sources.g]\nkind = \"demand response\"\n[[links]]\nfrom = \"g\"\nto = \"desk\"\n";
        loaded(drive) + grid
    };
    assert!(finds(&shed("drive = \"relay\"\n"), rule));
    assert!(!finds(&shed("drive = \"relay\"\nshed = \"off\"\n"), rule));
    assert!(!finds(&shed("drive = \"0-10 V\"\n"), rule));
}

#[test]
fn a_room_of_a_site_is_checked_within_its_site() {
    use crate::room_file::{Part, read_site};

    let mut sources = Sources::new();
    let office = room(&[LIGHTS, SWITCH, PRESSES, SENSOR]);
    let file = sources.add("annex/office/room.toml", office);
    let site = sources.add(
        "annex/site.toml",
        "name = \"Annex\"\n[outputs.air]\ndrive = \"dry contact\"\nclosed-means = \"air\"\n\
         [[links]]\nfrom = \"office/s1\"\nto = \"air\"\nrole = \"auto-on\"\n",
    );
    let part = Part {
        folder: "office".to_owned(),
        room: file,
    };
    let (alone, _) = read_room(&sources, file, None, Some(site));
    let (whole, _) = read_site(&sources, site, &[part], None);
    let entry = |folder: &str, is_site, file, room| Room {
        folder: folder.into(),
        is_site,
        file,
        room,
        scenarios: Vec::new(),
        site: None,
    };
    let office = entry("annex/office", false, file, alone);
    let annex = entry("annex", true, site, whole);
    let rooms = [annex, office];
    assert_eq!(
        check_all(&rooms[1..]).len(),
        1,
        "alone, nothing hears its sensor"
    );
    assert_eq!(check_all(&rooms), []);
}
