//! Clauses judged in a room on the numeric clock.

use std::sync::Arc;

use clause::{Formula, Names, SourceKind, SourceName, Turn, Verdict};
use device::controller::{Calibration, Drive, Loop, Output, Role};
use device::{Illuminance, Level, Span, daylight, occupancy, switch};
use room::{Input, Plan, SourceSettings, Stimulus};
use sim::{Full, Instant, Quality, Simulation, What};

use crate::support::{Site, lamp, source};

const MINUTE: u64 = 60_000;

/// The room that the clauses speak of: sensor, up/down pair, lamp and outlet.
fn office() -> Site {
    Site::default()
        .source(
            "sensor",
            SourceSettings::Occupancy(occupancy::Settings {
                report: None,
                ..occupancy::Settings::default()
            }),
        )
        .source("unit", SourceSettings::Switch(switch::Settings::default()))
        .output("lamp", lamp())
        .output("outlet", Output::new(Drive::Receptacle))
        .link("sensor", "lamp", Role::PartialOn(Level::from_percent(50)))
        .link("sensor", "outlet", Role::AutoOn(Level::FULL))
        .button("unit", 0, "lamp")
        .button("unit", 1, "lamp")
}

fn names() -> Names {
    let named = |name: &str, kind, buttons: &[&str]| SourceName {
        name: name.into(),
        kind,
        buttons: buttons.iter().map(|&button| button.into()).collect(),
    };
    Names {
        sources: vec![
            named("sensor", SourceKind::Occupancy { sound: false }, &[]),
            named("unit", SourceKind::Switch, &["up", "down"]),
        ],
        outputs: vec!["lamp".into(), "outlet".into()],
        groups: Vec::new(),
    }
}

fn formula(fields: &[(&str, &str)]) -> Formula {
    Formula::parse(fields, &names(), Span::from_seconds(1)).unwrap()
}

fn begin(site: &Site, fields: &[(&str, &str)]) -> (Arc<Plan>, Simulation<Full>) {
    let plan = site.clone().clause("A1", formula(fields)).plan();
    let simulation = Simulation::new(Arc::clone(&plan), 0, |_, _| Quality::default());
    (plan, simulation)
}

fn apply(simulation: &mut Simulation<Full>, plan: &Plan, ms: u64, who: &str, what: Stimulus) {
    let input = Input::Stimulus(source(plan, who), what);
    simulation.apply(Instant::from_ms(ms), input);
}

fn verdict(simulation: &Simulation<Full>) -> Verdict {
    simulation.room().verdicts().next().unwrap()
}

/// When the clause was broken.
fn broken(simulation: &Simulation<Full>) -> Option<u64> {
    let is = |step: &&sim::Step| step.what == What::Clause(0, Turn::Broken);
    simulation
        .trace()
        .steps
        .iter()
        .find(is)
        .map(|step| step.at.as_ms())
}

/// Motion at 0, then whatever is pressed; runs for half an hour.
fn run(fields: &[(&str, &str)], presses: &[(u64, Stimulus)]) -> Simulation<Full> {
    let (plan, mut simulation) = begin(&office(), fields);
    apply(&mut simulation, &plan, 0, "sensor", Stimulus::Motion);
    for &(ms, what) in presses {
        apply(&mut simulation, &plan, ms, "unit", what);
    }
    simulation.run_until(Instant::from_ms(30 * MINUTE));
    simulation
}

const UP: [Stimulus; 2] = [Stimulus::Press(0), Stimulus::Release(0)];
const DOWN: [Stimulus; 2] = [Stimulus::Press(1), Stimulus::Release(1)];

#[test]
fn who_changed_an_output_is_judged_by_the_root_of_the_chain() {
    let tap = [(1_000, DOWN[0]), (1_100, DOWN[1])];
    let lamp = run(&[("never", "unit changes lamp")], &tap);
    assert_eq!(broken(&lamp), Some(1_110));
    let outlet = run(&[("never", "unit changes outlet")], &tap);
    assert_eq!((broken(&outlet), verdict(&outlet)), (None, Verdict::Held));
    let sensor = run(&[("only", "unit turns off lamp")], &tap);
    assert_eq!(broken(&sensor), None);
}

#[test]
fn a_vacancy_carries_the_motion_it_counts_from() {
    let clause = [("never", "sensor turns off lamp")];
    let simulation = run(&clause, &[]);
    assert_eq!(broken(&simulation), Some(15 * MINUTE + 10));
}

/// ORD-2: a deadline is met at its very end, and missed only 1 ms later.
#[test]
fn a_deadline_is_inclusive_and_missed_one_ms_later() {
    let within = |span: &str| {
        let clause = [
            ("when", "lamp turns on"),
            ("then", "lamp is off"),
            ("within", span),
        ];
        broken(&run(&clause, &[]))
    };
    assert_eq!(within("900 s"), None);
    assert_eq!(within("899.999 s"), Some(15 * MINUTE + 10));
}

/// A level on its way is judged at the very millisecond at which it passes.
#[test]
fn a_moving_level_breaks_a_clause_at_the_millisecond_it_passes() {
    // Held from 1 000: the ramp starts at 1 510 from 50 % and takes 4 s for 100 %, so it is at
    // 75 % after 1 000 ms, and above it 1 ms later.
    let hold = [(1_000, UP[0]), (9_000, UP[1])];
    let most = run(&[("never", "lamp is above 75 %")], &hold);
    assert_eq!(broken(&most), Some(2_511));
    let least = run(&[("never", "lamp is at least 75 %")], &hold);
    assert_eq!(broken(&least), Some(2_510));
    // Within 0.5 % of 80 %: from 79.5 % on.
    let band = run(&[("never", "lamp is 80 %")], &hold);
    assert_eq!(broken(&band), Some(2_510 + 180));
    let never = run(
        &[("never", "lamp is below 50 % and unit/up is down")],
        &hold,
    );
    assert_eq!(broken(&never), None);
}

/// A fade moves the light, not the target.
#[test]
fn what_shows_is_judged_on_its_way_and_what_is_meant_is_not() {
    let mut site = office();
    site.outputs[0].2.fade_on = Span::from_ms(1_000);
    let first = |fields: &[(&str, &str)]| {
        let (plan, mut simulation) = begin(&site, fields);
        apply(&mut simulation, &plan, 0, "sensor", Stimulus::Motion);
        simulation.run_until(Instant::from_ms(MINUTE));
        broken(&simulation)
    };
    assert_eq!(first(&[("never", "lamp is at least 50 %")]), Some(10));
    assert_eq!(first(&[("never", "lamp shows 50 %")]), Some(10 + 988));
}

/// The stimulus that set a level moving is the root of every change on its way.
#[test]
fn a_level_that_moves_by_itself_is_moved_by_the_finger_on_the_button() {
    let (plan, mut simulation) = begin(&office(), &[("never", "sensor raises lamp")]);
    apply(&mut simulation, &plan, 0, "sensor", Stimulus::Motion);
    apply(&mut simulation, &plan, 1_000, "unit", UP[0]);
    for ms in (2_000..3_000).step_by(150) {
        apply(&mut simulation, &plan, ms, "sensor", Stimulus::Motion);
    }
    apply(&mut simulation, &plan, 3_000, "unit", UP[1]);
    simulation.run_until(Instant::from_ms(MINUTE));
    assert_eq!(broken(&simulation), None);
    let by_hand = run(
        &[("never", "unit raises lamp")],
        &[(1_000, UP[0]), (3_000, UP[1])],
    );
    assert_eq!(broken(&by_hand), Some(1_510));
}

#[test]
fn taps_and_holds_are_what_the_controller_took_them_for() {
    let tap = [(1_000, UP[0]), (1_500, UP[1])];
    let hold = [(1_000, UP[0]), (1_501, UP[1])];
    let taps = [("never", "unit/up tap")];
    let holds = [("never", "unit/up hold")];
    assert_eq!(broken(&run(&taps, &tap)), Some(1_510));
    assert_eq!(broken(&run(&taps, &hold)), None);
    assert_eq!(broken(&run(&holds, &tap)), None);
    assert_eq!(broken(&run(&holds, &hold)), Some(1_510));
}

/// The end of the run's first instant is judged, whatever happens in it.
#[test]
fn the_first_instant_is_judged() {
    let simulation = run(&[("always", "lamp is on"), ("reaction", "0 s")], &[]);
    assert_eq!(broken(&simulation), Some(0));
}

/// Two ways at once: a ramp up under a limit that comes down.
#[test]
fn with_two_ways_under_way_the_crossing_is_still_exact() {
    let photo = daylight::Settings::default();
    let site = office()
        .source("zz-photo", SourceSettings::Daylight(photo))
        .link(
            "zz-photo",
            "lamp",
            Role::Limit(Loop {
                calibration: Some(Calibration {
                    night_sensor: Illuminance::from_lux(100),
                    night_task: Illuminance::from_lux(500),
                    day_sensor: Illuminance::from_lux(200),
                    day_task: Illuminance::from_lux(400),
                }),
                ..Loop::default()
            }),
        );
    let site = Site {
        light: room::LightModel {
            daylight: 10_000,
            electric: Vec::new(),
        },
        ..site
    };
    let first = |fields: &[(&str, &str)], step: Option<u64>| {
        let (plan, mut simulation) = begin(&site, fields);
        apply(&mut simulation, &plan, 0, "sensor", Stimulus::Motion);
        let noon = Input::Daylight(Illuminance::from_lux(230));
        simulation.apply(Instant::from_ms(500), noon);
        apply(&mut simulation, &plan, 1_000, "unit", UP[0]);
        match step {
            None => simulation.run_until(Instant::from_ms(MINUTE)),
            Some(step) => (1_000..MINUTE)
                .step_by(usize::try_from(step).unwrap())
                .for_each(|ms| simulation.run_until(Instant::from_ms(ms))),
        }
        broken(&simulation)
    };
    for text in [
        "lamp is at least 62 %",
        "lamp is above 55 %",
        "lamp is at least 70 %",
    ] {
        let fields = [("never", text)];
        let straight = first(&fields, None);
        assert!(straight.is_some(), "{text} is passed on the way");
        assert_eq!(straight, first(&fields, Some(1)), "{text}");
    }
}
