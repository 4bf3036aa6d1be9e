//! Text, tables and JSON of the hand-made plan in `sample`.

mod sample;

use insta::assert_snapshot;
use platewright::nutrient::Nutrient;
use platewright::plan::{Conflict, SearchReport};
use platewright::report::amount::{self, Units};
use platewright::report::{csv, json, text};
use rust_decimal::Decimal;
use sample::{dec, invented, nearest};
use serde_json::Value;
use unicode_width::UnicodeWidthStr;

fn schema() -> jsonschema::Validator {
    let schema: Value =
        serde_json::from_str(include_str!("../docs/plan.schema.json")).expect("the schema is JSON");
    jsonschema::draft202012::meta::validate(&schema).expect("the schema is a schema");
    jsonschema::validator_for(&schema).expect("the schema compiles")
}

fn faults(value: &Value) -> Vec<String> {
    schema()
        .iter_errors(value)
        .map(|e| format!("{}: {e}", e.instance_path()))
        .collect()
}

#[test]
fn text_of_a_plan() {
    assert_snapshot!("plan_text", text::plan(&invented(), Units::Us));
}

#[test]
fn text_of_the_nearest_week() {
    let mut plan = nearest();
    let page = text::plan(&plan, Units::Metric);
    assert!(page.find("NEAREST, NOT A PLAN") < page.find("Day 1"));
    assert!(page.contains("none within 1000 moves"));
    assert!(page.contains("No lower bound was proven."));
    plan.conflict = vec![
        Conflict {
            group: "budget".into(),
            reason: "the budget of the brief".into(),
        },
        Conflict {
            group: "protein".into(),
            reason: "invented for this test".into(),
        },
    ];
    let proven = text::plan(&plan, Units::Metric);
    assert!(proven.contains("cannot hold together") && !proven.contains("none within"));
    assert_snapshot!("nearest_text", proven.split("Day 1\n").next().expect("a head"));
}

#[test]
fn nothing_is_called_best_without_proof() {
    let mut plan = invented();
    for page in [text::plan(&plan, Units::Us), text::plan(&nearest(), Units::Us)] {
        assert!(!page.contains("proven lowest") && !page.to_lowercase().contains("optim"));
    }
    plan.search.proved = true;
    assert!(text::plan(&plan, Units::Us).contains("proven lowest"));
}

#[test]
fn no_line_is_longer_than_80_columns() {
    let mut plan = nearest();
    plan.title =
        "Ein sehr langer Titel ".repeat(9) + &"x".repeat(200) + "\n\u{1b}[1m दाल 米飯" + &"飯".repeat(90);
    plan.days[0].meals[0].items[0].name = "चावल ".repeat(20) + &"米".repeat(60);
    plan.days[0].meals[0].items[0].serving =
        "1 bowl of something with a very long name (1/2 cup of another thing)".into();
    plan.days[0].meals[0].form = "A form with a name ".repeat(9);
    plan.shopping[0].name = "y".repeat(100);
    plan.shopping[1].cost = Some(dec("123456789012.34"));
    plan.standings[2].range = (1.0e9, 2.0e12);
    plan.standings[2].excess = 2.0e12;
    plan.cautions[0].text = "z".repeat(300);
    plan.conflict = vec![Conflict {
        group: "g".repeat(90),
        reason: "r ".repeat(90),
    }];
    for page in [text::plan(&plan, Units::Us), text::plan(&plan, Units::Metric)] {
        assert!(
            !page.contains('\u{1b}'),
            "control characters of a brief reach no terminal"
        );
        for line in page.lines() {
            assert!(line.width() <= text::WIDTH, "{} columns: {line}", line.width());
        }
    }
}

#[test]
fn a_brief_stopped_by_a_safety_rule_has_no_days() {
    let mut plan = nearest();
    plan.days.clear();
    plan.shopping.clear();
    plan.misses.clear();
    (plan.mean, plan.coverage) = (vec![0.0; Nutrient::COUNT], vec![0.0; Nutrient::COUNT]);
    (plan.cost, plan.till, plan.currency) = (None, None, None);
    plan.search = SearchReport {
        objective: "none",
        value: 0.0,
        moves: 0,
        ..plan.search
    };
    plan.conflict = vec![Conflict {
        group: "safety rule".into(),
        reason: "invented for this test".into(),
    }];
    let page = text::plan(&plan, Units::Metric);
    assert!(page.contains("- safety rule: invented for this test") && page.contains("Cautions"));
    for other in ["NEAREST", "Cost", "floors", "Lowest", "moves"] {
        assert!(!page.contains(other), "{other} in {page}");
    }
    let value = json::plan(&plan);
    assert_eq!(faults(&value), Vec::<String>::new());
    assert_eq!(value["outcome"], "infeasible");
    assert_eq!(value["search"]["value"], Value::Null);
    assert_eq!(
        value["mean"].as_object().map(serde_json::Map::len),
        Some(0),
        "nothing eaten is not zero of everything"
    );
}

#[test]
fn empty_and_odd_plans_are_drawn() {
    let mut plan = invented();
    plan.days.clear();
    plan.mean.clear();
    plan.coverage.clear();
    plan.shopping.clear();
    plan.standings[0].range = (f64::INFINITY, f64::NEG_INFINITY);
    (plan.cost, plan.till, plan.budget, plan.currency) = (None, None, None, None);
    assert!(text::plan(&plan, Units::Metric).contains("0 days"));
    assert_eq!(csv::plan(&plan).lines().count(), 1);
    assert_eq!(json::plan(&plan)["cost"]["amount"], Value::Null);
}

#[test]
fn tables() {
    let plan = invented();
    assert_snapshot!("plan_csv", csv::plan(&plan));
    assert_snapshot!("shopping_csv", csv::shopping(&plan));
}

#[test]
fn totals_hold_every_nutrient_of_every_day() {
    let plan = invented();
    let table = csv::totals(&plan);
    let mut reader = ::csv::Reader::from_reader(table.as_bytes());
    let header = reader.headers().expect("a header").clone();
    let rows: Vec<_> = reader.records().map(|r| r.expect("a row")).collect();
    assert_eq!(header.len(), 1 + Nutrient::COUNT + 2);
    assert_eq!(rows.iter().map(|r| &r[0]).collect::<Vec<_>>(), ["1", "2", "mean"]);
    for name in [
        "energy_kcal",
        "protein_g",
        "calcium_mg",
        "vitamin_d_ug",
        "energy_kj_kJ",
    ] {
        assert!(header.iter().any(|h| h == name), "no column {name}");
    }
    for n in Nutrient::all() {
        let column = n.index() + 1;
        let all = [&plan.days[0].totals, &plan.days[1].totals, &plan.mean];
        for (row, amounts) in rows.iter().zip(all) {
            if n == Nutrient::FLUORIDE {
                assert_eq!(&row[column], "", "a nutrient nobody knows is blank, not zero");
            } else {
                assert_eq!(row[column].parse::<f64>().expect("a number"), amounts[n.index()]);
            }
        }
    }
    assert_eq!(&rows[2][header.len() - 2], "1.9825");
}

#[test]
fn json_of_a_plan() {
    let mut value = json::plan(&invented());
    // Of the nutrients only those that the plan has.
    let keep = |v: &mut Value| {
        v.as_object_mut()
            .expect("an object")
            .retain(|k, _| ["energy", "protein", "vitamin_d"].contains(&k.as_str()))
    };
    for key in ["mean", "coverage"] {
        assert_eq!(value[key].as_object().expect("an object").len(), Nutrient::COUNT);
        keep(&mut value[key]);
    }
    for day in value["days"].as_array_mut().expect("days") {
        keep(&mut day["totals"]);
    }
    assert_snapshot!("plan_json", serde_json::to_string_pretty(&value).expect("JSON"));
}

#[test]
fn text_and_json_say_the_same() {
    let plan = invented();
    let page = text::plan(&plan, Units::Metric);
    let value = json::plan(&plan);
    let number = |v: &Value| v.as_f64().expect("a number");
    let exact = |v: &Value| dec(v.as_str().expect("a decimal"));
    for day in value["days"].as_array().expect("days") {
        let t = |n: Nutrient| amount::nutrient(n, number(&day["totals"][n.id()]));
        let line = format!(
            "Day {}: {}, protein {}, fat {}, carbohydrate {}, fibre {}, {}",
            day["day"],
            t(Nutrient::ENERGY),
            t(Nutrient::PROTEIN),
            t(Nutrient::FAT),
            t(Nutrient::CARBOHYDRATE),
            t(Nutrient::FIBRE),
            amount::price(exact(&day["cost"]), plan.currency)
        );
        let flat = page.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(flat.contains(&line), "{line} is not in\n{page}");
        for meal in day["meals"].as_array().expect("meals") {
            for item in meal["items"].as_array().expect("items") {
                let tail = format!(
                    "{:>9} {:>10}",
                    amount::grams(number(&item["grams"])),
                    amount::kcal(number(&item["energy_kcal"]))
                );
                assert!(page.lines().any(|l| l.ends_with(&tail)), "{tail}");
            }
        }
    }
    assert!(page.contains(&format!(
        "Budget: {}",
        amount::price(exact(&value["cost"]["budget"]), plan.currency)
    )));
    assert!(page.contains(&amount::price(exact(&value["cost"]["amount"]), plan.currency)));
    assert!(page.contains(&amount::price(exact(&value["cost"]["till"]), plan.currency)));
    assert!(page.contains(&format!(
        "{} a day to eat",
        amount::kcal(number(&value["energy"]["intake_kcal"]))
    )));
    assert!(page.contains(&format!(
        "{} a day",
        amount::price(exact(&value["cost"]["amount"]) / Decimal::from(2), plan.currency)
    )));
    assert!(page.contains(&amount::at_most(number(&value["search"]["gap"]))));
}

#[test]
fn json_keeps_the_schema() {
    for plan in [invented(), nearest()] {
        assert_eq!(faults(&json::plan(&plan)), Vec::<String>::new());
    }
    let mut without_prices = invented();
    (
        without_prices.cost,
        without_prices.till,
        without_prices.budget,
        without_prices.currency,
    ) = (None, None, None, None);
    assert_eq!(faults(&json::plan(&without_prices)), Vec::<String>::new());
}

#[test]
fn the_schema_refuses_other_documents() {
    let good = json::plan(&invented());
    let mut changes: Vec<(&str, Value)> = vec![
        ("/schema", 2.into()),
        ("/outcome", "optimal".into()),
        ("/days/0/totals/energy", "1380".into()),
        ("/days/0/meals/0/items/0/foods/0/basis", "dry".into()),
        ("/days/0/meals/0/items/0/foods/0/food", "20045".into()),
        ("/days/0/cost", 2.235.into()),
        ("/targets/0/scope", "week".into()),
        ("/targets/0/unit", "µg".into()),
        ("/cost/currency", "$".into()),
        ("/coverage/energy", 1.5.into()),
        ("/shopping/1/packs", 0.5.into()),
        ("/search/gap", (-0.1).into()),
        ("/search/value", Value::Null),
        ("/search/objective", "none".into()),
        ("/days", Value::Array(Vec::new())),
        ("/mean", serde_json::json!({})),
        ("/days/0/totals", serde_json::json!({})),
    ];
    // The nearest week has to say what is in conflict.
    changes.push(("/outcome", "infeasible".into()));
    for (place, wrong) in changes {
        let mut bad = good.clone();
        *bad.pointer_mut(place).expect(place) = wrong.clone();
        assert!(!faults(&bad).is_empty(), "{place} may not be {wrong}");
    }
    for key in [
        "schema", "outcome", "seed", "energy", "targets", "days", "mean", "coverage", "cost", "shopping",
        "search", "cautions",
    ] {
        let mut bad = good.clone();
        bad.as_object_mut().expect("an object").remove(key);
        assert!(!faults(&bad).is_empty(), "{key} may not be missing");
    }
}

#[test]
fn the_page_on_json_lists_every_nutrient_and_key() {
    let page = include_str!("../docs/json.md");
    let list: Vec<&str> = page
        .split("## Nutrients\n")
        .nth(1)
        .expect("the list")
        .lines()
        .skip(2)
        .take_while(|l| l.starts_with('|'))
        .collect();
    let expected: Vec<String> = Nutrient::all()
        .map(|n| format!("| `{}` | {} | {} |", n.id(), n.unit().symbol(), n.name()))
        .collect();
    assert_eq!(list, expected);
    let mut value = json::plan(&nearest());
    for key in ["mean", "coverage"] {
        value[key] = Value::Null;
    }
    for day in value["days"].as_array_mut().expect("days") {
        day["totals"] = Value::Null;
    }
    let mut keys = Vec::new();
    collect(&value, &mut keys);
    for key in keys {
        assert!(
            page.contains(&format!("`{key}`"))
                || page.contains(&format!(".{key}`"))
                || page.contains(&format!("`{key}[]")),
            "{key} is not on the page"
        );
    }
}

/// Keys whose value is no list or object.
fn collect(value: &Value, keys: &mut Vec<String>) {
    match value {
        Value::Array(all) => all.iter().for_each(|v| collect(v, keys)),
        Value::Object(all) => {
            for (key, v) in all {
                if !v.is_object() && !v.is_array() {
                    keys.push(key.clone());
                }
                collect(v, keys);
            }
        }
        _ => {}
    }
}
