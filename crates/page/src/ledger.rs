//! What a trace says of the present moment: which timers run since when, and energy so far.
//!
//! Invariant: the ledger is a function of the steps it has read, so after a rewind it is made
//! again by reading what is left of the trace.

use std::collections::BTreeMap;

use device::{Level, Span};
use room::{Plan, Slot};
use sim::{Instant, OutputView, Step, What};

use crate::past::Past;

/// What is known of a run beside how its room stands.
#[derive(Clone, Debug)]
pub(crate) struct Ledger {
    /// How many steps are read.
    pub(crate) read: usize,
    /// Running timers: since when, and how long they run.
    pub(crate) timers: BTreeMap<Slot, (Instant, Span)>,
    /// When each clause last changed its mind.
    pub(crate) clauses: Vec<Option<Instant>>,
    meters: Vec<Meter>,
    /// What was, for screens that draw it.
    pub(crate) past: Past,
}

/// The energy meter of an output.
#[derive(Clone, Debug)]
struct Meter {
    /// The load at full, in milliwatts.
    load: Option<u64>,
    /// Whether the light counts, and not just whether the contact is closed.
    lit: bool,
    last: Option<(Instant, OutputView)>,
    /// Levels times milliseconds, twice, up to the last record.
    sum: u128,
}

impl Ledger {
    /// A ledger that has read nothing. The loads are those of the outputs at full.
    pub(crate) fn new(plan: &Plan, loads: &[Option<u64>]) -> Self {
        let outputs = (0..).map(room::OutputId).zip(loads);
        let meter = |(id, load): (room::OutputId, &Option<u64>)| Meter {
            load: *load,
            lit: scenario::run::lights(plan, id),
            last: None,
            sum: 0,
        };
        Self {
            read: 0,
            timers: BTreeMap::new(),
            clauses: vec![None; plan.clauses.len()],
            meters: outputs.map(meter).collect(),
            past: Past::new(plan),
        }
    }

    /// Reads the steps that are new.
    pub(crate) fn read(&mut self, steps: &[Step]) {
        for step in steps.get(self.read..).unwrap_or_default() {
            self.past.read(step);
            match step.what {
                What::Started(slot, span) => {
                    self.timers.insert(slot, (step.at, span));
                }
                What::Stopped(slot) | What::Elapsed(slot) => {
                    self.timers.remove(&slot);
                }
                What::Output(id, ref view) => {
                    if let Some(meter) = self.meters.get_mut(usize::from(id.0)) {
                        meter.sum += meter.since_last(step.at);
                        meter.last = Some((step.at, **view));
                    }
                }
                What::Clause(clause, _) => {
                    if let Some(since) = self.clauses.get_mut(usize::from(clause)) {
                        *since = Some(step.at);
                    }
                }
                _ => {}
            }
        }
        self.read = steps.len();
    }

    /// So many of the steps that were read are forgotten; what was before `since` need not be
    /// told any more.
    pub(crate) fn forget(&mut self, steps: usize, since: Instant) {
        self.read -= steps;
        self.past.forget(since);
    }

    /// The energy of each output up to `now`, in watt-hours; `None` where the load is not known.
    pub(crate) fn energy(&self, now: Instant) -> impl Iterator<Item = Option<f64>> + '_ {
        self.meters.iter().map(move |meter| {
            let sum = meter.sum + meter.since_last(now);
            // mW × hundredths of a per cent × 2 × ms → mWh.
            let used = sum * u128::from(meter.load?) / (2 * 10_000 * 3_600_000);
            let used = u32::try_from(used).unwrap_or(u32::MAX);
            Some(f64::from(used) / 1_000.0)
        })
    }

    /// Whether the light of an output is on its way at `now`.
    pub(crate) fn is_fading(&self, now: Instant) -> bool {
        self.meters.iter().any(|meter| {
            let on_the_way = |(at, view): &(Instant, OutputView)| {
                view.light.now != view.light.to && now.since(*at) < view.light.within
            };
            meter.last.as_ref().is_some_and(on_the_way)
        })
    }
}

impl Meter {
    /// Twice the levels times milliseconds since the last record.
    fn since_last(&self, now: Instant) -> u128 {
        let Some((at, view)) = &self.last else {
            return 0;
        };
        let gone = now.since(*at);
        if !self.lit {
            let full = u128::from(Level::FULL.hundredths());
            return if view.closed {
                2 * full * u128::from(gone.as_ms())
            } else {
                0
            };
        }
        let light = view.light;
        let moving = if gone < light.within {
            gone
        } else {
            light.within
        };
        let left = light.within.minus(moving);
        let reached = light.now.towards(light.to, left, light.within);
        let twice =
            |one: Level, two: Level| u128::from(one.hundredths()) + u128::from(two.hundredths());
        let still = gone.minus(moving);
        twice(light.now, reached) * u128::from(moving.as_ms())
            + twice(reached, reached) * u128::from(still.as_ms())
    }
}
