//! Rules beside the full model: Forbes partition, the linear model, and the old rule to compare.
//!
//! Takes masses and energies, gives masses and densities. Knows no person's plan.

use super::data;
use crate::units::{KJ_PER_KCAL, Kcal};

/// Share of a small weight change that is lean tissue, by fat mass. \[0..1\]
///
/// 10.4/(10.4 + F). Source: Forbes, Nutr Rev 45:225-231, 1987. Untrained, diet-driven change only.
pub fn lean_share_of_change(fat_kg: f64) -> f64 {
    let c = data::model().forbes.value;
    c / (c + fat_kg)
}

/// Energy of a small weight change at a fat mass. \[kcal/kg\]
///
/// (ρF + α·ρL)/(1 + α), α = 10.4/F. Source: Hall, Int J Obes 32:573-576, 2008.
pub fn stored_kcal_per_kg(fat_kg: f64) -> f64 {
    let m = data::model();
    let lean = lean_share_of_change(fat_kg);
    ((1.0 - lean) * m.rho_fat.value + lean * m.rho_lean.value) / KJ_PER_KCAL
}

/// Change of fat for a change of weight. \[kg\]
///
/// Solves ΔF + 10.4·ln((F₀ + ΔF)/F₀) = ΔW in closed form with Lambert's W. Source: Hall, Br J Nutr
/// 97:1059-1063, 2007. `None` when the fat at the start is not positive.
pub fn fat_change(fat_kg: f64, weight_change_kg: f64) -> Option<f64> {
    if !(fat_kg > 0.0 && weight_change_kg.is_finite()) {
        return None;
    }
    let c = data::model().forbes.value;
    // F₁ = c·W(x) with ln x = ln(F₀/c) + (F₀ + ΔW)/c; w + ln w = ln x is free of overflow.
    let ln_x = libm::log(fat_kg / c) + (fat_kg + weight_change_kg) / c;
    Some(c * lambert_w_of_exp(ln_x) - fat_kg)
}

/// Lambert's W₀ of e^y, by Newton's method on w + ln w = y.
fn lambert_w_of_exp(y: f64) -> f64 {
    let mut w = if y > 1.0 {
        y - libm::log(y)
    } else {
        libm::exp(y.min(0.0))
    };
    for _ in 0..60 {
        let next = w * (1.0 + y - libm::log(w)) / (1.0 + w);
        if (next - w).abs() <= 1e-15 * next {
            return next;
        }
        w = next;
    }
    w
}

/// Mean energy of a finite weight change. \[kcal/kg\] `None` when nothing changes.
pub fn mean_kcal_per_kg(fat_kg: f64, weight_change_kg: f64) -> Option<f64> {
    let m = data::model();
    let fat = fat_change(fat_kg, weight_change_kg)?;
    let lean = weight_change_kg - fat;
    (weight_change_kg != 0.0)
        .then(|| (m.rho_fat.value * fat + m.rho_lean.value * lean) / weight_change_kg / KJ_PER_KCAL)
}

/// Weight change by the old rule of 7700 kcal a kilogram. \[kg\] Only to compare: fair for four to
/// six weeks, useless beyond (Thomas et al., Int J Obes 37:1611-1613, 2013).
pub fn old_rule_kg(surplus: Kcal, days: f64) -> f64 {
    surplus.0 * days / data::model().old_rule.value
}

/// The model made linear around its start.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Linear {
    /// Effective energy density of weight change, kcal/kg.
    pub kcal_per_kg: f64,
    /// Expenditure change per kg of weight change, kcal/kg/d.
    pub kcal_per_kg_day: f64,
}

impl Linear {
    /// From the fat mass, activity at balance and its change, both kJ/kg/d.
    ///
    /// Source: Sanghvi et al., Am J Clin Nutr 102:353-358, 2015, supplement.
    pub fn new(fat_kg: f64, delta_kj_per_kg: f64, delta_change_kj_per_kg: f64) -> Linear {
        let m = data::model();
        let alpha = m.forbes.value / fat_kg;
        let rest = 1.0 - m.thermic_share.value - m.adaptive_share.value;
        let density = (m.eta_fat.value + m.rho_fat.value + alpha * (m.eta_lean.value + m.rho_lean.value))
            / (rest * (1.0 + alpha));
        let slope = ((m.gamma_fat.value + alpha * m.gamma_lean.value) / (1.0 + alpha)
            + delta_kj_per_kg
            + delta_change_kj_per_kg)
            / rest;
        Linear {
            kcal_per_kg: density / KJ_PER_KCAL,
            kcal_per_kg_day: slope / KJ_PER_KCAL,
        }
    }
    /// Time constant, days; the half-time is this times ln 2.
    pub fn time_constant_days(&self) -> f64 {
        self.kcal_per_kg / self.kcal_per_kg_day
    }
    /// Weight change after some days of a constant surplus. \[kg\]
    pub fn change_kg(&self, surplus: Kcal, days: f64) -> f64 {
        self.final_change_kg(surplus) * -libm::expm1(-days / self.time_constant_days())
    }
    /// Weight change in the end. \[kg\]
    pub fn final_change_kg(&self, surplus: Kcal) -> f64 {
        surplus.0 / self.kcal_per_kg_day
    }
}
