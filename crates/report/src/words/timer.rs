//! The timers of a room in words: name, sign, whose lane they stand in, what their end does.

use device::controller::{OutputTimer, Timer};
use device::{card, clock, daylight, occupancy, signal, switch};
use room::{ControllerId, OutputId, SlotOwner, SourceId, SourceSettings};

use super::Names;

/// A timer in words.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct TimerWords<'a> {
    /// Whose timer it is, by name.
    pub owner: String,
    /// The lane it stands in.
    pub lane: TimerLane,
    /// Its name: `time delay`, `sound window`.
    pub name: String,
    /// Its sign in tight places: `T`, `W`; empty where the trade has none.
    pub sign: &'static str,
    /// What happens when it ends.
    pub end: &'static str,
    /// Part of the housekeeping (reports, dead times), which no picture shows.
    pub quiet: bool,
    /// The source at the other end, for timers of a link.
    pub of: Option<&'a str>,
}

/// The lane of a timer.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum TimerLane {
    /// The lane of a source.
    Source(SourceId),
    /// The lane of an output.
    Output(OutputId),
    /// None: it belongs to the controller as such, or to a clause.
    None,
}

/// The words of the timer that belongs to `owner`.
#[must_use]
pub fn timer<'a>(names: &Names<'a>, owner: Option<SlotOwner>) -> TimerWords<'a> {
    match owner {
        Some(SlotOwner::Source(id, number)) => of_source(names, id, number),
        Some(SlotOwner::Controller(id, timer)) => of_controller(names, id, timer),
        Some(SlotOwner::Clause(number, _)) => TimerWords {
            owner: format!("clause {}", names.clause(number)),
            lane: TimerLane::None,
            name: "deadline".to_owned(),
            sign: "",
            end: "the clause is judged",
            quiet: true,
            of: None,
        },
        None => TimerWords {
            owner: "(unknown)".to_owned(),
            lane: TimerLane::None,
            name: "timer".to_owned(),
            sign: "",
            end: "",
            quiet: true,
            of: None,
        },
    }
}

fn of_source<'a>(names: &Names<'a>, id: SourceId, number: u8) -> TimerWords<'a> {
    let said = match names.settings(id) {
        Some(SourceSettings::Occupancy(_)) => {
            occupancy::Timer::from_number(number).map(of_occupancy)
        }
        Some(SourceSettings::Switch(_)) => switch::Timer::from_number(number).map(of_switch),
        Some(SourceSettings::Card(_)) => card::Timer::from_number(number).map(of_card),
        Some(SourceSettings::Daylight(_)) => daylight::Timer::from_number(number).map(of_daylight),
        Some(SourceSettings::Clock(_)) => clock::Timer::from_number(number).map(of_clock),
        Some(SourceSettings::Signal(_)) => signal::Timer::from_number(number).map(of_signal),
        None => None,
    };
    let (name, sign, end, quiet) = said.unwrap_or(("timer", "", "", true));
    TimerWords {
        owner: names.source(id).to_owned(),
        lane: TimerLane::Source(id),
        name: name.to_owned(),
        sign,
        end,
        quiet,
        of: None,
    }
}

/// Name, sign, what its end does, and whether it is housekeeping.
type Said = (&'static str, &'static str, &'static str, bool);

const REPORT: Said = ("report interval", "H", "it reports again", true);

const fn of_occupancy(timer: occupancy::Timer) -> Said {
    use occupancy::Timer;
    match timer {
        Timer::DeadTime => ("dead time", "", "it senses again", true),
        Timer::Delay => ("time delay", "T", "vacant", false),
        Timer::Grace => ("sound grace", "G", "sound no longer brings it back", false),
        Timer::Repeat => ("repeat interval", "R", "motion is reported again", true),
        Timer::Report => REPORT,
        Timer::WalkTest => ("walk test", "", "the walk test ends", false),
        Timer::WarmUp => ("warm-up", "", "it senses again", false),
        Timer::Window => ("sound window", "W", "only motion counts from here", false),
    }
}

const fn of_switch(timer: switch::Timer) -> Said {
    match timer {
        switch::Timer::EdgeGap(_) => ("edge gap", "", "the next edge counts", true),
    }
}

const fn of_card(timer: card::Timer) -> Said {
    match timer {
        card::Timer::Linger => ("linger", "", "the card counts as out", false),
        card::Timer::Report => REPORT,
    }
}

const fn of_daylight(timer: daylight::Timer) -> Said {
    match timer {
        daylight::Timer::Interval => ("sampling interval", "", "it measures again", true),
        daylight::Timer::Report => REPORT,
    }
}

const fn of_clock(timer: clock::Timer) -> Said {
    match timer {
        clock::Timer::Report => REPORT,
        clock::Timer::Reserve => ("reserve", "", "the clock loses the time", false),
    }
}

const fn of_signal(timer: signal::Timer) -> Said {
    match timer {
        signal::Timer::Report => REPORT,
    }
}

fn of_controller<'a>(names: &Names<'a>, id: ControllerId, timer: Timer) -> TimerWords<'a> {
    let controller = names.plan.controllers.get(usize::from(id.0));
    let heard = |index: u8| {
        let source = controller.and_then(|at| at.heard.get(usize::from(index)));
        source.map(|source| names.source(*source))
    };
    let output = |index: u8| {
        let output = controller.and_then(|at| at.outputs.get(usize::from(index)));
        output.map_or(TimerLane::None, |output| TimerLane::Output(*output))
    };
    let (lane, of, (name, sign, end, quiet)) = match timer {
        Timer::Silence(index) => (
            TimerLane::None,
            heard(index),
            ("silence watch", "", "the source counts as lost", true),
        ),
        Timer::Threshold(index) => {
            let button = controller.and_then(|at| at.settings.buttons.get(usize::from(index)));
            let of = button.and_then(|button| heard(button.heard));
            let said = ("hold threshold", "", "the press is a hold", true);
            (TimerLane::None, of, said)
        }
        Timer::RunOn(index) => {
            let link = controller.and_then(|at| at.settings.links.get(usize::from(index)));
            let lane = link.map_or(TimerLane::None, |link| output(link.output));
            let of = link.and_then(|link| heard(link.heard));
            (lane, of, ("run-on", "", "the link is vacant", false))
        }
        Timer::Output(index, timer) => (output(index), None, of_output(timer)),
    };
    let owner = match lane {
        TimerLane::Output(id) => names.output(id),
        TimerLane::Source(_) | TimerLane::None => names.controller(id),
    };
    let name = match of {
        Some(source) => format!("{name} for {source}"),
        None => name.to_owned(),
    };
    TimerWords {
        owner: owner.to_owned(),
        lane,
        name,
        sign,
        end,
        quiet,
        of,
    }
}

const fn of_output(timer: OutputTimer) -> Said {
    match timer {
        OutputTimer::Blink => ("blink", "", "the light comes back", true),
        OutputTimer::Dark => (
            "dim-to-dark delay",
            "",
            "the zone goes dark by daylight",
            false,
        ),
        OutputTimer::Fade => ("fade", "", "the light is there", true),
        OutputTimer::Grace => (
            "re-entry grace",
            "",
            "latch and hand level are forgotten",
            false,
        ),
        OutputTimer::Learning => ("learning window", "", "the window closes", false),
        OutputTimer::Limit => ("daylight limit", "", "the limit is there", true),
        OutputTimer::Minimum => ("minimum time", "", "the last wish acts", false),
        OutputTimer::OffAfter => ("off-after", "", "off", false),
        OutputTimer::Override => ("override", "", "the sweep warns again", false),
        OutputTimer::Poll => ("feedback poll", "", "the relay is checked", true),
        OutputTimer::PressHold => ("press hold", "L", "the press no longer holds it", false),
        OutputTimer::Proven => ("proof of normal light", "", "emergency light ends", false),
        OutputTimer::Ramp => ("ramp", "", "the ramp is at its end", true),
        OutputTimer::Shed => ("shed fade", "", "the shed is complete", false),
        OutputTimer::Warning => ("warning", "", "off", false),
    }
}
