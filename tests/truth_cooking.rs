//! Cooking computed from raw, against cooked foods of the table.
//!
//! Sources: "USDA National Nutrient Database for Standard Reference, Release 28", 2015, raw and cooked rows named
//! beside each case (foods/sr28, read); "USDA Table of Nutrient Retention Factors, Release 6", 2007 (foods/cooking,
//! read); "USDA Table of Cooking Yields for Meat and Poultry, Release 2", 2014 (tests/truth/usda_yields, read).

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::OnceLock;

use platewright::foods::{FoodId, FoodTable};
use platewright::kitchen::dish::serving;
use platewright::kitchen::retention::{Cooking, held};
use platewright::kitchen::{Catalogue, Item, Source};
use platewright::nutrient::Nutrient;

type N = Nutrient;

fn bundled() -> &'static (FoodTable, Catalogue) {
    static BOTH: OnceLock<(FoodTable, Catalogue)> = OnceLock::new();
    BOTH.get_or_init(|| {
        let table = FoodTable::bundled();
        let catalogue = Catalogue::bundled(&table).unwrap_or_else(|p| panic!("{p:#?}"));
        (table, catalogue)
    })
}

fn number(n: u16) -> Nutrient {
    Nutrient::from_number(n).expect("a nutrient of the list")
}

/// Half of the last decimal to which the table states a nutrient.
fn rounding(n: Nutrient) -> f64 {
    0.5 * 10f64.powi(-i32::from(n.decimals()))
}

/// What 100 g of a cooked dish hold.
fn per_100_g(table: &FoodTable, item: &Item) -> Vec<f64> {
    let grams = item.serving_grams();
    serving(table, item)
        .cooked
        .iter()
        .map(|v| v / grams * 100.0)
        .collect()
}

/// Cooked row, raw row, code, cells that part.
type Computed = (u32, u32, &'static str, &'static [(u16, f64)]);

/// Cooked rows that the Department itself computed from its raw rows with these factors, so that nothing but
/// rounding lies between (inferred: 277 figures agree to rounding, each row with one code): cooked row, raw row,
/// code of the retention table, and the cells that part all the same, with the cooked row's figure (read).
const COMPUTED: [Computed; 16] = [
    // Rice, white, medium-grain, enriched; its cooked row has fibre of an older sample, not compared here.
    (20051, 20050, "0432", &[]),
    (20041, 20040, "0432", &[]),            // Rice, brown, medium-grain
    (16048, 16047, "0522", &[(401, 1.8)]),  // Beans, yellow: the raw row has no vitamin C, the cooked row has
    (16050, 16049, "0522", &[]),            // Beans, white
    (16017, 16016, "0522", &[]),            // Beans, black turtle
    (16031, 16030, "0522", &[]),            // Beans, kidney, california red
    (16061, 16060, "0502", &[(320, 1.0)]),  // Cowpeas, catjang
    (15205, 15065, "2301", &[(320, 12.0)]), // Fish, pollock, Atlantic
    (15209, 15076, "2451", &[(418, 3.05)]), // Fish, salmon, Atlantic, wild
    (15040, 15039, "2451", &[(418, 13.14), (320, 36.0)]), // Fish, herring, Atlantic
    (15082, 15081, "2401", &[(320, 32.0)]), // Fish, salmon, coho, wild, moist heat
    // Chicken, cornish game hens, meat only, roasted.
    (5310, 5309, "0801", &[(304, 19.0), (320, 20.0)]),
    (15151, 15149, "2770", &[(320, 90.0)]), // Crustaceans, shrimp, mixed species, moist heat
    (11277, 11276, "3004", &[]),            // New Zealand spinach
    (11192, 11191, "3774", &[]),            // Cowpeas (blackeyes), immature seeds
    (11081, 11080, "3454", &[]),            // Beets
];

/// What those rows are compared in: energy, protein, the minerals and vitamins of the retention table.
const COMPARED: [u16; 18] = [
    208, 203, 301, 303, 304, 305, 306, 309, 312, 401, 404, 405, 406, 415, 432, 417, 418, 320,
];

/// The dish of a raw food that is boiled, baked or simmered alone until its water is that of the cooked row.
fn alone(table: &FoodTable, c: &Catalogue, raw: u32, cooked: u32, code: &str) -> Item {
    let water = |id| {
        table
            .food(&FoodId::sr28(id))
            .and_then(|f| f.amount(N::WATER))
            .expect("water")
    };
    let grams = 1000.0 * (100.0 - water(raw)) / (100.0 - water(cooked));
    let food = FoodId::sr28(raw);
    let row = if c.ingredients.contains_key(&food) {
        String::new()
    } else {
        format!("[[ingredient]]\nfood = \"{food}\"\nshort = \"raw\"\ncontains = []\n")
    };
    let text = format!(
        "{row}[[dish]]\nid = \"alone_{raw}\"\nname = \"Alone\"\nsource = \"SR28\"\nservings = 4\nserving = \"1 plate\"\n\
         cooked = {grams}\nwater = {}\ningredients = [{{ food = \"{food}\", grams = 1000, cooking = \"{code}\" }}]\n\
         method = [\"Cook it.\"]\nminutes = 5\ntotal_minutes = 30\nkeeps_days = 1\nbatch = false\nstep = 1\nleast = 1\n\
         most = 2\nmost_per_day = 2\ntimes = 7\nroles = [\"staple\"]\nslots = [\"lunch\"]\nregions = [\"us\"]\ngroup = \"alone\"\n",
        (grams - 1000.0).max(0.0)
    );
    let mut own = c.clone();
    let source = Source {
        name: "alone.toml",
        text: &text,
    };
    own.add_dishes(table, &[source])
        .unwrap_or_else(|p| panic!("{p:#?}"));
    own.items.pop().expect("the dish")
}

/// Within 3 % (the rounding of the yield that was used) or half the last decimal of the row.
#[test]
fn rows_computed_from_raw_by_the_same_factors_come_out_the_same() {
    let (table, c) = bundled();
    let mut off = Vec::new();
    let mut compared = 0;
    for (cooked, raw, code, apart) in COMPUTED {
        let item = alone(table, c, raw, cooked, code);
        let ours = per_100_g(table, &item);
        let row = table.food(&FoodId::sr28(cooked)).expect("a row");
        for n in COMPARED.map(number) {
            let (Some(theirs), Some(_)) = (
                row.amount(n),
                table.food(&FoodId::sr28(raw)).and_then(|f| f.amount(n)),
            ) else {
                continue;
            };
            if let Some((_, figure)) = apart.iter().find(|(m, _)| *m == n.number()) {
                assert_eq!(
                    theirs,
                    *figure,
                    "{} of {}: not the row's figure",
                    n.id(),
                    row.name
                );
                continue;
            }
            compared += 1;
            let ours = ours[n.index()];
            if (ours - theirs).abs() > (0.03 * theirs).max(1.02 * rounding(n)) {
                off.push(format!(
                    "{}: {} {ours:.4}, the row has {theirs}",
                    row.name,
                    n.id()
                ));
            }
        }
        // Water follows the mass: what comes out has the water of the cooked row.
        let water = row.amount(N::WATER).expect("water");
        assert!(
            (ours[N::WATER.index()] - water).abs() < 0.02,
            "{}: water {} of {water}",
            row.name,
            ours[N::WATER.index()]
        );
    }
    assert!(off.is_empty(), "{off:#?}");
    assert!(compared > 240, "{compared} figures compared");
}

/// A plain dish of foods/dishes/basics.toml, the cooked row beside it, and the cells that cannot agree.
struct Case {
    dish: &'static str,
    cooked: u32,
    /// Nutrient, what the raw row and the factor give (computed by hand: raw x factor / yield), what the cooked
    /// row has (read). Most raw and cooked rows are separate samples; the data points of iron are told (read).
    apart: &'static [(Nutrient, f64, f64)],
}

const fn case(dish: &'static str, cooked: u32, apart: &'static [(Nutrient, f64, f64)]) -> Case {
    Case { dish, cooked, apart }
}

const CASES: [Case; 15] = [
    // Rice, white, long-grain, enriched: 20044 raw, 20045 cooked without salt.
    case("plain_boiled_rice", 20045, &[(N::VITAMIN_B6, 0.0556, 0.093)]),
    // Lentils: 16069 raw (38 data points), 16070 boiled (20).
    case(
        "plain_boiled_lentils",
        16070,
        &[
            (N::IRON, 1.94, 3.33),
            (N::POTASSIUM, 179.0, 369.0),
            (N::FOLATE, 103.0, 181.0),
        ],
    ),
    // Chickpeas: 16056 raw (35 data points), 16057 boiled (21).
    case(
        "plain_boiled_chickpeas",
        16057,
        &[
            (N::IRON, 1.49, 2.89),
            (N::POTASSIUM, 217.0, 291.0),
            (N::FOLATE, 108.0, 172.0),
        ],
    ),
    // Kidney beans, red: 16032 raw (51 data points), 16033 boiled (30).
    case(
        "plain_boiled_kidney_beans",
        16033,
        &[(N::IRON, 2.01, 2.94), (N::FOLATE, 66.5, 130.0)],
    ),
    // Potatoes: 11352 is flesh and skin, and the skin holds much of the iron; 11367 is boiled without skin.
    case(
        "plain_boiled_potatoes",
        11367,
        &[
            (N::PROTEIN, 2.23, 1.71),
            (N::IRON, 0.836, 0.31),
            (N::POTASSIUM, 416.0, 328.0),
            (N::VITAMIN_C, 16.1, 7.4),
            (N::RIBOFLAVIN, 0.033, 0.019),
            (N::FOLATE, 12.2, 9.0),
        ],
    ),
    // Chicken breast: 05062 raw (6 data points), 05064 roasted (16).
    case(
        "plain_roast_chicken_breast",
        5064,
        &[
            (N::IRON, 0.463, 1.04),
            (N::POTASSIUM, 371.0, 256.0),
            (N::RIBOFLAVIN, 0.221, 0.114),
            (N::VITAMIN_B6, 0.901, 0.6),
            (N::FOLATE, 7.5, 4.0),
        ],
    ),
    // Chicken thigh: 05096 raw (6 data points), 05098 roasted (6).
    case("plain_roast_chicken_thigh", 5098, &[(N::PROTEIN, 28.5, 24.76)]),
    // Pasta, enriched: 20120 dry, 20121 cooked without salt.
    case("plain_boiled_pasta", 20121, &[(N::POTASSIUM, 28.1, 44.0)]),
    // Oats: 08120 dry, 08121 cooked with water without salt.
    case(
        "plain_oat_porridge",
        8121,
        &[(N::RIBOFLAVIN, 0.0257, 0.016), (N::VITAMIN_B6, 0.0166, 0.005)],
    ),
    // Egg: 01123 raw (6 data points), 01129 hard-boiled (14).
    case(
        "plain_boiled_eggs",
        1129,
        &[
            (N::IRON, 1.86, 1.19),
            (N::THIAMIN, 0.0362, 0.066),
            (N::VITAMIN_B6, 0.172, 0.121),
        ],
    ),
    // Ground beef, 90 % lean: 23562 raw, 23565 crumbles, pan-browned; both from one regression on fat (AR).
    case("plain_browned_ground_beef", 23565, &[]),
    // Salmon, Atlantic, farmed: 15236 raw, 15237 dry heat; other fish, as water and protein show.
    case(
        "plain_baked_salmon",
        15237,
        &[(N::ENERGY, 226.0, 206.0), (N::THIAMIN, 0.214, 0.34)],
    ),
    // Spinach: 11457 raw (10 data points), 11458 boiled and drained (12).
    case(
        "plain_boiled_spinach",
        11458,
        &[(N::IRON, 2.63, 3.57), (N::VITAMIN_C, 17.2, 9.8)],
    ),
    // Broccoli: 11090 raw (33 data points), 11091 boiled and drained (4).
    case(
        "plain_boiled_broccoli",
        11091,
        &[(N::PROTEIN, 2.83, 2.38), (N::FOLATE, 44.3, 108.0)],
    ),
    // Carrots: 11124 raw (75 data points), 11125 boiled and drained (4).
    case("plain_boiled_carrots", 11125, &[(N::IRON, 0.239, 0.34)]),
];

/// How near a dish must come to a cooked row of another sample. Energy and protein hang on the mass alone; the
/// others also on a factor that the table rounds to 5 points and gives for a way of cooking, not for a food.
const NEAR: [(Nutrient, f64); 9] = [
    (N::ENERGY, 0.05),
    (N::PROTEIN, 0.10),
    (N::IRON, 0.25),
    (N::POTASSIUM, 0.20),
    (N::VITAMIN_C, 0.30),
    (N::THIAMIN, 0.30),
    (N::RIBOFLAVIN, 0.30),
    (N::VITAMIN_B6, 0.30),
    (N::FOLATE, 0.30),
];

fn basic(id: &str) -> &'static Item {
    let found = bundled().1.items.iter().find(|i| i.id == id);
    found.unwrap_or_else(|| panic!("no dish {id}"))
}

#[test]
fn plain_dishes_agree_with_the_cooked_rows_of_the_table() {
    let (table, _) = bundled();
    let mut off = Vec::new();
    for Case { dish, cooked, apart } in &CASES {
        let ours = per_100_g(table, basic(dish));
        let row = table.food(&FoodId::sr28(*cooked)).expect("a row");
        for (n, share) in NEAR {
            let Some(theirs) = row.amount(n) else { continue };
            let ours = ours[n.index()];
            let near = (ours - theirs).abs() <= share * theirs + rounding(n);
            match apart.iter().find(|(m, ..)| *m == n) {
                None if !near => off.push(format!("{dish}: {} {ours:.4}, {} has {theirs}", n.id(), row.name)),
                None => {}
                Some((_, by_hand, read)) => {
                    assert_eq!(theirs, *read, "{dish}: {} is not the row's figure", n.id());
                    assert!(!near, "{dish}: {} agrees, so it needs no exception", n.id());
                    if (ours - by_hand).abs() > 0.01 * by_hand {
                        off.push(format!("{dish}: {} {ours:.4}, by hand {by_hand}", n.id()));
                    }
                }
            }
        }
    }
    assert!(off.is_empty(), "{off:#?}");
}

/// Ground beef: what is poured off is fat, with its energy. SR28 23565 has 12.04 g fat in 100 g; 10 g raw fat
/// less 1.4 g poured off over a yield of 0.69 are 12.46 g (computed).
#[test]
fn poured_off_fat_takes_its_energy_and_fatty_acids() {
    let (table, _) = bundled();
    let item = basic("plain_browned_ground_beef");
    let ours = per_100_g(table, item);
    assert!(
        (ours[N::FAT.index()] - 12.46).abs() < 0.02,
        "{}",
        ours[N::FAT.index()]
    );
    let s = serving(table, item);
    let grams = 6.3 / 4.0;
    let lost = |n: Nutrient| s.raw[n.index()] - s.cooked[n.index()];
    // 9.02 kcal/g: energy factor of fat in FOOD_DES of 23562 (read).
    assert!((lost(N::ENERGY) - grams * 9.02).abs() < 1e-9);
    assert!((lost(number(268)) - grams * 9.02 * 4.184).abs() < 1e-6);
    assert!((lost(N::FAT) - grams).abs() < 1e-9);
    let left = s.cooked[N::FAT.index()] / s.raw[N::FAT.index()];
    for n in [
        N::SATURATED_FAT,
        N::MONOUNSATURATED_FAT,
        N::VITAMIN_E,
        N::VITAMIN_D,
        N::VITAMIN_K,
    ] {
        assert!(
            (s.cooked[n.index()] / s.raw[n.index()] - left).abs() < 1e-9,
            "{}",
            n.id()
        );
    }
    assert_eq!(lost(N::CHOLESTEROL), 0.0);
    assert_eq!(lost(N::PROTEIN), 0.0);
}

fn cooking(code: &str) -> Cooking {
    Cooking {
        way: bundled().1.retention.way(code).expect("a code").clone(),
        fat_lost: 0.0,
        water: Some(1.0),
    }
}

/// Code 5005 of the table has blank cells for all but choline (100) and alcohol (35); read.
#[test]
fn a_blank_factor_is_unknown_and_boiled_off_alcohol_takes_its_energy() {
    let (table, _) = bundled();
    let wine = FoodId::sr28(14096); // Alcoholic beverage, wine, table, red
    let raw = held(table, &wine, 100.0, None).expect("wine");
    let cooked = held(table, &wine, 100.0, Some(&cooking("5005"))).expect("wine");
    let of = |list: &[Option<f64>], n: Nutrient| list[n.index()];
    assert!(of(&raw, N::POTASSIUM).is_some());
    for n in [N::POTASSIUM, N::IRON, N::RIBOFLAVIN, N::SODIUM] {
        assert_eq!(of(&cooked, n), None, "{}", n.id());
    }
    assert_eq!(of(&cooked, N::CHOLINE), of(&raw, N::CHOLINE));
    let alcohol = of(&raw, N::ALCOHOL).expect("alcohol");
    assert!((of(&cooked, N::ALCOHOL).expect("alcohol") - 0.35 * alcohol).abs() < 1e-9);
    let kcal = |list: &[Option<f64>]| of(list, N::ENERGY).expect("energy");
    assert!((kcal(&raw) - kcal(&cooked) - 0.65 * alcohol * 6.93).abs() < 1e-9);
}

/// Row 3004 of the table, greens boiled in little water and drained (read): 432, 431 and 417 are 65 %, 318, 392
/// and the carotenes 95 %, 401 is 60 %. Selenium (317) and vitamin K (430) have no column.
#[test]
fn forms_of_a_vitamin_move_together() {
    let way = bundled().1.retention.way("3004").expect("a code");
    let is = |list: &[u16], share: f64| {
        for n in list.iter().map(|n| number(*n)) {
            assert_eq!(way.factor(n), Some(share), "{}", n.id());
        }
    };
    is(&[417, 431, 432, 435], 0.65);
    is(&[318, 319, 320, 321, 322, 334], 0.95);
    is(&[401], 0.60);
    is(&[317, 430, 208, 203, 204, 291, 323], 1.0);
    // Row 1706 is the one whose retinol equivalents (85) part from its carotenes (80).
    let way = bundled().1.retention.way("1706").expect("a code");
    assert_eq!(
        (way.factor(number(320)), way.factor(number(321))),
        (Some(0.85), Some(0.80))
    );
    assert_eq!(bundled().1.retention.ways().count(), 270 + 1);
}

/// Every dish whose source names a row of the yield table has the yield of that row.
#[test]
fn meat_comes_out_with_the_yield_of_the_table() {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("tests/truth/usda_yields/cooking_yields_meat_poultry_r2.csv");
    let mut rows: BTreeMap<String, f64> = BTreeMap::new();
    for r in csv::Reader::from_path(path).expect("the table").records() {
        let r = r.expect("a row");
        rows.insert(r[1].to_string(), r[4].parse().expect("a yield"));
    }
    let mut seen = 0;
    for i in &bundled().1.items {
        let Some(d) = &i.dish else { continue };
        let named = d
            .source
            .split("Release 2, row ")
            .nth(1)
            .and_then(|t| t.split(',').next());
        let (Some(row), [only]) = (named, &d.ingredients[..]) else {
            continue;
        };
        let percent = rows
            .get(row)
            .unwrap_or_else(|| panic!("{}: the table has no row {row}", i.id));
        assert!(
            (100.0 * d.cooked / only.grams - percent).abs() < 0.6,
            "{}: {} g of {} g, row {row} says {percent} %",
            i.id,
            d.cooked,
            only.grams
        );
        seen += 1;
    }
    assert!(seen >= 3, "{seen} dishes name a row");
}
