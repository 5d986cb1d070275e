//! What a drawn timeline shows, and that it can be read without colour.

use std::collections::BTreeSet;

use proptest::prelude::*;
use sim::Instant;

use super::*;
use crate::excerpt::excerpt;
use crate::failure::Failure;
use crate::samples::{morning, nine_days, random};
use crate::sketch::quiet_reading;
use crate::verdict::Verdict;

fn page(timeline: &Timeline, failures: &[Failure]) -> String {
    let verdict = if failures.is_empty() {
        Verdict::Held
    } else {
        Verdict::Broken
    };
    let page = Page {
        timeline,
        verdict,
        failures,
    };
    page.render()
}

/// The numbers that follow each `mark` in a text.
fn numbers_after(text: &str, mark: &str) -> BTreeSet<u32> {
    let found = text.split(mark).skip(1);
    found
        .filter_map(|rest| {
            let end = rest.find(|sign: char| !sign.is_ascii_digit())?;
            rest[..end].parse().ok()
        })
        .collect()
}

/// The numbers of the events below an excerpt.
fn numbers_listed(excerpt: &str) -> BTreeSet<u32> {
    let lines = excerpt.lines();
    lines
        .filter_map(|line| line.get(..5)?.trim_start().parse().ok())
        .collect()
}

/// Every size of a font in a style sheet, in CSS pixels.
fn font_sizes(css: &str) -> Vec<f64> {
    let named = css.split("font-size:").skip(1).map(|rest| (rest, "px"));
    let short = css.split("font:").skip(1).map(|rest| (rest, "px"));
    let sizes = named.chain(short).filter_map(|(rest, unit)| {
        let rest = &rest[..rest.find(['}', ';']).unwrap_or(rest.len())];
        let before = &rest[..rest.find(unit)?];
        before.rsplit([' ', '(']).next()?.parse().ok()
    });
    sizes.collect()
}

#[test]
fn lane_text_is_at_least_nine_points_on_an_a4_sheet() {
    let scale = (SHEET / (NAMES + PLOT)).min(1.0);
    let sizes = [font_sizes(style::DRAWING), font_sizes(style::PAGE)].concat();
    assert!(sizes.len() > 8, "{sizes:?}");
    for size in sizes {
        let points = size * scale * 72.0 / 96.0;
        assert!(points >= 9.0, "{size} px are {points} pt");
    }
}

#[test]
fn a_close_look_is_drawn_as_it_always_was() {
    let sketch = quiet_reading();
    let timeline = Timeline::of(&sketch.run(4_800_000));
    let (from, to) = (Instant::from_ms(4_490_000), Instant::from_ms(4_504_000));
    let part = timeline.window(from, to, &["wall-sensor", "desk-lights"]);
    insta::assert_snapshot!(svg(&part).replace("><", ">\n<"));
}

#[test]
fn equal_runs_give_equal_bytes() {
    let draw = || {
        let sample = morning();
        let timeline = Timeline::of(&sample.run());
        (svg(&timeline), page(&timeline, &[]))
    };
    assert_eq!(draw(), draw());
}

#[test]
fn names_from_files_are_escaped() {
    let sample = morning();
    let timeline = Timeline::of(&sample.run());
    for text in [svg(&timeline), page(&timeline, &[])] {
        assert!(text.contains("A busy &lt;classroom&gt; &amp; its radio"));
        assert!(!text.contains("<classroom>"));
    }
}

#[test]
fn names_that_are_cut_are_told_apart_by_their_ends() {
    let one = fitted("run-on \u{00b7} north-corridor-sensor-1", 148.0);
    let two = fitted("run-on \u{00b7} north-corridor-sensor-2", 148.0);
    assert_ne!(one, two);
    assert_eq!(one, "run-on \u{00b7} n\u{2026}-sensor-1");
    assert_eq!(
        fitted("run-on \u{00b7} sensor-201", 148.0),
        "run-on \u{00b7} sensor-201"
    );

    let sample = morning();
    let mut timeline = Timeline::of(&sample.run());
    let long = "run-on \u{00b7} a-sensor-with-a-long-name";
    timeline.lanes[0].tracks[0].name = long.to_owned();
    for text in [svg(&timeline), page(&timeline, &[])] {
        assert!(text.contains(&fitted(long, 148.0)));
        assert!(text.contains(long), "whole for whoever points at it");
    }
}

/// The line where something broke lies under the signs of what held at the same moment.
#[test]
fn what_broke_strikes_no_other_sign_through() {
    let sketch = quiet_reading();
    let run = sketch.run(4_800_000);
    let text = svg(&Timeline::of(&run));
    let lanes = text
        .split("<text class=\"name\"")
        .filter(|it| it.contains("class=\"broke\""));
    let mut struck = 0;
    for lane in lanes {
        let line = lane.find("class=\"broke\"").unwrap();
        let sign = lane.find("class=\"item\"").unwrap();
        assert!(line < sign);
        struck += 1;
    }
    assert!(struck > 0);
}

/// A clause that nothing decided at any one moment has words instead of a sign.
#[test]
fn a_clause_that_held_all_through_says_so() {
    let sketch = quiet_reading();
    let mut timeline = Timeline::of(&sketch.run(4_800_000));
    let said = |timeline: &Timeline| svg(timeline).matches("held throughout").count();
    let before = said(&timeline);
    let mut tracks = timeline.lanes.iter_mut().flat_map(|lane| &mut lane.tracks);
    let held = tracks.find(|track| track.verdict == Some(Verdict::Held) && !track.throughout);
    let held = held.expect("a clause was decided at some moment");
    held.items.clear();
    held.throughout = true;
    assert_eq!(said(&timeline), before + 1);
}

#[test]
fn a_page_fetches_nothing() {
    let sketch = quiet_reading();
    let run = sketch.run(4_800_000);
    let timeline = Timeline::of(&run);
    let text = page(&timeline, &Failure::all(&run, &timeline));
    for outside in [
        "http:", "https:", "//", "src=", "@import", "<script", "<link",
    ] {
        assert!(!text.contains(outside), "{outside}");
    }
}

#[test]
fn a_page_shows_what_broke_before_the_whole_run() {
    let sketch = quiet_reading();
    let run = sketch.run(4_800_000);
    let timeline = Timeline::of(&run);
    let text = page(&timeline, &Failure::all(&run, &timeline));
    let broke = text
        .find("desk-lights is on at 09:15:01, but was off")
        .unwrap();
    assert!(broke < text.find("The whole run").unwrap());
    assert!(text.contains("quiet-reading.toml:15:4"));
}

#[test]
fn nine_days_are_drawn_on_few_strips_with_their_nights_left_out() {
    let sample = nine_days();
    let timeline = Timeline::of(&sample.run());
    let strips = Strip::all(&timeline);
    assert!((2..=4).contains(&strips.len()), "{}", strips.len());
    let breaks = strips.iter().flat_map(|strip| &strip.scale.pieces);
    assert!(breaks.filter(|piece| piece.is_break).count() >= 5);
}

#[test]
fn pages_are_written_for_the_checker() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../target/pictures");
    std::fs::create_dir_all(folder).unwrap();
    let sketch = quiet_reading();
    let run = sketch.run(4_800_000);
    let timeline = Timeline::of(&run);
    let failures = Failure::all(&run, &timeline);
    let mut pictures = vec![("quiet", svg(&timeline), page(&timeline, &failures))];
    for (name, sample) in [("morning", morning()), ("days", nine_days())] {
        let timeline = Timeline::of(&sample.run());
        pictures.push((name, svg(&timeline), page(&timeline, &[])));
    }
    let (case, runs) = crate::proof::tests::case();
    let proof = ProofPage {
        case: &case,
        pictures: &runs,
    };
    std::fs::write(format!("{folder}/proof.html"), proof.render()).unwrap();
    for (name, svg, page) in pictures {
        std::fs::write(format!("{folder}/{name}.svg"), svg).unwrap();
        std::fs::write(format!("{folder}/{name}.html"), page).unwrap();
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn excerpt_picture_page_and_table_show_the_same_events(
        events in prop::collection::vec((0_u64..2_000, 0_u8..40), 0..60)
    ) {
        let sample = random(&events);
        let timeline = Timeline::of(&sample.run());
        let all: BTreeSet<u32> = timeline.items().iter().map(|(_, _, item)| item.number).collect();
        prop_assert_eq!(&numbers_after(&svg(&timeline), "data-n=\""), &all);
        prop_assert_eq!(&numbers_listed(&excerpt(&timeline, 100)), &all);
        let page = page(&timeline, &[]);
        prop_assert_eq!(&numbers_after(&page, "data-n=\""), &all);
        prop_assert_eq!(&numbers_after(&page, "href=\"#e"), &all);
        prop_assert_eq!(&numbers_after(&page, " id=\"e"), &all);
    }

    #[test]
    fn a_window_shows_the_same_events_drawn_and_written(
        events in prop::collection::vec((0_u64..300, 0_u8..40), 0..40),
        from in 0_u64..300,
        length in 0_u64..60,
    ) {
        let sample = random(&events);
        let timeline = Timeline::of(&sample.run());
        let minute = |minutes: u64| Instant::from_ms(minutes * 60_000);
        let part = timeline.window(minute(from), minute(from + length), &[]);
        let written = numbers_listed(&excerpt(&part, 100));
        prop_assert_eq!(numbers_after(&svg(&part), "data-n=\""), written);
    }
}
