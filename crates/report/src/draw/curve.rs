//! Levels and illuminances over the height of a tall track.

use maud::{Markup, html};
use sim::Instant;

use super::{CHARACTER, TALL, number};
use crate::timeline::Scale;

/// A quantity as straight pieces between corners, with the value at the top of the track.
pub(super) struct Curve {
    points: Vec<(Instant, f64)>,
    top: f64,
}

impl Curve {
    /// The part of a curve that stands on the paper.
    pub(super) fn clipped(points: &[(Instant, f64)], top: f64, scale: &Scale) -> Self {
        let (from, to) = (scale.from(), scale.to());
        let mut kept: Vec<(Instant, f64)> = Vec::new();
        for pair in points.windows(2) {
            let ((a, low), (b, high)) = (pair[0], pair[1]);
            if b < from || a > to {
                continue;
            }
            let at = |instant: Instant| {
                let whole = b.since(a).as_ms();
                if whole == 0 {
                    return high;
                }
                let share = instant.since(a).as_ms() as f64 / whole as f64;
                (high - low).mul_add(share, low)
            };
            let (first, last) = (a.max(from), b.min(to));
            let start = if first == a { low } else { at(first) };
            if kept.last() != Some(&(first, start)) {
                kept.push((first, start));
            }
            kept.push((last, if last == b { high } else { at(last) }));
        }
        if kept.is_empty() && points.len() == 1 {
            kept.push(points[0]);
        }
        Self { points: kept, top }
    }

    /// How high a value stands.
    fn y(&self, value: f64) -> f64 {
        let share = if self.top > 0.0 {
            value / self.top
        } else {
            0.0
        };
        (BASE - HEAD).mul_add(-share.clamp(0.0, 1.0), BASE)
    }

    /// The line, with extra corners where the axis changes its scale.
    fn corners(&self, scale: &Scale) -> Vec<(f64, f64)> {
        let mut corners: Vec<(f64, f64)> = Vec::new();
        for (index, (at, value)) in self.points.iter().enumerate() {
            if let Some((before, low)) = index.checked_sub(1).map(|last| self.points[last]) {
                let inside = scale.pieces.iter().map(|piece| piece.to);
                for edge in inside.filter(|edge| before < *edge && *edge < *at) {
                    let whole = at.since(before).as_ms() as f64;
                    let share = edge.since(before).as_ms() as f64 / whole;
                    corners.push((scale.x(edge), self.y((value - low).mul_add(share, low))));
                }
            }
            corners.push((scale.x(*at), self.y(*value)));
        }
        corners
    }

    /// The area under the line, and the line.
    pub(super) fn draw(&self, scale: &Scale, class: &str) -> Markup {
        let corners = self.corners(scale);
        let (Some(first), Some(last)) = (corners.first(), corners.last()) else {
            return html! {};
        };
        let mut line = String::new();
        for (index, (x, y)) in corners.iter().enumerate() {
            let command = if index == 0 { "M" } else { "L" };
            line.push_str(&format!("{command}{} {}", number(*x), number(*y)));
        }
        let area = format!(
            "{line}V{base}H{}V{base}Z",
            number(first.0),
            base = number(BASE)
        );
        let dark = corners.iter().all(|(_, y)| (*y - BASE).abs() < 0.05);
        html! {
            @if !dark && last.0 > first.0 {
                path class=(format!("{class}-area")) d=(area) {}
            }
            path class=(format!("{class}-line")) d=(line) {}
        }
    }

    /// Words above the longest level stretch, if they fit.
    pub(super) fn label(&self, scale: &Scale, text: impl Fn(f64) -> String) -> Markup {
        let level = self
            .points
            .windows(2)
            .filter(|pair| (pair[0].1 - pair[1].1).abs() < 1e-9);
        // Words would be torn by a break, so they stand on one straight piece.
        let places = level.flat_map(|pair| {
            let (from, to) = (scale.x(pair[0].0), scale.x(pair[1].0));
            let straight = scale.pieces.iter().filter(|piece| !piece.is_break);
            straight.map(move |piece| (from.max(piece.left), to.min(piece.right), pair[0].1))
        });
        let widest = places.max_by(|a, b| (a.1 - a.0).total_cmp(&(b.1 - b.0)));
        let Some((left, right, value)) = widest else {
            return html! {};
        };
        let words = text(value);
        if value <= 0.0 || right - left < words.chars().count() as f64 * CHARACTER + 8.0 {
            return html! {};
        }
        let y = self.y(value);
        let y = if y < HEAD + 14.0 { y + 14.0 } else { y - 4.0 };
        html! {
            text.level x=(number(left + 5.0)) y=(number(y)) { (words) }
        }
    }
}

/// The hairlines at nothing and at the top.
pub(super) fn frame(width: f64) -> Markup {
    let width = number(width);
    html! {
        path.hair d=(format!("M0 {}H{width}M0 {}H{width}", number(HEAD), number(BASE))) {}
    }
}

/// Where the top value stands.
const HEAD: f64 = 8.0;
/// Where nothing stands.
pub(super) const BASE: f64 = TALL - 6.0;
