//! The room's numbers: read once from the data files beside this module.
//!
//! Takes nothing, gives typed tables. Every figure carries its unit, source and tag
//! (`src` read in the source, `2nd` second-hand, `mem` from memory, `design` a proposal of this
//! project, `common` common practice).

use crate::person::Sex;
use serde::Deserialize;
use serde::de::DeserializeOwned;
use std::sync::LazyLock;

/// A number from the world, with its unit, source and tag.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Figure {
    /// The number.
    pub value: f64,
    /// Its unit.
    pub unit: String,
    /// How well the number is known: `src`, `2nd`, `mem`, `calc`, `design` or `common`.
    pub tag: String,
    /// Citation, or the reason of a proposal.
    pub source: String,
}

macro_rules! figures {
    ($(#[$doc:meta])* $name:ident { $($field:ident),* $(,)? }) => {
        $(#[$doc])*
        #[derive(Clone, Debug, PartialEq, Deserialize)]
        #[serde(deny_unknown_fields)]
        pub struct $name { $(
            #[doc = concat!("`", stringify!($field), "` of the data file, which states its unit and source.")]
            pub $field: Figure, )* }
        impl $name {
            /// Every figure with its name, in order.
            pub fn all(&self) -> Vec<(&'static str, &Figure)> {
                vec![$((stringify!($field), &self.$field)),*]
            }
        }
    };
}

figures! {
    /// Floors, caps, rates and spreads (`policy.toml`).
    Policy {
        resting_spread, pal_spread, level_spread, eer_spread, measured_spread,
        pal_inactive, pal_low_active, pal_active, pal_very_active, pal_least, pal_high, pal_most,
        daily_living_pal, daily_living_met,
        thermic_share, thermic_protein, thermic_carbohydrate, thermic_fat,
        circumference_see_male, circumference_see_female, measured_see, estimated_see,
        lean_fat_male, lean_fat_female,
        gain_rate_novice, gain_rate_intermediate, gain_rate_advanced, gain_rate_untrained,
        gain_rate_most, gain_energy_least, gain_energy_most, surplus_warn, surplus_cap,
        loss_rate, loss_rate_lean, loss_rate_most, loss_rate_most_high_fat,
        loss_lean_male, loss_lean_female, loss_high_fat_male, loss_high_fat_female,
        deficit_cap, deficit_keep_muscle, fat_supply, fat_supply_share, hold_band,
        default_weeks, default_weeks_hold, gain_weeks_most, loss_weeks_most,
        floor_female, floor_male, floor_resting, very_low,
        bmi_underweight, bmi_low_international, bmi_low_asian, bmi_obese, bmi_high_asian,
        waist_male, waist_female, waist_male_south_asian, waist_female_south_asian,
        adult, old, availability_warn, availability_refuse, availability_weeks,
        ffmi_slope, ffmi_limit, weigh_in_noise, change_cap,
        lean_novice_low, lean_novice_high, lean_intermediate_low, lean_intermediate_high,
        lean_advanced_high, lean_female, lean_kept_low, lean_kept_high, lean_kept_protein,
        band_deviations, storage_low, storage_high, storage_deviations,
        cost_least, cost_low, cost_high, cost_usual_low, cost_usual_high, surplus_tried,
        trained_gain, trained_gain_weeks, water_most,
        weigh_ins_a_week, weigh_in_weeks, water_days, water_spread, intake_unlogged,
        outlier_deviations,
    }
}

/// A linear estimate of extracellular fluid, kg (`model.toml`).
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Fluid {
    /// kg.
    pub constant: f64,
    /// kg per year of age.
    pub per_year: f64,
    /// kg per metre of height.
    pub per_m: f64,
    /// kg per kg of body mass.
    pub per_kg: f64,
    /// How well it is known.
    pub tag: String,
    /// Citation.
    pub source: String,
}

/// Constants of the body-weight model (`model.toml`).
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
#[allow(missing_docs)] // named and explained in model.toml
pub struct ModelFigures {
    pub rho_fat: Figure,
    pub rho_lean: Figure,
    pub rho_glycogen: Figure,
    pub eta_fat: Figure,
    pub eta_lean: Figure,
    pub gamma_fat: Figure,
    pub gamma_lean: Figure,
    pub forbes: Figure,
    pub glycogen_water: Figure,
    pub glycogen_start: Figure,
    pub sodium_concentration: Figure,
    pub sodium_excretion: Figure,
    pub sodium_carbohydrate: Figure,
    pub adaptive_share: Figure,
    pub adaptive_days: Figure,
    pub thermic_share: Figure,
    pub carbohydrate_share: Figure,
    pub ecf_male: Fluid,
    pub ecf_female: Fluid,
    pub essential_fat_male: Figure,
    pub essential_fat_female: Figure,
    pub least_fat: Figure,
    pub old_rule: Figure,
}

/// An equation that can be named (`equations.csv`).
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Equation {
    /// Id as a brief names it.
    pub id: String,
    /// `resting` or `eer`.
    pub kind: String,
    /// Name for people.
    pub name: String,
    /// Youngest age it is for, years.
    pub from_age: u32,
    /// Oldest age it is for, years, where one is published.
    pub to_age: Option<u32>,
    /// On whom it rests.
    pub population: String,
    /// Citation.
    pub citation: String,
    /// How well the coefficients are known.
    pub tag: String,
}

/// One row of coefficients of a resting equation (`resting.csv`), kcal a day.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RestingRow {
    /// Equation id.
    pub equation: String,
    /// `male`, `female` or `any`.
    pub sex: String,
    /// Band starts at this age, years, inclusive.
    pub from_age: Option<u32>,
    /// Band ends before this age, years.
    pub below_age: Option<u32>,
    /// Factor on the whole (population adjustment).
    pub factor: f64,
    /// kcal.
    pub constant: f64,
    /// kcal per kg of body mass.
    pub per_kg: f64,
    /// kcal per cm of height.
    pub per_cm: f64,
    /// kcal per m of height.
    pub per_m: f64,
    /// kcal per year of age.
    pub per_year: f64,
    /// kcal per kg of fat-free mass.
    pub per_kg_ffm: f64,
    /// Published standard error of estimate, kcal, where known.
    pub see_kcal: Option<f64>,
    /// How well the coefficients are known.
    pub tag: String,
}

/// One row of coefficients of an EER equation (`eer.csv`), kcal a day.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EerRow {
    /// `eer_2005_normal`, `eer_2005_overweight` or `eer_2023`.
    pub form: String,
    /// `male` or `female`.
    pub sex: String,
    /// Activity category id.
    pub level: String,
    /// PAL range of the category, from, inclusive.
    pub pal_from: f64,
    /// PAL range of the category, below.
    pub pal_below: f64,
    /// kcal.
    pub constant: f64,
    /// kcal per year of age.
    pub per_year: f64,
    /// Factor on the mass and height terms.
    pub pa: f64,
    /// kcal per kg.
    pub per_kg: f64,
    /// kcal per m.
    pub per_m: f64,
    /// kcal per cm.
    pub per_cm: f64,
    /// How well the coefficients are known.
    pub tag: String,
}

/// An activity of the MET table (`activities.csv`; Ainsworth et al., Med Sci Sports Exerc
/// 43:1575-1581, 2011).
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ActivityRow {
    /// Id as a brief names it.
    pub id: String,
    /// For people.
    pub label: String,
    /// Compendium code; empty when it is not a compendium row.
    pub code: String,
    /// Metabolic equivalents of rest.
    pub met: f64,
    /// `yes` when it counts as exercise for energy availability.
    pub exercise: String,
    /// How well the value is known.
    pub tag: String,
}

/// A referral question (`screen.csv`).
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ScreenRow {
    /// Id as a brief names it.
    pub id: String,
    /// `stop`, `warn`, or `agree` (an explicit agreement that turns one stop into a warning).
    pub action: String,
    /// The action while weight is held.
    pub in_hold: String,
    /// Code of the gate.
    pub code: String,
    /// The question to ask.
    pub question: String,
    /// Why it matters.
    pub why: String,
    /// What would be acceptable.
    pub instead: String,
    /// Citation.
    pub source: String,
}

fn csv_rows<T: DeserializeOwned>(name: &str, text: &str) -> Vec<T> {
    csv::Reader::from_reader(text.as_bytes())
        .deserialize()
        .map(|row| row.unwrap_or_else(|e| panic!("bundled {name} is broken: {e}")))
        .collect()
}

fn toml_figures<T: DeserializeOwned>(name: &str, text: &str) -> T {
    toml::from_str(text).unwrap_or_else(|e| panic!("bundled {name} is broken: {e}"))
}

// The texts are compiled in, so a broken one fails the unit test below and never a user.
static POLICY: LazyLock<Policy> = LazyLock::new(|| toml_figures("policy.toml", include_str!("policy.toml")));
static MODEL: LazyLock<ModelFigures> =
    LazyLock::new(|| toml_figures("model.toml", include_str!("model.toml")));
static EQUATIONS: LazyLock<Vec<Equation>> =
    LazyLock::new(|| csv_rows("equations.csv", include_str!("equations.csv")));
static RESTING: LazyLock<Vec<RestingRow>> =
    LazyLock::new(|| csv_rows("resting.csv", include_str!("resting.csv")));
static EER: LazyLock<Vec<EerRow>> = LazyLock::new(|| csv_rows("eer.csv", include_str!("eer.csv")));
static ACTIVITIES: LazyLock<Vec<ActivityRow>> =
    LazyLock::new(|| csv_rows("activities.csv", include_str!("activities.csv")));
static SCREEN: LazyLock<Vec<ScreenRow>> =
    LazyLock::new(|| csv_rows("screen.csv", include_str!("screen.csv")));

/// Floors, caps, rates and spreads.
pub fn policy() -> &'static Policy {
    &POLICY
}
/// Constants of the body-weight model.
pub fn model() -> &'static ModelFigures {
    &MODEL
}
/// Every equation that can be named, in order.
pub fn equations() -> &'static [Equation] {
    &EQUATIONS
}
/// Coefficients of the resting equations.
pub fn resting_rows() -> &'static [RestingRow] {
    &RESTING
}
/// Coefficients of the EER equations.
pub fn eer_rows() -> &'static [EerRow] {
    &EER
}
/// The MET table.
pub fn activities() -> &'static [ActivityRow] {
    &ACTIVITIES
}
/// The referral questions.
pub fn screen() -> &'static [ScreenRow] {
    &SCREEN
}

/// How the data files write a sex.
pub(crate) fn sex_id(sex: Sex) -> &'static str {
    match sex {
        Sex::Female => "female",
        Sex::Male => "male",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    const TAGS: [&str; 6] = ["src", "2nd", "mem", "calc", "design", "common"];

    #[test]
    fn every_figure_has_unit_source_and_tag() {
        for (name, f) in policy().all() {
            assert!(!f.unit.is_empty() && !f.source.is_empty(), "{name}");
            assert!(TAGS.contains(&f.tag.as_str()), "{name}: {}", f.tag);
        }
        assert!(model().rho_fat.value > model().rho_lean.value);
    }

    #[test]
    fn every_table_reads_and_ids_are_unique() {
        let ids: BTreeSet<_> = equations().iter().map(|e| &e.id).collect();
        assert_eq!(ids.len(), equations().len());
        for e in equations().iter().filter(|e| e.kind == "resting") {
            assert!(resting_rows().iter().any(|r| r.equation == e.id), "{}", e.id);
            assert!(!e.citation.is_empty() && TAGS.contains(&e.tag.as_str()));
        }
        for r in resting_rows() {
            assert!(ids.contains(&r.equation), "{}", r.equation);
        }
        assert_eq!(eer_rows().len(), 24);
        let ids: BTreeSet<_> = activities().iter().map(|a| &a.id).collect();
        assert_eq!(ids.len(), activities().len());
        let ids: BTreeSet<_> = screen().iter().map(|a| &a.id).collect();
        assert_eq!(ids.len(), screen().len());
        for s in screen() {
            assert!(["stop", "warn", "agree"].contains(&s.action.as_str()), "{}", s.id);
            assert!(s.action == "agree" || !s.source.is_empty(), "{}", s.id);
        }
    }
}
