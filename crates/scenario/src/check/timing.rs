//! Frames that may overtake each other or be missed, and loops that were never set up.

use std::collections::{BTreeMap, BTreeSet};

use device::controller::{LoopKind, Role};
use device::{Span, switch};
use room::{ControllerId, SourceId};
use sim::Share;

use super::Checked;
use crate::diagnostic::all_of;
use crate::{Diagnostic, Place};

pub(super) fn check(checked: &Checked<'_>, findings: &mut Vec<Diagnostic>) {
    for (number, source) in checked.room.model.sources.iter().enumerate() {
        let (key, gap) = match source.section.word("kind") {
            Some("occupancy") => ("dead-time", source.section.span("dead-time")),
            Some("switch") => ("edge-gap", source.section.span("edge-gap")),
            _ => continue,
        };
        let gap = gap.unwrap_or(Span::ZERO);
        let id = SourceId(u16::try_from(number).unwrap_or(u16::MAX));
        let listeners = &checked.room.plan.sources[number].listeners;
        let travel = listeners.iter().map(|(listener, _)| {
            let quality = checked.room.quality.get(&(id, *listener));
            let quality = quality.copied().unwrap_or_default();
            quality.delay.plus(quality.jitter)
        });
        let Some(travel) = travel.max() else {
            continue;
        };
        if travel >= gap {
            findings.push(Diagnostic::warning(
                "frames slower than the source",
                source.section.place_of(key),
                format!(
                    "a frame of `{}` takes up to {travel}, and the next may follow after {gap}",
                    source.name
                ),
                format!("keep delay and jitter together below the {key} (ORD-4)"),
            ));
        }
    }
    silent(checked, findings);
    split_buttons(checked, findings);
    loops(checked, findings);
    contacts(checked, findings);
}

/// Sources that report nothing of their own accord: a controller cannot tell a dead one from a
/// quiet room, and one that was without power never hears how they stand (OUT-11, OUT-12).
fn silent(checked: &Checked<'_>, findings: &mut Vec<Diagnostic>) {
    for (number, source) in checked.room.model.sources.iter().enumerate() {
        let keys = &source.section;
        let never = keys.has("report-every") && keys.span("report-every").is_none();
        let plan = &checked.room.plan.sources[number];
        if !never || plan.listeners.is_empty() {
            continue;
        }
        let id = SourceId(u16::try_from(number).unwrap_or(u16::MAX));
        let lossy = plan.listeners.iter().any(|(listener, _)| {
            let quality = checked.room.quality.get(&(id, *listener));
            quality.is_some_and(|quality| quality.loss != Share::NONE)
        });
        let lost = match lossy {
            true => "one lost frame, or a source that has died, goes unnoticed",
            false => "a source that has died goes unnoticed",
        };
        findings.push(Diagnostic::warning(
            "source without reports",
            keys.place_of("report-every"),
            format!(
                "`{}` never reports its state: {lost}, and after a cut of the controller it stays \
                 unknown until something happens at it",
                source.name
            ),
            "write a span: report-every = \"4 min\"",
        ));
    }
}

/// Single buttons whose outputs hang on several controllers (SW-1).
fn split_buttons(checked: &Checked<'_>, findings: &mut Vec<Diagnostic>) {
    let mut single: BTreeMap<(usize, u8), (Place, BTreeSet<ControllerId>)> = BTreeMap::new();
    for tie in &checked.room.ties {
        let Some(button) = tie.button else {
            continue;
        };
        if checked.button(tie) == Some(switch::Button::Single) {
            let controller = checked.room.plan.outputs[tie.output].controller;
            let known = single.entry((tie.source, button));
            let known = known.or_insert_with(|| (tie.place, BTreeSet::new()));
            known.1.insert(controller);
        }
    }
    for ((unit, button), (place, controllers)) in single {
        if controllers.len() < 2 {
            continue;
        }
        let source = &checked.room.plan.sources[unit];
        let named = controllers.iter().map(|id| {
            let controller = &checked.room.plan.controllers[usize::from(id.0)];
            format!("`{}`", controller.name)
        });
        let named: Vec<String> = named.collect();
        let names = &checked.room.buttons[unit].names;
        let button = names.get(usize::from(button)).map_or("", String::as_str);
        findings.push(Diagnostic::warning(
            "button of several controllers",
            place,
            format!(
                "`{button}` of `{}` works outputs of {}: pressed while only some are lit, one \
                 controller turns off and the other on (SW-1)",
                source.name,
                all_of(named.iter().map(String::as_str))
            ),
            "let one controller drive them, or use an up/down pair: up is on and down is off \
             everywhere",
        ));
    }
}

fn loops(checked: &Checked<'_>, findings: &mut Vec<Diagnostic>) {
    for tie in &checked.room.ties {
        let Role::Limit(limit) = &tie.role else {
            continue;
        };
        let source = checked.source(tie);
        if limit.calibration.is_none() {
            findings.push(Diagnostic::warning(
                "loop never calibrated",
                tie.place,
                format!(
                    "`{}` has no readings, and so it does not limit (DAY-5)",
                    source.name
                ),
                "add night = { sensor = \"100 lx\", task = \"400 lx\" } and day = { … }",
            ));
        }
        let plan = &checked.room.plan.sources[tie.source];
        let output = u16::try_from(tie.output).unwrap_or(u16::MAX);
        let mut electric = plan.light.electric.iter();
        let sees = electric.any(|(id, light)| id.0 == output && light.hundredths() > 0);
        if limit.kind == LoopKind::Open && sees {
            findings.push(Diagnostic::warning(
                "open loop that sees its own lamps",
                tie.place,
                format!("`{}` sees the light that it limits", source.name),
                "write loop = \"closed\", or turn the sensor to the window",
            ));
        }
        if plan.light == room::LightModel::default() {
            findings.push(Diagnostic::warning(
                "daylight sensor that sees nothing",
                source.place,
                format!("no light falls on `{}`", source.name),
                "add daylight = \"2 %\" and electric = { desk-lights = \"120 lx\" }",
            ));
        }
    }
}

fn contacts(checked: &Checked<'_>, findings: &mut Vec<Diagnostic>) {
    for (_, thing, _) in checked.outputs() {
        let keys = &thing.section;
        if keys.word("drive") == Some("dry contact") && !keys.has("closed-means") {
            findings.push(Diagnostic::warning(
                "contact without a meaning",
                thing.place,
                format!("what does it mean that `{}` is closed?", thing.name),
                "add closed-means = \"the room is ventilated\"",
            ));
        }
    }
}
