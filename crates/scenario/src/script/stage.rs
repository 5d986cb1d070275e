//! The room as a scenario meets it.

use std::collections::BTreeMap;
use std::fmt;

use room::{ControllerId, OutputId, Plan, SourceId};
use sim::Quality;

use super::calendar::Calendar;
use super::people::NoticeTable;
use crate::words::WordError;

/// The room as a scenario meets it: its plan, and what surrounds the plan.
pub struct Stage {
    /// What stands in the room, with the clauses that are monitored.
    pub plan: Plan,
    /// What names of the room begin with on a site: empty, or `office-112/`.
    pub prefix: String,
    /// The time zone of the site, by its name in the bundled database.
    pub zone: String,
    /// The calendars of its time clocks.
    pub calendars: BTreeMap<SourceId, Calendar>,
    /// Names that stand for several outputs: groups, relays, all copies of one.
    pub groups: BTreeMap<String, Vec<OutputId>>,
    /// Its places.
    pub places: Vec<String>,
    /// What sensors notice at its places.
    pub notices: NoticeTable,
    /// Its people and where they sit.
    pub people: BTreeMap<String, Option<String>>,
    /// How well frames travel, where that is not the default.
    pub quality: BTreeMap<(SourceId, ControllerId), Quality>,
    /// The load of each output at full, in milliwatts.
    pub loads: Vec<Option<u64>>,
    /// The plan after settings were changed on site, each as point, key and value in the order
    /// of the changes; the error is about the last of them.
    pub change: ChangeSettings,
}

/// Makes the plan after settings were changed on site.
pub type ChangeSettings = Box<dyn Fn(&[SettingChange]) -> Result<Plan, ChangeError> + Send + Sync>;

/// A setting that is changed on site.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct SettingChange {
    /// The point as the row names it.
    pub point: String,
    /// The key, as in room.toml.
    pub key: String,
    /// The value, as written.
    pub value: String,
}

/// Why a setting cannot be changed.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct ChangeError {
    /// Whether the key is wrong, and not the value.
    pub key: bool,
    /// What is wrong, within the key or the value.
    pub error: WordError,
}

impl fmt::Debug for Stage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Stage")
            .field("plan", &self.plan)
            .field("zone", &self.zone)
            .finish_non_exhaustive()
    }
}

impl Stage {
    /// How well frames travel from `source` to `listener`.
    #[must_use]
    pub fn quality(&self, source: SourceId, listener: ControllerId) -> Quality {
        self.quality
            .get(&(source, listener))
            .copied()
            .unwrap_or_default()
    }
}
