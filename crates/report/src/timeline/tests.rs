//! What a timeline says of a run.

use device::Span;
use sim::Instant;

use super::*;
use crate::sketch::quiet_reading;

fn timeline() -> Timeline {
    let sketch = quiet_reading();
    Timeline::of(&sketch.run(4_800_000))
}

/// The items of a lane's track in words.
fn said(timeline: &Timeline, lane: &str, track: &str) -> Vec<String> {
    let items = timeline.items();
    let wanted = items
        .iter()
        .filter(|(a, b, _)| a.name == lane && b.name == track);
    wanted
        .map(|(_, _, item)| {
            format!(
                "{}: {} | {}",
                item.when(&timeline.clock),
                item.says,
                item.reason
            )
        })
        .collect()
}

#[test]
fn a_burst_of_sounds_is_one_item_with_its_rhythm() {
    let timeline = timeline();
    insta::assert_snapshot!(said(&timeline, "wall-sensor", "sound").join("\n"));
}

#[test]
fn everything_of_a_quiet_reading_is_on_its_track() {
    let timeline = timeline();
    let mut text = String::new();
    for lane in &timeline.lanes {
        for track in &lane.tracks {
            text.push_str(&format!(
                "== {} / {} ({})\n",
                lane.name, track.name, track.says
            ));
            for line in said(&timeline, &lane.name, &track.name) {
                text.push_str(&line);
                text.push('\n');
            }
        }
    }
    insta::assert_snapshot!(text);
}

#[test]
fn a_window_keeps_numbers_and_drops_what_lies_outside() {
    let timeline = timeline();
    let from = Instant::from_ms(4_499_000);
    let part = timeline.window(from, from.after(Span::from_seconds(4)), &["desk-lights"]);
    assert_eq!(part.lanes.len(), 1);
    let all = timeline.items();
    for (_, _, item) in part.items() {
        assert!(item.to >= part.from && item.from <= part.to);
        assert!(all.iter().any(|(_, _, known)| *known == item));
    }
}
