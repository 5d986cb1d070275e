//! Traces as other programs read them.

use std::sync::Arc;

use proptest::prelude::*;
use sim::export::{Datum, Record, from_messagepack, to_messagepack};
use sim::{Full, Instant, Simulation};

use crate::properties::config;
use crate::random::{WHOLE, case, cases, give};

fn records(simulation: &Simulation<Full>) -> Vec<Record> {
    let slots = simulation.room().slots();
    Record::of(simulation.trace(), simulation.plan(), slots).collect()
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn an_exported_trace_is_read_as_it_was_written((tape, rows) in cases()) {
        let (plan, acts) = case(&tape, &rows, WHOLE);
        let mut simulation = Simulation::<Full>::new(Arc::clone(&plan), 0, |_, _| {
            sim::Quality::default()
        });
        for (at, act) in &acts {
            give(&mut simulation, *at, act);
        }
        let end = acts.last().map_or(Instant::START, |&(at, _)| at);
        simulation.run_until(end.after(device::Span::from_minutes(20)));

        let written = records(&simulation);
        let slots = simulation.room().slots();
        let bytes = to_messagepack(simulation.trace(), simulation.plan(), slots);
        let (header, read) = from_messagepack(&bytes).unwrap();
        prop_assert_eq!(&header.room, "Annex 7");
        prop_assert_eq!(&read, &written);
        for record in &written {
            let line = serde_json::to_string(record).unwrap();
            prop_assert!(!line.contains('\n'));
            prop_assert_eq!(&serde_json::from_str::<Record>(&line).unwrap(), record);
        }
        for (number, record) in (0..).zip(&written) {
            prop_assert_eq!(record.step, number);
            prop_assert!(!record.who.is_empty() && !record.what.is_empty());
            prop_assert!(record.what.chars().all(|it| it.is_ascii_lowercase() || it == '-'));
        }
        // A trace cut short is no trace, unless it is cut between two records.
        if let Ok((_, fewer)) = from_messagepack(&bytes[..bytes.len() - 1]) {
            prop_assert!(fewer.len() < written.len());
        }
    }
}

/// One line of each kind, as a reader of another language sees it.
#[test]
fn a_record_names_who_what_and_how_much() {
    let tape = [0; 40];
    let (plan, _) = case(&tape, &[], WHOLE);
    let mut simulation =
        Simulation::<Full>::new(Arc::clone(&plan), 0, |_, _| sim::Quality::default());
    let motion = room::Input::Stimulus(room::SourceId(0), room::Stimulus::Motion);
    simulation.apply(Instant::from_ms(1_000), motion);
    simulation.run_until(Instant::from_ms(2_000));
    let records = records(&simulation);
    let of = |what: &str| records.iter().find(|record| record.what == what).unwrap();
    let motion = of("motion");
    assert_eq!(
        (motion.at_ms, motion.cause, motion.who.as_str()),
        (1_000, None, "sensor-0")
    );
    let sent = of("sent");
    assert_eq!(sent.cause, Some(motion.step));
    assert_eq!(sent.detail["says"], Datum::Text("occupied".into()));
    assert_eq!(sent.detail["sequence"], Datum::Number(0));
    let arrived = of("arrived");
    assert_eq!((arrived.at_ms, arrived.cause), (1_010, Some(sent.step)));
    assert_eq!(arrived.detail["from"], Datum::Text("sensor-0".into()));
    let on = of("turned-on");
    assert_eq!(
        (on.who.as_str(), on.cause),
        ("output-0", Some(arrived.step))
    );
    assert_eq!(on.detail["level_percent_hundredths"], Datum::Number(10_000));
    let line = serde_json::to_string(motion).unwrap();
    let expected = format!(
        r#"{{"step":{},"at_ms":1000,"cause":null,"who":"sensor-0","what":"motion"}}"#,
        motion.step
    );
    assert_eq!(line, expected);
}
