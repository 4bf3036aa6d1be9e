//! Body composition. Values computed from the published formulas on invented bodies.

use crate::people::*;
use platewright::energy::composition::*;
use platewright::person::{BodyFat, Person};
use platewright::units::{Centimetres, Kilograms};

/// Hodgdon and Beckett, NHRC 84-11 and 84-29, 1984 (coefficients second-hand); inch form of DoD
/// Instruction 1308.3 (second-hand). Values computed, ± 0.01 points (printed to 0.01).
#[test]
fn circumferences() {
    let cm = Centimetres;
    for (sex, h, neck, waist, hip, density, inches) in [
        (Male, 182.0, 39.0, 88.0, None, 17.30, 17.37),
        (Male, 180.0, 40.0, 95.0, None, 21.89, 22.02),
        (Female, 165.0, 32.0, 72.0, Some(98.0), 27.43, 27.71),
    ] {
        let hip = hip.map(cm);
        let got = circumference_fat(sex, cm(h), cm(neck), cm(waist), hip).unwrap();
        near(got, density, 0.011, "density form");
        let got = circumference_fat_inches(sex, cm(h), cm(neck), cm(waist), hip).unwrap();
        near(got, inches, 0.011, "inch form");
    }
    assert!(circumference_fat(Female, cm(165.0), cm(32.0), cm(72.0), None).is_err());
    assert!(circumference_fat(Male, cm(165.0), cm(40.0), cm(40.0), None).is_err());
}

/// Deurenberg et al., Br J Nutr 65:105-114, 1991 (formula read) and Jackson et al., Int J Obes
/// 26:789-796, 2002 (formula from memory): persons A to E, computed.
#[test]
fn estimates_from_bmi() {
    let deurenberg = [19.88, 27.95, 21.03, 47.81, 30.12];
    let jackson = [18.68, 25.78, 21.45, 46.62, 26.79];
    for (i, (p, _)) in a_to_e().iter().enumerate() {
        near(deurenberg_fat(p), deurenberg[i], 0.011, "Deurenberg");
        near(jackson_fat(p), jackson[i], 0.011, "Jackson");
    }
}

/// Kouri et al., Clin J Sport Med 5:223-228, 1995 (slope 6.3 read in the abstract); computed.
#[test]
fn fat_free_mass_indices() {
    let people = a_to_e();
    let index = |i: usize| fat_free_mass_index(Kilograms(people[i].1), people[i].0.height);
    near(index(0).0, 19.54, 0.006, "A");
    near(index(0).1, 19.42, 0.006, "A at 1.80 m");
    near(index(1).0, 16.31, 0.006, "B");
    near(index(2).0, 23.09, 0.006, "C");
}

/// ± 4 points of body fat are ± 3.1 kg of fat-free mass and ± 67 kcal for A (computed, 21.6 kcal/kg).
#[test]
fn the_error_of_body_fat_is_carried() {
    let (a, _) = &a_to_e()[0];
    let measured = composition(a).unwrap();
    near(
        measured.error.0 * 4.0 / measured.error_points,
        3.12,
        0.01,
        "kg for 4 points",
    );
    let taped = Person {
        body_fat: Some(BodyFat::Circumferences {
            neck: Centimetres(39.0),
            waist: Centimetres(88.0),
            hip: None,
        }),
        ..a.clone()
    };
    let c = composition(&taped).unwrap();
    near(c.error_points, 3.52, 1e-9, "standard error (second-hand)");
    near(c.error.0, 78.0 * 0.0352, 1e-9, "kg");
    let guessed = composition(&Person {
        body_fat: None,
        ..a.clone()
    })
    .unwrap();
    assert!(!guessed.known);
    near(guessed.fat.0, 14.573, 0.001, "Jackson fat of A, kg (computed)");
}
