//! Notes of the devices in words: each reads after the name of whoever noted it.

use device::Note;
use room::Who;

use super::{Kind, Names, fault};

/// What a note says, without its subject: `turned on at 50 %`.
#[must_use]
pub fn note(names: &Names<'_>, who: Who, note: Note) -> String {
    let kind = match who {
        Who::Output(id) => Some(names.kind(id)),
        Who::Source(_) | Who::Controller(_) | Who::Clause(_) | Who::Room => None,
    };
    if let Some(words) = kind.and_then(|kind| switching(kind, note)) {
        return words;
    }
    match note {
        Note::Occupied => "became occupied".to_owned(),
        Note::Vacant => "became vacant".to_owned(),
        Note::WarmingUp(span) => format!("warms up for {span}"),
        Note::Unknown => "does not know whether anybody is there".to_owned(),
        Note::WindowOpened => "opened its sound window".to_owned(),
        Note::WindowClosed => "closed its sound window".to_owned(),
        Note::WalkTest(true) => "entered its walk test".to_owned(),
        Note::WalkTest(false) => "left its walk test".to_owned(),
        Note::Tapped(number) => format!("took {} as a tap", button(names, who, number)),
        Note::Held(number) => format!("took {} as a hold", button(names, who, number)),
        Note::RampEnded(level) => format!("stopped its ramp at {level}"),
        Note::TurnedOn(level) => format!("turned on at {level}"),
        Note::TurnedOff => "turned off".to_owned(),
        Note::SetBack(level) => format!("fell back to its setback of {level}"),
        Note::Warning(span) => format!("warns for {span} before going off"),
        Note::Restored(level) => format!("came back to {level}"),
        Note::Asked(level) => format!("is asked for {level}"),
        Note::RampStarted(level) => format!("starts to ramp towards {level}"),
        Note::Fade(level) => format!("fades to {level}"),
        Note::Target(level) => format!("has a new target of {level}"),
        Note::OutputOccupied => "became occupied".to_owned(),
        Note::OutputVacant => "became vacant".to_owned(),
        Note::Latched => "is latched off by hand".to_owned(),
        Note::Unlatched => "forgot its latch and its level by hand".to_owned(),
        Note::Limit(level) => format!("has a daylight limit of {level}"),
        Note::Measured(seen) => format!("measured {seen}"),
        Note::DarkByDaylight => "went dark because daylight is enough".to_owned(),
        Note::BackFromDaylight => "came back because daylight is no longer enough".to_owned(),
        Note::Relay(true) => "closed its relay".to_owned(),
        Note::Relay(false) => "opened its relay".to_owned(),
        Note::Emergency(true) => "went to emergency light".to_owned(),
        Note::Emergency(false) => "ended emergency light".to_owned(),
        Note::Shed(true) => "began to shed".to_owned(),
        Note::Shed(false) => "ended its shed".to_owned(),
        Note::Waits(true) => "waits for its minimum time before it turns on".to_owned(),
        Note::Waits(false) => "waits for its minimum time before it turns off".to_owned(),
        Note::PassedOver => "was passed over by the sweep: it is occupied".to_owned(),
        Note::Override(span) => format!("is overridden for {span}"),
        Note::Learning(true) => "opened a learning window".to_owned(),
        Note::Learning(false) => "closed its learning window".to_owned(),
        Note::Taught(true) => "stored a taught link".to_owned(),
        Note::Taught(false) => "removed a taught link".to_owned(),
        Note::Ignored(why) => format!("nothing happens: {}", names.ignored(who, why)),
        Note::Fault(wrong) => format!("fault: {}", fault(wrong)),
        Note::FaultEnded(wrong) => format!("fault ended: {}", fault(wrong)),
        Note::Power(true) => "has power again".to_owned(),
        Note::Power(false) => "has no power".to_owned(),
        Note::SettingChanged => "takes a changed setting".to_owned(),
    }
}

/// What a receptacle or a contact does that a light does with levels; `None`: all the same.
fn switching(kind: Kind, note: Note) -> Option<String> {
    let contact = match kind {
        Kind::Light => return None,
        Kind::Receptacle => false,
        Kind::Contact => true,
    };
    let words = match note {
        Note::TurnedOn(_) if contact => "closed",
        Note::TurnedOn(_) => "turned on",
        Note::TurnedOff if contact => "opened",
        Note::Restored(_) if contact => "closed again",
        Note::Restored(_) => "came back on",
        Note::Relay(true) if contact => "moved its contact: closed",
        Note::Relay(false) if contact => "moved its contact: open",
        Note::Waits(true) if contact => "waits for its minimum time before it closes",
        Note::Waits(false) if contact => "waits for its minimum time before it opens",
        Note::Emergency(true) => "went to its emergency position",
        Note::Emergency(false) => "ended its emergency position",
        Note::Asked(level) => return Some(format!("is asked to be {}", kind.level(level))),
        Note::Fade(level) | Note::Target(level) => {
            return Some(format!("is to be {}", kind.level(level)));
        }
        _ => return None,
    };
    Some(words.to_owned())
}

/// A button as a note of its unit, or of a controller that hears it, names it.
///
/// A controller numbers the buttons of all its units; a source numbers its own.
fn button(names: &Names<'_>, who: Who, number: u8) -> String {
    let (source, number) = match who {
        Who::Source(id) => (Some(id), number),
        Who::Output(id) => {
            let output = names.plan.outputs.get(usize::from(id.0));
            output.map_or((None, number), |output| {
                heard(names, output.controller, number)
            })
        }
        Who::Controller(id) => heard(names, id, number),
        Who::Clause(_) | Who::Room => (None, number),
    };
    let name = source.map_or("", |id| names.button(id, number));
    match (source, name) {
        (Some(id), "") => format!("button {} of {}", number + 1, names.source(id)),
        (Some(id), name) => format!("{}/{name}", names.source(id)),
        (None, _) => format!("button {}", number + 1),
    }
}

fn heard(names: &Names<'_>, id: room::ControllerId, index: u8) -> (Option<room::SourceId>, u8) {
    let controller = names.plan.controllers.get(usize::from(id.0));
    let button = controller.and_then(|controller| {
        let button = controller.settings.buttons.get(usize::from(index))?;
        let source = controller.heard.get(usize::from(button.heard))?;
        Some((Some(*source), button.number))
    });
    button.unwrap_or((None, index))
}
