//! A room as something the class engine explores, and the way back from its answer to a path.

use std::mem::size_of;

use room::SourceId;

use super::{Model, Next, State};
use crate::classes::{Successor, System};
use crate::path::Path;
use crate::zone::Zone;

/// What ends an exploration of a room without an answer.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Halt {
    /// Something that cannot be carried.
    Beyond(&'static str),
    /// A report that was left out would change something: the source has to report.
    Heeded(SourceId),
}

impl System for Model {
    type State = State;
    type Error = Halt;

    fn start(&self, visit: &mut impl FnMut(Successor<State>)) -> Result<(), Halt> {
        self.begin(false, &mut |next| visit(next.into()));
        self.halted()
    }

    fn successors(
        &self,
        state: &State,
        zone: &Zone,
        visit: &mut impl FnMut(Successor<State>),
    ) -> Result<(), Halt> {
        self.next(state, zone, false, &mut |next| visit(next.into()));
        self.halted()
    }

    fn size(&self, state: &State) -> usize {
        size_of::<State>()
            + state.room.bytes()
            + state.origins.capacity() * size_of::<(u16, room::Origin)>()
            + state.flights.capacity() * size_of::<super::state::Flight>()
            + state.calendars.capacity() * size_of::<u16>()
            + state.dark.capacity() * 8
    }
}

impl From<Next> for Successor<State> {
    fn from(next: Next) -> Self {
        Self {
            state: next.state,
            zone: next.zone,
            cost: next.cost,
            is_bad: next.found,
        }
    }
}

impl Model {
    pub(super) fn halted(&self) -> Result<(), Halt> {
        if let Some(why) = self.trouble.get() {
            return Err(Halt::Beyond(why));
        }
        match self.heeded.get() {
            Some(source) => Err(Halt::Heeded(source)),
            None => Ok(()),
        }
    }

    /// Walks a way through the classes again, by the place of each step among those that may
    /// follow, and keeps what happens on it.
    #[must_use]
    pub fn walk(&self, places: &[u32]) -> Option<Path> {
        let mut path = Path::default();
        let mut at: Option<(State, Zone)> = None;
        for &place in places {
            let mut number = 0;
            let mut here = None;
            let mut visit = |next: Next| {
                if number == place {
                    here = Some(next);
                }
                number += 1;
            };
            match &at {
                None => self.begin(true, &mut visit),
                Some((state, zone)) => self.next(state, zone, true, &mut visit),
            }
            let next = here?;
            path.steps.push(next.step);
            at = Some((next.state, next.zone));
        }
        Some(path)
    }
}
