//! No plan: what cannot hold together, and the least changes that open one.
//!
//! Takes a [`Case`] whose rows conflict, gives named members and ways out. Allergies are never lifted;
//! a diet is named for information only.

use super::{Case, Side, bill, exclusions, lever, levers, rule_name, same_floors, spoken};
use crate::brief::{Brief, PhaseKind};
use crate::model::Class;
use crate::model::build::{Pieces, build};
use crate::model::linear::{Linear, expand};
use crate::nutrient::Nutrient;
use crate::plan::{Conflict, Way};
use crate::solve::bound::Standing;
use crate::solve::duals::Lever;
use crate::solve::iis::{Elastic, Question};
use crate::targets::Target;

/// Why there is no plan even in parted servings, and what would open one.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct NoPlan {
    /// Title of the brief.
    pub title: String,
    /// An irreducible set: without any one of them the others can hold. Those the user set come first.
    pub conflict: Vec<Conflict>,
    /// Single changes that open a plan, cheapest plan first; then the smallest set found, when no
    /// single one does.
    pub ways: Vec<Way>,
    /// Currency of the costs.
    pub currency: String,
    /// Days planned.
    pub days: u32,
}

/// How much dearer a bound is that the user did not set, when a set of bounds gives way. A design choice.
const OTHERS: f64 = 4.0;

/// A bound that may give way.
struct Give {
    target: String,
    /// Set by the user, who can change it.
    own: bool,
    name: String,
    side: Side,
    bound: f64,
    unit: String,
    /// kcal in a unit, for a share of energy.
    kcal: Option<f64>,
    lever: Lever,
}

/// The program without reference floors, which give way by themselves.
fn must(lp: &Linear) -> Linear {
    let mut must = lp.clone();
    for r in must.rows.iter_mut().filter(|r| r.class == Class::Should) {
        r.lo = None;
    }
    must
}

/// Why no plan exists; `None` when the rows can hold in parted servings.
pub fn no_plan(case: &Case) -> Option<NoPlan> {
    let Standing::Conflict(groups) = &case.standing else {
        return None;
    };
    let lp = must(&case.lp);
    let gives = gives(case);
    // A change of brief may take as long as all changes of bounds.
    let (lifted, (mut ways, together)) = std::thread::scope(|scope| {
        let other = scope.spawn(|| lifted(case, groups));
        let here = loosened(case, &lp, groups, &gives);
        (other.join().unwrap_or_default(), here)
    });
    let mut conflict: Vec<Conflict> = groups.iter().map(|g| member(case, g)).collect();
    for l in &lifted {
        if l.in_conflict {
            conflict.insert(
                0,
                Conflict {
                    group: rule_name(&l.id),
                    reason: "set in the brief".into(),
                },
            );
        }
        if let Some(cost) = l.opens {
            ways.push(Way {
                target: l.id.clone(),
                name: rule_name(&l.id),
                information: l.id.starts_with("diet "),
                cost: case.money().then_some(cost),
                ..Way::default()
            });
        }
    }
    let budget = case.built.model.budget;
    for w in ways.iter_mut() {
        w.cost_change = w.cost.zip(budget).map(|(c, b)| c - b);
    }
    let size = |w: &Way| {
        w.by.zip(w.from)
            .map_or(1.0, |(by, from)| (by / from.abs().max(1e-9)).abs())
    };
    ways.sort_by(|a, b| {
        let cost = |w: &Way| w.cost.unwrap_or(f64::INFINITY);
        (a.information.cmp(&b.information))
            .then(cost(a).total_cmp(&cost(b)))
            .then(size(a).total_cmp(&size(b)))
    });
    ways.extend(together);
    Some(NoPlan {
        title: case.pieces.brief.title.clone(),
        conflict,
        ways,
        currency: case.built.model.currency.clone(),
        days: case.pieces.brief.days,
    })
}

impl Case<'_> {
    fn money(&self) -> bool {
        self.pieces.prices.is_some()
    }
}

fn member(case: &Case, group: &str) -> Conflict {
    let model = &case.built.model;
    if group == "budget" {
        return Conflict {
            group: "budget".into(),
            reason: "the budget of the brief".into(),
        };
    }
    let name = match case.pieces.targets.iter().find(|t| t.id == group) {
        Some(t) => crate::plan::spoken(case.pieces, &t.id),
        None => rule_name(group),
    };
    let reason = model
        .rows
        .iter()
        .find(|r| r.group == group)
        .map(|r| r.reason.clone())
        .or_else(|| {
            model
                .distinct
                .iter()
                .find(|d| d.group == group)
                .map(|d| d.reason.clone())
        })
        .unwrap_or_default();
    // A rule over many rows has a reason for each of them.
    let reason = if matches!(group, "repeats" | "meal sizes" | "variety") {
        String::new()
    } else {
        reason
    };
    Conflict { group: name, reason }
}

/// Whether a bound may be suggested to give way: no upper level of a reference, and energy only towards what is spent.
fn may(brief: &Brief, t: &Target, side: Side) -> bool {
    let kind = brief.phases.first().map(|p| p.kind);
    match side {
        _ if t.nutrient == Nutrient::ENERGY => {
            kind == Some(PhaseKind::Gain) && side == Side::Floor
                || kind == Some(PhaseKind::Lose) && side == Side::Ceiling
        }
        Side::Floor => true,
        Side::Ceiling => {
            t.from_brief || !(t.reason.contains("upper level") || t.nutrient == Nutrient::SODIUM)
        }
    }
}

/// All bounds that may give way: targets that must hold, and the budget.
fn gives(case: &Case) -> Vec<Give> {
    let mut out = Vec::new();
    let all = levers(case.pieces, &case.built, &case.lp);
    for (t, rows) in case.pieces.targets.iter().zip(all) {
        for (side, bound) in [(Side::Floor, t.floor), (Side::Ceiling, t.ceiling)] {
            let Some(bound) = bound else { continue };
            let must = rows.iter().any(|&(r, _)| case.lp.rows[r].class == Class::Must);
            if !must && side == Side::Floor || !may(case.pieces.brief, t, side) {
                continue;
            }
            out.push(Give {
                target: t.id.clone(),
                own: t.from_brief,
                name: spoken(t),
                side,
                bound,
                unit: t.nutrient.unit().symbol().into(),
                kcal: crate::brief::energy_per_gram(t.nutrient),
                lever: lever(&rows, side),
            });
        }
    }
    let row = case.lp.rows.iter().position(|r| r.group == "budget");
    if let Some((row, budget)) = row.zip(case.built.model.budget) {
        out.push(Give {
            target: "budget".into(),
            own: true,
            name: "budget".into(),
            side: Side::Ceiling,
            bound: budget,
            unit: case.built.model.currency.clone(),
            kcal: None,
            lever: Lever {
                rows: vec![(row, 0.0, 1.0)],
            },
        });
    }
    out
}

fn way(case: &Case, g: &Give, by: f64, cost: Option<f64>, together: bool) -> Way {
    let sign = if g.side == Side::Floor { -1.0 } else { 1.0 };
    let to = g.bound + sign * by;
    Way {
        target: g.target.clone(),
        name: g.name.clone(),
        bound: Some(g.side.id()),
        from: Some(g.bound),
        to: Some(to),
        by: Some(sign * by),
        unit: g.unit.clone(),
        energy_share: g.kcal.map(|k| k * to / case.pieces.intake_kcal),
        cost,
        together,
        ..Way::default()
    }
}

/// Single bounds and rules that open a plan by giving way, and the smallest set of bounds when none does.
fn loosened(case: &Case, lp: &Linear, groups: &[String], gives: &[Give]) -> (Vec<Way>, Vec<Way>) {
    let all: Vec<Lever> = gives.iter().map(|g| g.lever.clone()).collect();
    let most: Vec<f64> = gives
        .iter()
        .map(|g| {
            if g.side == Side::Floor {
                g.bound.max(0.0)
            } else {
                9.0 * g.bound.abs() + 1.0
            }
        })
        .collect();
    let bill = bill(&case.built.model, &case.lp);
    let mut elastic = Elastic::new(lp, &all);
    let mut singles = Vec::new();
    for (n, g) in gives
        .iter()
        .enumerate()
        .filter(|(_, g)| groups.contains(&g.target))
    {
        let mut weights = vec![None; gives.len()];
        weights[n] = Some(1.0 / g.bound.abs().max(1e-9));
        if let Ok(Some(by)) = elastic.least(&weights, &most) {
            let cost = case.money().then(|| elastic.then(&by, &bill).ok()).flatten();
            singles.push(way(case, g, by[n], cost, false));
        }
    }
    let mut question = Question::new(lp);
    let named: Vec<String> = {
        let mut v: Vec<String> = lp
            .rows
            .iter()
            .map(|r| r.group.clone())
            .filter(|g| !g.is_empty())
            .collect();
        v.sort();
        v.dedup();
        v
    };
    let is_rule = |g: &&String| **g != "budget" && case.pieces.targets.iter().all(|t| t.id != **g);
    for g in groups.iter().filter(is_rule) {
        let rest: Vec<String> = named.iter().filter(|n| *n != g).cloned().collect();
        if question.open(&rest).unwrap_or(false) {
            let cost = case.money().then(|| question.least(&bill).ok()).flatten();
            singles.push(Way {
                target: g.clone(),
                name: rule_name(g),
                cost,
                ..Way::default()
            });
        }
    }
    if !singles.is_empty() {
        return (singles, Vec::new());
    }
    // No single bound of the conflict opens a plan: the least sum of relative changes, then no more of
    // them than needed.
    let weight = |g: &Give| Some(if g.own { 1.0 } else { OTHERS } / g.bound.abs().max(1e-9));
    let mut weights: Vec<Option<f64>> = gives.iter().map(weight).collect();
    let Ok(Some(mut by)) = elastic.least(&weights, &most) else {
        return (singles, Vec::new());
    };
    let tiny = |n: usize, by: &[f64]| by[n] <= 1e-7 * gives[n].bound.abs().max(1e-6);
    for (n, weight) in weights.iter_mut().enumerate() {
        if tiny(n, &by) {
            *weight = None;
        }
    }
    // Those the user did not set go first.
    let (own, others): (Vec<usize>, Vec<usize>) = (0..gives.len()).partition(|&n| gives[n].own);
    for n in others.into_iter().chain(own) {
        if weights[n].is_some() {
            let kept = weights[n].take();
            match elastic.least(&weights, &most) {
                Ok(Some(_)) => {}
                _ => weights[n] = kept,
            }
        }
    }
    if let Ok(Some(fewer)) = elastic.least(&weights, &most) {
        by = fewer;
    }
    let cost = case.money().then(|| elastic.then(&by, &bill).ok()).flatten();
    let set: Vec<usize> = (0..gives.len()).filter(|&n| !tiny(n, &by)).collect();
    let together = set.len() > 1;
    let ways = set
        .iter()
        .map(|&n| way(case, &gives[n], by[n], cost, together))
        .collect();
    if together {
        (singles, ways)
    } else {
        (ways, Vec::new())
    }
}

/// What lifting an exclusion or a fixed meal does.
struct Lifted {
    id: String,
    /// Without it the groups of the conflict can hold.
    in_conflict: bool,
    /// Without it everything can; the cheapest plan then.
    opens: Option<f64>,
}

/// Exclusions looked at, at most.
const LIFTED: usize = 12;

fn lifted(case: &Case, groups: &[String]) -> Vec<Lifted> {
    exclusions(case.pieces.brief)
        .into_iter()
        .take(LIFTED)
        .filter_map(|(id, brief)| lift(case, groups, id, &brief))
        .collect()
}

fn lift(case: &Case, groups: &[String], id: String, brief: &Brief) -> Option<Lifted> {
    let mut model = build(Pieces { brief, ..case.pieces }).ok()?.model;
    same_floors(&mut model, &case.built.model);
    let lp = must(&expand(&model, true));
    let mut question = Question::new(&lp);
    let in_conflict = question.open(groups).ok()?;
    let all: Vec<String> = lp
        .rows
        .iter()
        .map(|r| r.group.clone())
        .filter(|g| !g.is_empty())
        .collect();
    let opens = if in_conflict && question.open(&all).ok()? {
        Some(question.least(&bill(&model, &lp)).ok()?)
    } else {
        None
    };
    Some(Lifted {
        id,
        in_conflict,
        opens,
    })
}
