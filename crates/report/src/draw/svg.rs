//! A timeline as a standalone SVG.

use maud::{Markup, PreEscaped, html};

use super::{AXIS, LINE, NAMES, PLOT, Rows, Strip, TEXT, axis, fitted, number, plot, style};
use crate::timeline::{Lane, Timeline};
use crate::verdict::Verdict;
use crate::words;

/// Draws a timeline as a standalone SVG, strips one under the other.
#[must_use]
pub fn svg(timeline: &Timeline) -> String {
    let strips = Strip::all(timeline);
    let mut top = HEAD;
    let mut places = Vec::new();
    for strip in strips {
        let height = strip_height(&strip);
        places.push((top, strip));
        top += height + 18.0;
    }
    let (width, height) = (NAMES + PLOT + 2.0 * MARGIN, top + MARGIN - 18.0);
    let (title, described) = (heading(timeline), description(timeline));
    let markup = html! {
        svg xmlns="http://www.w3.org/2000/svg" viewBox=(format!("0 0 {} {}", number(width), number(height)))
            width=(number(width)) height=(number(height)) role="img" aria-labelledby="t d" {
            title id="t" { (title) }
            desc id="d" { (described) }
            style { (PreEscaped(style::colours("svg"))) (PreEscaped(style::DRAWING)) (PreEscaped(ALONE)) }
            (patterns())
            rect.sheet width="100%" height="100%" {}
            text.title x=(number(MARGIN)) y="30" { (fitted(&timeline.title, 640.0)) }
            text.kind x=(number(MARGIN)) y="50" { (fitted(&format!("{} \u{00b7} {}", timeline.room, timeline.file), NAMES + PLOT)) }
            path.double d=(format!("M{l} 60.5H{r}M{l} 63.5H{r}", l = number(MARGIN), r = number(width - MARGIN))) {}
            @for (top, strip) in &places {
                g transform=(format!("translate({} {})", number(MARGIN), number(*top))) {
                    (one_strip(strip))
                }
            }
        }
    };
    format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n{}\n",
        markup.into_string()
    )
}

fn one_strip(strip: &Strip) -> Markup {
    let mut top = AXIS;
    let mut lanes = Vec::new();
    for lane in &strip.part.lanes {
        lanes.push((top, lane));
        top += Rows::of(lane).height;
    }
    html! {
        g transform=(format!("translate({} 0)", number(NAMES))) { (axis::labels(strip)) }
        @for (top, lane) in lanes {
            g transform=(format!("translate(0 {})", number(top))) {
                (names(lane))
                g transform=(format!("translate({} 0)", number(NAMES))) { (plot(lane, strip, true)) }
            }
        }
        path.rule d=(format!("M0 {y}H{}", number(NAMES + PLOT), y = number(top + 0.5))) {}
    }
}

/// The names of a lane and its tracks.
fn names(lane: &Lane) -> Markup {
    let rows = Rows::of(lane);
    html! {
        path.edge d=(format!("M0 .5H{}", number(NAMES))) {}
        text.name x="0" y=(number(LINE / 2.0 + 5.0)) {
            title { (lane.name) ", " (lane.kind) }
            (fitted(&lane.name, NAMES - 22.0))
        }
        @for (top, track) in &rows.rest {
            @let sign = track.verdict.map_or(String::new(), |verdict| format!("{} ", sign(verdict)));
            text.kind x="12" y=(number(top + super::height(track) / 2.0 + TEXT * 0.36)) {
                @let (name, says) = super::track_name(track);
                @if let Some(says) = says { title { (says) } }
                (sign) (name)
            }
        }
    }
}

/// The sign of a verdict beside the name of a clause.
pub(super) const fn sign(verdict: Verdict) -> &'static str {
    verdict.sign()
}

fn strip_height(strip: &Strip) -> f64 {
    AXIS + strip
        .part
        .lanes
        .iter()
        .map(|lane| Rows::of(lane).height)
        .sum::<f64>()
}

/// The fills that patterned bars use.
pub(super) fn patterns() -> Markup {
    html! {
        defs {
            pattern id="dots" width="5" height="5" patternUnits="userSpaceOnUse" {
                circle.p-dot cx="1.6" cy="1.6" r="1.1" {}
            }
            pattern id="slants" width="6" height="6" patternUnits="userSpaceOnUse" {
                path.p-line d="M-1 7L7-1M-1 1L1-1M5 7L7 5" stroke-width="1.6" {}
            }
            pattern id="crosses" width="7" height="7" patternUnits="userSpaceOnUse" {
                path.p-soft d="M0 0L7 7M7 0L0 7" {}
            }
        }
    }
}

/// What the picture is, for its title.
pub(super) fn heading(timeline: &Timeline) -> String {
    format!("{}: {}", timeline.room, timeline.title)
}

/// What the picture shows, for whoever cannot see it.
pub(super) fn description(timeline: &Timeline) -> String {
    let clock = &timeline.clock;
    let names: Vec<String> = timeline
        .lanes
        .iter()
        .map(|lane| lane.name.clone())
        .collect();
    let items = timeline.items();
    let broken = items.iter().filter(|(_, _, item)| item.is_broken()).count();
    let judged = match broken {
        0 => "Nothing broke.".to_owned(),
        _ => format!(
            "{} broke.",
            words::count(broken, "check or clause", "checks or clauses")
        ),
    };
    format!(
        "Timing diagram from {} {} to {} {}, with lanes for {}. It shows {}. {judged}",
        clock.date(timeline.from),
        clock.label(timeline.from),
        clock.date(timeline.to),
        clock.label(timeline.to),
        words::list(&names),
        words::count(items.len(), "event", "events"),
    )
}

const HEAD: f64 = 76.0;
const MARGIN: f64 = 16.0;
const ALONE: &str = ".sheet{fill:var(--sheet)}.title{font:600 20px/1 ui-serif,Georgia,serif}\
.double{stroke:var(--rule);fill:none}";
