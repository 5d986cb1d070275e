//! Which spans a clause has, which is asked for, and that a clause with the same span is the
//! same clause.

use alloc::string::ToString;

use super::*;
use crate::{Doer, Names, Quantity, SourceKind, SourceName};

fn names() -> Names {
    let sensor = |name: &str| SourceName {
        name: name.to_string(),
        kind: SourceKind::Occupancy { sound: true },
        buttons: Vec::new(),
    };
    let button = SourceName {
        name: "wall-button".to_string(),
        kind: SourceKind::Switch,
        buttons: Vec::from(["up".to_string(), "down".to_string()]),
    };
    Names {
        sources: Vec::from([sensor("a"), sensor("b"), button]),
        outputs: Vec::from(["lamp".to_string(), "outlet".to_string()]),
        groups: Vec::new(),
    }
}

fn parse(fields: &[(&str, &str)]) -> Formula {
    Formula::parse(fields, &names(), Span::from_seconds(1)).expect("it is right")
}

/// The clause's bound: its kind, its span in seconds and its sense.
fn check(fields: &[(&str, &str)], expected: Option<(BoundKind, u64, Sense)>) {
    let formula = parse(fields);
    let spans = formula.spans();
    let found = formula.asked().map(|index| {
        let bound = spans[index];
        (bound.kind, bound.span.as_ms() / 1_000, bound.sense)
    });
    assert_eq!(found, expected, "{fields:?}");
    for (index, bound) in spans.iter().enumerate() {
        let same = formula.with_span(index, bound.span).expect("it fits");
        assert_eq!(same, formula, "{fields:?}");
        let longer = bound.span.plus(Span::from_ms(1));
        let changed = formula.with_span(index, longer).expect("it fits");
        assert_eq!(changed.spans()[index].span, longer);
        let fields = changed.fields(&names());
        let fields: Vec<(&str, &str)> = (fields.iter())
            .map(|(key, text)| (*key, text.as_str()))
            .collect();
        assert_eq!(parse(&fields), changed, "what is written reads back");
    }
    assert_eq!(formula.with_span(spans.len(), Span::ZERO), None);
}

#[test]
fn the_bound_of_a_clause_is_what_it_is_about() {
    use BoundKind::{AtMost, Follows, For, Lasts, Quiet, Steady, Within};
    use Sense::{From, UpTo};
    let when = |trigger, then| [("when", trigger), ("then", then)];
    let [trigger, then] = when("no motion at a for 20 min", "lamp is off");
    check(&[trigger, then], Some((Quiet, 1_200, From)));
    check(&[trigger, then, ("within", "5 s")], Some((Within, 5, From)));
    check(&[trigger, then, ("for", "5 s")], Some((For, 5, UpTo)));
    check(&when("lamp turns on", "lamp is on"), None);
    check(
        &when("lamp is off for 9 s", "outlet is off"),
        Some((Lasts, 9, From)),
    );
    check(
        &[(
            "always",
            "lamp turns off only after lamp is in warning for 30 s",
        )],
        Some((Lasts, 30, UpTo)),
    );
    check(
        &[("always", "lamp does not turn on for 10 s")],
        Some((Steady, 10, UpTo)),
    );
    check(
        &[("never", "lamp turns on within 4 s of lamp turns off")],
        Some((Follows, 4, UpTo)),
    );
    check(
        &[("never", "more than 2 lamp turns on within 60 s")],
        Some((AtMost, 60, UpTo)),
    );
    check(
        &[("never", "lamp is on and no motion at a for 75 min")],
        Some((Quiet, 4_500, From)),
    );
    check(
        &[("always", "lamp is off or not (no motion at a for 75 min)")],
        Some((Quiet, 4_500, From)),
    );
    check(&[("never", "lamp is on"), ("reaction", "3 s")], None);
}

#[test]
fn a_clause_names_its_spans_by_place() {
    let formula = parse(&[
        ("when", "lamp turns off"),
        ("then", "lamp is off"),
        ("for", "30 s"),
        ("until", "no sound at b for 2 s"),
        ("unless", "lamp is on for 3 s"),
        ("while", "outlet is on for 4 s"),
        ("reaction", "5 s"),
    ]);
    let places: Vec<_> = (formula.spans().iter())
        .map(|bound| (bound.place, bound.span.as_ms() / 1_000, bound.sense))
        .collect();
    assert_eq!(
        places,
        [
            (BoundPlace::Asked, 30, Sense::UpTo),
            (BoundPlace::Until, 2, Sense::UpTo),
            (BoundPlace::While, 4, Sense::From),
            (BoundPlace::Unless, 3, Sense::UpTo),
            (BoundPlace::Asked, 5, Sense::From),
        ]
    );
}

#[test]
fn a_clause_says_what_it_speaks_of() {
    let found = parse(&[
        ("when", "wall-button/down tap or a sound turns on lamp"),
        ("then", "outlet is at most 50 %"),
        ("unless", "b is lost"),
    ])
    .mentions();
    assert_eq!(found.outputs().into_iter().collect::<Vec<_>>(), [0, 1]);
    assert_eq!(found.sources().into_iter().collect::<Vec<_>>(), [0, 1, 2]);
    assert!(found.gestures.contains(&(2, Some(1), crate::Gesture::Tap)));
    assert!(
        found
            .doers
            .contains(&Doer::Channel(0, crate::Channel::Sound))
    );
    assert!(found.asks_for(1, Quantity::Target) && !found.asks_for(0, Quantity::Target));
    assert!(found.beliefs.contains(&(1, crate::SourceState::Lost)));
}

#[test]
fn a_clause_is_renumbered_whole_or_not_at_all() {
    let formula = parse(&[("always", "wall-button never turns on outlet")]);
    let sources = [None, None, Some(0)];
    let small = formula
        .renumbered(&sources, &[None, Some(0)])
        .expect("all there");
    assert_eq!(
        small.mentions().outputs().into_iter().collect::<Vec<_>>(),
        [0]
    );
    assert_eq!(
        small.mentions().sources().into_iter().collect::<Vec<_>>(),
        [0]
    );
    assert_eq!(formula.renumbered(&sources, &[Some(0), None]), None);
    assert_eq!(
        formula.renumbered(&[Some(0), Some(1)], &[None, Some(0)]),
        None
    );
}

#[test]
fn sources_are_alike_when_no_memory_tells_them_apart() {
    let alike = |fields: &[(&str, &str)]| parse(fields).treats_alike(0, 1);
    let then = ("then", "lamp is off");
    assert!(alike(&[
        ("when", "no (a motion or b motion) for 20 min"),
        then
    ]));
    assert!(alike(&[("when", "a motion or b motion"), then]));
    assert!(alike(&[("only", "a, b turn on lamp")]));
    assert!(alike(&[(
        "always",
        "lamp turns on only after outlet is on for 9 s"
    )]));
    assert!(!alike(&[("when", "a motion"), then]));
    assert!(!alike(&[
        ("when", "no a motion for 20 min and no b motion for 20 min"),
        then
    ]));
    assert!(!alike(&[
        ("when", "no a motion for 20 min and no b motion for 10 min"),
        then
    ]));
    assert!(
        alike(&[("only", "a, b, wall-button turn on lamp")]),
        "a third source stays itself"
    );
    assert!(!alike(&[("never", "a motion")]), "what is wrong differs");
    let unexcused = ("when", "a motion or b motion");
    assert!(!alike(&[unexcused, ("then", "a is occupied")]));
    let owed = ("then", "outlet is on");
    assert!(!alike(&[unexcused, owed, ("until", "b is lost")]));
}
