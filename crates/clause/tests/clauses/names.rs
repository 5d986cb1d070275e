//! The names of the room that the tests speak of.

use clause::{Formula, Group, Names, Point, SourceKind, SourceName};
use device::Span;

/// The names of the room that the tests speak of.
pub(crate) fn names() -> Names {
    let source = |name: &str, kind, buttons: &[&str]| SourceName {
        name: name.into(),
        kind,
        buttons: buttons.iter().map(|button| (*button).into()).collect(),
    };
    Names {
        sources: vec![
            source("card-reader", SourceKind::Card, &[]),
            source("door-sensor", SourceKind::Occupancy { sound: false }, &[]),
            source("grid", SourceKind::DemandResponse, &[]),
            source("mains", SourceKind::NormalPower, &[]),
            source("photo", SourceKind::Daylight, &[]),
            source("siren", SourceKind::FireAlarm, &[]),
            source("time-clock", SourceKind::Clock, &[]),
            source("wall-button", SourceKind::Switch, &["up", "down"]),
            source("wall-sensor", SourceKind::Occupancy { sound: true }, &[]),
            source(
                "wall-unit",
                SourceKind::Switch,
                &["zone-a up", "zone-a down", "film", "zone b up"],
            ),
        ],
        outputs: ["desk-lights", "desk-outlet", "door-lights"]
            .map(Into::into)
            .into(),
        groups: vec![
            Group {
                name: "lights".into(),
                members: vec![Point::Output(0), Point::Output(2)],
            },
            Group {
                name: "sensors".into(),
                members: vec![Point::Source(1), Point::Source(8)],
            },
            Group {
                name: "nothing".into(),
                members: vec![],
            },
        ],
    }
}

/// Reads a clause with a reaction of the room, or panics with the error.
pub(crate) fn parse_with(fields: &[(&str, &str)], reaction: Span) -> Formula {
    match Formula::parse(fields, &names(), reaction) {
        Ok(formula) => formula,
        Err(error) => panic!("{fields:?}: {error:?}"),
    }
}
