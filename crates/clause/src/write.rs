//! A clause written out again, as it would be typed.
//!
//! Invariant: reading what is written gives the same tree.

use alloc::format;
use alloc::string::{String, ToString};
use alloc::vec::Vec;

use crate::expr::{Clause, Expr, Form, When};
use crate::words;
use crate::{
    Atom, Brightness, By, Change, Channel, Compare, Doer, Event, Names, Quantity, SourceEvent,
};

/// The keys and texts of a clause.
pub(crate) fn fields(clause: &Clause, names: &Names) -> Vec<(&'static str, String)> {
    let mut fields = form(&clause.form, names);
    if let Some(during) = &clause.during {
        fields.push(("while", expr(during, names)));
    }
    if let Some(unless) = &clause.unless {
        fields.push(("unless", expr(unless, names)));
    }
    if let Some(reaction) = clause.reaction {
        fields.push(("reaction", reaction.to_string()));
    }
    fields
}

fn form(form: &Form, names: &Names) -> Vec<(&'static str, String)> {
    let one = |key, text| Vec::from([(key, text)]);
    match form {
        Form::Always(condition) => one("always", expr(condition, names)),
        Form::Never(bad) => one("never", expr(bad, names)),
        Form::AtMost(count, event, span) => one(
            "never",
            format!("more than {count} {} within {span}", tight(event, names)),
        ),
        Form::NeverAffects(by, outputs) => one(
            "always",
            format!(
                "{} never affects {}",
                doers(by, names),
                list(outputs, names)
            ),
        ),
        Form::OnlyBy(by, change, outputs) => one(
            "only",
            format!(
                "{} {} {}",
                doers(by, names),
                words::plural(*change),
                list(outputs, names)
            ),
        ),
        Form::OnlyAfter(event, before) => one(
            "always",
            format!("{} only after {}", tight(event, names), expr(before, names)),
        ),
        Form::Steady(change, outputs, span) => one(
            "always",
            format!(
                "{} does not {} for {span}",
                list(outputs, names),
                words::infinitive(*change)
            ),
        ),
        Form::When(when) => when_fields(when, names),
    }
}

fn when_fields(when: &When, names: &Names) -> Vec<(&'static str, String)> {
    let mut fields = Vec::from([
        ("when", expr(&when.trigger, names)),
        ("then", then(&when.then, names)),
    ]);
    if let Some(span) = when.within {
        fields.push(("within", span.to_string()));
    }
    if let Some(span) = when.lasting {
        fields.push(("for", span.to_string()));
    }
    if let Some(until) = &when.until {
        fields.push(("until", expr(until, names)));
    }
    fields
}

/// What stands under `then`: brackets tell that a span at its end looks back.
fn then(condition: &Expr, names: &Names) -> String {
    let text = expr(condition, names);
    if crate::parse::ends_in_span(condition) && !text.ends_with(')') {
        format!("({text})")
    } else {
        text
    }
}

/// An expression.
pub(crate) fn expr(of: &Expr, names: &Names) -> String {
    match of {
        Expr::Atom(found) => atom(found, "is", names),
        Expr::Event(found) => event(found, names),
        Expr::Not(inner) => match &**inner {
            Expr::Atom(found) if has_is(found) => atom(found, "is not", names),
            other => format!("not {}", operand(other, names)),
        },
        Expr::And(parts) => join(parts, " and ", names),
        Expr::Or(parts) => join(parts, " or ", names),
        Expr::Lasts(inner, span) => format!("{} for {span}", tight(inner, names)),
        Expr::Quiet(inner, span) => format!("no {} for {span}", tight(inner, names)),
        Expr::Follows(later, span, earlier) => format!(
            "{} within {span} of {}",
            tight(later, names),
            tight(earlier, names)
        ),
        Expr::Becomes(inner) => match &**inner {
            Expr::Atom(found) if has_becomes(found) => atom(found, "becomes", names),
            other => format!("({}) becomes true", expr(other, names)),
        },
    }
}

/// The parts of an `and` or an `or`, in brackets where they need them.
fn join(parts: &[Expr], between: &str, names: &Names) -> String {
    let bracketed = |part: &Expr| match part {
        Expr::Or(_) | Expr::And(_) if between == " and " => format!("({})", expr(part, names)),
        _ => expr(part, names),
    };
    let parts: Vec<String> = parts.iter().map(bracketed).collect();
    parts.join(between)
}

/// An expression that stands after `not`.
fn operand(of: &Expr, names: &Names) -> String {
    match of {
        Expr::And(_) | Expr::Or(_) => format!("({})", expr(of, names)),
        _ => expr(of, names),
    }
}

/// An expression that something follows, or that follows something: in brackets unless it is
/// one statement.
fn tight(of: &Expr, names: &Names) -> String {
    match of {
        Expr::Atom(_) | Expr::Event(_) => expr(of, names),
        _ => format!("({})", expr(of, names)),
    }
}

/// Whether `X becomes STATE` is read as this condition becoming true.
fn has_becomes(of: &Atom) -> bool {
    use crate::OutputState::{Occupied, Vacant};
    match of {
        Atom::Output(_, state) => !matches!(state, Occupied | Vacant),
        Atom::Source(..) => true,
        Atom::Level(..) | Atom::Illuminance(..) | Atom::ButtonDown(..) => false,
    }
}

/// Whether `X is not STATE` is read as the opposite of this condition.
fn has_is(of: &Atom) -> bool {
    match of {
        Atom::Output(..) | Atom::Source(..) | Atom::Level(_, Quantity::Target, _) => true,
        Atom::Level(..) | Atom::Illuminance(..) | Atom::ButtonDown(..) => false,
    }
}

/// A condition, with `verb` for its `is`.
fn atom(of: &Atom, verb: &str, names: &Names) -> String {
    match *of {
        Atom::Output(output, state) => {
            format!(
                "{} {verb} {}",
                names.output(output),
                words::output_state(state)
            )
        }
        Atom::Level(output, quantity, compare) => {
            let verb = match quantity {
                Quantity::Asked => "asks",
                Quantity::Target => verb,
                Quantity::Light => "shows",
            };
            format!("{} {verb} {}", names.output(output), compared(compare))
        }
        Atom::Source(source, state) => {
            format!(
                "{} {verb} {}",
                names.source(source),
                words::source_state(state)
            )
        }
        Atom::Illuminance(source, brightness) => {
            let compared = match brightness {
                Brightness::AtMost(most) => format!("at most {most}"),
                Brightness::AtLeast(least) => format!("at least {least}"),
                Brightness::Below(limit) => format!("below {limit}"),
                Brightness::Above(limit) => format!("above {limit}"),
            };
            format!("{} is {compared}", names.source(source))
        }
        Atom::ButtonDown(unit, button) => format!("{} is down", names.button(unit, button)),
    }
}

fn compared(compare: Compare) -> String {
    match compare {
        Compare::Is(level) => level.to_string(),
        Compare::AtMost(most) => format!("at most {most}"),
        Compare::AtLeast(least) => format!("at least {least}"),
        Compare::Below(limit) => format!("below {limit}"),
        Compare::Above(limit) => format!("above {limit}"),
        Compare::Between(least, most) => format!("between {least} and {most}"),
    }
}

/// An event.
fn event(of: &Event, names: &Names) -> String {
    match of {
        Event::Source(source, what) => {
            let name = names.source(*source);
            match what {
                SourceEvent::Motion => format!("motion at {name}"),
                SourceEvent::Sound => format!("sound at {name}"),
                SourceEvent::CardIn => format!("{name} in"),
                SourceEvent::CardOut => format!("{name} out"),
                SourceEvent::Sweep => format!("{name} sweeps"),
            }
        }
        Event::Button(unit, Some(button), gesture) => {
            format!(
                "{} {}",
                names.button(*unit, *button),
                words::gesture(*gesture)
            )
        }
        Event::Button(unit, None, gesture) => {
            format!("{} {}", names.source(*unit), words::gesture(*gesture))
        }
        Event::Output(output, change, By::Anyone) => {
            format!("{} {}", names.output(*output), words::change(*change))
        }
        Event::Output(output, change, By::Only(by)) => match change {
            Change::Warns => format!(
                "{} {} by {}",
                names.output(*output),
                words::change(*change),
                doer(*by, names)
            ),
            _ => format!(
                "{} {} {}",
                doer(*by, names),
                words::transitive(*change),
                names.output(*output)
            ),
        },
        Event::Output(output, change, By::NoneOf(by)) => format!(
            "{} {} by anybody but {}",
            names.output(*output),
            words::change(*change),
            doers(by, names)
        ),
        Event::Acted(by) => format!("{} acts", doer(*by, names)),
    }
}

fn doer(of: Doer, names: &Names) -> String {
    match of {
        Doer::Source(source) => names.source(source).to_string(),
        Doer::Channel(source, Channel::Motion) => format!("{} motion", names.source(source)),
        Doer::Channel(source, Channel::Sound) => format!("{} sound", names.source(source)),
        Doer::Button(unit, button) => names.button(unit, button),
        _ => {
            let found = words::DOERS.iter().find(|(_, known)| *known == of);
            found.map_or("?", |(word, _)| word).to_string()
        }
    }
}

fn doers(of: &[Doer], names: &Names) -> String {
    let written: Vec<String> = of.iter().map(|by| doer(*by, names)).collect();
    written.join(", ")
}

/// Outputs as the object of a sentence.
fn list(outputs: &[u16], names: &Names) -> String {
    let written: Vec<&str> = outputs.iter().map(|output| names.output(*output)).collect();
    match written.as_slice() {
        [only] => (*only).to_string(),
        several => format!("any of {}", several.join(", ")),
    }
}
