//! How nodes come in: the hello, and who is let through.
//!
//! Invariant: a stranger holds nothing for longer than the time for a hello, and there are never
//! more than so many strangers at once.

use std::collections::BTreeMap;
use std::convert::Infallible;
use std::sync::Arc;
use std::time::Duration;

use device::Fault;
use room::{Device, Plan};
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::TcpListener;
use tokio::sync::{Semaphore, mpsc};

use crate::link::Ends;
use crate::value::Value;
use crate::wire;

/// Somebody who said a proper hello.
#[derive(Debug)]
pub(crate) struct Arrival {
    pub(crate) device: Device,
    /// The connection; or what is wrong with a node that had the token.
    pub(crate) ends: Result<Ends, Fault>,
}

/// Where connections are received; clones lead to the same room.
#[derive(Clone, Debug)]
pub struct Hall(Arc<Inner>);

#[derive(Debug)]
struct Inner {
    token: String,
    devices: BTreeMap<String, Device>,
    arrivals: mpsc::Sender<Arrival>,
    strangers: Arc<Semaphore>,
    hello: Duration,
}

/// The inner side: who has come in.
#[derive(Debug)]
pub struct Door {
    pub(crate) arrivals: mpsc::Receiver<Arrival>,
}

impl Hall {
    /// The hall of a room whose nodes show this token within `hello`.
    #[must_use]
    pub fn new(plan: &Plan, token: &str, hello: Duration) -> (Self, Door) {
        let (sender, arrivals) = mpsc::channel(STRANGERS);
        let inner = Inner {
            token: token.to_owned(),
            devices: devices(plan),
            arrivals: sender,
            strangers: Arc::new(Semaphore::new(STRANGERS)),
            hello,
        };
        (Self(Arc::new(inner)), Door { arrivals })
    }

    /// Receives a connection. When too many others have not said hello yet it is turned away.
    pub fn receive(&self, stream: impl AsyncRead + AsyncWrite + Send + Unpin + 'static) {
        let Ok(permit) = Arc::clone(&self.0.strangers).try_acquire_owned() else {
            tracing::warn!("too many connections without a hello: one more is turned away");
            return;
        };
        let hall = self.clone();
        tokio::spawn(async move {
            hall.greet(stream).await;
            drop(permit);
        });
    }

    /// Receives every connection to a port, until the future is dropped.
    pub async fn listen(&self, listener: TcpListener) -> Infallible {
        loop {
            match listener.accept().await {
                Ok((stream, _)) => {
                    // Questions are small and each waits for its answer.
                    let _unimportant = stream.set_nodelay(true);
                    self.receive(stream);
                }
                Err(error) => {
                    tracing::warn!(%error, "a connection could not be accepted");
                    // Out of handles: some are given back when strangers time out.
                    tokio::time::sleep(PATIENCE).await;
                }
            }
        }
    }

    async fn greet(&self, stream: impl AsyncRead + AsyncWrite + Send + Unpin + 'static) {
        let (mut reader, mut writer) = tokio::io::split(stream);
        let hello = tokio::time::timeout(self.0.hello, wire::read(&mut reader)).await;
        let Ok(Ok(hello)) = hello else {
            return;
        };
        let (device, ends) = match self.judge(&hello) {
            Ok(device) => {
                let ends = Ends {
                    reader: Box::new(reader),
                    writer: Box::new(writer),
                };
                (device, Ok(ends))
            }
            Err((device, why)) => {
                let refused = wire::of("refused", [Value::text_of(why)]);
                let sent = wire::write(&mut writer, &refused);
                let _gone = tokio::time::timeout(self.0.hello, sent).await;
                match device {
                    Some(device) => (device, Err(Fault::NodeVersion)),
                    None => return,
                }
            }
        };
        let _room_gone = self.0.arrivals.send(Arrival { device, ends }).await;
    }

    /// Who says hello; or why it may not come in, and who it is when it had the token.
    fn judge(&self, hello: &Value) -> Result<Device, (Option<Device>, &'static str)> {
        let Some(("hello", [version, name, token])) = wire::parts(hello) else {
            return Err((None, "this is no hello"));
        };
        if token.text() != Some(&self.0.token) {
            return Err((None, "the token is another"));
        }
        let device = name.text().and_then(|name| self.0.devices.get(name));
        let Some(&device) = device else {
            return Err((None, "the room has no such device"));
        };
        if version.number() != Some(wire::VERSION) {
            return Err((Some(device), "only version 1 is spoken here"));
        }
        Ok(device)
    }
}

/// The devices of a plan by their names.
#[must_use]
pub fn devices(plan: &Plan) -> BTreeMap<String, Device> {
    let sources = (0..).zip(&plan.sources);
    let controllers = (0..).zip(&plan.controllers);
    let sources = sources.map(|(id, it)| (it.name.clone(), Device::Source(room::SourceId(id))));
    let controllers =
        controllers.map(|(id, it)| (it.name.clone(), Device::Controller(room::ControllerId(id))));
    controllers.chain(sources).collect()
}

/// How many connections may be without a hello at once.
const STRANGERS: usize = 64;

/// How long to wait before connections are accepted again.
const PATIENCE: Duration = Duration::from_millis(100);
