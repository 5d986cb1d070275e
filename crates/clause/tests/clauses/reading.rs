//! What can be written, and that what is written out again reads the same.

use crate::bench::parse;
use crate::names::names;
use clause::{Formula, Monitor, Verdict};
use device::Span;

/// Reads a clause and gives it as it is written out; checks that this reads back as the same.
fn written(fields: &[(&str, &str)]) -> String {
    let formula = parse(fields);
    let again = formula.fields(&names());
    let again: Vec<(&str, &str)> = again
        .iter()
        .map(|(key, text)| (*key, text.as_str()))
        .collect();
    let reread = parse(&again);
    assert_eq!(formula, reread, "{again:?}");
    formula.describe(&names())
}

/// Reads an expression under `never`.
fn never(text: &str) -> String {
    let whole = written(&[("never", text)]);
    whole
        .strip_prefix("never ")
        .expect("the sentence is written under never")
        .into()
}

#[test]
fn the_clauses_of_a_private_office_read_as_meant() {
    assert_eq!(
        written(&[("never", "wall-button changes desk-outlet")]),
        "never wall-button changes desk-outlet"
    );
    assert_eq!(
        written(&[
            ("when", "wall-button turns off desk-lights"),
            ("then", "desk-lights is off"),
            (
                "until",
                "desk-lights becomes vacant or wall-button turns on desk-lights"
            ),
        ]),
        "when wall-button turns off desk-lights, then desk-lights is off, until desk-lights \
         becomes vacant or wall-button turns on desk-lights"
    );
    assert_eq!(
        written(&[("always", "wall-sensor sound never turns on desk-lights")]),
        "never wall-sensor sound turns on desk-lights"
    );
}

#[test]
fn every_way_to_say_a_state_of_an_output_is_read() {
    for (said, meant) in [
        ("desk-lights is on", "desk-lights is on"),
        ("the desk-lights is off", "desk-lights is off"),
        ("desk-lights is not on", "desk-lights is not on"),
        ("not desk-lights is on", "desk-lights is not on"),
        ("not not desk-lights is on", "desk-lights is on"),
        ("desk-lights is occupied", "desk-lights is occupied"),
        ("desk-lights is vacant", "desk-lights is vacant"),
        ("desk-lights is in warning", "desk-lights is in warning"),
        ("desk-lights is warning", "desk-lights is in warning"),
        ("desk-lights is in setback", "desk-lights is in setback"),
        ("desk-lights is set back", "desk-lights is in setback"),
        ("desk-lights is latched", "desk-lights is latched"),
        ("desk-lights is by hand", "desk-lights is by hand"),
        ("desk-lights is in emergency", "desk-lights is in emergency"),
        ("desk-outlet is closed", "desk-outlet is closed"),
        ("desk-outlet is open", "desk-outlet is open"),
        ("desk-lights is 50 %", "desk-lights is 50 %"),
        ("desk-lights is 50%", "desk-lights is 50 %"),
        ("desk-lights is not 12.5 %", "desk-lights is not 12.5 %"),
        ("desk-lights is at most 50 %", "desk-lights is at most 50 %"),
        ("desk-lights is at least 0 %", "desk-lights is at least 0 %"),
        ("desk-lights is below 50 %", "desk-lights is below 50 %"),
        ("desk-lights is above 50 %", "desk-lights is above 50 %"),
        (
            "desk-lights is between 20 % and 50 %",
            "desk-lights is between 20 % and 50 %",
        ),
        (
            "desk-lights is between 50 % and 50 %",
            "desk-lights is between 50 % and 50 %",
        ),
        ("desk-lights asks 50 %", "desk-lights asks 50 %"),
        (
            "desk-lights asks at most 5 %",
            "desk-lights asks at most 5 %",
        ),
        ("desk-lights shows 100 %", "desk-lights shows 100 %"),
        ("not desk-lights asks 50 %", "not desk-lights asks 50 %"),
    ] {
        assert_eq!(never(said), meant);
    }
}

#[test]
fn every_way_to_say_something_of_a_source_is_read() {
    for (said, meant) in [
        ("wall-sensor is occupied", "wall-sensor is occupied"),
        ("wall-sensor is not vacant", "wall-sensor is not vacant"),
        ("wall-sensor is unknown", "wall-sensor is unknown"),
        ("wall-sensor is lost", "wall-sensor is lost"),
        ("wall-sensor becomes vacant", "wall-sensor becomes vacant"),
        ("wall-sensor motion", "motion at wall-sensor"),
        ("motion at wall-sensor", "motion at wall-sensor"),
        ("sound at wall-sensor", "sound at wall-sensor"),
        (
            "motion or sound at wall-sensor",
            "motion at wall-sensor or sound at wall-sensor",
        ),
        (
            "motion at any of sensors",
            "motion at door-sensor or motion at wall-sensor",
        ),
        ("card is in", "card-reader is in"),
        ("the card is out", "card-reader is out"),
        ("card-reader in", "card-reader in"),
        ("card out", "card-reader out"),
        ("card is lost", "card-reader is lost"),
        ("in hours", "time-clock is in hours"),
        ("after hours", "time-clock is after hours"),
        ("clock is in hours", "time-clock is in hours"),
        ("sweep", "time-clock sweeps"),
        ("time-clock sweeps", "time-clock sweeps"),
        ("normal power is lost", "mains is lost"),
        ("normal power is present", "mains is present"),
        ("mains is absent", "mains is lost"),
        ("fire alarm is sounding", "siren is sounding"),
        ("siren is off", "siren is quiet"),
        ("siren sounds", "siren is sounding"),
        ("grid sheds", "grid is active"),
        ("demand response is active", "grid is active"),
        ("grid is off", "grid is inactive"),
        ("photo is at least 300 lx", "photo is at least 300 lx"),
        ("photo is below 12.5 lx", "photo is below 12.5 lx"),
        ("not photo is above 1 lx", "not photo is above 1 lx"),
        ("photo is at most 1lx", "photo is at most 1 lx"),
        ("photo is lost", "photo is lost"),
    ] {
        assert_eq!(never(said), meant);
    }
}

#[test]
fn every_way_to_say_something_of_a_button_is_read() {
    for (said, meant) in [
        ("wall-button press", "wall-button press"),
        ("press of wall-button", "wall-button press"),
        (
            "no tap at wall-unit/film for 5 s",
            "no wall-unit/film tap for 5 s",
        ),
        (
            "hold of any of wall-button/up, wall-unit/film",
            "wall-button/up hold or wall-unit/film hold",
        ),
        ("wall-button/up tap", "wall-button/up tap"),
        ("wall-button up tap", "wall-button/up tap"),
        ("wall-button/down is tapped", "wall-button/down tap"),
        ("wall-button/down released", "wall-button/down release"),
        ("wall-unit/film is held", "wall-unit/film hold"),
        ("wall-unit/film is held down", "wall-unit/film is down"),
        ("wall-unit/zone b up is down", "wall-unit/zone b up is down"),
        (
            "wall-unit/zone-a press",
            "wall-unit/zone-a up press or wall-unit/zone-a down press",
        ),
        (
            "wall-button is down",
            "wall-button/up is down or wall-button/down is down",
        ),
        (
            "wall-unit/zone-a down turns off desk-lights",
            "wall-unit/zone-a down turns off desk-lights",
        ),
    ] {
        assert_eq!(never(said), meant);
    }
}

#[test]
fn what_happens_to_an_output_is_read_with_its_cause() {
    for (said, meant) in [
        ("desk-lights turns on", "desk-lights turns on"),
        ("desk-lights turns off", "desk-lights turns off"),
        ("desk-lights rises", "desk-lights rises"),
        ("desk-lights falls", "desk-lights falls"),
        ("desk-lights changes", "desk-lights changes"),
        ("desk-lights warns", "desk-lights warns"),
        ("desk-lights starts warning", "desk-lights warns"),
        (
            "desk-lights warns by card",
            "desk-lights warns by card-reader",
        ),
        (
            "desk-lights warns by wall-unit/film",
            "desk-lights warns by wall-unit/film",
        ),
        (
            "desk-lights becomes occupied",
            "desk-lights becomes occupied",
        ),
        ("desk-lights becomes vacant", "desk-lights becomes vacant"),
        ("desk-lights becomes latched", "desk-lights becomes latched"),
        (
            "wall-button raises desk-lights",
            "wall-button raises desk-lights",
        ),
        (
            "desk-lights lowers by wall-button",
            "wall-button lowers desk-lights",
        ),
        (
            "wall-sensor motion turns on desk-lights",
            "wall-sensor motion turns on desk-lights",
        ),
        ("daylight lowers desk-lights", "daylight lowers desk-lights"),
        ("power turns on desk-lights", "power turns on desk-lights"),
        ("site changes desk-lights", "site changes desk-lights"),
        (
            "card turns on lights",
            "card-reader turns on desk-lights or card-reader turns on door-lights",
        ),
        (
            "card turns on any of desk-lights, desk-outlet",
            "card-reader turns on desk-lights or card-reader turns on desk-outlet",
        ),
    ] {
        assert_eq!(never(said), meant);
    }
}

#[test]
fn groups_and_lists_stand_for_their_members() {
    for (said, meant) in [
        (
            "any of lights is on",
            "desk-lights is on or door-lights is on",
        ),
        (
            "all of desk-lights, desk-outlet is off",
            "desk-lights is off and desk-outlet is off",
        ),
        (
            "none of lights is on",
            "not (desk-lights is on or door-lights is on)",
        ),
        (
            "any of lights, desk-outlet turns on",
            "desk-lights turns on or door-lights turns on or desk-outlet turns on",
        ),
        ("any of desk-lights is on", "desk-lights is on"),
        (
            "all of sensors is vacant",
            "door-sensor is vacant and wall-sensor is vacant",
        ),
    ] {
        assert_eq!(never(said), meant);
    }
}

#[test]
fn and_binds_tighter_than_or_and_not_tighter_than_both() {
    let meant = never("desk-lights is on or not card is in and (in hours or photo is lost)");
    assert_eq!(
        meant,
        "desk-lights is on or card-reader is not in and (time-clock is in hours or photo is lost)"
    );
    assert_eq!(
        never("(desk-lights is on or card is in) or photo is lost"),
        "desk-lights is on or card-reader is in or photo is lost"
    );
    assert_eq!(
        never("not (desk-lights is on and card is in)"),
        "not (desk-lights is on and card-reader is in)"
    );
}

#[test]
fn spans_are_read_after_conditions_and_events() {
    for (said, meant) in [
        (
            "no motion at wall-sensor for 20 min and desk-lights is on",
            "no motion at wall-sensor for 20 min and desk-lights is on",
        ),
        (
            "no (motion at wall-sensor or card out) for 1 h 30 min",
            "no (motion at wall-sensor or card-reader out) for 1 h 30 min",
        ),
        (
            "no motion or sound at wall-sensor for 75 min",
            "no (motion at wall-sensor or sound at wall-sensor) for 1 h 15 min",
        ),
        (
            "desk-lights is on for 0.5 s",
            "desk-lights is on for 0.500 s",
        ),
        (
            "desk-lights is on for 100ms",
            "desk-lights is on for 0.100 s",
        ),
        (
            "desk-lights is on for 2 d for 1 s",
            "(desk-lights is on for 48 h) for 1 s",
        ),
        (
            "not desk-lights is on for 5 s",
            "not desk-lights is on for 5 s",
        ),
        (
            "(not desk-lights is on) for 5 s",
            "(desk-lights is not on) for 5 s",
        ),
        (
            "desk-lights turns on within 10 s of desk-lights turns off",
            "desk-lights turns on within 10 s of desk-lights turns off",
        ),
        (
            "card is in for 000000000000005 s",
            "card-reader is in for 5 s",
        ),
        ("card is in for 1000 d", "card-reader is in for 24000 h"),
        (
            "(desk-lights is occupied) becomes true",
            "(desk-lights is occupied) becomes true",
        ),
        (
            "(desk-lights is vacant) becomes true",
            "(desk-lights is vacant) becomes true",
        ),
        (
            "(desk-lights is 50 %) becomes true",
            "(desk-lights is 50 %) becomes true",
        ),
        (
            "(photo is below 5 lx) becomes true",
            "(photo is below 5 lx) becomes true",
        ),
        (
            "(wall-button/up is down) becomes true",
            "(wall-button/up is down) becomes true",
        ),
        (
            "(desk-lights is on and card is in) becomes true",
            "(desk-lights is on and card-reader is in) becomes true",
        ),
    ] {
        assert_eq!(never(said), meant);
    }
}

#[test]
fn every_form_is_written_out_as_it_is_read() {
    for fields in FORMS {
        let again: Vec<(&str, String)> = parse(fields).fields(&names());
        let again: Vec<(&str, &str)> = again.iter().map(|(k, t)| (*k, t.as_str())).collect();
        assert_eq!(again, *fields);
    }
}

#[test]
fn the_same_sentence_can_stand_under_two_keys() {
    let same = |one: &[(&str, &str)], other: &[(&str, &str)]| assert_eq!(parse(one), parse(other));
    same(
        &[("never", "wall-button affects desk-outlet")],
        &[("always", "wall-button never affects desk-outlet")],
    );
    same(
        &[("never", "wall-button never changes desk-outlet")],
        &[("never", "wall-button changes desk-outlet")],
    );
    same(
        &[("never", "more than 2 card in"), ("within", "1 h")],
        &[("never", "more than 2 card in within 1 h")],
    );
    same(
        &[("always", "desk-lights does not change"), ("for", "5 s")],
        &[("always", "desk-lights does not change for 5 s")],
    );
    same(
        &[("only", "wall-unit/zone-a and card change lights")],
        &[(
            "only",
            "wall-unit/zone-a up, wall-unit/zone-a down, card change any of lights",
        )],
    );
}

#[test]
fn the_order_of_keys_means_nothing() {
    let fields = [
        ("when", "motion at wall-sensor"),
        ("then", "desk-lights is on"),
        ("within", "2 s"),
        ("until", "card out"),
    ];
    let mut turned = fields;
    turned.reverse();
    assert_eq!(parse(&fields), parse(&turned));
}

#[test]
fn an_affect_is_a_fact_and_not_a_monitor() {
    let formula = parse(&[("never", "wall-button, wall-sensor motion affects lights")]);
    let (doers, outputs) = formula.never_affects().unwrap();
    assert_eq!((doers.len(), outputs), (2, &[0, 2][..]));
    assert_eq!(formula.timers(), 0);
    assert_eq!(Monitor::new().verdict(&formula), Verdict::NeverExercised);
    assert_eq!(parse(&[("never", "card in")]).never_affects(), None);
}

#[test]
fn a_clause_that_needs_more_than_a_monitor_has_is_refused() {
    let read = |text: &str| Formula::parse(&[("never", text)], &names(), Span::from_seconds(1));
    let fits = |text: &str| read(text).is_ok();
    let lasts = |spans: std::ops::RangeInclusive<u32>| -> String {
        let parts: Vec<String> = spans.map(|s| format!("card is in for {s} s")).collect();
        parts.join(" or ")
    };
    assert!(fits(&lasts(1..=32)), "32 timers, 64 memory bits");
    assert!(!fits(&lasts(1..=33)), "33 timers");
    let becoming = |outputs: &[&str]| -> String {
        let parts = outputs.iter().map(|name| format!(" or {name} becomes on"));
        lasts(1..=31) + &parts.collect::<String>()
    };
    assert!(
        fits(&becoming(&["desk-lights", "door-lights"])),
        "64 memory bits"
    );
    assert!(
        !fits(&becoming(&["desk-lights", "door-lights", "desk-outlet"])),
        "65 memory bits"
    );
    let levels = |count: u32, between: &str| -> String {
        let parts: Vec<String> = (1..=count)
            .map(|tenths| format!("desk-lights is {}.{} %", tenths / 10, tenths % 10))
            .collect();
        parts.join(between)
    };
    assert!(fits(&levels(126, " or ")), "128 nodes");
    assert!(!fits(&levels(127, " or ")), "129 nodes");
    assert!(fits(&levels(32, " and ")), "32 operands");
    assert!(!fits(&levels(33, " and ")), "33 operands");
}

#[test]
fn the_error_of_a_clause_that_is_too_long_points_at_its_longest_text() {
    let parts: Vec<String> = (1..=33).map(|s| format!("card is in for {s} s")).collect();
    let text = parts.join(" or ");
    let fields = [("never", "card is in"), ("unless", &text)];
    let error = Formula::parse(&fields, &names(), Span::ZERO).expect_err("it is too long");
    assert_eq!(error.message, "the clause is too long for one monitor");
    assert_eq!((error.key.as_str(), error.span), ("unless", 0..text.len()));
}

/// A clause of each form, as it is written out.
const FORMS: &[&[(&str, &str)]] = &[
    &[
        ("always", "desk-lights is on"),
        ("while", "time-clock is in hours"),
    ],
    &[
        ("never", "desk-lights is on"),
        ("unless", "card-reader is in"),
        ("reaction", "2 s"),
    ],
    &[
        ("always", "desk-lights is on or card-reader is out"),
        ("reaction", "0 s"),
    ],
    &[("never", "more than 3 desk-lights turns on within 10 min")],
    &[(
        "never",
        "more than 1 (desk-lights turns on or card-reader in) within 10 min",
    )],
    &[(
        "always",
        "wall-button, wall-sensor sound never affects desk-outlet",
    )],
    &[(
        "always",
        "wall-button never affects any of desk-lights, desk-outlet",
    )],
    &[(
        "only",
        "wall-button, wall-sensor motion, daylight change desk-lights",
    )],
    &[(
        "only",
        "wall-button/up turn on any of desk-lights, door-lights",
    )],
    &[
        ("only", "power turn off desk-lights"),
        ("unless", "card-reader out"),
    ],
    &[(
        "always",
        "desk-lights turns off only after desk-lights is in warning for 30 s",
    )],
    &[(
        "always",
        "desk-lights turns off only after no motion at wall-sensor for 30 s",
    )],
    &[(
        "always",
        "(card-reader in or card-reader out) only after photo is lost for 30 s",
    )],
    &[
        ("always", "desk-lights does not change for 10 s"),
        ("unless", "wall-button press"),
    ],
    &[(
        "always",
        "any of desk-lights, door-lights does not turn on for 10 s",
    )],
    &[
        ("when", "motion at wall-sensor"),
        ("then", "desk-lights is on"),
    ],
    &[
        ("when", "wall-sensor is vacant"),
        ("then", "desk-lights turns off"),
        ("within", "1 min"),
        ("while", "time-clock is in hours"),
        ("unless", "motion at wall-sensor"),
    ],
    &[
        ("when", "motion at wall-sensor"),
        ("then", "desk-lights is on"),
        ("for", "15 min"),
    ],
    &[
        ("when", "motion at wall-sensor"),
        ("then", "desk-lights is on"),
        ("within", "0.300 s"),
        ("until", "card-reader out"),
        ("reaction", "1 s"),
    ],
    &[
        ("when", "motion at wall-sensor"),
        ("then", "(desk-lights is on for 5 s)"),
        ("within", "10 s"),
    ],
];
