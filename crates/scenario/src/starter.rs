//! Commented starter rooms for `roomrig new`.
//!
//! Invariant: each passes its checks without a finding, its scenario holds, and the scenario
//! puts every clause to the test.

/// A file of a starter room.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub struct StarterFile {
    /// Its name in the room's folder.
    pub name: &'static str,
    /// What stands in it.
    pub text: &'static str,
}

/// The starter rooms, by name; the first is for whoever names none.
pub const STARTERS: [(&str, &[StarterFile]); 2] = [
    (
        "office",
        &[
            StarterFile {
                name: "room.toml",
                text: include_str!("starter/office/room.toml"),
            },
            StarterFile {
                name: "sequence.toml",
                text: include_str!("starter/office/sequence.toml"),
            },
            StarterFile {
                name: "a-day-at-the-desk.toml",
                text: include_str!("starter/office/a-day-at-the-desk.toml"),
            },
        ],
    ),
    (
        "guest-room",
        &[
            StarterFile {
                name: "room.toml",
                text: include_str!("starter/guest-room/room.toml"),
            },
            StarterFile {
                name: "sequence.toml",
                text: include_str!("starter/guest-room/sequence.toml"),
            },
            StarterFile {
                name: "a-night.toml",
                text: include_str!("starter/guest-room/a-night.toml"),
            },
        ],
    ),
];

/// The files of the starter room with this name.
#[must_use]
pub fn starter(name: &str) -> Option<&'static [StarterFile]> {
    let found = STARTERS.iter().find(|(known, _)| *known == name);
    found.map(|(_, files)| *files)
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;
    use crate::Sources;
    use crate::challenge::Baseline;
    use crate::check::check;
    use crate::room_file::read_room;
    use crate::run::{Verdict, run};
    use crate::script::load;

    #[test]
    fn every_starter_is_checked_without_a_finding_and_holds_with_every_clause_tested() {
        for (name, files) in STARTERS {
            let mut sources = Sources::new();
            let ids: Vec<_> = files
                .iter()
                .map(|file| sources.add(file.name, file.text))
                .collect();
            let (room, mut diagnostics) = read_room(&sources, ids[0], Some(ids[1]), None);
            let room = room.unwrap_or_else(|| panic!("{name}: {diagnostics:#?}"));
            diagnostics.extend(check(&room));
            assert_eq!(diagnostics, [], "{name}");
            let loaded = load(&mut sources, ids[2], &room);
            let all: Vec<String> = loaded
                .diagnostics
                .iter()
                .map(|d| d.render(&sources, false))
                .collect();
            assert!(all.is_empty(), "{name}: {}", all.join("\n"));
            let outcome = run(&Arc::new(loaded.scripts[0].clone()), 0);
            let failed = outcome.checks.iter().filter(|check| !check.as_expected);
            assert_eq!(failed.count(), 0, "{name}");
            assert_eq!(outcome.verdict, Verdict::Held, "{name}");
            for (clause, fared) in room.plan.clauses.iter().zip(&outcome.clauses) {
                let tested = fared.verdict != clause::Verdict::NeverExercised;
                assert!(tested, "{name}: {}", clause.id);
            }
            let scripts: Vec<_> = loaded.scripts.into_iter().map(Arc::new).collect();
            let baseline = Baseline::of(&scripts, 0);
            let faults = baseline.faults();
            let challenges = faults.iter().map(|fault| baseline.challenge(fault));
            let matrix = baseline.matrix(challenges.collect());
            assert_eq!(matrix.idle_clauses().collect::<Vec<_>>(), [""; 0], "{name}");
            assert_eq!(matrix.twins(), [], "{name}");
        }
    }
}
