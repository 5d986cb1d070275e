//! The room in steps of whole minutes, as every checker but the product sees it.
//!
//! Each step takes exactly one input, messages arrive within it, and then the step passes. The
//! clause: in every state in which nobody has moved for 75 minutes the lights are off, unless a
//! hand has turned them on in an empty room since.

/// A room of so many sensors, in steps of so many minutes.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) struct Room {
    /// Sensors, 1 to 5.
    pub(crate) sensors: usize,
    /// The length of a step in minutes; it divides 15.
    pub(crate) minutes: u32,
    /// What is asked of it.
    pub(crate) asked: Asked,
}

/// What is asked of a room.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) enum Asked {
    /// The clause, which holds.
    Clause,
    /// The clause with two steps less, which does not hold.
    Short,
    /// The clause without its exception, which does not hold either.
    Literal,
}

/// What happens in a step.
#[derive(Clone, Copy, Debug, Eq, Hash, PartialEq)]
pub(crate) enum Input {
    Nothing,
    Press,
    Motion(usize),
    Sound(usize),
}

/// The room between two steps.
#[derive(Clone, Copy, Debug, Default, Eq, Hash, PartialEq)]
pub(crate) struct State {
    /// Steps until each sensor is vacant; 0 when it is.
    vacant_in: [u8; MOST_SENSORS],
    /// Steps until the sound window of each closes; 0 when it is closed.
    window: [u8; MOST_SENSORS],
    /// The sensors that the controller takes for occupied.
    occupied: u8,
    /// Per cent.
    lights: u8,
    receptacle: bool,
    /// Steps since the last motion, as far as the clause counts.
    quiet: u8,
    /// A hand has turned the lights on or off in the empty room, and nobody has moved since.
    manual: bool,
}

impl Room {
    /// The state in which every run begins.
    pub(crate) fn start(&self) -> State {
        State {
            quiet: self.quiet(),
            ..State::default()
        }
    }

    /// Everything that may happen in a step: `2 + 2K` inputs.
    pub(crate) fn inputs(&self) -> impl Iterator<Item = Input> + use<> {
        let sensors = 0..self.sensors;
        [Input::Nothing, Input::Press]
            .into_iter()
            .chain(sensors.flat_map(|at| [Input::Motion(at), Input::Sound(at)]))
    }

    /// The state one step later.
    pub(crate) fn step(&self, mut state: State, input: Input) -> State {
        match input {
            Input::Nothing => {}
            Input::Press => {
                state.lights = if state.lights > 0 { 0 } else { 100 };
                state.manual |= state.occupied == 0;
            }
            Input::Motion(at) => {
                if state.vacant_in[at] == 0 {
                    state.occupied |= 1 << at;
                    state.receptacle = true;
                    if state.lights == 0 {
                        state.lights = 50;
                    }
                }
                state.vacant_in[at] = self.steps(DELAY);
                state.window[at] = self.steps(WINDOW);
                state.quiet = 0;
                state.manual = false;
            }
            Input::Sound(at) => {
                if state.vacant_in[at] > 0 && state.window[at] > 0 {
                    state.vacant_in[at] = self.steps(DELAY);
                }
            }
        }
        self.pass(&mut state);
        state
    }

    /// Whether the state is as the clause wants it.
    pub(crate) fn holds(&self, state: &State) -> bool {
        let excused = state.manual && self.asked != Asked::Literal;
        state.quiet < self.quiet() || state.lights == 0 || excused
    }

    fn pass(&self, state: &mut State) {
        for at in 0..self.sensors {
            state.window[at] = state.window[at].saturating_sub(1);
            if state.vacant_in[at] > 0 {
                state.vacant_in[at] -= 1;
                if state.vacant_in[at] == 0 {
                    state.occupied &= !(1 << at);
                    if state.occupied == 0 {
                        state.lights = 0;
                        state.receptacle = false;
                    }
                }
            }
        }
        state.quiet = (state.quiet + 1).min(self.quiet());
    }

    /// The steps without motion after which the lights are off.
    pub(crate) fn quiet(&self) -> u8 {
        let all = self.steps(DELAY + WINDOW);
        if self.asked == Asked::Short {
            all - 2
        } else {
            all
        }
    }

    /// So many minutes in steps.
    pub(crate) fn steps(&self, minutes: u32) -> u8 {
        u8::try_from(minutes / self.minutes).unwrap_or(u8::MAX)
    }
}

impl State {
    /// The state in 64 bits: 10 for each sensor, 11 for the rest.
    pub(crate) fn packed(&self) -> u64 {
        let mut all = u64::from(self.quiet) << 4
            | u64::from(self.lights / 50) << 2
            | u64::from(self.receptacle) << 1
            | u64::from(self.manual);
        for at in 0..MOST_SENSORS {
            all = all << 10 | u64::from(self.window[at]) << 4 | u64::from(self.vacant_in[at]);
        }
        all
    }

    /// The state that was packed so.
    pub(crate) fn unpacked(mut all: u64) -> Self {
        let mut state = Self::default();
        let low = |all: u64, bits: u32| (all & ((1 << bits) - 1)) as u8;
        for at in (0..MOST_SENSORS).rev() {
            state.vacant_in[at] = low(all, 4);
            state.window[at] = low(all >> 4, 6);
            state.occupied |= u8::from(state.vacant_in[at] > 0) << at;
            all >>= 10;
        }
        state.manual = all & 1 == 1;
        state.receptacle = all >> 1 & 1 == 1;
        state.lights = low(all >> 2, 2) * 50;
        state.quiet = low(all >> 4, 7);
        state
    }
}

/// The number of states of a room, where it was published: sensors, minutes, states.
pub(crate) const PUBLISHED: [(usize, u32, u64); 11] = [
    (1, 5, 108),
    (1, 3, 300),
    (1, 1, 2_700),
    (2, 5, 1_748),
    (2, 3, 18_560),
    (2, 1, 1_719_170),
    (3, 5, 20_484),
    (3, 3, 956_658),
    (3, 1, 1_113_529_254),
    (4, 5, 183_132),
    (4, 3, 32_003_310),
];

/// As many sensors as 64 bits hold.
pub(crate) const MOST_SENSORS: usize = 5;

/// The time delay of a sensor, in minutes.
pub(crate) const DELAY: u32 = 15;

/// The sound window of a sensor, in minutes.
pub(crate) const WINDOW: u32 = 60;
