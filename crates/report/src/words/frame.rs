//! What is pressed, pulled, seen and sent, in words.

use device::{Payload, Signal, clock, switch};
use room::{SourceId, SourceSettings, Stimulus};

use super::Names;

/// What happens at a source: reads after its name.
#[must_use]
pub fn stimulus(names: &Names<'_>, id: SourceId, stimulus: Stimulus) -> String {
    match stimulus {
        Stimulus::Motion => "motion".to_owned(),
        Stimulus::Sound => "sound".to_owned(),
        Stimulus::Press(number) => format!("{} is pressed", button(names, id, number)),
        Stimulus::Release(number) => format!("{} is released", button(names, id, number)),
        Stimulus::CardIn { valid: true } => "card in".to_owned(),
        Stimulus::CardIn { valid: false } => "wrong card in".to_owned(),
        Stimulus::CardOut => "card out".to_owned(),
        Stimulus::Due(entry) => due(entry).to_owned(),
        Stimulus::ClockSet { in_hours: true } => "clock is set, in hours".to_owned(),
        Stimulus::ClockSet { in_hours: false } => "clock is set, after hours".to_owned(),
        Stimulus::Signal(on) => signal(names, id, on).to_owned(),
        Stimulus::Shed(Some(points)) => format!("shed of {points} begins"),
        Stimulus::Shed(None) => "shed begins".to_owned(),
        Stimulus::ShedEnd => "shed ends".to_owned(),
        Stimulus::WalkTest(true) => "walk test on".to_owned(),
        Stimulus::WalkTest(false) => "walk test off".to_owned(),
        Stimulus::TeachIn => "teach-in".to_owned(),
    }
}

/// A frame with its source: `vacant frame from wall-sensor`, `press of up from wall-button`.
#[must_use]
pub fn frame_from(names: &Names<'_>, id: SourceId, said: Payload) -> String {
    let words = payload(names, id, said);
    let source = names.source(id);
    match said {
        Payload::Down(_) | Payload::Up(_) => format!("{words} from {source}"),
        _ => format!("{words} frame from {source}"),
    }
}

/// What a frame of `id` says.
#[must_use]
pub fn payload(names: &Names<'_>, id: SourceId, payload: Payload) -> String {
    match payload {
        Payload::Occupied { bright: false } => "occupied".to_owned(),
        Payload::Occupied { bright: true } => "occupied, bright".to_owned(),
        Payload::Vacant => "vacant".to_owned(),
        Payload::Unknown => "unknown".to_owned(),
        Payload::Down(number) => format!("press of {}", button(names, id, number)),
        Payload::Up(number) => format!("release of {}", button(names, id, number)),
        Payload::CardIn => "card in".to_owned(),
        Payload::CardOut => "card out".to_owned(),
        Payload::WrongCard => "wrong card".to_owned(),
        Payload::Illuminance(seen) => seen.to_string(),
        Payload::InHours => "in hours".to_owned(),
        Payload::AfterHours => "after hours".to_owned(),
        Payload::Sweep => "sweep".to_owned(),
        Payload::TimeLost => "time lost".to_owned(),
        Payload::Signal(Signal::NormalPower, true) => "normal power present".to_owned(),
        Payload::Signal(Signal::NormalPower, false) => "normal power lost".to_owned(),
        Payload::Signal(Signal::FireAlarm, true) => "fire alarm".to_owned(),
        Payload::Signal(Signal::FireAlarm, false) => "no fire alarm".to_owned(),
        Payload::Shed(Some(points)) => format!("shed {points}"),
        Payload::Shed(None) => "shed".to_owned(),
        Payload::ShedEnd => "shed ended".to_owned(),
        Payload::TeachIn => "teach-in".to_owned(),
    }
}

/// What a button does, for its sign in a picture.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Gesture {
    /// Up: more light.
    Up,
    /// Down: less light.
    Down,
    /// A single button: the other way.
    Toggle,
    /// A scene.
    Scene,
}

/// What the button of this number is made for.
#[must_use]
pub fn button_gesture(names: &Names<'_>, id: SourceId, number: u8) -> Gesture {
    let Some(SourceSettings::Switch(settings)) = names.settings(id) else {
        return Gesture::Toggle;
    };
    match settings.buttons.get(usize::from(number)) {
        Some(switch::Button::Up) => Gesture::Up,
        Some(switch::Button::Down) => Gesture::Down,
        Some(switch::Button::Scene) => Gesture::Scene,
        Some(switch::Button::Single) | None => Gesture::Toggle,
    }
}

/// A button by its name, or by its number where the unit does not name it.
fn button(names: &Names<'_>, id: SourceId, number: u8) -> String {
    match names.button(id, number) {
        "" => format!("button {}", u16::from(number) + 1),
        name => name.to_owned(),
    }
}

const fn due(entry: clock::Entry) -> &'static str {
    match entry {
        clock::Entry::Opening => "opening hours begin",
        clock::Entry::Closing => "opening hours end",
        clock::Entry::Sweep => "off sweep",
    }
}

fn signal(names: &Names<'_>, id: SourceId, on: bool) -> &'static str {
    let kind = match names.settings(id) {
        Some(SourceSettings::Signal(settings)) => settings.kind,
        _ => device::signal::Kind::NormalPower,
    };
    match (kind, on) {
        (device::signal::Kind::NormalPower, true) => "normal power returns",
        (device::signal::Kind::NormalPower, false) => "normal power is lost",
        (device::signal::Kind::FireAlarm, true) => "fire alarm sounds",
        (device::signal::Kind::FireAlarm, false) => "fire alarm is silent",
        (device::signal::Kind::DemandResponse, true) => "shed begins",
        (device::signal::Kind::DemandResponse, false) => "shed ends",
    }
}
