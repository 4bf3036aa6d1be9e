//! How an optimum moves as a bound moves: the whole frontier, with its exact corners.
//!
//! Takes a [`Simplex`] and a [`Lever`], gives a chain of straight pieces. The optimum of a linear program
//! that is minimised is convex and made of straight pieces in a bound (Dantzig, 1963, section 11-3). Where
//! the lines of the two ends of a stretch meet, either the optimum lies on them, and that is the one
//! corner between, or it lies over them and the stretch is parted there.

use super::duals::Lever;
use super::engine::NoOptimum;
use super::simplex::Simplex;
use crate::model::linear::Linear;

/// A place on the frontier.
#[derive(Clone, Debug, PartialEq)]
pub struct Point {
    /// How far the lever is moved, in its units.
    pub at: f64,
    /// The optimum there, in the objective's unit.
    pub value: f64,
    /// The price of each row just beyond.
    pub prices: Vec<f64>,
    /// The optimal amounts.
    pub x: Vec<f64>,
}

/// The frontier between two places.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Frontier {
    /// Both ends and all corners, by rising place; empty when there is no point anywhere.
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

/// A solved place of the search.
#[derive(Clone)]
struct Solved {
    at: f64,
    value: f64,
    slope: f64,
    prices: Vec<f64>,
    x: Vec<f64>,
    simplex: Simplex,
}

fn solve(mut s: Simplex, lp: &Linear, lever: &Lever, at: f64) -> Result<Solved, NoOptimum> {
    lever.set(&mut s, lp, at);
    let value = s.solve()?;
    let prices = s.row_prices();
    Ok(Solved {
        at,
        value,
        slope: lever.slope(&prices),
        prices,
        x: s.point(),
        simplex: s,
    })
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

/// The frontier of a program as a lever moves from one place to another.
///
/// Rows with a floor and a ceiling that move apart (one of them stays) must be written as two rows.
///
/// # Errors
/// Unbounded programs and solves that do not end; that no point exists anywhere is no error.
pub fn frontier(lp: &Linear, lever: &Lever, from: f64, to: f64) -> Result<Frontier, NoOptimum> {
    let start = Simplex::new(lp);
    let at = |s: &Simplex, t: f64| solve(s.clone(), lp, lever, t);
    let mut out = Frontier::default();
    let width = (to - from).abs().max(1e-12);
    let mut ends = Vec::new();
    for (asked, lowest) in [(from, true), (to, false)] {
        match at(ends.first().map_or(&start, |s: &Solved| &s.simplex), asked) {
            Ok(s) => ends.push(s),
            Err(NoOptimum::Infeasible) => {
                let Some(t) = end(lp, lever, from, to, lowest)? else {
                    return Ok(out);
                };
                if lowest {
                    out.closed_below = true;
                } else {
                    out.closed_above = true;
                }
                // A hair inside, where the solver's tolerance does not decide.
                let inside = if lowest { 1e-7 } else { -1e-7 } * width;
                match at(&start, (t + inside).clamp(from, to)) {
                    Ok(s) => ends.push(s),
                    Err(NoOptimum::Infeasible) => return Ok(Frontier::default()),
                    Err(e) => return Err(e),
                }
            }
            Err(e) => return Err(e),
        }
    }
    let (Some(high), Some(low)) = (ends.pop(), ends.pop()) else {
        return Ok(out);
    };
    let mut done: Vec<Solved> = vec![low.clone()];
    let mut open = vec![(low, high)];
    let mut budget = 2000u32;
    while let Some((a, b)) = open.pop() {
        let gap = b.at - a.at;
        // Same slope, or both ends on one line: straight between them.
        let scale = a.value.abs().max(b.value.abs()).max(1e-9);
        let straight = (a.value + a.slope * gap - b.value).abs() <= ON_LINE * scale
            || (b.value - b.slope * gap - a.value).abs() <= ON_LINE * scale;
        if straight || gap <= 1e-9 * width || budget == 0 {
            done.push(b);
            continue;
        }
        budget -= 1;
        let meet = (b.value - a.value + a.slope * a.at - b.slope * b.at) / (a.slope - b.slope);
        let meet = if meet.is_finite() {
            meet.clamp(a.at + 1e-10 * width, b.at - 1e-10 * width)
        } else {
            a.at + gap / 2.0
        };
        let mut m = at(&a.simplex, meet)?;
        let lines = a.value + a.slope * (meet - a.at);
        if (m.value - lines).abs() <= ON_LINE * scale * 10.0 {
            // The corner itself: what holds beyond it is what holds at the far end of the stretch.
            m.slope = b.slope;
            m.prices = b.prices.clone();
            done.push(m);
            done.push(b);
        } else {
            open.push((m.clone(), b));
            open.push((a, m));
        }
    }
    done.sort_by(|a, b| a.at.total_cmp(&b.at));
    done.dedup_by(|b, a| (b.at - a.at).abs() <= 1e-12 * width);
    // A place inside a straight stretch is no corner.
    let mut kept: Vec<Solved> = Vec::new();
    for s in done {
        while kept.len() >= 2 {
            let (a, b) = (&kept[kept.len() - 2], &kept[kept.len() - 1]);
            let share = (b.at - a.at) / (s.at - a.at);
            let on = a.value + (s.value - a.value) * share;
            let scale = a.value.abs().max(s.value.abs()).max(1e-9);
            if (b.value - on).abs() <= ON_LINE * scale * 10.0 {
                kept.pop();
            } else {
                break;
            }
        }
        kept.push(s);
    }
    out.slopes = kept
        .windows(2)
        .map(|w| (w[1].value - w[0].value) / (w[1].at - w[0].at))
        .collect();
    // What binds on a piece is read inside it, not at its corner, where more rows meet.
    for n in 0..kept.len().saturating_sub(1) {
        let middle = (kept[n].at + kept[n + 1].at) / 2.0;
        if let Ok(m) = at(&kept[n].simplex, middle) {
            kept[n].prices = m.prices;
        }
    }
    out.points = kept
        .into_iter()
        .map(|s| Point {
            at: s.at,
            value: s.value,
            prices: s.prices,
            x: s.x,
        })
        .collect();
    Ok(out)
}
