//! A plan as JSON, schema 1. The keys are a contract: `docs/json.md`, `docs/plan.schema.json`.
//!
//! Takes a [`Plan`], gives a value. Units are fixed and do not follow the brief; money is an exact
//! decimal in a string; other numbers carry six significant digits; `null` is not known.

use crate::brief::Scope;
use crate::nutrient::Nutrient;
use crate::plan::{Cooked, Eaten, Eater, Meal, Plan, Purchase, Standings, Verdict, Way};
use crate::report::amount::{decimals, significant};
use crate::report::csv::DIGITS;
use crate::targets::{Strength, Target};
use rust_decimal::Decimal;
use serde_json::{Map, Number, Value, json};

/// Number of the schema; it changes when a key changes its meaning or goes.
pub const SCHEMA: u32 = 1;

/// A JSON value as text for people, ending in a new line.
pub fn pretty(value: &Value) -> String {
    let mut text = serde_json::to_string_pretty(value).unwrap_or_default();
    text.push('\n');
    text
}

/// The plan as a JSON value of schema [`SCHEMA`].
pub fn plan(plan: &Plan) -> Value {
    let energy = &plan.energy;
    // Without days (a safety rule stopped the brief) nothing is eaten, and that is not zero of it.
    let eaten_at_all = plan.days.first();
    let mut all = json!({
        "schema": SCHEMA,
        "outcome": if plan.planned { "planned" } else { "infeasible" },
        "seed": plan.search.seed,
        "title": plan.title,
        "kitchen": plan.kitchen,
        "energy": {
            "resting_kcal": number(energy.resting.middle.0),
            "expenditure_kcal": number(energy.expenditure.middle.0),
            "expenditure_low_kcal": number(energy.expenditure.low.0),
            "expenditure_high_kcal": number(energy.expenditure.high.0),
            "intake_kcal": number(energy.intake.0),
            "rate_kg_per_week": optional(energy.rate_kg_per_week),
        },
        "targets": plan.standings.iter().map(|s| target(&s.target)).collect::<Vec<_>>(),
        "standings": eaten_at_all.iter().flat_map(|_| &plan.standings).map(standing).collect::<Vec<_>>(),
        "days": plan.days.iter().map(|d| json!({
            "day": d.day,
            "meals": d.meals.iter().map(meal).collect::<Vec<_>>(),
            "totals": nutrients(&d.totals),
            "cost": money(d.cost),
        })).collect::<Vec<_>>(),
        "mean": nutrients(eaten_at_all.map_or(&[], |_| &plan.mean)),
        "coverage": nutrients(eaten_at_all.map_or(&[], |_| &plan.coverage)),
        "cost": {
            "amount": money(plan.cost),
            "currency": plan.currency.map(|c| c.code().to_string()),
            "till": money(plan.till),
            "budget": money(plan.budget),
        },
        "shopping": plan.shopping.iter().map(purchase).collect::<Vec<_>>(),
        "search": {
            "objective": plan.search.objective,
            "unit": plan.search.unit,
            "value": optional(eaten_at_all.map(|_| plan.search.value)),
            "bound": optional(plan.search.bound),
            "gap": optional(plan.search.gap),
            "proved": plan.search.proved,
            "moves": plan.search.moves,
        },
        "cautions": plan.cautions.iter().map(|c| json!({ "code": c.code, "text": c.text })).collect::<Vec<_>>(),
    });
    if !plan.search.missed.is_empty() {
        all["search"]["missed"] = json!(plan.search.missed);
    }
    if let Some(o) = &plan.search.second {
        all["search"]["second"] = json!({
            "solver": o.solver,
            "seconds": number(o.seconds),
            "bound": optional(o.bound),
            "verdict": match o.verdict {
                Verdict::Proved => "proved",
                Verdict::ImprovedAndProved => "improved_and_proved",
                Verdict::Improved => "improved",
                Verdict::NothingLower => "nothing_lower",
                Verdict::NoPlan => "no_plan",
                Verdict::NoAnswer => "no_answer",
            },
        });
    }
    if let Some(all) = all.as_object_mut() {
        if !plan.cooking.is_empty() {
            all.insert("cooking".into(), plan.cooking.iter().map(cooked).collect());
        }
        if !plan.household.is_empty() {
            all.insert("portions".into(), number(plan.portions()));
            all.insert("household".into(), plan.household.iter().map(eater).collect());
        }
        if !plan.left.is_empty() {
            let left = plan.left.iter().map(|l| json!({ "product": l.product, "name": l.name, "grams": number(l.grams), "keeps_days": l.keeps_days }));
            all.insert("left_over".into(), left.collect());
        }
    }
    if !plan.planned
        && let Some(all) = all.as_object_mut()
    {
        all.insert(
            "conflict".into(),
            plan.conflict
                .iter()
                .map(|c| json!({ "group": c.group, "reason": c.reason }))
                .collect(),
        );
        all.insert(
            "relaxations".into(),
            if plan.ways.is_empty() {
                plan.standings.iter().flat_map(relaxations).collect()
            } else {
                plan.ways.iter().map(way).collect()
            },
        );
        let misses = plan.misses.iter().map(|m| json!({ "row": m.row, "group": m.group, "share": number(m.share), "activity": number(m.activity) }));
        all.insert("misses".into(), misses.collect());
        let breaches = plan
            .breaches
            .iter()
            .map(|b| json!({ "day": b.day, "slot": b.slot, "item": b.item, "rule": b.rule, "why": b.why }));
        all.insert("breaches".into(), breaches.collect());
    }
    all
}

fn target(t: &Target) -> Value {
    json!({
        "id": t.id,
        "nutrient": t.nutrient.id(),
        "unit": t.nutrient.unit().symbol(),
        "floor": optional(t.floor),
        "ceiling": optional(t.ceiling),
        "scope": match t.scope {
            Scope::Meal => "meal",
            Scope::Day => "day",
            Scope::Mean => "mean",
        },
        "reason": t.reason,
        "source": t.source,
        "strength": match t.strength {
            Strength::Must => "must",
            Strength::Should => "should",
        },
        "from_brief": t.from_brief,
    })
}

fn standing(s: &Standings) -> Value {
    json!({
        "target": s.target.id,
        "mean": number(s.mean),
        "lowest": number(s.range.0),
        "highest": number(s.range.1),
        "shortfall": number(s.shortfall),
        "excess": number(s.excess),
        "met": s.met(),
        "known": number(s.known),
    })
}

/// A way out: a bound that gives way, or a rule that is left out.
pub(super) fn way(w: &Way) -> Value {
    json!({
        "target": w.target,
        "name": w.name,
        "bound": w.bound,
        "from": optional(w.from),
        "to": optional(w.to),
        "by": optional(w.by),
        "unit": w.unit,
        "energy_share": optional(w.energy_share),
        "cost": w.cost.map(|c| decimals(c, 2)),
        "cost_change": w.cost_change.map(|c| decimals(c, 2)),
        "together": w.together,
        "information": w.information,
    })
}

/// By how much the bounds of a target would have to move for the nearest week to keep it.
fn relaxations(s: &Standings) -> Vec<Value> {
    if s.target.strength == Strength::Should {
        return Vec::new();
    }
    let bounds = [("floor", s.shortfall, -1.0), ("ceiling", s.excess, 1.0)];
    let moved = bounds.into_iter().filter(|(_, by, _)| *by > 0.0);
    moved.map(|(bound, by, sign)| json!({ "target": s.target.id, "bound": bound, "by": number(sign * by), "unit": s.target.nutrient.unit().symbol(), "cost_change": null })).collect()
}

fn meal(m: &Meal) -> Value {
    json!({ "slot": m.slot, "slot_name": m.slot_name, "form": m.form, "items": m.items.iter().map(eaten).collect::<Vec<_>>() })
}

fn eaten(i: &Eaten) -> Value {
    let foods = i.foods.iter().map(|f| {
        let mut food =
            json!({ "food": f.food.as_str(), "name": f.name, "grams": number(f.grams), "basis": "eaten" });
        if let (Some(c), Some(food)) = (&f.cooking, food.as_object_mut()) {
            food.insert("basis".into(), "raw".into());
            food.insert("cooking".into(), c.way.code.as_str().into());
            food.insert("fat_lost_grams".into(), number(c.fat_lost * f.grams));
        }
        food
    });
    let mut value = json!({
        "id": i.id,
        "name": i.name,
        "servings": number(i.servings),
        "serving": i.serving,
        "grams": number(i.grams),
        "energy_kcal": number(i.kcal),
        "cost": money(i.cost),
        "foods": foods.collect::<Vec<_>>(),
    });
    if let (Some(day), Some(all)) = (i.pot, value.as_object_mut()) {
        all.insert("cooked_on_day".into(), day.into());
    }
    value
}

fn eater(e: &Eater) -> Value {
    json!({
        "title": e.title,
        "portion": number(e.portion),
        "intake_kcal": number(e.intake_kcal),
        "cost": money(e.cost),
        "targets": e.standings.iter().map(|s| target(&s.target)).collect::<Vec<_>>(),
        "standings": e.standings.iter().map(standing).collect::<Vec<_>>(),
        "stopped": e.stopped,
    })
}

fn cooked(c: &Cooked) -> Value {
    let meals = c
        .meals
        .iter()
        .map(|(day, slot, servings)| json!({ "day": day, "slot": slot, "servings": number(*servings) }));
    json!({
        "day": c.day,
        "dish": c.dish,
        "name": c.name,
        "batches": number(c.batches),
        "servings": number(c.servings),
        "minutes": number(c.minutes),
        "total_minutes": number(c.total_minutes),
        "keep_until_day": c.keep_until,
        "meals": meals.collect::<Vec<_>>(),
    })
}

fn purchase(p: &Purchase) -> Value {
    json!({
        "food": p.foods.first().map(|f| f.as_str()),
        "foods": p.foods.iter().map(|f| f.as_str()).collect::<Vec<_>>(),
        "product": p.product,
        "name": p.name,
        "section": p.section,
        "grams": number(p.buy_grams),
        "packs": p.packs,
        "pack_grams": optional(p.pack_grams),
        "piece_grams": optional(p.piece_grams),
        "needed_grams": number(p.needed_grams),
        "home_grams": number(p.home_grams),
        "left_over_grams": number(p.left_over_grams),
        "cost": money(p.cost),
        "price_invented": p.invented,
        "first_day": p.first_day,
        "keeps_days": p.keeps_days,
    })
}

fn nutrients(values: &[f64]) -> Value {
    let pairs = Nutrient::all()
        .zip(values)
        .map(|(n, v)| (n.id().to_string(), number(*v)));
    Value::Object(pairs.collect::<Map<_, _>>())
}

/// A number of [`DIGITS`] significant digits, without a fraction where it has none.
pub(crate) fn number(value: f64) -> Value {
    let value = significant(value, DIGITS);
    if value.fract() == 0.0 && value.abs() < 1e15 {
        return Value::from(value as i64);
    }
    Number::from_f64(value).map_or(Value::Null, Value::Number)
}

pub(crate) fn optional(value: Option<f64>) -> Value {
    value.map_or(Value::Null, number)
}

pub(crate) fn money(amount: Option<Decimal>) -> Value {
    amount.map_or(Value::Null, |a| a.to_string().into())
}
