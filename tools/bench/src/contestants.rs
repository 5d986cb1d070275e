//! Who runs, and at which sizes.

use std::fmt;
use std::sync::Arc;

use crate::peers::nexosim::{self, Layout};
use crate::peers::{heap, limit, table};
use crate::rig::Setup;
use crate::workload::{Stimuli, Work};

/// An implementation of the workload.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Contestant {
    /// Its short name, for the command line.
    pub(crate) name: &'static str,
    /// Its name in the table.
    pub(crate) title: &'static str,
    /// How it is started.
    pub(crate) run: Run,
    /// The most events it is given; slow ones would take hours on the large sizes.
    limit: u32,
    /// Whether it must do exactly the published work.
    pub(crate) same_work: bool,
}

/// How an implementation is started.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Run {
    /// In a process of this program.
    Here(fn(&Arc<Stimuli>) -> Work),
    /// The product, in a process of this program.
    Product(Setup),
    /// By the Python script, in this idiom.
    Python(&'static str),
}

impl Contestant {
    /// Whether it is run at this size.
    pub(crate) fn runs_at(&self, size: Size) -> bool {
        size.rooms * size.days <= self.limit
    }

    /// How often it is run at this size when the others are run `runs` times.
    pub(crate) fn runs(&self, size: Size, runs: usize) -> usize {
        // Two minutes a run, and no ratio hangs on it.
        if self.name == "simpy-processes" && size.rooms >= 10_000 {
            1
        } else {
            runs
        }
    }

    /// Whether it is fast enough for a check at any size.
    pub(crate) fn fast(&self) -> bool {
        !matches!(self.run, Run::Python(_)) && !self.name.starts_with("nexosim")
    }

    /// The idiom of the Python script, if it is one of those.
    pub(crate) fn idiom(&self) -> Option<&'static str> {
        match self.run {
            Run::Here(_) | Run::Product(_) => None,
            Run::Python(idiom) => Some(idiom),
        }
    }
}

/// How much of the workload.
#[derive(Clone, Copy, Debug, Eq, Ord, PartialEq, PartialOrd)]
pub(crate) struct Size {
    /// Rooms.
    pub(crate) rooms: u32,
    /// Days.
    pub(crate) days: u32,
}

impl Size {
    /// The sizes with a published checksum.
    pub(crate) const PUBLISHED: [Self; 4] = [
        Self { rooms: 1, days: 1 },
        Self::YEAR,
        Self::HUNDRED,
        Self::CAMPUS,
    ];
    /// The sizes of the table.
    pub(crate) const ALL: [Self; 4] = [Self::YEAR, Self::HUNDRED, Self::CAMPUS, Self::TOWN];
    /// One room for a year.
    pub(crate) const YEAR: Self = Self {
        rooms: 1,
        days: 365,
    };
    /// A hundred rooms for a day.
    pub(crate) const HUNDRED: Self = Self {
        rooms: 100,
        days: 1,
    };
    /// Ten thousand rooms for a day: the size that the asks speak of.
    pub(crate) const CAMPUS: Self = Self {
        rooms: 10_000,
        days: 1,
    };
    /// A hundred thousand rooms for a day: is the cost of an event still the same?
    pub(crate) const TOWN: Self = Self {
        rooms: 100_000,
        days: 1,
    };
}

impl fmt::Display for Size {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        let plural = |count: u32| if count == 1 { "" } else { "s" };
        let Self { rooms, days } = *self;
        write!(
            formatter,
            "{rooms} room{}, {days} day{}",
            plural(rooms),
            plural(days)
        )
    }
}

/// Everybody, in the order of the table.
pub(crate) const CONTESTANTS: [Contestant; 14] = [
    python("simpy-processes", "SimPy 4, processes", "processes"),
    python("simpy-callbacks", "SimPy 4, callbacks", "callbacks"),
    here(
        "nexosim-devices",
        "nexosim 1, a model per device",
        MANY,
        |stimuli| nexosim::run(Arc::clone(stimuli), Layout::Devices),
    ),
    here(
        "nexosim-rooms",
        "nexosim 1, a model per room",
        MANY,
        |stimuli| nexosim::run(Arc::clone(stimuli), Layout::Rooms),
    ),
    here(
        "nexosim-all",
        "nexosim 1, one model for all rooms",
        MANY,
        |stimuli| nexosim::run(Arc::clone(stimuli), Layout::All),
    ),
    here("heap", "by hand, one binary heap", MOST, |stimuli| {
        heap::run(stimuli)
    }),
    here(
        "table",
        "by hand, a small timer table per room",
        MOST,
        |stimuli| table::run(stimuli),
    ),
    here("table-two", "the same on two threads", MOST, |stimuli| {
        table::run_two(stimuli)
    }),
    here(
        "limit",
        "by hand, no queue: the practical limit",
        MOST,
        |stimuli| limit::run(stimuli),
    ),
    product("roomrig", "roomrig", MOST, Setup::Silent),
    product(
        "roomrig-two",
        "roomrig on two threads",
        MOST,
        Setup::TwoThreads,
    ),
    product(
        "roomrig-trace",
        "roomrig, full trace and causes, all kept",
        MANY,
        Setup::Trace,
    ),
    product(
        "roomrig-trace-by-room",
        "roomrig, full trace and causes, a room at a time",
        MOST,
        Setup::TraceByRoom,
    ),
    Contestant {
        same_work: false,
        ..product(
            "roomrig-defaults",
            "roomrig, devices as they come (more frames and timers)",
            MOST,
            Setup::Defaults,
        )
    },
];

const MANY: u32 = 10_000;
const MOST: u32 = 100_000;

const fn here(
    name: &'static str,
    title: &'static str,
    limit: u32,
    run: fn(&Arc<Stimuli>) -> Work,
) -> Contestant {
    Contestant {
        name,
        title,
        run: Run::Here(run),
        limit,
        same_work: true,
    }
}

const fn product(name: &'static str, title: &'static str, limit: u32, setup: Setup) -> Contestant {
    Contestant {
        name,
        title,
        run: Run::Product(setup),
        limit,
        same_work: true,
    }
}

const fn python(name: &'static str, title: &'static str, idiom: &'static str) -> Contestant {
    Contestant {
        name,
        title,
        run: Run::Python(idiom),
        limit: MANY,
        same_work: true,
    }
}
