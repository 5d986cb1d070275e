//! Any bytes as what browsers say to the live page: answered, or the connection ends; never a
//! panic, and the room lives on.
#![no_main]

use std::path::Path;
use std::sync::{Arc, OnceLock};
use std::time::Duration;

use libfuzzer_sys::fuzz_target;
use live::{Hall, Limits, Nodes};
use page::server::{Page, Setting};
use page::{Session, Stage};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::runtime::Runtime;

fuzz_target!(|bytes: &[u8]| {
    let (runtime, page) = bench();
    let answered = runtime.block_on(async {
        ask(page, bytes).await;
        ask(page, b"GET /api/room HTTP/1.1\r\nHost: localhost\r\n\r\n").await
    });
    assert!(answered.starts_with(b"HTTP/1.1 200"), "the room is gone");
});

/// A page in a room whose clock stands, on a runtime whose clock jumps to the next deadline.
fn bench() -> &'static (Runtime, Page) {
    static BENCH: OnceLock<(Runtime, Page)> = OnceLock::new();
    BENCH.get_or_init(|| {
        let mut builder = tokio::runtime::Builder::new_current_thread();
        let runtime = builder.enable_time().start_paused(true).build();
        let runtime = runtime.expect("a runtime without sockets can be made");
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../scenarios/private-office");
        let site = Stage::open(&folder).expect("the room of the repository reads well");
        let plan = Arc::new(site[0].plan().clone());
        let (_, door) = Hall::new(&plan, "t", Duration::from_secs(1));
        let setting = live::Setting {
            plan,
            outside: Vec::new(),
            seed: 0,
            limits: Limits::default(),
        };
        let session = Session::new(Arc::clone(&site[0]), 0).expect("the room has a calendar");
        let guard = runtime.enter();
        let setting = (
            Nodes::new(&setting, door),
            Setting {
                codes: None,
                port: 80,
                speed: 1,
            },
        );
        let page = Page::new(site, session, setting.0, setting.1);
        drop(guard);
        (runtime, page)
    })
}

/// What the server says to these bytes, for as long as it says anything at once.
async fn ask(page: &Page, bytes: &[u8]) -> Vec<u8> {
    let (mut near, far) = tokio::io::duplex(1 << 20);
    let peer = std::net::SocketAddr::from(([127, 0, 0, 1], 50_000));
    let served = tokio::spawn(page.connect(far, peer));
    let mut answer = Vec::new();
    let _gone = near.write_all(bytes).await;
    let mut kept = [0; 4_096];
    while let Ok(Ok(read @ 1..)) =
        tokio::time::timeout(Duration::from_millis(100), near.read(&mut kept)).await
    {
        answer.extend_from_slice(&kept[..read]);
    }
    served.abort();
    answer
}
