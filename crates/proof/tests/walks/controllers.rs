//! How the rows of buttons, outputs and what acts on them are seen.

use device::controller::{Drive, HeardKind, LoopKind, OutputTimer, Role, Timer};
use device::switch::Button;
use device::{Fault, Ignored, Note, Payload};
use room::{Device, SlotOwner};
use sim::What;

use crate::rows::{Line, Look};
use crate::sources::ignored;

/// The lines of buttons, cards and daylight.
pub(crate) const LINES: [Line; 30] = [
    (
        "SW-0",
        "an up at exactly the threshold is a tap",
        at_the_threshold,
    ),
    ("SW-1", "single: all off", |it| {
        tap(it, Button::Single) && it.notes(|note| note == Note::TurnedOff)
    }),
    ("SW-1", "single: on", |it| {
        tap(it, Button::Single) && it.notes(is_on)
    }),
    ("SW-2", "single: a hold ramps", |it| {
        held(it, |kind| kind == Button::Single) && it.notes(is_ramp)
    }),
    ("SW-3", "up: on", |it| {
        tap(it, Button::Up) && it.notes(is_on)
    }),
    ("SW-3", "up: full", |it| {
        tap(it, Button::Up) && it.notes(|note| matches!(note, Note::Asked(_)))
    }),
    ("SW-4", "down: off by hand", |it| {
        tap(it, Button::Down) && it.notes(|note| note == Note::TurnedOff)
    }),
    ("SW-5", "a held half ramps", |it| {
        held(it, |kind| matches!(kind, Button::Up | Button::Down)) && it.notes(is_ramp)
    }),
    ("SW-5", "held down while off: nothing", |it| {
        held(it, |kind| kind == Button::Down) && ignored(it, Ignored::AlreadyOff)
    }),
    ("SW-5", "released while it ramps", |it| {
        it.notes(is_ramp_end) && it.hears(|it| matches!(it, Payload::Up(_)))
    }),
    ("SW-6", "a ramp whose up was lost ends at its limit", |it| {
        it.notes(is_ramp_end) && it.after(OutputTimer::Ramp) && !it.known.lost_up.is_empty()
    }),
    ("SW-7", "a lone up does nothing", |it| {
        ignored(it, Ignored::LoneUp)
    }),
    ("SW-8", "a scene", |it| {
        it.is_button(|kind| kind == Button::Scene)
            && it.notes(|note| is_on(note) || matches!(note, Note::Asked(_) | Note::TurnedOff))
    }),
    ("SW-9", "several outputs come on together", |it| {
        tap(it, Button::Up) && it.notes(is_on) && it.outputs_that(is_on) > 1
    }),
    ("SW-10", "a hold with a limit in the way", |it| {
        it.notes(is_ramp)
            && it
                .output()
                .and_then(|id| it.known.views.get(&id))
                .is_some_and(|view| view.target < view.asked)
    }),
    ("SW-11", "another button owns the output", |it| {
        ignored(it, Ignored::OwnedByOther)
    }),
    ("SW-12", "a pending press occupies", |it| {
        it.notes(|note| note == Note::OutputOccupied)
            && it.hears(|it| matches!(it, Payload::Down(_)))
    }),
    ("SW-13", "power fails in a press", |it| {
        let Some(Device::Controller(id)) = it.power(false) else {
            return false;
        };
        let pends = |slot: &u16| match it.owner(room::Slot(*slot)) {
            SlotOwner::Controller(at, Timer::Threshold(_)) => at == id,
            _ => false,
        };
        it.known.due.keys().any(pends)
    }),
    ("CARD-1", "welcome", |it| {
        it.notes(is_on) && it.hears(|it| it == Payload::CardIn)
    }),
    ("CARD-4", "off when the linger has ended", |it| {
        it.notes(|note| note == Note::TurnedOff) && it.hears(|it| it == Payload::CardOut)
    }),
    ("CARD-5", "nothing without a card", |it| {
        ignored(it, Ignored::Captive)
    }),
    ("CARD-7", "the controller reports a wrong card", |it| {
        it.notes(|note| note == Note::Fault(Fault::WrongCard))
    }),
    ("DAY-2", "the sensor moves a limit", |it| {
        it.notes(is_limit) && it.hears(|it| matches!(it, Payload::Illuminance(_)))
    }),
    ("DAY-3", "closed loop", |it| {
        it.notes(is_limit) && it.has_loop(LoopKind::Closed)
    }),
    ("DAY-4", "open loop", |it| {
        it.notes(is_limit) && it.has_loop(LoopKind::Open)
    }),
    ("DAY-5", "not calibrated", |it| {
        it.notes(|note| {
            matches!(
                note,
                Note::Fault(Fault::NotCalibrated) | Note::Ignored(Ignored::NotCalibrated)
            )
        })
    }),
    ("DAY-6", "inside the dead band", |it| {
        ignored(it, Ignored::DeadBand)
    }),
    ("DAY-7", "dark by daylight", |it| {
        it.notes(|note| note == Note::DarkByDaylight)
    }),
    ("DAY-7", "back from it", |it| {
        it.notes(|note| note == Note::BackFromDaylight)
    }),
    ("DAY-9", "a lost photosensor", |it| {
        lost(it, |kind| kind == HeardKind::Daylight)
    }),
];

/// The lines of outputs.
pub(crate) const MORE: [Line; 47] = [
    ("DAY-8", "zones behind one switch ramp together", |it| {
        it.notes(is_ramp)
            && it.outputs_that(is_ramp) > 1
            && it
                .output()
                .is_some_and(|id| it.has_link(id, |role| matches!(role, Role::Limit(_))))
    }),
    ("OUT-1", "a target that is not what is asked", |it| {
        let What::Output(_, view) = it.what() else {
            return false;
        };
        view.target != view.asked && !view.target.is_off()
    }),
    ("OUT-2", "outputs of one relay go off together", |it| {
        it.notes(|note| note == Note::TurnedOff)
            && it.settings().is_some_and(|it| it.relay.is_some())
            && it.outputs_that(|note| note == Note::TurnedOff) > 1
    }),
    ("OUT-3", "an output becomes vacant", |it| {
        it.notes(|note| note == Note::OutputVacant)
    }),
    ("OUT-3", "never while a link is unknown", |it| {
        ignored(it, Ignored::StillUnknown)
    }),
    ("OUT-4", "auto-on or partial-on", |it| {
        it.notes(is_on) && it.hears(occupied)
    }),
    ("OUT-4", "manual-on: nothing", |it| {
        ignored(it, Ignored::ManualOn)
    }),
    ("OUT-4", "latched: nothing", |it| {
        ignored(it, Ignored::Latch)
    }),
    ("OUT-5", "to the preset of another link", |it| {
        it.notes(|note| matches!(note, Note::Asked(_))) && it.hears(occupied)
    }),
    ("OUT-5", "never lower", |it| ignored(it, Ignored::NotHigher)),
    ("OUT-6", "a level by hand stands", |it| {
        ignored(it, Ignored::ByHand)
    }),
    ("OUT-7", "setback", |it| {
        it.notes(|note| matches!(note, Note::SetBack(_)))
    }),
    ("OUT-8", "off when vacant", |it| {
        it.notes(|note| note == Note::TurnedOff) && it.hears(|it| it == Payload::Vacant)
    }),
    ("OUT-8", "off a while after the setback", |it| {
        it.after(OutputTimer::OffAfter)
            && it.notes(|note| matches!(note, Note::TurnedOff | Note::Warning(_)))
    }),
    ("OUT-9", "an arrival in a setback or warning", |it| {
        it.notes(is_restored) && it.hears(occupied)
    }),
    ("OUT-9", "a press in a setback or warning", |it| {
        it.notes(is_restored) && it.is_button(|_| true)
    }),
    ("OUT-10", "a warning", |it| it.notes(is_warning)),
    ("OUT-10", "its end is off", |it| {
        it.after(OutputTimer::Warning) && it.notes(|note| note == Note::TurnedOff)
    }),
    ("OUT-11", "a lost sensor", |it| {
        lost(it, |kind| kind == HeardKind::Occupancy)
    }),
    ("OUT-11", "heard again", |it| {
        it.notes(|note| note == Note::FaultEnded(Fault::Lost))
    }),
    ("OUT-12", "power returns", |it| {
        matches!(it.power(true), Some(Device::Controller(_)))
    }),
    ("OUT-13", "emergency light", |it| {
        it.notes(|note| note == Note::Emergency(true))
    }),
    ("OUT-13", "normal light is proven", |it| {
        it.notes(|note| note == Note::Emergency(false))
    }),
    ("OUT-14", "a shed", |it| {
        it.notes(|note| note == Note::Shed(true))
    }),
    ("OUT-14", "its end", |it| {
        it.notes(|note| note == Note::Shed(false))
    }),
    ("OUT-14", "not for relays", |it| {
        ignored(it, Ignored::ShedNotForRelays)
    }),
    ("OUT-16", "a change waits", |it| {
        it.notes(|note| matches!(note, Note::Waits(_)))
    }),
    ("OUT-18", "a latch is set", |it| {
        it.notes(|note| note == Note::Latched)
    }),
    ("OUT-19", "re-entry within the grace", |it| {
        it.hears(occupied)
            && it.notes(|note| is_on(note) || is_restored(note))
            && it.stops(OutputTimer::Grace)
    }),
    ("OUT-20", "a latch is forgotten", |it| {
        it.notes(|note| note == Note::Unlatched) && !it.is_button(|_| true)
    }),
    ("OUT-21", "the press hold starts", |it| {
        it.starts(OutputTimer::PressHold)
    }),
    ("OUT-21", "its end", |it| {
        it.after(OutputTimer::PressHold) && it.output().is_some()
    }),
    ("OUT-22", "a fade", |it| {
        it.notes(|note| matches!(note, Note::Fade(_)))
    }),
    ("OUT-23", "a stuck contact is reported", |it| {
        it.notes(|note| note == Note::Fault(Fault::StuckRelay))
    }),
    ("RCP-2", "on with the first person", |it| {
        it.notes(is_on) && it.hears(occupied) && it.drives(Drive::Receptacle)
    }),
    ("RCP-2", "off with the last", |it| {
        it.notes(|note| note == Note::TurnedOff)
            && it.hears(|it| it == Payload::Vacant)
            && it.drives(Drive::Receptacle)
    }),
    ("VENT-1", "closed while occupied", |it| {
        it.notes(is_on) && it.hears(occupied) && it.drives(Drive::Contact)
    }),
    ("VENT-2", "open after the run-on", |it| {
        it.notes(|note| note == Note::TurnedOff)
            && it.drives(Drive::Contact)
            && matches!(
                it.elapsed(),
                Some(SlotOwner::Controller(_, Timer::RunOn(_)))
            )
    }),
    ("VENT-3", "the minimum time", |it| {
        it.notes(|note| matches!(note, Note::Waits(_))) && it.drives(Drive::Contact)
    }),
    ("CLK-2", "a sweep warns", |it| {
        it.notes(is_warning) && it.hears(|it| it == Payload::Sweep)
    }),
    ("CLK-2", "an occupied output is passed over", |it| {
        it.notes(|note| note == Note::PassedOver)
    }),
    ("CLK-2", "a press overrides", |it| {
        it.notes(|note| matches!(note, Note::Override(_)))
    }),
    ("CLK-2", "the end of an override", |it| {
        it.after(OutputTimer::Override) && it.output().is_some()
    }),
    ("CLK-3", "on at opening", |it| {
        it.notes(is_on) && it.hears(|it| it == Payload::InHours)
    }),
    ("CLK-3", "no auto-on after hours", |it| {
        ignored(it, Ignored::AfterHours)
    }),
    ("CLK-3", "swept off waits for a new arrival", |it| {
        ignored(it, Ignored::SweptOff)
    }),
    ("VENT-4", "power fails while it is closed", |it| {
        matches!(it.power(false), Some(Device::Controller(_)))
            && it
                .known
                .views
                .iter()
                .any(|(id, view)| view.closed && is_contact(it, *id))
    }),
];

fn at_the_threshold(it: &Look<'_>) -> bool {
    let mut due = it.known.due.iter();
    it.notes(|note| matches!(note, Note::Tapped(_)))
        && due.any(|(slot, at)| {
            let owner = it.owner(room::Slot(*slot));
            *at == it.now() && matches!(owner, SlotOwner::Controller(_, Timer::Threshold(_)))
        })
}

fn is_contact(it: &Look<'_>, id: room::OutputId) -> bool {
    let output = &it.plan.outputs[usize::from(id.0)];
    let at = &it.plan.controllers[usize::from(output.controller.0)].settings;
    at.outputs[usize::from(output.local)].drive == Drive::Contact
}

fn tap(it: &Look<'_>, wanted: Button) -> bool {
    it.is_button(|kind| kind == wanted) && it.hears(|it| matches!(it, Payload::Up(_)))
}

fn held(it: &Look<'_>, fits: impl Fn(Button) -> bool) -> bool {
    it.is_button(fits) && it.elapsed().is_some()
}

fn lost(it: &Look<'_>, fits: impl Fn(HeardKind) -> bool) -> bool {
    it.notes(|note| note == Note::Fault(Fault::Lost)) && it.silent().is_some_and(|it| fits(it.kind))
}

fn occupied(payload: Payload) -> bool {
    matches!(payload, Payload::Occupied { .. })
}

fn is_on(note: Note) -> bool {
    matches!(note, Note::TurnedOn(_))
}

fn is_ramp(note: Note) -> bool {
    matches!(note, Note::RampStarted(_))
}

fn is_ramp_end(note: Note) -> bool {
    matches!(note, Note::RampEnded(_))
}

fn is_limit(note: Note) -> bool {
    matches!(note, Note::Limit(_))
}

fn is_restored(note: Note) -> bool {
    matches!(note, Note::Restored(_))
}

fn is_warning(note: Note) -> bool {
    matches!(note, Note::Warning(_))
}
