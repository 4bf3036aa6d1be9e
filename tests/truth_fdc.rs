//! The reader of FoodData Central downloads against an official download.
//!
//! Source: US Department of Agriculture, FoodData Central, Foundation Foods, CSV download of April 2023
//! (tests/data/SOURCE.md). All values: read in the source, by other code than the reader's.
//! Tolerance: none where the unit is the same.

use std::collections::HashMap;
use std::io::{Cursor, Read};

use platewright::diagnostic::any_error;
use platewright::foods::{Content, Food, fdc};
use platewright::nutrient::Nutrient;

fn files() -> HashMap<String, Vec<u8>> {
    let bytes = include_bytes!("data/usda-foundation-2023-04.zip");
    let mut archive = zip::ZipArchive::new(Cursor::new(&bytes[..])).unwrap();
    let mut files = HashMap::new();
    for at in 0..archive.len() {
        let mut entry = archive.by_index(at).unwrap();
        let name = entry.name().rsplit('/').next().unwrap_or("").to_owned();
        let mut text = Vec::new();
        entry.read_to_end(&mut text).unwrap();
        files.insert(name, text);
    }
    files
}

fn read(files: &HashMap<String, Vec<u8>>) -> platewright::foods::Reading {
    let open = |name: &str| -> Option<Box<dyn Read + '_>> { Some(Box::new(files.get(name)?.as_slice())) };
    let download = fdc::Download {
        food: open("food.csv").unwrap(),
        nutrient: open("nutrient.csv").unwrap(),
        food_nutrient: open("food_nutrient.csv").unwrap(),
        foundation_food: open("foundation_food.csv"),
        food_category: open("food_category.csv"),
        food_portion: open("food_portion.csv"),
        measure_unit: open("measure_unit.csv"),
        food_nutrient_derivation: open("food_nutrient_derivation.csv"),
    };
    fdc::read(download, "FoodData Central, Foundation Foods, April 2023")
}

fn rows(bytes: &[u8]) -> Vec<HashMap<String, String>> {
    csv::Reader::from_reader(bytes)
        .deserialize()
        .map(|r| r.unwrap())
        .collect()
}

#[test]
fn an_official_download_is_read_whole_and_right() {
    let files = files();
    let reading = read(&files);
    assert!(!any_error(&reading.problems), "{:#?}", reading.problems);
    assert_eq!(reading.foods.len(), rows(&files["foundation_food.csv"]).len());
    assert_eq!(reading.foods.len(), 236);
    let foods: HashMap<&str, &Food> = reading.foods.iter().map(|f| (f.id.as_str(), f)).collect();

    // Nutrients that the download states under the number and in the unit of our list.
    let numbers: HashMap<String, Nutrient> = rows(&files["nutrient.csv"])
        .into_iter()
        .filter_map(|r| {
            let nutrient = Nutrient::from_number(r["nutrient_nbr"].parse().ok()?)?;
            assert_eq!(
                r["unit_name"].to_lowercase(),
                nutrient.unit().symbol().to_lowercase()
            );
            Some((r["id"].clone(), nutrient))
        })
        .collect();
    let mut compared = 0;
    for row in rows(&files["food_nutrient.csv"]) {
        let Some(food) = foods.get(format!("fdc:{}", row["fdc_id"]).as_str()) else {
            continue;
        };
        let Some(nutrient) = numbers.get(&row["nutrient_id"]) else {
            continue;
        };
        let Ok(amount) = row["amount"].parse::<f64>() else {
            continue;
        };
        // Carbohydrate by difference may be a little below zero; there is no such amount of food.
        let amount = if *nutrient == Nutrient::CARBOHYDRATE {
            amount.max(0.0)
        } else {
            amount
        };
        assert_eq!(food.content(*nutrient), Content::Known(amount), "{row:?}");
        compared += 1;
    }
    assert!(compared > 9_000, "{compared}");
}

/// Hummus (fdc 321358): energy is stated by Atwater factors only, ids 2047 and 2048.
#[test]
fn energy_comes_from_the_nearest_kin() {
    let files = files();
    let reading = read(&files);
    let with_energy = reading
        .foods
        .iter()
        .filter(|f| f.content(Nutrient::ENERGY).is_known())
        .count();
    let mut stated: HashMap<String, HashMap<String, f64>> = HashMap::new();
    for row in rows(&files["food_nutrient.csv"]) {
        if let Ok(amount) = row["amount"].parse() {
            stated
                .entry(format!("fdc:{}", row["fdc_id"]))
                .or_default()
                .insert(row["nutrient_id"].clone(), amount);
        }
    }
    for food in &reading.foods {
        let of = |id: &str| stated.get(food.id.as_str()).and_then(|s| s.get(id)).copied();
        let expected = of("1008")
            .or(of("2048"))
            .or(of("2047"))
            .or(of("1062").map(|kj| kj / 4.184));
        assert_eq!(food.amount(Nutrient::ENERGY), expected, "{}", food.id);
    }
    assert!(with_energy > 150, "{with_energy}");
}

#[test]
fn measures_have_words_and_grams() {
    let files = files();
    let reading = read(&files);
    let ids: Vec<&str> = reading.foods.iter().map(|f| f.id.as_str()).collect();
    let rows = rows(&files["food_portion.csv"]);
    let expected = rows
        .iter()
        .filter(|r| ids.contains(&format!("fdc:{}", r["fdc_id"]).as_str()))
        .count();
    assert_eq!(
        reading.foods.iter().map(|f| f.portions.len()).sum::<usize>(),
        expected
    );
    assert!(
        reading
            .foods
            .iter()
            .flat_map(|f| &f.portions)
            .all(|p| p.grams > 0.0 && !p.measure.is_empty())
    );
}
