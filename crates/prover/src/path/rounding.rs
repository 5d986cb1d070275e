//! From the shortest run of a path to one that a person would write.
//!
//! The margin comes first: a run that needs no tie tells more than one in which two things meet
//! in a millisecond. Then the instants at which something comes from outside are moved, in
//! order, to the roundest ones there are.

use super::{Path, Timing};
use crate::zone::Ms;

/// How round an instant may be, the roundest first, in milliseconds.
pub const GRAINS: [i64; 14] = [
    1_800_000, 900_000, 600_000, 300_000, 60_000, 30_000, 15_000, 10_000, 5_000, 1_000, 500, 100,
    10, 1,
];

/// How far from a tie a run is tried to stay, in milliseconds.
const MARGINS: [Ms; 9] = [60_000, 30_000, 10_000, 5_000, 1_000, 100, 10, 1, 0];

impl Path {
    /// Instants in milliseconds, one for each step, for which `fails` says yes: as far from ties
    /// as may be, and with these as short as may be. `None` when there are none.
    pub fn schedule(&self, fails: &mut impl FnMut(&[i64]) -> bool) -> Option<Vec<i64>> {
        let margin = self.margin(fails)?;
        Timing::of(self, margin).earliest()
    }

    /// The largest margin that leaves a run for which `fails` says yes.
    fn margin(&self, fails: &mut impl FnMut(&[i64]) -> bool) -> Option<Ms> {
        MARGINS.into_iter().find(|margin| {
            let at = Timing::of(self, *margin).earliest();
            at.is_some_and(|at| fails(&at))
        })
    }

    /// The same with round instants at the steps that `moves` names, where `fails` still says
    /// yes. `likes` may name instants of a step that are better than round ones, seen from those
    /// of the steps before it.
    pub fn rounded(
        &self,
        moves: &[usize],
        likes: impl Fn(usize, &[i64]) -> Vec<i64>,
        fails: &mut impl FnMut(&[i64]) -> bool,
    ) -> Option<Vec<i64>> {
        let margin = self.margin(fails)?;
        let mut timing = Timing::of(self, margin);
        let mut best = timing.earliest()?;
        // Without a margin there is more to choose from, where the margin leaves nothing round.
        for &step in moves {
            let (least, most) = (best[step], timing.latest(step));
            let liked = likes(step, &best).into_iter();
            let liked = liked.filter(|at| *at >= least && most.is_none_or(|most| *at <= most));
            let mut tried = Vec::new();
            for at in liked.chain(roundest(least, most)) {
                if tried.contains(&at) {
                    continue;
                }
                tried.push(at);
                let mut fixed = timing.clone();
                fixed.fix(step, at);
                let Some(all) = fixed.earliest() else {
                    continue;
                };
                if at == best[step] || fails(&all) {
                    timing = fixed;
                    best = all;
                    break;
                }
            }
        }
        Some(best)
    }
}

/// The instants from `least` to `most` that are worth a try, the roundest first: of each grain
/// the first, unless it would make the run much longer.
pub fn roundest(least: i64, most: Option<i64>) -> impl Iterator<Item = i64> {
    let slack = MINUTE.max(least / 8);
    let most = most.unwrap_or(i64::MAX).min(least.saturating_add(slack));
    GRAINS.into_iter().filter_map(move |grain| {
        let at = least.div_euclid(grain) * grain;
        let at = if at < least { at + grain } else { at };
        (at <= most).then_some(at)
    })
}

/// An instant may come this much later for the sake of a round number, in milliseconds.
const MINUTE: i64 = 60_000;
