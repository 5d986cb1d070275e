//! Difference-bound matrices over the remaining times of running timers.
//!
//! A zone is a set of vectors of whole milliseconds, one component a running timer: all those
//! that satisfy bounds on single components and on differences of two (Dill 1989, "Timing
//! assumptions and verification of finite-state concurrent systems"; the remaining times in
//! place of clocks are those of Berthomieu and Menasche 1983). All bounds are closed, so whole
//! milliseconds lose nothing against dense time (Henzinger, Manna and Pnueli 1992, "What good are
//! digital clocks?").
//!
//! Invariants: a zone is never empty and always canonical (each bound is as tight as the others
//! imply), so that equal sets are equal values; nothing remaining is below 0; no operation but
//! [`Zone::widen`] takes more than n² steps.

use std::cmp::max;

use device::Span;

/// A number of milliseconds, held in 32 bits: ± 6 days are enough for every timer.
pub type Ms = i32;

/// A timer: a slot of the room, or above those a frame on its way.
pub type Timer = u16;

/// The longest span that a timer may have: 2²⁹ ms, a little over six days.
pub const LONGEST: Ms = 1 << 29;

/// No bound: the most that remains on a timer that may take as long as it likes.
pub const INFINITE: Ms = 1 << 30;

/// The grids of [`Zone::widen`]: none at first, then 10 ms, which is what a frame takes, 1 s, 60 s
/// and 15 min.
pub const GRIDS: [Ms; 5] = [1, 10, 1_000, 60_000, 900_000];

/// How often a bound grows on each grid.
const GROWTHS: u8 = 4;

/// A span is too long for a zone.
#[derive(Clone, Copy, Debug, Eq, PartialEq, thiserror::Error)]
#[error("a span of {0} ms is longer than the {LONGEST} ms that a proof can hold")]
pub struct TooLong(pub u64);

/// A bound that has grown once more, rounded up to its grid: after each four times the next of
/// [`GRIDS`].
pub(crate) fn rounded(bound: Ms, growths: &mut u8) -> Ms {
    let grid = GRIDS[usize::from(*growths / GROWTHS).min(GRIDS.len() - 1)];
    *growths = growths.saturating_add(1);
    match bound.rem_euclid(grid) {
        _ if bound >= LONGEST => bound,
        0 => bound,
        rest => (bound + (grid - rest)).min(LONGEST),
    }
}

/// The span in the unit of zones.
///
/// # Errors
///
/// The span is longer than [`LONGEST`].
pub fn span_ms(span: Span) -> Result<Ms, TooLong> {
    match Ms::try_from(span.as_ms()) {
        Ok(ms) if ms <= LONGEST => Ok(ms),
        _ => Err(TooLong(span.as_ms())),
    }
}

/// The set of remaining times that the timers may have together.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Zone {
    timers: Vec<Timer>,
    /// Row-major, a row and a column for each timer after those of the constant 0: the entry in
    /// row i and column j is the most that component i exceeds component j.
    bounds: Vec<Ms>,
}

impl Default for Zone {
    fn default() -> Self {
        Self::new()
    }
}

impl Zone {
    /// No timer runs.
    #[must_use]
    pub fn new() -> Self {
        Self {
            timers: Vec::new(),
            bounds: vec![0],
        }
    }

    /// The zone with these timers and this canonical matrix.
    pub(crate) fn from_parts(timers: &[Timer], bounds: &[Ms]) -> Self {
        debug_assert_eq!(bounds.len(), (timers.len() + 1).pow(2));
        Self {
            timers: timers.to_vec(),
            bounds: bounds.to_vec(),
        }
    }

    /// Starts a timer, anew if it runs: anything in `least..=most` remains on it, whatever
    /// remains on the others. `most` may be [`INFINITE`].
    ///
    /// # Panics
    ///
    /// `least` is negative, above `most`, or one of them is above [`LONGEST`] (see [`span_ms`]).
    pub fn start(&mut self, timer: Timer, least: Ms, most: Ms) {
        assert!(
            0 <= least && least <= most && least <= LONGEST,
            "a timer starts with {least}..={most} ms"
        );
        assert!(
            most <= LONGEST || most == INFINITE,
            "a timer starts with at most {most} ms"
        );
        let row = match self.timers.binary_search(&timer) {
            Ok(at) => at + 1,
            Err(at) => {
                self.insert(at + 1);
                self.timers.insert(at, timer);
                at + 1
            }
        };
        let size = self.size();
        for other in 0..size {
            self.bounds[row * size + other] = plus(most, self.bounds[other]);
            self.bounds[other * size + row] = plus(self.bounds[other * size], -least);
        }
        self.bounds[row * size + row] = 0;
    }

    /// Stops a timer; one that does not run stays so.
    pub fn stop(&mut self, timer: Timer) {
        if let Ok(at) = self.timers.binary_search(&timer) {
            self.remove(at + 1);
            self.timers.remove(at);
        }
    }

    /// What remains on `from` remains on `to` from now on, and `from` stops. A `to` that runs is
    /// forgotten first; without `from` nothing changes.
    pub fn rename(&mut self, from: Timer, to: Timer) {
        if from == to || !self.is_running(from) {
            return;
        }
        self.stop(to);
        let old = self.row(from);
        let size = self.size();
        let row: Vec<Ms> = self.bounds[old * size..(old + 1) * size].to_vec();
        let column: Vec<Ms> = (0..size).map(|at| self.bounds[at * size + old]).collect();
        self.stop(from);
        let at = match self.timers.binary_search(&to) {
            Ok(at) | Err(at) => at,
        };
        self.insert(at + 1);
        self.timers.insert(at, to);
        let new = at + 1;
        let others = (0..size).filter(|&other| other != old);
        for (place, other) in (0..size).filter(|&place| place != new).zip(others) {
            self.bounds[new * size + place] = row[other];
            self.bounds[place * size + new] = column[other];
        }
        self.bounds[new * size + new] = 0;
    }

    /// What remains on each running timer remains on the one that `to` says from now on.
    ///
    /// # Panics
    ///
    /// Two of them become one.
    #[must_use]
    pub fn renamed(&self, to: impl Fn(Timer) -> Timer) -> Self {
        let mut rows: Vec<(Timer, usize)> = Vec::with_capacity(self.timers.len());
        rows.extend(self.timers.iter().map(|timer| to(*timer)).zip(1..));
        rows.sort_unstable();
        assert!(
            rows.windows(2).all(|pair| pair[0].0 < pair[1].0),
            "each timer keeps a name of its own"
        );
        let size = self.size();
        let places = || [0].into_iter().chain(rows.iter().map(|(_, row)| *row));
        let bounds = places().flat_map(|row| places().map(move |at| self.bounds[row * size + at]));
        Self {
            bounds: bounds.collect(),
            timers: rows.iter().map(|(timer, _)| *timer).collect(),
        }
    }

    /// Keeps the vectors with at most `ms` on the timer. Without any, returns false and changes
    /// nothing.
    ///
    /// # Panics
    ///
    /// The timer does not run; so with the other refinements.
    #[must_use]
    pub fn at_most(&mut self, timer: Timer, ms: Ms) -> bool {
        self.refine(self.row(timer), 0, ms)
    }

    /// Keeps the vectors with at least `ms` on the timer. Without any, returns false and changes
    /// nothing.
    #[must_use]
    pub fn at_least(&mut self, timer: Timer, ms: Ms) -> bool {
        self.refine(0, self.row(timer), -ms)
    }

    /// Keeps the vectors with exactly `ms` on the timer. Without any, returns false and changes
    /// nothing.
    #[must_use]
    pub fn exactly(&mut self, timer: Timer, ms: Ms) -> bool {
        // Beyond the most, the first bound changes nothing; below the least, it fails.
        let row = self.row(timer);
        self.refine(row, 0, ms) && self.refine(0, row, -ms)
    }

    /// Keeps the vectors in which `first` has at least `margin` less on it than `second`. Without
    /// any, returns false and changes nothing.
    #[must_use]
    pub fn before(&mut self, first: Timer, second: Timer, margin: Ms) -> bool {
        self.refine(self.row(first), self.row(second), -margin)
    }

    /// Makes what remains on a timer, which anything may, what remains on another.
    ///
    /// # Panics
    ///
    /// One of the timers does not run, or nothing that is left to them is the same.
    pub fn equal(&mut self, timer: Timer, other: Timer) {
        let is_left = self.before(timer, other, 0) && self.before(other, timer, 0);
        assert!(
            is_left,
            "two spans that are started alike have some in common"
        );
    }

    /// Lets any whole number of milliseconds, `least` or more, pass, while nothing remaining goes
    /// below 0. Where not even `least` can pass, returns false and changes nothing. Without a
    /// timer there is nothing to change.
    #[must_use]
    pub fn pass(&mut self, least: Ms) -> bool {
        let size = self.size();
        let bounds = &mut self.bounds;
        if (1..size).any(|row| bounds[row * size] < least) {
            return false;
        }
        for row in 1..size {
            bounds[row * size] = plus(bounds[row * size], -least);
        }
        // The differences stay, and the new lower bounds are 0 and what follows from it by them.
        // Every shorter way between two timers goes through the constant 0 once.
        for column in 1..size {
            let lower = (1..size).map(|row| bounds[row * size + column]).min();
            bounds[column] = lower.unwrap_or(0).min(0);
        }
        if least > 0 {
            for row in 1..size {
                for column in 1..size {
                    let through = plus(bounds[row * size], bounds[column]);
                    let bound = &mut bounds[row * size + column];
                    *bound = through.min(*bound);
                }
            }
        }
        true
    }

    /// Grows to the least zone that holds both. Says whether it grew.
    ///
    /// # Panics
    ///
    /// Other timers run in the other zone.
    pub fn hull(&mut self, other: &Self) -> bool {
        assert_eq!(self.timers, other.timers, "a hull is over the same timers");
        // The entrywise maximum of two canonical matrices is canonical.
        let mut grown = false;
        for (bound, &others) in self.bounds.iter_mut().zip(&other.bounds) {
            grown |= others > *bound;
            *bound = max(*bound, others);
        }
        grown
    }

    /// Rounds each bound that is above that of `former` up, so that a zone that creeps comes to
    /// rest sooner, but lets no more than `tops` says remain on a timer. `growths` counts how often
    /// each bound has grown: after each four times its grid is the next of [`GRIDS`]. What results
    /// holds at least what the zone held, if that held no more than `tops` either.
    ///
    /// # Panics
    ///
    /// Other timers ran in the former zone, or there are fewer counters than bounds.
    pub fn widen(&mut self, former: &Self, growths: &mut [u8], tops: impl Fn(Timer) -> Ms) {
        assert_eq!(self.timers, former.timers, "a zone widens over its timers");
        assert_eq!(
            self.bounds.len(),
            growths.len(),
            "each bound has its counter"
        );
        let bounds = self.bounds.iter_mut().zip(&former.bounds).zip(growths);
        for ((bound, &formerly), growths) in bounds {
            if *bound > formerly {
                *bound = rounded(*bound, growths);
            }
        }
        let size = self.size();
        for (row, timer) in (1..).zip(&self.timers) {
            let most = &mut self.bounds[row * size];
            *most = (*most).min(tops(*timer));
        }
        self.close();
    }

    /// The running timers, sorted.
    #[must_use]
    pub fn timers(&self) -> &[Timer] {
        &self.timers
    }

    /// Whether the timer runs.
    #[must_use]
    pub fn is_running(&self, timer: Timer) -> bool {
        self.timers.binary_search(&timer).is_ok()
    }

    /// The least that remains on a running timer.
    ///
    /// # Panics
    ///
    /// The timer does not run.
    #[must_use]
    pub fn least(&self, timer: Timer) -> Ms {
        -self.bounds[self.row(timer)]
    }

    /// The most that remains on a running timer; [`INFINITE`] when nothing bounds it.
    ///
    /// # Panics
    ///
    /// The timer does not run.
    #[must_use]
    pub fn most(&self, timer: Timer) -> Ms {
        self.bounds[self.row(timer) * self.size()]
    }

    /// The most that `first` may exceed `second`; [`INFINITE`] when nothing bounds it.
    ///
    /// # Panics
    ///
    /// One of the timers does not run.
    #[must_use]
    pub fn gap(&self, first: Timer, second: Timer) -> Ms {
        self.bounds[self.row(first) * self.size() + self.row(second)]
    }

    /// Whether each vector of the other zone is one of this.
    #[must_use]
    pub fn includes(&self, other: &Self) -> bool {
        self.timers == other.timers && covers(&self.bounds, &other.bounds)
    }

    /// The sum of all bounds: a zone that includes another has no smaller sum, and a greater one
    /// when they differ.
    #[must_use]
    pub fn sum(&self) -> i64 {
        self.bounds.iter().map(|&bound| i64::from(bound)).sum()
    }

    /// The memory that the zone takes, in bytes.
    #[must_use]
    pub fn bytes(&self) -> usize {
        size_of::<Self>()
            + self.timers.capacity() * size_of::<Timer>()
            + self.bounds.capacity() * size_of::<Ms>()
    }

    /// The matrix, row by row; the constant 0 has the first row and column.
    pub(crate) fn bounds(&self) -> &[Ms] {
        &self.bounds
    }

    /// Keeps the vectors whose component `row` exceeds component `column` by at most `most`.
    fn refine(&mut self, row: usize, column: usize, most: Ms) -> bool {
        let size = self.size();
        let bounds = &mut self.bounds;
        if bounds[row * size + column] <= most {
            return true;
        }
        if plus(bounds[column * size + row], most) < 0 {
            return false;
        }
        for from in 0..size {
            let through = plus(bounds[from * size + row], most);
            // Where the new bound does not shorten the way to `column`, it shortens none beyond.
            if through >= bounds[from * size + column] {
                continue;
            }
            for to in 0..size {
                let way = plus(through, bounds[column * size + to]);
                let bound = &mut bounds[from * size + to];
                *bound = way.min(*bound);
            }
        }
        true
    }

    /// Tightens every bound to what the others imply (all shortest ways, n³ steps).
    fn close(&mut self) {
        let size = self.size();
        let bounds = &mut self.bounds;
        for by in 0..size {
            for from in 0..size {
                let first = bounds[from * size + by];
                for to in 0..size {
                    let way = plus(first, bounds[by * size + to]);
                    let bound = &mut bounds[from * size + to];
                    *bound = way.min(*bound);
                }
            }
        }
    }

    /// Makes room for a row and a column, whose entries are left open.
    fn insert(&mut self, at: usize) {
        let size = self.size();
        self.bounds.resize((size + 1).pow(2), 0);
        // From the end, as every entry moves towards it.
        for row in (0..size).rev() {
            let to = (row + usize::from(row >= at)) * (size + 1);
            let from = row * size;
            self.bounds.copy_within(from + at..from + size, to + at + 1);
            self.bounds.copy_within(from..from + at, to);
        }
    }

    /// Takes a row and a column out.
    fn remove(&mut self, at: usize) {
        let size = self.size();
        let mut to = 0;
        for row in (0..size).filter(|&row| row != at) {
            let from = row * size;
            self.bounds.copy_within(from..from + at, to);
            self.bounds.copy_within(from + at + 1..from + size, to + at);
            to += size - 1;
        }
        self.bounds.truncate(to);
    }

    /// The row and column of a running timer.
    fn row(&self, timer: Timer) -> usize {
        self.timers
            .binary_search(&timer)
            .expect("only a running timer is asked about")
            + 1
    }

    /// The number of rows.
    fn size(&self) -> usize {
        self.timers.len() + 1
    }
}

/// Whether no bound of the second matrix is above that of the first.
pub(crate) fn covers(wide: &[Ms], narrow: &[Ms]) -> bool {
    // Few at a time without a branch between them: the compiler compares them together.
    let (wides, wide) = wide.as_chunks::<LANES>();
    let (narrows, narrow) = narrow.as_chunks::<LANES>();
    let below = |wide: &[Ms], narrow: &[Ms]| {
        let mut pairs = wide.iter().zip(narrow);
        pairs.all(|(wide, narrow)| wide >= narrow)
    };
    let lanes = |wide: &[Ms; LANES], narrow: &[Ms; LANES]| {
        let pairs = wide.iter().zip(narrow);
        pairs.fold(true, |so_far, (wide, narrow)| so_far & (wide >= narrow))
    };
    wides
        .iter()
        .zip(narrows)
        .all(|(wide, narrow)| lanes(wide, narrow))
        && below(wide, narrow)
}

/// Bounds that are compared together.
const LANES: usize = 16;

/// The sum of two bounds; with no bound there is none. A finite sum stays within ± [`INFINITE`]:
/// beyond, a bound is weaker than it might be, but never wrapped.
fn plus(one: Ms, two: Ms) -> Ms {
    if one >= INFINITE || two >= INFINITE {
        INFINITE
    } else {
        (one + two).clamp(-INFINITE, INFINITE)
    }
}

#[cfg(test)]
mod tests;
