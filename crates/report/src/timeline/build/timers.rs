//! Timers as bars.

use device::Span;
use sim::{StepId, What};

use super::super::{Item, Shape, TimerEnd};
use super::Builder;
use crate::words::{self, TimerWords};

/// A timer that runs.
struct Bar {
    /// The step that started it last.
    started: StepId,
    first: StepId,
    span: Span,
    restarts: Vec<sim::Instant>,
}

impl Builder<'_> {
    /// The bars of one timer slot.
    pub(super) fn timer_bars(&self, timer: &TimerWords<'_>, steps: &[StepId]) -> Vec<Item> {
        let mut items = Vec::new();
        let mut open: Option<Bar> = None;
        for id in steps {
            match self.what(*id) {
                Some(What::Started(_, span)) => match &mut open {
                    Some(bar) => {
                        bar.started = *id;
                        bar.span = *span;
                        bar.restarts.push(self.at(*id));
                    }
                    None => {
                        open = Some(Bar {
                            started: *id,
                            first: *id,
                            span: *span,
                            restarts: Vec::new(),
                        });
                    }
                },
                Some(What::Stopped(_)) => {
                    let bar = open.take();
                    items.extend(bar.map(|bar| self.bar(timer, bar, *id, TimerEnd::Stopped)));
                }
                Some(What::Elapsed(_)) => {
                    let bar = open.take();
                    items.extend(bar.map(|bar| self.bar(timer, bar, *id, TimerEnd::Elapsed)));
                }
                _ => {}
            }
        }
        if let Some(bar) = open {
            let last = bar.started;
            items.push(self.bar(timer, bar, last, TimerEnd::Running));
        }
        items
    }

    fn bar(&self, timer: &TimerWords<'_>, bar: Bar, last: StepId, end: TimerEnd) -> Item {
        let span = words::short_span(bar.span);
        let label = match timer.sign {
            "" => span.clone(),
            sign => format!("{sign} {span}"),
        };
        let again = match bar.restarts.len() {
            0 => String::new(),
            times => format!(", started again {}", words::times(times)),
        };
        let became = match end {
            TimerEnd::Elapsed => format!("ended: {}", timer.end),
            TimerEnd::Stopped => "stopped before its end".to_owned(),
            TimerEnd::Running => "still running".to_owned(),
        };
        Item {
            number: 0,
            from: self.at(bar.first),
            to: match end {
                TimerEnd::Running => self.run.end,
                TimerEnd::Elapsed | TimerEnd::Stopped => self.at(last),
            },
            goes_on: end == TimerEnd::Running,
            says: format!("{} of {span}{again}, {became}", timer.name),
            reason: self.reason(last),
            shape: Shape::Timer {
                label,
                restarts: bar.restarts,
                end,
            },
        }
    }
}
