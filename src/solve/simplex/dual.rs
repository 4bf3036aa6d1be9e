//! The dual side of the method: solving again after bounds moved, and following a lever from corner to corner.
//!
//! Takes a [`Simplex`] whose prices are right for its costs, and keeps them so while the point comes back
//! within its bounds. After a bound has moved this is a few steps where the other way would begin with
//! what is broken. Along a lever the values of the basis are straight lines in its place: the first to meet
//! a bound is the next corner, and one exchange takes the basis across it (Dantzig, 1963, section 11-3;
//! Lemke, "The dual method of solving the linear programming problem", 1954; Gass and Saaty, "The
//! computational algorithm for the parametric objective function", 1955).

use super::{End, FEASIBLE, Given, Member, OPTIMAL, PIVOT, REFRESH, STALLED, Simplex, dot};
use crate::model::linear::{Linear, Variable};
use crate::solve::engine::NoOptimum;

/// Exchanges after which solving again is left to the other way.
const MOST_EXCHANGES: usize = 4000;
/// Exchanges without a price change after which reduced costs are told apart.
const IDLE: usize = 30;
/// How many times more exchanges the inverse serves here: fewer are done, and the last word is not spoken here.
const WEAR: usize = 3;
/// Candidates that are put in order before all are.
const SORTED: usize = 24;
/// Exchanges at one place after which a walk gives up.
const MOST_IDLE: usize = 1000;

/// A straight stretch of a walk.
#[derive(Clone, Debug, PartialEq)]
pub struct Stretch {
    /// Its two ends, in the order of the walk, in units of the lever.
    pub ends: [f64; 2],
    /// The optimum at each end.
    pub values: [f64; 2],
    /// The price of each given row along it.
    pub prices: Vec<f64>,
}

/// The optimum along a lever.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Walk {
    /// Stretches in order; where they meet other rows begin to bind.
    pub stretches: Vec<Stretch>,
    /// Where the walk came to; when it is not where it was to go, no point exists beyond.
    pub reached: f64,
    /// Whether it ended because no point exists beyond.
    pub closed: bool,
}

/// Prices of the rows at work, and reduced costs of all columns (0 in the basis).
struct Duals {
    y: Vec<f64>,
    d: Vec<f64>,
}

/// A row whose bounds move: per unit, and where they stand at place 0.
struct Moving {
    row: usize,
    rates: (f64, f64),
    bounds: (f64, f64),
}

/// A member that may enter for one that leaves.
struct Candidate {
    member: Member,
    /// Price change at which its reduced cost is nil.
    ratio: f64,
    /// Its coordinate in the row of the one that leaves.
    pivot: f64,
    /// The bound that it moves towards.
    to: f64,
}

/// The basis of a program by its own numbers: what a like program can begin from.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Basis {
    /// Variables in the basis.
    pub columns: Vec<usize>,
    /// Given rows at work, and whether each stands outside the basis, at one of its bounds.
    pub rows: Vec<(usize, bool)>,
}

impl Simplex {
    /// The present basis.
    pub fn basis(&self) -> Basis {
        let column = |m: &Member| match m {
            Member::Column(v) => Some(*v),
            Member::Row(_) => None,
        };
        let row = |(n, given): (usize, &Given)| match given {
            Given::Row(r) if self.rows[*r].active.is_some() => Some((n, self.row_at[*r].is_none())),
            _ => None,
        };
        Basis {
            columns: self.basis.iter().filter_map(column).collect(),
            rows: self.given.iter().enumerate().filter_map(row).collect(),
        }
    }

    /// Begins at the basis of a like program instead of at nothing; [`Simplex::solve_again`] mends what does not fit
    /// here. Variables and rows are numbers of this program.
    pub fn begin_at(&mut self, start: &Basis) {
        let mut outside = vec![false; self.rows.len()];
        for &(given, bound) in &start.rows {
            if let Some(Given::Row(r)) = self.given.get(given).copied() {
                if self.rows[r].active.is_none() {
                    self.activate(r);
                }
                outside[r] = bound;
            }
        }
        let columns = start.columns.iter().filter(|v| **v < self.n);
        let inside = self.work.iter().filter(|&&r| !outside[r]);
        let basis: Vec<Member> = columns
            .map(|&v| Member::Column(v))
            .chain(inside.map(|&r| Member::Row(r)))
            .collect();
        for &r in self.work.iter().filter(|&&r| outside[r]) {
            let row = &self.rows[r];
            self.s[r] = self.s[r].max(row.lo).min(row.hi);
        }
        self.basis = basis;
        self.refresh();
    }

    /// Becomes another program of the same variables and rows, `old` being the one it holds: basis and rows at work
    /// stay, and [`Simplex::solve_again`] mends what does not fit. `false`, with nothing changed, when the two differ
    /// in more than bounds, costs and coefficients.
    pub fn renew(&mut self, old: &Linear, new: &Linear) -> bool {
        let like = |(a, b): (&Variable, &Variable)| (&a.name, a.lo, a.hi) == (&b.name, b.lo, b.hi);
        let own = [self.n, self.given.len()];
        if own != [old.variables.len(), old.rows.len()]
            || own != [new.variables.len(), new.rows.len()]
            || !old.variables.iter().zip(&new.variables).all(like)
        {
            return false;
        }
        let mut changed = Vec::new();
        for (n, (a, b)) in old.rows.iter().zip(&new.rows).enumerate() {
            match self.given[n] {
                _ if a.name != b.name => return false,
                Given::Row(r) if a.terms != b.terms => changed.push((r, &b.terms)),
                Given::Cover(_) | Given::Gone if a.terms != b.terms => return false,
                _ => {}
            }
        }
        let worn = !changed.is_empty();
        for (r, terms) in changed {
            let (row, scales) = (&mut self.rows[r], &self.column_scale);
            let fresh = terms
                .iter()
                .map(|&(v, k)| (v, k / row.scale / scales[v]))
                .collect();
            let gone = std::mem::replace(&mut row.terms, fresh);
            let Some(i) = row.active else { continue };
            for (v, k) in gone {
                self.columns[v].retain(|t| t.0 != i);
                self.weight[v] -= k * k;
            }
            for &(v, k) in &row.terms {
                self.columns[v].push((i, k));
                self.weight[v] += k * k;
            }
        }
        for (n, row) in new.rows.iter().enumerate() {
            self.hold(n, row.lo, row.hi);
        }
        let costs: Vec<f64> = new.variables.iter().map(|v| v.cost).collect();
        self.set_costs(&costs);
        if worn {
            self.refresh();
        } else {
            self.recompute();
        }
        true
    }

    /// Solves after bounds moved, from the last optimum: the answer of [`Simplex::solve`], sooner.
    ///
    /// # Errors
    /// Those of [`Simplex::solve`]; [`Simplex::contradiction`] then names the rows.
    pub fn solve_again(&mut self) -> Result<f64, NoOptimum> {
        self.proof = None;
        if !self.crossed().is_empty() {
            return Err(NoOptimum::Infeasible);
        }
        if self.come_back(f64::INFINITY) == Some(End::Broken) && !self.contradiction().is_empty() {
            return Err(NoOptimum::Infeasible);
        }
        // The last word is that of the other way, which looks at every column.
        self.solve()
    }

    /// As [`Simplex::solve_again`] with other bounds of some variables and given rows, for one who asks many times and
    /// wants no more than a value under a limit: it ends as soon as no point can have one, and what the short way says
    /// is not looked over. It proves nothing.
    ///
    /// # Errors
    /// Those of [`Simplex::solve`]; infeasible also when no point lies under the limit.
    pub fn solve_under(
        &mut self,
        limit: f64,
        variables: impl IntoIterator<Item = (usize, f64, f64)>,
        rows: impl IntoIterator<Item = (usize, f64, f64)>,
    ) -> Result<f64, NoOptimum> {
        // The values of the basis are computed on the way.
        for (v, lo, hi) in variables {
            self.bound_variable(v, lo, hi);
        }
        for (row, lo, hi) in rows {
            self.hold(row, Some(lo), Some(hi));
        }
        self.proof = None;
        match self.come_back(limit / self.cost_scale) {
            Some(End::Best) => Ok(self.value()),
            Some(End::Broken) => Err(NoOptimum::Infeasible),
            None => self.solve(),
        }
    }

    /// The objective at the present point, scaled.
    fn scaled_value(&self) -> f64 {
        self.x.iter().zip(&self.cost).map(|(x, c)| x * c).sum()
    }

    /// Brings the point back within its bounds while the prices stay right; `None` when it cannot tell. Nothing is
    /// left to come back to when the objective, which only rises on the way, reaches a limit.
    fn come_back(&mut self, limit: f64) -> Option<End> {
        let mut duals = self.duals();
        self.settle(&mut duals);
        let mut idle = 0;
        for _ in 0..MOST_EXCHANGES {
            if self.since_refresh >= WEAR * REFRESH {
                self.refresh();
                if idle <= IDLE {
                    duals = self.duals();
                    self.settle(&mut duals);
                }
            }
            if idle == IDLE {
                self.tell_apart(&mut duals);
                idle += 1;
            }
            let Some((p, way)) = self.worst() else {
                let more = self.unmet();
                if more.is_empty() {
                    return Some(End::Best);
                }
                for r in more {
                    self.activate(r);
                    duals.y.push(0.0);
                }
                continue;
            };
            if limit < f64::INFINITY && self.scaled_value() >= limit {
                return Some(End::Broken);
            }
            let row = self.pivot_row(p);
            let mut all = self.candidates(p, way, &row, &duals);
            // Those that are passed go to their other bound, as long as that leaves something to be done: one
            // whose passing would leave nothing enters instead.
            let mut sorted = 0;
            let mut left = self.miss(self.basis[p]).abs();
            let mut passed = 0;
            while passed < all.len() {
                if passed == sorted {
                    sorted = sort_more(&mut all, sorted);
                }
                let c = &all[passed];
                left -= c.pivot.abs() * (c.to - self.value_of(c.member)).abs();
                if left <= FEASIBLE || left.is_nan() {
                    break;
                }
                passed += 1;
            }
            let Some(first) = all.get(passed) else {
                self.proof = Some(self.inverse[p].iter().map(|b| -way * b).collect());
                return Some(End::Broken);
            };
            // Among those at nearly the same price the largest pivot.
            let near = first.ratio + OPTIMAL;
            let enter = all[passed..]
                .iter()
                .filter(|c| c.ratio <= near)
                .max_by(|a, b| a.pivot.abs().total_cmp(&b.pivot.abs()))
                .map_or(first.member, |c| c.member);
            let alpha = self.ahead(enter);
            let pivot = alpha[p];
            let told = all.iter().find(|c| c.member == enter)?.pivot;
            if (pivot - told).abs() > 1e-7 * (1.0 + told.abs()) {
                if self.since_refresh == 0 {
                    return None;
                }
                self.refresh();
                duals = self.duals();
                self.settle(&mut duals);
                continue;
            }
            if passed > 0 {
                self.flip(&all[..passed]);
            }
            idle += usize::from(first.ratio <= OPTIMAL);
            let out = self.basis[p];
            let (lo, hi) = self.bounds_of(out);
            let to = if way > 0.0 { lo } else { hi };
            let step = (self.value_of(out) - to) / pivot;
            self.shift(enter, step, &alpha);
            self.set_value(out, to);
            self.exchange(p, enter, &alpha, &row, &mut duals);
        }
        None
    }

    /// Prices and reduced costs of the present basis.
    fn duals(&self) -> Duals {
        let y = self.prices(false);
        let mut d = self.cost.clone();
        for (&r, &p) in self.work.iter().zip(&y) {
            if p != 0.0 {
                for &(v, k) in &self.rows[r].terms {
                    d[v] -= p * k;
                }
            }
        }
        for &member in &self.basis {
            if let Member::Column(v) = member {
                d[v] = 0.0;
            }
        }
        Duals { y, d }
    }

    /// Moves each reduced cost outside the basis a little further from nil, so that exchanges whose price
    /// change is nil come to an end. What is lost by it the other way sets right afterwards.
    fn tell_apart(&mut self, duals: &mut Duals) {
        let outside: Vec<Member> = self.outside().collect();
        for member in outside {
            self.lot = self
                .lot
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            let little = 1e-6 * (1.0 + (self.lot >> 40) as f64 / (1u64 << 24) as f64);
            let (x, (lo, _)) = (self.value_of(member), self.bounds_of(member));
            let by = if x <= lo { little } else { -little };
            match member {
                Member::Column(v) => duals.d[v] += by,
                Member::Row(r) => {
                    if let Some(i) = self.rows[r].active {
                        duals.y[i] += by;
                    }
                }
            }
        }
    }

    fn dual_of(&self, member: Member, duals: &Duals) -> f64 {
        match member {
            Member::Column(v) => duals.d[v],
            Member::Row(r) => self.rows[r].active.map_or(0.0, |i| duals.y[i]),
        }
    }

    /// Puts what is outside the basis to the bound that its reduced cost asks for. Where that bound is not there the
    /// cost is taken as nil, which the other way sets right afterwards; gives whether all were there.
    fn settle(&mut self, duals: &mut Duals) -> bool {
        let mut all = true;
        let columns = (0..self.n).filter(|&v| self.at[v].is_none()).map(Member::Column);
        let rows = self.work.iter().filter(|&&r| self.row_at[r].is_none());
        let outside: Vec<Member> = columns.chain(rows.map(|&r| Member::Row(r))).collect();
        for member in outside {
            let (d, (lo, hi), x) = (
                self.dual_of(member, duals),
                self.bounds_of(member),
                self.value_of(member),
            );
            let mut to = if d > OPTIMAL {
                lo
            } else if d < -OPTIMAL {
                hi
            } else {
                x.clamp(lo, hi)
            };
            if !to.is_finite() {
                match member {
                    Member::Column(v) => duals.d[v] = 0.0,
                    Member::Row(r) => {
                        if let Some(i) = self.rows[r].active {
                            duals.y[i] = 0.0;
                        }
                    }
                }
                to = x.clamp(lo, hi);
                all = false;
            }
            self.set_value(member, to);
        }
        self.recompute();
        all
    }

    /// The place of the basis that is furthest outside its bounds, by the length of its row, and which way it
    /// must go.
    fn worst(&self) -> Option<(usize, f64)> {
        let far = |p: usize| {
            let miss = self.miss(self.basis[p]);
            (miss != 0.0).then(|| {
                let line = &self.inverse[p];
                (miss * miss / dot(line, line).max(1e-12), p, -miss.signum())
            })
        };
        (0..self.basis.len())
            .filter_map(far)
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .map(|w| (w.1, w.2))
    }

    /// The coordinates of all columns at a place of the basis.
    fn pivot_row(&self, p: usize) -> Vec<f64> {
        let mut row = vec![0.0; self.n];
        for (&r, &b) in self.work.iter().zip(&self.inverse[p]) {
            if b != 0.0 {
                for &(v, k) in &self.rows[r].terms {
                    row[v] += b * k;
                }
            }
        }
        row
    }

    /// Who may enter for the member at a place that must go up (`way` 1) or down (-1).
    fn candidates(&self, p: usize, way: f64, row: &[f64], duals: &Duals) -> Vec<Candidate> {
        let mut all = Vec::new();
        let mut ask = |member: Member, pivot: f64, d: f64, x: f64, lo: f64, hi: f64| {
            // Against its coordinate it moves: up when it stands low, down when it stands high.
            let up = way * pivot < 0.0;
            if lo < hi && if up { x < hi } else { x > lo } {
                let ratio = if up { d } else { -d }.max(0.0) / pivot.abs();
                let to = if up { hi } else { lo };
                all.push(Candidate {
                    member,
                    ratio,
                    pivot,
                    to,
                });
            }
        };
        for (v, &pivot) in row.iter().enumerate() {
            if pivot.abs() > PIVOT && self.at[v].is_none() {
                let d = duals.d[v];
                ask(Member::Column(v), pivot, d, self.x[v], self.lo[v], self.hi[v]);
            }
        }
        for (i, &r) in self.work.iter().enumerate() {
            let pivot = -self.inverse[p][i];
            if pivot.abs() > PIVOT && self.row_at[r].is_none() {
                let row = &self.rows[r];
                ask(Member::Row(r), pivot, duals.y[i], self.s[r], row.lo, row.hi);
            }
        }
        all
    }

    /// Moves members outside the basis to their other bound.
    fn flip(&mut self, all: &[Candidate]) {
        let mut change = vec![0.0; self.work.len()];
        for c in all {
            let by = c.to - self.value_of(c.member);
            match c.member {
                Member::Column(v) => {
                    for &(i, k) in &self.columns[v] {
                        change[i] += k * by;
                    }
                }
                Member::Row(r) => {
                    if let Some(i) = self.rows[r].active {
                        change[i] -= by;
                    }
                }
            }
            self.set_value(c.member, c.to);
        }
        let busy: Vec<usize> = (0..change.len()).filter(|&i| change[i] != 0.0).collect();
        for p in 0..self.basis.len() {
            let by: f64 = busy.iter().map(|&i| self.inverse[p][i] * change[i]).sum();
            if by != 0.0 {
                self.set_value(self.basis[p], self.value_of(self.basis[p]) - by);
            }
        }
    }

    /// Moves a member outside the basis by a step, and the basis with it.
    fn shift(&mut self, enter: Member, step: f64, alpha: &[f64]) {
        self.set_value(enter, self.value_of(enter) + step);
        for (p, a) in alpha.iter().enumerate() {
            if *a != 0.0 {
                self.set_value(self.basis[p], self.value_of(self.basis[p]) - a * step);
            }
        }
    }

    /// Exchanges a member of the basis, and brings prices and reduced costs along.
    fn exchange(&mut self, p: usize, enter: Member, alpha: &[f64], row: &[f64], duals: &mut Duals) {
        let by = self.dual_of(enter, duals) / alpha[p];
        for (y, b) in duals.y.iter_mut().zip(&self.inverse[p]) {
            *y += by * b;
        }
        for (d, a) in duals.d.iter_mut().zip(row) {
            *d -= by * a;
        }
        let out = self.basis[p];
        self.swap(p, enter, alpha);
        for (member, d) in [(enter, 0.0), (out, -by)] {
            match member {
                Member::Column(v) => duals.d[v] = d,
                Member::Row(r) => {
                    if let Some(i) = self.rows[r].active {
                        duals.y[i] = d;
                    }
                }
            }
        }
    }

    /// The rows at work that a lever moves, from where they stand at a place of it.
    fn moving(&self, rows: &[(usize, f64, f64)], at: f64) -> Vec<Moving> {
        let of = |r: usize, floor: f64, ceiling: f64| {
            let row = &self.rows[r];
            let rates = (floor / row.scale, ceiling / row.scale);
            Moving {
                row: r,
                rates,
                bounds: (row.lo - rates.0 * at, row.hi - rates.1 * at),
            }
        };
        let mut out = Vec::new();
        for &(given, floor, ceiling) in rows {
            match self.given[given] {
                Given::Row(r) => out.push(of(r, floor, ceiling)),
                Given::Cover(c) => out.extend(self.covers[c].cuts.iter().map(|cut| of(cut.0, floor, 0.0))),
                Given::Gone => {}
            }
        }
        out
    }

    /// Follows the optimum from one place of a lever to another, corner by corner. `rows` are those of a
    /// [`crate::solve::duals::Lever`]; the program is solved at `from`. It stands where the walk ended.
    ///
    /// # Errors
    /// When it does not come on; the program then stands at the place that was reached, which is told.
    pub fn follow(
        &mut self,
        rows: &[(usize, f64, f64)],
        from: f64,
        to: f64,
    ) -> Result<Walk, (Walk, NoOptimum)> {
        let mut walk = Walk {
            reached: from,
            ..Walk::default()
        };
        let fail = |walk: Walk, why: &str| Err((walk, NoOptimum::Failed(why.into())));
        self.proof = None;
        // Rows that move are at work from the start.
        for &(given, ..) in rows {
            if let Given::Row(r) = self.given[given]
                && self.rows[r].active.is_none()
            {
                self.activate(r);
            }
        }
        let mut duals = self.duals();
        if !self.settle(&mut duals) {
            return fail(walk, "the prices do not fit");
        }
        let mut moving = self.moving(rows, from);
        let (way, width) = ((to - from).signum(), (to - from).abs());
        let mut idle = 0;
        loop {
            if self.since_refresh >= WEAR * REFRESH {
                self.refresh();
                duals = self.duals();
                if !self.settle(&mut duals) {
                    return fail(walk, "the prices do not fit");
                }
            }
            let at = walk.reached;
            let rates = self.rates(&moving);
            let left = (to - at).abs();
            let stop = self.next_stop(&moving, &rates, way, width, idle > STALLED);
            let step = stop.map_or(left, |s| s.0.min(left));
            if step > 1e-13 * width {
                let value = self.value();
                let (x, mut s) = (self.x.clone(), self.s.clone());
                let there = if step >= left { to } else { at + way * step };
                for (p, rate) in rates.iter().enumerate() {
                    if *rate != 0.0 {
                        self.set_value(self.basis[p], self.value_of(self.basis[p]) + way * step * rate);
                    }
                }
                self.place(rows, &moving, at, there);
                let more = self.unmet();
                if !more.is_empty() {
                    // Rows that would be broken there come to work first.
                    self.place(rows, &moving, there, at);
                    s.resize(self.s.len(), 0.0);
                    (self.x, self.s) = (x, s);
                    for r in more {
                        self.activate(r);
                        duals.y.push(0.0);
                    }
                    moving = self.moving(rows, at);
                    continue;
                }
                walk.stretches.push(Stretch {
                    ends: [at, there],
                    values: [value, self.value()],
                    prices: self.given_prices(&duals.y),
                });
                walk.reached = there;
                idle = 0;
            } else {
                idle += 1;
            }
            let Some((_, p, below)) = stop.filter(|s| s.0 < left - 1e-12 * width) else {
                if walk.reached != to {
                    self.place(rows, &moving, walk.reached, to);
                    walk.reached = to;
                }
                return Ok(walk);
            };
            if idle > MOST_IDLE {
                return fail(walk, "the walk does not come on");
            }
            let must = if below { 1.0 } else { -1.0 };
            let row = self.pivot_row(p);
            let all = self.candidates(p, must, &row, &duals);
            let first = all.iter().map(|c| c.ratio).fold(f64::INFINITY, f64::min);
            let Some(enter) = all.iter().filter(|c| c.ratio <= first + OPTIMAL).max_by(|a, b| {
                if idle > STALLED {
                    a.member.number().cmp(&b.member.number())
                } else {
                    a.pivot.abs().total_cmp(&b.pivot.abs())
                }
            }) else {
                self.proof = Some(self.inverse[p].iter().map(|b| -must * b).collect());
                // That no point exists beyond is proved at the far end.
                self.place(rows, &moving, walk.reached, to);
                walk.closed = !self.contradiction().is_empty();
                self.place(rows, &moving, to, walk.reached);
                return if walk.closed {
                    Ok(walk)
                } else {
                    fail(walk, "an end without a proof")
                };
            };
            let alpha = self.ahead(enter.member);
            if (alpha[p] - enter.pivot).abs() > 1e-7 * (1.0 + enter.pivot.abs()) {
                if self.since_refresh == 0 {
                    return fail(walk, "two coordinates of one column");
                }
                self.refresh();
                duals = self.duals();
                if !self.settle(&mut duals) {
                    return fail(walk, "the prices do not fit");
                }
                continue;
            }
            let (lo, hi) = self.bounds_of(self.basis[p]);
            self.set_value(self.basis[p], if below { lo } else { hi });
            let enter = enter.member;
            self.exchange(p, enter, &alpha, &row, &mut duals);
        }
    }

    /// Change of each value of the basis per unit of a lever.
    fn rates(&self, moving: &[Moving]) -> Vec<f64> {
        let mut rates = vec![0.0; self.basis.len()];
        for m in moving {
            let rate = self.rate_outside(m);
            if let (Some(i), true) = (self.rows[m.row].active, rate != 0.0) {
                for (rate_of, line) in rates.iter_mut().zip(&self.inverse) {
                    *rate_of += line[i] * rate;
                }
            }
        }
        rates
    }

    /// Rate of a row that is outside the basis, by the bound it stands at; 0 inside.
    fn rate_outside(&self, m: &Moving) -> f64 {
        match self.bound_held(m.row) {
            Some(true) => m.rates.0,
            Some(false) => m.rates.1,
            None => 0.0,
        }
    }

    /// The bound at which a row stands that is outside the basis: `true` the lower one.
    fn bound_held(&self, r: usize) -> Option<bool> {
        let (row, s) = (&self.rows[r], self.s[r]);
        let at = |bound: f64| bound.is_finite() && (s - bound).abs() <= FEASIBLE * bound.abs().max(1.0);
        if row.active.is_none() || self.row_at[r].is_some() {
            None
        } else if at(row.lo) {
            Some(true)
        } else {
            at(row.hi).then_some(false)
        }
    }

    /// Takes the bounds of the rows that move from one place to another, and the rows at their bounds with
    /// them.
    fn place(&mut self, rows: &[(usize, f64, f64)], moving: &[Moving], from: f64, to: f64) {
        for m in moving {
            let held = self.bound_held(m.row);
            let row = &mut self.rows[m.row];
            row.lo = m.bounds.0 + m.rates.0 * to;
            row.hi = m.bounds.1 + m.rates.1 * to;
            match held {
                Some(true) => self.s[m.row] = row.lo,
                Some(false) => self.s[m.row] = row.hi,
                None => {}
            }
        }
        for &(given, floor, _) in rows {
            if let Given::Cover(c) = self.given[given] {
                self.covers[c].least += floor * (to - from);
            }
        }
    }

    /// The first value of the basis that meets a bound on the way: how far it is, its place, and whether it
    /// is its lower bound.
    fn next_stop(
        &self,
        moving: &[Moving],
        rates: &[f64],
        way: f64,
        width: f64,
        first_named: bool,
    ) -> Option<(f64, usize, bool)> {
        let mut own: Vec<(f64, f64)> = vec![(0.0, 0.0); self.basis.len()];
        for m in moving {
            if let Some(p) = self.row_at[m.row] {
                own[p] = m.rates;
            }
        }
        let mut all: Vec<(f64, f64, usize, bool, f64)> = Vec::new();
        for (p, &member) in self.basis.iter().enumerate() {
            let (x, (lo, hi)) = (self.value_of(member), self.bounds_of(member));
            for (below, room, speed, bound) in [
                (true, x - lo, way * (own[p].0 - rates[p]), lo),
                (false, hi - x, way * (rates[p] - own[p].1), hi),
            ] {
                // What would be passed by less than rounding at the far end is no stop.
                if bound.is_finite() && speed * width > FEASIBLE {
                    let slack = FEASIBLE * bound.abs().max(1.0);
                    all.push((
                        room.max(0.0) / speed,
                        speed,
                        p,
                        below,
                        (room.max(0.0) + slack) / speed,
                    ));
                }
            }
        }
        let most = all.iter().map(|s| s.4).fold(f64::INFINITY, f64::min);
        all.iter()
            .filter(|s| s.0 <= most)
            .max_by(|a, b| {
                if first_named {
                    let number = |s: &(f64, f64, usize, bool, f64)| self.basis[s.2].number();
                    number(a).cmp(&number(b))
                } else {
                    a.1.total_cmp(&b.1)
                }
            })
            .map(|s| (s.0, s.2, s.3))
    }
}

/// Sorts the next candidates by their ratio, and gives how many are sorted then.
fn sort_more(all: &mut [Candidate], sorted: usize) -> usize {
    let by = |a: &Candidate, b: &Candidate| a.ratio.total_cmp(&b.ratio);
    let rest = &mut all[sorted..];
    let few = if sorted == 0 {
        rest.len().min(SORTED)
    } else {
        rest.len()
    };
    if few < rest.len() {
        rest.select_nth_unstable_by(few, by);
    }
    rest[..few].sort_unstable_by(by);
    sorted + few
}

impl Member {
    /// A number that orders members, so that the same one is always taken first.
    fn number(self) -> (bool, usize) {
        match self {
            Member::Column(v) => (false, v),
            Member::Row(r) => (true, r),
        }
    }
}
