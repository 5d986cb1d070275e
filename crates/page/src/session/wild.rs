//! Sessions at random: whatever is done in whatever order, what is saved passes in a run and has
//! the trace of the session, and what was forgotten changes nothing.
//!
//! `ROOMRIG_SESSIONS=1000 cargo test --release -p page wild` plays a thousand.

use std::sync::Arc;

use device::Span;
use sim::{Instant, Step, What};

use crate::samples::{Luck, deeds, rooms};
use crate::{Session, Stage};

/// Plays a session in a room, all of whose luck is drawn from `seed`; old steps are forgotten
/// where there are more than `most`.
fn play(stage: &Arc<Stage>, seed: u64, most: usize) -> Session {
    let mut luck = Luck(seed);
    let scene = match luck.below(3) {
        0 if !stage.scenarios.is_empty() => Some(luck.one_of(&stage.scenarios).name.clone()),
        _ => None,
    };
    let bus = u64::try_from(luck.below(3)).unwrap();
    let mut session = match &scene {
        Some(name) => Session::of_scenario(Arc::clone(stage), bus, Vec::new(), name).unwrap(),
        None => Session::new(Arc::clone(stage), bus).unwrap(),
    };
    session.kept.most = most;
    let deeds = deeds(stage);
    let knobs: Vec<String> = (session.knobs().iter())
        .map(|knob| knob.path().to_owned())
        .filter(|path| path.ends_with("time-delay") || path.ends_with("level"))
        .collect();
    for _ in 0..40 {
        match luck.below(12) {
            0..=5 => {
                let (point, event) = luck.one_of(&deeds);
                let _whether = session.act(point, event);
            }
            6 if !knobs.is_empty() => {
                let value = ["5 min", "12 min", "40 %", "100 %"][luck.below(4)];
                let knob: &String = luck.one_of(&knobs);
                let _whether = session.set(knob, value);
            }
            7 => session.answer_deed(),
            8 => {
                let _whether = session.owe_next(luck.below(2) == 0);
                session.settle();
            }
            9 => {
                let to = luck.below(usize::try_from(session.now().as_ms()).unwrap() + 1);
                let to = Instant::from_ms(u64::try_from(to).unwrap());
                session.rewind(to).unwrap();
            }
            10 => {
                // Some instants of a stretch, as when its clock stops somewhere in it.
                let to = session.now().after(Span::from_minutes(2));
                for _ in 0..luck.below(20) {
                    session.step(to).unwrap();
                }
            }
            _ => {
                let sources = &stage.plan().sources;
                let every = [
                    None,
                    Some(Span::from_seconds(30)),
                    Some(Span::from_minutes(2)),
                ];
                let _whether = session.noise(&luck.one_of(sources).name, every[luck.below(3)]);
            }
        }
        let wait = [0, 0, 1, 7, 90, 900, 20_000, 400_000, 1_500_000][luck.below(9)];
        let to = session.now().after(Span::from_ms(wait));
        session.run_to(to.max(session.owed()));
    }
    session.run_to(session.now().after(Span::from_ms(1_500)));
    session
}

/// How many sessions are played.
fn sessions() -> u64 {
    let asked = std::env::var("ROOMRIG_SESSIONS").ok();
    asked.and_then(|it| it.parse().ok()).unwrap_or(24)
}

#[test]
fn wild_sessions_are_saved_as_scenarios_that_pass_and_have_their_trace() {
    let rooms = rooms();
    for seed in 0..sessions() {
        let stage = Luck(seed ^ 0x5eed).one_of(&rooms).clone();
        let session = play(&stage, seed, usize::MAX);
        let draft = session.draft("A wild session");
        let record = draft.write().unwrap();
        let what = format!("{} {seed}: {}", stage.name(), record.toml);
        assert!(record.passes, "{what}");
        let script = draft.script(&record.toml).unwrap();
        let outcome = scenario::run::run(&script, session.seed());
        assert!(
            session.simulation().trace() == &outcome.trace,
            "another trace: {what}"
        );
    }
}

#[test]
fn wild_sessions_that_forget_old_steps_tell_the_same_of_what_they_keep() {
    let rooms = rooms();
    let mut forgot = 0;
    for seed in 0..sessions() {
        let stage = Luck(seed ^ 0x5eed).one_of(&rooms).clone();
        let (whole, short) = (play(&stage, seed, usize::MAX), play(&stage, seed, 120));
        let what = format!("{} {seed}", stage.name());
        forgot += usize::from(short.since() > Instant::START);
        assert_eq!(whole.steps(), short.steps(), "{what}");
        assert!(whole.rows() == short.rows(), "{what}");
        let all = &whole.simulation().trace().steps;
        for (index, step) in short.simulation().trace().steps.iter().enumerate() {
            let number = short.kept.number(index);
            let same = &all[number];
            assert_eq!((step.at, &step.what), (same.at, &same.what), "{what}");
            let cause = step.cause.map(|cause| short.number(cause));
            let led = same.cause.map(|cause| whole.number(cause));
            let is_old = number < short.kept.next && starts_itself(all, same);
            assert!(cause == led || is_old, "{what}: {number}");
        }
        for output in &stage.plan().outputs {
            let told = |session: &Session| {
                let mut chain = session.why(&output.name, None).unwrap().chain();
                for (_, what, _) in &mut chain {
                    // How often a timer started itself before is not kept.
                    what.truncate(what.find(", as ").unwrap_or(what.len()));
                }
                chain
            };
            assert_eq!(told(&whole), told(&short), "{what} {}", output.name);
        }
        let energy = |session: &Session| session.ledger.energy(session.now()).collect::<Vec<_>>();
        assert_eq!(energy(&whole), energy(&short), "{what}");
        let past = |session: &Session| told_since(session, short.since());
        assert_eq!(past(&whole), past(&short), "{what}");
    }
    assert!(forgot * 3 > sessions().try_into().unwrap(), "{forgot}");
}

/// What a session tells of its past since a moment, without restarts of timers before that.
fn told_since(session: &Session, since: Instant) -> serde_json::Value {
    let mut told = serde_json::to_value(session.past(since)).unwrap();
    for point in told["points"].as_array_mut().unwrap() {
        for timer in point["timers"].as_array_mut().unwrap() {
            let again = timer["again"].as_array_mut().unwrap();
            again.retain(|at| at.as_u64() >= Some(since.as_ms()));
        }
    }
    told
}

/// Whether a step starts a timer because that very timer has elapsed.
fn starts_itself(all: &[Step], step: &Step) -> bool {
    let cause = step.cause.map(|cause| &all[cause.index()].what);
    matches!((&step.what, cause), (What::Started(one, _), Some(What::Elapsed(it))) if one == it)
}

#[test]
fn going_back_to_what_is_kept_no_longer_runs_the_room_again_from_its_beginning() {
    let stage = crate::samples::room("private-office");
    let mut session = Session::new(stage, 0).unwrap();
    session.kept.most = 200;
    session.act("wall-sensor", "motion").unwrap();
    let minute = |minutes| Instant::START.after(Span::from_minutes(minutes));
    session.run_to(minute(10));
    let (then, log) = (shown(&session), session.log(0, 1_000));
    for _ in 0..60 {
        session.act("wall-button", "tap down").unwrap();
        session.act("wall-sensor", "motion").unwrap();
        session.run_to(session.now().after(Span::from_minutes(1)));
    }
    assert!(session.simulation().trace().steps.len() < 330);
    assert!(session.since() > minute(10), "{:?}", session.since());
    let forgotten = session.why("desk-lights", Some(minute(5))).unwrap_err();
    let since = session.clock().label(session.since());
    assert_eq!(
        (forgotten.message, forgotten.hint.contains("go back")),
        (format!("what was before {since} is kept no longer"), true)
    );
    assert!(session.why("desk-lights", Some(session.since())).is_ok());
    session.rewind(minute(10)).unwrap();
    assert_eq!(session.since(), Instant::START);
    let text = |log: Vec<_>| serde_json::to_string(&log).unwrap();
    assert_eq!(text(session.log(0, 1_000)), text(log));
    assert_eq!(shown(&session), then);
    assert_eq!(session.rows().len(), 121, "what came later is still known");
}

/// What a view says of the outputs.
fn shown(session: &Session) -> serde_json::Value {
    serde_json::to_value(session.view()).unwrap()["outputs"].take()
}
