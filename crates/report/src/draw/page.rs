//! A timeline as one self-contained HTML page.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::{
    AXIS, NAMES, PLOT, Rows, Strip, axis, facts, fitted, height, number, plot, style, svg, track,
    track_name,
};
use crate::failure::Failure;
use crate::timeline::{Item, Lane, LaneSort, Timeline, Track};
use crate::verdict::Verdict;

/// What a page shows.
#[derive(Clone, Debug)]
pub struct Page<'a> {
    /// The run.
    pub timeline: &'a Timeline,
    /// The verdict of the scenario.
    pub verdict: Verdict,
    /// What broke, and why.
    pub failures: &'a [Failure],
}

impl Page<'_> {
    /// The page as HTML.
    #[must_use]
    pub fn render(&self) -> String {
        let timeline = self.timeline;
        let title = svg::heading(timeline);
        let markup = html! {
            (DOCTYPE)
            html lang="en" {
                (head(&title))
                body {
                    a.skip-link href="#facts" { "Skip the diagram: everything as a table" }
                    (header(self))
                    main {
                        @for (number, failure) in (1..).zip(self.failures) {
                            (failed(failure, number, Links::PART))
                        }
                        section aria-labelledby="whole" {
                            h2 #whole { "The whole run" }
                            p.how { "Point at a mark, or move to it with the keyboard, to read what it is and why. Follow it to its row in the table." }
                            @for strip in Strip::all(timeline) { (strip_table(&strip, Links::WHOLE)) }
                            (super::key::key())
                        }
                        (clauses(timeline))
                        section aria-labelledby="facts-heading" #facts tabindex="-1" {
                            h2 #facts-heading { "Everything as a table" }
                            details open[timeline.items().len() <= OPEN_AT_MOST] {
                                summary { (crate::words::count(timeline.items().len(), "event", "events")) }
                                div.scroll tabindex="0" role="region" aria-label="Table of events" { (facts::facts(timeline, "")) }
                            }
                        }
                    }
                    (shared())
                }
            }
        };
        markup.into_string()
    }
}

/// The head of a page, with everything that it needs.
pub(super) fn head(title: &str) -> Markup {
    html! {
        head {
            meta charset="utf-8";
            meta name="viewport" content="width=device-width, initial-scale=1";
            meta name="color-scheme" content="light dark";
            title { (title) }
            style {
                (PreEscaped(style::colours(":root")))
                (PreEscaped(style::DRAWING))
                (PreEscaped(style::PAGE))
            }
        }
    }
}

fn header(page: &Page<'_>) -> Markup {
    let timeline = page.timeline;
    let clock = &timeline.clock;
    html! {
        header {
            p.room { (timeline.room) }
            h1 { (timeline.title) }
            p.meta {
                (clock.date(timeline.from)) ", " (clock.label(timeline.from)) " to " (clock.label(timeline.to))
                " \u{00b7} " code { (timeline.file) }
            }
            p.verdict.bad[page.verdict == Verdict::Broken] {
                span aria-hidden="true" { (page.verdict.sign()) } " " (page.verdict.words())
            }
        }
    }
}

fn failed(failure: &Failure, number: usize, links: Links<'_>) -> Markup {
    let id = format!("broke-{number}");
    html! {
        section.failure.wanted[failure.as_expected] aria-labelledby=(id) {
            h2 id=(id) { span aria-hidden="true" { (Verdict::Broken.sign()) " " } (failure.says) @if failure.as_expected { " (as expected)" } }
            p.meta { code { (failure.place) } }
            (told(failure, links))
        }
    }
}

/// The reasons of a failure, and the part of the timeline around it.
pub(super) fn told(failure: &Failure, links: Links<'_>) -> Markup {
    html! {
        div.columns {
            (reasons("Why", "chain", &failure.chain))
            (reasons("What did nothing", "", &failure.refused))
            (reasons("What changes it next", "", &failure.next))
        }
        @if !failure.close_up.lanes.is_empty() {
            (strip_table(&Strip::single(failure.close_up.clone()), links))
        }
    }
}

/// Where the marks of a picture lead.
#[derive(Clone, Copy, Debug)]
pub(super) struct Links<'a> {
    /// How the names of the rows begin that they lead to.
    pub(super) ids: &'a str,
    /// Whether the keyboard stops at them; a close look repeats what stands in the whole.
    pub(super) stops: bool,
}

impl Links<'static> {
    const WHOLE: Self = Self {
        ids: "",
        stops: true,
    };
    const PART: Self = Self {
        ids: "",
        stops: false,
    };
}

fn reasons(heading: &str, class: &str, lines: &[String]) -> Markup {
    html! {
        @if !lines.is_empty() {
            div {
                h3 { (heading) }
                ul class=[(!class.is_empty()).then_some(class)] { @for line in lines {
                        @let remark = line.trim_start().starts_with('\u{b7}');
                        li.remark[remark] { (line) }
                    } }
            }
        }
    }
}

/// One strip: a row for each lane, its names at the left, its plot at the right.
pub(super) fn strip_table(strip: &Strip, links: Links<'_>) -> Markup {
    let heading = strip.heading();
    html! {
        div.scroll.strip tabindex="0" role="region" aria-label=(format!("Diagram, {heading}")) {
            table.lanes {
                caption { (heading) }
                thead {
                    tr {
                        th.names scope="col" { span.hidden { "Lane" } }
                        td {
                            svg width=(number(PLOT)) height=(number(AXIS)) role="img" aria-label=(format!("Time axis, {heading}")) {
                                (axis::labels(strip))
                            }
                        }
                    }
                }
                tbody { @for lane in &strip.part.lanes { (lane_row(lane, strip, links)) } }
            }
        }
    }
}

fn lane_row(lane: &Lane, strip: &Strip, links: Links<'_>) -> Markup {
    let rows = Rows::of(lane);
    let tall = number(rows.height);
    let hits = hits(&rows, strip);
    html! {
        tr {
            th.names scope="row" {
                div.lane title=(format!("{}, {}", lane.name, lane.kind)) { (fitted(&lane.name, NAMES - 32.0)) }
                @for (_, track) in &rows.rest {
                    @let (name, says) = track_name(track);
                    div.track style=(format!("height:{}px", number(height(track)))) title=[says] {
                        @if let Some(verdict) = track.verdict {
                            span.sign.bad[verdict == Verdict::Broken] { (svg::sign(verdict)) " " }
                        }
                        (name)
                    }
                }
            }
            td {
                div.plot style=(format!("height:{tall}px")) {
                    svg width=(number(PLOT)) height=(tall) aria-hidden="true" { (plot(lane, strip, false)) }
                    @for (left, top, width, height, item, track) in hits {
                        (hit(lane, track, item, &strip.part, links, (left, top, width, height)))
                    }
                }
            }
        }
    }
}

type Hit<'a> = (f64, f64, f64, f64, &'a Item, &'a Track);

/// Where a pointer finds the items of a lane: the wide ones first, so that small ones lie on top.
fn hits<'a>(rows: &Rows<'a>, strip: &Strip) -> Vec<Hit<'a>> {
    let first = rows.first.map(|track| (0.0, track));
    let tracks = first.into_iter().chain(rows.rest.iter().copied());
    let mut hits: Vec<Hit<'_>> = tracks
        .flat_map(|(top, track)| {
            track.items.iter().map(move |item| {
                let (left, inner, width, height) = track::extent(item, track, &strip.scale);
                (left, top + inner, width, height, item, track)
            })
        })
        .collect();
    hits.sort_by(|a, b| b.2.total_cmp(&a.2).then(a.4.number.cmp(&b.4.number)));
    hits
}

fn hit(
    lane: &Lane,
    track: &Track,
    item: &Item,
    timeline: &Timeline,
    links: Links<'_>,
    (left, top, width, height): (f64, f64, f64, f64),
) -> Markup {
    let place = format!(
        "left:{}px;top:{}px;width:{}px;height:{}px",
        number(left),
        number(top),
        number(width),
        number(height)
    );
    let subject = match lane.sort {
        LaneSort::Clauses => format!("Clause {}", track.name),
        _ => lane.name.clone(),
    };
    let tip = html! {
        span.tip {
            b { (item.when(&timeline.clock)) " \u{00b7} " (subject) } " " (item.says) "."
            @if !item.reason.is_empty() { " " span.why { (item.reason) } }
        }
    };
    html! {
        @let href = format!("#{}e{}", links.ids, item.number);
        @if links.stops {
            a.hit href=(href) style=(place) { (tip) }
        } @else {
            a.hit href=(href) style=(place) tabindex="-1" { (tip) }
        }
    }
}

fn clauses(timeline: &Timeline) -> Markup {
    let lanes = timeline
        .lanes
        .iter()
        .filter(|lane| lane.sort == LaneSort::Clauses);
    let tracks: Vec<&Track> = lanes.flat_map(|lane| &lane.tracks).collect();
    html! {
        @if !tracks.is_empty() {
            section aria-labelledby="clauses" {
                h2 #clauses { "The sequence of operation" }
                table.facts.clauses {
                    thead { tr { th scope="col" { "Clause" } th scope="col" { "Verdict" } th scope="col" { "Sentence" } } }
                    tbody {
                        @for track in tracks {
                            @let verdict = track.verdict.unwrap_or(Verdict::Undecided);
                            tr.bad[verdict == Verdict::Broken] {
                                th scope="row" { (track.name) }
                                td.when { (svg::sign(verdict)) " " (verdict.words()) }
                                td { (track.says) }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// The fills, once for every drawing of the page.
pub(super) fn shared() -> Markup {
    html! {
        svg.shared width="0" height="0" aria-hidden="true" { (svg::patterns()) }
    }
}

/// Pages with more events show their table on demand.
const OPEN_AT_MOST: usize = 60;
const _: () = assert!(
    NAMES + PLOT <= super::SHEET,
    "a strip fits on a sheet as it is"
);
