//! A room as scenarios meet it.

use super::RoomFile;
use crate::script::Stage;

impl RoomFile {
    /// The room as scenarios meet it. Rows speak of its full names.
    #[must_use]
    pub fn stage(&self) -> Stage {
        let room = self.clone();
        let load = |thing: &super::Thing| {
            let own = thing.section.power("load")?.0;
            let downstream = thing
                .section
                .given("downstream")
                .and_then(|_| thing.section.power("downstream"));
            Some(own + downstream.map_or(0, |power| power.0))
        };
        Stage {
            plan: self.plan.clone(),
            prefix: String::new(),
            zone: self.zone.clone(),
            calendars: self.calendars.clone(),
            groups: self.groups.clone(),
            places: self.places.clone(),
            notices: self.notices.clone(),
            people: self.people.clone(),
            quality: self.quality.clone(),
            loads: self.model.outputs.iter().map(load).collect(),
            change: Box::new(move |changes| {
                let mut room = room.clone();
                for change in changes {
                    room = room.changed(&change.point, &change.key, &change.value)?;
                }
                Ok(room.plan)
            }),
        }
    }
}
