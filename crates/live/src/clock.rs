//! The paced clock: the numeric clock held to wall time. The only door to the time of day.
//!
//! Invariant: the time of a run never goes backwards unless somebody takes it back, whatever the
//! wall clock does.

use std::time::Duration;

use device::Span;
use sim::Instant;
use tokio::time::Instant as Wall;

/// How the time of a run follows the wall clock.
#[derive(Clone, Debug)]
pub struct Pace {
    /// A moment of the run, and when it was on the wall clock.
    anchor: (Instant, Wall),
    /// Seconds of the run in a second.
    speed: u32,
    /// The latest moment that was told.
    latest: Instant,
    /// Whether the run stands still.
    paused: bool,
}

impl Pace {
    /// A run that begins at `start` now, `speed` times as fast as the wall clock; 1 to 3 600.
    #[must_use]
    pub fn new(start: Instant, speed: u32) -> Self {
        Self {
            anchor: (start, now()),
            speed: speed.clamp(1, FASTEST),
            latest: start,
            paused: false,
        }
    }

    /// The present moment of the run.
    pub fn now(&mut self) -> Instant {
        self.at(now())
    }

    /// The moment of the run at which the wall clock shows `wall`.
    fn at(&mut self, wall: Wall) -> Instant {
        if !self.paused {
            let (start, begun) = self.anchor;
            let gone = wall.saturating_duration_since(begun).as_millis();
            let gone = u64::try_from(gone).unwrap_or(u64::MAX);
            let moment = start.after(Span::from_ms(gone.saturating_mul(self.speed.into())));
            self.latest = self.latest.max(moment);
        }
        self.latest
    }

    /// Goes on from another moment of the run, earlier or later than the present one.
    pub fn jump(&mut self, to: Instant) {
        self.latest = to;
        self.anchor = (to, now());
    }

    /// Whether the time of the run stands still.
    #[must_use]
    pub const fn is_paused(&self) -> bool {
        self.paused
    }

    /// How many seconds of the run go by in one.
    #[must_use]
    pub const fn times(&self) -> u32 {
        self.speed
    }

    /// Stops the time of the run, or lets it go on.
    pub fn pause(&mut self, paused: bool) {
        self.now();
        self.paused = paused;
        self.anchor = (self.latest, now());
    }

    /// Changes how fast the run goes; 1 to 3 600.
    pub fn speed(&mut self, speed: u32) {
        self.now();
        self.speed = speed.clamp(1, FASTEST);
        self.anchor = (self.latest, now());
    }

    /// Sleeps until the run has come to `moment`: for ever when it never does.
    pub async fn reach(&self, moment: Instant) {
        let (start, begun) = self.anchor;
        let ahead = moment.since(start).as_ms().div_ceil(self.speed.into());
        match begun.checked_add(Duration::from_millis(ahead)) {
            Some(wall) if !self.paused && moment != Instant::NEVER => {
                tokio::time::sleep_until(wall).await;
            }
            _ => std::future::pending().await,
        }
    }
}

fn now() -> Wall {
    Wall::now()
}

/// An hour in a second.
const FASTEST: u32 = 3_600;

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test(start_paused = true)]
    async fn a_run_follows_the_wall_at_its_speed_and_stands_still_when_paused() {
        let mut pace = Pace::new(Instant::from_ms(5), 60);
        tokio::time::advance(Duration::from_millis(10)).await;
        assert_eq!(pace.now(), Instant::from_ms(605));
        pace.pause(true);
        tokio::time::advance(Duration::from_millis(10)).await;
        assert_eq!(pace.now(), Instant::from_ms(605));
        pace.pause(false);
        pace.speed(1);
        pace.reach(Instant::from_ms(700)).await;
        assert_eq!(pace.now(), Instant::from_ms(700));
    }

    #[tokio::test(start_paused = true)]
    async fn a_wall_clock_that_goes_backwards_does_not_take_the_run_along() {
        let mut pace = Pace::new(Instant::START, 1);
        let wall = now() + Duration::from_secs(9);
        assert_eq!(pace.at(wall), Instant::from_ms(9_000));
        for back in [1, 5, 8, 9] {
            let earlier = wall - Duration::from_secs(back);
            assert_eq!(pace.at(earlier), Instant::from_ms(9_000));
        }
    }
}
