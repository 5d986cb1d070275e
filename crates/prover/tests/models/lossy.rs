//! A room whose frames may be lost: sensors with two stages that tell a controller how they stand,
//! a button, a lamp and the clause "motion, then neither motion nor a press for so long, then no
//! light".
//!
//! A sensor sends a frame when it becomes occupied or vacant, and a report of how it stands at an
//! interval that no other frame shifts. The controller believes the last frame that arrives, and
//! of an occupied sensor that it hears nothing of for too long, that it is vacant. It switches the
//! lamp on when it begins to believe a sensor occupied, and off with each frame that leaves it
//! believing all vacant.

use std::convert::Infallible;

use prover::classes::{Successor, System};
use prover::zone::{Ms, Timer, Zone};

use crate::scratch::{MINUTE, Sensor};

/// The room.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Lossy {
    /// How many sensors there are.
    pub(crate) sensors: usize,
    /// How many frames may be lost, whichever.
    pub(crate) losses: u8,
    /// A sensor says vacant so long after the last motion or, in the window, sound.
    pub(crate) delay: Spread,
    /// Sound counts so long after the last motion.
    pub(crate) window: Spread,
    /// From one report of a sensor to its next.
    pub(crate) report: Spread,
    /// The controller believes an occupied sensor vacant so long after its last frame.
    pub(crate) silence: Ms,
    /// The clause: no motion and no press for so long after a motion, then no light.
    pub(crate) clause: Ms,
}

/// What a timer may be started with, in milliseconds.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Spread {
    /// The least.
    least: Ms,
    /// The most.
    pub(crate) most: Ms,
}

/// The discrete half.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub(crate) struct State {
    /// How each sensor stands.
    sensors: Vec<Sensor>,
    /// Whether the controller believes each sensor occupied.
    seen: Vec<bool>,
    /// Whether the lamp is on.
    is_lit: bool,
    /// How many more frames may be lost.
    losses: u8,
}

/// The most that a frame takes from its sender to the controller, in milliseconds.
const LINK: Ms = 200;

/// The timer of the clause.
const CLAUSE: Timer = 1_000;

impl Lossy {
    /// The room with the usual spans, 15 min, 60 min and a report each 10 min, that all hold
    /// exactly.
    pub(crate) fn exact(sensors: usize, losses: u8, clause: Ms) -> Self {
        Self {
            sensors,
            losses,
            delay: Spread::exactly(15 * MINUTE),
            window: Spread::exactly(60 * MINUTE),
            report: Spread::exactly(10 * MINUTE),
            // Longer than three reports take, of which two are lost.
            silence: 30 * MINUTE + 1_000,
            clause,
        }
    }

    /// The same with clocks that go wrong and frames that take their time.
    pub(crate) fn loose(sensors: usize, losses: u8, clause: Ms) -> Self {
        let report = Spread::around(10 * MINUTE);
        Self {
            delay: Spread::around(15 * MINUTE),
            window: Spread::around(60 * MINUTE),
            report,
            silence: 3 * report.most + 1_000,
            ..Self::exact(sensors, losses, clause)
        }
    }

    /// The class that begins with this zone.
    fn class(state: State, mut zone: Zone, cost: u32) -> Successor<State> {
        // Inputs may come at any moment.
        assert!(zone.pass(0), "no time at all can pass");
        Successor {
            state,
            zone,
            cost,
            is_bad: false,
        }
    }

    /// What comes from outside: motion and sound at each sensor, a press. Sound that does not
    /// count changes nothing and is left out.
    fn inputs(&self, state: &State, zone: &Zone, visit: &mut impl FnMut(Successor<State>)) {
        for (at, sensor) in state.sensors.iter().enumerate() {
            let mut moved = zone.clone();
            self.delay.start(&mut moved, delay(at));
            self.window.start(&mut moved, window(at));
            moved.start(CLAUSE, self.clause, self.clause);
            let mut after = state.clone();
            after.sensors[at] = Sensor::Open;
            if *sensor == Sensor::Vacant {
                self.send(at, &after, &moved, 1, visit);
            } else {
                visit(Self::class(after, moved, 1));
            }
            if *sensor == Sensor::Open {
                let mut heard = zone.clone();
                self.delay.start(&mut heard, delay(at));
                visit(Self::class(state.clone(), heard, 1));
            }
        }
        let mut pressed = zone.clone();
        pressed.stop(CLAUSE);
        let after = State {
            is_lit: !state.is_lit,
            ..state.clone()
        };
        visit(Self::class(after, pressed, 1));
    }

    /// A frame that says how a sensor stands: it arrives or, while any may, is lost.
    fn send(
        &self,
        at: usize,
        state: &State,
        zone: &Zone,
        cost: u32,
        visit: &mut impl FnMut(Successor<State>),
    ) {
        let is_occupied = state.sensors[at] != Sensor::Vacant;
        let mut arrived = state.clone();
        arrived.believe(at, is_occupied);
        let mut heard = zone.clone();
        if is_occupied {
            heard.start(silence(at), self.silence, self.silence);
        } else {
            heard.stop(silence(at));
        }
        visit(Self::class(arrived, heard, cost));
        if let Some(losses) = state.losses.checked_sub(1) {
            let lost = State {
                losses,
                ..state.clone()
            };
            visit(Self::class(lost, zone.clone(), cost));
        }
    }

    /// What follows when a timer ends, which has been stopped.
    fn end(
        &self,
        timer: Timer,
        mut state: State,
        mut zone: Zone,
        visit: &mut impl FnMut(Successor<State>),
    ) {
        let at = usize::from(timer / TIMERS);
        if timer == CLAUSE {
            visit(Successor {
                is_bad: state.is_lit,
                ..Self::class(state, zone, 0)
            });
        } else if timer == delay(at) {
            state.sensors[at] = Sensor::Vacant;
            zone.stop(window(at));
            self.send(at, &state, &zone, 0, visit);
        } else if timer == window(at) {
            state.sensors[at] = Sensor::Closed;
            visit(Self::class(state, zone, 0));
        } else if timer == report(at) {
            self.report.start(&mut zone, timer);
            self.send(at, &state, &zone, 0, visit);
        } else {
            state.believe(at, false);
            visit(Self::class(state, zone, 0));
        }
    }
}

impl Spread {
    /// So many milliseconds, no fewer and no more.
    pub(crate) fn exactly(ms: Ms) -> Self {
        Self {
            least: ms,
            most: ms,
        }
    }

    /// About so many milliseconds by a clock that is wrong by up to 5 %. Frames arrive at once, and
    /// the time that they take in truth is here instead: the timers of the sender end by as much
    /// sooner or later.
    fn around(ms: Ms) -> Self {
        Self {
            least: ms - ms / 20 - LINK,
            most: ms + ms / 20 + LINK,
        }
    }

    /// Starts a timer with it.
    fn start(self, zone: &mut Zone, timer: Timer) {
        zone.start(timer, self.least, self.most);
    }
}

impl State {
    /// The controller hears, or takes from silence, whether a sensor is occupied.
    fn believe(&mut self, at: usize, is_occupied: bool) {
        self.is_lit |= is_occupied && !self.seen[at];
        self.seen[at] = is_occupied;
        self.is_lit &= self.seen.contains(&true);
    }
}

impl System for Lossy {
    type State = State;
    type Error = Infallible;

    fn start(&self, visit: &mut impl FnMut(Successor<State>)) -> Result<(), Infallible> {
        let state = State {
            sensors: vec![Sensor::Vacant; self.sensors],
            seen: vec![false; self.sensors],
            is_lit: false,
            losses: self.losses,
        };
        let mut zone = Zone::new();
        for at in 0..self.sensors {
            zone.start(report(at), 0, self.report.most);
        }
        visit(Self::class(state, zone, 0));
        Ok(())
    }

    fn successors(
        &self,
        state: &State,
        zone: &Zone,
        visit: &mut impl FnMut(Successor<State>),
    ) -> Result<(), Infallible> {
        self.inputs(state, zone, visit);
        for &timer in zone.timers() {
            let mut zone = zone.clone();
            if zone.exactly(timer, 0) {
                zone.stop(timer);
                self.end(timer, state.clone(), zone, visit);
            }
        }
        Ok(())
    }

    fn size(&self, state: &State) -> usize {
        size_of::<State>()
            + state.sensors.capacity() * size_of::<Sensor>()
            + state.seen.capacity() * size_of::<bool>()
    }
}

/// The timers of a sensor and of what the controller keeps of it.
const TIMERS: Timer = 4;

/// The timer of a sensor's time delay.
fn delay(sensor: usize) -> Timer {
    TIMERS * Timer::try_from(sensor).expect("few sensors")
}

/// The timer of a sensor's window for sound.
fn window(sensor: usize) -> Timer {
    delay(sensor) + 1
}

/// The timer of a sensor's next report.
fn report(sensor: usize) -> Timer {
    delay(sensor) + 2
}

/// The controller's timer of how long it has heard nothing of a sensor that it believes occupied.
fn silence(sensor: usize) -> Timer {
    delay(sensor) + 3
}
