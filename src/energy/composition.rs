//! Body composition from what a tape and a scale give, with its error.
//!
//! Takes a person, gives body fat and fat-free mass. Knows no energy.

use super::EnergyError;
use super::data::{model, policy};
use crate::person::{BodyFat, Person, Sex};
use crate::units::{Centimetres, Kilograms};

/// Body composition used, with how it was obtained.
#[derive(Clone, Debug, PartialEq)]
pub struct Composition {
    /// Body fat, % of body mass.
    pub fat_percent: f64,
    /// One standard error of it, points.
    pub error_points: f64,
    /// Fat, kg.
    pub fat: Kilograms,
    /// Fat-free mass, kg.
    pub fat_free: Kilograms,
    /// One standard error of both, kg.
    pub error: Kilograms,
    /// False when estimated from age, height and weight alone.
    pub known: bool,
    /// Formula in words.
    pub how: &'static str,
    /// Citation.
    pub source: &'static str,
}

/// Body fat from circumferences, by density. \[% of body mass\]
///
/// Men 495/(1.0324 − 0.19077·lg(abdomen − neck) + 0.15456·lg H) − 450; women
/// 495/(1.29579 − 0.35004·lg(waist + hip − neck) + 0.22100·lg H) − 450; cm. Standard error 3.52
/// (men), 3.72 (women). Source: Hodgdon and Beckett, NHRC 84-11 and 84-29, 1984.
pub fn circumference_fat(
    sex: Sex,
    height: Centimetres,
    neck: Centimetres,
    waist: Centimetres,
    hip: Option<Centimetres>,
) -> Result<f64, EnergyError> {
    let girth = girth(sex, neck, waist, hip)?;
    let lg_h = libm::log10(height.0);
    let density = match sex {
        Sex::Male => 1.0324 - 0.19077 * libm::log10(girth) + 0.15456 * lg_h,
        Sex::Female => 1.29579 - 0.35004 * libm::log10(girth) + 0.22100 * lg_h,
    };
    plausible(495.0 / density - 450.0)
}

/// Body fat from circumferences, the form in inches. \[% of body mass\]
///
/// Men 86.010·lg(abdomen − neck) − 70.041·lg H + 36.76; women 163.205·lg(waist + hip − neck) −
/// 97.684·lg H − 78.387; inches inside. Source: DoD Instruction 1308.3, 2002.
pub fn circumference_fat_inches(
    sex: Sex,
    height: Centimetres,
    neck: Centimetres,
    waist: Centimetres,
    hip: Option<Centimetres>,
) -> Result<f64, EnergyError> {
    let girth_in = girth(sex, neck, waist, hip)? / crate::units::CM_PER_IN;
    let lg_h = libm::log10(height.0 / crate::units::CM_PER_IN);
    plausible(match sex {
        Sex::Male => 86.010 * libm::log10(girth_in) - 70.041 * lg_h + 36.76,
        Sex::Female => 163.205 * libm::log10(girth_in) - 97.684 * lg_h - 78.387,
    })
}

fn girth(
    sex: Sex,
    neck: Centimetres,
    waist: Centimetres,
    hip: Option<Centimetres>,
) -> Result<f64, EnergyError> {
    let girth = match (sex, hip) {
        (Sex::Male, _) => waist.0 - neck.0,
        (Sex::Female, Some(hip)) => waist.0 + hip.0 - neck.0,
        (Sex::Female, None) => {
            return Err(EnergyError::Circumferences(
                "women's formula needs the hip".into(),
            ));
        }
    };
    if girth.is_finite() && girth > 0.0 {
        Ok(girth)
    } else {
        Err(EnergyError::Circumferences(
            "the waist must be larger than the neck".into(),
        ))
    }
}

fn plausible(percent: f64) -> Result<f64, EnergyError> {
    if (1.0..70.0).contains(&percent) {
        Ok(percent)
    } else {
        Err(EnergyError::Circumferences(format!(
            "they give {percent:.1} % body fat, which is outside 1 to 70 %"
        )))
    }
}

/// Body fat from BMI. \[% of body mass\]
///
/// 1.20·BMI + 0.23·age − 10.8 (men) − 5.4, adults, standard error 4.1; too high in obesity.
/// Source: Deurenberg et al., Br J Nutr 65:105-114, 1991.
pub fn deurenberg_fat(person: &Person) -> f64 {
    let man = if person.sex == Sex::Male { 10.8 } else { 0.0 };
    1.20 * person.bmi() + 0.23 * f64::from(person.age) - man - 5.4
}

/// Body fat from BMI, the body-weight model's own default. \[% of body mass\]
///
/// Men 0.14·age + 37.31·ln BMI − 103.94; women 0.14·age + 39.96·ln BMI − 102.01.
/// Source: Jackson et al., Int J Obes 26:789-796, 2002 (coefficients from memory).
pub fn jackson_fat(person: &Person) -> f64 {
    let (slope, constant) = match person.sex {
        Sex::Male => (37.31, 103.94),
        Sex::Female => (39.96, 102.01),
    };
    0.14 * f64::from(person.age) + slope * libm::log(person.bmi()) - constant
}

/// Fat-free mass index, and the same brought to 1.80 m. \[kg/m²\]
///
/// FFM/H²; + 6.3·(1.80 − H). Source: Kouri et al., Clin J Sport Med 5:223-228, 1995.
pub fn fat_free_mass_index(fat_free: Kilograms, height: Centimetres) -> (f64, f64) {
    let m = height.metres();
    let index = fat_free.0 / (m * m);
    (index, index + policy().ffmi_slope.value * (1.80 - m))
}

/// Composition of a person: stated, from circumferences, or estimated from BMI.
///
/// The estimate is Jackson 2002, held above the essential fat of the model's range.
pub fn composition(person: &Person) -> Result<Composition, EnergyError> {
    let p = policy();
    let (percent, error, known, how, source) = match person.body_fat {
        Some(BodyFat::Measured(share)) if share > 0.01 && share < 0.70 => (
            share * 100.0,
            p.measured_see.value,
            true,
            "body fat as stated",
            "the brief",
        ),
        Some(BodyFat::Measured(share)) => {
            return Err(EnergyError::BodyFat {
                percent: share * 100.0,
            });
        }
        Some(BodyFat::Circumferences { neck, waist, hip }) => (
            circumference_fat(person.sex, person.height, neck, waist, hip)?,
            match person.sex {
                Sex::Male => p.circumference_see_male.value,
                Sex::Female => p.circumference_see_female.value,
            },
            true,
            "body fat from circumferences, by density",
            "Hodgdon and Beckett, NHRC 84-11 and 84-29, 1984",
        ),
        None => (
            jackson_fat(person).clamp(100.0 * essential_fat(person.sex) + 2.0, 65.0),
            p.estimated_see.value,
            false,
            "body fat estimated from age and BMI",
            "Jackson et al., Int J Obes 26:789-796, 2002",
        ),
    };
    let fat = person.weight * (percent / 100.0);
    Ok(Composition {
        fat_percent: percent,
        error_points: error,
        fat,
        fat_free: person.weight - fat,
        error: person.weight * (error / 100.0),
        known,
        how,
        source,
    })
}

/// A published way to body fat, with what it gives for a person.
#[derive(Clone, Debug, PartialEq)]
pub struct Estimate {
    /// Its name for people.
    pub name: &'static str,
    /// Body fat, % of body mass.
    pub fat_percent: f64,
    /// One standard error of it, points.
    pub error_points: f64,
    /// Whether it is the one that every figure here rests on.
    pub used: bool,
    /// Where it fails.
    pub note: &'static str,
    /// Citation.
    pub source: &'static str,
}

/// Every estimate of body fat that a person's figures allow, the one used first.
///
/// Stated, circumferences (density form and the form in inches), and two from BMI. An estimate outside
/// 1 to 70 % is left out.
pub fn estimates(person: &Person) -> Vec<Estimate> {
    let p = policy();
    let mut list = Vec::new();
    let mut add = |name, fat_percent: f64, error_points, used, note, source| {
        if (1.0..70.0).contains(&fat_percent) {
            list.push(Estimate {
                name,
                fat_percent,
                error_points,
                used,
                note,
                source,
            });
        }
    };
    match person.body_fat {
        Some(BodyFat::Measured(share)) => add(
            "as stated",
            100.0 * share,
            p.measured_see.value,
            true,
            "as good as the method it came from",
            "the brief",
        ),
        Some(BodyFat::Circumferences { neck, waist, hip }) => {
            let see = match person.sex {
                Sex::Male => p.circumference_see_male.value,
                Sex::Female => p.circumference_see_female.value,
            };
            if let Ok(percent) = circumference_fat(person.sex, person.height, neck, waist, hip) {
                add(
                    "circumferences, by density",
                    percent,
                    see,
                    true,
                    "for the tape at the places named in the brief's page",
                    "Hodgdon and Beckett, NHRC 84-11 and 84-29, 1984",
                );
            }
            if let Ok(percent) = circumference_fat_inches(person.sex, person.height, neck, waist, hip) {
                add(
                    "circumferences, form in inches",
                    percent,
                    see,
                    false,
                    "the same measures, another form",
                    "DoD Instruction 1308.3, 2002",
                );
            }
        }
        None => {}
    }
    let none = person.body_fat.is_none();
    add(
        "age and BMI, Jackson",
        jackson_fat(person),
        p.estimated_see.value,
        none,
        "blind to muscle: too high in the muscular",
        "Jackson et al., Int J Obes 26:789-796, 2002",
    );
    add(
        "age and BMI, Deurenberg",
        deurenberg_fat(person),
        p.estimated_see.value,
        false,
        "blind to muscle; too high in obesity",
        "Deurenberg et al., Br J Nutr 65:105-114, 1991",
    );
    list.sort_by_key(|e| !e.used);
    list
}

/// The share of body mass below which the body-weight model does not go.
pub fn essential_fat(sex: Sex) -> f64 {
    match sex {
        Sex::Male => model().essential_fat_male.value,
        Sex::Female => model().essential_fat_female.value,
    }
}
