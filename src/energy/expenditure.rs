//! Total expenditure: EER of two generations, PAL, hours of a day by MET, thermic effect.
//!
//! Takes a person, resting energy and activity; gives kcal a day. Knows no phase.

use super::EnergyError;
use super::data::{self, ActivityRow, EerRow, sex_id};
use super::resting::{equation, outside_age};
use crate::brief::ActivityLevel;
use crate::diagnostic::suggestion;
use crate::person::Person;
use crate::units::Kcal;

/// The FAO/WHO/UNU 2004 (table 5.3) class of a PAL, in words; the ranges are the published ones.
pub fn fao_class(pal: f64) -> &'static str {
    match pal {
        p if p < 1.40 => "below the sedentary class (1.40-1.69)",
        p if p < 1.70 => "sedentary or light (1.40-1.69)",
        p if p < 2.00 => "active or moderate (1.70-1.99)",
        p if p <= 2.40 => "vigorous (2.00-2.40)",
        _ => "above what can be sustained for long (over 2.40)",
    }
}

/// How the data files and briefs write a level.
pub fn level_id(level: ActivityLevel) -> &'static str {
    match level {
        ActivityLevel::Inactive => "inactive",
        ActivityLevel::LowActive => "low_active",
        ActivityLevel::Active => "active",
        ActivityLevel::VeryActive => "very_active",
    }
}

/// The physical activity level that stands for a level in words. \[TEE/REE\]
///
/// 1.4, 1.6, 1.8, 2.0. Source: EFSA Journal 11(1):3005, 2013.
pub fn level_pal(level: ActivityLevel) -> f64 {
    let p = data::policy();
    match level {
        ActivityLevel::Inactive => p.pal_inactive.value,
        ActivityLevel::LowActive => p.pal_low_active.value,
        ActivityLevel::Active => p.pal_active.value,
        ActivityLevel::VeryActive => p.pal_very_active.value,
    }
}

/// The form of an EER equation for a person: IOM 2005 has one for BMI 18.5 to 25 and one above.
pub fn eer_form(id: &str, person: &Person) -> Result<&'static str, EnergyError> {
    let e = equation(id)?;
    if e.kind != "eer" {
        return Err(EnergyError::NotEer { id: id.to_string() });
    }
    if person.age < e.from_age {
        return Err(outside_age(e, person.age));
    }
    match id {
        "eer_2023" => Ok("eer_2023"),
        _ if person.bmi() < data::policy().bmi_underweight.value => Err(EnergyError::OutsideBmi {
            id: id.to_string(),
            bmi: person.bmi(),
            from: data::policy().bmi_underweight.value,
        }),
        _ if person.bmi() < 25.0 => Ok("eer_2005_normal"), // the published edge of the form
        _ => Ok("eer_2005_overweight"),
    }
}

/// Estimated energy requirement, total expenditure at balance. \[kcal/day\]
///
/// `id` is `eer_2005` or `eer_2023`. EER = c + a·age + PA·(w·mass + h·height).
/// Source: IOM 2005 chapter 5; NASEM 2023 table S-1; coefficients in `eer.csv`.
pub fn eer(id: &str, person: &Person, level: ActivityLevel) -> Result<Kcal, EnergyError> {
    let form = eer_form(id, person)?;
    eer_rows(form, person)
        .find(|r| r.level == level_id(level))
        .map(|r| apply(r, person))
        .ok_or_else(|| EnergyError::NotEer { id: id.to_string() })
}

/// The activity category of an EER form in whose PAL range a PAL falls.
pub fn eer_level(form: &str, person: &Person, pal: f64) -> Option<ActivityLevel> {
    use ActivityLevel::{Active, Inactive, LowActive, VeryActive};
    let row = eer_rows(form, person).find(|r| (r.pal_from..r.pal_below).contains(&pal))?;
    [Inactive, LowActive, Active, VeryActive]
        .into_iter()
        .find(|l| level_id(*l) == row.level)
}

fn eer_rows<'a>(form: &'a str, person: &'a Person) -> impl Iterator<Item = &'static EerRow> + 'a {
    data::eer_rows()
        .iter()
        .filter(move |r| r.form == form && r.sex == sex_id(person.sex))
}

fn apply(r: &EerRow, person: &Person) -> Kcal {
    Kcal(
        r.constant
            + r.per_year * f64::from(person.age)
            + r.pa
                * (r.per_kg * person.weight.0
                    + r.per_m * person.height.metres()
                    + r.per_cm * person.height.0),
    )
}

/// The activity with an id, or an error that suggests the nearest id.
pub fn activity(id: &str) -> Result<&'static ActivityRow, EnergyError> {
    data::activities()
        .iter()
        .find(|a| a.id == id)
        .ok_or_else(|| EnergyError::UnknownActivity {
            id: id.to_string(),
            near: suggestion(id, data::activities().iter().map(|a| a.id.as_str())).map(str::to_string),
        })
}

/// The hours of a day, reduced to what the rest needs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DayOfHours {
    /// Physical activity level: mean MET over 24 hours.
    pub pal: f64,
    /// Exercise above daily living, as a share of resting energy a day:
    /// Σ hours·(MET − 1.3)/24 over the activities that count as exercise.
    pub exercise_share: f64,
}

/// Mean MET of a day from hours by activity id. \[TEE/REE\]
///
/// PAL = Σ hᵢ·METᵢ / 24; multiply by the person's own resting energy, never by 1 kcal/kg/h
/// (Byrne et al., J Appl Physiol 99:1112-1119, 2005). Hours must sum to 24. Every mistake is
/// reported. METs: Ainsworth et al., Med Sci Sports Exerc 43:1575-1581, 2011.
pub fn day_of_hours(hours: &[(String, f64)]) -> Result<DayOfHours, Vec<EnergyError>> {
    let sitting = data::policy().daily_living_met.value;
    let (mut errors, mut met_hours, mut exercise, mut sum) = (Vec::new(), 0.0, 0.0, 0.0);
    for (id, h) in hours {
        if !h.is_finite() || *h < 0.0 {
            errors.push(EnergyError::BadHours {
                id: id.clone(),
                hours: *h,
            });
            continue;
        }
        sum += h;
        match activity(id) {
            Ok(a) => {
                met_hours += h * a.met;
                if a.exercise == "yes" {
                    exercise += h * (a.met - sitting).max(0.0);
                }
            }
            Err(e) => errors.push(e),
        }
    }
    if (sum - 24.0).abs() > 0.01 {
        errors.push(EnergyError::HoursSum { sum });
    }
    if errors.is_empty() {
        Ok(DayOfHours {
            pal: met_hours / 24.0,
            exercise_share: exercise / 24.0,
        })
    } else {
        Err(errors)
    }
}

/// Refuses a PAL that nobody lives at (under 1.2 or over 2.4). \[TEE/REE\]
pub fn check_pal(pal: f64) -> Result<f64, EnergyError> {
    let p = data::policy();
    if (p.pal_least.value..=p.pal_most.value).contains(&pal) {
        Ok(pal)
    } else {
        Err(EnergyError::PalRange {
            pal,
            least: p.pal_least.value,
            most: p.pal_most.value,
        })
    }
}

/// Thermic effect of the macronutrients of a day. \[kcal/day\]
///
/// 25 % of protein, 7.5 % of carbohydrate and 1.5 % of fat energy, the middles of the ranges of
/// Westerterp, Nutr Metab 1:5, 2004; Atwater 4/4/9. PAL already holds it: never add it again.
pub fn thermic_effect(protein_g: f64, carbohydrate_g: f64, fat_g: f64) -> Kcal {
    let p = data::policy();
    Kcal(
        p.thermic_protein.value * 4.0 * protein_g
            + p.thermic_carbohydrate.value * 4.0 * carbohydrate_g
            + p.thermic_fat.value * 9.0 * fat_g,
    )
}
