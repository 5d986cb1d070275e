//! The instants of a path as a system of differences.
//!
//! Invariant: every solution is a run of the path in which no two steps share a millisecond.

use std::collections::BTreeMap;

use super::Path;
use crate::zone::{Ms, Timer};

/// What is known of the instants of a path: of some pairs, how far apart they are at most.
#[derive(Clone, Debug)]
pub struct Timing {
    steps: usize,
    bounds: Vec<Bound>,
}

/// One step is at most this much later than another; less than nothing: that much earlier.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
struct Bound {
    earlier: usize,
    later: usize,
    most: i64,
}

/// A timer that runs.
#[derive(Clone, Copy, Debug)]
struct Running {
    since: usize,
    least: Ms,
    most: Ms,
}

impl Timing {
    /// The instants of a path on which no timer comes nearer than `margin` to elapsing without
    /// doing so; a quarter of its span where that is less.
    ///
    /// # Panics
    /// When a step fires a timer that does not run.
    #[must_use]
    pub fn of(path: &Path, margin: Ms) -> Self {
        let mut timing = Self {
            steps: path.steps.len(),
            bounds: Vec::new(),
        };
        let mut running: BTreeMap<Timer, Running> = BTreeMap::new();
        for (at, step) in path.steps.iter().enumerate() {
            if at > 0 {
                timing.apart(at - 1, at, 1);
            }
            for (timer, left) in &step.remains {
                if let Some(it) = running.get(timer) {
                    let gone = i64::from(it.most) - i64::from(*left);
                    timing.between(it.since, at, gone, gone);
                }
            }
            let fired: Vec<Timer> = step.fired.clone();
            for timer in &fired {
                // A timer may be started and elapse at one instant; then it bounds nothing.
                if let Some(it) = running.remove(timer) {
                    timing.between(it.since, at, it.least.into(), it.most.into());
                }
            }
            timing.stop(&mut running, path, at, margin);
            for it in running.values() {
                timing.within(it.since, at, spare(it.most, margin.max(1)));
            }
            timing.start(&mut running, path, at);
        }
        timing
    }

    /// Forgets the timers that a step stops.
    fn stop(&mut self, running: &mut BTreeMap<Timer, Running>, path: &Path, at: usize, margin: Ms) {
        for timer in &path.steps[at].stopped {
            if let Some(it) = running.remove(timer) {
                let outlived = path.steps[at].outlived.contains(timer);
                let margin = if outlived { margin.max(1) } else { margin };
                self.within(it.since, at, spare(it.most, margin));
            }
        }
    }

    /// Keeps the timers that a step leaves running.
    fn start(&mut self, running: &mut BTreeMap<Timer, Running>, path: &Path, at: usize) {
        let step = &path.steps[at];
        for (place, &(timer, least, most)) in step.started.iter().enumerate() {
            let again = step.started[place + 1..].iter().any(|it| it.0 == timer);
            if again || !path.runs_after(timer, at) {
                continue;
            }
            running.insert(
                timer,
                Running {
                    since: at,
                    least,
                    most,
                },
            );
        }
    }

    /// Puts a step at this many milliseconds.
    pub fn fix(&mut self, step: usize, at: i64) {
        self.between(0, step, at, at);
    }

    /// The least instants, in milliseconds; `None` when there are none at all.
    #[must_use]
    pub fn earliest(&self) -> Option<Vec<i64>> {
        let mut at = vec![0; self.steps];
        for _ in 0..=self.steps {
            let mut moved = false;
            for bound in &self.bounds {
                let least = at[bound.later] - bound.most;
                if at[bound.earlier] < least {
                    at[bound.earlier] = least;
                    moved = true;
                }
            }
            if at.first().is_some_and(|first| *first > 0) {
                return None;
            }
            if !moved {
                return Some(at);
            }
        }
        None
    }

    /// The latest instant of a step; `None` when it may be as late as one likes. Only of a
    /// system that has instants at all.
    #[must_use]
    pub fn latest(&self, step: usize) -> Option<i64> {
        let mut at: Vec<Option<i64>> = vec![None; self.steps];
        *at.first_mut()? = Some(0);
        for _ in 0..self.steps {
            let mut moved = false;
            for bound in &self.bounds {
                let Some(most) = at[bound.earlier].map(|at| at + bound.most) else {
                    continue;
                };
                if at[bound.later].is_none_or(|at| at > most) {
                    at[bound.later] = Some(most);
                    moved = true;
                }
            }
            if !moved {
                break;
            }
        }
        at[step]
    }

    fn between(&mut self, earlier: usize, later: usize, least: i64, most: i64) {
        self.apart(earlier, later, least);
        self.within(earlier, later, most);
    }

    /// A step is at least this much later than another.
    fn apart(&mut self, earlier: usize, later: usize, least: i64) {
        self.bounds.push(Bound {
            earlier: later,
            later: earlier,
            most: -least,
        });
    }

    fn within(&mut self, earlier: usize, later: usize, most: i64) {
        self.bounds.push(Bound {
            earlier,
            later,
            most,
        });
    }
}

impl Path {
    /// Whether a timer that a step starts runs when the step is over.
    fn runs_after(&self, timer: Timer, at: usize) -> bool {
        let step = &self.steps[at];
        let count = |all: &[Timer]| all.iter().filter(|it| **it == timer).count();
        let started = step.started.iter().filter(|it| it.0 == timer).count();
        let ended = count(&step.stopped) + count(&step.fired);
        // A timer that ran before has ended once more than it was started, or else it runs on.
        let ran = at > 0 && self.ran_before(timer, at);
        usize::from(ran) + started > ended
    }

    /// Whether a timer runs when a step begins.
    fn ran_before(&self, timer: Timer, at: usize) -> bool {
        let count = |all: &[Timer]| all.iter().filter(|it| **it == timer).count();
        let before = &self.steps[..at];
        let started =
            |step: &super::PathStep| step.started.iter().filter(|it| it.0 == timer).count();
        let starts: usize = before.iter().map(started).sum();
        let ends: usize = before
            .iter()
            .map(|step| count(&step.stopped) + count(&step.fired))
            .sum();
        starts > ends
    }
}

/// How long a timer may have run that does not elapse.
fn spare(most: Ms, margin: Ms) -> i64 {
    i64::from(most) - i64::from(margin.min((most / 4).max(1)))
}
