//! G. J. Stigler, "The Cost of Subsistence", J. Farm Econ. 27(2):303-314, 1945, tables 1 and 2
//! (second-hand); G. B. Dantzig, Interfaces 20(4):43-47, 1990 (second-hand): 39.69 dollars a year.
//! Amounts, intakes and shadow prices: computed outside this project, see SOURCE.md. Tolerance: half
//! of the last digit given.

use crate::lp::{agreed, holds};
use approx::assert_abs_diff_eq;
use platewright::model::diet;
use platewright::model::linear::Linear;
use platewright::solve::engine::minimise;
use platewright::solve::price::shadow_prices;
use std::collections::BTreeMap;

const FOODS: &str = include_str!("../../../examples/stigler-1945/foods.csv");
const REQUIREMENTS: &str = include_str!("../../../examples/stigler-1945/requirements.csv");
const OPTIMUM: &str = include_str!("optimum.csv");

/// Dollars a day, computed.
const COST: f64 = 0.108_662_278_2;

fn problem() -> Linear {
    diet::read(FOODS, REQUIREMENTS).expect("the published tables")
}

/// First and second column of the optimum's file; shadow prices keep their `DUAL:`.
fn optimum() -> BTreeMap<String, f64> {
    let mut reader = csv::Reader::from_reader(OPTIMUM.as_bytes());
    reader
        .records()
        .map(|r| r.unwrap())
        .map(|r| (r[0].to_string(), r[1].parse().unwrap()))
        .collect()
}

#[test]
fn table_is_whole() {
    let lp = problem();
    assert_eq!((lp.variables.len(), lp.rows.len()), (77, 9));
    assert!(
        lp.variables
            .iter()
            .all(|v| v.cost == 1.0 && v.lo == 0.0 && v.hi.is_finite())
    );
}

#[test]
fn least_cost_of_a_day_and_a_year() {
    let cost = agreed(&problem());
    assert_abs_diff_eq!(cost, COST, epsilon = 5e-11);
    assert_abs_diff_eq!(cost * 365.0, 39.6617, epsilon = 5e-5);
    assert_abs_diff_eq!(cost * 365.25, 39.69, epsilon = 5e-3);
}

#[test]
fn five_foods_and_their_amounts() {
    let lp = problem();
    let best = minimise(&lp).unwrap();
    assert!(holds(&lp, &best.x, 1e-9));
    let bought: Vec<(String, f64)> = lp
        .variables
        .iter()
        .zip(&best.x)
        .filter(|(_, x)| **x > 1e-9)
        .map(|(v, x)| (v.name.clone(), *x))
        .collect();
    let expected = [
        ("Wheat_Flour_Enriched", "Wheat Flour (Enriched)"),
        ("Liver_Beef", "Liver (Beef)"),
        ("Cabbage", "Cabbage"),
        ("Spinach", "Spinach"),
        ("Navy_Beans_Dried", "Navy Beans, Dried"),
    ];
    assert_eq!(bought.len(), expected.len());
    let known = optimum();
    for ((name, x), (id, title)) in bought.iter().zip(expected) {
        assert_eq!(name, id);
        assert_abs_diff_eq!(*x, known[title], epsilon = 5e-10);
    }
}

#[test]
fn intakes() {
    let lp = problem();
    let best = minimise(&lp).unwrap();
    // Computed, digits as given.
    let known = [3.000, 147.41, 0.800, 60.467, 5.000, 4.120, 2.700, 27.316, 75.00];
    let digits = [3, 2, 3, 3, 3, 3, 3, 3, 2];
    for ((row, known), digits) in lp.rows.iter().zip(known).zip(digits) {
        let intake: f64 = row.terms.iter().map(|&(v, k)| k * best.x[v]).sum();
        assert_abs_diff_eq!(intake, known, epsilon = 0.501 * 0.1f64.powi(digits));
    }
}

#[test]
fn prices_of_the_floors() {
    let lp = problem();
    let prices = shadow_prices(&lp).unwrap();
    let known = optimum();
    let mut total = 0.0;
    for (row, price) in lp.rows.iter().zip(&prices.rows) {
        assert_abs_diff_eq!(*price, known[&format!("DUAL:{}", row.name)], epsilon = 5.1e-10);
        total += price * row.lo.unwrap();
    }
    assert_abs_diff_eq!(total, COST, epsilon = 5e-11);
    // No food is cheaper than what it brings, and what is bought is worth its price exactly.
    for (v, x) in minimise(&lp).unwrap().x.iter().enumerate() {
        assert!(prices.variables[v] >= -1e-9);
        assert!(*x < 1e-9 || prices.variables[v] < 1e-9);
    }
}

#[test]
fn price_is_what_a_higher_floor_costs() {
    let lp = problem();
    let prices = shadow_prices(&lp).unwrap();
    for (r, price) in prices.rows.iter().enumerate() {
        let mut more = lp.clone();
        let by = 1e-4 * lp.rows[r].lo.unwrap();
        more.rows[r].lo = more.rows[r].lo.map(|f| f + by);
        let rise = (minimise(&more).unwrap().value - prices.value) / by;
        assert_abs_diff_eq!(rise, *price, epsilon = 1e-8);
    }
}
