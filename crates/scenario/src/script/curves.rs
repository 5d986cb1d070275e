//! Courses of daylight, from the rows of a curve to instants.

use std::collections::BTreeMap;

use sim::Instant;

use super::civil::{Civil, time_of_day};
use super::deeds::Curve;
use super::lower::Scenario;
use super::reader::Reader;
use super::time::{self, Day, Moment};
use crate::Diagnostic;
use crate::words::{self, WordError};

/// Courses of daylight, in instants.
pub(super) fn curves(
    scenario: &Scenario<'_>,
    civil: &Civil,
    diagnostics: &mut Vec<Diagnostic>,
) -> BTreeMap<String, Curve> {
    let mut curves = BTreeMap::new();
    for named in scenario.read.section.named("curves") {
        let every = named.section.span("every").unwrap_or_default();
        let mut points = Vec::new();
        for row in scenario
            .read
            .curves
            .get(&named.name.value)
            .into_iter()
            .flatten()
        {
            let [time, light] = row.as_slice() else {
                continue;
            };
            let at = curve_time(civil, &time.value).map_err(|error| (time, error));
            let light = words::illuminance(&light.value).map_err(|error| (light, error));
            match (at, light) {
                (Ok(at), Ok(light)) => points.push((at, light)),
                (at, light) => {
                    let errors = [at.err(), light.err()];
                    for (text, error) in errors.into_iter().flatten() {
                        diagnostics.push(scenario.word("value", text, error));
                    }
                }
            }
        }
        points.sort_by_key(|&(at, _)| at);
        curves.insert(named.name.value.clone(), Curve { points, every });
    }
    curves
}

/// The instant of a row of a curve; what lies before the start counts as the start.
fn curve_time(civil: &Civil, text: &str) -> Result<Instant, WordError> {
    const FORM: &str = "write a time of day, with its day if it is not the first: \"day 2 06:00\"";
    let mut reader = Reader::new(text);
    let moment = time::moment(&mut reader, Day::Same)?;
    let wanted = match moment {
        Moment::Clock { day, time, .. } if reader.is_done() => {
            let date = match day {
                Day::Same => Ok(civil.first_day()),
                Day::Number(number) => civil.day(number),
                Day::Date(date) => Ok(date),
            };
            date.ok().and_then(|date| time_of_day(date, time))
        }
        _ => None,
    };
    let Some(wanted) = wanted else {
        return Err(WordError::whole(
            text,
            format!("`{text}` is not a time of a curve"),
            FORM,
        ));
    };
    Ok(civil.due(wanted).unwrap_or(Instant::START))
}
