//! A day and a year of one room, against the checksums that every implementation of this
//! workload must reach: motion, sound and presses drawn from splitmix64, one sensor, one single
//! button, lights and a receptacle.

use crate::support::{self, Site, lamp};
use device::controller::{Drive, Output, Role};
use device::{Level, Note, Payload, Span, occupancy, switch};
use room::{Input, SourceSettings, Stimulus, Who};
use sim::{Instant, Quality, Recorder, Simulation, Stream, What};

/// Counts what counts as an event, and keeps every change of level.
#[derive(Clone, Debug, Default)]
struct Counter {
    events: u64,
    changes: Vec<(u64, u8, u8)>,
}

impl Recorder for Counter {
    type Cause = ();

    const KEEPS: bool = false;

    fn record(&mut self, at: Instant, (): (), what: impl FnOnce() -> What) {
        match what() {
            What::Stimulus(_, Stimulus::Motion | Stimulus::Sound | Stimulus::Release(_))
            | What::Arrived(.., Payload::Occupied { .. } | Payload::Vacant | Payload::Up(_)) => {
                self.events += 1;
            }
            What::Note(Who::Source(_), Note::Vacant) => self.events += 1,
            What::Note(Who::Output(output), note) => {
                let level = match note {
                    Note::TurnedOn(level) => level.hundredths() / 100,
                    Note::TurnedOff => 0,
                    _ => return,
                };
                let ids = (
                    u8::try_from(output.0).unwrap(),
                    u8::try_from(level).unwrap(),
                );
                self.changes.push((at.as_ms(), ids.0, ids.1));
            }
            _ => {}
        }
    }

    fn steps(&self) -> usize {
        0
    }

    fn truncate(&mut self, _: usize) {}
}

/// The three stimuli of the workload.
#[derive(Clone, Copy, Eq, Ord, PartialEq, PartialOrd)]
enum Kind {
    Motion,
    Sound,
    Press,
}

/// The stimuli of one room on one day, by moment.
fn stimuli(room: u64, day: u64) -> Vec<(u64, Kind)> {
    let stream = |n: u64| {
        Luck(Stream::from_seed(
            0x6F66_6669_6365_2D64 ^ (room << 32 | day << 8 | n),
        ))
    };
    let mut all = Vec::new();
    let (mut luck, mut at) = (stream(1), 28_800_000);
    loop {
        let gap = 1 + u64::min(
            ((u128::from(luck.exponential()) * 7_500) >> 32) as u64,
            90_000,
        );
        at += 20 * if gap == 45_000 { 45_001 } else { gap };
        if at >= 64_800_000 {
            break;
        }
        all.push((at, Kind::Motion));
    }
    for (n, kind, count, from, span, phase) in [
        (2, Kind::Sound, 60, 21_600_000, 57_600_000, 4),
        (3, Kind::Press, 6, 25_200_000, 43_200_000, 8),
    ] {
        let mut luck = stream(n);
        let mut drawn: Vec<u64> = (0..count)
            .map(|_| from + 20 * ((luck.next32() * (span / 20)) >> 32) + phase)
            .collect();
        drawn.sort_unstable();
        let mut last = None;
        for at in drawn {
            if last.is_none_or(|last| at != last && at != last + 900_000) {
                all.push((at, kind));
                last = Some(at);
            }
        }
    }
    all.sort_unstable();
    all.into_iter()
        .map(|(at, kind)| (day * 86_400_000 + at, kind))
        .collect()
}

struct Luck(Stream);

impl Luck {
    fn next32(&mut self) -> u64 {
        self.0.draw() >> 32
    }

    /// von Neumann's draw from the exponential distribution, in units of 2^-32.
    fn exponential(&mut self) -> u64 {
        for whole in 0.. {
            let first = self.next32();
            let (mut last, mut run) = (first, 1);
            loop {
                let next = self.next32();
                if next >= last {
                    break;
                }
                (last, run) = (next, run + 1);
            }
            if run % 2 == 1 {
                return whole << 32 | first;
            }
        }
        unreachable!("the loop has no end")
    }
}

fn room() -> Site {
    let sensor = occupancy::Settings {
        sound: true,
        report: None,
        repeat: None,
        dead_time: Span::ZERO,
        grace: Span::ZERO,
        ..occupancy::Settings::default()
    };
    let button = switch::Settings {
        buttons: vec![switch::Button::Single],
        edge_gap: Span::ZERO,
    };
    Site::default()
        .source("sensor", SourceSettings::Occupancy(sensor))
        .source("switch", SourceSettings::Switch(button))
        .output("lights", lamp())
        .output("receptacle", Output::new(Drive::Receptacle))
        .link("sensor", "lights", Role::PartialOn(Level::from_percent(50)))
        .link("sensor", "receptacle", Role::AutoOn(Level::FULL))
        .button("switch", 0, "lights")
}

fn checksum(changes: &mut [(u64, u32, u8, u8)]) -> u64 {
    changes.sort_unstable();
    let mut hash = 0xCBF2_9CE4_8422_2325_u64;
    let mut take = |bytes: &[u8]| {
        for &byte in bytes {
            hash = (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01B3);
        }
    };
    for &mut (at, room, output, level) in changes {
        take(&at.to_le_bytes());
        take(&room.to_le_bytes());
        take(&[output, level]);
    }
    hash
}

/// Runs rooms one after another, each from a reset, and gives (events, changes, checksum).
fn run(rooms: u32, days: u64) -> (u64, usize, u64) {
    let plan = room().plan();
    let (sensor, unit) = (
        support::source(&plan, "sensor"),
        support::source(&plan, "switch"),
    );
    let mut simulation = Simulation::<Counter>::new(plan, 0, |_, _| Quality::default());
    let mut changes = Vec::new();
    for room in 0..rooms {
        simulation.reset();
        let mut inputs = Vec::new();
        let mut released = 0;
        for (at, kind) in (0..days).flat_map(|day| stimuli(room.into(), day)) {
            match kind {
                Kind::Motion => inputs.push((at, sensor, Stimulus::Motion)),
                Kind::Sound => inputs.push((at, sensor, Stimulus::Sound)),
                Kind::Press => {
                    // Of two presses within 100 ms the second begins when the first has ended.
                    let pressed = (at - 100).max(released + 1);
                    inputs.push((pressed, unit, Stimulus::Press(0)));
                    inputs.push((at, unit, Stimulus::Release(0)));
                    released = at;
                }
            }
        }
        inputs.sort_by_key(|&(at, ..)| at);
        for (at, source, stimulus) in inputs {
            simulation.apply(Instant::from_ms(at), Input::Stimulus(source, stimulus));
        }
        simulation.run_until(Instant::from_ms(days * 86_400_000 + 7_200_000));
        let counter = simulation.recorder_mut();
        let of_room = counter.changes.drain(..);
        changes.extend(of_room.map(|(at, output, level)| (at, room, output, level)));
    }
    let events = simulation.recorder_mut().events;
    (events, changes.len(), checksum(&mut changes))
}

#[test]
fn one_room_for_a_day_does_the_published_work() {
    assert_eq!(run(1, 1), (332, 9, 0xAB63_C0FE_056C_BF64));
}

#[test]
fn one_room_for_a_year_does_the_published_work() {
    assert_eq!(run(1, 365), (115_919, 3_692, 0x049E_A28E_6CF9_2E37));
}

#[test]
fn a_hundred_rooms_do_the_published_work() {
    assert_eq!(run(100, 1), (31_682, 991, 0x7C4D_2D08_B6AB_F99C));
}
