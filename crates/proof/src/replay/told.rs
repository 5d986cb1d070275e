//! What happens on a path, told of the whole room.

use std::collections::BTreeMap;

use device::{Illuminance, Span};
use prover::path::{GRAINS, roundest};
use prover::slice::Slice;
use prover::zone::Timer;
use prover::{Happening, Path};
use room::{ControllerId, Device, Input, SourceId, Stimulus};
use scenario::room_file::RoomFile;
use scenario::script::ActWhat;
use sim::{Drift, Impairment, Instant, LinkFault, Quality, Share};

use super::paces::Paces;
use super::{Acts, instant, last};

/// What happens on a path, each at a step of it.
#[derive(Clone, Debug)]
pub(super) struct Told {
    happenings: Vec<Happened>,
    /// All that hangs on the mains of the room.
    mains: Vec<Device>,
    flights: Vec<Flight>,
}

/// Something that happens at a step.
#[derive(Clone, Debug)]
struct Happened {
    step: usize,
    what: What,
    /// What is left out together: a touch with its end, a cut with its return.
    unit: usize,
}

/// One thing that happens.
#[derive(Clone, Debug)]
enum What {
    /// An act of a scenario.
    Act(ActWhat),
    /// The power of the room goes or comes back.
    RoomPower(bool),
}

/// A frame whose time on its way is not always the same.
#[derive(Clone, Copy, Debug)]
struct Flight {
    source: SourceId,
    listener: ControllerId,
    /// From sending to arrival at the least.
    delay: Span,
    /// How much longer it may take at the most.
    jitter: Span,
    sent: usize,
    /// `None`: not before the end.
    arrives: Option<usize>,
}

impl Told {
    pub(super) fn of(room: &RoomFile, slice: &Slice, path: &Path, paces: &Paces) -> Self {
        let mut happenings = Vec::new();
        let whole = |what: &Happening| told_of_room(slice, what);
        for (step, of_step) in path.steps.iter().enumerate() {
            let acts = of_step.happens.iter().map(whole);
            happenings.extend(acts.map(|what| Happened {
                step,
                what,
                unit: usize::MAX,
            }));
        }
        let clocks = paces.iter().map(|(step, device, pace)| Happened {
            step: *step,
            what: What::Act(ActWhat::Drift(Drift {
                device: whole_device(slice, *device),
                pace: *pace,
            })),
            unit: usize::MAX,
        });
        happenings.extend(clocks);
        happenings.sort_by_key(|it| it.step);
        let mut told = Self {
            happenings,
            mains: room.plan.on_mains(),
            flights: flights(room, slice, path),
        };
        let lucky: Vec<_> = room
            .quality
            .iter()
            .filter(|(_, quality)| is_lucky(quality))
            .collect();
        // Nothing is left to luck in a run that shows something.
        let calm = lucky.into_iter().flat_map(|((source, listener), quality)| {
            let faults = [
                (!quality.jitter.is_zero()).then_some(LinkFault::OnTime(true)),
                (quality.loss != Share::NONE).then_some(LinkFault::Lose(Share::NONE)),
                (quality.copies != Share::NONE).then_some(LinkFault::Copy(Share::NONE)),
            ];
            let (source, listener) = (*source, *listener);
            faults.into_iter().flatten().map(move |fault| Happened {
                step: 0,
                what: What::Act(impaired(source, listener, fault)),
                unit: KEPT,
            })
        });
        let daylight = slice.plan.daylight;
        let bright = (daylight != Illuminance::default()).then_some(Happened {
            step: 0,
            what: What::Act(ActWhat::Input(Input::Daylight(daylight))),
            unit: KEPT,
        });
        told.happenings.splice(0..0, calm.chain(bright));
        told.number_units();
        told
    }

    /// What happens, with these instants of the steps.
    pub(super) fn acts(&self, at: &[i64]) -> Acts {
        let mut acts = self.outer_acts(at);
        // A row is for the next frame of its way, so one behind it that is sent with it and does
        // not arrive before the end is left to luck: it cannot arrive before the other.
        let is_behind = |it: &Flight| {
            let way = |it: &Flight| (it.source, it.listener, it.sent);
            let mut others = self.flights.iter();
            it.arrives.is_none()
                && others.any(|other| other.arrives.is_some() && way(other) == way(it))
        };
        // Frames that leave one way together and are as late are so by one row.
        let mut late: Vec<(Instant, &Flight, u32, Span)> = Vec::new();
        for flight in self.flights.iter().filter(|flight| !is_behind(flight)) {
            let sent = instant(at[flight.sent]);
            let by = match flight.arrives {
                Some(step) => instant(at[step]).since(sent).minus(flight.delay),
                None if sent.after(flight.delay) <= last(at) => flight.jitter,
                None => Span::ZERO,
            };
            let way = |it: &Flight| (it.source, it.listener, it.sent);
            let before = late.iter_mut().find(|it| way(it.1) == way(flight));
            match before {
                Some((_, _, frames, span)) if *span == by => *frames += 1,
                _ => late.push((sent, flight, 1, by)),
            }
        }
        late.retain(|(.., by)| !by.is_zero());
        acts.extend(late.into_iter().map(|(sent, flight, frames, by)| {
            let fault = LinkFault::LateNext(frames, by);
            (sent, impaired(flight.source, flight.listener, fault))
        }));
        acts.sort_by_key(|act| act.0);
        acts
    }

    /// What comes from outside, with these instants of the steps.
    fn outer_acts(&self, at: &[i64]) -> Acts {
        let mut acts = Acts::new();
        let mut dark: Vec<Device> = Vec::new();
        for it in &self.happenings {
            let at = instant(at[it.step]);
            match &it.what {
                What::Act(act) => {
                    if let ActWhat::Input(Input::Power(device, on)) = act {
                        dark.retain(|it| it != device);
                        dark.extend((!on).then_some(*device));
                    }
                    acts.push((at, act.clone()));
                }
                // What died before stays dead when the room has power again.
                What::RoomPower(on) => {
                    let those = self.mains.iter().filter(|it| !on || !dark.contains(it));
                    acts.extend(those.map(|it| (at, ActWhat::Input(Input::Power(*it, *on)))));
                }
            }
        }
        acts
    }

    /// The steps at which something comes from outside.
    pub(super) fn steps(&self) -> Vec<usize> {
        let mut steps: Vec<usize> = self.happenings.iter().map(|it| it.step).collect();
        steps.dedup();
        steps.retain(|step| *step > 0);
        steps
    }

    /// How many things come from outside; the entries of calendars and what keeps luck away are
    /// none.
    pub(super) fn len(&self) -> usize {
        let happened = self.happenings.iter();
        happened.filter(|it| it.unit != KEPT).count()
    }

    /// Leaves out whatever is not needed, seen from `fits`.
    pub(super) fn leave_out(&mut self, mut fits: impl FnMut(&Self) -> bool) {
        loop {
            let before = self.happenings.len();
            let mut units: Vec<usize> = self.happenings.iter().map(|it| it.unit).collect();
            units.sort_unstable();
            units.dedup();
            for unit in units.into_iter().rev().filter(|unit| *unit != KEPT) {
                let mut fewer = self.clone();
                fewer.happenings.retain(|it| it.unit != unit);
                if fits(&fewer) {
                    *self = fewer;
                }
            }
            if self.happenings.len() == before {
                return;
            }
        }
    }

    /// Instants of a step that a person would like better than round ones: a button is tapped,
    /// or held for whole seconds.
    pub(super) fn likes(&self, step: usize, at: &[i64]) -> Vec<i64> {
        let mut here = self.happenings.iter().filter(|it| it.step == step);
        let (Some(release), None) = (here.next(), here.next()) else {
            return Vec::new();
        };
        let What::Act(ActWhat::Input(Input::Stimulus(_, Stimulus::Release(_)))) = release.what
        else {
            return Vec::new();
        };
        let mut press = self.happenings.iter().filter(|it| it.unit == release.unit);
        let Some(press) = press.find(|it| it.step < step) else {
            return Vec::new();
        };
        let touches = TOUCHES.into_iter();
        touches.map(|span| at[press.step] + span).collect()
    }

    /// Moves each step to a rounder instant if it may be, with all others where they are.
    pub(super) fn polish(&self, at: &mut [i64], mut fits: impl FnMut(&[i64]) -> bool) {
        if !self.flights.is_empty() {
            return;
        }
        let steps = self.steps();
        for (place, &step) in steps.iter().enumerate() {
            if self.likes(step, at).contains(&at[step]) {
                continue;
            }
            let before = place.checked_sub(1).map_or(0, |place| at[steps[place]]);
            let after = steps.get(place + 1).map_or(i64::MAX, |next| at[*next]);
            let last = at.last().copied().unwrap_or(0);
            // A cut lasts a second, and a hand waits until the room has heard of its release: what
            // is less than a second apart comes no closer, and nothing else comes closer than that.
            let kept = |gap: i64| gap.clamp(1, SECOND);
            let first = match place {
                0 => 1,
                _ => before + kept(at[step] - before),
            };
            let most = after.saturating_sub(kept(after - at[step])).min(last);
            let near = (at[step] - SECOND).max(first);
            let rounder = roundest(near, Some(most));
            let rounder = rounder.filter(|to| grain(*to) > grain(at[step]));
            for to in rounder {
                // What only breaks to the millisecond is a tie, and nobody would write one.
                let near = [to, to - SECOND, to + SECOND];
                let clear = near.into_iter().filter(|to| before < *to && *to <= most);
                let mut moved = at.to_vec();
                let mut all = clear.map(|to| {
                    moved[step] = to;
                    fits(&moved)
                });
                if all.all(|it| it) {
                    at[step] = to;
                    break;
                }
            }
        }
    }

    /// Gives numbers to what is left out together.
    fn number_units(&mut self) {
        let mut open: BTreeMap<About, usize> = BTreeMap::new();
        let mut next = 1;
        for happened in &mut self.happenings {
            if happened.unit == KEPT || is_due(&happened.what) {
                happened.unit = KEPT;
                continue;
            }
            let about = about(&happened.what);
            let begun = about.and_then(|about| open.remove(&about));
            happened.unit = begun.unwrap_or(next);
            if begun.is_none() {
                if let Some(about) = about {
                    open.insert(about, next);
                }
                next += 1;
            }
        }
    }
}

/// What has two halves.
#[derive(Clone, Copy, Debug, Eq, Ord, PartialEq, PartialOrd)]
enum About {
    Button(SourceId, u8),
    Source(SourceId),
    Power(Device),
    RoomPower,
}

fn about(what: &What) -> Option<About> {
    let act = match what {
        What::Act(act) => act,
        What::RoomPower(_) => return Some(About::RoomPower),
    };
    match act {
        ActWhat::Input(Input::Stimulus(source, stimulus)) => match stimulus {
            Stimulus::Press(button) | Stimulus::Release(button) => {
                Some(About::Button(*source, *button))
            }
            Stimulus::Motion | Stimulus::Sound | Stimulus::TeachIn => None,
            _ => Some(About::Source(*source)),
        },
        ActWhat::Input(Input::Power(device, _)) => Some(About::Power(*device)),
        _ => None,
    }
}

fn is_due(what: &What) -> bool {
    matches!(
        what,
        What::Act(ActWhat::Input(Input::Stimulus(_, Stimulus::Due(_))))
    )
}

/// What happens in a slice, told of the room that it is a slice of.
fn told_of_room(slice: &Slice, what: &Happening) -> What {
    let source = |id: SourceId| slice.sources[usize::from(id.0)];
    let listener = |id: ControllerId| slice.controllers[usize::from(id.0)];
    What::Act(match what {
        Happening::RoomPower(on) => return What::RoomPower(*on),
        Happening::Input(input) => ActWhat::Input(match input {
            Input::Stimulus(id, stimulus) => Input::Stimulus(source(*id), *stimulus),
            Input::Power(device, on) => Input::Power(whole_device(slice, *device), *on),
            Input::Stuck(id, how) => Input::Stuck(slice.outputs[usize::from(id.0)], *how),
            other => other.clone(),
        }),
        Happening::Lost(from, to) => impaired(source(*from), listener(*to), LinkFault::LoseNext(1)),
        Happening::Twice(from, to) => {
            impaired(source(*from), listener(*to), LinkFault::CopyNext(1))
        }
        Happening::Late(from, to, span) => {
            impaired(source(*from), listener(*to), LinkFault::LateNext(1, *span))
        }
    })
}

/// The device of the room that a device of a slice is.
fn whole_device(slice: &Slice, device: Device) -> Device {
    match device {
        Device::Source(id) => Device::Source(slice.sources[usize::from(id.0)]),
        Device::Controller(id) => Device::Controller(slice.controllers[usize::from(id.0)]),
    }
}

fn impaired(source: SourceId, listener: ControllerId, fault: LinkFault) -> ActWhat {
    ActWhat::Impair(Impairment {
        source,
        listener: Some(listener),
        fault,
    })
}

/// The frames on ways with jitter.
fn flights(room: &RoomFile, slice: &Slice, path: &Path) -> Vec<Flight> {
    let flight = |timer: Timer, sent: usize, arrives: Option<usize>| {
        let (source, listener) = prover::model::way_of(&slice.plan, timer)?;
        let source = slice.sources[usize::from(source.0)];
        let listener = slice.controllers[usize::from(listener.0)];
        let quality = room.quality.get(&(source, listener));
        let quality = quality.copied().unwrap_or_default();
        (!quality.jitter.is_zero()).then_some(Flight {
            source,
            listener,
            delay: quality.delay,
            jitter: quality.jitter,
            sent,
            arrives,
        })
    };
    let mut flights = Vec::new();
    let mut sent: BTreeMap<Timer, usize> = BTreeMap::new();
    for (step, of_step) in path.steps.iter().enumerate() {
        for timer in &of_step.fired {
            let arrived = sent.remove(timer);
            flights.extend(arrived.and_then(|since| flight(*timer, since, Some(step))));
        }
        sent.retain(|timer, _| !of_step.stopped.contains(timer));
        sent.extend(of_step.started.iter().map(|(timer, ..)| (*timer, step)));
    }
    let under_way = sent.into_iter();
    flights.extend(under_way.filter_map(|(timer, since)| flight(timer, since, None)));
    flights
}

fn is_lucky(quality: &Quality) -> bool {
    !quality.jitter.is_zero() || quality.loss != Share::NONE || quality.copies != Share::NONE
}

/// The grain of an instant.
fn grain(at: i64) -> i64 {
    let grains = GRAINS.into_iter();
    grains.filter(|grain| at % grain == 0).max().unwrap_or(1)
}

/// The unit of what is never left out.
const KEPT: usize = 0;

/// How long a button is touched, the likeliest first, in milliseconds.
const TOUCHES: [i64; 9] = [100, 200, 1_000, 2_000, 3_000, 5_000, 10_000, 500, 15_000];

/// In milliseconds.
const SECOND: i64 = 1_000;
