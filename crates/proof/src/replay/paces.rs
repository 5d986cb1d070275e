//! A path on which clocks may be off, with the pace of each clock said.
//!
//! Where clocks have a tolerance, a timer of the path takes any time between two bounds. A run
//! needs a clock that runs so: at each step at which a device starts timers its clock gets a
//! pace, the right one if the path allows it, else the farthest, else the one that fits. What is
//! left is a path whose timers are exact, and rows that say how the clocks run.

use std::collections::BTreeMap;
use std::sync::Arc;

use device::Span;
use prover::Path;
use prover::path::Timing;
use prover::slice::Slice;
use prover::zone::Timer;
use room::{Device, Slot, Slots};
use sim::{Coming, Pace, Share, Simulation};

/// How the clock of a device of a slice runs, from a step on.
pub(super) type Paces = Vec<(usize, Device, Pace)>;

/// The path with exact timers, and how the clocks run on it; `None` when no paces were found.
pub(super) fn pinned(slice: &Slice, path: &Path, tolerance: u16) -> Option<(Path, Paces)> {
    let slots = Slots::new(&slice.plan);
    let mut path = path.clone();
    let mut paces = Paces::new();
    if tolerance == 0 || path.steps.is_empty() {
        return Some((path, paces));
    }
    // What starts with the run starts before any clock can be set.
    let running = started_with(slice);
    for (place, start) in path.steps[0].started.clone().iter().enumerate() {
        if is_first(&path, 0, place) && running.contains(&start.0) {
            pin(&mut path, 0, place, Pace::RIGHT, tolerance);
        }
    }
    let mut at = Timing::of(&path, 0).earliest()?;
    let mut now: BTreeMap<Device, Pace> = BTreeMap::new();
    for step in 0..path.steps.len() {
        for (device, starts) in by_device(&slots, &path, step, &running) {
            let before = now.get(&device).copied().unwrap_or(Pace::RIGHT);
            let choices = choices((&path, &at), step, &starts, before, tolerance);
            let fits = |pace: Pace| {
                let mut pinned = path.clone();
                for start in &starts {
                    pin(&mut pinned, step, *start, pace, tolerance)?;
                }
                let at = Timing::of(&pinned, 0).earliest()?;
                Some((pinned, at))
            };
            let (pace, next) = choices
                .into_iter()
                .find_map(|pace| fits(pace).map(|next| (pace, next)))?;
            (path, at) = next;
            if pace != before {
                paces.push((step, device, pace));
                now.insert(device, pace);
            }
        }
    }
    Some((path, paces))
}

/// The path without the devices' timers that elapse at its very end beside a deadline of a clause:
/// no pace may be fine enough for both to be due in one millisecond, and what the deadline shows it
/// may show as well while the timers still run. `None` where there are none.
pub(super) fn untied(slice: &Slice, path: &Path, tolerance: u16) -> Option<Path> {
    let slots = Slots::new(&slice.plan);
    let is_deadline =
        |timer: &Timer| usize::from(*timer) < slots.len() && slots.is_clause(Slot(*timer));
    let mut untied = path.clone();
    let fired = &mut untied.steps.last_mut()?.fired;
    let many = fired.len();
    if tolerance == 0 || !fired.iter().any(is_deadline) {
        return None;
    }
    fired.retain(is_deadline);
    (fired.len() < many).then_some(untied)
}

/// The path as it is, with each clock right, fast or slow from the start to the end. Where a path
/// needs two things to meet in a millisecond, no pace may be fine enough to bring them there; a run
/// in which they do not meet may show the same.
pub(super) fn steady(
    slice: &Slice,
    path: &Path,
    tolerance: u16,
) -> impl Iterator<Item = (Path, Paces)> {
    let slots = Slots::new(&slice.plan);
    let started = path.steps.iter().flat_map(|step| &step.started);
    let owners = started.filter(|(timer, ..)| usize::from(*timer) < slots.len());
    let mut devices: Vec<Device> = owners
        .filter_map(|(timer, ..)| sim::counts(slots.owner(Slot(*timer))))
        .collect();
    devices.sort_unstable();
    devices.dedup();
    let off = Share::from_parts(tolerance);
    let mut ways = vec![Paces::new()];
    for device in devices.into_iter().take(MOST_CLOCKS) {
        let with = |pace: Option<Pace>| {
            ways.iter().map(move |way| {
                let more = pace.map(|pace| (0, device, pace));
                way.iter().copied().chain(more).collect()
            })
        };
        ways = [None, Some(Pace::fast(off)), Some(Pace::slow(off))]
            .into_iter()
            .flat_map(with)
            .collect();
    }
    ways.retain(|_| tolerance > 0);
    ways.into_iter().map(|way| (path.clone(), way))
}

/// The timers that run as soon as the run begins.
fn started_with(slice: &Slice) -> Vec<Timer> {
    let run = Simulation::silent(Arc::clone(&slice.plan));
    let coming = run.coming().into_iter();
    let timers = coming.filter_map(|(_, it)| match it {
        Coming::Timer(slot) => Some(slot.0),
        Coming::Frame(..) => None,
    });
    timers.collect()
}

/// Whether a start is the first of its timer in a step.
fn is_first(path: &Path, step: usize, place: usize) -> bool {
    let started = &path.steps[step].started;
    started[..place].iter().all(|it| it.0 != started[place].0)
}

/// The timers that a step starts, as places in its list, by the device that counts them.
fn by_device(
    slots: &Slots,
    path: &Path,
    step: usize,
    running: &[Timer],
) -> BTreeMap<Device, Vec<usize>> {
    let mut all: BTreeMap<Device, Vec<usize>> = BTreeMap::new();
    for (place, (timer, ..)) in path.steps[step].started.iter().enumerate() {
        let with_run = step == 0 && running.contains(timer) && is_first(path, step, place);
        if usize::from(*timer) >= slots.len() || with_run {
            continue;
        }
        if let Some(device) = sim::counts(slots.owner(Slot(*timer))) {
            all.entry(device).or_default().push(place);
        }
    }
    all
}

/// The paces that are worth a try, the plainest first.
fn choices(
    (path, at): (&Path, &[i64]),
    step: usize,
    starts: &[usize],
    before: Pace,
    tolerance: u16,
) -> Vec<Pace> {
    let off = Share::from_parts(tolerance);
    let mut all = vec![before, Pace::RIGHT, Pace::fast(off), Pace::slow(off)];
    for start in starts {
        let (timer, least, most) = path.steps[step].started[*start];
        let behind = path.steps[step + 1..].iter();
        let ends = behind.take_while(|it| it.stopped.iter().all(|stopped| *stopped != timer));
        let fired = ends
            .zip(step + 1..)
            .find(|(it, _)| it.fired.contains(&timer));
        let (Some((_, fired)), Some(span)) = (fired, whole(least, most, tolerance)) else {
            continue;
        };
        let takes = at[fired] - at[step];
        let span = i64::try_from(span.as_ms()).unwrap_or(1).max(1);
        let parts = takes * COARSE / span;
        let coarse = [0, -1, 1].map(|more| (parts + more) * FINE);
        // The finest last: it takes this to the millisecond.
        let each = coarse.into_iter().chain([takes * WHOLE / span]);
        all.extend(each.filter_map(|parts| pace(parts, tolerance)));
    }
    // Timers of one device that are started together go by one pace: where none of these suits
    // all of them, another may.
    let any = (1..=i64::from(tolerance)).map(|off| off * FINE);
    let any = any.flat_map(|off| [WHOLE - off, WHOLE + off]);
    all.extend(any.filter_map(|parts| pace(parts, tolerance)));
    all
}

/// A pace of so many parts, within the tolerance.
fn pace(parts: i64, tolerance: u16) -> Option<Pace> {
    let is_near = (parts - WHOLE).abs() <= i64::from(tolerance) * FINE;
    let parts = u32::try_from(parts).ok().filter(|_| is_near)?;
    Some(Pace::from_parts(parts))
}

/// Makes a timer exact: it takes what its whole span takes at this pace.
fn pin(path: &mut Path, step: usize, start: usize, pace: Pace, tolerance: u16) -> Option<()> {
    let (_, least, most) = &mut path.steps[step].started[start];
    let span = whole(*least, *most, tolerance)?;
    let takes = i32::try_from(pace.of(span).as_ms()).ok()?;
    (*least, *most) = (takes, takes);
    Some(())
}

/// The span that a right clock makes of these bounds, which a tolerance has widened.
fn whole(least: i32, most: i32, tolerance: u16) -> Option<Span> {
    let middle = (i64::from(least) + i64::from(most)) / 2;
    let (fast, slow) = (10_000 - u64::from(tolerance), 10_000 + u64::from(tolerance));
    let near = (middle - NEAR).max(0)..=middle + NEAR;
    let mut near = near.filter_map(|ms| u64::try_from(ms).ok().map(Span::from_ms));
    let is = |span: Span, ms: i32| u64::try_from(ms) == Ok(span.as_ms());
    near.find(|span| is(span.scaled(fast, 10_000), least) && is(span.scaled(slow, 10_000), most))
}

/// Of so many clocks each way to run is tried with all of the others.
const MOST_CLOCKS: usize = 4;

/// Paces are in parts of this.
const WHOLE: i64 = Pace::WHOLE as i64;

/// Tolerances are in parts of this; paces are tried in parts of it first.
const COARSE: i64 = 10_000;

/// So much of a pace is one part of a tolerance.
const FINE: i64 = WHOLE / COARSE;

/// How far rounding moves the middle of two bounds at most, in milliseconds.
const NEAR: i64 = 4;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_whole_span_is_found_between_its_widened_bounds() {
        for (ms, tolerance) in [(900_000, 500), (20_000, 300), (10, 100), (3_600_000, 1)] {
            let span = Span::from_ms(ms);
            let least = span.scaled(10_000 - u64::from(tolerance), 10_000);
            let most = span.scaled(10_000 + u64::from(tolerance), 10_000);
            let (least, most) = (least.as_ms() as i32, most.as_ms() as i32);
            assert_eq!(whole(least, most, tolerance), Some(span));
        }
        assert_eq!(whole(900_000, 900_000, 500), None);
    }

    #[test]
    fn a_pace_is_never_beyond_the_tolerance() {
        assert_eq!(pace(103_000_001, 300), None);
        assert_eq!(
            pace(97_000_000, 300),
            Some(Pace::fast(Share::from_parts(300)))
        );
        assert_eq!(pace(100_000_000, 0), Some(Pace::RIGHT));
    }
}
