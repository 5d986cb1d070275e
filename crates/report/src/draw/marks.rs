//! The signs: each a small drawing around its middle, told from the others by its shape.

use maud::{Markup, html};

use super::number;
use crate::timeline::{FrameFate, Tick};
use crate::verdict::Verdict;
use crate::words::Gesture;

/// The head of a stimulus: filled where it had an effect, hollow where it had none.
pub(super) fn head(tick: Tick, idle: bool, x: f64, y: f64) -> Markup {
    let class = if idle { "head idle" } else { "head" };
    let path = match tick {
        Tick::Motion => disc(x, y, 3.6),
        Tick::Sound => polygon(&[(x - 3.2, y - 4.0), (x + 4.0, y), (x - 3.2, y + 4.0)]),
        Tick::Due => polygon(&[(x, y - 4.6), (x + 4.6, y), (x, y + 4.6), (x - 4.6, y)]),
        Tick::Other => polygon(&[
            (x - 3.6, y - 3.6),
            (x + 3.6, y - 3.6),
            (x + 3.6, y + 3.6),
            (x - 3.6, y + 3.6),
        ]),
    };
    html! { path class=(class) d=(path) {} }
}

/// A button's sign.
pub(super) fn button(gesture: Gesture, idle: bool, x: f64, y: f64) -> Markup {
    let class = if idle { "head idle" } else { "head" };
    let path = match gesture {
        Gesture::Up => polygon(&[(x - 5.5, y + 4.5), (x, y - 5.0), (x + 5.5, y + 4.5)]),
        Gesture::Down => polygon(&[(x - 5.5, y - 4.5), (x, y + 5.0), (x + 5.5, y - 4.5)]),
        Gesture::Toggle => disc(x, y, 4.8),
        Gesture::Scene => polygon(&[(x, y - 5.6), (x + 5.6, y), (x, y + 5.6), (x - 5.6, y)]),
    };
    html! { path class=(class) d=(path) {} }
}

/// A verdict: a tick in a ring, a cross in a filled square, three dots, a question mark.
pub(super) fn verdict(verdict: Verdict, x: f64, y: f64) -> Markup {
    match verdict {
        Verdict::Held => html! {
            path.held-ring d=(disc(x, y, 6.4)) {}
            path.held-sign d=(format!(
                "M{} {}l2.4 2.8 4.2-5.2", number(x - 3.2), number(y + 0.2)
            )) {}
        },
        Verdict::Broken => html! {
            path.broken-fill d=(rectangle(x - 8.0, y - 8.0, 16.0, 16.0)) {}
            path.broken-sign d=(format!(
                "M{l} {t}l6 6m0-6l-6 6", l = number(x - 3.0), t = number(y - 3.0)
            )) {}
        },
        Verdict::Open => html! {
            path.held-ring d=(disc(x, y, 6.4)) {}
            path.dots d=(format!(
                "{}{}{}", disc(x - 3.2, y, 1.0), disc(x, y, 1.0), disc(x + 3.2, y, 1.0)
            )) {}
        },
        Verdict::NeverExercised | Verdict::Undecided => html! {
            path.held-ring d=(disc(x, y, 6.4)) {}
            text.query x=(number(x)) y=(number(y + 4.4)) text-anchor="middle" { "?" }
        },
    }
}

/// A frame that was not taken.
pub(super) fn frame(fate: FrameFate, x: f64, y: f64) -> Markup {
    let sheet = |x: f64, y: f64| rectangle(x - 6.0, y - 4.5, 12.0, 9.0);
    match fate {
        FrameFate::Lost => html! {
            path.frame.lost d=(sheet(x, y)) {}
            path.frame-cross d=(format!(
                "M{l} {t}l15 13m0-13l-15 13", l = number(x - 7.5), t = number(y - 6.5)
            )) {}
        },
        FrameFate::Copy => html! {
            path.frame d=(sheet(x - 2.0, y - 2.0)) {}
            path.frame d=(sheet(x + 2.0, y + 2.0)) {}
        },
        FrameFate::NoPower => html! {
            path.frame d=(sheet(x, y)) {}
            path.frame-cross d=(format!("M{} {}l15-13", number(x - 7.5), number(y + 6.5))) {}
        },
    }
}

/// A fault: a triangle with a stroke in it, hollow when it ends.
pub(super) fn fault(begins: bool, x: f64, y: f64) -> Markup {
    let triangle = polygon(&[(x - 8.0, y + 7.0), (x, y - 8.0), (x + 8.0, y + 7.0)]);
    let class = if begins { "fault" } else { "fault ended" };
    let (x, top, dot) = (number(x), number(y - 2.5), number(y + 4.0));
    html! {
        path class=(class) d=(triangle) {}
        path.fault-sign d=(format!("M{x} {top}v4.2M{x} {dot}v1.4")) {}
    }
}

pub(super) fn rectangle(x: f64, y: f64, width: f64, height: f64) -> String {
    let (width, height) = (number(width), number(height));
    format!("M{} {}h{width}v{height}h-{width}z", number(x), number(y))
}

fn disc(x: f64, y: f64, radius: f64) -> String {
    let (r, d) = (number(radius), number(radius * 2.0));
    format!(
        "M{} {}a{r} {r} 0 1 0 {d} 0a{r} {r} 0 1 0-{d} 0z",
        number(x - radius),
        number(y)
    )
}

fn polygon(corners: &[(f64, f64)]) -> String {
    let mut path = String::new();
    for (index, (x, y)) in corners.iter().enumerate() {
        let command = if index == 0 { "M" } else { "L" };
        path.push_str(&format!("{command}{} {}", number(*x), number(*y)));
    }
    path.push('Z');
    path
}
