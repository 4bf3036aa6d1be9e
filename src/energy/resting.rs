//! Resting energy: one linear row of coefficients per equation, sex and age band.
//!
//! Takes a person and, where an equation asks for it, fat-free mass; gives kcal a day.
//! Knows no activity and no phase.

use super::EnergyError;
use super::data::{self, Equation, RestingRow, sex_id};
use crate::diagnostic::suggestion;
use crate::person::{BodyFat, Person, Sex, Training};
use crate::units::{Kcal, Kilograms};

/// The equation with an id, or an error that suggests the nearest id.
pub fn equation(id: &str) -> Result<&'static Equation, EnergyError> {
    data::equations()
        .iter()
        .find(|e| e.id == id)
        .ok_or_else(|| EnergyError::UnknownEquation {
            id: id.to_string(),
            near: suggestion(id, data::equations().iter().map(|e| e.id.as_str())).map(str::to_string),
        })
}

/// Resting energy expenditure by a named equation. \[kcal/day\]
///
/// `fat_free` fat-free mass, needed by the `_ffm` and `cunningham_*` equations only.
/// E = factor · (c + a·mass + b·height − d·age + e·FFM), coefficients and their sources in
/// `resting.csv` and `equations.csv`. Outside the equation's ages: [`EnergyError::OutsideAge`].
/// Checked by `tests/truth/energy/resting.rs`.
pub fn resting(id: &str, person: &Person, fat_free: Option<Kilograms>) -> Result<Kcal, EnergyError> {
    let e = equation(id)?;
    if e.kind != "resting" {
        return Err(EnergyError::NotResting { id: id.to_string() });
    }
    if person.age < e.from_age || e.to_age.is_some_and(|to| person.age > to) {
        return Err(outside_age(e, person.age));
    }
    let row = row(e, person)?;
    let ffm_kcal = match (row.per_kg_ffm, fat_free) {
        (0.0, _) => 0.0,
        (k, Some(f)) => k * f.0,
        (_, None) => return Err(EnergyError::NeedsBodyFat { id: id.to_string() }),
    };
    Ok(Kcal(
        row.factor
            * (row.constant
                + row.per_kg * person.weight.0
                + row.per_cm * person.height.0
                + row.per_m * person.height.metres()
                + row.per_year * f64::from(person.age)
                + ffm_kcal),
    ))
}

/// Whether an equation asks for fat-free mass.
pub fn needs_fat_free_mass(id: &str) -> bool {
    data::resting_rows()
        .iter()
        .any(|r| r.equation == id && r.per_kg_ffm != 0.0)
}

/// The id of the equation used when the brief names none, and why.
///
/// Mifflin-St Jeor inside its ages; Henry outside them; Cunningham 1991 when body fat was measured
/// and the person trains and is lean (limits in `policy.toml`).
pub fn default_equation(person: &Person) -> (&'static str, &'static str) {
    let lean = match (person.sex, data::policy()) {
        (Sex::Male, p) => p.lean_fat_male.value,
        (Sex::Female, p) => p.lean_fat_female.value,
    };
    if person.age < data::policy().adult.value as u32 {
        return ("schofield_minor", "under 18: shown beside the refusal only");
    }
    if let Some(BodyFat::Measured(share)) = person.body_fat
        && share * 100.0 < lean
        && person.training != Training::None
    {
        return (
            "cunningham_1991",
            "body fat is measured and the person is lean and trained",
        );
    }
    match equation("mifflin") {
        Ok(m) if person.age < m.from_age || m.to_age.is_some_and(|to| person.age > to) => (
            "henry",
            "the age lies outside the 19 to 78 years of Mifflin-St Jeor",
        ),
        _ => (
            "mifflin",
            "within 10 % of measured in more people than any other (Frankenfield 2005 review)",
        ),
    }
}

fn row(e: &Equation, person: &Person) -> Result<&'static RestingRow, EnergyError> {
    let of_sex = |r: &&RestingRow| r.equation == e.id && (r.sex == "any" || r.sex == sex_id(person.sex));
    if !data::resting_rows().iter().any(|r| of_sex(&r)) {
        return Err(EnergyError::NotForSex {
            id: e.id.clone(),
            sex: sex_id(person.sex),
        });
    }
    data::resting_rows()
        .iter()
        .filter(of_sex)
        .find(|r| r.from_age.is_none_or(|a| person.age >= a) && r.below_age.is_none_or(|a| person.age < a))
        .ok_or_else(|| outside_age(e, person.age))
}

pub(super) fn outside_age(e: &Equation, age: u32) -> EnergyError {
    EnergyError::OutsideAge {
        id: e.id.clone(),
        age,
        from: e.from_age,
        to: e.to_age,
    }
}
