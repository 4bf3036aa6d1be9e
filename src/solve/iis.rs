//! Why no point exists, and what would open one: an irreducible set of groups, and the least changes.
//!
//! Takes a [`Linear`] that has no point. A first set comes from the proof of that (the rows with a price in
//! the sum of what is broken), then groups are taken out one by one, each time from the last basis.
//! Chinneck, Feasibility and Infeasibility in Optimization, 2008, chapters 6 and 7 (deletion filter, elastic
//! programs).

use super::duals::Lever;
use super::engine::NoOptimum;
use super::simplex::Simplex;
use crate::model::linear::Linear;
use std::collections::BTreeSet;

/// The program without an objective, whose rows of given groups are asked whether they can hold.
pub struct Question<'a> {
    lp: &'a Linear,
    simplex: Simplex,
}

/// What the solver found out about a set of groups.
enum Found {
    /// They can hold.
    Open,
    /// They cannot; these groups alone prove it.
    Closed(BTreeSet<String>),
}

impl<'a> Question<'a> {
    /// The program, with its objective left out.
    pub fn new(lp: &'a Linear) -> Self {
        let mut simplex = Simplex::new(lp);
        simplex.set_costs(&vec![0.0; lp.variables.len()]);
        Question { lp, simplex }
    }

    fn ask(&mut self, kept: &BTreeSet<String>) -> Result<Found, NoOptimum> {
        for (r, row) in self.lp.rows.iter().enumerate() {
            if !row.group.is_empty() {
                let on = kept.contains(&row.group);
                let (lo, hi) = if on { (row.lo, row.hi) } else { (None, None) };
                self.simplex.set_row(r, lo, hi);
            }
        }
        match self.simplex.solve() {
            Ok(_) => Ok(Found::Open),
            Err(NoOptimum::Infeasible) => {
                let rows = self.simplex.contradiction();
                let groups = rows
                    .iter()
                    .map(|&r| self.lp.rows[r].group.clone())
                    .filter(|g| !g.is_empty())
                    .collect::<BTreeSet<_>>();
                Ok(Found::Closed(if rows.is_empty() { kept.clone() } else { groups }))
            }
            Err(e) => Err(e),
        }
    }

    /// Whether the rows of these groups, with the structure of meals, can hold in fractions.
    ///
    /// # Errors
    /// When the solver does not end.
    pub fn open(&mut self, kept: &[String]) -> Result<bool, NoOptimum> {
        let kept = kept.iter().cloned().collect();
        Ok(matches!(self.ask(&kept)?, Found::Open))
    }

    /// The least of an objective over the groups last found open.
    ///
    /// # Errors
    /// Those of [`Simplex::solve`].
    pub fn least(&mut self, objective: &[f64]) -> Result<f64, NoOptimum> {
        self.simplex.set_costs(objective);
        let least = self.simplex.solve();
        self.simplex.set_costs(&vec![0.0; self.lp.variables.len()]);
        least
    }
}

/// An irreducible set of groups that cannot hold together: without any one of them the others can.
/// Groups for which `last` is lower are taken out first, so that those with a high one stay and are named.
/// `None` when all can hold.
///
/// # Errors
/// When the solver does not end.
pub fn irreducible(lp: &Linear, last: &dyn Fn(&str) -> u32) -> Result<Option<Vec<String>>, NoOptimum> {
    let mut question = Question::new(lp);
    let all: BTreeSet<String> = lp
        .rows
        .iter()
        .map(|r| r.group.clone())
        .filter(|g| !g.is_empty())
        .collect();
    let Found::Closed(proof) = question.ask(&all)? else {
        return Ok(None);
    };
    // A proof may lean on groups that nobody can change while another leans on what the user set: groups
    // outside the proof come back when all that can be changed is in it already.
    let mut kept = all;
    let mut order: Vec<String> = kept.iter().cloned().collect();
    order.sort_by_key(|g| (last(g), proof.contains(g), g.clone()));
    // Those outside the proof go at once when they rank no higher than those inside.
    if let Found::Closed(_) = question.ask(&proof)? {
        let top = order
            .iter()
            .filter(|g| !proof.contains(*g))
            .map(|g| last(g))
            .max()
            .unwrap_or(0);
        let inside = proof.iter().map(|g| last(g)).min().unwrap_or(0);
        if top <= inside {
            kept = proof;
        }
    }
    for g in order {
        if !kept.contains(&g) {
            continue;
        }
        let mut trial = kept.clone();
        trial.remove(&g);
        if let Found::Closed(proof) = question.ask(&trial)? {
            // What ranks under the group just tried and is not in the proof has no part in it.
            kept = trial
                .into_iter()
                .filter(|t| proof.contains(t) || last(t) > last(&g))
                .collect();
        }
    }
    let mut kept: Vec<String> = kept.into_iter().collect();
    kept.sort_by_key(|g| (std::cmp::Reverse(last(g)), g.clone()));
    Ok(Some(kept))
}

/// A program in which each of some levers may give way at a price.
#[derive(Clone, Debug)]
pub struct Elastic {
    simplex: Simplex,
    slack: Vec<usize>,
    costs: usize,
}

impl Elastic {
    /// The program with a variable for each lever: by how many units it gives way (a floor falls, a
    /// ceiling rises), at most `most` of it. None gives way until [`Elastic::least`] lets it.
    pub fn new(lp: &Linear, levers: &[Lever]) -> Self {
        Elastic::of(Simplex::new(lp), lp, levers)
    }

    /// As [`Elastic::new`], beginning where a solver of the same program has come to.
    pub fn of(mut simplex: Simplex, lp: &Linear, levers: &[Lever]) -> Self {
        let slack = levers
            .iter()
            .map(|l| {
                // floor - f t <= A x  and  A x <= ceiling + c t, as one more term in the row.
                let terms: Vec<(usize, f64)> = l
                    .rows
                    .iter()
                    .map(|&(r, f, c)| (r, if f != 0.0 { f.abs() } else { -c.abs() }))
                    .collect();
                simplex.add_variable(0.0, 0.0, &terms)
            })
            .collect::<Vec<_>>();
        let costs = lp.variables.len() + levers.len();
        Elastic {
            simplex,
            slack,
            costs,
        }
    }

    /// The least of the weighted sum by which the levers with a weight must give way, each in its own
    /// units; `None` when they do not suffice. Others stay where they are.
    ///
    /// # Errors
    /// When the solver does not end.
    pub fn least(&mut self, weights: &[Option<f64>], most: &[f64]) -> Result<Option<Vec<f64>>, NoOptimum> {
        let mut costs = vec![0.0; self.costs];
        for (n, (&v, w)) in self.slack.iter().zip(weights).enumerate() {
            self.simplex
                .set_variable(v, 0.0, if w.is_some() { most[n] } else { 0.0 });
            costs[v] = w.unwrap_or(0.0);
        }
        self.simplex.set_costs(&costs);
        let solved = self.simplex.solve();
        self.given(solved)
    }

    /// As the [`Elastic::least`] before, after rows moved.
    ///
    /// # Errors
    /// When the solver does not end.
    pub fn again(&mut self) -> Result<Option<Vec<f64>>, NoOptimum> {
        let solved = self.simplex.solve_again();
        self.given(solved)
    }

    /// By how much each lever gives way now, in its unit.
    pub fn by(&self) -> Vec<f64> {
        self.slack.iter().map(|&v| self.simplex.x(v)).collect()
    }

    fn given(&self, solved: Result<f64, NoOptimum>) -> Result<Option<Vec<f64>>, NoOptimum> {
        match solved {
            Ok(_) => Ok(Some(self.by())),
            Err(NoOptimum::Infeasible) => Ok(None),
            Err(e) => Err(e),
        }
    }

    /// Begins with a lever given way by so much, so that the bounds it moves are met before the first step.
    pub fn begin(&mut self, lever: usize, by: f64) {
        let v = self.slack[lever];
        self.simplex.set_variable(v, by, by);
        self.simplex.set_variable(v, 0.0, by);
    }

    /// Moves the bounds of rows of the program.
    pub fn set_rows(&mut self, rows: impl IntoIterator<Item = (usize, Option<f64>, Option<f64>)>) {
        self.simplex.set_rows(rows);
    }

    /// The least of an objective when each lever may give way by so much, after [`Elastic::least`].
    ///
    /// # Errors
    /// Those of [`Simplex::solve`].
    pub fn then(&mut self, by: &[f64], objective: &[f64]) -> Result<f64, NoOptimum> {
        for (&v, by) in self.slack.iter().zip(by) {
            self.simplex.set_variable(v, 0.0, by * (1.0 + 1e-7) + 1e-9);
        }
        let mut costs = objective.to_vec();
        costs.resize(self.costs, 0.0);
        self.simplex.set_costs(&costs);
        self.simplex.solve()
    }
}
