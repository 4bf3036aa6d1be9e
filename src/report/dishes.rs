//! Dishes for people and machines: what goes in, what a serving holds, what the cooking changed, what it
//! costs. Takes an item with its recipe, gives text of at most 80 columns and JSON.

use crate::foods::FoodTable;
use crate::kitchen::dish::{Dish, Raw, Serving, serving};
use crate::kitchen::{Catalogue, Item};
use crate::nutrient::Nutrient;
use crate::person::Sex;
use crate::prices::PriceList;
use crate::report::amount;
use crate::report::json::{money, number};
use crate::report::text::{Cell, Page};
use crate::targets::reference_intakes;
use rust_decimal::Decimal;
use rust_decimal::prelude::FromPrimitive;
use serde_json::{Map, Value, json};

/// Number of the schema of both JSON forms.
pub const SCHEMA: u32 = 1;
/// Age of the adults whose recommended intakes stand beside the amounts: the band 31 to 50 years.
const ADULT: u32 = 40;
/// Shown before the table of nutrients with a recommended intake.
const FIRST: [Nutrient; 8] = [
    Nutrient::ENERGY,
    Nutrient::PROTEIN,
    Nutrient::CARBOHYDRATE,
    Nutrient::SUGARS,
    Nutrient::FIBRE,
    Nutrient::FAT,
    Nutrient::SATURATED_FAT,
    Nutrient::SODIUM,
];

/// A dish with what it is shown with.
#[derive(Clone, Copy)]
pub struct Shown<'a> {
    /// The dish as an item.
    pub item: &'a Item,
    /// Its recipe.
    pub dish: &'a Dish,
    /// What its ingredients are called and hold.
    pub catalogue: &'a Catalogue,
    /// Nutrients.
    pub table: &'a FoodTable,
    /// Prices of the region, when there are any.
    pub prices: Option<&'a PriceList>,
}

/// What a serving costs.
struct Cost {
    /// `None` when an ingredient has no price.
    serving: Option<Decimal>,
    /// Names of products without a price.
    missing: Vec<String>,
    /// Names of products whose price was invented.
    invented: Vec<String>,
}

impl Shown<'_> {
    fn name(&self, r: &Raw) -> String {
        let known = self.catalogue.ingredients.get(&r.food);
        known.map_or_else(|| r.food.to_string(), |i| i.short.clone())
    }

    /// The table's words for a way of cooking, in lower case.
    fn way(&self, r: &Raw) -> String {
        let words = self.catalogue.retention.way(&r.cooking);
        words.map_or(String::new(), |w| w.description.to_lowercase().replace(',', ", "))
    }

    fn cost(&self, list: &PriceList) -> Cost {
        let mut cost = Cost {
            serving: Some(Decimal::ZERO),
            missing: Vec::new(),
            invented: Vec::new(),
        };
        for (product, grams) in self.catalogue.bought(self.item) {
            let name = self
                .catalogue
                .products
                .get(&product)
                .map_or(product.clone(), |p| p.name.clone());
            let Some(price) = list.prices.get(&product) else {
                cost.missing.push(name);
                continue;
            };
            cost.serving = cost.serving.map(|sum| sum + price.cost(grams));
            if price.invented() {
                cost.invented.push(name);
            }
        }
        if !cost.missing.is_empty() {
            cost.serving = None;
        }
        cost
    }

    fn batch(&self, serving: Option<Decimal>) -> Option<Decimal> {
        Some(serving? * Decimal::from_f64(self.dish.servings)?)
    }
}

/// Recommended or adequate intake a day of an adult of 31 to 50 years, the larger of women's and men's.
fn recommended() -> Vec<(Nutrient, f64)> {
    let men = reference_intakes(Sex::Male, ADULT);
    let women = reference_intakes(Sex::Female, ADULT);
    let of = |list: &[(Nutrient, f64)], n| list.iter().find(|(m, _)| *m == n).map(|(_, v)| *v);
    Nutrient::all()
        .filter_map(|n| match (of(&women, n), of(&men, n)) {
            (Some(a), Some(b)) => Some((n, a.max(b))),
            (a, b) => a.or(b).map(|v| (n, v)),
        })
        .collect()
}

/// What the cooking took: nutrient, before, after, and the share that is left; water, which follows the
/// mass, left out.
fn changed(s: &Serving) -> Vec<(Nutrient, f64, f64, f64)> {
    Nutrient::all()
        .filter(|n| *n != Nutrient::WATER)
        .map(|n| (n, s.raw[n.index()], s.cooked[n.index()]))
        .filter(|(_, raw, cooked)| *raw > 0.0 && *cooked < raw * (1.0 - 1e-9))
        .map(|(n, raw, cooked)| (n, raw, cooked, cooked / raw))
        .collect()
}

fn day_words(keeps: u32) -> String {
    match keeps {
        0 => "eat at once".into(),
        1 => "keeps 1 day in a refrigerator".into(),
        n => format!("keeps {n} days in a refrigerator"),
    }
}

/// A list of dishes as text: id, name, serving, energy, protein, minutes, keeping.
pub fn list_text(table: &FoodTable, dishes: &[&Item]) -> String {
    let mut page = Page::default();
    let row = |page: &mut Page, cells: [&str; 6]| {
        let [id, name, kcal, protein, minutes, keeps] = cells;
        page.row(
            0,
            &[
                Cell::left(id, 26),
                Cell::left(name, 26),
                Cell::right(kcal, 5),
                Cell::right(protein, 5),
                Cell::right(minutes, 6),
                Cell::right(keeps, 6),
            ],
        );
    };
    row(&mut page, ["id", "name", "kcal", "prot.", "min.", "keeps"]);
    for i in dishes {
        let Some(d) = &i.dish else { continue };
        let held = serving(table, i).cooked;
        let of = |n: Nutrient, most| amount::decimals(held[n.index()], most);
        let keeps = format!("{} d", d.keeps_days);
        row(
            &mut page,
            [
                &i.id,
                &i.name,
                &of(Nutrient::ENERGY, 0),
                &of(Nutrient::PROTEIN, 0),
                &amount::decimals(d.total_minutes, 0),
                &keeps,
            ],
        );
    }
    page.push("");
    page.line(
        0,
        0,
        "Per serving: energy in kcal, protein in g; minutes from start to table; days it keeps. `dishes show ID` tells all.",
    );
    page.text
}

/// A list of dishes as JSON.
pub fn list_json(table: &FoodTable, dishes: &[&Item]) -> Value {
    let one = |i: &&Item| {
        let d = i.dish.as_ref()?;
        let held = serving(table, i).cooked;
        Some(json!({
            "id": i.id,
            "name": i.name,
            "serving": i.serving,
            "grams": number(i.serving_grams()),
            "energy_kcal": number(held[Nutrient::ENERGY.index()]),
            "protein_g": number(held[Nutrient::PROTEIN.index()]),
            "minutes": number(i.minutes),
            "total_minutes": number(d.total_minutes),
            "keeps_days": d.keeps_days,
            "batch": d.batch,
            "roles": i.roles,
            "kinds": i.kinds,
            "slots": i.slots,
            "regions": i.regions,
        }))
    };
    json!({ "schema": SCHEMA, "dishes": dishes.iter().filter_map(one).collect::<Vec<_>>() })
}

/// A dish as text.
pub fn show_text(s: &Shown) -> String {
    let mut page = Page::default();
    let (i, d) = (s.item, s.dish);
    page.line(0, 2, &format!("{} ({})", i.name, i.id));
    page.line(
        0,
        2,
        &format!(
            "{} is {}; a batch makes {} servings, {}.",
            i.serving,
            amount::grams(i.serving_grams()),
            amount::decimals(d.servings, 2),
            amount::grams(d.cooked)
        ),
    );
    page.line(
        0,
        2,
        &format!(
            "Kitchens: {}. Meals: {}. Role: {}.",
            i.regions.join(", "),
            i.slots.join(", ").replace('_', " "),
            i.roles.join(", ")
        ),
    );
    page.line(
        0,
        2,
        &format!(
            "{} hands-on, {} in all; {}{}.",
            minutes(i.minutes),
            minutes(d.total_minutes),
            day_words(d.keeps_days),
            if d.batch {
                "; worth cooking for several days"
            } else {
                ""
            }
        ),
    );
    page.line(0, 2, &format!("Source: {}.", d.source));
    ingredients(&mut page, s);
    page.heading("Method");
    for (n, step) in d.method.iter().enumerate() {
        page.line(0, 3, &format!("{}. {step}", n + 1));
    }
    let held = serving(s.table, i);
    holds(&mut page, &held);
    cooking(&mut page, s, &held);
    if let Some(list) = s.prices {
        cost(&mut page, s, list);
    }
    page.heading("Who may eat it");
    let diets: Vec<&str> = s.catalogue.fits(i).iter().map(|r| r.name.as_str()).collect();
    page.line(
        0,
        2,
        &format!(
            "Diets: {}.",
            if diets.is_empty() {
                "none".into()
            } else {
                diets.join("; ")
            }
        ),
    );
    let flags = s.catalogue.contains(i).unwrap_or_default();
    let flags: Vec<String> = flags.iter().map(|f| f.replace('_', " ")).collect();
    page.line(
        0,
        2,
        &format!(
            "Contains: {}.",
            if flags.is_empty() {
                "none of the flags".into()
            } else {
                flags.join(", ")
            }
        ),
    );
    page.line(
        0,
        2,
        "By ordinary ingredients: check every label for allergens, and follow your local food-safety rules.",
    );
    page.text
}

fn minutes(value: f64) -> String {
    format!("{} min", amount::decimals(value, 0))
}

fn ingredients(page: &mut Page, s: &Shown) {
    let d = s.dish;
    page.heading("Ingredients, raw edible part: batch, serving, way of cooking");
    let row = |page: &mut Page, name: &str, batch: f64, serving: f64, way: &str| {
        page.row(
            0,
            &[
                Cell::left(name, 28),
                Cell::right(&amount::grams(batch), 9),
                Cell::right(&amount::grams(serving), 9),
                Cell::left(way, 31),
            ],
        );
    };
    for r in &d.ingredients {
        let mut way = match r.cooking.as_str() {
            "none" => s.way(r),
            code => format!("{code} {}", s.way(r)),
        };
        if let Some(a) = r.absorbed {
            way += &format!("; {} of it stays in the food", amount::grams(a));
        }
        if r.fat_lost > 0.0 {
            way += &format!("; {} of its fat is poured off", amount::grams(r.fat_lost));
        }
        row(page, &s.name(r), r.grams, r.eaten() / d.servings, &way);
    }
    if d.water > 0.0 {
        row(page, "tap water", d.water, d.water / d.servings, "");
    }
    page.line(
        0,
        2,
        &format!(
            "{} go in, {}{} boil off, {} come out: {} of what goes in.",
            amount::grams(d.mass_in()),
            match d.fat_lost() {
                0.0 => String::new(),
                fat => format!("{} of fat are poured off, ", amount::grams(fat)),
            },
            amount::grams(d.boiled_off()),
            amount::grams(d.cooked),
            amount::percent(d.cooked / d.mass_in())
        ),
    );
}

fn holds(page: &mut Page, held: &Serving) {
    let recommended = recommended();
    page.heading("One serving holds, after cooking");
    let line = |page: &mut Page, n: Nutrient, share: Option<f64>| {
        let known = held.known[n.index()];
        let amount_ = if known > 0.0 {
            amount::nutrient(n, held.cooked[n.index()])
        } else {
            "not known".into()
        };
        let note = if known > 0.0 && known < 0.9995 {
            format!("known for {} of the mass", amount::percent(known))
        } else {
            String::new()
        };
        page.row(
            0,
            &[
                Cell::left(n.name(), 26),
                Cell::right(&amount_, 12),
                Cell::right(
                    &share
                        .filter(|_| known > 0.0)
                        .map_or(String::new(), amount::percent),
                    7,
                ),
                Cell::left(&note, 32),
            ],
        );
    };
    for n in FIRST {
        line(page, n, None);
    }
    page.push("");
    for (n, intake) in recommended.iter().filter(|(n, _)| !FIRST.contains(n)) {
        line(page, *n, Some(held.cooked[n.index()] / intake));
    }
    page.line(
        0,
        0,
        "%: of the recommended or adequate intake a day of adults of 31 to 50 years, the larger of women's and men's (National Academies).",
    );
}

fn cooking(page: &mut Page, s: &Shown, held: &Serving) {
    page.heading("What the cooking took from a serving");
    let recommended = recommended();
    let told = |n: Nutrient| FIRST.contains(&n) || recommended.iter().any(|(m, _)| *m == n);
    let (rows, forms): (Vec<_>, Vec<_>) = changed(held).into_iter().partition(|r| told(r.0));
    if rows.is_empty() {
        page.line(0, 0, "Nothing that the table of retention factors knows of.");
    }
    for (n, raw, cooked, left) in &rows {
        page.row(
            0,
            &[
                Cell::left(n.name(), 26),
                Cell::right(&amount::nutrient(*n, *raw), 12),
                Cell::left("->", 2),
                Cell::right(&amount::nutrient(*n, *cooked), 12),
                Cell::right(&format!("{} left", amount::percent(*left)), 12),
            ],
        );
    }
    if !forms.is_empty() {
        page.line(
            0,
            0,
            &format!(
                "And {} forms and parts of these; `--format json` has all.",
                forms.len()
            ),
        );
    }
    let boiled = s.dish.boiled_off() / s.dish.servings;
    if boiled > 0.0 {
        page.line(0, 0, &format!("Water boiled off: {}.", amount::grams(boiled)));
    }
    page.line(
        0,
        0,
        "USDA Table of Nutrient Retention Factors, Release 6. Nutrients that it does not list count as kept.",
    );
}

fn cost(page: &mut Page, s: &Shown, list: &PriceList) {
    page.heading("Cost, of what is eaten");
    let c = s.cost(list);
    match (c.serving, s.batch(c.serving)) {
        (Some(one), Some(batch)) => page.line(
            0,
            2,
            &format!(
                "A serving {}, a batch {}.",
                amount::price(one, Some(list.currency)),
                amount::price(batch, Some(list.currency))
            ),
        ),
        _ => page.line(
            0,
            2,
            &format!("Not known: no price for {}.", c.missing.join(", ")),
        ),
    }
    if !c.invented.is_empty() {
        page.line(
            0,
            2,
            &format!(
                "Invented prices, since no published one was found: {}.",
                c.invented.join(", ")
            ),
        );
    }
}

/// A dish as JSON.
pub fn show_json(s: &Shown) -> Value {
    let (i, d) = (s.item, s.dish);
    let held = serving(s.table, i);
    let recommended = recommended();
    let ingredients: Vec<Value> = d
        .ingredients
        .iter()
        .map(|r| {
            json!({
                "food": r.food.as_str(),
                "name": s.name(r),
                "product": s.catalogue.ingredients.get(&r.food).map(|x| x.product.clone()),
                "grams": number(r.grams),
                "absorbed_grams": r.absorbed.map(number),
                "fat_lost_grams": number(r.fat_lost),
                "cooking": r.cooking,
                "cooking_words": s.way(r),
                "serving_grams": number(r.eaten() / d.servings),
            })
        })
        .collect();
    let nutrients: Map<String, Value> = Nutrient::all()
        .map(|n| {
            let k = n.index();
            let known = held.known[k];
            let share = recommended
                .iter()
                .find(|(m, _)| *m == n)
                .map(|(_, v)| held.cooked[k] / v);
            let told = |v: f64| if known > 0.0 { number(v) } else { Value::Null };
            let entry = json!({
                "unit": n.unit().symbol(),
                "amount": told(held.cooked[k]),
                "raw": told(held.raw[k]),
                "known": number(known),
                "share": share.map_or(Value::Null, told),
            });
            (n.id().to_string(), entry)
        })
        .collect();
    let cost = s.prices.map(|list| {
        let c = s.cost(list);
        json!({
            "currency": list.currency.code().to_string(),
            "serving": money(c.serving),
            "batch": money(s.batch(c.serving)),
            "invented": c.invented,
            "missing": c.missing,
        })
    });
    json!({
        "schema": SCHEMA,
        "id": i.id,
        "name": i.name,
        "source": d.source,
        "serving": i.serving,
        "serving_grams": number(i.serving_grams()),
        "servings": number(d.servings),
        "cooked_grams": number(d.cooked),
        "water_grams": number(d.water),
        "boiled_off_grams": number(d.boiled_off()),
        "yield": number(d.cooked / d.mass_in()),
        "ingredients": ingredients,
        "method": d.method,
        "minutes": number(i.minutes),
        "total_minutes": number(d.total_minutes),
        "keeps_days": d.keeps_days,
        "batch": d.batch,
        "roles": i.roles,
        "kinds": i.kinds,
        "slots": i.slots,
        "regions": i.regions,
        "group": i.group,
        "contains": s.catalogue.contains(i),
        "diets": s.catalogue.fits(i).iter().map(|r| r.id.as_str()).collect::<Vec<_>>(),
        "nutrients": nutrients,
        "cost": cost,
    })
}
