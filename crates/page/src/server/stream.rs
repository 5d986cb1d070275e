//! What a viewer is sent: views, the log, and a beat when there is nothing to say.
//!
//! Invariant: a viewer that reads slowly gets the latest view when it reads again; of the log it
//! loses the oldest and is told how much. Nobody else notices.

use std::collections::VecDeque;
use std::convert::Infallible;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};
use std::time::Duration;

use axum::body::Bytes;
use serde_json::json;
use tokio::sync::watch;
use tokio::time::{Interval, MissedTickBehavior};
use tokio_stream::Stream;
use tokio_stream::wrappers::{BroadcastStream, WatchStream};

use super::gate::Role;
use super::keeper::{Piece, Seat, event};

/// Counts a viewer for as long as it is there.
#[derive(Debug)]
pub(crate) struct Present(Arc<watch::Sender<usize>>);

impl Present {
    /// One more viewer; `None` when there are too many.
    pub(crate) fn new(viewers: &Arc<watch::Sender<usize>>) -> Option<Self> {
        let came = viewers.send_if_modified(|there| {
            let is_room = *there < MOST_VIEWERS;
            *there += usize::from(is_room);
            is_room
        });
        came.then(|| Self(Arc::clone(viewers)))
    }
}

impl Drop for Present {
    fn drop(&mut self) {
        self.0.send_modify(|there| *there = there.saturating_sub(1));
    }
}

/// The events of one viewer, until the room or the viewer is gone.
#[derive(Debug)]
pub(crate) struct Events {
    /// What goes out first.
    ready: VecDeque<Bytes>,
    views: WatchStream<Bytes>,
    log: BroadcastStream<Piece>,
    /// How many steps were published up to what was sent last.
    next: u64,
    /// How often the room had gone back then.
    era: u32,
    beat: Interval,
    _present: Present,
}

impl Events {
    /// The events for somebody with this role.
    pub(crate) fn new(seat: Seat, role: Role, present: Present) -> Self {
        let mut beat = tokio::time::interval(BEAT);
        beat.set_missed_tick_behavior(MissedTickBehavior::Delay);
        beat.reset();
        let hello = json!({
            "you": role.word(),
            "version": env!("CARGO_PKG_VERSION"),
            "revision": seat.revision,
        });
        let mut ready = VecDeque::from([Bytes::from_static(RETRY), event("hello", &hello)]);
        let latest = seat.views.borrow().clone();
        if !latest.is_empty() {
            ready.push_back(latest);
        }
        Self {
            ready,
            views: WatchStream::from_changes(seat.views),
            log: BroadcastStream::new(seat.log),
            next: seat.before,
            era: seat.era,
            beat,
            _present: present,
        }
    }

    /// A piece of the log comes: before it, what was lost.
    fn take(&mut self, piece: Piece) {
        let is_reset = piece.era != self.era;
        if is_reset && piece.steps > 0 {
            self.ready.push_back(event("reset", &json!({})));
        }
        let missed = piece.before.saturating_sub(self.next);
        if missed > 0 {
            self.ready
                .push_back(event("missed", &json!({ "n": missed })));
        }
        self.era = piece.era;
        self.next = piece.before + piece.steps;
        self.ready.push_back(piece.text);
    }
}

impl Stream for Events {
    type Item = Result<Bytes, Infallible>;

    fn poll_next(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<Option<Self::Item>> {
        let this = &mut *self;
        loop {
            if let Some(bytes) = this.ready.pop_front() {
                this.beat.reset();
                return Poll::Ready(Some(Ok(bytes)));
            }
            match Pin::new(&mut this.log).poll_next(context) {
                Poll::Ready(Some(Ok(piece))) => {
                    this.take(piece);
                    continue;
                }
                // How much was lost is seen from the next piece.
                Poll::Ready(Some(Err(_))) => continue,
                Poll::Ready(None) => return Poll::Ready(None),
                Poll::Pending => {}
            }
            match Pin::new(&mut this.views).poll_next(context) {
                Poll::Ready(Some(view)) => {
                    this.ready.push_back(view);
                    continue;
                }
                Poll::Ready(None) => return Poll::Ready(None),
                Poll::Pending => {}
            }
            if this.beat.poll_tick(context).is_pending() {
                return Poll::Pending;
            }
            this.ready.push_back(Bytes::from_static(b": beat\n\n"));
        }
    }
}

/// How many may watch at once.
const MOST_VIEWERS: usize = 256;

/// How long the stream may be silent: proxies and phones give up on what is silent for longer.
const BEAT: Duration = Duration::from_secs(15);

/// How long a browser waits before it comes back.
const RETRY: &[u8] = b"retry: 1000\n\n";
