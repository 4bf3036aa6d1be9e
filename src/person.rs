//! Who the plan is for. Validated on reading; knows no food and no formula.

use crate::units::{Centimetres, Kilograms};

/// Sex as the published equations use it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Sex {
    /// Female equations and reference intakes.
    Female,
    /// Male equations and reference intakes.
    Male,
}

/// Resistance-training experience, as the practice standards distinguish it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Training {
    /// No resistance training.
    #[default]
    None,
    /// In the first year or so.
    Novice,
    /// One to a few years.
    Intermediate,
    /// Many years, near the own limit.
    Advanced,
}

/// How a body-fat share was obtained; decides the error carried with it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum BodyFat {
    /// Measured and stated by the user, share of body mass 0..1.
    Measured(f64),
    /// From circumferences in centimetres (science: Hodgdon and Beckett 1984).
    Circumferences {
        /// Neck.
        neck: Centimetres,
        /// Abdomen at the navel (men) or narrowest waist (women).
        waist: Centimetres,
        /// Hip (women); `None` for men.
        hip: Option<Centimetres>,
    },
}

/// Ancestry for which other cut-offs are published.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default)]
pub enum Population {
    /// International cut-offs.
    #[default]
    International,
    /// WHO Asian action points for BMI; South Asian waist limits.
    SouthAsian,
    /// WHO Asian action points for BMI.
    Asian,
}

/// The person a brief plans for.
#[derive(Clone, Debug, PartialEq)]
pub struct Person {
    /// Sex for equations.
    pub sex: Sex,
    /// Age in whole years.
    pub age: u32,
    /// Height.
    pub height: Centimetres,
    /// Body mass now.
    pub weight: Kilograms,
    /// Body fat, when known.
    pub body_fat: Option<BodyFat>,
    /// Waist for the risk limits, when known.
    pub waist: Option<Centimetres>,
    /// Resistance-training experience.
    pub training: Training,
    /// Which cut-offs apply.
    pub population: Population,
}

impl Person {
    /// Body mass index, kg/m².
    pub fn bmi(&self) -> f64 {
        let m = self.height.metres();
        self.weight.0 / (m * m)
    }
}
