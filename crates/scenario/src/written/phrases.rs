//! From inputs to points and phrases.

use device::clock::Entry;
use device::{Span, signal};
use room::{ControllerId, Device, Input, OutputId, SourceId, SourceSettings, Stimulus};
use sim::{Drift, Impairment, Instant, LinkFault, Pace, Share};

use super::{Row, Unwritten, name, times};
use crate::room_file::RoomFile;
use crate::script::ActWhat;
use crate::script::civil::Civil;

/// The rows of what happens, in order.
pub(super) fn rows(
    room: &RoomFile,
    civil: &Civil,
    told: &[(Instant, ActWhat)],
) -> Result<Vec<Row>, Unwritten> {
    let mut rows = Vec::new();
    let mut done = vec![false; told.len()];
    for place in 0..told.len() {
        if done[place] {
            continue;
        }
        let (at, what) = &told[place];
        let (point, says) = if let Some((release, says)) = whole_touch(room, told, place) {
            done[release] = true;
            says
        } else if let Some(on) = whole_room(room, told, place, &mut done) {
            ("room".to_owned(), power(on).to_owned())
        } else {
            match what {
                ActWhat::Input(input) => said(room, input)?,
                ActWhat::Impair(impairment) => frames(room, impairment)?,
                ActWhat::Drift(drift) => clock(room, *drift),
            }
        };
        rows.push(Row {
            time: times::moment(civil, *at)?,
            point,
            says,
        });
    }
    Ok(rows)
}

/// A press with its release, told as one where nothing else happens in between or it is short:
/// the place of the release, and the row.
fn whole_touch(
    room: &RoomFile,
    told: &[(Instant, ActWhat)],
    place: usize,
) -> Option<(usize, (String, String))> {
    let (at, ActWhat::Input(Input::Stimulus(source, Stimulus::Press(button)))) = &told[place]
    else {
        return None;
    };
    let of_button = |what: &ActWhat| match what {
        ActWhat::Input(Input::Stimulus(it, Stimulus::Press(b) | Stimulus::Release(b))) => {
            it == source && b == button
        }
        _ => false,
    };
    let (behind, (end, what)) =
        (told[place + 1..].iter().enumerate()).find(|(_, (_, what))| of_button(what))?;
    let span = end.since(*at);
    let is_release = matches!(
        what,
        ActWhat::Input(Input::Stimulus(_, Stimulus::Release(_)))
    );
    if !is_release || span.is_zero() || (behind > 0 && span > SHORT) {
        return None;
    }
    let button = button_name(room, *source, *button).ok()?;
    let says = match span {
        TAP => format!("tap {button}"),
        span if span < HELD => format!("tap {button} for {}", times::span(span)),
        span => format!("hold {button} for {}", times::span(span)),
    };
    Some((place + 1 + behind, (name(room, *source), says)))
}

/// Whether everything that hangs on the power of the room loses it or gets it here.
fn whole_room(
    room: &RoomFile,
    told: &[(Instant, ActWhat)],
    place: usize,
    done: &mut [bool],
) -> Option<bool> {
    let (at, ActWhat::Input(Input::Power(_, on))) = &told[place] else {
        return None;
    };
    let all = room.plan.on_mains();
    let of_it: Vec<usize> = (place..told.len())
        .take_while(|place| told[*place].0 == *at)
        .filter(|place| {
            matches!(&told[*place].1, ActWhat::Input(Input::Power(device, to))
                if to == on && all.contains(device))
        })
        .collect();
    let first = told[of_it.first().copied()?].clone();
    if all.len() < 2 || of_it.len() != all.len() || first != told[place] {
        return None;
    }
    for place in of_it {
        done[place] = true;
    }
    Some(*on)
}

/// The point and the phrase of an input.
fn said(room: &RoomFile, input: &Input) -> Result<(String, String), Unwritten> {
    let output = |id: &OutputId| room.plan.outputs[usize::from(id.0)].name.clone();
    Ok(match input {
        Input::Stimulus(source, stimulus) => {
            (name(room, *source), stimulated(room, *source, *stimulus)?)
        }
        Input::Power(Device::Source(source), on) => {
            let source = &room.plan.sources[usize::from(source.0)];
            let says = match (source.mains, on) {
                (true, on) => power(*on),
                (false, false) => "battery dead",
                (false, true) => "new battery",
            };
            (source.name.clone(), says.to_owned())
        }
        Input::Power(Device::Controller(id), on) => {
            let controller = &room.plan.controllers[usize::from(id.0)];
            (controller.name.clone(), power(*on).to_owned())
        }
        Input::Daylight(light) => {
            let lux = times::hundredths(light.hundredths());
            ("room".to_owned(), format!("daylight {lux} lx"))
        }
        Input::Stuck(id, how) => {
            let says = match how {
                Some(true) => "relay sticks closed",
                Some(false) => "relay sticks open",
                None => "relay freed",
            };
            (output(id), says.to_owned())
        }
        Input::Learn { output: id, remove } => {
            let says = if *remove {
                "removing opens"
            } else {
                "learning opens"
            };
            (output(id), says.to_owned())
        }
        Input::Frame { .. } | Input::Elapsed(_) | Input::Change(_) => {
            return Err(Unwritten::NoWords(format!("{input:?}")));
        }
    })
}

fn stimulated(room: &RoomFile, source: SourceId, stimulus: Stimulus) -> Result<String, Unwritten> {
    let button = |number| button_name(room, source, number);
    Ok(match stimulus {
        Stimulus::Motion => "motion".to_owned(),
        Stimulus::Sound => "sound".to_owned(),
        Stimulus::Press(number) => format!("press {}", button(number)?),
        Stimulus::Release(number) => format!("release {}", button(number)?),
        Stimulus::CardIn { valid: true } => "card in".to_owned(),
        Stimulus::CardIn { valid: false } => "wrong card".to_owned(),
        Stimulus::CardOut => "card out".to_owned(),
        Stimulus::Due(Entry::Opening) => "opening".to_owned(),
        Stimulus::Due(Entry::Closing) => "closing".to_owned(),
        Stimulus::Due(Entry::Sweep) => "sweep".to_owned(),
        Stimulus::Signal(on) => {
            let settings = &room.plan.sources[usize::from(source.0)].settings;
            let SourceSettings::Signal(settings) = settings else {
                return Err(Unwritten::NoWords(format!("{stimulus:?}")));
            };
            match (settings.kind, on) {
                (signal::Kind::NormalPower, false) => "lost",
                (signal::Kind::NormalPower, true) => "back",
                (_, true) => "sounds",
                (_, false) => "stops",
            }
            .to_owned()
        }
        Stimulus::Shed(None) => "sheds".to_owned(),
        Stimulus::Shed(Some(points)) if (1..=100).contains(&(points.hundredths() / 100)) => {
            if points.hundredths() % 100 != 0 {
                return Err(Unwritten::NoWords(format!("{stimulus:?}")));
            }
            format!("sheds {} points", points.hundredths() / 100)
        }
        Stimulus::ShedEnd => "ends".to_owned(),
        Stimulus::WalkTest(true) => "walk test on".to_owned(),
        Stimulus::WalkTest(false) => "walk test off".to_owned(),
        Stimulus::TeachIn => "teach in".to_owned(),
        Stimulus::Shed(Some(_)) | Stimulus::ClockSet { .. } => {
            return Err(Unwritten::NoWords(format!("{stimulus:?}")));
        }
    })
}

fn frames(room: &RoomFile, impairment: &Impairment) -> Result<(String, String), Unwritten> {
    let no_words = || Unwritten::NoWords(format!("{impairment:?}"));
    let next = |count: u32| match count {
        1 => "next frame".to_owned(),
        count => format!("next {count} frames"),
    };
    let share = |share: Share| times::hundredths(share.parts().into());
    let says = match impairment.fault {
        LinkFault::LoseNext(count @ 1..) => format!("{} lost", next(count)),
        LinkFault::CopyNext(count @ 1..) => format!("{} twice", next(count)),
        LinkFault::LateNext(count @ 1.., span) if !span.is_zero() => {
            format!("{} late by {}", next(count), times::span(span))
        }
        LinkFault::Lose(lost) => {
            format!("{} % of frames lost", share(lost))
        }
        LinkFault::Copy(copied) => {
            format!("{} % of frames twice", share(copied))
        }
        LinkFault::Reorder(true) => "frames out of order".to_owned(),
        LinkFault::OnTime(true) => "frames on time".to_owned(),
        _ => return Err(no_words()),
    };
    let source = name(room, impairment.source);
    let point = match impairment.listener {
        None => source,
        Some(listener) => {
            let to = reached(room, impairment.source, listener).ok_or_else(no_words)?;
            format!("{source} to {to}")
        }
    };
    Ok((point, says))
}

fn clock(room: &RoomFile, drift: Drift) -> (String, String) {
    let device = match drift.device {
        Device::Source(source) => name(room, source),
        Device::Controller(id) => room.plan.controllers[usize::from(id.0)].name.clone(),
    };
    let right = Pace::RIGHT.parts();
    let off = times::millionths(drift.pace.parts().abs_diff(right));
    let says = match drift.pace.parts() {
        parts if parts < right => format!("clock {off} % fast"),
        parts if parts > right => format!("clock {off} % slow"),
        _ => "clock right".to_owned(),
    };
    (device, says)
}

/// What stands for a listener on the way from a source: the output that is linked to it, or the
/// controller where that are several.
fn reached(room: &RoomFile, source: SourceId, listener: ControllerId) -> Option<String> {
    let controller = &room.plan.controllers[usize::from(listener.0)];
    let links = controller.settings.links.iter();
    let links = links.filter(|link| controller.heard[usize::from(link.heard)] == source);
    let mut outputs: Vec<u8> = links.map(|link| link.output).collect();
    outputs.sort_unstable();
    outputs.dedup();
    match outputs.as_slice() {
        [] => None,
        [one] => {
            let output = controller.outputs[usize::from(*one)];
            Some(room.plan.outputs[usize::from(output.0)].name.clone())
        }
        _ => Some(controller.name.clone()),
    }
}

fn button_name(room: &RoomFile, source: SourceId, button: u8) -> Result<&str, Unwritten> {
    let unit = &room.plan.sources[usize::from(source.0)];
    let name = unit.buttons.get(usize::from(button));
    name.map(String::as_str)
        .ok_or_else(|| Unwritten::NoWords(format!("button {button} of `{}`", unit.name)))
}

fn power(on: bool) -> &'static str {
    if on { "power back" } else { "power cut" }
}

/// A tap, where the row does not say how long it is.
const TAP: Span = Span::from_ms(100);

/// From here on a touch is called a hold.
const HELD: Span = Span::from_ms(500);

/// A touch that is told as one although other things happen meanwhile.
const SHORT: Span = Span::from_seconds(5);
