//! Random rooms and random stimuli, made from a tape of small choices.
//!
//! Invariant: a shorter tape, or one of zeros, makes a simpler room, so that a failing case
//! shrinks to something a person can read.

use std::sync::Arc;

use device::controller::{
    Calibration, Drive, Link, Loop, Lost, Output, PowerUp, Role, Settings, Warning,
};
use device::{Illuminance, Level, Points, Span, card, clock, daylight, occupancy, signal, switch};
use proptest::prelude::*;
use room::{
    Change, ControllerId, Device, Input, OutputId, Plan, SourceId, SourceSettings, Stimulus,
};
use sim::{Impairment, Instant, LinkFault, Recorder, Share, Simulation};

use crate::support::{Site, Tie, lamp};

/// What may be in a random room, and what may happen in it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Scope {
    /// Cards, clocks, emergency and demand response.
    pub(crate) holders: bool,
    /// Power cuts, lost frames, stuck relays, changed settings.
    pub(crate) faults: bool,
}

/// Everything there is.
pub(crate) const WHOLE: Scope = Scope {
    holders: true,
    faults: true,
};

/// One thing that happens, before it is known what the room has.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Row {
    gap: u8,
    kind: u8,
    which: u8,
}

/// Something for a simulation to take.
#[derive(Clone, Debug)]
pub(crate) enum Act {
    Input(Input),
    After(Input),
    Impair(Impairment),
}

/// Tapes and rows, shrinking to nothing.
pub(crate) fn cases() -> impl Strategy<Value = (Vec<u8>, Vec<Row>)> {
    let row = (any::<u8>(), any::<u8>(), any::<u8>()).prop_map(|(gap, kind, which)| Row {
        gap,
        kind,
        which,
    });
    (
        prop::collection::vec(any::<u8>(), 0..160),
        prop::collection::vec(row, 0..60),
    )
}

struct Tape<'a>(std::slice::Iter<'a, u8>);

impl Tape<'_> {
    /// A number below `end`; zero when the tape has run out.
    fn pick(&mut self, end: usize) -> usize {
        usize::from(self.0.next().copied().unwrap_or(0)) % end
    }

    fn chance(&mut self, of: usize) -> bool {
        self.pick(of) == of - 1
    }

    fn one<T: Clone>(&mut self, of: &[T]) -> T {
        of[self.pick(of.len())].clone()
    }
}

/// The room that a tape makes.
pub(crate) fn site(tape: &[u8], scope: Scope) -> Site {
    let tape = &mut Tape(tape.iter());
    let mut site = Site::default();
    let mut sources: Vec<(String, SourceSettings)> = Vec::new();
    for number in 0..1 + tape.pick(3) {
        let settings = SourceSettings::Occupancy(sensor(tape));
        sources.push((format!("sensor-{number}"), settings));
    }
    for number in 0..tape.pick(3) {
        let settings = SourceSettings::Switch(unit(tape));
        sources.push((format!("unit-{number}"), settings));
    }
    if tape.chance(3) {
        let settings = SourceSettings::Daylight(daylight::Settings::default());
        sources.push(("photo".into(), settings));
    }
    if scope.holders {
        for (name, settings) in holders() {
            if tape.chance(3) {
                sources.push((name.into(), settings));
            }
        }
    }
    let controllers = 1 + tape.pick(2);
    for number in 0..1 + tape.pick(4) {
        let name = format!("output-{number}");
        let output = output(tape, scope);
        site = site.output_of(
            &format!("controller-{}", tape.pick(controllers)),
            &name,
            output,
        );
    }
    let outputs: Vec<_> = site
        .outputs
        .iter()
        .map(|it| (it.1.clone(), it.2.clone()))
        .collect();
    for (source, settings) in &sources {
        for (name, output) in &outputs {
            for tie in ties(tape, source, settings, name, output) {
                site = site.tie(tie);
            }
        }
    }
    for (name, settings) in sources {
        site = site.source(&name, settings);
    }
    site.light.daylight = 2_000;
    site.tune = Settings {
        ramp: tape.one(&[Span::from_seconds(4), Span::from_seconds(2)]),
        ..Settings::default()
    };
    site
}

fn sensor(tape: &mut Tape<'_>) -> occupancy::Settings {
    let time_delay = tape.one(&[
        Span::from_minutes(15),
        Span::from_seconds(30),
        Span::from_minutes(5),
    ]);
    let sound = tape.chance(2);
    occupancy::Settings {
        sound,
        time_delay,
        window: tape.one(&[Span::from_minutes(60), Span::ZERO, time_delay]),
        grace: tape.one(&[Span::ZERO, Span::from_seconds(10)]),
        report: tape.one(&[
            Some(Span::from_minutes(4)),
            Some(Span::from_seconds(60)),
            None,
        ]),
        repeat: tape.one(&[None, Some(Span::from_seconds(60))]),
        dead_time: tape.one(&[Span::from_ms(100), Span::ZERO]),
        hold_off: tape.one(&[None, Some(Illuminance::from_lux(300))]),
        ..occupancy::Settings::default()
    }
}

fn unit(tape: &mut Tape<'_>) -> switch::Settings {
    use switch::Button::{Down, Scene, Single, Up};
    switch::Settings {
        buttons: tape.one(&[vec![Single], vec![Up, Down], vec![Up, Down, Single, Scene]]),
        edge_gap: tape.one(&[Span::from_ms(50), Span::ZERO]),
    }
}

fn holders() -> [(&'static str, SourceSettings); 5] {
    let signal = |kind| {
        SourceSettings::Signal(signal::Settings {
            kind,
            ..signal::Settings::default()
        })
    };
    [
        ("alarm", signal(signal::Kind::FireAlarm)),
        ("card", SourceSettings::Card(card::Settings::default())),
        ("clock", SourceSettings::Clock(clock::Settings::default())),
        ("grid", signal(signal::Kind::DemandResponse)),
        ("mains", signal(signal::Kind::NormalPower)),
    ]
}

fn output(tape: &mut Tape<'_>, scope: Scope) -> Output {
    let drive = tape.one(&[
        Drive::ZeroToTen,
        Drive::Relay,
        Drive::Receptacle,
        Drive::Contact,
        Drive::ReversePhase,
    ]);
    let seconds = Span::from_seconds;
    let base = if drive.dims() {
        lamp()
    } else {
        Output::new(drive)
    };
    let mut output = Output { drive, ..base };
    if drive.dims() {
        output.fade_on = tape.one(&[Span::ZERO, seconds(1)]);
        output.fade_off = tape.one(&[Span::ZERO, seconds(2)]);
        output.high_trim = tape.one(&[Level::FULL, Level::from_percent(80)]);
        if scope.holders && tape.chance(4) {
            output.floor = Some(Level::from_percent(tape.one(&[10, 30])));
        }
    }
    if drive.lights() {
        output.press_hold = tape.one(&[Span::from_minutes(15), seconds(60)]);
        output.grace = tape.one(&[Span::ZERO, seconds(20)]);
        output.warning = tape.one(&[
            None,
            Some(Warning::Dim {
                span: seconds(30),
                level: Level::from_percent(50),
            }),
            Some(Warning::Blink { span: seconds(10) }),
        ]);
        output.off_after = Some(seconds(120));
    } else {
        output.minimum_on = tape.one(&[Span::ZERO, Span::from_minutes(5)]);
        output.minimum_off = tape.one(&[Span::ZERO, seconds(30)]);
    }
    output.shed = tape.one(&[Some(Points::from_hundredths(1_500)), None]);
    output.power_up = tape.one(&[PowerUp::Last, PowerUp::On, PowerUp::Off]);
    output.feedback = tape.one(&[None, Some(seconds(60))]);
    output
}

/// The links from one source to one output.
fn ties(
    tape: &mut Tape<'_>,
    source: &str,
    settings: &SourceSettings,
    name: &str,
    output: &Output,
) -> Vec<Tie> {
    if tape.chance(4) {
        return Vec::new();
    }
    let tie = |role| Tie::new(source, name, role);
    let level = Level::from_percent(tape.one(&[50, 100, 30]));
    match settings {
        SourceSettings::Occupancy(_) => {
            let role = tape.one(&[
                Role::AutoOn(Level::FULL),
                Role::ManualOn,
                Role::PartialOn(level),
            ]);
            vec![Tie {
                run_on: tape.one(&[Span::ZERO, Span::from_minutes(10)]),
                setback: if output.drive.dims() {
                    tape.one(&[None, Some(Level::from_percent(20))])
                } else {
                    None
                },
                lost: tape.one(&[Lost::Vacant, Lost::Occupied]),
                ..tie(role)
            }]
        }
        SourceSettings::Switch(unit) => (0..)
            .zip(&unit.buttons)
            .map(|(number, kind)| Tie {
                button: Some(number),
                ..tie(match kind {
                    switch::Button::Scene => Role::Scene(0, level),
                    _ => Role::Button(0),
                })
            })
            .collect(),
        SourceSettings::Card(_) => vec![tie(Role::Card(level))],
        SourceSettings::Daylight(_) if output.drive.dims() => vec![tie(Role::Limit(Loop {
            calibration: Some(Calibration {
                night_sensor: Illuminance::from_lux(100),
                night_task: Illuminance::from_lux(500),
                day_sensor: Illuminance::from_lux(200),
                day_task: Illuminance::from_lux(400),
            }),
            dark_after: tape.one(&[None, Some(Span::from_minutes(15))]),
            ..Loop::default()
        }))],
        SourceSettings::Daylight(_) => Vec::new(),
        SourceSettings::Clock(_) => vec![tie(tape.one(&[
            Role::Sweep {
                warning: Span::from_minutes(5),
                longest_override: Span::from_hours(2),
            },
            Role::Opening(level),
            Role::NoAutoOn,
            Role::OffAfterHours(Span::from_seconds(60)),
        ]))],
        SourceSettings::Signal(it) => match it.kind {
            signal::Kind::DemandResponse => vec![tie(Role::Shed)],
            _ if output.floor.is_some() => vec![tie(Role::Emergency)],
            _ => Vec::new(),
        },
    }
}

/// What rows do in a room, by moment.
pub(crate) fn acts(rows: &[Row], plan: &Plan, scope: Scope) -> Vec<(Instant, Act)> {
    let mut at = Instant::START;
    let mut acts = Vec::new();
    for row in rows {
        at = at.after(Span::from_ms(GAPS[usize::from(row.gap) % GAPS.len()]));
        let act = if scope.faults && row.kind >= 200 {
            fault(*row, plan)
        } else if plan.sources.is_empty() {
            continue;
        } else {
            let which = usize::from(row.kind) % plan.sources.len();
            let id = SourceId(u16::try_from(which).unwrap());
            let Some(stimulus) = stimulus(&plan.sources[which].settings, row.which) else {
                continue;
            };
            let input = Input::Stimulus(id, stimulus);
            if row.which >= 240 {
                Act::After(input)
            } else {
                Act::Input(input)
            }
        };
        acts.push((at, act));
    }
    acts
}

/// Gives a simulation what happens.
pub(crate) fn give<R: Recorder>(simulation: &mut Simulation<R>, at: Instant, act: &Act) {
    match act {
        Act::Input(input) => simulation.apply(at, input.clone()),
        Act::After(input) => simulation.apply_after(at, input.clone()),
        Act::Impair(impairment) => simulation.impair(at, *impairment),
    }
}

fn stimulus(settings: &SourceSettings, which: u8) -> Option<Stimulus> {
    let on = which.is_multiple_of(2);
    Some(match settings {
        SourceSettings::Occupancy(_) => match which % 8 {
            0..5 => Stimulus::Motion,
            5 | 6 => Stimulus::Sound,
            _ => Stimulus::WalkTest(which >= 128),
        },
        SourceSettings::Switch(unit) => {
            let button = which / 2 % u8::try_from(unit.buttons.len()).unwrap();
            if on {
                Stimulus::Press(button)
            } else {
                Stimulus::Release(button)
            }
        }
        SourceSettings::Card(_) if on => Stimulus::CardIn { valid: which < 250 },
        SourceSettings::Card(_) => Stimulus::CardOut,
        SourceSettings::Daylight(_) => return None,
        SourceSettings::Clock(_) => match which % 4 {
            0 => Stimulus::Due(clock::Entry::Opening),
            1 => Stimulus::Due(clock::Entry::Closing),
            2 => Stimulus::Due(clock::Entry::Sweep),
            _ => Stimulus::ClockSet {
                in_hours: which >= 128,
            },
        },
        SourceSettings::Signal(it) => match it.kind {
            signal::Kind::DemandResponse if on => Stimulus::Shed(None),
            signal::Kind::DemandResponse => Stimulus::ShedEnd,
            _ => Stimulus::Signal(on),
        },
    })
}

fn fault(row: Row, plan: &Plan) -> Act {
    let id = |count: usize| u16::try_from(usize::from(row.which) % count).unwrap();
    let source = SourceId(id(plan.sources.len()));
    let controller = ControllerId(id(plan.controllers.len()));
    let impair = |fault| {
        Act::Impair(Impairment {
            source,
            listener: None,
            fault,
        })
    };
    match row.kind % 12 {
        0 => Act::Input(Input::Power(
            Device::Controller(controller),
            row.which < 128,
        )),
        1 => Act::Input(Input::Power(Device::Source(source), row.which < 128)),
        2 => impair(LinkFault::LoseNext(u32::from(row.which % 4))),
        3 => impair(LinkFault::CopyNext(2)),
        4 => impair(LinkFault::LateNext(1, Span::from_ms(u64::from(row.which)))),
        5 => impair(LinkFault::Lose(Share::from_parts(
            u16::from(row.which) * 10,
        ))),
        6 => {
            let stuck = [None, Some(false), Some(true)][usize::from(row.which) % 3];
            Act::Input(Input::Stuck(OutputId(id(plan.outputs.len())), stuck))
        }
        7 => Act::Input(Input::Learn {
            output: OutputId(id(plan.outputs.len())),
            remove: row.which >= 128,
        }),
        8 => Act::Input(Input::Stimulus(source, Stimulus::TeachIn)),
        9 => {
            let outside = Illuminance::from_lux(u32::from(row.which) * 20);
            Act::Input(Input::Daylight(outside))
        }
        10 => Act::Input(Input::Change(Box::new(Change::Controller(
            controller,
            retuned(plan, controller, row.which),
        )))),
        _ => {
            let mut settings = plan.sources[usize::from(source.0)].settings.clone();
            if let SourceSettings::Occupancy(it) = &mut settings {
                it.time_delay = Span::from_minutes(u64::from(row.which % 30) + 1);
                it.window = it.time_delay;
            }
            Act::Input(Input::Change(Box::new(Change::Source(source, settings))))
        }
    }
}

/// Somebody turns a few screws of a controller.
fn retuned(plan: &Plan, id: ControllerId, which: u8) -> Settings {
    let mut settings = plan.controllers[usize::from(id.0)].settings.clone();
    settings.ramp = Span::from_seconds(u64::from(which % 8) + 1);
    let stretch = |link: &mut Link| link.run_on = Span::from_seconds(u64::from(which));
    settings.links.iter_mut().for_each(stretch);
    for output in &mut settings.outputs {
        if output.drive.lights() {
            output.press_hold = Span::from_seconds(u64::from(which) * 4);
        }
        if output.drive.dims() {
            output.high_trim = Level::from_percent(u16::from(which % 40) + 60);
        }
    }
    settings
}

/// A plan for a tape, and what the rows do in it.
pub(crate) fn case(tape: &[u8], rows: &[Row], scope: Scope) -> (Arc<Plan>, Vec<(Instant, Act)>) {
    let plan = site(tape, scope).plan();
    let acts = acts(rows, &plan, scope);
    (plan, acts)
}

/// From one row to the next, in milliseconds; several rows at one instant are common.
const GAPS: [u64; 20] = [
    0, 0, 0, 1, 10, 40, 50, 100, 450, 500, 501, 1_000, 4_000, 10_000, 30_000, 45_000, 60_000,
    300_000, 900_000, 3_600_000,
];
