//! Targets: floors and ceilings with unit, scope, reason and source.
//!
//! Takes the person, the energy budget and the brief's overrides; numbers are data
//! (`src/targets/*.csv`), not code. Knows no dish and no solver.

mod data;
mod derive;
mod overrides;

pub use data::reference_intakes;
pub use derive::{derive, derive_phase};

use crate::brief::Scope;
use crate::nutrient::Nutrient;

/// How strictly a target binds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Strength {
    /// The plan must meet it.
    Must,
    /// Met whenever the brief and the foods allow; otherwise the shortfall is named
    /// (reference intakes that ordinary food often cannot reach).
    Should,
}

/// What a bound limits: a nutrient as it stands, or less of it (only some forms count).
#[derive(Clone, Debug, PartialEq)]
pub struct Target {
    /// Id of the target, unique: the nutrient id plus scope, e.g. `protein_day`; where a nutrient
    /// has several of one scope the later ones end in `_floor`, `_ceiling` or `_band`.
    pub id: String,
    /// Which nutrient is counted.
    pub nutrient: Nutrient,
    /// Lowest intake a day (or a meal, by scope), in the nutrient's unit.
    pub floor: Option<f64>,
    /// Highest intake, in the nutrient's unit.
    pub ceiling: Option<f64>,
    /// Where the middle is, for closeness; `None` when only the bounds matter.
    pub centre: Option<f64>,
    /// Over what it holds.
    pub scope: Scope,
    /// How strictly.
    pub strength: Strength,
    /// Set by the brief itself.
    pub from_brief: bool,
    /// Why, in a few words: "1.6 g per kg for muscle gain".
    pub reason: String,
    /// Citation.
    pub source: String,
}
