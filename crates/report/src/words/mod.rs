//! The words of the reports: every step, note, frame and timer as people say it.
//!
//! Invariant: every match here is exhaustive, so a new word of the trace is a compile error
//! until somebody has said it in English. No other module spells these things.

mod frame;
mod ignored;
mod note;
mod output;
pub mod setting;
mod timer;

use device::Span;
use room::{
    ControllerId, Device, OutputId, Plan, Slot, SlotOwner, Slots, SourceId, SourceSettings, Who,
};
use sim::{Drop, What};

pub use frame::{Gesture, button_gesture, frame_from, payload, stimulus};
pub use ignored::{fault, ignored};
pub use note::note;
pub use output::Kind;
pub use timer::{TimerLane, TimerWords, timer};

/// The names of a room, as its files spell them.
#[derive(Clone, Debug)]
pub struct Names<'a> {
    /// The plan that names are looked up in.
    pub plan: &'a Plan,
    /// Whose timer each slot is.
    pub slots: Slots,
}

impl<'a> Names<'a> {
    /// The names of `plan`.
    #[must_use]
    pub fn new(plan: &'a Plan) -> Self {
        let slots = Slots::new(plan);
        Self { plan, slots }
    }

    /// The name of a source.
    #[must_use]
    pub fn source(&self, id: SourceId) -> &'a str {
        let named = self.plan.sources.get(usize::from(id.0));
        named.map_or("(unknown source)", |source| &source.name)
    }

    /// The name of a controller.
    #[must_use]
    pub fn controller(&self, id: ControllerId) -> &'a str {
        let named = self.plan.controllers.get(usize::from(id.0));
        named.map_or("(unknown controller)", |controller| &controller.name)
    }

    /// The name of an output.
    #[must_use]
    pub fn output(&self, id: OutputId) -> &'a str {
        let named = self.plan.outputs.get(usize::from(id.0));
        named.map_or("(unknown output)", |output| &output.name)
    }

    /// The id of a clause.
    #[must_use]
    pub fn clause(&self, number: u16) -> &'a str {
        let named = self.plan.clauses.get(usize::from(number));
        named.map_or("(unknown clause)", |clause| &clause.id)
    }

    /// What an output is to the people of the room.
    #[must_use]
    pub fn kind(&self, id: OutputId) -> Kind {
        let named = self.plan.outputs.get(usize::from(id.0));
        let drive = named.and_then(|output| {
            let at = self
                .plan
                .controllers
                .get(usize::from(output.controller.0))?;
            let settings = at.settings.outputs.get(usize::from(output.local))?;
            Some(settings.drive)
        });
        drive.map_or(Kind::Light, Kind::of)
    }

    /// The name of a button of a wall unit; empty where the unit does not name it.
    #[must_use]
    pub fn button(&self, id: SourceId, number: u8) -> &'a str {
        let named = self.plan.sources.get(usize::from(id.0));
        let button = named.and_then(|source| source.buttons.get(usize::from(number)));
        button.map_or("", String::as_str)
    }

    /// What a source has been set to.
    #[must_use]
    pub fn settings(&self, id: SourceId) -> Option<&'a SourceSettings> {
        let named = self.plan.sources.get(usize::from(id.0));
        named.map(|source| &source.settings)
    }

    /// The name of whoever did something.
    #[must_use]
    pub fn who(&self, who: Who) -> String {
        match who {
            Who::Source(id) => self.source(id).to_owned(),
            Who::Controller(id) => self.controller(id).to_owned(),
            Who::Output(id) => self.output(id).to_owned(),
            Who::Clause(number) => format!("clause {}", self.clause(number)),
            Who::Room => "the room".to_owned(),
        }
    }

    /// The name of a device that can lose power.
    #[must_use]
    pub fn device(&self, device: Device) -> &'a str {
        match device {
            Device::Source(id) => self.source(id),
            Device::Controller(id) => self.controller(id),
        }
    }

    /// Whose timer a slot is; `None` for a number that the room does not have.
    #[must_use]
    pub fn owner(&self, slot: Slot) -> Option<SlotOwner> {
        self.slots.owners().get(usize::from(slot.0)).copied()
    }

    /// The words of the timer in `slot`.
    #[must_use]
    pub fn timer(&self, slot: Slot) -> TimerWords<'a> {
        timer(self, self.owner(slot))
    }

    /// Who a step is about: the first column of a printed trace.
    #[must_use]
    pub fn subject(&self, what: &What) -> String {
        match *what {
            What::Stimulus(id, _) | What::Sent(id, ..) => self.source(id).to_owned(),
            What::Power(device, _) => self.device(device).to_owned(),
            What::Drifts(ref it) => self.device(it.device).to_owned(),
            What::Daylight(_) => "daylight".to_owned(),
            What::Stuck(id, _) | What::Learn(id) | What::Output(id, _) => {
                self.output(id).to_owned()
            }
            What::Change => "settings".to_owned(),
            What::Impaired(ref it) => self.source(it.source).to_owned(),
            What::Arrived(listener, ..) | What::Dropped(listener, ..) => {
                self.controller(listener).to_owned()
            }
            What::Started(slot, _) | What::Stopped(slot) | What::Elapsed(slot) => {
                self.timer(slot).owner
            }
            What::Note(who, _) => self.who(who),
            What::Clause(number, _) => format!("clause {}", self.clause(number)),
        }
    }

    /// What a step is, without its subject: the last column of a printed trace.
    #[must_use]
    pub fn predicate(&self, what: &What) -> String {
        match *what {
            What::Stimulus(id, stimulated) => stimulus(self, id, stimulated),
            What::Power(_, true) => "power returns".to_owned(),
            What::Power(_, false) => "power is cut".to_owned(),
            What::Daylight(outside) => format!("is {outside} outside"),
            What::Stuck(_, Some(true)) => "relay sticks closed".to_owned(),
            What::Stuck(_, Some(false)) => "relay sticks open".to_owned(),
            What::Stuck(_, None) => "relay moves again".to_owned(),
            What::Learn(_) => "somebody opens a learning window".to_owned(),
            What::Change => "changed on site".to_owned(),
            What::Impaired(ref it) => match it.listener {
                None => link_fault(it.fault),
                Some(id) => format!("{} (to {})", link_fault(it.fault), self.controller(id)),
            },
            What::Drifts(it) => clock(it.pace),
            What::Sent(id, sequence, said) => {
                format!("sends frame {sequence}: {}", payload(self, id, said))
            }
            What::Arrived(_, id, said) => {
                format!("hears {}: {}", self.source(id), payload(self, id, said))
            }
            What::Dropped(_, id, said, why) => format!(
                "does not take {}: {} ({})",
                self.source(id),
                payload(self, id, said),
                dropped(why)
            ),
            What::Started(slot, span) => format!("{} starts: {span}", self.timer(slot).name),
            What::Stopped(slot) => format!("{} stops", self.timer(slot).name),
            What::Elapsed(slot) => format!("{} ends", self.timer(slot).name),
            What::Note(who, said) => self.note(who, said),
            What::Output(id, ref view) => self.kind(id).stands(view, true),
            What::Clause(_, turned) => turn(turned).to_owned(),
        }
    }

    /// Why something at `who` had no effect.
    #[must_use]
    pub fn ignored(&self, who: Who, why: device::Ignored) -> &'static str {
        match who {
            Who::Output(id) => ignored::ignored_by(self.kind(id), why),
            Who::Source(_) | Who::Controller(_) | Who::Clause(_) | Who::Room => ignored(why),
        }
    }

    /// What a note says, with the name of the button where it speaks of one.
    #[must_use]
    pub fn note(&self, who: Who, said: device::Note) -> String {
        note(self, who, said)
    }
}

/// Why a frame had no effect.
#[must_use]
pub const fn dropped(why: Drop) -> &'static str {
    match why {
        Drop::Lost => "lost on the way",
        Drop::Old => "a copy, or older than one already taken",
        Drop::NoPower => "no power at the listener",
    }
}

/// A fault put on the frames of a source, or taken off.
#[must_use]
pub fn link_fault(fault: sim::LinkFault) -> String {
    let frames = |count: u32| match count {
        1 => "the next frame".to_owned(),
        _ => format!("the next {count} frames"),
    };
    let share = |share: sim::Share| {
        let (whole, part) = (share.parts() / 100, share.parts() % 100);
        match part {
            0 => format!("{whole} % of frames"),
            _ => format!("{whole}.{part:02} % of frames"),
        }
    };
    match fault {
        sim::LinkFault::LoseNext(count) => format!("{} will be lost", frames(count)),
        sim::LinkFault::Lose(part) => format!("{} are lost from now on", share(part)),
        sim::LinkFault::CopyNext(count) => format!("{} will arrive twice", frames(count)),
        sim::LinkFault::Copy(part) => format!("{} arrive twice from now on", share(part)),
        sim::LinkFault::LateNext(count, span) => {
            format!("{} will be {span} late", frames(count))
        }
        sim::LinkFault::Reorder(true) => "frames may overtake each other from now on".to_owned(),
        sim::LinkFault::Reorder(false) => "frames keep their order from now on".to_owned(),
        sim::LinkFault::OnTime(true) => "frames come without jitter from now on".to_owned(),
        sim::LinkFault::OnTime(false) => "frames come with their jitter from now on".to_owned(),
    }
}

/// How the clock of a device runs.
#[must_use]
pub fn clock(pace: sim::Pace) -> String {
    let right = sim::Pace::RIGHT.parts();
    let off = pace.parts().abs_diff(right);
    let (whole, part) = (off / PER_CENT, off % PER_CENT);
    let share = match format!("{part:06}").trim_end_matches('0') {
        "" => format!("{whole} %"),
        part => format!("{whole}.{part:0<2} %"),
    };
    match pace.parts() {
        parts if parts < right => format!("its clock is {share} fast from now on"),
        parts if parts > right => format!("its clock is {share} slow from now on"),
        _ => "its clock is right from now on".to_owned(),
    }
}

/// One per cent of a pace.
const PER_CENT: u32 = sim::Pace::WHOLE / 100;

/// What a monitor says.
#[must_use]
pub const fn turn(turned: clause::Turn) -> &'static str {
    match turned {
        clause::Turn::Triggered => "is triggered",
        clause::Turn::Held => "is met",
        clause::Turn::Broken => "is broken",
    }
}

/// A light level, and its way to the next one if it moves.
#[must_use]
pub fn light(light: &sim::Light) -> String {
    if light.within.is_zero() || light.now == light.to {
        light.to.to_string()
    } else {
        format!("{} to {} in {}", light.now, light.to, light.within)
    }
}

/// The kind of a source.
#[must_use]
pub const fn source_kind(settings: &SourceSettings) -> &'static str {
    match settings {
        SourceSettings::Occupancy(occupancy) if occupancy.sound => {
            "occupancy sensor, motion and sound"
        }
        SourceSettings::Occupancy(_) => "occupancy sensor, motion",
        SourceSettings::Switch(_) => "wall unit",
        SourceSettings::Card(_) => "key-card reader",
        SourceSettings::Daylight(_) => "daylight sensor",
        SourceSettings::Clock(_) => "time clock",
        SourceSettings::Signal(signal) => match signal.kind {
            device::signal::Kind::NormalPower => "normal power",
            device::signal::Kind::FireAlarm => "fire alarm",
            device::signal::Kind::DemandResponse => "demand response",
        },
    }
}

/// The kind of an output, by its drive.
#[must_use]
pub const fn drive(drive: device::controller::Drive) -> &'static str {
    use device::controller::Drive;
    match drive {
        Drive::Relay => "relay",
        Drive::ZeroToTen => "0\u{2013}10 V",
        Drive::ForwardPhase => "forward phase",
        Drive::ReversePhase => "reverse phase",
        Drive::Receptacle => "receptacle",
        Drive::Contact => "contact",
    }
}

/// `1 row`, `2 rows`: a count with its noun.
#[must_use]
pub fn count(number: usize, one: &str, many: &str) -> String {
    format!("{number} {}", if number == 1 { one } else { many })
}

/// `once`, `twice`, `3 times`.
#[must_use]
pub fn times(number: usize) -> String {
    match number {
        1 => "once".to_owned(),
        2 => "twice".to_owned(),
        _ => format!("{number} times"),
    }
}

/// A span for a tight place: `15 min`, `1 h 15 min`, `0.5 s`, `100 ms`.
#[must_use]
pub fn short_span(span: Span) -> String {
    match span.as_ms() {
        ms @ 1..1_000 => format!("{ms} ms"),
        ms if ms < 60_000 && ms % 1_000 != 0 => {
            let text = format!("{}.{:03}", ms / 1_000, ms % 1_000);
            format!("{} s", text.trim_end_matches('0'))
        }
        _ => span.to_string(),
    }
}

/// Words joined as a list: `a`, `a and b`, `a, b and c`.
#[must_use]
pub fn list(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

#[cfg(test)]
mod tests;
