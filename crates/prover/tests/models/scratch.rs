//! A room small enough to write down: sensors with two stages, a button, a lamp and the clause
//! "no motion for so long, then no sensor sees anybody".

use std::cmp::Ordering;
use std::convert::Infallible;

use prover::classes::{Successor, System};
use prover::zone::{Ms, Timer, Zone};

/// The room.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Scratch {
    /// How many sensors there are.
    pub(crate) sensors: usize,
    /// A sensor says vacant so long after the last motion or, in the window, sound.
    pub(crate) delay: Ms,
    /// Sound counts so long after the last motion.
    pub(crate) window: Ms,
    /// The clause: no motion for so long, then nobody is seen.
    pub(crate) clause: Ms,
    /// Whether the clause's timer stops when all sensors are vacant, as nothing can break then.
    pub(crate) rests: bool,
    /// Whether the sensors, which are all alike, change places so that fewer classes differ.
    pub(crate) sorts: bool,
    /// Whether classes are stored as they are before time passes in them, as the state class
    /// graphs of the literature have them, and not after.
    pub(crate) is_early: bool,
}

/// The discrete half.
#[derive(Clone, Debug, Eq, Hash, PartialEq)]
pub(crate) struct State {
    sensors: Vec<Sensor>,
    is_lit: bool,
}

/// How a sensor stands.
#[derive(Clone, Copy, Debug, Eq, Hash, Ord, PartialEq, PartialOrd)]
pub(crate) enum Sensor {
    /// Vacant.
    Vacant,
    /// Occupied; sound counts.
    Open,
    /// Occupied; sound counts no longer.
    Closed,
}

/// One minute.
pub(crate) const MINUTE: Ms = 60_000;

/// The timer of the clause.
const CLAUSE: Timer = 1_000;

impl Scratch {
    /// The room with the usual spans: 15 min, 60 min, and the clause's in milliseconds.
    pub(crate) fn new(sensors: usize, clause: Ms) -> Self {
        Self {
            sensors,
            delay: 15 * MINUTE,
            window: 60 * MINUTE,
            clause,
            rests: false,
            sorts: false,
            is_early: false,
        }
    }

    /// The same in which the clause's timer rests when all are vacant.
    pub(crate) fn resting(self) -> Self {
        Self {
            rests: true,
            ..self
        }
    }

    /// The same in which the sensors change places.
    pub(crate) fn sorting(self) -> Self {
        Self {
            sorts: true,
            ..self
        }
    }

    /// The class that begins with this zone.
    fn class(&self, mut state: State, mut zone: Zone, cost: u32) -> Successor<State> {
        // Inputs may come at any moment.
        assert!(self.is_early || zone.pass(0), "no time at all can pass");
        if self.sorts {
            (state, zone) = sorted(&state, &zone);
        }
        Successor {
            state,
            zone,
            cost,
            is_bad: false,
        }
    }

    /// What comes from outside: motion and sound at each sensor, a press. Sound that
    /// does not count changes nothing and is left out.
    fn inputs(&self, state: &State, zone: &Zone, visit: &mut impl FnMut(Successor<State>)) {
        for (at, sensor) in state.sensors.iter().enumerate() {
            let mut moved = zone.clone();
            moved.start(delay(at), self.delay, self.delay);
            moved.start(window(at), self.window, self.window);
            moved.start(CLAUSE, self.clause, self.clause);
            let mut after = state.clone();
            after.is_lit |= *sensor == Sensor::Vacant;
            after.sensors[at] = Sensor::Open;
            visit(self.class(after, moved, 1));
            if *sensor == Sensor::Open {
                let mut heard = zone.clone();
                heard.start(delay(at), self.delay, self.delay);
                visit(self.class(state.clone(), heard, 1));
            }
        }
        let pressed = State {
            is_lit: !state.is_lit,
            ..state.clone()
        };
        visit(self.class(pressed, zone.clone(), 1));
    }
}

impl System for Scratch {
    type State = State;
    type Error = Infallible;

    fn start(&self, visit: &mut impl FnMut(Successor<State>)) -> Result<(), Infallible> {
        let state = State {
            sensors: vec![Sensor::Vacant; self.sensors],
            is_lit: false,
        };
        visit(self.class(state, Zone::new(), 0));
        Ok(())
    }

    fn successors(
        &self,
        state: &State,
        zone: &Zone,
        visit: &mut impl FnMut(Successor<State>),
    ) -> Result<(), Infallible> {
        let mut zone = zone.clone();
        assert!(!self.is_early || zone.pass(0), "no time at all can pass");
        self.inputs(state, &zone, visit);
        for &timer in zone.timers() {
            let mut zone = zone.clone();
            if !zone.exactly(timer, 0) {
                continue;
            }
            zone.stop(timer);
            let mut state = state.clone();
            let vacant = |state: &State| state.sensors.iter().all(|s| *s == Sensor::Vacant);
            let mut is_bad = false;
            if timer == CLAUSE {
                is_bad = !vacant(&state);
            } else if timer % 2 == 0 {
                let at = usize::from(timer / 2);
                state.sensors[at] = Sensor::Vacant;
                zone.stop(window(at));
                state.is_lit &= !vacant(&state);
                if self.rests && vacant(&state) {
                    zone.stop(CLAUSE);
                }
            } else {
                state.sensors[usize::from(timer / 2)] = Sensor::Closed;
            }
            visit(Successor {
                is_bad,
                ..self.class(state, zone, 0)
            });
        }
        Ok(())
    }

    fn size(&self, state: &State) -> usize {
        size_of::<State>() + state.sensors.capacity() * size_of::<Sensor>()
    }
}

/// The same class with other places of the sensors: the vacant ones, the open ones and the closed
/// ones together, and of these first whose delay was started earlier. But for ties, what lies in a
/// class has the order of the class, so that it lies in the sorted one too.
pub(crate) fn sorted(state: &State, zone: &Zone) -> (State, Zone) {
    let mut order: Vec<usize> = (0..state.sensors.len()).collect();
    order.sort_by(|&one, &other| {
        let stands = state.sensors[one].cmp(&state.sensors[other]);
        stands.then_with(|| earlier(zone, delay(one), delay(other)))
    });
    let mut places = vec![0; order.len()];
    for (place, &at) in order.iter().enumerate() {
        places[at] = place;
    }
    let moved = zone.renamed(|timer| match timer {
        CLAUSE => CLAUSE,
        _ => delay(places[usize::from(timer / 2)]) + timer % 2,
    });
    let state = State {
        sensors: order.iter().map(|&at| state.sensors[at]).collect(),
        is_lit: state.is_lit,
    };
    (state, moved)
}

/// Which of two timers, that are always started with the same span, was started earlier: the one
/// on which never more remains than on the other. Timers that do not run are alike.
fn earlier(zone: &Zone, one: Timer, other: Timer) -> Ordering {
    if !zone.is_running(one) || !zone.is_running(other) {
        return Ordering::Equal;
    }
    let is_first = zone.gap(one, other) <= 0;
    let is_second = zone.gap(other, one) <= 0;
    is_second.cmp(&is_first)
}

/// The timer of a sensor's time delay.
fn delay(sensor: usize) -> Timer {
    2 * Timer::try_from(sensor).expect("few sensors")
}

/// The timer of a sensor's window for sound.
fn window(sensor: usize) -> Timer {
    delay(sensor) + 1
}
