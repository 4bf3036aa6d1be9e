//! V. Chvatal, Linear Programming, 1983, chapter 1: six foods, at most so many servings of each.
//! Data from memory, optima computed outside this project.

use crate::lp::{agreed, all_whole, whole};
use approx::assert_abs_diff_eq;
use platewright::model::diet;
use platewright::model::linear::Linear;
use platewright::solve::engine::minimise;

fn problem() -> Linear {
    diet::read(
        "food,price,most,energy,protein,calcium\n\
         oatmeal,3,4,110,4,2\n\
         chicken,24,3,205,32,12\n\
         eggs,13,2,160,13,54\n\
         whole milk,9,8,160,8,285\n\
         cherry pie,20,2,420,4,22\n\
         pork with beans,19,2,260,14,80\n",
        "nutrient,unit,floor\nenergy,kcal,2000\nprotein,g,55\ncalcium,mg,800\n",
    )
    .expect("the published tables")
}

#[test]
fn least_cost_and_intakes() {
    let lp = problem();
    assert_abs_diff_eq!(agreed(&lp), 92.5, epsilon = 1e-9);
    let best = minimise(&lp).unwrap();
    for (x, known) in best.x.iter().zip([4.0, 0.0, 0.0, 4.5, 2.0, 0.0]) {
        assert_abs_diff_eq!(*x, known, epsilon = 1e-9);
    }
    for (row, known) in lp.rows.iter().zip([2000.0, 60.0, 1334.5]) {
        let intake: f64 = row.terms.iter().map(|&(v, k)| k * best.x[v]).sum();
        assert_abs_diff_eq!(intake, known, epsilon = 1e-6);
    }
}

#[test]
fn whole_servings() {
    let (cost, x) = whole(&all_whole(problem()), 1.0).unwrap();
    assert_abs_diff_eq!(cost, 97.0, epsilon = 1e-9);
    assert_eq!(x, [4.0, 0.0, 0.0, 5.0, 2.0, 0.0]);
}
