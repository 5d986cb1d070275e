//! From the keyed text of a clause to its tree.

pub(crate) mod cursor;
mod expression;
mod keys;
mod sentence;
mod statement;
mod subject;

pub(crate) use keys::{clause, ends_in_span};
