//! How the rows of sensors, readers, clocks and frames are seen.

use device::card::Timer as CardTimer;
use device::occupancy::Timer;
use device::{Fault, Ignored, Note, Payload};
use room::{SlotOwner, SourceSettings, Stimulus, Who};
use sim::{Drop, What};

use crate::rows::{Line, Look};

/// The lines of the sources.
pub(crate) const LINES: [Line; 35] = [
    ("OCC-1", "motion occupies", |it| {
        of_source(it, Note::Occupied) && stimulus(it, |it| it == Stimulus::Motion)
    }),
    ("OCC-2", "sound alone does nothing", |it| {
        ignored(it, Ignored::SoundWhileVacant)
    }),
    ("OCC-3", "motion restarts the delay", |it| {
        starts(it, Timer::Delay) && stimulus(it, |it| it == Stimulus::Motion) && !occupies(it)
    }),
    ("OCC-4", "sound restarts the delay", |it| {
        starts(it, Timer::Delay) && stimulus(it, |it| it == Stimulus::Sound) && !occupies(it)
    }),
    ("OCC-5", "sound after the window does nothing", |it| {
        ignored(it, Ignored::WindowClosed)
    }),
    ("OCC-6", "the window closes", |it| {
        of_source(it, Note::WindowClosed) && after(it, Timer::Window)
    }),
    ("OCC-7", "vacant at the end of the delay", |it| {
        of_source(it, Note::Vacant) && after(it, Timer::Delay)
    }),
    ("OCC-8", "the state is reported again", |it| {
        matches!(it.what(), What::Sent(..)) && after(it, Timer::Report)
    }),
    ("OCC-9", "occupied, marked bright", |it| {
        matches!(
            it.what(),
            What::Sent(.., Payload::Occupied { bright: true })
        )
    }),
    ("OCC-10", "power brings a warm-up", |it| {
        it.notes(|note| matches!(note, Note::WarmingUp(_)))
    }),
    ("OCC-10", "unknown when it has warmed up", |it| {
        of_source(it, Note::Unknown) && after(it, Timer::WarmUp)
    }),
    ("OCC-11", "sound brings occupancy back", |it| {
        of_source(it, Note::Occupied) && stimulus(it, |it| it == Stimulus::Sound)
    }),
    ("OCC-12", "the grace ends", |it| {
        of_source(it, Note::WindowClosed) && after(it, Timer::Grace)
    }),
    ("OCC-13", "motion repeats an old report", |it| {
        repeats(it, |bright| !bright)
    }),
    ("OCC-14", "the mark bright goes", |it| {
        repeats(it, |bright| bright)
    }),
    ("ORD-4", "a sensor is blind after an event", |it| {
        ignored(it, Ignored::DeadTime) && stimulus(it, |it| it == Stimulus::Motion)
    }),
    ("ORD-4", "an edge inside the gap", |it| {
        ignored(it, Ignored::DeadTime)
            && !stimulus(it, |it| matches!(it, Stimulus::Motion | Stimulus::Sound))
    }),
    ("CARD-2", "the linger starts", |it| {
        starts_card(it, CardTimer::Linger) && stimulus(it, |it| it == Stimulus::CardOut)
    }),
    ("CARD-3", "the linger is cancelled", |it| {
        stops_card(it, CardTimer::Linger)
            && stimulus(it, |it| matches!(it, Stimulus::CardIn { .. }))
    }),
    ("CARD-6", "the reader reports again", |it| {
        matches!(it.what(), What::Sent(..)) && after_card(it, CardTimer::Report)
    }),
    ("CARD-7", "a wrong card is reported", |it| {
        matches!(it.what(), What::Sent(.., Payload::WrongCard))
    }),
    ("DAY-1", "light is reported", |it| {
        matches!(it.what(), What::Sent(.., Payload::Illuminance(_)))
    }),
    ("CLK-1", "an opening falls due", |it| {
        matches!(it.what(), What::Sent(.., Payload::InHours))
            && stimulus(it, |it| matches!(it, Stimulus::Due(_)))
    }),
    ("CLK-1", "a closing falls due", |it| {
        matches!(it.what(), What::Sent(.., Payload::AfterHours))
            && stimulus(it, |it| matches!(it, Stimulus::Due(_)))
    }),
    ("CLK-1", "a sweep falls due", |it| {
        matches!(it.what(), What::Sent(.., Payload::Sweep))
            && stimulus(it, |it| matches!(it, Stimulus::Due(_)))
    }),
    ("CLK-4", "the clock loses the time", |it| {
        matches!(it.what(), What::Sent(.., Payload::TimeLost))
    }),
    ("CLK-4", "the controller hears of it", |it| {
        it.notes(|note| note == Note::Fault(Fault::TimeLost))
            && it.hears(|it| it == Payload::TimeLost)
    }),
    ("SET-1", "a changed span restarts a timer", |it| {
        matches!(it.what(), What::Started(..)) && matches!(it.cause(), Some(What::Change))
    }),
    ("SET-2", "a walk test begins", |it| {
        it.notes(|note| note == Note::WalkTest(true))
    }),
    ("SET-2", "a walk test ends by itself", |it| {
        it.notes(|note| note == Note::WalkTest(false)) && after(it, Timer::WalkTest)
    }),
    ("LINK-1", "a pair is taught", |it| {
        it.notes(|note| note == Note::Taught(true))
    }),
    ("LINK-1", "a pair is removed", |it| {
        it.notes(|note| note == Note::Taught(false))
    }),
    ("LINK-1", "nobody opened a window", |it| {
        ignored(it, Ignored::NotLearning)
    }),
    ("LINK-2", "a source that was not taught", |it| {
        ignored(it, Ignored::NotTaught)
    }),
    ("LINK-3", "a copy is not taken", |it| {
        matches!(it.what(), What::Dropped(.., Drop::Old))
    }),
];

pub(crate) fn ignored(it: &Look<'_>, why: Ignored) -> bool {
    it.notes(|note| note == Note::Ignored(why))
}

fn of_source(it: &Look<'_>, wanted: Note) -> bool {
    matches!(it.note(), Some((Who::Source(_), note)) if note == wanted)
}

/// Whether a stimulus that fits caused the step.
pub(crate) fn stimulus(it: &Look<'_>, fits: impl Fn(Stimulus) -> bool) -> bool {
    matches!(it.cause(), Some(What::Stimulus(_, stimulus)) if fits(*stimulus))
}

fn occupies(it: &Look<'_>) -> bool {
    let mut siblings = it.siblings();
    siblings.any(|what| matches!(what, What::Note(Who::Source(_), Note::Occupied)))
}

/// Whether motion sends *occupied* though the sensor was occupied already, and had the mark
/// *bright* or not.
fn repeats(it: &Look<'_>, fits: impl Fn(bool) -> bool) -> bool {
    let What::Sent(source, _, Payload::Occupied { bright: false }) = it.what() else {
        return false;
    };
    let Some(Payload::Occupied { bright }) = it.known.said.get(source) else {
        return false;
    };
    fits(*bright) && stimulus(it, |it| it == Stimulus::Motion) && !occupies(it)
}

fn is_sensor(it: &Look<'_>, owner: SlotOwner, wanted: Timer) -> bool {
    match owner {
        SlotOwner::Source(id, number) => {
            matches!(it.source(id), SourceSettings::Occupancy(_)) && number == wanted.number()
        }
        _ => false,
    }
}

fn is_card(it: &Look<'_>, owner: SlotOwner, wanted: CardTimer) -> bool {
    match owner {
        SlotOwner::Source(id, number) => {
            matches!(it.source(id), SourceSettings::Card(_)) && number == wanted.number()
        }
        _ => false,
    }
}

fn starts(it: &Look<'_>, wanted: Timer) -> bool {
    matches!(it.what(), What::Started(slot, _) if is_sensor(it, it.owner(*slot), wanted))
}

fn after(it: &Look<'_>, wanted: Timer) -> bool {
    it.elapsed()
        .is_some_and(|owner| is_sensor(it, owner, wanted))
}

fn starts_card(it: &Look<'_>, wanted: CardTimer) -> bool {
    matches!(it.what(), What::Started(slot, _) if is_card(it, it.owner(*slot), wanted))
}

fn stops_card(it: &Look<'_>, wanted: CardTimer) -> bool {
    matches!(it.what(), What::Stopped(slot) if is_card(it, it.owner(*slot), wanted))
}

fn after_card(it: &Look<'_>, wanted: CardTimer) -> bool {
    it.elapsed().is_some_and(|owner| is_card(it, owner, wanted))
}
