//! Verdicts and traces as text, timeline pictures, HTML, JUnit and JSON.
//!
//! Invariant: the excerpt in a terminal and the picture in a browser are drawn from one
//! [`timeline::Timeline`] and so show the same events. Nothing here opens a file, reads a
//! clock or knows the terminal; equal runs give equal bytes.

pub mod causes;
pub mod clock;
pub mod draw;
pub mod excerpt;
pub mod failure;
pub mod junit;
pub mod outcome;
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
