//! What the keys of a source say, as its settings.

use device::{Span, card, clock, daylight, occupancy, signal, switch};
use room::SourceSettings;

use super::model::Thing;
use super::resolve::Buttons;
use crate::Diagnostic;
use crate::keys::{Item, Section};
use crate::script::calendar::Calendar;
use crate::words::TimeOfDay;

/// The settings of a source.
pub(crate) fn settings(
    thing: &Thing,
    buttons: &Buttons,
    diagnostics: &mut Vec<Diagnostic>,
) -> SourceSettings {
    let keys = &thing.section;
    match keys.word("kind") {
        Some("switch") => SourceSettings::Switch(switch::Settings {
            buttons: buttons.kinds.clone(),
            edge_gap: keys.span("edge-gap").unwrap_or(Span::ZERO),
        }),
        Some("card") => SourceSettings::Card(card::Settings {
            linger: keys.span("linger").unwrap_or(Span::ZERO),
            report: report(keys),
            verifies: keys.yes("verifies"),
            ..card::Settings::default()
        }),
        Some("daylight") => SourceSettings::Daylight(daylight(keys, diagnostics)),
        Some("clock") => SourceSettings::Clock(clock::Settings {
            reserve: keys.span("reserve").unwrap_or(Span::ZERO),
            report: report(keys),
            ..clock::Settings::default()
        }),
        Some("normal power") => signal(keys, signal::Kind::NormalPower),
        Some("fire alarm") => signal(keys, signal::Kind::FireAlarm),
        Some("demand response") => signal(keys, signal::Kind::DemandResponse),
        _ => SourceSettings::Occupancy(occupancy(keys, diagnostics)),
    }
}

/// How often a source reports its state; `None`: on change only.
pub(crate) fn report(keys: &Section) -> Option<Span> {
    match keys.word("kind") {
        Some("switch") => None,
        _ if keys.has("report-every") => keys.span("report-every"),
        Some("daylight") => Some(Span::from_seconds(30)),
        _ => Some(Span::from_minutes(4)),
    }
}

/// Whether a cut of the room's power takes the source's power too.
pub(crate) fn mains(keys: &Section) -> bool {
    if keys.has("battery") {
        return !keys.yes("battery");
    }
    !matches!(
        keys.word("kind"),
        Some("switch" | "normal power" | "fire alarm" | "demand response")
    )
}

/// The calendar of a clock.
pub(crate) fn calendar(keys: &Section, diagnostics: &mut Vec<Diagnostic>) -> Calendar {
    let mut calendar = Calendar::default();
    if let Some(hours) = keys.table("hours") {
        for (day, name) in crate::keys::DAYS.iter().enumerate() {
            let kind_of_day = if day < 5 { "weekdays" } else { "weekend" };
            let deciding = [name, kind_of_day, "every-day"]
                .into_iter()
                .find(|key| hours.has(key));
            if let Some(key) = deciding {
                calendar.hours[day] = stretches(hours, key, diagnostics);
            }
        }
    }
    for item in keys.list("holidays") {
        if let Item::Dates(first, last) = item.value {
            calendar.holidays.push((first, last));
        }
    }
    for item in keys.list("sweeps") {
        if let Item::DayTime(day, time) = item.value {
            calendar.sweeps.push((day, time));
        }
    }
    calendar.holidays.sort();
    calendar.sweeps.sort();
    calendar
}

fn stretches(
    hours: &Section,
    key: &str,
    diagnostics: &mut Vec<Diagnostic>,
) -> Vec<(TimeOfDay, TimeOfDay)> {
    let mut stretches = Vec::new();
    for item in hours.list(key) {
        if let Item::Hours(Some(stretch)) = item.value {
            stretches.push(stretch);
        }
    }
    stretches.sort();
    if stretches.windows(2).any(|pair| pair[0].1 > pair[1].0) {
        let diagnostic = Diagnostic::error(
            "value",
            hours.place_of(key),
            "two stretches of one day overlap",
            "write each hour once: [\"08:00 to 12:00\", \"13:00 to 18:00\"]",
        );
        // The same line may decide about several days.
        if !diagnostics.contains(&diagnostic) {
            diagnostics.push(diagnostic);
        }
    }
    stretches
}

fn occupancy(keys: &Section, diagnostics: &mut Vec<Diagnostic>) -> occupancy::Settings {
    let senses: Vec<&str> = keys
        .list("senses")
        .iter()
        .filter_map(|item| match item.value {
            Item::Word(word) => Some(word),
            _ => None,
        })
        .collect();
    // A word that could not be read has its own message.
    if !keys.list("senses").is_empty() && !senses.contains(&"motion") {
        diagnostics.push(Diagnostic::error(
            "value",
            keys.place_of("senses"),
            "a sensor that senses no motion never becomes occupied",
            "write senses = [\"motion\", \"sound\"]: sound only prolongs",
        ));
    }
    let time_delay = keys.span("time-delay").unwrap_or(Span::ZERO);
    let window = keys.span("sound-window").unwrap_or(Span::ZERO);
    if !window.is_zero() && window < time_delay {
        diagnostics.push(Diagnostic::error(
            "out of range",
            keys.place_of("sound-window"),
            format!("the sound window ({window}) is shorter than the time delay ({time_delay})"),
            format!("write a span from {time_delay} to 2 h, or \"0 s\" for motion only"),
        ));
    }
    occupancy::Settings {
        sound: senses.contains(&"sound"),
        time_delay,
        window,
        grace: keys.span("sound-grace").unwrap_or(Span::ZERO),
        report: report(keys),
        repeat: keys.span("repeat"),
        warm_up: keys.span("warm-up").unwrap_or(Span::ZERO),
        dead_time: keys.span("dead-time").unwrap_or(Span::ZERO),
        hold_off: keys.light("hold-off"),
        ..occupancy::Settings::default()
    }
}

fn daylight(keys: &Section, diagnostics: &mut Vec<Diagnostic>) -> daylight::Settings {
    let standard = daylight::Settings::default();
    daylight::Settings {
        change_percent: whole_percent(keys, "change", diagnostics),
        change_least: keys.light("change-least").unwrap_or(standard.change_least),
        report: report(keys).unwrap_or_else(|| {
            diagnostics.push(Diagnostic::error(
                "value",
                keys.place_of("report-every"),
                "a daylight sensor reports at least once in a while",
                "write a span: report-every = \"30 s\"",
            ));
            standard.report
        }),
        interval: keys.span("interval").unwrap_or(standard.interval),
    }
}

/// A share that the device keeps in whole per cent.
pub(crate) fn whole_percent(keys: &Section, key: &str, diagnostics: &mut Vec<Diagnostic>) -> u8 {
    let share = keys.share(key).unwrap_or(0);
    if !share.is_multiple_of(100) {
        diagnostics.push(Diagnostic::error(
            "value",
            keys.place_of(key),
            format!("{key} is kept in whole per cent"),
            format!("round it: {key} = \"{} %\"", (share / 100).max(1)),
        ));
    }
    u8::try_from(share / 100).unwrap_or(100)
}

fn signal(keys: &Section, kind: signal::Kind) -> SourceSettings {
    SourceSettings::Signal(signal::Settings {
        kind,
        report: report(keys),
    })
}
