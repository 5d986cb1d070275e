//! The rules of the static checks: what each looks for, and where its limit is from.

use std::fmt::Write as _;

/// One rule, as findings name it.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct Rule {
    /// Its name, in words.
    pub name: &'static str,
    /// How bad a finding is: `error`, `warning` or `caution`.
    pub severity: &'static str,
    /// What it looks for.
    pub says: &'static str,
    /// Where the limit is published, or that it is common practice.
    pub source: &'static str,
}

/// Every rule, in the order of the reference.
pub const RULES: &[Rule] = &[
    rule(
        "unlinked source",
        "warning",
        "Nothing listens to a source.",
        "",
    ),
    rule(
        "unlinked button",
        "warning",
        "A button of a unit does nothing, while others do.",
        "",
    ),
    rule(
        "nothing turns it on",
        "warning",
        "No link and no scene can turn an output on.",
        "",
    ),
    rule(
        "nothing turns it off",
        "warning",
        "Nothing can turn an output off, a setback that stays for ever included.",
        "",
    ),
    rule(
        "stays on for ever",
        "caution",
        "Only a hand turns an output off, and a press has no press-hold.",
        COMMON,
    ),
    rule(
        "level on a drive that cannot dim",
        "error",
        "A preset, setback or daylight limit between off and full, on a drive that is only on or off; an egress floor of that kind is a warning.",
        "",
    ),
    rule(
        "gang linked in part",
        "warning",
        "A source reaches only some outputs of a relay, or a button only some of a group.",
        "",
    ),
    rule(
        "alone in its gang",
        "warning",
        "Only one output has a relay or a group.",
        "",
    ),
    rule(
        "unused relay",
        "warning",
        "A listed relay that no output has.",
        "",
    ),
    rule(
        "load above the rating",
        "error",
        "Watts, or amperes at the site's voltage, above the rating; outputs of one relay and downstream receptacles are added up. Without a rating: 11.5 A for relays, 15 A for receptacles, 600 W for phase dimming.",
        COMMON,
    ),
    rule(
        "load not known",
        "caution",
        "A relay whose sum lacks the load of an output.",
        "",
    ),
    rule(
        "load on a dry contact",
        "warning",
        "A load without a rating on a contact that carries a signal.",
        COMMON,
    ),
    rule(
        "rating in the wrong place",
        "warning",
        "A rating at an output that shares a relay, whose rating counts.",
        "",
    ),
    rule(
        "dimming does not suit the load",
        "error",
        "Phase dimming or 0-10 V on a kind of load that it does not suit.",
        COMMON,
    ),
    rule(
        "dimming depends on the lamp",
        "caution",
        "Phase dimming of led lamps, which some of them do not take well.",
        "NEMA SSL 7A",
    ),
    rule(
        "inrush",
        "caution",
        "Electronic gear of more than half the rating on a contact.",
        "NEMA 410 (JSC 10410-2023)",
    ),
    rule(
        "egress output without a floor",
        "error",
        "Emergency light on an output without `egress`.",
        "",
    ),
    rule(
        "egress light goes too early",
        "error",
        "Time delay and run-on of an egress output below 15 minutes.",
        "NFPA 101 7.8.1.2.2",
    ),
    rule(
        "egress output without an emergency link",
        "warning",
        "Nothing brings an egress output to full when normal power fails.",
        "NEC 700.24",
    ),
    rule(
        "egress light without the fire alarm",
        "caution",
        "Motion-controlled egress light that the fire alarm does not start.",
        "NFPA 101 7.8.1.2.2",
    ),
    rule(
        "egress floor above the high trim",
        "error",
        "A floor that the output cannot show.",
        "",
    ),
    rule(
        "frames slower than the source",
        "warning",
        "Delay and jitter not below a sensor's dead time or a button's edge gap, so that two frames may be on their way at once.",
        "",
    ),
    rule(
        "source without reports",
        "warning",
        "A source that something listens to and that never reports its state: if it dies, if its frame is lost, or after a cut of the controller, nobody ever knows.",
        "",
    ),
    rule(
        "button of several controllers",
        "warning",
        "A single button that works outputs of more than one controller: each decides alone, from how its own outputs stand, so they may fall out of step.",
        "",
    ),
    rule(
        "loop never calibrated",
        "warning",
        "A daylight sensor without readings, which does not limit.",
        "",
    ),
    rule(
        "open loop that sees its own lamps",
        "warning",
        "An open loop whose sensor sees the light that it limits.",
        "acceptance form NRCA-LTI-03-A",
    ),
    rule(
        "daylight sensor that sees nothing",
        "warning",
        "A daylight sensor on which no light falls.",
        "",
    ),
    rule(
        "contact without a meaning",
        "warning",
        "A dry contact without `closed-means`.",
        "",
    ),
    rule(
        "without effect",
        "warning",
        "A key or a link that can never do anything: `off-after` without a setback, a sweep of a clock without `sweeps`, a shed of a relay that may not go off.",
        "",
    ),
    rule(
        "outside the room",
        "error",
        "A position outside `size`.",
        "",
    ),
    rule(
        "sensor close to an air outlet",
        "caution",
        "An occupancy sensor less than 4 ft from a diffuser.",
        "acceptance form NRCA-LTI-02-A, 2013/2016",
    ),
    rule(
        "time delay above the code's",
        "caution",
        "Time delay, run-on and warning together above the limit of `energy-code`.",
        CODE,
    ),
    rule(
        "turns on above the code's level",
        "caution",
        "Automatic on above 50 % where the code asks for less.",
        "IECC C405.2.1.1",
    ),
    rule(
        "setback above the code's",
        "caution",
        "A setback above what the code allows in an open office, a corridor or a warehouse.",
        CODE,
    ),
    rule(
        "override above the code's",
        "caution",
        "An override of a sweep above 2 h.",
        CODE,
    ),
    rule(
        "clock reserve below the code's",
        "caution",
        "A clock that keeps time less than 10 h without power.",
        "IECC as adopted in Washington State",
    ),
    rule(
        "no manual off",
        "caution",
        "Lights of an office, a classroom or a conference room without a switch.",
        CODE,
    ),
    rule(
        "unusual partial-on",
        "caution",
        "Partial-on below 30 % or above 70 %.",
        "California acceptance form; else common practice",
    ),
];

/// The rules as a table for the README.
#[must_use]
pub fn rules_reference() -> String {
    let mut text = String::from("| rule | finding | looks for | limit from |\n|---|---|---|---|\n");
    for rule in RULES {
        let _ = writeln!(
            text,
            "| {} | {} | {} | {} |",
            rule.name, rule.severity, rule.says, rule.source
        );
    }
    text
}

const COMMON: &str = "common practice";
const CODE: &str = "the edition named in the finding";

const fn rule(
    name: &'static str,
    severity: &'static str,
    says: &'static str,
    source: &'static str,
) -> Rule {
    Rule {
        name,
        severity,
        says,
        source,
    }
}
