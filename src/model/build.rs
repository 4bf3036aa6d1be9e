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
use crate::kitchen::{Catalogue, Item, Kitchen};
use crate::nutrient::Nutrient;
use crate::prices::PriceList;
use crate::targets::{Strength, Target};
use itertools::Itertools;
use std::collections::{BTreeMap, BTreeSet, HashMap};

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

/// Largest portions by the energy of the day, against those of a 2,500-kcal day: (kcal, factor).
/// The usual-to-most columns of cooked staples, meat and legumes for 1,500, 2,500 and 4,500 kcal,
/// common practice; intermediate values on straight lines.
pub const PORTION_SCALE: [(f64, f64); 3] = [(1500.0, 0.65), (2500.0, 1.0), (4500.0, 1.65)];

/// Factor on the most of a portion for a day's energy. \[1\], 0.55 to 1.8
pub fn portion_factor(intake_kcal: f64) -> f64 {
    let [(a, fa), (b, fb), (c, fc)] = PORTION_SCALE;
    let on = |x0: f64, y0: f64, x1: f64, y1: f64| y0 + (y1 - y0) * (intake_kcal - x0) / (x1 - x0);
    let f = if intake_kcal < b {
        on(a, fa, b, fb)
    } else {
        on(b, fb, c, fc)
    };
    f.clamp(0.55, 1.8)
}

/// How much of each product one serving takes, grams as bought.
pub fn bought(catalogue: &Catalogue, item: &Item) -> Vec<(String, f64)> {
    let mut sum: BTreeMap<String, f64> = BTreeMap::new();
    for c in &item.foods {
        if let Some(i) = catalogue.ingredients.get(&FoodId::new(c.food.as_str())) {
            let refuse = catalogue.products.get(&i.product).map_or(0.0, |p| p.refuse);
            *sum.entry(i.product.clone()).or_default() += c.grams / i.yield_factor / (1.0 - refuse);
        }
    }
    sum.into_iter().collect()
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
        table.food(&FoodId::new(id)).is_some_and(|f| {
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

/// The items that a dislike rules out: the one with that id or name, else every item that names the
/// word in its own name, family, foods or products, whether one or many of it.
fn disliked(c: &Catalogue, word: &str) -> Vec<usize> {
    let exact = c
        .items
        .iter()
        .position(|i| i.id == word || i.name.to_lowercase() == word);
    if let Some(n) = exact {
        return vec![n];
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

/// The id of a product by id or name, in any case.
pub fn product(catalogue: &Catalogue, word: &str) -> Option<String> {
    let found = catalogue
        .products
        .values()
        .find(|x| x.id.eq_ignore_ascii_case(word) || x.name.eq_ignore_ascii_case(word));
    found.map(|x| x.id.clone())
}

struct Builder<'a> {
    p: Pieces<'a>,
    model: Model,
    problems: Vec<Diagnostic>,
    without_price: Vec<String>,
    amounts: Vec<Option<Vec<f64>>>,
    prices: Vec<Option<f64>>,
    twins: HashMap<String, usize>,
    names: BTreeSet<String>,
}

/// A meal's weight window around a share that the brief sets itself: 25 % either way, a design choice.
const OWN_SHARE_WINDOW: f64 = 0.25;
/// Fruit and vegetables a day, grams, roots and tubers excluded: WHO fact sheet "Healthy diet", 2020.
pub const FRUIT_AND_VEGETABLES_G: f64 = 400.0;
/// How often a liked item should come in a week. A design choice.
const LIKED_TIMES: u32 = 3;

/// Builds the model.
///
/// # Errors
/// Ids in the brief that no kitchen, item, diet or slot has, and slots that nothing allowed can fill.
pub fn build(p: Pieces) -> Result<Built, Vec<Diagnostic>> {
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
            },
        },
        problems: Vec::new(),
        without_price: Vec::new(),
        amounts: vec![None; p.catalogue.items.len()],
        prices: vec![None; p.catalogue.items.len()],
        twins: HashMap::new(),
        names: BTreeSet::new(),
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

    fn amount(&mut self, item: usize) -> &[f64] {
        let p = self.p;
        self.amounts[item].get_or_insert_with(|| serving_amounts(p.table, &p.catalogue.items[item]))
    }

    /// Every name of an item or product in the brief must be known, all mistakes at once.
    fn check_items(&mut self) {
        let p = self.p;
        let items = p.brief.likes.iter().chain(p.brief.usual.iter().map(|u| &u.item));
        for word in items {
            if p.catalogue.find_item(&word.value).is_none() {
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
        let mut excluded: BTreeSet<&str> = BTreeSet::new();
        for (list, rules, what) in [
            (&p.brief.diets, &c.diets, "diet"),
            (&p.brief.allergies, &c.allergens, "allergen"),
        ] {
            for d in list {
                match rules.iter().find(|r| r.id == d.value) {
                    Some(r) => excluded.extend(r.excludes.iter().map(String::as_str)),
                    None => {
                        let near =
                            crate::diagnostic::suggestion(&d.value, rules.iter().map(|r| r.id.as_str()));
                        self.unknown(what, d, near);
                    }
                }
            }
        }
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
            let clean = c
                .contains(item)
                .is_some_and(|has| has.iter().all(|f| !excluded.contains(f.as_str())));
            let mut good = clean && !never.contains(&n) && item.regions.contains(&p.kitchen.id);
            if good && money && cost.is_none() {
                self.without_price.push(item.name.clone());
                good = false;
            }
            ok.push(good);
        }
        ok
    }

    /// Price of a serving; `None` when any part of it has none.
    fn item_price(&self, item: &Item) -> Option<f64> {
        let list = self.p.prices?;
        bought(self.p.catalogue, item)
            .iter()
            .map(|(product, grams)| list.prices.get(product).map(|x| x.per_gram() * grams))
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
        let factor = portion_factor(p.intake_kcal);
        let slots = self.slots();
        let locked = |day: usize, slot: &str| {
            p.brief
                .locks
                .iter()
                .position(|l| l.slot.value == slot && l.days.contains(&(day as u32 + 1)))
        };
        for l in &p.brief.locks {
            if !slots.iter().any(|s| p.kitchen.slots[s.0].id == l.slot.value) {
                let near = crate::diagnostic::suggestion(
                    &l.slot.value,
                    p.kitchen.slots.iter().map(|k| k.id.as_str()),
                );
                self.unknown("slot", &l.slot, near);
            }
        }
        // Forms of each slot with the items that fill their parts, the same every day.
        let mut menu: Vec<Vec<(usize, Vec<Vec<usize>>)>> = Vec::new();
        for &(slot, ..) in &slots {
            let id = &p.kitchen.slots[slot].id;
            let mut forms = Vec::new();
            for (f, form) in p.kitchen.forms.iter().enumerate().filter(|(_, f)| f.slot == *id) {
                let parts = p.catalogue.fill(p.kitchen, form, &|_| true);
                let parts: Vec<Vec<usize>> = parts
                    .into_iter()
                    .map(|v| v.into_iter().filter(|&i| allowed[i]).collect())
                    .collect();
                if form
                    .parts
                    .iter()
                    .zip(&parts)
                    .all(|(part, have)| have.len() as u32 >= part.least)
                {
                    forms.push((f, parts));
                }
            }
            let always_locked = (0..p.brief.days as usize).all(|d| locked(d, id).is_some());
            if forms.is_empty() && !always_locked {
                self.problems.push(
                    Diagnostic::error("kitchen-empty-slot", format!("no meal of the `{}` kitchen can be put together for {id} under this diet, these allergies, dislikes and prices", p.kitchen.id))
                        .help("allow more, or drop the slot with a share of \"0 %\""),
                );
            }
            menu.push(forms);
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
            for (order, &(slot, ..)) in slots.iter().enumerate() {
                let id = p.kitchen.slots[slot].id.clone();
                let choice = self.model.choices.len();
                let name = format!("d{}_{id}", day + 1);
                let mut forms = Vec::new();
                if let Some(l) = locked(day, &id) {
                    forms.push(self.locked_form(choice, &name, &class, l));
                } else {
                    for (f, parts) in &menu[order] {
                        let form = &p.kitchen.forms[*f];
                        let here = forms.len();
                        let mut out = Vec::new();
                        for (n, part) in form.parts.iter().enumerate() {
                            let mut columns = Vec::new();
                            for &i in &parts[n] {
                                let item = &p.catalogue.items[i];
                                let steps = |servings: f64| (servings / item.step + 1e-9).floor();
                                let least = steps(item.least * factor.min(1.0)).max(1.0);
                                let most = steps(item.most * factor).max(least);
                                let key = format!("c|{class}|{id}|{}|{}", form.id, item.id);
                                let column = Column {
                                    name: self.name(format!("{name}_{}_{}", form.id, item.id)),
                                    choice,
                                    form: here,
                                    part: n,
                                    item: i,
                                    least: least as u16,
                                    most: most as u16,
                                    servings: item.step,
                                    twin: self.twin(key),
                                    cost: self.prices[i].unwrap_or(0.0) * item.step,
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
                        let twin = self.twin(format!("f|{class}|{id}|{}", form.id));
                        forms.push(Form {
                            name: form.id.clone(),
                            twin,
                            parts: out,
                        });
                    }
                }
                self.model.choices.push(Choice {
                    name,
                    day,
                    slot,
                    forms,
                });
            }
        }
    }

    fn locked_form(&mut self, choice: usize, name: &str, class: &str, lock: usize) -> Form {
        let p = self.p;
        let mut parts = Vec::new();
        for (n, (what, amount)) in p.brief.locks[lock].items.iter().enumerate() {
            let Some(i) = p.catalogue.find_item(&what.value) else {
                let near = p.catalogue.nearest_item(&what.value).map(str::to_string);
                self.unknown("item", what, near.as_deref());
                continue;
            };
            let item = &p.catalogue.items[i];
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
            twin,
            parts,
        }
    }

    fn terms(&mut self, nutrient: Nutrient, keep: impl Fn(&Column, &Choice) -> bool) -> Vec<(usize, f64)> {
        let mut out = Vec::new();
        for n in 0..self.model.columns.len() {
            let c = &self.model.columns[n];
            if !keep(c, &self.model.choices[c.choice]) {
                continue;
            }
            let (item, servings) = (c.item, c.servings);
            let k = self.amount(item)[nutrient.index()] * servings;
            if k != 0.0 {
                out.push((n, k));
            }
        }
        out
    }

    fn day_class(&self, day: usize) -> String {
        self.model
            .choices
            .iter()
            .filter(|c| c.day == day)
            .map(|c| c.forms.first().map_or(0, |f| f.twin).to_string())
            .join(",")
    }

    fn target_rows(&mut self) -> Vec<Vec<usize>> {
        let p = self.p;
        let days = p.brief.days as usize;
        let classes: Vec<String> = (0..days).map(|d| self.day_class(d)).collect();
        let mut all = Vec::new();
        for t in p.targets {
            let mut rows = Vec::new();
            let group = match t.strength {
                Strength::Must => t.id.clone(),
                Strength::Should => format!("reference {}", t.id),
            };
            let mut push = |b: &mut Self, name: String, terms: Vec<(usize, f64)>, times: f64, twin: usize| {
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
                });
            };
            match t.scope {
                Scope::Mean => {
                    let terms = self.terms(t.nutrient, |_, _| true);
                    let twin = self.twin(format!("r|{}", t.id));
                    push(self, t.id.clone(), terms, days as f64, twin);
                }
                Scope::Day => {
                    for (d, class) in classes.iter().enumerate() {
                        let terms = self.terms(t.nutrient, |_, c| c.day == d);
                        let twin = self.twin(format!("r|{}|{class}", t.id));
                        push(self, format!("{}_d{}", t.id, d + 1), terms, 1.0, twin);
                    }
                }
                Scope::Meal => {
                    for c in 0..self.model.choices.len() {
                        let (day, slot) = (self.model.choices[c].day, self.model.choices[c].slot);
                        if !p.kitchen.slots[slot].main {
                            continue;
                        }
                        let terms = self.terms(t.nutrient, |k, _| k.choice == c);
                        let twin = self.twin(format!("r|{}|{}|{slot}", t.id, classes[day]));
                        push(
                            self,
                            format!("{}_{}", t.id, self.model.choices[c].name),
                            terms,
                            1.0,
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
        let from_brief = group == "likes";
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
        });
    }

    fn rules(&mut self) {
        let p = self.p;
        let days = p.brief.days as usize;
        let weeks = days as f64 / 7.0;
        let a_week = |times: u32| (f64::from(times) * weeks).ceil().max(1.0);
        let classes: Vec<String> = (0..days).map(|d| self.day_class(d)).collect();
        // Meal sizes.
        let windows = self.slots();
        for c in 0..self.model.choices.len() {
            let (day, slot) = (self.model.choices[c].day, self.model.choices[c].slot);
            let Some(&(_, lo, hi)) = windows.iter().find(|w| w.0 == slot) else {
                continue;
            };
            if self.model.choices[c].forms.iter().all(|f| f.name == "locked") {
                continue;
            }
            let terms = self.terms(Nutrient::ENERGY, |k, _| k.choice == c);
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
        }
        // Columns by item, and by item and day.
        let mut by_item: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for (n, c) in self.model.columns.iter().enumerate() {
            if self.model.choices[c.choice].forms[c.form].name != "locked" {
                by_item.entry(c.item).or_default().push(n);
            }
        }
        let factor = portion_factor(p.intake_kcal);
        for (&i, columns) in &by_item {
            let item = &p.catalogue.items[i];
            let often = ["staple", "drink", "fat", "condiment"]
                .iter()
                .any(|r| item.has_role(r));
            let a_day: u32 = if often { 2 } else { 1 };
            let times = item
                .times
                .min(7 / (item.gap + 1) + u32::from(7 % (item.gap + 1) > 0));
            // An item eaten once a day stands on as many days as it has uses.
            let most = a_week(times) * f64::from(if times >= 7 { a_day } else { 1 });
            if columns.len() as f64 > most {
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
                    let twin = self.twin(format!("r|daily|{}|{}", item.id, classes[d]));
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
                        Some(twin),
                    );
                }
                let cap = item.most_per_day * factor;
                if meals > 1 && a_day > 1 && item.most * factor * 2.0 > cap {
                    let twin = self.twin(format!("r|per_day|{}|{}", item.id, classes[d]));
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
                        Some(twin),
                    );
                }
                if item.gap > 0 {
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
        let mut families: BTreeMap<(String, usize), Vec<usize>> = BTreeMap::new();
        for (n, c) in self.model.columns.iter().enumerate() {
            let item = &p.catalogue.items[c.item];
            if item.has_role("protein") || item.has_role("legume") {
                families
                    .entry((item.group.clone(), self.model.choices[c.choice].day))
                    .or_default()
                    .push(n);
            }
        }
        for ((group, d), cs) in families {
            if cs.iter().map(|&c| self.model.columns[c].choice).unique().count() > 2 {
                let twin = self.twin(format!("r|family|{group}|{}", classes[d]));
                self.rule(
                    format!("family_{group}_d{}", d + 1),
                    "repeats",
                    Over::Use,
                    cs.iter().map(|&c| (c, 1.0)).collect(),
                    None,
                    Some(2.0),
                    "times",
                    format!("{group} at most twice a day"),
                    Some(twin),
                );
            }
        }
        // Forms a week.
        let mut forms: BTreeMap<(usize, String), Vec<usize>> = BTreeMap::new();
        for (c, choice) in self.model.choices.iter().enumerate() {
            for (f, form) in choice.forms.iter().enumerate() {
                forms
                    .entry((choice.slot, form.name.clone()))
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
            if at.len() as f64 > most {
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
        // Likes.
        for l in &p.brief.likes {
            match p.catalogue.find_item(&l.value) {
                Some(i) if by_item.contains_key(&i) => {
                    let times = a_week(LIKED_TIMES.min(p.catalogue.items[i].times));
                    let twin = self.twin(format!("r|like|{i}"));
                    let terms = by_item[&i].iter().map(|&c| (c, 1.0)).collect();
                    self.rule(
                        format!("like_{}", p.catalogue.items[i].id),
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

    fn variety(&mut self) {
        let p = self.p;
        let v = p.kitchen.variety;
        // A week's variety; fewer days need less, in proportion above the third of it one day can hold.
        let share = ((f64::from(p.brief.days) - 1.0) / 6.0).min(1.0);
        let need = |n: u32| ((f64::from(n) * (0.3 + 0.7 * share)).floor() as u32).max(1);
        type Key<'k> = Box<dyn Fn(&Item) -> Option<String> + 'k>;
        let kinds: Vec<(&str, u32, Key)> = vec![
            ("foods", v.foods, Box::new(|i: &Item| Some(i.id.clone()))),
            (
                "vegetables",
                v.vegetable,
                Box::new(|i: &Item| i.has_role("vegetable").then(|| i.group.clone())),
            ),
            (
                "fruits",
                v.fruit,
                Box::new(|i: &Item| i.has_role("fruit").then(|| i.group.clone())),
            ),
            (
                "protein_families",
                v.protein_groups,
                Box::new(|i: &Item| (i.has_role("protein") || i.has_role("legume")).then(|| i.group.clone())),
            ),
        ];
        for (name, least, key) in kinds {
            let mut sets: BTreeMap<String, Vec<usize>> = BTreeMap::new();
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
        for e in &p.brief.pantry {
            let Some(product) = product(p.catalogue, &e.what.value) else {
                continue;
            };
            let price = p
                .prices
                .and_then(|l| l.prices.get(&product))
                .map_or(0.0, crate::prices::Price::per_gram);
            let mut terms = Vec::new();
            for (n, c) in self.model.columns.iter().enumerate() {
                if let Some((_, g)) = bought(p.catalogue, &p.catalogue.items[c.item])
                    .into_iter()
                    .find(|b| b.0 == product)
                {
                    terms.push((n, g * c.servings));
                }
            }
            self.model.pantry.push(Pantry {
                name: product,
                terms,
                free: e.grams,
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
                    let terms = self.terms(t.nutrient, |_, _| true);
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
                }
            }
            brief::Objective::Usual => {
                let total = p.intake_kcal * days;
                let mut usual: BTreeMap<usize, f64> = BTreeMap::new();
                for u in &p.brief.usual {
                    if let Some(i) = p.catalogue.find_item(&u.item.value) {
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
                let energy = self.terms(Nutrient::ENERGY, |_, _| true);
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
                }
            }
        };
    }
}
