//! One bound, or two, against cost, closeness or a nutrient: the frontier with its corners, or a map.
//!
//! Takes a question in words and what a model is built from, gives values. The frontier is that of
//! the merged program (`docs/math.md`, section 7), exact between its ends; plans in whole servings are
//! searched on it where asked.

use super::{Case, bill, levers, rule_name, spoken};
use crate::brief::{self, Brief, PhaseKind, PhaseSize, Scope, energy_per_gram};
use crate::diagnostic::suggestion;
use crate::energy::{self, GateAction};
use crate::model::build::{Pieces, build, serving_amounts};
use crate::model::linear::{Constraint, Linear, expand};
use crate::model::{Class, Model, Over, Row};
use crate::nutrient::Nutrient;
use crate::plan::short_of;
use crate::solve::bound::uses;
use crate::solve::duals::Lever;
use crate::solve::engine::NoOptimum;
use crate::solve::parametric::frontier_of;
use crate::solve::search::search;
use crate::solve::simplex::Simplex;
use crate::solve::verify::broken;
use crate::targets;
use crate::units::Kcal;
use itertools::Itertools;
use std::collections::BTreeMap;

/// What a question asks for, in words.
#[derive(Clone, Debug)]
pub struct Question {
    /// One or two of `protein 1.2..2.6 g/kg`.
    pub vary: Vec<String>,
    /// `cost`, `closeness`, or a nutrient with `:min` or `:max`.
    pub against: String,
    /// Places of the table, or along each side of a map.
    pub points: usize,
    /// Plans in whole servings along the frontier.
    pub whole: usize,
}

/// A quantity that is varied.
#[derive(Clone, Debug, PartialEq)]
pub struct Varied {
    /// `protein`, `budget`, `surplus`.
    pub id: String,
    /// In words: `protein, each day, at least`.
    pub name: String,
    /// Unit as the question has it.
    pub unit: String,
    /// First place, in that unit.
    pub from: f64,
    /// Last place.
    pub to: f64,
}

/// A straight piece of the frontier.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// Where it begins and ends, in the unit of what is varied.
    pub from: f64,
    /// Its end.
    pub to: f64,
    /// Value at its begin.
    pub value_from: f64,
    /// Value at its end.
    pub value_to: f64,
    /// Change of the value per unit of what is varied.
    pub slope: f64,
    /// What else binds along it and costs something, dearest first.
    pub binding: Vec<String>,
}

/// The answer.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sweep {
    /// Title of the brief or problem.
    pub title: String,
    /// What is looked at: `cost`.
    pub against: String,
    /// Its unit, a day's.
    pub unit: String,
    /// What is varied, one or two.
    pub varied: Vec<Varied>,
    /// Straight pieces, by rising place; the corners are where they meet.
    pub pieces: Vec<Piece>,
    /// No plan exists below this place, although it was asked for.
    pub closed_below: Option<f64>,
    /// No plan exists above this place, although it was asked for.
    pub closed_above: Option<f64>,
    /// Even places with the value there; `None` where no plan exists.
    pub table: Vec<(f64, Option<f64>)>,
    /// Plans in whole servings: place and value; `None` where the search found none.
    pub whole: Vec<(f64, Option<f64>)>,
    /// Moves of each search for whole servings.
    pub moves: u64,
    /// Places of the second quantity, for a map.
    pub second: Vec<f64>,
    /// A row for each of `second`, a cell for each place of `table`.
    pub cells: Vec<Vec<Option<f64>>>,
    /// What should be known beside.
    pub notes: Vec<String>,
}

/// A wrong question: what was read, and what to do.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{what}\n  help: {help}")]
pub struct Wrong {
    /// What is wrong.
    pub what: String,
    /// What to do.
    pub help: String,
}

pub(super) fn wrong<T>(what: impl Into<String>, help: impl Into<String>) -> Result<T, Wrong> {
    Err(Wrong {
        what: what.into(),
        help: help.into(),
    })
}

/// A quantity as read: name, side if said, range, unit.
pub(super) struct Asked {
    pub(super) name: String,
    pub(super) side: Option<bool>,
    from: f64,
    to: f64,
    unit: String,
}

/// Reads `protein floor 1.2..2.6 g/kg`.
pub(super) fn ask(text: &str) -> Result<Asked, Wrong> {
    let how =
        "write it as NAME FROM..TO UNIT, for example \"protein 1.2..2.6 g/kg\" or \"budget 40..70 USD/week\"";
    let words: Vec<&str> = text.split_whitespace().collect();
    let Some(at) = words.iter().position(|w| w.contains("..")) else {
        return wrong(format!("--vary: `{text}` has no range"), how);
    };
    let (mut name, range, unit) = (words[..at].to_vec(), words[at], words[at + 1..].join(" "));
    let side = match name.last().copied() {
        Some("floor") => Some(true),
        Some("ceiling") => Some(false),
        _ => None,
    };
    if side.is_some() {
        name.pop();
    }
    if name.is_empty() {
        return wrong(format!("--vary: `{text}` does not say what to vary"), how);
    }
    let ends: Vec<Option<f64>> = range.splitn(2, "..").map(|t| t.parse().ok()).collect();
    let (Some(from), Some(to)) = (ends[0], ends.get(1).copied().flatten()) else {
        return wrong(format!("--vary: `{range}` is no range of two numbers"), how);
    };
    if !(from.is_finite() && to.is_finite() && from < to) {
        return wrong(
            format!("--vary: the range `{range}` is empty"),
            "put the lower number first and a higher one after the two points",
        );
    }
    Ok(Asked {
        name: name.join("_").to_lowercase().replace('-', "_"),
        side,
        from,
        to,
        unit,
    })
}

/// What a place of a quantity does to the rows.
pub(super) struct Axis {
    pub(super) shown: Varied,
    /// Units of the lever in one unit as shown.
    pub(super) scale: f64,
    /// Rows of the merged program.
    pub(super) lever: Lever,
    /// Where the brief has it, in the unit shown; `None` when it has no such bound.
    pub(super) now: Option<f64>,
    kind: Kind,
}

/// How a place is set in the model itself.
enum Kind {
    /// Bounds of model rows: row, times, whether floor.
    Rows(Vec<(usize, f64)>, bool),
    Budget,
    /// Energy eaten less expenditure is the place plus this.
    Energy(f64),
}

fn number_of(unit: &str, brief: &Brief, n: Nutrient, intake: f64) -> Result<f64, Wrong> {
    let own = n.unit();
    let help = || {
        let mut all = vec![own.symbol().to_string(), format!("{}/kg", own.symbol())];
        if energy_per_gram(n).is_some() {
            all.push("% of energy".into());
        }
        format!("{} is counted in {}", n.name(), all.join(", "))
    };
    let (base, per_kg) = unit.strip_suffix("/kg").map_or((unit, false), |b| (b, true));
    let factor = match (base.trim(), own.symbol()) {
        ("", _) => Some(1.0),
        (b, o) if b == o || b == own.label() => Some(1.0),
        ("%" | "% of energy" | "E%", _) if !per_kg => energy_per_gram(n).map(|k| intake / k / 100.0),
        ("g", "mg") | ("mg", "ug") => Some(1000.0),
        ("mg", "g") | ("ug" | "µg", "mg") => Some(0.001),
        ("kJ", "kcal") => Some(1.0 / 4.184),
        _ => None,
    };
    match factor {
        Some(f) => Ok(f * if per_kg { brief.person.weight.0 } else { 1.0 }),
        None => wrong(format!("--vary: `{unit}` is no unit of {}", n.name()), help()),
    }
}

/// The nutrient of a word: its id, its name, or a common part of it.
fn nutrient(word: &str) -> Option<Nutrient> {
    Nutrient::from_id(word)
        .or_else(|| Nutrient::all().find(|n| n.name().to_lowercase().replace([' ', '-'], "_") == word))
}

fn unknown<T>(flag: &str, word: &str, case: &Case, more: &[&str]) -> Result<T, Wrong> {
    let ids: Vec<&str> = more
        .iter()
        .copied()
        .chain(case.pieces.targets.iter().map(|t| t.nutrient.id()))
        .chain(case.pieces.targets.iter().map(|t| t.id.as_str()))
        .chain(Nutrient::all().map(|n| n.id()))
        .collect();
    let help = suggestion(word, ids).map_or_else(
        || {
            format!(
                "name a nutrient (`targets` lists those with bounds), or {}",
                more.join(", ")
            )
        },
        |n| format!("did you mean `{n}`?"),
    );
    wrong(format!("{flag}: `{word}` is nothing that can be told"), help)
}

/// Adds a row over all days for a nutrient without a target.
fn new_row(case: &mut Case, n: Nutrient, floor: bool) -> Result<usize, Wrong> {
    let p = case.pieces;
    let amounts: BTreeMap<usize, f64> = case
        .built
        .model
        .columns
        .iter()
        .map(|c| c.item)
        .unique()
        .map(|i| (i, serving_amounts(p.table, &p.catalogue.items[i])[n.index()]))
        .collect();
    let terms: Vec<(usize, f64)> = case
        .built
        .model
        .columns
        .iter()
        .enumerate()
        .map(|(at, c)| (at, amounts[&c.item] * c.servings))
        .filter(|t| t.1 != 0.0)
        .collect();
    if terms.is_empty() {
        return wrong(
            format!(
                "the food table has no amount of {} for any item of this kitchen",
                n.name()
            ),
            "choose a nutrient that the table knows, or add foods of your own with --foods",
        );
    }
    let model = &mut case.built.model;
    model.rows.push(Row {
        name: format!("{}_asked", n.id()),
        group: format!("{}_asked", n.id()),
        over: Over::Amount,
        terms,
        floor: floor.then_some(0.0),
        ceiling: (!floor).then_some(f64::MAX),
        unit: n.unit().symbol().into(),
        reason: "varied".into(),
        class: Class::Must,
        from_brief: true,
        twin: Some(usize::MAX - model.rows.len()),
        stands_for: 1.0,
        whole: None,
    });
    Ok(model.rows.len() - 1)
}

/// Share of an item's mass for which the table must know a nutrient for its sum to be trusted.
fn known(case: &Case, n: Nutrient) -> f64 {
    let p = case.pieces;
    let (mut have, mut all) = (0.0, 0.0);
    for i in case.built.model.columns.iter().map(|c| c.item).unique() {
        for c in &p.catalogue.items[i].foods {
            let Some(food) = p.table.kept(&crate::foods::FoodId::new(c.food.as_str())) else {
                continue;
            };
            all += c.grams;
            if food.known().any(|(k, _)| k == n) {
                have += c.grams;
            }
        }
    }
    if all > 0.0 { have / all } else { 0.0 }
}

fn axis(case: &mut Case, a: &Asked, notes: &mut Vec<String>) -> Result<Axis, Wrong> {
    let p = case.pieces;
    let shown = |id: &str, name: String, unit: &str| Varied {
        id: id.into(),
        name,
        unit: unit.into(),
        from: a.from,
        to: a.to,
    };
    let days = f64::from(p.brief.days);
    match a.name.as_str() {
        "budget" => {
            let currency = case.built.model.currency.clone();
            if p.prices.is_none() {
                return wrong("--vary: a budget needs a price list", "give one with --prices");
            }
            let (money, per) = a.unit.split_once('/').unwrap_or((&a.unit, "week"));
            let scale = match per.trim() {
                "week" => 1.0 / 7.0,
                "day" => 1.0,
                _ => 0.0,
            };
            if !(money.trim().is_empty() || money.trim() == currency) || scale == 0.0 || a.side == Some(true)
            {
                return wrong(
                    format!("--vary: `{}` is no unit of the budget", a.unit),
                    format!("a budget is a ceiling in {currency}/week or {currency}/day"),
                );
            }
            let now = case.built.model.budget.map(|b| b / days / scale);
            case.built.model.budget = Some(1e9);
            let unit = format!("{currency}/{}", per.trim());
            return Ok(Axis {
                shown: shown("budget", "budget, at most".into(), &unit),
                scale,
                lever: Lever::default(),
                now,
                kind: Kind::Budget,
            });
        }
        "surplus" | "intake" => {
            if !matches!(a.unit.as_str(), "kcal" | "" | "kcal/day") {
                return wrong(
                    format!("--vary: `{}` is no unit of the {}", a.unit, a.name),
                    "write it in kcal (a deficit is a negative surplus)",
                );
            }
            let spent = energy::budget(p.brief).map(|e| e.expenditure.middle.0);
            let Ok(spent) = spent else {
                return wrong("--vary: the energy of this brief cannot be told", "see `targets`");
            };
            let off = if a.name == "surplus" { 0.0 } else { -spent };
            return Ok(Axis {
                shown: shown(&a.name, format!("{} of energy", a.name), "kcal"),
                scale: 1.0,
                lever: Lever::default(),
                now: Some(p.intake_kcal - spent - off),
                kind: Kind::Energy(off),
            });
        }
        _ => {}
    }
    let by_id = p.targets.iter().position(|t| t.id == a.name);
    let n = match by_id.map(|t| p.targets[t].nutrient).or_else(|| nutrient(&a.name)) {
        Some(n) => n,
        None => return unknown("--vary", &a.name, case, &["budget", "surplus", "intake"]),
    };
    if n == Nutrient::ENERGY {
        return wrong(
            "--vary: energy follows from the phase",
            "vary `intake` or `surplus` instead, in kcal",
        );
    }
    if a.from < 0.0 {
        return wrong(
            format!("--vary: {} cannot be under 0", n.name()),
            "begin the range at 0 or more",
        );
    }
    let scale = number_of(&a.unit, p.brief, n, p.intake_kcal)?;
    let has = |t: usize, floor: bool| {
        let t = &p.targets[t];
        if floor {
            t.floor.is_some()
        } else {
            t.ceiling.is_some()
        }
    };
    let candidates: Vec<usize> = match by_id {
        Some(t) => vec![t],
        None => (0..p.targets.len())
            .filter(|&t| p.targets[t].nutrient == n && p.targets[t].scope != Scope::Meal)
            .collect(),
    };
    let floor = a.side.unwrap_or_else(|| {
        candidates.iter().any(|&t| has(t, true)) || !candidates.iter().any(|&t| has(t, false))
    });
    let bound = |t: usize| {
        let t = &p.targets[t];
        if floor { t.floor } else { t.ceiling }
    };
    // The strictest is the one that is varied; others of the same side step aside.
    let pick = candidates
        .iter()
        .copied()
        .filter(|&t| has(t, floor))
        .max_by(|&a, &b| {
            let (x, y) = (bound(a).unwrap_or(0.0), bound(b).unwrap_or(0.0));
            if floor { x.total_cmp(&y) } else { y.total_cmp(&x) }
        });
    let word = if floor { "at least" } else { "at most" };
    let (rows, name) = match pick {
        Some(t) => {
            let target = &p.targets[t];
            for &other in candidates.iter().filter(|&&o| o != t && has(o, floor)) {
                for &r in &case.built.target_rows[other] {
                    let row = &mut case.built.model.rows[r];
                    if floor {
                        row.floor = None;
                    } else {
                        row.ceiling = None;
                    }
                }
                notes.push(format!(
                    "The {} of {} steps aside for what is varied.",
                    if floor { "floor" } else { "ceiling" },
                    spoken(&p.targets[other])
                ));
            }
            let times = if target.scope == Scope::Mean { days } else { 1.0 };
            (
                case.built.target_rows[t].iter().map(|&r| (r, times)).collect(),
                format!("{}, {word}", spoken(target)),
            )
        }
        None => {
            let row = new_row(case, n, floor)?;
            (
                vec![(row, days)],
                format!("{}, mean of the days, {word}", n.name()),
            )
        }
    };
    let share = known(case, n);
    if share < 0.8 {
        notes.push(format!(
            "The table knows {} for {:.0} % of the mass of the items; the rest counts as nothing.",
            n.name(),
            share * 100.0
        ));
    }
    for &(r, _) in &rows {
        // It holds as asked: nothing gives way to what is varied.
        let row: &mut Row = &mut case.built.model.rows[r];
        row.class = Class::Must;
    }
    let unit = if a.unit.is_empty() {
        n.unit().symbol()
    } else {
        &a.unit
    };
    Ok(Axis {
        shown: shown(&a.name, name, unit),
        scale,
        lever: Lever::default(),
        now: pick.and_then(bound).map(|b| b / scale),
        kind: Kind::Rows(rows, floor),
    })
}

/// A row with two bounds becomes two rows, so that each can move by itself.
fn split(lp: &mut Linear, r: usize) -> (usize, usize) {
    let row = lp.rows[r].clone();
    if row.lo.is_none() || row.hi.is_none() || row.lo == row.hi {
        return (r, r);
    }
    lp.rows[r].hi = None;
    lp.rows.push(Constraint { lo: None, ..row });
    (r, lp.rows.len() - 1)
}

/// Writes the lever of a quantity: its rows stand at 0, and move with it. Rows that are `own` to another
/// quantity do not follow energy.
fn pull(case: &Case, lp: &mut Linear, axis: &mut Axis, own: &[usize]) -> Result<Option<String>, Wrong> {
    let model = &case.built.model;
    let days = f64::from(case.pieces.brief.days);
    match &axis.kind {
        Kind::Rows(rows, floor) => {
            let twin_of = |r: usize| model.rows[r].twin;
            let mut sum: BTreeMap<usize, f64> = BTreeMap::new();
            for &(r, times) in rows {
                // Of a row that was parted before, the part with this bound.
                let has = |l: &Constraint| if *floor { l.lo.is_some() } else { l.hi.is_some() };
                let twins = |l: &Constraint| l.row.is_some_and(|m| twin_of(m) == twin_of(r));
                let merged = lp
                    .rows
                    .iter()
                    .position(|l| twins(l) && has(l))
                    .or_else(|| lp.rows.iter().position(twins));
                if let Some(m) = merged {
                    *sum.entry(m).or_default() += times;
                }
            }
            for (m, times) in sum {
                let (low, high) = split(lp, m);
                if *floor {
                    lp.rows[low].lo = Some(0.0);
                    axis.lever.rows.push((low, times, 0.0));
                } else {
                    lp.rows[high].hi = Some(0.0);
                    axis.lever.rows.push((high, 0.0, times));
                }
            }
        }
        Kind::Budget => {
            if let Some(r) = lp.rows.iter().position(|r| r.group == "budget") {
                lp.rows[r].hi = Some(0.0);
                axis.lever.rows.push((r, 0.0, days));
            }
        }
        Kind::Energy(off) => {
            let (from, to) = (axis.shown.from, axis.shown.to);
            let at = |place: f64| energised(case, place + off).map(|m| expand(&m, true));
            let ends = [at(from)?, at((from + to) / 2.0)?, at(to)?];
            let bounds = |l: &Linear| -> BTreeMap<String, (Option<f64>, Option<f64>)> {
                l.rows.iter().map(|r| (r.name.clone(), (r.lo, r.hi))).collect()
            };
            let [low, middle, high] = ends.map(|l| bounds(&l));
            let mut bent = 0.0f64;
            for r in 0..lp.rows.len() {
                let name = lp.rows[r].name.clone();
                let (Some(a), Some(m), Some(b)) = (low.get(&name), middle.get(&name), high.get(&name)) else {
                    continue;
                };
                if own.contains(&r) {
                    continue;
                }
                // Reference floors that were lowered stay where they are.
                if lp.rows[r].class == Class::Should && lp.rows[r].lo.is_some() && case.lowered_row(lp, r) {
                    continue;
                }
                let mut line = |a: Option<f64>, m: Option<f64>, b: Option<f64>| {
                    let (a, m, b) = (a?, m?, b?);
                    let k = (b - a) / (to - from);
                    bent = bent.max((m - (a + b) / 2.0).abs() / m.abs().max(1e-6));
                    (k.abs() > 1e-9).then_some((a - k * from, k))
                };
                let floor = lp.rows[r].lo.and_then(|_| line(a.0, m.0, b.0));
                let ceiling = lp.rows[r].hi.and_then(|_| line(a.1, m.1, b.1));
                if floor.is_none() && ceiling.is_none() {
                    continue;
                }
                let (x, y) = split(lp, r);
                if x == y {
                    if let Some((at0, _)) = floor {
                        lp.rows[x].lo = Some(at0);
                    }
                    if let Some((at0, _)) = ceiling {
                        lp.rows[x].hi = Some(at0);
                    }
                    axis.lever
                        .rows
                        .push((x, floor.map_or(0.0, |f| f.1), ceiling.map_or(0.0, |c| c.1)));
                } else {
                    if let Some((at0, k)) = floor {
                        lp.rows[x].lo = Some(at0);
                        axis.lever.rows.push((x, k, 0.0));
                    }
                    if let Some((at0, k)) = ceiling {
                        lp.rows[y].hi = Some(at0);
                        axis.lever.rows.push((y, 0.0, k));
                    }
                }
            }
            let mut note = "Portions keep the sizes they have at the brief's own energy.".to_string();
            if bent > 1e-3 {
                note += " Some bounds do not follow energy on a straight line; between the ends they are taken as if they did.";
            }
            return Ok(Some(note));
        }
    }
    Ok(None)
}

impl Case<'_> {
    fn lowered_row(&self, lp: &Linear, r: usize) -> bool {
        let row = lp.rows[r].row;
        self.lowered
            .iter()
            .any(|&(t, _)| self.built.target_rows[t].iter().any(|&x| Some(x) == row))
    }
}

/// The model at another surplus of energy.
fn energised(case: &Case, surplus: f64) -> Result<Model, Wrong> {
    let p = case.pieces;
    let mut brief = p.brief.clone();
    if let Some(phase) = brief.phases.first_mut() {
        phase.kind = if surplus > 0.0 {
            PhaseKind::Gain
        } else if surplus < 0.0 {
            PhaseKind::Lose
        } else {
            PhaseKind::Hold
        };
        phase.size = if surplus == 0.0 {
            PhaseSize::Default
        } else {
            PhaseSize::Energy(Kcal(surplus.abs()))
        };
    }
    let told = |d: Vec<crate::diagnostic::Diagnostic>| d.iter().map(|d| d.message.clone()).join("; ");
    let energy = match energy::budget(&brief) {
        Ok(e) => e,
        Err(d) => {
            return wrong(
                format!("--vary: at {surplus:.0} kcal: {}", told(d)),
                "choose a smaller range",
            );
        }
    };
    if let Some(g) = energy.gates.iter().find(|g| g.action == GateAction::Stop) {
        return wrong(
            format!(
                "--vary: at a surplus of {surplus:.0} kcal a safety rule stops the phase: {}",
                g.why
            ),
            g.instead.clone(),
        );
    }
    let (targets, _) = targets::derive(&brief, &energy);
    let pieces = Pieces {
        brief: &brief,
        intake_kcal: energy.intake.0,
        targets: &targets,
        ..p
    };
    match build(pieces) {
        Ok(b) => Ok(b.model),
        Err(d) => wrong(told(d), "see `plan`"),
    }
}

/// Sets places in the model itself, for a search in whole servings.
fn placed(case: &Case, axis: &Axis, place: f64) -> Result<Model, Wrong> {
    let days = f64::from(case.pieces.brief.days);
    let mut model = case.built.model.clone();
    match &axis.kind {
        Kind::Rows(rows, floor) => {
            for &(r, times) in rows {
                let at = Some(place * axis.scale * times);
                if *floor {
                    model.rows[r].floor = at;
                } else {
                    model.rows[r].ceiling = at;
                }
            }
        }
        Kind::Budget => model.budget = Some(place * axis.scale * days),
        Kind::Energy(off) => {
            model = energised(case, place + off)?;
            super::same_floors(&mut model, &case.built.model);
        }
    }
    Ok(model)
}

/// Gives a case the levers of what is asked, and its program and solver with their rows at 0.
pub(super) fn levered(
    case: &mut Case,
    asked: &[Asked],
    notes: &mut Vec<String>,
) -> Result<(Linear, Simplex, Vec<Axis>), Wrong> {
    let (rows, budget) = (case.built.model.rows.len(), case.built.model.budget.is_some());
    let mut axes = Vec::new();
    for a in asked {
        axes.push(axis(case, a, notes)?);
    }
    // The program as solved serves on, unless rows have come in.
    let model = &case.built.model;
    let (mut lp, mut solver) = if (model.rows.len(), model.budget.is_some()) == (rows, budget) {
        let mut lp = case.lp.clone();
        for row in &mut lp.rows {
            if let Some(r) = row.row.map(|r| &model.rows[r]) {
                row.class = r.class;
                row.lo = row.lo.filter(|_| r.floor.is_some());
                row.hi = row.hi.filter(|_| r.ceiling.is_some());
            }
        }
        (lp, case.simplex.clone())
    } else {
        let lp = expand(model, true);
        let solver = Simplex::new(&lp);
        (lp, solver)
    };
    // Energy comes last: what is varied by itself does not follow it.
    let mut own: Vec<usize> = Vec::new();
    for last in [false, true] {
        for a in axes
            .iter_mut()
            .filter(|a| matches!(a.kind, Kind::Energy(_)) == last)
        {
            notes.extend(pull(case, &mut lp, a, &own)?);
            own.extend(a.lever.rows.iter().map(|r| r.0));
        }
    }
    solver.take(&lp);
    Ok((lp, solver, axes))
}

/// The sweep of a brief.
///
/// # Errors
/// A question that cannot be understood or asked of this brief, with what to write instead.
pub fn sweep(pieces: Pieces, question: &Question) -> Result<Sweep, Wrong> {
    if question.vary.is_empty() || question.vary.len() > 2 {
        return wrong(
            "--vary: one quantity or two can be varied",
            "give --vary once or twice",
        );
    }
    if !(2..=200).contains(&question.points) {
        return wrong(
            format!("--points: {} places cannot be told", question.points),
            "ask for 2 to 200",
        );
    }
    let asked: Vec<Asked> = question.vary.iter().map(|v| ask(v)).collect::<Result<_, _>>()?;
    let (against, way) = match question.against.rsplit_once(':') {
        Some((a, "max")) => (a, -1.0),
        Some((a, "min")) => (a, 1.0),
        Some((_, w)) => {
            return wrong(
                format!("--against: `{w}` is neither `min` nor `max`"),
                "write for example `fibre:max`",
            );
        }
        None => (question.against.as_str(), 1.0),
    };
    let mut brief = pieces.brief.clone();
    brief.objective = if against == "closeness" || pieces.prices.is_none() {
        brief::Objective::Closeness
    } else {
        brief::Objective::Cost
    };
    if against == "cost" && pieces.prices.is_none() {
        return wrong(
            "--against: cost needs a price list",
            "give one with --prices, or ask against a nutrient",
        );
    }
    let energy = asked.iter().any(|a| a.name == "surplus" || a.name == "intake");
    if against == "closeness" && energy {
        return wrong(
            "--against: the middle of the targets moves with energy, so closeness is no straight function of it",
            "ask against cost or a nutrient",
        );
    }
    let told = |d: Vec<crate::diagnostic::Diagnostic>| d.iter().map(|d| d.message.clone()).join("; ");
    let mut case = match Case::open(Pieces {
        brief: &brief,
        ..pieces
    }) {
        Ok(c) => c,
        Err(d) => return wrong(told(d), "see `plan`"),
    };
    let goal = match against {
        "cost" | "closeness" => None,
        word => match nutrient(&word.to_lowercase().replace([' ', '-'], "_")) {
            Some(n) => Some(n),
            None => return unknown("--against", word, &case, &["cost", "closeness"]),
        },
    };
    let mut notes = Vec::new();
    let (mut lp, mut solver, axes) = levered(&mut case, &asked, &mut notes)?;
    if axes.len() == 2 && axes[0].shown.id == axes[1].shown.id && asked[0].side == asked[1].side {
        return wrong("--vary: the same quantity twice", "vary two different ones");
    }
    for l in case.lowered() {
        notes.push(format!(
            "{} is out of reach here and asked for at {:.1} {}.",
            l.name, l.taken, l.unit
        ));
    }
    notes.push("Values are the best that servings in fractions reach, with days alike.".into());
    let days = f64::from(brief.days);
    let share = if against == "closeness" { 1.0 } else { days };
    if let Some(n) = goal {
        let mut costs = vec![0.0; lp.variables.len()];
        for (at, c) in case.built.model.columns.iter().enumerate() {
            let k = serving_amounts(pieces.table, &pieces.catalogue.items[c.item])[n.index()] * c.servings;
            for &(v, steps) in lp.amount[at].iter() {
                costs[v] = way * k * steps;
            }
        }
        if costs.iter().all(|c| *c == 0.0) {
            return wrong(
                format!(
                    "the food table has no amount of {} for any item of this kitchen",
                    n.name()
                ),
                "choose a nutrient that the table knows",
            );
        }
        set(&mut lp, &costs);
    } else if against == "cost" {
        let costs = bill(&case.built.model, &lp);
        set(&mut lp, &costs);
    }
    let unit = match goal {
        Some(n) => format!("{} a day", n.unit().symbol()),
        None if against == "cost" => format!("{} a day", case.built.model.currency),
        None => case.built.model.objective.unit.clone(),
    };
    let mut out = Sweep {
        title: brief.title.clone(),
        against: match goal {
            Some(n) => format!("{} {}", if way < 0.0 { "most" } else { "least" }, n.name()),
            None => against.into(),
        },
        unit,
        varied: axes.iter().map(|a| a.shown.clone()).collect(),
        notes,
        ..Sweep::default()
    };
    let name = |r: usize| binding_name(&case, &lp, r);
    let levers: Vec<(&Lever, f64)> = axes.iter().map(|a| (&a.lever, a.scale)).collect();
    solver.take(&lp);
    trace(
        &mut out,
        (&lp, solver),
        &levers,
        question.points,
        way / share,
        &name,
    )?;
    if question.whole > 0 && axes.len() == 1 {
        whole(&mut out, &case, &axes[0], question.whole, goal, way, share)?;
    }
    Ok(out)
}

fn set(lp: &mut Linear, costs: &[f64]) {
    for (v, c) in lp.variables.iter_mut().zip(costs) {
        v.cost = *c;
    }
}

pub(super) fn binding_name(case: &Case, lp: &Linear, r: usize) -> Option<String> {
    let row = &lp.rows[r];
    if row.group.is_empty() {
        return None;
    }
    let id = row.group.strip_prefix("reference ").unwrap_or(&row.group);
    if let Some(t) = case.pieces.targets.iter().find(|t| t.id == id) {
        return Some(spoken(t));
    }
    Some(rule_name(&row.group))
}

/// Fills pieces, table and cells of a sweep from a program and its levers (each with its scale from units
/// shown). `factor` takes the program's objective to the value shown.
fn trace(
    out: &mut Sweep,
    (lp, mut solver): (&Linear, Simplex),
    levers: &[(&Lever, f64)],
    points: usize,
    factor: f64,
    name: &dyn Fn(usize) -> Option<String>,
) -> Result<(), Wrong> {
    let failed = |e: NoOptimum| Wrong {
        what: format!("the linear program was not solved: {e}"),
        help: "try a narrower range".into(),
    };
    let places = |n: usize, v: &Varied| -> Vec<f64> {
        (0..n)
            .map(|i| v.from + (v.to - v.from) * i as f64 / (n - 1) as f64)
            .collect()
    };
    let (lever, scale) = levers[0];
    let xs = places(points, &out.varied[0]);
    if let Some(&(other, other_scale)) = levers.get(1) {
        let ys = places(points, &out.varied[1]);
        let solve_row = |y: f64, s: &mut Simplex| -> Result<Vec<Option<f64>>, NoOptimum> {
            other.set(s, lp, y * other_scale);
            xs.iter()
                .map(|x| {
                    // Rows that both move take the sum of both moves.
                    both(s, lp, (lever, x * scale), (other, y * other_scale));
                    match s.solve_again() {
                        Ok(v) => Ok(Some(v * factor)),
                        Err(NoOptimum::Infeasible) => Ok(None),
                        Err(e) => Err(e),
                    }
                })
                .collect()
        };
        let other_solver = solver.clone();
        let (even, odd) = std::thread::scope(|scope| {
            let odd = scope.spawn(|| {
                let mut s = other_solver;
                ys.iter()
                    .skip(1)
                    .step_by(2)
                    .map(|y| solve_row(*y, &mut s))
                    .collect::<Result<Vec<_>, _>>()
            });
            let even = ys
                .iter()
                .step_by(2)
                .map(|y| solve_row(*y, &mut solver))
                .collect::<Result<Vec<_>, _>>();
            (
                even,
                odd.join()
                    .unwrap_or(Err(NoOptimum::Failed("a thread ended early".into()))),
            )
        });
        let (even, odd) = (even.map_err(failed)?, odd.map_err(failed)?);
        out.cells = even.into_iter().interleave(odd).collect();
        out.second = ys;
        out.table = xs.into_iter().map(|x| (x, None)).collect();
        return Ok(());
    }
    let v = &out.varied[0];
    let line = frontier_of(&mut solver, lp, lever, v.from * scale, v.to * scale).map_err(failed)?;
    out.closed_below = line
        .closed_below
        .then(|| line.points.first().map_or(v.to, |p| p.at / scale));
    out.closed_above = line
        .closed_above
        .then(|| line.points.last().map_or(v.from, |p| p.at / scale));
    let moved: Vec<usize> = lever.rows.iter().map(|r| r.0).collect();
    for (n, slope) in line.slopes.iter().enumerate() {
        let (a, b) = (&line.points[n], &line.points[n + 1]);
        let mut weight: BTreeMap<String, f64> = BTreeMap::new();
        for (r, p) in a.prices.iter().enumerate().take(lp.rows.len()) {
            if p.abs() < 1e-12 || moved.contains(&r) {
                continue;
            }
            let bound = if *p > 0.0 { lp.rows[r].lo } else { lp.rows[r].hi };
            if let Some(name) = name(r) {
                *weight.entry(name).or_default() += (p * bound.unwrap_or(1.0).abs()).abs();
            }
        }
        let mut binding: Vec<(String, f64)> = weight.into_iter().filter(|w| w.1 > 1e-9).collect();
        binding.sort_by(|x, y| y.1.total_cmp(&x.1));
        out.pieces.push(Piece {
            from: a.at / scale,
            to: b.at / scale,
            value_from: a.value * factor,
            value_to: b.value * factor,
            slope: slope * factor * scale,
            binding: binding.into_iter().map(|b| b.0).collect(),
        });
    }
    out.table = xs
        .into_iter()
        .map(|x| (x, line.value(x * scale).map(|v| v * factor)))
        .collect();
    Ok(())
}

/// Two levers at once, with the rows that both move.
fn both(s: &mut Simplex, lp: &Linear, a: (&Lever, f64), b: (&Lever, f64)) {
    for &(r, f, c) in &a.0.rows {
        let (f2, c2) =
            b.0.rows
                .iter()
                .find(|x| x.0 == r)
                .map_or((0.0, 0.0), |x| (x.1, x.2));
        let row = &lp.rows[r];
        s.set_row(
            r,
            row.lo.map(|l| l + f * a.1 + f2 * b.1),
            row.hi.map(|h| h + c * a.1 + c2 * b.1),
        );
    }
}

fn whole(
    out: &mut Sweep,
    case: &Case,
    axis: &Axis,
    n: usize,
    goal: Option<Nutrient>,
    way: f64,
    share: f64,
) -> Result<(), Wrong> {
    let n = n.clamp(2, 50);
    let brief = case.pieces.brief;
    let effort = short_of(brief, 4);
    let (from, to) = match (out.pieces.first(), out.pieces.last()) {
        (Some(a), Some(b)) => (a.from, b.to),
        _ => return Ok(()),
    };
    let one = |i: usize| -> Result<(f64, Option<f64>), Wrong> {
        let place = from + (to - from) * i as f64 / (n - 1) as f64;
        let mut model = placed(case, axis, place)?;
        if let Some(g) = goal {
            model.objective.cost = false;
            model.objective.goals.clear();
            model.objective.largest = 0.0;
            model.objective.linear = model
                .columns
                .iter()
                .map(|c| {
                    way * serving_amounts(case.pieces.table, &case.pieces.catalogue.items[c.item])[g.index()]
                        * c.servings
                })
                .collect();
        }
        let lp = expand(&model, true);
        let mut s = Simplex::new(&lp);
        let (guide, bound) = match s.solve_again() {
            Ok(v) => (uses(&model, &lp, &s.point()), v),
            Err(_) => (Vec::new(), f64::NAN),
        };
        let found = search(&model, &guide, bound, effort, None);
        let good = broken(&model, &found.forms, &found.steps).is_empty();
        Ok((place, good.then(|| way * model.value(&found.steps) / share)))
    };
    let (even, odd) = std::thread::scope(|scope| {
        let odd = scope.spawn(|| (1..n).step_by(2).map(one).collect::<Result<Vec<_>, _>>());
        let even = (0..n).step_by(2).map(one).collect::<Result<Vec<_>, _>>();
        (even, odd.join().unwrap_or_else(|_| Ok(Vec::new())))
    });
    out.whole = even?.into_iter().interleave(odd?).collect();
    out.moves = effort.moves;
    Ok(())
}

/// The sweep of a diet problem: requirements by name, against cost.
///
/// # Errors
/// A question that cannot be understood, with what to write instead.
pub fn diet(title: &str, lp: &Linear, question: &Question) -> Result<Sweep, Wrong> {
    if question.against != "cost" {
        return wrong(
            format!(
                "--against: a diet problem knows only cost, not `{}`",
                question.against
            ),
            "leave --against out",
        );
    }
    if question.whole > 0 {
        return wrong("--whole: a diet problem has no servings", "leave --whole out");
    }
    if question.vary.is_empty() || question.vary.len() > 2 {
        return wrong(
            "--vary: one requirement or two can be varied",
            "give --vary once or twice",
        );
    }
    // A food without a limit of its own has one that follows from the floors (see `model::diet::read`).
    let given = lp;
    let own_limit = |n: usize| {
        let enough = given
            .rows
            .iter()
            .filter_map(|r| Some(r.lo? / r.terms.iter().find(|t| t.0 == n)?.1))
            .fold(0.0, f64::max);
        (given.variables[n].hi - 2.0 * enough).abs() > 1e-9 * enough
    };
    let mut lp = lp.clone();
    let mut levers = Vec::new();
    let mut varied = Vec::new();
    for text in &question.vary {
        let a = ask(text)?;
        let names: Vec<String> = lp.rows.iter().map(|r| r.name.to_lowercase()).collect();
        let Some(r) = names.iter().position(|n| *n == a.name).or_else(|| {
            names
                .iter()
                .position(|n| n.strip_prefix(&a.name).is_some_and(|rest| rest.starts_with('_')))
        }) else {
            let near = suggestion(&a.name, names.iter().map(String::as_str));
            return wrong(
                format!("--vary: `{}` is no requirement of this problem", a.name),
                near.map_or_else(
                    || format!("requirements: {}", names.join(", ")),
                    |n| format!("did you mean `{n}`?"),
                ),
            );
        };
        let unit = lp.rows[r].note.split(';').next().unwrap_or_default().to_string();
        if !a.unit.is_empty() && a.unit != unit {
            return wrong(
                format!("--vary: `{}` is not the unit of {}", a.unit, lp.rows[r].name),
                format!("it is counted in {unit}; the unit can be left out"),
            );
        }
        let floor = a.side.unwrap_or(lp.rows[r].lo.is_some());
        let (low, high) = split(&mut lp, r);
        let row = if floor { low } else { high };
        if floor {
            lp.rows[row].lo = Some(0.0);
        } else {
            lp.rows[row].hi = Some(0.0);
        }
        levers.push(Lever {
            rows: vec![(row, f64::from(u8::from(floor)), f64::from(u8::from(!floor)))],
        });
        varied.push(Varied {
            id: lp.rows[row].name.clone(),
            name: format!(
                "{}, {}",
                lp.rows[row].name,
                if floor { "at least" } else { "at most" }
            ),
            unit,
            from: a.from,
            to: a.to,
        });
    }
    // A food may be needed in larger amounts than the floors as given ask for.
    for (n, v) in lp.variables.iter_mut().enumerate() {
        let most = levers
            .iter()
            .zip(&varied)
            .filter_map(|(l, w)| {
                let k = lp.rows[l.rows[0].0].terms.iter().find(|t| t.0 == n)?.1;
                (k > 0.0).then_some(2.0 * w.to / k)
            })
            .fold(v.hi, f64::max);
        if !own_limit(n) {
            v.hi = most;
        }
    }
    let mut out = Sweep {
        title: title.into(),
        against: "cost".into(),
        unit: "of the price table".into(),
        varied,
        ..Sweep::default()
    };
    let name = |r: usize| Some(lp.rows[r].name.clone());
    let pairs: Vec<(&Lever, f64)> = levers.iter().map(|l| (l, 1.0)).collect();
    trace(
        &mut out,
        (&lp, Simplex::new(&lp)),
        &pairs,
        question.points,
        1.0,
        &name,
    )?;
    Ok(out)
}

/// Names of the program's rows that a lever of the case moves, for tests of the formulation.
pub fn target_levers(case: &Case) -> Vec<Lever> {
    levers(case.pieces, &case.built, &case.lp)
        .into_iter()
        .map(|rows| super::lever(&rows, super::Side::Floor))
        .collect()
}
