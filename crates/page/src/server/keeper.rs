//! The keeper: the one task that owns the session, its clock and its nodes.
//!
//! It takes jobs from a bounded queue, lets the room run up to the present moment, and publishes
//! what has changed, written down once for all viewers. Invariant: the keeper never waits for a
//! viewer, and for a node no longer than its limit.

use std::sync::Arc;
use std::time::Duration;

use axum::body::Bytes;
use live::{Nodes, Pace};
use room::Input;
use serde::Serialize;
use sim::{Asked, Instant};
use tokio::sync::{broadcast, mpsc, oneshot, watch};
use tokio::time::Instant as Wall;

use crate::lesson::Course;
use crate::{Refusal, Session, Stage};

/// Something that the keeper does for somebody.
pub(crate) type Job = Box<dyn FnOnce(&mut Desk) + Send>;

/// What jobs work on.
#[derive(Debug)]
pub(crate) struct Desk {
    /// The rooms that can be opened.
    pub(crate) site: Vec<Arc<Stage>>,
    /// The session.
    pub(crate) session: Session,
    /// Its clock.
    pub(crate) pace: Pace,
    /// Whether the room went back or began anew, so that what was shown is void.
    pub(crate) reset: bool,
    /// Whether somebody waits to see what came of a command.
    pub(crate) urgent: bool,
    /// How fast the clock ran before the lesson that is being given.
    before_lesson: Option<u32>,
    /// How many more views may come at once because the room answers a command.
    answers: u8,
    /// What is published.
    outlet: Outlet,
}

/// The way to the keeper; clones lead to the same one.
#[derive(Clone, Debug)]
pub(crate) struct Office(mpsc::Sender<Job>);

/// The room has stopped.
#[derive(Clone, Copy, Debug, Eq, PartialEq, thiserror::Error)]
#[error("the room has stopped")]
pub(crate) struct Gone;

/// A piece of the log, written down.
#[derive(Clone, Debug)]
pub(crate) struct Piece {
    /// How many steps of the trace it is about.
    pub(crate) steps: u64,
    /// How many steps all pieces before it were about.
    pub(crate) before: u64,
    /// How often the room had gone back or begun anew.
    pub(crate) era: u32,
    /// The event as it goes over the wire.
    pub(crate) text: Bytes,
}

/// What a viewer gets when it comes.
#[derive(Debug)]
pub(crate) struct Seat {
    /// How the room stands.
    pub(crate) revision: u32,
    /// The latest view, and those to come.
    pub(crate) views: watch::Receiver<Bytes>,
    /// The log from now on.
    pub(crate) log: broadcast::Receiver<Piece>,
    /// How many steps were published before.
    pub(crate) before: u64,
    /// How often the room had gone back or begun anew.
    pub(crate) era: u32,
}

/// Where the keeper publishes.
#[derive(Debug)]
struct Outlet {
    views: watch::Sender<Bytes>,
    log: broadcast::Sender<Piece>,
    /// How many viewers there were when that was last told.
    viewers: usize,
    /// How many steps of the trace were published.
    told: usize,
    /// How many steps were published in all, those that a rewind took back included.
    total: u64,
    /// How often the room has gone back or begun anew.
    era: u32,
    /// When the last view was published.
    last: Wall,
}

/// The keeper itself.
#[derive(Debug)]
pub(crate) struct Keeper {
    desk: Desk,
    nodes: Nodes,
    jobs: mpsc::Receiver<Job>,
    /// How many viewers there are.
    viewers: watch::Receiver<usize>,
}

impl Keeper {
    /// The keeper of a session, and the way to it.
    pub(crate) fn new(
        site: Vec<Arc<Stage>>,
        session: Session,
        nodes: Nodes,
        speed: u32,
        viewers: watch::Receiver<usize>,
    ) -> (Self, Office) {
        let (sender, jobs) = mpsc::channel(JOBS);
        let mut pace = Pace::new(session.now(), speed);
        pace.pause(true);
        let outlet = Outlet {
            views: watch::Sender::new(Bytes::new()),
            log: broadcast::Sender::new(PIECES),
            viewers: 0,
            told: 0,
            total: 0,
            era: 0,
            last: Wall::now(),
        };
        let desk = Desk {
            site,
            session,
            pace,
            reset: false,
            urgent: true,
            before_lesson: None,
            answers: 0,
            outlet,
        };
        let keeper = Self {
            desk,
            nodes,
            jobs,
            viewers,
        };
        (keeper, Office(sender))
    }

    /// Keeps the room until every way to the keeper is gone.
    pub(crate) async fn keep(mut self) {
        self.nodes.run_freely();
        loop {
            self.run().await;
            self.desk.publish_if_due(&self.viewers);
            let next = self.desk.session.next_instant();
            let desk = &mut self.desk;
            let behind = desk.session.owed() > desk.session.now();
            let due = desk.due(&self.viewers);
            let mut told = None;
            tokio::select! {
                biased;
                job = self.jobs.recv() => match job {
                    Some(job) => told = Some(job),
                    None => return,
                },
                stir = self.nodes.stirred() => self.nodes.take(stir).await,
                () = std::future::ready(()), if behind => {}
                () = desk.pace.reach(next) => {}
                () = sleep_until(due) => {}
                Ok(()) = self.viewers.changed() => {}
            }
            if let Some(job) = told {
                // What is done is done now, and not when the room last had something to do.
                self.run().await;
                job(&mut self.desk);
                while let Ok(job) = self.jobs.try_recv() {
                    // Each finds the room where the one before it has led.
                    self.run().await;
                    job(&mut self.desk);
                }
            }
        }
    }

    /// Lets the room run up to the present moment, or for as long as others can wait.
    async fn run(&mut self) {
        let started = Wall::now();
        let desk = &mut self.desk;
        let is_asked = !desk.pace.is_paused() || desk.session.owed() > Instant::START;
        if !is_asked && !desk.session.has_begun() && self.nodes.are_missing() {
            // The run begins with its nodes, or when somebody does not want to wait for them.
            return;
        }
        let shown = desk.pace.now();
        if self.nodes.has_news() {
            let at = desk.session.now().after(device::Span::from_ms(1));
            self.nodes.tell_news(at, desk.session.simulation_mut());
            desk.session.owe(at);
        }
        loop {
            let target = shown.max(desk.session.owed());
            match desk.session.step(target) {
                Ok(true) if !self.nodes.is_empty() => {
                    let at = desk.session.now();
                    self.nodes.end_instant(at).await;
                    let next = at.after(device::Span::from_ms(1));
                    self.nodes.tell_news(next, desk.session.simulation_mut());
                }
                Ok(true) => {}
                Ok(false) => break,
                Err(question) => {
                    let says = match &question.asked {
                        Asked::Input(input @ Input::Change(_)) => {
                            desk.session.words_of_change(question.at, input)
                        }
                        _ => String::new(),
                    };
                    let answer = self.nodes.ask(&question, &says).await;
                    desk.session.answer(answer);
                    // Nothing may be done in the middle of an instant: its answers belong to
                    // what was given so far.
                    continue;
                }
            }
            if started.elapsed() >= SLICE {
                // The room cannot keep up with its clock: the clock waits for the room.
                break;
            }
        }
        let now = desk.session.now();
        if now != shown {
            desk.pace.jump(now);
        }
        if !desk.pace.is_paused() && desk.session.hold() <= now {
            // A lesson has something to say, or the session has come to its last day.
            desk.pace.pause(true);
            desk.urgent = true;
        }
    }
}

impl Desk {
    /// What a viewer gets when it comes.
    pub(crate) fn seat(&self) -> Seat {
        Seat {
            revision: self.session.revision(),
            views: self.outlet.views.subscribe(),
            log: self.outlet.log.subscribe(),
            before: self.outlet.total,
            era: self.outlet.era,
        }
    }

    /// Lets the clock run, or stops it.
    pub(crate) fn run(&mut self, running: bool) {
        self.pace.pause(!running);
        self.urgent = true;
        if !running {
            self.session.answer_deed();
        }
    }

    /// Does something at a point, in the words of a scenario.
    pub(crate) fn act(&mut self, point: &str, event: &str) -> Result<(), Refusal> {
        self.urgent = true;
        self.session.act(point, event)?;
        self.answer();
        Ok(())
    }

    /// Lets there be noise at a sensor, a sound every so many seconds, or quiet.
    pub(crate) fn noise(&mut self, point: &str, seconds: Option<u32>) -> Result<(), Refusal> {
        self.urgent = true;
        let every = seconds.map(|seconds| device::Span::from_seconds(u64::from(seconds)));
        self.session.noise(point, every)?;
        self.answer();
        Ok(())
    }

    /// What is done while the clock stands is answered all the same.
    fn answer(&mut self) {
        if self.pace.is_paused() {
            self.session.answer_deed();
        }
    }

    /// Goes back to an earlier moment or on to a later one.
    pub(crate) fn go(&mut self, to: Instant) -> Result<(), Refusal> {
        self.urgent = true;
        if to >= self.session.now() {
            self.session.owe(to);
            return Ok(());
        }
        self.session.rewind(to)?;
        self.pace.jump(self.session.now());
        self.reset = true;
        Ok(())
    }

    /// Turns a setting of the room.
    pub(crate) fn set(&mut self, path: &str, value: &str) -> Result<(), Refusal> {
        self.urgent = true;
        self.session.set(path, value)
    }

    /// Begins anew in a room, the present one or another: empty, or with the rows of a scenario.
    pub(crate) fn load(
        &mut self,
        room: Option<&str>,
        scenario: Option<&str>,
    ) -> Result<(), Refusal> {
        if self.session.has_nodes() {
            return Err(Refusal::new(
                "devices that run in other processes cannot begin anew",
                "start `roomrig live` again",
            ));
        }
        let stage = match room {
            None => Arc::clone(&self.session.stage),
            Some(folder) => {
                let named = self.site.iter().find(|stage| stage.folder() == folder);
                Arc::clone(named.ok_or_else(|| {
                    let message = format!("there is no room `{folder}` here");
                    Refusal::new(message, "choose one of the rooms that were opened")
                })?)
            }
        };
        let seed = self.session.seed();
        let mut session = match scenario {
            None => Session::new(stage, seed)?,
            Some(name) => Session::of_scenario(stage, seed, Vec::new(), name)?,
        };
        session.follow(&self.session);
        self.session = session;
        self.end_pace_of_lesson();
        self.pace.pause(true);
        self.pace.jump(Instant::START);
        self.reset = true;
        self.urgent = true;
        Ok(())
    }

    /// Begins a lesson.
    pub(crate) fn teach(&mut self, room: Option<&str>, file: &str) -> Result<(), Refusal> {
        let folder = room.map_or_else(|| self.session.stage.folder(), str::to_owned);
        let stage = self.site.iter().find(|stage| stage.folder() == folder);
        let scene = stage.unwrap_or(&self.session.stage).scene(file)?;
        let course = Course::new(&scene.script, file)?;
        self.load(room, Some(file))?;
        self.session.course = Some(course);
        self.go_on();
        Ok(())
    }

    /// Somebody answers the question of the lesson.
    pub(crate) fn choose(&mut self, choice: usize) -> Result<(), Refusal> {
        self.course()?.choose(choice)?;
        self.go_on();
        Ok(())
    }

    /// Somebody has read what the lesson says.
    pub(crate) fn read_on(&mut self) -> Result<(), Refusal> {
        match self.course()?.read_on()? {
            true => self.go_on(),
            false => self.dismiss(),
        }
        Ok(())
    }

    /// Stops the lesson; the room stays as it is.
    pub(crate) fn dismiss(&mut self) {
        self.session.course = None;
        self.end_pace_of_lesson();
        self.pace.pause(true);
        self.urgent = true;
    }

    /// What comes after a lesson does not run at the pace of the lesson.
    fn end_pace_of_lesson(&mut self) {
        if let Some(speed) = self.before_lesson.take() {
            self.pace.speed(speed);
        }
    }

    fn course(&mut self) -> Result<&mut Course, Refusal> {
        let course = self.session.course.as_mut();
        course.ok_or_else(|| Refusal::new("no lesson is being given", "choose a lesson"))
    }

    /// Lets the room run to where the lesson goes on, in a few seconds of the wall.
    fn go_on(&mut self) {
        let ahead = self.session.hold().since(self.session.now()).as_ms();
        let speed = u32::try_from(ahead.div_ceil(LESSON_MS)).unwrap_or(u32::MAX);
        self.before_lesson.get_or_insert(self.pace.times());
        self.pace.speed(speed);
        self.pace.pause(false);
        self.urgent = true;
    }

    /// Changes how fast the clock runs.
    pub(crate) fn set_speed(&mut self, speed: u32) {
        self.pace.speed(speed);
        self.urgent = true;
    }

    /// Lets the room come to the next instant at which something happens, or to the next one of
    /// which somebody can see something; then it stands still.
    pub(crate) fn step(&mut self, seen: bool) -> Result<(), Refusal> {
        self.pace.pause(true);
        self.urgent = true;
        self.session.owe_next(seen)
    }

    /// When the next view is due: never while nothing changes.
    fn due(&self, viewers: &watch::Receiver<usize>) -> Option<Wall> {
        let news =
            self.session.steps() > self.outlet.told || *viewers.borrow() != self.outlet.viewers;
        let after = match (self.urgent, news, self.pace.is_paused()) {
            (true, ..) => Duration::ZERO,
            (_, true, _) if self.answers > 0 => Duration::ZERO,
            (_, true, _) => QUICKEST,
            (_, _, true) => return None,
            _ if self.session.is_moving() => QUICKEST,
            _ => USUAL,
        };
        Some(self.outlet.last + after)
    }

    fn publish_if_due(&mut self, viewers: &watch::Receiver<usize>) {
        if self.due(viewers).is_some_and(|due| due <= Wall::now()) {
            self.outlet.viewers = *viewers.borrow();
            // What the room answers a moment later does not wait for its turn.
            self.answers = match std::mem::take(&mut self.urgent) {
                true => ANSWERS,
                false => self.answers.saturating_sub(1),
            };
            self.publish();
        }
    }

    /// Publishes how the room stands and what has happened since the last time.
    fn publish(&mut self) {
        let outlet = &mut self.outlet;
        outlet.last = Wall::now();
        let steps = self.session.steps();
        if std::mem::take(&mut self.reset) {
            outlet.told = outlet.told.min(steps);
            outlet.era += 1;
            outlet.send(0, event("reset", &serde_json::json!({})));
        }
        let mut view = self.session.view();
        view.running = !self.pace.is_paused();
        view.speed = self.pace.times();
        view.viewers = outlet.viewers;
        let _nobody = outlet.views.send_replace(event("view", &view));
        let first = std::mem::replace(&mut outlet.told, steps);
        if first >= steps {
            return;
        }
        // What nobody could read in such a hurry can be asked for.
        let shown = first.max(steps.saturating_sub(MOST_LOG));
        if shown > first {
            let missed = shown - first;
            outlet.send(
                missed,
                event("missed", &serde_json::json!({ "n": missed, "next": shown })),
            );
        }
        let rows = self.session.log(shown, steps);
        let log = serde_json::json!({ "first": shown, "rows": rows });
        outlet.send(steps - shown, event("log", &log));
    }
}

impl Outlet {
    fn send(&mut self, steps: usize, text: Bytes) {
        let steps = u64::try_from(steps).unwrap_or(u64::MAX);
        let before = self.total;
        self.total += steps;
        let _nobody = self.log.send(Piece {
            steps,
            before,
            era: self.era,
            text,
        });
    }
}

impl Office {
    /// Has the keeper do something, and waits for what comes of it.
    pub(crate) async fn ask<T: Send + 'static>(
        &self,
        job: impl FnOnce(&mut Desk) -> T + Send + 'static,
    ) -> Result<T, Gone> {
        let (sender, receiver) = oneshot::channel();
        let job: Job = Box::new(move |desk| {
            let _asker_gone = sender.send(job(desk));
        });
        self.0.send(job).await.map_err(|_| Gone)?;
        receiver.await.map_err(|_| Gone)
    }
}

async fn sleep_until(due: Option<Wall>) {
    match due {
        Some(due) => tokio::time::sleep_until(due).await,
        None => std::future::pending().await,
    }
}

/// An event of a stream as it goes over the wire.
pub(crate) fn event(name: &str, data: &impl Serialize) -> Bytes {
    let mut text = format!("event: {name}\ndata: ").into_bytes();
    serde_json::to_writer(&mut text, data).expect("what is published is maps of plain values");
    text.extend_from_slice(b"\n\n");
    // Many events wait for slow viewers; none takes more than it says.
    Bytes::from(text.into_boxed_slice())
}

/// How long the room takes from one step of a lesson to the next, in milliseconds of the wall.
const LESSON_MS: u64 = 6_000;

/// How many jobs may wait.
const JOBS: usize = 64;

/// How many pieces of the log a viewer may be behind.
const PIECES: usize = 64;

/// How many steps one piece of the log shows at most.
const MOST_LOG: usize = 200;

/// How long the room may run before others are looked at.
const SLICE: Duration = Duration::from_millis(20);

/// How many views after a command need not wait for their turn.
const ANSWERS: u8 = 2;

/// Views are at least this far apart, but for commands and what the room answers.
const QUICKEST: Duration = Duration::from_millis(50);

/// How far apart views are while the clock runs and nothing else happens.
const USUAL: Duration = Duration::from_millis(250);
