//! Energy: person, activity and phase to resting energy, expenditure with its spread, and intake.
//!
//! Knows no food. Equations, body-weight model, composition and gates stand in the submodules.

use crate::units::Kcal;

/// A figure with its plausible range.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// Low end (one standard deviation below, unless said otherwise).
    pub low: Kcal,
    /// Central figure.
    pub middle: Kcal,
    /// High end.
    pub high: Kcal,
}

/// A step of a derivation that a coach can defend: what, how much, by which formula and source.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// What was computed, such as "resting energy".
    pub what: String,
    /// The figure with its unit, formatted.
    pub value: String,
    /// Formula or rule in words.
    pub how: String,
    /// Citation.
    pub source: String,
}

/// What a gate does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GateAction {
    /// No plan of this kind is made.
    Stop,
    /// The plan carries the warning.
    Warn,
}

/// A safety rule that fired.
#[derive(Clone, Debug, PartialEq)]
pub struct Gate {
    /// Stable code, kebab-case.
    pub code: &'static str,
    /// Stop or warn.
    pub action: GateAction,
    /// Why, in a sentence with the figures.
    pub why: String,
    /// What would be acceptable instead.
    pub instead: String,
    /// Citation.
    pub source: String,
}

/// Energy for one phase of a brief.
#[derive(Clone, Debug, PartialEq)]
pub struct EnergyBudget {
    /// Resting energy expenditure a day.
    pub resting: Spread,
    /// Total energy expenditure a day.
    pub expenditure: Spread,
    /// Energy to eat a day.
    pub intake: Kcal,
    /// Expected change of body mass, kg a week, mean over the phase; `None` when not modelled.
    pub rate_kg_per_week: Option<f64>,
    /// Fat-free mass used, kg, with its error; `None` when unknown.
    pub fat_free_mass_kg: Option<(f64, f64)>,
    /// How it was derived, in order.
    pub derivation: Vec<Step>,
    /// Gates that fired, stops first.
    pub gates: Vec<Gate>,
}
