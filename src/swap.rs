//! Swap: one staple, item, food or region is changed, and the rest of a plan stays as close as it can.
//!
//! Takes the pieces a plan was made of, the plan that was and a [`Wish`]; gives a [`Swapped`]: the plan
//! after, and
//! what changed. The search is that of `plan`, begun at the plan that was, with another objective: as few
//! changed meals
//! as possible first, then the least change of amounts, then the cost.

use crate::brief::{Brief, Lock, Read};
use crate::diagnostic::{Diagnostic, suggestion};
use crate::energy::EnergyBudget;
use crate::kitchen::{Catalogue, Item, Kitchen};
use crate::model::build::{Built, Pieces, bought, build, disliked, serving_amounts};
use crate::model::{Class, Goal, Keep, Model, Objective, Over, Row};
use crate::money::Currency;
use crate::nutrient::Nutrient;
use crate::plan::{Day, Eaten, Meal, Plan, SearchReport, Work, assemble, cheapest_as_good};
use crate::prices::PriceList;
use crate::solve::bound::{Standing, give_way, standing};
use crate::solve::search::{Effort, Found, search};
use crate::solve::verify::broken;
use itertools::Itertools;
use rust_decimal::Decimal;
use std::collections::{BTreeMap, BTreeSet};
use toml::de::{DeTable, DeValue};

/// What is to be changed.
#[derive(Clone, Debug, PartialEq)]
pub enum Wish {
    /// A staple by family, item or word, for another; `None` asks for offers.
    Staple(String, Option<String>),
    /// An item for another; `None` asks for offers.
    Item(String, Option<String>),
    /// An item for another in one meal only, where the rest of the plan keeps it; `None` asks for offers.
    ItemAt(String, Option<String>, Place),
    /// Another meal in the place of one.
    Meal(Place),
    /// More often an item that is in the plan.
    More(String),
    /// Without an allergen, product or item.
    Without(Vec<String>),
    /// Another kitchen.
    Region(String),
}

/// Where a meal stands in a plan.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Place {
    /// Day, from 1.
    pub day: u32,
    /// Slot id.
    pub slot: String,
}

impl Place {
    /// Whether a lock of the brief holds here.
    pub fn locked<'b>(&self, brief: &'b Brief) -> Option<&'b Lock> {
        let here = |l: &&Lock| l.slot.value == self.slot && l.days.contains(&self.day);
        brief.locks.iter().find(here)
    }

    /// Whether a meal of a model stands here.
    fn is(&self, kitchen: &Kitchen, model: &Model, choice: usize) -> bool {
        let c = &model.choices[choice];
        c.day + 1 == self.day as usize && kitchen.slots[c.slot].id == self.slot
    }

    fn meal<'p>(&self, days: &'p [Day]) -> Option<&'p Meal> {
        meals(days)
            .find(|(d, m)| *d == self.day && m.slot == self.slot)
            .map(|(_, m)| m)
    }
}

/// A change of the brief that a wish comes to.
#[derive(Clone, Debug, PartialEq)]
pub enum Edit {
    /// An item or word that is not wanted any more.
    Dislike(String),
    /// An item that is wanted more often.
    Like(String),
    /// An allergen that is left out.
    Allergy(String),
    /// Another kitchen.
    Region(String),
    /// The budget goes: it is in another currency than the new kitchen's prices.
    NoBudget,
}

/// A wish understood against the catalogue.
#[derive(Clone, Debug)]
pub struct Understood {
    /// The wish in words.
    pub said: String,
    /// The changed brief.
    pub brief: Brief,
    /// What was changed in it.
    pub edits: Vec<Edit>,
    /// Items that go, by position in the catalogue.
    pub from: Vec<usize>,
    /// Items that may come in their place; empty when none was named.
    pub to: Vec<usize>,
    /// The one meal that is meant; `None` for the whole plan.
    pub place: Option<Place>,
    /// Whether offers are asked for instead of a swap.
    pub offers: bool,
    /// What to know.
    pub notes: Vec<Diagnostic>,
}

/// An item that could come in the place of another.
#[derive(Clone, Debug, PartialEq)]
pub struct Offer {
    /// Item id.
    pub id: String,
    /// Its name.
    pub name: String,
    /// In how many of the meals it can stand.
    pub meals: usize,
    /// Of how many.
    pub of: usize,
    /// Servings that come nearest in energy, all meals together.
    pub servings: f64,
    /// The household amount of one.
    pub serving: String,
    /// What the plan would cost more, before anything else is adapted; `None` without prices.
    pub cost_change: Option<f64>,
    /// Change of energy, all meals together. \[kcal\]
    pub energy_change: f64,
    /// Change of protein, all meals together. \[g\]
    pub protein_change: f64,
    /// Energy of protein, fat and carbohydrate that is not as it was, as a share of the energy that is
    /// replaced.
    pub distance: f64,
}

/// What one meal lost and gained.
#[derive(Clone, Debug, PartialEq)]
pub struct MealChange {
    /// Day, from 1.
    pub day: u32,
    /// Slot id.
    pub slot: String,
    /// Slot name.
    pub slot_name: String,
    /// Items that went.
    pub gone: Vec<Eaten>,
    /// Items that came.
    pub come: Vec<Eaten>,
    /// Items whose amount changed: before and after.
    pub amounts: Vec<(Eaten, Eaten)>,
}

/// What one line of the shopping list lost or gained.
#[derive(Clone, Debug, PartialEq)]
pub struct PurchaseChange {
    /// Product id.
    pub product: String,
    /// Its name.
    pub name: String,
    /// Grams to buy before and after.
    pub grams: (f64, f64),
    /// Cost at the till before and after.
    pub cost: (Option<Decimal>, Option<Decimal>),
}

/// What changed between two plans.
#[derive(Clone, Debug, PartialEq)]
pub struct Changes {
    /// Meals of the plan.
    pub meals: usize,
    /// Meals with the same items in the same amounts.
    pub same: usize,
    /// Meals with the same items, in other amounts.
    pub same_items: usize,
    /// Meals that changed.
    pub changed: Vec<MealChange>,
    /// Means a day before and after, of energy and every nutrient that has a target.
    pub nutrients: Vec<(Nutrient, f64, f64)>,
    /// Cost of what is eaten before and after.
    pub cost: (Option<Decimal>, Option<Decimal>),
    /// Cost at the till before and after.
    pub till: (Option<Decimal>, Option<Decimal>),
    /// Currencies before and after.
    pub currency: (Option<Currency>, Option<Currency>),
    /// Lines of the shopping list that changed.
    pub shopping: Vec<PurchaseChange>,
}

/// A plan with something swapped.
#[derive(Clone, Debug)]
pub struct Swapped {
    /// The wish in words.
    pub said: String,
    /// The plan that was.
    pub before: Plan,
    /// The plan that is; `None` when offers were asked for.
    pub after: Option<Plan>,
    /// What changed.
    pub changes: Option<Changes>,
    /// What could come in its place, best first.
    pub offers: Vec<Offer>,
}

/// How many offers are made at most. A design choice.
pub const OFFERS: usize = 6;
/// What an item that goes, or a new one in its least amount, counts against a changed meal. A design choice:
/// ten
/// changed items count as one more changed meal.
const ITEM: f64 = 0.1;
/// What it counts when a meal that lost what goes has none of what was named instead. A design choice: as
/// three items.
const INSTEAD: f64 = 0.3;
/// What a meal's whole energy counts when the kitchen changes and no meal can stay, and in a meal that is asked for
/// anew. A design choice.
const ENERGY: f64 = 0.5;
/// Roles that may stay in a meal that is asked for anew: they make no meal. A design choice.
const BESIDE: [&str; 3] = ["drink", "condiment", "fat"];

fn fold(word: &str) -> String {
    let words: Vec<String> = word
        .to_lowercase()
        .split(|c: char| !c.is_alphanumeric())
        .filter(|w| !w.is_empty())
        .map(|w| {
            if w.len() > 3 {
                w.trim_end_matches('s').to_string()
            } else {
                w.to_string()
            }
        })
        .collect();
    words.join(" ")
}

fn unknown(word: &str, what: &str, near: Option<&str>) -> Diagnostic {
    Diagnostic::error("swap-unknown", format!("`{word}` is no {what}")).help(near.map_or_else(
        || "name an item, its family or a word of its name, as the plan prints it".to_string(),
        |n| format!("did you mean `{n}`?"),
    ))
}

/// The items of a kitchen that a word names: by id or name, by family, by kind, or by the words of their
/// names.
fn named(
    catalogue: &Catalogue,
    kitchen: &Kitchen,
    word: &str,
    staple: bool,
) -> Result<Vec<usize>, Diagnostic> {
    let what = if staple { "staple" } else { "item" };
    let have: Vec<(usize, &Item)> = catalogue
        .items
        .iter()
        .enumerate()
        .filter(|(_, i)| i.regions.contains(&kitchen.id) && (!staple || i.has_role("staple")))
        .collect();
    let wanted = fold(word);
    let find = |keep: &dyn Fn(&Item) -> bool| -> Vec<usize> {
        have.iter().filter(|(_, i)| keep(i)).map(|(n, _)| *n).collect()
    };
    let words: Vec<&str> = wanted.split(' ').collect();
    let ways: [&dyn Fn(&Item) -> bool; 3] = [
        &|i| fold(&i.id) == wanted || fold(&i.name) == wanted,
        &|i| fold(&i.group) == wanted || i.kinds.iter().any(|k| fold(k) == wanted),
        &|i| {
            let name = fold(&i.name);
            words.iter().all(|w| name.split(' ').any(|n| n == *w))
        },
    ];
    // A staple's word means the whole family unless it is exactly one item's id.
    let exact = have.iter().any(|(_, i)| i.id == word);
    let order: &[usize] = if staple && !exact { &[1, 0, 2] } else { &[0, 1, 2] };
    for &way in order {
        let mut found = find(ways[way]);
        if staple && !exact && way == 1 {
            found.extend(find(ways[2]));
            found.sort_unstable();
            found.dedup();
        }
        if !found.is_empty() {
            return Ok(found);
        }
    }
    let candidates = have
        .iter()
        .flat_map(|(_, i)| [i.id.as_str(), i.name.as_str(), i.group.as_str()])
        .unique();
    Err(unknown(
        word,
        &format!("{what} of the `{}` kitchen", kitchen.id),
        suggestion(word, candidates),
    ))
}

fn not_there(what: &str, place: &Place) -> Diagnostic {
    Diagnostic::error(
        "swap-not-there",
        format!(
            "`{what}` is not in the {} of day {}",
            spoken(&place.slot),
            place.day
        ),
    )
    .help("name an item of that meal, as the plan prints it")
}

fn spoken(slot: &str) -> String {
    slot.replace('_', " ")
}

fn read(value: &str) -> Read<String> {
    Read {
        value: value.to_string(),
        span: 0..0,
    }
}

/// What a wish comes to: the changed brief, the items that go and those that may come.
///
/// # Errors
/// Words that nothing goes by, each with what may have been meant.
pub fn understand(wish: &Wish, p: Pieces, before: &Plan) -> Result<Understood, Vec<Diagnostic>> {
    let (c, kitchen) = (p.catalogue, p.kitchen);
    let mut u = Understood {
        said: String::new(),
        brief: p.brief.clone(),
        edits: Vec::new(),
        from: Vec::new(),
        to: Vec::new(),
        place: None,
        offers: false,
        notes: Vec::new(),
    };
    let mut problems = Vec::new();
    let mut take =
        |found: Result<Vec<usize>, Diagnostic>| found.map_err(|d| problems.push(d)).unwrap_or_default();
    match wish {
        Wish::Staple(from, to) | Wish::Item(from, to) => {
            let staple = matches!(wish, Wish::Staple(..));
            u.from = take(named(c, kitchen, from, staple));
            u.to = to
                .as_ref()
                .map(|t| take(named(c, kitchen, t, staple)))
                .unwrap_or_default();
            u.offers = to.is_none();
            u.said = match to {
                Some(to) => format!("{to} instead of {from}"),
                None => format!("instead of {from}"),
            };
            // An item is meant as the plan has it: one of several of a name goes only if it is eaten.
            let eaten: BTreeSet<&str> = meals(&before.days)
                .flat_map(|(_, m)| &m.items)
                .map(|e| e.id.as_str())
                .collect();
            if !staple && u.from.len() > 1 {
                u.from.retain(|&i| eaten.contains(c.items[i].id.as_str()));
                if u.from.len() > 1 {
                    let names = u.from.iter().map(|&i| format!("`{}`", c.items[i].id)).join(", ");
                    problems.push(
                        Diagnostic::error(
                            "swap-several",
                            format!("`{from}` names several items of the plan"),
                        )
                        .help(format!(
                            "name one of them by its id: {names}; or use --staple for a family"
                        )),
                    );
                }
            }
            // What comes does not also go.
            if u.to.iter().any(|i| u.from.contains(i)) {
                u.from.retain(|i| !u.to.contains(i));
            }
            u.edits = u
                .from
                .iter()
                .map(|&i| Edit::Dislike(c.items[i].id.clone()))
                .collect();
        }
        Wish::ItemAt(from, to, place) => {
            let there = place.meal(&before.days).map_or(&[][..], |m| &m.items);
            u.from = take(named(c, kitchen, from, false));
            u.from.retain(|&i| there.iter().any(|e| e.id == c.items[i].id));
            u.to = to
                .as_ref()
                .map(|t| take(named(c, kitchen, t, false)))
                .unwrap_or_default();
            // What is there already does not come.
            u.to.retain(|&i| there.iter().all(|e| e.id != c.items[i].id));
            u.offers = to.is_none();
            u.place = Some(place.clone());
            u.said = match to {
                Some(to) => format!("{to} instead of {from} in one meal"),
                None => format!("instead of {from} in one meal"),
            };
            if problems.is_empty() && u.from.len() != 1 {
                problems.push(not_there(from, place));
            }
            if problems.is_empty() && to.is_some() && u.to.is_empty() {
                problems.push(
                    Diagnostic::error("swap-there-already", "it stands in that meal already")
                        .help("name another item"),
                );
            }
        }
        Wish::Meal(place) => {
            u.said = format!("another {} on day {}", spoken(&place.slot), place.day);
            u.place = Some(place.clone());
            let fixed = |id: &str| {
                let lock = place.locked(p.brief);
                lock.is_some_and(|l| l.items.iter().any(|(i, _)| i.value == id))
            };
            let there: Vec<usize> = place
                .meal(&before.days)
                .into_iter()
                .flat_map(|m| &m.items)
                .filter(|e| !fixed(&e.id))
                .filter_map(|e| c.find_item(&e.id))
                .collect();
            let small = |i: &usize| BESIDE.iter().any(|r| c.items[*i].has_role(r));
            u.from = there.iter().copied().filter(|i| !small(i)).collect();
            if u.from.is_empty() {
                u.from = there;
            }
            if u.from.is_empty() {
                problems.push(not_there("a meal that may change", place));
            }
        }
        Wish::More(word) => {
            u.said = format!("more of {word}");
            let found = take(named(c, kitchen, word, false));
            u.edits = found
                .first()
                .map(|&i| Edit::Like(c.items[i].id.clone()))
                .into_iter()
                .collect();
        }
        Wish::Without(words) => {
            u.said = format!("without {}", words.join(", "));
            for word in words {
                let wanted = fold(word);
                let rule = c
                    .allergens
                    .iter()
                    .find(|a| fold(&a.id) == wanted || fold(&a.name) == wanted);
                if let Some(rule) = rule {
                    u.edits.push(Edit::Allergy(rule.id.clone()));
                    continue;
                }
                if disliked(c, &word.to_lowercase()).is_empty() {
                    let names = c
                        .allergens
                        .iter()
                        .map(|a| a.id.as_str())
                        .chain(c.products.values().map(|x| x.name.as_str()))
                        .chain(c.items.iter().map(|i| i.name.as_str()));
                    problems.push(unknown(
                        word,
                        "allergen, product or item",
                        suggestion(word, names),
                    ));
                }
                u.edits.push(Edit::Dislike(word.to_lowercase()));
            }
        }
        Wish::Region(region) => {
            u.said = format!("the {region} kitchen instead of {}", kitchen.id);
            match c.kitchen(region) {
                None => {
                    let near = suggestion(region, c.kitchens.iter().map(|k| k.id.as_str()));
                    let names = c.kitchens.iter().map(|k| format!("`{}`", k.id)).join(", ");
                    problems.push(
                        Diagnostic::error("swap-unknown-region", format!("there is no kitchen `{region}`"))
                            .help(
                                near.map_or(format!("kitchens: {names}"), |n| format!("did you mean `{n}`?")),
                            ),
                    );
                }
                Some(k) => {
                    u.edits.push(Edit::Region(k.id.clone()));
                    if p.brief
                        .budget
                        .as_ref()
                        .is_some_and(|b| b.currency.code() != k.currency)
                    {
                        u.edits.push(Edit::NoBudget);
                        u.notes.push(Diagnostic::warning(
                            "swap-budget",
                            format!(
                                "the budget is not in {} and does not hold in the `{}` kitchen",
                                k.currency, k.id
                            ),
                        ));
                    }
                }
            }
        }
    }
    for edit in &u.edits {
        match edit {
            Edit::Dislike(word) => {
                if !u.brief.dislikes.iter().any(|d| d.value == *word) {
                    u.brief.dislikes.push(read(word));
                }
                u.brief.likes.retain(|l| l.value != *word);
            }
            Edit::Like(word) => {
                if !u.brief.likes.iter().any(|l| l.value == *word) {
                    u.brief.likes.push(read(word));
                }
                u.brief.dislikes.retain(|d| d.value != *word);
            }
            Edit::Allergy(id) => {
                if !u.brief.allergies.iter().any(|a| a.value == *id) {
                    u.brief.allergies.push(read(id));
                }
            }
            Edit::Region(id) => u.brief.region = read(id),
            Edit::NoBudget => u.brief.budget = None,
        }
    }
    let locks: Vec<&Lock> = match &u.place {
        Some(place) => place.locked(p.brief).into_iter().collect(),
        None => p.brief.locks.iter().collect(),
    };
    for lock in locks {
        if u.place.is_some() && !lock.others && problems.is_empty() {
            problems.push(
                Diagnostic::error("swap-locked", "this meal is fixed in the brief")
                    .at(lock.slot.span.clone(), "fixed here")
                    .help("take the [[lock]] table away first"),
            );
            continue;
        }
        for (item, _) in &lock.items {
            if c.item_of(&item.value, &p.kitchen.id)
                .is_some_and(|i| u.from.contains(&i))
            {
                problems.push(
                    Diagnostic::error(
                        "swap-locked",
                        format!("`{}` is fixed in a meal of the brief", item.value),
                    )
                    .at(item.span.clone(), "fixed here")
                    .help("change the [[lock]] table first"),
                );
            }
        }
    }
    if problems.is_empty() { Ok(u) } else { Err(problems) }
}

fn meals(days: &[Day]) -> impl Iterator<Item = (u32, &Meal)> {
    days.iter().flat_map(|d| d.meals.iter().map(move |m| (d.day, m)))
}

/// A meal of a plan as columns and steps of one meal of a model.
struct Placed {
    form: usize,
    steps: Vec<(usize, u16)>,
    /// Items that found no place.
    lost: Vec<String>,
}

/// The form of a meal in which most of what was eaten can stand, with its columns and steps. `to` are items
/// wanted in
/// the place of what cannot, `gone` those that may not stand here any more; parts that stay under their least are
/// filled with the first of their columns.
fn place(
    model: &Model,
    p: Pieces,
    choice: usize,
    meal: &Meal,
    to: &[usize],
    gone: &BTreeSet<&str>,
) -> Placed {
    let catalogue = p.catalogue;
    let stays = |n: usize| !gone.contains(catalogue.items[model.columns[n].item].id.as_str());
    let slot = &p.kitchen.slots[model.choices[choice].slot].id;
    let mut best: Option<(f64, Placed)> = None;
    for (f, form) in model.choices[choice].forms.iter().enumerate() {
        let mut steps: Vec<(usize, u16)> = Vec::new();
        let mut lost: Vec<&Eaten> = Vec::new();
        let used = |steps: &[(usize, u16)], part: usize| {
            steps
                .iter()
                .filter(|(n, _)| model.columns[*n].part == part)
                .count() as u32
        };
        for e in &meal.items {
            let at = form.parts.iter().enumerate().find_map(|(q, part)| {
                let n = part
                    .columns
                    .iter()
                    .find(|&&n| catalogue.items[model.columns[n].item].id == e.id && stays(n))?;
                (used(&steps, q) < part.most).then_some(*n)
            });
            match at {
                Some(n) => steps.push((n, near(model, n, e.servings))),
                None => lost.push(e),
            }
        }
        let mut score = steps.len() as f64 * 10.0;
        if !lost.is_empty() && !to.is_empty() {
            let kcal: f64 = lost.iter().map(|e| e.kcal).sum();
            let at = form.parts.iter().enumerate().find_map(|(q, part)| {
                let free = used(&steps, q) < part.most;
                let n = part
                    .columns
                    .iter()
                    .find(|&&n| free && to.contains(&model.columns[n].item))?;
                Some(*n)
            });
            if let Some(n) = at {
                let one = serving_amounts(p.table, &catalogue.items[model.columns[n].item])
                    [Nutrient::ENERGY.index()];
                steps.push((n, near(model, n, kcal / one.max(1.0))));
                score += 15.0;
            }
        }
        for (q, part) in form.parts.iter().enumerate() {
            for &n in part.columns.iter().filter(|&&n| stays(n)) {
                if used(&steps, q) >= part.least {
                    break;
                }
                if steps.iter().all(|(m, _)| *m != n) {
                    steps.push((n, model.columns[n].least));
                    score -= 1.0;
                }
            }
        }
        // Of forms that hold as much, the one that the meal had.
        score -= lost.len() as f64 * 0.1;
        if p.kitchen
            .forms
            .iter()
            .any(|k| k.id == form.of && k.slot == *slot && k.name == meal.form)
        {
            score += 0.05;
        }
        if best.as_ref().is_none_or(|b| score > b.0) {
            let lost = lost.iter().map(|e| e.name.clone()).collect();
            best = Some((score, Placed { form: f, steps, lost }));
        }
    }
    best.map_or(
        Placed {
            form: 0,
            steps: Vec::new(),
            lost: meal.items.iter().map(|e| e.name.clone()).collect(),
        },
        |b| b.1,
    )
}

fn near(model: &Model, n: usize, servings: f64) -> u16 {
    let c = &model.columns[n];
    ((servings / c.servings).round() as u16).clamp(c.least, c.most)
}

/// The meal of the plan that stood on the day and in the slot of a meal of the model.
fn was<'p>(days: &'p [Day], kitchen: &Kitchen, model: &Model, choice: usize) -> Option<&'p Meal> {
    let c = &model.choices[choice];
    let slot = &kitchen.slots[c.slot].id;
    days.iter()
        .find(|d| d.day as usize == c.day + 1)?
        .meals
        .iter()
        .find(|m| m.slot == *slot)
}

/// A plan that was, as a point of the model that its brief gives: its value and its bound are those of the brief's own
/// objective, whatever made it.
///
/// # Errors
/// The meals that the brief does not allow any more.
pub fn remake(p: Pieces, energy: &EnergyBudget, days: &[Day]) -> Result<Plan, Vec<Diagnostic>> {
    let mut built = build(p)?;
    let mut first = standing(&built.model);
    if let Standing::Short(short) = &first {
        give_way(&mut built.model, short);
        first = standing(&built.model);
    }
    let bound = match first {
        Standing::Open(b) => b.value.map(|v| v.max(0.0)),
        _ => None,
    };
    let model = &built.model;
    let mut found = Found {
        forms: vec![0; model.choices.len()],
        steps: vec![0; model.columns.len()],
        moves: 0,
    };
    let mut problems = Vec::new();
    for c in 0..model.choices.len() {
        let name = &model.choices[c].name;
        let Some(meal) = was(days, p.kitchen, model, c) else {
            problems.push(Diagnostic::error(
                "swap-other-plan",
                format!("the plan has no meal {name}, the brief has"),
            ));
            continue;
        };
        let placed = place(model, p, c, meal, &[], &BTreeSet::new());
        if !placed.lost.is_empty() {
            problems.push(
                Diagnostic::error(
                    "swap-other-plan",
                    format!("{name}: the brief has no place for {}", placed.lost.join(", ")),
                )
                .help("give the brief that the plan was made of, or leave --plan out"),
            );
        }
        found.forms[c] = placed.form;
        for (n, x) in placed.steps {
            found.steps[n] = x;
        }
    }
    if !problems.is_empty() {
        return Err(problems);
    }
    let value = model.value(&found.steps);
    let gap = bound
        .filter(|b| value > 1e-12 && *b > 1e-9)
        .map(|b| ((value - b) / value).max(0.0));
    let report = SearchReport {
        objective: model.objective.id,
        unit: model.objective.unit.clone(),
        value,
        bound,
        gap,
        proved: gap.is_some_and(|g| g < 1e-9),
        moves: 0,
        seed: p.brief.seed,
        second: None,
        missed: Vec::new(),
    };
    let mut plan = assemble(p, &built, &found, energy, report, Vec::new());
    // A meal that the brief fixes keeps the name it had.
    for day in &mut plan.days {
        for meal in &mut day.meals {
            let here = Place {
                day: day.day,
                slot: meal.slot.clone(),
            };
            if let Some(old) = here.meal(days).filter(|_| here.locked(p.brief).is_some()) {
                meal.form.clone_from(&old.form);
            }
        }
    }
    Ok(plan)
}

/// The days of a plan that `plan --format json` wrote: what `remake` needs of them.
///
/// # Errors
/// Text that is no such plan, with what is missing.
pub fn read_plan(text: &str) -> Result<Vec<Day>, Diagnostic> {
    let value: serde_json::Value = serde_json::from_str(text).map_err(|e| no_plan(&e.to_string()))?;
    if value["schema"] != 1 || value["outcome"] != "planned" {
        return Err(no_plan("its `schema` is not 1 or its `outcome` not `planned`"));
    }
    read_days(&value)
}

fn no_plan(what: &str) -> Diagnostic {
    Diagnostic::error("swap-plan-file", format!("this is no plan of schema 1: {what}"))
        .help("write it with `plan BRIEF --format json --output FILE`")
}

fn read_days(value: &serde_json::Value) -> Result<Vec<Day>, Diagnostic> {
    let bad = no_plan;
    let list = |v: &serde_json::Value, what: &str| {
        v.as_array()
            .cloned()
            .ok_or_else(|| bad(&format!("no list `{what}`")))
    };
    let text_of = |v: &serde_json::Value, key: &str| {
        v[key]
            .as_str()
            .map(str::to_string)
            .ok_or_else(|| bad(&format!("no text `{key}`")))
    };
    let number =
        |v: &serde_json::Value, key: &str| v[key].as_f64().ok_or_else(|| bad(&format!("no number `{key}`")));
    let mut days = Vec::new();
    for d in list(&value["days"], "days")? {
        let mut meals = Vec::new();
        for m in list(&d["meals"], "meals")? {
            let mut items = Vec::new();
            for i in list(&m["items"], "items")? {
                items.push(Eaten {
                    id: text_of(&i, "id")?,
                    name: text_of(&i, "name")?,
                    servings: number(&i, "servings")?,
                    serving: text_of(&i, "serving")?,
                    grams: number(&i, "grams")?,
                    kcal: number(&i, "energy_kcal")?,
                    amounts: Vec::new(),
                    role: String::new(),
                    foods: Vec::new(),
                    cost: None,
                    pot: None,
                });
            }
            meals.push(Meal {
                slot: text_of(&m, "slot")?,
                slot_name: text_of(&m, "slot_name")?,
                form: text_of(&m, "form")?,
                items,
            });
        }
        days.push(Day {
            day: number(&d, "day")? as u32,
            meals,
            totals: Vec::new(),
            cost: None,
        });
    }
    Ok(days)
}

/// Makes the swap: `p` are the pieces of the changed brief, `before` the plan that was.
///
/// # Errors
/// What of the changed brief no kitchen has, and a replacement that no meal can take.
pub fn swap(
    p: Pieces,
    energy: &EnergyBudget,
    before: &Plan,
    u: &Understood,
    work: Work,
) -> Result<Plan, Vec<Diagnostic>> {
    let mut built = build(p)?;
    if let Some(place) = &u.place {
        leave_out(&mut built.model, p, place, &u.from);
    }
    let mut first = standing(&built.model);
    if let Standing::Short(short) = &first {
        give_way(&mut built.model, short);
        first = standing(&built.model);
    }
    let mut uses = match first {
        Standing::Open(b) => b.uses,
        _ => vec![0.0; built.model.columns.len()],
    };
    let meant = |c: usize| {
        let place = u.place.as_ref();
        place.is_none_or(|at| at.is(p.kitchen, &built.model, c))
    };
    let mut columns = built.model.columns.iter();
    if !u.to.is_empty() && !columns.any(|c| u.to.contains(&c.item) && meant(c.choice)) {
        let names =
            u.to.iter()
                .map(|&i| p.catalogue.items[i].name.as_str())
                .join(", ");
        return Err(vec![
            Diagnostic::error("swap-no-place", format!("{names} cannot be planned here"))
                .help("the diet, the allergies, the dislikes or a missing price leave it out"),
        ]);
    }
    let other_kitchen = before.kitchen != p.kitchen.id;
    let start = begin(&mut built, p, before, u, other_kitchen, &mut uses);
    let scale = built.model.choices.len() as f64;
    let holds = |model: &Model, f: &Found| {
        broken(model, &f.forms, &f.steps)
            .iter()
            .all(|b| b.class == Class::Should)
    };
    let all = work.going_on(p.brief);
    let part = |of: u64| Effort {
        moves: all.moves / of,
        ..all
    };
    // In another kitchen next to nothing can stay, so the search begins anew.
    let mut found = if other_kitchen {
        search(&built.model, &uses, scale, work.effort(p.brief), None)
    } else {
        search(&built.model, &uses, scale, part(2), Some(&start))
    };
    let mut tried = found.moves;
    if !other_kitchen && !holds(&built.model, &found) {
        found = search(&built.model, &uses, scale, all, Some(&start));
        tried += found.moves;
    }
    // Then the cost, with every meal that stayed held as it is and no reference missed by more than now.
    if p.prices.is_some() && holds(&built.model, &found) {
        let mut cheap = held(cheapest_as_good(&built.model, &found), &built.model, &found);
        for b in broken(&cheap, &found.forms, &found.steps) {
            for r in cheap.rows.iter_mut().filter(|r| r.name == b.name) {
                r.floor = r.floor.map(|f| f.min(b.activity));
                r.ceiling = r.ceiling.map(|c| c.max(b.activity));
            }
        }
        let cheaper = search(&cheap, &uses, cheap.cost(&found.steps), part(4), Some(&found));
        tried += cheaper.moves;
        if broken(&cheap, &cheaper.forms, &cheaper.steps).is_empty()
            && built.model.value(&cheaper.steps) <= built.model.value(&found.steps) + ITEM
        {
            found = cheaper;
        }
    }
    let report = SearchReport {
        objective: "swap",
        unit: "changed meals".into(),
        value: built.model.value(&found.steps),
        bound: None,
        gap: None,
        proved: false,
        moves: tried,
        seed: p.brief.seed,
        second: None,
        missed: Vec::new(),
    };
    Ok(assemble(p, &built, &found, energy, report, Vec::new()))
}

/// Keeps items out of one meal.
fn leave_out(model: &mut Model, p: Pieces, place: &Place, from: &[usize]) {
    let terms = (0..model.columns.len())
        .filter(|&n| {
            let c = &model.columns[n];
            from.contains(&c.item) && place.is(p.kitchen, model, c.choice)
        })
        .map(|n| (n, 1.0))
        .collect();
    model.rows.push(Row {
        name: "not_here".into(),
        group: "swap".into(),
        over: Over::Use,
        terms,
        floor: None,
        ceiling: Some(0.0),
        unit: "times".into(),
        reason: "what goes is not in that meal any more".into(),
        class: Class::Must,
        from_brief: true,
        twin: None,
        stands_for: 1.0,
        whole: None,
    });
}

/// Sets the objective of a swap and gives the point to begin at: the plan that was, with what goes replaced.
fn begin(
    built: &mut Built,
    p: Pieces,
    before: &Plan,
    u: &Understood,
    other: bool,
    uses: &mut [f64],
) -> Found {
    let model = &mut built.model;
    let kcal: BTreeMap<usize, f64> = model
        .columns
        .iter()
        .map(|c| c.item)
        .unique()
        .map(|i| {
            (
                i,
                serving_amounts(p.table, &p.catalogue.items[i])[Nutrient::ENERGY.index()],
            )
        })
        .collect();
    let mut start = Found {
        forms: vec![0; model.choices.len()],
        steps: vec![0; model.columns.len()],
        moves: 0,
    };
    let mut free = vec![false; model.choices.len()];
    let mut linear: Vec<f64> = model.columns.iter().map(|c| ITEM / f64::from(c.least)).collect();
    let mut goals: Vec<Goal> = Vec::new();
    let mut instead: Vec<(usize, f64)> = Vec::new();
    let going: BTreeSet<&str> = u.from.iter().map(|&i| p.catalogue.items[i].id.as_str()).collect();
    for (c, free) in free.iter_mut().enumerate() {
        let Some(meal) = was(&before.days, p.kitchen, model, c) else {
            *free = true;
            continue;
        };
        let columns: Vec<usize> = (0..model.columns.len())
            .filter(|&n| model.columns[n].choice == c)
            .collect();
        let here = u.place.as_ref().is_none_or(|at| at.is(p.kitchen, model, c));
        let goes = here && meal.items.iter().any(|e| going.contains(e.id.as_str()));
        // A meal that is asked for anew: anything may come.
        let anew = goes && u.place.is_some() && u.to.is_empty();
        let none = BTreeSet::new();
        let gone = if here && u.place.is_some() { &going } else { &none };
        let placed = place(model, p, c, meal, if goes { &u.to } else { &[] }, gone);
        *free = !placed.lost.is_empty();
        start.forms[c] = placed.form;
        for (n, x) in placed.steps {
            start.steps[n] = x;
            uses[n] += 1.0;
        }
        // What stays should stay in its amount.
        for e in meal.items.iter().filter(|e| !gone.contains(e.id.as_str())) {
            let terms: Vec<(usize, f64)> = columns
                .iter()
                .filter(|&&n| p.catalogue.items[model.columns[n].item].id == e.id)
                .map(|&n| (n, model.columns[n].servings))
                .collect();
            if terms.is_empty() {
                continue;
            }
            for t in &terms {
                linear[t.0] = 0.0;
                uses[t.0] += 1.0;
            }
            goals.push(Goal {
                name: format!("{}_{}", model.choices[c].name, e.id),
                terms,
                centre: e.servings,
                weight: ITEM / e.servings,
            });
        }
        // What comes should come where something went, with about its energy.
        let lost: f64 = meal
            .items
            .iter()
            .filter(|e| going.contains(e.id.as_str()))
            .map(|e| e.kcal)
            .sum();
        let comes: Vec<usize> = columns
            .iter()
            .copied()
            .filter(|&n| u.to.contains(&model.columns[n].item))
            .collect();
        if goes && !comes.is_empty() {
            for &n in &comes {
                linear[n] = 0.0;
                uses[n] += 1.0;
            }
            let terms = comes
                .iter()
                .map(|&n| (n, kcal[&model.columns[n].item] * model.columns[n].servings))
                .collect();
            if lost > 0.0 {
                goals.push(Goal {
                    name: format!("{}_instead", model.choices[c].name),
                    terms,
                    centre: lost,
                    weight: INSTEAD / lost,
                });
            }
            instead.extend(comes.iter().map(|&n| (n, 1.0)));
        }
        if anew {
            for &n in &columns {
                linear[n] = 0.0;
            }
        }
        if other || anew {
            let energy: f64 = meal.items.iter().map(|e| e.kcal).sum();
            let terms = columns
                .iter()
                .map(|&n| (n, kcal[&model.columns[n].item] * model.columns[n].servings))
                .collect();
            if energy > 0.0 {
                goals.push(Goal {
                    name: format!("{}_energy", model.choices[c].name),
                    terms,
                    centre: energy,
                    weight: ENERGY / energy,
                });
            }
        }
    }
    // It need not come everywhere, where times and forms forbid it, but somewhere it must.
    if !instead.is_empty() {
        model.rows.push(Row {
            name: "instead".into(),
            group: "swap".into(),
            over: Over::Use,
            terms: instead,
            floor: Some(1.0),
            ceiling: None,
            unit: "times".into(),
            reason: "what was named comes in the place of what goes".into(),
            class: Class::Must,
            from_brief: true,
            twin: None,
            stands_for: 1.0,
            whole: None,
        });
    }
    if other {
        linear.fill(0.0);
    }
    model.objective = Objective {
        id: "swap",
        unit: "changed meals".into(),
        cost: false,
        linear,
        goals,
        largest: 0.0,
        keep: (!other).then(|| Keep {
            forms: start.forms.clone(),
            steps: start.steps.clone(),
            free,
            weight: 1.0,
        }),
    };
    start
}

/// The model in which every meal that stayed as it was can only stay so.
fn held(mut model: Model, swapped: &Model, found: &Found) -> Model {
    if let Some(keep) = &swapped.objective.keep {
        let mut free = keep.free.clone();
        for (n, c) in swapped.columns.iter().enumerate() {
            free[c.choice] |= found.steps[n] != keep.steps[n];
        }
        model.objective.keep = Some(Keep {
            free,
            weight: 10.0 * model.cost(&found.steps).abs().max(1.0),
            ..keep.clone()
        });
    }
    model
}

/// One of two plans that are compared: what [`differences`] looks at.
#[derive(Clone, Debug, PartialEq)]
pub struct Side {
    /// Title of the brief.
    pub title: String,
    /// Kitchen id.
    pub kitchen: String,
    /// Whether all that must hold does.
    pub planned: bool,
    /// The days; only what is eaten where is looked at.
    pub days: Vec<Day>,
    /// Mean of the days, in the order of [`Nutrient::all`].
    pub mean: Vec<f64>,
    /// Places of the nutrients that have a target.
    pub aimed: BTreeSet<usize>,
    /// Cost of what is eaten.
    pub cost: Option<Decimal>,
    /// Cost at the till.
    pub till: Option<Decimal>,
    /// Currency.
    pub currency: Option<Currency>,
    /// Product id, name, grams to buy and cost of each line of the shopping list.
    pub shopping: Vec<(String, String, f64, Option<Decimal>)>,
}

impl From<&Plan> for Side {
    fn from(p: &Plan) -> Side {
        Side {
            title: p.title.clone(),
            kitchen: p.kitchen.clone(),
            planned: p.planned,
            days: p.days.clone(),
            mean: p.mean.clone(),
            aimed: p.standings.iter().map(|s| s.target.nutrient.index()).collect(),
            cost: p.cost,
            till: p.till,
            currency: p.currency,
            shopping: p
                .shopping
                .iter()
                .map(|l| (l.product.clone(), l.name.clone(), l.buy_grams, l.cost))
                .collect(),
        }
    }
}

/// A plan, or the nearest to one, that `plan --format json` wrote.
///
/// # Errors
/// Text that is no such plan, with what is missing.
pub fn read_side(text: &str) -> Result<Side, Diagnostic> {
    let value: serde_json::Value = serde_json::from_str(text).map_err(|e| no_plan(&e.to_string()))?;
    if value["schema"] != 1 || value["days"].as_array().is_none_or(Vec::is_empty) {
        return Err(no_plan("its `schema` is not 1, or it has no days"));
    }
    let text_of = |v: &serde_json::Value| v.as_str().unwrap_or_default().to_string();
    let money = |v: &serde_json::Value| v.as_str().and_then(|t| t.parse::<Decimal>().ok());
    let of = |id: &serde_json::Value| id.as_str().and_then(Nutrient::from_id);
    let lines = value["shopping"]
        .as_array()
        .ok_or_else(|| no_plan("no list `shopping`"))?;
    let shopping = lines
        .iter()
        .map(|l| {
            let grams = l["grams"]
                .as_f64()
                .ok_or_else(|| no_plan("a line of `shopping` without `grams`"))?;
            Ok((
                text_of(&l["product"]),
                text_of(&l["name"]),
                grams,
                money(&l["cost"]),
            ))
        })
        .collect::<Result<_, Diagnostic>>()?;
    let mean = Nutrient::all().map(|n| value["mean"][n.id()].as_f64().unwrap_or(0.0));
    Ok(Side {
        title: text_of(&value["title"]),
        kitchen: text_of(&value["kitchen"]),
        planned: value["outcome"] == "planned",
        days: read_days(&value)?,
        mean: mean.collect(),
        aimed: value["targets"]
            .as_array()
            .into_iter()
            .flatten()
            .filter_map(|t| of(&t["nutrient"]))
            .map(Nutrient::index)
            .collect(),
        cost: money(&value["cost"]["amount"]),
        till: money(&value["cost"]["till"]),
        currency: value["cost"]["currency"].as_str().and_then(Currency::parse),
        shopping,
    })
}

/// What changed between two plans.
pub fn changes(before: &Plan, after: &Plan) -> Changes {
    differences(&Side::from(before), &Side::from(after))
}

/// What differs between two plans, whichever way they were made. A meal that only one of them has counts as
/// changed.
pub fn differences(before: &Side, after: &Side) -> Changes {
    let mut out = Changes {
        meals: 0,
        same: 0,
        same_items: 0,
        changed: Vec::new(),
        nutrients: Vec::new(),
        cost: (before.cost, after.cost),
        till: (before.till, after.till),
        currency: (before.currency, after.currency),
        shopping: Vec::new(),
    };
    for (day, new) in meals(&after.days) {
        out.meals += 1;
        let old: &[Eaten] = meals(&before.days)
            .find(|(d, m)| *d == day && m.slot == new.slot)
            .map_or(&[], |(_, m)| &m.items);
        let find = |list: &[Eaten], id: &str| list.iter().find(|e| e.id == id).cloned();
        let gone: Vec<Eaten> = old
            .iter()
            .filter(|e| find(&new.items, &e.id).is_none())
            .cloned()
            .collect();
        let come: Vec<Eaten> = new
            .items
            .iter()
            .filter(|e| find(old, &e.id).is_none())
            .cloned()
            .collect();
        let amounts: Vec<(Eaten, Eaten)> = old
            .iter()
            .filter_map(|e| Some((e.clone(), find(&new.items, &e.id)?)))
            .filter(|(a, b)| (a.servings - b.servings).abs() > 1e-9)
            .collect();
        match (gone.is_empty() && come.is_empty(), amounts.is_empty()) {
            (true, true) => {
                out.same += 1;
                continue;
            }
            (true, false) => out.same_items += 1,
            _ => {}
        }
        out.changed.push(MealChange {
            day,
            slot: new.slot.clone(),
            slot_name: new.slot_name.clone(),
            gone,
            come,
            amounts,
        });
    }
    let lost = meals(&before.days)
        .filter(|(day, old)| !meals(&after.days).any(|(d, m)| d == *day && m.slot == old.slot));
    for (day, old) in lost {
        out.meals += 1;
        out.changed.push(MealChange {
            day,
            slot: old.slot.clone(),
            slot_name: old.slot_name.clone(),
            gone: old.items.clone(),
            come: Vec::new(),
            amounts: Vec::new(),
        });
    }
    out.changed.sort_by_key(|c| c.day);
    let at = |p: &Side, n: usize| p.mean.get(n).copied().unwrap_or(0.0);
    out.nutrients = Nutrient::all()
        .filter(|n| {
            let aimed = |s: &Side| s.aimed.contains(&n.index());
            aimed(before) || aimed(after) || *n == Nutrient::ENERGY
        })
        .map(|n| (n, at(before, n.index()), at(after, n.index())))
        .collect();
    let products: Vec<&str> = before
        .shopping
        .iter()
        .chain(&after.shopping)
        .map(|l| l.0.as_str())
        .unique()
        .collect();
    for id in products {
        let line = |p: &Side| p.shopping.iter().find(|l| l.0 == id).cloned();
        let (a, b) = (line(before), line(after));
        let grams = |l: &Option<(String, String, f64, Option<Decimal>)>| l.as_ref().map_or(0.0, |l| l.2);
        if (grams(&a) - grams(&b)).abs() < 0.5 {
            continue;
        }
        out.shopping.push(PurchaseChange {
            product: id.to_string(),
            name: a
                .as_ref()
                .or(b.as_ref())
                .map_or_else(String::new, |l| l.1.clone()),
            grams: (grams(&a), grams(&b)),
            cost: (a.and_then(|l| l.3), b.and_then(|l| l.3)),
        });
    }
    out
}

/// What could come in the place of what goes, best first: ranked by the sum of its places in the order of
/// cost and in
/// the order of closeness, those first that can stand in most of the meals. `p` are the pieces of the changed
/// brief.
///
/// # Errors
/// As [`build`].
pub fn offers(p: Pieces, before: &Plan, u: &Understood) -> Result<Vec<Offer>, Vec<Diagnostic>> {
    let model = build(p)?.model;
    let going: BTreeSet<&str> = u.from.iter().map(|&i| p.catalogue.items[i].id.as_str()).collect();
    let staple_goes = u.from.iter().all(|&i| p.catalogue.items[i].has_role("staple"));
    let amounts = |i: usize| serving_amounts(p.table, &p.catalogue.items[i]);
    // Where it stood: the meal of the model, what went with its macronutrients and cost.
    struct Gap {
        choice: usize,
        parts: Vec<(usize, usize)>,
        kcal: f64,
        macros: [f64; 3],
        cost: Option<f64>,
    }
    let mut gaps: Vec<Gap> = Vec::new();
    // In one meal, what goes may stay in others; neither it nor what stands beside it is offered.
    let mut there: BTreeSet<usize> = BTreeSet::new();
    for c in 0..model.choices.len() {
        if u.place.as_ref().is_some_and(|at| !at.is(p.kitchen, &model, c)) {
            continue;
        }
        let Some(meal) = was(&before.days, p.kitchen, &model, c) else {
            continue;
        };
        if u.place.is_some() {
            there.extend(meal.items.iter().filter_map(|e| p.catalogue.find_item(&e.id)));
        }
        for e in meal.items.iter().filter(|e| going.contains(e.id.as_str())) {
            let Some(i) = p.catalogue.find_item(&e.id) else {
                continue;
            };
            let one = amounts(i);
            let of = |n: Nutrient| one[n.index()] * e.servings;
            let item = &p.catalogue.items[i];
            // The parts that would have taken it, in every form of the slot.
            let slot = &p.kitchen.slots[model.choices[c].slot].id;
            let takes = |of: &str, q: usize| {
                let form = p.kitchen.forms.iter().find(|f| f.id == of && f.slot == *slot);
                form.and_then(|f| f.parts.get(q)).is_some_and(|part| {
                    part.take
                        .iter()
                        .any(|t| item.kinds.contains(t) || item.roles.contains(t))
                })
            };
            // A staple may give way to any staple of the slot, also where its own part takes no other.
            let staple = |n: &usize| p.catalogue.items[model.columns[*n].item].has_role("staple");
            let staples = |columns: &[usize]| item.has_role("staple") && columns.iter().any(staple);
            let forms = &model.choices[c].forms;
            let mut parts: Vec<(usize, usize)> = Vec::new();
            for (f, form) in forms.iter().enumerate() {
                for (q, part) in form.parts.iter().enumerate() {
                    if takes(&form.of, q) || staples(&part.columns) {
                        parts.push((f, q));
                    }
                }
            }
            gaps.push(Gap {
                choice: c,
                parts,
                kcal: e.kcal,
                macros: [
                    of(Nutrient::PROTEIN),
                    of(Nutrient::FAT),
                    of(Nutrient::CARBOHYDRATE),
                ],
                cost: p
                    .prices
                    .and_then(|l| item_price(p, l, item))
                    .map(|x| x * e.servings),
            });
        }
    }
    let items: BTreeSet<usize> = model
        .columns
        .iter()
        .filter(|c| {
            gaps.iter()
                .any(|g| g.choice == c.choice && g.parts.contains(&(c.form, c.part)))
        })
        .map(|c| c.item)
        .filter(|&i| !staple_goes || p.catalogue.items[i].has_role("staple"))
        .filter(|i| !there.contains(i))
        .collect();
    let mut all: Vec<Offer> = Vec::new();
    for i in items {
        let item = &p.catalogue.items[i];
        let one = amounts(i);
        let price = p.prices.and_then(|l| item_price(p, l, item));
        let mut offer = Offer {
            id: item.id.clone(),
            name: item.name.clone(),
            meals: 0,
            of: gaps.len(),
            servings: 0.0,
            serving: item.serving.clone(),
            cost_change: Some(0.0),
            energy_change: 0.0,
            protein_change: 0.0,
            distance: 0.0,
        };
        let mut replaced = 0.0;
        for g in &gaps {
            let column = model
                .columns
                .iter()
                .position(|c| c.choice == g.choice && c.item == i && g.parts.contains(&(c.form, c.part)));
            let Some(n) = column else { continue };
            let kcal = one[Nutrient::ENERGY.index()].max(1.0);
            let servings = f64::from(near(&model, n, g.kcal / kcal)) * model.columns[n].servings;
            offer.meals += 1;
            offer.servings += servings;
            offer.energy_change += kcal * servings - g.kcal;
            offer.protein_change += one[Nutrient::PROTEIN.index()] * servings - g.macros[0];
            offer.cost_change = offer
                .cost_change
                .zip(price)
                .zip(g.cost)
                .map(|((sum, new), old)| sum + new * servings - old);
            let now =
                [Nutrient::PROTEIN, Nutrient::FAT, Nutrient::CARBOHYDRATE].map(|n| one[n.index()] * servings);
            let moved: f64 = [4.0, 9.0, 4.0]
                .iter()
                .zip(now.iter().zip(g.macros))
                .map(|(k, (a, b))| k * (a - b).abs())
                .sum();
            offer.distance += moved;
            replaced += g.kcal;
        }
        if offer.meals > 0 && replaced > 0.0 {
            offer.distance /= replaced;
            all.push(offer);
        }
    }
    // Places in both orders; an item without a price stands last in that of cost.
    let place_of = |key: &dyn Fn(&Offer) -> f64| -> Vec<usize> {
        let order: Vec<usize> = (0..all.len())
            .sorted_by(|&a, &b| {
                key(&all[a])
                    .total_cmp(&key(&all[b]))
                    .then(all[a].id.cmp(&all[b].id))
            })
            .collect();
        (0..all.len())
            .map(|n| order.iter().position(|&o| o == n).unwrap_or(0))
            .collect()
    };
    let cost = place_of(&|o| o.cost_change.map_or(f64::INFINITY, |c| c / o.meals as f64));
    let close = place_of(&|o| o.distance);
    let order = (0..all.len()).sorted_by_key(|&n| (all[n].of - all[n].meals, cost[n] + close[n], close[n]));
    Ok(order.take(OFFERS).map(|n| all[n].clone()).collect())
}

/// What a serving costs for all who eat.
fn item_price(p: Pieces, list: &PriceList, item: &Item) -> Option<f64> {
    bought(p.catalogue, item)
        .iter()
        .map(|(product, grams)| list.prices.get(product).map(|x| x.per_gram() * grams))
        .sum::<Option<f64>>()
        .map(|cost| cost * p.brief.portions())
}

/// The text of a brief with a swap's edits in it, everything else as it was written.
pub fn rewrite(text: &str, brief: &Brief, edits: &[Edit]) -> String {
    let mut out = text.to_string();
    // The text of a brief can be parsed.
    let Ok(tree) = DeTable::parse(text) else {
        return out;
    };
    let entry = |key: &str| tree.get_ref().iter().find(|(k, _)| k.get_ref() == key);
    let quoted = |word: &str| toml::Value::from(word).to_string();
    let list = |key: &str, have: &[Read<String>], more: Vec<&String>| -> Option<(usize, usize, String)> {
        let words = more
            .into_iter()
            .filter(|w| !have.iter().any(|h| h.value == **w))
            .unique()
            .map(|w| quoted(w))
            .join(", ");
        if words.is_empty() {
            return None;
        }
        // In the list that is there, else a line of its own after the region.
        Some(match entry(key) {
            Some((_, value)) => {
                let (span, comma) = (value.span(), if have.is_empty() { "" } else { ", " });
                match value.get_ref() {
                    DeValue::Array(_) => (span.start + 1, span.start + 1, format!("{words}{comma}")),
                    _ => {
                        let old = text.get(span.clone()).unwrap_or_default();
                        (span.start, span.end, format!("[{words}, {old}]"))
                    }
                }
            }
            None => {
                let end = line_end(text, brief.region.span.end);
                (end, end, format!("\n{key} = [{words}]"))
            }
        })
    };
    let mut places: Vec<(usize, usize, String)> = Vec::new();
    let dislikes = edits.iter().filter_map(|e| match e {
        Edit::Dislike(w) => Some(w),
        _ => None,
    });
    let likes = edits.iter().filter_map(|e| match e {
        Edit::Like(w) => Some(w),
        _ => None,
    });
    let allergies = edits.iter().filter_map(|e| match e {
        Edit::Allergy(w) => Some(w),
        _ => None,
    });
    places.extend(list("dislikes", &brief.dislikes, dislikes.collect()));
    places.extend(list("likes", &brief.likes, likes.collect()));
    places.extend(list("allergies", &brief.allergies, allergies.collect()));
    for e in edits {
        match e {
            Edit::Region(id) => {
                let span = &brief.region.span;
                places.push((span.start, span.end, quoted(id)));
            }
            Edit::NoBudget => {
                // Every line of it becomes a comment.
                if let Some((key, value)) = entry("budget") {
                    let mut at = text[..key.span().start].rfind('\n').map_or(0, |n| n + 1);
                    while at < value.span().end {
                        places.push((at, at, "# ".into()));
                        at = line_end(text, at) + 1;
                    }
                }
            }
            _ => {}
        }
    }
    // From the end of the text on, so that earlier places stay where they are.
    places.sort_by_key(|p| std::cmp::Reverse((p.0, p.1)));
    for (start, end, new) in places {
        if out.is_char_boundary(start) && out.is_char_boundary(end) && end <= out.len() {
            out.replace_range(start..end, &new);
        }
    }
    out
}

/// Where the line of a place ends.
fn line_end(text: &str, at: usize) -> usize {
    text.get(at..)
        .and_then(|rest| rest.find('\n'))
        .map_or(text.len(), |n| at + n)
}
