//! The faults that a room can be challenged with: flaws of firmware, and settings that are not
//! what the sequence was written for.

use std::collections::BTreeMap;

use super::names::{output_name, part_words, role_words, source_name};
use device::controller::{Drive, HeardKind, Link, Output, PowerUp, Role, Settings, Warning};
use device::{Flaw, Level, Points, Span};
use room::{Change, ControllerId, Plan, SourceId, SourceSettings};
use sim::Quality;

/// One thing that is wrong in a room.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum Fault {
    /// A flaw in the firmware of every device that can have it.
    Firmware(Flaw),
    /// A source is set wrong.
    Source(SourceId, SourceFault),
    /// A link of a controller, by its place, is wrong.
    Link(ControllerId, u8, LinkFault),
    /// A source is linked to an output that it has nothing to do with, by their places in the
    /// controller.
    Extra(ControllerId, u8, u8),
    /// An output of a controller, by its place, is set wrong.
    Output(ControllerId, u8, OutputFault),
    /// A controller is set wrong.
    Controller(ControllerId, ControllerFault),
    /// Every frame takes two seconds.
    SlowBus,
}

/// How a source is set wrong.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum SourceFault {
    /// The time delay is twice as long.
    DelayDoubled,
    /// The time delay is half as long.
    DelayHalved,
    /// The unit does not listen.
    Deaf,
    /// The sound window is twice as long.
    WindowDoubled,
    /// The linger is twice as long.
    LingerDoubled,
    /// There is no linger.
    NoLinger,
    /// Any card will do.
    AnyCard,
    /// It reports ten times less often.
    RareReports,
}

/// How a link is wrong.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum LinkFault {
    /// It is not there.
    Missing,
    /// Manual-on instead of auto- or partial-on, and the other way round.
    OtherRole,
    /// At full instead of its level.
    Full,
    /// At a fifth instead of its level.
    Low,
    /// No run-on.
    NoRunOn,
    /// Ten minutes more of run-on.
    LongRunOn,
    /// No setback.
    NoSetback,
    /// The setback is twice as high.
    HighSetback,
    /// No warning before the sweep.
    NoWarning,
    /// The override is ten times as long.
    LongOverride,
    /// Twice the set-point.
    HighSetPoint,
    /// Half the set-point.
    LowSetPoint,
    /// After hours, an hour more until off.
    LateOff,
}

/// How an output is set wrong.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum OutputFault {
    /// No warning before it goes off.
    NoWarning,
    /// No re-entry grace.
    NoGrace,
    /// Half a minute of re-entry grace.
    LongGrace,
    /// No press hold.
    NoPressHold,
    /// A press holds for two hours.
    LongPressHold,
    /// Never off from setback.
    NeverOff,
    /// No egress floor.
    NoFloor,
    /// Normal light need not be proven.
    NotProven,
    /// A shed takes ninety points.
    DeepShed,
    /// No minimum times.
    NoMinimum,
    /// Minimum on-time of twenty minutes.
    LongMinimum,
    /// Off when power returns.
    OffOnPower,
    /// The high trim is at three fifths.
    LowHighTrim,
    /// The low trim is at half.
    HighLowTrim,
    /// Fades take a minute.
    SlowFades,
    /// Not on the relay that it shares.
    OwnRelay,
    /// No feedback.
    NoFeedback,
}

/// How a controller is set wrong.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum ControllerFault {
    /// A button is held only after three seconds.
    SlowHold,
    /// A ramp takes four times as long.
    SlowRamp,
    /// A missing card holds nothing off.
    NotCaptive,
    /// A learning window closes after a second.
    ShortLearning,
}

impl Fault {
    /// Every fault that changes something in the plan.
    #[must_use]
    pub fn all(plan: &Plan) -> Vec<Self> {
        let mut all: Vec<Self> = Flaw::ALL.map(Self::Firmware).to_vec();
        all.push(Self::SlowBus);
        for source in (0..).take(plan.sources.len()).map(SourceId) {
            all.extend(SOURCE.map(|fault| Self::Source(source, fault)));
        }
        for (index, controller) in (0..).zip(&plan.controllers) {
            let id = ControllerId(index);
            let settings = &controller.settings;
            all.extend(CONTROLLER.map(|fault| Self::Controller(id, fault)));
            for link in (0..).take(settings.links.len()) {
                all.extend(LINK.map(|fault| Self::Link(id, link, fault)));
            }
            for output in (0..).take(settings.outputs.len()) {
                all.extend(OUTPUT.map(|fault| Self::Output(id, output, fault)));
                let heard = (0..).take(settings.heard.len());
                all.extend(heard.map(|heard| Self::Extra(id, heard, output)));
            }
        }
        all.retain(|fault| {
            let mut changed = plan.clone();
            fault.seed(&mut changed);
            changed != *plan || *fault == Self::SlowBus
        });
        all
    }

    /// Makes the plan wrong.
    pub fn seed(&self, plan: &mut Plan) {
        for (index, source) in (0..).zip(&mut plan.sources) {
            self.seed_source(SourceId(index), &mut source.settings);
        }
        for (index, controller) in (0..).zip(&mut plan.controllers) {
            self.seed_controller(ControllerId(index), &mut controller.settings);
        }
    }

    /// Makes settings wrong that are changed on site.
    pub fn seed_change(&self, change: &mut Change) {
        match change {
            Change::Source(source, settings) => self.seed_source(*source, settings),
            Change::Controller(controller, settings) => self.seed_controller(*controller, settings),
        }
    }

    /// Makes the bus wrong.
    pub fn impair(&self, plan: &Plan, quality: &mut BTreeMap<(SourceId, ControllerId), Quality>) {
        if *self != Self::SlowBus {
            return;
        }
        for (index, source) in (0..).zip(&plan.sources) {
            for (listener, _) in &source.listeners {
                let quality = quality.entry((SourceId(index), *listener)).or_default();
                quality.delay = Span::from_seconds(2);
            }
        }
    }

    /// The fault in words.
    #[must_use]
    pub fn words(&self, plan: &Plan) -> String {
        match self {
            Self::Firmware(flaw) => format!("firmware: {}", flaw.words()),
            Self::SlowBus => "bus: every frame takes 2 s".to_owned(),
            Self::Source(source, fault) => {
                format!(
                    "{}: {}",
                    plan.sources[usize::from(source.0)].name,
                    fault.words()
                )
            }
            Self::Controller(controller, fault) => {
                format!(
                    "{}: {}",
                    plan.controllers[usize::from(controller.0)].name,
                    fault.words()
                )
            }
            Self::Output(controller, output, fault) => {
                format!(
                    "{}: {}",
                    output_name(plan, *controller, *output),
                    fault.words()
                )
            }
            Self::Link(controller, link, fault) => {
                let link =
                    &plan.controllers[usize::from(controller.0)].settings.links[usize::from(*link)];
                let source = source_name(plan, *controller, link.heard);
                let output = output_name(plan, *controller, link.output);
                let part = part_words(plan, *controller, link);
                let role = role_words(&link.role);
                format!("{source}{part} to {output}, {role}: {}", fault.words())
            }
            Self::Extra(controller, heard, output) => {
                let source = source_name(plan, *controller, *heard);
                let output = output_name(plan, *controller, *output);
                format!("{source} to {output}: a link too many")
            }
        }
    }

    fn seed_source(&self, id: SourceId, settings: &mut SourceSettings) {
        match self {
            Self::Firmware(flaw) => match settings {
                SourceSettings::Occupancy(sensor) => sensor.flaw = Some(*flaw).filter(of_sensor),
                SourceSettings::Card(reader) => reader.flaw = Some(*flaw).filter(of_reader),
                _ => {}
            },
            Self::Source(source, fault) if *source == id => fault.seed(settings),
            _ => {}
        }
    }

    fn seed_controller(&self, id: ControllerId, settings: &mut Settings) {
        match self {
            Self::Firmware(flaw) => {
                settings.flaw = Some(*flaw).filter(|flaw| !of_sensor(flaw) && !of_reader(flaw));
            }
            Self::Controller(controller, fault) if *controller == id => fault.seed(settings),
            Self::Link(controller, link, fault) if *controller == id => {
                fault.seed(&mut settings.links[usize::from(*link)]);
            }
            Self::Output(controller, output, fault) if *controller == id => {
                fault.seed(&mut settings.outputs[usize::from(*output)]);
            }
            Self::Extra(controller, heard, output) if *controller == id => {
                add_links(settings, *heard, *output);
            }
            _ => {}
        }
    }
}

/// Flaws of the firmware of a sensor.
fn of_sensor(flaw: &Flaw) -> bool {
    matches!(
        flaw,
        Flaw::SoundTurnsOn | Flaw::SoundRearmsWindow | Flaw::WindowNeverCloses
    )
}

/// Flaws of the firmware of a card reader.
fn of_reader(flaw: &Flaw) -> bool {
    matches!(flaw, Flaw::LingerNotCancelled)
}

/// Links a source to an output that it is not linked to: a sensor auto-on, a unit by its buttons.
fn add_links(settings: &mut Settings, heard: u8, output: u8) {
    let between = |link: &&Link| link.heard == heard && link.output == output;
    let known: Vec<Role> = (settings.links.iter().filter(between))
        .map(|link| link.role.clone())
        .collect();
    let roles: Vec<Role> = match settings.heard[usize::from(heard)].kind {
        HeardKind::Occupancy if known.is_empty() => vec![Role::AutoOn(Level::FULL)],
        HeardKind::Switch => {
            let buttons = (0..).zip(&settings.buttons);
            let of_unit = buttons.filter(|(_, button)| button.heard == heard);
            of_unit
                .filter(|(_, button)| button.kind != device::switch::Button::Scene)
                .map(|(index, _)| Role::Button(index))
                .filter(|role| !known.contains(role))
                .collect()
        }
        _ => Vec::new(),
    };
    settings.links.extend(roles.into_iter().map(|role| Link {
        heard,
        output,
        role,
        run_on: Span::ZERO,
        setback: None,
        lost: device::controller::Lost::Vacant,
        stored: true,
    }));
}

impl SourceFault {
    fn seed(self, settings: &mut SourceSettings) {
        match (self, settings) {
            (Self::DelayDoubled, SourceSettings::Occupancy(it)) => {
                it.time_delay = it.time_delay.scaled(2, 1)
            }
            (Self::DelayHalved, SourceSettings::Occupancy(it)) => {
                it.time_delay = it.time_delay.scaled(1, 2)
            }
            (Self::Deaf, SourceSettings::Occupancy(it)) => it.sound = false,
            (Self::WindowDoubled, SourceSettings::Occupancy(it)) => {
                it.window = it.window.scaled(2, 1)
            }
            (Self::LingerDoubled, SourceSettings::Card(it)) => it.linger = it.linger.scaled(2, 1),
            (Self::NoLinger, SourceSettings::Card(it)) => it.linger = Span::ZERO,
            (Self::AnyCard, SourceSettings::Card(it)) => it.verifies = false,
            (Self::RareReports, SourceSettings::Occupancy(it)) => {
                it.report = it.report.map(|span| span.scaled(10, 1))
            }
            _ => {}
        }
    }

    const fn words(self) -> &'static str {
        match self {
            Self::DelayDoubled => "time delay doubled",
            Self::DelayHalved => "time delay halved",
            Self::Deaf => "does not listen",
            Self::WindowDoubled => "sound window doubled",
            Self::LingerDoubled => "linger doubled",
            Self::NoLinger => "no linger",
            Self::AnyCard => "takes any card",
            Self::RareReports => "reports ten times less often",
        }
    }
}

impl LinkFault {
    fn seed(self, link: &mut Link) {
        match (self, &mut link.role) {
            (Self::Missing, _) => link.stored = false,
            (Self::OtherRole, role @ (Role::AutoOn(_) | Role::PartialOn(_))) => {
                *role = Role::ManualOn
            }
            (Self::OtherRole, role @ Role::ManualOn) => *role = Role::AutoOn(Level::FULL),
            (Self::Full, role) => set_level(role, Level::FULL),
            (Self::Low, role) => set_level(role, Level::from_percent(20)),
            (Self::NoRunOn, _) => link.run_on = Span::ZERO,
            (Self::LongRunOn, role) if follows_people(role) => {
                link.run_on = link.run_on.plus(Span::from_minutes(10));
            }
            (Self::NoSetback, _) => link.setback = None,
            (Self::HighSetback, _) => {
                link.setback = link
                    .setback
                    .map(|level| Level::from_hundredths(level.hundredths() * 2));
            }
            (Self::NoWarning, Role::Sweep { warning, .. }) => *warning = Span::ZERO,
            (
                Self::LongOverride,
                Role::Sweep {
                    longest_override, ..
                },
            ) => {
                *longest_override = longest_override.scaled(10, 1);
            }
            (Self::HighSetPoint, Role::Limit(constants)) => {
                let set_point = constants.set_point.hundredths() * 2;
                constants.set_point = device::Illuminance::from_hundredths(set_point);
            }
            (Self::LateOff, Role::OffAfterHours(span)) => {
                *span = span.plus(Span::from_hours(1));
            }
            (Self::LowSetPoint, Role::Limit(constants)) => {
                let set_point = constants.set_point.hundredths() / 2;
                constants.set_point = device::Illuminance::from_hundredths(set_point);
            }
            _ => {}
        }
    }

    const fn words(self) -> &'static str {
        match self {
            Self::Missing => "missing",
            Self::OtherRole => "the other role",
            Self::Full => "at full",
            Self::Low => "at 20 %",
            Self::NoRunOn => "no run-on",
            Self::LongRunOn => "10 min more of run-on",
            Self::NoSetback => "no setback",
            Self::HighSetback => "setback doubled",
            Self::NoWarning => "no warning",
            Self::LongOverride => "override ten times as long",
            Self::HighSetPoint => "set-point doubled",
            Self::LowSetPoint => "set-point halved",
            Self::LateOff => "an hour more until off",
        }
    }
}

fn follows_people(role: &Role) -> bool {
    matches!(role, Role::AutoOn(_) | Role::PartialOn(_) | Role::ManualOn)
}

fn set_level(role: &mut Role, to: Level) {
    match role {
        Role::AutoOn(level) | Role::PartialOn(level) | Role::Card(level) | Role::Opening(level) => {
            *level = to
        }
        Role::Scene(_, level) => *level = to,
        _ => {}
    }
}

impl OutputFault {
    fn seed(self, output: &mut Output) {
        let dims = output.drive.dims();
        match self {
            Self::NoWarning => output.warning = None,
            Self::NoGrace => output.grace = Span::ZERO,
            Self::LongGrace if output.drive.lights() => output.grace = Span::from_seconds(30),
            Self::NoPressHold => output.press_hold = Span::ZERO,
            Self::LongPressHold if output.drive.lights() => output.press_hold = Span::from_hours(2),
            Self::NeverOff => output.off_after = None,
            Self::NoFloor => output.floor = None,
            Self::NotProven => output.proven = Span::ZERO,
            Self::DeepShed if dims => output.shed = Some(Points::from_hundredths(9_000)),
            Self::NoMinimum => output.minimum_on = Span::ZERO,
            Self::LongMinimum if output.drive == Drive::Contact => {
                output.minimum_on = Span::from_minutes(20);
            }
            Self::OffOnPower => output.power_up = PowerUp::Off,
            Self::LowHighTrim if dims => output.high_trim = Level::from_percent(60),
            Self::HighLowTrim if dims => output.low_trim = Level::from_percent(50),
            Self::SlowFades if dims => {
                output.fade_on = Span::from_minutes(1);
                output.fade_off = Span::from_minutes(1);
            }
            Self::OwnRelay => output.relay = None,
            Self::NoFeedback => output.feedback = None,
            _ => {}
        }
        if let Some(Warning::Dim { level, .. }) = &mut output.warning {
            *level = (*level).max(output.low_trim);
        }
    }

    const fn words(self) -> &'static str {
        match self {
            Self::NoWarning => "no warning",
            Self::NoGrace => "no re-entry grace",
            Self::LongGrace => "30 s of re-entry grace",
            Self::NoPressHold => "no press hold",
            Self::LongPressHold => "press hold of 2 h",
            Self::NeverOff => "never off from setback",
            Self::NoFloor => "no egress floor",
            Self::NotProven => "normal light not proven",
            Self::DeepShed => "shed of 90 points",
            Self::NoMinimum => "no minimum on-time",
            Self::LongMinimum => "minimum on-time of 20 min",
            Self::OffOnPower => "off when power returns",
            Self::LowHighTrim => "high trim at 60 %",
            Self::HighLowTrim => "low trim at 50 %",
            Self::SlowFades => "fades of a minute",
            Self::OwnRelay => "a relay of its own",
            Self::NoFeedback => "no feedback",
        }
    }
}

impl ControllerFault {
    fn seed(self, settings: &mut Settings) {
        match self {
            Self::SlowHold => settings.hold_threshold = Span::from_seconds(3),
            Self::SlowRamp => settings.ramp = settings.ramp.scaled(4, 1),
            Self::ShortLearning => settings.learning = Span::from_seconds(1),
            Self::NotCaptive => {
                for heard in &mut settings.heard {
                    if let HeardKind::Card { captive } = &mut heard.kind {
                        *captive = false;
                    }
                }
            }
        }
    }

    const fn words(self) -> &'static str {
        match self {
            Self::SlowHold => "hold threshold of 3 s",
            Self::SlowRamp => "ramp four times as long",
            Self::NotCaptive => "readers not captive",
            Self::ShortLearning => "learning window of 1 s",
        }
    }
}

const SOURCE: [SourceFault; 8] = [
    SourceFault::DelayDoubled,
    SourceFault::DelayHalved,
    SourceFault::Deaf,
    SourceFault::WindowDoubled,
    SourceFault::LingerDoubled,
    SourceFault::NoLinger,
    SourceFault::AnyCard,
    SourceFault::RareReports,
];

const LINK: [LinkFault; 13] = [
    LinkFault::Missing,
    LinkFault::OtherRole,
    LinkFault::Full,
    LinkFault::Low,
    LinkFault::NoRunOn,
    LinkFault::LongRunOn,
    LinkFault::NoSetback,
    LinkFault::HighSetback,
    LinkFault::NoWarning,
    LinkFault::LongOverride,
    LinkFault::HighSetPoint,
    LinkFault::LowSetPoint,
    LinkFault::LateOff,
];

const OUTPUT: [OutputFault; 17] = [
    OutputFault::NoWarning,
    OutputFault::NoGrace,
    OutputFault::LongGrace,
    OutputFault::NoPressHold,
    OutputFault::LongPressHold,
    OutputFault::NeverOff,
    OutputFault::NoFloor,
    OutputFault::NotProven,
    OutputFault::DeepShed,
    OutputFault::NoMinimum,
    OutputFault::LongMinimum,
    OutputFault::OffOnPower,
    OutputFault::LowHighTrim,
    OutputFault::HighLowTrim,
    OutputFault::SlowFades,
    OutputFault::OwnRelay,
    OutputFault::NoFeedback,
];

const CONTROLLER: [ControllerFault; 4] = [
    ControllerFault::SlowHold,
    ControllerFault::SlowRamp,
    ControllerFault::NotCaptive,
    ControllerFault::ShortLearning,
];
