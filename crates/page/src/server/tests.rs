//! What the server answers, to whom, and that nothing that is asked breaks it.

use std::net::SocketAddr;

use axum::body::{Body, to_bytes};
use axum::http::{HeaderMap, Method, Request, Response, StatusCode, header};
use live::{Hall, Limits, Nodes};
use proptest::prelude::*;
use serde_json::{Value, json};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio_stream::StreamExt;
use tower::ServiceExt;

use super::*;
use crate::samples::{room, rooms};
use crate::{Refusal, Session};

/// A page in a room, and somebody who asks it things.
struct Visitor {
    page: Page,
    peer: SocketAddr,
    headers: Vec<(&'static str, String)>,
}

/// What came back.
struct Answer {
    status: StatusCode,
    headers: HeaderMap,
    text: String,
}

impl Answer {
    fn json(&self) -> Value {
        serde_json::from_str(&self.text).unwrap_or_else(|_| panic!("no JSON: {}", self.text))
    }

    fn refusal(&self) -> String {
        self.json()["message"].as_str().unwrap().to_owned()
    }
}

impl Visitor {
    fn of(name: &str, codes: Option<Codes>) -> Self {
        let stage = room(name);
        let session = Session::new(Arc::clone(&stage), 0).unwrap();
        Self::with(vec![stage], session, codes)
    }

    fn with(site: Vec<Arc<Stage>>, session: Session, codes: Option<Codes>) -> Self {
        let plan = Arc::new(session.stage.plan().clone());
        let (_, door) = Hall::new(&plan, "t", Duration::from_secs(1));
        let bench = live::Setting {
            plan,
            outside: Vec::new(),
            seed: 0,
            limits: Limits::default(),
        };
        let setting = Setting {
            codes,
            port: 8_147,
            speed: 1,
        };
        Self {
            page: Page::new(site, session, Nodes::new(&bench, door), setting),
            peer: "127.0.0.1:50000".parse().unwrap(),
            headers: vec![("host", HOST.to_owned()), ("x-roomrig", "1".to_owned())],
        }
    }

    async fn send(&self, method: Method, path: &str, body: impl Into<Body>) -> Response<Body> {
        let mut request = Request::builder().method(method).uri(path);
        for (name, value) in &self.headers {
            request = request.header(*name, value);
        }
        let mut request = request.body(body.into()).unwrap();
        request.extensions_mut().insert(Peer(self.peer));
        self.page.router().oneshot(request).await.unwrap()
    }

    async fn ask(&self, method: Method, path: &str, body: impl Into<Body>) -> Answer {
        let response = self.send(method, path, body).await;
        let (parts, body) = response.into_parts();
        let bytes = to_bytes(body, 16 << 20).await.unwrap();
        Answer {
            status: parts.status,
            headers: parts.headers,
            text: String::from_utf8(bytes.to_vec()).unwrap(),
        }
    }

    async fn get(&self, path: &str) -> Answer {
        self.ask(Method::GET, path, Body::empty()).await
    }

    async fn post(&self, path: &str, body: Value) -> Answer {
        self.ask(Method::POST, path, body.to_string()).await
    }

    async fn done(&self, path: &str, body: Value) {
        let answer = self.post(path, body).await;
        assert_eq!(answer.status, StatusCode::NO_CONTENT, "{}", answer.text);
    }

    /// Does something at a point.
    async fn act(&self, point: &str, event: &str) {
        let row = json!({ "point": point, "event": event });
        self.done("/api/act", row).await;
    }

    async fn stream(&self) -> Stream {
        let response = self.send(Method::GET, "/api/stream", Body::empty()).await;
        assert_eq!(response.status(), StatusCode::OK);
        assert_eq!(
            response.headers()[header::CONTENT_TYPE],
            "text/event-stream"
        );
        Stream {
            body: response.into_body().into_data_stream(),
            kept: String::new(),
        }
    }

    /// A view from a stream that begins now.
    async fn view(&self) -> Value {
        self.stream().await.next("view").await
    }
}

/// The events that a viewer gets.
struct Stream {
    body: axum::body::BodyDataStream,
    kept: String,
}

impl Stream {
    /// The next event, with its name.
    async fn event(&mut self) -> Option<(String, Value)> {
        loop {
            if let Some((event, rest)) = self.kept.split_once("\n\n") {
                let event = event.to_owned();
                self.kept = rest.to_owned();
                let line = |key: &str| {
                    let mut lines = event.lines();
                    lines
                        .find_map(|line| line.strip_prefix(key))
                        .map(str::to_owned)
                };
                if let (Some(name), Some(data)) = (line("event: "), line("data: ")) {
                    return Some((name, serde_json::from_str(&data).unwrap()));
                }
                continue;
            }
            let bytes = self.body.next().await?.unwrap();
            self.kept.push_str(std::str::from_utf8(&bytes).unwrap());
        }
    }

    /// The next event of this name.
    async fn next(&mut self, wanted: &str) -> Value {
        loop {
            let (name, data) = self.event().await.expect("the stream goes on");
            if name == wanted {
                return data;
            }
        }
    }

    /// The next view of which this holds.
    async fn until(&mut self, holds: impl Fn(&Value) -> bool) -> Value {
        loop {
            let view = self.next("view").await;
            if holds(&view) {
                return view;
            }
        }
    }
}

const HOST: &str = "127.0.0.1:8147";

fn codes() -> Option<Codes> {
    Some(Codes {
        trainer: "driver".to_owned(),
        viewer: "watch".to_owned(),
    })
}

fn output<'a>(view: &'a Value, name: &str) -> &'a Value {
    let outputs = view["outputs"].as_array().unwrap();
    outputs.iter().find(|it| it["name"] == name).unwrap()
}

#[tokio::test(start_paused = true)]
async fn a_press_is_seen_by_everybody_who_watches() {
    let visitor = Visitor::of("private-office", None);
    let (mut one, mut two) = (visitor.stream().await, visitor.stream().await);
    assert_eq!(one.next("hello").await["you"], "trainer");
    visitor.done("/api/clock", json!({ "running": true })).await;
    let act = json!({ "point": "wall-button", "event": "tap up" });
    visitor.done("/api/act", act).await;
    for viewer in [&mut one, &mut two] {
        let is_on = |view: &Value| output(view, "desk-lights")["on"] == true;
        let view = viewer.until(is_on).await;
        assert_eq!(view["viewers"], 2);
        let log = viewer.next("log").await;
        assert!(!log["rows"].as_array().unwrap().is_empty());
    }
}

#[tokio::test(start_paused = true)]
async fn walking_out_ends_in_dark_after_the_delay_at_six_hundred_times() {
    let visitor = Visitor::of("private-office", None);
    let mut stream = visitor.stream().await;
    let act = json!({ "point": "wall-sensor", "event": "motion" });
    visitor.done("/api/act", act).await;
    let clock = json!({ "running": true, "speed": 600 });
    visitor.done("/api/clock", clock).await;
    let is = |on: bool| move |view: &Value| output(view, "desk-lights")["on"] == on;
    let lit = stream.until(is(true)).await;
    let sensor = &lit["sources"][1];
    let delay = &sensor["timers"][0];
    assert_eq!(
        (&delay["name"], &delay["ends"]),
        (&json!("time delay"), &json!(900_001))
    );
    assert_eq!(delay["then"], "vacant");
    let dark = stream.until(is(false)).await;
    assert!(dark["now"].as_u64().unwrap() >= 900_001);
}

#[tokio::test(start_paused = true)]
async fn a_room_that_stands_still_sends_nothing_but_a_beat() {
    let visitor = Visitor::of("private-office", None);
    let mut stream = visitor.stream().await;
    stream.until(|view| view["viewers"] == 1).await;
    let mut body = stream.body;
    let started = tokio::time::Instant::now();
    let next = body.next().await.unwrap().unwrap();
    assert_eq!(&next[..], b": beat\n\n");
    assert_eq!(started.elapsed().as_secs(), 15);
}

#[tokio::test(start_paused = true)]
async fn views_come_at_most_twenty_times_a_second_while_much_happens() {
    let visitor = Visitor::of("private-office", None);
    let mut stream = visitor.stream().await;
    visitor.act("ana", "talks").await;
    let clock = json!({ "running": true, "speed": 600 });
    visitor.done("/api/clock", clock).await;
    stream.until(|view| view["running"] == true).await;
    let started = tokio::time::Instant::now();
    let mut views = 0;
    while started.elapsed() < Duration::from_secs(5) {
        views += u32::from(stream.event().await.unwrap().0 == "view");
    }
    assert!((60..=101).contains(&views), "{views}");
}

#[tokio::test(start_paused = true)]
async fn a_slow_viewer_is_told_what_it_missed_and_holds_nobody_up() {
    let visitor = Visitor::of("private-office", None);
    visitor.view().await;
    let begun = visitor.get("/api/log").await.json();
    let begun = begun["rows"].as_array().unwrap().len() as u64;
    let (mut slow, mut quick) = (visitor.stream().await, visitor.stream().await);
    visitor.act("ana", "talks").await;
    visitor
        .done("/api/clock", json!({ "running": true, "speed": 60 }))
        .await;
    let far = |view: &Value| view["now"].as_u64().unwrap() > 1_200_000;
    quick.until(far).await;
    visitor
        .done("/api/clock", json!({ "running": false }))
        .await;
    let mut missed = 0;
    let mut shown = 0;
    let mut told = 0;
    // Everything that was published comes to the slow viewer as shown or as missed.
    let steps = visitor.get("/api/log?from=0").await.json();
    let total = {
        let mut last = steps;
        while let Some(next) = last["next"].as_u64() {
            last = visitor.get(&format!("/api/log?from={next}")).await.json();
        }
        last["rows"].as_array().unwrap().last().unwrap()["step"]
            .as_u64()
            .unwrap()
            + 1
    };
    let total = total - begun;
    while shown + missed < total {
        let (name, data) = slow.event().await.unwrap();
        match name.as_str() {
            "missed" => {
                missed += data["n"].as_u64().unwrap();
                told += 1;
            }
            "log" => shown += data["rows"].as_array().unwrap().len() as u64,
            _ => {}
        }
    }
    assert_eq!(shown + missed, total);
    assert!(told > 0 && missed > 0);
}

#[tokio::test(start_paused = true)]
async fn what_is_done_is_done_at_the_moment_that_the_clock_shows() {
    let visitor = Visitor::of("private-office", None);
    let clock = json!({ "running": true, "speed": 3_600 });
    visitor.done("/api/clock", clock).await;
    tokio::time::sleep(Duration::from_millis(201)).await;
    visitor.act("wall-sensor", "motion").await;
    let last = visitor.view().await["rows"]["last"].as_u64().unwrap();
    assert!((720_000..=724_000).contains(&last), "{last}");
}

/// A visitor of an office in which another process plays a device, and thinks so long about
/// every message.
fn with_node(name: &str, thinks: Duration) -> Visitor {
    let stage = room("private-office");
    let plan = Arc::new(stage.plan().clone());
    let device = live::devices(&plan)[name];
    let (hall, door) = Hall::new(&plan, "t", Duration::from_secs(1));
    let bench = live::Setting {
        plan: Arc::clone(&plan),
        outside: vec![device],
        seed: 0,
        limits: Limits::default(),
    };
    let session = Session::with_outside(Arc::clone(&stage), 0, vec![device]).unwrap();
    let mut visitor = Visitor::of("private-office", None);
    let setting = Setting {
        codes: None,
        port: 8_147,
        speed: 1,
    };
    visitor.page = Page::new(vec![stage], session, Nodes::new(&bench, door), setting);
    let (near, middle) = tokio::io::duplex(64 * 1_024);
    let (other, far) = tokio::io::duplex(64 * 1_024);
    hall.receive(far);
    let part = live::Part::of_room(plan, device);
    tokio::spawn(async move { live::serve(part, "t", near).await });
    let (mut from_node, mut to_node) = tokio::io::split(middle);
    let (mut from_host, mut to_host) = tokio::io::split(other);
    tokio::spawn(async move { tokio::io::copy(&mut from_host, &mut to_node).await });
    tokio::spawn(async move {
        let mut bytes = vec![0; 64 * 1_024];
        while let Ok(read @ 1..) = from_node.read(&mut bytes).await {
            tokio::time::sleep(thinks).await;
            to_host.write_all(&bytes[..read]).await.unwrap();
        }
    });
    visitor
}

#[tokio::test(start_paused = true)]
async fn a_device_in_another_process_plays_its_part_and_cannot_be_taken_back() {
    let visitor = with_node("wall-sensor", Duration::ZERO);
    let mut stream = visitor.stream().await;
    tokio::time::sleep(Duration::from_secs(1)).await;
    visitor.done("/api/clock", json!({ "running": true })).await;
    tokio::time::sleep(Duration::from_secs(1)).await;
    let act = json!({ "point": "wall-sensor", "event": "motion" });
    visitor.done("/api/act", act).await;
    let view = stream
        .until(|view| output(view, "desk-lights")["on"] == true)
        .await;
    assert_eq!(view["faults"], json!([]));
    let back = visitor.post("/api/clock", json!({ "to": 0 })).await;
    assert!(
        back.refusal().contains("cannot be taken back"),
        "{}",
        back.text
    );
    let anew = visitor.post("/api/load", json!({})).await;
    assert!(anew.refusal().contains("cannot begin anew"));
    let set = json!({ "path": "wall-sensor.time-delay", "value": "5 min" });
    let refused = visitor.post("/api/set", set).await;
    assert!(
        refused.refusal().contains("another process"),
        "{}",
        refused.text
    );
}

#[tokio::test(start_paused = true)]
async fn going_back_tells_viewers_to_drop_what_they_have() {
    let visitor = Visitor::of("private-office", None);
    let mut stream = visitor.stream().await;
    visitor.act("wall-sensor", "motion").await;
    visitor.done("/api/clock", json!({ "to": 60_000 })).await;
    stream.until(|view| view["now"] == 60_000).await;
    visitor.done("/api/clock", json!({ "to": 0 })).await;
    stream.next("reset").await;
    let view = visitor.view().await;
    assert_eq!((&view["now"], &view["end"]), (&json!(0), &json!(60_000)));
    assert_eq!(view["rows"], json!({ "done": 0, "later": 1, "last": 1 }));
    visitor.act("wall-button", "tap up").await;
    let view = stream.until(|view| view["branch"] == 1).await;
    assert_eq!(view["rows"]["later"], 0);
}

#[tokio::test(start_paused = true)]
async fn what_is_done_while_the_clock_stands_is_answered_and_then_it_stands_again() {
    let visitor = Visitor::of("private-office", None);
    let mut stream = visitor.stream().await;
    visitor.act("wall-sensor", "motion").await;
    let lit = stream.until(|view| output(view, "desk-lights")["on"] == true);
    let view = tokio::time::timeout(Duration::from_secs(1), lit).await;
    let view = view.expect("the light answers");
    assert_eq!(
        (&view["running"], &view["now"]),
        (&json!(false), &json!(11))
    );
    let noise = json!({ "point": "wall-sensor", "every": 30 });
    visitor.done("/api/noise", noise).await;
    tokio::time::sleep(Duration::from_secs(60)).await;
    let view = visitor.view().await;
    assert_eq!(
        view["now"], 12,
        "the sound was heard, and nothing is to come of it"
    );
    let noise = json!([{ "point": "wall-sensor", "every": 30 }]);
    assert_eq!(view["outside"]["noise"], noise);
    let quiet = json!({ "point": "wall-sensor", "every": null });
    visitor.done("/api/noise", quiet).await;
    let view = stream
        .until(|view| view["outside"]["noise"] == json!([]))
        .await;
    assert_eq!(view["rows"]["done"], 2);
    let record = visitor
        .post("/api/save", json!({ "title": "A radio" }))
        .await
        .json();
    assert_eq!(record["passes"], true, "{record}");
}

#[tokio::test(start_paused = true)]
async fn commands_that_come_at_once_each_find_the_room_where_the_one_before_has_led() {
    let visitor = Visitor::of("private-office", None);
    tokio::join!(
        visitor.done("/api/clock", json!({ "to": 60_000 })),
        visitor.act("wall-sensor", "motion"),
    );
    let mut stream = visitor.stream().await;
    let there = stream.until(|view| view["now"] == 60_011);
    let view = tokio::time::timeout(Duration::from_secs(60), there).await;
    let view = view.expect("the motion comes after a minute");
    assert_eq!(
        view["rows"],
        json!({ "done": 1, "later": 0, "last": 60_001 })
    );
}

#[tokio::test(start_paused = true)]
async fn what_a_session_did_is_saved_as_a_scenario_that_passes() {
    let visitor = Visitor::of("guest-room", None);
    visitor.act("card-reader", "card in").await;
    visitor.done("/api/clock", json!({ "to": 60_000 })).await;
    visitor.act("card-reader", "card out").await;
    visitor.done("/api/clock", json!({ "to": 120_000 })).await;
    let saved = visitor
        .post("/api/save", json!({ "title": "In and out" }))
        .await
        .json();
    assert_eq!(
        (&saved["passes"], &saved["file"]),
        (&json!(true), &json!("in-and-out.toml"))
    );
    let toml = saved["toml"].as_str().unwrap();
    assert!(
        toml.contains("\"card-reader\",") && toml.contains("\"is off\""),
        "{toml}"
    );
}

#[tokio::test(start_paused = true)]
async fn why_log_and_timeline_are_told() {
    let visitor = Visitor::of("private-office", None);
    visitor.act("wall-sensor", "motion").await;
    visitor.done("/api/clock", json!({ "to": 60_000 })).await;
    visitor.view().await;
    let why = visitor.get("/api/why?output=desk-lights").await.json();
    assert!(
        why["title"].as_str().unwrap().contains("desk-lights is on"),
        "{why}"
    );
    assert!(why["chain"].as_array().unwrap().len() >= 2);
    assert!(!why["text"].as_str().unwrap().contains("live-session"));
    let lost = visitor.get("/api/why?output=desk-light").await;
    assert_eq!(lost.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(lost.json()["hint"], "did you mean `desk-lights`?");
    let log = visitor.get("/api/log?from=2&to=4").await.json();
    assert_eq!(log["rows"].as_array().unwrap().len(), 2);
    assert_eq!(log["rows"][0]["step"], 2);
    let picture = visitor.get("/api/timeline?from=0&to=60000").await;
    assert!(picture.text.contains("<svg") && !picture.text.contains("live-session"));
}

#[tokio::test(start_paused = true)]
async fn a_setting_is_turned_and_written_with_the_comments_of_the_file() {
    let visitor = Visitor::of("private-office", None);
    visitor.done("/api/clock", json!({ "to": 1_000 })).await;
    let set = json!({ "path": "wall-sensor.time-delay", "value": "5 min" });
    visitor.done("/api/set", set).await;
    visitor.view().await;
    let room_file = visitor.get("/api/room.toml").await;
    assert_eq!(room_file.status, StatusCode::OK, "{}", room_file.text);
    let before = include_str!("../../../../scenarios/private-office/room.toml");
    let changed: Vec<(&str, &str)> = (before.lines())
        .zip(room_file.text.lines())
        .filter(|(one, two)| one != two)
        .collect();
    assert_eq!(changed.len(), 1, "{changed:?}");
    assert!(changed[0].1.contains("time-delay") && changed[0].1.contains("\"5 min\""));
    assert_eq!(before.lines().count(), room_file.text.lines().count());
    let room = visitor.get("/api/room").await.json();
    let knobs = room["settings"].as_array().unwrap();
    let delay = knobs
        .iter()
        .find(|it| it["path"] == "wall-sensor.time-delay")
        .unwrap();
    assert_eq!(
        (&delay["value"], &delay["changed"]),
        (&json!("5 min"), &json!(true))
    );
    let wrong = json!({ "path": "wall-sensor.time-delay", "value": "5 weeks" });
    let refused = visitor.post("/api/set", wrong).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    let unknown = json!({ "path": "wall-sensor.time-dely", "value": "5 min" });
    let refused = visitor.post("/api/set", unknown).await;
    assert_eq!(
        refused.json()["hint"],
        "did you mean `wall-sensor.time-delay`?"
    );
}

#[tokio::test(start_paused = true)]
async fn a_scenario_of_the_folder_is_loaded_with_its_rows() {
    let visitor = Visitor::of("private-office", None);
    let load = json!({ "scenario": "quiet-reading.toml" });
    visitor.done("/api/load", load).await;
    let view = visitor.view().await;
    assert!(view["rows"]["later"].as_u64().unwrap() > 10);
    let missing = visitor
        .post("/api/load", json!({ "scenario": "quiet.toml" }))
        .await;
    assert_eq!(missing.status, StatusCode::UNPROCESSABLE_ENTITY);
    let outside = json!({ "scenario": "../guest-room/an-evening.toml" });
    let refused = visitor.post("/api/load", outside).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
    visitor.done("/api/load", json!({})).await;
    assert_eq!(visitor.view().await["rows"]["later"], 0);
}

#[tokio::test]
async fn only_the_code_of_the_trainer_drives() {
    let mut visitor = Visitor::of("private-office", codes());
    visitor.headers[0].1 = "10.0.0.5:8147".to_owned();
    assert_eq!(visitor.get("/").await.status, StatusCode::UNAUTHORIZED);
    for path in [
        "/api/room",
        "/api/stream",
        "/api/log",
        "/?code=wrong",
        "/?code=",
    ] {
        assert_eq!(
            visitor.get(path).await.status,
            StatusCode::UNAUTHORIZED,
            "{path}"
        );
    }
    for (path, is_told) in [("/", false), ("/?code=", false), ("/?code=wrong", true)] {
        let page = visitor.get(path).await.text;
        assert_eq!(page.contains("This code lets nobody in"), is_told, "{path}");
        assert!(page.contains("<button>Come in</button>"), "{page}");
    }
    let act = || json!({ "point": "wall-button", "event": "tap up" });
    assert_eq!(
        visitor.post("/api/act", act()).await.status,
        StatusCode::UNAUTHORIZED
    );
    for (code, you, status) in [
        ("watch", "viewer", StatusCode::FORBIDDEN),
        ("driver", "trainer", StatusCode::NO_CONTENT),
    ] {
        let welcome = visitor.get(&format!("/?code={code}")).await;
        assert_eq!(welcome.status, StatusCode::SEE_OTHER);
        assert_eq!(welcome.headers[header::LOCATION], "/");
        let cookie = welcome.headers[header::SET_COOKIE]
            .to_str()
            .unwrap()
            .to_owned();
        assert!(cookie.contains("SameSite=Strict") && cookie.contains("HttpOnly"));
        let pair = cookie.split(';').next().unwrap().to_owned();
        visitor.headers.push(("cookie", format!("other=1; {pair}")));
        assert_eq!(visitor.get("/").await.status, StatusCode::OK);
        let hello = visitor.stream().await.next("hello").await;
        assert_eq!(hello["you"], you);
        assert_eq!(visitor.post("/api/act", act()).await.status, status);
        visitor.headers.pop();
    }
}

#[tokio::test]
async fn the_trainer_and_nobody_else_is_told_how_to_let_others_in() {
    let alone = Visitor::of("private-office", None);
    assert!(alone.get("/api/share").await.json()["code"].is_null());
    let visitor = Visitor::of("private-office", codes());
    let shared = visitor.get("/api/share?code=driver").await.json();
    assert_eq!(shared["url"], format!("http://{HOST}/?code=watch"));
    assert_eq!(shared["code"], "watch");
    let refused = visitor.get("/api/share?code=watch").await;
    assert_eq!(refused.status, StatusCode::FORBIDDEN);
    assert!(!refused.text.contains("driver"));
}

#[tokio::test]
async fn a_command_of_another_site_is_refused() {
    let mut visitor = Visitor::of("private-office", None);
    let act = || json!({ "point": "wall-button", "event": "tap up" });
    visitor.headers.truncate(1);
    let cases = [
        (Some("http://127.0.0.1:8147"), StatusCode::NO_CONTENT),
        (Some("http://evil.example"), StatusCode::FORBIDDEN),
        (Some("http://127.0.0.1:9999"), StatusCode::FORBIDDEN),
        (Some("https://127.0.0.1:8147"), StatusCode::FORBIDDEN),
        (Some("null"), StatusCode::FORBIDDEN),
        (None, StatusCode::FORBIDDEN),
    ];
    for (origin, status) in cases {
        if let Some(origin) = origin {
            visitor.headers.push(("origin", origin.to_owned()));
        }
        let answer = visitor.post("/api/act", act()).await;
        assert_eq!(answer.status, status, "{origin:?}: {}", answer.text);
        visitor.headers.truncate(1);
    }
    visitor.headers.push(("x-roomrig", "1".to_owned()));
    assert_eq!(
        visitor.post("/api/act", act()).await.status,
        StatusCode::NO_CONTENT
    );
    visitor.peer = "10.0.0.9:5000".parse().unwrap();
    assert_eq!(
        visitor.post("/api/act", act()).await.status,
        StatusCode::FORBIDDEN
    );
}

#[tokio::test]
async fn a_name_of_another_site_that_leads_here_is_refused() {
    let mut visitor = Visitor::of("private-office", None);
    for host in [
        "evil.example:8147",
        "",
        "127.0.0.1.evil.example",
        "10.0.0.5:8147",
    ] {
        visitor.headers[0].1 = host.to_owned();
        let answer = visitor.get("/api/room").await;
        assert_eq!(answer.status, StatusCode::MISDIRECTED_REQUEST, "{host}");
    }
    for host in ["localhost:8147", "LOCALHOST", "[::1]:8147", "127.0.0.1"] {
        visitor.headers[0].1 = host.to_owned();
        assert_eq!(
            visitor.get("/api/room").await.status,
            StatusCode::OK,
            "{host}"
        );
    }
}

#[tokio::test]
async fn files_of_the_page_are_kept_by_browsers_and_load_nothing_from_elsewhere() {
    let mut visitor = Visitor::of("private-office", None);
    let mut paths = vec!["/".to_owned()];
    paths.extend(
        assets::ASSETS
            .iter()
            .map(|asset| format!("/assets/{}", asset.name)),
    );
    for path in paths {
        let answer = visitor.get(&path).await;
        assert_eq!(answer.status, StatusCode::OK, "{path}");
        assert!(!answer.text.is_empty());
        for word in ["http://", "https://", "//cdn"] {
            let allowed = answer.text.matches(word).count()
                == answer.text.matches("http://www.w3.org/").count();
            assert!(word != "http://" || allowed, "{path} names another site");
            assert!(
                word == "http://" || !answer.text.contains(word),
                "{path}: {word}"
            );
        }
        let policy = answer.headers[header::CONTENT_SECURITY_POLICY]
            .to_str()
            .unwrap();
        assert!(policy.starts_with("default-src 'self'") && !policy.contains("unsafe"));
        assert_eq!(answer.headers[header::X_CONTENT_TYPE_OPTIONS], "nosniff");
        let tag = answer.headers[header::ETAG].to_str().unwrap().to_owned();
        visitor.headers.push(("if-none-match", tag));
        assert_eq!(visitor.get(&path).await.status, StatusCode::NOT_MODIFIED);
        visitor.headers.pop();
    }
    for path in [
        "/assets/",
        "/assets/../Cargo.toml",
        "/assets/none.js",
        "/favicon.ico",
    ] {
        let answer = visitor.get(path).await;
        assert_eq!(answer.status, StatusCode::NOT_FOUND, "{path}");
        answer.refusal();
    }
}

#[tokio::test]
async fn malformed_requests_are_answered_in_words() {
    let visitor = Visitor::of("private-office", None);
    let bodies = [
        "",
        "{",
        "[]",
        "null",
        "{}",
        "{\"point\":1,\"event\":2}",
        "{\"point\":\"a\"}",
        "\u{0}",
        "{\"running\":\"yes\"}",
        "{\"speed\":-1}",
        "{\"speed\":1e99}",
        "{\"to\":-5}",
        "{\"choice\":-1}",
        "{\"step\":\"far\"}",
        "{\"path\":null,\"value\":[]}",
        "\"x\"",
    ];
    for path in [
        "/api/act",
        "/api/clock",
        "/api/set",
        "/api/save",
        "/api/load",
        "/api/lesson",
    ] {
        for body in bodies {
            let answer = visitor.ask(Method::POST, path, body).await;
            assert!(
                answer.status.as_u16() < 500,
                "{path} {body}: {}",
                answer.status
            );
            if !answer.status.is_success() {
                assert!(!answer.refusal().is_empty());
            }
        }
        let deep = "[".repeat(60_000);
        let answer = visitor.ask(Method::POST, path, deep).await;
        assert_eq!(answer.status, StatusCode::BAD_REQUEST);
        let long = "x".repeat(65 * 1_024);
        let answer = visitor.ask(Method::POST, path, long).await;
        assert_eq!(answer.status, StatusCode::PAYLOAD_TOO_LARGE);
        assert_eq!(
            visitor.get(path).await.status,
            StatusCode::METHOD_NOT_ALLOWED
        );
    }
    for speed in [0, 3_601] {
        let answer = visitor.post("/api/clock", json!({ "speed": speed })).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY);
    }
    for path in ["/api/log?from=x", "/api/why?at=-1", "/api/timeline?to=1.5"] {
        assert_eq!(
            visitor.get(path).await.status,
            StatusCode::BAD_REQUEST,
            "{path}"
        );
    }
}

#[tokio::test(start_paused = true)]
async fn every_stream_ends_and_every_question_is_answered_when_the_room_stops() {
    let visitor = Visitor::of("private-office", None);
    let mut stream = visitor.stream().await;
    stream.next("view").await;
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let router = visitor.page.router();
    visitor.page.serve(listener, std::future::ready(())).await;
    while stream.event().await.is_some() {}
    let request = Request::builder().uri("/api/room").header("host", HOST);
    let answer = router
        .oneshot(request.body(Body::empty()).unwrap())
        .await
        .unwrap();
    assert_eq!(answer.status(), StatusCode::SERVICE_UNAVAILABLE);
}

#[test]
fn whatever_is_asked_the_answer_is_words_and_the_room_lives() {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .start_paused(true)
        .build()
        .unwrap();
    let guard = runtime.enter();
    let visitor = Visitor::of("private-office", None);
    drop(guard);
    let words = "[a-z0-9 =%\"{}\\[\\],:.\\\\\u{0}-\u{7f}é€/-]{0,60}";
    let path = prop_oneof![
        Just("/api/act"),
        Just("/api/clock"),
        Just("/api/set"),
        Just("/api/save"),
        Just("/api/load"),
        Just("/api/lesson"),
        Just("/api/why"),
        Just("/api/log"),
        Just("/api/timeline"),
        Just("/api/room.toml"),
        Just("/"),
        Just("/assets/page.js"),
        Just("/api/nothing"),
    ];
    let method = prop_oneof![Just(Method::GET), Just(Method::POST), Just(Method::PUT)];
    let body = prop_oneof![
        proptest::collection::vec(any::<u8>(), 0..80),
        (words, words).prop_map(|(point, event)| {
            json!({ "point": point, "event": event, "path": point, "value": event,
                "title": event, "file": point, "scenario": point })
            .to_string()
            .into_bytes()
        }),
        (
            prop_oneof![
                Just("wall-sensor"),
                Just("ana"),
                Just("room"),
                Just("wall-button")
            ],
            words
        )
            .prop_map(|(point, event)| {
                json!({ "point": point, "event": event })
                    .to_string()
                    .into_bytes()
            }),
        (any::<u64>(), any::<u32>(), any::<bool>()).prop_map(|(to, speed, running)| {
            json!({ "to": to % 100_000_000, "speed": speed % 4_000, "running": running,
                "choice": to })
            .to_string()
            .into_bytes()
        }),
    ];
    let query = proptest::option::of("[a-z]{0,6}=[A-Za-z0-9%+=&-]{0,30}");
    proptest!(ProptestConfig::with_cases(600), |(method in method, path in path, query in query, body in body)| {
        let uri = query.map_or(path.to_owned(), |query| format!("{path}?{query}"));
        let answer = runtime.block_on(visitor.ask(method, &uri, body));
        prop_assert!(answer.status != StatusCode::INTERNAL_SERVER_ERROR);
        if answer.status.is_client_error() || answer.status.is_server_error() {
            let refusal: Value = serde_json::from_str(&answer.text).unwrap();
            prop_assert!(!refusal["message"].as_str().unwrap().is_empty());
        }
    });
    let still = runtime.block_on(visitor.get("/api/room"));
    assert_eq!(still.status, StatusCode::OK);
}

#[tokio::test(start_paused = true)]
async fn lessons_of_all_rooms_are_given_step_by_step() {
    let site = rooms();
    let session = Session::new(Arc::clone(&site[0]), 0).unwrap();
    let visitor = Visitor::with(site, session, None);
    let room = visitor.get("/api/room").await.json();
    for lesson in room["lessons"].as_array().unwrap() {
        let start = json!({ "room": lesson["room"], "file": lesson["file"] });
        visitor.done("/api/lesson", start).await;
        let mut stream = visitor.stream().await;
        let mut questions = 0;
        let mut steps = 0;
        loop {
            let view = stream
                .until(|view| {
                    let phase = view["lesson"]["phase"].as_str().unwrap_or("over");
                    !["coming", "answering"].contains(&phase)
                })
                .await;
            let told = &view["lesson"];
            if told.is_null() {
                assert_eq!(view["speed"], 1, "the pace of a lesson ends with it");
                break;
            }
            assert_eq!(
                view["running"], false,
                "the clock stands while somebody reads"
            );
            assert!(told["says"].is_string());
            match told["phase"].as_str().unwrap() {
                "asked" => {
                    assert!(told["right"].is_null() && told["answer"].is_null());
                    assert!(told["because"].is_null());
                    let early = visitor.post("/api/lesson", json!({ "next": true })).await;
                    assert_eq!(early.status, StatusCode::UNPROCESSABLE_ENTITY);
                    let none = visitor.post("/api/lesson", json!({ "choice": 99 })).await;
                    assert_eq!(none.status, StatusCode::UNPROCESSABLE_ENTITY);
                    visitor.done("/api/lesson", json!({ "choice": 0 })).await;
                    questions += 1;
                }
                phase => {
                    if phase == "answered" {
                        assert_eq!(told["right"], told["answer"] == 0);
                        assert!(told["because"].is_string());
                        assert_eq!(told["chosen"], 0);
                    }
                    let act = json!({ "point": "room", "event": "power cut" });
                    let refused = visitor.post("/api/act", act).await;
                    assert_eq!(refused.refusal(), "a lesson is being given");
                    visitor.done("/api/lesson", json!({ "next": true })).await;
                    steps += 1;
                }
            }
        }
        assert_eq!(lesson["questions"], questions);
        assert!(steps > 0, "{lesson}");
    }
    let none = visitor
        .post("/api/lesson", json!({ "file": "nothing.toml" }))
        .await;
    let refusal: Refusal = Refusal::new(none.refusal(), "");
    assert!(refusal.message.contains("has no scenario"));
}
