//! What no plan can beat, what is out of reach, and what cannot hold together.
//!
//! Takes a [`Model`], gives the optimum of its merged continuous form (a proven bound), the amounts
//! at that optimum as guidance for the search, and, when there is none, which rows give way.

use super::duals::Lever;
use super::engine::{NoOptimum, minimise};
use super::iis::{Elastic, irreducible};
use super::simplex::Simplex;
use crate::model::linear::{Constraint, Linear, expand};
use crate::model::{Class, Model};

/// What the linear program says; by default nothing.
#[derive(Clone, Debug, Default)]
pub struct Bound {
    /// No plan has a lower objective; `None` when the engine gave no trusted answer.
    pub value: Option<f64>,
    /// For each column: how often the optimum eats it and its twins.
    pub uses: Vec<f64>,
    /// For each column: by how much the bound rises at least for each time that it is eaten, in the objective's unit;
    /// empty when that is not known.
    pub dear: Vec<f64>,
}

/// A `Should` row that no plan can meet, with what it can reach at most (floor) in the row's unit.
#[derive(Clone, Debug)]
pub struct OutOfReach {
    /// Position in the model's rows.
    pub row: usize,
    /// Highest activity that goes with everything that must hold.
    pub reach: f64,
}

/// How the model stands before any search.
#[derive(Clone, Debug)]
pub enum Standing {
    /// Everything can hold at once, at least in fractions of servings.
    Open(Bound),
    /// Everything that must hold can; these reference rows cannot.
    Short(Vec<OutOfReach>),
    /// These groups of rows cannot hold together: an irreducible set.
    Conflict(Vec<String>),
    /// The engine failed.
    Unknown(String),
}

/// Share of what is reachable in fractions that whole servings are asked to reach.
const REACH_SHARE: f64 = 0.92;

/// A model's merged program with its solver, for further questions.
#[derive(Clone, Debug)]
pub struct Stand {
    /// The merged program.
    pub lp: Linear,
    /// Its solver: at the optimum when the standing is open.
    pub simplex: Simplex,
}

/// Solves the merged continuous form.
pub fn standing(model: &Model) -> Standing {
    stand(model).0
}

/// As [`standing`], with the program and its solver.
pub fn stand(model: &Model) -> (Standing, Stand) {
    let lp = expand(model, true);
    let simplex = Simplex::new(&lp);
    let mut stand = Stand { lp, simplex };
    (judge(model, &mut stand), stand)
}

/// How a model stands whose program is at hand, solved or not.
pub fn judge(model: &Model, stand: &mut Stand) -> Standing {
    match stand.simplex.solve_again() {
        Ok(_) => {
            let simplex = &stand.simplex;
            let dear = dear(model, &stand.lp, &simplex.reduced_costs());
            open(model, &stand.lp, simplex.bound(), &simplex.point(), dear)
        }
        Err(NoOptimum::Infeasible) => {
            let mut musts = stand.simplex.clone();
            musts.set_rows(must_rows(&stand.lp));
            match musts.solve() {
                Ok(_) => match Giving::new(&stand.lp, &musts) {
                    Ok(giving) => {
                        let row = |(n, reach): (usize, f64)| {
                            Some(OutOfReach {
                                row: stand.lp.rows[n].row?,
                                reach: reach / times(model, &stand.lp, n),
                            })
                        };
                        let short: Vec<OutOfReach> = giving.short().filter_map(row).collect();
                        if short.is_empty() {
                            Standing::Unknown("the relaxed program has no shortfall".into())
                        } else {
                            Standing::Short(short)
                        }
                    }
                    Err(e) => Standing::Unknown(e.to_string()),
                },
                // What may give way has given way here, so only what must hold is named.
                Err(NoOptimum::Infeasible) => match conflict(model, &stand.lp) {
                    Ok(Some(groups)) => Standing::Conflict(groups),
                    Ok(None) => Standing::Unknown("two answers on whether the rows can hold".into()),
                    Err(e) => Standing::Unknown(e.to_string()),
                },
                Err(e) => Standing::Unknown(e.to_string()),
            }
        }
        // The other engine has a word before nothing is known.
        Err(_) => match minimise(&stand.lp) {
            Ok(best) => open(model, &stand.lp, best.value, &best.x, Vec::new()),
            Err(e) => Standing::Unknown(e.to_string()),
        },
    }
}

/// The bounds of a program's rows without the floors that may give way.
pub fn must_rows(lp: &Linear) -> impl Iterator<Item = (usize, Option<f64>, Option<f64>)> {
    let floor = |r: &Constraint| r.lo.filter(|_| r.class == Class::Must);
    lp.rows.iter().enumerate().map(move |(n, r)| (n, floor(r), r.hi))
}

/// A program without the floors that may give way.
pub fn of_musts(lp: &Linear) -> Linear {
    let mut must = lp.clone();
    for (n, lo, _) in must_rows(lp) {
        must.rows[n].lo = lo;
    }
    must
}

/// A program whose reference floors give way where they must.
#[derive(Clone, Debug)]
pub struct Giving {
    elastic: Elastic,
    /// The rows that give way, with their floors.
    floors: Vec<(usize, f64)>,
}

impl Giving {
    /// Of a program; `musts` is a solver of it without the floors that may give way, at an optimum.
    ///
    /// # Errors
    /// When the solver does not end, or what must hold cannot.
    pub fn new(lp: &Linear, musts: &Simplex) -> Result<Giving, NoOptimum> {
        let floors = floors(lp);
        let lever = |&(n, _): &(usize, f64)| Lever {
            rows: vec![(n, 1.0, 0.0)],
        };
        let levers: Vec<Lever> = floors.iter().map(lever).collect();
        let most: Vec<f64> = floors.iter().map(|f| f.1.max(0.0)).collect();
        let weights: Vec<Option<f64>> = floors.iter().map(|f| Some(1.0 / unit_scale(f.1))).collect();
        let mut elastic = Elastic::of(musts.clone(), lp, &levers);
        // Begun where those that are missed give way altogether.
        let x = musts.point();
        for (l, &(n, floor)) in floors.iter().enumerate() {
            let have: f64 = lp.rows[n].terms.iter().map(|&(v, k)| k * x[v]).sum();
            if have < floor {
                elastic.begin(l, most[l]);
            }
        }
        elastic.set_rows(floors.iter().map(|&(n, floor)| (n, Some(floor), lp.rows[n].hi)));
        elastic.least(&weights, &most)?.ok_or(NoOptimum::Infeasible)?;
        Ok(Giving { elastic, floors })
    }

    /// The same after bounds moved; `None` when the floors that may give way are no longer the same.
    ///
    /// # Errors
    /// As [`Giving::new`].
    pub fn moved(mut self, lp: &Linear) -> Option<Result<Giving, NoOptimum>> {
        if floors(lp) != self.floors {
            return None;
        }
        let rows = lp.rows.iter().enumerate();
        self.elastic.set_rows(rows.map(|(n, r)| (n, r.lo, r.hi)));
        Some(match self.elastic.again() {
            Ok(Some(_)) => Ok(self),
            Ok(None) => Err(NoOptimum::Infeasible),
            Err(e) => Err(e),
        })
    }

    /// The floors that fall by the least in all, each measured by itself: row and what it can reach, in the unit of
    /// the program.
    pub fn short(&self) -> impl Iterator<Item = (usize, f64)> {
        let all = self.floors.iter().zip(self.elastic.by());
        all.filter(|((_, floor), by)| *by > 1e-6 * unit_scale(*floor))
            .map(|(&(n, floor), by)| (n, (floor - by).max(0.0)))
    }
}

/// The floors of a program that may give way.
fn floors(lp: &Linear) -> Vec<(usize, f64)> {
    let rows = lp.rows.iter().enumerate();
    rows.filter(|(_, r)| r.class == Class::Should)
        .filter_map(|(n, r)| Some((n, r.lo?)))
        .collect()
}

/// What whole servings are asked for of what a row can reach.
pub fn asked_of(reach: f64) -> f64 {
    reach * REACH_SHARE
}

fn open(model: &Model, lp: &Linear, value: f64, x: &[f64], dear: Vec<f64>) -> Standing {
    Standing::Open(Bound {
        value: Some(value),
        uses: uses(model, lp, x),
        dear,
    })
}

/// By how much a use of each column raises the optimum at least, for its reduced costs (each use is some at the least
/// and some at the most, so the lower of the two).
fn dear(model: &Model, lp: &Linear, reduced: &[f64]) -> Vec<f64> {
    (0..model.columns.len())
        .map(|c| {
            lp.used[c]
                .iter()
                .map(|u| reduced[u.0])
                .fold(f64::INFINITY, f64::min)
                .max(0.0)
        })
        .collect()
}

/// How often a point of the merged program eats each column and its twins; what is next to nothing is none.
pub fn uses(model: &Model, lp: &Linear, x: &[f64]) -> Vec<f64> {
    (0..model.columns.len())
        .map(|c| lp.used[c].iter().map(|u| x[u.0]).filter(|x| *x > 1e-6).sum())
        .collect()
}

/// How many days' rows a merged row stands for.
fn times(model: &Model, lp: &Linear, merged: usize) -> f64 {
    let row = &lp.rows[merged];
    match row.row.and_then(|r| model.rows[r].floor).zip(row.lo) {
        Some((one, all)) if one.abs() > 1e-12 => all / one,
        _ => 1.0,
    }
}

/// An irreducible set of must groups that cannot hold together; those the user set stay in it rather than others.
fn conflict(model: &Model, lp: &Linear) -> Result<Option<Vec<String>>, NoOptimum> {
    irreducible(&of_musts(lp), &|g| rank(model, g))
}

/// How much a group is the user's own affair: 2 set in the brief, 1 a target, 0 a rule of meals.
pub fn rank(model: &Model, group: &str) -> u32 {
    let own =
        matches!(group, "budget" | "likes") || model.rows.iter().any(|r| r.group == group && r.from_brief);
    let rule = matches!(group, "repeats" | "variety" | "meal sizes");
    if own { 2 } else { u32::from(!rule) }
}

fn unit_scale(floor: f64) -> f64 {
    floor.abs().max(1e-9)
}

/// Lowers the floors of rows out of reach to what whole servings can be asked for.
pub fn give_way(model: &mut Model, short: &[OutOfReach]) {
    for s in short {
        let row = &model.rows[s.row];
        let twin = row.twin;
        let target = asked_of(s.reach);
        for r in model.rows.iter_mut().filter(|r| r.twin == twin && twin.is_some()) {
            r.floor = r.floor.map(|f| f.min(target));
        }
    }
}
