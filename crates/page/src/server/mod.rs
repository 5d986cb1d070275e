//! The server of the page: HTTP, streams of events, codes.
//!
//! Invariant: connections are counted, everything that is read has an end and a deadline, and
//! nothing that a viewer does stops the room or the server.

mod answer;
mod assets;
mod gate;
mod keeper;
mod query;
mod routes;
mod stream;

use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use live::Nodes;
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::TcpListener;
use tokio::sync::{Semaphore, watch};
use tokio::task::{JoinHandle, JoinSet};

use crate::{Session, Stage};

use gate::Gate;
pub use gate::{Codes, Role};
use keeper::Keeper;
use routes::{Front, Peer, router};

/// A page with its room, ready to be served.
#[derive(Debug)]
pub struct Page {
    router: Router,
    keeper: JoinHandle<()>,
}

/// What a page needs beside its session.
#[derive(Clone, Debug)]
pub struct Setting {
    /// The codes that let people in; `None`: only this machine can reach the page.
    pub codes: Option<Codes>,
    /// The port under which it is served.
    pub port: u16,
    /// How fast the room runs when it runs, 1 to 3 600 times the wall clock.
    pub speed: u32,
}

impl Page {
    /// Lets a session begin in one of the rooms of a site; its room stands still until somebody
    /// lets it run.
    #[must_use]
    pub fn new(site: Vec<Arc<Stage>>, session: Session, nodes: Nodes, setting: Setting) -> Self {
        let (viewers, watching) = watch::channel(0);
        let (keeper, office) = Keeper::new(site, session, nodes, setting.speed, watching);
        let front = Front {
            gate: Gate::new(setting.codes, setting.port),
            office,
            viewers: Arc::new(viewers),
        };
        Self {
            router: router(Arc::new(front)),
            keeper: tokio::spawn(keeper.keep()),
        }
    }

    /// The service itself, for whoever has connections of their own.
    pub fn router(&self) -> Router {
        self.router.clone()
    }

    /// Serves one connection of somebody at this address, until it ends.
    pub fn connect<S>(
        &self,
        stream: S,
        peer: SocketAddr,
    ) -> impl Future<Output = ()> + Send + use<S>
    where
        S: AsyncRead + AsyncWrite + Send + Unpin + 'static,
    {
        serve(self.router.clone(), stream, peer)
    }

    /// Serves the page until `stop` comes; then every stream ends and the room stops.
    pub async fn serve(self, listener: TcpListener, stop: impl Future<Output = ()>) {
        let room = Arc::new(Semaphore::new(MOST_CONNECTIONS));
        let mut connections = JoinSet::new();
        tokio::pin!(stop);
        loop {
            tokio::select! {
                () = &mut stop => break,
                Some(_) = connections.join_next(), if !connections.is_empty() => {}
                accepted = listener.accept() => match accepted {
                    Ok((stream, peer)) => match Arc::clone(&room).try_acquire_owned() {
                        Ok(permit) => {
                            // Views are small, and somebody waits for each.
                            let _unimportant = stream.set_nodelay(true);
                            let served = serve(self.router.clone(), stream, peer);
                            connections.spawn(async move {
                                served.await;
                                drop(permit);
                            });
                        }
                        Err(_) => tracing::warn!(%peer, "too many connections: one is turned away"),
                    },
                    Err(error) => {
                        tracing::warn!(%error, "a connection could not be accepted");
                        tokio::time::sleep(PATIENCE).await;
                    }
                },
            }
        }
        self.keeper.abort();
        let last = tokio::time::sleep(PATIENCE);
        tokio::pin!(last);
        loop {
            tokio::select! {
                () = &mut last => break,
                next = connections.join_next() => if next.is_none() { break },
            }
        }
        connections.shutdown().await;
    }
}

/// Serves one connection until it ends.
async fn serve(
    router: Router,
    stream: impl AsyncRead + AsyncWrite + Send + Unpin + 'static,
    peer: SocketAddr,
) {
    let router = router.layer(axum::Extension(Peer(peer)));
    let service = TowerToHyperService::new(router);
    let mut builder = hyper::server::conn::http1::Builder::new();
    builder
        .timer(TokioTimer::new())
        .header_read_timeout(HEADERS)
        .max_buf_size(BUFFER);
    if let Err(error) = builder
        .serve_connection(TokioIo::new(stream), service)
        .await
    {
        tracing::debug!(%peer, %error, "a connection ended early");
    }
}

/// How many connections there may be at once: each viewer has one that stays.
const MOST_CONNECTIONS: usize = 1_024;

/// How long anybody may take for the headers of a request.
const HEADERS: Duration = Duration::from_secs(10);

/// How much of a connection is kept in memory each way.
const BUFFER: usize = 64 * 1_024;

/// How long the last words may take, and how long to wait when there are no handles.
const PATIENCE: Duration = Duration::from_millis(500);

#[cfg(test)]
mod tests;
