//! The table: who took how long, and how many times as long as the product.

use std::fmt::Write as _;

use crate::child::{Checker, Found};

/// What was measured.
#[derive(Debug, Default)]
pub(crate) struct Table {
    products: Vec<(usize, Found)>,
    others: Vec<(Checker, usize, u32, Found)>,
}

impl Table {
    pub(crate) fn product(&mut self, sensors: usize, found: Found) {
        self.products.push((sensors, found));
    }

    pub(crate) fn add(&mut self, checker: Checker, sensors: usize, minutes: u32, found: Found) {
        self.others.push((checker, sensors, minutes, found));
    }

    /// All of it as text.
    pub(crate) fn said(&self) -> String {
        let mut text = String::from(
            "| sensors | time in steps of | checker | states or classes | time to verdict | memory | times roomrig |\n\
             |---|---|---|---|---|---|---|\n",
        );
        for (sensors, product) in &self.products {
            line(
                &mut text,
                (*sensors, "none: dense"),
                "roomrig",
                product,
                None,
            );
            let others = self.others.iter().filter(|it| it.1 == *sensors);
            for (checker, _, minutes, found) in others {
                let steps = format!("{minutes} min");
                line(
                    &mut text,
                    (*sensors, &steps),
                    checker.name(),
                    found,
                    Some(product),
                );
            }
        }
        text.push_str("\n| sensors | found by | classes | successors | classes/s | successors/s | bytes/class |\n|---|---|---|---|---|---|---|\n");
        for (sensors, it) in self.products.iter().filter(|it| it.1.holds.is_some()) {
            let seconds = it.nanoseconds as f64 / 1e9;
            let _ = writeln!(
                text,
                "| {sensors} | {} | {} | {} | {:.0} | {:.0} | {} |",
                it.by,
                it.states,
                it.steps,
                it.states as f64 / seconds,
                it.steps as f64 / seconds,
                it.bytes / it.states.max(1)
            );
        }
        text
    }
}

fn line(
    text: &mut String,
    (sensors, steps): (usize, &str),
    name: &str,
    found: &Found,
    product: Option<&Found>,
) {
    let (states, time, memory) = match found.holds {
        Some(_) => (
            found.states.to_string(),
            time(found.nanoseconds),
            memory(found.kib),
        ),
        None => ("–".into(), "none in 60 s or 6 GiB".into(), "–".into()),
    };
    let ratio = match product {
        Some(product) if product.holds.is_some() && found.holds.is_some() => {
            significant(found.nanoseconds as f64 / product.nanoseconds as f64)
        }
        Some(product) if product.holds.is_some() => {
            format!("> {}", significant(6e10 / product.nanoseconds as f64))
        }
        _ => String::new(),
    };
    let _ = writeln!(
        text,
        "| {sensors} | {steps} | {name} | {states} | {time} | {memory} | {ratio} |"
    );
}

fn time(nanoseconds: u128) -> String {
    let seconds = nanoseconds as f64 / 1e9;
    if seconds < 1.0 {
        format!("{} ms", significant(seconds * 1e3))
    } else {
        format!("{} s", significant(seconds))
    }
}

fn memory(kib: u64) -> String {
    format!("{} MiB", kib.div_ceil(1_024))
}

/// Two or three digits that count.
fn significant(value: f64) -> String {
    if value < 1.0 {
        format!("{value:.2}")
    } else if value < 10.0 {
        format!("{value:.1}")
    } else {
        format!("{value:.0}")
    }
}
