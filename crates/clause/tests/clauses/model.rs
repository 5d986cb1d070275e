//! Random clauses and random runs on a grid of 1 ms, and what the
//! crate says of them.
//!
//! Nothing here uses the parser or the nodes of the crate; a clause is made as a tree of its
//! own and only its text reaches the crate.

use clause::{
    Atom, By, Change, Compare, Doer, Effects, Event, Formula, Gesture, Monitor, Origin,
    OutputState, Quantity, SourceEvent, SourceState, Turn, View,
};
use device::{Level, Span};

/// A small generator (splitmix64, Steele, Lea and Flood 2014).
#[derive(Clone, Debug)]
pub(crate) struct Dice(pub(crate) u64);

impl Dice {
    /// A number below `limit`.
    pub(crate) fn below(&mut self, limit: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (mixed ^ (mixed >> 31)) % limit
    }

    /// True once in `times`.
    pub(crate) fn one_in(&mut self, times: u64) -> bool {
        self.below(times) == 0
    }
}

/// A condition.
#[derive(Clone, Debug)]
pub(crate) enum Cond {
    Signal(usize),
    Not(Box<Cond>),
    And(Box<Cond>, Box<Cond>),
    Or(Box<Cond>, Box<Cond>),
    Lasts(Box<Cond>, u64),
    Quiet(Box<Pulse>, u64),
}

/// An event.
#[derive(Clone, Debug)]
pub(crate) enum Pulse {
    Signal(usize),
    With(Box<Pulse>, Box<Cond>),
    Either(Box<Pulse>, Box<Pulse>),
    Follows(Box<Pulse>, u64, Box<Pulse>),
    Becomes(Box<Cond>),
}

/// What starts an obligation, and what may release one.
#[derive(Clone, Debug)]
pub(crate) enum Mixed {
    Cond(Cond),
    Pulse(Pulse),
    Either(Pulse, Cond),
}

/// The forms of a clause.
#[derive(Clone, Debug)]
pub(crate) enum Form {
    Always(Cond),
    Never(Cond),
    NeverEvent(Pulse),
    AtMost(u64, Pulse, u64),
    OnlyBy,
    OnlyAfter(Pulse, Cond, u64),
    OnlyAfterQuiet(Pulse, Pulse, u64),
    Steady(u64),
    Within(Mixed, Mixed, Option<u64>),
    For(Mixed, Cond, u64, Option<Mixed>),
    Until(Mixed, Cond, Mixed),
    WithinUntil(Mixed, Cond, u64, Mixed),
}

/// The names of the forms, for counts by form.
pub(crate) const FORMS: [&str; 13] = [
    "always P",
    "never P",
    "never E",
    "never more than N E within D",
    "only S changes X",
    "E only after P for D",
    "E only after no E2 for D",
    "X does not change for D",
    "when T then Q within D",
    "when T then Q for D",
    "when T then Q for D until R",
    "when T then Q until R",
    "when T then Q within D until R",
];

/// A clause.
#[derive(Clone, Debug)]
pub(crate) struct Model {
    pub(crate) form: Form,
    pub(crate) during: Option<Cond>,
    pub(crate) unless: Option<Mixed>,
    /// The reaction of the room, and whether the clause names it itself.
    pub(crate) reaction: u64,
    named: bool,
}

/// What the signals of the model are called in a clause.
const CONDITIONS: [&str; 4] = [
    "desk-lights is on",
    "door-lights is at least 50 %",
    "wall-sensor is occupied",
    "card is in",
];

/// What the events of the model are called in a clause. The last two are the changes of the
/// outlet: by the card, and by anybody else.
const EVENTS: [&str; 6] = [
    "motion at wall-sensor",
    "wall-button/up press",
    "wall-button turns on desk-lights",
    "desk-outlet turns off",
    "card changes desk-outlet",
    "wall-sensor changes desk-outlet",
];

/// How many of the events may stand in expressions.
const FREE_EVENTS: u64 = 4;

/// A clause of the form with this number in [`FORMS`].
pub(crate) fn model(form: usize, dice: &mut Dice) -> Model {
    let depth = dice.below(3) as u32 + 1;
    let reaction = [0, 0, 3, 7][dice.below(4) as usize];
    let longer = reaction + 1 + dice.below(20);
    let span = 1 + dice.below(20);
    let form = match form {
        0 => Form::Always(cond(depth, dice)),
        1 => Form::Never(cond(depth, dice)),
        2 => Form::NeverEvent(pulse(depth, dice)),
        3 => Form::AtMost(1 + dice.below(4), pulse(1, dice), 2 + dice.below(7)),
        4 => Form::OnlyBy,
        5 => Form::OnlyAfter(pulse(1, dice), cond(depth, dice), span),
        6 => Form::OnlyAfterQuiet(pulse(1, dice), pulse(depth, dice), span),
        7 => Form::Steady(span),
        8 => {
            let within = (!dice.one_in(4)).then_some(span);
            Form::Within(mixed(depth, dice), mixed(depth, dice), within)
        }
        9 => Form::For(mixed(depth, dice), cond(depth, dice), longer, None),
        10 => {
            let until = Some(mixed(1, dice));
            Form::For(mixed(depth, dice), cond(depth, dice), longer, until)
        }
        11 => Form::Until(mixed(depth, dice), cond(depth, dice), mixed(depth, dice)),
        _ => Form::WithinUntil(mixed(depth, dice), cond(depth, dice), span, mixed(1, dice)),
    };
    let lasting = matches!(form, Form::Always(_) | Form::Never(_));
    let during = dice.one_in(3).then(|| cond(1, dice));
    let unless = dice.one_in(3).then(|| match lasting {
        true => Mixed::Cond(cond(1, dice)),
        false => mixed(1, dice),
    });
    let used = match &form {
        Form::Always(_) | Form::Never(_) | Form::For(..) => true,
        Form::Within(_, _, within) => within.is_none(),
        Form::Until(..) | Form::WithinUntil(..) => true,
        _ => false,
    };
    Model {
        form,
        during,
        unless,
        reaction,
        named: used && dice.one_in(2),
    }
}

fn cond(depth: u32, dice: &mut Dice) -> Cond {
    if depth == 0 {
        return Cond::Signal(dice.below(4) as usize);
    }
    let inner = |dice: &mut Dice| Box::new(cond(depth - 1, dice));
    match dice.below(7) {
        0 => Cond::Not(inner(dice)),
        1 => Cond::And(inner(dice), inner(dice)),
        2 | 3 => Cond::Or(inner(dice), inner(dice)),
        4 => Cond::Lasts(inner(dice), 1 + dice.below(12)),
        5 => Cond::Quiet(Box::new(pulse(depth - 1, dice)), 1 + dice.below(20)),
        _ => Cond::Signal(dice.below(4) as usize),
    }
}

fn pulse(depth: u32, dice: &mut Dice) -> Pulse {
    if depth == 0 {
        return Pulse::Signal(dice.below(FREE_EVENTS) as usize);
    }
    let inner = |dice: &mut Dice| Box::new(pulse(depth - 1, dice));
    match dice.below(6) {
        0 => {
            let event = inner(dice);
            Pulse::With(event, Box::new(cond(depth - 1, dice)))
        }
        1 => Pulse::Either(inner(dice), inner(dice)),
        2 => Pulse::Follows(inner(dice), 1 + dice.below(12), inner(dice)),
        3 => Pulse::Becomes(Box::new(cond(depth - 1, dice))),
        _ => Pulse::Signal(dice.below(FREE_EVENTS) as usize),
    }
}

fn mixed(depth: u32, dice: &mut Dice) -> Mixed {
    match dice.below(5) {
        0 | 1 => Mixed::Cond(cond(depth, dice)),
        2 | 3 => Mixed::Pulse(pulse(depth, dice)),
        _ => Mixed::Either(pulse(depth - 1, dice), cond(depth - 1, dice)),
    }
}

// The text of a clause.

impl Cond {
    fn text(&self) -> String {
        match self {
            Self::Signal(signal) => CONDITIONS[*signal].into(),
            Self::Not(inner) => format!("not ({})", inner.text()),
            Self::And(one, other) => format!("({}) and ({})", one.text(), other.text()),
            Self::Or(one, other) => format!("({}) or ({})", one.text(), other.text()),
            Self::Lasts(inner, span) => format!("(({}) for {span} ms)", inner.text()),
            Self::Quiet(event, span) => format!("no ({}) for {span} ms", event.text()),
        }
    }

    /// Whether an output is spoken of, and whether a source or a span is.
    pub(crate) fn speaks(&self) -> (bool, bool) {
        match self {
            Self::Signal(signal) => (*signal < 2, *signal >= 2),
            Self::Not(inner) => inner.speaks(),
            Self::And(one, other) | Self::Or(one, other) => or(one.speaks(), other.speaks()),
            Self::Lasts(inner, _) => (inner.speaks().0, true),
            Self::Quiet(event, _) => (event.speaks().0, true),
        }
    }
}

impl Pulse {
    fn text(&self) -> String {
        match self {
            Self::Signal(signal) => EVENTS[*signal].into(),
            Self::With(event, cond) => format!("({}) and ({})", event.text(), cond.text()),
            Self::Either(one, other) => format!("({}) or ({})", one.text(), other.text()),
            Self::Follows(later, span, earlier) => {
                format!(
                    "({}) within {span} ms of ({})",
                    later.text(),
                    earlier.text()
                )
            }
            Self::Becomes(cond) => format!("({}) becomes true", cond.text()),
        }
    }

    pub(crate) fn speaks(&self) -> (bool, bool) {
        match self {
            Self::Signal(signal) => (*signal >= 2, *signal < 2),
            Self::With(event, cond) => or(event.speaks(), cond.speaks()),
            Self::Either(one, other) => or(one.speaks(), other.speaks()),
            Self::Follows(later, _, earlier) => (or(later.speaks(), earlier.speaks()).0, true),
            Self::Becomes(cond) => cond.speaks(),
        }
    }
}

impl Mixed {
    fn text(&self) -> String {
        match self {
            Self::Cond(cond) => cond.text(),
            Self::Pulse(pulse) => pulse.text(),
            Self::Either(pulse, cond) => format!("({}) or ({})", pulse.text(), cond.text()),
        }
    }
}

impl Model {
    /// The keys and texts of the clause.
    pub(crate) fn fields(&self) -> Vec<(&'static str, String)> {
        let ms = |span: &u64| format!("{span} ms");
        let mut fields = match &self.form {
            Form::Always(good) => vec![("always", good.text())],
            Form::Never(bad) => vec![("never", bad.text())],
            Form::NeverEvent(bad) => vec![("never", bad.text())],
            Form::AtMost(count, event, span) => {
                let text = format!("more than {count} ({}) within {span} ms", event.text());
                vec![("never", text)]
            }
            Form::OnlyBy => vec![("only", "card changes desk-outlet".into())],
            Form::OnlyAfter(event, before, span) => {
                let (event, before) = (event.text(), before.text());
                vec![(
                    "always",
                    format!("({event}) only after ({before}) for {span} ms"),
                )]
            }
            Form::OnlyAfterQuiet(event, before, span) => {
                let (event, before) = (event.text(), before.text());
                vec![(
                    "always",
                    format!("({event}) only after no ({before}) for {span} ms"),
                )]
            }
            Form::Steady(span) => {
                vec![(
                    "always",
                    format!("desk-outlet does not change for {span} ms"),
                )]
            }
            Form::Within(trigger, then, within) => {
                let mut fields = vec![("when", trigger.text()), ("then", bracketed(&then.text()))];
                fields.extend(within.as_ref().map(|span| ("within", ms(span))));
                fields
            }
            Form::For(trigger, then, span, until) => {
                let mut fields = vec![("when", trigger.text()), ("then", bracketed(&then.text()))];
                fields.push(("for", ms(span)));
                fields.extend(until.as_ref().map(|until| ("until", until.text())));
                fields
            }
            Form::Until(trigger, then, until) => vec![
                ("when", trigger.text()),
                ("then", bracketed(&then.text())),
                ("until", until.text()),
            ],
            Form::WithinUntil(trigger, then, within, until) => vec![
                ("when", trigger.text()),
                ("then", bracketed(&then.text())),
                ("within", ms(within)),
                ("until", until.text()),
            ],
        };
        fields.extend(self.during.as_ref().map(|during| ("while", during.text())));
        fields.extend(self.unless.as_ref().map(|unless| ("unless", unless.text())));
        if self.named {
            fields.push(("reaction", ms(&self.reaction).replace("0 ms", "0 s")));
        }
        fields
    }

    /// The clause as the crate reads it.
    pub(crate) fn formula(&self) -> Formula {
        let fields = self.fields();
        let fields: Vec<(&str, &str)> = fields.iter().map(|(k, t)| (*k, t.as_str())).collect();
        crate::names::parse_with(&fields, Span::from_ms(self.reaction))
    }

    /// The allowance for what must never be (or, after a trigger, be missing).
    pub(crate) fn allowance(&self, speaks: (bool, bool), after_trigger: bool) -> u64 {
        let (outputs, others) = speaks;
        if self.named || (outputs && (others || after_trigger)) {
            self.reaction
        } else {
            0
        }
    }
}

fn bracketed(text: &str) -> String {
    format!("({text})")
}

fn or(one: (bool, bool), other: (bool, bool)) -> (bool, bool) {
    (one.0 || other.0, one.1 || other.1)
}

// Runs.

/// A run on a grid of 1 ms.
#[derive(Clone, Debug)]
pub(crate) struct Trace {
    pub(crate) conditions: [Vec<bool>; 4],
    pub(crate) events: [Vec<bool>; 6],
}

impl Trace {
    pub(crate) fn random(dice: &mut Dice) -> Self {
        let length = 20 + dice.below(100) as usize;
        let conditions = std::array::from_fn(|_| {
            let pace = 2 + dice.below(25);
            let mut value = dice.one_in(2);
            let mut next = |dice: &mut Dice| {
                value ^= dice.one_in(pace);
                value
            };
            (0..length).map(|_| next(dice)).collect()
        });
        let events = std::array::from_fn(|_| {
            let pace = 2 + dice.below(30);
            (0..length).map(|_| dice.one_in(pace)).collect()
        });
        Self { conditions, events }
    }

    pub(crate) fn length(&self) -> u64 {
        self.conditions[0].len() as u64
    }

    /// Whether anything is new at this sample.
    fn is_busy(&self, at: usize) -> bool {
        let changed = |values: &Vec<bool>| at == 0 || values[at] != values[at - 1];
        self.conditions.iter().any(changed) || self.events.iter().any(|values| values[at])
    }
}

/// What the crate says of a run.
#[derive(Clone, Debug)]
pub(crate) struct Judged {
    /// When the monitor called the clause broken.
    pub(crate) broken_at: Option<u64>,
    /// The monitor at the end.
    pub(crate) monitor: Monitor,
}

/// Runs a monitor over a run; `dice` adds instants at which nothing happens.
pub(crate) fn judge(formula: &Formula, trace: &Trace, dice: &mut Dice) -> Judged {
    let mut monitor = Monitor::new();
    let mut timers = Timers {
        now: 0,
        deadlines: vec![None; usize::from(formula.timers())],
        broken_at: None,
    };
    for at in 0..trace.length() {
        timers.now = at;
        let elapsed = timers.take_elapsed();
        if trace.is_busy(at as usize) || elapsed != 0 || dice.one_in(10) {
            let sample = Sample {
                trace,
                at: at as usize,
            };
            monitor.judge(formula, &sample, elapsed, &mut timers);
        }
    }
    Judged {
        broken_at: timers.broken_at,
        monitor,
    }
}

#[derive(Debug)]
struct Timers {
    now: u64,
    deadlines: Vec<Option<u64>>,
    broken_at: Option<u64>,
}

impl Timers {
    fn take_elapsed(&mut self) -> u32 {
        let mut elapsed = 0;
        for (timer, deadline) in self.deadlines.iter_mut().enumerate() {
            if *deadline == Some(self.now) {
                *deadline = None;
                elapsed |= 1 << timer;
            }
        }
        elapsed
    }
}

impl Effects for Timers {
    fn start(&mut self, timer: u8, span: Span) {
        assert!(!span.is_zero(), "a timer of no length never elapses");
        self.deadlines[usize::from(timer)] = Some(self.now + span.as_ms());
    }

    fn stop(&mut self, timer: u8) {
        self.deadlines[usize::from(timer)] = None;
    }

    fn turn(&mut self, turn: Turn) {
        if turn == Turn::Broken {
            assert_eq!(self.broken_at, None, "a clause breaks once");
            self.broken_at = Some(self.now);
        }
    }
}

/// One sample of a run as a room would show it.
#[derive(Debug)]
struct Sample<'a> {
    trace: &'a Trace,
    at: usize,
}

impl View for Sample<'_> {
    fn holds(&self, atom: &Atom) -> bool {
        let half = Compare::AtLeast(Level::from_percent(50));
        let signal = match *atom {
            Atom::Output(0, OutputState::On) => 0,
            Atom::Level(2, Quantity::Target, compare) if compare == half => 1,
            Atom::Source(8, SourceState::Occupied) => 2,
            Atom::Source(0, SourceState::CardIn) => 3,
            _ => panic!("no clause of the model asks for {atom:?}"),
        };
        self.trace.conditions[signal][self.at]
    }

    fn happened(&self, event: &Event) -> bool {
        let now = |event: usize| self.trace.events[event][self.at];
        match event {
            Event::Source(8, SourceEvent::Motion) => now(0),
            Event::Button(7, Some(0), Gesture::Press) => now(1),
            Event::Output(0, Change::TurnsOn, By::Only(Doer::Source(7))) => now(2),
            Event::Output(1, Change::TurnsOff, By::Anyone) => now(3),
            Event::Output(1, Change::Changes, by) => {
                (now(4) && by.admits(Origin::Source(0))) || (now(5) && by.admits(Origin::Sound(8)))
            }
            // What only tells whether a clause was exercised.
            Event::Acted(_) | Event::Output(_, _, By::Anyone) => false,
            _ => panic!("no clause of the model asks for {event:?}"),
        }
    }
}
