//! Rooms of sensors with two stages: what is known of them to the millisecond, and that threads
//! change nothing.

use std::fmt::Write as _;
use std::sync::atomic::AtomicBool;

use proof::{Answer, Budget, Observer, Terms, Verdict};
use scenario::Sources;
use scenario::room_file::{RoomFile, read_room};

struct Deaf;

impl Observer for Deaf {}

/// So many sensors with 15 min of delay and 60 min of sound window on one lamp, and the clause
/// that so many milliseconds after the last motion the lamp is off. Frames take no time.
fn room(sensors: usize, quiet: u64) -> RoomFile {
    let mut text = String::from(
        "name = \"Room\"\n[bus]\ndelay = \"0 s\"\n[outputs.lamp]\ndrive = \"relay\"\n",
    );
    let mut calm = Vec::new();
    for eye in 1..=sensors {
        let _ = writeln!(
            text,
            "[sources.eye-{eye}]\nkind = \"occupancy\"\nsenses = [\"motion\", \"sound\"]\n\
             dead-time = \"0 s\"\n\
             [[links]]\nfrom = \"eye-{eye}\"\nto = \"lamp\"\nrole = \"auto-on\""
        );
        calm.push(format!("no motion at eye-{eye} for {quiet} ms"));
    }
    let clause = format!(
        "[[clauses]]\nid = \"Q\"\nsays = \"-\"\nreaction = \"0 s\"\n\
         when = \"({}) becomes true\"\nthen = \"lamp is off\"\n",
        calm.join(" and ")
    );
    let mut sources = Sources::new();
    let file = sources.add("room.toml", text);
    let sequence = sources.add("sequence.toml", clause);
    let (room, found) = read_room(&sources, file, Some(sequence), None);
    let found: Vec<String> = found.iter().map(|it| it.render(&sources, false)).collect();
    room.unwrap_or_else(|| panic!("{}", found.join("\n")))
}

fn answer(room: &RoomFile, terms: &Terms) -> Answer {
    let stop = AtomicBool::new(false);
    proof::prove(room, &[0], terms, Budget::default(), &Deaf, &stop).remove(0)
}

/// ORD-1: a sound at the very end of the window counts, and so the lamp goes off 75 min after
/// the last motion at the latest, at that instant.
#[test]
fn the_lamp_is_off_from_the_two_stages_together_and_not_a_millisecond_sooner() {
    for sensors in 1..=2 {
        let at_75 = answer(&room(sensors, 4_500_000), &Terms::default());
        assert!(matches!(at_75.verdict, Verdict::Proved(_)), "{at_75:?}");
        let sooner = answer(&room(sensors, 4_499_999), &Terms::default());
        assert!(matches!(sooner.verdict, Verdict::Broken(_)), "{sooner:?}");
    }
}

/// One motion and four sounds are the fewest that keep a sensor occupied for 74 min.
#[test]
fn a_minute_less_is_refuted_with_five_stimuli_whatever_the_number_of_sensors() {
    for sensors in 1..=3 {
        let answer = answer(&room(sensors, 4_440_000), &Terms::default());
        let Verdict::Broken(found) = &answer.verdict else {
            panic!("{answer:?}");
        };
        assert_eq!(found.happenings, 5, "{sensors} sensors: {}", found.text);
    }
}

/// A bound that is spent proves nothing and breaks nothing.
#[test]
fn a_spent_budget_is_undecided() {
    let budget = Budget {
        transitions: 3,
        ..Budget::default()
    };
    let stop = AtomicBool::new(false);
    let room = room(2, 4_500_000);
    let answers = proof::prove(&room, &[0], &Terms::default(), budget, &Deaf, &stop);
    assert!(matches!(answers[0].verdict, Verdict::Undecided(_)));
}

/// The same answers, counterexamples and counts on any number of threads.
#[test]
fn threads_change_no_answer() {
    let rooms: Vec<RoomFile> = [(1, 4_500_000), (2, 4_499_999), (2, 4_500_000), (1, 60_000)]
        .map(|(sensors, quiet)| room(sensors, quiet))
        .into();
    let asked: Vec<_> = rooms
        .iter()
        .map(|room| (room, vec![0], Terms::default()))
        .collect();
    let on = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
        let stop = AtomicBool::new(false);
        pool.expect("threads are there")
            .install(|| proof::prove_all(&asked, Budget::default(), &Deaf, &stop))
    };
    let one = on(1);
    for threads in [2, 3, 4] {
        assert_eq!(on(threads), one, "{threads} threads");
    }
}
