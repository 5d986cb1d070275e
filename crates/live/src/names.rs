//! How nodes name the timers of their device.
//!
//! A source names its own as the device reference does: `delay`; where there is one for each
//! button, they are numbered from 0: `edge gap 0`. A controller's timers are about
//! something: `silence of wall-sensor`, `threshold of button 2` and `run-on of link 5` (by their
//! places in its tables), `fade of desk-lights`.
//!
//! Invariant: within one device a name is one timer.

use device::controller::{OutputTimer, Timer};
use device::{card, clock, daylight, occupancy, signal, switch};
use room::{Device, Plan, Slot, SlotOwner, Slots, SourceSettings};

/// The timers of one device, by their names.
#[derive(Clone, Debug)]
pub(crate) struct Timers(Vec<(String, Slot)>);

impl Timers {
    pub(crate) fn of(device: Device, plan: &Plan, slots: &Slots) -> Self {
        let owners = (0..).map(Slot).zip(slots.owners());
        let own = owners.filter_map(|(slot, &owner)| match (device, owner) {
            (Device::Source(id), SlotOwner::Source(of, number)) if id == of => {
                let settings = &plan.sources[usize::from(id.0)].settings;
                Some((source_timer(settings, number)?.to_owned(), slot))
            }
            (Device::Controller(id), SlotOwner::Controller(of, timer)) if id == of => {
                let controller = &plan.controllers[usize::from(id.0)];
                Some((controller_timer(controller, timer, plan), slot))
            }
            _ => None,
        });
        Self(numbered(own.collect()))
    }

    pub(crate) fn slot(&self, name: &str) -> Option<Slot> {
        let found = self.0.iter().find(|(known, _)| known == name);
        found.map(|&(_, slot)| slot)
    }

    pub(crate) fn name(&self, slot: Slot) -> Option<&str> {
        let found = self.0.iter().find(|&&(_, known)| known == slot);
        found.map(|(name, _)| name.as_str())
    }
}

/// Gives timers of one name numbers from 0: the gaps of a wall unit's buttons.
fn numbered(timers: Vec<(String, Slot)>) -> Vec<(String, Slot)> {
    let named = timers.iter().map(|(name, slot)| {
        let same = timers.iter().filter(|(other, _)| other == name);
        if same.clone().count() == 1 {
            return (name.clone(), *slot);
        }
        let number = same.take_while(|(_, other)| other != slot).count();
        (format!("{name} {number}"), *slot)
    });
    named.collect()
}

fn source_timer(settings: &SourceSettings, number: u8) -> Option<&'static str> {
    match settings {
        SourceSettings::Occupancy(_) => occupancy::Timer::from_number(number).map(|it| it.name()),
        SourceSettings::Switch(_) => switch::Timer::from_number(number).map(|it| it.name()),
        SourceSettings::Card(_) => card::Timer::from_number(number).map(|it| it.name()),
        SourceSettings::Daylight(_) => daylight::Timer::from_number(number).map(|it| it.name()),
        SourceSettings::Clock(_) => clock::Timer::from_number(number).map(|it| it.name()),
        SourceSettings::Signal(_) => signal::Timer::from_number(number).map(|it| it.name()),
    }
}

fn controller_timer(controller: &room::PlanController, timer: Timer, plan: &Plan) -> String {
    let heard = |heard: u8| {
        let source = controller.heard[usize::from(heard)];
        plan.sources[usize::from(source.0)].name.as_str()
    };
    match timer {
        Timer::Silence(source) => format!("silence of {}", heard(source)),
        Timer::Threshold(button) => format!("threshold of button {button}"),
        Timer::RunOn(link) => format!("run-on of link {link}"),
        Timer::Output(output, timer) => {
            let output = controller.outputs[usize::from(output)];
            let output = &plan.outputs[usize::from(output.0)].name;
            format!("{} of {output}", output_timer(timer))
        }
    }
}

const fn output_timer(timer: OutputTimer) -> &'static str {
    match timer {
        OutputTimer::Blink => "blink",
        OutputTimer::Dark => "dark",
        OutputTimer::Fade => "fade",
        OutputTimer::Grace => "grace",
        OutputTimer::Learning => "learning",
        OutputTimer::Limit => "limit",
        OutputTimer::Minimum => "minimum",
        OutputTimer::OffAfter => "off-after",
        OutputTimer::Override => "override",
        OutputTimer::Poll => "poll",
        OutputTimer::PressHold => "press-hold",
        OutputTimer::Proven => "proven",
        OutputTimer::Ramp => "ramp",
        OutputTimer::Shed => "shed",
        OutputTimer::Warning => "warning",
    }
}
