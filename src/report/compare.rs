//! Two plans side by side, differences first: text, Markdown, a page, JSON.
//!
//! Takes two [`Side`]s and the [`Changes`] from the first to the second; all rounding is done by [`amount`].

use crate::nutrient::Nutrient;
use crate::report::amount::{self, Units};
use crate::report::html::STYLE;
use crate::report::json;
use crate::report::markdown::safe;
use crate::report::swap::{self, TOLD, amount_of};
use crate::report::text::Page;
use crate::report::words::glued;
use crate::swap::{Changes, Side};
use itertools::Itertools;
use maud::{DOCTYPE, PreEscaped, html};
use rust_decimal::Decimal;
use serde_json::{Value, json};

/// A row of a comparison: what, before, after, difference.
type Row = [String; 4];

fn head(sides: [&Side; 2], c: &Changes) -> Vec<String> {
    let one = |word: &str, s: &Side| {
        format!(
            "{word}: {}, kitchen {}{}.",
            s.title,
            s.kitchen,
            if s.planned { "" } else { "; nearest, not a plan" }
        )
    };
    vec![
        one("Before", sides[0]),
        one("After", sides[1]),
        format!(
            "{} of {} meals are the same, {} have the same items in other amounts, {} differ.",
            c.same,
            c.meals,
            c.same_items,
            c.meals - c.same - c.same_items
        ),
    ]
}

fn meal_rows(c: &Changes) -> Vec<Row> {
    let none = |t: String| if t.is_empty() { "nothing".into() } else { t };
    c.changed
        .iter()
        .map(|m| {
            let before = m.gone.iter().chain(m.amounts.iter().map(|a| &a.0));
            let after = m.come.iter().chain(m.amounts.iter().map(|a| &a.1));
            [
                format!("Day {}", m.day),
                m.slot_name.clone(),
                none(before.map(amount_of).join(", ")),
                none(after.map(amount_of).join(", ")),
            ]
        })
        .collect()
}

/// A number with its sign, from its size as text.
fn signed(negative: bool, zero: bool, size: &str) -> String {
    match (zero, negative) {
        (true, _) => "0".into(),
        (false, true) => format!("-{size}"),
        (false, false) => format!("+{size}"),
    }
}

fn cost_rows(c: &Changes) -> Vec<Row> {
    let same = c.currency.0 == c.currency.1;
    [("What is eaten", c.cost), ("At the till", c.till)]
        .into_iter()
        .map(|(what, (a, b))| {
            let pay = |v: Option<Decimal>, u| v.map_or_else(|| "not known".into(), |v| amount::price(v, u));
            let change = a.zip(b).map(|(a, b)| b - a).filter(|_| same);
            [
                what.into(),
                pay(a, c.currency.0),
                pay(b, c.currency.1),
                change.map_or_else(String::new, |d| {
                    let size = amount::coins(d.abs(), c.currency.0);
                    signed(d.is_sign_negative(), d.round_dp(2).is_zero(), &size)
                }),
            ]
        })
        .collect()
}

fn nutrient_rows(c: &Changes) -> Vec<Row> {
    let told = |a: f64, b: f64| (b - a).abs() > TOLD * a.abs().max(b.abs());
    // What moved stands first.
    c.nutrients
        .iter()
        .sorted_by_key(|(n, a, b)| (*n != Nutrient::ENERGY, !told(*a, *b)))
        .map(|&(n, a, b)| {
            let size = amount::bare(n, (b - a).abs());
            [
                n.name().to_string(),
                amount::nutrient(n, a),
                amount::nutrient(n, b),
                signed(b < a, size == "0", &size),
            ]
        })
        .collect()
}

fn shopping_rows(c: &Changes, units: Units) -> Vec<Row> {
    let mass = |g: f64| {
        if g < 0.5 {
            "none".to_string()
        } else {
            amount::mass(g, units)
        }
    };
    c.shopping
        .iter()
        .map(|l| {
            let change = l.grams.1 - l.grams.0;
            [
                l.name.clone(),
                mass(l.grams.0),
                mass(l.grams.1),
                signed(change < 0.0, false, &amount::mass(change.abs(), units)),
            ]
        })
        .collect()
}

/// The tables of a comparison: heading, heads of the columns, rows, and how many columns hold figures.
fn tables(c: &Changes, units: Units) -> Vec<(&'static str, [&'static str; 4], Vec<Row>)> {
    let heads = |what| [what, "Before", "After", "Difference"];
    vec![
        (
            "Meals that differ",
            ["Day", "Meal", "Before", "After"],
            meal_rows(c),
        ),
        ("Cost", heads("What"), cost_rows(c)),
        ("Nutrients, mean of the days", heads("Nutrient"), nutrient_rows(c)),
        (
            "Shopping list, lines that differ",
            heads("Product"),
            shopping_rows(c, units),
        ),
    ]
}

/// The comparison as text of at most 80 columns.
pub fn text(before: &Side, after: &Side, c: &Changes, units: Units) -> String {
    let mut page = Page::default();
    for line in head([before, after], c) {
        page.line(0, 2, &line);
    }
    swap::meals(&mut page, c);
    swap::costs(&mut page, c);
    swap::nutrients(&mut page, c);
    swap::shopping(&mut page, c, units);
    page.text
}

/// The comparison as Markdown.
pub fn markdown(before: &Side, after: &Side, c: &Changes, units: Units) -> String {
    let mut out = String::from("# Two plans\n");
    for line in head([before, after], c) {
        out += &format!("\n{}  ", safe(&line));
    }
    out.push('\n');
    for (title, heads, rows) in tables(c, units) {
        out += &format!("\n## {title}\n\n");
        if rows.is_empty() {
            out += "None.\n";
            continue;
        }
        let cells = |row: &[String]| format!("| {} |\n", row.iter().map(|t| safe(t)).join(" | "));
        out += &cells(&heads.map(String::from));
        out += "|---|---|---|---|\n";
        rows.iter().for_each(|r| out += &cells(r));
    }
    out
}

/// The comparison as a page by itself.
pub fn html(before: &Side, after: &Side, c: &Changes, units: Units) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { "Two plans" }
                style { (PreEscaped(STYLE)) }
            }
            body {
                header {
                    h1 { "Two plans" }
                    @for line in head([before, after], c) { p.lead { (line) } }
                }
                main {
                    @for (n, (title, heads, rows)) in tables(c, units).iter().enumerate() {
                        @let id = format!("part-{}", n + 1);
                        section.apart aria-labelledby=(id) {
                            h2 id=(id) { (title) }
                            @if rows.is_empty() { p { "None." } } @else {
                                div.wide tabindex="0" role="group" aria-label=(title) {
                                    table {
                                        thead { tr { @for h in heads { th scope="col" { (h) } } } }
                                        tbody { @for r in rows { tr { th scope="row" { (r[0]) } @for t in &r[1..] { td { (glued_figure(t)) } } } } }
                                    }
                                }
                            }
                        }
                    }
                }
            }
        }
    };
    page.into_string()
}

/// A figure held to its unit; longer texts may break.
fn glued_figure(text: &str) -> String {
    if text.len() < 20 { glued(text) } else { text.into() }
}

/// The comparison as JSON: the two plans by name, and `changes` as a swap writes them.
pub fn json(before: &Side, after: &Side, c: &Changes) -> Value {
    let side = |s: &Side| {
        json!({
            "title": s.title,
            "kitchen": s.kitchen,
            "outcome": if s.planned { "planned" } else { "infeasible" },
        })
    };
    json!({
        "schema": json::SCHEMA,
        "before": side(before),
        "after": side(after),
        "changes": swap::changes(c),
    })
}
