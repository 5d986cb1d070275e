//! Settings that rows change.
//!
//! At the start they are how the room was set up; later they are changed on site (SET-1).

use room::{Change, ControllerId, Input, Plan, SourceId, SourceSettings};
use sim::Instant;

use super::civil::Civil;
use super::deeds::Changed;
use super::lower::Scenario;
use super::reader::shifted;
use super::{Act, ActWhat, By};
use crate::Diagnostic;
use crate::keys::Located;
use crate::room_file::RoomFile;
use crate::words::WordError;

/// The plan at the start: each clock knows whether the room is open.
pub(super) fn start_plan(room: &RoomFile, civil: &Civil) -> Plan {
    let mut plan = room.plan.clone();
    for (source, calendar) in &room.calendars {
        let source = &mut plan.sources[usize::from(source.0)];
        if let SourceSettings::Clock(settings) = &mut source.settings {
            settings.starts_in_hours = calendar.in_hours(civil.start());
        }
    }
    plan
}

/// Changes settings as rows say: gives the room as it is at the start, and adds what is changed
/// later to `acts`.
pub(super) fn change(
    scenario: &Scenario<'_>,
    mut changed: Vec<Changed>,
    texts: &[Located<String>],
    acts: &mut Vec<Act>,
    diagnostics: &mut Vec<Diagnostic>,
) -> RoomFile {
    changed.sort_by_key(|changed| (changed.at, changed.after));
    let mut start = scenario.room.clone();
    let mut last = start.clone();
    for changed in changed {
        let text = &texts[changed.row];
        let next = match last.changed(&changed.point, &changed.key, &changed.value) {
            Ok(next) => next,
            Err(error) => {
                let offset = match error.key {
                    true => 0,
                    false => text.value.find(&changed.value).unwrap_or(0),
                };
                let error = shifted(error.error, offset);
                diagnostics.push(scenario.word("setting", text, error));
                continue;
            }
        };
        if changed.at == Instant::START && !changed.after {
            start.clone_from(&next);
        } else if next.calendars != last.calendars || next.quality != last.quality {
            let error = WordError::whole(
                &text.value,
                "this can only be set at the start of a scenario",
                "write the row with the time `start`",
            );
            diagnostics.push(scenario.word("setting", text, error));
        } else {
            let inputs = inputs(&last.plan, &next.plan);
            acts.extend(inputs.into_iter().map(|input| Act {
                at: changed.at,
                after: changed.after,
                what: ActWhat::Input(input),
                by: By::Row(changed.row),
            }));
        }
        last = next;
    }
    start
}

/// The inputs that make the settings of `new` out of those of `old`.
fn inputs(old: &Plan, new: &Plan) -> Vec<Input> {
    let sources = (0..).zip(old.sources.iter().zip(&new.sources));
    let sources = sources
        .filter(|(_, (old, new))| old.settings != new.settings)
        .map(|(id, (_, new))| Change::Source(SourceId(id), new.settings.clone()));
    let controllers = (0..).zip(old.controllers.iter().zip(&new.controllers));
    let controllers = controllers
        .filter(|(_, (old, new))| old.settings != new.settings)
        .map(|(id, (_, new))| Change::Controller(ControllerId(id), new.settings.clone()));
    sources
        .chain(controllers)
        .map(|change| Input::Change(Box::new(change)))
        .collect()
}
