//! Positions: inside the room, and no motion sensor close to an air outlet.

use super::Checked;
use crate::room_file::position;
use crate::{Diagnostic, Place};

pub(super) fn check(checked: &Checked<'_>, findings: &mut Vec<Diagnostic>) {
    let model = &checked.room.model;
    let positioned = [&model.outputs, &model.sources, &model.places];
    for (number, part) in model.parts.iter().enumerate() {
        if part.root.table.key("size").is_none() {
            continue;
        }
        let mut spots: Vec<(&str, (u64, u64), Place, bool)> = Vec::new();
        for thing in positioned
            .into_iter()
            .flatten()
            .filter(|thing| thing.part == number)
        {
            if let Some((at, place)) = position(&thing.section) {
                let sensor = thing.section.table.key("kind").is_some()
                    && thing.section.word("kind") == Some("occupancy");
                spots.push((&thing.name, at, place, sensor));
            }
        }
        let outlets = part.root.named("diffusers");
        let outlets: Vec<(&str, (u64, u64), Place)> = outlets
            .iter()
            .filter_map(|outlet| {
                let (at, place) = position(&outlet.section)?;
                Some((outlet.name.value.as_str(), at, place))
            })
            .collect();
        if let Some(size) = part.root.table("size") {
            let width = size.length("width").map_or(u64::MAX, |length| length.0);
            let depth = size.length("depth").map_or(u64::MAX, |length| length.0);
            let all = spots
                .iter()
                .map(|(name, at, place, _)| (*name, *at, *place));
            for (name, at, place) in all.chain(outlets.iter().copied()) {
                if at.0 > width || at.1 > depth {
                    findings.push(
                        Diagnostic::error(
                            "outside the room",
                            place,
                            format!("`{name}` stands outside the room"),
                            "positions count from the front left corner: right, then back",
                        )
                        .related(size.place, "the size of the room"),
                    );
                }
            }
        }
        for (name, at, place, _) in spots.iter().filter(|spot| spot.3) {
            for (outlet, other, other_place) in &outlets {
                if squared(*at, *other) < FOUR_FEET * FOUR_FEET {
                    findings.push(
                        Diagnostic::caution(
                            "sensor close to an air outlet",
                            *place,
                            format!("`{name}` is less than 4 ft from `{outlet}`"),
                            "moving air is taken for motion: keep 4 ft (acceptance form \
                             NRCA-LTI-02-A, 2013/2016)",
                        )
                        .related(*other_place, "the outlet"),
                    );
                }
            }
        }
    }
}

/// Four feet in millimetres, rounded down so that exactly 4 ft pass.
const FOUR_FEET: u64 = 1_219;

fn squared(a: (u64, u64), b: (u64, u64)) -> u64 {
    let (right, back) = (a.0.abs_diff(b.0), a.1.abs_diff(b.1));
    right
        .saturating_mul(right)
        .saturating_add(back.saturating_mul(back))
}
