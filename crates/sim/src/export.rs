//! The trace as other programs read it: one record a step, every name resolved.
//!
//! A record is a map of `step`, `at_ms`, `cause` (the number of an earlier step, or nil), `who`,
//! `what` and, where there is more to say, `detail`, a map of flat values. `what` is one word in
//! kebab case. As MessagePack an exported trace is a [`Header`] and then every record, each a map
//! with names; as JSON each of them is one line.
//!
//! Levels are in 0.01 %, illuminances in 0.01 lx, spans and moments in milliseconds.
//!
//! Invariant: names that end in `_ms`, `_percent_hundredths` or `_lux_hundredths` say their unit.

use std::collections::BTreeMap;
use std::fmt::Debug;

use device::{Illuminance, Level, Note, Payload, Signal, Span};
use device::{card, clock, daylight, occupancy, signal, switch};
use rmp_serde::Deserializer;
use room::{Device, Plan, Slot, SlotOwner, Slots, SourceId, SourceSettings, Stimulus, Who};
use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::{Impairment, LinkFault, OutputView, Step, Trace, What};

/// What stands before the records of a trace.
#[derive(Clone, Debug, Deserialize, Eq, PartialEq, Serialize)]
#[serde(deny_unknown_fields)]
pub struct Header {
    /// Always [`Header::FORMAT`].
    pub format: String,
    /// The version of the records.
    pub version: u32,
    /// The name of the room.
    pub room: String,
}

/// One step of a trace.
#[derive(Clone, Debug, Deserialize, Eq, PartialEq, Serialize)]
#[serde(deny_unknown_fields)]
pub struct Record {
    /// The number of the step, from 0.
    pub step: u32,
    /// When, in milliseconds since the run began.
    pub at_ms: u64,
    /// The step that caused it; `None` for what came from outside.
    pub cause: Option<u32>,
    /// The name of whoever the step is about.
    pub who: String,
    /// What happened, in one word.
    pub what: String,
    /// What more there is to say.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub detail: BTreeMap<String, Datum>,
}

/// A flat value of a record.
#[derive(Clone, Debug, Deserialize, Eq, PartialEq, Serialize)]
#[serde(untagged)]
pub enum Datum {
    /// Yes or no.
    Flag(bool),
    /// A number in the unit that its name says.
    Number(u64),
    /// A word or a name.
    Text(String),
}

/// Why bytes are not an exported trace.
#[derive(Clone, Debug, Eq, Error, PartialEq)]
pub enum ReadError {
    /// A value is not what stands there in a trace.
    #[error("value {0} is not what stands there in a trace: {1}")]
    Shape(usize, String),
    /// The bytes are something else, or of another version.
    #[error("not a trace of version {version}", version = Header::VERSION)]
    Header,
}

impl Header {
    /// What a trace calls itself.
    pub const FORMAT: &'static str = "roomrig-trace";
    /// The version that is written and read.
    pub const VERSION: u32 = 1;

    /// The header of a trace of this room.
    #[must_use]
    pub fn new(plan: &Plan) -> Self {
        Self {
            format: Self::FORMAT.to_owned(),
            version: Self::VERSION,
            room: plan.name.clone(),
        }
    }
}

impl Record {
    /// The records of a trace, one after another.
    pub fn of<'a>(
        trace: &'a Trace,
        plan: &'a Plan,
        slots: &'a Slots,
    ) -> impl Iterator<Item = Self> + 'a {
        let names = Names { plan, slots };
        (0..)
            .zip(&trace.steps)
            .map(move |(step, it)| names.record(step, it))
    }
}

/// A whole trace as MessagePack.
#[must_use]
pub fn to_messagepack(trace: &Trace, plan: &Plan, slots: &Slots) -> Vec<u8> {
    let whole = "maps of flat values always have a form";
    let mut bytes = rmp_serde::to_vec_named(&Header::new(plan)).expect(whole);
    for record in Record::of(trace, plan, slots) {
        rmp_serde::encode::write_named(&mut bytes, &record).expect(whole);
    }
    bytes
}

/// The trace in these bytes.
///
/// # Errors
///
/// When the bytes are anything but a whole trace of this version.
pub fn from_messagepack(bytes: &[u8]) -> Result<(Header, Vec<Record>), ReadError> {
    let mut rest = bytes;
    let header = Header::deserialize(&mut Deserializer::new(&mut rest))
        .map_err(|error| ReadError::Shape(0, error.to_string()))?;
    if header.format != Header::FORMAT || header.version != Header::VERSION {
        return Err(ReadError::Header);
    }
    let mut records = Vec::new();
    while !rest.is_empty() {
        let record = Record::deserialize(&mut Deserializer::new(&mut rest))
            .map_err(|error| ReadError::Shape(1 + records.len(), error.to_string()))?;
        records.push(record);
    }
    Ok((header, records))
}

/// The names of a room.
#[derive(Clone, Copy)]
struct Names<'a> {
    plan: &'a Plan,
    slots: &'a Slots,
}

/// Who, what, and what more there is to say.
type Said = (String, String, Detail);

/// The flat values of a record, in the making.
#[derive(Default)]
struct Detail(BTreeMap<String, Datum>);

impl Names<'_> {
    fn record(self, number: u32, step: &Step) -> Record {
        let (who, what, detail) = self.say(&step.what);
        Record {
            step: number,
            at_ms: step.at.as_ms(),
            cause: step.cause.map(|cause| cause.number()),
            who,
            what,
            detail: detail.0,
        }
    }

    fn say(self, what: &What) -> Said {
        let detail = Detail::default();
        match *what {
            What::Stimulus(id, stimulus) => self.stimulus(id, stimulus),
            What::Power(device, on) => (self.device(device), "power".into(), detail.flag("on", on)),
            What::Daylight(outside) => (
                "daylight".into(),
                "daylight".into(),
                detail.lux("outside", outside),
            ),
            What::Stuck(id, stuck) => {
                let detail = match stuck {
                    Some(closed) => detail.flag("closed", closed),
                    None => detail,
                };
                (self.output(id.0), "stuck".into(), detail)
            }
            What::Learn(id) => (self.output(id.0), "learn".into(), detail),
            What::Change => ("settings".into(), "changed".into(), detail),
            What::Impaired(ref impairment) => self.impaired(impairment),
            What::Drifts(drift) => {
                let parts = drift.pace.parts();
                let detail = detail.number("takes_percent_hundredths", parts / 10_000);
                let detail = detail.number("takes_percent_millionths", parts);
                (self.device(drift.device), "clock".into(), detail)
            }
            What::Sent(id, sequence, payload) => {
                let detail = detail.number("sequence", sequence).payload(payload);
                (self.source(id), "sent".into(), detail)
            }
            What::Arrived(listener, id, payload) => {
                let detail = detail.text("from", self.source(id)).payload(payload);
                (self.controller(listener.0), "arrived".into(), detail)
            }
            What::Dropped(listener, id, payload, why) => {
                let detail = detail.text("from", self.source(id)).payload(payload);
                let detail = detail.text("why", word(&why));
                (self.controller(listener.0), "dropped".into(), detail)
            }
            What::Started(slot, span) => self.timer(slot, "started", Some(span)),
            What::Stopped(slot) => self.timer(slot, "stopped", None),
            What::Elapsed(slot) => self.timer(slot, "elapsed", None),
            What::Note(who, note) => (self.who(who), word(&note), detail.note(note)),
            What::Output(id, ref view) => (self.output(id.0), "output".into(), detail.view(view)),
            What::Clause(number, turn) => (self.clause(number), word(&turn), detail),
        }
    }

    fn stimulus(self, id: SourceId, stimulus: Stimulus) -> Said {
        let detail = Detail::default();
        let detail = match stimulus {
            Stimulus::Press(button) | Stimulus::Release(button) => detail.number("button", button),
            Stimulus::CardIn { valid } => detail.flag("valid", valid),
            Stimulus::Due(entry) => detail.text("entry", word(&entry)),
            Stimulus::ClockSet { in_hours } => detail.flag("in_hours", in_hours),
            Stimulus::Signal(on) | Stimulus::WalkTest(on) => detail.flag("on", on),
            Stimulus::Shed(points) => detail.points(points),
            Stimulus::Motion
            | Stimulus::Sound
            | Stimulus::CardOut
            | Stimulus::ShedEnd
            | Stimulus::TeachIn => detail,
        };
        (self.source(id), word(&stimulus), detail)
    }

    fn impaired(self, it: &Impairment) -> Said {
        let detail = Detail::default().text("fault", word(&it.fault));
        let detail = match it.listener {
            Some(listener) => detail.text("listener", self.controller(listener.0)),
            None => detail,
        };
        let detail = match it.fault {
            LinkFault::LoseNext(frames) | LinkFault::CopyNext(frames) => {
                detail.number("frames", frames)
            }
            LinkFault::LateNext(frames, span) => detail.number("frames", frames).span("late", span),
            LinkFault::Lose(share) | LinkFault::Copy(share) => {
                detail.number("share_percent_hundredths", share.parts())
            }
            LinkFault::Reorder(on) | LinkFault::OnTime(on) => detail.flag("on", on),
        };
        (self.source(it.source), "impaired".into(), detail)
    }

    fn timer(self, slot: Slot, what: &str, span: Option<Span>) -> Said {
        let (who, name) = match self.slots.owner(slot) {
            SlotOwner::Source(id, number) => (self.source(id), self.source_timer(id, number)),
            SlotOwner::Controller(id, timer) => self.controller_timer(id, timer),
            SlotOwner::Clause(number, timer) => (self.clause(number), format!("timer-{timer}")),
        };
        let detail = Detail::default().text("timer", name);
        let detail = match span {
            Some(span) => detail.span("span", span),
            None => detail,
        };
        (who, what.to_owned(), detail)
    }

    fn source_timer(self, id: SourceId, number: u8) -> String {
        let name = match self.plan.sources[usize::from(id.0)].settings {
            SourceSettings::Occupancy(_) => {
                occupancy::Timer::from_number(number).map(|it| it.name())
            }
            SourceSettings::Switch(_) => switch::Timer::from_number(number).map(|it| it.name()),
            SourceSettings::Card(_) => card::Timer::from_number(number).map(|it| it.name()),
            SourceSettings::Daylight(_) => daylight::Timer::from_number(number).map(|it| it.name()),
            SourceSettings::Clock(_) => clock::Timer::from_number(number).map(|it| it.name()),
            SourceSettings::Signal(_) => signal::Timer::from_number(number).map(|it| it.name()),
        };
        let name = name.expect("slots are numbered from the timers that the source has");
        name.replace(' ', "-")
    }

    fn controller_timer(
        self,
        id: room::ControllerId,
        timer: device::controller::Timer,
    ) -> (String, String) {
        use device::controller::Timer;
        let controller = &self.plan.controllers[usize::from(id.0)];
        let heard = |heard: u8| self.source(controller.heard[usize::from(heard)]);
        match timer {
            Timer::Silence(source) => (heard(source), "silence".into()),
            Timer::Threshold(button) => {
                let button = &controller.settings.buttons[usize::from(button)];
                (heard(button.heard), "threshold".into())
            }
            Timer::RunOn(link) => {
                let output = controller.settings.links[usize::from(link)].output;
                (
                    self.output(controller.outputs[usize::from(output)].0),
                    "run-on".into(),
                )
            }
            Timer::Output(output, timer) => (
                self.output(controller.outputs[usize::from(output)].0),
                word(&timer),
            ),
        }
    }

    fn who(self, who: Who) -> String {
        match who {
            Who::Source(id) => self.source(id),
            Who::Controller(id) => self.controller(id.0),
            Who::Output(id) => self.output(id.0),
            Who::Clause(number) => self.clause(number),
            Who::Room => "room".into(),
        }
    }

    fn device(self, device: Device) -> String {
        match device {
            Device::Source(id) => self.source(id),
            Device::Controller(id) => self.controller(id.0),
        }
    }

    fn source(self, id: SourceId) -> String {
        self.plan.sources[usize::from(id.0)].name.clone()
    }

    fn controller(self, id: u16) -> String {
        self.plan.controllers[usize::from(id)].name.clone()
    }

    fn output(self, id: u16) -> String {
        self.plan.outputs[usize::from(id)].name.clone()
    }

    fn clause(self, number: u16) -> String {
        self.plan.clauses[usize::from(number)].id.clone()
    }
}

impl Detail {
    fn with(mut self, name: &str, datum: Datum) -> Self {
        self.0.insert(name.to_owned(), datum);
        self
    }

    fn flag(self, name: &str, value: bool) -> Self {
        self.with(name, Datum::Flag(value))
    }

    fn number(self, name: &str, value: impl Into<u64>) -> Self {
        self.with(name, Datum::Number(value.into()))
    }

    fn text(self, name: &str, value: String) -> Self {
        self.with(name, Datum::Text(value))
    }

    fn level(self, name: &str, value: Level) -> Self {
        self.number(&format!("{name}_percent_hundredths"), value.hundredths())
    }

    fn lux(self, name: &str, value: Illuminance) -> Self {
        self.number(&format!("{name}_lux_hundredths"), value.hundredths())
    }

    fn span(self, name: &str, value: Span) -> Self {
        self.number(&format!("{name}_ms"), value.as_ms())
    }

    fn points(self, points: Option<device::Points>) -> Self {
        match points {
            Some(points) => self.number("points_percent_hundredths", points.hundredths()),
            None => self,
        }
    }

    fn payload(self, payload: Payload) -> Self {
        let detail = self.text("says", word(&payload));
        match payload {
            Payload::Occupied { bright } => detail.flag("bright", bright),
            Payload::Down(button) | Payload::Up(button) => detail.number("button", button),
            Payload::Illuminance(seen) => detail.lux("seen", seen),
            Payload::Signal(Signal::NormalPower, on) => detail.flag("normal_power", on),
            Payload::Signal(Signal::FireAlarm, on) => detail.flag("fire_alarm", on),
            Payload::Shed(points) => detail.points(points),
            _ => detail,
        }
    }

    fn note(self, note: Note) -> Self {
        match note {
            Note::WarmingUp(span) | Note::Warning(span) | Note::Override(span) => {
                self.span("span", span)
            }
            Note::Tapped(button) | Note::Held(button) => self.number("button", button),
            Note::RampEnded(level)
            | Note::TurnedOn(level)
            | Note::SetBack(level)
            | Note::Restored(level)
            | Note::Asked(level)
            | Note::RampStarted(level)
            | Note::Fade(level)
            | Note::Target(level)
            | Note::Limit(level) => self.level("level", level),
            Note::Measured(seen) => self.lux("seen", seen),
            Note::WalkTest(on)
            | Note::Relay(on)
            | Note::Emergency(on)
            | Note::Shed(on)
            | Note::Waits(on)
            | Note::Learning(on)
            | Note::Taught(on)
            | Note::Power(on) => self.flag("on", on),
            Note::Ignored(why) => self.text("why", word(&why)),
            Note::Fault(fault) | Note::FaultEnded(fault) => self.text("fault", word(&fault)),
            _ => self,
        }
    }

    fn view(self, view: &OutputView) -> Self {
        self.text("state", word(&view.state))
            .level("asked", view.asked)
            .level("target", view.target)
            .level("light", view.light.now)
            .level("light_to", view.light.to)
            .span("light_within", view.light.within)
            .flag("closed", view.closed)
            .flag("occupied", view.occupied)
            .flag("latch", view.latch)
            .flag("by_hand", view.by_hand)
            .flag("emergency", view.emergency)
    }
}

/// The name of a variant in kebab case.
fn word(variant: &impl Debug) -> String {
    let name = format!("{variant:?}");
    let end = name.find(|letter: char| !letter.is_ascii_alphanumeric());
    let mut word = String::with_capacity(name.len());
    for letter in name[..end.unwrap_or(name.len())].chars() {
        if letter.is_ascii_uppercase() && !word.is_empty() {
            word.push('-');
        }
        word.push(letter.to_ascii_lowercase());
    }
    word
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_word_is_the_name_of_the_variant() {
        assert_eq!(word(&Stimulus::CardIn { valid: true }), "card-in");
        assert_eq!(word(&Note::TurnedOn(Level::FULL)), "turned-on");
        assert_eq!(word(&Payload::Vacant), "vacant");
    }

    #[test]
    fn bytes_that_are_no_trace_are_refused_with_the_place() {
        assert!(matches!(from_messagepack(b""), Err(ReadError::Shape(0, _))));
        let header = |version| Header {
            format: Header::FORMAT.into(),
            version,
            room: "Hall".into(),
        };
        let other = rmp_serde::to_vec_named(&header(2)).unwrap();
        assert_eq!(from_messagepack(&other), Err(ReadError::Header));
        let mut bytes = rmp_serde::to_vec_named(&header(1)).unwrap();
        assert_eq!(from_messagepack(&bytes), Ok((header(1), Vec::new())));
        bytes.push(0xC0);
        assert!(matches!(
            from_messagepack(&bytes),
            Err(ReadError::Shape(1, _))
        ));
    }
}
