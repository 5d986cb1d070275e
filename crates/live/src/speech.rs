//! One device's side of the conversation: questions and answers to messages and back.
//!
//! Invariant: a question that is written is read back as it was, and so is an answer.

use std::sync::Arc;

use device::{Frame, Illuminance, Payload, Points, Span, clock, controller};
use room::{
    ControllerId, Device, Input, OutputId, Plan, PlanController, PlanOutput, PlanSource, Slots,
    SourceId, SourceSettings, Stimulus, Who,
};
use sim::wire::Message;
use sim::{Asked, Effect, Instant, Question};

use crate::names::Timers;
use crate::value::Value;
use crate::wire;
use crate::words;

/// What is needed to speak of a device of a plan.
#[derive(Clone, Debug)]
pub(crate) struct Speech {
    plan: Arc<Plan>,
    device: Device,
    timers: Timers,
}

/// What a node hears.
#[derive(Clone, Debug, Eq, PartialEq)]
pub(crate) enum Told {
    /// A question with its number.
    Question(u64, Question),
    /// Settings change, as these words say.
    Settings(u64, Instant, String),
    /// An instant is over.
    Instant(u64, Instant),
}

impl Speech {
    pub(crate) fn new(plan: Arc<Plan>, device: Device) -> Self {
        let timers = Timers::of(device, &plan, &Slots::new(&plan));
        Self {
            plan,
            device,
            timers,
        }
    }

    /// Two devices of a small room: a sensor and the controller that hears it.
    pub(crate) fn example() -> [Self; 2] {
        let output = controller::Output::new(controller::Drive::ZeroToTen);
        let heard = controller::Heard {
            kind: controller::HeardKind::Occupancy,
            silence: Some(Span::from_minutes(10)),
        };
        let plan = Arc::new(Plan {
            sources: vec![PlanSource {
                name: "wall-sensor".into(),
                settings: SourceSettings::Occupancy(Default::default()),
                light: Default::default(),
                buttons: Vec::new(),
                mains: true,
                listeners: vec![(ControllerId(0), 0)],
            }],
            controllers: vec![PlanController {
                name: "controller".into(),
                settings: controller::Settings {
                    heard: vec![heard],
                    outputs: vec![output],
                    ..controller::Settings::default()
                },
                heard: vec![SourceId(0)],
                outputs: vec![OutputId(0)],
            }],
            outputs: vec![PlanOutput {
                name: "lights".into(),
                controller: ControllerId(0),
                local: 0,
            }],
            ..Plan::default()
        });
        [
            Device::Source(SourceId(0)),
            Device::Controller(ControllerId(0)),
        ]
        .map(|device| Self::new(Arc::clone(&plan), device))
    }

    /// A question as a message; `says`: the words of the row that changes settings.
    pub(crate) fn question(&self, number: u64, question: &Question, says: &str) -> Value {
        let seen = Value::Number(question.seen.hundredths().into());
        let output = |id: OutputId| Value::text_of(&self.plan.outputs[usize::from(id.0)].name);
        let (word, values) = match &question.asked {
            Asked::Start => ("start", vec![]),
            Asked::Input(input) => match input {
                Input::Stimulus(_, stimulus) => {
                    let (kind, value) = of_stimulus(*stimulus);
                    let mut values = vec![seen, Value::text_of(kind)];
                    values.extend(value);
                    ("stimulus", values)
                }
                Input::Frame {
                    source, payload, ..
                } => (
                    "frame",
                    vec![self.frame(*source, question.sequence, *payload)],
                ),
                Input::Elapsed(slot) => {
                    let name = self.timers.name(*slot).unwrap_or_default();
                    ("timer", vec![seen, Value::text_of(name)])
                }
                Input::Power(_, on) => ("power", vec![Value::Flag(*on)]),
                // No device takes daylight itself: it is told what it sees.
                Input::Daylight(_) => ("instant", vec![]),
                Input::Stuck(id, stuck) => {
                    let stuck = stuck.map_or(Value::Nil, Value::Flag);
                    ("stuck", vec![output(*id), stuck])
                }
                Input::Learn { output: id, remove } => {
                    ("learn", vec![output(*id), Value::Flag(*remove)])
                }
                Input::Change(_) => ("settings", vec![Value::text_of(says)]),
            },
        };
        let head = [Value::Number(number), Value::Number(question.at.as_ms())];
        wire::of(word, head.into_iter().chain(values))
    }

    /// What a node hears in a message; `None`: it is no question for this device.
    pub(crate) fn told(&self, message: &Value) -> Option<Told> {
        let (word, values) = wire::parts(message)?;
        let [number, at, values @ ..] = values else {
            return None;
        };
        let (number, at) = (number.number()?, Instant::from_ms(at.number()?));
        let mut seen = Illuminance::default();
        let mut sequence = 0;
        let asked = match (word, values) {
            ("instant", []) => return Some(Told::Instant(number, at)),
            ("settings", [says]) => {
                return Some(Told::Settings(number, at, says.text()?.to_owned()));
            }
            ("start", []) => Asked::Start,
            ("stimulus", [light, kind, value @ ..]) => {
                seen = lux(light)?;
                let Device::Source(id) = self.device else {
                    return None;
                };
                let stimulus = stimulus(kind.text()?, value.first())?;
                Asked::Input(Input::Stimulus(id, stimulus))
            }
            ("timer", [light, name]) => {
                seen = lux(light)?;
                Asked::Input(Input::Elapsed(self.timers.slot(name.text()?)?))
            }
            ("frame", [frame]) => {
                let message = Message::decode(&frame.encode()).ok()?;
                let Device::Controller(listener) = self.device else {
                    return None;
                };
                sequence = message.frame.sequence;
                Asked::Input(Input::Frame {
                    listener,
                    source: self.source(&message.source)?,
                    payload: message.frame.payload,
                })
            }
            ("power", [on]) => Asked::Input(Input::Power(self.device, on.flag()?)),
            ("stuck", [output, stuck]) => {
                let stuck = match stuck {
                    Value::Nil => None,
                    stuck => Some(stuck.flag()?),
                };
                Asked::Input(Input::Stuck(self.output(output.text()?)?, stuck))
            }
            ("learn", [output, remove]) => Asked::Input(Input::Learn {
                output: self.output(output.text()?)?,
                remove: remove.flag()?,
            }),
            _ => return None,
        };
        let question = Question {
            device: self.device,
            at,
            asked,
            seen,
            sequence,
        };
        Some(Told::Question(number, question))
    }

    /// An answer as a message; `sequence` is the number of the next frame and is counted on.
    pub(crate) fn done(
        &self,
        number: u64,
        at: Instant,
        effects: &[Effect],
        sequence: &mut u8,
    ) -> Value {
        let effects = effects.iter().map(|effect| match *effect {
            Effect::Start(slot, span) => {
                let name = self.timers.name(slot).unwrap_or_default();
                wire::of("start", [Value::text_of(name), Value::Number(span.as_ms())])
            }
            Effect::Stop(slot) => {
                let name = self.timers.name(slot).unwrap_or_default();
                wire::of("stop", [Value::text_of(name)])
            }
            Effect::Send(source, payload) => {
                let frame = self.frame(source, *sequence, payload);
                *sequence = sequence.wrapping_add(1);
                wire::of("send", [frame])
            }
            Effect::Note(who, note) => {
                let (word, value) = words::of_note(note);
                let values = [self.who(who), Value::text_of(word)];
                wire::of("note", values.into_iter().chain(value))
            }
        });
        let effects = Value::List(effects.collect());
        let head = [Value::Number(number), Value::Number(at.as_ms())];
        wire::of("done", head.into_iter().chain([effects]))
    }

    /// The effects of an answer to this question; `None`: it is none. `sequence` is the number
    /// that the next frame has to carry and is counted on.
    pub(crate) fn effects(
        &self,
        message: &Value,
        number: u64,
        at: Instant,
        sequence: &mut u8,
    ) -> Option<Vec<Effect>> {
        let (word, values) = wire::parts(message)?;
        let ("done", [of, moment, effects]) = (word, values) else {
            return None;
        };
        if of.number()? != number || moment.number()? != at.as_ms() {
            return None;
        }
        let effects = effects.list()?.iter();
        effects.map(|it| self.effect(it, sequence)).collect()
    }

    /// The payload of a frame of this source; `None`: it is none, or not the next.
    pub(crate) fn payload(&self, frame: &Value, sequence: &mut u8) -> Option<(SourceId, Payload)> {
        let message = Message::decode(&frame.encode()).ok()?;
        let source = self.source(&message.source)?;
        let next = self.device == Device::Source(source) && message.frame.sequence == *sequence;
        if !next {
            return None;
        }
        *sequence = sequence.wrapping_add(1);
        Some((source, message.frame.payload))
    }

    fn effect(&self, effect: &Value, sequence: &mut u8) -> Option<Effect> {
        let (word, values) = wire::parts(effect)?;
        Some(match (word, values) {
            ("start", [timer, span]) => {
                let span = Span::from_ms(span.number()?);
                Effect::Start(self.timers.slot(timer.text()?)?, span)
            }
            ("stop", [timer]) => Effect::Stop(self.timers.slot(timer.text()?)?),
            ("send", [frame]) => {
                let (source, payload) = self.payload(frame, sequence)?;
                Effect::Send(source, payload)
            }
            ("note", [who, word, value @ ..]) if value.len() <= 1 => Effect::Note(
                self.speaker(who)?,
                words::note(word.text()?, value.first())?,
            ),
            _ => return None,
        })
    }

    fn frame(&self, source: SourceId, sequence: u8, payload: Payload) -> Value {
        let message = Message {
            source: self.plan.sources[usize::from(source.0)].name.clone(),
            frame: Frame { sequence, payload },
        };
        let bytes = message.encode().expect("every source of a plan has a name");
        Value::decode(&bytes).expect("a frame is an array of flat values")
    }

    fn who(&self, who: Who) -> Value {
        match (who, self.device) {
            (Who::Source(id), Device::Source(own)) if id == own => Value::Nil,
            (Who::Source(id), _) => Value::text_of(&self.plan.sources[usize::from(id.0)].name),
            (Who::Output(id), _) => Value::text_of(&self.plan.outputs[usize::from(id.0)].name),
            _ => Value::Nil,
        }
    }

    fn speaker(&self, who: &Value) -> Option<Who> {
        match (who, self.device) {
            (Value::Nil, Device::Source(id)) => Some(Who::Source(id)),
            (Value::Nil, Device::Controller(id)) => Some(Who::Controller(id)),
            (Value::Text(name), _) => {
                (self.output(name).map(Who::Output)).or_else(|| self.source(name).map(Who::Source))
            }
            _ => None,
        }
    }

    fn source(&self, name: &str) -> Option<SourceId> {
        let place = self.plan.sources.iter().position(|it| it.name == name)?;
        u16::try_from(place).ok().map(SourceId)
    }

    fn output(&self, name: &str) -> Option<OutputId> {
        let place = self.plan.outputs.iter().position(|it| it.name == name)?;
        u16::try_from(place).ok().map(OutputId)
    }
}

fn lux(value: &Value) -> Option<Illuminance> {
    let hundredths = u32::try_from(value.number()?).ok()?;
    Some(Illuminance::from_hundredths(hundredths))
}

fn of_stimulus(stimulus: Stimulus) -> (&'static str, Option<Value>) {
    let flag = |on: bool| Some(Value::Flag(on));
    let number = |it: u64| Some(Value::Number(it));
    match stimulus {
        Stimulus::Motion => ("motion", None),
        Stimulus::Sound => ("sound", None),
        Stimulus::Press(button) => ("press", number(button.into())),
        Stimulus::Release(button) => ("release", number(button.into())),
        Stimulus::CardIn { valid } => ("card-in", flag(valid)),
        Stimulus::CardOut => ("card-out", None),
        Stimulus::Due(entry) => {
            let entry = match entry {
                clock::Entry::Opening => "opening",
                clock::Entry::Closing => "closing",
                clock::Entry::Sweep => "sweep",
            };
            ("due", Some(Value::text_of(entry)))
        }
        Stimulus::ClockSet { in_hours } => ("clock-set", flag(in_hours)),
        Stimulus::Signal(on) => ("signal", flag(on)),
        Stimulus::Shed(None) => ("shed", Some(Value::Nil)),
        Stimulus::Shed(Some(points)) => ("shed", number(points.hundredths().into())),
        Stimulus::ShedEnd => ("shed-end", None),
        Stimulus::WalkTest(on) => ("walk-test", flag(on)),
        Stimulus::TeachIn => ("teach-in", None),
    }
}

fn stimulus(kind: &str, value: Option<&Value>) -> Option<Stimulus> {
    let flag = || value?.flag();
    let button = || u8::try_from(value?.number()?).ok();
    Some(match kind {
        "motion" => Stimulus::Motion,
        "sound" => Stimulus::Sound,
        "press" => Stimulus::Press(button()?),
        "release" => Stimulus::Release(button()?),
        "card-in" => Stimulus::CardIn { valid: flag()? },
        "card-out" => Stimulus::CardOut,
        "due" => Stimulus::Due(match value?.text()? {
            "opening" => clock::Entry::Opening,
            "closing" => clock::Entry::Closing,
            "sweep" => clock::Entry::Sweep,
            _ => return None,
        }),
        "clock-set" => Stimulus::ClockSet { in_hours: flag()? },
        "signal" => Stimulus::Signal(flag()?),
        "shed" => match value? {
            Value::Nil => Stimulus::Shed(None),
            points => {
                let hundredths = u16::try_from(points.number()?).ok()?;
                Stimulus::Shed(Some(Points::from_hundredths(hundredths)))
            }
        },
        "shed-end" => Stimulus::ShedEnd,
        "walk-test" => Stimulus::WalkTest(flag()?),
        "teach-in" => Stimulus::TeachIn,
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What is written is read as it was: every effect of an example, and its frame counted on.
    #[test]
    fn an_answer_is_read_as_it_was_written_and_only_by_its_own_device() {
        let [sensor, controller] = Speech::example();
        let own = Device::Source(SourceId(0));
        let Device::Source(source) = own else {
            unreachable!("it is a source")
        };
        let slot = sensor.timers.slot("delay").unwrap();
        let effects = [
            Effect::Send(source, Payload::Occupied { bright: true }),
            Effect::Start(slot, Span::from_minutes(15)),
            Effect::Stop(slot),
            Effect::Send(source, Payload::Vacant),
            Effect::Note(Who::Source(source), device::Note::WalkTest(true)),
        ];
        let at = Instant::from_ms(70_000);
        let mut sequence = 255;
        let message = sensor.done(9, at, &effects, &mut sequence);
        assert_eq!(sequence, 1);
        let mut expected = 255;
        let read = sensor.effects(&message, 9, at, &mut expected);
        assert_eq!(read.as_deref(), Some(&effects[..]));
        assert_eq!(expected, 1);
        assert_eq!(
            sensor.effects(&message, 9, at, &mut 254),
            None,
            "a frame is missing"
        );
        assert_eq!(controller.effects(&message, 9, at, &mut 255), None);
    }

    #[test]
    fn bytes_of_an_answer_are_those_that_the_format_says() {
        let [sensor, _] = Speech::example();
        let effects = [Effect::Send(SourceId(0), Payload::Vacant)];
        let message = sensor.done(1, Instant::from_ms(200), &effects, &mut 17);
        let expected =
            b"\x94\xa4done\x01\xcc\xc8\x91\x92\xa4send\x94\x01\xabwall-sensor\x11\xa6vacant";
        assert_eq!(message.encode(), expected);
        assert!(wire::check(expected));
        assert!(!wire::check(&expected[1..]));
    }
}
