//! What the settings of a room do: a record for each, and the words for it.

use proof::settings::{Does, Setting};
use scenario::diagnostic::all_of;
use serde::{Deserialize, Serialize};

use super::record::bound;
use crate::record::PlaceRecord;
use crate::words::count;

/// What came of asking whether a setting does anything.
#[derive(Clone, Debug, Deserialize, Eq, PartialEq, Serialize)]
pub struct SettingProof {
    /// Whose it is: `desk-lights`, `wall-sensor to desk-lights`.
    pub point: String,
    /// Its key.
    pub key: String,
    /// Where its value stands.
    #[serde(flatten)]
    pub place: PlaceRecord,
    /// What it does.
    pub does: SettingDoes,
    /// The other values that were tried: of one that does something the value with which the
    /// room takes another step.
    #[serde(skip_serializing_if = "Vec::is_empty", default)]
    pub with: Vec<String>,
    /// Why it is not known, or was not asked.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub reason: Option<String>,
}

/// What a setting does.
#[derive(Clone, Copy, Debug, Deserialize, Eq, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum SettingDoes {
    /// With another value the room takes another step in a state that it may come to.
    Something,
    /// It has no effect on any output.
    Nothing,
    /// A bound was hit before anything differed.
    Unknown,
    /// It was not asked.
    Unasked,
}

impl SettingProof {
    /// The record of a setting that stands here.
    #[must_use]
    pub fn of(setting: &Setting, place: PlaceRecord) -> Self {
        let (does, with, reason) = match &setting.does {
            Does::Something(with) => (SettingDoes::Something, vec![with.clone()], None),
            Does::Nothing(with) => (SettingDoes::Nothing, with.clone(), None),
            Does::Unknown(why) => (
                SettingDoes::Unknown,
                Vec::new(),
                Some(bound(*why).to_owned()),
            ),
            Does::Unasked(why) => (SettingDoes::Unasked, Vec::new(), Some((*why).to_owned())),
        };
        Self {
            point: setting.point.clone(),
            key: setting.key.to_owned(),
            place,
            does,
            with,
            reason,
        }
    }

    /// ``off-after` of `lamp` (room.toml:9:13)``.
    fn named(&self) -> String {
        let at = &self.place;
        format!(
            "`{}` of {} ({}:{}:{})",
            self.key, self.point, at.file, at.line, at.column
        )
    }
}

/// What there is to say of the settings of a room, a line each; nothing where nothing was asked.
pub(crate) fn lines(settings: &[SettingProof]) -> Vec<String> {
    let of = |does: SettingDoes| settings.iter().filter(move |it| it.does == does);
    if settings.is_empty() {
        return Vec::new();
    }
    let numbers = [
        (SettingDoes::Something, "may change what the room does"),
        (SettingDoes::Nothing, "without effect"),
        (SettingDoes::Unknown, "not known"),
        (SettingDoes::Unasked, "not asked"),
    ];
    let numbers = numbers.map(|(does, words)| (of(does).count(), words));
    let numbers = numbers.iter().filter(|(number, _)| *number > 0);
    let numbers: Vec<String> = numbers
        .map(|(number, words)| format!("{number} {words}"))
        .collect();
    let mut lines = vec![format!(
        "{}: {}",
        count(settings.len(), "setting", "settings"),
        numbers.join(", ")
    )];
    lines.extend(of(SettingDoes::Nothing).map(|it| {
        format!(
            "{} has no effect on any output: with {} the room takes every step alike",
            it.named(),
            all_of(it.with.iter().map(String::as_str))
        )
    }));
    let reason = |it: &SettingProof| it.reason.clone().unwrap_or_default();
    lines.extend(of(SettingDoes::Unknown).map(|it| {
        let why = reason(it);
        format!("{} is not shown to have an effect: {why}", it.named())
    }));
    let mut reasons: Vec<(String, Vec<String>)> = Vec::new();
    for it in of(SettingDoes::Unasked) {
        let name = format!("`{}` of {}", it.key, it.point);
        match reasons.iter_mut().find(|(why, _)| *why == reason(it)) {
            Some((_, names)) => names.push(name),
            None => reasons.push((reason(it), vec![name])),
        }
    }
    lines.extend(
        reasons
            .iter()
            .map(|(why, names)| format!("not asked, {why}: {}", names.join(", "))),
    );
    lines
}
