//! How an optimum moves as a bound moves: the whole frontier, with its exact corners.
//!
//! Takes a [`Linear`] and a [`Lever`], gives a chain of straight pieces. The optimum of a linear program
//! that is minimised is convex and made of straight pieces in a bound (Dantzig, 1963, section 11-3). The
//! solver walks along them from one end, one exchange of the basis at each corner.

use super::duals::Lever;
use super::engine::NoOptimum;
use super::simplex::{Simplex, Stretch, Walk};
use crate::model::linear::Linear;

/// A place on the frontier.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Point {
    /// How far the lever is moved, in its units.
    pub at: f64,
    /// The optimum there, in the objective's unit.
    pub value: f64,
    /// The price of each row on the piece that begins here.
    pub prices: Vec<f64>,
}

/// The frontier between two places.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Frontier {
    /// Both ends and all corners, by rising place; one when there is a point at one place only, none when there is
    /// none anywhere.
    pub points: Vec<Point>,
    /// Slope from each point to the next, one fewer than points.
    pub slopes: Vec<f64>,
    /// No point exists below the first although it was asked for.
    pub closed_below: bool,
    /// No point exists above the last although it was asked for.
    pub closed_above: bool,
}

/// Distance from a line, relative to the value, within which a place is on it.
const ON_LINE: f64 = 1e-9;

impl Frontier {
    /// The optimum at a place, on the straight piece that holds it; `None` outside.
    pub fn value(&self, at: f64) -> Option<f64> {
        let room = 1e-9 * at.abs().max(1e-6);
        let (first, last) = (self.points.first()?, self.points.last()?);
        if at < first.at - room || at > last.at + room {
            return None;
        }
        let n = self.points.windows(2).position(|w| at <= w[1].at);
        let (a, b) = match n {
            Some(n) => (&self.points[n], &self.points[n + 1]),
            None => return Some(last.value),
        };
        let share = if b.at > a.at {
            (at - a.at) / (b.at - a.at)
        } else {
            0.0
        };
        Some(a.value + (b.value - a.value) * share)
    }
}

/// The lowest or highest place at which a point exists.
fn end(lp: &Linear, lever: &Lever, from: f64, to: f64, lowest: bool) -> Result<Option<f64>, NoOptimum> {
    // The place is a variable: floor + f t <= A x <= ceiling + c t. Rows move by their floor or their
    // ceiling; one with both must move them together.
    let mut s = Simplex::new(lp);
    let terms: Vec<(usize, f64)> = lever
        .rows
        .iter()
        .map(|&(r, f, c)| (r, if f != 0.0 { -f } else { -c }))
        .collect();
    let t = s.add_variable(from, to, &terms);
    let mut costs = vec![0.0; t + 1];
    costs[t] = if lowest { 1.0 } else { -1.0 };
    s.set_costs(&costs);
    match s.solve() {
        Ok(_) => Ok(Some(s.x(t))),
        Err(NoOptimum::Infeasible) => Ok(None),
        Err(e) => Err(e),
    }
}

/// Places of a walk at which it may be taken up again by solving anew.
const STUMBLES: usize = 20;

/// Follows a lever from a place at which the program is solved; where the walk does not come on it is
/// taken up a hair further.
fn walk(s: &mut Simplex, lp: &Linear, lever: &Lever, from: f64, to: f64) -> Result<Walk, NoOptimum> {
    let mut all = Walk {
        reached: from,
        ..Walk::default()
    };
    let mut stumbles = 0;
    loop {
        let (part, error) = match s.follow(&lever.rows, all.reached, to) {
            Ok(w) => (w, None),
            Err((w, e)) => (w, Some(e)),
        };
        all.stretches.extend(part.stretches);
        (all.reached, all.closed) = (part.reached, part.closed);
        let Some(e) = error else { return Ok(all) };
        stumbles += 1;
        let next = all.reached + (to - from) * 1e-9 * f64::from(1u32 << stumbles.min(24));
        let next = if to > from { next.min(to) } else { next.max(to) };
        if stumbles > STUMBLES || all.reached == to {
            return Err(e);
        }
        lever.set(s, lp, next);
        match s.solve() {
            Ok(_) => all.reached = next,
            Err(NoOptimum::Infeasible) => {
                all.closed = true;
                return Ok(all);
            }
            Err(e) => return Err(e),
        }
    }
}

/// The frontier of a program as a lever moves from one place to another.
///
/// Rows with a floor and a ceiling that move apart (one of them stays) must be written as two rows.
///
/// # Errors
/// Unbounded programs and solves that do not end; that no point exists anywhere is no error.
pub fn frontier(lp: &Linear, lever: &Lever, from: f64, to: f64) -> Result<Frontier, NoOptimum> {
    frontier_of(&mut Simplex::new(lp), lp, lever, from, to)
}

/// As [`frontier`], beginning where a solver of the same program has come to.
///
/// # Errors
/// Those of [`frontier`].
pub fn frontier_of(
    s: &mut Simplex,
    lp: &Linear,
    lever: &Lever,
    from: f64,
    to: f64,
) -> Result<Frontier, NoOptimum> {
    let mut out = Frontier::default();
    let mut solved = |at: f64| {
        lever.set(s, lp, at);
        match s.solve_again() {
            Ok(_) => Ok(true),
            Err(NoOptimum::Infeasible) => Ok(false),
            Err(e) => Err(e),
        }
    };
    // From an end at which a point exists; from the first place at which one does when neither has.
    let mut walked = if solved(from)? {
        let w = walk(s, lp, lever, from, to)?;
        out.closed_above = w.closed;
        w
    } else if solved(to)? {
        let mut w = walk(s, lp, lever, to, from)?;
        out.closed_below = true;
        w.stretches.reverse();
        for s in &mut w.stretches {
            s.ends.reverse();
            s.values.reverse();
        }
        w
    } else {
        let Some(first) = end(lp, lever, from, to, true)? else {
            return Ok(out);
        };
        // A hair inside, where the solver's tolerance does not decide; or there, when it is the only place.
        let inside = (first + 1e-7 * (to - from)).min(to);
        let first = if solved(inside)? { inside } else { first };
        if first != inside && !solved(first)? {
            return Ok(out);
        }
        let w = walk(s, lp, lever, first, to)?;
        (out.closed_below, out.closed_above) = (true, w.closed);
        w
    };
    // Stretches of one slope are one.
    let width = (to - from).abs();
    walked.stretches.retain(|s| s.ends[1] - s.ends[0] > 1e-10 * width);
    let mut kept: Vec<(Stretch, f64)> = Vec::new();
    for s in std::mem::take(&mut walked.stretches) {
        let slope = lever.slope(&s.prices);
        if let Some((last, before)) = kept.last_mut() {
            let whole = s.ends[1] - last.ends[0];
            let on = last.values[0] + (s.values[1] - last.values[0]) * (s.ends[0] - last.ends[0]) / whole;
            let size = s.values[1].abs().max(last.values[0].abs()).max(1e-9);
            if (s.values[0] - on).abs() <= ON_LINE * size || slope == *before {
                // Prices and slope are those of the longer part.
                if s.ends[1] - s.ends[0] > last.ends[1] - last.ends[0] {
                    (last.prices, *before) = (s.prices, slope);
                }
                (last.ends[1], last.values[1]) = (s.ends[1], s.values[1]);
                continue;
            }
        }
        kept.push((s, slope));
    }
    let only = || Point {
        at: walked.reached,
        value: s.value(),
        prices: s.row_prices(),
    };
    let last = kept.last().map_or_else(only, |(s, _)| Point {
        at: s.ends[1],
        value: s.values[1],
        prices: s.prices.clone(),
    });
    for (s, slope) in kept {
        out.slopes.push(slope);
        out.points.push(Point {
            at: s.ends[0],
            value: s.values[0],
            prices: s.prices,
        });
    }
    out.points.push(last);
    Ok(out)
}
