//! Smaller plans that behave alike, for questions that do not see the difference.

use std::collections::BTreeSet;

use clause::{Mentions, OutputState, Quantity};
use device::Span;
use device::controller::{LoopKind, Role};
use room::{OutputId, Plan, SourceId, SourceSettings};

use super::cone::sees_light;

/// Takes away the fades that nobody sees.
///
/// Exact: a fade (OUT-22) moves the light between two targets and keeps the relay closed until
/// it is down; asked, target, state and every event of an output are the same without. Light
/// and relay are seen by clauses that say `shows`, `is closed` or `is open` (of any output of
/// the relay), by sensors of light, and by closed daylight loops; there the fades stay.
pub fn without_fades(plan: &mut Plan) {
    let mut mentions = Mentions::default();
    for clause in &plan.clauses {
        mentions.merge(clause.formula.mentions());
    }
    let contact = |state| matches!(state, OutputState::Closed | OutputState::Open);
    let shown = mentions
        .levels
        .iter()
        .filter(|(_, what, _)| *what == Quantity::Light);
    let mut light: BTreeSet<OutputId> = shown.map(|&(output, ..)| OutputId(output)).collect();
    let closed = mentions.states.iter().filter(|(_, state)| contact(*state));
    let relays: BTreeSet<OutputId> = closed.map(|&(output, _)| OutputId(output)).collect();
    for source in plan
        .sources
        .iter()
        .filter(|source| sees_light(&source.settings))
    {
        light.extend(source.light.electric.iter().map(|&(output, _)| output));
    }
    for controller in &mut plan.controllers {
        let settings = &mut controller.settings;
        let loops: BTreeSet<u8> = (settings.links.iter())
            .filter(|link| matches!(&link.role, Role::Limit(it) if it.kind == LoopKind::Closed))
            .map(|link| link.heard)
            .collect();
        let limited = (settings.links.iter())
            .filter(|link| loops.contains(&link.heard) && matches!(link.role, Role::Limit(_)));
        light.extend(limited.map(|link| controller.outputs[usize::from(link.output)]));
        let watched: BTreeSet<u8> = (settings.outputs.iter().zip(&controller.outputs))
            .filter(|(_, id)| relays.contains(id))
            .filter_map(|(output, _)| output.relay)
            .collect();
        for (output, id) in settings.outputs.iter_mut().zip(&controller.outputs) {
            let relay = output.relay.is_some_and(|relay| watched.contains(&relay));
            if !light.contains(id) && !relays.contains(id) && !relay {
                output.fade_on = Span::ZERO;
                output.fade_off = Span::ZERO;
            }
        }
    }
}

/// Takes away the reports that only repeat what is believed, and with them the silence after
/// which a source counts as lost. For proofs in which no frame is lost and no power goes.
///
/// Exact there: every change is reported when it comes, so a report by the clock says what the
/// controller believes. Heard again, *occupied* and *vacant* find the links as they are, a card
/// and a clock what they said, and emergency and shed what is in force; so they change nothing
/// and are the root of nothing. Reports come more often than the silence is long, so nothing is
/// lost with them, and nothing without either. Two sources that shed one output are the
/// exception, because the last that was heard counts: theirs stay, and so do the reports of
/// daylight sensors, which carry what was measured.
pub fn without_reports(plan: &mut Plan) {
    let mut kept = BTreeSet::new();
    for controller in &plan.controllers {
        let sheds = |output: u8| {
            let links = controller.settings.links.iter();
            links.filter(move |link| link.output == output && link.role == Role::Shed)
        };
        for output in 0..controller.outputs.len() as u8 {
            if sheds(output).count() > 1 {
                kept.extend(sheds(output).map(|link| controller.heard[usize::from(link.heard)]));
            }
        }
    }
    for (id, source) in (0..).map(SourceId).zip(&mut plan.sources) {
        match &mut source.settings {
            _ if kept.contains(&id) => {}
            SourceSettings::Occupancy(it) => {
                it.report = None;
                it.repeat = None;
            }
            SourceSettings::Card(it) => it.report = None,
            SourceSettings::Clock(it) => it.report = None,
            SourceSettings::Signal(it) => it.report = None,
            SourceSettings::Switch(_) | SourceSettings::Daylight(_) => {}
        }
    }
    for controller in &mut plan.controllers {
        for heard in &mut controller.settings.heard {
            heard.silence = None;
        }
    }
}
