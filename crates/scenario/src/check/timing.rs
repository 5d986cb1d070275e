//! Frames that may overtake each other, and loops that were never set up.

use device::Span;
use device::controller::{LoopKind, Role};
use room::SourceId;

use super::Checked;
use crate::Diagnostic;

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
    loops(checked, findings);
    contacts(checked, findings);
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
