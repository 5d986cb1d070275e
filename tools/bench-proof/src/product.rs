//! The product on the same room, with its own devices, in dense time.
//!
//! Dead times, edge gaps, reports, repeats, fades and the press hold are off, as the steps have
//! none; what is left of a press is that it is a press and a release, at most half a second
//! apart. So the clause has a second more: in the midst of a press the lights wait for it.

use std::fmt::Write as _;
use std::sync::atomic::AtomicBool;

use proof::{Budget, Observer, Terms, Verdict};
use scenario::Sources;
use scenario::room_file::{RoomFile, read_room};

use crate::child::Found;
use crate::steps::{Asked, DELAY, Room, WINDOW};

/// Proves the clause of the room.
pub(crate) fn prove(room: Room) -> Result<Found, String> {
    let file = read(room)?;
    let stop = AtomicBool::new(false);
    let budget = Budget {
        bytes: 5 << 30,
        classes: usize::MAX,
        transitions: u64::MAX,
        ..Budget::default()
    };
    let answers = proof::prove(&file, &[0], &Terms::default(), budget, &Deaf, &stop);
    let [answer] = &answers[..] else {
        return Err("one clause has one answer".to_owned());
    };
    let holds = match &answer.verdict {
        Verdict::Proved(_) => true,
        Verdict::Broken(_) => false,
        other => return Err(format!("{} sensors: {other:?}", room.sensors)),
    };
    Ok(Found {
        by: format!("{:?}", answer.effort.how).to_lowercase(),
        steps: answer.effort.transitions,
        bytes: answer.effort.bytes as u64,
        ..Found::states(holds, answer.effort.classes as u64)
    })
}

fn read(room: Room) -> Result<RoomFile, String> {
    let mut sources = Sources::new();
    let file = sources.add("room.toml", devices(room.sensors));
    let sequence = sources.add("sequence.toml", clause(room));
    let (read, found) = read_room(&sources, file, Some(sequence), None);
    let said = || found.iter().map(|it| it.render(&sources, false));
    read.ok_or_else(|| said().collect::<Vec<_>>().join("\n"))
}

fn devices(sensors: usize) -> String {
    let mut text = String::from(
        "name = \"Room\"\nreaction = \"0 s\"\n[bus]\ndelay = \"0 s\"\n\
         [outputs.lights]\ndrive = \"0-10 V\"\nfade-on = \"0 s\"\nfade-off = \"0 s\"\n\
         press-hold = \"none\"\n\
         [outputs.receptacle]\ndrive = \"receptacle\"\n\
         [sources.button]\nkind = \"switch\"\nbuttons = \"single\"\nedge-gap = \"0 s\"\n\
         [[links]]\nfrom = \"button\"\nto = \"lights\"\n",
    );
    for eye in 1..=sensors {
        let _ = writeln!(
            text,
            "[sources.eye-{eye}]\nkind = \"occupancy\"\nsenses = [\"motion\", \"sound\"]\n\
             time-delay = \"{DELAY} min\"\nsound-window = \"{WINDOW} min\"\ndead-time = \"0 s\"\n\
             report-every = \"never\"\nrepeat = \"never\"\n\
             [[links]]\nfrom = \"eye-{eye}\"\nto = \"lights\"\nrole = \"partial-on\"\n\
             [[links]]\nfrom = \"eye-{eye}\"\nto = \"receptacle\"\nrole = \"auto-on\""
        );
    }
    text
}

fn clause(room: Room) -> String {
    let list = |text: &str, joint: &str| {
        let each = (1..=room.sensors).map(|eye| text.replace('#', &eye.to_string()));
        each.collect::<Vec<_>>().join(joint)
    };
    let moved = list("motion at eye-#", " or ");
    let vacant = list("eye-# is vacant", " and ");
    let quiet = u32::from(room.quiet()) * room.minutes * 60 + 1;
    let mut text = format!(
        "[[clauses]]\nid = \"B\"\nsays = \"Dark 75 minutes after the last motion.\"\n\
         never = \"(no ({moved}) for {quiet} s) and lights is on\"\n"
    );
    if room.asked != Asked::Literal {
        let _ = writeln!(text, "unless = \"lights is by hand and {vacant}\"");
    }
    text.push_str(
        "[[clauses]]\nid = \"taps\"\nsays = \"Buttons are tapped.\"\nassume = true\n\
         never = \"button hold\"\n",
    );
    text
}

struct Deaf;

impl Observer for Deaf {}
