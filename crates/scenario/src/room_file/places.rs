//! Places, and what sensors notice of people there.

use std::collections::BTreeMap;

use device::Level;
use room::{LightModel, OutputId, PlanTask};

use super::model::{Model, Thing};
use super::resolve;
use crate::keys::{Item, Located, Section};
use crate::script::people::{NoticeTable, Notices};
use crate::words::{self, WordError};
use crate::{Diagnostic, Place};

/// The tasks of a plan: the places on which light falls.
pub(crate) fn tasks(model: &Model, diagnostics: &mut Vec<Diagnostic>) -> Vec<PlanTask> {
    let lit = |place: &&Thing| place.section.has("daylight") || place.section.has("electric");
    let task = |place: &Thing| PlanTask {
        name: place.name.clone(),
        light: light(model, place, diagnostics),
    };
    model.places.iter().filter(lit).map(task).collect()
}

/// What light reaches a thing with the keys `daylight` and `electric`.
pub(crate) fn light(model: &Model, thing: &Thing, diagnostics: &mut Vec<Diagnostic>) -> LightModel {
    let mut electric = BTreeMap::new();
    for (name, item) in thing.section.map("electric") {
        let Item::Light(light) = item.value else {
            continue;
        };
        match resolve::outputs(model, thing.part, name) {
            Ok(found) => {
                for output in own(&model.outputs, &found, thing) {
                    electric.insert(output, light);
                }
            }
            Err(diagnostic) => report_once(diagnostics, *diagnostic),
        }
    }
    let id = |output: usize| OutputId(u16::try_from(output).unwrap_or(u16::MAX));
    LightModel {
        daylight: thing.section.share("daylight").unwrap_or(0),
        electric: electric
            .into_iter()
            .map(|(output, light)| (id(output), light))
            .collect(),
    }
}

/// What every sensor notices at every place where that is not everything.
pub(crate) fn notices(model: &Model, diagnostics: &mut Vec<Diagnostic>) -> NoticeTable {
    let mut table = NoticeTable::new();
    for place in model
        .places
        .iter()
        .filter(|place| place.section.has("notices"))
    {
        let mut here = BTreeMap::new();
        for sensor in model
            .sources
            .iter()
            .filter(|source| is_sensor(&source.section))
        {
            here.insert(sensor.name.clone(), Notices::NOTHING);
        }
        for (name, item) in place.section.map("notices") {
            let prefix = &model.parts[place.part].prefix;
            let Some(found) = resolve::things(&model.sources, prefix, &name.value) else {
                let known = &model.sources;
                let unknown = resolve::unknown("source", known, prefix, &name.value, name.place);
                report_once(diagnostics, unknown);
                continue;
            };
            let noticed = all(item, diagnostics);
            for sensor in own(&model.sources, &found, place) {
                let sensor = &model.sources[sensor];
                if is_sensor(&sensor.section) {
                    here.insert(sensor.name.clone(), noticed);
                } else {
                    let message = format!("`{}` is not an occupancy sensor", name.value);
                    let hint = "only occupancy sensors notice people";
                    report_once(
                        diagnostics,
                        Diagnostic::error("unknown name", name.place, message, hint),
                    );
                }
            }
        }
        table.insert(place.name.clone(), here);
    }
    table
}

/// People and their places.
pub(crate) fn people(
    model: &Model,
    diagnostics: &mut Vec<Diagnostic>,
) -> BTreeMap<String, Option<String>> {
    let mut people = BTreeMap::new();
    for person in &model.people {
        let prefix = &model.parts[person.part].prefix;
        let place = person.section.text("place").and_then(|text| {
            let found = resolve::things(&model.places, prefix, &text.value);
            let Some(found) = found.filter(|found| found.members.len() == 1) else {
                let known = &model.places;
                let unknown = resolve::unknown("place", known, prefix, &text.value, text.place);
                diagnostics.push(unknown);
                return None;
            };
            Some(model.places[found.members[0]].name.clone())
        });
        people.insert(person.name.clone(), place);
    }
    people
}

/// One text of what a sensor notices: `major motion`, `20 % of minor motion`, `nothing`.
///
/// # Errors
/// When the text says something else.
pub(crate) fn noticed(text: &str, notices: &mut Notices) -> Result<(), WordError> {
    let (share, what) = match text.split_once(" of ") {
        Some((share, what)) => (words::level(share)?, what.trim()),
        None => (Level::FULL, text.trim()),
    };
    match what {
        "major motion" => notices.major = share,
        "minor motion" => notices.minor = share,
        "motion" => {
            notices.major = share;
            notices.minor = share;
        }
        "sound" => notices.sound = share,
        "everything" => {
            *notices = Notices {
                major: share,
                minor: share,
                sound: share,
            };
        }
        "nothing" if share == Level::FULL => {}
        _ => {
            let known = [
                "major motion",
                "minor motion",
                "motion",
                "sound",
                "everything",
                "nothing",
            ];
            let start = text.rfind(what).unwrap_or(0);
            let hint = match crate::diagnostic::nearest(what, known) {
                Some(near) => format!("did you mean \"{near}\"?"),
                None => format!(
                    "write {}, or a share: \"20 % of minor motion\"",
                    crate::diagnostic::one_of(known)
                ),
            };
            let message = format!("`{what}` is nothing that a sensor notices");
            return Err(WordError::new(start..start + what.len(), message, hint));
        }
    }
    Ok(())
}

fn all(item: &Located<Item>, diagnostics: &mut Vec<Diagnostic>) -> Notices {
    let mut notices = Notices::NOTHING;
    let Item::List(texts) = &item.value else {
        return notices;
    };
    for text in texts {
        if let Item::Text(word) = &text.value
            && let Err(error) = noticed(word, &mut notices)
        {
            let found = Diagnostic::error("value", text.place, error.message, error.hint);
            report_once(diagnostics, found);
        }
    }
    notices
}

/// The members of a name: those with the number of the copy that names them, where both have
/// equally many copies.
fn own(things: &[Thing], found: &resolve::Found, by: &Thing) -> Vec<usize> {
    let paired = |member: &&usize| {
        let other = things[**member].copy;
        match (by.copy, other) {
            (Some((number, count)), Some((other, others))) if found.copies && count == others => {
                number == other
            }
            _ => true,
        }
    };
    found.members.iter().filter(paired).copied().collect()
}

fn is_sensor(keys: &Section) -> bool {
    keys.word("kind") == Some("occupancy")
}

/// Copies say the same again and again; once is enough.
pub(crate) fn report_once(diagnostics: &mut Vec<Diagnostic>, diagnostic: Diagnostic) {
    if !diagnostics.contains(&diagnostic) {
        diagnostics.push(diagnostic);
    }
}

/// The positions of things, for the checks of geometry.
pub(crate) fn position(keys: &Section) -> Option<((u64, u64), Place)> {
    let mut lengths = keys.list("at").iter().filter_map(|item| match item.value {
        Item::Length(length) => Some(length.0),
        _ => None,
    });
    let right = lengths.next()?;
    let back = lengths.next()?;
    Some(((right, back), keys.place_of("at")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_sensor_notices_is_read_with_its_share() {
        let mut notices = Notices::NOTHING;
        noticed("20 % of minor motion", &mut notices).unwrap();
        noticed("sound", &mut notices).unwrap();
        assert_eq!(notices.minor, Level::from_percent(20));
        assert_eq!((notices.major, notices.sound), (Level::OFF, Level::FULL));
        let error = noticed("5 % of minr motion", &mut notices).unwrap_err();
        assert_eq!(
            (error.range, error.hint.as_str()),
            (7..18, "did you mean \"minor motion\"?")
        );
        assert!(noticed("banana", &mut notices).is_err());
        assert!(noticed("motion", &mut notices).is_ok());
        assert_eq!(notices.major, Level::FULL);
    }
}
