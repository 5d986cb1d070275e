//! `roomrig live`: a room as a page, or a room or a scenario whose steps are printed while other
//! processes play devices of it.

mod page;

use std::collections::hash_map::RandomState;
use std::hash::{BuildHasher, Hasher};
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use live::{Commands, Door, Feed, Hall, Heard, Host, Limits, Publisher, Setting, Subscription};
use room::{Plan, Slots};
use scenario::room_file::RoomFile;
use scenario::run::{Play, Verdict};
use sim::Trace;
use sim::export::{Header, Record};
use tokio::net::TcpListener;
use tokio::runtime::Runtime;
use tokio_stream::StreamExt;

use super::node::device;
use crate::args;
use crate::failure::Failure;
use crate::rooms::{self, Single};
use crate::{Ended, Outcome, output};

/// Runs `roomrig live`.
pub(crate) fn run(args: &args::Live) -> Outcome {
    let is_room = args.path.is_dir();
    if !args.lines && (is_room || args.nodes.is_empty()) {
        return page::run(args);
    }
    if is_room {
        let (plan, room) = room(&args.path)?;
        return runtime()?.block_on(freely(args, plan, room));
    }
    let (suite, script) = rooms::open_one(&args.path)?;
    let play = Play::new(&script, args.seed);
    let outcome = runtime()?.block_on(async {
        let (hall, door) = hall(args, &script.plan);
        let setting = setting(args, &script.plan, PATIENCE)?;
        let host = Host::new(setting, play.quality(), door, Feed::new(1));
        let listener = listen(args, &hall).await?;
        // The nodes are received for as long as the scenario is played, and no longer.
        tokio::select! {
            outcome = host.play(play) => Ok::<_, Failure>(outcome),
            never = hall.0.listen(listener) => match never {},
        }
    })?;
    let single = Single::new(suite, outcome);
    output::data(report::trace::json_lines(&single.run()).as_bytes())?;
    Ok(match single.outcome.verdict {
        Verdict::Held => Ended::Held,
        Verdict::Broken => Ended::Broken,
        Verdict::Undecided => Ended::Undecided,
    })
}

/// Runs a room until it is interrupted or its time is up, and prints every step.
async fn freely(args: &args::Live, plan: Arc<Plan>, room: RoomFile) -> Outcome {
    let (hall, door) = hall(args, &plan);
    let feed = Feed::new(4_096);
    let steps = feed.subscribe();
    let quality = room.quality;
    let quality = |source, listener| {
        quality
            .get(&(source, listener))
            .copied()
            .unwrap_or_default()
    };
    let host = Host::new(setting(args, &plan, PATIENCE)?, quality, door, feed);
    let listener = listen(args, &hall).await?;
    let (publisher, commands) = Publisher::new();
    tokio::select! {
        printed = print(&plan, steps, host, args.speed, commands) => printed?,
        never = hall.0.listen(listener) => match never {},
        () = end(args.duration) => {}
    }
    drop(publisher);
    Ok(Ended::Held)
}

/// Prints what happens while the host runs.
async fn print(
    plan: &Plan,
    mut steps: Subscription,
    host: Host,
    speed: u32,
    commands: Commands,
) -> Result<(), Failure> {
    let running = tokio::spawn(host.run_freely(speed, commands));
    let slots = Slots::new(plan);
    line(&Header::new(plan))?;
    while let Some(heard) = steps.next().await {
        let moment = match heard {
            Heard::Moment(moment) => moment,
            Heard::Missed(missed) => {
                output::talk(&format!(
                    "{missed} moments came too fast and are not printed"
                ));
                continue;
            }
        };
        let trace = Trace {
            steps: moment.steps.clone(),
        };
        for mut record in Record::of(&trace, plan, &slots) {
            record.step += moment.first.number();
            line(&record)?;
        }
    }
    running.abort();
    Ok(())
}

fn line(value: &impl serde::Serialize) -> Result<(), Failure> {
    let mut line = serde_json::to_string(value).expect("a record is a map of flat values");
    line.push('\n');
    output::data(line.as_bytes())
}

/// When the run ends: when its time is up, or at an interrupt.
async fn end(seconds: Option<u64>) {
    match seconds {
        Some(seconds) => tokio::time::sleep(Duration::from_secs(seconds)).await,
        None => {
            if tokio::signal::ctrl_c().await.is_err() {
                std::future::pending::<()>().await;
            }
        }
    }
}

/// A room and its plan, from its folder.
pub(crate) fn room(folder: &Path) -> Result<(Arc<Plan>, RoomFile), Failure> {
    let suite = rooms::open_all(&[folder.to_path_buf()])?;
    let [room] = suite.rooms.as_slice() else {
        let message = format!("{}: holds {} rooms", folder.display(), suite.rooms.len());
        return Err(Failure::new(message, "name the folder of one room"));
    };
    let room = rooms::read(room).clone();
    Ok((Arc::new(room.plan.clone()), room))
}

/// The one thread on which a room and its connections run.
pub(crate) fn runtime() -> Result<Runtime, Failure> {
    let mut builder = tokio::runtime::Builder::new_current_thread();
    builder.enable_all().build().map_err(|error| {
        let message = format!("the connections cannot be set up: {error}");
        Failure::new(message, "")
    })
}

fn setting(args: &args::Live, plan: &Arc<Plan>, patience: u64) -> Result<Setting, Failure> {
    let outside = args.nodes.iter().map(|name| device(plan, name));
    Ok(Setting {
        plan: Arc::clone(plan),
        outside: outside.collect::<Result<_, _>>()?,
        seed: args.seed,
        limits: Limits {
            answer: Duration::from_millis(args.patience.unwrap_or(patience)),
            ..Limits::default()
        },
    })
}

/// The hall of a room with its token, and the door behind it.
fn hall(args: &args::Live, plan: &Plan) -> ((Hall, String), Door) {
    let token = args.token.clone().unwrap_or_else(new_token);
    let (hall, door) = Hall::new(plan, &token, Duration::from_secs(2));
    ((hall, token), door)
}

async fn listen(args: &args::Live, (_, token): &(Hall, String)) -> Result<TcpListener, Failure> {
    let failed = |error| {
        let message = format!("{} cannot be listened to: {error}", args.join);
        Failure::new(message, "is the port in use? port 0 takes any that is free")
    };
    let listener = TcpListener::bind(args.join).await.map_err(failed)?;
    let address = listener.local_addr().map_err(failed)?;
    if !address.ip().is_loopback() {
        output::talk("whoever reaches this address and has the token can play these devices");
    }
    for name in &args.nodes {
        let path = args.path.display();
        output::talk(&format!(
            "roomrig node {path} {name} --host {address} --token {token}"
        ));
    }
    Ok(listener)
}

/// A token that nobody can guess: two numbers that the system seeds its tables with.
fn new_token() -> String {
    let number = || RandomState::new().build_hasher().finish();
    format!("{:016x}{:016x}", number(), number())
}

/// How long a node may take for an answer when nobody watches, in milliseconds.
const PATIENCE: u64 = 2_000;
