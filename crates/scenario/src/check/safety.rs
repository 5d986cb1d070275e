//! Egress outputs: their floor, their time and what brings them to full.

use device::{Level, Span};

use super::Checked;
use crate::Diagnostic;
use crate::room_file::Tie;

pub(super) fn check(checked: &Checked<'_>, findings: &mut Vec<Diagnostic>) {
    for (number, thing, output) in checked.outputs() {
        let emergency = |tie: &&Tie| tie.role_word == "emergency";
        let Some(floor) = output.floor else {
            if let Some(tie) = checked.ties_of(number).find(emergency) {
                findings.push(
                    Diagnostic::error(
                        "egress output without a floor",
                        tie.place,
                        format!("`{}` is emergency light and has no floor", thing.name),
                        "give the output egress = { floor = \"10 %\" }",
                    )
                    .related(thing.place, "this output"),
                );
            }
            continue;
        };
        let place = thing.section.place_of("egress");
        egress_time(checked, number, findings);
        if !heard(checked, number, "normal power") {
            findings.push(Diagnostic::warning(
                "egress output without an emergency link",
                place,
                format!(
                    "nothing brings `{}` to full when normal power fails",
                    thing.name
                ),
                "add a source of kind \"normal power\" and link it",
            ));
        }
        if floor > output.high_trim {
            findings.push(Diagnostic::error(
                "egress floor above the high trim",
                place,
                format!(
                    "the floor ({floor}) is above the high trim ({})",
                    output.high_trim
                ),
                "raise the high trim, or lower the floor",
            ));
        }
        if !output.drive.dims() && floor != Level::FULL {
            findings.push(Diagnostic::warning(
                "level on a drive that cannot dim",
                place,
                format!(
                    "`{}` is only on or off: with a floor of {floor} it is always on",
                    thing.name
                ),
                "write floor = \"100 %\", or dim it",
            ));
        }
        fire_alarm(checked, number, findings);
    }
}

/// NFPA 101 7.8.1.2.2: timers of motion-controlled egress light run at least 15 minutes.
fn egress_time(checked: &Checked<'_>, number: usize, findings: &mut Vec<Diagnostic>) {
    let thing = &checked.room.model.outputs[number];
    for tie in checked.ties_of(number) {
        let source = checked.source(tie);
        if source.section.word("kind") != Some("occupancy") {
            continue;
        }
        let delay = source.section.span("time-delay").unwrap_or(Span::ZERO);
        let whole = delay.plus(tie.run_on);
        if whole < Span::from_minutes(15) {
            findings.push(
                Diagnostic::error(
                    "egress light goes too early",
                    tie.place,
                    format!(
                        "`{}` falls {whole} after the last motion at `{}`",
                        thing.name, source.name
                    ),
                    "time delay and run-on together are at least 15 min (NFPA 101 7.8.1.2.2)",
                )
                .related(
                    source.section.place_of("time-delay"),
                    format!("the delay: {delay}"),
                ),
            );
        }
    }
}

fn fire_alarm(checked: &Checked<'_>, number: usize, findings: &mut Vec<Diagnostic>) {
    let thing = &checked.room.model.outputs[number];
    if heard(checked, number, "occupancy") && !heard(checked, number, "fire alarm") {
        findings.push(Diagnostic::caution(
            "egress light without the fire alarm",
            thing.section.place_of("egress"),
            format!("the fire alarm does not bring `{}` to full", thing.name),
            "motion-controlled egress light is started by the fire alarm too (NFPA 101 7.8.1.2.2): \
             add a source of kind \"fire alarm\" and link it",
        ));
    }
}

/// Whether an output is linked to a source of this kind.
fn heard(checked: &Checked<'_>, output: usize, kind: &str) -> bool {
    let mut ties = checked.ties_of(output);
    ties.any(|tie| checked.source(tie).section.word("kind") == Some(kind))
}
