//! How a session begins: in an empty room, or with the rows of a scenario.
//!
//! Invariant: the rows of a scenario, each at its own moment, make the acts that the scenario
//! makes, so a session that begins with it and runs to its end has the trace of its run.

use std::collections::BTreeSet;

use device::Illuminance;
use room::Input;
use scenario::script::{Act, ActWhat, By, RowKind, Script};

use crate::score::{Head, Row};
use crate::stage::{Scene, usual_start};
use crate::{Refusal, Stage};

/// What a session begins with.
#[derive(Clone, Debug)]
pub(crate) struct Opening {
    pub(crate) head: Head,
    pub(crate) rows: Vec<Row>,
}

impl Opening {
    /// An empty room.
    pub(crate) fn empty(stage: &Stage) -> Self {
        Self {
            head: Head {
                title: format!("A session in {}", stage.name()),
                start: usual_start(),
                tables: String::new(),
            },
            rows: Vec::new(),
        }
    }

    /// The rows of a scenario, which all lie ahead.
    pub(crate) fn of(scene: &Scene) -> Result<Self, Refusal> {
        let script = &scene.script;
        Ok(Self {
            head: Head {
                title: script.title.clone(),
                start: script.civil.start(),
                tables: tables(&scene.text)?,
            },
            rows: rows(script),
        })
    }
}

/// What happens in a script, row by row, each at one moment.
fn rows(script: &Script) -> Vec<Row> {
    let mut rows = Vec::new();
    for (number, row) in script.rows.iter().enumerate() {
        let of_row = |act: &&Act| act.by == By::Row(number);
        match row.when.kind {
            RowKind::Check => {}
            RowKind::Deed => rows.extend(row.when.moments.iter().map(|at| Row {
                at: *at,
                after: row.when.after,
                point: row.point.as_str().into(),
                says: row.says.as_str().into(),
                again: None,
            })),
            RowKind::Course => rows.extend(script.acts.iter().filter(of_row).map(|act| Row {
                at: act.at,
                after: act.after,
                point: row.point.as_str().into(),
                says: match &act.what {
                    ActWhat::Input(Input::Daylight(light)) => daylight(*light).into(),
                    _ => row.says.as_str().into(),
                },
                again: None,
            })),
        }
    }
    rows.sort_by_key(|row| (row.at, row.after));
    // Repetitions that meet are one.
    let mut seen = BTreeSet::new();
    rows.retain(|row| seen.insert((row.at, row.after, row.point.clone(), row.says.clone())));
    rows
}

fn daylight(light: Illuminance) -> String {
    format!("daylight {light}")
}

/// The tables of a scenario file that say who is there and what sensors notice of it.
fn tables(text: &str) -> Result<String, Refusal> {
    let read = text.parse::<toml_edit::DocumentMut>();
    let mut document = read.map_err(|error| {
        Refusal::new(
            format!("the scenario cannot be read: {error}"),
            "check the room",
        )
    })?;
    let others: Vec<String> = (document.iter())
        .map(|(key, _)| key.to_owned())
        .filter(|key| key != "people" && key != "notices")
        .collect();
    for key in others {
        document.remove(&key);
    }
    document.set_trailing("");
    Ok(format!("\n{document}"))
}
