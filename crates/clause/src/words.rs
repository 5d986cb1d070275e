//! The words of the language: what each state, change and gesture is called.
//!
//! Invariant: the first word of an entry is the one that is written out; the others are read
//! and mean the same.

use alloc::vec::Vec;

use crate::parse::cursor::Cursor;
use crate::{Change, Doer, Gesture, OutputState, SourceKind, SourceState};

/// The states of an output.
pub(crate) const OUTPUT_STATES: &[(OutputState, &[&str])] = &[
    (OutputState::On, &["on"]),
    (OutputState::Off, &["off"]),
    (OutputState::Occupied, &["occupied"]),
    (OutputState::Vacant, &["vacant"]),
    (OutputState::Warning, &["in warning", "warning"]),
    (OutputState::Setback, &["in setback", "set back"]),
    (OutputState::Latched, &["latched"]),
    (OutputState::ByHand, &["by hand"]),
    (OutputState::Emergency, &["in emergency"]),
    (OutputState::Closed, &["closed"]),
    (OutputState::Open, &["open"]),
];

/// The states of a source, with the kinds of source that have them.
const SOURCE_STATES: &[(SourceState, &[&str], Has)] = &[
    (SourceState::Occupied, &["occupied"], Has::Occupancy),
    (SourceState::Vacant, &["vacant"], Has::Occupancy),
    (SourceState::CardIn, &["in"], Has::Card),
    (SourceState::CardOut, &["out"], Has::Card),
    (SourceState::InHours, &["in hours"], Has::Clock),
    (SourceState::AfterHours, &["after hours"], Has::Clock),
    (SourceState::PowerPresent, &["present"], Has::NormalPower),
    (
        SourceState::PowerLost,
        &["lost", "absent"],
        Has::NormalPower,
    ),
    (SourceState::Alarm, &["sounding", "on"], Has::FireAlarm),
    (
        SourceState::Quiet,
        &["quiet", "silent", "off"],
        Has::FireAlarm,
    ),
    (
        SourceState::Shedding,
        &["active", "on"],
        Has::DemandResponse,
    ),
    (
        SourceState::NotShedding,
        &["inactive", "off"],
        Has::DemandResponse,
    ),
    (SourceState::Unknown, &["unknown"], Has::Any),
    (SourceState::Lost, &["lost"], Has::AnyButPower),
];

/// Which kinds of source have a state.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
enum Has {
    Occupancy,
    Card,
    Clock,
    NormalPower,
    FireAlarm,
    DemandResponse,
    Any,
    AnyButPower,
}

impl Has {
    /// Whether sources of `kind` have the state.
    fn fits(self, kind: SourceKind) -> bool {
        match self {
            Self::Occupancy => matches!(kind, SourceKind::Occupancy { .. }),
            Self::Card => kind == SourceKind::Card,
            Self::Clock => kind == SourceKind::Clock,
            Self::NormalPower => kind == SourceKind::NormalPower,
            Self::FireAlarm => kind == SourceKind::FireAlarm,
            Self::DemandResponse => kind == SourceKind::DemandResponse,
            Self::Any => true,
            Self::AnyButPower => kind != SourceKind::NormalPower,
        }
    }
}

/// The gestures at a button.
pub(crate) const GESTURES: &[(Gesture, &[&str])] = &[
    (Gesture::Press, &["press", "pressed"]),
    (Gesture::Release, &["release", "released"]),
    (Gesture::Tap, &["tap", "tapped"]),
    (Gesture::Hold, &["hold", "held"]),
];

/// What an output does by itself (`desk-lights turns on`).
const CHANGES: &[(Change, &[&str])] = &[
    (Change::TurnsOn, &["turns on"]),
    (Change::TurnsOff, &["turns off"]),
    (Change::Raises, &["rises", "raises"]),
    (Change::Lowers, &["falls", "lowers"]),
    (Change::Changes, &["changes"]),
    (Change::Warns, &["warns", "starts warning"]),
];

/// What a doer does to an output (`wall-button turns on desk-lights`).
const TRANSITIVE: &[(Change, &[&str])] = &[
    (Change::TurnsOn, &["turns on", "turn on"]),
    (Change::TurnsOff, &["turns off", "turn off"]),
    (Change::Raises, &["raises", "raise"]),
    (Change::Lowers, &["lowers", "lower"]),
    (Change::Changes, &["changes", "change"]),
];

/// What an output does not do (`desk-lights does not change for 10 s`).
const INFINITIVES: &[(Change, &[&str])] = &[
    (Change::TurnsOn, &["turn on"]),
    (Change::TurnsOff, &["turn off"]),
    (Change::Raises, &["rise", "raise"]),
    (Change::Lowers, &["fall", "lower"]),
    (Change::Changes, &["change"]),
];

/// The sides of a comparison, in the order at most, at least, below, above.
pub(crate) const SIDES: &[&[&str]] = &[&["at most"], &["at least"], &["below"], &["above"]];

/// The words for roots of cause chains that are no sources.
pub(crate) const DOERS: [(&str, Doer); 4] = [
    ("daylight", Doer::Daylight),
    ("power", Doer::Power),
    ("site", Doer::Site),
    ("start", Doer::Start),
];

/// Reads what an output does by itself.
pub(crate) fn take_change(cursor: &mut Cursor<'_>) -> Option<Change> {
    take(cursor, CHANGES)
}

/// Reads what a doer does to an output.
pub(crate) fn take_transitive(cursor: &mut Cursor<'_>) -> Option<Change> {
    take(cursor, TRANSITIVE)
}

/// Reads what an output does not do.
pub(crate) fn take_infinitive(cursor: &mut Cursor<'_>) -> Option<Change> {
    take(cursor, INFINITIVES)
}

/// Reads the name of an output's state.
pub(crate) fn take_output_state(cursor: &mut Cursor<'_>) -> Option<OutputState> {
    take(cursor, OUTPUT_STATES)
}

/// Reads the name of a gesture.
pub(crate) fn take_gesture(cursor: &mut Cursor<'_>) -> Option<Gesture> {
    take(cursor, GESTURES)
}

/// Reads the name of a state that sources of `kind` have.
pub(crate) fn take_source_state(cursor: &mut Cursor<'_>, kind: SourceKind) -> Option<SourceState> {
    SOURCE_STATES
        .iter()
        .filter(|(_, _, has)| has.fits(kind))
        .find(|(_, words, _)| words.iter().any(|word| cursor.take(word)))
        .map(|(state, _, _)| *state)
}

fn take<T: Copy>(cursor: &mut Cursor<'_>, table: &[(T, &[&str])]) -> Option<T> {
    table
        .iter()
        .find(|(_, words)| words.iter().any(|word| cursor.take(word)))
        .map(|(found, _)| *found)
}

/// How a state of an output is written out.
pub(crate) fn output_state(state: OutputState) -> &'static str {
    written(state, OUTPUT_STATES)
}

/// How a state of a source is written out.
pub(crate) fn source_state(state: SourceState) -> &'static str {
    let found = SOURCE_STATES.iter().find(|(known, _, _)| *known == state);
    found.map_or("?", |(_, words, _)| words[0])
}

/// How a gesture is written out.
pub(crate) fn gesture(gesture: Gesture) -> &'static str {
    written(gesture, GESTURES)
}

/// How the change of an output is written out when nobody is named.
pub(crate) fn change(change: Change) -> &'static str {
    match change {
        Change::BecomesOccupied => "becomes occupied",
        Change::BecomesVacant => "becomes vacant",
        other => written(other, CHANGES),
    }
}

/// How the change is written out between a doer and an output.
pub(crate) fn transitive(change: Change) -> &'static str {
    written(change, TRANSITIVE)
}

/// How the change is written out between several doers and an output.
pub(crate) fn plural(change: Change) -> &'static str {
    let found = TRANSITIVE.iter().find(|(known, _)| *known == change);
    found.map_or("?", |(_, words)| words[1])
}

/// How the change is written out after `does not`.
pub(crate) fn infinitive(change: Change) -> &'static str {
    written(change, INFINITIVES)
}

fn written<T: Copy + Eq>(wanted: T, table: &[(T, &[&'static str])]) -> &'static str {
    let found = table.iter().find(|(known, _)| *known == wanted);
    found.map_or("?", |(_, words)| words[0])
}

/// The words that can follow an output, for suggestions.
pub(crate) fn after_output() -> Vec<&'static str> {
    let verbs = CHANGES.iter().flat_map(|(_, words)| words.iter().copied());
    let states = OUTPUT_STATES
        .iter()
        .flat_map(|(_, words)| words.iter().copied());
    let levels = [
        "is", "asks", "shows", "becomes", "at", "between", "above", "below",
    ];
    verbs.chain(states).chain(levels).collect()
}

/// The words that can follow a source of `kind`, for suggestions.
pub(crate) fn after_source(kind: SourceKind) -> Vec<&'static str> {
    let states = SOURCE_STATES
        .iter()
        .filter(|(_, _, has)| has.fits(kind))
        .flat_map(|(_, words, _)| words.iter().copied());
    let own: &[&str] = match kind {
        SourceKind::Occupancy { .. } => &["motion", "sound"],
        SourceKind::Clock => &["sweeps"],
        SourceKind::FireAlarm => &["sounds"],
        SourceKind::DemandResponse => &["sheds"],
        _ => &[],
    };
    let mut words: Vec<_> = states.chain(own.iter().copied()).collect();
    words.extend(["is", "becomes"]);
    words.extend(after_doer());
    if kind == SourceKind::Switch {
        words.extend(after_button());
    }
    words
}

/// The words that can follow a button, for suggestions.
pub(crate) fn after_button() -> Vec<&'static str> {
    let gestures = GESTURES.iter().flat_map(|(_, words)| words.iter().copied());
    gestures.chain(after_doer()).collect()
}

/// The words that can follow a doer, for suggestions.
pub(crate) fn after_doer() -> Vec<&'static str> {
    TRANSITIVE.iter().map(|(_, words)| words[0]).collect()
}

/// What can be said of a source of `kind`, for hints.
pub(crate) fn source_hint(kind: SourceKind) -> &'static str {
    match kind {
        SourceKind::Occupancy { .. } => {
            "of an occupancy sensor say `is occupied`, `is vacant`, `is unknown`, `is lost`, \
             `motion`, `sound`, or what it does to an output: `turns on desk-lights`"
        }
        SourceKind::Switch => {
            "of a wall unit say `press`, `release`, `tap`, `hold`, `is down`, or what it does to \
             an output: `turns on desk-lights`; one button is `unit/button`"
        }
        SourceKind::Card => {
            "of a card reader say `is in`, `is out`, `in` and `out` for the moment, `is lost`, \
             or what it does to an output"
        }
        SourceKind::Daylight => {
            "of a daylight sensor say `is at least 300 lx`, `is below 300 lx`, `is lost`"
        }
        SourceKind::Clock => "of a clock say `is in hours`, `is after hours`, `sweeps`",
        SourceKind::NormalPower => "of normal power say `is present` or `is lost`",
        SourceKind::FireAlarm => "of a fire alarm say `sounds`, `is sounding` or `is quiet`",
        SourceKind::DemandResponse => {
            "of demand response say `sheds`, `is active` or `is inactive`"
        }
    }
}
