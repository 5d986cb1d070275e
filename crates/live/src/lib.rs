//! The paced clock and the bus that other programs can join.
//!
//! One [`Host`] owns a room. Devices that stand outside it are asked over connections what they
//! do ([`wire`] says how), and whoever wants to follow the room subscribes to its [`Feed`].
//! A scenario is played in lockstep ([`Host::play`]): the host moves on only when every node has
//! answered for the instant, so the trace is that of a run with every device inside, to the
//! byte. Or the room runs freely, held to wall time ([`Host::run_freely`]).
//!
//! Invariant: every queue is bounded, every wait for somebody else has a deadline, and nothing
//! that a node or a reader does stops the room.

mod clock;
mod door;
mod feed;
mod host;
mod link;
mod names;
mod node;
mod speech;
mod value;
pub mod wire;
mod words;

pub use clock::Pace;
pub use door::{Door, Hall, devices};
pub use feed::{Feed, Heard, Moment, Subscription};
pub use host::{Commands, Host, Limits, Nodes, Publisher, Setting, Stir, Stopped};
pub use node::{NodeError, Part, serve};
