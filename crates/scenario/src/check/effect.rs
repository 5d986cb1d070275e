//! Keys and links that are written and can never do anything.

use device::controller::Drive;

use super::Checked;
use crate::Diagnostic;
use crate::room_file::{Thing, Tie};

pub(super) fn check(checked: &Checked<'_>, findings: &mut Vec<Diagnostic>) {
    for (number, thing, _) in checked.outputs() {
        let setback = checked.ties_of(number).any(|tie| tie.setback.is_some());
        let after_hours = |tie: &Tie| tie.role_word == "off-after-hours";
        if !setback && thing.section.span("off-after").is_some() {
            findings.push(without(
                thing,
                "off-after",
                "no link of the output has a setback to go off from",
                "give a link of the output a setback, or remove the line",
            ));
        }
        if let Some(tie) = checked
            .ties_of(number)
            .find(|tie| !setback && after_hours(tie))
        {
            findings.push(idle(
                tie,
                format!("`{}` has no setback to go off from after hours", thing.name),
                "give a link of the output a setback, or remove this one",
            ));
        }
    }
    for source in &checked.room.model.sources {
        sound(source, findings);
    }
    for tie in &checked.room.ties {
        calendar(checked, tie, findings);
        shed(checked, tie, findings);
    }
}

/// What is set of a microphone that the sensor has not.
fn sound(source: &Thing, findings: &mut Vec<Diagnostic>) {
    let keys = &source.section;
    if keys.word("kind") != Some("occupancy") {
        return;
    }
    let hears = keys
        .list("senses")
        .iter()
        .any(|sense| sense.value == crate::keys::Item::Word("sound"));
    for key in ["sound-window", "sound-grace"] {
        if !hears && keys.has(key) {
            findings.push(without(
                source,
                key,
                "the sensor does not sense sound",
                "write senses = [\"motion\", \"sound\"], or remove the line",
            ));
        }
    }
}

/// Links of a clock whose calendar never says what they wait for.
fn calendar(checked: &Checked<'_>, tie: &Tie, findings: &mut Vec<Diagnostic>) {
    let source = checked.source(tie);
    let (key, example) = match tie.role_word {
        "sweep" => ("sweeps", "sweeps = \"22:00\""),
        "opening" | "no-auto-on" | "off-after-hours" => {
            ("hours", "hours = { weekdays = \"08:00 to 18:00\" }")
        }
        _ => return,
    };
    if !source.section.has(key) {
        findings.push(
            idle(
                tie,
                format!("`{}` has no {key}", source.name),
                format!("add {example} to the clock"),
            )
            .related(source.place, "the clock"),
        );
    }
}

/// Demand response takes points off a dimmer; a relay only goes off when it may.
fn shed(checked: &Checked<'_>, tie: &Tie, findings: &mut Vec<Diagnostic>) {
    let output = checked.output(tie.output);
    let thing = &checked.room.model.outputs[tie.output];
    if tie.role_word == "shed" && !output.drive.dims() && output.shed.is_some() {
        let what = match output.drive {
            Drive::Receptacle => "a receptacle",
            Drive::Contact => "a dry contact",
            _ => "a relay",
        };
        findings.push(idle(
            tie,
            format!("`{}` is {what}, which has no points to shed", thing.name),
            "give the output shed = \"off\", or remove the link",
        ));
    }
}

fn without(thing: &Thing, key: &str, why: &str, hint: &str) -> Diagnostic {
    let place = thing
        .section
        .given(key)
        .map_or(thing.place, |entry| entry.key);
    Diagnostic::warning(
        "without effect",
        place,
        format!("{key} of `{}`: {why}", thing.name),
        hint,
    )
}

fn idle(tie: &Tie, message: String, hint: impl Into<String>) -> Diagnostic {
    Diagnostic::warning("without effect", tie.place, message, hint)
}
