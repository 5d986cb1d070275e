//! The person layer: what people do, and what each sensor notices of it.
//!
//! Invariant: whether one movement is noticed depends only on the seed, the person, the sensor
//! and the instant, so adding a person or a sensor changes nothing for the others.

use std::collections::BTreeMap;

use device::{Level, Span};
use sim::Instant;

use super::phrase::Activity;

/// What somebody does from a moment on.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Doing {
    /// From when on.
    pub at: Instant,
    /// What.
    pub activity: Activity,
    /// The row of the script that says so.
    pub row: usize,
}

/// A person of a run.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Person {
    /// The name.
    pub name: String,
    /// Where the person goes on entering; `None`: a place where every sensor notices all.
    pub seat: Option<String>,
    /// What the person does, in order of time.
    pub doings: Vec<Doing>,
}

/// Kinds of what a sensor may notice of a person.
#[derive(Clone, Copy, Debug, Eq, Ord, PartialEq, PartialOrd)]
pub enum Trace {
    /// A large movement: walking.
    MajorMotion,
    /// A small movement: a hand at a desk.
    MinorMotion,
    /// A sound.
    Sound,
}

/// One thing of a person that could be noticed.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Sign {
    /// When.
    pub at: Instant,
    /// Where; `None`: where every sensor notices all.
    pub place: Option<String>,
    /// What.
    pub trace: Trace,
    /// The row that led to it.
    pub row: usize,
}

/// How much of each kind a sensor notices at a place.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Notices {
    /// Of large movements.
    pub major: Level,
    /// Of small movements.
    pub minor: Level,
    /// Of sounds.
    pub sound: Level,
}

impl Notices {
    /// Notices everything.
    pub const ALL: Self = Self {
        major: Level::FULL,
        minor: Level::FULL,
        sound: Level::FULL,
    };

    /// Notices nothing.
    pub const NOTHING: Self = Self {
        major: Level::OFF,
        minor: Level::OFF,
        sound: Level::OFF,
    };

    /// The share of `trace` that is noticed.
    #[must_use]
    pub const fn share(self, trace: Trace) -> Level {
        match trace {
            Trace::MajorMotion => self.major,
            Trace::MinorMotion => self.minor,
            Trace::Sound => self.sound,
        }
    }
}

/// What the sensors of a room notice at its places: by place, then by sensor.
pub type NoticeTable = BTreeMap<String, BTreeMap<String, Notices>>;

/// What `sensor` notices at `place`: everything, where the table does not say less.
#[must_use]
pub fn notices(table: &NoticeTable, place: Option<&str>, sensor: &str) -> Notices {
    place
        .and_then(|place| table.get(place)?.get(sensor))
        .copied()
        .unwrap_or(Notices::ALL)
}

impl Person {
    /// Everything of the person that could be noticed up to `end`, in order of time.
    #[must_use]
    pub fn signs(&self, end: Instant) -> Vec<Sign> {
        let mut signs = Vec::new();
        let mut place = self.seat.clone();
        for (index, doing) in self.doings.iter().enumerate() {
            let until = self.doings.get(index + 1).map_or(end, |next| next.at);
            let mut sign = |at: Instant, place: &Option<String>, trace| {
                if at < until || (at == until && index + 1 == self.doings.len()) {
                    signs.push(Sign {
                        at,
                        place: place.clone(),
                        trace,
                        row: doing.row,
                    });
                }
            };
            match &doing.activity {
                Activity::Enters => place = self.seat.clone(),
                Activity::WalksTo(to) => place = Some(to.clone()),
                _ => {}
            }
            for (trace, every, count) in course(&doing.activity) {
                let mut at = doing.at.after(every.first);
                let mut left = count;
                while at <= until && left > 0 {
                    sign(at, &place, trace);
                    at = at.after(every.step);
                    left -= 1;
                }
            }
        }
        signs.sort_by_key(|sign| (sign.at, sign.trace));
        signs
    }

    /// The stretches of time in which the person is in the room: from entering to leaving.
    #[must_use]
    pub fn stays(&self, end: Instant) -> Vec<(Instant, Instant)> {
        let mut stays = Vec::new();
        let mut since = None;
        for doing in &self.doings {
            match doing.activity {
                Activity::Leaves => {
                    stays.extend(since.take().map(|from| (from, doing.at)));
                }
                _ => since = since.or(Some(doing.at)),
            }
        }
        stays.extend(since.map(|from| (from, end)));
        stays
    }
}

/// Whether a sensor notices one sign: drawn from the seed and from nothing that another person
/// or sensor could change.
#[must_use]
pub fn is_noticed(seed: u64, person: &str, sensor: &str, sign: &Sign, share: Level) -> bool {
    if share == Level::FULL {
        return true;
    }
    let mut state = seed ^ 0x006e_6f74_6963_6573;
    for byte in person
        .bytes()
        .chain([0])
        .chain(sensor.bytes())
        .chain([sign.trace as u8])
    {
        state = mix(state ^ u64::from(byte));
    }
    let draw = mix(state ^ sign.at.as_ms());
    // The upper half times 10 000, so that every hundredth of a per cent counts.
    let parts = ((draw >> 32) * 10_000) >> 32;
    parts < u64::from(share.hundredths())
}

/// splitmix64 (Steele, Lea, Flood 2014): one step from `state`.
fn mix(state: u64) -> u64 {
    let mut z = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// When the first of several comes after the beginning, and how far apart they are.
struct Every {
    first: Span,
    step: Span,
}

/// The person table: what an activity gives to be noticed, when, and how often.
fn course(activity: &Activity) -> Vec<(Trace, Every, u32)> {
    let every = |seconds| Every {
        first: Span::from_seconds(seconds),
        step: Span::from_seconds(seconds),
    };
    let walk = |times| {
        let every = Every {
            first: Span::ZERO,
            step: Span::from_seconds(1),
        };
        (Trace::MajorMotion, every, times)
    };
    let sitting = (Trace::MinorMotion, every(60), u32::MAX);
    match activity {
        Activity::Enters => {
            let door = Every {
                first: Span::ZERO,
                step: Span::from_seconds(1),
            };
            vec![walk(4), (Trace::Sound, door, 1), sitting]
        }
        Activity::WalksTo(_) => vec![walk(4), sitting],
        Activity::SitsStill => vec![sitting],
        Activity::Types => vec![
            (Trace::MinorMotion, every(5), u32::MAX),
            (Trace::Sound, every(5), u32::MAX),
        ],
        Activity::Talks => vec![
            (Trace::MinorMotion, every(5), u32::MAX),
            (Trace::Sound, every(2), u32::MAX),
        ],
        Activity::Leaves => vec![walk(1)],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn person(doings: &[(u64, Activity)]) -> Person {
        Person {
            name: "ana".into(),
            seat: Some("desk-3".into()),
            doings: doings
                .iter()
                .enumerate()
                .map(|(row, (seconds, activity))| Doing {
                    at: Instant::from_ms(seconds * 1_000),
                    activity: activity.clone(),
                    row,
                })
                .collect(),
        }
    }

    fn seconds(signs: &[Sign], trace: Trace) -> Vec<u64> {
        let of_kind = signs.iter().filter(|sign| sign.trace == trace);
        of_kind.map(|sign| sign.at.as_ms() / 1_000).collect()
    }

    #[test]
    fn somebody_who_enters_walks_to_the_seat_and_then_sits_still() {
        let person = person(&[(0, Activity::Enters), (130, Activity::Leaves)]);
        let signs = person.signs(Instant::from_ms(600_000));
        assert_eq!(seconds(&signs, Trace::MajorMotion), [0, 1, 2, 3, 130]);
        assert_eq!(seconds(&signs, Trace::MinorMotion), [60, 120]);
        assert_eq!(seconds(&signs, Trace::Sound), [0]);
        assert_eq!(
            person.stays(Instant::from_ms(600_000)),
            [(Instant::START, Instant::from_ms(130_000))]
        );
    }

    #[test]
    fn typing_and_talking_follow_the_table() {
        let person = person(&[(0, Activity::Types), (20, Activity::Talks)]);
        let signs = person.signs(Instant::from_ms(30_000));
        assert_eq!(seconds(&signs, Trace::MinorMotion), [5, 10, 15, 25, 30]);
        assert_eq!(
            seconds(&signs, Trace::Sound),
            [5, 10, 15, 22, 24, 26, 28, 30]
        );
    }

    #[test]
    fn a_walk_moves_the_person_to_the_place() {
        let person = person(&[
            (0, Activity::Enters),
            (10, Activity::WalksTo("door".into())),
        ]);
        let signs = person.signs(Instant::from_ms(80_000));
        let last = signs.last().unwrap();
        assert_eq!(last.at, Instant::from_ms(70_000));
        assert_eq!(last.place.as_deref(), Some("door"));
    }

    #[test]
    fn a_share_is_met_over_many_and_depends_on_the_seed() {
        let count = |seed| {
            let noticed = (0..10_000).filter(|second| {
                let sign = Sign {
                    at: Instant::from_ms(second * 1_000),
                    place: None,
                    trace: Trace::MinorMotion,
                    row: 0,
                };
                is_noticed(seed, "ana", "wall-sensor", &sign, Level::from_percent(20))
            });
            noticed.collect::<Vec<_>>()
        };
        assert!(
            (1_800..2_200).contains(&count(0).len()),
            "{}",
            count(0).len()
        );
        assert_eq!(count(1), count(1));
        assert_ne!(count(1), count(2));
    }

    #[test]
    fn a_sensor_that_notices_nothing_never_does() {
        let sign = |at| Sign {
            at: Instant::from_ms(at),
            place: None,
            trace: Trace::Sound,
            row: 0,
        };
        assert!((0..1_000).all(|at| !is_noticed(3, "a", "b", &sign(at), Level::OFF)));
        assert!((0..1_000).all(|at| is_noticed(3, "a", "b", &sign(at), Level::FULL)));
    }
}
