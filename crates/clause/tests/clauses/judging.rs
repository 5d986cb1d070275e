//! Scripts with explicit times: what a monitor says, and when.

use clause::{
    Atom, By, Change, Channel, Doer, Event, Formula, Gesture, OutputState, SourceEvent,
    SourceState, Turn, Verdict,
};
use device::Span;

use crate::bench::{Run, Shown, parse};
use crate::names::parse_with;

const ON: Atom = Atom::Output(0, OutputState::On);
const OFF: Atom = Atom::Output(0, OutputState::Off);
const WARNING: Atom = Atom::Output(0, OutputState::Warning);
const DOOR_ON: Atom = Atom::Output(2, OutputState::On);
const CARD_IN: Atom = Atom::Source(0, SourceState::CardIn);
const OCCUPIED: Atom = Atom::Source(8, SourceState::Occupied);
const MOTION: Event = Event::Source(8, SourceEvent::Motion);
const TURNS_ON: Event = Event::Output(0, Change::TurnsOn, By::Anyone);
const TURNS_OFF: Event = Event::Output(0, Change::TurnsOff, By::Anyone);
const CHANGES: Event = Event::Output(0, Change::Changes, By::Anyone);

fn shown(holds: &[Atom], happened: &[Event]) -> Shown {
    Shown {
        holds: holds.into(),
        happened: happened.into(),
    }
}

/// Runs a clause over instants (ms) with what they show, and on to `end`; gives its turns and
/// its verdict there.
fn run(
    formula: Formula,
    script: &[(u64, &[Atom], &[Event])],
    end: u64,
) -> (Vec<(u64, Turn)>, Verdict) {
    let mut run = Run::new(formula);
    for (at, holds, happened) in script {
        run.at(*at, &shown(holds, happened));
    }
    run.until(end);
    let verdict = run.verdict();
    (run.turns, verdict)
}

use Turn::{Broken, Held, Triggered};

#[test]
fn a_deadline_is_inclusive_and_missed_one_millisecond_later() {
    let clause = || {
        parse(&[
            ("when", "motion at wall-sensor"),
            ("then", "desk-lights is on"),
            ("within", "100 ms"),
        ])
    };
    let start: (u64, &[Atom], &[Event]) = (0, &[OFF], &[]);
    let motion: (u64, &[Atom], &[Event]) = (1_000, &[OFF], &[MOTION]);
    assert_eq!(
        run(clause(), &[start, motion, (1_100, &[ON], &[])], 5_000),
        (vec![(1_000, Triggered), (1_100, Held)], Verdict::Held)
    );
    assert_eq!(
        run(clause(), &[start, motion, (1_101, &[ON], &[])], 5_000),
        (vec![(1_000, Triggered), (1_101, Broken)], Verdict::Broken)
    );
    assert_eq!(
        run(clause(), &[start, motion], 1_100),
        (vec![(1_000, Triggered)], Verdict::Open)
    );
    assert_eq!(
        run(clause(), &[start, (1_000, &[ON], &[MOTION])], 1_000),
        (vec![(1_000, Triggered), (1_000, Held)], Verdict::Held)
    );
    assert_eq!(
        run(clause(), &[start], 5_000),
        (vec![], Verdict::NeverExercised)
    );
}

#[test]
fn within_keeps_the_earliest_pending_trigger() {
    let clause = parse(&[
        ("when", "motion at wall-sensor"),
        ("then", "desk-lights is on"),
        ("within", "100 ms"),
    ]);
    let script: &[(u64, &[Atom], &[Event])] = &[
        (0, &[], &[MOTION]),
        (90, &[], &[MOTION]),
        (95, &[ON], &[]),
        (200, &[], &[MOTION]),
        (290, &[], &[MOTION]),
    ];
    let (turns, _) = run(clause, script, 1_000);
    assert_eq!(
        turns,
        [
            (0, Triggered),
            (90, Triggered),
            (95, Held),
            (200, Triggered),
            (290, Triggered),
            (301, Broken)
        ]
    );
}

#[test]
fn without_a_deadline_the_reaction_is_the_deadline() {
    let fields = [
        ("when", "motion at wall-sensor"),
        ("then", "desk-lights is on"),
    ];
    let script: &[(u64, &[Atom], &[Event])] = &[(0, &[], &[MOTION])];
    assert_eq!(run(parse(&fields), script, 9_000).0[1], (1_001, Broken));
    let own = [fields[0], fields[1], ("reaction", "20 ms")];
    assert_eq!(run(parse(&own), script, 9_000).0[1], (21, Broken));
    let none = [fields[0], fields[1], ("reaction", "0 s")];
    assert_eq!(run(parse(&none), script, 9_000).0[1], (0, Broken));
}

#[test]
fn what_must_stay_may_be_missing_for_the_reaction() {
    let clause = || {
        parse(&[
            ("when", "motion at wall-sensor"),
            ("then", "desk-lights is on"),
            ("for", "15 min"),
        ])
    };
    let end = 15 * 60_000;
    let late: &[(u64, &[Atom], &[Event])] = &[(0, &[], &[MOTION]), (1_000, &[ON], &[])];
    assert_eq!(
        run(clause(), late, 20 * 60_000),
        (vec![(0, Triggered), (end, Held)], Verdict::Held)
    );
    assert_eq!(run(clause(), late, end - 1).1, Verdict::Open);
    let too_late: &[(u64, &[Atom], &[Event])] = &[(0, &[], &[MOTION]), (1_001, &[ON], &[])];
    assert_eq!(
        run(clause(), too_late, end).0,
        [(0, Triggered), (1_001, Broken)]
    );
    let gap: &[(u64, &[Atom], &[Event])] = &[
        (0, &[ON], &[MOTION]),
        (5_000, &[OFF], &[]),
        (6_000, &[ON], &[]),
        (end - 1_000, &[OFF], &[]),
    ];
    assert_eq!(run(clause(), gap, end).1, Verdict::Held);
    let early: &[(u64, &[Atom], &[Event])] = &[(0, &[ON], &[MOTION]), (end - 1_001, &[OFF], &[])];
    assert_eq!(run(clause(), early, end).0[1], (end, Broken));
}

#[test]
fn for_keeps_the_latest_trigger() {
    let clause = parse_with(
        &[
            ("when", "motion at wall-sensor"),
            ("then", "desk-lights is on"),
            ("for", "100 ms"),
        ],
        Span::ZERO,
    );
    let script: &[(u64, &[Atom], &[Event])] = &[
        (0, &[ON], &[MOTION]),
        (80, &[ON], &[MOTION]),
        (180, &[OFF], &[]),
        (300, &[ON], &[MOTION]),
        (390, &[ON], &[MOTION]),
        (489, &[OFF], &[]),
    ];
    assert_eq!(
        run(clause, script, 1_000).0,
        [
            (0, Triggered),
            (80, Triggered),
            (180, Held),
            (300, Triggered),
            (390, Triggered),
            (489, Broken)
        ]
    );
}

#[test]
fn until_is_weak_and_is_over_at_the_release() {
    let clause = || {
        parse(&[
            ("when", "motion at wall-sensor"),
            ("then", "desk-lights is off"),
            ("until", "card is in"),
        ])
    };
    let released: &[(u64, &[Atom], &[Event])] =
        &[(0, &[OFF], &[MOTION]), (9_000, &[ON, CARD_IN], &[])];
    assert_eq!(
        run(clause(), released, 20_000),
        (vec![(0, Triggered), (9_000, Held)], Verdict::Held)
    );
    let endless: &[(u64, &[Atom], &[Event])] = &[(0, &[OFF], &[MOTION])];
    assert_eq!(
        run(clause(), endless, 20_000),
        (vec![(0, Triggered)], Verdict::Held)
    );
    let lapsing: &[(u64, &[Atom], &[Event])] = &[(0, &[OFF], &[MOTION]), (9_000, &[ON], &[])];
    assert_eq!(run(clause(), lapsing, 10_000).1, Verdict::Open);
    assert_eq!(run(clause(), lapsing, 10_001).0[1], (10_001, Broken));
    let at_once: &[(u64, &[Atom], &[Event])] =
        &[(0, &[ON, CARD_IN], &[MOTION]), (9_000, &[ON], &[])];
    assert_eq!(
        run(clause(), at_once, 20_000),
        (vec![(0, Triggered), (0, Held)], Verdict::Held)
    );
}

#[test]
fn within_and_until_first_wait_and_then_watch() {
    let clause = || {
        parse_with(
            &[
                ("when", "motion at wall-sensor"),
                ("then", "desk-lights is on"),
                ("within", "300 ms"),
                ("until", "card is in"),
            ],
            Span::from_ms(50),
        )
    };
    let script: &[(u64, &[Atom], &[Event])] = &[
        (0, &[], &[MOTION]),
        (300, &[ON], &[]),
        (400, &[], &[]),
        (450, &[ON], &[]),
        (500, &[], &[]),
    ];
    assert_eq!(run(clause(), script, 550).1, Verdict::Open);
    assert_eq!(
        run(clause(), script, 900).0,
        [(0, Triggered), (551, Broken)]
    );
    assert_eq!(
        run(clause(), &script[..1], 900).0,
        [(0, Triggered), (301, Broken)]
    );
    assert_eq!(run(clause(), &script[..2], 900).1, Verdict::Held);
}

#[test]
fn while_and_unless_end_what_is_owed() {
    let fields = [
        ("when", "motion at wall-sensor"),
        ("then", "desk-lights is on"),
        ("within", "100 ms"),
    ];
    let scoped = || parse(&[fields[0], fields[1], fields[2], ("while", "card is in")]);
    let outside: &[(u64, &[Atom], &[Event])] = &[(0, &[], &[MOTION])];
    assert_eq!(
        run(scoped(), outside, 900),
        (vec![], Verdict::NeverExercised)
    );
    let leaving: &[(u64, &[Atom], &[Event])] = &[(0, &[CARD_IN], &[MOTION]), (50, &[], &[])];
    assert_eq!(
        run(scoped(), leaving, 900),
        (vec![(0, Triggered), (50, Held)], Verdict::Held)
    );
    let excused = || parse(&[fields[0], fields[1], fields[2], ("unless", "card is in")]);
    let entering: &[(u64, &[Atom], &[Event])] = &[(0, &[], &[MOTION]), (50, &[CARD_IN], &[])];
    assert_eq!(run(excused(), entering, 900).1, Verdict::Held);
    assert_eq!(run(excused(), outside, 900).1, Verdict::Broken);
}

#[test]
fn a_condition_that_holds_at_the_start_does_not_become_true() {
    let clause = || {
        parse(&[
            ("when", "card is in"),
            ("then", "desk-lights is on"),
            ("within", "100 ms"),
        ])
    };
    let from_start: &[(u64, &[Atom], &[Event])] = &[(0, &[CARD_IN], &[]), (10, &[CARD_IN], &[])];
    assert_eq!(run(clause(), from_start, 900).1, Verdict::NeverExercised);
    let later: &[(u64, &[Atom], &[Event])] = &[(0, &[], &[]), (10, &[CARD_IN], &[])];
    assert_eq!(
        run(clause(), later, 900).0,
        [(10, Triggered), (111, Broken)]
    );
}

#[test]
fn in_a_trigger_a_condition_beside_an_event_stands_for_its_becoming_true() {
    let clause = || {
        parse(&[
            (
                "when",
                "(card in or card is in) and wall-sensor is occupied",
            ),
            ("then", "desk-lights is on"),
            ("within", "100 ms"),
        ])
    };
    let triggers = |script: &[(u64, &[Atom], &[Event])]| run(clause(), script, 20).0;
    let card_in = Event::Source(0, SourceEvent::CardIn);
    assert_eq!(
        triggers(&[(0, &[OCCUPIED], &[]), (10, &[OCCUPIED, CARD_IN], &[])]),
        [(10, Triggered)]
    );
    assert_eq!(
        triggers(&[(0, &[CARD_IN], &[]), (10, &[OCCUPIED, CARD_IN], &[])]),
        []
    );
    assert_eq!(
        triggers(&[(0, &[OCCUPIED], &[]), (10, &[OCCUPIED], &[card_in])]),
        [(10, Triggered)]
    );
}

#[test]
fn silence_is_true_at_the_start_and_again_exactly_a_span_after_the_event() {
    let clause = || {
        parse_with(
            &[
                ("when", "no motion at wall-sensor for 20 min"),
                ("then", "desk-lights is off"),
            ],
            Span::ZERO,
        )
    };
    let span = 20 * 60_000;
    let start: (u64, &[Atom], &[Event]) = (0, &[ON], &[]);
    assert_eq!(run(clause(), &[start], 2 * span).1, Verdict::NeverExercised);
    let motion: (u64, &[Atom], &[Event]) = (500, &[ON], &[MOTION]);
    let script = [start, motion];
    assert_eq!(
        run(clause(), &script, span + 499).1,
        Verdict::NeverExercised
    );
    assert_eq!(
        run(clause(), &script, span + 500).0[1],
        (span + 500, Broken)
    );
    let again: (u64, &[Atom], &[Event]) = (span + 500, &[ON], &[MOTION]);
    assert_eq!(run(clause(), &[start, motion, again], span + 501).0, []);
}

#[test]
fn a_condition_has_lasted_exactly_a_span_after_it_began() {
    let clause = || parse_with(&[("never", "desk-lights is on for 5 s")], Span::ZERO);
    assert_eq!(
        run(clause(), &[(0, &[ON], &[])], 9_000).0,
        [(5_000, Broken)]
    );
    let blink: &[(u64, &[Atom], &[Event])] =
        &[(0, &[ON], &[]), (4_999, &[OFF], &[]), (5_000, &[ON], &[])];
    assert_eq!(run(clause(), blink, 9_999).1, Verdict::Held);
    assert_eq!(run(clause(), blink, 10_000).0, [(10_000, Broken)]);
    let just: &[(u64, &[Atom], &[Event])] = &[(0, &[ON], &[]), (5_000, &[OFF], &[])];
    assert_eq!(run(clause(), just, 9_999).1, Verdict::Held);
}

#[test]
fn a_standing_wrong_has_an_allowance_only_between_output_and_source_or_span() {
    let lasts = |clause: Formula, holds: &[Atom]| run(clause, &[(0, holds, &[])], 9_000).0[0].0;
    let never = |text: &str| parse(&[("never", text)]);
    assert_eq!(
        lasts(never("desk-lights is on and card is in"), &[ON, CARD_IN]),
        1_001
    );
    assert_eq!(
        lasts(
            never("desk-lights is on and door-lights is on"),
            &[ON, DOOR_ON]
        ),
        0
    );
    assert_eq!(
        lasts(
            never("wall-sensor is occupied and card is in"),
            &[OCCUPIED, CARD_IN]
        ),
        0
    );
    assert_eq!(lasts(never("desk-lights is on for 2 s"), &[ON]), 3_001);
    assert_eq!(
        lasts(never("wall-sensor is occupied for 2 s"), &[OCCUPIED]),
        2_000
    );
    assert_eq!(
        lasts(
            never("no motion at wall-sensor for 2 s and desk-lights is on"),
            &[ON]
        ),
        1_001
    );
    assert_eq!(lasts(never("no desk-lights turns on for 2 s"), &[]), 1_001);
    assert_eq!(
        lasts(parse(&[("always", "desk-lights is on or card is in")]), &[]),
        1_001
    );
    assert_eq!(lasts(parse(&[("always", "desk-lights is on")]), &[]), 0);
    let own = |reaction: &str, text| parse(&[("never", text), ("reaction", reaction)]);
    assert_eq!(lasts(own("5 ms", "desk-lights is on"), &[ON]), 6);
    assert_eq!(
        lasts(
            own("0 s", "desk-lights is on and card is in"),
            &[ON, CARD_IN]
        ),
        0
    );
    let scoped = parse(&[("never", "desk-lights is on"), ("while", "card is in")]);
    assert_eq!(lasts(scoped, &[ON, CARD_IN]), 0);
}

#[test]
fn a_wrong_that_ends_in_time_is_none_and_one_that_stands_at_the_end_is_open() {
    let clause = || parse(&[("never", "desk-lights is on and card is in")]);
    let script: &[(u64, &[Atom], &[Event])] = &[
        (0, &[ON, CARD_IN], &[]),
        (1_000, &[CARD_IN], &[]),
        (1_500, &[ON, CARD_IN], &[]),
    ];
    assert_eq!(run(clause(), script, 2_500), (vec![], Verdict::Open));
    assert_eq!(run(clause(), &script[..2], 9_000).1, Verdict::Held);
    assert_eq!(run(clause(), script, 2_501).0, [(2_501, Broken)]);
}

#[test]
fn only_named_sources_may_be_the_root_of_a_change() {
    let clause = || {
        parse(&[(
            "only",
            "wall-button, wall-sensor motion turn on desk-lights",
        )])
    };
    let others = By::NoneOf(vec![Doer::Source(7), Doer::Channel(8, Channel::Motion)]);
    let by_others = Event::Output(0, Change::TurnsOn, others);
    let allowed: &[(u64, &[Atom], &[Event])] = &[(0, &[], &[]), (10, &[], &[TURNS_ON])];
    assert_eq!(
        run(clause(), allowed, 20),
        (vec![(10, Held)], Verdict::Held)
    );
    let refused: &[(u64, &[Atom], &[Event])] = &[(0, &[], &[]), (10, &[], &[TURNS_ON, by_others])];
    assert_eq!(
        run(clause(), refused, 20),
        (vec![(10, Broken)], Verdict::Broken)
    );
    assert_eq!(run(clause(), &allowed[..1], 20).1, Verdict::NeverExercised);
}

#[test]
fn off_only_after_a_warning_looks_at_the_time_just_before() {
    let clause = || {
        parse(&[(
            "always",
            "desk-lights turns off only after desk-lights is in warning for 30 s",
        )])
    };
    let script = |off: u64| {
        run(
            clause(),
            &[
                (0, &[ON], &[]),
                (1_000, &[ON, WARNING], &[]),
                (off, &[OFF], &[TURNS_OFF]),
            ],
            60_000,
        )
    };
    assert_eq!(script(31_000), (vec![(31_000, Held)], Verdict::Held));
    assert_eq!(script(45_000), (vec![(45_000, Held)], Verdict::Held));
    assert_eq!(script(30_999), (vec![(30_999, Broken)], Verdict::Broken));
    let stale = run(
        clause(),
        &[
            (0, &[WARNING], &[]),
            (40_000, &[], &[]),
            (40_001, &[], &[TURNS_OFF]),
        ],
        60_000,
    );
    assert_eq!(stale.1, Verdict::Broken);
}

#[test]
fn a_change_a_whole_span_after_the_last_is_none_too_soon() {
    let fields = [("always", "desk-lights does not change for 10 s")];
    let clause = || parse(&fields);
    let script = |second: u64| {
        run(
            clause(),
            &[(0, &[], &[CHANGES]), (second, &[], &[CHANGES])],
            60_000,
        )
    };
    assert_eq!(
        script(10_000),
        (vec![(0, Held), (10_000, Held)], Verdict::Held)
    );
    assert_eq!(
        script(9_999),
        (vec![(0, Held), (9_999, Broken)], Verdict::Broken)
    );
    let excused = parse(&[fields[0], ("unless", "wall-button press")]);
    let press = Event::Button(7, None, Gesture::Press);
    let excuse: &[(u64, &[Atom], &[Event])] =
        &[(0, &[], &[CHANGES]), (500, &[], &[CHANGES, press])];
    assert_eq!(run(excused, excuse, 900).1, Verdict::Held);
}

#[test]
fn one_more_than_allowed_in_the_span_breaks_both_ends_included() {
    let clause = || parse(&[("never", "more than 2 desk-lights turns on within 10 s")]);
    let script = |third: u64| {
        let events: &[Event] = &[TURNS_ON];
        run(
            clause(),
            &[(0, &[], events), (4_000, &[], events), (third, &[], events)],
            60_000,
        )
    };
    assert_eq!(script(10_000).0.last(), Some(&(10_000, Broken)));
    assert_eq!(script(10_001).1, Verdict::Held);
    let events: &[Event] = &[TURNS_ON];
    let rolling = run(
        clause(),
        &[
            (0, &[], events),
            (4_000, &[], events),
            (10_001, &[], events),
            (14_001, &[], events),
            (14_500, &[], events),
        ],
        60_000,
    );
    assert_eq!(rolling.0.last(), Some(&(14_500, Broken)));
}

#[test]
fn two_events_count_as_following_each_other_up_to_and_with_the_span() {
    let clause = || {
        parse(&[(
            "never",
            "desk-lights turns on within 10 s of desk-lights turns off",
        )])
    };
    let script = |on: u64| {
        run(
            clause(),
            &[(0, &[], &[TURNS_OFF]), (on, &[], &[TURNS_ON])],
            60_000,
        )
    };
    assert_eq!(script(10_000), (vec![(10_000, Broken)], Verdict::Broken));
    assert_eq!(script(10_001), (vec![], Verdict::Held));
    let at_once: &[(u64, &[Atom], &[Event])] = &[(0, &[], &[TURNS_OFF, TURNS_ON])];
    assert_eq!(run(clause(), at_once, 9).1, Verdict::Broken);
}

#[test]
fn a_broken_clause_stays_broken_and_runs_no_timer() {
    let clause = parse(&[
        (
            "when",
            "motion at wall-sensor and desk-lights is on for 5 s",
        ),
        ("then", "door-lights is on"),
        ("for", "90 s"),
    ]);
    assert_eq!(clause.timers(), 3);
    let mut run = Run::new(clause);
    run.at(0, &shown(&[ON, DOOR_ON], &[]));
    run.at(6_000, &shown(&[ON, DOOR_ON], &[MOTION]));
    run.at(8_000, &shown(&[], &[]));
    run.at(8_500, &shown(&[ON], &[]));
    assert_eq!(run.deadlines, [Some(13_500), Some(96_000), Some(9_001)]);
    run.until(9_001);
    assert_eq!(run.deadlines, [None, None, None]);
    run.at(9_100, &shown(&[ON], &[MOTION]));
    assert_eq!(run.deadlines, [None, None, None]);
    assert_eq!(run.turns, [(6_000, Triggered), (9_001, Broken)]);
    assert_eq!(run.verdict(), Verdict::Broken);
}

#[test]
fn monitors_that_differ_only_in_what_was_exercised_become_equal() {
    let clause = parse(&[("never", "desk-lights is on and card is in")]);
    let mut exercised = Run::new(clause.clone());
    exercised.at(0, &shown(&[ON], &[]));
    exercised.at(1, &shown(&[], &[]));
    let mut fresh = Run::new(clause);
    fresh.at(0, &shown(&[], &[]));
    assert_ne!(exercised.monitor, fresh.monitor);
    exercised.monitor.forget_exercise();
    assert_eq!(exercised.monitor, fresh.monitor);
}
