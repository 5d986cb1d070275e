//! What puts a clause to the test: a suite must be able to say which clauses it never tried.

use clause::{
    Atom, By, Change, Channel, Doer, Event, Formula, Gesture, OutputState, SourceEvent,
    SourceState, Verdict,
};
use device::Span;

use crate::bench::{Run, Shown};
use crate::names::parse_with;

/// Whether showing these, one instant after the other, exercises a clause.
fn exercises(formula: &Formula, shows: &[Shown]) -> bool {
    let mut run = Run::new(formula.clone());
    for (at, shown) in (0..).zip(shows) {
        run.at(at, shown);
    }
    match run.verdict() {
        Verdict::Held => true,
        Verdict::NeverExercised => false,
        other => panic!("{shows:?} gives {other:?}"),
    }
}

/// Checks that a clause is exercised by all of these events and conditions, each alone in an
/// instant, and by no fewer.
fn check(fields: &[(&str, &str)], needed: &[Shown]) {
    let formula = parse_with(fields, Span::from_seconds(1));
    assert!(exercises(&formula, needed), "{fields:?}");
    for left_out in 0..needed.len() {
        let mut fewer = needed.to_vec();
        fewer[left_out] = Shown::default();
        assert!(
            !exercises(&formula, &fewer),
            "{fields:?} without {:?}",
            needed[left_out]
        );
    }
}

fn events(happened: &[Event]) -> Shown {
    Shown {
        holds: Vec::new(),
        happened: happened.into(),
    }
}

fn holds(atoms: &[Atom]) -> Shown {
    Shown {
        holds: atoms.into(),
        happened: Vec::new(),
    }
}

const ON: Atom = Atom::Output(0, OutputState::On);
const CARD_IN: Atom = Atom::Source(0, SourceState::CardIn);
const MOTION: Event = Event::Source(8, SourceEvent::Motion);
const CARD_OUT: Event = Event::Source(0, SourceEvent::CardOut);
const CHANGES: Event = Event::Output(0, Change::Changes, By::Anyone);
const TURNS_ON: Event = Event::Output(0, Change::TurnsOn, By::Anyone);

#[test]
fn what_must_never_be_together_was_there_each_by_itself() {
    check(
        &[("never", "desk-lights is on and card is in")],
        &[holds(&[ON]), holds(&[CARD_IN])],
    );
    check(
        &[("always", "not desk-lights is on or not card is in")],
        &[holds(&[ON]), holds(&[CARD_IN])],
    );
    check(
        &[("never", "motion at wall-sensor and card is in")],
        &[events(&[MOTION]), holds(&[CARD_IN])],
    );
    check(
        &[(
            "never",
            "(desk-lights is on or card is in) and motion at wall-sensor",
        )],
        &[events(&[MOTION]), holds(&[ON])],
    );
    let formula = parse_with(
        &[(
            "never",
            "desk-lights is on and not (photo is lost or card is in)",
        )],
        Span::from_seconds(1),
    );
    let lost = Atom::Source(4, SourceState::Lost);
    let both_excused = holds(&[ON, lost, CARD_IN]);
    let (only_lost, only_in) = (holds(&[lost]), holds(&[CARD_IN]));
    assert!(exercises(
        &formula,
        &[both_excused.clone(), only_lost.clone(), only_in.clone()]
    ));
    assert!(!exercises(
        &formula,
        &[both_excused.clone(), only_lost.clone()]
    ));
    assert!(!exercises(&formula, &[both_excused, only_in.clone()]));
    assert!(!exercises(&formula, &[only_lost, only_in]));
}

#[test]
fn beside_what_somebody_does_a_condition_counts_where_they_acted_or_the_same_was_done() {
    let by_sensor = Event::Output(0, Change::TurnsOn, By::Only(Doer::Source(8)));
    let turned = |holds: &[Atom], by: &[Event]| Shown {
        holds: holds.into(),
        happened: [by, &[TURNS_ON]].concat(),
    };
    let fields = [("never", "wall-sensor turns on desk-lights and card is in")];
    let alone = turned(&[], &[by_sensor]);
    check(&fields, &[alone.clone(), turned(&[CARD_IN], &[])]);
    let acted = Shown {
        holds: vec![CARD_IN],
        happened: vec![Event::Acted(Doer::Source(8))],
    };
    check(&fields, &[alone.clone(), acted]);
    // A card that is in at another moment says nothing about how the lights turned on.
    let either = [(
        "never",
        "(wall-sensor turns on desk-lights or wall-button turns on desk-lights) and card is in",
    )];
    for fields in [fields, either] {
        let formula = parse_with(&fields, Span::from_seconds(1));
        let with_card = [alone.clone(), turned(&[CARD_IN], &[])];
        assert!(exercises(&formula, &with_card), "{fields:?}");
        let apart = [alone.clone(), holds(&[CARD_IN])];
        assert!(!exercises(&formula, &apart), "{fields:?}");
    }
}

#[test]
fn a_single_part_counts_when_what_it_speaks_of_moved() {
    let acted = |doer| events(&[Event::Acted(doer)]);
    let level = holds(&[]);
    assert_eq!(level.holds.len(), 0);
    check(&[("never", "desk-lights is on")], &[events(&[CHANGES])]);
    check(
        &[("never", "desk-lights is above 50 %")],
        &[events(&[CHANGES])],
    );
    check(
        &[("always", "not desk-lights is on")],
        &[events(&[CHANGES])],
    );
    check(
        &[("never", "wall-sensor is lost")],
        &[acted(Doer::Source(8))],
    );
    check(
        &[("never", "photo is at least 9 lx")],
        &[acted(Doer::Source(4))],
    );
    check(
        &[("never", "wall-button/down is down")],
        &[acted(Doer::Button(7, 1))],
    );
    check(&[("never", "card out")], &[acted(Doer::Source(0))]);
    check(&[("never", "wall-button hold")], &[acted(Doer::Source(7))]);
    check(&[("never", "desk-lights turns on")], &[events(&[CHANGES])]);
    check(
        &[("never", "(desk-lights is on) becomes true")],
        &[events(&[CHANGES])],
    );
    check(
        &[("never", "desk-lights is on or card is in")],
        &[events(&[CHANGES]), acted(Doer::Source(0))],
    );
}

#[test]
fn a_doer_counts_when_it_acted_and_its_change_happened() {
    let acted = |doer| events(&[Event::Acted(doer)]);
    check(
        &[("never", "wall-button turns on desk-lights")],
        &[acted(Doer::Source(7)), events(&[TURNS_ON])],
    );
    check(
        &[("always", "wall-sensor sound never turns on desk-lights")],
        &[acted(Doer::Channel(8, Channel::Sound)), events(&[TURNS_ON])],
    );
    check(
        &[("only", "card turn on desk-lights")],
        &[events(&[TURNS_ON])],
    );
}

#[test]
fn a_span_counts_when_what_it_waits_for_began() {
    check(&[("never", "desk-lights is on for 9 s")], &[holds(&[ON])]);
    check(
        &[("always", "not desk-lights is on for 9 s")],
        &[holds(&[ON])],
    );
    check(
        &[("never", "motion at wall-sensor within 1 ms of card out")],
        &[events(&[MOTION]), events(&[CARD_OUT])],
    );
    check(
        &[
            ("always", "not no motion at wall-sensor for 9 s"),
            ("while", "card is in"),
        ],
        &[Shown {
            holds: vec![CARD_IN],
            happened: vec![MOTION],
        }],
    );
    let formula = parse_with(
        &[("always", "desk-lights is on for 9 s")],
        Span::from_seconds(99),
    );
    let mut run = Run::new(formula.clone());
    run.at(0, &holds(&[ON]));
    run.until(9_000);
    assert_eq!(run.verdict(), Verdict::NeverExercised);
    run.at(
        9_001,
        &Shown {
            holds: vec![ON],
            happened: vec![CHANGES],
        },
    );
    assert_eq!(run.verdict(), Verdict::Held);
    let formula = parse_with(
        &[("never", "not desk-lights is on for 9 s or card is in")],
        Span::from_seconds(99),
    );
    let mut run = Run::new(formula);
    run.at(0, &holds(&[ON]));
    run.until(9_000);
    run.at(
        9_001,
        &Shown {
            holds: vec![ON],
            happened: vec![Event::Acted(Doer::Source(0))],
        },
    );
    assert_eq!(run.verdict(), Verdict::NeverExercised);
    run.at(
        9_002,
        &Shown {
            holds: vec![ON],
            happened: vec![CHANGES],
        },
    );
    assert_eq!(run.verdict(), Verdict::Held);
}

#[test]
fn forms_with_an_event_count_when_it_happened_in_their_scope() {
    let press = Event::Button(7, None, Gesture::Press);
    check(
        &[("never", "more than 2 motion at wall-sensor within 9 s")],
        &[events(&[MOTION])],
    );
    check(
        &[("always", "desk-lights does not change for 9 s")],
        &[events(&[CHANGES])],
    );
    check(
        &[(
            "always",
            "motion at wall-sensor only after no card out for 9 s",
        )],
        &[events(&[MOTION])],
    );
    for fields in [
        &[
            ("never", "more than 2 motion at wall-sensor within 9 s"),
            ("while", "card is in"),
        ][..],
        &[
            ("when", "motion at wall-sensor"),
            ("then", "card is in"),
            ("while", "card is in"),
        ],
        &[
            (
                "always",
                "motion at wall-sensor only after no card out for 9 s",
            ),
            ("unless", "not card is in"),
        ],
        &[
            ("never", "motion at wall-sensor and desk-lights is on"),
            ("unless", "wall-button press"),
        ],
    ] {
        let formula = parse_with(fields, Span::from_seconds(1));
        let inside = |event: &Event, others: &[Event]| Shown {
            holds: vec![CARD_IN],
            happened: [std::slice::from_ref(event), others].concat(),
        };
        let both = [inside(&MOTION, &[]), holds(&[CARD_IN, ON])];
        assert!(exercises(&formula, &both), "{fields:?}");
        let outside = [events(&[MOTION, press.clone()])];
        assert!(!exercises(&formula, &outside), "{fields:?}");
    }
}
