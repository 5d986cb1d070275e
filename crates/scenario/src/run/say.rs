//! What was found instead of what a check asks for, in words.

use device::controller::Drive;
use sim::{OutputState, OutputView};

use crate::script::phrase::{Check, Event, Scale, What};

/// How an output stood, in the terms of the check and of what its drive feeds: a contact is closed
/// or open, a receptacle is on or off, and neither has a level.
pub(super) fn say_output(check: &Check, view: &OutputView, drive: Drive) -> String {
    let state = match check {
        Check::Is(state) | Check::Stays(state, _) => Some(state.what),
        Check::Happens(Event::Becomes(state) | Event::Is(state), ..)
        | Check::Never(Event::Becomes(state) | Event::Is(state), _) => Some(state.what),
        _ => None,
    };
    match state {
        Some(What::Level(Scale::Asked, _)) => format!("asked {}", view.asked),
        Some(What::Level(Scale::Light, _)) => format!("showed {}", view.light.now),
        Some(What::Level(Scale::Target, _)) => format!("was {}", view.target),
        Some(What::Occupied | What::Vacant) if view.occupied => "was occupied".to_owned(),
        Some(What::Occupied | What::Vacant) => "was vacant".to_owned(),
        Some(What::Closed | What::Open | What::Relay(_)) => contact(view),
        Some(What::Latched) if !view.latch => "was not latched".to_owned(),
        Some(What::ByHand) if !view.by_hand => "was not by hand".to_owned(),
        Some(What::Emergency) if !view.emergency => "was not in emergency".to_owned(),
        Some(What::Reports(_)) => "did not report that".to_owned(),
        Some(What::NoFault) => "reported a fault".to_owned(),
        // `is on` of a contact asks what it was told, not how it stands.
        Some(What::On | What::Off) => state_of(view, drive),
        _ if drive == Drive::Contact => contact(view),
        _ => state_of(view, drive),
    }
}

fn state_of(view: &OutputView, drive: Drive) -> String {
    match view.state {
        OutputState::Off => "was off".to_owned(),
        OutputState::On if !drive.lights() => "was on".to_owned(),
        OutputState::On => format!("was on at {}", view.target),
        OutputState::Setback => format!("was in setback at {}", view.target),
        OutputState::Warning => "was in warning".to_owned(),
    }
}

fn contact(view: &OutputView) -> String {
    format!("was {}", if view.closed { "closed" } else { "open" })
}
