//! The levels at which anything of a plan is told apart from just above or below it.

use clause::Formula;
use device::Level;
use device::controller::{Role, Warning};
use room::Plan;

use super::cone::sees_light;
use crate::model::Levels;

/// The levels of a plan and of some formulas over it: off and full; trims and floors; presets,
/// welcomes, openings, scenes, setbacks and warning levels; what a shed makes of the high trim,
/// and half of each level where that may be more (OUT-14); and, as borders, each level at which a
/// comparison of a formula changes its answer.
///
/// Without `moves`, for formulas that do not see that a level moves, presets and what a shed leaves
/// are left out, unless one of them may be halved or a sensor sees how bright it is. What is asked
/// for and what shows is only ever compared with off, full, trims and floors (OUT-1, SW-2), and
/// apart from that the lower or the higher of two levels is taken, which any mapping that keeps the
/// order goes along with. So between two levels that are told apart it makes no difference where a
/// preset stands or a shed ends: whatever fades there stays there, and no comparison of a formula
/// sees it.
#[must_use]
pub fn levels(plan: &Plan, formulas: &[&Formula], moves: bool) -> Levels {
    let mut levels = vec![Level::OFF, Level::FULL];
    let mut presets = Vec::new();
    let mut halves = false;
    for controller in &plan.controllers {
        for output in &controller.settings.outputs {
            levels.extend([output.low_trim, output.high_trim]);
            levels.extend(output.floor);
            if let Some(Warning::Dim { level, .. }) = output.warning {
                presets.push(level);
            }
        }
        // Nobody teaches a link meanwhile, so one that is not stored acts on nothing.
        for link in controller.settings.links.iter().filter(|it| it.stored) {
            presets.extend(link.setback);
            match &link.role {
                Role::AutoOn(level)
                | Role::PartialOn(level)
                | Role::Scene(_, level)
                | Role::Card(level)
                | Role::Opening(level) => presets.push(*level),
                // A sweep warns at half where the output does not warn by itself (CLK-2).
                Role::Sweep { .. } => presets.push(Level::from_percent(50)),
                Role::Shed => {
                    let output = &controller.settings.outputs[usize::from(link.output)];
                    let to = output.shed_to();
                    let most = output
                        .high_trim
                        .max(output.low_trim)
                        .max(output.floor.unwrap_or(Level::OFF));
                    presets.extend(to);
                    halves |= to.is_some_and(|to| most.hundredths() / 2 > to.hundredths());
                }
                _ => {}
            }
        }
    }
    let seen = plan.sources.iter();
    let is_seen = seen
        .filter(|it| sees_light(&it.settings))
        .any(|it| !it.light.electric.is_empty());
    if moves || halves || is_seen {
        levels.extend(presets);
    }
    if halves {
        let halves = levels
            .iter()
            .map(|level| Level::from_hundredths(level.hundredths() / 2));
        let halves: Vec<Level> = halves.collect();
        levels.extend(halves);
    }
    let outputs = (0..).zip(&plan.outputs).map(|(output, _)| output);
    let watched = |output| {
        formulas
            .iter()
            .flat_map(move |it| it.watched_levels(output))
    };
    let borders = outputs.flat_map(watched).map(|(_, level)| level);
    Levels::new(levels, borders.collect())
}
