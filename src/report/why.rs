//! Why this plan, or why none: prices, rules, ranges, conflicts and ways out as text and JSON.
//!
//! Takes the values of [`crate::why`], gives text of at most 80 columns or a JSON value.

use super::amount::{decimals, figure, percent};
use super::json::{number, optional, way};
use super::text::Page;
use crate::plan::Way;
use crate::why::diet::Diet;
use crate::why::{BoundPrice, LeftOut, NoPlan, Side, Why};
use serde_json::{Value, json};

/// A unit as it is printed for people.
pub(crate) fn shown(unit: &str) -> &str {
    if unit == "ug" { "µg" } else { unit }
}

/// Money of a price: three significant digits, at most four decimals, never under 0.0001 as nothing.
pub(crate) fn money(value: f64) -> String {
    let a = value.abs();
    if a > 0.0 && a < 0.000_05 {
        return "under 0.0001".into();
    }
    decimals(
        value,
        if a < 0.1 {
            4
        } else if a < 1.0 {
            3
        } else {
            2
        },
    )
}

/// A change of the objective in words: `costs 0.21 USD a day`, `saves 0.1 USD a day`.
fn change(value: Option<f64>, unit: &str) -> String {
    match value {
        None => "is not possible: no plan is left".into(),
        Some(0.0) => "changes nothing".into(),
        Some(v) if v > 0.0 => format!("costs {} {unit}", money(v)),
        Some(v) => format!("saves {} {unit}", money(-v)),
    }
}

/// A step of a bound that a person would take: a tenth of it or so, a power of ten.
fn step(bound: f64) -> f64 {
    let tenth = (bound.abs() / 10.0).max(1e-9);
    libm::exp10(libm::log10(tenth).round())
}

/// What a step of a bound to either side costs: `10 g more costs 0.21 USD a day; 10 g less saves 0.2 USD a day.`
pub(crate) fn sides(p: &BoundPrice, unit: &str) -> String {
    let by = step(p.bound);
    let amount = format!("{} {}", figure(by), shown(&p.unit));
    format!(
        "{amount} more {}; {amount} less {}.{}",
        change(p.up.map(|v| v * by), unit),
        change(p.down.map(|v| v * by), unit),
        if p.corner {
            " (A corner: each holds on its own side, for small steps.)"
        } else {
            ""
        }
    )
}

/// What a step of a bound costs by one price alone: `about 0.21 USD a day for 10 g`.
pub(crate) fn about(p: &BoundPrice, unit: &str) -> String {
    let by = step(p.bound);
    let price = p.up.or(p.down).unwrap_or(0.0).abs() * by;
    format!(
        "about {} {unit} for {} {}",
        money(price),
        figure(by),
        shown(&p.unit)
    )
}

/// `under` or `over`, in the direction that helps the person read a bound.
pub(crate) fn bound(p: &BoundPrice) -> String {
    let word = match p.side {
        Side::Floor => "at least",
        Side::Ceiling => "at most",
    };
    format!("{}: {word} {} {}", p.name, figure(p.bound), shown(&p.unit))
}

/// Why the plan is as it is, as text.
pub fn text(why: &Why) -> String {
    let mut page = Page::default();
    page.line(0, 2, &format!("Why: {}", why.title));
    let word = if why.proved {
        "proven: no plan goes below it"
    } else {
        "not proven"
    };
    page.line(
        0,
        2,
        &format!(
            "The lowest that servings in fractions reach is {} {} ({word}). All prices below are of that optimum.",
            if why.money { decimals(why.value, 2) } else { figure(why.value) },
            why.unit
        ),
    );
    match &why.whole {
        Some(w) => page.line(
            0,
            2,
            &format!(
                "In whole servings a short search of {} moves comes to {} {}, at most {} over the lowest there can be; `plan` searches longer.",
                w.moves,
                if why.money { decimals(w.value, 2) } else { figure(w.value) },
                why.unit,
                percent(w.gap)
            ),
        ),
        None => page.line(
            0,
            2,
            &format!(
                "In whole servings a short search found no plan, though all of it can hold in fractions: what stands against it then is whole servings alone. `plan` searches longer. The nearest misses: {}.",
                why.missed.join("; ")
            ),
        ),
    }
    page.heading("What binds");
    if why.prices.is_empty() {
        page.line(
            0,
            0,
            "No target and no budget costs anything: the rules of meals alone decide.",
        );
    }
    for p in &why.prices {
        let own = if p.from_brief { ", set in the brief" } else { "" };
        page.entry(&format!("{}{own}", bound(p)));
        page.line(4, 6, &sides(p, &why.unit));
        match p.without {
            Some(w) if w > 0.0 => page.line(4, 6, &format!("Without it: {} {} less.", money(w), why.unit)),
            Some(_) => page.line(
                4,
                6,
                "Leaving it out alone changes nothing: another bound takes its place.",
            ),
            None => {}
        }
    }
    if !why.free.is_empty() {
        page.heading("What costs nothing");
        page.line(0, 0, &format!("{}.", why.free.join("; ")));
    }
    if !why.lowered.is_empty() {
        page.heading("Floors that food does not reach here");
        for l in &why.lowered {
            page.entry(&format!(
                "{}: {} of {} {}. A fortified food or a supplement would bring the rest.",
                l.name,
                figure(l.taken),
                figure(l.asked),
                shown(&l.unit)
            ));
        }
    }
    page.heading("What keeping each rule costs");
    for r in &why.rules {
        let price = match r.price {
            Some(p) if p > 1e-9 => format!("{} {}", money(p), why.unit),
            Some(_) => "nothing".into(),
            None => "not told".into(),
        };
        page.entry(&format!("{}: {price}", r.name));
    }
    if !why.left_out.is_empty() {
        page.heading("Left out, and the price at which each would enter");
        for l in &why.left_out {
            page.entry(&left_out(l, why));
        }
    }
    if !why.ranges.is_empty() {
        page.heading("What is eaten, and how far it could vary within 1 % of the best");
        for r in &why.ranges {
            page.entry(&format!(
                "{} ({}): {} servings in {} days, {} to {}",
                r.name,
                r.serving,
                decimals(r.now, 1),
                why.days,
                decimals(r.least, 1),
                decimals(r.most, 1)
            ));
        }
    }
    page.push("");
    page.line(
        0,
        0,
        "A price holds for small changes and for servings in fractions. General education for healthy adults, not medical advice.",
    );
    page.text
}

fn left_out(l: &LeftOut, why: &Why) -> String {
    let currency = why.unit.split(' ').next().unwrap_or_default();
    let enters = if l.enters > 0.0 {
        let kilo = l
            .grams
            .map(|g| {
                format!(
                    ", {} {currency}/kg against {}",
                    money(l.enters / g * 1000.0),
                    money(l.costs / g * 1000.0)
                )
            })
            .unwrap_or_default();
        format!(
            "would enter at {} {currency} a serving; it costs {}{kilo}",
            money(l.enters),
            money(l.costs)
        )
    } else {
        format!(
            "would not enter even as a gift; it costs {} {currency} a serving",
            money(l.costs)
        )
    };
    format!("{} ({}): {enters}", l.name, l.serving)
}

/// A way out of a conflict in a few words.
pub(crate) fn one_way(w: &Way) -> String {
    let Some((bound, to)) = w.bound.zip(w.to) else {
        return match w.target.split_once(' ') {
            Some(("dislike", what)) => format!("allow {what}"),
            Some(("diet", what)) => format!("without the diet {what} all else can hold"),
            Some(("locked", _)) => format!("free the {}", w.name),
            _ => format!("leave out a rule: {}", w.name),
        };
    };
    // Rounded to the side that still opens a plan.
    let round = |v: f64, up: bool| {
        let scale = libm::exp10(2.0 - libm::log10(v.abs().max(1e-9)).floor());
        let v = v * scale;
        figure(if up { (v - 1e-6).ceil() } else { (v + 1e-6).floor() } / scale)
    };
    if w.target == "budget" {
        return format!(
            "raise the budget to {} {}",
            decimals((to * 100.0 - 1e-6).ceil() / 100.0, 2),
            w.unit
        );
    }
    let name = match w.name.split_once(", ") {
        Some((what, over)) => format!("{what} ({over})"),
        None => w.name.clone(),
    };
    let unit = shown(&w.unit);
    let share = w
        .energy_share
        .map_or(String::new(), |s| format!(", {} of energy", percent(s)));
    match bound {
        "floor" => {
            let missing = w.by.unwrap_or(0.0).abs();
            let fortified = if w.unit != "g" && w.unit != "kcal" {
                format!(
                    ", or add a fortified food that brings {} {unit}",
                    round(missing, true)
                )
            } else {
                String::new()
            };
            format!(
                "let {name} fall to {} {unit}{share}{fortified}",
                round(to.max(0.0), false)
            )
        }
        _ => format!("let {name} reach {} {unit}{share}", round(to, true)),
    }
}

/// Why there is no plan, as text.
pub fn no_plan_text(no: &NoPlan) -> String {
    let mut page = Page::default();
    page.line(0, 2, &format!("No plan: {}", no.title));
    let together = if no.conflict.len() > 1 {
        "These cannot hold together, even in fractions of servings; without any one of them the others can:"
    } else {
        "This cannot hold, even in fractions of servings:"
    };
    page.line(0, 0, together);
    for c in &no.conflict {
        let reason = if c.reason.is_empty() {
            String::new()
        } else {
            format!(": {}", c.reason)
        };
        page.entry(&format!("{}{reason}", c.group));
    }
    page.heading("Ways out");
    super::text::ways(&mut page, super::words::ways(&no.ways, &no.currency));
    if no.ways.is_empty() {
        page.line(0, 0, "No change of a single bound, nor of all together, opens a plan: the diet, the allergies or the kitchen leave too little.");
    }
    page.text
}

/// Why the plan is as it is, as JSON of schema 1.
pub fn json(why: &Why) -> Value {
    json!({
        "schema": super::json::SCHEMA,
        "outcome": "planned",
        "title": why.title,
        "objective": why.objective,
        "unit": why.unit,
        "days": why.days,
        "optimum": number(why.value),
        "proved": why.proved,
        "whole": why.whole.as_ref().map(|w| json!({ "value": number(w.value), "gap": number(w.gap), "moves": w.moves })),
        "whole_misses": why.missed,
        "binding": why.prices.iter().map(|p| json!({
            "target": p.id,
            "name": p.name,
            "side": p.side.id(),
            "bound": number(p.bound),
            "unit": p.unit,
            "price_up": optional(p.up),
            "price_down": optional(p.down),
            "price_unit": format!("{} per {}", why.unit, p.unit),
            "corner": p.corner,
            "saved_without": optional(p.without),
            "from_brief": p.from_brief,
            "reason": p.reason,
        })).collect::<Vec<_>>(),
        "free": why.free,
        "out_of_reach": why.lowered.iter().map(|l| json!({ "target": l.id, "asked": number(l.asked), "taken": number(l.taken), "unit": l.unit })).collect::<Vec<_>>(),
        "rules": why.rules.iter().map(|r| json!({ "rule": r.id, "name": r.name, "price": optional(r.price), "unit": why.unit })).collect::<Vec<_>>(),
        "left_out": why.left_out.iter().map(|l| json!({
            "id": l.id,
            "name": l.name,
            "serving": l.serving,
            "costs": number(l.costs),
            "enters_at": number(l.enters),
            "unit": format!("{} a serving", why.unit.split(' ').next().unwrap_or_default()),
            "grams_bought": optional(l.grams),
        })).collect::<Vec<_>>(),
        "ranges": why.ranges.iter().map(|r| json!({
            "id": r.id,
            "name": r.name,
            "serving": r.serving,
            "servings": number(r.now),
            "least": number(r.least),
            "most": number(r.most),
        })).collect::<Vec<_>>(),
    })
}

/// Why there is no plan, as JSON of schema 1.
pub fn no_plan_json(no: &NoPlan) -> Value {
    json!({
        "schema": super::json::SCHEMA,
        "outcome": "infeasible",
        "title": no.title,
        "days": no.days,
        "currency": no.currency,
        "whole_servings_only": false,
        "conflict": no.conflict.iter().map(|c| json!({ "group": c.group, "reason": c.reason })).collect::<Vec<_>>(),
        "relaxations": no.ways.iter().map(way).collect::<Vec<_>>(),
    })
}

/// A diet problem explained, as text. Units of money and food are those of its table.
pub fn diet_text(d: &Diet) -> String {
    let mut page = Page::default();
    page.line(0, 2, &d.title);
    if !d.conflict.is_empty() {
        page.line(
            0,
            0,
            "No diet meets these requirements together; without any one of them the others can be met:",
        );
        for c in &d.conflict {
            page.entry(c);
        }
        return page.text;
    }
    let proved = if d.proved {
        "proven to be the lowest"
    } else {
        "not proven"
    };
    page.line(0, 2, &format!("Least cost {} ({proved}).", decimals(d.value, 6)));
    page.heading("What it is made of, and how far each could vary within 1 % of the least cost");
    for a in &d.amounts {
        page.entry(&format!(
            "{}: {} ({} to {})",
            a.food,
            decimals(a.amount, 6),
            decimals(a.range.0, 4),
            decimals(a.range.1, 4)
        ));
    }
    page.heading("Requirements: what the diet brings, and what one unit more or less costs");
    for r in &d.requirements {
        let price = |p: Option<f64>| p.map_or_else(|| "no diet".to_string(), |p| decimals(p, 8));
        page.entry(&format!(
            "{}, {} {} {}: {}; one more {}, one less {}",
            r.name,
            if r.side == Side::Floor {
                "at least"
            } else {
                "at most"
            },
            figure(r.bound),
            r.unit,
            figure(r.brings),
            price(r.up),
            price(r.down)
        ));
    }
    page.heading("Left out: how much cheaper a unit would have to be");
    for (food, by) in &d.left_out {
        page.entry(&format!("{food}: {}", decimals(*by, 4)));
    }
    page.text
}

/// A diet problem explained, as JSON of schema 1.
pub fn diet_json(d: &Diet) -> Value {
    json!({
        "schema": super::json::SCHEMA,
        "outcome": if d.conflict.is_empty() { "planned" } else { "infeasible" },
        "title": d.title,
        "cost": number(d.value),
        "proved": d.proved,
        "amounts": d.amounts.iter().map(|a| json!({ "food": a.food, "amount": number(a.amount), "least": number(a.range.0), "most": number(a.range.1) })).collect::<Vec<_>>(),
        "requirements": d.requirements.iter().map(|r| json!({
            "name": r.name, "unit": r.unit, "side": r.side.id(), "bound": number(r.bound), "brings": number(r.brings),
            "price_up": optional(r.up), "price_down": optional(r.down),
        })).collect::<Vec<_>>(),
        "left_out": d.left_out.iter().map(|(f, by)| json!({ "food": f, "cheaper_by": number(*by) })).collect::<Vec<_>>(),
        "conflict": d.conflict,
    })
}
