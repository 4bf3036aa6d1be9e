//! What a solved program says about its bounds: one-sided prices, the price of a rule, ranges, entry.
//!
//! Takes a solved [`Simplex`] and the [`Linear`] it was made from; each answer is a solve from the last
//! basis, never a figure carried over. At a degenerate optimum a price differs with the side it is asked
//! for, so both are given.

use super::engine::NoOptimum;
use super::simplex::Simplex;
use crate::model::linear::Linear;

/// Rows that move together: for each its number, and the change of its floor and of its ceiling per
/// unit of what is moved.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Lever {
    /// Row, change of the floor, change of the ceiling.
    pub rows: Vec<(usize, f64, f64)>,
}

/// Step of a bound, relative to its size, that tells the two sides of a price apart.
const STEP: f64 = 1e-6;

/// What one unit more or less of a lever does to the optimum. [objective's unit per unit of the lever]
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Price {
    /// Change of the optimum per unit that the lever rises; `None` when it cannot rise.
    pub up: Option<f64>,
    /// Change of the optimum per unit that the lever falls, with its sign: negative when falling saves.
    pub down: Option<f64>,
}

impl Price {
    /// Whether the two sides differ by more than a thousandth: a corner of the optimum.
    pub fn corner(&self) -> bool {
        let size = self.up.unwrap_or(0.0).abs().max(self.down.unwrap_or(0.0).abs());
        self.up
            .zip(self.down)
            .is_none_or(|(u, d)| (u + d).abs() > 1e-3 * size)
    }
}

impl Lever {
    /// Moves the bounds of the rows by so many units from where the program as given has them.
    pub fn set(&self, s: &mut Simplex, lp: &Linear, by: f64) {
        for &(r, floor, ceiling) in &self.rows {
            let row = &lp.rows[r];
            s.set_row(
                r,
                row.lo.map(|b| b + floor * by),
                row.hi.map(|b| b + ceiling * by),
            );
        }
    }

    /// Slope of the optimum in the lever by the present prices. [objective's unit per unit]
    pub fn slope(&self, prices: &[f64]) -> f64 {
        self.rows
            .iter()
            .map(|&(r, floor, ceiling)| prices[r] * if prices[r] > 0.0 { floor } else { ceiling })
            .sum()
    }

    /// Whether a bound of the lever is met exactly at a point.
    pub fn binds(&self, lp: &Linear, x: &[f64]) -> bool {
        self.rows.iter().any(|&(r, floor, ceiling)| {
            let row = &lp.rows[r];
            let a: f64 = row.terms.iter().map(|&(v, k)| k * x[v]).sum();
            let at = |b: Option<f64>| b.is_some_and(|b| (a - b).abs() <= 1e-7 * b.abs().max(1e-3));
            floor != 0.0 && at(row.lo) || ceiling != 0.0 && at(row.hi)
        })
    }

    /// The price of the lever on both sides, by solving with it moved a little.
    pub fn price(&self, solved: &Simplex, lp: &Linear) -> Price {
        let size = self
            .rows
            .iter()
            .map(|&(r, f, c)| {
                let row = &lp.rows[r];
                let b = if f != 0.0 { row.lo } else { row.hi };
                b.unwrap_or(1.0).abs() / f.abs().max(c.abs()).max(1e-12)
            })
            .fold(1e-6, f64::max);
        let side = |way: f64| {
            let mut s = solved.clone();
            self.set(&mut s, lp, way * STEP * size);
            s.solve().ok()?;
            Some(clean(way * self.slope(&s.row_prices())))
        };
        Price {
            up: side(1.0),
            down: side(-1.0),
        }
    }
}

fn clean(x: f64) -> f64 {
    if x.abs() < 1e-12 { 0.0 } else { x }
}

/// The optimum without these rows. [objective's unit]
///
/// # Errors
/// Those of [`Simplex::solve`].
pub fn without(solved: &Simplex, rows: &[usize]) -> Result<f64, NoOptimum> {
    let mut s = solved.clone();
    for &r in rows {
        s.set_row(r, None, None);
    }
    s.solve()
}

/// The least and the most of a sum while the objective stays at or under a limit. [unit of the sum]
///
/// `near` is a solved program to which [`keep_near`] has added the limit; the basis of the last
/// question is kept, so that the next one begins near its answer.
///
/// # Errors
/// Those of [`Simplex::solve`].
pub fn range(near: &mut Simplex, variables: usize, sum: &[(usize, f64)]) -> Result<(f64, f64), NoOptimum> {
    let mut ask = |way: f64| {
        let mut costs = vec![0.0; variables];
        for &(v, k) in sum {
            costs[v] += way * k;
        }
        near.set_costs(&costs);
        near.solve().map(|v| way * v)
    };
    Ok((ask(1.0)?, ask(-1.0)?))
}

/// The program with its own objective held at or under a limit.
pub fn keep_near(solved: &Simplex, lp: &Linear, limit: f64) -> Simplex {
    let mut s = solved.clone();
    let terms: Vec<(usize, f64)> = lp
        .variables
        .iter()
        .enumerate()
        .filter(|(_, v)| v.cost != 0.0)
        .map(|(n, v)| (n, v.cost))
        .collect();
    s.add_row(&terms, None, Some(limit));
    s
}

/// What the first unit of a sum that is now nil costs. [objective's unit per unit of the sum]
///
/// By solving with a little of it forced in, so it is right at a corner as well.
pub fn entry(solved: &Simplex, sum: &[(usize, f64)]) -> Option<f64> {
    let little = 1e-4;
    let mut s = solved.clone();
    let row = s.add_row(sum, Some(little), None);
    s.solve().ok()?;
    Some(clean(s.row_prices()[row]))
}
