//! Like events that follow each other closely, gathered into one item.

use device::Span;
use sim::Instant;

use super::super::{Item, Shape, Tick};

/// A stimulus on its way to a timeline.
pub(super) struct Stimulated {
    pub(super) at: Instant,
    pub(super) tick: Tick,
    pub(super) says: String,
    pub(super) idle: bool,
    /// What it brought about.
    pub(super) effect: String,
    /// The row that put it there.
    pub(super) place: String,
}

/// Gathers stimuli of one kind and one effect that are at most five minutes apart.
pub(super) fn gather(stimuli: Vec<Stimulated>) -> Vec<Item> {
    let mut items: Vec<Item> = Vec::new();
    let mut burst: Vec<Stimulated> = Vec::new();
    for next in stimuli {
        let belongs = burst.last().is_some_and(|last| {
            last.effect == next.effect
                && last.idle == next.idle
                && last.says == next.says
                && next.at.since(last.at) <= APART
        });
        if !belongs {
            items.extend(close(std::mem::take(&mut burst)));
        }
        burst.push(next);
    }
    items.extend(close(burst));
    items
}

fn close(burst: Vec<Stimulated>) -> Option<Item> {
    let at: Vec<Instant> = burst.iter().map(|one| one.at).collect();
    let (first, last) = (*at.first()?, *at.last()?);
    let says = if at.len() == 1 {
        burst[0].says.clone()
    } else {
        let steps: Vec<Span> = at.windows(2).map(|pair| pair[1].since(pair[0])).collect();
        let even = steps.iter().all(|step| *step == steps[0]);
        let rhythm = if even {
            format!(", {} apart", steps[0])
        } else {
            String::new()
        };
        format!("{}, {} times{rhythm}", burst[0].says, at.len())
    };
    let mut reason = burst[0].effect.clone();
    if !burst[0].place.is_empty() {
        let gap = if reason.is_empty() { "" } else { " " };
        reason.push_str(&format!("{gap}({})", burst[0].place));
    }
    Some(Item {
        number: 0,
        from: first,
        to: last,
        goes_on: false,
        says,
        reason,
        shape: Shape::Ticks {
            at,
            tick: burst[0].tick,
            idle: burst[0].idle,
        },
    })
}

/// Events farther apart than this are items of their own.
pub(super) const APART: Span = Span::from_minutes(5);
