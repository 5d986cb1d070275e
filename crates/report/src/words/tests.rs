//! Every word of the trace, read in one place.

use device::controller::Drive;
use device::{Fault, Ignored, Illuminance, Level, Note, Payload, Points, Signal, Span, clock};
use room::{SourceId, Stimulus, Who};
use sim::{OutputState, OutputView};

use super::*;
use crate::sketch::{BUTTON, LIGHTS, OUTLET, SENSOR, quiet_reading};

#[test]
fn every_note_reads_after_the_name_of_its_device() {
    let sketch = quiet_reading();
    let run = sketch.run(0);
    let said =
        notes().map(|note| format!("desk-lights {}", run.names.note(Who::Output(LIGHTS), note)));
    insta::assert_snapshot!(said.join("\n"));
}

/// Every note but refusals and faults.
fn notes() -> [Note; 45] {
    let (span, level) = (Span::from_minutes(15), Level::from_percent(50));
    [
        Note::Occupied,
        Note::Vacant,
        Note::WarmingUp(span),
        Note::Unknown,
        Note::WindowOpened,
        Note::WindowClosed,
        Note::WalkTest(true),
        Note::WalkTest(false),
        Note::Tapped(0),
        Note::Held(0),
        Note::RampEnded(level),
        Note::TurnedOn(level),
        Note::TurnedOff,
        Note::SetBack(level),
        Note::Warning(span),
        Note::Restored(level),
        Note::Asked(level),
        Note::RampStarted(level),
        Note::Fade(level),
        Note::Target(level),
        Note::OutputOccupied,
        Note::OutputVacant,
        Note::Latched,
        Note::Unlatched,
        Note::Limit(level),
        Note::Measured(Illuminance::from_lux(320)),
        Note::DarkByDaylight,
        Note::BackFromDaylight,
        Note::Relay(true),
        Note::Relay(false),
        Note::Emergency(true),
        Note::Emergency(false),
        Note::Shed(true),
        Note::Shed(false),
        Note::Waits(true),
        Note::Waits(false),
        Note::PassedOver,
        Note::Override(span),
        Note::Learning(true),
        Note::Learning(false),
        Note::Taught(true),
        Note::Taught(false),
        Note::Power(true),
        Note::Power(false),
        Note::SettingChanged,
    ]
}

/// Everything that can let an event pass.
fn refusals() -> [Ignored; 31] {
    [
        Ignored::NoPower,
        Ignored::WarmingUp,
        Ignored::DeadTime,
        Ignored::SoundWhileVacant,
        Ignored::WindowClosed,
        Ignored::NoMicrophone,
        Ignored::NotTaught,
        Ignored::ManualOn,
        Ignored::Latch,
        Ignored::ByHand,
        Ignored::NotHigher,
        Ignored::Bright,
        Ignored::Captive,
        Ignored::AfterHours,
        Ignored::SweptOff,
        Ignored::LoneUp,
        Ignored::OwnedByOther,
        Ignored::OnlyRestored,
        Ignored::AlreadyOff,
        Ignored::AtLimit,
        Ignored::StillOccupied,
        Ignored::StillUnknown,
        Ignored::WrongCard,
        Ignored::ShedNotForRelays,
        Ignored::TimeLost,
        Ignored::TableFull,
        Ignored::NotLearning,
        Ignored::SameWindow,
        Ignored::NoChange,
        Ignored::NotCalibrated,
        Ignored::DeadBand,
    ]
}

/// A room whose second output has this drive.
fn with_outlet(drive: Drive) -> crate::sketch::Sketch {
    let mut sketch = quiet_reading();
    sketch.plan.controllers[0].settings.outputs[1].drive = drive;
    sketch
}

#[test]
fn what_a_receptacle_and_a_contact_do_has_no_level() {
    let mut said = Vec::new();
    for drive in [Drive::Receptacle, Drive::Contact] {
        let sketch = with_outlet(drive);
        let run = sketch.run(0);
        let words = |note| run.names.note(Who::Output(OUTLET), note);
        let switching = notes().into_iter().filter(|note| {
            let lamp = run.names.note(Who::Output(LIGHTS), *note);
            words(*note) != lamp
        });
        said.extend(switching.map(|note| format!("{drive:?} {}", words(note))));
        let refused = refusals().into_iter().map(Note::Ignored);
        let refused =
            refused.filter(|why| words(*why) != run.names.note(Who::Output(LIGHTS), *why));
        said.extend(refused.map(|why| format!("{drive:?} {}", words(why))));
    }
    assert!(
        said.iter()
            .all(|words| !words.contains('%') && !words.contains("light"))
    );
    insta::assert_snapshot!(said.join("\n"));
}

/// How the outlet stands with this drive: in one word, whether it counts as on, and in full.
fn stands(drive: Drive, state: OutputState, closed: bool) -> (&'static str, bool, String) {
    let sketch = with_outlet(drive);
    let full = sim::Light {
        now: Level::FULL,
        to: Level::FULL,
        within: Span::ZERO,
    };
    let view = OutputView {
        state,
        asked: Level::FULL,
        target: Level::FULL,
        light: full,
        closed,
        occupied: true,
        latch: false,
        by_hand: true,
        emergency: false,
    };
    let kind = sketch.run(0).names.kind(OUTLET);
    (
        kind.state(&view),
        kind.is_on(&view),
        kind.stands(&view, true),
    )
}

#[test]
fn a_receptacle_stands_on_or_off_and_a_contact_closed_or_open() {
    use Drive::{Contact, Receptacle};
    use OutputState::{Off, On};
    for (drive, state, closed, words) in [
        (Receptacle, On, true, "is on"),
        (Receptacle, Off, false, "is off"),
        (Receptacle, On, false, "is on, relay open"),
        (Receptacle, Off, true, "is off, relay closed"),
        (Contact, On, true, "is closed"),
        (Contact, Off, false, "is open"),
        (Contact, On, false, "is open, asked closed"),
        (Contact, Off, true, "is closed, asked open"),
    ] {
        let word = words.trim_start_matches("is ").split(',').next();
        let is_on = matches!(word, Some("on" | "closed"));
        let found = stands(drive, state, closed);
        assert_eq!(found.2, format!("{words}, occupied, by hand"));
        assert_eq!((Some(found.0), found.1), (word, is_on), "{words}");
    }
    let (word, _, words) = stands(Drive::Relay, On, false);
    assert_eq!(word, "on", "a lamp on a relay is a lamp");
    assert!(words.starts_with("is on, asked 100 %, target 100 %, light 100 %"));
}

#[test]
fn every_refusal_and_every_fault_reads_after_a_colon() {
    let faults = [
        Fault::Lost,
        Fault::StuckRelay,
        Fault::WrongCard,
        Fault::TimeLost,
        Fault::TableFull,
        Fault::NotCalibrated,
        Fault::TeachInRefused,
    ];
    let refused = refusals().map(|why| format!("nothing happens: {}", ignored(why)));
    let wrong = faults.map(|wrong| format!("fault: {}", fault(wrong)));
    insta::assert_snapshot!([&refused[..], &wrong[..]].concat().join("\n"));
}

#[test]
fn every_frame_and_stimulus_reads_by_its_source() {
    let sketch = quiet_reading();
    let run = sketch.run(0);
    let points = Points::from_hundredths(1_500);
    let payloads = [
        Payload::Occupied { bright: false },
        Payload::Occupied { bright: true },
        Payload::Vacant,
        Payload::Unknown,
        Payload::Down(0),
        Payload::Up(1),
        Payload::CardIn,
        Payload::CardOut,
        Payload::WrongCard,
        Payload::Illuminance(Illuminance::from_lux(320)),
        Payload::InHours,
        Payload::AfterHours,
        Payload::Sweep,
        Payload::TimeLost,
        Payload::Signal(Signal::NormalPower, true),
        Payload::Signal(Signal::NormalPower, false),
        Payload::Signal(Signal::FireAlarm, true),
        Payload::Signal(Signal::FireAlarm, false),
        Payload::Shed(Some(points)),
        Payload::Shed(None),
        Payload::ShedEnd,
        Payload::TeachIn,
    ];
    let stimuli = [
        Stimulus::Motion,
        Stimulus::Sound,
        Stimulus::Press(0),
        Stimulus::Release(1),
        Stimulus::CardIn { valid: true },
        Stimulus::CardIn { valid: false },
        Stimulus::CardOut,
        Stimulus::Due(clock::Entry::Opening),
        Stimulus::Due(clock::Entry::Closing),
        Stimulus::Due(clock::Entry::Sweep),
        Stimulus::ClockSet { in_hours: true },
        Stimulus::ClockSet { in_hours: false },
        Stimulus::Signal(false),
        Stimulus::Shed(Some(points)),
        Stimulus::Shed(None),
        Stimulus::ShedEnd,
        Stimulus::WalkTest(true),
        Stimulus::WalkTest(false),
        Stimulus::TeachIn,
    ];
    let frames = payloads.map(|it| format!("{} frame", payload(&run.names, BUTTON, it)));
    let events = stimuli.map(|it| format!("{} here", stimulus(&run.names, BUTTON, it)));
    insta::assert_snapshot!([&frames[..], &events[..]].concat().join("\n"));
}

#[test]
fn every_timer_of_the_room_has_words() {
    let sketch = quiet_reading();
    let run = sketch.run(0);
    let slots = (0..).map(Slot).take(run.names.slots.len());
    let said = slots.map(|slot| {
        let timer = run.names.timer(slot);
        let quiet = if timer.quiet { " (not drawn)" } else { "" };
        format!(
            "{}: {} {}: {}{quiet}",
            timer.owner, timer.name, timer.sign, timer.end
        )
    });
    let said: Vec<String> = said.collect();
    assert!(said.iter().all(|words| !words.contains("unknown")));
    insta::assert_snapshot!(said.join("\n"));
}

#[test]
fn names_that_the_plan_does_not_have_are_no_panic() {
    let sketch = quiet_reading();
    let run = sketch.run(0);
    assert_eq!(run.names.source(SourceId(99)), "(unknown source)");
    assert_eq!(run.names.button(SENSOR, 7), "");
    assert_eq!(run.names.timer(Slot(9_999)).owner, "(unknown)");
}

#[test]
fn one_is_one_row_and_none_or_two_are_rows() {
    assert_eq!(count(1, "row", "rows"), "1 row");
    assert_eq!(count(0, "row", "rows"), "0 rows");
    assert_eq!(count(2, "row", "rows"), "2 rows");
    assert_eq!([times(1), times(2), times(3)], ["once", "twice", "3 times"]);
}

#[test]
fn short_spans_fit_on_a_bar() {
    assert_eq!(short_span(Span::from_ms(10)), "10 ms");
    assert_eq!(short_span(Span::from_ms(2_500)), "2.5 s");
    assert_eq!(short_span(Span::from_seconds(2)), "2 s");
    assert_eq!(short_span(Span::from_minutes(75)), "1 h 15 min");
}

#[test]
fn a_list_ends_with_and() {
    let words = ["a", "b", "c"].map(str::to_owned);
    assert_eq!(list(&words), "a, b and c");
    assert_eq!(list(&words[..1]), "a");
}
