//! The bundled kitchens: what they hold, and what is in it.
//!
//! Sources: "USDA Table of Cooking Yields for Meat and Poultry, Release 2", 2014 (tests/truth/usda_yields, read);
//! "USDA National Nutrient Database for Standard Reference, Release 28", 2015, FOOD_DES.txt (foods/sr28, read).
//! Allergens of ordinary foods, and a plain chapati: common practice.

use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;
use std::sync::OnceLock;

use platewright::foods::{FoodId, FoodTable};
use platewright::kitchen::{Catalogue, Item};
use platewright::model::build::bought;
use platewright::nutrient::Nutrient;
use platewright::prices::PriceList;

fn catalogue() -> &'static (FoodTable, Catalogue) {
    static BOTH: OnceLock<(FoodTable, Catalogue)> = OnceLock::new();
    BOTH.get_or_init(|| {
        let table = FoodTable::bundled();
        let catalogue = Catalogue::bundled(&table).unwrap_or_else(|p| panic!("{p:#?}"));
        (table, catalogue)
    })
}

fn path(rest: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(rest)
}

fn item(id: &str) -> &'static Item {
    catalogue()
        .1
        .items
        .iter()
        .find(|i| i.id == id)
        .unwrap_or_else(|| panic!("no item {id}"))
}

#[test]
fn it_loads_and_is_large_enough() {
    let (_, c) = catalogue();
    assert!(c.items.len() >= 150, "{} items", c.items.len());
    for kitchen in [
        "us",
        "north_india",
        "south_india",
        "uk",
        "mexico",
        "west_africa",
        "mediterranean",
        "east_asia",
    ] {
        let k = c
            .kitchen(kitchen)
            .unwrap_or_else(|| panic!("no kitchen {kitchen}"));
        let items = c.items.iter().filter(|i| i.regions.contains(&k.id)).count();
        assert!(items >= 60, "{kitchen}: {items} items");
        let share: f64 = k.slots.iter().map(|s| s.share).sum();
        assert!(
            (share - 100.0).abs() < 1e-9,
            "{kitchen}: the meals share {share} % of the day"
        );
    }
}

#[test]
fn every_item_of_a_kitchen_has_a_price() {
    let (_, c) = catalogue();
    for k in &c.kitchens {
        let list = PriceList::bundled(&k.id, c)
            .expect("a sound list")
            .expect("a list");
        assert_eq!(list.currency.to_string(), k.currency);
        let without: Vec<&str> = c
            .items
            .iter()
            .filter(|i| {
                i.regions.contains(&k.id) && bought(c, i).iter().any(|(p, _)| !list.prices.contains_key(p))
            })
            .map(|i| i.id.as_str())
            .collect();
        assert!(without.is_empty(), "{}: no price for {without:?}", k.id);
    }
}

/// Common practice: a plain chapati of about 40 g, baked without fat, is about 110 kcal.
#[test]
fn four_plain_chapati_are_about_450_kcal() {
    let (table, _) = catalogue();
    let chapati = item("chapati");
    assert!(
        (35.0..=45.0).contains(&chapati.serving_grams()),
        "{} g",
        chapati.serving_grams()
    );
    let one: f64 = chapati
        .foods
        .iter()
        .map(|f| {
            table
                .content(&FoodId::new(f.food.as_str()), Nutrient::ENERGY)
                .counted()
                * f.grams
                / 100.0
        })
        .sum();
    assert!((430.0..=470.0).contains(&(4.0 * one)), "{} kcal", 4.0 * one);
}

/// Common practice: what ordinary foods hold. Each is at least this; `-` means none of these.
const HOLDS: [(&str, &str); 45] = [
    ("sr28:18069", "wheat gluten"),      // white bread
    ("sr28:18075", "wheat gluten"),      // whole-wheat bread
    ("sr28:18060", "wheat gluten"),      // rye bread
    ("sr28:18364", "wheat gluten"),      // flour tortilla
    ("sr28:20121", "wheat gluten"),      // pasta
    ("sr28:20110", "egg wheat gluten"),  // egg noodles
    ("sr28:20080", "wheat gluten"),      // whole-wheat flour
    ("sr28:20466", "wheat gluten"),      // semolina
    ("sr28:28307", "wheat gluten"),      // naan
    ("sr28:08120", "gluten"),            // oats
    ("sr28:16398", "peanut"),            // peanut butter
    ("sr28:16390", "peanut"),            // roasted peanuts
    ("sr28:12061", "tree_nut"),          // almonds
    ("sr28:12155", "tree_nut"),          // walnuts
    ("sr28:14091", "tree_nut"),          // almond milk
    ("sr28:01077", "milk"),              // whole milk
    ("sr28:01003", "milk"),              // ghee
    ("sr28:01001", "milk"),              // butter
    ("sr28:01009", "milk"),              // cheddar
    ("sr28:01032", "milk rennet"),       // Parmesan, which is made with animal rennet
    ("sr28:01117", "milk"),              // yogurt
    ("sr28:01036", "milk"),              // paneer
    ("sr28:01123", "egg"),               // egg
    ("sr28:04025", "egg"),               // mayonnaise
    ("sr28:16424", "soy wheat gluten"),  // soy sauce
    ("sr28:16126", "soy"),               // tofu
    ("sr28:16139", "soy"),               // soy milk
    ("sr28:11212", "soy"),               // edamame
    ("sr28:16137", "sesame"),            // hummus
    ("sr28:12023", "sesame"),            // sesame seeds
    ("sr28:02046", "mustard"),           // mustard
    ("sr28:04583", "mustard"),           // mustard oil
    ("sr28:11143", "celery"),            // celery
    ("sr28:15237", "fish"),              // salmon
    ("sr28:15121", "fish"),              // tuna
    ("sr28:15151", "crustacean"),        // shrimp
    ("sr28:05064", "poultry"),           // chicken breast
    ("sr28:10862", "pork"),              // bacon
    ("sr28:23563", "beef"),              // beef patty
    ("sr28:19296", "honey"),             // honey
    ("sr28:11282", "onion_garlic root"), // onion
    ("sr28:11352", "root"),              // potato
    ("sr28:20045", "-"),                 // white rice
    ("sr28:16070", "-"),                 // lentils
    ("sr28:09040", "-"),                 // banana
];

#[test]
fn ordinary_foods_hold_what_they_hold() {
    let (_, c) = catalogue();
    let mut wrong = Vec::new();
    for (food, flags) in HOLDS {
        let Some(i) = c.ingredients.get(&FoodId::new(food)) else {
            wrong.push(format!("{food} is no ingredient"));
            continue;
        };
        let least: BTreeSet<String> = flags
            .split(' ')
            .filter(|f| *f != "-")
            .map(str::to_string)
            .collect();
        if !least.is_subset(&i.contains) || (least.is_empty() && !i.contains.is_empty()) {
            wrong.push(format!("{} holds {:?}, not {flags}", i.short, i.contains));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// Wheat is always gluten too, and words in a food's own name are among its flags.
#[test]
fn flags_agree_with_the_names_in_the_table() {
    let (table, c) = catalogue();
    let words = [
        ("PORK", "pork"),
        ("BEEF", "beef"),
        ("CHICKEN", "poultry"),
        ("TURKEY", "poultry"),
        ("SALMON", "fish"),
        ("TUNA", "fish"),
        ("SHRIMP", "crustacean"),
        ("CHEESE", "milk"),
        ("YOGURT", "milk"),
        ("PEANUT", "peanut"),
        ("ALMOND", "tree_nut"),
        ("WALNUT", "tree_nut"),
        ("CASHEW", "tree_nut"),
        ("TOFU", "soy"),
        ("SOYBEAN", "soy"),
        ("MUSHROOM", "mushroom"),
        ("ONION", "onion_garlic"),
        ("GARLIC", "onion_garlic"),
        ("SESAME", "sesame"),
        ("HONEY", "honey"),
        ("EGGPLANT", "brinjal"),
    ];
    // The source's group, or a "without" in the name: no such thing is in them.
    let not = [
        "MEATLESS",
        "WITHOUT",
        "HONEYDEW",
        "BEANS, BAKED",
        "EGG SUBSTITUTE",
    ];
    let mut wrong = Vec::new();
    for i in c.ingredients.values() {
        if i.contains.contains("wheat") && !i.contains.contains("gluten") {
            wrong.push(format!("{}: wheat without gluten", i.short));
        }
        let name = table.name(&i.food).unwrap_or_default().to_uppercase();
        for (word, flag) in words {
            if name.contains(word) && !i.contains.contains(flag) && !not.iter().any(|n| name.contains(n)) {
                wrong.push(format!("{} ({name}): no {flag}", i.food));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// Yields that cite a row of the table against that row. Tolerance: 8 points, for a neighbouring cut.
#[test]
fn cited_meat_yields_are_those_of_the_table() {
    let (_, c) = catalogue();
    let text = std::fs::read_to_string(path("tests/truth/usda_yields/cooking_yields_meat_poultry_r2.csv"))
        .expect("the table");
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let mut rows: BTreeMap<u32, f64> = BTreeMap::new();
    for r in reader.records() {
        let r = r.expect("a row");
        if let (Ok(number), Ok(share)) = (r[1].trim().parse(), r[4].trim().parse::<f64>()) {
            rows.insert(number, share);
        }
    }
    assert!(rows.len() > 150, "{} rows", rows.len());
    let mut seen = 0;
    for i in c.ingredients.values() {
        if let Some(number) = i.yield_source.strip_prefix("usda-yield:") {
            let number: u32 = number
                .parse()
                .unwrap_or_else(|_| panic!("{}: cites {number}", i.short));
            let share = rows
                .get(&number)
                .unwrap_or_else(|| panic!("{}: the table has no row {number}", i.short));
            assert!(
                (100.0 * i.yield_factor - share).abs() <= 8.0,
                "{}: {} against {share} %",
                i.short,
                i.yield_factor
            );
            seen += 1;
        }
    }
    assert!(seen >= 10, "{seen} cite the table");
}

/// Solids do not change on boiling: what takes up water weighs more by the ratio of the solids of the two
/// rows, raw and boiled. Rows read in the table; tolerance 15 %, for what goes into the water.
#[test]
fn yields_of_boiled_foods_follow_the_water() {
    let (table, c) = catalogue();
    let solids = |id: &str| 100.0 - table.content(&FoodId::new(id), Nutrient::WATER).counted();
    for (raw, boiled) in [
        ("sr28:20044", "sr28:20045"), // white rice
        ("sr28:20036", "sr28:20037"), // brown rice
        ("sr28:16069", "sr28:16070"), // lentils
        ("sr28:20120", "sr28:20121"), // pasta
        ("sr28:16108", "sr28:16109"), // soybeans
    ] {
        let i = &c.ingredients[&FoodId::new(boiled)];
        let by_water = solids(raw) / solids(boiled);
        assert!(
            (i.yield_factor / by_water - 1.0).abs() < 0.15,
            "{}: {} against {by_water:.2}",
            i.short,
            i.yield_factor
        );
    }
}

/// Refuse of products that name a row of the table and give no figure of their own: the raw line of the file.
#[test]
fn refuse_is_that_of_the_source() {
    let (_, c) = catalogue();
    let bytes = std::fs::read(path("foods/sr28/FOOD_DES.txt")).expect("the file");
    let refuse: BTreeMap<String, f64> = bytes
        .split(|b| *b == b'\n')
        .map(|l| l.iter().map(|b| char::from(*b)).collect::<String>())
        .filter_map(|l| {
            let f: Vec<&str> = l.split('^').map(|f| f.trim_matches('~')).collect();
            Some((format!("sr28:{}", f.first()?), f.get(8)?.parse().unwrap_or(0.0)))
        })
        .collect();
    // By eye, in the file.
    assert_eq!((refuse["sr28:09040"], refuse["sr28:09200"]), (36.0, 27.0));
    assert_eq!(
        (c.products["banana"].refuse, c.products["orange"].refuse),
        (0.36, 0.27)
    );
    let mut seen = 0;
    let files = std::fs::read_dir(path("foods/catalogue/products")).expect("the folder of products");
    for file in files.map(|f| f.expect("a file").path()) {
        let mut reader = csv::Reader::from_path(&file).expect("the products");
        for r in reader.records() {
            let r = r.expect("a row");
            if !r[3].is_empty() && r[4].is_empty() {
                let said = c.products[&r[0]].refuse * 100.0;
                assert!(
                    (said - refuse[&r[3]]).abs() < 1e-9,
                    "{}: {said} % against {}",
                    &r[0],
                    refuse[&r[3]]
                );
                seen += 1;
            }
        }
    }
    assert!(seen > 30, "{seen} products take the table's figure");
}

#[test]
fn every_part_of_every_form_can_be_filled() {
    let (_, c) = catalogue();
    for k in &c.kitchens {
        for s in &k.slots {
            assert!(
                k.forms.iter().any(|f| f.slot == s.id),
                "{}: no form for {}",
                k.id,
                s.id
            );
        }
        for f in &k.forms {
            for (part, items) in f.parts.iter().zip(c.fill(k, f, &|_| true)) {
                assert!(
                    items.len() >= part.least.max(1) as usize,
                    "{} {} {}: {:?}",
                    k.id,
                    f.slot,
                    f.id,
                    part.take
                );
                assert!(
                    part.least <= part.most,
                    "{} {} {}: {:?}",
                    k.id,
                    f.slot,
                    f.id,
                    part.take
                );
            }
        }
    }
}

/// Every item stands in some form of some slot of each of its kitchens; else nobody is ever served it. The
/// plain dishes of foods/dishes/basics.toml stand in none: the kitchens have the same foods as items.
#[test]
fn every_item_has_a_place() {
    let (_, c) = catalogue();
    let mut lost = Vec::new();
    for k in &c.kitchens {
        let placed: BTreeSet<usize> = k
            .forms
            .iter()
            .flat_map(|f| c.fill(k, f, &|_| true))
            .flatten()
            .collect();
        assert!(
            placed.len() >= 60,
            "{}: {} items have a place",
            k.id,
            placed.len()
        );
        for (n, i) in c.items.iter().enumerate() {
            let basic = i.dish.is_some() && i.id.starts_with("plain_");
            if i.regions.contains(&k.id) && !placed.contains(&n) && !basic {
                lost.push(format!("{} in {}", i.id, k.id));
            }
        }
    }
    assert!(lost.is_empty(), "{lost:?}");
}

#[test]
fn every_diet_and_allergy_fills_every_meal() {
    let (_, c) = catalogue();
    let mut empty = Vec::new();
    for rule in c.diets.iter().chain(&c.allergens) {
        let allowed = |i: &Item| {
            c.contains(i)
                .is_some_and(|has| rule.excludes.iter().all(|x| !has.contains(x)))
        };
        for k in &c.kitchens {
            for s in &k.slots {
                let fills = k.forms.iter().filter(|f| f.slot == s.id).any(|f| {
                    f.parts
                        .iter()
                        .zip(c.fill(k, f, &allowed))
                        .all(|(part, items)| items.len() >= part.least as usize)
                });
                if !fills {
                    empty.push(format!("{} in {}: {}", rule.id, k.id, s.id));
                }
            }
        }
    }
    assert!(empty.is_empty(), "{empty:#?}");
}

#[test]
fn a_diet_leaves_out_what_it_must() {
    let (_, c) = catalogue();
    let excludes = |id: &str| {
        c.diets
            .iter()
            .find(|d| d.id == id)
            .map(|d| d.excludes.clone())
            .unwrap_or_else(|| panic!("no diet {id}"))
    };
    let out = |diet: &str, food: &str| {
        let e = excludes(diet);
        c.ingredients[&FoodId::new(food)]
            .contains
            .iter()
            .any(|f| e.contains(f))
    };
    for (diet, food, is_out) in [
        ("vegan", "sr28:01003", true),       // ghee
        ("vegan", "sr28:01123", true),       // egg
        ("vegan", "sr28:19296", true),       // honey
        ("vegan", "sr28:16126", false),      // tofu
        ("vegetarian", "sr28:01123", true),  // egg, by the Indian use of the word
        ("vegetarian", "sr28:01077", false), // milk
        ("ovo_lacto_vegetarian", "sr28:01123", false),
        ("vegetarian", "sr28:15237", true), // salmon
        ("pescatarian", "sr28:15237", false),
        ("jain", "sr28:11352", true),         // potato
        ("jain", "sr28:11282", true),         // onion
        ("gluten_free", "sr28:18069", true),  // bread
        ("gluten_free", "sr28:16424", true),  // soy sauce
        ("gluten_free", "sr28:20045", false), // rice
        ("halal", "sr28:10862", true),        // bacon
        ("kosher", "sr28:15151", true),       // shrimp
        ("no_beef", "sr28:23563", true),
        ("lactose_free", "sr28:01077", true),
    ] {
        assert_eq!(out(diet, food), is_out, "{diet}: {food}");
    }
}

/// A price list may name a product, a food or an item; all three price what is bought.
#[test]
fn a_price_names_a_product_a_food_or_an_item() {
    let (_, c) = catalogue();
    let head = "buy,amount,unit,price,currency,place,date,pack,source\n";
    for buy in ["banana", "sr28:09040"] {
        let text = format!("{head}{buy},1,kg,2.00,USD,Nowhere,2026-01-01,no,invented: a test\n");
        let source = platewright::kitchen::Source {
            name: "own.csv",
            text: &text,
        };
        let list = platewright::prices::PriceList::read(&source, c).expect("a good list");
        assert_eq!(list.prices.keys().collect::<Vec<_>>(), ["banana"], "{buy}");
        assert!((list.prices["banana"].per_gram() - 0.002).abs() < 1e-12);
    }
}

/// A plate of tacos with beans in them has no beans beside.
#[test]
fn no_tacos_hold_beans_twice() {
    let (_, c) = catalogue();
    let us = c.kitchen("us").expect("the kitchen");
    let forms: Vec<_> = us.forms.iter().filter(|f| f.id.ends_with("tacos")).collect();
    assert_eq!(forms.len(), 2);
    for form in forms {
        let with_beans = form.parts.iter().filter(|part| {
            let taken =
                |i: &&Item| i.regions.contains(&us.id) && i.kinds.iter().any(|k| part.take.contains(k));
            c.items.iter().filter(taken).any(|i| i.group == "beans")
        });
        assert_eq!(with_beans.count(), 1, "{}", form.id);
    }
}
