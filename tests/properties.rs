//! What must hold for every input: linear programs with a known optimum, models of random briefs, quantities,
//! diets, and readers of text that meet anything.
//!
//! Programs are built with a certificate: choose a point `x`, a matrix `A` and prices `y = 1`; with `b = A x`
//! and `c = A' 1 + s`, `s` at least 0 and 0 where `x` is above 0, weak duality makes `sum(b)` the optimum.
//!
//! `PROPTEST_CASES=2000 cargo test --test properties` tries more of each. A failure that was found stays here as a
//! test of its own.

mod briefs;
mod lp;

#[path = "properties/models.rs"]
mod models;
#[path = "properties/quantities.rs"]
mod quantities;
#[path = "properties/readers.rs"]
mod readers;

use lp::{holds, second_opinion};
use platewright::model::diet;
use platewright::model::linear::Linear;
use platewright::solve::engine::minimise;
use platewright::solve::price::shadow_prices;
use proptest::prelude::*;

/// A program and its optimum.
fn certified() -> impl Strategy<Value = (Linear, f64)> {
    (1usize..8, 1usize..8)
        .prop_flat_map(|(n, m)| {
            (
                prop::collection::vec(prop_oneof![Just(0u8), 1u8..40], n),
                prop::collection::vec(0u8..20, n),
                prop::collection::vec(prop::collection::vec(prop_oneof![Just(0i8), -4i8..12], n), m),
                prop::collection::vec(prop::option::of(1u8..50), m),
            )
        })
        .prop_map(|(x, s, a, room)| {
            let mut lp = Linear::default();
            for (v, (&x, &s)) in x.iter().zip(&s).enumerate() {
                let column: i32 = a.iter().map(|row| i32::from(row[v])).sum();
                let cost = f64::from(column) + if x > 0 { 0.0 } else { f64::from(s) };
                lp.variable(format!("x{v}"), 0.0, 1000.0, cost, false);
            }
            let mut optimum = 0.0;
            for (r, (row, room)) in a.iter().zip(room).enumerate() {
                let b: f64 = row
                    .iter()
                    .zip(&x)
                    .map(|(&k, &x)| f64::from(k) * f64::from(x))
                    .sum();
                let terms = row
                    .iter()
                    .enumerate()
                    .filter(|(_, k)| **k != 0)
                    .map(|(v, &k)| (v, f64::from(k)))
                    .collect();
                lp.row(
                    format!("r{r}"),
                    terms,
                    Some(b),
                    room.map(|room| b + f64::from(room)),
                );
                optimum += b;
            }
            (lp, optimum)
        })
}

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-6 * b.abs().max(1.0)
}

/// So many cases, or what the environment asks for. Nothing is written beside the tests.
fn config(cases: u32) -> ProptestConfig {
    let asked = std::env::var("PROPTEST_CASES").ok();
    ProptestConfig {
        cases: asked.map_or(cases, |n| n.parse().expect("PROPTEST_CASES is a number")),
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

proptest! {
    #![proptest_config(config(400))]

    #[test]
    fn known_optimum_is_reached((lp, optimum) in certified()) {
        let best = minimise(&lp).unwrap();
        prop_assert!(near(best.value, optimum), "{} against {optimum}", best.value);
        prop_assert!(holds(&lp, &best.x, 1e-6));
        prop_assert!(near(second_opinion(&lp).unwrap(), optimum));
    }

    #[test]
    fn prices_prove_the_optimum((lp, optimum) in certified()) {
        let prices = shadow_prices(&lp).unwrap();
        prop_assert!(near(prices.value, optimum));
        // Weak duality by hand: any prices whose signs are right bound the optimum from below.
        let rows: f64 = lp.rows.iter().zip(&prices.rows).map(|(r, p)| p * if *p > 0.0 { r.lo } else { r.hi }.unwrap_or(0.0)).sum();
        let bounds: f64 = lp.variables.iter().zip(&prices.variables).map(|(v, p)| p * if *p > 0.0 { v.lo } else { v.hi }).sum();
        prop_assert!(near(rows + bounds, optimum), "{rows} + {bounds} against {optimum}");
        for (r, p) in lp.rows.iter().zip(&prices.rows) {
            prop_assert!(r.hi.is_some() || *p >= -1e-9, "a floor of negative price");
        }
    }

    #[test]
    fn lower_floor_never_costs_more((lp, optimum) in certified(), pick in any::<prop::sample::Index>(), by in 0.0..200.0f64) {
        let mut less = lp.clone();
        let r = pick.index(lp.rows.len());
        less.rows[r].lo = less.rows[r].lo.map(|f| f - by);
        let value = minimise(&less).unwrap().value;
        prop_assert!(value <= optimum + 1e-6 * optimum.abs().max(1.0), "{value} over {optimum}");
    }

    #[test]
    fn order_does_not_matter((lp, optimum) in certified(), keys in prop::collection::vec(any::<u32>(), 16)) {
        let mut order: Vec<usize> = (0..lp.variables.len()).collect();
        order.sort_by_key(|&v| keys[v]);
        let mut moved = Linear::default();
        let mut place = vec![0; order.len()];
        for (new, &old) in order.iter().enumerate() {
            place[old] = new;
            moved.variables.push(lp.variables[old].clone());
        }
        moved.rows = lp.rows.clone();
        for r in &mut moved.rows {
            for t in &mut r.terms {
                t.0 = place[t.0];
            }
            r.terms.sort_by_key(|t| keys[t.0]);
        }
        moved.rows.sort_by_key(|r| keys[8 + r.name[1..].parse::<usize>().unwrap()]);
        prop_assert!(near(minimise(&moved).unwrap().value, optimum));
    }

    #[test]
    fn scaled_and_repeated_rows_change_nothing((lp, optimum) in certified(), scale in 1e-3..1e3f64) {
        let mut more = lp.clone();
        for r in &lp.rows {
            let mut again = r.clone();
            again.name.push_str("_again");
            again.terms.iter_mut().for_each(|t| t.1 *= scale);
            again.lo = again.lo.map(|b| b * scale);
            again.hi = again.hi.map(|b| b * scale);
            more.rows.push(again);
        }
        prop_assert!(near(minimise(&more).unwrap().value, optimum));
    }

    #[test]
    fn diet_tables_are_read_or_refused(foods in "(food|price|least|most|iron|[0-9.,\"\n-]){0,30}", requirements in "(nutrient|floor|ceiling|iron|[0-9.,\"\n-]){0,30}", any_text in any::<String>()) {
        for (f, r) in [(&foods, &requirements), (&any_text, &requirements), (&foods, &any_text)] {
            match diet::read(f, r) {
                Ok(lp) => prop_assert!(!lp.rows.is_empty() && !lp.variables.is_empty()),
                Err(mistakes) => prop_assert!(!mistakes.is_empty()),
            }
        }
    }
}
