//! Tests of the language of clauses through its public face.

mod bench;
mod reading;
