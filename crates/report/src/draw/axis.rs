//! The time axis: labels, grid lines, breaks.

use maud::{Markup, html};

use super::{AXIS, CHARACTER, PLOT, Strip, TICK_GAP, number};
use crate::timeline::{AxisTick as Tick, Piece};
use crate::words;

/// The labels of the axis, with the date where a day begins.
pub(super) fn labels(strip: &Strip) -> Markup {
    let clock = &strip.part.clock;
    let ticks = strip.scale.ticks(clock, TICK_GAP);
    let skips = skips(strip);
    html! {
        path.rule d=(format!("M0 {y}H{}", number(PLOT), y = number(AXIS - 0.5))) {}
        @for tick in &ticks {
            @let x = number(tick.x);
            path.tick d=(format!("M{x} {}v6", number(AXIS - 6.0))) {}
            text.label x=(number(held(tick.x, &tick.label))) y=(number(AXIS - 10.0))
                text-anchor="middle" { (tick.label) }
        }
        @for (left, date) in dates(strip, &ticks, &skips) {
            text.date x=(number(left)) y="13" { (date) }
        }
        @for skip in &skips { (break_label(skip)) }
    }
}

/// A break of the axis with its label, where that has room.
struct Skip<'a> {
    piece: &'a Piece,
    label: Option<(f64, String)>,
}

/// The breaks of a strip; a label that would run into the one before is left out.
fn skips(strip: &Strip) -> Vec<Skip<'_>> {
    let mut free = f64::MIN;
    let breaks = strip.scale.pieces.iter().filter(|piece| piece.is_break);
    breaks
        .map(|piece| {
            let text = skipped_roughly(piece);
            let middle = held(f64::midpoint(piece.left, piece.right), &text);
            let half = wide(&text) / 2.0;
            let clear = middle - half > free;
            if clear {
                free = middle + half + CHARACTER;
            }
            let label = clear.then_some((middle, text));
            Skip { piece, label }
        })
        .collect()
}

/// Where the date of each day stands: at its first tick, or right of whatever is in the way.
fn dates(strip: &Strip, ticks: &[Tick], skips: &[Skip<'_>]) -> Vec<(f64, String)> {
    let clock = &strip.part.clock;
    let mut dates: Vec<(f64, String)> = Vec::new();
    let mut day = None;
    let mut free = 0.0;
    for tick in ticks {
        let here = clock.day(tick.at);
        if day == Some(here) {
            continue;
        }
        let date = clock.date(tick.at);
        let mut left = (tick.x - 16.0).max(free).min(PLOT - wide(&date));
        for (middle, text) in skips.iter().filter_map(|skip| skip.label.as_ref()) {
            let half = wide(text) / 2.0 + CHARACTER;
            if left < middle + half && left + wide(&date) > middle - half {
                left = middle + half;
            }
        }
        if left >= free && left + wide(&date) <= PLOT && left - tick.x < 2.0 * TICK_GAP {
            free = left + wide(&date) + 2.0 * CHARACTER;
            day = Some(here);
            dates.push((left, date));
        }
    }
    dates
}

fn wide(text: &str) -> f64 {
    text.chars().count() as f64 * CHARACTER
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

fn break_label(skip: &Skip<'_>) -> Markup {
    let piece = skip.piece;
    html! {
        g {
            title { (skipped(piece)) }
            path.wave d=(wave_between(piece.left + 8.0, AXIS - 9.0, AXIS)) {}
            path.wave d=(wave_between(piece.right - 8.0, AXIS - 9.0, AXIS)) {}
            @if let Some((middle, text)) = &skip.label {
                text.skip x=(number(*middle)) y="13" text-anchor="middle" { (text) }
            }
        }
    }
}

/// How long a break is, in its largest unit.
fn skipped_roughly(piece: &Piece) -> String {
    let span = piece.span();
    match span.as_ms() / 60_000 {
        0 => format!("{} s", span.as_ms() / 1_000),
        minutes @ 1..60 => format!("{minutes} min"),
        minutes @ 60..2_880 => format!("{} h", minutes / 60),
        minutes => format!("{} d", minutes / 1_440),
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
    let half = wide(label) / 2.0;
    x.clamp(half, PLOT - half)
}
