//! Moments of one instant that are one, because nobody can tell them apart.
//!
//! Where the levels on their way stand is tried case by case, and mostly nothing comes of it: the
//! room has done the same in all of them. Such moments go on as one, which remembers the cases
//! that led to it, for whatever the instant still brings.

use std::hash::{Hash, Hasher};

use hashbrown::HashTable;
use rustc_hash::FxHasher;

use super::Model;
use super::instant::Instant;
use super::levels::Case;

/// The moments that an instant has been at: what may still happen in it does not depend on the way
/// there, so each is gone on from once.
#[derive(Debug, Default)]
pub(super) struct Seen {
    moments: HashTable<(u64, Instant)>,
    /// The moments that were met, new or not.
    met: usize,
}

impl Seen {
    /// Whether one moment more is too much for one instant. A path that is kept was explored
    /// before.
    pub(super) fn is_too_much(&mut self, moment: &Instant) -> bool {
        self.met += usize::from(moment.step.is_none());
        self.met > MOST
    }

    /// Whether a moment is new. A path that is kept has every way.
    pub(super) fn is_new(&mut self, moment: &Instant) -> bool {
        if moment.step.is_some() {
            return true;
        }
        let hash = moment.hash();
        let is_same = |(of, it): &(u64, Instant)| {
            *of == hash && it.is_like(moment) && it.cases == moment.cases
        };
        let is_new = self.moments.find(hash, is_same).is_none();
        if is_new {
            self.moments
                .insert_unique(hash, (hash, moment.clone()), |(hash, _)| *hash);
        }
        is_new
    }
}

/// The most moments of one instant: more than any room of people and lamps has, and few enough to
/// hold at once.
const MOST: usize = 200_000;

impl Model {
    /// Moments that differ only in where their levels on the way stand, and no clause sees it:
    /// one moment, in which they may stand here or there.
    pub(super) fn together(&self, moments: Vec<Instant>) -> Vec<Instant> {
        if !self.is_over() || moments.len() < 2 {
            return moments;
        }
        let mut apart: Vec<Together> = Vec::with_capacity(moments.len());
        for mut moment in moments {
            self.forget_sights(&mut moment.state.room);
            let hash = moment.hash();
            let known = (apart.iter_mut()).find(|it| it.hash == hash && it.moment.is_like(&moment));
            match known {
                Some(known) => known.widen(&moment),
                None => apart.push(Together::of(moment, hash)),
            }
        }
        apart.into_iter().map(Together::into_moment).collect()
    }
}

/// Moments that are one.
struct Together {
    hash: u64,
    moment: Instant,
    /// The cases of all of them; `None`: every case, because one of them did not ask.
    cases: Option<Vec<Case>>,
}

impl Together {
    fn of(moment: Instant, hash: u64) -> Self {
        Self {
            hash,
            cases: moment.cases.as_deref().map(<[Case]>::to_vec),
            moment,
        }
    }

    /// Adds the cases of a moment that is like these.
    fn widen(&mut self, other: &Instant) {
        match (&mut self.cases, &other.cases) {
            (Some(cases), Some(more)) => cases.extend(more.iter().cloned()),
            (cases, _) => *cases = None,
        }
    }

    fn into_moment(self) -> Instant {
        Instant {
            cases: self.cases.map(Into::into),
            ..self.moment
        }
    }
}

impl Instant {
    /// A hash of what [`Self::is_like`] compares.
    fn hash(&self) -> u64 {
        let mut hasher = FxHasher::default();
        (&self.state, &self.zone, self.loud).hash(&mut hasher);
        hasher.finish()
    }

    /// Whether two moments of one instant differ in where their levels on the way stand at most.
    fn is_like(&self, other: &Self) -> bool {
        let Self {
            state,
            zone,
            order,
            begins: _,
            turns,
            events,
            loud,
            signs,
            shifts,
            fresh,
            paced,
            cases: _,
            cost,
            step,
            story: _,
        } = self;
        let no_step = step.is_none() && other.step.is_none();
        no_step
            && (*order, *events, *loud, *cost)
                == (other.order, other.events, other.loud, other.cost)
            && (zone, turns, signs, shifts, fresh, paced)
                == (
                    &other.zone,
                    &other.turns,
                    &other.signs,
                    &other.shifts,
                    &other.fresh,
                    &other.paced,
                )
            && *state == other.state
    }
}

#[cfg(test)]
mod tests {
    use std::rc::Rc;
    use std::sync::Arc;

    use device::Span;
    use room::{Plan, Slot};

    use super::*;
    use crate::model::{Faults, Goal, Keep, Levels, Question, Rigor};
    use crate::zone::Zone;

    fn model(rigor: Rigor) -> Model {
        Model::new(Question {
            plan: Arc::new(Plan::default()),
            stimuli: Vec::new(),
            ghosts: Vec::new(),
            calendars: Vec::new(),
            loose_calendars: false,
            entries_cost: false,
            lead: None,
            delays: Vec::new(),
            faults: Faults::default(),
            tolerance: 0,
            one_hand: true,
            apart: true,
            rigor,
            goal: Goal::Broken,
            levels: Levels::default(),
            watches_levels: true,
            follows_levels: false,
            doers: Vec::new(),
            remembered: Vec::new(),
            free_reports: Vec::new(),
            makes_up: Vec::new(),
            prompt: Vec::new(),
            light_units: Vec::new(),
            seen_presses: Vec::new(),
        })
    }

    fn case(ms: u64) -> Case {
        vec![(Slot(0), Span::from_ms(ms))]
    }

    fn moment(model: &Model, cases: &[u64]) -> Instant {
        let mut moment = Instant::new(model.first_state(), Zone::new(), Keep::Nothing);
        moment.cases = Some(cases.iter().map(|ms| case(*ms)).collect());
        moment
    }

    #[test]
    fn moments_alike_are_one_with_the_cases_of_all() {
        let model = model(Rigor::Over);
        let moments = [&[1][..], &[2, 3], &[4]];
        let one = model.together(moments.map(|cases| moment(&model, cases)).to_vec());
        let cases: Vec<_> = one.iter().map(|it| it.cases.clone()).collect();
        let all: Rc<[Case]> = [1, 2, 3, 4].map(case).into();
        assert_eq!(cases, [Some(all)]);
    }

    #[test]
    fn moments_in_which_nobody_asked_stay_open_to_every_case() {
        let model = model(Rigor::Over);
        let mut open = moment(&model, &[1]);
        open.cases = None;
        let one = model.together(vec![moment(&model, &[2]), open]);
        assert_eq!(one.iter().map(|it| &it.cases).collect::<Vec<_>>(), [&None]);
    }

    /// A moment, changed in one thing.
    type Changed = fn(&mut Instant);

    #[test]
    fn moments_that_differ_stay_apart() {
        let model = model(Rigor::Over);
        let changes: [Changed; 9] = [
            |it| it.state.lose = 1,
            |it| it.zone.start(7, 5, 5),
            |it| it.loud = true,
            |it| it.events = 1,
            |it| it.cost = 1,
            |it| it.shifts.push(Span::ZERO),
            |it| it.fresh.push((Slot(0), Span::ZERO)),
            |it| it.paced.push((Slot(0), Span::ZERO)),
            |it| it.signs.push(room::Signs::default()),
        ];
        for change in changes {
            let mut other = moment(&model, &[2]);
            change(&mut other);
            let apart = model.together(vec![moment(&model, &[1]), other]);
            assert_eq!(apart.len(), 2, "{:?}", apart[1 % apart.len()]);
        }
    }

    /// Each case of an exact search is a run of its own.
    #[test]
    fn an_exact_search_keeps_all_apart() {
        let model = model(Rigor::Exact);
        let moments = vec![moment(&model, &[1]), moment(&model, &[2])];
        assert_eq!(model.together(moments).len(), 2);
    }
}
