//! The page of `roomrig live`: where it is served, who is let in, and what is said of that.

use std::net::{Ipv4Addr, SocketAddr};
use std::sync::Arc;

use live::Nodes;
use page::server::{Codes, Page, Setting};
use page::{Refusal, Session, Stage};
use tokio::net::TcpListener;
use tokio::runtime::Runtime;

use super::{end, hall, listen, new_token, setting};
use crate::args;
use crate::failure::Failure;
use crate::rooms;
use crate::{Ended, Outcome, output};

/// Serves the page until it is interrupted or its time is up.
pub(super) fn run(args: &args::Live) -> Outcome {
    let suite = rooms::open_all(std::slice::from_ref(&args.path))?;
    let site = Stage::all(suite).map_err(failure)?;
    let stage = Arc::clone(&site[0]);
    let scenario = (!args.path.is_dir()).then(|| args.path.file_name().unwrap_or_default());
    runtime()?.block_on(async {
        let plan = Arc::new(stage.plan().clone());
        let (hall, door) = hall(args, &plan);
        let bench = setting(args, &plan, PATIENCE)?;
        let outside = bench.outside.clone();
        let session = match scenario {
            Some(name) => Session::of_scenario(stage, args.seed, outside, &name.to_string_lossy()),
            None => Session::with_outside(stage, args.seed, outside),
        };
        let session = session.map_err(failure)?;
        let nodes = Nodes::new(&bench, door);
        let (listener, address) = open(args.listen).await?;
        let codes = (!address.ip().is_loopback()).then(|| Codes {
            trainer: code(16),
            viewer: code(10),
        });
        tell(address, codes.as_ref());
        let page = Setting {
            codes,
            port: address.port(),
            speed: args.speed,
        };
        let page = Page::new(site, session, nodes, page);
        let stop = end(args.duration);
        if args.nodes.is_empty() {
            page.serve(listener, stop).await;
        } else {
            let joining = listen(args, &hall).await?;
            tokio::select! {
                () = page.serve(listener, stop) => {}
                never = hall.0.listen(joining) => match never {},
            }
        }
        Ok(Ended::Held)
    })
}

/// Where the page listens: where it was told to, or else on its own port or any that is free.
async fn open(wanted: Option<SocketAddr>) -> Result<(TcpListener, SocketAddr), Failure> {
    let own = SocketAddr::from((Ipv4Addr::LOCALHOST, PORT));
    let any = SocketAddr::from((Ipv4Addr::LOCALHOST, 0));
    let bound = match wanted {
        Some(wanted) => TcpListener::bind(wanted).await,
        None => match TcpListener::bind(own).await {
            Ok(listener) => Ok(listener),
            Err(_) => TcpListener::bind(any).await,
        },
    };
    let failed = |error| {
        let address = wanted.unwrap_or(own);
        let message = format!("{address} cannot be listened to: {error}");
        Failure::new(message, "is the port in use? port 0 takes any that is free")
    };
    let listener = bound.map_err(failed)?;
    let address = listener.local_addr().map_err(failed)?;
    Ok((listener, address))
}

/// Says where the page is, and who can reach it.
fn tell(address: SocketAddr, codes: Option<&Codes>) {
    let Some(codes) = codes else {
        output::talk(&format!(
            "open http://{address}/ in a browser; Ctrl-C ends it"
        ));
        output::talk("only this machine can reach the page, and whoever opens it drives the room");
        return;
    };
    let host = if address.ip().is_unspecified() {
        format!("<this machine>:{}", address.port())
    } else {
        address.to_string()
    };
    output::talk(&format!(
        "for the trainer: http://{host}/?code={}",
        codes.trainer
    ));
    output::talk(&format!(
        "for those who watch: http://{host}/?code={}",
        codes.viewer
    ));
    output::talk(
        "everybody on this network who has a code can reach the page. It shows the files of this \
         room and what is done in it; whoever has the trainer's code drives the simulated room \
         and reads its scenarios. Nothing else of this machine is shown or changed. Codes and \
         page travel unencrypted: use it on a network that you trust. Ctrl-C ends it",
    );
}

/// A code that nobody guesses, without letters that look like others.
fn code(letters: usize) -> String {
    const LETTERS: &[u8; 31] = b"abcdefghjkmnpqrstuvwxyz23456789";
    let digits = format!("{}{}", new_token(), new_token());
    let digits: Vec<u32> = digits.chars().filter_map(|it| it.to_digit(16)).collect();
    let letter = |pair: &[u32]| {
        let number = usize::try_from(pair[0] * 16 + pair[1]).unwrap_or(0);
        char::from(LETTERS[number % LETTERS.len()])
    };
    digits.chunks_exact(2).take(letters).map(letter).collect()
}

fn runtime() -> Result<Runtime, Failure> {
    let mut builder = tokio::runtime::Builder::new_multi_thread();
    builder
        .worker_threads(2)
        .enable_all()
        .build()
        .map_err(|error| {
            let message = format!("the page cannot be set up: {error}");
            Failure::new(message, "")
        })
}

fn failure(refusal: Refusal) -> Failure {
    Failure::new(refusal.message, &refusal.hint)
}

/// The port of the page when it is free.
const PORT: u16 = 8_147;

/// How long a node may take for an answer while somebody waits at the page, in milliseconds.
const PATIENCE: u64 = 1_000;
