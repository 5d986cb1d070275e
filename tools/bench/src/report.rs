//! From single runs to a table of medians and the ratios that are asked for.

use std::collections::BTreeMap;
use std::fmt::Write;

use crate::child::Measured;
use crate::contestants::{CONTESTANTS, Contestant, Size};

/// What every run took.
#[derive(Debug, Default)]
pub(crate) struct Results {
    runs: BTreeMap<(&'static str, Size), Vec<Measured>>,
}

impl Results {
    /// Adds a run.
    pub(crate) fn add(&mut self, contestant: &Contestant, size: Size, measured: Measured) {
        self.runs
            .entry((contestant.name, size))
            .or_default()
            .push(measured);
    }

    /// The table: nanoseconds per event (median), and peak memory.
    pub(crate) fn table(&self) -> String {
        let mut text = String::from(
            "Nanoseconds per event, median (peak MiB); two threads: by the clock, others: on the processor\n\n| implementation |",
        );
        for size in Size::ALL {
            let _ = write!(text, " {size} |");
        }
        text.push_str("\n|---|");
        text.push_str(&"---|".repeat(Size::ALL.len()));
        text.push('\n');
        for contestant in &CONTESTANTS {
            let _ = write!(text, "| {} |", contestant.title);
            for size in Size::ALL {
                let cell = match (
                    self.cost(contestant.name, size),
                    self.peak(contestant.name, size),
                ) {
                    (Some(cost), Some(peak)) => format!("{} ({peak:.0})", digits(cost)),
                    _ => "–".to_owned(),
                };
                let _ = write!(text, " {cell} |");
            }
            text.push('\n');
        }
        text
    }

    /// What is asked, and what came of it.
    pub(crate) fn asks(&self) -> String {
        let mut text = String::new();
        for ask in ASKS {
            let (Some(number), Some(base)) = (self.lowest(ask.number), self.lowest(ask.base))
            else {
                continue;
            };
            let ratio = number / base;
            let met = if ask.at_least {
                ratio >= ask.bar
            } else {
                ratio <= ask.bar
            };
            let relation = if ask.at_least { "at least" } else { "at most" };
            let verdict = match (met, ask.is_bar) {
                (true, _) => "met",
                (false, true) => "MISSED",
                (false, false) => "short",
            };
            let _ = writeln!(
                text,
                "{verdict:>6}  {}: {ratio:.1} × ({relation} {} ×)",
                ask.what, ask.bar
            );
        }
        let clock = |name| self.clock(name, Size::CAMPUS);
        if let (Some(one), Some(two)) = (clock("roomrig"), clock("roomrig-two")) {
            let ratio = one / two;
            let verdict = if ratio >= TWO_CORES { "met" } else { "MISSED" };
            let _ = writeln!(
                text,
                "{verdict:>6}  two cores over one by the clock, 10 000 rooms: {ratio:.1} × (at least {TWO_CORES} ×; wants an idle machine)"
            );
        }
        if let Some(peak) = self.peak("roomrig", Size::CAMPUS) {
            let verdict = if peak < PEAK_MIB { "met" } else { "MISSED" };
            let _ = writeln!(
                text,
                "{verdict:>6}  peak memory at 10 000 rooms: {peak:.0} MiB (under {PEAK_MIB} MiB)"
            );
        }
        text
    }

    /// The least cost among several implementations.
    fn lowest(&self, (names, size): (&[&'static str], Size)) -> Option<f64> {
        names
            .iter()
            .filter_map(|name| self.cost(name, size))
            .reduce(f64::min)
    }

    /// Nanoseconds per event: on a processor, so that a busy machine spoils less; on the clock
    /// for two threads.
    fn cost(&self, name: &'static str, size: Size) -> Option<f64> {
        if name.ends_with("-two") {
            self.clock(name, size)
        } else {
            self.median(name, size, |run| run.processor / run.events)
        }
    }

    /// Nanoseconds per event on the clock.
    fn clock(&self, name: &'static str, size: Size) -> Option<f64> {
        self.median(name, size, |run| run.wall / run.events)
    }

    /// Peak memory in MiB.
    fn peak(&self, name: &'static str, size: Size) -> Option<f64> {
        self.median(name, size, |run| run.peak_kib / 1_024.0)
    }

    fn median(
        &self,
        name: &'static str,
        size: Size,
        value: impl Fn(&Measured) -> f64,
    ) -> Option<f64> {
        let mut values: Vec<f64> = self.runs.get(&(name, size))?.iter().map(value).collect();
        values.sort_by(f64::total_cmp);
        values.get(values.len() / 2).copied()
    }
}

/// Three significant digits.
fn digits(value: f64) -> String {
    if value < 10.0 {
        format!("{value:.2}")
    } else if value < 100.0 {
        format!("{value:.1}")
    } else {
        format!("{value:.0}")
    }
}

/// One thing that is asked: the cost of the cheapest of these over the cost of the product.
struct Ask {
    what: &'static str,
    number: (&'static [&'static str], Size),
    base: (&'static [&'static str], Size),
    bar: f64,
    at_least: bool,
    /// Whether to miss it is a failure; `false`: a far aim.
    is_bar: bool,
}

const PRODUCT: &[&str] = &["roomrig"];
const PEAK_MIB: f64 = 100.0;
const TWO_CORES: f64 = 1.5;

const ASKS: [Ask; 8] = [
    Ask {
        what: "nexosim's best with models for rooms or devices, over roomrig, 10 000 rooms",
        number: (&["nexosim-devices", "nexosim-rooms"], Size::CAMPUS),
        base: (PRODUCT, Size::CAMPUS),
        bar: 50.0,
        at_least: true,
        is_bar: true,
    },
    Ask {
        what: "nexosim as a bare queue (one model for all rooms), over roomrig, 10 000 rooms",
        number: (&["nexosim-all"], Size::CAMPUS),
        base: (PRODUCT, Size::CAMPUS),
        bar: 50.0,
        at_least: true,
        is_bar: true,
    },
    Ask {
        what: "SimPy callbacks over roomrig, 10 000 rooms",
        number: (&["simpy-callbacks"], Size::CAMPUS),
        base: (PRODUCT, Size::CAMPUS),
        bar: 100.0,
        at_least: true,
        is_bar: true,
    },
    Ask {
        what: "the heap loop by hand over roomrig, 10 000 rooms",
        number: (&["heap"], Size::CAMPUS),
        base: (PRODUCT, Size::CAMPUS),
        bar: 2.0,
        at_least: true,
        is_bar: true,
    },
    Ask {
        what: "nexosim's best over roomrig, one room for a year",
        number: (
            &["nexosim-devices", "nexosim-rooms", "nexosim-all"],
            Size::YEAR,
        ),
        base: (PRODUCT, Size::YEAR),
        bar: 5.0,
        at_least: true,
        is_bar: true,
    },
    Ask {
        what: "roomrig with the full trace, all kept to the end, over roomrig without, 10 000 rooms",
        number: (&["roomrig-trace"], Size::CAMPUS),
        base: (PRODUCT, Size::CAMPUS),
        bar: 4.0,
        at_least: false,
        is_bar: true,
    },
    Ask {
        what: "roomrig at 100 000 rooms over one room for a year: flat",
        number: (PRODUCT, Size::TOWN),
        base: (PRODUCT, Size::YEAR),
        bar: 1.25,
        at_least: false,
        is_bar: true,
    },
    Ask {
        what: "roomrig over the practical limit, 10 000 rooms (an aim, not a bar)",
        number: (PRODUCT, Size::CAMPUS),
        base: (&["limit"], Size::CAMPUS),
        bar: 5.0,
        at_least: false,
        is_bar: false,
    },
];
