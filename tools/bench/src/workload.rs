//! The workload: a day in an office, the same to the bit for every implementation.
//!
//! Each room has an occupancy sensor (motion and sound), a wall switch and a controller with
//! lights and a receptacle. Times are whole milliseconds from midnight of day 0. Random numbers
//! are splitmix64 (Steele, Lea & Flood 2014); gaps between motions are exponential, drawn with
//! integers only (von Neumann 1951).
//!
//! Invariant: the 20 ms grid, the phases and the two dropped gaps keep two events of one room
//! from falling on one millisecond, so no result depends on how a kernel breaks ties.

/// What happens at a room from outside.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) enum Stimulus {
    /// Somebody moves.
    Motion,
    /// A sound.
    Sound,
    /// The wall switch is tapped.
    Press,
}

/// One stimulus and its time, in eight bytes.
#[derive(Clone, Copy, Debug, Eq, Ord, PartialEq, PartialOrd)]
pub(crate) struct Timed(u64);

impl Timed {
    /// A stimulus at `ms`.
    fn new(ms: u64, stimulus: Stimulus) -> Self {
        Self(ms << 2 | stimulus as u64)
    }

    /// When, in milliseconds.
    pub(crate) fn ms(self) -> u64 {
        self.0 >> 2
    }

    /// What.
    pub(crate) fn stimulus(self) -> Stimulus {
        match self.0 & 3 {
            0 => Stimulus::Motion,
            1 => Stimulus::Sound,
            _ => Stimulus::Press,
        }
    }

    /// The eight bytes, as the script of another language reads them.
    pub(crate) fn bytes(self) -> [u8; 8] {
        self.0.to_le_bytes()
    }
}

/// The stimuli of every room, room after room, each room's in order of time.
#[derive(Clone, Debug, Default)]
pub(crate) struct Stimuli {
    all: Vec<Timed>,
    ends: Vec<usize>,
}

impl Stimuli {
    /// Draws the stimuli of `rooms` rooms over `days` days.
    pub(crate) fn draw(rooms: u32, days: u32) -> Self {
        let mut all = Vec::new();
        let mut ends = Vec::with_capacity(rooms as usize);
        for room in 0..rooms {
            for day in 0..days {
                let start = all.len();
                motions(room, day, &mut all);
                scattered(room, day, &SOUNDS, &mut all);
                scattered(room, day, &PRESSES, &mut all);
                all[start..].sort_unstable();
            }
            ends.push(all.len());
        }
        all.shrink_to_fit();
        Self { all, ends }
    }

    /// How many rooms.
    pub(crate) fn rooms(&self) -> u32 {
        u32::try_from(self.ends.len()).expect("the number came from a u32")
    }

    /// How many stimuli in all.
    pub(crate) fn len(&self) -> u64 {
        self.all.len() as u64
    }

    /// The stimuli of one room.
    pub(crate) fn of(&self, room: u32) -> &[Timed] {
        let room = room as usize;
        let start = if room == 0 { 0 } else { self.ends[room - 1] };
        &self.all[start..self.ends[room]]
    }
}

/// A change of an output's level.
#[derive(Clone, Copy, Debug, Eq, Ord, PartialEq, PartialOrd)]
pub(crate) struct Change {
    /// When, in milliseconds.
    pub(crate) ms: u64,
    /// The room.
    pub(crate) room: u32,
    /// 0 = lights, 1 = receptacle.
    pub(crate) output: u8,
    /// The new level, in per cent.
    pub(crate) level: u8,
}

/// What an implementation did, so that it can be shown to be the same work.
#[derive(Clone, Debug, Default)]
pub(crate) struct Work {
    /// Stimuli taken, vacancy deadlines reached and messages delivered.
    pub(crate) events: u64,
    /// Every change of a level, in any order.
    pub(crate) changes: Vec<Change>,
}

impl Work {
    /// FNV-1a 64 (Fowler, Noll & Vo) over the changes in order of time, room and output.
    pub(crate) fn checksum(&mut self) -> u64 {
        self.changes.sort_unstable();
        let mut hash = 0xcbf2_9ce4_8422_2325_u64;
        let mut add = |bytes: &[u8]| {
            for &byte in bytes {
                hash = (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
            }
        };
        for change in &self.changes {
            add(&change.ms.to_le_bytes());
            add(&change.room.to_le_bytes());
            add(&[change.output, change.level]);
        }
        hash
    }
}

/// What a controller hears.
#[derive(Clone, Copy, Debug, Eq, PartialEq, serde::Deserialize, serde::Serialize)]
pub(crate) enum Message {
    /// The sensor became occupied.
    Occupied,
    /// The sensor became vacant.
    Vacant,
    /// The switch was tapped.
    Toggle,
}

/// The controller of the hand-written implementations and of the peers: two levels.
#[derive(Clone, Copy, Debug, Default, serde::Deserialize, serde::Serialize)]
pub(crate) struct Controller {
    levels: [u8; 2],
}

impl Controller {
    /// Takes a message at `ms` and logs what changes.
    #[inline]
    pub(crate) fn take(&mut self, ms: u64, room: u32, message: Message, changes: &mut Vec<Change>) {
        let [lights, receptacle] = self.levels;
        let levels = match message {
            Message::Occupied => [if lights == 0 { 50 } else { lights }, 100],
            Message::Toggle => [if lights > 0 { 0 } else { 100 }, receptacle],
            Message::Vacant => [0, 0],
        };
        for output in 0..2_u8 {
            let level = levels[usize::from(output)];
            if level != self.levels[usize::from(output)] {
                changes.push(Change {
                    ms,
                    room,
                    output,
                    level,
                });
            }
        }
        self.levels = levels;
    }
}

/// The published sizes: rooms, days, events, changes, checksum.
pub(crate) const PUBLISHED: [(u32, u32, u64, usize, u64); 4] = [
    (1, 1, 332, 9, 0xab63_c0fe_056c_bf64),
    (1, 365, 115_919, 3_692, 0x049e_a28e_6cf9_2e37),
    (100, 1, 31_682, 991, 0x7c4d_2d08_b6ab_f99c),
    (10_000, 1, 3_157_111, 101_738, 0x6b36_1568_d361_75a1),
];

/// Time delay of the sensor: vacant this long after the last event that counts.
pub(crate) const DELAY_MS: u64 = 15 * 60_000;
/// Sound counts this long after the last motion.
pub(crate) const WINDOW_MS: u64 = 60 * 60_000;
/// A message reaches the controller this long after it was sent.
pub(crate) const BUS_MS: u64 = 10;

/// Motions from 08:00 to 18:00 with a mean gap of 150 s, at most 30 min.
fn motions(room: u32, day: u32, into: &mut Vec<Timed>) {
    let mut random = SplitMix::new(room, day, 1);
    let mut ms = 28_800_000;
    loop {
        let mut gap = 1 + ((random.exponential() * 7_500) >> 32).min(90_000);
        if gap == DELAY_MS / GRID_MS {
            gap += 1;
        }
        ms += GRID_MS * gap;
        if ms >= 64_800_000 {
            return;
        }
        into.push(Timed::new(midnight(day) + ms, Stimulus::Motion));
    }
}

/// Stimuli scattered evenly over a span of the day.
struct Scattered {
    stimulus: Stimulus,
    stream: u64,
    count: u32,
    from_ms: u64,
    span_ms: u64,
    phase_ms: u64,
}

const SOUNDS: Scattered = Scattered {
    stimulus: Stimulus::Sound,
    stream: 2,
    count: 60,
    from_ms: 21_600_000,
    span_ms: 57_600_000,
    phase_ms: 4,
};

const PRESSES: Scattered = Scattered {
    stimulus: Stimulus::Press,
    stream: 3,
    count: 6,
    from_ms: 25_200_000,
    span_ms: 43_200_000,
    phase_ms: 8,
};

fn scattered(room: u32, day: u32, kind: &Scattered, into: &mut Vec<Timed>) {
    let mut random = SplitMix::new(room, day, kind.stream);
    let mut draws: Vec<u64> = (0..kind.count)
        .map(|_| {
            let step = (random.next32() * (kind.span_ms / GRID_MS)) >> 32;
            kind.from_ms + GRID_MS * step + kind.phase_ms
        })
        .collect();
    draws.sort_unstable();
    let mut last = None;
    for ms in draws {
        if last.is_some_and(|last| ms == last || ms == last + DELAY_MS) {
            continue;
        }
        last = Some(ms);
        into.push(Timed::new(midnight(day) + ms, kind.stimulus));
    }
}

fn midnight(day: u32) -> u64 {
    u64::from(day) * 86_400_000
}

const GRID_MS: u64 = 20;

/// splitmix64, one stream for each room, day and kind of stimulus.
struct SplitMix(u64);

impl SplitMix {
    fn new(room: u32, day: u32, stream: u64) -> Self {
        Self(0x6F66_6669_6365_2D64 ^ (u64::from(room) << 32 | u64::from(day) << 8 | stream))
    }

    fn next32(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ z >> 30).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ z >> 27).wrapping_mul(0x94D0_49BB_1331_11EB);
        (z ^ z >> 31) >> 32
    }

    /// An exponential draw in units of 2⁻³².
    fn exponential(&mut self) -> u64 {
        let mut whole = 0;
        loop {
            let first = self.next32();
            let mut last = first;
            let mut run = 1;
            loop {
                let next = self.next32();
                if next >= last {
                    break;
                }
                last = next;
                run += 1;
            }
            if run % 2 == 1 {
                return whole << 32 | first;
            }
            whole += 1;
        }
    }
}
