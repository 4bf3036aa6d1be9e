//! Why this plan, and why no plan: prices of targets and rules, what is left out, conflicts, ways out, sweeps.
//!
//! Takes what a model is built from, gives values that say what each bound costs. All of it is read
//! from the merged program of `docs/math.md` section 7, in which servings may be parted and alike days
//! are one; what whole servings make of it is said beside it. Comes after `plan`; prints nothing.

pub mod diet;
pub mod live;
pub mod sweep;
mod ways;

pub use ways::{NoPlan, no_plan};

use crate::brief::{Brief, Scope};
use crate::diagnostic::Diagnostic;
use crate::model::build::{Built, Pieces, alike, bought, build};
use crate::model::linear::{Linear, expand};
use crate::model::{Class, Model};
use crate::plan::short_of;
use crate::solve::bound::{
    Bound, Giving, Stand, Standing, asked_of, give_way, judge, must_rows, of_musts, stand, uses,
};
use crate::solve::duals::{Lever, entry, keep_near, range, without};
use crate::solve::engine::NoOptimum;
use crate::solve::search::search;
use crate::solve::simplex::{Basis, Simplex};
use crate::solve::verify::broken;
use crate::targets::Target;
use itertools::Itertools;
use std::collections::{BTreeMap, HashMap};

/// Floor or ceiling.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// The lowest that is allowed.
    Floor,
    /// The highest that is allowed.
    Ceiling,
}

impl Side {
    /// `floor` or `ceiling`.
    pub fn id(self) -> &'static str {
        match self {
            Side::Floor => "floor",
            Side::Ceiling => "ceiling",
        }
    }
}

/// What a bound costs.
///
/// Signs: `up` is the change of the optimum for one unit that the bound rises, `down` the change for one
/// unit that it falls. A binding floor of a cheapest plan has `up` over 0 and `down` under 0.
#[derive(Clone, Debug, PartialEq)]
pub struct BoundPrice {
    /// Id of the target, or `budget`.
    pub id: String,
    /// The target as a person names it.
    pub name: String,
    /// Which bound.
    pub side: Side,
    /// The bound, a day (or a meal), in `unit`.
    pub bound: f64,
    /// Unit of the bound.
    pub unit: String,
    /// Objective's unit per unit of the bound; `None` when no plan is left beyond.
    pub up: Option<f64>,
    /// The same for the bound falling.
    pub down: Option<f64>,
    /// Whether the two sides differ: a corner, where each price holds on its own side only.
    pub corner: bool,
    /// What leaving the target out saves; `None` when it could not be told.
    pub without: Option<f64>,
    /// Set by the brief.
    pub from_brief: bool,
    /// Why it is there.
    pub reason: String,
}

/// What keeping a rule costs.
#[derive(Clone, Debug, PartialEq)]
pub struct RulePrice {
    /// Group of rows, `meal shape`, `diet vegan`, `dislike eggs`, `locked meals`.
    pub id: String,
    /// The rule as a person names it.
    pub name: String,
    /// Optimum with the rule less the optimum without, in the objective's unit; `None` when not told.
    pub price: Option<f64>,
}

/// An item that the cheapest plan leaves out.
#[derive(Clone, Debug, PartialEq)]
pub struct LeftOut {
    /// Item id.
    pub id: String,
    /// Name.
    pub name: String,
    /// One serving in words.
    pub serving: String,
    /// Price of a serving.
    pub costs: f64,
    /// Price of a serving under which it would enter.
    pub enters: f64,
    /// Grams as bought in a serving, when it is bought as one product.
    pub grams: Option<f64>,
}

/// How far an item may vary while the objective stays near its best.
#[derive(Clone, Debug, PartialEq)]
pub struct ItemRange {
    /// Item id.
    pub id: String,
    /// Name.
    pub name: String,
    /// One serving in words.
    pub serving: String,
    /// Servings at the optimum, all days.
    pub now: f64,
    /// Fewest servings.
    pub least: f64,
    /// Most servings.
    pub most: f64,
}

/// A floor that food does not reach.
#[derive(Clone, Debug, PartialEq)]
pub struct Lowered {
    /// Target id.
    pub id: String,
    /// The target as a person names it.
    pub name: String,
    /// The floor as asked for, a day.
    pub asked: f64,
    /// The floor it was solved with.
    pub taken: f64,
    /// Unit.
    pub unit: String,
}

/// What whole servings make of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Whole {
    /// Objective of the plan found.
    pub value: f64,
    /// (value - optimum) / value.
    pub gap: f64,
    /// Moves the search tried.
    pub moves: u64,
}

/// Why the plan is as it is.
#[derive(Clone, Debug, PartialEq)]
pub struct Why {
    /// Title of the brief.
    pub title: String,
    /// Objective id.
    pub objective: &'static str,
    /// Unit of the objective and of every price; money is a day's.
    pub unit: String,
    /// Whether the objective is money.
    pub money: bool,
    /// Days planned.
    pub days: u32,
    /// The optimum in parted servings.
    pub value: f64,
    /// Whether prices recomputed outside the solver prove that no plan goes below it.
    pub proved: bool,
    /// The plan in whole servings, when the search found one.
    pub whole: Option<Whole>,
    /// What the nearest in whole servings misses when it found none: then fractions can hold all of it, and
    /// only whole servings may not.
    pub missed: Vec<String>,
    /// Bounds that bind, dearest first.
    pub prices: Vec<BoundPrice>,
    /// Nutrients whose bounds cost nothing, and bounds that do not where another of the nutrient does.
    pub free: Vec<String>,
    /// Floors that food does not reach.
    pub lowered: Vec<Lowered>,
    /// Rules, dearest first.
    pub rules: Vec<RulePrice>,
    /// Items that would enter next.
    pub left_out: Vec<LeftOut>,
    /// Items eaten.
    pub ranges: Vec<ItemRange>,
}

/// How near to the best objective the ranges of items are asked for.
pub const NEAR: f64 = 0.01;
/// Items left out that are told.
const LEFT_OUT: usize = 8;
/// Moves of the quick search for a plan in whole servings, a share of those of `plan`.
pub const QUICK: u64 = 8;

/// A brief's model with its merged program and solver.
pub struct Case<'a> {
    /// What it was built from.
    pub pieces: Pieces<'a>,
    /// The model, floors out of reach lowered.
    pub built: Built,
    /// The merged program.
    pub lp: Linear,
    /// Its solver, at the optimum when the standing is open.
    pub simplex: Simplex,
    /// How it stands.
    pub standing: Standing,
    /// Floors that were lowered: target, floor asked for.
    lowered: Vec<(usize, f64)>,
}

/// What a person moves when a target moves: for each merged row how many times the daily bound it holds.
fn levers(pieces: Pieces, built: &Built, lp: &Linear) -> Vec<Vec<(usize, f64)>> {
    let model = &built.model;
    let merged: HashMap<usize, usize> = lp
        .rows
        .iter()
        .enumerate()
        .filter_map(|(n, r)| Some((model.rows[r.row?].twin?, n)))
        .collect();
    pieces
        .targets
        .iter()
        .zip(&built.target_rows)
        .map(|(t, rows)| {
            let mut sum: BTreeMap<usize, f64> = BTreeMap::new();
            for &r in rows {
                if let Some(&n) = model.rows[r].twin.and_then(|twin| merged.get(&twin)) {
                    *sum.entry(n).or_default() += if t.scope == Scope::Mean {
                        f64::from(pieces.brief.days)
                    } else {
                        model.rows[r].stands_for
                    };
                }
            }
            sum.into_iter().collect()
        })
        .collect()
}

/// The basis of another program in the numbers of this one, by the names of variables and rows; what is not here is
/// left out.
fn named_here(lp: &Linear, other: &Linear, basis: Basis) -> Basis {
    let variables: HashMap<&str, usize> = lp
        .variables
        .iter()
        .enumerate()
        .map(|(n, v)| (v.name.as_str(), n))
        .collect();
    let rows: HashMap<&str, usize> = lp
        .rows
        .iter()
        .enumerate()
        .map(|(n, r)| (r.name.as_str(), n))
        .collect();
    let column = |v: usize| variables.get(other.variables.get(v)?.name.as_str()).copied();
    let row = |(r, outside): (usize, bool)| Some((*rows.get(other.rows.get(r)?.name.as_str())?, outside));
    Basis {
        columns: basis.columns.into_iter().filter_map(column).collect(),
        rows: basis.rows.into_iter().filter_map(row).collect(),
    }
}

/// A merged program with bounds that are moved, and its solvers.
#[derive(Clone, Debug)]
pub struct Near {
    /// The program with its bounds where they are; [`Near::solve`] lowers floors that food does not reach.
    pub lp: Linear,
    /// Its solver.
    pub simplex: Simplex,
    /// A solver of what must hold alone, once it was asked for: reference floors hold nothing there.
    musts: Option<Simplex>,
    /// The program whose reference floors give way, once it was asked for.
    giving: Option<Giving>,
    /// Whether something gave way to the last question.
    gave: bool,
}

impl Near {
    /// The optimum of the program as its bounds now are, with the floors lowered that food does not reach. The case
    /// is the one whose bounds are moved.
    ///
    /// # Errors
    /// No optimum; when what must hold cannot, [`Near::contradiction`] tells why.
    pub fn solve(&mut self, case: &Case) -> Result<f64, NoOptimum> {
        // Where something gave way to the last question, it is asked first what does to this one.
        if !std::mem::take(&mut self.gave) {
            match self.solve_as_it_is() {
                Err(NoOptimum::Infeasible) => {}
                other => return other,
            }
        }
        let giving = match self.giving.take().and_then(|g| g.moved(&self.lp)) {
            Some(giving) => giving?,
            None => {
                if self.contradiction(case).is_some() {
                    return Err(NoOptimum::Infeasible);
                }
                Giving::new(&self.lp, self.musts.as_ref().ok_or(NoOptimum::Infeasible)?)?
            }
        };
        for (n, reach) in giving.short() {
            let lo = &mut self.lp.rows[n].lo;
            *lo = lo.map(|lo| lo.min(asked_of(reach)));
            self.gave = true;
        }
        self.giving = Some(giving);
        self.solve_as_it_is()
    }

    fn solve_as_it_is(&mut self) -> Result<f64, NoOptimum> {
        let rows = self.lp.rows.iter().enumerate();
        self.simplex.set_rows(rows.map(|(n, r)| (n, r.lo, r.hi)));
        self.simplex.solve_again()
    }

    /// The groups of rows that must hold and cannot, as one proof has them; `None` when all can once reference
    /// floors give way.
    pub fn contradiction(&mut self, case: &Case) -> Option<Vec<String>> {
        self.begin_musts(case);
        let musts = self.musts.as_mut()?;
        musts.set_rows(must_rows(&self.lp));
        contradiction(musts, &self.lp)
    }

    /// Makes ready beforehand what is asked where not all can hold.
    pub fn begin_musts(&mut self, case: &Case) {
        self.musts.get_or_insert_with(|| {
            // Begun where the case has its optimum: leaving out floors breaks nothing there.
            let mut musts = case.simplex.clone();
            musts.set_rows(must_rows(&case.lp));
            // Whatever came out, the next question is asked from there.
            let _ = musts.solve();
            musts
        });
    }

    /// The program of what must hold alone with its solver.
    pub fn musts(&self) -> Option<(Linear, Simplex)> {
        Some((of_musts(&self.lp), self.musts.clone()?))
    }
}

/// What one proof leans on that the rows held by a solver contradict each other; `None` when they do not.
fn contradiction(simplex: &mut Simplex, lp: &Linear) -> Option<Vec<String>> {
    match simplex.solve_again() {
        Err(NoOptimum::Infeasible) => {}
        _ => return None,
    }
    let rows = simplex
        .contradiction()
        .into_iter()
        .map(|r| lp.rows[r].group.clone());
    Some(rows.filter(|g| !g.is_empty()).unique().collect())
}

/// How a program that is only asked for its optimum stands.
fn standing_of(built: &Built, stood: &mut Stand) -> Standing {
    match stood.simplex.solve_again() {
        Ok(v) => open_at(v),
        Err(_) => judge(&built.model, stood),
    }
}

/// An optimum without guidance for a search.
fn open_at(value: f64) -> Standing {
    Standing::Open(Bound {
        value: Some(value),
        uses: Vec::new(),
        dear: Vec::new(),
    })
}

/// The lever of one side of a target.
fn lever(rows: &[(usize, f64)], side: Side) -> Lever {
    Lever {
        rows: rows
            .iter()
            .map(|&(r, k)| match side {
                Side::Floor => (r, k, 0.0),
                Side::Ceiling => (r, 0.0, k),
            })
            .collect(),
    }
}

/// A target as a person names it: `protein, each day`.
pub fn spoken(t: &Target) -> String {
    let over = match t.scope {
        Scope::Meal => "each main meal",
        Scope::Day => "each day",
        Scope::Mean => "mean of the days",
    };
    format!("{}, {over}", t.nutrient.name())
}

impl<'a> Case<'a> {
    /// Builds and solves.
    ///
    /// # Errors
    /// Mistakes of the brief that only show against the kitchen.
    pub fn new(pieces: Pieces<'a>) -> Result<Case<'a>, Vec<Diagnostic>> {
        let built = build(pieces)?;
        let (standing, stood) = stand(&built.model);
        Ok(Case::stood(pieces, built, standing, stood))
    }

    /// A case that has been looked at, with the floors lowered that food does not reach.
    fn stood(pieces: Pieces<'a>, mut built: Built, mut standing: Standing, stood: Stand) -> Case<'a> {
        let (mut lp, mut simplex) = (stood.lp, stood.simplex);
        let mut lowered = Vec::new();
        if let Standing::Short(short) = &standing {
            for s in short {
                let twin = built.model.rows[s.row].twin;
                let target = built
                    .target_rows
                    .iter()
                    .position(|rows| rows.iter().any(|&r| built.model.rows[r].twin == twin));
                if let Some((t, floor)) = target.and_then(|t| Some((t, pieces.targets[t].floor?))) {
                    lowered.push((t, floor));
                }
            }
            give_way(&mut built.model, short);
            lp = expand(&built.model, true);
            let should = lp.rows.iter().enumerate();
            let should = should.filter(|(_, r)| r.class == Class::Should);
            simplex.set_rows(should.map(|(n, r)| (n, r.lo, r.hi)));
            standing = match simplex.solve() {
                Ok(v) => Standing::Open(Bound {
                    value: Some(v),
                    uses: uses(&built.model, &lp, &simplex.point()),
                    dear: Vec::new(),
                }),
                Err(e) => Standing::Unknown(e.to_string()),
            };
        }
        Case {
            pieces,
            built,
            lp,
            simplex,
            standing,
            lowered,
        }
    }

    /// As [`Case::new`] for one who moves bounds from here: solved by the shorter way, with no guidance for a
    /// search.
    ///
    /// # Errors
    /// As [`Case::new`].
    pub fn open(pieces: Pieces<'a>) -> Result<Case<'a>, Vec<Diagnostic>> {
        let built = build(pieces)?;
        let lp = expand(&built.model, true);
        let simplex = Simplex::new(&lp);
        let mut stood = Stand { lp, simplex };
        let standing = standing_of(&built, &mut stood);
        Ok(Case::stood(pieces, built, standing, stood))
    }

    /// As [`Case::open`] of one day in the place of all that are alike, from where the program of a brief nearby
    /// ended: for the merged program alone. A conflict is told by one proof of it, which may name more than it
    /// must; floors that food does not reach are not lowered, and the standing is that none of them is known.
    ///
    /// # Errors
    /// As [`Case::new`].
    pub fn near(pieces: Pieces<'a>, near: Option<Near>) -> Result<(Case<'a>, Near), Vec<Diagnostic>> {
        let built = alike(pieces)?;
        let lp = expand(&built.model, true);
        let (mut simplex, mut musts) = match near {
            Some(other) => {
                let on = |mut simplex: Simplex| {
                    if !simplex.renew(&other.lp, &lp) {
                        let basis = named_here(&lp, &other.lp, simplex.basis());
                        simplex = Simplex::new(&lp);
                        simplex.begin_at(&basis);
                    }
                    simplex
                };
                (on(other.simplex), other.musts.map(on))
            }
            None => (Simplex::new(&lp), None),
        };
        let standing = match simplex.solve_again() {
            Ok(v) => open_at(v),
            Err(NoOptimum::Infeasible) => {
                let musts = musts.get_or_insert_with(|| simplex.clone());
                musts.set_rows(must_rows(&lp));
                match contradiction(musts, &lp) {
                    Some(groups) => Standing::Conflict(groups),
                    None => Standing::Short(Vec::new()),
                }
            }
            Err(e) => Standing::Unknown(e.to_string()),
        };
        let case = Case {
            pieces,
            built,
            lp,
            simplex,
            standing,
            lowered: Vec::new(),
        };
        let near = Near {
            musts,
            ..case.afresh()
        };
        Ok((case, near))
    }

    /// Its program to move bounds in, begun anew.
    pub fn afresh(&self) -> Near {
        Near {
            lp: self.lp.clone(),
            simplex: self.simplex.clone(),
            musts: None,
            giving: None,
            gave: false,
        }
    }

    /// Money is told by the day, other objectives as they are.
    fn share(&self) -> f64 {
        if self.built.model.objective.cost {
            f64::from(self.pieces.brief.days)
        } else {
            1.0
        }
    }

    /// Each item's amount in servings over all days, as a sum of variables.
    fn servings(&self) -> BTreeMap<usize, Vec<(usize, f64)>> {
        let mut all: BTreeMap<usize, BTreeMap<usize, f64>> = BTreeMap::new();
        for (n, c) in self.built.model.columns.iter().enumerate() {
            for &(v, steps) in self.lp.amount[n].iter() {
                all.entry(c.item).or_default().insert(v, steps * c.servings);
            }
        }
        all.into_iter()
            .map(|(i, s)| (i, s.into_iter().collect()))
            .collect()
    }

    /// Why the plan is as it is; `None` when there is no optimum in parted servings.
    pub fn why(&self) -> Option<Why> {
        let Standing::Open(open) = &self.standing else {
            return None;
        };
        let (first, (whole, second)) = std::thread::scope(|scope| {
            let other = scope.spawn(|| {
                let whole = Some(self.whole(&open.uses));
                (whole, (self.rules(), self.ranges(1)))
            });
            let here = (self.prices(), self.left_out(), self.ranges(0));
            (here, other.join().unwrap_or_default())
        });
        let ((prices, free), left_out, mut ranges) = first;
        let (mut rules, more) = second;
        ranges.extend(more);
        ranges.sort_by(|a, b| b.now.total_cmp(&a.now).then_with(|| a.id.cmp(&b.id)));
        rules.sort_by(|a, b| b.price.unwrap_or(0.0).total_cmp(&a.price.unwrap_or(0.0)));
        let (value, bound) = (self.simplex.value(), self.simplex.bound());
        let objective = &self.built.model.objective;
        Some(Why {
            title: self.pieces.brief.title.clone(),
            objective: objective.id,
            unit: if objective.cost {
                format!("{} a day", objective.unit)
            } else {
                objective.unit.clone()
            },
            money: objective.cost,
            days: self.pieces.brief.days,
            value: value / self.share(),
            proved: bound >= value - 1e-6 * value.abs().max(1e-3),
            missed: match &whole {
                Some(Err(missed)) => missed.clone(),
                _ => Vec::new(),
            },
            whole: whole.and_then(Result::ok).map(|w| Whole {
                value: w.value / self.share(),
                ..w
            }),
            prices,
            free,
            lowered: self.lowered(),
            rules,
            left_out,
            ranges,
        })
    }

    fn lowered(&self) -> Vec<Lowered> {
        self.lowered
            .iter()
            .map(|&(t, asked)| {
                let target = &self.pieces.targets[t];
                let times = if target.scope == Scope::Mean {
                    f64::from(self.pieces.brief.days)
                } else {
                    1.0
                };
                let row = self.built.target_rows[t].first();
                let taken = row.and_then(|&r| self.built.model.rows[r].floor).unwrap_or(0.0) / times;
                Lowered {
                    id: target.id.clone(),
                    name: spoken(target),
                    asked,
                    taken,
                    unit: target.nutrient.unit().symbol().into(),
                }
            })
            .collect()
    }

    /// A plan in whole servings, by a short search; else the names of what the nearest misses.
    fn whole(&self, uses: &[f64]) -> Result<Whole, Vec<String>> {
        let model = &self.built.model;
        let bound = self.simplex.value();
        let effort = short_of(self.pieces.brief, QUICK);
        let found = search(model, uses, bound, effort, None);
        let value = model.value(&found.steps);
        let missed = broken(model, &found.forms, &found.steps);
        if missed.is_empty() {
            return Ok(Whole {
                value,
                gap: if value.abs() > 1e-12 {
                    ((value - bound) / value).max(0.0)
                } else {
                    0.0
                },
                moves: found.moves,
            });
        }
        let name = |group: &str| {
            let id = group.strip_prefix("reference ").unwrap_or(group);
            let target = self.pieces.targets.iter().find(|t| t.id == id);
            target.map_or_else(|| rule_name(group), spoken)
        };
        Err(missed.iter().map(|m| name(&m.group)).unique().collect())
    }

    /// Prices of the bounds that bind, dearest first, and the names of the targets that cost nothing.
    fn prices(&self) -> (Vec<BoundPrice>, Vec<String>) {
        let share = self.share();
        let x = self.simplex.point();
        let mut out: Vec<BoundPrice> = Vec::new();
        let mut bounds = Vec::new();
        let of = |l: &Lever, rows: &[usize]| {
            let p = l.price(&self.simplex, &self.lp);
            let without = without(&self.simplex, rows).ok();
            let saved = without.map(|w| ((self.simplex.value() - w) / share).max(0.0));
            (
                p.up.map(|v| v / share),
                p.down.map(|v| v / share),
                p.corner(),
                saved,
            )
        };
        for (t, rows) in self
            .pieces
            .targets
            .iter()
            .zip(levers(self.pieces, &self.built, &self.lp))
        {
            for (side, bound) in [(Side::Floor, t.floor), (Side::Ceiling, t.ceiling)] {
                let Some(bound) = bound else { continue };
                let l = lever(&rows, side);
                bounds.push((t, side));
                if !l.binds(&self.lp, &x) {
                    continue;
                }
                let all: Vec<usize> = rows.iter().map(|r| r.0).collect();
                let (up, down, corner, saved) = of(&l, &all);
                let some = |p: Option<f64>| p.is_none_or(|p| p.abs() > 1e-9 / share);
                if !some(up) && !some(down) {
                    continue;
                }
                bounds.pop();
                out.push(BoundPrice {
                    id: t.id.clone(),
                    name: spoken(t),
                    side,
                    bound,
                    unit: t.nutrient.unit().symbol().into(),
                    up,
                    down,
                    corner,
                    without: saved,
                    from_brief: t.from_brief,
                    reason: t.reason.clone(),
                });
            }
        }
        // Told by nutrient where none of its bounds costs anything, else by bound.
        let dear: Vec<&str> = out.iter().map(|p| p.id.as_str()).collect();
        let dear: Vec<_> = self
            .pieces
            .targets
            .iter()
            .filter(|t| dear.contains(&t.id.as_str()))
            .map(|t| t.nutrient)
            .collect();
        let mut free: Vec<String> = bounds
            .into_iter()
            .map(|(t, side)| match dear.contains(&t.nutrient) {
                true => format!("{} ({})", spoken(t), side.id()),
                false => t.nutrient.name().to_string(),
            })
            .unique()
            .collect();
        if let (Some(row), Some(budget)) = (
            self.lp.rows.iter().position(|r| r.group == "budget"),
            self.built.model.budget,
        ) {
            let days = f64::from(self.pieces.brief.days);
            let l = Lever {
                rows: vec![(row, 0.0, days)],
            };
            if l.binds(&self.lp, &x) {
                let (up, down, corner, saved) = of(&l, &[row]);
                out.push(BoundPrice {
                    id: "budget".into(),
                    name: "budget, a day".into(),
                    side: Side::Ceiling,
                    bound: budget / days,
                    unit: self.built.model.currency.clone(),
                    up,
                    down,
                    corner,
                    without: saved,
                    from_brief: true,
                    reason: "the budget of the brief".into(),
                });
            } else {
                free.push("budget".into());
            }
        }
        // By what a tenth of the bound costs.
        let size =
            |p: &BoundPrice| p.up.unwrap_or(0.0).abs().max(p.down.unwrap_or(0.0).abs()) * p.bound.abs();
        out.sort_by(|a, b| size(b).total_cmp(&size(a)));
        (out, free)
    }

    /// The price of each rule: the optimum with it less the optimum without.
    fn rules(&self) -> Vec<RulePrice> {
        let share = self.share();
        let best = self.simplex.value();
        let mut out = Vec::new();
        let targets: Vec<String> = self
            .pieces
            .targets
            .iter()
            .flat_map(|t| [t.id.clone(), format!("reference {}", t.id)])
            .collect();
        let mut groups: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
        for (n, r) in self.lp.rows.iter().enumerate() {
            if !r.group.is_empty() && r.group != "budget" && !targets.contains(&r.group) {
                groups.entry(&r.group).or_default().push(n);
            } else if r.group.is_empty() && structure(&r.name) {
                groups.entry(SHAPE).or_default().push(n);
            }
        }
        for (id, rows) in groups {
            out.push(RulePrice {
                id: id.into(),
                name: rule_name(id),
                price: without(&self.simplex, &rows)
                    .ok()
                    .map(|w| ((best - w) / share).max(0.0)),
            });
        }
        for (id, brief) in exclusions(self.pieces.brief) {
            out.push(RulePrice {
                name: rule_name(&id),
                price: self.otherwise(&brief).map(|w| ((best - w) / share).max(0.0)),
                id,
            });
        }
        out
    }

    /// The optimum of the same model for a brief with fewer exclusions; floors lowered as here.
    fn otherwise(&self, brief: &Brief) -> Option<f64> {
        let mut model = build(Pieces { brief, ..self.pieces }).ok()?.model;
        same_floors(&mut model, &self.built.model);
        Simplex::new(&expand(&model, true)).solve().ok()
    }

    /// Items not eaten that come nearest to it, with the price at which they would be.
    fn left_out(&self) -> Vec<LeftOut> {
        if !self.built.model.objective.cost {
            return Vec::new();
        }
        let reduced = self.simplex.reduced_costs();
        let p = self.pieces;
        // A bound under what one serving would have to be cheaper, to ask in the right order.
        type Asked = (f64, usize, Vec<(usize, f64)>, f64);
        let mut order: Vec<Asked> = self
            .servings()
            .into_iter()
            .filter(|(_, sum)| sum.iter().all(|&(v, _)| self.simplex.x(v) <= 1e-7))
            .filter_map(|(i, sum)| {
                let price = self.built.model.columns.iter().find(|c| c.item == i)?;
                let price = price.cost / price.servings;
                let least = sum
                    .iter()
                    .map(|&(v, k)| reduced[v].max(0.0) / k)
                    .fold(f64::INFINITY, f64::min);
                (price > 0.0).then_some((least / price, i, sum, price))
            })
            .collect();
        order.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut out: Vec<(f64, LeftOut)> = Vec::new();
        for (_, i, sum, price) in order.into_iter().take(2 * LEFT_OUT) {
            let Some(dearer) = entry(&self.simplex, &sum) else {
                continue;
            };
            let item = &p.catalogue.items[i];
            let grams = bought(p.catalogue, item);
            out.push((
                dearer / price,
                LeftOut {
                    id: item.id.clone(),
                    name: item.name.clone(),
                    serving: item.serving.clone(),
                    costs: price,
                    enters: price - dearer,
                    grams: (grams.len() == 1).then(|| grams[0].1),
                },
            ));
        }
        out.sort_by(|a, b| a.0.total_cmp(&b.0));
        out.into_iter().map(|o| o.1).take(LEFT_OUT).collect()
    }

    /// Ranges of the items eaten; every second of them, from the first or the second on.
    fn ranges(&self, from: usize) -> Vec<ItemRange> {
        let best = self.simplex.value();
        let mut near = keep_near(&self.simplex, &self.lp, best + NEAR * best.abs().max(1e-9));
        let mut out = Vec::new();
        let eaten = self
            .servings()
            .into_iter()
            .map(|(i, sum)| {
                (
                    sum.iter().map(|&(v, k)| k * self.simplex.x(v)).sum::<f64>(),
                    i,
                    sum,
                )
            })
            .filter(|e| e.0 > 1e-6);
        for (now, i, sum) in eaten.skip(from).step_by(2) {
            let Ok((least, most)) = range(&mut near, self.lp.variables.len(), &sum) else {
                continue;
            };
            let item = &self.pieces.catalogue.items[i];
            out.push(ItemRange {
                id: item.id.clone(),
                name: item.name.clone(),
                serving: item.serving.clone(),
                now,
                least: least.clamp(0.0, now),
                most: most.max(now),
            });
        }
        out
    }
}

/// The group that the structure of meals is told under.
pub const SHAPE: &str = "meal shape";

/// Whether a row without a group is of the structure of meals.
fn structure(name: &str) -> bool {
    ["one_form_", "part_", "in_form_"]
        .iter()
        .any(|p| name.starts_with(p))
}

/// A rule as a person names it.
pub fn rule_name(id: &str) -> String {
    match id {
        "repeats" => "how often an item may come".into(),
        "variety" => "how many different foods there are".into(),
        "meal sizes" => "how large each meal is".into(),
        SHAPE => "what a meal is made of".into(),
        "likes" => "what is liked comes back".into(),
        "reference fruit_and_vegetables" => "400 g of fruit and vegetables a day".into(),
        _ => id.replace('_', " "),
    }
}

/// The briefs with one exclusion or fixed meal fewer, with its id. Allergies are never among them.
fn exclusions(brief: &Brief) -> Vec<(String, Brief)> {
    let mut out = Vec::new();
    for n in 0..brief.dislikes.len() {
        let mut b = brief.clone();
        let word = b.dislikes.remove(n);
        out.push((format!("dislike {}", word.value), b));
    }
    for n in 0..brief.diets.len() {
        let mut b = brief.clone();
        let word = b.diets.remove(n);
        out.push((format!("diet {}", word.value), b));
    }
    for n in 0..brief.locks.len() {
        let mut b = brief.clone();
        let lock = b.locks.remove(n);
        let days = lock.days.iter().join(", ");
        out.push((format!("locked {} of day {days}", lock.slot.value), b));
    }
    out
}

/// Gives reference floors of one model the values they have in another.
fn same_floors(model: &mut Model, of: &Model) {
    let floors: HashMap<&str, Option<f64>> = of
        .rows
        .iter()
        .filter(|r| r.class == Class::Should)
        .map(|r| (r.name.as_str(), r.floor))
        .collect();
    for r in &mut model.rows {
        if let Some(&floor) = floors.get(r.name.as_str()) {
            r.floor = floor;
        }
    }
}

/// What one unit of each variable of the merged program costs. [currency of the model]
fn bill(model: &Model, lp: &Linear) -> Vec<f64> {
    let mut costs = vec![0.0; lp.variables.len()];
    for (n, c) in model.columns.iter().enumerate() {
        for &(v, steps) in lp.amount[n].iter() {
            costs[v] = c.cost * steps;
        }
    }
    for p in &model.pantry {
        let name = format!("home_{}", p.name);
        if let Some(v) = lp.variables.iter().position(|v| v.name == name) {
            costs[v] = -p.price;
        }
    }
    costs
}
