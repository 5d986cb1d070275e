//! The timers of a room on the numeric clock: a dense table of deadlines, no heap.
//!
//! A room has few timers and restarts them far more often than they elapse. So starting one
//! writes one entry and lowers a bound; only when time reaches the bound is the table looked
//! through for the true soonest deadline.
//!
//! Invariant: no running slot is due before the bound; a stopped slot is due never.

use room::{Origin, Slot};

use crate::Instant;

/// The deadlines of a room's timer slots, with what each remembers of its cause.
#[derive(Clone, Debug, Eq, PartialEq)]
pub(crate) struct Table<C> {
    slots: Vec<Entry<C>>,
    /// One bit for each slot: whether it runs.
    running: Vec<u64>,
    bound: Instant,
}

/// What the table keeps of one slot.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) struct Entry<C> {
    /// When it elapses; never while it does not run.
    pub(crate) due: Instant,
    /// The root of the chain that started it.
    pub(crate) origin: Origin,
    /// The step that started it.
    pub(crate) cause: C,
}

impl<C: Copy + Default> Table<C> {
    /// A table of `length` slots, none of them running.
    pub(crate) fn new(length: usize) -> Self {
        Self {
            slots: vec![Entry::STOPPED.with(C::default()); length],
            running: vec![0; length.div_ceil(BITS)],
            bound: Instant::NEVER,
        }
    }

    /// Stops every slot, keeping the storage.
    pub(crate) fn clear(&mut self) {
        self.slots.fill(Entry::STOPPED.with(C::default()));
        self.running.fill(0);
        self.bound = Instant::NEVER;
    }

    /// Starts or restarts a slot.
    #[inline]
    pub(crate) fn start(&mut self, slot: Slot, entry: Entry<C>) {
        let index = usize::from(slot.0);
        self.bound = self.bound.min(entry.due);
        let slot = &mut self.slots[index];
        if slot.due == Instant::NEVER {
            self.running[index / BITS] |= 1 << (index % BITS);
        }
        *slot = entry;
    }

    /// Stops a slot and says whether it ran.
    #[inline]
    pub(crate) fn stop(&mut self, slot: Slot) -> bool {
        let index = usize::from(slot.0);
        let (word, bit) = (&mut self.running[index / BITS], 1 << (index % BITS));
        let ran = *word & bit != 0;
        if ran {
            *word &= !bit;
            self.slots[index] = Entry::STOPPED.with(C::default());
        }
        ran
    }

    /// When a slot elapses; `None` when it does not run.
    #[inline]
    pub(crate) fn due(&self, slot: Slot) -> Option<Instant> {
        let due = self.slots[usize::from(slot.0)].due;
        (due != Instant::NEVER).then_some(due)
    }

    /// A moment before which nothing elapses, found without looking through the table.
    #[inline]
    pub(crate) fn bound(&self) -> Instant {
        self.bound
    }

    /// The running slot that elapses first, of several the lowest, and tightens the bound.
    #[inline]
    pub(crate) fn soonest(&mut self) -> Option<(Slot, Instant)> {
        let (mut first, mut best, mut bound) = (0, 0, Instant::NEVER);
        for (entries, &running) in self.slots.chunks(BITS).zip(&self.running) {
            let mut left = running;
            while left != 0 {
                let index = left.trailing_zeros() as usize;
                left &= left - 1;
                let due = entries[index].due;
                if due < bound {
                    bound = due;
                    best = first + index;
                }
            }
            first += BITS;
        }
        self.bound = bound;
        let slot = u16::try_from(best).expect("slots are numbered in 16 bits");
        (bound != Instant::NEVER).then_some((Slot(slot), bound))
    }

    /// Takes a slot that elapses: it no longer runs.
    #[inline]
    pub(crate) fn take(&mut self, slot: Slot) -> Entry<C> {
        let index = usize::from(slot.0);
        self.running[index / BITS] &= !(1 << (index % BITS));
        let stopped = Entry::STOPPED.with(C::default());
        core::mem::replace(&mut self.slots[index], stopped)
    }

    /// The causes of all slots.
    pub(crate) fn causes_mut(&mut self) -> impl Iterator<Item = &mut C> {
        self.slots.iter_mut().map(|entry| &mut entry.cause)
    }

    /// The running slots, lowest first.
    #[inline]
    pub(crate) fn running(&self) -> impl Iterator<Item = Slot> + '_ {
        (0_u16..).zip(&self.running).flat_map(|(word, &bits)| {
            let mut left = bits;
            core::iter::from_fn(move || {
                let bit = (left != 0).then(|| left.trailing_zeros())?;
                left &= left - 1;
                let bit = u16::try_from(bit).expect("a word has 64 bits");
                Some(Slot(word * BITS as u16 + bit))
            })
        })
    }
}

impl Entry<()> {
    const STOPPED: Self = Self {
        due: Instant::NEVER,
        origin: Origin::Start,
        cause: (),
    };

    fn with<C>(self, cause: C) -> Entry<C> {
        Entry {
            due: self.due,
            origin: self.origin,
            cause,
        }
    }
}

/// Slots in one word of the running bits.
const BITS: usize = 64;

#[cfg(test)]
mod tests {
    use super::*;

    fn at(ms: u64) -> Entry<()> {
        Entry {
            due: Instant::from_ms(ms),
            ..Entry::STOPPED
        }
    }

    #[test]
    fn of_two_slots_due_together_the_lowest_elapses_first() {
        let mut table = Table::new(200);
        table.start(Slot(130), at(5));
        table.start(Slot(66), at(5));
        table.start(Slot(3), at(6));
        let five = Instant::from_ms(5);
        assert_eq!(table.soonest(), Some((Slot(66), five)));
        table.take(Slot(66));
        assert_eq!(table.soonest(), Some((Slot(130), five)));
        table.take(Slot(130));
        assert_eq!(table.soonest(), Some((Slot(3), Instant::from_ms(6))));
    }

    #[test]
    fn a_restart_to_a_later_moment_leaves_the_bound_low_until_it_is_reached() {
        let mut table = Table::new(2);
        table.start(Slot(0), at(10));
        table.start(Slot(0), at(90));
        assert_eq!(table.bound(), Instant::from_ms(10));
        assert_eq!(table.soonest(), Some((Slot(0), Instant::from_ms(90))));
        assert_eq!(table.bound(), Instant::from_ms(90));
    }

    #[test]
    fn a_stopped_slot_is_due_never_and_equals_one_that_never_ran() {
        let mut table = Table::new(70);
        table.start(Slot(69), at(1));
        assert!(table.stop(Slot(69)));
        assert!(!table.stop(Slot(69)));
        assert_eq!(table.soonest(), None);
        assert_eq!(table.due(Slot(69)), None);
        assert_eq!(table, Table::new(70));
        table.start(Slot(4), at(1));
        table.clear();
        assert_eq!(table, Table::new(70));
    }
}
