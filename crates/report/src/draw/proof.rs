//! What came of a proof as one self-contained HTML page: the answers as tables, and the timing
//! diagram of everything that breaks.

use std::collections::BTreeMap;

use device::Span;
use maud::{DOCTYPE, Markup, html};

use super::page::{Links, head, shared, strip_table, told};
use super::{Strip, facts};
use crate::failure::Failure;
use crate::proof::{
    CAUTION, Case, ClauseProof, Found, Ground, ProofVerdict, RoomProof, ScenarioProof, Sweep,
    grouped, settings_lines, time,
};
use crate::timeline::Timeline;
use crate::words::{count, short_span};

/// What a page on a proof shows.
#[derive(Clone, Debug)]
pub struct ProofPage<'a> {
    /// The answers.
    pub case: &'a Case,
    /// The runs of the scenarios that break clauses, by the place of the room and the clause.
    pub pictures: &'a BTreeMap<(usize, String), Picture>,
}

/// The run of a scenario that breaks a clause.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Picture {
    /// The run.
    pub timeline: Timeline,
    /// What breaks in it, and why.
    pub failures: Vec<Failure>,
}

impl ProofPage<'_> {
    /// The page as HTML.
    #[must_use]
    pub fn render(&self) -> String {
        let case = self.case;
        let title = title(case);
        let markup = html! {
            (DOCTYPE)
            html lang="en" {
                (head(&title))
                body {
                    a.skip-link href="#grounds" { "Skip to what the answers rest on" }
                    (header(case, &title))
                    main {
                        @for sweep in &case.sweeps { (swept(sweep)) }
                        @for (place, room) in case.rooms.iter().enumerate() {
                            @if room.setting.is_none() || !room.clauses.is_empty() { (table(place, room)) }
                        }
                        @for (place, room) in case.rooms.iter().enumerate() {
                            @for clause in room.clauses.iter().filter(|it| has_section(it)) {
                                (self.clause(place, room, clause))
                            }
                        }
                        @if !self.pictures.is_empty() { (super::key::key()) }
                        (grounds(case))
                    }
                    (shared())
                }
            }
        };
        markup.into_string()
    }

    /// What there is to say of a clause beyond its line.
    fn clause(&self, place: usize, room: &RoomProof, clause: &ClauseProof) -> Markup {
        let id = anchor(place, clause);
        let picture = self.pictures.get(&(place, clause.id.clone()));
        let several = self.case.rooms.len() > 1;
        let what = match clause.verdict {
            ProofVerdict::Proved => "is proved",
            ProofVerdict::Broken => "is broken",
            ProofVerdict::NeverExercised => "can never be put to the test",
            ProofVerdict::Undecided => "is undecided",
        };
        let ids = format!("{id}-");
        html! {
            section.failure.wanted[clause.verdict != ProofVerdict::Broken] aria-labelledby=(id) {
                h2 id=(id) {
                    span aria-hidden="true" { (clause.verdict.sign()) " " }
                    @if several { (named(room)) ": " }
                    (clause.id) " " (what)
                }
                p { (clause.says) }
                p.meta { code { (clause.place.file) ":" (clause.place.line) ":" (clause.place.column) } }
                @if let Some(reason) = &clause.reason { p { (sentence(reason)) } }
                @if let Some(scenario) = &clause.scenario {
                    @if clause.verdict == ProofVerdict::Broken { p { (broken_by(scenario)) } }
                }
                @if !clause.links.is_empty() {
                    p { "The links break it:" }
                    ol { @for link in &clause.links { li { (link.words()) } } }
                }
                @if let Some(picture) = picture { (drawn(picture, &ids)) }
                @if let Some(scenario) = &clause.scenario { (file(scenario, clause.verdict)) }
            }
        }
    }
}

/// Whether a clause has more to it than its line: proved ones have only their example, which
/// stands in the table.
fn has_section(clause: &ClauseProof) -> bool {
    clause.verdict != ProofVerdict::Proved
}

fn title(case: &Case) -> String {
    match &case.rooms[..] {
        [room] => format!("{}: what holds, always", room.room),
        rooms => format!(
            "{}: what holds, always",
            count(rooms.len(), "room", "rooms")
        ),
    }
}

fn header(case: &Case, title: &str) -> Markup {
    let bad = case.count(ProofVerdict::Broken) + case.count(ProofVerdict::NeverExercised);
    let counted = ProofVerdict::ALL.iter().filter_map(|verdict| {
        let number = case.count(*verdict);
        (number > 0).then(|| format!("{} {number} {}", verdict.sign(), verdict.words()))
    });
    let counted: Vec<String> = counted.collect();
    html! {
        header {
            p.room { "Every input at every moment" }
            h1 { (title) }
            p.meta {
                @match &case.terms.allowed[..] {
                    [] => { "Nothing goes wrong." }
                    allowed => { "Allowed: " (allowed.join(", ")) "." }
                }
            }
            p.verdict.bad[bad > 0] {
                @if case.total() == 0 { "no clause to prove" } @else { (counted.join(", ")) }
            }
        }
    }
}

/// A room, as it was set.
fn named(room: &RoomProof) -> String {
    match &room.setting {
        Some(setting) => format!("{}, {setting}", room.room),
        None => room.room.clone(),
    }
}

/// How clauses fare with each value of a setting.
fn swept(sweep: &Sweep) -> Markup {
    html! {
        section {
            h2 { (sweep.room) ": " (sweep.setting) }
            div.scroll tabindex="0" role="region" aria-label="Verdicts by value" {
                table.facts {
                    thead { tr {
                        th scope="col" { (sweep.setting) }
                        @for clause in &sweep.clauses { th scope="col" { (clause.id) } }
                    } }
                    tbody { @for (place, value) in sweep.values.iter().enumerate() { tr {
                        th scope="row" { (value) }
                        @for clause in &sweep.clauses {
                            @let verdict = clause.verdicts[place];
                            td.bad[verdict == ProofVerdict::Broken] {
                                span aria-hidden="true" { (verdict.sign()) " " } (verdict.words())
                            }
                        }
                    } } }
                }
            }
            ul { @for line in sweep.lines() { li { (line) } } }
        }
    }
}

/// The answers for a room, a row for each clause.
fn table(place: usize, room: &RoomProof) -> Markup {
    let id = format!("room-{}", place + 1);
    let timed = room.clauses.iter().any(|it| it.time_ms.is_some());
    html! {
        section aria-labelledby=(id) {
            h2 id=(id) { (named(room)) }
            p.meta { code { (room.file) } }
            @if room.clauses.is_empty() {
                p { "Its sequence has no clause: nothing can be proved." }
            } @else {
                table.facts.clauses.proof {
                    thead { tr {
                        th scope="col" { "Clause" }
                        th scope="col" { "Verdict" }
                        th scope="col" { "Sentence" }
                        th scope="col" { "Found by" }
                        th.number scope="col" { "Classes" }
                        @if timed { th.number scope="col" { "Time" } }
                    } }
                    tbody { @for clause in &room.clauses { (row(place, clause, timed)) } }
                }
            }
            @let settings = settings_lines(&room.settings);
            @if !settings.is_empty() { ul { @for line in &settings { li { (line) } } } }
        }
    }
}

fn row(place: usize, clause: &ClauseProof, timed: bool) -> Markup {
    let bad = clause.verdict == ProofVerdict::Broken;
    html! {
        tr.bad[bad] {
            th scope="row" {
                @if has_section(clause) {
                    a href=(format!("#{}", anchor(place, clause))) { (clause.id) }
                } @else { (clause.id) }
            }
            td.when { span aria-hidden="true" { (clause.verdict.sign()) " " } (clause.verdict.words()) }
            td {
                (clause.says)
                @if let (ProofVerdict::Proved, Some(scenario)) = (clause.verdict, &clause.scenario) {
                    (file(scenario, clause.verdict))
                }
            }
            td { span.narrow { "found by " } (clause.found_by.words()) }
            td.number {
                @if clause.found_by == Found::Links { "\u{2013}" } @else {
                    (grouped(clause.classes)) span.narrow { " classes" }
                }
            }
            @if timed { td.number { (time(clause.time_ms.unwrap_or(0))) } }
        }
    }
}

/// The run of a counterexample: what breaks and why, the whole of it, and all of it as a table.
fn drawn(picture: &Picture, ids: &str) -> Markup {
    let timeline = &picture.timeline;
    let events = timeline.items().len();
    html! {
        @for failure in &picture.failures {
            p { b { (failure.says) } }
            (told(failure, Links { ids, stops: false }))
        }
        h3 { "The whole run" }
        @for strip in Strip::all(timeline) { (strip_table(&strip, Links { ids, stops: true })) }
        details {
            summary { "Everything as a table: " (count(events, "event", "events")) }
            div.scroll tabindex="0" role="region" aria-label="Table of events" {
                (facts::facts(timeline, ids))
            }
        }
    }
}

/// A scenario, as its file stands.
fn file(scenario: &ScenarioProof, verdict: ProofVerdict) -> Markup {
    let what = match verdict {
        ProofVerdict::Proved => "A scenario that puts it to the test",
        _ => "The scenario",
    };
    html! {
        details open[verdict == ProofVerdict::Broken] {
            summary {
                (what)
                @if let Some(file) = &scenario.file { ": " code { (file) } }
            }
            div.scroll tabindex="0" role="region" aria-label=(what) { pre { code { (scenario.text) } } }
        }
    }
}

fn broken_by(scenario: &ScenarioProof) -> String {
    let happenings = usize::try_from(scenario.happenings).unwrap_or(usize::MAX);
    format!(
        "It takes {} in {}.",
        count(happenings, "happening", "happenings"),
        short_span(Span::from_ms(scenario.lasts_ms))
    )
}

/// What the answers rest on.
fn grounds(case: &Case) -> Markup {
    html! {
        section aria-labelledby="grounds" {
            h2 #grounds tabindex="-1" { "What the answers rest on" }
            @for ground in Ground::of(case) {
                h3 { (ground.title) }
                ul {
                    @for (sentence, whose) in &ground.said {
                        li { (sentence) @if !whose.is_empty() { " " span.why { "(" (whose) ")" } } }
                    }
                }
            }
            @for room in &case.rooms { (slices(room, case.rooms.len() > 1)) }
            p { (CAUTION) }
        }
    }
}

/// The part of a room that was looked at for each clause.
fn slices(room: &RoomProof, several: bool) -> Markup {
    let sliced = room.clauses.iter();
    let sliced: Vec<_> = sliced
        .filter_map(|it| Some((it, it.slice.as_ref()?)))
        .collect();
    html! {
        @if !sliced.is_empty() {
            details {
                summary {
                    "The part of the room that each clause needs"
                    @if several { ": " (room.room) }
                }
                ul { @for (clause, slice) in sliced { li { b { (clause.id) } " \u{00b7} " (slice) } } }
            }
        }
    }
}

fn anchor(place: usize, clause: &ClauseProof) -> String {
    format!("clause-{}-{}", place + 1, clause.id)
}

fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map(|it| it.to_uppercase().to_string());
    format!("{}{}.", first.unwrap_or_default(), letters.as_str())
}
