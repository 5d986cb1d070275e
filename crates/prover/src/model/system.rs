//! A room as something the class engine explores, and the way back from its answer to a path.

use std::mem::size_of;

use room::SourceId;

use super::{Keep, Lead, Model, Next, Rigor, State};
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
        self.begin(Keep::Nothing, &mut |next| visit(next.into()));
        self.halted()
    }

    fn successors(
        &self,
        state: &State,
        zone: &Zone,
        visit: &mut impl FnMut(Successor<State>),
    ) -> Result<(), Halt> {
        self.next(state, zone, Keep::Nothing, &mut |next| visit(next.into()));
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
        debug_assert_eq!(
            self.question.rigor,
            Rigor::Exact,
            "an over-approximation counts its steps otherwise where a path is kept"
        );
        self.walk_keeping(places, Keep::Path)
    }

    /// What happens on a way to what is looked for, as an exploration met it.
    #[must_use]
    pub fn lead(&self, places: &[u32]) -> Option<Lead> {
        let path = self.walk_keeping(places, Keep::Story)?;
        Some(Lead::of(&path, &self.question.plan))
    }

    fn walk_keeping(&self, places: &[u32], keep: Keep) -> Option<Path> {
        let mut is_found = false;
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
                None => self.begin(keep, &mut visit),
                Some((state, zone)) => self.next(state, zone, keep, &mut visit),
            }
            let next = here?;
            is_found = next.found;
            path.steps.push(next.step);
            at = Some((next.state, next.zone));
        }
        is_found.then_some(path)
    }
}
