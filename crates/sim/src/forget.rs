//! Runs that go on for days: steps that nobody needs any more are forgotten.
//!
//! Invariants: what is forgotten changes nothing that happens; whatever stays keeps everything
//! that led to it. Only a timer that starts itself again and again would lead back for ever: its
//! old starts that stay are caused by what started it at first.

use crate::{Full, Simulation, Snapshot, Step, StepId, What};

impl Simulation<Full> {
    /// Forgets the first `old` steps, but for those that are `wanted` and all that led to what
    /// stays. `snapshots` are those that were taken after them and will still be used. The answer
    /// is which of the first `old` steps stay, by the numbers they had: the trace begins with
    /// them.
    ///
    /// # Panics
    ///
    /// When a snapshot was taken earlier.
    pub fn forget<'a>(
        &mut self,
        old: usize,
        wanted: impl IntoIterator<Item = StepId>,
        snapshots: impl IntoIterator<Item = &'a mut Snapshot<Full>>,
    ) -> Vec<StepId> {
        let mut snapshots: Vec<_> = snapshots.into_iter().collect();
        let steps = &self.world.recorder.trace.steps;
        let old = old.min(steps.len());
        let mut stays = vec![false; old];
        for id in wanted {
            mark(&mut stays, Some(id));
        }
        for step in &steps[old..] {
            mark(&mut stays, step.cause);
        }
        for cause in self.world.causes_mut() {
            mark(&mut stays, *cause);
        }
        for snapshot in &mut snapshots {
            assert!(snapshot.steps >= old, "a snapshot needs what is forgotten");
            for cause in snapshot.simulation.world.causes_mut() {
                mark(&mut stays, *cause);
            }
        }
        let steps = &mut self.world.recorder.trace.steps;
        for index in (0..old).rev() {
            let (earlier, later) = steps.split_at_mut(index);
            let step = &mut later[0];
            if stays[index] {
                while let Some(before) = started_before(earlier, step) {
                    step.cause = before;
                }
                mark(&mut stays, step.cause);
            }
        }
        let numbers = Numbers::of(&stays);
        let mut index = 0;
        steps.retain(|_| {
            index += 1;
            stays.get(index - 1).copied().unwrap_or(true)
        });
        for step in steps.iter_mut() {
            numbers.turn(&mut step.cause);
        }
        self.world.causes_mut().for_each(|it| numbers.turn(it));
        for snapshot in snapshots {
            snapshot.steps = numbers.now(snapshot.steps);
            let world = &mut snapshot.simulation.world;
            world.causes_mut().for_each(|it| numbers.turn(it));
        }
        numbers.stay
    }
}

impl Snapshot<Full> {
    /// How many steps had been kept when it was taken, less those that were forgotten since.
    #[must_use]
    pub fn steps(&self) -> usize {
        self.steps
    }
}

/// The old numbers of what stays, in order, and of how many.
struct Numbers {
    stay: Vec<StepId>,
    of: usize,
}

impl Numbers {
    fn of(stays: &[bool]) -> Self {
        let stay = (0..)
            .map(StepId::at)
            .zip(stays)
            .filter(|(_, stays)| **stays);
        Self {
            stay: stay.map(|(id, _)| id).collect(),
            of: stays.len(),
        }
    }

    /// What a number is now; of a step that is forgotten, that of the next one.
    fn now(&self, number: usize) -> usize {
        match number.checked_sub(self.of) {
            Some(later) => self.stay.len() + later,
            None => self.stay.partition_point(|id| id.index() < number),
        }
    }

    fn turn(&self, cause: &mut Option<StepId>) {
        *cause = cause.map(|id| StepId::at(self.now(id.index())));
    }
}

fn mark(stays: &mut [bool], cause: Option<StepId>) {
    if let Some(it) = cause.and_then(|id| stays.get_mut(id.index())) {
        *it = true;
    }
}

/// Of a step that starts a timer because that very timer has elapsed: what caused it to start
/// before.
fn started_before(earlier: &[Step], step: &Step) -> Option<Option<StepId>> {
    let What::Started(slot, _) = step.what else {
        return None;
    };
    let at = |id: StepId| earlier.get(id.index());
    let elapsed = at(step.cause?).filter(|it| it.what == What::Elapsed(slot))?;
    let start =
        at(elapsed.cause?).filter(|it| matches!(it.what, What::Started(it, _) if it == slot))?;
    Some(start.cause)
}
