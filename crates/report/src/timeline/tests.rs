//! What a timeline says of a run.

use device::Span;
use sim::{Instant, OutputState};

use super::*;
use crate::sketch::{OUTLET, SENSOR, quiet_reading};

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
fn the_state_of_a_contact_is_how_it_stands_and_not_what_it_is_asked() {
    let mut sketch = quiet_reading();
    sketch.plan.controllers[0].settings.outputs[1].drive = device::controller::Drive::Contact;
    let first = |lane: &str, track: &str, sketch: &crate::sketch::Sketch| {
        let timeline = Timeline::of(&sketch.run(4_800_000));
        let said = said(&timeline, lane, track);
        said.first().cloned().unwrap_or_default()
    };
    let state = first("desk-outlet", "state", &sketch);
    assert!(
        state.starts_with(
            "08:00:00.010 to 09:15:00.010: closed | 08:00:00.010 desk-outlet closed \u{2190}"
        ),
        "{state}"
    );
    assert_eq!(first("desk-outlet", "asked", &sketch), "");
    // It sticks open until it is freed: it stands open, whatever it is asked.
    let freed = sketch.stimulus(4_600_000, SENSOR, room::Stimulus::Motion);
    sketch.show(4_600_010, freed, OUTLET, |view| {
        view.state = OutputState::On
    });
    sketch.show(4_700_000, freed, OUTLET, |view| view.closed = true);
    let timeline = Timeline::of(&sketch.run(4_800_000));
    let last = |track| {
        let said = said(&timeline, "desk-outlet", track);
        said.last().cloned().unwrap_or_default()
    };
    let state = last("state");
    assert!(state.starts_with("09:18:20 to the end: closed"), "{state}");
    let asked = last("asked");
    assert!(
        asked.starts_with("09:16:40.010 to the end: closed"),
        "{asked}"
    );
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
