//! Which settings of a room do nothing.

mod annex;

use std::sync::atomic::AtomicBool;

use proof::settings::{Does, settings};
use proof::{Bound, Budget, Terms};
use scenario::Sources;
use scenario::room_file::{RoomFile, read_room};

/// A lamp that only hands turn on and off, and one for which a sensor is there as well.
const ROOM: &str = r#"
name = "Room"

[outputs.by-hand]
drive = "relay"
warning = "2 min"
grace = "30 s"
press-hold = "5 min"
off-after = "2 h"

[outputs.lamp]
drive = "0-10 V"
low-trim = "10 %"
fade-off = "2 s"
grace = "20 s"

[sources.pad]
kind = "switch"

[sources.eye]
kind = "occupancy"
senses = ["motion"]
time-delay = "10 min"
sound-grace = "10 s"
report-every = "10 min"

[sources.spare]
kind = "occupancy"
time-delay = "5 min"

[[links]]
from = "pad"
to = ["by-hand", "lamp"]

[[links]]
from = "eye"
to = "lamp"
role = "auto-on"
run-on = "1 min"
"#;

fn room(text: &str) -> RoomFile {
    let mut sources = Sources::new();
    let file = sources.add("room.toml", text);
    let (room, wrong) = read_room(&sources, file, None, None);
    let wrong: Vec<String> = wrong.iter().map(|it| it.render(&sources, false)).collect();
    room.unwrap_or_else(|| panic!("{}", wrong.join("\n")))
}

/// What each setting does, by `point key`.
fn asked(text: &str, budget: Budget, terms: &Terms) -> Vec<(String, Does)> {
    let stop = AtomicBool::new(false);
    let all = settings(&room(text), terms, budget, &stop);
    let named = all
        .into_iter()
        .map(|it| (format!("{} {}", it.point, it.key), it.does));
    named.collect()
}

#[track_caller]
fn of<'a>(all: &'a [(String, Does)], name: &str) -> &'a Does {
    let found = all.iter().find(|(it, _)| it == name);
    &found.unwrap_or_else(|| panic!("no {name}")).1
}

#[test]
fn what_nothing_reads_has_no_effect_and_what_is_read_may_have() {
    let all = asked(ROOM, Budget::default(), &Terms::default());
    // No link to it has a setback; it has no ear for sound; nothing is linked to it.
    for dead in ["by-hand off-after", "eye sound-grace", "spare time-delay"] {
        let does = of(&all, dead);
        assert!(
            matches!(does, Does::Nothing(tried) if tried.len() > 1),
            "{dead}: {does:?}"
        );
    }
    // The end of a press hold is an automatic off (OUT-20), so it warns and has a grace.
    for live in [
        "by-hand warning",
        "by-hand grace",
        "by-hand press-hold",
        "lamp low-trim",
        "lamp fade-off",
        "lamp grace",
        "eye time-delay",
        "eye to lamp run-on",
    ] {
        let does = of(&all, live);
        assert!(matches!(does, Does::Something(_)), "{live}: {does:?}");
    }
    for other in ["eye report-every", "eye to lamp role"] {
        assert!(matches!(of(&all, other), Does::Unasked(_)), "{other}");
    }
    let order: Vec<&str> = all.iter().map(|(name, _)| name.as_str()).collect();
    assert_eq!(
        order[..2],
        ["by-hand warning", "by-hand grace"],
        "as the file has them"
    );
}

/// The same settings do something as soon as something reads them.
#[test]
fn a_setting_comes_to_life_with_what_reads_it() {
    let spare =
        "[[links]]\nfrom = \"spare\"\nto = \"by-hand\"\nrole = \"manual-on\"\nsetback = \"50 %\"\n";
    let heard = ROOM.replace("senses = [\"motion\"]", "senses = [\"motion\", \"sound\"]");
    let all = asked(
        &format!("{heard}{spare}"),
        Budget::default(),
        &Terms::default(),
    );
    for live in ["by-hand off-after", "eye sound-grace", "spare time-delay"] {
        let does = of(&all, live);
        assert!(matches!(does, Does::Something(_)), "{live}: {does:?}");
    }
}

/// Nobody teaches in a proof.
#[test]
fn a_link_that_is_not_stored_has_settings_that_are_not_asked_about() {
    let taught = ROOM.replace("run-on = \"1 min\"", "run-on = \"1 min\"\nstored = false");
    let all = asked(&taught, Budget::default(), &Terms::default());
    let does = of(&all, "eye to lamp run-on");
    assert!(
        matches!(does, Does::Unasked(why) if why.contains("teaches")),
        "{does:?}"
    );
    // Without its sensor the lamp is one that hands turn on and off.
    assert!(matches!(of(&all, "eye time-delay"), Does::Nothing(_)));
}

/// Nothing is said to do nothing that was not looked at to the end.
#[test]
fn a_spent_bound_is_not_known() {
    let few = Budget {
        transitions: 1,
        ..Budget::default()
    };
    let all = asked(ROOM, few, &Terms::default());
    assert_eq!(
        *of(&all, "by-hand off-after"),
        Does::Unknown(Bound::Transitions)
    );
    // Its source is linked to nothing: that needs no search.
    assert!(matches!(of(&all, "spare time-delay"), Does::Nothing(_)));
}

/// Every setting of the annex may do something.
#[test]
fn no_setting_of_the_annex_is_dead() {
    let rooms = [
        "classroom",
        "conference-room",
        "corridor",
        "guest-room",
        "hall",
        "open-office",
        "private-office",
        "three-offices",
        "warehouse",
    ];
    let stop = AtomicBool::new(false);
    let mut live = 0;
    for name in rooms {
        let all = settings(
            &annex::room(name),
            &Terms::default(),
            Budget::default(),
            &stop,
        );
        for it in all {
            let known = matches!(it.does, Does::Something(_) | Does::Unasked(_));
            assert!(known, "{name}: {} {}: {:?}", it.point, it.key, it.does);
            live += usize::from(matches!(it.does, Does::Something(_)));
        }
    }
    assert!(live > 40, "{live}");
}
