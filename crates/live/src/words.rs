//! The words for what devices say about themselves, as nodes write them.
//!
//! They are the words of an exported trace: the name of the note in kebab case, and one value
//! where it carries one.
//!
//! Invariant: what is written is read back as it was.

use device::{Fault, Ignored, Illuminance, Level, Note, Span};

use crate::value::Value;

/// Words for every value of a type, written once for both ways.
macro_rules! words {
    ($to:ident, $from:ident, $Type:ident: $($Variant:ident = $word:literal,)+) => {
        const fn $to(value: $Type) -> &'static str {
            match value {
                $($Type::$Variant => $word,)+
            }
        }

        fn $from(word: &str) -> Option<$Type> {
            Some(match word {
                $($word => $Type::$Variant,)+
                _ => return None,
            })
        }
    };
}

words! { ignored, ignored_of, Ignored:
    NoPower = "no-power",
    WarmingUp = "warming-up",
    DeadTime = "dead-time",
    SoundWhileVacant = "sound-while-vacant",
    WindowClosed = "window-closed",
    NoMicrophone = "no-microphone",
    NotTaught = "not-taught",
    ManualOn = "manual-on",
    Latch = "latch",
    ByHand = "by-hand",
    NotHigher = "not-higher",
    Bright = "bright",
    Captive = "captive",
    AfterHours = "after-hours",
    SweptOff = "swept-off",
    LoneUp = "lone-up",
    OwnedByOther = "owned-by-other",
    OnlyRestored = "only-restored",
    AlreadyOff = "already-off",
    AtLimit = "at-limit",
    StillOccupied = "still-occupied",
    StillUnknown = "still-unknown",
    WrongCard = "wrong-card",
    ShedNotForRelays = "shed-not-for-relays",
    TimeLost = "time-lost",
    TableFull = "table-full",
    NotLearning = "not-learning",
    SameWindow = "same-window",
    NoChange = "no-change",
    NotCalibrated = "not-calibrated",
    DeadBand = "dead-band",
}

words! { fault, fault_of, Fault:
    Lost = "lost",
    StuckRelay = "stuck-relay",
    WrongCard = "wrong-card",
    TimeLost = "time-lost",
    TableFull = "table-full",
    NotCalibrated = "not-calibrated",
    TeachInRefused = "teach-in-refused",
    NodeGone = "node-gone",
    NodeSilent = "node-silent",
    NodeFloods = "node-floods",
    NodeRubbish = "node-rubbish",
    NodeVersion = "node-version",
    NodeDiffers = "node-differs",
}

/// The word for a fault.
#[must_use]
pub(crate) const fn fault_word(it: Fault) -> &'static str {
    fault(it)
}

/// The word of a note and the value it carries.
pub(crate) fn of_note(note: Note) -> (&'static str, Option<Value>) {
    let span = |span: Span| Some(Value::Number(span.as_ms()));
    let level = |level: Level| Some(Value::Number(level.hundredths().into()));
    let flag = |on: bool| Some(Value::Flag(on));
    let word = |word: &str| Some(Value::Text(word.to_owned()));
    match note {
        Note::Occupied => ("occupied", None),
        Note::Vacant => ("vacant", None),
        Note::WarmingUp(it) => ("warming-up", span(it)),
        Note::Unknown => ("unknown", None),
        Note::WindowOpened => ("window-opened", None),
        Note::WindowClosed => ("window-closed", None),
        Note::WalkTest(on) => ("walk-test", flag(on)),
        Note::Tapped(button) => ("tapped", Some(Value::Number(button.into()))),
        Note::Held(button) => ("held", Some(Value::Number(button.into()))),
        Note::RampEnded(it) => ("ramp-ended", level(it)),
        Note::TurnedOn(it) => ("turned-on", level(it)),
        Note::TurnedOff => ("turned-off", None),
        Note::SetBack(it) => ("set-back", level(it)),
        Note::Warning(it) => ("warning", span(it)),
        Note::Restored(it) => ("restored", level(it)),
        Note::Asked(it) => ("asked", level(it)),
        Note::RampStarted(it) => ("ramp-started", level(it)),
        Note::Fade(it) => ("fade", level(it)),
        Note::Target(it) => ("target", level(it)),
        Note::OutputOccupied => ("output-occupied", None),
        Note::OutputVacant => ("output-vacant", None),
        Note::Latched => ("latched", None),
        Note::Unlatched => ("unlatched", None),
        Note::Limit(it) => ("limit", level(it)),
        Note::Measured(seen) => ("measured", Some(Value::Number(seen.hundredths().into()))),
        Note::DarkByDaylight => ("dark-by-daylight", None),
        Note::BackFromDaylight => ("back-from-daylight", None),
        Note::Relay(on) => ("relay", flag(on)),
        Note::Emergency(on) => ("emergency", flag(on)),
        Note::Shed(on) => ("shed", flag(on)),
        Note::Waits(on) => ("waits", flag(on)),
        Note::PassedOver => ("passed-over", None),
        Note::Override(it) => ("override", span(it)),
        Note::Learning(on) => ("learning", flag(on)),
        Note::Taught(on) => ("taught", flag(on)),
        Note::Ignored(why) => ("ignored", word(ignored(why))),
        Note::Fault(what) => ("fault", word(fault(what))),
        Note::FaultEnded(what) => ("fault-ended", word(fault(what))),
        Note::Power(on) => ("power", flag(on)),
        Note::SettingChanged => ("setting-changed", None),
    }
}

/// The note of a word and the value it carries.
pub(crate) fn note(word: &str, carried: Option<&Value>) -> Option<Note> {
    let plain = match word {
        "occupied" => Note::Occupied,
        "vacant" => Note::Vacant,
        "unknown" => Note::Unknown,
        "window-opened" => Note::WindowOpened,
        "window-closed" => Note::WindowClosed,
        "turned-off" => Note::TurnedOff,
        "output-occupied" => Note::OutputOccupied,
        "output-vacant" => Note::OutputVacant,
        "latched" => Note::Latched,
        "unlatched" => Note::Unlatched,
        "dark-by-daylight" => Note::DarkByDaylight,
        "back-from-daylight" => Note::BackFromDaylight,
        "passed-over" => Note::PassedOver,
        "setting-changed" => Note::SettingChanged,
        _ => return loaded_note(word, carried?),
    };
    carried.is_none().then_some(plain)
}

fn loaded_note(word: &str, carried: &Value) -> Option<Note> {
    let span = || carried.number().map(Span::from_ms);
    let flag = || carried.flag();
    let button = || u8::try_from(carried.number()?).ok();
    let level = || {
        let hundredths = u16::try_from(carried.number()?).ok();
        hundredths
            .filter(|&it| it <= 10_000)
            .map(Level::from_hundredths)
    };
    let seen = || {
        let hundredths = u32::try_from(carried.number()?).ok()?;
        Some(Illuminance::from_hundredths(hundredths))
    };
    match word {
        "warming-up" => span().map(Note::WarmingUp),
        "warning" => span().map(Note::Warning),
        "override" => span().map(Note::Override),
        "tapped" => button().map(Note::Tapped),
        "held" => button().map(Note::Held),
        "ramp-ended" => level().map(Note::RampEnded),
        "turned-on" => level().map(Note::TurnedOn),
        "set-back" => level().map(Note::SetBack),
        "restored" => level().map(Note::Restored),
        "asked" => level().map(Note::Asked),
        "ramp-started" => level().map(Note::RampStarted),
        "fade" => level().map(Note::Fade),
        "target" => level().map(Note::Target),
        "limit" => level().map(Note::Limit),
        "measured" => seen().map(Note::Measured),
        "walk-test" => flag().map(Note::WalkTest),
        "relay" => flag().map(Note::Relay),
        "emergency" => flag().map(Note::Emergency),
        "shed" => flag().map(Note::Shed),
        "waits" => flag().map(Note::Waits),
        "learning" => flag().map(Note::Learning),
        "taught" => flag().map(Note::Taught),
        "power" => flag().map(Note::Power),
        "ignored" => ignored_of(carried.text()?).map(Note::Ignored),
        "fault" => fault_of(carried.text()?).map(Note::Fault),
        "fault-ended" => fault_of(carried.text()?).map(Note::FaultEnded),
        _ => None,
    }
}
