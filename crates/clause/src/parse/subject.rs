//! What a statement speaks of: one point, several, a group; and who did something.

use alloc::format;
use alloc::vec;
use alloc::vec::Vec;

use super::cursor::Cursor;
use super::statement;
use crate::names::{Named, NotOne};
use crate::{ClauseError, Doer, Point};

/// What a statement speaks of.
#[derive(Clone, Debug, Eq, PartialEq)]
pub(crate) enum Subject {
    /// One thing.
    One(Named),
    /// At least one of these.
    Any(Vec<Named>),
    /// Each of these.
    All(Vec<Named>),
    /// Not one of these.
    None(Vec<Named>),
}

impl Subject {
    /// What is spoken of, one by one.
    pub(crate) fn members(&self) -> &[Named] {
        match self {
            Self::One(only) => core::slice::from_ref(only),
            Self::Any(members) | Self::All(members) | Self::None(members) => members,
        }
    }
}

/// Reads `desk-lights`, `any of desks`, `all of a, b`, `none of a, b`.
pub(crate) fn subject(cursor: &mut Cursor<'_>) -> Result<Subject, ClauseError> {
    if cursor.take("any of") {
        return Ok(Subject::Any(list(cursor)?));
    }
    if cursor.take("all of") || cursor.take("each of") {
        return Ok(Subject::All(list(cursor)?));
    }
    if cursor.take("none of") {
        return Ok(Subject::None(list(cursor)?));
    }
    let named = name(cursor)?;
    Ok(Subject::One(named))
}

/// Reads names with commas between them; groups stand for their members.
fn list(cursor: &mut Cursor<'_>) -> Result<Vec<Named>, ClauseError> {
    let mut members = Vec::new();
    loop {
        match name(cursor)? {
            Named::Group(group) => members.extend(group_members(cursor, group)),
            other => members.push(other),
        }
        if !cursor.take(",") {
            return Ok(members);
        }
    }
}

/// The members of a group as names.
fn group_members(cursor: &Cursor<'_>, group: usize) -> Vec<Named> {
    let named = |member: &Point| match *member {
        Point::Source(source) => Named::Source(source),
        Point::Output(output) => Named::Output(output),
    };
    let members = &cursor.names.groups[group].members;
    members.iter().map(named).collect()
}

/// Reads one name, or fails with the nearest one.
pub(crate) fn name(cursor: &mut Cursor<'_>) -> Result<Named, ClauseError> {
    let start = cursor.place();
    match cursor.take_name() {
        Some(Named::Group(group)) if cursor.names.groups[group].members.is_empty() => {
            let message = "the group has no members";
            Err(cursor.fail(cursor.since(start), message, "add members to the group"))
        }
        Some(named) => Ok(named),
        None => Err(unknown_name(cursor)),
    }
}

/// Reads who did something: a source, a channel of it, a button, `daylight`, `power`, `site`.
pub(crate) fn doer(cursor: &mut Cursor<'_>) -> Result<Doer, ClauseError> {
    let start = cursor.place();
    match name(cursor)? {
        Named::Source(source) => {
            let channel_at = cursor.place();
            let Some(channel) = statement::channel(cursor) else {
                return Ok(Doer::Source(source));
            };
            statement::demand_channel(cursor, channel_at, source, channel)?;
            Ok(Doer::Channel(source, channel))
        }
        Named::Buttons(unit, buttons) if buttons.len() == 1 => Ok(Doer::Button(unit, buttons[0])),
        Named::Doer(doer) => Ok(doer),
        Named::Buttons(..) => {
            let message = "this names several buttons";
            Err(cursor.fail(
                cursor.since(start),
                message,
                "name them one by one, with commas",
            ))
        }
        Named::Output(_) | Named::Group(_) => {
            let message = "only a source can be the cause";
            Err(cursor.fail(
                cursor.since(start),
                message,
                "name a source, `daylight`, `power` or `site`",
            ))
        }
    }
}

/// Reads doers with commas, `and` or `or` between them. A pair of buttons stands for both.
pub(crate) fn doers(cursor: &mut Cursor<'_>) -> Result<Vec<Doer>, ClauseError> {
    let mut doers = Vec::new();
    loop {
        let start = cursor.place();
        if let Some(Named::Buttons(unit, buttons)) = cursor.take_name() {
            doers.extend(buttons.into_iter().map(|button| Doer::Button(unit, button)));
        } else {
            cursor.back_to(start);
            doers.push(doer(cursor)?);
        }
        let comma = cursor.take(",");
        let word = cursor.take("and") || cursor.take("or");
        if !comma && !word {
            return Ok(doers);
        }
    }
}

/// Reads outputs: one, a group, or `any of` some.
pub(crate) fn outputs(cursor: &mut Cursor<'_>) -> Result<Vec<u16>, ClauseError> {
    let start = cursor.place();
    let members = if cursor.take("any of") {
        list(cursor)?
    } else {
        match name(cursor)? {
            Named::Group(group) => group_members(cursor, group),
            other => vec![other],
        }
    };
    let mut outputs = Vec::new();
    for member in members {
        let Named::Output(output) = member else {
            let message = "only an output can be turned on, off, up or down";
            return Err(cursor.fail(cursor.since(start), message, "name an output"));
        };
        outputs.push(output);
    }
    Ok(outputs)
}

/// The error for words that are no name.
fn unknown_name(cursor: &Cursor<'_>) -> ClauseError {
    let word = cursor.peek(0);
    let two = format!("{word} {}", cursor.peek(1));
    for kind in [word, two.as_str()] {
        match cursor.names.of_kind(kind) {
            Some(Err(NotOne::None)) => {
                let message = format!("the room has no {kind}");
                return cursor.fail_here(&message, "add such a source, or name another");
            }
            Some(Err(NotOne::Several)) => {
                let message = format!("the room has several sources of the kind `{kind}`");
                return cursor.fail_here(&message, "say which by its name");
            }
            Some(Ok(_)) | None => {}
        }
    }
    let hint = match (cursor.names.buttons_of(word), cursor.names.nearest(word)) {
        (Some(buttons), _) => buttons,
        (None, Some(near)) => format!("did you mean `{near}`?"),
        (None, None) => "name a source, an output or a group of the room".into(),
    };
    match word {
        "" => cursor.fail_here("the sentence stops too early", "name a source or an output"),
        "(" | ")" | "," => cursor.fail_here("expected a name", &hint),
        "if" | "when" | "whenever" => cursor.fail_here(
            &format!("a sentence does not begin with `{word}`"),
            "write the trigger under its own key `when`, and what must be so under `then`",
        ),
        _ => cursor.fail_here(&format!("the room has no `{word}`"), &hint),
    }
}
