//! The data files of the kitchens, read a second time for tests: nothing of the library's own readers, sums or
//! tables of cooking is used, only the contents per 100 g of the nutrient table (which `truth_sr28` compares with
//! its source). What the figures mean is read in `docs/catalogue.md`, `docs/dishes.md` and `docs/math.md`.
#![allow(dead_code)]

use platewright::foods::FoodId;
use platewright::nutrient::Nutrient;
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::fs;
use std::path::Path;
use std::sync::OnceLock;
use toml::{Table, Value};

/// How a raw food of a dish is cooked.
pub struct Cook {
    pub code: String,
    /// Grams of fat poured off for a gram of the food.
    pub poured: f64,
    /// Water of the finished dish over that of its raw ingredients.
    pub water: Option<f64>,
}

pub struct Part {
    pub food: String,
    pub grams: f64,
    pub cook: Option<Cook>,
}

/// An item or a dish: what a serving is.
pub struct Thing {
    pub id: String,
    pub name: String,
    pub parts: Vec<Part>,
    pub grams: f64,
    pub step: f64,
    pub least: f64,
    pub most: f64,
    pub most_per_day: f64,
    pub times: f64,
    pub gap: i64,
    pub roles: Vec<String>,
    pub kinds: Vec<String>,
    pub slots: Vec<String>,
    pub regions: Vec<String>,
    pub group: String,
    pub minutes: f64,
    pub flags: Vec<String>,
    /// Servings of the recipe, days it keeps, whether it is cooked in batches.
    pub dish: Option<(f64, i64, bool)>,
}

pub struct Product {
    pub refuse: f64,
    pub density: Option<f64>,
    pub piece: Option<f64>,
    pub keeps: i64,
}

pub struct Ingredient {
    pub product: String,
    pub yields: f64,
    pub flags: BTreeSet<String>,
}

/// A line of a price list: grams, price, whether only whole packs are sold.
#[derive(Clone)]
pub struct Price {
    pub grams: f64,
    pub price: f64,
    pub pack: bool,
}

pub struct Rule {
    pub excludes: BTreeSet<String>,
    pub apart: Vec<BTreeSet<String>>,
}

pub struct Form {
    pub slot: String,
    pub name: String,
    pub times: f64,
    /// What each part takes, its least and its most.
    pub parts: Vec<(Vec<String>, i64, i64)>,
}

pub struct Slot {
    pub id: String,
    pub share: f64,
    pub least: f64,
    pub most: f64,
    pub main: bool,
}

pub struct Kitchen {
    pub slots: Vec<Slot>,
    pub forms: Vec<Form>,
    pub variety: BTreeMap<String, f64>,
}

pub struct Portion {
    pub word: String,
    pub kcal: f64,
    pub least: f64,
    pub most: f64,
    pub most_per_day: f64,
}

/// What the table of foods says besides nutrients.
pub struct Row {
    pub group: String,
    pub name: String,
    pub refuse: f64,
    pub fat_factor: Option<f64>,
}

pub struct Files {
    pub things: BTreeMap<String, Thing>,
    pub products: BTreeMap<String, Product>,
    pub ingredients: BTreeMap<String, Ingredient>,
    pub diets: BTreeMap<String, Rule>,
    pub allergens: BTreeMap<String, Rule>,
    pub kitchens: BTreeMap<String, Kitchen>,
    pub prices: BTreeMap<String, BTreeMap<String, Price>>,
    pub portions: Vec<Portion>,
    pub rows: HashMap<String, Row>,
    /// Share that is left by code and nutrient number; `None` is a blank cell.
    pub retention: HashMap<String, HashMap<u16, Option<f64>>>,
    /// Numbers of nutrients that go with fat that is poured off.
    pub with_fat: BTreeSet<u16>,
    /// Content of 100 g by nutrient number.
    pub contents: HashMap<String, HashMap<u16, f64>>,
}

pub fn files() -> &'static Files {
    static FILES: OnceLock<Files> = OnceLock::new();
    FILES.get_or_init(read)
}

fn root() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/foods"))
}

/// The texts of a folder whose names end so, by name without the ending.
fn texts(folder: &str, ending: &str) -> BTreeMap<String, String> {
    let entries = fs::read_dir(root().join(folder)).expect("a folder of data");
    let paths = entries.map(|e| e.expect("an entry").path());
    let named = |p: std::path::PathBuf| {
        let name = p.file_name()?.to_str()?.strip_suffix(ending)?.to_string();
        Some((name, fs::read_to_string(&p).expect("a text")))
    };
    paths.filter_map(named).collect()
}

fn csv_rows(text: &str) -> Vec<HashMap<String, String>> {
    let mut reader = csv::ReaderBuilder::new()
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    reader.deserialize().map(|row| row.expect("a row")).collect()
}

fn figure(text: &str) -> Option<f64> {
    (!text.is_empty()).then(|| text.parse().unwrap_or_else(|_| panic!("a number: {text}")))
}

fn number(t: &Table, key: &str) -> f64 {
    maybe(t, key).unwrap_or_else(|| panic!("{key} in {t:?}"))
}

fn maybe(t: &Table, key: &str) -> Option<f64> {
    match t.get(key)? {
        Value::Integer(n) => Some(*n as f64),
        Value::Float(n) => Some(*n),
        other => panic!("{key}: {other}"),
    }
}

fn word(t: &Table, key: &str) -> String {
    t[key].as_str().unwrap_or_else(|| panic!("{key}")).to_string()
}

fn words(v: Option<&Value>) -> Vec<String> {
    let list = v.and_then(Value::as_array).map_or(&[][..], |a| a);
    list.iter()
        .map(|w| w.as_str().expect("a word").to_string())
        .collect()
}

fn tables<'t>(t: &'t Table, key: &str) -> Vec<&'t Table> {
    let list = t.get(key).and_then(Value::as_array).map_or(&[][..], |a| a);
    list.iter().map(|v| v.as_table().expect("a table")).collect()
}

/// Fields of a file of the USDA, a caret between them and a tilde around texts; Latin-1.
fn usda(name: &str) -> Vec<Vec<String>> {
    let bytes = fs::read(root().join("sr28").join(name)).expect("a file of the USDA");
    let text: String = bytes.iter().map(|&b| char::from(b)).collect();
    text.lines()
        .filter(|l| !l.is_empty())
        .map(|l| l.split('^').map(|f| f.trim_matches('~').to_string()).collect())
        .collect()
}

fn read() -> Files {
    let rows: HashMap<String, Row> = usda("FOOD_DES.txt")
        .into_iter()
        .map(|f| {
            let row = Row {
                group: f[1].clone(),
                name: f[2].to_lowercase(),
                refuse: figure(&f[8]).unwrap_or(0.0) / 100.0,
                fat_factor: figure(&f[12]),
            };
            (format!("sr28:{}", f[0]), row)
        })
        .collect();
    let mut f = Files {
        things: BTreeMap::new(),
        products: BTreeMap::new(),
        ingredients: BTreeMap::new(),
        diets: BTreeMap::new(),
        allergens: BTreeMap::new(),
        kitchens: BTreeMap::new(),
        prices: BTreeMap::new(),
        portions: Vec::new(),
        rows,
        retention: retention(),
        with_fat: with_fat(),
        contents: HashMap::new(),
    };
    for text in texts("catalogue/products", ".csv").values() {
        for r in csv_rows(text) {
            let refuse = figure(&r["refuse_percent"]).map(|p| p / 100.0);
            let product = Product {
                refuse: refuse.unwrap_or_else(|| f.rows.get(&r["food"]).map_or(0.0, |x| x.refuse)),
                density: figure(&r["density_g_per_ml"]),
                piece: figure(&r["piece_g"]),
                keeps: r["keeps_days"].parse().expect("days"),
            };
            f.products.insert(r["product"].clone(), product);
        }
    }
    for text in texts("catalogue/ingredients", ".csv").values() {
        for r in csv_rows(text) {
            let flags = r["contains"].split_whitespace().filter(|w| *w != "-");
            let ingredient = Ingredient {
                product: r["product"].clone(),
                yields: figure(&r["yield"]).expect("a yield"),
                flags: flags.map(str::to_string).collect(),
            };
            f.ingredients.insert(r["food"].clone(), ingredient);
        }
    }
    let table = crate::briefs::table();
    for id in f.ingredients.keys() {
        let food = table
            .food(&FoodId::new(id.as_str()))
            .expect("a food of the table");
        let known = Nutrient::all().filter_map(|n| Some((n.number(), food.amount(n)?)));
        f.contents.insert(id.clone(), known.collect());
    }
    for text in texts("catalogue/items", ".toml").values() {
        let t: Table = text.parse().expect("items");
        for i in tables(&t, "item") {
            let parts: Vec<Part> = tables(i, "foods")
                .into_iter()
                .map(|p| Part {
                    food: word(p, "food"),
                    grams: number(p, "grams"),
                    cook: None,
                })
                .collect();
            let grams = maybe(i, "grams").unwrap_or_else(|| parts.iter().map(|p| p.grams).sum());
            let thing = thing(i, parts, grams, None);
            f.things.insert(thing.id.clone(), thing);
        }
    }
    for text in texts("dishes", ".toml").values() {
        let t: Table = text.parse().expect("dishes");
        for d in tables(&t, "dish") {
            let thing = dish(&f, d);
            f.things.insert(thing.id.clone(), thing);
        }
    }
    for (id, text) in texts("catalogue/kitchens", ".toml") {
        let t: Table = text.parse().expect("a kitchen");
        for item in words(t.get("also")) {
            let thing = f.things.get_mut(&item).expect("an item of another kitchen");
            thing.regions.push(id.clone());
        }
        f.kitchens.insert(id, kitchen(&t));
    }
    for text in texts("catalogue/rules", ".toml").values() {
        let t: Table = text.parse().expect("rules");
        for (key, all) in [("diet", &mut f.diets), ("allergen", &mut f.allergens)] {
            for r in tables(&t, key) {
                let groups = r.get("apart").and_then(Value::as_array).map_or(&[][..], |a| a);
                let rule = Rule {
                    excludes: words(r.get("excludes")).into_iter().collect(),
                    apart: groups
                        .iter()
                        .map(|g| words(Some(g)).into_iter().collect())
                        .collect(),
                };
                all.insert(word(r, "id"), rule);
            }
        }
    }
    for text in texts("catalogue/rules", ".csv").values() {
        for r in csv_rows(text) {
            let of = |key: &str| figure(&r[key]).expect("a figure");
            f.portions.push(Portion {
                word: r["word"].clone(),
                kcal: of("kcal"),
                least: of("least"),
                most: of("most"),
                most_per_day: of("most_per_day"),
            });
        }
    }
    for (id, text) in texts("catalogue/prices", ".csv") {
        let list = price_list(&f, &text);
        f.prices.insert(id, list);
    }
    f
}

/// USDA Table of Nutrient Retention Factors, Release 6, with what `docs/dishes.md` moves along.
fn retention() -> HashMap<String, HashMap<u16, Option<f64>>> {
    let text = fs::read_to_string(root().join("cooking/nutrient_retention_r6.csv")).expect("the table");
    let mut all: HashMap<String, HashMap<u16, Option<f64>>> = HashMap::new();
    for row in csv_rows(&text) {
        let cell = |n: u16| figure(&row[&n.to_string()]).map(|p| p / 100.0);
        let mut left = HashMap::new();
        for n in [
            301, 303, 304, 305, 306, 307, 309, 312, 401, 404, 405, 406, 415, 432, 431, 417, 421, 418, 318,
            221, 321, 322, 334, 337, 338,
        ] {
            left.insert(n, cell(n));
        }
        // Retinol and vitamin A (RAE) by retinol equivalents, folate (DFE) by food folate, added B12 by B12.
        for (n, by) in [(319, 392), (320, 392), (435, 432), (578, 418)] {
            left.insert(n, cell(by));
        }
        all.insert(row["retn_code"].clone(), left);
    }
    all.insert("none".into(), HashMap::new());
    all
}

/// Fat, fatty acids and the vitamins D, E and K, by their names in the USDA's list of nutrients.
fn with_fat() -> BTreeSet<u16> {
    let fat = [
        "Total lipid",
        "Fatty acids",
        "Vitamin D",
        "Vitamin E",
        "Vitamin K",
        "Tocopherol",
        "Tocotrienol",
        "Menaquinone",
        "Dihydrophylloquinone",
    ];
    let acid = |name: &str| {
        name.split_once(':')
            .is_some_and(|(a, b)| a.parse::<u8>().is_ok() && b.starts_with(|c: char| c.is_ascii_digit()))
    };
    usda("NUTR_DEF.txt")
        .into_iter()
        .filter(|f| acid(&f[3]) || fat.iter().any(|w| f[3].starts_with(w)))
        .map(|f| f[0].parse().expect("a number"))
        .collect()
}

fn thing(t: &Table, parts: Vec<Part>, grams: f64, dish: Option<(f64, i64, bool)>) -> Thing {
    Thing {
        id: word(t, "id"),
        name: word(t, "name"),
        parts,
        grams,
        step: number(t, "step"),
        least: number(t, "least"),
        most: number(t, "most"),
        most_per_day: number(t, "most_per_day"),
        times: number(t, "times"),
        gap: maybe(t, "gap").unwrap_or(0.0) as i64,
        roles: words(t.get("roles")),
        kinds: words(t.get("kinds")),
        slots: words(t.get("slots")),
        regions: words(t.get("regions")),
        group: word(t, "group"),
        minutes: maybe(t, "minutes").unwrap_or(0.0),
        flags: words(t.get("contains")),
        dish,
    }
}

/// A serving of a dish: what is eaten of each ingredient, with the water of the finished dish shared out in
/// proportion to the raw water.
fn dish(f: &Files, d: &Table) -> Thing {
    let servings = number(d, "servings");
    let cooked = number(d, "cooked");
    let mut eaten_mass = 0.0;
    let mut poured_mass = 0.0;
    let mut raw_water = Some(0.0);
    let mut parts = Vec::new();
    for i in tables(d, "ingredients") {
        let food = word(i, "food");
        let eaten = maybe(i, "absorbed").unwrap_or_else(|| number(i, "grams"));
        let poured = maybe(i, "fat_lost").unwrap_or(0.0);
        eaten_mass += eaten;
        poured_mass += poured;
        let water = f.contents.get(&food).and_then(|c| c.get(&255).copied());
        raw_water = raw_water.zip(water).map(|(sum, w)| sum + w * eaten / 100.0);
        parts.push((food, eaten, poured, word(i, "cooking")));
    }
    let added = number(d, "water");
    let boiled_off = eaten_mass + added - poured_mass - cooked;
    let water = raw_water
        .filter(|w| *w > 0.0)
        .map(|w| ((w + added - boiled_off) / w).max(0.0));
    let parts = parts
        .into_iter()
        .map(|(food, eaten, poured, code)| Part {
            food,
            grams: eaten / servings,
            cook: Some(Cook {
                code,
                poured: poured / eaten,
                water,
            }),
        })
        .collect();
    let batch = d["batch"].as_bool().expect("yes or no");
    let keeps = number(d, "keeps_days") as i64;
    thing(d, parts, cooked / servings, Some((servings, keeps, batch)))
}

fn kitchen(t: &Table) -> Kitchen {
    let slots = tables(t, "slot").into_iter().map(|s| Slot {
        id: word(s, "id"),
        share: number(s, "share") / 100.0,
        least: number(s, "least") / 100.0,
        most: number(s, "most") / 100.0,
        main: s.get("main").and_then(Value::as_bool).unwrap_or(false),
    });
    let parts = |f: &Table| -> Vec<(Vec<String>, i64, i64)> {
        tables(f, "parts")
            .into_iter()
            .map(|p| {
                (
                    words(p.get("take")),
                    number(p, "least") as i64,
                    number(p, "most") as i64,
                )
            })
            .collect()
    };
    let forms = tables(t, "form").into_iter().map(|f| Form {
        slot: word(f, "slot"),
        name: word(f, "name"),
        times: maybe(f, "times").unwrap_or(7.0),
        parts: parts(f),
    });
    let variety = t["variety"].as_table().expect("a table");
    Kitchen {
        slots: slots.collect(),
        forms: forms.collect(),
        variety: variety.keys().map(|k| (k.clone(), number(variety, k))).collect(),
    }
}

/// The cheapest line of each product per gram. Ounce and pound: International yard and pound agreement, 1959;
/// fluid ounce: NIST Handbook 44.
fn price_list(f: &Files, text: &str) -> BTreeMap<String, Price> {
    let mut list: BTreeMap<String, Price> = BTreeMap::new();
    for r in csv_rows(text) {
        let buy = &r["buy"];
        let id = if f.products.contains_key(buy) {
            buy.clone()
        } else {
            f.ingredients[buy].product.clone()
        };
        let product = &f.products[&id];
        let of = |x: Option<f64>| x.expect("a density or a piece");
        let unit = match r["unit"].as_str() {
            "g" => 1.0,
            "kg" => 1000.0,
            "lb" => 453.592_37,
            "oz" => 453.592_37 / 16.0,
            "ml" => of(product.density),
            "l" => of(product.density) * 1000.0,
            "fl_oz" => of(product.density) * 29.5735,
            "piece" => of(product.piece),
            "dozen" => of(product.piece) * 12.0,
            other => panic!("unit {other}"),
        };
        let line = Price {
            grams: figure(&r["amount"]).expect("an amount") * unit,
            price: figure(&r["price"]).expect("a price"),
            pack: r["pack"] == "yes",
        };
        let dearer = |have: &Price| have.price / have.grams > line.price / line.grams;
        if list.get(&id).is_none_or(dearer) {
            list.insert(id, line);
        }
    }
    list
}

impl Files {
    /// What so many grams of a food hold by nutrient number; what is not there is not known. After
    /// `docs/dishes.md`, "How a serving is computed".
    pub fn held(&self, food: &str, grams: f64, cook: Option<&Cook>) -> HashMap<u16, f64> {
        let raw: HashMap<u16, f64> = self.contents[food]
            .iter()
            .map(|(n, v)| (*n, v * grams / 100.0))
            .collect();
        let Some(cook) = cook else { return raw };
        let left = &self.retention[&cook.code];
        let share = |n: u16| left.get(&n).copied().unwrap_or(Some(1.0));
        let had = |n: u16| raw.get(&n).copied().unwrap_or(0.0);
        let poured = (cook.poured * grams).min(had(204));
        let kept = if had(204) > 0.0 {
            1.0 - poured / had(204)
        } else {
            1.0
        };
        // Energy of fat: the food's own factor, else 9.02 kcal/g; of alcohol 6.93 kcal/g.
        let factor = self.rows[food].fat_factor.unwrap_or(9.02);
        let lost = share(221).map(|left| poured * factor + had(221) * (1.0 - left) * 6.93);
        raw.iter()
            .filter_map(|(&n, &v)| {
                let now = match n {
                    255 => v * cook.water?,
                    208 => (v - lost?).max(0.0),
                    268 => (v - lost? * 4.184).max(0.0),
                    _ if self.with_fat.contains(&n) => v * kept * share(n)?,
                    _ => v * share(n)?,
                };
                Some((n, now))
            })
            .collect()
    }

    /// Grams as bought of each product in so many servings.
    pub fn bought(&self, thing: &Thing, servings: f64) -> BTreeMap<String, f64> {
        let mut all = BTreeMap::new();
        for p in &thing.parts {
            let i = &self.ingredients[&p.food];
            let gross = p.grams * servings / i.yields / (1.0 - self.products[&i.product].refuse);
            *all.entry(i.product.clone()).or_insert(0.0) += gross;
        }
        all
    }

    /// Everything that a thing holds.
    pub fn flags(&self, thing: &Thing) -> BTreeSet<String> {
        let foods = thing
            .parts
            .iter()
            .flat_map(|p| self.ingredients[&p.food].flags.iter());
        foods.chain(&thing.flags).cloned().collect()
    }

    /// How the least and most of a meal and the most of a day grow from a day of 2,500 kcal to one of `kcal`.
    pub fn growth(&self, thing: &Thing, kcal: f64) -> [f64; 3] {
        let mut own = thing.kinds.iter().chain(&thing.roles);
        let Some(word) = own.find(|w| self.portions.iter().any(|r| r.word == **w)) else {
            return [1.0; 3];
        };
        let rows: Vec<&Portion> = self.portions.iter().filter(|r| r.word == *word).collect();
        let at = |kcal: f64, of: &dyn Fn(&Portion) -> f64| {
            let (first, last) = (rows[0], rows[rows.len() - 1]);
            if kcal <= first.kcal {
                return of(first);
            }
            for pair in rows.windows(2) {
                if kcal <= pair[1].kcal {
                    let t = (kcal - pair[0].kcal) / (pair[1].kcal - pair[0].kcal);
                    return of(pair[0]) * (1.0 - t) + of(pair[1]) * t;
                }
            }
            of(last)
        };
        let of: [&dyn Fn(&Portion) -> f64; 3] = [&|r| r.least, &|r| r.most, &|r| r.most_per_day];
        of.map(|of| at(kcal, of) / at(2500.0, of))
    }
}
