use super::*;
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
    let timeline = Timeline::of(&sketch.run(4_800_000));
    let page = Page {
        timeline: &timeline,
        verdict: crate::verdict::Verdict::Broken,
        failures: vec![],
    };
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../target/pictures");
    std::fs::create_dir_all(folder).unwrap();
    std::fs::write(format!("{folder}/quiet.svg"), svg(&timeline)).unwrap();
    std::fs::write(format!("{folder}/quiet.html"), page.render()).unwrap();
}
