//! Links that are missing, that contradict the drive, or that reach only a part of a gang.

use std::collections::{BTreeMap, BTreeSet};

use device::switch::Button;

use super::Checked;
use crate::Diagnostic;
use crate::room_file::{Tie, asked_level, full};

pub(super) fn check(checked: &Checked<'_>, findings: &mut Vec<Diagnostic>) {
    unlinked_sources(checked, findings);
    unlinked_buttons(checked, findings);
    for (number, _, _) in checked.outputs() {
        on_and_off(checked, number, findings);
    }
    levels(checked, findings);
    gangs(checked, "relay", findings);
    gangs(checked, "group", findings);
}

fn unlinked_sources(checked: &Checked<'_>, findings: &mut Vec<Diagnostic>) {
    let linked: BTreeSet<usize> = checked.room.ties.iter().map(|tie| tie.source).collect();
    for (number, source) in checked.room.model.sources.iter().enumerate() {
        if !linked.contains(&number) {
            findings.push(Diagnostic::warning(
                "unlinked source",
                source.place,
                format!("nothing listens to `{}`", source.name),
                format!(
                    "add [[links]] with from = \"{}\", or remove it",
                    source.name
                ),
            ));
        }
    }
}

/// A unit of which some buttons are linked and others do nothing.
fn unlinked_buttons(checked: &Checked<'_>, findings: &mut Vec<Diagnostic>) {
    for (number, source) in checked.room.model.sources.iter().enumerate() {
        let ties = checked.room.ties.iter().filter(|tie| tie.source == number);
        let linked: BTreeSet<u8> = ties.filter_map(|tie| tie.button).collect();
        if linked.is_empty() {
            continue;
        }
        let buttons = &checked.room.buttons[number];
        let dead = (0..=u8::MAX)
            .zip(&buttons.names)
            .filter(|(at, _)| !linked.contains(at));
        let dead: Vec<&str> = dead.map(|(_, name)| name.as_str()).collect();
        if !dead.is_empty() {
            let names = crate::diagnostic::all_of(dead.iter().copied());
            findings.push(Diagnostic::warning(
                "unlinked button",
                source.section.place_of("buttons"),
                format!("no output hears {names} of `{}`", source.name),
                format!(
                    "link it, as from = \"{}/{}\", or remove it",
                    source.name, dead[0]
                ),
            ));
        }
    }
}

/// Whether something can turn an output on and something can turn it off.
fn on_and_off(checked: &Checked<'_>, number: usize, findings: &mut Vec<Diagnostic>) {
    let thing = &checked.room.model.outputs[number];
    let output = checked.output(number);
    let on = checked.ties_of(number).any(|tie| turns_on(checked, tie));
    if !on {
        findings.push(Diagnostic::warning(
            "nothing turns it on",
            thing.place,
            format!("nothing can turn `{}` on", thing.name),
            "link a sensor with role = \"auto-on\", or a button, a card or a clock that opens",
        ));
    }
    // An egress output keeps its floor and is not meant to go off.
    let off = checked.ties_of(number).any(|tie| turns_off(checked, tie));
    if on && !off && output.floor.is_none() {
        let only_by_hand = checked
            .ties_of(number)
            .filter(|tie| turns_on(checked, tie))
            .all(|tie| matches!(tie.role_word, "button" | "scene"));
        if only_by_hand && !output.press_hold.is_zero() {
            return;
        }
        findings.push(Diagnostic::warning(
            "nothing turns it off",
            thing.place,
            format!("nothing can turn `{}` off", thing.name),
            off_hint(checked, number),
        ));
        return;
    }
    let by_itself = checked
        .ties_of(number)
        .any(|tie| turns_off(checked, tie) && !matches!(tie.role_word, "button" | "scene"));
    if on && !by_itself && output.floor.is_none() && output.press_hold.is_zero() {
        findings.push(Diagnostic::caution(
            "stays on for ever",
            thing.place,
            format!(
                "only a hand turns `{}` off: forgotten, it stays on for ever",
                thing.name
            ),
            "link a sensor or a clock, or give it a press-hold",
        ));
    }
}

fn off_hint(checked: &Checked<'_>, number: usize) -> &'static str {
    if checked.ties_of(number).any(|tie| tie.setback.is_some()) {
        "a setback stays for ever: give the output an off-after, or link a button that turns off"
    } else {
        "link a sensor, a button that turns off, or a clock that sweeps"
    }
}

fn turns_on(checked: &Checked<'_>, tie: &Tie) -> bool {
    match tie.role_word {
        "auto-on" | "partial-on" | "welcome" | "opening" => true,
        "button" => matches!(checked.button(tie), Some(Button::Up | Button::Single)),
        "scene" => asked_level(&tie.role).is_some_and(|level| !level.is_off()),
        _ => false,
    }
}

fn turns_off(checked: &Checked<'_>, tie: &Tie) -> bool {
    match tie.role_word {
        "auto-on" | "partial-on" | "manual-on" => {
            tie.setback.is_none() || checked.output(tie.output).off_after.is_some()
        }
        "welcome" | "sweep" | "off-after-hours" => true,
        "button" => matches!(checked.button(tie), Some(Button::Down | Button::Single)),
        "scene" => asked_level(&tie.role).is_some_and(device::Level::is_off),
        _ => false,
    }
}

/// Levels between off and full, asked of a drive that knows only on and off.
fn levels(checked: &Checked<'_>, findings: &mut Vec<Diagnostic>) {
    for tie in &checked.room.ties {
        let output = checked.output(tie.output);
        if output.drive.dims() {
            continue;
        }
        let thing = &checked.room.model.outputs[tie.output];
        let drive = thing.section.word("drive").unwrap_or("relay");
        let between = |level: device::Level| !level.is_off() && level != device::Level::FULL;
        let asked = asked_level(&tie.role).filter(|level| between(*level));
        if let Some(level) = asked.or(tie.setback.filter(|level| between(*level))) {
            findings.push(
                Diagnostic::error(
                    "level on a drive that cannot dim",
                    tie.place,
                    format!(
                        "{level} is asked of `{}`, which is only on or off",
                        thing.name
                    ),
                    "dim it with drive = \"0-10 V\", or ask for 100 %: role = \"auto-on\"",
                )
                .related(thing.section.place_of("drive"), format!("a {drive}")),
            );
        } else if tie.role_word == "limit" {
            findings.push(
                Diagnostic::error(
                    "level on a drive that cannot dim",
                    tie.place,
                    format!(
                        "daylight cannot dim `{}`, which is only on or off",
                        thing.name
                    ),
                    "dim it with drive = \"0-10 V\", or remove the link",
                )
                .related(thing.section.place_of("drive"), format!("a {drive}")),
            );
        }
    }
}

/// Outputs of one relay or group, of which a source reaches only some.
fn gangs(checked: &Checked<'_>, key: &'static str, findings: &mut Vec<Diagnostic>) {
    let model = &checked.room.model;
    let mut gangs: BTreeMap<String, Vec<usize>> = BTreeMap::new();
    for (number, thing) in model.outputs.iter().enumerate() {
        if let Some(name) = full(model, thing, key) {
            gangs.entry(name).or_default().push(number);
        }
    }
    for (name, members) in &gangs {
        if let [only] = members.as_slice() {
            let thing = &model.outputs[*only];
            findings.push(Diagnostic::warning(
                "alone in its gang",
                thing.section.place_of(key),
                format!("only `{}` has the {key} `{name}`", thing.name),
                format!("give another output the same {key}, or remove the line"),
            ));
        }
        linked_in_part(checked, key, name, members, findings);
    }
    for relay in model.relays.iter().filter(|_| key == "relay") {
        if !gangs.contains_key(&relay.name) {
            findings.push(Diagnostic::warning(
                "unused relay",
                relay.place,
                format!("no output has relay = \"{}\"", relay.name),
                "name it in the outputs that share it, or remove it",
            ));
        }
    }
}

fn linked_in_part(
    checked: &Checked<'_>,
    key: &str,
    name: &str,
    members: &[usize],
    findings: &mut Vec<Diagnostic>,
) {
    let mut reached: BTreeMap<(usize, Option<u8>, bool), Vec<&Tie>> = BTreeMap::new();
    for tie in checked
        .room
        .ties
        .iter()
        .filter(|tie| members.contains(&tie.output))
    {
        // Daylight has a limit of its own for each zone of a gang, and a shed turns nothing off.
        if !matches!(tie.role_word, "limit" | "shed" | "no-auto-on") {
            let scene = tie.role_word == "scene";
            reached
                .entry((tie.source, tie.button, scene))
                .or_default()
                .push(tie);
        }
    }
    for ties in reached.values() {
        let first = ties[0];
        // A group only moves together; that a scene or a sensor has one zone of it is its point.
        if key == "group" && first.role_word != "button" {
            continue;
        }
        let missing = members
            .iter()
            .find(|output| !ties.iter().any(|tie| tie.output == **output));
        let Some(missing) = missing else {
            continue;
        };
        let source = &checked.source(first).name;
        let missing = &checked.room.model.outputs[*missing];
        findings.push(
            Diagnostic::warning(
                "gang linked in part",
                first.place,
                format!("`{source}` reaches only some outputs of the {key} `{name}`"),
                format!("link it to all of them: to = \"{name}\""),
            )
            .related(
                missing.place,
                "not reached, and goes on and off with the others",
            ),
        );
    }
}
