//! A linear program that stays solved while questions are asked of it: prices, ranges, rules switched off.
//!
//! Takes a [`Linear`], gives its optimum with prices, and the next optimum from the last one when a
//! bound, a cost or a row changes. The engine behind [`super::engine`] has no prices and forgets
//! its basis, so an explanation of fifty questions would cost fifty solves from nothing.
//!
//! Method: the revised simplex method with bounded variables, a dense inverse of the basis, a first
//! phase that minimises the sum of what is broken, and rows that come in only when they are broken
//! (Dantzig, Linear Programming and Extensions, 1963, chapters 9 and 18). Nothing it says is taken on
//! trust: [`Simplex::bound`] recomputes a bound from the prices by weak duality, and
//! [`Simplex::contradiction`] a proof that no point exists, both from the rows as given.

mod dual;

pub use dual::{Basis, Stretch, Walk};

use super::engine::NoOptimum;
use crate::model::linear::Linear;

/// How far a scaled bound may be broken.
const FEASIBLE: f64 = 1e-9;
/// Reduced cost, scaled, under which a column cannot help.
const OPTIMAL: f64 = 1e-9;
/// Smallest pivot.
const PIVOT: f64 = 1e-8;
/// Pivots after which the inverse is computed anew.
const REFRESH: usize = 150;
/// Columns looked at again before all are.
const SHORT_LIST: usize = 40;
/// Steps without progress after which columns are drawn by lot, which ends any cycle.
const STALLED: usize = 60;

/// A row of the program as the solver holds it: `activity = sum of terms`, held between bounds.
#[derive(Clone, Debug)]
struct Row {
    /// Terms in scaled columns, scaled.
    terms: Vec<(usize, f64)>,
    /// Divide a given coefficient by this.
    scale: f64,
    /// Place among the rows at work, when it is one.
    active: Option<usize>,
    /// Scaled bounds of its activity.
    lo: f64,
    hi: f64,
}

/// A set cover row: at least so many of these sets are in use, each counted up to 1.
#[derive(Clone, Debug)]
struct Cover {
    least: f64,
    on: bool,
    sets: Vec<Vec<(usize, f64)>>,
    /// Rows added for it, with the number of sets each takes for seen.
    cuts: Vec<(usize, f64)>,
}

/// The program with its present basis.
#[derive(Clone, Debug)]
pub struct Simplex {
    n: usize,
    lo: Vec<f64>,
    hi: Vec<f64>,
    cost: Vec<f64>,
    column_scale: Vec<f64>,
    cost_scale: f64,
    columns: Vec<Vec<(usize, f64)>>,
    weight: Vec<f64>,
    rows: Vec<Row>,
    covers: Vec<Cover>,
    /// Given rows stand at this place, or are a cover's (`None`, see `cover_of`).
    given: Vec<Given>,
    work: Vec<usize>,
    basis: Vec<Member>,
    at: Vec<Option<usize>>,
    row_at: Vec<Option<usize>>,
    x: Vec<f64>,
    s: Vec<f64>,
    inverse: Vec<Vec<f64>>,
    since_refresh: usize,
    lot: u64,
    /// Prices that prove that no point exists, when they were found on the way.
    proof: Option<Vec<f64>>,
    /// Pivots done since the start.
    pub pivots: usize,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Given {
    Row(usize),
    Cover(usize),
    Gone,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Member {
    Column(usize),
    Row(usize),
}

/// How a solve ended.
#[derive(Clone, Copy, Debug, PartialEq)]
enum End {
    Best,
    Broken,
}

impl Simplex {
    /// The program, not yet solved.
    pub fn new(lp: &Linear) -> Self {
        let mut gone = vec![None; lp.rows.len()];
        let mut gone_variable = vec![false; lp.variables.len()];
        for (c, cover) in lp.covers.iter().enumerate() {
            gone[cover.row] = Some(Given::Cover(c));
            for &(w, seen) in &cover.sets {
                gone[seen] = Some(Given::Gone);
                gone_variable[w] = true;
            }
        }
        let n = lp.variables.len();
        let mut given = Vec::with_capacity(lp.rows.len());
        let mut rows = Vec::new();
        let mut column_scale = vec![0.0f64; n];
        for (r, row) in lp.rows.iter().enumerate() {
            if let Some(g) = gone[r] {
                given.push(g);
                continue;
            }
            let scale = row.terms.iter().map(|t| t.1.abs()).fold(0.0, f64::max);
            let scale = if scale > 0.0 { scale } else { 1.0 };
            for &(v, k) in &row.terms {
                column_scale[v] = column_scale[v].max((k / scale).abs());
            }
            given.push(Given::Row(rows.len()));
            rows.push(Row {
                terms: row.terms.iter().map(|&(v, k)| (v, k / scale)).collect(),
                scale,
                active: None,
                lo: row.lo.map_or(f64::NEG_INFINITY, |b| b / scale),
                hi: row.hi.map_or(f64::INFINITY, |b| b / scale),
            });
        }
        for s in &mut column_scale {
            // A power of two changes no digit.
            *s = if *s > 0.0 {
                libm::exp2(libm::log2(*s).round())
            } else {
                1.0
            };
        }
        for row in &mut rows {
            for t in &mut row.terms {
                t.1 /= column_scale[t.0];
            }
        }
        let bounds = |v: usize, b: f64| {
            if gone_variable[v] {
                0.0
            } else {
                b * column_scale[v]
            }
        };
        let mut lp_ = Simplex {
            n,
            lo: (0..n).map(|v| bounds(v, lp.variables[v].lo)).collect(),
            hi: (0..n).map(|v| bounds(v, lp.variables[v].hi)).collect(),
            cost: vec![0.0; n],
            cost_scale: 1.0,
            columns: vec![Vec::new(); n],
            weight: vec![1.0; n],
            rows,
            covers: lp
                .covers
                .iter()
                .map(|c| Cover {
                    least: lp.rows[c.row].lo.unwrap_or(0.0),
                    on: true,
                    sets: c
                        .sets
                        .iter()
                        .map(|&(w, seen)| {
                            let terms = lp.rows[seen].terms.iter().filter(|t| t.0 != w);
                            terms.map(|&(v, k)| (v, -k)).collect()
                        })
                        .collect(),
                    cuts: Vec::new(),
                })
                .collect(),
            given,
            work: Vec::new(),
            basis: Vec::new(),
            at: vec![None; n],
            row_at: Vec::new(),
            x: vec![0.0; n],
            s: Vec::new(),
            inverse: Vec::new(),
            since_refresh: 0,
            lot: 0x9E37_79B9_7F4A_7C15,
            proof: None,
            pivots: 0,
            column_scale,
        };
        lp_.s = vec![0.0; lp_.rows.len()];
        lp_.row_at = vec![None; lp_.rows.len()];
        for v in 0..n {
            lp_.x[v] = start(lp_.lo[v], lp_.hi[v]);
        }
        let costs: Vec<f64> = lp.variables.iter().map(|v| v.cost).collect();
        lp_.set_costs(&costs);
        // Rows that limit one family of columns only come in when they are broken.
        for r in 0..lp_.rows.len() {
            let row = &lp_.rows[r];
            let both = row.lo == row.hi;
            if both || row.terms.iter().any(|t| t.1 < 0.0) && row.terms.len() > 3 || row.terms.len() > 60 {
                lp_.activate(r);
            }
        }
        lp_
    }

    /// Takes bounds and costs from a program whose variables are this one's, and whose rows begin with this
    /// one's; its further rows come in.
    pub fn take(&mut self, lp: &Linear) {
        for (n, row) in lp.rows.iter().enumerate() {
            if n >= self.given.len() {
                self.add_row(&row.terms, row.lo, row.hi);
            } else {
                self.set_row(n, row.lo, row.hi);
            }
        }
        let costs: Vec<f64> = lp.variables.iter().map(|v| v.cost).collect();
        self.set_costs(&costs);
    }

    /// Changes the objective: a cost for each variable of the program as given.
    pub fn set_costs(&mut self, costs: &[f64]) {
        let scaled: Vec<f64> = costs.iter().zip(&self.column_scale).map(|(c, s)| c / s).collect();
        let largest = scaled.iter().map(|c| c.abs()).fold(0.0, f64::max);
        self.cost_scale = if largest > 0.0 { largest } else { 1.0 };
        self.cost = scaled.iter().map(|c| c / self.cost_scale).collect();
        self.cost.resize(self.n, 0.0);
    }

    /// Changes the bounds of a variable.
    pub fn set_variable(&mut self, v: usize, lo: f64, hi: f64) {
        if self.bound_variable(v, lo, hi) {
            self.recompute();
        }
    }

    /// As [`Simplex::set_variable`] without the values of the basis; gives whether they are to be computed again.
    fn bound_variable(&mut self, v: usize, lo: f64, hi: f64) -> bool {
        let s = self.column_scale[v];
        (self.lo[v], self.hi[v]) = (lo * s, hi * s);
        if self.at[v].is_some() {
            return false;
        }
        let to = self.x[v].clamp(self.lo[v], self.hi[v]);
        let moved = to != self.x[v];
        self.x[v] = to;
        moved
    }

    /// Changes the bounds of a row of the program as given; `None` is no bound.
    pub fn set_row(&mut self, row: usize, lo: Option<f64>, hi: Option<f64>) {
        self.set_rows([(row, lo, hi)]);
    }

    /// As [`Simplex::set_row`] of many rows at once.
    pub fn set_rows(&mut self, rows: impl IntoIterator<Item = (usize, Option<f64>, Option<f64>)>) {
        let mut moved = false;
        for (row, lo, hi) in rows {
            moved |= self.hold(row, lo, hi);
        }
        if moved {
            self.recompute();
        }
    }

    /// As [`Simplex::set_row`] without the values of the basis; gives whether they are to be computed again.
    fn hold(&mut self, row: usize, lo: Option<f64>, hi: Option<f64>) -> bool {
        match self.given[row] {
            Given::Row(r) => self.bound_row(r, lo, hi),
            Given::Cover(c) => {
                self.covers[c].on = lo.is_some();
                self.covers[c].least = lo.unwrap_or(0.0);
                let mut moved = false;
                for (r, seen) in self.covers[c].cuts.clone() {
                    moved |= self.bound_row(r, lo.map(|l| l - seen), None);
                }
                moved
            }
            Given::Gone => false,
        }
    }

    fn bound_row(&mut self, r: usize, lo: Option<f64>, hi: Option<f64>) -> bool {
        let row = &mut self.rows[r];
        row.lo = lo.map_or(f64::NEG_INFINITY, |b| b / row.scale);
        row.hi = hi.map_or(f64::INFINITY, |b| b / row.scale);
        if row.active.is_none() || self.row_at[r].is_some() {
            return false;
        }
        let to = self.s[r].max(row.lo).min(row.hi);
        let moved = to != self.s[r];
        self.s[r] = to;
        moved
    }

    /// Adds a row and gives its number for [`Simplex::set_row`].
    pub fn add_row(&mut self, terms: &[(usize, f64)], lo: Option<f64>, hi: Option<f64>) -> usize {
        let r = self.push_row(terms, lo, hi);
        self.activate(r);
        self.given.push(Given::Row(r));
        self.given.len() - 1
    }

    /// Adds a variable with its terms in given rows (which must not be covers), and gives its number.
    pub fn add_variable(&mut self, lo: f64, hi: f64, terms: &[(usize, f64)]) -> usize {
        let v = self.n;
        self.n += 1;
        let mut scale = 0.0f64;
        for &(row, k) in terms {
            if let Given::Row(r) = self.given[row] {
                scale = scale.max((k / self.rows[r].scale).abs());
            }
        }
        let scale = if scale > 0.0 {
            libm::exp2(libm::log2(scale).round())
        } else {
            1.0
        };
        self.column_scale.push(scale);
        self.lo.push(lo * scale);
        self.hi.push(hi * scale);
        self.cost.push(0.0);
        self.columns.push(Vec::new());
        self.at.push(None);
        self.x.push(start(lo * scale, hi * scale));
        for &(row, k) in terms {
            if let Given::Row(r) = self.given[row] {
                let k = k / self.rows[r].scale / scale;
                self.rows[r].terms.push((v, k));
                if let Some(i) = self.rows[r].active {
                    self.columns[v].push((i, k));
                }
            }
        }
        self.weight
            .push(1.0 + self.columns[v].iter().map(|t| t.1 * t.1).sum::<f64>());
        if self.x[v] != 0.0 {
            self.recompute();
        }
        v
    }

    fn push_row(&mut self, terms: &[(usize, f64)], lo: Option<f64>, hi: Option<f64>) -> usize {
        let scaled = |&(v, k): &(usize, f64)| (v, k / self.column_scale[v]);
        let mut terms: Vec<(usize, f64)> = terms.iter().map(scaled).collect();
        let scale = terms.iter().map(|t| t.1.abs()).fold(0.0, f64::max);
        let scale = if scale > 0.0 { scale } else { 1.0 };
        for t in &mut terms {
            t.1 /= scale;
        }
        self.rows.push(Row {
            terms,
            scale,
            active: None,
            lo: lo.map_or(f64::NEG_INFINITY, |b| b / scale),
            hi: hi.map_or(f64::INFINITY, |b| b / scale),
        });
        self.s.push(0.0);
        self.row_at.push(None);
        self.rows.len() - 1
    }

    /// Takes a row to work, its activity in the basis.
    fn activate(&mut self, r: usize) {
        let i = self.work.len();
        self.rows[r].active = Some(i);
        self.work.push(r);
        for line in &mut self.inverse {
            line.push(0.0);
        }
        // The new line of the inverse: B' = [B 0; a -1].
        let mut line = vec![0.0; i + 1];
        line[i] = -1.0;
        let mut activity = 0.0;
        for t in 0..self.rows[r].terms.len() {
            let (v, k) = self.rows[r].terms[t];
            activity += k * self.x[v];
            if let Some(p) = self.at[v] {
                for (l, b) in line.iter_mut().zip(&self.inverse[p][..i]) {
                    *l += k * b;
                }
            }
            self.columns[v].push((i, k));
            self.weight[v] += k * k;
        }
        self.inverse.push(line);
        self.row_at[r] = Some(self.basis.len());
        self.basis.push(Member::Row(r));
        self.s[r] = activity;
    }

    fn value_of(&self, m: Member) -> f64 {
        match m {
            Member::Column(v) => self.x[v],
            Member::Row(r) => self.s[r],
        }
    }

    fn set_value(&mut self, m: Member, to: f64) {
        match m {
            Member::Column(v) => self.x[v] = to,
            Member::Row(r) => self.s[r] = to,
        }
    }

    fn bounds_of(&self, m: Member) -> (f64, f64) {
        match m {
            Member::Column(v) => (self.lo[v], self.hi[v]),
            Member::Row(r) => (self.rows[r].lo, self.rows[r].hi),
        }
    }

    /// Values of the basis from those outside it.
    fn recompute(&mut self) {
        let m = self.work.len();
        let mut rest = vec![0.0; m];
        for v in 0..self.n {
            if self.at[v].is_none() && self.x[v] != 0.0 {
                for &(i, k) in &self.columns[v] {
                    rest[i] -= k * self.x[v];
                }
            }
        }
        for (i, &r) in self.work.iter().enumerate() {
            if self.row_at[r].is_none() {
                rest[i] += self.s[r];
            }
        }
        for p in 0..m {
            let value = dot(&self.inverse[p], &rest);
            self.set_value(self.basis[p], value);
        }
    }

    /// Whether the values of the basis no longer fit the rows.
    fn worn(&self) -> bool {
        let mut left: Vec<f64> = self.work.iter().map(|&r| -self.s[r]).collect();
        for v in 0..self.n {
            if self.x[v] != 0.0 {
                for &(i, k) in &self.columns[v] {
                    left[i] += k * self.x[v];
                }
            }
        }
        left.iter().any(|l| l.abs() > 1e-9)
    }

    /// The inverse of the basis from its columns.
    fn refresh(&mut self) {
        let m = self.work.len();
        let members = std::mem::take(&mut self.basis);
        self.inverse = (0..m)
            .map(|i| {
                let mut line = vec![0.0; m];
                line[i] = -1.0;
                line
            })
            .collect();
        self.basis = self.work.iter().map(|&r| Member::Row(r)).collect();
        let mut free = vec![true; m];
        for member in &members {
            if let Member::Row(r) = member
                && let Some(i) = self.rows[*r].active
            {
                free[i] = false;
            }
        }
        for &r in &self.work {
            self.row_at[r] = None;
        }
        let mut left = Vec::new();
        let mut structural: Vec<usize> = members
            .iter()
            .filter_map(|m| match m {
                Member::Column(v) => Some(*v),
                Member::Row(_) => None,
            })
            .collect();
        structural.sort_by_key(|&v| self.columns[v].len());
        for v in structural {
            let alpha = self.ahead(Member::Column(v));
            let best = (0..m)
                .filter(|&i| free[i])
                .max_by(|&a, &b| alpha[a].abs().total_cmp(&alpha[b].abs()));
            match best.filter(|&i| alpha[i].abs() > PIVOT) {
                Some(i) => {
                    free[i] = false;
                    self.turn(i, &alpha);
                    self.basis[i] = Member::Column(v);
                    self.at[v] = Some(i);
                }
                None => left.push(v),
            }
        }
        for v in left {
            // It depends on the others: out of the basis it goes, where it stands.
            self.at[v] = None;
            self.x[v] = self.x[v].clamp(self.lo[v], self.hi[v]);
        }
        for i in 0..m {
            if let Member::Row(r) = self.basis[i] {
                self.row_at[r] = Some(i);
            }
        }
        self.since_refresh = 0;
        self.recompute();
    }

    /// The inverse times a column.
    fn ahead(&self, member: Member) -> Vec<f64> {
        match member {
            Member::Column(v) => {
                let column = &self.columns[v];
                self.inverse
                    .iter()
                    .map(|line| column.iter().map(|&(i, k)| k * line[i]).sum())
                    .collect()
            }
            Member::Row(r) => {
                let i = self.rows[r].active.unwrap_or(0);
                self.inverse.iter().map(|line| -line[i]).collect()
            }
        }
    }

    /// Brings a column with these coordinates into the basis at a place.
    fn turn(&mut self, place: usize, alpha: &[f64]) {
        let mut line = std::mem::take(&mut self.inverse[place]);
        let by = 1.0 / alpha[place];
        for b in &mut line {
            *b *= by;
        }
        let busy: Vec<usize> = (0..line.len()).filter(|&i| line[i] != 0.0).collect();
        let full = busy.len() * 3 > line.len();
        for (p, other) in self.inverse.iter_mut().enumerate() {
            let a = alpha[p];
            if p == place || a.abs() < 1e-14 {
                continue;
            }
            if full {
                for (o, l) in other.iter_mut().zip(&line) {
                    *o -= a * l;
                }
            } else {
                for &i in &busy {
                    other[i] -= a * line[i];
                }
            }
        }
        self.inverse[place] = line;
        self.since_refresh += 1;
    }

    /// Puts a member into the basis at a place, for the one that stands there.
    fn swap(&mut self, place: usize, enter: Member, alpha: &[f64]) {
        match self.basis[place] {
            Member::Column(v) => self.at[v] = None,
            Member::Row(r) => self.row_at[r] = None,
        }
        self.turn(place, alpha);
        self.basis[place] = enter;
        match enter {
            Member::Column(v) => self.at[v] = Some(place),
            Member::Row(r) => self.row_at[r] = Some(place),
        }
        self.pivots += 1;
    }

    /// How far a value is outside bounds; negative below.
    fn miss(&self, member: Member) -> f64 {
        let (x, (lo, hi)) = (self.value_of(member), self.bounds_of(member));
        if x < lo - FEASIBLE * lo.abs().max(1.0) {
            x - lo
        } else if x > hi + FEASIBLE * hi.abs().max(1.0) {
            x - hi
        } else {
            0.0
        }
    }

    /// Prices of the rows at work for costs of the basis.
    fn prices(&self, broken: bool) -> Vec<f64> {
        let mut y = vec![0.0; self.work.len()];
        for (p, &member) in self.basis.iter().enumerate() {
            let c = if broken {
                let miss = self.miss(member);
                if miss == 0.0 { 0.0 } else { miss.signum() }
            } else if let Member::Column(v) = member {
                self.cost[v]
            } else {
                0.0
            };
            if c != 0.0 {
                for (y, b) in y.iter_mut().zip(&self.inverse[p]) {
                    *y += c * b;
                }
            }
        }
        y
    }

    fn reduced(&self, member: Member, y: &[f64], broken: bool) -> f64 {
        match member {
            Member::Column(v) => {
                let c = if broken { 0.0 } else { self.cost[v] };
                c - self.columns[v].iter().map(|&(i, k)| k * y[i]).sum::<f64>()
            }
            Member::Row(r) => self.rows[r].active.map_or(0.0, |i| y[i]),
        }
    }

    /// Whether moving a column against its reduced cost is possible: its direction.
    fn direction(&self, member: Member, d: f64) -> f64 {
        let (x, (lo, hi)) = (self.value_of(member), self.bounds_of(member));
        if d < -OPTIMAL && x < hi {
            1.0
        } else if d > OPTIMAL && x > lo {
            -1.0
        } else {
            0.0
        }
    }

    fn outside(&self) -> impl Iterator<Item = Member> + '_ {
        let columns = (0..self.n)
            .filter(|&v| self.at[v].is_none() && self.lo[v] < self.hi[v])
            .map(Member::Column);
        let rows = self
            .work
            .iter()
            .filter(|&&r| self.row_at[r].is_none() && self.rows[r].lo < self.rows[r].hi)
            .map(|&r| Member::Row(r));
        columns.chain(rows)
    }

    /// Solves the rows at work from the present basis.
    fn run(&mut self) -> Result<End, NoOptimum> {
        let mut list: Vec<Member> = Vec::new();
        let mut stalled = 0usize;
        let mut checked = false;
        let limit = 40 * (self.work.len() + 200);
        let mut phase = true;
        // Prices carried on from the last step while nothing is broken.
        let mut known: Option<Vec<f64>> = None;
        for _ in 0..limit {
            if self.since_refresh >= REFRESH {
                self.refresh();
                known = None;
            }
            let broken = self.basis.iter().any(|&m| self.miss(m) != 0.0);
            if broken != phase {
                list.clear();
                phase = broken;
            }
            let mut y = match known.take() {
                Some(y) if !broken => y,
                _ => self.prices(broken),
            };
            let mut pick = self.choose(&mut list, &y, broken, stalled > STALLED);
            if pick.is_none() {
                // Before all columns are looked at, the prices are computed anew.
                y = self.prices(broken);
                list.clear();
                let mut all: Vec<(f64, Member)> = self
                    .outside()
                    .filter_map(|m| {
                        let d = self.reduced(m, &y, broken);
                        let w = match m {
                            Member::Column(v) => self.weight[v],
                            Member::Row(_) => 2.0,
                        };
                        (self.direction(m, d) != 0.0).then_some((d * d / w, m))
                    })
                    .collect();
                let keep = all.len().min(SHORT_LIST);
                if keep < all.len() {
                    all.select_nth_unstable_by(keep, |a, b| b.0.total_cmp(&a.0));
                    all.truncate(keep);
                }
                list.extend(all.into_iter().map(|a| a.1));
                pick = self.choose(&mut list, &y, broken, stalled > STALLED);
            }
            let Some((enter, way)) = pick else {
                if !checked && self.since_refresh > 0 {
                    // The last word is spoken on values computed anew, by a fresh inverse when the old one is worn.
                    self.recompute();
                    if self.worn() {
                        self.refresh();
                    }
                    checked = true;
                    list.clear();
                    continue;
                }
                return Ok(if broken { End::Broken } else { End::Best });
            };
            checked = false;
            let alpha = self.ahead(enter);
            let d = self.reduced(enter, &y, broken);
            let (lo, hi) = self.bounds_of(enter);
            let own = if way > 0.0 {
                hi - self.value_of(enter)
            } else {
                self.value_of(enter) - lo
            };
            let block = if broken {
                self.far_block(&alpha, way, d.abs())
            } else {
                self.block(&alpha, way)
            };
            let (step, leave) = match block {
                Some((t, p, to)) if t < own => (t, Some((p, to))),
                _ if own.is_finite() => (own, None),
                _ => return Err(NoOptimum::Unbounded),
            };
            let step = step.max(0.0);
            stalled = if step > 1e-10 { 0 } else { stalled + 1 };
            let old = self.value_of(enter);
            self.set_value(enter, old + way * step);
            for (p, a) in alpha.iter().enumerate() {
                if *a != 0.0 {
                    let value = self.value_of(self.basis[p]) - way * a * step;
                    self.set_value(self.basis[p], value);
                }
            }
            if let Some((p, to)) = leave {
                let out = self.basis[p];
                self.set_value(out, to);
                self.swap(p, enter, &alpha);
                if !broken {
                    for (y, b) in y.iter_mut().zip(&self.inverse[p]) {
                        *y += d * b;
                    }
                    known = Some(y);
                }
                list.retain(|&m| m != enter);
            } else {
                // To its other bound.
                self.set_value(enter, if way > 0.0 { hi } else { lo });
                known = (!broken).then_some(y);
            }
        }
        Err(NoOptimum::Failed("the simplex method does not end".into()))
    }

    fn choose(
        &mut self,
        list: &mut Vec<Member>,
        y: &[f64],
        broken: bool,
        by_lot: bool,
    ) -> Option<(Member, f64)> {
        let mut best: Option<(f64, Member, f64)> = None;
        let mut lot = self.lot;
        list.retain(|&m| {
            let inside = match m {
                Member::Column(v) => self.at[v].is_some(),
                Member::Row(r) => self.row_at[r].is_some(),
            };
            if inside {
                return false;
            }
            let d = self.reduced(m, y, broken);
            let way = self.direction(m, d);
            if way != 0.0 {
                let w = match m {
                    Member::Column(v) => self.weight[v],
                    Member::Row(_) => 2.0,
                };
                let mut score = d * d / w;
                if by_lot {
                    lot = lot
                        .wrapping_mul(6_364_136_223_846_793_005)
                        .wrapping_add(1_442_695_040_888_963_407);
                    score = (lot >> 40) as f64;
                }
                if best.is_none_or(|b| score > b.0) {
                    best = Some((score, m, way));
                }
            }
            way != 0.0
        });
        self.lot = lot;
        best.map(|b| (b.1, b.2))
    }

    /// The member that stops a move when nothing is broken: step, place and the bound it meets.
    fn block(&self, alpha: &[f64], way: f64) -> Option<(f64, usize, f64)> {
        let limit = |p: usize, slack: f64| {
            let rate = -way * alpha[p];
            if rate.abs() <= PIVOT {
                return None;
            }
            let (x, (lo, hi)) = (self.value_of(self.basis[p]), self.bounds_of(self.basis[p]));
            let to = if rate > 0.0 { hi } else { lo };
            to.is_finite().then(|| {
                let room = if rate > 0.0 { hi - x } else { x - lo };
                ((room.max(0.0) + slack) / rate.abs(), to)
            })
        };
        let most = (0..alpha.len())
            .filter_map(|p| limit(p, FEASIBLE))
            .map(|l| l.0)
            .fold(f64::INFINITY, f64::min);
        if most.is_infinite() {
            return None;
        }
        (0..alpha.len())
            .filter_map(|p| limit(p, 0.0).map(|(t, to)| (t, p, to)))
            .filter(|l| l.0 <= most)
            .max_by(|a, b| alpha[a.1].abs().total_cmp(&alpha[b.1].abs()))
    }

    /// As `block` while something is broken: as far as what is broken shrinks.
    fn far_block(&self, alpha: &[f64], way: f64, gain: f64) -> Option<(f64, usize, f64)> {
        let mut stops: Vec<(f64, usize, f64)> = Vec::new();
        for (p, a) in alpha.iter().enumerate() {
            let rate = -way * a;
            if rate.abs() <= PIVOT {
                continue;
            }
            let (x, (lo, hi)) = (self.value_of(self.basis[p]), self.bounds_of(self.basis[p]));
            let miss = self.miss(self.basis[p]);
            let mut stop = |to: f64| {
                if to.is_finite() {
                    stops.push((((to - x) / rate).max(0.0), p, to));
                }
            };
            if rate > 0.0 {
                if miss < 0.0 {
                    stop(lo);
                }
                if miss <= 0.0 {
                    stop(hi);
                }
            } else {
                if miss > 0.0 {
                    stop(hi);
                }
                if miss >= 0.0 {
                    stop(lo);
                }
            }
        }
        stops.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut slope = -gain;
        let mut end = stops.len();
        for (n, s) in stops.iter().enumerate() {
            slope += alpha[s.1].abs();
            if slope >= 0.0 {
                end = n;
                break;
            }
        }
        let last = *stops.get(end.min(stops.len().wrapping_sub(1)))?;
        // Among stops at nearly the same place the largest pivot.
        let near = last.0 - 1e-9 * (1.0 + last.0);
        stops
            .iter()
            .filter(|s| s.0 >= near && s.0 <= last.0)
            .copied()
            .max_by(|a, b| alpha[a.1].abs().total_cmp(&alpha[b.1].abs()))
    }

    /// Solves from the present basis, taking rows to work until none is broken.
    ///
    /// # Errors
    /// Infeasible, unbounded, or no end within a limit of steps.
    pub fn solve(&mut self) -> Result<f64, NoOptimum> {
        self.proof = None;
        if !self.crossed().is_empty() {
            return Err(NoOptimum::Infeasible);
        }
        for _ in 0..400 {
            let end = self.run()?;
            if end == End::Broken {
                return Err(NoOptimum::Infeasible);
            }
            let more = self.unmet();
            if more.is_empty() {
                return Ok(self.value());
            }
            for r in more {
                self.activate(r);
            }
        }
        Err(NoOptimum::Failed("rows keep coming in".into()))
    }

    /// Given rows whose floor stands above their ceiling.
    fn crossed(&self) -> Vec<usize> {
        let crossed = |g: &Given| match *g {
            Given::Row(r) => {
                let row = &self.rows[r];
                row.lo > row.hi + FEASIBLE * row.hi.abs().max(1.0)
            }
            _ => false,
        };
        (0..self.given.len())
            .filter(|&g| crossed(&self.given[g]))
            .collect()
    }

    /// Rows not yet at work that the present point breaks.
    fn unmet(&mut self) -> Vec<usize> {
        let mut more: Vec<usize> = (0..self.rows.len())
            .filter(|&r| self.rows[r].active.is_none())
            .filter(|&r| {
                let row = &self.rows[r];
                let a: f64 = row.terms.iter().map(|&(v, k)| k * self.x[v]).sum();
                a < row.lo - FEASIBLE * row.lo.abs().max(1.0) || a > row.hi + FEASIBLE * row.hi.abs().max(1.0)
            })
            .collect();
        more.extend(self.cut());
        more
    }

    /// Rows that the present point breaks of "so many different": the sets seen less than once must
    /// together be seen as often as the others leave over.
    fn cut(&mut self) -> Vec<usize> {
        let mut out = Vec::new();
        for c in 0..self.covers.len() {
            let cover = &self.covers[c];
            if !cover.on {
                continue;
            }
            let uses: Vec<f64> = cover
                .sets
                .iter()
                .map(|s| s.iter().map(|&(v, k)| k * self.x[v] / self.column_scale[v]).sum())
                .collect();
            let seen: f64 = uses.iter().map(|u: &f64| u.min(1.0)).sum();
            if seen >= cover.least - 1e-8 {
                continue;
            }
            let mut terms = std::collections::BTreeMap::new();
            let mut full = 0.0;
            for (s, u) in cover.sets.iter().zip(&uses) {
                if *u >= 1.0 {
                    full += 1.0;
                } else {
                    for &(v, k) in s {
                        *terms.entry(v).or_insert(0.0) += k;
                    }
                }
            }
            let least = cover.least - full;
            let terms: Vec<(usize, f64)> = terms.into_iter().collect();
            let r = self.push_row(&terms, Some(least), None);
            self.covers[c].cuts.push((r, full));
            out.push(r);
        }
        out
    }

    /// Rows at work: those that have been broken since the start, and those that always are.
    pub fn at_work(&self) -> usize {
        self.work.len()
    }

    /// The objective at the present point, in the unit of the program.
    pub fn value(&self) -> f64 {
        self.x.iter().zip(&self.cost).map(|(x, c)| x * c).sum::<f64>() * self.cost_scale
    }

    /// The value of a variable.
    pub fn x(&self, v: usize) -> f64 {
        self.x[v] / self.column_scale[v]
    }

    /// Values of all variables.
    pub fn point(&self) -> Vec<f64> {
        (0..self.n).map(|v| self.x(v)).collect()
    }

    /// The shadow price of each given row at the present optimum: change of the objective per unit
    /// that its bound rises. Rows of "so many different" have the sum over their cuts.
    pub fn row_prices(&self) -> Vec<f64> {
        self.given_prices(&self.prices(false))
    }

    /// Prices of the rows at work as prices of the given rows.
    fn given_prices(&self, y: &[f64]) -> Vec<f64> {
        let of = |r: usize| {
            let row = &self.rows[r];
            row.active.map_or(0.0, |i| y[i]) * self.cost_scale / row.scale
        };
        self.given
            .iter()
            .map(|g| match *g {
                Given::Row(r) => of(r),
                Given::Cover(c) => self.covers[c].cuts.iter().map(|&(r, _)| of(r)).sum(),
                Given::Gone => 0.0,
            })
            .collect()
    }

    /// The reduced cost of each variable at the present optimum: change of the objective per unit
    /// that it is forced up.
    pub fn reduced_costs(&self) -> Vec<f64> {
        let y = self.prices(false);
        (0..self.n)
            .map(|v| self.reduced(Member::Column(v), &y, false) * self.cost_scale * self.column_scale[v])
            .collect()
    }

    /// A bound under the objective that the present prices prove by themselves, whatever led to them:
    /// for any prices y, `c x = y (A x) + (c - y A) x`, and each part is at least its least within bounds.
    pub fn bound(&self) -> f64 {
        let y = self.prices(false);
        self.least(&y, false) * self.cost_scale
    }

    fn least(&self, y: &[f64], broken: bool) -> f64 {
        let worst = |d: f64, lo: f64, hi: f64| {
            if d > 0.0 {
                d * lo
            } else if d < 0.0 {
                d * hi
            } else {
                0.0
            }
        };
        // Prices of the wrong sign for a bound that is not there are rounding: they count as nothing.
        let y = clean(y, &self.work, &self.rows);
        let rows = self
            .work
            .iter()
            .zip(&y)
            .map(|(&r, &p)| worst(p, self.rows[r].lo, self.rows[r].hi));
        let columns = (0..self.n).map(|v| {
            worst(
                self.reduced(Member::Column(v), &y, broken),
                self.lo[v],
                self.hi[v],
            )
        });
        rows.chain(columns).sum()
    }

    /// The given rows whose combination proves that no point exists, after [`Simplex::solve`] said so:
    /// none when the proof does not hold on recomputing.
    pub fn contradiction(&self) -> Vec<usize> {
        let crossed = self.crossed();
        if !crossed.is_empty() {
            return crossed;
        }
        let found = self.proof.clone().filter(|y| y.len() == self.work.len());
        let mut y = found.unwrap_or_else(|| self.prices(true));
        for p in y.iter_mut().filter(|p| p.abs() <= 1e-11) {
            *p = 0.0;
        }
        // y s - y A x is 0 at every point that holds the rows; there is none when its least is over 0.
        if self.least(&y, true) <= 1e-9 {
            return Vec::new();
        }
        let live: Vec<usize> = self
            .work
            .iter()
            .zip(&y)
            .filter(|(_, p)| **p != 0.0)
            .map(|(&r, _)| r)
            .collect();
        (0..self.given.len())
            .filter(|&g| match self.given[g] {
                Given::Row(r) => live.contains(&r),
                Given::Cover(c) => self.covers[c].cuts.iter().any(|k| live.contains(&k.0)),
                Given::Gone => false,
            })
            .collect()
    }
}

/// Prices without those of the wrong sign for a bound that is not there.
fn clean(y: &[f64], work: &[usize], rows: &[Row]) -> Vec<f64> {
    y.iter()
        .zip(work)
        .map(|(&p, &r)| {
            let missing = p > 0.0 && rows[r].lo.is_infinite() || p < 0.0 && rows[r].hi.is_infinite();
            if missing { 0.0 } else { p }
        })
        .collect()
}

fn start(lo: f64, hi: f64) -> f64 {
    if lo.is_finite() {
        lo
    } else if hi.is_finite() {
        hi
    } else {
        0.0
    }
}

/// Sums that go on side by side: one alone would wait for each addition.
const SIDE_BY_SIDE: usize = 8;

fn dot(a: &[f64], b: &[f64]) -> f64 {
    let (first, second) = (a.chunks_exact(SIDE_BY_SIDE), b.chunks_exact(SIDE_BY_SIDE));
    let rest = first.remainder().iter().zip(second.remainder());
    let mut sums = [0.0; SIDE_BY_SIDE];
    for (a, b) in first.zip(second) {
        for n in 0..SIDE_BY_SIDE {
            sums[n] += a[n] * b[n];
        }
    }
    sums.iter().sum::<f64>() + rest.map(|(a, b)| a * b).sum::<f64>()
}
