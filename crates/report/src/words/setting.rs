//! Which settings made a timer so long or a level so high: the name of what is set, and the key of
//! its file.
//!
//! Invariant: what cannot be told for certain is not told.

use device::controller::{OutputTimer, Role, Timer, Warning};
use device::{Level, Note, Span, card, clock, occupancy};
use room::{ControllerId, OutputId, PlanController, Slot, SlotOwner, SourceId, SourceSettings};

use super::Names;

/// A setting: of what (`desk-lights`, `wall-sensor to air`), and its key.
pub type Setting = (String, &'static str);

/// What sets a timer that runs for `span`.
#[must_use]
pub fn of_timer(names: &Names<'_>, slot: Slot, span: Span) -> Option<Setting> {
    match names.owner(slot)? {
        SlotOwner::Source(id, number) => {
            Some((names.source(id).to_owned(), of_source(names, id, number)?))
        }
        SlotOwner::Controller(id, timer) => of_controller(names, id, timer, span),
        SlotOwner::Clause(..) => None,
    }
}

fn of_source(names: &Names<'_>, id: SourceId, number: u8) -> Option<&'static str> {
    match names.settings(id)? {
        SourceSettings::Occupancy(_) => match occupancy::Timer::from_number(number)? {
            occupancy::Timer::Delay => Some("time-delay"),
            occupancy::Timer::Grace => Some("sound-grace"),
            occupancy::Timer::WarmUp => Some("warm-up"),
            occupancy::Timer::Window => Some("sound-window"),
            _ => None,
        },
        SourceSettings::Card(_) => match card::Timer::from_number(number)? {
            card::Timer::Linger => Some("linger"),
            card::Timer::Report => None,
        },
        SourceSettings::Clock(_) => match clock::Timer::from_number(number)? {
            clock::Timer::Reserve => Some("reserve"),
            clock::Timer::Report => None,
        },
        _ => None,
    }
}

fn of_controller(names: &Names<'_>, id: ControllerId, timer: Timer, span: Span) -> Option<Setting> {
    let controller = names.plan.controllers.get(usize::from(id.0))?;
    match timer {
        Timer::RunOn(index) => {
            let link = controller.settings.links.get(usize::from(index))?;
            Some((
                link_name(names, controller, link.heard, link.output)?,
                "run-on",
            ))
        }
        Timer::Threshold(_) => Some((controller.name.clone(), "hold-threshold")),
        Timer::Output(index, timer) => {
            let output = controller.outputs.get(usize::from(index))?;
            let own = |key| Some((names.output(*output).to_owned(), key));
            let set = controller.settings.outputs.get(usize::from(index))?;
            match timer {
                OutputTimer::Grace => own("grace"),
                OutputTimer::OffAfter => own("off-after"),
                OutputTimer::PressHold => own("press-hold"),
                OutputTimer::Shed => own("shed-fade"),
                OutputTimer::Fade => own(one_of(
                    span,
                    [("fade-on", set.fade_on), ("fade-off", set.fade_off)],
                )?),
                OutputTimer::Minimum => {
                    let both = [
                        ("minimum-on", set.minimum_on),
                        ("minimum-off", set.minimum_off),
                    ];
                    own(one_of(span, both)?)
                }
                OutputTimer::Warning => of_warning(names, controller, index, span),
                _ => None,
            }
        }
        Timer::Silence(_) => None,
    }
}

/// The warning of the output, or that of a clock's sweep, whichever has this span.
fn of_warning(
    names: &Names<'_>,
    controller: &PlanController,
    index: u8,
    span: Span,
) -> Option<Setting> {
    let output = controller.outputs.get(usize::from(index))?;
    let own = controller.settings.outputs.get(usize::from(index))?.warning;
    let own = own.map(|warning| match warning {
        Warning::Dim { span, .. } | Warning::Blink { span } => span,
    });
    let sweeps = (controller.settings.links.iter()).filter_map(|link| match link.role {
        Role::Sweep { warning, .. } if link.output == index && warning == span => {
            link_name(names, controller, link.heard, index)
        }
        _ => None,
    });
    let own = (own == Some(span)).then(|| names.output(*output).to_owned());
    let mut all = own.into_iter().chain(sweeps);
    match (all.next(), all.next()) {
        (Some(only), None) => Some((only, "warning")),
        _ => None,
    }
}

/// The one key of two whose span it is.
fn one_of(span: Span, keys: [(&'static str, Span); 2]) -> Option<&'static str> {
    let mut fitting = keys.into_iter().filter(|(_, set)| *set == span);
    match (fitting.next(), fitting.next()) {
        (Some((key, _)), None) => Some(key),
        _ => None,
    }
}

/// What sets the level that an output takes when it hears this source: the preset or the setback
/// of the link.
#[must_use]
pub fn of_level(
    names: &Names<'_>,
    source: SourceId,
    output: OutputId,
    note: Note,
) -> Option<Setting> {
    let at = names.plan.outputs.get(usize::from(output.0))?;
    let controller = names.plan.controllers.get(usize::from(at.controller.0))?;
    let mut links = controller.settings.links.iter();
    let (link, key) = links.find_map(|link| {
        let heard = controller.heard.get(usize::from(link.heard))?;
        if *heard != source || link.output != at.local {
            return None;
        }
        Some((link, level_of(&link.role, link.setback, note)?))
    })?;
    Some((link_name(names, controller, link.heard, link.output)?, key))
}

fn level_of(role: &Role, setback: Option<Level>, note: Note) -> Option<&'static str> {
    let preset = match role {
        Role::AutoOn(level) | Role::PartialOn(level) | Role::Card(level) | Role::Opening(level) => {
            Some(*level)
        }
        _ => None,
    };
    match note {
        Note::TurnedOn(level) | Note::Asked(level) if preset == Some(level) => Some("level"),
        Note::SetBack(level) if setback == Some(level) => Some("setback"),
        _ => None,
    }
}

fn link_name(
    names: &Names<'_>,
    controller: &PlanController,
    heard: u8,
    output: u8,
) -> Option<String> {
    let source = controller.heard.get(usize::from(heard))?;
    let output = controller.outputs.get(usize::from(output))?;
    Some(format!(
        "{} to {}",
        names.source(*source),
        names.output(*output)
    ))
}
