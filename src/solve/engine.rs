//! The one file that names a solver crate: continuous linear programs through `good_lp`.
//!
//! Takes a [`Linear`], gives its optimum or that there is none. Integrality is ignored here.
//! Rows are scaled to a largest coefficient of 1, since the engine's tolerances are absolute.

use crate::model::linear::Linear;
use good_lp::{Expression, ProblemVariables, ResolutionError, Solution as _, SolverModel as _, variable};

/// The optimum of a continuous program.
#[derive(Clone, Debug)]
pub struct Optimum {
    /// Objective value.
    pub value: f64,
    /// Value of each variable.
    pub x: Vec<f64>,
}

/// Why there is no optimum.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoOptimum {
    /// No point meets all rows.
    #[error("no amounts meet all rows")]
    Infeasible,
    /// The objective falls without end.
    #[error("the objective has no lowest value")]
    Unbounded,
    /// The engine failed or its answer breaks a row.
    #[error("the linear engine failed: {0}")]
    Failed(String),
}

/// Row violation, relative to the row's largest coefficient times the scale of its bound, over which
/// an answer of the engine is not believed.
const TOLERANCE: f64 = 1e-5;

/// Minimises a linear program.
///
/// # Errors
/// Infeasible, unbounded, or an answer that breaks a row when recomputed.
pub fn minimise(lp: &Linear) -> Result<Optimum, NoOptimum> {
    let mut vars = ProblemVariables::new();
    let ids: Vec<_> = lp
        .variables
        .iter()
        .map(|v| vars.add(variable().min(v.lo).max(v.hi)))
        .collect();
    let mut objective = Expression::with_capacity(lp.variables.len());
    for (v, id) in lp.variables.iter().zip(&ids) {
        if v.cost != 0.0 {
            objective.add_mul(v.cost, *id);
        }
    }
    let mut problem = vars.minimise(objective).using(good_lp::microlp);
    for r in &lp.rows {
        let scale = r.terms.iter().map(|t| t.1.abs()).fold(0.0, f64::max);
        if scale == 0.0 {
            if r.lo.is_some_and(|b| b > 1e-9) || r.hi.is_some_and(|b| b < -1e-9) {
                return Err(NoOptimum::Infeasible);
            }
            continue;
        }
        let sum = || {
            let mut e = Expression::with_capacity(r.terms.len());
            for &(v, k) in &r.terms {
                e.add_mul(k / scale, ids[v]);
            }
            e
        };
        match (r.lo, r.hi) {
            (Some(a), Some(b)) if a == b => {
                problem.add_constraint(sum().eq(a / scale));
            }
            (lo, hi) => {
                if let Some(a) = lo {
                    problem.add_constraint(sum().geq(a / scale));
                }
                if let Some(b) = hi {
                    problem.add_constraint(sum().leq(b / scale));
                }
            }
        }
    }
    let solution = problem.solve().map_err(|e| match e {
        ResolutionError::Infeasible => NoOptimum::Infeasible,
        ResolutionError::Unbounded => NoOptimum::Unbounded,
        other => NoOptimum::Failed(other.to_string()),
    })?;
    let x: Vec<f64> = ids.iter().map(|&id| solution.value(id)).collect();
    for r in &lp.rows {
        let scale = r.terms.iter().map(|t| t.1.abs()).fold(1e-12, f64::max);
        let a: f64 = r.terms.iter().map(|&(v, k)| k * x[v]).sum();
        let size = r.lo.or(r.hi).unwrap_or(0.0).abs().max(scale);
        if r.lo.is_some_and(|b| (b - a) / size > TOLERANCE)
            || r.hi.is_some_and(|b| (a - b) / size > TOLERANCE)
        {
            return Err(NoOptimum::Failed(format!(
                "row {} is broken by its answer",
                r.name
            )));
        }
    }
    Ok(Optimum {
        value: lp.value(&x),
        x,
    })
}
