//! Invented persons used throughout.

use platewright::person::{BodyFat, Person, Population, Sex, Training};
use platewright::units::{Centimetres, Kilograms};

pub use platewright::person::Sex::{Female, Male};

pub fn person(sex: Sex, age: u32, height_cm: f64, weight_kg: f64) -> Person {
    Person {
        sex,
        age,
        height: Centimetres(height_cm),
        weight: Kilograms(weight_kg),
        body_fat: None,
        waist: None,
        training: Training::None,
        population: Population::International,
    }
}

/// Persons A to E with their fat-free mass, kg.
pub fn a_to_e() -> [(Person, f64); 5] {
    let known = |sex, age, h, w, fat: f64| {
        let p = Person {
            body_fat: Some(BodyFat::Measured(fat)),
            ..person(sex, age, h, w)
        };
        (p, w * (1.0 - fat))
    };
    [
        known(Male, 34, 182.0, 78.0, 0.17),
        known(Female, 30, 165.0, 60.0, 0.26),
        known(Male, 25, 180.0, 85.0, 0.12),
        known(Female, 52, 160.0, 88.0, 0.42),
        known(Male, 66, 170.0, 75.0, 0.25),
    ]
}

#[track_caller]
pub fn near(got: f64, expected: f64, within: f64, what: &str) {
    assert!(
        (got - expected).abs() <= within,
        "{what}: got {got}, expected {expected} ± {within}"
    );
}
