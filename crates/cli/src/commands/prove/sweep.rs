//! `--sweep`: the same clauses asked again and again, with another value of one setting each
//! time.
//!
//! Invariants: every value is read and checked as a row of a scenario would be, before anything
//! is searched; a clause is asked once where no value changes the part of the room that it needs.

use std::fmt;

use device::{Illuminance, Span};
use report::proof::{Case, ProofVerdict, Sweep as SweepRecord, SweptClause};
use scenario::diagnostic::all_of;
use scenario::room_file::{ChangeError, RoomFile};
use scenario::site::Room;
use scenario::suite::Suite;
use scenario::words;

use super::asked::{Asked, AskedRoom};
use crate::failure::Failure;
use crate::rooms;

/// What is asked on the command line: a setting and its values.
#[derive(Clone, Debug, Eq, PartialEq)]
pub(crate) struct Sweep {
    /// What has the setting, if it is said.
    point: Option<String>,
    key: String,
    values: Vec<String>,
}

/// A room of the suite as it was set for one value.
#[derive(Clone, Debug, Eq, PartialEq)]
pub(super) struct Set {
    /// The room's number among those that are swept.
    pub(super) room: usize,
    point: String,
    key: String,
    value: String,
}

impl fmt::Display for Set {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {} = {}", self.point, self.key, self.value)
    }
}

impl Set {
    /// As a row of a scenario says it: point, key and value.
    pub(super) fn row(&self) -> (String, String, String) {
        (self.point.clone(), self.key.clone(), self.value.clone())
    }
}

/// Reads `wall-sensor time-delay = 5 min to 30 min every 5 min`.
pub(crate) fn read(text: &str) -> Result<Sweep, String> {
    let (setting, values) = text.split_once('=').ok_or_else(|| FORM.to_owned())?;
    let setting = setting.trim();
    let apart = setting.rsplit_once('.');
    let (point, key) = match apart.or_else(|| setting.rsplit_once(char::is_whitespace)) {
        Some((point, key)) => (Some(point.trim().to_owned()), key.trim()),
        None => (None, setting),
    };
    if key.is_empty() || point.as_ref().is_some_and(String::is_empty) {
        return Err(FORM.to_owned());
    }
    let values = match values.contains(',') {
        true => values.split(',').map(|it| it.trim().to_owned()).collect(),
        false => range(values.trim())?,
    };
    if values.iter().any(String::is_empty) {
        return Err(FORM.to_owned());
    }
    if values.len() > MOST {
        return Err(too_many(values.len()));
    }
    Ok(Sweep {
        point,
        key: key.to_owned(),
        values,
    })
}

/// The values of `5 min to 30 min every 5 min`, or `5min..30min step 5min`, or one value.
fn range(text: &str) -> Result<Vec<String>, String> {
    let Some((from, rest)) = text.split_once("..").or_else(|| text.split_once(" to ")) else {
        return Ok(vec![text.to_owned()]);
    };
    let parted = rest
        .split_once(" every ")
        .or_else(|| rest.split_once(" step "));
    let (to, step) = match parted {
        Some((to, step)) => (to.trim(), Some(step.trim())),
        None => (rest.trim(), None),
    };
    let from = from.trim();
    let kinds = Kind::ALL.into_iter();
    let mut known = kinds.filter_map(|kind| Some((kind, kind.read(from)?, kind.read(to)?)));
    let (kind, low, high) = known.next().ok_or_else(|| {
        "a range goes from one span, level or illuminance to another: \"5 min to 30 min\"; other \
         values are listed with commas"
            .to_owned()
    })?;
    if low > high {
        return Err(format!("the range is empty: {from} is more than {to}"));
    }
    let step = match step {
        None => kind.step(high - low),
        Some(text) => match kind.read(text) {
            Some(0) | None => return Err(format!("`{text}` is no step from {from} to {to}")),
            Some(step) => step,
        },
    };
    let count = (high - low) / step + 1;
    if count > MOST as u64 {
        return Err(too_many(usize::try_from(count).unwrap_or(usize::MAX)));
    }
    let mut values: Vec<u64> = (0..count).map(|number| low + number * step).collect();
    if values.last() != Some(&high) {
        values.push(high);
    }
    Ok(values.into_iter().map(|value| kind.say(value)).collect())
}

fn too_many(count: usize) -> String {
    format!("that is {count} values, and each is proved by itself: {MOST} at most")
}

/// What can be counted up.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
enum Kind {
    /// In milliseconds.
    Span,
    /// In hundredths of a per cent.
    Share,
    /// In hundredths of a lux.
    Lux,
}

impl Kind {
    const ALL: [Self; 3] = [Self::Span, Self::Share, Self::Lux];

    fn read(self, text: &str) -> Option<u64> {
        match self {
            Self::Span => words::span(text).ok().map(Span::as_ms),
            Self::Share => words::share(text).ok().map(u64::from),
            Self::Lux => {
                let lux = words::illuminance(text).ok();
                lux.map(Illuminance::hundredths).map(u64::from)
            }
        }
    }

    fn say(self, value: u64) -> String {
        let hundredths = |unit: &str| {
            let text = format!("{}.{:02}", value / 100, value % 100);
            let text = text.trim_end_matches('0').trim_end_matches('.');
            format!("{text} {unit}")
        };
        match self {
            Self::Span => Span::from_ms(value).to_string(),
            Self::Share => hundredths("%"),
            Self::Lux => hundredths("lx"),
        }
    }

    /// The roundest step that makes ten steps at most of this way.
    fn step(self, way: u64) -> u64 {
        let round: &[u64] = match self {
            Self::Span => &[
                1, 2, 5, 10, 20, 50, 100, 200, 500, 1_000, 2_000, 5_000, 10_000, 30_000, 60_000,
                120_000, 300_000, 600_000, 900_000, 1_800_000, 3_600_000, 7_200_000,
            ],
            Self::Share | Self::Lux => &[
                1, 2, 5, 10, 20, 50, 100, 200, 500, 1_000, 2_000, 5_000, 10_000, 20_000, 50_000,
            ],
        };
        let fits = round.iter().copied().find(|step| way / step <= 10);
        fits.unwrap_or(way / 10).max(1)
    }
}

impl Sweep {
    /// Puts a room for each value into the place of each room that has the setting; rooms
    /// without it are left out.
    pub(super) fn spread(&self, suite: &mut Suite) -> Result<Vec<Set>, Failure> {
        let mut swept = Vec::new();
        let mut sets = Vec::new();
        let mut without = None;
        let mut number = 0;
        for room in &suite.rooms {
            let read = rooms::read(room);
            let point = match self.point(read) {
                Ok(point) => point,
                Err(Missing::Here(failure)) => {
                    without = without.or(Some(failure));
                    continue;
                }
                Err(Missing::Unclear(failure)) => return Err(failure),
            };
            for value in &self.values {
                let changed = read.changed(&point, &self.key, value);
                let changed = changed.map_err(|error| self.refused(&point, value, &error))?;
                swept.push(Room {
                    folder: room.folder.clone(),
                    is_site: room.is_site,
                    site: room.site,
                    file: room.file,
                    room: Some(changed),
                    scenarios: Vec::new(),
                });
                sets.push(Set {
                    room: number,
                    point: point.clone(),
                    key: self.key.clone(),
                    value: value.clone(),
                });
            }
            number += 1;
        }
        if let (true, Some(failure)) = (sets.is_empty(), without) {
            return Err(failure);
        }
        suite.scripts = vec![Vec::new(); swept.len()];
        suite.rooms = swept;
        Ok(sets)
    }

    /// What has the setting in a room.
    fn point(&self, room: &RoomFile) -> Result<String, Missing> {
        let value = &self.values[0];
        let refused = |point: &str| {
            let changed = room.changed(point, &self.key, value);
            changed.err().filter(|error| error.key)
        };
        if let Some(point) = &self.point {
            return match refused(point) {
                Some(error) => Err(Missing::Here(self.refused(point, value, &error))),
                None => Ok(point.clone()),
            };
        }
        let mut points = points(room);
        points.retain(|point| refused(point).is_none());
        match &points[..] {
            [] => Err(Missing::Here(Failure::new(
                format!("nothing has the setting `{}`", self.key),
                "the settings stand in room.toml; say whose it is: \
                 --sweep 'wall-sensor time-delay = 5 min to 30 min'",
            ))),
            [point] => Ok(point.clone()),
            _ => Err(Missing::Unclear(Failure::new(
                format!("several have the setting `{}`", self.key),
                &format!(
                    "say whose it is, as in --sweep '{} {} = …': {}",
                    points[0],
                    self.key,
                    all_of(points.iter().map(String::as_str))
                ),
            ))),
        }
    }

    fn refused(&self, point: &str, value: &str, error: &ChangeError) -> Failure {
        let setting = format!("{point} {}", self.key);
        let message = match error.key {
            true => format!("--sweep {setting}: {}", error.error.message),
            false => format!("--sweep {setting} = {value}: {}", error.error.message),
        };
        Failure::new(message, &error.error.hint)
    }
}

/// Why a setting was not found.
enum Missing {
    /// This room has none; another may have it.
    Here(Failure),
    /// There are several.
    Unclear(Failure),
}

/// Everything that can have settings.
fn points(room: &RoomFile) -> Vec<String> {
    let plan = &room.plan;
    let sources = plan.sources.iter().map(|it| it.name.clone());
    let outputs = plan.outputs.iter().map(|it| it.name.clone());
    let controllers = plan.controllers.iter().map(|it| it.name.clone());
    let links = room.ties.iter().map(|tie| {
        let (from, to) = (
            &plan.sources[tie.source].name,
            &plan.outputs[tie.output].name,
        );
        format!("{from} to {to}")
    });
    let mut all: Vec<String> = sources.chain(outputs).chain(controllers).collect();
    for link in links {
        if !all.contains(&link) {
            all.push(link);
        }
    }
    all
}

/// Says how each room is set, and leaves each clause of which no value changes anything to the
/// first value.
pub(super) fn ask_once(asked: &mut Asked, suite: &Suite, sets: &[Set]) {
    if sets.is_empty() {
        return;
    }
    for it in &mut asked.rooms {
        it.terms.set = vec![sets[it.room].row()];
    }
    let swept = |it: &AskedRoom| sets[it.room].room;
    let groups = asked
        .rooms
        .chunk_by_mut(|one, other| swept(one) == swept(other));
    for (first, others) in groups.filter_map(<[AskedRoom]>::split_first_mut) {
        let read = |it: &AskedRoom| rooms::read(&suite.rooms[it.room]);
        let moves = |clause: &u16| {
            let same = |other: &AskedRoom| {
                proof::asks_the_same(read(first), read(other), &first.terms, *clause)
            };
            !others.iter().all(same)
        };
        let moved: Vec<u16> = first.clauses.iter().copied().filter(moves).collect();
        for other in others {
            other.clauses.clone_from(&moved);
        }
    }
}

/// The tables of a case: for each room the verdict on each clause for each value.
pub(super) fn tables(case: &Case, asked: &Asked, sets: &[Set]) -> Vec<SweepRecord> {
    let mut tables: Vec<(usize, SweepRecord)> = Vec::new();
    for (room, it) in case.rooms.iter().zip(&asked.rooms) {
        let set = &sets[it.room];
        if tables.last().is_none_or(|(swept, _)| *swept != set.room) {
            let clauses = room.clauses.iter().map(|clause| SweptClause {
                id: clause.id.clone(),
                verdicts: Vec::new(),
                moves: false,
            });
            let table = SweepRecord {
                room: room.room.clone(),
                file: room.file.clone(),
                setting: format!("{} {}", set.point, set.key),
                values: Vec::new(),
                clauses: clauses.collect(),
            };
            tables.push((set.room, table));
        }
        let Some((_, table)) = tables.last_mut() else {
            continue;
        };
        let is_first = table.values.is_empty();
        table.values.push(set.value.clone());
        for clause in &mut table.clauses {
            let asked = room.clauses.iter().find(|it| it.id == clause.id);
            clause.moves |= asked.is_some() && !is_first;
            let verdict = asked
                .map(|it| it.verdict)
                .or(clause.verdicts.first().copied());
            clause
                .verdicts
                .push(verdict.unwrap_or(ProofVerdict::Undecided));
        }
    }
    tables.into_iter().map(|(_, table)| table).collect()
}

/// Each value is a proof of its own.
const MOST: usize = 100;

const FORM: &str = "write what is set and its values: 'wall-sensor time-delay = 5 min to 30 min', \
                    with 'every 5 min' behind it if you like, or '= 5 min, 15 min, 20 min'";

#[cfg(test)]
mod tests {
    use super::*;

    fn values(text: &str) -> String {
        read(text).map_or_else(|error| error, |it| it.values.join(", "))
    }

    #[test]
    fn ranges_and_lists_are_read_as_people_write_them() {
        let five = "5 min, 10 min, 15 min, 20 min, 25 min, 30 min";
        assert_eq!(values("time-delay=5min..30min"), five);
        assert_eq!(values("a.time-delay = 5 min to 30 min every 5 min"), five);
        assert_eq!(
            values("a k = 1 s..2 s step 300 ms"),
            "1 s, 1.300 s, 1.600 s, 1.900 s, 2 s"
        );
        assert_eq!(
            values("a to b level = 30 % to 70 %"),
            "30 %, 35 %, 40 %, 45 %, 50 %, 55 %, 60 %, 65 %, 70 %"
        );
        assert_eq!(
            values("cell set-point = 300 lx to 302.5 lx every 1 lx"),
            "300 lx, 301 lx, 302 lx, 302.5 lx"
        );
        assert_eq!(values("a role = manual-on, auto-on"), "manual-on, auto-on");
        assert_eq!(values("a k = 20 min"), "20 min");
        assert_eq!(values("a k = 20 min to 20 min"), "20 min");
        let link = read("wall-sensor to desk-lights run-on = 0 s, 5 min").unwrap();
        assert_eq!(link.point.as_deref(), Some("wall-sensor to desk-lights"));
        assert_eq!(
            (&link.key[..], read("k=1s").unwrap().point),
            ("run-on", None)
        );
    }

    #[test]
    fn what_is_no_sweep_is_refused_with_a_hint() {
        for (text, said) in [
            ("time-delay", "write what is set"),
            ("= 5 min", "write what is set"),
            ("a k = 5 min,,6 min", "write what is set"),
            ("a k =", "write what is set"),
            (
                "a k = 30 min to 5 min",
                "the range is empty: 30 min is more than 5 min",
            ),
            ("a k = 5 min to 30 %", "a range goes from"),
            ("a k = low to high", "a range goes from"),
            ("a k = 5 min to 30 min every 0 s", "`0 s` is no step"),
            ("a k = 5 min to 30 min every 5 %", "`5 %` is no step"),
            ("a k = 1 s to 1 h every 1 s", "that is 3600 values"),
            (
                "a k = 0 s to 2000 days every 1 ms",
                "values, and each is proved by itself: 100",
            ),
        ] {
            let error = read(text).unwrap_err();
            assert!(error.contains(said), "{text}: {error}");
        }
    }

    #[test]
    fn a_range_always_ends_where_it_is_said_to_end_in_a_dozen_values() {
        for most in [1, 7, 999, 61_000, 3_599_999, 86_400_000, 999_999_999] {
            let values = range(&format!("0 s to {}", Span::from_ms(most))).unwrap();
            assert!(values.len() <= 12, "{most}: {values:?}");
            assert_eq!(values.last(), Some(&Span::from_ms(most).to_string()));
        }
    }
}
