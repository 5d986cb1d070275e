//! A source of a room: one machine of any kind behind one door.

use device::{Illuminance, card, clock, daylight, occupancy, signal, switch};

use crate::effects::SourceEffects;
use crate::{Clock, Slot, SourceId, SourceSettings, Stimulus};

/// A source as it stands, and whether it has power.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub struct Source {
    machine: Machine,
    powered: bool,
}

/// The machine of a source.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub enum Machine {
    /// An occupancy sensor.
    Occupancy(occupancy::Sensor),
    /// A wall unit.
    Switch(switch::Unit),
    /// A key-card reader.
    Card(card::Reader),
    /// A daylight sensor.
    Daylight(daylight::Sensor),
    /// A time clock.
    Clock(clock::Clock),
    /// Normal power, fire alarm or demand response.
    Signal(signal::Source),
}

/// Runs the same code for the machine and the settings of any kind.
macro_rules! each {
    ($machine:expr, $settings:expr, $old:ident, $new:ident => $do:expr) => {
        match ($machine, $settings) {
            (Machine::Occupancy($old), SourceSettings::Occupancy($new)) => $do,
            (Machine::Switch($old), SourceSettings::Switch($new)) => $do,
            (Machine::Card($old), SourceSettings::Card($new)) => $do,
            (Machine::Daylight($old), SourceSettings::Daylight($new)) => $do,
            (Machine::Clock($old), SourceSettings::Clock($new)) => $do,
            (Machine::Signal($old), SourceSettings::Signal($new)) => $do,
            _ => unreachable!("a source keeps the kind it was made with"),
        }
    };
}

impl Source {
    /// A source of a settled room.
    pub(crate) fn new(settings: &SourceSettings) -> Self {
        let machine = match settings {
            SourceSettings::Occupancy(it) => Machine::Occupancy(occupancy::Sensor::new(it)),
            SourceSettings::Switch(it) => Machine::Switch(switch::Unit::new(it)),
            SourceSettings::Card(it) => Machine::Card(card::Reader::new(it)),
            SourceSettings::Daylight(it) => Machine::Daylight(daylight::Sensor::new(it)),
            SourceSettings::Clock(it) => Machine::Clock(clock::Clock::new(it)),
            SourceSettings::Signal(it) => Machine::Signal(signal::Source::new(it)),
        };
        Self {
            machine,
            powered: true,
        }
    }

    /// The machine, whatever its kind.
    #[must_use]
    pub const fn machine(&self) -> &Machine {
        &self.machine
    }

    /// Whether the source has power.
    #[must_use]
    pub const fn is_powered(&self) -> bool {
        self.powered
    }

    pub(crate) fn handle_start<C: Clock>(&mut self, settings: &SourceSettings, door: Door<'_, C>) {
        each!(&mut self.machine, settings, machine, settings => {
            machine.handle_start(settings, &mut door.effects());
        });
    }

    /// Something happens at the source. A stimulus that its kind does not know does nothing.
    #[inline(always)]
    pub(crate) fn handle_stimulus<C: Clock>(
        &mut self,
        settings: &SourceSettings,
        stimulus: Stimulus,
        ambient: impl FnOnce(&C) -> Illuminance,
        door: Door<'_, C>,
    ) {
        use SourceSettings as Set;
        let machine = &mut self.machine;
        match (stimulus, machine, settings) {
            (Stimulus::Motion, Machine::Occupancy(it), Set::Occupancy(settings)) => {
                let ambient = match settings.hold_off {
                    None => Illuminance::default(),
                    Some(_) => ambient(door.clock),
                };
                it.handle_motion(settings, ambient, &mut door.effects());
            }
            (Stimulus::Sound, Machine::Occupancy(it), Set::Occupancy(settings)) => {
                it.handle_sound(settings, &mut door.effects());
            }
            (Stimulus::WalkTest(on), Machine::Occupancy(it), Set::Occupancy(settings)) => {
                it.handle_walk_test(settings, on, &mut door.effects());
            }
            (Stimulus::Press(button), Machine::Switch(it), Set::Switch(settings)) => {
                it.handle_press(settings, button, &mut door.effects());
            }
            (Stimulus::Release(button), Machine::Switch(it), Set::Switch(settings)) => {
                it.handle_release(settings, button, &mut door.effects());
            }
            (Stimulus::CardIn { valid }, Machine::Card(it), Set::Card(settings)) => {
                it.handle_card_in(settings, valid, &mut door.effects());
            }
            (Stimulus::CardOut, Machine::Card(it), Set::Card(settings)) => {
                it.handle_card_out(settings, &mut door.effects());
            }
            (Stimulus::Due(entry), Machine::Clock(it), Set::Clock(settings)) => {
                it.handle_due(settings, entry, &mut door.effects());
            }
            (Stimulus::ClockSet { in_hours }, Machine::Clock(it), Set::Clock(settings)) => {
                it.handle_clock_set(settings, in_hours, &mut door.effects());
            }
            (Stimulus::Signal(on), Machine::Signal(it), Set::Signal(settings)) => {
                it.handle_signal(settings, on, &mut door.effects());
            }
            (Stimulus::Shed(points), Machine::Signal(it), Set::Signal(settings)) => {
                it.handle_shed(settings, points, &mut door.effects());
            }
            (Stimulus::ShedEnd, Machine::Signal(it), Set::Signal(settings)) => {
                it.handle_shed_end(settings, &mut door.effects());
            }
            (Stimulus::TeachIn, machine, settings) => {
                each!(machine, settings, it, _settings => {
                    it.handle_teach_in(&mut door.effects());
                });
            }
            _ => {}
        }
    }

    /// The source's own timer of this number has elapsed; `seen` is the light it sees.
    #[inline]
    pub(crate) fn handle_elapsed<C: Clock>(
        &mut self,
        settings: &SourceSettings,
        number: u8,
        seen: Illuminance,
        door: Door<'_, C>,
    ) {
        match (&mut self.machine, settings) {
            (Machine::Occupancy(it), SourceSettings::Occupancy(settings)) => {
                let timer = occupancy::Timer::from_number(number).expect(NUMBERED);
                it.handle_elapsed(settings, timer, &mut door.effects());
            }
            (Machine::Switch(it), SourceSettings::Switch(settings)) => {
                let timer = switch::Timer::from_number(number).expect(NUMBERED);
                it.handle_elapsed(settings, timer, &mut door.effects());
            }
            (Machine::Card(it), SourceSettings::Card(settings)) => {
                let timer = card::Timer::from_number(number).expect(NUMBERED);
                it.handle_elapsed(settings, timer, &mut door.effects());
            }
            (Machine::Daylight(it), SourceSettings::Daylight(settings)) => {
                let timer = daylight::Timer::from_number(number).expect(NUMBERED);
                it.handle_elapsed(settings, timer, seen, &mut door.effects());
            }
            (Machine::Clock(it), SourceSettings::Clock(settings)) => {
                let timer = clock::Timer::from_number(number).expect(NUMBERED);
                it.handle_elapsed(settings, timer, &mut door.effects());
            }
            (Machine::Signal(it), SourceSettings::Signal(settings)) => {
                let timer = signal::Timer::from_number(number).expect(NUMBERED);
                it.handle_elapsed(settings, timer, &mut door.effects());
            }
            _ => unreachable!("a source keeps the kind it was made with"),
        }
    }

    pub(crate) fn handle_power<C: Clock>(
        &mut self,
        settings: &SourceSettings,
        on: bool,
        door: Door<'_, C>,
    ) {
        self.powered = on;
        each!(&mut self.machine, settings, machine, settings => {
            machine.handle_power(settings, on, &mut door.effects());
        });
    }

    /// Settings are changed on site (SET-1).
    pub(crate) fn handle_settings<C: Clock>(
        &mut self,
        old: &SourceSettings,
        new: &SourceSettings,
        door: Door<'_, C>,
    ) {
        macro_rules! change {
            ($($kind:ident),*) => {
                match (&mut self.machine, old, new) {
                    $((
                        Machine::$kind(machine),
                        SourceSettings::$kind(old),
                        SourceSettings::$kind(new),
                    ) => machine.handle_settings(old, new, &mut door.effects()),)*
                    _ => unreachable!("a source keeps the kind it was made with"),
                }
            };
        }
        change!(Occupancy, Switch, Card, Daylight, Clock, Signal);
    }
}

/// The way from a source to the clock, before it is known what timers the source has.
pub(crate) struct Door<'a, C> {
    pub(crate) clock: &'a mut C,
    pub(crate) source: SourceId,
    pub(crate) first: Slot,
}

impl<'a, C: Clock> Door<'a, C> {
    #[inline]
    fn effects<T>(self) -> SourceEffects<'a, C, T> {
        SourceEffects::new(self.clock, self.source, self.first)
    }
}

const NUMBERED: &str = "slots are numbered from the timers that the source has";
