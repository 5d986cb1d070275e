//! Rows that give one point two things at one instant.
//!
//! Nobody could say which comes first, so two such rows are an error. Repetitions that meet
//! are one: a person who is heard twice in one millisecond was heard.

use std::collections::BTreeMap;
use std::collections::btree_map;

use room::{Change, Device, Input, Stimulus};
use sim::Instant;

use super::phrase::{Check, State, What};
use super::{Act, ActWhat, By, RowCheck, RowRef, Target};
use crate::Diagnostic;

/// What an act is about: two acts about the same thing at one instant must be the same act.
#[derive(Clone, Copy, Debug, Eq, Ord, PartialEq, PartialOrd)]
enum About {
    Motion(u16),
    Sound(u16),
    Button(u16, u8),
    WalkTest(u16),
    TeachIn(u16),
    Source(u16),
    Power(Device),
    Clock(Device),
    Daylight,
    Stuck(u16),
    Learn(u16),
}

/// Sorts what happens by time, drops repetitions that meet, and reports rows that conflict.
/// `repeats` says of each row whether it names more than one moment.
pub(super) fn settle(
    acts: Vec<Act>,
    rows: &[RowRef],
    repeats: &[bool],
    diagnostics: &mut Vec<Diagnostic>,
) -> Vec<Act> {
    let mut seen: BTreeMap<(Instant, bool, About), usize> = BTreeMap::new();
    let mut kept: Vec<Act> = Vec::with_capacity(acts.len());
    let mut said = Vec::new();
    for act in acts {
        let Some(about) = about(&act) else {
            kept.push(act);
            continue;
        };
        match seen.entry((act.at, act.after, about)) {
            btree_map::Entry::Vacant(entry) => {
                entry.insert(kept.len());
                kept.push(act);
            }
            btree_map::Entry::Occupied(entry) => {
                let first = &kept[*entry.get()];
                let (By::Row(one), By::Row(two)) = (first.by, act.by) else {
                    continue;
                };
                let repeated = repeats[one] || repeats[two];
                if first.what == act.what && repeated || said.contains(&(one, two)) {
                    continue;
                }
                said.push((one, two));
                diagnostics.push(conflict(&rows[one], &rows[two], first.what == act.what));
            }
        }
    }
    // What a row gives keeps its order within an instant: a tap is down before it is up.
    kept.sort_by_key(|act| act.at);
    kept
}

fn conflict(one: &RowRef, two: &RowRef, same: bool) -> Diagnostic {
    let message = if same {
        format!(
            "`{}` happens at `{}` twice at one instant",
            two.says, two.point
        )
    } else {
        format!("two rows give `{}` something at one instant", two.point)
    };
    let hint = if same {
        "remove one of the two rows"
    } else {
        "make one of them later, such as `+100 ms`, or mark it `after`"
    };
    Diagnostic::error("two at once", two.place, message, hint)
        .label(format!("`{}`", two.says))
        .related(one.place, format!("`{}`", one.says))
}

fn about(act: &Act) -> Option<About> {
    let input = match &act.what {
        ActWhat::Input(input) => input,
        ActWhat::Drift(drift) => return Some(About::Clock(drift.device)),
        ActWhat::Impair(_) => return None,
    };
    Some(match input {
        Input::Stimulus(source, stimulus) => match stimulus {
            Stimulus::Motion => About::Motion(source.0),
            Stimulus::Sound => About::Sound(source.0),
            Stimulus::Press(button) | Stimulus::Release(button) => About::Button(source.0, *button),
            Stimulus::WalkTest(_) => About::WalkTest(source.0),
            Stimulus::TeachIn => About::TeachIn(source.0),
            // A sweep may fall on the closing of hours.
            Stimulus::Due(_) => return None,
            _ => About::Source(source.0),
        },
        Input::Power(device, _) => About::Power(*device),
        Input::Daylight(_) => About::Daylight,
        Input::Stuck(output, _) => About::Stuck(output.0),
        Input::Learn { output, .. } => About::Learn(output.0),
        Input::Change(change) => match **change {
            // Several settings may be changed at one instant; they were joined before.
            Change::Source(..) | Change::Controller(..) => return None,
        },
        Input::Frame { .. } | Input::Elapsed(_) => return None,
    })
}

/// Checks of one point at one moment that cannot both be so.
pub(super) fn contradictions(
    checks: &[RowCheck],
    rows: &[RowRef],
    diagnostics: &mut Vec<Diagnostic>,
) {
    let moments = |check: &RowCheck| -> Vec<Instant> {
        let windows = check
            .windows
            .iter()
            .filter(|window| window.from == window.to);
        windows.map(|window| window.from).collect()
    };
    let mut seen: BTreeMap<(Target, Instant), Vec<usize>> = BTreeMap::new();
    for (index, check) in checks.iter().enumerate() {
        let Check::Is(state) = &check.check else {
            continue;
        };
        for at in moments(check) {
            let others = seen.entry((check.target, at)).or_default();
            let against = others.iter().find(|&&other| {
                matches!(&checks[other].check, Check::Is(other) if contradict(state, other))
            });
            if let Some(&other) = against {
                let (one, two) = (&rows[checks[other].row], &rows[check.row]);
                diagnostics.push(
                    Diagnostic::error(
                        "two at once",
                        two.place,
                        format!("`{}` cannot be both at one instant", two.point),
                        "remove one of the two checks, or make one of them later",
                    )
                    .label(format!("`{}`", two.says))
                    .related(one.place, format!("`{}`", one.says)),
                );
                return;
            }
            others.push(index);
        }
    }
}

fn contradict(one: &State, two: &State) -> bool {
    if one.what == two.what {
        return one.not != two.not;
    }
    let opposites = [
        (What::On, What::Off),
        (What::Occupied, What::Vacant),
        (What::Closed, What::Open),
        (What::Relay(true), What::Relay(false)),
        (What::InTheLight, What::InTheDark),
    ];
    let pair = (one.what, two.what);
    !one.not
        && !two.not
        && opposites
            .iter()
            .any(|&(a, b)| pair == (a, b) || pair == (b, a))
}
