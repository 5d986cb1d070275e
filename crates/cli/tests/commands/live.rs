//! `roomrig live` with nodes in other processes, one of them written in another language.
#![expect(
    clippy::unwrap_used,
    reason = "a process that does not start is a failure of the test"
)]

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::process::{Child, ChildStderr, Stdio};

use crate::{Told, command, roomrig, root};

const SCENARIO: &str = "scenarios/private-office/dimmed-by-hand.toml";

/// A host that has said where it listens.
struct Host {
    child: Child,
    talk: BufReader<ChildStderr>,
    address: String,
}

impl Host {
    fn start(scenario: &str, nodes: &str) -> Self {
        let args = ["live", scenario, "--nodes", nodes, "--token", "t"];
        let mut child = command(&root(), &args)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut talk = BufReader::new(child.stderr.take().unwrap());
        let mut address = String::new();
        for _ in nodes.split(',') {
            let mut line = String::new();
            talk.read_line(&mut line).unwrap();
            let after = line.split("--host ").nth(1).unwrap();
            address = after.split(' ').next().unwrap().to_owned();
        }
        Self {
            child,
            talk,
            address,
        }
    }

    fn node(&self, device: &str) -> Child {
        let args = ["node", SCENARIO, device, "--host", &self.address];
        command(&root(), &[&args[..], &["--token", "t"]].concat())
            .spawn()
            .unwrap()
    }

    fn end(mut self) -> Told {
        let mut out = Vec::new();
        let mut stdout = self.child.stdout.take().unwrap();
        stdout.read_to_end(&mut out).unwrap();
        let mut err = String::new();
        self.talk.read_to_string(&mut err).unwrap();
        let code = self.child.wait().unwrap().code().unwrap();
        Told { code, out, err }
    }
}

fn inside() -> Vec<u8> {
    let told = roomrig(&["trace", SCENARIO, "--format", "jsonl"]);
    told.ends_with(0).out
}

#[test]
fn three_devices_in_three_processes_make_the_trace_of_one() {
    let names = ["wall-sensor", "wall-button", "room-controller"];
    let host = Host::start(SCENARIO, &names.join(","));
    let nodes = names.map(|name| host.node(name));
    let told = host.end().ends_with(0);
    assert!(told.out == inside(), "another trace:\n{}", told.text());
    for mut node in nodes {
        assert!(node.wait().unwrap().success());
    }
}

#[test]
fn a_node_in_another_language_makes_the_same_trace_from_the_wire_format_alone() {
    let host = Host::start(SCENARIO, "wall-button");
    let mut node = std::process::Command::new("python3")
        .arg(root().join("tools/node-example/wall_unit.py"))
        .args([&host.address, "wall-button", "t"])
        .spawn()
        .expect("python3 is there: tools/test installs it");
    let told = host.end().ends_with(0);
    assert!(told.out == inside(), "another trace:\n{}", told.text());
    assert!(told.text().contains("\"says\":\"down\""));
    assert!(node.wait().unwrap().success());
}

#[test]
fn a_node_without_the_token_is_refused_and_the_room_goes_on() {
    let host = Host::start(SCENARIO, "wall-button");
    let args = ["node", SCENARIO, "wall-button", "--host", &host.address];
    let refused = roomrig(&[&args[..], &["--token", "guessed"]].concat()).ends_with(2);
    assert!(
        refused.err.contains("the token is another"),
        "{}",
        refused.err
    );
    let mut node = host.node("wall-button");
    let told = host.end().ends_with(0);
    assert!(told.out == inside());
    assert!(node.wait().unwrap().success());
}

#[test]
fn an_unknown_device_is_named_with_its_nearest() {
    let args = ["live", SCENARIO, "--nodes", "wall-buton"];
    let told = roomrig(&args).ends_with(2);
    assert!(
        told.err.contains("did you mean `wall-button`?"),
        "{}",
        told.err
    );
}

#[test]
fn a_room_runs_freely_for_as_long_as_asked() {
    let args = [
        "live",
        "scenarios/private-office",
        "--lines",
        "--for",
        "1",
        "--speed",
        "3600",
    ];
    let told = roomrig(&args).ends_with(0);
    assert!(told.text().contains("\"timer\":\"report\""));
}

/// The first line of what is said, which names the page.
fn address(talk: &mut BufReader<ChildStderr>) -> String {
    let mut line = String::new();
    talk.read_line(&mut line).unwrap();
    let after = line.split("http://").nth(1).unwrap();
    after.split('/').next().unwrap().to_owned()
}

fn get(address: &str, path: &str) -> (TcpStream, String) {
    let mut stream = TcpStream::connect(address).unwrap();
    let request = format!("GET {path} HTTP/1.1\r\nHost: {address}\r\n\r\n");
    stream.write_all(request.as_bytes()).unwrap();
    let mut first = [0; 15];
    stream.read_exact(&mut first).unwrap();
    (stream, String::from_utf8_lossy(&first).into_owned())
}

#[test]
fn a_page_is_served_until_its_time_is_up_and_ends_although_somebody_watches() {
    for path in ["scenarios/private-office", "scenarios", SCENARIO] {
        let args = ["live", path, "--listen", "127.0.0.1:0", "--for", "3"];
        let mut child = command(&root(), &args)
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut talk = BufReader::new(child.stderr.take().unwrap());
        let address = address(&mut talk);
        assert_eq!(get(&address, "/").1, "HTTP/1.1 200 OK");
        let (mut watching, answer) = get(&address, "/api/stream");
        assert_eq!(answer, "HTTP/1.1 200 OK");
        assert!(child.wait().unwrap().success());
        let mut rest = Vec::new();
        // The stream has ended; how the connection did is all the same.
        let _ended = watching.read_to_end(&mut rest);
        assert!(String::from_utf8_lossy(&rest).contains("event: hello"));
    }
}

#[test]
fn a_page_that_others_can_reach_says_so_and_asks_for_a_code() {
    let args = [
        "live",
        "scenarios/private-office",
        "--listen",
        "0.0.0.0:0",
        "--for",
        "2",
    ];
    let mut child = command(&root(), &args)
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut said = String::new();
    let mut talk = child.stderr.take().unwrap();
    assert!(child.wait().unwrap().success());
    talk.read_to_string(&mut said).unwrap();
    let code = |who: &str| {
        let line = said.lines().find(|line| line.starts_with(who)).unwrap();
        line.split("?code=").nth(1).unwrap().to_owned()
    };
    let (trainer, viewer) = (code("for the trainer"), code("for those who watch"));
    assert!(trainer.len() == 16 && viewer.len() == 10 && !trainer.contains(&viewer));
    assert!(
        said.contains("everybody on this network who has a code"),
        "{said}"
    );
}
