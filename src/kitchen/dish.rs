//! Dishes: items cooked from raw ingredients, read from the files that `docs/dishes.md` describes. Takes
//! the text of a file and the catalogue so far, adds checked items; reports every mistake with its line.

use super::retention::{Cooking, NONE, Retention, add, held};
use super::{Catalogue, Component, FLAGS, Ingredient, Item, Product, ROLES, Source, known_flag};
use crate::diagnostic::{Diagnostic, suggestion};
use crate::foods::{FoodId, FoodTable};
use crate::nutrient::Nutrient;
use std::collections::BTreeSet;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// How an item is cooked: a recipe for a batch.
#[derive(Clone, Debug, PartialEq)]
pub struct Dish {
    /// Where amounts and method come from.
    pub source: String,
    /// Servings of a batch.
    pub servings: f64,
    /// Mass of the finished batch. \[g\]
    pub cooked: f64,
    /// Tap water added. \[g\]
    pub water: f64,
    /// What goes in, for the batch.
    pub ingredients: Vec<Raw>,
    /// Steps in the order of work.
    pub method: Vec<String>,
    /// Minutes from start to table.
    pub total_minutes: f64,
    /// Days it keeps cooked, refrigerated; 0: eat at once.
    pub keeps_days: u32,
    /// Whether it is worth cooking for several days at a time.
    pub batch: bool,
}

/// A raw ingredient of a batch.
#[derive(Clone, Debug, PartialEq)]
pub struct Raw {
    /// Row of the nutrient table.
    pub food: FoodId,
    /// Grams of edible portion that go in.
    pub grams: f64,
    /// Grams of frying fat that end up in the food; `None` when all of it does.
    pub absorbed: Option<f64>,
    /// Grams of its fat that are poured off.
    pub fat_lost: f64,
    /// Code of the retention table, or `none`.
    pub cooking: String,
}

impl Raw {
    /// Grams that are eaten, as raw: what is absorbed of frying fat, else all.
    pub fn eaten(&self) -> f64 {
        self.absorbed.unwrap_or(self.grams)
    }
}

impl Dish {
    /// Mass of what goes in: ingredients, of frying fat what is absorbed, and added water. \[g\]
    pub fn mass_in(&self) -> f64 {
        self.water + self.ingredients.iter().map(Raw::eaten).sum::<f64>()
    }

    /// Fat that is poured off. \[g\]
    pub fn fat_lost(&self) -> f64 {
        self.ingredients.iter().map(|r| r.fat_lost).sum()
    }

    /// Mass of what comes out when no water boils off. \[g\]
    fn mass_kept(&self) -> f64 {
        self.mass_in() - self.fat_lost()
    }

    /// Water that boils off. \[g\]
    pub fn boiled_off(&self) -> f64 {
        (self.mass_kept() - self.cooked).max(0.0)
    }

    /// Grams of water in the raw ingredients that are eaten; `None` when the table does not know it of one.
    fn raw_water(&self, table: &FoodTable) -> Option<f64> {
        let of = |r: &Raw| Some(table.kept(&r.food)?.amount(Nutrient::WATER)? * r.eaten() / 100.0);
        self.ingredients.iter().map(of).sum()
    }

    /// What one serving holds, as components of an item; `None` for a code that the table has not.
    fn components(&self, table: &FoodTable, retention: &Retention) -> Option<Vec<Component>> {
        let water = self
            .raw_water(table)
            .filter(|w| *w > 0.0)
            .map(|w| (w + self.water + self.cooked - self.mass_kept()).max(0.0) / w);
        let one = |r: &Raw| {
            Some(Component {
                food: r.food.as_str().to_string(),
                grams: r.eaten() / self.servings,
                cooking: Some(Cooking {
                    way: retention.way(&r.cooking)?.clone(),
                    fat_lost: r.fat_lost / r.eaten(),
                    water,
                }),
            })
        };
        self.ingredients.iter().map(one).collect()
    }
}

/// What a serving of an item holds, by [`Nutrient::index`] and in each nutrient's unit.
#[derive(Clone, Debug, PartialEq)]
pub struct Serving {
    /// As it is eaten; what is not known counts as nothing.
    pub cooked: Vec<f64>,
    /// The same ingredients before they are cooked.
    pub raw: Vec<f64>,
    /// Share of the ingredients' mass for which the amount is known, 0..1.
    pub known: Vec<f64>,
}

/// What a serving of an item holds, before and after it is cooked.
pub fn serving(table: &FoodTable, item: &Item) -> Serving {
    let none = || vec![0.0; Nutrient::COUNT];
    let mut all = Serving {
        cooked: none(),
        raw: none(),
        known: none(),
    };
    let mut mass = 0.0;
    for c in &item.foods {
        let food = FoodId::new(c.food.as_str());
        let of = |cooking| held(table, &food, c.grams, cooking);
        let (Some(raw), Some(cooked)) = (of(None), of(c.cooking.as_ref())) else {
            continue;
        };
        add(&mut all.raw, &raw);
        add(&mut all.cooked, &cooked);
        mass += c.grams;
        for (k, _) in all.known.iter_mut().zip(&cooked).filter(|(_, a)| a.is_some()) {
            *k += c.grams;
        }
    }
    for k in &mut all.known {
        *k = if mass > 0.0 { *k / mass } else { 0.0 };
    }
    all
}

/// Share by which `cooked` may pass what goes in, and fall short of its dry matter: rounding of grams.
const ROUNDING: f64 = 0.02;
/// Largest figures that are read; what is above is a slip of the hand. Design choices.
const MOST_GRAMS: f64 = 50_000.0;
const MOST_SERVINGS: f64 = 200.0;
const MOST_MINUTES: f64 = 3.0 * 24.0 * 60.0;
const MOST_SERVING_GRAMS: f64 = 2000.0;
const MOST_DAYS: f64 = 365.0;

/// Keys of a `[[dish]]`, in the order of the page.
const DISH_KEYS: [&str; 26] = [
    "id",
    "name",
    "source",
    "servings",
    "serving",
    "cooked",
    "water",
    "ingredients",
    "method",
    "minutes",
    "total_minutes",
    "keeps_days",
    "batch",
    "step",
    "least",
    "most",
    "most_per_day",
    "times",
    "gap",
    "roles",
    "kinds",
    "slots",
    "regions",
    "group",
    "contains",
    "grams",
];
const RAW_KEYS: [&str; 5] = ["food", "grams", "absorbed", "fat_lost", "cooking"];
const INGREDIENT_KEYS: [&str; 5] = ["food", "short", "product", "yield", "contains"];
/// Days a product of a user's own keeps when nothing says so: the shortest that asks for no daily shopping.
/// A design choice.
const OWN_KEEPS_DAYS: u32 = 7;

/// Reads the dishes of a file into the catalogue; what has a mistake is left out and reported.
pub(super) fn read(c: &mut Catalogue, table: &FoodTable, source: &Source, out: &mut Vec<Diagnostic>) {
    let (tree, syntax) = DeTable::parse_recoverable(source.text);
    for e in syntax {
        let span = e.span().unwrap_or(0..0);
        out.push(
            Diagnostic::error("dish-syntax", format!("{}: {}", source.name, e.message().trim()))
                .at(span.clone(), "")
                .on_line(line_of(source.text, span.start)),
        );
    }
    let mut r = Reader { source, out };
    for (key, value) in tree.get_ref() {
        let known: &str = key.get_ref();
        if !["dish", "ingredient"].contains(&known) {
            r.say(
                "dish-unknown-key",
                key.span(),
                "the file",
                format!("unknown table `{known}`; expected [[dish]] or [[ingredient]]"),
            );
        } else if !matches!(value.get_ref(), DeValue::Array(_)) {
            r.say(
                "dish-kind",
                value.span(),
                "the file",
                format!(
                    "`{known}` is {}, expected tables headed [[{known}]]",
                    kind(value.get_ref())
                ),
            );
        }
    }
    let list = |key: &str| match tree.get_ref().iter().find(|(k, _)| k.get_ref() == key) {
        Some((_, v)) => match v.get_ref() {
            DeValue::Array(a) => a.iter().collect::<Vec<_>>(),
            _ => Vec::new(),
        },
        None => Vec::new(),
    };
    for (n, value) in list("ingredient").into_iter().enumerate() {
        ingredient(c, table, &mut r, n, value);
    }
    for (n, value) in list("dish").into_iter().enumerate() {
        if let Some(item) = dish(c, table, &mut r, n, value) {
            c.items.push(item);
        }
    }
}

/// A row of a user's own ingredients.
fn ingredient(c: &mut Catalogue, table: &FoodTable, r: &mut Reader, n: usize, value: &Spanned<DeValue>) {
    let had = r.out.len();
    let Some(mut f) = Fields::open(r, value, "ingredient", n, "food", &INGREDIENT_KEYS) else {
        return;
    };
    let food = f.text("food").map(FoodId::new);
    let short = f.text("short");
    let product = f.optional_text("product");
    let yield_factor = f.optional_number("yield", 0.05, 200.0).unwrap_or(1.0);
    let contains = f.words("contains", true);
    f.known_words("contains", &contains, "flag", &FLAGS, known_flag);
    let Some(food) = food else { return };
    let row = table.kept(&food);
    if row.is_none() {
        f.say("food", "dish-unknown-id", format!("food `{food}` is in no table"));
    }
    if c.ingredients.contains_key(&food) {
        f.say(
            "food",
            "dish-twice",
            format!("food `{food}` has a row among the ingredients already"),
        );
    }
    if let Some(p) = product.as_deref().filter(|p| !c.products.contains_key(*p)) {
        let near = suggestion(p, c.products.keys().map(String::as_str)).map(str::to_string);
        f.say(
            "product",
            "dish-unknown-id",
            format!("product `{p}` is unknown{}", meant(near.as_deref())),
        );
    }
    let (Some(short), Some(row)) = (short, row) else {
        return;
    };
    if r.out.len() > had {
        return;
    }
    let product = product.unwrap_or_else(|| {
        let id = food.as_str().replace([':', '-'], "_");
        let own = Product {
            id: id.clone(),
            name: short.clone(),
            section: "other".into(),
            refuse: row.refuse_percent.unwrap_or(0.0).clamp(0.0, 99.0) / 100.0,
            density: None,
            piece_g: None,
            keeps_days: OWN_KEEPS_DAYS,
        };
        c.products.entry(id.clone()).or_insert(own);
        id
    });
    let own = Ingredient {
        food: food.clone(),
        short,
        product,
        yield_factor,
        yield_source: "user".into(),
        contains: contains.into_iter().collect(),
    };
    c.ingredients.insert(food, own);
}

fn dish(
    c: &Catalogue,
    table: &FoodTable,
    r: &mut Reader,
    n: usize,
    value: &Spanned<DeValue>,
) -> Option<Item> {
    let had = r.out.len();
    let mut f = Fields::open(r, value, "dish", n, "id", &DISH_KEYS)?;
    if f.find("grams").is_some() {
        f.say(
            "grams",
            "dish-unknown-key",
            "`grams` belongs to items; a dish states `cooked` for the batch".into(),
        );
    }
    let id = f.text("id");
    if let Some(id) = &id {
        if !snake(id) {
            f.say(
                "id",
                "dish-value",
                format!("id `{id}`, expected snake_case: a-z, 0-9 and _"),
            );
        }
        if c.items.iter().any(|i| i.id == *id) {
            f.say(
                "id",
                "dish-twice",
                format!("id `{id}` is taken by another item or dish"),
            );
        }
    }
    let name = f.text("name");
    let source = f.text("source");
    let serving = f.text("serving");
    let servings = f.number("servings", 0.01, MOST_SERVINGS);
    let cooked = f.number("cooked", 0.1, MOST_GRAMS);
    let water = f.number("water", 0.0, MOST_GRAMS);
    let ingredients = raws(&mut f, c, table);
    let method = f.list("method");
    if method.as_ref().is_some_and(Vec::is_empty) {
        f.say(
            "method",
            "dish-value",
            "`method` has no step, expected at least one line".into(),
        );
    }
    let minutes = f.number("minutes", 0.0, MOST_MINUTES);
    let total_minutes = f.number("total_minutes", 0.0, MOST_MINUTES);
    if let (Some(own), Some(all)) = (minutes, total_minutes)
        && own > all
    {
        f.say(
            "minutes",
            "dish-value",
            format!("{own} hands-on minutes are more than the {all} from start to table"),
        );
    }
    let keeps_days = f.whole("keeps_days", 0.0, MOST_DAYS);
    let batch = f.flag("batch");
    if batch == Some(true) && keeps_days == Some(0) {
        f.say(
            "batch",
            "dish-value",
            "it is worth a batch but keeps no day".into(),
        );
    }
    let portions = ["step", "least", "most", "most_per_day"].map(|k| f.number(k, 0.001, MOST_SERVINGS));
    if let [Some(step), Some(least), Some(most), Some(day)] = portions {
        let whole = |v: f64| ((v / step).round() * step - v).abs() < 1e-6;
        if !(least >= step && most >= least && day >= most) {
            f.say(
                "step",
                "dish-value",
                format!("step {step}, least {least}, most {most}, most_per_day {day}: expected step <= least <= most <= most_per_day"),
            );
        } else if !(whole(least) && whole(most)) {
            f.say(
                "step",
                "dish-value",
                format!("least {least} and most {most} are not whole steps of {step}"),
            );
        }
    }
    let times = f.whole("times", 1.0, 7.0);
    let gap = f.optional_number("gap", 0.0, 31.0).unwrap_or(0.0);
    let roles = f.words("roles", true);
    f.known_words("roles", &roles, "role", &ROLES, |w| ROLES.contains(&w));
    f.not_empty("roles", &roles);
    let kinds = f.words("kinds", false);
    let regions = f.words("regions", true);
    let kitchens: Vec<&str> = c.kitchens.iter().map(|k| k.id.as_str()).collect();
    f.known_words("regions", &regions, "kitchen", &kitchens, |w| {
        kitchens.contains(&w)
    });
    f.not_empty("regions", &regions);
    let slots = f.words("slots", true);
    let day: BTreeSet<&str> = c
        .kitchens
        .iter()
        .filter(|k| regions.contains(&k.id) || !regions.iter().any(|r| kitchens.contains(&r.as_str())))
        .flat_map(|k| k.slots.iter().map(|s| s.id.as_str()))
        .collect();
    let day: Vec<&str> = day.into_iter().collect();
    f.known_words("slots", &slots, "slot of its kitchens", &day, |w| {
        day.contains(&w)
    });
    f.not_empty("slots", &slots);
    let group = f.text("group");
    let contains = f.words("contains", false);
    f.known_words("contains", &contains, "flag", &FLAGS, known_flag);

    let recipe = Dish {
        source: source?,
        servings: servings?,
        cooked: cooked?,
        water: water?,
        ingredients: ingredients?,
        method: method?,
        total_minutes: total_minutes?,
        keeps_days: keeps_days?,
        batch: batch?,
    };
    masses(&mut f, &recipe, table);
    let grams = recipe.cooked / recipe.servings;
    if grams > MOST_SERVING_GRAMS {
        f.say(
            "servings",
            "dish-value",
            format!("a serving weighs {grams:.0} g, expected at most {MOST_SERVING_GRAMS:.0} g"),
        );
    }
    let [step, least, most, most_per_day] = portions;
    let foods = recipe.components(table, &c.retention)?;
    let item = Item {
        id: id?,
        name: name?,
        serving: serving?,
        foods,
        grams: Some(grams),
        step: step?,
        least: least?,
        most: most?,
        most_per_day: most_per_day?,
        times: times?,
        gap: gap as u32,
        roles,
        kinds,
        slots,
        regions,
        group: group?,
        minutes: minutes?,
        contains,
        dish: Some(recipe),
    };
    (r.out.len() == had).then_some(item)
}

/// The ingredients of a batch; `None` when one has a mistake.
fn raws(f: &mut Fields, c: &Catalogue, table: &FoodTable) -> Option<Vec<Raw>> {
    let Some(value) = f.find("ingredients") else {
        f.missing("ingredients", "a list of { food, grams, cooking }");
        return None;
    };
    let DeValue::Array(list) = value.get_ref() else {
        f.say(
            "ingredients",
            "dish-kind",
            "`ingredients` is no list of { food, grams, cooking }".into(),
        );
        return None;
    };
    if list.is_empty() {
        f.say("ingredients", "dish-value", "`ingredients` is empty".into());
    }
    let mut all = Vec::new();
    for value in list.iter() {
        let Some(mut e) = f.inner(value, &RAW_KEYS) else {
            continue;
        };
        let had = e.r.out.len();
        let food = e.text("food");
        let grams = e.number("grams", 0.001, MOST_GRAMS);
        let absorbed = e.optional_number("absorbed", 0.001, MOST_GRAMS);
        let fat_lost = e.optional_number("fat_lost", 0.0, MOST_GRAMS).unwrap_or(0.0);
        let cooking = e.text("cooking");
        if let Some(code) = cooking.as_deref().filter(|k| c.retention.way(k).is_none()) {
            let near = meant(c.retention.nearest(code));
            e.say(
                "cooking",
                "dish-unknown-id",
                format!("cooking `{code}` is no code of the retention table{near}; \"{NONE}\" where nothing is lost"),
            );
        }
        if let (Some(a), Some(g)) = (absorbed, grams)
            && a > g
        {
            e.say("absorbed", "dish-value", format!("{a} g absorbed of {g} g"));
        }
        if absorbed.is_some() && fat_lost > 0.0 {
            e.say(
                "fat_lost",
                "dish-value",
                "`absorbed` and `fat_lost` do not go together".into(),
            );
        }
        let Some(food) = food else { continue };
        let id = FoodId::new(food.as_str());
        match table.kept(&id) {
            None => e.say("food", "dish-unknown-id", format!("food `{food}` is in no table")),
            Some(_) if !c.ingredients.contains_key(&id) => e.say(
                "food",
                "dish-unknown-id",
                format!("food `{food}` has no row among the ingredients (`foods/catalogue/ingredients/`, or [[ingredient]] in your own file)"),
            ),
            Some(row) => {
                let fat = row.amount(Nutrient::FAT).unwrap_or(0.0) * grams.unwrap_or(0.0) / 100.0;
                if grams.is_some() && fat_lost > fat {
                    e.say("fat_lost", "dish-value", format!("{fat_lost} g of fat poured off, of {fat:.1} g in it"));
                }
            }
        }
        let clean = e.r.out.len() == had;
        if let (Some(grams), Some(cooking), true) = (grams, cooking, clean) {
            all.push(Raw {
                food: id,
                grams,
                absorbed,
                fat_lost,
                cooking,
            });
        }
    }
    (!all.is_empty() && all.len() == list.len()).then_some(all)
}

/// What comes out of the pot is not more than goes in, and not less than its dry matter.
fn masses(f: &mut Fields, d: &Dish, table: &FoodTable) {
    let all = d.mass_kept();
    if d.cooked > all * (1.0 + 1e-9) {
        f.say(
            "cooked",
            "dish-value",
            format!(
                "{} g come out of {all:.0} g that go in (water and absorbed fat counted)",
                d.cooked
            ),
        );
    }
    if let Some(water) = d.raw_water(table) {
        let dry = all - d.water - water;
        if d.cooked < dry * (1.0 - ROUNDING) {
            f.say(
                "cooked",
                "dish-value",
                format!(
                    "{} g are less than the dry matter of the ingredients, {dry:.0} g",
                    d.cooked
                ),
            );
        }
    }
}

fn snake(id: &str) -> bool {
    let mut chars = id.chars();
    chars.next().is_some_and(|c| c.is_ascii_lowercase())
        && chars.all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_')
}

fn meant(near: Option<&str>) -> String {
    near.map_or(String::new(), |n| format!("; did you mean `{n}`?"))
}

fn line_of(text: &str, at: usize) -> usize {
    1 + text.as_bytes().iter().take(at).filter(|b| **b == b'\n').count()
}

fn kind(value: &DeValue) -> &'static str {
    match value {
        DeValue::String(_) => "a text",
        DeValue::Integer(_) => "a whole number",
        DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

/// Collects mistakes of a file.
struct Reader<'a, 's> {
    source: &'a Source<'s>,
    out: &'a mut Vec<Diagnostic>,
}

impl Reader<'_, '_> {
    fn say(&mut self, code: &'static str, span: Range<usize>, what: &str, text: String) {
        let line = line_of(self.source.text, span.start);
        let d = Diagnostic::error(code, format!("{}: {what}: {text}", self.source.name));
        self.out.push(d.at(span, "").on_line(line));
    }
}

/// The keys of a table with what they hold.
struct Fields<'r, 'a, 's, 't> {
    r: &'r mut Reader<'a, 's>,
    entries: &'t DeTable<'t>,
    place: Range<usize>,
    /// "dish `tarka_dal`".
    what: String,
}

impl<'r, 'a, 's, 't> Fields<'r, 'a, 's, 't> {
    /// Opens entry `n` of a list of tables; a key it does not know is reported.
    fn open(
        r: &'r mut Reader<'a, 's>,
        value: &'t Spanned<DeValue<'t>>,
        table: &str,
        n: usize,
        naming: &str,
        keys: &[&str],
    ) -> Option<Self> {
        let what = format!("{table} {}", n + 1);
        let DeValue::Table(entries) = value.get_ref() else {
            let text = format!("is {}, expected a table", kind(value.get_ref()));
            r.say("dish-kind", value.span(), &what, text);
            return None;
        };
        let name = entries.iter().find(|(k, _)| k.get_ref() == naming);
        let what = match name.map(|(_, v)| v.get_ref()) {
            Some(DeValue::String(s)) => format!("{table} `{s}`"),
            _ => what,
        };
        let mut f = Fields {
            r,
            entries,
            place: value.span(),
            what,
        };
        f.unknown_keys(keys);
        Some(f)
    }

    /// Opens a table inside this one, called the same.
    fn inner<'x>(
        &'x mut self,
        value: &'t Spanned<DeValue<'t>>,
        keys: &[&str],
    ) -> Option<Fields<'x, 'a, 's, 't>> {
        let DeValue::Table(entries) = value.get_ref() else {
            let text = format!(
                "an ingredient is {}, expected {{ food, grams, cooking }}",
                kind(value.get_ref())
            );
            self.r.say("dish-kind", value.span(), &self.what, text);
            return None;
        };
        let mut f = Fields {
            r: self.r,
            entries,
            place: value.span(),
            what: self.what.clone(),
        };
        f.unknown_keys(keys);
        Some(f)
    }

    fn unknown_keys(&mut self, keys: &[&str]) {
        for (key, _) in self.entries {
            let word: &str = key.get_ref();
            if !keys.contains(&word) {
                let near = meant(suggestion(word, keys.iter().copied()));
                self.r.say(
                    "dish-unknown-key",
                    key.span(),
                    &self.what,
                    format!("unknown key `{word}`{near}"),
                );
            }
        }
    }

    fn find(&self, key: &str) -> Option<&'t Spanned<DeValue<'t>>> {
        self.entries
            .iter()
            .find(|(k, _)| k.get_ref() == key)
            .map(|(_, v)| v)
    }

    fn span(&self, key: &str) -> Range<usize> {
        self.find(key).map_or(self.place.clone(), Spanned::span)
    }

    fn say(&mut self, key: &str, code: &'static str, text: String) {
        let span = self.span(key);
        self.r.say(code, span, &self.what, text);
    }

    fn missing(&mut self, key: &str, expected: &str) {
        let text = format!("`{key}` is missing, expected {expected}");
        self.r.say("dish-missing", self.place.clone(), &self.what, text);
    }

    fn wrong(&mut self, key: &str, value: &DeValue, expected: &str) {
        self.say(
            key,
            "dish-kind",
            format!("`{key}` is {}, expected {expected}", kind(value)),
        );
    }

    fn optional_text(&mut self, key: &str) -> Option<String> {
        let value = self.find(key)?;
        match value.get_ref() {
            DeValue::String(s) if !s.trim().is_empty() => Some(s.trim().to_string()),
            DeValue::String(_) => {
                self.say(key, "dish-value", format!("`{key}` is blank"));
                None
            }
            other => {
                self.wrong(key, other, "a text in quotes");
                None
            }
        }
    }

    fn text(&mut self, key: &str) -> Option<String> {
        if self.find(key).is_none() {
            self.missing(key, "a text in quotes");
        }
        self.optional_text(key)
    }

    fn optional_number(&mut self, key: &str, least: f64, most: f64) -> Option<f64> {
        let value = self.find(key)?;
        let read = match value.get_ref() {
            DeValue::Integer(i) => i128::from_str_radix(i.as_str(), i.radix()).ok().map(|v| v as f64),
            DeValue::Float(x) => x.as_str().parse::<f64>().ok(),
            other => {
                self.wrong(key, other, "a number");
                return None;
            }
        };
        let good = read.filter(|v| v.is_finite() && (least..=most).contains(v));
        if good.is_none() {
            let was = read.map_or("no number that can be read".to_string(), |v| v.to_string());
            self.say(
                key,
                "dish-value",
                format!("`{key}` is {was}, expected {least} to {most}"),
            );
        }
        good
    }

    fn number(&mut self, key: &str, least: f64, most: f64) -> Option<f64> {
        if self.find(key).is_none() {
            self.missing(key, "a number");
        }
        self.optional_number(key, least, most)
    }

    fn whole(&mut self, key: &str, least: f64, most: f64) -> Option<u32> {
        let value = self.number(key, least, most)?;
        if value.fract() != 0.0 {
            self.say(
                key,
                "dish-value",
                format!("`{key}` is {value}, expected a whole number"),
            );
            return None;
        }
        Some(value as u32)
    }

    fn flag(&mut self, key: &str) -> Option<bool> {
        match self.find(key).map(Spanned::get_ref) {
            None => {
                self.missing(key, "true or false");
                None
            }
            Some(DeValue::Boolean(b)) => Some(*b),
            Some(other) => {
                self.wrong(key, other, "true or false");
                None
            }
        }
    }

    /// A required list of texts; `None` with a mistake.
    fn list(&mut self, key: &str) -> Option<Vec<String>> {
        let Some(value) = self.find(key) else {
            self.missing(key, "a list of texts");
            return None;
        };
        let DeValue::Array(list) = value.get_ref() else {
            self.wrong(key, value.get_ref(), "a list of texts");
            return None;
        };
        let mut all = Vec::new();
        for v in list.iter() {
            match v.get_ref() {
                DeValue::String(s) if !s.trim().is_empty() => all.push(s.trim().to_string()),
                _ => self.r.say(
                    "dish-kind",
                    v.span(),
                    &self.what,
                    format!("an entry of `{key}` is no text, or blank"),
                ),
            }
        }
        (all.len() == list.len()).then_some(all)
    }

    /// A list of words, empty when it is not there (which is reported when it is required).
    fn words(&mut self, key: &str, required: bool) -> Vec<String> {
        if !required && self.find(key).is_none() {
            return Vec::new();
        }
        self.list(key).unwrap_or_default()
    }

    fn not_empty(&mut self, key: &str, words: &[String]) {
        if let Some(DeValue::Array(list)) = self.find(key).map(Spanned::get_ref)
            && list.is_empty()
            && words.is_empty()
        {
            self.say(key, "dish-value", format!("`{key}` is empty"));
        }
    }

    fn known_words(
        &mut self,
        key: &str,
        words: &[String],
        what: &str,
        list: &[&str],
        known: impl Fn(&str) -> bool,
    ) {
        for w in words.iter().filter(|w| !known(w)) {
            let near = meant(suggestion(w, list.iter().copied()));
            self.say(key, "dish-unknown-id", format!("`{w}` is no {what}{near}"));
        }
    }
}
