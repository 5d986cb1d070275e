//! What a drawn timeline shows, and that it can be read without colour.

use super::*;
use crate::samples::{morning, nine_days};
use crate::sketch::quiet_reading;

#[test]
fn lane_text_is_at_least_nine_points_on_an_a4_sheet() {
    let scale = (SHEET / (NAMES + PLOT)).min(1.0);
    let points = TEXT * scale * 72.0 / 96.0;
    assert!(points >= 9.0, "{points} pt");
}

#[test]
fn pictures_for_looking_at() {
    let sketch = quiet_reading();
    let run = sketch.run(4_800_000);
    let timeline = Timeline::of(&run);
    let page = Page {
        timeline: &timeline,
        verdict: crate::verdict::Verdict::Broken,
        failures: &crate::failure::Failure::all(&run, &timeline),
    };
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../target/pictures");
    std::fs::create_dir_all(folder).unwrap();
    for (name, sample) in [("morning", morning()), ("days", nine_days())] {
        let timeline = Timeline::of(&sample.run());
        let page = Page {
            timeline: &timeline,
            verdict: crate::verdict::Verdict::Held,
            failures: &[],
        };
        std::fs::write(format!("{folder}/{name}.svg"), svg(&timeline)).unwrap();
        std::fs::write(format!("{folder}/{name}.html"), page.render()).unwrap();
    }
    std::fs::write(format!("{folder}/quiet.svg"), svg(&timeline)).unwrap();
    std::fs::write(format!("{folder}/quiet.html"), page.render()).unwrap();
}
