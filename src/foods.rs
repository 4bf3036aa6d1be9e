//! Foods: rows of a nutrient table per 100 g edible portion, read from the bundled table or from
//! files, and found by words. Missing, zero and trace are three different things.

use std::fmt;

/// The id of a food: the table and its own number, `sr28:20045`, `fdc:321358`, `user:my-bread`.
#[derive(Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct FoodId(String);

impl FoodId {
    /// From the full text; no check whether such a food exists.
    pub fn new(id: impl Into<String>) -> FoodId {
        FoodId(id.into())
    }
    /// The full text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Debug for FoodId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl fmt::Display for FoodId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// How much of a nutrient is known to be in 100 g edible portion.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Content {
    /// Not known. Never zero.
    Unknown,
    /// Present in an amount too small to state.
    Trace,
    /// This much, in the nutrient's unit. Zero is a known zero.
    Known(f64),
}

impl Content {
    /// The amount counted towards a sum: unknown and trace count 0.
    pub fn counted(self) -> f64 {
        match self {
            Content::Known(v) => v,
            Content::Unknown | Content::Trace => 0.0,
        }
    }
    /// Whether a value is known (a trace is known).
    pub fn is_known(self) -> bool {
        !matches!(self, Content::Unknown)
    }
}
