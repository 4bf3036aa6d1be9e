//! What a diet problem (`model::diet`) says: amounts, prices of the requirements, foods left out, or a conflict.

use super::{NEAR, Side};
use crate::model::linear::Linear;
use crate::solve::duals::{Lever, keep_near, range};
use crate::solve::engine::NoOptimum;
use crate::solve::iis::irreducible;
use crate::solve::simplex::Simplex;

/// A food of the cheapest diet.
#[derive(Clone, Debug, PartialEq)]
pub struct Amount {
    /// The food.
    pub food: String,
    /// How much, in the unit of the table (what one unit of money buys, or one unit of food).
    pub amount: f64,
    /// Least and most within 1 % of the least cost.
    pub range: (f64, f64),
}

/// What a requirement costs. Signs as in [`super::BoundPrice`].
#[derive(Clone, Debug, PartialEq)]
pub struct Requirement {
    /// The nutrient.
    pub name: String,
    /// Its unit.
    pub unit: String,
    /// Which bound.
    pub side: Side,
    /// The bound.
    pub bound: f64,
    /// What the cheapest diet brings.
    pub brings: f64,
    /// Cost for each unit that the bound rises; `None` when nothing is left beyond.
    pub up: Option<f64>,
    /// Cost for each unit that it falls.
    pub down: Option<f64>,
}

/// The cheapest diet explained.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Diet {
    /// Title.
    pub title: String,
    /// The least cost.
    pub value: f64,
    /// Whether prices recomputed outside the solver prove it.
    pub proved: bool,
    /// Foods eaten, most first.
    pub amounts: Vec<Amount>,
    /// Requirements.
    pub requirements: Vec<Requirement>,
    /// Foods left out that come nearest: name, and how much cheaper a unit of the table must be. Nearest first.
    pub left_out: Vec<(String, f64)>,
    /// Requirements that cannot hold together, when there is no diet: without any one of them the others can.
    pub conflict: Vec<String>,
}

/// Foods left out that are told.
const LEFT_OUT: usize = 10;

/// Explains a diet problem.
///
/// # Errors
/// When the solver does not end.
pub fn explain(title: &str, lp: &Linear) -> Result<Diet, NoOptimum> {
    let mut out = Diet {
        title: title.into(),
        ..Diet::default()
    };
    let mut s = Simplex::new(lp);
    match s.solve() {
        Ok(v) => out.value = v,
        Err(NoOptimum::Infeasible) => {
            out.conflict = irreducible(lp, &|_| 0)?.unwrap_or_default();
            return Ok(out);
        }
        Err(e) => return Err(e),
    }
    out.proved = s.bound() >= out.value - 1e-6 * out.value.abs().max(1e-6);
    let x = s.point();
    let mut near = keep_near(&s, lp, out.value * (1.0 + NEAR));
    for (n, v) in lp.variables.iter().enumerate() {
        if x[n] > 1e-9 {
            out.amounts.push(Amount {
                food: v.name.clone(),
                amount: x[n],
                range: range(&mut near, lp.variables.len(), &[(n, 1.0)])?,
            });
        }
    }
    out.amounts.sort_by(|a, b| b.amount.total_cmp(&a.amount));
    for (r, row) in lp.rows.iter().enumerate() {
        let brings: f64 = row.terms.iter().map(|&(v, k)| k * x[v]).sum();
        for (side, bound) in [(Side::Floor, row.lo), (Side::Ceiling, row.hi)] {
            let Some(bound) = bound else { continue };
            let floor = f64::from(u8::from(side == Side::Floor));
            let lever = Lever {
                rows: vec![(r, floor, 1.0 - floor)],
            };
            let (up, down) = if lever.binds(lp, &x) {
                let p = lever.price(&s, lp);
                (p.up, p.down)
            } else {
                (Some(0.0), Some(0.0))
            };
            out.requirements.push(Requirement {
                name: row.name.clone(),
                unit: row.note.split(';').next().unwrap_or_default().into(),
                side,
                bound,
                brings,
                up,
                down,
            });
        }
    }
    let reduced = s.reduced_costs();
    out.left_out = lp
        .variables
        .iter()
        .enumerate()
        .filter(|&(n, v)| x[n] <= v.lo + 1e-9 && reduced[n] >= 0.0)
        .map(|(n, v)| (v.name.clone(), reduced[n]))
        .collect();
    out.left_out.sort_by(|a, b| a.1.total_cmp(&b.1));
    out.left_out.truncate(LEFT_OUT);
    Ok(out)
}
