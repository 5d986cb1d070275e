//! Every word of the trace, read in one place.

use device::{Fault, Ignored, Illuminance, Level, Note, Payload, Points, Signal, Span, clock};
use room::{SourceId, Stimulus, Who};

use super::*;
use crate::sketch::{BUTTON, LIGHTS, SENSOR, quiet_reading};

#[test]
fn every_note_reads_after_the_name_of_its_device() {
    let sketch = quiet_reading();
    let run = sketch.run(0);
    let (span, level) = (Span::from_minutes(15), Level::from_percent(50));
    let notes = [
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
    ];
    let said =
        notes.map(|note| format!("desk-lights {}", run.names.note(Who::Output(LIGHTS), note)));
    insta::assert_snapshot!(said.join("\n"));
}

#[test]
fn every_refusal_and_every_fault_reads_after_a_colon() {
    let refusals = [
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
    ];
    let faults = [
        Fault::Lost,
        Fault::StuckRelay,
        Fault::WrongCard,
        Fault::TimeLost,
        Fault::TableFull,
        Fault::NotCalibrated,
        Fault::TeachInRefused,
    ];
    let refused = refusals.map(|why| format!("nothing happens: {}", ignored(why)));
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
