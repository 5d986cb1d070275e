//! What a clause means for a monitor of signal temporal logic on a grid of 1 ms.

use crate::model::{Cond, Form, Mixed, Model, Pulse};

/// One formula that must be true at each sample; when it is false at t the clause is broken at
/// t + `lag`, unless the run ends before.
#[derive(Clone, Debug)]
pub(crate) struct Check {
    pub(crate) stl: String,
    pub(crate) lag: u64,
}

impl Cond {
    pub(crate) fn stl(&self) -> String {
        match self {
            Self::Signal(signal) => format!("(p{signal})"),
            Self::Not(inner) => format!("(not{})", inner.stl()),
            Self::And(one, other) => format!("({} and {})", one.stl(), other.stl()),
            Self::Or(one, other) => format!("({} or {})", one.stl(), other.stl()),
            Self::Lasts(inner, span) => {
                format!(
                    "((historically[0:{span}]{}) and (once[{span}:{span}](one)))",
                    inner.stl()
                )
            }
            Self::Quiet(event, span) => format!("(not(once[0:{}]{}))", span - 1, event.stl()),
        }
    }
}

impl Pulse {
    pub(crate) fn stl(&self) -> String {
        match self {
            Self::Signal(signal) => format!("(e{signal})"),
            Self::With(event, cond) => format!("({} and {})", event.stl(), cond.stl()),
            Self::Either(one, other) => format!("({} or {})", one.stl(), other.stl()),
            Self::Follows(later, span, earlier) => {
                format!("({} and (once[0:{span}]{}))", later.stl(), earlier.stl())
            }
            Self::Becomes(cond) => rise(&cond.stl()),
        }
    }
}

impl Mixed {
    /// As it is, at an instant.
    pub(crate) fn stl(&self) -> String {
        match self {
            Self::Cond(cond) => cond.stl(),
            Self::Pulse(pulse) => pulse.stl(),
            Self::Either(pulse, cond) => format!("({} or {})", pulse.stl(), cond.stl()),
        }
    }

    /// As a trigger: a condition stands for its becoming true.
    pub(crate) fn trigger_stl(&self) -> String {
        match self {
            Self::Cond(cond) => rise(&cond.stl()),
            Self::Pulse(pulse) => pulse.stl(),
            Self::Either(pulse, cond) => format!("({} or {})", pulse.stl(), rise(&cond.stl())),
        }
    }
}

impl Model {
    pub(crate) fn scope_stl(&self) -> String {
        let during = self.during.as_ref().map_or("(one)".into(), Cond::stl);
        let unless = self.unless.as_ref().map_or("(not(one))".into(), Mixed::stl);
        format!("({during} and (not{unless}))")
    }

    /// The meaning of the clause for a monitor of signal temporal logic on a grid of 1 ms.
    pub(crate) fn checks(&self) -> Vec<Check> {
        let scope = self.scope_stl();
        let moment = |bad: String| lasting(bad, 0);
        match &self.form {
            Form::Always(good) => {
                let bad = format!("((not{}) and {scope})", good.stl());
                vec![lasting(bad, self.allowance(good.speaks(), false))]
            }
            Form::Never(bad) => {
                let judged = format!("({} and {scope})", bad.stl());
                vec![lasting(judged, self.allowance(bad.speaks(), false))]
            }
            Form::NeverEvent(bad) => vec![moment(format!("({} and {scope})", bad.stl()))],
            Form::AtMost(count, event, span) => {
                let event = format!("({} and {scope})", event.stl());
                vec![moment(format!(
                    "({event} and {})",
                    earlier(*count, &event, *span)
                ))]
            }
            Form::OnlyBy => vec![moment(format!("((e5) and {scope})"))],
            Form::OnlyAfter(event, before, span) => {
                let before = before.stl();
                vec![moment(format!(
                    "(({} and {scope}) and (not((historically[1:{span}]{before}) and (once[{span}:{span}](one)))))",
                    event.stl()
                ))]
            }
            Form::OnlyAfterQuiet(event, before, span) => vec![moment(format!(
                "(({} and {scope}) and (once[0:{}]{}))",
                event.stl(),
                span - 1,
                before.stl()
            ))],
            Form::Steady(1) => vec![moment("(not(one))".into())],
            Form::Steady(span) => vec![moment(format!(
                "(((e4) or (e5)) and ((once[1:{}]((e4) or (e5))) and {scope}))",
                span - 1
            ))],
            _ => self.checks_after_trigger(&scope),
        }
    }

    /// The meaning of `when T then Q …`.
    fn checks_after_trigger(&self, scope: &str) -> Vec<Check> {
        match &self.form {
            Form::Within(trigger, then, within) => {
                let deadline = within.unwrap_or(self.reaction);
                let then = then.stl();
                vec![Check {
                    stl: format!(
                        "({} implies (eventually[0:{deadline}]({then} or (not{scope}))))",
                        trigger.trigger_stl()
                    ),
                    lag: if deadline == 0 { 0 } else { deadline + 1 },
                }]
            }
            Form::For(trigger, then, span, until) => {
                let clear = released_stl(until.as_ref(), scope);
                let trigger = trigger.trigger_stl();
                let owed = format!(
                    "((not{clear}) since[0:{}] ({trigger} and (not{clear})))",
                    span - 1
                );
                let bad = format!("({owed} and (not{}))", then.stl());
                vec![lasting(bad, self.allowance(then.speaks(), true))]
            }
            Form::Until(trigger, then, until) => {
                let clear = released_stl(Some(until), scope);
                let trigger = trigger.trigger_stl();
                let owed = format!("((not{clear}) since ({trigger} and (not{clear})))");
                let bad = format!("({owed} and (not{}))", then.stl());
                vec![lasting(bad, self.allowance(then.speaks(), true))]
            }
            Form::WithinUntil(trigger, then, within, until) => {
                let clear = released_stl(Some(until), scope);
                let trigger = trigger.trigger_stl();
                let then_stl = then.stl();
                let owed = format!("((not{clear}) since ({trigger} and (not{clear})))");
                let met = format!("({owed} since ({owed} and {then_stl}))");
                vec![
                    lasting(format!("({owed} and (not{met}))"), *within),
                    lasting(
                        format!("({met} and (not{then_stl}))"),
                        self.allowance(then.speaks(), true),
                    ),
                ]
            }
            _ => Vec::new(),
        }
    }

    /// The clause as it stands in books, where it has no allowance: true at each sample of a
    /// run that does not break it. Only the verdict can be compared.
    pub(crate) fn textbook(&self) -> Option<String> {
        let scope = self.scope_stl();
        match &self.form {
            Form::For(trigger, then, span, None)
                if self.during.is_none()
                    && self.unless.is_none()
                    && self.allowance(then.speaks(), true) == 0 =>
            {
                let trigger = trigger.trigger_stl();
                Some(format!(
                    "({trigger} implies (always[0:{}]{}))",
                    span - 1,
                    then.stl()
                ))
            }
            Form::Until(trigger, then, until) if self.allowance(then.speaks(), true) == 0 => {
                let (trigger, then) = (trigger.trigger_stl(), then.stl());
                let clear = released_stl(Some(until), &scope);
                Some(format!(
                    "({trigger} implies (({then} until {clear}) or (always{then})))"
                ))
            }
            _ => None,
        }
    }
}

/// What is wrong never lasts longer than its allowance.
fn lasting(bad: String, allowance: u64) -> Check {
    Check {
        stl: format!("(eventually[0:{allowance}](not{bad}))"),
        lag: if allowance == 0 { 0 } else { allowance + 1 },
    }
}

fn released_stl(until: Option<&Mixed>, scope: &str) -> String {
    match until {
        Some(until) => format!("({} or (not{scope}))", until.stl()),
        None => format!("(not{scope})"),
    }
}

/// At least `count` earlier events in the last `span` ms.
fn earlier(count: u64, event: &str, span: u64) -> String {
    if span < count {
        return "(not(one))".into();
    }
    if count == 1 {
        return format!("(once[1:{span}]{event})");
    }
    let parts: Vec<String> = (1..=span - (count - 1))
        .map(|at| {
            let rest = earlier(count - 1, event, span - at);
            format!("(once[{at}:{at}]({event} and {rest}))")
        })
        .collect();
    format!("({})", parts.join(" or "))
}

fn rise(stl: &str) -> String {
    format!("({stl} and (once[1:1](not{stl})))")
}

// How deeply expressions are nested: a signal is 0.

impl Cond {
    fn nesting(&self) -> u32 {
        match self {
            Self::Signal(_) => 0,
            Self::Not(inner) | Self::Lasts(inner, _) => 1 + inner.nesting(),
            Self::And(one, other) | Self::Or(one, other) => 1 + one.nesting().max(other.nesting()),
            Self::Quiet(event, _) => 1 + event.nesting(),
        }
    }
}

impl Pulse {
    fn nesting(&self) -> u32 {
        match self {
            Self::Signal(_) => 0,
            Self::With(event, cond) => 1 + event.nesting().max(cond.nesting()),
            Self::Either(one, other) | Self::Follows(one, _, other) => {
                1 + one.nesting().max(other.nesting())
            }
            Self::Becomes(cond) => 1 + cond.nesting(),
        }
    }
}

impl Mixed {
    fn nesting(&self) -> u32 {
        match self {
            Self::Cond(cond) => cond.nesting(),
            Self::Pulse(pulse) => pulse.nesting(),
            Self::Either(pulse, cond) => 1 + pulse.nesting().max(cond.nesting()),
        }
    }
}

impl Model {
    /// How deeply the expressions of the clause are nested.
    pub(crate) fn nesting(&self) -> u32 {
        let form = match &self.form {
            Form::Always(cond) | Form::Never(cond) => cond.nesting(),
            Form::NeverEvent(pulse) | Form::AtMost(_, pulse, _) => pulse.nesting(),
            Form::OnlyBy | Form::Steady(_) => 0,
            Form::OnlyAfter(pulse, cond, _) => pulse.nesting().max(cond.nesting()),
            Form::OnlyAfterQuiet(one, other, _) => one.nesting().max(other.nesting()),
            Form::Within(trigger, then, _) => trigger.nesting().max(then.nesting()),
            Form::For(trigger, then, _, _)
            | Form::Until(trigger, then, _)
            | Form::WithinUntil(trigger, then, _, _) => trigger.nesting().max(then.nesting()),
        };
        let during = self.during.as_ref().map_or(0, Cond::nesting);
        let unless = self.unless.as_ref().map_or(0, Mixed::nesting);
        form.max(during).max(unless)
    }
}
