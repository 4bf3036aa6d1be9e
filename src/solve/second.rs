//! A second opinion: the written-out program solved by HiGHS, begun from a plan. Only with the feature `highs`.
//!
//! Takes a [`Linear`] and a point to begin at, gives a proven bound and perhaps a better point; or the
//! prices of its continuous form. One thread and a time limit, so how far it comes depends on the machine.

use super::engine::{NoOptimum, Optimum};
use super::search::Found;
use crate::model::linear::Linear;
use crate::model::{Model, Over};
use highs::{Col, HighsModelStatus, HighsSolutionStatus, HighsStatus, RowProblem, Sense, SolvedModel};
use std::collections::{BTreeMap, HashMap};
use std::ops::Bound;

/// Name of the solver.
pub const SOLVER: &str = "HiGHS";

/// Relative distance between value and bound under which the solver calls a value the lowest.
pub const GAP: f64 = 1e-6;

/// What the second solver says of a program in whole numbers.
#[derive(Clone, Debug, PartialEq)]
pub enum Opinion {
    /// No point in whole numbers exists.
    None,
    /// A bound, and the best point it knows.
    Some {
        /// No point has a lower value; `None` when the time was too short for any bound.
        bound: Option<f64>,
        /// Its best point, when it has one: also the one it began from.
        point: Option<Vec<f64>>,
        /// Whether it ended before the time did.
        ended: bool,
    },
}

fn failed(e: HighsStatus) -> NoOptimum {
    NoOptimum::Failed(format!("{SOLVER}: {e:?}"))
}

/// Hands the program over and runs the solver on one thread.
fn run(lp: &Linear, whole: bool, start: Option<&[f64]>, seconds: f64) -> Result<SolvedModel, NoOptimum> {
    let mut problem = RowProblem::default();
    let columns: Vec<Col> = lp
        .variables
        .iter()
        .map(|v| problem.add_column_with_integrality(v.cost, v.lo..=v.hi, whole && v.integer))
        .collect();
    for r in &lp.rows {
        // A variable may come twice in a row; the solver wants it once.
        let mut terms: BTreeMap<usize, f64> = BTreeMap::new();
        for &(v, k) in &r.terms {
            *terms.entry(v).or_default() += k;
        }
        let side = |b: Option<f64>| b.map_or(Bound::Unbounded, Bound::Included);
        problem.add_row(
            (side(r.lo), side(r.hi)),
            terms.into_iter().map(|(v, k)| (columns[v], k)),
        );
    }
    let mut model = problem.try_optimise(Sense::Minimise).map_err(failed)?;
    let option = |_| NoOptimum::Failed(format!("{SOLVER} does not know an option"));
    model.try_set_option("output_flag", false).map_err(option)?;
    model.try_set_option("threads", 1).map_err(option)?;
    model.try_set_option("time_limit", seconds).map_err(option)?;
    model.try_set_option("mip_rel_gap", GAP).map_err(option)?;
    model.try_set_option("mip_abs_gap", 1e-9).map_err(option)?;
    if let Some(x) = start {
        model
            .try_set_solution(Some(x), None, None, None)
            .map_err(failed)?;
    }
    model.try_solve().map_err(failed)
}

/// What the solver says of the program in whole numbers after at most so many seconds.
///
/// # Errors
/// A program that it does not take.
pub fn opinion(lp: &Linear, start: Option<&[f64]>, seconds: f64) -> Result<Opinion, NoOptimum> {
    let solved = run(lp, true, start, seconds)?;
    let ended = match solved.status() {
        HighsModelStatus::Infeasible => return Ok(Opinion::None),
        HighsModelStatus::Optimal => true,
        HighsModelStatus::ReachedTimeLimit => false,
        other => return Err(NoOptimum::Failed(format!("{SOLVER}: {other:?}"))),
    };
    let bound = solved
        .double_info_value(c"mip_dual_bound")
        .ok()
        .filter(|b| b.is_finite());
    let point = (solved.primal_solution_status() == HighsSolutionStatus::Feasible)
        .then(|| solved.get_solution().columns().to_vec());
    Ok(Opinion::Some { bound, point, ended })
}

/// The optimum of the program in fractions, with the price of each row: change of the optimum per unit
/// that its bound rises. [objective's unit per unit of the row]
///
/// # Errors
/// Infeasible, unbounded, or a program that the solver does not take.
pub fn relaxed(lp: &Linear) -> Result<(Optimum, Vec<f64>), NoOptimum> {
    let solved = run(lp, false, None, f64::INFINITY)?;
    match solved.status() {
        HighsModelStatus::Optimal => {}
        HighsModelStatus::Infeasible => return Err(NoOptimum::Infeasible),
        HighsModelStatus::Unbounded => return Err(NoOptimum::Unbounded),
        other => return Err(NoOptimum::Failed(format!("{SOLVER}: {other:?}"))),
    }
    let solution = solved.get_solution();
    let x = solution.columns().to_vec();
    let value = lp.value(&x);
    Ok((Optimum { value, x }, solution.dual_rows().to_vec()))
}

/// Forms and steps as a point of the written-out program (`expand(model, false)`).
pub fn point(model: &Model, lp: &Linear, found: &Found) -> Vec<f64> {
    let at: HashMap<&str, usize> = lp
        .variables
        .iter()
        .enumerate()
        .map(|(n, v)| (v.name.as_str(), n))
        .collect();
    let mut x = vec![0.0; lp.variables.len()];
    let mut set = |name: String, value: f64| {
        if let Some(&n) = at.get(name.as_str()) {
            x[n] = value;
        }
    };
    for (c, choice) in model.choices.iter().enumerate() {
        set(
            format!("form_{}_{}", choice.name, choice.forms[found.forms[c]].name),
            1.0,
        );
    }
    let steps = |n: usize| f64::from(found.steps[n]);
    let used = |n: usize| f64::from(u8::from(found.steps[n] > 0));
    for (n, c) in model.columns.iter().enumerate() {
        set(format!("x_{}", c.name), steps(n));
        set(format!("u_{}", c.name), used(n));
    }
    for d in &model.distinct {
        for (s, members) in d.sets.iter().enumerate() {
            let seen = members.iter().map(|&n| used(n)).fold(0.0, f64::max);
            set(format!("w_{}_{s}", d.name), seen);
        }
    }
    for row in model.rows.iter().filter(|r| r.over == Over::Amount) {
        if let Some(whole) = row.whole {
            let sum: f64 = row.terms.iter().map(|&(n, k)| k * steps(n)).sum();
            set(format!("batches_{}", row.name), (sum / whole).round());
        }
    }
    for p in &model.pantry {
        let eaten: f64 = p.terms.iter().map(|&(n, g)| g * steps(n)).sum();
        set(format!("home_{}", p.name), eaten.min(p.free));
    }
    let mut largest = 0.0f64;
    for g in &model.objective.goals {
        let off = g.terms.iter().map(|&(n, k)| k * steps(n)).sum::<f64>() - g.centre;
        set(format!("under_{}", g.name), (-off).max(0.0));
        set(format!("over_{}", g.name), off.max(0.0));
        largest = largest.max(off.abs() / g.centre.abs().max(1e-9));
    }
    set("largest_deviation".into(), largest);
    x
}

/// Forms and steps of a point of the written-out program; `None` when a meal has no form there.
pub fn found(model: &Model, lp: &Linear, x: &[f64]) -> Option<Found> {
    let on: std::collections::HashSet<&str> = lp
        .variables
        .iter()
        .zip(x)
        .filter(|(_, x)| **x > 0.5)
        .map(|(v, _)| v.name.as_str())
        .collect();
    let forms = model
        .choices
        .iter()
        .map(|c| {
            let chosen = |name: &str| on.contains(format!("form_{}_{name}", c.name).as_str());
            c.forms.iter().position(|f| chosen(&f.name))
        })
        .collect::<Option<Vec<usize>>>()?;
    let steps = lp
        .amount
        .iter()
        .map(|parts| parts.iter().map(|&(v, k)| k * x[v]).sum::<f64>().round() as u16)
        .collect();
    Some(Found {
        forms,
        steps,
        moves: 0,
    })
}
