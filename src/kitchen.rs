//! The kitchen: items people put on plates, what they are made of and bought as, and the meal
//! patterns of a region. Takes the text of the files under `foods/` (described in
//! `docs/catalogue.md`), gives a checked [`Catalogue`]. Knows no price and no solver.
//!
//! - [`dish`]: items that are cooked from raw ingredients (described in `docs/dishes.md`)
//! - [`retention`]: what cooking leaves of each nutrient, and what so many grams of a food hold

pub mod dish;
pub mod retention;

use crate::diagnostic::{Diagnostic, any_error, suggestion};
use crate::foods::{FoodId, FoodTable};
use dish::Dish;
use retention::{Cooking, Retention};
use serde::Deserialize;
use std::collections::{BTreeMap, BTreeSet};

/// One food of the nutrient table as a kitchen uses it.
#[derive(Clone, Debug, PartialEq)]
pub struct Ingredient {
    /// Row of the nutrient table.
    pub food: FoodId,
    /// Plain name used in plans and lists.
    pub short: String,
    /// Product that is bought for it.
    pub product: String,
    /// Grams of this food per gram of the product's edible part.
    pub yield_factor: f64,
    /// Where the factor comes from.
    pub yield_source: String,
    /// What is in it: allergens, animals, and what religious rules ask for.
    pub contains: BTreeSet<String>,
}

/// Something one buys.
#[derive(Clone, Debug, PartialEq)]
pub struct Product {
    /// Id, snake_case.
    pub id: String,
    /// Name on a shopping list.
    pub name: String,
    /// Shop section.
    pub section: String,
    /// Share of the bought mass that is thrown away, 0..1.
    pub refuse: f64,
    /// g/ml for products sold by volume.
    pub density: Option<f64>,
    /// As-bought grams of a piece.
    pub piece_g: Option<f64>,
    /// Days it keeps at home.
    pub keeps_days: u32,
}

/// A food with the grams of it in one serving.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Component {
    /// Row of the nutrient table.
    pub food: String,
    /// Grams of edible portion per serving: as eaten, or raw where it is cooked in a dish.
    pub grams: f64,
    /// How it is cooked from raw; `None` for a food counted as eaten.
    #[serde(skip)]
    pub cooking: Option<Cooking>,
}

/// A food or mixture as it can be put on a plate.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Item {
    /// Id, snake_case, unique.
    pub id: String,
    /// Name as said at the table.
    pub name: String,
    /// Household amount of one serving, such as "1 katori".
    pub serving: String,
    /// What one serving holds.
    pub foods: Vec<Component>,
    /// Grams of one serving as eaten, where added or lost water makes it differ from the sum of the foods.
    pub grams: Option<f64>,
    /// Smallest change, servings.
    pub step: f64,
    /// Least in a meal when eaten at all, servings.
    pub least: f64,
    /// Most in a meal on a 2,500-kcal day, servings.
    pub most: f64,
    /// Most in a day on a 2,500-kcal day, servings.
    pub most_per_day: f64,
    /// Most days a week.
    pub times: u32,
    /// Full days between two uses.
    #[serde(default)]
    pub gap: u32,
    /// Roles on the plate.
    pub roles: Vec<String>,
    /// Kinds that forms ask for.
    #[serde(default)]
    pub kinds: Vec<String>,
    /// Slots where it may stand.
    pub slots: Vec<String>,
    /// Regions whose kitchens have it.
    pub regions: Vec<String>,
    /// Variety family.
    pub group: String,
    /// Hands-on minutes.
    #[serde(default)]
    pub minutes: f64,
    /// Flags added to what the foods contain.
    #[serde(default)]
    pub contains: Vec<String>,
    /// The recipe, where the item is cooked from raw ingredients.
    #[serde(skip)]
    pub dish: Option<Dish>,
}

impl Item {
    /// Mass of one serving as eaten. \[g\]
    pub fn serving_grams(&self) -> f64 {
        self.grams
            .unwrap_or_else(|| self.foods.iter().map(|c| c.grams).sum())
    }
    /// Whether the item has the role.
    pub fn has_role(&self, role: &str) -> bool {
        self.roles.iter().any(|r| r == role)
    }
}

/// An eating occasion of a region's day.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Slot {
    /// Id, such as `breakfast`.
    pub id: String,
    /// Name for people.
    pub name: String,
    /// Usual share of the day's energy, %.
    pub share: f64,
    /// Least share, %.
    pub least: f64,
    /// Most share, %.
    pub most: f64,
    /// Whether it is a main meal.
    #[serde(default)]
    pub main: bool,
}

/// A part of a form: which items, and how many of them stand on the plate.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Part {
    /// Kinds or roles that belong here.
    pub take: Vec<String>,
    /// Least items.
    pub least: u32,
    /// Most items.
    pub most: u32,
}

/// One shape that a meal can take.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Form {
    /// Slot it belongs to.
    pub slot: String,
    /// Id, unique in its slot.
    pub id: String,
    /// Name for people.
    pub name: String,
    /// Most days a week.
    #[serde(default = "seven")]
    pub times: u32,
    /// What stands in it.
    pub parts: Vec<Part>,
}

fn seven() -> u32 {
    7
}

/// Least distinct things a week.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Variety {
    /// Distinct items.
    pub foods: u32,
    /// Distinct vegetables.
    pub vegetable: u32,
    /// Distinct fruits.
    pub fruit: u32,
    /// Distinct families among protein and legume items.
    pub protein_groups: u32,
}

/// A region's kitchen.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Kitchen {
    /// Id, such as `us`.
    pub id: String,
    /// Name for people.
    pub name: String,
    /// Currency of its price list.
    pub currency: String,
    /// `metric` or `us`, for shopping lists.
    pub units: String,
    /// Items written for other kitchens that this one has too.
    #[serde(default)]
    pub also: Vec<String>,
    /// Eating occasions in the order of the day.
    #[serde(rename = "slot")]
    pub slots: Vec<Slot>,
    /// Shapes of meals.
    #[serde(rename = "form")]
    pub forms: Vec<Form>,
    /// Variety over a week.
    pub variety: Variety,
}

/// A diet or an allergy: which flags it excludes.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rule {
    /// Id, snake_case.
    pub id: String,
    /// Name for people.
    pub name: String,
    /// Flags excluded.
    pub excludes: Vec<String>,
    /// Two groups of flags that never stand in one meal: `[[meats], [milk]]`; empty without such a rule.
    #[serde(default)]
    pub apart: Vec<Vec<String>>,
}

/// Portions of a role or kind on days of one energy, as they come out of the kitchen.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PortionRow {
    /// Role or kind of an item.
    pub word: String,
    /// Energy of the day, kcal.
    pub kcal: f64,
    /// Least in a meal, in the row's unit.
    pub least: f64,
    /// Most in a meal.
    pub most: f64,
    /// Most in a day.
    pub most_per_day: f64,
    /// Unit of the three: `g` or `piece`.
    pub unit: String,
    /// Where the figures come from.
    pub source: String,
}

/// How the least and the most of an item grow, against those of a 2,500-kcal day. \[1\]
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Growth {
    /// Of the least in a meal.
    pub least: f64,
    /// Of the most in a meal.
    pub most: f64,
    /// Of the most in a day.
    pub most_per_day: f64,
}

/// The day's energy for which the items state their portions, kcal.
pub const PORTION_KCAL: f64 = 2500.0;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Rules {
    diet: Vec<Rule>,
    allergen: Vec<Rule>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Items {
    item: Vec<Item>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct IngredientRow {
    food: String,
    short: String,
    product: String,
    #[serde(rename = "yield")]
    yield_factor: f64,
    yield_source: String,
    contains: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ProductRow {
    product: String,
    name: String,
    section: String,
    food: Option<String>,
    refuse_percent: Option<f64>,
    density_g_per_ml: Option<f64>,
    piece_g: Option<f64>,
    keeps_days: u32,
}

/// Every flag an ingredient may carry; an unknown word in the data is an error.
pub const FLAGS: [&str; 29] = [
    "milk",
    "egg",
    "fish",
    "unscaled_fish",
    "crustacean",
    "mollusc",
    "tree_nut",
    "peanut",
    "wheat",
    "gluten",
    "soy",
    "sesame",
    "mustard",
    "celery",
    "lupin",
    "sulphite",
    "beef",
    "pork",
    "poultry",
    "lamb",
    "other_meat",
    "gelatine",
    "rennet",
    "honey",
    "alcohol",
    "onion_garlic",
    "root",
    "mushroom",
    "brinjal",
];

/// Everything the kitchens know.
#[derive(Clone, Debug, Default)]
pub struct Catalogue {
    /// By food id.
    pub ingredients: BTreeMap<FoodId, Ingredient>,
    /// By product id.
    pub products: BTreeMap<String, Product>,
    /// In file order.
    pub items: Vec<Item>,
    /// In file order.
    pub kitchens: Vec<Kitchen>,
    /// Diets.
    pub diets: Vec<Rule>,
    /// Allergens.
    pub allergens: Vec<Rule>,
    /// How portions grow with the day's energy, in file order.
    pub portions: Vec<PortionRow>,
    /// Ways of cooking.
    pub retention: Retention,
}

/// The text of every file of a catalogue, by kind.
#[derive(Clone, Debug, Default)]
pub struct Files<'a> {
    /// What is in each food and what it is bought as, CSV.
    pub ingredients: Vec<Source<'a>>,
    /// What one buys, CSV.
    pub products: Vec<Source<'a>>,
    /// Items, TOML.
    pub items: Vec<Source<'a>>,
    /// Dishes, TOML.
    pub dishes: Vec<Source<'a>>,
    /// Kitchens, TOML, one each.
    pub kitchens: Vec<Source<'a>>,
    /// Diets and allergens, TOML, and how portions grow, CSV.
    pub rules: Vec<Source<'a>>,
    /// The retention table, CSV.
    pub retention: Option<Source<'a>>,
}

/// The text of a data file with its name, for messages.
#[derive(Clone, Copy, Debug)]
pub struct Source<'a> {
    /// File name.
    pub name: &'a str,
    /// Its text.
    pub text: &'a str,
}

/// Roles on the plate, those of `docs/catalogue.md`.
pub const ROLES: [&str; 11] = [
    "staple",
    "protein",
    "legume",
    "vegetable",
    "fruit",
    "dairy",
    "fat",
    "nut",
    "drink",
    "condiment",
    "sweet",
];

static DATA: include_dir::Dir = include_dir::include_dir!("$CARGO_MANIFEST_DIR/foods/catalogue");
static DISHES: include_dir::Dir = include_dir::include_dir!("$CARGO_MANIFEST_DIR/foods/dishes");
static RETENTION: Source = Source {
    name: "nutrient_retention_r6.csv",
    text: include_str!("../foods/cooking/nutrient_retention_r6.csv"),
};

/// The bundled files of a folder of `foods/catalogue`, by name.
pub(crate) fn bundled(folder: &str) -> Vec<Source<'static>> {
    DATA.get_dir(folder).map(files_of).unwrap_or_default()
}

fn files_of(folder: &include_dir::Dir<'static>) -> Vec<Source<'static>> {
    let mut files: Vec<Source> = folder
        .files()
        .filter_map(|f| {
            Some(Source {
                name: f.path().to_str()?,
                text: f.contents_utf8()?,
            })
        })
        .filter(|s| !s.name.ends_with(".md"))
        .collect();
    files.sort_by_key(|s| s.name);
    files
}

impl Catalogue {
    /// The bundled catalogue, checked against the food table.
    ///
    /// # Errors
    /// Every problem of the data files; a build whose tests pass has none.
    pub fn bundled(table: &FoodTable) -> Result<Catalogue, Vec<Diagnostic>> {
        let mut dishes = files_of(&DISHES);
        dishes.retain(|s| s.name.ends_with(".toml"));
        Self::read(
            table,
            &Files {
                ingredients: bundled("ingredients"),
                products: bundled("products"),
                items: bundled("items"),
                dishes,
                kitchens: bundled("kitchens"),
                rules: bundled("rules"),
                retention: Some(RETENTION),
            },
        )
    }

    /// A catalogue from the text of its files.
    ///
    /// # Errors
    /// Every problem at once, each naming its file.
    pub fn read(table: &FoodTable, files: &Files) -> Result<Catalogue, Vec<Diagnostic>> {
        let mut c = Catalogue::default();
        let mut problems = Vec::new();
        // Reading the items is half of all the reading: it goes on beside the rest.
        let items = std::thread::scope(|beside| {
            let items = beside.spawn(|| {
                files
                    .items
                    .iter()
                    .map(|s| toml::from_str::<Items>(s.text))
                    .collect::<Vec<_>>()
            });
            if let Some(source) = &files.retention {
                match Retention::read(source) {
                    Ok(read) => c.retention = read,
                    Err(found) => problems.extend(found),
                }
            }
            for source in &files.products {
                for (line, row) in rows::<ProductRow>(source, &mut problems) {
                    c.add_product(table, source, line, row, &mut problems);
                }
            }
            for source in &files.ingredients {
                for (line, row) in rows::<IngredientRow>(source, &mut problems) {
                    c.add_ingredient(table, source, line, row, &mut problems);
                }
            }
            for source in &files.kitchens {
                match toml::from_str::<Kitchen>(source.text) {
                    Ok(read) => c.kitchens.push(read),
                    Err(e) => problems.push(bad_file(source, &e)),
                }
            }
            items
                .join()
                .unwrap_or_else(|broke| std::panic::resume_unwind(broke))
        });
        for (source, read) in files.items.iter().zip(items) {
            match read {
                Ok(read) => c.items.extend(read.item),
                Err(e) => problems.push(bad_file(source, &e)),
            }
        }
        for source in files.rules.iter().filter(|s| s.name.ends_with(".csv")) {
            for (line, row) in rows::<PortionRow>(source, &mut problems) {
                c.add_portion(source, line, row, &mut problems);
            }
        }
        for source in files.rules.iter().filter(|s| !s.name.ends_with(".csv")) {
            match toml::from_str::<Rules>(source.text) {
                Ok(read) => {
                    c.diets.extend(read.diet);
                    c.allergens.extend(read.allergen);
                }
                Err(e) => problems.push(bad_file(source, &e)),
            }
        }
        for source in &files.dishes {
            dish::read(&mut c, table, source, &mut problems);
        }
        c.share_items(&mut problems);
        c.check(&mut problems);
        if problems.is_empty() { Ok(c) } else { Err(problems) }
    }

    /// Adds the dishes of a user's own files, and the ingredients that they name. Gives remarks.
    ///
    /// # Errors
    /// Every problem of these files at once, each naming its file.
    pub fn add_dishes(
        &mut self,
        table: &FoodTable,
        files: &[Source],
    ) -> Result<Vec<Diagnostic>, Vec<Diagnostic>> {
        let mut problems = Vec::new();
        let had = self.items.len();
        for source in files {
            dish::read(self, table, source, &mut problems);
        }
        for i in &self.items[had..] {
            if !self.asked_for(i) {
                problems.push(Diagnostic::warning(
                    "dish-not-asked-for",
                    format!("dish `{}`: no form of a meal asks for its kinds and roles in its slots, so no plan has it; see `docs/catalogue.md`", i.id),
                ));
            }
        }
        if any_error(&problems) {
            Err(problems)
        } else {
            Ok(problems)
        }
    }

    /// Whether a form of a meal of one of its regions takes the item.
    pub fn asked_for(&self, item: &Item) -> bool {
        let kitchens = self.kitchens.iter().filter(|k| item.regions.contains(&k.id));
        kitchens.flat_map(|k| &k.forms).any(|f| {
            item.slots.contains(&f.slot)
                && f.parts
                    .iter()
                    .flat_map(|p| &p.take)
                    .any(|t| item.kinds.contains(t) || item.roles.contains(t))
        })
    }

    fn add_product(
        &mut self,
        table: &FoodTable,
        s: &Source,
        line: usize,
        r: ProductRow,
        out: &mut Vec<Diagnostic>,
    ) {
        let food = r.food.filter(|f| !f.is_empty()).map(FoodId::new);
        if let Some(f) = &food
            && !table.contains(f)
        {
            out.push(problem(
                s,
                line,
                format!("product `{}` names food `{f}`, which no table has", r.product),
            ));
        }
        let from_table = food
            .as_ref()
            .and_then(|f| table.kept(f))
            .and_then(|f| f.refuse_percent);
        let refuse = r.refuse_percent.or(from_table).unwrap_or(0.0) / 100.0;
        if !(0.0..1.0).contains(&refuse) {
            out.push(problem(
                s,
                line,
                format!("refuse of `{}` is {refuse}, expected 0 to under 100 %", r.product),
            ));
            return;
        }
        let p = Product {
            id: r.product.clone(),
            name: r.name,
            section: r.section,
            refuse,
            density: r.density_g_per_ml,
            piece_g: r.piece_g,
            keeps_days: r.keeps_days,
        };
        if self.products.insert(r.product.clone(), p).is_some() {
            out.push(problem(s, line, format!("product `{}` stands twice", r.product)));
        }
    }

    fn add_portion(&mut self, s: &Source, line: usize, r: PortionRow, out: &mut Vec<Diagnostic>) {
        let in_order = r.kcal > 0.0 && r.least > 0.0 && r.most >= r.least && r.most_per_day >= r.most;
        let after = self
            .portions
            .iter()
            .rfind(|o| o.word == r.word)
            .is_none_or(|o| o.kcal < r.kcal && o.unit == r.unit);
        if !(in_order && after) {
            out.push(problem(
                s,
                line,
                format!(
                    "portions of `{}`: expected 0 < least <= most <= most_per_day, one unit, and energies that rise",
                    r.word
                ),
            ));
        } else if r.source.is_empty() {
            out.push(problem(
                s,
                line,
                format!("portions of `{}` have no source", r.word),
            ));
        } else {
            self.portions.push(r);
        }
    }

    /// How the portions of an item grow on a day of so much energy: by the first of its kinds, else the first
    /// of its roles, that has rows; on straight lines between them and level beyond. Nothing grows without
    /// rows.
    pub fn growth(&self, item: &Item, kcal: f64) -> Growth {
        let word = item
            .kinds
            .iter()
            .chain(&item.roles)
            .find(|w| self.portions.iter().any(|r| r.word == **w));
        let rows: Vec<&PortionRow> = word.map_or_else(Vec::new, |w| {
            self.portions.iter().filter(|r| r.word == *w).collect()
        });
        let at = |kcal: f64, read: &dyn Fn(&PortionRow) -> f64| -> Option<f64> {
            let (first, last) = (rows.first()?, rows.last()?);
            let kcal = kcal.clamp(first.kcal, last.kcal);
            let b = rows.iter().position(|r| r.kcal >= kcal)?;
            let a = b.saturating_sub(1);
            let (ra, rb) = (rows[a], rows[b]);
            let share = if ra.kcal < rb.kcal {
                (kcal - ra.kcal) / (rb.kcal - ra.kcal)
            } else {
                0.0
            };
            Some(read(ra) + (read(rb) - read(ra)) * share)
        };
        let factor = |read: &dyn Fn(&PortionRow) -> f64| {
            at(kcal, read)
                .zip(at(PORTION_KCAL, read))
                .map_or(1.0, |(now, then)| now / then)
        };
        Growth {
            least: factor(&|r| r.least),
            most: factor(&|r| r.most),
            most_per_day: factor(&|r| r.most_per_day),
        }
    }

    fn add_ingredient(
        &mut self,
        table: &FoodTable,
        s: &Source,
        line: usize,
        r: IngredientRow,
        out: &mut Vec<Diagnostic>,
    ) {
        let food = FoodId::new(r.food);
        if !table.contains(&food) {
            out.push(problem(s, line, format!("food `{food}` is in no table")));
        }
        if !self.products.contains_key(&r.product) {
            out.push(problem(
                s,
                line,
                format!("product `{}` of `{food}` is unknown", r.product),
            ));
        }
        if !(r.yield_factor > 0.05 && r.yield_factor < 200.0) {
            out.push(problem(
                s,
                line,
                format!("yield {} of `{food}`, expected 0.05 to 200", r.yield_factor),
            ));
        }
        let words: BTreeSet<String> = r
            .contains
            .split_whitespace()
            .filter(|w| *w != "-")
            .map(str::to_string)
            .collect();
        if r.contains.trim().is_empty() {
            out.push(problem(
                s,
                line,
                format!("`contains` of `{food}` is blank; write `-` when it holds none of the flags"),
            ));
        }
        for w in words.iter().filter(|w| !known_flag(w)) {
            out.push(problem(s, line, format!("flag `{w}` of `{food}` is unknown")));
        }
        let i = Ingredient {
            food: food.clone(),
            short: r.short,
            product: r.product,
            yield_factor: r.yield_factor,
            yield_source: r.yield_source,
            contains: words,
        };
        if self.ingredients.insert(food.clone(), i).is_some() {
            out.push(problem(s, line, format!("food `{food}` stands twice")));
        }
    }

    /// Gives each kitchen the items of other kitchens that it names.
    fn share_items(&mut self, out: &mut Vec<Diagnostic>) {
        for k in &self.kitchens {
            for id in &k.also {
                match self.items.iter_mut().find(|i| i.id == *id) {
                    Some(i) if !i.regions.contains(&k.id) => i.regions.push(k.id.clone()),
                    Some(_) => {}
                    None => {
                        let near = suggestion(id, self.items.iter().map(|i| i.id.as_str()));
                        let help = near.map_or(String::new(), |n| format!("; did you mean `{n}`?"));
                        out.push(Diagnostic::error(
                            "kitchen-data",
                            format!(
                                "kitchen `{}`: `also` names item `{id}`, which no file has{help}",
                                k.id
                            ),
                        ));
                    }
                }
            }
        }
    }

    fn check(&self, out: &mut Vec<Diagnostic>) {
        let mut seen = BTreeSet::new();
        let kitchens: BTreeSet<&str> = self.kitchens.iter().map(|k| k.id.as_str()).collect();
        for i in &self.items {
            let mut say =
                |text: String| out.push(Diagnostic::error("item-data", format!("item `{}`: {text}", i.id)));
            if !seen.insert(&i.id) {
                say("stands twice".into());
            }
            if i.foods.is_empty() {
                say("has no foods".into());
            }
            for c in &i.foods {
                if !self.ingredients.contains_key(&FoodId::new(c.food.as_str())) {
                    say(format!("food `{}` has no row among the ingredients", c.food));
                }
                if !(c.grams > 0.0 && c.grams < 2000.0) {
                    say(format!("{} g of `{}` in a serving", c.grams, c.food));
                }
            }
            let whole = |v: f64| ((v / i.step).round() * i.step - v).abs() < 1e-6;
            if !(i.step > 0.0 && i.least >= i.step && i.most >= i.least && i.most_per_day >= i.most) {
                say("expected 0 < step <= least <= most <= most_per_day".into());
            } else if !(whole(i.least) && whole(i.most)) {
                say("least and most are not whole steps".into());
            }
            if i.roles.is_empty() || i.slots.is_empty() || i.regions.is_empty() || i.group.is_empty() {
                say("needs roles, slots, regions and a group".into());
            }
            for r in i.roles.iter().filter(|r| !ROLES.contains(&r.as_str())) {
                say(format!("role `{r}` is unknown"));
            }
            for r in i.regions.iter().filter(|r| !kitchens.contains(r.as_str())) {
                say(format!("region `{r}` has no kitchen"));
            }
            for w in i.contains.iter().filter(|w| !known_flag(w)) {
                say(format!("flag `{w}` is unknown"));
            }
        }
        for k in &self.kitchens {
            for f in &k.forms {
                if !k.slots.iter().any(|s| s.id == f.slot) {
                    out.push(Diagnostic::error(
                        "kitchen-data",
                        format!(
                            "kitchen `{}`: form `{}` stands in slot `{}`, which it has not",
                            k.id, f.id, f.slot
                        ),
                    ));
                }
                let filled = self.fill(k, f, &|_| true);
                for (n, part) in f.parts.iter().enumerate() {
                    if (filled[n].len() as u32) < part.least.max(1) {
                        out.push(Diagnostic::error(
                            "kitchen-data",
                            format!(
                                "kitchen `{}`: no item for {:?} of form `{}` in {}",
                                k.id, part.take, f.id, f.slot
                            ),
                        ));
                    }
                }
            }
        }
        for r in self.diets.iter().chain(&self.allergens) {
            for w in r
                .excludes
                .iter()
                .chain(r.apart.iter().flatten())
                .filter(|w| !known_flag(w))
            {
                out.push(Diagnostic::error(
                    "rule-data",
                    format!("diet or allergen `{}` names `{w}`, which is no flag", r.id),
                ));
            }
            if !(r.apart.is_empty() || r.apart.len() == 2 && r.apart.iter().all(|g| !g.is_empty())) {
                out.push(Diagnostic::error(
                    "rule-data",
                    format!(
                        "`apart` of `{}`: expected two groups of flags, as [[\"beef\"], [\"milk\"]]",
                        r.id
                    ),
                ));
            }
        }
    }

    /// The items that belong in each part of a form, as indices into `items`: an item belongs to
    /// the first part that takes one of its kinds or roles.
    pub fn fill(&self, kitchen: &Kitchen, form: &Form, allowed: &dyn Fn(&Item) -> bool) -> Vec<Vec<usize>> {
        let mut parts = vec![Vec::new(); form.parts.len()];
        for (n, item) in self.items.iter().enumerate() {
            if !item.regions.contains(&kitchen.id) || !item.slots.contains(&form.slot) || !allowed(item) {
                continue;
            }
            let home = form.parts.iter().position(|p| {
                p.take
                    .iter()
                    .any(|t| item.kinds.contains(t) || item.roles.contains(t))
            });
            if let Some(p) = home {
                parts[p].push(n);
            }
        }
        parts
    }

    /// The kitchen with this id.
    pub fn kitchen(&self, id: &str) -> Option<&Kitchen> {
        self.kitchens.iter().find(|k| k.id == id)
    }

    /// The position of an item by id or, in any case, by name.
    pub fn find_item(&self, word: &str) -> Option<usize> {
        self.items
            .iter()
            .position(|i| i.id == word)
            .or_else(|| self.items.iter().position(|i| i.name.eq_ignore_ascii_case(word)))
    }

    /// The position of the item that a word of a brief means: by id or, in any case, by name, of this kitchen before
    /// those of others, since kitchens share names.
    pub fn item_of(&self, word: &str, kitchen: &str) -> Option<usize> {
        let here = |named: &dyn Fn(&Item) -> bool| {
            let is = |i: &Item| named(i) && i.regions.iter().any(|r| r == kitchen);
            self.items.iter().position(is)
        };
        here(&|i| i.id == word)
            .or_else(|| here(&|i| i.name.eq_ignore_ascii_case(word)))
            .or_else(|| self.find_item(word))
    }

    /// The product that a line of a price list names: by its id, by a food that is bought as it, or by an
    /// item made of that product alone.
    pub fn product_of(&self, buy: &str) -> Option<&Product> {
        if let Some(product) = self.products.get(buy) {
            return Some(product);
        }
        let of_food = |food: &str| {
            self.ingredients
                .get(&FoodId::new(food))
                .map(|i| i.product.as_str())
        };
        let id = of_food(buy).or_else(|| {
            let item = self.items.iter().find(|i| i.id == buy)?;
            let mut products = item.foods.iter().map(|c| of_food(&c.food));
            let first = products.next()??;
            products.all(|p| p == Some(first)).then_some(first)
        })?;
        self.products.get(id)
    }

    /// How much of each product a serving of an item takes. \[g as bought\]
    pub fn bought(&self, item: &Item) -> Vec<(String, f64)> {
        let mut sum: BTreeMap<String, f64> = BTreeMap::new();
        for c in &item.foods {
            if let Some(i) = self.ingredients.get(&FoodId::new(c.food.as_str())) {
                let refuse = self.products.get(&i.product).map_or(0.0, |p| p.refuse);
                *sum.entry(i.product.clone()).or_default() += c.grams / i.yield_factor / (1.0 - refuse);
            }
        }
        sum.into_iter().collect()
    }

    /// The diets that an item fits: none of the flags that they exclude is in it. Empty when its contents
    /// are not known.
    pub fn fits(&self, item: &Item) -> Vec<&Rule> {
        let Some(has) = self.contains(item) else {
            return Vec::new();
        };
        let clean = |r: &&Rule| !r.excludes.iter().any(|e| has.contains(e));
        self.diets.iter().filter(clean).collect()
    }

    /// The item id nearest to a misspelt one.
    pub fn nearest_item(&self, word: &str) -> Option<&str> {
        suggestion(word, self.items.iter().map(|i| i.id.as_str()))
    }

    /// Everything an item contains: the union over its foods. `None` when any food is unknown.
    pub fn contains(&self, item: &Item) -> Option<BTreeSet<String>> {
        let mut all: BTreeSet<String> = item.contains.iter().cloned().collect();
        for c in &item.foods {
            all.extend(
                self.ingredients
                    .get(&FoodId::new(c.food.as_str()))?
                    .contains
                    .iter()
                    .cloned(),
            );
        }
        Some(all)
    }
}

fn known_flag(word: &str) -> bool {
    FLAGS.contains(&word) || word == "caffeine"
}

fn problem(s: &Source, line: usize, text: String) -> Diagnostic {
    Diagnostic::error("catalogue-data", format!("{}: {text}", s.name)).on_line(line)
}

fn bad_file(s: &Source, e: &toml::de::Error) -> Diagnostic {
    let line = e
        .span()
        .map(|r| s.text[..r.start.min(s.text.len())].lines().count().max(1));
    let d = Diagnostic::error("catalogue-data", format!("{}: {}", s.name, e.message()));
    match line {
        Some(l) => d.on_line(l),
        None => d,
    }
}

/// Rows of a CSV source with their line numbers; bad rows become problems.
pub(crate) fn rows<T: for<'de> Deserialize<'de>>(
    source: &Source,
    out: &mut Vec<Diagnostic>,
) -> Vec<(usize, T)> {
    let mut reader = csv::ReaderBuilder::new()
        .trim(csv::Trim::All)
        .from_reader(source.text.as_bytes());
    let headers = match reader.headers() {
        Ok(h) => h.clone(),
        Err(e) => {
            out.push(Diagnostic::error(
                "catalogue-data",
                format!("{}: {e}", source.name),
            ));
            return Vec::new();
        }
    };
    let mut good = Vec::new();
    for record in reader.records() {
        let read = record.and_then(|r| {
            let line = r.position().map_or(0, |p| p.line() as usize);
            r.deserialize::<T>(Some(&headers)).map(|v| (line, v))
        });
        match read {
            Ok(pair) => good.push(pair),
            Err(e) => out.push(Diagnostic::error(
                "catalogue-data",
                format!("{}: {e}", source.name),
            )),
        }
    }
    good
}
