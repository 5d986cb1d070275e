//! Following a room: whatever happens in it, as a stream, without ever holding it up.
//!
//! Each reader has a bounded queue. A reader that is slower than the room loses the oldest
//! moments and is told how many, in their place; the room and the other readers do not notice.
//!
//! Invariant: publishing never waits.

use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};

use sim::{Instant, Step, StepId};
use tokio::sync::broadcast;
use tokio_stream::Stream;
use tokio_stream::wrappers::BroadcastStream;
use tokio_stream::wrappers::errors::BroadcastStreamRecvError;

/// What happened at one instant.
#[derive(Clone, Debug, Eq, PartialEq)]
pub struct Moment {
    /// When.
    pub at: Instant,
    /// The number of the first step in the trace of the run.
    pub first: StepId,
    /// The steps, in order.
    pub steps: Vec<Step>,
}

/// What a reader hears.
#[derive(Clone, Debug, Eq, PartialEq)]
pub enum Heard {
    /// Something happened.
    Moment(Arc<Moment>),
    /// The reader was too slow and missed so many moments here.
    Missed(u64),
}

/// The place to which a room publishes.
#[derive(Clone, Debug)]
pub struct Feed(broadcast::Sender<Arc<Moment>>);

impl Feed {
    /// A feed that keeps up to `moments` for each reader.
    #[must_use]
    pub fn new(moments: usize) -> Self {
        Self(broadcast::Sender::new(moments.max(1)))
    }

    /// Everything that happens from now on.
    #[must_use]
    pub fn subscribe(&self) -> Subscription {
        Subscription(BroadcastStream::new(self.0.subscribe()))
    }

    /// Tells every reader. That nobody listens is no fault.
    pub(crate) fn publish(&self, moment: Moment) {
        let _nobody = self.0.send(Arc::new(moment));
    }

    /// Whether anybody listens.
    pub(crate) fn is_heard(&self) -> bool {
        self.0.receiver_count() > 0
    }
}

/// The moments of a room as they come; ends when the room is gone.
#[derive(Debug)]
pub struct Subscription(BroadcastStream<Arc<Moment>>);

impl Stream for Subscription {
    type Item = Heard;

    fn poll_next(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<Option<Heard>> {
        Pin::new(&mut self.0).poll_next(context).map(|next| {
            next.map(|next| match next {
                Ok(moment) => Heard::Moment(moment),
                Err(BroadcastStreamRecvError::Lagged(missed)) => Heard::Missed(missed),
            })
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use tokio_stream::StreamExt;

    fn moment(ms: u64) -> Moment {
        Moment {
            at: Instant::from_ms(ms),
            first: StepId::FIRST,
            steps: Vec::new(),
        }
    }

    #[tokio::test]
    async fn a_slow_reader_is_told_what_it_missed_and_holds_nobody_up() {
        let feed = Feed::new(4);
        let (mut slow, mut quick) = (feed.subscribe(), feed.subscribe());
        for ms in 0..10 {
            feed.publish(moment(ms));
            assert_eq!(
                quick.next().await,
                Some(Heard::Moment(Arc::new(moment(ms))))
            );
        }
        drop(feed);
        assert_eq!(slow.next().await, Some(Heard::Missed(6)));
        for ms in 6..10 {
            assert_eq!(slow.next().await, Some(Heard::Moment(Arc::new(moment(ms)))));
        }
        assert_eq!(slow.next().await, None);
    }
}
