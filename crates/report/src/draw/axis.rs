//! The time axis: labels, grid lines, breaks.

use maud::{Markup, html};

use super::{AXIS, CHARACTER, PLOT, Strip, TICK_GAP, number};
use crate::timeline::Piece;
use crate::words;

/// The labels of the axis, with the date where a day begins.
pub(super) fn labels(strip: &Strip) -> Markup {
    let clock = &strip.part.clock;
    let ticks = strip.scale.ticks(clock, TICK_GAP);
    let mut day = None;
    let mut date_end = f64::MIN;
    html! {
        path.rule d=(format!("M0 {y}H{}", number(PLOT), y = number(AXIS - 0.5))) {}
        @for tick in &ticks {
            @let x = number(tick.x);
            path.tick d=(format!("M{x} {}v6", number(AXIS - 6.0))) {}
            text.label x=(number(held(tick.x, &tick.label))) y=(number(AXIS - 10.0))
                text-anchor="middle" { (tick.label) }
            @if day != Some(clock.day(tick.at)) && tick.x >= date_end {
                @let date = clock.date(tick.at);
                @let left = date_left(tick.x, &date);
                text.date x=(number(left)) y="13" { (date) }
                ({
                    day = Some(clock.day(tick.at));
                    date_end = left + (date.chars().count() as f64 + 2.0) * CHARACTER;
                    ""
                })
            }
        }
        @for piece in strip.scale.pieces.iter().filter(|piece| piece.is_break) {
            (break_label(piece))
        }
    }
}

/// Grid lines through a lane, and its upper edge.
pub(super) fn grid(strip: &Strip, height: f64) -> Markup {
    let ticks = strip.scale.ticks(&strip.part.clock, TICK_GAP);
    let mut lines = String::new();
    for tick in ticks {
        lines.push_str(&format!("M{} 0V{}", number(tick.x), number(height)));
    }
    html! {
        path.grid d=(lines) {}
        path.edge d=(format!("M0 .5H{}", number(PLOT))) {}
    }
}

/// The breaks of the axis: two wavy lines over a gap in the paper.
pub(super) fn breaks(strip: &Strip, height: f64) -> Markup {
    html! {
        @for piece in strip.scale.pieces.iter().filter(|piece| piece.is_break) {
            g.break {
                title { (skipped(piece)) }
                path.gap d=(gap(piece, height)) {}
                path.wave d=(wave(piece.left + 8.0, height)) {}
                path.wave d=(wave(piece.right - 8.0, height)) {}
            }
        }
    }
}

fn break_label(piece: &Piece) -> Markup {
    let span = piece.span();
    let minutes = span.as_ms() / 60_000;
    let text = match minutes {
        0 => format!("{} s", span.as_ms() / 1_000),
        1..60 => format!("{minutes} min"),
        60..2_880 => format!("{} h", minutes / 60),
        _ => format!("{} d", minutes / 1_440),
    };
    let middle = f64::midpoint(piece.left, piece.right);
    html! {
        g {
            title { (skipped(piece)) }
            path.wave d=(wave_between(piece.left + 8.0, AXIS - 9.0, AXIS)) {}
            path.wave d=(wave_between(piece.right - 8.0, AXIS - 9.0, AXIS)) {}
            text.skip x=(number(held(middle, &text))) y="13" text-anchor="middle" { (text) }
        }
    }
}

fn skipped(piece: &Piece) -> String {
    let quiet = words::short_span(piece.span());
    format!("a quiet stretch of {quiet}, drawn shorter than it was")
}

fn gap(piece: &Piece, height: f64) -> String {
    let (left, right) = (number(piece.left + 8.0), number(piece.right - 8.0));
    format!("M{left} 0H{right}V{}H{left}Z", number(height))
}

fn wave(x: f64, height: f64) -> String {
    wave_between(x, 0.0, height)
}

/// A wavy line downwards, one wave each 10 px.
fn wave_between(x: f64, top: f64, bottom: f64) -> String {
    let mut path = format!("M{} {}", number(x), number(top));
    let mut y = top;
    let mut side = 1.0;
    while y < bottom {
        let step = (bottom - y).min(5.0);
        let (bow, half) = (number(side * 2.6), number(step / 2.0));
        path.push_str(&format!("q{bow} {half} 0 {}", number(step)));
        side = -side;
        y += 5.0;
    }
    path
}

/// The middle of a label that stays on the paper.
fn held(x: f64, label: &str) -> f64 {
    let half = label.chars().count() as f64 * CHARACTER / 2.0;
    x.clamp(half, PLOT - half)
}

fn date_left(x: f64, date: &str) -> f64 {
    let width = date.chars().count() as f64 * CHARACTER;
    (x - 16.0).clamp(0.0, PLOT - width)
}
