//! A room that runs freely, held to wall time.
//!
//! Invariant: whoever publishes waits for the room, never the room for them.

use device::Span;
use room::Input;
use sim::{Full, Instant, Simulation};
use tokio::sync::mpsc;

use super::{Host, Words};
use crate::clock::Pace;

/// What a room that runs freely is told.
#[derive(Clone, Debug, PartialEq)]
enum Command {
    Input(Box<Input>),
    Pause(bool),
    Speed(u32),
    Stop,
}

/// A way to tell a room that runs freely what happens.
#[derive(Clone, Debug)]
pub struct Publisher(mpsc::Sender<Command>);

/// The other end of a [`Publisher`].
#[derive(Debug)]
pub struct Commands(mpsc::Receiver<Command>);

/// The room has stopped.
#[derive(Clone, Copy, Debug, Eq, PartialEq, thiserror::Error)]
#[error("the room has stopped")]
pub struct Stopped;

impl Publisher {
    /// A publisher and what a host takes of it. At most 64 things wait to be taken.
    #[must_use]
    pub fn new() -> (Self, Commands) {
        let (sender, receiver) = mpsc::channel(COMMANDS);
        (Self(sender), Commands(receiver))
    }

    /// Something happens in the room.
    ///
    /// # Errors
    ///
    /// When the room has stopped.
    pub async fn publish(&self, input: Input) -> Result<(), Stopped> {
        self.tell(Command::Input(Box::new(input))).await
    }

    /// Lets the time of the room stand still, or go on.
    ///
    /// # Errors
    ///
    /// When the room has stopped.
    pub async fn pause(&self, paused: bool) -> Result<(), Stopped> {
        self.tell(Command::Pause(paused)).await
    }

    /// Changes how fast the room runs.
    ///
    /// # Errors
    ///
    /// When the room has stopped.
    pub async fn speed(&self, speed: u32) -> Result<(), Stopped> {
        self.tell(Command::Speed(speed)).await
    }

    /// Stops the room.
    ///
    /// # Errors
    ///
    /// When the room has stopped already.
    pub async fn stop(&self) -> Result<(), Stopped> {
        self.tell(Command::Stop).await
    }

    async fn tell(&self, command: Command) -> Result<(), Stopped> {
        self.0.send(command).await.map_err(|_| Stopped)
    }
}

impl Host {
    /// Runs the room at `speed` times wall time until it is stopped or every publisher is gone,
    /// and hands it over.
    pub async fn run_freely(mut self, speed: u32, mut commands: Commands) -> Simulation<Full> {
        self.nodes.run_freely();
        let mut pace = Pace::new(Instant::START, speed);
        // What is given for a moment that has not come yet is run all the same: the room is
        // there already.
        let mut given = Instant::START;
        loop {
            let now = pace.now().max(given);
            self.run_through(now, &NoWords).await;
            let next = self.simulation.next_instant();
            let mut input = None;
            tokio::select! {
                command = commands.0.recv() => match command {
                    Some(Command::Input(it)) => input = Some(*it),
                    Some(Command::Pause(paused)) => pace.pause(paused),
                    Some(Command::Speed(speed)) => pace.speed(speed),
                    Some(Command::Stop) | None => return self.simulation,
                },
                stir = self.nodes.stirred() => self.nodes.take(stir).await,
                () = pace.reach(next) => {}
            }
            if input.is_some() || self.nodes.has_news() {
                let following = self.simulation.now().after(Span::from_ms(1));
                given = pace.now().max(following);
                let before = Instant::from_ms(given.as_ms() - 1);
                self.run_through(before, &NoWords).await;
                given = given.max(self.simulation.now());
                self.nodes.tell_news(given, &mut self.simulation);
                if let Some(input) = input {
                    self.simulation.apply(given, input);
                }
            }
        }
    }
}

/// Nobody wrote down what happens.
struct NoWords;

impl Words for NoWords {
    fn of_change(&self, _: Instant, _: &Input) -> String {
        String::new()
    }
}

/// How many commands may wait.
const COMMANDS: usize = 64;
