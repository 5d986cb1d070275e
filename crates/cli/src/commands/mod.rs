//! The commands, one file each: from arguments to printed words and an exit code.

pub(crate) mod challenge;
pub(crate) mod check;
pub(crate) mod draw;
pub(crate) mod live;
pub(crate) mod new;
pub(crate) mod node;
pub(crate) mod prove;
pub(crate) mod run;
pub(crate) mod schema;
pub(crate) mod shell;
pub(crate) mod trace;
pub(crate) mod why;
