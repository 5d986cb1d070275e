//! Every error points into the text and says what to write instead.

use clause::Formula;
use device::Span;

use crate::names::names;

/// Fails to read a clause, and shows the error: the key, the text with what is pointed at in
/// `[…]`, the message and the hint.
fn error(fields: &[(&str, &str)]) -> String {
    let error = match Formula::parse(fields, &names(), Span::from_seconds(1)) {
        Ok(formula) => panic!("{fields:?} is read as {}", formula.describe(&names())),
        Err(error) => error,
    };
    let text = fields.iter().find(|(key, _)| *key == error.key);
    let text = text.map_or("", |(_, text)| text);
    let (start, end) = (error.span.start, error.span.end);
    let marked = format!("{}[{}]{}", &text[..start], &text[start..end], &text[end..]);
    assert!(!error.hint.is_empty(), "{error:?} has a hint");
    assert!(!error.message.ends_with('.'), "{error:?} has no period");
    assert_eq!(error.to_string(), error.message);
    format!(
        "{}: {marked} | {} | {}",
        error.key, error.message, error.hint
    )
}

/// The error of an expression under `never`.
fn never(text: &str) -> String {
    let shown = error(&[("never", text)]);
    shown
        .strip_prefix("never: ")
        .expect("it is under never")
        .into()
}

/// Checks the beginnings of the errors of several expressions under `never`.
fn check(expected: &[(&str, &str)]) {
    for (text, shown) in expected {
        let found = never(text);
        assert!(
            found.starts_with(shown),
            "{text:?}\n found {found}\nwanted {shown}"
        );
    }
}

#[test]
fn an_unknown_name_is_answered_with_the_nearest() {
    check(&[
        (
            "desk-light is on",
            "[desk-light] is on | the room has no `desk-light` | did you mean `desk-lights`?",
        ),
        (
            "motion at wall-senso",
            "motion at [wall-senso] | the room has no `wall-senso` | did you mean `wall-sensor`?",
        ),
        (
            "any of lihgts is on",
            "any of [lihgts] is on | the room has no `lihgts` | did you mean `lights`?",
        ),
        (
            "wall-unit/flim tap",
            "[wall-unit/flim] tap | the room has no `wall-unit/flim` | did you mean `wall-unit/film`?",
        ),
        (
            "wall-unit/x tap",
            "[wall-unit/x] tap | the room has no `wall-unit/x` | its buttons are \
             `wall-unit/zone-a up`, `wall-unit/zone-a down`, `wall-unit/film`, `wall-unit/zone b up`",
        ),
        (
            "photo/up tap",
            "[photo/up] tap | the room has no `photo/up` | `photo` has no buttons: write its \
             name without a slash",
        ),
        (
            "xylophone is on",
            "[xylophone] is on | the room has no `xylophone` | name a source, an output or a group",
        ),
        (
            "any of desk-lights, is on",
            "any of desk-lights, [is] on | the room has no `is`",
        ),
        (
            "any of ( is on",
            "any of [(] is on | expected a name, not `(`",
        ),
        (
            "",
            "[] | the sentence stops too early | name a source or an output",
        ),
        (
            "desk-lights is on and",
            "desk-lights is on and[] | the sentence stops too early",
        ),
        (
            "desk-lights is on and  ",
            "desk-lights is on and[]   | the sentence stops too early",
        ),
    ]);
}

#[test]
fn a_sentence_that_begins_with_its_trigger_is_told_where_that_stands() {
    for word in ["if", "when", "whenever"] {
        let shown = format!(
            "[{word}] motion at wall-sensor | a sentence does not begin with `{word}` | \
             write the trigger under its own key `when`"
        );
        check(&[(&format!("{word} motion at wall-sensor"), &shown)]);
    }
}

#[test]
fn an_unknown_word_is_answered_with_the_nearest_or_with_all() {
    check(UNKNOWN_WORDS);
}

#[test]
fn a_state_without_its_verb_and_a_button_that_is_not_there_are_named() {
    check(&[
        (
            "desk-lights on",
            "desk-lights [on] | `on` needs a verb | write `is on`",
        ),
        (
            "desk-lights in warning and card is in",
            "desk-lights [in warning] and card is in | `in warning` needs a verb | write `is in warning`",
        ),
        (
            "wall-button left tap",
            "wall-button [left] tap | `wall-button` has no button `left` | its buttons are \
             `wall-button/up`, `wall-button/down`",
        ),
        (
            "wall-button dwn hold",
            "wall-button [dwn] hold | `wall-button` has no button `dwn` | did you mean \
             `wall-button/down`?",
        ),
        (
            "wall-sensor left tap",
            "wall-sensor [left] tap | `left` cannot be said here | did you mean `lost`?",
        ),
        (
            "wall-button left motion",
            "wall-button [left] motion | `left` cannot be said here",
        ),
    ]);
}

#[test]
fn of_two_words_that_are_equally_near_the_one_that_begins_alike_is_meant() {
    check(&[
        (
            "desk-lights is of",
            "desk-lights is [of] | `of` cannot be said here | did you mean `off`?",
        ),
        (
            "any of lights are on",
            "any of lights [are] on | `are` cannot be said here | write `is`, also of several",
        ),
    ]);
}

#[test]
fn words_for_a_kind_need_one_source_of_the_kind() {
    let mut names = names();
    names.sources.retain(|source| source.name != "time-clock");
    let read = |text: &str| Formula::parse(&[("never", text)], &names, Span::ZERO);
    for text in ["in hours", "after hours", "sweep"] {
        let error = read(text).expect_err("there is no clock");
        assert_eq!(error.message, "the room has no clock");
        assert_eq!(
            &text[error.span],
            text.split(' ').next_back().expect("it has words")
        );
    }
    let error = read("clock is in hours").expect_err("there is no clock");
    assert_eq!(error.message, "the room has no clock");
    let mut twice = crate::names::names();
    for name in ["mains", "time-clock"] {
        let found = twice.sources.iter().find(|source| source.name == name);
        let mut second = found.expect("the room has it").clone();
        second.name = format!("second-{name}");
        twice.sources.push(second);
    }
    let read = |text: &str| Formula::parse(&[("never", text)], &twice, Span::ZERO);
    let error = read("normal power is lost").expect_err("there are two");
    assert_eq!(
        error.message,
        "the room has several sources of the kind `normal power`"
    );
    let error = read("in hours").expect_err("there are two");
    assert_eq!(error.message, "the room has several clocks");
    assert_eq!(error.span, 3..8);
    let error = read("after hours").expect_err("there are two");
    assert_eq!(error.span, 6..11);
}

#[test]
fn spans_levels_and_counts_are_checked() {
    check(QUANTITIES);
}

#[test]
fn events_and_conditions_are_not_confused() {
    check(CONFUSED);
    let always = |text| error(&[("always", text)]);
    assert!(always("card in").starts_with("always: [card in] | an event is over at once"));
    assert!(
        always("card is in only after photo is lost for 5 s").starts_with(
            "always: [card is in] only after photo is lost for 5 s | `only after` needs an event"
        )
    );
    assert!(
        always("card in only after photo is lost")
            .starts_with("always: card in only after [photo is lost] | this must say for how long")
    );
    let scoped = |key, text| error(&[("never", "card is in"), (key, text)]);
    assert!(scoped("while", "card in").starts_with("while: [card in] | an event is over at once"));
    assert!(scoped("unless", "card in").starts_with("unless: [card in] | an event cannot excuse"));
    let excused = error(&[("always", "card is in"), ("unless", "card in")]);
    assert!(excused.starts_with("unless: [card in] | an event cannot excuse a `always`"));
}

#[test]
fn doers_and_what_they_do_are_checked() {
    check(&[
        (
            "card turns on wall-button",
            "card turns on [wall-button] | only an output can be turned",
        ),
        (
            "card turns on nothing",
            "card turns on [nothing] | the group has no members",
        ),
        (
            "card turns on",
            "card turns on[] | the sentence stops too early",
        ),
        (
            "card never blinks desk-lights",
            "card never [blinks] desk-lights | expected what it nev",
        ),
        (
            "card never changes desk-lights at night",
            "card never changes desk-lights [at night] |",
        ),
        (
            "card affects desk-lights at night",
            "card affects desk-lights [at night] |",
        ),
        (
            "desk-lights warns by door-lights",
            "desk-lights warns by [door-lights] | only a source",
        ),
        (
            "desk-lights warns by wall-unit/zone-a",
            "desk-lights warns by [wall-unit/zone-a] | this",
        ),
        (
            "desk-lights does not blink",
            "desk-lights [does] not blink | `does` cannot be said here",
        ),
    ]);
    let only = |text| error(&[("only", text)]);
    assert!(only("card").starts_with("only: card[] | expected what only they do"));
    assert!(
        only("desk-lights change card").starts_with("only: [desk-lights] change card | only a")
    );
    assert!(only("card change desk-lights, card").starts_with("only: card change desk-lights[, c"));
    assert!(only("card, door-sensor sound change desk-lights").starts_with(
        "only: card, door-sensor [sound] change desk-lights | `door-sensor` does not sense sound"
    ));
    let always = |text| error(&[("always", text)]);
    assert!(always("desk-lights does not blink").starts_with(
        "always: desk-lights does not [blink] | expected what it does not do, not `blink`"
    ));
    assert!(
        always("desk-lights does change")
            .starts_with("always: desk-lights [does] change | expected `does not`")
    );
    assert!(
        always("desk-lights does not change")
            .starts_with("always: desk-lights does not change[] | this must say for how long")
    );
    assert!(
        always("desk-lights does not change much")
            .starts_with("always: desk-lights does not change [much] | `much` does not fit here")
    );
    assert!(
        always("desk-lights does not change for 5 s unless card in").starts_with(
            "always: desk-lights does not change for 5 s [unless card in] | `unless` does not fit"
        )
    );
}

#[test]
fn brackets_are_checked() {
    check(&[
        (
            "(card is in",
            "(card is in[] | expected `)` | close the bracket",
        ),
        ("card is in)", "card is in[)] | `)` does not fit here"),
        (
            "(card is in and)",
            "(card is in and[)] | expected a name, not `)`",
        ),
        (
            "card is in, photo is lost",
            "card is in[, photo is lost] | `,` does not fit here",
        ),
    ]);
    let deep = format!("{}card is in{}", "(".repeat(24), ")".repeat(24));
    assert!(Formula::parse(&[("never", &deep)], &names(), Span::ZERO).is_ok());
    let deeper = format!("({deep})");
    assert!(
        never(&deeper).contains("[card] is in"),
        "{}",
        never(&deeper)
    );
    assert!(never(&"not ".repeat(25)).contains("this is nested too deeply"));
    let nots = format!("{}card is in", "not ".repeat(24));
    assert!(Formula::parse(&[("never", &nots)], &names(), Span::ZERO).is_ok());
    let beside = ["(card is in)"; 30].join(" and not ");
    assert!(Formula::parse(&[("never", &beside)], &names(), Span::ZERO).is_ok());
}

#[test]
fn keys_that_do_not_go_together_are_refused() {
    for (fields, shown) in STRAY_KEYS {
        let found = error(fields);
        assert!(
            found.starts_with(shown),
            "{fields:?}\n found {found}\nwanted {shown}"
        );
    }
}

#[test]
fn what_looks_back_under_then_can_be_meant() {
    for then in [
        "(desk-lights is on for 5 s)",
        "desk-lights is on for 5 s and card is in",
        "no motion at wall-sensor for 5 s",
        "card is in and (desk-lights is on for 5 s)",
    ] {
        let fields = [("when", "card in"), ("then", then), ("within", "9 s")];
        let formula = Formula::parse(&fields, &names(), Span::ZERO).expect("it can be meant");
        let again = formula.fields(&names());
        let again: Vec<(&str, &str)> = again.iter().map(|(k, t)| (*k, t.as_str())).collect();
        assert_eq!(Formula::parse(&again, &names(), Span::ZERO), Ok(formula));
    }
}

#[test]
fn exactly_after_every_trigger_is_refused_with_advice() {
    let fields = |within| {
        [
            ("when", "card in"),
            ("then", "desk-lights is on"),
            ("within", within),
        ]
    };
    assert_eq!(
        error(&fields("exactly 20 s")),
        "within: [exactly] 20 s | a monitor with one timer cannot wait for an exact moment after \
         every trigger | ask for the two sides in two clauses: `for` says how long it stays so at \
         least, `within` says by when it must be so at the latest"
    );
    assert!(error(&fields("every 20 s")).starts_with("within: [every] 20 s | a monitor with one"));
    assert!(
        error(&[
            ("when", "card in"),
            (
                "then",
                "desk-lights turns on exactly 5 s after every card in"
            )
        ])
        .starts_with("then: desk-lights turns on [exactly] 5 s after every card in | a monitor")
    );
}

/// Words that cannot be said where they stand.
const UNKNOWN_WORDS: &[(&str, &str)] = &[
    (
        "siren sonds",
        "siren [sonds] | `sonds` cannot be said here | did you mean `sounds`?",
    ),
    (
        "grid sheads",
        "grid [sheads] | `sheads` cannot be said here | did you mean `sheds`?",
    ),
    (
        "card sounds",
        "card [sounds] | `sounds` cannot be said here | of a card reader",
    ),
    (
        "wall-sensor moton",
        "wall-sensor [moton] | `moton` cannot be said here | did you mean `motion`?",
    ),
    (
        "wall-button presss",
        "wall-button [presss] | `presss` cannot be said here | did you mean `press`?",
    ),
    (
        "wall-sensor presss",
        "wall-sensor [presss] | `presss` cannot be said here | of an occupancy sensor",
    ),
    (
        "desk-lights tirns on",
        "desk-lights [tirns] on | `tirns` cannot be said here | did you mean `turns on`?",
    ),
    (
        "desk-lights is ocupied",
        "desk-lights is [ocupied] | `ocupied` cannot be said here | did you mean `occupied`?",
    ),
    (
        "desk-lights becomes 50 %",
        "desk-lights becomes [50] % | `50` cannot be said here | an output `is on`",
    ),
    (
        "wall-sensor is on",
        "wall-sensor is [on] | `on` cannot be said here | of an occupancy sensor say",
    ),
    (
        "wall-sensor becomes vacent",
        "wall-sensor becomes [vacent] | `vacent` cannot be said here | did you mean `vacant`?",
    ),
    (
        "wall-button is on",
        "wall-button is [on] | `on` cannot be said here | of a wall unit say",
    ),
    (
        "card is open",
        "card is [open] | `open` cannot be said here | of a card reader say",
    ),
    (
        "photo is bright",
        "photo is [bright] | `bright` cannot be said here | of a daylight sen",
    ),
    (
        "photo is 300 lx",
        "photo is [300] lx | `300` cannot be said here | of a daylight sensor",
    ),
    (
        "clock is late",
        "clock is [late] | `late` cannot be said here | of a clock say",
    ),
    (
        "clock sweps",
        "clock [sweps] | `sweps` cannot be said here | did you mean `sweeps`?",
    ),
    (
        "mains is on",
        "mains is [on] | `on` cannot be said here | of normal power say",
    ),
    (
        "siren is ringing",
        "siren is [ringing] | `ringing` cannot be said here | of a fire alarm",
    ),
    (
        "grid is high",
        "grid is [high] | `high` cannot be said here | of demand response say",
    ),
    (
        "wall-unit/film tapp",
        "wall-unit/film [tapp] | `tapp` cannot be said here | did you m",
    ),
    (
        "wall-unit/film 7",
        "wall-unit/film [7] | `7` cannot be said here | a button is `press`",
    ),
    (
        "daylight is on",
        "daylight [is] on | `is` cannot be said here | only what it does to",
    ),
    (
        "wall-sensor",
        "wall-sensor[] | the sentence stops too early | of an occupancy sensor",
    ),
    (
        "lights is on",
        "lights [is] on | a group needs `any of`, `all of` or `none of` in front",
    ),
    (
        "card inn",
        "card [inn] | `inn` cannot be said here | did you mean `in`?",
    ),
];

/// Spans, levels and counts that are none.
const QUANTITIES: &[(&str, &str)] = &[
    (
        "card is in for 0000000000000005 s",
        "card is in for [0000000000000005] s | expected a span of time",
    ),
    (
        "card is in for",
        "card is in for[] | expected a span of time | write it like `15 min`",
    ),
    (
        "card is in for ever",
        "card is in for [ever] | expected a span of time, not `ever`",
    ),
    (
        "card is in for 5",
        "card is in for [5] | expected a span of time, not `5`",
    ),
    (
        "card is in for 5 lightyears",
        "card is in for [5] lightyears | expected a span of time",
    ),
    (
        "card is in for 0 s",
        "card is in for [0 s] | the span is empty",
    ),
    (
        "card is in for 0.0005 s",
        "card is in for [0.0005] s | expected a span of time",
    ),
    (
        "card is in for 0.5 ms",
        "card is in for [0.5 ms] | a span is whole milliseconds",
    ),
    (
        "card is in for 1 h 0.25 ms",
        "card is in for [1 h 0.25 ms] | a span is whole",
    ),
    (
        "card is in for 1001 d",
        "card is in for [1001 d] | the span is longer than 1000 days",
    ),
    (
        "card is in for 999999999999 d 999999999999 d",
        "card is in for [999999999999 d 99",
    ),
    (
        "card is in for 5.",
        "card is in for [5.] | expected a span of time, not `5.`",
    ),
    (
        "card is in for 5 min 3",
        "card is in for 5 min [3] | `3` does not fit here | join",
    ),
    (
        "desk-lights is at most",
        "desk-lights is at most[] | expected a level | write it like",
    ),
    (
        "desk-lights is 50",
        "desk-lights is [50] | expected a level, not `50`",
    ),
    (
        "desk-lights is at 50 %",
        "desk-lights is [at] 50 % | expected `at most` or `at least`",
    ),
    (
        "desk-lights is 101 %",
        "desk-lights is [101 %] | a level is 0 % to 100 %",
    ),
    (
        "desk-lights is 0.005 %",
        "desk-lights is [0.005 %] | a level is 0 % to 100 %",
    ),
    (
        "desk-lights is between 5 % or 6 %",
        "desk-lights is between 5 % [or] 6 % | expected `and`",
    ),
    (
        "desk-lights is between 6 % and 5 %",
        "desk-lights is between [6 % and 5 %] | the first l",
    ),
    (
        "photo is at 5 lx",
        "photo is [at] 5 lx | expected `at most` or `at least`",
    ),
    (
        "photo is at least 5 %",
        "photo is at least [5] % | expected an illuminance",
    ),
    (
        "photo is at least 0.001 lx",
        "photo is at least [0.001 lx] | an illuminance is up to",
    ),
    (
        "photo is at least 99000000 lx",
        "photo is at least [99000000 lx] | an illuminance is",
    ),
    (
        "more than many card in within 1 h",
        "more than [many] card in within 1 h | expected a n",
    ),
    (
        "more than 5 card in within 1 h",
        "more than [5] card in within 1 h | a monitor counts f",
    ),
    (
        "more than 0 card in within 1 h",
        "more than [0] card in within 1 h | a monitor counts f",
    ),
    (
        "more than +2 card in within 1 h",
        "more than [+2] card in within 1 h | expected a num",
    ),
    (
        "more than 2 card is in within 1 h",
        "more than 2 [card is in] within 1 h | only events",
    ),
    (
        "more than 2 card in for 1 h",
        "more than 2 card in [for] 1 h | expected `within`, not",
    ),
    (
        "more than 2 card in within 1 h 3",
        "more than 2 card in within 1 h [3] | `3` does not",
    ),
    (
        "more than 2 card in",
        "more than 2 card in[] | this must say in which span",
    ),
];

/// Events in the place of conditions, and the other way round.
const CONFUSED: &[(&str, &str)] = &[
    (
        "(card is in) becomes vacant",
        "(card is in) [becomes vacant] | `becomes` does not fit here",
    ),
    (
        "(card is in) is true",
        "(card is in) [is true] | `is` does not fit here",
    ),
    (
        "not card in",
        "not [card in] | an event is over at once; this needs a condition | say f",
    ),
    (
        "card in for 5 s",
        "[card in] for 5 s | an event is over at once; this needs a condition",
    ),
    (
        "(card in or card is in) for 5 s",
        "[(card in or card is in)] for 5 s | an event is",
    ),
    (
        "card in becomes true",
        "[card in] becomes true | an event is over at once",
    ),
    (
        "none of lights turns on",
        "[none of lights turns on] | an event is over at once",
    ),
    (
        "no card is in for 5 s",
        "no [card is in] for 5 s | `no` needs an event",
    ),
    (
        "no card in",
        "no card in[] | expected `for` | write `no motion at",
    ),
    (
        "no card in for",
        "no card in for[] | expected a span of time",
    ),
    (
        "motion at all of sensors",
        "motion at [all of sensors] | events happen at `any of` several",
    ),
    (
        "motion at none of sensors",
        "motion at [none of sensors] | events happen at `any of` several",
    ),
    (
        "press of card",
        "press of [card] | only a wall unit or a button of one is pressed",
    ),
    (
        "press of desk-lights",
        "press of [desk-lights] | only a wall unit or a button",
    ),
    (
        "press of all of wall-button/up, wall-unit/film",
        "press of [all of wall-button/up, wall-unit/film] | events happen at",
    ),
    (
        "press wall-button",
        "[press] wall-button | the room has no `press`",
    ),
    (
        "motion at card",
        "motion at [card] | `card-reader` is no occupancy sensor",
    ),
    (
        "motion at desk-lights",
        "motion at [desk-lights] | only an occupancy sensor senses mot",
    ),
    (
        "sound at door-sensor",
        "sound at [door-sensor] | `door-sensor` does not sense sound",
    ),
    (
        "door-sensor sound",
        "door-sensor [sound] | `door-sensor` does not sense sound | give it",
    ),
    (
        "motion or card at wall-sensor",
        "motion or [card] at wall-sensor | expected `motion` or",
    ),
    (
        "motion in wall-sensor",
        "motion [in] wall-sensor | expected `at`, not `in`",
    ),
    (
        "card in within 5 s",
        "card in within 5 s[] | expected `of` | write `E2 within",
    ),
];

/// A trigger and what follows it.
const WHEN: (&str, &str) = ("when", "card in");
const THEN: (&str, &str) = ("then", "desk-lights is on");

/// Keys that do not go together.
type Fields = &'static [(&'static str, &'static str)];
const STRAY_KEYS: &[(Fields, &str)] = &[
    (
        &[],
        "always: [] | the clause does not say what it asks for | give it `always`",
    ),
    (
        &[THEN],
        "then: []desk-lights is on | the clause does not say what it asks for",
    ),
    (&[WHEN], "when: []card in | `when` needs `then`"),
    (
        &[WHEN, THEN, ("wihtin", "5 s")],
        "wihtin: []5 s | a clause has no key `wihtin` | did you mean `within`?",
    ),
    (
        &[WHEN, THEN, ("colour", "red")],
        "colour: []red | a clause has no key `colour` | the keys of a",
    ),
    (
        &[WHEN, THEN, WHEN],
        "when: []card in | the key `when` is there twice | keep one",
    ),
    (
        &[("never", "card in"), ("always", "card is in")],
        "never: []card in | `always` and `never` do not go",
    ),
    (
        &[("never", "card in"), ("within", "5 s")],
        "within: []5 s | the key `within` has no meaning with `never` | deadlines and ends belong to",
    ),
    (
        &[("never", "card in"), ("then", "card is in")],
        "then: []card is in | the key `then` has no meaning",
    ),
    (
        &[("only", "card change desk-lights"), ("for", "5 s")],
        "for: []5 s | the key `for` has no meaning with `only`",
    ),
    (
        &[("only", "card change desk-lights"), ("reaction", "5 s")],
        "reaction: []5 s | the key `reaction` has no",
    ),
    (
        &[("never", "card affects desk-lights"), ("while", "in hours")],
        "while: []in hours | the key `while` has no meaning with `never affects` | leave it out",
    ),
    (
        &[("never", "card in"), ("reaction", "5 s")],
        "reaction: []5 s | the reaction has no meaning here",
    ),
    (
        &[WHEN, THEN, ("within", "5 s"), ("reaction", "5 s")],
        "reaction: []5 s | the reaction has no meaning here",
    ),
    (
        &[WHEN, THEN, ("within", "5 s"), ("for", "5 s")],
        "for: []5 s | `within` and `for` do not go together",
    ),
    (
        &[WHEN, THEN, ("for", "1 s")],
        "for: [1 s] | `for` must be longer than the reaction of 1 s",
    ),
    (
        &[WHEN, THEN, ("for", "5 s"), ("reaction", "5 s")],
        "for: [5 s] | `for` must be longer than the reaction of 5 s",
    ),
    (
        &[WHEN, THEN, ("within", "5 s or so")],
        "within: 5 s [or so] | `or` does not fit here | a span and",
    ),
    (
        &[WHEN, THEN, ("reaction", "quick")],
        "reaction: [quick] | expected a span of time, not `quick`",
    ),
    (
        &[WHEN, ("then", "desk-lights turns on"), ("for", "5 s")],
        "then: [desk-lights turns on] | an event cannot stay so",
    ),
    (
        &[
            WHEN,
            ("then", "desk-lights turns on"),
            ("until", "card out"),
        ],
        "then: [desk-lights turns on] | an event cannot",
    ),
    (
        &[WHEN, ("then", "desk-lights is on for 5 s")],
        "then: [desk-lights is on for 5 s] | under `then` this would look",
    ),
    (
        &[
            WHEN,
            ("then", "card is in and not desk-lights is on for 5 s"),
        ],
        "then: [card is in and not desk-lights is on for 5 s] |",
    ),
];
