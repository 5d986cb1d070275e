//! Runs of the real simulator for the tests: rooms busy enough to fill a picture.

use std::sync::Arc;

use device::{Illuminance, Level, Span, card, controller, daylight, occupancy, switch};
use room::{
    ControllerId, Device, Input, LightModel, OutputId, Plan, PlanController, PlanOutput,
    PlanSource, SourceId, SourceSettings, Stimulus,
};
use sim::{Full, Impairment, Instant, LinkFault, Quality, Simulation, Trace};

use crate::clock::Clock;
use crate::run::Run;
use crate::words::Names;

const HOUR: u64 = 3_600_000;
const MINUTE: u64 = 60_000;

/// A guest room with everything: card, sensor, buttons, daylight, warnings.
pub(crate) struct Sample {
    plan: Arc<Plan>,
    trace: Trace,
    end: u64,
}

impl Sample {
    pub(crate) fn run(&self) -> Run<'_> {
        Run {
            names: Names::new(&self.plan),
            trace: &self.trace,
            clock: Clock::new("2026-03-02T07:30:00[UTC]".parse().unwrap()),
            title: "A busy <classroom> & its radio".to_owned(),
            file: "classroom/term.toml".to_owned(),
            values: Vec::new(),
            end: Instant::from_ms(self.end),
            places: std::collections::BTreeMap::new(),
            people: std::collections::BTreeMap::new(),
            checks: Vec::new(),
            clauses: Vec::new(),
            settings: None,
        }
    }
}

const LAMP: OutputId = OutputId(0);
const BUTTONS: SourceId = SourceId(0);
const CARD: SourceId = SourceId(1);
const MOTION: SourceId = SourceId(2);

/// One morning: taps and holds, a warning, a lost frame, a power cut, daylight.
pub(crate) fn morning() -> Sample {
    let plan = Arc::new(plan());
    let mut run: Simulation<Full> =
        Simulation::new(Arc::clone(&plan), 0, |_, _| Quality::default());
    let mut give = Vec::new();
    let stimulus = |at, source, what| (at, Input::Stimulus(source, what));
    for (at, lux) in [
        (0, 200),
        (20, 1_500),
        (40, 4_000),
        (70, 9_000),
        (100, 6_000),
    ] {
        give.push((
            at * MINUTE + 500,
            Input::Daylight(Illuminance::from_lux(lux)),
        ));
    }
    give.push(stimulus(2 * MINUTE, CARD, Stimulus::CardIn { valid: true }));
    for minute in [5, 7, 8, 12, 20, 21, 25] {
        give.push(stimulus(minute * MINUTE, MOTION, Stimulus::Motion));
    }
    for second in 0..90 {
        give.push(stimulus(
            26 * MINUTE + second * 10_000,
            MOTION,
            Stimulus::Sound,
        ));
    }
    give.push(stimulus(10 * MINUTE, BUTTONS, Stimulus::Press(1)));
    give.push(stimulus(10 * MINUTE + 2_200, BUTTONS, Stimulus::Release(1)));
    give.push(stimulus(15 * MINUTE, BUTTONS, Stimulus::Press(1)));
    give.push(stimulus(15 * MINUTE + 100, BUTTONS, Stimulus::Release(1)));
    give.push(stimulus(18 * MINUTE, BUTTONS, Stimulus::Press(0)));
    give.push(stimulus(18 * MINUTE + 100, BUTTONS, Stimulus::Release(0)));
    give.push((
        80 * MINUTE,
        Input::Power(Device::Controller(ControllerId(0)), false),
    ));
    give.push((
        84 * MINUTE,
        Input::Power(Device::Controller(ControllerId(0)), true),
    ));
    give.push(stimulus(88 * MINUTE, MOTION, Stimulus::Motion));
    give.push(stimulus(95 * MINUTE, CARD, Stimulus::CardOut));
    give.push((97 * MINUTE, Input::Stuck(LAMP, Some(true))));
    give.push((103 * MINUTE, Input::Stuck(LAMP, None)));
    sample(
        plan,
        &mut run,
        give,
        110 * MINUTE,
        &[(86 * MINUTE, 2), (7 * MINUTE, 3)],
    )
}

/// Nine days: motion in working hours, nothing at the weekend.
pub(crate) fn nine_days() -> Sample {
    let plan = Arc::new(plan());
    let mut run: Simulation<Full> =
        Simulation::new(Arc::clone(&plan), 0, |_, _| Quality::default());
    let mut give = Vec::new();
    let stimulus = |at, source, what| (at, Input::Stimulus(source, what));
    for day in [0, 1, 2, 3, 4, 7, 8] {
        let morning = day * 24 * HOUR + day * 7 * MINUTE;
        give.push(stimulus(
            morning + MINUTE,
            CARD,
            Stimulus::CardIn { valid: true },
        ));
        for step in 0..150 {
            let at = morning + 2 * MINUTE + step * 3 * MINUTE + step * step % 97 * 1_000;
            if step % 40 < 32 {
                give.push(stimulus(at, MOTION, Stimulus::Motion));
            }
        }
        give.push(stimulus(morning + 4 * HOUR, BUTTONS, Stimulus::Press(1)));
        give.push(stimulus(
            morning + 4 * HOUR + 100,
            BUTTONS,
            Stimulus::Release(1),
        ));
        give.push(stimulus(morning + 9 * HOUR, CARD, Stimulus::CardOut));
    }
    sample(plan, &mut run, give, 9 * 24 * HOUR, &[])
}

/// A run with these events: the minute and what happens, by number.
pub(crate) fn random(events: &[(u64, u8)]) -> Sample {
    let plan = Arc::new(plan());
    let mut run: Simulation<Full> =
        Simulation::new(Arc::clone(&plan), 0, |_, _| Quality::default());
    let controller = Device::Controller(ControllerId(0));
    let mut give = Vec::new();
    for (minute, what) in events {
        let input = match what {
            0 | 1 => Input::Stimulus(MOTION, Stimulus::Motion),
            2 => Input::Stimulus(MOTION, Stimulus::Sound),
            3 => Input::Stimulus(BUTTONS, Stimulus::Press(0)),
            4 => Input::Stimulus(BUTTONS, Stimulus::Release(0)),
            5 => Input::Stimulus(BUTTONS, Stimulus::Press(1)),
            6 => Input::Stimulus(BUTTONS, Stimulus::Release(1)),
            7 => Input::Stimulus(CARD, Stimulus::CardIn { valid: true }),
            8 => Input::Stimulus(CARD, Stimulus::CardOut),
            9 => Input::Power(controller, false),
            10 => Input::Power(controller, true),
            11 => Input::Stuck(LAMP, Some(true)),
            12 => Input::Stuck(LAMP, None),
            lux => Input::Daylight(Illuminance::from_lux(u32::from(*lux) * 100)),
        };
        give.push((minute * MINUTE, input));
    }
    let end = events.iter().map(|event| event.0).max().unwrap_or(0) + 30;
    sample(plan, &mut run, give, end * MINUTE, &[])
}

fn sample(
    plan: Arc<Plan>,
    run: &mut Simulation<Full>,
    mut give: Vec<(u64, Input)>,
    end: u64,
    lost: &[(u64, u32)],
) -> Sample {
    give.sort_by_key(|(at, _)| *at);
    let mut lost = lost.to_vec();
    lost.sort_unstable();
    let mut lost = lost.into_iter().peekable();
    for (at, input) in give {
        while let Some((when, frames)) = lost.next_if(|(when, _)| *when <= at) {
            let fault = if frames == 3 {
                LinkFault::CopyNext(1)
            } else {
                LinkFault::LoseNext(frames)
            };
            let impairment = Impairment {
                source: MOTION,
                listener: None,
                fault,
            };
            run.impair(Instant::from_ms(when), impairment);
        }
        run.apply(Instant::from_ms(at), input);
    }
    run.run_until(Instant::from_ms(end));
    Sample {
        plan,
        trace: run.trace().clone(),
        end,
    }
}

fn plan() -> Plan {
    let listener = |heard| vec![(ControllerId(0), heard)];
    let source = |name: &str, settings, heard| PlanSource {
        name: name.to_owned(),
        settings,
        light: LightModel {
            daylight: 600,
            electric: vec![(LAMP, Illuminance::from_lux(300))],
        },
        buttons: vec!["up".to_owned(), "down".to_owned()],
        mains: false,
        listeners: listener(heard),
    };
    let motion = occupancy::Settings {
        sound: true,
        ..occupancy::Settings::default()
    };
    Plan {
        name: "Classroom 3".to_owned(),
        sources: vec![
            source(
                "door-buttons",
                SourceSettings::Switch(switch::Settings::default()),
                0,
            ),
            source(
                "door-card",
                SourceSettings::Card(card::Settings {
                    linger: Span::from_minutes(2),
                    ..card::Settings::default()
                }),
                1,
            ),
            source("room-sensor", SourceSettings::Occupancy(motion), 2),
            source(
                "window-sensor",
                SourceSettings::Daylight(daylight::Settings::default()),
                3,
            ),
        ],
        controllers: vec![controller()],
        outputs: vec![
            PlanOutput {
                name: "board-lights".to_owned(),
                controller: ControllerId(0),
                local: 0,
            },
            PlanOutput {
                name: "fresh-air".to_owned(),
                controller: ControllerId(0),
                local: 1,
            },
        ],
        ..Plan::default()
    }
}

fn controller() -> PlanController {
    let link = |heard, output, role, run_on: u64| controller::Link {
        heard,
        output,
        role,
        run_on: Span::from_minutes(run_on),
        setback: None,
        lost: controller::Lost::Vacant,
        stored: true,
    };
    let heard = |kind| controller::Heard {
        kind,
        silence: Some(Span::from_ms(768_000)),
    };
    let warned = controller::Output {
        warning: Some(controller::Warning::Dim {
            span: Span::from_seconds(60),
            level: Level::from_percent(30),
        }),
        feedback: Some(Span::from_seconds(60)),
        ..controller::Output::new(controller::Drive::ZeroToTen)
    };
    let half = Level::from_percent(70);
    PlanController {
        name: "classroom-3".to_owned(),
        settings: controller::Settings {
            heard: vec![
                heard(controller::HeardKind::Switch),
                heard(controller::HeardKind::Card { captive: false }),
                heard(controller::HeardKind::Occupancy),
                heard(controller::HeardKind::Daylight),
            ],
            buttons: vec![
                controller::Button {
                    heard: 0,
                    number: 0,
                    kind: switch::Button::Up,
                },
                controller::Button {
                    heard: 0,
                    number: 1,
                    kind: switch::Button::Down,
                },
            ],
            links: vec![
                link(0, 0, controller::Role::Button(0), 0),
                link(0, 0, controller::Role::Button(1), 0),
                link(1, 0, controller::Role::Card(Level::FULL), 0),
                link(2, 0, controller::Role::PartialOn(half), 0),
                link(2, 1, controller::Role::AutoOn(Level::FULL), 10),
            ],
            outputs: vec![warned, controller::Output::new(controller::Drive::Contact)],
            ..controller::Settings::default()
        },
        heard: vec![BUTTONS, CARD, MOTION, SourceId(3)],
        outputs: vec![LAMP, OutputId(1)],
    }
}
