//! The keys of a clause and which of them go together.

use alloc::boxed::Box;
use alloc::format;
use alloc::string::{String, ToString};

use device::Span;

use super::cursor::{Cursor, EXACTLY, EXACTLY_HINT};
use super::expression;
use super::sentence::{self, Always, Never};
use crate::expr::{Clause, Expr, Form, Kind, When};
use crate::names::nearest;
use crate::{ClauseError, Names};

/// Reads a clause from pairs of key and text.
pub(crate) fn clause(
    fields: &[(&str, &str)],
    names: &Names,
    reaction: Span,
) -> Result<Clause, ClauseError> {
    let keys = Keys { fields, names };
    keys.check()?;
    let main = keys.main()?;
    let during = match keys.cursor("while") {
        Some(mut cursor) => Some(expression::whole_condition(&mut cursor, WHILE_HINT)?),
        None => None,
    };
    let unless = match keys.cursor("unless") {
        Some(mut cursor) => Some(expression::whole(&mut cursor)?),
        None => None,
    };
    let own_reaction = keys.reaction()?;
    let form = keys.form(main)?;
    let clause = Clause {
        form,
        during,
        unless,
        reaction: own_reaction,
    };
    keys.check_scope(main, &clause)?;
    keys.check_reaction(&clause, own_reaction.unwrap_or(reaction))?;
    Ok(clause)
}

/// The keyed text of one clause.
#[derive(Clone, Copy, Debug)]
struct Keys<'a> {
    fields: &'a [(&'a str, &'a str)],
    names: &'a Names,
}

impl<'a> Keys<'a> {
    /// The text under `key`.
    fn text(&self, key: &str) -> Option<&'a str> {
        let found = self.fields.iter().find(|(known, _)| *known == key);
        found.map(|(_, text)| *text)
    }

    /// The beginning of the text under `key`.
    fn cursor(&self, key: &'static str) -> Option<Cursor<'a>> {
        self.text(key)
            .map(|text| Cursor::new(key, text, self.names))
    }

    /// The span under `key`.
    fn span(&self, key: &'static str) -> Result<Option<Span>, ClauseError> {
        let Some(mut cursor) = self.cursor(key) else {
            return Ok(None);
        };
        let span = cursor.take_span()?;
        cursor.finish("a span and nothing else stands here")?;
        Ok(Some(span))
    }

    /// Checks that every key is known and there once, and that nothing asks for an exact moment.
    fn check(&self) -> Result<(), ClauseError> {
        for (place, (key, text)) in self.fields.iter().enumerate() {
            if !KEYS.contains(key) {
                let near = nearest(key, KEYS.iter().map(|known| known.to_string()));
                let hint = match near {
                    Some(near) => format!("did you mean `{near}`?"),
                    None => format!("the keys of a clause are {}", KEYS.join(", ")),
                };
                return Err(of_key(key, &format!("a clause has no key `{key}`"), &hint));
            }
            if self.fields[..place].iter().any(|(other, _)| other == key) {
                return Err(of_key(
                    key,
                    &format!("the key `{key}` is there twice"),
                    "keep one",
                ));
            }
            if let Some(start) = exactly(text) {
                let cursor = Cursor::new(key, text, self.names);
                return Err(cursor.fail(start..start + "exactly".len(), EXACTLY, EXACTLY_HINT));
            }
        }
        Ok(())
    }

    /// The key that says which form the clause has.
    fn main(&self) -> Result<&'static str, ClauseError> {
        let mut found = MAIN.iter().filter(|key| self.text(key).is_some());
        match (found.next(), found.next()) {
            (Some(only), None) => Ok(only),
            (Some(first), Some(second)) => {
                let message = format!("`{first}` and `{second}` do not go together");
                Err(of_key(second, &message, "write two clauses"))
            }
            (None, _) => {
                let message = "the clause does not say what it asks for";
                let hint = "give it `always`, `never`, `only`, or `when` and `then`";
                let key = self.fields.first().map_or("always", |(key, _)| key);
                Err(of_key(key, message, hint))
            }
        }
    }

    /// Reads the form that `main` begins.
    fn form(&self, main: &'static str) -> Result<Form, ClauseError> {
        let Some(mut cursor) = self.cursor(main) else {
            return Err(of_key(main, "the text is missing", "write a sentence"));
        };
        let form = match main {
            "always" => match sentence::always(&mut cursor)? {
                Always::Form(form) => form,
                Always::Steady(change, outputs) => match self.span("for")? {
                    Some(span) => Form::Steady(change, outputs, span),
                    None => {
                        let hint = "write `does not change for 10 s`, or `never` and an event";
                        return Err(cursor.fail_here("this must say for how long", hint));
                    }
                },
            },
            "never" => match sentence::never(&mut cursor)? {
                Never::Form(form) => form,
                Never::AtMost(count, event) => match self.span("within")? {
                    Some(span) => Form::AtMost(count, event, span),
                    None => {
                        let hint = "write `more than 3 … within 10 min`";
                        return Err(cursor.fail_here("this must say in which span", hint));
                    }
                },
            },
            "only" => sentence::only(&mut cursor)?,
            _ => Form::When(Box::new(self.when(&mut cursor)?)),
        };
        self.check_keys(main, &form)?;
        Ok(form)
    }

    /// Reads the parts of `when T then Q`.
    fn when(&self, cursor: &mut Cursor<'_>) -> Result<When, ClauseError> {
        let trigger = expression::whole(cursor)?;
        let Some(mut then_cursor) = self.cursor("then") else {
            return Err(of_key(
                "when",
                "`when` needs `then`",
                "say what must follow under `then`",
            ));
        };
        let then = expression::whole(&mut then_cursor)?;
        let (within, lasting) = (self.span("within")?, self.span("for")?);
        let until = match self.cursor("until") {
            Some(mut cursor) => Some(expression::whole(&mut cursor)?),
            None => None,
        };
        let whole = then_cursor.since(0);
        if ends_in_span(&then) && !then_cursor.has_just_read(")") {
            let message = "under `then` this would look back in time";
            return Err(then_cursor.fail(whole, message, LOOKS_BACK_HINT));
        }
        if (lasting.is_some() || until.is_some()) && then.kind() != Kind::Condition {
            let message = "an event cannot stay so";
            let hint = "name the condition that stays: `desk-lights is off`";
            return Err(then_cursor.fail(whole, message, hint));
        }
        if within.is_some() && lasting.is_some() {
            let message = "`within` and `for` do not go together";
            let hint = "use `within` with `until`, or write two clauses";
            return Err(of_key("for", message, hint));
        }
        Ok(When {
            trigger,
            then,
            within,
            lasting,
            until,
        })
    }

    /// Reads the reaction, which may be none at all.
    fn reaction(&self) -> Result<Option<Span>, ClauseError> {
        match self.text("reaction").map(str::trim) {
            Some("0 s" | "0 ms" | "none") => Ok(Some(Span::ZERO)),
            _ => self.span("reaction"),
        }
    }

    /// Checks that every key there is has a meaning in the form.
    fn check_keys(&self, main: &str, form: &Form) -> Result<(), ClauseError> {
        let (name, allowed): (&str, &[&str]) = match form {
            Form::Always(_) => ("`always` and a condition", &["while", "unless", "reaction"]),
            Form::Never(_) => ("`never`", &["while", "unless", "reaction"]),
            Form::AtMost(..) => ("`never more than`", &["while", "unless", "within"]),
            Form::NeverAffects(..) => ("`never affects`", &[]),
            Form::OnlyBy(..) => ("`only`", &["while", "unless"]),
            Form::OnlyAfter(..) => ("`only after`", &["while", "unless"]),
            Form::Steady(..) => ("`does not`", &["while", "unless", "for"]),
            Form::When(_) => (
                "`when`",
                &[
                    "then", "within", "for", "until", "while", "unless", "reaction",
                ],
            ),
        };
        let stray = self
            .fields
            .iter()
            .find(|(key, _)| *key != main && !allowed.contains(key));
        match stray {
            None => Ok(()),
            Some((key, _)) => {
                let message = format!("the key `{key}` has no meaning with {name}");
                let hint = match *key {
                    "within" | "for" | "until" | "then" => {
                        "deadlines and ends belong to `when` and `then`"
                    }
                    _ => "leave it out",
                };
                Err(of_key(key, &message, hint))
            }
        }
    }

    /// Checks that an excuse that is over at once does not excuse what lasts.
    fn check_scope(&self, main: &'static str, clause: &Clause) -> Result<(), ClauseError> {
        let lasts = match &clause.form {
            Form::Always(_) => true,
            Form::Never(bad) => bad.kind() != Kind::Event,
            _ => false,
        };
        match (&clause.unless, self.cursor("unless")) {
            (Some(unless), Some(mut cursor)) if lasts && unless.kind() != Kind::Condition => {
                let _parsed = expression::disjunction(&mut cursor);
                let message = format!("an event cannot excuse a `{main}` that lasts");
                let hint = "name a condition, or use `when`, `then` and `until`";
                Err(cursor.fail(cursor.since(0), &message, hint))
            }
            _ => Ok(()),
        }
    }

    /// Checks that a reaction has a meaning, and that `for` is longer.
    fn check_reaction(&self, clause: &Clause, reaction: Span) -> Result<(), ClauseError> {
        let used = match &clause.form {
            Form::Always(_) => true,
            Form::Never(bad) => bad.kind() == Kind::Condition,
            Form::When(when) => when.within.is_none() || when.until.is_some(),
            _ => false,
        };
        if clause.reaction.is_some() && !used {
            let message = "the reaction has no meaning here";
            return Err(of_key("reaction", message, "leave it out"));
        }
        if let Form::When(when) = &clause.form
            && let (Some(span), Some(cursor)) = (when.lasting, self.cursor("for"))
            && span <= clause.allowance(&when.then, reaction)
        {
            let message = format!("`for` must be longer than the reaction of {reaction}");
            let whole = 0..cursor.text_len();
            let hint = "name a shorter `reaction`, or a longer `for`";
            return Err(cursor.fail(whole, &message, hint));
        }
        Ok(())
    }
}

/// Whether the last words of an expression are a `for D` that looks back.
pub(crate) fn ends_in_span(expr: &Expr) -> bool {
    match expr {
        Expr::Lasts(..) => true,
        Expr::Not(inner) => ends_in_span(inner),
        Expr::And(parts) | Expr::Or(parts) => parts.last().is_some_and(ends_in_span),
        _ => false,
    }
}

/// Where a text asks for an exact moment.
fn exactly(text: &str) -> Option<usize> {
    let mut from = 0;
    text.split_whitespace().find_map(|word| {
        let start = from + text[from..].find(word)?;
        from = start + word.len();
        (word == "exactly").then_some(start)
    })
}

/// An error about a key itself.
fn of_key(key: &str, message: &str, hint: &str) -> ClauseError {
    ClauseError {
        key: String::from(key),
        span: 0..0,
        message: message.to_string(),
        hint: hint.to_string(),
    }
}

/// The keys that a clause can have.
const KEYS: [&str; 11] = [
    "always", "never", "only", "when", "then", "within", "for", "until", "unless", "while",
    "reaction",
];

/// The keys that say which form a clause has.
const MAIN: [&str; 4] = ["always", "never", "only", "when"];

const WHILE_HINT: &str = "name a condition: `in hours`, `card is in`";

const LOOKS_BACK_HINT: &str = "put the span under its own key: `for = \"20 min\"` to stay so, \
     `within = \"20 min\"` to become so; or bracket it if looking back is meant";
