//! From a brief to a week of real meals.
//!
//! Data flows one way:
//!
//! ```text
//! brief -> person -> energy -> targets -+
//!                      foods -> kitchen -+-> model -> solve -> plan -> swap, why -> report -> cli, page
//!                      prices -----------+
//! ```
//!
//! Every stage is a module; none looks to its right.

// Parts of reports that only the page draws.
#![cfg_attr(not(feature = "page"), allow(dead_code))]

pub mod appraise;
pub mod brief;
pub mod diagnostic;
pub mod energy;
pub mod foods;
pub mod forecast;
pub mod household;
pub mod kitchen;
pub mod money;
pub mod nutrient;
pub mod person;
pub mod prices;
pub mod targets;
pub mod units;

pub mod model;
pub mod plan;
pub mod ready;
pub mod report;
pub mod review;
pub mod roster;
pub mod solve;
pub mod swap;
pub mod why;

#[cfg(feature = "cli")]
pub mod cli;

#[cfg(feature = "page")]
pub mod page;
