//! The bus is one: whichever devices stand outside, the trace is the same to the byte.

use std::sync::Arc;

use device::{Illuminance, Span, clock, signal};
use room::{Input, OutputId, Plan, SourceId, SourceSettings, Stimulus};
use scenario::script::{Act, ActWhat, By, Script};
use sim::{Impairment, Instant, LinkFault, Share, Stream};

use crate::support::{Stage, devices, first_difference, shipped};

#[tokio::test(start_paused = true)]
async fn every_shipped_scenario_is_the_same_with_every_device_in_a_task_of_its_own() {
    let scripts = shipped();
    assert!(scripts.len() > 80, "{} scenarios", scripts.len());
    for script in scripts {
        let stage = Stage::new(&script, &devices(&script.plan));
        for &device in &stage.outside {
            stage.node(device);
        }
        let outside = stage.play().await;
        let inside = scenario::run::run(&script, 0);
        assert_eq!(first_difference(&outside, &inside), None, "{}", script.file);
        assert_eq!(outside.verdict, inside.verdict, "{}", script.file);
    }
}

#[tokio::test(start_paused = true)]
async fn a_thousand_random_scenarios_are_the_same_whoever_stands_outside() {
    let rooms = rooms();
    for seed in 0..1_000 {
        let mut luck = Stream::from_seed(seed);
        let room = &rooms[pick(&mut luck, rooms.len())];
        let script = Arc::new(random_script(room, &mut luck));
        let mut outside = devices(&script.plan);
        // Every third time all of them.
        if seed % 3 > 0 {
            outside.retain(|_| luck.below(2) == 0);
        }
        let stage = Stage::new(&script, &outside);
        for &device in &stage.outside {
            stage.node(device);
        }
        let outcome = stage.play().await;
        let inside = scenario::run::run(&script, 0);
        assert!(!inside.trace.steps.is_empty());
        let difference = first_difference(&outcome, &inside);
        assert_eq!(difference, None, "seed {seed}, {}", script.file);
    }
}

/// One shipped scenario of each room.
fn rooms() -> Vec<Arc<Script>> {
    let mut rooms = shipped();
    rooms.dedup_by_key(|script| script.plan.name.clone());
    assert!(rooms.len() >= 9, "{} rooms", rooms.len());
    rooms
}

/// Two hours in which anything may happen in the room of a script.
fn random_script(room: &Script, luck: &mut Stream) -> Script {
    let mut at = Instant::START;
    let acts = (0..luck.below(50)).filter_map(|_| {
        at = at.after(Span::from_ms(GAPS[pick(luck, GAPS.len())]));
        Some(Act {
            at,
            after: luck.below(10) == 0,
            what: random_act(&room.plan, luck)?,
            by: By::Row(0),
        })
    });
    Script {
        acts: acts.collect(),
        end: Instant::START.after(Span::from_hours(2)),
        checks: Vec::new(),
        expects: Vec::new(),
        people: Vec::new(),
        ..room.clone()
    }
}

fn random_act(plan: &Plan, luck: &mut Stream) -> Option<ActWhat> {
    let source = pick(luck, plan.sources.len());
    let id = SourceId(u16::try_from(source).unwrap());
    let output = OutputId(u16::try_from(pick(luck, plan.outputs.len())).unwrap());
    let on = luck.below(2) == 0;
    Some(ActWhat::Input(match luck.below(20) {
        0 => {
            let all = devices(plan);
            Input::Power(all[pick(luck, all.len())], on)
        }
        1 => Input::Daylight(Illuminance::from_lux(
            u32::try_from(luck.below(20_000)).unwrap(),
        )),
        2 => Input::Stuck(output, [None, Some(true), Some(false)][pick(luck, 3)]),
        3 => Input::Learn { output, remove: on },
        4 => {
            let fault = match luck.below(4) {
                0 => LinkFault::LoseNext(2),
                1 => LinkFault::CopyNext(1),
                2 => LinkFault::LateNext(1, Span::from_ms(400)),
                _ => LinkFault::Lose(Share::from_parts(2_000)),
            };
            return Some(ActWhat::Impair(Impairment {
                source: id,
                listener: None,
                fault,
            }));
        }
        _ => Input::Stimulus(
            id,
            random_stimulus(&plan.sources[source].settings, luck, on)?,
        ),
    }))
}

fn random_stimulus(settings: &SourceSettings, luck: &mut Stream, on: bool) -> Option<Stimulus> {
    if luck.below(30) == 0 {
        return Some(Stimulus::TeachIn);
    }
    Some(match settings {
        SourceSettings::Occupancy(_) if on => Stimulus::Motion,
        SourceSettings::Occupancy(_) => Stimulus::Sound,
        SourceSettings::Switch(unit) => {
            let button = u8::try_from(pick(luck, unit.buttons.len())).unwrap();
            if on {
                Stimulus::Press(button)
            } else {
                Stimulus::Release(button)
            }
        }
        SourceSettings::Card(_) if on => Stimulus::CardIn {
            valid: luck.below(4) > 0,
        },
        SourceSettings::Card(_) => Stimulus::CardOut,
        SourceSettings::Daylight(_) => return None,
        SourceSettings::Clock(_) => match luck.below(4) {
            0 => Stimulus::Due(clock::Entry::Opening),
            1 => Stimulus::Due(clock::Entry::Closing),
            2 => Stimulus::Due(clock::Entry::Sweep),
            _ => Stimulus::ClockSet { in_hours: on },
        },
        SourceSettings::Signal(it) if it.kind == signal::Kind::DemandResponse => {
            if on {
                Stimulus::Shed(None)
            } else {
                Stimulus::ShedEnd
            }
        }
        SourceSettings::Signal(_) => Stimulus::Signal(on),
    })
}

fn pick(luck: &mut Stream, end: usize) -> usize {
    usize::try_from(luck.below(end as u64)).unwrap()
}

/// From one act to the next, in milliseconds; several at one instant are common.
const GAPS: [u64; 14] = [
    0, 0, 1, 10, 40, 50, 100, 499, 500, 1_000, 10_000, 60_000, 300_000, 900_000,
];
