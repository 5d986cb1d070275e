//! Stored classes, by the discrete state and the running timers.
//!
//! Invariants: a state stands once for each set of timers that runs in it; the zones of one key
//! stand in one array, so that the search for one that covers another reads memory in order; no
//! key is ever without a class; bytes are what is allocated, not what is used.

use std::hash::{Hash, Hasher};

use hashbrown::HashTable;
use rustc_hash::FxHasher;

use super::Mode;
use crate::zone::{Ms, Timer, Zone, covers, rounded};

/// All classes of an exploration.
#[derive(Debug)]
pub(super) struct Store<S> {
    mode: Mode,
    keys: Vec<Key<S>>,
    /// The places of the keys, by their hashes.
    table: HashTable<u32>,
    /// Where each class that ever was is to be found.
    classes: Vec<Class>,
    /// For each class, how it was reached; empty when nobody wants to know.
    origins: Vec<Origin>,
    keeps_paths: bool,
    /// The most that ever remained on each timer that runs in a hull, rounded up as often as it
    /// grew.
    tops: Vec<(Ms, u8)>,
    alive: usize,
    waiting: usize,
    /// What the keys own outside the list of keys.
    owned: usize,
}

/// What is known of a class that enters, apart from its halves.
#[derive(Clone, Copy, Debug)]
pub(super) struct Entrance {
    /// The sum of its zone.
    pub(super) sum: i64,
    /// The cost of reaching it.
    pub(super) cost: u32,
    /// The bytes of its state.
    pub(super) size: usize,
    /// The class that it follows.
    pub(super) parent: Option<u32>,
    /// Its place among those that follow.
    pub(super) place: u32,
}

/// A discrete state in which these timers run, and its zones.
#[derive(Debug)]
struct Key<S> {
    hash: u64,
    state: S,
    timers: Box<[Timer]>,
    entries: Vec<Entry>,
    /// The matrices of the entries, one after the other.
    zones: Vec<Ms>,
    /// How often each bound of the hull has grown, where it is widened.
    growths: Vec<u8>,
}

/// What is known of a zone without looking into it.
#[derive(Clone, Copy, Debug)]
struct Entry {
    sum: i64,
    class: u32,
    cost: u32,
}

/// Where a class is.
#[derive(Clone, Copy, Debug)]
struct Class {
    key: u32,
    /// The place among the entries of the key, or [`GONE`].
    slot: u32,
    is_waiting: bool,
}

/// How a class was reached.
#[derive(Clone, Copy, Debug)]
struct Origin {
    /// The class before it, or [`GONE`] at the start.
    parent: u32,
    place: u32,
}

impl<S: Eq + Hash> Store<S> {
    /// No class yet.
    pub(super) fn new(mode: Mode, keeps_paths: bool) -> Self {
        Self {
            mode,
            keys: Vec::new(),
            table: HashTable::new(),
            classes: Vec::new(),
            origins: Vec::new(),
            // A hull is reached on several paths together, of which none may exist.
            keeps_paths: keeps_paths && !matches!(mode, Mode::Hull { .. }),
            tops: Vec::new(),
            alive: 0,
            waiting: 0,
            owned: 0,
        }
    }

    /// Stores a class unless it adds nothing: its number when it now waits and did not before.
    pub(super) fn enter(&mut self, state: S, zone: &Zone, entrance: Entrance) -> Option<u32> {
        let key = self.key(state, zone.timers(), entrance.size);
        let before = self.keys[key].owned();
        let entered = match self.mode {
            Mode::Hull { widens } => self.merge(key, zone, entrance, widens),
            Mode::Equality | Mode::Inclusion => self.add(key, zone.bounds(), entrance),
        };
        self.owned = self.owned + self.keys[key].owned() - before;
        entered
    }

    /// The class leaves the waiting.
    pub(super) fn leave(&mut self, class: u32) {
        self.classes[class as usize].is_waiting = false;
        self.waiting -= 1;
    }

    /// Whether the class waits and nothing has made it superfluous.
    pub(super) fn is_waiting(&self, class: u32) -> bool {
        self.classes[class as usize].is_waiting
    }

    /// The halves of a stored class.
    pub(super) fn class(&self, class: u32) -> (&S, Zone) {
        let Class { key, slot, .. } = self.classes[class as usize];
        let key = &self.keys[key as usize];
        let zone = Zone::from_parts(&key.timers, key.zone(slot as usize));
        (&key.state, zone)
    }

    /// The cost of a stored class.
    pub(super) fn cost(&self, class: u32) -> u32 {
        let Class { key, slot, .. } = self.classes[class as usize];
        self.keys[key as usize].entries[slot as usize].cost
    }

    /// The places that lead to the successor at this place of this class.
    pub(super) fn path(&self, parent: Option<u32>, place: u32) -> Option<Vec<u32>> {
        if !self.keeps_paths {
            return None;
        }
        let mut path = vec![place];
        let mut class = parent.unwrap_or(GONE);
        while let Some(origin) = self.origins.get(class as usize) {
            path.push(origin.place);
            class = origin.parent;
        }
        path.reverse();
        Some(path)
    }

    /// The stored classes, key by key.
    pub(super) fn classes(&self) -> impl Iterator<Item = (&S, Zone)> {
        self.keys.iter().flat_map(|key| {
            (0..key.entries.len())
                .map(|slot| (&key.state, Zone::from_parts(&key.timers, key.zone(slot))))
        })
    }

    /// The number of stored classes.
    pub(super) fn alive(&self) -> usize {
        self.alive
    }

    /// The number of classes that wait.
    pub(super) fn waiting(&self) -> usize {
        self.waiting
    }

    /// The number of keys.
    pub(super) fn keys(&self) -> usize {
        self.keys.len()
    }

    /// Whether no class can be numbered any more.
    pub(super) fn is_full(&self) -> bool {
        // One class has far fewer successors than are left then.
        self.classes.len() >= (GONE / 2) as usize
    }

    /// Bytes allocated.
    pub(super) fn bytes(&self) -> usize {
        self.owned
            + self.keys.capacity() * size_of::<Key<S>>()
            + self.table.allocation_size()
            + self.classes.capacity() * size_of::<Class>()
            + self.origins.capacity() * size_of::<Origin>()
    }

    /// The place of a key, which is made when there is none. The only time a state is hashed.
    fn key(&mut self, state: S, timers: &[Timer], size: usize) -> usize {
        let mut hasher = FxHasher::default();
        state.hash(&mut hasher);
        timers.hash(&mut hasher);
        let hash = hasher.finish();
        let keys = &self.keys;
        let found = self.table.find(hash, |&at| {
            let key = &keys[at as usize];
            key.hash == hash && *key.timers == *timers && key.state == state
        });
        if let Some(&at) = found {
            return at as usize;
        }
        let at = number(self.keys.len());
        self.table
            .insert_unique(hash, at, |&other| keys[other as usize].hash);
        self.owned += size.saturating_sub(size_of::<S>()) + size_of_val(timers);
        self.keys.push(Key {
            hash,
            state,
            timers: timers.into(),
            entries: Vec::new(),
            zones: Vec::new(),
            growths: Vec::new(),
        });
        at as usize
    }

    /// Adds a class to its key unless one there makes it superfluous, and drops those that it
    /// makes superfluous. What a dropped class can do, the one that covers it can do too.
    fn add(&mut self, at: usize, bounds: &[Ms], new: Entrance) -> Option<u32> {
        let key = &self.keys[at];
        let equality = self.mode == Mode::Equality;
        // What covers a class came most often not long before it.
        let mut entries = key.entries.iter().enumerate().rev();
        let superfluous = entries.any(|(slot, old)| {
            old.cost <= new.cost
                && if equality {
                    old.sum == new.sum && key.zone(slot) == bounds
                } else {
                    old.sum >= new.sum && covers(key.zone(slot), bounds)
                }
        });
        if superfluous {
            return None;
        }
        let mut slot = 0;
        while let Some(&old) = self.keys[at].entries.get(slot) {
            let key = &self.keys[at];
            let goes = new.cost <= old.cost
                && if equality {
                    old.sum == new.sum && key.zone(slot) == bounds
                } else {
                    new.sum >= old.sum && covers(bounds, key.zone(slot))
                };
            if goes {
                self.drop(at, slot);
            } else {
                slot += 1;
            }
        }
        Some(self.append(at, bounds, new))
    }

    /// Appends a class to its key; it waits.
    fn append(&mut self, at: usize, bounds: &[Ms], new: Entrance) -> u32 {
        let class = number(self.classes.len());
        let key = &mut self.keys[at];
        self.classes.push(Class {
            key: number(at),
            slot: number(key.entries.len()),
            is_waiting: true,
        });
        key.entries.push(Entry {
            sum: new.sum,
            class,
            cost: new.cost,
        });
        key.zones.extend_from_slice(bounds);
        if self.keeps_paths {
            self.origins.push(Origin {
                parent: new.parent.unwrap_or(GONE),
                place: new.place,
            });
        }
        self.alive += 1;
        self.waiting += 1;
        class
    }

    /// Drops a class from its key; the last one of the key takes its place.
    fn drop(&mut self, at: usize, slot: usize) {
        let key = &mut self.keys[at];
        let stride = key.stride();
        let last = key.entries.len() - 1;
        let gone = key.entries.swap_remove(slot);
        key.zones
            .copy_within(last * stride..(last + 1) * stride, slot * stride);
        key.zones.truncate(last * stride);
        if let Some(moved) = key.entries.get(slot) {
            self.classes[moved.class as usize].slot = number(slot);
        }
        let class = &mut self.classes[gone.class as usize];
        class.slot = GONE;
        self.alive -= 1;
        self.waiting -= usize::from(class.is_waiting);
        class.is_waiting = false;
    }

    /// Lets the hull of a key grow over a class.
    fn merge(&mut self, at: usize, zone: &Zone, new: Entrance, widens: bool) -> Option<u32> {
        for &timer in zone.timers() {
            let place = usize::from(timer);
            if self.tops.len() <= place {
                self.tops.resize(place + 1, (0, 0));
            }
            let (top, growths) = &mut self.tops[place];
            if zone.most(timer) > *top {
                *top = rounded(zone.most(timer), growths);
            }
        }
        let key = &mut self.keys[at];
        let Some(&Entry { class, .. }) = key.entries.first() else {
            return Some(self.append(at, zone.bounds(), new));
        };
        if covers(&key.zones, zone.bounds()) {
            return None;
        }
        let former = Zone::from_parts(&key.timers, &key.zones);
        let mut hull = former.clone();
        hull.hull(zone);
        if widens {
            key.growths.resize(key.zones.len(), 0);
            let tops = |timer: Timer| self.tops[usize::from(timer)].0;
            hull.widen(&former, &mut key.growths, tops);
        }
        key.zones.copy_from_slice(hull.bounds());
        key.entries[0].sum = hull.sum();
        let class_of = &mut self.classes[class as usize];
        if class_of.is_waiting {
            return None;
        }
        class_of.is_waiting = true;
        self.waiting += 1;
        Some(class)
    }
}

impl<S> Key<S> {
    /// The matrix at a slot.
    fn zone(&self, slot: usize) -> &[Ms] {
        let stride = self.stride();
        &self.zones[slot * stride..(slot + 1) * stride]
    }

    /// The entries of one matrix.
    fn stride(&self) -> usize {
        (self.timers.len() + 1).pow(2)
    }

    /// Bytes of the lists.
    fn owned(&self) -> usize {
        self.entries.capacity() * size_of::<Entry>()
            + self.zones.capacity() * size_of::<Ms>()
            + self.growths.capacity()
    }
}

/// A place as it is stored.
fn number(at: usize) -> u32 {
    u32::try_from(at).expect("an exploration ends when its numbers run out")
}

/// No class, no place.
const GONE: u32 = u32::MAX;
