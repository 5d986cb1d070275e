//! The people of a run, and what sensors notice of them.

use std::collections::BTreeMap;

use room::SourceSettings;

use super::RowRef;
use super::lower::Scenario;
use super::people::{Doing, NoticeTable, Notices, Person};
use super::reader::{Reader, shifted};
use crate::Diagnostic;
use crate::diagnostic::nearest;
use crate::keys::{Item, Located};
use crate::room_file::RoomFile;
use crate::words::{self, WordError};

/// The people of the room and of the scenario, by name.
pub(super) fn people(scenario: &Scenario<'_>, diagnostics: &mut Vec<Diagnostic>) -> Vec<Person> {
    let mut seats = scenario.room.people.clone();
    for person in scenario.read.section.named("people") {
        let place = person.section.text("place");
        if let Some(place) = &place
            && let Err(error) = known_place(scenario.room, &place.value)
        {
            diagnostics.push(scenario.word("unknown name", place, error));
        }
        let place = place.map(|place| place.value);
        seats.insert(person.name.value.clone(), place);
    }
    seats
        .into_iter()
        .map(|(name, seat)| Person {
            name,
            seat,
            doings: Vec::new(),
        })
        .collect()
}

/// Whether the room has a place of this name.
pub(super) fn known_place(room: &RoomFile, name: &str) -> Result<(), WordError> {
    if room.places.iter().any(|place| place == name) {
        return Ok(());
    }
    let hint = match nearest(name, room.places.iter().map(String::as_str)) {
        Some(near) => format!("did you mean `{near}`?"),
        None => format!("add [places.{name}] to room.toml, or name a place that it has"),
    };
    let message = format!("the room has no place `{name}`");
    Err(WordError::whole(name, message, hint))
}

/// What the sensors notice in this run.
pub(super) fn notices(scenario: &Scenario<'_>, diagnostics: &mut Vec<Diagnostic>) -> NoticeTable {
    let mut table = scenario.room.notices.clone();
    for place in scenario.read.section.maps("notices") {
        if let Err(error) = known_place(scenario.room, &place.name.value) {
            diagnostics.push(scenario.word("unknown name", &place.name, error));
        }
        for (sensor, item) in &place.values {
            if let Err(error) = known_sensor(scenario.room, &sensor.value) {
                diagnostics.push(scenario.word("unknown name", sensor, error));
            }
            let Item::List(items) = &item.value else {
                continue;
            };
            let mut notices = Notices::NOTHING;
            for one in items {
                let Item::Text(text) = &one.value else {
                    continue;
                };
                let text = Located {
                    value: text.clone(),
                    place: one.place,
                };
                if let Err(error) = notice(&text.value, &mut notices) {
                    diagnostics.push(scenario.word("value", &text, error));
                }
            }
            let sensors = table.entry(place.name.value.clone()).or_default();
            sensors.insert(sensor.value.clone(), notices);
        }
    }
    table
}

fn known_sensor(room: &RoomFile, name: &str) -> Result<(), WordError> {
    let hint = "name an occupancy sensor of the room: only these notice people";
    let sources = &room.plan.sources;
    match sources.iter().find(|source| source.name == name) {
        Some(source) if matches!(source.settings, SourceSettings::Occupancy(_)) => Ok(()),
        Some(_) => {
            let message = format!("`{name}` is not an occupancy sensor");
            Err(WordError::whole(name, message, hint))
        }
        None => {
            let near = nearest(name, sources.iter().map(|source| source.name.as_str()));
            let hint = near.map_or(hint.to_owned(), |near| format!("did you mean `{near}`?"));
            let message = format!("there is no source `{name}`");
            Err(WordError::whole(name, message, hint))
        }
    }
}

/// Reads `major motion`, `20 % of minor motion`, `sound` or `nothing`.
pub(crate) fn notice(text: &str, notices: &mut Notices) -> Result<(), WordError> {
    let mut reader = Reader::new(text);
    let start = reader.position();
    let share = reader.quantity();
    let share = if share.is_empty() {
        device::Level::FULL
    } else {
        let share = words::level(share).map_err(|error| shifted(error, start))?;
        reader.take("of");
        share
    };
    if reader.take("major motion") {
        notices.major = share;
    } else if reader.take("minor motion") {
        notices.minor = share;
    } else if reader.take("sound") {
        notices.sound = share;
    } else if !reader.take("nothing") {
        return Err(WordError::new(
            reader.rest_range(),
            "this is nothing that a sensor notices",
            "write \"major motion\", \"minor motion\", \"20 % of minor motion\", \"sound\" or \"nothing\"",
        ));
    }
    if reader.is_done() {
        return Ok(());
    }
    Err(WordError::new(
        reader.rest_range(),
        "this does not belong here",
        "write a list: [\"major motion\", \"20 % of minor motion\"]",
    ))
}

/// Gives each person what rows say, in order of time.
pub(super) fn busy(
    mut people: Vec<Person>,
    doings: BTreeMap<usize, Vec<Doing>>,
    rows: &[RowRef],
    diagnostics: &mut Vec<Diagnostic>,
) -> Vec<Person> {
    for (person, mut doings) in doings {
        doings.sort_by_key(|doing| doing.at);
        for pair in doings.windows(2) {
            let [one, two] = pair else { continue };
            if one.at == two.at {
                let (first, second) = (&rows[one.row], &rows[two.row]);
                diagnostics.push(
                    Diagnostic::error(
                        "two at once",
                        second.place,
                        format!("`{}` does two things at one instant", second.point),
                        "make one of them later",
                    )
                    .label(format!("`{}`", second.says))
                    .related(first.place, format!("`{}`", first.says)),
                );
            }
        }
        people[person].doings = doings;
    }
    people
}
