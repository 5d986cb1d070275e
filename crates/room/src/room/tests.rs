//! The transition function, against a clock that only remembers.

use alloc::string::ToString;
use alloc::vec;
use core::hash::BuildHasher;

use device::{Note, Span, occupancy};

use super::*;
use crate::{Origin, PlanSource, Who};

/// A clock that only remembers what the room asked of it.
#[derive(Debug, Default)]
struct Memory {
    started: Vec<(Slot, Span)>,
    sent: Vec<(SourceId, Payload)>,
    noted: Vec<(Who, Note)>,
}

impl Clock for Memory {
    fn start(&mut self, slot: Slot, span: Span) {
        self.started.push((slot, span));
    }

    fn stop(&mut self, slot: Slot) {
        self.started.retain(|&(of, _)| of != slot);
    }

    fn remaining(&self, slot: Slot) -> Option<Span> {
        self.started
            .iter()
            .find(|&&(of, _)| of == slot)
            .map(|&(_, span)| span)
    }

    fn send(&mut self, source: SourceId, payload: Payload) {
        self.sent.push((source, payload));
    }

    fn note(&mut self, who: Who, note: Note) {
        self.noted.push((who, note));
    }

    fn turn(&mut self, _: u16, _: clause::Turn) {}

    fn origin(&self) -> Origin {
        Origin::Start
    }
}

const SENSOR: SourceId = SourceId(0);

fn room(settings: occupancy::Settings, daylight: u32) -> Room {
    let plan = Plan {
        sources: vec![PlanSource {
            name: "sensor".to_string(),
            settings: SourceSettings::Occupancy(settings),
            light: LightModel {
                daylight,
                electric: Vec::new(),
            },
            buttons: Vec::new(),
            mains: true,
            listeners: Vec::new(),
        }],
        ..Plan::default()
    };
    Room::new(Arc::new(plan))
}

fn motion() -> Input {
    Input::Stimulus(SENSOR, Stimulus::Motion)
}

#[test]
fn a_stimulus_reaches_its_source_and_no_listener_is_needed() {
    let mut room = room(occupancy::Settings::default(), 0);
    let mut clock = Memory::default();
    room.handle(motion(), &mut clock);
    assert_eq!(clock.sent, [(SENSOR, Payload::Occupied { bright: false })]);
    let delay = room
        .slots()
        .source(SENSOR, occupancy::Timer::Delay.number());
    assert!(clock.started.contains(&(delay, Span::from_minutes(15))));
}

#[test]
fn a_stimulus_of_another_kind_of_source_does_nothing() {
    let mut room = room(occupancy::Settings::default(), 0);
    let before = room.clone();
    let mut clock = Memory::default();
    room.handle(Input::Stimulus(SENSOR, Stimulus::Press(0)), &mut clock);
    assert_eq!(room, before);
    assert!(clock.noted.is_empty() && clock.sent.is_empty());
}

/// OCC-9: what the sensor sees is its share of the daylight.
#[test]
fn a_sensor_sees_its_share_of_the_daylight() {
    let settings = || occupancy::Settings {
        hold_off: Some(Illuminance::from_lux(300)),
        ..occupancy::Settings::default()
    };
    for (share, bright) in [(3_000, false), (3_001, true)] {
        let mut room = room(settings(), share);
        let mut clock = Memory::default();
        room.handle(Input::Daylight(Illuminance::from_lux(1_000)), &mut clock);
        room.handle(motion(), &mut clock);
        assert_eq!(clock.sent, [(SENSOR, Payload::Occupied { bright })]);
    }
}

#[test]
fn light_beyond_what_can_be_said_stays_at_the_most() {
    let room = {
        let mut room = room(occupancy::Settings::default(), u32::MAX);
        let brightest = Illuminance::from_hundredths(u32::MAX);
        room.handle(Input::Daylight(brightest), &mut Memory::default());
        room
    };
    let seen = room.light(&room.plan().sources[0].light, &Memory::default());
    assert_eq!(seen, Illuminance::from_hundredths(u32::MAX));
}

/// SET-1.
#[test]
fn a_changed_span_restarts_a_running_timer_and_stays_changed() {
    let mut room = room(occupancy::Settings::default(), 0);
    let untouched = room.clone();
    let mut clock = Memory::default();
    room.handle(motion(), &mut clock);
    let shorter = occupancy::Settings {
        time_delay: Span::from_minutes(5),
        ..occupancy::Settings::default()
    };
    let change = Change::Source(SENSOR, SourceSettings::Occupancy(shorter.clone()));
    clock.started.clear();
    room.handle(Input::Change(change.into()), &mut clock);
    let delay = room
        .slots()
        .source(SENSOR, occupancy::Timer::Delay.number());
    assert!(clock.started.contains(&(delay, Span::from_minutes(5))));
    assert_eq!(
        room.plan().sources[0].settings,
        SourceSettings::Occupancy(shorter)
    );
    assert_ne!(untouched.plan(), room.plan(), "a clone keeps its own plan");
}

#[test]
fn a_source_without_power_says_so() {
    let mut room = room(occupancy::Settings::default(), 0);
    let mut clock = Memory::default();
    assert!(room.is_powered(Device::Source(SENSOR)));
    room.handle(Input::Power(Device::Source(SENSOR), false), &mut clock);
    assert!(!room.is_powered(Device::Source(SENSOR)));
    room.handle(motion(), &mut clock);
    let ignored = Note::Ignored(device::Ignored::NoPower);
    assert_eq!(clock.noted.last(), Some(&(Who::Source(SENSOR), ignored)));
}

#[test]
fn a_frame_that_nobody_hears_changes_nothing() {
    let mut room = room(occupancy::Settings::default(), 0);
    let before = room.clone();
    let frame = Input::Frame {
        listener: ControllerId(0),
        source: SENSOR,
        payload: Payload::Vacant,
    };
    room.handle(frame, &mut Memory::default());
    assert_eq!(room, before);
}

#[test]
fn equal_rooms_have_equal_hashes_and_become_each_other_again() {
    let hash = |room: &Room| {
        let build = core::hash::BuildHasherDefault::<Fnv>::default();
        build.hash_one(room)
    };
    let fresh = room(occupancy::Settings::default(), 0);
    let mut used = fresh.clone();
    assert_eq!(hash(&used), hash(&fresh));
    used.handle(motion(), &mut Memory::default());
    assert_ne!(used, fresh);
    assert_ne!(hash(&used), hash(&fresh));
    used.clone_from(&fresh);
    assert_eq!(used, fresh);
    assert_eq!(hash(&used), hash(&fresh));
}

/// FNV-1a, for a hash without `std`.
#[derive(Debug)]
struct Fnv(u64);

impl Default for Fnv {
    fn default() -> Self {
        Self(0xCBF2_9CE4_8422_2325)
    }
}

impl Hasher for Fnv {
    fn write(&mut self, bytes: &[u8]) {
        for &byte in bytes {
            self.0 = (self.0 ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01B3);
        }
    }

    fn finish(&self) -> u64 {
        self.0
    }
}
