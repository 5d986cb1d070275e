//! The host's end of one connection to a node.
//!
//! Invariant: one task reads, whoever owns the link writes, and dropping the link ends both.

use std::fmt;
use std::time::Duration;

use device::Fault;
use room::Device;
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::sync::mpsc;
use tokio::task::JoinHandle;

use crate::value::Value;
use crate::wire::{self, Unread};

/// What comes from a node.
#[derive(Debug)]
pub(crate) struct Incoming {
    /// Which connection: a device may have had another before.
    pub(crate) link: u64,
    pub(crate) device: Device,
    /// A message, or what is wrong with the node.
    pub(crate) what: Result<Value, Fault>,
}

/// Both ends of a connection.
pub(crate) struct Ends {
    pub(crate) reader: Box<dyn AsyncRead + Send + Unpin>,
    pub(crate) writer: Box<dyn AsyncWrite + Send + Unpin>,
}

/// A connection to a node that has joined.
pub(crate) struct Link {
    pub(crate) number: u64,
    writer: Box<dyn AsyncWrite + Send + Unpin>,
    reading: JoinHandle<()>,
}

impl Link {
    /// Starts to read; what comes goes to `queue`, which holds the reader up when it is full.
    pub(crate) fn new(
        ends: Ends,
        number: u64,
        device: Device,
        queue: mpsc::Sender<Incoming>,
    ) -> Self {
        let mut reader = ends.reader;
        let reading = tokio::spawn(async move {
            loop {
                let what = wire::read(&mut reader)
                    .await
                    .map_err(|unread| match unread {
                        Unread::Ended => Fault::NodeGone,
                        Unread::Rubbish => Fault::NodeRubbish,
                    });
                let ended = what.is_err();
                let incoming = Incoming {
                    link: number,
                    device,
                    what,
                };
                if queue.send(incoming).await.is_err() || ended {
                    return;
                }
            }
        });
        Self {
            number,
            writer: ends.writer,
            reading,
        }
    }

    /// Sends a message; a node that does not take it in time is silent.
    pub(crate) async fn send(&mut self, message: &Value, within: Duration) -> Result<(), Fault> {
        let sent = tokio::time::timeout(within, wire::write(&mut self.writer, message)).await;
        match sent {
            Ok(Ok(())) => Ok(()),
            Ok(Err(_)) => Err(Fault::NodeGone),
            Err(_) => Err(Fault::NodeSilent),
        }
    }
}

impl Drop for Link {
    fn drop(&mut self) {
        self.reading.abort();
    }
}

impl fmt::Debug for Ends {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Ends")
    }
}

impl fmt::Debug for Link {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Link")
            .field("number", &self.number)
            .finish()
    }
}
