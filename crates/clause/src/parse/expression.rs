//! Expressions: `not`, `and`, `or`, `for D`, `no E for D`, `E2 within D of E1`.
//!
//! `not` binds tighter than `and`, `and` tighter than `or`, and what follows a statement
//! (`for D`, `within D of E`, `becomes true`) tighter than all three.

use alloc::boxed::Box;
use alloc::vec;

use super::cursor::{Cursor, SPAN_HINT};
use super::statement;
use crate::ClauseError;
use crate::expr::{Expr, Kind};

/// Reads a whole expression and nothing after it.
pub(crate) fn whole(cursor: &mut Cursor<'_>) -> Result<Expr, ClauseError> {
    let expr = disjunction(cursor)?;
    cursor.finish(JOIN_HINT)?;
    Ok(expr)
}

/// Reads a whole expression that must be true for a while, not only at instants.
pub(crate) fn whole_condition(cursor: &mut Cursor<'_>, hint: &str) -> Result<Expr, ClauseError> {
    let start = cursor.place();
    let expr = whole(cursor)?;
    demand_condition(&expr, cursor, start, hint)?;
    Ok(expr)
}

/// Reads `A or B or …`.
pub(crate) fn disjunction(cursor: &mut Cursor<'_>) -> Result<Expr, ClauseError> {
    let mut parts = vec![conjunction(cursor)?];
    while cursor.take("or") {
        parts.push(conjunction(cursor)?);
    }
    Ok(Expr::any(parts))
}

/// Reads `A and B and …`.
fn conjunction(cursor: &mut Cursor<'_>) -> Result<Expr, ClauseError> {
    let mut parts = vec![operand(cursor)?];
    while cursor.take("and") {
        parts.push(operand(cursor)?);
    }
    Ok(Expr::all(parts))
}

/// Reads `not A` or a statement with all that follows it.
pub(crate) fn operand(cursor: &mut Cursor<'_>) -> Result<Expr, ClauseError> {
    let start = cursor.place();
    if cursor.take("not") {
        cursor.descend()?;
        let inner_start = cursor.place();
        let inner = operand(cursor)?;
        demand_condition(&inner, cursor, inner_start, NOT_HINT)?;
        cursor.ascend();
        return Ok(inner.negated());
    }
    let mut expr = if cursor.take("no") {
        silence(cursor)?
    } else {
        primary(cursor)?
    };
    loop {
        if cursor.peek(0) == "for" {
            demand_condition(&expr, cursor, start, FOR_HINT)?;
            cursor.take("for");
            expr = Expr::Lasts(Box::new(expr), cursor.take_span()?);
        } else if cursor.peek(0) == "within" {
            cursor.take("within");
            let span = cursor.take_span()?;
            cursor.expect(
                "of",
                "write `E2 within 10 s of E1`, or put a deadline under the key `within`",
            )?;
            expr = Expr::Follows(Box::new(expr), span, Box::new(primary(cursor)?));
        } else if cursor.sees("becomes true") {
            demand_condition(
                &expr,
                cursor,
                start,
                "an event happens, a condition becomes true",
            )?;
            cursor.take("becomes true");
            expr = Expr::Becomes(Box::new(expr));
        } else {
            return Ok(expr);
        }
    }
}

/// Reads what follows `no`: an event and `for D`.
fn silence(cursor: &mut Cursor<'_>) -> Result<Expr, ClauseError> {
    let start = cursor.place();
    let event = primary(cursor)?;
    if event.kind() != Kind::Event {
        let hint = "for a condition write `not (…) for 5 min`";
        return Err(cursor.fail(cursor.since(start), "`no` needs an event", hint));
    }
    if !cursor.take("for") {
        let hint = "write `no motion at … for 20 min`; put several events in brackets";
        return Err(cursor.fail_here("expected `for`", hint));
    }
    if cursor.is_at_end() {
        return Err(cursor.fail_here("expected a span of time", SPAN_HINT));
    }
    Ok(Expr::Quiet(Box::new(event), cursor.take_span()?))
}

/// Reads a bracket or a statement.
pub(crate) fn primary(cursor: &mut Cursor<'_>) -> Result<Expr, ClauseError> {
    if !cursor.take("(") {
        return statement::statement(cursor);
    }
    cursor.descend()?;
    let inner = disjunction(cursor)?;
    cursor.expect(")", "close the bracket")?;
    cursor.ascend();
    Ok(inner)
}

/// Fails unless `expr`, read since `start`, is true for a while.
pub(crate) fn demand_condition(
    expr: &Expr,
    cursor: &Cursor<'_>,
    start: usize,
    hint: &str,
) -> Result<(), ClauseError> {
    if expr.kind() == Kind::Condition {
        return Ok(());
    }
    let message = "an event is over at once; this needs a condition";
    Err(cursor.fail(cursor.since(start), message, hint))
}

pub(crate) const JOIN_HINT: &str = "join statements with `and` or `or`; put deadlines and ends under their \
     own keys `within`, `for`, `until`";

const NOT_HINT: &str = "say for how long: `no motion at … for 5 min`";

const FOR_HINT: &str = "for an event write `no E for 5 min`";
