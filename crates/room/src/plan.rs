//! The plan of a room: everything that stands still while it runs.
//!
//! Invariant: sources, controllers and outputs are sorted by name, and slots are numbered in
//! the order (source, output, slot name) of ORD-1, so an index is an order.

use alloc::string::String;
use alloc::vec::Vec;

use clause::Formula;
use device::{Illuminance, card, clock, controller, daylight, occupancy, signal, switch};

use crate::input::Device;

/// A source, by its place among the sorted names.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct SourceId(pub u16);

/// A controller, by its place among the sorted names.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct ControllerId(pub u16);

/// An output, by its place among the sorted names of the whole room.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct OutputId(pub u16);

/// A timer slot of the room, numbered in the order of ORD-1.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub struct Slot(pub u16);

/// Everything that stands still while a room runs.
#[derive(Clone, Debug, Default, Eq, Hash, PartialEq)]
pub struct Plan {
    /// The name of the room.
    pub name: String,
    /// The sources, sorted by name.
    pub sources: Vec<PlanSource>,
    /// The controllers, sorted by name.
    pub controllers: Vec<PlanController>,
    /// The outputs, sorted by name.
    pub outputs: Vec<PlanOutput>,
    /// Places where task illuminance is asked for, sorted by name.
    pub tasks: Vec<PlanTask>,
    /// The clauses that are monitored.
    pub clauses: Vec<PlanClause>,
    /// The daylight outside when a run begins.
    pub daylight: Illuminance,
}

impl Plan {
    /// Everything that a cut of the room's power reaches: the sources without a battery, in order,
    /// and behind them the controllers.
    #[must_use]
    pub fn on_mains(&self) -> Vec<Device> {
        let sources = (0..).map(SourceId).zip(&self.sources);
        let sources = sources.filter(|(_, source)| source.mains);
        let controllers = (0..).map(ControllerId).zip(&self.controllers);
        sources
            .map(|(id, _)| Device::Source(id))
            .chain(controllers.map(|(id, _)| Device::Controller(id)))
            .collect()
    }
}

/// A source of a plan.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct PlanSource {
    /// Its name in the room.
    pub name: String,
    /// What is set on it.
    pub settings: SourceSettings,
    /// What light it sees, for sensors of light.
    pub light: LightModel,
    /// Names of its buttons, for wall units.
    pub buttons: Vec<String>,
    /// Whether a cut of the room's power takes its power too (not when it has a battery).
    pub mains: bool,
    /// The controllers that may hear it, with its index in their [`controller::Settings::heard`].
    pub listeners: Vec<(ControllerId, u8)>,
}

impl PlanSource {
    /// How strong a cause the source is: of frames that arrive at one instant the strongest
    /// comes last, so that it has the last word (OUT-15: emergency, card, hand, occupancy,
    /// schedule).
    #[must_use]
    pub fn rank(&self) -> u8 {
        match &self.settings {
            SourceSettings::Clock(_) | SourceSettings::Daylight(_) => 0,
            SourceSettings::Occupancy(_) => 1,
            SourceSettings::Switch(_) => 2,
            SourceSettings::Card(_) => 3,
            SourceSettings::Signal(settings) => match settings.kind {
                signal::Kind::DemandResponse => 0,
                signal::Kind::NormalPower | signal::Kind::FireAlarm => 4,
            },
        }
    }
}

/// What is set on a source, by its kind.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub enum SourceSettings {
    /// An occupancy sensor.
    Occupancy(occupancy::Settings),
    /// A wall unit.
    Switch(switch::Settings),
    /// A key-card reader.
    Card(card::Settings),
    /// A daylight sensor.
    Daylight(daylight::Settings),
    /// A time clock.
    Clock(clock::Settings),
    /// Normal power, fire alarm or demand response.
    Signal(signal::Settings),
}

/// A controller of a plan.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct PlanController {
    /// Its name in the room.
    pub name: String,
    /// What is set on it.
    pub settings: controller::Settings,
    /// The sources of [`controller::Settings::heard`].
    pub heard: Vec<SourceId>,
    /// The outputs of [`controller::Settings::outputs`].
    pub outputs: Vec<OutputId>,
}

/// An output of a plan.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct PlanOutput {
    /// Its name in the room.
    pub name: String,
    /// The controller that drives it.
    pub controller: ControllerId,
    /// Its index in [`controller::Settings::outputs`].
    pub local: u8,
}

/// A place where task illuminance is asked for.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct PlanTask {
    /// Its name in the room.
    pub name: String,
    /// What light falls on it.
    pub light: LightModel,
}

/// What light reaches a point: a share of the daylight and of each output's light.
///
/// The linear room of DAY: `a × daylight + Σ b × light`.
#[derive(Clone, Debug, Default, Eq, Hash, PartialEq)]
pub struct LightModel {
    /// Share of the outside daylight in parts of 10 000.
    pub daylight: u32,
    /// What each output adds when its light is full.
    pub electric: Vec<(OutputId, Illuminance)>,
}

impl LightModel {
    /// All of the daylight, as a share.
    pub const WHOLE: u32 = 10_000;

    /// What this much daylight outside brings to the point.
    #[must_use]
    pub fn of_daylight(&self, outside: Illuminance) -> Illuminance {
        let whole = u64::from(outside.hundredths()) * u64::from(self.daylight);
        let here = whole / u64::from(Self::WHOLE);
        Illuminance::from_hundredths(u32::try_from(here).unwrap_or(u32::MAX))
    }
}

/// A clause of a plan.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct PlanClause {
    /// Its id, as the submittal prints it.
    pub id: String,
    /// Its formal half.
    pub formula: Formula,
}

/// Whose timer a slot is.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub enum SlotOwner {
    /// A source's own timer, by its number.
    Source(SourceId, u8),
    /// A controller's timer.
    Controller(ControllerId, controller::Timer),
    /// A timer of a clause's monitor.
    Clause(u16, u8),
}
