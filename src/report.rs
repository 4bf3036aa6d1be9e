//! The report: what was computed, for people and machines. Takes values of the stages before it,
//! gives text and JSON. Touches no file.

pub mod targets;
