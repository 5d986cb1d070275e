//! Two rooms that differ in their settings only, step by step beside each other.
//!
//! From every state class that the first may be in, both take every step that there is. While
//! all of these steps are the same, the second is in the same classes, so by induction what the
//! first does the second does too. Where a step differs the search ends. The classes hold more
//! than can happen, so a step that differs may be one that no run takes.

use std::sync::Arc;

use super::system::Halt;
use super::{Keep, Model, Next, Question, Rigor, State};
use crate::classes::{Successor, System};
use crate::zone::Zone;

/// Two rooms of one shape.
#[derive(Debug)]
pub struct Beside {
    one: Model,
    other: Model,
}

impl Beside {
    /// The rooms of two over-approximating questions; `None` where they do not have the same
    /// timers and the same happenings.
    #[must_use]
    pub fn new(one: Question, other: Question) -> Option<Self> {
        let alike = one.rigor == Rigor::Over
            && other.rigor == Rigor::Over
            && one.stimuli == other.stimuli
            && one.ghosts == other.ghosts
            && one.calendars == other.calendars
            && one.delays == other.delays
            && one.prompt == other.prompt
            && one.light_units == other.light_units;
        let mut beside = Self {
            one: Model::new(one),
            other: Model::new(other),
        };
        if beside.one.siblings != beside.other.siblings {
            // What can be exchanged in one of the rooms only keeps its place in both.
            beside.one.keep_places();
            beside.other.keep_places();
        }
        (alike && beside.one.owners == beside.other.owners).then_some(beside)
    }

    /// Visits what follows, or one class that counts as bad where the two part.
    fn compare(
        &self,
        [ones, others]: [Vec<Next>; 2],
        from: impl Fn() -> (State, Zone),
        visit: &mut impl FnMut(Successor<State>),
    ) -> Result<(), Halt> {
        self.one.halted()?;
        self.other.halted()?;
        let mut pairs = ones.iter().zip(&others);
        if ones.len() == others.len() && pairs.all(|(one, other)| one.is_as(other)) {
            ones.into_iter().for_each(|next| visit(next.into()));
        } else {
            let (state, zone) = from();
            visit(Successor {
                state,
                zone,
                cost: 0,
                is_bad: true,
            });
        }
        Ok(())
    }
}

impl System for Beside {
    type State = State;
    type Error = Halt;

    fn start(&self, visit: &mut impl FnMut(Successor<State>)) -> Result<(), Halt> {
        let begun = [&self.one, &self.other].map(|model| {
            let mut all = Vec::new();
            model.begin(Keep::Nothing, &mut |next| all.push(next));
            all
        });
        let first = || (self.one.first_state(), Zone::new());
        self.compare(begun, first, visit)
    }

    fn successors(
        &self,
        state: &State,
        zone: &Zone,
        visit: &mut impl FnMut(Successor<State>),
    ) -> Result<(), Halt> {
        let mut set_otherwise = state.clone();
        set_otherwise.room = state.room.under(Arc::clone(&self.other.question.plan));
        let followed = [(&self.one, state), (&self.other, &set_otherwise)].map(|(model, state)| {
            let mut all = Vec::new();
            model.next(state, zone, Keep::Nothing, &mut |next| all.push(next));
            all
        });
        self.compare(followed, || (state.clone(), zone.clone()), visit)
    }

    fn size(&self, state: &State) -> usize {
        self.one.size(state)
    }
}

impl Next {
    /// Whether a class that follows is the one that follows in the other room.
    fn is_as(&self, other: &Self) -> bool {
        let (one, two) = (&self.state, &other.state);
        self.zone == other.zone
            && self.found == other.found
            && one.room.stands_as(&two.room)
            && one.origins == two.origins
            && one.flights == two.flights
            && (one.late, one.finger, one.last) == (two.late, two.finger, two.last)
            && one.calendars == two.calendars
            && (one.lose, one.cuts) == (two.lose, two.cuts)
            && one.dark == two.dark
    }
}
