//! Settings that rows change.

use room::{Change, ControllerId, Input, Plan, SourceId, SourceSettings};
use sim::Instant;

use super::civil::Civil;
use super::deeds::Changed;
use super::lower::Scenario;
use super::reader::shifted;
use super::{Act, ActWhat, By};
use crate::Diagnostic;
use crate::keys::Located;

/// The plan at the start: each clock knows whether the room is open.
pub(super) fn start_plan(mut plan: Plan, scenario: &Scenario<'_>, civil: &Civil) -> Plan {
    for (source, calendar) in &scenario.stage.calendars {
        let source = &mut plan.sources[usize::from(source.0)];
        if let SourceSettings::Clock(settings) = &mut source.settings {
            settings.starts_in_hours = calendar.in_hours(civil.start());
        }
    }
    plan
}

/// Settings that rows change: at the start they are how the room was set up, later they are
/// changed on site.
pub(super) fn settings(
    scenario: &Scenario<'_>,
    mut changed: Vec<Changed>,
    texts: &[Located<String>],
    plan: &mut Plan,
    acts: &mut Vec<Act>,
    diagnostics: &mut Vec<Diagnostic>,
) {
    changed.sort_by_key(|changed| (changed.at, changed.after));
    let mut so_far = Vec::new();
    let mut last = plan.clone();
    for changed in changed {
        so_far.push(changed.change.clone());
        let mut next = match (scenario.stage.change)(&so_far) {
            Ok(next) => next,
            Err(error) => {
                let text = &texts[changed.row];
                let offset = if error.key {
                    0
                } else {
                    text.value.find(&changed.change.value).unwrap_or(0)
                };
                let error = shifted(error.error, offset);
                diagnostics.push(scenario.word("setting", text, error));
                return;
            }
        };
        for (old, new) in last.sources.iter().zip(&mut next.sources) {
            if let (SourceSettings::Clock(old), SourceSettings::Clock(new)) =
                (&old.settings, &mut new.settings)
            {
                new.starts_in_hours = old.starts_in_hours;
            }
        }
        if changed.at == Instant::START && !changed.after {
            plan.clone_from(&next);
        } else {
            let inputs = changes(&last, &next);
            acts.extend(inputs.into_iter().map(|input| Act {
                at: changed.at,
                after: changed.after,
                what: ActWhat::Input(input),
                by: By::Row(changed.row),
            }));
        }
        last = next;
    }
}

/// The inputs that make the settings of `new` out of those of `old`.
fn changes(old: &Plan, new: &Plan) -> Vec<Input> {
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
