//! Tests of the language of clauses through its public face.

mod bench;
mod definitions;
mod errors;
mod exercise;
mod judging;
mod model;
mod names;
mod reading;
mod seen;
