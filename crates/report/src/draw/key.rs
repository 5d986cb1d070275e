//! The key: what each sign of a picture means.

use maud::{Markup, html};

use super::marks;
use crate::timeline::{FrameFate, Tick};
use crate::verdict::Verdict;
use crate::words::Gesture;

/// The key as a list of small drawings with their words.
pub(super) fn key() -> Markup {
    let (x, y) = (14.0, 11.0);
    let bar = |class: &str| html! { path class=(format!("span {class}")) d=(marks::rectangle(2.0, 4.0, 24.0, 14.0)) {} };
    let timer =
        |end: Markup| html! { path.timer d=(marks::rectangle(2.0, 4.0, 18.0, 14.0)) {} (end) };
    let signs: Vec<(Markup, &str)> = vec![
        (marks::head(Tick::Motion, false, x, y), "motion"),
        (marks::head(Tick::Sound, false, x, y), "sound"),
        (marks::head(Tick::Due, false, x, y), "calendar entry"),
        (
            marks::head(Tick::Motion, true, x, y),
            "hollow: it had no effect",
        ),
        (marks::button(Gesture::Up, false, x, y), "button up"),
        (marks::button(Gesture::Down, false, x, y), "button down"),
        (marks::button(Gesture::Toggle, false, x, y), "single button"),
        (marks::button(Gesture::Scene, false, x, y), "scene"),
        (bar("solid"), "on, occupied, card in"),
        (bar("dotted"), "setback, unknown"),
        (bar("slanted"), "warning, emergency, warming up"),
        (bar("crossed"), "no power, relay stuck"),
        (bar("outline"), "a mark: occupied, latch, by hand"),
        (
            timer(html! { path.timer-end d="M20 2V20l5-9 -5-9" {} }),
            "a timer that ended",
        ),
        (
            timer(html! { path.timer-stop d="M17 3L23 19" {} }),
            "a timer that was stopped",
        ),
        (
            timer(html! { path.notch d="M7 14.5v3.5M12 14.5v3.5" {} }),
            "a timer that was started again",
        ),
        (marks::frame(FrameFate::Lost, x, y), "a frame was lost"),
        (
            marks::frame(FrameFate::Copy, x, y),
            "a frame came twice or late",
        ),
        (marks::fault(true, x, y), "a fault was reported"),
        (marks::verdict(Verdict::Held, x, y), "held"),
        (marks::verdict(Verdict::Broken, x, y), "broken"),
        (marks::verdict(Verdict::Open, x, y), "open at the end"),
    ];
    html! {
        details.key open {
            summary { "What the signs mean" }
            ul {
                @for (sign, words) in signs {
                    li {
                        svg width="28" height="22" aria-hidden="true" { (sign) }
                        (words)
                    }
                }
            }
        }
    }
}
