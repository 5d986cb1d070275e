//! The case for rooms as records: the JSON that other programs read, and the one source of the
//! table and of the page.
//!
//! Invariant: fields are only ever added; [`VERSION`] grows when one changes its meaning.

use proof::{Answer, Bound, How, Verdict as Told, Why, Witness};
use serde::{Deserialize, Serialize};

use super::settings::{SettingDoes, SettingProof};
use crate::record::{FailureRecord, PlaceRecord};
use crate::verdict::Verdict;

/// The version of the records.
pub const VERSION: u32 = 1;

/// Everything that was asked, and every answer.
#[derive(Clone, Debug, Deserialize, Eq, PartialEq, Serialize)]
pub struct Case {
    /// [`VERSION`].
    pub version: u32,
    /// What may go wrong in every room.
    pub terms: Terms,
    /// The tables of a sweep, one for each room that has the setting.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub sweeps: Vec<Sweep>,
    /// The rooms, in the order in which they were given; of a sweep one for each value.
    pub rooms: Vec<RoomProof>,
}

/// How clauses of a room fare with each value of a setting. Every verdict is of a proof of its
/// own; nothing is said of values between.
#[derive(Clone, Debug, Deserialize, Eq, PartialEq, Serialize)]
pub struct Sweep {
    /// The room.
    pub room: String,
    /// Its file.
    pub file: String,
    /// What is set: `wall-sensor time-delay`.
    pub setting: String,
    /// Its values, in their order.
    pub values: Vec<String>,
    /// The clauses, in the order of the sequence.
    pub clauses: Vec<SweptClause>,
}

/// How one clause fares.
#[derive(Clone, Debug, Deserialize, Eq, PartialEq, Serialize)]
pub struct SweptClause {
    /// Its id.
    pub id: String,
    /// The verdict for each value.
    pub verdicts: Vec<ProofVerdict>,
    /// Whether the setting changes anything of the part of the room that the clause needs; if
    /// not, it was asked once.
    pub moves: bool,
}

/// What may go wrong.
#[derive(Clone, Debug, Default, Deserialize, Eq, PartialEq, Serialize)]
pub struct Terms {
    /// Frames that may be lost at a listener.
    pub lose: u8,
    /// Frames that may arrive twice.
    pub duplicate: u8,
    /// Cuts of power.
    pub power_cuts: u8,
    /// Sources that may die.
    pub dead: Vec<String>,
    /// How far the clocks of devices may be off, in parts of 10 000.
    pub clock_tolerance: u16,
    /// The daylight that stands still outside, for clauses that do not say otherwise.
    #[serde(default)]
    pub daylight: String,
    /// Whether several buttons may be down at once.
    pub many_hands: bool,
    /// Whether two stimuli may come in one and the same millisecond.
    pub at_once: bool,
    /// All that is allowed, each in a few words.
    pub allowed: Vec<String>,
}

/// The answers for one room.
#[derive(Clone, Debug, Deserialize, Eq, PartialEq, Serialize)]
pub struct RoomProof {
    /// The room.
    pub room: String,
    /// Its file.
    pub file: String,
    /// How it was set, in a sweep: `wall-sensor time-delay = 20 min`.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub setting: Option<String>,
    /// Its clauses, in the order of its sequence; none when it has none. In a sweep those that
    /// the setting does not change stand in its first room only.
    pub clauses: Vec<ClauseProof>,
    /// What each setting that its file gives does, if that was asked.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub settings: Vec<SettingProof>,
}

/// The answer for one clause.
#[derive(Clone, Debug, Deserialize, Eq, PartialEq, Serialize)]
pub struct ClauseProof {
    /// Its id.
    pub id: String,
    /// Its sentence.
    pub says: String,
    /// Where it stands.
    #[serde(flatten)]
    pub place: PlaceRecord,
    /// The verdict.
    pub verdict: ProofVerdict,
    /// How the answer was found.
    pub found_by: Found,
    /// State classes in the end, of the search that gave the answer.
    pub classes: u64,
    /// Successors computed by all searches.
    pub transitions: u64,
    /// The most bytes that any search held.
    pub bytes: u64,
    /// How long it took by the clock on the wall, unless times are left out.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub time_ms: Option<u64>,
    /// The part of the room that was looked at; none when the links answered.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub slice: Option<String>,
    /// What is taken for granted.
    pub assumptions: Vec<String>,
    /// What was looked at less closely than a run does.
    pub abstractions: Vec<String>,
    /// The bound that the clause asks for, and the tightest that holds.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub tightest: Option<TightestBound>,
    /// Why there is no tightest bound where one was asked for.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub no_tightest: Option<String>,
    /// Why nobody can say.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub reason: Option<String>,
    /// How far a search came whose bound was hit.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub reached: Option<Reached>,
    /// The scenario that breaks it, or of a proved clause one that puts it to the test.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub scenario: Option<ScenarioProof>,
    /// The way on which the links of the room break it, from the source on.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub links: Vec<LinkProof>,
}

/// The verdict on a clause.
#[derive(Clone, Copy, Debug, Deserialize, Eq, Ord, PartialEq, PartialOrd, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum ProofVerdict {
    /// It holds for every input at every moment.
    Proved,
    /// There is a scenario that breaks it.
    Broken,
    /// Nothing that may happen puts it to the test.
    NeverExercised,
    /// Nobody can say.
    Undecided,
}

/// How an answer was found.
#[derive(Clone, Copy, Debug, Deserialize, Eq, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Found {
    /// From the links alone.
    Links,
    /// One convex hull for each state.
    Hull,
    /// Class by class, some things told apart less closely.
    Classes,
    /// Class by class, as exactly as a run.
    Exact,
}

/// How far a search came.
#[derive(Clone, Copy, Debug, Deserialize, Eq, PartialEq, Serialize)]
pub struct Reached {
    /// Classes stored.
    pub classes: u64,
    /// Of these, the classes that wait for their successors.
    pub waiting: u64,
    /// Successors computed.
    pub transitions: u64,
    /// Bytes held.
    pub bytes: u64,
}

/// A bound and the tightest one that holds.
#[derive(Clone, Copy, Debug, Deserialize, Eq, PartialEq, Serialize)]
pub struct TightestBound {
    /// What the clause asks for.
    pub asked_ms: u64,
    /// The tightest bound that was proved.
    pub holds_ms: u64,
    /// Whether longer spans hold too; otherwise shorter ones do.
    pub longer: bool,
    /// Whether a run breaks the clause with a span that is one millisecond tighter; otherwise it
    /// is only not proved so.
    #[serde(default)]
    pub sharp: bool,
    /// Whether what lies between the two follows from the form of the clause alone; otherwise
    /// both were proved, and nothing is said of the rest.
    #[serde(default)]
    pub follows: bool,
}

/// A step of the way on which the links of a room break a clause.
#[derive(Clone, Debug, Deserialize, Eq, PartialEq, Serialize)]
pub struct LinkProof {
    /// What ties the two, in words.
    pub says: String,
    /// Where the link stands, if it is one.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub at: Option<PlaceRecord>,
}

/// A scenario that was run, and came out as it says.
#[derive(Clone, Debug, Deserialize, Eq, PartialEq, Serialize)]
pub struct ScenarioProof {
    /// How many things happen in it.
    pub happenings: u64,
    /// How long it lasts.
    pub lasts_ms: u64,
    /// The file that it was written to.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub file: Option<String>,
    /// The scenario file.
    pub text: String,
    /// What breaks in its run, and why.
    pub failures: Vec<FailureRecord>,
}

/// What a record of a clause is made of.
#[derive(Clone, Debug)]
pub struct Answered<'a> {
    /// The answer.
    pub answer: &'a Answer,
    /// Its sentence.
    pub says: &'a str,
    /// Where it stands.
    pub place: PlaceRecord,
    /// How long it took, unless times are left out.
    pub time_ms: Option<u64>,
    /// The file that its scenario was written to.
    pub file: Option<String>,
    /// What breaks in the run of its scenario, and why.
    pub failures: Vec<FailureRecord>,
    /// The links that break it.
    pub links: Vec<LinkProof>,
}

impl Case {
    /// How many clauses fared so.
    #[must_use]
    pub fn count(&self, verdict: ProofVerdict) -> usize {
        let clauses = self.rooms.iter().flat_map(|room| &room.clauses);
        clauses.filter(|it| it.verdict == verdict).count()
    }

    /// How many clauses there are.
    #[must_use]
    pub fn total(&self) -> usize {
        self.rooms.iter().map(|room| room.clauses.len()).sum()
    }

    /// How many settings do so.
    #[must_use]
    pub fn count_settings(&self, does: SettingDoes) -> usize {
        let settings = self.rooms.iter().flat_map(|room| &room.settings);
        settings.filter(|it| it.does == does).count()
    }

    /// The case as JSON, with an end of line.
    #[must_use]
    pub fn to_json(&self) -> String {
        let text = serde_json::to_string_pretty(self);
        text.expect("records are texts, numbers and lists") + "\n"
    }
}

impl From<&proof::Terms> for Terms {
    fn from(terms: &proof::Terms) -> Self {
        Self {
            lose: terms.lose,
            duplicate: terms.twice,
            power_cuts: terms.cuts,
            dead: terms.dead.clone(),
            clock_tolerance: terms.tolerance,
            daylight: terms.daylight.unwrap_or_default().to_string(),
            many_hands: terms.many_hands,
            at_once: terms.at_once,
            allowed: terms.allowed(),
        }
    }
}

impl ClauseProof {
    /// The record of an answer.
    #[must_use]
    pub fn of(answered: Answered<'_>) -> Self {
        let answer = answered.answer;
        let (verdict, witness) = match &answer.verdict {
            Told::Proved(witness) => (ProofVerdict::Proved, witness.as_ref()),
            Told::Broken(witness) => (ProofVerdict::Broken, Some(witness)),
            Told::Linked(_) => (ProofVerdict::Broken, None),
            Told::NeverExercised => (ProofVerdict::NeverExercised, None),
            Told::Undecided(_) => (ProofVerdict::Undecided, None),
        };
        let why = match &answer.verdict {
            Told::Undecided(why) => Some(why),
            _ => None,
        };
        let scenario = |witness: &Witness| ScenarioProof {
            happenings: witness.happenings as u64,
            lasts_ms: witness.length.as_ms(),
            file: answered.file.clone(),
            text: witness.text.clone(),
            failures: answered.failures.clone(),
        };
        Self {
            id: answer.id.clone(),
            says: answered.says.to_owned(),
            verdict,
            found_by: answer.effort.how.into(),
            classes: answer.effort.classes as u64,
            transitions: answer.effort.transitions,
            bytes: answer.effort.bytes as u64,
            time_ms: answered.time_ms,
            slice: answer.slice.clone(),
            assumptions: answer.assumptions.clone(),
            abstractions: answer.abstractions.clone(),
            tightest: answer.tightest.map(|it| TightestBound {
                asked_ms: it.asked.as_ms(),
                holds_ms: it.holds.as_ms(),
                longer: it.longer,
                sharp: it.sharp,
                follows: it.follows,
            }),
            no_tightest: answer.untold.map(str::to_owned),
            reason: why.map(reason),
            reached: why.and_then(reached),
            scenario: witness.map(scenario),
            links: answered.links,
            place: answered.place,
        }
    }
}

/// Why nobody can say.
fn reason(why: &Why) -> String {
    match why {
        Why::Spent(bound, reached) => {
            let hit = self::bound(*bound);
            format!(
                "{hit}, with {} classes seen and {} waiting",
                super::grouped(reached.classes as u64),
                super::grouped(reached.waiting as u64)
            )
        }
        Why::Beyond(what) => format!("the symbolic clock cannot carry it: {what}"),
        Why::NotReplayed(what) => {
            format!("a path to a break was found, and its run does not break: {what}")
        }
        Why::OnlyAbstract(what) => {
            format!("only what is looked at less closely breaks it: {what}")
        }
        Why::StandingDaylight(daylight) => {
            format!(
                "daylight stands still in a proof, here at {daylight} outside, and with that no \
                 reading that the clause speaks of puts it to the test; ask with \
                 --daylight, or give the clause a `daylight`"
            )
        }
    }
}

fn reached(why: &Why) -> Option<Reached> {
    let Why::Spent(_, reached) = why else {
        return None;
    };
    Some(Reached {
        classes: reached.classes as u64,
        waiting: reached.waiting as u64,
        transitions: reached.transitions,
        bytes: reached.bytes as u64,
    })
}

impl From<How> for Found {
    fn from(how: How) -> Self {
        match how {
            How::Links => Self::Links,
            How::Hull => Self::Hull,
            How::Inclusion => Self::Classes,
            How::Exact => Self::Exact,
        }
    }
}

impl Found {
    /// In a word.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Links => "links",
            Self::Hull => "hull",
            Self::Classes => "classes",
            Self::Exact => "exact",
        }
    }

    /// In a sentence.
    #[must_use]
    pub const fn says(self) -> &'static str {
        match self {
            Self::Links => "from the links alone, without looking at time",
            Self::Hull => "one convex set of remaining times for each state",
            Self::Classes => "state class by state class, levels and dead times less closely",
            Self::Exact => "state class by state class, as exactly as a run",
        }
    }
}

impl ProofVerdict {
    /// Every verdict, in the order of the reports.
    pub const ALL: [Self; 4] = [
        Self::Proved,
        Self::Broken,
        Self::NeverExercised,
        Self::Undecided,
    ];

    /// The verdict in words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Proved => "proved",
            _ => self.plain().words(),
        }
    }

    /// A sign that can be told from the others without colour.
    #[must_use]
    pub const fn sign(self) -> &'static str {
        self.plain().sign()
    }

    /// The verdict of a run that says as much.
    #[must_use]
    pub const fn plain(self) -> Verdict {
        match self {
            Self::Proved => Verdict::Held,
            Self::Broken => Verdict::Broken,
            Self::NeverExercised => Verdict::NeverExercised,
            Self::Undecided => Verdict::Undecided,
        }
    }
}

/// What a bound that was hit is called.
pub(super) fn bound(bound: Bound) -> &'static str {
    match bound {
        Bound::Classes => "the bound on state classes was hit",
        Bound::Memory => "the bound on memory was hit (--memory)",
        Bound::Stopped => "somebody asked for the end",
        Bound::Transitions => "the bound on steps was hit",
    }
}
