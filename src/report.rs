//! The report: what was computed, for people and machines. Takes values of the stages before it,
//! gives text, CSV and JSON. Touches no file.

pub mod amount;
pub mod chart;
pub mod csv;
pub mod json;
pub mod sweep;
pub mod targets;
pub mod text;
pub mod why;
