//! Expenditure again, from weigh-ins and what was eaten.
//!
//! Takes weights by day, mean intake and fat mass; gives expenditure with its error, on the eater's
//! own logging scale (logs run 280-365 kcal a day low on average, PLoS ONE 8:e76632, 2013).

use super::data::policy;
use super::rules::stored_kcal_per_kg;
use crate::units::Kcal;

/// A trend of body mass.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trend {
    /// kg a day.
    pub kg_per_day: f64,
    /// One standard error, kg a day.
    pub error_kg_per_day: f64,
    /// Weigh-ins used.
    pub count: usize,
    /// Scatter about the line, kg (the assumed noise when it cannot be estimated or is larger).
    pub noise_kg: f64,
}

/// Standard error of a least-squares slope through daily weights. \[kg/day\]
///
/// σ·√(12/(n(n² − 1))), n equally spaced days, σ the noise of one weight.
pub fn slope_error(days: usize, noise_kg: f64) -> Option<f64> {
    let n = days as f64;
    (days >= 2).then(|| noise_kg * libm::sqrt(12.0 / (n * (n * n - 1.0))))
}

/// The least-squares trend of (day, kg). `None` with fewer than two different days.
///
/// The noise is the scatter about the line, but no less than the 0.6 kg of `policy.toml`: a few
/// smooth points do not make a scale better than it is.
pub fn trend(weights: &[(f64, f64)]) -> Option<Trend> {
    let n = weights.len() as f64;
    if weights.iter().any(|(d, w)| !d.is_finite() || !w.is_finite()) {
        return None;
    }
    let day = weights.iter().map(|w| w.0).sum::<f64>() / n;
    let kg = weights.iter().map(|w| w.1).sum::<f64>() / n;
    let squares: f64 = weights.iter().map(|w| (w.0 - day) * (w.0 - day)).sum();
    if weights.len() < 2 || squares <= 0.0 {
        return None;
    }
    let slope = weights.iter().map(|w| (w.0 - day) * (w.1 - kg)).sum::<f64>() / squares;
    let residual: f64 = weights
        .iter()
        .map(|w| {
            let r = w.1 - kg - slope * (w.0 - day);
            r * r
        })
        .sum();
    let scatter = if weights.len() > 2 {
        libm::sqrt(residual / (n - 2.0))
    } else {
        0.0
    };
    let noise_kg = scatter.max(policy().weigh_in_noise.value);
    Some(Trend {
        kg_per_day: slope,
        error_kg_per_day: noise_kg / libm::sqrt(squares),
        count: weights.len(),
        noise_kg,
    })
}

/// The median of the slopes between all pairs (Theil and Sen), robust against odd days. \[kg/day\]
pub fn robust_slope(weights: &[(f64, f64)]) -> Option<f64> {
    let mut slopes: Vec<f64> = Vec::new();
    for (i, a) in weights.iter().enumerate() {
        for b in &weights[i + 1..] {
            if b.0 != a.0 {
                slopes.push((b.1 - a.1) / (b.0 - a.0));
            }
        }
    }
    slopes.sort_by(f64::total_cmp);
    let middle = slopes.len() / 2;
    match slopes.len() {
        0 => None,
        n if n % 2 == 1 => Some(slopes[middle]),
        _ => Some((slopes[middle - 1] + slopes[middle]) / 2.0),
    }
}

/// An expenditure with one standard error, kcal a day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// Middle.
    pub kcal: Kcal,
    /// One standard error.
    pub error: Kcal,
}

/// Expenditure from balance. \[kcal/day\]
///
/// TEE = mean intake − ρ·dW/dt with ρ the energy of weight change at the fat mass (Forbes), not the
/// effective density of the linear model. The error is that of the trend.
pub fn from_balance(mean_intake: Kcal, trend: &Trend, fat_kg: f64) -> Estimate {
    let density = stored_kcal_per_kg(fat_kg);
    Estimate {
        kcal: Kcal(mean_intake.0 - density * trend.kg_per_day),
        error: Kcal(density * trend.error_kg_per_day),
    }
}

/// Two estimates as one, each weighted by its precision.
pub fn combine(prior: Estimate, observed: Estimate) -> Estimate {
    let weight = |e: &Estimate| 1.0 / (e.error.0 * e.error.0).max(1e-12);
    let (a, b) = (weight(&prior), weight(&observed));
    Estimate {
        kcal: Kcal((a * prior.kcal.0 + b * observed.kcal.0) / (a + b)),
        error: Kcal(1.0 / libm::sqrt(a + b)),
    }
}

/// A new expenditure moved no farther from the old than 150 kcal a day for each week (proposal).
pub fn capped(old: Kcal, new: Kcal, weeks: f64) -> Kcal {
    let most = policy().change_cap.value * weeks.max(0.0);
    Kcal(new.0.clamp(old.0 - most, old.0 + most))
}
