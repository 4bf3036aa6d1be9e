//! What no plan can beat, what is out of reach, and what cannot hold together.
//!
//! Takes a [`Model`], gives the optimum of its merged continuous form (a proven bound), the amounts
//! at that optimum as guidance for the search, and, when there is none, which rows give way.

use super::engine::{NoOptimum, minimise};
use crate::model::linear::{Linear, expand};
use crate::model::{Class, Model};
use itertools::Itertools;

/// What the linear program says.
#[derive(Clone, Debug)]
pub struct Bound {
    /// No plan has a lower objective; `None` when the engine gave no trusted answer.
    pub value: Option<f64>,
    /// For each column: whether the optimum eats its twin.
    pub favoured: Vec<bool>,
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

/// Solves the merged continuous form.
pub fn standing(model: &Model) -> Standing {
    let lp = expand(model, true);
    match minimise(&lp) {
        Ok(best) => {
            let favoured = (0..model.columns.len())
                .map(|c| best.x[lp.used[c]] > 1e-6)
                .collect();
            Standing::Open(Bound {
                value: Some(best.value),
                favoured,
            })
        }
        Err(NoOptimum::Infeasible) => {
            let (elastic, slack) = elastic(&lp, Class::Should);
            match minimise(&elastic) {
                Ok(best) => {
                    let short = slack
                        .iter()
                        .filter(|(_, v)| best.x[*v] > 1e-6)
                        .filter_map(|&(r, v)| {
                            let c = &lp.rows[r];
                            let row = c.row?;
                            c.lo?;
                            Some(OutOfReach {
                                row,
                                reach: model.rows[row].floor? * (1.0 - best.x[v]),
                            })
                        })
                        .collect_vec();
                    if short.is_empty() {
                        Standing::Unknown("the relaxed program has no shortfall".into())
                    } else {
                        Standing::Short(short)
                    }
                }
                // What may give way has given way here, so only what must hold is named.
                Err(NoOptimum::Infeasible) => {
                    let own = |g: &str| {
                        matches!(g, "budget" | "likes")
                            || model.rows.iter().any(|r| r.group == g && r.from_brief)
                    };
                    Standing::Conflict(conflict(&elastic, &own))
                }
                Err(e) => Standing::Unknown(e.to_string()),
            }
        }
        Err(e) => Standing::Unknown(e.to_string()),
    }
}

fn unit_scale(floor: f64) -> f64 {
    floor.abs().max(1e-9)
}

/// Lowers the floors of rows out of reach to what whole servings can be asked for.
pub fn give_way(model: &mut Model, short: &[OutOfReach]) {
    for s in short {
        let row = &model.rows[s.row];
        let twin = row.twin;
        let target = s.reach * REACH_SHARE;
        for r in model.rows.iter_mut().filter(|r| r.twin == twin && twin.is_some()) {
            r.floor = r.floor.map(|f| f.min(target));
        }
    }
}

/// The program with a slack of its own bound's size in each floor of a class, the sum of slacks minimised.
fn elastic(lp: &Linear, class: Class) -> (Linear, Vec<(usize, usize)>) {
    let mut e = lp.clone();
    for v in &mut e.variables {
        v.cost = 0.0;
    }
    let mut slack = Vec::new();
    for r in 0..e.rows.len() {
        if e.rows[r].class == class
            && let Some(floor) = e.rows[r].lo
        {
            let v = e.variable(format!("short_{}", e.rows[r].name), 0.0, 1.0, 1.0, false);
            e.rows[r].terms.push((v, unit_scale(floor)));
            slack.push((r, v));
        }
    }
    (e, slack)
}

/// An irreducible set of groups that cannot hold together, by deletion in halving chunks: groups the
/// user did not set are dropped first, so that what is left names what the user can change.
fn conflict(lp: &Linear, own: &dyn Fn(&str) -> bool) -> Vec<String> {
    let mut groups: Vec<String> = lp
        .rows
        .iter()
        .map(|r| r.group.clone())
        .filter(|g| !g.is_empty())
        .unique()
        .collect();
    groups.sort_by_key(|g| (own(g), !g.starts_with("reference")));
    let still = |kept: &[String]| {
        let mut part = lp.clone();
        part.rows
            .retain(|r| r.group.is_empty() || kept.contains(&r.group));
        for v in &mut part.variables {
            v.cost = 0.0;
        }
        minimise(&part).is_err_and(|e| e == NoOptimum::Infeasible)
    };
    let mut kept = groups;
    let mut chunk = kept.len().div_ceil(2).max(1);
    loop {
        let mut at = 0;
        while at < kept.len() {
            let end = (at + chunk).min(kept.len());
            let trial: Vec<String> = kept[..at].iter().chain(&kept[end..]).cloned().collect();
            if still(&trial) {
                kept = trial;
            } else {
                at = end;
            }
        }
        if chunk == 1 {
            break;
        }
        chunk = chunk.div_ceil(2);
    }
    kept.sort_by_key(|g| !own(g));
    kept
}
