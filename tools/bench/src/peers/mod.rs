//! What the product is measured against: general-purpose kernels and loops written by hand.
//!
//! The ones written by hand know only these three devices and this one workload.

pub(crate) mod heap;
pub(crate) mod limit;
pub(crate) mod nexosim;
pub(crate) mod table;
