//! What a row costs: shadow prices through the dual program, written out and solved.
//!
//! Takes a [`Linear`], gives the change of its optimum per unit of each bound. The engine has no
//! duals of its own, so the dual is built as a second program and must come to the same optimum.

use super::engine::{NoOptimum, minimise};
use crate::model::linear::Linear;

/// Prices of a program at its optimum.
#[derive(Clone, Debug)]
pub struct ShadowPrices {
    /// The optimum, in the objective's unit.
    pub value: f64,
    /// For each row: change of the optimum per unit that its bound rises. At least 0 for a floor, at
    /// most 0 for a ceiling, either for an equality; 0 when the row does not bind.
    pub rows: Vec<f64>,
    /// For each variable: change of the optimum per unit that its bound rises (its reduced cost).
    /// How much dearer than worthwhile it is when it stands at its least value.
    pub variables: Vec<f64>,
}

/// Difference between the optima of a program and its dual, relative to their size, over which the
/// prices are not believed.
const TOLERANCE: f64 = 1e-6;

/// Shadow prices of a continuous program. [objective's unit per unit of the row]
///
/// With several optimal duals (a degenerate optimum) one of them.
/// Formula: for `min c*x, lo <= A*x <= hi, l <= x <= u` the dual is
/// `max lo*p - hi*q + l*s - u*t, A'*(p - q) + s - t = c, p, q, s, t >= 0`; the price of a row is
/// `p - q`, of a variable's bound `s - t`.
/// Source: Dantzig, Linear Programming and Extensions, 1963, chapter 6 (duality).
///
/// # Errors
/// Those of [`minimise`], and when the two optima differ.
pub fn shadow_prices(lp: &Linear) -> Result<ShadowPrices, NoOptimum> {
    let best = minimise(lp)?;
    let mut dual = Linear::default();
    let mut columns: Vec<Vec<(usize, f64)>> = vec![Vec::new(); lp.variables.len()];
    let mut parts: Vec<Vec<(usize, f64)>> = Vec::with_capacity(lp.rows.len());
    for row in &lp.rows {
        let mut part = Vec::new();
        match (row.lo, row.hi) {
            (Some(a), Some(b)) if a == b => {
                part.push((
                    dual.variable(row.name.clone(), f64::NEG_INFINITY, f64::INFINITY, -a, false),
                    1.0,
                ));
            }
            (lo, hi) => {
                if let Some(a) = lo {
                    part.push((
                        dual.variable(row.name.clone(), 0.0, f64::INFINITY, -a, false),
                        1.0,
                    ));
                }
                if let Some(b) = hi {
                    part.push((
                        dual.variable(row.name.clone(), 0.0, f64::INFINITY, b, false),
                        -1.0,
                    ));
                }
            }
        }
        for &(v, k) in &row.terms {
            columns[v].extend(part.iter().map(|&(d, sign)| (d, sign * k)));
        }
        parts.push(part);
    }
    // `s = c - A'*(p - q) + t` is put in, which leaves a row `A'*(p - q) - t <= c` a variable.
    let mut offset = 0.0;
    for (v, terms) in lp.variables.iter().zip(&mut columns) {
        let from_least = v.lo.is_finite() && v.lo != 0.0;
        if from_least {
            // l*s of the objective, to be minimised with its sign turned.
            offset -= v.lo * v.cost;
            for &(d, k) in terms.iter() {
                dual.variables[d].cost += v.lo * k;
            }
        }
        if v.hi.is_finite() {
            let least = if from_least { v.lo } else { 0.0 };
            let t = dual.variable(v.name.clone(), 0.0, f64::INFINITY, v.hi - least, false);
            terms.push((t, -1.0));
        }
        let lo = (!v.lo.is_finite()).then_some(v.cost);
        dual.row(v.name.clone(), terms.clone(), lo, Some(v.cost));
    }
    let priced = minimise(&dual)?;
    let value = -(priced.value + offset);
    if (value - best.value).abs() > TOLERANCE * best.value.abs().max(1.0) {
        return Err(NoOptimum::Failed(format!(
            "the dual comes to {value}, the program to {}",
            best.value
        )));
    }
    let rows: Vec<f64> = parts
        .iter()
        .map(|part| part.iter().map(|&(d, sign)| sign * priced.x[d]).sum())
        .collect();
    let mut variables: Vec<f64> = lp.variables.iter().map(|v| v.cost).collect();
    for (row, price) in lp.rows.iter().zip(&rows) {
        for &(v, k) in &row.terms {
            variables[v] -= price * k;
        }
    }
    Ok(ShadowPrices {
        value: best.value,
        rows,
        variables,
    })
}
