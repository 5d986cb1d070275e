//! Paths written by hand, and those that proofs find.

use std::path::Path as FilePath;
use std::sync::atomic::AtomicBool;

use prover::{Happening, PathStep};
use room::{ControllerId, Device, Input, SourceId, Stimulus};
use scenario::room_file::read_room;
use scenario::run::Verdict as RunVerdict;

use super::*;
use crate::{Budget, Observer, Verdict as Answered, prove};

const MINUTE: i32 = 60_000;

/// The private office of the annex, with these clauses.
fn office(clauses: &str) -> RoomFile {
    let folder = FilePath::new(env!("CARGO_MANIFEST_DIR")).join("../../scenarios/private-office");
    let mut sources = Sources::new();
    let room = sources.read(&folder.join("room.toml")).unwrap();
    let sequence = sources.add("sequence.toml", format!("title = \"Test\"\n{clauses}"));
    let (room, found) = read_room(&sources, room, Some(sequence), None);
    let found: Vec<_> = found.iter().map(|it| it.render(&sources, false)).collect();
    room.unwrap_or_else(|| panic!("{}", found.join("\n")))
}

const AN_HOUR: &str = r#"
[[clauses]]
id   = "B1"
says = "An hour after the last motion the lights are off."
when = "(no motion at wall-sensor for 60 min and no wall-button press for 16 min) becomes true"
then = "desk-lights is off"
"#;

fn step(happens: &[Stimulus]) -> PathStep {
    step_of(SENSOR, happens)
}

fn step_of(sensor: SourceId, happens: &[Stimulus]) -> PathStep {
    PathStep {
        happens: happens
            .iter()
            .map(|it| Happening::Input(Input::Stimulus(sensor, *it)))
            .collect(),
        ..PathStep::default()
    }
}

/// By name the sensor comes after the button.
const SENSOR: SourceId = SourceId(1);

/// A motion, then sounds that keep the sensor occupied until an hour is over.
fn path(sounds: usize) -> Path {
    let mut motion = step(&[Stimulus::Motion]);
    motion.started = vec![(0, 15 * MINUTE, 15 * MINUTE), (1, 60 * MINUTE, 60 * MINUTE)];
    let mut steps = vec![step(&[]), motion];
    for _ in 0..sounds {
        let mut sound = step(&[Stimulus::Sound]);
        sound.stopped = vec![0];
        sound.started = vec![(0, 15 * MINUTE, 15 * MINUTE)];
        steps.push(sound);
    }
    let mut due = step(&[]);
    due.fired = vec![1];
    due.started = vec![(2, 2_000, 2_000)];
    let mut late = step(&[]);
    late.fired = vec![2];
    steps.extend([due, late]);
    Path { steps }
}

fn replayed(room: &RoomFile, path: &Path) -> Result<Witness, String> {
    let slice = Slice::of(&room.plan, &[0]);
    refine(room, &slice, &Terms::default(), 0, path, Verdict::Broken)
}

/// An hour is over before a quarter of one that began with it: no clock is that far off.
#[test]
fn a_path_that_takes_no_time_there_is_has_no_paces() {
    let room = office(AN_HOUR);
    let slice = Slice::of(&room.plan, &[0]);
    let about = |timer, span: i32| (timer, span - span / 100, span + span / 100);
    let mut motion = step(&[Stimulus::Motion]);
    motion.started = vec![about(0, 15 * MINUTE), about(1, 60 * MINUTE)];
    let fired = |timer| PathStep {
        fired: vec![timer],
        ..PathStep::default()
    };
    let ends = |first, then| Path {
        steps: vec![step(&[]), motion.clone(), fired(first), fired(then)],
    };
    assert!(paces::pinned(&slice, &ends(0, 1), 100).is_some());
    assert!(paces::pinned(&slice, &ends(1, 0), 100).is_none());
}

fn came_out(text: &str, room: &RoomFile) -> RunVerdict {
    let mut sources = Sources::new();
    let file = sources.add("proof.toml", text);
    let mut loaded = load(&mut sources, file, room);
    let script = loaded.scripts.pop().unwrap();
    scenario::run::run(&Arc::new(script), 0).verdict
}

#[test]
fn noise_keeps_the_lights_on_for_more_than_an_hour() {
    let room = office(AN_HOUR);
    let witness = replayed(&room, &path(4)).unwrap();
    assert_eq!(witness.happenings, 5);
    assert_eq!(came_out(&witness.text, &room), RunVerdict::Held);
    assert_eq!(
        witness.text,
        r#"title = "B1 is broken: An hour after the last motion the lights are off."
start = "2026-03-02 08:00"
end   = "09:01:02"
expect = "broken B1"
rows = [
  ["08:01", "wall-sensor", "motion"],
  ["08:06", "wall-sensor", "sound"],
  ["08:20", "wall-sensor", "sound"],
  ["08:34", "wall-sensor", "sound"],
  ["08:48", "wall-sensor", "sound"],
]
"#
    );
}

#[test]
fn what_is_not_needed_is_left_out() {
    let room = office(AN_HOUR);
    let mut longer = path(4);
    // A second movement at the beginning, and a tap long before the end.
    longer.steps.insert(1, step(&[Stimulus::Motion]));
    let mut witnesses = vec![replayed(&room, &longer).unwrap()];
    let button = |it| Happening::Input(Input::Stimulus(SourceId(0), it));
    let mut press = step(&[]);
    press.happens = vec![button(Stimulus::Press(0))];
    press.started = vec![(9, 100, 100)];
    let mut release = step(&[]);
    release.fired = vec![9];
    release.happens = vec![button(Stimulus::Release(0))];
    let mut tapped = path(4);
    tapped.steps.splice(2..2, [press, release]);
    witnesses.push(replayed(&room, &tapped).unwrap());
    for witness in witnesses {
        assert_eq!(witness.happenings, 5, "{}", witness.text);
    }
}

#[test]
fn a_path_that_does_not_break_in_a_run_is_refused() {
    let room = office(AN_HOUR);
    assert_eq!(
        replayed(&room, &path(3)).unwrap_err(),
        "the path that was found has no instants in whole milliseconds"
    );
    let mut quiet = path(4);
    for step in &mut quiet.steps[2..6] {
        step.happens.clear();
    }
    assert_eq!(
        replayed(&room, &quiet).unwrap_err(),
        "the stimuli that were found do not do it in a plain run"
    );
}

#[test]
fn a_clock_that_is_slow_is_written_and_replayed() {
    // Five per cent: the sensor that takes a quarter of an hour may take 15 min 45 s.
    let room = office(
        r#"
[[clauses]]
id   = "B2"
says = "A quarter of an hour and ten seconds after the last motion or sound the lights are off."
when = "(no motion at wall-sensor for 910 s and no sound at wall-sensor for 910 s and no wall-button press for 20 min) becomes true"
then = "desk-lights is off"
"#,
    );
    let slice = Slice::of(&room.plan, &[0]);
    let slots = room::Slots::new(&slice.plan);
    let delay = slots
        .source(SENSOR, device::occupancy::Timer::Delay.number())
        .0;
    let clause = slots.clause(0, 0).0;
    let mut motion = step(&[Stimulus::Motion]);
    motion.started = vec![(delay, 855_000, 945_000), (clause, 910_000, 910_000)];
    let mut due = step(&[]);
    due.fired = vec![clause];
    due.started = vec![(clause, 2_000, 2_000)];
    let mut late = step(&[]);
    late.fired = vec![clause];
    let path = Path {
        steps: vec![step(&[]), motion, due, late],
    };
    let mut terms = Terms::default();
    assert!(refine(&room, &slice, &terms, 0, &path, Verdict::Broken).is_err());
    terms.tolerance = 500;
    let witness = refine(&room, &slice, &terms, 0, &path, Verdict::Broken).unwrap();
    assert!(
        witness
            .text
            .contains("[\"08:01\", \"wall-sensor\", \"clock 5 % slow\"]"),
        "{}",
        witness.text
    );
    assert_eq!(came_out(&witness.text, &room), RunVerdict::Held);
}

/// The sensor in a slice without the button.
const ALONE: SourceId = SourceId(0);

/// A motion, and a quarter of an hour later what goes wrong, two seconds before the end.
fn wrong(at_the_end: &[Happening]) -> Path {
    let mut motion = step_of(ALONE, &[Stimulus::Motion]);
    motion.started = vec![(0, 15 * MINUTE, 15 * MINUTE)];
    let mut due = step(&[]);
    due.fired = vec![0];
    due.happens = at_the_end.to_vec();
    due.started = vec![(0, 2_000, 2_000)];
    let mut late = step(&[]);
    late.fired = vec![0];
    Path {
        steps: vec![step(&[]), motion, due, late],
    }
}

#[test]
fn a_lost_frame_and_a_power_cut_are_written_and_replayed() {
    let room = office(
        r#"
[[clauses]]
id   = "B3"
says = "A quarter of an hour after the last motion or sound the receptacle is off."
when = "(no motion at wall-sensor for 15 min and no sound at wall-sensor for 15 min) becomes true"
then = "desk-outlet is off"

[[clauses]]
id   = "B4"
says = "The receptacle is on within a second of any motion."
when = "motion at wall-sensor"
then = "desk-outlet is on"
"#,
    );
    let lost = Happening::Lost(ALONE, ControllerId(0));
    let witness = replayed(&room, &wrong(&[lost])).unwrap();
    assert!(
        witness
            .text
            .contains("[\"08:16\", \"wall-sensor to room-controller\", \"next frame lost\"]"),
        "{}",
        witness.text
    );
    assert_eq!(came_out(&witness.text, &room), RunVerdict::Held);

    let off = Input::Power(Device::Controller(ControllerId(0)), false);
    let mut dark = step(&[]);
    dark.happens = vec![Happening::Input(off)];
    let mut motion = step_of(ALONE, &[Stimulus::Motion]);
    motion.started = vec![(0, 2_000, 2_000)];
    let mut late = step(&[]);
    late.fired = vec![0];
    let path = Path {
        steps: vec![step(&[]), dark, motion, late],
    };
    let slice = Slice::of(&room.plan, &[1]);
    let found = refine(&room, &slice, &Terms::default(), 1, &path, Verdict::Broken);
    let witness = found.unwrap_or_else(|error| panic!("{error}"));
    assert!(
        witness.text.contains("\"room-controller\", \"power cut\""),
        "{}",
        witness.text
    );
    assert_eq!(came_out(&witness.text, &room), RunVerdict::Held);
}

struct Nobody;

impl Observer for Nobody {}

#[test]
fn a_proof_hands_out_what_was_run() {
    let room = office(&AN_HOUR.replace("60 min", "20 min"));
    let stop = AtomicBool::new(false);
    let terms = Terms::default();
    let answers = prove(&room, &[0], &terms, Budget::default(), &Nobody, &stop);
    let Answered::Broken(witness) = &answers[0].verdict else {
        panic!("{:?}", answers[0].verdict);
    };
    assert_eq!(came_out(&witness.text, &room), RunVerdict::Held);
    assert_eq!(witness.happenings, 2, "{}", witness.text);
}
