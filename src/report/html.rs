//! A plan as one self-contained page: the week, its totals, costs, shopping list and notes.
//!
//! Takes a [`Plan`], gives HTML without scripts and without anything from elsewhere. Printed, it is two
//! sheets: the week and the shopping list. All rounding is done by [`amount`].

use crate::brief::Scope;
use crate::nutrient::Nutrient;
use crate::plan::{Cooked, Day, Meal, Plan, Purchase, Standings};
use crate::report::amount::{self, Units};
use crate::report::chart::place;
use crate::report::words::{
    AGAINST, MISSED, NEAREST, SOON, about, all_at_home, breaches, capital, conflicts, cost_by_place, counted,
    for_everybody, from_pot, glued, how_good, ingredients, joined, left, misses, plan_ways, reached, scope,
    shop_amount, soon, till_by_group, to_cook, verdict, why_not,
};
use itertools::Itertools;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use std::collections::BTreeMap;

/// The look: our own, of paper, ink and two kinds of line, the floor (solid, below) and the ceiling (double, above).
pub const STYLE: &str = include_str!("html.css");

/// Nutrients named in the line under a day, after energy.
pub(crate) const DAY_NUTRIENTS: [Nutrient; 4] = [
    Nutrient::PROTEIN,
    Nutrient::FAT,
    Nutrient::CARBOHYDRATE,
    Nutrient::FIBRE,
];

/// How many givers of a nutrient are named.
const GIVERS: usize = 3;

/// The plan as a page.
///
/// `forecast` is a chart as SVG, when there is one. The page says first when the days are not a plan.
pub fn plan(plan: &Plan, units: Units, forecast: Option<&str>) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (plan.title) }
                style { (PreEscaped(STYLE)) }
            }
            body.stopped[plan.days.is_empty()] {
                header {
                    h1 { (plan.title) }
                    p.lead { (lead(plan)) }
                    @if !plan.planned && !plan.days.is_empty() { p.nearest { (NEAREST) } }
                    (facts(plan, units))
                }
                nav aria-label="Parts of this page" {
                    @if !plan.days.is_empty() {
                        a href="#week" { "Meals" } " "
                        @if !plan.cooking.is_empty() { a href="#cooking" { "Cooking list" } " " }
                        a href="#list" { "Shopping list" } " "
                        a href="#bounds" { "Floors and ceilings" } " "
                        a href="#cost" { "Cost" } " "
                    }
                    @if !plan.recipes.is_empty() { a href="#kitchen-notes" { "Kitchen notes" } " " }
                    a href="#cautions" { "Cautions" } " "
                    a href="#sources" { "Sources" }
                }
                main {
                    @if !plan.planned { (not_planned(plan)) }
                    @if !plan.days.is_empty() {
                        (week(plan))
                        div.second {
                            (cooking(plan))
                            (shopping(plan, units))
                        }
                        (left_over(plan, units))
                        (bounds(plan))
                        (givers(plan))
                        @if !plan.household.is_empty() { (household(plan)) }
                        (cost(plan))
                    }
                    @if !plan.recipes.is_empty() { (notes(plan)) }
                    @if let Some(svg) = forecast {
                        section.apart aria-labelledby="forecast" { h2 id="forecast" { "The weeks ahead" } (PreEscaped(svg)) }
                    }
                    (cautions(plan))
                    (sources(plan))
                }
            }
        }
    };
    page.into_string()
}

fn lead(plan: &Plan) -> String {
    let days = counted(plan.days.len(), "day");
    if plan.days.is_empty() {
        format!("No meals are planned. Kitchen: {}.", plan.kitchen_name)
    } else {
        format!("{days} from the {}.", plan.kitchen_name)
    }
}

pub(crate) fn pay(plan: &Plan, a: Decimal) -> String {
    amount::price(a, plan.currency)
}

pub(crate) fn facts(plan: &Plan, units: Units) -> Markup {
    let e = &plan.energy;
    html! {
        dl.facts {
            div { dt { "To eat" } dd { (amount::kcal(e.intake.0)) " a day" } }
            div {
                dt { "Expenditure" }
                dd { (amount::kcal(e.expenditure.middle.0)) " a day" span { "likely " (amount::bare(Nutrient::ENERGY, e.expenditure.low.0)) " to " (amount::bare(Nutrient::ENERGY, e.expenditure.high.0)) } }
            }
            @if let Some(rate) = e.rate_kg_per_week { div { dt { "Expected change" } dd { (amount::weekly(rate, units)) } } }
            @if let Some(c) = plan.cost { div { dt { "Food eaten" } dd { (pay(plan, c)) span { (pay(plan, c / Decimal::from(plan.days.len().max(1)))) " a day" } } } }
            @if let Some(t) = plan.till { div { dt { "At the till" } dd { (pay(plan, t)) span { "in whole packs" } } } }
        }
    }
}

fn not_planned(plan: &Plan) -> Markup {
    html! {
        section.stop aria-labelledby="stop" {
            h2 id="stop" { "No plan meets everything" }
            p { (why_not(plan)) }
            ul { @for c in conflicts(plan) { li { (c) } } }
            @if !plan.breaches.is_empty() {
                p { (AGAINST) }
                ul { @for b in breaches(plan) { li { (b) } } }
            }
            @for kind in plan_ways(plan) {
                p { (kind.head) }
                ul { @for w in &kind.ways { li { (capital(w)) } } }
                @if let Some(cost) = &kind.all { p { (cost) } }
            }
            @if !plan.misses.is_empty() {
                p { (MISSED) }
                ul { @for m in misses(plan) { li { (m) } } }
            }
        }
    }
}

pub(crate) fn meal_kcal(m: &Meal) -> f64 {
    m.items.iter().map(|i| i.kcal).sum()
}

fn week(plan: &Plan) -> Markup {
    let slots: Vec<&str> = plan
        .days
        .iter()
        .flat_map(|d| &d.meals)
        .map(|m| m.slot.as_str())
        .unique()
        .collect();
    html! {
        section.sheet aria-labelledby="week" {
            h2 id="week" { "Meals" }
            div.week style={ "--slots:" (slots.len()) } {
                @for day in &plan.days { (one_day(plan, day)) }
            }
            p.fine { "Amounts as eaten. " @if !plan.planned { "Nearest, not a plan. " } "General education for healthy adults, not medical advice; check labels for allergens." }
        }
    }
}

fn one_day(plan: &Plan, day: &Day) -> Markup {
    let total = |n: Nutrient| amount::nutrient(n, day.totals.get(n.index()).copied().unwrap_or(0.0));
    html! {
        article.day aria-labelledby={ "day-" (day.day) } {
            h3 id={ "day-" (day.day) } { "Day " (day.day) }
            @for m in &day.meals {
                section.meal {
                    h4 { (m.slot_name) span.kcal { (amount::kcal(meal_kcal(m))) } }
                    p.form { (m.form) }
                    ul {
                        @for i in &m.items {
                            li { (i.name) " " span.qty { (glued(&amount::household(&i.serving, i.servings))) ", " (glued(&amount::grams(i.grams))) } @if let Some(pot) = from_pot(i) { span.pot { (pot) } } }
                        }
                    }
                }
            }
            p.sum {
                strong { (total(Nutrient::ENERGY)) }
                @for n in DAY_NUTRIENTS { span { (n.name()) " " (total(n)) } }
                @if let Some(c) = day.cost { span { (pay(plan, c)) } }
            }
        }
    }
}

fn cooking(plan: &Plan) -> Markup {
    let by_day = plan.cooking.iter().chunk_by(|c| c.day);
    let days: Vec<(u32, Vec<&Cooked>)> = by_day.into_iter().map(|(d, l)| (d, l.collect())).collect();
    html! {
        @if !days.is_empty() {
            section.sheet.cook aria-labelledby="cooking" {
                h2 id="cooking" { "Cooking list" }
                div.cookdays {
                    @for (day, dishes) in &days {
                        section.cookday {
                            h3 { "Day " (day) }
                            ul { @for c in dishes {
                                @let t = to_cook(c);
                                li { strong { (c.name) } ": " (t.made) span.more { (t.time) "; for " (t.meals) @if let Some(k) = &t.keeps { "; " (k) } } }
                            } }
                        }
                    }
                }
            }
        }
    }
}

fn left_over(plan: &Plan, units: Units) -> Markup {
    html! {
        @if !plan.left.is_empty() {
            section.apart aria-labelledby="left" {
                h2 id="left" { "Left over after the last day" }
                ul.columns { @for l in left(plan, units) { li { (l) } } }
            }
        }
    }
}

fn shopping(plan: &Plan, units: Units) -> Markup {
    let sections = plan.shopping.iter().chunk_by(|p| p.section.as_str());
    let groups: Vec<(&str, Vec<&Purchase>)> = sections.into_iter().map(|(s, l)| (s, l.collect())).collect();
    html! {
        section.sheet.list aria-labelledby="list" {
            h2 id="list" { "Shopping list" }
            div.sections {
                @for (name, lines) in &groups {
                    section.part {
                        h3 { (capital(name)) }
                        ul { @for p in lines { li { label { input type="checkbox"; (bought(plan, p, units)) } } } }
                    }
                }
            }
            p.fine {
                @if let Some(t) = plan.till { "At the till about " (pay(plan, t)) ". " }
                @if plan.shopping.iter().any(|p| soon(p).is_some()) { (capital(SOON)) ". " }
                @if plan.shopping.iter().any(|p| p.invented) { "~ an invented price: replace it with your own." }
            }
        }
    }
}

/// What is bought of a product and what it costs, with what is at home and left over.
pub(crate) fn bought(plan: &Plan, p: &Purchase, units: Units) -> Markup {
    let home = all_at_home(p);
    let mass = |g: f64| glued(&amount::mass(g, units));
    let mut more = Vec::from_iter(soon(p));
    if !home && p.home_grams > 0.5 {
        more.push(format!("{} at home", mass(p.home_grams)));
    }
    if p.left_over_grams > 0.5 {
        more.push(format!("{} left over", mass(p.left_over_grams)));
    }
    html! {
        span.what { (p.name) @if !more.is_empty() { " " span.more { (more.join(", ")) } } }
        " "
        span.buy {
            @if home { "at home" } @else { (shop_amount(p, units)) }
            @if let Some(c) = p.cost.filter(|_| !home) { " " span.more { (pay(plan, c)) @if p.invented { " ~" } } }
        }
    }
}

/// The gauge of a target: the days' range as a bar and the mean as a post, between the floor (solid line) and
/// the ceiling (double line).
fn gauge(s: &Standings) -> Markup {
    let t = &s.target;
    let (low, high) = if s.range.0.is_finite() && s.range.1.is_finite() {
        s.range
    } else {
        (s.mean, s.mean)
    };
    let top = [Some(high), t.ceiling, t.floor.map(|f| f * 1.25)]
        .into_iter()
        .flatten()
        .fold(1e-9f64, f64::max)
        * 1.08;
    let x = |v: f64| place((v / top * 160.0).clamp(0.0, 160.0));
    let words = {
        let unit = amount::unit(t.nutrient);
        let bound = |name: &str, b: Option<f64>| {
            b.map_or_else(
                || format!("no {name}"),
                |b| format!("{name} {} {unit}", amount::bare(t.nutrient, b)),
            )
        };
        format!(
            "{}: {} {unit}, {}, {}",
            t.nutrient.name(),
            reached(s),
            bound("floor", t.floor),
            bound("ceiling", t.ceiling)
        )
    };
    html! {
        svg.gauge viewBox="0 0 160 18" role="img" aria-label=(words) {
            path.base d="M0 9H160" {}
            rect.span x=(x(low)) y="5" height="8" width=(place(((high - low) / top * 160.0).max(1.5))) {}
            @if t.scope == Scope::Mean { path.post d={ "M" (x(s.mean)) " 2V16" } {} }
            @if let Some(f) = t.floor { path.floor d={ "M" (x(f)) " 0V18" } {} }
            @if let Some(c) = t.ceiling { path.ceiling d={ "M" (x(c)) " 0V18" } {} path.ceiling d={ "M" (x(c + top * 0.018)) " 0V18" } {} }
        }
    }
}

pub(crate) fn bounds(plan: &Plan) -> Markup {
    html! {
        section.apart aria-labelledby="bounds" {
            h2 id="bounds" { "Floors and ceilings" }
            p { "A solid line is a floor, a double line a ceiling; the bar spans the days, the post is their mean." }
            div.wide tabindex="0" role="group" aria-label="Table of floors and ceilings" {
                table {
                    thead { tr { th scope="col" { "Nutrient" } th scope="col" { "Over" } th.n scope="col" { "Reached" } th.n scope="col" { "Floor" } th.n scope="col" { "Ceiling" } th scope="col" { "Unit" } th scope="col" { "Where it stands" } th scope="col" { "Result" } } }
                    tbody {
                        @for s in joined(&plan.standings) {
                            @let t = &s.target;
                            tr.short[!s.met()] {
                                th scope="row" { (t.nutrient.name()) @if t.from_brief { " *" } }
                                td { (scope(t.scope)) }
                                td.n { (reached(&s)) }
                                td.n { (t.floor.map_or_else(|| "none".into(), |b| amount::bare(t.nutrient, b))) }
                                td.n { (t.ceiling.map_or_else(|| "none".into(), |b| amount::bare(t.nutrient, b))) }
                                td { (amount::unit(t.nutrient)) }
                                td { (gauge(&s)) }
                                td { (verdict(&s)) }
                            }
                        }
                    }
                }
            }
            @if plan.standings.iter().any(|s| s.target.from_brief) { p.fine { "* set by the brief" } }
        }
    }
}

/// The items that give most of a nutrient, with their shares.
fn top_givers(plan: &Plan, n: Nutrient) -> Vec<(String, f64)> {
    let mut by: BTreeMap<&str, f64> = BTreeMap::new();
    for i in plan.days.iter().flat_map(|d| &d.meals).flat_map(|m| &m.items) {
        *by.entry(&i.name).or_default() += i.amounts.get(n.index()).copied().unwrap_or(0.0);
    }
    let all: f64 = by.values().sum();
    if all <= 0.0 {
        return Vec::new();
    }
    by.into_iter()
        .map(|(name, v)| (name.to_string(), v / all))
        .sorted_by(|a, b| b.1.total_cmp(&a.1).then_with(|| a.0.cmp(&b.0)))
        .take(GIVERS)
        .collect()
}

pub(crate) fn givers(plan: &Plan) -> Markup {
    let nutrients: Vec<Nutrient> = plan
        .standings
        .iter()
        .map(|s| s.target.nutrient)
        .unique()
        .collect();
    html! {
        section.apart aria-labelledby="givers" {
            h2 id="givers" { "Where each nutrient comes from" }
            div.wide tabindex="0" role="group" aria-label="Table of what gives each nutrient" {
                table {
                    thead { tr { th scope="col" { "Nutrient" } th.n scope="col" { "A day" } th scope="col" { "Most of it from" } } }
                    tbody {
                        @for n in nutrients {
                            tr {
                                th scope="row" { (n.name()) }
                                td.n { (amount::nutrient(n, plan.mean.get(n.index()).copied().unwrap_or(0.0))) }
                                td { (top_givers(plan, n).iter().map(|(name, s)| format!("{name} {}", amount::percent(*s))).join(", ")) }
                            }
                        }
                    }
                }
            }
        }
    }
}

pub(crate) fn household(plan: &Plan) -> Markup {
    html! {
        section.apart aria-labelledby="household" {
            h2 id="household" { "Household" }
            p { (for_everybody(plan)) }
            ul { @for h in super::words::household(plan) { li { (h) } } }
        }
    }
}

/// A row of horizontal bars with their figures.
fn bars(plan: &Plan, caption: &str, head: &str, rows: &[(String, Decimal)]) -> Markup {
    let most = rows
        .iter()
        .map(|r| r.1)
        .max()
        .unwrap_or(Decimal::ONE)
        .max(Decimal::new(1, 6));
    html! {
        table.bars {
            caption { (caption) }
            thead { tr { th scope="col" { (head) } th.n scope="col" { "Cost" } th scope="col" { span.unseen { "As a bar" } } } }
            tbody {
                @for (name, v) in rows {
                    tr {
                        th scope="row" { (name) }
                        td.n { (pay(plan, *v)) }
                        td { svg.bar viewBox="0 0 160 12" aria-hidden="true" preserveAspectRatio="none" { rect x="0" y="1" height="10" width=(place((*v / most).to_f64().unwrap_or(0.0).max(0.0) * 160.0)) {} } }
                    }
                }
            }
        }
    }
}

pub(crate) fn cost(plan: &Plan) -> Markup {
    let by_day: Vec<(String, Decimal)> = plan
        .days
        .iter()
        .filter_map(|d| Some((format!("Day {}", d.day), d.cost?)))
        .collect();
    let tables = [
        ("What is eaten, by day", "Day", by_day),
        (
            "What is eaten, by its place on the plate",
            "Place",
            cost_by_place(plan),
        ),
        ("At the till, by food group", "Food group", till_by_group(plan)),
    ];
    html! {
        section.apart aria-labelledby="cost" {
            h2 id="cost" { "Cost" }
            @if plan.cost.is_none() { p { "Not known: not everything that is eaten has a price." } }
            div.pair { @for (caption, head, rows) in tables.iter().filter(|t| !t.2.is_empty()) { (bars(plan, caption, head, rows)) } }
            @if let Some(b) = plan.budget { p { "Budget for these days: " (pay(plan, b)) "." } }
            p { (how_good(plan)) }
        }
    }
}

fn notes(plan: &Plan) -> Markup {
    html! {
        section.apart aria-labelledby="kitchen-notes" {
            h2 id="kitchen-notes" { "Kitchen notes" }
            div.recipes {
                @for r in &plan.recipes {
                    article.recipe {
                        h3 { (r.name) }
                        p.fine { (about(r)) }
                        ul { @for i in ingredients(r) { li { (i) } } }
                        ol { @for step in &r.method { li { (step) } } }
                    }
                }
            }
        }
    }
}

pub(crate) fn cautions(plan: &Plan) -> Markup {
    html! {
        section.apart aria-labelledby="cautions" {
            h2 id="cautions" { "Cautions" }
            ul { @for c in &plan.cautions { li { (c.text) } } }
        }
    }
}

pub(crate) fn sources(plan: &Plan) -> Markup {
    let lines: Vec<(String, &str, &str)> = plan
        .standings
        .iter()
        .map(|s| {
            let t = &s.target;
            (
                t.nutrient.name().to_string(),
                t.reason.as_str(),
                t.source.as_str(),
            )
        })
        .unique()
        .collect();
    html! {
        section.apart aria-labelledby="sources" {
            h2 id="sources" { "Sources" }
            details {
                summary { "Why each floor and ceiling stands where it does" }
                ul { @for (name, reason, source) in lines { li { strong { (name) } ": " (reason) @if !source.is_empty() { " (" (source) ")" } } } }
            }
            p { "Nutrient contents: USDA National Nutrient Database for Standard Reference, Release 28." }
        }
    }
}
