//! Which clauses of which rooms are asked about, and on what terms.
//!
//! Invariant: a name on the command line that means nothing in any room is refused before
//! anything is searched.

use proof::Terms;
use scenario::diagnostic::{all_of, nearest};
use scenario::room_file::RoomFile;
use scenario::sequence_file::{Assumption, assumption};
use scenario::suite::Suite;

use crate::args;
use crate::failure::Failure;
use crate::rooms;

/// What is asked.
#[derive(Debug)]
pub(super) struct Asked {
    /// The rooms.
    pub(super) rooms: Vec<AskedRoom>,
    /// What may go wrong in all of them.
    pub(super) terms: Terms,
}

/// What is asked of one room.
#[derive(Debug)]
pub(super) struct AskedRoom {
    /// Its place in the suite.
    pub(super) room: usize,
    /// The places of the clauses in its plan.
    pub(super) clauses: Vec<u16>,
    /// What may go wrong in it, and what is taken for granted.
    pub(super) terms: Terms,
}

impl Asked {
    /// What the arguments ask of the rooms.
    pub(super) fn of(suite: &Suite, args: &args::Prove) -> Result<Self, Failure> {
        let terms = Terms {
            lose: args.lose,
            twice: args.duplicate,
            cuts: args.power_cuts,
            dead: args.dead.clone(),
            tolerance: args.clock_tolerance,
            daylight: args.daylight,
            at_once: args.at_once,
            many_hands: args.many_hands,
            assume: Vec::new(),
            set: Vec::new(),
        };
        let read: Vec<&RoomFile> = suite.rooms.iter().map(rooms::read).collect();
        let clauses = |room: &'_ RoomFile| names(room.plan.clauses.iter().map(|it| &it.id));
        let sources = |room: &'_ RoomFile| names(room.plan.sources.iter().map(|it| &it.name));
        known(&args.clauses, &read, clauses, ("clause", "clauses"))?;
        known(&args.dead, &read, sources, ("source", "sources"))?;
        let assumed = assumed(&args.assume, &read)?;
        let mut asked = Vec::new();
        for ((place, room), assume) in read.iter().enumerate().zip(assumed) {
            let wanted = |id: &String| args.clauses.is_empty() || args.clauses.contains(id);
            let clauses: Vec<u16> = (0..)
                .zip(&room.plan.clauses)
                .filter(|(_, clause)| wanted(&clause.id))
                .map(|(place, _)| place)
                .collect();
            if clauses.is_empty() && !args.clauses.is_empty() {
                continue;
            }
            let mut terms = terms.clone();
            terms.dead.retain(|name| sources(room).contains(name));
            terms.assume = assume;
            asked.push(AskedRoom {
                room: place,
                clauses,
                terms,
            });
        }
        Ok(Self {
            rooms: asked,
            terms,
        })
    }
}

fn names<'a>(names: impl Iterator<Item = &'a String>) -> Vec<String> {
    names.cloned().collect()
}

/// Refuses a name that no room knows.
fn known(
    asked: &[String],
    rooms: &[&RoomFile],
    of: impl Fn(&RoomFile) -> Vec<String>,
    (one, many): (&str, &str),
) -> Result<(), Failure> {
    let mut all: Vec<String> = rooms.iter().flat_map(|room| of(room)).collect();
    all.sort();
    all.dedup();
    let Some(name) = asked.iter().find(|name| !all.contains(name)) else {
        return Ok(());
    };
    let hint = match nearest(name, all.iter().map(String::as_str)) {
        Some(near) => format!("did you mean `{near}`?"),
        None if all.is_empty() => format!("there are no {many} at all"),
        None => format!("the {many} are {}", all_of(all.iter().map(String::as_str))),
    };
    let message = match rooms.len() {
        1 => format!("the room has no {one} `{name}`"),
        _ => format!("no room has a {one} `{name}`"),
    };
    Err(Failure::new(message, &hint))
}

/// What is taken for granted in each room: an assumption counts where its names mean something,
/// and must mean something somewhere.
fn assumed(texts: &[String], rooms: &[&RoomFile]) -> Result<Vec<Vec<Assumption>>, Failure> {
    let mut all: Vec<Vec<_>> = rooms.iter().map(|_| Vec::new()).collect();
    for (number, text) in (1..).zip(texts) {
        let mut refused = None;
        let mut is_known = false;
        for (room, all) in rooms.iter().zip(&mut all) {
            match assumption(text, number, room) {
                Ok(assumption) => {
                    all.push(assumption);
                    is_known = true;
                }
                Err(why) => refused = refused.or(Some(why)),
            }
        }
        if let Some(refused) = refused.filter(|_| !is_known) {
            return Err(Failure::rendered(refused));
        }
    }
    Ok(all)
}
