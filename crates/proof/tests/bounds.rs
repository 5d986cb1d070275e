//! The tightest bound that is told is the one that can be worked out by hand.

mod asked;

use device::Span;
use proof::{Answer, Budget, Terms, Tightest, Verdict};
use scenario::Sources;
use scenario::room_file::read_room;

/// A lamp that goes on by itself and is dark a quarter of an hour after the last motion, and a
/// frame takes its 10 ms.
const LAMP: &str = r#"
name = "Store 3"
says = "A store on the quay."
time-zone = "Europe/London"

[outputs.lamp]
drive = "relay"
grace = "0 s"

[sources.eye]
kind = "occupancy"
senses = ["motion"]
time-delay = "15 min"

[[links]]
from = "eye"
to = "lamp"
role = "auto-on"
"#;

fn proved(clause: &str) -> Answer {
    let mut sources = Sources::new();
    let room = sources.add("room.toml", LAMP);
    let text = format!("[[clauses]]\nid = \"A1\"\nsays = \"-\"\n{clause}");
    let sequence = sources.add("sequence.toml", text);
    let (room, wrong) = read_room(&sources, room, Some(sequence), None);
    let wrong: Vec<String> = wrong.iter().map(|it| it.render(&sources, false)).collect();
    let room = room.unwrap_or_else(|| panic!("{}", wrong.join("\n")));
    let budget = Budget {
        tightest: true,
        ..Budget::default()
    };
    let answer = asked::answer(&room, "A1", &Terms::default(), budget);
    assert!(
        matches!(answer.verdict, Verdict::Proved(_)),
        "{:?}",
        answer.verdict
    );
    answer
}

#[test]
fn a_lamp_is_dark_from_its_delay_and_one_frame_after_the_last_motion() {
    let answer = proved(
        r#"
when = "(no motion at eye for 16 min) becomes true"
then = "lamp is off"
reaction = "0 s"
"#,
    );
    let holds = Span::from_minutes(15).plus(Span::from_ms(10));
    let tightest = Tightest {
        asked: Span::from_minutes(16),
        holds,
        longer: true,
        sharp: true,
        follows: false,
    };
    assert_eq!((answer.tightest, answer.untold), (Some(tightest), None));
}

#[test]
fn a_deadline_is_as_long_as_a_frame_takes() {
    let answer = proved("when = \"motion at eye\"\nthen = \"lamp is on\"\nwithin = \"1 s\"");
    let tightest = answer
        .tightest
        .map(|it| (it.holds, it.longer, it.sharp, it.follows));
    assert_eq!(tightest, Some((Span::from_ms(10), true, true, true)));
}

#[test]
fn a_lamp_stays_on_up_to_the_instant_at_which_a_newcomer_waits_for_its_frame() {
    let answer = proved("when = \"motion at eye\"\nthen = \"lamp is on\"\nfor = \"10 min\"");
    let tightest = (answer.tightest).map(|it| (it.holds, it.longer, it.sharp, it.follows));
    // The last motion that the blind sensor misses is 100 ms after the one that it sees, and
    // the lamp is dark from 15 min 0.010 s after that. It may be so for a second, of which the
    // last 10 ms may belong to the next motion, whose frame is on its way.
    let dark = Span::from_minutes(15).plus(Span::from_ms(10));
    let holds = dark.plus(Span::from_seconds(1)).minus(Span::from_ms(110));
    assert_eq!(tightest, Some((holds, false, true, true)));
}

#[test]
fn a_clause_that_names_no_span_has_no_bound() {
    let answer = proved("never = \"lamp is on and lamp is vacant\"\nreaction = \"1 s\"");
    assert_eq!((answer.tightest, answer.untold), (None, None));
}

#[test]
fn a_span_that_does_not_matter_is_said_not_to() {
    let answer = proved("when = \"lamp turns on\"\nthen = \"lamp is on\"\nwithin = \"5 s\"");
    let why = answer.untold.expect("why there is no bound");
    assert!(why.contains("any length"), "{why}");
}

#[test]
fn what_can_be_asked_of_the_lamp_has_its_least_times() {
    let mut sources = Sources::new();
    let room = sources.add("room.toml", LAMP);
    let (room, _) = read_room(&sources, room, None, None);
    let text = proof::questions::questions(&room.expect("a room without faults"));
    let clauses: Vec<&str> = text.split("[[clauses]]").skip(1).collect();
    let least: Vec<_> = clauses
        .into_iter()
        .map(|clause| clause.replacen("id =", "was =", 1))
        .map(|clause| {
            let keys = clause
                .lines()
                .filter(|line| !line.starts_with("was =") && !line.starts_with("says ="));
            let answer = proved(&keys.collect::<Vec<_>>().join("\n"));
            answer.tightest.map(|it| (it.holds, it.sharp))
        })
        .collect();
    let dark = Span::from_minutes(15).plus(Span::from_ms(10));
    // It still changes at that instant: a quiet that is a millisecond longer sees no change.
    let still = dark.plus(Span::from_ms(1));
    // That its link is not dead names no span.
    assert_eq!(least, [Some((dark, true)), Some((still, true)), None]);
}
