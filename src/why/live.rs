//! Bounds moved by hand: the optimum again after each move, within a moment.
//!
//! Takes what a model is built from and quantities in the words of `sweep`, each with the range over which it
//! can be moved. Gives after each move the optimum of the merged program (`docs/math.md`, section 7) with its
//! point and prices, or the bounds that cannot hold together. The basis of the last answer is where the
//! next question begins.

use super::sweep::{Asked, Axis, Varied, Wrong, ask, binding_name, levered, wrong};
use super::{Case, Pieces};
use crate::model::linear::Linear;
use crate::solve::engine::NoOptimum;
use crate::solve::simplex::Simplex;
use itertools::Itertools;
use std::collections::BTreeMap;

/// A bound that can be moved.
#[derive(Clone, Debug, PartialEq)]
pub struct Handle {
    /// What it is, its unit, and the range over which it can be moved.
    pub what: Varied,
    /// Where it stands, in that unit: at first where the brief has it.
    pub at: f64,
}

/// The optimum where the handles stand.
#[derive(Clone, Debug, PartialEq)]
pub struct Open {
    /// The objective: money is a day's, other objectives are as they are.
    pub value: f64,
    /// Change of `value` per unit that each handle rises, in the order of the handles; at a corner that of
    /// one side.
    pub slopes: Vec<f64>,
    /// The value of each variable of [`Live::program`].
    pub point: Vec<f64>,
    /// The shadow price of each row of [`Live::program`], in the objective's unit over all days.
    pub prices: Vec<f64>,
}

/// What cannot hold together where the handles stand.
#[derive(Clone, Debug, PartialEq)]
pub struct Closed {
    /// Rows of [`Live::program`] whose combination proves that no plan exists.
    pub rows: Vec<usize>,
    /// The targets and rules they belong to, as a person names them.
    pub names: Vec<String>,
}

/// The answer to a move.
#[derive(Clone, Debug, PartialEq)]
pub enum Now {
    /// There is an optimum.
    Open(Open),
    /// No plan can be, not even in parts of servings.
    Closed(Closed),
}

/// Rows that handles move: row, its bounds with all handles at 0, and for each handle the change of both.
type Moved = (usize, Option<f64>, Option<f64>, Vec<(usize, f64, f64)>);

/// A brief's merged program with handles.
pub struct Live<'a> {
    case: Case<'a>,
    lp: Linear,
    simplex: Simplex,
    axes: Vec<Axis>,
    handles: Vec<Handle>,
    moved: Vec<Moved>,
    /// Rows at work when it was begun.
    first: usize,
    /// What should be known beside.
    pub notes: Vec<String>,
}

impl<'a> Live<'a> {
    /// Builds and solves. `words` are quantities with their ranges, as `--vary` has them: `protein 1.2..2.6
    /// g/kg`, `budget 40..90 USD/week`, `sodium ceiling 1500..2300 mg`, `surplus 100..500 kcal`.
    ///
    /// # Errors
    /// Words that cannot be understood or asked of this brief, with what to write instead.
    pub fn new(pieces: Pieces<'a>, words: &[&str]) -> Result<Live<'a>, Wrong> {
        let asked: Vec<Asked> = words.iter().map(|w| ask(w)).collect::<Result<_, _>>()?;
        if let Some(twice) = asked.iter().duplicates_by(|a| (&a.name, a.side)).next() {
            return wrong(
                format!("`{}` comes twice", twice.name),
                "move two different quantities",
            );
        }
        let mut case = match Case::open(pieces) {
            Ok(c) => c,
            Err(d) => return wrong(d.iter().map(|d| &d.message).join("; "), "see `plan`"),
        };
        let energy = asked.iter().any(|a| a.name == "surplus" || a.name == "intake");
        if energy && !case.built.model.objective.goals.is_empty() {
            return wrong(
                "the middle of the targets moves with energy, so closeness is no straight function of it",
                "plan for cost, or leave energy where it is",
            );
        }
        let mut notes = Vec::new();
        let (lp, simplex, axes) = levered(&mut case, &asked, &mut notes)?;
        let handles = axes
            .iter()
            .map(|a| Handle {
                at: a.now.unwrap_or(a.shown.from).clamp(a.shown.from, a.shown.to),
                what: a.shown.clone(),
            })
            .collect();
        let mut rows: BTreeMap<usize, Vec<(usize, f64, f64)>> = BTreeMap::new();
        for (n, a) in axes.iter().enumerate() {
            for &(r, floor, ceiling) in &a.lever.rows {
                rows.entry(r)
                    .or_default()
                    .push((n, floor * a.scale, ceiling * a.scale));
            }
        }
        let moved = rows
            .into_iter()
            .map(|(r, by)| (r, lp.rows[r].lo, lp.rows[r].hi, by))
            .collect();
        let mut live = Live {
            case,
            lp,
            simplex,
            axes,
            handles,
            moved,
            first: 0,
            notes,
        };
        for n in 0..live.handles.len() {
            live.set(n, live.handles[n].at);
        }
        Ok(live)
    }

    /// The bounds that can be moved, in the order of the words.
    pub fn handles(&self) -> &[Handle] {
        &self.handles
    }

    /// The merged program; rows that handles move have the bounds they have with all handles at 0.
    pub fn program(&self) -> &Linear {
        &self.lp
    }

    /// The merged program where the handles stand.
    pub fn there(&self) -> Linear {
        let mut lp = self.lp.clone();
        for n in 0..self.moved.len() {
            let (r, lo, hi) = self.bounds(n);
            (lp.rows[r].lo, lp.rows[r].hi) = (lo, hi);
        }
        lp
    }

    /// A row that handles move, with its bounds where they stand.
    fn bounds(&self, n: usize) -> (usize, Option<f64>, Option<f64>) {
        let (r, lo, hi, by) = &self.moved[n];
        let sum = |of: fn(&(usize, f64, f64)) -> f64| -> f64 {
            by.iter().map(|b| of(b) * self.handles[b.0].at).sum()
        };
        let (floor, ceiling) = (sum(|b| b.1), sum(|b| b.2));
        (*r, lo.map(|l| l + floor), hi.map(|h| h + ceiling))
    }

    /// Moves a handle, into its range where the place is outside; gives where it stands then. Nothing is solved
    /// before [`Live::solve`], so several can be moved at once.
    pub fn set(&mut self, handle: usize, at: f64) -> Option<f64> {
        let h = self.handles.get_mut(handle).filter(|_| at.is_finite())?;
        h.at = at.clamp(h.what.from, h.what.to);
        let at = h.at;
        for n in 0..self.moved.len() {
            if self.moved[n].3.iter().any(|b| b.0 == handle) {
                let (r, lo, hi) = self.bounds(n);
                self.simplex.set_row(r, lo, hi);
            }
        }
        Some(at)
    }

    /// The optimum where the handles stand, or what cannot hold together there.
    ///
    /// # Errors
    /// When the solver does not end.
    pub fn solve(&mut self) -> Result<Now, NoOptimum> {
        // Each row that was ever broken stays at work; when they are too many for a quick answer it begins anew.
        if self.first > 0 && self.simplex.at_work() > self.first + self.first / 2 {
            self.simplex = Simplex::new(&self.there());
            self.first = 0;
        }
        let answer = self.answer();
        if self.first == 0 {
            self.first = self.simplex.at_work();
        }
        answer
    }

    fn answer(&mut self) -> Result<Now, NoOptimum> {
        match self.simplex.solve_again() {
            Ok(value) => {
                let share = self.case.share();
                let prices = self.simplex.row_prices();
                let slope = |a: &Axis| a.lever.slope(&prices) * a.scale / share;
                Ok(Now::Open(Open {
                    value: value / share,
                    slopes: self.axes.iter().map(slope).collect(),
                    point: self.simplex.point(),
                    prices,
                }))
            }
            Err(NoOptimum::Infeasible) => {
                let rows = self.simplex.contradiction();
                let names = rows.iter().filter_map(|&r| binding_name(&self.case, &self.lp, r));
                Ok(Now::Closed(Closed {
                    names: names.unique().collect(),
                    rows,
                }))
            }
            Err(e) => Err(e),
        }
    }

    /// Servings of each item at a point, over all days: position in the catalogue, and servings over 0.
    pub fn servings(&self, point: &[f64]) -> Vec<(usize, f64)> {
        let of = |sum: Vec<(usize, f64)>| {
            sum.iter()
                .filter_map(|&(v, k)| Some(k * point.get(v)?))
                .sum::<f64>()
        };
        let all = self.case.servings().into_iter().map(|(i, sum)| (i, of(sum)));
        all.filter(|s| s.1 > 1e-9).collect()
    }
}
