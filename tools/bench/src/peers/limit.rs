//! Written by hand without any queue: the practical limit.
//!
//! One pass over the stimuli of a room; the only timer is looked at between two of them, and a
//! message is handled when it is sent, because nothing can overtake it.

use crate::workload::{
    BUS_MS, Change, Controller, DELAY_MS, Message, Stimuli, Stimulus, WINDOW_MS, Work,
};

/// Runs every room.
pub(crate) fn run(stimuli: &Stimuli) -> Work {
    let mut work = Work {
        events: stimuli.len(),
        ..Work::default()
    };
    for room in 0..stimuli.rooms() {
        work.events += run_room(stimuli, room, &mut work.changes);
    }
    work
}

/// Runs one room; gives the events that are not stimuli.
fn run_room(stimuli: &Stimuli, room: u32, changes: &mut Vec<Change>) -> u64 {
    let mut events = 0;
    let mut deadline = u64::MAX;
    let mut window_end = 0;
    let mut controller = Controller::default();
    for timed in stimuli.of(room) {
        let ms = timed.ms();
        if deadline < ms {
            controller.take(deadline + BUS_MS, room, Message::Vacant, changes);
            deadline = u64::MAX;
            events += 2;
        }
        match timed.stimulus() {
            Stimulus::Motion => {
                if deadline == u64::MAX {
                    controller.take(ms + BUS_MS, room, Message::Occupied, changes);
                    events += 1;
                }
                deadline = ms + DELAY_MS;
                window_end = ms + WINDOW_MS;
            }
            Stimulus::Sound => {
                if deadline != u64::MAX && ms <= window_end {
                    deadline = ms + DELAY_MS;
                }
            }
            Stimulus::Press => {
                controller.take(ms + BUS_MS, room, Message::Toggle, changes);
                events += 1;
            }
        }
    }
    if deadline != u64::MAX {
        controller.take(deadline + BUS_MS, room, Message::Vacant, changes);
        events += 2;
    }
    events
}
