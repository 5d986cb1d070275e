//! Verdicts and traces as text, timeline pictures, HTML, JUnit and JSON.
//!
//! Invariant: the excerpt in a terminal and the picture in a browser are drawn from one
//! [`timeline::Timeline`] and so show the same events. Nothing here opens a file, reads a
//! clock or knows the terminal; equal runs give equal bytes.
//!
//! ```
//! use report::{clock::Clock, draw, run::Run, timeline::Timeline, words::Names};
//!
//! let (plan, trace) = (room::Plan::default(), sim::Trace::default());
//! let start = "2026-03-02T08:00:00[UTC]".parse().expect("a civil time with its zone");
//! let run = Run {
//!     names: Names::new(&plan),
//!     trace: &trace,
//!     clock: Clock::new(start),
//!     title: "Nobody comes".to_owned(),
//!     file: "nobody.toml".to_owned(),
//!     values: Vec::new(),
//!     end: sim::Instant::from_ms(3_600_000),
//!     places: Default::default(),
//!     people: Default::default(),
//!     checks: Vec::new(),
//!     clauses: Vec::new(),
//!     settings: None,
//! };
//! let picture = draw::svg(&Timeline::of(&run));
//! assert!(picture.contains("Nobody comes"));
//! ```

pub mod causes;
pub mod clock;
pub mod draw;
pub mod excerpt;
pub mod failure;
pub mod junit;
pub mod outcome;
pub mod proof;
pub mod record;
pub mod run;
pub mod table;
pub mod timeline;
pub mod trace;
pub mod verdict;
pub mod why;
pub mod words;

#[cfg(test)]
mod samples;
#[cfg(test)]
mod sketch;
