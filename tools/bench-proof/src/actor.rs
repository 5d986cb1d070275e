//! The room as a model of stateright.

use stateright::{Checker, Model, Property};

use crate::child::Found;
use crate::steps::{Input, Room, State};

impl Model for Room {
    type State = State;
    type Action = Input;

    fn init_states(&self) -> Vec<State> {
        vec![self.start()]
    }

    fn actions(&self, _: &State, actions: &mut Vec<Input>) {
        actions.extend(self.inputs());
    }

    fn next_state(&self, state: &State, input: Input) -> Option<State> {
        Some(self.step(*state, input))
    }

    fn properties(&self) -> Vec<Property<Self>> {
        vec![Property::always(CLAUSE, |room: &Self, state: &State| {
            room.holds(state)
        })]
    }
}

/// Checks breadth first, on one thread.
pub(crate) fn check(room: Room) -> Found {
    let checker = room.checker().threads(1).spawn_bfs().join();
    let holds = checker.discovery(CLAUSE).is_none();
    Found::states(holds, checker.unique_state_count() as u64)
}

const CLAUSE: &str = "dark 75 minutes after the last motion";
