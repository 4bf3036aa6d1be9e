//! Expenditure from weigh-ins.

use crate::people::*;
use platewright::energy::body::{Body0, PhaseInput, simulate};
use platewright::energy::reestimate::*;
use platewright::energy::resting::resting;
use platewright::energy::rules::stored_kcal_per_kg;
use platewright::units::{Kcal, Kilograms};

/// Standard error of a least-squares slope, textbook formula; times 7700 kcal/kg (computed).
#[test]
fn standard_errors() {
    let days = [7, 10, 14, 21, 28, 42, 56];
    let at_0_6 = [873.0, 509.0, 306.0, 166.0, 108.0, 59.0, 38.0];
    let at_1_0 = [1455.0, 848.0, 511.0, 277.0, 180.0, 98.0, 64.0];
    for (i, n) in days.into_iter().enumerate() {
        near(
            7700.0 * slope_error(n, 0.6).unwrap(),
            at_0_6[i],
            0.6,
            "noise 0.6 kg",
        );
        near(
            7700.0 * slope_error(n, 1.0).unwrap(),
            at_1_0[i],
            0.6,
            "noise 1.0 kg",
        );
    }
    assert_eq!(slope_error(1, 0.6), None);
}

/// 2500 kcal eaten, −0.05 kg a day: 2885 at 7700 kcal/kg, 2841.6 at 20 kg of fat (computed).
#[test]
fn balance() {
    let line: Vec<(f64, f64)> = (0..28)
        .map(|d| (f64::from(d), 80.0 - 0.05 * f64::from(d)))
        .collect();
    let t = trend(&line).unwrap();
    near(t.kg_per_day, -0.05, 1e-12, "slope");
    near(robust_slope(&line).unwrap(), -0.05, 1e-12, "robust slope");
    near(
        t.error_kg_per_day,
        slope_error(28, 0.6).unwrap(),
        1e-12,
        "error at the least noise",
    );
    near(
        from_balance(Kcal(2500.0), &t, 20.0).kcal.0,
        2841.6,
        0.1,
        "expenditure",
    );
    near(2500.0 + 7700.0 * 0.05, 2885.0, 1e-9, "old rule");
}

#[test]
fn the_surer_estimate_weighs_more() {
    let e = |kcal, error| Estimate {
        kcal: Kcal(kcal),
        error: Kcal(error),
    };
    let both = combine(e(2500.0, 250.0), e(2800.0, 108.0));
    // Precision weights: (2500/250² + 2800/108²)/(1/250² + 1/108²), by hand.
    near(both.kcal.0, 2752.82, 0.01, "mean");
    near(both.error.0, 99.14, 0.01, "error");
    near(
        capped(Kcal(2500.0), Kcal(2900.0), 2.0).0,
        2800.0,
        1e-9,
        "cap of 150 a week",
    );
    assert_eq!(trend(&[]), None);
    assert_eq!(trend(&[(1.0, 80.0), (1.0, 81.0)]), None);
}

/// Synthetic: true weights of a steady loss with known expenditure, noise 0.6 kg, 28 days, 500 seeds;
/// the truth lies within two standard errors in 95 % of them (a property of least squares). Weeks 5
/// to 8 of the phase, since water moves before. Noise is a sum of twelve uniform numbers.
#[test]
fn the_truth_is_found_in_95_of_100() {
    let p = person(Male, 34, 182.0, 85.0);
    let rest = resting("mifflin_full", &p, None).unwrap();
    let body = Body0::new(&p, Kilograms(18.0), rest, rest * 1.6);
    let intake = rest * 1.6 - Kcal(500.0);
    let run = simulate(&body, &[PhaseInput::new(56, intake)], 0.5).unwrap();
    let window = &run.days[28..56];
    let fat = window.iter().map(|d| d.state.fat_kg).sum::<f64>() / 28.0;
    let truth = window.iter().map(|d| d.expenditure.0).sum::<f64>() / 28.0;
    let mut state = 7_u64;
    let mut uniform = || {
        state = state
            .wrapping_mul(6364136223846793005)
            .wrapping_add(1442695040888963407);
        (state >> 11) as f64 / (1_u64 << 53) as f64
    };
    let mut inside = 0;
    for _ in 0..500 {
        let noisy: Vec<(f64, f64)> = window
            .iter()
            .map(|d| {
                let noise: f64 = (0..12).map(|_| uniform()).sum::<f64>() - 6.0;
                (f64::from(d.day), d.state.weight_kg() + 0.6 * noise)
            })
            .collect();
        let e = from_balance(intake, &trend(&noisy).unwrap(), fat);
        if (e.kcal.0 - truth).abs() <= 2.0 * e.error.0 {
            inside += 1;
        }
    }
    assert!(inside >= 470, "{inside} of 500");
    assert!(stored_kcal_per_kg(fat) < 7700.0);
}
