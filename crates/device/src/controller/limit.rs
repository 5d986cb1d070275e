//! The daylight limit of an output, and dim-to-dark (DAY-2 to DAY-9).

use super::chain::{Move, limit_span};
use super::settings::{Calibration, Loop, LoopKind, Role};
use super::state::{Dark, Said, Way};
use super::work::Work;
use super::{OutputTimer, Outside, Settings, State};
use crate::{Fault, Ignored, Illuminance, Level, Note};

/// The daylight loop of an output, if it has one.
pub(super) fn loop_of(settings: &Settings, output: u8) -> Option<&Loop> {
    (settings.links.iter())
        .filter(|link| link.output == output)
        .find_map(|link| match &link.role {
            Role::Limit(constants) => Some(constants),
            _ => None,
        })
}

impl<F: Outside> Work<'_, F> {
    /// A daylight sensor reports what it sees.
    pub(super) fn hear_illuminance(&mut self, heard: u8, seen: Illuminance) {
        let first = self.said(heard) == Said::Unknown;
        self.believe(heard, Said::Rest);
        let own = self.own_light(heard);
        self.for_links_from(heard, |work, link| {
            if let (output, Role::Limit(constants)) = work.end_of(link) {
                if first && constants.calibration.is_none() {
                    work.say(output, Note::Fault(Fault::NotCalibrated));
                }
                work.weigh_limit(output, &constants, seen, own);
            }
        });
    }

    /// What the sensor sees of the lights that it limits, by their night readings (DAY-3).
    fn own_light(&mut self, heard: u8) -> u32 {
        let mut sum = 0;
        self.for_links_from(heard, |work, link| {
            if let (output, Role::Limit(constants)) = work.end_of(link)
                && let Some(calibration) = constants.calibration
            {
                let full = u64::from(calibration.night_sensor.hundredths());
                sum += full * u64::from(work.light(output).hundredths()) / 10_000;
            }
        });
        u32::try_from(sum).unwrap_or(u32::MAX)
    }

    fn weigh_limit(&mut self, output: u8, constants: &Loop, seen: Illuminance, own: u32) {
        let Some(calibration) = &constants.calibration else {
            return self.say(output, Note::Ignored(Ignored::NotCalibrated));
        };
        let daylight = match constants.kind {
            LoopKind::Closed => seen.hundredths().saturating_sub(own),
            LoopKind::Open => seen.hundredths(),
        };
        let limit = limit_for(constants, calibration, daylight);
        let moved = u64::from(limit.distance(self.out(output).limit.to).hundredths());
        // The ends are taken at once: at night full light is full, and enough daylight is dark.
        let end = limit == Level::FULL || limit.is_off();
        let at_task = moved * u64::from(calibration.night_task.hundredths()) / 10_000;
        let band = u64::from(constants.set_point.hundredths())
            * u64::from(constants.dead_band_percent)
            / 100;
        if moved == 0 {
            return;
        }
        if at_task < band && !end {
            return self.say(output, Note::Ignored(Ignored::DeadBand));
        }
        self.move_limit(output, limit);
    }

    fn move_limit(&mut self, output: u8, to: Level) {
        let from = self.it.limit_now(self.settings, output, self.fx);
        let way = Way { from, to };
        let span = limit_span(self.settings, output, way);
        if span.is_zero() {
            self.stop(output, OutputTimer::Limit);
            self.change(output, Move::Fade, |out| out.limit = Way::at(to));
        } else {
            self.out(output).limit = way;
            self.start(output, OutputTimer::Limit, span);
        }
        self.say(output, Note::Limit(to));
        self.weigh_dark(output);
    }

    /// DAY-9: the photosensor is lost, nothing limits any more.
    pub(super) fn lift_limits(&mut self, heard: u8) {
        self.for_links_from(heard, |work, link| {
            if let (output, Role::Limit(_)) = work.end_of(link) {
                work.lift_limit(output);
            }
        });
    }

    pub(super) fn lift_limit(&mut self, output: u8) {
        if self.out(output).limit.to != Level::FULL {
            self.move_limit(output, Level::FULL);
        }
    }

    /// DAY-7: whether the limit asks for less than the low trim, or for enough again.
    fn weigh_dark(&mut self, output: u8) {
        let (limit, low) = (self.out(output).limit.to, self.spec(output).low_trim);
        let enough = u32::from(limit.hundredths()) * 5 > u32::from(low.hundredths()) * 6;
        if limit < low {
            self.count_dark(output);
        } else if self.out(output).dark != Dark::Yes {
            self.stop_dark(output);
        } else if enough {
            self.light_again(output);
        }
    }

    /// Starts the dim-to-dark delay of a lit zone whose limit asks for less than the low trim.
    pub(super) fn count_dark(&mut self, output: u8) {
        let after = loop_of(self.settings, output).and_then(|constants| constants.dark_after);
        let low = self.spec(output).low_trim;
        let out = self.out(output);
        let due = out.limit.to < low && out.state != State::Off && out.dark == Dark::No;
        if let (Some(after), true) = (after, due) {
            out.dark = Dark::Counting;
            self.start(output, OutputTimer::Dark, after);
        }
    }

    /// Forgets the delay of a zone that is not dark yet.
    pub(super) fn stop_dark(&mut self, output: u8) {
        self.stop(output, OutputTimer::Dark);
        self.out(output).dark = Dark::No;
    }

    /// The dim-to-dark delay has ended.
    pub(super) fn dark_is_due(&mut self, output: u8) {
        self.out(output).dark = Dark::Ready;
        self.settle_dark(output);
    }

    /// The zones of a relay go dark together, when every lit one is ready.
    fn settle_dark(&mut self, output: u8) {
        let ready = |other| {
            let out = &self.it.outputs[usize::from(other)];
            out.state == State::Off || matches!(out.dark, Dark::Ready | Dark::Yes)
        };
        if !self.relay_of(output).all(ready) {
            return;
        }
        self.for_relay(output, |work, other| {
            if work.out(other).dark == Dark::Ready {
                work.change(other, Move::Fade, |out| out.dark = Dark::Yes);
                work.say(other, Note::DarkByDaylight);
            }
        });
    }

    /// The limit asks for light again: at once, and the relay lifts the others to their low trim.
    fn light_again(&mut self, output: u8) {
        self.change(output, Move::Fade, |out| out.dark = Dark::No);
        self.say(output, Note::BackFromDaylight);
        self.for_others_of_relay(output, |work, other| {
            if work.out(other).dark == Dark::Yes {
                work.were_dark.push(other);
                work.change(other, Move::Fade, |out| out.dark = Dark::Ready);
            }
        });
    }

    /// DAY-7: a tap up while dark brings the low trim and starts the delay again.
    pub(super) fn light_the_dark(&mut self, output: u8) {
        self.light_again(output);
        self.count_dark(output);
    }
}

/// The limit that keeps the set-point at the task with this daylight at the sensor.
///
/// Daylight at the task is daylight at the sensor × the ratio of the day reading; the electric
/// light has to bring the rest, as a share of what it brings when full (the night reading).
/// Linear model of closed- and open-loop proportional control: Rubinstein, Ward and Verderber,
/// LBL-24872 (1989), by its abstract; common practice.
pub(super) fn limit_for(constants: &Loop, calibration: &Calibration, daylight: u32) -> Level {
    let day_sensor = u64::from(calibration.day_sensor.hundredths().max(1));
    let task = u64::from(daylight) * u64::from(calibration.day_task.hundredths()) / day_sensor;
    let missing = u64::from(constants.set_point.hundredths()).saturating_sub(task);
    let full = u64::from(calibration.night_task.hundredths().max(1));
    let share = missing * 10_000 / full;
    Level::from_hundredths(u16::try_from(share).unwrap_or(u16::MAX))
}
