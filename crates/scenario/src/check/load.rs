//! Loads against ratings, and kinds of load against kinds of dimming.
//!
//! Ratings that the file does not give are common practice. A load that meets its rating exactly
//! passes. Invariant: whole milliwatts, milliamperes and millivolts; nothing is rounded.

use std::collections::BTreeMap;

use device::controller::Drive;

use super::Checked;
use crate::room_file::{Thing, full, rating};
use crate::words::{Current, Power, Rating};
use crate::{Diagnostic, Place};

pub(super) fn check(checked: &Checked<'_>, findings: &mut Vec<Diagnostic>) {
    let mut gangs: BTreeMap<String, Vec<&Thing>> = BTreeMap::new();
    for (_, thing, output) in checked.outputs() {
        match full(&checked.room.model, thing, "relay") {
            Some(name) => {
                gangs.entry(name).or_default().push(thing);
                dimmer_on_gang(checked, thing, output.drive, findings);
            }
            None => single(checked, thing, findings),
        }
        kind(thing, output.drive, findings);
        inrush(checked, thing, output.drive, findings);
    }
    for (name, members) in &gangs {
        gang(checked, name, members, findings);
    }
}

/// One output with a contact or dimmer of its own.
fn single(checked: &Checked<'_>, thing: &Thing, findings: &mut Vec<Diagnostic>) {
    let keys = &thing.section;
    let Some(load) = load(thing) else {
        return;
    };
    match rating(keys) {
        Some(rating) if exceeds(load, rating, voltage(checked, thing)) => {
            let place = keys.place_of("load");
            let finding = too_much(checked, thing, load, rating, place);
            findings.push(match keys.given("rating") {
                Some(entry) => finding.related(entry.value.place, "the rating"),
                None => finding,
            });
        }
        None => findings.push(Diagnostic::warning(
            "load on a dry contact",
            keys.place_of("load"),
            format!(
                "`{}` is a dry contact, which carries a signal and no load",
                thing.name
            ),
            "use drive = \"relay\", or give the contact's rating",
        )),
        Some(_) => {}
    }
}

/// The sum of all outputs of one relay against the relay's rating.
fn gang(checked: &Checked<'_>, name: &str, members: &[&Thing], findings: &mut Vec<Diagnostic>) {
    let listed = checked
        .room
        .model
        .relays
        .iter()
        .find(|relay| relay.name == name);
    let rating = listed.and_then(|relay| relay.section.rating("rating"));
    // Without an entry of its own the relay has what is common practice.
    let rating = rating.unwrap_or(Rating::Current(Current(11_500)));
    let known: Vec<u64> = members.iter().filter_map(|thing| load(thing)).collect();
    let sum: u64 = known.iter().sum();
    let place = members[0].section.place_of("relay");
    if exceeds(sum, rating, voltage(checked, members[0])) {
        let finding = too_much(checked, members[0], sum, rating, place);
        let who = match members.len() {
            1 => format!("the one output of the relay `{name}`"),
            count => format!("the {count} outputs of the relay `{name}`"),
        };
        findings.push(Diagnostic {
            message: format!("{who}: {}", finding.message),
            ..finding
        });
    } else if !known.is_empty() && known.len() < members.len() {
        let unknown = members.iter().find(|thing| load(thing).is_none());
        let unknown = unknown.map_or(place, |thing| thing.place);
        findings.push(Diagnostic::caution(
            "load not known",
            unknown,
            format!("the load of an output of the relay `{name}` is not given"),
            "add its load, so that the relay's sum is complete",
        ));
    }
    for thing in members {
        if let Some(entry) = thing.section.given("rating") {
            findings.push(Diagnostic::warning(
                "rating in the wrong place",
                entry.key,
                format!(
                    "`{}` shares the relay `{name}`, whose rating counts",
                    thing.name
                ),
                format!("move the rating into [relays.{name}]"),
            ));
        }
    }
}

/// A phase dimmer carries its own load whatever relay stands before it.
fn dimmer_on_gang(
    checked: &Checked<'_>,
    thing: &Thing,
    drive: Drive,
    findings: &mut Vec<Diagnostic>,
) {
    if matches!(drive, Drive::ForwardPhase | Drive::ReversePhase) {
        single(checked, thing, findings);
    }
}

fn too_much(
    checked: &Checked<'_>,
    thing: &Thing,
    load: u64,
    rating: Rating,
    place: Place,
) -> Diagnostic {
    let millivolts = voltage(checked, thing);
    let volts = tenths(millivolts);
    let (carries, most) = match rating {
        Rating::Current(Current(ma)) => {
            // Milliwatts × 1000 / millivolts are milliamperes; rounded up, so never below.
            let amps = (u128::from(load) * 1_000).div_ceil(u128::from(millivolts));
            let amps = u64::try_from(amps).unwrap_or(u64::MAX);
            (
                format!("{} W at {volts} V are {} A", tenths(load), hundredths(amps)),
                format!(
                    "{} A, that is {} W",
                    hundredths(ma),
                    tenths(ma * millivolts / 1_000)
                ),
            )
        }
        Rating::Power(Power(most)) => {
            (format!("{} W", tenths(load)), format!("{} W", tenths(most)))
        }
    };
    Diagnostic::error(
        "load above the rating",
        place,
        format!("{carries}, more than the rating of {most}"),
        "share the load among more contacts, or use one of a higher rating",
    )
}

/// Whether a load in milliwatts is more than a rating allows.
fn exceeds(load: u64, rating: Rating, millivolts: u64) -> bool {
    match rating {
        Rating::Current(Current(ma)) => {
            u128::from(load) * 1_000 > u128::from(ma) * u128::from(millivolts)
        }
        Rating::Power(Power(most)) => load > most,
    }
}

/// What an output carries at full, with the plain receptacles that follow it.
fn load(thing: &Thing) -> Option<u64> {
    let own = thing
        .section
        .given("load")
        .and_then(|_| thing.section.power("load"));
    let downstream = thing
        .section
        .given("downstream")
        .and_then(|_| thing.section.power("downstream"));
    match (own, downstream) {
        (None, None) => None,
        (own, downstream) => {
            Some(own.map_or(0, |power| power.0) + downstream.map_or(0, |power| power.0))
        }
    }
}

fn voltage(checked: &Checked<'_>, thing: &Thing) -> u64 {
    let part = &checked.room.model.parts[thing.part];
    let deciding = part.deciding("voltage");
    deciding
        .voltage("voltage")
        .map_or(120_000, |voltage| voltage.0)
}

/// Which loads a kind of dimming suits.
fn kind(thing: &Thing, drive: Drive, findings: &mut Vec<Diagnostic>) {
    let Some(entry) = thing.section.given("load-kind") else {
        return;
    };
    let Some(kind) = thing.section.word("load-kind") else {
        return;
    };
    let drive_word = thing.section.word("drive").unwrap_or("");
    let place = entry.value.place;
    let related = thing.section.place_of("drive");
    let wrong = |hint: &str| {
        Diagnostic::error(
            "dimming does not suit the load",
            place,
            format!("a load of the kind \"{kind}\" cannot be dimmed by {drive_word}"),
            hint,
        )
        .related(related, "the drive")
    };
    match (drive, kind) {
        (Drive::ReversePhase, "magnetic low-voltage") => {
            findings.push(wrong(
                "inductive gear takes drive = \"forward phase\" (common practice)",
            ));
        }
        (Drive::ForwardPhase, "electronic low-voltage") => {
            findings.push(wrong(
                "electronic gear takes drive = \"reverse phase\" (common practice)",
            ));
        }
        (Drive::ForwardPhase | Drive::ReversePhase, "fluorescent" | "motor" | "plug loads") => {
            findings.push(wrong("switch it with drive = \"relay\" or \"receptacle\""));
        }
        (Drive::ZeroToTen, "motor" | "plug loads" | "magnetic low-voltage" | "resistive") => {
            findings.push(wrong(
                "0-10 V needs gear with a control input: use a relay, or phase dimming",
            ));
        }
        (Drive::ForwardPhase, "led") => findings.push(
            Diagnostic::caution(
                "dimming depends on the lamp",
                place,
                "not every led lamp dims well by forward phase",
                "ask for a lamp that names NEMA SSL 7A, and try one: passing it does not promise \
                 good dimming",
            )
            .related(related, "the drive"),
        ),
        (Drive::ReversePhase, "led") => findings.push(
            Diagnostic::caution(
                "dimming depends on the lamp",
                place,
                "not every led lamp dims by reverse phase",
                "ask its maker, and try one: NEMA SSL 7A speaks of forward phase only",
            )
            .related(related, "the drive"),
        ),
        _ => {}
    }
}

/// Electronic loads draw many times their current for an instant, and contacts weld.
fn inrush(checked: &Checked<'_>, thing: &Thing, drive: Drive, findings: &mut Vec<Diagnostic>) {
    let Some(entry) = thing.section.given("load-kind") else {
        return;
    };
    let electronic = matches!(
        thing.section.word("load-kind"),
        Some("led" | "fluorescent" | "electronic low-voltage")
    );
    let contact = matches!(drive, Drive::Relay | Drive::ZeroToTen | Drive::Receptacle);
    let (Some(load), Some(rating)) = (load(thing), rating(&thing.section)) else {
        return;
    };
    let half = exceeds(load.saturating_mul(2), rating, voltage(checked, thing));
    if electronic && contact && half {
        findings.push(Diagnostic::caution(
            "inrush",
            entry.value.place,
            "electronic gear may draw a hundred times its current for an instant, and contacts \
             weld; this is not in the sum",
            "ask for a contact tested for inrush (NEMA 410, now JSC 10410-2023), or share the load",
        ));
    }
}

/// Thousandths as a number with at most one digit after the point.
fn tenths(thousandths: u64) -> String {
    match (thousandths / 1_000, thousandths % 1_000 / 100) {
        (whole, 0) => whole.to_string(),
        (whole, tenth) => format!("{whole}.{tenth}"),
    }
}

/// Thousandths as a number with at most two digits after the point.
fn hundredths(thousandths: u64) -> String {
    let part = thousandths % 1_000 / 10;
    match (thousandths / 1_000, part) {
        (whole, 0) => whole.to_string(),
        (whole, part) if part % 10 == 0 => format!("{whole}.{}", part / 10),
        (whole, part) => format!("{whole}.{part:02}"),
    }
}
