//! A plan as Markdown, for chats and notes.
//!
//! Takes a [`Plan`], gives headings, lists and tables that any reader of Markdown shows. All rounding is done by
//! [`amount`].

use crate::nutrient::Nutrient;
use crate::plan::Plan;
use crate::report::amount::{self, Units};
use crate::report::words::{
    AGAINST, MISSED, NEAREST, SOON, about, breaches, capital, conflicts, cooking_line, cost_by_place, costs,
    days_and_intake, expenditure, for_everybody, from_pot, household, how_good, ingredients, joined, left,
    left_and_home, misses, plan_ways, reached, scope, shop_amount, soon, till_by_group, verdict, why_not,
};
use itertools::Itertools;

/// The plan as Markdown.
pub fn plan(plan: &Plan, units: Units) -> String {
    let mut out = format!("# {}\n\n", safe(&plan.title));
    let mut say = |text: &str| {
        out.push_str(text);
        out.push('\n');
    };
    say(&format!("{}  ", safe(&days_and_intake(plan))));
    say(&safe(&expenditure(plan, units)));
    if !plan.planned {
        say(&format!(
            "\n## No plan meets everything\n\n{}\n",
            safe(&why_not(plan))
        ));
        conflicts(plan)
            .iter()
            .for_each(|c| say(&format!("- {}", safe(c))));
        if !plan.breaches.is_empty() {
            say(&format!("\n{AGAINST}\n"));
            breaches(plan).iter().for_each(|b| say(&format!("- {}", safe(b))));
        }
        for kind in plan_ways(plan) {
            say(&format!("\n{}\n", kind.head));
            kind.ways.iter().for_each(|w| say(&format!("- {}", safe(w))));
            kind.all.iter().for_each(|cost| say(&format!("\n{}", safe(cost))));
        }
        if !plan.misses.is_empty() {
            say(&format!("\n{MISSED}\n"));
            misses(plan).iter().for_each(|m| say(&format!("- {}", safe(m))));
        }
        if !plan.days.is_empty() {
            say(&format!("\n**{NEAREST}**"));
        }
    }
    for d in &plan.days {
        say(&format!("\n## Day {}\n", d.day));
        for m in &d.meals {
            let energy: f64 = m.items.iter().map(|i| i.kcal).sum();
            say(&format!(
                "**{}: {}** ({})\n",
                safe(&m.slot_name),
                safe(&m.form),
                amount::kcal(energy)
            ));
            for i in &m.items {
                let pot = from_pot(i).map_or_else(String::new, |p| format!("; {p}"));
                say(&format!(
                    "- {}, {} ({}){pot}",
                    safe(&i.name),
                    safe(&amount::household(&i.serving, i.servings)),
                    amount::grams(i.grams)
                ));
            }
            say("");
        }
        let total = |n: Nutrient| amount::nutrient(n, d.totals.get(n.index()).copied().unwrap_or(0.0));
        let mut parts = vec![total(Nutrient::ENERGY)];
        for n in [
            Nutrient::PROTEIN,
            Nutrient::FAT,
            Nutrient::CARBOHYDRATE,
            Nutrient::FIBRE,
        ] {
            parts.push(format!("{} {}", n.name(), total(n)));
        }
        parts.extend(d.cost.map(|c| amount::price(c, plan.currency)));
        say(&format!("*{}*", parts.join(", ")));
    }
    if !plan.cooking.is_empty() {
        say("\n## Cooking list");
    }
    for (day, lines) in &plan.cooking.iter().chunk_by(|c| c.day) {
        say(&format!("\n**Day {day}**\n"));
        lines.for_each(|c| say(&format!("- {}", safe(&cooking_line(c)))));
    }
    if !plan.days.is_empty() {
        say(
            "\n## Floors and ceilings\n\n| nutrient | over | reached | floor | ceiling | unit | result |\n|---|---|--:|--:|--:|---|---|",
        );
        for s in joined(&plan.standings) {
            let t = &s.target;
            let bound = |b: Option<f64>| b.map_or_else(String::new, |b| amount::bare(t.nutrient, b));
            say(&format!(
                "| {} | {} | {} | {} | {} | {} | {} |",
                t.nutrient.name(),
                scope(t.scope),
                reached(&s),
                bound(t.floor),
                bound(t.ceiling),
                amount::unit(t.nutrient),
                verdict(&s)
            ));
        }
        if !plan.household.is_empty() {
            say(&format!("\n## Household\n\n{}\n", for_everybody(plan)));
            household(plan)
                .iter()
                .for_each(|h| say(&format!("- {}", safe(h))));
        }
        say("\n## Cost\n");
        costs(plan).iter().for_each(|c| say(&format!("- {}", safe(c))));
        for (what, parts) in [
            ("What is eaten, by its place on the plate", cost_by_place(plan)),
            ("At the till, by food group", till_by_group(plan)),
        ] {
            if !parts.is_empty() {
                let pay = |v| amount::price(v, plan.currency);
                let parts = parts.iter().map(|(name, v)| format!("{name} {}", pay(*v)));
                say(&format!("- {what}: {}.", safe(&parts.format(", ").to_string())));
            }
        }
        say(&format!("- {}", safe(&how_good(plan))));
        say("\n## Shopping list");
        for (section, lines) in &plan.shopping.iter().chunk_by(|p| p.section.as_str()) {
            say(&format!("\n**{}**\n", capital(section)));
            for p in lines {
                let price = p.cost.map_or_else(String::new, |c| {
                    format!(
                        ", {}{}",
                        amount::price(c, plan.currency),
                        if p.invented { " ~" } else { "" }
                    )
                });
                let note = left_and_home(p, units);
                let note = if note.is_empty() {
                    note
                } else {
                    format!(" ({note})")
                };
                say(&format!(
                    "- [ ] {}: {}{price}{note}",
                    safe(&p.name),
                    shop_amount(p, units)
                ));
            }
        }
        if plan.shopping.iter().any(|p| soon(p).is_some()) {
            say(&format!("\n{}.", capital(SOON)));
        }
        if plan.shopping.iter().any(|p| p.invented) {
            say("\n~ an invented price: replace it with your own.");
        }
    }
    if !plan.left.is_empty() {
        say("\n## Left over after the last day\n");
        left(plan, units)
            .iter()
            .for_each(|l| say(&format!("- {}", safe(l))));
    }
    if !plan.recipes.is_empty() {
        say("\n## Kitchen notes");
    }
    for r in &plan.recipes {
        say(&format!("\n### {}\n", safe(&r.name)));
        say(&format!("{}\n", safe(&about(r))));
        ingredients(r).iter().for_each(|i| say(&format!("- {}", safe(i))));
        say("");
        for (n, step) in r.method.iter().enumerate() {
            say(&format!("{}. {}", n + 1, safe(step)));
        }
    }
    if !plan.cautions.is_empty() {
        say("\n## Cautions\n");
        plan.cautions
            .iter()
            .for_each(|c| say(&format!("- {}", safe(&c.text))));
    }
    out
}

/// Text whose characters do not turn into marks.
pub(super) fn safe(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars().filter(|c| !c.is_control()) {
        if matches!(c, '\\' | '`' | '*' | '_' | '[' | ']' | '<' | '>' | '|' | '#') {
            out.push('\\');
        }
        out.push(c);
    }
    out
}
