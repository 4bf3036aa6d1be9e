//! Second opinions on linear programs, for tests: another solver, and whole numbers by branch and bound.
#![allow(dead_code)]

use minilp::{ComparisonOp, OptimizationDirection, Problem};
use platewright::model::linear::Linear;
use platewright::solve::engine::{NoOptimum, minimise};
use platewright::solve::simplex::Simplex;

/// The continuous optimum by another solver than the project's; `None` when it finds none.
pub fn second_opinion(lp: &Linear) -> Option<f64> {
    let mut problem = Problem::new(OptimizationDirection::Minimize);
    let vars: Vec<_> = lp
        .variables
        .iter()
        .map(|v| problem.add_var(v.cost, (v.lo, v.hi)))
        .collect();
    for r in &lp.rows {
        let terms: Vec<_> = r.terms.iter().map(|&(v, k)| (vars[v], k)).collect();
        if let Some(a) = r.lo {
            problem.add_constraint(&terms[..], ComparisonOp::Ge, a);
        }
        if let Some(b) = r.hi {
            problem.add_constraint(&terms[..], ComparisonOp::Le, b);
        }
    }
    problem.solve().ok().map(|s| s.objective())
}

/// The continuous optimum, on which both solvers must agree to 1e-6 of its size.
pub fn agreed(lp: &Linear) -> f64 {
    let ours = minimise(lp).expect("an optimum").value;
    let theirs = second_opinion(lp).expect("an optimum of the other solver");
    assert!(
        (ours - theirs).abs() <= 1e-6 * theirs.abs().max(1.0),
        "{ours} against {theirs}"
    );
    // The solver of the explanations is the third, and proves its own word.
    let mut third = Simplex::new(lp);
    let value = third
        .solve()
        .expect("an optimum of the solver that answers questions");
    let near = 1e-6 * theirs.abs().max(1.0);
    assert!((value - theirs).abs() <= near, "{value} against {theirs}");
    assert!(
        (third.bound() - value).abs() <= near,
        "it proves {} of {value}",
        third.bound()
    );
    assert!(holds(lp, &with_sets(lp, &third), 1e-6), "its point breaks a row");
    ours
}

/// The point of a solver, with the variables of sets that it leaves out put back.
pub fn with_sets(lp: &Linear, solved: &Simplex) -> Vec<f64> {
    let mut x = solved.point();
    for cover in &lp.covers {
        for &(w, seen) in &cover.sets {
            let uses: f64 = lp.rows[seen]
                .terms
                .iter()
                .filter(|t| t.0 != w)
                .map(|&(v, k)| -k * x[v])
                .sum();
            x[w] = uses.min(1.0);
        }
    }
    x
}

/// The program with every variable in whole numbers.
pub fn all_whole(mut lp: Linear) -> Linear {
    for v in &mut lp.variables {
        v.integer = true;
    }
    lp
}

/// The optimum with its integer variables in whole numbers, by branch and bound. Objective values
/// are multiples of `grain`.
pub fn whole(lp: &Linear, grain: f64) -> Option<(f64, Vec<f64>)> {
    let mut best: Option<(f64, Vec<f64>)> = None;
    let mut open = vec![lp.clone()];
    while let Some(part) = open.pop() {
        let found = match minimise(&part) {
            Ok(found) => found,
            Err(NoOptimum::Infeasible) => continue,
            Err(e) => panic!("{e}"),
        };
        if best.as_ref().is_some_and(|(v, _)| found.value > v - grain + 1e-6) {
            continue;
        }
        let apart = |x: f64| (x - x.round()).abs();
        let split = (0..found.x.len())
            .filter(|&v| lp.variables[v].integer && apart(found.x[v]) > 1e-7)
            .max_by(|&a, &b| apart(found.x[a]).total_cmp(&apart(found.x[b])));
        let Some(split) = split else {
            let x: Vec<f64> = found
                .x
                .iter()
                .zip(&lp.variables)
                .map(|(x, v)| if v.integer { x.round() } else { *x })
                .collect();
            assert!(holds(lp, &x, 1e-6), "a rounded vertex breaks a row");
            best = Some((lp.value(&x), x));
            continue;
        };
        let (mut up, mut down) = (part.clone(), part);
        up.variables[split].lo = found.x[split].ceil();
        down.variables[split].hi = found.x[split].floor();
        open.push(down);
        open.push(up);
    }
    best
}

/// Whether a point meets every bound and row, to a relative tolerance.
pub fn holds(lp: &Linear, x: &[f64], tolerance: f64) -> bool {
    let under = |a: f64, b: f64| a <= b + tolerance * b.abs().max(1.0);
    lp.variables
        .iter()
        .zip(x)
        .all(|(v, &x)| under(v.lo, x) && under(x, v.hi))
        && lp.rows.iter().all(|r| {
            let a: f64 = r.terms.iter().map(|&(v, k)| k * x[v]).sum();
            r.lo.is_none_or(|lo| under(lo, a)) && r.hi.is_none_or(|hi| under(a, hi))
        })
}
