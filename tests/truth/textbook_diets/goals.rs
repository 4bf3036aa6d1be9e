//! J. C. Gerdessen, J. H. M. de Vries, "Diet models with linear goal programming: impact of
//! achievement functions", Eur J Clin Nutr 69:1272-1278, 2015, appendix: eaten now (3, 2), needed
//! 2 X1 + 3 X2 >= 15, deviations relative to what is eaten. Read in the source.
//! Through the project's model of meals: two items of one meal, in fractions of a step.

use crate::lp::agreed;
use approx::assert_abs_diff_eq;
use platewright::model::linear::expand;
use platewright::model::{Choice, Class, Column, Form, Goal, Model, Objective, Over, Part, Row};
use platewright::solve::engine::minimise;

/// `sum` weighs the sum of the relative deviations, `largest` the largest of them.
fn problem(sum: f64, largest: f64) -> Model {
    let column = |n: usize| Column {
        name: format!("X{n}"),
        choice: 0,
        form: 0,
        part: 0,
        item: n,
        least: 1,
        most: 20,
        servings: 1.0,
        twin: n,
        cost: 0.0,
    };
    let goal = |n: usize, centre: f64| Goal {
        name: format!("X{n}"),
        terms: vec![(n, 1.0)],
        centre,
        weight: sum / centre,
    };
    Model {
        title: "two items".into(),
        currency: "none".into(),
        columns: vec![column(0), column(1)],
        choices: vec![Choice {
            name: "meal".into(),
            day: 0,
            slot: 0,
            stands_for: 1.0,
            forms: vec![Form {
                name: "both".into(),
                of: "both".into(),
                twin: 0,
                parts: vec![Part {
                    least: 2,
                    most: 2,
                    columns: vec![0, 1],
                }],
            }],
        }],
        rows: vec![Row {
            name: "need".into(),
            group: "need".into(),
            over: Over::Amount,
            terms: vec![(0, 2.0), (1, 3.0)],
            floor: Some(15.0),
            ceiling: None,
            unit: "g".into(),
            reason: "example".into(),
            class: Class::Must,
            from_brief: false,
            twin: Some(0),
            stands_for: 1.0,
            whole: None,
        }],
        distinct: Vec::new(),
        pantry: Vec::new(),
        budget: None,
        objective: Objective {
            id: "closeness",
            unit: "deviation".into(),
            cost: false,
            linear: vec![0.0; 2],
            goals: vec![goal(0, 3.0), goal(1, 2.0)],
            largest,
            keep: None,
        },
    }
}

#[test]
fn least_sum() {
    let model = problem(1.0, 0.0);
    assert_abs_diff_eq!(agreed(&expand(&model, true)), 0.5, epsilon = 1e-9);
    // One of the two published answers is in whole steps.
    assert_abs_diff_eq!(model.value(&[3, 3]), 0.5, epsilon = 1e-9);
}

#[test]
fn least_largest() {
    let model = problem(0.0, 1.0);
    let lp = expand(&model, true);
    assert_abs_diff_eq!(agreed(&lp), 0.25, epsilon = 1e-9);
    let x = minimise(&lp).unwrap().x;
    let steps = |c: usize| lp.amount[c].iter().map(|&(v, k)| k * x[v]).sum::<f64>();
    assert_abs_diff_eq!(steps(0), 3.75, epsilon = 1e-6);
    assert_abs_diff_eq!(steps(1), 2.5, epsilon = 1e-6);
}
