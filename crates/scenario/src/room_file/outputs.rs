//! What the keys of an output say, as settings of the controller that drives it.

use device::controller::{Drive, Output, PowerUp, Warning};
use device::{Level, Span};

use super::model::Thing;
use crate::Diagnostic;
use crate::keys::{Item, Section};
use crate::words::{Current, Power, Rating};

/// The settings of an output; which relay and group it shares is filled in by the plan.
pub(crate) fn output(thing: &Thing, diagnostics: &mut Vec<Diagnostic>) -> Output {
    let keys = &thing.section;
    let mut output = Output::new(drive(keys));
    if output.drive.dims() {
        output.low_trim = keys.level("low-trim").unwrap_or(output.low_trim);
        output.high_trim = keys.level("high-trim").unwrap_or(output.high_trim);
        output.fade_on = keys.span("fade-on").unwrap_or(output.fade_on);
        output.fade_off = keys.span("fade-off").unwrap_or(output.fade_off);
        if output.low_trim > output.high_trim {
            let place = keys.place_of(if keys.has("low-trim") {
                "low-trim"
            } else {
                "high-trim"
            });
            diagnostics.push(Diagnostic::error(
                "out of range",
                place,
                format!(
                    "the low trim ({}) is above the high trim ({})",
                    output.low_trim, output.high_trim
                ),
                "lower the low trim or raise the high trim",
            ));
        }
    }
    if output.drive.lights() {
        output.warning = warning(keys, output.drive, diagnostics);
        output.grace = keys.span("grace").unwrap_or(Span::ZERO);
    }
    if keys.has("press-hold") {
        output.press_hold = keys.span("press-hold").unwrap_or(Span::ZERO);
    }
    output.off_after = keys.span("off-after");
    if let Some(egress) = keys.table("egress") {
        output.floor = egress.level("floor");
        output.proven = egress.span("proven").unwrap_or(output.proven);
    }
    output.shed = keys.points("shed");
    output.shed_fade = keys.span("shed-fade").unwrap_or(output.shed_fade);
    output.minimum_on = keys.span("minimum-on").unwrap_or(output.minimum_on);
    output.minimum_off = keys.span("minimum-off").unwrap_or(output.minimum_off);
    output.rest_closed = keys.word("rest") == Some("closed");
    output.feedback = keys.span("feedback");
    output.power_up = match keys.word("power-up") {
        Some("on") => PowerUp::On,
        Some("off") => PowerUp::Off,
        _ => PowerUp::Last,
    };
    let table = keys
        .count("table")
        .and_then(|count| u8::try_from(count).ok());
    output.table = table.unwrap_or(output.table);
    output
}

/// The drive that a file names.
pub(crate) fn drive(keys: &Section) -> Drive {
    match keys.word("drive") {
        Some("0-10 V") => Drive::ZeroToTen,
        Some("forward phase") => Drive::ForwardPhase,
        Some("reverse phase") => Drive::ReversePhase,
        Some("receptacle") => Drive::Receptacle,
        Some("dry contact") => Drive::Contact,
        _ => Drive::Relay,
    }
}

/// What the contact or the dimmer of an output may carry: as given, else what is common
/// practice for its drive; nothing for a dry contact, which carries a signal.
pub(crate) fn rating(keys: &Section) -> Option<Rating> {
    keys.rating("rating").or(match drive(keys) {
        Drive::Relay | Drive::ZeroToTen => Some(Rating::Current(Current(11_500))),
        Drive::Receptacle => Some(Rating::Current(Current(15_000))),
        Drive::ForwardPhase | Drive::ReversePhase => Some(Rating::Power(Power(600_000))),
        Drive::Contact => None,
    })
}

fn warning(keys: &Section, drive: Drive, diagnostics: &mut Vec<Diagnostic>) -> Option<Warning> {
    let level = keys.item("warning-level");
    let Some(span) = keys.span("warning") else {
        if let Some(entry) = keys.given("warning-level") {
            diagnostics.push(Diagnostic::error(
                "missing key",
                entry.key,
                "a warning level without a warning",
                "say how long it warns: warning = \"30 s\"",
            ));
        }
        return None;
    };
    match level {
        Some(Item::Level(level)) if drive.dims() => Some(Warning::Dim { span, level }),
        Some(Item::Level(_)) => {
            diagnostics.push(Diagnostic::error(
                "level on a drive that cannot dim",
                keys.place_of("warning-level"),
                "a relay cannot dim for a warning",
                "write warning-level = \"blink\"",
            ));
            Some(Warning::Blink { span })
        }
        None if drive.dims() => Some(Warning::Dim {
            span,
            level: Level::from_percent(50),
        }),
        _ => Some(Warning::Blink { span }),
    }
}
