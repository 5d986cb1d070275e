//! Devices outside the room: what they are asked, what they answer, and what the room thinks of
//! them meanwhile.
//!
//! The room keeps a copy of each such device and gives it the same inputs, with its effects put
//! aside: what shows of the device (how an output stands, what a controller believes) is seen on
//! the copy, what it *does* comes from outside. Where the two part, that is told as a fault.
//!
//! Invariant: a question is asked once and its answer is kept until its instant is over, so an
//! instant can be run again from its beginning with every answer that there is.

use device::{Fault, Illuminance, Note, Payload, Signal, Span, signal};
use room::{
    Change, ControllerId, Device, Input, Plan, Slot, SlotOwner, Slots, SourceId, SourceSettings,
    Who,
};

use crate::Instant;

/// What a device outside is asked.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Question {
    /// Who is asked.
    pub device: Device,
    /// The present instant.
    pub at: Instant,
    /// What happens to it.
    pub asked: Asked,
    /// The light where it is, for a sensor that minds it; otherwise none.
    pub seen: Illuminance,
    /// The sequence number of the frame that arrives, if one does.
    pub sequence: u8,
}

/// What happens to a device outside.
#[derive(Clone, Debug, Eq, PartialEq)]
pub enum Asked {
    /// The run begins.
    Start,
    /// It takes an input.
    Input(Input),
}

/// What a device outside did, in order; or what is wrong with it, so that it is cut off.
pub type Answer = Result<Vec<Effect>, Fault>;

/// One thing that a device does.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum Effect {
    /// Starts or restarts a timer of its own.
    Start(Slot, Span),
    /// Stops a timer of its own.
    Stop(Slot),
    /// Sends a frame.
    Send(SourceId, Payload),
    /// Says what it did, or why it did nothing.
    Note(Who, Note),
}

impl Effect {
    /// Whether `device` may do this: its own timers, frames of its kind, notes about itself.
    #[must_use]
    pub fn is_of(&self, device: Device, plan: &Plan, slots: &Slots) -> bool {
        match *self {
            Self::Start(slot, _) | Self::Stop(slot) => {
                usize::from(slot.0) < slots.len() && owner(slots.owner(slot)) == Some(device)
            }
            Self::Send(source, payload) => {
                device == Device::Source(source)
                    && suits(&plan.sources[usize::from(source.0)].settings, payload)
            }
            Self::Note(who, note) => speaks(device, who, plan) && !is_of_host(note),
        }
    }

    /// Whether `device` does this as the run begins: it then says nothing of anybody else.
    pub(crate) fn begins(&self, device: Device, plan: &Plan, slots: &Slots) -> bool {
        let of_other = matches!(
            (device, self),
            (Device::Controller(_), Self::Note(Who::Source(_), _))
        );
        !of_other && self.is_of(device, plan, slots)
    }

    /// Whether this is more than words.
    pub(crate) const fn acts(&self) -> bool {
        !matches!(self, Self::Note(..))
    }
}

/// The device that an input is for; `None`: it is for the room as a whole.
pub(crate) fn addressee(input: &Input, plan: &Plan, slots: &Slots) -> Option<Device> {
    let driver =
        |output: room::OutputId| Device::Controller(plan.outputs[usize::from(output.0)].controller);
    match *input {
        Input::Stimulus(source, _) => Some(Device::Source(source)),
        Input::Frame { listener, .. } => Some(Device::Controller(listener)),
        Input::Elapsed(slot) => owner(slots.owner(slot)),
        Input::Power(device, _) => Some(device),
        Input::Daylight(_) => None,
        Input::Stuck(output, _) | Input::Learn { output, .. } => Some(driver(output)),
        Input::Change(ref change) => Some(match **change {
            Change::Source(id, _) => Device::Source(id),
            Change::Controller(id, _) => Device::Controller(id),
        }),
    }
}

/// The device that a timer belongs to; `None`: a clause.
pub(crate) const fn owner(owner: SlotOwner) -> Option<Device> {
    match owner {
        SlotOwner::Source(id, _) => Some(Device::Source(id)),
        SlotOwner::Controller(id, _) => Some(Device::Controller(id)),
        SlotOwner::Clause(..) => None,
    }
}

/// Under whose name a device speaks.
pub(crate) const fn who(device: Device) -> Who {
    match device {
        Device::Source(id) => Who::Source(id),
        Device::Controller(id) => Who::Controller(id),
    }
}

fn speaks(device: Device, who: Who, plan: &Plan) -> bool {
    let of = |id: ControllerId| &plan.controllers[usize::from(id.0)];
    match (device, who) {
        (Device::Source(own), Who::Source(id)) => own == id,
        (Device::Controller(own), Who::Controller(id)) => own == id,
        (Device::Controller(own), Who::Output(id)) => of(own).outputs.contains(&id),
        (Device::Controller(own), Who::Source(id)) => of(own).heard.contains(&id),
        _ => false,
    }
}

/// What only the room says of a device outside.
const fn is_of_host(note: Note) -> bool {
    match note {
        Note::Fault(fault) | Note::FaultEnded(fault) => fault.is_of_node(),
        _ => false,
    }
}

/// Whether a source of this kind sends such frames.
fn suits(settings: &SourceSettings, payload: Payload) -> bool {
    use Payload as Says;
    if payload == Says::TeachIn {
        return true;
    }
    match settings {
        SourceSettings::Occupancy(_) => {
            matches!(
                payload,
                Says::Occupied { .. } | Says::Vacant | Says::Unknown
            )
        }
        SourceSettings::Switch(settings) => match payload {
            Says::Down(button) | Says::Up(button) => usize::from(button) < settings.buttons.len(),
            _ => false,
        },
        SourceSettings::Card(_) => {
            matches!(payload, Says::CardIn | Says::CardOut | Says::WrongCard)
        }
        SourceSettings::Daylight(_) => matches!(payload, Says::Illuminance(_)),
        SourceSettings::Clock(_) => matches!(
            payload,
            Says::InHours | Says::AfterHours | Says::Sweep | Says::TimeLost
        ),
        SourceSettings::Signal(settings) => match settings.kind {
            signal::Kind::NormalPower => matches!(payload, Says::Signal(Signal::NormalPower, _)),
            signal::Kind::FireAlarm => matches!(payload, Says::Signal(Signal::FireAlarm, _)),
            signal::Kind::DemandResponse => matches!(payload, Says::Shed(_) | Says::ShedEnd),
        },
    }
}

/// The devices outside a room, and the answers of the present instant.
#[derive(Clone, Debug)]
pub(crate) struct Outside {
    /// Sorted by device.
    guests: Vec<Guest>,
    /// What the copies think of each timer.
    minds: Vec<Mind>,
    /// What every device did as the run began, until that has happened.
    pub(crate) start: Option<Vec<Effect>>,
    /// The timers that a copy has started or stopped in the input it handles.
    set: Vec<(Slot, Option<Span>)>,
    /// What a copy did in it.
    pub(crate) done: Vec<Effect>,
    /// The sequence number of the frame that arrives.
    pub(crate) sequence: u8,
    /// The answers of this instant, in the order of their questions.
    pub(crate) answers: Vec<Answer>,
    /// The place of the next answer.
    pub(crate) next: usize,
    /// The first question of this instant that has no answer.
    pub(crate) asked: Option<Box<Question>>,
}

/// A device outside.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) struct Guest {
    device: Device,
    /// Why it is cut off, if it is.
    pub(crate) cut: Option<Fault>,
    /// Whether it did otherwise than its copy.
    pub(crate) differs: bool,
    /// How often it was asked in this instant.
    questions: u16,
}

/// What the copy of a device outside thinks of a timer of its own.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
enum Mind {
    /// Nothing: its device is inside.
    Inside,
    /// It does not run.
    Stopped,
    /// It was started with this span.
    Running(Span),
}

impl Outside {
    pub(crate) fn new(devices: impl IntoIterator<Item = Device>, slots: &Slots) -> Self {
        let mut guests: Vec<Guest> = (devices.into_iter())
            .map(|device| Guest {
                device,
                cut: None,
                differs: false,
                questions: 0,
            })
            .collect();
        guests.sort_unstable_by_key(|guest| guest.device);
        guests.dedup();
        let is_guest = |device| guests.iter().any(|guest: &Guest| guest.device == device);
        let minds = slots.owners().iter().map(|&slot| match owner(slot) {
            Some(device) if is_guest(device) => Mind::Stopped,
            _ => Mind::Inside,
        });
        Self {
            minds: minds.collect(),
            guests,
            start: None,
            set: Vec::new(),
            done: Vec::new(),
            sequence: 0,
            answers: Vec::new(),
            next: 0,
            asked: None,
        }
    }

    /// The device, if it is outside.
    pub(crate) fn guest(&self, device: Device) -> Option<Guest> {
        self.place(device).map(|place| self.guests[place])
    }

    /// The device outside, to change what is known of it.
    pub(crate) fn guest_mut(&mut self, device: Device) -> &mut Guest {
        let place = self
            .place(device)
            .expect("only devices outside are changed");
        &mut self.guests[place]
    }

    fn place(&self, device: Device) -> Option<usize> {
        (self.guests)
            .binary_search_by_key(&device, |guest| guest.device)
            .ok()
    }

    /// The answer to the next question; `None` when it has not come, and then nothing that
    /// happens in this instant counts.
    pub(crate) fn answer(&mut self, question: Question) -> Option<Answer> {
        if self.asked.is_some() {
            return None;
        }
        let guest = self.guest_mut(question.device);
        guest.questions += 1;
        if guest.questions > MOST {
            return Some(Err(Fault::NodeFloods));
        }
        if let Some(answer) = self.answers.get(self.next) {
            self.next += 1;
            return Some(answer.clone());
        }
        self.asked = Some(Box::new(question));
        None
    }

    /// The instant is over.
    pub(crate) fn settle(&mut self) {
        self.answers.clear();
        self.next = 0;
        for guest in &mut self.guests {
            guest.questions = 0;
        }
    }

    /// A copy is about to handle an input.
    pub(crate) fn begin(&mut self) {
        self.set.clear();
        self.done.clear();
    }

    /// Whether a copy thinks that its timer runs; it has now elapsed.
    pub(crate) fn elapsed(&mut self, slot: Slot) -> bool {
        let mind = &mut self.minds[usize::from(slot.0)];
        let ran = matches!(mind, Mind::Running(_));
        if *mind != Mind::Inside {
            *mind = Mind::Stopped;
        }
        ran
    }

    /// A copy did this.
    pub(crate) fn put(&mut self, effect: Effect) {
        let set = match effect {
            Effect::Start(slot, span) => Some((slot, Some(span))),
            Effect::Stop(slot) => Some((slot, None)),
            Effect::Send(..) | Effect::Note(..) => None,
        };
        if let Some((slot, span)) = set {
            let mind = &mut self.minds[usize::from(slot.0)];
            if *mind != Mind::Inside {
                *mind = span.map_or(Mind::Stopped, Mind::Running);
            }
            self.set.retain(|&(other, _)| other != slot);
            self.set.push((slot, span));
        }
        self.done.push(effect);
    }

    /// What remains on a timer as the room sees it, when `left` truly does. A copy never sees
    /// its own timer run when it has not started it, or for longer than it has.
    pub(crate) fn remaining(&self, slot: Slot, left: Option<Span>, aside: bool) -> Option<Span> {
        if aside && let Some(&(_, span)) = self.set.iter().find(|&&(other, _)| other == slot) {
            return span;
        }
        match self.minds[usize::from(slot.0)] {
            Mind::Inside => left,
            Mind::Stopped => None,
            Mind::Running(span) => Some(left.map_or(Span::ZERO, |left| left.min(span))),
        }
    }
}

/// More questions than any instant of a room has for one device.
const MOST: u16 = 1_000;
