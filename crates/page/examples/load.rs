//! Puts load on a page: 200 viewers and 50 nodes at 60 times the wall clock, a viewer that does
//! not read and a node that hangs; and says how the memory of the server grew, whether a command
//! was lost, and how long it took from a press to the light on the viewers' screens.
//!
//! `cargo run --release --example load -p page -- 600` runs for ten minutes. It fails when memory
//! grows after the first minute, when a command is lost, when a viewer misses a press, and when
//! one press in a hundred takes longer than 0.1 s. A second number is another speed than 60.
#![expect(
    clippy::print_stdout,
    clippy::unwrap_used,
    clippy::disallowed_methods,
    reason = "a programme for people that measures wall time, and has nobody to tell but them"
)]

use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitCode, Stdio};
use std::sync::Arc;
use std::time::{Duration, Instant};

use live::{Door, Hall, Limits, Nodes, Part};
use page::server::{Page, Setting};
use page::{Session, Stage};
use tokio::io::{AsyncBufReadExt, AsyncReadExt, AsyncWriteExt, BufReader};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{mpsc, watch};

const VIEWERS: usize = 200;
const SENSORS: usize = 49;
const SPEED: u32 = 60;
const TOKEN: &str = "load";

fn main() -> ExitCode {
    let args: Vec<String> = std::env::args().collect();
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()
        .unwrap();
    if let [_, serve, folder] = args.as_slice()
        && serve == "serve"
    {
        runtime.block_on(server(Path::new(folder)));
        return ExitCode::SUCCESS;
    }
    let number = |place, usual| {
        args.get(place)
            .map_or(usual, |it: &String| it.parse().unwrap())
    };
    let (seconds, speed) = (number(1, 60), number(2, SPEED));
    let kept = runtime.block_on(load(Duration::from_secs(seconds.into()), speed));
    ExitCode::from(u8::from(!kept))
}

/// The server, in a process of its own so that its memory can be told from that of the viewers.
async fn server(folder: &Path) {
    let site = Stage::open(folder).unwrap();
    let plan = Arc::new(site[0].plan().clone());
    let outside = names()
        .iter()
        .map(|name| live::devices(&plan)[name])
        .collect::<Vec<_>>();
    let (hall, door): (Hall, Door) = Hall::new(&plan, TOKEN, Duration::from_secs(5));
    let bench = live::Setting {
        plan,
        outside: outside.clone(),
        seed: 0,
        limits: Limits {
            answer: Duration::from_secs(1),
            ..Limits::default()
        },
    };
    let session = Session::with_outside(Arc::clone(&site[0]), 0, outside).unwrap();
    let (http, nodes) = (bind().await, bind().await);
    println!(
        "{} {}",
        http.local_addr().unwrap(),
        nodes.local_addr().unwrap()
    );
    let setting = Setting {
        codes: None,
        port: http.local_addr().unwrap().port(),
        speed: SPEED,
    };
    let page = Page::new(site, session, Nodes::new(&bench, door), setting);
    tokio::select! {
        () = page.serve(http, std::future::pending()) => {}
        never = hall.listen(nodes) => match never {},
    }
}

async fn bind() -> TcpListener {
    TcpListener::bind("127.0.0.1:0").await.unwrap()
}

/// The devices that nodes play.
fn names() -> Vec<String> {
    let sensors = (1..=SENSORS).map(|number| format!("sensor-{number}"));
    sensors.chain(["button".to_owned()]).collect()
}

/// A room with a sensor and a light for each node, and a button for the hand that presses.
fn room() -> PathBuf {
    let folder = std::env::temp_dir().join(format!("roomrig-load-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let text = format!(
        "name = \"Load\"\ntime-zone = \"Europe/London\"\n\
         [outputs.lamp]\ndrive = \"relay\"\n[outputs.light]\ndrive = \"0-10 V\"\ncopies = {SENSORS}\n\
         [sources.sensor]\nkind = \"occupancy\"\ncopies = {SENSORS}\ntime-delay = \"5 min\"\n\
         [sources.button]\nkind = \"switch\"\nbuttons = \"single\"\n\
         [[links]]\nfrom = \"sensor\"\nto = \"light\"\nrole = \"auto-on\"\n\
         [[links]]\nfrom = \"button\"\nto = \"lamp\"\n"
    );
    std::fs::write(folder.join("room.toml"), text).unwrap();
    folder
}

struct Server {
    child: Child,
    http: SocketAddr,
    nodes: SocketAddr,
}

impl Server {
    fn start(folder: &Path) -> Self {
        let own = std::env::current_exe().unwrap();
        let mut child = Command::new(own)
            .arg("serve")
            .arg(folder)
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut line = String::new();
        let mut out = std::io::BufReader::new(child.stdout.take().unwrap());
        std::io::BufRead::read_line(&mut out, &mut line).unwrap();
        let (http, nodes) = line.trim().split_once(' ').unwrap();
        Self {
            child,
            http: http.parse().unwrap(),
            nodes: nodes.parse().unwrap(),
        }
    }

    /// The resident memory of the server, in KiB.
    fn memory(&self) -> u64 {
        let status = std::fs::read_to_string(format!("/proc/{}/status", self.child.id())).unwrap();
        let line = status
            .lines()
            .find(|line| line.starts_with("VmRSS:"))
            .unwrap();
        line.split_whitespace().nth(1).unwrap().parse().unwrap()
    }
}

/// When a viewer saw the lamp in a new state.
struct Seen {
    viewer: usize,
    on: bool,
    at: Instant,
}

/// Puts the load on, and tells whether every bar was kept.
async fn load(length: Duration, speed: u32) -> bool {
    let folder = room();
    let mut server = Server::start(&folder);
    let hang = join_nodes(&folder, server.nodes).await;
    let (told, seen) = mpsc::unbounded_channel();
    for viewer in 0..VIEWERS {
        tokio::spawn(view(server.http, viewer, told.clone()));
    }
    let _slow = silent_viewer(server.http).await;
    tokio::time::sleep(Duration::from_secs(2)).await;
    let mut trial = Trial::new(server.http, seen).await;
    let clock = format!("{{\"running\":true,\"speed\":{speed}}}");
    trial.hand.post("/api/clock", &clock).await;

    let mut memory = Vec::new();
    let mut next_look = Duration::ZERO;
    while trial.started.elapsed() < length {
        if trial.started.elapsed() >= next_look {
            memory.push((trial.started.elapsed(), server.memory()));
            next_look += Duration::from_secs(1);
        }
        if trial.started.elapsed() > length / 3 && !*hang.borrow() {
            hang.send_replace(true);
        }
        for sensor in [trial.given % 49 + 1, trial.given * 7 % 49 + 1] {
            let point = format!("sensor-{sensor}");
            trial.act(&point, "motion").await;
        }
        trial.press().await;
        tokio::time::sleep(Duration::from_millis(700)).await;
    }
    memory.push((trial.started.elapsed(), server.memory()));
    let kept = [trial.report().await, does_not_grow(&memory)];
    server.child.kill().unwrap();
    server.child.wait().unwrap();
    std::fs::remove_dir_all(folder).unwrap();
    kept == [true; 2]
}

/// Lets every device outside join; the first hangs when it is told to.
async fn join_nodes(folder: &Path, host: SocketAddr) -> watch::Sender<bool> {
    let plan = Arc::new(Stage::open(folder).unwrap()[0].plan().clone());
    let (hang, hanging) = watch::channel(false);
    for (number, name) in names().into_iter().enumerate() {
        let part = Part::of_room(Arc::clone(&plan), live::devices(&plan)[&name]);
        let stream = TcpStream::connect(host).await.unwrap();
        stream.set_nodelay(true).unwrap();
        let hangs = (number == 0).then(|| hanging.clone());
        tokio::spawn(node(part, stream, hangs));
    }
    hang
}

/// Commands, and what came of them.
struct Trial {
    hand: Hand,
    seen: mpsc::UnboundedReceiver<Seen>,
    started: Instant,
    given: u64,
    taken: u64,
    /// How the lamp was seen last.
    on: bool,
    latencies: Vec<Duration>,
    answered: Vec<Duration>,
    unseen: usize,
}

impl Trial {
    async fn new(http: SocketAddr, seen: mpsc::UnboundedReceiver<Seen>) -> Self {
        let hand = Hand(TcpStream::connect(http).await.unwrap());
        hand.0.set_nodelay(true).unwrap();
        Self {
            hand,
            seen,
            started: Instant::now(),
            given: 0,
            taken: 0,
            on: false,
            latencies: Vec::new(),
            answered: Vec::new(),
            unseen: 0,
        }
    }

    /// Does something in the room.
    async fn act(&mut self, point: &str, event: &str) {
        let act = format!("{{\"point\":\"{point}\",\"event\":\"{event}\"}}");
        let asked = Instant::now();
        self.given += 1;
        self.taken += u64::from(self.hand.post("/api/act", &act).await == 204);
        self.answered.push(asked.elapsed());
    }

    /// Presses the button and waits until every viewer has seen what came of it.
    async fn press(&mut self) {
        while let Ok(late) = self.seen.try_recv() {
            self.on = late.on;
        }
        self.on = !self.on;
        let pressed = Instant::now();
        self.act("button", "tap").await;
        let deadline = tokio::time::Instant::now() + Duration::from_secs(5);
        let mut there = 0;
        while there < VIEWERS {
            let now = self.started.elapsed().as_secs();
            match tokio::time::timeout_at(deadline, self.seen.recv()).await {
                Ok(Some(Seen { on, at, .. })) if on == self.on => {
                    self.latencies.push(at.saturating_duration_since(pressed));
                    there += 1;
                }
                Ok(Some(Seen { viewer, .. })) => {
                    println!("after {now} s viewer {viewer} saw another state");
                }
                _ => {
                    self.unseen += VIEWERS - there;
                    println!("after {now} s {} viewers waited in vain", VIEWERS - there);
                    self.on = !self.on;
                    return;
                }
            }
        }
    }

    /// Says what was measured, and whether it is within the bars.
    async fn report(&mut self) -> bool {
        let late = spread("press to screen", &mut self.latencies);
        spread("command to answer", &mut self.answered);
        let (given, taken) = (self.given, self.taken);
        println!(
            "commands: {given} given, {taken} taken, {} lost",
            given - taken
        );
        println!("views of a press that never came: {}", self.unseen);
        let why = self.hand.get("/api/why?output=lamp").await;
        let answer = why.split_once("\r\n\r\n").map_or("", |(_, body)| body);
        println!("at the end: {}", answer.get(..120).unwrap_or(answer));
        let log = self.hand.get("/api/log?from=9007199254740991").await;
        println!(
            "steps: {}",
            log.split_once("\r\n\r\n").map_or("", |it| it.1)
        );
        verdict(late < 100.0, "99 % of the presses are seen within 100 ms")
            & verdict(given == taken, "no command is lost")
            & verdict(self.unseen == 0, "every viewer sees every press")
    }
}

/// Says whether a bar was kept.
fn verdict(kept: bool, bar: &str) -> bool {
    println!("{} {bar}", if kept { "✓" } else { "✗" });
    kept
}

/// Says how long something took; the answer is what 99 % of the times were within, in ms.
fn spread(what: &str, spans: &mut [Duration]) -> f64 {
    spans.sort_unstable();
    let at = |share: usize| {
        let place = (spans.len() * share / 1_000).min(spans.len().saturating_sub(1));
        spans.get(place).copied().unwrap_or_default().as_secs_f64() * 1_000.0
    };
    println!(
        "{what}, {} times: median {:.1} ms, 99 %: {:.1} ms, 99.9 %: {:.1} ms, slowest {:.1} ms",
        spans.len(),
        at(500),
        at(990),
        at(999),
        at(1_000)
    );
    at(990)
}

/// Fits a line to the memory after the first minute, and says whether it rises by more than
/// memory goes up and down about it.
fn does_not_grow(memory: &[(Duration, u64)]) -> bool {
    for (when, kib) in memory.iter().step_by((memory.len() / 12).max(1)) {
        println!("memory after {:>4} s: {kib} KiB", when.as_secs());
    }
    let late = memory.iter().filter(|(when, _)| when.as_secs() >= 60);
    let points: Vec<(f64, f64)> = late
        .map(|(when, kib)| (when.as_secs_f64(), u32::try_from(*kib).unwrap().into()))
        .collect();
    let (Some(first), Some(last)) = (points.first(), points.last()) else {
        println!("· whether memory grows is seen after the first minute only");
        return true;
    };
    let (slope, strays) = line(&points);
    let growth = slope * (last.0 - first.0);
    println!(
        "memory from {:.0} s to {:.0} s: the line through it rises by {growth:.1} KiB, \
         and it strays from the line by {strays:.1} KiB (r.m.s.)",
        first.0, last.0
    );
    verdict(growth <= (2.0 * strays).max(PAGES), "memory does not grow")
}

/// The slope of the line of least squares, and how far the points stray from it.
fn line(points: &[(f64, f64)]) -> (f64, f64) {
    let count = points.iter().map(|_| 1.0).sum::<f64>();
    let mean = |of: &dyn Fn(&(f64, f64)) -> f64| points.iter().map(of).sum::<f64>() / count;
    let (x, y) = (mean(&|it| it.0), mean(&|it| it.1));
    let across = mean(&|it| (it.0 - x) * (it.1 - y));
    let along = mean(&|it| (it.0 - x).powi(2)).max(f64::MIN_POSITIVE);
    let slope = across / along;
    let strays = mean(&|it| (it.1 - y - slope * (it.0 - x)).powi(2)).sqrt();
    (slope, strays)
}

/// Four pages of memory, in KiB: less is not to be told from nothing.
const PAGES: f64 = 16.0;

/// A node, or one that hangs when it is told to: what it would say is held back.
async fn node(part: Part, stream: TcpStream, hangs: Option<watch::Receiver<bool>>) {
    let Some(mut hangs) = hangs else {
        let _ended = live::serve(part, TOKEN, stream).await;
        return;
    };
    let (own, far) = tokio::io::duplex(64 * 1_024);
    tokio::spawn(async move { live::serve(part, TOKEN, own).await });
    let (mut near_in, mut near_out) = tokio::io::split(far);
    let (mut far_in, mut far_out) = stream.into_split();
    let both = async {
        tokio::join!(
            tokio::io::copy(&mut near_in, &mut far_out),
            tokio::io::copy(&mut far_in, &mut near_out)
        )
    };
    tokio::select! {
        _ = both => {}
        _ = hangs.wait_for(|hang| *hang) => {}
    }
    std::future::pending::<()>().await;
}

/// Somebody who opens the stream and never reads it.
async fn silent_viewer(http: SocketAddr) -> TcpStream {
    let mut stream = TcpStream::connect(http).await.unwrap();
    let request = format!("GET /api/stream HTTP/1.1\r\nHost: {http}\r\n\r\n");
    stream.write_all(request.as_bytes()).await.unwrap();
    stream
}

/// Somebody who watches and tells when the lamp changes.
async fn view(http: SocketAddr, viewer: usize, told: mpsc::UnboundedSender<Seen>) {
    let mut stream = TcpStream::connect(http).await.unwrap();
    let request = format!("GET /api/stream HTTP/1.1\r\nHost: {http}\r\n\r\n");
    stream.write_all(request.as_bytes()).await.unwrap();
    let mut stream = BufReader::with_capacity(64 * 1_024, stream);
    let mut last = false;
    let mut line = Vec::new();
    while let Ok(1..) = stream.read_until(b'\n', &mut line).await {
        let at = Instant::now();
        // The lamp stands at the head of the outputs, near the beginning of a view.
        let head = line
            .get(..600)
            .filter(|head| head.starts_with(b"data: {\"now\""));
        let place = head.and_then(|head| find(head, LAMP));
        if let Some(letter) = place.and_then(|place| line.get(place + LAMP.len())) {
            let on = *letter == b't';
            if on != last {
                last = on;
                let _over = told.send(Seen { viewer, on, at });
            }
        }
        line.clear();
    }
}

const LAMP: &[u8] = b"{\"name\":\"lamp\",\"on\":";

fn find(text: &[u8], wanted: &[u8]) -> Option<usize> {
    text.windows(wanted.len()).position(|it| it == wanted)
}

/// Whoever presses: one connection that stays.
struct Hand(TcpStream);

impl Hand {
    async fn post(&mut self, path: &str, body: &str) -> u16 {
        let length = body.len();
        let request = format!(
            "POST {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Roomrig: 1\r\nContent-Length: {length}\r\n\r\n{body}"
        );
        self.0.write_all(request.as_bytes()).await.unwrap();
        let answer = self.answer().await;
        answer
            .get(9..12)
            .and_then(|it| it.parse().ok())
            .unwrap_or(0)
    }

    async fn get(&mut self, path: &str) -> String {
        let request = format!("GET {path} HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n");
        self.0.write_all(request.as_bytes()).await.unwrap();
        self.answer().await
    }

    async fn answer(&mut self) -> String {
        let mut kept = Vec::new();
        let mut bytes = [0; 16 * 1_024];
        loop {
            let read = self.0.read(&mut bytes).await.unwrap();
            assert!(read > 0, "the server has gone");
            kept.extend_from_slice(&bytes[..read]);
            let Some(end) = find(&kept, b"\r\n\r\n") else {
                continue;
            };
            let head = String::from_utf8_lossy(&kept[..end]).into_owned();
            let mut lines = head.lines();
            let length = lines.find_map(|line| line.strip_prefix("content-length: "));
            let length: usize = length.and_then(|it| it.parse().ok()).unwrap_or(0);
            if kept.len() >= end + 4 + length {
                return String::from_utf8_lossy(&kept).into_owned();
            }
        }
    }
}
