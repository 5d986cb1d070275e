//! The rooms that tests play in: those of the repository, and luck that can be repeated.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::{Session, Stage};

/// The rooms of the repository, read once for each test that wants them.
pub(crate) fn rooms() -> Vec<Arc<Stage>> {
    Stage::open(&folder("")).unwrap()
}

/// One room of the repository.
pub(crate) fn room(name: &str) -> Arc<Stage> {
    Arc::clone(&Stage::open(&folder(name)).unwrap()[0])
}

/// A session in one room of the repository.
pub(crate) fn session(name: &str) -> Session {
    Session::new(room(name), 0).unwrap()
}

fn folder(name: &str) -> PathBuf {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../scenarios");
    root.join(name)
}

/// Luck that can be repeated: splitmix64 (Steele, Lea, Flood 2014).
pub(crate) struct Luck(pub(crate) u64);

impl Luck {
    pub(crate) fn below(&mut self, end: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        let drawn = (z ^ (z >> 31)) >> 33;
        usize::try_from(drawn).unwrap() % end
    }

    pub(crate) fn one_of<'a, T>(&mut self, all: &'a [T]) -> &'a T {
        &all[self.below(all.len())]
    }
}

/// Everything that a person could do on the page of a room: points and events.
pub(crate) fn deeds(stage: &Stage) -> Vec<(String, String)> {
    let plan = stage.plan();
    let mut deeds: Vec<(String, String)> = Vec::new();
    let mut add = |point: &str, event: &str| deeds.push((point.to_owned(), event.to_owned()));
    for source in &plan.sources {
        let events: Vec<String> = match crate::still::kind(&source.settings) {
            "occupancy" => ["motion", "power cut", "power back", "time-delay = 5 min"]
                .map(str::to_owned)
                .to_vec(),
            "switch" => (source.buttons.iter())
                .flat_map(|name| {
                    ["tap", "press", "release", "hold"].map(|verb| match verb {
                        "hold" => format!("hold {name} for 2 s"),
                        verb => format!("{verb} {name}"),
                    })
                })
                .collect(),
            "card" => ["card in", "card out", "wrong card"]
                .map(str::to_owned)
                .to_vec(),
            "clock" => ["opening", "closing", "sweep"].map(str::to_owned).to_vec(),
            "normal-power" => ["lost", "back"].map(str::to_owned).to_vec(),
            "fire-alarm" => ["sounds", "stops"].map(str::to_owned).to_vec(),
            "demand-response" => ["sheds 20 points", "ends"].map(str::to_owned).to_vec(),
            _ => vec!["next frame lost".to_owned()],
        };
        for event in events {
            add(&source.name, &event);
        }
    }
    for output in &plan.outputs {
        add(&output.name, "relay sticks closed");
        add(&output.name, "relay freed");
    }
    for person in stage.room.people.keys() {
        for event in ["enters", "sits still", "types", "talks", "leaves"] {
            add(person, event);
        }
    }
    for light in ["daylight 0 lx", "daylight 300 lx", "daylight 12000 lx"] {
        add("room", light);
    }
    deeds
}
