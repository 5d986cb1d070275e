//! One track of a lane: its items in their places.

use maud::{Markup, html};
use sim::Instant;

use super::curve::{self, Curve};
use super::{CHARACTER, LINE, PLOT, marks, number};
use crate::timeline::{Fill, Item, Scale, Shape, Tick, TimerEnd, Track};
use crate::verdict::Verdict;

/// Draws a track from its upper edge downwards; `titles`: with the reason of each item as a
/// title that shows on hover.
pub(super) fn draw(track: &Track, scale: &Scale, titles: bool) -> Markup {
    let note = if track.verdict == Some(Verdict::NeverExercised) {
        Some("never exercised")
    } else {
        track.throughout.then_some("held throughout")
    };
    let top = curve_top(track);
    html! {
        @if track.tall {
            (curve::frame(PLOT))
        }
        @if track.verdict.is_some() {
            path.hair d=(format!("M0 {y}H{}", number(PLOT), y = number(MIDDLE))) {}
        }
        @if let Some(note) = note {
            @let room = scale.straight(0.0, PLOT, label_width(note));
            text.never x=(number(room.map_or(0.0, |room| room.0) + 6.0)) y=(number(MIDDLE + 4.4)) { (note) }
        }
        @for item in &track.items {
            g.item data-n=(item.number) {
                @if titles {
                    title { (item.says) @if !item.reason.is_empty() { "\n" (item.reason) } }
                }
                (shape(item, scale, top))
            }
        }
        @if track.tall {
            (targets(track, scale))
        }
    }
}

/// The box around an item, for whoever points at it: left, top, width and height.
pub(super) fn extent(item: &Item, track: &Track, scale: &Scale) -> (f64, f64, f64, f64) {
    let (left, right) = (scale.x(item.from), scale.x(item.to));
    let height = super::height(track);
    let wide = (right - left).max(16.0);
    let left = if right - left < 16.0 {
        f64::midpoint(left, right) - 8.0
    } else {
        left
    };
    (left.clamp(0.0, PLOT - 16.0), 0.0, wide.min(PLOT), height)
}

fn shape(item: &Item, scale: &Scale, top: f64) -> Markup {
    let (from, to) = (scale.x(item.from), scale.x(item.to));
    match &item.shape {
        Shape::Ticks { at, tick, idle } => ticks(at, *tick, *idle, scale),
        Shape::Press {
            gesture,
            held,
            idle,
        } => html! {
            @if *held {
                path.press d=(marks::rectangle(from, MIDDLE - 3.0, (to - from).max(2.0), 6.0)) {}
            }
            (marks::button(*gesture, *idle, from, MIDDLE))
        },
        Shape::Span(fill, label) => span(*fill, label, (from, to), scale),
        Shape::Timer {
            label,
            restarts,
            end,
        } => timer(label, restarts, *end, (from, to), scale),
        Shape::Light { points, .. } => {
            let points: Vec<_> = points
                .iter()
                .map(|(at, level)| (*at, f64::from(level.hundredths())))
                .collect();
            let curve = Curve::clipped(&points, 10_000.0, scale);
            html! {
                (curve.draw(scale, "light"))
                (curve.label(scale, |value| {
                    device::Level::from_hundredths(value as u16).to_string()
                }))
            }
        }
        Shape::Curve(points) => {
            let points: Vec<_> = points
                .iter()
                .map(|(at, value)| (*at, f64::from(*value)))
                .collect();
            let curve = Curve::clipped(&points, top, scale);
            html! {
                (curve.draw(scale, "lux"))
                text.level x="4" y="20" {
                    (device::Illuminance::from_hundredths(top as u32))
                }
            }
        }
        Shape::Frame(fate) => html! {
            @if to - from > 8.0 {
                path.frame-cross.more d=(format!("M{} {}H{}", number(from), number(MIDDLE), number(to))) {}
            }
            (marks::frame(*fate, from, MIDDLE))
        },
        Shape::Check(verdict) | Shape::Duty(verdict) => judged(item, *verdict, scale),
        Shape::Fault(begins) => marks::fault(*begins, from, MIDDLE),
    }
}

/// A check or an obligation: a bracket from where it began, and the sign where it ended.
fn judged(item: &Item, verdict: Verdict, scale: &Scale) -> Markup {
    let (from, to) = (scale.x(item.from), scale.x(item.to));
    let class = if verdict == Verdict::Broken {
        "duty bad"
    } else {
        "duty"
    };
    let shown = item.to <= scale.to();
    let place = to.clamp(9.0, PLOT - 9.0);
    html! {
        @if to - from > 8.0 {
            path class=(class) d=(format!(
                "M{l} {}v10M{l} {}H{}", number(MIDDLE - 5.0), number(MIDDLE), number(to),
                l = number(from),
            )) {}
        }
        @if shown {
            (marks::verdict(verdict, place, MIDDLE))
        }
    }
}

/// Stems of stimuli as one path, with heads where they have room.
fn ticks(at: &[Instant], tick: Tick, idle: bool, scale: &Scale) -> Markup {
    let shown = at
        .iter()
        .filter(|at| (scale.from()..=scale.to()).contains(at));
    let mut places: Vec<f64> = Vec::new();
    for x in shown.map(|at| scale.x(*at)) {
        if places.last().is_none_or(|last| x - last >= 2.4) {
            places.push(x);
        }
    }
    let mut stems = String::new();
    let mut heads: Vec<f64> = Vec::new();
    for x in &places {
        stems.push_str(&format!("M{} 5V{}", number(*x), number(LINE - 1.0)));
        if heads.last().is_none_or(|last| x - last >= 10.0) {
            heads.push(*x);
        }
    }
    // A head for each stem or, where they are crowded, for the ends of the burst.
    if heads.len() < places.len() {
        heads = places
            .first()
            .into_iter()
            .chain(places.last())
            .copied()
            .collect();
        heads.dedup();
    }
    let class = if idle { "stem idle" } else { "stem" };
    html! {
        path class=(class) d=(stems) {}
        @for x in heads {
            (marks::head(tick, idle, x, 6.0))
        }
    }
}

fn span(fill: Fill, label: &str, (from, to): (f64, f64), scale: &Scale) -> Markup {
    let class = match fill {
        Fill::Solid => "span solid",
        Fill::Dots => "span dotted",
        Fill::Slants => "span slanted",
        Fill::Cross => "span crossed",
        Fill::Outline => "span outline",
    };
    let plate = match fill {
        Fill::Solid | Fill::Outline => None,
        Fill::Dots | Fill::Slants | Fill::Cross => Some("plate"),
    };
    let ink = if fill == Fill::Solid {
        "on-solid"
    } else {
        "on-bar"
    };
    html! {
        path class=(class) d=(marks::rectangle(from, 3.5, (to - from).max(2.0), LINE - 7.0)) {}
        (bar_label(label, (from, to), scale, ink, plate))
    }
}

fn label_width(label: &str) -> f64 {
    label.chars().count() as f64 * CHARACTER
}

/// Words on a bar, where they fit and no break tears them; on a patterned bar on a plate.
fn bar_label(
    label: &str,
    (from, to): (f64, f64),
    scale: &Scale,
    ink: &str,
    plate: Option<&str>,
) -> Markup {
    let wide = label_width(label);
    let Some((left, _)) = scale.straight(from, to, wide + 10.0) else {
        return html! {};
    };
    html! {
        @if let Some(plate) = plate {
            path class=(plate) d=(marks::rectangle(left + 2.0, 5.0, wide + 5.0, LINE - 10.0)) {}
        }
        text class=(ink) x=(number(left + 5.0)) y=(number(MIDDLE + 4.4)) { (label) }
    }
}

fn timer(
    label: &str,
    restarts: &[Instant],
    end: TimerEnd,
    (from, to): (f64, f64),
    scale: &Scale,
) -> Markup {
    let width = (to - from).max(2.0);
    let mut notches = String::new();
    let mut last = f64::MIN;
    let inside = restarts
        .iter()
        .filter(|at| (scale.from()..=scale.to()).contains(at));
    for x in inside.map(|at| scale.x(*at)) {
        if x - last >= 2.4 {
            notches.push_str(&format!("M{} {}v3.5", number(x), number(LINE - 7.5)));
            last = x;
        }
    }
    let x = number(to);
    html! {
        path.timer d=(marks::rectangle(from, 4.0, width, LINE - 8.0)) {}
        @if !notches.is_empty() {
            path.notch d=(notches) {}
        }
        @match end {
            TimerEnd::Elapsed => path.timer-end d=(format!("M{x} 2V{}l5-{h} -5-{h}", number(LINE - 2.0), h = number((LINE - 4.0) / 2.0))) {},
            TimerEnd::Stopped => path.timer-stop d=(format!("M{} 3L{} {}", number(to - 3.0), number(to + 3.0), number(LINE - 3.0))) {},
            TimerEnd::Running => path.timer-on d=(format!("M{} {}l5 5-5 5", number((to - 5.0).max(0.0)), number(MIDDLE - 5.0))) {},
        }
        (bar_label(label, (from, to - 4.0), scale, "on-bar", (!notches.is_empty()).then_some("sand")))
    }
}

/// The target of the light, dashed, where it is not where the light goes.
fn targets(track: &Track, scale: &Scale) -> Markup {
    let mut path = String::new();
    for item in &track.items {
        let Shape::Light { points, target, .. } = &item.shape else {
            continue;
        };
        let goal = points.last().map(|point| point.1);
        if goal == Some(*target) {
            continue;
        }
        let share = f64::from(target.hundredths()) / 10_000.0;
        let y = (curve::BASE - 8.0).mul_add(-share, curve::BASE);
        let (from, to) = (scale.x(item.from), scale.x(item.to));
        path.push_str(&format!("M{} {}H{}", number(from), number(y), number(to)));
    }
    html! {
        @if !path.is_empty() {
            path.target d=(path) {}
        }
    }
}

/// The top value of the curves of a track: the next round number above them.
fn curve_top(track: &Track) -> f64 {
    let values = track.items.iter().flat_map(|item| match &item.shape {
        Shape::Curve(points) => points.iter().map(|point| point.1).collect(),
        _ => Vec::new(),
    });
    let most = f64::from(values.max().unwrap_or(0)).max(100.0);
    let mut step = 100.0;
    while step * 10.0 <= most {
        step *= 10.0;
    }
    let rounds = [1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0];
    let fits = rounds
        .into_iter()
        .map(|round| round * step)
        .find(|top| *top >= most);
    fits.unwrap_or(most)
}

const MIDDLE: f64 = LINE / 2.0;
