//! nexosim 1 on one thread, in three layouts; the best of them counts.
//!
//! Devices as models with ports, as its manual teaches; one model for each room; one model for
//! all rooms. In each a vacancy timer that comes up too early is put off, which is cheaper than
//! cancelling one at every motion.

use std::sync::Arc;

use nexosim::simulation::{SimInit, SimulationError};
use nexosim::time::MonotonicTime;

use crate::workload::{Stimuli, Work};

mod all;
mod devices;
mod rooms;

/// How the workload is laid out over models.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub(crate) enum Layout {
    /// One model for each device and bus.
    Devices,
    /// One model for each room.
    Rooms,
    /// One model for all rooms.
    All,
}

/// Builds the models and runs them until nothing is left to happen.
pub(crate) fn run(stimuli: Arc<Stimuli>, layout: Layout) -> Work {
    let log = Log::default();
    let start = SimInit::with_num_threads(1);
    let start = match layout {
        Layout::Devices => devices::add(start, &stimuli, &log),
        Layout::Rooms => rooms::add(start, &stimuli, &log),
        Layout::All => all::add(start, &stimuli, &log),
    };
    finish(start).expect("no model of the benchmark fails");
    let mut work = log.0.lock().expect("no model of the benchmark panics");
    std::mem::take(&mut work)
}

fn finish(start: SimInit) -> Result<(), SimulationError> {
    let mut simulation = start.init(MonotonicTime::EPOCH)?;
    simulation.run()?;
    Ok(())
}

/// Where models write down what they did.
#[derive(Clone, Debug, Default)]
struct Log(Arc<std::sync::Mutex<Work>>);

impl Log {
    fn with(&self, act: impl FnOnce(&mut Work)) {
        act(&mut self.0.lock().expect("no model of the benchmark panics"));
    }
}

/// Milliseconds since the start.
fn ms(time: MonotonicTime) -> u64 {
    let seconds = u64::try_from(time.as_secs()).expect("the run starts at zero");
    seconds * 1_000 + u64::from(time.subsec_nanos()) / 1_000_000
}

/// The moment this many milliseconds after the start.
fn at(ms: u64) -> MonotonicTime {
    MonotonicTime::EPOCH + std::time::Duration::from_millis(ms)
}
