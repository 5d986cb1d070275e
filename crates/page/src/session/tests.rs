//! What a session does, and that it is what a scenario does.

use std::sync::Arc;

use device::Span;
use report::run::Run;
use report::why::Why;
use room::OutputId;
use sim::Instant;

use super::*;
use crate::samples::{Luck, deeds, room, rooms, session};

fn seconds(seconds: u64) -> Instant {
    Instant::from_ms(seconds * 1_000)
}

/// How an output stands in words.
fn stands(session: &Session, output: &str) -> String {
    let plan = session.simulation().plan();
    let place = plan
        .outputs
        .iter()
        .position(|it| it.name == output)
        .unwrap();
    let id = OutputId(u16::try_from(place).unwrap());
    let kind = Names::new(plan).kind(id);
    kind.stands(&session.simulation().view(id), true)
}

#[test]
fn a_session_that_begins_with_a_scenario_and_runs_to_its_end_has_the_trace_of_its_run() {
    let mut compared = 0;
    for stage in rooms() {
        for scene in &stage.scenarios {
            let name = &scene.name;
            let mut session =
                Session::of_scenario(Arc::clone(&stage), 0, Vec::new(), name).unwrap();
            session.kept.most = usize::MAX;
            session.run_to(scene.script.end);
            let outcome = scenario::run::run(&scene.script, 0);
            assert!(
                session.simulation().trace() == &outcome.trace,
                "another trace: {} {name}",
                stage.name()
            );
            compared += 1;
        }
    }
    assert!(compared > 80, "{compared}");
}

#[test]
fn going_back_and_on_again_changes_nothing() {
    let mut luck = Luck(7);
    for stage in rooms() {
        let scene = luck.one_of(&stage.scenarios).clone();
        let end = scene.script.end;
        let mut session =
            Session::of_scenario(Arc::clone(&stage), 0, Vec::new(), &scene.name).unwrap();
        session.run_to(end);
        let trace = session.simulation().trace().clone();
        let energy: Vec<Option<f64>> = session.ledger.energy(end).collect();
        for _ in 0..6 {
            let back = luck.below(usize::try_from(end.as_ms()).unwrap() + 1);
            let back = Instant::from_ms(u64::try_from(back).unwrap());
            session.rewind(back).unwrap();
            assert_eq!((session.now(), session.end()), (back, end));
            assert!(
                session
                    .simulation()
                    .trace()
                    .steps
                    .iter()
                    .all(|it| it.at <= back)
            );
            session.run_to(end);
            assert!(session.simulation().trace() == &trace, "{}", scene.name);
        }
        assert_eq!(session.ledger.energy(end).collect::<Vec<_>>(), energy);
    }
}

#[test]
fn what_is_done_after_going_back_drops_what_was_done_later() {
    let mut session = session("private-office");
    session.act("wall-sensor", "motion").unwrap();
    session.run_to(seconds(60));
    session.act("wall-button", "tap up").unwrap();
    session.run_to(seconds(120));
    assert_eq!(session.rows().len(), 2);
    session.rewind(seconds(30)).unwrap();
    assert_eq!((session.rows_so_far().len(), session.rows().len()), (1, 2));
    assert_eq!((session.branch(), session.end()), (0, seconds(120)));
    session.act("wall-button", "tap down").unwrap();
    session.run_to(seconds(40));
    let done: Vec<&str> = session.rows().iter().map(|row| &*row.says).collect();
    assert_eq!(done, ["motion", "tap down"]);
    assert_eq!((session.branch(), session.end()), (1, seconds(40)));
    assert!(stands(&session, "desk-lights").starts_with("is off"));
}

#[test]
fn what_was_done_later_happens_again_when_nothing_else_is_done() {
    let mut session = session("private-office");
    session.run_to(seconds(10));
    session.act("wall-sensor", "motion").unwrap();
    session.run_to(seconds(60));
    session.rewind(Instant::START).unwrap();
    assert!(stands(&session, "desk-lights").starts_with("is off"));
    session.run_to(seconds(60));
    assert!(stands(&session, "desk-lights").starts_with("is on"));
    assert_eq!(session.branch(), 0);
}

#[test]
fn what_the_reader_of_scenarios_refuses_changes_nothing() {
    let mut session = session("private-office");
    session.act("wall-sensor", "motion").unwrap();
    session.run_to(seconds(5));
    let trace = session.simulation().trace().clone();
    let cases = [
        ("wall-sensr", "motion", "did you mean `wall-sensor`?"),
        (
            "wall-sensor",
            "card in",
            "of an occupancy sensor a row can say",
        ),
        ("wall-sensor", "is occupied", "checks are filled in"),
        ("include", "other.toml", "start from a scenario"),
        ("includ", "motion", "known are"),
        ("wall-sensor", "time-delay = 5 weeks", ""),
        ("wall-button", "tap sideways", "its buttons are"),
        ("", "", ""),
        ("wall-sensor", "motion\n[\"09:00\"", ""),
        ("wall-sensor\", \"motion\"], [\"08:00", "motion", ""),
        ("wall-sensor", "{x}", ""),
    ];
    for (point, event, hint) in cases {
        let refusal = session.act(point, event).unwrap_err();
        assert!(refusal.hint.contains(hint), "{point} {event}: {refusal:?}");
        assert!(!refusal.message.is_empty());
    }
    let nowhere = session.act("qqqqqqqq", "motion").unwrap_err();
    assert!(
        nowhere.hint.contains("desk-lights, desk-outlet, room"),
        "{nowhere:?}"
    );
    for point in ["includ", "qqqqqqqq"] {
        let refusal = session.act(point, "motion").unwrap_err();
        assert!(!refusal.hint.contains("include"), "{refusal:?}");
    }
    let long = "x".repeat(201);
    assert!(session.act(&long, "motion").is_err() && session.act("room", &long).is_err());
    assert_eq!(session.rows().len(), 1);
    assert!(session.simulation().trace() == &trace);
}

#[test]
fn a_step_goes_to_the_next_thing_that_can_be_seen() {
    let mut session = session("private-office");
    assert!(session.owe_next(true).is_err(), "nothing will happen");
    session.act("wall-sensor", "motion").unwrap();
    session.settle();
    session.owe_next(true).unwrap();
    session.settle();
    assert!(stands(&session, "desk-lights").starts_with("is on"));
    let mut last = session.now();
    while stands(&session, "desk-lights").starts_with("is on") {
        session.owe_next(true).unwrap();
        session.settle();
        assert!(session.now() > last);
        last = session.now();
    }
    // The time delay of the office is 15 min, and frames take 10 ms.
    assert!(last >= seconds(900) && last < seconds(902), "{last:?}");
}

#[test]
fn a_random_session_in_each_room_is_written_as_a_scenario_that_passes() {
    for stage in rooms() {
        for seed in 0..2 {
            let mut luck = Luck(seed);
            let mut session = Session::new(Arc::clone(&stage), 0).unwrap();
            let deeds = deeds(&stage);
            let mut done = 0;
            while done < 25 {
                let (point, event) = luck.one_of(&deeds);
                done += usize::from(session.act(point, event).is_ok());
                let wait = [500, 3_000, 60_000, 1_200_000][luck.below(4)];
                session.run_to(session.now().after(Span::from_ms(wait)));
                if luck.below(8) == 0 {
                    let back = u64::try_from(luck.below(600_000)).unwrap();
                    let to = Instant::from_ms(session.now().as_ms().saturating_sub(back));
                    session.rewind(to).unwrap();
                }
            }
            let record = session.draft("A random session").write().unwrap();
            let what = format!("{} {seed}: {}", stage.name(), record.toml);
            assert!(record.passes, "{what}");
            assert!(record.checks >= stage.plan().outputs.len(), "{what}");
            assert_eq!(record.file, "a-random-session.toml");
        }
    }
}

#[test]
fn a_session_is_written_with_what_the_outputs_did() {
    let mut session = session("private-office");
    session.act("wall-sensor", "motion").unwrap();
    session.run_to(seconds(60));
    session.act("wall-button", "tap down").unwrap();
    session.run_to(seconds(1_000));
    let record = session.draft("Off by hand").write().unwrap();
    assert_eq!(
        record.toml,
        r#"title = "Off by hand"
start = "2026-03-02 08:00"
end   = "08:16:40"
rows = [
  ["08:00:00.001", "wall-sensor", "motion"],
  ["08:00:01",     "desk-lights", "is 50 %"],
  ["08:00:01",     "desk-outlet", "is on"],
  ["08:01:00.001", "wall-button", "tap down"],
  ["08:01:01",     "desk-lights", "is off"],
  ["08:15:01",     "desk-outlet", "is off"],
  ["08:16:40",     ["desk-lights", "desk-outlet"], "is off"],
]
"#
    );
}

#[test]
fn why_is_told_in_the_words_of_the_command_line() {
    let mut compared = 0;
    for stage in rooms() {
        let scene = &stage.scenarios[0];
        let outcome = scenario::run::run(&scene.script, 0);
        let run = Run::of(&outcome, &stage.sources, &stage.room);
        let mut session =
            Session::of_scenario(Arc::clone(&stage), 0, Vec::new(), &scene.name).unwrap();
        session.run_to(scene.script.end);
        for output in &stage.plan().outputs {
            let id = run.output(&output.name).unwrap();
            let expected = without_files(&Why::of(&run, id, run.end).text(&run));
            let told = session.why(&output.name, None).unwrap().text().to_owned();
            assert_eq!(
                without_files(&told),
                expected,
                "{} {}",
                scene.name,
                output.name
            );
            compared += 1;
        }
    }
    assert!(compared > 20);
}

/// A text without the places of rows.
fn without_files(text: &str) -> String {
    let lines = text.lines().map(|line| match line.find(".toml:") {
        Some(at) => &line[..line[..at].rfind(" (").unwrap_or(at)],
        None => line,
    });
    lines.map(|line| format!("{line}\n")).collect()
}

#[test]
fn every_setting_is_turned_and_written_or_it_is_said_why_not() {
    let (mut written, mut by_hand) = (0, Vec::new());
    for stage in rooms() {
        for knob in stage.room.knobs() {
            let mut session = Session::new(Arc::clone(&stage), 0).unwrap();
            session.run_to(seconds(1));
            let path = format!("{}.{}", knob.point, knob.key.name);
            let tried = [
                "7 min", "45 s", "33 %", "true", "false", "321 lx", "2", "off", "occupied",
            ];
            let Some(value) = tried.iter().find(|value| session.set(&path, value).is_ok()) else {
                continue;
            };
            session.settle();
            match session.export() {
                Ok(text) => {
                    assert!(text.contains(value), "{path} = {value}:\n{text}");
                    let before = stage.sources.file(stage.file).text();
                    let comments = |text: &str| text.matches('#').count();
                    assert_eq!(comments(&text), comments(before), "{path}");
                    written += 1;
                }
                Err(refusal) => by_hand.push(format!("{path}: {}", refusal.message)),
            }
        }
    }
    assert!(written > 300, "{written}, and by hand {by_hand:#?}");
    assert!(
        by_hand.len() < written / 4,
        "{written}, and by hand {by_hand:#?}"
    );
}

#[test]
fn energy_is_light_times_load() {
    let mut session = session("private-office");
    session.act("wall-sensor", "motion").unwrap();
    // Half of 96 W, and 240 W on the outlet, for 15 min but the second of the fade.
    session.run_to(seconds(899));
    let energy: Vec<f64> = session.ledger.energy(session.now()).flatten().collect();
    assert!((11.95..12.0).contains(&energy[0]), "{energy:?}");
    assert!((59.9..60.0).contains(&energy[1]), "{energy:?}");
}

#[test]
fn signs_of_people_and_calendars_do_not_depend_on_how_far_ahead_they_were_read() {
    // Two days by steps of an hour, with rows read on many times, and at one go.
    let run = |steps: u64| {
        let mut session = Session::new(room("hall"), 3).unwrap();
        for step in 1..=steps {
            session.run_to(Instant::from_ms(step * 48 * 3_600_000 / steps));
        }
        session
    };
    let (one, many) = (run(1), run(48));
    assert!(one.simulation().trace().steps.len() > 10);
    assert!(one.simulation().trace() == many.simulation().trace());
}

#[test]
fn what_is_done_before_the_room_has_run_is_not_lost() {
    let mut session = session("private-office");
    session.run_to(seconds(1));
    session.act("wall-button", "tap up").unwrap();
    session.act("wall-sensor", "motion").unwrap();
    session.run_to(seconds(2));
    assert_eq!((session.rows().len(), session.branch()), (2, 0));
    assert!(stands(&session, "desk-lights").starts_with("is on, asked 100 %"));
}

#[test]
fn what_is_done_while_the_clock_stands_is_answered_at_once_and_no_more_happens() {
    let mut session = session("private-office");
    session.act("wall-sensor", "motion").unwrap();
    session.settle();
    assert!(stands(&session, "desk-lights").starts_with("is off"));
    session.answer_deed();
    session.settle();
    // The frame takes 10 ms; the light has not begun to rise.
    assert_eq!(session.now(), Instant::from_ms(11));
    assert!(stands(&session, "desk-lights").starts_with("is on"));
    session.answer_deed();
    session.settle();
    assert_eq!(
        session.now(),
        Instant::from_ms(11),
        "nothing is left to answer"
    );

    // A tap takes a moment of its own, and its release is answered too.
    session.act("wall-button", "tap down").unwrap();
    session.answer_deed();
    session.settle();
    assert!(stands(&session, "desk-lights").starts_with("is off"));
    assert!(
        session.now() <= Instant::from_ms(12 + 200),
        "{:?}",
        session.now()
    );

    // What goes on for longer is not waited for.
    session.act("wall-button", "hold up for 2 s").unwrap();
    let done = session.now();
    session.answer_deed();
    session.settle();
    assert!(session.now().since(done) <= Span::from_ms(201));
    let record = session.draft("Done while it stood").write().unwrap();
    assert!(record.passes, "{}", record.toml);
}

#[test]
fn a_noise_goes_on_until_it_ends_and_is_saved_as_one_row() {
    let minutes = |minutes| Instant::START.after(Span::from_minutes(minutes));
    let sounds = |session: &Session| {
        let steps = session.simulation().trace().steps.iter();
        let is_sound =
            |step: &&sim::Step| matches!(step.what, What::Stimulus(_, room::Stimulus::Sound));
        steps.filter(is_sound).count()
    };
    let mut session = session("private-office");
    assert!(session.noise("wall-sensor", None).is_err(), "it is quiet");
    assert!(
        session
            .noise("wall-button", Some(Span::from_seconds(30)))
            .is_err()
    );
    assert!(
        session
            .noise("wall-sensor", Some(Span::from_ms(999)))
            .is_err()
    );
    assert_eq!(session.rows().len(), 0);
    session.act("wall-sensor", "motion").unwrap();
    session.run_to(minutes(1));
    session
        .noise("wall-sensor", Some(Span::from_seconds(30)))
        .unwrap();
    session.run_to(minutes(30));
    assert_eq!(sounds(&session), 58);
    assert!(
        stands(&session, "desk-lights").starts_with("is on"),
        "sound holds it"
    );
    session.noise("wall-sensor", None).unwrap();
    session.run_to(minutes(50));
    assert_eq!(sounds(&session), 58);
    assert!(stands(&session, "desk-lights").starts_with("is off"));
    let record = session.draft("A radio").write().unwrap();
    assert!(record.passes, "{}", record.toml);
    let row = "[\"08:01:00.001 to 08:30 every 30 s\", \"wall-sensor\", \"sound\"],";
    let squeezed: Vec<&str> = record.toml.split_whitespace().collect();
    let squeezed = squeezed.join(" ");
    assert!(squeezed.contains(row), "{}", record.toml);

    // Back to when there was noise, it is there, and goes on if another way is taken.
    session.rewind(minutes(20)).unwrap();
    assert_eq!(
        session.noise_at("wall-sensor"),
        Some(Span::from_seconds(30))
    );
    let branch = session.branch();
    session.act("wall-button", "tap up").unwrap();
    assert_eq!(session.branch(), branch + 1);
    session.run_to(minutes(50));
    assert_eq!(sounds(&session), 98);
    session
        .noise("wall-sensor", Some(Span::from_seconds(60)))
        .unwrap();
    session.run_to(minutes(52));
    assert_eq!(sounds(&session), 100, "another noise takes its place");
    assert!(session.draft("Two radios").write().unwrap().passes);
}

#[test]
fn what_is_done_before_the_first_instant_has_run_takes_none_of_its_rows_away() {
    let mut tried = 0;
    for stage in rooms() {
        for scene in &stage.scenarios {
            let mut session =
                Session::of_scenario(Arc::clone(&stage), 0, Vec::new(), &scene.name).unwrap();
            let first = session.rows.partition_point(|row| row.at == Instant::START);
            let (point, event) = &deeds(&stage)[0];
            if first == 0 || session.act(point, event).is_err() {
                continue;
            }
            assert!(!session.has_begun());
            session.run_to(seconds(60));
            assert_eq!(session.rows().len(), first + 1);
            assert!(is_its_own_run(&session), "{} {}", stage.name(), scene.name);
            tried += 1;
        }
    }
    assert!(tried > 10, "{tried}");
}

#[test]
fn what_is_done_in_the_middle_of_an_instant_comes_after_it_and_its_rows_come_once() {
    let stage = room("private-office");
    let device = live::devices(stage.plan())["wall-sensor"];
    let mut lone = sim::Lone::new(stage.plan(), device);
    let mut session = Session::with_outside(Arc::clone(&stage), 0, vec![device]).unwrap();
    session.act("wall-sensor", "motion").unwrap();
    let mut asked = Vec::new();
    while session.now() < seconds(3_600) {
        let Err(question) = session.step(seconds(3_600)) else {
            continue;
        };
        let deed = match asked.len() {
            // In the first instant, at the motion, and when the sensor has seen nobody for long.
            0 => Some("tap up"),
            1 => Some("tap down"),
            _ if session.rows().len() == 3 && question.at >= seconds(900) => Some("tap up"),
            _ => None,
        };
        asked.push(question.at);
        if let Some(deed) = deed {
            session.act("wall-button", deed).unwrap();
            let done = session.rows().last().unwrap().at;
            assert!(done > question.at, "{done:?} {question:?}");
        }
        session.answer(Ok(lone.answer(&question)));
    }
    assert_eq!(asked[..2], [Instant::START, Instant::from_ms(1)]);
    assert_eq!(session.rows().len(), 4, "{asked:?}");
    assert!(is_its_own_run(&session), "{:?}", session.rows());
}

#[test]
fn what_is_done_just_when_something_happens_there_by_itself_comes_a_moment_later() {
    let ms = Instant::from_ms;
    // The first tap is released at 101 ms; so is every other at its time.
    for (deed, wait) in [("tap down", 100), ("tap down", 99), ("press down", 100)] {
        let mut session = session("private-office");
        session.act("wall-button", "tap down").unwrap();
        session.run_to(ms(wait));
        session.act("wall-button", deed).unwrap();
        let second = session.rows()[1].at;
        assert_eq!(second, ms(wait + if wait == 100 { 2 } else { 1 }), "{deed}");
        session.run_to(ms(5_000));
        assert!(is_its_own_run(&session), "{deed} after {wait} ms");
    }
    // Two hands at a time, each as often as it can, at every distance.
    for apart in 0..=205 {
        let mut session = session("private-office");
        for hand in [
            "tap up",
            "hold up for 0.2 s",
            "tap up",
            "press up",
            "release up",
        ] {
            let done = session.act("wall-button", hand);
            assert!(done.is_ok(), "{hand}, {apart} ms apart: {done:?}");
            session.run_to(session.now().after(Span::from_ms(apart)));
        }
        session.run_to(ms(5_000));
        assert!(is_its_own_run(&session), "{apart} ms apart");
    }
}

#[test]
fn what_happens_by_itself_may_be_done_by_hand_at_the_same_moment() {
    let mut tried = 0;
    for stage in rooms() {
        let Some(person) = stage.room.people.keys().next().cloned() else {
            continue;
        };
        let begin = || {
            let mut session = Session::new(Arc::clone(&stage), 0).unwrap();
            session.act(&person, "types").unwrap();
            session
        };
        let probe = begin();
        let signs = probe.score.acts().iter().filter_map(|act| match act.what {
            ActWhat::Input(Input::Stimulus(source, room::Stimulus::Motion)) => Some((
                act.at,
                stage.plan().sources[usize::from(source.0)].name.clone(),
            )),
            _ => None,
        });
        for (at, sensor) in signs.filter(|(at, _)| *at > seconds(1)).take(3) {
            let mut session = begin();
            session.run_to(Instant::from_ms(at.as_ms() - 1));
            let done = session.act(&sensor, "motion");
            assert!(done.is_ok(), "{sensor} at {at:?}: {done:?}");
            tried += 1;
        }
    }
    assert!(tried > 5, "{tried}");
}

#[test]
fn a_session_takes_the_memory_of_its_rows_at_once_and_words_once() {
    let mut session = session("private-office");
    let place = session.rows.as_ptr();
    for times in 0..300 {
        let event = ["tap up", "tap down"][times % 2];
        session.act("wall-button", event).unwrap();
        session.act("wall-sensor", "motion").unwrap();
        session.run_to(session.now().after(Span::from_seconds(20)));
    }
    assert!(session.rows.capacity() >= MOST_ROWS);
    assert_eq!(session.rows.as_ptr(), place, "nothing was moved");
    let texts = session.rows.iter().flat_map(|row| [&row.point, &row.says]);
    let different: std::collections::BTreeSet<_> = texts.map(|text| text.as_ptr()).collect();
    assert_eq!(different.len(), 5);
}

/// Whether a run of what the session is saved as has its trace.
fn is_its_own_run(session: &Session) -> bool {
    let draft = session.draft("The same");
    let record = draft.write().unwrap();
    let script = draft.script(&record.toml).unwrap();
    let outcome = scenario::run::run(&script, session.seed());
    session.simulation().trace() == &outcome.trace
}
