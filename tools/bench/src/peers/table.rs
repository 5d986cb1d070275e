//! Written by hand: rooms one after another, each over a table of a few timers.
//!
//! Rooms that do not talk to each other need no common queue, and few timers need no heap.

use std::thread;

use crate::workload::{
    BUS_MS, Change, Controller, DELAY_MS, Message, Stimuli, Stimulus, WINDOW_MS, Work,
};

/// Runs every room on one thread.
pub(crate) fn run(stimuli: &Stimuli) -> Work {
    run_rooms(stimuli, 0, stimuli.rooms())
}

/// Runs half of the rooms on each of two threads.
pub(crate) fn run_two(stimuli: &Stimuli) -> Work {
    let half = stimuli.rooms() / 2;
    thread::scope(|scope| {
        let other = scope.spawn(|| run_rooms(stimuli, half, stimuli.rooms()));
        let mut work = run_rooms(stimuli, 0, half);
        let mut rest = other.join().expect("the loop does not panic");
        work.events += rest.events;
        work.changes.append(&mut rest.changes);
        work
    })
}

fn run_rooms(stimuli: &Stimuli, from: u32, to: u32) -> Work {
    let mut work = Work::default();
    for number in from..to {
        work.events += run_room(stimuli, number, &mut work.changes);
    }
    work
}

fn run_room(stimuli: &Stimuli, number: u32, changes: &mut Vec<Change>) -> u64 {
    let mut events = 0;
    let mut due = [NEVER; 4];
    let mut list = stimuli.of(number).iter();
    let mut next = list.next();
    due[STIMULUS] = next.map_or(NEVER, |timed| timed.ms());
    let mut said = Message::Vacant;
    let mut window_end = 0;
    let mut controller = Controller::default();
    loop {
        let mut slot = 0;
        for other in 1..due.len() {
            if due[other] < due[slot] {
                slot = other;
            }
        }
        let ms = due[slot];
        due[slot] = NEVER;
        match slot {
            _ if ms == NEVER => return events,
            STIMULUS => {
                let occupied = due[DEADLINE] != NEVER;
                match next.map(|timed| timed.stimulus()) {
                    Some(Stimulus::Motion) => {
                        if !occupied {
                            said = Message::Occupied;
                            due[SENSOR] = ms + BUS_MS;
                        }
                        due[DEADLINE] = ms + DELAY_MS;
                        window_end = ms + WINDOW_MS;
                    }
                    Some(Stimulus::Sound) if occupied && ms <= window_end => {
                        due[DEADLINE] = ms + DELAY_MS;
                    }
                    Some(Stimulus::Press) => due[SWITCH] = ms + BUS_MS,
                    _ => {}
                }
                next = list.next();
                due[STIMULUS] = next.map_or(NEVER, |timed| timed.ms());
            }
            DEADLINE => {
                said = Message::Vacant;
                due[SENSOR] = ms + BUS_MS;
            }
            SENSOR => controller.take(ms, number, said, changes),
            _ => controller.take(ms, number, Message::Toggle, changes),
        }
        events += 1;
    }
}

const NEVER: u64 = u64::MAX;

// One slot each for the next stimulus, the vacancy deadline and a message of each source: the
// events of one source are never closer than the bus is slow.
const STIMULUS: usize = 0;
const DEADLINE: usize = 1;
const SENSOR: usize = 2;
const SWITCH: usize = 3;
