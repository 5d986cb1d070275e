//! Random rooms and clauses: what breaks is run, and what is proved survives random runs.
//!
//! `cargo run --release -p proof --example random -- ROOMS [SEED]` looks at as many as one likes.

mod clauses;
mod dice;
mod rooms;
mod trial;
mod walk;

use std::sync::atomic::AtomicBool;

use proof::{Budget, Terms, Verdict};
use trial::{Deaf, Measure, Tally, trial};

/// Every counterexample that is found breaks in a plain run, and no random run breaks what is
/// proved or tests what is said to be beyond test.
#[test]
fn random_rooms_are_as_their_proofs_say() {
    let mut tally = Tally::default();
    for seed in 0..ROOMS {
        tally.add(trial(seed, MEASURE));
    }
    assert!(tally.wrong.is_empty(), "{}", tally.wrong.join("\n"));
    assert!(
        tally.not_replayed.is_empty(),
        "{}",
        tally.not_replayed.join("\n")
    );
    // The rooms are not all refused, nor the clauses all of one kind.
    let each = tally.proved.min(tally.broken).min(tally.never);
    assert!(tally.rooms as u64 > ROOMS / 2 && each > 2, "{tally:?}");
}

/// ORD-1: what starts without any span (here `off-after`) elapses after the frames of its instant,
/// and one of them may call it off: a lamp whose last sensor becomes vacant as another becomes
/// occupied does not warn.
#[test]
fn a_timer_without_a_span_waits_for_the_frames_of_its_instant() {
    let measure = Measure {
        transitions: 5_000,
        ..MEASURE
    };
    let tally = trial(7_368, measure);
    let outcome = (tally.broken, &tally.not_replayed);
    assert_eq!(outcome, (2, &Vec::new()), "{tally:?}");
}

/// A run judges where a level on its way passes one that a clause names, and so does the search: a
/// lamp that is asked for more than 40 % on its way up, one that shows less than half, and one that
/// shows more than a fifth.
#[test]
fn a_level_on_its_way_is_judged_where_a_run_judges_it() {
    let measure = Measure {
        transitions: 5_000,
        ..MEASURE
    };
    for seed in [4_489, 7_188, 9_486] {
        let tally = trial(seed, measure);
        assert_eq!(tally.not_replayed, Vec::<String>::new());
    }
    assert_eq!(trial(4_489, measure).broken, 2);
}

/// Where clocks may be off two things may have to meet in one millisecond, and a run has a clock for
/// it: all spans that a device starts at one instant go by one pace, which is as fine as it takes.
#[test]
fn clocks_that_are_off_meet_in_a_run_where_they_do_in_the_search() {
    let measure = Measure {
        transitions: 5_000,
        ..MEASURE
    };
    for seed in [4_642, 8_593, 29_236, 60_655] {
        let tally = trial(seed, measure);
        assert!(tally.broken > 0, "{seed}: {tally:?}");
        assert_eq!(tally.not_replayed, Vec::<String>::new());
    }
}

/// That a source may die of which a clause does not even hear changes nothing.
#[test]
fn a_source_that_may_die_elsewhere_takes_no_reports_away() {
    let measure = Measure {
        transitions: 5_000,
        ..MEASURE
    };
    let tally = trial(75_122, measure);
    let outcome = (tally.broken, &tally.not_replayed);
    assert_eq!(outcome, (1, &Vec::new()), "{tally:?}");
}

/// Where frames take no time and stimuli may come at once an instant has as many orders as memory
/// can hold, and more: it is given up, and the clause is undecided.
#[test]
fn an_instant_of_too_many_orders_is_given_up() {
    let measure = Measure {
        transitions: 5_000,
        ..MEASURE
    };
    let tally = trial(86_522, measure);
    assert_eq!((tally.broken, tally.spent), (1, 1), "{tally:?}");
}

/// LINK-4: what a frame without delay does, it does at the instant at which it was sent.
#[test]
fn a_frame_that_takes_no_time_turns_the_lamp_on() {
    answered(
        "[bus]\ndelay = \"0 s\"",
        ("never", "lamp is on"),
        |it| matches!(it, Verdict::Broken(found) if found.happenings == 1),
    );
}

/// A frame that a clock sends as the run begins goes a way that the first rows may have made better
/// or worse: it comes on time, late, or not at all.
#[test]
fn a_clock_that_starts_after_hours_is_heard_when_the_path_says() {
    let clock = "[bus]\njitter = \"20 ms\"\n[sources.clock]\nkind = \"clock\"\n\
                 hours = { weekdays = \"09:00 to 09:30\" }\n[[links]]\nfrom = \"clock\"\n\
                 to = \"lamp\"\nrole = \"no-auto-on\"";
    answered(clock, ("never", "clock becomes after hours"), |it| {
        matches!(it, Verdict::Broken(_))
    });
    let measure = Measure {
        transitions: 10_000,
        ..MEASURE
    };
    for seed in [22_761, 26_349, 28_475] {
        let tally = trial(seed, measure);
        assert_eq!(tally.not_replayed, Vec::<String>::new());
        assert!(tally.broken > 0, "{tally:?}");
    }
}

/// A clock that is closed all week says so as the run begins, and is heard ten milliseconds later.
#[test]
fn a_clock_that_is_never_open_is_heard_after_the_start() {
    let clock = "[sources.clock]\nkind = \"clock\"\n[[links]]\nfrom = \"clock\"\n\
                 to = \"lamp\"\nrole = \"no-auto-on\"";
    answered(
        clock,
        ("never", "clock becomes after hours"),
        |it| matches!(it, Verdict::Broken(found) if found.happenings == 0),
    );
}

/// Two frames of one way leave at one instant, and only the first arrives before the end: a row
/// that makes the next frame late would be for the wrong one.
#[test]
fn of_two_frames_that_leave_together_the_first_is_on_time() {
    let tally = trial(22_379, MEASURE);
    assert_eq!((tally.broken, tally.not_replayed), (2, Vec::new()));
}

/// Both of two frames that leave one way together are late: were only the first, it would be dropped
/// as older than the second (LINK-3).
#[test]
fn two_frames_that_leave_together_are_late_together() {
    let measure = Measure {
        transitions: 5_000,
        ..MEASURE
    };
    let tally = trial(95_828, measure);
    assert!(tally.broken > 0, "{tally:?}");
    assert_eq!(tally.not_replayed, Vec::<String>::new());
}

/// Only the night in October has eleven hours from 22:00 to 09:00, and a run may go through it.
#[test]
fn a_run_may_begin_on_the_day_before_the_clocks_are_put_back() {
    for seed in [20_994, 21_642] {
        let tally = trial(seed, MEASURE);
        assert_eq!(tally.not_replayed, Vec::<String>::new());
        assert!(tally.broken > 0, "{tally:?}");
    }
}

/// A lamp that turns on at its low trim and is held rises at that instant, whatever else a clause
/// makes a run look at.
#[test]
fn what_turns_on_and_goes_on_rising_rises_at_once() {
    let tally = trial(28_969, MEASURE);
    assert_eq!(tally.not_replayed, Vec::<String>::new());
}

/// A way that comes to its end at the instant at which a level was looked at on it is over for
/// whatever else happens there; and where too many levels are on their way at once nothing is said,
/// rather than nothing for ever.
#[test]
fn instants_with_many_levels_on_their_way_come_to_an_end() {
    for (seed, transitions) in [(23_220, 20_000), (24_025, 5_000)] {
        let measure = Measure {
            transitions,
            ..MEASURE
        };
        let tally = trial(seed, measure);
        assert_eq!((tally.wrong, tally.not_replayed), (Vec::new(), Vec::new()));
    }
}

/// The two moves of one ramp are two only where something else happens between them: nobody
/// looks by himself at a level that no clause compares.
#[test]
fn a_ramp_is_looked_at_when_something_happens() {
    let dimmed = "[outputs.other]\ndrive = \"0-10 V\"\n[sources.unit]\nkind = \"switch\"\n\
                  buttons = \"single\"\n[[links]]\nfrom = \"unit\"\nto = \"other\"";
    answered(dimmed, ("always", "other does not change for 2 s"), |it| {
        matches!(it, Verdict::Broken(_))
    });
}

/// Proves a clause of a room with an eye and a lamp, and more.
fn answered(more: &str, clause: (&'static str, &str), fits: impl Fn(&Verdict) -> bool) {
    let text = format!(
        "name = \"Room\"\n{more}\n[outputs.lamp]\ndrive = \"relay\"\n[sources.eye]\n\
         kind = \"occupancy\"\n[[links]]\nfrom = \"eye\"\nto = \"lamp\"\nrole = \"auto-on\"\n"
    );
    let clauses = [vec![(clause.0, clause.1.to_owned())]];
    let room = trial::read(&text, &clauses).unwrap_or_else(|error| panic!("{error}"));
    let stop = AtomicBool::new(false);
    let terms = Terms::default();
    let answers = proof::prove(&room, &[0], &terms, Budget::default(), &Deaf, &stop);
    assert!(fits(&answers[0].verdict), "{:?}", answers[0].verdict);
}

/// Rooms in the test.
const ROOMS: u64 = 100;

const MEASURE: Measure = Measure {
    clauses: 2,
    transitions: 2_000,
    runs: 2,
    steps: 300,
    faults: true,
};
