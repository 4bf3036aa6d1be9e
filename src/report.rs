//! The report: what was computed, for people and machines. Takes values of the stages before it,
//! gives text, CSV and JSON. Touches no file.

pub mod amount;
pub mod appraise;
pub mod calendar;
pub mod chart;
pub mod compare;
pub mod csv;
pub mod dishes;
pub mod forecast;
pub mod form;
pub mod html;
pub mod json;
pub mod markdown;
pub mod pantry;
pub mod review;
pub mod sheet;
pub mod swap;
pub mod sweep;
pub mod targets;
pub mod text;
pub mod why;
pub(crate) mod words;
