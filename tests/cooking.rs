//! Days with time to cook, whole batches, the cooking list; what is left over and carries on into the next plan.

use std::collections::BTreeMap;
use std::num::NonZeroUsize;
use std::sync::OnceLock;

use platewright::brief::{self, Brief};
use platewright::diagnostic::Diagnostic;
use platewright::energy;
use platewright::foods::FoodTable;
use platewright::kitchen::{Catalogue, Source};
use platewright::model::build::{Pieces, at_home, batch, build, pot};
use platewright::model::linear::expand;
use platewright::plan::{Plan, Work, plan};
use platewright::prices::PriceList;
use platewright::report;
use platewright::solve::search::{Effort, search};
use platewright::solve::verify::broken;
use platewright::targets;
use rust_decimal::prelude::ToPrimitive;

/// Two dishes that keep, invented for these tests, in the shape of ordinary home cooking.
const DISHES: &str = r#"
[[dish]]
id = "test_chili"
name = "Bean chili from the pot"
source = "common practice"
servings = 4
serving = "1 bowl"
cooked = 1400
water = 900
ingredients = [
  { food = "sr28:16032", grams = 300, cooking = "0521" },
  { food = "sr28:11282", grams = 150, cooking = "3784" },
  { food = "sr28:04044", grams = 40, cooking = "none" },
  { food = "sr28:11529", grams = 300, cooking = "none" },
]
method = ["Soak the beans.", "Boil them until soft.", "Fry the onion, add everything and simmer."]
minutes = 35
total_minutes = 120
keeps_days = 2
batch = true
step = 0.5
least = 0.5
most = 2
most_per_day = 2
times = 7
roles = ["legume", "vegetable"]
kinds = ["stew", "soup"]
slots = ["lunch", "dinner"]
regions = ["us"]
group = "beans"

[[dish]]
id = "test_sauce"
name = "Lentil sauce from the pot"
source = "common practice"
servings = 3
serving = "1 cup"
cooked = 700
water = 500
ingredients = [
  { food = "sr28:16069", grams = 180, cooking = "0521" },
  { food = "sr28:11529", grams = 250, cooking = "none" },
  { food = "sr28:04053", grams = 20, cooking = "none" },
]
method = ["Simmer all of it until the lentils are soft."]
minutes = 25
total_minutes = 60
keeps_days = 3
batch = true
step = 0.5
least = 0.5
most = 1.5
most_per_day = 3
times = 7
roles = ["legume", "vegetable"]
kinds = ["pasta_sauce"]
slots = ["lunch", "dinner"]
regions = ["us"]
group = "lentils"
"#;

fn table() -> &'static FoodTable {
    static TABLE: OnceLock<FoodTable> = OnceLock::new();
    TABLE.get_or_init(FoodTable::bundled)
}

fn catalogue() -> &'static Catalogue {
    static CATALOGUE: OnceLock<Catalogue> = OnceLock::new();
    CATALOGUE.get_or_init(|| {
        let mut c = Catalogue::bundled(table()).expect("the bundled catalogue has no problem");
        let source = Source {
            name: "test.toml",
            text: DISHES,
        };
        c.add_dishes(table(), &[source]).expect("sound dishes");
        c
    })
}

fn text(rest: &str) -> String {
    format!(
        "title = \"Invented\"\nregion = \"us\"\nlikes = [\"test_chili\", \"test_sauce\"]\n[person]\nsex = \"female\"\nage = 30\nheight = \"168 cm\"\nweight = \"61 kg\"\n\
         [activity]\nlevel = \"active\"\n[[phase]]\nkind = \"hold\"\n{rest}"
    )
}

fn read(text: &str) -> Brief {
    brief::parse(text).unwrap_or_else(|e| panic!("{e:?}\n{text}")).0
}

fn with<T>(brief: &Brief, then: impl FnOnce(Pieces, &energy::EnergyBudget) -> T) -> T {
    let energy = energy::budget(brief).expect("an energy budget");
    let (targets, _) = targets::derive(brief, &energy);
    let prices = PriceList::bundled("us", catalogue()).expect("a sound list");
    then(
        Pieces {
            brief,
            intake_kcal: energy.intake.0,
            targets: &targets,
            kitchen: catalogue().kitchen("us").expect("a kitchen"),
            catalogue: catalogue(),
            table: table(),
            prices: prices.as_ref(),
        },
        &energy,
    )
}

fn planned(brief: &Brief, moves: u64) -> Plan {
    let found = with(brief, |p, e| plan(p, e, Work::of(p.brief.days, Some(moves))))
        .unwrap_or_else(|e| panic!("{e:?}"));
    assert!(
        found.planned,
        "{:?} {:?} {:?}",
        found.conflict, found.misses, found.breaches
    );
    found
}

const TWICE: &str = "[cooking]\ndays = [1, 4]\n";

#[test]
fn a_week_cooked_twice() {
    let brief = read(&text(TWICE));
    let week = planned(&brief, 1_500_000);
    let item = |id: &str| catalogue().items.iter().find(|i| i.id == id).expect("known");
    let mut pots: BTreeMap<(String, u32), f64> = BTreeMap::new();
    let mut reheated = 0;
    for d in &week.days {
        for m in &d.meals {
            let mut minutes = 0.0;
            for e in &m.items {
                let i = item(&e.id);
                let dish = i.dish.as_ref().filter(|x| x.batch);
                // The pot of a batch dish, found here again: days 1 and 4.
                let cooked = if d.day >= 4 { 4 } else { 1 };
                match dish {
                    Some(x) if d.day - cooked <= x.keeps_days => {
                        *pots.entry((e.id.clone(), cooked)).or_default() += e.servings;
                        assert_eq!(
                            e.pot,
                            (cooked < d.day).then_some(cooked),
                            "{} on day {}",
                            e.id,
                            d.day
                        );
                        reheated += u32::from(cooked < d.day);
                    }
                    _ => {
                        assert_eq!(e.pot, None);
                        minutes += i.minutes;
                    }
                }
            }
            if ![1, 4].contains(&d.day) {
                assert!(
                    minutes <= brief::QUICK_MINUTES + 1e-9,
                    "day {} {}: {minutes} minutes",
                    d.day,
                    m.slot
                );
            }
        }
    }
    assert!(
        pots.values().sum::<f64>() >= 4.0 && reheated >= 2,
        "the liked dishes come from the pot: {pots:?}"
    );
    for ((id, day), servings) in &pots {
        let size = batch(item(id)).expect("a batch");
        let count = servings / size;
        assert!(
            (count - count.round()).abs() < 1e-9,
            "{id} of day {day}: {servings} servings in batches of {size}"
        );
        let line = week
            .cooking
            .iter()
            .find(|c| c.dish == *id && c.day == *day)
            .unwrap_or_else(|| panic!("{id} of day {day} is on the list"));
        assert!((line.servings - servings).abs() < 1e-9);
        let recipe = item(id).dish.as_ref().expect("a dish");
        assert!((line.batches * recipe.servings - servings).abs() < 1e-9);
        assert_eq!(line.keep_until, day + recipe.keeps_days);
        assert!(
            line.meals.iter().all(|m| m.0 >= *day && m.0 <= line.keep_until),
            "{line:?}"
        );
        assert!((line.meals.iter().map(|m| m.2).sum::<f64>() - servings).abs() < 1e-9);
    }
    // The same in every form of output.
    let shown = report::text::plan(&week, report::amount::Units::Metric);
    assert!(
        shown.contains("Cooking list") && shown.contains("from the pot of day"),
        "{shown}"
    );
    let json = report::json::plan(&week);
    assert_eq!(json["cooking"].as_array().map(Vec::len), Some(week.cooking.len()));
    let csv = report::csv::cooking(&week);
    assert_eq!(
        csv.lines().count() - 1,
        week.cooking.iter().map(|c| c.meals.len()).sum::<usize>()
    );
    let schema: serde_json::Value =
        serde_json::from_str(include_str!("../docs/plan.schema.json")).expect("JSON");
    let schema = jsonschema::validator_for(&schema).expect("a schema");
    assert!(
        schema.is_valid(&json),
        "{:?}",
        schema
            .iter_errors(&json)
            .map(|e| e.to_string())
            .collect::<Vec<_>>()
    );
}

#[test]
fn batches_are_whole_in_model_search_and_export() {
    let brief = read(&text(TWICE));
    with(&brief, |p, _| {
        let b = build(p).expect("a model");
        let rows: Vec<_> = b.model.rows.iter().filter(|r| r.whole.is_some()).collect();
        assert!(
            rows.iter()
                .any(|r| r.name == "pot_test_chili_d1" && r.whole == Some(2.0))
        );
        assert!(
            rows.iter()
                .any(|r| r.name == "pot_test_sauce_d4" && r.whole == Some(1.5))
        );
        // Day 7 is three days after the pot of day 4: the sauce still keeps, the chili does not and takes too long.
        let on = |id: &str, day: usize| {
            b.model
                .columns
                .iter()
                .any(|c| catalogue().items[c.item].id == id && b.model.choices[c.choice].day == day)
        };
        assert!(on("test_sauce", 6) && !on("test_chili", 6));
        assert!(on("test_chili", 5) && on("test_chili", 0));
        // The export has a whole number of batches for each, the bound leaves it out.
        let whole = expand(&b.model, false);
        let v = whole
            .variables
            .iter()
            .position(|v| v.name == "batches_pot_test_chili_d1")
            .expect("a variable");
        assert!(whole.variables[v].integer && whole.variables[v].hi >= 1.0);
        let row = whole
            .rows
            .iter()
            .find(|r| r.name == "pot_test_chili_d1")
            .expect("a row");
        assert!(row.terms.contains(&(v, -2.0)) && row.lo == Some(0.0) && row.hi == Some(0.0));
        assert!(
            expand(&b.model, true)
                .rows
                .iter()
                .all(|r| !r.name.starts_with("pot_"))
        );
        // One serving of chili in the week is no whole batch, and verify says so.
        let effort = Effort {
            moves: 1_000_000,
            starts: 1,
            seed: 3,
            threads: NonZeroUsize::MIN,
        };
        let mut found = search(&b.model, &[], 40.0, effort, None);
        let pots = |f: &platewright::solve::search::Found| {
            broken(&b.model, &f.forms, &f.steps)
                .into_iter()
                .filter(|x| x.name.starts_with("pot_test_"))
                .map(|x| x.name)
                .collect::<Vec<_>>()
        };
        assert!(pots(&found).is_empty(), "{:?}", pots(&found));
        let column = (0..b.model.columns.len())
            .find(|&n| {
                catalogue().items[b.model.columns[n].item].id == "test_chili"
                    && b.model.choices[b.model.columns[n].choice].day == 0
            })
            .expect("a column");
        found.steps[column] = if found.steps[column] == 1 { 2 } else { 1 };
        assert_eq!(pots(&found), ["pot_test_chili_d1"]);
    });
}

#[test]
fn a_pot_lasts_as_long_as_the_dish_keeps() {
    let chili = catalogue()
        .items
        .iter()
        .find(|i| i.id == "test_chili")
        .expect("known");
    let brief = read(&text(TWICE));
    let pots: Vec<Option<usize>> = (0..7).map(|d| pot(&brief, chili, d)).collect();
    assert_eq!(pots, [Some(0), Some(0), Some(0), Some(3), Some(3), Some(3), None]);
    let every_day = read(&text(""));
    assert!(
        (0..7).all(|d| pot(&every_day, chili, d).is_none()),
        "without days to cook there is no rule"
    );
    let plain = catalogue()
        .items
        .iter()
        .find(|i| i.dish.is_none())
        .expect("an item");
    assert!(batch(plain).is_none() && pot(&brief, plain, 0).is_none());
}

#[test]
fn without_days_to_cook_nothing_is_said_of_cooking() {
    let brief = read(&text(""));
    with(&brief, |p, _| {
        let b = build(p).expect("a model");
        assert!(
            b.model
                .rows
                .iter()
                .all(|r| r.whole.is_none() && r.group != "cooking")
        );
    });
}

fn codes(text: &str) -> Vec<(&'static str, String)> {
    let problems: Vec<Diagnostic> = brief::parse(text).expect_err("a mistake");
    problems.into_iter().map(|d| (d.code, d.message)).collect()
}

#[test]
fn mistakes_of_the_cooking_table_are_named() {
    let found = codes(&text("[cooking]\ndays = [1, 9]\nquick = 5\n"));
    assert!(found.iter().any(|(_, m)| m.contains("days")), "{found:?}");
    assert!(
        found
            .iter()
            .any(|(c, m)| *c == "brief-unknown-key" && m.contains("quick")),
        "{found:?}"
    );
    assert!(
        codes(&text("[cooking]\nquick_minutes = 10\n"))
            .iter()
            .any(|(_, m)| m.contains("days"))
    );
    assert!(
        codes(&text("[cooking]\ndays = []\n"))
            .iter()
            .any(|(c, _)| *c == "brief-empty")
    );
}

#[test]
fn too_little_time_names_the_slot_or_the_rule() {
    let brief = read(&text("[cooking]\ndays = [1]\nquick_minutes = 0\n"));
    match with(&brief, |p, e| plan(p, e, Work::of(p.brief.days, Some(50_000)))) {
        Err(problems) => assert!(
            problems
                .iter()
                .any(|d| d.code == "kitchen-empty-slot" && d.message.contains("without time to cook")),
            "{problems:?}"
        ),
        Ok(week) => assert!(
            !week.planned && week.conflict.iter().any(|c| c.group.contains("cooking")),
            "{:?}",
            week.conflict
        ),
    }
}

/// Week 2 starts from what week 1 left over, and the shop takes no more than the week before.
#[test]
fn what_is_left_over_carries_on() {
    let first = read(&text(""));
    let week = planned(&first, 800_000);
    assert!(!week.left.is_empty(), "packs leave something over");
    let list = report::pantry::toml(&week);
    let (entries, _) = brief::parse_pantry(&list).unwrap_or_else(|e| panic!("{e:?}\n{list}"));
    assert_eq!(
        entries.len(),
        week.left.iter().filter(|l| l.keeps_days > 0).count()
    );
    for l in &week.left {
        let product = &catalogue().products[&l.product];
        assert_eq!(l.keeps_days, i64::from(product.keeps_days) - 7, "{}", l.product);
        let bought = week
            .shopping
            .iter()
            .find(|s| s.product == l.product)
            .expect("bought");
        assert!((bought.left_over_grams - l.grams).abs() < 1e-9);
    }
    let mut second = read(&text(""));
    let gone = second.carry(entries.clone(), 0);
    assert!(gone.is_empty());
    let next = planned(&second, 800_000);
    let (a, b) = (week.till.expect("prices"), next.till.expect("prices"));
    assert!(b <= a, "week 2 costs {b} at the till, week 1 {a}");
    assert!(next.shopping.iter().any(|l| l.home_grams > 0.0));
    // What is at home and not eaten is left again, older by the week.
    for l in next
        .left
        .iter()
        .filter(|l| !next.shopping.iter().any(|s| s.product == l.product))
    {
        let was = entries
            .iter()
            .find(|e| e.what.value == l.product)
            .expect("from the list");
        assert!((was.grams - l.grams).abs() < 1e-9);
        assert_eq!(l.keeps_days, i64::from(was.keeps_days.expect("stated")) - 7);
    }
    // Later, what no longer keeps is left out and named.
    let mut late = read(&text(""));
    let gone = late.carry(entries.clone(), 30);
    assert_eq!(
        gone.len(),
        entries
            .iter()
            .filter(|e| e.keeps_days.is_some_and(|d| d <= 30))
            .count()
    );
    assert_eq!(gone.len() + late.pantry.len(), entries.len());
}

#[test]
fn a_product_at_home_twice_is_counted_once() {
    let mut brief = read(&text(
        "[[pantry]]\nwhat = \"White rice, long-grain, enriched\"\namount = \"1 kg\"\n",
    ));
    let (more, _) =
        brief::parse_pantry("[[pantry]]\nwhat = \"white_rice\"\namount = \"500 g\"\nkeeps_days = 200\n")
            .expect("a list");
    brief.carry(more, 0);
    assert_eq!(
        at_home(&brief, catalogue()).into_iter().collect::<Vec<_>>(),
        [("white_rice".to_string(), 1500.0)]
    );
    with(&brief, |p, _| {
        let b = build(p).expect("a model");
        assert_eq!(b.model.pantry.len(), 1);
        assert!((b.model.pantry[0].free - 1500.0).abs() < 1e-9);
        let per_gram = p.prices.expect("prices").prices["white_rice"]
            .price
            .to_f64()
            .expect("a number")
            / p.prices.expect("prices").prices["white_rice"].grams;
        assert!((b.model.pantry[0].price - per_gram).abs() < 1e-12);
    });
}

#[test]
fn the_command_carries_leftovers_on() {
    let room = tempfile::tempdir().expect("a folder");
    let brief =
        std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/surplus-on-a-budget/brief.toml");
    let run = |arguments: &[&str]| {
        std::process::Command::new(env!("CARGO_BIN_EXE_platewright"))
            .arg("plan")
            .arg(&brief)
            .args(arguments)
            .args(["--moves", "900000", "--format", "json"])
            .current_dir(room.path())
            .output()
            .expect("it runs")
    };
    let first = run(&["--leftovers", "left.toml"]);
    assert_eq!(
        first.status.code(),
        Some(0),
        "{}",
        String::from_utf8_lossy(&first.stderr)
    );
    let second = run(&["--pantry", "left.toml", "--days-later", "2"]);
    assert_eq!(
        second.status.code(),
        Some(0),
        "{}",
        String::from_utf8_lossy(&second.stderr)
    );
    let till = |o: &std::process::Output| -> f64 {
        let value: serde_json::Value = serde_json::from_slice(&o.stdout).expect("JSON");
        value["cost"]["till"]
            .as_str()
            .expect("money")
            .parse()
            .expect("a number")
    };
    assert!(till(&second) <= till(&first));
    std::fs::write(
        room.path().join("bad.toml"),
        "[[pantry]]\nwhat = \"white_rcie\"\namount = \"1 kg\"\n",
    )
    .expect("written");
    let refused = run(&["--pantry", "bad.toml"]);
    assert_eq!(refused.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&refused.stderr).contains("white_rice"));
}

/// Starts end in another order on many threads; they are compared in their own.
#[test]
fn a_plan_does_not_depend_on_the_threads() {
    let (brief, _) = brief::parse(
        "region = \"us\"\ndays = 1\nobjective = \"cost\"\n[person]\nsex = \"female\"\nage = 30\nheight = \"168 cm\"\nweight = \"61 kg\"\n[activity]\nlevel = \"active\"\n[[phase]]\nkind = \"hold\"\nweeks = 8\n",
    )
    .expect("a brief");
    let made = |threads| {
        let work = Work {
            moves: 3_200_000,
            threads: NonZeroUsize::new(threads).unwrap(),
        };
        let plan = with(&brief, |p, e| plan(p, e, work)).expect("a plan");
        report::json::plan(&plan).to_string()
    };
    assert_eq!(made(1), made(4));
}
