//! A swap as text and JSON: what changed first, then the plan.
//!
//! Takes a [`Swapped`], gives text of at most 80 columns or a value whose plans are those of `report::json`.

use crate::money::Currency;
use crate::nutrient::Nutrient;
use crate::plan::Eaten;
use crate::report::amount::{self, Units};
use crate::report::json::{self, money, number, optional};
use crate::report::text::{self, Cell, Page};
use crate::report::words::glued;
use crate::swap::{Changes, MealChange, Offer, Swapped};
use itertools::Itertools;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use serde_json::{Value, json};

/// Least change of a mean that is told in text, as a share. A design choice.
pub(super) const TOLD: f64 = 0.02;

/// The swap as text: what changed, then the whole plan after it; or the offers.
pub fn text(s: &Swapped, units: Units) -> String {
    let mut page = Page::default();
    page.line(0, 2, &format!("{}: {}", s.before.title, s.said));
    let (Some(after), Some(c)) = (&s.after, &s.changes) else {
        offers(&mut page, s);
        return page.text;
    };
    page.line(
        0,
        2,
        &format!(
            "{} of {} meals are as they were, {} have the same items in other amounts, {} changed.",
            c.same,
            c.meals,
            c.same_items,
            c.meals - c.same - c.same_items
        ),
    );
    if !after.planned {
        page.line(
            0,
            2,
            "The days after the swap do not keep all that must hold; see below.",
        );
    }
    meals(&mut page, c);
    costs(&mut page, c);
    nutrients(&mut page, c);
    shopping(&mut page, c, units);
    page.text.push_str("\n\n");
    page.text.push_str(&text::plan(after, units));
    page.text
}

pub(super) fn amount_of(e: &Eaten) -> String {
    format!("{} ({})", e.name, glued(&amount::grams(e.grams)))
}

pub(super) fn meals(page: &mut Page, c: &Changes) {
    if c.changed.is_empty() {
        page.line(0, 0, "No meal changed.");
        return;
    }
    page.heading("Meals that changed");
    for m in &c.changed {
        page.line(2, 6, &format!("Day {}, {}: {}", m.day, m.slot_name, told(m)));
    }
}

/// What a meal lost and gained, in words.
pub(crate) fn told(m: &MealChange) -> String {
    let list = |items: &[Eaten]| items.iter().map(amount_of).join(", ");
    let mut parts = Vec::new();
    match (m.gone.is_empty(), m.come.is_empty()) {
        (false, false) => parts.push(format!("{} instead of {}", list(&m.come), list(&m.gone))),
        (false, true) => parts.push(format!("no {}", list(&m.gone))),
        (true, false) => parts.push(format!("also {}", list(&m.come))),
        (true, true) => {}
    }
    for (a, b) in &m.amounts {
        let (from, to) = (glued(&amount::grams(a.grams)), glued(&amount::grams(b.grams)));
        parts.push(format!("{} {to}, was {from}", b.name));
    }
    parts.join("; ")
}

/// A change of money with its sign.
pub(super) fn difference(before: Option<Decimal>, after: Option<Decimal>, same: bool) -> String {
    let Some(d) = before.zip(after).map(|(a, b)| b - a).filter(|_| same) else {
        return String::new();
    };
    if d.round_dp(2).is_zero() {
        return ", the same".into();
    }
    let word = if d.is_sign_negative() { "less" } else { "more" };
    format!(", {} {word}", amount::money(d.abs()))
}

pub(super) fn costs(page: &mut Page, c: &Changes) {
    let same = c.currency.0 == c.currency.1;
    let pay = |v: Option<Decimal>, u: Option<Currency>| {
        v.map_or_else(|| "not known".into(), |v| glued(&amount::price(v, u)))
    };
    page.heading("Cost");
    for (what, (a, b)) in [("What is eaten", c.cost), ("At the till", c.till)] {
        page.line(
            2,
            4,
            &format!(
                "{what}: {}, was {}{}.",
                pay(b, c.currency.1),
                pay(a, c.currency.0),
                difference(a, b, same)
            ),
        );
    }
}

pub(super) fn nutrients(page: &mut Page, c: &Changes) {
    page.heading("Nutrients, mean of the days");
    let moved = |a: f64, b: f64| (b - a).abs() > TOLD * a.abs().max(b.abs());
    let mut quiet = 0;
    for &(n, a, b) in &c.nutrients {
        let main = [
            Nutrient::ENERGY,
            Nutrient::PROTEIN,
            Nutrient::FAT,
            Nutrient::CARBOHYDRATE,
            Nutrient::FIBRE,
        ]
        .contains(&n);
        if !main && !moved(a, b) {
            quiet += 1;
            continue;
        }
        let change = b - a;
        let sign = if change < 0.0 { "-" } else { "+" };
        page.row(
            2,
            &[
                Cell::left(n.name(), 26),
                Cell::right(&amount::nutrient(n, b), 14),
                Cell::left(&format!("was {}", amount::bare(n, a)), 16),
                Cell::right(&format!("{sign}{}", amount::bare(n, change.abs())), 10),
            ],
        );
    }
    if quiet > 0 {
        page.line(
            2,
            4,
            &format!("{quiet} others moved by less than {}.", amount::percent(TOLD)),
        );
    }
}

pub(super) fn shopping(page: &mut Page, c: &Changes, units: Units) {
    if c.shopping.is_empty() {
        return;
    }
    page.heading("Shopping list, what changed");
    let same = c.currency.0 == c.currency.1;
    for l in &c.shopping {
        let mass = |g: f64| {
            if g < 0.5 {
                "none".to_string()
            } else {
                glued(&amount::mass(g, units))
            }
        };
        let zero = |v: Option<Decimal>, g: f64| if g < 0.5 { Some(Decimal::ZERO) } else { v };
        let cost = difference(zero(l.cost.0, l.grams.0), zero(l.cost.1, l.grams.1), same);
        page.line(
            2,
            6,
            &format!("{}: {}, was {}{cost}", l.name, mass(l.grams.1), mass(l.grams.0)),
        );
    }
}

/// What an offer changes before the rest is adapted, each with its sign: cost, energy, protein.
pub(crate) fn offered(o: &Offer, currency: Option<Currency>) -> (String, String, String) {
    let signed = |v: f64, text: String| format!("{}{text}", if v < 0.0 { "-" } else { "+" });
    let cost = o.cost_change.and_then(|c| Decimal::try_from(c).ok()).map_or_else(
        || "no price".to_string(),
        |c| {
            let text = amount::price(c.abs(), currency);
            let none = text == amount::price(Decimal::ZERO, currency);
            signed(if none { 0.0 } else { c.to_f64().unwrap_or(0.0) }, text)
        },
    );
    (
        cost,
        signed(o.energy_change, amount::kcal(o.energy_change.abs())),
        signed(
            o.protein_change,
            format!("{} g", amount::figure(o.protein_change.abs())),
        ),
    )
}

fn offers(page: &mut Page, s: &Swapped) {
    if s.offers.is_empty() {
        page.line(
            0,
            2,
            "Nothing of this kitchen can stand where it stood, or the plan has none of it.",
        );
        return;
    }
    page.line(
        0,
        2,
        "What could come in its place, by cost and closeness together, best first; before the rest is adapted:",
    );
    for o in &s.offers {
        let (cost, energy, protein) = offered(o, s.before.currency);
        page.line(
            2,
            6,
            &format!(
                "{} (`{}`): in {} of {} meals, {} in all; {}, {}, protein {}, {} of the energy moved",
                o.name,
                o.id,
                o.meals,
                o.of,
                amount::household(&o.serving, o.servings),
                glued(&cost),
                energy,
                protein,
                glued(&amount::percent(o.distance)),
            ),
        );
    }
    page.line(0, 2, "Name one with `=` to swap: --item A=B or --staple A=B.");
}

/// The swap as JSON: `before` and `after` as `plan --format json` writes them, `changes`, `offers`.
pub fn json(s: &Swapped) -> Value {
    json!({
        "schema": json::SCHEMA,
        "wish": s.said,
        "before": json::plan(&s.before),
        "after": s.after.as_ref().map_or(Value::Null, json::plan),
        "changes": s.changes.as_ref().map_or(Value::Null, changes),
        "offers": s.offers.iter().map(offer).collect::<Vec<_>>(),
    })
}

pub(super) fn changes(c: &Changes) -> Value {
    let both = |a: Option<Decimal>, b: Option<Decimal>| json!({ "before": money(a), "after": money(b) });
    json!({
        "meals": c.meals,
        "same": c.same,
        "same_items": c.same_items,
        "changed": c.changed.iter().map(meal).collect::<Vec<_>>(),
        "nutrients": c.nutrients.iter().map(|&(n, a, b)| json!({
            "nutrient": n.id(), "unit": n.unit().symbol(), "before": number(a), "after": number(b)
        })).collect::<Vec<_>>(),
        "cost": both(c.cost.0, c.cost.1),
        "till": both(c.till.0, c.till.1),
        "currency": json!({
            "before": c.currency.0.map(|c| c.code().to_string()), "after": c.currency.1.map(|c| c.code().to_string())
        }),
        "shopping": c.shopping.iter().map(|l| json!({
            "product": l.product, "name": l.name,
            "grams": { "before": number(l.grams.0), "after": number(l.grams.1) },
            "cost": both(l.cost.0, l.cost.1),
        })).collect::<Vec<_>>(),
    })
}

fn meal(m: &MealChange) -> Value {
    let item = |e: &Eaten| json!({ "id": e.id, "name": e.name, "servings": number(e.servings), "grams": number(e.grams) });
    json!({
        "day": m.day,
        "slot": m.slot,
        "gone": m.gone.iter().map(item).collect::<Vec<_>>(),
        "come": m.come.iter().map(item).collect::<Vec<_>>(),
        "amounts": m.amounts.iter().map(|(a, b)| json!({
            "id": a.id, "name": a.name, "servings": { "before": number(a.servings), "after": number(b.servings) }
        })).collect::<Vec<_>>(),
    })
}

fn offer(o: &Offer) -> Value {
    json!({
        "id": o.id,
        "name": o.name,
        "meals": o.meals,
        "of": o.of,
        "servings": number(o.servings),
        "cost_change": optional(o.cost_change),
        "energy_change_kcal": number(o.energy_change),
        "protein_change_g": number(o.protein_change),
        "energy_moved": number(o.distance),
    })
}
