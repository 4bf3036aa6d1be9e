//! A plan as tables for a spreadsheet: plan, totals, shopping list.
//!
//! Takes a [`Plan`], gives CSV text (comma, quoted where needed, header row). Units are fixed and
//! named in the header; money is an exact decimal beside its currency; a blank is not known.

use crate::nutrient::Nutrient;
use crate::plan::Plan;
use crate::report::amount::significant;
use rust_decimal::Decimal;

/// Significant digits of every number that is not money.
pub(crate) const DIGITS: usize = 6;

/// One row for each item of each meal.
///
/// Columns: day, slot, form, item, name, servings, serving, mass_g, energy_kcal, cost, currency.
pub fn plan(plan: &Plan) -> String {
    let header = [
        "day",
        "slot",
        "form",
        "item",
        "name",
        "servings",
        "serving",
        "mass_g",
        "energy_kcal",
        "cost",
        "currency",
    ];
    let rows = plan.days.iter().flat_map(|day| {
        day.meals.iter().flat_map(move |meal| {
            meal.items.iter().map(move |i| {
                vec![
                    day.day.to_string(),
                    meal.slot.clone(),
                    meal.form.clone(),
                    i.id.clone(),
                    i.name.clone(),
                    number(i.servings),
                    i.serving.clone(),
                    number(i.grams),
                    number(i.kcal),
                    money(i.cost),
                    currency(plan, i.cost),
                ]
            })
        })
    });
    table(header.map(String::from).to_vec(), rows)
}

/// One row for each day and one for their mean (`mean`), with all nutrients.
///
/// A nutrient that the food table knows for nothing that is eaten is blank.
pub fn totals(plan: &Plan) -> String {
    let mut header = vec!["day".to_string()];
    header.extend(Nutrient::all().map(|n| format!("{}_{}", n.id(), n.unit().symbol())));
    header.extend(["cost".to_string(), "currency".to_string()]);
    let row = |name: String, amounts: &[f64], cost: Option<Decimal>| {
        let mut row = vec![name];
        row.extend(Nutrient::all().map(|n| {
            let known = plan.coverage.get(n.index()).is_none_or(|share| *share > 0.0);
            amounts
                .get(n.index())
                .filter(|_| known)
                .map_or_else(String::new, |v| number(*v))
        }));
        row.extend([money(cost), currency(plan, cost)]);
        row
    };
    let days: Option<Decimal> = plan.days.iter().map(|d| d.cost).sum();
    let mean_cost = days
        .filter(|_| !plan.days.is_empty())
        .map(|c| (c / Decimal::from(plan.days.len())).round_dp(4));
    let rows = plan
        .days
        .iter()
        .map(|d| row(d.day.to_string(), &d.totals, d.cost));
    // Without days nothing is eaten, and that is no mean of zero.
    let mean = plan
        .days
        .first()
        .map(|_| row("mean".into(), &plan.mean, mean_cost));
    table(header, rows.chain(mean))
}

/// One row for each line of the shopping list.
pub fn shopping(plan: &Plan) -> String {
    let header = [
        "section",
        "product",
        "name",
        "buy_g",
        "packs",
        "pack_g",
        "piece_g",
        "needed_g",
        "from_home_g",
        "left_over_g",
        "cost",
        "currency",
        "price_invented",
        "foods",
        "first_day",
        "keeps_days",
    ];
    let rows = plan.shopping.iter().map(|p| {
        vec![
            p.section.clone(),
            p.product.clone(),
            p.name.clone(),
            number(p.buy_grams),
            p.packs.map_or_else(String::new, |n| n.to_string()),
            p.pack_grams.map_or_else(String::new, number),
            p.piece_grams.map_or_else(String::new, number),
            number(p.needed_grams),
            number(p.home_grams),
            number(p.left_over_grams),
            money(p.cost),
            currency(plan, p.cost),
            if p.invented { "yes" } else { "no" }.into(),
            p.foods.iter().map(|f| f.as_str()).collect::<Vec<_>>().join(" "),
            p.first_day.to_string(),
            p.keeps_days.to_string(),
        ]
    });
    table(header.map(String::from).to_vec(), rows)
}

/// One row for each meal that a dish on the cooking list serves.
pub fn cooking(plan: &Plan) -> String {
    let header = [
        "cook_day",
        "dish",
        "name",
        "batches",
        "servings",
        "hands_on_min",
        "total_min",
        "keep_until_day",
        "eat_day",
        "slot",
        "servings_eaten",
    ];
    let rows = plan.cooking.iter().flat_map(|c| {
        c.meals.iter().map(move |(day, slot, servings)| {
            vec![
                c.day.to_string(),
                c.dish.clone(),
                c.name.clone(),
                number(c.batches),
                number(c.servings),
                number(c.minutes),
                number(c.total_minutes),
                c.keep_until.to_string(),
                day.to_string(),
                slot.clone(),
                number(*servings),
            ]
        })
    });
    table(header.map(String::from).to_vec(), rows)
}

fn number(value: f64) -> String {
    if value.is_finite() {
        significant(value, DIGITS).to_string()
    } else {
        String::new()
    }
}

fn money(amount: Option<Decimal>) -> String {
    amount.map_or_else(String::new, |a| a.to_string())
}

fn currency(plan: &Plan, amount: Option<Decimal>) -> String {
    plan.currency
        .filter(|_| amount.is_some())
        .map_or_else(String::new, |c| c.code().to_string())
}

/// Writing into memory does not fail and rows are as long as their header.
fn table(header: Vec<String>, rows: impl Iterator<Item = Vec<String>>) -> String {
    let mut writer = ::csv::Writer::from_writer(Vec::new());
    for row in std::iter::once(header).chain(rows) {
        let written = writer.write_record(&row);
        debug_assert!(written.is_ok(), "{written:?}");
    }
    writer
        .into_inner()
        .map(|bytes| String::from_utf8_lossy(&bytes).into_owned())
        .unwrap_or_default()
}
