//! Solving: a bound by linear programming, a plan in whole steps by search, a check of every row.
//!
//! Takes a [`crate::model::Model`], gives steps of its columns. Knows no food.

pub mod bound;
pub mod branch;
pub mod duals;
pub mod engine;
pub mod iis;
pub mod parametric;
pub mod price;
pub mod search;
#[cfg(feature = "highs")]
pub mod second;
pub mod simplex;
pub mod verify;
