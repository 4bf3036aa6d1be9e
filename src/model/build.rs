//! Builds the model of a plan: items x forms x slots x days, targets, prices, rules.
//!
//! Takes a brief, its energy and targets, a kitchen with its foods and prices; gives a [`Built`].
//! What it leaves out (no price, not allowed, unknown contents) it names.

use super::{
    Choice, Class, Column, Distinct, Form, Goal, LARGEST_FIRST, Model, Objective, Over, Pantry, Part, Row,
};
use crate::brief::{self, Amount, Brief, Read, Scope};
use crate::diagnostic::{Diagnostic, any_error};
use crate::foods::{FoodId, FoodTable};
use crate::kitchen::retention::{add, held};
use crate::kitchen::{self, Catalogue, Item, Kitchen, Rule};
use crate::nutrient::Nutrient;
use crate::prices::PriceList;
use crate::targets::{Strength, Target};
use itertools::Itertools;
use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};
use std::ops::Range;

/// Everything a plan is built from.
#[derive(Clone, Copy)]
pub struct Pieces<'a> {
    /// The brief.
    pub brief: &'a Brief,
    /// Energy to eat, kcal a day.
    pub intake_kcal: f64,
    /// Floors and ceilings.
    pub targets: &'a [Target],
    /// The region's kitchen.
    pub kitchen: &'a Kitchen,
    /// Items and what they are made of.
    pub catalogue: &'a Catalogue,
    /// Nutrients.
    pub table: &'a FoodTable,
    /// Prices, when there are any.
    pub prices: Option<&'a PriceList>,
}

/// A model with what it was built from and what it left out.
#[derive(Clone, Debug)]
pub struct Built {
    /// The model; `Column::item` is a position in the catalogue's items.
    pub model: Model,
    /// Items left out for want of a price.
    pub without_price: Vec<String>,
    /// Warnings.
    pub warnings: Vec<Diagnostic>,
    /// For each target: rows of the model that stand for it.
    pub target_rows: Vec<Vec<usize>>,
}

/// How much of each product one serving takes, grams as bought.
pub fn bought(catalogue: &Catalogue, item: &Item) -> Vec<(String, f64)> {
    catalogue.bought(item)
}

/// Nutrient amounts of one serving, after cooking: unknown counts as nothing.
pub fn serving_amounts(table: &FoodTable, item: &Item) -> Vec<f64> {
    let mut sum = vec![0.0; Nutrient::COUNT];
    for c in &item.foods {
        if let Some(amounts) = held(table, &FoodId::new(c.food.as_str()), c.grams, c.cooking.as_ref()) {
            add(&mut sum, &amounts);
        }
    }
    sum
}

/// Food groups of the table whose foods count as fruit or vegetables.
const PLANT_GROUPS: [&str; 2] = ["Fruits and Fruit Juices", "Vegetables and Vegetable Products"];
/// Foods of these groups that do not count: starchy roots and tubers (WHO), and juices.
const NOT_COUNTED: [&str; 6] = ["potato", "cassava", "yam", "taro", "arrowroot", "juice"];

/// Fruit and vegetables in one serving of an item, by its foods: roots, tubers and juices excluded. Those of
/// a dish are counted raw, as they are bought and as the advice counts them. \[g\]
pub fn fruit_and_vegetables(table: &FoodTable, item: &Item) -> f64 {
    let counts = |id: &str| {
        table.kept(&FoodId::new(id)).is_some_and(|f| {
            let name = f.name.to_lowercase();
            let head = name.split(',').next().unwrap_or_default();
            PLANT_GROUPS.contains(&f.group.as_str()) && !NOT_COUNTED.iter().any(|w| head.contains(w))
        })
    };
    item.foods
        .iter()
        .filter(|c| counts(&c.food))
        .map(|c| c.grams)
        .sum()
}

/// The items that a dislike rules out: those with that id or name (one kitchen's id may be another's name), else every
/// item that names the word in its own name, family, foods or products, whether one or many of it.
pub fn disliked(c: &Catalogue, word: &str) -> Vec<usize> {
    let called = |(_, i): &(usize, &Item)| i.id == word || i.name.to_lowercase() == word;
    let exact: Vec<usize> = c
        .items
        .iter()
        .enumerate()
        .filter(called)
        .map(|(n, _)| n)
        .collect();
    if !exact.is_empty() {
        return exact;
    }
    let stem = |w: &str| w.trim_end_matches('s').to_string();
    let wanted: Vec<String> = word
        .split(|x: char| !x.is_alphanumeric())
        .filter(|w| !w.is_empty())
        .map(stem)
        .collect();
    let names = |text: &str| {
        let text = text.to_lowercase();
        let have: Vec<String> = text.split(|x: char| !x.is_alphanumeric()).map(stem).collect();
        !wanted.is_empty() && wanted.iter().all(|w| have.contains(w))
    };
    let holds = |i: &Item| {
        names(&i.name)
            || names(&i.group)
            || i.foods.iter().any(|f| {
                f.food == word
                    || c.ingredients
                        .get(&FoodId::new(f.food.as_str()))
                        .is_some_and(|g| names(&g.short) || names(&g.product))
            })
    };
    c.items
        .iter()
        .enumerate()
        .filter(|(_, i)| holds(i))
        .map(|(n, _)| n)
        .collect()
}

/// The id of a product: by id or name in any case, by a food bought as it, or by an item made of it alone.
pub fn product(catalogue: &Catalogue, word: &str) -> Option<String> {
    let found = catalogue
        .products
        .values()
        .find(|x| x.id.eq_ignore_ascii_case(word) || x.name.eq_ignore_ascii_case(word));
    let other = || {
        let item = catalogue
            .find_item(word)
            .map_or(word, |i| catalogue.items[i].id.as_str());
        catalogue.product_of(item)
    };
    found.or_else(other).map(|x| x.id.clone())
}

/// What is at home by product, each once. \[g as bought\]
pub fn at_home(brief: &Brief, catalogue: &Catalogue) -> BTreeMap<String, f64> {
    let mut all = BTreeMap::new();
    for e in &brief.pantry {
        if let Some(id) = product(catalogue, &e.what.value) {
            *all.entry(id).or_default() += e.grams;
        }
    }
    all
}

/// The diets and allergens of a brief as rules, with `diet` or `allergy`; words that no rule has are left
/// out.
pub fn rules_of<'c>(brief: &Brief, c: &'c Catalogue) -> Vec<(&'static str, &'c Rule)> {
    let of = |what, list: &[Read<String>], rules: &'c [Rule]| -> Vec<(&'static str, &'c Rule)> {
        let named = list.iter().filter_map(|d| rules.iter().find(|r| r.id == d.value));
        named.map(|r| (what, r)).collect()
    };
    let mut all = of("diet", &brief.diets, &c.diets);
    all.extend(of("allergy", &brief.allergies, &c.allergens));
    all
}

/// Why a rule refuses what holds these flags, alone; `None` when it may be eaten. Unknown contents are
/// refused.
pub fn breach(rule: &Rule, has: Option<&BTreeSet<String>>) -> Option<String> {
    let Some(has) = has else {
        return Some("its contents are not on record".into());
    };
    if let Some(flag) = rule.excludes.iter().find(|f| has.contains(*f)) {
        return Some(format!("it holds {}", flag.replace('_', " ")));
    }
    let of = |group: &[String]| group.iter().find(|f| has.contains(*f)).cloned();
    match rule.apart.as_slice() {
        [a, b] => of(a)
            .zip(of(b))
            .map(|(a, b)| format!("it holds both {a} and {b}")),
        _ => None,
    }
}

/// The day, from 0, of the pot that a dish is eaten from on a day: the latest cooking day on which a batch of
/// it was
/// cooked and from which it still keeps. `None` when it is no batch dish, the brief names no days to cook, or
/// none fits.
pub fn pot(brief: &Brief, item: &Item, day: usize) -> Option<usize> {
    let dish = item.dish.as_ref().filter(|d| d.batch)?;
    let cooking = brief.cooking.as_ref()?;
    let cooked = cooking
        .days
        .iter()
        .map(|&d| d as usize - 1)
        .rfind(|&d| d <= day)?;
    (day - cooked <= dish.keeps_days as usize).then_some(cooked)
}

/// Servings of the smallest batch: half a recipe where that is a whole number of steps, else a recipe. A
/// design choice.
pub fn batch(item: &Item) -> Option<f64> {
    let servings = item.dish.as_ref().filter(|d| d.batch)?.servings;
    let whole = |v: f64| v >= item.step && (v / item.step - (v / item.step).round()).abs() < 1e-6;
    Some(
        [servings / 2.0, servings]
            .into_iter()
            .find(|v| whole(*v))
            .unwrap_or_else(|| (servings / item.step).round().max(1.0) * item.step),
    )
}

/// Hands-on minutes of an item on a day without time to cook: none when it comes from a pot.
fn quick(brief: &Brief, item: &Item, day: usize) -> f64 {
    if pot(brief, item, day).is_some() {
        0.0
    } else {
        item.minutes
    }
}

/// A form of the kitchen as it can be filled: the positions of the items of each part.
struct Shape {
    form: usize,
    name: String,
    parts: Vec<Vec<usize>>,
}

struct Builder<'a> {
    p: Pieces<'a>,
    model: Model,
    problems: Vec<Diagnostic>,
    without_price: Vec<String>,
    amounts: Vec<Option<Vec<f64>>>,
    prices: Vec<Option<f64>>,
    twins: HashMap<String, usize>,
    /// Of each day: days of one class are alike.
    classes: Vec<String>,
    names: HashSet<String>,
    /// Where the columns of each choice begin: they stand in the order of choices, and those in the order of
    /// days.
    starts: Vec<usize>,
    /// Whether one day stands for all that are alike.
    once: bool,
    /// Of each day how many days it stands for: 1, or none when another stands for it.
    stands_for: Vec<f64>,
}

/// A meal's weight window around a share that the brief sets itself: 25 % either way, a design choice.
const OWN_SHARE_WINDOW: f64 = 0.25;
/// Fruit and vegetables a day, grams, roots and tubers excluded: WHO fact sheet "Healthy diet", 2020.
pub const FRUIT_AND_VEGETABLES_G: f64 = 400.0;
/// How often a liked item should come in a week. A design choice.
const LIKED_TIMES: u32 = 3;

/// How often a liked item should come in the days of a brief.
pub fn liked_times(brief: &Brief, item: &Item) -> f64 {
    let times = f64::from(LIKED_TIMES.min(item.times));
    (times * f64::from(brief.days) / 7.0).ceil().max(1.0)
}

/// The name of the row that asks for a liked item.
pub fn like_row(item: &Item) -> String {
    format!("like_{}", item.id)
}

/// Builds the model.
///
/// # Errors
/// Ids in the brief that no kitchen, item, diet or slot has, and slots that nothing allowed can fill.
pub fn build(p: Pieces) -> Result<Built, Vec<Diagnostic>> {
    built(p, false)
}

/// As [`build`], with one day in the place of all that are alike. Its merged program is that of [`build`], sooner; it
/// holds no plan.
///
/// # Errors
/// As [`build`].
pub fn alike(p: Pieces) -> Result<Built, Vec<Diagnostic>> {
    built(p, true)
}

fn built(p: Pieces, once: bool) -> Result<Built, Vec<Diagnostic>> {
    let mut b = Builder {
        p,
        model: Model {
            title: format!(
                "{}: {} days, {:.0} kcal a day, kitchen {}",
                p.brief.title, p.brief.days, p.intake_kcal, p.kitchen.id
            ),
            currency: p.prices.map_or("none".to_string(), |l| l.currency.to_string()),
            columns: Vec::new(),
            choices: Vec::new(),
            rows: Vec::new(),
            distinct: Vec::new(),
            pantry: Vec::new(),
            budget: None,
            objective: Objective {
                id: "cost",
                unit: String::new(),
                cost: true,
                linear: Vec::new(),
                goals: Vec::new(),
                largest: 0.0,
                keep: None,
            },
        },
        problems: Vec::new(),
        without_price: Vec::new(),
        amounts: vec![None; p.catalogue.items.len()],
        prices: vec![None; p.catalogue.items.len()],
        twins: HashMap::new(),
        classes: Vec::new(),
        names: HashSet::new(),
        starts: Vec::new(),
        once,
        stands_for: vec![1.0; p.brief.days as usize],
    };
    b.check_items();
    let allowed = b.allowed();
    b.columns(&allowed);
    if any_error(&b.problems) {
        b.problems
            .sort_by_key(|d| d.spans.first().map_or(0, |s| s.range.start));
        b.problems.dedup();
        return Err(b.problems);
    }
    let target_rows = b.target_rows();
    b.rules();
    b.pantry_and_budget();
    b.objective();
    if any_error(&b.problems) {
        return Err(b.problems);
    }
    Ok(Built {
        model: b.model,
        without_price: b.without_price,
        warnings: b.problems,
        target_rows,
    })
}

impl<'a> Builder<'a> {
    fn twin(&mut self, key: String) -> usize {
        let n = self.twins.len();
        *self.twins.entry(key).or_insert(n)
    }

    /// The twin of a row that not every alike day has: none when days offer different things.
    fn often(&mut self, key: String) -> Option<usize> {
        self.p.brief.cooking.is_none().then(|| self.twin(key))
    }

    /// The columns of a choice.
    fn of_choice(&self, choice: usize) -> Range<usize> {
        let end = self.starts.get(choice + 1);
        self.starts[choice]..end.copied().unwrap_or(self.model.columns.len())
    }

    /// The columns of a day.
    fn of_day(&self, day: usize) -> Range<usize> {
        let choices = &self.model.choices;
        let at = |day| match choices.partition_point(|c: &Choice| c.day < day) {
            n if n < choices.len() => self.starts[n],
            _ => self.model.columns.len(),
        };
        at(day)..at(day + 1)
    }

    fn amount(&mut self, item: usize) -> &[f64] {
        let p = self.p;
        self.amounts[item].get_or_insert_with(|| serving_amounts(p.table, &p.catalogue.items[item]))
    }

    /// Every name of an item or product in the brief must be known, all mistakes at once.
    fn check_items(&mut self) {
        let p = self.p;
        let items = p.brief.likes.iter().chain(p.brief.usual.iter().map(|u| &u.item));
        for word in items {
            if p.catalogue.item_of(&word.value, &p.kitchen.id).is_none() {
                let near = p.catalogue.nearest_item(&word.value).map(str::to_string);
                self.unknown("item", word, near.as_deref());
            }
        }
        for e in &p.brief.pantry {
            if product(p.catalogue, &e.what.value).is_none() {
                let ids = p.catalogue.products.keys().map(String::as_str);
                let near = crate::diagnostic::suggestion(&e.what.value, ids).map(str::to_string);
                self.unknown("product", &e.what, near.as_deref());
            }
        }
    }

    fn unknown(&mut self, what: &str, read: &Read<String>, near: Option<&str>) {
        let help = near.map_or_else(
            || "see what there is with `foods find` or in docs/catalogue.md".to_string(),
            |n| format!("did you mean `{n}`?"),
        );
        self.problems.push(
            Diagnostic::error(
                "brief-unknown-id",
                format!(
                    "`{}` is no {what} of the `{}` kitchen",
                    read.value, self.p.kitchen.id
                ),
            )
            .at(read.span.clone(), format!("unknown {what}"))
            .help(help),
        );
    }

    /// Items by position: allowed by diet, allergies, dislikes and price.
    fn allowed(&mut self) -> Vec<bool> {
        let p = self.p;
        let c = p.catalogue;
        for (list, rules, what) in [
            (&p.brief.diets, &c.diets, "diet"),
            (&p.brief.allergies, &c.allergens, "allergen"),
        ] {
            for d in list.iter().filter(|d| !rules.iter().any(|r| r.id == d.value)) {
                let near = crate::diagnostic::suggestion(&d.value, rules.iter().map(|r| r.id.as_str()));
                self.unknown(what, d, near);
            }
        }
        let rules = rules_of(p.brief, c);
        let mut never: BTreeSet<usize> = BTreeSet::new();
        for d in &p.brief.dislikes {
            let word = d.value.to_lowercase();
            let hits = disliked(c, &word);
            if hits.is_empty() {
                let near = crate::diagnostic::suggestion(
                    &word,
                    c.items
                        .iter()
                        .map(|i| i.id.as_str())
                        .chain(c.products.keys().map(String::as_str)),
                );
                self.unknown("item or product", d, near);
            }
            never.extend(hits);
        }
        let money = p.brief.budget.is_some() || p.brief.objective == brief::Objective::Cost;
        let mut ok = Vec::with_capacity(c.items.len());
        for (n, item) in c.items.iter().enumerate() {
            let cost = self.item_price(item);
            self.prices[n] = cost;
            let mut good = item.regions.contains(&p.kitchen.id)
                && !never.contains(&n)
                && (rules.is_empty() || {
                    let has = c.contains(item);
                    rules.iter().all(|(_, r)| breach(r, has.as_ref()).is_none())
                });
            if good && money && cost.is_none() {
                self.without_price.push(item.name.clone());
                good = false;
            }
            ok.push(good);
        }
        ok
    }

    /// Price of a serving; `None` when any part of it has none.
    /// What a serving costs for all who eat: the plates are the person's, the bill is the household's.
    fn item_price(&self, item: &Item) -> Option<f64> {
        let list = self.p.prices?;
        let portions = self.p.brief.portions();
        bought(self.p.catalogue, item)
            .iter()
            .map(|(product, grams)| list.prices.get(product).map(|x| x.per_gram() * grams * portions))
            .sum()
    }

    fn name(&mut self, base: String) -> String {
        let clean: String = base
            .chars()
            .map(|c| {
                if c.is_ascii_alphanumeric() || c == '_' {
                    c
                } else {
                    '_'
                }
            })
            .collect();
        let mut name = clean.clone();
        let mut n = 2;
        while !self.names.insert(name.clone()) {
            name = format!("{clean}_{n}");
            n += 1;
        }
        name
    }

    /// The slots planned, with their windows in shares of the day.
    fn slots(&mut self) -> Vec<(usize, f64, f64)> {
        let p = self.p;
        let mut out = Vec::new();
        for s in &p.brief.slots {
            if !p.kitchen.slots.iter().any(|k| k.id == s.slot.value) {
                let near = crate::diagnostic::suggestion(
                    &s.slot.value,
                    p.kitchen.slots.iter().map(|k| k.id.as_str()),
                );
                self.unknown("slot", &s.slot, near);
            }
        }
        let own = |id: &str| p.brief.slots.iter().find(|s| s.slot.value == id).map(|s| s.share);
        // Shares the brief leaves open keep their proportions in what it leaves over.
        let set: f64 = p.kitchen.slots.iter().filter_map(|s| own(&s.id)).sum();
        let open: f64 = p
            .kitchen
            .slots
            .iter()
            .filter(|s| own(&s.id).is_none())
            .map(|s| s.share / 100.0)
            .sum();
        let stretch = if p.brief.slots.is_empty() || open <= 0.0 {
            1.0
        } else {
            ((1.0 - set) / open).max(0.0)
        };
        for (n, s) in p.kitchen.slots.iter().enumerate() {
            match own(&s.id) {
                Some(0.0) => {}
                Some(share) => out.push((
                    n,
                    share * (1.0 - OWN_SHARE_WINDOW),
                    share * (1.0 + OWN_SHARE_WINDOW),
                )),
                None => out.push((
                    n,
                    s.least / 100.0 * stretch.min(1.0),
                    s.most / 100.0 * stretch.max(1.0),
                )),
            }
        }
        out
    }

    fn columns(&mut self, allowed: &[bool]) {
        let p = self.p;
        let slots = self.slots();
        let locked = |day: usize, slot: &str| {
            p.brief
                .locks
                .iter()
                .position(|l| l.slot.value == slot && l.days.contains(&(day as u32 + 1)))
        };
        for l in &p.brief.locks {
            if slots.iter().any(|s| p.kitchen.slots[s.0].id == l.slot.value) {
                continue;
            }
            if p.kitchen.slots.iter().any(|s| s.id == l.slot.value) {
                self.problems.push(
                    Diagnostic::error(
                        "brief-lock-dropped-slot",
                        format!(
                            "a meal is fixed for `{}`, a slot that the brief drops with a share of 0 %",
                            l.slot.value
                        ),
                    )
                    .at(l.slot.span.clone(), "fixed here")
                    .help("give the slot a share, or take the fixed meal out"),
                );
            } else {
                let near = crate::diagnostic::suggestion(
                    &l.slot.value,
                    p.kitchen.slots.iter().map(|k| k.id.as_str()),
                );
                self.unknown("slot", &l.slot, near);
            }
        }
        // Forms of each slot with the items that fill their parts, the same every day. Where a rule keeps two
        // groups apart in a meal, a form that could hold both becomes two shapes, one without each.
        let apart: Vec<&[Vec<String>]> = rules_of(p.brief, p.catalogue)
            .iter()
            .filter(|(_, r)| r.apart.len() == 2)
            .map(|(_, r)| r.apart.as_slice())
            .collect();
        let holds = |i: usize, group: &[String]| {
            p.catalogue
                .contains(&p.catalogue.items[i])
                .is_none_or(|has| group.iter().any(|f| has.contains(f)))
        };
        // Days on which the same may be eaten: with time to cook, or with the same pots still good.
        let days = p.brief.days as usize;
        let busy = |day: usize| {
            p.brief
                .cooking
                .as_ref()
                .is_some_and(|c| !c.days.contains(&(day as u32 + 1)))
        };
        let stands = |i: usize, day: usize| {
            !busy(day)
                || p.brief
                    .cooking
                    .as_ref()
                    .is_none_or(|c| quick(p.brief, &p.catalogue.items[i], day) <= c.quick_minutes)
        };
        let kinds: Vec<String> = (0..days)
            .map(|day| {
                let good = |i: &&Item| pot(p.brief, i, day).is_some();
                match busy(day) {
                    true => {
                        p.catalogue
                            .items
                            .iter()
                            .filter(good)
                            .map(|i| i.id.as_str())
                            .join("+")
                            + "busy"
                    }
                    false => String::new(),
                }
            })
            .collect();
        let mut menus: BTreeMap<&str, Vec<Vec<Shape>>> = BTreeMap::new();
        for (example, kind) in kinds.iter().enumerate() {
            if menus.contains_key(kind.as_str()) {
                continue;
            }
            let mut menu: Vec<Vec<Shape>> = Vec::new();
            for &(slot, ..) in &slots {
                let id = &p.kitchen.slots[slot].id;
                let mut shapes: Vec<Shape> = Vec::new();
                for (f, form) in p.kitchen.forms.iter().enumerate().filter(|(_, f)| f.slot == *id) {
                    let mut parts = p.catalogue.fill(p.kitchen, form, &|_| true);
                    for part in &mut parts {
                        part.retain(|&i| allowed[i] && stands(i, example));
                    }
                    let mut variants = vec![(form.id.clone(), parts)];
                    for groups in &apart {
                        let both = |parts: &[Vec<usize>]| {
                            groups
                                .iter()
                                .all(|g| parts.iter().flatten().any(|&i| holds(i, g)))
                        };
                        variants = variants
                            .into_iter()
                            .flat_map(|(name, parts)| {
                                if !both(&parts) {
                                    return vec![(name, parts)];
                                }
                                let without = |g: &Vec<String>| {
                                    let kept = |part: &Vec<usize>| {
                                        part.iter().copied().filter(|&i| !holds(i, g)).collect()
                                    };
                                    (format!("{name}_no_{}", g[0]), parts.iter().map(kept).collect())
                                };
                                groups.iter().map(without).collect()
                            })
                            .collect();
                    }
                    for (name, parts) in variants {
                        let full =
                            |(part, have): (&kitchen::Part, &Vec<usize>)| have.len() as u32 >= part.least;
                        if form.parts.iter().zip(&parts).all(full) {
                            shapes.push(Shape { form: f, name, parts });
                        }
                    }
                }
                let always_locked = (0..days)
                    .filter(|&d| kinds[d] == *kind)
                    .all(|d| locked(d, id).is_some());
                if shapes.is_empty() && !always_locked {
                    let unpriced = self.without_price.len();
                    let help = if !kind.is_empty() {
                        "raise `quick_minutes` of [cooking], name more days, or drop the slot with a share of \"0 %\"".to_string()
                    } else if unpriced > 0 {
                        format!(
                            "{unpriced} items have no price, and money counts: add prices, or leave out the budget and take another objective than cost. Else allow more, or drop the slot with a share of \"0 %\""
                        )
                    } else {
                        "allow more, or drop the slot with a share of \"0 %\"".to_string()
                    };
                    self.problems.push(
                        Diagnostic::error("kitchen-empty-slot", format!("no meal of the `{}` kitchen can be put together for {id} under this diet, these allergies, dislikes and prices{}", p.kitchen.id, if kind.is_empty() { "" } else { ", on a day without time to cook" }))
                            .help(help),
                    );
                }
                menu.push(shapes);
            }
            menus.insert(kind, menu);
        }
        if any_error(&self.problems) {
            return;
        }
        for day in 0..p.brief.days as usize {
            // Days with the same locked meals are alike.
            let class = slots
                .iter()
                .map(|s| locked(day, &p.kitchen.slots[s.0].id).map_or("-".to_string(), |l| l.to_string()))
                .join(",");
            let twin_day = (0..day).find(|&d| self.classes[d] == class && kinds[d] == kinds[day]);
            self.classes.push(class.clone());
            if let Some(alike) = twin_day {
                if self.once {
                    self.stands_for[alike] += 1.0;
                    self.stands_for[day] = 0.0;
                } else {
                    self.again(alike, day);
                }
                continue;
            }
            for (order, &(slot, ..)) in slots.iter().enumerate() {
                let id = p.kitchen.slots[slot].id.clone();
                let choice = self.model.choices.len();
                self.starts.push(self.model.columns.len());
                let name = format!("d{}_{id}", day + 1);
                let mut forms = Vec::new();
                let lock = locked(day, &id);
                if let Some(l) = lock.filter(|&l| !p.brief.locks[l].others) {
                    forms.push(self.locked_form(choice, &name, &class, l));
                } else {
                    let fixed = lock.map(|l| self.fixed(l)).unwrap_or_default();
                    for Shape {
                        form,
                        name: shape,
                        parts,
                    } in &menus[kinds[day].as_str()][order]
                    {
                        let form = &p.kitchen.forms[*form];
                        let here = forms.len();
                        if !fixed.iter().all(|(i, _)| parts.iter().flatten().contains(i)) {
                            continue;
                        }
                        let mut out = Vec::new();
                        for (n, part) in form.parts.iter().enumerate() {
                            let mut columns = Vec::new();
                            for &i in &parts[n] {
                                let item = &p.catalogue.items[i];
                                let steps = |servings: f64| (servings / item.step + 1e-9).floor();
                                let growth = p.catalogue.growth(item, p.intake_kcal);
                                let least = steps(item.least * growth.least).max(1.0);
                                let most = steps(item.most * growth.most).max(least);
                                let key = format!("c|{class}|{id}|{shape}|{}", item.id);
                                let (least, most, step) = match fixed.iter().find(|f| f.0 == i) {
                                    Some(&(_, servings)) => (1.0, 1.0, servings),
                                    None => (least, most, item.step),
                                };
                                let column = Column {
                                    name: self.name(format!("{name}_{shape}_{}", item.id)),
                                    choice,
                                    form: here,
                                    part: n,
                                    item: i,
                                    least: least as u16,
                                    most: most as u16,
                                    servings: step,
                                    twin: self.twin(key),
                                    cost: self.prices[i].unwrap_or(0.0) * step,
                                };
                                columns.push(self.model.columns.len());
                                self.model.columns.push(column);
                            }
                            out.push(Part {
                                least: part.least,
                                most: part.most.min(columns.len() as u32),
                                columns,
                            });
                        }
                        let twin = self.twin(format!("f|{class}|{id}|{shape}"));
                        forms.push(Form {
                            name: shape.clone(),
                            of: form.id.clone(),
                            twin,
                            parts: out,
                        });
                    }
                    if forms.is_empty()
                        && let Some(l) = lock
                    {
                        self.no_room(l);
                    }
                }
                self.model.choices.push(Choice {
                    name,
                    day,
                    slot,
                    stands_for: 1.0,
                    forms,
                });
            }
        }
        for choice in &mut self.model.choices {
            choice.stands_for = self.stands_for[choice.day];
        }
    }

    /// The meals of a day once more, for a day on which the same may be eaten.
    fn again(&mut self, alike: usize, day: usize) {
        let head = |name: &str| {
            let rest = name.split_once('_').map_or("", |(_, rest)| rest);
            format!("d{}_{rest}", day + 1)
        };
        let first = self.of_day(alike).start;
        let (from, shift) = (self.model.columns.len(), self.model.columns.len() - first);
        let choices = self
            .model
            .choices
            .iter()
            .positions(|c| c.day == alike)
            .collect_vec();
        let later = self.model.choices.len() - choices.first().copied().unwrap_or_default();
        for c in choices {
            self.starts.push(self.model.columns.len());
            for n in self.of_choice(c) {
                let column = &self.model.columns[n];
                let column = Column {
                    name: head(&column.name),
                    choice: column.choice + later,
                    ..column.clone()
                };
                self.model.columns.push(column);
            }
            let mut choice = self.model.choices[c].clone();
            (choice.name, choice.day) = (head(&choice.name), day);
            let parts = choice.forms.iter_mut().flat_map(|f| &mut f.parts);
            parts.flat_map(|p| &mut p.columns).for_each(|n| *n += shift);
            self.model.choices.push(choice);
        }
        debug_assert_eq!(self.model.columns.len() - from, self.of_day(alike).len());
    }

    /// The items that a lock fixes beside others, with their servings.
    fn fixed(&mut self, lock: usize) -> Vec<(usize, f64)> {
        let p = self.p;
        let mut out = Vec::new();
        for (what, amount) in &p.brief.locks[lock].items {
            let Some(i) = p.catalogue.item_of(&what.value, &p.kitchen.id) else {
                let near = p.catalogue.nearest_item(&what.value).map(str::to_string);
                self.unknown("item", what, near.as_deref());
                continue;
            };
            let servings = match *amount {
                Amount::Servings(s) => s,
                Amount::Grams(g) => g / p.catalogue.items[i].serving_grams(),
            };
            out.push((i, servings));
        }
        out
    }

    /// No meal of the kitchen has room for what a lock fixes beside others.
    fn no_room(&mut self, lock: usize) {
        let lock = &self.p.brief.locks[lock];
        let names = lock
            .items
            .iter()
            .map(|(i, _)| format!("`{}`", i.value))
            .join(" and ");
        let place = lock
            .items
            .first()
            .map_or(lock.span.clone(), |(i, _)| i.span.clone());
        let problem = Diagnostic::error(
            "brief-lock-no-room",
            format!(
                "no meal that may be planned for {} holds {names}",
                lock.slot.value
            ),
        )
        .at(place, "fixed here")
        .help(
            "leave `others` out to fix the whole meal, or look whether diet, dislikes or prices leave it out",
        );
        if !self.problems.iter().any(|d| d.message == problem.message) {
            self.problems.push(problem);
        }
    }

    fn locked_form(&mut self, choice: usize, name: &str, class: &str, lock: usize) -> Form {
        let p = self.p;
        let mut parts = Vec::new();
        for (n, (what, amount)) in p.brief.locks[lock].items.iter().enumerate() {
            let what_span = &what.span;
            let Some(i) = p.catalogue.item_of(&what.value, &p.kitchen.id) else {
                let near = p.catalogue.nearest_item(&what.value).map(str::to_string);
                self.unknown("item", what, near.as_deref());
                continue;
            };
            let item = &p.catalogue.items[i];
            let has = p.catalogue.contains(item);
            for (what, rule) in rules_of(p.brief, p.catalogue) {
                if let Some(why) = breach(rule, has.as_ref()) {
                    self.problems.push(
                        Diagnostic::error(
                            "brief-lock-diet",
                            format!(
                                "`{}` is fixed in a meal, and the {what} `{}` refuses it: {why}",
                                item.id, rule.id
                            ),
                        )
                        .at(what_span.clone(), "fixed here")
                        .help("fix another item, or take the rule out of the brief"),
                    );
                }
            }
            let servings = match *amount {
                Amount::Servings(s) => s,
                Amount::Grams(g) => g / item.serving_grams(),
            };
            let column = Column {
                name: self.name(format!("{name}_locked_{}", item.id)),
                choice,
                form: 0,
                part: n,
                item: i,
                least: 1,
                most: 1,
                servings,
                twin: self.twin(format!(
                    "c|{class}|{}|locked|{}|{n}",
                    p.brief.locks[lock].slot.value, item.id
                )),
                cost: self.prices[i].unwrap_or(0.0) * servings,
            };
            parts.push(Part {
                least: 1,
                most: 1,
                columns: vec![self.model.columns.len()],
            });
            self.model.columns.push(column);
        }
        let twin = self.twin(format!("f|{class}|{}|locked", p.brief.locks[lock].slot.value));
        Form {
            name: "locked".into(),
            of: "locked".into(),
            twin,
            parts,
        }
    }

    /// The amounts of a nutrient in a run of columns.
    fn terms(&mut self, nutrient: Nutrient, columns: Range<usize>) -> Vec<(usize, f64)> {
        let mut out = Vec::with_capacity(columns.len());
        for n in columns {
            let c = &self.model.columns[n];
            let (item, servings) = (c.item, c.servings);
            let k = self.amount(item)[nutrient.index()] * servings;
            if k != 0.0 {
                out.push((n, k));
            }
        }
        out
    }

    fn target_rows(&mut self) -> Vec<Vec<usize>> {
        let p = self.p;
        let days = p.brief.days as usize;
        let classes: Vec<String> = self.classes.clone();
        let mut all = Vec::new();
        for t in p.targets {
            let mut rows = Vec::new();
            let group = match t.strength {
                Strength::Must => t.id.clone(),
                Strength::Should => format!("reference {}", t.id),
            };
            let mut push = |b: &mut Self,
                            name: String,
                            terms: Vec<(usize, f64)>,
                            (times, stands_for): (f64, f64),
                            twin: usize| {
                rows.push(b.model.rows.len());
                b.model.rows.push(Row {
                    name,
                    group: group.clone(),
                    over: Over::Amount,
                    terms,
                    floor: t.floor.map(|f| f * times),
                    ceiling: t.ceiling.map(|f| f * times),
                    unit: t.nutrient.unit().symbol().to_string(),
                    reason: format!("{} ({})", t.reason, t.source),
                    class: match t.strength {
                        Strength::Must => Class::Must,
                        Strength::Should => Class::Should,
                    },
                    from_brief: t.from_brief,
                    twin: Some(twin),
                    stands_for,
                    whole: None,
                });
            };
            match t.scope {
                Scope::Mean => {
                    let terms = self.terms(t.nutrient, 0..self.model.columns.len());
                    let twin = self.twin(format!("r|{}", t.id));
                    push(self, t.id.clone(), terms, (days as f64, 1.0), twin);
                }
                Scope::Day => {
                    for (d, class) in classes.iter().enumerate() {
                        let stands_for = self.stands_for[d];
                        if stands_for == 0.0 {
                            continue;
                        }
                        let terms = self.terms(t.nutrient, self.of_day(d));
                        let twin = self.twin(format!("r|{}|{class}", t.id));
                        push(
                            self,
                            format!("{}_d{}", t.id, d + 1),
                            terms,
                            (1.0, stands_for),
                            twin,
                        );
                    }
                }
                Scope::Meal => {
                    for c in 0..self.model.choices.len() {
                        let (day, slot) = (self.model.choices[c].day, self.model.choices[c].slot);
                        if !p.kitchen.slots[slot].main {
                            continue;
                        }
                        let terms = self.terms(t.nutrient, self.of_choice(c));
                        let twin = self.twin(format!("r|{}|{}|{slot}", t.id, classes[day]));
                        push(
                            self,
                            format!("{}_{}", t.id, self.model.choices[c].name),
                            terms,
                            (1.0, self.stands_for[day]),
                            twin,
                        );
                    }
                }
            }
            all.push(rows);
        }
        all
    }

    #[allow(clippy::too_many_arguments)]
    fn rule(
        &mut self,
        name: String,
        group: &str,
        over: Over,
        terms: Vec<(usize, f64)>,
        floor: Option<f64>,
        ceiling: Option<f64>,
        unit: &str,
        reason: String,
        twin: Option<usize>,
    ) {
        let class = if group == "likes" || group.starts_with("reference") {
            Class::Should
        } else {
            Class::Must
        };
        let from_brief = matches!(group, "likes" | "cooking" | "locked meals");
        self.model.rows.push(Row {
            name,
            group: group.into(),
            over,
            terms,
            floor,
            ceiling,
            unit: unit.into(),
            reason,
            class,
            from_brief,
            twin,
            stands_for: 1.0,
            whole: None,
        });
    }

    /// The row just written is that of a day, and stands for as many as the day does.
    fn of_a_day(&mut self, day: usize) {
        let stands_for = self.stands_for[day];
        if let Some(row) = self.model.rows.last_mut() {
            row.stands_for = stands_for;
        }
    }

    /// Meals that these columns stand for, each by itself.
    fn meals(&self, columns: &[usize]) -> f64 {
        let of = |&c: &usize| self.model.choices[self.model.columns[c].choice].stands_for;
        columns.iter().map(of).sum()
    }

    fn rules(&mut self) {
        let p = self.p;
        let days = p.brief.days as usize;
        let weeks = days as f64 / 7.0;
        let a_week = |times: u32| (f64::from(times) * weeks).ceil().max(1.0);
        let classes: Vec<String> = self.classes.clone();
        // Meal sizes.
        let windows = self.slots();
        for c in 0..self.model.choices.len() {
            let (day, slot) = (self.model.choices[c].day, self.model.choices[c].slot);
            let Some(&(_, lo, hi)) = windows.iter().find(|w| w.0 == slot) else {
                continue;
            };
            if self.model.choices[c].forms.iter().all(|f| f.of == "locked") {
                continue;
            }
            let terms = self.terms(Nutrient::ENERGY, self.of_choice(c));
            let twin = self.twin(format!("r|size|{slot}|{}", classes[day]));
            let name = format!("size_{}", self.model.choices[c].name);
            self.rule(
                name,
                "meal sizes",
                Over::Amount,
                terms,
                Some(lo * p.intake_kcal),
                Some(hi * p.intake_kcal),
                "kcal",
                format!(
                    "{} is {:.0} to {:.0} % of the day",
                    p.kitchen.slots[slot].name,
                    lo * 100.0,
                    hi * 100.0
                ),
                Some(twin),
            );
            self.of_a_day(day);
        }
        // What the brief fixes beside others is there.
        for c in 0..self.model.choices.len() {
            let (day, slot) = (self.model.choices[c].day, self.model.choices[c].slot);
            let id = &p.kitchen.slots[slot].id;
            let here =
                |l: &&brief::Lock| l.others && l.slot.value == *id && l.days.contains(&(day as u32 + 1));
            let Some(lock) = p.brief.locks.iter().find(here) else {
                continue;
            };
            for i in lock
                .items
                .iter()
                .filter_map(|(what, _)| p.catalogue.item_of(&what.value, &p.kitchen.id))
            {
                let columns = self.model.columns.iter().enumerate();
                let terms = columns
                    .filter(|(_, k)| k.choice == c && k.item == i)
                    .map(|(n, _)| (n, 1.0))
                    .collect();
                let item = &p.catalogue.items[i];
                let name = format!("locked_{}_{}", self.model.choices[c].name, item.id);
                let twin = self.twin(format!("r|locked|{slot}|{}|{i}", classes[day]));
                let reason = format!("{} is fixed in the brief", item.name);
                self.rule(
                    name,
                    "locked meals",
                    Over::Use,
                    terms,
                    Some(1.0),
                    None,
                    "times",
                    reason,
                    Some(twin),
                );
                self.of_a_day(day);
            }
        }
        // Columns by item, and by item and day.
        let mut by_item: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for (n, c) in self.model.columns.iter().enumerate() {
            if self.model.choices[c.choice].forms[c.form].of != "locked" {
                by_item.entry(c.item).or_default().push(n);
            }
        }
        for (&i, columns) in &by_item {
            let item = &p.catalogue.items[i];
            let growth = p.catalogue.growth(item, p.intake_kcal);
            let often = ["staple", "drink", "fat", "condiment"]
                .iter()
                .any(|r| item.has_role(r));
            let a_day: u32 = if often { 2 } else { 1 };
            let times = item
                .times
                .min(7 / (item.gap + 1) + u32::from(7 % (item.gap + 1) > 0));
            // An item eaten once a day stands on as many days as it has uses.
            let most = a_week(times) * f64::from(if times >= 7 { a_day } else { 1 });
            if self.meals(columns) > most {
                let twin = self.twin(format!("r|times|{}", item.id));
                let terms = columns.iter().map(|&c| (c, 1.0)).collect();
                self.rule(
                    format!("times_{}", item.id),
                    "repeats",
                    Over::Use,
                    terms,
                    None,
                    Some(most),
                    "times",
                    format!("{} at most {times} days a week", item.name),
                    Some(twin),
                );
            }
            let mut by_day: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
            for &c in columns {
                by_day
                    .entry(self.model.choices[self.model.columns[c].choice].day)
                    .or_default()
                    .push(c);
            }
            for (&d, cs) in &by_day {
                let meals = cs.iter().map(|&c| self.model.columns[c].choice).unique().count();
                if meals > a_day as usize {
                    let twin = self.often(format!("r|daily|{}|{}", item.id, classes[d]));
                    let terms = cs.iter().map(|&c| (c, 1.0)).collect();
                    self.rule(
                        format!("daily_{}_d{}", item.id, d + 1),
                        "repeats",
                        Over::Use,
                        terms,
                        None,
                        Some(f64::from(a_day)),
                        "times",
                        format!("{} at most {a_day} times a day", item.name),
                        twin,
                    );
                    self.of_a_day(d);
                }
                let cap = item.most_per_day * growth.most_per_day;
                if meals > 1 && a_day > 1 && item.most * growth.most * 2.0 > cap {
                    let twin = self.often(format!("r|per_day|{}|{}", item.id, classes[d]));
                    let terms = cs.iter().map(|&c| (c, self.model.columns[c].servings)).collect();
                    self.rule(
                        format!("per_day_{}_d{}", item.id, d + 1),
                        "repeats",
                        Over::Amount,
                        terms,
                        None,
                        Some(cap),
                        "servings",
                        format!("{} at most {cap:.1} servings a day", item.name),
                        twin,
                    );
                    self.of_a_day(d);
                }
                // No merged program has it, nor that of whole batches below.
                if item.gap > 0 && !self.once {
                    let near: Vec<(usize, f64)> = (d..=d + item.gap as usize)
                        .filter_map(|e| by_day.get(&e))
                        .flatten()
                        .map(|&c| (c, 1.0))
                        .collect();
                    if near.len() > cs.len() {
                        self.rule(
                            format!("gap_{}_d{}", item.id, d + 1),
                            "repeats",
                            Over::Use,
                            near,
                            None,
                            Some(1.0),
                            "times",
                            format!("{} days between two times {}", item.gap, item.name),
                            None,
                        );
                    }
                }
            }
        }
        // A family of main foods at most twice a day, and not at two meals of a day in the same shape.
        let mut families: BTreeMap<(&str, usize), Vec<usize>> = BTreeMap::new();
        for (n, c) in self.model.columns.iter().enumerate() {
            let item = &p.catalogue.items[c.item];
            if item.has_role("protein") || item.has_role("legume") {
                families
                    .entry((item.group.as_str(), self.model.choices[c.choice].day))
                    .or_default()
                    .push(n);
            }
        }
        for ((group, d), cs) in families {
            if cs.iter().map(|&c| self.model.columns[c].choice).unique().count() > 2 {
                let twin = self.often(format!("r|family|{group}|{}", classes[d]));
                self.rule(
                    format!("family_{group}_d{}", d + 1),
                    "repeats",
                    Over::Use,
                    cs.iter().map(|&c| (c, 1.0)).collect(),
                    None,
                    Some(2.0),
                    "times",
                    format!("{group} at most twice a day"),
                    twin,
                );
                self.of_a_day(d);
            }
        }
        // Forms a week.
        let mut forms: BTreeMap<(usize, String), Vec<usize>> = BTreeMap::new();
        for (c, choice) in self.model.choices.iter().enumerate() {
            for (f, form) in choice.forms.iter().enumerate() {
                forms
                    .entry((choice.slot, form.of.clone()))
                    .or_default()
                    .push(c * 256 + f);
            }
        }
        for ((slot, name), at) in forms {
            let Some(form) = p
                .kitchen
                .forms
                .iter()
                .find(|f| f.id == name && f.slot == p.kitchen.slots[slot].id)
            else {
                continue;
            };
            let most = a_week(form.times);
            let meals: f64 = at.iter().map(|f| self.model.choices[f / 256].stands_for).sum();
            if meals > most {
                let twin = self.twin(format!("r|form|{slot}|{name}"));
                self.rule(
                    format!("form_times_{}_{name}", form.slot),
                    "repeats",
                    Over::Form,
                    at.into_iter().map(|i| (i, 1.0)).collect(),
                    None,
                    Some(most),
                    "times",
                    format!("{} at most {} days a week", form.name, form.times),
                    Some(twin),
                );
            }
        }
        if let Some(cooking) = &p.brief.cooking {
            self.cooking(cooking, &by_item);
        }
        // Likes.
        for l in &p.brief.likes {
            match p.catalogue.item_of(&l.value, &p.kitchen.id) {
                Some(i) if by_item.contains_key(&i) => {
                    let times = liked_times(p.brief, &p.catalogue.items[i]);
                    let twin = self.twin(format!("r|like|{i}"));
                    let terms = by_item[&i].iter().map(|&c| (c, 1.0)).collect();
                    self.rule(
                        like_row(&p.catalogue.items[i]),
                        "likes",
                        Over::Use,
                        terms,
                        Some(times),
                        None,
                        "times",
                        format!("{} is liked", p.catalogue.items[i].name),
                        Some(twin),
                    );
                }
                Some(_) => self.problems.push(
                    Diagnostic::warning(
                        "brief-like-left-out",
                        format!(
                            "`{}` is liked but cannot be planned under this diet, kitchen or price list",
                            l.value
                        ),
                    )
                    .at(l.span.clone(), "left out"),
                ),
                None => {}
            }
        }
        // Fruit and vegetables, mean of the days.
        let per_serving: HashMap<usize, f64> = by_item
            .keys()
            .map(|&i| (i, fruit_and_vegetables(p.table, &p.catalogue.items[i])))
            .collect();
        let terms: Vec<(usize, f64)> = self
            .model
            .columns
            .iter()
            .enumerate()
            .filter_map(|(n, c)| Some((n, per_serving.get(&c.item)? * c.servings)))
            .filter(|t| t.1 > 0.0)
            .collect();
        let twin = self.twin("r|fruit_and_vegetables".into());
        let floor = Some(FRUIT_AND_VEGETABLES_G * days as f64);
        let reason = "400 g of fruit and vegetables a day (WHO, Healthy diet, fact sheet, 2020)".to_string();
        self.rule(
            "fruit_and_vegetables".into(),
            "reference fruit_and_vegetables",
            Over::Amount,
            terms,
            floor,
            None,
            "g",
            reason,
            Some(twin),
        );
        self.variety();
    }

    /// Little work on days without time to cook, and whole batches of dishes that keep.
    fn cooking(&mut self, cooking: &brief::Cooking, by_item: &BTreeMap<usize, Vec<usize>>) {
        let p = self.p;
        for c in 0..self.model.choices.len() {
            let day = self.model.choices[c].day;
            if cooking.days.contains(&(day as u32 + 1)) {
                continue;
            }
            let terms: Vec<(usize, f64)> = by_item
                .iter()
                .flat_map(|(&i, columns)| columns.iter().map(move |&n| (n, i)))
                .filter(|&(n, _)| self.model.columns[n].choice == c)
                .map(|(n, i)| (n, quick(p.brief, &p.catalogue.items[i], day)))
                .filter(|t| t.1 > 0.0)
                .collect();
            if terms.is_empty() {
                continue;
            }
            self.rule(
                format!("hands_on_{}", self.model.choices[c].name),
                "cooking",
                Over::Use,
                terms,
                None,
                Some(cooking.quick_minutes),
                "min",
                format!(
                    "at most {:.0} minutes of work for a meal on a day without time to cook",
                    cooking.quick_minutes
                ),
                None,
            );
        }
        for (&i, columns) in by_item {
            let item = &p.catalogue.items[i];
            let (Some(size), Some(dish)) = (batch(item), &item.dish) else {
                continue;
            };
            let mut pots: BTreeMap<usize, Vec<(usize, f64)>> = BTreeMap::new();
            for &n in columns {
                let column = &self.model.columns[n];
                if let Some(k) = pot(p.brief, item, self.model.choices[column.choice].day) {
                    pots.entry(k).or_default().push((n, column.servings));
                }
            }
            for (k, terms) in pots {
                self.rule(
                    format!("pot_{}_d{}", item.id, k + 1),
                    "cooking",
                    Over::Amount,
                    terms,
                    None,
                    None,
                    "servings",
                    format!(
                        "{} is cooked by {size} servings, of {} to a recipe",
                        item.name, dish.servings
                    ),
                    None,
                );
                if let Some(row) = self.model.rows.last_mut() {
                    row.whole = Some(size);
                }
            }
        }
    }

    fn variety(&mut self) {
        let p = self.p;
        let v = p.kitchen.variety;
        // A week's variety; fewer days need less, in proportion above the third of it one day can hold.
        let share = ((f64::from(p.brief.days) - 1.0) / 6.0).min(1.0);
        let need = |n: u32| ((f64::from(n) * (0.3 + 0.7 * share)).floor() as u32).max(1);
        type Key = fn(&Item) -> Option<&str>;
        let kinds: Vec<(&str, u32, Key)> = vec![
            ("foods", v.foods, |i| Some(&i.id)),
            ("vegetables", v.vegetable, |i| {
                i.has_role("vegetable").then_some(&i.group)
            }),
            ("fruits", v.fruit, |i| i.has_role("fruit").then_some(&i.group)),
            ("protein_families", v.protein_groups, |i| {
                (i.has_role("protein") || i.has_role("legume")).then_some(&i.group)
            }),
        ];
        for (name, least, key) in kinds {
            let mut sets: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
            for (n, c) in self.model.columns.iter().enumerate() {
                if let Some(k) = key(&p.catalogue.items[c.item]) {
                    sets.entry(k).or_default().push(n);
                }
            }
            let least = need(least).min(sets.len() as u32);
            self.model.distinct.push(Distinct {
                name: name.into(),
                group: "variety".into(),
                sets: sets.into_values().collect(),
                least,
                reason: format!("at least {least} different {}", name.replace('_', " ")),
            });
        }
    }

    fn pantry_and_budget(&mut self) {
        let p = self.p;
        let portions = p.brief.portions();
        for (product, free) in at_home(p.brief, p.catalogue) {
            let price = p
                .prices
                .and_then(|l| l.prices.get(&product))
                .map_or(0.0, crate::prices::Price::per_gram);
            let per_item: HashMap<usize, f64> = self
                .model
                .columns
                .iter()
                .map(|c| c.item)
                .unique()
                .filter_map(|i| {
                    let all = bought(p.catalogue, &p.catalogue.items[i]);
                    all.into_iter()
                        .find(|b| b.0 == product)
                        .map(|b| (i, b.1 * portions))
                })
                .collect();
            let column = |(n, c): (usize, &Column)| Some((n, per_item.get(&c.item)? * c.servings));
            let terms = self.model.columns.iter().enumerate().filter_map(column).collect();
            self.model.pantry.push(Pantry {
                name: product,
                terms,
                free,
                price,
            });
        }
        if let Some(b) = &p.brief.budget {
            use rust_decimal::prelude::ToPrimitive;
            match p.prices {
                Some(l) if l.currency == b.currency => self.model.budget = b.amount.to_f64(),
                Some(l) => self.problems.push(
                    Diagnostic::error(
                        "brief-budget-currency",
                        format!(
                            "the budget is in {} and the price list of `{}` in {}",
                            b.currency, p.kitchen.id, l.currency
                        ),
                    )
                    .help(format!("state the budget in {}", l.currency)),
                ),
                None => self.problems.push(Diagnostic::error(
                    "brief-budget-no-prices",
                    format!(
                        "the kitchen `{}` has no price list, so a budget cannot be kept",
                        p.kitchen.id
                    ),
                )),
            }
        }
    }

    fn objective(&mut self) {
        let p = self.p;
        let days = f64::from(p.brief.days);
        let currency = self.model.currency.clone();
        let n = self.model.columns.len();
        self.model.objective = match p.brief.objective {
            brief::Objective::Cost => Objective {
                id: "cost",
                unit: currency,
                cost: true,
                linear: vec![0.0; n],
                goals: Vec::new(),
                largest: 0.0,
                keep: None,
            },
            brief::Objective::Closeness => {
                let centred: Vec<&Target> = p
                    .targets
                    .iter()
                    .filter(|t| t.centre.is_some() && t.scope != Scope::Meal)
                    .unique_by(|t| t.nutrient)
                    .collect();
                let share = (1.0 - LARGEST_FIRST) / centred.len().max(1) as f64;
                let mut goals = Vec::new();
                for t in centred {
                    let centre = t.centre.unwrap_or(0.0) * days;
                    let terms = self.terms(t.nutrient, 0..self.model.columns.len());
                    goals.push(Goal {
                        name: t.nutrient.id().into(),
                        terms,
                        centre,
                        weight: share / centre.abs().max(1e-9),
                    });
                }
                Objective {
                    id: "closeness",
                    unit: "share of the centre".into(),
                    cost: false,
                    linear: vec![0.0; n],
                    goals,
                    largest: LARGEST_FIRST,
                    keep: None,
                }
            }
            brief::Objective::Usual => {
                let total = p.intake_kcal * days;
                let mut usual: BTreeMap<usize, f64> = BTreeMap::new();
                for u in &p.brief.usual {
                    if let Some(i) = p.catalogue.item_of(&u.item.value, &p.kitchen.id) {
                        let servings = match u.amount {
                            Amount::Servings(s) => s,
                            Amount::Grams(g) => g / p.catalogue.items[i].serving_grams(),
                        };
                        let kcal = self.amount(i)[Nutrient::ENERGY.index()];
                        *usual.entry(i).or_default() += u.times * servings * kcal * days / 7.0;
                    }
                }
                let mut linear = vec![0.0; n];
                let mut goals = Vec::new();
                let energy = self.terms(Nutrient::ENERGY, 0..n);
                for &(c, k) in &energy {
                    if !usual.contains_key(&self.model.columns[c].item) {
                        linear[c] = k / total;
                    }
                }
                for (&i, &kcal) in &usual {
                    let terms = energy
                        .iter()
                        .copied()
                        .filter(|t| self.model.columns[t.0].item == i)
                        .collect();
                    goals.push(Goal {
                        name: p.catalogue.items[i].id.clone(),
                        terms,
                        centre: kcal,
                        weight: 1.0 / total,
                    });
                }
                Objective {
                    id: "usual",
                    unit: "energy moved, share of the week's".into(),
                    cost: false,
                    linear,
                    goals,
                    largest: 0.0,
                    keep: None,
                }
            }
        };
    }
}
