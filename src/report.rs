//! Reports: a plan as text, CSV and JSON. Takes plan values, gives strings; touches no file.

pub mod amount;
pub mod csv;
pub mod json;
pub mod text;
