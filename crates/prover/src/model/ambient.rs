//! Sensors of occupancy that hold off by a light nobody knows (OCC-9).
//!
//! In an over-approximation a level on its way stands for a whole stretch of levels, on which such
//! a sensor may change its mind. So one that sees lamps that dim may see any light: as much as
//! makes it hold off, so little that it no longer does, and what lies between.

use device::Illuminance;
use room::{Input, LightModel, Origin, OutputId, SourceId, SourceSettings, Stimulus};

use super::Model;
use super::instant::Instant;
use super::question::{Question, Rigor};

/// A sensor that may see any light.
#[derive(Clone, Copy, Debug)]
pub(super) struct Unsure {
    source: SourceId,
    /// Beyond this it holds off.
    limit: Illuminance,
}

/// The sensors of an over-approximation that may see any light; from now on each sees what is said
/// to be outside, and nothing else.
pub(super) fn unsure(question: &mut Question) -> Vec<Unsure> {
    if question.rigor == Rigor::Exact {
        return Vec::new();
    }
    let plan = std::sync::Arc::make_mut(&mut question.plan);
    let (outputs, controllers) = (&plan.outputs, &plan.controllers);
    let dims = |id: OutputId| {
        let at = &outputs[usize::from(id.0)];
        let settings = &controllers[usize::from(at.controller.0)].settings;
        settings.outputs[usize::from(at.local)].drive.dims()
    };
    let mut all = Vec::new();
    for (source, it) in (0..).map(SourceId).zip(&mut plan.sources) {
        if let SourceSettings::Occupancy(settings) = &it.settings
            && let Some(limit) = settings.hold_off
            && it.light.electric.iter().any(|(output, _)| dims(*output))
        {
            it.light = LightModel {
                daylight: LightModel::WHOLE,
                electric: Vec::new(),
            };
            all.push(Unsure { source, limit });
        }
    }
    all
}

impl Model {
    /// The light that a sensor may see as this happens: one of each kind that it tells apart.
    pub(super) fn lights(&self, input: &Input) -> Option<[Illuminance; 3]> {
        let Input::Stimulus(source, Stimulus::Motion) = input else {
            return None;
        };
        let unsure = self.ambient.iter().find(|it| it.source == *source)?;
        let most = Illuminance::from_hundredths(u32::MAX);
        Some([Illuminance::default(), unsure.limit, most])
    }

    /// Lets the room take an input while this light is outside.
    pub(super) fn handle_in(
        &self,
        light: Illuminance,
        mut moment: Instant,
        origin: Origin,
        input: &Input,
    ) -> Vec<Instant> {
        let outside = self.question.plan.daylight;
        moment.state.room.pretend_daylight(light);
        let mut after = self.handle_known(moment, origin, input.clone());
        for moment in &mut after {
            moment.state.room.pretend_daylight(outside);
        }
        after
    }
}
