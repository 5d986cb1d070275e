//! Which settings of a room do nothing: for each that its file gives, the room is put beside
//! itself with other values, in all that can happen.
//!
//! Invariant: a setting is only said to do nothing when every step that the room may take, and
//! some more, was taken with the other values too and came out the same; or when no output can
//! be reached by it.

use std::sync::atomic::{AtomicBool, Ordering};

use prover::classes::{self, Bound, Limits, Mode, Order, Outcome, Search};
use prover::model::{Beside, Goal, Halt, Levels, Question, Rigor};
use prover::slice::{Slice, levels, without_reports};
use rayon::prelude::*;
use room::{OutputId, Plan, SourceId};
use scenario::Place;
use scenario::keys::{Key, Need, Value};
use scenario::room_file::{Knob, RoomFile};

use crate::ask::{Asker, Terms};
use crate::prove::Budget;

/// A setting that a file gives, and what it does.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Setting {
    /// Whose it is: a source, an output, a controller, or a link (`wall-sensor to desk-lights`).
    /// Where the file says it of several at once, the first.
    pub point: String,
    /// Its key.
    pub key: &'static str,
    /// Where its value stands.
    pub place: Place,
    /// What it does.
    pub does: Does,
}

/// What a setting does, as far as was seen.
#[derive(Clone, Debug, Eq, PartialEq)]
pub enum Does {
    /// With this value the room takes another step somewhere in what it may come to. Whether
    /// anybody sees it is not asked.
    Something(String),
    /// With none of these values it takes another step, whatever happens.
    Nothing(Vec<String>),
    /// A bound was hit before anything differed.
    Unknown(Bound),
    /// It was not asked: why.
    Unasked(&'static str),
}

/// Asks what each setting does that the file of a room gives, in the order of the file.
#[must_use]
pub fn settings(room: &RoomFile, terms: &Terms, budget: Budget, stop: &AtomicBool) -> Vec<Setting> {
    let mut given: Vec<(Place, Vec<Knob>)> = Vec::new();
    for knob in room.knobs() {
        let Some(place) = knob.given else { continue };
        match given.iter_mut().find(|(it, _)| *it == place) {
            Some((_, knobs)) => knobs.push(knob),
            None => given.push((place, vec![knob])),
        }
    }
    given.sort_by_key(|(place, _)| (place.file, place.start));
    let asked = given.par_iter().map(|(place, knobs)| {
        let spend = Spend {
            terms,
            budget,
            stop,
        };
        // What is said of several things at once does something if it does so to one of them.
        let answers = knobs.iter().map(|knob| spend.does(room, knob));
        Some(Setting {
            point: knobs.first()?.point.clone(),
            key: knobs.first()?.key.name,
            place: *place,
            does: answers.reduce(Does::and)?,
        })
    });
    asked.collect::<Vec<_>>().into_iter().flatten().collect()
}

impl Does {
    /// What is known of a setting of two things.
    fn and(self, other: Self) -> Self {
        match (self, other) {
            (Self::Something(with), _) | (_, Self::Something(with)) => Self::Something(with),
            (Self::Unknown(bound), _) | (_, Self::Unknown(bound)) => Self::Unknown(bound),
            (Self::Unasked(why), _) | (_, Self::Unasked(why)) => Self::Unasked(why),
            (Self::Nothing(mut tried), Self::Nothing(more)) => {
                tried.extend(more);
                tried.sort();
                tried.dedup();
                Self::Nothing(tried)
            }
        }
    }
}

/// On what terms, and what may be spent on each comparison.
#[derive(Clone, Copy)]
struct Spend<'a> {
    terms: &'a Terms,
    budget: Budget,
    stop: &'a AtomicBool,
}

/// What came of putting two rooms beside each other.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
enum Beheld {
    /// They part, or may.
    Apart,
    /// They do the same.
    Alike,
    Spent(Bound),
}

impl Spend<'_> {
    fn does(&self, room: &RoomFile, knob: &Knob) -> Does {
        if is_of_no_link(&room.plan, &knob.point) {
            return Does::Unasked("its link is not there until somebody teaches it");
        }
        if let Some((_, why)) = STANDING
            .iter()
            .find(|(keys, _)| keys.contains(&knob.key.name))
        {
            return Does::Unasked(why);
        }
        let mut tried = Vec::new();
        let mut spent = None;
        for value in others(knob.key) {
            if tried.contains(&value) {
                continue;
            }
            let Ok(other) = room.changed(&knob.point, knob.key.name, &value) else {
                continue;
            };
            if other.plan == room.plan && other.quality == room.quality {
                continue;
            }
            match self.beside(room, &other) {
                Beheld::Apart => return Does::Something(value),
                Beheld::Alike => tried.push(value),
                Beheld::Spent(bound) => spent = Some(bound),
            }
        }
        match spent {
            Some(bound) => Does::Unknown(bound),
            None if tried.is_empty() => Does::Unasked("no other value fits the rest of the room"),
            None => Does::Nothing(tried),
        }
    }

    /// Puts every output of a room beside itself as it would be set otherwise.
    fn beside(&self, room: &RoomFile, other: &RoomFile) -> Beheld {
        let outputs = (0..).zip(&room.plan.outputs).map(|(id, _)| OutputId(id));
        let mut seen: Vec<Slice> = Vec::new();
        for output in outputs {
            let slice = |plan: &Plan| Slice::of_light(plan, &[output]);
            let (one, two) = (slice(&room.plan), slice(&other.plan));
            if (one == two && room.quality == other.quality) || seen.contains(&one) {
                continue;
            }
            if (&one.sources, &one.outputs) != (&two.sources, &two.outputs) {
                return Beheld::Apart;
            }
            let beheld = self.explore((room, &one), (other, &two));
            if beheld != Beheld::Alike {
                return beheld;
            }
            seen.push(one);
        }
        Beheld::Alike
    }

    fn explore(&self, one: (&RoomFile, &Slice), two: (&RoomFile, &Slice)) -> Beheld {
        let search = Search {
            mode: Mode::Hull { widens: true },
            order: Order::LargestFirst,
            keeps_paths: false,
            goes_on: false,
        };
        let limits = Limits {
            classes: self.budget.classes,
            transitions: self.budget.transitions.min(MOST_STEPS),
            bytes: self.budget.bytes / rayon::current_num_threads().max(1),
        };
        let mut free = Vec::new();
        loop {
            if self.stop.load(Ordering::Relaxed) {
                return Beheld::Spent(Bound::Stopped);
            }
            let questions = [one, two].map(|(room, slice)| self.question(room, slice, &free));
            let [mut one, mut two] = questions;
            let known = [&one.levels, &two.levels].map(|it| it.standing().to_vec());
            one.levels = Levels::new(known.concat(), Vec::new());
            two.levels.clone_from(&one.levels);
            let Some(beside) = Beside::new(one, two) else {
                return Beheld::Apart;
            };
            match classes::explore(&beside, search, &limits, &mut |_| {}, self.stop) {
                Ok(explored) => {
                    return match explored.outcome {
                        Outcome::Complete => Beheld::Alike,
                        Outcome::Bad(_) => Beheld::Apart,
                        Outcome::Spent(bound) => Beheld::Spent(bound),
                    };
                }
                Err(Halt::Heeded(source)) => free.push(source),
                // What cannot be followed may differ.
                Err(Halt::Beyond(_)) => return Beheld::Apart,
            }
        }
    }

    /// The room with everything that moves its light, its fades among it.
    fn question(&self, room: &RoomFile, slice: &Slice, free: &[SourceId]) -> Question {
        let mut asker = Asker::new(room, slice, self.terms);
        asker.free_reports = free.to_vec();
        asker.loose_calendars = asker.has_calendars();
        let mut plan = asker.plan();
        if asker.is_plain() {
            without_reports(&mut plan);
        }
        Question {
            levels: levels(&plan, &[], true),
            watches_levels: true,
            makes_up: Vec::new(),
            plan: plan.into(),
            ..asker.question(Rigor::Over, Goal::Broken)
        }
    }
}

/// Whether a setting is one of a link that is not stored: nobody teaches in a proof.
fn is_of_no_link(plan: &Plan, point: &str) -> bool {
    let Some((from, to)) = point.split_once(" to ") else {
        return false;
    };
    let mut links = plan.controllers.iter().flat_map(|at| {
        at.settings.links.iter().filter(move |link| {
            let source = at.heard[usize::from(link.heard)];
            let output = at.outputs[usize::from(link.output)];
            plan.sources[usize::from(source.0)].name == from
                && plan.outputs[usize::from(output.0)].name == to
        })
    });
    !links.any(|link| link.stored)
}

/// Values to try in the place of the one that is given: those at both ends and the one that
/// holds without it, or every other word.
fn others(key: &Key) -> Vec<String> {
    let hundredths =
        |number: u64, unit: &str| format!("{}.{:02} {unit}", number / 100, number % 100);
    let mut all: Vec<String> = match &key.value {
        Value::YesNo => vec!["true".to_owned(), "false".to_owned()],
        Value::Word(words) => words.iter().map(|it| (*it).to_owned()).collect(),
        Value::Span(least, most) => vec![most.to_string(), least.to_string()],
        Value::SpanOr(least, most, word) => {
            vec![most.to_string(), least.to_string(), (*word).to_owned()]
        }
        Value::Level(least, most) => [most, least]
            .map(|it| hundredths(it.hundredths().into(), "%"))
            .to_vec(),
        Value::LevelOr(least, most, word) => [most, least]
            .map(|it| hundredths(it.hundredths().into(), "%"))
            .into_iter()
            .chain([(*word).to_owned()])
            .collect(),
        _ => Vec::new(),
    };
    if let Need::Default(text) = key.need {
        all.push(text.to_owned());
    }
    all
}

/// What one comparison may take: most settings do something within a few steps.
const MOST_STEPS: u64 = 100_000;

/// Keys that are about what stands still in a proof, and why they are not asked about.
const STANDING: [(&[&str], &str); 3] = [
    (
        &[
            "report-every",
            "repeat",
            "lost",
            "warm-up",
            "power-up",
            "feedback",
            "keeps-time",
        ],
        "it is there for when something goes wrong",
    ),
    (
        &[
            "change",
            "change-least",
            "interval",
            "hold-off",
            "loop",
            "set-point",
            "dead-band",
            "fade-down",
            "fade-up",
            "dark-after",
        ],
        "it follows the light outside, which stands still in a proof",
    ),
    (
        &["learning", "role", "stored"],
        "it says which links there are, which are asked about by themselves",
    ),
];
