//! The plain search by hand: breadth first, states in 64 bits, in one hash set.

use rustc_hash::FxHashSet;

use crate::child::Found;
use crate::steps::{Room, State};

/// Searches until a state breaks the clause or none is left.
pub(crate) fn search(room: Room) -> Found {
    let start = room.start();
    let mut seen: FxHashSet<u64> = FxHashSet::default();
    seen.insert(start.packed());
    let mut layer = vec![start.packed()];
    let mut next = Vec::new();
    let mut holds = room.holds(&start);
    while holds && !layer.is_empty() {
        for state in layer.drain(..) {
            let state = State::unpacked(state);
            for input in room.inputs() {
                let after = room.step(state, input);
                if seen.insert(after.packed()) {
                    holds &= room.holds(&after);
                    next.push(after.packed());
                }
            }
        }
        std::mem::swap(&mut layer, &mut next);
    }
    Found::states(holds, seen.len() as u64)
}
