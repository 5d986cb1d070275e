//! The levels at which anything of a plan is told apart from just above or below it.

use clause::Formula;
use device::Level;
use device::controller::{Role, Warning};
use room::Plan;

use crate::model::Levels;

/// The levels of a plan and of some formulas over it: off and full; trims, floors, presets,
/// welcomes, openings, scenes, setbacks and warning levels; what a shed makes of the high trim,
/// and half of each level where that may be more (OUT-14); and, as borders, each level at which a
/// comparison of a formula changes its answer.
#[must_use]
pub fn levels(plan: &Plan, formulas: &[&Formula]) -> Levels {
    let mut levels = vec![Level::OFF, Level::FULL];
    let mut halves = false;
    for controller in &plan.controllers {
        for output in &controller.settings.outputs {
            levels.extend([output.low_trim, output.high_trim]);
            levels.extend(output.floor);
            if let Some(Warning::Dim { level, .. }) = output.warning {
                levels.push(level);
            }
        }
        // Nobody teaches a link meanwhile, so one that is not stored acts on nothing.
        for link in controller.settings.links.iter().filter(|it| it.stored) {
            levels.extend(link.setback);
            match &link.role {
                Role::AutoOn(level)
                | Role::PartialOn(level)
                | Role::Scene(_, level)
                | Role::Card(level)
                | Role::Opening(level) => levels.push(*level),
                // A sweep warns at half where the output does not warn by itself (CLK-2).
                Role::Sweep { .. } => levels.push(Level::from_percent(50)),
                Role::Shed => {
                    let output = &controller.settings.outputs[usize::from(link.output)];
                    let to = output.shed_to();
                    let most = output
                        .high_trim
                        .max(output.low_trim)
                        .max(output.floor.unwrap_or(Level::OFF));
                    levels.extend(to);
                    halves |= to.is_some_and(|to| most.hundredths() / 2 > to.hundredths());
                }
                _ => {}
            }
        }
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
