//! Totals over time: energy, time on, averages.
//!
//! Invariant: light goes in straight lines between the edges of pieces, so sums are exact but for
//! the rounding of levels to 0.01 %.

use device::{Illuminance, Level, Span};
use room::OutputId;
use sim::{Instant, OutputState};

use super::judge::{Failure, Judge};
use super::lights;
use crate::script::phrase::{State, Total, What};
use crate::script::{Target, Window};

impl Judge<'_> {
    /// Judges a total over the window.
    pub(super) fn total(&self, total: Total, window: Window) -> Result<(), Failure> {
        let (holds, found) = match total {
            Total::Energy(compare) => {
                let used = self.energy(window);
                let words = format!("used {}.{} Wh", used / 1_000, used % 1_000 / 100);
                (compare.holds(used), words)
            }
            Total::TimeOn(compare) => {
                let on = Span::from_ms(self.time_on(window));
                (compare.holds(on), format!("was on {on}"))
            }
            Total::ShareOn(compare) => {
                let length = window.to.since(window.from).as_ms().max(1);
                let share = share_of(self.time_on(window), length);
                (compare.holds(share), format!("was on {share} of the time"))
            }
            Total::Turned(on, compare) => {
                let what = if on { What::On } else { What::Off };
                let times = self.becomes(&State { not: false, what }, window).len();
                let times = u32::try_from(times).unwrap_or(u32::MAX);
                let word = if on { "on" } else { "off" };
                let words = match times {
                    1 => format!("turned {word} once"),
                    _ => format!("turned {word} {times} times"),
                };
                (compare.holds(times), words)
            }
            Total::MeanLight(compare) => {
                let mean = self.mean_light(window);
                (compare.holds(mean), format!("averaged {mean}"))
            }
            Total::MeanLux(compare) => {
                let mean = self.mean_lux(window);
                (compare.holds(mean), format!("averaged {mean}"))
            }
        };
        if holds {
            return Ok(());
        }
        Err(Failure {
            at: window.to,
            found,
        })
    }

    /// Milliseconds in which the state of the output was not off.
    fn time_on(&self, window: Window) -> u64 {
        let Target::Output(id) = self.check.target else {
            return 0;
        };
        let pieces = self.pieces(window).into_iter();
        pieces
            .filter(|(from, _)| self.history().output(id, *from).state != OutputState::Off)
            .map(|(from, to)| to.since(from).as_ms())
            .sum()
    }

    /// Milliwatt-hours: light × load, or the whole load while a contact is closed.
    fn energy(&self, window: Window) -> u64 {
        let Target::Output(id) = self.check.target else {
            return 0;
        };
        let load = self.script().loads[usize::from(id.0)].unwrap_or(0);
        let lit = lights(&self.script().plan, id);
        let mut sum: u128 = 0;
        for (from, to) in self.pieces(window) {
            let view = self.history().output(id, from);
            let levels = if lit {
                self.light_times_two(id, from, to)
            } else if view.closed {
                2 * u128::from(Level::FULL.hundredths())
            } else {
                0
            };
            sum += levels * u128::from(to.since(from).as_ms());
        }
        // mW × hundredths of a per cent × 2 × ms → mWh.
        let used = sum * u128::from(load) / (2 * 10_000 * 3_600_000);
        u64::try_from(used).unwrap_or(u64::MAX)
    }

    fn mean_light(&self, window: Window) -> Level {
        let Target::Output(id) = self.check.target else {
            return Level::OFF;
        };
        let mut sum: u128 = 0;
        for (from, to) in self.pieces(window) {
            sum += self.light_times_two(id, from, to) * u128::from(to.since(from).as_ms());
        }
        let length = u128::from(window.to.since(window.from).as_ms().max(1));
        let mean = u16::try_from(sum / (2 * length)).unwrap_or(u16::MAX);
        Level::from_hundredths(mean)
    }

    fn mean_lux(&self, window: Window) -> Illuminance {
        let Target::Task(task) = self.check.target else {
            return Illuminance::default();
        };
        let mut sum: u128 = 0;
        for (from, to) in self.pieces(window) {
            let last = Instant::from_ms(to.as_ms() - 1);
            let lux = u128::from(self.lux(task, from).hundredths())
                + u128::from(self.lux(task, last).hundredths());
            sum += lux * u128::from(to.since(from).as_ms());
        }
        let length = u128::from(window.to.since(window.from).as_ms().max(1));
        let mean = u32::try_from(sum / (2 * length)).unwrap_or(u32::MAX);
        Illuminance::from_hundredths(mean)
    }

    /// Twice the mean light of an output on a straight piece of time.
    fn light_times_two(&self, id: OutputId, from: Instant, to: Instant) -> u128 {
        let view = self.history().output(id, from);
        let left = view.light.within.minus(to.since(from));
        let end = view
            .light
            .now
            .towards(view.light.to, left, view.light.within);
        u128::from(view.light.now.hundredths()) + u128::from(end.hundredths())
    }

    /// The window in pieces on which everything is straight.
    fn pieces(&self, window: Window) -> Vec<(Instant, Instant)> {
        let none = State {
            not: false,
            what: What::On,
        };
        let mut edges: Vec<Instant> = self.moments(&none, window).into_iter().collect();
        edges.sort_unstable();
        let pairs = edges.windows(2);
        pairs.map(|pair| (pair[0], pair[1])).collect()
    }
}

fn share_of(part: u64, whole: u64) -> Level {
    let hundredths = u128::from(part) * 10_000 / u128::from(whole);
    Level::from_hundredths(u16::try_from(hundredths).unwrap_or(u16::MAX))
}
