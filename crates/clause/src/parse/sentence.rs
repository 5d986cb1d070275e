//! The sentences under `always`, `never` and `only` that are more than one expression.

use alloc::vec::Vec;

use super::cursor::Cursor;
use super::{expression, subject};
use crate::expr::{Expr, Form, Kind};
use crate::words;
use crate::{By, Change, ClauseError, Doer, Event};

/// Reads what stands under `always`. `lasting` tells whether the key `for` is there.
pub(crate) fn always(cursor: &mut Cursor<'_>) -> Result<Always, ClauseError> {
    if let Some(form) = never_does(cursor)? {
        return Ok(Always::Form(form));
    }
    if let Some((change, outputs)) = does_not(cursor)? {
        if !cursor.take("for") {
            cursor.finish(STEADY_HINT)?;
            return Ok(Always::Steady(change, outputs));
        }
        let span = cursor.take_span()?;
        cursor.finish("put what excuses it under the key `unless`")?;
        return Ok(Always::Form(Form::Steady(change, outputs, span)));
    }
    let start = cursor.place();
    let expr = expression::disjunction(cursor)?;
    let said = cursor.since(start);
    if !cursor.take("only after") {
        cursor.finish(expression::JOIN_HINT)?;
        expression::demand_condition(&expr, cursor, start, ALWAYS_HINT)?;
        return Ok(Always::Form(Form::Always(expr)));
    }
    if expr.kind() != Kind::Event {
        let message = "`only after` needs an event in front";
        let hint = "write `desk-lights turns off only after … for 30 s`";
        return Err(cursor.fail(said, message, hint));
    }
    let start = cursor.place();
    let before = expression::operand(cursor)?;
    cursor.finish(expression::JOIN_HINT)?;
    if !matches!(before, Expr::Lasts(..) | Expr::Quiet(..)) {
        let message = "this must say for how long";
        let hint = "write `only after P for 30 s`, with brackets around a P of several parts";
        return Err(cursor.fail(cursor.since(start), message, hint));
    }
    Ok(Always::Form(Form::OnlyAfter(expr, before)))
}

/// What `always` can hold.
#[derive(Clone, Debug, Eq, PartialEq)]
pub(crate) enum Always {
    /// A whole form.
    Form(Form),
    /// `X does not change`: its span stands under the key `for`.
    Steady(Change, Vec<u16>),
}

/// Reads what stands under `never`.
pub(crate) fn never(cursor: &mut Cursor<'_>) -> Result<Never, ClauseError> {
    if cursor.take("more than") {
        return more_than(cursor);
    }
    if let Some(form) = never_does(cursor)? {
        return Ok(Never::Form(form));
    }
    let expr = expression::whole(cursor)?;
    Ok(Never::Form(Form::Never(expr)))
}

/// What `never` can hold.
#[derive(Clone, Debug, Eq, PartialEq)]
pub(crate) enum Never {
    /// A whole form.
    Form(Form),
    /// `more than N E`: the span stands under the key `within`.
    AtMost(u8, Expr),
}

/// Reads `N E within D` after `more than`.
fn more_than(cursor: &mut Cursor<'_>) -> Result<Never, ClauseError> {
    let start = cursor.place();
    let count = match cursor.take_count() {
        Some(count @ 1..=MOST) => u8::try_from(count).unwrap_or(u8::MAX),
        Some(_) => {
            let message = "a monitor counts from 1 to 4";
            let hint = "write `more than 3 …`; counts over a day are checks of a scenario";
            return Err(cursor.fail(cursor.since(start), message, hint));
        }
        None => {
            let hint = "write `more than 3 desk-lights turns on within 10 min`";
            return Err(cursor.fail_here("expected a number from 1 to 4", hint));
        }
    };
    let start = cursor.place();
    let event = expression::primary(cursor)?;
    if event.kind() != Kind::Event {
        let hint = "count events: `desk-lights turns on`, `(…) becomes true`";
        return Err(cursor.fail(cursor.since(start), "only events can be counted", hint));
    }
    if cursor.is_at_end() {
        return Ok(Never::AtMost(count, event));
    }
    cursor.expect("within", "say in which span: `within 10 min`")?;
    let span = cursor.take_span()?;
    cursor.finish("nothing follows the span")?;
    Ok(Never::Form(Form::AtMost(count, event, span)))
}

/// Reads `S never turns on X`, `S never affects X` or `S affects X`, when that is what stands
/// there.
fn never_does(cursor: &mut Cursor<'_>) -> Result<Option<Form>, ClauseError> {
    let before = cursor.place();
    let Ok(doers) = subject::doers(cursor) else {
        cursor.back_to(before);
        return Ok(None);
    };
    let never = cursor.take("never");
    if cursor.take("affects") || cursor.take("affect") {
        let outputs = subject::outputs(cursor)?;
        cursor.finish("name one output or a group, or write several clauses")?;
        return Ok(Some(Form::NeverAffects(doers, outputs)));
    }
    if !never {
        cursor.back_to(before);
        return Ok(None);
    }
    let Some(change) = words::take_transitive(cursor) else {
        let hint = "write `S never turns on X` or `S never affects X`";
        return Err(cursor.fail_here("expected what it never does to an output", hint));
    };
    let outputs = subject::outputs(cursor)?;
    cursor.finish("name one output or a group, or write several clauses")?;
    Ok(Some(Form::Never(done_by(&doers, change, &outputs))))
}

/// Reads `X does not change`, when that is what stands there.
fn does_not(cursor: &mut Cursor<'_>) -> Result<Option<(Change, Vec<u16>)>, ClauseError> {
    let before = cursor.place();
    let outputs = match subject::outputs(cursor) {
        Ok(outputs) if cursor.peek(0) == "does" => outputs,
        _ => {
            cursor.back_to(before);
            return Ok(None);
        }
    };
    cursor.expect("does not", STEADY_HINT)?;
    match words::take_infinitive(cursor) {
        Some(change) => Ok(Some((change, outputs))),
        None => Err(cursor.fail_here("expected what it does not do", STEADY_HINT)),
    }
}

/// Reads what stands under `only`: `S1, S2 change X`.
pub(crate) fn only(cursor: &mut Cursor<'_>) -> Result<Form, ClauseError> {
    let doers = subject::doers(cursor)?;
    let Some(change) = words::take_transitive(cursor) else {
        let hint =
            "write `wall-button, card change desk-lights` (or turn on, turn off, raise, lower)";
        return Err(cursor.fail_here("expected what only they do", hint));
    };
    let outputs = subject::outputs(cursor)?;
    cursor.finish("name one output or a group, or write several clauses")?;
    Ok(Form::OnlyBy(doers, change, outputs))
}

/// Any of the doers does this to any of the outputs.
fn done_by(doers: &[Doer], change: Change, outputs: &[u16]) -> Expr {
    let mut parts = Vec::new();
    for doer in doers {
        for output in outputs {
            let event = Event::Output(*output, change, By::Only(*doer));
            parts.push(Expr::Event(event));
        }
    }
    Expr::any(parts)
}

/// The most events that a monitor counts.
const MOST: u64 = 4;

const ALWAYS_HINT: &str = "an event is never always so: use `never`, or `when` and `then`";

const STEADY_HINT: &str = "write `desk-lights does not change for 10 s`";
