//! Statements: a subject and what is said of it.

use alloc::format;
use alloc::string::ToString;
use alloc::vec::Vec;

use super::cursor::Cursor;
use super::subject::{self, Subject};
use crate::expr::Expr;
use crate::names::{self, Named};
use crate::words;
use crate::{
    Atom, Brightness, By, Change, Channel, ClauseError, Compare, Doer, Event, Gesture, OutputState,
    Quantity, SourceEvent, SourceKind, SourceState,
};

/// Reads a statement: `desk-lights is on`, `motion at wall-sensor`, `any of desks is on`.
pub(crate) fn statement(cursor: &mut Cursor<'_>) -> Result<Expr, ClauseError> {
    if cursor.peek(0) == "motion" || cursor.peek(0) == "sound" {
        return sensed_at(cursor);
    }
    if let Some(expr) = gesture_of(cursor)? {
        return Ok(expr);
    }
    if cursor.take("in hours") {
        return Ok(state(the_clock(cursor)?, SourceState::InHours));
    }
    if cursor.take("after hours") {
        return Ok(state(the_clock(cursor)?, SourceState::AfterHours));
    }
    if cursor.take("sweep") {
        let clock = the_clock(cursor)?;
        return Ok(Expr::Event(Event::Source(clock, SourceEvent::Sweep)));
    }
    let start = cursor.place();
    let subject = subject::subject(cursor)?;
    let predicate_at = cursor.place();
    let mut parts = Vec::new();
    for member in subject.members() {
        cursor.back_to(predicate_at);
        parts.push(predicate(cursor, member)?);
    }
    match subject {
        Subject::One(_) | Subject::Any(_) => Ok(Expr::any(parts)),
        Subject::All(_) => Ok(Expr::all(parts)),
        Subject::None(_) => {
            let all = Expr::any(parts);
            let hint = "for events write `no (any of … turns on) for 5 min`";
            super::expression::demand_condition(&all, cursor, start, hint)?;
            Ok(all.negated())
        }
    }
}

/// Reads `motion at S`, `sound at S`, `motion or sound at any of S`.
fn sensed_at(cursor: &mut Cursor<'_>) -> Result<Expr, ClauseError> {
    let mut channels = Vec::new();
    loop {
        let Some(channel) = channel(cursor) else {
            return Err(cursor.fail_here(
                "expected `motion` or `sound`",
                "name the sensor: `motion at …`",
            ));
        };
        channels.push(channel);
        if !cursor.take("or") {
            break;
        }
    }
    cursor.expect("at", "name the sensor: `motion at …`")?;
    let start = cursor.place();
    let subject = subject::subject(cursor)?;
    let mut parts = Vec::new();
    for member in subject.members() {
        for channel in &channels {
            let Named::Source(source) = member else {
                let message = "only an occupancy sensor senses motion or sound";
                return Err(cursor.fail(cursor.since(start), message, "name an occupancy sensor"));
            };
            let sensed = demand_channel(cursor, start, *source, *channel)?;
            parts.push(Expr::Event(Event::Source(*source, sensed)));
        }
    }
    any_of(cursor, start, &subject, parts)
}

/// Reads `press of B`, `tap of any of B, C`, when that is what stands there.
fn gesture_of(cursor: &mut Cursor<'_>) -> Result<Option<Expr>, ClauseError> {
    let before = cursor.place();
    let gesture = words::take_gesture(cursor);
    let Some(gesture) = gesture.filter(|_| cursor.take("of") || cursor.take("at")) else {
        cursor.back_to(before);
        return Ok(None);
    };
    let start = cursor.place();
    let subject = subject::subject(cursor)?;
    let mut parts = Vec::new();
    for member in subject.members() {
        match member {
            Named::Source(unit) if cursor.names.kind(*unit) == Some(SourceKind::Switch) => {
                parts.push(Expr::Event(Event::Button(*unit, None, gesture)));
            }
            Named::Buttons(unit, buttons) => parts.push(gestures(*unit, buttons, gesture)),
            _ => {
                let message = "only a wall unit or a button of one is pressed";
                let hint = "name a wall unit, or a button as `unit/button`";
                return Err(cursor.fail(cursor.since(start), message, hint));
            }
        }
    }
    any_of(cursor, start, &subject, parts).map(Some)
}

/// Events at one or any of the members of a subject.
fn any_of(
    cursor: &Cursor<'_>,
    start: usize,
    subject: &Subject,
    parts: Vec<Expr>,
) -> Result<Expr, ClauseError> {
    match subject {
        Subject::One(_) | Subject::Any(_) => Ok(Expr::any(parts)),
        Subject::All(_) | Subject::None(_) => {
            let message = "events happen at `any of` several";
            let hint = "write `any of`, and `no …` in front for silence";
            Err(cursor.fail(cursor.since(start), message, hint))
        }
    }
}

/// The gesture at any of some buttons of one unit.
fn gestures(unit: u16, buttons: &[u8], gesture: Gesture) -> Expr {
    let made = |button: &u8| Expr::Event(Event::Button(unit, Some(*button), gesture));
    Expr::any(buttons.iter().map(made).collect())
}

/// Reads what is said of one subject.
fn predicate(cursor: &mut Cursor<'_>, member: &Named) -> Result<Expr, ClauseError> {
    match member {
        Named::Output(output) => of_output(cursor, *output),
        Named::Source(source) => of_source(cursor, *source),
        Named::Buttons(unit, buttons) => of_buttons(cursor, *unit, buttons),
        Named::Doer(doer) => of_doer(
            cursor,
            *doer,
            "only what it does to an output can be said of it",
        ),
        Named::Group(_) => Err(cursor.fail_here(
            "a group needs `any of`, `all of` or `none of` in front",
            "write `any of` in front of the group",
        )),
    }
}

/// Reads what is said of an output.
fn of_output(cursor: &mut Cursor<'_>, output: u16) -> Result<Expr, ClauseError> {
    let level = |quantity, compare| Expr::Atom(Atom::Level(output, quantity, compare));
    if cursor.take("asks") {
        return Ok(level(Quantity::Asked, comparison(cursor)?));
    }
    if cursor.take("shows") {
        return Ok(level(Quantity::Light, comparison(cursor)?));
    }
    if cursor.take("is") {
        let not = cursor.take("not");
        let expr = match words::take_output_state(cursor) {
            Some(state) => Expr::Atom(Atom::Output(output, state)),
            None if is_comparison(cursor) => level(Quantity::Target, comparison(cursor)?),
            None => return Err(unknown_word(cursor, words::after_output(), OUTPUT_HINT)),
        };
        return Ok(if not { expr.negated() } else { expr });
    }
    if cursor.take("becomes") {
        return match words::take_output_state(cursor) {
            Some(OutputState::Occupied) => Ok(changed(output, Change::BecomesOccupied, By::Anyone)),
            Some(OutputState::Vacant) => Ok(changed(output, Change::BecomesVacant, By::Anyone)),
            Some(state) => Ok(becomes(Atom::Output(output, state))),
            None => Err(unknown_word(cursor, words::after_output(), OUTPUT_HINT)),
        };
    }
    match words::take_change(cursor) {
        Some(change) if cursor.take("by") => {
            let doer = subject::doer(cursor)?;
            Ok(changed(output, change, By::Only(doer)))
        }
        Some(change) => Ok(changed(output, change, By::Anyone)),
        None => Err(without_is(cursor)
            .unwrap_or_else(|| unknown_word(cursor, words::after_output(), OUTPUT_HINT))),
    }
}

/// Reads what is said of a source.
fn of_source(cursor: &mut Cursor<'_>, source: u16) -> Result<Expr, ClauseError> {
    let kind = cursor.names.kind(source);
    let start = cursor.place();
    let channel_at = cursor.place();
    if let Some(channel) = channel(cursor) {
        let sensed = demand_channel(cursor, channel_at, source, channel)?;
        return match words::take_transitive(cursor) {
            Some(change) => done_by(cursor, Doer::Channel(source, channel), change),
            None => Ok(Expr::Event(Event::Source(source, sensed))),
        };
    }
    if let Some(change) = words::take_transitive(cursor) {
        return done_by(cursor, Doer::Source(source), change);
    }
    if kind == Some(SourceKind::Switch)
        && let Some(gesture) = gesture(cursor)
    {
        return Ok(Expr::Event(Event::Button(source, None, gesture)));
    }
    if kind == Some(SourceKind::Switch) && is_down(cursor) {
        let count = cursor.names.sources[usize::from(source)].buttons.len();
        let buttons = (0..=u8::MAX).take(count);
        return Ok(Expr::any(
            buttons
                .map(|button| Expr::Atom(Atom::ButtonDown(source, button)))
                .collect(),
        ));
    }
    let is = cursor.take("is");
    if kind == Some(SourceKind::Daylight) && is && is_brightness(cursor) {
        return Ok(Expr::Atom(Atom::Illuminance(source, brightness(cursor)?)));
    }
    let happens = !is && cursor.take("becomes");
    let not = is && cursor.take("not");
    if is || happens {
        return match kind.and_then(|kind| words::take_source_state(cursor, kind)) {
            Some(found) if happens => Ok(becomes(Atom::Source(source, found))),
            Some(found) if not => Ok(state(source, found).negated()),
            Some(found) => Ok(state(source, found)),
            None => Err(source_error(cursor, kind)),
        };
    }
    match kind {
        Some(SourceKind::Card) if cursor.take("in") => Ok(event(source, SourceEvent::CardIn)),
        Some(SourceKind::Card) if cursor.take("out") => Ok(event(source, SourceEvent::CardOut)),
        Some(SourceKind::Clock) if cursor.take("sweeps") || cursor.take("sweep") => {
            Ok(event(source, SourceEvent::Sweep))
        }
        Some(SourceKind::FireAlarm) if cursor.take("sounds") => {
            Ok(state(source, SourceState::Alarm))
        }
        Some(SourceKind::DemandResponse) if cursor.take("sheds") => {
            Ok(state(source, SourceState::Shedding))
        }
        _ => {
            cursor.back_to(start);
            Err(no_such_button(cursor, source).unwrap_or_else(|| source_error(cursor, kind)))
        }
    }
}

/// The error for a state without its verb: `desk-lights on`.
fn without_is(cursor: &mut Cursor<'_>) -> Option<ClauseError> {
    let start = cursor.place();
    words::take_output_state(cursor)?;
    let words = cursor.place() - start;
    let state = cursor.since(start);
    cursor.back_to(start);
    let said = cursor.ahead(words);
    let message = format!("`{said}` needs a verb");
    Some(cursor.fail(state, &message, &format!("write `is {said}`")))
}

/// The error for a unit, a word and a gesture, `wall-button left tap`: it has no such button.
fn no_such_button(cursor: &Cursor<'_>, source: u16) -> Option<ClauseError> {
    let unit = &cursor.names.sources[usize::from(source)];
    let gestures = ["tap", "press", "hold", "release"];
    if unit.buttons.is_empty() || !gestures.contains(&cursor.peek(1)) {
        return None;
    }
    let wanted = cursor.peek(0);
    let hint = cursor
        .names
        .buttons_of(&format!("{}/{wanted}", unit.name))?;
    let message = format!("`{}` has no button `{wanted}`", unit.name);
    Some(cursor.fail(cursor.here(), &message, &hint))
}

/// Reads what is said of some buttons of one unit.
fn of_buttons(cursor: &mut Cursor<'_>, unit: u16, buttons: &[u8]) -> Result<Expr, ClauseError> {
    if let Some(change) = words::take_transitive(cursor) {
        let after = cursor.place();
        let mut parts = Vec::new();
        for button in buttons {
            cursor.back_to(after);
            parts.push(done_by(cursor, Doer::Button(unit, *button), change)?);
        }
        return Ok(Expr::any(parts));
    }
    if let Some(gesture) = gesture(cursor) {
        return Ok(gestures(unit, buttons, gesture));
    }
    if is_down(cursor) {
        let down = |button: &u8| Expr::Atom(Atom::ButtonDown(unit, *button));
        return Ok(Expr::any(buttons.iter().map(down).collect()));
    }
    Err(unknown_word(cursor, words::after_button(), BUTTON_HINT))
}

/// Reads `turns on X` and the like, said of a root of cause chains.
fn of_doer(cursor: &mut Cursor<'_>, doer: Doer, hint: &str) -> Result<Expr, ClauseError> {
    match words::take_transitive(cursor) {
        Some(change) => done_by(cursor, doer, change),
        None => Err(unknown_word(cursor, words::after_doer(), hint)),
    }
}

/// Reads the outputs that `doer` changes.
fn done_by(cursor: &mut Cursor<'_>, doer: Doer, change: Change) -> Result<Expr, ClauseError> {
    let outputs = subject::outputs(cursor)?;
    let done = |output: u16| changed(output, change, By::Only(doer));
    Ok(Expr::any(outputs.into_iter().map(done).collect()))
}

/// Reads `is down` or `is held down`.
fn is_down(cursor: &mut Cursor<'_>) -> bool {
    cursor.take("is down") || cursor.take("is held down")
}

/// Reads `press`, `tapped` and the like.
fn gesture(cursor: &mut Cursor<'_>) -> Option<Gesture> {
    let before = cursor.place();
    let _is = cursor.take("is");
    let found = words::take_gesture(cursor);
    if found.is_none() || cursor.peek(0) == "down" {
        cursor.back_to(before);
        return None;
    }
    found
}

/// Reads `motion` or `sound`.
pub(crate) fn channel(cursor: &mut Cursor<'_>) -> Option<Channel> {
    if cursor.take("motion") {
        Some(Channel::Motion)
    } else if cursor.take("sound") {
        Some(Channel::Sound)
    } else {
        None
    }
}

/// The event of a channel, when the source has the channel.
pub(crate) fn demand_channel(
    cursor: &Cursor<'_>,
    start: usize,
    source: u16,
    channel: Channel,
) -> Result<SourceEvent, ClauseError> {
    let name = cursor.names.source(source);
    match (cursor.names.kind(source), channel) {
        (Some(SourceKind::Occupancy { .. }), Channel::Motion) => Ok(SourceEvent::Motion),
        (Some(SourceKind::Occupancy { sound: true }), Channel::Sound) => Ok(SourceEvent::Sound),
        (Some(SourceKind::Occupancy { sound: false }), Channel::Sound) => {
            let message = format!("`{name}` does not sense sound");
            let hint =
                format!("give it `senses = [\"motion\", \"sound\"]`, or say `{name} motion`");
            Err(cursor.fail(cursor.since(start), &message, &hint))
        }
        _ => {
            let message = format!("`{name}` is no occupancy sensor");
            let hint = "only an occupancy sensor senses motion or sound";
            Err(cursor.fail(cursor.since(start), &message, hint))
        }
    }
}

/// Whether a comparison of a level comes next.
fn is_comparison(cursor: &Cursor<'_>) -> bool {
    is_brightness(cursor)
        || cursor.peek(0) == "between"
        || cursor
            .peek(0)
            .starts_with(|letter: char| letter.is_ascii_digit())
}

/// Whether a one-sided comparison comes next.
fn is_brightness(cursor: &Cursor<'_>) -> bool {
    matches!(cursor.peek(0), "at" | "above" | "below")
}

/// Reads a comparison of a level: `at most 50 %`.
fn comparison(cursor: &mut Cursor<'_>) -> Result<Compare, ClauseError> {
    if cursor.take("between") {
        let start = cursor.place();
        let least = cursor.take_level()?;
        cursor.expect("and", "write `between 20 % and 50 %`")?;
        let most = cursor.take_level()?;
        if least > most {
            let message = "the first level is above the second";
            return Err(cursor.fail(cursor.since(start), message, "write the lower level first"));
        }
        return Ok(Compare::Between(least, most));
    }
    let side = cursor.take_one(words::SIDES);
    if side.is_none() && is_brightness(cursor) {
        return Err(cursor.fail_here(
            "expected `at most` or `at least`",
            "write it like `at most 50 %`",
        ));
    }
    let level = cursor.take_level()?;
    Ok(match side {
        Some(0) => Compare::AtMost(level),
        Some(1) => Compare::AtLeast(level),
        Some(2) => Compare::Below(level),
        Some(_) => Compare::Above(level),
        None => Compare::Is(level),
    })
}

/// Reads a comparison of an illuminance: `at least 300 lx`.
fn brightness(cursor: &mut Cursor<'_>) -> Result<Brightness, ClauseError> {
    let Some(side) = cursor.take_one(words::SIDES) else {
        return Err(cursor.fail_here(
            "expected `at most` or `at least`",
            "write it like `at least 300 lx`",
        ));
    };
    let illuminance = cursor.take_illuminance()?;
    Ok(match side {
        0 => Brightness::AtMost(illuminance),
        1 => Brightness::AtLeast(illuminance),
        2 => Brightness::Below(illuminance),
        _ => Brightness::Above(illuminance),
    })
}

/// The one clock of the room, for words that speak of it without naming it.
fn the_clock(cursor: &Cursor<'_>) -> Result<u16, ClauseError> {
    match cursor.names.of_kind("clock") {
        Some(Ok(clock)) => Ok(clock),
        Some(Err(names::NotOne::Several)) => {
            let message = "the room has several clocks";
            Err(cursor.fail(
                cursor.since(cursor.place() - 1),
                message,
                "say which: `NAME is in hours`",
            ))
        }
        _ => {
            let message = "the room has no clock";
            Err(cursor.fail(
                cursor.since(cursor.place() - 1),
                message,
                "add a source of kind `clock`",
            ))
        }
    }
}

fn state(source: u16, state: SourceState) -> Expr {
    Expr::Atom(Atom::Source(source, state))
}

fn event(source: u16, event: SourceEvent) -> Expr {
    Expr::Event(Event::Source(source, event))
}

fn changed(output: u16, change: Change, by: By) -> Expr {
    Expr::Event(Event::Output(output, change, by))
}

fn becomes(atom: Atom) -> Expr {
    Expr::Becomes(alloc::boxed::Box::new(Expr::Atom(atom)))
}

/// The error for a word that cannot be said of a source of this kind.
fn source_error(cursor: &Cursor<'_>, kind: Option<SourceKind>) -> ClauseError {
    let Some(kind) = kind else {
        return cursor.fail_here("expected what is said of the source", "");
    };
    unknown_word(cursor, words::after_source(kind), words::source_hint(kind))
}

/// The error for a word that is none of `known`.
pub(crate) fn unknown_word(cursor: &Cursor<'_>, known: Vec<&str>, hint: &str) -> ClauseError {
    let word = cursor.peek(0);
    if word.is_empty() {
        return cursor.fail_here("the sentence stops too early", hint);
    }
    let near = known
        .into_iter()
        .filter_map(|known| {
            let said = cursor.ahead(known.split(' ').count());
            let edits = names::nearness(&said.to_lowercase(), known)?;
            // Of two that are equally near the one that begins like it is meant: `off` for `of`.
            Some((
                edits,
                !known.starts_with(said.as_str()),
                said != known,
                known,
            ))
        })
        .min_by_key(|near| (near.0, near.1));
    let hint = match near {
        Some((_, _, true, near)) => format!("did you mean `{near}`?"),
        _ if word == "are" => "write `is`, also of several".to_string(),
        _ => hint.to_string(),
    };
    let message = format!("`{word}` cannot be said here");
    cursor.fail(cursor.here(), &message, &hint)
}

const OUTPUT_HINT: &str = "an output `is on`, `is off`, `is 50 %`, `is at most 50 %`, `asks 50 %`, \
     `shows 50 %`, `is occupied`, `is vacant`, `is in warning`, `is in setback`, `is latched`, \
     `is open`, `is closed`; or `turns on`, `turns off`, `rises`, `falls`, `changes`, `warns`";

const BUTTON_HINT: &str = "a button is `press`, `release`, `tap`, `hold`, `is down`, or it \
     `turns on`, `turns off`, `raises`, `lowers`, `changes` an output";
