//! Dish files and the commands about them: every mistake is named with its place, what is bundled is whole, and a
//! dish of one's own comes onto the plate.

use std::fs;
use std::path::PathBuf;
use std::process::{Command, Output, Stdio};
use std::sync::OnceLock;

use platewright::diagnostic::Diagnostic;
use platewright::foods::{Content, Food, FoodId, FoodTable};
use platewright::kitchen::dish::serving;
use platewright::kitchen::retention::Retention;
use platewright::kitchen::{Catalogue, Item, Source};
use platewright::nutrient::Nutrient;
use proptest::prelude::*;

fn bundled() -> &'static (FoodTable, Catalogue) {
    static BOTH: OnceLock<(FoodTable, Catalogue)> = OnceLock::new();
    BOTH.get_or_init(|| {
        let table = FoodTable::bundled();
        let catalogue = Catalogue::bundled(&table).unwrap_or_else(|p| panic!("{p:#?}"));
        (table, catalogue)
    })
}

/// Porridge with a banana: a dish without a mistake.
const GOOD: &str = r#"[[dish]]
id = "own_porridge"
name = "Own porridge"
source = "common practice"
servings = 2
serving = "1 bowl"
cooked = 700
water = 500
ingredients = [
  { food = "sr28:08120", grams = 100, cooking = "0352" },
  { food = "sr28:09040", grams = 150, cooking = "none" },
]
method = [
  "Simmer the oats in the water for 5 minutes.",
  "Slice the banana into it.",
]
minutes = 8
total_minutes = 10
keeps_days = 0
batch = false
step = 0.5
least = 0.5
most = 2
most_per_day = 2
times = 7
gap = 0
roles = ["staple"]
kinds = ["porridge"]
slots = ["breakfast"]
regions = ["us"]
group = "oats"
contains = []
"#;

fn read(text: &str) -> Result<(Catalogue, Vec<Diagnostic>), Vec<Diagnostic>> {
    let (table, c) = bundled();
    let mut own = c.clone();
    let remarks = own.add_dishes(
        table,
        &[Source {
            name: "own.toml",
            text,
        }],
    )?;
    Ok((own, remarks))
}

fn mistakes(text: &str) -> Vec<Diagnostic> {
    read(text).err().unwrap_or_default()
}

/// One mistake, of this code, that names file, dish and line and says each word.
#[track_caller]
fn one_mistake(text: &str, code: &str, line: usize, words: &[&str]) {
    let found = mistakes(text);
    let told: Vec<&str> = found.iter().map(|d| d.message.as_str()).collect();
    assert_eq!(found.len(), 1, "{told:?}");
    let d = &found[0];
    assert_eq!((d.code, d.line), (code, Some(line)), "{}", d.message);
    assert!(
        d.message.starts_with("own.toml: ") && d.message.contains("own_porridge"),
        "{}",
        d.message
    );
    for w in words {
        assert!(d.message.contains(w), "no {w:?} in: {}", d.message);
    }
}

fn without(key: &str) -> String {
    let lines: Vec<&str> = GOOD.lines().collect();
    let start = lines
        .iter()
        .position(|l| l.starts_with(&format!("{key} =")))
        .expect("a key");
    let end = match lines[start].ends_with('[') {
        true => start + lines[start..].iter().position(|l| *l == "]").expect("an end"),
        false => start,
    };
    [&lines[..start], &lines[end + 1..]].concat().join("\n")
}

#[test]
fn a_sound_dish_is_an_item_like_any_other() {
    let (own, remarks) = read(GOOD).unwrap_or_else(|p| panic!("{p:#?}"));
    assert!(remarks.is_empty(), "{remarks:?}");
    let i = own.items.last().expect("an item");
    assert_eq!((i.id.as_str(), i.serving_grams()), ("own_porridge", 350.0));
    let d = i.dish.as_ref().expect("a recipe");
    assert_eq!((d.mass_in(), d.boiled_off()), (750.0, 50.0));
    assert_eq!(own.bought(i).len(), 2);
    assert!(own.asked_for(i));
    let grams: Vec<f64> = i.foods.iter().map(|c| c.grams).collect();
    assert_eq!(grams, [50.0, 75.0]);
    // SR28 08120 has 379 kcal, 09040 has 89 kcal in 100 g (read).
    let s = serving(&bundled().0, i);
    assert!((s.cooked[Nutrient::ENERGY.index()] - (189.5 + 66.75)).abs() < 1e-9);
    // Code 0352 leaves 80 % of thiamin (read); SR28 has 0.460 mg in oats and 0.031 mg in bananas (read).
    let thiamin = s.cooked[Nutrient::THIAMIN.index()];
    assert!(
        (thiamin - (0.5 * 0.460 * 0.8 + 0.75 * 0.031)).abs() < 1e-9,
        "{thiamin}"
    );
}

#[test]
fn every_required_field_is_missed_by_name() {
    for key in [
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
        "roles",
        "slots",
        "regions",
        "group",
    ] {
        one_mistake(&without(key), "dish-missing", 1, &[&format!("`{key}`")]);
    }
    let found = mistakes(&without("id"));
    assert!(
        found.len() == 1 && found[0].message.contains("dish 1: `id` is missing"),
        "{found:?}"
    );
    for key in ["gap", "kinds", "contains"] {
        assert!(read(&without(key)).is_ok(), "{key} is optional");
    }
}

#[test]
fn every_wrong_value_is_named_with_its_line() {
    let line = |start: &str| {
        1 + GOOD
            .lines()
            .position(|l| l.trim_start().starts_with(start))
            .expect("a line")
    };
    for (was, is, code, at, words) in [
        (
            "\"own_porridge\"",
            "\"own_porridge \u{e9}\"",
            "dish-value",
            "id",
            &["snake_case"][..],
        ),
        (
            "cooked = 700",
            "cooked = 800",
            "dish-value",
            "cooked",
            &["800 g come out of 750 g"],
        ),
        (
            "cooked = 700",
            "cooked = 100",
            "dish-value",
            "cooked",
            &["dry matter"],
        ),
        (
            "cooked = 700",
            "cooked = \"700 g\"",
            "dish-kind",
            "cooked",
            &["a text, expected a number"],
        ),
        (
            "cooked = 700",
            "cooked = nan",
            "dish-value",
            "cooked",
            &["expected"],
        ),
        (
            "\"0352\"",
            "\"0353\"",
            "dish-unknown-id",
            "{ food = \"sr28:08120\"",
            &["0353", "did you mean"],
        ),
        (
            "\"0352\"",
            "352",
            "dish-kind",
            "{ food = \"sr28:08120\"",
            &["a text in quotes"],
        ),
        ("grams = 100,", "gram = 100,", "", "", &[]),
        (
            "\"none\"",
            "\"none\", absorbed = 151",
            "dish-value",
            "{ food = \"sr28:09040\"",
            &["absorbed"],
        ),
        (
            "\"0352\"",
            "\"0352\", fat_lost = 9",
            "dish-value",
            "{ food = \"sr28:08120\"",
            &["poured off", "6.5 g"],
        ),
        (
            "sr28:08120",
            "sr28:99999",
            "dish-unknown-id",
            "{ food = \"sr28:08120\"",
            &["in no table"],
        ),
        (
            "sr28:08120",
            "sr28:09146",
            "dish-unknown-id",
            "{ food = \"sr28:08120\"",
            &["no row among the ingredients"],
        ),
        (
            "minutes = 8\n",
            "minutes = 11\n",
            "dish-value",
            "minutes",
            &["hands-on"],
        ),
        (
            "batch = false",
            "batch = true",
            "dish-value",
            "batch",
            &["keeps no day"],
        ),
        (
            "batch = false",
            "batch = 1",
            "dish-kind",
            "batch",
            &["true or false"],
        ),
        (
            "keeps_days = 0",
            "keeps_days = 1.5",
            "dish-value",
            "keeps_days",
            &["whole number"],
        ),
        (
            "least = 0.5",
            "least = 0.7",
            "dish-value",
            "step",
            &["whole steps"],
        ),
        (
            "most = 2\n",
            "most = 3\n",
            "dish-value",
            "step",
            &["most_per_day"],
        ),
        ("times = 7", "times = 8", "dish-value", "times", &["1 to 7"]),
        (
            "[\"staple\"]",
            "[\"stapel\"]",
            "dish-unknown-id",
            "roles",
            &["stapel", "did you mean `staple`"],
        ),
        ("[\"staple\"]", "[]", "dish-value", "roles", &["empty"]),
        (
            "[\"breakfast\"]",
            "[\"brekfast\"]",
            "dish-unknown-id",
            "slots",
            &["did you mean `breakfast`"],
        ),
        (
            "[\"us\"]",
            "[\"atlantis\"]",
            "dish-unknown-id",
            "regions",
            &["atlantis"],
        ),
        (
            "contains = []",
            "contains = [\"egs\"]",
            "dish-unknown-id",
            "contains",
            &["flag"],
        ),
        ("group =", "grup =", "", "", &[]),
        (
            "name = \"Own porridge\"",
            "name = \" \"",
            "dish-value",
            "name",
            &["blank"],
        ),
        (
            "servings = 2",
            "servings = 0.3",
            "dish-value",
            "servings",
            &["a serving weighs"],
        ),
    ] {
        let text = GOOD.replacen(was, is, 1);
        assert_ne!(text, GOOD, "{was} is not there");
        if code.is_empty() {
            // A misspelt key is two mistakes: one key too many, one missing.
            let found = mistakes(&text);
            let codes: Vec<&str> = found.iter().map(|d| d.code).collect();
            assert!(
                codes.contains(&"dish-unknown-key") && codes.contains(&"dish-missing"),
                "{is}: {codes:?}"
            );
            continue;
        }
        let found = mistakes(&text);
        let d = found.first().unwrap_or_else(|| panic!("{is}: no mistake"));
        assert_eq!(found.len(), 1, "{is}: {found:?}");
        assert_eq!((d.code, d.line), (code, Some(line(at))), "{is}: {}", d.message);
        for w in words {
            assert!(d.message.contains(w), "{is}: no {w:?} in {}", d.message);
        }
    }
    let text = GOOD.replace(
        "method = [\n  \"Simmer the oats in the water for 5 minutes.\",\n  \"Slice the banana into it.\",\n]",
        "method = []",
    );
    one_mistake(&text, "dish-value", 13, &["no step"]);
}

#[test]
fn all_mistakes_of_a_file_are_told_at_once() {
    let second = GOOD
        .replace("own_porridge", "other_porridge")
        .replace("cooked = 700", "cooked = 900");
    let first = GOOD
        .replace("times = 7", "times = 9")
        .replace("\"us\"", "\"usa\"");
    let text = format!("{first}\n{second}\n[other]\nx = 1\n");
    let found = mistakes(&text);
    let told: Vec<(&str, Option<usize>)> = found.iter().map(|d| (d.code, d.line)).collect();
    assert_eq!(found.len(), 4, "{told:?}");
    assert!(found.iter().any(|d| d.message.contains("other_porridge")));
    // Also when the file is no TOML in one place.
    let broken = format!("{first}\nthis is not TOML\n");
    let found = mistakes(&broken);
    assert!(
        found.iter().any(|d| d.code == "dish-syntax" && d.line.is_some()),
        "{found:?}"
    );
    let twice = format!("{GOOD}{GOOD}");
    let found = mistakes(&twice);
    assert!(found.len() == 1 && found[0].code == "dish-twice", "{found:?}");
    let taken = GOOD.replace("own_porridge", "banana");
    assert!(
        mistakes(&taken).iter().any(|d| d.code == "dish-twice"),
        "an item has that id"
    );
}

#[test]
fn a_dish_that_no_meal_asks_for_is_remarked_upon() {
    let (_, remarks) = read(&without("kinds")).unwrap_or_else(|p| panic!("{p:#?}"));
    assert_eq!(remarks.len(), 1);
    assert_eq!(remarks[0].code, "dish-not-asked-for");
}

#[test]
fn frying_fat_that_stays_in_the_pan_is_neither_eaten_nor_bought() {
    let text = GOOD.replacen(
        "  { food = \"sr28:09040\"",
        "  { food = \"sr28:04582\", grams = 200, absorbed = 20, cooking = \"none\" },\n  { food = \"sr28:09040\"",
        1,
    );
    let (own, _) = read(&text).unwrap_or_else(|p| panic!("{p:#?}"));
    let i = own.items.last().expect("an item");
    let d = i.dish.as_ref().expect("a recipe");
    assert_eq!(d.mass_in(), 770.0);
    let oil = own
        .bought(i)
        .into_iter()
        .find(|(p, _)| p == "canola_oil")
        .expect("oil");
    assert_eq!(oil.1, 10.0);
}

#[test]
fn a_food_of_ones_own_needs_a_row_and_gets_a_product() {
    let mut table = FoodTable::bundled();
    let mut food = Food::new(FoodId::new("user:seed-mix"), "Seed mix", "own");
    food.set(Nutrient::ENERGY, Content::Known(500.0));
    table.add([food]);
    let dish = GOOD.replace("sr28:09040", "user:seed-mix");
    let row = "[[ingredient]]\nfood = \"user:seed-mix\"\nshort = \"seed mix\"\ncontains = [\"sesame\"]\n";
    let add = |text: &str| {
        let mut own = bundled().1.clone();
        own.add_dishes(
            &table,
            &[Source {
                name: "own.toml",
                text,
            }],
        )
        .map(|_| own)
    };
    let found = add(&dish).expect_err("no row");
    assert!(
        found[0].message.contains("[[ingredient]]"),
        "{}",
        found[0].message
    );
    let own = add(&format!("{row}{dish}")).unwrap_or_else(|p| panic!("{p:#?}"));
    let i = own.items.last().expect("an item");
    assert!(own.contains(i).expect("contents").contains("sesame"));
    assert!(
        own.bought(i)
            .iter()
            .any(|(p, g)| p == "user_seed_mix" && *g == 75.0)
    );
    // Contents are never left out.
    let found =
        add(&format!("{}{dish}", row.replace("contains = [\"sesame\"]\n", ""))).expect_err("no contents");
    assert!(
        found.iter().any(|d| d.message.contains("`contains` is missing")),
        "{found:?}"
    );
    // Neither nutrient nor water of it is known, and that is not zero.
    let s = serving(&table, i);
    assert!(s.known[Nutrient::IRON.index()] < 0.5);
    assert_eq!(s.known[Nutrient::WATER.index()], 0.0);
    let taken = format!("[[ingredient]]\nfood = \"sr28:09040\"\nshort = \"banana\"\ncontains = []\n{GOOD}");
    assert!(mistakes(&taken).iter().any(|d| d.code == "dish-twice"));
    let bad = format!("{}{dish}", row.replace("short", "product = \"no_such\"\nshort"));
    assert!(
        add(&bad)
            .expect_err("no product")
            .iter()
            .any(|d| d.message.contains("product `no_such` is unknown"))
    );
}

/// Every bundled dish has what docs/dishes.md asks for, beyond what the reader refuses.
#[test]
fn bundled_dishes_are_whole() {
    let (table, c) = bundled();
    let dishes: Vec<&Item> = c.items.iter().filter(|i| i.dish.is_some()).collect();
    assert!(dishes.len() >= 12, "{} dishes", dishes.len());
    let mut faults = Vec::new();
    for i in dishes {
        let d = i.dish.as_ref().expect("a recipe");
        let mut say = |text: String| faults.push(format!("{}: {text}", i.id));
        if c.contains(i).is_none() {
            say("contents not known".into());
        }
        if i.kinds.is_empty() && !i.id.starts_with("plain_") {
            say("no kinds".into());
        }
        if !c.asked_for(i) && !i.id.starts_with("plain_") {
            say("no form of a meal asks for it".into());
        }
        if d.method.iter().any(|m| !m.ends_with(['.', '!', '?'])) {
            say("a step is no sentence".into());
        }
        if !i.serving.contains(|ch: char| ch.is_ascii_digit()) {
            say(format!("serving `{}` has no number", i.serving));
        }
        // What the cooking leaves is never more than what went in; water follows the mass.
        let s = serving(table, i);
        for n in Nutrient::all().filter(|n| *n != Nutrient::WATER) {
            if s.cooked[n.index()] > s.raw[n.index()] * (1.0 + 1e-9) {
                say(format!("more {} after cooking than before", n.id()));
            }
        }
        let (water, grams) = (s.cooked[Nutrient::WATER.index()], i.serving_grams());
        if water > grams {
            say(format!("{water:.0} g of water in {grams:.0} g"));
        }
        let kcal = s.cooked[Nutrient::ENERGY.index()] / grams;
        if !(0.05..=9.0).contains(&kcal) {
            say(format!("{kcal:.2} kcal in a gram"));
        }
    }
    assert!(faults.is_empty(), "{faults:#?}");
}

/// Food groups of SR28 (FD_GROUP, read) and the beginnings of the words of the retention codes that may stand
/// for their foods: a slip of a digit makes a steak of a carrot. Groups left out have no code of their own.
const FAMILIES: [(&str, &[&str]); 14] = [
    ("Dairy and Egg Products", &["CHEESE", "EGGS", "MILK"]),
    ("Poultry Products", &["CHICKEN", "TURKEY", "LIVER", "ORGAN"]),
    (
        "Legumes and Legume Products",
        &["LEGUMES", "NUTS", "FLOUR", "VEG", "MILK"],
    ),
    (
        "Vegetables and Vegetable Products",
        &["VEG", "POTATOES", "SWEETPOT", "TOMATOES", "LEGUMES"],
    ),
    ("Fruits and Fruit Juices", &["FRUITS", "TOMATOES", "VEG"]),
    ("Pork Products", &["PORK", "BACON", "HAM"]),
    ("Beef Products", &["BEEF", "LIVER", "ORGAN"]),
    (
        "Lamb, Veal, and Game Products",
        &["LAMB", "VEAL", "BEEF", "LIVER"],
    ),
    (
        "Finfish and Shellfish Products",
        &["FINFISH", "SHELLFISH", "SEAFOOD"],
    ),
    (
        "Cereal Grains and Pasta",
        &["FLOUR", "PASTA", "RICE", "CEREAL", "OATMEAL", "VEG"],
    ),
    ("Breakfast Cereals", &["OATMEAL", "CEREAL", "FLOUR"]),
    ("Nut and Seed Products", &["NUTS", "FLOUR"]),
    (
        "Sausages and Luncheon Meats",
        &["SAUSAGE", "PORK,CURED", "HAM", "BACON"],
    ),
    ("Beverages", &["ALC BEV", "MILK"]),
];

#[test]
fn the_way_of_cooking_is_one_for_that_food() {
    let (table, c) = bundled();
    let mut odd = Vec::new();
    for i in &c.items {
        for r in i
            .dish
            .iter()
            .flat_map(|d| &d.ingredients)
            .filter(|r| r.cooking != "none")
        {
            let food = table.food(&r.food).expect("a food");
            let words = &c.retention.way(&r.cooking).expect("a code").description;
            let family = FAMILIES.iter().find(|(group, _)| *group == food.group);
            if family.is_some_and(|(_, starts)| !starts.iter().any(|s| words.starts_with(s))) {
                odd.push(format!("{}: {} with {} {words}", i.id, food.name, r.cooking));
            }
            // The table parts fish at 5 % fat; a point of play for lots near it.
            let fat = food.amount(Nutrient::FAT).unwrap_or(0.0);
            if words.starts_with("FINFISH,<5%") && fat > 6.0 || words.starts_with("FINFISH,>5%") && fat < 4.0
            {
                odd.push(format!("{}: {} of {fat} % fat with {words}", i.id, food.name));
            }
        }
    }
    assert!(odd.is_empty(), "{odd:#?}");
}

#[test]
fn a_broken_retention_table_is_refused_with_its_lines() {
    let text = "retn_code,description,301,401\n0001,A,100,101\n0001,B,x,\n";
    let found = Retention::read(&Source { name: "r.csv", text }).expect_err("broken");
    let lines: Vec<Option<usize>> = found.iter().map(|d| d.line).collect();
    assert_eq!(lines, [Some(2), Some(3), Some(3)], "{found:?}");
}

// The commands.

struct Room(tempfile::TempDir);

impl Room {
    fn new() -> Room {
        Room(tempfile::tempdir().expect("a folder"))
    }
    fn file(&self, name: &str, text: &str) -> PathBuf {
        let path = self.0.path().join(name);
        fs::write(&path, text).expect("a file");
        path
    }
    fn run(&self, arguments: &[&str]) -> Output {
        Command::new(env!("CARGO_BIN_EXE_platewright"))
            .args(arguments)
            .current_dir(self.0.path())
            .stdin(Stdio::null())
            .output()
            .expect("the program runs")
    }
}

fn out(o: &Output) -> String {
    String::from_utf8(o.stdout.clone()).expect("UTF-8")
}

fn err(o: &Output) -> String {
    String::from_utf8(o.stderr.clone()).expect("UTF-8")
}

#[track_caller]
fn fine(o: &Output) -> String {
    assert_eq!(o.status.code(), Some(0), "{}", err(o));
    out(o)
}

#[track_caller]
fn refused(o: &Output, words: &[&str]) {
    let text = err(o);
    assert_eq!(o.status.code(), Some(2), "{text}");
    assert!(o.stdout.is_empty() && !text.contains("panicked"), "{text}");
    for w in words {
        assert!(text.contains(w), "no {w:?} in: {text}");
    }
}

#[test]
fn list_keeps_what_is_asked_for() {
    let room = Room::new();
    let text = fine(&room.run(&["dishes", "list", "--region", "us"]));
    assert!(
        text.contains("plain_boiled_rice") && text.lines().all(|l| l.chars().count() <= 80),
        "{text}"
    );
    let json: serde_json::Value = serde_json::from_str(&fine(&room.run(&[
        "dishes", "list", "--region", "us", "--diet", "vegan", "--role", "legume", "--slot", "lunch",
        "--format", "json",
    ])))
    .expect("JSON");
    let dishes = json["dishes"].as_array().expect("a list");
    assert!(dishes.iter().any(|d| d["id"] == "plain_boiled_lentils"));
    assert!(!dishes.iter().any(|d| d["id"] == "plain_roast_chicken_breast"));
    for d in dishes {
        assert!(
            d["roles"]
                .as_array()
                .expect("roles")
                .iter()
                .any(|r| r == "legume"),
            "{d}"
        );
    }
    refused(
        &room.run(&["dishes", "list", "--region", "uss"]),
        &["did you mean `us`"],
    );
    refused(
        &room.run(&["dishes", "list", "--diet", "vegn", "--role", "legum"]),
        &["did you mean `vegan`", "did you mean `legume`"],
    );
}

#[test]
fn show_tells_all_of_a_dish() {
    let room = Room::new();
    let text = fine(&room.run(&["dishes", "show", "Boiled lentils, from dry"]));
    assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
    for word in [
        "plain_boiled_lentils",
        "lentils, brown or green,",
        "0502",
        "tap water",
        "196 g boil off",
        "Method",
        "1. Rinse",
        "What the cooking took",
        "thiamin",
        "75 % left", // code 0502 leaves 75 % of niacin and 70 % of thiamin (read)
        "70 % left",
        "A serving USD",
        "Vegan",
        "keeps 3 days",
    ] {
        assert!(text.contains(word), "no {word:?} in\n{text}");
    }
    let json: serde_json::Value = serde_json::from_str(&fine(&room.run(&[
        "dishes",
        "show",
        "plain_browned_ground_beef",
        "--format",
        "json",
    ])))
    .expect("JSON");
    assert_eq!(json["ingredients"][0]["fat_lost_grams"], 6.3);
    assert_eq!(json["yield"], 0.69);
    assert_eq!(json["contains"], serde_json::json!(["beef"]));
    assert_eq!(json["cost"]["currency"], "USD");
    let b12 = &json["nutrients"]["vitamin_b12"];
    // Code 0603 leaves 80 % of B12 (read).
    let share = b12["amount"].as_f64().expect("amount") / b12["raw"].as_f64().expect("raw");
    assert!((share - 0.8).abs() < 1e-4, "{b12}");
    refused(
        &room.run(&["dishes", "show", "plain_boiled_lentls"]),
        &["did you mean `plain_boiled_lentils`"],
    );
    refused(&room.run(&["dishes", "show", "banana"]), &["no recipe"]);
    refused(
        &room.run(&["dishes", "show", "plain_boiled_rice", "--region", "uz"]),
        &["kitchen"],
    );
}

#[test]
fn show_takes_prices_of_ones_own_and_says_what_has_none() {
    let room = Room::new();
    let head = "buy,amount,unit,price,currency,place,date,pack,source\n";
    room.file(
        "p.csv",
        &format!("{head}lentils,1,kg,4.00,EUR,here,2026-01-01,no,my shop\nwhite_rice,1,kg,2.00,EUR,here,2026-01-01,no,invented: a guess\n"),
    );
    let text = fine(&room.run(&["dishes", "show", "plain_boiled_lentils", "--prices", "p.csv"]));
    assert!(text.contains("A serving EUR 0.20, a batch EUR 0.80."), "{text}");
    assert!(!text.contains("Invented"), "{text}");
    let text = fine(&room.run(&["dishes", "show", "plain_boiled_rice", "--prices", "p.csv"]));
    assert!(
        text.contains("A serving EUR 0.10, a batch EUR 0.40.") && text.contains("Invented prices"),
        "{text}"
    );
    let text = fine(&room.run(&["dishes", "show", "plain_boiled_pasta", "--prices", "p.csv"]));
    assert!(text.contains("Not known: no price for"), "{text}");
}

#[test]
fn check_says_all_that_is_wrong_or_that_nothing_is() {
    let room = Room::new();
    room.file("good.toml", GOOD);
    room.file(
        "bad.toml",
        &GOOD
            .replace("times = 7", "times = 9")
            .replace("\"0352\"", "\"9999\""),
    );
    room.file("worse.toml", "[[dish]]\nid = \"x\"\n");
    assert!(fine(&room.run(&["dishes", "check", "good.toml"])).contains("No mistakes: 1 dish."));
    refused(
        &room.run(&["dishes", "check", "good.toml", "bad.toml", "worse.toml"]),
        &[
            "bad.toml:10: dish `own_porridge`",
            "9999",
            "bad.toml:25:",
            "worse.toml:1: dish `x`: `name` is missing",
        ],
    );
    refused(&room.run(&["dishes", "check", "none.toml"]), &["none.toml"]);
    let text = fine(&room.run(&["dishes", "show", "own_porridge", "--dishes", "good.toml"]));
    assert!(text.contains("Own porridge") && text.contains("banana"), "{text}");
}

const BRIEF: &str = "title = \"Invented\"\nregion = \"us\"\ndays = 1\nobjective = \"closeness\"\nlikes = [\"own_porridge\"]\n[person]\nsex = \"female\"\nage = 30\nheight = \"168 cm\"\nweight = \"61 kg\"\n[activity]\nlevel = \"active\"\n[[phase]]\nkind = \"hold\"\nweeks = 4\n[[lock]]\ndays = [1]\nslot = \"breakfast\"\nitems = [{ item = \"own_porridge\", servings = 1 }]\n";

/// A dish of one's own is eaten, counted with its retention, and bought.
#[test]
fn a_plan_takes_dishes_of_ones_own() {
    let room = Room::new();
    room.file("good.toml", GOOD);
    room.file("brief.toml", BRIEF);
    let o = room.run(&[
        "plan",
        "brief.toml",
        "--dishes",
        "good.toml",
        "--moves",
        "200000",
        "--format",
        "json",
    ]);
    assert!(matches!(o.status.code(), Some(0 | 1)), "{}", err(&o));
    let json: serde_json::Value = serde_json::from_str(&out(&o)).expect("JSON");
    let items: Vec<&serde_json::Value> = json["days"][0]["meals"]
        .as_array()
        .expect("meals")
        .iter()
        .flat_map(|m| m["items"].as_array().expect("items"))
        .collect();
    let own = items
        .iter()
        .find(|i| i["id"] == "own_porridge")
        .expect("it is eaten");
    assert_eq!(own["foods"][0]["basis"], "raw");
    assert_eq!(own["foods"][0]["cooking"], "0352");
    assert_eq!(own["foods"][0]["food"], "sr28:08120");
    assert_eq!(own["grams"], 350);
    let bought = json["shopping"].as_array().expect("a list");
    assert!(bought.iter().any(|l| l["product"] == "oats"), "{bought:?}");
    let o = room.run(&["plan", "brief.toml", "--moves", "1000"]);
    refused(&o, &["own_porridge"]);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// No text makes the reader of dishes panic.
    #[test]
    fn no_text_makes_it_panic(text in "\\PC{0,200}", at in 0usize..900, cut in 0usize..60) {
        let (table, c) = bundled();
        let mut own = Catalogue { kitchens: c.kitchens.clone(), retention: c.retention.clone(), ..Catalogue::default() };
        let _ = own.add_dishes(table, &[Source { name: "x", text: &text }]);
        let chars: Vec<char> = GOOD.chars().collect();
        let at = at.min(chars.len());
        let end = (at + cut).min(chars.len());
        let spoilt: String = chars[..at].iter().copied().chain(text.chars().take(20)).chain(chars[end..].iter().copied()).collect();
        let _ = own.add_dishes(table, &[Source { name: "x", text: &spoilt }]);
    }

    /// Whatever numbers stand in a dish, it is read with finite amounts or refused with a line.
    #[test]
    fn any_number_is_read_or_refused(
        cooked in prop::num::f64::ANY,
        grams in prop::num::f64::ANY,
        servings in -1.0f64..1e9,
        fat in -1.0f64..10.0,
    ) {
        let number = |v: f64| match (v.is_nan(), v.is_infinite()) {
            (true, _) => "nan".to_string(),
            (_, true) => "inf".to_string(),
            _ => format!("{v:?}"),
        };
        let text = GOOD
            .replace("cooked = 700", &format!("cooked = {}", number(cooked)))
            .replace("grams = 100", &format!("grams = {}, fat_lost = {}", number(grams), number(fat)))
            .replace("servings = 2", &format!("servings = {}", number(servings)));
        match read(&text) {
            Ok((own, _)) => {
                let s = serving(&bundled().0, own.items.last().expect("an item"));
                prop_assert!(s.cooked.iter().all(|v| v.is_finite() && *v >= 0.0));
            }
            Err(problems) => prop_assert!(problems.iter().all(|d| d.line.is_some())),
        }
    }
}
