//! Files to rooms and rows: reads what a user writes, checks it, and runs it.
//!
//! Knows TOML, not the terminal. Every error of a user points at file, line and column and
//! carries a hint; nothing that a file can hold makes this crate panic.
//!
//! ```
//! use scenario::{Sources, room_file::read_room};
//!
//! let mut sources = Sources::new();
//! let text = "name = \"Office\"\n[outputs.lights]\ndrive = \"relays\"\n";
//! let file = sources.add("room.toml", text);
//! let (room, found) = read_room(&sources, file, None, None);
//! assert!(room.is_none());
//! assert_eq!(sources.position(found[0].place), "room.toml:3:10");
//! assert!(found[0].hint.starts_with("did you mean \"relay\"?"));
//! ```

pub mod challenge;
pub mod check;
pub mod diagnostic;
pub mod keys;
pub mod room_file;
pub mod run;
pub mod schema;
pub mod script;
pub mod sequence_file;
pub mod site;
pub mod source;
pub mod starter;
pub mod suite;
pub mod words;
pub mod written;

pub use diagnostic::{Diagnostic, Severity};
pub use source::{FileId, Place, SourceFile, Sources};
