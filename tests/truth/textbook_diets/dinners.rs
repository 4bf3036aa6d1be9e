//! R. Fourer, D. M. Gay, B. W. Kernighan, AMPL: A Modeling Language for Mathematical Programming,
//! 2nd ed., chapter 2 (diet and diet2): eight dinners, percent of a day's need a package, a week.
//! Data and optima second-hand. Tolerance: half of the last digit given.

use crate::lp::{agreed, all_whole, holds, second_opinion, whole};
use approx::assert_abs_diff_eq;
use platewright::model::diet;
use platewright::model::linear::Linear;
use platewright::solve::duals::Lever;
use platewright::solve::engine::{NoOptimum, minimise};
use platewright::solve::iis::{Elastic, irreducible};
use platewright::solve::parametric::frontier;
use platewright::solve::price::shadow_prices;

const FREE: &str = "\
food,price,vitamin_a,vitamin_c,thiamin,riboflavin
BEEF,3.19,60,20,10,15
CHK,2.59,8,0,20,20
FISH,2.29,8,10,15,10
HAM,2.89,40,40,35,10
MCH,1.89,15,35,15,15
MTL,1.99,70,30,15,15
SPG,1.99,25,50,25,15
TUR,2.49,60,20,15,10
";

const WEEK: &str = "nutrient,unit,floor\nvitamin_a,%,700\nvitamin_c,%,700\nthiamin,%,700\nriboflavin,%,700\n";

const BOUNDED: &str = "\
food,price,least,most,vitamin_a,vitamin_c,thiamin,riboflavin,sodium,energy
BEEF,3.19,2,10,60,20,10,15,938,295
CHK,2.59,2,10,8,0,20,20,2180,770
FISH,2.29,2,10,8,10,15,10,945,440
HAM,2.89,2,10,40,40,35,10,278,430
MCH,1.89,2,10,15,35,15,15,1182,315
MTL,1.99,2,10,70,30,15,15,896,400
SPG,1.99,2,10,25,50,25,15,1329,370
TUR,2.49,2,10,60,20,15,10,1397,450
";

fn bounded(sodium: f64) -> Linear {
    let mut week = String::from("nutrient,unit,floor,ceiling\n");
    for vitamin in ["vitamin_a", "vitamin_c", "thiamin", "riboflavin"] {
        week += &format!("{vitamin},%,700,20000\n");
    }
    week += &format!("sodium,mg,,{sodium}\nenergy,kcal,16000,24000\n");
    diet::read(BOUNDED, &week).expect("the published tables")
}

#[test]
fn without_bounds() {
    let lp = diet::read(FREE, WEEK).unwrap();
    // One dinner only, 700 / 15 packages at 1.89; the duals are degenerate.
    assert_abs_diff_eq!(agreed(&lp), 88.20, epsilon = 1e-6);
    let prices = shadow_prices(&lp).unwrap();
    let total: f64 = prices.rows.iter().map(|p| p * 700.0).sum();
    assert_abs_diff_eq!(total, 88.20, epsilon = 1e-6);
}

#[test]
fn without_bounds_in_whole_packages() {
    let lp = diet::read(FREE, WEEK).unwrap();
    let (cost, _) = whole(&all_whole(lp.clone()), 0.01).unwrap();
    assert_abs_diff_eq!(cost, 88.44, epsilon = 1e-6);
    // The published packages are one such answer.
    let published = [0.0, 2.0, 0.0, 0.0, 43.0, 1.0, 0.0, 0.0];
    assert!(holds(&lp, &published, 1e-9));
    assert_abs_diff_eq!(lp.value(&published), 88.44, epsilon = 1e-6);
}

#[test]
fn sodium_under_40_g_leaves_nothing() {
    let lp = bounded(40_000.0);
    assert_eq!(minimise(&lp).unwrap_err(), NoOptimum::Infeasible);
    assert_eq!(shadow_prices(&lp).unwrap_err(), NoOptimum::Infeasible);
    assert_eq!(second_opinion(&lp), None);
}

#[test]
fn what_stands_against_40_g_of_sodium() {
    // The published case has no answer; which requirements stand against each other is told by deletion, and
    // checked here with the other engine: together none, without any one of them some.
    let lp = bounded(40_000.0);
    let set = irreducible(&lp, &|_| 0).unwrap().expect("a conflict");
    assert!(set.contains(&"sodium".to_string()), "{set:?}");
    let only = |keep: &dyn Fn(&str) -> bool| {
        let mut part = lp.clone();
        part.rows.retain(|r| keep(&r.group));
        minimise(&part)
    };
    assert_eq!(
        only(&|g| set.iter().any(|s| s == g)).unwrap_err(),
        NoOptimum::Infeasible
    );
    for out in &set {
        assert!(
            only(&|g| g != out && set.iter().any(|s| s == g)).is_ok(),
            "{out} is not needed"
        );
    }
    // How far the ceiling must rise, by the least sodium of the other rows.
    let sodium = lp.rows.iter().position(|r| r.name == "sodium").unwrap();
    let lever = Lever {
        rows: vec![(sodium, 0.0, 1.0)],
    };
    let by = Elastic::new(&lp, &[lever])
        .least(&[Some(1.0)], &[1e6])
        .unwrap()
        .expect("a way out")[0];
    assert!(minimise(&bounded(40_000.0 + by + 1e-3)).is_ok());
    assert!(minimise(&bounded(40_000.0 + by - 1.0)).is_err());
}

#[test]
fn sodium_frontier_is_that_of_solving_anew() {
    let lp = bounded(40_000.0);
    let sodium = lp.rows.iter().position(|r| r.name == "sodium").unwrap();
    let lever = Lever {
        rows: vec![(sodium, 0.0, 1.0)],
    };
    let line = frontier(&lp, &lever, 0.0, 20_000.0).unwrap();
    assert!(line.closed_below && !line.closed_above && line.points.len() > 2);
    for n in 0..=40 {
        let at = 500.0 * f64::from(n);
        match (line.value(at), minimise(&bounded(40_000.0 + at))) {
            (Some(v), Ok(best)) => assert_abs_diff_eq!(v, best.value, epsilon = 1e-6),
            (None, Err(NoOptimum::Infeasible)) => {}
            (told, found) => panic!("{at}: {told:?} against {found:?}"),
        }
    }
    // Convex: each piece is less steep than the one before.
    assert!(line.slopes.windows(2).all(|w| w[0] < w[1] + 1e-12));
}

#[test]
fn sodium_under_50_g() {
    let lp = bounded(50_000.0);
    assert_abs_diff_eq!(agreed(&lp), 118.059_403_2, epsilon = 5.1e-8);
    let known = [5.360_614, 2.0, 2.0, 10.0, 10.0, 10.0, 9.306_053, 2.0];
    for (x, known) in minimise(&lp).unwrap().x.iter().zip(known) {
        assert_abs_diff_eq!(*x, known, epsilon = 5.1e-7);
    }
}

#[test]
fn prices_under_bounds_add_up() {
    let lp = bounded(50_000.0);
    let prices = shadow_prices(&lp).unwrap();
    let best = minimise(&lp).unwrap();
    let mut total = 0.0;
    for (row, price) in lp.rows.iter().zip(&prices.rows) {
        total += price
            * if *price > 0.0 {
                row.lo.unwrap()
            } else {
                row.hi.unwrap()
            };
    }
    for (v, price) in prices.variables.iter().enumerate() {
        total += price * best.x[v];
    }
    assert_abs_diff_eq!(total, 118.059_403_2, epsilon = 1e-6);
    // The sodium ceiling costs money: its price is below 0 and is what a looser one saves.
    let sodium = lp.rows.iter().position(|r| r.name == "sodium").unwrap();
    let saved = minimise(&bounded(50_001.0)).unwrap().value - prices.value;
    assert!(prices.rows[sodium] < 0.0);
    assert_abs_diff_eq!(saved, prices.rows[sodium], epsilon = 1e-7);
}

#[test]
fn sodium_under_50_g_in_whole_packages() {
    let lp = bounded(50_000.0);
    let (cost, _) = whole(&all_whole(lp.clone()), 0.01).unwrap();
    assert_abs_diff_eq!(cost, 119.30, epsilon = 1e-6);
    let published = [9.0, 2.0, 2.0, 8.0, 10.0, 10.0, 7.0, 2.0];
    assert!(holds(&lp, &published, 1e-9));
    assert_abs_diff_eq!(lp.value(&published), 119.30, epsilon = 1e-6);
}
