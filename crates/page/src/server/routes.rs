//! What the server answers to what is asked.
//!
//! Invariant: only the trainer's requests change anything; a malformed request changes nothing.

use std::net::SocketAddr;
use std::sync::Arc;

use axum::Router;
use axum::body::{Body, Bytes};
use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode, Uri, header};
use axum::response::Response;
use serde::{Deserialize, Serialize};
use sim::Instant;
use tokio::sync::watch;

use super::answer::{self, json, refused};
use super::assets::{Asset, PAGE};
use super::gate::{Gate, Role, code_of, is_own};
use super::keeper::{Desk, Gone, Office};
use super::query;
use super::stream::{Events, Present};
use crate::Refusal;

/// What every request may need.
#[derive(Debug)]
pub(crate) struct Front {
    pub(crate) gate: Gate,
    pub(crate) office: Office,
    pub(crate) viewers: Arc<watch::Sender<usize>>,
}

/// The address of whoever asks.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Peer(pub(crate) SocketAddr);

/// Everything that can be asked.
pub(crate) fn router(front: Arc<Front>) -> Router {
    Router::new().fallback(serve).with_state(front)
}

async fn serve(State(front): State<Arc<Front>>, request: Request) -> Response {
    let (parts, body) = request.into_parts();
    let (uri, headers) = (&parts.uri, &parts.headers);
    if !front.gate.knows_host(headers) {
        return refused(
            StatusCode::MISDIRECTED_REQUEST,
            "this page is not known under that name",
            "open the address that `roomrig live` printed",
        );
    }
    let path = uri.path();
    if let Some(name) = path.strip_prefix("/assets/") {
        return match (Asset::find(name), &parts.method) {
            (Some(asset), &Method::GET | &Method::HEAD) => {
                answer::asset(asset, headers.get(header::IF_NONE_MATCH))
            }
            (Some(_), _) => not_so(),
            (None, _) => nothing(),
        };
    }
    let Some(role) = front.gate.role(uri, headers) else {
        let has_shown = code_of(uri).is_some_and(|code| !code.is_empty());
        return answer::stranger(path == "/", has_shown);
    };
    match parts.method {
        Method::GET | Method::HEAD if path == "/" => {
            if let Some(code) = code_of(uri).filter(|_| front.gate.viewer().is_some()) {
                return answer::welcome(&front.gate.cookie(&code));
            }
            answer::asset(&PAGE, headers.get(header::IF_NONE_MATCH))
        }
        Method::GET if path == "/api/share" => front.share(role, headers),
        Method::GET => front.look(path, uri, role).await,
        Method::POST if !COMMANDS.contains(&path) => nothing_or_not_so(path),
        Method::POST => {
            let peer = parts.extensions.get::<Peer>().map(|peer| peer.0);
            if !is_own(headers, peer) {
                return refused(
                    StatusCode::FORBIDDEN,
                    "this command comes from another site",
                    "give commands on the page itself",
                );
            }
            if role != Role::Trainer {
                return watching();
            }
            match axum::body::to_bytes(body, LONGEST).await {
                Ok(body) => front.command(path, &body).await,
                Err(_) => refused(
                    StatusCode::PAYLOAD_TOO_LARGE,
                    "this is too long for a command, or ended early",
                    "a command is a short JSON object",
                ),
            }
        }
        _ => nothing_or_not_so(path),
    }
}

/// A point, and what happens there.
#[derive(Debug, Deserialize)]
struct Act {
    point: String,
    event: String,
}

/// Noise at a sensor: a sound every so many seconds, or quiet.
#[derive(Debug, Deserialize)]
struct Noise {
    point: String,
    every: Option<u32>,
}

/// What becomes of the clock.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
struct Clock {
    running: Option<bool>,
    speed: Option<u32>,
    step: Option<Step>,
    to: Option<u64>,
}

/// How far a step goes.
#[derive(Clone, Copy, Debug, Deserialize, Eq, PartialEq)]
#[serde(rename_all = "lowercase")]
enum Step {
    Event,
    Instant,
}

/// A setting and its new value.
#[derive(Debug, Deserialize)]
struct Set {
    path: String,
    value: String,
}

/// The title under which a session is written.
#[derive(Debug, Deserialize)]
struct Save {
    #[serde(default)]
    title: String,
}

/// What a session begins with.
#[derive(Debug, Deserialize)]
struct Load {
    #[serde(default)]
    room: Option<String>,
    #[serde(default)]
    scenario: Option<String>,
}

/// What becomes of a lesson.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
struct Teach {
    room: Option<String>,
    file: Option<String>,
    choice: Option<usize>,
    next: bool,
    stop: bool,
}

impl Front {
    /// Answers what only looks.
    async fn look(&self, path: &str, uri: &Uri, role: Role) -> Response {
        let number = |key: &str| {
            query::value(uri, key)
                .map(|text| text.parse::<u64>())
                .transpose()
        };
        let (Ok(from), Ok(to), Ok(at)) = (number("from"), number("to"), number("at")) else {
            return refused(
                StatusCode::BAD_REQUEST,
                "`from`, `to` and `at` are whole numbers",
                "moments are milliseconds since the start, steps are counted from 0",
            );
        };
        let at = at.map(Instant::from_ms);
        match path {
            "/api/stream" => stream(self, role).await,
            "/api/room" => {
                self.show(|desk| json(StatusCode::OK, &desk.session.still(&desk.site)))
                    .await
            }
            "/api/history" => {
                let from = Instant::from_ms(from.unwrap_or(0));
                self.show(move |desk| json(StatusCode::OK, &desk.session.past(from)))
                    .await
            }
            "/api/log" => self.show(move |desk| log(desk, from, to)).await,
            "/api/why" => {
                let output = query::value(uri, "output").unwrap_or_default();
                self.show(move |desk| judged(desk.session.why(&output, at)))
                    .await
            }
            "/api/timeline" => {
                let from = Instant::from_ms(from.unwrap_or(0));
                let to = Instant::from_ms(to.unwrap_or(u64::MAX));
                self.show(move |desk| match desk.session.picture(from, to) {
                    Ok(svg) => answer::picture(svg),
                    Err(refusal) => json(StatusCode::UNPROCESSABLE_ENTITY, &refusal),
                })
                .await
            }
            "/api/room.toml" => {
                self.show(|desk| match desk.session.export() {
                    Ok(text) => answer::file("room.toml", text),
                    Err(refusal) => json(StatusCode::UNPROCESSABLE_ENTITY, &refusal),
                })
                .await
            }
            _ => nothing_or_not_so(path),
        }
    }

    /// How others are let in.
    fn share(&self, role: Role, headers: &HeaderMap) -> Response {
        if role != Role::Trainer {
            return watching();
        }
        let host = headers
            .get(header::HOST)
            .and_then(|host| host.to_str().ok());
        let code = self.gate.viewer();
        let url = code
            .zip(host)
            .map(|(code, host)| format!("http://{host}/?code={code}"));
        json(
            StatusCode::OK,
            &serde_json::json!({ "code": code, "url": url }),
        )
    }

    /// Shows something of the room.
    async fn show(&self, look: impl FnOnce(&mut Desk) -> Response + Send + 'static) -> Response {
        self.office.ask(look).await.unwrap_or_else(|Gone| gone())
    }

    /// Does something in the room.
    async fn change(
        &self,
        change: impl FnOnce(&mut Desk) -> Result<(), Refusal> + Send + 'static,
    ) -> Response {
        self.show(move |desk| match change(desk) {
            Ok(()) => answer::done(),
            Err(refusal) => json(StatusCode::UNPROCESSABLE_ENTITY, &refusal),
        })
        .await
    }

    async fn command(&self, path: &str, body: &Bytes) -> Response {
        match path {
            "/api/act" => match read::<Act>(body) {
                Ok(act) => {
                    self.change(move |desk| desk.act(&act.point, &act.event))
                        .await
                }
                Err(refused) => *refused,
            },
            "/api/noise" => match read::<Noise>(body) {
                Ok(noise) => {
                    self.change(move |desk| desk.noise(&noise.point, noise.every))
                        .await
                }
                Err(refused) => *refused,
            },
            "/api/clock" => match read::<Clock>(body) {
                Ok(clock) => self.change(move |desk| set_clock(desk, &clock)).await,
                Err(refused) => *refused,
            },
            "/api/set" => match read::<Set>(body) {
                Ok(set) => {
                    self.change(move |desk| desk.set(&set.path, &set.value))
                        .await
                }
                Err(refused) => *refused,
            },
            "/api/load" => match read::<Load>(body) {
                Ok(load) => {
                    let load = move |desk: &mut Desk| {
                        desk.load(load.room.as_deref(), load.scenario.as_deref())
                    };
                    self.change(load).await
                }
                Err(refused) => *refused,
            },
            "/api/lesson" => match read::<Teach>(body) {
                Ok(teach) => self.change(move |desk| give_lesson(desk, &teach)).await,
                Err(refused) => *refused,
            },
            "/api/save" => match read::<Save>(body) {
                Ok(save) => self.save(save).await,
                Err(refused) => *refused,
            },
            _ => nothing(),
        }
    }

    /// Writes the session as a scenario, beside the room: that may take a while.
    async fn save(&self, save: Save) -> Response {
        let Ok(draft) = self
            .office
            .ask(move |desk| desk.session.draft(&save.title))
            .await
        else {
            return gone();
        };
        let written = tokio::task::spawn_blocking(move || draft.write()).await;
        written.map_or_else(|_| gone(), judged)
    }
}

fn judged<T: Serialize>(judged: Result<T, Refusal>) -> Response {
    match judged {
        Ok(value) => json(StatusCode::OK, &value),
        Err(refusal) => json(StatusCode::UNPROCESSABLE_ENTITY, &refusal),
    }
}

/// Steps of the trace in words.
fn log(desk: &Desk, from: Option<u64>, to: Option<u64>) -> Response {
    let steps = desk.session.steps();
    let number = |it: u64| usize::try_from(it).unwrap_or(usize::MAX).min(steps);
    let from = number(from.unwrap_or(0));
    let to = to.map_or(steps, number);
    let shown = to.min(from.saturating_add(MOST_LOG));
    let rows = desk.session.log(from, shown);
    let next = (shown < to).then_some(shown);
    let log = serde_json::json!({ "first": from, "rows": rows, "next": next });
    json(StatusCode::OK, &log)
}

fn give_lesson(desk: &mut Desk, teach: &Teach) -> Result<(), Refusal> {
    match teach {
        Teach { stop: true, .. } => {
            desk.dismiss();
            Ok(())
        }
        Teach { next: true, .. } => desk.read_on(),
        Teach {
            choice: Some(choice),
            ..
        } => desk.choose(*choice),
        Teach {
            file: Some(file), ..
        } => desk.teach(teach.room.as_deref(), file),
        _ => Err(Refusal::new(
            "what becomes of the lesson is missing",
            "send a file, a choice, next or stop",
        )),
    }
}

fn set_clock(desk: &mut Desk, clock: &Clock) -> Result<(), Refusal> {
    if clock
        .speed
        .is_some_and(|speed| !(1..=3_600).contains(&speed))
    {
        return Err(Refusal::new(
            "the room runs at 1 to 3600 times the clock on the wall",
            "choose a speed in between",
        ));
    }
    if let Some(to) = clock.to {
        desk.go(Instant::from_ms(to))?;
    }
    match clock.step {
        Some(Step::Event) => desk.step(true)?,
        Some(Step::Instant) => desk.step(false)?,
        None => {}
    }
    if let Some(speed) = clock.speed {
        desk.set_speed(speed);
    }
    if let Some(running) = clock.running {
        desk.run(running);
    }
    Ok(())
}

async fn stream(front: &Front, role: Role) -> Response {
    let Some(present) = Present::new(&front.viewers) else {
        return refused(
            StatusCode::SERVICE_UNAVAILABLE,
            "too many people are watching already",
            "close a page that nobody needs",
        );
    };
    match front.office.ask(|desk| desk.seat()).await {
        Ok(seat) => {
            let events = Body::from_stream(Events::new(seat, role, present));
            let mut response = answer::plain(StatusCode::OK, "text/event-stream", events);
            let never = HeaderValue::from_static("no-cache, no-transform");
            response.headers_mut().insert(header::CACHE_CONTROL, never);
            response
        }
        Err(Gone) => gone(),
    }
}

/// A command that was sent.
fn read<T: for<'de> Deserialize<'de>>(body: &Bytes) -> Result<T, Box<Response>> {
    serde_json::from_slice(body).map_err(|error| {
        Box::new(refused(
            StatusCode::BAD_REQUEST,
            &format!("this command is not understood: {error}"),
            "send a JSON object as the protocol of the page says",
        ))
    })
}

fn watching() -> Response {
    refused(
        StatusCode::FORBIDDEN,
        "you are watching: the trainer drives the room",
        "ask the trainer, or come in with the trainer's code",
    )
}

fn nothing_or_not_so(path: &str) -> Response {
    if path == "/" || COMMANDS.contains(&path) || SHOWN.contains(&path) {
        not_so()
    } else {
        nothing()
    }
}

fn nothing() -> Response {
    refused(
        StatusCode::NOT_FOUND,
        "there is nothing under this address",
        "open the address that `roomrig live` printed",
    )
}

fn not_so() -> Response {
    refused(
        StatusCode::METHOD_NOT_ALLOWED,
        "this cannot be asked in this way",
        "pictures are fetched by GET, commands are given by POST",
    )
}

fn gone() -> Response {
    refused(
        StatusCode::SERVICE_UNAVAILABLE,
        "the room has stopped",
        "start `roomrig live` again",
    )
}

/// What changes the room.
const COMMANDS: [&str; 7] = [
    "/api/act",
    "/api/clock",
    "/api/lesson",
    "/api/load",
    "/api/noise",
    "/api/save",
    "/api/set",
];

/// What shows it.
const SHOWN: [&str; 8] = [
    "/api/history",
    "/api/log",
    "/api/room",
    "/api/room.toml",
    "/api/share",
    "/api/stream",
    "/api/timeline",
    "/api/why",
];

/// How many steps of the trace one answer shows.
const MOST_LOG: usize = 1_000;

/// How long a command may be, in bytes.
const LONGEST: usize = 64 * 1_024;
