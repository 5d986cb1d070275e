//! Written by hand: all rooms in one loop over one binary heap.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use crate::workload::{BUS_MS, Controller, DELAY_MS, Message, Stimuli, Stimulus, WINDOW_MS, Work};

/// Runs every room.
pub(crate) fn run(stimuli: &Stimuli) -> Work {
    let mut work = Work::default();
    let mut rooms: Vec<Room> = Vec::with_capacity(stimuli.rooms() as usize);
    let mut heap = BinaryHeap::with_capacity(3 * stimuli.rooms() as usize);
    for room in 0..stimuli.rooms() {
        rooms.push(Room::default());
        if let Some(first) = stimuli.of(room).first() {
            heap.push(Reverse(key(first.ms(), room, STIMULUS)));
        }
    }
    while let Some(Reverse(next)) = heap.pop() {
        let (ms, number, kind) = (next >> 28, (next >> 4) as u32 & 0xFF_FFFF, next & 0xF);
        let room = &mut rooms[number as usize];
        match kind {
            STIMULUS => {
                work.events += 1;
                let list = stimuli.of(number);
                let stimulus = list[room.taken].stimulus();
                room.taken += 1;
                if let Some(following) = list.get(room.taken) {
                    heap.push(Reverse(key(following.ms(), number, STIMULUS)));
                }
                match stimulus {
                    Stimulus::Motion => {
                        room.deadline = ms + DELAY_MS;
                        room.window_end = ms + WINDOW_MS;
                        if !room.occupied {
                            room.occupied = true;
                            // One entry a room: when it comes up too early it is put off.
                            heap.push(Reverse(key(room.deadline, number, DEADLINE)));
                            heap.push(Reverse(key(ms + BUS_MS, number, Message::Occupied as u64)));
                        }
                    }
                    Stimulus::Sound => {
                        if room.occupied && ms <= room.window_end {
                            room.deadline = ms + DELAY_MS;
                        }
                    }
                    Stimulus::Press => {
                        heap.push(Reverse(key(ms + BUS_MS, number, Message::Toggle as u64)));
                    }
                }
            }
            DEADLINE if ms < room.deadline => {
                heap.push(Reverse(key(room.deadline, number, DEADLINE)));
            }
            DEADLINE => {
                work.events += 1;
                room.occupied = false;
                heap.push(Reverse(key(ms + BUS_MS, number, Message::Vacant as u64)));
            }
            _ => {
                work.events += 1;
                let message = match kind {
                    0 => Message::Occupied,
                    1 => Message::Vacant,
                    _ => Message::Toggle,
                };
                room.controller.take(ms, number, message, &mut work.changes);
            }
        }
    }
    work
}

#[derive(Default)]
struct Room {
    deadline: u64,
    window_end: u64,
    taken: usize,
    occupied: bool,
    controller: Controller,
}

/// Time, room and kind in one number that sorts by time: 36, 24 and 4 bits, enough for two
/// years and 16 million rooms. Messages have kinds 0 to 2.
fn key(ms: u64, room: u32, kind: u64) -> u64 {
    ms << 28 | u64::from(room) << 4 | kind
}

const STIMULUS: u64 = 3;
const DEADLINE: u64 = 4;
