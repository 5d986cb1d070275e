//! The commands, one file each: from arguments to printed words and an exit code.

pub(crate) mod check;
pub(crate) mod draw;
pub(crate) mod run;
pub(crate) mod shell;
pub(crate) mod trace;
pub(crate) mod why;
